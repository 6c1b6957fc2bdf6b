"""Calculated load of whole drawings against published worked examples."""

from __future__ import annotations

import random
from dataclasses import replace
from math import sqrt

import by_hand_loads as hand
import pytest

from oneline import tables
from oneline.model import DemandRecord, Reading
from oneline.study import available, demand


def node(ctx, item_id: str) -> int:
    return ctx.net.node(item_id)


def put_loads(s, bus: str, **loads: dict) -> None:
    for name, values in loads.items():
        s.put("load", name, **values)
        s.joint(bus, name)


def test_store_building(service) -> None:
    """NEC Annex D, Example D3, 120/240 V: 28,400 VA or 118 A; 32,450 VA or 135 A as counted. 2017 unit load given."""
    s = service("120/240-1", 150, 200)
    put_loads(
        s, "MDP", receptacles={"va": 14_400, "load_class": "receptacles", "phases": "AB"},
        lighting={"va": 9_000, "load_class": "lighting", "phases": "AB"},
        window={"va": 6_000, "load_class": "show window", "phases": "AB"},
        sign={"va": 1_200, "load_class": "sign", "phases": "AB"},
    )  # fmt: skip
    ctx = s.context(edition=2017)
    found, at = ctx.demand, node(ctx, "MDP")
    assert found.kva(at) == pytest.approx(28.4)
    assert found.load_a(at) == pytest.approx({"A": 118.3, "B": 118.3}, abs=0.1)
    assert found.counted_a(at) == pytest.approx({"A": 135.2, "B": 135.2}, abs=0.1)
    left = ctx.available[at]
    assert left.per_phase == pytest.approx({"A": 14.8, "B": 14.8}, abs=0.1)
    assert (left.limit.name, left.limit.rating_a) == ("Main", 150)
    # As the example has it: 180 VA a yoke, 3 VA/ft2, 200 VA a foot of show window, at least 1,200 VA a sign; 150 A.
    assert 80 * tables.limit_value("receptacle_yoke_va") == 14_400
    assert 3_000 * tables.unit_lighting_va_ft2("Stores", 2017) == 9_000
    assert (30 * tables.limit_value("show_window_va_ft"), tables.limit_value("sign_min_va")) == (6_000, 1_200)
    assert tables.next_standard(found.counted_a(at)["A"], 2017, "breaker") == 150


def test_receptacles_and_multioutlet_in_a_schedule(service, circuit) -> None:
    """Trade forum quoting a textbook: 15,300 VA and 4,860 VA share one demand: 15,080 VA."""
    s = service(
        circuits=(
            circuit(space=1, poles=3, va=15_300, load_class="receptacles"),
            circuit(space=2, poles=3, va=4_860, load_class="fixed multioutlet"),
        )
    )
    ctx = s.context()
    assert ctx.demand.kva(node(ctx, "MDP")) == pytest.approx(15.08)


@pytest.mark.parametrize(("connected", "expected"), [(0, 0), (10_000, 10_000), (10_001, 10_000.5), (20_000, 15_000)])
def test_receptacle_demand_edges(service, connected, expected) -> None:
    """Table 220.47: 100 % of the first 10 kVA, 50 % of the rest."""
    s = service()
    put_loads(s, "MDP", outlets={"va": connected, "load_class": "receptacles", "phases": "ABC"})
    ctx = s.context()
    assert ctx.demand.kva(node(ctx, "MDP")) == pytest.approx(expected / 1000)


@pytest.mark.parametrize(
    ("pieces", "expected"),
    [([10] * 2, 20), ([10] * 3, 27), ([10] * 6, 39), ([20, 20, 1], 40), ([30, 20, 1, 1, 1, 1], 50)],
)
def test_kitchen_demand(service, pieces, expected) -> None:
    """Table 220.56: 90 % for three (from memory), 65 % for six; never below the two largest (EC&M quiz). kVA."""
    s = service()
    for k, kva in enumerate(pieces):
        put_loads(s, "MDP", **{f"piece{k}": {"va": 1000 * kva, "load_class": "kitchen", "phases": "ABC"}})
    ctx = s.context()
    assert ctx.demand.kva(node(ctx, "MDP")) == pytest.approx(expected)


