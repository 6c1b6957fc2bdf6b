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
    judged,
    listed,
    looked_up,
    section,
    unique,
    verdict,
    weakest,
    worst,
)
from oneline.rules.verdict import Verdict

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
    counted: dict[str, Any] = {
        "value": float(count),
        "limit": float(most),
        "unit": "disconnects",
        "relation": "at most",
    }
    more: dict[str, Any] = {"others": facts.ids, "work": lines}
    if count > most >= count - len(facts.unsure):
        text = f"Whether {name} has more than {most} service disconnects is not known yet: it has up to {count}."
        needs = (f"which of {listed(facts.unsure)} are service disconnects",)
        return verdict("SVC-2", facts.subject, facts.edition, "unknown", text, needs=needs, **counted, **more)
    if count > most:
        text = f"{many}, {count - most} more than the {most} that any edition allows."
        remedy = "Put one main ahead of some of them, or connect the addition on the load side of a service disconnect."
        return verdict("SVC-2", facts.subject, facts.edition, "fail", text, remedy=remedy, **counted, **more)
    conditions = [Condition("pass", f"{many}, of {most} at most: {listed(facts.names)}.", **counted)]
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


@dataclass(frozen=True)
class SwitchFacts:
    """A service disconnect. ``marked``: suitable as service equipment; ``stands`` and ``accessible``: as in the drawing.
    ``place_asked``: whether where it stands is asked for while nobody entered it."""

    subject: Subject
    edition: int
    marked: bool | None
    stands: str | None = None
    accessible: bool | None = None
    place_asked: bool = False


def marked_for_service(facts: SwitchFacts) -> Verdict:
    """SVC-3: a service disconnect is marked as suitable for use as service equipment (230.66), and stands outdoors or inside
    nearest the point of entrance, readily accessible (230.70(A)). One finding for all of it."""
    name = facts.subject.name
    conditions = [_marked(facts), *_place_conditions(facts)]
    if len(conditions) == 1:
        passes = f"{name} is marked suitable as service equipment."
    else:
        passes = f"{name} is marked suitable as service equipment and stands where a service disconnect may."
    failing = [c for c in conditions if c.state == "fail"]
    remedy = "Use equipment marked for it." if conditions[0].state == "fail" else ""
    if conditions[0].state != "fail" and failing:
        remedy = f"{name} must {listed(unique(c.must for c in failing))}."
    cited = section("SVC-3", facts.edition)
    if (
        conditions[0].state in ("pass", "unknown")
        and (failing or conditions[0].state == "pass")
        and len(conditions) > 1
    ):
        cited = section("SVC-3-place", facts.edition)
    check = f"{name} is marked as a service disconnect."
    return judged(
        "SVC-3", facts.subject, facts.edition, conditions, pass_message=passes, remedy=remedy, section=cited,
        field_checks=(check,),
    )  # fmt: skip


def _marked(facts: SwitchFacts) -> Condition:
    name = facts.subject.name
    if facts.marked is None:
        text = f"Whether {name} is marked suitable as service equipment is not known yet."
        return Condition("unknown", text, needs=(f"service equipment marking on {name}",))
    if facts.marked:
        return Condition("pass", f"{name} is marked suitable as service equipment.")
    return Condition("fail", f"{name} is a service disconnect but is not marked suitable as service equipment.")


def _place_conditions(facts: SwitchFacts) -> list[Condition]:
    name, found = facts.subject.name, []
    must = "stand outdoors or inside nearest the point where the service conductors enter"
    if facts.stands == "inside elsewhere":
        found.append(
            Condition("fail", f"{name} stands inside, away from where the service conductors enter.", must=must)
        )
    elif facts.stands is not None:
        found.append(Condition("pass", f"{name} stands {facts.stands}.", must=must))
    elif facts.place_asked:
        text = f"Whether {name} stands where a service disconnect may is not known yet."
        found.append(
            Condition("unknown", text, needs=(f"where {name} stands: outdoors, nearest the entrance or elsewhere",))
        )
    if facts.accessible is False:
        found.append(Condition("fail", f"{name} is not readily accessible.", must="be readily accessible"))
    return found


def grouped_disconnects(service: Subject, edition: int, places: Sequence[tuple[Subject, str]]) -> Verdict | None:
    """SVC-3: the disconnects of one service stand together (230.72(A)); ``None`` while their places are written alike.

    ``places``: each disconnect with the room entered for it, those without one left out.
    """
    rooms: dict[str, list[str]] = {}
    for device, room in places:
        rooms.setdefault(" ".join(room.casefold().split()), []).append(device.name)
    if len(rooms) <= 1:
        return None
    words = {" ".join(room.casefold().split()): room for _, room in places}
    apart = listed([f"{listed(names)} ({words[key]})" for key, names in rooms.items()])
    text = (
        f"The service disconnects of {service.name} are entered in different places: {apart}. They are to be grouped, "
        "except those of a fire pump or of emergency power, which stand apart."
    )
    check = f"The service disconnects of {service.name} stand together, each marked with what it feeds."
    return verdict(
        "SVC-3", service, edition, "judge", text, field_checks=(check,), section=section("SVC-3-grouped", edition),
        others=tuple(d.id for d, _ in places),
    )  # fmt: skip


def service_rating(
    service: Subject, edition: int, rating: Fact, load: Fact, names: Sequence[str], one_family: bool = False
) -> Verdict:  # fmt: skip
    """SVC-4: the service disconnects together carry the calculated load and are at least the smallest size allowed.

    ``rating``: sum of the disconnects, amperes; ``load``: largest phase, continuous load at 100 %.
    ``one_family``: the service of a one-family dwelling.
    """
    least = tables.limit_value("service_rating_one_family_a" if one_family else "service_rating_min_a")
    together = f"The {len(names)} service disconnects of {service.name} together are" if len(names) > 1 else ""
    what = together or f"{names[0] if names else 'The service disconnect'} of {service.name} is"
    smallest = at_least(rating, Fact(least), _rating_sentence(what, service, rating, Fact(least)))
    if smallest.state == "fail" and not one_family:
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
