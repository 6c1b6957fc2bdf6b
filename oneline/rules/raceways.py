"""Raceway fill: Chapter 9 Table 1 for conduit and tubing, 376.22 for wireways, and the size that would do."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from functools import lru_cache, partial

from oneline import tables
from oneline.model.quick import quick
from oneline.rules.common import (
    Condition,
    Fact,
    Subject,
    compared,
    computed,
    equal_or_above,
    judged,
    looked_up,
    number,
    section,
    size_text,
    unique,
)
from oneline.rules.verdict import Verdict, WorkLine

_COMPACT = {"THHN/THWN/THWN-2": "thhn", "XHHW/XHHW-2/XHH": "xhhw"}


@quick
@dataclass(frozen=True)
class Wire:
    """Conductors of one kind in a raceway: ``count`` of ``size`` and ``material``; ``insulation`` of the vocabulary."""

    count: int
    size: str
    material: str
    insulation: str


@quick
@dataclass(frozen=True)
class FillFacts:
    """A raceway and what is in it.

    ``wires``: the conductors that are known. ``missing``: what is not known about them. ``foreign``: whether
    conductors of other circuits share it: ``None`` unknown. ``trade_size``: of conduit, or "8x8" inches of a wireway.
    ``nipple``: 24 in or shorter; ``None`` while the length is not known.
    """

    subject: Subject
    edition: int
    raceway: str | None
    trade_size: str | None
    wires: tuple[Wire, ...]
    missing: tuple[str, ...] = ()
    foreign: bool | None = False
    nipple: bool | None = False
    basis: str = "entered"
    #: A raceway with a name of its own ("raceway R1"), and the further runs in it.
    where: str = ""
    others: tuple[str, ...] = ()

    @property
    def whose(self) -> str:
        """What the conductors are in, for sentences."""
        return self.where or self.subject.name


def wire_area_in2(wire: Wire) -> tuple[float, float]:
    """Least and greatest area of one conductor, in²: aluminum may be compact-stranded. Raises ``tables.NotInTable``."""
    greatest = tables.conductor_area_in2(wire.insulation, wire.size)
    family = tables.insulation(wire.insulation).family
    if wire.material == "aluminum" and family in _COMPACT:
        try:
            return min(greatest, tables.compact_area_in2(_COMPACT[family], wire.size)), greatest
        except tables.NotInTable:
            return greatest, greatest
    return greatest, greatest


def total_area_in2(wires: tuple[Wire, ...]) -> tuple[float, float]:
    """Least and greatest area of all conductors, in²."""
    areas = [(w.count, *wire_area_in2(w)) for w in wires]
    return sum(n * low for n, low, _ in areas), sum(n * high for n, _, high in areas)


def smallest_trade_size(raceway: str, area_in2: float, count: int, nipple: bool = False) -> str | None:
    """Smallest trade size of a raceway that ``count`` conductors of ``area_in2`` in all may fill; ``None``: none."""
    share = tables.fill_limit(count, nipple)
    for size in tables.raceway_trade_sizes(raceway):
        if _fits(area_in2, tables.raceway_area_in2(raceway, size) * share):
            return size
    return None


def _fits(area_in2: float, room_in2: float) -> bool:
    """Whether conductors fit, forgiving arithmetic noise only."""
    return equal_or_above(room_in2, area_in2)


def known_overfull(facts: FillFacts) -> bool:
    """Whether the conductors that are known are too many for the raceway as it is known."""
    wires = _with_area(facts.wires)
    try:
        least, _ = total_area_in2(wires)
        area, share, _ = _inside(facts, sum(w.count for w in facts.wires))
    except tables.NotInTable:
        return False
    return area is not None and bool(wires) and not _fits(least, area * share)


def _with_area(wires: tuple[Wire, ...]) -> tuple[Wire, ...]:
    """Those of the conductors whose area a table gives."""

    def given(wire: Wire) -> bool:
        try:
            wire_area_in2(wire)
        except tables.NotInTable:
            return False
        return True

    return tuple(w for w in wires if given(w))


def wireway_area_in2(trade_size: str) -> float | None:
    """Cross section of a wireway written as "8x8" (inches), in²; ``None`` where it is not written so."""
    found = re.fullmatch(r'\s*(\d+(?:\.\d+)?)\s*"?\s*[xX×]\s*(\d+(?:\.\d+)?)\s*"?\s*', trade_size)
    return float(found[1]) * float(found[2]) if found else None


@lru_cache(maxsize=4096)
def raceway_fill(facts: FillFacts) -> Verdict:
    """Fill of conduit and tubing (RWY-1) or of a wireway (RWY-4)."""
    rule = "RWY-4" if facts.raceway == "wireway" else "RWY-1"
    name = facts.whose
    needs = list(facts.missing)
    if facts.raceway is None:
        needs.append(f"raceway of {name}")
    count, known = sum(w.count for w in facts.wires), _with_area(facts.wires)
    if len(known) < len(facts.wires):
        kinds = unique(w.insulation for w in facts.wires if w not in known)
        diameter = f"outside diameter of the conductors of {name} ({', '.join(kinds)})"
        needs.append(diameter)
        facts = replace(facts, wires=known, missing=(*facts.missing, diameter))
    least, greatest = total_area_in2(known)
    if facts.raceway is None or not facts.wires or (facts.missing and not least) or (needs and not least):
        unknown = Condition(
            "unknown", f"Whether the raceway of {name} is too full is not known yet.", needs=unique(needs)
        )
        return judged(rule, facts.subject, facts.edition, [unknown], others=facts.others)
    area, share, missing = _inside(facts, count)
    if area is None:
        unknown = Condition("unknown", _size_unknown(facts, greatest, count), needs=unique((*needs, *missing)))
        return judged(
            rule,
            facts.subject,
            facts.edition,
            [unknown],
            work=partial(_lines, facts, greatest),
            remedy=partial(_proposal, facts, greatest, count),
            others=facts.others,
        )

    def work() -> tuple[WorkLine, ...]:
        compact = (_compact_line(facts, least),) if least < greatest and not _fits(greatest, area * share) else ()
        return (
            *_lines(facts, greatest),
            looked_up("Inside area", area, "in²", section("TABLE-raceway", facts.edition)),
            computed("Fill", "100 * wires_in2 / inside_in2", "%", wires_in2=greatest, inside_in2=area),
            *compact,
        )

    percent = 100 * greatest / area
    state, extra = _state(facts, least, greatest, area, share, count)
    condition = Condition(
        state, partial(_fill_text, facts, state, percent, 100 * share), percent, 100 * share, "%", "at most",
        unique((*needs, *extra)), facts.basis,
    )  # fmt: skip
    remedy = partial(_proposal, facts, greatest, count) if state == "fail" else ""
    return judged(rule, facts.subject, facts.edition, [condition], work=work, remedy=remedy, others=facts.others)


def _fill_text(facts: FillFacts, state: str, percent: float, most: float) -> str:
    """The sentence on a raceway whose known conductors fill ``percent`` of it, ``most`` being permitted."""
    name, size = facts.whose, f"{_size_words(facts)}"
    if state == "unknown":
        beside = " without what else is in it" if facts.foreign is not False else ""
        longest = number(tables.limit_value("nipple_length_in"))
        nipple = tables.fill_limit(sum(w.count for w in facts.wires), True) * 100
        short = f", {number(nipple)} % in {longest} in or less" if facts.nipple is None and percent > most else ""
        known = f"its known conductors fill {number(percent)} %{beside}, and {number(most)} % is permitted{short}"
        return f"Whether the {size} of {name} is too full is not known yet: {known}."
    words = compared(Fact(percent), Fact(most), "over", "inside", "%", most=True)
    assert words is not None
    gap = "just" if words.gap == "exactly" else words.gap
    return f"The conductors of {name} fill {words.value} of its {size}, {gap} the {words.limit} permitted."


def _size_words(facts: FillFacts) -> str:
    """ "trade size 3 EMT", "8x8 wireway"."""
    return (
        f"{facts.trade_size} wireway"
        if facts.raceway == "wireway"
        else f"trade size {facts.trade_size} {facts.raceway}"
    )


def _inside(facts: FillFacts, count: int) -> tuple[float | None, float, tuple[str, ...]]:
    """Inside area in², the share that may be filled, and what is missing for it."""
    need = (f"trade size of the raceway of {facts.whose}",)
    assert facts.raceway is not None
    if facts.raceway == "wireway":
        share = tables.limit_value("wireway_fill_pct") / 100
        return (None if facts.trade_size is None else wireway_area_in2(facts.trade_size)), share, need
    # While others may share it, the more lenient: one alone may fill more than three, two alone less.
    counts = {count} if facts.foreign is False else {count, max(count, 3)}
    share = max(tables.fill_limit(n, bool(facts.nipple)) for n in counts)
    if facts.trade_size is None:
        return None, share, need
    try:
        return tables.raceway_area_in2(facts.raceway, facts.trade_size), share, need
    except tables.NotInTable:
        return None, share, (f"trade size of the {facts.raceway} of {facts.whose}: {facts.trade_size} is not in "
                             f"the table",)  # fmt: skip


def _state(
    facts: FillFacts, least: float, greatest: float, area: float, share: float, count: int
) -> tuple[str, tuple[str, ...]]:
    name = facts.whose
    if not _fits(least, area * share):
        if facts.nipple is None and _fits(least, area * tables.fill_limit(count, True)):
            return "unknown", (f"length of {name}",)
        return "fail", ()
    if facts.missing or facts.foreign is not False:
        return "unknown", (f"sizes of all conductors in the raceway of {name}",)
    if not _fits(greatest, area * share):
        return "unknown", (f"whether the aluminum of {name} is compact-stranded",)
    return "pass", ()


def _lines(facts: FillFacts, greatest: float) -> tuple[WorkLine, ...]:
    source = section("TABLE-conductor", facts.edition)
    terms, inputs, lines = [], {}, []
    for i, wire in enumerate(facts.wires, 1):
        area = wire_area_in2(wire)[1]
        lines.append(looked_up(f"{wire.insulation} {size_text(wire.size, wire.material)}", area, "in²", source))
        terms.append(f"count_{i} * area_{i}")
        inputs[f"count_{i}"], inputs[f"area_{i}"] = float(wire.count), area
    return (*lines, computed("All conductors", " + ".join(terms), "in²", "", **inputs))


def _compact_line(facts: FillFacts, least: float) -> WorkLine:
    """The area that decides where the conductors fit only if their aluminum is compact-stranded, or not even then."""
    source = section("TABLE-compact", facts.edition)
    noted = tables.with_provenance(source, *(wire_area_in2(wire)[0] for wire in facts.wires))
    return looked_up("All conductors, aluminum compact-stranded", least, "in²", noted)


def _size_unknown(facts: FillFacts, greatest: float, count: int) -> str:
    return (
        f"Whether the {facts.raceway} of {facts.whose} is too full is not known yet: its conductors take "
        f"{number(greatest, 3)} in²."
    )


def _proposal(facts: FillFacts, area_in2: float, count: int) -> str:
    """The smallest trade size that takes the known conductors, tried before it is offered."""
    if facts.raceway is None:
        return ""
    if facts.raceway == "wireway":
        needed = area_in2 / (tables.limit_value("wireway_fill_pct") / 100)
        return f"Use a wireway of at least {number(needed, rounding='up')} in² cross section."
    known = replace(facts, missing=(), foreign=False)
    try:
        sizes = tables.raceway_trade_sizes(facts.raceway)
    except tables.NotInTable:
        return ""
    size = next((s for s in sizes if _tried(replace(known, trade_size=s), area_in2, count)), None)
    if size is None:
        return "Use more than one raceway: none of this kind is large enough."
    at_least = "at least " if facts.missing or facts.foreign is not False else ""
    return f"Use {at_least}trade size {size} {facts.raceway}."


def _tried(facts: FillFacts, area_in2: float, count: int) -> bool:
    """Whether a raceway of this size takes the conductors, by the test that judges it."""
    area, share, _ = _inside(facts, count)
    return area is not None and _state(facts, area_in2, area_in2, area, share, count)[0] == "pass"
