"""Fault currents from line to ground, by hand from Chapter 9 Table 9 (75 degrees C) and Table 8 (coefficient of copper
0.00323, of aluminum 0.00330) at 25 degrees C; loops and other systems: test_numbers_mesh_circuit.py."""

from __future__ import annotations

from math import sqrt
from types import MappingProxyType

import pytest

TESTED = MappingProxyType({"z_pct": "documents"})
#: Ohm per 1000 ft at 25 degrees C.
PHASE = complex(0.12 * (1 - 50 * 0.00323), 0.044)  # 1/0 copper in PVC
SMALL = complex(0.49 * (1 - 50 * 0.00323), 0.051)  # 6 AWG copper in PVC
ALUMINUM = complex(0.81 * (1 - 50 * 0.00330), 0.051)  # 6 AWG aluminum in PVC
SOURCE = 208 / sqrt(3) / 20_000 * complex(1, 4) / abs(complex(1, 4))


def feeder(sketch, feet=100.0, system="208Y/120", **values):
    """A service of 20 kA, its disconnect, and a panel behind 1/0 in PVC with a 6 AWG copper grounding conductor."""
    sketch.put("service", "s", system=system, fault_ka=20.0, fault_x_r=4.0)
    sketch.put("disconnect", "main").bolt("s.out", "main.line").put("bus", "p")
    usual = {"raceway": "PVC-40", "egc_size": "6", "egc_material": "copper"}
    feet = values.pop("length_ft", feet)
    return sketch.run("r", "main.load", "p.bus", "1/0", feet, **{**usual, **values})


def test_out_on_the_phase_and_back_on_the_grounding_conductor(sketch):
    numbers, node = feeder(sketch).solve()
    at = node("p.bus")
    expected = 208 / sqrt(3) / abs(SOURCE + (PHASE + SMALL) / 10)
    assert numbers.fault_lg_a[at] == pytest.approx(expected)
    assert numbers.fault_lg_bound_a[at] == numbers.fault_lg_least_a[at] == pytest.approx(expected)
    assert numbers.ground_needs(at) == ()
    # At the bond it is the fault to the neutral.
    assert numbers.fault_lg_a[node("s.out")] == pytest.approx(numbers.fault_ln_a[node("s.out")])
    # Thicker way back through the full-size neutral than through the small grounding conductor.
    assert numbers.fault_lg_a[at] < numbers.fault_ln_a[at]


def test_one_grounding_conductor_with_each_set(sketch):
    numbers, node = feeder(sketch, sets=2).solve()
    assert numbers.fault_lg_a[node("p.bus")] == pytest.approx(208 / sqrt(3) / abs(SOURCE + (PHASE + SMALL) / 20))


def test_ahead_of_the_service_disconnect_the_neutral_is_the_way_back(sketch):
    sketch.put("service", "s", system="208Y/120", fault_ka=20.0, fault_x_r=4.0).put("disconnect", "main").put(
        "bus", "p"
    )
    sketch.run("lateral", "s.out", "main.line", "1/0", 100.0, raceway="PVC-40", egc_size="none")
    numbers, node = sketch.bolt("main.load", "p.bus").solve()
    assert numbers.fault_lg_a[node("p.bus")] == pytest.approx(208 / sqrt(3) / abs(SOURCE + 2 * PHASE / 10))
    sketch.run("lateral", "s.out", "main.line", "1/0", 100.0, raceway="PVC-40", neutral_size="none")
    numbers, node = sketch.solve()
    assert numbers.fault_lg_a[node("p.bus")] is None
    assert "grounded conductor of lateral to the service disconnect" in numbers.ground_needs(node("p.bus"))


