"""A picture for small paper: words large enough to be read, as many of them as there is room for.

Every name is placed first, all at one size. Then each label gets its ratings and figures back, and each conductor its
label, where they find room. Tags and marks grow too, as far as they do not cover a symbol.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from oneline.paper.picture import GOOD_NAME_PT, LEAST_TEXT_PT, Box, bounds, boxes_of, of_groups, on_paper
from oneline.sheet.display import Arc, Group, Picture, Primitive, Stroke, Text
from oneline.sheet.metrics import text_width
from oneline.sheet.tracks import Obstacles
from oneline.sheet.wording import NAME_SIZE

#: Sizes tried for the names, in points; ratings are a little smaller, but not below the least text.
_NAME_SIZES_PT = (GOOD_NAME_PT, 7.5, 7.0, LEAST_TEXT_PT)
_RATING_SHARE = 8.0 / 9.0
_PITCH = 1.18
#: How often the names are placed again, the one that found no room first.
_MOST_RESTARTS = 12
#: Between words and the strokes left and right of them, in grid units.
_AIR = 3.0
#: Letters of tags and marks are about this high in grid units; how far they are enlarged, largest first.
_SIGN_UNITS = 6.5
_SIGN_FACTORS = (2.4, 2.2, 2.0, 1.75, 1.6, 1.45, 1.3, 1.15)


@dataclass(frozen=True)
class Reduced:
    """The picture with larger words; ``name_pt``: size of its names; ``left_out``: whether some words found no room;
    ``crowded``: whether a name covers something."""

    picture: Picture
    name_pt: float
    left_out: bool
    crowded: bool = False


class _Place(tuple[float, float, float, float]):
    """The box of a label, with that of the symbol it belongs to."""

    symbol: Box
    others: tuple[Box, ...]

    def nearest(self, words: Box) -> bool:
        """Whether words at a place are nearest to their own symbol: nobody may read them as the name of another."""
        own = _apart(words, self.symbol)
        return all(_apart(words, other) > own for other in self.others)


def _apart(a: Box, b: Box) -> float:
    """Distance of two boxes, the vertical part counting less: words beside a symbol are rarely level with it."""
    across = max(a[0] - b[2], b[0] - a[2], 0.0)
    return across + 0.8 * max(a[1] - b[3], b[1] - a[3], 0.0)


def _placed_beside(groups: list[Group]) -> list[Group]:
    """The groups, with the boxes of labels knowing their symbol."""
    symbols = {g.item: g.box for g in groups if g.part == "symbol"}
    symbols |= {g.item: g.box for g in groups if g.part == "frame"}
    out = []
    for g in groups:
        if g.part == "label" and g.item in symbols:
            place = _Place(g.box)
            place.symbol = symbols[g.item]
            place.others = tuple(box for item, box in symbols.items() if item != g.item)
            g = replace(g, box=place)
        out.append(g)
    return out


@dataclass(frozen=True)
class _Line:
    """One line of a label: its primitives and its baseline."""

    primitives: tuple[Primitive, ...]
    base: float
    size: float
    is_name: bool


def reduced(picture: Picture, scale: float, at_any_cost: bool = True) -> Reduced:
    """The picture for a scale (points per grid unit).

    A name that finds no room at the least size stands where it covers least: a crowded name is better than none.
    ``at_any_cost``: else a crowded picture is not worked out any further.
    """
    groups = [g for g in on_paper(picture, scale).groups if g.part != "detail"]
    groups = _placed_beside(_signs_enlarged(groups, scale))
    fixed = Obstacles()
    for g in groups:
        if g.part != "label":
            for box in boxes_of(g):
                fixed.add(box, g.item, 0.0)
    labels = {n: _lines(g) for n, g in enumerate(groups) if g.part == "label"}
    names = {n: lines[:1] for n, lines in labels.items() if lines and lines[0].is_name}
    placed: dict[int, tuple[Primitive, ...]] | None = None
    name_pt = LEAST_TEXT_PT
    for name_pt in _NAME_SIZES_PT:
        placed = _place_names(names, groups, fixed, name_pt / scale)
        if placed is not None:
            break
    crowded = placed is None
    if placed is None and not at_any_cost:
        return Reduced(picture, name_pt, True, True)
    if placed is None:
        placed = _crowded(names, groups, fixed, name_pt / scale)
    left_out = _give_back(
        labels, placed, groups, fixed, name_pt / scale, max(LEAST_TEXT_PT, _RATING_SHARE * name_pt) / scale
    )
    out = []
    for n, g in enumerate(groups):
        if n in placed:
            out.append(replace(g, primitives=placed[n], box=bounds(placed[n])))
        elif g.part != "label":
            out.append(g)
    return Reduced(of_groups(picture, out), name_pt, left_out, crowded)


# -------------------------------------------------------------------------------------------------------------- lines
def _lines(group: Group) -> list[_Line]:
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
    out: list[_Line] = []
    for base in sorted(texts):
        first = texts[base][0]
        assert isinstance(first, Text)
        name = first.face == "bold" and first.size >= NAME_SIZE
        line = _Line(tuple(texts[base]), base, first.size, name)
        if name and out and out[-1].is_name:
            out[-1] = _joined(out[-1], line)
        else:
            out.append(line)
    return out


def _joined(upper: _Line, lower: _Line) -> _Line:
    """A name that the sheet broke into two lines as one again; here it is broken anew where that is needed."""
    first, second = upper.primitives[0], lower.primitives[0]
    assert isinstance(first, Text)
    assert isinstance(second, Text)
    whole = replace(first, text=f"{first.text} {second.text}")
    shift = text_width(whole.text, whole.size, whole.face) - text_width(second.text, second.size, second.face)
    rest = [replace(p, at=(p.at[0] + shift, upper.base)) for p in lower.primitives[1:] if isinstance(p, Text)]
    return replace(upper, primitives=(whole, *rest))


def _set(line: _Line, size: float, left: float, base: float) -> tuple[Primitive, ...]:
    """A line at another size with its left end and baseline somewhere else."""
    factor = size / line.size
    start = bounds(line.primitives)[0]
    out: list[Primitive] = []
    for p in line.primitives:
        if isinstance(p, Text):
            out.append(replace(p, size=p.size * factor, at=(left + (p.at[0] - start) * factor, base)))
        elif isinstance(p, Arc):
            x, y = p.center
            center = (left + (x - start) * factor, base + (y - line.base) * factor)
            out.append(replace(p, center=center, radius=p.radius * factor))
    return tuple(out)


def _width(line: _Line, size: float) -> float:
    left, _, right, _ = bounds(line.primitives)
    return (right - left) * size / line.size


def _choices(lines: Sequence[_Line], sizes: Sequence[float], box: Box) -> Iterator[tuple[Primitive, ...]]:
    """Lines below each other from the left end or up to the right end of their label, at several heights; then the same
    on the other side of a label's symbol, where ``box`` is a ``_Place``."""
    width = max(_width(line, size) for line, size in zip(lines, sizes, strict=True))
    height = sum(size * _PITCH for size in sizes)
    top, bottom = box[1], box[3]
    for first in ((top + bottom - height) / 2, top, bottom - height, top - height / 2, bottom - height / 2):
        for left in (box[0], box[2] - width):
            yield _stacked(lines, sizes, left, first)
    if isinstance(box, _Place):
        center = (box.symbol[1] + box.symbol[3] - height) / 2
        for first in (center, *(center + k * sizes[0] / 3 for n in range(1, 5) for k in (n, -n))):
            for aside in (2 * _AIR, 14.0):
                yield _stacked(lines, sizes, box.symbol[2] + aside, first)
                yield _stacked(lines, sizes, box.symbol[0] - aside - width, first)
        middle = (box.symbol[0] + box.symbol[2] - width) / 2
        for first in (box.symbol[1] - height - 1, box.symbol[3] + 1):
            for left in (
                box.symbol[0],
                box.symbol[2] - width,
                middle,
                middle + width / 2 + _AIR,
                middle - width / 2 - _AIR,
            ):
                yield _stacked(lines, sizes, left, first)


