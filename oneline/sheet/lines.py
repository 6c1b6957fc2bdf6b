"""Groups of the lines: conductors, bolted connections and suspected ties, with dots, jumps, ticks and source tags."""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping

from oneline.model import Bus, ConductorRun, Connection, Drawing, Joint, SuspectedTie
from oneline.sheet.display import Arc, Group, Point, Primitive, Stroke
from oneline.sheet.labels import longest_piece, write_lines
from oneline.sheet.live import Energy, tag_row
from oneline.sheet.routing import Route, joint_dots, jumps
from oneline.sheet.shapes import Box
from oneline.sheet.status import status_look
from oneline.sheet.symbols import draw_symbol
from oneline.sheet.tracks import Tracks, meets
from oneline.sheet.wording import LINE_PITCH, tie_lines

JUMP_RADIUS = 4.0
DOT_RADIUS = 2.2
_TAG_EVERY = 240.0
_LEAST_FOR_TAG = 26.0
_TAG_APART = 135.0
_TICK_EVERY = 26.0
_QUESTION = 8.0


def line_groups(
    drawing: Drawing, routes: Mapping[str, Route], energy: Energy, ghosts: frozenset[str], symbols: str, tracks: Tracks
) -> list[Group]:
    """All groups of the lines, painted before the symbols; tags come in groups of their own."""
    crossings = jumps(routes)
    dots: dict[str, list[Point]] = {}
    buses = frozenset(b.id for b in drawing.of(Bus))
    for conn_id, point in joint_dots(routes, buses):
        dots.setdefault(conn_id, []).append(point)
    out: list[Group] = []
    near: list[tuple[str, Point]] = []
    for conn_id, route in routes.items():
        conn = route.connection
        ghost = conn_id in ghosts
        sources = None if ghost else energy.of_connection(drawing, conn)
        ink, dash = ("ghost", "solid") if ghost else energy.look(sources)
        prims = _line(conn, route.points, crossings.get(conn_id, []), ink, dash, ghost)
        dot_ink = "ghost" if ghost else ink
        prims += [Arc(p, DOT_RADIUS, weight="hair", ink=dot_ink, fill=dot_ink) for p in dots.get(conn_id, ())]
        if isinstance(conn, SuspectedTie):
            prims += _question(conn, route.points, symbols, "ghost" if ghost else "possible")
        out.append(Group(conn_id, "ghost" if ghost else "line", tuple(prims), _bounds(route.points)))
        if isinstance(conn, SuspectedTie) and conn.b is None:
            out.append(_open_tie_label(conn, route.points, ghost))
        elif isinstance(conn, ConductorRun) and not ghost:
            tags = energy.tags(sources or ())
            if energy.possible(conn_id):
                tags.append(("?", "possible"))
            if tags:
                out += _tags(conn_id, route.points, tags, near, tracks)
    return out


def _line(
    conn: Connection, points: tuple[Point, ...], crossings: list[Point], ink: str, dash: str, ghost: bool
) -> list[Primitive]:
    look = status_look(conn.status)
    if isinstance(conn, SuspectedTie):
        weight, pattern, ink = "thin", "interlock", ink if ghost else "possible"
    else:
        weight = look.weight
        pattern = look.dash if look.dash != "solid" else dash
        if look.ink and ink in ("ink", "dead"):
            ink = look.ink
    prims: list[Primitive] = []
    part = [points[0]]
    for p, q in itertools.pairwise(points):
        on_piece = [c for c in crossings if p[1] == q[1] == c[1] and min(p[0], q[0]) < c[0] < max(p[0], q[0])]
        step = 1 if q[0] > p[0] else -1
        for x, y in sorted(on_piece, key=lambda c: c[0] * step):
            part.append((x - step * JUMP_RADIUS, y))
            prims.append(Stroke(tuple(part), weight, pattern, ink))
            prims.append(Arc((x, y), JUMP_RADIUS, 0, 180, weight, "solid", ink))
            part = [(x + step * JUMP_RADIUS, y)]
        part.append(q)
    prims.append(Stroke(tuple(part), weight, pattern, ink))
    if look.ticks and not isinstance(conn, Joint):
        prims += _ticks_along(points, ink)
    return prims


