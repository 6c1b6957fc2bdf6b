"""Automatic placement: source on top, load down; a bar as wide as what hangs on it; connected verticals straight.

Every item becomes a *block*: itself with everything below it, as rectangles around the point where it is fed. Blocks
under one bar are pushed together until their outlines nearly touch, so labels interleave and columns stay narrow.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from oneline.model import Bus, ConductorRun, Connection, Drawing, End, Item, Place, SuspectedTie
from oneline.sheet.shapes import (
    BAR_OVERHANG,
    GRID,
    LEAST_BAR,
    MARK_ROOM,
    Box,
    label_box,
    reserved_lines,
    shapes_of,
    symbol_name,
)
from oneline.sheet.symbols import SymbolSet, shipped_set
from oneline.sheet.tree import Forest, Twig, feeding_forest
from oneline.sheet.wording import LINE_PITCH, run_lines

#: Least distance between things that do not belong together.
AIR = 10.0
#: Length of a bolted connection from a bar to a terminal, and between two devices.
BOLTED = 20.0
LEAST_RUN = 40.0
BETWEEN_ROOTS = 40.0
_LAST_KINDS = ("solar", "battery")


@dataclass
class Block:
    """Places and rectangles relative to the entry terminal of its top item."""

    places: dict[str, tuple[float, float]] = field(default_factory=dict)
    boxes: list[Box] = field(default_factory=list)

    @property
    def top(self) -> float:
        return min((b[1] for b in self.boxes), default=0.0)

    def shifted(self, dx: float, dy: float) -> Block:
        return Block(
            {k: (x + dx, y + dy) for k, (x, y) in self.places.items()},
            [(left + dx, t + dy, r + dx, b + dy) for left, t, r, b in self.boxes],
        )

    def take(self, other: Block) -> None:
        self.places.update(other.places)
        self.boxes.extend(other.boxes)


def arrange(drawing: Drawing, ids: Iterable[str] | None = None) -> Drawing:
    """Give items new places: all of them, or only ``ids`` around the others. Bends of lines that move are dropped."""
    chosen = None if ids is None else set(ids)
    loose = [
        replace(i, place=None) for i in drawing.items.values()
        if not isinstance(i, Connection) and (chosen is None or i.id in chosen)
    ]  # fmt: skip
    places = placed(drawing.with_items(loose))
    changed: list[Item] = [replace(i, place=places[i.id]) for i in loose]
    for conn in drawing.connections():
        ends = {conn.a.item} | ({conn.b.item} if conn.b else set())
        if conn.bends and (chosen is None or ends & chosen):
            changed.append(replace(conn, bends=()))
    return drawing.with_items(changed)


def placed(drawing: Drawing, symbols: SymbolSet | None = None) -> dict[str, Place]:
    """Where every item is drawn: its own place, or one found for it. The drawing itself does not change."""
    symbols = symbols or shipped_set("us")
    items = [i for i in drawing.items.values() if not isinstance(i, Connection)]
    own = {i.id: i.place for i in items if i.place is not None}
    if len(own) == len(items):
        return own
    if not own:
        return Arranger(drawing, symbols).all()
    from oneline.sheet.fill_in import fill_in

    return fill_in(drawing, own, symbols)


def up(value: float) -> float:
    """The next grid line at or above."""
    return math.ceil(value / GRID - 1e-9) * GRID


class Arranger:
    """Lays out one drawing from scratch."""

    def __init__(self, drawing: Drawing, symbols: SymbolSet, forest: Forest | None = None) -> None:
        self.drawing = drawing
        self.symbols = symbols
        self.forest = forest or feeding_forest(drawing)
        self.attached: dict[str, list[tuple[str, Connection, End, End]]] = {}

    def all(self) -> dict[str, Place]:
        self._find_attachments()
        hanging = {root for entries in self.attached.values() for root, *_ in entries}
        row = Block()
        for root in self.forest.roots:
            if root not in hanging:
                block = self.block(root)
                block = block.shifted(0, -block.top)
                gap = BETWEEN_ROOTS if row.boxes else 0.0
                row.take(block.shifted(max(0.0, beside(row.boxes, block.boxes, gap)), 0))
        if not row.places:
            return {}
        left = up(-min(b[0] for b in row.boxes))
        top = up(-min(b[1] for b in row.boxes))
        return {
            i.id: Place(row.places[i.id][0] + left, row.places[i.id][1] + top)
            for i in self.drawing.items.values() if i.id in row.places
        }  # fmt: skip

    def _find_attachments(self) -> None:
        """Trees of a second source that end at a transfer switch stand above its second terminal."""
        root_of: dict[str, str] = {}
        for root in self.forest.roots:
            for item in self._descendants(root):
                root_of[item] = root
        for conn in self.forest.across:
            if conn.b is None or isinstance(conn, SuspectedTie):
                continue
            for tail, head in ((conn.a, conn.b), (conn.b, conn.a)):
                if (
                    head.terminal not in ("alternate", "normal")
                    or self.forest.twigs[head.item].terminal == head.terminal
                ):
                    continue
                root = root_of[tail.item]
                taken = any(root == r for entries in self.attached.values() for r, *_ in entries)
                if root != root_of[head.item] and not taken and not self.forest.twigs[tail.item].children:
                    self.attached.setdefault(head.item, []).append((root, conn, tail, head))

    def _descendants(self, item: str) -> Iterable[str]:
        stack = [item]
        while stack:
            current = stack.pop()
            yield current
            stack.extend(self.forest.twigs[current].children)

    # -------------------------------------------------------------------------------------------------- blocks
    def block(self, item_id: str, clear: float = 0.0) -> Block:
        """The item and all below it. ``clear``: how far right of the entry the labels above reach."""
        twig = self.forest.twigs[item_id]
        item = self.drawing.get(item_id)
        symbol = self.symbols[symbol_name(item)]
        entry_x, entry_y = self._entry(item, twig)
        if isinstance(item, Bus):
            block = self._bar_block(item, twig, clear)
        else:
            block = self._device_block(item, twig, symbol.box, clear + entry_x)
        return block.shifted(-entry_x, -entry_y)

    def _entry(self, item: Item, twig: Twig) -> tuple[float, float]:
        """Where the item is fed, relative to its place; single terminals of things below are turned up."""
        x, y = self.symbols[symbol_name(item)].terminals[twig.terminal]
        if twig.parent and len(item.terminals) == 1 and y > 0 and not self._goes_up(twig):
            y = -y
        return x, y

    def _goes_up(self, twig: Twig) -> bool:
        """Whether a twig stands above its parent: a device entered at its load side from a bar, and what follows it."""
        while twig.parent:
            parent = self.drawing.get(twig.parent)
            if isinstance(parent, Bus):
                return twig.terminal == "load" and self._is_chain(twig)
            if twig.parent_terminal != "line":
                return False
            twig = self.forest.twigs[twig.parent]
        return False

    def _is_chain(self, twig: Twig) -> bool:
        while twig.children:
            if len(twig.children) > 1 or isinstance(self.drawing.get(twig.item), Bus):
                return False
            twig = self.forest.twigs[twig.children[0]]
        return not isinstance(self.drawing.get(twig.item), Bus)

    def own_boxes(self, item: Item, bar: tuple[float, float] | None, hanging: bool, turned: bool) -> list[Box]:
        symbol = self.symbols[symbol_name(item)]
        left, top, right, bottom = symbol.box
        if turned:
            top, bottom = -bottom, -top
        if bar is not None:
            left, right = bar
        lines, room = reserved_lines(item)
        out = [(left, top, right, bottom), (left - MARK_ROOM, top, left, top + MARK_ROOM)]
        if lines:
            box = label_box(item, symbol, lines, (left, right), room, hanging)
            height = max(len(lines), 2 if room == 0 else 3) * LINE_PITCH + 1
            middle = (box[1] + box[3]) / 2 if not (symbol.stretch and hanging) else box[3] - height / 2
            if turned:
                middle = (top + bottom) / 2
            out.append((box[0], middle - height / 2, box[2], middle + height / 2))
        return out

    def _device_block(self, item: Item, twig: Twig, box: Box, clear: float) -> Block:
        turned = (
            bool(twig.parent) and len(item.terminals) == 1 and self._entry(item, twig)[1] < 0 < self._raw_y(item, twig)
        )
        block = Block({item.id: (0.0, 0.0)}, self.own_boxes(item, None, False, turned))
        reach = max(b[2] for b in block.boxes)
        by_terminal: dict[str, list[str]] = {}
        for child in twig.children:
            by_terminal.setdefault(self.forest.twigs[child].parent_terminal, []).append(child)
        for terminal, children in by_terminal.items():
            x, y = self.symbols[symbol_name(item)].terminals[terminal]
            x0 = x
            for n, child in enumerate(children):
                part = self.linked(child, max(reach, clear) - x, self._entry_height(item, twig, y))
                if n:
                    part = part.shifted(0, 10)
                    x0 = max(x0, x) + max(0.0, beside(block.boxes, part.shifted(x0, y).boxes, AIR))
                block.take(part.shifted(x0, y))
        for root, conn, tail, head in self.attached.get(item.id, ()):
            self._attach(block, root, conn, tail, head, max(clear, reach))
        return block

    def _raw_y(self, item: Item, twig: Twig) -> float:
        return self.symbols[symbol_name(item)].terminals[twig.terminal][1]

    def _entry_height(self, item: Item, twig: Twig, exit_y: float) -> float:
        return max(0.0, exit_y - self._entry(item, twig)[1]) if twig.parent else 0.0

    def linked(self, child: str, clear: float, room_above: float) -> Block:
        """A child's block hung below the parent's terminal (0, 0), with its connection."""
        twig = self.forest.twigs[child]
        conn = self.drawing.get(twig.connection)
        length, line_boxes = self._link(conn, twig, isinstance(self.drawing.get(child), Bus))
        clear = max(clear, max((b[2] for b in line_boxes), default=0.0))
        block = self.block(child, clear)
        length = max(length, up(-block.top - room_above + (AIR if room_above == 0 else 0)))
        out = block.shifted(0, length)
        out.boxes.append((-1, 0, 1, length))
        middle = length / 2
        out.boxes.extend((left, middle + t, r, middle + b) for left, t, r, b in line_boxes)
        return out

    def _link(self, conn: Item, twig: Twig, to_bar: bool) -> tuple[float, list[Box]]:
        """Least length of a connection drawn downward, and its label's box around the middle of the line."""
        bars = int(to_bar) + int(isinstance(self.drawing.get(twig.parent), Bus))
        if not isinstance(conn, ConductorRun):
            return (BOLTED if bars else GRID) + (GRID if bars == 2 else 0), []
        lines = run_lines(conn)
        height = LINE_PITCH * len(lines)
        box = (LABEL_LEFT, -height / 2, LABEL_LEFT + max(line.width for line in lines), height / 2)
        return max(LEAST_RUN, up(height + 2 * GRID)) + GRID * bars, [box, (-MARK_ROOM, -7, 0, 8)]

    # --------------------------------------------------------------------------------------------------- bars
    def _bar_block(self, bus: Bus, twig: Twig, clear: float) -> Block:
        twigs = self.forest.twigs
        above = [c for c in twig.children if self._goes_up(twigs[c])]
        below = sorted((c for c in twig.children if c not in above), key=self._order)
        block = Block()
        entries: list[float] = []
        for child in below:
            part = self.linked(child, 0.0, 0.0)
            x = max(0.0, beside(block.boxes, part.boxes, AIR), entries[-1] + 2 * GRID if entries else 0.0)
            block.take(part.shifted(x, 0))
            entries.append(x)
        feed = round((entries[0] + entries[-1]) / 2 / GRID) * GRID if entries else 0.0
        block = block.shifted(-feed, 0)
        entries = [x - feed for x in entries]
        for child in above:
            part = self._standing(child)
            start = max(clear + MARK_ROOM + AIR, max(entries, default=0.0))
            x = up(max(start, start + beside(block.boxes, part.shifted(start, 0).boxes, AIR)))
            block.take(part.shifted(x, 0))
            entries.append(x)
        half = LEAST_BAR / 2
        ends = (min([-half, *(x - BAR_OVERHANG for x in entries)]), max([half, *(x + BAR_OVERHANG for x in entries)]))
        if bus.width is not None:
            ends = (-max(bus.width, LEAST_BAR) / 2, max(bus.width, LEAST_BAR) / 2)
        block.places[bus.id] = (0.0, 0.0)
        block.boxes.extend(self.own_boxes(bus, ends, bool(below), False))
        return block

    def _order(self, child: str) -> int:
        """Sources that feed in from below go to the far end of the bar."""
        item = self.drawing.get(child)
        if getattr(item, "bus_end", None) == "opposite end":
            return 2
        kinds = {self.drawing.get(i).kind for i in self._descendants(child)}
        return 1 if kinds & set(_LAST_KINDS) else 0

    def _standing(self, child: str) -> Block:
        """A chain that stands on the bar: each item above the one before."""
        block = Block()
        y = 0.0
        while child:
            twig = self.forest.twigs[child]
            item = self.drawing.get(child)
            length, line_boxes = self._link(self.drawing.get(twig.connection), twig, False)
            x0, y0 = self.symbols[symbol_name(item)].terminals[twig.terminal]
            block.boxes.append((-1, y - length, 1, y))
            block.boxes.extend((left, y - length / 2 + t, r, y - length / 2 + b) for left, t, r, b in line_boxes)
            y -= length
            own = Block({item.id: (0.0, 0.0)}, self.own_boxes(item, None, False, False)).shifted(-x0, y - y0)
            block.take(own)
            child = twig.children[0] if twig.children else ""
            if child:
                terminal = self.forest.twigs[child].parent_terminal
                y += self.symbols[symbol_name(item)].terminals[terminal][1] - y0
        return block

    def _attach(self, block: Block, root: str, conn: Connection, tail: End, head: End, clear: float) -> None:
        """Put the tree of a second source above a transfer switch, to the right of the labels of its first feed."""
        ats = self.drawing.get(head.item)
        x_head, y_head = self.symbols[symbol_name(ats)].terminals[head.terminal]
        part = self.block(root)
        tail_x, tail_y = part.places[tail.item]
        _, dy = self.symbols[symbol_name(self.drawing.get(tail.item))].terminals[tail.terminal]
        lane = LEAST_RUN
        if isinstance(conn, ConductorRun):
            lane = max(lane, up(LINE_PITCH * 2 + 4 * GRID))
        part = part.shifted(-tail_x, -(tail_y + dy) - lane + y_head)
        left = min(b[0] for b in part.boxes)
        x = up(max(x_head, clear + AIR - left))
        if isinstance(conn, ConductorRun):
            width = max(line.width for line in run_lines(conn))
            part.boxes.append((LABEL_LEFT, y_head - lane + 5, LABEL_LEFT + width, y_head - lane + 5 + LINE_PITCH * 2))
        block.take(part.shifted(x, 0))
        block.boxes.append((x_head - 1, y_head - 2 * GRID, x_head + 1, y_head))
        block.boxes.append((x_head, y_head - GRID - 1, x, y_head - GRID + 1))


#: Distance of a conductor's label from its line.
LABEL_LEFT = 6.0


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


__all__ = ["arrange", "placed", "shapes_of"]
