"""The figures of a point as rows of text, before beside after. No calculation beyond the difference of two figures."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from oneline.desk.panes.words import amperes, change, join, kiloamperes, percent
from oneline.model import Drawing
from oneline.study import PointFigures, StudyResult


@dataclass(frozen=True)
class FigureRow:
    """One figure in both views. ``note`` is the tooltip: what is missing, or a bound."""

    what: str
    before: str
    after: str
    change: str
    note: str = ""


def points_of(item_id: str, before: StudyResult, after: StudyResult) -> tuple[PointFigures | None, PointFigures | None]:
    """The item's figures in the existing and in the proposed view; ``None`` where it is not part of the view."""
    return before.points.get(item_id), after.points.get(item_id)


def phases_of(*points: PointFigures | None) -> list[str]:
    """Phase letters that any of the points has, in order."""
    found: set[str] = set()
    for point in points:
        if point is not None:
            found |= set(point.phases) | set(point.load_a) | set(point.available_a)
    return [letter for letter in "ABC" if letter in found]


def figure_rows(before: PointFigures | None, after: PointFigures | None) -> list[FigureRow]:
    """Load and available load by phase, fault current and voltage drop, each in both views with the change."""
    rows = []
    phases = phases_of(before, after)
    for letter in phases:
        rows.append(_row(f"Load {letter}", before, after, _of("load_a", letter), amperes, "A"))
    if not phases:
        rows.append(_row("Load", before, after, lambda p: None, amperes, "A"))
    for letter in phases:
        rows.append(_row(f"Available {letter}", before, after, _of("available_a", letter), amperes, "A"))
    if not phases:
        rows.append(_row("Available", before, after, lambda p: None, amperes, "A"))
    rows.append(_row("Fault current", before, after, lambda p: p.fault_a, kiloamperes, "kA", 1000))
    rows.append(_row("Voltage drop", before, after, lambda p: p.voltage_drop_pct, percent, "%"))
    return rows


def _of(field: str, letter: str) -> Callable[[PointFigures], float | None]:
    def read(point: PointFigures) -> float | None:
        found: float | None = getattr(point, field).get(letter)
        return found

    return read


def _row(
    what: str,
    before: PointFigures | None,
    after: PointFigures | None,
    read: Callable[[PointFigures], float | None],
    write: Callable[[float | None], str],
    unit: str,
    scale: float = 1.0,
) -> FigureRow:
    old = None if before is None else read(before)
    new = None if after is None else read(after)
    notes = [missing(p) for p, v in ((before, old), (after, new)) if p is not None and v is None]
    return FigureRow(
        what,
        "" if before is None else write(old),
        "" if after is None else write(new),
        change(old, new, unit, scale),
        next((n for n in notes if n), ""),
    )


def missing(point: PointFigures, most: int = 12) -> str:
    """ "Not known yet: length of Tap 1; size of Tap 1", or "" when nothing is named."""
    if not point.needs:
        return ""
    shown = "; ".join(point.needs[:most])
    more = len(point.needs) - most
    return f"Not known yet: {shown}" + (f"; and {more} more" if more > 0 else "")


def bounds(point: PointFigures) -> list[str]:
    """Sentences for what can be said although a figure itself is not known."""
    said = []
    if point.available_a and any(v is None for v in point.available_a.values()):
        known = {p: v for p, v in point.available_bound_a.items() if v is not None}
        if known:
            said.append("Available: at most " + join([f"{amperes(v)} on {p}" for p, v in sorted(known.items())]))
    if point.fault_a is None and point.fault_bound_a is not None:
        said.append(f"Fault current: at most {kiloamperes(point.fault_bound_a)}")
    return said


def live_sentences(point: PointFigures, drawing: Drawing) -> list[str]:
    """What reaches the point in the drawn positions. A point that nothing reaches is still not proved dead."""

    def named(ids: tuple[str, ...]) -> str:
        return join([drawing.name_of(i) for i in ids])

    said = []
    if len({frozenset(ids) for ids in point.live_sides.values()}) > 1:
        for side, ids in point.live_sides.items():
            reached = f"live from {named(ids)}" if ids else "no source reaches it as drawn"
            said.append(f"{side.capitalize()} side: {reached}")
    elif point.live_from:
        said.append(f"Live from {named(point.live_from)}")
    else:
        said.append("No source reaches it as drawn. That does not prove it dead: test.")
    maybe = tuple(i for i in point.possibly_live_from if i not in point.live_from)
    if maybe:
        said.append(f"Possibly also live from {named(maybe)}")
    return said


def limit_sentences(before: PointFigures | None, after: PointFigures | None) -> list[str]:
    """What limits an addition, in each view where the two differ."""
    old = str(before.limited_by) if before is not None and before.limited_by is not None else ""
    new = str(after.limited_by) if after is not None and after.limited_by is not None else ""
    if old == new or not old or not new:
        return [f"Limited by {old or new}"] if old or new else []
    return [f"Existing limited by {old}", f"Proposed limited by {new}"]
