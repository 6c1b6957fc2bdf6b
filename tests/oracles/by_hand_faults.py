"""Point-to-point method: fault currents by hand, as inspectors know it. An oracle: the program has its own arithmetic.

``I_end = I_start / (1 + f)`` for every conductor run and transformer. The method adds magnitudes of impedances, as if all
had one angle, which gives lower currents than the complex sum; the constants C hold for cold conductors, which gives
higher ones. It is a cross-check; the complex sum decides.
"""

from __future__ import annotations

from math import sqrt
from typing import Any, TypeVar

Value = TypeVar("Value", float, Any)


def full_load_a(kva: Value, v_ll: Value, three_phase: bool = True) -> Value:
    """Full-load amperes of a transformer."""
    return kva * 1000 / (v_ll * (sqrt(3) if three_phase else 1))


def infinite_bus_a(
    kva: Value, z_pct: Value, v_ll: Value, three_phase: bool = True, tolerance: float = 1.0, source_pct: float = 0.0
) -> Value:
    """Fault current at a transformer's secondary.

    ``tolerance``: factor on the impedance. ``source_pct``: impedance of the primary supply in percent on the
    transformer's base, 0 for an infinite bus; see ``source_percent``.
    """
    return full_load_a(kva, v_ll, three_phase) * 100 / (z_pct * tolerance + source_pct)


def source_percent(kva: float, fault_mva: float) -> float:
    """Impedance of a primary supply of ``fault_mva`` in percent on a transformer's base."""
    return 100 * kva / (fault_mva * 1000)


def run_factor(
    start_a: Value, length_ft: Value, c: Value, sets: Value, volts: Value, three_phase: bool = True
) -> Value:
    """f of a conductor run. ``c``: constant of the conductor. ``volts``: line to line; for a fault from line to line of a
    single-phase system too, and line to neutral for a fault from line to neutral (both with ``three_phase`` false)."""
    return (sqrt(3) if three_phase else 2) * length_ft * start_a / (c * sets * volts)


def transformer_factor(primary_a: Value, v_primary: Value, z_pct: Value, kva: Value, three_phase: bool = True) -> Value:
    """f of a transformer in the path; amperes and volts on its primary."""
    return primary_a * v_primary * (sqrt(3) if three_phase else 1) * z_pct / (100_000 * kva)


def multiplier(f: Value) -> Value:
    """M = 1 / (1 + f)."""
    return 1 / (1 + f)


def line_neutral_start_a(line_line_a: Value, factor: float) -> Value:
    """Fault current line to neutral at the terminals of a center-tapped transformer, ``factor`` about 1.5."""
    return line_line_a * factor
