"""Findings on calculated loads: optional calculations, loads that do not run together, reduced neutrals, largest parts."""

from __future__ import annotations

from math import sqrt
from typing import Any

import pytest

from oneline.rules.formula import evaluate
from oneline.study import available, load_checks


def put_loads(s: Any, bus: str, **loads: dict[str, Any]) -> None:
    for name, values in loads.items():
        s.put("load", name, **values)
        s.joint(bus, name)


def found(s: Any, rule: str, edition: int = 2023) -> list[Any]:
    return [v for v in load_checks.verdicts(s.context(edition=edition)) if v.rule == rule]


# ------------------------------------------------------------------------------------------- optional: schools
def school(service: Any, kva: float, area_ft2: float | None, heated: bool = True, **values: Any) -> Any:
    s = service("208Y/120", 1200, 1200)
    s.put("service", "Utility", system="208Y/120", load_calculation="school", area_ft2=area_ft2, **values)
    put_loads(s, "MDP", most={"va": kva * 1000, "load_class": "heat" if heated else "kitchen", "phases": "ABC"})
    return s


@pytest.mark.parametrize(
    ("kva", "demand_kva"),
    [
        # Table 220.86 (from memory), 10,000 ft2: 3 VA/ft2 in full, 75 % to 20 VA/ft2, 25 % above.
        (20, 20), (30, 30), (31, 30.75), (120, 97.5), (200, 157.5), (201, 157.75), (400, 207.5),
    ],
)  # fmt: skip
def test_school(service: Any, kva: float, demand_kva: float) -> None:
    s = school(service, kva, 10_000)
    (verdict,) = found(s, "LOAD-8")
    assert (verdict.state, verdict.section) == ("pass", "220.86")
    ctx = s.context()
    at = ctx.net.node("Utility")
    assert ctx.demand.kva(at) == pytest.approx(demand_kva)
    assert ctx.demand.counted_a(at)["B"] == pytest.approx(demand_kva / 0.208 / sqrt(3))
    assert "220.86" in ctx.demand.method(at)


def test_school_without_its_area_or_its_heating(service: Any) -> None:
    """220.86 is for schools with electric heating or air conditioning (ECM-OPT); until then the standard load counts."""
    (verdict,) = found(school(service, 100, None), "LOAD-8")
    assert (verdict.state, verdict.needs) == ("unknown", ("floor area that Utility serves",))
    s = school(service, 100, 10_000, heated=False)
    (verdict,) = found(s, "LOAD-8")
    assert verdict.state == "fail"
    ctx = s.context()
    assert ctx.demand.kva(ctx.net.node("Utility")) == pytest.approx(100)


def test_feeder_inside_a_school_keeps_the_standard_load(service: Any) -> None:
    """The optional load is that of the whole service."""
    s = school(service, 200, 10_000)
    s.put("bus", "LP", rating_a=200)
    s.put("disconnect", "feeder", trip_a=200)
    s.chain("MDP", "feeder", "LP")
    put_loads(s, "LP", lamps={"va": 36_000, "load_class": "heat", "phases": "ABC"})
    ctx = s.context()
    assert ctx.demand.kva(ctx.net.node("LP")) == pytest.approx(36)
    # 236 kVA on 10,000 ft2: 30 + 127.5 + 9.
    assert ctx.demand.kva(ctx.net.node("MDP")) == pytest.approx(166.5)


def test_an_unknown_load_leaves_the_optional_one_open(service: Any) -> None:
    s = school(service, 200, 10_000)
    put_loads(s, "MDP", kiln={"load_class": "heat", "phases": "ABC"})
    (verdict,) = found(s, "LOAD-8")
    assert (verdict.state, verdict.needs) == ("unknown", ("load of kiln",))
    ctx = s.context()
    at = ctx.net.node("MDP")
    assert ctx.demand.kva(at) is None
    assert ctx.demand.known_kva(at) == pytest.approx(157.5)


