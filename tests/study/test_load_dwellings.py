"""Loads of dwelling units through drawings, against the examples of NEC Annex D (from memory of older reprints: D1, D2, D4,
D5) and the printed tables."""

from __future__ import annotations

from math import sqrt
from typing import Any

import pytest


def put(s: Any, bus: str, name: str, **values: Any) -> None:
    s.put("load", name, **values)
    s.joint(bus, name)


def flat(service: Any, **bus: Any) -> Any:
    values = {"area_ft2": 1_500, "occupancy": "dwelling units", "dwelling_units": 1, **bus}
    return service("120/240-1", 100, 100, **values)


def point(s: Any, edition: int = 2017, item: str = "MDP") -> tuple[Any, int]:
    ctx = s.context(edition=edition)
    return ctx.demand, ctx.net.node(item)


def one_family(service: Any, **bus: Any) -> Any:
    s = flat(service, **bus)
    put(s, "MDP", "range", load_class="dwelling cooking", va=12_000, phases="AB")
    put(s, "MDP", "dryer", load_class="dwelling dryer", va=5_500, phases="AB")
    return s


# ------------------------------------------------------------------------------------- NEC Annex D, Example D1(a)
@pytest.mark.parametrize("edition", [2017, 2020, 2023])
def test_one_family_dwelling(service: Any, edition: int) -> None:
    """D1(a): 1,500 ft2, range 12 kW, dryer 5.5 kW: 9,000 VA of lighting and circuits come to 5,100 VA; 8,000 VA and
    5,500 VA on top: 18,600 VA, 78 A. Neutral 5,100 + 5,600 + 3,850 = 14,550 VA, 61 A."""
    demand, at = point(one_family(service), edition)
    assert demand.needs(at) == ()
    assert demand.kva(at) == pytest.approx(18.6)
    assert demand.load_a(at) == pytest.approx({"A": 77.5, "B": 77.5})
    assert demand.counted_a(at) == pytest.approx({"A": 77.5, "B": 77.5})
    assert demand.neutral_a(at) == pytest.approx(14_550 / 240)


def test_its_worksheet(service: Any) -> None:
    demand, at = point(one_family(service))
    lines = {line.what: line for line in demand.work(at)}
    assert lines["Household cooking"].value == pytest.approx(8_000)
    assert "Table 220.55" in lines["Household cooking"].source
    assert "figure from memory" in lines["Household cooking"].source
    assert lines["Clothes dryers"].value == pytest.approx(5_500)
    assert lines["Calculated load"].value == pytest.approx(18_600)
    assert lines["Household cooking appliances on the feeder"].value == 1


def test_circuits_entered_are_not_counted_twice(service: Any) -> None:
    """Three small-appliance circuits in place of the two of the code: 1,500 VA more under the 35 %."""
    s = one_family(service)
    put(s, "MDP", "kitchen circuits", load_class="dwelling small appliance", quantity=3, phases="AB")
    put(s, "MDP", "washer", load_class="dwelling laundry", phases="A")
    demand, at = point(s)
    assert demand.kva(at) == pytest.approx(18.6 + 0.35 * 1.5)


def test_receptacles_and_lamps_of_a_flat_are_its_general_lighting(service: Any, circuit: Any) -> None:
    """220.14(J) (2023: 220.41): no further load for general receptacles and lamps."""
    kinds = ("receptacles", "lighting", "receptacles", "lighting")
    rows = tuple(circuit(space=k, va=900, load_class=name) for k, name in enumerate(kinds, 1))
    demand, at = point(one_family(service, circuits=rows))
    assert demand.kva(at) == pytest.approx(18.6)
    assert demand.counted_a(at) == pytest.approx({"A": 77.5, "B": 77.5})


def test_new_edition_lights_by_two_va(service: Any) -> None:
    """2026: 2 VA/ft2: 7,500 VA, 3,000 + 0.35 x 4,500 = 4,575."""
    assert point(one_family(service), 2026)[0].kva(point(one_family(service), 2026)[1]) == pytest.approx(18.075)


def test_number_of_units_not_known(service: Any) -> None:
    """At least one dwelling unit with two circuits; no more than a lower bound."""
    demand, at = point(one_family(service, dwelling_units=None))
    assert demand.kva(at) is None
    assert demand.bounds(at)["A"].high is None
    assert "number of dwelling units of MDP" in demand.needs(at)


