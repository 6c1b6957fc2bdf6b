"""Words of a diagram on small paper: large enough, off the symbols, off each other, and none of them invented."""

from __future__ import annotations

import importlib.util
import itertools
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

from oneline.model import Bus, ConductorRun, Connection
from oneline.paper.door import Door
from oneline.paper.picture import LEAST_TEXT_PT, bounds, boxes_of, on_paper
from oneline.paper.reduced import reduced
from oneline.sheet import build_picture
from oneline.sheet.display import Arc, Text
from oneline.study import study

SCALES = (0.45, 0.55, 0.7)
_WHEN = datetime(2026, 4, 20, 12, 0)


def label_texts(groups: Any) -> list[tuple[str, Text]]:
    return [(g.item, p) for g in groups if g.part == "label" for p in g.primitives if isinstance(p, Text)]


def overlap(a: tuple[float, ...], b: tuple[float, ...]) -> float:
    return max(0.0, min(a[2], b[2]) - max(a[0], b[0])) * max(0.0, min(a[3], b[3]) - max(a[1], b[1]))


@pytest.mark.parametrize("scale", SCALES)
def test_words_are_large_enough(mill: Any, scale: float) -> None:
    found = reduced(mill.picture, scale)
    assert found.name_pt >= LEAST_TEXT_PT
    for _, text in label_texts(found.picture.groups):
        assert text.size * scale >= LEAST_TEXT_PT - 1e-6, text


@pytest.mark.parametrize("scale", SCALES)
def test_every_name_is_still_there(mill: Any, scale: float) -> None:
    """All names, whole, perhaps on two lines; and no word that the full picture does not have."""
    found = reduced(mill.picture, scale)
    said: dict[str, str] = {}
    for item, text in label_texts(found.picture.groups):
        said[item] = said.get(item, "") + " " + text.text
    full: dict[str, str] = {}
    for item, text in label_texts(on_paper(mill.picture).groups):
        full[item] = full.get(item, "") + " " + text.text
    for item in mill.drawing.view("proposed").items.values():
        if item.name and not isinstance(item, Connection):
            assert item.name in " ".join(said[item.id].split()), item.name
    for item, words in said.items():
        assert set(words.split()) <= set(full[item].split())


@pytest.mark.parametrize("scale", SCALES)
def test_names_have_one_size(mill: Any, scale: float) -> None:
    found = reduced(mill.picture, scale)
    panels = {b.id for b in mill.drawing.view("proposed").of(Bus)}
    sizes = {round(t.size, 6) for item, t in label_texts(found.picture.groups) if item in panels and t.face == "bold"}
    assert len(sizes) == 1
    assert sizes.pop() * scale == pytest.approx(found.name_pt)


@pytest.mark.parametrize("scale", SCALES)
def test_labels_keep_off_symbols_lines_and_each_other(mill: Any, scale: float) -> None:
    groups = reduced(mill.picture, scale).picture.groups
    labels = [(g.item, bounds(g.primitives)) for g in groups if g.part == "label"]
    others = [box for g in groups if g.part in ("symbol", "line") for box in boxes_of(g)]
    for item, box in labels:
        assert all(overlap(box, other) < 0.01 for other in others), item
    for (one, a), (other, b) in itertools.combinations(labels, 2):
        assert overlap(a, b) < 0.01, (one, other)


def test_more_room_more_words(mill: Any) -> None:
    counts = [len(label_texts(reduced(mill.picture, s).picture.groups)) for s in (0.4, 0.55, 0.74)]
    assert counts == sorted(counts)
    assert counts[0] < counts[-1]


def test_what_is_left_out_is_said(mill: Any) -> None:
    small = reduced(mill.picture, 0.4)
    assert small.left_out
    full = len(label_texts(on_paper(mill.picture).groups))
    assert len(label_texts(small.picture.groups)) < full
    large = reduced(mill.picture, 1.0)
    assert not large.left_out
    assert sorted(t.text for _, t in label_texts(large.picture.groups)) == sorted(
        t.text for _, t in label_texts(on_paper(mill.picture).groups)
    )


def test_unknown_values_keep_their_ring(mill: Any) -> None:
    """A long dash without its ring would read as a minus: as many rings as dashes in every label."""
    for scale in SCALES:
        for g in reduced(mill.picture, scale).picture.groups:
            if g.part == "label":
                dashes = sum(isinstance(p, Text) and p.text == "—" for p in g.primitives)
                assert sum(isinstance(p, Arc) for p in g.primitives) == dashes


def test_tags_and_marks_grow_where_they_are_too_small(mill: Any) -> None:
    before = {(g.item, g.box): bounds(g.primitives) for g in on_paper(mill.picture).groups if g.part in ("tag", "mark")}
    after = [bounds(g.primitives) for g in reduced(mill.picture, 0.5).picture.groups if g.part in ("tag", "mark")]
    assert len(after) == len(before)
    grown = [
        (a[3] - a[1]) / (b[3] - b[1]) for a, b in zip(after, before.values(), strict=True)
    ]  # fmt: skip
    assert min(grown) >= 1 - 1e-9
    assert max(grown) > 1.4
    assert sum(g > 1.1 for g in grown) >= 0.8 * len(grown)


# ------------------------------------------------------------------------------------------- names and lengths on paper
def _crowded_door() -> Any:
    """The invented crowded drawing of the sheet tests, on Letter paper."""
    path = Path(__file__).parents[1] / "sheet" / "crowded_drawing.py"
    spec = importlib.util.spec_from_file_location("crowded_drawing_for_paper", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    drawing = module.crowded_drawing()
    result = study(drawing)
    door = Door(drawing, result, build_picture(drawing, result, "proposed"), "letter", _WHEN, "", "us", None)
    door.document()
    return drawing, door


def test_labels_of_different_things_do_not_read_as_one() -> None:
    """Common practice, no source: lettering of two things needs more room between than lines of one thing have."""
    _, door = _crowded_door()
    labels = [(g.item, g.box) for g in door.picture.groups if g.part == "label"]
    for (one, a), (other, b) in itertools.combinations(labels, 2):
        apart = max(a[0] - b[2], b[0] - a[2], a[1] - b[3], b[1] - a[3]) * door.printed_scale
        assert apart > 0.8, (one, other, apart)


def test_service_conductors_and_new_work_keep_their_lengths() -> None:
    drawing, door = _crowded_door()
    assert door.left_out, "a sheet that has not room for all"
    words = {g.item: " ".join(p.text for p in g.primitives if isinstance(p, Text))
             for g in door.picture.groups if g.part == "label"}  # fmt: skip
    wanted = [r for r in drawing.of(ConductorRun) if r.raceway_size and (r.sets == 2 or r.status == "new")]
    assert len(wanted) == 4
    for run in wanted:
        assert f"{run.length_ft:g} ft, EMT {run.raceway_size}" in words.get(run.id, ""), run.id
