"""Room to work at equipment (110.26), where overcurrent devices stand (240.24), wiring space in cabinets (312.8)."""

from __future__ import annotations

from dataclasses import dataclass

from oneline import tables
from oneline.rules.common import (
    Condition,
    Fact,
    Subject,
    at_least,
    at_most,
    bounded_amperes,
    compared,
    feet_inches,
    judged,
    listed,
    looked_up,
    number,
    section,
    unique,
    verdict,
)
from oneline.rules.verdict import Verdict, WorkLine

#: What stands opposite, as the condition of the table of working depths.
_CONDITION_OF = {"nothing live or grounded": 1, "grounded parts": 2, "live parts": 3}
#: Nominal volts to ground that stand for each row of that table.
_ROWS_V = (120.0, 277.0, 1000.0)
_INCHES = 12.0
_NOT_KNOWN = Fact(None)
_BOTH_ENDS = 2
#: Part of the rule in edition_starts.csv.
_SUMMED = "work_entrances_summed"


@dataclass(frozen=True)
class SpaceFacts:
    """The space in front of a piece of equipment, feet; ``None`` where not measured.

    ``volts_to_ground``: nominal, ``None`` where the system is not known. ``opposite``: as in the drawing.
    ``equipment_width``/``equipment_height``: of the equipment. ``rating``: of the equipment, amperes; ``summed``: of all
    service disconnects at the place together. ``entrances``, ``egress``, ``hardware``: as in the drawing.
    """

    subject: Subject
    edition: int
    volts_to_ground: float | None
    opposite: str | None
    depth: Fact
    width: Fact
    height: Fact
    equipment_width: Fact = _NOT_KNOWN
    equipment_height: Fact = _NOT_KNOWN
    rating: Fact = _NOT_KNOWN
    summed: Fact = _NOT_KNOWN
    entrances: int | None = None
    egress: bool | None = None
    hardware: bool | None = None
    #: Space above and below free of what does not belong to it; ``asked``: whether that is asked of this equipment.
    dedicated: bool | None = None
    dedicated_asked: bool = False
    system_need: str = "system voltage"

    @property
    def measured(self) -> bool:
        """Whether anything of the space itself is known."""
        given = (
            self.opposite,
            self.depth.value,
            self.width.value,
            self.height.value,
            self.entrances,
            self.hardware,
            self.dedicated,
        )
        return any(x is not None for x in given)


def least_depth(volts_to_ground: float | None, opposite: str | None) -> Fact:
    """Least depth in feet; bounds over what is not known of the voltage and of what is opposite."""
    rows_v = _ROWS_V if volts_to_ground is None else (volts_to_ground,)
    conditions = tuple(_CONDITION_OF.values()) if opposite is None else (_CONDITION_OF[opposite],)
    depths = [tables.working_depth_ft(v, c) for v in rows_v for c in conditions]
    low, high = min(depths), max(depths)
    return Fact(low) if low == high else Fact(None, low, high)


def working_space(facts: SpaceFacts) -> Verdict:
    """SVC-10: depth, width, height, entrances and doors of the working space. One question while nothing is measured."""
    name = facts.subject.name
    if not facts.measured:
        needs = [f"clear depth, width and height in front of {name}, and what is opposite it"]
        if facts.dedicated_asked and facts.dedicated is None:
            needs[0] = (
                f"clear depth, width and height in front of {name}, what is opposite it, and whether the space above and "
                "below it is free of foreign piping"
            )
        depth = least_depth(facts.volts_to_ground, None)
        known = feet_inches(depth.least)
        most = "" if depth.value is not None else f" to {feet_inches(depth.most)}, by what is opposite"
        text = f"Whether {name} has its working space is not known yet: it needs {known}{most} of clear depth."
        return verdict("SVC-10", facts.subject, facts.edition, "unknown", text, needs=tuple(needs), work=_lines(facts))
    conditions = [_depth(facts), _width(facts), _height(facts), *_entrances(facts), *_doors(facts), *_dedicated(facts)]
    passes = f"{name} has its working space: {feet_inches(facts.depth.value)} of clear depth in front of it."
    check = f"The space in front of {name} and above it is kept clear: no storage, no foreign piping."
    return judged(
        "SVC-10", facts.subject, facts.edition, conditions, pass_message=passes, work=_lines(facts),
        remedy=_space_remedy(conditions), field_checks=(check,),
    )  # fmt: skip