@pytest.mark.parametrize("case", range(25))
def test_random_mixes_against_the_calculation_by_hand(service, case) -> None:
    """Oracle: tests/oracles/by_hand_loads.py, itself held against the published examples. All loads balanced, so that
    volt-amperes add up by hand; behind two panels, so that the demand is that of the whole at the main."""
    rng = random.Random(case)
    s = service("480Y/277", 800, 800)
    s.put("bus", "LP", rating_a=400)
    s.joint("MDP", "LP")
    volts = 480 * sqrt(3)

    def some(name: str, load_class: str, most: int, **values) -> list[float]:
        sizes = [rng.uniform(500, 20_000) for _ in range(rng.randint(0, most))]
        for k, va in enumerate(sizes):
            put_loads(s, rng.choice(("MDP", "LP")), **{
                f"{name}{k}": {"va": va, "load_class": load_class, "phases": "ABC", **values}
            })  # fmt: skip
        return sizes

    outlets, kitchen = some("outlet", "receptacles", 4), some("piece", "kitchen", 8)
    lifts, motors = some("lift", "elevator", 12), some("motor", "motor", 4)
    lamps, heaters = some("lamp", "lighting", 3), some("heater", "heat", 3)
    put_loads(s, "MDP", base={"va": 1000, "load_class": "heat", "phases": "ABC"})
    # Every other class in full; of motors the largest at 125 %.
    other_va = hand.receptacles_va(sum(outlets)) + sum(heaters) + 1000
    other_va += hand.kitchen_va(kitchen) if kitchen else 0
    other_va += hand.elevators_a(lifts, 0) if lifts else 0
    other_va += hand.motors_a(motors) if motors else 0
    ctx = s.context()
    at = node(ctx, "MDP")
    assert ctx.demand.kva(at) == pytest.approx((other_va + sum(lamps)) / 1000)
    assert ctx.demand.counted_a(at)["B"] == pytest.approx(hand.counted_va(sum(lamps), other_va) / volts)


def test_elevators(service) -> None:
    """NEC Annex D, Example D10: 6 x 133 A x 0.79 + 6 x 12.5 A = 705 A. No 25 % of a largest motor on top."""
    s = service("480Y/277", 800, 1200)
    for k in range(6):
        put_loads(s, "MDP", **{
            f"drive{k}": {"va": 133 * 480 * sqrt(3), "load_class": "elevator", "phases": "ABC"},
            f"controller{k}": {"va": 10 * 480 * sqrt(3), "load_class": "other", "continuous": True, "phases": "ABC"},
        })  # fmt: skip
    ctx = s.context()
    assert ctx.demand.counted_a(node(ctx, "MDP")) == pytest.approx(dict.fromkeys("ABC", 705), abs=0.5)


def test_two_motor_feeder(service) -> None:
    """EC&M on 430.62: 20 hp (27 A) and 10 hp (14 A), 460 V: 48 A."""
    s = service("480Y/277")
    put_loads(s, "MDP", large={"horsepower": 20, "load_class": "motor", "phases": "ABC"},
              small={"horsepower": 10, "load_class": "motor", "phases": "ABC"})  # fmt: skip
    ctx = s.context()
    assert ctx.demand.counted_a(node(ctx, "MDP")) == pytest.approx(dict.fromkeys("ABC", 47.75))


def test_equal_motors_have_one_largest(service) -> None:
    """430.24: of several equal ones only one is the largest. 3 x 14 A + 3.5 A."""
    s = service("480Y/277")
    for k in range(3):
        put_loads(s, "MDP", **{f"m{k}": {"horsepower": 10, "load_class": "motor", "phases": "ABC"}})
    ctx = s.context()
    assert ctx.demand.load_a(node(ctx, "MDP")) == pytest.approx(dict.fromkeys("ABC", 45.5))


def test_air_conditioner_with_nameplate(service) -> None:
    """440.4: the marked minimum circuit ampacity holds its 125 % already; 24 A compressor, 30 A marked."""
    s = service("240D")
    put_loads(s, "MDP", unit={"mca_a": 30, "load_class": "hvac", "phases": "AB"})
    ctx = s.context()
    assert ctx.demand.counted_a(node(ctx, "MDP")) == pytest.approx({"A": 30, "B": 30, "C": 0})


def test_air_conditioner_without_nameplate(service) -> None:
    """EC&M Code Q&A: 24 A compressor at 240 V: 30 A of conductor (440.32)."""
    s = service("120/240-1")
    put_loads(s, "MDP", unit={"va": 24 * 240, "load_class": "hvac", "phases": "AB"})
    ctx = s.context()
    assert ctx.demand.counted_a(node(ctx, "MDP")) == pytest.approx({"A": 30, "B": 30})


