"""Existing load from a demand record, 220.87 (2026: 120.87), rule LOAD-1.

Whether a record may be used at all, the demand it shows, and the test of demand and new load against a rating. A spot
reading with a clamp never counts.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from math import sqrt

from oneline import tables
from oneline.rules.common import (
    Condition,
    Fact,
    Subject,
    at_most,
    compared,
    computed,
    judged,
    listed,
    looked_up,
    number,
    section,
    verdict,
    worst,
)
from oneline.rules.verdict import Verdict, WorkLine

_RULE = "LOAD-1"


@dataclass(frozen=True)
class RecordFacts:
    """A demand record and what stands around it; ``None`` is unknown.

    ``volts``: line to line (of a two-wire system between its conductors); ``three_phase``: whether the point has three
    phases; ``phases``: how many ungrounded conductors. ``generation``: names of solar arrays and batteries that feed
    behind the meter. ``protected``: whether an overcurrent device protects the conductors the record was taken on.
    ``new_va``: calculated new load in VA. ``rating_a``: of the service or feeder; ``rating_of``: what has that rating.
    ``system_need``: what to find out
    where the system is not known.
    """

    subject: Subject
    edition: int
    volts: float | None = None
    three_phase: bool | None = None
    phases: int | None = None
    peak_kw: float | None = None
    peak_kva: float | None = None
    peak_a: float | None = None
    power_factor: float | None = None
    period_days: float | None = None
    interval_min: float | None = None
    occupied: bool | None = None
    seasonal_included: bool | None = None
    generation: tuple[str, ...] = ()
    protected: bool | None = None
    new_va: Fact = field(default_factory=lambda: Fact(0.0))
    rating_a: Fact = field(default_factory=lambda: Fact(None, need="rating of the service or feeder"))
    rating_of: str = ""
    basis: str = "entered"
    system_need: str = "system voltage"


@dataclass(frozen=True)
class RecordedDemand:
    """Largest demand of a record in VA (``None`` where it cannot be told), its lines, assumptions and missing facts."""

    va: float | None
    lines: tuple[WorkLine, ...] = ()
    assumed: tuple[str, ...] = ()
    needs: tuple[str, ...] = ()


def recorded_demand(facts: RecordFacts) -> RecordedDemand:
    """The record's peak in VA: as recorded, from kilowatts by the power factor, or from the highest-loaded phase."""
    name = facts.subject.name
    if facts.peak_kva is not None:
        line = computed("Recorded demand", "1000 * peak", "VA", "record", peak=facts.peak_kva)
        return RecordedDemand(_figure(line), (line,), _balanced(facts))
    if facts.peak_kw is not None:
        assumed = facts.power_factor is None
        power_factor = tables.limit_value("power_factor_assumed") if facts.power_factor is None else facts.power_factor
        line = computed(
            "Recorded demand", "1000 * peak / power_factor", "VA", "record", peak=facts.peak_kw,
            power_factor=power_factor,
        )  # fmt: skip
        taken = (f"power factor {power_factor:g}",) if assumed else ()
        return RecordedDemand(_figure(line), (line,), (*taken, *_balanced(facts)))
    if facts.peak_a is not None:
        if facts.volts is None or facts.three_phase is None:
            return RecordedDemand(None, needs=(facts.system_need,))
        line = computed(
            "Recorded demand, highest phase on all phases", "factor * volts * peak", "VA", "record",
            factor=sqrt(3) if facts.three_phase else 1.0, volts=facts.volts, peak=facts.peak_a,
        )  # fmt: skip
        return RecordedDemand(_figure(line), (line,))
    return RecordedDemand(None, needs=(f"peak of the demand record at {name}",))


def least_demand_va(facts: RecordFacts) -> float | None:
    """What the load certainly was, in VA: without a power factor kilowatts are the least of the kilovolt-amperes."""
    known = facts.peak_kw is None or facts.power_factor is not None
    return recorded_demand(facts if known else replace(facts, power_factor=1.0)).va


def _balanced(facts: RecordFacts) -> tuple[str, ...]:
    """A total does not tell the phases: divided evenly, which only a record of the highest phase could confirm."""
    return () if facts.phases == 1 else ("recorded demand balanced on the phases",)


def record_conditions(facts: RecordFacts) -> list[Condition]:
    """Conditions for using a record at all: its length, what it shows, protection, no generation behind the meter."""
    name = facts.subject.name
    return [*_length(facts, name), _protection(facts, name), *_generation(facts, name)]


