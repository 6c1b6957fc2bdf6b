"""Where words go: beside their symbol, always the same side in a column, never across a line."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator, Mapping

from oneline.model import Bus, ConductorRun, Drawing, SuspectedTie
from oneline.sheet.display import Arc, Point, Primitive, Text
from oneline.sheet.live import TAG_AIR, TAG_HEIGHT
from oneline.sheet.metrics import ASCENT_EM
from oneline.sheet.routing import Route
from oneline.sheet.shapes import LABEL_GAP, Box, Shape, label_box
from oneline.sheet.tracks import Obstacles, Tracks
from oneline.sheet.wording import DASH, LINE_PITCH, Line, piece_width, run_lines, tie_lines

#: Distance of a label from its line.
_BESIDE = 8.0
#: Room above a conductor's label for the tag of its sources.
_TAG_ROOM = TAG_HEIGHT + TAG_AIR
#: Clear air between a line's label and anything else: wanted, and the least where a line is short.
_AIRS = (3.0, 1.0)


def write_lines(
    lines: Iterable[Line], left: float, top: float, ink: str = "", pitch: float = LINE_PITCH
) -> list[Primitive]:
    """Texts (and rings of unknown values) of lines set flush left below each other."""
    out: list[Primitive] = []
    y = top
    for line in lines:
        x = left
        base = y + ASCENT_EM * line.size + (pitch - LINE_PITCH) / 2
        for piece in line.pieces:
            role = ink or piece.ink
            if piece.unknown:
                dash = piece_width(piece, line.size)
                out.append(Text((x, base), DASH, line.size, "regular", "start", role))
                radius = 0.17 * line.size
                out.append(Arc((x + dash - 0.22 * line.size, base - 0.32 * line.size), radius, weight="hair", ink=role))
            elif piece.text.strip():
                lead = len(piece.text) - len(piece.text.lstrip(" "))
                shift = piece_width(type(piece)(piece.text[:lead], piece.face), line.size) if lead else 0.0
                out.append(Text((x + shift, base), piece.text[lead:], line.size, piece.face, "start", role))
            x += piece_width(piece, line.size)
        y += pitch
    return out


def item_label_boxes(
    shapes: Mapping[str, Shape], lines: Mapping[str, tuple[Line, ...]], hanging: frozenset[str]
) -> dict[str, Box]:
    """The box of each item's label; to the left or above where another symbol stands in the way."""
    symbols = Obstacles()
    for item_id, shape in shapes.items():
        symbols.add(shape.box, item_id, 0.0)
    out: dict[str, Box] = {}
    for item_id, shape in shapes.items():
        if not lines.get(item_id):
            continue
        for box in _item_places(shape, lines[item_id], item_id in hanging):
            if symbols.free(box, (item_id,)):
                break
        else:
            box = next(_item_places(shape, lines[item_id], item_id in hanging))
        out[item_id] = box
        symbols.add(box, item_id + "/label", 0.0)
    return out


def _item_places(shape: Shape, lines: tuple[Line, ...], hanging: bool) -> Iterator[Box]:
    x, y = shape.at
    ends = (shape.box[0] - x, shape.box[2] - x)
    left, top, right, bottom = label_box(shape.item, shape.symbol, lines, ends, 0.0, hanging)
    if not shape.symbol.stretch:
        middle = (shape.box[1] + shape.box[3]) / 2 - y
        half = (bottom - top) / 2
        top, bottom = middle - half, middle + half
    width = right - left
    yield (x + left, y + top, x + right, y + bottom)
    yield (shape.box[0] - LABEL_GAP - width, y + top, shape.box[0] - LABEL_GAP, y + bottom)
    height = bottom - top
    yield (shape.box[0], shape.box[1] - 2 - height, shape.box[0] + width, shape.box[1] - 2)
    yield (shape.box[0], shape.box[3] + 2, shape.box[0] + width, shape.box[3] + 2 + height)


def hanging_bars(drawing: Drawing, shapes: Mapping[str, Shape]) -> frozenset[str]:
    """Bars with something connected below; their label stands above the bar's line."""
    out = set()
    for conn in drawing.connections():
        if conn.b is None or conn.a.item not in shapes or conn.b.item not in shapes:
            continue
        for end, other in ((conn.a, conn.b), (conn.b, conn.a)):
            bar = shapes[end.item]
            if isinstance(bar.item, Bus) and shapes[other.item].at[1] > bar.at[1]:
                out.add(end.item)
    return frozenset(out)


