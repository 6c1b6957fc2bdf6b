"""The text of a table as rows and named columns: which character parts the cells, where the table begins and ends."""

from __future__ import annotations

import csv
import itertools
import re
from dataclasses import dataclass, replace

from oneline.files.intervals.asking import Asker, shown, some
from oneline.files.intervals.stamps import DAY_S, is_written, read_stamp, read_time

_PARTERS = (",", ";", "\t", "|")
_LOOKED_AT = 400
#: More rows than a year of seconds in a minute's steps needs; more columns than a day of minutes.
MAX_ROWS, MAX_COLUMNS = 2_000_000, 1_600
_NUMBER = re.compile(r"[-+(]?\s*[\d.,'\u00a0\u202f ]*\d[\d.,]*(?:[eE][-+]?\d{1,3})?\s*\)?-?\s*[%a-zA-Z]{0,6}")
#: Times of day in so many columns make a row a day.
_WIDE = 20
#: How far above the first row a line may stand and still name columns.
_HEADER_LINES = 3


@dataclass(frozen=True)
class Table:
    """A table of texts. ``names``: of the columns; ``rows``: as wide as ``names``; ``above``: the lines before the table,
    which may tell the unit; ``left_out``: how many rows have no time stamp; ``parter``: what parts the cells."""

    names: tuple[str, ...]
    rows: list[list[str]]
    above: tuple[str, ...]
    left_out: int
    parter: str
    headed: bool = True

    def column(self, n: int) -> list[str]:
        return [row[n] for row in self.rows]


def is_number(text: str) -> bool:
    return bool(_NUMBER.fullmatch(text.strip()))


def times_in(cells: list[str]) -> list[int]:
    """Which cells of a row are times: written dates and times of day; where there is none, a first cell that counts
    seconds or days."""
    written = [n for n, cell in enumerate(cells) if _dated(cell)]
    if written or not cells:
        return written
    return [0] if cells[0][:1].isdigit() and read_stamp(cells[0]) is not None else []


def _dated(cell: str) -> bool:
    if not any(c.isdigit() for c in cell):
        return False
    return is_written(cell.strip()) or (":" in cell and read_time(cell) is not None)


def read_table(text: str, asker: Asker) -> Table:
    """The table of a text. Raises ``CannotOpen`` where there is none."""
    lines = text.splitlines()
    parter, lines = _hinted(lines)
    parter = parter or _parter(lines)
    if parter == "":
        raise asker.refusal("No row of it has a time stamp and a value beside it.")
    cells = _cells(lines, parter, asker)
    first = _first_row(cells)
    if first is None:
        raise asker.refusal("No row of it has a time stamp and a value beside it.")
    wide = _wide(cells, first, parter)
    if wide is not None:
        return wide
    width = _usual_width(cells[first:])
    names, above = _names(cells, first, width)
    rows, out, sample = [], 0, ""
    at = 0  # where the last row had its time
    for row in cells[first:]:
        if not any(cell.strip() for cell in row):
            continue
        known = at < len(row) and _dated(row[at])
        if not known and len(row) <= MAX_COLUMNS:
            at = next(iter(times_in(row)), len(row))
            known = at < len(row)
        if len(row) > MAX_COLUMNS or not known:
            out += 1
            sample = sample or " ".join(c for c in row if c.strip())
            continue
        rows.append([c.strip() for c in row[:width]] + [""] * (width - len(row)))
    if out:
        asker.note(
            f"{some(out, 'row')} without a time stamp {'was' if out == 1 else 'were'} left out, first {shown(sample)}."
        )
    headed = any(names)
    return Table(tuple(n or f"Column {k}" for k, n in enumerate(names, 1)), rows, above, out, parter, headed)


def _hinted(lines: list[str]) -> tuple[str, list[str]]:
    """The first line of some tables says what parts the cells: "sep=;"."""
    if lines and (found := re.fullmatch(r"\"?sep=(.|\\t)\"?", lines[0].strip(), re.I)):
        return "\t" if found[1] == "\\t" else found[1], lines[1:]
    return "", lines


def _split(lines: list[str], parter: str) -> list[list[str]]:
    if parter == "  ":
        return [re.split(r"\s{2,}|\t", line.strip()) for line in lines]
    return list(csv.reader(lines, delimiter=parter, skipinitialspace=True))


def _cells(lines: list[str], parter: str, asker: Asker) -> list[list[str]]:
    if len(lines) > MAX_ROWS:
        raise asker.refusal(
            f"It has {len(lines):,} lines; up to {MAX_ROWS:,} are read.", "Split it, or export longer intervals."
        )
    try:
        return _split(lines, parter)
    except csv.Error as bad:
        raise asker.refusal(f"Its cells cannot be told apart: {bad}.") from None


def _parter(lines: list[str]) -> str:
    """What parts the cells: with it, more rows have both a time and a number than with any other. "" for none."""
    part = [line for line in lines if line.strip()][:_LOOKED_AT]
    best, most = "", 0
    for parter in (*_PARTERS, "  "):
        try:
            rows = _split(part, parter)
        except csv.Error:
            continue
        count = 0
        for row in rows:
            timed = times_in(row[:40])
            if timed and any(is_number(cell) for n, cell in enumerate(row[:MAX_COLUMNS]) if n not in timed):
                count += 1
        if count > most:
            best, most = parter, count
    return best


