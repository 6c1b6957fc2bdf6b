"""Circuits kept together (RWY-2, RWY-3), auxiliary gutters (RWY-4), pull boxes (RWY-5) and nipples (RWY-6)."""

from __future__ import annotations

from dataclasses import dataclass, replace

from oneline import tables
from oneline.rules.common import (
    Condition,
    Fact,
    Subject,
    at_least,
    at_most,
    compared,
    computed,
    feet_inches,
    judged,
    looked_up,
    number,
    scaled,
    section,
    unique,
    verdict,
)
from oneline.rules.verdict import Verdict, WorkLine


# ------------------------------------------------------------------------------------------------ circuits together
def kept_together(run: Subject, edition: int, sets: int | None, together: bool | None, metal: bool | None) -> Verdict:
    """RWY-2 of a run in several sets, or of one that somebody said is split. ``metal``: whether its raceway is metal."""
    name = run.name
    need = f"whether each raceway of {name} holds all conductors of a circuit: phases, neutral and grounding conductor"
    check = f"Each raceway of {name}: one of every phase, the neutral and a grounding conductor."
    if together:
        text = f"Each raceway of {name} holds a whole circuit: phases, neutral and grounding conductor."
        return verdict("RWY-2", run, edition, "pass", text)
    if together is None:
        many = f"its {sets} sets" if sets else "its sets"
        text = f"Whether each raceway of {name} holds a whole circuit of {many} is not known yet."
        return verdict("RWY-2", run, edition, "unknown", text, needs=(need,), field_checks=(check,))
    text = f"The conductors of {name} are split: a raceway of it does not hold all conductors of a circuit."
    remedy = "Put phases, neutral and grounding conductor of a circuit in the same raceway, in each one of parallel raceways."
    if metal is False:
        more = (
            "Isolated phases may lie in nonmetallic raceways underground only, where no steel surrounds a part of them."
        )
        return verdict("RWY-2", run, edition, "judge", f"{text} {more}", remedy=remedy, field_checks=(check,))
    return verdict(
        "RWY-2", run, edition, "fail", f"{text} Steel around some of them heats.", remedy=remedy, field_checks=(check,)
    )  # fmt: skip


def through_steel(run: Subject, edition: int, slotted: bool | None) -> Verdict:
    """RWY-3: single conductors where they pass a steel wall."""
    name = run.name
    if slotted:
        text = f"The single conductors of {name} pass steel together, or the metal between their holes is slotted."
        return verdict("RWY-3", run, edition, "pass", text)
    if slotted is None:
        text = f"Whether the single conductors of {name} pass steel walls through holes of their own is not known yet."
        need = f"holes of {name} in steel: one for all, or slots between them"
        return verdict("RWY-3", run, edition, "unknown", text, needs=(need,))
    text = f"The single conductors of {name} pass steel through holes of their own, and the steel between them heats."
    remedy = "Pass all of them through one hole, cut slots between the holes, or use a plate that is not magnetic."
    return verdict("RWY-3", run, edition, "fail", text, remedy=remedy)


def nipple(run: Subject, edition: int, length: Fact) -> Verdict:
    """RWY-6: what a short raceway is let off."""
    limit = Fact(tables.limit_value("nipple_length_in") / 12)
    share = number(100 * tables.fill_limit(int(tables.limit_value("ampacity_conductors")), True))
    text = (
        f"{run.name} is {feet_inches(length.value)} long, no more than {feet_inches(limit.value)}: its conductors need no "
        f"adjustment for their number, and may fill {share} % of the raceway."
    )
    condition = at_most(length, limit, text, "ft")
    return judged("RWY-6", run, edition, [condition])


# ------------------------------------------------------------------------------------------------------- gutters
@dataclass(frozen=True)
class GutterFacts:
    """An auxiliary gutter. Areas in square inches: ``space`` the cross section, ``passing`` the conductors at the fullest
    place, ``spliced`` the same with splices and taps. ``count``: current-carrying conductors at the fullest place.
    ``length``: ft beyond the equipment. ``asked``: whether what is not entered is asked for."""

    subject: Subject
    edition: int
    space: Fact
    passing: Fact
    spliced: Fact
    count: Fact
    length: Fact
    asked: bool = True


def gutter(facts: GutterFacts) -> Verdict | None:
    """RWY-4 of a gutter: fill, splices, length; ``None`` where nothing is entered and nothing is asked."""
    pct, spliced_pct = tables.limit_value("wireway_fill_pct"), tables.limit_value("wireway_splice_fill_pct")
    name, most_ft = facts.subject.name, Fact(tables.limit_value("gutter_length_ft"))
    conditions = [
        _share(facts, facts.passing, pct, "the conductors", "have conductors that fill no more than"),
        _share(
            facts, facts.spliced, spliced_pct, "conductors, splices and taps",
            "have splices and taps that fill no more than",
        ),
        _gutter_length(facts, most_ft),
    ]  # fmt: skip
    if not facts.asked:
        conditions = [c for c in conditions if c.state in ("pass", "fail")]
    if not conditions:
        return None
    over = tables.limit_value("wireway_adjust_over")
    if facts.count.least is not None and facts.count.least > over:
        text = (
            f"{name} holds {number(facts.count.least)} current-carrying conductors or more at one place, over "
            f"{number(over)}: their ampacity has to be adjusted for all of them."
        )
        conditions.append(Condition("judge", text, facts.count.least, over, "", "at most"))
    lines: list[WorkLine] = []
    if facts.space.value is not None:
        lines = [
            looked_up("Cross section", facts.space.value, "in²"),
            computed("Room for conductors", "share / 100 * space", "in²", section("RWY-4-gutter", facts.edition),
                     share=pct, space=facts.space.value),
            computed("Room for conductors, splices and taps", "share / 100 * space", "in²",
                     section("RWY-4-gutter", facts.edition), share=spliced_pct, space=facts.space.value),
        ]  # fmt: skip
    failing = any(c.state == "fail" for c in conditions)
    remedy = _gutter_remedy(facts, pct, spliced_pct) if failing else ""
    return judged(
        "RWY-4", facts.subject, facts.edition, conditions, section=section("RWY-4-gutter", facts.edition), work=lines,
        remedy=remedy,
    )  # fmt: skip


