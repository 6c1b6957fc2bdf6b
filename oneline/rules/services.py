"""Service equipment (article 230): number and rating of service disconnects, what may be ahead of them, ground faults."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from oneline import tables
from oneline.rules.common import (
    Condition,
    Fact,
    Subject,
    amperes,
    at_least,
    bounded_amperes,
    judged,
    listed,
    looked_up,
    number,
    section,
    verdict,
)
from oneline.rules.verdict import Verdict

#: First edition that wants each of several service disconnects apart from the others, and the first with the exception
#: for equipment that was installed legally before.
_APART_SINCE = 2020
_EXISTING_EXCEPTION_SINCE = 2023


@dataclass(frozen=True)
class Enclosure:
    """Service disconnects that share one piece of equipment. ``form``: of the bus they sit on, "" for one by itself."""

    name: str
    form: str
    count: int
    new: bool = False


@dataclass(frozen=True)
class DisconnectFacts:
    """Service disconnects of one service. ``ids``: of the disconnects, in the order of ``names``."""

    subject: Subject
    edition: int
    names: tuple[str, ...]
    ids: tuple[str, ...]
    enclosures: tuple[Enclosure, ...]


def number_of_disconnects(facts: DisconnectFacts) -> Verdict:
    """SVC-2: at most six; since 2020 one, or several that are apart from each other."""
    most = int(tables.limit_value("service_disconnects_max"))
    count, name = len(facts.names), facts.subject.name
    numbers = {"value": float(count), "limit": float(most), "unit": "disconnects", "relation": "at most"}
    if count == 0:
        text = f"No service disconnect is drawn for {name}."
        need = f"service disconnect of {name}"
        return verdict("SVC-2", facts.subject, facts.edition, "unknown", text, needs=(need,))
    many = f"{name} has {count} service disconnect{'s' if count > 1 else ''}: {listed(facts.names)}."
    if count > most:
        text = f"{many} No edition allows more than {most}."
        remedy = "Put one main ahead of some of them, or connect the addition on the load side of a service disconnect."
        return verdict(
            "SVC-2", facts.subject, facts.edition, "fail", text, remedy=remedy, others=facts.ids, **numbers
        )  # fmt: skip
    conditions = [Condition("pass", many)]
    if facts.edition >= _APART_SINCE:
        conditions += [_apart(enclosure, facts.edition) for enclosure in facts.enclosures if enclosure.count > 1]
    found = judged("SVC-2", facts.subject, facts.edition, conditions, others=facts.ids, **numbers)
    if count > 1 and found.state == "pass" and facts.edition < _APART_SINCE:
        check = f"The disconnects of {name} are grouped in one place and marked."
        return verdict(
            "SVC-2", facts.subject, facts.edition, "pass", found.message, others=facts.ids, field_checks=(check,),
            **numbers,
        )  # fmt: skip
    return found


def _apart(enclosure: Enclosure, edition: int) -> Condition:
    """Several service disconnects in one piece of equipment, since 2020."""
    where, count = enclosure.name, enclosure.count
    if enclosure.form in ("switchboard", "meter center"):
        part = "vertical section" if enclosure.form == "switchboard" else "compartment"
        text = f"{count} service disconnects in {where}: each needs a {part} of its own with barriers."
        return Condition("judge", text, needs=(f"barriers between the service disconnects in {where}",))
    if not enclosure.new:
        text = f"{count} service disconnects share {where}. It was allowed before {_APART_SINCE}; existing work."
        return Condition("judge", text)
    text = f"{count} service disconnects share {where}, one of them new. Since {_APART_SINCE} each needs its own enclosure."
    if edition >= _EXISTING_EXCEPTION_SINCE:
        text += " Ask the authority whether the exception for existing equipment covers the new one."
        return Condition("judge", text)
    return Condition("fail", text, cure="put the new disconnect in an enclosure of its own")


def marked_for_service(device: Subject, edition: int, marked: bool | None) -> Verdict:
    """SVC-3: a service disconnect is marked as suitable for use as service equipment."""
    name = device.name
    if marked is None:
        text = f"Whether {name} is marked suitable as service equipment is not known yet."
        return verdict("SVC-3", device, edition, "unknown", text, needs=(f"service equipment marking on {name}",))
    if marked:
        return verdict("SVC-3", device, edition, "pass", f"{name} is marked suitable as service equipment.")
    text = f"{name} is a service disconnect and is not marked suitable as service equipment."
    return verdict("SVC-3", device, edition, "fail", text, remedy="Use equipment marked for it.")


def service_rating(service: Subject, edition: int, rating: Fact, load: Fact, names: Sequence[str]) -> Verdict:
    """SVC-4: the service disconnects together carry the calculated load and are at least the smallest size allowed.

    ``rating``: sum of the disconnects, amperes; ``load``: largest phase, continuous load at 100 %.
    """
    least = tables.limit_value("service_rating_min_a")
    what = f"{listed(tuple(names))} together {bounded_amperes(rating)}" if len(names) > 1 else bounded_amperes(rating)
    smallest = at_least(rating, Fact(least), f"{service.name}: {what}; at least {amperes(least)} for a service.")
    if smallest.state == "fail":
        smallest = replace(
            smallest, state="judge", message=f"{smallest.message} Smaller only for a few small circuits."
        )
    conditions = [
        smallest,
        at_least(rating, load, f"{service.name}: {what} for a calculated load of {bounded_amperes(load)}."),
    ]
    return judged("SVC-4", service, edition, conditions, pass_message=conditions[1].message)


def ahead_of_disconnect(item: Subject, edition: int, kind: str) -> Verdict:
    """SVC-6: what stands ahead of the service disconnect. ``kind``: of the item in the drawing."""
    if kind in ("load",):
        text = f"{item.name} is connected ahead of every service disconnect; that is not on the list of 230.82."
        remedy = "Connect it on the load side of a service disconnect."
        return verdict("SVC-6", item, edition, "fail", text, remedy=remedy)
    if kind == "disconnect":
        text = f"{item.name} is ahead of the service disconnect: allowed as a meter disconnect or for a listed purpose only."
        need = f"purpose of {item.name} ahead of the service disconnect"
        return verdict("SVC-6", item, edition, "judge", text, needs=(need,))
    if kind == "transformer":
        text = f"{item.name} is ahead of the service disconnect: whether it belongs to the utility decides."
        return verdict("SVC-6", item, edition, "judge", text, needs=(f"owner of {item.name}",))
    text = f"{item.name} is ahead of the service disconnect and is listed for that, if it is marked so."
    return verdict("SVC-6", item, edition, "pass", text)


# ------------------------------------------------------------------------------------------------ ground faults
@dataclass(frozen=True)
class GroundFaultFacts:
    """A disconnect and the system it is on. ``rating``: largest fuse it takes or highest trip setting, amperes.

    ``fitted``: ground-fault protection present; ``pickup_a``: its setting; ``time_s``: its delay at
    ``gfpe_time_current_a`` and more.
    """

    subject: Subject
    edition: int
    system: str | None
    rating: Fact
    fitted: bool | None = None
    pickup_a: float | None = None
    time_s: float | None = None


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
    numbers = {"value": facts.rating.value, "limit": threshold, "unit": "A", "relation": "at least"}
    lines = (
        looked_up("System", facts.system, ""), looked_up("Rating", facts.rating.value),
        looked_up("Asked for from", threshold, "A", section("SVC-7", facts.edition)),
    )  # fmt: skip
    if triggered == "no":
        text = f"{name} needs no ground-fault protection of equipment: {amperes(facts.rating.value)} on {facts.system}."
        return verdict("SVC-7", facts.subject, facts.edition, "not_applicable", text, work=lines, **numbers)
    if triggered == "unknown":
        needs = facts.rating.needs if facts.system else (*facts.rating.needs, f"system at {name}")
        text = f"Whether {name} needs ground-fault protection of equipment is not known yet."
        return verdict("SVC-7", facts.subject, facts.edition, "unknown", text, needs=needs, work=lines, **numbers)
    return _settings(facts)


def _settings(facts: GroundFaultFacts) -> Verdict:
    """Ground-fault protection is asked for: is it there, and set as it must be."""
    pickup_a, time_s = tables.limit_value("gfpe_pickup_max_a"), tables.limit_value("gfpe_time_s")
    at_a, name = tables.limit_value("gfpe_time_current_a"), facts.subject.name
    asked = (
        f"{name}, {amperes(facts.rating.value)} on {facts.system}, needs ground-fault protection of equipment: pickup at "
        f"most {number(pickup_a)} A, at most {number(time_s)} s at {number(at_a)} A."
    )
    check = f"Record of the ground-fault protection test of {name}."
    if facts.fitted is None:
        need = f"ground-fault protection of {name}: present, its pickup and time setting, and the record of its test"
        found = Condition("unknown", asked, needs=(need,))
        return judged("SVC-7", facts.subject, facts.edition, [found], field_checks=(check,))
    if not facts.fitted:
        found = Condition("fail", f"{asked} None is fitted.")
        return judged("SVC-7", facts.subject, facts.edition, [found], remedy="Fit it, set it and have it tested.")
    settings = (("Pickup", facts.pickup_a, pickup_a, "A"), ("Delay", facts.time_s, time_s, "s"))
    conditions = []
    for what, value, most, unit in settings:
        state = "unknown" if value is None else "pass" if value <= most else "fail"
        text = f"{what} {'not known' if value is None else number(value)} {unit}, at most {number(most)} {unit}."
        needs = () if value is not None else (f"{what.lower()} setting of the ground-fault protection of {name}",)
        conditions.append(Condition(state, text, value, most, unit, "at most", needs))
    return judged("SVC-7", facts.subject, facts.edition, conditions, lead=asked, field_checks=(check,))


def sum_of_ratings(ratings: Sequence[tuple[str, Fact]]) -> Fact:
    """Sum of several ratings in amperes, with bounds where some are unknown; ``ratings``: name and rating."""
    known = [f.value for _, f in ratings if f.value is not None]
    if len(known) == len(ratings):
        return Fact(sum(known), name="sum of the ratings")
    least = sum(f.least or 0.0 for _, f in ratings)
    most = None if any(f.most is None for _, f in ratings) else sum(f.most or 0.0 for _, f in ratings)
    need, *also = [f.need for _, f in ratings if f.value is None]
    return Fact(None, least, most, need=need, also=tuple(also), name="sum of the ratings")
