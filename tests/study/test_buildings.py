"""SVC-9: feeders to a second building, 225.30 to 225.39 and 250.32, and the neutral bond there."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from oneline.rules.verdict import Verdict
from oneline.study import buildings, grounding

EDITIONS = pytest.mark.parametrize("edition", [2017, 2020, 2023, 2026])


def change(s: Any, item: str, **values: Any) -> Any:
    s.drawing = s.drawing.with_items([replace(s.drawing.get(item), **values)])
    return s


def barn(sketch: Any, feeders: int = 1, disconnects: int = 1, apart: bool = False, **run: Any) -> Any:
    """A main building and a barn: feeders from one board (or two), each ending in a panel with so many disconnects."""
    s = sketch()
    s.put("service", "Pole", system="208Y/120")
    s.put("disconnect", "Main", trip_a=800, rating_a=800, service_disconnect=True)
    s.put("bus", "MDP", rating_a=800, form="switchboard")
    s.chain("Pole", "Main", "MDP")
    if apart:
        s.put("bus", "Other board", rating_a=800, form="switchboard")
        s.run("MDP", "Other board", "between", size="500", sets=2)
    for k in range(feeders):
        start = "Other board" if apart and k else "MDP"
        s.put("disconnect", f"F{k}", trip_a=100, rating_a=100, status="new")
        s.put("bus", f"Barn {k}", form="gutter", status="new")
        s.joint(start, f"F{k}")
        values = {"egc_size": "8", "to_building": "Barn", **run}
        s.run(f"F{k}", f"Barn {k}", f"feeder {k}", size="3", status="new", **values)
        for n in range(disconnects):
            name = f"B{k}.{n}".replace(".", "-")
            s.put("disconnect", name, trip_a=100, rating_a=100, service_rated=True, status="new")
            s.put("load", f"L{name}", va=3000, phases="ABC", load_class="other", continuous=False, status="new")
            s.joint(f"Barn {k}", name)
            s.joint(name, f"L{name}")
    return s


def found(s: Any, edition: int = 2023) -> Verdict:
    (hit,) = buildings.verdicts(s.context(edition=edition))
    assert hit.rule == "SVC-9"
    return hit


@EDITIONS
def test_one_feeder_with_a_disconnect(sketch: Any, edition: int) -> None:
    assert found(barn(sketch), edition).state == "pass"
    assert list(buildings.verdicts(barn(sketch, to_building=None).context())) == []


@EDITIONS
@pytest.mark.parametrize(
    ("feeders", "disconnects", "apart", "until_2017", "since_2020"),
    [
        # 225.30(B), new in 2020: up to six feeders from the same equipment, each with a single disconnect.
        (2, 1, False, "judge", "pass"), (6, 1, False, "judge", "pass"), (7, 1, False, "fail", "fail"),
        (2, 2, False, "judge", "judge"), (2, 1, True, "judge", "judge"),
        # 225.33: at most six disconnects.
        (1, 6, False, "pass", "pass"), (1, 7, False, "fail", "fail"),
    ],
)  # fmt: skip
def test_how_many(
    sketch: Any, feeders: int, disconnects: int, apart: bool, until_2017: str, since_2020: str, edition: int
) -> None:
    s = barn(sketch, feeders, disconnects, apart)
    assert found(s, edition).state == (until_2017 if edition == 2017 else since_2020)


@EDITIONS
@pytest.mark.parametrize(
    ("item", "values", "state"),
    [
        ("B0-0", {"service_rated": False}, "fail"), ("B0-0", {"service_rated": None}, "unknown"),
        ("feeder 0", {"egc_size": None}, "unknown"), ("feeder 0", {"egc_size": "none"}, "fail"),
        ("feeder 0", {"egc_size": "raceway"}, "pass"), ("LB0-0", {"va": 40_000}, "fail"),
        ("B0-0", {"trip_a": 59, "rating_a": 59}, "judge"), ("B0-0", {"trip_a": 60, "rating_a": 60}, "pass"),
        ("B0-0", {"trip_a": None, "rating_a": None}, "unknown"),
    ],
)  # fmt: skip
def test_each_condition(sketch: Any, item: str, values: dict[str, Any], state: str, edition: int) -> None:
    """225.36 marked for service, 225.39 rating (60 A and the load), 250.32 grounding conductor with the feeder."""
    assert found(change(barn(sketch), item, **values), edition).state == state


def test_no_disconnect_at_the_building(sketch: Any) -> None:
    s = barn(sketch, disconnects=0)
    assert found(s).state == "unknown"
    s.put("load", "Lamp", va=500, phases="A", status="new")
    s.joint("Barn 0", "Lamp")
    assert found(s).state == "fail"


@pytest.mark.parametrize(
    ("run", "status", "bond", "feeder"),
    [
        ({"egc_size": "8"}, "new", "fail", "pass"),
        # Old feeders without a grounding conductor may keep the neutral bonded there (250.32(B) exception).
        ({"egc_size": "none"}, "existing", "judge", "judge"), ({"egc_size": "none"}, "new", "fail", "fail"),
    ],
)  # fmt: skip
def test_neutral_bond_at_the_building(sketch: Any, run: dict[str, Any], status: str, bond: str, feeder: str) -> None:
    """250.142(B), 250.32: no neutral bond at the second building but in old work."""
    s = change(barn(sketch, **run), "feeder 0", status=status)
    s.put("bus", "Barn panel", rating_a=100, neutral_bonded=True, status="new")
    s.run("B0-0", "Barn panel", "short", size="3", status="new")
    s = change(s, "Barn 0", neutral_bonded=True)
    bonds = {v.subject: v.state for v in grounding.verdicts(s.context()) if v.rule == "GND-5"}
    assert bonds["Barn 0"] == bond
    assert found(s).state == feeder
