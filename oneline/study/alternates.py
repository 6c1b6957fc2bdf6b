"""What else can feed a place: every source by itself, through transfer switches and ties in other than normal position.

Loads and voltage drop are those of normal operation. A rating must stand whatever position switches can be put into, so
fault currents are worked out once more for each source alone, with the transfer switches it reaches turned to it and
normally open devices closed. A transfer switch never connects its two supplies; ties can, unless they are interlocked.

A suspected tie may be closed as it stands. Cases with all of them closed come beside the others: what they give is
possible, not certain. One to an unknown place may bring anything.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations, product

from oneline.model import Battery, Disconnect, Generator, SolarArray, SuspectedTie, TransferSwitch, UtilityService
from oneline.model.quick import quick
from oneline.network import Branch, Network, build_feeding
from oneline.rules.common import unique
from oneline.study.context import Context
from oneline.study.reads import SeenBranches

#: More transfer switches than this that one source reaches on both sides are not turned independently.
_TURNED_AT_MOST = 4


@quick
@dataclass(frozen=True)
class Case:
    """One way a drawing can be fed. ``source``: the source that feeds alone, "" for normal operation.

    ``traces``: of a case with suspected ties closed, what to find out by node that they concern; ``None`` of the others,
    which concern every node.
    """

    source: str
    ctx: Context
    traces: Mapping[int, tuple[str, ...]] | None = None

    def concerns(self, node: int) -> bool:
        """Whether the case has anything to say about a node: what its source does not feed is another case's."""
        root = self.ctx.feeding.root[node]
        return bool(root) and self.source in ("", root) and (self.traces is None or node in self.traces)

    def needs(self, node: int) -> tuple[str, ...]:
        """Suspected ties to trace before the case is certain at a node; nothing where it is."""
        return () if self.traces is None else self.traces.get(node, ())


@dataclass(frozen=True)
class Alternates:
    """``cases``: beside normal operation. ``meeting``: what to find out before two sources that a tie can close together
    count one at a time, by pair. ``unknown``: suspected ties to an unknown place, each with the source of its node.
    """

    cases: tuple[Case, ...] = ()
    meeting: Mapping[frozenset[str], str] = field(default_factory=dict)
    unknown: tuple[tuple[str, str], ...] = ()


def alternates(ctx: Context) -> Alternates:
    """Other ways of feeding a drawing; nothing where no switch has a position that changes them. Worked out once."""
    found: Alternates | None = ctx.__dict__.get("_alternates")
    if found is None:
        found = ctx.__dict__["_alternates"] = _alternates(ctx) if _can_change(ctx) else Alternates()
    return found


def normal(ctx: Context) -> Case:
    """Normal operation."""
    found: Case | None = ctx.__dict__.get("_normal_case")
    if found is None:
        found = ctx.__dict__["_normal_case"] = Case("", ctx)
    return found


def cases_at(ctx: Context, node: int) -> list[Case]:
    """Normal operation, if something feeds the node then, and every other way it can be fed."""
    found = [normal(ctx)] if ctx.feeding.position[node] >= 0 else []
    return found + [c for c in alternates(ctx).cases if c.concerns(node)]


def unknown_ties(ctx: Context, node: int) -> tuple[str, ...]:
    """What to trace because a tie to an unknown place may bring more to a node."""
    ties = alternates(ctx).unknown
    if not ties:
        return ()
    roots = {source_of(case, node) for case in cases_at(ctx, node)}
    return unique(f"trace of {tie}" for root, tie in ties if root in roots)


def source_of(case: Case, node: int) -> str:
    """Id of the source that feeds a node in a case."""
    return case.source or case.ctx.feeding.root[node]


def _can_change(ctx: Context) -> bool:
    items = ctx.drawing.items.values()
    switching = any(
        isinstance(i, TransferSwitch | SuspectedTie) or (isinstance(i, Disconnect) and i.normally_open) for i in items
    )
    return switching or bool(ctx.feeding.parallel or ctx.feeding.loop_branches)