# ------------------------------------------------------------------------------------------------------ lines
def line_labels(
    routes: Mapping[str, Route], shapes: Mapping[str, Shape], obstacles: Obstacles, tracks: Tracks
) -> dict[str, tuple[Box, tuple[Line, ...]]]:
    """Label box and lines of each run and tie, where there is room: all lines, else the first alone."""
    out: dict[str, tuple[Box, tuple[Line, ...]]] = {}
    for conn_id, route in routes.items():
        conn = route.connection
        if isinstance(conn, ConductorRun):
            choices = (run_lines(conn), run_lines(conn)[:1])
        elif isinstance(conn, SuspectedTie) and conn.b is not None:
            choices = (tie_lines(conn), tie_lines(conn)[-1:])
        else:
            continue
        points = _seen(route, shapes)
        rooms = (_TAG_ROOM, 0.0) if isinstance(conn, ConductorRun) else (0.0,)
        found = next(((box, lines) for lines in choices for left in (False, True) for air in _AIRS for above in rooms
                      for box in _line_places(points, lines, above, left)
                      if obstacles.free(with_air(box, air)) and not tracks.touched(box)), None)  # fmt: skip
        if found is not None:
            out[conn_id] = found
            obstacles.add(found[0], conn_id + "/label", 0.0)
    return out


def with_air(box: Box, air: float) -> Box:
    """A box with air around it."""
    return (box[0] - air, box[1] - air, box[2] + air, box[3] + air)


def _seen(route: Route, shapes: Mapping[str, Shape]) -> tuple[Point, ...]:
    """The corners of a line without what of it lies in bars."""
    points = list(route.points)
    for end, at, near in ((route.connection.a, 0, 1), (route.connection.b, -1, -2)):
        shape = shapes.get(end.item) if end else None
        if shape is None or not shape.symbol.stretch or points[at][0] != points[near][0]:
            continue
        x, y = points[at]
        points[at] = (
            x,
            min(shape.box[3], points[near][1]) if points[near][1] > y else max(shape.box[1], points[near][1]),
        )
    return tuple(points)


def _line_places(points: tuple[Point, ...], lines: tuple[Line, ...], above: float, left: bool) -> Iterator[Box]:
    """Places beside the pieces of a line, longest first; those along level pieces come with the left ones.

    ``above``: room for a tag on the line above the label, which stand in the middle of a piece together where it is long
    enough for both.
    """
    width = max(line.width for line in lines)
    height = LINE_PITCH * len(lines)
    pieces = sorted(
        itertools.pairwise(points),
        key=lambda s: -(abs(s[0][0] - s[1][0]) + abs(s[0][1] - s[1][1])),
    )
    for p, q in pieces:
        if p[0] != q[0]:
            continue
        both = abs(p[1] - q[1]) >= height + above + 2 * _AIRS[-1]
        x, middle = p[0], (p[1] + q[1] + above * both) / 2
        room = max(0.0, (abs(p[1] - q[1]) - above * both - height) / 2)
        for k in range(int(room / 5) + 1):
            for shift in (0.0,) if k == 0 else (5.0 * k, -5.0 * k):
                top = middle - height / 2 + shift
                yield (x - _BESIDE - width, top, x - _BESIDE, top + height) if left else (
                    x + _BESIDE, top, x + _BESIDE + width, top + height,
                )  # fmt: skip
    for p, q in pieces if left else ():
        if p[1] == q[1] and abs(p[0] - q[0]) > width + 8:
            x = (p[0] + q[0]) / 2 - width / 2
            yield (x, p[1] - 3 - height, x + width, p[1] - 3)
            yield (x, p[1] + 3, x + width, p[1] + 3 + height)


def longest_piece(points: tuple[Point, ...]) -> tuple[Point, Point]:
    """The longest straight piece of a line."""
    return max(itertools.pairwise(points), key=lambda s: abs(s[0][0] - s[1][0]) + abs(s[0][1] - s[1][1]))


def line_mark_places(points: tuple[Point, ...], label: Box | None, half: float) -> list[Point]:
    """Middles a mark of a line may take, best first: left of its longest piece, level with the label."""
    p, q = longest_piece(points)
    aside = half + 7
    if p[0] != q[0]:
        x, y = (p[0] + q[0]) / 2, p[1]
        return [(x + dx, y + dy) for dx in (0, 30, -30, 60, -60) for dy in (-aside, aside)]
    x, low, high = p[0], min(p[1], q[1]), max(p[1], q[1])
    y = (label[1] + label[3]) / 2 if label and label[0] < x + 20 and label[2] > x - 20 else (low + high) / 2
    levels = [y + 6 * k * s for k in range(8) for s in (1, -1) if low + half <= y + 6 * k * s <= high - half] or [y]
    asides = (-aside, aside, -aside - 14, aside + 14, -aside - 28, -aside - 42)
    return [(x + away, level) for away in asides for level in levels]
