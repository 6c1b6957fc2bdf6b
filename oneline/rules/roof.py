"""Heat from a roof, and parts of one run that differ in ampacity (AMP-4)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from oneline import tables
from oneline.rules.ampacity import RunFacts, ampacity
from oneline.rules.common import TOLERANCE, amperes, equal_or_above, feet_inches, listed, number, unique, verdict
from oneline.rules.surroundings import ambients_c, near_roof
from oneline.rules.verdict import Verdict


# ------------------------------------------------------------------------------------------------------- roof
def over_roof(facts: RunFacts) -> Verdict:
    """AMP-4 of a run on or above a sunlit roof: whether the roof's heat is added to its ambient temperature."""
    name, near = facts.subject.name, near_roof(facts.roof_height_in)
    least_in, adder_c = tables.limit_value("rooftop_height_in"), tables.limit_value("rooftop_adder_c")
    around = ambients_c(facts)
    exempt = around is not None and facts.ambient_c == around[0] == around[1]
    more = f"{number(adder_c)} °C"
    high = "not known yet" if facts.roof_height_in is None else _inches(facts.roof_height_in)
    fields = {
        "value": facts.roof_height_in, "limit": least_in, "unit": "in", "relation": "at least",
        "basis": facts.basis,
    }  # fmt: skip
    if near is False:
        text = f"{name} lies {high} above the sunlit roof, and from {_inches(least_in)} on nothing is added to its ambient."
        return verdict("AMP-4", facts.subject, facts.edition, "pass", text, **fields)
    if exempt:
        text = f"{name} lies near a sunlit roof; with {facts.insulation} insulation nothing is added to its ambient."
        return verdict("AMP-4", facts.subject, facts.edition, "pass", text, **fields)
    if near is None:
        needs = (f"height of {name} above the roof",)
        text = (
            f"Whether the sunlit roof adds {more} to the ambient of {name} is not known yet: below {_inches(least_in)}."
        )
        return verdict("AMP-4", facts.subject, facts.edition, "unknown", text, needs=needs, **fields)
    good = ampacity(facts).iz_a
    now = f", which leaves it {amperes(good)}" if good is not None else ""
    text = f"{name} lies {high} above the sunlit roof, so {more} is added to its ambient{now}."
    remedy = f"Raise it to {_inches(least_in)} or more above the roof, or use conductors that are exempt."
    return verdict("AMP-4", facts.subject, facts.edition, "advice", text, remedy=remedy, **fields)


def maybe_over_roof(facts: RunFacts, with_roof: RunFacts) -> Verdict | None:
    """AMP-4 of a new outdoor run of which nobody said whether it is on a roof; ``None`` where that changes nothing."""
    one, other = ampacity(facts).iz_a, ampacity(with_roof).iz_a
    if one is None or one == other:
        return None
    name = facts.subject.name
    less = f" ({amperes(other)} instead of {amperes(one)})" if other is not None else ""
    text = (
        f"Whether {name}, which is outdoors, lies near a sunlit roof is not known yet; then it is good for less{less}."
    )
    return verdict(
        "AMP-4", facts.subject, facts.edition, "unknown", text, needs=(f"whether {name} lies on or above a roof, in the sun",)
    )  # fmt: skip


def _inches(value: float) -> str:
    return f"{number(value, 3)} in"


# ------------------------------------------------------------------------------------------------ parts in series
@dataclass(frozen=True)
class Part:
    """One part of a run: ``ampacity_a`` where it lies and ``length_ft``, ``None`` unknown."""

    id: str
    name: str
    ampacity_a: float | None
    length_ft: float | None


@dataclass(frozen=True)
class Follows:
    """Whether a part may count with the ampacity of the others. ``leader``: id of the part it follows, "" for none.
    ``lower``: whether it is a lower part at all, ``None`` unknown. ``low_ft``, ``most_ft``: the lengths compared."""

    leader: str = ""
    lower: bool | None = False
    low_ft: float | None = None
    most_ft: float | None = None
    needs: tuple[str, ...] = ()


def follow_all(parts: Sequence[Part]) -> dict[str, Follows]:
    """For every part whether it is lower than others and short enough to be left out: at most 10 ft, and at most a tenth
    of the higher part (310.14(A)(2)). All parts that are not higher count together."""
    missing = unique(f"ampacity of {p.name} where it lies" for p in parts if p.ampacity_a is None)
    if missing:
        return {p.id: Follows(lower=None, needs=missing) for p in parts}
    answers = {a: _follow(parts, a) for a in dict.fromkeys(p.ampacity_a or 0.0 for p in parts)}
    return {p.id: answers[p.ampacity_a or 0.0] for p in parts}


def _follow(parts: Sequence[Part], ampacity_a: float) -> Follows:
    higher = [p for p in parts if (p.ampacity_a or 0.0) > ampacity_a * (1 + TOLERANCE)]
    if not higher:
        return Follows()
    leader = min(higher, key=lambda p: p.ampacity_a or 0.0)
    needs = unique(f"length of {p.name}" for p in parts if p.length_ft is None)
    if needs:
        return Follows(lower=True, needs=needs)
    low_ft = sum(p.length_ft or 0.0 for p in parts if not equal_or_above(p.ampacity_a or 0.0, leader.ampacity_a or 0.0))
    long_ft = sum(p.length_ft or 0.0 for p in parts) - low_ft
    most_ft = min(
        tables.limit_value("lower_ampacity_length_ft"), tables.limit_value("lower_ampacity_fraction") * long_ft
    )
    return Follows(leader.id if equal_or_above(most_ft, low_ft) else "", True, low_ft, most_ft)


def lower_part(facts: RunFacts, parts: Sequence[Part], found: Follows) -> Verdict | None:
    """AMP-4 of a part with a lower ampacity than the rest of its run; ``None`` for one that is not lower."""
    own = next(p for p in parts if p.id == facts.subject.id)
    if not found.lower:
        return None
    name, others = own.name, tuple(p.id for p in parts if p.id != own.id)
    rest = listed([p.name for p in parts if p.id != own.id][:3])
    low = f"{name} is good for {amperes(own.ampacity_a)}, less than the rest of its run, {rest}."
    if found.needs:
        text = f"{low} Whether it is short enough to be left out is not known yet."
        return verdict(
            "AMP-4", facts.subject, facts.edition, "unknown", text, needs=found.needs, others=others
        )  # fmt: skip
    fields = {"value": found.low_ft, "limit": found.most_ft, "unit": "ft", "relation": "at most", "others": others}
    lengths = f"{feet_inches(found.low_ft)} of it against {feet_inches(found.most_ft, 'down')} allowed"
    if found.leader:
        text = f"{low} It is short enough to be left out: {lengths}."
        return verdict("AMP-4", facts.subject, facts.edition, "pass", text, **fields)
    text = f"{low} It is too long to be left out, {lengths}, so its ampacity governs."
    return verdict("AMP-4", facts.subject, facts.edition, "advice", text, **fields)
