"""A demand record beside what it is compared with: for its plot in the window and on paper."""

from __future__ import annotations

from dataclasses import dataclass, replace

from oneline import tables
from oneline.model import DemandRecord, Drawing
from oneline.rules.common import Subject
from oneline.rules.record import RecordFacts, existing_load, own_conditions
from oneline.rules.verdict import Verdict
from oneline.study.context import Context
from oneline.study.record_words import peak_of
from oneline.study.records import PlacedRecord, placed_records, record_facts

#: What a record that is not on a drawing was taken at.
_HERE = "this point"


@dataclass(frozen=True)
class RecordChart:
    """One record of an item. ``unit``: "kW", "kVA" or "A", of all figures. ``counted``: the peak as it is counted against a
    rating; ``rating``: what carries the recorded current, ``None`` while it is not known, and ``rating_a`` as it is marked;
    ``assumed``: what the rating in this unit rests on. ``decides``: whether this is the record the finding is about."""

    item: str
    name: str
    record: DemandRecord
    unit: str
    peak: float | None
    counted: float | None
    factor: float
    rating: float | None
    rating_a: float | None
    rating_of: str
    assumed: str
    verdict: Verdict
    decides: bool


def record_charts(
    drawing: Drawing, view: str, edition: int | None = None, item: str | None = None
) -> tuple[RecordChart, ...]:
    """The records of a view, item by item, in the order in which they were entered; of one ``item`` where it is named."""
    if not any(getattr(i, "demand", ()) for i in drawing.items.values() if item in (None, i.id)):
        return ()
    ctx = Context(drawing, view, drawing.project.edition if edition is None else edition)
    charts: list[RecordChart] = []
    for placed in placed_records(ctx):
        if item in (None, placed.item.id):
            charts += [_chart(ctx, placed, record) for record in placed.item.demand]
    return tuple(charts)


def _chart(ctx: Context, placed: PlacedRecord, record: DemandRecord) -> RecordChart:
    own = replace(placed, record=record)
    facts = record_facts(ctx, own, ctx.demand.new)
    unit, peak = peak_of(record)
    factor = float(tables.limit_value("demand_record_factor"))
    rating, assumed = _in_unit(facts, unit)
    return RecordChart(
        placed.item.id, ctx.name(placed.item.id), record, unit, peak, None if peak is None else factor * peak, factor, rating,
        facts.rating_a.value, facts.rating_of, assumed, existing_load(facts), record is placed.record,
    )  # fmt: skip


def lone_record(record: DemandRecord, edition: int) -> tuple[str, tuple[str, ...]]:
    """Whether a record may be used at all, as far as it tells by itself: "pass", "fail", "judge" or "unknown", and why.

    What only a drawing knows is left out: generation behind the point, protection, the rating.
    """
    facts = RecordFacts(
        Subject("", _HERE), edition, power_factor=record.power_factor, period_days=record.period_days,
        peak_kw=record.peak_kw, peak_kva=record.peak_kva, peak_a=record.peak_a, interval_min=record.interval_min,
        unbroken_days=record.unbroken_days, gaps=record.gaps, coverage_pct=record.coverage_pct, exported=record.exported,
        occupied=record.occupied, seasonal_included=record.seasonal_included,
    )  # fmt: skip
    conditions = own_conditions(facts)
    states = {c.state for c in conditions}
    state = next((s for s in ("fail", "judge", "unknown") if s in states), "pass")
    return state, tuple(c.message for c in conditions if c.state == state)


def _in_unit(facts: RecordFacts, unit: str) -> tuple[float | None, str]:
    """The rating in the unit of the record, and what that rests on."""
    rating = facts.rating_a.value
    if rating is None or unit == "A":
        return rating, ""
    if facts.volts is None or facts.three_phase is None:
        return None, ""
    kva = rating * facts.volts * (3**0.5 if facts.three_phase else 1.0) / 1000
    if unit == "kVA":
        return kva, ""
    factor = facts.power_factor
    if factor is None:
        factor = float(tables.limit_value("power_factor_assumed"))
        return kva * factor, f"at an assumed power factor of {factor:g}"
    return kva * factor, f"at a power factor of {factor:g}"
