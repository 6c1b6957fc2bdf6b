"""Interrupting, withstand and voltage ratings against the available fault current and the system (110.9, 110.10, 240.83 to
240.86), and the markings that carry the figure.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import ceil, e, exp, pi

from oneline import tables
from oneline.rules.common import (
    Compared,
    Condition,
    Fact,
    Subject,
    assumption_lines,
    at_most,
    bounds,
    compared,
    computed,
    difference,
    judged,
    listed,
    looked_up,
    number,
    quantity,
    scaled,
    section,
    sentences,
    verdict,
    with_assumptions,
)
from oneline.rules.verdict import Verdict, WorkLine

_BY_HAND = "the point-to-point method"
#: How a fault current was counted where there was a choice; or what tells it when somebody looks.
Notes = Sequence[str] | Callable[[], Sequence[str]]


@dataclass(frozen=True)
class FaultFacts:
    """A device or piece of equipment and the fault current it has to deal with.

    ``rating``: amperes; ``what``: which rating. ``duty``: available fault current in amperes from impedances, with what
    motors and inverters add; bounds where it is not known. ``hand_a``: the point-to-point value with the same additions.
    ``on``: the source that gives it, where it is not the normal one (" on Generator 1").
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
    notes: Notes = ()
    on: str = ""


def asymmetry_factor(x_r: float | None, test_x_r: float | None) -> float:
    """How much harder a fault of this X/R is than the device's test (FLT-10), never below 1; the worst when X/R is not
    known. 1 where no correction is asked for."""
    if test_x_r is None:
        return 1.0
    own = 1.0 if x_r is None else exp(-pi / x_r) if x_r > 0 else 0.0
    return max(1.0, (1 + own) / (1 + exp(-pi / test_x_r)))


def _duty_lines(facts: FaultFacts) -> list[WorkLine]:
    """Worksheet of :func:`_duty`."""
    value = facts.duty.value
    lines = [looked_up("Available fault current, from impedances", value, "A", section("FLT-6", facts.edition))]
    if facts.hand_a is not None:
        lines.append(looked_up("Available fault current, by hand", facts.hand_a, "A", section("FLT-7", facts.edition)))
        value = None if value is None else max(value, facts.hand_a)
    factor = asymmetry_factor(facts.x_r, facts.test_x_r)
    if factor > 1.0 and value is not None and facts.test_x_r is not None and facts.x_r is not None:
        lines.append(
            computed(
                "Corrected for X/R", "duty * (1 + e ** (-pi / circuit)) / (1 + e ** (-pi / test))", "A",
                section("FLT-10", facts.edition), duty=value, e=e, pi=pi, circuit=facts.x_r, test=facts.test_x_r,
            )
        )  # fmt: skip
    return lines


def _duty(facts: FaultFacts) -> Fact:
    """Duty in amperes: the larger of the value from impedances and the hand value, corrected for X/R."""
    factor = asymmetry_factor(facts.x_r, facts.test_x_r)
    value = facts.duty.value
    if facts.hand_a is not None:
        value = None if value is None else max(value, facts.hand_a)
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
    return Fact(
        corrected, low, None if high is None else high * factor, facts.duty.basis, need, facts.duty.name,
        facts.duty.assumed, tuple(also),
    )  # fmt: skip


def interrupting(facts: FaultFacts) -> Verdict:
    """FLT-1: interrupting rating of an overcurrent device at its line terminals."""
    return _compare("FLT-1", facts, "Interrupting rating", "can interrupt")


def withstand(facts: FaultFacts) -> Verdict:
    """FLT-2: short-circuit current rating of a bus, switch or transfer switch."""
    return _compare("FLT-2", facts, "Short-circuit current rating", "can withstand")


