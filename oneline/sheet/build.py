"""Builds the picture of one view of a drawing."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from oneline.model import Bus, Connection, Disconnect, Drawing, Item, SuspectedTie
from oneline.sheet.asif import Shown, as_tried, tried_frame, tried_words, zone_group
from oneline.sheet.blocks import up
from oneline.sheet.display import Group, Picture, Point, Primitive, Stroke
from oneline.sheet.labels import (
    hanging_bars,
    item_label_boxes,
    line_labels,
    line_mark_places,
    with_air,
    write_lines,
)
from oneline.sheet.layout import placed
from oneline.sheet.lines import QUESTION, line_groups, open_tie_boxes, question_places
from oneline.sheet.live import TAG_HEIGHT, Energy, energy_of, tag, tag_width
from oneline.sheet.marks import MARK_SIZE, mark_at, worst_states
from oneline.sheet.routing import Route, land_all, open_end, route_all
from oneline.sheet.schedule import schedule_group
from oneline.sheet.shapes import BOND_DOWN, BOND_LEFT, Box, Shape, shapes_of, symbol_letter, symbol_name
from oneline.sheet.status import status_look
from oneline.sheet.symbols import SymbolSet, draw_symbol, find_set
from oneline.sheet.tags import Tagger
from oneline.sheet.tracks import Obstacles, Tracks
from oneline.sheet.tree import feeding_forest
from oneline.sheet.wording import LINE_PITCH, Line, detail_line, item_lines
from oneline.study import StudyResult

#: Zoom from which the small figures are shown.
DETAIL_ZOOM = 1.5
#: Between the small tags with words of one item.
_NOTE_GAP = 2.0


def build_picture(
    drawing: Drawing, result: StudyResult | None, view: str, symbols: str = "us", ghosts: bool = True,
    shown: Shown | None = None,
) -> Picture:  # fmt: skip
    """The display list of a view: symbols, lines, labels, marks and live figures.

    ``result`` may be ``None`` for a bare drawing. ``symbols``: name of a shipped symbol set, or the folder of a user's own.
    ``ghosts``: whether items of the other view are drawn faintly (part "ghost"), so that they can still be edited.
    ``shown``: positions that are tried, and an outage; what is live is then drawn by those positions.
    """
    return _Builder(drawing, result, view, symbols, ghosts, shown or Shown()).picture()


class _Builder:
    def __init__(
        self, drawing: Drawing, result: StudyResult | None, view: str, symbols: str, ghosts: bool, shown: Shown
    ) -> None:
        self.shown = shown
        self.result, self.symbols_name = result, symbols
        self.symbols: SymbolSet = find_set(symbols)
        in_view = drawing.view(view)
        self.ghost_ids = frozenset(i for i in drawing.items if i not in in_view.items) if ghosts else frozenset()
        self.drawing = drawing if ghosts else in_view
        places = placed(self.drawing)
        self.shapes = shapes_of(self.drawing, places, self.symbols, feeding_forest(self.drawing).reach)
        self.tracks = Tracks()
        self.energy: Energy = energy_of(result, shown.live)
        self.worst = worst_states(result.verdicts) if result else {}
        self.groups: dict[str, list[Group]] = {
            "frame": [],
            "line": [],
            "symbol": [],
            "tag": [],
            "label": [],
            "mark": [],
            "detail": [],
        }

    def picture(self) -> Picture:
        hanging = hanging_bars(self.drawing, self.shapes)
        lines = {k: self._lines(s.item, k in hanging or not s.symbol.stretch) for k, s in self.shapes.items()}
        boxes = item_label_boxes(self.shapes, lines, hanging)
        landings = land_all(self.drawing, self.shapes)
        taken = [((box[0], box[1], up(box[2]), box[3]), k) for k, box in boxes.items()]
        taken += [(s.bond, k) for k, s in self.shapes.items() if s.bond is not None]
        taken += [(_mark_room(s), k) for k, s in self.shapes.items()]
        for tie in self.drawing.of(SuspectedTie):
            if tie.b is None and tie.id in landings:
                start = landings[tie.id][0]
                taken += [(box, tie.id) for box in open_tie_boxes(tie, (start.edge, open_end(start)))]
        routes = route_all(self.drawing, self.shapes, landings, taken)
        obstacles, tracks = Obstacles(), self.tracks
        for item_id, shape in self.shapes.items():
            obstacles.add(shape.box, item_id, 0.0)
        for box, item_id in taken:
            obstacles.add(box, item_id + "/label", 0.0)
        for route in routes.values():
            tracks.add(route.points, route.keys)
        questions = question_places(routes, obstacles, tracks)
        for conn_id, (x, y) in questions.items():
            obstacles.add((x - QUESTION, y - QUESTION, x + QUESTION, y + QUESTION), conn_id, 0.0)
        for shape in self.shapes.values():
            self._symbol(shape)
            self._label(shape, lines[shape.item.id], boxes.get(shape.item.id))
            self._item_mark(shape, boxes.get(shape.item.id), obstacles)
        line_labels_at = line_labels(routes, self.shapes, obstacles, tracks)
        for group in line_groups(self.drawing, routes, self.energy, self.ghost_ids, self.symbols_name, questions):
            self.groups[group.part if group.part in self.groups else "line"].append(group)
        for conn_id, (box, text) in line_labels_at.items():
            prims = write_lines(text, box[0], box[1], self._ghost_ink(conn_id))
            self._add(conn_id, "label", prims, box)
        for group in (*self.groups["tag"], *self.groups["detail"]):
            obstacles.add(group.box, group.item + "/tag", 0.0)
        label_boxes = {k: v[0] for k, v in line_labels_at.items()}
        for item_id, shape in self.shapes.items():
            self._notes(shape, lines[item_id], boxes.get(item_id), obstacles)
        tagger = Tagger(self.drawing, self.shapes, routes, self.energy, self.ghost_ids, obstacles, tracks, label_boxes)
        self.groups["tag"] += tagger.all()
        self._circuits(boxes, obstacles, tracks)
        self._line_marks(routes, label_boxes, obstacles)
        ground = zone_group(self.shown.zone, self.shapes, routes)
        if ground is not None:
            self.groups["frame"].append(ground)
        ordered = [
            g for part in ("frame", "line", "symbol", "tag", "label", "detail", "mark") for g in self.groups[part]
        ]
        return Picture(tuple(ordered), _around(ordered), self._terminals(), {k: r.points for k, r in routes.items()})

    # ------------------------------------------------------------------------------------------------------- parts
    def _add(self, item_id: str, part: str, prims: Iterable[Primitive], box: Box, level: float = 0) -> None:
        name = "ghost" if item_id in self.ghost_ids else part
        self.groups[part].append(Group(item_id, name, tuple(prims), box, level))

    def _ghost_ink(self, item_id: str) -> str:
        return "ghost" if item_id in self.ghost_ids else ""

    def _lines(self, item: Item, wide: bool) -> tuple[Line, ...]:
        point = self.result.points.get(item.id) if self.result and item.id not in self.ghost_ids else None
        return item_lines(as_tried(item, self.shown.live), point, wide)

    def _symbol(self, shape: Shape) -> None:
        item = shape.item
        ghost = self._ghost_ink(item.id)
        look = status_look(item.status)
        known = {} if ghost else self.energy.sides(item)
        possible = {} if ghost else self.energy.sides(item, possibly=True)
        sides = {t: self.energy.look(known[t], bool(possible.get(t))) for t in item.terminals if t in known}
        tried = as_tried(item, self.shown.live)
        prims: list[Primitive] = list(draw_symbol(
            self.symbols_name, symbol_name(tried), shape.middle, weight=look.weight, dash=look.dash, ink=ghost or look.ink,
            sides=sides, width=shape.width, flipped=shape.flipped, letter=symbol_letter(item),
        ))  # fmt: skip
        prims += self._extras(shape, ghost)
        if tried_words(item, tried):
            prims.append(tried_frame(shape.box))
        if look.ticks:
            prims += _ticks(shape, ghost)
        self._add(item.id, "symbol", prims, _hit(shape))

    def _extras(self, shape: Shape, ghost: str) -> list[Primitive]:
        """Winding marks of a transformer, and the sign of a neutral bond."""
        item, out = shape.item, list[Primitive]()
        connection = getattr(item, "connection", None)
        if connection and "-" in connection and connection != "single-phase":
            for slot, winding in zip(("primary", "secondary"), connection.split("-"), strict=True):
                if slot in shape.symbol.slots:
                    dx, dy = shape.symbol.slots[slot]
                    at = (shape.at[0] + dx, shape.at[1] + dy)
                    out += draw_symbol(self.symbols_name, f"winding-{winding}", at, ink=ghost)
        if getattr(item, "neutral_bonded", None):
            at = (shape.box[0] - BOND_LEFT, shape.at[1] + BOND_DOWN)
            out += draw_symbol(self.symbols_name, "bond", at, ink=ghost)
        return out

    def _label(self, shape: Shape, lines: tuple[Line, ...], box: Box | None) -> None:
        if box is None:
            return
        item_id = shape.item.id
        ghost = self._ghost_ink(item_id)
        self._add(item_id, "label", write_lines(lines, box[0], box[1], ghost), box)
        bottom = box[3]
        if self._note_tags(shape.item):
            return
        point = self.result.points.get(item_id) if self.result and not ghost else None
        detail = detail_line(shape.item, point)
        if detail is not None:
            room = (box[0], bottom, box[0] + detail.width, bottom + 7)
            if not self.tracks.touched(room):
                self._add(item_id, "detail", write_lines((detail,), box[0], bottom - 1), room, DETAIL_ZOOM)

    def _circuits(self, labels: Mapping[str, Box], obstacles: Obstacles, tracks: Tracks) -> None:
        for item_id, shape in self.shapes.items():
            if isinstance(shape.item, Bus) and item_id not in self.ghost_ids:
                group = schedule_group(shape, labels.get(item_id), self.drawing, obstacles, tracks)
                if group is not None:
                    self.groups["detail"].append(group)

    def _note_tags(self, item: Item) -> list[tuple[str, str, bool]]:
        """(text, ink, filled) of what stands in words beside an item: its lock, how it is tried, live both sides."""
        if item.id in self.ghost_ids:
            return []
        shown, found = self.shown, list[tuple[str, str, bool]]()
        tried = as_tried(item, shown.live)
        if item.id in shown.hung:
            found.append((f"{shown.hung[item.id]} locked", "ink", True))
        elif item.id in shown.locks:
            found.append((shown.locks[item.id], "ink", False))
        if words := tried_words(item, tried):
            found.append((words, "accent", False))
        if isinstance(tried, Disconnect) and not tried.closed:
            sides, possible = (self.energy.sides(item, possibly) for possibly in (False, True))
            if sides.get("line") and sides.get("load"):
                found.append(("live both sides", "verdict-fail", False))
            elif possible.get("line") and possible.get("load"):
                found.append(("possibly live both sides", "possible", False))
        if item.id in shown.verified:
            found.append(("tested dead", "ink", False))
        return found

    def _notes(self, shape: Shape, lines: tuple[Line, ...], label: Box | None, obstacles: Obstacles) -> None:
        """Small tags with words: below the item's label, or wherever beside it they cover least."""
        tags, item_id = self._note_tags(shape.item), shape.item.id
        if not tags:
            return
        widths = [tag_width(text) for text, _, _ in tags]
        width = sum(widths) + _NOTE_GAP * (len(tags) - 1)
        left, top, right, bottom = shape.box
        x, y = (right + 4, bottom - 12) if label is None else (label[0], label[1] + LINE_PITCH * len(lines))
        half = TAG_HEIGHT / 2
        above, aside = (label or shape.box)[1] - half - 1, left - width - 4
        places = [(x, y + 6), (x, y + 6 + TAG_HEIGHT), (x, above), (aside, bottom - half), (aside, top + half),
                  (right + 4, bottom + half)]  # fmt: skip
        boxes = [(px - 1, py - half, px + width + 1, py + half) for px, py in places]
        own = (item_id + "/label",)
        free = (n for n, box in enumerate(boxes) if obstacles.free(box, own) and not self.tracks.touched(box))
        at = places[next(free, 0)]
        prims: list[Primitive] = []
        px = at[0]
        for (text, ink, filled), wide in zip(tags, widths, strict=True):
            prims += tag((px + wide / 2, at[1]), text, ink, filled)
            px += wide + _NOTE_GAP
        box = (at[0], at[1] - half, at[0] + width, at[1] + half)
        self._add(item_id, "tag", prims, box)
        obstacles.add(box, item_id + "/tag", 0.0)

    def _mark(self, item_id: str, at: Point) -> None:
        state = self.worst.get(item_id)
        if state is None or item_id in self.ghost_ids:
            return
        half = MARK_SIZE / 2 + 1
        self._add(item_id, "mark", mark_at(state, at), (at[0] - half, at[1] - half, at[0] + half, at[1] + half))

    def _item_mark(self, shape: Shape, label: Box | None, obstacles: Obstacles) -> None:
        """The mark of an item stands at the upper left of its symbol; where that touches a neighbor, close to it."""
        item_id = shape.item.id
        if item_id not in self.worst or item_id in self.ghost_ids:
            return
        half, (left, top, right, bottom) = MARK_SIZE / 2, shape.box
        usual = (left - half - 2, top + 3)
        places = [usual, (usual[0], bottom - half), (left + half, top - half - 3), (right - half, top - half - 3)]
        words = Obstacles()
        if label is not None:
            words.add(label, item_id, 0.0)
        at = self._free_place(places, (obstacles, words), (item_id, item_id + "/label"))
        self._mark(item_id, at)
        obstacles.add(_square(at), item_id + "/mark", 0.0)

    def _line_marks(self, routes: dict[str, Route], labels: dict[str, Box], obstacles: Obstacles) -> None:
        """Marks of conductors stand at the left of the line, level with its label, or as near to that as is free."""
        for conn_id, route in routes.items():
            if conn_id in self.worst and conn_id not in self.ghost_ids:
                places = line_mark_places(route.points, labels.get(conn_id), MARK_SIZE / 2)
                at = self._free_place(places, (obstacles,))
                self._mark(conn_id, at)
                obstacles.add(_square(at), conn_id + "/mark", 0.0)

    def _free_place(self, places: list[Point], taken: tuple[Obstacles, ...], own: Iterable[str] = ()) -> Point:
        """The first place where a mark touches nothing, with air around it where that is possible."""
        for air in (2.0, 0.5):
            for at in places:
                box = with_air(_square(at), air)
                # The words of an item are its own too, but its mark must not touch them.
                free = taken[0].free(box, own) and all(other.free(box) for other in taken[1:])
                if free and not self.tracks.touched(_square(at)):
                    return at
        return places[0]

    def _terminals(self) -> dict[tuple[str, str], Point]:
        return {(k, t): s.terminal(t) for k, s in self.shapes.items() for t in s.item.terminals}


