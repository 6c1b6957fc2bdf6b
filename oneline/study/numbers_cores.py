"""Cores: the parts of the forest that closed loops and parallel sources make more than a tree.

A core holds every node on a closed loop and on the way from there, and from every source in parallel, to the sources. It
is solved by nodes; whatever hangs on it is a tree and goes through the array passes as anywhere else.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field

import numpy as np

from oneline import tables
from oneline.calc.flow_tree import Array
from oneline.calc.mesh import union
from oneline.model import ConductorRun, Disconnect, Generator, Transformer
from oneline.network import Branch
from oneline.study.numbers_facts import NOTHING, HeadFigures, RunFigures, figures_of, source_figures
from oneline.study.numbers_forest import PHASES, Forest, Zone
from oneline.study.numbers_transformer import FlowHead, flow_head, transformer_head
from oneline.study.phasors import phase_volts

#: Two no-load voltages that differ by less than this part are one.
SAME_VOLTAGE = 1e-3


@dataclass(frozen=True)
class CoreBranch:
    """A closed branch between two nodes of a core, by their numbers in it. ``phases``: columns of the phases it carries;
    ``figures``: impedances of a run, none of a contact. Of a transformer, whose primary is at ``a``: ``zone`` as it is
    built, ``head`` for faults and ``flow`` for the load flow. ``in_tree``: part of the forest; ``backward``: which has it
    with its load at ``a``."""

    key: str
    name: str
    a: int
    b: int
    phases: tuple[int, ...]
    figures: RunFigures
    run: ConductorRun | None = None
    zone: Zone | None = None
    head: HeadFigures | None = None
    flow: FlowHead | None = None
    in_tree: bool = True
    backward: bool = False


@dataclass(frozen=True)
class CoreSource:
    """A source that holds the voltage at a node of a core."""

    item: str
    name: str
    at: int
    system: str | None
    head: HeadFigures
    generator: bool


@dataclass(frozen=True)
class Core:
    """``nodes``: network nodes in pre-order; ``above``: for each the node toward its root, by number in the core, -1 at a
    root. ``volts`` (k, 3): phasors without load. ``loop_keys``: its branches that are not in the forest. ``refused``:
    why it cannot be solved, () where it can; ``assumed``: what that takes for granted."""

    nodes: tuple[int, ...]
    above: tuple[int, ...]
    branches: tuple[CoreBranch, ...]
    sources: tuple[CoreSource, ...]
    volts: Array
    loop_keys: tuple[str, ...]
    refused: tuple[str, ...]
    assumed: tuple[str, ...] = ()
    number: dict[int, int] = field(default_factory=dict, repr=False, compare=False)


def neutral_arrives(core: Core) -> list[bool]:
    """Whether a way of neutral conductors joins each node of a core with that of a source or transformer."""
    joined = [(b.a, b.b) for b in core.branches if b.zone is None and b.figures.neutral is not False]
    top = union(len(core.nodes), joined)
    fed = {int(top[s.at]) for s in core.sources if s.system is not None and tables.system(s.system).has_neutral}
    for b in core.branches:
        if b.zone is not None and b.zone.system is not None and tables.system(b.zone.system).has_neutral:
            fed.add(int(top[b.b]))
    return [int(t) in fed for t in top]


def build_cores(forest: Forest, everything: bool = False) -> tuple[Core, ...]:
    """The cores of a forest; none where it is radial. ``everything``: all fed nodes count as looped."""
    feeding = forest.ctx.feeding
    if not everything and not feeding.loop_branches and not feeding.parallel:
        return ()
    net = forest.ctx.net
    closed = [net.branches[k] for k in feeding.loop_branches]
    starts = [n for b in closed for n in (b.a, b.b)] + [net.sources[s] for s in feeding.parallel]
    if everything:
        starts = list(feeding.order)
    roots = sorted({feeding.root[n] for n in starts})
    place = {r: k for k, r in enumerate(roots)}
    group = union(len(roots), [(place[feeding.root[b.a]], place[feeding.root[b.b]]) for b in closed])
    ways: dict[int, set[int]] = {int(g): set() for g in group}
    for node in starts:
        found = ways[int(group[place[feeding.root[node]]])]
        while node >= 0 and node not in found:
            found.add(node)
            node = feeding.parent[node]
    return tuple(_core(forest, sorted(nodes, key=lambda n: feeding.position[n])) for nodes in ways.values())


def _core(forest: Forest, nodes: list[int]) -> Core:
    ctx, feeding = forest.ctx, forest.ctx.feeding
    number = {node: k for k, node in enumerate(nodes)}
    tree = [ctx.net.branches[feeding.branch[n]] for n in nodes if feeding.branch[n]]
    loops = tuple(k for k in feeding.loop_branches if ctx.net.branches[k].a in number)
    branches = [_branch(forest, b, number, feeding.load_node(b.key)) for b in tree]
    branches += [_branch(forest, ctx.net.branches[k], number, None) for k in loops]
    sources = [
        _source(forest, s, number[at]) for s, at in ctx.net.sources.items()
        if at in number and (feeding.root[at] == s or s in feeding.parallel)
    ]  # fmt: skip
    above = tuple(number.get(feeding.parent[n], -1) for n in nodes)
    volts, refused = _no_load(forest, nodes, branches, sources)
    assumed = []
    if len(sources) > 1:
        first, *others = (s.name for s in sources)
        assumed = [f"voltages of {first} and {other} taken as equal and in phase" for other in others]
    return Core(
        tuple(nodes), above, tuple(branches), tuple(sources), volts, loops, tuple(dict.fromkeys(refused)),
        tuple(assumed), number,
    )  # fmt: skip


def _branch(forest: Forest, branch: Branch, number: dict[int, int], load: int | None) -> CoreBranch:
    """A branch of a core; ``load``: its node away from the source, ``None`` where it closes a loop."""
    ctx, feeding, item = forest.ctx, forest.ctx.feeding, branch.item
    a, b = (branch.a, branch.b) if load in (None, branch.b) else (branch.b, branch.a)
    name = ctx.name(item.id)
    if isinstance(item, Transformer):
        # As it is built, from its primary: in a loop nobody can say from which side it is fed.
        a, b = branch.a, branch.b
        zone = Zone(
            feeding.position[b], feeding.position[a], feeding.root[a], item, True, item.secondary_system, 0
        )  # fmt: skip
        supply, phases = feeding.system[a], feeding.phases[a]
        return CoreBranch(
            branch.key, name, number[a], number[b], (0, 1, 2), NOTHING, None, zone,
            transformer_head(zone, supply, phases, name), flow_head(zone, supply, phases, name), load is not None,
            load == a,
        )  # fmt: skip
    figures, run = NOTHING, None
    if isinstance(item, ConductorRun):
        run = item
        figures = figures_of(item)
    own = item.phases if isinstance(item, ConductorRun | Disconnect) else None
    both = [p for p in PHASES if p in feeding.phases[a] and p in feeding.phases[b] and (not own or p in own)]
    columns = tuple(PHASES.index(p) for p in both)
    return CoreBranch(
        branch.key, name, number[a], number[b], columns, figures, run, in_tree=load is not None
    )  # fmt: skip


def _source(forest: Forest, source_id: str, at: int) -> CoreSource:
    ctx = forest.ctx
    item, name = ctx.drawing.get(source_id), ctx.name(source_id)
    system = getattr(item, "system", None)
    return CoreSource(
        source_id, name, at, system, source_figures(item, system, name), isinstance(item, Generator)
    )  # fmt: skip


def _no_load(
    forest: Forest, nodes: list[int], branches: list[CoreBranch], sources: list[CoreSource]
) -> tuple[Array, list[str]]:
    """Phasors of every node of a core without load, and why they contradict each other or are not known."""
    feeding = forest.ctx.feeding
    volts = np.zeros((len(nodes), 3), complex)
    refused = [f"system voltage of {s.name}" for s in sources if s.system is None]
    refused += [p for b in branches if b.flow is not None and b.flow.coupling is None for p in b.flow.lacks]
    if refused or not sources:
        return volts, refused or ["a source that holds the voltage of the loop"]
    at: list[list[CoreBranch]] = [[] for _ in nodes]
    for b in branches:
        at[b.a].append(b)
        at[b.b].append(b)
    first = sources[0]
    assert first.system is not None
    known = {first.at}
    volts[first.at] = phase_volts(first.system)
    queue = deque(known)
    while queue:
        k = queue.popleft()
        for b in at[k]:
            other = b.b if b.a == k else b.a
            there = _across(forest, b, volts[k], k == b.a, nodes[b.b])
            if other not in known:
                known.add(other)
                volts[other] = there
                queue.append(other)
            elif not _agree(volts[other], there, b):
                refused.append(f"one voltage on both sides of {b.name} (the drawing ties two that differ)")
    for s in sources:
        if s.system is None or abs(np.abs(volts[s.at]) - np.abs(phase_volts(s.system))).max() > SAME_VOLTAGE:
            refused.append(f"a system of {s.name} that agrees with what it is in parallel with")
    if any(feeding.system[nodes[b.a]] != feeding.system[nodes[b.b]] for b in branches if b.zone is None):
        refused.append("one system on both sides of every branch of the loop")
    return volts, refused


def _across(forest: Forest, b: CoreBranch, volts: Array, forward: bool, load_node: int) -> Array:
    """No-load phasors at the other end of a branch."""
    if b.zone is None:
        return volts
    assert b.flow is not None
    assert b.flow.coupling is not None
    if forward:
        return np.asarray(b.flow.coupling.turns @ volts)
    # Backward only the angle is needed: the magnitudes are those of the system there.
    ahead = b.zone.primary_system or forest.ctx.feeding.system[int(forest.nodes[b.zone.above])]
    assert ahead is not None
    nominal = np.array(phase_volts(ahead))
    turned = b.flow.coupling.turns @ nominal
    k = int(np.argmax(np.abs(volts)))
    return np.asarray(nominal * (volts[k] / turned[k] if turned[k] else 1))


def _agree(one: Array, other: Array, b: CoreBranch) -> bool:
    columns = list(b.phases)
    return bool(np.abs(one - other)[columns].max(initial=0) <= SAME_VOLTAGE * np.abs(one).max())
