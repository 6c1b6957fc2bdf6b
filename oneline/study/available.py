"""What may still be added at every point before the first limit on the way to the source is reached.

Every device, bus, conductor and transformer on the way is a limit. Its margin is its rating less the load it carries, as
that load is counted against it: continuous load at 125 % against ordinary devices, buses and conductors, at 100 % against
transformers, generators and equipment listed for it. An addition counts the same way. Beyond a transformer the margin is
carried over at the voltage ratio from the worst phase, which is right for a balanced addition and cautious for others.
A rating or load that is not known leaves no figure, only an upper bound from what is known.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property, partial
from math import inf, isinf, sqrt

from oneline import tables
from oneline.model import (
    Bus,
    ConductorRun,
    Connection,
    Disconnect,
    Generator,
    Item,
    TransferSwitch,
    Transformer,
    UtilityService,
)
from oneline.model.quick import but, quick
from oneline.network import Branch
from oneline.rules.capacity import CapacityFacts, capacity
from oneline.rules.common import Fact, Subject, equal_or_above, listed, unique, weakest
from oneline.rules.verdict import Verdict, WorkLine
from oneline.study.context import Context, protects
from oneline.study.demand import Bounded, Demand
from oneline.study.ends import is_branch, not_listed_yet, rating_words, system_need
from oneline.study.loads import volts_across
from oneline.study.results import Limit
from oneline.study.rings import Rings, rings
from oneline.study.services import disconnects_of, only_sources
from oneline.study.subject import for_all

#: Forms of bus whose rating has to be known; gutters and splice boxes join conductors that have their own.
_RATED_BUSES = ("panelboard", "switchboard", "busway", "meter center")


@quick
@dataclass(frozen=True)
class Element:
    """One limit of one item: its rating in amperes at ``node``, where its load is that of the node.

    ``kind``: of ``rules.capacity.KINDS``. ``in_full``: continuous load counts at 100 %.
    """

    item: Item
    name: str
    kind: str
    what: str
    rating: Fact
    node: int
    in_full: bool = False
    assumed: tuple[str, ...] = ()
    #: Load-side nodes of transfer switches that this limit feeds on their alternate side.
    standby: tuple[int, ...] = ()

    @property
    def limit(self) -> Limit:
        """The limit as results show it; the rating's upper bound where the rating itself is not known."""
        rating = self.rating.value if self.rating.value is not None else self.rating.most
        return Limit(self.item.id, self.name, self.what, rating or 0.0, self.rating.basis)


@quick
@dataclass(frozen=True)
class Margin:
    """Amperes left on one phase: at least ``low``, at most ``high``, and the element that sets the upper bound."""

    low: float
    high: float
    element: Element | None = None

    @property
    def value(self) -> float | None:
        return (
            self.high if not isinf(self.high) and abs(self.high - self.low) <= 1e-9 * max(1.0, abs(self.high)) else None
        )

    def tighter(self, other: Margin) -> Margin:
        """The tighter of two margins, bound by bound."""
        low = min(self.low, other.low)
        return (
            Margin(low, other.high, other.element) if other.high < self.high else Margin(low, self.high, self.element)
        )


@quick
@dataclass(frozen=True)
class Available:
    """What is available at a node, amperes by phase at its own voltage.

    ``per_phase``: ``None`` where a rating or a load on the way is not known. ``bound``: upper bounds from what is known
    (``None``: not even a bound). ``kva``: largest balanced addition. ``limit``: what binds on the worst phase.
    """

    node: int
    margins: Mapping[str, Margin]
    volts: float | None
    elements: tuple[Element, ...]
    own_needs: tuple[str, ...]
    above: Available | None = None

    @property
    def per_phase(self) -> dict[str, float | None]:
        return {p: m.value for p, m in self.margins.items()}

    @property
    def bound(self) -> dict[str, float | None]:
        return {p: None if isinf(m.high) else m.high for p, m in self.margins.items()}

    @property
    def least(self) -> dict[str, float | None]:
        """What is certainly available, where that can be said although not everything is known."""
        return {p: None if isinf(m.low) else m.low for p, m in self.margins.items()}

    @property
    def worst_phase(self) -> str:
        """The phase with the smallest upper bound; "" where the phases are not known."""
        least = min((m.high for m in self.margins.values()), default=0.0)
        return next((p for p, m in self.margins.items() if m.high == least or equal_or_above(least, m.high)), "")

    @property
    def limit(self) -> Limit | None:
        """The one limit that binds; where something is not known, the tightest of those that are."""
        element = self.margins[self.worst_phase].element if self.margins else None
        return None if element is None else element.limit

    @property
    def kva(self) -> float | None:
        """Largest balanced addition on all phases of the node in kVA, 0 where a limit is already exceeded."""
        values = list(self.per_phase.values())
        if self.volts is None or not values or any(v is None for v in values):
            return None
        least = min(v for v in values if v is not None)
        return max(least, 0.0) * self.volts * (sqrt(3) if len(values) == 3 else 1.0) / 1000

    def way(self) -> Iterator[Available]:
        """This node and the ones toward the source, nearest first."""
        at: Available | None = self
        while at is not None:
            yield at
            at = at.above

    @cached_property
    def limits(self) -> tuple[Limit, ...]:
        """All limits with a rating, in the order they are met on the way to the source."""
        return tuple(e.limit for at in self.way() for e in at.elements if e.rating.most is not None)

    @cached_property
    def needs(self) -> tuple[str, ...]:
        """What is not known on the way to the source."""
        return unique(n for at in self.way() for n in at.own_needs)

    @cached_property
    def basis(self) -> str:
        """Weakest basis of the ratings on the way."""
        return weakest(*(e.rating.basis for at in self.way() for e in at.elements if e.rating.value is not None))


