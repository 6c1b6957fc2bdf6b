"""A picture for small paper: words large enough to be read, as many of them as there is room for.

Every name is placed first, all at one size. Then each label gets its ratings and figures back, and each conductor its
label, where they find room. Tags and marks grow too, as far as they do not cover a symbol.
"""

from __future__ import annotations

import itertools
from collections.abc import Container, Sequence
from dataclasses import dataclass, replace

from oneline.paper.picture import GOOD_NAME_PT, LEAST_TEXT_PT, Box, bounds, boxes_of, of_groups, on_paper
from oneline.paper.words import AIR, Choice, Line, Spot, label_choices, lines_of, name_choices, spots_of
from oneline.sheet.display import Arc, Group, Picture, Primitive, Stroke, Text
from oneline.sheet.tracks import Obstacles

#: Sizes tried for the names, in points; ratings are a little smaller, but not below the least text.
_NAME_SIZES_PT = (GOOD_NAME_PT, 7.5, 7.0, LEAST_TEXT_PT)
_RATING_SHARE = 8.0 / 9.0
#: Clear width beside a label and height between two of them in sizes of the name, from wanted to least: closer ones
#: read as one label.
_APART = ((0.6, 0.7), (0.6, 0.45), (0.6, 0.2), (0.3, 0.1))
#: Clear air around tags and marks, in points.
_SIGN_AIR_PT = 0.8
#: How often the names are placed again, the one that found no room first.
_MOST_RESTARTS = 12
#: How far tags and marks are enlarged where there is no room for the full size, largest first, and what stays in place.
_SIGN_FACTORS = (2.4, 2.2, 2.0, 1.75, 1.6, 1.45, 1.3, 1.15)
#: Where a mark goes that covers something, in its own widths and heights.
_STEPS_ASIDE = tuple(
    (0.5 * dx, 0.5 * dy)
    for dx, dy in sorted(itertools.product(range(-3, 1), range(-3, 4)), key=lambda s: s[0] ** 2 + s[1] ** 2)
)
#: Tags on lines that do not reach this size are left out.
_LEAST_SIGN_PT = 5.0
#: How far one slides up or down to find room at a size, in its own heights.
_SLIDES = (0.0, 0.25, -0.25, 0.5, -0.5, 0.75, -0.75)
_ANCHORS = ((0.5, 0.5), (1.0, 0.5), (0.0, 0.5), (0.5, 1.0), (0.5, 0.0), (1.0, 1.0), (1.0, 0.0), (0.0, 1.0), (0.0, 0.0))


@dataclass(frozen=True)
class Reduced:
    """The picture with larger words; ``name_pt``: size of its names; ``left_out``: whether some words found no room;
    ``crowded``: whether a name covers something."""

    picture: Picture
    name_pt: float
    left_out: bool
    crowded: bool = False


def reduced(picture: Picture, scale: float, least_name_pt: float | None = None, first: Sequence[str] = ()) -> Reduced:
    """The picture for a scale (points per grid unit). ``first``: ids of items whose ratings and lengths come before others'.

    A name that finds no room at the least size stands where it covers least: a crowded name is better than none.
    ``least_name_pt``: smaller names are not wanted; a picture where they would be is crowded and not worked out further.
    """
    groups = _signs_enlarged([g for g in on_paper(picture, scale).groups if g.part != "detail"], scale, picture.routes)
    fixed = Obstacles()
    for g in groups:
        if g.part != "label":
            air = _SIGN_AIR_PT / scale if g.part in ("tag", "mark") else 0.0
            for left, top, right, bottom in boxes_of(g):
                fixed.add((left - air, top - air, right + air, bottom + air), g.item, 0.0)
    labels = {n: lines_of(g) for n, g in enumerate(groups) if g.part == "label"}
    names = {n: lines[0] for n, lines in labels.items() if lines and lines[0].is_name}
    spots = spots_of(groups, picture.routes)
    placed: dict[int, Choice] | None = None
    name_pt = LEAST_TEXT_PT
    for name_pt in _NAME_SIZES_PT:
        if least_name_pt is not None and name_pt < least_name_pt:
            break
        placed = _place_names(names, spots, fixed, name_pt / scale)
        if placed is not None:
            break
    crowded = placed is None
    if placed is None and least_name_pt is not None:
        return Reduced(picture, name_pt, True, True)
    if placed is None:
        placed = _crowded(names, spots, fixed, name_pt / scale)
    line_pt = max(LEAST_TEXT_PT, _RATING_SHARE * name_pt)
    order = sorted(labels, key=lambda n: _precedence(groups[n].item, first))
    left_out = _give_back({n: labels[n] for n in order}, placed, spots, fixed, name_pt / scale, line_pt / scale)
    out = []
    for n, g in enumerate(groups):
        if n in placed:
            words = placed[n].primitives()
            out.append(replace(g, primitives=words, box=bounds(words)))
        elif g.part != "label":
            out.append(g)
    return Reduced(of_groups(picture, out), name_pt, left_out, crowded)