def test_noncoincident(service) -> None:
    """Code-proposal text: 110 A noncontinuous against a 100 A motor: the motor controls, 125 A."""
    s = service("480Y/277")
    va = 480 * sqrt(3)
    put_loads(
        s, "MDP", heater={"va": 110 * va, "load_class": "heat", "phases": "ABC", "noncoincident_group": "season"},
        chiller={"va": 100 * va, "load_class": "motor", "phases": "ABC", "noncoincident_group": "season"},
    )  # fmt: skip
    ctx = s.context()
    assert ctx.demand.load_a(node(ctx, "MDP")) == pytest.approx(dict.fromkeys("ABC", 125))


def test_noncoincident_beside_a_larger_motor(service) -> None:
    """LOAD-7: the total is taken with each alternative. A 200 A motor outside the group takes the 25 %: 250 + 110."""
    s = service("480Y/277")
    va = 480 * sqrt(3)
    put_loads(
        s, "MDP", heater={"va": 110 * va, "load_class": "heat", "phases": "ABC", "noncoincident_group": "season"},
        chiller={"va": 100 * va, "load_class": "motor", "phases": "ABC", "noncoincident_group": "season"},
        pump={"va": 200 * va, "load_class": "motor", "phases": "ABC"},
    )  # fmt: skip
    ctx = s.context()
    assert ctx.demand.load_a(node(ctx, "MDP")) == pytest.approx(dict.fromkeys("ABC", 360))


def test_noncoincident_of_one_class_run_together_unless_said(service) -> None:
    """Never less than what may run: two loads of one class in one group add up; with "/1" and "/2" the larger counts."""
    for names, expected in ((("g", "g"), 30.0), (("g/1", "g/2"), 20.0)):
        s = service("120/240-1")
        put_loads(
            s, "MDP", one={"va": 2400, "load_class": "heat", "phases": "AB", "noncoincident_group": names[0]},
            two={"va": 4800, "load_class": "heat", "phases": "AB", "noncoincident_group": names[1]},
        )  # fmt: skip
        ctx = s.context()
        assert ctx.demand.load_a(node(ctx, "MDP"))["A"] == pytest.approx(expected)


def test_neutral_of_a_feeder(service, circuit) -> None:
    """EC&M Code Quiz 2005: 475 A mostly linear line-to-neutral load, 208Y/120 four wires: 392.5 A; nonlinear: 475 A."""
    for nonlinear, expected in ((False, 392.5), (True, 475.0), (None, 475.0)):
        s = service(main_a=600, bus_a=600)
        for phase in "ABC":
            put_loads(
                s, "MDP", **{phase: {"va": 475 * 120, "load_class": "heat", "phases": phase, "nonlinear": nonlinear}}
            )
        ctx = s.context()
        assert ctx.demand.neutral_a(node(ctx, "MDP")) == pytest.approx(expected)


# --------------------------------------------------------------------------------------------------- records
def recorded(service, **record):
    """3,000 A at 208 V with 339 kVA of new heating and cooling."""
    s = service("208Y/120", 3000, 3000)
    values = {"peak_kw": 440, "period_days": 365, "interval_min": 15} | record
    s.drawing = s.drawing.with_items([])
    s.put("service", "Utility", system="208Y/120", demand=(DemandRecord(**values),))
    s.put("load", "Old", va=None, phases="ABC")
    s.put("load", "New", va=339_000, phases="ABC", load_class="heat", status="new")
    s.joint("MDP", "Old")
    s.joint("MDP", "New")
    return s


def test_existing_load_by_demand(service) -> None:
    """Engineers' forum, August 2025: 986 kVA of 1,080 kVA (printed 995 by a slip). The old load itself is not known."""
    ctx = recorded(service).context()
    (found,) = demand.verdicts(ctx)
    assert (found.rule, found.state, found.alternative) == ("LOAD-1", "pass", True)
    assert found.value == pytest.approx(986.1, abs=0.1)
    assert found.limit == pytest.approx(1080.8, abs=0.1)
    at = node(ctx, "MDP")
    assert ctx.demand.counted_a(at)["B"] == pytest.approx(986_060 / (208 * sqrt(3)), abs=1)
    assert ctx.demand.load_a(at)["B"] == pytest.approx((517_647 + 339_000) / (208 * sqrt(3)), abs=1)
    assert "220.87" in ctx.demand.method(at)
    assert ctx.demand.basis(at) == "assumed"  # power factor
    assert ctx.available[at].per_phase["A"] == pytest.approx(3000 - 2737, abs=1)


