"""Putting items on the sheet: free, hung below (or above) another item and joined to it, or into a line."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise
from typing import Any

from oneline.desk.tools.base import GRID
from oneline.desk.tools.catalog import Placeable
from oneline.desk.tools.ends import connection_kind, downward_end, entering_terminal, upward_end
from oneline.desk.tools.walk import Walker
from oneline.model import (
    KINDS,
    SOURCE_KINDS,
    Bus,
    ConductorRun,
    Connection,
    Drawing,
    End,
    Joint,
    Place,
    TransferSwitch,
    edits,
)
from oneline.sheet import Group, Picture, build_picture, room
from oneline.sheet.layout import placed

Point = tuple[float, float]
Box = tuple[float, float, float, float]

#: Least length of a bolted connection, and of conductors (room for their label).
BOLTED = 2 * GRID
LEAST_RUN = 4 * GRID
#: So near to a terminal a drop means the line that ends there.
_NEAR_END = 8.0


@dataclass(frozen=True)
class Shape:
    """How an item is drawn when its place is (0, 0): its terminals and the box around symbol and words."""

    terminals: dict[str, Point]
    box: Box
    picture: Picture


@lru_cache(maxsize=64)
def shape_of(kind: str, values: tuple[tuple[str, Any], ...] = (), symbols: str = "us") -> Shape:
    """The shape of a kind of item, from the same picture builder that the sheet uses."""
    drawing, item_id = edits.add(Drawing(), kind, place=Place(0.0, 0.0), **dict(values))
    picture = build_picture(drawing, None, "proposed", symbols)
    terminals = {t: at for (i, t), at in picture.terminals.items() if i == item_id}
    return Shape(terminals, picture.box, picture)


def segments(group: Group) -> list[tuple[Point, Point]]:
    """The straight pieces of a group's strokes."""
    found: list[tuple[Point, Point]] = []
    for p in group.primitives:
        found.extend(pairwise(getattr(p, "points", ())))
    return found


def on_grid(x: float, y: float) -> Place:
    """The grid point nearest to a point."""
    return Place(round(x / GRID) * GRID, round(y / GRID) * GRID)


def settled(drawing: Drawing, wanted: Iterable[str] | None = None) -> Drawing:
    """The drawing with every item where it is shown: places that the layout found become the items' own.

    Without this the layout would move the others as soon as one item gets a place of its own.
    """
    loose = [i for i in drawing.items.values() if not isinstance(i, Connection) and i.place is None]
    if not loose:
        return drawing
    places = placed(drawing)
    chosen = None if wanted is None else set(wanted)
    return drawing.with_items([replace(i, place=places[i.id]) for i in loose if chosen is None or i.id in chosen])


# --------------------------------------------------------------------------------------------------------- placing
def place_free(drawing: Drawing, what: Placeable, at: Point, status: str = "existing") -> tuple[Drawing, str]:
    """Put a new item at a point, or at the nearest place where it lies on nothing; joined to nothing."""
    name = edits.free_name(drawing, what.title)
    drawing, new_id = edits.add(
        settled(drawing), what.kind, name=name, status=status, place=on_grid(*at), **what.values
    )
    return room.nearest_free(drawing, new_id), new_id


def place_beside_all(drawing: Drawing, what: Placeable, status: str = "existing") -> tuple[Drawing, str]:
    """Put a new item on free paper, joined to nothing: right of everything."""
    drawing, new_id = _added(drawing, what, status)
    return settled(drawing), new_id


def place_at_item(
    drawing: Drawing, picture: Picture, target_id: str, what: Placeable, status: str = "existing", symbols: str = "us"
) -> tuple[Drawing, str]:
    """Put a new item where the target says: into a line, above an item that wants a source, else below it; connected.

    A utility service is joined only where a source is wanted; elsewhere it is put down on free paper.
    """
    target = drawing.get(target_id)
    if isinstance(target, Connection):
        return place_in_line(drawing, picture, target, what, status, symbols)
    if what.kind in SOURCE_KINDS:
        free = _wants_source(drawing, target_id, what)
        if free is not None:
            return _hang(drawing, free, what, status, upward=True)
        if what.kind == "service" or target.kind in SOURCE_KINDS:
            return place_beside_all(drawing, what, status)
    return _hang(drawing, downward_end(drawing, target_id), what, status, upward=False)


def _wants_source(drawing: Drawing, target_id: str, what: Placeable) -> End | None:
    """The terminal of an item where a source could be joined from above."""
    target = drawing.get(target_id)
    if target.kind in SOURCE_KINDS:
        return None
    free = upward_end(drawing, target_id)
    if isinstance(target, TransferSwitch) and free is not None and what.kind != "service":
        alternate = End(target_id, "alternate")
        taken = any(alternate in (c.a, c.b) for c in drawing.connections_of(target_id))
        return free if taken else alternate
    return free


def _added(drawing: Drawing, what: Placeable, status: str) -> tuple[Drawing, str]:
    """The settled drawing with a new item that has no place yet."""
    name = edits.free_name(drawing, what.title)
    return edits.add(settled(drawing), what.kind, name=name, status=status, **what.values)


