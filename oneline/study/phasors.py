"""How one volt-ampere of load divides over the line conductors, and how line currents pass a transformer.

Everything is a phasor in a frame where the voltage of phase A (to the neutral, or to the middle of the triangle) has the
angle zero. All loads are taken at one common power factor, as load calculations in volt-amperes do; then the magnitude
of the sum is never less than the sum of volt-amperes by phase over the line-to-neutral voltage, and a load line to line
draws the current it really draws.
"""

from __future__ import annotations

from cmath import exp, pi
from functools import cache
from math import sqrt

import numpy as np
from numpy.typing import NDArray

from oneline import tables
from oneline.model import Transformer

PHASES = "ABC"
Vector = NDArray[np.complex128]

_TURN = exp(2j * pi / 3)
_LEAD = exp(1j * pi / 6)


@cache
def phase_volts(code: str) -> tuple[complex, complex, complex]:
    """Voltages of A, B and C of a system in volts; to the neutral where it has one. Absent phases are 0.

    Raises ``NotInTable`` for an unknown code.
    """
    system = tables.system(code)
    if system.phases == 1:
        if system.wires == 2:
            return complex(system.v_ll), 0j, 0j
        assert system.v_ln is not None
        second = -system.v_ln if system.grounding == "midpoint" else system.v_ln / _TURN
        return complex(system.v_ln), complex(second), 0j
    if system.v_high_leg:
        assert system.v_ln is not None
        # Neutral in the middle of the winding between A and C; turned so that A leads as in the other systems.
        return system.v_ln / _LEAD, -1j * system.v_high_leg / _LEAD, -system.v_ln / _LEAD
    volts = system.v_ll / sqrt(3)
    return complex(volts), volts / _TURN, volts * _TURN


@cache
def amperes_per_va(code: str, phases: str) -> tuple[complex, complex, complex] | None:
    """Line currents in A, B, C per volt-ampere of a load on ``phases``; ``None`` where it cannot be connected so."""
    system = tables.system(code)
    volts = phase_volts(code)
    at = [PHASES.index(p) for p in phases]
    if not at or any(not volts[k] for k in at):
        return None
    current = [0j, 0j, 0j]
    if len(at) == 1:
        if system.v_ln is None:
            return None
        nominal = system.v_high_leg if system.v_high_leg and phases == PHASES[1] else system.v_ln
        current[at[0]] = _along(volts[at[0]]) / nominal
    elif len(at) == 2:
        there = _along(volts[at[0]] - volts[at[1]]) / system.v_ll
        current[at[0]], current[at[1]] = there, -there
    else:
        middle = sum(volts) / 3
        current = [_along(v - middle) / (sqrt(3) * system.v_ll) for v in volts]
    return current[0], current[1], current[2]


def _along(volts: complex) -> complex:
    """Direction of a current at unity power factor. Magnitudes come from the nominal voltages, as the trade divides."""
    return volts / abs(volts)


def transfer_matrix(
    connection: str | None, forward: bool, line_system: str | None, load_system: str | None, line_phases: str
) -> Vector | None:
    """Line currents on the line side of a transformer as a matrix times those on its load side, complex (3, 3).

    ``connection`` is written primary-secondary; ``forward``: fed from its primary. ``None`` where it is not known how
    the currents divide: a system unknown, or a single-phase transformer on a three-phase point without its phases.
    """
    if line_system is None or load_system is None:
        return None
    line, load = tables.system(line_system), tables.system(load_system)
    if load.phases == 1:
        return _single_phase(line_system, load_system, line_phases)
    if line.phases == 1 or connection == "single-phase":
        return None
    kind = connection or "delta-wye"
    if not forward:
        kind = "-".join(reversed(kind.split("-")))
    if kind == "wye-wye":
        return np.asarray(np.eye(3) * (load.v_ll / line.v_ll), dtype=complex)
    balanced = _without_neutral(load_system)
    if kind == "delta-delta":
        return balanced * (load.v_ll / line.v_ll)
    if kind == "delta-wye":
        windings = np.array([[1, -1, 0], [0, 1, -1], [-1, 0, 1]], dtype=complex)
        return windings * (load.v_ll / sqrt(3) / line.v_ll / _LEAD)
    windings = np.array([[1, 0, -1], [-1, 1, 0], [0, -1, 1]], dtype=complex) / 3
    return windings @ balanced * (load.v_ll * sqrt(3) / line.v_ll * _LEAD)


def _without_neutral(code: str) -> Vector:
    """Turns of a closed delta see what flows to a mid-winding neutral as half in each end of that winding (A and C)."""
    full = np.eye(3, dtype=complex)
    if tables.system(code).v_high_leg:
        full -= np.array([[0.5] * 3, [0] * 3, [0.5] * 3])
    return full


def _single_phase(line_system: str, load_system: str, line_phases: str) -> Vector | None:
    """By power: the load side's volt-amperes as one load on the line side's two (or one) conductors."""
    if len(line_phases) not in (1, 2):
        return None
    share = amperes_per_va(line_system, line_phases)
    if share is None:
        return None
    seen = np.array(phase_volts(load_system), dtype=complex).conjugate()
    return np.asarray(np.outer(np.array(share), seen), dtype=complex)


def transfer(item: Transformer, forward: bool, line: str | None, load: str | None, line_phases: str) -> Vector | None:
    """:func:`transfer_matrix` of a drawn transformer; an unknown connection is taken as delta-wye."""
    return transfer_matrix(item.connection, forward, line, load, line_phases)