def _remedy(facts: FaultFacts, duty: Fact, does: str) -> str:
    if does == "can withstand":
        return (
            f"Use equipment rated at least {_at_least_ka(duty)}, a listed combination with the device ahead, or a "
            "current-limiting device that its listing names."
        )
    return (
        f"Fit a device that interrupts at least {_at_least_ka(duty)}, a tested series combination marked on the equipment, "
        "or a current-limiting fused switch ahead that the listing names. A longer feeder is no repair."
    )


def _at_least_ka(duty: Fact) -> str:
    """The fault current as a rating to ask for, rounded up."""
    return f"{number(ceil((duty.most or duty.least or 0.0) / 100) / 10)} kA"


def _compare(rule: str, facts: FaultFacts, what: str, does: str) -> Verdict:
    duty = _duty(facts)
    condition = at_most(duty, facts.rating, lambda: _sentence(facts, duty, does))

    def further() -> str:
        known = facts.rating.value is not None and facts.duty.value is not None
        return _why_over(facts, facts.rating.value or 0.0, facts.duty.value or 0.0) if known else ""

    def work() -> list[WorkLine]:
        return [*_duty_lines(facts), looked_up(what, facts.rating.value, "A", "label"), *note_lines(facts.notes)]

    failed = condition.state == "fail"
    return judged(
        rule, facts.subject, facts.edition, [condition], work=work, further=further if failed else "",
        remedy=(lambda: _remedy(facts, duty, does)) if failed else "",
    )  # fmt: skip


def _why_over(facts: FaultFacts, rating_a: float, duty_a: float) -> str:
    """Where a device fails by one way of reckoning only, by which, and what the other one gives."""
    hand_a = duty_a if facts.hand_a is None else facts.hand_a
    if min(hand_a, duty_a) <= rating_a < max(hand_a, duty_a):
        other = "impedances" if hand_a > duty_a else _BY_HAND
        return (
            f"By {other} it is {kiloamperes(min(hand_a, duty_a), rating_a)}, inside the rating; the higher one counts."
        )
    if max(hand_a, duty_a) <= rating_a:
        return f"Before the correction for X/R it is {kiloamperes(max(hand_a, duty_a), rating_a)}."
    return ""


def _place(facts: FaultFacts) -> str:
    """The source, and the method where the figure is not that from impedances, which every other place shows."""
    exact, hand = facts.duty.value, facts.hand_a
    if exact is None or hand is None or hand <= exact or kiloamperes(exact) == kiloamperes(hand):
        return facts.on
    return f"{facts.on} by {_BY_HAND}"


def _sentence(facts: FaultFacts, duty: Fact, does: str) -> str:
    name, words = facts.subject.name, _compared_ka(facts.rating, duty)
    if words is not None:
        return f"{name} has {_article(facts.what)} of {words.value}, {words.gap} {_there(words, _place(facts))}."
    if duty.value is not None:
        return f"Whether {name} {does} the {kiloamperes(duty.value)} available there{facts.on} is not known yet."
    known, rating = _ka_bounds(duty), facts.rating.value
    more = f": {known}" if known else ""
    if rating is not None:
        more = f"{more} against its {kiloamperes(rating)}" if known else f": its rating is {kiloamperes(rating)}"
    return f"Whether {name} {does} the fault current available there{facts.on} is not known yet{more}."


def _there(words: Compared, on: str) -> str:
    """The fault current that a rating is compared with, or its bound."""
    if words.limit == words.most:
        return f"the {words.most} available there{on}"
    return f"the {words.most} that can be available there{on} at {words.limit.split()[1]}"


def _article(what: str) -> str:
    return f"an {what}" if what[0] in "aeiou" else f"a {what}"


def _compared_ka(one: Fact, other: Fact) -> Compared | None:
    return compared(scaled(one, 1e-3), scaled(other, 1e-3), "above", "below", "kA")


def _ka_bounds(fact: Fact) -> str:
    return bounds(scaled(fact, 1e-3), "kA")


