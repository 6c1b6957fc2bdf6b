"""Household dryers and cooking appliances: Tables 220.54 and 220.55 of the load article."""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import cache
from math import floor

from oneline.tables.limits import limit_value
from oneline.tables.source import FromMemory, NotInTable, Row, optional_number, rows

_DRYERS = "t220_54_dryers"
_RANGES = "t220_55_ranges"
#: A cell that goes by the number n: "47-1*(n-11)" or "15+1*n".
_BY_NUMBER = re.compile(r"(?P<base>[\d.]+)(?P<sign>[+-])(?P<each>[\d.]+)\*(?:n|\(n-(?P<less>\d+)\))")


def _row(count: int, table: str) -> Row:
    for row in rows(table):
        high = optional_number(row["n_max"])
        if int(row["n_min"]) <= count and (high is None or count <= high):
            return row
    raise NotInTable(f"{table}.csv", f"{count} pieces")


@cache
def _cell(count: int, table: str, column: str) -> float:
    """A cell for a number of appliances, which may be written as an expression of that number."""
    row = _row(count, table)
    found = _BY_NUMBER.fullmatch(row[column])
    if found is None:
        value = float(row[column])
    else:
        more = float(found["each"]) * (count - int(found["less"] or 0))
        value = float(found["base"]) + (more if found["sign"] == "+" else -more)
    return FromMemory(value) if row["confidence"] == "memory" else value


def dryer_demand_factor(count: int) -> float:
    """Share of a number of household dryers that counts, Table 220.54."""
    return _cell(count, _DRYERS, "percent") / 100


def range_column_c_va(count: int) -> float:
    """Demand of so many household ranges of not over 12 kW each, Table 220.55 column C."""
    return _cell(count, _RANGES, "C_kW") * 1000


def range_demand_va(ratings_va: Sequence[float]) -> float:
    """Demand of household cooking appliances by their ratings, Table 220.55 with its notes 1 to 3.

    Column C for all, raised for what is above 12 kW; or small ones by columns A and B beside it where that is less. Those
    outside the table (not over 1 3/4 kW, over 27 kW) count in full.
    """
    least, largest = limit_value("range_least_va"), limit_value("range_largest_va")
    outside = sum(va for va in ratings_va if not least < va <= largest)
    inside = [va for va in ratings_va if least < va <= largest]
    if not inside:
        return outside
    small_a, small_b, large = _split(inside)
    by_columns = _share(small_a, "A_percent") + _share(small_b, "B_percent") + (_column_c(large) if large else 0.0)
    return FromMemory(outside + min(_column_c(inside), by_columns))


def least_range_demand_va(ratings_va: Sequence[float]) -> float:
    """What these appliances come to at least, whatever others there are beside them that nobody entered."""
    least_va, largest = limit_value("range_least_va"), limit_value("range_largest_va")
    outside = sum(va for va in ratings_va if not least_va < va <= largest)
    inside = [va for va in ratings_va if least_va < va <= largest]
    if not inside:
        return outside
    small_a, small_b, large = _split(inside)
    least_a, least_b = limit_value("range_least_va"), limit_value("range_column_b_va")
    many = max(int(row["n_min"]) for row in rows(_RANGES))

    def share(found: Sequence[float], each_va: float, column: str) -> float:
        if not found:
            return 0.0
        counts = range(len(found), max(many, len(found)) + 1)
        return min((sum(found) + (n - len(found)) * each_va) * _cell(n, _RANGES, column) / 100 for n in counts)

    apart = share(small_a, least_a, "A_percent") + share(small_b, least_b, "B_percent")
    # What is above 12 kW raises column C by the average, which others may bring down.
    return outside + min(range_column_c_va(len(inside)), apart + (range_column_c_va(len(large)) if large else 0.0))


def least_dryer_share(count: int) -> float:
    """Share of so many dryers that counts at least, whatever others nobody entered."""
    many = max(int(row["n_min"]) for row in rows(_DRYERS))
    return min(dryer_demand_factor(n) for n in range(count, max(many, count) + 1))


def _split(ratings_va: Sequence[float]) -> tuple[list[float], list[float], list[float]]:
    """Ratings by column A, column B, and those above both."""
    least_b, most_b = limit_value("range_column_b_va"), limit_value("range_column_b_most_va")
    small_a = [va for va in ratings_va if va < least_b]
    small_b = [va for va in ratings_va if least_b <= va <= most_b]
    return small_a, small_b, [va for va in ratings_va if va > most_b]


def _share(ratings_va: Sequence[float], column: str) -> float:
    return sum(ratings_va) * _cell(len(ratings_va), _RANGES, column) / 100 if ratings_va else 0.0


def _column_c(ratings_va: Sequence[float]) -> float:
    """Column C for the number, 5 % more for each kilowatt of the average above 12 kW; less than 12 kW counts as 12 there."""
    full = limit_value("range_full_va")
    average = sum(max(va, full) for va in ratings_va) / len(ratings_va)
    # A major fraction is half a kilowatt or more.
    steps = floor((average - full) / 1000 + 0.5 + 1e-9)
    return range_column_c_va(len(ratings_va)) * (1 + limit_value("range_step_factor") * steps)
