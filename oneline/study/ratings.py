"""Ratings of everything on the drawing against the fault current and the system where it stands."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import partial

from oneline import tables
from oneline.model import Battery, Bus, Disconnect, Item, SolarArray, TransferSwitch, basis_of
from oneline.model.vocabulary import SERIES_RATINGS
from oneline.rules.common import Fact, Subject, listed, unique
from oneline.rules.fault_duty import FaultFacts
from oneline.rules.fault_marking import Marked, panel_marking, service_marking
from oneline.rules.ratings import interrupting, withstand
from oneline.rules.series_ratings import SeriesFacts, series
from oneline.rules.verdict import Verdict, WorkLine
from oneline.rules.voltage_ratings import VoltageFacts, voltage_rating
from oneline.study.alternates import alternates, cases_at, normal, unknown_ties
from oneline.study.context import Context, protects
from oneline.study.duty import Place, figure, hand_value, high_of, near, possible, single_duty, sums_at
from oneline.study.ends import system_need
from oneline.study.loads import HIGH_LEG
from oneline.study.numbers_contribution import MOTOR_CLASSES
from oneline.study.services import disconnects_of
from oneline.study.subject import for_all
from oneline.tables.interrupting import test_x_r

#: Forms of bus with a short-circuit current rating of their own.
_RATED_FORMS = ("panelboard", "switchboard", "busway", "meter center")
_MARKED_FORMS = ("panelboard", "switchboard")
#: Forms with breakers that stand only in a schedule.
_SCHEDULED_FORMS = ("panelboard", "switchboard", "meter center")
#: Common low-voltage breakers are made for at least this line to line with a grounded neutral. Common practice.
_COMMON_V_LL = 240
_WORST_FIRST = ("fail", "unknown", "judge", "pass")


def about(ctx: Context, item: Item) -> Iterator[Verdict]:
    """FLT-1, FLT-2, FLT-3, FLT-4, FLT-5 and PNL-6 of an item that is fed."""
    if isinstance(item, Disconnect):
        yield from _disconnect(ctx, item)
        if item.id in disconnects_of(ctx):
            yield from _marking(ctx, item, _line_node(ctx, item), service_marking)
    elif isinstance(item, Bus):
        yield from _bus(ctx, item)
        if item.form in _MARKED_FORMS:
            yield from _marking(ctx, item, ctx.net.node(item.id), panel_marking)
    elif isinstance(item, TransferSwitch):
        yield from _transfer(ctx, item)


def _fed(ctx: Context, node: int) -> bool:
    return node >= 0 and ctx.feeding.position[node] >= 0


def _line_node(ctx: Context, item: Item) -> int:
    """Node at the line terminals of a two-ended item, by how it is fed; -1 where nothing feeds it."""
    node = ctx.feeding.line_node(item.id)
    return -1 if node is None else node


def _places(ctx: Context, item: Item) -> list[Place]:
    """Where and how a two-ended item is fed: at its line terminals as they are in each case, at both in a closed loop."""
    found = []
    for case in (normal(ctx), *alternates(ctx).cases):
        feeding = case.ctx.feeding
        for key in ctx.net.branches_of(item.id):
            branch = case.ctx.net.branches.get(key)
            if branch is None:
                continue
            line = feeding.line_node(key)
            nodes = (line,) if line is not None else (branch.a, branch.b) if key in feeding.loop_branches else ()
            found += [Place(case, n) for n in nodes if case.concerns(n)]
    return found


def _governing(
    ctx: Context, item: Item, places: list[Place], rating: tuple[str, str, float | None],
    judge: Callable[[FaultFacts], Verdict],
) -> tuple[FaultFacts, Verdict] | None:  # fmt: skip
    """The verdict on the worst case, with its facts; ``rating``: attribute, its name, X/R of the test."""
    if not places:
        return None
    found = [(place, _fault_facts(ctx, item, place, *rating)) for place in places]
    judged = [(place, facts, _if_traced(place, judge(facts))) for place, facts in found]
    if len(judged) == 1 and not alternates(ctx).unknown:
        place, facts, only = judged[0]
        return facts, only.but(work=partial(_with_fault_work, place.case.ctx, place.node, only))
    worst = min(judged, key=_worst)
    if len(judged) > 1 and worst[2].state != "fail":
        for place, total in sums_at(ctx, places, joined=isinstance(item, Disconnect)):
            together = _fault_facts(ctx, item, place, *rating)
            together = replace(together, duty=total, hand_a=None, x_r=None, on=" with sources closed together")
            judged.append((place, together, judge(together)))
        worst = min(judged, key=_worst)
    place, facts, verdict = worst
    more = unique(n for p in places for n in unknown_ties(ctx, p.node))
    found_so = verdict
    if more and verdict.state == "pass":
        tied = listed([n.removeprefix("trace of ") for n in more])
        message = f"{verdict.message} {tied}, which nobody traced yet, may bring more."
        verdict = verdict.but(state="unknown", message=message, needs=more)
    elif verdict.state == "unknown":
        needs = [v for _, _, v in judged if v.state == "unknown"]
        verdict = verdict.but(needs=lambda: unique((*(n for v in needs for n in v.needs), *more)))
    case, node = place.case.ctx, place.node
    return facts, verdict.but(work=partial(_with_fault_work, case, node, found_so))


def _with_fault_work(ctx: Context, node: int, found: Verdict) -> tuple[WorkLine, ...]:
    return (*ctx.numbers.fault_work(node), *found.work)


def _if_traced(place: Place, found: Verdict) -> Verdict:
    """What holds only if a suspected tie is closed is no certain failure."""
    if not place.traces or found.state == "pass":
        return found
    if found.state != "fail":
        return found.but(needs=place.traces)
    ties = listed([n.removeprefix("trace of ") for n in place.traces])
    message = f"If {ties}, which nobody traced yet, is closed: {found.message}"
    return found.but(state="unknown", message=message, needs=place.traces, remedy="")


def _worst(found: tuple[Place, FaultFacts, Verdict]) -> tuple[int, float]:
    return _WORST_FIRST.index(found[2].state), -near(high_of(found[1].duty))


def _fault_facts(ctx: Context, item: Item, place: Place, attribute: str, what: str, test: float | None) -> FaultFacts:
    name, node, numbers = ctx.name(item.id), place.node, place.case.ctx.numbers
    certain = not place.traces or single_duty(place.case.ctx, node).most is not None
    other = place.case.source and place.source != ctx.feeding.root[node]
    marked: float | None = getattr(item, attribute)
    duty = single_duty(place.case.ctx, node) if certain else possible(ctx, place)
    low: float | None = None
    if attribute == "breakers_ka" and marked is None:
        # Without a marking a breaker interrupts this much; marked ones interrupt more.
        low = tables.limit_value("breaker_unmarked_ka") * 1000
    called = f"{what} of {name}"
    rating = Fact(
        None if marked is None else marked * 1000, low, basis=item.basis.get(attribute, "entered"), need=called, name=called,
    )  # fmt: skip
    added = numbers.contribution_known_a[node] or 0.0
    return FaultFacts(
        Subject(item.id, name), ctx.edition, rating, what, duty,
        hand_value(place.case.ctx, node), numbers.x_r_most[node], test, partial(_notes, place.case.ctx, node),
        f" on {ctx.name(place.source)}" if other else "", isinstance(item, Disconnect) and item.form != "breaker",
        added, _adding(place.case.ctx) if added else (), f"each breaker of {name}" if attribute == "breakers_ka" else "",
        *_let_through(item, name),
    )  # fmt: skip


def _let_through(item: Item, name: str) -> tuple[Fact | None, str | None]:
    """Let-through current relied on at a bus, and what shows it."""
    if not isinstance(item, Bus) or item.let_through_ka is None:
        return None, None
    what = f"let-through current of {name}"
    return Fact(item.let_through_ka * 1000, basis=basis_of(item, "let_through_ka"), name=what), item.let_through_by


def _adding(ctx: Context) -> tuple[str, ...]:
    """The rules by which motors and inverters of a drawing add to a fault current, those that it has."""

    def find() -> tuple[str, ...]:
        inverters = any(isinstance(ctx.drawing.get(i), SolarArray | Battery) for i in ctx.net.sources)
        motors = any(e.load_class in MOTOR_CLASSES and not e.nonlinear for e in ctx.loads)
        return tuple(rule for rule, there in (("FLT-8", motors), ("FLT-9", inverters)) if there)

    return ctx.recall("what adds to faults", "", find)


def _test_x_r(item: Disconnect, rating_ka: float | None) -> float | None:
    """X/R of the test of a molded-case breaker or fuse for a rating, or of a combination tested for that rating."""
    if rating_ka is None or rating_ka <= 0:
        return None
    return test_x_r("molded-case breaker" if item.form == "breaker" else "power breaker, fused", rating_ka)


# -------------------------------------------------------------------------------------------------------- items
def _disconnect(ctx: Context, item: Disconnect) -> Iterator[Verdict]:
    places = _places(ctx, item)
    if protects(item):
        rating = ("interrupting_ka", "interrupting rating", _test_x_r(item, item.interrupting_ka))
        found = _governing(ctx, item, places, rating, interrupting)
        if found is not None and item.series_rated_with and found[1].state != "pass":
            # The combination is tested as a whole, in the circuit of its own rating.
            fault = replace(found[0], test_x_r=_test_x_r(item, item.series_rating_ka), rms=item.form != "breaker")
            yield series(_series_facts(ctx, item, fault, item.series_rated_with, "series_rating_ka"))
        elif found is not None:
            yield found[1]
    if item.form in ("switch", "fused switch"):
        found = _governing(ctx, item, places, ("sccr_ka", "short-circuit current rating", None), withstand)
        if found is not None:
            yield found[1]
    node = _line_node(ctx, item)
    if not _fed(ctx, node):
        return
    said = _voltage(ctx, item, node)
    if said is not None:
        yield said


def _voltage(ctx: Context, item: Disconnect, node: int) -> Verdict | None:
    code = ctx.feeding.system[node]
    if item.voltage_rating is None and code is not None and _every_rating_fits(code):
        return None
    load = ctx.feeding.load_node(item.id)
    phases = item.phases or (ctx.feeding.phases[load] if load is not None else "")
    single = item.poles == 1 or (item.poles is None and len(phases) == 1)
    high_leg: bool | None = HIGH_LEG in phases
    if code is not None and tables.system(code).v_high_leg and item.phases is None and (item.poles or 0) < 3:
        high_leg = None
    subject, need = Subject(item.id, ctx.name(item.id)), system_need(ctx, node)
    return voltage_rating(VoltageFacts(subject, ctx.edition, code, item.voltage_rating, single, high_leg, need))


def _every_rating_fits(code: str) -> bool:
    """Systems with a grounded neutral and no more than 120 V to it: every common breaker is rated for them."""
    system = tables.system(code)
    return system.grounding in ("neutral", "midpoint") and not system.v_high_leg and system.v_ll <= _COMMON_V_LL


def _bus(ctx: Context, bus: Bus) -> Iterator[Verdict]:
    node = ctx.net.node(bus.id)
    if bus.form in _RATED_FORMS or bus.sccr_ka is not None:
        places = [Place(case, node) for case in cases_at(ctx, node)]
        found = _governing(ctx, bus, places, ("sccr_ka", "short-circuit current rating", None), withstand)
        if found is not None:
            yield found[1]
    if bus.form in _SCHEDULED_FORMS and any(c.use in ("load", "spare") and c.feeds is None for c in bus.circuits):
        yield from _breakers(ctx, bus, node)


def _breakers(ctx: Context, bus: Bus, node: int) -> Iterator[Verdict]:
    """FLT-1 of the breakers that stand only in a panel's schedule, once for the panel; FLT-4 where they are series rated."""
    places = [Place(case, node) for case in cases_at(ctx, node)]
    test = None if bus.breakers_ka is None else test_x_r("molded-case breaker", bus.breakers_ka)
    found = _governing(ctx, bus, places, ("breakers_ka", "interrupting rating", test), interrupting)
    if found is None:
        return
    name = ctx.name(bus.id)
    if bus.breakers_series_with and found[1].state != "pass":
        rating, form = bus.breakers_series_ka, "molded-case breaker"
        fault = replace(found[0], test_x_r=None if rating is None else test_x_r(form, rating))
        combination = _series_facts(ctx, bus, fault, bus.breakers_series_with, "breakers_series_ka", node)
        yield series(combination).but(name=name)
    else:
        yield found[1].but(needs=partial(_breakers_needs, found[1], name))


