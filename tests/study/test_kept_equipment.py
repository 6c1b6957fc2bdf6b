"""A study that is followed through edits finds what one from scratch finds: facts of services, places, systems and buildings.

The reference is the same study made afresh (live equals from scratch, rule of the design).
"""

from __future__ import annotations

import random
from dataclasses import replace
from typing import Any

import pytest

from oneline.model import VoltageReading
from oneline.study.kept import KeptStudy
from oneline.study.study import study

CORNER = VoltageReading(when="2026-03-01", ab_v=480, bc_v=480, ca_v=480, ag_v=480, bg_v=0, cg_v=480)
HIGH = VoltageReading(when="2026-03-01", ab_v=240, bc_v=240, ca_v=240, an_v=120, bn_v=120, cn_v=208)

#: Fields by kind of item, with what each may become.
VALUES: dict[str, dict[str, list[Any]]] = {
    "disconnect": {
        "service_disconnect": [None, True, False], "stands": [None, "outdoors", "inside elsewhere"],
        "handle_ft": [None, 5.0, 7.0],
        "readily_accessible": [None, True, False], "gfp_fitted": [None, True, False], "gfp_pickup_a": [None, 1200.0, 1300.0],
        "gfp_tested": [None, True, False], "arc_reduction": [None, "none", "maintenance switch"],
        "trip_a": [None, 100.0, 1600.0],
        "rating_a": [None, 200.0, 1600.0], "back_fed": [None, True, False], "held_down": [None, True, False],
        "grounded_pole_solid": [None, True, False], "single_pole_ka": [None, 5.0, 50.0], "work_depth_ft": [None, 2.0, 4.0],
        "delta_breaker": [None, True], "space": [None, 2], "service_rated": [None, True, False],
    },
    "bus": {
        "work_depth_ft": [None, 2.0, 4.0], "work_opposite": [None, "live parts"], "rating_a": [None, 400.0, 1600.0],
        "equipment_width_ft": [None, 3.0, 7.0], "passing_in2": [None, 10.0], "spliced_in2": [None, 30.0],
        "wiring_space_in2": [None, 40.0], "maker_tap_provision": [None, True, False], "ground_detector": [None, True, False],
        "detector_lamps": [None, "B dark"], "system_marked": [None, True, False], "high_leg_identified": [None, True],
        "voltages": [(), (CORNER,), (HIGH,)], "neutral_bonded": [None, True, False],
    },
    "run": {
        "outdoors": [None, True, False], "indoor_ft": [None, 0.0, 6.0], "length_ft": [None, 8.0, 40.0],
        "egc_size": [None, "none", "6"],
        "to_building": [None, "Barn"], "size": [None, "6", "3/0"], "egc_material": [None, "copper"],
    },
    "service": {"reason": [None, "fire pump", "none"], "voltages": [(), (CORNER,)]},
}  # fmt: skip


def site(sketch: Any, system: str) -> Any:
    """A main, a board, a panel, a tap to a fused switch and a feeder to a barn; a second service beside it."""
    s = sketch()
    s.put("service", "Pole", system=system, fault_ka=20, fault_x_r=4)
    s.put("service", "Second pole", system=system)
    s.put("disconnect", "Main", trip_a=1600, rating_a=1600, service_disconnect=True)
    s.put("disconnect", "Second main", trip_a=200, rating_a=200, service_disconnect=True)
    s.put("bus", "Board", form="switchboard", rating_a=1600)
    s.put("disconnect", "F1", trip_a=200, rating_a=200, interrupting_ka=22, poles=3)
    s.put("bus", "Panel", rating_a=225, status="new")
    s.put("disconnect", "Switch", form="fused switch", trip_a=100, rating_a=100, poles=3, status="new")
    s.put("disconnect", "F2", trip_a=100, rating_a=100, status="new")
    s.put("disconnect", "Barn main", trip_a=100, rating_a=100, status="new")
    s.put("bus", "Barn panel", rating_a=125, status="new")
    s.put("load", "Oven", va=9000, phases="ABC", load_class="heat", status="new")
    s.chain("Pole", "Main", "Board", "F1", "Panel")
    s.chain("Second pole", "Second main")
    wire = {"size": "3/0", "material": "copper", "insulation": "THWN-2", "raceway": "EMT", "length_ft": 8, "wet": False,
            "ambient_c": 30, "current_carrying": 3, "terminal_c": 75, "status": "new"}  # fmt: skip
    s.run("Board", "Switch", "tap", **wire)
    s.joint("Switch", "Oven", status="new")
    s.joint("Board", "F2", status="new")
    s.run("F2", "Barn main", "to barn", **{**wire, "to_building": "Barn"})
    s.joint("Barn main", "Barn panel", status="new")
    return s


def said(result: Any) -> list[tuple[Any, ...]]:
    found = [(v.rule, v.subject, v.state, v.message, v.needs, v.remedy, v.basis) for v in result.verdicts]
    return sorted(found, key=repr)


@pytest.mark.parametrize("system", ["208Y/120", "480Y/277", "240D/120-HL", "480D-CG", "480D"])
def test_followed_through_edits(sketch: Any, system: str) -> None:
    rng = random.Random(system)
    drawing = site(sketch, system).drawing
    kept = KeptStudy()
    kept.of(drawing)
    for _ in range(25):
        kind = rng.choice(list(VALUES))
        item = rng.choice([i for i in drawing.items.values() if i.kind == kind])
        field = rng.choice(list(VALUES[kind]))
        drawing = drawing.with_items([replace(item, **{field: rng.choice(VALUES[kind][field])})])
        assert said(kept.of(drawing)) == said(study(drawing)), (item.id, field)
