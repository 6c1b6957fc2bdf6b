"""The load flow against a general circuit solver in which every conductor, the neutral too, is an element of its own."""

from __future__ import annotations

import random
from dataclasses import replace
from math import sqrt

import numpy as np
import pytest

from oneline.calc.flow import (
    SPLIT,
    WYE,
    Coupling,
    Loads,
    center_tapped,
    delta_delta,
    delta_wye,
    single_phase,
    solve_flow,
    wye_delta,
    wye_wye,
)
from oneline.calc.flow_tree import make_tree

HIGH_LEG = np.array([120, -207.85j, -120])
#: Phases of the loads that a system can carry: pairs of columns, -1 for the neutral.
FOUR_WIRE = [(0, -1), (1, -1), (2, -1), (0, 1), (1, 2), (2, 0)]


def one_zone(n: int, rng: random.Random):
    """A random tree of n nodes in pre-order: (tree, parents)."""
    parent, path = [-1], [0]
    for i in range(1, n):
        while len(path) > 1 and rng.random() < 0.4:
            path.pop()
        parent.append(path[-1])
        path.append(i)
    last = list(range(1, n + 1))
    for i in reversed(range(1, n)):
        last[parent[i]] = max(last[parent[i]], last[i])
    return make_tree(np.array(last), np.zeros(n, int), np.array([-1]), np.array([0])), parent


def random_loads(rng: random.Random, n: int, kinds, va: float) -> Loads:
    rows = []
    for node in range(1, n):
        for start, stop in rng.sample(kinds, rng.randint(0, min(3, len(kinds)))):
            rows.append((node, start, stop, rng.uniform(0.1, 1) * va * complex(1, rng.uniform(-0.2, 0.8))))
    rows.append((n - 1, *kinds[0], complex(va)))
    node, start, stop, power = zip(*rows, strict=True)
    return Loads(np.array(node), np.array(start), np.array(stop), np.array(power))


def point(node: int, phase: int) -> str:
    return f"{node}{'ABCN'[phase]}"


def check(circuit, flow, n, parent, z, zn, columns):
    """Voltages to the local neutral and currents of every run against the solved circuit."""
    volts = circuit.solve()
    for node in range(n):
        for k in columns:
            expected = volts[point(node, k)] - volts[point(node, 3)]
            assert flow.v[node, k] == pytest.approx(expected, rel=1e-7)
        if node and z[node]:
            for k in columns:
                current = (volts[point(parent[node], k)] - volts[point(node, k)]) / z[node]
                assert flow.i[node, k] == pytest.approx(current, rel=1e-5, abs=1e-5)
            neutral = (volts[point(parent[node], 3)] - volts[point(node, 3)]) / zn[node]
            assert flow.i_neutral[node] == pytest.approx(neutral, rel=1e-5, abs=1e-4)


@pytest.mark.parametrize(
    ("emf", "kinds", "va"),
    [
        (WYE * 208 / sqrt(3), FOUR_WIRE, 600),
        (WYE * 480 / sqrt(3), FOUR_WIRE, 3000),
        (SPLIT * 120, [(0, -1), (1, -1), (0, 1)], 500),
        (np.array([120, 120 * np.exp(-2j * np.pi / 3), 0]), [(0, -1), (1, -1), (0, 1)], 500),
        (np.array([120, 0, 0], complex), [(0, -1)], 500),
        (HIGH_LEG, [(0, -1), (2, -1), (0, 1), (1, 2), (2, 0)], 500),
    ],
    ids=["208Y/120", "480Y/277", "120/240-1", "208/120-1", "120-1", "240D/120-HL"],
)  # fmt: skip
def test_unbalanced_loads_with_a_neutral_of_its_own(circuit, emf, kinds, va):
    """Random trees, loads line to neutral and line to line; the neutral is a fourth conductor of another size."""
    for seed in range(12):
        rng = random.Random(seed)
        n = rng.randint(2, 25)
        tree, parent = one_zone(n, rng)
        loads = random_loads(rng, n, kinds, va)
        z = np.array([0] + [complex(rng.uniform(0.002, 0.01), rng.uniform(0.001, 0.004)) for _ in range(n - 1)])
        zn = z * rng.uniform(0.5, 2)
        flow = solve_flow(tree, np.array([emf]), z, zn, loads, {})
        assert flow.settled.all()
        columns = [k for k in range(3) if emf[k]]
        circuit.__init__()
        for k in columns:
            circuit.source(point(0, k), "0N", emf[k])
        circuit.source("0N", "0", 0)
        for node in range(1, n):
            for k in (*columns, 3):
                circuit.impedance(point(parent[node], k), point(node, k), zn[node] if k == 3 else z[node])
        for node, start, stop, power in zip(loads.node, loads.start, loads.stop, loads.va, strict=True):
            circuit.load(point(node, start), point(node, stop), power)
        check(circuit, flow, n, parent, z, zn, columns)


