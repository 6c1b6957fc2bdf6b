"""Clamp readings entered fast, in the order of the devices to open: one grid, Enter goes on, notes beside it at once."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

from PySide6.QtCore import Qt, QTimer, Signal
from PySide6.QtGui import QIcon, QKeyEvent
from PySide6.QtWidgets import (
    QAbstractItemDelegate,
    QAbstractItemView,
    QDialog,
    QDialogButtonBox,
    QHBoxLayout,
    QHeaderView,
    QLabel,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from oneline.desk.panes.celledit import CellDelegate
from oneline.desk.panes.controls import Entry
from oneline.desk.panes.look import CONTROL_PX, STEP, Heading, MessageLabel, Quiet, scaled, tabular
from oneline.desk.panes.typed import Misread, understand
from oneline.model import Drawing, Reading, specs
from oneline.outage.results import Plan, ReadingNote
from oneline.session import zones

FIELDS = ("a_a", "b_a", "c_a", "n_a")
_HEADS = ("Device", "Place", "A", "B", "C", "N", "Last reading")
_FIRST = 2
_CAUTION = "A clamp reading shows one moment. It is never taken for the demand. Clamping is work on energized parts."
_QUIET_MS = 200


def reading_order(plan: Plan | None, drawing: Drawing) -> tuple[str, ...]:
    """Ids of the devices to be read: those to open in the order in which they are opened, the others to measure, those
    that stand open already.

    Without a plan every disconnect of the drawing.
    """
    if plan is None or not plan.steps:
        return tuple(i.id for i in drawing.items.values() if i.kind in ("disconnect", "transfer"))
    wanted = [s.item for action in ("open", "measure") for s in plan.steps if s.action == action]
    wanted += plan.isolation.items if plan.isolation is not None else ()
    return tuple(dict.fromkeys(i for i in wanted if i in drawing))


class _Grid(QTableWidget):
    """Enter and Tab go to the next cell to be filled in, row by row. ``filled``: Enter in the last one."""

    filled = Signal()

    def __init__(self, rows: int, parent: QWidget) -> None:
        super().__init__(rows, len(_HEADS), parent)
        self.setHorizontalHeaderLabels(_HEADS)
        self.verticalHeader().hide()
        self.verticalHeader().setDefaultSectionSize(CONTROL_PX)
        self.setItemDelegate(CellDelegate(self))
        self.setAccessibleName("Clamp readings")
        self.setFont(tabular(self.font()))
        self.setTabKeyNavigation(False)
        self.setEditTriggers(
            QAbstractItemView.EditTrigger.AnyKeyPressed
            | QAbstractItemView.EditTrigger.DoubleClicked
            | QAbstractItemView.EditTrigger.EditKeyPressed
        )
        head = self.horizontalHeader()
        head.setHighlightSections(False)
        head.setSectionResizeMode(0, QHeaderView.ResizeMode.Stretch)
        head.setSectionResizeMode(1, QHeaderView.ResizeMode.ResizeToContents)
        for column in range(_FIRST, _FIRST + len(FIELDS)):
            head.resizeSection(column, 64)
        head.setSectionResizeMode(len(_HEADS) - 1, QHeaderView.ResizeMode.ResizeToContents)

    def step(self, by: int) -> None:
        """Go on to the next cell, or back to the one before."""
        width = len(FIELDS)
        place = self.currentRow() * width + max(self.currentColumn() - _FIRST, 0) + by
        place = min(max(place, 0), self.rowCount() * width - 1)
        self.setCurrentCell(place // width, _FIRST + place % width)

    def go_on(self) -> None:
        """Go to the next cell; after the last one tell that all is filled in."""
        if (self.currentRow(), self.currentColumn()) == (self.rowCount() - 1, _FIRST + len(FIELDS) - 1):
            self.filled.emit()
        else:
            self.step(1)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.go_on()
        elif event.key() == Qt.Key.Key_Delete and self.currentItem() is not None:
            self.currentItem().setText("")
        else:
            super().keyPressEvent(event)
            return
        event.accept()

    def focusNextPrevChild(self, forward: bool) -> bool:
        """Tab leaves the grid at its last cell."""
        last = self.rowCount() * len(FIELDS) - 1
        place = self.currentRow() * len(FIELDS) + self.currentColumn() - _FIRST
        if (forward and place >= last) or (not forward and place <= 0):
            return super().focusNextPrevChild(forward)
        self.step(1 if forward else -1)
        return True

    def closeEditor(self, editor: QWidget, hint: QAbstractItemDelegate.EndEditHint) -> None:
        """Enter in a cell takes it over and goes on."""
        super().closeEditor(editor, QAbstractItemDelegate.EndEditHint.NoHint)
        if hint in (
            QAbstractItemDelegate.EndEditHint.SubmitModelCache, QAbstractItemDelegate.EndEditHint.EditNextItem,
        ):  # fmt: skip
            self.go_on()
        elif hint == QAbstractItemDelegate.EndEditHint.EditPreviousItem:
            self.step(-1)


class ReadingsDialog(QDialog):
    """``readings``: what was entered by device, when it was accepted. ``notes_of``: notes on a drawing with readings."""

    def __init__(
        self, drawing: Drawing, items: Sequence[str], when: str, notes_of: Callable[[Drawing], Sequence[ReadingNote]],
        instrument: str = "", parent: QWidget | None = None,
    ) -> None:  # fmt: skip
        super().__init__(parent)
        self.drawing, self.items, self._notes_of = drawing, tuple(items), notes_of
        self.readings: dict[str, Reading] = {}
        self._wrong: dict[tuple[int, int], str] = {}
        self.setWindowTitle("Clamp readings")
        self.resize(860, 560)
        title = QLabel("Clamp readings, in the order of the devices to open", self)
        title.setFont(scaled(title.font(), 1.2, bold=True))
        caution = Quiet(_CAUTION, self)
        caution.setWordWrap(True)
        self.when, self.instrument = Entry(self), Entry(self)
        self.when.setText(when)
        self.instrument.setText(instrument)
        top = QHBoxLayout()
        top.setSpacing(STEP)
        for text, entry in (("&Taken", self.when), ("&Instrument", self.instrument)):
            label = QLabel(text, self)
            label.setBuddy(entry)
            entry.setAccessibleName(text.replace("&", ""))
            entry.returnPressed.connect(self._to_grid)
            top.addWidget(label)
            top.addWidget(entry, 1)
        self.grid = _Grid(len(self.items), self)
        self._fill()
        self.grid.cellChanged.connect(self._changed)
        self.message = MessageLabel(self)
        self.notes = QLabel("", self)
        self.notes.setTextFormat(Qt.TextFormat.PlainText)
        self.notes.setWordWrap(True)
        self.notes_heading = Heading("Notable", self)
        self._later = QTimer(self, singleShot=True, interval=_QUIET_MS)
        self._later.timeout.connect(self.show_notes)
        row = QDialogButtonBox(self)
        store = row.addButton("Store the readings", QDialogButtonBox.ButtonRole.AcceptRole)
        self.grid.filled.connect(store.setFocus)
        row.addButton("Cancel", QDialogButtonBox.ButtonRole.RejectRole)
        for button in row.buttons():
            button.setMinimumHeight(CONTROL_PX)
            button.setIcon(QIcon())
        row.accepted.connect(self.accept)
        row.rejected.connect(self.reject)
        box = QVBoxLayout(self)
        box.setContentsMargins(STEP * 3, STEP * 2, STEP * 3, STEP * 2)
        box.setSpacing(STEP)
        box.addWidget(title)
        box.addWidget(caution)
        box.addLayout(top)
        box.addWidget(self.grid, 1)
        for widget in (self.message, self.notes_heading, self.notes):
            box.addWidget(widget)
        box.addWidget(row)
        self.show_notes()
        self._to_grid()

    def _fill(self) -> None:
        for line, item_id in enumerate(self.items):
            item = self.drawing.get(item_id)
            last = item.readings[-1] if item.readings else None
            found = [f"{getattr(last, f):g}" if getattr(last, f) is not None else "–" for f in FIELDS] if last else []
            told = f"{' / '.join(found)} A, {last.when}" if last else "none"
            for column, text in ((0, self.drawing.name_of(item_id)), (1, item.location or ""), (len(_HEADS) - 1, told)):
                cell = QTableWidgetItem(text)
                cell.setFlags(Qt.ItemFlag.ItemIsEnabled)
                cell.setToolTip(text)
                self.grid.setItem(line, column, cell)
            for column in range(_FIRST, _FIRST + len(FIELDS)):
                cell = QTableWidgetItem("")
                cell.setTextAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
                self.grid.setItem(line, column, cell)

    def _to_grid(self) -> None:
        self.grid.setFocus()
        if self.grid.currentColumn() < _FIRST and self.items:
            self.grid.setCurrentCell(0, _FIRST)

    # -------------------------------------------------------------------------------------------------------- reading
    def _value(self, line: int, column: int) -> float | None:
        """What stands in a cell; raises ``Misread``."""
        cell, name = self.grid.item(line, column), FIELDS[column - _FIRST]
        found: Any = understand(cell.text() if cell is not None else "", specs(Reading)[name], nullable=True)
        return None if found is None else float(found)

    def _changed(self, line: int, column: int) -> None:
        if not _FIRST <= column < _FIRST + len(FIELDS):
            return
        try:
            self._value(line, column)
            self._wrong.pop((line, column), None)
        except Misread as problem:
            self._wrong[line, column] = str(problem)
        if self._wrong:
            (at, _), said = next(iter(self._wrong.items()))
            self.message.show_problem(f"{self.drawing.name_of(self.items[at])}: {said}")
        else:
            self.message.clear_message()
        self._later.start()

    def entered(self) -> dict[str, Reading]:
        """The readings as they stand in the grid; cells that are not understood are left out."""
        found = {}
        for line, item_id in enumerate(self.items):
            values: dict[str, Any] = {
                name: self._value(line, _FIRST + n)
                for n, name in enumerate(FIELDS)
                if (line, _FIRST + n) not in self._wrong
            }
            if any(v is not None for v in values.values()):
                when, instrument = self.when.text().strip(), self.instrument.text().strip()
                found[item_id] = replace(Reading(when=when, instrument=instrument), **values)
        return found

    def show_notes(self) -> None:
        """What is notable about the readings on record and those in the grid."""
        notes = self._notes_of(zones.add_readings(self.drawing, self.entered()))
        self.notes.setText("\n".join(f"– {n.says}" for n in notes))
        for widget in (self.notes_heading, self.notes):
            widget.setVisible(bool(notes))

    def done(self, result: int) -> None:
        self._later.stop()
        super().done(result)

    def accept(self) -> None:
        """Take the readings over when everything typed is understood and the time is said."""
        if self._wrong:
            self.grid.setCurrentCell(*next(iter(self._wrong)))
            self.grid.setFocus()
            return
        if not self.when.text().strip():
            self.message.show_problem("When they were taken is not said. Type date and time.")
            self.when.setFocus()
            return
        self.readings = self.entered()
        super().accept()
