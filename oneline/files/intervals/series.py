"""Rows of times and values as one series of equal intervals: sorted, each interval once, on a grid."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from oneline.calc.intervals import DAY_S, Series
from oneline.files.intervals.asking import Asker, some
from oneline.files.intervals.clock import wall_text

#: Intervals that recorders have, in seconds; a step within a fiftieth of one is that one.
_USUAL = (1, 2, 3, 5, 10, 12, 15, 20, 30, 60, 120, 180, 240, 300, 360, 600, 720, 900, 1200, 1800, 3600, 7200, 14_400)
_NEAR = 0.02
#: Share of the interval by which a time may stand beside the grid (a recorder's clock that drifts).
_OFF_GRID = 0.25
_MOST_OFF = 0.02
#: A series longer than this in grid steps has a stray date in it.
MAX_SPAN_S = 20 * 366 * DAY_S


@dataclass(frozen=True, eq=False)
class Rows:
    """Rows as they were read: ``start_s`` steady seconds, ``offset_s`` to the wall, ``values`` in the unit of the record,
    ``measured`` false where estimated."""

    start_s: Sequence[int]
    offset_s: Sequence[int]
    values: Sequence[float]
    measured: Sequence[bool]


def usual_step(times: Sequence[int], asker: Asker) -> int:
    """The interval of a record from the times of its rows, in seconds. Raises ``CannotOpen`` where there is none."""
    ordered = np.unique(np.asarray(times, dtype=np.int64))
    if len(ordered) < 2:
        raise asker.refusal(
            "It has fewer than two different times.", "A record needs intervals that follow each other."
        )
    steps = np.diff(ordered)
    found, counts = np.unique(steps, return_counts=True)
    step = int(found[np.argmax(counts)])
    if int(np.median(steps)) >= DAY_S:
        raise asker.refusal(
            "Its rows are a day or more apart, so they are totals or bills and no interval data.",
            "Enter the highest billed demand by hand, or ask for the interval data.",
        )
    usual = min(_USUAL, key=lambda s: abs(s - step))
    return usual if abs(usual - step) <= _NEAR * usual else step


def to_series(rows: Rows, asker: Asker, step_s: int | None = None) -> Series:
    """The rows as a series. Of an interval that stands there more than once the highest value counts, and a note says so.

    ``step_s``: the interval where the file tells it. Raises ``CannotOpen`` for rows that do not follow a grid.
    """
    starts = np.asarray(rows.start_s, dtype=np.int64)
    step = step_s or usual_step(rows.start_s, asker)
    starts, on_grid = _on_grid(starts, step)
    if (~on_grid).mean() > _MOST_OFF:
        raise asker.refusal(
            f"Its rows do not follow each other at one interval: most are {step / 60:g} minutes apart, others not.",
            "Export the data with one interval throughout.",
        )
    if not on_grid.all():
        asker.note(f"{some(int((~on_grid).sum()), 'row')} between two intervals left out.")
    starts = starts[on_grid]
    values = np.asarray(rows.values, dtype=np.float64)[on_grid]
    measured = np.asarray(rows.measured, dtype=bool)[on_grid]
    offset = np.asarray(rows.offset_s, dtype=np.int64)[on_grid]
    if np.any(np.diff(starts) < 0):
        falling = np.all(np.diff(starts) <= 0)
        asker.note(
            "The rows stood in reverse order." if falling else "The rows were not in order of time; they were sorted."
        )
    order = np.lexsort((values, starts))
    starts, values, measured, offset = starts[order], values[order], measured[order], offset[order]
    last = np.concatenate((np.diff(starts) != 0, [True]))
    _tell_duplicates(starts, values, offset, last, asker)
    if int(starts[-1] - starts[0]) > MAX_SPAN_S:
        raise asker.refusal(
            f"It goes from {wall_text(int(starts[0]))} to {wall_text(int(starts[-1]))}.", "Check its dates."
        )
    return Series(starts[last], step, values[last], measured[last], offset[last])


def _on_grid(starts: np.ndarray, step: int) -> tuple[np.ndarray, np.ndarray]:
    """Times moved to the grid that most of them stand near, and which of them do."""
    phase = starts % step
    usual, counts = np.unique(phase, return_counts=True)
    base = int(usual[np.argmax(counts)])
    index = np.round((starts - base) / step).astype(np.int64)
    grid = index * step + base
    return grid, np.abs(starts - grid) <= _OFF_GRID * step


def _tell_duplicates(
    starts: np.ndarray, values: np.ndarray, offset: np.ndarray, last: np.ndarray, asker: Asker
) -> None:
    again = int((~last).sum())
    if not again:
        return
    same = (np.diff(starts) == 0) & (np.diff(values) == 0)
    differ = again - int(same.sum())
    if differ:
        at = int(np.flatnonzero((np.diff(starts) == 0) & (np.diff(values) != 0))[0])
        when = wall_text(int(starts[at] + offset[at]))
        asker.note(
            f"{some(differ, 'interval')} stood there again with another value, first {when}; the higher one counts."
        )
    if again > differ:
        asker.note(f"{some(again - differ, 'row')} stood there twice and count once.")
