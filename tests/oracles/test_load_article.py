"""Every formula of the load calculation against the exact reckoning by hand, on 10,000 random inputs and the edges.

The reckoning itself is held against published examples first. Sources are named in ``by_hand_load_article``.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from fractions import Fraction as F

import by_hand_load_article as hand
import pytest

from oneline import tables
from oneline.rules import load, load_items
from oneline.rules.load_findings import Alternative, otherwise_va, used_va
from oneline.rules.load_special import hvac_by_current

CASES = 10_000
EDITIONS = (2017, 2020, 2023, 2026)


# ------------------------------------------------------------------------------------- the reckoning by hand itself
def test_published_examples_by_hand() -> None:
    """NEC Annex D, D3 (12,200; 9,000 and 11,250 VA), D9 (354 A, from memory), D10 (705 A); a textbook's 15,080 VA; EC&M:
    48 A, 392.5 A, 80 A; Code-proposal text: 125 A."""
    assert hand.receptacles(F(80 * 180)) == 12_200
    assert hand.receptacles(F(15_300 + 4_860)) == 15_080
    assert hand.general_lighting("retail store", F(3_000), F(8_500), 2017) == (9_000, 11_250)
    assert hand.elevators([F(52)] + [F(40)] * 5, 140, F(60)) == pytest.approx(354, abs=0.7)
    assert hand.elevators([F(133)] * 6, 100, F(60)) == pytest.approx(705, abs=0.5)
    assert hand.motors([F(27), F(14)], F(0), F(0)) == pytest.approx(48, abs=0.5)
    assert hand.rounded_down(F(84)) == 80
    assert hand.neutral(F(475), F(0), True, False) == F(785, 2)
    assert hand.alternatives(F(0), F(0), [(F(110), F(0)), (F(100), F(100))])[0] == 125


# ---------------------------------------------------------------------------------------------------- random inputs
def amounts(rng: random.Random, most: int, *edges: int) -> Iterator[F]:
    """Edges, what is just beside them, and random amounts, many of them small."""
    for edge in edges:
        yield from (F(edge), F(edge) + F(1, 1000), max(F(edge) - F(1, 1000), F(0)))
    while True:
        yield F(rng.randint(0, most * 100), 100) if rng.random() < 0.7 else F(rng.randint(0, most), 7)


def each_case(seed: int) -> Iterator[random.Random]:
    rng = random.Random(seed)
    for _ in range(CASES):
        yield rng


def agree(found: float | None, wanted: F | int | None) -> bool:
    if found is None or wanted is None:
        return found is None and wanted is None
    return abs(found - float(wanted)) <= 1e-9 * max(1.0, abs(float(wanted)))


def compare(seed: int, case: Callable[[random.Random], tuple[object, float | None, F | int | None]]) -> None:
    """All cases; what differs is shown with its inputs."""
    wrong = [(given, got, want) for rng in each_case(seed) for given, got, want in [case(rng)] if not agree(got, want)]
    assert wrong[:3] == []


def test_receptacles() -> None:
    va = amounts(random.Random(1), 100_000, 0, 10_000, 20_000)

    def case(_: random.Random) -> tuple[object, float, F]:
        x = next(va)
        return x, load.receptacle_factor(float(x)) * float(x), hand.receptacles(x)

    compare(1, case)


@pytest.mark.parametrize("use", ["warehouse", "hospital", "hotel or motel", "dwelling units", "office"])
def test_lighting_demand(use: str) -> None:
    va = amounts(random.Random(2), 300_000, 0, 3_000, 12_500, 20_000, 50_000, 100_000, 120_000)

    def case(rng: random.Random) -> tuple[object, float, F]:
        x, year = next(va), rng.choice(EDITIONS)
        row = tables.floor_use(use, year).demand
        found = load.lighting_factor(float(x), row, year) * float(x) if row else float(x)
        return (x, year), found, hand.lighting_demand(use, x, year)

    compare(2, case)


@pytest.mark.parametrize("part", ["load", "counted"])
def test_general_lighting(part: str) -> None:
    va = amounts(random.Random(3), 100_000, 0)

    def case(rng: random.Random) -> tuple[object, float, F]:
        year, connected, ft2 = rng.choice(EDITIONS), next(va), F(rng.randint(1, 60_000))
        use = rng.choice(sorted(hand.UNIT_2017 if year == 2017 else hand.UNIT_2020))
        if rng.random() < 0.1:  # exactly the unit load, or exactly what makes it so at 125 %
            unit = (hand.UNIT_2017 if year == 2017 else hand.UNIT_2020)[use] * ft2
            connected = rng.choice([unit, unit / hand.MORE])
        found = load.general_lighting(float(ft2), use, float(connected), 1.25 * float(connected), year)
        assert found is not None
        wanted = hand.general_lighting(use, ft2, connected, year)
        both = (found.load_va, wanted[0]) if part == "load" else (found.counted_va, wanted[1])
        return (use, ft2, connected, year), *both

    compare(3, case)


def test_windows_tracks_and_assemblies() -> None:
    """200 VA a foot; 150 VA for 2 ft or part; 180 VA for 5 ft or part, or each foot: with what was entered, the larger."""

    def case(rng: random.Random) -> tuple[object, float | None, F]:
        length = F(rng.randint(0, 4_000), rng.choice([1, 4, 10, 12]))
        entered = rng.choice([None, F(rng.randint(0, 20_000))])
        given = None if entered is None else float(entered)
        kind = rng.choice(["show window", "track lighting", "apart", "together"])
        if kind == "show window":
            wanted, found = 200 * length, load_items.by_length(kind, float(length), given, 2023)
        elif kind == "track lighting":
            wanted, found = F(150 * hand.pieces(length, F(2))), load_items.by_length(kind, float(length), given, 2023)
        else:
            wanted = F(180 * hand.pieces(length, F(5) if kind == "apart" else F(1)))
            found = load_items.multioutlet(float(length), kind == "together", given, 2023)
        return (kind, length, entered), found.va, max(wanted, entered or F(0))

    compare(4, case)


def test_outlets_signs_and_vehicles() -> None:
    def case(rng: random.Random) -> tuple[object, float | None, F]:
        count, year = rng.randint(1, 60), rng.choice(EDITIONS)
        entered = F(rng.randint(0, 100_000), rng.choice([1, 7]))
        kind = rng.choice(["outlets", "sign", "vehicle"])
        if kind == "outlets":
            found, least = load_items.outlets(count, float(entered), year), F(180 * count)
        elif kind == "sign":
            found, least = load_items.sign(float(entered), count, year), F(1_200 * count)
        else:
            found = load_items.vehicle_outlets(float(entered), count, year)
            least = F(7_200 * count) if year >= 2023 else F(0)
        return (kind, count, entered, year), found.va, max(least, entered)

    compare(5, case)


def test_office_receptacles() -> None:
    """The larger of 1 VA/ft2 and the receptacles with their demand; on equality either."""

    def case(rng: random.Random) -> tuple[object, float, F]:
        va, ft2 = F(rng.randint(0, 60_000)), F(rng.randint(0, 40_000))
        if rng.random() < 0.1:
            ft2 = hand.receptacles(va)
        floor = load.office_floor(float(ft2), 2023).value
        plugs = load.receptacle_factor(float(va)) * float(va)
        found = floor if load.office_governs(float(va), floor) else plugs
        return (va, ft2), found, max(hand.receptacles(va), ft2)

    compare(6, case)


def test_kitchens() -> None:
    def case(rng: random.Random) -> tuple[object, float, F]:
        each = [F(rng.randint(1, 30_000)) for _ in range(rng.randint(1, 12))]
        if rng.random() < 0.3:
            each[0] *= 20
        total = float(sum(each))
        largest = float(sum(sorted(each)[-2:]))
        return each, load.kitchen_factor(total, len(each), largest) * total, hand.kitchen(each)

    compare(7, case)


def test_neutrals() -> None:
    def case(rng: random.Random) -> tuple[object, float, F]:
        full = F(rng.choice([0, 200, 201, 199])) if rng.random() < 0.1 else F(rng.randint(0, 300_000), 100)
        nonlinear = full * F(rng.randint(0, 10), 10)
        wye, three = rng.random() < 0.7, rng.random() < 0.2
        linear = full - nonlinear if wye else full
        found = load.neutral_load(float(full), float(linear), not three, 2023)
        return (full, nonlinear, wye, three), found.value, hand.neutral(full, nonlinear, wye, three)

    compare(8, case)


def test_motors() -> None:
    def case(rng: random.Random) -> tuple[object, float, F]:
        flc = [F(rng.randint(10, 4_000), 10) for _ in range(rng.randint(0, 8))]
        if flc and rng.random() < 0.3:
            flc.append(max(flc))
        other, continuous = F(rng.randint(0, 900)), F(rng.randint(0, 900))
        found = load.motor_feeder_load([float(a) for a in flc], 2023, float(other), float(continuous))
        return (flc, other, continuous), found.value, hand.motors(flc, other, continuous)

    compare(9, case)


def test_feeder_devices_of_motors_round_down() -> None:
    def case(rng: random.Random) -> tuple[object, float, int | None]:
        device = rng.choice(hand.STANDARD[:24])
        others = [F(rng.randint(10, 2_000), 10) for _ in range(rng.randint(0, 6))]
        if rng.random() < 0.2:  # exactly a standard rating
            device, others = rng.choice([(70, [F(10)]), (100, [F(25)]), (200, [F(25)]), (400, [F(50)]), (15, [])])
        found = load.motor_feeder_device(device, [float(a) for a in others], 2023, "breaker")
        return (device, others), found.value, hand.rounded_down(F(device) + sum(others))

    compare(10, case)


@pytest.mark.parametrize("figure", ["conductor", "usual", "largest"])
def test_air_conditioners(figure: str) -> None:
    """1.25, 1.75 and 2.25 times the rated-load current; the devices rounded down."""

    def case(rng: random.Random) -> tuple[object, float | None, F | int | None]:
        amps = F(rng.choice([20, 40, 80, 100])) if rng.random() < 0.05 else F(rng.randint(900, 60_000), 100)
        found = hvac_by_current("it", float(amps), None, None, 2023, "breaker", "entered")
        if figure == "conductor":
            return amps, found.conductor_a.value, hand.MORE * amps
        if figure == "usual":
            return amps, found.device_a.least, hand.rounded_down(F(7, 4) * amps)
        return amps, found.device_a.most, hand.rounded_down(F(9, 4) * amps)

    compare(11, case)


def test_elevators() -> None:
    """By duty 140 % of the nameplate, demand by number, controllers outside."""

    def case(rng: random.Random) -> tuple[object, float, F]:
        each = [F(rng.randint(50, 2_000), 10) for _ in range(rng.randint(1, 14))]
        rating, percent = rng.choice([("continuous", 140), ("30 or 60 minutes", 90), ("5 minutes", 85)])
        controllers = F(rng.randint(0, 200))
        amps = [load_items.by_duty(float(a), 1, 1, 1, "intermittent", rating, 2023).va or 0.0 for a in each]
        found = load.elevator_factor(len(each)) * sum(amps) + 1.25 * float(controllers)
        return (each, rating, controllers), found, hand.elevators(each, percent, controllers)

    compare(12, case)


@pytest.mark.parametrize("reading", [0, 1])
def test_loads_in_alternation(reading: int) -> None:
    def case(rng: random.Random) -> tuple[object, float, F]:
        base, motor = F(rng.randint(0, 500)), F(rng.randint(0, 300))
        base = max(base, motor)
        each = []
        for _ in range(rng.randint(2, 4)):
            total = F(rng.randint(1, 400))
            each.append((total, min(total, F(rng.choice([0, rng.randint(0, 400)])))))
        named = [Alternative("", float(a), float(m)) for a, m in each]
        found = (used_va, otherwise_va)[reading](float(base), float(motor), named)
        return (base, motor, each), found, hand.alternatives(base, motor, each)[reading]

    compare(13, case)


def test_schools() -> None:
    def case(rng: random.Random) -> tuple[object, float, F]:
        ft2 = F(rng.randint(1, 80_000))
        connected = ft2 * F(rng.choice([3, 20])) if rng.random() < 0.1 else F(rng.randint(0, 2_000_000))
        return (ft2, connected), tables.school_demand_va(float(connected), float(ft2)), hand.school(connected, ft2)

    compare(14, case)


@pytest.mark.parametrize("all_electric", [True, False])
def test_restaurants(all_electric: bool) -> None:
    va = amounts(random.Random(15), 1_500_000, 0, 200_000, 325_000, 800_000)

    def case(_: random.Random) -> tuple[object, float, F]:
        x = next(va)
        return x, tables.restaurant_demand_va(float(x), all_electric), hand.restaurant(x, all_electric)

    compare(15, case)


def test_apartments() -> None:
    def case(rng: random.Random) -> tuple[object, float, F]:
        units, connected = rng.randint(3, 90), F(rng.randint(0, 2_000_000))
        found = tables.apartment_demand_factor(units) * float(connected)
        return (units, connected), found, hand.apartments(units, connected)

    compare(16, case)
