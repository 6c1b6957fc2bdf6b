"""A picture with less detail for small paper: names only, as large as there is room for, and larger tags and marks."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import replace
from typing import TypeGuard

from oneline.paper.picture import GOOD_NAME_PT, LEAST_TEXT_PT, Box, bounds, boxes_of, of_groups, on_paper
from oneline.sheet.display import Arc, Group, Picture, Primitive, Stroke, Text
from oneline.sheet.metrics import text_box
from oneline.sheet.tracks import Obstacles
from oneline.sheet.wording import NAME_SIZE

#: Sizes tried for the names, in points; the largest at which all of them find room is taken for all.
_NAME_SIZES_PT = (GOOD_NAME_PT, 7.5, 7.0, 6.5, LEAST_TEXT_PT)
#: Letters of tags and marks are about this high in grid units; they are not enlarged more than this.
_SIGN_UNITS = 6.5
_MOST_ENLARGED = 1.75


def with_names_only(picture: Picture, scale: float) -> tuple[Picture, float]:
    """The reduced picture for a scale (points per grid unit), and the size of its names in points.

    Names that find no room at the least size stand at it all the same: a name that touches a line is better than none.
    """
    groups = [_signs_enlarged(g, scale) for g in on_paper(picture, scale).groups if g.part != "detail"]
    names = {n: line for n, g in enumerate(groups) if g.part == "label" and (line := _name_line(g))}
    kept = [g for n, g in enumerate(groups) if g.part != "label" or n in names]
    obstacles = Obstacles()
    for g in kept:
        if g.part != "label":
            for box in boxes_of(g):
                obstacles.add(box, g.item + "/" + g.part, 0.0)
    placed: dict[int, tuple[Text, ...]] = {}
    size_pt = LEAST_TEXT_PT
    for size_pt in _NAME_SIZES_PT:
        found = _place_all(names, groups, obstacles, size_pt / scale)
        if found is not None:
            placed = found
            break
    else:
        placed = {n: next(_choices(names[n], groups[n].box, LEAST_TEXT_PT / scale)) for n in names}
    out = []
    for n, g in enumerate(groups):
        if n in placed:
            out.append(replace(g, primitives=placed[n], box=bounds(placed[n])))
        elif g.part != "label":
            out.append(g)
    return of_groups(picture, out), size_pt


def _name_line(group: Group) -> list[Text]:
    """The texts on the line of the name: the name and the letter of its status."""
    name = next((p for p in group.primitives if _is_name(p)), None)
    if name is None:
        return []
    return [p for p in group.primitives if isinstance(p, Text) and p.at[1] == name.at[1]]


def _is_name(primitive: Primitive) -> TypeGuard[Text]:
    return isinstance(primitive, Text) and primitive.face == "bold" and primitive.size >= NAME_SIZE


def _place_all(
    names: dict[int, list[Text]], groups: list[Group], fixed: Obstacles, size: float
) -> dict[int, tuple[Text, ...]] | None:
    """A place for every name at one size, or ``None`` when one finds none."""
    taken = Obstacles()
    out: dict[int, tuple[Text, ...]] = {}
    for n, line in names.items():
        for texts in _choices(line, groups[n].box, size):
            box = bounds(texts)
            if fixed.free(box) and taken.free(box):
                out[n] = texts
                taken.add(box, str(n), 0.0)
                break
        else:
            return None
    return out


def _choices(line: list[Text], box: Box, size: float) -> Iterator[tuple[Text, ...]]:
    """The line at a size, from the left end or up to the right end of its label, level, above and below."""
    factor = size / line[0].size
    left = min(text_box(t)[0] for t in line)
    width = (max(text_box(t)[2] for t in line) - left) * factor
    middle = (box[1] + box[3]) / 2 + 0.36 * size
    for start, base in itertools.product(
        (box[0], box[2] - width), (middle, line[0].at[1] + 0.36 * (size - line[0].size), middle - size, middle + size)
    ):
        yield tuple(replace(t, size=t.size * factor, at=(start + (t.at[0] - left) * factor, base)) for t in line)


def _signs_enlarged(group: Group, scale: float) -> Group:
    """Tags and marks about their middle, so that their letters stay readable."""
    if group.part not in ("tag", "mark"):
        return group
    factor = min(_MOST_ENLARGED, max(1.0, LEAST_TEXT_PT / (_SIGN_UNITS * scale)))
    x, y = (group.box[0] + group.box[2]) / 2, (group.box[1] + group.box[3]) / 2

    def moved(p: tuple[float, float]) -> tuple[float, float]:
        return (x + (p[0] - x) * factor, y + (p[1] - y) * factor)

    out: list[Primitive] = []
    for p in group.primitives:
        if isinstance(p, Stroke):
            out.append(replace(p, points=tuple(moved(q) for q in p.points)))
        elif isinstance(p, Arc):
            out.append(replace(p, center=moved(p.center), radius=p.radius * factor))
        else:
            out.append(replace(p, at=moved(p.at), size=p.size * factor))
    return replace(group, primitives=tuple(out), box=bounds(out))
