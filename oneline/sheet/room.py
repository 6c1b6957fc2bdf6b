"""Room for what is added to a drawing that is arranged already: neighbors step aside, lines grow, free places are found."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

from oneline.model import Bus, ConductorRun, Connection, Drawing, End, Item, Place
from oneline.sheet.arranger import AIR, LABEL_LEFT, Arranger
from oneline.sheet.blocks import up
from oneline.sheet.display import Point
from oneline.sheet.layout import placed
from oneline.sheet.routing import land_all, route_all
from oneline.sheet.shapes import GRID, Box, Shape, shapes_of
from oneline.sheet.symbols import shipped_set
from oneline.sheet.tracks import Obstacles
from oneline.sheet.tree import feeding_forest
from oneline.sheet.wording import LINE_PITCH, run_lines

#: Pushes after which the drawing is left as it is.
_MOST_PUSHES = 60
_FARTHEST = 60
#: Height of a second source's terminal above the one of the transfer switch.
_LANE = 40.0
#: Grid squares that a second source may stand beside the terminal it feeds.
_MOST_ASIDE = 18


class _Sheet:
    """What every item of a drawing takes on the sheet: symbol, words, and the straight line above it."""

    def __init__(self, drawing: Drawing) -> None:
        symbols = shipped_set("us")
        self.drawing = drawing
        self.forest = feeding_forest(drawing)
        self.arranger = Arranger(drawing, symbols, self.forest)
        self.shapes = shapes_of(drawing, placed(drawing), symbols, self.forest.reach)
        self.attached = self.arranger.attachments()
        self.second_of = {root: switch for switch, found in self.attached.items() for root, *_ in found}

    def boxes(self, item_id: str) -> list[Box]:
        """Symbol, room of the mark, words, and the label of the line that leads to it."""
        shape = self.shapes[item_id]
        x, y = shape.at
        bar = (shape.box[0] - x, shape.box[2] - x) if shape.symbol.stretch else None
        hangs = bar is not None and bool(self.forest.twigs[item_id].children)
        own = self.arranger.own_boxes(shape.item, bar, hangs, shape.flipped)
        return [(b[0] + x, b[1] + y, b[2] + x, b[3] + y) for b in own] + list(self._line_boxes(shape))

    def _line_boxes(self, shape: Shape) -> Iterator[Box]:
        twig = self.forest.twigs[shape.item.id]
        if not twig.parent:
            return
        above = self.shapes[twig.parent]
        x, y1 = shape.terminal(twig.terminal)
        x0, y0 = above.terminal(twig.parent_terminal)
        if y1 <= y0 or (x != x0 and not above.symbol.stretch):
            return
        yield (x - 2, y0 + GRID, x + 2, y1)
        conn = self.drawing.get(twig.connection)
        if isinstance(conn, ConductorRun):
            lines = run_lines(conn)
            half, middle = LINE_PITCH * len(lines) / 2, (y0 + y1) / 2
            yield (x + LABEL_LEFT, middle - half, x + LABEL_LEFT + max(n.width for n in lines), middle + half)

    def subtree(self, item_id: str) -> list[str]:
        """The item, all below it, and second sources that stand at its transfer switches."""
        found: dict[str, None] = {}
        todo = [item_id]
        while todo:
            for below in self.arranger.descendants(todo.pop()):
                if below not in found:
                    found[below] = None
                    todo += [root for root, *_ in self.attached.get(below, ())]
        return list(found)

    def line_up(self, item_id: str) -> list[str]:
        """The item and all it hangs on, the top last; a second source hangs on its transfer switch."""
        out = [item_id]
        while parent := self.forest.twigs[out[-1]].parent or self.second_of.get(out[-1], ""):
            if parent in out:
                break
            out.append(parent)
        return out


def make_room(before: Drawing, drawing: Drawing, touched: Iterable[str]) -> Drawing:
    """``drawing`` with neighbors moved aside (or down, in one line) that the touched items would lie on.

    ``touched``: items that are new, grew or were moved since ``before``; what already lay on each other there is left.
    Every item must have a place.
    """
    lying = set(_pairs(_Sheet(before), set(before.items))) if before.items else set()
    moved = {i for i in touched if i in drawing.items and not isinstance(drawing.get(i), Connection)}
    for _ in range(_MOST_PUSHES):
        sheet = _Sheet(drawing)
        moved |= {sheet.forest.twigs[i].parent for i in moved} - {""}
        pair = next((p for p in _pairs(sheet, moved) if p not in lying), None)
        if pair is None:
            break
        pushed, dx, dy = _push(sheet, *pair, moved)
        drawing = _shifted(drawing, pushed, dx, dy)
        moved |= set(pushed)
    return drawing


def _pairs(sheet: _Sheet, touched: set[str]) -> Iterator[tuple[str, str]]:
    """Pairs of items (in the drawing's order) of which one is touched that lie on each other."""
    boxes = {k: sheet.boxes(k) for k in sheet.shapes}
    bounds = {k: (min(b[0] for b in v), min(b[1] for b in v), max(b[2] for b in v), max(b[3] for b in v))
              for k, v in boxes.items()}  # fmt: skip
    order = list(boxes)
    for n, one in enumerate(order):
        for other in order[n + 1 :]:
            if (one in touched or other in touched) and _meet(bounds[one], bounds[other]):
                if sheet.forest.twigs[one].parent == other or sheet.forest.twigs[other].parent == one:
                    continue
                if any(_meet(a, b) for a in boxes[one] for b in boxes[other]):
                    yield one, other


def _meet(a: Box, b: Box) -> bool:
    return a[0] < b[2] and a[2] > b[0] and a[1] < b[3] and a[3] > b[1]


def _push(sheet: _Sheet, one: str, other: str, moved: set[str]) -> tuple[list[str], float, float]:
    """What steps out of the way of what, and how far."""
    if other in moved and one not in moved:
        one, other = other, one
    up_one, up_other = sheet.line_up(one), sheet.line_up(other)
    if one in up_other or other in up_one:
        lower, upper = (other, one) if one in up_other else (one, other)
        need = max(b[3] for b in sheet.boxes(upper)) - min(b[1] for b in sheet.boxes(lower))
        return sheet.subtree(lower), 0.0, up(max(need, GRID))
    common = next((i for i in up_one if i in up_other), "")
    branch_one = next(i for i in reversed(up_one[: up_one.index(common)] if common else up_one))
    branch = next(i for i in reversed(up_other[: up_other.index(common)] if common else up_other))
    x_one, x_other = sheet.shapes[branch_one].at[0], sheet.shapes[branch].at[0]
    pushed = sheet.subtree(branch)
    if one in pushed:
        pushed = [i for i in pushed if i not in sheet.subtree(branch_one)]
    ones = sheet.boxes(one)
    others = sheet.boxes(other)
    if x_other >= x_one:
        need = max(a[2] - b[0] for a in ones for b in others if a[1] < b[3] and a[3] > b[1])
        return pushed, up(need + AIR), 0.0
    need = max(b[2] - a[0] for a in ones for b in others if a[1] < b[3] and a[3] > b[1])
    return pushed, -up(need + AIR), 0.0


def _shifted(drawing: Drawing, ids: Iterable[str], dx: float, dy: float) -> Drawing:
    """Items (all with a place) moved, with the corners of lines whose ends both move; those of others are dropped."""
    chosen = set(ids)
    out: list[Item] = []
    for item in drawing.items.values():
        if isinstance(item, Connection):
            ends = {item.a.item} | ({item.b.item} if item.b else set())
            if item.bends and ends <= chosen:
                out.append(replace(item, bends=tuple(Place(p.x + dx, p.y + dy) for p in item.bends)))
            elif item.bends and ends & chosen:
                out.append(replace(item, bends=()))
        elif item.id in chosen and item.place is not None:
            out.append(replace(item, place=Place(item.place.x + dx, item.place.y + dy)))
    return drawing.with_items(out)


def lengthen(drawing: Drawing, conn_id: str) -> Drawing:
    """What hangs on a line moved down where the line is shorter than its label, its source codes and its mark need."""
    sheet = _Sheet(drawing)
    twig = next((t for t in sheet.forest.twigs.values() if t.connection == conn_id), None)
    landing = land_all(drawing, sheet.shapes).get(conn_id)
    if twig is None or landing is None or landing[1] is None:
        return drawing
    conn = drawing.get(conn_id)
    need = sheet.arranger.line_length(conn, twig, isinstance(drawing.get(twig.item), Bus))
    short = need - abs(landing[0].inner[1] - landing[1].inner[1])
    if short <= 0 or sheet.shapes[twig.item].at[1] < sheet.shapes[twig.parent].at[1]:
        return drawing
    below = sheet.subtree(twig.item)
    return make_room(drawing, _shifted(drawing, below, 0.0, up(short)), below)


def bring_source(before: Drawing, drawing: Drawing, source: str, end: End) -> Drawing:
    """A new source moved to stand above a transfer switch, beside the way that feeds it; neighbors step aside."""
    for drop in (0.0, 2 * GRID, 4 * GRID, 6 * GRID, 8 * GRID):
        switch = [i for i in _Sheet(drawing).subtree(end.item) if i != source]
        lower = _shifted(drawing, switch, 0.0, drop)
        shift = _source_shift(_Sheet(lower), source, end)
        if shift is not None:
            return make_room(before, _shifted(lower, [source], *shift), [source, *switch])
    return make_room(before, drawing, [source])


def _source_shift(sheet: _Sheet, source: str, end: End) -> Point | None:
    """How a source moves to stand above a terminal, clear of what feeds the switch; ``None`` without room near it."""
    x, y = sheet.shapes[end.item].terminal(end.terminal)
    taken = Obstacles()
    for item_id in sheet.line_up(end.item):
        for box in sheet.boxes(item_id):
            taken.add(box, item_id, 0.0)
    shape = sheet.shapes[source]
    out_x, out_y = shape.terminal(shape.item.terminals[0])
    dx, dy = x - out_x, y - _LANE - out_y
    boxes = [(b[0] + dx - AIR, b[1] + dy - AIR, b[2] + dx + AIR, b[3] + dy + AIR) for b in sheet.boxes(source)]
    for right in range(_MOST_ASIDE):
        if all(taken.free((b[0] + right * GRID, b[1], b[2] + right * GRID, b[3])) for b in boxes):
            return dx + right * GRID, dy
    return None


def nearest_free(drawing: Drawing, item_id: str) -> Drawing:
    """The drawing with an item moved to the place nearest to its own where it lies on nothing, not on a line either."""
    sheet = _Sheet(drawing)
    taken = _taken(sheet, {item_id})
    boxes = [(b[0] - AIR, b[1] - AIR, b[2] + AIR, b[3] + AIR) for b in sheet.boxes(item_id)]
    for dx, dy in _spiral():
        if all(taken.free((b[0] + dx, b[1] + dy, b[2] + dx, b[3] + dy)) for b in boxes):
            return _shifted(drawing, [item_id], dx, dy)
    return drawing


def _taken(sheet: _Sheet, but: set[str]) -> Obstacles:
    """All that stands on the sheet, lines included, except some items."""
    taken = Obstacles()
    for item_id in sheet.shapes:
        if item_id not in but:
            for box in sheet.boxes(item_id):
                taken.add(box, item_id, 0.0)
    routes = route_all(sheet.drawing, sheet.shapes, land_all(sheet.drawing, sheet.shapes), ())
    for conn_id, route in routes.items():
        for p, q in zip(route.points, route.points[1:], strict=False):
            box = (min(p[0], q[0]) - 3, min(p[1], q[1]) - 3, max(p[0], q[0]) + 3, max(p[1], q[1]) + 3)
            taken.add(box, conn_id, 0.0)
    return taken


def _spiral() -> Iterator[Point]:
    """Steps of whole grid squares from nothing outward, nearest first."""
    steps = [(x * GRID, y * GRID) for x in range(-_FARTHEST, _FARTHEST + 1) for y in range(-_FARTHEST, _FARTHEST + 1)]
    return iter(sorted(steps, key=lambda s: (s[0] ** 2 + s[1] ** 2, -s[0], -s[1])))
