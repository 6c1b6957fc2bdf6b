"""Which columns of a table are the demand: by their names, by their values, and asked where neither decides."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from oneline.files.intervals.asking import Asker, Choice, Open, shown
from oneline.files.intervals.figures import figure, unit_behind
from oneline.files.intervals.grid import Table
from oneline.files.intervals.words import (
    SHOWN_UNITS,
    UNITS,
    Column,
    describe,
    says_meter,
    says_state,
    says_unit,
    unit_in_lines,
)

#: Which of several measures is taken: the fewer assumptions on the way to amperes, the better.
_PREFERRED = ("kVA", "A", "kW", "kWh", "kVAh")
_LOOKED_AT = 2000


@dataclass(frozen=True)
class Chosen:
    """The demand's columns. ``demand``: one, or one for each phase; ``exports``: of what flowed back; ``measure``: of all.
    ``together``: "sum" or "max" of the phases."""

    demand: tuple[Column, ...]
    exports: tuple[Column, ...]
    measure: str
    together: str = "sum"


def sample(table: Table, n: int) -> list[str]:
    """Cells of a column that hold something, spread over the table."""
    stride = max(1, len(table.rows) // _LOOKED_AT)
    return [row[n] for row in table.rows[::stride] if row[n]]


def numeric_columns(table: Table, taken: Sequence[int]) -> list[Column]:
    """The columns with figures that may be a demand, as their names describe them."""
    found = []
    for n, name in enumerate(table.names):
        cells = sample(table, n)
        if n in taken or not cells or says_unit(name) or says_state(name):
            continue
        numbers = sum(figure(cell, "point") is not None or figure(cell, "comma") is not None for cell in cells)
        if numbers * 2 <= len(cells):
            continue
        column = describe(n, name)
        behind = unit_behind(cells).lower()
        if not column.measure and behind in UNITS:
            measure, factor = UNITS[behind]
            column = replace(column, measure=measure, factor=factor)
        if column.measure in ("", "other") and (
            says_meter(name) or (len(set(cells)) == 1 and len(cells) > 20 and column.measure)
        ):
            continue
        found.append(column)
    return found


def choose(table: Table, taken: Sequence[int], unit_told: str, asker: Asker) -> Chosen:
    """The columns of the demand. Raises ``Open`` while something is asked, ``CannotOpen`` where there is none."""
    columns = numeric_columns(table, taken)
    told = unit_told or unit_in_lines(table.above)
    if told:
        columns = [_with_unit(c, told) if not c.measure else c for c in columns]
    usable = [c for c in columns if c.measure != "other" and c.phase != "N" and c.stat != "min"]
    if not usable:
        raise asker.refusal("No column of it is a demand, an energy or a current.", "Export kW, kVA, kWh or amperes.")
    wanted = asker.answers.get("column", "")
    if wanted:
        return _as_answered(wanted, columns, asker)
    exports = tuple(c for c in usable if c.flow == "export")
    rest = [c for c in usable if c.flow != "export"]
    if not rest:
        raise asker.refusal("All its columns are of power that flowed back.", "Export what the building took.")
    known = [c for c in rest if c.measure]
    group = rest
    if known:
        measure = next(m for m in _PREFERRED if any(c.measure == m for c in known))
        group = [c for c in known if c.measure == measure]
        others = [c.name for c in known if c.measure != measure]
        if others:
            asker.note(f"Taken: {_named(group)}. Also there, not taken: {', '.join(others[:4])}.")
    if any(c.stat == "avg" for c in group):
        group = [c for c in group if c.stat != "max"]
    group = _by_role(group)
    if len(group) > 1 and not _are_phases(group):
        group = [_asked(group, table, asker)]
    return _settled(group, exports, asker)


def _by_role(group: list[Column]) -> list[Column]:
    """What the names themselves settle: a total before its phases, the net before what it is made of."""
    for role in (
        [c for c in group if c.phase == "total"],
        [c for c in group if c.flow == "net"],
        [c for c in group if c.flow],
    ):
        if len(role) == 1:
            return role
    return group


def _are_phases(group: Sequence[Column]) -> bool:
    phases = [c.phase for c in group]
    return len(set(phases)) == len(phases) and set(phases) <= {"A", "B", "C"} and "A" in phases


def _named(group: Sequence[Column]) -> str:
    return ", ".join(c.name for c in group)


def _asked(group: Sequence[Column], table: Table, asker: Asker) -> Column:
    choices = tuple(
        Choice(_key(c, group), f"{c.name}: {', '.join(cell[:12] for cell in sample(table, c.number)[:3])}, …")
        for c in group[:40]
    )
    answer = asker.ask("column", "Which column is the demand of what this item measures?", choices, free=True)
    return next(c for c in group if _key(c, group) == answer)


def _key(column: Column, group: Sequence[Column]) -> str:
    """The name of a column, or its place counted from 1 where another has the same name."""
    same = sum(c.name.casefold() == column.name.casefold() for c in group)
    plain = same == 1 and "," not in column.name and not column.name.isdecimal()
    return column.name if plain else str(column.number + 1)


def _as_answered(wanted: str, columns: Sequence[Column], asker: Asker) -> Chosen:
    """The columns named by the user: names or places counted from 1, parted by commas."""
    group: list[Column] = []
    for word in (
        w.strip()
        for w in ([wanted] if any(c.name.casefold() == wanted.casefold() for c in columns) else wanted.split(","))
    ):
        found = [c for c in columns if word.isdecimal() and c.number + 1 == int(word)] or [
            c for c in columns if c.name.casefold() == word.casefold()
        ]
        if len(found) != 1:
            there = ", ".join(_key(c, columns) for c in columns[:12])
            many = "More than one column is" if found else "No column with figures is"
            raise asker.refusal(f"{many} named {shown(word)}.", f"There are {there}.")
        group += found
    if len({c.measure for c in group}) > 1 or (len(group) > 1 and not _are_phases(group)):
        raise asker.refusal(f"The columns {_named(group)} do not belong together.", "Name one, or one for each phase.")
    exports = tuple(c for c in columns if c.flow == "export" and c not in group)
    choice = tuple(Choice(_key(c, columns), c.name) for c in columns[:40])
    asker.ask("column", "Which column is the demand of what this item measures?", choice, free=True)
    return _settled([replace(c, measure="") if c.measure == "other" else c for c in group], exports, asker)


def _settled(group: Sequence[Column], exports: tuple[Column, ...], asker: Asker) -> Chosen:
    """The columns with their unit, which is asked where nobody says it."""
    if not group[0].measure or asker.answers.get("unit"):
        words = f"Which unit has “{_named(group)}”?"
        answer = asker.ask("unit", words, tuple(Choice(u, _unit_words(u)) for u in SHOWN_UNITS))
        group = [_with_unit(c, answer) for c in group]
        exports = tuple(_with_unit(c, answer) if not c.measure else c for c in exports)
    if any(c.stat == "max" for c in group):
        asker.note(f"{_named(group)} holds the highest value within each interval: a demand averaged over it is lower.")
    measure = group[0].measure
    return Chosen(tuple(group), exports, measure, "max" if measure == "A" else "sum")


def _with_unit(column: Column, unit: str) -> Column:
    measure, factor = UNITS[unit.lower()]
    return replace(column, measure=measure, factor=factor)


def _unit_words(unit: str) -> str:
    if unit.endswith("h"):
        return f"{unit}, energy of each interval or a running total"
    return f"{unit}, {'current' if unit == 'A' else 'average power of each interval'}"


__all__ = ["Chosen", "Open", "choose", "numeric_columns", "sample"]
