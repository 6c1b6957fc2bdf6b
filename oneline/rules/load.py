"""Load calculation: what the code makes of connected load (article 220, 430 Part II, 440, 620; 2026: article 120).

Small functions on numbers. A figure comes back with the worksheet lines it was reckoned by. Volt-amperes and amperes
are totals of all phases unless the name says otherwise. Nothing here rounds before a comparison.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from oneline import tables
from oneline.rules.common import computed, looked_up, section
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


def receptacle_demand(connected_va: float, edition: int) -> Reckoned:
    """Demand of nondwelling receptacle load in VA (LOAD-2): the first part in full, half of the rest."""
    first_va = tables.limit_value("receptacle_first_va")
    rest = max(connected_va - first_va, 0.0)
    share = (tables.receptacle_demand_va(connected_va) - min(connected_va, first_va)) / rest if rest else 0.0
    line = computed(
        "Receptacle load after demand", "min(connected, first) + share * max(connected - first, 0)", "VA",
        section("TABLE-receptacle-demand", edition), connected=connected_va, first=first_va, share=share,
    )  # fmt: skip
    return _reckoned(line)


def kitchen_demand(pieces_va: Sequence[float], edition: int) -> Reckoned:
    """Demand of nondwelling kitchen equipment in VA (LOAD-2)."""
    largest = sum(sorted(pieces_va)[-int(tables.limit_value("kitchen_largest_count")) :])
    line = computed(
        f"Kitchen equipment after demand, {len(pieces_va)} pieces", "min(connected, max(factor * connected, largest))",
        "VA", section("TABLE-kitchen", edition), connected=sum(pieces_va), largest=largest,
        factor=tables.kitchen_demand_factor(len(pieces_va)) if pieces_va else 1.0,
    )  # fmt: skip
    return _reckoned(line)


def elevator_feeder(each_a: Sequence[float], controllers_a: float, edition: int) -> Reckoned:
    """Feeder load in amperes of several elevators (LOAD-6): demand on the drives, constant controller load outside it."""
    drives = computed(
        f"{len(each_a)} elevators after demand", "factor * total", "A", section("TABLE-elevator", edition),
        factor=elevator_factor(len(each_a)), total=sum(each_a),
    )  # fmt: skip
    rest = computed(
        "Controllers, constant load", "factor * total", "A", section("LOAD-6", edition),
        factor=tables.limit_value("elevator_controller_factor"), total=controllers_a,
    )  # fmt: skip
    total = computed("Feeder", "drives + controllers", drives=_figure(drives), controllers=_figure(rest))
    return Reckoned(_figure(total), (drives, rest, total))


def general_lighting(
    area_ft2: float, va_per_ft2: float, actual_va: float | None, includes_continuous: bool, edition: int
) -> Reckoned:
    """General lighting in VA as counted against ratings (LOAD-2): the unit load or what is really there, the larger.

    ``includes_continuous``: the unit load already holds the 125 % for continuous load (tables since 2020); what is
    really connected always takes it.
    """
    factor = tables.limit_value("continuous_factor")
    unit = computed(
        "Unit load as counted", "factor * area * per_area", "VA", section("TABLE-unit-lighting", edition),
        factor=1.0 if includes_continuous else factor, area=area_ft2, per_area=va_per_ft2,
    )  # fmt: skip
    if actual_va is None:
        return _reckoned(unit)
    actual = computed(
        "Actual lighting as counted", "factor * actual", "VA", section("AMP-CONT", edition),
        factor=factor, actual=actual_va,
    )  # fmt: skip
    largest = computed("General lighting", "max(by_area, actual)", "VA", by_area=_figure(unit), actual=_figure(actual))
    return Reckoned(_figure(largest), (unit, actual, largest))


def counted_load(continuous_va: float, other_va: float, edition: int, full_rated: bool = False) -> Reckoned:
    """Load in VA as counted against an ordinary device or conductor: continuous load at 125 %."""
    id_ = "continuous_factor_full_rated" if full_rated else "continuous_factor"
    line = computed(
        "Load as counted", "other + factor * continuous", "VA", section("AMP-CONT", edition),
        other=other_va, factor=tables.limit_value(id_), continuous=continuous_va,
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


def motor_branch_device(flc_a: float, multiple: float, edition: int, kind: str) -> Reckoned:
    """Largest branch-circuit device of a motor (LOAD-4, 430.52): a multiple of its table current, next standard up.

    ``multiple``: of Table 430.52 for the kind of device (2.5 for an inverse-time breaker).
    """
    source = section("TABLE-motor-device", edition)
    exact = computed("Share of the full-load current", "multiple * current", multiple=multiple, current=flc_a)
    rating = tables.next_standard(_figure(exact), edition, kind) or _figure(exact)
    return Reckoned(rating, (exact, looked_up("Next standard rating", rating, "A", source)))


def motor_feeder_device(branch_device_a: float, other_flc_a: Sequence[float], edition: int, kind: str) -> Reckoned:
    """Largest device of a feeder that feeds motors only (LOAD-4, 430.62): never above the sum, so rounded down.

    ``branch_device_a``: the largest branch device permitted; ``other_flc_a``: currents of all other motors.
    """
    total = computed(
        "Largest branch device and the other motors", "device + others", "A", section("LOAD-4", edition),
        device=branch_device_a, others=sum(other_flc_a),
    )  # fmt: skip
    rating = tables.previous_standard(_figure(total), edition, kind) or _figure(total)
    line = looked_up("Standard rating not above it", rating, "A", section("TABLE-standard-ratings", edition))
    return Reckoned(rating, (total, line))


def hvac_conductor(rated_a: float, edition: int) -> Reckoned:
    """Conductor in amperes of an air conditioner without a marked minimum circuit ampacity (LOAD-5, 440.32)."""
    line = computed(
        "Compressor circuit", "factor * current", "A", section("LOAD-5", edition),
        factor=tables.limit_value("hvac_conductor_factor"), current=rated_a,
    )  # fmt: skip
    return _reckoned(line)


def hvac_device(rated_a: float, edition: int, kind: str, will_not_start: bool = False) -> Reckoned:
    """Largest device of an air conditioner without a marked maximum (LOAD-5, 440.22), rounded down."""
    exact = computed(
        "Share of the compressor's rated current", "factor * current", "A", section("LOAD-5", edition),
        factor=tables.limit_value("hvac_device_factor_max" if will_not_start else "hvac_device_factor"), current=rated_a,
    )  # fmt: skip
    rating = tables.previous_standard(_figure(exact), edition, kind) or _figure(exact)
    line = looked_up("Standard rating not above it", rating, "A", section("TABLE-standard-ratings", edition))
    return Reckoned(rating, (exact, line))


def noncoincident(alternatives: Sequence[tuple[float, float]], edition: int) -> Reckoned:
    """Largest of loads that do not run together (LOAD-7, 220.60).

    Each alternative: its load and the largest motor within it (0 without one), in the same unit; each is taken with its
    own 25 % for the largest motor.
    """
    extra = tables.limit_value("motor_largest_factor") - 1
    lines = [
        computed(
            f"Alternative {number}", "load + extra * motor", "", section("LOAD-7", edition),
            load=load, extra=extra, motor=motor,
        )
        for number, (load, motor) in enumerate(alternatives, 1)
    ]  # fmt: skip
    return Reckoned(max((_figure(line) for line in lines), default=0.0), tuple(lines))


def _figure(line: WorkLine) -> float:
    assert isinstance(line.value, float)
    return line.value


def _reckoned(line: WorkLine) -> Reckoned:
    return Reckoned(_figure(line), (line,))
