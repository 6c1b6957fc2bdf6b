"""The load flow inside a core: voltages and currents of its nodes for what its trees draw."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from oneline import tables
from oneline.calc.flow_tree import Array, IntArray
from oneline.calc.mesh import Mesh, forced_flow, union
from oneline.model import Disconnect
from oneline.rules.common import listed
from oneline.study.numbers_cores import Core, CoreBranch, neutral_arrives
from oneline.study.numbers_elements import NEUTRAL, WIDTH, Elements, flow_elements, solve
from oneline.study.numbers_forest import Forest

#: Stands for an impedance that is not known; what it decides is not shown.
_UNKNOWN_OHMS = 1e-3
_CONDUCTORS = 4
#: A neutral current below this part of the largest phase current is rounding.
NO_CURRENT = 1e-9


@dataclass
class FlowCore:
    """A core as the load flow sees it (:class:`oneline.calc.flow.Core`). ``needs``: what is missing to know how its
    current divides, ``needs_neutral`` where a neutral carries current."""

    core: Core
    nodes: IntArray
    up: IntArray
    zones: dict[int, int]
    mesh: Mesh
    elements: Elements
    needs: tuple[str, ...]
    needs_neutral: tuple[str, ...]
    present: Array
    neutral_carries: bool = False
    loop_currents: dict[str, Array] = field(default_factory=dict)
    undecided: tuple[tuple[str, ...], ...] = ()

    @cached_property
    def _pick(self) -> tuple[IntArray, IntArray]:
        """For each phase of each node (3 c,) its place in the solution and that of its neutral, -1 for a reference.

        Without a neutral one of the lines stands for it: only differences between lines are used there, and what is
        drawn from the lines adds up to nothing.
        """
        group, arrives = self.mesh.group, neutral_arrives(self.core)
        lines, backs = [], []
        for k in range(len(self.core.nodes)):
            first = int(np.argmax(self.present[k]))
            back = group[WIDTH * k + (NEUTRAL if arrives[k] else first)]
            for p in range(3):
                lines.append(group[WIDTH * k + p] if self.present[k, p] else back)
                backs.append(back)
        return np.array(lines, np.intp), np.array(backs, np.intp)

    @cached_property
    def _maps(self) -> tuple[Array, Array]:
        """Volts (3 c,) at rest, and ohms (3 c, 3 c) by which currents lower them."""
        lines, backs = self._pick
        padded = np.pad(self.mesh.inverse, ((0, 1), (0, 1)))
        rows = padded[lines] - padded[backs]
        at_rest = rows[:, :-1] @ self.mesh.fixed
        return at_rest, rows[:, lines] - rows[:, backs]

    def solve(self, drawn: Array) -> Array:
        """Volts to neutral (c, 3) for the currents (c, 3) that leave the core at each node."""
        at_rest, ohms = self._maps
        return np.asarray((at_rest - ohms @ drawn.reshape(-1)).reshape(-1, 3))

    def branches(self, drawn: Array) -> tuple[Array, Array]:
        """Currents into each node from the one above (or from its source), and in the neutral; notes those of the
        branches that close the loops."""
        lines, backs = self._pick
        right = np.append(self.mesh.fixed, 0)
        np.subtract.at(right, lines, drawn.reshape(-1))
        np.add.at(right, backs, drawn.reshape(-1))
        solution = self.mesh.inverse @ right[:-1]
        volts = self.mesh.volts(solution)
        leaving = np.zeros((len(self.core.nodes), _CONDUCTORS), complex)
        leaving[:, :3] = drawn
        leaving[:, NEUTRAL] = -drawn.sum(axis=1)
        found = {b.key: np.zeros(_CONDUCTORS, complex) for b in self.core.branches}
        sources = self._through_banks(solution, leaving, found)
        self._through_wires(volts, leaving, found)
        self._through_contacts(leaving, found)
        i = np.zeros((len(self.core.nodes), 3), complex)
        back = np.zeros(len(self.core.nodes), complex)
        for k, amperes in sources.items():
            i[k], back[k] = amperes, -amperes.sum()
        for b in self.core.branches:
            if b.in_tree:
                into = b.a if b.backward else b.b
                i[into], back[into] = found[b.key][:3], found[b.key][NEUTRAL]
            else:
                self.loop_currents[b.key] = found[b.key]
        self.neutral_carries = bool(
            np.nanmax(np.abs(back), initial=0) > NO_CURRENT * max(np.nanmax(np.abs(i), initial=0), 1)
        )
        return i, back

    def _through_banks(self, solution: Array, leaving: Array, found: dict[str, Array]) -> dict[int, Array]:
        """Puts the currents of transformers and sources; returns those of the sources by their node."""
        sources: dict[int, Array] = {}
        transformers = [b for b in self.core.branches if b.zone is not None]
        for n, (bank, rows) in enumerate(zip(self.mesh.banks, self.mesh.rows, strict=True)):
            i = np.zeros(3, complex)
            i[bank.phases] = solution[list(rows)]
            at = bank.lines[bank.phases[0]] // WIDTH
            leaving[at, :3] -= i
            leaving[at, NEUTRAL] += i.sum()
            if bank.turns is None:
                sources[at] = sources.get(at, 0) + i
                continue
            branch = transformers[n]
            assert branch.b == at
            drawn = bank.turns.T @ i
            leaving[branch.a, :3] += drawn
            leaving[branch.a, NEUTRAL] -= drawn.sum()
            into = -drawn if branch.backward else i
            found[branch.key][:3], found[branch.key][NEUTRAL] = into, -into.sum()
        roots = {k for k, up in enumerate(self.core.above) if up < 0}
        return {k: i for k, i in sources.items() if k in roots}

    def _through_wires(self, volts: Array, leaving: Array, found: dict[str, Array]) -> None:
        for b, conductor, z in self._wires():
            if z:
                i = (volts[WIDTH * b.a + conductor] - volts[WIDTH * b.b + conductor]) / z
                found[b.key][conductor] = i
                leaving[b.a, conductor] += i
                leaving[b.b, conductor] -= i

    def _wires(self) -> Iterable[tuple[CoreBranch, int, complex]]:
        """Branch, conductor and ohms of every wire."""
        branches = {(b.a, b.b, n): b for n, b in enumerate(self.core.branches) if b.zone is None}
        wires = iter(self.elements.wires)
        for b in branches.values():
            count = len(b.phases) + (b.figures.neutral is not False)
            for _ in range(count):
                start, stop, z, gap = next(wires)
                assert (start // WIDTH, stop // WIDTH) == (b.a, b.b)
                yield b, start % WIDTH, z if gap < 0 else complex(_UNKNOWN_OHMS)

    def _through_contacts(self, leaving: Array, found: dict[str, Array]) -> None:
        """Puts the currents of branches without impedance; ``nan`` for those on a ring of them."""
        rings: list[tuple[str, ...]] = []
        for conductor in range(_CONDUCTORS):
            contacts = [b for b, c, z in self._wires() if c == conductor and not z]
            ends = [(b.a, b.b) for b in contacts]
            drawn = leaving[:, conductor]
            amperes, single = forced_flow(len(self.core.nodes), ends, drawn[:, None])
            for b, i, sure in zip(contacts, amperes[:, 0], single.tolist(), strict=True):
                found[b.key][conductor] = i if sure else np.nan
            on_ring = [b for b, sure in zip(contacts, single.tolist(), strict=True) if not sure]
            top = union(len(self.core.nodes), [(b.a, b.b) for b in on_ring])
            rings += [
                tuple(b.key for b in on_ring if top[b.a] == t) for t in dict.fromkeys(int(top[b.a]) for b in on_ring)
            ]
        self.undecided = tuple(dict.fromkeys(rings))


def flow_core(forest: Forest, core: Core) -> FlowCore | None:
    """A core for the load flow; ``None`` where it cannot be solved."""
    if core.refused:
        return None
    elements = flow_elements(core)
    try:
        mesh = solve(elements, {}, _UNKNOWN_OHMS)
    except np.linalg.LinAlgError:
        return None
    place = np.empty(forest.size, np.intp)
    place[forest.tree.order] = np.arange(forest.size)
    nodes = place[[forest.ctx.feeding.position[n] for n in core.nodes]]
    zone = forest.tree.zone[nodes]
    same = [u if u >= 0 and zone[u] == zone[k] else -1 for k, u in enumerate(core.above)]
    heads = {int(zone[k]): k for k, u in enumerate(same) if u < 0}
    present = np.zeros((len(core.nodes), 3), bool)
    for k, node in enumerate(core.nodes):
        code = forest.ctx.feeding.system[node]
        assert code is not None
        system = tables.system(code)
        present[k, : 3 if system.phases == 3 else 1 if system.wires == 2 else 2] = True
    main = tuple(n for g in elements.gaps if not g.neutral_only for n in g.needs)
    loop = tuple(n for g in elements.gaps if g.neutral_only for n in g.needs)
    return FlowCore(core, nodes, np.array(same, np.intp), heads, mesh, elements, main, loop, present)


def ring_phrase(forest: Forest, ring: tuple[str, ...]) -> str:
    """Why the current through branches without impedance on a ring is not known."""
    ctx = forest.ctx
    items = [ctx.net.branches[key].item for key in ring]
    names = [ctx.name(item.id) for item in items if isinstance(item, Disconnect)] or [ctx.name(i.id) for i in items]
    return f"how the current divides between {listed(names)}, which close a loop without an impedance of its own"
