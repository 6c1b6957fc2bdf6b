"""How long the plan of an outage takes, from the drawing to the last spare plan: ``pytest tests/bench --benchmark-only``."""

from __future__ import annotations

import pytest
from random_building import building

import oneline
from oneline.assets import sample
from oneline.model import Drawing, WorkZone
from oneline.outage.plan import make_plan


def zoned(drawing: Drawing) -> Drawing:
    board = next(i.id for i in drawing.items.values() if i.kind == "bus")
    return drawing.with_zone(WorkZone(id="z", items=(board,)))


@pytest.mark.parametrize(
    ("devices", "seed", "seconds"), [(20, 2, 0.15), (60, 2, 0.4)], ids=("97 items", "323 items")
)  # fmt: skip
def test_plan_of_a_random_building(benchmark, devices, seed, seconds):
    drawing = zoned(building(seed, devices=devices))
    plan = benchmark(lambda: make_plan(drawing, "z"))
    assert len(plan.steps) > 60
    assert benchmark.stats.stats.min < seconds


def test_plan_of_the_cannery(benchmark):
    drawing = zoned(oneline.open(sample("cannery.oneline")))
    plan = benchmark(lambda: make_plan(drawing, "z"))
    assert plan.answer.nodes
    assert benchmark.stats.stats.min < 0.15
