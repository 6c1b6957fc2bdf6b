"""Load flow, voltage drop and three-phase fault current of random radial networks against two general solvers:
pandapower (newton-raphson ``runpp``, IEC 60909 ``calc_sc``) and power-grid-model (symmetrical load flow, short circuit).

200 networks of 1 to 300 buses, from a drawing through the same functions the product uses. The models agree but for what
is normalised here:

* Equivalent voltage: the product takes the nominal voltage (E / Z, IEEE practice). IEC 60909 multiplies by c, so the
  currents of power-grid-model are divided by its c (1.1 below 1 kV); pandapower also puts c into the impedance of the
  external grid, so its fault power is given as c times ours and its currents are divided by c.
* pandapower corrects transformer impedances by K_T of IEC 60909; the impedance given to it is divided by that factor.
* Conductor temperature: the largest fault is taken at 25 degrees C here, IEC 60909 says 20; both solvers are given the
  resistances at 25 (pandapower with ``endtemp_degree`` 20, which leaves them alone in its maximum case).
* Transformers have no magnetizing branch and no tolerance here (a tested impedance).
"""

from __future__ import annotations

import copy
import functools
import random

import numpy as np
import pytest

pgm = pytest.importorskip("power_grid_model")

#: c of IEC 60909 for the largest current at low voltage with 10 % tolerance.
PANDAPOWER_C = 1.1
BLOCKS = 10
PER_BLOCK = 20
#: The issue asks for 0.1 %; these are the same equations, so far less is left.
TOLERANCE = 1e-6


def networks(block: int, reference):
    """The 20 networks of a block: 1 to 300 buses, every third one with transformers."""
    for number in range(block * PER_BLOCK, (block + 1) * PER_BLOCK):
        rng = random.Random(number)
        buses = 300 if number % 50 == 0 else 1 if number == 7 else round(300 ** rng.random())
        yield number, rng, reference.random_network(rng, buses, transformers=number % 3 == 0, balanced=True)


def runs_and_transformers(net):
    runs = [(k, n) for k, n in enumerate(net.nodes) if n.run]
    return runs, [(k, n) for k, n in enumerate(net.nodes) if n.transformer]


def balanced_load(node) -> complex:
    return sum((va * complex(pf, np.sqrt(1 - pf**2)) for _, va, pf in node.loads), 0j)


def ours(net, rng):
    """Volts line to line, amperes into each bus, and three-phase fault amperes, by bus."""
    _, numbers, at = net.numbers(rng)
    for node in at:
        assert not numbers.fault_needs(node)
        assert not numbers.drop_needs(node)
    volts = np.array([[numbers.voltage_v[n][p] for p in "ABC"] for n in at]) * np.sqrt(3)
    amperes = np.array([[numbers.current_a[n][p] for p in "ABC"] for n in at])
    faults = np.array([numbers.fault_a[n] for n in at])
    drops = np.array([numbers.drop_pct[n] for n in at])
    return volts, amperes, faults, drops


