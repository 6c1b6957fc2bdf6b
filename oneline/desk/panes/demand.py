"""Recorded maximum demand of a service, meter or generator: one form a record."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from oneline.desk.panes.form import Form
from oneline.desk.panes.look import CONTROL_PX, STEP, Heading, Quiet
from oneline.desk.panes.recordimport import ImportDialog, file_to_import
from oneline.desk.panes.recordplot import RecordPlot
from oneline.desk.panes.words import lower_first
from oneline.model import DemandRecord, specs
from oneline.model.vocabulary import EDITIONS
from oneline.sheet.recordplot import PlotLines, plot_lines
from oneline.study.record_chart import RecordChart
from oneline.study.record_words import peak_of

#: Fields that only a record of interval data has; of others they are not shown.
OF_INTERVAL_DATA = (
    "peak_at", "recorded_every_min", "unbroken_days", "coverage_pct", "gaps", "exported", "phase_a_a", "phase_b_a",
    "phase_c_a", "file_name", "file_sha256",
)  # fmt: skip


class DemandEditor(QWidget):
    """``changed(field, rows, what)``: the records as they should become, and the first words of the step's name."""

    changed = Signal(str, object, str)

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.records: tuple[DemandRecord, ...] = ()
        self._item_id, self._item_name = "", ""
        self.edition = EDITIONS[0]
        self._blocks: list[_Record] = []
        self._box = QVBoxLayout(self)
        self._box.setContentsMargins(0, 0, 0, 0)
        self._box.setSpacing(STEP // 2)
        self._box.addWidget(Heading("Recorded demand", self))
        self.hint = Quiet(
            "No record yet. Import interval data, or enter the highest value of the utility or recorder.", self
        )
        self.hint.setWordWrap(True)
        self._box.addWidget(self.hint)
        self._slot = QVBoxLayout()
        self._box.addLayout(self._slot)
        self.add_button = QPushButton("Add a record", self)
        self.add_button.setMinimumHeight(CONTROL_PX)
        self.add_button.setAutoDefault(False)
        self.add_button.setToolTip("Add a record of the maximum demand: what was recorded, how long, and its peak.")
        self.add_button.clicked.connect(self._add)
        self.import_button = QPushButton("Import interval data …", self)
        self.import_button.setMinimumHeight(CONTROL_PX)
        self.import_button.setAutoDefault(False)
        self.import_button.setToolTip("Read the file of a recorder or of the utility: CSV, or XML after NAESB REQ.21.")
        self.import_button.clicked.connect(self.ask_for_file)
        for button in (self.import_button, self.add_button):
            self._box.addWidget(button, 0, Qt.AlignmentFlag.AlignLeft)

    def put(
        self, records: tuple[DemandRecord, ...], item_id: str, item_name: str = "", edition: int = EDITIONS[0]
    ) -> None:
        """Show the records of an item; tells nobody. ``edition``: of the code that an import is judged by."""
        self._item_name, self.edition = item_name or item_id, edition
        if item_id != self._item_id:
            for block in self._blocks:
                block.form.commit_pending()
        self.records, self._item_id = records, item_id
        while len(self._blocks) > len(records):
            block = self._blocks.pop()
            self._slot.removeWidget(block)
            block.hide()
            block.deleteLater()
        while len(self._blocks) < len(records):
            block = _Record(len(self._blocks), self)
            block.form.committed.connect(lambda name, value, n=block.number: self._commit(n, name, value))
            block.remove_button.clicked.connect(lambda _=False, n=block.number: self._remove(n))
            self._slot.addWidget(block)
            self._blocks.append(block)
        for block, record in zip(self._blocks, records, strict=True):
            block.put(record)
        self.hint.setVisible(not records)

    def put_charts(self, charts: Sequence[RecordChart]) -> None:
        """What the plots of the shown records are drawn with."""
        lines = {chart.record: plot_lines(chart) for chart in charts}
        for block, record in zip(self._blocks, self.records, strict=True):
            if record in lines:
                block.plot.put(record.series, lines[record])

    def ask_for_file(self) -> None:
        """Choose a file of interval data and read it."""
        path = file_to_import(self)
        if path is not None:
            self.import_file(path)

    def import_file(self, path: Path) -> None:
        """Show how a file is read, and add its record. A record of the very same file gives way to it."""
        dialog = ImportDialog(path, self._item_name, self.edition, self.window())
        done = dialog.exec()
        record = dialog.record
        dialog.deleteLater()
        if done and record is not None:
            kept = tuple(r for r in self.records if not r.file_sha256 or r.file_sha256 != record.file_sha256)
            self.changed.emit("demand", (*kept, record), "Import a demand record")

    @property
    def forms(self) -> list[Form]:
        """The forms of the records, in order."""
        return [block.form for block in self._blocks]

    def _add(self) -> None:
        self.changed.emit("demand", (*self.records, DemandRecord()), "Add a demand record")
        if self._blocks:
            self._blocks[-1].form.focus()

    def _remove(self, number: int) -> None:
        rows = (*self.records[:number], *self.records[number + 1 :])
        self.changed.emit("demand", rows, "Remove a demand record")

    def _commit(self, number: int, name: str, value: Any) -> None:
        rows = list(self.records)
        rows[number] = replace(rows[number], **{name: value})
        word = lower_first(specs(DemandRecord)[name].label)
        self.changed.emit("demand", tuple(rows), f"Change {word} in the demand record")


class _Record(QWidget):
    """One record: its form and the button that takes it away."""

    def __init__(self, number: int, parent: QWidget) -> None:
        super().__init__(parent)
        self.number = number
        box = QVBoxLayout(self)
        box.setContentsMargins(0, 0, 0, STEP)
        box.setSpacing(STEP // 2)
        head = QHBoxLayout()
        head.addWidget(Quiet(f"Record {number + 1}", self))
        head.addStretch(1)
        self.remove_button = QPushButton("Remove", self)
        self.remove_button.setMinimumHeight(CONTROL_PX)
        self.remove_button.setAutoDefault(False)
        self.remove_button.setToolTip(f"Remove record {number + 1}.")
        head.addWidget(self.remove_button)
        box.addLayout(head)
        self.plot = RecordPlot(self)
        box.addWidget(self.plot)
        self.form = Form(DemandRecord, None, self, with_basis=False, headings=False)
        box.addWidget(self.form)

    def put(self, record: DemandRecord) -> None:
        """Show a record; its plot, once it was read from interval data, and the fields that such a record alone has."""
        self.form.show_values({name: getattr(record, name) for name in specs(DemandRecord)})
        self.form.hide_fields({n for n in OF_INTERVAL_DATA if getattr(record, n) in (None, "")})
        self.plot.setVisible(record.series is not None)
        if record.series is not self.plot.series:
            self.plot.put(record.series, PlotLines(peak_of(record)[1], record.peak_at))
