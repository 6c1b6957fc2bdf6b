"""Dragging a piece of a line: the line keeps the corners that the user gave it."""

from __future__ import annotations

from oneline.desk.tools.base import Board, Point, Pointer, Tool
from oneline.model import Connection, Drawing, Place, edits


class BendGesture(Tool):
    """Shifts one straight piece of a line sideways, on the grid. One step at the end."""

    def __init__(self, board: Board, line_id: str) -> None:
        super().__init__(board)
        self.line_id = line_id
        self._from: Point | None = None
        self._route: list[Point] = []
        self._piece = 0

    def press(self, pointer: Pointer) -> None:
        self._from = pointer.at
        self._route = self.board.route_of(self.line_id)
        if len(self._route) > 1:
            pieces = range(len(self._route) - 1)
            self._piece = min(pieces, key=lambda n: _away(pointer.at, self._route[n], self._route[n + 1]))

    def move(self, pointer: Pointer) -> None:
        if self._from is not None and len(self._route) > 1:
            self.board.preview(self._bent(pointer))

    def release(self, pointer: Pointer) -> None:
        if self._from is None or len(self._route) < 2:
            return
        bent = self._bent(pointer)
        self._from = None
        self.board.edit(f"Bend {self.board.session.drawing.name_of(self.line_id)}", lambda _: bent)

    def cancel(self) -> None:
        self._from = None
        super().cancel()

    def _bent(self, pointer: Pointer) -> Drawing:
        drawing = self.board.session.drawing
        line = drawing.get(self.line_id)
        assert isinstance(line, Connection)
        corners = bend(self._route, self._piece, self.board.snap(pointer.at))
        return edits.change(drawing, self.line_id, bends=tuple(Place(x, y) for x, y in corners))


def bend(route: list[Point], piece: int, at: Point) -> list[Point]:
    """The corners of a route after the piece from ``route[piece]`` was shifted sideways to go through ``at``."""
    a, b = route[piece], route[piece + 1]
    upright = abs(a[0] - b[0]) < abs(a[1] - b[1])
    new_a, new_b = ((at[0], a[1]), (at[0], b[1])) if upright else ((a[0], at[1]), (b[0], at[1]))
    points = [*route[:piece], a, new_a, new_b, b, *route[piece + 2 :]]
    if piece > 0:
        points.remove(a)
    if piece + 2 < len(route):
        points.reverse()
        points.remove(b)
        points.reverse()
    return _corners(points)


def _corners(points: list[Point]) -> list[Point]:
    """The points between the ends at which the direction changes."""
    kept: list[Point] = []
    for p in points:
        if kept and p == kept[-1]:
            continue
        while len(kept) > 1 and _straight(kept[-2], kept[-1], p):
            kept.pop()
        kept.append(p)
    return kept[1:-1]


def _straight(a: Point, b: Point, c: Point) -> bool:
    return (a[0] == b[0] == c[0]) or (a[1] == b[1] == c[1])


def _away(p: Point, a: Point, b: Point) -> float:
    """Distance from a point to an upright or level piece."""
    dx = max(min(a[0], b[0]) - p[0], 0.0, p[0] - max(a[0], b[0]))
    dy = max(min(a[1], b[1]) - p[1], 0.0, p[1] - max(a[1], b[1]))
    return dx + dy
