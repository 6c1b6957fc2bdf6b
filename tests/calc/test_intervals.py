"""Interval data in numbers, against plain fractions and against pandas (which comes with pandapower, for tests)."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from oneline.calc.intervals import (
    Series,
    averaged,
    coverage,
    gaps,
    highest_average,
    highest_by_bucket,
    load_duration,
    unbroken,
)

QUARTER = 900


def series(
    indices: list[int], values: list[float], step_s: int = 300, estimated: frozenset[int] = frozenset()
) -> Series:
    n = len(indices)
    return Series(
        np.array(indices, dtype=np.int64) * step_s, step_s, np.array(values, dtype=float),
        np.array([i not in estimated for i in indices]), np.zeros(n, dtype=np.int64),
    )  # fmt: skip


@st.composite
def recordings(draw: st.DrawFn) -> tuple[Series, dict[int, int]]:
    """A series of whole-number values (so that sums are exact) and its values by place on the grid."""
    step = draw(st.sampled_from([60, 180, 300, 450, 600, 900, 1800, 3600]))
    places = sorted(draw(st.sets(st.integers(0, 60), min_size=1, max_size=50)))
    values = {p: draw(st.integers(-500, 5000)) for p in places}
    return series(places, [values[p] for p in places], step), values


def by_hand(values: dict[int, int], step: int) -> Fraction:
    """The highest quarter-hour average by its definition: every run of neighbors that makes up a quarter of an hour."""
    width = QUARTER // step if step <= QUARTER and QUARTER % step == 0 else 1
    found = [
        Fraction(sum(values[p + k] for k in range(width)), width)
        for p in values if all(p + k in values for k in range(width))
    ]  # fmt: skip
    return max(found) if found else Fraction(max(values.values()))


@settings(max_examples=400, deadline=None)
@given(recordings())
def test_the_highest_average_is_the_one_by_definition(found: tuple[Series, dict[int, int]]) -> None:
    recorded, values = found
    value, at, length = highest_average(recorded, QUARTER)
    assert Fraction(value).limit_denominator(1000) == by_hand(values, recorded.step_s)
    assert length in (QUARTER, recorded.step_s)
    assert at in recorded.start_s


@settings(max_examples=200, deadline=None)
@given(recordings())
def test_it_is_what_pandas_rolls(found: tuple[Series, dict[int, int]]) -> None:
    recorded, _ = found
    step = recorded.step_s
    if step >= QUARTER or QUARTER % step:
        return
    index = pd.to_datetime(recorded.start_s, unit="s")
    whole = pd.Series(recorded.values, index=index).asfreq(f"{step}s")
    rolled = whole.rolling(QUARTER // step).mean().max()
    wanted = whole.max() if np.isnan(rolled) else rolled
    assert highest_average(recorded, QUARTER)[0] == pytest.approx(wanted, abs=1e-9)


@settings(max_examples=300, deadline=None)
@given(recordings(), st.data())
def test_parts_and_gaps_fill_the_span(found: tuple[Series, dict[int, int]], data: st.DataObject) -> None:
    recorded, values = found
    estimated = data.draw(st.frozensets(st.sampled_from(sorted(values)), max_size=5))
    recorded = series(sorted(values), [values[p] for p in sorted(values)], recorded.step_s, estimated)
    step = recorded.step_s
    cells = range(min(values), max(values) + 1)
    there = [p in values and p not in estimated for p in cells]
    parts, missing = unbroken(recorded), gaps(recorded)
    assert sum(b - a for a, b in parts) == step * sum(there)
    assert sum(b - a for a, b in missing) == step * (len(there) - sum(there))
    assert all(b > a for a, b in missing)
    runs = "".join("x" if t else " " for t in there).split()
    assert [(b - a) // step for a, b in parts] == [len(run) for run in runs]
    assert coverage(recorded) == pytest.approx(sum(there) / len(there))


@settings(max_examples=200, deadline=None)
@given(recordings())
def test_more_of_a_record_never_lowers_its_peak(found: tuple[Series, dict[int, int]]) -> None:
    recorded, values = found
    places = sorted(values)
    width = QUARTER // recorded.step_s
    if width > 1:  # an interval alone is no average over a quarter of an hour
        return
    part = series(places[: len(places) // 2 + 1], [values[p] for p in places[: len(places) // 2 + 1]], recorded.step_s)
    assert highest_average(part, QUARTER)[0] <= highest_average(recorded, QUARTER)[0]


def test_an_average_over_quarter_hours_is_never_below_that_of_whole_hours() -> None:
    rng = np.random.default_rng(7)
    minutes = series(list(range(600)), list(rng.integers(0, 900, 600)), 60)
    hourly = minutes.values.reshape(-1, 60).mean(axis=1).max()
    assert highest_average(minutes, QUARTER)[0] >= hourly
    assert (
        highest_average(minutes, QUARTER)[0] <= 4 * hourly
    )  # all of an hour's energy in one quarter: the most it hides


def test_windows_do_not_reach_over_a_gap() -> None:
    recorded = series([0, 1, 3, 4, 5], [900, 900, 900, 30, 30])
    value, at, length = highest_average(recorded, QUARTER)
    assert (value, at, length) == (320, 900, QUARTER)
    assert len(averaged(recorded, QUARTER)[0]) == 1


def test_buckets_hold_the_highest_and_nothing_where_nothing_was_recorded() -> None:
    recorded = series([2, 3, 11, 30], [5, 9, 4, 7], 600)
    assert highest_by_bucket(recorded, 3600) == (0, [9.0, 4.0, None, None, None, 7.0])


def test_load_duration_against_sorting_by_hand() -> None:
    recorded = series(list(range(10)), [3, 9, 1, 7, 5, 2, 8, 6, 4, 10])
    assert load_duration(recorded, (0.0, 0.1, 0.5, 1.0)) == (10, 10, 6, 1)


def test_buckets_begin_on_the_wall_of_the_first_interval() -> None:
    """17:50 of steady time is 12:50 on a wall five hours behind; its hour began at 12:00."""
    steady = np.array([17 * 3600 + 50 * 60, 18 * 3600, 20 * 3600], dtype=np.int64)
    recorded = Series(steady, 600, np.array([3.0, 8.0, 5.0]), np.ones(3, dtype=bool), np.full(3, -5 * 3600))
    assert highest_by_bucket(recorded, 3600) == (12 * 3600, [3.0, 8.0, None, 5.0])


def test_the_wall_follows_its_own_change() -> None:
    """A clock that goes forward an hour between the second and the third interval."""
    starts = np.array([0, 3600, 7200], dtype=np.int64)
    recorded = Series(starts, 3600, np.ones(3), np.ones(3, dtype=bool), np.array([-18_000, -18_000, -14_400]))
    assert [recorded.wall_s(t) for t in (-5, 0, 3600, 7199, 7200, 9000)] == [
        -18_005, -18_000, -14_400, -10_801, -7_200, -5_400,
    ]  # fmt: skip
    assert (recorded.end_s, recorded.span_s) == (10_800, 10_800)


def test_an_interval_longer_than_the_window_or_beside_it_is_its_own_average() -> None:
    for step in (600, 900, 1800):
        recorded = series([0, 1, 2], [10, 40, 20], step)
        assert highest_average(recorded, QUARTER) == (40, step, step)


def test_as_many_intervals_as_a_window_has_make_one_average() -> None:
    """Plain arithmetic: the mean of 10 and 30; an interval as long as the window is its own average."""
    assert highest_average(series([0, 1], [10.0, 30.0], 900), 1800) == (20.0, 0, 1800)
    assert highest_average(series([0, 1], [10.0, 30.0], 1800), 1800) == (30.0, 1800, 1800)
