"""The live block: both views side by side with the change, in the number formats of the sheet."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QLabel

from oneline.desk.panes.details import DetailsPane
from oneline.desk.panes.pointrows import figure_rows, limit_sentences, live_sentences
from oneline.desk.panes.words import amperes, change, kiloamperes, percent, worst
from oneline.study import Limit, PointFigures, StudyResult

MINUS = "\N{MINUS SIGN}"


@pytest.mark.parametrize(
    ("value", "text"),
    [(100.0, "100 A"), (99.94, "99.9 A"), (99.97, "100 A"), (1234.4, "1234 A"), (12345.0, "12,345 A"), (0.0, "0.0 A"),
     (-12.34, MINUS + "12.3 A"), (-0.04, "0.0 A"), (None, "—")],
)  # fmt: skip
def test_amperes_have_no_decimals_from_100_up_and_one_below(value, text):
    assert amperes(value) == text


def test_fault_current_is_written_in_kiloamperes_and_drop_in_percent_with_one_decimal():
    assert kiloamperes(31234.0) == "31.2 kA"
    assert percent(0.42) == "0.4 %"
    assert kiloamperes(None) == percent(None) == "—"


@pytest.mark.parametrize(
    ("before", "after", "text"),
    [(290.2, 354.5, "+64.3 A"), (354.5, 290.2, MINUS + "64.3 A"), (100.0, 100.04, "0"), (None, 5.0, ""), (5.0, None, ""),
     (0.0, 150.0, "+150 A")],
)  # fmt: skip
def test_change_carries_its_sign_and_says_nothing_where_a_side_is_missing(before, after, text):
    assert change(before, after, "A") == text


def test_worst_phase_is_not_known_while_one_phase_is_not():
    assert worst({"A": 10.0, "B": 12.0, "C": 9.0}, highest=True) == ("B", 12.0)
    assert worst({"A": 10.0, "B": 12.0, "C": 9.0}, highest=False) == ("C", 9.0)
    assert worst({"A": 10.0, "B": None, "C": 9.0}, highest=True) == ("", None)
    assert worst({}, highest=True) == ("", None)


def test_block_shows_both_views_and_the_change(session, host, ids, show):
    pane = show(DetailsPane(session, host))
    session.select([ids["main"]])
    assert pane.point.text_of("Load A") == ("290 A", "354 A", "+64.3 A")
    assert pane.point.text_of("Available B") == ("298 A", "234 A", MINUS + "64.3 A")
    assert pane.point.text_of("Fault current") == ("31.2 kA", "31.2 kA", "0")
    assert pane.point.text_of("Voltage drop") == ("0.4 %", "0.4 %", "0")
    assert pane.point.limit.text() == "Limited by Main 1: trip 600\N{NO-BREAK SPACE}A"
    assert "Line side: live from North service" in pane.point.live.text()
    assert "Load side: live from North service and Roof array" in pane.point.live.text()


def test_an_item_of_one_view_only_has_an_empty_column(session, host, ids, show):
    pane = show(DetailsPane(session, host))
    session.select([ids["switch"]])
    assert pane.point.text_of("Load A") == ("", "127 A", "")


def test_unknown_figures_stand_as_a_dash_with_what_is_missing(session, host, ids, show):
    pane = show(DetailsPane(session, host))
    session.select([ids["panel"]])
    assert pane.point.text_of("Load B") == ("—", "—", "")
    assert "load of Brine pump" in pane.point.needs.text()
    cell = next(c for c in pane.point.findChildren(QLabel) if c.text() == "Load B")
    assert "length of Feeder to LP-2" in cell.toolTip()
    dashes = [c for c in pane.point.findChildren(QLabel) if c.text() == "—"]
    assert dashes
    assert all("load of Brine pump" in c.toolTip() for c in dashes)
    assert pane.point.text_of("Available A") == ("≤ 88.0 A", "≤ 88.0 A", "")
    assert pane.point.text_of("Available B") == ("—", "—", "")


def test_a_fault_current_that_is_only_bounded_says_so():
    point = PointFigures("x", "X", "bus", fault_bound_a=20000.0)
    assert next(r for r in figure_rows(None, point) if r.what == "Fault current").after == "≤ 20.0 kA"


def test_two_bounds_in_both_views_fit_the_narrow_pane(ids, session, host, show, monkeypatch, qapp):
    bounded = PointFigures(
        ids["main"], "Main 1", "disconnect", phases="ABC", fault_least_a=15_450.0, fault_bound_a=25_678.0,
        fault_needs=("trace of Old conduit",), needs=("load of Brine pump",),
    )  # fmt: skip
    result = StudyResult(2023, "proposed", {bounded.id: bounded}, (), ())
    monkeypatch.setattr(session, "answer", lambda view: result)
    pane = show(DetailsPane(session, host), width=320)
    session.select([ids["main"]])
    qapp.processEvents()
    assert pane.point.text_of("Fault current") == ("15.4–25.7 kA", "15.4–25.7 kA", "")
    assert pane.area.widget().minimumSizeHint().width() <= pane.area.viewport().width()
    row = next(r for r in figure_rows(None, bounded) if r.what == "Fault current")
    assert "trace of Old conduit" in row.why_after
    assert "Brine" not in row.why_after


def test_figures_are_right_aligned_and_the_view_on_the_sheet_is_bold(session, host, ids, show):
    pane = show(DetailsPane(session, host))
    session.select([ids["main"]])
    cells = {c.text(): c for c in pane.point.findChildren(QLabel)}
    grid = pane.point._grid
    for text in ("290 A", "354 A", "+64.3 A"):
        item = grid.itemAt(grid.indexOf(cells[text]))
        assert item.alignment() & Qt.AlignmentFlag.AlignRight
    assert cells["354 A"].font().bold()
    assert not cells["290 A"].font().bold()
    session.set_view("existing")
    QApplication.processEvents()
    assert cells["290 A"].font().bold()
    assert not cells["354 A"].font().bold()


def test_nothing_that_no_source_reaches_is_called_dead(session):
    said = " ".join(live_sentences(PointFigures(id="x", name="X", kind="bus"), session.drawing))
    assert "does not prove it dead" in said
    assert "safe" not in said.casefold()


def test_a_possible_source_is_said_to_be_possible(session, ids):
    point = PointFigures(id="x", name="X", kind="bus", possibly_live_from=(ids["array"],))
    assert live_sentences(point, session.drawing)[-1] == "Possibly also live from Roof array"


def test_limits_are_told_for_both_views_where_they_differ():
    one, two = Limit("a", "Main 1", "trip", 600), Limit("b", "LP-2", "bus rating", 225)
    old, new = PointFigures("x", "X", "bus", limited_by=one), PointFigures("x", "X", "bus", limited_by=two)
    assert limit_sentences(old, new) == [
        "Existing limited by Main 1: trip 600 A", "Proposed limited by LP-2: bus rating 225 A",
    ]  # fmt: skip
    assert limit_sentences(None, new) == ["Limited by LP-2: bus rating 225 A"]
    assert limit_sentences(None, None) == []


def test_a_point_without_phases_still_shows_its_rows():
    rows = figure_rows(None, PointFigures("x", "X", "bus"))
    assert [(r.what, r.after) for r in rows][:2] == [("Load", "—"), ("Available", "—")]


def test_an_item_without_figures_says_what_to_do(session, host, ids, show):
    pane = show(DetailsPane(session, host))
    session.select([ids["array"]])
    assert "Connect it" in pane.point.live.text()
