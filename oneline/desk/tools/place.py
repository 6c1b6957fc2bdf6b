"""Putting an item of the palette on the sheet with the pointer."""

from __future__ import annotations

from typing import ClassVar

from PySide6.QtCore import Qt

from oneline.desk.tools.base import NOTHING, Board, Hit, Pointer, Tool
from oneline.desk.tools.catalog import BY_KEY
from oneline.desk.tools.growth import line_at_end, place_at_item, place_free, place_in_line, shape_of
from oneline.desk.tools.keyboard import placed_sentence, status_for_new
from oneline.model import Connection, Drawing, edits

#: What a dragged palette entry carries: its key.
MIME_KIND = "application/x-oneline-palette"


class PlaceTool(Tool):
    """Click on paper to put the item there, on an item to hang it below, on a line to put it in. Shift keeps the tool."""

    cursor: ClassVar[Qt.CursorShape] = Qt.CursorShape.CrossCursor

    def __init__(self, board: Board, key: str) -> None:
        super().__init__(board)
        self.what = BY_KEY[key]
        self._pressed = False
        self.hint = (
            f"{self.what.title}: click on paper to put it there, on an item to hang it below, on a line to put it in. "
            "Shift keeps the tool, Esc puts it down."
        )

    @property
    def busy(self) -> bool:
        return self._pressed

    def press(self, pointer: Pointer) -> None:
        self._pressed = True

    def move(self, pointer: Pointer) -> None:
        self.board.marks.clear()
        hit = self._target(pointer)
        if hit.item:
            drawing = self.board.session.drawing
            found = line_at_end(drawing, self.board.session.picture, self.what, hit.item, pointer.at)
            target = found.id if found is not None else hit.item
            self.board.marks.frame(target)
            name = drawing.name_of(target)
            line = isinstance(drawing.items.get(target), Connection)
            self.board.marks.note(pointer.at, f"into {name}" if line else f"connected to {name}")
            return
        shape = shape_of(self.what.kind, tuple(sorted(self.what.values.items())), self.board.session.symbols)
        self.board.marks.ghost(shape.picture, self.board.snap(pointer.at))

    def release(self, pointer: Pointer) -> None:
        if not self._pressed:
            return
        self._pressed = False
        hit = self._target(pointer)
        session, what = self.board.session, self.what
        target = hit.item or None
        status = status_for_new(self.board, target)
        picture, symbols = session.picture, session.symbols
        added: list[str] = []

        def put(drawing: Drawing) -> Drawing:
            item = drawing.items.get(target) if target else None
            line = line_at_end(drawing, picture, what, item.id, pointer.at) if item is not None else None
            if line is not None:
                after, new_id = place_in_line(drawing, picture, line, what, status, symbols)
            elif item is None:
                after, new_id = place_free(drawing, what, self.board.snap(pointer.at), status)
            elif isinstance(item, Connection):
                after, new_id = place_in_line(drawing, picture, item, what, status, symbols, pointer.at)
            else:
                after, new_id = place_at_item(drawing, picture, item.id, what, status, symbols)
            added.append(new_id)
            return after

        label = f"Add {edits.free_name(session.drawing, what.title)}"
        if not self.board.edit(label, put):
            return
        if not pointer.shift:
            self.board.use_tool(None)
        session.select(added)
        self.board.say(placed_sentence(session.drawing, added[0], target))

    def cancel(self) -> None:
        self._pressed = False
        super().cancel()

    def _target(self, pointer: Pointer) -> Hit:
        hit = self.board.hit(pointer.at)
        return hit if hit.part in ("symbol", "line", "terminal") else NOTHING
