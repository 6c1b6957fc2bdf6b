"""A study kept through edits of what the load calculation asks for is the study from scratch."""

from __future__ import annotations

import random
from typing import Any

import pytest

from oneline.model import edits
from oneline.study import study
from oneline.study.kept import KeptStudy

EDITS: dict[str, dict[str, list[Any]]] = {
    "Utility": {
        "area_ft2": [None, 5_000.0, 20_000.0],
        "occupancy": [None, "office", "warehouse"],
        "load_calculation": [None, "school", "apartment house", "standard"],
        "dwelling_units": [None, 2, 12],
    },
    "LP": {"area_ft2": [None, 2_000.0], "occupancy": ["hotel or motel", None, "library"]},
    "lamps": {"va": [None, 4_000.0], "area_ft2": [None, 3_000.0], "occupancy": ["office", "hospital"]},
    "plugs": {"quantity": [None, 20, 90], "va": [None, 9_000.0]},
    "cool": {"rla_a": [None, 40.0], "va": [None, 12_000.0], "noncoincident_group": [None, "season"]},
    "heat": {"noncoincident_group": [None, "season"], "va": [10_000.0, 30_000.0]},
    "fan": {"horsepower": [10.0, 22.0], "quantity": [None, 3]},
    "lift": {"nameplate_a": [None, 40.0], "time_rating": [None, "continuous"], "controller_a": [None, 10.0]},
    "cars": {"managed_a": [None, 80.0], "quantity": [None, 4]},
    "Run": {"neutral_size": ["3/0", "1/0", "none", None]},
}


def building(service: Any) -> Any:
    s = service("208Y/120", 800, 800)
    s.put("disconnect", "feeder", trip_a=225)
    s.put("bus", "LP", rating_a=225)
    s.joint("MDP", "feeder")
    s.run("feeder", "LP", "Run", size="4/0", neutral_size="3/0", material="copper", insulation="THWN-2", length_ft=40)
    loads = {
        "lamps": ("LP", "lighting"), "plugs": ("LP", "receptacles"), "cool": ("MDP", "hvac"), "heat": ("MDP", "heat"),
        "fan": ("MDP", "motor"), "lift": ("MDP", "elevator"), "cars": ("MDP", "ev charging"),
    }  # fmt: skip
    for name, (bus, load_class) in loads.items():
        s.put("load", name, load_class=load_class, phases="ABC", va=5_000)
        s.joint(bus, name)
    return s.drawing


def said(found: Any) -> tuple[Any, ...]:
    """A finding without its figures, whose last digits follow the order of summing."""
    return found.rule, found.subject, found.state, found.section, found.message, found.needs, found.remedy, found.basis


@pytest.mark.parametrize("seed", range(4))
def test_a_kept_study_is_the_study_from_scratch(service: Any, seed: int) -> None:
    rng, kept, drawing = random.Random(seed), KeptStudy(edition=2023), building(service)
    kept.of(drawing)
    for _ in range(25):
        item = rng.choice(sorted(EDITS))
        field = rng.choice(sorted(EDITS[item]))
        value = rng.choice(EDITS[item][field])
        drawing = edits.change(drawing, item, **{field: value})
        live, fresh = kept.of(drawing), study(drawing, edition=2023)
        assert [said(v) for v in live.verdicts] == [said(v) for v in fresh.verdicts], (item, field, value)
        for one, other in zip(live.verdicts, fresh.verdicts, strict=True):
            assert one.value == pytest.approx(other.value)
        for name in ("Utility", "LP"):
            assert live.points[name].load_a == pytest.approx(fresh.points[name].load_a)
            assert live.points[name].neutral_a == pytest.approx(fresh.points[name].neutral_a)
