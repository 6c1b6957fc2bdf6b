"""From the file of a recorder or a utility to a demand record: everything that can be told from it, and nothing else."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from oneline import tables
from oneline.calc.intervals import (
    DAY_S,
    MINUTE_S,
    Series,
    averaged,
    coverage,
    gaps,
    highest_average,
    highest_by_bucket,
    unbroken,
)
from oneline.files.fingerprint import load
from oneline.files.intervals.asking import Asker, Choice, Open, Question, refusal, some
from oneline.files.intervals.clock import wall_datetime, wall_text
from oneline.files.intervals.espi import looks_like_xml
from oneline.files.intervals.series import Rows, to_series
from oneline.files.intervals.tabular import Tabled, read_tabular
from oneline.files.intervals.usage import Fed, read_espi
from oneline.files.problems import CannotOpen
from oneline.files.text import LINE_CHARS, clean_text
from oneline.model import DemandRecord, DemandSeries, specs

#: Peaks below zero smaller than this share of the peak may be noise of the sensor, which is asked.
_NOISE = 0.01
#: Steps of the series that is kept for the plot: the shortest that gives no more figures than this.
MOST_BUCKETS, MOST_GAPS = 1200, 200
_BUCKETS_MIN = (1, 2, 5, 10, 15, 30, 60, 120, 180, 240, 360, 480, 720, 1440, 2880, 10_080)
#: A record longer than two months is kept by days.
_LONG_MIN, _DAILY_MIN = 62 * 1440, 1440
_PREVIEW_ROWS = 12
_PEAK_FIELDS = {"kW": "peak_kw", "kVA": "peak_kva", "A": "peak_a"}


@dataclass(frozen=True, eq=False)
class Recording:
    """A record as the file holds it. ``unit``: "kW", "kVA" or "A" (the highest phase of each interval). ``exported``:
    whether power flowed back; ``None``: such a file does not show it. ``phases``: series of each phase, where told."""

    unit: str
    series: Series
    exported: bool | None
    phases: Mapping[str, Series]
    file_name: str
    sha256: str
    kind: str

    @property
    def interval_min(self) -> float:
        return self.series.step_s / MINUTE_S


@dataclass(frozen=True)
class Preview:
    """The first rows of a table and what each of its columns was taken for; nothing of XML."""

    names: tuple[str, ...]
    used: Mapping[int, str]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, eq=False)
class Imported:
    """What came of a file. ``recording`` is ``None`` while one of ``questions`` has no answer."""

    file_name: str
    recording: Recording | None
    questions: tuple[Question, ...]
    notes: tuple[str, ...]
    preview: Preview

    @property
    def open(self) -> tuple[Question, ...]:
        """The questions without an answer."""
        return tuple(q for q in self.questions if not q.answer)


def read_recording(source: str | Path | bytes, answers: Mapping[str, str] | None = None, name: str = "") -> Imported:
    """Read interval data: a table (CSV) of a recorder or a portal, or XML after NAESB REQ.21 (ESPI).

    ``answers``: to questions, by their names (``asking.QUESTIONS``), and "stamps": "start" or "end" where the times of the
    rows are known to be the one or the other. ``name``: of the data where ``source`` is bytes. Raises ``CannotOpen`` for a
    file of which nothing can be made; what it leaves open comes back as questions.
    """
    data, fingerprint, _, loaded = load(source)
    name = name or loaded
    asker = Asker({k: v for k, v in (answers or {}).items() if v}, name)
    try:
        return _read(data, fingerprint.sha256, name, asker)
    except (OverflowError, RecursionError, MemoryError) as bad:
        raise refusal(name, f"Its figures are beyond anything that is read ({type(bad).__name__}).") from None


def _read(data: bytes, sha256: str, name: str, asker: Asker) -> Imported:
    found: Tabled | Fed
    preview = Preview((), {}, ())
    if looks_like_xml(data):
        found = read_espi(data, asker)
        kind = "ESPI"
    else:
        found = read_tabular(data, asker)
        kind = "table"
        rows = tuple(tuple(cell[:40] for cell in row) for row in found.table.rows[:_PREVIEW_ROWS])
        preview = Preview(found.table.names, found.used, rows)
    recording = None
    if found.rows is not None and not asker.waiting:
        try:
            recording = _recording(found, found.rows, asker, sha256, kind)
        except Open:
            recording = None
    return Imported(name, recording, tuple(asker.asked.values()), tuple(asker.notes), preview)


def _recording(found: Tabled | Fed, rows: Rows, asker: Asker, sha256: str, kind: str) -> Recording:
    unit = found.measure.removesuffix("h")
    series, rows_seen = _power(found, rows, asker), Asker(asker.answers, asker.name)
    exported: bool | None = None
    if found.exports or found.flow == "net":
        exported = any(v > 0 for v in found.exports)
    phases = {p: _power(found, replace(rows, values=values), rows_seen) for p, values in found.by_phase.items()}
    one_way = _one_turned(phases, asker)
    if one_way:
        phases = {letter: _turned(own) if letter in one_way else own for letter, own in phases.items()}
        series = _together(phases, unit, asker)
    elif phases and asker.answers.get("negative") == "export" and "negative" in asker.asked:
        exported = True
    turn, exported = (_as_it_is, exported) if "negative" in asker.asked else _signs(series, unit, exported, asker)
    series = turn(series)
    phases = {letter: turn(own) for letter, own in phases.items()}
    if unit == "A" and phases:
        series = _together(phases, unit, asker)
    top = float(series.values.max())
    limit = specs(DemandRecord)[_PEAK_FIELDS[unit]].high or math.inf
    if top > limit:
        raise asker.refusal(
            f"Its highest value would be {top:,.0f} {unit}; a record goes up to {limit:,.0f} {unit}.",
            "Check the unit of the column.",
        )
    if top <= 0:
        raise asker.refusal(
            "Every value of it is zero or less.", "Check that it is the right column, and the recorder."
        )
    return Recording(unit, series, exported, phases, clean_text(asker.name, "file_name")[:LINE_CHARS], sha256, kind)


def _power(found: Tabled | Fed, rows: Rows, asker: Asker) -> Series:
    """Average power or current of each interval."""
    series = to_series(rows, asker, found.step_s or None)
    if not found.measure.endswith("h"):
        return series
    per_hour = 3600 / series.step_s
    if not found.register:
        return replace(series, values=series.values * per_hour)
    follows = np.diff(series.start_s) == series.step_s
    used = np.diff(series.values)
    fell = follows & (used < 0)
    if fell.any():
        at = int(np.flatnonzero(fell)[0])
        when = wall_text(series.wall_s(int(series.start_s[at])))
        asker.note(
            f"The running total began anew {some(int(fell.sum()), 'time')}, first on {when}: not recorded there."
        )
    good = follows & (used >= 0)
    if not good.any():
        raise asker.refusal("The running total never rises from one row to the next.")
    measured = series.measured[:-1] & series.measured[1:]
    return Series(
        series.start_s[:-1][good], series.step_s, used[good] * per_hour, measured[good], series.offset_s[:-1][good]
    )  # fmt: skip


def _signs(
    series: Series, unit: str, exported: bool | None, asker: Asker
) -> tuple[Callable[[Series], Series], bool | None]:  # fmt: skip
    """What values below zero are: power that flowed back, a sensor mounted the wrong way round, or noise around zero.

    Returns what makes of a series what was measured, and whether power flowed back.
    """
    below = series.values < 0
    if not below.any():
        return _as_it_is, exported
    low, top = float(series.values.min()), float(series.values.max())
    back = Choice("export", "Power flowed back: there is generation behind this point")
    turned = Choice("reversed", "The sensor was mounted the wrong way round: turn the signs")
    noise = Choice("noise", "Noise of the sensor around zero: count it as zero")
    are = "is" if below.sum() == 1 else "are"
    share = f"{some(int(below.sum()), 'value')} of {len(series):,} {are} below zero, down to {low:,.4g} {unit}."
    answer = "export"
    if asker.answers.get("negative") or 2 * int(below.sum()) > len(series):
        answer = asker.ask("negative", f"{share} What are they?", (back, turned, noise))
    elif -low <= _NOISE * top:
        answer = asker.ask("negative", f"{share} What are they?", (noise, back))
    if answer == "noise":
        return _above_zero, exported
    if answer == "reversed":
        left = bool((series.values > _NOISE * float(np.abs(series.values).max())).any())
        return _turned, True if left else exported
    asker.note(f"{share} Power flowed back through this point.")
    return _as_it_is, True


def _one_turned(phases: Mapping[str, Series], asker: Asker) -> tuple[str, ...]:
    """Phases whose sensor was mounted the wrong way round while the others were not: their power would be taken off the
    total. Asked where a phase is mostly below zero and another is not."""
    below = tuple(p for p, own in phases.items() if 2 * int((own.values < 0).sum()) > len(own))
    if not below or len(below) == len(phases):
        return ()
    which = " and ".join(below)
    words = f"Phase {which} is mostly below zero, and the others are not. Was a sensor mounted the wrong way round?"
    choices = (
        Choice("reversed", f"Yes: turn the signs of phase {which}"),
        Choice("export", "No: power flowed back on it"),
    )
    return below if asker.ask("negative", words, choices) == "reversed" else ()


def _together(phases: Mapping[str, Series], unit: str, asker: Asker) -> Series:
    """The series of all phases: the highest of their currents, the sum of their powers."""
    first, *others = phases.values()
    if any(not np.array_equal(first.start_s, own.start_s) for own in others):
        raise asker.refusal("Its phases were not recorded over the same intervals.", "Import one phase, or the total.")
    values = np.array([own.values for own in phases.values()])
    return replace(first, values=values.max(axis=0) if unit == "A" else values.sum(axis=0))


def _as_it_is(series: Series) -> Series:
    return series


def _above_zero(series: Series) -> Series:
    return replace(series, values=np.maximum(series.values, 0.0))


def _turned(series: Series) -> Series:
    return replace(series, values=-series.values)


# --------------------------------------------------------------------------------------------------------------- record
def to_record(recording: Recording, **more: Any) -> DemandRecord:
    """The demand record of a recording. ``more``: what no file tells: source, occupied, seasonal_included, power_factor.

    The peak is the highest average over the window that the rules name, or over one interval where that is longer.
    """
    series = recording.series
    window = _window_s()
    peak, at, length = highest_average(series, window)
    parts = unbroken(series)
    longest = max((b - a for a, b in parts), default=0)
    first, last = series.wall_s(int(series.start_s[0])), series.wall_s(series.end_s - 1)
    values: dict[str, Any] = {
        "source": f"Interval data of {recording.file_name}"[:LINE_CHARS],
        "start": wall_datetime(first).date().isoformat(),
        "end": wall_datetime(last).date().isoformat(),
        "period_days": _days(series.span_s),
        "interval_min": length / MINUTE_S,
        _PEAK_FIELDS[recording.unit]: _rounded(peak),
        "peak_at": wall_text(series.wall_s(at)),
        "recorded_every_min": series.step_s / MINUTE_S,
        "unbroken_days": _days(longest),
        "coverage_pct": math.floor(coverage(series) * 1e6) / 1e4,
        "gaps": min(len(gaps(series)), 1_000_000),
        "exported": recording.exported,
        "file_name": recording.file_name,
        "file_sha256": recording.sha256,
        "series": kept_series(recording),
    }
    if recording.unit == "A" and recording.phases:
        # The highest-loaded phase is one phase: the average of whichever was highest in each interval would be more.
        highest = {letter: highest_average(own, window) for letter, own in recording.phases.items()}
        values.update({f"phase_{letter.lower()}_a": _rounded(max(0.0, top[0])) for letter, top in highest.items()})
        peak, at, length = max(highest.values())
        values |= {"peak_a": _rounded(peak), "peak_at": wall_text(series.wall_s(at)), "interval_min": length / MINUTE_S}
    return DemandRecord(**{**values, **more})


def _days(seconds: int) -> float:
    """Days, rounded down, so that nothing that is short of a limit reaches it."""
    return math.floor(seconds * 10_000 / DAY_S) / 10_000


def _rounded(value: float) -> float:
    """A figure with six digits, rounded up: what was reached is never told smaller."""
    if value <= 0:
        return 0.0
    digits = 5 - math.floor(math.log10(value))
    return round(math.ceil(round(value * 10.0**digits, 3)) / 10.0**digits, max(digits, 0))


def kept_series(recording: Recording) -> DemandSeries:
    """The recording as it stays in the drawing: the highest average of each step (of the highest phase), the longest gaps.

    The averages are those of the peak, so that the highest of them is the peak.
    """
    series, window = recording.series, _window_s()
    averages, _ = averaged(series, window)
    if recording.unit == "A" and recording.phases:
        each = [averaged(own, window)[0].values for own in recording.phases.values()]
        averages = replace(averages, values=np.max(each, axis=0))
    span_min = series.span_s / MINUTE_S
    least_min = max(series.step_s / MINUTE_S, _DAILY_MIN if span_min > _LONG_MIN else 0)
    step_min = next((b for b in _BUCKETS_MIN if b >= least_min and span_min / b < MOST_BUCKETS), _BUCKETS_MIN[-1])
    first, highest = highest_by_bucket(averages, step_min * MINUTE_S)
    offset = int(series.offset_s[0])
    broken = sorted(gaps(series), key=lambda g: g[0] - g[1])[:MOST_GAPS]
    return DemandSeries(
        start=wall_text(first), step_min=float(step_min), unit=recording.unit,
        highest=tuple(None if v is None else float(f"{v:.4g}") for v in highest),
        gaps=tuple(((a + offset - first) / MINUTE_S, (b + offset - first) / MINUTE_S) for a, b in sorted(broken)),
    )  # fmt: skip


def _window_s() -> int:
    """Seconds over which the rules average a demand."""
    return round(tables.limit_value("demand_record_interval_min") * MINUTE_S)


__all__ = ["CannotOpen", "Imported", "Preview", "Recording", "kept_series", "read_recording", "to_record"]
