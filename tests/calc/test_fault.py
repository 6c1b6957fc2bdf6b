"""Short-circuit currents against published figures, textbook identities and a general circuit solver."""

from __future__ import annotations

from math import sqrt

import numpy as np
import pytest

from oneline.calc import fault
from oneline.calc.flow import WYE, half_winding
from oneline.calc.flow_tree import make_tree

TINY = 1e-9


def test_infinite_bus_transformer():
    """Short-circuit instructor's article: 1500 kVA, 480 V, 5.75 %Z: 31,374 A (from a full-load current rounded to 1804)."""
    z = fault.transformer_impedance(1500, 5.75, 480, None)
    assert fault.three_phase_a(480, z) == pytest.approx(31_374, rel=0.001)


def test_impedance_ten_percent_low():
    """Fuse maker's plan-review sheet: 300 kVA, 2 %Z, 208 V, infinite bus, impedance 10 % low: 46,273 A."""
    z = fault.transformer_impedance(300, 2, 208, 4.0, tolerance=0.9)
    assert fault.three_phase_a(208, z) == pytest.approx(46_273, rel=0.001)


def test_single_phase_transformer():
    """Published single-phase worksheet: 300 kVA, 240 V, 3 %Z, 10 % low: 46,296 A from line to line."""
    z = fault.transformer_impedance(300, 3, 240, 5.0, tolerance=0.9, three_phase=False)
    assert fault.line_line_a(240, z) == pytest.approx(46_296, abs=1)


def test_generator_by_its_subtransient_reactance():
    """EC&M, "Making Short-Circuit Calculations Easy" (2000): 1000 kVA with X"d 0.15 gives 6666 kVA."""
    z = fault.transformer_impedance(1000, 15, 480, None)
    assert sqrt(3) * 480 * fault.three_phase_a(480, z) / 1000 == pytest.approx(6666, rel=0.001)


@pytest.mark.parametrize(("power_factor", "x_r"), [(0.50, 1.73), (0.30, 3.18), (0.20, 4.90)])
def test_angle_of_a_source(power_factor, x_r):
    """Tri-Service Electrical Working Group TP-6 (2008), Table 1: short-circuit power factor and X/R."""
    z = fault.source_impedance(10_000, 480, x_r)
    assert z.real / abs(z) == pytest.approx(power_factor, abs=0.002)
    assert fault.x_over_r(z) == pytest.approx(x_r)
    assert fault.three_phase_a(480, z) == pytest.approx(10_000)


def test_given_current_comes_back():
    for three_phase in (True, False):
        z = fault.source_impedance(22_000, 240, None, three_phase)
        assert z.real == 0
        assert fault.x_over_r(z) is None
        current = fault.three_phase_a(240, z) if three_phase else fault.line_line_a(240, z)
        assert current == pytest.approx(22_000)


def test_line_to_line_is_0_866_of_three_phase():
    """Symmetrical components: sqrt(3) / 2."""
    z = 0.01 + 0.02j
    assert fault.line_line_a(480, z) / fault.three_phase_a(480, z) == pytest.approx(0.866, abs=0.0005)


def test_all_reactance_is_the_larger_current_after_a_resistive_conductor():
    """The reason for taking an unknown X/R as all reactance."""
    run = fault.run_impedance(0.49, 0.064, 100, 1)
    currents = [
        fault.three_phase_a(208, fault.source_impedance(20_000, 208, x_r) + run)
        for x_r in (0.5, 1.0, 2.0, 5.0, 15.0, None)
    ]
    assert currents == sorted(currents)


def test_center_tapped_transformer_line_to_neutral():
    """Point-to-point method: line to neutral at the terminals is 1.33 (all resistance) to 1.67 (all reactance) times
    line to line; 1.5 is the usual figure in between."""
    for z, ratio in ((0.02 + 0j, 1.333), (0.02j, 1.667)):
        line_line, line_neutral = 240 / abs(z), fault.line_neutral_a(120, half_winding(z, 1.5, 1.2))
        assert line_neutral / line_line == pytest.approx(ratio, abs=0.001)
    z = complex(1, 1.2) * 0.01
    assert fault.line_neutral_a(120, half_winding(z, 1.5, 1.2)) / (240 / abs(z)) == pytest.approx(1.5, abs=0.03)


