"""Short-circuit currents from complex impedances: symmetrical, bolted, nominal voltage before the fault, no arc.

Each point has two impedances, in ohms at its own voltage: ``z`` per phase (half of the loop from line to line, so that
single-phase systems fit in), and ``z_ln`` of the loop from line to neutral. A conductor run adds to both; a transformer
refers them to its secondary. Current-limited inverters and running motors are not impedances here: their part is added
as a magnitude.

All functions take floats or complex numbers or NumPy arrays of them. They know no tables: factors are passed in.
"""

from __future__ import annotations

from collections.abc import Callable
from math import sqrt
from typing import Any, TypeVar

import numpy as np

from oneline.calc.flow_tree import Array, Tree

Value = TypeVar("Value", float, Any)


# --------------------------------------------------------------------------------------------------- impedances
def split(magnitude: Value, x_r: float | None) -> Any:
    """Complex impedance of a magnitude (ohms) and a ratio X/R; without one all of it is reactance.

    All reactance is the choice that gives the larger current after conductors, which are mostly resistance.
    """
    if x_r is None:
        return 1j * magnitude
    return magnitude * complex(1, x_r) / abs(complex(1, x_r))


def source_impedance(fault_a: float, v_ll: float, x_r: float | None, three_phase: bool = True) -> complex:
    """Impedance per phase behind a given fault current: three-phase, or line to line on a single-phase system."""
    return complex(split(v_ll / ((sqrt(3) if three_phase else 2) * fault_a), x_r))


def primary_impedance(fault_mva: float, v_ll: float, x_r: float | None = None, three_phase: bool = True) -> complex:
    """Impedance per phase of a supply of ``fault_mva``, ohms at ``v_ll``."""
    z = v_ll**2 / (fault_mva * 1e6)
    return complex(split(z if three_phase else z / 2, x_r))


def transformer_impedance(
    kva: float, z_pct: float, v_ll: float, x_r: float | None, tolerance: float = 1.0, three_phase: bool = True
) -> complex:
    """Impedance per phase of a transformer, ohms at ``v_ll``. ``tolerance``: factor on the impedance."""
    z = z_pct / 100 * tolerance * v_ll**2 / (kva * 1000)
    return complex(split(z if three_phase else z / 2, x_r))


def run_impedance(r_ohm_kft: Value, x_ohm_kft: Value, length_ft: Value, sets: Value) -> Any:
    """Impedance of one conductor of a run, one way, ohms. ``sets``: conductors in parallel per phase."""
    return (r_ohm_kft + 1j * x_ohm_kft) * length_ft / 1000 / sets


def secondary_line_neutral(z_primary: complex, z_transformer: complex) -> complex:
    """Loop line to neutral at the terminals of a delta-wye transformer, all ohms on the secondary side.

    The delta blocks zero sequence: (2 z1 + z0) / 3 with z1 = primary + transformer and z0 = transformer.
    """
    return 2 / 3 * z_primary + z_transformer


# ----------------------------------------------------------------------------------------------------- currents
def three_phase_a(v_ll: Value, z: Any) -> Any:
    """Three-phase fault current, amperes; ``z``: per phase, ohms."""
    return v_ll / (sqrt(3) * np.abs(z))


def line_line_a(v_ll: Value, z: Any) -> Any:
    """Fault current from line to line: 0.866 of the three-phase current."""
    return v_ll / (2 * np.abs(z))


def line_neutral_a(v_ln: Value, z_ln: Any) -> Any:
    """Fault current from line to neutral; ``z_ln``: whole loop, ohms."""
    return v_ln / np.abs(z_ln)


def x_over_r(z: complex) -> float | None:
    """X/R of an impedance; ``None`` without resistance."""
    return z.imag / z.real if z.real > 0 else None


def inverter_a(output_a: Value, factor: float) -> Value:
    """Contribution of a current-limited inverter: ``factor`` times its rated current."""
    return output_a * factor


def motor_a(full_load_a: Value, factor: float) -> Value:
    """Contribution of running motors: ``factor`` times their full-load current."""
    return full_load_a * factor


# ------------------------------------------------------------------------------------------------------- down the tree
#: Values at the first node of a zone from its number and the two values ahead of its transformer (``None`` at a source).
Head = Callable[[int, Any, Any], tuple[Any, Any]]


def down(tree: Tree, z: Array, z_ln: Array, head: Head) -> tuple[Array, Array]:
    """Impedances from the source to every node: per phase, and of the loop line to neutral, at the node's own voltage.

    ``z``, ``z_ln`` (n,): what the branch into each node adds. ``head``: called for each zone from the sources down.
    """
    path, path_ln = tree.sum_down(z), tree.sum_down(z_ln)
    at, at_ln = np.zeros(len(tree.above), z.dtype), np.zeros(len(tree.above), z_ln.dtype)
    for k, up in enumerate(tree.above.tolist()):
        if up < 0:
            at[k], at_ln[k] = head(k, None, None)
        else:
            zone = tree.zone[up]
            at[k], at_ln[k] = head(k, at[zone] + path[up], at_ln[zone] + path_ln[up])
    return at[tree.zone] + path, at_ln[tree.zone] + path_ln
