"""Orthogonal lines between terminals: straight where aligned, in lanes of their own elsewhere, around everything."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from oneline.model import Bus, Connection, Drawing, End, Joint, SuspectedTie
from oneline.sheet.display import Point
from oneline.sheet.search import Effort, Lanes, lane_after, search
from oneline.sheet.shapes import BAR_OVERHANG, GRID, OPEN_TIE_STEP, Box, Shape
from oneline.sheet.tracks import LABEL_AIR, SYMBOL_AIR, Obstacles, Tracks

_BEND_COST = 18.0
_CROSSING_COST = 40.0
_EDGE = 10.0
#: Length of the line of a tie to an unknown place, up to its question mark.
OPEN_TIE_LENGTH = 18.0
#: Lines of the last pictures by everything they depend on: most edits move nothing.
_remembered: list[tuple[object, dict[str, tuple[tuple[Point, ...], frozenset[object]]]]] = []


@dataclass(frozen=True)
class Route:
    """The line of one connection from its end ``a`` to its end ``b``; ``keys`` are the terminals it starts from."""

    connection: Connection
    points: tuple[Point, ...]
    keys: frozenset[object]


@dataclass(frozen=True)
class Landing:
    """Where a line meets a terminal: the point on the symbol's edge, the way it leaves, and the inner point of a bar.

    ``instead``: a place on the other side of the bar, for a line that finds no way from here.
    """

    edge: Point
    way: int
    inner: Point
    item: str
    instead: Landing | None = None


def route_all(
    drawing: Drawing,
    shapes: Mapping[str, Shape],
    landings: Mapping[str, tuple[Landing, Landing | None]],
    labels: Sequence[tuple[Box, str]],
) -> dict[str, Route]:
    """Lines for all joints, runs and ties whose ends are placed, by connection id in the drawing's order.

    ``labels``: boxes no line may cross, with their owners.
    """
    key = (
        tuple(landings.items()), tuple((k, s.box) for k, s in shapes.items()), tuple(labels),
        tuple((k, c.bends) for k, c in drawing.items.items() if isinstance(c, Connection) and c.bends),
    )  # fmt: skip
    for known, lines in _remembered:
        if known == key:
            return {k: Route(_connection(drawing, k), p, ends) for k, (p, ends) in lines.items()}
    obstacles, symbols_only = Obstacles(), Obstacles()
    for item_id, shape in shapes.items():
        obstacles.add(shape.box, item_id, SYMBOL_AIR)
        symbols_only.add(shape.box, item_id, SYMBOL_AIR)
    for box, owner in labels:
        obstacles.add(box, owner + "/label", LABEL_AIR)
    tracks = Tracks()
    around = (Lanes(obstacles), Lanes(symbols_only))
    effort = Effort()
    jobs = sorted(landings.items(), key=lambda job: _difficulty(job[1]))
    done: dict[str, Route] = {}
    for conn_id, (start, stop) in jobs:
        conn = _connection(drawing, conn_id)
        keys = frozenset(
            (e.item, e.terminal)
            for e in (conn.a, conn.b)
            if e is not None and not isinstance(drawing.items[e.item], Bus)
        )
        if conn.bends:
            points = _through(start, [(p.x, p.y) for p in conn.bends], stop)
        elif stop is None:
            points = (start.edge, open_end(start))
        else:
            start, stop, points = _first_found(start, stop, keys, around, tracks, effort)
        tracks.add(points, keys)
        done[conn_id] = Route(conn, _with_inner(points, start, stop), keys)
    done = {c.id: done[c.id] for c in drawing.connections() if c.id in done}
    _remembered.insert(0, (key, {k: (r.points, r.keys) for k, r in done.items()}))
    del _remembered[4:]
    return done


def _connection(drawing: Drawing, conn_id: str) -> Connection:
    conn = drawing.items[conn_id]
    assert isinstance(conn, Connection)
    return conn


# ------------------------------------------------------------------------------------------------------- landings
def land_all(drawing: Drawing, shapes: Mapping[str, Shape]) -> dict[str, tuple[Landing, Landing | None]]:
    """Where each connection meets its two ends."""
    ends: dict[tuple[str, str], Landing] = {}
    by_bus: dict[str, list[tuple[Connection, str]]] = {}
    wanted: list[Connection] = []
    for conn in drawing.connections():
        if conn.a.item not in shapes or (conn.b is not None and conn.b.item not in shapes):
            continue
        wanted.append(conn)
        for side, end in (("a", conn.a), ("b", conn.b)):
            if end is None:
                continue
            shape = shapes[end.item]
            if shape.symbol.stretch:
                by_bus.setdefault(end.item, []).append((conn, side))
            else:
                at = shape.terminal(end.terminal)
                ends[conn.id, side] = Landing(at, shape.direction(end.terminal), at, end.item)
    for bus_id, conns in by_bus.items():
        for (conn_id, side), landing in _land_on_bar(shapes[bus_id], conns, shapes).items():
            ends[conn_id, side] = landing
    return {c.id: (ends[c.id, "a"], ends[c.id, "b"] if c.b is not None else None) for c in wanted}


def _land_on_bar(
    bar: Shape, conns: list[tuple[Connection, str]], shapes: Mapping[str, Shape]
) -> dict[tuple[str, str], Landing]:
    """Distribute connections along a bar: above each its own partner where possible, else the nearest free place."""
    left, right = bar.box[0] + _EDGE, bar.box[2] - _EDGE
    taken: dict[int, list[float]] = {-1: [], 1: []}
    out: dict[tuple[str, str], Landing] = {}
    asked: list[tuple[float, float, int, Connection, str]] = []
    open_ties = 0
    for conn, side in conns:
        far = conn.b if side == "a" else conn.a
        if far is None:
            open_ties += 1
            x = bar.box[2] - BAR_OVERHANG - OPEN_TIE_STEP * (open_ties - 1)
            asked.append((0.0, x, -1, conn, side))
            continue
        x, way = _partner(bar, shapes[far.item], far, conn)
        asked.append((max(0.0, left - x, x - right), x, way, conn, side))
    for off, x, way, conn, side in sorted(
        asked, key=lambda e: (e[0], not isinstance(e[3], Joint), abs(e[1] - bar.at[0]))
    ):
        x = _free_place(min(max(x, left), right), taken[way], left, right, inward=off > 0)
        taken[way].append(x)
        edge = (x, bar.box[1] if way < 0 else bar.box[3])
        out[conn.id, side] = Landing(edge, way, (x, bar.at[1]), bar.item.id)
    for off, x, way, conn, side in asked:
        if off > 0:
            x = _free_place(min(max(x, left), right), taken[-way], left, right, inward=True)
            taken[-way].append(x)
            edge = (x, bar.box[1] if way > 0 else bar.box[3])
            instead = Landing(edge, -way, (x, bar.at[1]), bar.item.id)
            out[conn.id, side] = replace(out[conn.id, side], instead=instead)
    return out


def _partner(bar: Shape, other: Shape, far: End, conn: Connection) -> tuple[float, int]:
    """x of the other end, and the side of the bar (-1 above, 1 below) that looks toward it."""
    if other.symbol.stretch:
        low, high = max(bar.box[0], other.box[0]), min(bar.box[2], other.box[2])
        x = (low + high) / 2 if low <= high else (other.box[0] + other.box[2]) / 2
        x = round(x / GRID) * GRID
        return x, 1 if other.at[1] > bar.at[1] else -1
    x, y = other.terminal(far.terminal)
    way = other.direction(far.terminal)
    if abs(y - bar.at[1]) < 2 * GRID:
        return x, way
    if way < 0:
        return x, 1 if y > bar.at[1] else -1
    return x, -1 if y < bar.at[1] else 1


def _free_place(x: float, taken: list[float], left: float, right: float, inward: bool) -> float:
    """The place nearest to x that no other connection has; where the bar is full, x itself."""
    for step in range(int((right - left) / GRID) + 2):
        for place in (x,) if step == 0 else (x - step * GRID, x + step * GRID):
            if left <= place <= right and all(abs(place - t) >= GRID - 1 for t in taken):
                return place
    return x


# ----------------------------------------------------------------------------------------------------- one route
def open_end(start: Landing) -> Point:
    """Where the line of a tie to an unknown place ends."""
    return (start.edge[0], start.edge[1] + start.way * OPEN_TIE_LENGTH)


def _difficulty(landing: tuple[Landing, Landing | None]) -> tuple[int, float]:
    start, stop = landing
    if stop is None:
        return (0, 0.0)
    dx, dy = abs(start.edge[0] - stop.edge[0]), abs(start.edge[1] - stop.edge[1])
    return (0 if dx == 0 and start.way != stop.way else 1, dx + dy)


def _first_found(
    start: Landing, stop: Landing, keys: frozenset[object], around: tuple[Lanes, Lanes], tracks: Tracks, effort: Effort
) -> tuple[Landing, Landing, tuple[Point, ...]]:
    """A line between the landings, or between their stand-ins, or as a last resort a simple line through things."""
    for one in (start, start.instead):
        for other in (stop, stop.instead):
            if one is not None and other is not None:
                points = _find(one, other, keys, around, tracks, effort)
                if points is not None:
                    return one, other, points
    lanes = around[1]
    own = (start.item, stop.item)
    found = search(start.edge, start.way, stop.edge, stop.way, own, keys, lanes, tracks, 500.0, effort)
    return start, stop, simplified(found) if found else _least_through(start, stop, lanes.obstacles)


def _least_through(start: Landing, stop: Landing, symbols: Obstacles) -> tuple[Point, ...]:
    """The simple line that passes through the fewest symbols."""
    own = (start.item, stop.item)
    return min(
        _patterns(start, stop), key=lambda line: sum(symbols.hit(p, q, own) for p, q in itertools.pairwise(line))
    )


def _find(
    start: Landing, stop: Landing, keys: frozenset[object], around: tuple[Lanes, Lanes], tracks: Tracks, effort: Effort
) -> tuple[Point, ...] | None:
    """A simple line where one is free, else the result of a search."""
    obstacles = around[0].obstacles
    own = (start.item, stop.item)
    best: tuple[float, tuple[Point, ...]] | None = None
    for points in _patterns(start, stop):
        cost = _cost(points)
        if best is not None and cost >= best[0]:
            continue
        pairs = list(itertools.pairwise(points))
        if any(obstacles.hit(p, q, own) or tracks.clashes(p, q, keys) for p, q in pairs):
            continue
        cost += _CROSSING_COST * sum(tracks.crossings(p, q, keys) for p, q in pairs)
        if best is None or cost < best[0]:
            best = (cost, points)
    if best is not None:
        return best[1]
    for margin in (120.0, 500.0):
        found = search(start.edge, start.way, stop.edge, stop.way, own, keys, around[0], tracks, margin, effort)
        if found:
            return simplified(found)
    return None


def _cost(points: Sequence[Point]) -> float:
    length = sum(abs(p[0] - q[0]) + abs(p[1] - q[1]) for p, q in itertools.pairwise(points))
    return length + _BEND_COST * (len(points) - 2)


def _patterns(start: Landing, stop: Landing) -> Iterator[tuple[Point, ...]]:
    """Simple lines from the first landing to the second, likely ones first; never empty."""
    (x0, y0), (x1, y1) = start.edge, stop.edge
    facing = start.way != stop.way and (y1 - y0) * start.way > 0
    if x0 == x1 and (facing or y0 == y1):
        yield (start.edge, stop.edge)
        return
    if facing:
        lane = lane_after(y0, start.way)
        while (y1 - lane) * start.way > 0:
            yield (start.edge, (x0, lane), (x1, lane), stop.edge)
            lane += start.way * GRID
        if (y1 - lane_after(y0, start.way)) * start.way <= 0:
            yield (start.edge, (x0, (y0 + y1) / 2), (x1, (y0 + y1) / 2), stop.edge)
        return
    if start.way == stop.way:
        lane = lane_after(max(y0, y1) if start.way > 0 else min(y0, y1), start.way)
        for _ in range(5):
            yield (start.edge, (x0, lane), (x1, lane), stop.edge)
            lane += start.way * GRID
        return
    a, b = lane_after(y0, start.way), lane_after(y1, stop.way)
    for x in (
        lane_after((x0 + x1) / 2, 1),
        lane_after(max(x0, x1) + 3 * GRID, 1),
        lane_after(min(x0, x1) - 3 * GRID, -1),
    ):
        yield (start.edge, (x0, a), (x, a), (x, b), (x1, b), stop.edge)


def _through(start: Landing, bends: list[Point], stop: Landing | None) -> tuple[Point, ...]:
    """A line over the user's own corners; corners are added where two of them are not in line."""
    points = [start.edge]
    vertical = True
    for target in [*bends, *([stop.edge] if stop else [])]:
        here = points[-1]
        if here[0] != target[0] and here[1] != target[1]:
            last = stop is not None and target == stop.edge
            corner = (here[0], target[1]) if vertical and not last else (target[0], here[1])
            points.append(corner)
        points.append(target)
        vertical = points[-2][0] != target[0]
    return simplified(points)