@pytest.mark.parametrize(
    ("values", "need", "least"),
    [
        ({"egc_size": None}, "equipment grounding conductor of r", None),
        ({"egc_size": "none"}, "equipment grounding conductor of r (a fault finds no way back but the earth)", None),
        ({"egc_size": "none", "raceway": "EMT"},
         "impedance of the metal raceway of r, the way back of a ground fault (no table)", None),
        ({"egc_size": "raceway", "raceway": "EMT"},
         "impedance of the metal raceway of r, the way back of a ground fault (no table)", None),
        ({"egc_material": None}, "material of the grounding conductor of r", ALUMINUM),
        ({"length_ft": None}, "length of r", None),
    ],
)  # fmt: skip
def test_what_is_missing(sketch, values, need, least):
    """Bounded by a way back without impedance, or by the wire alone."""
    numbers, node = feeder(sketch, **values).solve()
    at = node("p.bus")
    assert numbers.fault_lg_a[at] is None
    assert need in numbers.ground_needs(at)
    assert numbers.fault_lg_bound_a[at] >= 208 / sqrt(3) / abs(SOURCE + (PHASE + SMALL) / 10) * (1 - 1e-9)
    assert numbers.fault_lg_bound_a[at] <= numbers.fault_ln_a[node("s.out")] * (1 + 1e-9)
    if least is None:
        assert numbers.fault_lg_least_a[at] is None
    else:
        wires = [
            208 / sqrt(3) / (abs(SOURCE + PHASE / 10) + abs(least) / 10),
            208 / sqrt(3) / abs(SOURCE + (PHASE + least) / 10),
        ]
        assert wires[0] * 0.999 <= numbers.fault_lg_least_a[at] <= wires[1]


def test_metal_raceway_beside_the_wire(sketch):
    """Two ways back in parallel: not less than through the wire alone, not more than through a perfect raceway."""
    numbers, node = feeder(sketch, raceway="EMT").solve()
    at = node("p.bus")
    phase, wire = complex(0.12 * (1 - 50 * 0.00323), 0.055), complex(0.49 * (1 - 50 * 0.00323), 0.064)
    assert numbers.fault_lg_a[at] is None
    assert numbers.fault_lg_bound_a[at] == pytest.approx(208 / sqrt(3) / abs(SOURCE + phase / 10))
    alone = 208 / sqrt(3) / abs(SOURCE + (phase + wire) / 10)
    assert alone * 0.95 <= numbers.fault_lg_least_a[at] <= alone
    assert numbers.ground_needs(at) == ("impedance of the metal raceway of r, beside its grounding conductor",)


def test_behind_a_transformer_the_way_back_ends_there(sketch):
    feeder(sketch, 10.0, "480Y/277")
    sketch.put("bus", "lp").put(
        "transformer", "t", kva=75, z_pct=4, x_r=2.0, primary_system="480Y/277", secondary_system="208Y/120",
        connection="delta-wye", basis=TESTED,
    ).bolt("p.bus", "t.line")  # fmt: skip
    sketch.run("r2", "t.load", "lp.bus", "1/0", 50.0, raceway="PVC-40", egc_size="6", egc_material="copper")
    numbers, node = sketch.solve()
    loop = 120.0888 / numbers.fault_ln_a[node("t.load")]
    assert numbers.fault_lg_a[node("t.load")] == pytest.approx(numbers.fault_ln_a[node("t.load")])
    found = numbers.fault_lg_a[node("lp.bus")]
    wires = abs((PHASE + SMALL) / 20)
    assert 208 / sqrt(3) / (loop + wires) <= found <= 208 / sqrt(3) / sqrt(loop**2 + wires**2)


def test_corner_grounded(sketch):
    """Physics: phase to ground is a fault between two lines whose second one is the grounding conductor."""
    numbers, node = feeder(sketch, system="240D-CG").solve()
    z = 240 / sqrt(3) / 20_000 * complex(1, 4) / abs(complex(1, 4))
    assert numbers.fault_lg_a[node("p.bus")] == pytest.approx(240 / abs(2 * z + (PHASE + SMALL) / 10))
    assert numbers.fault_lg_a[node("s.out")] == pytest.approx(20_000 * sqrt(3) / 2)
    assert numbers.fault_ln_a[node("p.bus")] is None


def test_ungrounded(sketch):
    """The first ground fault closes no circuit; a second one is a fault between lines and draws no more than that."""
    numbers, node = feeder(sketch, system="480D").solve()
    at = node("p.bus")
    assert numbers.fault_lg_a[at] == 0
    assert numbers.fault_lg_bound_a[at] >= numbers.fault_ll_a[at]
    assert numbers.fault_lg_bound_a[at] <= numbers.fault_a[at] * (1 + 1e-9)


