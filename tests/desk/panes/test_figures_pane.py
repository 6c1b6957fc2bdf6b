"""The figures pane: one row a point, sortable with the unknown at the end, both views side by side with the change."""

from __future__ import annotations

from dataclasses import replace

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtTest import QTest

from oneline.desk.panes.figures import FiguresPane
from oneline.desk.panes.pointrows import why
from oneline.study import PointFigures

MINUS = "\N{MINUS SIGN}"


@pytest.fixture
def pane(session, host, show) -> FiguresPane:
    return show(FiguresPane(session, host), width=1200, height=320)


def cell(pane: FiguresPane, name: str, head: str) -> str:
    row = next(n for n, r in enumerate(pane.model.rows) if r.name == name)
    column = next(n for n, c in enumerate(pane.model.columns) if head in (c.head, c.title))
    return pane.model.index(row, column).data()


def names(pane: FiguresPane) -> list[str]:
    return [r.name for r in pane.model.rows]


def test_figures_of_the_present_view(pane):
    assert names(pane) == ["North service", "Main 1", "Ice switch", "LP-2"]
    assert cell(pane, "Main 1", "Load A") == "354 A"
    assert cell(pane, "Main 1", "Available B") == "234 A"
    assert cell(pane, "Main 1", "Fault") == "31.2 kA"
    assert cell(pane, "Main 1", "Drop") == "0.4 %"
    assert cell(pane, "Main 1", "Live from") == "North service and Roof array"
    assert cell(pane, "Main 1", "Limited by") == "Main 1: trip 600 A"
    assert cell(pane, "Main 1", "System") == "208Y/120"


def test_the_view_can_be_changed_here_and_on_the_sheet(pane, session):
    pane.mode.button("existing").click()
    assert session.view == "existing"
    assert names(pane) == ["North service", "Main 1", "LP-2"]
    assert cell(pane, "Main 1", "Load A") == "290 A"
    session.set_view("proposed")
    pane.refresh_now()
    assert pane.mode.button("proposed").isChecked()
    assert cell(pane, "Main 1", "Load A") == "354 A"


def test_side_by_side_takes_the_deciding_phase_of_both_views_and_their_change(pane, session):
    """Load is decided by the phase that carries most (B: 301.7 A), room by the one that has least (B: 298.3 A)."""
    pane.mode.button("both").click()
    assert session.view == "proposed"
    assert cell(pane, "Main 1", "Load, highest phase: existing") == "302 A"
    assert cell(pane, "Main 1", "Load, highest phase: proposed") == "366 A"
    assert cell(pane, "Main 1", "Load, highest phase: change") == "+64.3 A"
    assert cell(pane, "Main 1", "Available, lowest phase: change") == f"{MINUS}64.3 A"
    assert cell(pane, "LP-2", "Load, highest phase: existing") == "—"
    assert cell(pane, "LP-2", "Load, highest phase: change") == ""
    assert (
        cell(pane, "LP-2", "Available, lowest phase: existing") == "≤ 88.0 A"
    )  # the worst phase has no more than any phase's bound
    assert cell(pane, "Ice switch", "Load, highest phase: existing") == ""
    assert cell(pane, "Ice switch", "Load, highest phase: proposed") == "130 A"


def test_side_by_side_names_each_figure_once_over_existing_proposed_and_change(pane, qapp):
    pane.mode.button("both").click()
    assert [(c.group, c.head) for c in pane.model.columns[1:4]] == [
        ("Load, highest phase", "Existing"), ("Load, highest phase", "Proposed"), ("Load, highest phase", "Change"),
    ]  # fmt: skip
    header = pane.table.horizontalHeader()
    assert [n for n in range(header.count()) if header.starts_group(n)] == [1, 4, 7, 10, 13]
    spoken = pane.model.headerData(2, Qt.Orientation.Horizontal, Qt.ItemDataRole.AccessibleTextRole)
    assert spoken == "Load, highest phase: proposed"
    two_lines = header.sizeHint().height()
    pane.mode.button("proposed").click()
    assert two_lines >= header.sizeHint().height() + header.fontMetrics().lineSpacing()


@pytest.mark.parametrize("mode", ["proposed", "both"])
def test_all_columns_have_room_in_a_small_window(pane, qapp, mode):
    """A window of 1280 pixels leaves some 1130 to the panes at the bottom."""
    pane.resize(1130, 180)
    pane.mode.button(mode).click()
    qapp.processEvents()
    assert not pane.table.horizontalScrollBar().isVisible()


def test_an_item_of_one_view_only_says_that_it_is_new_or_removed(pane, session, ids, qapp):
    pane.mode.button("both").click()
    assert cell(pane, "Ice switch", "Load, highest phase: change") == "new"
    assert cell(pane, "Ice switch", "Fault current: change") == ""
    old = session.answer
    swapped = {"existing": "proposed", "proposed": "existing"}
    session.answer = lambda view: old(swapped[view])
    session.set_view("existing")
    pane.refresh_now()
    assert cell(pane, "Ice switch", "Load, highest phase: change") == "removed"


