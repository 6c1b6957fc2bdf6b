"""What the utility tells, in every way it tells it, through drawings: a current, MVA, a transformer, nothing; and what the
X/R it gives does to the duty of a breaker."""

from __future__ import annotations

from math import exp, pi, sqrt
from types import MappingProxyType

import pytest

from oneline.model import Drawing
from oneline.study import study

TESTED = MappingProxyType({"transformer_z_pct": "documents"})


def service(sketch, **values):
    numbers, node = sketch.put("service", "s", **{"system": "480Y/277", **values}).solve()
    return numbers, node("s.out")


def test_the_same_supply_told_in_three_ways(sketch):
    """MVA method (EC&M, "Short-circuit calculations made easy"; its arithmetic only): MVA in series add as reciprocals.
    1500 kVA of 5.75 % let 26.09 MVA through an unlimited primary, with 100 MVA ahead 20.69; amperes are MVA / (1.732 kV).
    """
    of_transformer = 1500 / 0.0575 / 1000
    numbers, at = service(sketch, transformer_kva=1500, transformer_z_pct=5.75, basis=TESTED)
    assert numbers.fault_a[at] == pytest.approx(of_transformer * 1e6 / sqrt(3) / 480)
    assert any("unlimited" in note for note in numbers.fault_notes(at))
    together = 1 / (1 / of_transformer + 1 / 100)
    assert together == pytest.approx(20.69, abs=0.01)
    numbers, at = service(sketch, transformer_kva=1500, transformer_z_pct=5.75, primary_fault_mva=100.0, basis=TESTED)
    assert numbers.fault_a[at] == pytest.approx(together * 1e6 / sqrt(3) / 480)
    assert not any("unlimited" in note for note in numbers.fault_notes(at))
    numbers, at = service(sketch, fault_ka=together * 1000 / sqrt(3) / 480)
    assert numbers.fault_a[at] == pytest.approx(together * 1e6 / sqrt(3) / 480)


@pytest.mark.parametrize("factor", [None, 0.9])
def test_impedance_tolerance(sketch, factor):
    """UL 1561 practice: 10 % low unless tested; 31,378 A become 34,864 (O-22, recomputed without rounding)."""
    basis = MappingProxyType({}) if factor else TESTED
    numbers, at = service(sketch, transformer_kva=1500, transformer_z_pct=5.75, basis=basis)
    assert numbers.fault_a[at] == pytest.approx(34_864 if factor else 31_378, abs=1)


@pytest.mark.parametrize("known", [{}, {"transformer_kva": 1500.0}])
def test_transformer_nobody_read(sketch, known):
    """Nothing about the transformer: no bound, and it is said. The primary's MVA are one: no transformer adds to them."""
    numbers, at = service(sketch, **known)
    assert numbers.fault_a[at] is None
    assert numbers.fault_bound_a[at] is None
    assert numbers.duty_bound_a[at] is None
    (need,) = numbers.fault_needs(at)
    assert need.startswith("impedance (%Z)" if known else "available fault current at s")
    numbers, at = service(sketch, primary_fault_mva=100.0, **known)
    assert numbers.fault_a[at] is None
    assert numbers.fault_bound_a[at] == pytest.approx(100e6 / sqrt(3) / 480)
    assert numbers.fault_needs(at) == (need,)


def test_single_phase_supply(sketch):
    """Line to line of a single-phase transformer: kVA x 100 / (%Z kV); to the neutral half the volts over half the winding
    (1.2 X on its own base, a quarter of the whole's ohms): 2 / 1.2 of it. Between 1.33 and 1.67 in practice."""
    numbers, at = service(sketch, system="120/240-1", transformer_kva=75, transformer_z_pct=1.5, basis=TESTED)
    assert numbers.fault_a[at] == pytest.approx(75_000 / 240 / 0.015)
    assert numbers.fault_ln_a[at] == pytest.approx(75_000 / 240 / 0.015 * 2 / 1.2)
    assert numbers.fault_ln_hand_a[at] == pytest.approx(75_000 / 240 / 0.015 * 1.5)


@pytest.mark.parametrize(
    ("ka", "x_r", "state"), [(7.1, 6.6, "pass"), (7.3, 6.6, "fail"), (9.9, 1.73, "pass"), (9.9, 6.6, "fail")]
)
def test_x_r_of_the_supply_raises_the_duty_of_a_breaker(sketch, ka, x_r, state):
    """FLT-10: a 10 kA molded-case breaker is tested at X/R 1.73 (Tri-Service paper TP-6, Table 1). At X/R 6.6 the first
    peak is (1 + e^(-pi/6.6)) / (1 + e^(-pi/1.73)) = 1.394 times as high: more than 7.17 kA are too many."""
    raised = (1 + exp(-pi / 6.6)) / (1 + exp(-pi / 1.73))
    assert 7.1 * raised < 10 < 7.3 * raised
    sketch.put("service", "s", system="480Y/277", fault_ka=ka, fault_x_r=x_r)
    sketch.put("disconnect", "main", trip_a=400, interrupting_ka=10.0, voltage_rating="480Y/277", poles=3).bolt(
        "s.out", "main.line"
    )
    found = study(Drawing(items=MappingProxyType(dict(sketch.items))))
    (duty,) = [v for v in found.verdicts if v.rule == "FLT-1" and v.subject == "main"]
    assert duty.state == state, duty.message


def test_two_faults_of_a_1500_kva_system(sketch):
    """From memory: a fuse manufacturer's handbook, 1500 kVA, 3.5 %Z, 480 V; 25 ft of 6 x 500 kcmil and 50 ft of 500 kcmil,
    copper in steel, C = 22,185: 51,551 A at the transformer, then about 49.8 kA and 35.4 kA point to point; motors of the
    transformer's full load add 4 x 1804 A."""
    basis = MappingProxyType({"transformer_z_pct": "documents"})
    sketch.put("service", "s", system="480Y/277", transformer_kva=1500, transformer_z_pct=3.5, basis=basis)
    sketch.put("bus", "msb").put("bus", "mcc").run("r1", "s.out", "msb.bus", "500", 25.0, sets=6)
    sketch.run("r2", "msb.bus", "mcc.bus", "500", 50.0)
    sketch.put("load", "motors", load_class="motor", va=1_500_000.0, phases="ABC").bolt("mcc.bus", "motors.in")
    numbers, node = sketch.solve()
    hand = [numbers.fault_hand_a[node(at)] for at in ("s.out", "msb.bus", "mcc.bus")]
    assert hand == pytest.approx([51_551, 49_810, 35_450], rel=1e-3)
    assert numbers.contribution_a[node("mcc.bus")] == pytest.approx(7_216, rel=1e-3)


def test_generator_kva(sketch):
    """EC&M, "Making Short-Circuit Calculations Easy" (2000): 1000 kVA of X 0.15 are 6666 kVA of fault; a motor of 100 kVA
    and X 0.17 gives 588 more. The rule of thumb of IEEE 141, four times full load, stays below that."""
    sketch.put("generator", "g", system="480Y/277", kva=1000, xd_pct=15)
    sketch.put("load", "m", load_class="motor", va=100_000.0, phases="ABC").bolt("g.out", "m.in")
    numbers, node = sketch.solve()
    kva = sqrt(3) * 0.48 * numbers.fault_a[node("g.out")]
    assert kva == pytest.approx(6666, rel=1e-3)
    assert 0 < sqrt(3) * 0.48 * numbers.contribution_a[node("g.out")] < 588
