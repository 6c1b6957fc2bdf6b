"""Interval data in numbers: what was recorded without a break, the highest average, load duration, a series for a plot.

Times are seconds of a steady clock that knows no daylight saving; ``Series.offset_s`` leads back to the time of day on
the wall. Values are averages over equal intervals, in one unit, whichever it is.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

DAY_S = 86_400
MINUTE_S = 60

Whole = NDArray[np.int64]
Real = NDArray[np.float64]
Mask = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Series:
    """Averages of equal intervals, in order of time, each interval once. All arrays have the same shape, (n,), n >= 1.

    ``start_s``: beginning of each interval, on a grid of ``step_s`` seconds. ``values``: finite. ``measured``: false
    where somebody estimated the value: it counts for the peak, and as not recorded. ``offset_s``: wall time minus
    steady time.
    """

    start_s: Whole
    step_s: int
    values: Real
    measured: Mask
    offset_s: Whole

    def __len__(self) -> int:
        return len(self.start_s)

    @property
    def end_s(self) -> int:
        """End of the last interval."""
        return int(self.start_s[-1]) + self.step_s

    @property
    def span_s(self) -> int:
        """From the beginning of the first interval to the end of the last, breaks included."""
        return self.end_s - int(self.start_s[0])

    def wall_s(self, at_s: int) -> int:
        """Time on the wall at a steady time: by the offset of the last interval that began then or before."""
        n = int(np.searchsorted(self.start_s, at_s, side="right")) - 1
        return at_s + int(self.offset_s[max(n, 0)])


def unbroken(series: Series) -> list[tuple[int, int]]:
    """(start, end) in seconds of every part that was recorded without a break, in order; none where all was estimated."""
    at = np.flatnonzero(series.measured)
    if not len(at):
        return []
    starts = series.start_s[at]
    breaks = np.flatnonzero(np.diff(starts) != series.step_s)
    first = np.concatenate(([0], breaks + 1))
    last = np.concatenate((breaks, [len(starts) - 1]))
    return [(int(starts[a]), int(starts[b]) + series.step_s) for a, b in zip(first, last, strict=True)]


def gaps(series: Series) -> list[tuple[int, int]]:
    """(start, end) in seconds of every part between first and last interval that was not recorded, in order."""
    parts = unbroken(series)
    edges = [int(series.start_s[0]), *(t for part in parts for t in part), series.end_s]
    return [(a, b) for a, b in zip(edges[::2], edges[1::2], strict=True) if b > a]


def coverage(series: Series) -> float:
    """Share of the span that was recorded, 0 to 1."""
    return sum(b - a for a, b in unbroken(series)) / series.span_s


def averaged(series: Series, window_s: int) -> tuple[Series, int]:
    """Averages over ``window_s`` and the length that was averaged: one value for every window of whole intervals without a
    break between them, wherever it begins, at the time at which it begins.

    Where the interval is longer than the window, does not divide it, or no window is unbroken, the series itself.
    """
    width, rest = divmod(window_s, series.step_s)
    if width <= 1 or rest or len(series) < width:
        return series, series.step_s
    last = len(series) - width + 1
    whole = np.flatnonzero(series.start_s[width - 1 :] - series.start_s[:last] == window_s - series.step_s)
    if not len(whole):
        return series, series.step_s
    # Sums of each window on its own: a running total of a year would lose digits to what came before.
    sums = np.zeros(len(whole))
    measured = np.ones(len(whole), dtype=bool)
    for k in range(width):
        sums += series.values[whole + k]
        measured &= series.measured[whole + k]
    averages = Series(series.start_s[whole], series.step_s, sums / width, measured, series.offset_s[whole])
    return averages, window_s


def highest_average(series: Series, window_s: int) -> tuple[float, int, int]:
    """The highest average over ``window_s``: (value, its start in seconds, the length that was averaged).

    Windows of whole intervals are tried wherever they begin, so the answer is never below that of a meter whose windows
    begin on the quarter hour. Where no window can be averaged (see ``averaged``) the highest interval is the answer.
    """
    averages, length = averaged(series, window_s)
    best = int(np.argmax(averages.values))
    return float(averages.values[best]), int(averages.start_s[best]), length


def load_duration(series: Series, shares: tuple[float, ...]) -> tuple[float, ...]:
    """The demand that was reached or exceeded during each share of the recorded time (0 to 1; 0 is the peak)."""
    falling = np.sort(series.values)[::-1]
    at = [min(len(falling) - 1, max(0, int(np.ceil(share * len(falling))) - 1)) for share in shares]
    return tuple(float(falling[n]) for n in at)


def highest_by_bucket(series: Series, bucket_s: int) -> tuple[int, list[float | None]]:
    """The highest value of each bucket of ``bucket_s`` seconds on the wall clock of the first interval.

    Returns where the first bucket begins (wall seconds, a multiple of the bucket) and one figure a bucket; ``None`` where
    nothing was recorded.
    """
    offset = int(series.offset_s[0])
    wall = series.start_s + offset
    first = int(wall[0]) // bucket_s
    index = wall // bucket_s - first
    highest = np.full(int(index[-1]) + 1, -np.inf)
    np.maximum.at(highest, index, series.values)
    return first * bucket_s, [None if np.isneginf(v) else float(v) for v in highest]
