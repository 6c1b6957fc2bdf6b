"""Opening and closing switches, and moving transfer switches."""

from __future__ import annotations

from typing import ClassVar

from PySide6.QtCore import Qt

from oneline.desk.tools.base import Board, Pointer, Tool
from oneline.model import Disconnect, Item, TransferSwitch, edits


def can_operate(item: Item | None) -> bool:
    """Whether the item has positions."""
    return isinstance(item, Disconnect | TransferSwitch)


def operate(board: Board, item_id: str) -> bool:
    """Move a switch to its next position, and say what it is now."""
    name = board.session.drawing.name_of(item_id)
    label = _label(board.session.drawing.get(item_id), name)
    if not board.edit(label, lambda d: edits.operate(d, item_id)):
        return False
    item = board.session.drawing.get(item_id)
    if isinstance(item, TransferSwitch):
        board.say(f"{name} is now in position {item.position}. On the drawing only: nothing in the building has moved.")
    elif isinstance(item, Disconnect):
        board.say(
            f"{name} is now {'closed' if item.closed else 'open'}. On the drawing only: nothing in the building has moved."
        )
    return True


def _label(item: Item, name: str) -> str:
    if isinstance(item, Disconnect):
        return f"Open {name}" if item.closed else f"Close {name}"
    return f"Transfer {name}"


class OperateTool(Tool):
    """Every click on a switch opens or closes it."""

    hint: str = "Click a switch to open or close it, a transfer switch to move it on. Esc puts the tool down."
    cursor: ClassVar[Qt.CursorShape] = Qt.CursorShape.PointingHandCursor

    def press(self, pointer: Pointer) -> None:
        hit = self.board.hit(pointer.at)
        item = self.board.session.drawing.items.get(hit.item)
        if item is None:
            return
        self.board.session.select([item.id])
        if can_operate(item):
            operate(self.board, item.id)
        else:
            self.board.say(f"{self.board.session.drawing.name_of(item.id)} has no positions to switch.")

    def move(self, pointer: Pointer) -> None:
        self.board.marks.clear()
        hit = self.board.hit(pointer.at)
        if can_operate(self.board.session.drawing.items.get(hit.item)):
            self.board.marks.frame(hit.item)