def _stacked(lines: Sequence[_Line], sizes: Sequence[float], left: float, top: float) -> tuple[Primitive, ...]:
    """Lines below each other with their upper left corner at a point."""
    out = list[Primitive]()
    for line, size in zip(lines, sizes, strict=True):
        out += _set(line, size, left, top + 0.86 * size)
        top += size * _PITCH
    return tuple(out)


def _split(line: _Line) -> tuple[_Line, _Line] | None:
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


def _name_choices(line: _Line, size: float, box: Box) -> Iterator[tuple[Primitive, ...]]:
    yield from _choices((line,), (size,), box)
    halves = _split(line)
    if halves is not None:
        yield from _choices(halves, (size, size), box)


def _label_choices(
    lines: Sequence[_Line], name_size: float, line_size: float, box: Box
) -> Iterator[tuple[Primitive, ...]]:
    """Several lines of a label, with its name on one line or on two."""
    halves = _split(lines[0]) if lines[0].is_name else None
    for variant in (lines, (*halves, *lines[1:])) if halves is not None else (lines,):
        yield from _choices(variant, [name_size if line.is_name else line_size for line in variant], box)


# ------------------------------------------------------------------------------------------------------------- placing
def _place_names(
    names: dict[int, list[_Line]], groups: list[Group], fixed: Obstacles, size: float
) -> dict[int, tuple[Primitive, ...]] | None:
    """A place for every name at one size, or ``None`` when one finds none."""
    rooms: dict[int, list[tuple[Primitive, ...]]] = {}
    for n, lines in names.items():
        at = groups[n].box
        boxed = ((c, bounds(c)) for c in _name_choices(lines[0], size, at))
        found = [c for c, b in boxed if (not isinstance(at, _Place) or at.nearest(b)) and fixed.free(_with_air(b))]
        if not found:
            return None
        rooms[n] = found
    # Where there is little choice goes first.
    for order in (sorted(rooms, key=lambda n: len(rooms[n])), list(rooms)):
        placed = _greedy(rooms, order)
        if placed is not None:
            return placed
    return None


