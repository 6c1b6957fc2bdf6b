"""Interrupting, withstand and voltage ratings against the available fault current and the system (110.9, 110.10, 240.83 to
240.86), and the markings that carry the figure.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import e, exp, pi

from oneline import tables
from oneline.rules.common import (
    Condition,
    Fact,
    Subject,
    at_most,
    computed,
    judged,
    listed,
    looked_up,
    number,
    section,
    verdict,
)
from oneline.rules.verdict import Verdict, WorkLine

#: First edition in which panels are marked with the fault current, and with their rating as it was worked out.
_PANEL_MARK_SINCE = 2020
_PANEL_RATING_MARK_SINCE = 2026


@dataclass(frozen=True)
class FaultFacts:
    """A device or piece of equipment and the fault current it has to deal with.

    ``rating``: amperes; ``what``: which rating. ``duty``: available fault current in amperes from impedances, with what
    motors and inverters add; bounds where it is not known. ``hand_a``: the point-to-point value with the same additions.
    ``x_r``: X/R of the fault; ``test_x_r``: of the device's test, ``None`` where no correction is asked for.
    """

    subject: Subject
    edition: int
    rating: Fact
    what: str
    duty: Fact
    hand_a: float | None = None
    x_r: float | None = None
    test_x_r: float | None = None
    notes: tuple[str, ...] = ()


def asymmetry_factor(x_r: float | None, test_x_r: float | None) -> float:
    """How much harder a fault of this X/R is than the device's test (FLT-10), never below 1; the worst when X/R is not
    known. 1 where no correction is asked for."""
    if test_x_r is None:
        return 1.0
    own = 1.0 if x_r is None else exp(-pi / x_r) if x_r > 0 else 0.0
    return max(1.0, (1 + own) / (1 + exp(-pi / test_x_r)))


def _duty(facts: FaultFacts) -> tuple[Fact, list[WorkLine]]:
    """Duty in amperes: the larger of the value from impedances and the hand value, corrected for X/R."""
    factor = asymmetry_factor(facts.x_r, facts.test_x_r)
    lines = [
        looked_up("Available fault current, from impedances", facts.duty.value, "A", section("FLT-6", facts.edition))
    ]
    value = facts.duty.value
    if facts.hand_a is not None:
        lines.append(looked_up("Available fault current, by hand", facts.hand_a, "A", section("FLT-7", facts.edition)))
        value = None if value is None else max(value, facts.hand_a)
    if factor > 1.0 and value is not None and facts.test_x_r is not None and facts.x_r is not None:
        lines.append(
            computed(
                "Corrected for X/R", "duty * (1 + e ** (-pi / circuit)) / (1 + e ** (-pi / test))", "A",
                section("FLT-10", facts.edition), duty=value, e=e, pi=pi, circuit=facts.x_r, test=facts.test_x_r,
            )
        )  # fmt: skip
    high = facts.duty.most
    if facts.hand_a is not None and high is not None:
        high = max(high, facts.hand_a)
    low = value if value is not None else facts.duty.low
    needs = facts.duty.needs
    corrected: float | None = None
    if value is not None and (facts.x_r is not None or facts.test_x_r is None):
        corrected = value * factor
        low = corrected
    elif value is not None:
        needs = (f"X/R of the fault at {facts.subject.name}",)
    need, *also = needs or ("",)
    duty = Fact(
        corrected, low, None if high is None else high * factor, facts.duty.basis, need, facts.duty.name,
        facts.duty.assumed, tuple(also),
    )  # fmt: skip
    return duty, lines


def interrupting(facts: FaultFacts) -> Verdict:
    """FLT-1: interrupting rating of an overcurrent device at its line terminals."""
    return _compare("FLT-1", facts, "Interrupting rating", _interrupting_remedy(facts))


def withstand(facts: FaultFacts) -> Verdict:
    """FLT-2: short-circuit current rating of a bus, switch or transfer switch."""
    remedy = (
        "Equipment with a sufficient short-circuit current rating, a listed combination with the device ahead, or a "
        "current-limiting device that its listing names."
    )
    return _compare("FLT-2", facts, "Short-circuit current rating", remedy)


def _interrupting_remedy(facts: FaultFacts) -> str:
    return (
        f"A fully rated device in place of {facts.subject.name}, a tested series combination marked on the equipment, or "
        "a current-limiting fused switch ahead that the listing names. A longer feeder is no repair."
    )


def _compare(rule: str, facts: FaultFacts, what: str, remedy: str) -> Verdict:
    duty, lines = _duty(facts)
    lines.append(looked_up(what, facts.rating.value, "A", "label"))
    condition = at_most(duty, facts.rating, _sentence(facts, duty))
    extra = ""
    straddles = (
        condition.state == "fail" and facts.hand_a is not None and facts.duty.value is not None
        and facts.rating.value is not None
        and min(facts.hand_a, facts.duty.value) <= facts.rating.value < max(facts.hand_a, facts.duty.value)
    )  # fmt: skip
    if straddles:
        extra = " The two methods fall on either side of the rating; the higher one counts."
    condition = replace(condition, message=condition.message + extra)
    return judged(
        rule, facts.subject, facts.edition, [condition], work=tuple(lines),
        remedy=remedy if condition.state == "fail" else "",
    )  # fmt: skip


def _sentence(facts: FaultFacts, duty: Fact) -> str:
    name, rated = facts.subject.name, kiloamperes(facts.rating.value)
    corrected = asymmetry_factor(facts.x_r, facts.test_x_r) > 1
    if facts.duty.value is None:
        available = _available(duty)
    else:
        available = f"Available {kiloamperes(facts.duty.value)}"
        if facts.hand_a is not None and facts.hand_a > facts.duty.value:
            available += f", {kiloamperes(facts.hand_a)} by hand"
        if corrected and duty.value is not None:
            available += f", {kiloamperes(duty.value)} corrected for X/R"
        elif corrected:
            available += f", up to {kiloamperes(duty.high)} with the correction for X/R"
    return f"{available} at {name}, {facts.what} {rated}."


def kiloamperes(amperes: float | None) -> str:
    """ "31.4 kA"; "not known"."""
    return "not known" if amperes is None else f"{number(amperes / 1000, 2)} kA"


# ------------------------------------------------------------------------------------------------ series ratings
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


def motor_limit_a(interrupting_a: float) -> float:
    """Largest full-load current of motors between the devices of a series combination, amperes (240.86(C))."""
    return interrupting_a * tables.limit_value("series_rating_motor_pct") / 100


def series(facts: SeriesFacts) -> Verdict:
    """FLT-4: a tested series combination carries a device that is rated below the available fault current."""
    fault = facts.fault
    name, edition = fault.subject.name, fault.edition
    if facts.ahead is None:
        message = f"{name} is marked for a series rating with {facts.declared}, which is not on its way to the source."
        remedy = f"Find the device ahead of {name} and read the combination on the panel's label."
        return verdict("FLT-4", fault.subject, edition, "fail", message, remedy=remedy)
    duty, lines = _duty(fault)
    pair = f"{name} behind {facts.ahead.name}"
    conditions = [
        at_most(duty, facts.rating,
                f"{_available(duty)} at {name}, series rating behind {facts.ahead.name} {kiloamperes(facts.rating.value)}."),
        _motors(facts),
    ]  # fmt: skip
    if facts.ahead_new:
        conditions.append(
            Condition(
                "judge", f"{facts.ahead.name} is new: the tested combination names the device it was tested with."
            )
        )
    lines.append(looked_up("Series rating", facts.rating.value, "A", "label of the equipment"))
    check = f"Label on the equipment: series combination of {pair}, and that {facts.ahead.name} is the device it names."
    return judged(
        "FLT-4", fault.subject, edition, conditions, work=tuple(lines), others=(facts.ahead.id,), field_checks=(check,)
    )


def _available(duty: Fact) -> str:
    if duty.value is not None:
        return f"Available {kiloamperes(duty.value)}"
    return "Available fault current not known" if duty.high is None else f"Available at most {kiloamperes(duty.high)}"


def _motors(facts: SeriesFacts) -> Condition:
    rating = facts.fault.rating
    limit = Fact(
        None if rating.value is None else motor_limit_a(rating.value),
        basis=rating.basis,
        need=rating.need,
        name=rating.name,
    )
    motors = facts.motors_a
    shown = "not known" if motors.value is None else f"{number(motors.value)} A"
    text = (
        f"Motors between the two devices {shown}; at most {tables.limit_value('series_rating_motor_pct'):g} % of "
        f"{facts.fault.subject.name}'s own rating."
    )
    return at_most(motors, limit, text)


# ----------------------------------------------------------------------------------------------- voltage ratings
@dataclass(frozen=True)
class VoltageFacts:
    """A device's voltage rating and where it is used. ``marked``: e.g. "480Y/277", "240"; ``None`` unknown.

    ``single_pole``: used line to neutral. ``high_leg``: one of its poles is on the high leg (``None``: may be).
    """

    subject: Subject
    edition: int
    system: str | None
    marked: str | None
    single_pole: bool = False
    high_leg: bool | None = False


def rated_volts(marked: str) -> tuple[float, float | None]:
    """Volts line to line of a rating, and to ground where it is a slash rating ("120/240" and "480Y/277" alike)."""
    parts = sorted((float(p) for p in marked.replace("Y", "").split("/")), reverse=True)
    return parts[0], parts[1] if len(parts) > 1 else None


def voltage_rating(facts: VoltageFacts) -> Verdict:
    """FLT-3: straight ratings wherever a pole can see more than the lower value of a slash rating."""
    name = facts.subject.name
    if facts.system is None or facts.marked is None:
        needs = []
        if facts.marked is None:
            needs.append(f"voltage rating on {name}")
        if facts.system is None:
            needs.append(f"system at {name}")
        text = f"Whether the voltage rating of {name} fits is not known yet."
        return verdict("FLT-3", facts.subject, facts.edition, "unknown", text, needs=tuple(needs))
    conditions = _voltage_conditions(facts, facts.system, facts.marked)
    sees = listed([f"{number(c.value)} V {where}" for c, where in zip(conditions, _WHERE, strict=False) if c.value])
    pass_message = f"{name} is rated {facts.marked} V and sees {sees} on {facts.system}."
    return judged("FLT-3", facts.subject, facts.edition, conditions, pass_message=pass_message)


_WHERE = ("across it", "to ground")


def _voltage_conditions(facts: VoltageFacts, code: str, marked: str) -> list[Condition]:
    system, name = tables.system(code), facts.subject.name
    high, to_ground = rated_volts(marked)
    across = system.v_ln if facts.single_pole and system.v_ln else system.v_ll
    if facts.single_pole and facts.high_leg and system.v_high_leg:
        across = system.v_high_leg
    text = f"{name} is rated {marked} V; {number(across)} V across it on {code}."
    conditions = [Condition("pass" if across <= high else "fail", text, across, high, "V", "at most")]
    if to_ground is None:
        return conditions
    grounded = system.grounding in ("neutral", "midpoint")
    ground_v = system.v_ln if grounded and system.v_ln else system.v_to_ground
    if not grounded:
        why = f"{code} has no grounded neutral: a pole can see {number(system.v_to_ground)} V to ground."
        conditions.append(Condition("fail", f"{name} has a slash rating of {marked} V. {why}", system.v_to_ground, to_ground,
                                    "V", "at most"))  # fmt: skip
        return conditions
    if system.v_high_leg and facts.high_leg is None:
        conditions.append(
            Condition("unknown", f"{name} has a slash rating; whether one of its poles is on the high leg is not known.",
                      needs=(f"phases of {name} (is it on the high leg?)",))
        )  # fmt: skip
        return conditions
    if system.v_high_leg and facts.high_leg:
        ground_v = system.v_high_leg
    text = f"{name} is rated {marked} V; {number(ground_v)} V to ground."
    conditions.append(Condition("pass" if ground_v <= to_ground else "fail", text, ground_v, to_ground, "V", "at most"))
    return conditions


# ------------------------------------------------------------------------------------------------------- markings
def service_marking(device: Subject, edition: int, duty: Fact, notes: Sequence[str] = ()) -> Verdict:
    """FLT-5: the figure that the field marking of service equipment carries."""
    text = f"Mark {device.name} with the available fault current and the date of its calculation"
    return _marking("FLT-5", device, edition, text, duty, notes)


def panel_marking(panel: Subject, edition: int, duty: Fact, notes: Sequence[str] = ()) -> Verdict:
    """PNL-6: the figure that panels and switchboards are marked with since 2020."""
    if edition < _PANEL_MARK_SINCE:
        text = f"The {edition} edition asks for no fault current marking on {panel.name}."
        return verdict("PNL-6", panel, edition, "not_applicable", text)
    text = f"Mark {panel.name} with the available fault current and the date of its calculation"
    if edition >= _PANEL_RATING_MARK_SINCE:
        text += ", and with its short-circuit current rating as its devices make it"
    return _marking("PNL-6", panel, edition, text, duty, notes)


def _marking(rule: str, subject: Subject, edition: int, text: str, duty: Fact, notes: Sequence[str]) -> Verdict:
    if duty.value is not None:
        text += f": {kiloamperes(duty.value)}."
    elif duty.high is not None:
        text += f": not known yet, at most {kiloamperes(duty.high)}."
    else:
        text += ": not known yet."
    if duty.assumptions and duty.value is not None:
        text += f" (Assumed: {listed(duty.assumptions)}.)"
    return verdict(
        rule, subject, edition, "advice", text, value=duty.value, unit="A", basis=duty.basis, needs=duty.needs,
        work=tuple(looked_up(note, None, "") for note in notes),
    )  # fmt: skip