def test_record_does_not_count_the_new_load_in_the_existing_view(service) -> None:
    ctx = recorded(service, peak_kw=None, peak_kva=500).context("existing")
    assert ctx.demand.counted_a(node(ctx, "MDP"))["A"] == pytest.approx(1.25 * 500_000 / (208 * sqrt(3)))


def test_record_with_a_roof_array_is_not_used(service) -> None:
    """220.87: not where generation is behind the meter; the load is then calculated, and the old one is not known."""
    s = recorded(service)
    s.put("disconnect", "PV breaker", trip_a=60)
    s.put("solar", "Roof array", output_a=40, phases="ABC")
    s.joint("MDP", "PV breaker")
    s.joint("PV breaker", "Roof array.out")
    ctx = s.context()
    (found,) = demand.verdicts(ctx)
    assert found.state == "judge"
    assert "Roof array" in found.message
    at = node(ctx, "MDP")
    assert ctx.demand.counted_a(at) == {"A": None, "B": None, "C": None}
    assert "220.87" not in ctx.demand.method(at)


def test_short_record_is_not_used(service) -> None:
    ctx = recorded(service, period_days=20).context()
    assert [v.state for v in demand.verdicts(ctx)] == ["fail"]
    assert ctx.demand.counted_a(node(ctx, "MDP"))["A"] is None


def test_record_stands_only_where_it_was_taken(service) -> None:
    """Behind the first bus the load is calculated."""
    s = recorded(service)
    s.put("disconnect", "Feeder", trip_a=200)
    s.put("bus", "LP", rating_a=225)
    s.chain("MDP", "Feeder", "LP")
    s.put("load", "Shop", va=36_000, load_class="heat", phases="ABC")
    s.joint("LP", "Shop")
    ctx = s.context()
    assert ctx.demand.load_a(node(ctx, "LP"))["A"] == pytest.approx(100, abs=0.1)
    assert "220.87" in ctx.demand.method(node(ctx, "Utility"))
    assert "220.87" not in ctx.demand.method(node(ctx, "LP"))


def test_spot_reading_is_no_record(service, circuit) -> None:
    """Trade consensus: a clamp reading on a quiet day is no maximum demand."""
    s = service(circuits=(circuit(space=1, poles=3, va=36_000, load_class="heat"),))
    s.put("service", "Utility", system="208Y/120", readings=(Reading(when="Saturday 07:10", a_a=41.0),))
    ctx = s.context()
    (found,) = demand.verdicts(ctx)
    assert found.state == "advice"
    assert ctx.demand.load_a(node(ctx, "MDP"))["A"] == pytest.approx(100, abs=0.1)


def recorded_amperes(service, **record):
    """83.3 A of scheduled load on a 160 A bus behind a 400 A main; a recorder saw 150 A on the highest phase."""
    values = {
        "peak_a": 150,
        "period_days": 40,
        "interval_min": 15,
        "occupied": True,
        "seasonal_included": True,
    } | record
    s = service("208Y/120", 400, 160)
    s.put("service", "Utility", system="208Y/120", demand=(DemandRecord(**values),))
    s.put("load", "Shop", va=30_000, load_class="heat", phases="ABC")
    s.joint("MDP", "Shop")
    return s


def bus_capacity(ctx):
    return next(v for v in available.verdicts(ctx) if v.name == "MDP")


def test_a_record_that_stands_for_the_load(service) -> None:
    """220.87: 1.25 x 150 A is 187.5 A on a bus of 160 A."""
    found = bus_capacity(recorded_amperes(service).context())
    assert (found.state, found.value) == ("fail", pytest.approx(187.5))


@pytest.mark.parametrize("unknown", ["seasonal_included", "occupied", "period_days", "interval_min", "peak_a"])
def test_an_unknown_fact_of_a_record_never_passes_what_fails_with_it(service, unknown) -> None:
    """Physics: 150 A was there, so the 83 A that are drawn cannot be all; 220.87 would ask for 187.5 A."""
    ctx = recorded_amperes(service, **{unknown: None}).context()
    found = bus_capacity(ctx)
    assert found.state == "unknown"
    assert any("demand record at Utility" in n or "Utility was recorded" in n for n in found.needs)
    at = node(ctx, "MDP")
    assert ctx.demand.load_a(at)["A"] is None
    assert ctx.demand.kva(at) is None
    if unknown != "peak_a":
        assert "The demand record at Utility shows at least 150 A." in found.message
        assert ctx.available[at].bound["A"] == pytest.approx(10)


