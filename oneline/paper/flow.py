"""Text beside the diagram: blocks made of rows that flow through columns, breaking between rows only."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property

from oneline.paper.page import Pen

#: Paints a row with its upper left corner at (x, y).
Paint = Callable[[Pen, float, float], None]

COLUMN_GAP = 14.0
BLOCK_GAP = 9.0


@dataclass(frozen=True)
class Row:
    """One row: its height, how it is painted, and whether it stays with the row after it."""

    height: float
    paint: Paint
    keep: bool = False


@dataclass(frozen=True)
class Block:
    """Rows that belong together. ``again``: rows repeated on top where the block goes on in another column."""

    rows: tuple[Row, ...]
    again: tuple[Row, ...] = ()

    @cached_property
    def height(self) -> float:
        return sum(row.height for row in self.rows)


@dataclass(frozen=True)
class Placed:
    """A row with its place: column number and distance from the column's top."""

    row: Row
    column: int
    y: float


def flow(blocks: Sequence[Block], heights: Sequence[float]) -> list[Placed] | None:
    """Rows of all blocks in columns of the given heights, filled one after the other; ``None`` when they do not fit.

    A block that fits a column whole is not broken where at most a third of a column stays empty for it.
    """
    if sum(b.height for b in blocks) > sum(heights):
        return None
    out: list[Placed] = []
    column, y = 0, 0.0
    for block in blocks:
        if y > 0:
            y += BLOCK_GAP
        room = heights[column] - y
        if block.height > room and y > 0 and column + 1 < len(heights):
            whole = block.height <= heights[column + 1] and room <= heights[column] / 3
            first = sum(r.height for r in _head(block))
            if whole or first > room:
                column, y = column + 1, 0.0
        placed = _lay(block, heights, column, y)
        if placed is None:
            return None
        rows, column, y = placed
        out += rows
    return out


def _head(block: Block) -> list[Row]:
    """The first rows that must stay together."""
    head: list[Row] = []
    for row in block.rows:
        head.append(row)
        if not row.keep:
            break
    return head


def _lay(block: Block, heights: Sequence[float], column: int, y: float) -> tuple[list[Placed], int, float] | None:
    out: list[Placed] = []
    at = 0
    while at < len(block.rows):
        group = [block.rows[at]]
        while group[-1].keep and at + len(group) < len(block.rows):
            group.append(block.rows[at + len(group)])
        needed = sum(r.height for r in group)
        if y + needed > heights[column] + 1e-6:
            column += 1
            if column >= len(heights):
                return None
            y = 0.0
            if at > 0:
                for row in block.again:
                    out.append(Placed(row, column, y))
                    y += row.height
            if y + needed > heights[column] + 1e-6:
                return None
        for row in group:
            out.append(Placed(row, column, y))
            y += row.height
        at += len(group)
    return out, column, y


def least_height(blocks: Sequence[Block], columns: int, most: float) -> float | None:
    """The smallest height at which ``columns`` equal columns hold the blocks; ``None`` when ``most`` is not enough."""
    low, high = sum(b.height for b in blocks) / columns, most
    if low > most or flow(blocks, [most] * columns) is None:
        return None
    while high - low > 1.0:
        middle = (low + high) / 2
        if flow(blocks, [middle] * columns) is None:
            low = middle
        else:
            high = middle
    return high


def paint(placed: Sequence[Placed], pen: Pen, x: float, y: float, width: float) -> None:
    """Paint placed rows; ``width`` is that of one column."""
    for p in placed:
        p.row.paint(pen, x + p.column * (width + COLUMN_GAP), y + p.y)
