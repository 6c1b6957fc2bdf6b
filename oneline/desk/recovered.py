"""The list of drawings that were kept when the program ended unexpectedly."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QAbstractItemView,
    QDialog,
    QHBoxLayout,
    QHeaderView,
    QLabel,
    QPushButton,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from oneline.desk import ask
from oneline.files import FileTrouble, Opened, recovery

_HEADS = ("Drawing", "Kept", "In it", "Steps not saved")


class RecoveredDialog(QDialog):
    """Open one, remove one, or decide later. Esc is "later" and removes nothing."""

    def __init__(self, copies: list[recovery.RecoveryCopy], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("Recovered drawings")
        self.resize(720, 320)
        self._copies = copies
        self.chosen: recovery.RecoveryCopy | None = None
        self.opened: Opened | None = None
        box = QVBoxLayout(self)
        lead = QLabel(
            "Oneline ended unexpectedly. These drawings hold changes that were not saved. "
            "Opening one changes no file until you save it.",
            self,
        )
        lead.setWordWrap(True)
        box.addWidget(lead)
        self.table = QTableWidget(0, len(_HEADS), self)
        self.table.setHorizontalHeaderLabels(list(_HEADS))
        self.table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.table.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.table.verticalHeader().hide()
        self.table.horizontalHeader().setSectionResizeMode(0, QHeaderView.ResizeMode.Stretch)
        self.table.setAccessibleName("Recovered drawings")
        self.table.itemDoubleClicked.connect(lambda _cell: self.open())
        self.table.itemSelectionChanged.connect(self._suit)
        box.addWidget(self.table)
        self.open_button = QPushButton("Open", self)
        self.discard_button = QPushButton("Remove this copy", self)
        self.later_button = QPushButton("Decide later", self)
        self.open_button.setDefault(True)
        row = QHBoxLayout()
        row.addWidget(self.discard_button)
        row.addStretch(1)
        for button in (self.open_button, self.later_button):
            row.addWidget(button)
        for button in (self.open_button, self.discard_button, self.later_button):
            button.setMinimumHeight(28)
        self.open_button.clicked.connect(self.open)
        self.discard_button.clicked.connect(self.discard)
        self.later_button.clicked.connect(self.reject)
        box.addLayout(row)
        self._fill()

    def _fill(self) -> None:
        self.table.setRowCount(len(self._copies))
        for n, copy in enumerate(self._copies):
            name = Path(copy.original).name if copy.original else copy.title or "Untitled"
            cells = (name, when(copy.saved_utc), copy.counts if copy.readable else "cannot be read", str(copy.changes))
            for column, text in enumerate(cells):
                cell = QTableWidgetItem(text)
                cell.setToolTip(copy.original or "Never saved to a file")
                if column == len(cells) - 1:
                    cell.setTextAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
                self.table.setItem(n, column, cell)
        for column in range(1, len(_HEADS)):
            self.table.resizeColumnToContents(column)
        if self._copies:
            self.table.selectRow(0)
        self._suit()

    def _marked(self) -> recovery.RecoveryCopy | None:
        row = self.table.currentRow()
        return self._copies[row] if 0 <= row < len(self._copies) else None

    def _suit(self) -> None:
        copy = self._marked()
        self.open_button.setEnabled(copy is not None and copy.readable)
        self.discard_button.setEnabled(copy is not None)

    def open(self) -> None:
        """Open the marked copy."""
        copy = self._marked()
        if copy is None:
            return
        try:
            self.opened = recovery.load_copy(copy)
        except FileTrouble as bad:
            ask.trouble(self, bad)
            return
        self.chosen = copy
        self.accept()

    def discard(self) -> None:
        """Remove the marked copy for good."""
        copy = self._marked()
        if copy is not None:
            recovery.discard(copy)
            self._copies.remove(copy)
            self._fill()
        if not self._copies:
            self.reject()


def when(saved_utc: str) -> str:
    """A time of the file format in the user's own time."""
    try:
        moment = datetime.strptime(saved_utc, "%Y-%m-%dT%H:%M:%SZ").replace(tzinfo=UTC)
    except ValueError:
        return "time unknown"
    return f"{moment.astimezone():%Y-%m-%d %H:%M}"
