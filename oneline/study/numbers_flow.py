"""Operating currents, voltages and voltage drop of the forest at the load that is written down.

Connected load, every load on, no demand factors. Currents are taken at the voltages that follow from what is known: an
impedance that is not known counts as nothing there, and the result says so.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache

import numpy as np

from oneline import tables
from oneline.calc.flow import Coupling, Flow, Loads, solve_flow
from oneline.calc.flow_tree import Array
from oneline.calc.mesh import union
from oneline.model import Transformer
from oneline.rules.common import unique
from oneline.study.loads import LoadEntry
from oneline.study.numbers_core_flow import NO_CURRENT, FlowCore, flow_core, ring_phrase
from oneline.study.numbers_cores import Core
from oneline.study.numbers_forest import PHASES, Forest, zone_volts
from oneline.study.numbers_transformer import FlowHead, flow_head

#: For each phase the next one.
_NEXT = [1, 2, 0]


@dataclass(frozen=True)
class OpenLoad:
    """A load whose current is not known. ``place``: in the pre-order; ``phrase``: what is missing."""

    place: int
    item: str
    circuit: int | None
    phrase: str


@dataclass(frozen=True)
class FlowFigures:
    """Figures in pre-order; ``nan`` where not known.

    ``current_a`` (n, 3): magnitudes into each node from above. ``neutral_a`` (n,). ``voltage_v`` (n, 3) to the neutral,
    ``pair_v`` (n, 3) for the pairs AB, BC, CA. ``drop_pct`` (n,): worst of the voltages in use, from the last source or
    transformer. ``known`` (n,): whether the current into the node is known, ``voltage_known`` (n,): the voltage there;
    ``settled`` (n,): whether the loads of its tree can be carried at all; ``with_neutral`` (n,): whether a neutral
    arrives. ``heads``: couplings by zone.
    """

    current_a: Array
    neutral_a: Array
    voltage_v: Array
    pair_v: Array
    drop_pct: Array
    known: Array
    voltage_known: Array
    settled: Array
    with_neutral: Array
    open_loads: tuple[OpenLoad, ...]
    assumed_pf: Array
    heads: dict[int, FlowHead]
    loops: tuple[LoopFlow, ...] = ()

    def loop_of(self, node: int) -> LoopFlow | None:
        """The core that a node belongs to, where loops decide its figures."""
        return next((x for x in self.loops if node in x.meshed), None)


@dataclass(frozen=True)
class LoopFlow:
    """What the load flow says of a core. ``meshed``: its nodes that a loop or a parallel source reaches. ``needs``: what
    is missing to know how its current divides. ``undecided``: by node, why the current into it cannot be told although
    all else is known. ``currents``: by branch that closes a loop, amperes from its end a to b (3,). ``assumed``."""

    core: Core
    meshed: frozenset[int]
    needs: tuple[str, ...]
    undecided: dict[int, str]
    currents: dict[str, Array]
    assumed: tuple[str, ...]
    solved: bool


def compute_flow(forest: Forest, entries: tuple[LoadEntry, ...]) -> FlowFigures:
    """Load flow of a forest with the loads of its context."""
    emf, _, _ = zone_volts(forest.zones)
    heads = _flow_heads(forest)
    loads, open_loads, assumed_pf = _loads(forest, entries, heads)
    couplings = {k: h.coupling for k, h in heads.items() if h.coupling is not None}
    rows = forest.rows[forest.tree.order]
    found = [flow_core(forest, core) for core in forest.cores]
    cores = [c for c in found if c is not None]
    flow = solve_flow(forest.tree, emf, rows[:, 2], rows[:, 3], loads, _all(couplings, heads), cores)
    loops = tuple(_loop(forest, core, c, open_loads) for core, c in zip(forest.cores, found, strict=True))
    return _figures(forest, flow, heads, open_loads, assumed_pf, loops)


def _loop(forest: Forest, core: Core, solved: FlowCore | None, open_loads: tuple[OpenLoad, ...]) -> LoopFlow:
    """What is known of the load flow in a core once it is solved."""
    feeding = forest.ctx.feeding
    meshed = frozenset(n for n in core.nodes if n in feeding.looped)
    roots = {feeding.root[n] for n in core.nodes}
    loads = [
        u.phrase for u in open_loads if forest.in_loop[u.place] and feeding.root[int(forest.nodes[u.place])] in roots
    ]
    if solved is None:
        needs = core.refused or ("impedances that leave one solution of the loop",)
        return LoopFlow(core, meshed, unique((*needs, *loads)), {}, {}, (), False)
    needs = (*solved.needs, *loads)
    if solved.neutral_carries:
        needs = (*needs, *solved.needs_neutral)
    undecided = {}
    for ring in solved.undecided:
        phrase = ring_phrase(forest, ring)
        undecided.update({core.nodes[b.b]: phrase for b in core.branches if b.in_tree and b.key in ring})
    assumed = [a for b in core.branches if b.flow is not None for a in b.flow.assumed]
    assumed += [p.format(b.name) for b in core.branches for p in b.figures.assumed]
    if len(core.sources) > 1:
        assumed += [a for s in core.sources for a in s.head.assumed]
    currents = {key: i[:3] for key, i in solved.loop_currents.items()}
    return LoopFlow(core, meshed, unique(needs), undecided, currents, unique((*core.assumed, *assumed)), True)


def _flow_heads(forest: Forest) -> dict[int, FlowHead]:
    ctx = forest.ctx
    # In a solved core transformers count as they are built, whichever side the forest has them fed from.
    built = {b.key: b.flow for core in forest.cores if not core.refused for b in core.branches if b.flow is not None}
    found: dict[int, FlowHead] = {}
    for k, zone in enumerate(forest.zones):
        own = built.get(zone.transformer.id) if zone.transformer is not None else None
        if own is not None:
            found[k] = own
        elif zone.transformer is not None:
            above = int(forest.nodes[zone.above])
            supply, phases = ctx.feeding.system[above], ctx.feeding.phases[above]
            found[k] = flow_head(zone, supply, phases, ctx.name(zone.transformer.id))
    return found


def _all(couplings: dict[int, Coupling], heads: dict[int, FlowHead]) -> dict[int, Coupling]:
    """Couplings by zone. A transformer that cannot be reckoned passes nothing; what is behind it is not known anyway."""
    nothing = Coupling(np.zeros((3, 3)), np.zeros((3, 3)))
    return {k: couplings.get(k, nothing) for k in heads}


# ------------------------------------------------------------------------------------------------------------ loads
def _loads(
    forest: Forest, entries: tuple[LoadEntry, ...], heads: dict[int, FlowHead]
) -> tuple[Loads, tuple[OpenLoad, ...], Array]:
    """Loads as rows of the solver, those that are not known, and where a power factor was assumed (by pre-order).

    What entries have in common (phases, what arrives, system, neutral) is looked up once for each combination.
    """
    feeding = forest.ctx.feeding
    position = feeding.position
    entries = tuple(e for e in entries if position[e.node] >= 0)
    node = np.fromiter((e.node for e in entries), np.intp, len(entries))
    va = np.array([e.va for e in entries], float)
    factor = np.array([e.power_factor for e in entries], float)
    place = np.array(position, np.intp)[node]
    counted = va != 0
    usable = [_zone_lack(forest, k, heads) for k in range(len(forest.zones))]
    lacking = np.array([bool(u) for u in usable], bool)[forest.zone[place]] if entries else np.zeros(0, bool)
    sure = np.fromiter((e.phases_known and e.phases != "" for e in entries), bool, len(entries))
    open_ = counted & (lacking | np.isnan(va) | ~sure)
    unknown = [
        OpenLoad(int(place[k]), entries[k].item, entries[k].circuit,
                 usable[int(forest.zone[place[k]])] or _unknown(entries[k]))
        for k in np.flatnonzero(open_).tolist()
    ]  # fmt: skip
    rows = np.flatnonzero(counted & ~open_)
    neutral = ~forest.spread(forest.without_neutral)
    kinds: dict[tuple[str, str, int, bool], int] = {}
    ways = zip(rows.tolist(), forest.zone[place[rows]].tolist(), neutral[place[rows]].tolist(), strict=True)
    arriving = feeding.phases
    keys = ((entries[k].phases, arriving[entries[k].node], zone, wired) for k, zone, wired in ways)
    kind = np.fromiter((kinds.setdefault(key, len(kinds)) for key in keys), np.intp, len(rows))
    tree_place = np.empty(forest.size, np.intp)
    tree_place[forest.tree.order] = np.arange(forest.size)
    assumed_pf = np.zeros(forest.size, bool)
    usual = tables.limit_value("power_factor_assumed")
    parts: list[tuple[Array, Array, Array, Array]] = []
    for (phases, here, zone, wired), number in kinds.items():
        mine = rows[kind == number]
        code = forest.zones[zone].system
        assert code is not None
        pairs, reason = _pairs(phases, here, code, wired)
        if reason:
            unknown += [
                OpenLoad(int(place[k]), entries[k].item, entries[k].circuit, reason.format(entries[k].label))
                for k in mine.tolist()
            ]
            continue
        own = factor[mine]
        assumed_pf[place[mine[np.isnan(own)]]] = True
        own = np.where(np.isnan(own), usual, own)
        power = va[mine] / len(pairs) * (own + 1j * np.sqrt(1 - own**2))
        for start, stop in pairs:
            parts.append((tree_place[place[mine]], np.full(len(mine), start), np.full(len(mine), stop), power))
    none = np.zeros(0, np.intp)
    columns = [np.concatenate(column) for column in zip(*parts, strict=True)] or [none, none, none, none + 0j]
    unknown.sort(key=lambda u: u.place)
    return Loads(columns[0], columns[1], columns[2], columns[3]), tuple(unknown), assumed_pf


def _zone_lack(forest: Forest, k: int, heads: dict[int, FlowHead]) -> str:
    """Why the currents of a whole zone cannot be had; "" where they can."""
    zone = forest.zones[k]
    if k in heads and heads[k].coupling is None:
        return heads[k].lacks[0]
    if zone.system is None:
        return f"system voltage of {forest.ctx.name(zone.source)}"
    return ""


def _unknown(entry: LoadEntry) -> str:
    """What an entry itself lacks; "" when nothing."""
    if entry.va is None or not entry.phases_known or not entry.phases:
        return entry.needs[0] if entry.needs else f"load of {entry.label}"
    return ""


@cache
def _pairs(phases: str, arriving: str, code: str, neutral: bool) -> tuple[tuple[tuple[int, int], ...], str]:
    """Columns a load is connected between (-1: neutral), each with an equal part of it; or a phrase why it cannot be.

    A three-phase load is taken as connected from line to line.
    """
    if not set(phases) <= set(arriving):
        return (), f"phases of {{}} (not all of {phases} arrive there)"
    system = tables.system(code)
    columns = [PHASES.index(p) for p in phases]
    if len(columns) == 3:
        return ((0, 1), (1, 2), (2, 0)), ""
    if len(columns) == 2:
        return ((columns[0], columns[1]),), ""
    if system.v_ln is None or not neutral:
        return (), "connection of {} (no neutral arrives there)"
    return ((columns[0], -1),), ""


# ---------------------------------------------------------------------------------------------------------- figures
def _figures(
    forest: Forest, flow: Flow, heads: dict[int, FlowHead], open_loads: tuple[OpenLoad, ...],
    assumed_pf: Array, loops: tuple[LoopFlow, ...],
) -> FlowFigures:  # fmt: skip
    order = forest.tree.order
    unknown = np.zeros(forest.size)
    np.add.at(unknown, [u.place for u in open_loads], 1)
    below = forest.whole.sum_up(unknown)[order]
    meshed, open_loop, undecided, closed = _of_loops(forest, loops)
    usable = np.array([not _zone_lack(forest, k, heads) for k in range(len(forest.zones))], bool)[forest.tree.zone]
    carried = np.where(meshed, ~open_loop, below == 0) & ~closed & flow.settled & usable
    known = carried & ~undecided
    at_head = np.zeros(forest.size, bool)
    at_head[forest.tree.first[:-1]] = True

    lacks = forest.flagged("lacks") * ~meshed + (~carried & ~at_head)
    size = np.abs(flow.i)
    loaded_neutral = np.abs(flow.i_neutral) > NO_CURRENT * np.maximum(_largest(size), 1)
    lacks_zn = (forest.flagged("lacks_neutral") > 0) & loaded_neutral & ~meshed
    drop, drop_ln_lacks = _drops(forest, flow, loops), forest.tree.sum_down(lacks_zn.astype(float))
    neutral_in_use = ~forest.without_neutral & np.array(
        [z.system is not None and tables.system(z.system).has_neutral for z in forest.zones], bool
    )[forest.tree.zone]  # fmt: skip
    drop_known = (forest.tree.sum_down(lacks) == 0) & ~(neutral_in_use & (drop_ln_lacks > 0)) & ~closed
    drop_known &= flow.settled & usable
    present = forest.present[order]
    pairs = present & present[:, _NEXT]
    singles = present & neutral_in_use[:, None]
    worst = _largest(np.where(np.concatenate([singles, pairs], axis=1), drop, -np.inf))
    drop_pct = np.where(drop_known & np.isfinite(worst), worst, np.nan)

    whole_path = _path_known(forest, drop_known, carried, meshed)
    between = np.abs(flow.v - flow.v[:, _NEXT])
    figures = {
        "current_a": np.where(present & known[:, None], size, np.nan),
        "neutral_a": np.where(known & neutral_in_use, np.abs(flow.i_neutral), np.nan),
        "voltage_v": np.where(singles & whole_path[:, None], np.abs(flow.v), np.nan),
        "pair_v": np.where(pairs & whole_path[:, None], between, np.nan),
        "drop_pct": drop_pct,
        "known": known,
        "voltage_known": whole_path,
        "settled": flow.settled,
        "with_neutral": neutral_in_use,
    }
    return FlowFigures(
        **{name: forest.spread(values) for name, values in figures.items()}, open_loads=open_loads, assumed_pf=assumed_pf,
        heads=heads, loops=loops,
    )  # fmt: skip


def _of_loops(forest: Forest, loops: tuple[LoopFlow, ...]) -> tuple[Array, Array, Array, Array]:
    """By the tree's order: nodes of cores that loops reach; those of them whose core lacks something; those whose own
    current cannot be told; and everything fed through a core that has no solution."""
    meshed, open_, undecided, closed = (np.zeros(forest.size, bool) for _ in range(4))
    feeding = forest.ctx.feeding
    for loop in loops:
        at = [feeding.position[n] for n in loop.meshed]
        meshed[at] = True
        open_[at] = bool(loop.needs)
        undecided[[feeding.position[n] for n in loop.undecided]] = True
        if not loop.solved:
            roots = {feeding.root[n] for n in loop.core.nodes}
            closed |= forest.in_loop & np.array([feeding.root[n] in roots for n in forest.nodes], bool)
    order = forest.tree.order
    return meshed[order], open_[order], undecided[order], closed[order]


def _largest(values: Array) -> Array:
    """Largest of each row; column by column, which is quicker where rows are short."""
    found = values[:, 0]
    for k in range(1, values.shape[1]):
        found = np.maximum(found, values[:, k])
    return np.asarray(found)


def _drops(forest: Forest, flow: Flow, loops: tuple[LoopFlow, ...]) -> Array:
    """Drop from the head of the zone in percent of nominal: A, B, C to neutral, then AB, BC, CA (n, 6).

    What several transformers or sources feed together has as many heads: the largest of the drops counts.
    """
    emf, _, _ = zone_volts(forest.zones)
    zone = forest.tree.zone
    head = flow.v[forest.tree.first[:-1]][zone]

    def percent(nominal: Array, first: Array, here: Array) -> Array:
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.where(np.abs(nominal) > 0, 100 * (np.abs(first) - np.abs(here)) / np.abs(nominal), np.nan)

    def from_head(head: Array) -> Array:
        turned = [x[:, _NEXT] for x in (emf[zone], head, flow.v)]
        return np.concatenate(
            [
                percent(emf[zone], head, flow.v),
                percent(emf[zone] - turned[0], head - turned[1], flow.v - turned[2]),
            ],
            axis=1,
        )

    drops = from_head(head)
    row = np.empty(forest.size, np.intp)
    row[forest.tree.order] = np.arange(forest.size)
    for together, heads in _fed_together(forest, loops):
        rows = row[together]
        for other in row[heads]:
            other_head = head.copy()
            other_head[rows] = flow.v[other]
            drops[rows] = np.fmax(drops[rows], from_head(other_head)[rows])
    return drops


def _fed_together(forest: Forest, loops: tuple[LoopFlow, ...]) -> Iterator[tuple[list[int], list[int]]]:
    """Places that normally closed branches without a transformer join to several transformers or sources of a loop, and
    the places of the terminals of those."""
    if not loops:
        return
    feeding = forest.ctx.feeding
    position, nodes = feeding.position, feeding.network.node_count
    joined = [
        (b.a, b.b) for b in feeding.network.branches.values()
        if b.normally_closed and b.b >= 0 and not isinstance(b.item, Transformer) and b.item.kind != "tie"
    ]  # fmt: skip
    top = union(nodes, joined)
    heads: dict[int, set[int]] = {}
    for loop in loops:
        core = loop.core
        terminals = [core.nodes[b.b] for b in core.branches if b.zone is not None]
        for node in (*terminals, *(core.nodes[s.at] for s in core.sources)):
            heads.setdefault(int(top[node]), set()).add(position[node])
    for place, at in heads.items():
        if len(at) > 1:
            yield [position[n] for n in feeding.order if int(top[n]) == place], sorted(at)


def _path_known(forest: Forest, drop_known: Array, carried: Array, meshed: Array) -> Array:
    """Where the voltage itself is known: the drop is, and so is the voltage at the head of the zone."""
    good = np.ones(len(forest.zones), bool)
    for k, up in enumerate(forest.tree.above.tolist()):
        first = forest.tree.first[k]
        if meshed[first]:
            good[k] = carried[first]
        elif up >= 0:
            item = forest.zones[k].transformer
            assert item is not None
            through = carried[first] and item.kva is not None and item.z_pct is not None
            good[k] = good[forest.tree.zone[up]] and drop_known[up] and through
    return np.asarray(drop_known & good[forest.tree.zone])