class Availables(Mapping[int, Available]):
    """Available load at every node that is fed, each worked out from the source down when somebody asks. Nodes that
    nothing feeds are absent."""

    def __init__(self, ctx: Context) -> None:
        self._ctx = ctx
        self._found: dict[int, Available] = {}

    def __getitem__(self, node: int) -> Available:
        ctx = self._ctx
        if not 0 <= node < len(ctx.feeding.position) or ctx.feeding.position[node] < 0:
            raise KeyError(node)
        closed = rings(ctx)
        if closed is not None:
            return _in_all_ways(ctx, closed, node)
        return self.along(node)

    def along(self, node: int, without: frozenset[str] = frozenset()) -> Available:
        """By the limits on the one way to the source; those of the branches ``without`` are left out."""
        ctx = self._ctx
        # An answer that is being noted has to look at everything itself.
        noted = ctx.reads is not None and ctx.reads.frame is not None
        kept: dict[int, Available] = {} if noted or without else self._found
        found: Available | None = None
        for at in (*reversed([up for _, up in ctx.feeding.path(node)]), node):
            found = kept.get(at) or _at_node(ctx, at, found, without)
            kept[at] = found
        assert found is not None
        return found

    def __iter__(self) -> Iterator[int]:
        return iter(self._ctx.feeding.order)

    def __len__(self) -> int:
        return len(self._ctx.feeding.order)


def _in_all_ways(ctx: Context, closed: Rings, node: int) -> Available:
    """With loops closed: certainly what fits whichever way they are opened, for then no branch carries more than its part
    of that. At most what the limits outside the loops leave: how the loop divides an addition is not known."""
    ways = [w.available for w in closed.contexts if w.feeding.position[node] >= 0]
    volts = volts_across(ctx, node, ctx.feeding.phases[node])
    needs = (f"how the load divides in the closed loop that feeds {_place(ctx, node)}",)
    if not ways:
        return Available(node, {p: Margin(-inf, inf) for p in ctx.feeding.phases[node]}, volts, (), needs)
    whole = [w[node] for w in ways]
    outside = [w.along(node, closed.ways.ring) for w in ways if isinstance(w, Availables)]
    margins: dict[str, Margin] = {}
    for phase in ctx.feeding.phases[node]:
        low = min((w.margins[phase].low for w in whole if phase in w.margins), default=-inf)
        most = max((w.margins[phase] for w in outside if phase in w.margins), key=lambda m: m.high, default=None)
        high = inf if most is None else most.high
        margins[phase] = Margin(min(low, high), high, None if most is None else most.element)
    elements = {(e.item.id, e.kind, e.what): e for w in whole for at in w.way() for e in at.elements}
    own = unique(n for w in whole for n in w.needs)
    divided = any(m.value is None for m in margins.values()) and not own
    return Available(node, margins, volts, tuple(elements.values()), own or (needs if divided else ()))


def _place(ctx: Context, node: int) -> str:
    return next((ctx.name(end.item) for end in ctx.net.ends_of[node]), "this point")


def elements_at(ctx: Context, node: int) -> tuple[Element, ...]:
    """Limits met at a node, with what they feed on alternate sides."""
    return ctx.recall("elements", node, lambda: _elements_at(ctx, node))


def _elements_at(ctx: Context, node: int) -> tuple[Element, ...]:
    key = ctx.feeding.branch[node]
    elements = tuple(node_elements(ctx, node, ctx.net.branches[key] if key else None))
    standby = standby_loads(ctx).get(node)
    return elements if standby is None else tuple(replace(e, standby=standby) for e in elements)