def simplified(points: Sequence[Point]) -> tuple[Point, ...]:
    """Without doubled points and without corners that do not turn."""
    out: list[Point] = []
    for p in points:
        if out and p == out[-1]:
            continue
        if len(out) > 1 and (out[-2][0] == out[-1][0] == p[0] or out[-2][1] == out[-1][1] == p[1]):
            out[-1] = p
        else:
            out.append(p)
    return tuple(out)


def _with_inner(points: tuple[Point, ...], start: Landing, stop: Landing | None) -> tuple[Point, ...]:
    full = [start.inner, *points, *([stop.inner] if stop else [])]
    out = simplified(full)
    return out if len(out) > 1 else (start.inner, start.inner)


# ------------------------------------------------------------------------------------------------ joints and jumps
def joint_dots(routes: Mapping[str, Route], buses: frozenset[str]) -> list[tuple[str, Point]]:
    """Dots: where a conductor lands on a bar, and where lines from one terminal part. (connection id, point)."""
    by_end: dict[End, list[tuple[str, tuple[Point, ...]]]] = {}
    dots: list[tuple[str, Point]] = []
    for conn_id, route in routes.items():
        conn = route.connection
        for end, points in ((conn.a, route.points), (conn.b, route.points[::-1])):
            if end is None:
                continue
            if end.item in buses:
                if not isinstance(conn, Joint | SuspectedTie):
                    dots.append((conn_id, points[0]))
            else:
                by_end.setdefault(end, []).append((conn_id, points))
    for lines in by_end.values():
        for n, (conn_id, points) in enumerate(lines[1:], 1):
            dots.append((conn_id, max((_parting(points, p) for _, p in lines[:n]), key=lambda e: e[0])[1]))
    return dots


