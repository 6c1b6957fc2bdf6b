"""A table of a recorder or a portal as rows of a record: times, values, what was estimated, what flowed back."""

from __future__ import annotations

import itertools
from contextlib import suppress
from dataclasses import dataclass, field

from oneline.files.intervals.asking import Asker, Choice, Open, OpenTimes, some
from oneline.files.intervals.columns import Chosen, choose, sample
from oneline.files.intervals.decode import to_text
from oneline.files.intervals.figures import decimal_mark, figure
from oneline.files.intervals.grid import Table, read_table, with_rows
from oneline.files.intervals.rowtimes import RowTimes, row_times, steady
from oneline.files.intervals.series import Rows, usual_step
from oneline.files.intervals.words import UNITS, says_meter, says_state, says_unit, tokens

_MOST_METERS = 60
_ESTIMATED = frozenset(
    (
        "e",
        "est",
        "estimated",
        "estimate",
        "missing",
        "invalid",
        "projected",
        "interpolated",
        "suspect",
        "bad",
        "questionable",
    )
)
_YES = frozenset(("y", "yes", "true", "1"))


@dataclass
class Tabled:
    """What a table holds. ``rows`` is ``None`` while something is asked. ``by_phase``: values of each phase beside
    ``rows``; ``exports``: of what flowed back, row by row (empty: the table has no such column); ``measure``: unit of
    the values; ``register``: they are a running total."""

    table: Table
    used: dict[int, str] = field(default_factory=dict)
    rows: Rows | None = None
    by_phase: dict[str, list[float]] = field(default_factory=dict)
    exports: list[float] = field(default_factory=list)
    measure: str = ""
    step_s: int = 0
    register: bool | None = False
    flow: str = ""


def read_tabular(data: bytes, asker: Asker) -> Tabled:
    """The rows of a table. Raises ``CannotOpen``; what is asked stands in ``asker``."""
    table = read_table(to_text(data, asker.name), asker)
    found = Tabled(table)
    try:
        times = row_times(table, asker)
    except OpenTimes as known:  # what else is open can be asked at the same time
        found.used = dict.fromkeys(known.columns, "time")
        with suppress(Open):
            _note_used(found, choose(table, known.columns, "", asker))
        return found
    except Open:
        return found
    found.used = dict.fromkeys(times.columns, "time")
    unit_told = ""
    try:
        table, times = _of_one_meter(table, times, asker)
        table, times, unit_told = _of_one_unit(table, times, asker)
    except Open:
        return found
    chosen: Chosen | None = None
    try:
        chosen = choose(table, times.columns, unit_told, asker)
        _note_used(found, chosen)
    except Open:
        pass
    try:
        keep = [n for n, wall in enumerate(times.walls) if wall is not None]
        walls = [w for w in times.walls if w is not None]
        even, ahead = steady(walls, [times.told[n] for n in keep], asker)
    except Open:
        return found
    if chosen is None:
        return found
    try:
        _fill(found, table, times, chosen, keep, even, ahead, asker)
    except Open:
        return found
    return found


def _note_used(found: Tabled, chosen: Chosen) -> None:
    """What each column was taken for."""
    for column in chosen.demand:
        phase = f", phase {column.phase}" if len(chosen.demand) > 1 else ""
        found.used[column.number] = f"{chosen.measure}{phase}"
    for column in chosen.exports:
        found.used[column.number] = "flowed back"


# -------------------------------------------------------------------------------------------------------- part of rows
def _part(table: Table, times: RowTimes, keep: list[int]) -> tuple[Table, RowTimes]:
    part = RowTimes([times.walls[n] for n in keep], [times.told[n] for n in keep], times.columns, times.at_end)
    return with_rows(table, [table.rows[n] for n in keep]), part


def _of_one_meter(table: Table, times: RowTimes, asker: Asker) -> tuple[Table, RowTimes]:
    """The rows of one meter, where the table has several whose times repeat."""
    if len(set(times.walls)) * 3 > len(times.walls) * 2:
        return table, times
    for n, name in enumerate(table.names):
        if n in times.columns or not says_meter(name):
            continue
        ids = list(dict.fromkeys(table.column(n)))
        if not 1 < len(ids) <= _MOST_METERS:
            continue
        choices = tuple(Choice(i, f"{name} {i}") for i in ids if i)
        wanted = asker.ask("meter", f"The file holds several, by “{name}”. Which one is it?", choices)
        return _part(table, times, [k for k, cell in enumerate(table.column(n)) if cell == wanted])
    return table, times