def test_what_a_short_record_shows_was_there(service) -> None:
    """29 days may not stand for the load (220.87), yet 150 A on a bus of 140 A is over by measurement."""
    short = recorded_amperes(service, period_days=29)
    found = bus_capacity(short.context())
    assert found.state == "unknown"
    assert found.needs == ("load that the demand record at Utility shows and the drawing does not",)
    short.put("bus", "MDP", rating_a=140)
    found = bus_capacity(short.context())
    assert found.state == "fail"
    assert found.value == pytest.approx(150)
    assert "at least 10 A" in found.message


def test_a_record_below_the_calculated_load_leaves_it_alone(service) -> None:
    """A short record of 60 A says nothing against 83.3 A as calculated; one that may stand for it leaves a range."""
    assert bus_capacity(recorded_amperes(service, peak_a=60, period_days=29).context()).value == pytest.approx(
        30_000 / (208 * sqrt(3))
    )
    ctx = recorded_amperes(service, peak_a=60, occupied=None).context()
    bounds = ctx.demand.bounds(node(ctx, "MDP"))["A"]
    assert (bounds.low, bounds.high) == (pytest.approx(75), pytest.approx(30_000 / (208 * sqrt(3))))
    assert bus_capacity(ctx).state == "pass"  # by either


def test_kilowatts_without_a_power_factor_are_the_least_of_the_load(service) -> None:
    """P <= S: 50 kW are at least 50 kVA, whatever power factor is assumed for the method."""
    ctx = recorded_amperes(service, peak_a=None, peak_kw=50, period_days=29).context()
    assert ctx.demand.bounds(node(ctx, "MDP"))["A"].low == pytest.approx(50_000 / (208 * sqrt(3)))


def test_a_total_is_said_to_be_taken_as_balanced(service) -> None:
    """Physics: kilowatts of a meter do not tell the phases, and no record tells the neutral."""
    ctx = recorded_amperes(service, peak_a=None, peak_kva=50).context()
    found = bus_capacity(ctx)
    assert "recorded demand balanced on the phases" in found.message
    assert found.basis == "assumed"
    (record,) = demand.verdicts(ctx)
    assert any("Highest phase" in check for check in record.field_checks)
    assert ctx.demand.neutral_a(node(ctx, "MDP")) is None
    assert "balanced" not in bus_capacity(recorded_amperes(service).context()).message


# ---------------------------------------------------------------------------------------------- what is not known
def test_nothing_entered_is_not_zero(service) -> None:
    """An existing panel or breaker behind which nothing is drawn feeds something that nobody entered."""
    s = service(all_listed=None)
    ctx = s.context()
    assert ctx.demand.load_a(node(ctx, "MDP")) == {"A": None, "B": None, "C": None}
    assert ctx.demand.needs(node(ctx, "MDP")) == ("what MDP feeds",)
    s = service(all_listed=True)
    s.put("disconnect", "Breaker 7", trip_a=20)
    s.joint("MDP", "Breaker 7")
    ctx = s.context()
    assert ctx.demand.needs(node(ctx, "MDP")) == ("what Breaker 7 feeds",)
    assert ctx.available[node(ctx, "MDP")].per_phase["A"] is None


def test_a_new_panel_may_be_empty(service, circuit) -> None:
    s = service(circuits=(circuit(space=1, poles=3, va=36_000, load_class="heat"),))
    s.put("disconnect", "Feeder", trip_a=200, status="new")
    s.put("bus", "SP", rating_a=225, status="new")
    s.chain("MDP", "Feeder", "SP")
    ctx = s.context()
    assert ctx.demand.load_a(node(ctx, "SP")) == {"A": 0, "B": 0, "C": 0}
    assert ctx.available[node(ctx, "SP")].per_phase["A"] == 200