# -------------------------------------------------------------------------------------------------- power-grid-model
def pgm_input(net, temperature_c: float, stiff: bool):
    """Arrays of power-grid-model for a network."""
    from power_grid_model import ComponentType as C
    from power_grid_model import DatasetType, LoadGenType, WindingType, initialize_array

    runs, transformers = runs_and_transformers(net)
    node = initialize_array(DatasetType.input, C.node, len(net.nodes))
    node["id"] = np.arange(len(net.nodes))
    node["u_rated"] = [n.v_ll for n in net.nodes]
    line = initialize_array(DatasetType.input, C.line, len(runs))
    z = np.array([n.ohms(temperature_c) for _, n in runs], complex)
    for name, value in (
        ("id", [1000 + k for k, _ in runs]), ("from_node", [n.parent for _, n in runs]), ("to_node", [k for k, _ in runs]),
        ("from_status", 1), ("to_status", 1), ("r1", z.real), ("x1", z.imag), ("c1", 0), ("tan1", 0),
        ("r0", 3 * z.real), ("x0", 3 * z.imag), ("c0", 0), ("tan0", 0),
    ):  # fmt: skip
        line[name] = value
    source = initialize_array(DatasetType.input, C.source, 1)
    for name, value in (
        ("id", 5000), ("node", 0), ("status", 1), ("u_ref", 1.0), ("rx_ratio", 1 / net.x_r), ("z01_ratio", 1.0),
        ("sk", 1e15 if stiff else np.sqrt(3) * net.nodes[0].v_ll * net.fault_ka * 1000),
    ):  # fmt: skip
        source[name] = value
    load = initialize_array(DatasetType.input, C.sym_load, len(net.nodes))
    power = np.array([balanced_load(n) for n in net.nodes])
    for name, value in (
        ("id", 2000 + np.arange(len(net.nodes))), ("node", np.arange(len(net.nodes))), ("status", 1),
        ("type", LoadGenType.const_power), ("p_specified", power.real), ("q_specified", power.imag),
    ):  # fmt: skip
        load[name] = value
    data = {C.node: node, C.line: line, C.source: source, C.sym_load: load}
    if transformers:
        t = initialize_array(DatasetType.input, C.transformer, len(transformers))
        kva, z_pct, x_r = np.array([n.transformer for _, n in transformers]).T
        for name, value in (
            ("id", [3000 + k for k, _ in transformers]), ("from_node", [n.parent for _, n in transformers]),
            ("to_node", [k for k, _ in transformers]), ("from_status", 1), ("to_status", 1),
            ("u1", [net.nodes[n.parent].v_ll for _, n in transformers]), ("u2", [n.v_ll for _, n in transformers]),
            ("sn", kva * 1000), ("uk", z_pct / 100), ("pk", kva * 1000 * z_pct / 100 / np.sqrt(1 + x_r**2)),
            ("i0", 0), ("p0", 0), ("winding_from", WindingType.delta), ("winding_to", WindingType.wye_n), ("clock", 1),
            ("tap_side", 0), ("tap_pos", 0), ("tap_min", 0), ("tap_max", 0), ("tap_nom", 0), ("tap_size", 0),
        ):  # fmt: skip
            t[name] = value
        data[C.transformer] = t
    return data


def pgm_flow(net):
    model = pgm.PowerGridModel(pgm_input(net, 75, stiff=True), system_frequency=60)
    result = model.calculate_power_flow(error_tolerance=1e-12, max_iterations=50)
    runs, transformers = runs_and_transformers(net)
    amperes = np.zeros(len(net.nodes))
    if runs:
        amperes[[k for k, _ in runs]] = result["line"]["i_to"]
    if transformers:
        amperes[[k for k, _ in transformers]] = result["transformer"]["i_to"]
    return result["node"]["u"], amperes


def pgm_faults(net):
    from power_grid_model import ComponentType as C
    from power_grid_model import DatasetType, FaultPhase, FaultType, initialize_array

    data = pgm_input(net, 25, stiff=False)
    data.pop(C.sym_load)
    one = initialize_array(DatasetType.input, C.fault, 1)
    for name, value in (
        ("id", 9000), ("status", 1), ("fault_object", 0), ("fault_type", FaultType.three_phase),
        ("fault_phase", FaultPhase.abc), ("r_f", 0), ("x_f", 0),
    ):  # fmt: skip
        one[name] = value
    model = pgm.PowerGridModel({**data, C.fault: one}, system_frequency=60)
    moves = initialize_array(DatasetType.update, C.fault, (len(net.nodes), 1))
    moves["id"] = 9000
    moves["fault_object"] = np.arange(len(net.nodes))[:, None]
    result = model.calculate_short_circuit(update_data={C.fault: moves})
    return result["fault"]["i_f"][:, 0, 0] / 1.1


# -------------------------------------------------------------------------------------------------------- pandapower
@functools.cache
def empty_grid():
    import pandapower as pp

    return pp.create_empty_network(f_hz=60.0, sn_mva=0.1)


def pandapower_net(net):
    import pandapower as pp

    grid = copy.deepcopy(empty_grid())
    pp.create_buses(grid, len(net.nodes), vn_kv=np.array([n.v_ll for n in net.nodes]) / 1000)
    mva = PANDAPOWER_C * np.sqrt(3) * net.nodes[0].v_ll * net.fault_ka / 1000
    pp.create_ext_grid(grid, 0, s_sc_max_mva=mva, s_sc_min_mva=mva, rx_max=1 / net.x_r, rx_min=1 / net.x_r)
    runs, transformers = runs_and_transformers(net)
    if runs:
        z = np.array([n.ohms(75) for _, n in runs])
        pp.create_lines_from_parameters(
            grid, [n.parent for _, n in runs], [k for k, _ in runs], length_km=1.0, r_ohm_per_km=z.real,
            x_ohm_per_km=z.imag, c_nf_per_km=0.0, max_i_ka=1.0, endtemp_degree=20.0,
        )  # fmt: skip
    if transformers:
        kva, z_pct, x_r = np.array([n.transformer for _, n in transformers]).T
        r_pct = z_pct / np.sqrt(1 + x_r**2)
        pp.create_transformers_from_parameters(
            grid, [n.parent for _, n in transformers], [k for k, _ in transformers], sn_mva=kva / 1000,
            vn_hv_kv=np.array([net.nodes[n.parent].v_ll for _, n in transformers]) / 1000,
            vn_lv_kv=np.array([n.v_ll for _, n in transformers]) / 1000, vk_percent=z_pct, vkr_percent=r_pct, pfe_kw=0.0,
            i0_percent=0.0, shift_degree=30.0, vk0_percent=z_pct,
            vkr0_percent=r_pct, mag0_percent=100.0, mag0_rx=0.0, si0_hv_partial=0.9,
        )  # fmt: skip
    power = np.array([balanced_load(n) for n in net.nodes])
    pp.create_loads(grid, range(len(net.nodes)), p_mw=power.real / 1e6, q_mvar=power.imag / 1e6)
    return grid


