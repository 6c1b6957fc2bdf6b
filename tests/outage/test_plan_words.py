"""A plan in words: times against the calendar, and what may never be said."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

import pytest
from outage_example import example, hard, not_here

from oneline.model import VoltageTest, WorkZone
from oneline.outage.plan_words import (
    answer_lines,
    begin_of,
    clock,
    current_words,
    day_words,
    headline,
    holds,
    hour_words,
    lasting,
    list_words,
    record_lines,
    step_place,
    where_is,
)
from oneline.outage.results import ITEM_STATES, Blocked, OrderProblem, SwitchCurrent


@pytest.mark.parametrize(
    ("begins", "minute", "said"),
    [
        ("2026-12-05 06:00", 0.0, "06:00"),
        ("2026-12-05 06:00", 12.0, "06:12"),
        ("2026-12-05 22:00", 180.0, "Sun 01:00"),
        ("2026-12-31 23:59", 1.0, "Fri 00:00"),
        ("2026-12-05 06:00", 7 * 1440.0, "2026-12-12 06:00"),
        ("2026-12-05 06:00", None, ""),
        ("2026-12-05", 30.0, "+30 min"),
        ("next week", 30.0, "+30 min"),
        (None, 0.0, "+0 min"),
        ("9999-12-31 23:59", 1e9, "+1000000000 min"),
    ],
)
def test_the_time_of_a_step(begins: str | None, minute: float | None, said: str) -> None:
    """Calendar: 5 December 2026 is a Saturday, 31 December 2026 a Thursday."""
    assert clock(WorkZone(id="zone1", begins=begins), minute) == said


def test_a_date_without_a_time_of_day_is_no_beginning() -> None:
    assert begin_of(WorkZone(id="zone1", begins="2026-12-05")) is None
    assert begin_of(WorkZone(id="zone1", begins="2026-02-30 06:00")) is None
    assert begin_of(WorkZone(id="zone1", begins="2026-12-05 06:00")) == datetime(2026, 12, 5, 6, 0)


@pytest.mark.parametrize(
    ("when", "day", "hour"),
    [  # Calendar: 1 January 2000 was a Saturday, 29 February 2024 a Thursday, 25 November 2026 a Wednesday.
        (datetime(2000, 1, 1, 0, 0), "Saturday, January 1, 2000", "12:00 AM"),
        (datetime(2024, 2, 29, 12, 5), "Thursday, February 29, 2024", "12:05 PM"),
        (datetime(2026, 11, 25, 23, 59), "Wednesday, November 25, 2026", "11:59 PM"),
        (datetime(2026, 11, 25, 1, 0), "Wednesday, November 25, 2026", "1:00 AM"),
    ],
)
def test_days_and_hours_as_people_say_them(when: datetime, day: str, hour: str) -> None:
    assert (day_words(when), hour_words(when)) == (day, hour)


@pytest.mark.parametrize(
    ("minutes", "said"), [(0, "0 min"), (59.6, "1 h"), (60, "1 h"), (135, "2 h 15 min"), (7, "7 min")]
)
def test_how_long(minutes: float, said: str) -> None:
    assert lasting(minutes) == said


def test_lists_tell_how_many_more_there_are() -> None:
    assert list_words(("a", "b"), 2) == "a, b"
    assert list_words(("Panel B, bakery", "b")) == "Panel B, bakery; b"
    assert list_words(("a", "b", "c", "d"), 2) == "a, b and 2 more"


@pytest.mark.parametrize(
    ("current", "said"),
    [
        (None, ""),
        (SwitchCurrent(131.2, None, "reading", ""), "131 A"),
        (SwitchCurrent(12.04, None, "reading", ""), "12.0 A"),
        (SwitchCurrent(0.0, None, "none left", ""), "no current"),
        (SwitchCurrent(None, 150.0, "unknown", ""), "at most 150 A"),
        (SwitchCurrent(None, None, "unknown", ""), "not known"),
        (SwitchCurrent(0.0, None, "reading", ""), "0.0 A"),
    ],
)
def test_a_current_nobody_knows_is_never_none(current: SwitchCurrent | None, said: str) -> None:
    assert current_words(current) == said


def test_what_is_not_isolated_never_sounds_like_it() -> None:
    drawing, plan = example()
    assert holds(plan)
    assert headline(plan).startswith(
        "Dead by the drawing when all 3 isolation points are open and locked. Not verified"
    )
    assert plan.isolation is not None
    reached = replace(
        plan.isolation, reached=(Blocked("service1", "North service", "North service still reaches it."),)
    )
    untraced = replace(plan.isolation, unknown=("A wire that nobody traced.",))
    for other in (
        not_here(drawing, plan),
        hard(drawing, plan)[1],
        replace(plan, isolation=None),
        replace(plan, isolation=reached),
        replace(plan, isolation=untraced),
        replace(plan, answer=replace(plan.answer, missing=("bus9",))),
        replace(plan, answer=replace(plan.answer, state="unknown", unknown=("The attic.",))),
        replace(plan, problems=(OrderProblem(plan.steps[0].key, "It comes too late."),)),
        replace(plan, steps=(replace(plan.steps[0], state="fail"), *plan.steps[1:])),
    ):
        assert not holds(other)
        assert "dead by the drawing" not in headline(other).casefold(), headline(other)
    said = dict(answer_lines(drawing, replace(plan, isolation=reached)))
    assert said["Still live"] == "North service still reaches it."
    assert ("Not known", "A wire that nobody traced.") in answer_lines(drawing, replace(plan, isolation=untraced))


def test_a_breaker_without_a_place_is_found_in_its_panel() -> None:
    drawing, plan = example()
    step = plan.steps[4]
    feeder = replace(drawing.get(step.item), location="")
    bare = drawing.with_items([feeder])
    place = "in Main distribution board, Electrical room 101"
    assert where_is(bare, step.item) == place
    assert where_is(drawing, step.item) == "Electrical room 101"
    assert step_place(bare, replace(step, place="")) == place
    assert step_place(bare, replace(step, place="", item="")) == ""
    assert step_place(bare, replace(step, words="Open it (Room 9).", place="Room 9")) == ""
    assert where_is(bare, "bus77") == ""


def test_only_a_record_that_holds_is_called_verified() -> None:
    drawing, plan = example()
    item = plan.answer.zone.items[0]
    tests = (
        VoltageTest(item, "bus", "2026-04-18 06:50", by="T. Quince"),
        VoltageTest(item, "bus", "2026-04-18 06:55", by="R. Almond", instrument="M7, CAT IV"),
        VoltageTest("bus77", "bus", "2026-04-18 06:56"),
    )
    plan = replace(plan, answer=replace(plan.answer, zone=replace(plan.answer.zone, tests=tests)))
    (line,) = record_lines(drawing, replace(plan, states={item: ITEM_STATES[3]}))
    assert line == "Main distribution board: verified dead by R. Almond 2026-04-18 06:55 M7, CAT IV."
    for state in ITEM_STATES[:3]:
        (line,) = record_lines(drawing, replace(plan, states={item: state}))
        assert "verified dead" not in line
        assert "does not verify it" in line
    assert record_lines(*example()) == []
