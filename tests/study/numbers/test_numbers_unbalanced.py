"""Unbalanced load flow and unsymmetrical faults of random four-wire networks against power-grid-model (asymmetrical).

60 networks of 1 to 120 buses from a drawing. Where the models differ, and how they are made one: power-grid-model has no
neutral conductor but a zero-sequence impedance; with the neutral's own impedance zn it is z0 = z + 3 zn, and its voltages
to ground are then the voltages to the local neutral. Delta-wye transformers: vector group Dyn1, zero sequence equal to
the leakage. Loads are from line to neutral only, the other solver has no others. Faults: c is divided out; the source's
zero sequence equals its positive sequence, which is what the product takes for a utility's figure.
"""

from __future__ import annotations

import random

import numpy as np
import pytest

pgm = pytest.importorskip("power_grid_model")


def arrays(net, temperature_c: float, stiff: bool):
    from power_grid_model import ComponentType as C
    from power_grid_model import DatasetType, LoadGenType, WindingType, initialize_array

    def fill(component, count, **values):
        array = initialize_array(DatasetType.input, component, count)
        for name, value in values.items():
            array[name] = value
        return array

    runs = [(k, n) for k, n in enumerate(net.nodes) if n.run]
    transformers = [(k, n) for k, n in enumerate(net.nodes) if n.transformer]
    z = np.array([n.ohms(temperature_c) for _, n in runs], complex)
    z0 = z + 3 * np.array([n.ohms(temperature_c, neutral=True) for _, n in runs], complex)
    power = np.zeros((len(net.nodes), 3), complex)
    for k, node in enumerate(net.nodes):
        for phases, va, pf in node.loads:
            power[k, "ABC".index(phases)] += va * complex(pf, np.sqrt(1 - pf**2))
    sk = 1e15 if stiff else np.sqrt(3) * net.nodes[0].v_ll * net.fault_ka * 1000
    count = len(net.nodes)
    data = {
        C.node: fill(C.node, count, id=np.arange(count), u_rated=[n.v_ll for n in net.nodes]),
        C.line: fill(
            C.line, len(runs), id=[1000 + k for k, _ in runs], from_node=[n.parent for _, n in runs],
            to_node=[k for k, _ in runs], from_status=1, to_status=1, r1=z.real, x1=z.imag, c1=0, tan1=0, r0=z0.real,
            x0=z0.imag, c0=0, tan0=0,
        ),
        C.source: fill(
            C.source, 1, id=5000, node=0, status=1, u_ref=1.0, sk=sk, rx_ratio=1 / net.x_r, z01_ratio=1.0
        ),
        C.asym_load: fill(
            C.asym_load, count, id=2000 + np.arange(count), node=np.arange(count), status=1, type=LoadGenType.const_power,
            p_specified=power.real, q_specified=power.imag,
        ),
    }  # fmt: skip
    if transformers:
        kva, z_pct, x_r = np.array([n.transformer for _, n in transformers]).T
        data[C.transformer] = fill(
            C.transformer, len(transformers), id=[3000 + k for k, _ in transformers],
            from_node=[n.parent for _, n in transformers], to_node=[k for k, _ in transformers], from_status=1,
            to_status=1, u1=[net.nodes[n.parent].v_ll for _, n in transformers], u2=[n.v_ll for _, n in transformers],
            sn=kva * 1000, uk=z_pct / 100, pk=kva * 1000 * z_pct / 100 / np.sqrt(1 + x_r**2), i0=0, p0=0,
            winding_from=WindingType.delta, winding_to=WindingType.wye_n, clock=1, tap_side=0, tap_pos=0, tap_min=0,
            tap_max=0, tap_nom=0, tap_size=0,
        )  # fmt: skip
    return data


def networks(block: int, reference):
    for number in range(block * 15, (block + 1) * 15):
        rng = random.Random(4000 + number)
        yield number, rng, reference.random_network(rng, round(120 ** rng.random()), number % 2 == 0, balanced=False)


@pytest.mark.parametrize("block", range(4))
def test_unbalanced_load_flow(block, reference):
    neutral_seen = 0.0
    for number, rng, net in networks(block, reference):
        _, numbers, at = net.numbers(rng)
        model = pgm.PowerGridModel(arrays(net, 75, stiff=True), system_frequency=60)
        result = model.calculate_power_flow(symmetric=False, error_tolerance=1e-10, max_iterations=100)
        volts = np.array([[numbers.voltage_v[n][p] for p in "ABC"] for n in at])
        assert volts == pytest.approx(result["node"]["u"], rel=1e-6), number
        heads = list(range(len(net.nodes)))
        for k, node in enumerate(net.nodes):
            if node.run:
                heads[k] = heads[node.parent]
                row = result["line"][result["line"]["id"] == 1000 + k][0]
            elif node.transformer:
                row = result["transformer"][result["transformer"]["id"] == 3000 + k][0]
            else:
                continue
            ours = [numbers.current_a[at[k]][p] for p in "ABC"]
            assert ours == pytest.approx(row["i_to"], rel=1e-5, abs=1e-5), (number, k)
            phasor = np.conj(
                (row["p_to"] + 1j * row["q_to"]) / (result["node"]["u"][k] * np.exp(1j * result["node"]["u_angle"][k]))
            )
            assert numbers.neutral_a[at[k]] == pytest.approx(abs(phasor.sum()), rel=1e-4, abs=1e-4), (number, k)
            neutral_seen = max(neutral_seen, numbers.neutral_a[at[k]])
        # Worst of the drops line to neutral and line to line, each in percent of nominal, from the zone's head.
        phasors = result["node"]["u"] * np.exp(1j * result["node"]["u_angle"])
        lines = np.abs(phasors - np.roll(phasors, -1, axis=1))
        v_ll = np.array([n.v_ll for n in net.nodes])[:, None]
        to_neutral = 100 * (result["node"]["u"][heads] - result["node"]["u"]) / (v_ll / np.sqrt(3))
        worst = np.concatenate([to_neutral, 100 * (lines[heads] - lines) / v_ll], axis=1).max(axis=1)
        assert [numbers.drop_pct[n] for n in at] == pytest.approx(worst, abs=1e-5), number
    assert neutral_seen > 1


@pytest.mark.parametrize("kind", ["two_phase", "single_phase_to_ground"])
def test_unsymmetrical_faults(kind, reference):
    from power_grid_model import ComponentType as C
    from power_grid_model import DatasetType, FaultPhase, FaultType, initialize_array

    for block in range(4):
        for number, rng, net in networks(block, reference):
            _, numbers, at = net.numbers(rng)
            data = arrays(net, 25, stiff=False)
            data.pop(C.asym_load)
            one = initialize_array(DatasetType.input, C.fault, 1)
            for name, value in (
                ("id", 9000), ("status", 1), ("fault_object", 0), ("fault_type", FaultType[kind]),
                ("fault_phase", FaultPhase.ab if kind == "two_phase" else FaultPhase.a), ("r_f", 0), ("x_f", 0),
            ):  # fmt: skip
                one[name] = value
            model = pgm.PowerGridModel({**data, C.fault: one}, system_frequency=60)
            moves = initialize_array(DatasetType.update, C.fault, (len(net.nodes), 1))
            moves["id"] = 9000
            moves["fault_object"] = np.arange(len(net.nodes))[:, None]
            result = model.calculate_short_circuit(update_data={C.fault: moves})
            theirs = result["fault"]["i_f"][:, 0, 0] / 1.1
            column = numbers.fault_ll_a if kind == "two_phase" else numbers.fault_ln_a
            assert [column[n] for n in at] == pytest.approx(theirs, rel=1e-6), (number, kind)