def pandapower_flow(net, grid):
    import pandapower as pp

    pp.runpp(grid, numba=False, tolerance_mva=1e-9, calculate_voltage_angles=True, max_iteration=30)
    runs, transformers = runs_and_transformers(net)
    amperes = np.zeros(len(net.nodes))
    if runs:
        amperes[[k for k, _ in runs]] = grid.res_line.i_to_ka.to_numpy() * 1000
    if transformers:
        amperes[[k for k, _ in transformers]] = grid.res_trafo.i_lv_ka.to_numpy() * 1000
    return grid.res_bus.vm_pu.to_numpy() * np.array([n.v_ll for n in net.nodes]), amperes


def without_correction(z_pct, x_r):
    """The impedance that IEC 60909's K_T = 0.95 c / (1 + 0.6 x_T) turns into ``z_pct``: z K_T(z) = wanted, solved for z."""
    x_part = x_r / np.sqrt(1 + x_r**2)
    return z_pct / (0.95 * PANDAPOWER_C - 0.6 * x_part * z_pct / 100)


def pandapower_faults(net, grid):
    import pandapower.shortcircuit as sc

    runs, transformers = runs_and_transformers(net)
    if runs:
        grid.line["r_ohm_per_km"] = [n.ohms(25).real for _, n in runs]
    if transformers:
        _, z_pct, x_r = np.array([n.transformer for _, n in transformers]).T
        raised = without_correction(z_pct, x_r)
        grid.trafo["vk_percent"] = raised
        grid.trafo["vkr_percent"] = raised / np.sqrt(1 + x_r**2)
    sc.calc_sc(grid, fault="3ph", case="max", lv_tol_percent=10, ip=False, ith=False, branch_results=False)
    return grid.res_bus_sc.ikss_ka.to_numpy() * 1000 / PANDAPOWER_C


# -------------------------------------------------------------------------------------------------------------- tests
@pytest.mark.parametrize("block", range(BLOCKS))
def test_against_power_grid_model(block, reference):
    for number, rng, net in networks(block, reference):
        volts, amperes, faults, drops = ours(net, rng)
        u, i = pgm_flow(net)
        assert volts == pytest.approx(np.repeat(u[:, None], 3, axis=1), rel=TOLERANCE), number
        for phase in range(3):
            assert amperes[1:, phase] == pytest.approx(i[1:], rel=1e-5, abs=1e-6), number
        assert faults == pytest.approx(pgm_faults(net), rel=TOLERANCE), number
        heads = np.arange(len(net.nodes))
        for k, node in enumerate(net.nodes):
            heads[k] = k if node.parent < 0 or node.transformer else heads[node.parent]
        nominal = np.array([n.v_ll for n in net.nodes])
        assert drops == pytest.approx(100 * (u[heads] - u) / nominal, abs=1e-6), number


@pytest.mark.parametrize("block", range(BLOCKS))
def test_against_pandapower(block, reference):
    pytest.importorskip("pandapower")
    for number, rng, net in networks(block, reference):
        volts, amperes, faults, _ = ours(net, rng)
        grid = pandapower_net(net)
        u, i = pandapower_flow(net, grid)
        assert volts == pytest.approx(np.repeat(u[:, None], 3, axis=1), rel=TOLERANCE), number
        for phase in range(3):
            assert amperes[1:, phase] == pytest.approx(i[1:], rel=1e-5, abs=1e-6), number
        assert faults == pytest.approx(pandapower_faults(net, grid), rel=TOLERANCE), number
