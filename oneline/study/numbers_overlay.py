"""Fault figures at the nodes of cores, and how they are laid over the sums down the trees.

A sum down a path becomes right behind a core when every branch into a core node counts for the difference of the solved
values at its two ends: the passes over whole arrays stay what they are.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import product
from typing import Any

import numpy as np

from oneline.calc import fault
from oneline.calc.flow_tree import Array
from oneline.calc.mesh import Mesh
from oneline.study.numbers_cores import Core
from oneline.study.numbers_elements import (
    NEUTRAL,
    WIDTH,
    Elements,
    fault_elements,
    solve,
    solve_turned,
)
from oneline.study.numbers_forest import PHASES, Forest

#: Two figures closer than this part are one.
SAME = 1e-6
#: Stands for no impedance where a source without any would leave no solution, ohms.
LEAST_OHMS = 1e-9
#: Where no more than this many times that is left, there is no bound.
_NO_BOUND = 100
#: Angles tried for an unknown X/R, by how many of them are not known together, and by how much the least impedance found
#: so is lowered: between two angles h apart the true least lies less than h^2 / 8 below.
_ANGLES = {1: 16, 2: 9, 3: 5}
_MOST_FREE = 3
#: Angles by which all impedances are turned to bound a network that is not wholly known.
_TURNS = np.linspace(0, np.pi / 2, 13)


@dataclass(frozen=True)
class CoreFaults:
    """Fault figures of a core by node. ``z``/``z_ln`` (k,): as everywhere, of the worst phase. ``needs``, ``needs_ln``:
    what is missing for them. ``least``, ``most`` and the same to the neutral: bounds of their magnitudes, ``most`` nan
    where there is none. ``angle``: X/R that are not known; ``sure``: whether everything is known."""

    core: Core
    z: Array
    z_ln: Array
    needs: tuple[tuple[str, ...], ...]
    needs_ln: tuple[tuple[str, ...], ...]
    least: Array
    most: Array
    least_ln: Array
    most_ln: Array
    angle: tuple[str, ...]
    sure: bool


def core_faults(forest: Forest, core: Core) -> CoreFaults:
    """Fault figures of a core at every one of its nodes."""
    count = len(core.nodes)
    nothing = np.zeros(count)
    if core.refused:
        return _refused(core, core.refused)
    elements = fault_elements(core)
    widths = [[PHASES.index(p) for p in forest.ctx.feeding.phases[n]] for n in core.nodes]
    try:
        mesh = solve(elements, {})
        z, z_ln, uneven = seen(mesh, widths)
        needs, needs_ln = dependence(elements, widths, z, z_ln)
    except np.linalg.LinAlgError:
        return _refused(core, ("impedances that leave one solution of the loop",))
    if uneven.any():
        extra = "figures of a loop whose branches do not all carry the same phases (not computed)"
        needs = tuple((*n, extra) if u else n for n, u in zip(needs, uneven.tolist(), strict=True))
        needs_ln = tuple((*n, extra) if u else n for n, u in zip(needs_ln, uneven.tolist(), strict=True))
    gaps = bool(elements.gaps)
    sure = not gaps and not elements.free and not uneven.any()
    least, most, least_ln, most_ln = np.abs(z), np.abs(z), np.abs(z_ln), np.abs(z_ln)
    if gaps or uneven.any():
        least, least_ln = turned(elements, widths)
        most = most_ln = nothing + np.nan
    elif elements.free:
        least, most, least_ln, most_ln = _angles(elements, widths)
    known = np.array([not n for n in needs]), np.array([not n for n in needs_ln])
    if not elements.free:  # what no gap touches is known whatever is missing elsewhere
        least, most = (np.where(known[0], np.abs(z), v) for v in (least, most))
        least_ln, most_ln = (np.where(known[1], np.abs(z_ln), v) for v in (least_ln, most_ln))
    return CoreFaults(
        core, np.where(known[0], z, least), np.where(known[1], z_ln, least_ln), needs, needs_ln, least, most, least_ln,
        most_ln, tuple(dict.fromkeys(elements.free)), sure,
    )  # fmt: skip


def _refused(core: Core, why: tuple[str, ...]) -> CoreFaults:
    zero = np.zeros(len(core.nodes))
    needs = (why,) * len(core.nodes)
    none = zero + np.nan
    return CoreFaults(
        core, zero + 0j, zero + 0j, needs, needs, zero, none, zero, none, (), False
    )  # fmt: skip


def seen(mesh: Mesh, widths: Sequence[Sequence[int]], back: int = NEUTRAL) -> tuple[Array, Array, Array]:
    """Impedance per phase (half of the loop of two lines) and of the loop line to neutral at every node, of the worst
    phase, and where the phases differ. ``back``: conductor the second loop returns in."""
    count = len(widths)
    z, z_ln, uneven = np.zeros(count, complex), np.zeros(count, complex), np.zeros(count, bool)
    for k, columns in enumerate(widths):
        if not columns:
            continue
        m = mesh.impedances([WIDTH * k + c for c in (*columns, back)])
        loop = np.diag(m)[:, None] + np.diag(m)[None, :] - m - m.T
        own = len(columns)
        to_neutral = loop[:own, own]
        z_ln[k] = to_neutral[np.argmin(np.abs(to_neutral))]
        if own == 1:
            z[k] = z_ln[k] / 2
            continue
        pairs = np.array([loop[a, b] for a in range(own) for b in range(a)]) / 2
        z[k] = pairs[np.argmin(np.abs(pairs))]
        uneven[k] = np.abs(pairs - z[k]).max() > SAME * max(abs(z[k]), LEAST_OHMS)
    return z, z_ln, uneven


def dependence(
    elements: Elements, widths: list[list[int]], z: Array, z_ln: Array, back: int = NEUTRAL
) -> tuple[tuple[tuple[str, ...], ...], tuple[tuple[str, ...], ...]]:
    """For every node the gaps its figures depend on, in words: a gap filled otherwise changes them."""
    needs: list[list[str]] = [[] for _ in widths]
    needs_ln: list[list[str]] = [[] for _ in widths]
    for g, gap in enumerate(elements.gaps):
        other, other_ln, _ = seen(solve(elements, {g: 3 + 2j}), widths, back)
        for k in range(len(widths)):
            if abs(other[k] - z[k]) > SAME * abs(z[k]):
                needs[k] += gap.needs
            if abs(other_ln[k] - z_ln[k]) > SAME * abs(z_ln[k]):
                needs_ln[k] += gap.needs
    return tuple(tuple(dict.fromkeys(n)) for n in needs), tuple(tuple(dict.fromkeys(n)) for n in needs_ln)


def turned(elements: Elements, widths: list[list[int]], back: int = NEUTRAL) -> tuple[Array, Array]:
    """Magnitudes that the impedances are not below, whatever is not known."""
    least = least_ln = np.zeros(len(widths))
    for phi in _TURNS.tolist():
        z, z_ln, _ = seen(solve_turned(elements, phi, LEAST_OHMS), widths, back)
        least, least_ln = np.maximum(least, z.real), np.maximum(least_ln, z_ln.real)
    # What stood for nothing is taken off again, with what it could do through a transformer.
    return least * (1 - 1e-5), least_ln * (1 - 1e-5)


def _angles(elements: Elements, widths: list[list[int]]) -> tuple[Array, Array, Array, Array]:
    """Least and largest magnitudes over the angles of every X/R that is not known."""
    free = len(elements.free)
    steps = _ANGLES[min(free, _MOST_FREE)]
    grid = np.linspace(0, np.pi / 2, steps)
    chosen: Any = product(grid.tolist(), repeat=free)
    if free > _MOST_FREE:
        ends = product((0.0, np.pi / 2), repeat=min(free, 6))
        chosen = [*((t,) * free for t in grid.tolist()), *((*e, *e[-1:] * (free - len(e))) for e in ends)]
    all_z = [seen(solve(elements, {}, angles=tuple(c)), widths)[:2] for c in chosen]
    z, z_ln = (np.abs(np.array([pair[n] for pair in all_z])) for n in (0, 1))
    slack = (grid[1] ** 2) / 8
    return z.min(0) * (1 - slack), z.max(0) * (1 + slack), z_ln.min(0) * (1 - slack), z_ln.max(0) * (1 + slack)


@dataclass(frozen=True)
class Overlay:
    """All cores of a forest. Arrays over their nodes, in the order of ``places`` (c,), positions in the tree; ``up``:
    position of the node above in the same zone, by number here, -1 at the head of a zone."""

    forest: Forest
    cores: tuple[CoreFaults, ...]

    @cached_property
    def nodes(self) -> tuple[int, ...]:
        return tuple(n for c in self.cores for n in c.core.nodes)

    @cached_property
    def index(self) -> dict[int, int]:
        """Number here by network node."""
        return {node: k for k, node in enumerate(self.nodes)}

    @cached_property
    def places(self) -> Array:
        place = np.empty(self.forest.size, np.intp)
        place[self.forest.tree.order] = np.arange(self.forest.size)
        position = self.forest.ctx.feeding.position
        return place[[position[n] for n in self.nodes]] if self.nodes else np.zeros(0, np.intp)

    @cached_property
    def zones(self) -> dict[int, int]:
        """Zones whose first node is in a core, with its number here."""
        first = {int(p): k for k, p in enumerate(self.forest.tree.first[:-1])}
        return {first[p]: n for n, p in enumerate(self.places.tolist()) if p in first}

    @cached_property
    def up(self) -> Array:
        heads = set(self.zones.values())
        parent = self.forest.ctx.feeding.parent
        return np.array([-1 if k in heads else self.index[parent[n]] for k, n in enumerate(self.nodes)], np.intp)

    @cached_property
    def missing(self) -> tuple[Array, Array, Array]:
        """By node how many facts are missing: of the impedance per phase, of the loop to the neutral, of the angle."""
        main = [float(len(n)) for c in self.cores for n in c.needs]
        loop = [float(len(n)) for c in self.cores for n in c.needs_ln]
        angle = [float(len(c.angle)) for c in self.cores for _ in c.core.nodes]
        return np.array(main), np.array(loop), np.array(angle)

    @cached_property
    def unbounded(self) -> Array:
        """By node 1 where no upper bound of the current can be given."""
        free = [c.least <= _NO_BOUND * LEAST_OHMS for c in self.cores]
        return np.concatenate(free).astype(float) if free else np.zeros(0)

    def gathered(self, name: str) -> Array:
        """A field of all cores, one behind the other."""
        return np.concatenate([np.asarray(getattr(c, name)) for c in self.cores]) if self.cores else np.zeros(0)

    def differences(self, branches: Array, at: Array) -> Array:
        """Values of the branches so that their sum down a zone is ``at`` at every core node."""
        if not self.nodes:
            return branches
        found = branches.astype(np.result_type(branches, at), copy=True)
        found[self.places] = np.where(self.up >= 0, at - at[self.up], 0)
        return found

    def down(self, branches: tuple[Array, Array], head: fault.Head, at: tuple[Array, Array]) -> tuple[Array, Array]:
        """:func:`oneline.calc.fault.down` with the values ``at`` at core nodes."""
        tree = self.forest.tree
        if not self.nodes:
            return fault.down(tree, *branches, head)
        zones = self.zones

        def over(k: int, z: Any, z_ln: Any) -> tuple[Any, Any]:
            return (at[0][zones[k]], at[1][zones[k]]) if k in zones else head(k, z, z_ln)

        return fault.down(tree, self.differences(branches[0], at[0]), self.differences(branches[1], at[1]), over)


def make_overlay(forest: Forest) -> Overlay:
    return Overlay(forest, tuple(core_faults(forest, core) for core in forest.cores))
