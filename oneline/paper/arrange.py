"""Finds the best place for diagram and text on a sheet: the diagram first and as large as the words around it allow."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from oneline.paper.flow import BLOCK_GAP, COLUMN_GAP, Block, Placed, flow, least_height
from oneline.paper.frame import HEAD, MARGIN, foot_height
from oneline.paper.page import PAPERS
from oneline.paper.picture import boxes_of
from oneline.sheet.display import Picture
from oneline.sheet.tracks import Obstacles

#: Text sizes of the words beside the diagram, best first.
TEXT_SIZES = (9.0, 8.5, 8.0, 7.5, 7.0, 6.5)
#: Nobody reads a diagram more easily for being larger than this (points per grid unit).
MAX_SCALE = 1.5
#: Names on the diagram are 9 units: from this scale they are 8 points.
GOOD_SCALE = 8.0 / 9.0
#: Narrowest column of text, in text sizes.
_LEAST_COLUMN = 29.0
_DIAGRAM_PAD = 8.0

Box = tuple[float, float, float, float]
#: Makes the blocks of a page for a column width and a text size.
MakeBlocks = Callable[[float, float], list[Block]]


@dataclass(frozen=True)
class Arrangement:
    """One page: its size, the room of the diagram and its scale, and the text columns (all in points)."""

    width: float
    height: float
    diagram: Box
    scale: float
    text_size: float
    placed: tuple[Placed, ...]
    text_at: tuple[float, float]
    column_width: float


def orientations(paper: str) -> tuple[tuple[float, float], tuple[float, float]]:
    """(width, height) upright and sideways. Raises ``ValueError`` for an unknown paper."""
    if paper not in PAPERS:
        raise ValueError(f"paper {paper!r} is not one of {', '.join(PAPERS)}")
    short, long = PAPERS[paper]
    return (short, long), (long, short)


def content_box(width: float, height: float) -> Box:
    """The room between head and foot of a page."""
    return (MARGIN, MARGIN + HEAD, width - MARGIN, height - MARGIN - foot_height(width) - 8)


def best_page(
    paper: str, picture_size: tuple[float, float], make: MakeBlocks, sizes: Sequence[float] = TEXT_SIZES,
    columns_em: Sequence[float] = (29.0, 33.0, 38.0),
) -> Arrangement | None:  # fmt: skip
    """The best page that holds the diagram and all blocks; ``None`` when the blocks do not fit at any size.

    ``columns_em``: widths of a column beside the diagram, in text sizes.
    """
    best: tuple[float, Arrangement] | None = None
    for width, height in orientations(paper):
        for size in sizes:
            for found in (
                *_below(width, height, picture_size, make, size),
                *_beside(width, height, picture_size, make, size, columns_em),
            ):
                mark = _score(found)
                if best is None or mark > best[0] + 1e-9:
                    best = (mark, found)
    return best[1] if best else None


def _score(a: Arrangement) -> float:
    """Names of 8 points on the diagram count most, then text of 8 points, then sheer size."""
    return (
        1.5 * min(1.0, a.scale / GOOD_SCALE) + 0.3 * min(1.0, a.text_size / 8.0) + 0.06 * a.scale + 0.01 * a.text_size
    )


def fit_scale(room: tuple[float, float], picture_size: tuple[float, float]) -> float:
    """Points per grid unit at which the picture fills the room; 0 or less when there is none."""
    w, h = (max(v, 1.0) for v in picture_size)
    return min((room[0] - 2 * _DIAGRAM_PAD) / w, (room[1] - 2 * _DIAGRAM_PAD) / h, MAX_SCALE)


def _below(
    width: float, height: float, picture_size: tuple[float, float], make: MakeBlocks, size: float
) -> list[Arrangement]:
    """Diagram on top over the whole width, text in columns below."""
    left, top, right, bottom = content_box(width, height)
    out = []
    for columns in range(1, 7):
        column = (right - left - (columns - 1) * COLUMN_GAP) / columns
        if column < _LEAST_COLUMN * size:
            break
        if column > 75 * size:
            continue
        blocks = make(column, size)
        text_height = least_height(blocks, columns, (bottom - top) * 0.8)
        if text_height is None:
            continue
        room = bottom - top - text_height - BLOCK_GAP
        scale = fit_scale((right - left, room), picture_size)
        placed = flow(blocks, [text_height] * columns)
        if scale <= 0 or placed is None:
            continue
        diagram = (left, top, right, bottom - text_height - BLOCK_GAP)
        at = (left, bottom - text_height)
        out.append(Arrangement(width, height, diagram, scale, size, tuple(placed), at, column))
    return out


def _beside(
    width: float, height: float, picture_size: tuple[float, float], make: MakeBlocks, size: float,
    columns_em: Sequence[float],
) -> list[Arrangement]:  # fmt: skip
    """Diagram on the left over the whole height, text in columns at the right."""
    left, top, right, bottom = content_box(width, height)
    out = []
    for columns in (1, 2, 3):
        for em in columns_em:
            column = em * size
            used = columns * column + (columns - 1) * COLUMN_GAP
            if used > 0.62 * (right - left):
                break
            placed = flow(make(column, size), [bottom - top] * columns)
            if placed is None:
                continue
            diagram = (left, top, right - used - COLUMN_GAP, bottom)
            scale = fit_scale((diagram[2] - left, bottom - top), picture_size)
            if scale > 0:
                at = (right - used, top)
                out.append(Arrangement(width, height, diagram, scale, size, tuple(placed), at, column))
    return out


def text_pages(paper: str, blocks_of: MakeBlocks, sideways: bool) -> list[Arrangement]:
    """Pages of text alone, as many as it takes, at the best size that needs the fewest pages."""
    width, height = orientations(paper)[1 if sideways else 0]
    left, top, right, bottom = content_box(width, height)
    best: tuple[int, float, list[Placed], int, float] | None = None
    for size in (9.0, 8.5, 8.0, 7.5):
        columns = max(1, int((right - left + COLUMN_GAP) // (31 * size + COLUMN_GAP)))
        column = (right - left - (columns - 1) * COLUMN_GAP) / columns
        blocks = blocks_of(column, size)
        for pages in range(1, 60):
            placed = flow(blocks, [bottom - top] * (columns * pages))
            if placed is not None:
                if best is None or pages < best[0]:
                    best = (pages, size, placed, columns, column)
                break
    if best is None:
        raise ValueError("a row of the directory is higher than a page")
    pages, size, placed, columns, column = best
    out = []
    for page in range(pages):
        mine = tuple(
            Placed(p.row, p.column - page * columns, p.y)
            for p in placed
            if page * columns <= p.column < (page + 1) * columns
        )
        out.append(Arrangement(width, height, (left, top, left, top), 0.0, size, mine, (left, top), column))
    return out


def empty_room(
    picture: Picture, place: tuple[float, float, float], room: Box, needed: tuple[float, float], air: float = 9.0
) -> tuple[float, float] | None:
    """Upper left corner of an empty part of the diagram's room of at least the needed width and height, with air around.

    ``place``: (scale, dx, dy) of the picture on the page. Corners of the room are preferred to its middle.
    """
    scale, dx, dy = place
    taken = Obstacles()
    for group in picture.groups:
        for left, top, right, bottom in boxes_of(group):
            taken.add(
                (dx + scale * left - air, dy + scale * top - air, dx + scale * right + air, dy + scale * bottom + air),
                "",
                0,
            )
    x0, y0, x1, y1 = room
    width, height = needed
    if x1 - x0 < width or y1 - y0 < height + 4:
        return None
    step = 6.0
    xs = sorted(_steps(x0, x1 - width, step), key=lambda x: min(x - x0, x1 - width - x))
    ys = sorted(_steps(y0 + 4, y1 - height, step), key=lambda y: min(y - y0, y1 - height - y))
    for y in ys:
        for x in xs:
            if taken.free((x, y, x + width, y + height)):
                return (x, y)
    return None


def _steps(low: float, high: float, step: float) -> list[float]:
    count = int((high - low) // step)
    return [low + k * step for k in range(count + 1)] + [high]