def test_three_wire_delta_needs_no_neutral(circuit):
    """Ungrounded 480 V delta, unbalanced loads from line to line: the currents are those of the circuit."""
    for seed in range(12):
        rng = random.Random(seed)
        n = rng.randint(2, 20)
        tree, parent = one_zone(n, rng)
        loads = random_loads(rng, n, [(0, 1), (1, 2), (2, 0)], 3000)
        z = np.array([0] + [complex(rng.uniform(0.01, 0.05), rng.uniform(0.01, 0.02)) for _ in range(n - 1)])
        flow = solve_flow(tree, np.array([WYE * 480 / sqrt(3)]), z, 0 * z, loads, {})
        circuit.__init__()
        circuit.source("0A", "0B", 480 * np.exp(1j * np.pi / 6))
        circuit.source("0B", "0C", 480 * np.exp(-1j * np.pi / 2))
        circuit.source("0C", "0", 0)
        for node in range(1, n):
            for k in range(3):
                circuit.impedance(point(parent[node], k), point(node, k), z[node])
        for node, start, stop, power in zip(loads.node, loads.start, loads.stop, loads.va, strict=True):
            circuit.load(point(node, start), point(node, stop), power)
        volts = circuit.solve()
        for node in range(n):
            for a, b in ((0, 1), (1, 2), (2, 0)):
                expected = volts[point(node, a)] - volts[point(node, b)]
                assert flow.v[node, a] - flow.v[node, b] == pytest.approx(expected, rel=1e-7)
        assert np.abs(flow.i_neutral).max() < 1e-6


def behind_a_transformer(coupling: Coupling, z_primary: complex, z_run: complex, zn_run: complex, loads: Loads, emf):
    """Source - primary run - transformer - secondary run with loads at its end: nodes 0, 1 | 2, 3."""
    tree = make_tree(np.array([4, 4, 4, 4]), np.array([0, 0, 1, 1]), np.array([-1, 1]), np.array([0, 1]))
    z = np.array([0, z_primary, 0, z_run])
    zn = np.array([0, z_primary, 0, zn_run])
    return solve_flow(tree, np.array([emf, WYE * 120]), z, zn, loads, {1: coupling})


def four_wire_ends(circuit, emf, z_primary, z_run, zn_run, loads, columns=(0, 1, 2)):
    for k in range(3):
        circuit.source(point(0, k), "0N", emf[k])
        circuit.impedance(point(0, k), point(1, k), z_primary)
    circuit.source("0N", "0", 0)
    for k in columns:
        circuit.impedance(point(2, k), point(3, k), z_run)
    circuit.impedance("2N", "3N", zn_run)
    for node, start, stop, power in zip(loads.node, loads.start, loads.stop, loads.va, strict=True):
        circuit.load(point(node, start), point(node, stop), power)


def unbalanced(*rows: tuple[int, int, complex]) -> Loads:
    start, stop, va = zip(*rows, strict=True)
    return Loads(np.full(len(rows), 3), np.array(start), np.array(stop), np.array(va))


