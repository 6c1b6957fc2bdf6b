"""Reads the csv tables under ``resources/tables``; each is read once. Missing is empty, never 0."""

from __future__ import annotations

import csv
from collections.abc import Mapping
from functools import cache

from oneline.assets import resource

Row = Mapping[str, str]


#: What a worksheet adds to the source of a figure that no second source supports.
FROM_MEMORY = "figure from memory"


class FromMemory(float):
    """A figure whose row says "memory": no second source and no physics check supports it.

    A number like any other; products and quotients keep the mark, so that it reaches the worksheet where it is used.
    """

    __slots__ = ()

    def __mul__(self, other: float) -> float:
        return _kept(float.__mul__(self, other))

    def __rmul__(self, other: float) -> float:
        return _kept(float.__rmul__(self, other))

    def __truediv__(self, other: float) -> float:
        return _kept(float.__truediv__(self, other))

    def __rtruediv__(self, other: float) -> float:
        return _kept(float.__rtruediv__(self, other))


def _kept(value: float) -> float:
    return FromMemory(value) if type(value) is float else value


def with_provenance(source: str, *figures: object) -> str:
    """The source of a worksheet line; says so where one of its figures is only from memory."""
    if not any(isinstance(figure, FromMemory) for figure in figures):
        return source
    return f"{source}, {FROM_MEMORY}" if source else FROM_MEMORY


class NotInTable(KeyError):
    """A table has no such entry. The message names the table and what was looked for."""

    def __init__(self, table: str, what: str) -> None:
        super().__init__(f"{what} is not in {table}")

    def __str__(self) -> str:
        return str(self.args[0])


@cache
def rows(table: str) -> tuple[Row, ...]:
    """The rows of ``resources/tables/<table>.csv`` in printed order, every cell as text.

    Raises ``FileNotFoundError`` when the table is missing and ``ValueError`` when a row has too many or too few cells.
    """
    path = resource("tables", f"{table}.csv")
    with path.open(encoding="utf-8", newline="") as file:
        reader = csv.reader(line for line in file if not line.startswith("#"))
        names = next(reader)
        found = []
        for cells in reader:
            if len(cells) != len(names):
                raise ValueError(f"{table}.csv: row {','.join(cells)} has {len(cells)} cells, not {len(names)}")
            found.append(dict(zip(names, cells, strict=True)))
    return tuple(found)


@cache
def head(table: str) -> tuple[str, ...]:
    """The comment lines on top of a table: title, standard and edition, units, provenance."""
    path = resource("tables", f"{table}.csv")
    with path.open(encoding="utf-8") as file:
        return tuple(line[1:].strip() for line in file if line.startswith("#"))


@cache
def by(table: str, *columns: str) -> Mapping[tuple[str, ...], Row]:
    """Rows by their key columns. Raises ``ValueError`` when a key occurs twice."""
    found: dict[tuple[str, ...], Row] = {}
    for row in rows(table):
        key = tuple(row[c] for c in columns)
        if key in found:
            raise ValueError(f"{table}.csv: {' '.join(key)} occurs twice")
        found[key] = row
    return found


def find(table: str, columns: tuple[str, ...], *key: str) -> Row:
    """The row with this key; raises ``NotInTable``."""
    row = by(table, *columns).get(key)
    if row is None:
        raise NotInTable(f"{table}.csv", " ".join(key) or "an empty key")
    return row


def optional_number(cell: str) -> float | None:
    """A cell as a number, ``None`` where it is empty. "1/3" and "1-1/2" are read exactly."""
    if cell == "":
        return None
    try:
        return float(cell)
    except ValueError:
        whole, _, part = cell.rpartition("-")
        over, under = part.split("/")
        return float(whole or 0) + int(over) / int(under)


def figure(row: Row, column: str) -> float | None:
    """A cell as a number that carries its row's confidence; ``None`` where it is empty."""
    value = optional_number(row[column])
    return FromMemory(value) if value is not None and row.get("confidence") == "memory" else value


def number(row: Row, column: str, table: str) -> float:
    """A cell that must not be empty, as ``figure``; raises ``NotInTable`` when it is."""
    value = figure(row, column)
    if value is None:
        raise NotInTable(f"{table}.csv", f"column {column} of {next(iter(row.values()))}")
    return value


def checked(value: str, allowed: tuple[str, ...], table: str) -> str:
    """``value`` when it is one of the allowed words; raises ``NotInTable``."""
    if value not in allowed:
        raise NotInTable(table, f"{value!r} (allowed: {', '.join(allowed)})")
    return value
