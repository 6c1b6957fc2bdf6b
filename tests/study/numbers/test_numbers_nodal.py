"""The nodal solution against the sum down the tree: on a radial network both are the same physics.

120 random radial networks (balanced and unbalanced, every second one with delta-wye transformers, 1 to 60 buses) are
solved twice: down the tree as always, and by nodes as if every node were on a loop. Agreed tolerance: 1e-9 of the figure.
"""

from __future__ import annotations

import random

import numpy as np
import pytest

from oneline.calc.flow import solve_flow
from oneline.study.numbers_core_flow import flow_core
from oneline.study.numbers_cores import build_cores
from oneline.study.numbers_flow import _all, _flow_heads, _loads
from oneline.study.numbers_forest import build_forest, zone_volts
from oneline.study.numbers_overlay import core_faults

TOLERANCE = 1e-9


@pytest.mark.parametrize("balanced", [True, False])
@pytest.mark.parametrize("block", range(3))
def test_radial_networks_solved_by_nodes(block, balanced, reference):
    for seed in range(block * 20, block * 20 + 20):
        rng = random.Random(f"{seed}-{balanced}")
        net = reference.random_network(rng, round(60 ** rng.random()), seed % 2 == 0, balanced=balanced)
        ctx, numbers, _ = net.numbers(rng)
        forest = build_forest(ctx)
        (core,) = build_cores(forest, everything=True)
        assert core.refused == ()
        assert len(core.nodes) == len(ctx.feeding.order)
        found = core_faults(forest, core)
        at = [ctx.feeding.position[n] for n in core.nodes]
        assert found.z == pytest.approx(numbers.faults.z[at], rel=TOLERANCE), seed
        with_neutral = numbers.faults.has_ln[at]
        assert found.z_ln[with_neutral] == pytest.approx(numbers.faults.z_ln[at][with_neutral], rel=TOLERANCE), seed

        heads = _flow_heads(forest)
        loads, _, _ = _loads(forest, ctx.loads, heads)
        couplings = _all({k: h.coupling for k, h in heads.items()}, heads)
        rows = forest.rows[forest.tree.order]
        emf = zone_volts(forest.zones)[0]
        tree = solve_flow(forest.tree, emf, rows[:, 2], rows[:, 3], loads, couplings)
        nodal = flow_core(forest, core)
        both = solve_flow(forest.tree, emf, rows[:, 2], rows[:, 3], loads, couplings, [nodal])
        # Loads that nothing can carry are so either way.
        assert (both.settled == tree.settled).all()
        volts = np.abs(tree.v).max()
        assert np.abs(both.v - tree.v).max() <= TOLERANCE * volts, seed
        amperes = max(np.abs(tree.i).max(), 1.0)
        assert np.abs(both.i - tree.i).max() <= 1e-8 * amperes, seed
        assert np.abs(both.i_neutral - tree.i_neutral).max() <= 1e-8 * amperes, seed
        assert nodal.undecided == ()
