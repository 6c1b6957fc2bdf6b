"""The load article in exact fractions, slowly and step by step. An oracle: nothing here is read from the program.

Figures are written from the printed tables and sections named beside each. Volt-amperes are totals; amperes of one phase.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction as F

#: Unit lighting loads of some uses, VA/ft2: Table 220.12 of 2017; the table since 2020 (from memory), 125 % inside.
UNIT_2017 = {
    "office": F(7, 2), "retail store": F(3), "warehouse": F(1, 4), "hospital": F(2), "hotel or motel": F(2),
    "restaurant": F(2), "school or university": F(3), "parking garage": F(1, 2), "place of worship": F(1), "bank": F(7, 2),
}  # fmt: skip
UNIT_2020 = {
    "office": F(13, 10), "retail store": F(19, 10), "warehouse": F(12, 10), "hospital": F(16, 10),
    "hotel or motel": F(17, 10), "restaurant": F(15, 10), "school or university": F(3), "parking garage": F(3, 10),
    "place of worship": F(22, 10), "bank": F(13, 10), "library": F(15, 10), "workshop": F(17, 10),
}  # fmt: skip
#: Table 620.14 and Table 220.56, last row for all larger numbers.
ELEVATORS = [F(n, 100) for n in (100, 95, 90, 85, 82, 79, 77, 75, 73, 72)]
KITCHEN = [F(n, 100) for n in (100, 100, 90, 80, 70, 65)]
#: 240.6(A), fuses and breakers from 15 A.
STANDARD = [
    15, 20, 25, 30, 35, 40, 45, 50, 60, 70, 80, 90, 100, 110, 125, 150, 175, 200, 225, 250, 300, 350, 400, 450, 500, 600,
    700, 800, 1000, 1200, 1600, 2000, 2500, 3000, 4000, 5000, 6000,
]  # fmt: skip
MORE = F(5, 4)


def ladder(amount: F, steps: Sequence[tuple[F | None, F]]) -> F:
    """Each step takes its part of an amount: (upper end, share); ``None`` for no end."""
    total, below = F(0), F(0)
    for end, share in steps:
        top = amount if end is None else min(amount, end)
        if top > below:
            total += share * (top - below)
        if end is None:
            break
        below = end
    return total


def receptacles(va: F) -> F:
    """220.44, 220.47: 10 kVA in full and half of the rest."""
    return ladder(va, [(F(10_000), F(1)), (None, F(1, 2))])


def lighting_demand(use: str, va: F, year: int) -> F:
    """220.42, 220.45."""
    if use == "warehouse":
        return ladder(va, [(F(12_500), F(1)), (None, F(1, 2))])
    if use == "hospital" and year == 2017:
        return ladder(va, [(F(50_000), F(2, 5)), (None, F(1, 5))])
    if use == "hotel or motel":
        shares = (50, 40, 30) if year == 2017 else (60, 50, 35)
        first, second, third = (F(n, 100) for n in shares)
        return ladder(va, [(F(20_000), first), (F(100_000), second), (None, third)])
    if use == "dwelling units":
        return ladder(va, [(F(3_000), F(1)), (F(120_000), F(35, 100)), (None, F(1, 4))])
    return va


def general_lighting(use: str, ft2: F, connected: F, year: int) -> tuple[F, F]:
    """(load, as counted against ratings): the unit load or what is connected, the larger. 2017: both take 125 % as
    counted; since 2020 the unit load holds it."""
    if year == 2017:
        load = max(UNIT_2017[use] * ft2, connected)
        return load, MORE * load
    unit = UNIT_2020[use] * ft2
    return max(unit, connected), max(unit, MORE * connected)


def pieces(length: F, each: F) -> int:
    """Parts of a length, the last one begun counts."""
    whole = length // each
    return int(whole) + (1 if length > whole * each else 0)


def kitchen(each: Sequence[F]) -> F:
    """220.56."""
    share = KITCHEN[min(len(each), 6) - 1]
    return max(share * sum(each), sum(sorted(each, reverse=True)[:2]))


def neutral(full: F, nonlinear: F, four_wire_wye: bool, three_of_four: bool) -> F:
    """220.61: 70 % of what is over 200 A; nothing off nonlinear load of a four-wire wye, nor three wires of one."""
    if three_of_four:
        return full
    may_fall = full - nonlinear if four_wire_wye else full
    return full - F(3, 10) * max(may_fall - 200, F(0))


def motors(flc: Sequence[F], other: F, continuous: F) -> F:
    """430.24: only one motor is the largest."""
    rest = sorted(flc)
    largest = rest.pop() if rest else F(0)
    return MORE * largest + sum(rest) + other + MORE * continuous


def rounded_down(amps: F) -> int | None:
    found = [s for s in STANDARD if s <= amps]
    return found[-1] if found else None


def elevators(nameplates: Sequence[F], percent: int, controllers: F) -> F:
    """430.22(E), 620.14: by duty, then by number; constant load of the controllers at 125 % outside."""
    share = ELEVATORS[min(len(nameplates), 10) - 1]
    return share * F(percent, 100) * sum(nameplates) + MORE * controllers


def alternatives(base: F, base_motor: F, each: Sequence[tuple[F, F]]) -> tuple[F, F]:
    """220.60: the whole with each alternative and its own largest motor; and the other reading, in which each alternative's
    motor stands at 125 % whatever else runs."""
    used = max(base + load + F(1, 4) * max(base_motor, motor) for load, motor in each)
    other = max(base + F(1, 4) * base_motor + load + F(1, 4) * motor for load, motor in each)
    return used, other


def school(connected: F, ft2: F) -> F:
    """Table 220.86, from memory: by VA per square foot, 3 in full, to 20 three quarters, above a quarter."""
    return ft2 * ladder(connected / ft2, [(F(3), F(1)), (F(20), F(3, 4)), (None, F(1, 4))])


def restaurant(connected: F, all_electric: bool) -> F:
    """Table 220.88, from memory; kVA steps 200, 325, 800. The printed base of the last step is 476.3 kVA."""
    kva = connected / 1000
    if all_electric:
        rows = [(800, F(1, 2), F(410)), (325, F(1, 2), F(345, 2)), (200, F(1, 10), F(160)), (0, F(4, 5), F(0))]
    else:
        rows = [(800, F(1, 5), F(4763, 10)), (325, F(45, 100), F(525, 2)), (200, F(1, 2), F(200)), (0, F(1), F(0))]
    for over, share, base in rows:
        if kva > over or over == 0:
            return 1000 * (base + share * (kva - over))
    raise AssertionError


#: Table 220.84(B), from memory: last number of units of each row and percent.
APARTMENTS = [
    (5, 45), (7, 44), (10, 43), (11, 42), (13, 41), (15, 40), (17, 39), (20, 38), (21, 37), (23, 36), (25, 35), (27, 34),
    (30, 33), (31, 32), (33, 31), (36, 30), (38, 29), (42, 28), (45, 27), (50, 26), (55, 25), (61, 24),
]  # fmt: skip


def apartments(units: int, connected: F) -> F:
    percent = next((p for last, p in APARTMENTS if units <= last), 23)
    return F(percent, 100) * connected


def recorded_holds(peak: F, new: F, rating: F) -> bool:
    """220.87: 125 % of the recorded peak and the new load against the rating."""
    return MORE * peak + new <= rating
