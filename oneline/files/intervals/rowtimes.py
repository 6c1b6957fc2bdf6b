"""Times of the rows of a table: which columns they stand in, how they are read, and what the clock did meanwhile."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from oneline.files.intervals.asking import Asker, Choice, Open, OpenTimes, shown
from oneline.files.intervals.clock import (
    DAYLIGHT,
    HOUR_S,
    STANDARD,
    clock_of,
    local_offsets,
    offsets,
    wall_datetime,
)
from oneline.files.intervals.columns import sample
from oneline.files.intervals.grid import Table
from oneline.files.intervals.series import usual_step
from oneline.files.intervals.stamps import (
    DAY_S,
    Stamp,
    alike,
    best_order,
    is_written,
    possible_orders,
    read_stamp,
    read_time,
    wall_times,
)
from oneline.files.intervals.words import says_end, says_start, tokens

#: Share of a column's cells that have to be times for a time column.
_MOSTLY = 0.8
_ORDER_WORDS = {"mdy": "month, day, year", "dmy": "day, month, year", "ymd": "year, month, day"}
_Stamps = list[Stamp | None]


@dataclass(frozen=True)
class RowTimes:
    """Wall seconds of each row (``None`` where it has no time), offset where the row tells it, columns they stand in."""

    walls: list[int | None]
    told: list[int | None]
    columns: tuple[int, ...]
    at_end: bool


def row_times(table: Table, asker: Asker) -> RowTimes:
    dated = [n for n in range(len(table.names)) if _share(table, n, is_written) >= _MOSTLY]
    if not dated:
        counted = [
            n for n in range(len(table.names)) if _share(table, n, lambda c: read_stamp(c) is not None) >= _MOSTLY
        ]
        dated = counted[:1]
    if not dated:
        raise asker.refusal("No column of it is a time stamp.", "Export it with date and time of each interval.")
    full = [
        n for n in dated if any((s := read_stamp(c)) is not None and s.second is not None for c in sample(table, n))
    ]
    if full:
        column = _one_time(table, full, asker)
        stamps = [read_stamp(cell) for cell in table.column(column)]
        return _finish(table, stamps, [], (column,), says_end(table.names[column]), asker)
    column = _one_time(table, dated, asker)
    stamps = [read_stamp(cell) for cell in table.column(column)]
    clock = [
        n
        for n in range(len(table.names))
        if n not in dated and _share(table, n, lambda c: ":" in c and read_time(c) is not None) >= _MOSTLY
    ]
    if clock:
        of_day = _one_time(table, clock, asker)
        seconds = [read_time(cell) for cell in table.column(of_day)]
        return _finish(table, stamps, seconds, (column, of_day), says_end(table.names[of_day]), asker)
    hours = next(
        (
            n
            for n, name in enumerate(table.names)
            if n not in dated and set(tokens(name)) & {"hour", "hr", "he", "time"}
        ),
        None,
    )
    if hours is not None:
        return _by_hour(table, stamps, column, hours, asker)
    return _finish(table, stamps, [], (column,), False, asker)


def _by_hour(table: Table, stamps: list[Stamp | None], column: int, hours: int, asker: Asker) -> RowTimes:
    """A column with the hour of the day: 0 to 23 begins, 1 to 24 ends the interval; 0015 to 2400 is a time."""
    cells = table.column(hours)
    if any(len(c) == 4 for c in cells) and all(len(c) <= 4 and c.isdecimal() for c in cells if c):
        seconds = [read_time(c.zfill(4)) if c else None for c in cells]
        return _finish(table, stamps, seconds, (column, hours), says_end(table.names[hours]), asker)
    figures = [int(c) if c.isdecimal() and int(c) <= 24 else None for c in cells]
    at_end = 24 in figures
    seconds = [None if f is None else Stamp(None, f * HOUR_S) for f in figures]
    return _finish(table, stamps, seconds, (column, hours), at_end, asker)


def _share(table: Table, n: int, holds: Callable[[str], bool]) -> float:
    cells = sample(table, n)
    return sum(map(holds, cells)) / len(cells) if cells else 0.0


def _one_time(table: Table, columns: Sequence[int], asker: Asker) -> int:
    """The one of several time columns that the rows go by: where they begin, else as universal time, else asked."""
    if len(columns) == 1:
        return columns[0]
    names = table.names
    for fits in (says_start, lambda name: bool(set(tokens(name)) & {"utc", "gmt"})):
        found = [n for n in columns if fits(names[n])]
        if len(found) == 1:
            return found[0]
    rest = [n for n in columns if not says_end(names[n])]
    if len(rest) == 1:
        return rest[0]
    if len(columns) == 2 and _apart(table, *columns):
        return columns[0]
    words = "Which column is the time at which each interval begins?"
    choices = tuple(Choice(str(n + 1), f"{names[n]}: {sample(table, n)[0][:30]}, …") for n in columns)
    return int(asker.ask("time", words, choices)) - 1


def _apart(table: Table, a: int, b: int) -> bool:
    """Whether the second column is the first an interval later, in every row looked at: begin and end."""
    apart = set()
    for row in table.rows[:200]:
        one, other = (read_stamp(row[n]) or read_time(row[n]) for n in (a, b))
        if one is None or other is None or one.second is None or other.second is None:
            continue
        apart.add((other.second - one.second) % DAY_S)
    return len(apart) == 1 and 0 < min(apart) <= 2 * HOUR_S


def _finish(
    table: Table, stamps: _Stamps, seconds: _Stamps, columns: tuple[int, ...], at_end: bool, asker: Asker
) -> RowTimes:  # fmt: skip
    """Wall seconds from dates and times of day, once the order of day and month is settled."""
    if seconds:
        stamps = [
            None
            if s is None or t is None
            else Stamp(s.days, t.second, t.offset_s if t.offset_s is not None else s.offset_s)
            for s, t in zip(stamps, seconds, strict=True)
        ]
    told = [s for s in stamps if s is not None and s.days is not None]
    if len(told) < 2:
        raise asker.refusal("Fewer than two of its rows have a date and a time.")
    try:
        order = _order(table, told, columns[0], asker)
    except Open:
        raise OpenTimes(columns) from None
    walls: list[int | None] = []
    for s in stamps:
        whole = s is not None and s.days is not None
        walls.append(wall_times([s], order)[0] if whole and s is not None else None)
    stands = asker.answers.get("stamps", "")
    at_end = at_end if stands not in ("start", "end") else stands == "end"
    offs = [s.offset_s if s is not None else None for s in stamps]
    zones = next((n for n, name in enumerate(table.names) if set(tokens(name)) & {"tz", "timezone", "zone"}), None)
    if zones is not None and not any(o is not None for o in offs):
        by_name = {c: (t.offset_s if (t := read_time(f"00:00 {c}")) else None) for c in set(table.column(zones))}
        offs = [by_name[c] for c in table.column(zones)]
    return RowTimes(walls, offs, columns, at_end)


def _order(table: Table, stamps: list[Stamp], column: int, asker: Asker) -> str:
    """The order of day, month and year: the only one that gives dates, else the one that gives equal steps, else asked."""
    orders = possible_orders(stamps)
    if not orders:
        raise asker.refusal("Its dates are not all of one form.", "Export them like 2026-03-31.")
    cell = next(c for c in table.column(column) if read_stamp(c) is not None)
    given = asker.answers.get("date-order", "").lower()
    if len(orders) == 1 or alike(stamps, orders):
        if given and given not in orders:
            raise asker.refusal(f"Its dates cannot be read as {given}: {shown(cell)}.", f"Possible is {orders[0]}.")
        return orders[0]
    if not given:
        best = best_order(stamps, orders)
        if best is None and "dmy" in orders and re.match(r"\d{1,2}\.\d{1,2}\.\d", cell):
            best = "dmy"  # the dot is only written between day and month
        if best is not None:
            return best
    choices = tuple(Choice(o, f"{_ORDER_WORDS[o]}: {_as_date(cell, o)}") for o in orders)
    return asker.ask("date-order", f"In which order does {shown(cell)} name the day?", choices)


def _as_date(cell: str, order: str) -> str:
    stamp = read_stamp(cell)
    assert stamp is not None
    at = wall_datetime(wall_times([stamp], order)[0])
    return f"{at.strftime('%B')} {at.day}, {at.year}"


def steady(walls: list[int], told: list[int | None], asker: Asker) -> tuple[list[int], list[int]]:
    """Steady seconds of each row, and what the wall is ahead of them. Raises ``Open``."""
    if any(offset is None for offset in told):
        clock = clock_of(walls, usual_step(walls, asker), asker)
        ahead = offsets(walls, clock, asker)
        return [wall - off for wall, off in zip(walls, ahead, strict=True)], ahead
    ahead = [offset or 0 for offset in told]
    even = [wall - off for wall, off in zip(walls, ahead, strict=True)]
    named = asker.answers.get("clock", "")
    if named and named.lower() not in (STANDARD, DAYLIGHT):
        return even, local_offsets(even, named, asker)
    if not any(ahead):
        asker.note("Times of day are universal time, as the file has them.")
    return even, ahead
