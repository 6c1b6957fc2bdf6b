"""The feeding forest of a view as arrays, with its voltage zones: what the number passes work on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from oneline import tables
from oneline.calc.flow_tree import Array, IntArray, Tree, make_tree
from oneline.model import ConductorRun, Transformer
from oneline.study.context import Context
from oneline.study.numbers_facts import FLAGS, NOTHING, RunFigures, figures_of
from oneline.study.phasors import phase_volts

if TYPE_CHECKING:
    from oneline.study.numbers_cores import Core

PHASES = "ABC"


@dataclass(frozen=True)
class Zone:
    """A part of the forest at one voltage. ``head``: place in the pre-order of its first node. ``above``: place of the
    node ahead of its transformer, -1 behind a source. ``transformer``: ``None`` behind a source; ``forward``: fed from
    its primary. ``system``: code, or ``None``. ``depth``: transformers passed."""

    head: int
    above: int
    source: str
    transformer: Transformer | None
    forward: bool
    system: str | None
    depth: int

    @property
    def primary_system(self) -> str | None:
        """System of the side that feeds the transformer, as its own nameplate says."""
        assert self.transformer is not None
        return self.transformer.primary_system if self.forward else self.transformer.secondary_system

    @property
    def connection(self) -> str | None:
        """Connection as seen from the side that feeds it."""
        assert self.transformer is not None
        kind = self.transformer.connection
        if kind is None or kind == "single-phase" or self.forward:
            return kind
        return "-".join(reversed(kind.split("-")))


@dataclass(frozen=True)
class Forest:
    """Nodes in the pre-order of the feeding (``nodes``), and zone by zone (``tree``).

    ``whole``: the same nodes as if there were one zone; its order is the pre-order. ``runs``: figures of the branch into
    each node, in pre-order; ``rows`` (n, 5): their impedances. ``width`` (n,): phases that reach each node. ``in_loop``
    (n,): fed through a closed loop. ``zone`` (n,): zone number by pre-order; ``zones`` are sorted by depth.
    """

    ctx: Context
    nodes: IntArray
    tree: Tree
    whole: Tree
    zones: tuple[Zone, ...]
    zone: IntArray
    runs: tuple[RunFigures, ...]
    rows: Array
    width: IntArray
    in_loop: Array

    @property
    def size(self) -> int:
        return len(self.nodes)

    @cached_property
    def cores(self) -> tuple[Core, ...]:
        """The parts that closed loops and parallel sources make more than a tree."""
        if not self.ctx.feeding.loop_branches and not self.ctx.feeding.parallel:
            return ()
        from oneline.study.numbers_cores import build_cores

        return build_cores(self)

    @cached_property
    def without_neutral(self) -> Array:
        """Nodes that no neutral reaches, by the tree's order: a run without one lies on the way from the zone's head."""
        ends = self.flagged("without_neutral")
        if self.cores:
            from oneline.study.numbers_cores import neutral_arrives

            place = np.argsort(self.tree.order)
            for core in self.cores:
                at = place[[self.ctx.feeding.position[n] for n in core.nodes]]
                missing = 1 - np.array(neutral_arrives(core), float)
                same = [
                    u if u >= 0 and self.tree.zone[at[u]] == self.tree.zone[at[k]] else -1
                    for k, u in enumerate(core.above)
                ]
                up = np.array(same, np.intp)
                ends[at] = np.where(up >= 0, missing - missing[up], missing)
        return np.asarray(self.tree.sum_down(ends) > 0)

    def flagged(self, name: str) -> Array:
        """1.0 where the branch into a node has this flag of ``numbers_facts.FLAGS``, by the tree's order."""
        return np.asarray(((self.flags & FLAGS[name]) > 0).astype(float)[self.tree.order])

    @cached_property
    def flags(self) -> IntArray:
        """Flags of the branch into each node, in pre-order."""
        return np.fromiter((r.flags for r in self.runs), np.intp, len(self.runs))

    @cached_property
    def is_run(self) -> Array:
        """Whether the branch into a node is a conductor run, in pre-order."""
        return np.fromiter((r is not NOTHING for r in self.runs), bool, len(self.runs))

    @cached_property
    def present(self) -> Array:
        """Which phases reach each node (n, 3), in pre-order."""
        phases = self.ctx.feeding.phases
        known = {p: k for k, p in enumerate(sorted(set(phases)))}
        table = np.array([[letter in p for letter in PHASES] for p in known], bool).reshape(-1, 3)
        return table[np.fromiter((known[phases[n]] for n in self.nodes.tolist()), np.intp, self.size)]

    def with_runs(self, changed: Mapping[int, RunFigures]) -> Forest:
        """The same forest with other figures of runs, by their place. Not for one with cores."""
        assert not self.cores
        runs, rows, flags = list(self.runs), self.rows.copy(), self.flags.copy()
        for place, figures in changed.items():
            runs[place], rows[place], flags[place] = figures, figures.row, figures.flags
        found = replace(self, runs=tuple(runs), rows=rows)
        found.__dict__.update(flags=flags, present=self.present, is_run=self.is_run, cores=self.cores)
        return found

    def spread(self, values: Array) -> Array:
        """Values by the tree's order, put into pre-order."""
        out = np.empty_like(values)
        out[self.tree.order] = values
        return out


