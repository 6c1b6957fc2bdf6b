"""Putting an item of the palette on the sheet with the pointer. What the ghost shows while it is aimed is what happens."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from PySide6.QtCore import Qt

from oneline.desk.tools.base import Board, Point, Pointer, Tool
from oneline.desk.tools.catalog import BY_KEY
from oneline.desk.tools.growth import line_at_end, on_grid, place_at_item, place_free, place_in_line, shape_of
from oneline.desk.tools.keyboard import placed_sentence, status_for_new
from oneline.model import Connection, Drawing, edits

#: What a dragged palette entry carries: its key.
MIME_KIND = "application/x-oneline-palette"


@dataclass(frozen=True)
class _Plan:
    """What a click would do: to what the item is joined, the drawing with it, or why it is refused."""

    target: str | None
    after: Drawing | None = None
    new_id: str = ""
    refusal: str = ""


class PlaceTool(Tool):
    """Click on paper to put the item there, on an item to hang it below, on a line to put it in. Shift keeps the tool."""

    cursor: ClassVar[Qt.CursorShape] = Qt.CursorShape.CrossCursor

    def __init__(self, board: Board, key: str) -> None:
        super().__init__(board)
        self.what = BY_KEY[key]
        self._pressed = False
        self._planned: tuple[Drawing, str, str | None, Point, _Plan] | None = None
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
        plan = self._plan(pointer)
        drawing = self.board.session.drawing
        if plan.target is not None:
            self.board.marks.frame(plan.target)
            name = drawing.name_of(plan.target)
            line = isinstance(drawing.items.get(plan.target), Connection)
            self.board.marks.note(pointer.at, plan.refusal or (f"into {name}" if line else f"connected to {name}"))
        place = plan.after.get(plan.new_id).place if plan.after is not None else None
        if place is not None:
            shape = shape_of(self.what.kind, tuple(sorted(self.what.values.items())), self.board.session.symbols)
            self.board.marks.ghost(shape.picture, (place.x, place.y))

    def release(self, pointer: Pointer) -> None:
        if not self._pressed:
            return
        self._pressed = False
        session, plan = self.board.session, self._plan(pointer)
        before = session.drawing

        def put(_: Drawing) -> Drawing:
            if plan.after is None:
                raise edits.EditRefused(plan.refusal)
            return plan.after

        label = f"Add {edits.free_name(before, self.what.title)}"
        if not self.board.edit(label, put):
            return
        if not pointer.shift:
            self.board.use_tool(None)
        session.select([plan.new_id])
        self.board.say(placed_sentence(session.drawing, plan.new_id, plan.target))

    def cancel(self) -> None:
        self._pressed = False
        self._planned = None
        super().cancel()

    # ---------------------------------------------------------------------------------------------------------- aiming
    def _plan(self, pointer: Pointer) -> _Plan:
        """What a click here would do; worked out once for each square of the grid."""
        session = self.board.session
        target = self._target(pointer)
        at = self.board.snap(pointer.at) if target is None else pointer.at
        square = on_grid(*at)
        key = (session.drawing, status_for_new(self.board, target), target, (square.x, square.y))
        known = self._planned
        if known is not None and known[0] is key[0] and known[1:4] == key[1:]:
            return known[4]
        plan = self._work_out(target, at, key[1])
        self._planned = (*key, plan)
        return plan

    def _work_out(self, target: str | None, at: Point, status: str) -> _Plan:
        session, what = self.board.session, self.what
        drawing, picture, symbols = session.drawing, session.picture, session.symbols
        item = drawing.items.get(target) if target else None
        try:
            if item is None:
                after, new_id = place_free(drawing, what, at, status)
            elif isinstance(item, Connection):
                after, new_id = place_in_line(drawing, picture, item, what, status, symbols, at)
            else:
                after, new_id = place_at_item(drawing, picture, item.id, what, status, symbols)
        except edits.EditRefused as refused:
            return _Plan(target, refusal=str(refused))
        return _Plan(target, after, new_id)

    def _target(self, pointer: Pointer) -> str | None:
        """The item or line a click would join to; at the end of a device the line that ends there."""
        hit = self.board.aim(pointer.at)
        if not hit.item:
            return None
        session = self.board.session
        line = line_at_end(session.drawing, session.picture, self.what, hit.item, pointer.at)
        return line.id if line is not None else hit.item