MIXED = unbalanced((0, -1, 4000 + 1000j), (1, -1, 1500), (2, 0, 6000 + 3000j), (2, -1, 200 + 100j))
LINE_TO_LINE = unbalanced((0, 1, 9000 + 2000j), (2, 0, 2000 + 3000j))
EMF = WYE * 480 / sqrt(3)
Z_P, Z_S, ZN_S, Z_T = 0.02 + 0.01j, 0.01 + 0.004j, 0.03 + 0.01j, 0.012 + 0.02j


def compare(flow, circuit, neutral=True):
    volts = circuit.solve()
    for node in (1, 2, 3):
        for a, b in ((0, 1), (1, 2), (2, 0)):
            expected = volts[point(node, a)] - volts[point(node, b)]
            assert flow.v[node, a] - flow.v[node, b] == pytest.approx(expected, rel=1e-7)
    for k in range(3):
        if neutral:
            assert flow.v[3, k] == pytest.approx(volts[point(3, k)] - volts["3N"], rel=1e-7)
        assert flow.i[1, k] == pytest.approx((volts[point(0, k)] - volts[point(1, k)]) / Z_P, rel=1e-5, abs=1e-5)
        assert flow.i[3, k] == pytest.approx((volts[point(2, k)] - volts[point(3, k)]) / Z_S, rel=1e-5, abs=1e-5)


def test_delta_wye(circuit):
    """Three cores; each secondary winding from its phase to the neutral, its primary between two lines."""
    flow = behind_a_transformer(delta_wye(480, 208, Z_T), Z_P, Z_S, ZN_S, MIXED, EMF)
    four_wire_ends(circuit, EMF, Z_P, Z_S, ZN_S, MIXED)
    circuit.source("2N", "0", 0)
    for k, (a, b) in enumerate(((0, 2), (1, 0), (2, 1))):
        circuit.core((point(1, a), point(1, b), 480), (f"w{k}", "2N", 208 / sqrt(3)))
        circuit.impedance(f"w{k}", point(2, k), Z_T)
    compare(flow, circuit)
    assert np.angle(flow.v[2, 0] / flow.v[1, 0], deg=True) == pytest.approx(-30, abs=2)
    assert abs(flow.i[1].sum()) < 1e-6, "the delta keeps the neutral current to itself"


def test_wye_wye_passes_the_neutral_current(circuit):
    flow = behind_a_transformer(wye_wye(480, 208, Z_T), Z_P, Z_S, ZN_S, MIXED, EMF)
    four_wire_ends(circuit, EMF, Z_P, Z_S, ZN_S, MIXED)
    circuit.impedance("0N", "1N", Z_P)
    for k in range(3):
        circuit.core((point(1, k), "1N", 480), (f"w{k}", "2N", 208))
        circuit.impedance(f"w{k}", point(2, k), Z_T)
    circuit.source("2N", "0", 0)
    compare(flow, circuit)
    assert abs(flow.i[1].sum()) > 1


def test_delta_delta(circuit):
    """Equal single-phase units: leakage of each unit is three times the per-phase figure."""
    flow = behind_a_transformer(delta_delta(480, 240, Z_T), Z_P, Z_S, ZN_S, LINE_TO_LINE, EMF)
    four_wire_ends(circuit, EMF, Z_P, Z_S, ZN_S, LINE_TO_LINE)
    circuit.source("2C", "0", 0)
    circuit.source("3N", "0", 0)
    for k, (a, b) in enumerate(((0, 1), (1, 2), (2, 0))):
        circuit.core((point(1, a), point(1, b), 480), (f"w{k}", point(2, b), 240))
        circuit.impedance(f"w{k}", point(2, a), 3 * Z_T)
    compare(flow, circuit, neutral=False)


