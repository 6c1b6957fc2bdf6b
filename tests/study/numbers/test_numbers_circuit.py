"""Drawings of every system and transformer connection against a general circuit solver: each conductor, neutral and winding
is an element of its own there (tests/calc/conftest.py), nothing is taken as balanced, and nothing is a tree.

Faults are taken with conductors at 25 degrees C (Chapter 9 Table 8 coefficient) and sources as the product says it takes
them: behind a wye, zero sequence equal to positive; behind a center tap, the three-winding equivalent of the distribution
literature (W. H. Kersting): 0.5 R + j0.8 X of the leakage in the primary, R + j0.4 X in each half on the half's base.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from math import sqrt
from types import MappingProxyType

import numpy as np
import pytest

#: Chapter 9 Table 9, copper in steel: R, X in ohm per 1000 ft.
TABLE_9 = {"6": (0.49, 0.064), "2": (0.20, 0.057), "1/0": (0.12, 0.055), "4/0": (0.063, 0.051)}
V_LL = {"480Y/277": 480, "208Y/120": 208, "480D": 480, "240D": 240, "120/240-1": 240, "120-1": 120, "208/120-1": 208}
THREE_PHASE = ("480Y/277", "208Y/120", "480D", "240D")
WITH_NEUTRAL = ("480Y/277", "208Y/120", "120/240-1", "120-1", "208/120-1")
TURN = np.exp(-2j * np.pi / 3)
TESTED = MappingProxyType({"z_pct": "measured"})


@dataclass
class Point:
    """A bus: the phases and the neutral that reach it, and how it is fed."""

    system: str
    phases: str
    neutral: bool
    parent: int = -1
    run: tuple | None = None  # size, neutral size or None, feet
    transformer: tuple | None = None  # kind, kva, percent, X/R, primary columns, drawn the other way round
    loads: list = field(default_factory=list)  # phases, VA, power factor


def phasors(system: str) -> np.ndarray:
    if system == "120/240-1":
        return np.array([120, -120, 0], complex)
    if system == "120-1":
        return np.array([120, 0, 0], complex)
    if system == "208/120-1":
        return 120 * np.array([1, TURN, 0])
    return V_LL[system] / sqrt(3) * np.array([1, TURN, TURN**2])


def random_plan(rng: random.Random) -> list[Point]:
    system = rng.choice(list(V_LL))
    phases = "ABC" if system in THREE_PHASE else "A" if system == "120-1" else "AB"
    plan = [Point(system, phases, system in WITH_NEUTRAL)]
    for k in range(1, rng.randint(3, 12)):
        parent = rng.randrange(max(0, k - 4), k)
        up = plan[parent]
        made = None
        if rng.random() < 0.35 and up.run:
            made = transformer_off(rng, parent, up)
        if made is None:
            drop_neutral = up.neutral and len(up.phases) > 1 and rng.random() < 0.15
            phases = up.phases
            if len(phases) > 1 and rng.random() < 0.25:
                phases = "".join(
                    sorted(rng.sample(phases, rng.randint(1 if up.neutral and not drop_neutral else 2, len(phases))))
                )
            neutral = up.neutral and not drop_neutral
            size = rng.choice(list(TABLE_9))
            neutral_size = rng.choice(list(TABLE_9)) if neutral else None
            made = Point(up.system, phases, neutral, parent, run=(size, neutral_size, rng.uniform(5, 90)))
        plan.append(made)
    for point in plan[1:]:
        kinds = [*(point.phases if point.neutral else ""), *pairs(point.phases)]
        if len(point.phases) == 3:
            kinds.append("ABC")
        for kind in rng.sample(kinds, rng.randint(0, min(3, len(kinds)))):
            scale = V_LL[point.system] * 2 * len(kind)
            point.loads.append((kind, rng.uniform(0.2, 2) * scale, rng.uniform(0.7, 1)))
    return plan


def pairs(phases: str) -> list[str]:
    return [a + b for a, b in ("AB", "BC", "CA") if a in phases and b in phases]


def transformer_off(rng: random.Random, parent: int, up: Point) -> Point | None:
    kva, percent, x_r = rng.choice((25.0, 45.0)), rng.uniform(2, 5), rng.uniform(0.7, 4)
    back = rng.random() < 0.3
    options = []
    if up.phases == "ABC" and up.system in THREE_PHASE:
        options += [("delta-wye", "208Y/120"), ("delta-delta", "240D"), ("wye-delta", "240D")]
        if up.neutral:
            options.append(("wye-wye", "208Y/120"))
    if len(up.phases) == 2 or (len(up.phases) == 1 and up.neutral):
        options += [("single-phase", "120/240-1"), ("single-phase", "120-1")]
    if not options:
        return None
    kind, system = rng.choice(options)
    columns = tuple("ABC".index(p) for p in up.phases)
    if len(columns) == 1:
        columns = (columns[0], -1)
    phases = {"120/240-1": "AB", "120-1": "A"}.get(system, "ABC")
    return Point(system, phases, system in WITH_NEUTRAL, parent, transformer=(kind, kva, percent, x_r, columns, back))


# ------------------------------------------------------------------------------------------------------- the drawing
def draw(plan: list[Point], sketch, fault_ka: float, x_r: float):
    sketch.put("service", "s", system=plan[0].system, fault_ka=fault_ka, fault_x_r=x_r)
    for k, point in enumerate(plan):
        sketch.put("bus", f"b{k}")
        for m, (phases, va, pf) in enumerate(point.loads):
            sketch.put("load", f"load{k}-{m}", phases=phases, va=va, power_factor=pf).bolt(
                f"b{k}.bus", f"load{k}-{m}.in"
            )
        if k == 0:
            sketch.bolt("s.out", "b0.bus")
        elif point.run:
            size, neutral, feet = point.run
            sketch.run(
                f"r{k}",
                f"b{point.parent}.bus",
                f"b{k}.bus",
                size,
                feet,
                neutral_size=neutral or "none",
                phases=point.phases,
            )
        else:
            kind, kva, percent, ratio, _, back = point.transformer
            line, load = ("load", "line") if back else ("line", "load")
            systems = [plan[point.parent].system, point.system]
            if back:
                systems.reverse()
                kind = "-".join(reversed(kind.split("-"))) if kind != "single-phase" else kind
            sketch.put(
                "transformer",
                f"t{k}",
                kva=kva,
                z_pct=percent,
                x_r=ratio,
                connection=kind,
                basis=TESTED,
                primary_system=systems[0],
                secondary_system=systems[1],
            )
            sketch.bolt(f"b{point.parent}.bus", f"t{k}.{line}").bolt(f"t{k}.{load}", f"b{k}.bus")
    return sketch.solve()


# ------------------------------------------------------------------------------------------------------- the circuit
def ohms(size: str, feet: float, cold: bool) -> complex:
    r, x = TABLE_9[size]
    return complex(r * (1 + 0.00323 * (25 - 75) if cold else 1), x) * feet / 1000


def build(plan: list[Point], circuit, source_z: complex | None) -> None:
    """``source_z``: per phase (half of the loop on single-phase systems) for faults; ``None``: stiff, with the loads."""
    cold = source_z is not None
    root = plan[0]
    circuit.source("0N", "0", 0)
    if cold and root.system == "120/240-1":
        circuit.source("e", "0", 240)
        circuit.impedance("e", "ep", complex(0.5 * 2 * source_z.real, 0.8 * 2 * source_z.imag))
        half = complex(2 * source_z.real, 0.4 * 2 * source_z.imag) / 4
        circuit.core(("ep", "0", 240), ("eA", "0N", 120), ("0N", "eB", 120))
        circuit.impedance("eA", "0A", half)
        circuit.impedance("eB", "0B", half)
    else:
        for p in root.phases:
            volts = phasors(root.system)["ABC".index(p)]
            if cold:
                circuit.source(f"e{p}", "0N", volts)
                circuit.impedance(f"e{p}", f"0{p}", 2 * source_z if root.system == "120-1" else source_z)
            else:
                circuit.source(f"0{p}", "0N", volts)
    for k, point in enumerate(plan[1:], 1):
        if point.run:
            size, neutral, feet = point.run
            for p in point.phases:
                circuit.impedance(f"{point.parent}{p}", f"{k}{p}", ohms(size, feet, cold))
            if neutral:
                circuit.impedance(f"{point.parent}N", f"{k}N", ohms(neutral, feet, cold))
        else:
            wind(plan, k, circuit)
        if not cold:
            for phases, va, pf in point.loads:
                power = va * complex(pf, sqrt(1 - pf**2))
                ends = [(phases, "N")] if len(phases) == 1 else [tuple(phases)]
                if phases == "ABC":
                    ends = [("A", "B"), ("B", "C"), ("C", "A")]
                for a, b in ends:
                    circuit.load(f"{k}{a}", f"{k}{b}", power / len(ends))


def wind(plan: list[Point], k: int, circuit) -> None:
    """Windings of a transformer, and a ground on its load side so that the equations have one solution."""
    point = plan[k]
    kind, kva, percent, x_r, columns, _ = point.transformer
    u = point.parent
    v_p, v_s = V_LL[plan[u].system], V_LL[point.system]
    z = percent / 100 * v_s**2 / (kva * 1000) * complex(1, x_r) / abs(complex(1, x_r))
    circuit.source(f"{k}N" if point.neutral else f"{k}C", "0", 0)
    if kind in ("delta-wye", "wye-wye"):
        ends = ("AC", "BA", "CB") if kind == "delta-wye" else ("AN", "BN", "CN")
        for p, (a, b) in zip("ABC", ends, strict=True):
            circuit.core(
                (f"{u}{a}", f"{u}{b}", v_p if kind == "delta-wye" else v_p / sqrt(3)),
                (f"{k}w{p}", f"{k}N", v_s / sqrt(3)),
            )
            circuit.impedance(f"{k}w{p}", f"{k}{p}", z)
    elif kind in ("delta-delta", "wye-delta"):
        for p, q in ("AB", "BC", "CA"):
            first = (f"{u}{p}", f"{u}{q}", v_p) if kind == "delta-delta" else (f"{u}{p}", f"{k}star", v_p / sqrt(3))
            circuit.core(first, (f"{k}w{p}", f"{k}{q}", v_s))
            circuit.impedance(f"{k}w{p}", f"{k}{p}", 3 * z)
    else:
        a = f"{u}{'ABC'[columns[0]]}"
        b = f"{u}N" if columns[1] < 0 else f"{u}{'ABC'[columns[1]]}"
        volts = phasors(plan[u].system)
        across = abs(volts[columns[0]] - (0 if columns[1] < 0 else volts[columns[1]]))
        turns = across if columns[1] < 0 else v_p
        if point.system == "120-1":
            circuit.core((a, b, turns), (f"{k}w", f"{k}N", v_s))
            circuit.impedance(f"{k}w", f"{k}A", z)
        else:
            circuit.impedance(a, f"{k}p", complex(0.5 * z.real, 0.8 * z.imag) * (turns / v_s) ** 2)
            circuit.core((f"{k}p", b, turns), (f"{k}wA", f"{k}N", v_s / 2), (f"{k}N", f"{k}wB", v_s / 2))
            circuit.impedance(f"{k}wA", f"{k}A", complex(z.real, 0.4 * z.imag) / 4)
            circuit.impedance(f"{k}wB", f"{k}B", complex(z.real, 0.4 * z.imag) / 4)


# -------------------------------------------------------------------------------------------------------------- tests
def measure(volts: dict[str, complex], a: str, b: str, point: int) -> float:
    return abs(volts[f"{point}{a}"] - volts[f"{point}{b}"])


@pytest.mark.parametrize("block", range(6))
def test_currents_voltages_and_drop(block, sketch_class, circuit_class):
    """150 drawings: every current, neutral current and voltage, and the drop from the last transformer."""
    for seed in range(block * 25, (block + 1) * 25):
        rng = random.Random(seed)
        plan = random_plan(rng)
        numbers, node = draw(plan, sketch_class(), 20.0, 3.0)
        circuit = circuit_class()
        build(plan, circuit, None)
        volts = circuit.solve()
        head = [0] * len(plan)
        for k, point in enumerate(plan):
            at = node(f"b{k}.bus")
            assert not numbers.needs(at), (seed, k)
            head[k] = head[point.parent] if point.run else k
            expected = {}
            drops = []
            nominal = phasors(point.system)

            for a in point.phases if point.neutral else ():
                expected[a] = measure(volts, a, "N", k)
                drops.append((measure(volts, a, "N", head[k]) - expected[a]) / abs(nominal["ABC".index(a)]))
            for a, b in pairs(point.phases):
                if not point.neutral:
                    expected[a + b] = measure(volts, a, b, k)
                base = abs(nominal["ABC".index(a)] - nominal["ABC".index(b)])
                drops.append((measure(volts, a, b, head[k]) - measure(volts, a, b, k)) / base)
            assert numbers.voltage_v[at] == pytest.approx(expected, rel=1e-6), (seed, k)
            assert numbers.drop_pct[at] == pytest.approx(100 * max(drops), abs=1e-6), (seed, k)
            if point.run:
                size, neutral, feet = point.run
                z = ohms(size, feet, False)
                flows = {p: abs(volts[f"{point.parent}{p}"] - volts[f"{k}{p}"]) / abs(z) for p in point.phases}
                assert numbers.current_a[at] == pytest.approx(flows, rel=1e-5, abs=1e-4), (seed, k)
                if neutral:
                    back = abs(volts[f"{point.parent}N"] - volts[f"{k}N"]) / abs(ohms(neutral, feet, False))
                    assert numbers.neutral_a[at] == pytest.approx(back, rel=1e-4, abs=1e-3), (seed, k)
                else:
                    assert numbers.neutral_a[at] is None


@pytest.mark.parametrize("block", range(6))
def test_fault_currents(block, sketch_class, circuit_class):
    """150 drawings, a fault of each kind at three points of each: an ideal short in the circuit."""
    compared = 0
    for seed in range(1000 + block * 25, 1000 + (block + 1) * 25):
        rng = random.Random(seed)
        plan = random_plan(rng)
        fault_ka, x_r = rng.uniform(2, 40), rng.uniform(0.5, 8)
        numbers, node = draw(plan, sketch_class(), fault_ka, x_r)
        three = plan[0].system in THREE_PHASE
        z = (
            V_LL[plan[0].system]
            / ((sqrt(3) if three else 2) * fault_ka * 1000)
            * complex(1, x_r)
            / abs(complex(1, x_r))
        )
        for k in rng.sample(range(len(plan)), min(3, len(plan))):
            point, at = plan[k], node(f"b{k}.bus")
            kinds = {"ln": [point.phases[0] + "N"] if point.neutral else [], "ll": pairs(point.phases)[:1]}
            if len(point.phases) == 3:
                kinds["main"] = ["AB", "BC"]
            elif len(point.phases) == 2:
                kinds["main"] = kinds["ll"]
            else:
                kinds["main"] = kinds["ln"]
            columns = {"ln": numbers.fault_ln_a, "ll": numbers.fault_ll_a, "main": numbers.fault_a}
            for kind, shorts in kinds.items():
                if not shorts:
                    assert columns[kind][at] is None
                    continue
                circuit = circuit_class()
                build(plan, circuit, z)
                for a, b in shorts:
                    circuit.source(f"{k}{a}", f"{k}{b}", 0)
                circuit.solve()
                amperes = abs(circuit.source_currents[-len(shorts)])
                # Nominal 208 V is not sqrt 3 times nominal 120 V, from which the circuit has it: 0.07 %.
                close = 1e-3 if plan[0].system == "208/120-1" else 1e-6
                assert columns[kind][at] == pytest.approx(amperes, rel=close), (seed, k, kind)
                compared += 1
    assert compared > 100