def _first_row(cells: list[list[str]]) -> int | None:
    """The first row of data: with a time and a number, and another such row soon after it (a line about the recorder may
    have both too)."""
    at = [
        n for n, row in enumerate(cells[:_LOOKED_AT])
        if 1 < len(row) <= MAX_COLUMNS and (timed := times_in(row))
        and any(is_number(c) for k, c in enumerate(row) if k not in timed)
    ]  # fmt: skip
    for a, b in itertools.pairwise(at):
        if b - a <= 2 and len(cells[a]) == len(cells[b]):
            return a
    return at[-1] if at else None


def _usual_width(cells: list[list[str]]) -> int:
    widths = [len(row) for row in cells[:_LOOKED_AT] if len(row) > 1 and times_in(row)]
    return max(set(widths), key=widths.count) if widths else 2


def _names(cells: list[list[str]], first: int, width: int) -> tuple[list[str], tuple[str, ...]]:
    """Names of the columns from up to three lines right above the data, and the lines above those."""
    top, seen = first, 0
    while top > 0 and seen < _HEADER_LINES:
        row = cells[top - 1]
        if not any(cell.strip() for cell in row) and not seen:
            top -= 1
            continue
        filled = [c for c in row if c.strip()]
        texts = [c for c in filled if not is_number(c) or re.search("[A-Za-z]", c)]
        if len(filled) < 2 or abs(len(row) - width) > 1 or len(texts) * 2 < len(filled) or (seen and _meta(row)):
            break
        top, seen = top - 1, seen + 1
    names = [""] * width
    for row in cells[top:first]:
        for n, cell in enumerate(row[:width]):
            names[n] = " ".join(filter(None, (names[n], " ".join(cell.split())[:80])))
    above = tuple(" ".join(c for c in row if c.strip())[:200] for row in cells[max(0, top - 60) : top])
    return names, above


def _meta(row: list[str]) -> bool:
    """Whether a line says something about the recording ("Units:, kW") rather than names columns."""
    return row[0].rstrip().endswith(":") or "=" in row[0]


# ----------------------------------------------------------------------------------------------- a row for each day
def _wide(cells: list[list[str]], first: int, parter: str) -> Table | None:
    """A table with a row for each day and a column for each time of day, as a table with a row for each time."""
    times: list[tuple[int, str]] = []
    head = first - 1
    for head in range(first - 1, max(-1, first - 1 - _HEADER_LINES), -1):
        times, at_end = _times_of_day(cells[head])
        if times:
            break
    if not times:
        return None
    at = {n for n, _ in times}
    rest = [n for n in range(len(cells[head])) if n not in at]
    width = len(cells[head])
    rows: list[list[str]] = []
    out = 0
    day_column = next((n for n in rest if n < len(cells[first]) and is_written(cells[first][n].strip())), None)
    if day_column is None:
        return None
    others = [n for n in rest if n != day_column]
    for row in cells[first:]:
        full = [cell.strip() for cell in row[:width]] + [""] * (width - len(row))
        if not is_written(full[day_column]):
            out += any(full)
            continue
        rows += [[full[day_column], t, full[n], *(full[k] for k in others)] for n, t in times]
        if len(rows) > MAX_ROWS:
            break
    names = (
        "Date",
        "End time" if at_end else "Time",
        "Value",
        *(cells[head][n].strip() or f"Column {n + 1}" for n in others),
    )
    return Table(names, rows, _names(cells, head, width)[1], out, parter)


def _times_of_day(row: list[str]) -> tuple[list[tuple[int, str]], bool]:
    """Columns of a row that are times of day, as (column, time), and whether they are the ends of the intervals.

    "00:15", "12:15 AM", "00:00 - 00:15"; or numbered through the day: "HE1" to "HE24", "Hour 1", "Interval 96".
    """
    clock = [
        (n, read_time(re.split(r"\s*[-–]\s*", cell.strip())[0])) for n, cell in enumerate(row) if _may_be_time(cell)
    ]
    seconds = [(n, t.second) for n, t in clock if t is not None and t.second is not None]
    if len(seconds) >= _WIDE:
        at_end = seconds[0][1] > 0 and seconds[-1][1] in (0, DAY_S)
        return [(n, _clock(DAY_S if at_end and s == 0 else s)) for n, s in seconds], at_end
    numbered = [(n, int(m[1])) for n, cell in enumerate(row) if (m := _NUMBERED.fullmatch(cell.strip()))]
    for count in (288, 96, 48, 24):
        if [k for _, k in numbered[:count]] == list(range(1, count + 1)):
            # Further columns are for the day that is an hour longer.
            return [(n, _clock(k * DAY_S // count)) for n, k in numbered[:count]], True
    return [], False


_NUMBERED = re.compile(r"(?:he|hr|hour|h|interval|int|kwh|kw)[ _-]*(\d{1,3})", re.I)


def _may_be_time(cell: str) -> bool:
    return ":" in cell and len(cell) <= 20


def _clock(second: int) -> str:
    return f"{second // 3600:02d}:{second // 60 % 60:02d}"


def with_rows(table: Table, rows: list[list[str]]) -> Table:
    """The same table with some of its rows."""
    return replace(table, rows=rows)
