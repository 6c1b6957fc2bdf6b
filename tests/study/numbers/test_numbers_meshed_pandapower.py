"""Meshed networks against pandapower: ``runpp``, ``runpp_3ph`` and ``calc_sc`` with three-phase, two-phase and single-phase
faults, on 24 random networks of 3 to 40 buses (tests/oracles/meshed_networks.py): closed ties, delta-wye transformers in
loops and in parallel, a second service on some (faults only).

Agreed tolerance: 1e-6; 1e-4 for ``runpp_3ph``, which wants an external grid and a magnetizing branch in the zero sequence
that can be made small but not left out (about 1e-5 remain). Where the models differ, and how they are one, beside what
test_numbers_balanced.py says of c, K_T and conductor temperature:

* ``runpp`` is balanced: the same loads, a third on each phase, on both sides. ``runpp_3ph`` has no neutral conductor but
  zero-sequence impedances, z0 = z + 3 zn, which is the same in loops only for neutrals of one ratio to their phases
  (here: of the same size), and wants a finite external grid in the zero sequence; it is made a thousand times stronger.
* Both keep the voltage of an external grid whatever it carries. Of two services each shares by its own impedance here,
  so load flows are compared with one service.
* IEC 60909 corrects the zero-sequence impedance of transformers by K_T too, and its single-phase fault is
  sqrt(3) c V / |2 z1 + z0|, which is line to neutral with z_ln = (2 z1 + z0) / 3.
"""

from __future__ import annotations

import random
from math import sqrt

import numpy as np
import pytest
from meshed_networks import random_meshed

pp = pytest.importorskip("pandapower")
#: c of IEC 60909 for the largest current at low voltage with 10 % tolerance.
C = 1.1
SEEDS = range(24)


def grid_of(mesh, cold: bool, stiff: bool):
    """A pandapower network: without loads for faults (``cold``), else without them too: they are added by the tests."""
    net = mesh.net
    grid = pp.create_empty_network(f_hz=60.0, sn_mva=0.1)
    pp.create_buses(grid, len(net.nodes), vn_kv=np.array([n.v_ll for n in net.nodes]) / 1000)
    for at, ka, x_r in mesh.sources():
        mva = C * sqrt(3) * net.nodes[at].v_ll * ka / 1000 * (1e3 if stiff else 1)
        pp.create_ext_grid(
            grid, at, s_sc_max_mva=mva, s_sc_min_mva=mva, rx_max=1 / x_r, rx_min=1 / x_r, r0x0_max=1 / x_r, x0x_max=1.0,
            r0x0_min=1 / x_r, x0x_min=1.0,
        )  # fmt: skip
    for a, b, node in mesh.runs():
        z, zn = node.ohms(25 if cold else 75), node.ohms(25 if cold else 75, neutral=True)
        z0 = z + 3 * zn
        pp.create_line_from_parameters(
            grid, a, b, length_km=1.0, r_ohm_per_km=z.real, x_ohm_per_km=z.imag, c_nf_per_km=0.0, max_i_ka=1.0,
            endtemp_degree=20.0, r0_ohm_per_km=z0.real, x0_ohm_per_km=z0.imag, c0_nf_per_km=0.0,
        )  # fmt: skip
    for a, b, node in mesh.transformers():
        kva, z_pct, x_r = node.transformer
        if cold:  # what K_T = 0.95 c / (1 + 0.6 x_T) turns into z_pct
            z_pct = z_pct / (0.95 * C - 0.6 * x_r / sqrt(1 + x_r**2) * z_pct / 100)
        r_pct = z_pct / sqrt(1 + x_r**2)
        pp.create_transformer_from_parameters(
            grid, a, b, sn_mva=kva / 1000, vn_hv_kv=net.nodes[a].v_ll / 1000, vn_lv_kv=node.v_ll / 1000,
            vk_percent=z_pct, vkr_percent=r_pct, pfe_kw=0.0, i0_percent=0.0, shift_degree=30.0, vector_group="Dyn",
            vk0_percent=z_pct, vkr0_percent=r_pct, mag0_percent=1e6, mag0_rx=0.0, si0_hv_partial=0.9,
        )  # fmt: skip
    return grid


