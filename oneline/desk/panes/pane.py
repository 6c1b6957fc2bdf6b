"""What a pane is, what it may ask of the window around it, and how it follows the session."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Protocol

from PySide6.QtCore import Qt, QTimer
from PySide6.QtGui import QShowEvent
from PySide6.QtWidgets import QAbstractItemView, QDockWidget, QWidget

from oneline.session.session import Session


class Host(Protocol):
    """The window, as far as panes need it."""

    def show_item(self, item_id: str) -> None:
        """Bring the item into view and select it."""

    def say(self, text: str) -> None:
        """Show a short text in the status bar."""


@dataclass(frozen=True)
class Pane:
    """A pane that the window docks: ``area`` is "right", "bottom" or "left"; ``key`` is the shortcut that focuses it."""

    title: str
    widget: QWidget
    area: str
    key: str


def bring_up(pane: QWidget) -> None:
    """Show the dock that a pane is in, in front of those it shares its place with."""
    around: QWidget | None = pane
    while around is not None and not isinstance(around, QDockWidget):
        around = around.parentWidget()
    if around is not None:
        around.show()
        around.raise_()


class LivePane(QWidget):
    """A pane that follows a session.

    ``watches`` names the kinds of change that concern it. A hidden pane only remembers that it is out of date and
    catches up when it is shown, so folded panes cost nothing. ``prompt`` panes follow at once; the others once per
    turn of the event loop, after the sheet has been painted.
    """

    watches: frozenset[str] = frozenset({"drawing", "selection", "view", "study"})
    prompt = False
    #: Milliseconds that a pane waits for further changes before it follows.
    delay_ms = 0

    def __init__(self, session: Session, host: Host, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.session = session
        self.host = host
        self._due: set[str] = set(self.watches)
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(self.delay_ms)
        self._timer.timeout.connect(self._catch_up)
        stop = session.listen(self._heard)
        self.destroyed.connect(lambda *_: stop())

    def _heard(self, kinds: Iterable[str]) -> None:
        due = self.watches & frozenset(kinds)
        if not due:
            return
        self._due |= due
        if not self.isVisible():
            return
        if self.prompt:
            self.refresh_now()
        else:
            self._timer.start()

    def _catch_up(self) -> None:
        if self.isVisible():
            self.refresh_now()

    def refresh_now(self) -> None:
        """Bring the pane up to date with the session, whether it is visible or not."""
        if not self._due:
            return
        due = frozenset(self._due)
        self._due.clear()
        self._timer.stop()
        self.refresh(due)

    def refresh(self, kinds: frozenset[str]) -> None:
        """Show what the session holds now. ``kinds``: what changed since the last call."""
        raise NotImplementedError

    def focus_first(self) -> None:
        """Put the keyboard focus where work in this pane begins."""
        self.refresh_now()
        target = self.main_widget()
        target.setFocus(Qt.FocusReason.ShortcutFocusReason)
        if isinstance(target, QAbstractItemView) and not target.currentIndex().isValid():
            model = target.model()
            if model is not None and model.rowCount():
                target.setCurrentIndex(model.index(0, 0))

    def main_widget(self) -> QWidget:
        """The widget where work in this pane begins."""
        return self

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        self.refresh_now()
