"""Load calculation: what the code makes of connected load (article 220, 430 Part II, 440, 620; 2026: article 120).

Small functions on numbers. A figure comes back with the worksheet lines it was reckoned by. Volt-amperes and amperes
are totals of all phases unless the name says otherwise. Nothing here rounds before a comparison.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from oneline import tables
from oneline.rules.common import TOLERANCE, computed, looked_up, section
from oneline.rules.verdict import WorkLine


@dataclass(frozen=True)
class Reckoned:
    """A figure and how it was reckoned."""

    value: float
    lines: tuple[WorkLine, ...] = ()


# ------------------------------------------------------------------------------------------------ demand factors
def receptacle_factor(connected_va: float) -> float:
    """Share of the connected receptacle load (fixed multioutlet assemblies included) that counts, 220.47."""
    return tables.receptacle_demand_va(connected_va) / connected_va if connected_va > 0 else 1.0


def kitchen_factor(connected_va: float, count: int, two_largest_va: float) -> float:
    """Share of the connected kitchen equipment that counts, 220.56: by count, not below the two largest pieces."""
    if connected_va <= 0 or count < 1:
        return 1.0
    return min(1.0, max(tables.kitchen_demand_factor(count), two_largest_va / connected_va))


def elevator_factor(count: int) -> float:
    """Share of the elevators' connected load that counts on a feeder, Table 620.14."""
    return tables.elevator_demand_factor(count) if count >= 1 else 1.0


def lighting_factor(connected_va: float, row: str, edition: int) -> float:
    """Share of general lighting that counts on a feeder or service, Table 220.45 (220.42 before 2023)."""
    return tables.lighting_demand_va(connected_va, row, edition) / connected_va if connected_va > 0 else 1.0


def office_governs(receptacle_va: float, floor_va: float) -> bool:
    """Whether the load by floor area of an office is more than its receptacles with their demand, 220.43."""
    return floor_va > tables.receptacle_demand_va(receptacle_va)


# -------------------------------------------------------------------------------------------------------- lighting
@dataclass(frozen=True)
class Lighting:
    """General lighting of an area in VA (LOAD-2): ``load_va`` as calculated, ``counted_va`` against ratings."""

    load_va: float
    counted_va: float
    lines: tuple[WorkLine, ...]


def general_lighting(
    area_ft2: float, use: str, actual_va: float, actual_counted_va: float, edition: int
) -> Lighting | None:
    """The unit load of a floor area or what is really connected, the larger; ``None`` where the edition lists no such use.

    ``actual_counted_va``: what is connected as counted, continuous lighting at 125 %. Since 2020 the unit load holds that
    factor already; before, it takes it too. It is never taken twice.
    """
    floor = tables.floor_use(use, edition)
    if floor.va_per_ft2 is None:
        return None
    factor = 1.0 if floor.holds_continuous or not floor.continuous else tables.limit_value("continuous_factor")
    unit = computed(
        f"Unit load, {use}", "area_ft2 * per_ft2", "VA", section(floor.rule, edition), area_ft2=area_ft2,
        per_ft2=floor.va_per_ft2,
    )  # fmt: skip
    actual = looked_up("Lighting connected", actual_va, "VA")
    load = computed("General lighting", "max(by_area, connected)", "VA", by_area=_figure(unit), connected=actual_va)
    held = "the unit load holds the factor for continuous load" if floor.holds_continuous else ""
    counted = computed(
        "General lighting as counted", "max(factor * by_area, connected)", "VA", held or section("AMP-CONT", edition),
        factor=factor, by_area=_figure(unit), connected=actual_counted_va,
    )  # fmt: skip
    return Lighting(_figure(load), _figure(counted), (unit, actual, load, counted))


def office_floor(area_ft2: float, edition: int) -> Reckoned:
    """Least receptacle load of an office or bank by its floor area, VA (220.43)."""
    line = computed(
        "Office receptacles by floor area, at least", "area_ft2 * per_ft2", "VA",
        section("LOAD-2-office-receptacles", edition), area_ft2=area_ft2,
        per_ft2=tables.limit_value("office_receptacle_va_ft2"),
    )  # fmt: skip
    return _reckoned(line)


