"""Lines of words on a diagram, taken from its labels, and the places where they can stand at another size."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from oneline.paper.picture import Box, bounds
from oneline.sheet.display import Arc, Group, Point, Primitive, Text
from oneline.sheet.metrics import ASCENT_EM, DESCENT_EM, text_width
from oneline.sheet.wording import NAME_SIZE

#: Baseline to baseline, and from the top of a line to its baseline, in sizes.
PITCH = 1.18
_RISE = 0.86
#: Between words and the strokes left and right of them, in grid units.
AIR = 3.0
#: Distances from a symbol at which its words are tried, and of words from a line without a symbol, in grid units.
_ASIDE = (2 * AIR, 14.0, 24.0)
#: Weight of a vertical distance against a level one.
_DOWN = 0.8
_BESIDE_LINE = (5.0, 10.0, 18.0, 26.0, 36.0)


@dataclass(frozen=True)
class Line:
    """One line of a label: its primitives and its baseline."""

    primitives: tuple[Primitive, ...]
    base: float
    size: float
    is_name: bool

    @cached_property
    def left(self) -> float:
        return bounds(self.primitives)[0]

    @cached_property
    def length(self) -> float:
        """Width at size 1."""
        left, _, right, _ = bounds(self.primitives)
        return (right - left) / self.size


@dataclass(frozen=True)
class Choice:
    """Lines below each other, each at its size, with their upper left corner at a point; ``box``: around them."""

    lines: tuple[Line, ...]
    sizes: tuple[float, ...]
    left: float
    top: float
    box: Box

    def primitives(self) -> tuple[Primitive, ...]:
        out, top = list[Primitive](), self.top
        for line, size in zip(self.lines, self.sizes, strict=True):
            out += _set(line, size, self.left, top + _RISE * size)
            top += size * PITCH
        return tuple(out)


@dataclass(frozen=True)
class Spot:
    """Where the words of a label belong: its own box, its symbol and all other symbols, or the line it names."""

    box: Box
    symbol: Box | None = None
    others: tuple[Box, ...] = ()
    route: tuple[Point, ...] = ()

    def nearest(self, words: Box) -> bool:
        """Whether words at a place are nearest to their own symbol: nobody may read them as the name of another."""
        if self.symbol is None:
            return True
        own = _apart(words, self.symbol)
        left, top, right, bottom = words
        for x0, y0, x1, y1 in self.others:  # asked very often: written out
            across = x0 - right if x0 > right else left - x1 if left > x1 else 0.0
            if across <= own:
                down = y0 - bottom if y0 > bottom else top - y1 if top > y1 else 0.0
                if across + _DOWN * down <= own:
                    return False
        return True


def _apart(a: Box, b: Box) -> float:
    """Distance of two boxes, the vertical part counting less: words beside a symbol are rarely level with it."""
    across = max(a[0] - b[2], b[0] - a[2], 0.0)
    return across + _DOWN * max(a[1] - b[3], b[1] - a[3], 0.0)


def spots_of(groups: Sequence[Group], routes: dict[str, tuple[Point, ...]]) -> dict[int, Spot]:
    """The spot of each label, by its place among the groups."""
    symbols = {g.item: g.box for g in groups if g.part == "symbol"}
    symbols |= {g.item: g.box for g in groups if g.part == "frame"}
    out = {}
    for n, g in enumerate(groups):
        if g.part == "label":
            others = tuple(box for item, box in symbols.items() if item != g.item)
            out[n] = Spot(g.box, symbols.get(g.item), others, routes.get(g.item, ()))
    return out


# -------------------------------------------------------------------------------------------------------------- lines
def lines_of(group: Group) -> list[Line]:
    """The lines of a label, from the top; rings of unknown values belong to the line they stand in."""
    texts: dict[float, list[Primitive]] = {}
    for p in group.primitives:
        if isinstance(p, Text):
            texts.setdefault(p.at[1], []).append(p)
    if not texts:
        return []
    for p in group.primitives:
        if isinstance(p, Arc):
            base = min(texts, key=lambda y: abs(y - 2.5 - p.center[1]))
            texts[base].append(p)
    out: list[Line] = []
    for base in sorted(texts):
        first = texts[base][0]
        assert isinstance(first, Text)
        name = first.face == "bold" and first.size >= NAME_SIZE
        line = Line(tuple(texts[base]), base, first.size, name)
        if name and out and out[-1].is_name:
            out[-1] = _joined(out[-1], line)
        else:
            out.append(line)
    return out


def _joined(upper: Line, lower: Line) -> Line:
    """A name that the sheet broke into two lines as one again; here it is broken anew where that is needed."""
    first, second = upper.primitives[0], lower.primitives[0]
    assert isinstance(first, Text)
    assert isinstance(second, Text)
    whole = replace(first, text=f"{first.text} {second.text}")
    shift = text_width(whole.text, whole.size, whole.face) - text_width(second.text, second.size, second.face)
    rest = [replace(p, at=(p.at[0] + shift, upper.base)) for p in lower.primitives[1:] if isinstance(p, Text)]
    return replace(upper, primitives=(whole, *rest))


def _set(line: Line, size: float, left: float, base: float) -> tuple[Primitive, ...]:
    """A line at another size with its left end and baseline somewhere else."""
    factor = size / line.size
    start = line.left
    out: list[Primitive] = []
    for p in line.primitives:
        if isinstance(p, Text):
            out.append(replace(p, size=p.size * factor, at=(left + (p.at[0] - start) * factor, base)))
        elif isinstance(p, Arc):
            x, y = p.center
            center = (left + (x - start) * factor, base + (y - line.base) * factor)
            out.append(replace(p, center=center, radius=p.radius * factor))
    return tuple(out)


def _split(line: Line) -> tuple[Line, Line] | None:
    """A name of several words as two lines, broken where they come out most alike."""
    first = line.primitives[0]
    assert isinstance(first, Text)
    words = first.text.split(" ")
    if len(words) < 2:
        return None
    at = min(
        range(1, len(words)),
        key=lambda k: abs(text_width(" ".join(words[:k]), 1, "bold") - text_width(" ".join(words[k:]), 1, "bold")),
    )
    upper = replace(first, text=" ".join(words[:at]))
    lower = replace(first, text=" ".join(words[at:]))
    shift = text_width(first.text, first.size, first.face) - text_width(lower.text, lower.size, lower.face)
    rest = [replace(p, at=(p.at[0] - shift, p.at[1])) for p in line.primitives[1:] if isinstance(p, Text)]
    return replace(line, primitives=(upper,)), replace(line, primitives=(lower, *rest))


# ------------------------------------------------------------------------------------------------------------- choices
def name_choices(line: Line, size: float, spot: Spot) -> Iterator[Choice]:
    """Places for a name, on one line or two."""
    yield from _choices((line,), (size,), spot)
    halves = _split(line)
    if halves is not None:
        yield from _choices(halves, (size, size), spot)


def label_choices(lines: Sequence[Line], name_size: float, line_size: float, spot: Spot) -> Iterator[Choice]:
    """Places for several lines of a label, with its name on one line or on two."""
    halves = _split(lines[0]) if lines[0].is_name else None
    for variant in (tuple(lines), (*halves, *lines[1:])) if halves is not None else (tuple(lines),):
        yield from _choices(variant, tuple(name_size if line.is_name else line_size for line in variant), spot)


def _choices(lines: tuple[Line, ...], sizes: tuple[float, ...], spot: Spot) -> Iterator[Choice]:
    """At the label's own place first; then around its symbol, or along its line."""
    width = max(line.length * size for line, size in zip(lines, sizes, strict=True))
    height = sum(size * PITCH for size in sizes)
    for left, top in _corners(width, height, sizes[0], spot):
        base = top + height - sizes[-1] * PITCH + _RISE * sizes[-1]
        rise = top + (_RISE - ASCENT_EM) * sizes[0]
        yield Choice(lines, sizes, left, top, (left, rise, left + width, base + DESCENT_EM * sizes[-1]))


