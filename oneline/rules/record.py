"""Existing load from a demand record, 220.87 (2026: 120.87), rule LOAD-1.

Whether a record may be used at all, the demand it shows, and the test of demand and new load against a rating. A spot
reading with a clamp never counts.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date
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
from oneline.rules.record_facts import RecordedDemand as RecordedDemand
from oneline.rules.record_facts import RecordFacts as RecordFacts
from oneline.rules.record_facts import balanced, recorded_demand
from oneline.rules.record_facts import least_demand_va as least_demand_va
from oneline.rules.verdict import Verdict, WorkLine

_RULE = "LOAD-1"
#: What is short by less than this many days is not told in days.
_TENTH = 0.05


def record_conditions(facts: RecordFacts) -> list[Condition]:
    """Conditions for using a record at all: its length, what it shows, protection, no generation behind the meter."""
    return [*own_conditions(facts), _protection(facts, facts.subject.name)]


def own_conditions(facts: RecordFacts) -> list[Condition]:
    """Those of them that the record itself tells: its length and what it shows."""
    name = facts.subject.name
    return [*_dates(facts, name), *_length(facts, name), *_generation(facts, name)]


def record_state(facts: RecordFacts) -> tuple[str, tuple[str, ...]]:
    """Whether the existing load may be taken from the record, and what to find out where that is not known.

    "pass", "fail", "judge" or "unknown". Generation behind the meter decides before anything that is not known.
    """
    conditions = record_conditions(facts)
    states = {c.state for c in conditions}
    state = next((s for s in ("fail", "judge", "unknown") if s in states), "pass")
    return state, tuple(n for c in conditions if c.state == "unknown" for n in c.needs) if state == "unknown" else ()


def _dates(facts: RecordFacts, name: str) -> list[Condition]:
    """First and last day that contradict each other or the length of the record: nobody knows then how long it is.

    What begins some time on the first day and ends some time on the last is as long as all these days at the most, and
    longer than the days between.
    """
    if facts.start is None or facts.end is None:
        return []
    try:
        between = (date.fromisoformat(facts.end) - date.fromisoformat(facts.start)).days - 1
    except ValueError:
        between = None
    of, needs = f"The demand record at {name}", (f"dates of the demand record at {name}",)
    if between is None or between + 1 < 0:
        text = f"{of} ends on {facts.end}, before it begins on {facts.start}: how long it is, is not known yet."
        return [Condition("unknown", text, needs=needs)]
    if facts.period_days is None or between < facts.period_days <= between + 2:
        return []
    text = (
        f"{of} is said to be {number(facts.period_days)} days long, and {facts.start} to {facts.end} are "
        f"{between + 2} days: how long it is, is not known yet."
    )
    return [Condition("unknown", text, needs=needs)]


def _length(facts: RecordFacts, name: str) -> list[Condition]:
    """A year of maximum demand, or the short way: its days without a gap, its averages, and what was running."""
    year, least = tables.limit_value("demand_record_days"), tables.limit_value("demand_record_short_days")
    if facts.period_days is None:
        text = f"Whether the demand record at {name} is long enough is not known yet: a year of maximum demand is asked for."
        needs = (f"length of the demand record at {name}",)
        return [Condition("unknown", text, limit=year, unit="days", relation="at least", needs=needs)]
    of, days = f"The demand record at {name}", facts.period_days
    unbroken = _unbroken(facts)
    whole = unbroken is not None and unbroken >= days
    if days >= year and whole:
        text = f"{of} covers {number(days)} days, a year of maximum demand."
        enough = Condition("pass", text, days, year, "days", "at least", basis=facts.basis)
        return [enough, *_year_averages(facts, name)]
    if unbroken is None:
        text = f"How long the demand record at {name} goes without a gap is not known yet."
        needs = (f"longest part without a gap of the demand record at {name}",)
        return [Condition("unknown", text, limit=least, unit="days", relation="at least", needs=needs)]
    if unbroken >= least:
        return _short_way(facts, name, unbroken)
    if days >= year:
        return [_year_with_gaps(facts, name, unbroken)]
    covers = f"{of} covers" if whole else f"The longest part without a gap of the demand record at {name} has"
    short = number(least - unbroken) if least - unbroken >= _TENTH else "less than a tenth of a day"
    has = number(unbroken, rounding="down")
    text = f"{covers} {has} days, {short} short of the {number(least)} days that the short way takes."
    return [Condition("fail", text, unbroken, least, "days", "at least", basis=facts.basis)]


def _unbroken(facts: RecordFacts) -> float | None:
    """Days that were recorded in one piece: all of them where nobody tells of a gap, ``None`` where nobody measured it."""
    days = facts.period_days or 0.0
    if facts.unbroken_days is not None:
        return min(days, facts.unbroken_days)
    return None if facts.gaps else days


def _year_averages(facts: RecordFacts, name: str) -> list[Condition]:
    """A year of averages longer than utilities bill by does not show the highest demand: it lies within bounds."""
    longest = tables.limit_value("demand_record_utility_interval_min")
    if facts.interval_min is None:
        text = f"Over how long the demand record at {name} was averaged is not known yet: long averages hide its peak."
        needs = (f"averaging interval of the demand record at {name}",)
        return [Condition("unknown", text, limit=longest, unit="min", relation="at most", needs=needs)]
    if facts.interval_min <= longest:
        return []
    between = _hidden(facts)
    text = (
        f"The demand record at {name} is of {number(facts.interval_min)}-minute averages, which hide its highest "
        f"{_interval()} demand{between}. Ask the authority, or get {_interval()} data."
    )
    return [Condition("judge", text, facts.interval_min, longest, "min", "at most")]


def _hidden(facts: RecordFacts) -> str:
    """Between which figures the highest demand of a record with long averages lies, as a part of a sentence."""
    demand = recorded_demand(facts).va
    times = _times_hidden(facts)
    if demand is None or times == 1.0:
        return ""
    return f": it lies between {_kva_of(demand / 1000)} and {_kva_of(times * demand / 1000)}"


def _times_hidden(facts: RecordFacts) -> float:
    """How many times the recorded average the highest demand may be: all of an interval's energy in a part of it."""
    if facts.interval_min is None:
        return 1.0
    return max(1.0, facts.interval_min / tables.limit_value("demand_record_interval_min"))