# --------------------------------------------------------------------------------- optional: restaurants, apartments
@pytest.mark.parametrize(
    ("kind", "kva", "demand_kva"),
    [
        # Table 220.88 (from memory).
        ("all electric", 200, 160), ("all electric", 325, 172.5), ("all electric", 326, 173.0),
        ("all electric", 800, 410), ("all electric", 900, 460), ("not all electric", 200, 200),
        ("not all electric", 325, 262.5), ("not all electric", 425, 307.5), ("not all electric", 900, 496.3),
    ],
)  # fmt: skip
def test_new_restaurant(service: Any, kind: str, kva: float, demand_kva: float) -> None:
    """Heating and cooling are both added, though they never run together."""
    s = service("480Y/277", 1200, 1200)
    s.put("service", "Utility", system="480Y/277", load_calculation=f"new restaurant, {kind}")
    put_loads(
        s, "MDP", cooking={"va": kva * 500, "load_class": "kitchen", "phases": "ABC"},
        heat={"va": kva * 250, "load_class": "heat", "phases": "ABC", "noncoincident_group": "season"},
        cool={"va": kva * 250, "load_class": "hvac", "phases": "ABC", "noncoincident_group": "season"},
    )  # fmt: skip
    ctx = s.context()
    assert ctx.demand.kva(ctx.net.node("MDP")) == pytest.approx(demand_kva)
    assert [v.section for v in found(s, "LOAD-8")] == ["220.88"]


@pytest.mark.parametrize(
    ("units", "share"),
    [(3, 0.45), (5, 0.45), (6, 0.44), (12, 0.41), (13, 0.41), (14, 0.40), (40, 0.28), (61, 0.24), (62, 0.23)],
)
def test_apartment_house(service: Any, units: int, share: float) -> None:
    """Table 220.84(B), from memory."""
    s = service("208Y/120", 1200, 1200)
    s.put("service", "Utility", system="208Y/120", load_calculation="apartment house", dwelling_units=units)
    put_loads(s, "MDP", all={"va": 300_000, "load_class": "heat", "phases": "ABC"})
    ctx = s.context()
    assert ctx.demand.kva(ctx.net.node("MDP")) == pytest.approx(300 * share)


@pytest.mark.parametrize(("units", "state"), [(2, "fail"), (None, "unknown")])
def test_apartment_house_of_two_or_unknown_units(service: Any, units: int | None, state: str) -> None:
    s = service("208Y/120", 1200, 1200)
    s.put("service", "Utility", system="208Y/120", load_calculation="apartment house", dwelling_units=units)
    put_loads(s, "MDP", all={"va": 300_000, "load_class": "heat", "phases": "ABC"})
    assert [v.state for v in found(s, "LOAD-8")] == [state]
    ctx = s.context()
    assert ctx.demand.kva(ctx.net.node("MDP")) == pytest.approx(300)


# --------------------------------------------------------------------------------------- loads in alternation
def seasons(service: Any, heat_a: float, motor_a: float, pump_a: float = 0) -> Any:
    s = service("480Y/277", 800, 800)
    va = 480 * sqrt(3)
    put_loads(
        s, "MDP", heater={"va": heat_a * va, "load_class": "heat", "phases": "ABC", "noncoincident_group": "season"},
        chiller={"va": motor_a * va, "load_class": "motor", "phases": "ABC", "noncoincident_group": "season"},
    )  # fmt: skip
    if pump_a:
        put_loads(s, "MDP", pump={"va": pump_a * va, "load_class": "motor", "phases": "ABC"})
    return s


def test_which_of_two_seasons_counts(service: Any) -> None:
    """Code-proposal text: 110 A against a 100 A motor: the motor controls, 125 A. Both readings agree."""
    (verdict,) = found(seasons(service, 110, 100), "LOAD-7")
    assert verdict.state == "pass"
    assert verdict.message.startswith("chiller (83.1 kVA) counts and heater (91.5 kVA) does not")
    assert verdict.value == pytest.approx(125 * 0.48 * sqrt(3))


