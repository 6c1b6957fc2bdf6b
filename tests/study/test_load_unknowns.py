"""One fact of a load after the other unknown: the bounds then hold what the load was, in every phase."""

from __future__ import annotations

import random
from math import inf
from typing import Any

import pytest

from oneline.model import edits

#: Loads as they are in truth; every fact of them is then taken away in turn.
TRUTH: dict[str, dict[str, Any]] = {
    "lamps": {"load_class": "lighting", "va": 9_000, "area_ft2": 8_000, "occupancy": "hotel or motel"},
    "halls": {"load_class": "lighting", "area_ft2": 30_000, "occupancy": "warehouse"},
    "plugs": {"load_class": "receptacles", "quantity": 90}, "desks": {"load_class": "receptacles", "va": 14_000},
    "strip": {"load_class": "fixed multioutlet", "length_ft": 33, "simultaneous": True},
    "other strip": {"load_class": "fixed multioutlet", "length_ft": 33, "simultaneous": False},
    "window": {"load_class": "show window", "length_ft": 25}, "track": {"load_class": "track lighting", "length_ft": 25},
    "sign": {"load_class": "sign", "va": 2_400}, "cars": {"load_class": "ev charging", "va": 19_200, "quantity": 2},
    "managed": {"load_class": "ev charging", "managed_a": 60}, "oven": {"load_class": "kitchen", "va": 24_000},
    "fryer": {"load_class": "kitchen", "va": 12_000}, "mixer": {"load_class": "kitchen", "va": 2_000},
    "fan": {"load_class": "motor", "horsepower": 10}, "odd fan": {"load_class": "motor", "horsepower": 22},
    "hoist": {"load_class": "motor", "nameplate_a": 30, "duty": "intermittent", "time_rating": "15 minutes"},
    "lift": {"load_class": "elevator", "nameplate_a": 52, "time_rating": "continuous", "controller_a": 10},
    "unit": {"load_class": "hvac", "rla_a": 40}, "roof unit": {"load_class": "hvac", "mca_a": 38},
    "heat": {"load_class": "heat", "va": 30_000}, "boiler": {"load_class": "water heater", "va": 9_000},
    "thing": {"load_class": "other", "va": 7_000, "continuous": True},
}  # fmt: skip
#: Facts whose absence says that there is none, or one of them.
_NOT_UNKNOWN = {"load_class", "quantity", "duty", "area_ft2", "controller_a", "managed_a"}
#: 208 V over the root of 3 is 120.09 V, not the nominal 120 V.
NOMINAL = 1e-4


def drawing(service: Any, phases: str) -> Any:
    s = service("208Y/120", 3000, 3000)
    s.put("bus", "LP", rating_a=2000)
    s.put("disconnect", "feeder", trip_a=2000)
    s.chain("MDP", "feeder", "LP")
    for k, (name, values) in enumerate(TRUTH.items()):
        s.put("load", name, phases=phases, **values)
        s.joint(("MDP", "LP")[k % 2], name)
    return s


WIPED = [
    (name, field) for name, values in TRUTH.items() for field in (*values, "phases")
    if field not in _NOT_UNKNOWN or (name, field) == ("plugs", "quantity")
]  # fmt: skip


@pytest.mark.parametrize(("name", "field"), WIPED, ids=lambda x: str(x))
@pytest.mark.parametrize("edition", [2017, 2023])
def test_bounds_hold_the_truth(service: Any, name: str, field: str, edition: int) -> None:
    s = drawing(service, "ABC")
    true = s.context(edition=edition)
    s.drawing = edits.change(s.drawing, name, **{field: None})
    ctx = s.context(edition=edition)
    inside(true, ctx)
    node = ctx.net.node("MDP")
    told = (*ctx.demand.needs(node), *ctx.demand.assumed(node))
    before = (*true.demand.needs(node), *true.demand.assumed(node))
    assert set(told) - set(before), "nothing is asked for nor assumed"


@pytest.mark.parametrize("seed", range(20))
def test_bounds_hold_the_truth_with_several_unknown(service: Any, seed: int) -> None:
    rng = random.Random(seed)
    s = drawing(service, rng.choice(["A", "AB", "ABC"]))
    true = s.context()
    for name, field in rng.sample(WIPED, 5):
        s.drawing = edits.change(s.drawing, name, **{field: None})
    inside(true, s.context())


def inside(true: Any, ctx: Any) -> None:
    """Load and counted load of the known drawing lie within the bounds of the one that lacks something.

    A motor between the steps of the table leaves the known drawing with bounds too: then at least one end agrees.
    """
    for item in ("MDP", "LP", "Utility"):
        node = ctx.net.node(item)
        for counted in (False, True):
            known, found = true.demand.bounds(node, counted), ctx.demand.bounds(node, counted)
            for phase, bound in known.items():
                high = inf if found[phase].high is None else found[phase].high
                assert found[phase].low <= bound.low * (1 + NOMINAL), (item, counted, phase)
                assert high >= (bound.high or inf) * (1 - NOMINAL), (item, counted, phase)
