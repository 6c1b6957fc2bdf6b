"""Every live conductor, bar and device is told by codes: none is left out for want of room, few are told twice."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from oneline.files import read_drawing
from oneline.model import ConductorRun, Drawing, End, Joint, Place
from oneline.model.edits import add, connect
from oneline.sheet import Picture, Text, build_picture, source_codes
from oneline.study import StudyResult, study

Grow = Callable[[int, int], Drawing]
_SAMPLES = Path(__file__).parents[2] / "samples"


def _codes(picture: Picture) -> dict[str, list[tuple[str, ...]]]:
    """{item: codes of each of its tags}, those of what is only possible left out."""
    out: dict[str, list[tuple[str, ...]]] = {}
    for group in picture.groups:
        texts = tuple(p.text for p in group.primitives if isinstance(p, Text) and not p.text.endswith("?"))
        if group.part == "tag" and texts and not texts[-1].endswith("live both sides"):
            out.setdefault(group.item, []).append(texts)
    return out


def _untold(drawing: Drawing, result: StudyResult, picture: Picture) -> list[str]:
    """Live conductors without a tag of all their sources, and live terminals from which no such tag is reached over
    conductors and bolted connections."""
    names, tags = source_codes(result), _codes(picture)
    leader: dict[End, End] = {}

    def lead(end: End) -> End:
        while leader.get(end, end) != end:
            end = leader[end]
        return end

    lines = [c for c in drawing.connections() if isinstance(c, ConductorRun | Joint)]
    for conn in lines:
        leader[lead(conn.a)] = lead(conn.b)
    told: dict[End, set[tuple[str, ...]]] = {}
    for conn in lines:
        told.setdefault(lead(conn.a), set()).update(tags.get(conn.id, ()))
    for item in drawing.items.values():
        if item.kind == "bus" or item.terminals == ("out",):
            told.setdefault(lead(End(item.id, item.terminals[0])), set()).update(tags.get(item.id, ()))
    found = []
    for item_id, point in result.points.items():
        item = drawing.items[item_id]
        for terminal, sources in point.live_sides.items():
            want = tuple(names[s] for s in result.sources if s in sources)
            if not want:
                continue
            if isinstance(item, ConductorRun):
                if want not in tags.get(item_id, ()):
                    found.append(f"{item_id} {want}")
            elif _joined(drawing, End(item_id, terminal)) and want not in told.get(lead(End(item_id, terminal)), ()):
                found.append(f"{item_id} {terminal} {want}")
    return found


def _joined(drawing: Drawing, end: End) -> bool:
    """Whether anything is connected to a terminal; one without is live only through its own device."""
    return any(end in (c.a, c.b) for c in drawing.connections_of(end.item))


@pytest.mark.parametrize("seed", range(24))
def test_everything_live_in_a_random_drawing_is_told(seed: int, random_drawing: Grow) -> None:
    drawing = random_drawing(seed, 8 + seed * 2)
    result = study(drawing)
    assert _untold(drawing.view("proposed"), result, build_picture(drawing, result, "proposed")) == []


@pytest.mark.parametrize("view", ["existing", "proposed"])
@pytest.mark.parametrize("name", ["cannery", "bindery"])
def test_everything_live_in_the_samples_is_told(name: str, view: str) -> None:
    drawing = read_drawing(_SAMPLES / f"{name}.oneline").drawing
    result = study(drawing, view)
    picture = build_picture(drawing, result, view, ghosts=False)
    assert _untold(drawing.view(view), result, picture) == []
    assert all(g.level == 0 for g in picture.groups if g.part == "tag"), "at every zoom"


def _overlap(a: Any, b: Any) -> bool:
    return bool(a[0] < b[2] - 0.6 and a[2] - 0.6 > b[0] and a[1] < b[3] - 0.6 and a[3] - 0.6 > b[1])


@pytest.mark.parametrize("seed", range(0, 40, 4))
def test_tags_cover_no_words_and_no_symbols(seed: int, random_drawing: Grow) -> None:
    drawing = random_drawing(seed, 30)
    picture = build_picture(drawing, study(drawing), "proposed")
    tags = [g for g in picture.groups if g.part == "tag" and g.item in picture.routes]
    others = [g for g in picture.groups if g.part in ("label", "detail", "symbol")]
    hidden = [(t.item, o.item, o.part) for t, o in itertools.product(tags, others) if _overlap(t.box, o.box)
              and (o.part != "symbol" or _overlap(t.box, _ink_box(o)))]  # fmt: skip
    assert hidden == []


def _ink_box(group: Any) -> Any:
    points = [p for q in group.primitives for p in getattr(q, "points", ())]
    return (min(x for x, _ in points), min(y for _, y in points), max(x for x, _ in points), max(y for _, y in points))


def test_a_line_too_short_for_codes_has_them_nevertheless() -> None:
    drawing, one = add(Drawing(), "service", name="S", system="208Y/120", place=Place(0, 0))
    drawing, two = add(drawing, "disconnect", name="Main", place=Place(0, 48))
    drawing, run = connect(drawing, End(one, "out"), End(two, "line"), kind="run")
    picture = build_picture(drawing, study(drawing), "proposed")
    assert _codes(picture)[run] == [("S",)]


def test_codes_stand_side_by_side_and_not_oftener_than_every_120_units() -> None:
    drawing, one = add(Drawing(), "service", name="S", system="208Y/120", place=Place(0, 0))
    drawing, two = add(drawing, "disconnect", name="Main", place=Place(0, 700))
    drawing, array = add(drawing, "solar", name="Array", output_a=30, place=Place(0, 900))
    drawing, run = connect(drawing, End(one, "out"), End(two, "line"), kind="run")
    drawing, _ = connect(drawing, End(two, "load"), End(array, "out"), kind="run")
    picture = build_picture(drawing, study(drawing), "proposed")
    tags = [g for g in picture.groups if g.part == "tag" and g.item == run]
    for group in tags:
        baselines = {p.at[1] for p in group.primitives if isinstance(p, Text)}
        assert len(baselines) == 1
        assert group.box[2] - group.box[0] < 16, "compact: two codes take less than two tags"
    levels = sorted(g.box[1] for g in tags)
    assert 4 <= len(levels) <= 6
    assert all(100 < q - p < 180 for p, q in itertools.pairwise(levels))
