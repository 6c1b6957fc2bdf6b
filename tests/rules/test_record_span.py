"""Whether a demand record may be used (220.87): its span, its gaps, its averages, power that flowed back.

The edges are those of the section as restated in s220_87_existing_load_and_misc.csv: one year of maximum demand, or 30 days
recorded without a break in averages of 15 minutes, in use, with the seasonal load. That an average over an hour lies between
the highest quarter of an hour and a fourth of it is arithmetic. That utilities bill 15 or 30 minutes is from memory.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from oneline.rules.common import Fact, Subject
from oneline.rules.record import RecordFacts, existing_load, own_conditions, record_state, recorded_demand

KNOWN = {"occupied": True, "seasonal_included": True, "interval_min": 15.0}


def facts(**changes: Any) -> RecordFacts:
    values: dict[str, Any] = {
        "subject": Subject("m", "Meter 1"), "edition": 2023, "volts": 208.0, "three_phase": True, "phases": 3,
        "peak_kva": 100.0, "interval_min": 15.0,
        "protected": True, "rating_a": Fact(400.0), "rating_of": "Main", "new_va": Fact(0.0),
    }  # fmt: skip
    return RecordFacts(**(values | changes))


@pytest.mark.parametrize(
    ("record", "state"),
    [
        # A year without a gap.
        ({"period_days": 365, "unbroken_days": 365, "gaps": 0, "coverage_pct": 100}, "pass"),
        ({"period_days": 365, "unbroken_days": 365, "gaps": 0, "interval_min": 30}, "pass"),
        ({"period_days": 365, "unbroken_days": 365, "gaps": 0, "interval_min": 60}, "judge"),
        # A year with a gap: its longest part may serve by the short way, with all that it asks for.
        ({"period_days": 365, "unbroken_days": 200, "gaps": 1, **KNOWN}, "pass"),
        ({"period_days": 365, "unbroken_days": 200, "gaps": 1, "interval_min": 15}, "unknown"),
        ({"period_days": 365, "unbroken_days": 200, "gaps": 1, **KNOWN, "interval_min": 60}, "fail"),
        ({"period_days": 365, "unbroken_days": 29.99, "gaps": 30, **KNOWN}, "judge"),
        # The short way: the longest part without a gap decides, not the days from first to last.
        ({"period_days": 30, "unbroken_days": 30, "gaps": 0, **KNOWN}, "pass"),
        ({"period_days": 60, "unbroken_days": 30, "gaps": 1, **KNOWN}, "pass"),
        ({"period_days": 60, "unbroken_days": 29.9999, "gaps": 1, **KNOWN}, "fail"),
        ({"period_days": 31, "unbroken_days": 15.5, "gaps": 1, **KNOWN}, "fail"),
        ({"period_days": 31, "gaps": 2, **KNOWN}, "unknown"),  # nobody told how long the parts are
        ({"period_days": 31, "unbroken_days": 31, "gaps": 0, **KNOWN, "interval_min": 10}, "pass"),
        ({"period_days": 31, "unbroken_days": 31, "gaps": 0, **KNOWN, "interval_min": 30}, "fail"),
        ({"period_days": 31, "unbroken_days": 31, "gaps": 0, **KNOWN, "occupied": None}, "unknown"),
        ({"period_days": 31, "unbroken_days": 31, "gaps": 0, **KNOWN, "seasonal_included": False}, "fail"),
        # Power that flowed back, whatever else is known.
        ({"period_days": 365, "unbroken_days": 365, "gaps": 0, "exported": True}, "judge"),
        ({"period_days": 365, "unbroken_days": 365, "gaps": 0, "exported": False}, "pass"),
        # Averages of nobody knows how long may hide as much as those of an hour.
        ({"period_days": 365, "interval_min": None}, "unknown"),
        # Typed by hand, as before: nobody tells of gaps.
        ({"period_days": 365}, "pass"),
        ({"period_days": 31, **KNOWN}, "pass"),
    ],
)
def test_what_decides_whether_a_record_may_be_used(record: dict[str, Any], state: str) -> None:
    assert record_state(facts(**record))[0] == state
    found = existing_load(facts(**record))
    assert found.state == state
    if state == "unknown":
        assert found.needs
    if state == "fail":
        assert found.remedy


def test_what_is_said() -> None:
    short = existing_load(facts(period_days=60, unbroken_days=21.54, gaps=3, **KNOWN))
    assert short.message.startswith(
        "The longest part without a gap of the demand record at Meter 1 has 21.5 days, 8.5 short of the 30 days that the "
        "short way takes"
    )
    assert (
        "29.9 days, less than a tenth of a day short"
        in existing_load(facts(period_days=60, unbroken_days=29.9999, gaps=1, **KNOWN)).message
    )
    broken = existing_load(facts(period_days=365, unbroken_days=20.0, gaps=40, coverage_pct=98.8, **KNOWN))
    assert "covers 365 days with 40 gaps, 1.2 % of it, in which the highest demand may have been" in broken.message
    back = existing_load(facts(period_days=365, exported=True))
    assert back.message.startswith("Power flowed back through Meter 1 while it was recorded")


def test_hourly_averages_are_decided_by_their_bounds() -> None:
    """All of an hour's energy in its highest quarter is four times the hourly average: the test may hold either way."""
    hourly = {"period_days": 365, "unbroken_days": 365, "gaps": 0, "interval_min": 60}
    fits = existing_load(facts(**hourly, peak_kva=20.0))  # 1.25 x 4 x 20 = 100 kVA of 144 kVA
    assert fits.state == "pass"
    assert fits.value == pytest.approx(100)
    assert "Even if all of an interval's energy went in its highest 15-minute part" in fits.message
    may = existing_load(facts(**hourly, peak_kva=50.0))  # 62.5 to 250 kVA
    assert may.state == "judge"
    assert "it lies between 50 kVA and 200 kVA" in may.message
    over = existing_load(facts(**hourly, peak_kva=120.0))  # 150 kVA at least
    assert over.state == "fail"


