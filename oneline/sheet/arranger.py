"""Lays out one drawing from scratch: blocks hung below each other and pushed together under their bars."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from oneline.model import SOURCE_KINDS, Bus, ConductorRun, Connection, Drawing, End, Item, Joint, SuspectedTie
from oneline.sheet.blocks import Block, beside, up
from oneline.sheet.live import TAG_AIR, TAG_HEIGHT
from oneline.sheet.shapes import (
    ACROSS_STEP,
    BAR_OVERHANG,
    GRID,
    LEAST_BAR,
    MARK_ROOM,
    OPEN_TIE_STEP,
    Box,
    label_box,
    reserved_lines,
    resting,
    symbol_name,
)
from oneline.sheet.symbols import SymbolSet
from oneline.sheet.tree import Forest, Twig, feeding_forest
from oneline.sheet.wording import LINE_PITCH, run_lines, tie_lines

#: Least distance between things that do not belong together.
AIR = 10.0
#: Length of a bolted connection from a bar to a terminal.
BOLTED = 20.0
LEAST_RUN = 40.0
BETWEEN_ROOTS = 40.0
#: Distance of a conductor's label from its line.
LABEL_LEFT = 8.0
#: Room kept at the left of a line for the mark of its conductors and for half the tag of its sources.
RUN_MARK_ROOM = 14.0
#: Room along a line above its label for that tag.
TAG_ROOM = TAG_HEIGHT + TAG_AIR
#: Room at the left of a source for the tag with its code.
SOURCE_ROOM = 18.0
#: Distance from a bar's line to what may stand below its label.
BELOW_BAR = 22.0
#: Height of the question mark that stands on a bar for a tie to an unknown place.
TIE_HEIGHT = 36.0
_LAST_KINDS = ("solar", "battery")


@dataclass(frozen=True)
class Style:
    """What one try of the layout does.

    ``growth``: how much deeper than its deepest part the things below a bar may get by hanging wide parts lower, so that
    they tuck under their neighbors; 0 hangs nothing lower. ``short_first``: the shortest parts of a bar come first.
    ``lower_first``: how much lower the first tree's bar hangs, so that a second tree fits beside its feed.
    """

    growth: float = 0.0
    short_first: bool = False
    lower_first: float = 0.0


class Arranger:
    """Lays out one drawing from scratch in one style."""

    def __init__(
        self, drawing: Drawing, symbols: SymbolSet, forest: Forest | None = None, style: Style | None = None,
        memo: dict[tuple[object, ...], list[Box]] | None = None,
    ) -> None:  # fmt: skip
        self.drawing = drawing
        self.symbols = symbols
        self.forest = forest or feeding_forest(drawing)
        self.style = style or Style()
        #: Boxes of items and labels, which several tries share.
        self.memo = {} if memo is None else memo
        self.attached: dict[str, list[tuple[str, Connection, End, End]]] = {}
        self.open_ties: dict[str, list[SuspectedTie]] = {}
        for tie in drawing.of(SuspectedTie):
            if tie.b is None:
                self.open_ties.setdefault(tie.a.item, []).append(tie)
        self._packed: dict[str, tuple[Block, list[float]]] = {}

    def all(self) -> Block:
        """Every tree side by side, those of second sources at their transfer switches."""
        self._find_attachments()
        hanging = {root for entries in self.attached.values() for root, *_ in entries}
        row = Block()
        for root in self.forest.roots:
            if root not in hanging:
                block = self.block(root, drop=0.0 if row.boxes else self.style.lower_first)
                block = block.shifted(0, up(-block.top))
                row.take(block.shifted(max(0.0, beside(row.boxes, block.boxes, BETWEEN_ROOTS)), 0))
        return row

    def attachments(self) -> dict[str, list[tuple[str, Connection, End, End]]]:
        """{transfer switch: trees of second sources that stand above it, with their connections and its two ends}."""
        if not self.attached:
            self._find_attachments()
        return self.attached

    def line_length(self, conn: Item, twig: Twig, to_bar: bool) -> float:
        """Least length of a connection drawn downward: room for its label, for source codes and for its mark."""
        return self._link(conn, twig, to_bar)[0]

    def _find_attachments(self) -> None:
        """Trees of a second source that end at a transfer switch stand above its second terminal."""
        twigs = self.forest.twigs
        root_of = {item: root for root in self.forest.roots for item in self.descendants(root)}
        taken: set[str] = set()
        for conn in self.forest.across:
            if conn.b is None or isinstance(conn, SuspectedTie):
                continue
            for tail, head in ((conn.a, conn.b), (conn.b, conn.a)):
                if head.terminal not in ("alternate", "normal") or twigs[head.item].terminal == head.terminal:
                    continue
                root = root_of[tail.item]
                if root != root_of[head.item] and root not in taken and not twigs[tail.item].children:
                    taken.add(root)
                    self.attached.setdefault(head.item, []).append((root, conn, tail, head))

    def descendants(self, item: str) -> Iterator[str]:
        """The item and all below it."""
        stack = [item]
        while stack:
            current = stack.pop()
            yield current
            stack.extend(self.forest.twigs[current].children)

    # -------------------------------------------------------------------------------------------------- blocks
    def block(self, item_id: str, clear: float = 0.0, feed: int = 0, drop: float = 0.0) -> Block:
        """The item and all below it, around the point where it is fed.

        ``clear``: how far right of the entry the labels above reach. ``feed``: where the first bar below is fed: -1 at
        its left end, 0 in the middle, 1 at its right end. ``drop``: how much lower that bar hangs than it must.
        """
        twig = self.forest.twigs[item_id]
        item = self.drawing.get(item_id)
        entry_x, entry_y = self._entry(item, twig)
        if isinstance(item, Bus):
            block = self._bar_block(item, twig, clear, feed)
        else:
            block = self._device_block(item, twig, clear + entry_x, feed, drop)
        return block.shifted(-entry_x, -entry_y)

    def _terminal(self, item_id: str, terminal: str) -> tuple[float, float]:
        return self.symbols[symbol_name(resting(self.drawing.get(item_id)))].terminals[terminal]

    def _entry(self, item: Item, twig: Twig) -> tuple[float, float]:
        """Where the item is fed, relative to its place; single terminals of things below are turned up."""
        x, y = self._terminal(item.id, twig.terminal)
        return x, -y if self._turned(item, twig) else y

    def _turned(self, item: Item, twig: Twig) -> bool:
        below = bool(twig.parent) and len(item.terminals) == 1 and not self._goes_up(twig)
        return below and self._terminal(item.id, twig.terminal)[1] > 0

    def _goes_up(self, twig: Twig) -> bool:
        """Whether a twig stands above its parent: a device entered at its load side from a bar, and what follows it."""
        while twig.parent:
            if isinstance(self.drawing.get(twig.parent), Bus):
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
        """Symbol, room of the mark and of the neutral bond's sign, and label, relative to the item's place."""
        key = (item.id, bar, hanging, turned)
        if key not in self.memo:
            self.memo[key] = self._measured(item, bar, hanging, turned)
        return list(self.memo[key])

    def _measured(self, item: Item, bar: tuple[float, float] | None, hanging: bool, turned: bool) -> list[Box]:
        symbol = self.symbols[symbol_name(resting(item))]
        left, top, right, bottom = symbol.box
        if turned:
            top, bottom = -bottom, -top
        if bar is not None:
            left, right = bar
        out = [(left, top, right, bottom), (left - MARK_ROOM, top, left, top + MARK_ROOM)]
        if getattr(item, "neutral_bonded", None):
            out.append((left - 16, 0, left, 22))
        if item.kind in SOURCE_KINDS:
            middle = (top + bottom) / 2
            out.append((left - SOURCE_ROOM, middle - 2, left, middle + 8))
        lines, room, count = reserved_lines(item, hanging or bar is None)
        if count:
            box = label_box(item, symbol, lines, (left, right), room, hanging)
            height = count * LINE_PITCH + 1
            middle = 0.0 if symbol.stretch else (top + bottom) / 2
            if symbol.stretch and hanging:
                middle = box[3] - height / 2
            out.append((box[0], middle - height / 2, up(box[2]), middle + height / 2))
        return out

    # ------------------------------------------------------------------------------------------------- devices
    def _device_block(self, item: Item, twig: Twig, clear: float, feed: int, drop: float) -> Block:
        block = Block({item.id: (0.0, 0.0)}, self.own_boxes(item, None, False, self._turned(item, twig)))
        reach = max(b[2] for b in block.boxes)
        by_terminal: dict[str, list[str]] = {}
        for child in twig.children:
            by_terminal.setdefault(self.forest.twigs[child].parent_terminal, []).append(child)
        for terminal, children in by_terminal.items():
            x, y = self._terminal(item.id, terminal)
            room = max(0.0, y - self._entry(item, twig)[1]) if twig.parent else 0.0
            here = x
            for n, child in enumerate(children):
                single = len(twig.children) == 1
                part = self.linked(child, max(reach, clear) - x, room, feed, drop if single else 0.0)
                if n:
                    part = part.shifted(0, GRID)
                    here = max(here, x) + max(2 * GRID, beside(block.boxes, part.shifted(max(here, x), y).boxes, AIR))
                    block.boxes.append((x, y + GRID - 1, here, y + GRID + 1))
                block.take(part.shifted(here, y))
        for root, conn, tail, head in self.attached.get(item.id, ()):
            self._attach(block, root, conn, tail, head, max(clear, reach))
        return block

    def linked(self, child: str, clear: float, room_above: float, feed: int = 0, drop: float = 0.0) -> Block:
        """A child's block hung below the parent's terminal (0, 0), with its connection."""
        twig = self.forest.twigs[child]
        conn = self.drawing.get(twig.connection)
        length, line_boxes = self._link(conn, twig, isinstance(self.drawing.get(child), Bus))
        label_right = max((b[2] for b in line_boxes), default=0.0) + AIR
        label_height = max((b[3] - b[1] for b in line_boxes), default=0.0)
        clear = max(clear, label_right)
        here = drop if drop and self._takes_drop(child) else 0.0
        block = self.block(child, clear, feed, drop - here)
        length = max(length + here, self._stretch(block, label_right, label_height, clear, room_above))
        out = block.shifted(0, length)
        out.boxes.append((-1, 0, 1, length))
        middle = length / 2
        if line_boxes and length <= label_height + 4 * GRID:
            out.boxes.append((LABEL_LEFT, GRID / 2, label_right - AIR, length - GRID / 2))
        out.boxes.extend((left, middle + t, r, middle + b) for left, t, r, b in line_boxes)
        return out

    def _stretch(self, block: Block, label_right: float, label_height: float, clear: float, room: float) -> float:
        """Length a connection needs for what rises above the end it leads to: below the line's own label, below the
        labels further up, or, right of those, below the bar the parent hangs on."""
        need = 0.0
        for left, top, _, _ in block.boxes:
            if top < 0 and left < label_right:
                need = max(need, label_height + GRID - top if left > 0 else GRID / 2 - top)
            elif top < 0:
                need = max(need, AIR - top if left < clear else -top - room + (0.0 if room else BELOW_BAR))
        return up(need)

    def _link(self, conn: Item, twig: Twig, to_bar: bool) -> tuple[float, list[Box]]:
        """Least length of a connection drawn downward, and its label's box around the middle of the line."""
        bars = int(to_bar) + int(isinstance(self.drawing.get(twig.parent), Bus))
        if not isinstance(conn, ConductorRun):
            return (BOLTED if bars else GRID) + (GRID if bars == 2 else 0), []
        if (conn.id,) not in self.memo:
            lines = run_lines(conn)
            half = (LINE_PITCH * len(lines) + TAG_ROOM) / 2
            self.memo[conn.id,] = [(LABEL_LEFT, -half, up(LABEL_LEFT + max(line.width for line in lines)), half)]
        box = self.memo[conn.id,][0]
        height = box[3] - box[1]
        length = max(LEAST_RUN, up(height + 2 * TAG_AIR)) + GRID * bars
        return length, [box, (-RUN_MARK_ROOM, box[1], 0, box[3])]

    def _takes_drop(self, child: str) -> bool:
        """Whether the connection to a child is the last conductor before a bar, where a long drop is drawn."""
        twig = self.forest.twigs[child]
        if not isinstance(self.drawing.get(twig.connection), ConductorRun):
            return False
        while not isinstance(self.drawing.get(twig.item), Bus):
            if len(twig.children) != 1:
                return False
            twig = self.forest.twigs[twig.children[0]]
            if not isinstance(self.drawing.get(twig.connection), Joint):
                return False
        return True

    def _wide_bar(self, child: str) -> str:
        """The bar with several things below that a chain of single children leads to over a conductor, or ""."""
        twig = self.forest.twigs[child]
        takes = False
        while True:
            takes = takes or self._takes_drop(twig.item)
            if isinstance(self.drawing.get(twig.item), Bus):
                return twig.item if takes and len(twig.children) > 1 else ""
            if len(twig.children) != 1:
                return ""
            twig = self.forest.twigs[twig.children[0]]

    # --------------------------------------------------------------------------------------------------- bars
    def _bar_block(self, bus: Bus, twig: Twig, clear: float, feed: int) -> Block:
        packed, entries = self._pack(bus, twig)
        middle = round((entries[0] + entries[-1]) / 2 / GRID) * GRID if entries else 0.0
        at = 0.0 if not entries else (entries[0], middle, entries[-1])[feed + 1]
        block = packed.shifted(-at, 0)
        entries = [x - at for x in entries]
        for child in (c for c in twig.children if self._goes_up(self.forest.twigs[c])):
            part = self._standing(child)
            start = max(clear + MARK_ROOM + AIR, max(entries, default=0.0))
            x = up(max(start, start + beside(block.boxes, part.shifted(start, 0).boxes, AIR)))
            block.take(part.shifted(x, 0))
            entries.append(x)
        half = LEAST_BAR / 2
        left, right = (
            min([-half, *(x - BAR_OVERHANG for x in entries)]),
            max([half, *(x + BAR_OVERHANG for x in entries)]),
        )
        if bus.width is not None:
            left, right = -max(bus.width, LEAST_BAR) / 2, max(bus.width, LEAST_BAR) / 2
        else:
            right += ACROSS_STEP * self.forest.reach.across.get(bus.id, 0)
            right += OPEN_TIE_STEP * len(self.open_ties.get(bus.id, ()))
        for n, tie in enumerate(self.open_ties.get(bus.id, ())):
            x = right - BAR_OVERHANG - OPEN_TIE_STEP * n
            width = max(line.width for line in tie_lines(tie))
            block.boxes.append((x - GRID, -GRID - TIE_HEIGHT, x + 14 + width, -GRID))
        block.places[bus.id] = (0.0, 0.0)
        block.boxes.extend(self.own_boxes(bus, (left, right), bool(entries), False))
        return block

    def _pack(self, bus: Bus, twig: Twig) -> tuple[Block, list[float]]:
        """What hangs on a bar, from left to right, and where each part is connected. Remembered per bar."""
        if bus.id in self._packed:
            return self._packed[bus.id]
        below = sorted((c for c in twig.children if not self._goes_up(self.forest.twigs[c])), key=self._order)
        plain = {c: self.linked(c, 0.0, 0.0) for c in below}
        if self.style.short_first:
            below.sort(key=lambda c: (self._order(c), plain[c].bottom))
        depth = max((p.bottom for p in plain.values()), default=0.0) * max(1.0, self.style.growth)
        block = Block()
        entries: list[float] = []
        for child in below:
            best: tuple[tuple[float, float], float, Block] | None = None
            for part in self._variants(child, plain[child], plain.values()):
                if part is not plain[child] and part.bottom > depth:
                    continue
                least = entries[-1] + 2 * GRID if entries else 0.0
                x = max(least, beside(block.boxes, part.boxes, AIR))
                moved = part.shifted(x, 0)
                cost = (max(block.right, moved.right) - min(block.left, moved.left), moved.bottom)
                if best is None or cost < best[0]:
                    best = (cost, x, moved)
            assert best is not None
            block.take(best[2])
            entries.append(best[1])
        self._packed[bus.id] = (block, entries)
        return block, entries

    def _variants(self, child: str, plain: Block, parts: Iterable[Block]) -> Iterator[Block]:
        """The part as it is, and where a wide bar is below it, with that bar hung lower and fed in three places."""
        yield plain
        bar = self._wide_bar(child) if self.style.growth else ""
        if not bar:
            return
        top = min(b[1] for b in self.own_boxes(self.drawing.get(bar), (0.0, LEAST_BAR), True, False))
        wide_top = plain.places[bar][1] + top
        drops = {up(p.bottom + AIR - wide_top) for p in parts if p is not plain}
        for drop in sorted(d for d in drops if d > 0):
            for feed in (-1, 0, 1):
                yield self.linked(child, 0.0, 0.0, feed, drop)

    def _order(self, child: str) -> int:
        """Sources that feed in from below go to the far end of the bar."""
        item = self.drawing.get(child)
        if getattr(item, "bus_end", None) == "opposite end":
            return 2
        kinds = {self.drawing.get(i).kind for i in self.descendants(child)}
        return 1 if kinds & set(_LAST_KINDS) else 0

    # ------------------------------------------------------------------------------------ what stands above others
    def _standing(self, child: str) -> Block:
        """A chain that stands on the bar: each item above the one before."""
        block = Block()
        y = 0.0
        while child:
            twig = self.forest.twigs[child]
            item = self.drawing.get(child)
            length, line_boxes = self._link(self.drawing.get(twig.connection), twig, False)
            x0, y0 = self._terminal(child, twig.terminal)
            block.boxes.append((-1, y - length, 1, y))
            block.boxes.extend((left, y - length / 2 + t, r, y - length / 2 + b) for left, t, r, b in line_boxes)
            y -= length
            block.take(Block({child: (0.0, 0.0)}, self.own_boxes(item, None, False, False)).shifted(-x0, y - y0))
            child = twig.children[0] if twig.children else ""
            if child:
                y += self._terminal(item.id, self.forest.twigs[child].parent_terminal)[1] - y0
        return block

    def _attach(self, block: Block, root: str, conn: Connection, tail: End, head: End, clear: float) -> None:
        """Put the tree of a second source above a transfer switch, to the right of the labels of its first feed."""
        x_head, y_head = self._terminal(head.item, head.terminal)
        part = self.block(root)
        tail_x, tail_y = part.places[tail.item]
        _, dy = self._terminal(tail.item, tail.terminal)
        lane, width, height = LEAST_RUN, 0.0, 0.0
        if isinstance(conn, ConductorRun):
            lines = run_lines(conn)
            width, height = max(line.width for line in lines), LINE_PITCH * len(lines)
            lane = up(height + 4 * GRID)
        part = part.shifted(-tail_x, -(tail_y + dy) - lane + y_head)
        if width:
            part.boxes.append((LABEL_LEFT, y_head - lane + 5, LABEL_LEFT + width, y_head - lane + 5 + height))
        x = up(max(x_head, clear + AIR - part.left))
        block.take(part.shifted(x, 0))
        block.boxes.append((x_head - 1, y_head - 2 * GRID, x_head + 1, y_head))
        block.boxes.append((x_head, y_head - GRID - 1, x, y_head - GRID + 1))
