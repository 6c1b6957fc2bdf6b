"""Tested series combinations: a device rated below the available fault current behind the one it was tested with (240.86)."""

from __future__ import annotations

from dataclasses import dataclass

from oneline import tables
from oneline.rules.common import Condition, Fact, Subject, at_most, compared, judged, looked_up, verdict
from oneline.rules.fault_duty import (
    FaultFacts,
    at_least_ka,
    compared_ka,
    duty_lines,
    duty_of,
    ka_bounds,
    kiloamperes,
    note_lines,
)
from oneline.rules.verdict import Verdict


@dataclass(frozen=True)
class SeriesFacts:
    """A device that relies on the one ahead of it (240.86).

    ``ahead``: the device the combination was tested with, ``None`` where it is not on the way to the source;
    ``declared``: as written on the drawing. ``rating``: of the combination, amperes. ``motors_a``: full-load current of
    the motors connected between the two. ``ahead_new``: whether the device ahead is new work.
    """

    fault: FaultFacts
    declared: str
    ahead: Subject | None
    rating: Fact
    motors_a: Fact
    ahead_new: bool = False
    #: Selected by a professional engineer for an existing installation (240.86(A)), and whether the device itself is new.
    engineered: bool = False
    own_new: bool = False


def motor_limit_a(interrupting_a: float) -> float:
    """Largest full-load current of motors between the devices of a series combination, amperes (240.86(C))."""
    return interrupting_a * tables.limit_value("series_rating_motor_pct") / 100


def series(facts: SeriesFacts) -> Verdict:
    """FLT-4: a tested series combination carries a device that is rated below the available fault current."""
    fault = facts.fault
    name, edition = fault.who, fault.edition
    if facts.ahead is None:
        message = f"{name} is marked for a series rating with {facts.declared}, which is not on its way to the source."
        remedy = f"Find the device ahead of {name} and read the combination on the panel's label."
        return verdict("FLT-4", fault.subject, edition, "fail", message, remedy=remedy)
    duty, lines = duty_of(fault), duty_lines(fault)
    ahead = facts.ahead.name
    conditions = [at_most(duty, facts.rating, _series_sentence(facts, ahead, duty)), _motors(facts, ahead)]
    if facts.engineered:
        conditions.append(_engineered(facts, ahead))
    elif facts.ahead_new:
        text = f"The series rating of {name} holds only if {ahead}, which is new, is the device it was tested with."
        conditions.append(Condition("judge", text))
    lines.append(
        looked_up(
            "Series rating",
            facts.rating.value,
            "A",
            "engineer's documents" if facts.engineered else "label of the equipment",
        )
    )
    check = (
        f"Label on the equipment: series combination of {name} behind {ahead}, and that {ahead} is the device it names."
    )
    if facts.engineered:
        check = (
            f"Documents of the series rating of {name} with an engineer's stamp, its label, and that {ahead} is the device "
            "they name."
        )
    failing = any(c.state == "fail" for c in conditions)
    return judged(
        "FLT-4", fault.subject, edition, conditions, work=(*lines, *note_lines(fault.notes)), others=(facts.ahead.id,),
        remedy=f"Fit a device that interrupts at least {at_least_ka(duty)} by itself." if failing else "",
        field_checks=(check,),
    )  # fmt: skip


def _engineered(facts: SeriesFacts, ahead: str) -> Condition:
    """A combination selected by an engineer: only for what was there already, the lower device passive while the other
    opens (240.86(A))."""
    name = facts.fault.who
    if facts.own_new:
        text = f"The series rating of {name}, which is new, is an engineered one: only existing installations may have those."
        return Condition("fail", text, must="interrupt what is available by itself, or by a tested combination")
    text = (
        f"The series rating of {name} behind {ahead} is an engineered one: stamped documents on site, {name} shown to stay "
        f"closed while {ahead} opens, and a label are for the authority."
    )
    return Condition("judge", text)


def _series_sentence(facts: SeriesFacts, ahead: str, duty: Fact) -> str:
    name, words = facts.fault.who, compared_ka(facts.rating, duty)
    if words is not None:
        return f"{name} behind {ahead} has a series rating of {words.value}, {words.gap} the {words.limit} available there."
    rating = f" ({kiloamperes(facts.rating.value)})" if facts.rating.value is not None else ""
    known = kiloamperes(duty.value) if duty.value is not None else ka_bounds(duty)
    more = f": {known} is available there" if known else ""
    return f"Whether the series rating of {name} behind {ahead}{rating} is enough is not known yet{more}."


def _motors(facts: SeriesFacts, ahead: str) -> Condition:
    rating, name = facts.fault.rating, facts.fault.who
    limit = Fact(
        None if rating.value is None else motor_limit_a(rating.value),
        basis=rating.basis,
        need=rating.need,
        name=rating.name,
    )
    share = f"{tables.limit_value('series_rating_motor_pct'):g} % of its interrupting rating"
    words = compared(facts.motors_a, limit, most=True)
    text = f"Whether {name} has few enough motors between it and {ahead} is not known yet: at most {share}."
    if words is not None:
        text = f"{name} has motors of {words.value} between it and {ahead}, {words.gap} the {words.limit} allowed, {share}."
    return at_most(facts.motors_a, limit, text, must=f"have motors of at most {share} behind {ahead}")