def test_wye_delta_with_a_floating_primary_neutral(circuit):
    flow = behind_a_transformer(wye_delta(480, 240, Z_T), Z_P, Z_S, ZN_S, LINE_TO_LINE, EMF)
    four_wire_ends(circuit, EMF, Z_P, Z_S, ZN_S, LINE_TO_LINE)
    circuit.source("2C", "0", 0)
    circuit.source("3N", "0", 0)
    for k, (a, b) in enumerate(((0, 1), (1, 2), (2, 0))):
        circuit.core((point(1, k), "star", 480 / sqrt(3)), (f"w{k}", point(2, b), 240))
        circuit.impedance(f"w{k}", point(2, a), 3 * Z_T)
    volts = circuit.solve()
    for k in range(3):
        assert abs(flow.i[1, k]) == pytest.approx(abs(volts[point(0, k)] - volts[point(1, k)]) / abs(Z_P), rel=1e-5)
    for a, b in ((0, 1), (1, 2), (2, 0)):
        expected = abs(volts[point(3, a)] - volts[point(3, b)])
        assert abs(flow.v[3, a] - flow.v[3, b]) == pytest.approx(expected, rel=1e-7)


def test_center_tapped_transformer_as_three_windings(circuit):
    """Three-winding equivalent of the distribution literature (W. H. Kersting, interlaced secondaries): of the leakage
    R + jX on the rating, 0.5 R + j0.8 X in the primary and R + j0.4 X in each half on the half winding's base."""
    r, x = 0.02, 0.03  # ohms of the whole 240 V winding
    loads = unbalanced((0, -1, 5000 + 2000j), (1, -1, 1000), (0, 1, 8000 + 1000j))
    flow = behind_a_transformer(
        center_tapped(480, 240, complex(r, x), (1, 2), 1.5, 1.2), Z_P, Z_S, ZN_S, loads, EMF
    )  # fmt: skip
    four_wire_ends(circuit, EMF, Z_P, Z_S, ZN_S, loads, columns=(0, 1))
    circuit.impedance("1B", "wp", complex(0.5 * r, 0.8 * x) * (480 / 240) ** 2)
    circuit.core(("wp", "1C", 480), ("w0", "2N", 120), ("2N", "w1", 120))
    circuit.impedance("w0", "2A", complex(r, 0.4 * x) / 4)
    circuit.impedance("w1", "2B", complex(r, 0.4 * x) / 4)
    circuit.source("2N", "0", 0)
    circuit.impedance("0A", "0", 1e9)
    volts = circuit.solve()
    for k in range(2):
        assert abs(flow.v[3, k]) == pytest.approx(abs(volts[point(3, k)] - volts["3N"]), rel=1e-7)
        assert abs(flow.i[3, k]) == pytest.approx(abs(volts[point(2, k)] - volts[point(3, k)]) / abs(Z_S), rel=1e-5)
    for k in (1, 2):
        assert flow.i[1, k] == pytest.approx((volts[point(0, k)] - volts[point(1, k)]) / Z_P, rel=1e-5)
    assert flow.i[1, 0] == 0


@pytest.mark.parametrize("across", [(0, 1), (2, 0), (2, -1)])
def test_two_winding_transformer(circuit, across):
    v_primary = 480 if across[1] >= 0 else 480 / sqrt(3)
    loads = unbalanced((0, -1, 2000 + 500j))
    flow = behind_a_transformer(single_phase(v_primary, 120, Z_T, across), Z_P, Z_S, ZN_S, loads, EMF)
    four_wire_ends(circuit, EMF, Z_P, Z_S, ZN_S, loads, columns=(0,))
    circuit.impedance("0N", "1N", Z_P)
    circuit.core((point(1, across[0]), point(1, across[1]), v_primary), ("w", "2N", 120))
    circuit.impedance("w", "2A", Z_T)
    circuit.source("2N", "0", 0)
    volts = circuit.solve()
    assert flow.v[3, 0] == pytest.approx(volts["3A"] - volts["3N"], rel=1e-7)
    for k in range(3):
        assert flow.i[1, k] == pytest.approx((volts[point(0, k)] - volts[point(1, k)]) / Z_P, rel=1e-5, abs=1e-6)


