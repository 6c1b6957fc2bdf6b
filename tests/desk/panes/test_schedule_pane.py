"""The circuit directory: odd left, even right, rows cycle the phases, every committed cell is one step."""

from __future__ import annotations

from dataclasses import replace

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QLineEdit

from oneline.desk.panes.circuits import CircuitsPane
from oneline.desk.panes.directory import directory, free_space, space_count
from oneline.model import Bus, Circuit, Disconnect, End, edits


@pytest.fixture
def pane(session, host, ids, show) -> CircuitsPane:
    session.select([ids["panel"]])
    return show(CircuitsPane(session, host), width=1300, height=420)


def go(pane: CircuitsPane, space: int, field: str) -> None:
    pane.view.setFocus()
    pane.view.setCurrentIndex(pane.model.cell_of(space, field))


def enter(pane: CircuitsPane, space: int, field: str, text: str) -> None:
    """Type over a cell and press Enter."""
    go(pane, space, field)
    QTest.keyClick(pane.view, text[0])
    editor = QApplication.focusWidget()
    assert isinstance(editor, QLineEdit)
    QTest.keyClicks(editor, text[1:])
    QTest.keyClick(editor, Qt.Key.Key_Return)
    QApplication.processEvents()


def circuit(session, ids, space: int) -> Circuit | None:
    return next((c for c in session.drawing.get(ids["panel"]).circuits if c.space == space), None)


def shown(pane: CircuitsPane, space: int, field: str) -> str:
    return pane.model.cell_of(space, field).data()


def test_odd_spaces_stand_left_and_even_right_on_the_same_row(pane):
    model = pane.model
    assert model.sides == 2
    for space in (1, 2, 9, 30):
        cell = model.cell_of(space, "space")
        assert cell.data() == str(space)
        assert cell.row() == (space - 1) // 2
        assert (cell.column() == 0) == (space % 2 == 1)
    assert model.rowCount() == 15


def test_rows_cycle_the_phases_and_both_sides_share_one(pane):
    """NEC 408.3(E): phases A, B, C from top to bottom; practice: spaces 1 and 2 are A, 3 and 4 B, 5 and 6 C, 7 and 8 A."""
    assert [shown(pane, n, "phase") for n in range(1, 9)] == ["A", "A", "B", "B", "C", "C", "A", "A"]


def test_single_phase_panels_alternate_two_legs(session):
    bus = Bus(id="b", name="P", spaces=8)
    slots = directory(bus, session.drawing, "proposed", "AB")
    assert [slots[n].phase for n in range(1, 9)] == ["A", "A", "B", "B", "A", "A", "B", "B"]


def test_a_device_with_three_poles_takes_every_second_space(pane):
    assert [pane.model.slots[n].kind for n in (1, 3, 5, 7)] == ["circuit", "more", "more", "circuit"]
    assert [pane.model.slots[n].kind for n in (4, 6, 8)] == ["circuit", "more", "circuit"]
    cell = pane.model.cell_of(1, "description")
    assert pane.view.rowSpan(cell.row(), cell.column()) == 3
    assert pane.view.rowSpan(0, pane.model.cell_of(1, "phase").column()) == 1


def test_what_is_not_known_shows_a_dash_and_what_does_not_apply_nothing(pane):
    assert shown(pane, 4, "va") == "—"
    assert shown(pane, 7, "description") == "Spare"
    assert shown(pane, 7, "va") == ""
    assert shown(pane, 8, "description") == "Space"
    assert shown(pane, 8, "trip_a") == ""
    assert shown(pane, 9, "status") == "R"
    assert shown(pane, 1, "va") == "16,000 VA"


def test_typing_replaces_and_enter_moves_down(pane, session, ids):
    enter(pane, 2, "description", "Lights, dock")
    assert circuit(session, ids, 2).description == "Lights, dock"
    assert session.undo_label == "Change description of circuit 2 in LP-2"
    at = pane.view.currentIndex()
    assert (pane.model.slot_at(at).space, pane.model.field_at(at.column())) == (4, "description")
    session.undo()
    assert circuit(session, ids, 2).description == "Lights, hall"


def test_enter_skips_the_further_spaces_of_a_device(pane):
    go(pane, 1, "trip_a")
    QTest.keyClick(pane.view, Qt.Key.Key_Return)
    assert pane.model.slot_at(pane.view.currentIndex()).space == 7
    QTest.keyClick(pane.view, Qt.Key.Key_Return, Qt.KeyboardModifier.ShiftModifier)
    assert pane.model.slots[pane.model.slot_at(pane.view.currentIndex()).first].space == 1


def test_typing_in_an_empty_space_adds_a_circuit(pane, session, ids):
    enter(pane, 12, "description", "Cold room fan")
    added = circuit(session, ids, 12)
    assert (added.description, added.poles, added.trip_a, added.va) == ("Cold room fan", 1, None, None)
    assert session.undo_label == "Add circuit 12 in LP-2"