# --------------------------------------------------------------------------------------------------------- neutral
def neutral_load(full_a: float, linear_a: float, reduction_allowed: bool, edition: int) -> Reckoned:
    """Feeder or service neutral load in amperes (LOAD-3, 220.61).

    ``full_a``: largest calculated line-to-neutral load of a phase; ``linear_a``: the part of it known to be linear.
    ``reduction_allowed``: false for a three-wire circuit taken from a four-wire wye. What is not known to be linear is
    never reduced.
    """
    source = section("LOAD-3", edition)
    if not reduction_allowed:
        line = looked_up("Neutral load, no reduction for three wires of a four-wire wye", full_a, "A", source)
        return Reckoned(full_a, (line,))
    line = computed(
        "Neutral load", "total - (1 - share) * max(linear - in_full, 0)", "A", source,
        total=full_a, linear=min(linear_a, full_a), share=tables.limit_value("neutral_over_factor"),
        in_full=tables.limit_value("neutral_full_a"),
    )  # fmt: skip
    return _reckoned(line)


# ---------------------------------------------------------------------------------------------------------- motors
def motor_feeder_load(
    flc_a: Sequence[float], edition: int, other_a: float = 0.0, continuous_a: float = 0.0
) -> Reckoned:
    """Feeder conductor in amperes for several motors and other load (LOAD-4, 430.24)."""
    line = computed(
        "Motors and other load", "factor * largest + rest + other + continuous_factor * continuous", "A",
        section("LOAD-4", edition), factor=tables.limit_value("motor_largest_factor"), largest=max(flc_a, default=0.0),
        rest=sum(flc_a) - max(flc_a, default=0.0), other=other_a, continuous=continuous_a,
        continuous_factor=tables.limit_value("continuous_factor"),
    )  # fmt: skip
    return _reckoned(line)


def motor_feeder_device(branch_device_a: float, other_flc_a: Sequence[float], edition: int, kind: str) -> Reckoned:
    """Largest device of a feeder that feeds motors only (LOAD-4, 430.62): never above the sum, so rounded down.

    ``branch_device_a``: the largest branch device permitted; ``other_flc_a``: currents of all other motors.
    """
    total = computed(
        "Largest branch device and the other motors", "device + others", "A", section("LOAD-4", edition),
        device=branch_device_a, others=sum(other_flc_a),
    )  # fmt: skip
    rating = _rounded_down(_figure(total), edition, kind)
    line = looked_up("Standard rating not above it", rating, "A", section("TABLE-standard-ratings", edition))
    return Reckoned(rating, (total, line))


# ------------------------------------------------------------------------------------------------ air conditioners
def hvac_device(rated_a: float, edition: int, kind: str, will_not_start: bool = False) -> Reckoned:
    """Largest device of an air conditioner without a marked maximum (LOAD-5, 440.22), rounded down."""
    exact = computed(
        "Share of the compressor's rated current", "factor * current", "A", section("LOAD-5", edition),
        factor=tables.limit_value("hvac_device_factor_max" if will_not_start else "hvac_device_factor"), current=rated_a,
    )  # fmt: skip
    rating = _rounded_down(_figure(exact), edition, kind)
    line = looked_up("Standard rating not above it", rating, "A", section("TABLE-standard-ratings", edition))
    return Reckoned(rating, (exact, line))


def _rounded_down(amps: float, edition: int, kind: str) -> float:
    """The standard rating not above a figure, which arithmetic may have left a hair short of it."""
    return tables.previous_standard(amps * (1 + TOLERANCE), edition, kind) or amps


def _figure(line: WorkLine) -> float:
    assert isinstance(line.value, float)
    return line.value


def _reckoned(line: WorkLine) -> Reckoned:
    return Reckoned(_figure(line), (line,))
