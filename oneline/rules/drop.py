"""Voltage drop against the recommended figures (VD). A recommendation of informational notes, never a failure."""

from __future__ import annotations

from dataclasses import dataclass

from oneline import tables
from oneline.rules.common import Fact, Subject, compare_at_least, listed, looked_up, number, section, verdict
from oneline.rules.verdict import Verdict

#: What is looked at, and the figure recommended for it.
PARTS = {
    "feeder": ("voltage_drop_feeder_pct", "feeder"),
    "branch": ("voltage_drop_branch_pct", "branch circuit"),
    "total": ("voltage_drop_total_pct", "feeder and branch circuit together"),
}


@dataclass(frozen=True)
class DropFacts:
    """Voltage drop to a point. ``part``: one of PARTS. ``drop``: percent of nominal at operating load."""

    subject: Subject
    edition: int
    part: str
    drop: Fact


def voltage_drop(facts: DropFacts) -> Verdict:
    """VD: advice where the drop is above the recommendation."""
    id_, what = PARTS[facts.part]
    limit = tables.limit_value(id_)
    name, drop = facts.subject.name, facts.drop
    state = compare_at_least(Fact(limit), drop)
    shown = "not known" if drop.value is None else f"{number(drop.value)} %"
    text = f"Voltage drop to {name}, {what}: {shown}; recommended at most {number(limit)} %."
    remedy = ""
    if state == "fail":
        state = "advice"
        text += " A recommendation only."
        remedy = "Larger conductors or a shorter run; upsized conductors take a larger equipment grounding conductor."
    if drop.assumptions and drop.value is not None:
        text += f" (Assumed: {listed(drop.assumptions)}.)"
    lines = (
        looked_up("Voltage drop", drop.value, "%"),
        looked_up("Recommended", limit, "%", section("VD", facts.edition)),
    )
    return verdict(
        "VD", facts.subject, facts.edition, state, text, value=drop.value, limit=limit, unit="%", relation="at most",
        basis=drop.basis, needs=drop.needs if state == "unknown" else (), remedy=remedy, work=lines,
    )  # fmt: skip