def test_the_contested_reading_is_shown(service: Any) -> None:
    """Beside a 200 A pump the heater counts: 250 + 110 = 360 A; with the chiller at 125 % it would be 375 A."""
    (verdict,) = found(seasons(service, 110, 100, 200), "LOAD-7")
    assert verdict.state == "judge"
    assert verdict.value == pytest.approx(360 * 0.48 * sqrt(3))
    lines = {line.what: line.value for line in verdict.work}
    assert lines["Read the other way"] == pytest.approx(375 * 480 * sqrt(3))


def test_before_the_wording_came_there_is_no_other_reading(service: Any) -> None:
    assert [v.state for v in found(seasons(service, 110, 100, 200), "LOAD-7", 2017)] == ["pass"]


# ------------------------------------------------------------------------------------------- reduced neutrals
def neutral_feeder(
    service: Any, size: str, neutral: str, amps: float, nonlinear: bool | None = False, sets: int = 1
) -> Any:
    s = service("208Y/120", 1200, 1200)
    s.put("disconnect", "feeder", trip_a=800, status="new")
    s.put("bus", "LP", rating_a=800, status="new")
    s.joint("MDP", "feeder")
    s.run("feeder", "LP", "Run", size=size, sets=sets, neutral_size=neutral, material="copper", insulation="THWN-2",
          length_ft=50, ambient_c=30, current_carrying=3, wet=False, terminal_c=75, status="new")  # fmt: skip
    for phase in "ABC":
        put_loads(s, "LP", **{phase: {"va": amps * 120, "load_class": "heat", "phases": phase, "nonlinear": nonlinear}})
    return s


@pytest.mark.parametrize(("neutral", "state"), [("3/0", "pass"), ("2/0", "fail")])
def test_neutral_at_100_percent(service: Any, neutral: str, state: str) -> None:
    """EC&M 'Stumped by the Code' (2011): 200 A on 250 kcmil; the neutral does without the 125 %: 3/0 (200 A) carries it."""
    (verdict,) = found(neutral_feeder(service, "250", neutral, 200), "LOAD-3")
    assert verdict.state == state


@pytest.mark.parametrize(
    ("nonlinear", "neutral", "state"),
    # 475 A linear: 392.5 A, which 600 kcmil (420 A at 75 °C) carries and 500 kcmil (380 A) does not; nonlinear: 475 A.
    [
        (False, "600", "pass"),
        (False, "500", "fail"),
        (True, "600", "fail"),
        (None, "600", "unknown"),
        (None, "500", "fail"),
    ],
)
def test_reduced_neutral(service: Any, nonlinear: bool | None, neutral: str, state: str) -> None:
    """EC&M Code Quiz 2005: 475 A: 392.5 A where it is linear; 220.61(C) takes nothing off nonlinear load of a wye."""
    (verdict,) = found(neutral_feeder(service, "1000", neutral, 475, nonlinear), "LOAD-3")
    assert verdict.state == state
    assert state != "unknown" or verdict.needs == ("which of the load behind LP is nonlinear",)


@pytest.mark.parametrize(("unplaced_va", "state"), [(8_400, "pass"), (8_500, "unknown")])
def test_load_between_the_lines_is_none_of_the_neutral(service: Any, unplaced_va: float, state: str) -> None:
    """220.61(A): the neutral carries what is from line to neutral. Of 160 A a phase 60 A are; a load of unknown phases may be
    too, 70 A of it (8,400 VA / 120 V) with 1 AWG (130 A at 75 °C), and with more that is not known."""
    s = neutral_feeder(service, "250", "1", 60)
    between = {"va": 100 * 208 * sqrt(3), "load_class": "heat", "phases": "ABC", "nonlinear": False}
    put_loads(s, "LP", three=between, unplaced={"va": unplaced_va, "load_class": "heat", "nonlinear": False})
    (verdict,) = found(s, "LOAD-3")
    assert verdict.state == state


def test_a_neutral_of_full_size_is_no_question(service: Any) -> None:
    assert not found(neutral_feeder(service, "250", "250", 200), "LOAD-3")