def _ticks_along(points: tuple[Point, ...], ink: str) -> list[Primitive]:
    out: list[Primitive] = []
    for p, q in itertools.pairwise(points):
        length = abs(p[0] - q[0]) + abs(p[1] - q[1])
        count = int(length // _TICK_EVERY)
        for k in range(count):
            t = (k + 0.5) / count
            x, y = p[0] + (q[0] - p[0]) * t, p[1] + (q[1] - p[1]) * t
            out.append(Stroke(((x - 2.5, y - 2.5), (x + 2.5, y + 2.5)), "thin", "solid", ink))
            out.append(Stroke(((x - 2.5, y + 2.5), (x + 2.5, y - 2.5)), "thin", "solid", ink))
    return out


def _question(tie: SuspectedTie, points: tuple[Point, ...], symbols: str, ink: str) -> list[Primitive]:
    """The question mark of a suspected tie: at its open end, or in the middle of the line."""
    if tie.b is None:
        at = _beyond(points)
    else:
        p, q = longest_piece(points)
        at = ((p[0] + q[0]) / 2, (p[1] + q[1]) / 2)
    return list(draw_symbol(symbols, "tie", at, ink=ink))


def _beyond(points: tuple[Point, ...]) -> Point:
    """Middle of the question mark beyond the open end of a line."""
    (_, y0), (x, y1) = points[-2], points[-1]
    return (x, y1 + math.copysign(_QUESTION, y1 - y0))


def open_tie_boxes(tie: SuspectedTie, points: tuple[Point, ...]) -> tuple[Box, Box]:
    """Boxes of the question mark and of the label of a tie to an unknown place."""
    x, y = _beyond(points)
    lines = tie_lines(tie)
    width, height = max(line.width for line in lines), LINE_PITCH * len(lines)
    mark = (x - _QUESTION, y - _QUESTION, x + _QUESTION, y + _QUESTION)
    return mark, (x + 13, y - height / 2, x + 13 + width, y + height / 2)


def _open_tie_label(tie: SuspectedTie, points: tuple[Point, ...], ghost: bool) -> Group:
    box = open_tie_boxes(tie, points)[1]
    prims = write_lines(tie_lines(tie), box[0], box[1], "ghost" if ghost else "")
    return Group(tie.id, "ghost" if ghost else "label", tuple(prims), box)


def _tags(
    conn_id: str, points: tuple[Point, ...], tags: list[tuple[str, str]], near: list[tuple[str, Point]], tracks: Tracks
) -> list[Group]:
    """Source tags on the longest piece of a line, repeated on every very long one.

    ``near``: tags set so far; none is repeated close above or below in one column. New ones are added.
    """
    out: list[Group] = []
    text = " ".join(t for t, _ in tags)
    pieces = list(itertools.pairwise(points))
    longest = max(abs(p[0] - q[0]) + abs(p[1] - q[1]) for p, q in pieces)
    for p, q in pieces:
        length = abs(p[0] - q[0]) + abs(p[1] - q[1])
        if length < _LEAST_FOR_TAG or (length < longest and length < _TAG_EVERY):
            continue
        count = max(1, round(length / _TAG_EVERY))
        for k in range(count):
            t = (k + 0.5) / count
            at = (p[0] + (q[0] - p[0]) * t, p[1] + (q[1] - p[1]) * t)
            if any(text == n and abs(at[0] - x) < 1 and abs(at[1] - y) < _TAG_APART for n, (x, y) in near):
                continue
            near.append((text, at))
            prims, box = _off_crossings(at, p, q, tags, tracks)
            out.append(Group(conn_id, "tag", prims, box))
    return out


def _off_crossings(
    at: Point, p: Point, q: Point, tags: list[tuple[str, str]], tracks: Tracks
) -> tuple[tuple[Primitive, ...], Box]:
    """Tags at a point of the piece p-q, or as near to it as no other line crosses them."""
    upright = p[0] == q[0]
    first = tag_row(at, tags, upright)
    low, high = (min(p[1], q[1]), max(p[1], q[1])) if upright else (min(p[0], q[0]), max(p[0], q[0]))
    for shift in (0, 8, -8, 16, -16, 24, -24):
        prims, box = tag_row((at[0], at[1] + shift) if upright else (at[0] + shift, at[1]), tags, upright)
        inside = (box[1] >= low and box[3] <= high) if upright else (box[0] >= low and box[2] <= high)
        if inside and not any((a[0] == b[0]) != upright and meets(box, a, b) for a, b, _ in tracks.near(box)):
            return prims, box
    return first


def _bounds(points: tuple[Point, ...]) -> Box:
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    return (min(xs) - 3, min(ys) - 3, max(xs) + 3, max(ys) + 3)
