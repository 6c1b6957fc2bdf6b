"""Systems that need care: high-leg delta, corner-grounded, ungrounded, and systems whose grounding changes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

from oneline import tables
from oneline.rules.common import (
    Condition,
    Fact,
    Subject,
    at_most,
    compared,
    computed,
    judged,
    listed,
    looked_up,
    number,
    scaled,
    section,
    verdict,
)
from oneline.rules.verdict import Verdict, WorkLine

#: The high leg of a four-wire delta by 408.3(E).
HIGH_LEG = "B"


# --------------------------------------------------------------------------------------------------- high leg (HL-1)
@dataclass(frozen=True)
class HighLegFacts:
    """A panel or switchboard on a four-wire delta. ``measured``: phase that the high leg was measured on, "" not measured;
    ``identified``: its conductor orange or tagged; ``marked``: the equipment marked for it. ``code``: of the system."""

    subject: Subject
    edition: int
    code: str
    measured: str
    identified: bool | None
    marked: bool | None


def high_leg_equipment(facts: HighLegFacts) -> Verdict:
    """HL-1: the high leg on phase B, its conductor identified, the equipment marked."""
    name = facts.subject.name
    volts = number(tables.system(facts.code).v_high_leg or 0.0)
    conditions: list[Condition] = []
    if not facts.measured:
        need = f"on which phase of {name} the high leg is, every phase to neutral measured"
        text = f"On which phase of {name} the high leg is, {volts} V to neutral, is not known yet: it should be {HIGH_LEG}."
        conditions.append(Condition("unknown", text, needs=(need,)))
    elif facts.measured == HIGH_LEG:
        text = f"The high leg of {name}, {volts} V to neutral, is on {HIGH_LEG} as it should be."
        conditions.append(Condition("pass", text))
    else:
        text = (
            f"The high leg of {name}, {volts} V to neutral, was measured on {facts.measured}: it belongs on {HIGH_LEG}, "
            f"except in a utility's metering section."
        )
        conditions.append(Condition("fail", text, must=f"have its high leg on {HIGH_LEG}"))
    conditions.append(
        _told(
            facts.identified, f"The high-leg conductor in {name} is orange or tagged.",
            f"The high-leg conductor in {name} is not orange nor tagged.", "have its high-leg conductor orange or tagged",
            f"color or tag of the high-leg conductor in {name}",
        )
    )  # fmt: skip
    conditions.append(
        _told(
            facts.marked, f"{name} is marked for its high leg.", f"{name} is not marked for its high leg.",
            "be marked with the phase and voltage of its high leg", f"marking of the high leg on {name}",
        )
    )  # fmt: skip
    musts = tuple(c.must for c in conditions if c.state == "fail")
    check = f"Breakers on the high leg of {name}: straight-rated, or rated for its voltage to ground."
    return judged(
        "HL-1", facts.subject, facts.edition, conditions, field_checks=(check,),
        remedy=f"{name} must {listed(musts)}." if musts else "",
    )  # fmt: skip


def _told(state: bool | None, yes: str, no: str, must: str, need: str) -> Condition:
    if state is None:
        return Condition("unknown", f"{yes.removesuffix('.')}: not known yet.", needs=(need,), must=must)
    return Condition("pass" if state else "fail", yes if state else no, must=must)


def load_on_high_leg(load: Subject, edition: int, code: str, phase: str) -> Verdict:
    """HL-1: a drawn load line to neutral on the high leg."""
    volts = number(tables.system(code).v_high_leg or 0.0)
    text = f"{load.name} is connected from {phase}, the high leg, to neutral: it sees {volts} V."
    remedy = "Connect it to one of the other two phases, and measure every phase to neutral first."
    return verdict("HL-1", load, edition, "fail", text, remedy=remedy)


# ------------------------------------------------------------------------------------------- corner-grounded (CG-1)
def fuse_in_grounded_phase(
    device: Subject, edition: int, solid: bool | None, all_poles: bool | None, motors_only: bool
) -> Verdict:
    """CG-1: no fuse in the grounded phase, but where fuses are the overload protection of a motor (430.36).

    ``solid``: a solid link where the grounded phase passes. ``all_poles``: the device has a pole in every phase, ``None``
    not known. ``motors_only``: all it feeds is motors.
    """
    name = device.name
    cited = section("CG-1-fuse", edition)
    if solid or all_poles is False:
        text = f"{name} has no fuse in the grounded phase."
        return verdict("CG-1", device, edition, "pass", text, section=cited)
    if motors_only:
        text = f"{name} feeds motors only, whose overload fuses may be in the grounded phase too. Other fuses may not."
        return verdict("CG-1", device, edition, "judge", text, section=cited)
    if solid is None:
        text = f"Whether {name} has a fuse in the grounded phase, where none may be, is not known yet."
        needs = (f"which phase is grounded at {name}, and whether it has a fuse or a solid link there",)
        return verdict("CG-1", device, edition, "unknown", text, needs=needs, section=cited)
    text = f"{name} has a fuse in the grounded phase: when it opens alone, a live conductor is left that passes for grounded."
    remedy = "Fit a solid link in the grounded phase, or a breaker that opens all phases together."
    return verdict("CG-1", device, edition, "fail", text, remedy=remedy, section=cited)


def without_neutral(panel: Subject, edition: int, labels: Sequence[str], grounding: str, rule: str) -> Verdict | None:
    """CG-1, UG-1: no load line to neutral where the system has no neutral. ``labels``: single-pole circuits and loads.
    ``grounding``: "corner" or "ungrounded"."""
    if not labels:
        return None
    kind = "a corner-grounded" if grounding == "corner" else "an ungrounded"
    text = listed(tuple(labels))
    one = len(labels) == 1
    has = "has" if one else "have"
    on = "" if labels[0] == panel.name else f" on {panel.name}"
    said = f"{text[:1].upper()}{text[1:]} {has} one pole{on}, {kind} system without a neutral."
    remedy = "Two-pole devices between two phases, or a transformer with a neutral for loads that need one."
    return verdict(rule, panel, edition, "fail", said, remedy=remedy)


def corner_grounded_note(panel: Subject, edition: int, measured: str) -> Verdict:
    """CG-1: what whoever works on a corner-grounded system has to know. ``measured``: the grounded phase, "" not known."""
    phase = f"phase {measured}" if measured else "one phase"
    text = (
        f"{panel.name} is corner-grounded: {phase} reads nothing to ground while it is live. Test between phases, never to "
        f"ground alone."
    )
    check = f"The grounded phase of {panel.name} is white or gray, or marked so, all the way."
    needs = () if measured else (f"which phase is grounded at {panel.name}, measured",)
    return verdict("CG-1", panel, edition, "advice", text, needs=needs, field_checks=(check,))


@dataclass(frozen=True)
class PoleFacts:
    """A breaker on a system where one pole alone may have to clear a fault at full line voltage. ``duty``: three-phase fault
    current at its line terminals, amperes; ``rating``: interrupting rating, amperes; ``one_pole``: single-pole rating by
    the maker, amperes."""

    subject: Subject
    edition: int
    grounding: str
    duty: Fact
    rating: Fact
    one_pole: Fact
    #: What the pole is of, where it is not the subject itself: "the breakers in Panel 1".
    of: str = ""


def single_pole_duty(facts: PoleFacts) -> Verdict:
    """FLT-11: on corner-grounded systems one pole clears a phase-to-ground fault alone, at line-to-line voltage.

    Its current is that of a fault between two phases, √3/2 of the three-phase one. The maker's single-pole rating decides;
    without it 87 % of the interrupting rating is the most that can be counted on, and the maker has to confirm it.
    """
    name = facts.of or facts.subject.name
    pole = scaled(facts.duty, sqrt(3) / 2)
    share = tables.limit_value("corner_grounded_pole_pct")
    known = facts.one_pole.value is not None
    limit = facts.one_pole if known else scaled(facts.rating, share / 100)
    words = compared(scaled(pole, 1e-3), scaled(limit, 1e-3), "above", "inside", "kA", most=True)
    what = "its single-pole interrupting rating" if known else f"{number(share)} % of its interrupting rating"
    text = f"Whether one pole of {name} can clear a fault to ground alone is not known yet: {what} decides."
    if words is not None:
        text = f"One pole of {name} has to clear {words.value} alone, {words.gap} the {words.limit} of {what}."
    condition = at_most(pole, limit, text)
    lines = (
        looked_up("Fault current, three-phase", facts.duty.value, "A"),
        *_pole_lines(facts, limit),
    )
    conditions = [condition]
    if condition.state == "pass" and not known:
        need = f"single-pole interrupting rating of {name}, from its maker"
        said = f"{text} Its maker has to confirm that."
        conditions = [Condition("judge", said, condition.value, condition.limit, "A", "at most", (need,))]
    remedy = (
        "Fit a breaker whose maker gives a single-pole rating for this system." if condition.state == "fail" else ""
    )
    return judged("FLT-11", facts.subject, facts.edition, conditions, work=lines, remedy=remedy)


def _pole_lines(facts: PoleFacts, limit: Fact) -> tuple[WorkLine, ...]:
    cited = section("FLT-11", facts.edition)
    found: list[WorkLine] = []
    if facts.duty.value is not None:
        found.append(computed("One pole alone", "duty_a * sqrt(3) / 2", duty_a=facts.duty.value))
    if facts.one_pole.value is not None or facts.rating.value is None:
        found.append(looked_up("Single-pole rating", limit.value, "A", "maker"))
    else:
        share = tables.limit_value("corner_grounded_pole_pct")
        found.append(
            computed("Counted on for one pole", "rating_a * percent / 100", source=cited, rating_a=facts.rating.value,
                     percent=share)
        )  # fmt: skip
    return tuple(found)


# ------------------------------------------------------------------------------------------ ungrounded (GND-8, UG-1)
@dataclass(frozen=True)
class UngroundedFacts:
    """An ungrounded system: its source, and the panels and switchboards on it with their detector and marking.

    ``lamps``: equipment with what its detector shows; ``grounded``: equipment at which a phase was measured at ground, with
    the phase. ``code``: of the system.
    """

    source: Subject
    edition: int
    code: str
    detectors: tuple[tuple[Subject, bool | None], ...]
    marked: tuple[tuple[Subject, bool | None], ...]
    lamps: tuple[tuple[Subject, str], ...] = ()
    grounded: tuple[tuple[Subject, str], ...] = ()


def ground_detectors(facts: UngroundedFacts) -> Verdict:
    """GND-8: ground detectors on ungrounded systems of 120 V to 1000 V, and equipment marked as ungrounded."""
    name = facts.source.name
    system = tables.system(facts.code)
    others = tuple(s.id for s, _ in facts.detectors)
    if not tables.limit_value("detector_from_v") <= system.v_ll <= tables.limit_value("detector_to_v"):
        text = f"{name} needs no ground detector at {number(system.v_ll)} V."
        return verdict("GND-8", facts.source, facts.edition, "not_applicable", text, others=others)
    fitted = [s.name for s, state in facts.detectors if state]
    conditions: list[Condition] = []
    if fitted:
        text = f"The ungrounded system of {name} has a ground detector at {listed(tuple(fitted))}."
        conditions.append(Condition("pass", text))
    elif facts.detectors and all(state is False for _, state in facts.detectors):
        text = f"The ungrounded system of {name}, {number(system.v_ll)} V, has no ground detector and needs one."
        conditions.append(Condition("fail", text, must="have a ground detector as near the supply as practicable"))
    else:
        text = f"Whether the ungrounded system of {name} has the ground detector it needs is not known yet."
        need = f"ground detector on the system of {name}, as near the supply as practicable"
        conditions.append(Condition("unknown", text, needs=(need,)))
    unmarked = [s.name for s, state in facts.marked if state is False]
    unseen = [s.name for s, state in facts.marked if state is None]
    if unmarked:
        text = f"{listed(tuple(unmarked))} {'is' if len(unmarked) == 1 else 'are'} not marked as ungrounded."
        conditions.append(Condition("fail", text, must=f"be marked as ungrounded at {listed(tuple(unmarked))}"))
    elif unseen:
        text = f"Whether the equipment on the ungrounded system of {name} is marked as ungrounded is not known yet."
        conditions.append(Condition("unknown", text, needs=(f"marking as ungrounded on {listed(tuple(unseen))}",)))
    musts = tuple(c.must for c in conditions if c.state == "fail")
    remedy = f"The system must {listed(musts)}." if musts else ""
    return judged("GND-8", facts.source, facts.edition, conditions, others=others, remedy=remedy)


def first_ground_fault(facts: UngroundedFacts) -> Verdict:
    """UG-1: what the detector or a measurement shows. One phase at ground is the first fault; a second one on another phase
    is a short circuit between phases."""
    name = facts.source.name
    second = "A second ground fault, on another phase, is a short circuit between phases."
    dark = [(s, lamps[0]) for s, lamps in facts.lamps if lamps.endswith("dark")]
    found = [*dark, *facts.grounded]
    others = tuple(dict.fromkeys(s.id for s, _ in (*facts.lamps, *facts.grounded)))
    if found:
        where, phase = found[0]
        how = "by its detector" if dark else "as measured"
        text = f"Phase {phase} of the ungrounded system of {name} is at ground, {how} at {where.name}. {second}"
        remedy = "Find and clear the ground fault before any work on this system."
        return verdict("UG-1", facts.source, facts.edition, "fail", text, remedy=remedy, others=others)
    healthy = [s.name for s, lamps in facts.lamps if lamps == "all alike"]
    shows = f"The detector at {healthy[0]} shows no phase at ground. " if healthy else ""
    text = f"{shows}{name} feeds an ungrounded system. {second}"
    check = (
        "Each phase to ground: about alike when healthy; one near nothing and the others at line voltage is a fault."
    )
    return verdict("UG-1", facts.source, facts.edition, "advice", text, others=others, field_checks=(check,))


# ---------------------------------------------------------------------------------------------- re-grounding (ISO-1)
def regrounded(
    equipment: Subject, edition: int, before: str, after: str, others: Sequence[str], source: str
) -> Verdict:
    """ISO-1: existing equipment comes onto a system with another kind of grounding. ``before``, ``after``: system codes;
    ``others``: further equipment."""
    now, then = tables.system(after).title, tables.system(before).title
    more = f" and {len(others)} more" if others else ""
    text = (
        f"{equipment.name}{more} would change from {then} to {now}, fed by {source}: changing how a system is grounded is "
        f"an engineer's work."
    )
    check = "Ratings of every breaker, bonds, ground-fault protection, and loads line to ground, before the change."
    return verdict("ISO-1", equipment, edition, "judge", text, field_checks=(check,), others=tuple(others))