def test_laundry_of_several_flats_is_asked_for(service: Any) -> None:
    """210.52(F), exception: a laundry for all instead."""
    demand, at = point(flat(service, dwelling_units=4, area_ft2=4_000))
    assert "whether the dwelling units of MDP have laundry circuits" in demand.needs(at)
    found = demand.bounds(at, counted=False)["A"]
    # 12,000 + 8 x 1,500 = 24,000 VA at least; 6,000 VA of laundry at most on top.
    assert found.low > 0
    assert found.low <= (3_000 + 0.35 * 21_000) / 240
    assert found.high is not None
    assert found.high >= (3_000 + 0.35 * 27_000) / 240


def test_unknown_ratings_are_asked_for(service: Any) -> None:
    s = flat(service)
    put(s, "MDP", "range", load_class="dwelling cooking", phases="AB")
    put(s, "MDP", "dryer", load_class="dwelling dryer", phases="AB")
    demand, at = point(s)
    assert demand.needs(at) == ("load of range", "load of dryer")
    # A dryer is 5,000 VA at least; 220.54.
    assert demand.known_kva(at) >= 5.0


# --------------------------------------------------------------------------------------- fastened appliances
@pytest.mark.parametrize(("count", "expected"), [(3, 3 * 1.2), (4, 0.75 * 4 * 1.2), (5, 0.75 * 5 * 1.2)])
def test_appliances_fastened_in_place(service: Any, count: int, expected: float) -> None:
    """220.53: 75 % of four or more."""
    s = service("120/240-1", 100, 100)
    for k in range(count):
        put(s, "MDP", f"appliance {k}", load_class="dwelling appliance", va=1_200, phases="AB")
    demand, at = point(s)
    assert demand.kva(at) == pytest.approx(expected)


def test_a_water_heater_of_a_flat_is_one_of_them(service: Any) -> None:
    s = flat(service)
    for k in range(3):
        put(s, "MDP", f"appliance {k}", load_class="dwelling appliance", va=1_200, phases="AB")
    put(s, "MDP", "heater", load_class="water heater", va=4_500, phases="AB")
    demand, at = point(s)
    assert demand.kva(at) == pytest.approx(5.1 + 0.75 * (3.6 + 4.5))


# ------------------------------------------------------------------------------------------- dryers, Table 220.54
@pytest.mark.parametrize(
    ("count", "share"), [(1, 1.0), (4, 1.0), (5, 0.85), (6, 0.75), (11, 0.47), (12, 0.46), (23, 0.35), (24, 0.345),
                         (42, 0.255), (43, 0.25), (60, 0.25)],
)  # fmt: skip
def test_dryers_on_a_single_phase_feeder(service: Any, count: int, share: float) -> None:
    """5,000 VA each or the nameplate, the larger. Five dryers at 85 %: trade forum (second source); ends of the steps."""
    s = service("120/240-1", 800, 800)
    put(s, "MDP", "dryers", load_class="dwelling dryer", va=4_500.0 * count, quantity=count, phases="AB")
    demand, at = point(s)
    assert demand.kva(at) == pytest.approx(share * 5.0 * count)


def test_dryers_on_three_phases(service: Any) -> None:
    """Common teaching of 220.54: ten 5 kW dryers on 208Y/120: four between two phases at most, twice that is eight, 60 %:
    24 kVA, half of it on each of the three phases: 36 kVA."""
    s = service("208Y/120", 800, 800)
    put(s, "MDP", "dryers", load_class="dwelling dryer", va=50_000, quantity=10, phases="ABC")
    demand, at = point(s)
    assert demand.kva(at) == pytest.approx(36.0)
    assert demand.load_a(at) == pytest.approx(dict.fromkeys("ABC", 12_000 / 120), rel=2e-3)


# ------------------------------------------------------------------------------------- NEC Annex D, Example D4(a)
def apartments(service: Any, system: str, count: int, ranges: int, phases: str) -> Any:
    """Half of the apartments have electric ranges, one laundry for all; 840 ft2 each."""
    s = service(system, 800, 800, area_ft2=840 * count, occupancy="dwelling units", dwelling_units=count)
    put(s, "MDP", "ranges", load_class="dwelling cooking", va=12_000.0 * ranges, quantity=ranges, phases=phases)
    put(s, "MDP", "laundry", load_class="dwelling laundry", quantity=1, va=None, phases="A")
    return s


