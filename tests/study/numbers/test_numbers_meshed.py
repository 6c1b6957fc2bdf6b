"""Meshed networks against power-grid-model: unbalanced load flow, three-phase, two-phase and single-phase faults.

80 random networks of 3 to 60 buses with one to four closed ties, delta-wye transformers in the loops and in parallel, and
on every third a second service; loads of one phase or none on each, from line to neutral. Agreed tolerance: 1e-6 of the
figure (1e-5 for currents, which the other solver gives to fewer places). Where the models differ, and how they are one:

* power-grid-model has no neutral conductor but a zero-sequence impedance z0 = z + 3 zn, which makes the neutral current of
  every branch the sum of its own phases. In a loop the neutral current really divides by the neutrals' impedances. Both
  say the same where all neutrals bear one ratio to their phases: here they are of the same size. Other ratios are held
  against a circuit with every conductor of its own (test_numbers_mesh_circuit.py).
* Its sources have an impedance in the load flow too. One service alone holds its voltage here, so it is given none
  (1e15 VA); of two services each has its impedance on both sides, because that decides how they share the load.
* Faults: its factor c (1.1) is divided out; zero sequence of a source equals its positive sequence on both sides.
* Transformers: Dyn1, zero sequence equal to the leakage, no magnetizing branch and no tolerance here (tested).
"""

from __future__ import annotations

import random
from dataclasses import replace
from types import MappingProxyType

import numpy as np
import pytest
from meshed_networks import pgm_arrays, random_meshed

from oneline.model import ConductorRun, Drawing, Transformer, UtilityService
from oneline.study.context import Context

pgm = pytest.importorskip("power_grid_model")
BLOCKS = 4
PER_BLOCK = 20


def networks(block: int, reference):
    for seed in range(block * PER_BLOCK, (block + 1) * PER_BLOCK):
        size = round(3 * 20 ** random.Random(seed).random())
        yield seed, random_meshed(seed, reference, size, balanced=False)


@pytest.mark.parametrize("block", range(BLOCKS))
def test_unbalanced_load_flow(block, reference):
    from power_grid_model.errors import IterationDiverge

    looped = solved = 0
    for seed, mesh in networks(block, reference):
        ctx, numbers, at = mesh.numbers(random.Random(seed))
        model = pgm.PowerGridModel(pgm_arrays(mesh, 75, stiff=mesh.second is None), system_frequency=60)
        try:
            result = model.calculate_power_flow(
                symmetric=False, error_tolerance=1e-11, max_iterations=200, calculation_method="iterative_current"
            )
        except IterationDiverge:
            continue
        solved += 1
        looped += len(ctx.feeding.loop_branches)
        volts = np.array([[numbers.voltage_v[n][p] for p in "ABC"] for n in at], float)
        assert volts == pytest.approx(result["node"]["u"], rel=1e-6), seed
        for kind, branches in (("line", mesh.runs()), ("transformer", mesh.transformers())):
            for row, (_, b, node) in zip(result[kind] if branches else (), branches, strict=True):
                own = node is mesh.net.nodes[b]
                tie = next((n for n, t in enumerate(mesh.ties) if t[2] is node), None)
                key = (
                    {"line": "run", "transformer": "t"}[kind] + str(b)
                    if own
                    else f"{'tie' if kind == 'line' else 'tt'}{tie}"
                )
                ours = numbers.branch_current_a(key)
                # A transformer in the forest may be fed from its secondary: its current is then that of the other side.
                theirs = row["i_to"]
                load = ctx.feeding.load_node(key)
                if kind == "transformer" and load is not None and load != at[b]:
                    theirs = row["i_from"]
                assert [ours[p] for p in "ABC"] == pytest.approx(theirs, rel=1e-5, abs=1e-4), (seed, key)
    assert looped > 10
    assert solved > PER_BLOCK * 0.8


