"""The fault current that ratings are compared with, at a node: the largest of every way it can be fed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import partial
from math import inf, isfinite

from oneline import tables
from oneline.model.quick import quick
from oneline.rules.common import Fact, unique, weakest
from oneline.study.alternates import Case, cases_at, pairs_together, source_of, unknown_ties
from oneline.study.context import Context

#: Two figures closer than this share are one.
_SAME = 1e-6


@quick
@dataclass(frozen=True)
class Place:
    """A case of feeding and the node in it where the fault current is looked at."""

    case: Case
    node: int

    @property
    def source(self) -> str:
        return source_of(self.case, self.node)

    @property
    def traces(self) -> tuple[str, ...]:
        """Suspected ties to trace before this is certain."""
        return self.case.needs(self.node)


def duty(ctx: Context, node: int) -> Fact:
    """Available fault current at a node in amperes: the largest that any source can give it, whatever position transfer
    switches and ties are in; bounds where it is not known."""
    return ctx.recall("duty", node, lambda: _largest(ctx, [Place(case, node) for case in cases_at(ctx, node)]))


def _largest(ctx: Context, places: list[Place]) -> Fact:
    """The largest duty of several cases, one at a time; as an upper bound together where ties can connect them."""
    facts = [possible(ctx, p) for p in places]
    if len(facts) == 1:
        return facts[0]
    facts += [sum_ for _, sum_ in sums_at(ctx, places)]
    least = max((f.least for f in facts if f.least is not None), default=None)
    known = max((f for f in facts if f.value is not None), key=lambda f: near(f.value or 0.0), default=None)
    open_ = [f for f in facts if f.value is None and not _within(f, known)]
    if known is not None and not open_:
        return known
    high = max((high_of(f) for f in facts), default=inf)
    need, *also = unique(n for f in open_ for n in f.needs) or ("available fault current there",)
    return Fact(
        None, least, high if isfinite(high) else None, weakest(*(f.basis for f in facts)), need,
        "part of the fault-current data", unique(a for f in facts for a in f.assumed), tuple(also),
    )  # fmt: skip


def possible(ctx: Context, place: Place) -> Fact:
    """The duty in a case; through a suspected tie only an upper bound, which nobody knows to be there."""
    fact, traces = single_duty(place.case.ctx, place.node), place.traces
    if not traces:
        return fact
    most = fact.most if fact.most is not None else _through_tie(ctx, place)
    return replace(fact, value=None, low=None, high=most, up_to=None, need=traces[0], also=traces[1:], missing=None)


def _through_tie(ctx: Context, place: Place) -> float | None:
    """Upper bound through a tie between systems in which the loads of one have no figures in the other: what the source
    alone gives, and what the motors and inverters of both add in normal operation."""
    bolted, own = place.case.ctx.numbers.bolted_bound_a[place.node], ctx.numbers.contribution_a[place.node]
    tree = [ctx.numbers.contribution_a[n] for n in ctx.feeding.subtree(ctx.net.sources[place.source])]
    others = [a for a in tree if a is not None]
    if bolted is None or own is None or len(others) < len(tree):
        return None
    return bolted + own + max(others, default=0.0)


def _within(fact: Fact, known: Fact | None) -> bool:
    """Whether an unknown figure cannot be larger than a known one."""
    return known is not None and known.value is not None and fact.most is not None and fact.most <= known.value


def sums_at(ctx: Context, places: list[Place], joined: bool = False) -> Iterator[tuple[Place, Fact]]:
    """Upper bound, and what would exclude it, where ties can close sources together: their fault currents one by one,
    added up. What they give together is never more, because they share the way from where they meet.

    ``joined``: the places are the two terminals of a device, which are one while it is closed: a source that comes from
    one side and one from the other are both there.
    """
    by_node: dict[int, dict[str, Fact]] = {}
    first: dict[int, Place] = {}
    for place in places:
        at = -1 if joined else place.node
        found, fact = by_node.setdefault(at, {}), possible(ctx, place)
        first.setdefault(at, place)
        old = found.get(place.source)
        if old is None or high_of(fact) > high_of(old):
            found[place.source] = fact
    for node, facts in by_node.items():
        pairs = pairs_together(ctx, list(facts))
        if not pairs:
            continue
        members = [facts[s] for s in unique(s for a, b, _ in pairs for s in (a, b))]
        needs = unique(need for _, _, need in pairs)
        total = sum(high_of(f) for f in members)
        least = max((f.least for f in members if f.least is not None), default=None)
        yield first[node], Fact(
            None, least, total if isfinite(total) else None, weakest(*(f.basis for f in members)), needs[0],
            "available fault current", unique(a for f in members for a in f.assumed), needs[1:],
        )  # fmt: skip


def near(amperes: float) -> float:
    """A current without the last digits, in which sums differ that run in another order: which of two equals is the larger
    must not rest on them."""
    return float(f"{amperes:.9g}")


def high_of(fact: Fact) -> float:
    return inf if fact.most is None else fact.most


def single_duty(ctx: Context, node: int) -> Fact:
    """Available fault current at a node in one way of feeding, with what motors and inverters add.

    Where a ratio X/R is not known it is bounded by the largest and the least current that any angle gives.
    """
    return ctx.recall("single duty", node, lambda: _reckoned(ctx, node))


def _reckoned(ctx: Context, node: int) -> Fact:
    numbers = ctx.numbers
    value, bound = numbers.duty_a[node], numbers.duty_bound_a[node]
    least = numbers.fault_least_a[node]
    low = None if least is None else least + (numbers.contribution_known_a[node] or 0.0)
    angles: tuple[str, ...] = ()
    if value is not None and low is not None and bound is not None and low < bound * (1 - _SAME):
        angles = numbers.x_r_needs(node)
        value = None if angles else value
    assumed = numbers.duty_assumed(node)
    basis = "assumed" if assumed else numbers.fault_basis(node)
    name = "part of the fault-current data"
    return Fact(value, low, bound, basis, "", name, assumed, missing=partial(_missing, ctx, node, angles))


def _missing(ctx: Context, node: int, angles: tuple[str, ...]) -> tuple[str, ...]:
    return angles or ctx.numbers.duty_needs(node) or ("available fault current there",)


def figure(ctx: Context, node: int) -> Fact:
    """The duty as a figure to be shown or marked: where nothing but a ratio X/R is not known, the largest of any."""
    found = duty(ctx, node)
    more = unknown_ties(ctx, node)
    if more:
        need, *also = unique((*found.needs, *more))
        return replace(
            found, value=None, low=found.least, high=None, up_to=None, need=need, also=tuple(also), missing=None
        )
    if found.value is None and found.most is not None and found.assumed and _only_x_r(ctx, node):
        return replace(found, value=found.most)
    return found


def _only_x_r(ctx: Context, node: int) -> bool:
    cases = cases_at(ctx, node)
    return all(c.ctx.numbers.duty_a[node] is not None for c in cases) and not pairs_together(
        ctx, [source_of(c, node) for c in cases]
    )


def hand_value(ctx: Context, node: int) -> float | None:
    """The point-to-point value at a node with the same additions, amperes."""
    hand, more = ctx.numbers.fault_hand_a[node], ctx.numbers.contribution_a[node]
    if hand is None or more is None:
        return None
    return tables.FromMemory(hand + more) if ctx.numbers.hand_from_memory(node) else hand + more