def test_tooltips_name_what_is_missing_in_the_view_of_the_column(pane, session):
    """The load of the pump is missing in both views, the length of the feeder only where the feeder is: proposed."""
    old = session.answer

    def fewer(view: str):
        result = old(view)
        if view == "proposed":
            return result
        point = next(p for p in result.points.values() if p.name == "LP-2")
        return replace(result, points={**result.points, point.id: replace(point, needs=("load of Brine pump",))})

    session.answer = fewer
    pane.mode.button("both").click()
    row = names(pane).index("LP-2")
    heads = [c.title for c in pane.model.columns]

    def tip(head: str) -> str:
        return pane.model.index(row, heads.index(head)).data(Qt.ItemDataRole.ToolTipRole)

    assert tip("Load, highest phase: existing") == "Not known yet: load of Brine pump"
    assert tip("Load, highest phase: proposed") == "Not known yet: load of Brine pump; length of Feeder to LP-2"


def test_no_load_is_offered_on_the_circuit_of_a_source():
    array = PointFigures("x", "X", "disconnect", available_a={"A": None}, load_a={"A": 0.0})
    assert why(array, "Available A") == "No load is offered on a source's own circuit."
    assert why(array, "Fault current") == "Not known yet."
    assert why(PointFigures("x", "X", "tie"), "Load") == "A tie that nobody traced has no figures of its own."


@pytest.mark.parametrize("order", [Qt.SortOrder.AscendingOrder, Qt.SortOrder.DescendingOrder])
def test_sorting_by_a_figure_keeps_the_unknown_at_the_end(pane, order):
    column = next(n for n, c in enumerate(pane.model.columns) if c.head == "Fault")
    pane.table.sortByColumn(column, order)
    known = ["LP-2", "Ice switch", "Main 1"]  # 14.2, 24.1 and 31.2 kA
    if order == Qt.SortOrder.DescendingOrder:
        known.reverse()
    assert names(pane) == [*known, "North service"]


def test_sorting_by_load_is_by_number_not_by_letter(pane):
    column = next(n for n, c in enumerate(pane.model.columns) if c.head == "Available A")
    pane.table.sortByColumn(column, Qt.SortOrder.AscendingOrder)
    assert names(pane)[:2] == ["Ice switch", "North service"]  # 73.4 A before 245.5 A


def test_arrow_keys_and_clicks_go_to_the_item(pane, host, ids):
    pane.focus_first()
    host.shown.clear()
    QTest.keyClick(pane.table, Qt.Key.Key_Down)
    assert host.shown == [ids["main"]]
    rect = pane.table.visualRect(pane.model.index(3, 0))
    QTest.mouseClick(pane.table.viewport(), Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier, rect.center())
    assert host.shown[-1] == ids["panel"]


def test_unknown_cells_tell_what_is_missing(pane):
    row = names(pane).index("LP-2")
    column = next(n for n, c in enumerate(pane.model.columns) if c.head == "Load B")
    tip = pane.model.index(row, column).data(Qt.ItemDataRole.ToolTipRole)
    assert "load of Brine pump" in tip
    assert cell(pane, "LP-2", "Available A") == "≤ 88.0 A"
    assert cell(pane, "LP-2", "Available B") == "—"
    bound = next(n for n, c in enumerate(pane.model.columns) if c.head == "Available A")
    assert "load of Brine pump" in pane.model.index(row, bound).data(Qt.ItemDataRole.ToolTipRole)


def test_numbers_are_right_aligned_with_figures_of_one_width(pane):
    for n, column in enumerate(pane.model.columns):
        align = pane.model.index(0, n).data(Qt.ItemDataRole.TextAlignmentRole)
        assert bool(align and align & int(Qt.AlignmentFlag.AlignRight)) == column.number
    assert pane.table.font().featureValue(pane.table.font().Tag("tnum")) == 1


def test_filter_and_copy(pane):
    pane.words.setText("ma 1")
    assert names(pane) == ["Main 1"]
    pane.copy_button.click()
    lines = QGuiApplication.clipboard().text().splitlines()
    assert lines[0].split("\t")[:2] == ["Item", "Kind"]
    assert lines[1].split("\t")[:5] == ["Main 1", "Disconnect", "208Y/120", "North service and Roof array", "354 A"]


def test_the_marked_row_stays_marked_when_the_study_changes(pane, session, host):
    pane.table.setCurrentIndex(pane.model.index(3, 0))
    host.shown.clear()
    session.set_view("existing")
    pane.refresh_now()
    assert pane.model.rows[pane.table.currentIndex().row()].name == "LP-2"
    assert host.shown == []


def test_an_empty_drawing_says_what_to_do_first(empty, host, show):
    pane = show(FiguresPane(empty, host))
    assert pane.hint.isVisible()
    assert "Draw a service" in pane.hint.text()
