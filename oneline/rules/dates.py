"""Dates of what was read and recorded, against the date of the drawing: what lies after it, and records long past."""

from __future__ import annotations

import re
from datetime import date

from oneline import tables
from oneline.rules.common import Subject, number, verdict
from oneline.rules.verdict import Verdict

_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")


def day_of(text: str | None) -> date | None:
    """The day that a text begins with, "2026-01-05 14:30"; ``None`` where it begins with none."""
    found = _DAY.match(text or "")
    try:
        return date.fromisoformat(found[0]) if found else None
    except ValueError:
        return None


def read_later(
    subject: Subject, edition: int, rule: str, what: str, when: str | None, as_of: str | None
) -> Verdict | None:
    """A reading or record dated after the drawing; ``None`` where it is not, or one of the dates is not known.

    ``what``: "A clamp reading", "The demand record"; ``when``: its day, with or without the time of day.
    """
    day, drawn = day_of(when), day_of(as_of)
    if day is None or drawn is None or day <= drawn:
        return None
    text = f"{what} at {subject.name} is dated {day.isoformat()}, and the drawing is as of {drawn.isoformat()}: one is wrong."
    remedy = "Correct the date, or bring the drawing's date up to what it shows."
    return verdict(rule, subject, edition, "advice", text, remedy=remedy)


def record_age(subject: Subject, edition: int, end: str | None, as_of: str | None) -> Verdict | None:
    """A demand record that ended long before the drawing: what came since is not in it (LOAD-1)."""
    day, drawn = day_of(end), day_of(as_of)
    most = tables.limit_value("record_age_days")
    if day is None or drawn is None or (drawn - day).days <= most:
        return None
    days = (drawn - day).days
    text = (
        f"The demand record at {subject.name} ended on {day.isoformat()}, {number(float(days))} days before the date of the "
        f"drawing: what was connected since is not in it."
    )
    remedy = "Get newer demand data, or list what was connected since as new load."
    return verdict("LOAD-1", subject, edition, "advice", text, value=float(days), limit=most, unit="days",
                   relation="at most", remedy=remedy)  # fmt: skip
