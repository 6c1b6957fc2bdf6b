"""Importing interval data in the window: what is asked, what is shown, what is added; and the plot."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import pytest
from interval_data import curve, table
from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QImage
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QDialog

from oneline.desk import output
from oneline.desk.panes import demand as demand_pane
from oneline.desk.panes.details import DetailsPane
from oneline.desk.panes.papers import PrintChoice, PrintDialog, page_image
from oneline.desk.panes.recordimport import ImportDialog
from oneline.desk.panes.recordplot import RecordPlot
from oneline.model import DemandSeries
from oneline.sheet.recordplot import PlotLines


@pytest.fixture
def month(tmp_path: Path) -> Path:
    path = tmp_path / "month.csv"
    path.write_text(table(curve(36 * 96), "%Y-%m-%d %H:%M"), encoding="utf-8")
    return path


@pytest.fixture
def dialog(qtbot, month: Path) -> Iterator[ImportDialog]:
    made = ImportDialog(month, "North service", 2023)
    qtbot.addWidget(made)
    made.show()
    return made


@pytest.fixture
def pane(qtbot, session, host) -> DetailsPane:
    made = DetailsPane(session, host)
    qtbot.addWidget(made)
    made.resize(320, 900)
    made.show()
    return made


def test_a_plain_file_needs_no_answer(dialog: ImportDialog) -> None:
    assert dialog.choices == {}
    assert dialog.add_button.isEnabled()
    assert dialog.record is not None
    assert dialog.record.period_days == 36
    assert dialog.table.item(0, 0).text() == "time"
    assert dialog.table.item(0, 1).text() == "kW"
    assert dialog.plot.isVisible()
    assert "in normal use while North service was recorded is not known yet" in dialog.verdict.text()


def test_what_no_file_tells_goes_into_the_record(dialog: ImportDialog) -> None:
    dialog.occupied.button(True).click()
    dialog.seasonal.button(False).click()
    assert (dialog.record.occupied, dialog.record.seasonal_included) == (True, False)
    assert "lacks the larger of heating and cooling" in dialog.verdict.text()
    dialog.seasonal.button(True).click()
    assert "30 being enough" in dialog.verdict.text()


def test_questions_are_answered_one_by_one(qtbot, tmp_path: Path) -> None:
    path = tmp_path / "day.csv"
    path.write_text(table(curve(96, datetime(2025, 4, 3)), "%m/%d/%Y %H:%M", head="Time,Usage"), encoding="utf-8")
    dialog = ImportDialog(path, "North service", 2023)
    qtbot.addWidget(dialog)
    dialog.show()
    assert list(dialog.choices) == ["date-order", "unit"]
    assert not dialog.add_button.isEnabled()
    assert not dialog.plot.isVisible()
    for name, key in (("unit", "kWh"), ("date-order", "mdy")):
        assert not dialog.add_button.isEnabled()
        choice = dialog.choices[name]
        choice.setCurrentIndex(choice.findData(key))
        choice.activated.emit(choice.currentIndex())
    assert dialog.add_button.isEnabled()
    assert dialog.record.start == "2025-04-03"
    assert list(dialog.choices) == ["date-order", "unit"]  # they can still be changed
    dialog.choices["date-order"].put("dmy")
    dialog.choices["date-order"].activated.emit(0)
    assert dialog.record.start == "2025-03-04"


def test_another_column_can_be_taken(qtbot, tmp_path: Path) -> None:
    path = tmp_path / "two.csv"
    rows = "".join(f"{t:%Y-%m-%d %H:%M},{float(v)},{float(v) * 2}\n" for t, v in curve(96).items())
    path.write_text(f"Time,kVA,kW\n{rows}", encoding="utf-8")
    dialog = ImportDialog(path, "North service", 2023)
    qtbot.addWidget(dialog)
    dialog.show()
    assert dialog.record.peak_kva is not None
    dialog.column.put("3")
    dialog.column.activated.emit(0)
    assert dialog.record.peak_kva is None
    assert dialog.record.peak_kw == pytest.approx(2 * max(map(float, curve(96).values())))
    dialog.column.put("")
    dialog.column.activated.emit(0)
    assert dialog.record.peak_kva is not None


def test_what_cannot_be_read_is_said_and_another_file_can_be_chosen(
    qtbot, tmp_path: Path, month: Path, monkeypatch
) -> None:
    path = tmp_path / "letter.csv"
    path.write_text("Dear customer,\nthank you.\n", encoding="utf-8")
    dialog = ImportDialog(path, "North service", 2023)
    qtbot.addWidget(dialog)
    dialog.show()
    assert dialog.message.is_problem
    assert "No row of it has a time stamp" in dialog.message.text()
    assert not dialog.add_button.isEnabled()
    monkeypatch.setattr("oneline.desk.panes.recordimport.file_to_import", lambda *_: month)
    dialog._another()
    assert dialog.add_button.isEnabled()
    assert not dialog.message.is_problem


def test_the_record_is_added_as_one_step(pane: DetailsPane, session, ids, month: Path, monkeypatch) -> None:
    def accept(dialog: ImportDialog) -> int:
        dialog.occupied.button(True).click()
        return int(QDialog.DialogCode.Accepted)

    monkeypatch.setattr(ImportDialog, "exec", accept)
    monkeypatch.setattr(demand_pane, "file_to_import", lambda _: month)
    session.select([ids["service"]])
    pane.demand.import_button.click()
    records = session.drawing.get(ids["service"]).demand
    assert len(records) == 2
    assert (records[1].file_name, records[1].occupied) == ("month.csv", True)
    assert session.undo_label == "Import a demand record of North service"
    QApplication.processEvents()
    block = pane.demand._blocks[1]
    assert block.plot.isVisible()
    assert block.plot.series == records[1].series
    assert not pane.demand._blocks[0].plot.isVisible()
    # What only such a record has stands in its form, and not in the one that was typed.
    assert block.form.rows["unbroken_days"].control.isVisible()
    assert not pane.demand._blocks[0].form.rows["unbroken_days"].control.isVisible()
    pane.demand.import_button.click()  # the same file again takes its place
    assert len(session.drawing.get(ids["service"]).demand) == 2
    session.undo()
    session.undo()
    assert len(session.drawing.get(ids["service"]).demand) == 1


def test_a_cancelled_import_changes_nothing(pane: DetailsPane, session, ids, month: Path, monkeypatch) -> None:
    session.select([ids["service"]])
    before = session.drawing
    monkeypatch.setattr(ImportDialog, "exec", lambda _: int(QDialog.DialogCode.Rejected))
    pane.demand.import_file(month)
    monkeypatch.setattr(demand_pane, "file_to_import", lambda _: None)
    pane.demand.import_button.click()
    assert session.drawing is before


def test_escape_closes_the_dialog(dialog: ImportDialog) -> None:
    QTest.keyClick(dialog, Qt.Key.Key_Escape)
    assert dialog.result() == int(QDialog.DialogCode.Rejected)
    assert not dialog.isVisible()


def test_the_plot_tells_what_is_below_the_pointer(qtbot) -> None:
    plot = RecordPlot()
    qtbot.addWidget(plot)
    plot.resize(400, 200)
    series = DemandSeries("2026-01-05 00:00", 60.0, "A", (10.0, 120.0, None, 40.0))
    plot.put(series, PlotLines(120.0, "2026-01-05 01:15", 150.0, "Peak as counted: 150 A"))
    told = {plot.words_at(QPointF(x, 90)) for x in range(400)}
    assert told == {
        "", "Jan 5, 2026, 00:00, hour: highest 10.0 A", "Jan 5, 2026, 01:00, hour: highest 120 A",
        "Jan 5, 2026, 02:00, hour: not recorded", "Jan 5, 2026, 03:00, hour: highest 40.0 A",
    }  # fmt: skip
    assert plot.accessibleDescription() == "Peak 120 A, 2026-01-05 01:15. Peak as counted: 150 A."
    assert plot.grab().toImage().format() != QImage.Format.Format_Invalid
    plot.put(None, PlotLines())
    assert plot.words_at(QPointF(100, 100)) == ""


def test_the_page_of_the_print_dialog(qtbot, session, ids, month: Path) -> None:
    """The same page that the command line prints, chosen by its paper."""
    from oneline.files.intervals import read_record, with_record

    record, _, _ = read_record(month)
    drawing = with_record(session.drawing, ids["service"], record)
    dialog = PrintDialog(
        lambda choice: output.paper_pdf(drawing, choice, "fish.oneline", "us"),
        "fish",
        "existing",
        None,
        (),
        "",
        "record",
    )
    qtbot.addWidget(dialog)
    dialog.remake()
    assert dialog.choice == PrintChoice("record", "letter", "existing")
    assert page_image(dialog.pdf, 0, 0.2)[1] == 2
    assert not dialog.panel.isEnabled()
    dialog.paper.put("door")
    dialog.remake()
    assert dialog.panel.isEnabled()