def _parting(one: tuple[Point, ...], other: tuple[Point, ...]) -> tuple[float, Point]:
    """How long two lines from one point run together, and where they part."""
    length, here = 0.0, one[0]
    for p, q in itertools.pairwise(one):
        shared = 0.0
        step = math.dist(p, q)
        for a, b in itertools.pairwise(other):
            if _on(a, b, p):
                far = min((q, a, b), key=lambda e: (not (_on(a, b, e) and _on(p, q, e)), -math.dist(p, e)))
                if _on(a, b, far) and _on(p, q, far):
                    shared = max(shared, math.dist(p, far))
        here = (p[0] + (q[0] - p[0]) * shared / step, p[1] + (q[1] - p[1]) * shared / step) if step else p
        length += shared
        if shared < step:
            break
    return length, here


def _on(a: Point, b: Point, p: Point) -> bool:
    return min(a[0], b[0]) <= p[0] <= max(a[0], b[0]) and min(a[1], b[1]) <= p[1] <= max(a[1], b[1])


def jumps(routes: Mapping[str, Route]) -> dict[str, list[Point]]:
    """Points where a horizontal piece of a line crosses a vertical piece of one it is not connected to."""
    tracks: list[tuple[float, float, float, frozenset[object]]] = []
    for route in routes.values():
        for p, q in zip(route.points, route.points[1:], strict=False):
            if p[0] == q[0] and p[1] != q[1]:
                tracks.append((p[0], min(p[1], q[1]), max(p[1], q[1]), route.keys))
    tracks.sort(key=lambda t: t[:3])
    out: dict[str, list[Point]] = {}
    for conn_id, route in routes.items():
        for p, q in zip(route.points, route.points[1:], strict=False):
            if p[1] != q[1] or p[0] == q[0]:
                continue
            low, high = min(p[0], q[0]), max(p[0], q[0])
            for x, top, bottom, keys in tracks:
                if low < x < high and top < p[1] < bottom and not keys & route.keys:
                    out.setdefault(conn_id, []).append((x, p[1]))
    return out
