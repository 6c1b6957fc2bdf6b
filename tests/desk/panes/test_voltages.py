"""Measured voltages in the details pane: entered as a row, held against the system by a finding."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QLineEdit

from oneline.desk.panes.details import DetailsPane
from oneline.study import study


@pytest.fixture
def pane(session, host, show) -> DetailsPane:
    return show(DetailsPane(session, host), width=480, height=900)


def enter(pane: DetailsPane, row: int, column: int, text: str) -> None:
    view = pane.voltages.table.view
    view.setFocus()
    view.setCurrentIndex(pane.voltages.table.model.index(row, column))
    QTest.keyClick(view, text[0])
    editor = QApplication.focusWidget()
    assert isinstance(editor, QLineEdit)
    QTest.keyClicks(editor, text[1:])
    QTest.keyClick(editor, Qt.Key.Key_Return)
    QApplication.processEvents()


def test_voltages_are_entered_and_contradict_the_system(pane, session, ids):
    """208 V between phases and 120 V to neutral is a 208Y/120 system; 277 V to neutral never is (voltage arithmetic)."""
    session.select([ids["board"]])
    pane.voltages.table.add_button.click()
    assert session.undo_label == "Add a voltage reading of Board"
    for column, volts in enumerate(("480", "481 V", "479", "277", "276", "277"), start=1):
        enter(pane, 0, column, volts)
    (reading,) = session.drawing.get(ids["board"]).voltages
    assert (reading.ab_v, reading.bc_v, reading.cn_v, reading.ag_v) == (480, 481, 277, None)
    found = [v for v in study(session.drawing).verdicts if v.rule == "GND-9" and v.subject == ids["board"]]
    entered = session.drawing.get(ids["service"]).system
    assert entered == "208Y/120"
    assert [v.state for v in found] == ["fail"]
    assert "480Y/277" in found[0].message
    pane.voltages.table.remove_button.click()
    assert session.drawing.get(ids["board"]).voltages == ()
    assert not [v for v in study(session.drawing).verdicts if v.rule == "GND-9"]


def test_conductors_have_no_voltage_table(pane, session, ids):
    session.select([ids["board"]])
    assert pane.voltages.isVisible()
    run = next(i for i in session.drawing.items.values() if i.kind == "run")
    session.select([run.id])
    assert not pane.voltages.isVisible()