def _breakers_needs(found: Verdict, name: str) -> tuple[str, ...]:
    """What is missing for the breakers of a panel, not for the panel itself."""
    own, theirs = f"interrupting rating of {name}", f"interrupting rating of the breakers in {name}"
    return tuple(need.replace(own, theirs) for need in found.needs)


def _transfer(ctx: Context, item: TransferSwitch) -> Iterator[Verdict]:
    """At its terminals toward each source that can feed it."""
    nodes = [ctx.net.node(item.id, terminal) for terminal in item.terminals]
    places = [Place(case, n) for n in nodes for case in cases_at(ctx, n)]
    found = _governing(ctx, item, places, ("withstand_ka", "withstand and closing rating", None), withstand)
    if found is not None:
        yield found[1]


# ------------------------------------------------------------------------------------------------ series ratings
def _series_facts(
    ctx: Context, item: Disconnect | Bus, fault: FaultFacts, declared: str, attribute: str, node: int | None = None
) -> SeriesFacts:  # fmt: skip
    """A combination: ``declared`` the device ahead as it is written down, ``attribute`` the field of its rating, ``node``
    where the breakers of a panel are."""
    ahead = _ahead(ctx, _line_node(ctx, item) if node is None else node, declared)
    marked: float | None = getattr(item, attribute)
    what = f"series combination rating of {ctx.name(item.id)}"
    rating = Fact(
        None if marked is None else marked * 1000, basis=item.basis.get(attribute, "entered"), need=what, name=what
    )
    own = ctx.feeding.load_node(item.id) if node is None else node
    return SeriesFacts(
        fault, ctx.name(declared) if declared in ctx.full else declared,
        None if ahead is None else Subject(ahead.id, ctx.name(ahead.id)), rating,
        _motors_between(ctx, ctx.name(item.id), own, ahead, whole=node is not None),
        ahead is not None and ahead.status == "new",
        isinstance(item, Disconnect) and item.series_by == SERIES_RATINGS[1], item.status == "new",
    )  # fmt: skip


