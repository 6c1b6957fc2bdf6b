"""Load calculation as the code's own examples write it out, on plain numbers. An oracle: the program sums phasors.

Figures are written here from the printed tables (220.44/220.47, 220.56, 620.14, 430.24, 430.52, 440.32), not read from
the program's. Volt-amperes are totals of all phases.
"""

from __future__ import annotations

from collections.abc import Sequence

#: Table 220.56: share by number of pieces, 6 and more the last.
KITCHEN = (1.0, 1.0, 0.9, 0.8, 0.7, 0.65)
#: Table 620.14: share by number of elevators, 10 and more the last.
ELEVATORS = (1.0, 0.95, 0.9, 0.85, 0.82, 0.79, 0.77, 0.75, 0.73, 0.72)


def receptacles_va(connected_va: float) -> float:
    """The first 10 kVA in full, half of the rest."""
    return min(connected_va, 10_000) + 0.5 * max(connected_va - 10_000, 0)


def kitchen_va(pieces_va: Sequence[float]) -> float:
    """Share by count, never below the two largest."""
    share = KITCHEN[min(len(pieces_va), len(KITCHEN)) - 1]
    return max(share * sum(pieces_va), sum(sorted(pieces_va)[-2:]))


def elevators_a(each_a: Sequence[float], controllers_a: float) -> float:
    """Demand on the drives; constant load of the controllers at 125 % outside it."""
    share = ELEVATORS[min(len(each_a), len(ELEVATORS)) - 1]
    return share * sum(each_a) + 1.25 * controllers_a


def counted_va(continuous_va: float, other_va: float) -> float:
    """Against ordinary devices and conductors: continuous load at 125 %."""
    return other_va + 1.25 * continuous_va


def motors_a(currents_a: Sequence[float]) -> float:
    """Feeder conductor of several motors: the largest at 125 %."""
    return sum(currents_a) + 0.25 * max(currents_a)


def hvac_conductor_a(rated_a: float) -> float:
    """Air conditioner without a marked minimum circuit ampacity."""
    return 1.25 * rated_a


def branch_device_a(current_a: float, multiple: float, standard_a: Sequence[float]) -> float:
    """Branch-circuit device of one motor: a multiple of its table current, next standard rating up."""
    return min(rating for rating in standard_a if rating >= multiple * current_a)


def noncoincident(alternatives: Sequence[tuple[float, float]]) -> float:
    """Largest of loads that do not run together: each (load, its largest motor) with 25 % of that motor on top."""
    return max(load + 0.25 * motor for load, motor in alternatives)