def _year_with_gaps(facts: RecordFacts, name: str, unbroken: float) -> Condition:
    missing = "" if facts.coverage_pct is None else f", {number(100 - facts.coverage_pct)} % of it"
    gaps = "gaps" if facts.gaps is None else f"{facts.gaps} gap{'' if facts.gaps == 1 else 's'}"
    text = (
        f"The demand record at {name} covers {number(facts.period_days or 0.0)} days with {gaps}{missing}, in which the "
        f"highest demand may have been; its longest part without a gap is {number(unbroken, rounding='down')} days. Ask the "
        "authority whether it is a year of maximum demand."
    )
    return Condition("judge", text, unbroken, tables.limit_value("demand_record_short_days"), "days", "at least")


def _short_way(facts: RecordFacts, name: str, unbroken: float) -> list[Condition]:
    """The short way: recorded without a break, in short averages, in normal use, with the seasonal load."""
    least = tables.limit_value("demand_record_short_days")
    of = f"The demand record at {name}"
    interval = Fact(
        facts.interval_min, low=0.0, basis=facts.basis, need=f"averaging interval of the demand record at {name}"
    )
    longest = tables.limit_value("demand_record_interval_min")
    averaged = (
        f"Whether the demand record at {name} was averaged over {number(longest)} minutes or less is not known yet."
        if interval.value is None
        else f"{of} was averaged over {number(interval.value)} minutes; {number(longest)} minutes is the most."
    )
    piece = " without a gap" if facts.unbroken_days is not None else ""
    covers = f"{of} covers {number(unbroken, rounding='down')} days{piece}"
    return [
        Condition("pass", f"{covers}, {number(least)} being enough.", unbroken, least, "days", "at least"),
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
    if not facts.generation and not facts.exported:
        return []
    sources = listed(facts.generation)
    if not facts.generation:
        return [
            Condition(
                "judge",
                f"Power flowed back through {name} while it was recorded: something behind it generates, so its demand "
                "record shows less than the building uses and may not be taken. Find and draw the source, and ask the "
                f"authority whether {_interval()} data of what the building itself took is acceptable.",
                needs=(f"source behind {name} whose power flowed back",),
            )
        ]
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
        conditions, more = _decided_by_bound(facts, demand, conditions)
        lines += more
    else:
        text = f"The demand recorded at {facts.subject.name} is not known yet."
        conditions.append(Condition("unknown", text, needs=demand.needs))
    if facts.generation or facts.exported:
        # Not permitted as long as nobody decided otherwise: what else is not known about the record does not matter.
        conditions = [c for c in conditions if c.state in ("judge", "fail")]
    lines += _rating_lines(facts)
    checks = [f"See which loads {facts.subject.name} really measures, and what was off during the record."]
    if facts.peak_a is None and demand.va is not None and balanced(facts):
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


def _decided_by_bound(
    facts: RecordFacts, demand: RecordedDemand, conditions: list[Condition]
) -> tuple[list[Condition], list[WorkLine]]:
    """Long averages do not matter where even the most they can hide fits: then that is what is said."""
    times = _times_hidden(facts)
    hidden = [c for c in conditions if c.state == "judge" and c.unit == "min"]
    if demand.va is None or not hidden:
        return conditions, []
    line = computed(
        "Most that the averages can hide", "demand * interval / window", "VA", "energy of an interval in its shortest part",
        demand=demand.va, interval=facts.interval_min or 0.0, window=tables.limit_value("demand_record_interval_min"),
    )  # fmt: skip
    test = _test(facts, replace(demand, va=times * demand.va))
    if test.state != "pass":
        return conditions, [line]
    counted = replace(_test_line(facts, times * demand.va), what="Existing and new load as counted, at most")
    name = facts.subject.name
    held = f"Even if all of an interval's energy went in its highest {_interval()} part: {test.message}"
    kept = [c for c in conditions if c not in hidden and c is not conditions[0]]
    return [replace(test, message=held.replace(f"By the demand record at {name}, ", "")), *kept], [line, counted]


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