def _dedicated_need(name: str) -> str:
    above = feet_inches(tables.limit_value("dedicated_space_above_ft"))
    return (
        f"whether the space above {name}, {above} or to the ceiling, and below it is free of foreign piping and ducts"
    )


def _dedicated(facts: SpaceFacts) -> list[Condition]:
    """The dedicated space of panels and switchboards (110.26(E))."""
    if facts.dedicated is None and not facts.dedicated_asked:
        return []
    name = facts.subject.name
    above = feet_inches(tables.limit_value("dedicated_space_above_ft"))
    if facts.dedicated is None:
        text = f"Whether the dedicated space of {name} is free of foreign piping is not known yet."
        return [Condition("unknown", text, needs=(_dedicated_need(name),))]
    if facts.dedicated:
        return [Condition("pass", f"The space above and below {name} is free of foreign piping.")]
    cited = section("SVC-10-dedicated", facts.edition)
    text = f"Piping, ducts or other foreign equipment are in the dedicated space of {name}, up to {above} above it ({cited})."
    return [Condition("fail", text, must=f"have nothing foreign in its space up to {above} above it")]


def _lines(facts: SpaceFacts) -> tuple[WorkLine, ...]:
    volts = facts.volts_to_ground
    return (
        looked_up("Volts to ground, nominal", volts, "V"),
        looked_up("Opposite", facts.opposite, ""),
        looked_up(
            "Least depth", least_depth(volts, facts.opposite).value, "ft", section("TABLE-working-space", facts.edition)
        ),
    )


def _space_remedy(conditions: list[Condition]) -> str:
    musts = unique(c.must for c in conditions if c.state == "fail" and c.must)
    return f"It must {listed(musts)}: move what stands there, or place the equipment elsewhere." if musts else ""


def _depth(facts: SpaceFacts) -> Condition:
    limit, name = least_depth(facts.volts_to_ground, facts.opposite), facts.subject.name
    needs = []
    if facts.opposite is None:
        needs.append(f"what is opposite {name}: nothing live or grounded, grounded parts, or live parts")
    if facts.volts_to_ground is None:
        needs.append(facts.system_need)
    need, *also = needs or ("",)
    limit = Fact(limit.value, limit.low, limit.high, need=need, also=tuple(also))
    words = compared(facts.depth, limit, "more than", "short of", "ft")
    text = f"Whether the depth in front of {name} is enough is not known yet."
    if words is not None:
        text = f"{name} has {words.value} of clear depth, {words.gap} the {words.limit} it needs."
    must = f"have {feet_inches(limit.most)} of clear depth"
    return at_least(facts.depth, limit, text, "ft", must=must)


def _width(facts: SpaceFacts) -> Condition:
    least = tables.limit_value("work_width_in") / _INCHES
    return _against_equipment(facts, facts.width, facts.equipment_width, least, "width")


def _height(facts: SpaceFacts) -> Condition:
    least = tables.limit_value("work_height_ft")
    return _against_equipment(facts, facts.height, facts.equipment_height, least, "height")


def _against_equipment(facts: SpaceFacts, clear: Fact, own: Fact, least_ft: float, what: str) -> Condition:
    """A clear dimension against the larger of a figure and the equipment's own, which may not be known."""
    name = facts.subject.name
    limit = Fact(None, least_ft, None, need=own.need)
    if own.value is not None:
        limit = Fact(max(own.value, least_ft), basis=own.basis, name=own.name)
    words = compared(clear, limit, "more than", "short of", "ft")
    text = f"Whether the {what} in front of {name} is enough is not known yet."
    if words is not None:
        text = f"{name} has {words.value} of clear {what}, {words.gap} the {words.limit} it needs."
    return at_least(clear, limit, text, "ft", must=f"have {feet_inches(limit.least)} of clear {what}")