def _at_node(
    ctx: Context, node: int, above: Available | None, without: frozenset[str] = frozenset()
) -> Available:  # fmt: skip
    feeding = ctx.feeding
    key = feeding.branch[node]
    elements = elements_at(ctx, node)
    if key in without:
        through = ctx.net.branches[key].item.id
        elements = tuple(e for e in elements if e.item.id != through)
    margins = _carried(ctx, node, ctx.net.branches[key] if key else None, above)
    for element in elements:
        for phase, (low, high) in load_bounds(ctx, element).items():
            if phase in margins:
                # A rating that rests on an assumed default counts at that default.
                most = element.rating.most if element.rating.value is None else element.rating.value
                own = Margin(_minus(element.rating.least, high), _minus_known(most, low), element)
                margins[phase] = margins[phase].tighter(own)
    needs = [n for e in elements if e.rating.value is None for n in e.rating.needs]
    if elements or not key:
        needs.extend(ctx.demand.needs(node))
    return Available(node, margins, volts_across(ctx, node, feeding.phases[node]), elements, tuple(needs), above)


def _carried(ctx: Context, node: int, branch: Branch | None, above: Available | None) -> dict[str, Margin]:
    """Margins that arrive from the source's side, at the node's own voltage."""
    phases = ctx.feeding.phases[node]
    if branch is None or above is None:
        return {p: Margin(inf, inf) for p in phases}
    if not isinstance(branch.item, Transformer):
        return {p: above.margins.get(p, Margin(-inf, inf)) for p in phases}
    volts = volts_across(ctx, node, phases)
    if not above.margins or above.volts is None or volts is None or len(above.margins) < min(len(phases), 2):
        return {p: Margin(-inf, inf) for p in phases}
    ratio = above.volts / volts
    low = min(m.low for m in above.margins.values()) * ratio
    worst = above.margins[above.worst_phase]
    return {p: Margin(low, worst.high * ratio, worst.element) for p in phases}


def load_bounds(ctx: Context, element: Element) -> dict[str, tuple[float, float]]:
    """Load of an element by phase, at least and at most; what it feeds on alternate sides is added to its own."""
    counted = not element.in_full
    own_load = ctx.demand.bounds(element.node, counted, whole=element.kind == "bus")
    found = {p: (b.low, inf if b.high is None else b.high) for p, b in own_load.items()}
    for other in element.standby:
        own, there = (volts_across(ctx, n, ctx.feeding.phases[n]) for n in (element.node, other))
        bounds = ctx.demand.bounds(other, counted)
        if own is None or there is None or not bounds:
            found = {p: (low, inf) for p, (low, _) in found.items()}
            continue
        # Beside the same voltage every phase takes its own load; through a transformer the worst one on all.
        worst = max(bounds.values(), key=lambda b: inf if b.high is None else b.high)
        for phase, (low, high) in found.items():
            more = bounds.get(phase, Bounded(0.0, 0.0)) if own == there else worst
            ratio = there / own
            found[phase] = (low + more.low * ratio, inf if more.high is None else high + more.high * ratio)
    return found


def standby_loads(ctx: Context) -> dict[int, tuple[int, ...]]:
    """For every node ahead of a transfer switch's alternate side, the switch's load side: it carries that load too once
    the switch is thrown. Nodes that feed the switch on its normal side as well are left out."""
    return ctx.recall("standby", "", lambda: _standby_loads(ctx))


def _standby_loads(ctx: Context) -> dict[int, tuple[int, ...]]:
    found: dict[int, tuple[int, ...]] = {}
    for item in ctx.drawing.of(TransferSwitch):
        load = ctx.net.node(item.id, "load")
        alternate = ctx.net.node(item.id, "alternate")
        normal = {load, *(up for _, up in ctx.feeding.path(load))} if ctx.feeding.position[load] >= 0 else set()
        if ctx.feeding.position[alternate] < 0 or ctx.feeding.position[load] < 0:
            continue
        for node in (alternate, *(up for _, up in ctx.feeding.path(alternate))):
            if node not in normal:
                found[node] = (*found.get(node, ()), load)
    return found


def _minus(rating: float | None, load: float) -> float:
    return -inf if rating is None else rating - load


def _minus_known(rating: float | None, load: float) -> float:
    return inf if rating is None else rating - load


