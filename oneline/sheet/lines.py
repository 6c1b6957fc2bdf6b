"""Groups of the lines: conductors, bolted connections and suspected ties, with dots, jumps and ticks."""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping

from oneline.model import Bus, Connection, Drawing, Joint, SuspectedTie
from oneline.sheet.display import Arc, Group, Point, Primitive, Stroke
from oneline.sheet.labels import write_lines
from oneline.sheet.live import Energy, dead_line
from oneline.sheet.routing import Route, joint_dots, jumps
from oneline.sheet.shapes import Box
from oneline.sheet.status import status_look
from oneline.sheet.symbols import draw_symbol
from oneline.sheet.tracks import Obstacles, Tracks, meets
from oneline.sheet.wording import LINE_PITCH, tie_lines

JUMP_RADIUS = 4.0
DOT_RADIUS = 2.2
_TICK_EVERY = 26.0
#: Half the size of the question mark on a tie, and how close another line may come to its box.
QUESTION = 8.0
_CLEAR = 6.0


def line_groups(
    drawing: Drawing, routes: Mapping[str, Route], energy: Energy, ghosts: frozenset[str], symbols: str,
    questions: Mapping[str, Point],
) -> list[Group]:  # fmt: skip
    """All groups of the lines, painted before the symbols; their tags are set by ``tags.Tagger``.

    ``questions``: where the question marks of ties stand (``question_places``).
    """
    crossings = jumps(routes)
    dots: dict[str, list[Point]] = {}
    buses = frozenset(b.id for b in drawing.of(Bus))
    for conn_id, point in joint_dots(routes, buses):
        dots.setdefault(conn_id, []).append(point)
    out: list[Group] = []
    for conn_id, route in routes.items():
        conn = route.connection
        ghost = conn_id in ghosts
        sources = None if ghost else energy.of_connection(drawing, conn)
        maybe = not ghost and not sources and bool(energy.of_connection(drawing, conn, possibly=True))
        ink, dash = ("ghost", "solid") if ghost else energy.look(sources, maybe)
        prims = _line(conn, route.points, crossings.get(conn_id, []), ink, dash, ghost)
        dot_ink = "ghost" if ghost else ink
        prims += [Arc(p, DOT_RADIUS, weight="hair", ink=dot_ink, fill=dot_ink) for p in dots.get(conn_id, ())]
        if isinstance(conn, SuspectedTie):
            prims += draw_symbol(symbols, "tie", questions[conn_id], ink="ghost" if ghost else "possible")
        out.append(Group(conn_id, "ghost" if ghost else "line", tuple(prims), _bounds(route.points)))
        if isinstance(conn, SuspectedTie) and conn.b is None:
            out.append(_open_tie_label(conn, route.points, ghost))
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
    pieces: list[Stroke | Arc] = []
    part = [points[0]]
    for p, q in itertools.pairwise(points):
        on_piece = [c for c in crossings if p[1] == q[1] == c[1] and min(p[0], q[0]) < c[0] < max(p[0], q[0])]
        step = 1 if q[0] > p[0] else -1
        for x, y in sorted(on_piece, key=lambda c: c[0] * step):
            part.append((x - step * JUMP_RADIUS, y))
            pieces.append(Stroke(tuple(part), weight, pattern, ink))
            pieces.append(Arc((x, y), JUMP_RADIUS, 0, 180, weight, "solid", ink))
            part = [(x + step * JUMP_RADIUS, y)]
        part.append(q)
    pieces.append(Stroke(tuple(part), weight, pattern, ink))
    prims += dead_line(pieces) if ink == "dead" else pieces
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


def question_places(routes: Mapping[str, Route], obstacles: Obstacles, tracks: Tracks) -> dict[str, Point]:
    """Where the question mark of each suspected tie stands: at its open end, or on a stretch of the line that nothing
    crosses and nothing stands beside, as near to the middle of its longest piece as there is one."""
    return {
        conn_id: _beyond(route.points) if route.connection.b is None else _free_stretch(route.points, obstacles, tracks)
        for conn_id, route in routes.items() if isinstance(route.connection, SuspectedTie)
    }  # fmt: skip


def _free_stretch(points: tuple[Point, ...], obstacles: Obstacles, tracks: Tracks) -> Point:
    own = {tuple(sorted(piece)) for piece in itertools.pairwise(points)}
    places: list[tuple[bool, bool, Point]] = []
    for p, q in sorted(itertools.pairwise(points), key=lambda s: -math.dist(*s)):
        length, middle = math.dist(p, q), ((p[0] + q[0]) / 2, (p[1] + q[1]) / 2)
        dx, dy = ((q[0] - p[0]) / length, (q[1] - p[1]) / length) if length else (0.0, 0.0)
        room = max(0.0, length / 2 - QUESTION - 2)
        for k in range(int(room / 5.0) + 1):
            for s in (5.0 * k, -5.0 * k) if k else (0.0,):
                at = (middle[0] + dx * s, middle[1] + dy * s)
                box = (at[0] - QUESTION, at[1] - QUESTION, at[0] + QUESTION, at[1] + QUESTION)
                wide = (box[0] - _CLEAR, box[1] - _CLEAR, box[2] + _CLEAR, box[3] + _CLEAR)
                crossed = any(meets(wide, a, b) and (a, b) not in own for a, b, _ in tracks.near(wide))
                places.append((crossed, not obstacles.free(box), at))
                if places[-1][:2] == (False, False):
                    return at
    return min(places, key=lambda e: e[:2])[2]


def _beyond(points: tuple[Point, ...]) -> Point:
    """Middle of the question mark beyond the open end of a line."""
    (_, y0), (x, y1) = points[-2], points[-1]
    return (x, y1 + math.copysign(QUESTION, y1 - y0))


def open_tie_boxes(tie: SuspectedTie, points: tuple[Point, ...]) -> tuple[Box, Box]:
    """Boxes of the question mark and of the label of a tie to an unknown place."""
    x, y = _beyond(points)
    lines = tie_lines(tie)
    width, height = max(line.width for line in lines), LINE_PITCH * len(lines)
    mark = (x - QUESTION, y - QUESTION, x + QUESTION, y + QUESTION)
    return mark, (x + 13, y - height / 2, x + 13 + width, y + height / 2)


def _open_tie_label(tie: SuspectedTie, points: tuple[Point, ...], ghost: bool) -> Group:
    box = open_tie_boxes(tie, points)[1]
    prims = write_lines(tie_lines(tie), box[0], box[1], "ghost" if ghost else "")
    return Group(tie.id, "ghost" if ghost else "label", tuple(prims), box)


def _bounds(points: tuple[Point, ...]) -> Box:
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    return (min(xs) - 3, min(ys) - 3, max(xs) + 3, max(ys) + 3)