@pytest.mark.parametrize("kind", ["three_phase", "two_phase", "single_phase_to_ground"])
@pytest.mark.parametrize("block", range(BLOCKS))
def test_faults(block, kind, reference):
    from power_grid_model import ComponentType as C
    from power_grid_model import DatasetType, FaultPhase, FaultType, initialize_array

    for seed, mesh in networks(block, reference):
        _, numbers, at = mesh.numbers(random.Random(seed))
        data = pgm_arrays(mesh, 25, stiff=False)
        data.pop(C.asym_load)
        phase = {"three_phase": FaultPhase.abc, "two_phase": FaultPhase.ab}.get(kind, FaultPhase.a)
        one = initialize_array(DatasetType.input, C.fault, 1)
        for name, value in (
            ("id", 9000), ("status", 1), ("fault_object", 0), ("fault_type", FaultType[kind]), ("fault_phase", phase),
            ("r_f", 0), ("x_f", 0),
        ):  # fmt: skip
            one[name] = value
        model = pgm.PowerGridModel({**data, C.fault: one}, system_frequency=60)
        moves = initialize_array(DatasetType.update, C.fault, (len(at), 1))
        moves["id"] = 9000
        moves["fault_object"] = np.arange(len(at))[:, None]
        result = model.calculate_short_circuit(update_data={C.fault: moves})
        theirs = result["fault"]["i_f"][:, 0, 0] / 1.1
        column = {"three_phase": numbers.fault_a, "two_phase": numbers.fault_ll_a}.get(kind, numbers.fault_ln_a)
        assert [column[n] for n in at] == pytest.approx(theirs, rel=1e-6), (seed, kind)
        assert not any(numbers.fault_needs(n) for n in at)


def wiped(item, rng: random.Random):
    """The item with a fact of it gone, now and then."""
    choice = None
    if isinstance(item, ConductorRun) and rng.random() < 0.12:
        choice = rng.choice(("length_ft", "size", "material", "sets", "neutral_size", "raceway"))
    elif isinstance(item, Transformer) and rng.random() < 0.3:
        choice = rng.choice(("kva", "z_pct", "x_r", "connection"))
    elif isinstance(item, UtilityService) and rng.random() < 0.4:
        choice = rng.choice(("fault_ka", "fault_x_r", "fault_x_r"))
    return item if choice is None else replace(item, **{choice: None})


@pytest.mark.parametrize("block", range(BLOCKS))
def test_unknown_facts_take_figures_away_and_leave_bounds(block, reference):
    """Facts wiped out at random: a figure is then not known, or the same as before (or, where only X/R is missing, the
    one of all reactance between its bounds); its bounds hold the true figure whatever is missing."""
    gone = bounded = 0
    for seed, mesh in networks(block, reference):
        rng = random.Random(seed)
        whole = mesh.drawing(rng)
        items = {i.id: wiped(i, rng) for i in whole.items.values()}
        truth = Context(whole, "proposed", 2023)
        partly = Context(Drawing(items=MappingProxyType(items)), "proposed", 2023)
        full, part = truth.numbers, partly.numbers
        for node in truth.feeding.order:
            names = ("fault_a", "fault_bound_a"), ("fault_ln_a", "fault_ln_bound_a")
            for name, bound in names:
                true, seen, limit = (getattr(n, c)[node] for n, c in ((full, name), (part, name), (part, bound)))
                if seen is None:
                    gone += 1
                    need = part.fault_needs(node) if name == "fault_a" else part.line_neutral_needs(node)
                    assert need or true is None, (seed, node, name)
                elif not part.x_r_needs(node):
                    assert seen == pytest.approx(true, rel=1e-6), (seed, node, name)
                if limit is not None and true is not None:
                    bounded += seen is None
                    assert limit >= true * (1 - 1e-6), (seed, node, name)
            least = part.fault_least_a[node]
            assert least is None or least <= full.fault_a[node] * (1 + 1e-6), (seed, node)
            volts = part.voltage_v[node]
            if None not in volts.values():
                for p, v in full.voltage_v[node].items():
                    assert volts[p] == pytest.approx(v, rel=0.02), (seed, node)
            elif part.drop_pct[node] is None:
                assert part.drop_needs(node), (seed, node)
            if None in part.current_a[node].values():
                assert part.current_needs(node), (seed, node)
    assert gone > 200
    assert bounded > 50