def meshes(reference, balanced: bool):
    for seed in SEEDS:
        size = round(3 * 13 ** random.Random(seed).random())
        yield seed, random_meshed(seed, reference, size, balanced)


@pytest.mark.parametrize(("fault", "tolerance"), [("3ph", 1e-6), ("2ph", 1e-6), ("1ph", 1e-6)])
def test_faults(fault, tolerance, reference):
    import pandapower.shortcircuit as sc

    for seed, mesh in meshes(reference, True):
        _, numbers, at = mesh.numbers(random.Random(seed))
        grid = grid_of(mesh, cold=True, stiff=False)
        sc.calc_sc(grid, fault=fault, case="max", lv_tol_percent=10, ip=False, ith=False, branch_results=False)
        theirs = grid.res_bus_sc.ikss_ka.to_numpy() * 1000 / C
        column = {"3ph": numbers.fault_a, "2ph": numbers.fault_ll_a, "1ph": numbers.fault_ln_a}[fault]
        assert [column[n] for n in at] == pytest.approx(theirs, rel=tolerance), seed


def test_balanced_load_flow(reference):
    looped = 0
    for seed, mesh in meshes(reference, True):
        if mesh.second:
            continue
        ctx, numbers, at = mesh.numbers(random.Random(seed))
        grid = grid_of(mesh, cold=False, stiff=False)
        power = mesh.power().sum(axis=1)
        pp.create_loads(grid, range(len(at)), p_mw=power.real / 1e6, q_mvar=power.imag / 1e6)
        pp.runpp(grid, numba=False, tolerance_mva=1e-9, calculate_voltage_angles=True, max_iteration=30)
        theirs = grid.res_bus.vm_pu.to_numpy() * np.array([n.v_ll for n in mesh.net.nodes]) / sqrt(3)
        for p in "ABC":
            assert [numbers.voltage_v[n][p] for n in at] == pytest.approx(theirs, rel=1e-6), seed
        for n, (_, _, node) in enumerate(mesh.ties):
            if node.run:
                row = list(mesh.runs()).index(mesh.ties[n])
                assert numbers.branch_current_a(f"tie{n}")["A"] == pytest.approx(
                    grid.res_line.i_to_ka.to_numpy()[row] * 1000, rel=1e-5, abs=1e-4
                ), seed
        looped += len(ctx.feeding.loop_branches)
    assert looped > 20


def test_unbalanced_load_flow(reference):
    solved = 0
    for seed, mesh in meshes(reference, False):
        if mesh.second:
            continue
        _, numbers, at = mesh.numbers(random.Random(seed))
        grid = grid_of(mesh, cold=False, stiff=True)
        power = mesh.power()
        for k, row in enumerate(power):
            if row.any():
                p, q = row.real / 1e6, row.imag / 1e6
                pp.create_asymmetric_load(
                    grid, k, p_a_mw=p[0], p_b_mw=p[1], p_c_mw=p[2], q_a_mvar=q[0], q_b_mvar=q[1], q_c_mvar=q[2]
                )  # fmt: skip
        try:
            pp.runpp_3ph(grid, numba=False, tolerance_mva=1e-9, max_iteration=100)
        except pp.powerflow.LoadflowNotConverged:
            continue
        solved += 1
        columns = ["vm_a_pu", "vm_b_pu", "vm_c_pu"]
        theirs = grid.res_bus_3ph[columns].to_numpy() * np.array([n.v_ll for n in mesh.net.nodes])[:, None] / sqrt(3)
        ours = np.array([[numbers.voltage_v[n][p] for p in "ABC"] for n in at], float)
        assert ours == pytest.approx(theirs, rel=1e-4), seed
    assert solved > 8
