"""What a demand record tells: its facts, and the demand it shows in volt-amperes."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from math import sqrt

from oneline import tables
from oneline.rules.common import Fact, Subject, computed
from oneline.rules.verdict import WorkLine


@dataclass(frozen=True)
class RecordFacts:
    """A demand record and what stands around it; ``None`` is unknown.

    ``volts``: line to line (of a two-wire system between its conductors); ``three_phase``: whether the point has three
    phases; ``phases``: how many ungrounded conductors.
    ``start``, ``end``: first and last day, as "2026-01-05". ``unbroken_days``: longest part without a gap, ``gaps`` how many
    there are, ``coverage_pct`` how much of the period was recorded; all ``None`` for a record of which nobody tells gaps.
    ``generation``: names of solar arrays and batteries that feed behind the meter; ``exported``: whether power flowed
    back while it was recorded. ``protected``: whether an overcurrent device protects the conductors the record was taken
    on. ``new_va``: calculated new load in VA. ``rating_a``: of the service or feeder; ``rating_of``: what has that rating.
    ``system_need``: what to find out where the system is not known.
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
    start: str | None = None
    end: str | None = None
    period_days: float | None = None
    interval_min: float | None = None
    unbroken_days: float | None = None
    gaps: int | None = None
    coverage_pct: float | None = None
    exported: bool | None = None
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
    # A peak of nothing is none: a building takes something.
    if facts.peak_kva:
        line = computed("Recorded demand", "1000 * peak", "VA", "record", peak=facts.peak_kva)
        return RecordedDemand(_figure(line), (line,), balanced(facts))
    if facts.peak_kw:
        assumed = facts.power_factor is None
        power_factor = tables.limit_value("power_factor_assumed") if facts.power_factor is None else facts.power_factor
        line = computed(
            "Recorded demand", "1000 * peak / power_factor", "VA", "record", peak=facts.peak_kw,
            power_factor=power_factor,
        )  # fmt: skip
        taken = (f"power factor {power_factor:g}",) if assumed else ()
        return RecordedDemand(_figure(line), (line,), (*taken, *balanced(facts)))
    if facts.peak_a:
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


def balanced(facts: RecordFacts) -> tuple[str, ...]:
    """A total does not tell the phases: divided evenly, which only a record of the highest phase could confirm."""
    return () if facts.phases == 1 else ("recorded demand balanced on the phases",)


def _figure(line: WorkLine) -> float:
    assert isinstance(line.value, float)
    return line.value
