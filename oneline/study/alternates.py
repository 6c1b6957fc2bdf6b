"""What else can feed a place: every source by itself, through transfer switches and ties in other than normal position.

Loads and voltage drop are those of normal operation. A rating must stand whatever position switches can be put into, so
fault currents are worked out once more for each source alone, with the transfer switches it reaches turned to it and
normally open devices closed. A transfer switch never connects its two supplies; ties can, unless they are interlocked.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, replace
from itertools import combinations, product

from oneline.model import Battery, Disconnect, Generator, SolarArray, TransferSwitch, UtilityService
from oneline.network import Branch, Network, build_feeding
from oneline.study.context import Context

#: More transfer switches than this that one source reaches on both sides are not turned independently.
_TURNED_AT_MOST = 4


@dataclass(frozen=True)
class Case:
    """One way a drawing can be fed. ``source``: the source that feeds alone, "" for normal operation."""

    source: str
    ctx: Context


@dataclass(frozen=True)
class Alternates:
    """``cases``: beside normal operation. ``meeting``: ties through which two sources can be closed together, by pair."""

    cases: tuple[Case, ...] = ()
    meeting: tuple[tuple[frozenset[str], str], ...] = ()

    def tie_between(self, one: str, other: str) -> str:
        """Name of the tie that can connect two sources; "" where none can."""
        return next((tie for pair, tie in self.meeting if pair == {one, other}), "")


def alternates(ctx: Context) -> Alternates:
    """Other ways of feeding a drawing; nothing where no switch has a position that changes them. Worked out once."""
    cache: dict[str, Alternates] = ctx.__dict__.setdefault("_alternates", {})
    if "all" not in cache:
        cache["all"] = _alternates(ctx) if _can_change(ctx) else Alternates()
    return cache["all"]


def cases_at(ctx: Context, node: int) -> list[Case]:
    """Normal operation, if something feeds the node then, and every other way it can be fed."""
    normal = [Case("", ctx)] if ctx.feeding.position[node] >= 0 else []
    return normal + [c for c in alternates(ctx).cases if c.ctx.feeding.root[node] == c.source]


def source_of(case: Case, node: int) -> str:
    """Id of the source that feeds a node in a case."""
    return case.source or case.ctx.feeding.root[node]


def _can_change(ctx: Context) -> bool:
    items = ctx.drawing.items.values()
    switching = any(isinstance(i, TransferSwitch) or (isinstance(i, Disconnect) and i.normally_open) for i in items)
    return switching or bool(ctx.feeding.parallel or ctx.feeding.loop_branches)


def _alternates(ctx: Context) -> Alternates:
    holding = [s for s in ctx.net.sources if _holds_voltage(ctx, s)]
    cases: list[Case] = []
    meeting: dict[frozenset[str], str] = {}
    for source in holding:
        for sides in _positions(ctx, source):
            found = _alone(ctx, source, sides)
            if _differs(ctx, found, source):
                cases.append(Case(source, found))
            for other in holding:
                pair = frozenset((source, other))
                if other != source and pair not in meeting and found.feeding.root[ctx.net.sources[other]] == source:
                    tie = _tie_on_the_way(found, ctx.net.sources[other])
                    if tie:
                        meeting[pair] = tie
    return Alternates(tuple(cases), tuple(meeting.items()))


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


def _alone(ctx: Context, source: str, sides: dict[str, str]) -> Context:
    """The drawing with one source holding the voltage, ties closed, transfer switches in the given positions."""
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
        else:
            branches[key] = branch
    kept = {
        id_: node for id_, node in net.sources.items()
        if id_ == source or not isinstance(ctx.drawing.get(id_), UtilityService | Generator)
    }  # fmt: skip
    at_node = tuple(tuple(k for k in keys if k in branches) for keys in net.at_node)
    found = Context(ctx.full, ctx.view, ctx.edition)
    known = found.__dict__
    known["drawing"] = ctx.drawing
    known["net"] = replace(net, branches=branches, at_node=at_node, sources=kept)
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


def _tie_on_the_way(ctx: Context, node: int) -> str:
    """Name of the first normally open device between a node and the source that feeds it; "" for none."""
    for branch, _ in ctx.feeding.path(node):
        if isinstance(branch.item, Disconnect) and branch.item.normally_open:
            return ctx.name(branch.item.id)
    return ""


def pairs_together(ctx: Context, sources: list[str]) -> list[tuple[str, str, str]]:
    """Pairs of the sources that a tie can close together, each with the tie's name."""
    ways = alternates(ctx)
    return [(a, b, tie) for a, b in combinations(sources, 2) if (tie := ways.tie_between(a, b))]
