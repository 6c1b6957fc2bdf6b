"""Load flow of a radial network, per phase and with complex currents: backward and forward sweep over arrays.

Model. Phase-to-neutral voltages and phase currents in three columns A, B, C; on single-phase three-wire systems the legs
L1 and L2 are A and B. Each conductor run couples its phases through the neutral only: with z of a phase conductor and zn
of the neutral the drop of phase A is ``z * Ia + zn * (Ia + Ib + Ic)``, which is Kirchhoff's law for a neutral that
carries ``In = -(Ia + Ib + Ic)`` back. Loads take constant power. Transformers are an ideal 3 x 3 coupling of the two
sides and an impedance matrix on the secondary. Source voltages are ideal.

The sweep is the textbook fixed point: currents of the loads at the last voltages, summed up the tree; voltages from the
source down. It converges to the usable solution wherever the load can be carried.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt
from typing import Protocol

import numpy as np

from oneline.calc.flow_tree import Array, IntArray, Tree

TOLERANCE = 1e-10
MOST_ITERATIONS = 150
#: Squares of steps that shrink at least so much are on their way to the solution.
_STEADY = 0.1
#: Loads never draw at less than this part of nominal voltage while iterating, so that no number overflows.
LEAST_VOLTAGE = 0.1

_TURN = np.exp(-2j * np.pi / 3)
#: Unit phasors of phases A, B, C of a wye system in the sequence A-B-C.
WYE = np.array([1, _TURN, _TURN**2])
#: Legs L1 and L2 of a midpoint-grounded single-phase system.
SPLIT = np.array([1, -1, 0], complex)


@dataclass(frozen=True)
class Loads:
    """Constant-power loads, one row each. ``node``: place in the tree. ``start``/``stop``: columns 0, 1, 2 of the
    phases it is connected between; ``stop`` -1 is the neutral. ``va``: complex volt-amperes."""

    node: IntArray
    start: IntArray
    stop: IntArray
    va: Array


@dataclass(frozen=True)
class Coupling:
    """A transformer between two zones: no-load secondary voltages = ``turns`` @ primary voltages; primary currents =
    ``turns.T`` @ secondary currents; ``z`` (3, 3): ohms on the secondary side."""

    turns: Array
    z: Array


class Core(Protocol):
    """A part of the network that is not a tree. ``nodes`` (c,): its nodes, places in the tree, every node of it after the
    one above. ``up`` (c,): by number in the core the node above in the same zone, -1 at the head of a zone. ``zones``:
    its zones, with the number of their first node. ``solve``: volts to neutral (c, 3) for the currents (c, 3) that
    leave it at each node; ``branches``: with the same, currents into each node from the one above (c, 3), and in the
    neutral (c,), ``nan`` where they cannot be told.
    """

    nodes: IntArray
    up: IntArray
    zones: dict[int, int]

    def solve(self, drawn: Array) -> Array: ...

    def branches(self, drawn: Array) -> tuple[Array, Array]: ...


@dataclass(frozen=True)
class Flow:
    """Result. ``v`` (n, 3): volts to neutral. ``i`` (n, 3): amperes into each node from above, at its own voltage; in a
    core ``nan`` where its division between branches without impedance cannot be told. ``i_neutral`` (n,): returning in
    the neutral. ``settled`` (n,): whether the node's tree has a solution. ``drawn``: amperes (c, 3) that leave each node
    of each core."""

    v: Array
    i: Array
    i_neutral: Array
    settled: Array
    iterations: int
    drawn: tuple[Array, ...] = ()


def solve_flow(
    tree: Tree, emf: Array, z: Array, zn: Array, loads: Loads, couplings: dict[int, Coupling],
    cores: Sequence[Core] = (),
) -> Flow:  # fmt: skip
    """Load flow of a forest.

    ``emf`` (m, 3): phase-to-neutral phasors of each zone's source, volts; of other zones any nominal ones.
    ``z``, ``zn`` (n,): ohms of a phase conductor and of the neutral of the run into each node, 0 for contacts and at the
    first node of a zone. ``couplings``: by zone, for zones behind a transformer. ``cores``: parts solved by nodes.
    """
    net = _Network(tree, emf, z, zn, couplings, cores)
    i = np.zeros((tree.size, 3), complex)
    v = net.voltages(i, [np.zeros((len(c.nodes), 3), complex) for c in cores])
    least = TOLERANCE * float(np.abs(emf).max(axis=1).min(initial=np.inf))
    change = np.zeros((tree.size, 3))
    done = 0
    draw = _Draw(tree.size, loads, v)
    drawn: list[Array] = []
    most = np.inf
    for done in range(1, MOST_ITERATIONS + 1):
        i, drawn = net.currents(draw(v))
        new = net.voltages(i, drawn)
        moved = new - v
        change = moved.real**2 + moved.imag**2
        v = new
        # Rounds shrink the error by one factor each, so what is left is less than this step times that factor.
        before, most = most, float(change.max(initial=0))
        shrink = most / before if done > 2 and most < _STEADY * before else 1.0
        if most * shrink <= least**2:
            change *= shrink
            break
    change[loads.node[draw.dead]] = np.inf
    i_neutral = -(i[:, 0] + i[:, 1] + i[:, 2])
    for core, out in zip(cores, drawn, strict=False):
        i[core.nodes], i_neutral[core.nodes] = core.branches(out)
    return Flow(v, i, i_neutral, _settled(tree, change, least**2, cores), done, tuple(drawn))


def _settled(tree: Tree, change: Array, least: float, cores: Sequence[Core]) -> Array:
    """Whether the last round changed no more than ``least`` in each node's tree."""
    root = _root_zones(tree)
    for core in cores:
        tied = np.unique(root[tree.zone[core.nodes]])
        root = np.where(np.isin(root, tied), tied[0], root)
    worst = np.zeros(len(tree.above))
    largest = np.maximum(np.maximum(change[:, 0], change[:, 1]), change[:, 2])
    if len(worst) == 1:
        return np.full(tree.size, largest.max(initial=0) <= least)
    np.maximum.at(worst, root[tree.zone], largest)
    return np.asarray(worst[root[tree.zone]] <= least)


