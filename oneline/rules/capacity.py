"""Whether a device, bus, conductor or transformer carries the load that is there (rule CAP), and what it leaves."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from oneline.rules.common import (
    Condition,
    Fact,
    Subject,
    amperes,
    at_most,
    bounded_amperes,
    computed,
    listed,
    section,
    unique,
    verdict,
    weakest,
    worst,
)
from oneline.rules.verdict import Verdict, WorkLine

#: Kinds of limits and the rule whose section is cited for each.
KINDS = {
    "device": "CAP-device", "bus": "CAP-bus", "conductor": "CAP-conductor", "transformer": "CAP-transformer",
    "equipment": "CAP-equipment", "generator": "CAP-generator",
}  # fmt: skip


@dataclass(frozen=True)
class CapacityFacts:
    """One limit and the load on it.

    ``kind``: one of KINDS. ``what``: what of the item limits, e.g. "trip". ``rating``: amperes. ``loads``: amperes by
    phase as counted against this kind of limit. ``work``: worksheet of the load. ``assumed``: assumptions in the load.
    """

    subject: Subject
    edition: int
    kind: str
    what: str
    rating: Fact
    loads: Mapping[str, Fact]
    method: str = ""
    work: tuple[WorkLine, ...] = ()
    assumed: tuple[str, ...] = ()


def capacity(facts: CapacityFacts) -> Verdict:
    """CAP: the counted load of every phase against the rating."""
    conditions = {phase: _phase(facts, phase, load) for phase, load in facts.loads.items()}
    state = worst(c.state for c in conditions.values()) if conditions else "unknown"
    phase = _worst_phase(facts, state, conditions)
    load = facts.loads.get(phase, Fact(None))
    needs = unique(n for c in conditions.values() if c.state == "unknown" for n in c.needs)
    if not conditions:
        needs = (f"system and phases at {facts.subject.name}",)
    lines = list(facts.work)
    value = load.value if load.value is not None else load.least
    if facts.rating.least is not None and value is not None:
        lines.append(
            computed(f"Left on phase {phase}", "rating - load", "A", section(KINDS[facts.kind], facts.edition),
                     rating=facts.rating.least, load=value)
        )  # fmt: skip
    message = _message(facts, state, phase, conditions)
    if facts.assumed and state in ("pass", "fail"):
        message += f" (Assumed: {listed(facts.assumed)}.)"
    return verdict(
        "CAP", facts.subject, facts.edition, state, message, section=section(KINDS[facts.kind], facts.edition),
        value=value, limit=facts.rating.value, unit="A", relation="at most", needs=needs if state == "unknown" else (),
        basis=weakest(facts.rating.basis, load.basis, *(["assumed"] if facts.assumed else [])),
        remedy=_remedy(facts) if state == "fail" else "", work=tuple(lines),
    )  # fmt: skip


def _phase(facts: CapacityFacts, phase: str, load: Fact) -> Condition:
    return at_most(load, facts.rating, f"Phase {phase}: {amperes(load.value)} of {amperes(facts.rating.value)}.")


def _worst_phase(facts: CapacityFacts, state: str, conditions: Mapping[str, Condition]) -> str:
    """The phase that decides: the one with the largest load among those of the deciding state."""
    deciding = [p for p, c in conditions.items() if c.state == state]
    return max(deciding, key=lambda p: facts.loads[p].least or 0.0, default="")


def _message(facts: CapacityFacts, state: str, phase: str, conditions: Mapping[str, Condition]) -> str:
    name, what = facts.subject.name, facts.what
    rating, load = facts.rating, facts.loads.get(phase, Fact(None))
    if state == "fail":
        over = (load.least or 0.0) - (rating.most or 0.0)
        more = "" if load.value is not None and rating.value is not None else "at least "
        return (
            f"{name} is over by {more}{amperes(over)} on phase {phase}: {amperes(load.least)} counted, "
            f"{what} {amperes(rating.most)}. {facts.method}."
        )
    if state == "pass":
        if load.value is not None and rating.value is not None:
            left = rating.value - load.value
            rated = amperes(rating.value)
            return f"{name} has {amperes(left)} left on phase {phase}: {amperes(load.value)} of {what} {rated}."
        most, least = load.most or 0.0, rating.least or 0.0
        return f"{name} has at least {amperes(least - most)} left on phase {phase}, {what} {amperes(least)}."
    if rating.most is not None and load.least is not None:
        return (
            f"At most {amperes(rating.most - load.least)} left at {name} on phase {phase}: {amperes(load.least)} is known "
            f"so far, {what} {bounded_amperes(rating)}."
        )
    return f"Whether {name} carries its load is not known: {what} {bounded_amperes(rating)}."


def _remedy(facts: CapacityFacts) -> str:
    if facts.kind in ("bus", "conductor", "transformer", "generator"):
        return f"Move load off {facts.subject.name}, balance its phases, or replace it with a larger one."
    return (
        f"Move load off {facts.subject.name} or balance its phases; a larger rating only where conductors and buses "
        "behind it allow it."
    )
