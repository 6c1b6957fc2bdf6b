"""Networks with closed loops and parallel sources, conductor by conductor: Kirchhoff's laws at every junction, dense.

A *vertex* is one conductor (a phase, the neutral, the equipment grounding conductor) at one node. Wires join two
vertices; a bank joins up to three phases and the neutral of a load side to those of its primary side, or, without a
primary side, to a source. So the neutral is an element of its own: in a loop its current divides by its own impedances,
not by those of the phases.

Model of a bank (transformer, or source with ``emf``): load-side voltages to its own neutral are ``emf + turns @ primary
voltages - z @ i``; it draws ``turns.T @ i`` on its primary side. A delta-connected side has no neutral: rows of ``turns``
add up to zero there.

Wires without impedance merge their ends. The matrix has as many rows as there are merged vertices and bank phases: it is
meant for the looped part of a network, and the radial rest hangs on it as currents.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from oneline.calc.flow_tree import Array, IntArray

#: Fewer vertices than this are inverted at once.
_WORTH_PARTING = 60


@dataclass(frozen=True)
class Bank:
    """``lines``: vertices of phases A, B, C of the load side, -1 for none; ``neutral``: vertex its voltages are counted
    from (a star point of its own where there is no neutral). ``primary``: vertices of A, B, C and the neutral there, -1
    for none; empty for a source. ``emf`` (3,) volts. ``turns``, ``z`` (3, 3)."""

    lines: tuple[int, int, int]
    neutral: int
    z: Array
    primary: tuple[int, ...] = ()
    turns: Array | None = None
    emf: Array | None = None

    @property
    def phases(self) -> list[int]:
        return [k for k in range(3) if self.lines[k] >= 0]


@dataclass(frozen=True)
class Wires:
    """Joined vertices ``start``, ``stop`` (w,) and the impedance between them ``z`` (w,), ohms; 0 merges them."""

    start: IntArray
    stop: IntArray
    z: Array


@dataclass(frozen=True)
class Mesh:
    """A solved network. ``group`` (v,): merged vertex of each vertex, -1 for a reference. ``inverse``: of the matrix;
    its first rows are the merged vertices. ``open_v`` (v,): volts of each vertex without any current drawn from it."""

    group: IntArray
    inverse: Array
    open_v: Array
    banks: tuple[Bank, ...]
    rows: tuple[tuple[int, ...], ...]
    fixed: Array

    def solve(self, drawn: Array) -> Array:
        """Volts of the merged vertices, then currents of the bank phases, when ``drawn`` (v,) amperes leave each vertex."""
        right = self.fixed.copy()
        known = self.group >= 0
        np.subtract.at(right, self.group[known], drawn[known])
        return np.asarray(self.inverse @ right)

    def volts(self, solution: Array) -> Array:
        """Volts of every vertex of a solution."""
        return np.asarray(np.where(self.group >= 0, solution[self.group], 0))

    def impedances(self, vertices: Sequence[int]) -> Array:
        """Open-circuit impedances between some vertices (k, k): volts at the row's for a current into the column's."""
        at = self.group[np.asarray(vertices, np.intp)]
        found = self.inverse[np.ix_(np.maximum(at, 0), np.maximum(at, 0))]
        return np.asarray(np.where((at[:, None] >= 0) & (at[None, :] >= 0), found, 0))


def union(count: int, pairs: Sequence[tuple[int, int]]) -> IntArray:
    """For each of ``count`` members the smallest member it is joined with."""
    top = list(range(count))

    def find(k: int) -> int:
        while top[k] != k:
            top[k] = k = top[top[k]]
        return k

    for a, b in pairs:
        a, b = sorted((find(a), find(b)))
        top[b] = a
    return np.array([find(k) for k in range(count)], np.intp)


def solve_mesh(count: int, wires: Wires, banks: Sequence[Bank]) -> Mesh:
    """Factor a network of ``count`` vertices. Raises ``numpy.linalg.LinAlgError`` where it has no single solution, as
    with two sources without impedance in parallel."""
    gone = wires.z == 0
    pairs = list(zip(wires.start.tolist(), wires.stop.tolist(), strict=True))
    merged = union(count, [p for p, none in zip(pairs, gone.tolist(), strict=True) if none])
    reference = _references(count, pairs, banks, merged)
    tops = [k for k in range(count) if merged[k] == k and not reference[k]]
    number = np.full(count, -1, np.intp)
    number[tops] = np.arange(len(tops))
    group = number[merged]
    size = len(tops) + sum(len(b.phases) for b in banks)
    # One row and column more than there are: what has no row of its own is written there and cut off.
    matrix, fixed = np.zeros((size + 1, size + 1), complex), np.zeros(size, complex)
    a, b = group[wires.start[~gone]], group[wires.stop[~gone]]
    y = 1 / wires.z[~gone]
    for p, q, sign in ((a, a, 1), (b, b, 1), (a, b, -1), (b, a, -1)):
        np.add.at(matrix, (p, q), sign * y)
    row, rows = len(tops), []
    for bank in banks:
        mine = tuple(range(row, row + len(bank.phases)))
        _put(matrix, fixed, bank, mine, group)
        rows.append(mine)
        row += len(mine)
    attached = {int(group[v]) for bank in banks for v in (bank.neutral, *bank.lines, *bank.primary) if v >= 0}
    inner = _parts(len(tops), a, b, attached)
    inverse = invert(matrix[:size, :size], inner)
    at_rest = inverse @ fixed
    open_v = np.where(group >= 0, at_rest[group] if size else 0, 0)
    return Mesh(group, inverse, open_v, tuple(banks), tuple(rows), fixed)


def _parts(count: int, a: IntArray, b: IntArray, attached: set[int]) -> list[IntArray]:
    """Merged vertices that no bank is attached to, in parts that wires join without passing one that has."""
    free = np.ones(count + 1, bool)
    free[[k for k in attached if k >= 0]] = False
    free[-1] = False
    within = free[a] & free[b]
    top = union(count, list(zip(a[within].tolist(), b[within].tolist(), strict=True)))
    members = np.flatnonzero(free[:-1])
    tops = top[members]
    return [members[tops == t] for t in np.unique(tops)]


def invert(matrix: Array, parts: Sequence[IntArray]) -> Array:
    """Inverse of a matrix in which the members of ``parts`` have no entries with those of other parts: they are inverted
    part by part, what is left by its Schur complement. Raises ``numpy.linalg.LinAlgError`` where there is none."""
    size = len(matrix)
    inside = np.concatenate([*parts, np.zeros(0, np.intp)])
    rest = np.setdiff1d(np.arange(size), inside)
    if len(inside) < _WORTH_PARTING:
        return np.asarray(np.linalg.inv(matrix))
    own = np.zeros((size, size), complex)
    for part in parts:
        own[np.ix_(part, part)] = np.linalg.inv(matrix[np.ix_(part, part)])
    across, back = np.zeros((size, len(rest)), complex), np.zeros((len(rest), size), complex)
    for part in parts:
        block = own[np.ix_(part, part)]
        across[part] = block @ matrix[np.ix_(part, rest)]
        back[:, part] = matrix[np.ix_(rest, part)] @ block
    complement = matrix[np.ix_(rest, rest)] - matrix[np.ix_(rest, inside)] @ across[inside]
    last = np.linalg.inv(complement)
    found = own + across @ last @ back
    found[:, rest] -= across @ last
    found[rest] -= last @ back
    found[np.ix_(rest, rest)] += last
    return np.asarray(found)


def _put(matrix: Array, fixed: Array, bank: Bank, rows: Sequence[int], group: IntArray) -> None:
    """Equations of a bank: its voltages in its own rows, its currents in those of its vertices."""
    neutral = group[bank.neutral]
    for row, k in zip(rows, bank.phases, strict=True):
        line = group[bank.lines[k]]
        matrix[row, line] += 1
        matrix[row, neutral] -= 1
        for other, m in zip(rows, bank.phases, strict=True):
            matrix[row, other] += bank.z[k, m]
        matrix[line, row] -= 1
        matrix[neutral, row] += 1
        if bank.emf is not None:
            fixed[row] = bank.emf[k]
        if bank.turns is not None:
            ahead = [*bank.turns[k], -bank.turns[k].sum()]
            for vertex, times in zip(bank.primary, ahead, strict=True):
                if vertex >= 0:
                    matrix[row, group[vertex]] -= times
                    matrix[group[vertex], row] += times


def _references(count: int, pairs: list[tuple[int, int]], banks: Sequence[Bank], merged: IntArray) -> Array:
    """Which merged vertices stand at zero volts: one in each part that conductors join, a neutral where there is one."""
    joined = [*pairs]
    for bank in banks:
        joined += [(bank.neutral, bank.lines[k]) for k in bank.phases]
        at = [v for v in bank.primary if v >= 0]
        joined += [(at[0], v) for v in at[1:]]
    part = union(count, joined)
    chosen = {int(part[k]): int(merged[k]) for k in reversed(range(count))}
    for bank in reversed(banks):
        chosen[int(part[bank.neutral])] = int(merged[bank.neutral])
    found = np.zeros(count, bool)
    found[list(chosen.values())] = True
    return found


def forced_flow(count: int, branches: Sequence[tuple[int, int]], drawn: Array) -> tuple[Array, Array]:
    """Currents in branches without impedance among ``count`` points, when ``drawn`` (points, k) leave each point.

    Returns the currents (b, k) from the first to the second end, and which of them only one division allows (b,): a
    branch that lies on a ring of such branches could carry anything.
    """
    single = np.array([_is_bridge(count, branches, n) for n in range(len(branches))], bool)
    if not branches:
        return np.zeros((0, *drawn.shape[1:]), complex), single
    incidence = np.zeros((count, len(branches)))
    for n, (a, b) in enumerate(branches):
        incidence[a, n] -= 1
        incidence[b, n] += 1
    return np.linalg.lstsq(incidence, drawn, rcond=None)[0], single


def _is_bridge(count: int, branches: Sequence[tuple[int, int]], n: int) -> bool:
    rest = union(count, [p for m, p in enumerate(branches) if m != n])
    a, b = branches[n]
    return bool(rest[a] != rest[b])
