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


def several(service: Any, ratings: list[float], trip_a: float, size: str, system: str | None = "480Y/277") -> Any:
    s = service(system)
    s.put("disconnect", "Breaker", form="breaker", trip_a=trip_a, rating_a=trip_a)
    s.put("bus", "MCC", rating_a=400)
    s.joint("MDP", "Breaker")
    s.run("Breaker", "MCC", "Feeder", size=size, material="copper", insulation="THWN-2", length_ft=50, ambient_c=30,
          current_carrying=3, wet=False, terminal_c=75)  # fmt: skip
    for k, hp in enumerate(ratings):
        s.put("disconnect", f"Starter {k}", form="breaker", trip_a=60)
        s.put("load", f"Fan {k}", load_class="motor", horsepower=hp, phases="ABC")
        s.chain("MCC", f"Starter {k}", f"Fan {k}")
    return s.context()


@pytest.mark.parametrize(
    ("size", "state"),
    [
        # 22 hp between 27 A and 34 A, 10 hp 14 A: conductor 47.75 A to 56.5 A. 8 AWG copper is good for 50 A at 75 °C, 6 AWG
        # for 65 A (Table 310.16). Device: 70 A + 14 A to 90 A + 14 A, rounded down 80 A to 100 A.
        ("6", "pass"), ("8", "unknown"), ("10", "fail"),
    ],
)  # fmt: skip
def test_feeder_of_several_motors_one_of_them_between_steps(service: Any, size: str, state: str) -> None:
    """430.24 and 430.62 by the steps of Table 430.250 around 22 hp; the published rule is EC&M's on 430.62."""
    ctx = several(service, [22, 10], 80, size)
    found = next(v for v in conductors.verdicts(ctx) if v.rule == "OCP-4G")
    assert found.state == state
    if state == "unknown":
        assert found.needs == ("full-load current on the nameplate of Fan 0: 22 hp is not in the motor table",)
    if state == "pass":
        assert "22 hp of Fan 0 taken between 20 hp and 25 hp" in found.message


@pytest.mark.parametrize(("trip_a", "state"), [(80, "pass"), (90, "unknown"), (100, "unknown"), (110, "fail")])
def test_its_feeder_device(service: Any, trip_a: float, state: str) -> None:
    ctx = several(service, [22, 10], trip_a, "6")
    found = next(v for v in conductors.verdicts(ctx) if v.rule == "OCP-4G")
    assert found.state == state


def test_a_motor_without_horsepower_leaves_the_feeder_open(service: Any) -> None:
    ctx = several(service, [22, 10], 80, "6")
    drawing = ctx.drawing.with_items([ctx.drawing.get("Fan 1").__class__(id="Fan 1", load_class="motor", phases="ABC")])
    found = [v for v in conductors.verdicts(type(ctx)(drawing, "proposed", 2023)) if v.state == "unknown"]
    assert any("full-load current of" in n for v in found for n in v.needs)
