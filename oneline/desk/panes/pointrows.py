"""The figures of a point as rows of text, before beside after. No calculation beyond the difference of two figures."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

from oneline.desk.panes.words import amperes, amperes_at_most, change, join, kiloamperes, kiloamperes_between, percent
from oneline.model import Drawing
from oneline.network.live import LiveState
from oneline.study import PointFigures, StudyResult


@dataclass(frozen=True)
class FigureRow:
    """One figure in both views. ``why_before``, ``why_after``: tooltips where a figure is not known or only bounded."""

    what: str
    before: str
    after: str
    change: str
    why_before: str = ""
    why_after: str = ""


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
    phases = phases_of(before, after) or [""]
    for letter in phases:
        rows.append(_row(f"Load {letter}".strip(), before, after, _of("load_a", letter), load_text(letter), "A"))
    for letter in phases:
        read, write = _of("available_a", letter), available_text(letter)
        rows.append(_row(f"Available {letter}".strip(), before, after, read, write, "A"))
    rows.append(_row("Fault current", before, after, lambda p: p.fault_duty_a, fault_text, "kA", 1000))
    rows.append(_row("Ground fault", before, after, lambda p: p.fault_lg_a, ground_text, "kA", 1000))
    rows.append(_row("Voltage drop", before, after, lambda p: p.voltage_drop_pct, drop_text, "%"))
    return rows


Reader = Callable[[PointFigures], float | None]
Writer = Callable[[PointFigures], str]


def _of(field: str, letter: str) -> Reader:
    def read(point: PointFigures) -> float | None:
        found: float | None = getattr(point, field).get(letter)
        return found

    return read


def load_text(letter: str) -> Writer:
    """Writes the load of a phase."""
    return lambda point: amperes(point.load_a.get(letter))


def available_text(letter: str) -> Writer:
    """Writes what may be added on a phase: an upper bound where only part of the load is known."""

    def write(point: PointFigures) -> str:
        value, bound = point.available_a.get(letter), point.available_bound_a.get(letter)
        return amperes_at_most(bound) if value is None and bound is not None else amperes(value)

    return write


def fault_text(point: PointFigures) -> str:
    """The available fault current, or its upper bound."""
    if point.fault_duty_a is None and point.fault_bound_a is not None:
        return kiloamperes_between(point.fault_least_a, point.fault_bound_a)
    return kiloamperes(point.fault_duty_a)


def ground_text(point: PointFigures) -> str:
    """The fault current from line to ground, or its bounds; of an ungrounded system the first such fault draws none."""
    if point.fault_lg_a == 0:
        return "none at the first"
    if point.fault_lg_a is None and point.fault_lg_bound_a is not None:
        return kiloamperes_between(point.fault_lg_least_a, point.fault_lg_bound_a)
    return kiloamperes(point.fault_lg_a)


def drop_text(point: PointFigures) -> str:
    """The voltage drop."""
    return percent(point.voltage_drop_pct)


def _row(
    what: str,
    before: PointFigures | None,
    after: PointFigures | None,
    read: Reader,
    write: Writer,
    unit: str,
    scale: float = 1.0,
) -> FigureRow:
    old = None if before is None else read(before)
    new = None if after is None else read(after)
    return FigureRow(
        what,
        "" if before is None else write(before),
        "" if after is None else write(after),
        change(old, new, unit, scale),
        "" if before is None or old is not None else why(before, what),
        "" if after is None or new is not None else why(after, what),
    )


def why(point: PointFigures, what: str) -> str:
    """Why a figure ("Load A", "Available B", "Fault current") of a point is not known: the facts that are missing."""
    if what.startswith("Fault") and point.fault_needs:
        return _named(point.fault_needs)
    if what.startswith("Ground") and point.ground_needs:
        return _named(point.ground_needs)
    if point.needs:
        return missing(point)
    if point.kind == "tie":
        return "A tie that nobody traced has no figures of its own."
    if what.startswith("Available") and point.available_a:
        return "No load is offered on a source's own circuit."
    return "Not known yet."


def missing(point: PointFigures, most: int = 12) -> str:
    """ "Not known yet: length of Tap 1; size of Tap 1", or "" when nothing is named."""
    return _named(point.needs, most) if point.needs else ""


def _named(needs: Sequence[str], most: int = 12) -> str:
    more = len(needs) - most
    return f"Not known yet: {'; '.join(needs[:most])}" + (f"; and {more} more" if more > 0 else "")


def as_tried(point: PointFigures, live: LiveState) -> PointFigures:
    """A point with what reaches it by other positions."""
    order = [*live.net.sources]

    def ordered(ids: Iterable[str]) -> tuple[str, ...]:
        return tuple(sorted(ids, key=lambda i: (order.index(i) if i in order else len(order), i)))

    sides = {side: ordered(ids) for side, ids in live.sides(point.id).items()}
    maybe = {i for ids in live.sides(point.id, possibly=True).values() for i in ids if i in live.net.drawing.items}
    certain = {i for ids in sides.values() for i in ids}
    return replace(
        point, live_sides=sides, live_from=ordered(certain), possibly_live_from=ordered(maybe - certain)
    )  # fmt: skip


def live_sentences(point: PointFigures, drawing: Drawing, how: str = "as drawn") -> list[str]:
    """What reaches the point in the positions that ``how`` names. A point that nothing reaches is still not proved dead."""

    def named(ids: tuple[str, ...]) -> str:
        return join([drawing.name_of(i) for i in ids])

    said = []
    if len({frozenset(ids) for ids in point.live_sides.values()}) > 1:
        for side, ids in point.live_sides.items():
            reached = f"live from {named(ids)}" if ids else f"no source reaches it {how}"
            said.append(f"{side.capitalize()} side: {reached}")
    elif point.live_from:
        said.append(f"Live from {named(point.live_from)}")
    else:
        said.append(f"No source reaches it {how}. That does not prove it dead: test.")
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