def test_unknown_circuits_leave_the_known_part_as_a_lower_bound(service, circuit) -> None:
    known = circuit(space=1, poles=3, va=36_000, load_class="heat")
    unknown = [circuit(space=s) for s in range(7, 19)]
    ctx = service(circuits=(known, *unknown)).context()
    at = node(ctx, "MDP")
    assert ctx.demand.load_a(at) == {"A": None, "B": None, "C": None}
    assert ctx.demand.kva(at) is None
    assert ctx.demand.known_a(at)["A"] == pytest.approx(100, abs=0.1)
    assert ctx.demand.known_kva(at) == pytest.approx(36)
    assert ctx.demand.needs(at) == ("loads of 12 circuits of MDP (7, 8, 9, 10, 11, 12, 13, 14, 15, 16, 17, 18)",)
    left = ctx.available[at]
    assert left.per_phase["A"] is None
    assert left.kva is None
    assert left.bound["A"] == pytest.approx(300, abs=0.1)


def test_unknown_phases_are_bounded_from_both_sides(service) -> None:
    """6,000 VA somewhere on 208Y/120: between nothing and 50 A on each phase."""
    s = service()
    put_loads(s, "MDP", oven={"va": 6000, "load_class": "heat"})
    ctx = s.context()
    at = node(ctx, "MDP")
    assert ctx.demand.load_a(at)["A"] is None
    bounds = ctx.demand.bounds(at, counted=False)["A"]
    assert (bounds.low, bounds.high) == pytest.approx((0, 50))
    assert ctx.demand.kva(at) == pytest.approx(6)
    assert ctx.available[at].least["A"] == pytest.approx(350)
    assert ctx.available[at].bound["A"] == pytest.approx(400)


def counted(service, main_a: float = 400, **values):
    """24 kVA at 240 V, 100 A, with what is known of it."""
    s = service("120/240-1", main_a=main_a)
    put_loads(s, "MDP", thing={"va": 24_000, "phases": "AB", **values})
    return s.context()


@pytest.mark.parametrize("load_class", [None, "other"])
def test_duration_not_entered_is_a_range(service, load_class) -> None:
    """100 A where it is not continuous, 125 A (215.2, 215.3) where it is."""
    ctx = counted(service, load_class=load_class)
    at = node(ctx, "MDP")
    found = ctx.demand.bounds(at)["A"]
    assert (found.low, found.high) == pytest.approx((100, 125))
    assert ctx.demand.counted_a(at)["A"] is None
    assert ctx.demand.load_a(at)["A"] == pytest.approx(100)
    assert ctx.demand.needs(at) == ("class of thing" if load_class is None else "whether thing is continuous",)
    for known in (True, False):
        exact = counted(service, load_class="other", continuous=known).demand.bounds(at)["A"]
        assert exact.low == pytest.approx(exact.high)
        assert found.low - 1e-9 <= exact.low <= found.high + 1e-9


def test_a_load_of_no_class_may_be_the_largest_motor(service) -> None:
    """430.24: 125 % of the largest motor, so 100 A to 125 A although it is not continuous; also at full-rated devices."""
    ctx = counted(service, load_class=None, continuous=False)
    at = node(ctx, "MDP")
    motor = counted(service, load_class="motor", continuous=False).demand.bounds(at, counted=False)["A"]
    for in_full in (False, True):
        found = ctx.demand.bounds(at, counted=in_full)["A"]
        assert found.low == pytest.approx(100)
        assert found.high == pytest.approx(125)
        assert motor.low <= found.high + 1e-9
    assert counted(service, load_class="other", continuous=False).demand.counted_a(at)["A"] == pytest.approx(100)


@pytest.mark.parametrize(("main_a", "expected"), [(99, "fail"), (101, "unknown"), (124, "unknown"), (125, "pass")])
def test_capacity_is_decided_by_both_ends_of_the_range(service, main_a, expected) -> None:

    ctx = counted(service, main_a=main_a, load_class=None)
    found = next(v for v in available.verdicts(ctx) if v.name == "Main")
    assert found.state == expected
    assert ("class of thing" in found.needs) == (expected == "unknown")


def test_many_circuits_of_unknown_duration_are_counted_by_panel(service, circuit) -> None:
    rows = tuple(circuit(space=k, va=100, load_class="other") for k in (1, 3, 5, 7))
    ctx = service(circuits=rows).context()
    assert "whether 4 circuits of MDP are continuous" in ctx.demand.needs(node(ctx, "MDP"))


