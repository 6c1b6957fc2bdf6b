"""One box that finds items and functions by their names."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from PySide6.QtCore import QEvent, QModelIndex, QObject, QPersistentModelIndex, QSize, Qt
from PySide6.QtGui import QKeyEvent, QPainter, QPalette
from PySide6.QtWidgets import (
    QFrame,
    QLineEdit,
    QListWidget,
    QListWidgetItem,
    QStyle,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QVBoxLayout,
    QWidget,
)

#: Rows shown at most.
ROWS = 12
ROW_PX = 28
_ASIDE = int(Qt.ItemDataRole.UserRole)


@dataclass(frozen=True)
class Findable:
    """Something the box can find: ``text`` is matched, ``aside`` shown behind it, ``run`` done when it is chosen."""

    text: str
    aside: str
    run: Callable[[], None]
    is_item: bool = False


def rank(wanted: str, text: str) -> int | None:
    """How well a text matches, smaller is better: begins so, a word begins so, contains, letters in order; else ``None``."""
    wanted, text = wanted.casefold().strip(), text.casefold()
    if not wanted:
        return 5
    if text.startswith(wanted):
        return 0
    if any(word.startswith(wanted) for word in text.replace("-", " ").split()):
        return 1
    if wanted in text:
        return 2
    if all(any(word.startswith(part) for word in text.split()) for part in wanted.split()):
        return 3
    letters = iter(text)
    return 4 if all(letter in letters for letter in wanted if letter != " ") else None


def best(wanted: str, things: Iterable[Findable], rows: int = ROWS) -> list[Findable]:
    """The things that match best; among equals items before functions, then the shortest."""
    found = []
    for n, thing in enumerate(things):
        r = rank(wanted, thing.text)
        if r is not None:
            found.append((r, not thing.is_item, len(thing.text) if wanted else 0, n, thing))
    found.sort(key=lambda f: f[:4])
    return [f[4] for f in found[:rows]]


class _Row(QStyledItemDelegate):
    """A name at the left; what it is, or its key, in quiet ink at the right."""

    def paint(
        self, painter: QPainter, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex
    ) -> None:
        super().paint(painter, option, index)
        aside = index.data(_ASIDE)
        if not aside:
            return
        rect = option.rect.adjusted(0, 0, -8, 0)
        marked = bool(option.state & QStyle.StateFlag.State_Selected)
        role = QPalette.ColorRole.HighlightedText if marked else QPalette.ColorRole.PlaceholderText
        painter.setPen(option.palette.color(role))
        room = rect.width() - option.fontMetrics.horizontalAdvance(str(index.data())) - 24
        text = option.fontMetrics.elidedText(aside, Qt.TextElideMode.ElideRight, max(room, 0))
        painter.drawText(rect, int(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter), text)

    def sizeHint(self, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex) -> QSize:
        return QSize(super().sizeHint(option, index).width(), ROW_PX)


class FindBox(QFrame):
    """A field with a list below it, over the top of the sheet. Enter does the marked row, Esc closes."""

    def __init__(self, parent: QWidget, things: Callable[[], list[Findable]]) -> None:
        super().__init__(parent)
        self._things = things
        self._all: list[Findable] = []
        self._shown: list[Findable] = []
        self.setFrameShape(QFrame.Shape.StyledPanel)
        self.setAutoFillBackground(True)
        self.field = QLineEdit(self)
        self.field.setPlaceholderText("Find an item or a function")
        self.field.setAccessibleName("Find an item or a function")
        self.field.setMinimumHeight(32)
        self.list = QListWidget(self)
        self.list.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.list.setItemDelegate(_Row(self.list))
        self.list.setFrameShape(QFrame.Shape.NoFrame)
        self.list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(8, 8, 8, 8)
        layout.setSpacing(4)
        layout.addWidget(self.field)
        layout.addWidget(self.list)
        self.field.textEdited.connect(lambda _text: self._search())
        self.field.installEventFilter(self)
        self.list.itemClicked.connect(lambda _row: self._choose())
        self.hide()

    def open(self) -> None:
        """Show the box, empty, with the keyboard in it."""
        self._all = self._things()
        self.field.clear()
        self._search()
        parent = self.parentWidget()
        assert parent is not None
        width = min(520, parent.width() - 40)
        self.setGeometry((parent.width() - width) // 2, 32, width, 100)
        self._suit()
        self.show()
        self.raise_()
        self.field.setFocus()

    def _suit(self) -> None:
        """As high as its rows need, inside the window."""
        parent = self.parentWidget()
        most = parent.height() - self.y() - 16 if parent is not None else 400
        self.resize(self.width(), min(60 + ROW_PX * max(1, len(self._shown)), most))

    def _search(self) -> None:
        self._shown = best(self.field.text(), self._all)
        self.list.clear()
        for thing in self._shown:
            row = QListWidgetItem(thing.text)
            row.setData(_ASIDE, thing.aside)
            self.list.addItem(row)
        if not self._shown:
            row = QListWidgetItem("Nothing has such a name.")
            row.setFlags(Qt.ItemFlag.NoItemFlags)
            self.list.addItem(row)
        else:
            self.list.setCurrentRow(0)
        self._suit()

    def _choose(self) -> None:
        row = self.list.currentRow()
        self.hide()
        if 0 <= row < len(self._shown):
            self._shown[row].run()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if event.type() == QEvent.Type.KeyPress and isinstance(event, QKeyEvent):
            key = event.key()
            if key in (Qt.Key.Key_Down, Qt.Key.Key_Up):
                step = 1 if key == Qt.Key.Key_Down else -1
                self.list.setCurrentRow(min(max(self.list.currentRow() + step, 0), self.list.count() - 1))
                return True
            if key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
                self._choose()
                return True
            if key == Qt.Key.Key_Escape:
                self.hide()
                parent = self.parentWidget()
                if parent is not None:
                    parent.setFocus()
                return True
        if event.type() == QEvent.Type.FocusOut and not self.list.underMouse():
            self.hide()
        return super().eventFilter(watched, event)