def kiloamperes(amperes: float | None, apart_from: float | None = None) -> str:
    """ "31.4 kA", with more decimals where it would otherwise read like ``apart_from``; "not known yet"."""
    if amperes is None:
        return "not known yet"
    return quantity(amperes / 1000, "kA", None if apart_from is None else apart_from / 1000)


def note_lines(notes: Notes) -> tuple[WorkLine, ...]:
    """How a fault current was counted where there was a choice, as worksheet lines."""
    return tuple(looked_up("Counted", note, "") for note in (notes() if callable(notes) else notes))


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
    duty, lines = _duty(fault), _duty_lines(fault)
    ahead = facts.ahead.name
    conditions = [at_most(duty, facts.rating, _series_sentence(facts, ahead, duty)), _motors(facts, ahead)]
    if facts.ahead_new:
        text = f"The series rating of {name} holds only if {ahead}, which is new, is the device it was tested with."
        conditions.append(Condition("judge", text))
    lines.append(looked_up("Series rating", facts.rating.value, "A", "label of the equipment"))
    check = (
        f"Label on the equipment: series combination of {name} behind {ahead}, and that {ahead} is the device it names."
    )
    failing = any(c.state == "fail" for c in conditions)
    return judged(
        "FLT-4", fault.subject, edition, conditions, work=(*lines, *note_lines(fault.notes)), others=(facts.ahead.id,),
        remedy=f"Fit a device that interrupts at least {_at_least_ka(duty)} by itself." if failing else "",
        field_checks=(check,),
    )  # fmt: skip


def _series_sentence(facts: SeriesFacts, ahead: str, duty: Fact) -> str:
    name, words = facts.fault.subject.name, _compared_ka(facts.rating, duty)
    if words is not None:
        return f"{name} behind {ahead} has a series rating of {words.value}, {words.gap} the {words.limit} available there."
    rating = f" ({kiloamperes(facts.rating.value)})" if facts.rating.value is not None else ""
    known = kiloamperes(duty.value) if duty.value is not None else _ka_bounds(duty)
    more = f": {known} is available there" if known else ""
    return f"Whether the series rating of {name} behind {ahead}{rating} is enough is not known yet{more}."


def _motors(facts: SeriesFacts, ahead: str) -> Condition:
    rating, name = facts.fault.rating, facts.fault.subject.name
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


# ----------------------------------------------------------------------------------------------- voltage ratings
@dataclass(frozen=True)
class VoltageFacts:
    """A device's voltage rating and where it is used. ``marked``: e.g. "480Y/277", "240"; ``None`` unknown.

    ``single_pole``: used line to neutral. ``high_leg``: one of its poles is on the high leg (``None``: may be).
    ``system_need``: what to find out where the system is not known.
    """

    subject: Subject
    edition: int
    system: str | None
    marked: str | None
    single_pole: bool = False
    high_leg: bool | None = False
    system_need: str = "system voltage"


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
            needs.append(f"voltage rating of {name}")
        if facts.system is None:
            needs.append(facts.system_need)
        known = f" of {facts.marked} V" if facts.marked is not None else ""
        text = f"Whether the voltage rating{known} of {name} fits is not known yet."
        return verdict("FLT-3", facts.subject, facts.edition, "unknown", text, needs=tuple(needs))
    conditions = _voltage_conditions(facts, facts.system, facts.marked)

    def pass_message() -> str:
        sees = listed([f"{number(c.value)} V {where}" for c, where in zip(conditions, _WHERE, strict=False) if c.value])
        return f"{name} is rated {facts.marked} V and sees {sees} on {facts.system}."

    failing = [c.value for c in conditions if c.state == "fail" and c.value is not None]
    straight = max(*failing, conditions[0].value or 0.0) if failing else 0.0
    remedy = f"Fit a device with a straight rating of at least {number(straight)} V." if failing else ""
    return judged("FLT-3", facts.subject, facts.edition, conditions, pass_message=pass_message, remedy=remedy)


