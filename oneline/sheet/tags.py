"""Codes of the sources on everything that is live: on each line at least once, never left out for want of room.

Tags are set after the labels. Each looks for a place on its line that covers nothing; where a line has none, beside it;
and at last at the end of its longest piece where it covers least, for a missing code could be read as a dead line.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping

from oneline.model import Bus, ConductorRun, Drawing, End, Joint
from oneline.sheet.display import Group, Point
from oneline.sheet.labels import with_air
from oneline.sheet.live import TAG_AIR, TAG_HEIGHT, Energy, row_box, row_width, tag_row
from oneline.sheet.routing import Route
from oneline.sheet.shapes import Box, Shape
from oneline.sheet.tracks import Obstacles, Tracks, meets

#: Codes are repeated about this often along a line.
_EVERY = 120.0
#: Places are tried in steps of this along a line.
_STEP = 4.0
#: Air around a tag: wanted, and the least.
_AIRS = (TAG_AIR, 1.5)
_LEAST_TAGGED_BAR = 100.0
#: From the end of a bar to the tag inside it.
_INSET = 3.5


class Tagger:
    """Sets the tags of one picture. ``obstacles``: symbols, labels, rooms of marks; the tags set are added to it.

    ``labels``: boxes of the labels of lines, which a tag stands above or below rather than beside.
    """

    def __init__(
        self, drawing: Drawing, shapes: Mapping[str, Shape], routes: Mapping[str, Route], energy: Energy,
        ghosts: frozenset[str], obstacles: Obstacles, tracks: Tracks, labels: Mapping[str, Box],
    ) -> None:  # fmt: skip
        self.drawing, self.shapes, self.routes, self.energy, self.ghosts = drawing, shapes, routes, energy, ghosts
        self.obstacles, self.tracks, self.labels = obstacles, tracks, labels
        self.groups: list[Group] = []

    def all(self) -> list[Group]:
        """Tags of sources, bars and conductors, then of what no tag tells about yet."""
        if self.energy.result is None:
            return []
        told: set[End] = set()
        for item_id, shape in self.shapes.items():
            if item_id not in self.ghosts and self._on_item(shape):
                told.add(End(item_id, shape.item.terminals[0]))
        for conn_id, route in self.routes.items():
            tags = self._tags_of(conn_id) if isinstance(route.connection, ConductorRun) else []
            if tags:
                self._along(conn_id, route.points, tags)
                told.update(e for e in (route.connection.a, route.connection.b) if e is not None)
        self._untold(told)
        return self.groups

    def _tags_of(self, conn_id: str) -> list[tuple[str, str]]:
        if conn_id in self.ghosts:
            return []
        conn = self.routes[conn_id].connection
        sources = self.energy.of_connection(self.drawing, conn)
        return self.energy.tags(sources or (), self.energy.maybe(conn))

    def _add(self, item_id: str, at: Point, tags: list[tuple[str, str]]) -> None:
        prims, box = tag_row(at, tags)
        self.groups.append(Group(item_id, "tag", prims, box))
        self.obstacles.add(box, item_id + "/tag", 0.0)

    # -------------------------------------------------------------------------------------------------------- items
    def _on_item(self, shape: Shape) -> bool:
        """Beside each source its own code; in a long bar those of all that reach it."""
        item = shape.item
        if item.id in self.energy.codes:
            tags = self.energy.tags((item.id,))
            aside = TAG_AIR + row_width(tags) / 2
            self._add(item.id, (shape.box[0] - aside, (shape.box[1] + shape.box[3]) / 2 + 3), tags)
            return True
        if isinstance(item, Bus) and shape.width >= _LEAST_TAGGED_BAR:
            return self._in_bar(shape)
        return False

    def _in_bar(self, shape: Shape) -> bool:
        tags = self.energy.tags(self.energy.sides(shape.item).get("bus", ()), self.energy.maybe(shape.item))
        if tags:
            self._add(shape.item.id, (shape.box[0] + _INSET + row_width(tags) / 2, shape.at[1]), tags)
        return bool(tags)

    # -------------------------------------------------------------------------------------------------------- lines
    def _along(self, conn_id: str, points: tuple[Point, ...], tags: list[tuple[str, str]]) -> None:
        """Tags on a line: one on its longest piece, and more so that every stretch of it has one."""
        pieces = sorted(itertools.pairwise(points), key=lambda s: -_length(*s))
        done = False
        for p, q in pieces:
            length = _length(p, q)
            if done and length < _EVERY:
                break
            count = max(1, int(length // _EVERY))
            for k in range(count):
                low, high = k / count * length, (k + 1) / count * length
                at = self._place(conn_id, p, q, (low, high), tags)
                if at is not None:
                    self._add(conn_id, at, tags)
                    done = True
        for p, q in pieces if not done else ():
            at = self._place(conn_id, p, q, (0.0, _length(p, q)), tags)
            if at is not None:
                self._add(conn_id, at, tags)
                return
        if not done:
            self._add(conn_id, self._beside(points, tags) or self._anyhow(points, tags), tags)

    def _place(
        self, conn_id: str, p: Point, q: Point, part: tuple[float, float], tags: list[tuple[str, str]]
    ) -> Point | None:
        """The place nearest to the middle of a part of the piece p-q where tags cover nothing, if there is one; level
        with the line's own label only where there is no other."""
        label, level = self.labels.get(conn_id), None
        for air in _AIRS:
            for at in _steps(p, q, part):
                box = with_air(row_box(at, tags), air)
                if self.obstacles.free(box) and not self._crossed(box, p, q):
                    if label is None or box[3] <= label[1] or box[1] >= label[3] or p[1] == q[1]:
                        return at
                    level = level or at
        return level

    def _beside(self, points: tuple[Point, ...], tags: list[tuple[str, str]]) -> Point | None:
        """The place beside a line, close to the middle of a long piece, where tags touch nothing, if there is one."""
        across = row_width(tags) / 2 + TAG_AIR
        for air in _AIRS:
            for p, q in sorted(itertools.pairwise(points), key=lambda s: -_length(*s)):
                upright = p[0] == q[0]
                aside = across if upright else TAG_HEIGHT / 2 + TAG_AIR
                for x, y in _steps(p, q, (0.0, _length(p, q))):
                    for shift in (-aside, aside):
                        at = (x + shift, y) if upright else (x, y + shift)
                        box = with_air(row_box(at, tags), min(air, TAG_AIR - 0.5))
                        if self.obstacles.free(box) and not self.tracks.touched(row_box(at, tags)):
                            return at
        return None

    def _crossed(self, box: Box, p: Point, q: Point) -> bool:
        """Whether a line that does not run along the piece p-q passes a box."""
        upright = p[0] == q[0]
        own = p[0] if upright else p[1]
        return any(
            meets(box, a, b) and ((a[0] == b[0]) != upright or abs((a[0] if upright else a[1]) - own) > 1)
            for a, b, _ in self.tracks.near(box)
        )

    def _anyhow(self, points: tuple[Point, ...], tags: list[tuple[str, str]]) -> Point:
        """Close beside the line where that is free, else on it where the tags cover least."""
        aside = row_width(tags) / 2 + 2
        places: list[tuple[float, int, Point]] = []
        for p, q in itertools.pairwise(points):
            upright = p[0] == q[0]
            for at in _steps(p, q, (0.0, _length(p, q))):
                besides = (-aside, aside) if upright else (-TAG_HEIGHT / 2 - 2, TAG_HEIGHT / 2 + 2)
                for shift in (0.0, *besides):
                    here = (at[0] + shift, at[1]) if upright else (at[0], at[1] + shift)
                    box = row_box(here, tags)
                    covered = sum(_shared(box, other) for other, _ in self.obstacles.near(box))
                    covered += 4.0 * self._crossed(box, p, q)
                    places.append((covered, len(places), here))
        return min(places)[2] if places else points[0]

    # -------------------------------------------------------------------------------------------------------- the rest
    def _untold(self, told: set[End]) -> None:
        """Bars and devices that are only bolted to each other: their codes stand in the bar, or on a bolted line."""
        leader: dict[End, End] = {}

        def lead(end: End) -> End:
            while (up := leader.get(end, end)) != end:
                end = up
            return end

        joints = [
            c for c in self.drawing.of(Joint) if c.b is not None and c.id in self.routes and c.id not in self.ghosts
        ]
        for conn in joints:
            assert conn.b is not None
            leader[lead(conn.a)] = lead(conn.b)
        known = {lead(e) for e in told}
        for item_id, shape in self.shapes.items():
            end = End(item_id, "bus")
            if (
                isinstance(shape.item, Bus)
                and item_id not in self.ghosts
                and lead(end) not in known
                and self._in_bar(shape)
            ):
                known.add(lead(end))
        for conn in sorted(
            joints, key=lambda c: -sum(itertools.starmap(_length, itertools.pairwise(self.routes[c.id].points)))
        ):
            tags = self._tags_of(conn.id) if lead(conn.a) not in known else []
            if tags:
                known.add(lead(conn.a))
                self._along(conn.id, self.routes[conn.id].points, tags)


def _length(p: Point, q: Point) -> float:
    return abs(p[0] - q[0]) + abs(p[1] - q[1])


def _steps(p: Point, q: Point, part: tuple[float, float]) -> Iterator[Point]:
    """Points of a part of the piece p-q from the middle of the part outward; tags at them do not pass its ends much."""
    length = _length(p, q)
    dx, dy = ((q[0] - p[0]) / length, (q[1] - p[1]) / length) if length else (0.0, 0.0)
    middle, room = (part[0] + part[1]) / 2, max(0.0, (part[1] - part[0]) / 2 - TAG_HEIGHT / 2)
    for k in range(int(room / _STEP) + 1):
        for s in (middle + k * _STEP, middle - k * _STEP) if k else (middle,):
            yield (p[0] + dx * s, p[1] + dy * s)


def _shared(a: Box, b: Box) -> float:
    """Area two boxes have in common."""
    return max(0.0, min(a[2], b[2]) - max(a[0], b[0])) * max(0.0, min(a[3], b[3]) - max(a[1], b[1]))
