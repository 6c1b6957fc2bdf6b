"""Room to bend conductors in cabinets and gutters (312.6(A), 366.58(A))."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from oneline import tables
from oneline.rules.common import Subject, difference, looked_up, quantity, section, size_text, verdict
from oneline.rules.verdict import Verdict


@dataclass(frozen=True)
class BendingFacts:
    """Where conductors turn in a cabinet or gutter. ``width_in``: inches there; ``size``: the largest conductor known of
    those that end there, ``None`` for none; ``open_sizes``: what to find out of those whose size is not known."""

    subject: Subject
    edition: int
    width_in: float
    size: str | None
    open_sizes: tuple[str, ...] = ()


def bending_space(facts: BendingFacts) -> Verdict | None:
    """SVC-12: room to bend the largest conductor, by Table 312.6(A) with one wire on each terminal. ``None`` where the table
    asks for nothing."""
    name, width = facts.subject.name, quantity(facts.width_in, "in")
    least_in = tables.bending_space_in(facts.size) if facts.size else None
    cited = section("SVC-12-bending", facts.edition)
    more: dict[str, Any] = {
        "section": cited,
        "value": facts.width_in,
        "limit": least_in,
        "unit": "in",
        "relation": "at least",
    }
    if least_in is not None:
        of = f"the {quantity(least_in, 'in')} that {size_text(facts.size)} conductors need"
        more["work"] = (looked_up(f"Least for {size_text(facts.size)}", least_in, "in", cited),)
        if facts.width_in < least_in:
            text = f"{name} has {width} where conductors turn, {difference(facts.width_in, least_in, 'in')} less than {of}."
            remedy = f"Use equipment with {quantity(least_in, 'in')} there, or parallel sets of smaller conductors."
            return verdict("SVC-12", facts.subject, facts.edition, "fail", text, remedy=remedy, **more)
    if facts.open_sizes:
        text = f"Whether {name} has room to bend its conductors is not known yet: it has {width} where they turn."
        return verdict("SVC-12", facts.subject, facts.edition, "unknown", text, needs=facts.open_sizes, **more)
    if least_in is None:
        return None
    check = (
        f"Conductors in {name} that go out through the wall opposite their terminals need more than this table says."
    )
    text = f"{name} has {width} where conductors turn, enough for {of}."
    return verdict("SVC-12", facts.subject, facts.edition, "pass", text, field_checks=(check,), **more)