def _square(at: Point) -> Box:
    """Box of a mark at a point."""
    half = MARK_SIZE / 2
    return (at[0] - half, at[1] - half, at[0] + half, at[1] + half)


def _mark_room(shape: Shape) -> Box:
    """Room for an item's mark at the upper left of its symbol; lines keep out of it, whether there is a mark or not."""
    right, top = shape.box[0] - 1, shape.box[1] - 2
    return (right - MARK_SIZE, top, right, top + MARK_SIZE)


def _hit(shape: Shape) -> Box:
    """The symbol's hit box at its place; at least 24 units each way."""
    left, top, right, bottom = shape.symbol.hit
    if shape.flipped:
        top, bottom = -bottom, -top
    x, y = shape.at
    if shape.symbol.stretch:
        return (shape.box[0], y + top, shape.box[2], y + bottom)
    return (x + left, y + top, x + right, y + bottom)


def _ticks(shape: Shape, ghost: str) -> list[Primitive]:
    """Small crosses where the leads of a symbol that is to be removed begin, and at the ends of a bar."""
    ink = ghost or "ink"
    if shape.symbol.stretch:
        spots = [(shape.box[0] + 8, shape.at[1]), (shape.box[2] - 8, shape.at[1])]
    else:
        spots = [(x, y - 4 * shape.direction(t)) for t in shape.item.terminals for x, y in (shape.terminal(t),)]
    return [
        Stroke(((x - 3, y - 3 * way), (x + 3, y + 3 * way)), "thin", "solid", ink) for x, y in spots for way in (1, -1)
    ]


def _around(groups: list[Group]) -> Box:
    """Box around what is painted at 100 %."""
    boxes = [g.box for g in groups if g.level <= 1]
    if not boxes:
        return (0.0, 0.0, 0.0, 0.0)
    return (min(b[0] for b in boxes), min(b[1] for b in boxes), max(b[2] for b in boxes), max(b[3] for b in boxes))


def symbol_names_used(drawing: Drawing, view: str | None = None) -> tuple[str, ...]:
    """Names of the symbols a drawing (or one view of it) uses, for the legend, in the order of the palette."""
    from oneline.sheet.symbols import REQUIRED

    shown = drawing.view(view) if view else drawing
    used = set()
    for item in shown.items.values():
        if isinstance(item, SuspectedTie):
            used.add("tie")
        elif not isinstance(item, Connection):
            used.add(symbol_name(item))
            if getattr(item, "neutral_bonded", None):
                used.add("bond")
            for winding in (getattr(item, "connection", None) or "").split("-"):
                if f"winding-{winding}" in REQUIRED:
                    used.add(f"winding-{winding}")
    return tuple(n for n in REQUIRED if n in used)


__all__ = ["build_picture", "symbol_names_used"]
