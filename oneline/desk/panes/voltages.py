"""Voltages measured at an item, as a small table, with the system they fit in words."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QVBoxLayout, QWidget

from oneline.desk.panes.look import STEP, Heading, Quiet
from oneline.desk.panes.rowtable import RowTable
from oneline.model import VoltageReading

_COLUMNS = (
    "when", "ab_v", "bc_v", "ca_v", "an_v", "bn_v", "cn_v", "ag_v", "bg_v", "cg_v", "ng_v", "instrument", "note",
)  # fmt: skip
_HEADS = ("When", "A-B", "B-C", "C-A", "A-N", "B-N", "C-N", "A-G", "B-G", "C-G", "N-G", "Instrument", "Note")
_WIDTHS = (124, *(46,) * 10, 96, 96)

#: Kinds of items at which a system is measured.
KINDS = ("service", "generator", "solar", "battery", "transformer", "meter", "disconnect", "transfer", "bus")


class VoltagesEditor(QWidget):
    """``changed(field, rows, what)``: the readings as they should become, and the first words of the step's name."""

    changed = Signal(str, object, str)
    refused = Signal(str)

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        box = QVBoxLayout(self)
        box.setContentsMargins(0, 0, 0, 0)
        box.setSpacing(STEP // 2)
        said = "Measured live, with a meter proved before and after. The last line is held against the system."
        self.hint = Quiet(said, self)
        self.hint.setWordWrap(True)
        self.table = RowTable(VoltageReading, _COLUMNS, _HEADS, "voltage reading", self)
        for column, width in enumerate(_WIDTHS):
            self.table.view.setColumnWidth(column, width)
        self.table.changed.connect(self._changed)
        self.table.refused.connect(self.refused)
        self.table.add_button.clicked.connect(self._add)
        box.addWidget(Heading("Measured voltages", self))
        box.addWidget(self.hint)
        box.addWidget(self.table)

    def put(self, rows: tuple[VoltageReading, ...], item_id: str) -> None:
        """Show the readings of an item; tells nobody."""
        self.table.put(rows, item_id)
        self.hint.setVisible(bool(rows))

    def _add(self) -> None:
        rows = self.table.model.rows
        now = datetime.now().strftime("%Y-%m-%d %H:%M")
        last = rows[-1].instrument if rows else ""
        self.changed.emit("voltages", (*rows, VoltageReading(when=now, instrument=last)), "Add a voltage reading")
        self.table.view.setCurrentIndex(self.table.model.index(len(rows), 1))
        self.table.view.setFocus()

    def _changed(self, rows: Any, what: str) -> None:
        step = f"Change {what} in a voltage reading" if what else "Remove a voltage reading"
        self.changed.emit("voltages", rows, step)