# ------------------------------------------------------------------------------------------------------------- placing
def _place_names(
    names: dict[int, Line], spots: dict[int, Spot], fixed: Obstacles, size: float
) -> dict[int, Choice] | None:
    """A place for every name at one size, or ``None`` when one finds none."""
    rooms: dict[int, list[Choice]] = {}
    for n, line in names.items():
        choices = name_choices(line, size, spots[n])
        rooms[n] = [c for c in choices if fixed.free(_with_air(c.box)) and spots[n].nearest(c.box)]
        if not rooms[n]:
            return None
    # Where there is little choice goes first.
    for apart in _APART:
        for order in (sorted(rooms, key=lambda n: len(rooms[n])), list(rooms)):
            placed = _greedy(rooms, order, (apart[0] * size, apart[1] * size))
            if placed is not None:
                return placed
    return None


def _precedence(item: str, first: Sequence[str]) -> int:
    return first.index(item) if item in first else len(first)


def _greedy(rooms: dict[int, list[Choice]], order: Sequence[int], air: tuple[float, float]) -> dict[int, Choice] | None:
    """The first free choice of each in turn. One that finds none goes to the front, and all start again, a few times."""
    order = list(order)
    for _ in range(1 + min(len(order), _MOST_RESTARTS)):
        taken = Obstacles()
        out: dict[int, Choice] = {}
        for n in order:
            found = next((c for c in rooms[n] if taken.free(c.box)), None)
            if found is None:
                order.remove(n)
                order.insert(0, n)
                break
            out[n] = found
            taken.add(_wider(found.box, air), "", 0.0)
        else:
            return out
    return None


def _with_air(box: Box) -> Box:
    """A box of words with the least air to strokes at its sides."""
    return (box[0] - AIR, box[1] - AIR / 3, box[2] + AIR, box[3])


def _wider(box: Box, air: tuple[float, float]) -> Box:
    """A box with so much air at its sides, and above and below."""
    return (box[0] - air[0], box[1] - air[1], box[2] + air[0], box[3] + air[1])


def _crowded(names: dict[int, Line], spots: dict[int, Spot], fixed: Obstacles, size: float) -> dict[int, Choice]:
    """Every name at one size, where it covers as little as possible."""
    boxes = [box for box, _ in fixed.boxes]
    out: dict[int, Choice] = {}
    for n, line in names.items():
        out[n] = min(name_choices(line, size, spots[n]), key=lambda c: _covered(c.box, boxes))
        boxes.append(out[n].box)
    return out


def _covered(box: Box, others: Sequence[Box]) -> float:
    """Area of a box that others cover; a line counts as one unit wide."""
    area = 0.0
    for left, top, right, bottom in others:
        wide = min(box[2], right + 0.5) - max(box[0], left - 0.5)
        high = min(box[3], bottom + 0.5) - max(box[1], top - 0.5)
        if wide > 0 and high > 0:
            area += wide * high
    return area


