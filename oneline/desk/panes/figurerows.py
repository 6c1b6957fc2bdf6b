"""The figures table as data: columns, texts, sort keys and tooltips. No calculation beyond the difference of two figures."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from oneline.desk.panes.pointrows import Writer, available_text, drop_text, fault_text, load_text, why
from oneline.desk.panes.words import UNKNOWN, amperes, amperes_at_most, change, is_bound, join, worst
from oneline.model import KINDS, Drawing
from oneline.study import PointFigures, StudyResult

SortKey = tuple[int, float, str]
_LAST: SortKey = (1, 0.0, "")
#: What the change says for an item of one view only.
NEW, REMOVED = "new", "removed"
VIEW_WORDS = {"existing": "Existing: what is there now.", "proposed": "Proposed: with the new work, without what goes."}


@dataclass(frozen=True)
class PointRow:
    """One item with its figures in the two views (``None`` where it is not part of a view)."""

    id: str
    name: str
    before: PointFigures | None
    after: PointFigures | None

    def of(self, view: str) -> PointFigures | None:
        return self.before if view == "existing" else self.after

    @property
    def any(self) -> PointFigures:
        found = self.after or self.before
        assert found is not None
        return found


@dataclass(frozen=True)
class Column:
    """A column: its heading, the text of a cell, its sort key, and whether its cells are numbers.

    ``group``: heading over several columns; ``view``: whose figures stand in it, "" for those of the view on the sheet.
    """

    head: str
    text: Callable[[PointRow], str]
    key: Callable[[PointRow], SortKey]
    number: bool = True
    help: str = ""
    group: str = ""
    view: str = ""

    @property
    def title(self) -> str:
        """The heading as one line."""
        return f"{self.group}: {self.head.casefold()}" if self.group else self.head


def point_rows(drawing: Drawing, before: StudyResult, after: StudyResult) -> list[PointRow]:
    """A row for every item that has figures in one of the views, in the drawing's order."""
    ids = [i for i in drawing.items if i in before.points or i in after.points]
    return [PointRow(i, drawing.name_of(i), before.points.get(i), after.points.get(i)) for i in ids]


def columns(mode: str, drawing: Drawing, phases: str = "ABC") -> list[Column]:
    """Columns of a mode: "existing", "proposed" or "both" (side by side with the change)."""
    item = _words("Item", lambda r: r.name)
    if mode == "both":
        return [item, *_both(drawing)]
    view = mode
    found = [
        item,
        _words("Kind", lambda r: KINDS[r.any.kind].title),
        _words("System", lambda r: _of(r, view, lambda p: p.system or UNKNOWN)),
        _words("Live from", lambda r: _of(r, view, lambda p: _sources(p, drawing))),
    ]
    for letter in phases:
        found.append(_figure(f"Load {letter}", view, _phase("load_a", letter), load_text(letter), "Calculated load."))
    for letter in phases:
        help_text = "What may still be added here before the first limit on the way to the source."
        found.append(
            _figure(f"Available {letter}", view, _phase("available_a", letter), available_text(letter), help_text)
        )
    found.append(_figure("Fault", view, lambda p: p.fault_duty_a, fault_text, "Available fault current."))
    found.append(_figure("Drop", view, lambda p: p.voltage_drop_pct, drop_text, "Voltage drop from the source."))
    found.append(_words("Limited by", lambda r: _of(r, view, lambda p: str(p.limited_by or UNKNOWN))))
    return found


def _both(drawing: Drawing) -> list[Column]:
    least, most = _worst("available_a", False), _worst("load_a", True)
    kinds: list[tuple[str, Callable[[PointFigures], float | None], Writer, str, float, str]] = [
        ("Load, highest phase", most, lambda p: amperes(most(p)), "A", 1, "Load of the phase that carries most."),
        ("Available, lowest phase", least, _least_text, "A", 1, "What may be added on the phase with least room."),
        ("Fault current", lambda p: p.fault_duty_a, fault_text, "kA", 1000, "Available fault current."),
        ("Voltage drop", lambda p: p.voltage_drop_pct, drop_text, "%", 1, "Voltage drop from the source."),
    ]
    found: list[Column] = []
    for group, read, write, unit, scale, help_text in kinds:
        for head, view in (("Existing", "existing"), ("Proposed", "proposed")):
            told = f"{help_text} {VIEW_WORDS[view]}"
            found.append(replace(_figure(head, view, read, write, told), group=group, view=view))
        found.append(_change(group, read, unit, scale, help_text, says_new=len(found) == 2))
    found.append(_words("Limited by", lambda r: str(r.any.limited_by or UNKNOWN)))
    return found