def test_share_of_a_loop_is_not_known(service) -> None:
    """Two closed feeders to one panel: what each carries is not known; their sum is."""
    s = service()
    for name in ("F1", "F2"):
        s.put("disconnect", name, trip_a=200)
        s.joint("MDP", name)
    s.put("bus", "LP", rating_a=225)
    s.joint("F1", "LP")
    s.joint("F2", "LP")
    put_loads(s, "LP", heater={"va": 36_000, "load_class": "heat", "phases": "ABC"})
    ctx = s.context()
    assert ctx.demand.load_a(node(ctx, "LP"))["A"] is None
    assert ctx.demand.load_a(node(ctx, "MDP"))["A"] == pytest.approx(100, abs=0.1)
    assert "parallel" in ctx.demand.needs(node(ctx, "LP"))[0]


@pytest.mark.parametrize(
    ("full_rated", "main_a", "expected"),
    [(None, 125, "pass"), (None, 124, "unknown"), (None, 99, "fail"), (False, 124, "fail"), (True, 101, "pass")],
)
def test_a_breaker_not_said_to_be_listed_fails_only_where_a_listing_would_not_help(
    service, full_rated, main_a, expected
) -> None:
    """210.20(A), 215.3: 100 A continuous needs 125 A, or 100 A where the assembly is listed for 100 %."""

    s = service("120/240-1", main_a=main_a)
    s.drawing = s.drawing.with_items([replace(s.drawing.get("Main"), full_rated=full_rated)])
    put_loads(s, "MDP", thing={"va": 24_000, "phases": "AB", "load_class": "other", "continuous": True})
    found = next(v for v in available.verdicts(s.context()) if v.name == "Main")
    assert found.state == expected
    if expected == "unknown":
        assert found.needs == ("whether Main is listed for continuous load at 100 %",)


@pytest.mark.parametrize(("peak_kw", "state"), [(108, "pass"), (111, "fail"), (116, "fail")])
def test_a_record_is_compared_with_whatever_binds(sketch, peak_kw, state) -> None:
    """500 kcmil copper, 380 A at 75 °C (Table 310.16) ahead of a 400 A main: 1.25 x peak may be 380 A, 136.9 kVA."""
    s = sketch()
    record = DemandRecord(peak_kva=peak_kw, period_days=365, interval_min=15)
    s.put("service", "Utility", system="208Y/120", demand=(record,))
    s.put("disconnect", "Main", trip_a=400, rating_a=400, terminal_c=75, service_disconnect=True)
    s.put("bus", "MDP", rating_a=400)
    s.run("Utility", "Main", "Service conductors", size="500", material="copper", insulation="THWN-2", sets=1, wet=False,
          ambient_c=30, current_carrying=3, raceway="EMT", length_ft=20, terminal_c=75)  # fmt: skip
    s.joint("Main", "MDP")
    (found,) = demand.verdicts(s.context())
    assert found.state == state
    assert found.limit == pytest.approx(380 * 208 * sqrt(3) / 1000)
    assert "Service conductors" in found.message


YEAR = {
    "peak_kva": 103.6, "start": "2025-01-01", "end": "2025-12-31", "period_days": 365, "interval_min": 15,
    "occupied": True, "seasonal_included": True,
}  # fmt: skip


@pytest.mark.parametrize(
    ("changes", "need"),
    [
        ({}, ""),
        # Both days counted, and one of them: 2025 has 365 days, arithmetic of the calendar.
        ({"period_days": 364}, ""), ({"start": "2024-12-31"}, ""),
        ({"start": "2025-12-31", "end": "2025-01-01"}, "dates of the demand record at Utility"),
        ({"end": "2025-03-01"}, "dates of the demand record at Utility"),
        ({"period_days": 363}, "dates of the demand record at Utility"),
        ({"start": "2025-01-02"}, "dates of the demand record at Utility"),
        ({"peak_kva": 0.0}, "peak of the demand record at Utility"),
    ],
)  # fmt: skip
def test_a_record_that_contradicts_itself_stands_for_nothing_yet(service, circuit, changes, need) -> None:
    s = service(circuits=(circuit(space=1, poles=3, va=None),))
    s.put("service", "Utility", system="208Y/120", demand=(DemandRecord(**(YEAR | changes)),))
    ctx = s.context()
    (record,) = (v for v in demand.verdicts(ctx) if v.rule == "LOAD-1")
    assert record.state == ("unknown" if need else "pass")
    assert (need in record.needs) is bool(need)
    assert (ctx.demand.load_a(node(ctx, "MDP"))["A"] is None) is bool(need)