@pytest.mark.parametrize(("count", "lights_va", "ranges_va"), [(20, 40_590, 25_000), (40, 69_150, 35_000)])
def test_apartment_house(service: Any, count: int, lights_va: float, ranges_va: float) -> None:
    """D4(a): feeders of 20 apartments 65,590 VA (273 A), of 40 104,150 VA (434 A); neutral of the first 58,090 VA, 242 A,
    with the reduction above 200 A 229 A. The laundry of all has 1,500 VA more here, taken off again."""
    demand, at = point(apartments(service, "120/240-1", count, count // 2, "AB"))
    step = 0.25 if count == 40 else 0.35
    total = lights_va + ranges_va
    assert demand.kva(at) == pytest.approx((total + step * 1_500) / 1000)
    if count == 20:
        assert pytest.approx(229, abs=0.5) == 200 + 0.7 * (58_090 / 240 - 200)
        washer_a = 0.35 * 1_500 / 120
        assert demand.neutral_a(at) == pytest.approx(200 + 0.7 * (58_090 / 240 + washer_a - 200), abs=0.1)


# ------------------------------------------------------------------------------------- NEC Annex D, Example D5(b)
@pytest.mark.parametrize(
    ("count", "ranges", "total_va"), [(20, 10, 75_090), (40, 20, 112_650)],
)  # fmt: skip
def test_apartment_house_on_three_phases(service: Any, count: int, ranges: int, total_va: float) -> None:
    """D5(b), 208Y/120: ten ranges, four between two phases: eight by column C are 23 kW, 34,500 VA on three phases, with
    the lighting 75,090 VA, 208 A; twenty: seven, fourteen, 29 kW, 43,500 VA, 112,650 VA, 313 A."""
    demand, at = point(apartments(service, "208Y/120", count, ranges, "ABC"))
    step = 0.25 if count == 40 else 0.35
    assert demand.kva(at) == pytest.approx((total_va + step * 1_500) / 1000)
    assert demand.load_a(at)["B"] == pytest.approx(total_va / 208 / sqrt(3), rel=3e-3)
    lines = {line.what: line.value for line in demand.work(at)}
    assert lines["Household cooking appliances to go by, twice those between two phases"] == {20: 8, 40: 14}[count]


def test_ranges_where_they_are_drawn(service: Any) -> None:
    """The same ten one by one: AB 4, BC 3, CA 3."""
    s = service("208Y/120", 800, 800)
    for k in range(10):
        s.put("load", f"range {k}", load_class="dwelling cooking", va=12_000, phases=("AB", "BC", "CA")[k % 3])
        s.run("MDP", f"range {k}")
    demand, at = point(s)
    assert demand.kva(at) == pytest.approx(34.5)
    assert demand.load_a(at) == pytest.approx(dict.fromkeys("ABC", 11_500 / 120), rel=2e-3)
    node = s.context().net.node("range 0")
    assert demand.kva(node) == pytest.approx(8.0)


# ------------------------------------------------------------------------------ Table 220.55 and its notes
@pytest.mark.parametrize(
    ("ratings_kw", "expected_kw"),
    [
        ([12], 8.0), ([13], 8.4), ([13.4], 8.4), ([13.5], 8.8), ([27], 14.0), ([27.1], 27.1), ([1.75], 1.75),
        # Annex D, example D4 and others (from memory): 14 kW range 8.8 kW; note 2: 24 ranges of 12 and 18: 24 x ... below.
        ([14], 8.8),
        # Note 3: three wall ovens of 6 kW by column B 55 %: 9.9 kW is less than 14 kW by column C.
        ([6, 6, 6], 9.9), ([3, 3], 4.5), ([3.4], 2.72), ([3.5], 2.8), ([8.75], 7.0), ([8.76], 8.0),
        # Note 2: 30 ranges, 10 of 12, 5 of 14, 8 of 16, 7 of 18 kW (average 14.67 kW: 3 steps): 45 kW x 1.15.
        ([12.0] * 10 + [14.0] * 5 + [16.0] * 8 + [18.0] * 7, 45 * 1.15),
        # Steps of the table: 25, 26, 40, 41, 61.
        ([12] * 25, 40), ([12] * 26, 41), ([12] * 40, 55), ([12] * 41, 55.75), ([12] * 61, 70.75),
    ],
)  # fmt: skip
def test_cooking_appliances(service: Any, ratings_kw: list[float], expected_kw: float) -> None:
    """Table 220.55 (from memory), 5 % for each kW or major fraction above 12 kW, through a drawing."""
    s = service("120/240-1", 800, 800)
    for k, kw in enumerate(ratings_kw):
        put(s, "MDP", f"range {k}", load_class="dwelling cooking", va=1_000 * kw, phases="AB")
    demand, at = point(s)
    assert demand.kva(at) == pytest.approx(expected_kw)


@pytest.mark.parametrize("others", [0, 1, 3, 30])
def test_what_is_entered_is_a_lower_bound_while_some_are_not(service: Any, others: int) -> None:
    """However many ranges turn out to be 3.5 kW to 14 kW, the bound before is not above the load after."""
    s = service("120/240-1", 800, 800)
    for k in range(10):
        put(s, "MDP", f"range {k}", load_class="dwelling cooking", va=(6_000, 12_000)[k % 2], phases="AB")
    put(s, "MDP", "more", load_class="dwelling cooking", phases="AB")
    demand, at = point(s)
    low = demand.bounds(at)["A"].low
    assert low > 0
    for each in (3_500.0, 8_000.0, 14_000.0):
        s.put("load", "more", load_class="dwelling cooking", quantity=max(others, 1), va=each * others, phases="AB")
        after, node = point(s)
        assert after.bounds(node)["A"].low >= low * (1 - 1e-9)


# --------------------------------------------------------------------------- optional calculation, 220.82 and 220.83
def optional_unit(service: Any, method: str, heat_units: int = 5) -> Any:
    s = flat(service, load_calculation=method)
    put(s, "MDP", "range", load_class="dwelling cooking", va=12_000, phases="AB")
    put(s, "MDP", "water heater", load_class="water heater", va=2_500, phases="AB")
    put(s, "MDP", "dishwasher", load_class="dwelling appliance", va=1_200, phases="AB")
    put(s, "MDP", "dryer", load_class="dwelling dryer", va=5_000, phases="AB")
    put(s, "MDP", "heat", load_class="heat", va=9_000, quantity=heat_units, phases="AB",
        noncoincident_group="season/winter")  # fmt: skip
    put(s, "MDP", "air conditioner", load_class="hvac", va=1_380, phases="AB", noncoincident_group="season/summer")
    return s


@pytest.mark.parametrize(("heat_units", "total_va"), [(5, 21_480), (4, 21_480), (3, 17_880 + 0.65 * 9_000)])
def test_optional_calculation_of_a_dwelling(service: Any, heat_units: int, total_va: float) -> None:
    """D2(a): 29.7 kVA of general loads come to 17,880 VA; 9 kW of heating in five rooms at 40 %: 21,480 VA, 90 A; less than
    four units at 65 % (from memory)."""
    s = optional_unit(service, "dwelling unit", heat_units)
    demand, at = point(s)
    assert demand.kva(at) == pytest.approx(total_va / 1000)
    assert demand.load_a(at) == pytest.approx(dict.fromkeys("AB", total_va / 240))
    found = load8(s, 2017)
    assert found.state == "pass"
    assert "220.82" in found.section


def load8(s: Any, edition: int) -> Any:
    from oneline.study import load_checks

    return next(v for v in load_checks.verdicts(s.context(edition=edition)) if v.rule == "LOAD-8")


def test_heat_and_cooling_that_may_run_together(service: Any) -> None:
    """Nobody said that they do not: both count, as a heat pump with its supplementary heat does."""
    s = optional_unit(service, "dwelling unit")
    s.put("load", "heat", load_class="heat", va=9_000, quantity=5, phases="AB")
    demand, at = point(s)
    assert demand.kva(at) == pytest.approx(17.88 + 3.6 + 1.38)


@pytest.mark.parametrize(
    ("status", "total_va"),
    [("existing", 8_000 + 0.4 * (29_700 + 9_000 - 8_000)), ("new", 8_000 + 0.4 * 21_700 + 9_000)],
)
def test_existing_dwelling_unit(service: Any, status: str, total_va: float) -> None:
    """220.83 (from memory): first 8 kVA in full, 40 % of the rest; heating that is added counts in full."""
    s = optional_unit(service, "existing dwelling unit")
    s.put("load", "heat", load_class="heat", va=9_000, quantity=5, phases="AB", noncoincident_group="season/winter",
          status=status)  # fmt: skip
    demand, at = point(s)
    assert demand.kva(at) == pytest.approx(total_va / 1000)


@pytest.mark.parametrize(
    ("bus", "state", "words"),
    [
        ({"area_ft2": None}, "unknown", "floor area"),
        ({"dwelling_units": 2}, "fail", "one dwelling unit"),
    ],
)
def test_where_the_optional_calculation_may_not_be_used(
    service: Any, bus: dict[str, Any], state: str, words: str
) -> None:
    s = flat(service, load_calculation="dwelling unit", **bus)
    put(s, "MDP", "range", load_class="dwelling cooking", va=12_000, phases="AB")
    found = load8(s, 2023)
    assert found.state == state
    assert words in found.message or any(words in n for n in found.needs)


def test_optional_calculation_needs_three_wires(service: Any) -> None:
    s = service("208Y/120", 100, 100, area_ft2=1_500, occupancy="dwelling units", dwelling_units=1,
                load_calculation="dwelling unit")  # fmt: skip
    put(s, "MDP", "range", load_class="dwelling cooking", va=12_000, phases="AB")
    assert load8(s, 2023).state == "fail"


def test_apartments_behind_a_meter_center(service: Any) -> None:
    """220.84 for the feeder of the flats of a mixed building; ahead of it the standard calculation counts."""
    s = service("120/240-1", 800, 800)
    s.put("disconnect", "flats", trip_a=400)
    s.put("bus", "meters", form="meter center", rating_a=400, area_ft2=6_000, occupancy="dwelling units", dwelling_units=6,
          load_calculation="apartment house")  # fmt: skip
    s.chain("MDP", "flats", "meters")
    put(s, "meters", "ranges", load_class="dwelling cooking", va=72_000, quantity=6, phases="AB")
    put(s, "meters", "laundry", load_class="dwelling laundry", quantity=6, phases="AB")
    put(s, "MDP", "store", load_class="other", continuous=False, va=10_000, phases="AB")
    demand, at = point(s, item="meters")
    # 18,000 + 18,000 + 9,000 + 72,000 VA at 44 %.
    assert demand.kva(at) == pytest.approx(0.44 * 117)
    main, node = point(s)
    assert main.kva(node) == pytest.approx(3 + 0.35 * 42 + 21 + 10)


# ------------------------------------------------------------------------------------ 230.79(C) and 215.2(A)(2)
@pytest.mark.parametrize(
    ("units", "main_a", "status", "state"),
    [
        (1, 100, "new", "pass"), (1, 99, "new", "fail"), (1, 60, "existing", "judge"), (2, 60, "new", "pass"),
        (None, 60, "new", "pass"), (2, 59, "new", "judge"),
    ],
)  # fmt: skip
def test_least_service_of_a_dwelling(service: Any, units: int | None, main_a: float, status: str, state: str) -> None:
    """230.79(C): 100 A for a one-family dwelling; (D): 60 A for others."""
    from oneline.study import services

    s = service("120/240-1", main_a, 200)
    s.put("service", "Utility", system="120/240-1", occupancy="dwelling units", dwelling_units=units, status=status)
    s.put("disconnect", "Main", trip_a=main_a, rating_a=main_a, service_disconnect=True, status=status)
    put(s, "MDP", "load", load_class="other", continuous=False, va=1_000, phases="AB")
    found = next(v for v in services.verdicts(s.context()) if v.rule == "SVC-4")
    assert found.state == state


@pytest.mark.parametrize(
    ("trip_a", "neutral", "state"),
    [
        (60, "10", "pass"),
        (60, "12", "fail"),
        (100, "8", "pass"),
        (100, "10", "fail"),
        (200, "6", "pass"),
        (200, "8", "fail"),
    ],
)
def test_least_neutral_of_a_feeder(service: Any, trip_a: float, neutral: str, state: str) -> None:
    """215.2(A)(2): no smaller than Table 250.122 asks for, however little the neutral carries."""
    from oneline.study import load_checks

    s = service("208Y/120", 400, 400)
    s.put("disconnect", "Breaker", trip_a=trip_a, rating_a=trip_a)
    s.put("bus", "LP", rating_a=225)
    s.joint("MDP", "Breaker")
    s.run("Breaker", "LP", "Feeder", size="3/0", neutral_size=neutral, material="copper", insulation="THWN-2", ambient_c=30,
          current_carrying=3, wet=False, terminal_c=75, status="new")  # fmt: skip
    put(s, "LP", "load", load_class="other", continuous=False, va=3_600, phases="ABC")
    found = next(v for v in load_checks.verdicts(s.context()) if v.rule == "LOAD-3")
    assert found.state == state
    if state == "fail":
        assert "grounding conductor behind Breaker" in found.message