def secondary_of_a_delta_wye(circuit, z_up, z_transformer):
    """480 V source behind z_up, delta-wye to 208Y/120: points 2A, 2B, 2C and the neutral "0"."""
    for k, name in enumerate("ABC"):
        circuit.source(f"s{name}", "0", WYE[k] * 480 / sqrt(3))
        circuit.impedance(f"s{name}", f"1{name}", z_up)
    for name, (a, b) in zip("ABC", ("AC", "BA", "CB"), strict=True):
        circuit.core((f"1{a}", f"1{b}", 480), (f"w{name}", "0", 208 / sqrt(3)))
        circuit.impedance(f"w{name}", f"2{name}", z_transformer)


@pytest.mark.parametrize("kind", ["three-phase", "line to line", "line to neutral"])
def test_faults_behind_a_delta_wye_transformer_and_a_run(circuit, kind):
    z_up, z_t, z, zn = 0.01 + 0.03j, 0.008 + 0.015j, 0.01 + 0.005j, 0.02 + 0.006j
    secondary_of_a_delta_wye(circuit, z_up, z_t)
    for name in "ABC":
        circuit.impedance(f"2{name}", f"3{name}", z)
    circuit.impedance("0", "3N", zn)
    shorts = {"three-phase": ["AB", "BC"], "line to line": ["AB"], "line to neutral": ["AN"]}[kind]
    for a, b in shorts:
        circuit.impedance(f"3{a}", f"3{b}", TINY)
    volts = circuit.solve()
    current = abs(volts["2A"] - volts["3A"]) / abs(z)

    # Two zones: source | secondary terminals, end of the run.
    tree = make_tree(np.array([3, 3, 3]), np.array([0, 1, 1]), np.array([-1, 0]), np.array([0, 1]))
    square = (208 / 480) ** 2

    def head(zone, above, loop_above):
        if zone == 0:
            return z_up, 0
        return square * above + z_t, fault.secondary_line_neutral(square * above, z_t)

    at, at_ln = fault.down(tree, np.array([0, 0, z]), np.array([0, 0, z + zn]), head)
    zp, z_ln = at[2], at_ln[2]
    ours = {
        "three-phase": fault.three_phase_a(208, zp),
        "line to line": fault.line_line_a(208, zp),
        "line to neutral": fault.line_neutral_a(208 / sqrt(3), z_ln),
    }[kind]
    assert ours == pytest.approx(current, rel=1e-5)


def test_impedances_add_up_down_the_tree():
    """Two branches off one node: each end has its own path only."""
    tree = make_tree(np.array([4, 3, 3, 4]), np.zeros(4, int), np.array([-1]), np.array([0]))
    steps = np.array([0, 1 + 1j, 2, 4j])
    z, z_ln = fault.down(tree, steps, 2 * steps, lambda zone, above, loop_above: (10j, 1.0))
    assert z.tolist() == [10j, 1 + 11j, 3 + 11j, 14j]
    assert z_ln.tolist() == [1, 3 + 2j, 7 + 2j, 1 + 8j]


def test_runs_in_parallel_share():
    assert fault.run_impedance(0.029, 0.048, 200, 2) == pytest.approx((0.029 + 0.048j) * 0.1)


def test_motors_and_inverters():
    """Rule of thumb of the trade: four times full-load current; inverters about their rated current."""
    assert fault.motor_a(124.0, 4) == 496.0
    assert fault.inverter_a(40.0, 1.2) == pytest.approx(48.0)


def test_primary_supply_in_mva():
    """100 MVA at 480 V: 100e6 / (sqrt 3 x 480) = 120,281 A."""
    assert fault.three_phase_a(480, fault.primary_impedance(100, 480)) == pytest.approx(120_281, rel=1e-4)
