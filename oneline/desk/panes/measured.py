"""Readings taken at an item, as a small table: what clamp readings and measured voltages have in common."""

from __future__ import annotations

from datetime import datetime
from typing import Any, ClassVar

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QVBoxLayout, QWidget

from oneline.desk.panes.look import STEP, Heading, Quiet
from oneline.desk.panes.rowtable import RowTable
from oneline.model import Reading, VoltageReading


class MeasuredEditor(QWidget):
    """``changed(field, rows, what)``: the readings as they should become, and the name of the step.

    A subclass says what is read: ``row`` class, ``field`` of the item, ``one`` in words, ``title``, ``said`` about it,
    and the ``columns`` as (field, head, width).
    """

    row: ClassVar[type[Reading] | type[VoltageReading]]
    field: ClassVar[str]
    one: ClassVar[str]
    title: ClassVar[str]
    said: ClassVar[str]
    columns: ClassVar[tuple[tuple[str, str, int], ...]]

    changed = Signal(str, object, str)
    refused = Signal(str)

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        box = QVBoxLayout(self)
        box.setContentsMargins(0, 0, 0, 0)
        box.setSpacing(STEP // 2)
        self.hint = Quiet(self.said, self)
        self.hint.setWordWrap(True)
        names, heads, widths = (tuple(part) for part in zip(*self.columns, strict=True))
        self.table = RowTable(self.row, names, heads, self.one, self)
        for column, width in enumerate(widths):
            self.table.view.setColumnWidth(column, width)
        self.table.changed.connect(self._changed)
        self.table.refused.connect(self.refused)
        self.table.add_button.clicked.connect(self._add)
        box.addWidget(Heading(self.title, self))
        box.addWidget(self.hint)
        box.addWidget(self.table)

    def put(self, rows: tuple[Any, ...], item_id: str) -> None:
        """Show the readings of an item; tells nobody."""
        self.table.put(rows, item_id)
        self.hint.setVisible(bool(rows))

    def what_changed(self, what: str) -> str:
        """A column's head in the middle of the step's name."""
        return what

    def _add(self) -> None:
        rows = self.table.model.rows
        now = datetime.now().strftime("%Y-%m-%d %H:%M")
        last = rows[-1].instrument if rows else ""
        self.changed.emit(self.field, (*rows, self.row(when=now, instrument=last)), f"Add a {self.one}")
        self.table.view.setCurrentIndex(self.table.model.index(len(rows), 1))
        self.table.view.setFocus()

    def _changed(self, rows: Any, what: str) -> None:
        step = f"Change {self.what_changed(what)} in a {self.one}" if what else f"Remove a {self.one}"
        self.changed.emit(self.field, rows, step)