def _ahead(ctx: Context, line: int, declared: str) -> Disconnect | None:
    """The device on the way to the source that the drawing names, by id or by name."""
    wanted = declared.casefold().strip()
    for branch, _ in ctx.feeding.path(line):
        other = branch.item
        if isinstance(other, Disconnect) and wanted in (other.id.casefold(), ctx.name(other.id).casefold().strip()):
            return other
    return None


def _motors_between(ctx: Context, name: str, own: int | None, ahead: Disconnect | None, whole: bool) -> Fact:
    """Full-load current of motors fed between two devices, beside what the lower one feeds, amperes. ``whole``: of any
    breaker of a panel, beside which all the others' motors lie."""
    if ahead is None:
        return Fact(None, 0.0, need="device of the series combination")
    top = ctx.feeding.load_node(ahead.id)
    if top is None or own is None:
        return Fact(None, 0.0, need="what the device of the series combination feeds")
    behind: set[int] = set() if whole else set(ctx.feeding.subtree(own))
    nodes = set(ctx.feeding.subtree(top)) - behind
    total, needs, volts_code = 0.0, [], ctx.feeding.system[own]
    for entry in ctx.demand.entries:
        if entry.node not in nodes:
            continue
        motor = entry.load_class in ("motor", "hvac", "elevator") or entry.horsepower is not None
        if motor and entry.va is not None and volts_code is not None:
            divisor = tables.system(volts_code).v_ll * (3**0.5 if len(entry.phases) == 3 else 1.0)
            total += entry.va / divisor
        elif motor or (entry.va is None and entry.load_class is None):
            needs.append(f"motors on {entry.label}")
    if needs:
        many = (f"motors among {len(needs)} loads between {ctx.name(ahead.id)} and {name}",)
        need, *also = many if len(needs) > 2 else tuple(needs)
        return Fact(None, total, None, need=need, also=tuple(also), name="motors between the devices")
    return Fact(total, name="motors between the devices")


# ------------------------------------------------------------------------------------------------------ markings
def _marking(ctx: Context, item: Item, node: int, marking: Callable[..., Verdict]) -> Iterator[Verdict]:
    if _fed(ctx, node):
        notes = partial(_notes, ctx, node)
        yield marking(Subject(item.id, ctx.name(item.id)), ctx.edition, figure(ctx, node), notes, _marked(ctx, item))


def _marked(ctx: Context, item: Item) -> Marked | None:
    """The marking entered for an item, and whether the view has new work."""
    known: float | None = getattr(item, "fault_marked_ka", None)
    if known is None:
        return None
    changed = ctx.settled("new work", lambda: any(i.status == "new" for i in ctx.drawing.items.values()))
    return Marked(known * 1000, getattr(item, "fault_marked_on", None), changed)


def _notes(ctx: Context, node: int) -> tuple[str, ...]:
    return ctx.numbers.fault_notes(node)


#: Everything this subject finds on a drawing.
verdicts = for_all(about, of=(Bus, Disconnect, TransferSwitch))
