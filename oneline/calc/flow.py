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

from dataclasses import dataclass
from math import sqrt

import numpy as np

from oneline.calc.flow_tree import Array, IntArray, Tree

TOLERANCE = 1e-10
MOST_ITERATIONS = 150
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


@dataclass(frozen=True)
class Flow:
    """Result. ``v`` (n, 3): volts to neutral. ``i`` (n, 3): amperes into each node from above, at its own voltage.
    ``i_neutral`` (n,): returning in the neutral. ``settled`` (n,): whether the node's tree has a solution."""

    v: Array
    i: Array
    i_neutral: Array
    settled: Array
    iterations: int


def solve_flow(tree: Tree, emf: Array, z: Array, zn: Array, loads: Loads, couplings: dict[int, Coupling]) -> Flow:
    """Load flow of a forest.

    ``emf`` (m, 3): phase-to-neutral phasors of each zone's source, volts; of other zones any nominal ones.
    ``z``, ``zn`` (n,): ohms of a phase conductor and of the neutral of the run into each node, 0 for contacts and at the
    first node of a zone. ``couplings``: by zone, for zones behind a transformer.
    """
    i = np.zeros((tree.size, 3), complex)
    start = v = _voltages(tree, emf, i, z, zn, couplings)
    least = TOLERANCE * float(np.abs(emf).max(axis=1).min(initial=np.inf))
    change = np.zeros((tree.size, 3))
    done = 0
    scatter = _Scatter(tree.size, loads)
    for done in range(1, MOST_ITERATIONS + 1):  # noqa: B007 - the number of rounds is a result
        i = _currents(tree, v, start, loads, scatter, couplings)
        new = _voltages(tree, emf, i, z, zn, couplings)
        change = np.abs(new - v)
        v = new
        if change.max(initial=0) <= least:
            break
    return Flow(v, i, -i.sum(axis=1), _settled(tree, change, least), done)


def _settled(tree: Tree, change: Array, least: float) -> Array:
    """Whether the last round changed nothing in each node's tree any more."""
    root = _root_zones(tree)
    worst = np.zeros(len(tree.above))
    np.maximum.at(worst, root[tree.zone], change.max(axis=1))
    return np.asarray(worst[root[tree.zone]] <= least)


def _root_zones(tree: Tree) -> IntArray:
    """For each zone the zone of its source."""
    root = np.arange(len(tree.above))
    for k in np.flatnonzero(tree.above >= 0):
        root[k] = root[tree.zone[tree.above[k]]]
    return root


class _Scatter:
    """Adds load currents up at their nodes and phases."""

    def __init__(self, size: int, loads: Loads) -> None:
        self.size = size
        self.paired = np.flatnonzero(loads.stop >= 0)
        out = loads.node[self.paired] * 3 + loads.stop[self.paired]
        self.where = np.concatenate([loads.node * 3 + loads.start, out])

    def __call__(self, draw: Array) -> Array:
        both = np.concatenate([draw, -draw[self.paired]])
        shape = (self.size, 3)
        return (
            np.bincount(self.where, both.real, 3 * self.size) + 1j * np.bincount(self.where, both.imag, 3 * self.size)
        ).reshape(shape)


def _currents(
    tree: Tree, v: Array, start: Array, loads: Loads, scatter: _Scatter, couplings: dict[int, Coupling]
) -> Array:
    """Currents into each node for the load currents at voltages ``v``; ``start``: voltages without load."""
    grounded = loads.stop < 0
    across = v[loads.node, loads.start] - np.where(grounded, 0, v[loads.node, loads.stop])
    nominal = start[loads.node, loads.start] - np.where(grounded, 0, start[loads.node, loads.stop])
    size = np.abs(across)
    floor = LEAST_VOLTAGE * np.abs(nominal)
    low = size < floor
    if low.any():
        across = np.where(low, np.where(size > 0, across / np.maximum(size, 1e-300) * floor, nominal), across)
    own = scatter(np.conj(loads.va / across))
    if not couplings:
        return tree.sum_up(own)
    i = np.empty_like(own)
    for level in reversed(tree.levels):
        nodes = slice(int(tree.first[level.start]), int(tree.first[level.stop]))
        i[nodes] = tree.sum_up(own, nodes)
        for k in range(level.start, level.stop):
            if k in couplings:
                own[tree.above[k]] += couplings[k].turns.T @ i[tree.first[k]]
    return i


def _voltages(tree: Tree, emf: Array, i: Array, z: Array, zn: Array, couplings: dict[int, Coupling]) -> Array:
    """Voltages at each node for the branch currents ``i``."""
    drop = tree.sum_down(z[:, None] * i + (zn * i.sum(axis=1))[:, None])
    if not couplings:
        return emf[tree.zone] - drop
    head = emf.astype(complex, copy=True)
    for k, coupling in sorted(couplings.items()):
        up = tree.above[k]
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