@given(st.integers(1, 3000), st.sampled_from([60, 120, 240]), st.integers(10, 4000))
def test_the_bound_of_long_averages_against_fractions(tenths_kva: int, interval: int, rating: int) -> None:
    peak, factor = Fraction(tenths_kva, 10), Fraction(5, 4)
    found = existing_load(
        facts(
            period_days=365, unbroken_days=365, gaps=0, interval_min=float(interval), peak_kva=float(peak), volts=1000.0,
            three_phase=False, rating_a=Fact(float(rating)),
        )
    )  # fmt: skip
    least, most = factor * peak, factor * peak * Fraction(interval, 15)
    assert found.state == ("pass" if most <= rating else "fail" if least > rating else "judge")


@given(
    st.integers(1, 5000), st.integers(0, 5000), st.integers(0, 5), st.sampled_from([5, 10, 15, 16, 30, 31, 60]),
    st.sampled_from([True, False, None]), st.sampled_from([True, False, None]), st.sampled_from([True, False, None]),
)  # fmt: skip
def test_the_decision_against_its_own_words(
    tenth_days: int, tenth_unbroken: int, gaps: int, interval: int, occupied: bool | None, seasonal: bool | None,
    exported: bool | None,
) -> None:  # fmt: skip
    """The section restated as a list of ifs, in tenths of a day and whole numbers."""
    unbroken = min(tenth_days, tenth_unbroken) if gaps else tenth_days
    whole = unbroken >= tenth_days
    states = []
    if exported:
        states.append("judge")
    if tenth_days >= 3650 and whole:
        states.append("pass" if interval <= 30 else "judge")
    elif unbroken >= 300:
        states += ["pass" if interval <= 15 else "fail"]
        states += ["unknown" if flag is None else "pass" if flag else "fail" for flag in (occupied, seasonal)]
    else:
        states.append("judge" if tenth_days >= 3650 else "fail")
    wanted = next((s for s in ("fail", "judge", "unknown") if s in states), "pass")
    found = record_state(
        facts(
            period_days=tenth_days / 10, unbroken_days=unbroken / 10, gaps=gaps, interval_min=float(interval),
            occupied=occupied, seasonal_included=seasonal, exported=exported,
        )
    )  # fmt: skip
    assert found[0] == wanted


def test_a_longer_record_is_never_worth_less() -> None:
    order = ["fail", "unknown", "judge", "pass"]
    worth = [
        order.index(record_state(facts(period_days=d, unbroken_days=d, gaps=0, **KNOWN))[0])
        for d in (1, 29.9, 30, 100, 364.9, 365, 700)
    ]
    assert worth == sorted(worth)


def test_the_record_itself_tells_nothing_of_protection() -> None:
    told = own_conditions(facts(period_days=365, protected=None))
    assert [c.state for c in told] == ["pass"]
    assert record_state(facts(period_days=365, protected=None))[0] == "unknown"
    assert recorded_demand(facts(period_days=365)).va == 100_000


def test_what_is_to_be_found_out_and_when_nothing_is() -> None:
    short = {
        "period_days": 40,
        "unbroken_days": 40,
        "gaps": 0,
        "interval_min": 15.0,
        "occupied": None,
        "seasonal_included": True,
    }
    assert record_state(facts(**short)) == (
        "unknown",
        ("whether the building was in normal use while Meter 1 was recorded",),
    )
    assert record_state(facts(**short, exported=True)) == ("judge", ())
    assert record_state(facts(period_days=365)) == ("pass", ())


def test_the_worksheet_shows_the_most_that_is_hidden() -> None:
    """Four times 20 kVA."""
    found = existing_load(facts(period_days=365, unbroken_days=365, gaps=0, interval_min=60, peak_kva=20.0))
    (line,) = [w for w in found.work if w.what == "Most that the averages can hide"]
    assert line.value == pytest.approx(80_000)
    judged = existing_load(facts(period_days=365, unbroken_days=365, gaps=0, interval_min=60, peak_kva=50.0))
    assert [w.value for w in judged.work if w.what == line.what] == [pytest.approx(200_000)]
    unknown = existing_load(facts(period_days=365, unbroken_days=365, gaps=0, interval_min=60, peak_kva=None))
    assert unknown.state == "unknown"
    assert line.what not in [w.what for w in unknown.work]


def test_a_total_hides_the_unbalance_and_a_phase_current_does_not() -> None:
    def asked(**changes: Any) -> bool:
        return any(
            "total hides the unbalance" in c for c in existing_load(facts(period_days=365, **changes)).field_checks
        )

    assert asked()
    assert not asked(peak_kva=None, peak_a=200.0)
    assert not asked(phases=1)
    assert not asked(peak_kva=None)


def test_new_load_between_bounds_and_a_system_half_known() -> None:
    """125 kVA recorded as counted of 144 kVA: up to 19 kVA of new load fits, whatever it is."""
    fits = existing_load(facts(period_days=365, new_va=Fact(None, low=1000.0, high=15_000.0, need="new load")))
    assert fits.state == "pass"
    open_ = existing_load(facts(period_days=365, new_va=Fact(None, low=1000.0, high=25_000.0, need="new load")))
    assert open_.state == "unknown"
    for half in ({"volts": None}, {"three_phase": None}):
        assert existing_load(facts(period_days=365, **half)).state == "unknown"
    assert "the rating has" in existing_load(facts(period_days=365, rating_of="")).message
