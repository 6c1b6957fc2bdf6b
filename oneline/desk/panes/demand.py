"""Recorded maximum demand of a service, meter or generator: one form a record."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from oneline.desk.panes.form import Form
from oneline.desk.panes.look import CONTROL_PX, STEP, Heading, Quiet
from oneline.desk.panes.words import lower_first
from oneline.model import DemandRecord, specs


class DemandEditor(QWidget):
    """``changed(field, rows, what)``: the records as they should become, and the first words of the step's name."""

    changed = Signal(str, object, str)

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.records: tuple[DemandRecord, ...] = ()
        self._item_id = ""
        self._blocks: list[_Record] = []
        self._box = QVBoxLayout(self)
        self._box.setContentsMargins(0, 0, 0, 0)
        self._box.setSpacing(STEP // 2)
        self._box.addWidget(Heading("Recorded demand", self))
        self.hint = Quiet("No record yet. Enter the utility's record or a recording meter's highest value.", self)
        self.hint.setWordWrap(True)
        self._box.addWidget(self.hint)
        self._slot = QVBoxLayout()
        self._box.addLayout(self._slot)
        self.add_button = QPushButton("Add a record", self)
        self.add_button.setMinimumHeight(CONTROL_PX)
        self.add_button.setAutoDefault(False)
        self.add_button.setToolTip("Add a record of the maximum demand: what was recorded, how long, and its peak.")
        self.add_button.clicked.connect(self._add)
        self._box.addWidget(self.add_button, 0, Qt.AlignmentFlag.AlignLeft)

    def put(self, records: tuple[DemandRecord, ...], item_id: str) -> None:
        """Show the records of an item; tells nobody."""
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
            block.form.show_values({name: getattr(record, name) for name in specs(DemandRecord)})
        self.hint.setVisible(not records)

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
        self.form = Form(DemandRecord, None, self, with_basis=False, headings=False)
        box.addWidget(self.form)