def _greedy(
    rooms: dict[int, list[tuple[Primitive, ...]]], order: Sequence[int]
) -> dict[int, tuple[Primitive, ...]] | None:
    """The first free choice of each in turn. One that finds none goes to the front, and all start again, a few times."""
    order = list(order)
    for _ in range(1 + min(len(order), _MOST_RESTARTS)):
        taken = Obstacles()
        out: dict[int, tuple[Primitive, ...]] = {}
        for n in order:
            found = next((c for c in rooms[n] if taken.free(bounds(c))), None)
            if found is None:
                order.remove(n)
                order.insert(0, n)
                break
            out[n] = found
            taken.add(bounds(found), "", 0.0)
        else:
            return out
    return None


def _with_air(box: Box) -> Box:
    """A box of words with the least air to strokes at its sides."""
    return (box[0] - _AIR, box[1], box[2] + _AIR, box[3])


def _crowded(
    names: dict[int, list[_Line]], groups: list[Group], fixed: Obstacles, size: float
) -> dict[int, tuple[Primitive, ...]]:
    """Every name at one size, where it covers as little as possible."""
    boxes = [box for box, _ in fixed.boxes]
    out: dict[int, tuple[Primitive, ...]] = {}
    for n, lines in names.items():
        found = min(_name_choices(lines[0], size, groups[n].box), key=lambda c: _covered(bounds(c), boxes))
        out[n] = found
        boxes.append(bounds(found))
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
    labels: dict[int, list[_Line]], placed: dict[int, tuple[Primitive, ...]], groups: list[Group], fixed: Obstacles,
    name_size: float, line_size: float,
) -> bool:  # fmt: skip
    """Add ratings, figures and conductor labels where they find room. Returns whether some did not."""
    taken = Obstacles()
    for n, found in placed.items():
        taken.add(bounds(found), str(n), 0.0)
    left_out = False
    for n, lines in labels.items():
        for count in range(len(lines), 1 if n in placed else 0, -1):
            choices = _label_choices(lines[:count], name_size, line_size, groups[n].box)
            room = next(
                (c for c in choices for b in (bounds(c),) if fixed.free(_with_air(b)) and taken.free(b, (str(n),))),
                None,
            )
            if room is not None:
                placed[n] = room
                taken.add(bounds(room), str(n), 0.0)
                left_out |= count < len(lines)
                break
        else:
            left_out |= len(lines) > (1 if n in placed else 0)
    return left_out


# --------------------------------------------------------------------------------------------------------------- signs
def _signs_enlarged(groups: list[Group], scale: float) -> list[Group]:
    """Tags and marks about their middle, as far as they are too small to read and cover no symbol."""
    symbols = Obstacles()
    for g in groups:
        if g.part == "symbol":
            symbols.add(bounds(g.primitives), g.item, 0.0)
    wanted = LEAST_TEXT_PT / (_SIGN_UNITS * scale)
    out = []
    for g in groups:
        if g.part in ("tag", "mark"):
            at_bar = not symbols.free(g.box)
            for factor in _SIGN_FACTORS:
                larger = _enlarged(g, min(factor, max(1.0, wanted)))
                if factor <= max(wanted, _SIGN_FACTORS[-1]) and (at_bar or symbols.free(larger.box)):
                    g = larger
                    break
        out.append(g)
    return out


def _enlarged(group: Group, factor: float) -> Group:
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
