"""The lowest temperature marked on a run, or on the equipment at either end, governs its ampacity, 110.14(C)."""

from __future__ import annotations

from typing import Any

import pytest

from oneline.rules.common import Fact, compared
from oneline.study import conductors, taps
from oneline.study.supply import supplies

WIRE = {
    "material": "copper", "insulation": "THWN-2", "wet": False, "ambient_c": 30, "current_carrying": 3, "sets": 1,
    "raceway": "EMT", "size": "1", "length_ft": 100, "phases": "ABC", "status": "new",
}  # fmt: skip


def feeder(
    sketch: Any, device_c: float | None, panel_c: float | None, run_c: float | None, basis: dict[str, str] | None = None
) -> Any:
    """1 AWG copper from a 125 A breaker to a panel."""
    s = sketch(2023)
    s.put("service", "Utility", system="480Y/277")
    s.put(
        "disconnect",
        "Breaker",
        trip_a=125,
        rating_a=125,
        service_disconnect=True,
        terminal_c=device_c,
        basis=basis or {},
    )
    s.put("bus", "Panel", form="panelboard", rating_a=225, terminal_c=panel_c, status="new")
    s.put("load", "Load", va=4000, load_class="other", continuous=False, phases="ABC", power_factor=1.0)
    s.chain("Utility", "Breaker")
    s.run("Breaker", "Panel", "run", **WIRE, terminal_c=run_c)
    s.chain("Panel", "Load")
    return s.context()


@pytest.mark.parametrize(
    ("device_c", "panel_c", "run_c", "ampacity_a", "contradicts"),
    [
        # Table 310.16, 1 AWG copper: 110 A at 60 °C, 130 A at 75 °C, 145 A at 90 °C.
        (75, 75, 75, 130, False), (60, 60, 75, 110, True), (60, 75, 75, 110, True), (75, 60, 75, 110, True),
        (60, None, 75, 110, True), (75, 75, 60, 110, False), (90, 90, None, 145, False), (60, None, None, 110, False),
        (75, 60, None, 110, False), (None, None, 75, 130, False),
    ],
)  # fmt: skip
def test_the_lowest_marking_governs(
    sketch: Any,
    device_c: float | None,
    panel_c: float | None,
    run_c: float | None,
    ampacity_a: float,
    contradicts: bool,
) -> None:
    """110.14(C): coordinated with the lowest temperature rating of any connected termination."""
    ctx = feeder(sketch, device_c, panel_c, run_c)
    found = supplies(ctx)["run"].ampacity
    assert found.iz_a == ampacity_a
    assert not found.assumed
    said = [v for v in conductors.verdicts(ctx) if v.rule == "AMP-TERM"]
    assert bool(said) is contradicts
    if contradicts:
        assert "60 °C" in said[0].message
        assert "75 °C" in said[0].message


def test_what_is_only_assumed_of_the_equipment_is_said(sketch: Any) -> None:
    """Common practice, no source: a figure that rests on an assumption says so."""
    found = supplies(feeder(sketch, 75, 75, None, {"terminal_c": "assumed"}))["run"].ampacity
    assert found.assumed == ("75 °C terminals at Breaker",)


def test_nearest_rule_is_none_for_outdoors_where_nobody_said_so(sketch: Any) -> None:
    """240.21(B)(5), from memory, is for conductors outdoors: 100 ft of feeder in EMT to a panel is nearer to the 25-ft
    rule, 75 ft too long, than to a rule that asks for another place (common practice, no source)."""
    answer = next(v for v in taps.verdicts(feeder(sketch, 60, 60, None)) if v.rule == "OCP-4B")
    assert answer.state == "fail"
    assert "outside tap rule" not in answer.message
    assert "25-ft rule" in answer.message
    assert "75 ft over" in answer.message


def test_a_bound_that_just_fits_is_said_once() -> None:
    """Wording: one bound to a sentence (common practice, no source)."""
    words = compared(Fact(150), Fact(None, 150, 200), most=True)
    assert words is not None
    assert (words.gap, words.limit) == ("at worst exactly", "150 A")
