"""Service equipment (article 230): number and rating of service disconnects, what may be ahead of them, ground faults."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import ceil
from typing import Any

from oneline import tables
from oneline.rules.common import (
    Condition,
    Fact,
    Subject,
    amperes,
    at_least,
    bounded_amperes,
    compared,
    difference,
    judged,
    listed,
    looked_up,
    number,
    quantity,
    rated,
    section,
    unique,
    verdict,
    weakest,
    worst,
)
from oneline.rules.verdict import Verdict, WorkLine

#: Parts of the rule in edition_starts.csv: each of several disconnects apart from the others, and the exception for
#: equipment that was installed legally before.
_APART, _EXISTING_EXCEPTION = "service_disconnects_apart", "service_disconnects_existing"
_SEVERAL = 2


@dataclass(frozen=True)
class Enclosure:
    """Service disconnects that share one piece of equipment. ``form``: of the bus they sit on, "" for one by itself.

    ``new``: how many of them are new work; ``unsure``: how many nobody marked as service disconnects or as others.
    """

    name: str
    form: str
    count: int
    new: int = 0
    unsure: int = 0


@dataclass(frozen=True)
class DisconnectFacts:
    """Service disconnects of one service. ``ids``: of the disconnects, in the order of ``names``; ``unsure``: names of
    those that are taken for service disconnects because they come first, without anybody having said so."""

    subject: Subject
    edition: int
    names: tuple[str, ...]
    ids: tuple[str, ...]
    enclosures: tuple[Enclosure, ...]
    unsure: tuple[str, ...] = ()


def number_of_disconnects(facts: DisconnectFacts) -> Verdict:
    """SVC-2: at most six; since 2020 one, or several that are apart from each other."""
    most = int(tables.limit_value("service_disconnects_max"))
    count, name = len(facts.names), facts.subject.name
    if count == 0:
        text = f"Where {name} disconnects is not known yet: no service disconnect is drawn for it."
        need = f"service disconnect of {name}"
        return verdict("SVC-2", facts.subject, facts.edition, "unknown", text, needs=(need,))
    many = f"{name} has {count} service disconnect{'s' if count > 1 else ''}"
    lines = tuple(looked_up(f"Service disconnect {k}", device, "") for k, device in enumerate(facts.names, 1))
    more: dict[str, Any] = {
        "others": facts.ids, "value": float(count), "limit": float(most), "unit": "disconnects", "relation": "at most",
        "work": lines,
    }  # fmt: skip
    if count > most >= count - len(facts.unsure):
        text = f"Whether {name} has more than {most} service disconnects is not known yet: it has up to {count}."
        needs = (f"which of {listed(facts.unsure)} are service disconnects",)
        return verdict("SVC-2", facts.subject, facts.edition, "unknown", text, needs=needs, **more)
    if count > most:
        text = f"{many}, {count - most} more than the {most} that any edition allows."
        remedy = "Put one main ahead of some of them, or connect the addition on the load side of a service disconnect."
        return verdict("SVC-2", facts.subject, facts.edition, "fail", text, remedy=remedy, **more)
    conditions = [Condition("pass", f"{many}, of {most} at most: {listed(facts.names)}.")]
    if tables.applies(_APART, facts.edition):
        conditions += [_apart(enclosure, name, facts.edition) for enclosure in facts.enclosures if enclosure.count > 1]
    checks = (f"The disconnects of {name} are grouped in one place and marked.",)
    grouped = count > 1 and not tables.applies(_APART, facts.edition) and worst(c.state for c in conditions) == "pass"
    cures = [c.cure for c in conditions if c.state == "fail" and c.cure]
    return judged(
        "SVC-2", facts.subject, facts.edition, conditions, field_checks=checks if grouped else (),
        remedy=f"{cures[0][:1].upper()}{cures[0][1:]}." if cures else "", **more,
    )  # fmt: skip


def _apart(enclosure: Enclosure, service: str, edition: int) -> Condition:
    """Several service disconnects in one piece of equipment, since 2020."""
    where, count = enclosure.name, enclosure.count
    if enclosure.form in ("switchboard", "meter center"):
        part = "vertical section" if enclosure.form == "switchboard" else "compartment"
        text = (
            f"{where} holds {count} service disconnects of {service}, and each needs a {part} of its own with barriers."
        )
        return Condition("judge", text, needs=(f"barriers between the service disconnects in {where}",))
    shared = f"{where} holds {count} service disconnects of {service}"
    if not enclosure.new:
        return Condition("judge", f"{shared}, as was allowed before {tables.since(_APART)}: existing work.")
    if enclosure.count - enclosure.unsure < _SEVERAL:
        text = f"Whether {where} holds more than one service disconnect of {service} is not known yet."
        return Condition("unknown", text, needs=(f"which disconnects in {where} are service disconnects",))
    which = "one" if enclosure.new == 1 else "all" if enclosure.new == count else str(enclosure.new)
    text = f"{shared}, {which} of them new, and since {tables.since(_APART)} each needs its own enclosure."
    if enclosure.new == count:
        return Condition("fail", text, cure="put each new disconnect in an enclosure of its own")
    if tables.applies(_EXISTING_EXCEPTION, edition):
        ones = "one" if enclosure.new == 1 else "ones"
        text += f" Ask the authority whether the exception for existing equipment covers the new {ones}."
        return Condition("judge", text)
    return Condition("fail", text, cure="put each new disconnect in an enclosure of its own")


def marked_for_service(device: Subject, edition: int, marked: bool | None) -> Verdict:
    """SVC-3: a service disconnect is marked as suitable for use as service equipment."""
    name = device.name
    if marked is None:
        text = f"Whether {name} is marked suitable as service equipment is not known yet."
        return verdict("SVC-3", device, edition, "unknown", text, needs=(f"service equipment marking on {name}",))
    if marked:
        return verdict("SVC-3", device, edition, "pass", f"{name} is marked suitable as service equipment.")
    text = f"{name} is a service disconnect but is not marked suitable as service equipment."
    return verdict("SVC-3", device, edition, "fail", text, remedy="Use equipment marked for it.")


def service_rating(service: Subject, edition: int, rating: Fact, load: Fact, names: Sequence[str]) -> Verdict:
    """SVC-4: the service disconnects together carry the calculated load and are at least the smallest size allowed.

    ``rating``: sum of the disconnects, amperes; ``load``: largest phase, continuous load at 100 %.
    """
    least = tables.limit_value("service_rating_min_a")
    together = f"The {len(names)} service disconnects of {service.name} together are" if len(names) > 1 else ""
    what = together or f"{names[0] if names else 'The service disconnect'} of {service.name} is"
    smallest = at_least(rating, Fact(least), _rating_sentence(what, service, rating, Fact(least)))
    if smallest.state == "fail":
        text = f"{smallest.message} Smaller is for a few small circuits only."
        smallest = replace(smallest, state="judge", message=text)
    carries = at_least(rating, load, _rating_sentence(what, service, rating, load, "its calculated load"))
    remedy = ""
    if carries.state == "fail" and load.least is not None and rating.most is not None:
        off = amperes(ceil((load.least - rating.most) * 10) / 10)
        remedy = f"Take {off} of load off the fullest phase, or fit larger service disconnects."
    return judged("SVC-4", service, edition, [smallest, carries], pass_message=carries.message, remedy=remedy)


def _rating_sentence(what: str, service: Subject, rating: Fact, limit: Fact, of: str = "") -> str:
    """ "The 3 service disconnects of Service 1 together are 900 A, 311 A more than its calculated load of 589 A."
    Without ``of`` the limit is the least for a service."""
    words = compared(rating, limit)
    if words is not None:
        against = f"{of} of {words.limit}" if of else f"the {words.limit} that a service needs at least"
        return f"{what} {words.value}, {words.gap} {against}."
    numbers = ((rating, "a rating"), (limit, "a load")) if of else ((rating, "a rating"),)
    known = [f"{name} of {bounded_amperes(fact)}" for fact, name in numbers if fact.least]
    more = f": {listed(known)} so far" if known else ""
    return f"Whether the service disconnects of {service.name} are large enough is not known yet{more}."


def ahead_of_disconnect(item: Subject, edition: int, kind: str) -> Verdict:
    """SVC-6: what stands ahead of the service disconnect. ``kind``: of the item in the drawing."""
    listed_in = tables.citation("SVC-6", edition).section
    if kind in ("load",):
        text = f"{item.name} is connected ahead of every service disconnect, and {listed_in} does not list it there."
        remedy = "Connect it on the load side of a service disconnect."
        return verdict("SVC-6", item, edition, "fail", text, remedy=remedy)
    if kind == "disconnect":
        text = f"{item.name} is ahead of the service disconnect, allowed as a meter disconnect or for a listed purpose only."
        need = f"purpose of {item.name} ahead of the service disconnect"
        return verdict("SVC-6", item, edition, "judge", text, needs=(need,))
    if kind == "transformer":
        text = f"{item.name} is ahead of the service disconnect, and whether the utility owns it decides."
        return verdict("SVC-6", item, edition, "judge", text, needs=(f"owner of {item.name}",))
    text = f"{item.name} is ahead of the service disconnect, where {listed_in} lists it if it is marked for that."
    return verdict("SVC-6", item, edition, "pass", text)


# ------------------------------------------------------------------------------------------------ ground faults
@dataclass(frozen=True)
class GroundFaultFacts:
    """A disconnect and the system it is on. ``rating``: largest fuse it takes or highest trip setting, amperes.
    ``feeder``: no service disconnect but a feeder's, behind a transformer. ``system_need``: what to
    find out where the system is not known.

    ``fitted``: ground-fault protection present; ``pickup_a``: its setting; ``time_s``: its delay at
    ``gfpe_time_current_a`` and more; ``tested``: its performance test is on record. ``ahead``: of a feeder, a device with
    ground-fault protection on its supply side behind the same source. ``back_fed``: names of sources on its load side.
    """

    subject: Subject
    edition: int
    system: str | None
    rating: Fact
    fitted: bool | None = None
    pickup_a: float | None = None
    time_s: float | None = None
    feeder: bool = False
    system_need: str = "system voltage"
    tested: bool | None = None
    ahead: Subject | None = None
    back_fed: tuple[str, ...] = ()
    #: Of a feeder: devices on its supply side of which it is not known whether they have ground-fault protection.
    perhaps_ahead: tuple[Subject, ...] = ()


def ground_fault_triggered(system: str | None, rating: Fact) -> str:
    """Whether 230.95 asks for ground-fault protection: "yes", "no" or "unknown"."""
    threshold = tables.limit_value("gfpe_disconnect_a")
    if system is not None:
        known = tables.system(system)
        to_neutral = known.v_ln or 0.0
        if not (
            known.solidly_grounded_wye
            and to_neutral > tables.limit_value("gfpe_over_v_ln")
            and known.v_ll <= tables.limit_value("gfpe_max_v_ll")
        ):
            return "no"
    if rating.most is not None and rating.most < threshold:
        return "no"
    if system is not None and rating.least is not None and rating.least >= threshold:
        return "yes"
    return "unknown"


def ground_fault(facts: GroundFaultFacts) -> Verdict:
    """SVC-7: ground-fault protection of a large disconnect on a solidly grounded wye above 150 V to neutral."""
    name = facts.subject.name
    threshold = tables.limit_value("gfpe_disconnect_a")
    triggered = ground_fault_triggered(facts.system, facts.rating)
    numbers: dict[str, Any] = {"value": facts.rating.value, "limit": threshold, "unit": "A", "relation": "at least"}
    lines = (
        looked_up("System", facts.system, ""), looked_up("Rating", facts.rating.value),
        looked_up("Asked for from", threshold, "A", section("SVC-7", facts.edition)),
    )  # fmt: skip
    cited = section("SVC-7-feeder" if facts.feeder else "SVC-7", facts.edition)
    more = {**numbers, "section": cited}
    known, on = rated(name, facts.rating), f" on {facts.system}" if facts.system else ""
    if triggered == "no":
        text = (
            f"{known}{on} needs no ground-fault protection of equipment: asked for from {amperes(threshold)} "
            f"on, above {number(tables.limit_value('gfpe_over_v_ln'))} V to neutral."
        )
        return verdict("SVC-7", facts.subject, facts.edition, "not_applicable", text, work=lines, **more)
    if facts.feeder and facts.ahead is not None:
        text = f"{known} needs no ground-fault protection of its own: {facts.ahead.name} on its supply side has it."
        return verdict(
            "SVC-7", facts.subject, facts.edition, "not_applicable", text, work=lines, others=(facts.ahead.id,), **more
        )
    if triggered == "unknown":
        needs = facts.rating.needs if facts.system else (*facts.rating.needs, facts.system_need)
        text = (
            f"Whether {known} needs ground-fault protection of equipment is not known yet: from {amperes(threshold)} on it "
            f"does, above {number(tables.limit_value('gfpe_over_v_ln'))} V to neutral."
        )
        return verdict("SVC-7", facts.subject, facts.edition, "unknown", text, needs=needs, work=lines, **more)
    if facts.feeder and not facts.fitted and facts.perhaps_ahead:
        return _open_ahead(facts, lines, more)
    return _settings(facts, cited, lines)


def _open_ahead(facts: GroundFaultFacts, lines: tuple[WorkLine, ...], more: dict[str, Any]) -> Verdict:
    """A feeder without ground-fault protection of its own needs none where a device ahead has it, which is not known."""
    own = "has none" if facts.fitted is False else "it is not known whether it has any"
    names = listed([s.name for s in facts.perhaps_ahead], "or")
    known = f"{rated(facts.subject.name, facts.rating)} on {facts.system}"
    text = (
        f"Whether {known} needs ground-fault protection of equipment of its own is not known yet: {own}, and {names} on its "
        "supply side may have it."
    )
    open_ones = (*(() if facts.fitted is False else (facts.subject,)), *facts.perhaps_ahead)
    return verdict(
        "SVC-7", facts.subject, facts.edition, "unknown", text, needs=tuple(_fitted_need(s.name) for s in open_ones),
        others=tuple(s.id for s in facts.perhaps_ahead), work=lines, **more,
    )  # fmt: skip


def _fitted_need(name: str) -> str:
    return f"ground-fault protection of {name}: present, its pickup and time setting, and the record of its test"


def _settings(facts: GroundFaultFacts, cited: str, lines: tuple[WorkLine, ...]) -> Verdict:
    """Ground-fault protection is asked for: is it there, and set as it must be."""
    pickup_a, time_s = tables.limit_value("gfpe_pickup_max_a"), tables.limit_value("gfpe_time_s")
    at_a, name = tables.limit_value("gfpe_time_current_a"), facts.subject.name
    known = f"{rated(name, facts.rating)} on {facts.system}"
    set_at = f"Pickup at most {amperes(pickup_a)}, at most {number(time_s)} s at {amperes(at_a)}."
    more: dict[str, Any] = {
        "section": cited, "work": lines, "field_checks": (f"Record of the ground-fault protection test of {name}.",),
    }  # fmt: skip
    if facts.fitted is None:
        need = _fitted_need(name)
        text = f"Whether {known} has the ground-fault protection of equipment it needs is not known yet."
        found = Condition("unknown", text, needs=(need,))
        return judged("SVC-7", facts.subject, facts.edition, [found], further=set_at, **more)
    if not facts.fitted:
        found = Condition("fail", f"{known} needs ground-fault protection of equipment and has none.")
        remedy = "Fit it, set it and have it tested."
        return judged("SVC-7", facts.subject, facts.edition, [found], further=set_at, remedy=remedy, **more)
    settings = (("pickup", facts.pickup_a, pickup_a, "A"), ("delay", facts.time_s, time_s, "s"))
    conditions = [_setting(known, facts, *setting) for setting in settings]
    conditions += [*_performance_test(known, facts), *_from_behind(known, facts)]
    set_to = listed([f"a {what} of {quantity(value or 0.0, unit)}" for what, value, _, unit in settings])
    passes = f"{known} has ground-fault protection with {set_to}, set as it must be."
    return judged("SVC-7", facts.subject, facts.edition, conditions, pass_message=passes, further=set_at, **more)


def _performance_test(known: str, facts: GroundFaultFacts) -> list[Condition]:
    """The test when it was installed, in writing (230.95(C))."""
    if facts.tested:
        return []
    name = facts.subject.name
    if facts.tested is None:
        text = f"Whether the ground-fault protection of {known} was tested when it was installed is not known yet."
        return [Condition("unknown", text, needs=(f"record of the ground-fault protection test of {name}",))]
    text = f"The ground-fault protection of {known} has no record of its performance test."
    return [Condition("fail", text, must="be tested, and the test recorded")]


def _from_behind(known: str, facts: GroundFaultFacts) -> list[Condition]:
    """Sources on the load side can fool the sensor, and the device has to be listed for that."""
    if not facts.back_fed:
        return []
    text = (
        f"{listed(facts.back_fed)} can feed back through {known}, and whether its ground-fault protection is listed for that "
        "is for the authority."
    )
    return [Condition("judge", text)]


def _setting(known: str, facts: GroundFaultFacts, what: str, value: float | None, most: float, unit: str) -> Condition:
    if value is None:
        need = f"{what} setting of the ground-fault protection of {facts.subject.name}"
        text = f"Whether the ground-fault protection of {known} is set right is not known yet: its {what} is missing."
        return Condition("unknown", text, value, most, unit, "at most", (need,))
    fits = value <= most
    gap = f"{difference(value, most, unit)} {'inside' if fits else 'over'} the {quantity(most, unit)} allowed"
    text = f"The ground-fault protection of {known} has a {what} of {quantity(value, unit)}, {gap}."
    return Condition("pass" if fits else "fail", text, value, most, unit, "at most")


def sum_of_ratings(ratings: Sequence[tuple[str, Fact]]) -> Fact:
    """Sum of several ratings in amperes, with bounds where some are unknown; ``ratings``: name and rating.

    It rests on every assumption that one of them rests on.
    """
    facts = [f for _, f in ratings]
    known = [f.value for f in facts if f.value is not None]
    need, *also = unique(n for f in facts for n in f.needs) or ("",)
    total = Fact(
        None, need=need, also=tuple(also), name="sum of the ratings",
        assumed=unique(a for f in facts for a in f.assumptions), basis=weakest(*(f.basis for f in facts)),
    )  # fmt: skip
    most = None if any(f.most is None for f in facts) else sum(f.most or 0.0 for f in facts)
    if len(known) < len(facts):
        return replace(total, low=sum(f.least or 0.0 for f in facts), high=most)
    return replace(total, value=sum(known), up_to=most if any(f.up_to is not None for f in facts) else None)
