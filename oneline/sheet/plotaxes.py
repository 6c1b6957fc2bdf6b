"""Figures and dates on the axes of a plot: round steps, and as many words as there is room for."""

from __future__ import annotations

import math
from datetime import datetime, timedelta

_STEPS = (1.0, 2.0, 2.5, 5.0)


def nice_step(wanted: float) -> float:
    """The least of 1, 2, 2.5 and 5 times a power of ten that is no less than wanted."""
    power = 10.0 ** math.floor(math.log10(max(wanted, 1e-9)))
    return next((s * power for s in _STEPS if s * power >= wanted - 1e-12), 10 * power)


def ticks(low: float, high: float, step: float) -> list[float]:
    """Figures of an axis: from its lower end, one a step."""
    return [low + n * step for n in range(math.floor((high - low) / step + 1e-6) + 1)]


def figure_text(value: float, step: float) -> str:
    """A figure of an axis with the decimals that its steps need."""
    decimals = max(0, -math.floor(math.log10(step) + 1e-9))
    decimals += 1 if step * 10**decimals % 1 > 1e-6 else 0
    return f"{value:,.{decimals}f}"


def dates(start: datetime, end: datetime, room: float, size: float) -> list[tuple[datetime, str]]:
    """Ticks of the time axis: hours, days, weeks or months, as many as there is room for."""
    days = (end - start).total_seconds() / 86_400
    most = max(2.0, room / (5.5 * size))
    if days <= 2.5:
        hours = next((h for h in (2, 3, 6, 12) if days * 24 / h <= most), 24)
        at = start.replace(hour=0, minute=0)
        found = _every(at, timedelta(hours=hours), start, end)
        return [(t, _day(t, t.hour == 0 and t.month == 1) if t.hour == 0 else t.strftime("%H:%M")) for t in found]
    for step in (1, 2, 7, 14):
        if days / step <= most:
            at = start.replace(hour=0, minute=0)
            at -= timedelta(days=at.weekday() if step >= 7 else 0)
            found = _every(at, timedelta(days=step), start, end)
            return [(t, _day(t, False)) for t in found]
    months = next((m for m in (1, 2, 3, 6, 12) if days / 30.4 / m <= most), 12)
    out: list[tuple[datetime, str]] = []
    year, month = start.year, 1
    while datetime(year, month, 1) <= end:
        at = datetime(year, month, 1)
        if at >= start:
            out.append((at, str(year) if month == 1 else at.strftime("%b")))
        month += months
        year, month = (year, month) if month <= 12 else (year + 1, 1)
    return out


def _every(at: datetime, step: timedelta, start: datetime, end: datetime) -> list[datetime]:
    out = []
    while at <= end:
        if at >= start:
            out.append(at)
        at += step
    return out


def _day(at: datetime, with_year: bool) -> str:
    return f"{at.strftime('%b')} {at.day}" + (f", {at.year}" if with_year else "")