def _hang(drawing: Drawing, end: End, what: Placeable, status: str, upward: bool) -> tuple[Drawing, str]:
    probe = KINDS[what.kind](id="?", **what.values)
    terminal = probe.terminals[0] if upward else entering_terminal(probe, drawing.get(end.item))
    before = settled(drawing)
    drawing, new_id = _added(before, what, status)
    mine = End(new_id, terminal)
    upper, lower = (mine, end) if upward else (end, mine)
    kind = connection_kind(drawing, upper, lower)
    drawing, _ = edits.connect(drawing, upper, lower, kind=kind, status=status)
    drawing = settled(drawing)
    if upward and isinstance(drawing.get(end.item), TransferSwitch):
        return room.bring_source(before, drawing, new_id, end), new_id
    return room.make_room(before, drawing, [new_id]), new_id


# ------------------------------------------------------------------------------------------------------ into a line
def line_at_end(drawing: Drawing, picture: Picture, what: Placeable, target_id: str, at: Point) -> Connection | None:
    """The line that an item dropped near the end of a device belongs into: the only one at that terminal.

    ``None`` in the middle of a device, at a bus, where nothing or several things are connected, and for what has one end.
    """
    target = drawing.get(target_id)
    if isinstance(target, Connection | Bus) or len(target.terminals) < 2:
        return None
    probe = KINDS[what.kind](id="?", **what.values)
    if len(probe.terminals) < 2 and not isinstance(probe, Bus):
        return None
    ends = {t: picture.terminals[target_id, t] for t in target.terminals if (target_id, t) in picture.terminals}
    if not ends:
        return None
    nearest = min(ends, key=lambda t: math.dist(ends[t], at))
    if math.dist(ends[nearest], at) > _NEAR_END:
        return None
    lines = [c for c in drawing.connections_of(target_id) if End(target_id, nearest) in (c.a, c.b)]
    fits = [c for c in lines if isinstance(c, ConductorRun | Joint) and c.id in picture.routes]
    return fits[0] if len(lines) == 1 and fits else None


def place_in_line(
    drawing: Drawing, picture: Picture, line: Connection, what: Placeable, status: str, symbols: str,
    at: Point | None = None,
) -> tuple[Drawing, str]:  # fmt: skip
    """Put a new two-ended item or bus into a line, near ``at``; what is below moves down when the line is too short."""
    before = drawing = settled(drawing)
    shape = shape_of(what.kind, tuple(sorted(what.values.items())), symbols)
    drawing, place = make_room(drawing, picture, line, shape, at)
    name = edits.free_name(drawing, what.title)
    drawing, new_id = edits.add(drawing, what.kind, name=name, status=status, place=place, **what.values)
    drawing, _ = edits.split_run(drawing, line.id, new_id)
    drawing = room.make_room(before, drawing, [*Walker(drawing, picture).below(new_id), new_id])
    for conn in drawing.connections_of(new_id):
        if isinstance(conn, ConductorRun):
            drawing = room.lengthen(drawing, conn.id)
    return drawing, new_id


def make_room(
    drawing: Drawing, picture: Picture, line: Connection, shape: Shape, at: Point | None = None
) -> tuple[Drawing, Place]:
    """Where a shape goes in a line, and the drawing with enough room for it there."""
    route = picture.routes.get(line.id, ())
    if len(route) < 2 or line.b is None:
        return drawing, on_grid(*(at or (0.0, 0.0)))
    upper, lower = (route[0], route[-1]) if route[0][1] <= route[-1][1] else (route[-1], route[0])
    below = line.b.item if route[0][1] <= route[-1][1] else line.a.item
    heights = [y for _, y in shape.terminals.values()] or [0.0]
    top, height = min(heights), max(heights) - min(heights)
    least_up = BOLTED if isinstance(line, Joint) else LEAST_RUN
    least_down = LEAST_RUN if height else BOLTED
    deficit = least_up + height + least_down - (lower[1] - upper[1])
    if deficit > 0:
        drawing = _moved(drawing, picture, below, 0.0, -(-deficit // GRID) * GRID)
        lower = (lower[0], lower[1] + deficit)
    x = lower[0] if at is None else _x_at(route, at)
    wanted = upper[1] + least_up if at is None else at[1] - height / 2
    y = min(max(wanted, upper[1] + least_up), max(upper[1] + least_up, lower[1] - least_down - height))
    offset = next(iter(shape.terminals.values()), (0.0, 0.0))[0]
    if offset and len(shape.terminals) == 3:
        drawing = _moved(drawing, picture, below, -offset, 0.0)
    return drawing, on_grid(x - offset, y - top)


def _moved(drawing: Drawing, picture: Picture, item_id: str, dx: float, dy: float) -> Drawing:
    """Everything fed through an item, itself included, moved by whole grid squares."""
    ids = [i for i in [item_id, *Walker(drawing, picture).below(item_id)] if not isinstance(drawing.get(i), Connection)]
    places = {i: drawing.get(i).place for i in ids}
    return edits.move(drawing, {i: Place(p.x + dx, p.y + dy) for i, p in places.items() if p is not None})


def _x_at(route: tuple[Point, ...], at: Point) -> float:
    """Where the line is, sideways, nearest to a point."""
    points = (_nearest_on(at, piece) for piece in pairwise(route))
    return min(points, key=lambda p: (p[0] - at[0]) ** 2 + (p[1] - at[1]) ** 2)[0]


def _nearest_on(p: Point, piece: tuple[Point, Point]) -> Point:
    (ax, ay), (bx, by) = piece
    dx, dy = bx - ax, by - ay
    length = dx * dx + dy * dy
    t = 0.0 if length == 0 else max(0.0, min(1.0, ((p[0] - ax) * dx + (p[1] - ay) * dy) / length))
    return ax + t * dx, ay + t * dy
