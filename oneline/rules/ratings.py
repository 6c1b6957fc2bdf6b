"""Interrupting and withstand ratings against the available fault current (110.9, 110.10)."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from oneline.rules.common import Compared, Condition, Fact, at_most, judged, looked_up
from oneline.rules.fault_duty import (
    BY_HAND,
    FaultFacts,
    at_least_ka,
    at_most_ka,
    compared_ka,
    duty_lines,
    duty_of,
    ka_bounds,
    kiloamperes,
    note_lines,
    x_r_open,
)
from oneline.rules.verdict import Verdict, WorkLine


def interrupting(facts: FaultFacts) -> Verdict:
    """FLT-1: interrupting rating of an overcurrent device at its line terminals."""
    return _compare("FLT-1", facts, "Interrupting rating", "can interrupt")


def withstand(facts: FaultFacts) -> Verdict:
    """FLT-2: short-circuit current rating of a bus, switch or transfer switch."""
    return _compare("FLT-2", facts, "Short-circuit current rating", "can withstand")


def _remedy(facts: FaultFacts, duty: Fact, does: str) -> str:
    if does == "can withstand":
        return (
            f"Use equipment rated at least {at_least_ka(duty)}, a listed combination with the device ahead, or a "
            "current-limiting device that its listing names."
        )
    return (
        f"Fit a device that interrupts at least {at_least_ka(duty)}, a tested series combination marked on the equipment, "
        "or a current-limiting fused switch ahead that the listing names. A longer feeder is no repair."
    )


def _compare(rule: str, facts: FaultFacts, what: str, does: str) -> Verdict:
    duty = duty_of(facts)
    condition = at_most(duty, facts.rating, partial(_sentence, facts, duty, does))
    work = partial(_work, facts, what)
    if condition.state != "pass" and facts.let_through is not None and facts.let_through.value is not None:
        return _held_down(facts, condition, duty, work)
    if condition.state != "fail":
        return judged(rule, facts.subject, facts.edition, (condition,), work=work)
    return judged(
        rule, facts.subject, facts.edition, (condition,), work=work, further=partial(_further, facts),
        remedy=partial(_remedy, facts, duty, does),
    )  # fmt: skip


def _work(facts: FaultFacts, what: str) -> list[WorkLine]:
    return [*duty_lines(facts), looked_up(what, facts.rating.value, "A", "label"), *note_lines(facts.notes)]


def _further(facts: FaultFacts) -> str:
    known = facts.rating.value is not None and facts.duty.value is not None
    return _why_over(facts, facts.rating.value or 0.0, facts.duty.value or 0.0) if known else ""


def _held_down(
    facts: FaultFacts, alone: Condition, duty: Fact, work: Callable[[], list[WorkLine]]
) -> Verdict:  # fmt: skip
    """FLT-2 where a current-limiting device ahead is relied on: counted by a tested combination only."""
    assert facts.let_through is not None
    name, by, held = facts.subject.name, facts.let_through_by, facts.let_through
    shown = kiloamperes(held.value)
    words = compared_ka(facts.rating, held)

    def lines() -> list[WorkLine]:
        return [*work(), looked_up("Available fault current, as let through ahead", held.value, "A", by or "")]

    if by == "tested combination on the label":
        text = f"Whether {name} can withstand what the tested combination lets through, {shown}, is not known yet."
        if words is not None:
            text = (
                f"{name} is held to {shown} by a tested combination and has {_article(facts.what)} of {words.value}, "
                f"{words.gap} it."
            )
        condition = at_most(held, facts.rating, text)
        check = f"The label of {name}: the combination, and that the device ahead is the one it names."
        remedy = _remedy(facts, duty, "can withstand") if condition.state == "fail" else ""
        return judged(
            "FLT-2", facts.subject, facts.edition, [condition], work=lines, remedy=remedy, field_checks=(check,)
        )  # fmt: skip
    if by is None:
        text = f"{alone.message} A let-through current of {shown} is relied on; what shows it is not known yet."
        need = f"what shows the let-through current ahead of {name}: tested combination, engineer or chart"
        condition = Condition(
            "unknown", text, alone.value, alone.limit, alone.unit, alone.relation, (need, *alone.needs)
        )
        return judged("FLT-2", facts.subject, facts.edition, [condition], work=lines)
    why = "An engineer has to answer for the let-through current of"
    if by == "let-through chart":
        why = "A let-through chart does not count for breakers and equipment not tested with that device; ask about the"
    text = f"{alone.message} {why} {shown} that is relied on."
    condition = Condition("judge", text, alone.value, alone.limit, alone.unit, alone.relation)
    return judged(
        "FLT-2", facts.subject, facts.edition, [condition], work=lines, remedy=_remedy(facts, duty, "can withstand")
    )  # fmt: skip


def _why_over(facts: FaultFacts, rating_a: float, duty_a: float) -> str:
    """Where a device fails by one way of reckoning only, by which, and what the other one gives."""
    hand_a = duty_a if facts.hand_a is None else facts.hand_a
    if min(hand_a, duty_a) <= rating_a < max(hand_a, duty_a):
        other = "impedances" if hand_a > duty_a else BY_HAND
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
    return f"{facts.on} by {BY_HAND}"


def _sentence(facts: FaultFacts, duty: Fact, does: str) -> str:
    name, words = facts.who, compared_ka(facts.rating, duty)
    if words is not None:
        first = f"{name[:1].upper()}{name[1:]}" if facts.called else name
        there = _there(words, _place(facts), x_r_open(facts))
        return f"{first} has {_article(facts.what)} of {words.value}, {words.gap} {there}."
    if duty.value is not None:
        return f"Whether {name} {does} the {kiloamperes(duty.value)} available there{facts.on} is not known yet."
    known, rating = ka_bounds(duty), facts.rating.value
    if x_r_open(facts) and duty.most is not None and rating is not None:
        there = ka_bounds(facts.duty) if facts.duty.value is None else kiloamperes(facts.duty.value)
        return (
            f"Whether {name} {does} the fault current available there{facts.on} is not known yet: {there}, which equals a "
            f"duty of up to {at_most_ka(duty)} by the worst X/R, against its {kiloamperes(rating)}."
        )
    more = f": {known}" if known else ""
    if rating is not None:
        more = f"{more} against its {kiloamperes(rating)}" if known else f": its rating is {kiloamperes(rating)}"
    return f"Whether {name} {does} the fault current available there{facts.on} is not known yet{more}."


def _there(words: Compared, on: str, x_r_open: bool = False) -> str:
    """The fault current that a rating is compared with, or its bound. ``x_r_open``: corrected for the worst X/R."""
    if x_r_open and words.limit.startswith("at most"):
        return f"the {words.most} that the fault current there{on} can equal at most by the worst X/R"
    if words.limit == words.most:
        return f"the {words.most} available there{on}"
    return f"the {words.most} that can be available there{on} at {words.limit.split()[1]}"


def _article(what: str) -> str:
    return f"an {what}" if what[0] in "aeiou" else f"a {what}"