def test_unknown_x_r_leaves_bounds(sketch):
    feeder(sketch)
    true, node = sketch.solve()
    sketch.put("service", "s", system="208Y/120", fault_ka=20.0)
    numbers, _ = sketch.solve()
    at = node("p.bus")
    assert numbers.fault_lg_least_a[at] <= true.fault_lg_a[at] <= numbers.fault_lg_bound_a[at]
    sketch.put("service", "s", system="208Y/120")
    numbers, _ = sketch.solve()
    assert numbers.fault_lg_a[at] is None
    assert numbers.fault_lg_bound_a[node("s.out")] is None
    assert numbers.fault_lg_bound_a[at] == pytest.approx(208 / sqrt(3) / abs((PHASE + SMALL) / 10))
    assert "available fault current at s, or kVA and %Z of its transformer" in numbers.ground_needs(at)


def test_two_feeders_in_parallel(sketch):
    """Two ways out and two ways back, the same ones: half the impedance. One of them in steel: a bound."""
    feeder(sketch).put("bus", "far")
    sketch.run("r2", "main.load", "p.bus", "1/0", 100.0, raceway="PVC-40", egc_size="6", egc_material="copper")
    sketch.run("r3", "p.bus", "far.bus", "1/0", 30.0, raceway="PVC-40", egc_size="6", egc_material="copper")
    numbers, node = sketch.solve()
    both = SOURCE + (PHASE + SMALL) / 20
    assert numbers.fault_lg_a[node("p.bus")] == pytest.approx(208 / sqrt(3) / abs(both))
    known = numbers.fault_lg_a[node("far.bus")]
    assert known == pytest.approx(208 / sqrt(3) / abs(both + 0.03 * (PHASE + SMALL)))
    sketch.run("r2", "main.load", "p.bus", "1/0", 100.0, raceway="EMT", egc_size="6", egc_material="copper")
    numbers, node = sketch.solve()
    for at in ("p.bus", "far.bus"):
        assert numbers.fault_lg_a[node(at)] is None
        assert numbers.ground_needs(node(at)) == (
            "impedance of the metal raceway of r2, beside its grounding conductor",
        )
    assert known * 0.97 < numbers.fault_lg_bound_a[node("far.bus")] < 208 / sqrt(3) / abs(SOURCE)


def test_nothing_feeds_it(sketch):
    numbers, node = sketch.put("bus", "b").solve()
    assert numbers.fault_lg_a[node("b.bus")] is None
    assert numbers.ground_needs(node("b.bus")) == ("a source that feeds it",)


@pytest.mark.parametrize("feet", [0.0, 60.0])
def test_line_to_neutral_at_a_center_tapped_transformer(sketch, feet):
    """Point-to-point method (FLT-7): 1.5 times line to line at the terminals, f = 2 L I / (C n V) from there, 2 AWG copper
    in nonmagnetic raceway C = 6044; the complex value has half the winding at 1.5 R and 1.2 X, a quarter of its base."""
    sketch.put("service", "s", system="120/240-1", transformer_kva=50, transformer_z_pct=2, transformer_x_r=1.5)
    sketch.put("bus", "p").run("r", "s.out", "p.bus", "2", feet, raceway="PVC-40")
    numbers, node = sketch.solve()
    start = 1.5 * 50_000 / 240 / 0.02 / 0.9
    f = 2 * feet * start / (6044 * 120)
    assert numbers.fault_ln_hand_a[node("p.bus")] == pytest.approx(start / (1 + f), rel=1e-3)
    winding = 0.02 * 0.9 * 240**2 / 50_000 * complex(1, 1.5) / abs(complex(1, 1.5))
    half = complex(1.5 * winding.real, 1.2 * winding.imag) / 4
    run = 2 * feet * complex(0.19 * (1 - 50 * 0.00323), 0.045) / 1000
    assert numbers.fault_ln_a[node("p.bus")] == pytest.approx(120 / abs(half + run))
