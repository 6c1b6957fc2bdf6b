"""Filling a panel fast: description, Tab, trip, Tab, poles, Tab, load, Enter; or a table from a spreadsheet in one step."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QLineEdit

from oneline.desk.panes import make_panes
from oneline.desk.panes.circuitmodel import COLUMNS
from oneline.desk.panes.circuits import CircuitsPane
from oneline.desk.panes.details import DetailsPane
from oneline.desk.panes.tablepaste import is_table, read_rows, trip_and_poles, understood
from oneline.model import Bus, Circuit, End, edits

CTRL = Qt.KeyboardModifier.ControlModifier


@pytest.fixture
def bare(session, ids) -> str:
    """A panel of thirty spaces with nothing in them."""
    drawing, panel = edits.add(session.drawing, "bus", name="LP-3", form="panelboard", spaces=30, phases="ABC")
    session.apply("Add", drawing)
    session.select([panel])
    return panel


@pytest.fixture
def pane(session, host, bare, show) -> CircuitsPane:
    return show(CircuitsPane(session, host), width=1300, height=420)


def keys(*pressed: Qt.Key | str) -> None:
    """Press keys on whatever has the keyboard, as a hand would."""
    for key in pressed:
        target = QApplication.focusWidget()
        assert target is not None
        if isinstance(key, str):
            QTest.keyClick(target, key[0])
            QTest.keyClicks(QApplication.focusWidget(), key[1:])
        else:
            QTest.keyClick(target, key)
        QApplication.processEvents()


def lines(session, panel: str) -> list[Circuit]:
    bus = session.drawing.get(panel)
    assert isinstance(bus, Bus)
    return list(bus.circuits)


def put_on_clipboard(*rows: str) -> None:
    QGuiApplication.clipboard().setText("\r\n".join(rows) + "\r\n")


def paste(pane: CircuitsPane, space: int = 1, field: str = "description") -> None:
    pane.view.setFocus()
    pane.view.setCurrentIndex(pane.model.cell_of(space, field))
    QTest.keyClick(pane.view, Qt.Key.Key_V, CTRL)
    QApplication.processEvents()


TAB, ENTER = Qt.Key.Key_Tab, Qt.Key.Key_Return


# ------------------------------------------------------------------------------------------------------------- typing
def test_an_empty_panel_says_how_to_begin(pane):
    assert pane.facts.text().startswith("30 empty spaces: type to fill.")


def test_the_keyboard_begins_in_the_first_free_space(pane, session, ids):
    pane.focus_first()
    at = pane.view.currentIndex()
    assert (pane.model.slot_at(at).space, pane.model.field_at(at.column())) == (1, "description")
    session.select([ids["panel"]])
    pane.view.setCurrentIndex(pane.model.index(-1, -1))
    pane.focus_first()
    assert pane.model.slot_at(pane.view.currentIndex()).space == 10  # the first that nothing is in


def test_a_schedule_typed_in_the_order_of_its_columns(pane, session, bare):
    pane.focus_first()
    keys("Lights, hall", TAB, "20", TAB, "1", TAB, "1400", ENTER)
    keys("Counter", TAB, "20", TAB, TAB, "900 VA", ENTER)
    keys("Ice maker", TAB, "60/3", TAB, TAB, "16 kVA", ENTER)
    keys("Sign", TAB, "20", ENTER)
    keys("Oven", TAB, "40", TAB, "2", TAB, "8 kVA", ENTER)
    assert [(c.space, c.poles, c.trip_a, c.description, c.va) for c in lines(session, bare)] == [
        (1, 1, 20, "Lights, hall", 1400), (3, 1, 20, "Counter", 900), (5, 3, 60, "Ice maker", 16000),
        (11, 1, 20, "Sign", None), (13, 2, 40, "Oven", 8000),
    ]  # fmt: skip
    assert not pane.model.misread


def test_tab_takes_the_columns_as_they_stand_and_back(pane):
    pane.view.setFocus()
    pane.view.setCurrentIndex(pane.model.cell_of(1, "description"))
    heads = [c[0] for c in COLUMNS if c[0] not in ("space", "phase")]
    walked = []
    for _ in heads:
        walked.append(pane.model.field_at(pane.view.currentIndex().column()))
        QTest.keyClick(pane.view, TAB)
    assert walked == heads
    QTest.keyClick(pane.view, Qt.Key.Key_Backtab, Qt.KeyboardModifier.ShiftModifier)
    back = []
    for _ in heads:
        back.append(pane.model.field_at(pane.view.currentIndex().column()))
        QTest.keyClick(pane.view, Qt.Key.Key_Backtab, Qt.KeyboardModifier.ShiftModifier)
    assert back == heads[::-1]


def test_marks_of_what_was_not_understood_go_with_their_line(pane, session, bare):
    pane.focus_first()
    keys("Lights", TAB, "20", TAB, "1500 VA", ENTER)
    assert (1, "poles") in pane.model.misread
    cell = pane.model.cell_of(1, "poles")
    assert cell.data() == "\N{WARNING SIGN}\ufe0e"  # the column is too narrow for more; the tip has it
    assert cell.data(Qt.ItemDataRole.ToolTipRole).startswith("1500 VA: ")
    pane.view.setCurrentIndex(pane.model.cell_of(1, "space"))
    keys("7", ENTER)
    assert [c.space for c in lines(session, bare)] == [7]
    assert set(pane.model.misread) == {(7, "poles")}
    while session.undo_label and "LP-3" in session.undo_label:
        session.undo()
    session.select([bare])
    pane.refresh_now()
    assert lines(session, bare) == []
    assert not pane.model.misread


def test_marks_of_a_pasted_table_go_when_it_is_taken_back(pane, session, bare):
    pane.focus_first()
    keys("Old line", ENTER)
    put_on_clipboard("Load served\tBreaker (A)\tPoles\tVA", "Lights\t20\tmany\t1400", "Sign\t20\t1\tlots")
    paste(pane)
    assert set(pane.model.misread) == {(1, "poles"), (3, "va")}
    session.undo()
    pane.refresh_now()
    assert [c.description for c in lines(session, bare)] == ["Old line"]
    assert not pane.model.misread


def test_what_is_being_typed_stays_when_the_grid_is_shown_anew(pane, session):
    """The study of a large drawing may come while the next cell is being typed."""
    pane.focus_first()
    keys("Lig")
    pane._due |= {"study"}
    pane.refresh_now()
    editor = QApplication.focusWidget()
    assert isinstance(editor, QLineEdit)
    assert editor.text() == "Lig"


def test_letters_typed_right_after_enter_go_to_the_next_circuit(pane, session, bare):
    """While an answer is slow keys wait in a row: they come without anything being done between them."""
    pane.focus_first()
    for key in ("Lights", TAB, "20", ENTER, "Sign", TAB, "15", ENTER):
        target = QApplication.focusWidget()
        if isinstance(key, str):
            for letter in key:
                QTest.keyClick(QApplication.focusWidget(), letter)
        else:
            QTest.keyClick(target, key)
    QApplication.processEvents()
    assert [(c.space, c.description, c.trip_a) for c in lines(session, bare)] == [(1, "Lights", 20), (3, "Sign", 15)]


def test_trip_and_poles_typed_together_are_one_step(pane, session, bare):
    pane.focus_first()
    keys("Pump", TAB, "30/2", TAB, TAB)
    assert session.undo_label == "Change trip and poles of circuit 1 in LP-3"
    session.undo()
    assert [(c.trip_a, c.poles) for c in lines(session, bare)] == [(None, 1)]


def test_tab_goes_on_to_the_next_line_and_shift_tab_back(pane):
    pane.view.setFocus()
    pane.view.setCurrentIndex(pane.model.cell_of(1, "status"))
    QTest.keyClick(pane.view, TAB)
    at = pane.view.currentIndex()
    assert (pane.model.slot_at(at).space, pane.model.field_at(at.column())) == (3, "description")
    QTest.keyClick(pane.view, Qt.Key.Key_Backtab, Qt.KeyboardModifier.ShiftModifier)
    at = pane.view.currentIndex()
    assert (pane.model.slot_at(at).space, pane.model.field_at(at.column())) == (1, "status")
    pane.view.setCurrentIndex(pane.model.cell_of(29, "status"))
    QTest.keyClick(pane.view, TAB)
    assert pane.model.slot_at(pane.view.currentIndex()).space == 2  # after the odd side comes the even one


def test_enter_without_tabs_stays_in_its_column_and_an_arrow_forgets_the_line(pane):
    pane.view.setFocus()
    pane.view.setCurrentIndex(pane.model.cell_of(1, "va"))
    QTest.keyClick(pane.view, ENTER)
    assert pane.view.currentIndex() == pane.model.cell_of(3, "va")
    QTest.keyClick(pane.view, TAB)
    QTest.keyClick(pane.view, Qt.Key.Key_Down)
    QTest.keyClick(pane.view, ENTER)
    assert pane.view.currentIndex() == pane.model.cell_of(7, "load_class")


@pytest.mark.parametrize(
    ("text", "found"),
    [("60/3", ("60", "3")), ("20A/1P", ("20", "1")), ("100 amps / 2 pole", ("100", "2")), ("20", None), ("60/5", None),
     ("1/0", None)],
)  # fmt: skip
def test_trip_and_poles_in_one_text(text, found):
    assert trip_and_poles(text) == found


# ----------------------------------------------------------------------------------------------------------- starting
def test_details_of_a_panel_lead_to_its_circuits(session, host, ids, show, bare):
    made = make_panes(session, host)
    details, circuits = made[0].widget, made[3].widget
    assert isinstance(details, DetailsPane)
    assert isinstance(circuits, CircuitsPane)
    show(details, 300, 600)
    show(circuits, 1200, 400)
    assert details.circuits.text() == "Add circuits: 30 empty spaces"
    details.circuits.click()
    assert circuits.view.hasFocus()
    assert circuits.view.currentIndex() == circuits.model.cell_of(1, "description")
    session.select([ids["panel"]])
    assert details.circuits.text() == "Circuits (5)"
    session.select([ids["main"]])
    assert not details.circuits.isVisible()


def test_a_gutter_offers_no_circuits(session, host, show):
    drawing, gutter = edits.add(session.drawing, "bus", name="Gutter", form="gutter")
    session.apply("Add", drawing)
    pane = show(DetailsPane(session, host))
    session.select([gutter])
    assert not pane.circuits.isVisible()


# ------------------------------------------------------------------------------------------------------------- tables
def test_what_is_a_table():
    assert is_table("a\tb")
    assert is_table("a\nb")
    assert not is_table("Lights, hall\r\n")


def texts(*rows: str, begin: str = "description") -> list[tuple[int | None, dict[str, str]]]:
    return [(r.space, dict(r.texts)) for r in read_rows("\n".join(rows), begin)]


def test_columns_are_found_by_their_headings():
    assert texts("Ckt\tLoad served\tBreaker (A)\tPoles\tVA\tRemarks", "1\tLights\t20\t1\t1,400\tnew lamps") == [
        (1, {"description": "Lights", "trip_a": "20", "poles": "1", "va": "1,400"})
    ]


def test_columns_without_headings_begin_at_the_marked_cell():
    assert texts("Lights\t20\t1400") == [(None, {"description": "Lights", "trip_a": "20", "va": "1400"})]
    assert texts("Lights\t20\t1\t1400", "Pump\t30\t2\t3000")[1] == (
        None, {"description": "Pump", "trip_a": "30", "poles": "2", "va": "3000"},
    )  # fmt: skip
    assert texts("20\t1400", begin="trip_a") == [(None, {"trip_a": "20", "va": "1400"})]
    assert texts("3\tLights\t20", "7\tPump\t30") == [
        (3, {"description": "Lights", "trip_a": "20"}), (7, {"description": "Pump", "trip_a": "30"}),
    ]  # fmt: skip


def test_a_quoted_cell_may_hold_a_line_break():
    assert texts('"Lights,\nhall"\t20') == [(None, {"description": "Lights,\nhall", "trip_a": "20"})]


def test_texts_are_understood_as_when_typed_and_what_is_not_is_told():
    values, misread = understood({"trip_a": "60A/3P", "va": "16 kVA", "load_class": "kit", "continuous": "perhaps"})
    assert values == {"trip_a": 60, "poles": 3, "va": 16000, "load_class": "kitchen"}
    assert set(misread) == {"continuous"}


def test_a_table_fills_rows_in_one_step(pane, session, host, bare):
    put_on_clipboard("Lights, hall\t20\t1\t1400", "Ice maker\t60\t3\t16000", "", "", "Counter\t20\t1\t900")
    paste(pane)
    assert [(c.space, c.poles, c.trip_a, c.description, c.va) for c in lines(session, bare)] == [
        (1, 1, 20, "Lights, hall", 1400), (3, 3, 60, "Ice maker", 16000), (9, 1, 20, "Counter", 900),
    ]  # fmt: skip
    assert session.undo_label == "Paste 3 circuits in LP-3"
    assert host.said[-1] == "3 circuits pasted."
    session.undo()
    assert lines(session, bare) == []


def test_rows_without_blanks_step_over_a_device_with_several_poles(pane, session, bare):
    put_on_clipboard("Ice maker\t60/3\t16000", "Counter\t20\t900")
    paste(pane, 3)
    assert [(c.space, c.description) for c in lines(session, bare)] == [(3, "Ice maker"), (9, "Counter")]


def test_a_table_goes_down_the_odd_side_and_on_with_the_even_one(pane, session, bare):
    put_on_clipboard(*(f"Load {n}\t20" for n in range(1, 31)))
    paste(pane)
    by_space = {c.space: c.description for c in lines(session, bare)}
    assert by_space == {
        **{2 * n - 1: f"Load {n}" for n in range(1, 16)},
        **{2 * n: f"Load {n + 15}" for n in range(1, 16)},
    }


def test_rows_with_numbers_go_where_they_say(pane, session, bare):
    put_on_clipboard("No.\tDescription\tTrip", "2\tSign\t20", "14\tPump\t30/2")
    paste(pane, 7)
    assert [(c.space, c.poles, c.description) for c in lines(session, bare)] == [(2, 1, "Sign"), (14, 2, "Pump")]


def test_what_does_not_fit_is_left_out_and_told(session, host, ids, show):
    drawing, device = edits.add(session.drawing, "disconnect", name="Sub main", space=13, poles=2, trip_a=60.0)
    drawing, _ = edits.connect(drawing, End(ids["panel"], "bus"), End(device, "line"))
    session.apply("Add", drawing)
    session.select([ids["panel"]])
    pane = show(CircuitsPane(session, host), width=1300)
    put_on_clipboard("13\tFan\t20", "31\tOven\t40", "12\tDoor\t20")
    paste(pane)
    found = {c.space: c.description for c in lines(session, ids["panel"])}
    assert found[12] == "Door"
    assert 13 not in found
    assert 31 not in found
    assert "1 circuit pasted. 2 left out: Space 13 holds Sub main" in host.said[-1]


def test_a_cell_that_is_not_understood_is_marked_and_the_rest_is_taken(pane, session, host, bare):
    put_on_clipboard("Lights\ttwenty\t1400")
    paste(pane)
    assert [(c.description, c.trip_a, c.va) for c in lines(session, bare)] == [("Lights", None, 1400)]
    cell = pane.model.cell_of(1, "trip_a")
    assert cell.data().endswith("twenty")
    assert cell.data(Qt.ItemDataRole.ToolTipRole)
    assert "1 cell was not understood and is marked" in host.said[-1]


def test_pasting_over_a_circuit_changes_only_what_the_table_has(pane, session, bare):
    put_on_clipboard("Lights\t20\t1400")
    paste(pane)
    put_on_clipboard("30\t1500", "15\t200")
    paste(pane, 1, "trip_a")
    assert [(c.space, c.description, c.trip_a, c.va) for c in lines(session, bare)] == [
        (1, "Lights", 30, 1500), (3, "", 15, 200),
    ]  # fmt: skip


def test_a_single_text_goes_into_the_cell(pane, session, bare):
    QGuiApplication.clipboard().setText("Lights, hall")
    paste(pane, 5)
    assert [(c.space, c.description) for c in lines(session, bare)] == [(5, "Lights, hall")]
    assert session.undo_label == "Add circuit 5 in LP-3"


def test_a_table_pasted_while_a_cell_is_open_does_not_end_up_in_the_cell(pane, session, bare):
    pane.focus_first()
    keys("x")
    editor = QApplication.focusWidget()
    assert isinstance(editor, QLineEdit)
    put_on_clipboard("Lights\t20\t1400", "Sign\t20\t300")
    QTest.keyClick(editor, Qt.Key.Key_V, CTRL)
    QApplication.processEvents()
    assert [(c.space, c.description) for c in lines(session, bare)] == [(1, "Lights"), (3, "Sign")]


def test_a_text_that_is_no_schedule_changes_nothing(pane, session, host, bare):
    put_on_clipboard("", "\t")
    before = session.drawing
    pane.view.pasted.emit("\t\n\t")
    assert session.drawing is before
    assert "Nothing on the clipboard" in host.said[-1]
