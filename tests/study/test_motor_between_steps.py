"""A motor whose rating the motor tables do not print."""

from __future__ import annotations

from math import sqrt
from typing import Any

import pytest

from oneline.study import conductors


def fan(service: Any, horsepower: float, system: str | None, trip_a: float, size: str) -> Any:
    s = service(system)
    s.put("service", "Utility", system=system)
    s.put("disconnect", "Breaker", form="breaker", trip_a=trip_a, rating_a=trip_a)
    s.put("load", "Fan", load_class="motor", horsepower=horsepower, phases="ABC")
    s.joint("MDP", "Breaker")
    s.run("Breaker", "Fan", "Circuit", size=size, material="copper", insulation="THWN-2", length_ft=20, ambient_c=30,
          current_carrying=3, wet=False, terminal_c=60)  # fmt: skip
    return s.context()


def protection(ctx: Any) -> Any:
    return next(v for v in conductors.verdicts(ctx) if v.rule == "OCP-4G")


def test_what_is_missing_of_a_motor_is_named(service: Any) -> None:
    assert protection(fan(service, 25, None, 60, "6")).needs == ("system voltage of Utility",)


@pytest.mark.parametrize(("trip_a", "size"), [(60, "6"), (70, "6")])
def test_the_steps_around_a_rating_decide_on_the_safe_side(service: Any, trip_a: float, size: str) -> None:
    """Table 430.250 prints 20 hp (27 A) and 25 hp (34 A) at 460 V, nothing between: conductor at most 42.5 A, device at
    least 70 A (2.5 x 27 A, next size up)."""
    found = protection(fan(service, 22, "480Y/277", trip_a, size))
    assert (found.state, found.basis) == ("pass", "assumed")
    assert "taken between 20 hp and 25 hp" in found.message


@pytest.mark.parametrize(("trip_a", "size", "state"), [(80, "6", "unknown"), (60, "8", "unknown"), (100, "6", "fail")])
def test_between_the_steps_it_is_asked_for(service: Any, trip_a: float, size: str, state: str) -> None:
    """Device 70 A by the step below, 90 A by the step above (2.5 x 34 A = 85 A); conductor 33.75 A to 42.5 A, and 8 AWG
    copper at 60 °C is good for 40 A."""
    found = protection(fan(service, 22, "480Y/277", trip_a, size))
    assert found.state == state
    need = "full-load current on the nameplate of Fan: 22 hp is not in the motor table"
    assert found.needs == ((need,) if state == "unknown" else ())


def test_its_load_lies_between_the_steps(service: Any) -> None:
    """125 % of 27 A to 125 % of 34 A on the feeder."""
    ctx = fan(service, 22, "480Y/277", 60, "6")
    at = ctx.net.node("MDP")
    found = ctx.demand.bounds(at, counted=False)["A"]
    assert (found.low, found.high) == pytest.approx((1.25 * 27, 1.25 * 34))
    assert ctx.demand.kva(at) is None
    assert ctx.demand.known_kva(at) == pytest.approx(1.25 * 27 * 0.48 * sqrt(3))
    assert ctx.demand.assumed(at) == ("22 hp of Fan taken between 20 hp and 25 hp",)
