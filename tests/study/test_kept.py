"""A study that is kept from edit to edit says what a study from scratch says, after every edit.

Physics and rules are checked elsewhere; this holds the two ways of getting at the same answers against each other. The
long run: ``ONELINE_STEPS=20000 pytest tests/study/test_kept.py``.
"""

from __future__ import annotations

import os
import random

import pytest
from random_edits import random_edit
from same_answers import first_difference, same

import oneline
from oneline.assets import sample
from oneline.model import Drawing, edits
from oneline.network import build_feeding, build_network
from oneline.network.live import live_state
from oneline.study import study
from oneline.study.alternates import alternates
from oneline.study.changes import ON_THE_SHEET, STRUCTURE
from oneline.study.context import Context
from oneline.study.kept import KeptStudy

STEPS = int(os.environ.get("ONELINE_STEPS", "1000"))


def small(seed: int) -> Drawing:
    """A part of a sample: whatever a random half of its items leaves standing."""
    rng = random.Random(seed)
    drawing = oneline.open(sample(rng.choice(("cannery.oneline", "bindery.oneline"))))
    gone = [i.id for i in drawing.items.values() if i.kind in ("load", "bus", "run", "disconnect")]
    for item_id in rng.sample(gone, len(gone) // 2):
        if item_id in drawing:
            drawing = edits.remove(drawing, [item_id])
    return drawing


def follow(drawing: Drawing, view: str, seed: int, steps: int) -> None:
    rng = random.Random(seed)
    kept = KeptStudy(view)
    before: list[Drawing] = []
    for step in range(steps):
        found, wanted = kept.of(drawing), study(drawing, view)
        assert same(tuple(found.verdicts), wanted.verdicts), (
            f"step {step}: {first_difference(found.verdicts, wanted.verdicts)}"
        )
        assert found.sources == wanted.sources
        assert list(found.points) == list(wanted.points)
        for item_id in rng.sample(list(wanted.points), min(3, len(wanted.points))):
            assert same(found.points[item_id], wanted.points[item_id]), f"step {step}: {item_id}"
        before.append(drawing)
        drawing = rng.choice(before[-8:]) if rng.random() < 0.1 else random_edit(drawing, rng)


@pytest.mark.parametrize("part", range(8))
def test_answers_are_those_of_a_study_from_scratch(part):
    follow(small(part), ("proposed", "existing")[part % 2], part, STEPS // 10)


@pytest.mark.parametrize("name", ["cannery", "bindery"])
def test_the_same_on_the_samples(name):
    follow(oneline.open(sample(f"{name}.oneline")), "proposed", len(name), STEPS // 10)


def test_most_edits_of_values_are_followed(monkeypatch):
    """The test above would pass too if every edit started the study afresh."""
    drawing = oneline.open(sample("cannery.oneline"))
    kept = KeptStudy()
    kept.of(drawing)
    started = []
    monkeypatch.setattr(KeptStudy, "_start", lambda self, drawing: started.append(drawing))
    main = next(i for i in drawing.items.values() if i.kind == "disconnect" and i.trip_a)
    run = next(i for i in drawing.items.values() if i.kind == "run" and i.length_ft)
    for item_id, values in ((main.id, {"trip_a": 90.0}), (run.id, {"length_ft": 12.0}), (main.id, {"sccr_ka": 10.0})):
        drawing = edits.change(drawing, item_id, **values)
        kept.of(drawing)
    assert not started


def test_where_things_stand_changes_no_answer():
    drawing = oneline.open(sample("cannery.oneline"))
    kept = KeptStudy()
    found = kept.of(drawing)
    moved = edits.move(drawing, {i.id: i.place for i in drawing.items.values() if i.place})
    assert kept.of(moved) is found


@pytest.mark.parametrize("name", ["cannery", "bindery"])
def test_the_network_reads_no_field_that_counts_as_a_value(name, monkeypatch):
    """Whatever network, live state and other ways of feeding read has to start the study afresh when it changes."""
    drawing = oneline.open(sample(f"{name}.oneline"))
    read: set[str] = set()
    for cls in {type(i) for i in drawing.items.values()}:

        def get(self, field: str, _plain=object.__getattribute__) -> object:
            read.add(field)
            return _plain(self, field)

        monkeypatch.setattr(cls, "__getattribute__", get, raising=False)
    ctx = Context(drawing, "proposed", 2023)
    net = build_network(ctx.drawing)
    build_feeding(net)
    live_state(net)
    alternates(ctx)
    fields = {f for i in drawing.items.values() for f in i.__dataclass_fields__} - {"kind", "terminals", "title"}
    monkeypatch.undo()
    # The view leaves circuits out by their status; lines that stand for devices start afresh by themselves.
    assert read & fields - STRUCTURE - ON_THE_SHEET <= {"circuits"}