# ----------------------------------------------------------------------------------------------------- elements
def node_elements(ctx: Context, node: int, branch: Branch | None) -> Iterator[Element]:
    """Limits met at a node from the load's side: its buses, then what it is fed through (at a root: the source)."""
    for end in ctx.net.ends_of[node]:
        item = ctx.drawing.get(end.item)
        if isinstance(item, Bus):
            yield from _bus(ctx, item, node)
        elif isinstance(item, Generator) and branch is None and ctx.feeding.root[node] == item.id:
            yield from _generator(ctx, item, node)
    if branch is None:
        return
    item = branch.item
    if isinstance(item, Disconnect):
        yield from _disconnect(ctx, item, node)
    elif isinstance(item, TransferSwitch):
        yield _rated(ctx, item, "equipment", "rating", "rating_a", node)
    elif isinstance(item, ConductorRun):
        yield from _conductors(ctx, item, node)
    elif isinstance(item, Transformer):
        yield _transformer(ctx, item, node)


def _rated(ctx: Context, item: Item, kind: str, what: str, attribute: str, node: int, in_full: bool = False) -> Element:
    name = ctx.name(item.id)
    value: float | None = getattr(item, attribute)
    high = item.rating_a if isinstance(item, Disconnect) and value is None else None
    need = f"{rating_words(item, attribute) if isinstance(item, Disconnect) else what} of {name}"
    rating = Fact(value, high=high, basis=item.basis.get(attribute, "entered"), need=need, name=need)
    return Element(item, name, kind, what, rating, node, in_full)


def _bus(ctx: Context, bus: Bus, node: int) -> Iterator[Element]:
    if bus.rating_a is not None or bus.form in _RATED_BUSES:
        yield _rated(ctx, bus, "bus", "bus rating", "rating_a", node)


def _disconnect(ctx: Context, item: Disconnect, node: int) -> Iterator[Element]:
    if protects(item):
        what = "trip" if item.form == "breaker" else "fuse"
        yield _rated(ctx, item, "device", what, "trip_a", node, item.full_rated is True)
    if item.form == "switch" or (item.form == "fused switch" and item.rating_a is not None):
        yield _rated(ctx, item, "equipment", "switch rating", "rating_a", node, item.full_rated is True)


def _conductors(ctx: Context, run: ConductorRun, node: int) -> Iterator[Element]:
    """Two limits: under the conditions of use for the load as it is, at the terminals for the load as counted."""
    from oneline.study.conductors import run_ampacity

    name = ctx.name(run.id)
    found = run_ampacity(ctx, run.id)
    in_use = but(found.cond_fact(name), high=found.high_a)
    yield Element(run, name, "conductor", "ampacity", in_use, node, in_full=True, assumed=found.assumed)
    yield Element(run, name, "conductor", "ampacity at terminals", found.term_fact(name), node, assumed=found.assumed)


def _transformer(ctx: Context, item: Transformer, node: int) -> Element:
    name = ctx.name(item.id)
    code, phases = ctx.feeding.system[node], ctx.feeding.phases[node]
    needs = [] if item.kva is not None else [f"rating of {name}"]
    if code is None:
        needs.append(f"secondary system of {name}")
    rating = Fact(None, need=needs[0] if needs else "", also=tuple(needs[1:]))
    if item.kva is not None and code is not None:
        basis = item.basis.get("kva", "entered")
        rating = Fact(rated_amperes(item.kva, code, phases), basis=basis, name=f"rating of {name}")
    return Element(item, name, "transformer", "rating", rating, node, in_full=True)


def _generator(ctx: Context, item: Generator, node: int) -> Iterator[Element]:
    name = ctx.name(item.id)
    needs = [f"rating of {name}"] if item.kva is None else []
    if item.system is None:
        needs.append(f"system voltage of {name}")
    rating = Fact(None, need=needs[0] if needs else "", also=tuple(needs[1:]))
    if item.kva is not None and item.system is not None:
        amperes_ = rated_amperes(item.kva, item.system, ctx.feeding.phases[node])
        rating = Fact(amperes_, basis=item.basis.get("kva", "entered"), name=f"rating of {name}")
    yield Element(item, name, "generator", "rating", rating, node, in_full=True)


def rated_amperes(kva: float, code: str, phases: str) -> float:
    """Rated current in amperes of a transformer winding or a generator at a nominal system."""
    volts = tables.system(code).v_ll
    return kva * 1000 / (volts * (sqrt(3) if len(phases) == 3 else 1.0))


def information(ctx: Context, node: int) -> tuple[Limit, ...]:
    """The utility's transformer at a service, as information: the utility sizes it by its own rules, it never binds."""
    source = ctx.drawing.items.get(ctx.feeding.root[node])
    if not isinstance(source, UtilityService) or source.transformer_kva is None or source.system is None:
        return ()
    rated = rated_amperes(source.transformer_kva, source.system, ctx.feeding.phases[ctx.net.node(source.id)])
    basis = source.basis.get("transformer_kva", "entered")
    return (Limit(source.id, ctx.name(source.id), "utility transformer, for information", rated, basis),)


