"""Ground-fault protection of equipment: large disconnects on solidly grounded wyes (230.95, 215.10, 240.13; SVC-7)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from oneline import tables
from oneline.rules.common import (
    Condition,
    Fact,
    Subject,
    amperes,
    difference,
    judged,
    listed,
    looked_up,
    number,
    quantity,
    rated,
    section,
    verdict,
)
from oneline.rules.verdict import Verdict, WorkLine


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
    #: What exempts it: a word of ``model.vocabulary.GROUND_FAULT_EXEMPTIONS``, ``None`` for nothing entered.
    exempt: str | None = None
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
    exempt = _exempt(facts, known, lines, more)
    if exempt is not None:
        return exempt
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


def _exempt(
    facts: GroundFaultFacts, known: str, lines: tuple[WorkLine, ...], more: dict[str, Any]
) -> Verdict | None:  # fmt: skip
    """What is said of a disconnect that one of the exceptions is entered for; ``None`` without one, or with protection."""
    name = facts.subject.name
    if facts.fitted or facts.exempt in (None, "none"):
        return None
    if facts.exempt == "fire pump":
        text = f"{known} serves a fire pump, of which no ground-fault protection of equipment is asked."
        return verdict("SVC-7", facts.subject, facts.edition, "not_applicable", text, work=lines, **more)
    if facts.exempt == "continuous industrial process":
        text = (
            f"{known} has no ground-fault protection of equipment, being entered as for a continuous industrial process: "
            f"only where stopping it out of order adds hazards of its own."
        )
        check = f"Process behind {name}: what an unplanned stop does, in writing, and that the authority accepts it."
    else:
        text = (
            f"{known} needs no ground-fault protection that opens it, as emergency or legally required power, but an "
            "indication of a ground fault."
        )
        check = f"Ground-fault indication of {name}, with instructions at the sensor."
    return verdict(
        "SVC-7", facts.subject, facts.edition, "judge", text, work=lines, field_checks=(check,),
        **{**more, "section": section("SVC-7-exempt", facts.edition)},
    )  # fmt: skip


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
        remedy = "Fit it, set it and have it tested; enter it where one of the exceptions applies."
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
