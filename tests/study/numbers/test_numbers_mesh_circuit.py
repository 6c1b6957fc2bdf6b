"""Closed loops against a general circuit solver in which every conductor is an element of its own: four and five wires.

40 random networks of 3 to 12 buses with one to three further runs; phase, neutral and grounding conductors of any sizes,
so that in a loop each divides its current in a way of its own. Systems with a neutral, with a midpoint, with a high leg
and without either. Agreed tolerance: 1e-6 (both solve Kirchhoff's laws; the circuit's own solution is that exact).
Resistances and reactances are those of Chapter 9 Table 9, PVC, the temperature coefficient that of Table 8.
"""

from __future__ import annotations

import random
from math import sqrt

import numpy as np
import pytest

#: Ohm per 1000 ft at 75 degrees C, copper in PVC (Chapter 9 Table 9), and coefficient of copper (Table 8).
OHMS = {"6": (0.49, 0.051), "2": (0.19, 0.045), "1/0": (0.12, 0.044), "4/0": (0.062, 0.041), "500": (0.027, 0.039)}
COEFFICIENT = 0.00323
SYSTEMS = ["208Y/120", "480Y/277", "120/240-1", "240D/120-HL", "240D-CG"]
TURN = np.exp(-2j * np.pi / 3)


def ohms(size: str, feet: float, cold: bool) -> complex:
    r, x = OHMS[size]
    return complex(r * (1 - 50 * COEFFICIENT if cold else 1), x) * feet / 1000


def plan(rng: random.Random):
    """Runs (from, to, phase size, neutral size, grounding size, feet) of a network with loops."""
    count = rng.randint(3, 12)
    pairs = [(rng.randrange(k), k) for k in range(1, count)]
    pairs += [tuple(rng.sample(range(count), 2)) for _ in range(rng.randint(1, 3))]
    return count, [(a, b, *(rng.choice(list(OHMS)) for _ in range(3)), rng.uniform(5, 120)) for a, b in pairs]


def draw(sketch, system: str, count: int, runs, ka: float, x_r: float):
    """A service, its disconnect (where the bond is), buses joined by runs in PVC."""
    sketch.put("service", "s", system=system, fault_ka=ka, fault_x_r=x_r).put("disconnect", "main").bolt(
        "s.out", "main.line"
    )
    for k in range(count):
        sketch.put("bus", f"b{k}")
    sketch.bolt("main.load", "b0.bus")
    for n, (a, b, phase, neutral, ground, feet) in enumerate(runs):
        sketch.run(
            f"r{n}", f"b{a}.bus", f"b{b}.bus", phase, feet, raceway="PVC-40", neutral_size=neutral, egc_size=ground,
            egc_material="copper",
        )  # fmt: skip
    return sketch


def columns(system: str) -> str:
    return "AB" if system.endswith("-1") else "ABC"


def source(circuit, system: str, z: complex) -> None:
    """Behind its impedance per phase: a star; halves of a winding; a delta with one winding tapped, of equal windings."""
    if system == "240D/120-HL":
        e_ac, e_ab = 240, 240 * np.exp(1j * np.pi / 3)
        w, half = 3 * z, complex(1.5 * (3 * z).real, 1.2 * (3 * z).imag) / 4
        mutual = w / 2 - half
        # Two coupled halves as a star: half + mutual in each, - mutual in the tap.
        circuit.source("ea", "mid", e_ac / 2)
        circuit.source("mid", "ec", e_ac / 2)
        circuit.impedance("ea", "0A", half + mutual)
        circuit.impedance("ec", "0C", half + mutual)
        circuit.impedance("mid", "0N", -mutual)
        circuit.source("eab", "0B", e_ab)
        circuit.impedance("eab", "0A", w)
        circuit.source("ebc", "0C", e_ac - e_ab)
        circuit.impedance("ebc", "0B", w)
    elif system == "120/240-1":
        whole = 2 * z
        half = complex(1.5 * whole.real, 1.2 * whole.imag) / 4
        for p, volts in (("A", 120), ("B", -120)):
            circuit.source(f"e{p}", "star", volts)
            circuit.impedance(f"e{p}", f"0{p}", z)
        circuit.impedance("star", "0N", half - z)
    else:
        volts = {"208Y/120": 208, "480Y/277": 480, "240D-CG": 240}[system] / sqrt(3)
        for k, p in enumerate("ABC"):
            circuit.source(f"e{p}", "star", volts * TURN**k)
            circuit.impedance(f"e{p}", f"0{p}", z)
        if system != "240D-CG":
            circuit.source("star", "0N", 0)
    circuit.source("0B" if system == "240D-CG" else "0N", "0", 0)
    circuit.source("0G", "0", 0)


