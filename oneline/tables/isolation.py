"""What it costs to open a device, for the ranking of isolation points."""

from __future__ import annotations

from functools import cache

from oneline.tables.source import find, number, rows

_COSTS = "isolation_costs"


@cache
def isolation_cost(id: str) -> int:
    """Points of one reason in isolation_costs.csv, a whole number. Raises ``NotInTable``."""
    return int(number(find(_COSTS, ("id",), id), "points", _COSTS))


def isolation_cost_ids() -> tuple[str, ...]:
    """All reasons of isolation_costs.csv."""
    return tuple(row["id"] for row in rows(_COSTS))
