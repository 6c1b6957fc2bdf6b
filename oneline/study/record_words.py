"""What a demand record is, in words: the same in the window, on the command line and on paper."""

from __future__ import annotations

from oneline.model import DemandRecord
from oneline.units import format_value


def peak_of(record: DemandRecord) -> tuple[str, float | None]:
    """Unit and figure of a record's peak, in the order in which the rule takes them."""
    for unit, value in (("kVA", record.peak_kva), ("kW", record.peak_kw), ("A", record.peak_a)):
        if value is not None:
            return unit, value
    return (record.series.unit if record.series else "kW"), None


def shown(value: float, unit: str) -> str:
    """A figure of a record: "86.4 kW", "1,240 kW", "232 A"."""
    return f"{value:,.0f} {unit}" if abs(value) >= (99.95 if unit == "A" else 999.95) else f"{value:,.1f} {unit}"


def record_rows(record: DemandRecord) -> list[tuple[str, str]]:
    """What is known of a recording, as (label, words)."""
    r = record
    rows = [("Source", r.source or "not told"), ("Period", _period(r)), ("Peak", _peak(r))]
    phases = [(p, getattr(r, f"phase_{p.lower()}_a")) for p in "ABC"]
    if any(v is not None for _, v in phases):
        rows.append(
            ("Peak by phase", ", ".join(f"{p} {format_value(v, 'current_a')}" for p, v in phases if v is not None))
        )
    if r.recorded_every_min is not None:
        rows.append(("Recorded every", minutes(r.recorded_every_min)))
    if r.coverage_pct is not None:
        rows.append(("Recorded", f"{r.coverage_pct:.4g} % of the period, {_gaps(r)}"))
    if r.unbroken_days is not None:
        rows.append(("Longest part without a gap", f"{r.unbroken_days:.4g} days"))
    flowed = {True: "yes, there is generation behind it", False: "no", None: "not told by the record"}
    rows.append(("Power flowed back", flowed[r.exported]))
    rows.append(("Building in normal use", _flag(r.occupied)))
    rows.append(("Larger of heating and cooling in it", _flag(r.seasonal_included)))
    if r.power_factor is not None:
        rows.append(("Power factor", f"{r.power_factor:g}"))
    told = (("File", r.file_name), ("SHA-256 of the file", r.file_sha256), ("Note", r.note))
    return [*rows, *((label, words) for label, words in told if words)]


def _period(r: DemandRecord) -> str:
    days = "" if r.period_days is None else f"{r.period_days:.4g} days"
    dates = " to ".join(d for d in (r.start, r.end) if d)
    return ", ".join(p for p in (dates, days) if p) or "not known yet"


def _peak(r: DemandRecord) -> str:
    unit, peak = peak_of(r)
    if peak is None:
        return "not known yet"
    averaged = "" if r.interval_min is None else f", averaged over {minutes(r.interval_min)}"
    return f"{shown(peak, unit)}{averaged}{f', from {r.peak_at}' if r.peak_at else ''}"


def minutes(count: float) -> str:
    """ "15 minutes"."""
    return f"{count:g} minute{'' if count == 1 else 's'}"


def step_words(step_min: float) -> str:
    """The length of a step of a plot: "5 minutes", "hour", "6 hours", "day"."""
    if step_min < 60:
        return minutes(step_min)
    hours = step_min / 60
    if hours < 24:
        return "hour" if hours == 1 else f"{hours:g} hours"
    return "day" if hours == 24 else f"{hours / 24:g} days"


def _gaps(r: DemandRecord) -> str:
    if r.gaps is None:
        return "gaps not counted"
    return "no gap" if r.gaps == 0 else f"{r.gaps:,} gap{'' if r.gaps == 1 else 's'}"


def _flag(value: bool | None) -> str:
    return "not known yet" if value is None else "yes" if value else "no"