def _entrances(facts: SpaceFacts) -> list[Condition]:
    """Large and wide equipment has an entrance at each end of its space, unless the way out is clear or deep."""
    limit_a, limit_ft = tables.limit_value("work_two_entrances_a"), tables.limit_value("work_two_entrances_ft")
    rating = facts.rating
    summed = tables.applies(_SUMMED, facts.edition) and (facts.summed.least or 0.0) > (rating.least or 0.0)
    if summed:
        rating = facts.summed
    wide = facts.equipment_width
    if (rating.most is not None and rating.most < limit_a) or (wide.value is not None and wide.value <= limit_ft):
        return []
    name = facts.subject.name
    if (rating.least or 0.0) < limit_a:
        text = f"Whether {name} needs an entrance at each end of its space is not known yet: its rating decides."
        return [Condition("unknown", text, needs=unique((*rating.needs, *wide.needs)))]
    large = f"{name} ({bounded_amperes(rating)})"
    cited = section("SVC-10-entrance", facts.edition)
    if wide.value is None:
        text = (
            f"Whether {large} needs an entrance at each end of its space is not known yet: over {feet_inches(limit_ft)} "
            f"wide it does."
        )
        return [Condition("unknown", text, needs=wide.needs)]
    if facts.egress:
        return [Condition("pass", f"{large} has a clear or deep way out, so one entrance is enough ({cited}).")]
    if facts.entrances is None:
        text = f"Whether {large} has an entrance at each end of its space is not known yet."
        return [Condition("unknown", text, needs=(f"number of entrances to the space at {name}",))]
    if facts.entrances >= _BOTH_ENDS:
        return [Condition("pass", f"The space at {large} has {facts.entrances} entrances.")]
    must = "have an entrance at each end of its space"
    count = "one entrance" if facts.entrances else "no entrance"
    text = f"The space at {large}, {feet_inches(wide.value)} wide, has {count} and needs one at each end."
    if facts.egress is None:
        need = f"whether the way out from {name} is unobstructed, or the space twice as deep"
        return [Condition("unknown", f"{text[:-1]}, unless the way out is clear.", needs=(need,))]
    return [Condition("fail", text, must=must)]


def _doors(facts: SpaceFacts) -> list[Condition]:
    limit_a, name = tables.limit_value("work_panic_hardware_a"), facts.subject.name
    rating = facts.summed if (facts.summed.least or 0.0) > (facts.rating.least or 0.0) else facts.rating
    if (rating.most is not None and rating.most < limit_a) or facts.hardware:
        return []
    if (rating.least or 0.0) < limit_a:
        text = f"Whether the doors near {name} need panic hardware is not known yet: its rating decides."
        return [Condition("unknown", text, needs=rating.needs)]
    within = feet_inches(tables.limit_value("work_panic_door_ft"))
    large = f"{name} ({bounded_amperes(rating)})"
    must = "have doors near it that open outward with panic hardware"
    if facts.hardware is None:
        text = f"Whether the doors within {within} of {large} open outward with panic hardware is not known yet."
        return [Condition("unknown", text, needs=(f"personnel doors within {within} of {name}: swing and hardware",))]
    return [
        Condition("fail", f"A door within {within} of {large} does not open outward with panic hardware.", must=must)
    ]


# ------------------------------------------------------------------------------------------- device places (SVC-11)
@dataclass(frozen=True)
class DevicePlaceFacts:
    """Where an overcurrent device stands. ``handle``: highest position of the grip above the floor, feet; ``accessible``:
    readily accessible; ``excluded``: over stairs, in a bathroom or near easily ignited material."""

    subject: Subject
    edition: int
    handle: Fact
    accessible: bool | None
    excluded: bool | None


def device_place(facts: DevicePlaceFacts) -> Verdict:
    """SVC-11: readily accessible, grip not too high, not in an excluded place (240.24)."""
    name = facts.subject.name
    limit = Fact(tables.limit_value("handle_height_in") / _INCHES)
    conditions: list[Condition] = []
    if facts.handle.value is None and facts.accessible is None and facts.excluded is None:
        most = feet_inches(limit.value)
        text = f"Whether {name} can be reached as it must be is not known yet: its handle at most {most} up."
        need = f"where {name} stands: highest handle position, readily accessible, not over stairs or near what ignites"
        return verdict("SVC-11", facts.subject, facts.edition, "unknown", text, needs=(need,))
    words = compared(facts.handle, limit, "over", "inside", "ft", most=True)
    text = f"How high the handle of {name} is is not known yet."
    if words is not None:
        text = f"The handle of {name} reaches {words.value} up, {words.gap} the {words.limit} allowed."
    conditions.append(
        at_most(facts.handle, limit, text, "ft", must=f"have its handle at most {feet_inches(limit.value)} up")
    )
    conditions.append(
        _flag(
            facts.accessible,
            name,
            "is readily accessible",
            "be readily accessible",
            f"whether {name} is readily accessible",
        )
    )
    clear = None if facts.excluded is None else not facts.excluded
    conditions.append(
        _flag(
            clear, name, "is away from stairs, bathrooms and what ignites easily",
            "stand away from stairs, bathrooms and what ignites easily",
            f"whether {name} is over stairs, in a bathroom or near what ignites easily",
        )
    )  # fmt: skip
    musts = unique(c.must for c in conditions if c.state == "fail")
    remedy = f"{name} must {listed(musts)}." if musts else ""
    return judged("SVC-11", facts.subject, facts.edition, conditions, remedy=remedy)


