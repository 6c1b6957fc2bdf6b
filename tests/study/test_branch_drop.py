"""Voltage drop of branch circuits by themselves: 3 % recommended, 5 % with the feeder (210.19, 215.2 informational)."""

from __future__ import annotations

from typing import Any

import pytest

from oneline.study import drop
from oneline.study.context import Context

WIRES = {
    "size": "12", "material": "copper", "sets": 1, "raceway": "EMT", "neutral_size": "12", "phases": "A",
    "insulation": "THWN-2",
}  # fmt: skip


def lamp(sketch: Any, length_ft: float | None, va: float = 1440) -> Context:
    """12 A at 120 V, unity power factor, on 12 AWG copper in steel: R 2.0 ohm/1000 ft (Chapter 9 Table 9)."""
    s = sketch()
    s.put("service", "U", system="208Y/120")
    s.put("disconnect", "Main", form="breaker", trip_a=100)
    s.put("bus", "P")
    s.put("disconnect", "D", form="breaker", trip_a=20, poles=1, phases="A")
    s.put("load", "L", va=va, phases="A", power_factor=1, load_class="lighting")
    s.chain("U", "Main", "P", "D")
    s.run("D", "L", "R", length_ft=length_ft, **WIRES)
    return s.context()


def found(ctx: Context) -> Any:
    (one,) = [v for v in drop.verdicts(ctx) if v.name == "L"]
    return one


def test_a_branch_over_its_own_recommendation_is_said(sketch: Any) -> None:
    by_hand = 2 * 12 * 2.0 * 100 / 1000 / 120 * 100  # 4 %: within 5 % all the way, over 3 % of a branch
    one = found(lamp(sketch, 100))
    assert one.state == "advice"
    assert one.limit == 3
    assert one.value == pytest.approx(by_hand, rel=0.06)  # constant power draws a little more
    assert "branch" in one.message


def test_within_both_and_over_both(sketch: Any) -> None:
    assert found(lamp(sketch, 60)).state == "pass"
    over = found(lamp(sketch, 200))
    assert (over.state, over.limit) == ("advice", 5)


def test_unknown_length_leaves_both_open(sketch: Any) -> None:
    one = found(lamp(sketch, None))
    assert one.state == "unknown"
    assert "length of R" in one.needs