def _of_one_unit(table: Table, times: RowTimes, asker: Asker) -> tuple[Table, RowTimes, str]:
    """The rows of one unit, where a column names the unit of each row, and that unit."""
    for n, name in enumerate(table.names):
        if not says_unit(name) or n in times.columns:
            continue
        cells = [cell.lower() for cell in table.column(n)]
        there = list(dict.fromkeys(c for c in cells if c in UNITS))
        if not there:
            continue
        unit = there[0]
        if len(there) > 1:
            unit = asker.ask(
                "unit", "The rows have several units. Which are the demand?", tuple(Choice(u, u) for u in there)
            )
        others = sum(c != unit for c in cells)
        if others:
            asker.note(f"{some(others, 'row')} of another unit than {unit} left out.")
        return (*_part(table, times, [k for k, c in enumerate(cells) if c == unit]), unit)
    return table, times, ""


# -------------------------------------------------------------------------------------------------------------- values
def _fill(
    found: Tabled, table: Table, times: RowTimes, chosen: Chosen, keep: list[int], even: list[int], ahead: list[int],
    asker: Asker,
) -> None:  # fmt: skip
    """Values of the chosen columns into ``found``. Rows without a figure are left out: they are gaps."""
    columns = {c.number: _values(table, c.number, c.factor, keep, asker) for c in (*chosen.demand, *chosen.exports)}
    estimated = _estimated(table, keep)
    found.measure = chosen.measure
    found.flow = chosen.demand[0].flow
    found.step_s = usual_step(even, asker)
    shift = found.step_s if times.at_end else 0
    starts: list[int] = []
    offs: list[int] = []
    values: list[float] = []
    measured: list[bool] = []
    phases: dict[str, list[float]] = {c.phase: [] for c in chosen.demand} if len(chosen.demand) > 1 else {}
    missing = 0
    for k, (at, off) in enumerate(zip(even, ahead, strict=True)):
        row = [columns[c.number][k] for c in chosen.demand]
        known = [v for v in row if v is not None]
        if len(known) < len(row):
            missing += 1
            continue
        starts.append(at - shift)
        offs.append(off)
        values.append(max(known) if chosen.together == "max" else sum(known))
        measured.append(not estimated[k])
        for c, v in zip(chosen.demand, known, strict=True):
            if phases:
                phases[c.phase].append(v)
    if len(starts) < 2:
        raise asker.refusal("Fewer than two of its rows have a value.")
    if missing:
        asker.note(f"{some(missing, 'row')} without a value: not recorded.")
    if not all(measured):
        asker.note(
            f"{some(len(measured) - sum(measured), 'value')} estimated by the utility: not recorded, but may be the peak."
        )
    found.rows = Rows(starts, offs, values, measured)
    found.by_phase = phases
    found.exports = [v for c in chosen.exports for v in columns[c.number] if v is not None]
    if chosen.measure in ("kWh", "kVAh"):
        found.register = _is_register(found.rows, any(c.register for c in chosen.demand), asker)


def _values(table: Table, n: int, factor: float, keep: list[int], asker: Asker) -> list[float | None]:
    mark = decimal_mark(sample(table, n), table.names[n], asker)
    found = []
    for k in keep:
        value = figure(table.rows[k][n], mark)
        found.append(None if value is None else value * factor)
    return found


def _estimated(table: Table, keep: list[int]) -> list[bool]:
    """Which rows a column of the table calls estimated."""
    for n, name in enumerate(table.names):
        if says_state(name):
            words = _ESTIMATED | (_YES if set(tokens(name)) & {"estimated", "estimate", "est"} else frozenset())
            return [table.rows[k][n].lower() in words for k in keep]
    return [False] * len(keep)


def _is_register(rows: Rows, said: bool, asker: Asker) -> bool:
    """Whether energies are a running total: by the column's name, or asked where they never fall but for a reset."""
    ordered = [v for _, v in sorted(zip(rows.start_s, rows.values, strict=True))]
    steps = [b - a for a, b in itertools.pairwise(ordered)]
    falls = sum(s < 0 for s in steps)
    rising = max(ordered) > min(ordered) and falls * 100 <= len(steps)
    given = asker.answers.get("energy", "")
    if said or not (rising or given):
        return said
    words = "The energy never falls from row to row. Is it a running total, as a meter shows it?"
    choices = (Choice("register", "Yes, a running total: the difference of two rows counts"),
               Choice("interval", "No, each row is the energy of its own interval"))  # fmt: skip
    return asker.ask("energy", words, choices) == "register"


__all__ = ["Tabled", "read_tabular"]