def _corners(width: float, height: float, size: float, spot: Spot) -> Iterator[Point]:
    """Upper left corners, best first."""
    left, top, right, bottom = spot.box
    for y in ((top + bottom - height) / 2, top, bottom - height, top - height / 2, bottom - height / 2):
        yield left, y
        yield right - width, y
    if spot.symbol is not None:
        left, top, right, bottom = spot.symbol
        level = (top + bottom - height) / 2
        for y in (level, *(level + k * size / 3 for n in range(1, 6) for k in (n, -n))):
            for aside in _ASIDE:
                yield right + aside, y
                yield left - aside - width, y
        middle = (left + right - width) / 2
        for y in (top - height - 1, bottom + 1):
            for x in (left, right - width, middle, middle + width / 2 + AIR, middle - width / 2 - AIR):
                yield x, y
    else:
        yield from _along(width, height, spot.route)


def _along(width: float, height: float, route: Sequence[Point]) -> Iterator[Point]:
    """Corners of words on either side of the pieces of a line, longest piece first."""
    pieces = sorted(itertools.pairwise(route), key=lambda s: -math.dist(*s))
    for (x0, y0), (x1, y1) in pieces:
        for share in (0.5, 0.35, 0.65, 0.2, 0.8, 0.1, 0.9):
            x, y = x0 + share * (x1 - x0), y0 + share * (y1 - y0)
            for away in _BESIDE_LINE:
                if abs(x1 - x0) < abs(y1 - y0):
                    yield x + away, y - height / 2
                    yield x - away - width, y - height / 2
                else:
                    yield x - width / 2, y - height - away / 2
                    yield x - width / 2, y + away / 2
