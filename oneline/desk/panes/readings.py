"""Clamp readings of an item, as a small table."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QVBoxLayout, QWidget

from oneline.desk.panes.look import STEP, Heading, Quiet
from oneline.desk.panes.rowtable import RowTable
from oneline.model import Reading

_COLUMNS = ("when", "a_a", "b_a", "c_a", "n_a", "instrument", "note")
_HEADS = ("When", "A", "B", "C", "N", "Instrument", "Note")
_WIDTHS = (124, 46, 46, 46, 46, 96, 96)


class ReadingsEditor(QWidget):
    """``changed(field, rows, what)``: the readings as they should become, and the first words of the step's name."""

    changed = Signal(str, object, str)
    refused = Signal(str)

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        box = QVBoxLayout(self)
        box.setContentsMargins(0, 0, 0, 0)
        box.setSpacing(STEP // 2)
        self.hint = Quiet("A clamp reading shows one moment. It is never taken for the demand.", self)
        self.hint.setWordWrap(True)
        self.table = RowTable(Reading, _COLUMNS, _HEADS, "clamp reading", self)
        for column, width in enumerate(_WIDTHS):
            self.table.view.setColumnWidth(column, width)
        self.table.changed.connect(self._changed)
        self.table.refused.connect(self.refused)
        self.table.add_button.clicked.connect(self._add)
        box.addWidget(Heading("Clamp readings", self))
        box.addWidget(self.hint)
        box.addWidget(self.table)

    def put(self, rows: tuple[Reading, ...], item_id: str) -> None:
        """Show the readings of an item; tells nobody."""
        self.table.put(rows, item_id)
        self.hint.setVisible(bool(rows))

    def _add(self) -> None:
        rows = self.table.model.rows
        now = datetime.now().strftime("%Y-%m-%d %H:%M")
        last = rows[-1].instrument if rows else ""
        self.changed.emit("readings", (*rows, Reading(when=now, instrument=last)), "Add a clamp reading")
        self.table.view.setCurrentIndex(self.table.model.index(len(rows), 1))
        self.table.view.setFocus()

    def _changed(self, rows: Any, what: str) -> None:
        step = f"Change {what.lower()} in a clamp reading" if what else "Remove a clamp reading"
        self.changed.emit("readings", rows, step)