def _least_text(point: PointFigures) -> str:
    """Room of the phase with least of it; where a phase is not known, the least of what is known bounds it."""
    value = worst(point.available_a, highest=False)[1]
    if value is not None:
        return amperes(value)
    known = [v for v in (*point.available_a.values(), *point.available_bound_a.values()) if v is not None]
    return amperes_at_most(min(known)) if known else amperes(None)


def _change(
    group: str, read: Callable[[PointFigures], float | None], unit: str, scale: float, help_text: str, says_new: bool
) -> Column:  # fmt: skip
    def pair(row: PointRow) -> tuple[float | None, float | None]:
        return (read(row.before) if row.before else None, read(row.after) if row.after else None)

    def text(row: PointRow) -> str:
        if says_new and (row.before is None or row.after is None):
            return NEW if row.before is None else REMOVED
        return change(*pair(row), unit, scale)

    def key(row: PointRow) -> SortKey:
        old, new = pair(row)
        return _LAST if old is None or new is None else (0, new - old, "")

    return Column("Change", text, key, help=f"{help_text} From existing to proposed.", group=group)


def _figure(
    head: str,
    view: str,
    read: Callable[[PointFigures], float | None],
    write: Writer,
    help_text: str,
) -> Column:
    def text(row: PointRow) -> str:
        return _of(row, view, write)

    def key(row: PointRow) -> SortKey:
        point = row.of(view)
        value = None if point is None else read(point)
        return _LAST if value is None else (0, value, "")

    return Column(head, text, key, help=help_text)


def _words(head: str, read: Callable[[PointRow], str]) -> Column:
    return Column(head, read, lambda r: (0, 0.0, read(r).casefold()), number=False)


def _of(row: PointRow, view: str, read: Callable[[PointFigures], str]) -> str:
    point = row.of(view)
    return "" if point is None else read(point)


def _phase(field: str, letter: str) -> Callable[[PointFigures], float | None]:
    def read(point: PointFigures) -> float | None:
        values: Mapping[str, float | None] = getattr(point, field)
        return values.get(letter)

    return read


def _worst(field: str, highest: bool) -> Callable[[PointFigures], float | None]:
    def read(point: PointFigures) -> float | None:
        return worst(getattr(point, field), highest=highest)[1]

    return read


def _sources(point: PointFigures, drawing: Drawing) -> str:
    names = [drawing.name_of(i) for i in point.live_from]
    maybe = [f"{drawing.name_of(i)} (possibly)" for i in point.possibly_live_from if i not in point.live_from]
    return join([*names, *maybe]) or "no source"


def tip(row: PointRow, column: Column, view: str) -> str:
    """Tooltip of a cell: what is missing where it shows a dash or a bound, else what the column is."""
    text = column.text(row)
    if column.head == "Item":
        return f"{row.name}, {KINDS[row.any.kind].title.casefold()}"
    if text == NEW:
        return f"{row.name} is new: it is not in the existing view."
    if text == REMOVED:
        return f"{row.name} is removed: it is not in the proposed view."
    point = row.of(column.view or ("proposed" if view == "both" else view)) or row.any
    if text != UNKNOWN and not is_bound(text):
        return column.help if column.number else text
    return why(point, column.group or column.head)


def as_text(rows: list[PointRow], shown: list[Column]) -> str:
    """The table with tabs, for a spreadsheet or a message."""
    lines = ["\t".join(c.title for c in shown)]
    lines += ["\t".join(c.text(r) for c in shown) for r in rows]
    return "\n".join(lines) + "\n"