def conductors(circuit, system: str, runs, cold: bool) -> None:
    for a, b, phase, neutral, ground, feet in runs:
        for p in columns(system):
            circuit.impedance(f"{a}{p}", f"{b}{p}", ohms(phase, feet, cold))
        if system != "240D-CG":
            circuit.impedance(f"{a}N", f"{b}N", ohms(neutral, feet, cold))
        circuit.impedance(f"{a}G", f"{b}G", ohms(ground, feet, cold))


def shorted(circuit_class, system, runs, z, *pairs) -> list[float]:
    """Amperes through bolts between pairs of points."""
    circuit = circuit_class()
    source(circuit, system, z)
    conductors(circuit, system, runs, cold=True)
    before = len(circuit.sources)
    for a, b in pairs:
        circuit.source(a, b, 0)
    circuit.solve()
    return [abs(i) for i in circuit.source_currents[before:]]


@pytest.mark.parametrize("system", SYSTEMS)
def test_faults(system, sketch_class, circuit_class):
    for seed in range(8):
        rng = random.Random(f"{system} {seed}")
        count, runs = plan(rng)
        ka, x_r = rng.uniform(5, 40), rng.uniform(0.5, 8)
        numbers, node = draw(sketch_class(), system, count, runs, ka, x_r).solve()
        v_ll = {"208Y/120": 208, "480Y/277": 480}.get(system, 240)
        three = columns(system) == "ABC"
        size = v_ll / ((sqrt(3) if three else 2) * ka * 1000)
        z = size * complex(1, x_r) / abs(complex(1, x_r))

        def amperes(*pairs, system=system, runs=runs, z=z):
            return shorted(circuit_class, system, runs, z, *pairs)

        for k in range(count):
            at = node(f"b{k}.bus")
            (line,) = amperes((f"{k}A", f"{k}B"))
            if three:
                assert numbers.fault_ll_a[at] == pytest.approx(line, rel=1e-6)
                both = amperes((f"{k}A", f"{k}B"), (f"{k}C", f"{k}B"))
                assert numbers.fault_a[at] == pytest.approx(both[0], rel=1e-6)
            else:
                assert numbers.fault_a[at] == pytest.approx(line, rel=1e-6)
            if system == "240D-CG":
                (ground,) = amperes((f"{k}A", f"{k}G"))
                assert numbers.fault_ln_a[at] is None
            else:
                (neutral,) = amperes((f"{k}A", f"{k}N"))
                assert numbers.fault_ln_a[at] == pytest.approx(neutral, rel=1e-6)
                (ground,) = amperes((f"{k}A", f"{k}G"))
            assert numbers.fault_lg_a[at] == pytest.approx(ground, rel=1e-6)
            assert numbers.fault_lg_bound_a[at] == pytest.approx(ground, rel=1e-6)
            assert not numbers.ground_needs(at)
            if system == "240D/120-HL":
                (high,) = amperes((f"{k}B", f"{k}N"))
                # Nominal 208 V; exactly 120 times the root of three.
                assert numbers.fault_high_leg_a[at] == pytest.approx(high * 208 / (120 * sqrt(3)), rel=1e-6)


