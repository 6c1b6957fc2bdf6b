"""Voltage drop against the recommended figures (VD). A recommendation of informational notes, never a failure."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from oneline import tables
from oneline.model.quick import quick
from oneline.rules.common import (
    Fact,
    Subject,
    assumption_lines,
    compare_at_least,
    compared,
    looked_up,
    number,
    section,
    sentences,
    verdict,
    with_assumptions,
)
from oneline.rules.verdict import Verdict, WorkLine

#: What is looked at, and the figure recommended for it.
PARTS = {
    "feeder": ("voltage_drop_feeder_pct", "in the feeder to", "VD-feeder"),
    "branch": ("voltage_drop_branch_pct", "in the branch circuit to", "VD-branch"),
    "total": ("voltage_drop_total_pct", "all the way to", "VD"),
}


@quick
@dataclass(frozen=True)
class DropFacts:
    """Voltage drop to a point. ``part``: one of PARTS. ``drop``: percent of nominal at operating load. ``lines``: makes the
    worksheet that leads to it."""

    subject: Subject
    edition: int
    part: str
    drop: Fact
    lines: Callable[[], Sequence[WorkLine]] | None = None


def voltage_drop(facts: DropFacts) -> Verdict:
    """VD: advice where the drop is above the recommendation."""
    id_, where, rule = PARTS[facts.part]
    limit, drop = tables.limit_value(id_), facts.drop
    compared_ = compare_at_least(Fact(limit), drop)
    state = "advice" if compared_ == "fail" else compared_
    what, cited = f"Voltage drop {where} {facts.subject.name}", section(rule, facts.edition)
    assumed = drop.assumptions if drop.value is not None else ()

    def message() -> str:
        words = compared(drop, Fact(limit), "above", "below", "%", most=True)
        text = f"{what} is not known yet; at most {number(limit)} % is recommended."
        if words is not None:
            text = f"{what} is {words.value}, {words.gap} the recommended {words.limit}."
        further = "It is a recommendation, not a rule." if state == "advice" else ""
        return sentences(with_assumptions(text, assumed, facts.subject.name), further)

    def work() -> tuple[WorkLine, ...]:
        return (
            looked_up("Voltage drop", drop.value, "%"),
            looked_up("Recommended", limit, "%", cited),
            *(facts.lines() if facts.lines is not None and drop.value is not None else ()),
            *assumption_lines(assumed),
        )

    remedy = "Use larger conductors or a shorter run; larger phase conductors take a larger grounding conductor."
    return verdict(
        "VD", facts.subject, facts.edition, state, message, section=cited,
        value=drop.value, limit=limit, unit="%", relation="at most", basis=drop.basis,
        needs=(lambda: drop.needs) if state == "unknown" else (), remedy=remedy if state == "advice" else "", work=work,
    )  # fmt: skip