def test_values_are_read_with_their_units_and_choices_by_first_letters(pane, session, ids):
    enter(pane, 4, "va", "3.6 kVA")
    enter(pane, 4, "trip_a", "35 amps")
    enter(pane, 4, "load_class", "lig")
    enter(pane, 4, "continuous", "y")
    enter(pane, 4, "traced", "u")
    enter(pane, 4, "status", "e")
    found = circuit(session, ids, 4)
    assert (found.va, found.trip_a, found.load_class, found.continuous, found.traced, found.status) == (
        3600, 35, "lighting", True, "untraced", "existing",
    )  # fmt: skip


def test_a_question_mark_or_delete_makes_a_value_unknown(pane, session, ids):
    enter(pane, 1, "va", "?")
    assert circuit(session, ids, 1).va is None
    go(pane, 1, "load_class")
    QTest.keyClick(pane.view, Qt.Key.Key_Delete)
    assert circuit(session, ids, 1).load_class is None


def test_what_is_not_understood_stays_in_its_cell(pane, session, host, ids):
    before = session.drawing
    enter(pane, 2, "trip_a", "twenty")
    assert session.drawing is before
    assert shown(pane, 2, "trip_a").endswith("twenty")
    assert host.said
    tip = pane.model.cell_of(2, "trip_a").data(Qt.ItemDataRole.ToolTipRole)
    assert tip == host.said[-1]
    enter(pane, 2, "trip_a", "20")
    assert shown(pane, 2, "trip_a") == "20 A"


def test_spare_and_space_are_said_in_the_description(pane, session, ids):
    enter(pane, 2, "description", "spare")
    assert (circuit(session, ids, 2).use, circuit(session, ids, 2).description) == ("spare", "")
    enter(pane, 2, "description", "Sump pump")
    assert (circuit(session, ids, 2).use, circuit(session, ids, 2).description) == ("load", "Sump pump")


def test_a_space_that_is_taken_is_refused_with_the_name_of_what_is_there(pane, session, host):
    before = session.drawing
    enter(pane, 2, "poles", "2")
    assert session.drawing is before
    assert "Space 4 is taken by circuit 4 (Brine pump)" in host.said[-1]
    enter(pane, 2, "space", "7")
    assert session.drawing is before
    assert "Space 7 is taken" in host.said[-1]


def test_a_circuit_moves_when_another_space_is_typed(pane, session, ids):
    enter(pane, 2, "space", "20")
    assert circuit(session, ids, 2) is None
    assert circuit(session, ids, 20).description == "Lights, hall"


def test_no_circuit_goes_beyond_the_counted_spaces(pane, session, host):
    before = session.drawing
    enter(pane, 30, "poles", "2")
    assert session.drawing is before
    assert "30 spaces" in host.said[-1]


def test_a_new_circuit_may_take_the_space_of_one_to_be_removed(pane, session, ids):
    bus = session.drawing.get(ids["panel"])
    rows = (*bus.circuits, Circuit(space=9, trip_a=30.0, description="Ice bin", status="new"))
    session.apply("Put", session.drawing.with_items([replace(bus, circuits=rows)]))
    pane.refresh_now()
    assert shown(pane, 9, "description") == "Ice bin"
    session.set_view("existing")
    pane.refresh_now()
    assert shown(pane, 9, "description") == "Receptacles, counter"


def test_add_duplicate_and_remove(pane, session, ids):
    go(pane, 2, "description")
    pane.buttons["duplicate"].click()
    pane.refresh_now()
    assert circuit(session, ids, 10).description == "Lights, hall"
    assert session.undo_label == "Duplicate circuit 2 in LP-2"
    go(pane, 10, "description")
    QTest.keyClick(pane.view, Qt.Key.Key_Delete, Qt.KeyboardModifier.ControlModifier)
    pane.refresh_now()
    assert circuit(session, ids, 10) is None
    assert session.undo_label == "Remove circuit 10 in LP-2"
    go(pane, 2, "description")
    QTest.keyClick(pane.view, Qt.Key.Key_Insert)
    assert circuit(session, ids, 10).poles == 1
    assert pane.model.slot_at(pane.view.currentIndex()).space == 10


def test_a_copy_of_a_three_pole_device_goes_where_three_spaces_are_free(pane, session, ids):
    go(pane, 1, "description")
    QTest.keyClick(pane.view, Qt.Key.Key_D, Qt.KeyboardModifier.ControlModifier)
    copy = next(c for c in session.drawing.get(ids["panel"]).circuits if c.description == "Ice maker" and c.space != 1)
    assert copy.space == 10  # 10, 12 and 14 are the first three free spaces in a column