# ----------------------------------------------------------------------------------------------------- verdicts
def about(ctx: Context, item: Item) -> Iterator[Verdict]:
    """CAP of a device, bus, transformer or generator that is fed. Conductors have AMP-1 for the same question."""
    if isinstance(item, Connection):
        return
    for node in _load_nodes(ctx, item):
        for element in elements_at(ctx, node):
            if element.item.id == item.id and element.kind != "conductor" and not only_sources(ctx, node):
                yield _softened(ctx, element, _unless_listed(ctx, element, capacity(_facts(ctx, element))))


def _load_nodes(ctx: Context, item: Item) -> Iterator[int]:
    """Nodes where an item is a limit: away from the source of what has two ends, the one it has of others."""
    keys = ctx.net.branches_of(item.id)
    if not keys:
        node = ctx.net.node(item.id)
        if ctx.feeding.position[node] >= 0:
            yield node
    for key in keys:
        found = ctx.feeding.load_node(key)
        if found is not None:
            yield found


def _unless_listed(ctx: Context, element: Element, found: Verdict) -> Verdict:
    """A breaker that nobody says is listed for continuous load at 100 % counts as one that is not. It fails for certain
    only where it would fail with the listing too."""
    item = element.item
    if (
        found.state != "fail"
        or not isinstance(item, Disconnect)
        or item.form != "breaker"
        or item.full_rated is not None
    ):
        return found
    listed_for = capacity(_facts(ctx, replace(element, in_full=True)))
    return found if listed_for.state == "fail" else not_listed_yet(found, element.name)


def _softened(ctx: Context, element: Element, found: Verdict) -> Verdict:
    """A generator behind manual transfer need not carry everything: the user chooses what runs (702.4)."""
    if element.kind != "generator" or found.state != "fail" or not element.standby:
        return found
    switches = [t for t in ctx.drawing.of(TransferSwitch) if ctx.net.node(t.id, "load") in element.standby]
    if any(t.automatic for t in switches):
        return found
    note = "With manual transfer the user chooses what runs on it."
    return replace(found, state="judge", message=f"{found.message} {note}")


def _facts(ctx: Context, element: Element) -> CapacityFacts:
    demand, nodes, whole = ctx.demand, (element.node, *element.standby), element.kind == "bus"
    basis = weakest(*[demand.basis(node) for node in nodes])
    missing, loads = partial(_missing, ctx, nodes, whole), {}
    for phase, (low, high) in load_bounds(ctx, element).items():
        known = not isinf(high) and high - low <= 1e-9 * max(1.0, low)
        top = None if isinf(high) else high
        loads[phase] = Fact(low if known else None, low, top, basis, "", "part of the load", missing=missing)
    method = demand.method(element.node, whole)
    if element.standby:
        names = [
            ctx.name(t.id) for t in ctx.drawing.of(TransferSwitch) if ctx.net.node(t.id, "load") in element.standby
        ]
        method += f", with {listed(names)} on the alternate side"
    return CapacityFacts(
        subject=Subject(element.item.id, element.name), edition=ctx.edition, kind=element.kind, what=element.what,
        rating=element.rating, loads=loads, method=method,
        work=partial(_load_work, demand, nodes),
        assumed=unique([*[a for node in nodes for a in demand.assumed(node)], *element.assumed]),
        cited=_cited(ctx, element), system_need=system_need(ctx, element.node),
        note=demand.record_note(element.node),
    )  # fmt: skip


def _missing(ctx: Context, nodes: tuple[int, ...], whole: bool) -> tuple[str, ...]:
    return unique(n for node in nodes for n in ctx.demand.needs(node, whole)) or (system_need(ctx, nodes[0]),)


def _load_work(demand: Demand, nodes: tuple[int, ...]) -> tuple[WorkLine, ...]:
    return tuple(line for node in nodes for line in demand.work(node))


def _cited(ctx: Context, element: Element) -> str:
    """The rule whose section is cited for a device: of a service, a branch circuit or a feeder."""
    if element.kind != "device":
        return ""
    if element.item.id in disconnects_of(ctx):
        return "CAP-service"
    return "CAP-branch" if is_branch(ctx, element.node) else "CAP-feeder"


#: Everything this subject finds on a drawing.
verdicts = for_all(about, of=(Bus, Disconnect, Generator, TransferSwitch, Transformer))
