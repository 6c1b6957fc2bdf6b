"""Clear air between what belongs to different things: tags, marks, symbols and words never touch each other.

Common practice, no source: drafting keeps lettering clear of lines and symbols, or one reads it as theirs.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

from oneline.files import read_drawing
from oneline.model import ConductorRun, Drawing, End, Place, SuspectedTie
from oneline.model.edits import add, connect
from oneline.sheet import Arc, Picture, Text, arrange, build_picture
from oneline.sheet.metrics import text_box
from oneline.study import study

Box = tuple[float, float, float, float]
Grow = Callable[[int, int], Drawing]
_SAMPLES = Path(__file__).parents[2] / "samples"
#: Least air between a tag or mark and words, in grid units.
_LEAST = 1.0


def _solid(picture: Picture) -> Iterator[tuple[str, str, Box]]:
    """(item, what, box) of every tag, mark and line of words that is painted at 100 %, and of the strokes of symbols."""
    for group in picture.groups:
        if group.level > 1 or group.part in ("line", "ghost"):
            continue
        if group.part in ("tag", "mark"):
            yield group.item, group.part, group.box if group.part == "tag" else _ink(group)
            continue
        for p in group.primitives:
            if isinstance(p, Text) and group.part == "label":
                yield group.item, f"words {p.text!r}", _inked(text_box(p))
            elif not isinstance(p, Text):
                yield group.item, "symbol" if group.part == "symbol" else "ring", _extent(p)


def _inked(box: Box) -> Box:
    """Without the empty upper and lower part of a line of text: capitals and descenders take about 0.95 em."""
    height = box[3] - box[1]
    return (box[0], box[1] + 0.12 * height, box[2], box[3] - 0.08 * height)


def _extent(p: Any) -> Box:
    if isinstance(p, Arc):
        (x, y), r = p.center, p.radius
        return (x - r, y - r, x + r, y + r)
    xs, ys = [q[0] for q in p.points], [q[1] for q in p.points]
    return (min(xs), min(ys), max(xs), max(ys))


def _ink(group: Any) -> Box:
    boxes = [_extent(p) for p in group.primitives if not isinstance(p, Text)]
    return (min(b[0] for b in boxes), min(b[1] for b in boxes), max(b[2] for b in boxes), max(b[3] for b in boxes))


def _near(a: Box, b: Box, air: float) -> bool:
    return a[0] < b[2] + air and a[2] > b[0] - air and a[1] < b[3] + air and a[3] > b[1] - air


def touching(picture: Picture) -> list[str]:
    """Pairs that touch: words with other words, tags or marks with words, with each other and with symbols."""
    found = []
    bars = {g.item for g in picture.groups if g.part == "tag" and g.item not in picture.routes}
    for (i1, what1, b1), (i2, what2, b2) in itertools.combinations(_solid(picture), 2):
        kinds = {what1.split()[0], what2.split()[0]}
        if kinds <= {"symbol", "ring"} or (i1 == i2 and kinds <= {"words", "ring", "symbol"}):
            continue
        if i1 == i2 and i1 in bars and kinds == {"tag", "symbol"}:
            continue  # the codes inside a bar
        air = _LEAST if kinds & {"tag", "mark"} and kinds & {"words", "tag", "mark"} else 0.0
        if _near(b1, b2, air):
            found.append(f"{i1} {what1} - {i2} {what2}")
    return found


@pytest.mark.parametrize("view", ["existing", "proposed"])
@pytest.mark.parametrize("name", ["cannery", "bindery"])
def test_nothing_touches_in_the_samples(name: str, view: str) -> None:
    drawing = read_drawing(_SAMPLES / f"{name}.oneline").drawing
    assert touching(build_picture(drawing, study(drawing, view), view, ghosts=False)) == []


@pytest.mark.parametrize("anew", [False, True])
@pytest.mark.parametrize("view", ["existing", "proposed"])
def test_nothing_touches_in_a_crowded_drawing(view: str, anew: bool, goldens: ModuleType) -> None:
    drawing: Drawing = goldens.sibling("crowded_drawing").crowded_drawing()
    drawing = arrange(drawing) if anew else drawing
    assert touching(build_picture(drawing, study(drawing, view), view, ghosts=False)) == []


def test_conductors_of_a_crowded_drawing_keep_all_their_words(goldens: ModuleType) -> None:
    drawing: Drawing = goldens.sibling("crowded_drawing").crowded_drawing()
    drawing = drawing.with_items(removed=[t.id for t in drawing.of(SuspectedTie)])
    picture = build_picture(drawing, study(drawing), "proposed")
    words = {g.item: " ".join(p.text for p in g.primitives if isinstance(p, Text))
             for g in picture.groups if g.part == "label"}  # fmt: skip
    short = [
        r.id for r in drawing.of(ConductorRun) if r.raceway_size and f"EMT {r.raceway_size}" not in words.get(r.id, "")
    ]
    assert short == []


@pytest.mark.parametrize("seed", range(0, 24, 2))
def test_nothing_touches_in_a_random_drawing(seed: int, random_drawing: Grow) -> None:
    drawing = random_drawing(seed, 12 + seed)
    assert touching(build_picture(drawing, study(drawing), "proposed")) == []


# ------------------------------------------------------------------------------------------------------------- ties
def _question(picture: Picture, tie: str) -> tuple[float, float]:
    group = next(g for g in picture.groups if g.item == tie and g.part == "line")
    return next(p.center for p in group.primitives if isinstance(p, Arc) and p.radius > 6)


@pytest.mark.parametrize("middle", [0.0, 30.0, -30.0, 60.0])
def test_the_question_of_a_tie_stands_clear_of_crossings_which_have_a_hop(middle: float) -> None:
    """A question mark on a crossing reads as a splice of the two lines."""
    drawing, left = add(Drawing(), "bus", name="Panel 1", place=Place(-200, 200))
    drawing, right = add(drawing, "bus", name="Panel 2", place=Place(200, 200))
    drawing, service = add(drawing, "service", name="Service", system="208Y/120", place=Place(middle, 0))
    drawing, main = add(drawing, "disconnect", name="Main", place=Place(middle, 400))
    drawing, _ = connect(drawing, End(service, "out"), End(main, "line"), kind="run", size="3/0")
    drawing, tie = add(drawing, "tie", a=End(left, "bus"), b=End(right, "bus"))
    picture = build_picture(drawing, study(drawing), "proposed")
    assert isinstance(drawing.get(tie), SuspectedTie)
    x, y = _question(picture, tie)
    group = next(g for g in picture.groups if g.item == tie and g.part == "line")
    hops = [p for p in group.primitives if isinstance(p, Arc) and p.sweep_deg == 180]
    assert [h.center[0] for h in hops] == [middle]
    assert abs(x - middle) > 8 + hops[0].radius
    assert any(
        min(p[0], q[0]) <= x <= max(p[0], q[0]) and min(p[1], q[1]) <= y <= max(p[1], q[1])
        for p, q in itertools.pairwise(picture.routes[tie])
    ), "on its own line"
