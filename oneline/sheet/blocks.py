"""Blocks of the automatic layout: an item with everything below it, as rectangles around the point where it is fed."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from oneline.sheet.shapes import GRID, Box


@dataclass
class Block:
    """Places and rectangles relative to the entry terminal of its top item."""

    places: dict[str, tuple[float, float]] = field(default_factory=dict)
    boxes: list[Box] = field(default_factory=list)

    @property
    def top(self) -> float:
        return min((b[1] for b in self.boxes), default=0.0)

    @property
    def bottom(self) -> float:
        return max((b[3] for b in self.boxes), default=0.0)

    @property
    def left(self) -> float:
        return min((b[0] for b in self.boxes), default=0.0)

    @property
    def right(self) -> float:
        return max((b[2] for b in self.boxes), default=0.0)

    def shifted(self, dx: float, dy: float) -> Block:
        return Block(
            {k: (x + dx, y + dy) for k, (x, y) in self.places.items()},
            [(left + dx, t + dy, r + dx, b + dy) for left, t, r, b in self.boxes],
        )

    def take(self, other: Block) -> None:
        self.places.update(other.places)
        self.boxes.extend(other.boxes)


def up(value: float) -> float:
    """The next grid line at or above."""
    return math.ceil(value / GRID - 1e-9) * GRID


def beside(fixed: list[Box], moving: list[Box], air: float) -> float:
    """How far ``moving`` must go right to stand clear of ``fixed`` by ``air``; may be negative, minus infinity
    where they pass each other.

    Compared by bands of half a grid square, each widened by the air above and below.
    """
    band = GRID / 2
    reach: dict[int, float] = {}
    for _, top, right, bottom in fixed:
        for row in range(math.floor((top - air) / band), math.ceil((bottom + air) / band)):
            if right > reach.get(row, -math.inf):
                reach[row] = right
    need = -math.inf
    for left, top, _, bottom in moving:
        for row in range(math.floor(top / band), math.ceil(bottom / band)):
            if row in reach:
                need = max(need, reach[row] - left)
    return need if need == -math.inf else up(need + air)
