"""Why something is live: each source that reaches it, with the way in names; the marked way is shown on the sheet."""

from __future__ import annotations

from PySide6.QtCore import Qt, QTimer, Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QLabel, QListWidget, QListWidgetItem, QPushButton, QVBoxLayout, QWidget

from oneline.desk.panes.look import CONTROL_PX, STEP, Quiet
from oneline.session.session import Session
from oneline.session.ways import Sides, Way

#: Highest the list gets.
_MOST_PX = 340


def way_words(way: Way) -> str:
    """ "Line side, from Service 1: Service 1 → Main 1 → Panel H"."""
    side = f"{way.side.capitalize()} side, " if way.side else ""
    sure = "from" if way.certain else "possibly from"
    words = f"{side}{sure} {way.name}"
    says = f" {way.says}" if way.says else ""
    return f"{words[:1].upper()}{words[1:]}:{says} {' → '.join(way.names)}"


class WaysBlock(QWidget):
    """A button, and what it answers. ``way_wanted(items)``: the way to show, () for none."""

    way_wanted = Signal(object)

    def __init__(self, session: Session, parent: QWidget) -> None:
        super().__init__(parent)
        self.session = session
        self._item: str | None = None
        self._open = False
        self._ways: tuple[Way, ...] = ()
        self.button = QPushButton("Why is it live?", self)
        self.button.setMinimumHeight(CONTROL_PX)
        self.button.setAutoDefault(False)
        self.button.setToolTip("Every source that reaches it and the way from there (Q).")
        self.button.clicked.connect(lambda _checked=False: self.ask())
        self.said = QLabel(self)
        self.said.setTextFormat(Qt.TextFormat.PlainText)
        self.said.setWordWrap(True)
        self.list = QListWidget(self)
        self.list.setWordWrap(True)
        self.list.setAlternatingRowColors(True)
        self.list.setAccessibleName("Ways by which it is live")
        self.list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.list.currentRowChanged.connect(self._show_way)
        self.note = Quiet("What no source reaches on the drawing is not proved dead: test.", self)
        self.note.setWordWrap(True)
        box = QVBoxLayout(self)
        box.setContentsMargins(0, 0, 0, 0)
        box.setSpacing(STEP // 2)
        for widget in (self.button, self.said, self.list, self.note):
            box.addWidget(widget)
        self._fit_later = QTimer(self, singleShot=True, interval=0)
        self._fit_later.timeout.connect(self._fit)
        self._fold()

    def _fold(self) -> None:
        for widget in (self.said, self.list, self.note):
            widget.hide()

    def put(self, item_id: str | None) -> None:
        """Stand at an item; an answer that is shown follows while the item stays the same."""
        if item_id != self._item:
            self._item, self._open = item_id, False
        if self._open:
            self._answer()
        else:
            self._fold()

    def ask(self) -> None:
        """Answer, and show the first way on the sheet."""
        if self._item is not None:
            self._open = True
            self._answer()
            self.list.setFocus() if self._ways else None

    def _answer(self) -> None:
        found = self.session.ways_to(self._item) if self._item is not None else None
        row = max(self.list.currentRow(), 0)
        self.list.blockSignals(True)
        self.list.clear()
        self._ways = found.ways if found is not None else ()
        for way in self._ways:
            QListWidgetItem(way_words(way), self.list)
        self.list.setCurrentRow(min(row, len(self._ways) - 1))
        self.list.blockSignals(False)
        self.said.setText(_said(found, bool(self.session.as_if)))
        self.said.show()
        self.list.setVisible(bool(self._ways))
        self.note.show()
        self._fit()
        self._fit_later.start()
        self._show_way(self.list.currentRow())

    def _fit(self) -> None:
        """As high as its rows, as far as there is room; known once the rows are laid out in the width there is."""
        self.list.doItemsLayout()
        rects = [self.list.visualItemRect(item) for n in range(self.list.count()) if (item := self.list.item(n))]
        high = max((rect.bottom() for rect in rects), default=0) - min((rect.top() for rect in rects), default=0)
        self.list.setFixedHeight(min(high + 2 * self.list.frameWidth() + 4, _MOST_PX))

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._fit_later.start()

    def _show_way(self, row: int) -> None:
        self.way_wanted.emit(self._ways[row].items if 0 <= row < len(self._ways) else ())


def _said(found: Sides | None, tried: bool) -> str:
    if found is None:
        return "It is not part of this view."
    by = "By the positions tried" if tried else "By the drawing"
    count = len({w.source for w in found.ways})
    sources = (
        "no source reaches it" if not count else f"{count} {'source reaches' if count == 1 else 'sources reach'} it"
    )
    maybe = sum(not w.certain for w in found.ways)
    some = f", {maybe} of the ways only possibly" if maybe else ""
    bare = f" The {' and the '.join(found.unreached)} side is reached by none." if any(found.unreached) else ""
    return f"{by} {sources}{some}.{bare}"