def _alternates(ctx: Context) -> Alternates:
    holding = [s for s in ctx.net.sources if _holds_voltage(ctx, s)]
    cases: list[Case] = []
    meeting: dict[frozenset[str], str] = {}
    ties = [b for b in ctx.net.branches.values() if isinstance(b.item, SuspectedTie)]
    for source in holding:
        for sides in _positions(ctx, source):
            found = _alone(ctx, source, sides)
            if _differs(ctx, found, source):
                cases.append(Case(source, found))
            _meet(ctx, found, source, holding, meeting)
            if any(b.b >= 0 and source in (found.feeding.root[b.a], found.feeding.root[b.b]) for b in ties):
                tied = _alone(ctx, source, sides, suspected=True)
                traces = _traces(found, tied, source)
                if traces:
                    cases.append(Case(source, tied, traces))
                _meet(ctx, tied, source, holding, meeting)
    unknown = [(_root(ctx, cases, b.a), ctx.name(b.item.id)) for b in ties if b.b < 0]
    return Alternates(tuple(cases), meeting, tuple(unknown))


def _root(ctx: Context, cases: list[Case], node: int) -> str:
    """The source that feeds a node, normally or else in some other position."""
    return next((r for c in (Case("", ctx), *cases) if (r := c.ctx.feeding.root[node])), "")


def _meet(ctx: Context, found: Context, source: str, holding: list[str], meeting: dict[frozenset[str], str]) -> None:
    """Notes the ties by which a source reaches others; what is certain comes first and stays."""
    for other in holding:
        pair = frozenset((source, other))
        if other != source and pair not in meeting and found.feeding.root[ctx.net.sources[other]] == source:
            need = _tie_on_the_way(found, ctx.net.sources[other], pair)
            if need:
                meeting[pair] = need


def _traces(certain: Context, tied: Context, source: str) -> dict[int, tuple[str, ...]]:
    """Nodes that a source reaches otherwise with the suspected ties closed, with the ties to trace."""
    before, after = certain.feeding, tied.feeding
    found: dict[int, tuple[str, ...]] = {}
    names = [f"trace of {tied.name(b.item.id)}" for b in tied.net.branches.values() if _is_tie(tied, b) and b.b >= 0]
    for node in after.order:
        if after.root[node] != source:
            continue
        on_way = [f"trace of {tied.name(b.item.id)}" for b, _ in after.path(node) if _is_tie(tied, b)]
        if on_way:
            found[node] = unique(on_way)
        elif before.root[node] != source or (node in after.looped and node not in before.looped):
            found[node] = unique(names)
    return found


def _is_tie(ctx: Context, branch: Branch) -> bool:
    return isinstance(ctx.drawing.get(branch.item.id), SuspectedTie)


def _holds_voltage(ctx: Context, source: str) -> bool:
    """Services, generators, and inverters that may run by themselves and stand on a side of their own."""
    item = ctx.drawing.get(source)
    if isinstance(item, UtilityService | Generator):
        return True
    alone = ctx.feeding.root[ctx.net.sources[source]] == source
    return isinstance(item, SolarArray | Battery) and item.forms_grid is not False and alone


def _positions(ctx: Context, source: str) -> list[dict[str, str]]:
    """Sides of the transfer switches that a source can be fed through, by switch: usually one set."""
    near, both = _reach(ctx.net, ctx.net.sources[source])
    turned = both[:_TURNED_AT_MOST]
    found = []
    for sides in product(("normal", "alternate"), repeat=len(turned)):
        found.append({**near, **dict(zip(turned, sides, strict=True))})
    return found