def test_neutral_of_a_multifamily_service(service: Any) -> None:
    """NEC Annex D, Example D5(b): 298.8 A on the neutral counts 269.2 A."""
    s = service(main_a=600, bus_a=600)
    for phase in "ABC":
        put_loads(s, "MDP", **{phase: {"va": 298.8 * 120, "load_class": "heat", "phases": phase, "nonlinear": False}})
    ctx = s.context()
    assert ctx.demand.neutral_a(ctx.net.node("MDP")) == pytest.approx(269.2, abs=0.1)


def test_nonlinear_load_of_a_split_phase_service_is_reduced(service: Any) -> None:
    """220.61(C)(2) is about four-wire wye systems: 300 A on 120/240 V counts 270 A whatever its kind."""
    s = service("120/240-1", 400, 400)
    for phase in "AB":
        put_loads(s, "MDP", **{phase: {"va": 300 * 120, "load_class": "heat", "phases": phase, "nonlinear": True}})
    ctx = s.context()
    assert ctx.demand.neutral_a(ctx.net.node("MDP")) == pytest.approx(270)


# ------------------------------------------------------------------------------------------------- the whole
def test_largest_parts_are_named_first(service: Any) -> None:
    s = seasons(service, 110, 100, 200)
    (verdict,) = found(s, "LOAD-2")
    assert verdict.state == "advice"
    assert "Largest: pump with 166.3 kVA, heater with 91.5 kVA and chiller with 83.1 kVA." in verdict.message
    assert verdict.value == pytest.approx(360 * 0.48 * sqrt(3))


def test_a_known_part_is_called_a_part(service: Any) -> None:
    s = seasons(service, 110, 100)
    put_loads(s, "MDP", kiln={"load_class": "heat", "phases": "ABC"})
    (verdict,) = found(s, "LOAD-2")
    assert "is at least" in verdict.message


@pytest.mark.parametrize("edition", [2017, 2020, 2023, 2026])
def test_every_formula_of_these_worksheets_gives_the_value_shown(service: Any, edition: int) -> None:
    """One drawing with every kind of load that this calculation knows."""
    s = service("208Y/120", 1200, 1200, area_ft2=20_000, occupancy="hotel or motel")
    common: dict[str, Any] = {"phases": "ABC"}
    put_loads(
        s, "MDP", lamps={"load_class": "lighting", "va": 12_000, **common},
        shop={"load_class": "lighting", "va": 4_000, "area_ft2": 3_000, "occupancy": "retail store", **common},
        desks={"load_class": "receptacles", "quantity": 90, "area_ft2": 30_000, "occupancy": "office", **common},
        plugs={"load_class": "receptacles", "va": 20_000, **common}, sign={"load_class": "sign", "va": 900, **common},
        window={"load_class": "show window", "length_ft": 20, **common},
        track={"load_class": "track lighting", "length_ft": 31, **common},
        oven={"load_class": "kitchen", "va": 90_000, "quantity": 7, **common},
        lift={"load_class": "elevator", "nameplate_a": 40, "time_rating": "continuous", "controller_a": 5, **common},
        heat={"load_class": "heat", "va": 30_000, "noncoincident_group": "season", **common},
        cool={"load_class": "hvac", "rla_a": 60, "noncoincident_group": "season", **common},
        cars={"load_class": "ev charging", "quantity": 2, "va": 10_000, **common},
    )  # fmt: skip
    ctx = s.context(edition=edition)
    found_lines = [line for v in load_checks.verdicts(ctx) for line in v.work]
    found_lines += [line for v in available.verdicts(ctx) for line in v.work]
    formulas = [line for line in found_lines if line.formula]
    assert len(formulas) > 20
    for line in formulas:
        assert evaluate(line.formula, line.inputs) == pytest.approx(line.value), line
    by_name = {line.what: line for line in ctx.demand.work(ctx.net.node("MDP"))}
    total = sum(v for k, v in by_name["Calculated load"].inputs.items())
    assert total == pytest.approx(1000 * ctx.demand.kva(ctx.net.node("MDP")))
    counted = next(line for what, line in by_name.items() if what.startswith(("With continuous", "As counted where")))
    at = ctx.feeding.position[ctx.net.node("MDP")]
    assert counted.value == pytest.approx(float(ctx.demand.calculated.counted_va_low[at]))