def test_a_load_that_cannot_be_carried_has_no_solution():
    """Physics: over a resistance R at voltage E no more than E^2 / 4R can be delivered. 120 V over 1 ohm: 3600 W."""
    tree = make_tree(np.array([2, 2]), np.zeros(2, int), np.array([-1]), np.array([0]))

    def carried(watts: float):
        loads = Loads(np.array([1]), np.array([0]), np.array([-1]), np.array([complex(watts)]))
        return solve_flow(tree, np.array([WYE * 120]), np.array([0, 1.0]), np.zeros(2), loads, {})

    for watts in (100.0, 3000.0, 3500.0):
        flow = carried(watts)
        assert flow.settled.all()
        volts = 60 + sqrt(3600 - watts)  # larger root of V (120 - V) / 1 = P
        assert flow.v[1, 0].real == pytest.approx(volts, rel=1e-6)
    assert not carried(3700.0).settled.any()


def test_one_tree_without_a_solution_does_not_spoil_another():
    tree = make_tree(np.array([2, 2, 4, 4]), np.array([0, 0, 1, 1]), np.array([-1, -1]), np.array([0, 0]))
    loads = Loads(np.array([1, 3]), np.array([0, 0]), np.array([-1, -1]), np.array([50_000 + 0j, 100]))
    flow = solve_flow(tree, np.array([WYE * 120] * 2), np.array([0, 1.0, 0, 1.0]), np.zeros(4), loads, {})
    assert flow.settled.tolist() == [False, False, True, True]
    assert flow.v[3, 0].real == pytest.approx(60 + sqrt(3500), rel=1e-6)
    assert np.isfinite(flow.v).all()


def test_what_hangs_on_the_first_node_of_a_tree_without_a_solution_is_of_that_tree():
    """A zone behind a transformer at the source itself is told with the rest of its tree: not settled."""
    tree = make_tree(np.array([4, 2, 4, 4]), np.array([0, 0, 1, 1]), np.array([-1, 0]), np.array([0, 1]))
    loads = Loads(np.array([1, 3]), np.array([0, 0]), np.array([-1, -1]), np.array([50_000 + 0j, 100]))
    couplings = {1: wye_wye(120, 120, 0.01j)}
    ohms = np.array([0, 1.0, 0, 1.0])
    flow = solve_flow(tree, np.array([WYE * 120] * 2), ohms, np.zeros(4), loads, couplings)
    assert flow.settled.tolist() == [False] * 4
    lighter = replace(loads, va=np.array([1000 + 0j, 100]))
    assert solve_flow(tree, np.array([WYE * 120] * 2), ohms, np.zeros(4), lighter, couplings).settled.all()


def test_nothing_to_solve():
    empty = np.zeros(0, int)
    tree = make_tree(empty, empty, empty, empty)
    none = Loads(empty, empty, empty, np.zeros(0, complex))
    flow = solve_flow(tree, np.zeros((0, 3), complex), np.zeros(0), np.zeros(0), none, {})
    assert flow.v.shape == (0, 3)


def test_a_load_across_nothing_has_no_answer():
    """Physics: between points of one potential no current delivers power. Said of the load's own tree, without warnings."""
    tree, _ = one_zone(2, random.Random(0))
    loads = Loads(np.array([1]), np.array([0]), np.array([1]), np.array([1000.0 + 0j]))
    flow = solve_flow(tree, np.array([[1.0, 1.0, 1.0]], complex), np.array([0, 0.01j]), np.array([0, 0.01j]), loads, {})
    assert not flow.settled.any()
    between = Loads(np.array([1]), np.array([0]), np.array([1]), np.array([1.0 + 0j]))
    volts = np.array([[120.0, -120.0, 0.0]], complex)
    assert solve_flow(tree, volts, np.array([0, 0.01j]), np.array([0, 0.01j]), between, {}).settled.all()