def test_drawn_devices_show_in_their_spaces_and_are_not_edited_here(session, host, ids, show):
    drawing, device = edits.add(session.drawing, "disconnect", name="Sub main", space=13, poles=2, trip_a=60.0)
    drawing, _ = edits.connect(drawing, End(ids["panel"], "bus"), End(device, "line"))
    session.apply("Add", drawing)
    session.select([ids["panel"]])
    pane = show(CircuitsPane(session, host), width=1300)
    assert [pane.model.slots[n].kind for n in (13, 15, 17)] == ["drawn", "drawn", "empty"]
    assert "Sub main" in shown(pane, 13, "description")
    assert isinstance(session.drawing.get(device), Disconnect)
    go(pane, 13, "trip_a")
    before = session.drawing
    QTest.keyClick(pane.view, "5")
    QTest.keyClick(pane.view, Qt.Key.Key_Return)
    assert session.drawing is before
    pane.view.doubleClicked.emit(pane.model.cell_of(13, "description"))
    assert host.shown == [device]


def test_narrow_panes_put_the_even_side_below_the_odd_one(session, host, ids, show):
    session.select([ids["panel"]])
    pane = show(CircuitsPane(session, host), width=420)
    assert pane.model.sides == 1
    assert [pane.model.index(n, 0).data() for n in (0, 1, 14, 15, 16)] == ["1", "3", "29", "2", "4"]


def test_more_fields_of_a_circuit_are_edited_beside_the_grid(pane, session, ids):
    go(pane, 2, "description")
    pane.more_chip.click()
    assert pane.side.isVisible()
    row = pane.more.rows["wire_size"]
    row.line.setFocus()
    QTest.keyClicks(row.line, "12")
    QTest.keyClick(row.line, Qt.Key.Key_Return)
    assert circuit(session, ids, 2).wire_size == "12"


def test_a_line_can_stand_for_a_device_that_is_drawn(session, host, ids, show):
    drawing, device = edits.add(session.drawing, "disconnect", name="Sub main")
    drawing, _ = edits.connect(drawing, End(ids["panel"], "bus"), End(device, "line"))
    session.apply("Add", drawing)
    session.select([ids["panel"]])
    pane = show(CircuitsPane(session, host), width=1300)
    go(pane, 7, "description")
    pane.more_chip.click()
    assert [pane.drawn_as.itemText(n) for n in range(pane.drawn_as.count())] == ["not drawn", "Sub main"]
    pane.drawn_as.setFocus()
    QTest.keyClick(pane.drawn_as, Qt.Key.Key_Down)
    QApplication.processEvents()
    assert (circuit(session, ids, 7).feeds, circuit(session, ids, 7).use) == (device, "feeder")
    assert "Sub main" in shown(pane, 7, "description")
    pane.drawn_as.setFocus()
    QTest.keyClick(pane.drawn_as, Qt.Key.Key_Up)
    assert (circuit(session, ids, 7).feeds, circuit(session, ids, 7).use) == (None, "load")


def test_looking_at_a_panel_changes_nothing(pane, session):
    before = session.drawing
    for row in range(pane.model.rowCount()):
        for column in range(pane.model.columnCount()):
            pane.view.setCurrentIndex(pane.model.index(row, column))
    assert session.drawing is before


def test_without_a_panel_the_pane_says_what_to_do(session, host, ids, show):
    pane = show(CircuitsPane(session, host))
    assert "Select a panel" in pane.hint.text()
    assert not pane.grid_box.isVisible()
    session.select([ids["panel"]])
    pane.refresh_now()
    assert pane.grid_box.isVisible()


def test_the_panel_stays_while_something_else_is_selected(pane, session, ids):
    session.select([ids["main"]])
    pane.refresh_now()
    assert pane.panel == ids["panel"]
    session.apply("Delete", edits.remove(session.drawing, [ids["panel"]]))
    pane.refresh_now()
    assert not pane.grid_box.isVisible()


def test_spaces_shown_cover_what_is_counted_and_what_is_taken(session):
    drawing = session.drawing
    assert space_count(Bus(id="b", name="P", spaces=42), drawing) == 42
    assert space_count(Bus(id="b", name="P", spaces=4, circuits=(Circuit(space=9),)), drawing) == 10
    assert space_count(Bus(id="b", name="P"), drawing) == 12


def test_free_space_looks_behind_first_and_then_from_the_top(session):
    bus = Bus(id="b", name="P", spaces=6, circuits=(Circuit(space=3), Circuit(space=6)))
    slots = directory(bus, session.drawing, "proposed", "ABC")
    assert free_space(slots, 1, 3) == 4
    assert free_space(slots, 1, 5) == 1
    assert free_space(slots, 2) == 2
    assert free_space(slots, 3) is None