def _root_zones(tree: Tree) -> IntArray:
    """For each zone the zone of its source."""
    root = np.arange(len(tree.above))
    for k in np.flatnonzero(tree.above >= 0):
        root[k] = root[tree.zone[tree.above[k]]]
    return root


class _Draw:
    """Load currents at given voltages, added up at their nodes and phases; ``start``: voltages without load."""

    def __init__(self, size: int, loads: Loads, start: Array) -> None:
        self.size = size
        self.first = loads.node * 3 + loads.start
        self.paired = np.flatnonzero(loads.stop >= 0)
        self.second = loads.node[self.paired] * 3 + loads.stop[self.paired]
        self.where = np.concatenate([self.first, self.second])
        nominal = self._across(start)
        # A load across nothing draws what nobody knows: left out, and its tree counts as not settled.
        dead = nominal == 0
        self.dead = np.flatnonzero(dead)
        self.va = np.where(dead, 0.0, loads.va) if len(self.dead) else loads.va
        self.nominal = np.where(dead, 1.0, nominal)
        self.floor = LEAST_VOLTAGE * np.abs(self.nominal)
        self.floor_squared = self.floor**2

    def _across(self, v: Array) -> Array:
        flat = v.reshape(-1)
        across = flat[self.first]
        if len(self.paired):
            across[self.paired] -= flat[self.second]
        return across

    def __call__(self, v: Array) -> Array:
        across = self._across(v)
        squared = across.real**2 + across.imag**2
        low = squared < self.floor_squared
        if low.any():
            size = np.sqrt(squared)
            raised = across / np.maximum(size, 1e-300) * self.floor
            across = np.where(low, np.where(size > 0, raised, self.nominal), across)
        draw = np.conj(self.va / across)
        if len(self.paired):
            draw = np.concatenate([draw, -draw[self.paired]])
        total = np.empty(3 * self.size, complex)
        total.real = np.bincount(self.where, draw.real, 3 * self.size)
        total.imag = np.bincount(self.where, draw.imag, 3 * self.size)
        return total.reshape(self.size, 3)


@dataclass(frozen=True)
class _Network:
    """The two halves of a sweep."""

    tree: Tree
    emf: Array
    z: Array
    zn: Array
    couplings: dict[int, Coupling]
    cores: Sequence[Core]

    def currents(self, own: Array) -> tuple[Array, list[Array]]:
        """Currents into each node for what is drawn at each, and for each core what leaves it at its nodes. Nodes of a
        core count for all that hangs on them."""
        tree = self.tree
        solved = {k for core in self.cores for k in core.zones}
        if not self.couplings:
            i = tree.sum_up(own)
        else:
            i = np.empty_like(own)
            for level in reversed(tree.levels):
                nodes = slice(int(tree.first[level.start]), int(tree.first[level.stop]))
                i[nodes] = tree.sum_up(own, nodes)
                for k in range(level.start, level.stop):
                    if k in self.couplings and k not in solved:
                        own[tree.above[k]] += self.couplings[k].turns.T @ i[tree.first[k]]
        drawn = []
        for core in self.cores:
            out = i[core.nodes]
            below = core.up >= 0
            np.subtract.at(out, core.up[below], i[core.nodes[below]])
            drawn.append(out)
        return i, drawn

    def voltages(self, i: Array, drawn: list[Array]) -> Array:
        """Voltages at each node for the branch currents ``i``."""
        tree = self.tree
        drop = self.z[:, None] * i
        drop += (self.zn * (i[:, 0] + i[:, 1] + i[:, 2]))[:, None]
        solved: dict[int, Array] = {}
        for core, out in zip(self.cores, drawn, strict=True):
            at = core.solve(out)
            drop[core.nodes] = np.where((core.up >= 0)[:, None], at[core.up] - at, 0)
            solved.update({k: at[n] for k, n in core.zones.items()})
        drop = tree.sum_down(drop)
        if not self.couplings and not solved:
            return self.emf[tree.zone] - drop
        head = self.emf.astype(complex, copy=True)
        for k in sorted({*self.couplings, *solved}):
            if k in solved:
                head[k] = solved[k]
                continue
            up, coupling = tree.above[k], self.couplings[k]
            primary = head[tree.zone[up]] - drop[up]
            head[k] = coupling.turns @ primary - coupling.z @ i[tree.first[k]]
        return head[tree.zone] - drop


