"""Overcurrent protection at the service (230.90 to 230.94) and reduction of the arcing energy of large devices (240.87,
240.67)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from oneline import tables
from oneline.rules.common import (
    Condition,
    Fact,
    Subject,
    amperes,
    compare_at_least,
    judged,
    listed,
    looked_up,
    number,
    rated,
    section,
    verdict,
)
from oneline.rules.verdict import Verdict

#: Part of the rule in edition_starts.csv: fuses as well as breakers.
_FUSES = "arc_energy_fuses"


def service_overcurrent(
    switch: Subject, edition: int, protects: bool, next_devices: Sequence[tuple[Subject, float | None]], service: str
) -> Verdict:
    """SVC-5: a service disconnect is the overcurrent device itself or has it immediately beside it (230.90, 230.91).

    ``protects``: the disconnect is a breaker or has fuses. ``next_devices``: overcurrent devices next to it on its load
    side, each with the feet of conductor between (0 bolted, ``None`` not known).
    """
    name = switch.name
    if protects:
        text = f"{name} is service disconnect and overcurrent device of {service} in one."
        return verdict("SVC-5", switch, edition, "pass", text)
    others = tuple(d.id for d, _ in next_devices)
    if not next_devices:
        text = f"{name} opens {service} but does not protect it, and no overcurrent device is drawn behind it."
        need = f"overcurrent device next to {name}"
        return verdict("SVC-5", switch, edition, "unknown", text, needs=(need,))
    names = listed([d.name for d, _ in next_devices])
    if all(feet == 0 for _, feet in next_devices):
        text = f"{name} opens {service} and {names}, immediately beside it, protects."
        return verdict("SVC-5", switch, edition, "pass", text, others=others)
    text = (
        f"{name} opens {service} but its overcurrent device, {names}, is not bolted to it: it belongs in the disconnect "
        "or immediately beside it."
    )
    check = f"How far {names} is from {name}, and whether anything is connected between."
    return verdict("SVC-5", switch, edition, "judge", text, field_checks=(check,), others=others)


# ------------------------------------------------------------------------------------------------ arcing energy
@dataclass(frozen=True)
class ArcFacts:
    """A large breaker or set of fuses. ``rating``: highest trip the breaker can be set or fitted for, or of the fuses
    themselves, which their holder bounds, amperes. ``fuses``: fuses instead of a breaker. ``method``: as in the drawing
    ("none" for none); ``recorded``: its documentation and test are on record. ``clearing_s``: of fuses, at the arcing
    current."""

    subject: Subject
    edition: int
    rating: Fact
    fuses: bool
    method: str | None = None
    recorded: bool | None = None
    clearing_s: float | None = None


def arc_energy(facts: ArcFacts) -> Verdict | None:
    """SVC-8: breakers that can be set to 1200 A and more, and since 2020 fuses from there on, have a way to reduce the
    arcing energy. ``None`` where none is asked for."""
    limit_a = tables.limit_value("arc_energy_device_a")
    if facts.fuses and not tables.applies(_FUSES, facts.edition):
        return None
    state = compare_at_least(facts.rating, Fact(limit_a))
    if state == "fail":
        return None
    cited = section("SVC-8-fuse", facts.edition) if facts.fuses else section("SVC-8", facts.edition)
    known = rated(facts.subject.name, facts.rating)
    lines = (looked_up("Rating", facts.rating.value), looked_up("Asked for from", limit_a, "A", cited))
    if state == "unknown":
        if facts.rating.least is None and facts.rating.most is None:
            # Nothing is known of it: its rating is asked for by the rules that it decides.
            return None
        text = (
            f"Whether {known} needs a way to reduce the arcing energy is not known yet: from {amperes(limit_a)} on "
            f"it does."
        )
        return verdict(
            "SVC-8", facts.subject, facts.edition, "unknown", text, needs=facts.rating.needs, section=cited,
            limit=limit_a, unit="A", relation="at least", work=lines,
        )  # fmt: skip
    condition = _fast_fuse(facts, known) or _method(facts, known)
    remedy = ""
    if condition.state == "fail":
        remedy = (
            "Fit a maintenance switch, zone interlocking or another method of the section, document it and test it."
        )
    return judged("SVC-8", facts.subject, facts.edition, [condition], remedy=remedy, section=cited, work=lines)


def _fast_fuse(facts: ArcFacts, known: str) -> Condition | None:
    """A fuse that clears the arcing current fast enough needs nothing more."""
    if not facts.fuses or facts.clearing_s is None:
        return None
    most = tables.limit_value("arc_energy_fuse_s")
    if facts.clearing_s <= most:
        seconds = number(facts.clearing_s, 3)
        text = f"{known} clears the arcing current in {seconds} s, at most the {number(most, 3)} s allowed."
        return Condition("pass", text)
    return None


def _method(facts: ArcFacts, known: str) -> Condition:
    name = facts.subject.name
    if facts.method is None:
        needs = [f"way of reducing the arcing energy at {name}, with its documentation and test"]
        if facts.fuses:
            needs[0] = f"clearing time of {name} at the arcing current, or its way of reducing the arcing energy"
        text = f"Whether {known} has the way to reduce the arcing energy it needs is not known yet."
        return Condition("unknown", text, needs=tuple(needs))
    if facts.method == "none":
        return Condition("fail", f"{known} needs a way to reduce the arcing energy and has none.")
    if facts.recorded is None:
        text = f"{known} has {facts.method}; whether its documentation and test are on record is not known yet."
        return Condition("unknown", text, needs=(f"record of the arc-energy reduction test of {name}",))
    if not facts.recorded:
        return Condition("fail", f"{known} has {facts.method}, without its documentation and test on record.")
    return Condition("pass", f"{known} has {facts.method} to reduce the arcing energy, documented and tested.")
