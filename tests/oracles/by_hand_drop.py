"""Voltage drop of one conductor run by the formulas of the trade, and effective impedance. Floats or NumPy arrays.

An oracle: the program solves a load flow, which must come out where these formulas hold.
"""

from __future__ import annotations

from math import sqrt
from typing import Any, TypeVar

import numpy as np

Value = TypeVar("Value", float, Any)

#: Multiplier k of the formulas: line-to-line drop of a three-phase run, of a two-wire run (or line to line of a
#: single-phase run), and line to neutral of a balanced four-wire run.
THREE_PHASE, TWO_WIRE, LINE_NEUTRAL = sqrt(3), 2.0, 1.0


def effective_impedance(r: Value, x: Value, power_factor: Value) -> Value:
    """R cos + X sin, lagging (Chapter 9 Table 9, note 2). Unit as ``r`` and ``x``."""
    return r * power_factor + x * np.sqrt(1 - power_factor**2)


def approximate_v(
    k: float, current_a: Value, r_ohm_kft: Value, x_ohm_kft: Value, power_factor: Value, length_ft: Value, sets: Value
) -> Value:
    """Volts: k I (R cos + X sin) L / 1000 / n."""
    return k * current_a * effective_impedance(r_ohm_kft, x_ohm_kft, power_factor) * length_ft / 1000 / sets


def circular_mil_v(
    k: float, constant_ohm_cmil_ft: Value, current_a: Value, length_ft: Value, area_cmil: Value, sets: Value
) -> Value:
    """Volts by the trade's formula with circular mils: k K I L / (CM n). No reactance: for small conductors."""
    return k * constant_ohm_cmil_ft * current_a * length_ft / (area_cmil * sets)


def exact_v(volts_at_load: Value, current_a: Value, r_ohm: Value, x_ohm: Value, power_factor: Value) -> Value:
    """Volts between the two ends of one phase, exactly: difference of the magnitudes. ``r_ohm``, ``x_ohm``: of the loop.

    Vs = sqrt((Vr cos + I R)^2 + (Vr sin + I X)^2), lagging power factor.
    """
    sine = np.sqrt(1 - power_factor**2)
    return (
        np.sqrt(
            (volts_at_load * power_factor + current_a * r_ohm) ** 2 + (volts_at_load * sine + current_a * x_ohm) ** 2
        )
        - volts_at_load
    )


def percent(drop_v: Value, nominal_v: Value) -> Value:
    """Drop in percent of nominal voltage."""
    return 100 * drop_v / nominal_v
