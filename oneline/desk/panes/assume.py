"""What may be assumed for the whole drawing, offered above the field-check list, and what is assumed already."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QWidget

from oneline.desk.panes.look import CONTROL_PX, STEP, Quiet
from oneline.desk.panes.needlist import Assumption, assumed_words, counted
from oneline.desk.panes.words import join
from oneline.model import Project

#: From this width on the buttons say what they do in full.
_FULL_PX = 640
_SHORT = {"assumed_ambient_c": "ambient", "assumed_current_carrying": "conductors"}


class AssumeBar(QWidget):
    """A button for each assumption. ``assumed(assumption)``: the user takes it; ``taken_back(field)``: no longer."""

    assumed = Signal(object)
    taken_back = Signal(str)

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.offers: list[Assumption] = []
        self.buttons = {name: self._button(name) for name in ("assumed_ambient_c", "assumed_current_carrying")}
        self.note = Quiet("", self)
        self.note.setWordWrap(True)
        self.back = {name: self._back_button(name) for name in self.buttons}
        self._row = QHBoxLayout(self)
        self._row.setContentsMargins(0, 0, 0, 0)
        self._row.setSpacing(STEP)
        for button in self.buttons.values():
            self._row.addWidget(button)
        self._row.addWidget(self.note, 1)
        for button in self.back.values():
            self._row.addWidget(button)

    def _button(self, name: str) -> QPushButton:
        button = QPushButton(self)
        button.setMinimumHeight(CONTROL_PX)
        button.setAutoDefault(False)
        button.clicked.connect(lambda: self._take(name))
        return button

    def _back_button(self, name: str) -> QPushButton:
        button = QPushButton(self)
        button.setMinimumHeight(CONTROL_PX)
        button.setAutoDefault(False)
        button.clicked.connect(lambda: self.taken_back.emit(name))
        return button

    def put(self, offers: Sequence[Assumption], project: Project) -> None:
        """Show what is offered, and what the project assumes already."""
        self.offers = list(offers)
        for name, button in self.buttons.items():
            offer = next((o for o in offers if o.field == name), None)
            button.setVisible(offer is not None)
            if offer is not None:
                text = f"Assume {offer.what} for the whole drawing ({_settles(offer)})"
                button.setAccessibleName(text)
                button.setToolTip(
                    f"{text}. It is the condition that the ampacity table is made for. It is used where nothing else "
                    "is entered; whatever rests on it will say assumed."
                )
        words = assumed_words(project)
        says = "What rests on it says assumed." if words else "Whatever rests on it will say assumed."
        now = f"Assumed for the whole drawing: {join(list(words.values()))}. " if words else ""
        self.note.setText(now + says)
        for name, button in self.back.items():
            button.setVisible(name in words)
            button.setText(f"Take back {_SHORT[name]}")
            button.setToolTip(f"No longer assume {words.get(name, 'it')}.")
        self.setVisible(bool(offers or words))
        self._suit()

    def _take(self, name: str) -> None:
        offer = next((o for o in self.offers if o.field == name), None)
        if offer is not None:
            self.assumed.emit(offer)

    def _suit(self) -> None:
        """Full words side by side where there is room, else shorter ones, at last below each other."""
        wide = self.width() >= _FULL_PX
        self._row.setDirection(QHBoxLayout.Direction.LeftToRight if wide else QHBoxLayout.Direction.TopToBottom)
        for offer in self.offers:
            button = self.buttons[offer.field]
            if self.width() >= _FULL_PX * len(self.offers):
                button.setText(button.accessibleName())
            elif wide:
                button.setText(f"Assume {offer.what} ({_settles(offer)})")
            else:
                button.setText(f"Assume {offer.what}")

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._suit()


def _settles(offer: Assumption) -> str:
    """ "12 findings", or how many facts where only figures wait for them."""
    return counted(offer.findings, "finding") or counted(offer.needs, "fact")
