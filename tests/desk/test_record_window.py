"""Interval data from the menu of the window: for the selected meter, and a word to whoever selected nothing."""

from __future__ import annotations

from pathlib import Path

import pytest
from interval_data import curve, table
from PySide6.QtWidgets import QDialog

from oneline.desk import output
from oneline.desk.panes import demand as demand_pane
from oneline.desk.panes.recordimport import ImportDialog


def test_the_menu_reads_interval_data_into_what_is_selected(
    desk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "log.csv"
    path.write_text(table(curve(36 * 96), "%Y-%m-%d %H:%M"), encoding="utf-8")
    window = desk.window
    said: list[str] = []
    monkeypatch.setattr(window, "say", said.append)
    monkeypatch.setattr(demand_pane, "file_to_import", lambda _: path)
    monkeypatch.setattr(ImportDialog, "exec", lambda _: int(QDialog.DialogCode.Accepted))
    window.documents.open_sample()
    window.session.select([])
    window.actions_by_key["import-record"].trigger()
    assert "Select the service, meter or generator" in said[-1]
    meter = next(i for i in window.session.drawing.items.values() if i.name == "Recorder at Main 1")
    before = len(meter.demand)
    window.session.select([meter.id])
    window.actions_by_key["import-record"].trigger()
    after = window.session.drawing.get(meter.id).demand
    assert len(after) == before + 1
    assert after[-1].file_name == "log.csv"
    assert window.session.undo_label == "Import a demand record of Recorder at Main 1"


def test_the_menu_opens_the_page_of_the_records(desk, monkeypatch: pytest.MonkeyPatch) -> None:
    shown: list[tuple[str, int]] = []

    def look(dialog: output.PrintDialog) -> int:
        dialog.remake()
        shown.append((dialog.choice.paper, dialog.preview.count))
        return 0

    monkeypatch.setattr(output.PrintDialog, "exec", look)
    desk.window.documents.open_sample()
    desk.window.actions_by_key["record"].trigger()
    desk.window.actions_by_key["door"].trigger()
    assert [paper for paper, _ in shown] == ["record", "door"]
    assert shown[0][1] == 3  # one page for each record of the sample
