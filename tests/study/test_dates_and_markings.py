"""Dates of readings and records against the drawing's date; fault current markings against what is available (110.24(B):
calculated and marked again after changes). From memory; how old a record may be is common practice, no source."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from oneline.model import DemandRecord, Drawing, Reading, VoltageReading
from oneline.study import ratings, readings
from oneline.study.context import Context


def as_of(drawing: Drawing, day: str | None) -> Drawing:
    return replace(drawing, project=replace(drawing.project, as_of=day))


def dated(service: Any, day: str | None, **rows: Any) -> list[Any]:
    s = service("208Y/120", 400, 400, **{k: v for k, v in rows.items() if k != "demand"})
    if "demand" in rows:
        s.put("service", "Utility", system="208Y/120", demand=rows["demand"])
    ctx = Context(as_of(s.drawing, day), "proposed", 2023)
    return [v for v in readings.verdicts(ctx) if "dated" in v.message or "ended on" in v.message]


@pytest.mark.parametrize(
    ("when", "day", "found"),
    [
        ("2026-03-08 10:00", "2026-03-07", True), ("2026-03-07 23:59", "2026-03-07", False), ("2026-03-08", None, False),
        ("Saturday 10:00", "2026-03-07", False), ("2026-13-40", "2026-03-07", False), ("2036-03-01", "2026-03-07", True),
    ],
)  # fmt: skip
def test_readings_dated_after_the_drawing(service: Any, when: str, day: str | None, found: bool) -> None:
    assert bool(dated(service, day, readings=(Reading(when=when, a_a=10.0),))) == found
    voltages = dated(service, day, voltages=(VoltageReading(when=when, ab_v=208.0),))
    assert [v.rule for v in voltages] == (["GND-9"] if found else [])


@pytest.mark.parametrize(
    ("end", "words"),
    [("2026-03-08", "is dated 2026-03-08"), ("2026-03-07", ""), ("2025-03-07", ""), ("2025-03-06", "366 days before")],
)
def test_records_of_the_future_and_of_long_ago(service: Any, end: str, words: str) -> None:
    found = dated(service, "2026-03-07", demand=(DemandRecord(end=end, peak_kw=50.0, period_days=365.0),))
    assert [v.state for v in found] == (["advice"] if words else [])
    assert all(words in v.message for v in found)


@pytest.mark.parametrize(
    ("marked_ka", "day", "status", "state"),
    [
        (22.0, "2024-05-01", "existing", "pass"), (22.0, "2024-05-01", "new", "advice"), (22.0, None, "existing", "unknown"),
        # 14 kA at the service, nothing in between: just the figure, and a hair below it.
        (14.0, "2024-05-01", "existing", "pass"), (13.99, "2024-05-01", "existing", "judge"),
        (13.99, "2024-05-01", "new", "fail"), (None, None, "existing", "advice"),
    ],
)  # fmt: skip
def test_fault_current_markings(
    service: Any, marked_ka: float | None, day: str | None, status: str, state: str
) -> None:
    s = service("208Y/120", 400, 400)
    s.put("service", "Utility", system="208Y/120", fault_ka=14.0, fault_x_r=5.0)
    s.put("disconnect", "Main", trip_a=400, rating_a=400, service_disconnect=True, fault_marked_ka=marked_ka,
          fault_marked_on=day)  # fmt: skip
    s.put("bus", "LP", rating_a=100, status=status)
    s.run("MDP", "LP", size="1", material="copper", length_ft=50, status=status)
    found = next(v for v in ratings.verdicts(s.context()) if v.rule == "FLT-5")
    assert found.state == state


def test_a_marking_while_the_fault_current_is_not_known(service: Any) -> None:
    s = service("208Y/120", 400, 400)
    s.put(
        "disconnect",
        "Main",
        trip_a=400,
        rating_a=400,
        service_disconnect=True,
        fault_marked_ka=22,
        fault_marked_on="2024-05-01",
    )
    found = next(v for v in ratings.verdicts(s.context()) if v.rule == "FLT-5")
    assert found.state == "unknown"
    assert found.needs