def record_state(facts: RecordFacts) -> tuple[str, tuple[str, ...]]:
    """Whether the existing load may be taken from the record, and what to find out where that is not known.

    "pass", "fail", "judge" or "unknown". Generation behind the meter decides before anything that is not known.
    """
    conditions = record_conditions(facts)
    states = {c.state for c in conditions}
    state = next((s for s in ("fail", "judge", "unknown") if s in states), "pass")
    return state, tuple(n for c in conditions if c.state == "unknown" for n in c.needs) if state == "unknown" else ()


def _length(facts: RecordFacts, name: str) -> list[Condition]:
    year, least = tables.limit_value("demand_record_days"), tables.limit_value("demand_record_short_days")
    days = Fact(facts.period_days, basis=facts.basis, need=f"length of the demand record at {name}")
    of = f"The demand record at {name}"
    if days.value is None:
        text = f"Whether the demand record at {name} is long enough is not known yet: a year of maximum demand is asked for."
        return [Condition("unknown", text, limit=year, unit="days", relation="at least", needs=days.needs)]
    covers = f"{of} covers {number(days.value)} days"
    if days.value >= year:
        text = f"{covers}, a year of maximum demand."
        return [Condition("pass", text, days.value, year, "days", "at least", basis=facts.basis)]
    if days.value < least:
        text = f"{covers}, {number(least - days.value)} short of the {number(least)} days that the short way takes."
        return [Condition("fail", text, days.value, least, "days", "at least", basis=facts.basis)]
    interval = Fact(
        facts.interval_min, low=0.0, basis=facts.basis, need=f"averaging interval of the demand record at {name}"
    )
    longest = tables.limit_value("demand_record_interval_min")
    averaged = (
        f"Whether the demand record at {name} was averaged over {number(longest)} minutes or less is not known yet."
        if interval.value is None
        else f"{of} was averaged over {number(interval.value)} minutes; {number(longest)} minutes is the most."
    )
    return [
        Condition("pass", f"{covers}, {number(least)} being enough.", days.value, least, "days", "at least"),
        at_most(interval, Fact(longest), averaged, "min"),
        _flag(
            facts.occupied, f"The building was in normal use while {name} was recorded.",
            f"The building was not in normal use while {name} was recorded.",
            f"Whether the building was in normal use while {name} was recorded",
            f"whether the building was in normal use while {name} was recorded",
        ),
        _flag(
            facts.seasonal_included, f"{of} has the larger of heating and cooling in it.",
            f"{of} lacks the larger of heating and cooling, which has to be added.",
            f"Whether the demand record at {name} has the larger of heating and cooling in it",
            f"whether the larger of heating and cooling is in the demand record at {name}",
        ),
    ]  # fmt: skip


def _protection(facts: RecordFacts, name: str) -> Condition:
    return _flag(
        facts.protected, f"An overcurrent device protects what {name} measures.",
        f"No overcurrent device protects what {name} measures.",
        f"Whether an overcurrent device protects what {name} measures",
        f"overcurrent device that protects the conductors {name} measures",
    )  # fmt: skip


def _short_days() -> str:
    """ "30 days": the length of a record by the short way."""
    return f"{number(tables.limit_value('demand_record_short_days'))} days"


def _interval() -> str:
    """ "15-minute": how the short way is averaged at the longest."""
    return f"{number(tables.limit_value('demand_record_interval_min'))}-minute"


def _generation(facts: RecordFacts, name: str) -> list[Condition]:
    if not facts.generation:
        return []
    sources = listed(facts.generation)
    return [
        Condition(
            "judge",
            f"{sources} can feed behind {name}, so its demand record shows less than the building uses and may not be "
            f"taken. Ask the authority whether {_interval()} data of what the building itself took is acceptable.",
            needs=(f"answer of the authority on demand data with {sources}",),
        )
    ]


def _flag(value: bool | None, good: str, bad: str, unknown: str, need: str) -> Condition:
    if value is None:
        return Condition("unknown", f"{unknown} is not known yet.", needs=(need,))
    return Condition("pass", good) if value else Condition("fail", bad)


