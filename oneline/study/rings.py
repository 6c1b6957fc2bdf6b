"""Findings about what is fed in several ways at once: by normally closed loops, closed ties, services side by side.

Such a place has no single device ahead. Every way of opening the loops is studied as a drawing of its own, and what the
ways say of one thing is put together here:

- the same in each way: that;
- a conductor, device or panel that one of the devices ahead does not protect is not protected: with the loop closed current
  reaches it from that side too, and overcurrent protection belongs where a conductor receives its supply, at each end of it
  (240.4, 240.21; from memory);
- otherwise not known yet, with the devices that it depends on.

What the loop itself decides (fault currents, voltage drop, bonds of transformers side by side) is answered with the loop
closed, and not put together from ways.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from oneline.model import Connection, Disconnect, Item
from oneline.network import Ways, build_feeding, ways
from oneline.rules.common import listed, unique, weakest
from oneline.rules.verdict import STATES, Verdict
from oneline.study.alternates import alternates
from oneline.study.context import Context, Protection, protects
from oneline.study.ends import device_rating
from oneline.study.reads import Reads

if TYPE_CHECKING:
    from oneline.network.live import LiveState
    from oneline.study.demand import Demand
    from oneline.study.loads import LoadEntry
    from oneline.study.numbers import Numbers

About = Callable[[Context, Item], Iterator[Verdict]]
Overall = Callable[[Context], Iterator[Verdict]]

#: Rules that the closed loop answers itself.
_CLOSED = ("VD", "GND-6", "LIVE", "NET", "READ", "SYS", "SVC-1", "SRC-1")
#: Rules in which a device ahead that is too large, on whichever side, is a failure.
_EACH_SIDE = ("OCP", "TAP", "PNL-1", "GND-3", "XFMR", "AMP-TERM", "FLT")
#: Rules that hold a conductor or panel against the device ahead: several side by side let through their sum.
_SUMMED = ("OCP-4B", "OCP-4C", "OCP-4D", "TAP", "PNL-1", "XFMR")


@dataclass(eq=False)
class Way(Context):
    """One way of opening the loops: loads and protection are its own, currents and voltages those of the closed loops."""

    closed: Context | None = None

    @property
    def live(self) -> LiveState:
        assert self.closed is not None
        return self.closed.live

    @property
    def numbers(self) -> Numbers:
        assert self.closed is not None
        return self.closed.numbers


@dataclass(eq=False)
class Joined(Context):
    """A way in which the devices that feed a place side by side are one device of their sum: with the loop closed they let
    that through before any of them opens. Everything else is that of ``way``."""

    way: Context | None = None
    ring: frozenset[str] = frozenset()

    @property
    def live(self) -> LiveState:
        return self._way.live

    @property
    def numbers(self) -> Numbers:
        return self._way.numbers

    @property
    def loads(self) -> tuple[LoadEntry, ...]:
        return self._way.loads

    @property
    def demand(self) -> Demand:
        return self._way.demand

    @property
    def _way(self) -> Context:
        assert self.way is not None
        return self.way

    def name(self, item_id: str) -> str:
        names: dict[str, str] = self.__dict__.setdefault("_joined_names", {})
        return names.get(item_id) or super().name(item_id)

    def protection_of(self, node: int) -> Protection:
        found = super().protection_of(node)
        ids = self.settled(("side by side", node), lambda: self._side_by_side(node))
        devices = [d for i in ids if isinstance(d := self.drawing.get(i), Disconnect)]
        if found.device is None or len(devices) < 2 or found.device.id not in ids:
            return found
        trips = [device_rating(self, d).value for d in devices]
        total = None if any(t is None for t in trips) else sum(t for t in trips if t is not None)
        bases = [b for d in devices if (b := d.basis.get("trip_a"))]
        basis = {**found.device.basis, **({"trip_a": weakest(*bases)} if bases else {})}
        whole = replace(found.device, trip_a=total, rating_a=None, adjustable=False, basis=basis)
        self.__dict__.setdefault("_joined_names", {})[whole.id] = (
            f"{listed([super(Joined, self).name(i) for i in ids])} together"
        )
        return replace(found, device=whole)

    def _side_by_side(self, node: int) -> tuple[str, ...]:
        """Ids of the devices by which a loop feeds a node, nothing where a transformer is on one of the ways."""
        at = next((n for n in (node, *(up for _, up in self.feeding.path(node))) if self._on_ring(n)), None)
        seen, waiting, found = {at}, [] if at is None else [at], set()
        for here in waiting:  # grows while it is walked
            for key in self.net.at_node[here]:
                branch = self.net.branches[key]
                other = branch.other(here)
                if key not in self.ring or other in seen:
                    continue
                if branch.item.kind == "transformer":
                    return ()
                if protects(branch.item):
                    found.add(branch.item.id)
                else:
                    seen.add(other)
                    waiting.append(other)
        return tuple(i for i in self.drawing.items if i in found)

    def _on_ring(self, node: int) -> bool:
        return any(key in self.ring for key in self.net.at_node[node])


@dataclass(frozen=True)
class Rings:
    """``contexts``: one for each way of opening the loops. ``joined``: the same with devices side by side as one.
    ``items``: ids of what may be answered otherwise in them; ``below``: of those what only ever receives from a loop."""

    ways: Ways
    contexts: tuple[Context, ...]
    joined: tuple[Context, ...]
    below: frozenset[str]
    items: frozenset[str]


def rings(ctx: Context) -> Rings | None:
    """The ways in which a drawing can be fed radially; ``None`` where it is radial. Worked out once."""
    if "_rings" not in ctx.__dict__:
        with _unnoted(ctx.reads):
            ctx.__dict__["_rings"] = _rings(ctx)
    found: Rings | None = ctx.__dict__["_rings"]
    return found


def judged(ctx: Context, about: About, item: Item) -> Iterator[Verdict]:
    """What a subject says of an item, in all ways in which it may be fed."""
    found = rings(ctx)
    if found is None or item.id not in found.items:
        yield from about(ctx, item)
        return
    closed = list(about(ctx, item))
    opened_up = [(c, list(about(c, item))) for c in found.contexts if _is_fed(c, item)]
    joined = [(c, list(about(c, item))) for c in found.joined if item.id in found.below and _is_fed(c, item)]
    yield from _together(ctx, closed, opened_up, joined)


def judged_overall(ctx: Context, overall: Overall) -> Iterator[Verdict]:
    """What a subject says of no single item, in all ways in which the drawing may be fed."""
    found = rings(ctx)
    if found is None:
        yield from overall(ctx)
        return
    closed = list(overall(ctx))
    yield from _together(ctx, closed, [(c, list(overall(c))) for c in found.contexts])


def wrapped(about: About | None, overall: Overall | None) -> tuple[About | None, Overall | None]:
    """Both parts of a subject, so that they answer for every way of feeding."""
    return (
        None if about is None else lambda ctx, item: judged(ctx, about, item),
        None if overall is None else lambda ctx: judged_overall(ctx, overall),
    )


# ------------------------------------------------------------------------------------------------------- contexts
def _unnoted(reads: Reads | None) -> AbstractContextManager[None]:
    return nullcontext() if reads is None else reads.unseen()


def _rings(ctx: Context) -> Rings | None:
    found = ways(ctx.net, ctx.feeding)
    if found is None:
        return None
    contexts = tuple(_way(ctx, cut) for cut in found.cuts)
    return Rings(found, contexts, tuple(_joined(w, found) for w in contexts), _below(ctx, found), _items(ctx, found))


def _joined(way: Context, found: Ways) -> Context:
    joined = Joined(way.full, way.view, way.edition, way.reads, way, found.ring)
    known = joined.__dict__
    known.update({n: way.__dict__[n] for n in ("drawing", "net", "_alternates", "feeding", "_rings")})
    return joined


def _below(ctx: Context, found: Ways) -> frozenset[str]:
    """Items that stand at or behind a loop and are no part of it."""
    ids: set[str] = set()
    for node in ctx.feeding.looped:
        ids.update(end.item for end in ctx.net.ends_of[node])
        ids.update(key.partition("/")[0] for key in ctx.net.at_node[node])
    return frozenset(ids - {key.partition("/")[0] for key in found.ring})


def _way(ctx: Context, cut: frozenset[str]) -> Context:
    """The drawing with its loops opened in one way: loads and protection of that way, currents of the closed loops."""
    way = Way(ctx.full, ctx.view, ctx.edition, ctx.reads, ctx)
    known = way.__dict__
    known["drawing"], known["net"], known["_alternates"] = ctx.drawing, ctx.net, alternates(ctx)
    feeding = build_feeding(ctx.net, cut)
    known["feeding"] = replace(feeding, looped=frozenset(), loop_branches=(), parallel=())
    known["_rings"] = None
    return way


def _items(ctx: Context, found: Ways) -> frozenset[str]:
    """Items of the supplies that any loop is part of."""
    feeding = ctx.feeding
    roots = {feeding.root[n] for n in found.nodes}
    ids = {end.item for n in feeding.order if feeding.root[n] in roots for end in ctx.net.ends_of[n]}
    for key, branch in ctx.net.branches.items():
        if feeding.root[branch.a] in roots or (branch.b >= 0 and feeding.root[branch.b] in roots):
            ids.add(key.partition("/")[0])
    return frozenset(ids)


def _is_fed(ctx: Context, item: Item) -> bool:
    """Whether an item carries anything in a way; a branch that the way opens does not."""
    keys = ctx.net.branches_of(item.id)
    if keys:
        return any(ctx.feeding.load_node(key) is not None for key in keys)
    return isinstance(item, Connection) or ctx.feeding.position[ctx.net.node(item.id)] >= 0


def direction(ctx: Context, key: str) -> tuple[int, int] | None:
    """Nodes of a branch of a closed loop, the one toward the source first where all ways agree; ``None`` of others."""
    found = rings(ctx)
    if found is None or key not in found.ways.ring:
        return None
    pairs = {(w.feeding.line_node(key), w.feeding.load_node(key)) for w in found.contexts} - {(None, None)}
    line, load = next(iter(pairs)) if len(pairs) == 1 else (None, None)
    branch = ctx.net.branches[key]
    return (branch.a, branch.b) if line is None or load is None else (line, load)


# ------------------------------------------------------------------------------------------------- putting together
def _together(
    ctx: Context, closed: Sequence[Verdict], in_ways: Sequence[tuple[Context, Sequence[Verdict]]],
    joined: Sequence[tuple[Context, Sequence[Verdict]]] = (),
) -> Iterator[Verdict]:  # fmt: skip
    """One list of findings of what the closed loop and the ways say."""
    yield from (v for v in closed if _by_closed(v))
    if not in_ways:
        yield from (v for v in closed if not _by_closed(v))
        return
    groups: dict[tuple[object, ...], list[tuple[int, Verdict]]] = {}
    for number, (_, verdicts) in enumerate(in_ways):
        seen: dict[tuple[object, ...], int] = {}
        for v in verdicts:
            if _by_closed(v):
                continue
            key = (v.rule, v.subject, v.what, v.alternative)
            seen[key] = seen.get(key, -1) + 1
            groups.setdefault((*key, seen[key]), []).append((number, v))
    for group in groups.values():
        found = _one(ctx, [(in_ways[n][0], v) for n, v in group], len(group) < len(in_ways))
        if found.state == "pass" and found.rule.startswith("OCP"):
            heard = {n for n, _ in group}
            found = _from_the_other_end(found, [way for n, (way, _) in enumerate(in_ways) if n not in heard])
        yield _by_sum(found, joined)


def _from_the_other_end(found: Verdict, ways_: Sequence[Context]) -> Verdict:
    """A device protects conductors from one end; in other ways they are a tap, or continue one, and protected as it is."""
    from oneline.study.supply import supply_of
    from oneline.study.taps import about as taps_about

    states: dict[str, str] = {}
    for way in ways_:
        supply = supply_of(way, found.subject)
        if supply is None or not (supply.is_tap or supply.state == "unknown"):
            continue
        first, passed = supply, {found.subject}
        while first.parent and first.parent not in passed:
            passed.add(first.parent)
            above = supply_of(way, first.parent)
            if above is None:
                break
            first = above
        told = [
            v.state for v in taps_about(way, first.run) if v.rule.startswith(("TAP-0", "OCP")) and not v.alternative
        ]
        state = next((x for x in ("fail", "unknown") if x in told), "pass")
        if state != "pass" or not told:
            ahead = _ahead(way, found.subject)
            # In several ways with the same device ahead the worst of them holds.
            worse = "fail" in (state if told else "", states.get(ahead))
            states[ahead] = "fail" if worse else "unknown"
    if not states:
        return found
    state = "fail" if "fail" in states.values() else "unknown"
    behind = listed(list(states))

    def message() -> str:
        what = "it is not protected" if state == "fail" else "whether it is protected is not known yet"
        return f"{found.name} is fed from more than one side. {found.message} But from the side of {behind} {what}."

    needs = () if state == "fail" else (f"protection of {found.name} from the side of {behind}",)
    remedy = f"Protect it where it is fed from {behind}, or keep the loop open." if state == "fail" else ""
    return found.but(state=state, message=message, needs=needs, remedy=remedy)


def _by_sum(found: Verdict, joined: Sequence[tuple[Context, Sequence[Verdict]]]) -> Verdict:
    """What holds for each device ahead, held against all of them as one of their sum. A panel that the sum overloads is not
    protected; conductors are not certain to be: how the loop divides the current decides."""
    if found.state != "pass" or not found.rule.startswith(_SUMMED):
        return found
    alike = [
        next((v for v in verdicts if (v.rule, v.what, v.alternative) == (found.rule, found.what, found.alternative)), None)
        for _, verdicts in joined
    ]  # fmt: skip
    bad = [v for v in alike if v is None or v.state != "pass"]
    if not bad:
        return found
    worst = min((v for v in bad if v is not None), key=_rank, default=None)
    if worst is not None and found.rule == "PNL-1":
        return worst.but(others=found.others)

    def message() -> str:
        by = next(
            (n for way, _ in joined if (n := _ahead(way, found.subject)).endswith(" together")), "several devices"
        )
        start = f"{found.name} is fed by {by}: each alone protects it, whether their sum does is not known yet."
        return f"{start} {found.message}"

    needs = (f"how the closed loop that feeds {found.name} divides the current",)
    return found.but(state="unknown", message=message, needs=needs, remedy="")


def _by_closed(v: Verdict) -> bool:
    return v.rule in _CLOSED or v.rule.partition("-")[0] in _CLOSED


def _one(ctx: Context, group: Sequence[tuple[Context, Verdict]], missing: bool) -> Verdict:
    """One finding of what all ways say of a thing. ``missing``: some say nothing of it."""
    verdicts = [v for _, v in group]
    states = {v.state for v in verdicts}
    each_side = verdicts[0].rule.startswith(_EACH_SIDE)
    worst = min(verdicts, key=_rank)
    others = _in_order(ctx, (i for v in verdicts for i in v.others))
    differ = missing or len({_said(v) for v in verdicts}) > 1
    if len(states) == 1 and not (missing and worst.state == "fail" and not each_side):
        return worst.but(others=others) if differ else worst
    if "fail" in states and each_side:
        message = lambda: f"{_fed(ctx, group)}, and each has to be right. {worst.message}"  # noqa: E731
        return worst.but(others=others, message=message)
    if "fail" in states or "unknown" in states:

        def sentence() -> str:
            return f"{_fed(ctx, group)}: what holds depends on which of them feeds it. {worst.message}"

        def needs() -> tuple[str, ...]:
            of_all = unique(n for v in verdicts if v.state == "unknown" for n in v.needs)
            return of_all or (f"which way {worst.name} is normally fed",)

        return worst.but(state="unknown", others=others, message=sentence, needs=needs, remedy="")
    return worst.but(others=others)


def _rank(v: Verdict) -> tuple[object, ...]:
    """The gravest finding first; names and places in the file take no part except between equals."""
    value, limit = _near(v.value), _near(v.limit)
    share = _near(value / limit) if v.value is not None and limit else 0.0
    share = -share if v.relation == "at least" else share
    return (STATES.index(v.state), v.value is None, -share, -value, -limit, v.section, v.basis)


def _near(figure: float | None) -> float:
    """A figure without the last digits, in which sums differ that run in another order."""
    return 0.0 if figure is None else float(f"{figure:.9g}")


def _said(v: Verdict) -> tuple[object, ...]:
    return (v.state, _near(v.value), _near(v.limit), v.unit, v.section, v.basis, v.others)


def _in_order(ctx: Context, ids: Iterable[str]) -> tuple[str, ...]:
    found = set(ids)
    return tuple(i for i in ctx.drawing.items if i in found) if found else ()


def _fed(ctx: Context, group: Sequence[tuple[Context, Verdict]]) -> str:
    """By what a thing may be fed: "P is fed from several sides, by F1 and F2"."""
    name = group[0][1].name
    ahead = unique(n for way, v in group if (n := _ahead(way, v.subject)))
    return f"{name} is fed from more than one side" + (f", by {listed(list(ahead))}" if len(ahead) > 1 else "")


def _ahead(ctx: Context, item_id: str) -> str:
    """The overcurrent device ahead of an item in one way, by name."""
    item = ctx.drawing.items.get(item_id)
    if item is None:
        return ""
    keys = ctx.net.branches_of(item_id)
    nodes = [ctx.feeding.line_node(key) for key in keys] if keys else [ctx.net.node(item_id)]
    for node in nodes:
        if node is not None and ctx.feeding.position[node] >= 0:
            device = ctx.protection_of(node).device
            return ctx.name(device.id if device is not None else ctx.feeding.root[node])
    return ""
