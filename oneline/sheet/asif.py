"""What the sheet shows besides the drawing as it stands: positions tried, a work zone, its isolation points and tests."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from types import MappingProxyType

from oneline.model import Disconnect, Item, TransferSwitch
from oneline.network.live import LiveState
from oneline.outage.results import Plan
from oneline.sheet.display import Group, Point, Stroke
from oneline.sheet.routing import Route
from oneline.sheet.shapes import Box, Shape

VERIFIED = "verified dead"
_EMPTY: Mapping[str, str] = MappingProxyType({})
#: From the symbols and lines of a work zone to its edge.
_AROUND, _BESIDE = 3.5, 4.0
#: From a device moved as if to the dashed frame around it.
_FRAME = 3.0


@dataclass(frozen=True)
class Shown:
    """``live``: the state that is drawn in place of the study's, by the positions in it.

    ``zone``: items to be worked on. ``locks``: {item: lock number} planned at isolation points; ``hung``: of locks on
    record. ``verified``: items that a person tested dead, while nothing is tried.
    """

    live: LiveState | None = None
    zone: frozenset[str] = frozenset()
    locks: Mapping[str, str] = field(default_factory=lambda: _EMPTY)
    hung: Mapping[str, str] = field(default_factory=lambda: _EMPTY)
    verified: frozenset[str] = frozenset()


def shown_of(live: LiveState | None, plan: Plan | None, tried: bool) -> Shown:
    """What is to be shown of a live state and an outage. ``tried``: whether positions are tried, or steps rehearsed."""
    if plan is None:
        return Shown(live)
    zone = plan.answer.zone
    points = plan.isolation.held if plan.isolation is not None else ()
    return Shown(
        live,
        frozenset(zone.items),
        {p.item: p.lock or "lock" for p in points},
        {lock.item: lock.number or "lock" for lock in zone.locks},
        frozenset(i for i, state in plan.states.items() if state == VERIFIED) if not tried else frozenset(),
    )


def as_tried(item: Item, live: LiveState | None) -> Item:
    """The item in the position that is tried."""
    if live is None or not live.positions:
        return item
    if isinstance(item, Disconnect):
        closed = live.positions.get(item.id, item.closed)
        return item if closed == item.closed else replace(item, closed=closed)
    if isinstance(item, TransferSwitch):
        keys = {side: f"{item.id}/{side}" for side in ("normal", "alternate")}
        if not any(key in live.positions for key in keys.values()):
            return item
        closed_side = next((s for s, key in keys.items() if live.positions.get(key, item.position == s)), "off")
        return item if closed_side == item.position else replace(item, position=closed_side)
    return item


def tried_words(item: Item, tried: Item) -> str:
    """ "as if open" of a device that is tried in another position than it stands in, else ""."""
    if isinstance(tried, Disconnect) and isinstance(item, Disconnect) and tried.closed != item.closed:
        return "as if closed" if tried.closed else "as if open"
    if isinstance(tried, TransferSwitch) and isinstance(item, TransferSwitch) and tried.position != item.position:
        return f"as if {tried.position}"
    return ""


def tried_frame(box: Box) -> Stroke:
    """The dashed frame around a device that is shown in a position it does not stand in."""
    return Stroke(_corners(box, _FRAME), "thin", "possible", "accent", True)


def zone_group(items: Iterable[str], shapes: Mapping[str, Shape], routes: Mapping[str, Route]) -> Group | None:
    """The ground and the dashed edge of a work zone, to be painted below everything."""
    prims: list[Stroke] = []
    for item_id in items:
        if item_id in shapes:
            prims.append(Stroke(_corners(shapes[item_id].box, _AROUND), "thin", "zone", "zone", True, "fill-zone"))
        elif item_id in routes:
            prims.append(Stroke(_band(routes[item_id].points), "thin", "zone", "zone", True, "fill-zone"))
    if not prims:
        return None
    xs, ys = [x for p in prims for x, _ in p.points], [y for p in prims for _, y in p.points]
    return Group("", "frame", tuple(prims), (min(xs) - 1, min(ys) - 1, max(xs) + 1, max(ys) + 1))


def _corners(box: Box, air: float) -> tuple[Point, ...]:
    left, top, right, bottom = box[0] - air, box[1] - air, box[2] + air, box[3] + air
    return ((left, top), (right, top), (right, bottom), (left, bottom))


def _band(points: Sequence[Point]) -> tuple[Point, ...]:
    """The outline of a band along an orthogonal line."""
    corners = [p for n, p in enumerate(points) if n == 0 or p != points[n - 1]]
    if len(corners) < 2:
        return _corners((*corners[0], *corners[0]), _BESIDE)
    ways = [_normal(p, q) for p, q in itertools.pairwise(corners)]
    sides: tuple[list[Point], list[Point]] = ([], [])
    for n, (x, y) in enumerate(corners):
        before, after = ways[max(n - 1, 0)], ways[min(n, len(ways) - 1)]
        # At a corner both normals add up to the corner of the outline; along a straight line they are one.
        dx = before[0] if before == after else before[0] + after[0]
        dy = before[1] if before == after else before[1] + after[1]
        for side, sign in zip(sides, (1, -1), strict=True):
            side.append((x + sign * _BESIDE * dx, y + sign * _BESIDE * dy))
    return (*sides[0], *reversed(sides[1]))


def _normal(p: Point, q: Point) -> Point:
    length = abs(q[0] - p[0]) + abs(q[1] - p[1])
    return (-(q[1] - p[1]) / length, (q[0] - p[0]) / length)
