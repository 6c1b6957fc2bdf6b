"""Dragging items over the sheet; a free item that is let go on a line goes into it."""

from __future__ import annotations

from oneline.desk.tools.base import Board, Point, Pointer, Tool
from oneline.desk.tools.drop import can_enter_line, drop_into_line
from oneline.desk.tools.growth import settled
from oneline.model import Connection, Drawing, Place, edits


class MoveGesture(Tool):
    """Moves the selected items with the pointer, on the grid. The lines follow while dragging; one step at the end."""

    def __init__(self, board: Board) -> None:
        super().__init__(board)
        self._from: Point | None = None
        self._places: dict[str, Place] = {}
        self._line: str | None = None

    def press(self, pointer: Pointer) -> None:
        self._from = pointer.at
        drawing = self.board.session.drawing
        self._places = places_of(self.board, [i for i in self.board.session.selection if i in drawing])

    def move(self, pointer: Pointer) -> None:
        if self._from is None or not self._places:
            return
        self.board.marks.clear()
        drawing = self._moved(pointer)
        self.board.preview(drawing)
        self._line = self._line_below(pointer, drawing)
        if self._line is not None:
            self.board.marks.frame(self._line)

    def release(self, pointer: Pointer) -> None:
        if self._from is None:
            return
        self.board.marks.clear()
        moved, line = self._moved(pointer), self._line
        names = self.board.session.drawing
        one = next(iter(self._places), "")
        what = names.name_of(one) if len(self._places) == 1 else f"{len(self._places)} items"
        self._from = None
        if line is not None:
            label = f"Put {what} into {names.name_of(line)}"
            if self.board.edit(label, lambda _: drop_into_line(moved, one, line)):
                return
        self.board.edit(f"Move {what}", lambda _: moved)

    def cancel(self) -> None:
        self._from = None
        super().cancel()

    def _moved(self, pointer: Pointer) -> Drawing:
        assert self._from is not None
        drawing = self.board.session.drawing
        if not self._places:
            return drawing
        lead = next(iter(self._places.values()))
        x, y = lead.x + pointer.at[0] - self._from[0], lead.y + pointer.at[1] - self._from[1]
        x, y = (x, y) if pointer.alt else self.board.snap((x, y))
        dx, dy = x - lead.x, y - lead.y
        return edits.move(settled(drawing), {i: Place(p.x + dx, p.y + dy) for i, p in self._places.items()})

    def _line_below(self, pointer: Pointer, moved: Drawing) -> str | None:
        """The line under a single free item that could go into it."""
        if len(self._places) != 1:
            return None
        item_id = next(iter(self._places))
        if not can_enter_line(moved, item_id):
            return None
        hit = self.board.hit_line(pointer.at)
        return hit if hit is not None and isinstance(moved.items.get(hit), Connection) else None


def places_of(board: Board, item_ids: list[str]) -> dict[str, Place]:
    """Where items stand: their own place, or where the layout put them."""
    drawing = board.session.drawing
    places: dict[str, Place] = {}
    for item_id in item_ids:
        item = drawing.get(item_id)
        if isinstance(item, Connection):
            continue
        places[item_id] = item.place if item.place is not None else board.place_of(item_id)
    return places
