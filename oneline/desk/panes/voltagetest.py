"""Entering a person's test for absence of voltage: the meter proved live, every pair, the meter proved live again."""

from __future__ import annotations

from typing import Any

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QIcon
from PySide6.QtWidgets import (
    QDialog,
    QDialogButtonBox,
    QGridLayout,
    QLabel,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from oneline.desk.panes.controls import Entry
from oneline.desk.panes.look import CONTROL_PX, STEP, Heading, MessageLabel, Quiet, scaled, tabular
from oneline.desk.panes.typed import Misread, understand
from oneline.model import VoltageTest, specs
from oneline.model.cautions import ZONE_CAUTION
from oneline.outage.results import TestCard

_PROVED = (("proved_before", "1  Meter on a known live source, before"), ("proved_after", "3  Again, after"))


class _YesNo(QWidget):
    """Yes, no, or nothing said."""

    def __init__(self, name: str, parent: QWidget) -> None:
        super().__init__(parent)
        self.value: bool | None = None
        box = QGridLayout(self)
        box.setContentsMargins(0, 0, 0, 0)
        box.setSpacing(STEP // 2)
        self.buttons: dict[bool, QPushButton] = {}
        for column, (value, text) in enumerate(((True, "Live"), (False, "Failed"))):
            button = QPushButton(text, self)
            button.setCheckable(True)
            button.setAutoDefault(False)
            button.setMinimumHeight(CONTROL_PX)
            button.setAccessibleName(f"{name}: {text.casefold()}")
            button.clicked.connect(lambda on, v=value: self.put(v if on else None))
            self.buttons[value] = button
            box.addWidget(button, 0, column)
        box.setColumnStretch(2, 1)

    def put(self, value: bool | None) -> None:
        self.value = value
        for which, button in self.buttons.items():
            button.setChecked(which is value)


class TestDialog(QDialog):
    """The form of one test card. ``test``: what was entered, when it was accepted."""

    __test__ = False  # not a test of pytest

    def __init__(self, card: TestCard, when: str, by: str, instrument: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.card = card
        self.test: VoltageTest | None = None
        self.setWindowTitle("Enter a test")
        self.resize(QSize(600, 780).boundedTo(self.screen().availableGeometry().size() - QSize(40, 60)))
        outer = QVBoxLayout(self)
        outer.setContentsMargins(STEP * 3, STEP * 2, STEP * 3, STEP * 2)
        outer.setSpacing(STEP)
        title = QLabel(f"{card.name}, {card.terminal}{f', {card.place}' if card.place else ''}", self)
        title.setTextFormat(Qt.TextFormat.PlainText)
        title.setWordWrap(True)
        title.setFont(scaled(title.font(), 1.2, bold=True))
        outer.addWidget(title)
        system = Quiet(card.system or "System not known: test every pair there can be", self)
        system.setWordWrap(True)
        outer.addWidget(system)
        area = QScrollArea(self)
        area.setWidgetResizable(True)
        area.setFrameShape(QScrollArea.Shape.NoFrame)
        page = QWidget(area)
        self._grid = QGridLayout(page)
        self._grid.setContentsMargins(0, 0, STEP, 0)
        self._grid.setHorizontalSpacing(STEP * 2)
        self._grid.setVerticalSpacing(STEP // 2)
        self._grid.setColumnStretch(2, 1)
        self.entries: dict[str, Entry] = {}
        self.proved: dict[str, _YesNo] = {}
        self._fill(page, {"when": when, "by": by, "instrument": instrument})
        area.setWidget(page)
        outer.addWidget(area, 1)
        self.message = MessageLabel(self)
        outer.addWidget(self.message)
        note = Quiet(" ".join((*card.notes, ZONE_CAUTION)), self)
        note.setWordWrap(True)
        outer.addWidget(note)
        row = QDialogButtonBox(self)
        self.store = row.addButton("Store the test", QDialogButtonBox.ButtonRole.AcceptRole)
        row.addButton("Cancel", QDialogButtonBox.ButtonRole.RejectRole)
        for button in row.buttons():
            button.setMinimumHeight(CONTROL_PX)
            button.setIcon(QIcon())
        row.accepted.connect(self.accept)
        row.rejected.connect(self.reject)
        outer.addWidget(row)
        self.proved["proved_before"].buttons[True].setFocus()

    def _fill(self, page: QWidget, first: dict[str, str]) -> None:
        line = 0
        labels = specs(VoltageTest)
        for name in ("when", "by", "instrument"):
            line = self._entry(page, line, name, labels[name].label, "", first[name])
        line = self._prove(page, line, *_PROVED[0])
        self._grid.addWidget(Heading("2  Every pair", page), line, 0, 1, 3)
        line += 1
        for pair in self.card.pairs:
            live = f"{pair.live_v:g} V while live; " if pair.live_v is not None else ""
            line = self._entry(page, line, pair.field, pair.label, f"{live}expected now: {pair.expected}", "")
        line = self._prove(page, line, *_PROVED[1])
        self._entry(page, line, "note", labels["note"].label, "", "")

    def _prove(self, page: QWidget, line: int, name: str, words: str) -> int:
        self.proved[name] = _YesNo(words, page)
        self._grid.addWidget(Heading(words, page), line, 0, 1, 3)
        self._grid.addWidget(self.proved[name], line + 1, 0, 1, 3)
        return line + 2

    def _entry(self, page: QWidget, line: int, name: str, label: str, expected: str, text: str) -> int:
        entry = Entry(page)
        entry.setText(text)
        entry.setFont(tabular(entry.font()))
        entry.setAccessibleName(label)
        words = QLabel(label, page)
        words.setBuddy(entry)
        self._grid.addWidget(words, line, 0)
        if expected:
            entry.setMaximumWidth(110)
            entry.setPlaceholderText("V")
            hint = Quiet(expected, page)
            hint.setWordWrap(True)
            self._grid.addWidget(entry, line, 1)
            self._grid.addWidget(hint, line, 2)
        else:
            self._grid.addWidget(entry, line, 1, 1, 2)
        # Enter goes on to the next line; the button stores.
        entry.returnPressed.connect(lambda: self.focusNextChild())
        self.entries[name] = entry
        return line + 1

    def keyPressEvent(self, event: Any) -> None:
        """Enter in a line goes on; it never stores a card that is half filled in."""
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and isinstance(self.focusWidget(), Entry):
            event.accept()
            return
        super().keyPressEvent(event)

    def accept(self) -> None:
        """Take the test over when everything typed is understood."""
        labels = specs(VoltageTest)
        values: dict[str, Any] = {"item": self.card.item, "terminal": self.card.terminal}
        for name, entry in self.entries.items():
            try:
                values[name] = understand(entry.text(), labels[name], nullable=name.endswith("_v"))
            except Misread as problem:
                self.message.show_problem(str(problem))
                entry.setFocus()
                entry.selectAll()
                return
        if not values["when"]:
            self.message.show_problem("When it was tested is not said. Type date and time.")
            self.entries["when"].setFocus()
            return
        values.update({name: switch.value for name, switch in self.proved.items()})
        self.test = VoltageTest(**values)
        super().accept()
