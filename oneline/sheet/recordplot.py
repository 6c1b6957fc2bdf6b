"""The plot of a demand record as a picture: demand over time, its peak, what it is compared with, what was not recorded.

The same picture is painted in the window and on paper. Coordinates are whatever the painter's unit is (pixels, points), from
(0, 0) at the upper left corner to the width and height asked for.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from oneline.model import DemandSeries
from oneline.sheet.display import Arc, Group, Picture, Point, Primitive, Stroke, Text
from oneline.sheet.metrics import text_box, text_width
from oneline.sheet.plotaxes import dates, figure_text, nice_step, ticks
from oneline.study.record_chart import RecordChart
from oneline.study.record_words import shown
from oneline.units import format_value

Box = tuple[float, float, float, float]

#: What is above this many times the peak as counted is told in words and not drawn.
_FAR = 2.2
_HEAD = 1.12
_HATCH = 5.0
_LEAST_GAP = 1.5
_ABOVE = ", above this plot"


@dataclass(frozen=True)
class PlotLines:
    """What a record is drawn with. All figures in the unit of the series. ``peak_at``: "2026-01-05 17:30". ``counted``: the
    peak as counted against the rating, and ``counted_words`` how; ``rating_words``: what has the rating, and what it is."""

    peak: float | None = None
    peak_at: str = ""
    counted: float | None = None
    counted_words: str = ""
    rating: float | None = None
    rating_words: str = ""


def plot_lines(chart: RecordChart) -> PlotLines:
    """What the plot of a record is drawn with."""
    counted = ""
    if chart.counted is not None:
        counted = f"Peak as counted, × {chart.factor:g}: {shown(chart.counted, chart.unit)}"
    rating = ""
    if chart.rating is not None and chart.rating_a is not None:
        marked = format_value(chart.rating_a, "current_a")
        inside = "" if chart.unit == "A" else f" = {shown(chart.rating, chart.unit)}"
        pf = f" {chart.assumed}" if chart.assumed else ""
        rating = f"{chart.rating_of or 'Rating'}: {marked}{inside}{pf}"
    # A series in another unit than the peak (the peak was typed anew) is drawn alone.
    series = chart.record.series
    if series is not None and series.unit != chart.unit:
        return PlotLines()
    return PlotLines(chart.peak, chart.record.peak_at, chart.counted, counted, chart.rating, rating)


@dataclass(frozen=True)
class Frame:
    """Where times and figures lie in a plot."""

    left: float
    top: float
    right: float
    bottom: float
    minutes: float
    low: float
    high: float
    step: float

    def x(self, minute: float) -> float:
        return self.left + (self.right - self.left) * min(max(minute / self.minutes, 0.0), 1.0)

    def y(self, value: float) -> float:
        return self.bottom - (self.bottom - self.top) * (value - self.low) / (self.high - self.low)

    def minute(self, x: float) -> float:
        """The time at a place, in minutes from the start."""
        return (x - self.left) / (self.right - self.left) * self.minutes


def record_picture(series: DemandSeries, lines: PlotLines, width: float, height: float, size: float = 8.0) -> Picture:
    """The plot in a room of ``width`` by ``height``; ``size`` of its texts."""
    frame = plot_frame(series, lines, width, height, size)
    labels = _gap_words(frame, series, size)
    limits = _limits(frame, lines, size, labels)
    peak = _peak(frame, series, lines, size, labels)
    hatched = _gaps(frame, series, [text_box(label) for label in labels], size * 0.3)
    axes = [*_grid(frame, series, size, labels), *_time_axis(frame, series, size)]
    prims: list[Primitive] = [*axes, *hatched, *_demand(frame, series), *limits, *peak, *labels]
    return Picture((Group("", "plot", tuple(prims), (0.0, 0.0, width, height)),), (0.0, 0.0, width, height), {})


def plot_frame(series: DemandSeries, lines: PlotLines, width: float, height: float, size: float = 8.0) -> Frame:
    """Where times and figures lie in the plot of this size."""
    known = [v for v in series.highest if v is not None]
    top = max([*known, lines.counted or 0.0, lines.peak or 0.0, 1e-6])
    if lines.rating is not None and lines.rating <= _FAR * top:
        top = max(top, lines.rating)
    low = min([*known, 0.0])
    step = nice_step((top * _HEAD - low) / max(2.0, min(6.0, height / (4.5 * size))))
    high = math.ceil(round(top * _HEAD / step * 2, 6)) * step / 2
    low = math.floor(round(low / step, 6)) * step
    widest = max(
        *(text_width(figure_text(v, step), size) for v in ticks(low, high, step)), text_width(series.unit, size, "bold")
    )
    left = widest + size * 0.9
    minutes = max(len(series.highest) * series.step_min, 1.0)
    return Frame(left, size * 1.9, width - size * 0.8, height - size * 2.1, minutes, low, high, step)


def step_at(series: DemandSeries, frame: Frame, x: float) -> tuple[datetime, float | None] | None:
    """The beginning of the step at a place of the plot and its figure; ``None`` outside."""
    n = math.floor(frame.minute(x) / series.step_min)
    if not 0 <= n < len(series.highest):
        return None
    return start_of(series) + timedelta(minutes=n * series.step_min), series.highest[n]


def start_of(series: DemandSeries) -> datetime:
    return datetime.strptime(series.start, "%Y-%m-%d %H:%M")


# ----------------------------------------------------------------------------------------------------------------- axes
def _grid(frame: Frame, series: DemandSeries, size: float, labels: list[Text]) -> list[Primitive]:
    """Levels and their figures; a level line stops beside words that stand on it."""
    out: list[Primitive] = []
    for value in ticks(frame.low, frame.high, frame.step):
        y = frame.y(value)
        for x0, x1 in _free(frame, y, labels, size * 0.3):
            out.append(Stroke(((x0, y), (x1, y)), "hair", "solid", "ghost" if value else "faint"))
        words = figure_text(value, frame.step)
        out.append(Text((frame.left - size * 0.5, y + size * 0.36), words, size, "regular", "end", "faint"))
    out.append(Text((frame.left - size * 0.5, frame.top - size * 0.75), series.unit, size, "bold", "end", "faint"))
    return out


def _free(frame: Frame, y: float, labels: list[Text], air: float) -> list[tuple[float, float]]:
    """The parts of a level line that no label covers."""
    boxes = sorted(b for b in map(text_box, labels) if b[1] - air < y < b[3] + air)
    parts, x = [], frame.left
    for left, _, right, _ in boxes:
        if left - air > x:
            parts.append((x, left - air))
        x = max(x, right + air)
    return [*parts, (x, frame.right)] if x < frame.right else parts


def _time_axis(frame: Frame, series: DemandSeries, size: float) -> list[Primitive]:
    start = start_of(series)
    out: list[Primitive] = [Stroke(((frame.left, frame.bottom), (frame.right, frame.bottom)), "thin", "solid", "faint")]
    free_from = -math.inf
    for at, words in dates(start, start + timedelta(minutes=frame.minutes), frame.right - frame.left, size):
        x = frame.x((at - start).total_seconds() / 60)
        out.append(Stroke(((x, frame.bottom), (x, frame.bottom + size * 0.4)), "hair", "solid", "faint"))
        half = text_width(words, size) / 2
        middle = min(max(x, frame.left - size * 0.5 + half), frame.right + size * 0.6 - half)
        if middle - half >= free_from:
            out.append(Text((middle, frame.bottom + size * 1.5), words, size, "regular", "middle", "faint"))
            free_from = middle + half + size * 0.8
    return out


# ----------------------------------------------------------------------------------------------------------------- data
def _demand(frame: Frame, series: DemandSeries) -> list[Primitive]:
    """Steps of the highest figures; broken where nothing was recorded."""
    out: list[Primitive] = []
    points: list[Point] = []
    for n, value in enumerate((*series.highest, None)):
        if value is None:
            if points:
                out.append(Stroke(tuple(points), "thin", "solid", "accent"))
            points = []
            continue
        y = frame.y(value)
        points += [(frame.x(n * series.step_min), y), (frame.x((n + 1) * series.step_min), y)]
    return out


def _gap_words(frame: Frame, series: DemandSeries, size: float) -> list[Text]:
    """What hatching means, where there is room for the words."""
    words = "not recorded"
    sides = (_gap_sides(frame, *gap) for gap in series.gaps)
    wide = [(a + b) / 2 for a, b in sides if b - a > text_width(words, size) + size]
    return [Text((x, frame.bottom - size * 0.8), words, size, "italic", "middle", "faint") for x in wide]


def _gaps(frame: Frame, series: DemandSeries, labels: list[Box], air: float) -> list[Primitive]:
    """What was not recorded: hatched, but for where words stand."""
    out: list[Primitive] = []
    for gap in series.gaps:
        x0, x1 = _gap_sides(frame, *gap)
        y = frame.top
        for _, top, _, bottom in sorted((b for b in labels if b[0] < x1 and x0 < b[2]), key=lambda b: b[1]):
            if top - air > y:
                out += _hatch(x0, y, x1, top - air)
            y = max(y, bottom + air)
        if y < frame.bottom:
            out += _hatch(x0, y, x1, frame.bottom)
    return out


def _gap_sides(frame: Frame, begin: float, end: float) -> tuple[float, float]:
    """Left and right of a gap; never narrower than can be seen."""
    x0, x1 = frame.x(begin), frame.x(end)
    return (x0, x1) if x1 - x0 >= _LEAST_GAP else ((x0 + x1 - _LEAST_GAP) / 2, (x0 + x1 + _LEAST_GAP) / 2)


def _hatch(x0: float, y0: float, x1: float, y1: float) -> list[Primitive]:
    """Rising hair lines in a box, and its edges."""
    edges: list[Primitive] = [Stroke(((x, y0), (x, y1)), "hair", "solid", "ghost") for x in (x0, x1)]
    c = x0 + y0 + _HATCH
    lines: list[Primitive] = []
    while c < x1 + y1:
        a, b = (max(x0, c - y1), min(y1, c - x0)), (min(x1, c - y0), max(y0, c - x1))
        lines.append(Stroke((a, b), "hair", "solid", "ghost"))
        c += _HATCH
    return [*lines, *edges]


# --------------------------------------------------------------------------------------------------- peak and limits
def _limits(frame: Frame, lines: PlotLines, size: float, labels: list[Text]) -> list[Primitive]:
    """What the peak is compared with: the peak as counted, dashed, and the rating. What is far above is said in words."""
    out: list[Primitive] = []
    ratings: list[Text] = []
    if lines.rating is not None and lines.rating_words:
        over = lines.counted is not None and lines.counted > lines.rating
        ink = "verdict-fail" if over else "ink"
        if lines.rating > frame.high:
            room = frame.right - frame.left - text_width(_ABOVE, size, "bold")
            words = _fit(lines.rating_words, room, size, "bold") + _ABOVE
            ratings = [Text((frame.right, frame.top - size * 0.75), words, size, "bold", "end")]
        else:
            y = frame.y(lines.rating)
            out.append(Stroke(((frame.left, y), (frame.right, y)), "medium", "solid", ink))
            words = _fit(lines.rating_words, frame.right - frame.left - size * 0.8, size, "bold")
            ratings = _beside(Text((frame.left + size * 0.4, y), words, size, "bold", ink=ink), size)
    counted: list[Text] = []
    if lines.counted is not None and lines.counted <= frame.high:
        y = frame.y(lines.counted)
        out.append(Stroke(((frame.left, y), (frame.right, y)), "thin", "removed", "ink"))
        words = _fit(lines.counted_words, frame.right - frame.left, size)
        counted = _beside(Text((frame.right, y), words, size, "regular", "end"), size)
    pairs = [[*one, *other] for one in ([t] for t in ratings) for other in ([t] for t in counted)]
    alone = [[text] for text in (*ratings, *counted)]
    apart = (pair for pair in pairs if not _meet(text_box(pair[0]), text_box(pair[1])))
    labels += next(apart, (pairs or alone or [[]])[0])
    return out


def _beside(text: Text, size: float) -> list[Text]:
    """Words of a level line: above it, else below it."""
    x, y = text.at
    return [replace(text, at=(x, y - size * 0.5)), replace(text, at=(x, y + size * 1.25))]


def _fit(words: str, room: float, size: float, face: str = "regular") -> str:
    """The words, or as much of them as the room holds: the last part goes first, then letters of the name; never a figure
    that stands behind the name."""
    while text_width(words, size, face) > room:
        parts = [
            head
            for mark in (" at a", " = ", ", ")
            if (head := words.rpartition(mark)[0]) and ": " not in words[len(head) :]
        ]
        if not parts:
            name, colon, figure = words.rpartition(": ")
            name, rest = (name, colon + figure) if colon else (words, "")
            while name and text_width(f"{name}…{rest}", size, face) > room:
                name = name[:-1]
            return f"{name.rstrip(' ,')}…{rest}"
        words = max(parts, key=len)
    return words


def _peak(frame: Frame, series: DemandSeries, lines: PlotLines, size: float, labels: list[Text]) -> list[Primitive]:
    if lines.peak is None:
        return []
    at = _peak_minute(series, lines)
    if at is None:
        return []
    x, y = frame.x(at), frame.y(lines.peak)
    when = _when(lines.peak_at)
    words = f"Peak {shown(lines.peak, series.unit)}{f', {when}' if when else ''}"
    words = _fit(words, frame.right - frame.left - size, size, "bold")
    broken = [(a, frame.top, b, frame.bottom) for a, b in (_gap_sides(frame, *gap) for gap in series.gaps)]
    levels = [frame.y(v) for v in (lines.counted, lines.rating) if v is not None and v <= frame.high]
    crossed = [(frame.left, level - 1.0, frame.right, level + 1.0) for level in levels]
    taken = [text_box(label) for label in labels]

    def clear(box: Box, strict: int) -> bool:
        """Whether a box covers no words; strictly, no limit, no gap and nothing of the demand either."""
        others = [taken, [*taken, *crossed], [*taken, *crossed, *broken]][min(strict, 2)]
        return not any(_meet(box, o) for o in others) and not (strict and _on_demand(box, frame, series))

    labels.append(_clear(words, x, y, size, frame, clear))
    return [
        Arc((x, y), size * 0.38, weight="thin", ink="accent", fill="paper"),
        Arc((x, y), size * 0.16, weight="thin", ink="accent"),
    ]


def _peak_minute(series: DemandSeries, lines: PlotLines) -> float | None:
    try:
        minute = (datetime.strptime(lines.peak_at, "%Y-%m-%d %H:%M") - start_of(series)).total_seconds() / 60
        if 0 <= minute <= len(series.highest) * series.step_min:
            return minute
    except ValueError:
        pass
    known = [(v, n) for n, v in enumerate(series.highest) if v is not None]
    return (max(known)[1] + 0.5) * series.step_min if known else None


def _when(text: str) -> str:
    try:
        at = datetime.strptime(text, "%Y-%m-%d %H:%M")
    except ValueError:
        return ""
    return f"{at.strftime('%b')} {at.day}, {at.year}, {at.strftime('%H:%M')}"


def _clear(words: str, x: float, y: float, size: float, frame: Frame, clear: Callable[[Box, int], bool]) -> Text:
    """The label of the peak where it covers as little as can be: above, beside, below; rather shorter than on something."""
    variants = list(dict.fromkeys((words, words.partition(", ")[0])))
    for strict in (2, 1, 0):
        for variant in variants:
            for text in _places(variant, x, y, size, frame):
                box = text_box(text)
                across = frame.left <= box[0] and box[2] <= frame.right + size * 0.5
                if across and box[1] >= 0 and box[3] <= frame.bottom and clear(box, strict):
                    return text
    return next(_places(variants[-1], x, y, size, frame))


def _on_demand(box: Box, frame: Frame, series: DemandSeries) -> bool:
    """Whether a box lies on the line of the demand, between its least and its highest there."""
    first = max(0, math.floor(frame.minute(box[0]) / series.step_min))
    last = max(first, math.floor(frame.minute(box[2]) / series.step_min))
    known = [v for v in series.highest[first : last + 1] if v is not None]
    return bool(known) and _meet(box, (box[0], frame.y(max(known)) - 1.0, box[2], frame.y(min(known)) + 1.0))


def _places(words: str, x: float, y: float, size: float, frame: Frame) -> Iterator[Text]:
    """Places around the peak, best first."""
    wide = text_width(words, size, "bold")
    least, most = frame.left + wide / 2 + size * 0.4, frame.right - wide / 2
    middles = dict.fromkeys(min(max(at, least), most) for at in (x, x + wide / 2, x - wide / 2))
    yield from (Text((at, y - size * 0.9), words, size, "bold", "middle") for at in middles)
    yield Text((x + size, y + size * 0.1), words, size, "bold", "start")
    yield Text((x - size, y + size * 0.1), words, size, "bold", "end")
    for down in (-2.2, -3.6, 1.7, -5.0, 3.1, -6.4, 4.5, 6.0):
        yield from (Text((at, y + size * down), words, size, "bold", "middle") for at in middles)


def _meet(a: Box, b: Box) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]