_WHERE = ("across it", "to ground")


def _voltage_conditions(facts: VoltageFacts, code: str, marked: str) -> list[Condition]:
    system, name = tables.system(code), facts.subject.name
    high, to_ground = rated_volts(marked)
    across = system.v_ln if facts.single_pole and system.v_ln else system.v_ll
    if facts.single_pole and facts.high_leg and system.v_high_leg:
        across = system.v_high_leg
    conditions = [_volts(name, marked, code, across, high, "across it")]
    if to_ground is None:
        return conditions
    grounded = system.grounding in ("neutral", "midpoint")
    ground_v = system.v_ln if grounded and system.v_ln else system.v_to_ground
    if not grounded:
        text = (
            f"{name} has a slash rating of {marked} V, and {code} has no grounded neutral: a pole can see "
            f"{number(system.v_to_ground)} V to ground."
        )
        conditions.append(Condition("fail", text, system.v_to_ground, to_ground, "V", "at most"))
        return conditions
    if system.v_high_leg and facts.high_leg is None:
        text = f"Whether the slash rating of {name} fits is not known yet: one of its poles may be on the high leg."
        need = f"phases of {name} (is it on the high leg?)"
        conditions.append(Condition("unknown", text, needs=(need,)))
        return conditions
    if system.v_high_leg and facts.high_leg:
        ground_v = system.v_high_leg
    conditions.append(_volts(name, marked, code, ground_v, to_ground, "to ground"))
    return conditions


def _volts(name: str, marked: str, code: str, volts: float, most: float, where: str) -> Condition:
    fits = volts <= most

    def text() -> str:
        gap = "exactly" if volts == most else f"{difference(volts, most, 'V')} {'more' if fits else 'less'} than"
        return f"{name}, {marked} V, is rated {number(most)} V {where}, {gap} the {number(volts)} V it sees on {code}."

    return Condition("pass" if fits else "fail", text, volts, most, "V", "at most")


# ------------------------------------------------------------------------------------------------------- markings
def service_marking(device: Subject, edition: int, duty: Fact, notes: Notes = ()) -> Verdict:
    """FLT-5: the figure that the field marking of service equipment carries."""
    return _marking("FLT-5", device, edition, "", duty, notes)


def panel_marking(panel: Subject, edition: int, duty: Fact, notes: Notes = ()) -> Verdict:
    """PNL-6: the figure that panels and switchboards are marked with since 2020."""
    if not tables.applies("panel_fault_current_marked", edition):
        text = f"The {edition} edition asks for no fault current marking on {panel.name}."
        return verdict("PNL-6", panel, edition, "not_applicable", text)
    rating_too = tables.applies("panel_rating_marked", edition)
    further = "Mark it with its short-circuit current rating as its devices make it, too." if rating_too else ""
    return _marking("PNL-6", panel, edition, further, duty, notes)


def _marking(rule: str, subject: Subject, edition: int, further: str, duty: Fact, notes: Notes) -> Verdict:
    assumed = duty.assumptions if duty.value is not None else ()

    def message() -> str:
        shown, unknown = "", ": the figure is not known yet"
        if duty.value is not None:
            shown, unknown = f", {kiloamperes(duty.value)},", ""
        elif duty.high is not None:
            unknown += f", {_ka_bounds(duty)}"
        text = f"Mark {subject.name} with the available fault current{shown} and the date of its calculation{unknown}."
        return sentences(with_assumptions(text, assumed, subject.name), further)

    def work() -> tuple[WorkLine, ...]:
        figure = looked_up("Available fault current, from impedances", duty.value, "A", section("FLT-6", edition))
        return (figure, *note_lines(notes), *assumption_lines(assumed))

    return verdict(
        rule, subject, edition, "advice", message, value=duty.value, unit="A", basis=duty.basis,
        needs=lambda: duty.needs, work=work,
    )  # fmt: skip
