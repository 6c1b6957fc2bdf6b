"""What lines must keep away from: symbols and labels as boxes, and the tracks other lines already run on."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Iterator

from oneline.sheet.display import Point
from oneline.sheet.shapes import Box

#: Clear distance of a line from a symbol it does not belong to, and from a label.
SYMBOL_AIR = 5.0
LABEL_AIR = 2.0
#: Two lines nearer than this run on one track; a corner nearer than this to a line looks like a joint.
TRACK = 5.0
_CELL = 80.0


class Obstacles:
    """Boxes with their owners, found by place."""

    def __init__(self) -> None:
        self._cells: dict[tuple[int, int], list[tuple[Box, str, float]]] = {}
        self.boxes: list[tuple[Box, str]] = []

    def add(self, box: Box, owner: str, air: float) -> None:
        self.boxes.append((box, owner))
        entry = (box, owner, air)
        for cell in _cells((box[0] - air, box[1] - air, box[2] + air, box[3] + air)):
            self._cells.setdefault(cell, []).append(entry)

    def near(self, box: Box) -> Iterator[tuple[Box, str]]:
        """Boxes in or close to a box, each once."""
        seen: set[tuple[Box, str]] = set()
        for cell in _cells(box):
            for other, owner, _ in self._cells.get(cell, ()):
                if (other, owner) not in seen:
                    seen.add((other, owner))
                    yield other, owner

    def hit(self, p: Point, q: Point, own: Iterable[str] = ()) -> bool:
        """Whether the segment from p to q enters a box, or comes closer than its air unless it is one's own."""
        left, right = (p[0], q[0]) if p[0] <= q[0] else (q[0], p[0])
        top, bottom = (p[1], q[1]) if p[1] <= q[1] else (q[1], p[1])
        for cell in _cells((left, top, right, bottom)):
            for box, owner, air in self._cells.get(cell, ()):
                gap = -0.5 if owner in own else air
                if (
                    left < box[2] + gap and right > box[0] - gap and top < box[3] + gap and bottom > box[1] - gap
                ):  # fmt: skip
                    return True
        return False

    def owners_at(self, p: Point, q: Point) -> frozenset[str]:
        """Owners of the boxes that a segment enters or comes too close to."""
        left, top, right, bottom = min(p[0], q[0]), min(p[1], q[1]), max(p[0], q[0]), max(p[1], q[1])
        return frozenset(
            owner
            for cell in _cells((left, top, right, bottom))
            for box, owner, air in self._cells.get(cell, ())
            if left < box[2] + air and right > box[0] - air and top < box[3] + air and bottom > box[1] - air
        )

    def free(self, box: Box, own: Iterable[str] = ()) -> bool:
        """Whether a box overlaps none of the boxes of others."""
        for cell in _cells(box):
            for other, owner, _ in self._cells.get(cell, ()):
                if owner not in own and _overlap(box, other):
                    return False
        return True


def _overlap(a: Box, b: Box) -> bool:
    return a[0] < b[2] and a[2] > b[0] and a[1] < b[3] and a[3] > b[1]


def _cells(box: Box) -> Iterator[tuple[int, int]]:
    x0, x1 = math.floor(box[0] / _CELL), math.floor(box[2] / _CELL)
    y0, y1 = math.floor(box[1] / _CELL), math.floor(box[3] / _CELL)
    if x0 == x1 and y0 == y1:
        yield (x0, y0)
        return
    for x in range(x0, x1 + 1):
        for y in range(y0, y1 + 1):
            yield (x, y)


class Tracks:
    """Segments of the lines routed so far. ``keys`` of a line: the terminals whose other lines it may run with."""

    def __init__(self) -> None:
        self._cells: dict[tuple[int, int], list[tuple[Point, Point, frozenset[object]]]] = {}

    def add(self, points: tuple[Point, ...], keys: frozenset[object]) -> None:
        for p, q in itertools.pairwise(points):
            if p > q:
                p, q = q, p
            entry = (p, q, keys)
            for cell in _cells((p[0] - TRACK, min(p[1], q[1]) - TRACK, q[0] + TRACK, max(p[1], q[1]) + TRACK)):
                self._cells.setdefault(cell, []).append(entry)

    def near(self, box: Box) -> Iterator[tuple[Point, Point, frozenset[object]]]:
        """Segments in or close to a box; the same one may come twice."""
        for cell in _cells(box):
            yield from self._cells.get(cell, ())

    def touched(self, box: Box) -> bool:
        """Whether a line passes through a box or very close to it."""
        return any(meets(box, a, b) for a, b, _ in self.near(box))

    def clashes(self, p: Point, q: Point, keys: frozenset[object], ends: bool = True) -> bool:
        """Whether a segment would lie on another line's track or touch it so that it looks like a joint.

        ``ends``: whether the segment's own ends are corners, which must not lie on another line.
        """
        if p > q:
            p, q = q, p
        flat = p[1] == q[1]
        top, bottom = min(p[1], q[1]), max(p[1], q[1])
        for a, b, other in self.near((p[0], top, q[0], bottom)):
            if other & keys:
                continue
            if flat == (a[1] == b[1]):
                along, across = (0, 1) if flat else (1, 0)
                a_low, a_high = min(a[along], b[along]), max(a[along], b[along])
                p_low, p_high = min(p[along], q[along]), max(p[along], q[along])
                if abs(a[across] - p[across]) < TRACK and a_low < p_high + TRACK and a_high > p_low - TRACK:
                    return True
            elif (ends and _touches(p, q, a, b)) or _touches(a, b, p, q):
                return True
        return False

    def corner_clashes(self, p: Point, keys: frozenset[object]) -> bool:
        """Whether a corner at a point would lie on another line."""
        return any(not other & keys and _touches(p, p, a, b) for a, b, other in self.near((*p, *p)))

    def crossings(self, p: Point, q: Point, keys: frozenset[object], closed: bool = False) -> int:
        """How many lines that do not belong to it a segment crosses; ``closed``: those through its first end too."""
        if p > q:
            p, q = q, p
        flat = p[1] == q[1]
        found = set()
        for a, b, other in self.near((p[0], min(p[1], q[1]), q[0], max(p[1], q[1]))):
            if not other & keys and flat != (a[1] == b[1]):
                h, v = ((p, q), (a, b)) if flat else ((a, b), (p, q))
                y0, y1 = min(v[0][1], v[1][1]), max(v[0][1], v[1][1])
                inside = h[0][0] < v[0][0] < h[1][0] and y0 < h[0][1] < y1
                if inside or (closed and (p == (v[0][0], h[0][1])) and h[0][0] <= p[0] <= h[1][0] and y0 <= p[1] <= y1):
                    found.add((a, b))
        return len(found)


def meets(box: Box, a: Point, b: Point) -> bool:
    """Whether the segment from a to b (a left of or above b) passes through a box or very close to it."""
    return a[0] < box[2] + 2 and b[0] > box[0] - 2 and min(a[1], b[1]) < box[3] + 1 and max(a[1], b[1]) > box[1] - 1


def _touches(p: Point, q: Point, a: Point, b: Point) -> bool:
    """Whether an end of the segment p-q lies on, or nearly on, the perpendicular segment a-b."""
    flat = a[1] == b[1]
    low, high = (min(a[0], b[0]), max(a[0], b[0])) if flat else (min(a[1], b[1]), max(a[1], b[1]))
    for end in (p, q):
        along, across = (end[0], abs(end[1] - a[1])) if flat else (end[1], abs(end[0] - a[0]))
        if across < TRACK and low - TRACK < along < high + TRACK:
            return True
    return False