# ------------------------------------------------------------------------------------------------- transformers
def delta_wye(v_primary: float, v_secondary: float, z: complex) -> Coupling:
    """Delta primary, wye secondary with neutral; the secondary lags by 30 degrees (US practice). Line-to-line volts."""
    a = v_secondary / v_primary / sqrt(3)
    turns = a * np.array([[1, 0, -1], [-1, 1, 0], [0, -1, 1]])
    return Coupling(turns, z * np.eye(3))


def wye_delta(v_primary: float, v_secondary: float, z: complex) -> Coupling:
    """Wye primary without neutral, three-wire delta secondary; secondary voltages are to the middle of its triangle."""
    return Coupling(delta_wye(v_primary, v_secondary, z).turns, z * np.eye(3))


def wye_wye(v_primary: float, v_secondary: float, z: complex) -> Coupling:
    """Both neutrals connected: the neutral current passes."""
    return Coupling(v_secondary / v_primary * np.eye(3), z * np.eye(3))


def delta_delta(v_primary: float, v_secondary: float, z: complex) -> Coupling:
    """Three-wire delta on both sides; secondary voltages are to the middle of its triangle."""
    return Coupling(v_secondary / v_primary * (np.eye(3) - 1 / 3), z * np.eye(3))


def single_phase(v_primary: float, v_secondary: float, z: complex, across: tuple[int, int]) -> Coupling:
    """Two-winding transformer with a two-wire secondary on column A.

    ``across``: the columns its primary is connected between, -1 for the neutral. ``z``: of the secondary winding.
    """
    turns = np.zeros((3, 3))
    turns[0] = v_secondary / v_primary * _between(across)
    return Coupling(turns, np.diag([z, 0, 0]))


def center_tapped(
    v_primary: float, v_secondary: float, z: complex, across: tuple[int, int], r_factor: float, x_factor: float
) -> Coupling:
    """Transformer with a three-wire secondary: L1 in column A, L2 in column B, midpoint neutral.

    ``v_secondary``: from line to line. ``z``: of the whole secondary winding, ohms. ``r_factor``, ``x_factor``: a half
    winding has, on its own base, this many times the resistance and the reactance of the whole.
    """
    turns = np.zeros((3, 3))
    turns[0] = v_secondary / v_primary / 2 * _between(across)
    turns[1] = -turns[0]
    own = half_winding(z, r_factor, x_factor)
    mutual = own - z / 2  # from leg to leg the halves in series are the whole: 2 (own - mutual) = z
    return Coupling(turns, np.array([[own, mutual, 0], [mutual, own, 0], [0, 0, 0]]))


def high_leg(base: Coupling, z: complex, r_factor: float, x_factor: float) -> Coupling:
    """Four-wire delta of three equal windings, the neutral in the middle of the one between A and C.

    ``base``: of the same bank without the tap (:func:`delta_delta`, :func:`wye_delta`); ``z``: per phase, ohms.
    """
    to_tap = np.array([[0.5, 0, -0.5], [-0.5, 1, -0.5], [-0.5, 0, 0.5]])
    return Coupling(to_tap @ base.turns, high_leg_z(z, r_factor, x_factor))


def high_leg_z(z: complex, r_factor: float, x_factor: float) -> Array:
    """Impedances of the windings of a four-wire delta, lines A, B, C to the neutral, ohms (3, 3).

    A winding has three times the impedance per phase. Unknown is only what circulates: the volts around the triangle add
    up to zero, so with ia, ib, ic drawn winding BA carries (ia - 3 ib - ic) / 6 and the others follow by Kirchhoff.
    """
    winding = 3 * z
    own = half_winding(winding, r_factor, x_factor)
    mutual = winding / 2 - own
    ba = np.array([1, -3, -1]) / 6
    na = np.array([1, 0, 0]) - ba
    cn = np.array([0, -1, -1]) - ba
    a = own * na + mutual * cn
    return np.array([a, a - winding * ba, -(own * cn + mutual * na)])


def half_winding(z: complex, r_factor: float, x_factor: float) -> complex:
    """Impedance seen from one leg to the midpoint of a center-tapped winding of impedance ``z``, ohms.

    The half has a quarter of the base impedance, times the factors of resistance and reactance.
    """
    return complex(r_factor * z.real, x_factor * z.imag) / 4


def _between(across: tuple[int, int]) -> Array:
    pick = np.zeros(3)
    pick[across[0]] = 1
    if across[1] >= 0:
        pick[across[1]] = -1
    return pick