def _share(facts: GutterFacts, area: Fact, pct: float, what: str, must: str) -> Condition:
    limit = scaled(facts.space, pct / 100)
    words = compared(area, limit, "over", "inside", "in²", most=True)
    text = f"Whether {what} in {facts.subject.name} leave enough room is not known yet: {number(pct)} % may be filled."
    if words is not None:
        cap = what[:1].upper() + what[1:]
        share = f"{number(pct)} % of it"
        text = f"{cap} in {facts.subject.name} take {words.value}, {words.gap} the {words.limit} that {share} is."
    return at_most(area, limit, text, "in²", must=f"{must} {number(pct)} %")


def _gutter_length(facts: GutterFacts, most: Fact) -> Condition:
    words = compared(facts.length, most, "over", "inside", "ft", most=True)
    text = f"Whether {facts.subject.name} is short enough is not known yet: {feet_inches(most.value)} beyond the equipment."
    if words is not None:
        text = f"{facts.subject.name} goes {words.value} beyond the equipment, {words.gap} the {words.limit} allowed."
    return at_most(
        facts.length, most, text, "ft", must=f"go no more than {feet_inches(most.value)} beyond the equipment"
    )


def _gutter_remedy(facts: GutterFacts, pct: float, spliced_pct: float) -> str:
    needed = [
        100 * area.least / share
        for area, share in ((facts.passing, pct), (facts.spliced, spliced_pct))
        if area.least and facts.space.most is not None and area.least > facts.space.most * share / 100
    ]
    parts = [f"use a gutter of at least {number(max(needed), rounding='up')} in² cross section"] if needed else []
    if facts.length.least is not None and facts.length.least > tables.limit_value("gutter_length_ft"):
        parts.append("run it as a wireway beyond that length")
    text = " and ".join(parts)
    return f"{text[:1].upper()}{text[1:]}." if text else ""


# ---------------------------------------------------------------------------------------------------- pull boxes
@dataclass(frozen=True)
class BoxFacts:
    """A box that conductors are pulled through. ``raceways``: trade sizes of its raceways in inches, ``missing`` what is
    not known of them. ``pull``: "straight" or "angle". ``distance``: inches from the entry to the opposite wall."""

    subject: Subject
    edition: int
    raceways: tuple[float, ...]
    pull: str | None
    distance: Fact
    missing: tuple[str, ...] = ()


def pull_box(facts: BoxFacts) -> Verdict:
    """RWY-5: room for pulling and bending conductors of 4 AWG and larger."""
    name = facts.subject.name
    straight, angle = tables.limit_value("pull_straight_factor"), tables.limit_value("pull_angle_factor")
    largest, rest = max(facts.raceways, default=None), sorted(facts.raceways)[:-1]
    needs = [*facts.missing]
    if facts.pull is None:
        needs.append(f"whether conductors go straight through {name} or turn in it")
    if len(rest) > 1 and facts.pull == "angle":
        needs.append(f"which raceways enter {name} in one row on one wall")
    lines: list[WorkLine] = []
    if largest is None:
        limit = Fact(None)
    else:
        low_by = {"straight": straight, "angle": angle}.get(facts.pull or "", min(straight, angle))
        # Where they turn, the one they go to is on another wall; any of the others may be in the same row.
        row = sum(rest) - min(rest, default=0.0)
        highs = {"straight": straight * largest, "angle": angle * largest + row}
        high = highs.get(facts.pull or "", max(highs.values()))
        low = low_by * largest
        known = None if facts.missing or facts.pull is None or low != high else low
        limit = Fact(known, low, None if facts.missing else high)
        lines.append(
            computed("Least distance, by the largest raceway", "factor * largest", "in", section("RWY-5", facts.edition),
                     factor=low_by, largest=largest)
        )  # fmt: skip
    need, *also = unique(needs) or ("",)
    limit = replace(limit, need=need, also=tuple(also))
    words = compared(facts.distance, limit, unit="in")
    text = f"Whether {name} has room to pull its conductors is not known yet"
    text += f": {number(limit.least)} in at least." if limit.least else "."
    if words is not None:
        text = (
            f"{name} has {words.value} to the opposite wall, {words.gap} the {words.limit} that its raceways ask for."
        )
    condition = at_least(facts.distance, limit, text, "in")
    remedy = (
        f"Use a box at least {number(limit.least or 0, rounding='up')} in long." if condition.state == "fail" else ""
    )
    check = f"Bending space at the lugs where the new conductors through {name} land."
    return judged("RWY-5", facts.subject, facts.edition, [condition], work=lines, remedy=remedy, field_checks=(check,))
