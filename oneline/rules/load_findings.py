"""What is said of calculated loads: their largest parts, loads that do not run together, reduced neutrals."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from oneline import tables
from oneline.rules.ampacity import RunFacts, ampacity
from oneline.rules.common import (
    Condition,
    Fact,
    Subject,
    amperes,
    at_least,
    compared,
    computed,
    judged,
    listed,
    looked_up,
    number,
    quantity,
    resting_on,
    section,
    sentences,
    size_text,
    verdict,
)
from oneline.rules.verdict import Verdict, WorkLine

Work = Callable[[], Sequence[WorkLine]]
Parts = Callable[[], Sequence[tuple[str, float]]]


# ----------------------------------------------------------------------------------------------------- the whole
def calculated_load(
    subject: Subject, edition: int, kva: float, known: bool, highest_a: float | None, parts: Parts, work: Work,
    assumed: Sequence[str] = (),
) -> Verdict:  # fmt: skip
    """LOAD-2: the calculated load of a service and its largest parts (VA). ``assumed``: what it rests on."""

    def message() -> str:
        least = "" if known else "at least "
        current = f", {least}{amperes(highest_a)} on the highest phase" if highest_a is not None else ""
        named = listed([f"{name} with {quantity(va / 1000, 'kVA')}" for name, va in parts()])
        return sentences(
            f"The calculated load of {subject.name} is {least}{quantity(kva, 'kVA')}{current}.",
            f"Largest: {named}." if named else "",
        )

    found = verdict("LOAD-2", subject, edition, "advice", message, value=kva, unit="kVA", work=lambda: tuple(work()))
    return resting_on(found, assumed)


# --------------------------------------------------------------------------------------------- loads in alternation
@dataclass(frozen=True)
class Alternative:
    """One of several loads that do not run together: name, all of it and its largest motor, VA."""

    name: str
    va: float
    motor_va: float


def used_va(base_va: float, base_motor_va: float, alternatives: Sequence[Alternative]) -> float:
    """The whole with the alternative that makes it largest, each with its own largest motor at 125 % (LOAD-7)."""
    more = tables.limit_value("motor_largest_factor") - 1
    return max(base_va + a.va + more * max(base_motor_va, a.motor_va) for a in alternatives)


def otherwise_va(base_va: float, base_motor_va: float, alternatives: Sequence[Alternative]) -> float:
    """The other reading of the section: the motor of each alternative at 125 % in the comparison, whatever else runs."""
    more = tables.limit_value("motor_largest_factor") - 1
    return base_va + more * base_motor_va + max(a.va + more * a.motor_va for a in alternatives)


def noncoincident(
    subject: Subject, edition: int, group: str, base_va: float, base_motor_va: float,
    alternatives: tuple[Alternative, ...], others: tuple[str, ...], assumed: Sequence[str] = (),
) -> Verdict:  # fmt: skip
    """LOAD-7: which of the loads that do not run together counts, and the reading that would count more."""
    used = used_va(base_va, base_motor_va, alternatives)
    contested = otherwise_va(base_va, base_motor_va, alternatives)
    more = tables.limit_value("motor_largest_factor") - 1
    chosen = max(alternatives, key=lambda a: a.va + more * max(base_motor_va, a.motor_va))
    rest = listed([f"{a.name} ({quantity(a.va / 1000, 'kVA')})" for a in alternatives if a is not chosen])
    message = (
        f"{chosen.name} ({quantity(chosen.va / 1000, 'kVA')}) counts and {rest} does not: they are entered as never running "
        f"together."
    )
    state = "pass"
    reads_other = tables.applies("noncoincident_motor_text", edition) and contested > used * (1 + 1e-9)
    if reads_other:
        state = "judge"
        factor = number(100 * tables.limit_value("motor_largest_factor"))
        message = sentences(
            message,
            f"Where the motor is compared at {factor} % the load is {quantity(contested / 1000, 'kVA')} in place of "
            f"{quantity(used / 1000, 'kVA')}; the authority decides.",
        )
    lines = [
        computed(
            f"With {a.name}", "others + load + (factor - 1) * max(other_motor, motor)", "VA", section("LOAD-7", edition),
            others=base_va, load=a.va, factor=tables.limit_value("motor_largest_factor"), other_motor=base_motor_va,
            motor=a.motor_va,
        )
        for a in alternatives
    ]  # fmt: skip
    lines.append(looked_up("The largest counts", used, "VA"))
    if reads_other:
        lines.append(looked_up("Read the other way", contested, "VA", section("LOAD-7", edition)))
    check = f"That the controls keep {listed([a.name for a in alternatives])} from running at the same time ({group})."
    found = verdict(
        "LOAD-7", subject, edition, state, message, value=used / 1000, unit="kVA", field_checks=(check,), others=others,
        work=tuple(lines),
    )  # fmt: skip
    return resting_on(found, assumed)


# -------------------------------------------------------------------------------------------------- neutral
@dataclass(frozen=True)
class NeutralFacts:
    """A run with a neutral of its own size. ``run``: its facts; ``load``: calculated neutral load, amperes."""

    run: RunFacts
    neutral: RunFacts
    load: Fact
    work: tuple[WorkLine, ...] = field(default=(), compare=False)
    #: Of a feeder: its device, of which the neutral is no smaller than the equipment grounding conductor would be.
    ahead: str = ""
    rating: Fact = field(default_factory=lambda: Fact(None))


def neutral_conductor(facts: NeutralFacts) -> Verdict:
    """LOAD-3: whether a neutral smaller than its phase conductors carries the calculated neutral load, without the 125 %."""
    name, found = facts.run.subject.name, ampacity(facts.neutral)
    size = size_text(facts.neutral.size, facts.neutral.material, facts.neutral.sets)
    conditions = [
        _carries(found.term_fact(name), facts.load, name, size), _carries(found.cond_fact(name), facts.load, name, size)
    ]  # fmt: skip
    if facts.ahead:
        conditions += _not_below_ground(facts, name, size)
    remedy = ""
    if any(c.state == "fail" for c in conditions):
        remedy = f"Use a neutral of the size of the phase conductors, {size_text(facts.run.size, facts.run.material)}."
    return judged(
        "LOAD-3", facts.run.subject, facts.run.edition, conditions, remedy=remedy, work=(*facts.work, *found.lines)
    )  # fmt: skip


def _not_below_ground(facts: NeutralFacts, name: str, size: str) -> list[Condition]:
    """A feeder's neutral is no smaller than its equipment grounding conductor has to be (215.2(A)); nothing is said where the
    device is not known, which the grounding conductor asks for."""
    run, rating = facts.neutral, facts.rating.value
    if rating is None or run.size is None or run.material is None:
        return []
    try:
        least = tables.egc_size(rating, run.material)
    except tables.NotInTable:
        return []
    wanted = f"{size_text(least, run.material)} that a grounding conductor behind {facts.ahead} ({amperes(rating)}) has"
    if tables.area_cmil(run.size) >= tables.area_cmil(least):
        return [Condition("pass", f"The {size} neutral of {name} is no smaller than the {wanted}.")]
    text = f"The {size} neutral of {name} is smaller than the {wanted}, which is the least for it."
    return [Condition("fail", text, tables.area_cmil(run.size), tables.area_cmil(least), "cmil", "at least")]


def _carries(ampacity_a: Fact, load: Fact, name: str, size: str) -> Condition:
    words = compared(ampacity_a, load)
    if words is None:
        text = f"Whether the {size} neutral of {name} can carry its calculated load is not known yet."
    else:
        text = (
            f"The {size} neutral of {name} can carry {words.value}, {words.gap} its calculated load of {words.limit}."
        )
    return at_least(ampacity_a, load, text)