def build_forest(ctx: Context) -> Forest:
    """Arrays of the context's feeding forest."""
    feeding, net = ctx.feeding, ctx.net
    branches, parent, branch, position = net.branches, feeding.parent, feeding.branch, feeding.position
    zones: list[Zone] = []
    zone: list[int] = []
    runs: list[RunFigures] = []
    for place, node in enumerate(feeding.order):
        key = branch[node]
        if not key:
            zones.append(Zone(place, -1, feeding.root[node], None, True, feeding.system[node], 0))
            zone.append(len(zones) - 1)
            runs.append(NOTHING)
            continue
        above = position[parent[node]]
        item = branches[key].item
        if isinstance(item, ConductorRun):
            zone.append(zone[above])
            runs.append(figures_of(item))
            continue
        runs.append(NOTHING)
        if isinstance(item, Transformer):
            up = zones[zone[above]]
            forward = branches[key].a == parent[node]
            zones.append(Zone(place, above, up.source, item, forward, feeding.system[node], up.depth + 1))
            zone.append(len(zones) - 1)
        else:
            zone.append(zone[above])

    rank = sorted(range(len(zones)), key=lambda k: zones[k].depth)
    number = np.empty(len(zones), np.intp)
    number[rank] = np.arange(len(zones))
    zones = [zones[k] for k in rank]
    zone_of = number[np.array(zone, np.intp)] if zone else np.zeros(0, np.intp)
    n = len(feeding.order)
    nodes = np.array(feeding.order, np.intp)
    last = np.array(feeding.last, np.intp)[nodes]
    tree = make_tree(
        last, zone_of, np.array([z.above for z in zones], np.intp), np.array([z.depth for z in zones], np.intp)
    )
    whole = tree
    if len(zones) > 1:
        whole = make_tree(last, np.zeros(n, np.intp), np.full(1, -1), np.zeros(1, np.intp))
    rows = np.frombuffer(b"".join([r.packed for r in runs]), complex).reshape(n, 5)
    widths = np.fromiter(map(len, feeding.phases), np.intp, len(feeding.phases))[nodes]
    in_loop = np.zeros(len(feeding.phases), bool)
    in_loop[list(feeding.looped)] = True
    return Forest(ctx, nodes, tree, whole, tuple(zones), zone_of, tuple(runs), rows, widths, in_loop[nodes])


def zone_volts(zones: tuple[Zone, ...]) -> tuple[Array, Array, Array]:
    """(phasors (m, 3), line-to-line volts (m,), line-to-neutral volts (m,)); ``nan`` volts where there are none.

    Phasors of a zone whose system is not known are ones: they only keep the arithmetic going.
    """
    m = len(zones)
    emf, v_ll, v_ln = np.ones((m, 3), complex), np.full(m, np.nan), np.full(m, np.nan)
    for k, zone in enumerate(zones):
        if zone.system is None:
            continue
        system = tables.system(zone.system)
        emf[k] = phase_volts(zone.system)
        v_ll[k] = system.v_ll
        if system.v_ln is not None:
            v_ln[k] = abs(emf[k, 0])
    return emf, v_ll, v_ln
