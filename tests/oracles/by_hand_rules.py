"""The inequalities of taps, panels, services, working space and grounding once more, slowly and exactly.

Written from the published statements named in the tests, in fractions, without anything of the program. Feet, amperes, volts
as ``Fraction``; ``None`` is not known. An answer is "pass", "fail" or "unknown"; ``None`` where a rule does not apply.

An unknown number may have any value: an answer is known when every value gives the same one. That is done by trying: each
unknown is put at the ends of its range and at every place where an inequality may turn over.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction as F
from itertools import product

Number = F | None

#: Standard ratings of overcurrent devices, 240.6(A), amperes.
STANDARD = (
    15, 20, 25, 30, 35, 40, 45, 50, 60, 70, 80, 90, 100, 110, 125, 150, 175, 200, 225, 250, 300, 350, 400, 450, 500, 600,
    700, 800, 1000, 1200, 1600, 2000, 2500, 3000, 4000, 5000, 6000,
)  # fmt: skip
#: Larger than anything that is compared here.
HUGE = F(10**9)


def over_unknowns(rule: Callable[..., bool], given: Sequence[Number], turns: Sequence[Sequence[F]]) -> str:
    """What a rule of yes and no says where some numbers are not known: each is tried at 0, at its turning points and just
    beside them, and beyond everything."""
    ranges: list[list[F]] = []
    for value, places in zip(given, turns, strict=True):
        if value is not None:
            ranges.append([value])
            continue
        near = [p + d for p in places for d in (F(-1, 1000), F(0), F(1, 1000)) if p + d >= 0]
        ranges.append([F(0), *near, HUGE])
    answers = {rule(*case) for case in product(*ranges)}
    return "unknown" if len(answers) > 1 else "pass" if answers.pop() else "fail"


# ------------------------------------------------------------------------------------------- one device, one tap
def ten_foot(length: F, iz: F, load: F, end: F, ahead: F, leaves: bool, raceway: bool) -> bool:
    """240.21(B)(1): at most 10 ft; ampacity no less than the load, the device at the end, and a tenth of the device ahead
    where it leaves the enclosure; in a raceway."""
    return length <= 10 and iz >= load and iz >= end and (not leaves or 10 * iz >= ahead) and raceway


def twenty_five_foot(length: F, iz: F, end: F, ahead: F, protected: bool) -> bool:
    """240.21(B)(2): at most 25 ft; a third of the device ahead, not rounded; one device that the ampacity covers."""
    return length <= 25 and 3 * iz >= ahead and iz >= end and protected


def transformer_tap(
    primary_ft: F, secondary_ft: F, iz_primary: F, iz_secondary: F, v_primary: F, v_secondary: F, ahead: F, end: F
) -> bool:  # fmt: skip
    """240.21(B)(3): a third on both sides, the secondary through the voltages; 25 ft together; one device."""
    return (
        primary_ft + secondary_ft <= 25 and 3 * iz_primary >= ahead
        and 3 * iz_secondary * v_secondary >= ahead * v_primary and iz_secondary >= end
    )  # fmt: skip


def outside_tap(iz: F, end: F, outdoors: bool, protected: bool, place: bool, accessible: bool) -> bool:
    """240.21(B)(5): any length outdoors; one device that the ampacity covers; the disconnect outside or inside nearest the
    entrance, readily accessible."""
    return iz >= end and outdoors and protected and place and accessible


def secondary_ten_foot(length: F, iz: F, load: F, end: F, ahead: F, v_primary: F, v_secondary: F, leaves: bool) -> bool:
    """240.21(C)(2): as the 10-ft tap, the tenth through the voltages."""
    tenth = not leaves or 10 * iz * v_secondary >= ahead * v_primary
    return length <= 10 and iz >= load and iz >= end and tenth


def secondary_twenty_five_foot(length: F, iz: F, end: F, ahead: F, v_primary: F, v_secondary: F) -> bool:
    """240.21(C)(6): 25 ft, a third through the voltages, one device."""
    return length <= 25 and 3 * iz * v_secondary >= ahead * v_primary and iz >= end


def effective_rating(ahead: F, output: F, devices: F) -> F:
    """705.12: the larger of device plus 1.25 times the output of the sources, and device plus their devices."""
    return ahead + max(F(5, 4) * output, devices)


# ----------------------------------------------------------------------------------------------- conductors, panels
def device_allowed(iz: F, device: F) -> bool:
    """240.4(B), (C): at most the ampacity, or up to 800 A the next standard rating above it."""
    if device <= iz:
        return True
    above = [r for r in STANDARD if r >= iz]
    return device <= 800 and bool(above) and above[0] <= 800 and device <= above[0]


def small_conductor(size: str, copper: bool, device: F) -> bool:
    """240.4(D): 14, 12, 10 AWG copper at 15, 20, 30 A; 12, 10 AWG aluminum at 15, 25 A."""
    limits = {"14": 15, "12": 20, "10": 30} if copper else {"12": 15, "10": 25}
    return size not in limits or device <= limits[size]


def panel(bus: F, device: F, v_device: F, v_panel: F) -> bool:
    """408.36: the device, through the voltages where a transformer lies between, at most the bus rating."""
    return device * v_device <= bus * v_panel


# ------------------------------------------------------------------------------------------------------- services
def ground_fault_needed(v_line: F, v_neutral: F, wye: bool, rating: F) -> bool:
    """230.95: solidly grounded wye, over 150 V to neutral, at most 1000 V between phases, 1000 A and more."""
    return wye and v_neutral > 150 and v_line <= 1000 and rating >= 1000


def ground_fault_set(pickup: F, delay: F) -> bool:
    """230.95(A): pickup at most 1200 A, at most one second from 3000 A on."""
    return pickup <= 1200 and delay <= 1


def arc_reduction_needed(rating: F, fuses: bool, edition: int, clearing: Number) -> bool:
    """240.87: breakers from 1200 A; 240.67: fuses from 1200 A since 2020, unless they clear within 0.07 s."""
    if rating < 1200:
        return False
    return not fuses or (edition >= 2020 and (clearing is None or clearing > F(7, 100)))


def working_depth(to_ground: F, condition: int) -> F:
    """Table 110.26(A)(1): 0-150 V 3 ft; 151-600 V 3, 3.5, 4 ft; 601-1000 V 3, 4, 5 ft."""
    if to_ground <= 150:
        return F(3)
    row = (F(3), F(7, 2), F(4)) if to_ground <= 600 else (F(3), F(4), F(5))
    return row[condition - 1]


def working_space(depth: F, width: F, height: F, own_width: F, own_height: F, to_ground: F, condition: int) -> bool:
    """110.26(A): depth by the table; 30 in or the equipment's width; 6 1/2 ft or the equipment's height."""
    return (
        depth >= working_depth(to_ground, condition) and width >= max(F(5, 2), own_width)
        and height >= max(F(13, 2), own_height)
    )  # fmt: skip


def handle_low_enough(height_ft: F) -> bool:
    """240.24(A): 6 ft 7 in."""
    return height_ft * 12 <= 79


def wiring_fits(space: F, passing: F, filled: F) -> bool:
    """312.8: 40 % for conductors that pass, 75 % with splices and taps."""
    return passing * 100 <= 40 * space and filled * 100 <= 75 * space


# ------------------------------------------------------------------------------------------------------ grounding
#: Table 250.102(C)(1), copper conductors with a copper jumper: (largest ungrounded area in cmil, least jumper area).
JUMPERS = (
    (66360, 16510), (105600, 26240), (167800, 41740), (350000, 66360), (600000, 105600), (1100000, 133100),
)  # fmt: skip


def jumper_area(ungrounded_cmil: F) -> F:
    """Least supply-side bonding jumper, cmil: the table up to 1100 kcmil, an eighth above."""
    for most, least in JUMPERS:
        if ungrounded_cmil <= most:
            return F(least)
    return ungrounded_cmil / 8


def one_pole(duty: F, rating: F) -> bool:
    """240.85 note, as the trade has it: the fault of two phases, √3/2 of the three-phase one, against 87 % of the rating.
    Squared, so that it stays exact."""
    return 3 * duty * duty / 4 <= (F(87, 100) * rating) ** 2
