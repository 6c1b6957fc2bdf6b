"""What of a picture goes on paper, and in how much detail."""

from __future__ import annotations

import itertools
from collections.abc import Iterable
from dataclasses import replace

from oneline.paper.page import ELLIPSIS
from oneline.sheet.display import Arc, Group, Picture, Primitive, Stroke, Text
from oneline.sheet.metrics import text_box
from oneline.sheet.wording import LINE_SIZE

Box = tuple[float, float, float, float]

#: Smallest text that may be printed, and a name that can be read at arm's length, in points.
LEAST_TEXT_PT = 6.5
GOOD_NAME_PT = 8.0
#: Longest line of text that is printed whole on a diagram.
MOST_LABEL_CHARACTERS = 80


def on_paper(picture: Picture, scale: float = 1.0) -> Picture:
    """The groups a print at this scale (points per grid unit) shows: nothing that is not in the view, no small figures.

    A line of text that is longer than any label should be ends in an ellipsis.
    """
    shown = [g for g in picture.groups if g.part != "ghost" and g.level <= scale]
    return of_groups(picture, [_shortened(g) for g in shown])


def _shortened(group: Group) -> Group:
    if group.part == "key" or all(
        not isinstance(p, Text) or len(p.text) <= MOST_LABEL_CHARACTERS for p in group.primitives
    ):
        return group
    cut = tuple(
        replace(p, text=p.text[: MOST_LABEL_CHARACTERS - 1] + ELLIPSIS)
        if isinstance(p, Text) and len(p.text) > MOST_LABEL_CHARACTERS
        else p
        for p in group.primitives
    )
    return replace(group, primitives=cut)


def least_text_pt(picture: Picture, scale: float) -> float:
    """Height in points of the smallest name or rating of a picture at a scale (tags and marks have their own sizes)."""
    sizes = [p.size for g in picture.groups if g.part == "label" for p in g.primitives if isinstance(p, Text)]
    return scale * min(sizes, default=LINE_SIZE)


def bounds(primitives: Iterable[Primitive]) -> Box:
    """(left, top, right, bottom) around primitives; line widths do not count."""
    boxes = []
    for p in primitives:
        if isinstance(p, Stroke):
            xs, ys = [q[0] for q in p.points], [q[1] for q in p.points]
            boxes.append((min(xs), min(ys), max(xs), max(ys)))
        elif isinstance(p, Arc):
            (x, y), r = p.center, p.radius
            boxes.append((x - r, y - r, x + r, y + r))
        else:
            boxes.append(text_box(p))
    return (min(b[0] for b in boxes), min(b[1] for b in boxes), max(b[2] for b in boxes), max(b[3] for b in boxes))


def of_groups(picture: Picture, groups: list[Group]) -> Picture:
    """A picture of some groups, with the box around what they hold."""
    shown = [p for g in groups for p in g.primitives]
    box = bounds(shown) if shown else (0.0, 0.0, 0.0, 0.0)
    return Picture(tuple(groups), box, picture.terminals, picture.routes)


def boxes_of(group: Group) -> Iterable[Box]:
    """What words must keep clear of: the pieces of lines one by one, anything else as a whole."""
    if group.part != "line":
        return [bounds(group.primitives)] if group.primitives else []
    out: list[Box] = []
    for p in group.primitives:
        if isinstance(p, Stroke):
            out += [bounds([replace(p, points=(a, b))]) for a, b in itertools.pairwise(p.points)]
        else:
            out.append(bounds([p]))
    return out
