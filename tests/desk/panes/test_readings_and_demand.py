"""Clamp readings and recorded demand in the details pane."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QLineEdit

from oneline.desk.panes.details import DetailsPane


@pytest.fixture
def pane(session, host, show) -> DetailsPane:
    return show(DetailsPane(session, host), width=480, height=900)


def enter(pane: DetailsPane, row: int, column: int, text: str) -> None:
    view = pane.readings.table.view
    view.setFocus()
    view.setCurrentIndex(pane.readings.table.model.index(row, column))
    QTest.keyClick(view, text[0])
    editor = QApplication.focusWidget()
    assert isinstance(editor, QLineEdit)
    QTest.keyClicks(editor, text[1:])
    QTest.keyClick(editor, Qt.Key.Key_Return)
    QApplication.processEvents()


def test_a_reading_is_added_filled_in_and_removed(pane, session, ids):
    session.select([ids["board"]])
    pane.readings.table.add_button.click()
    assert session.undo_label == "Add a clamp reading of Board"
    (reading,) = session.drawing.get(ids["board"]).readings
    assert (reading.a_a, reading.n_a) == (None, None)
    assert reading.when
    enter(pane, 0, 1, "212")
    enter(pane, 0, 4, "31 A")
    enter(pane, 0, 5, "Clamp 3")
    (reading,) = session.drawing.get(ids["board"]).readings
    assert (reading.a_a, reading.b_a, reading.n_a, reading.instrument) == (212, None, 31, "Clamp 3")
    assert session.undo_label == "Change instrument in a clamp reading of Board"
    pane.readings.table.remove_button.click()
    assert session.drawing.get(ids["board"]).readings == ()
    session.undo()
    assert len(session.drawing.get(ids["board"]).readings) == 1


def test_a_reading_that_is_not_understood_stays_in_its_cell(pane, session, host, ids):
    session.select([ids["board"]])
    pane.readings.table.add_button.click()
    before = session.drawing
    enter(pane, 0, 2, "much")
    assert session.drawing is before
    cell = pane.readings.table.model.index(0, 2)
    assert cell.data().endswith("much")
    assert cell.data(Qt.ItemDataRole.ToolTipRole) == host.said[-1]


def test_unread_conductors_show_a_dash_not_a_zero(pane, session, ids):
    session.select([ids["board"]])
    pane.readings.table.add_button.click()
    assert [pane.readings.table.model.index(0, n).data() for n in (1, 2, 3, 4)] == ["—"] * 4


def test_the_caution_about_readings_is_there(pane, session, ids):
    session.select([ids["board"]])
    pane.readings.table.add_button.click()
    assert "never taken for the demand" in pane.readings.hint.text()
    assert pane.readings.hint.isVisible()


@pytest.mark.parametrize(("key", "visible"), [("service", True), ("main", False), ("board", False)])
def test_demand_records_belong_to_sources_and_meters(pane, session, ids, key, visible):
    session.select([ids[key]])
    assert pane.demand.isVisible() == visible


def test_a_demand_record_is_edited_field_by_field(pane, session, ids):
    session.select([ids["service"]])
    (form,) = pane.demand.forms
    assert form.rows["peak_kw"].line.text() == "122 kW"
    row = form.rows["interval_min"]
    row.line.setFocus()
    QTest.keyClicks(row.line, "15")
    QTest.keyClick(row.line, Qt.Key.Key_Return)
    form.rows["occupied"].segments.button(True).click()
    (record,) = session.drawing.get(ids["service"]).demand
    assert (record.peak_kw, record.interval_min, record.occupied, record.seasonal_included) == (122, 15, True, None)
    assert session.undo_label == "Change building in normal use in the demand record of North service"


def test_demand_records_are_added_and_removed(pane, session, ids):
    session.select([ids["service"]])
    pane.demand.add_button.click()
    assert len(session.drawing.get(ids["service"]).demand) == 2
    assert session.drawing.get(ids["service"]).demand[1].peak_kw is None
    pane.demand._blocks[0].remove_button.click()
    assert [r.peak_kw for r in session.drawing.get(ids["service"]).demand] == [None]
    session.undo()
    session.undo()
    assert [r.peak_kw for r in session.drawing.get(ids["service"]).demand] == [122]


def test_half_typed_demand_goes_to_the_service_it_was_typed_for(pane, session, ids):
    session.select([ids["service"]])
    row = pane.demand.forms[0].rows["peak_kw"]
    row.line.setFocus()
    row.line.selectAll()
    QTest.keyClicks(row.line, "130")
    session.select([ids["main"]])
    assert session.drawing.get(ids["service"]).demand[0].peak_kw == 130
