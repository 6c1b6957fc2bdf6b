"""Power control, disconnects and conductors of sources, feed-through conductors, breakers of a schedule: on drawings."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from oneline.model.vocabulary import EDITIONS
from oneline.study import interconnect, ratings

WIRE = {
    "material": "copper", "insulation": "THHN/THWN-2", "raceway": "EMT", "ambient_c": 30, "wet": False,
    "current_carrying": 3, "terminal_c": 75, "length_ft": 20, "sets": 1,
}  # fmt: skip


def change(s: Any, item_id: str, **values: Any) -> None:
    s.drawing = s.drawing.with_items([replace(s.drawing.get(item_id), **values)])


def rule(found: Any, *rules: str) -> dict[tuple[str, str], str]:
    return {(v.rule, v.name): v.state for v in found if v.rule in rules}


def rooftop(service: Any, circuit: Any, **array: Any) -> Any:
    """200 A bus and main, 120/240 V, a 40 A breaker at the opposite end, 32 A of output at most (solar installers' guide)."""
    lines = tuple(circuit(space=k, poles=2, va=4800, trip_a=50, load_class="kitchen") for k in (2, 6, 10, 14))
    s = service("120/240-1", 200, 200, circuits=lines, feed_position="end")
    s.put("disconnect", "PV breaker", trip_a=40, bus_end="opposite end")
    s.put("solar", "Array", **{"output_a": 32, "phases": "AB", "interactive_listed": True, **array})
    s.joint("MDP", "PV breaker")
    s.joint("PV breaker", "Array.out")
    return s


# ---------------------------------------------------------------------------------------------------------- control
@pytest.mark.parametrize("edition", EDITIONS)
def test_power_control_setting_counts_since_2020(service: Any, circuit: Any, edition: int) -> None:
    """705.13: a 48 A inverter held to 32 A on the bus of the published 120 % example, which takes 32 A and no more."""
    s = rooftop(service, circuit, output_a=48, control_setting_a=32, control_listed=True)
    found = rule(interconnect.verdicts(s.context(edition=edition)), "PV-1", "PV-5")
    since = edition >= 2020
    assert found == {
        ("PV-1", "MDP"): "pass" if since else "fail",
        ("PV-5", "Array"): "pass" if since else "not_applicable",
    }


@pytest.mark.parametrize(("listed", "bus", "control"), [(None, "unknown", "unknown"), (False, "fail", "advice")])
def test_power_control_that_is_not_known_to_be_listed(
    service: Any, circuit: Any, listed: bool | None, bus: str, control: str
) -> None:
    s = rooftop(service, circuit, output_a=48, control_setting_a=32, control_listed=listed)
    ctx = s.context()
    assert rule(interconnect.verdicts(ctx), "PV-1", "PV-5") == {("PV-1", "MDP"): bus, ("PV-5", "Array"): control}
    if listed is None:
        (asked,) = [v for v in interconnect.verdicts(ctx) if v.rule == "PV-5"]
        assert asked.needs == ("whether the power control of Array is listed and documented, its access restricted",)


# ------------------------------------------------------------------------------------------------------ disconnects
@pytest.mark.parametrize(("ready", "state"), [(True, "pass"), (False, "judge"), (None, "unknown")])
def test_disconnect_of_an_array_is_readily_accessible(
    service: Any, circuit: Any, ready: bool | None, state: str
) -> None:
    """690.13: existing work is for the authority, new work fails."""
    s = rooftop(service, circuit)
    change(s, "PV breaker", readily_accessible=ready)
    assert rule(interconnect.verdicts(s.context()), "PV-6", "PV-8") == {
        ("PV-6", "Array"): state,
        ("PV-8", "Array"): "advice",
    }
    change(s, "Array", status="new")
    assert rule(interconnect.verdicts(s.context()), "PV-6") == {("PV-6", "Array"): "fail" if ready is False else state}


def test_an_array_without_a_disconnect(service: Any, circuit: Any) -> None:
    s = service("120/240-1", 200, 200)
    s.put("solar", "Array", output_a=32, phases="AB", interactive_listed=True)
    s.run("MDP", "Array.out", "wires", **WIRE)
    (found,) = [v for v in interconnect.verdicts(s.context()) if v.rule == "PV-6"]
    assert (found.state, found.needs) == ("unknown", ("disconnect of Array, and where it is",))


def test_ways_back_and_number_of_sources(service: Any, circuit: Any) -> None:
    s = rooftop(service, circuit, forms_grid=True)
    found = list(interconnect.verdicts(s.context()))
    assert rule(found, "GEN-3") == {("GEN-3", "Array"): "advice"}
    (count,) = [v for v in found if v.rule == "SRC-1"]
    assert count.state == "advice"
    assert "2 sources on the drawing: Utility and Array" in count.message


# ------------------------------------------------------------------------------------------------------ generators
@pytest.mark.parametrize(
    ("size", "held", "state"),
    [("1", None, "pass"), ("2", None, "unknown"), ("2", True, "pass"), ("2", False, "fail"), ("4", None, "fail")],
)
def test_conductors_of_a_generator(sketch: Any, size: str, held: bool | None, state: str) -> None:
    """445.13: 75 kVA at 480 V is 90.2 A, 115 % of it 103.7 A. Copper at 75 °C: 1 AWG 130, 2 AWG 115, 4 AWG 85 A; 45 °C
    around (0.82 of 75 °C insulation) makes 2 AWG 94.3 A."""
    s = sketch()
    s.put("generator", "Gen", kva=75, xd_pct=12, system="480Y/277", overload_prevented=held)
    s.put("disconnect", "Gen breaker", trip_a=100, rating_a=100)
    s.put("load", "L", va=1000, load_class="heat", continuous=False, phases="ABC")
    s.run(
        "Gen", "Gen breaker", "wires", **{**WIRE, "size": size, "insulation": "THWN", "ambient_c": 45, "status": "new"}
    )
    s.joint("Gen breaker", "L")
    found = rule(interconnect.verdicts(s.context()), "GEN-1")
    assert found == {("GEN-1", "wires"): state}


# ---------------------------------------------------------------------------------------------------- feed-through
@pytest.mark.parametrize("edition", EDITIONS)
@pytest.mark.parametrize(("size", "holds"), [("300", True), ("4/0", False)])
def test_feed_through_conductors(service: Any, circuit: Any, edition: int, size: str, holds: bool) -> None:
    """705.12(B)(3)(6) of 2020: 200 A main and 125 % of 32 A: 240 A. 300 kcmil copper is good for 285 A, 4/0 for 230 A."""
    s = rooftop(service, circuit)
    s.put("bus", "Annex panel", rating_a=400)
    s.run("MDP", "Annex panel", "feed-through", **{**WIRE, "size": size, "phases": "AB"})
    (found,) = [v for v in interconnect.verdicts(s.context(edition=edition)) if v.rule == "PV-1f"]
    assert found.state == ("pass" if holds else "fail" if edition >= 2020 else "judge")
    assert (found.value, found.limit) == pytest.approx((285 if holds else 230, 240))
    assert "feed-through" in found.others


# ------------------------------------------------------------------------------------------------ breakers of a panel
def scheduled(sketch: Any, circuit: Any, ka: float | None, utility_ka: float = 9, **bus: Any) -> Any:
    s = sketch()
    s.put("service", "Utility", system="208Y/120", fault_ka=utility_ka, fault_x_r=1.0)
    s.put("disconnect", "Main", trip_a=400, rating_a=400, interrupting_ka=65)
    lines = (circuit(space=1, trip_a=20, va=1000, load_class="heat"), circuit(space=3, trip_a=20, use="spare"))
    s.put("bus", "P", rating_a=400, sccr_ka=42, circuits=lines, breakers_ka=ka, **bus)
    s.chain("Utility", "Main", "P")
    return s


@pytest.mark.parametrize(
    ("ka", "utility_ka", "state"),
    [
        (10, 9, "pass"),
        (10, 10, "pass"),
        (10, 10.1, "fail"),
        (22, 10.1, "pass"),
        (None, 9, "unknown"),
        (None, 4.9, "pass"),
    ],
)
def test_breakers_that_stand_only_in_a_schedule(
    sketch: Any, circuit: Any, ka: float | None, utility_ka: float, state: str
) -> None:
    """110.9 once for a panel. Without a marking a breaker interrupts 5 kA (240.83(C), from memory)."""
    found = [v for v in ratings.verdicts(scheduled(sketch, circuit, ka, utility_ka).context()) if v.rule == "FLT-1"]
    (panel,) = [v for v in found if v.subject == "P"]
    assert (panel.state, panel.name) == (state, "P")
    if state == "unknown":
        assert panel.needs == ("interrupting rating of the breakers in P",)


def test_a_panel_of_spaces_and_drawn_breakers_is_not_asked(sketch: Any, circuit: Any) -> None:
    s = scheduled(sketch, circuit, None)
    change(s, "P", circuits=(circuit(space=1, use="space"),))
    assert not [v for v in ratings.verdicts(s.context()) if v.rule == "FLT-1" and v.subject == "P"]


@pytest.mark.parametrize(("motor_hp", "state"), [(20, "pass"), (50, "fail")])
def test_series_rated_breakers_of_a_panel(sketch: Any, circuit: Any, motor_hp: float, state: str) -> None:
    """240.86(C), trade forum: 10 kA breakers allow motors of 100 A between; at 208 V 20 hp takes 59.4 A, 50 hp 143 A."""
    s = scheduled(sketch, circuit, 10, 20, breakers_series_with="Main", breakers_series_ka=42)
    s.put("disconnect", "MB", trip_a=250, rating_a=250, interrupting_ka=65)
    s.put("load", "Motor", load_class="motor", horsepower=motor_hp, phases="ABC")
    s.chain("P", "MB", "Motor")
    found = [v for v in ratings.verdicts(s.context()) if v.rule == "FLT-4"]
    assert [(v.subject, v.state) for v in found] == [("P", state)]


@pytest.mark.parametrize(
    ("by", "held", "state"),
    [("tested combination on the label", 10, "pass"), ("tested combination on the label", 10.1, "fail"),
     ("engineered", 8, "judge"), ("let-through chart", 8, "judge"), (None, 8, "unknown")],
)  # fmt: skip
def test_let_through_relied_on(sketch: Any, circuit: Any, by: str | None, held: float, state: str) -> None:
    """110.10: 20 kA at a panel of 10 kA behind a current-limiting device; a chart alone does not count."""
    s = scheduled(sketch, circuit, 65, 20, let_through_ka=held, let_through_by=by)
    change(s, "P", sccr_ka=10)
    (found,) = [v for v in ratings.verdicts(s.context()) if v.rule == "FLT-2" and v.subject == "P"]
    assert found.state == state


def test_what_motors_add_stands_in_the_worksheet(sketch: Any, circuit: Any) -> None:
    """IEEE 141, rule of thumb: running motors add four times their full-load current: 20 hp at 208 V, 59.4 A."""
    s = scheduled(sketch, circuit, 65)
    s.put("disconnect", "MB", trip_a=150, rating_a=150, interrupting_ka=65)
    s.put("load", "Motor", load_class="motor", horsepower=20, phases="ABC")
    s.chain("P", "MB", "Motor")
    (found,) = [v for v in ratings.verdicts(s.context()) if v.rule == "FLT-1" and v.subject == "P"]
    (line,) = [w for w in found.work if w.what.startswith("Of it, added")]
    assert line.value == pytest.approx(4 * 59.4)
    assert "IEEE 141" in line.source