@pytest.mark.parametrize("system", ["208Y/120", "480Y/277", "120/240-1"])
def test_load_flow(system, sketch_class, circuit_class):
    """Unbalanced loads between lines and to the neutral, none of one kind on all phases; the service holds its voltage."""
    letters = columns(system)
    v_ln = {"208Y/120": 208 / sqrt(3), "480Y/277": 480 / sqrt(3), "120/240-1": 120}[system]
    for seed in range(12):
        rng = random.Random(f"{system} {seed}")
        count, runs = plan(rng)
        sketch, circuit = draw(sketch_class(), system, count, runs, 20.0, 4.0), circuit_class()
        for k, p in enumerate(letters):
            circuit.source(f"0{p}", "0N", v_ln * (TURN**k if len(letters) == 3 else (1, -1)[k]))
        circuit.source("0N", "0", 0)
        conductors(circuit, system, [(*r[:4], "6", r[5]) for r in runs], cold=False)
        circuit.source("0G", "0", 0)
        for k in range(1, count):
            phases = rng.choice([*letters, "AB"])
            va, pf = rng.uniform(100, 900), rng.uniform(0.7, 1)
            sketch.put("load", f"l{k}", phases=phases, va=va, power_factor=pf).bolt(f"b{k}.bus", f"l{k}.in")
            stop = f"{k}{phases[1]}" if len(phases) > 1 else f"{k}N"
            circuit.load(f"{k}{phases[0]}", stop, va * complex(pf, sqrt(1 - pf**2)))
        numbers, node = sketch.solve()
        volts = circuit.solve()
        for k in range(count):
            there = numbers.voltage_v[node(f"b{k}.bus")]
            for p in letters:
                assert there[p] == pytest.approx(abs(volts[f"{k}{p}"] - volts[f"{k}N"]), rel=1e-8)
        for n, (a, b, phase, neutral, _, feet) in enumerate(runs):
            ours = numbers.branch_current_a(f"r{n}")
            for p in letters:
                through = abs(volts[f"{a}{p}"] - volts[f"{b}{p}"]) / abs(ohms(phase, feet, False))
                assert ours[p] == pytest.approx(through, rel=1e-6, abs=1e-6)
            ways = [d for d in (node(f"b{a}.bus"), node(f"b{b}.bus")) if numbers.ctx.feeding.branch[d] == f"r{n}"]
            if ways:
                back = abs(volts[f"{a}N"] - volts[f"{b}N"]) / abs(ohms(neutral, feet, False))
                assert numbers.neutral_a[ways[0]] == pytest.approx(back, rel=1e-6, abs=1e-6)


def test_load_flow_without_a_neutral(sketch_class, circuit_class):
    """Ungrounded 480 V delta in loops, unbalanced loads from line to line."""
    for seed in range(8):
        rng = random.Random(f"delta {seed}")
        count, runs = plan(rng)
        sketch, circuit = draw(sketch_class(), "480D", count, runs, 20.0, 4.0), circuit_class()
        for k, p in enumerate("ABC"):
            circuit.source(f"0{p}", "star", 480 / sqrt(3) * TURN**k)
        circuit.source("0B", "0", 0)
        for a, b, phase, _, _, feet in runs:
            for p in "ABC":
                circuit.impedance(f"{a}{p}", f"{b}{p}", ohms(phase, feet, False))
        for k in range(1, count):
            phases, va, pf = rng.choice(["AB", "BC", "CA"]), rng.uniform(500, 4000), rng.uniform(0.7, 1)
            sketch.put("load", f"l{k}", phases=phases, va=va, power_factor=pf).bolt(f"b{k}.bus", f"l{k}.in")
            circuit.load(f"{k}{phases[0]}", f"{k}{phases[1]}", va * complex(pf, sqrt(1 - pf**2)))
        numbers, node = sketch.solve()
        volts = circuit.solve()
        for k in range(count):
            for pair, volts_there in numbers.voltage_v[node(f"b{k}.bus")].items():
                assert volts_there == pytest.approx(abs(volts[f"{k}{pair[0]}"] - volts[f"{k}{pair[1]}"]), rel=1e-8)
        for n, (a, b, phase, _, _, feet) in enumerate(runs):
            for p, ours in numbers.branch_current_a(f"r{n}").items():
                through = abs(volts[f"{a}{p}"] - volts[f"{b}{p}"]) / abs(ohms(phase, feet, False))
                assert ours == pytest.approx(through, rel=1e-6, abs=1e-6)
