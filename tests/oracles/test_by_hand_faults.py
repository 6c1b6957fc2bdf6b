"""The point-to-point method against published worked examples, and against what it means."""

from __future__ import annotations

from math import sqrt

import pytest
from by_hand_faults import (
    full_load_a,
    infinite_bus_a,
    line_neutral_start_a,
    multiplier,
    run_factor,
    source_percent,
    transformer_factor,
)


def test_fault_at_a_service_panel():
    """Fuse maker's plan-review sheet: 300 kVA, 2 %Z, 208Y/120, impedance 10 % low; 20 ft of 2 x 500 kcmil copper in
    steel, C = 22,185. Published: 833 A, 46,273 A, f = 0.174, M = 0.852. The sheet rounds 832.7 A up before going on."""
    assert full_load_a(300, 208) == pytest.approx(833, abs=0.5)
    start = infinite_bus_a(300, 2, 208, tolerance=0.9)
    assert start == pytest.approx(46_273, rel=0.001)
    f = run_factor(start, 20, 22_185, 2, 208)
    assert f == pytest.approx(0.174, abs=0.0005)
    assert multiplier(f) == pytest.approx(0.852, abs=0.0005)
    # Recomputed by hand from the published figures: 46,273 x 0.852 = 39,425.
    assert start * multiplier(f) == pytest.approx(39_425, rel=0.001)


def test_infinite_bus():
    """Short-circuit instructor's article, repeated by the inspectors' magazine: 1500 kVA, 480 V, 5.75 %Z: 1804 A and
    31,374 A (from the rounded 1804)."""
    assert full_load_a(1500, 480) == pytest.approx(1804, abs=0.5)
    assert infinite_bus_a(1500, 5.75, 480) == pytest.approx(31_374, rel=0.001)


def test_single_phase_chain():
    """Published single-phase worksheet: 300 kVA, 240 V, 3 %Z, factor 0.9; 150 ft 3/0 (C 13,923), 40 ft 6 AWG (C 2,430),
    30 ft (C 617). Published: 46,296, 8,978, 4,024, 1,530 A."""
    current = infinite_bus_a(300, 3, 240, three_phase=False, tolerance=0.9)
    assert current == pytest.approx(46_296, abs=1)
    for length_ft, c, published in ((150, 13_923, 8_978), (40, 2_430, 4_024), (30, 617, 1_530)):
        current *= multiplier(run_factor(current, length_ft, c, 1, 240, three_phase=False))
        assert current == pytest.approx(published, abs=1)


def test_finite_source_adds_its_percent():
    """Definition of the per-unit method: with a source that itself delivers 100 MVA the transformer's percent and
    the source's, on the transformer's base, add up. 1500 kVA on 100 MVA are 1.5 %."""
    assert source_percent(1500, 100) == pytest.approx(1.5)
    assert infinite_bus_a(1500, 5.75, 480, source_pct=1.5) == pytest.approx(1804.2 * 100 / 7.25, rel=1e-4)


@pytest.mark.parametrize("three_phase", [True, False])
def test_every_step_adds_a_magnitude(three_phase):
    """Meaning of the method: currents fall as if all impedances had one angle. Checked by adding ohms."""
    k = sqrt(3) if three_phase else 1
    loop = 1 if three_phase else 2
    v_p, v_s, kva, z_pct, length_ft, c, primary_a = 480, 208, 75, 3.4, 60, 4774, 12_000
    before = v_p / (k * primary_a)
    z_transformer = z_pct / 100 * v_p**2 / (kva * 1000)
    at_secondary = (v_p / v_s) * multiplier(transformer_factor(primary_a, v_p, z_pct, kva, three_phase)) * primary_a
    ohms = (before + z_transformer) * (v_s / v_p) ** 2
    assert at_secondary == pytest.approx(v_s / (k * ohms))
    f = run_factor(at_secondary, length_ft, c, 2, v_s, three_phase)
    assert at_secondary * multiplier(f) == pytest.approx(v_s / (k * (ohms + loop * length_ft / c / 2)))


def test_line_to_neutral_at_a_center_tapped_transformer():
    """Point-to-point method: 1.5 times the line-to-line current at the terminals (theory: 1.33 to 1.67)."""
    assert line_neutral_start_a(10_000, 1.5) == 15_000
