"""Voltage-drop formulas against published examples and against complex arithmetic."""

from __future__ import annotations

import cmath
import random
from math import acos, sqrt

import by_hand_drop as drop
import numpy as np
import pytest


def test_direct_current_example():
    """Online training lesson on Chapter 9 Table 8: 2-wire, 100 ft of 16 AWG (4.99 ohm/kft), 4 A, 24 V.
    Published: 4.0 V and, from the rounded 4.0 V, 16.7 %."""
    volts = drop.approximate_v(drop.TWO_WIRE, 4, 4.99, 0, 1.0, 100, 1)
    assert volts == pytest.approx(4.0, abs=0.05)
    assert drop.percent(volts, 24) == pytest.approx(16.7, abs=0.1)


def test_circular_mil_formula_gives_the_same_example():
    """Same example by circular mils: 16 AWG is 2580 cmil (ASTM B258), copper K 12.9 at 75 degrees C (common practice)."""
    assert drop.circular_mil_v(drop.TWO_WIRE, 12.9, 4, 100, 2580, 1) == pytest.approx(4.0, abs=0.05)


def test_effective_impedance():
    """Chapter 9 Table 9: 6 AWG copper in steel, R 0.49, X 0.064, printed effective Z at 0.85 power factor 0.45."""
    assert drop.effective_impedance(0.49, 0.064, 0.85) == pytest.approx(0.45, abs=0.005)


@pytest.mark.parametrize(("size", "r", "x", "printed"), [("4/0", 0.063, 0.051, 0.080), ("500", 0.029, 0.048, 0.050)])
def test_effective_impedance_of_large_conductors(size, r, x, printed):
    """Chapter 9 Table 9, copper in steel, column "effective Z at 0.85 PF" (from memory of the printed table)."""
    assert drop.effective_impedance(r, x, 0.85) == pytest.approx(printed, abs=0.001), size


def test_exact_formula_is_the_difference_of_two_phasors():
    """Oracle: complex arithmetic, voltage at the sending end = voltage at the load + impedance x current."""
    rng = random.Random(1)
    for _ in range(200):
        volts, amperes, pf = rng.uniform(110, 300), rng.uniform(1, 400), rng.uniform(0.3, 1)
        z = complex(rng.uniform(0, 0.1), rng.uniform(0, 0.1))
        current = cmath.rect(amperes, -acos(pf))
        assert drop.exact_v(volts, amperes, z.real, z.imag, pf) == pytest.approx(
            abs(volts + z * current) - volts, abs=1e-9
        )


def test_approximate_formula_is_close_to_the_exact_one_for_small_drops():
    """The approximation leaves out the part across the voltage: error below (IZ)^2 / 2V."""
    volts, amperes, pf, r, x, length_ft = 277.1, 80.0, 0.85, 0.31, 0.06, 150.0
    exact = drop.exact_v(volts, amperes, r * length_ft / 1000, x * length_ft / 1000, pf)
    approximate = drop.approximate_v(drop.LINE_NEUTRAL, amperes, r, x, pf, length_ft, 1)
    assert abs(exact - approximate) < (amperes * length_ft / 1000 * abs(complex(r, x))) ** 2 / (2 * volts)


def test_multipliers_and_parallel_sets():
    """Line-to-line drop of a balanced run is sqrt 3 times the drop of one conductor; sets divide the current."""
    one = drop.approximate_v(drop.LINE_NEUTRAL, 50, 0.2, 0.05, 0.9, 100, 1)
    assert drop.approximate_v(drop.THREE_PHASE, 50, 0.2, 0.05, 0.9, 100, 2) == pytest.approx(sqrt(3) * one / 2)
    assert drop.approximate_v(drop.TWO_WIRE, 50, 0.2, 0.05, 0.9, 100, 1) == pytest.approx(2 * one)


def test_arrays_are_taken_as_they_are():
    volts = drop.approximate_v(drop.TWO_WIRE, np.array([1.0, 2.0]), 1.2, 0.05, np.array([1.0, 0.9]), 10, 1)
    assert volts.shape == (2,)
    assert volts[0] == pytest.approx(2 * 1.2 * 10 / 1000)