def existing_load(facts: RecordFacts) -> Verdict:
    """LOAD-1: 125 % of the recorded maximum demand and the new load against the rating (220.87)."""
    demand = recorded_demand(facts)
    conditions = record_conditions(facts)
    lines = list(demand.lines)
    if demand.va is not None:
        lines.append(_test_line(facts, demand.va))
        conditions.insert(0, _test(facts, demand))
    else:
        text = f"The demand recorded at {facts.subject.name} is not known yet."
        conditions.append(Condition("unknown", text, needs=demand.needs))
    if facts.generation:
        # Not permitted as long as nobody decided otherwise: what else is not known about the record does not matter.
        conditions = [c for c in conditions if c.state in ("judge", "fail")]
    lines += _rating_lines(facts)
    checks = [f"See which loads {facts.subject.name} really measures, and what was off during the record."]
    if facts.peak_a is None and demand.va is not None and _balanced(facts):
        checks.append(
            f"Highest phase current of the demand record at {facts.subject.name}: its total hides the unbalance."
        )
    remedy = ""
    if worst(c.state for c in conditions) == "fail":
        remedy = (
            f"Record {_short_days()} of {_interval()} demand with the building in use, get a year of the utility's demand "
            "data, or calculate the load from the connected equipment."
        )
    return judged(
        _RULE, facts.subject, facts.edition, conditions, work=tuple(lines), remedy=remedy, alternative=True,
        field_checks=tuple(checks),
    )  # fmt: skip


def _test_line(facts: RecordFacts, demand_va: float) -> WorkLine:
    return computed(
        "Existing and new load as counted", "factor * demand + new", "VA", section(_RULE, facts.edition),
        factor=tables.limit_value("demand_record_factor"), demand=demand_va, new=facts.new_va.least or 0.0,
    )  # fmt: skip


def _rating_lines(facts: RecordFacts) -> list[WorkLine]:
    if facts.rating_a.value is None or facts.volts is None or facts.three_phase is None:
        return [looked_up(facts.rating_of or "Rating", facts.rating_a.value, "A", facts.rating_a.name)]
    factor = sqrt(3) if facts.three_phase else 1.0
    return [
        computed(f"{facts.rating_of or 'Rating'} in VA", "factor * volts * rating", "VA", factor=factor,
                 volts=facts.volts, rating=facts.rating_a.value)
    ]  # fmt: skip


def _test(facts: RecordFacts, demand: RecordedDemand) -> Condition:
    """The inequality itself, in kVA."""
    assert demand.va is not None
    factor = tables.limit_value("demand_record_factor")
    new = facts.new_va
    total = Fact(
        None if new.value is None else (factor * demand.va + new.value) / 1000,
        low=None if new.least is None else (factor * demand.va + new.least) / 1000,
        high=None if new.most is None else (factor * demand.va + new.most) / 1000,
        basis="assumed" if demand.assumed else facts.basis, need=new.need, name="recorded demand",
        assumed=demand.assumed, also=new.also,
    )  # fmt: skip
    if facts.volts is None or facts.three_phase is None:
        limit = Fact(None, need=facts.system_need)
    else:
        per_a = facts.volts * (sqrt(3) if facts.three_phase else 1.0) / 1000
        limit = Fact(
            _times(facts.rating_a.value, per_a), _times(facts.rating_a.low, per_a), _times(facts.rating_a.high, per_a),
            facts.rating_a.basis, facts.rating_a.need, facts.rating_a.name,
        )  # fmt: skip
    return at_most(total, limit, _test_sentence(facts, total, limit), "kVA")


def _test_sentence(facts: RecordFacts, total: Fact, limit: Fact) -> str:
    name, of = facts.subject.name, facts.rating_of or "the rating"
    words = compared(total, limit, "over", "left", "kVA", most=True)
    if words is None:
        known = f": {_kva_of(total.least)} counted so far" if total.least is not None else ""
        return f"Whether {of} carries the demand recorded at {name} and the new load is not known yet{known}."
    counted = f"{words.value} of recorded and new load, as counted, of {words.limit}"
    if words.gap.endswith("over"):
        return f"By the demand record at {name}, {of} is {words.gap}: {counted}."
    left = "nothing" if words.gap.endswith("exactly") else words.gap.removesuffix(" left")
    return f"By the demand record at {name}, {of} has {left} left: {counted}."


def _times(value: float | None, factor: float) -> float | None:
    return None if value is None else value * factor


def _kva_of(kva: float | None) -> str:
    return "not known yet" if kva is None else f"{number(kva)} kVA"


def spot_reading(subject: Subject, edition: int, when: str) -> Verdict:
    """Said where clamp readings stand at a service or meter without a demand record."""
    message = (
        f"The reading at {subject.name} of {when} is a spot value: it tells what opening a device would interrupt, not "
        "what may be added."
    )
    return verdict(
        _RULE, subject, edition, "advice", message,
        remedy=f"Get a year of the utility's demand data, or record {_short_days()} with the building in use.",
    )  # fmt: skip


def _figure(line: WorkLine) -> float:
    assert isinstance(line.value, float)
    return line.value