def _flag(holds: bool | None, name: str, does: str, must: str, need: str) -> Condition:
    if holds is None:
        return Condition("unknown", f"Whether {name} {does} is not known yet.", needs=(need,), must=must)
    if holds:
        return Condition("pass", f"{name} {does}.", must=must)
    verb, _, rest = does.partition(" ")
    return Condition("fail", f"{name} {verb} not {rest}.", must=must)


# --------------------------------------------------------------------------------------------- wiring space (SVC-12)
@dataclass(frozen=True)
class WiringSpaceFacts:
    """Wiring space of a cabinet that is used for splices, taps or conductors that go through, square inches.

    ``space``: cross section; ``passing``: of the conductors that pass; ``filled``: of all there with splices and taps.
    ``marked``: the warning that names the closest disconnect of what passes. ``why``: what makes it matter, a phrase.
    """

    subject: Subject
    edition: int
    space: Fact
    passing: Fact
    filled: Fact
    marked: bool | None
    why: str = ""


def wiring_space(facts: WiringSpaceFacts) -> Verdict:
    """SVC-12: conductors that pass fill at most 40 %, with splices and taps at most 75 % of the cross section (312.8)."""
    name = facts.subject.name
    through_pct, splice_pct = (
        tables.limit_value("enclosure_pass_fill_pct"),
        tables.limit_value("enclosure_splice_fill_pct"),
    )
    why = f": {facts.why}" if facts.why else ""
    if all(f.value is None for f in (facts.space, facts.passing, facts.filled)):
        text = (
            f"Whether {name} has the wiring space for it is not known yet{why}. Splices and taps may fill "
            f"{number(splice_pct)} %, conductors that pass {number(through_pct)} %."
        )
        need = f"cross section of the wiring space in {name}, and of the conductors, splices and taps there"
        return verdict("SVC-12", facts.subject, facts.edition, "unknown", text, needs=(need,))
    conditions = [
        _fill(facts, facts.filled, splice_pct, "Conductors, splices and taps"),
        _fill(facts, facts.passing, through_pct, "Conductors that pass through"),
    ]
    if facts.passing.least:
        need = f"marking in {name} that names the closest disconnect of what passes through"
        conditions.append(
            _flag(
                facts.marked, name, "is marked with the closest disconnect of what passes through",
                "be marked with the closest disconnect of what passes through", need,
            )
        )  # fmt: skip
    failing = [c for c in conditions if c.state == "fail"]
    remedy = ""
    if failing:
        remedy = f"{name} must {listed(unique(c.must for c in failing))}; use a wireway or gutter beside it otherwise."
    return judged("SVC-12", facts.subject, facts.edition, conditions, remedy=remedy)


def _fill(facts: WiringSpaceFacts, area: Fact, most_pct: float, what: str) -> Condition:
    name, space = facts.subject.name, facts.space
    limit = Fact(
        None if space.value is None else space.value * most_pct / 100,
        basis=space.basis,
        need=space.need,
        name=space.name,
    )
    words = compared(area, limit, "over", "inside", "in²", most=True)
    text = f"Whether {what[:1].lower() + what[1:]} in {name} leave enough room is not known yet."
    if words is not None:
        share = f"{number(most_pct)} % of its wiring space"
        text = f"{what} in {name} take {words.value}, {words.gap} the {words.limit} allowed, {share}."
    return at_most(area, limit, text, "in²", must=f"keep {what[:1].lower() + what[1:]} to {number(most_pct)} %")
