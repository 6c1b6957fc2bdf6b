"""The sheet for screen readers: every item is a child of the canvas, with its name, what it is and what feeds it."""

from __future__ import annotations

from typing import Any

from PySide6.QtCore import QObject, QPoint, QRect
from PySide6.QtGui import QAccessible, QAccessibleInterface, QColor
from PySide6.QtWidgets import QAccessibleWidget

from oneline.desk.canvas import Canvas
from oneline.model import Drawing, Joint
from oneline.study import StudyResult

STATUS_WORDS = {"existing": "", "new": "new", "remove": "to be removed", "future": "future"}


def spoken(drawing: Drawing, result: StudyResult, item_id: str) -> str:
    """An item in words: "LP-2, bus or panel, 100 A, new, fed from Breaker 4, live from Service 1"."""
    item = drawing.get(item_id)
    parts = [drawing.name_of(item_id), item.title.lower()]
    rating = getattr(item, "trip_a", None) or getattr(item, "rating_a", None)
    if rating is not None:
        parts.append(f"{rating:g} A")
    if STATUS_WORDS.get(item.status):
        parts.append(STATUS_WORDS[item.status])
    if getattr(item, "closed", True) is False:
        parts.append("open")
    point = result.points.get(item_id)
    if point is not None:
        if point.fed_from and point.fed_from in drawing and point.fed_from != item_id:
            parts.append(f"fed from {drawing.name_of(point.fed_from)}")
        if point.live_from and point.live_from != (item_id,):
            parts.append("live from " + " and ".join(drawing.name_of(s) for s in point.live_from))
    return ", ".join(parts)


class ItemInterface(QAccessibleInterface):
    """One item of the drawing. (Qt's type hints leave out that there may be no object and no child.)"""

    def __init__(self, sheet: SheetInterface, item_id: str) -> None:
        super().__init__()
        self._sheet = sheet
        self._item = item_id

    def isValid(self) -> bool:
        return self._item in self._sheet.canvas.session.drawing

    def object(self) -> QObject | None:  # type: ignore[override]
        return None

    def parent(self) -> QAccessibleInterface:
        return self._sheet

    def child(self, index: int) -> QAccessibleInterface | None:  # type: ignore[override]
        return None

    def childAt(self, x: int, y: int) -> QAccessibleInterface | None:  # type: ignore[override]
        return None

    def childCount(self) -> int:
        return 0

    def indexOfChild(self, child: QAccessibleInterface) -> int:
        return -1

    def text(self, what: QAccessible.Text) -> str:
        if what != QAccessible.Text.Name or not self.isValid():
            return ""
        session = self._sheet.canvas.session
        return spoken(session.drawing, session.study, self._item)

    def setText(self, what: QAccessible.Text, text: str) -> None:
        return None

    def rect(self) -> QRect:
        canvas = self._sheet.canvas
        rect = canvas.mapFromScene(canvas.sheet.rect_of([self._item])).boundingRect()
        return QRect(canvas.viewport().mapToGlobal(rect.topLeft()), rect.size())

    def role(self) -> QAccessible.Role:
        return QAccessible.Role.ListItem

    def state(self) -> QAccessible.State:
        state = QAccessible.State()
        state.selectable = True
        state.selected = self._item in self._sheet.canvas.session.selection
        return state

    def foregroundColor(self) -> QColor:
        return QColor()

    def backgroundColor(self) -> QColor:
        return QColor()


class SheetInterface(QAccessibleWidget):
    """The canvas with its items as children."""

    def __init__(self, canvas: Canvas) -> None:
        super().__init__(canvas, QAccessible.Role.List, "Sheet")
        self.canvas = canvas
        self._made: dict[str, ItemInterface] = {}

    def _ids(self) -> list[str]:
        return [i.id for i in self.canvas.session.drawing.items.values() if not isinstance(i, Joint)]

    def childCount(self) -> int:
        return len(self._ids())

    def child(self, index: int) -> QAccessibleInterface | None:  # type: ignore[override]
        ids = self._ids()
        return self._of(ids[index]) if 0 <= index < len(ids) else None

    def _of(self, item_id: str) -> ItemInterface:
        if item_id not in self._made:
            self._made[item_id] = ItemInterface(self, item_id)
        return self._made[item_id]

    def indexOfChild(self, child: QAccessibleInterface) -> int:
        return next((n for n, i in enumerate(self._ids()) if self._made.get(i) is child), -1)

    def childAt(self, x: int, y: int) -> QAccessibleInterface | None:  # type: ignore[override]
        canvas = self.canvas
        at = canvas.mapToScene(canvas.viewport().mapFromGlobal(QPoint(x, y)))
        hit = canvas.hit((at.x(), at.y()))
        return self._of(hit.item) if hit.item else None


_made: dict[int, SheetInterface] = {}


def _factory(key: str, thing: Any) -> QAccessibleInterface | None:
    if not isinstance(thing, Canvas):
        return None
    number = id(thing)
    if number not in _made:
        _made[number] = SheetInterface(thing)
        thing.destroyed.connect(lambda *_: _made.pop(number, None))
    return _made[number]


def install() -> None:
    """Tell Qt how to speak about canvases. Once for a process."""
    QAccessible.installFactory(_factory)