def _give_back(
    labels: dict[int, list[Line]], placed: dict[int, Choice], spots: dict[int, Spot], fixed: Obstacles,
    name_size: float, line_size: float,
) -> bool:  # fmt: skip
    """Add ratings, figures and conductor labels where they find room. Returns whether some did not."""
    taken = Obstacles()
    for n, found in placed.items():
        taken.add(found.box, str(n), 0.0)
    left_out = False
    for n, lines in labels.items():
        for count in range(len(lines), 1 if n in placed else 0, -1):
            choices = list(label_choices(lines[:count], name_size, line_size, spots[n]))
            choices = [c for c in choices if fixed.free(_with_air(c.box)) and spots[n].nearest(c.box)]
            # Words of a conductor rather stay close to it than far from others.
            wanted = _APART[1:] if spots[n].symbol is None else _APART
            airs = [(wide * name_size, high * name_size) for wide, high in wanted]
            room = next((c for air in airs for c in choices if taken.free(_wider(c.box, air), (str(n),))), None)
            if room is not None:
                placed[n] = room
                taken.add(room.box, str(n), 0.0)
                left_out |= count < len(lines)
                break
        else:
            left_out |= len(lines) > (1 if n in placed else 0)
    return left_out


# --------------------------------------------------------------------------------------------------------------- signs
def _signs_enlarged(groups: list[Group], scale: float, lines: Container[str]) -> list[Group]:
    """Tags and marks about their middle or away from one side, as far as they are too small and cover nothing else.

    One on a line that nobody could read is left out: what the line joins carries the same codes.
    """
    taken: dict[int, Box] = {}
    for n, g in enumerate(groups):
        if g.part in ("symbol", "frame"):
            taken[n] = bounds(g.primitives)
        elif g.part in ("tag", "mark"):
            taken[n] = g.box
    out = []
    for n, g in enumerate(groups):
        if g.part in ("tag", "mark"):
            g = _sign_enlarged(g, n, taken, scale)
            if g.part == "mark":
                g = _mark_aside(g, n, taken)
            taken[n] = g.box
            if g.item in lines and _letters(g) * scale < _LEAST_SIGN_PT:
                del taken[n]
                continue
        out.append(g)
    return out


def _sign_enlarged(group: Group, own: int, taken: dict[int, Box], scale: float) -> Group:
    wanted = LEAST_TEXT_PT / (_letters(group) * scale)
    if wanted <= 1:
        return group
    # One that stands on a bar from the start may go on covering it.
    covered = _covers(group.box, own, taken)
    high = group.box[3] - group.box[1]
    for factor in (wanted, *(f for f in _SIGN_FACTORS if f < wanted)):
        for share in _SLIDES:
            for anchor in _ANCHORS:
                larger = _enlarged(group, factor, anchor, (0.0, share * high))
                if _covers(larger.box, own, taken) <= covered:
                    return larger
    return group


def _mark_aside(group: Group, own: int, taken: dict[int, Box]) -> Group:
    """A mark that covers something a little aside, where that helps."""
    left, top, right, bottom = group.box
    wide, high = right - left, bottom - top
    if _covers(group.box, own, taken):
        for dx, dy in _STEPS_ASIDE:
            x, y = dx * wide, dy * high
            if not _covers((left + x, top + y, right + x, bottom + y), own, taken):
                return _enlarged(group, 1.0, (0.5, 0.5), (x, y))
    return group


def _letters(group: Group) -> float:
    """Size of the letters of a tag or mark in grid units."""
    return min((p.size for p in group.primitives if isinstance(p, Text)), default=8.0)


def _covers(box: Box, own: int, taken: dict[int, Box]) -> set[int]:
    """The others that a box overlaps."""
    return {
        n for n, other in taken.items()
        if n != own and box[0] < other[2] and box[2] > other[0] and box[1] < other[3] and box[3] > other[1]
    }  # fmt: skip


def _enlarged(group: Group, factor: float, anchor: tuple[float, float], by: tuple[float, float] = (0.0, 0.0)) -> Group:
    """A group about a point of its box, given as shares of its width and height, and moved."""
    left, top, right, bottom = group.box
    x, y = left + anchor[0] * (right - left), top + anchor[1] * (bottom - top)

    def moved(p: tuple[float, float]) -> tuple[float, float]:
        return (x + (p[0] - x) * factor + by[0], y + (p[1] - y) * factor + by[1])

    out: list[Primitive] = []
    for p in group.primitives:
        if isinstance(p, Stroke):
            out.append(replace(p, points=tuple(moved(q) for q in p.points)))
        elif isinstance(p, Arc):
            out.append(replace(p, center=moved(p.center), radius=p.radius * factor))
        else:
            out.append(replace(p, at=moved(p.at), size=p.size * factor))
    return replace(group, primitives=tuple(out), box=bounds(out))