def _reach(net: Network, start: int) -> tuple[dict[str, str], list[str]]:
    """The side on which each transfer switch is reached first, and those that are reached on both sides.

    Going in at one side and out at the other is no way: a transfer switch is closed on one side only.
    """
    seen, queue = {start}, deque([(start, "")])
    arrived: dict[str, set[str]] = {}
    first: dict[str, str] = {}
    while queue:
        node, through = queue.popleft()
        for key in net.at_node[node]:
            branch = net.branches[key]
            if branch.item.kind == "tie":
                continue
            if isinstance(branch.item, TransferSwitch):
                id_, _, side = key.rpartition("/")
                if node == branch.b:  # up from its load terminal
                    if through == id_ or id_ in arrived:
                        continue
                    first.setdefault(id_, side)
                    arrived.setdefault(id_, set()).update(("normal", "alternate"))
                else:
                    first.setdefault(id_, side)
                    arrived.setdefault(id_, set()).add(side)
            other = branch.other(node)
            if other >= 0 and other not in seen:
                seen.add(other)
                passed = branch.item.id if isinstance(branch.item, TransferSwitch) else through
                queue.append((other, passed))
    return first, [id_ for id_, sides in arrived.items() if len(sides) > 1]


def _alone(ctx: Context, source: str, sides: dict[str, str], suspected: bool = False) -> Context:
    """The drawing with one source holding the voltage, ties closed, transfer switches in the given positions.

    ``suspected``: suspected ties closed too; they count as a switch, because nobody knows of an impedance in them.
    """
    net = ctx.net
    branches: dict[str, Branch] = {}
    for key, branch in net.branches.items():
        if isinstance(branch.item, TransferSwitch):
            side = key.rpartition("/")[2]
            if sides.get(branch.item.id, "normal") != side:
                continue
            branches[key] = replace(branch, normally_closed=True)
        elif isinstance(branch.item, Disconnect) and branch.item.normally_open:
            branches[key] = replace(branch, normally_closed=True)
        elif suspected and isinstance(branch.item, SuspectedTie):
            switch = Disconnect(id=branch.item.id, name=branch.item.name, form="switch")
            branches[key] = replace(branch, item=switch, normally_closed=True)
        else:
            branches[key] = branch
    kept = {
        id_: node for id_, node in net.sources.items()
        if id_ == source or not isinstance(ctx.drawing.get(id_), UtilityService | Generator)
    }  # fmt: skip
    at_node = tuple(tuple(k for k in keys if k in branches) for keys in net.at_node)
    found = Context(ctx.full, ctx.view, ctx.edition, ctx.reads)
    known = found.__dict__
    known["drawing"] = ctx.drawing
    noted = branches if ctx.reads is None else SeenBranches(branches, ctx.reads)
    known["net"] = replace(net, branches=noted, at_node=at_node, sources=kept)
    known["feeding"] = build_feeding(known["net"])
    return found


def _differs(ctx: Context, found: Context, source: str) -> bool:
    """Whether the source alone feeds some node otherwise than normally."""
    normal, other = ctx.feeding, found.feeding
    return any(
        other.root[n] == source
        and (normal.root[n] != source or normal.branch[n] != other.branch[n] or n in normal.looped or n in other.looped)
        for n in other.order
    )


def _tie_on_the_way(ctx: Context, node: int, pair: frozenset[str]) -> str:
    """What to find out about the first normally open device or suspected tie between a node and the source that feeds it,
    the device first; "" for none."""
    way = [branch for branch, _ in ctx.feeding.path(node)]
    first, second = (ctx.name(s) for s in ctx.net.drawing.items if s in pair)
    for branch in way:
        if isinstance(branch.item, Disconnect) and branch.item.normally_open:
            return f"interlock that keeps {first} and {second} from being closed together at {ctx.name(branch.item.id)}"
    return next((f"trace of {ctx.name(branch.item.id)}" for branch in way if _is_tie(ctx, branch)), "")


def pairs_together(ctx: Context, sources: Sequence[str]) -> list[tuple[str, str, str]]:
    """Pairs of the sources that a tie can close together, each with what to find out about it."""
    ways = alternates(ctx).meeting
    return [(a, b, need) for a, b in combinations(sources, 2) if (need := ways.get(frozenset((a, b))))]
