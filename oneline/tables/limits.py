"""Single figures of the rules: lengths, fractions, factors and thresholds, each with its section."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from oneline.tables.source import find, number, rows

_LIMITS = "rule_limits"


@dataclass(frozen=True)
class Limit:
    """One figure. ``section`` is the number in the 2023 edition; ``confidence``: "confirmed" or "memory"."""

    id: str
    value: float
    unit: str
    section: str
    confidence: str
    note: str


@cache
def limit(id: str) -> Limit:
    """The figure with this id in rule_limits.csv. Raises ``NotInTable``."""
    row = find(_LIMITS, ("id",), id)
    return Limit(id, number(row, "value", _LIMITS), row["unit"], row["section"], row["confidence"], row["note"])


def limit_value(id: str) -> float:
    """The number alone, in the unit its row names."""
    return limit(id).value


def limit_ids() -> tuple[str, ...]:
    """All ids of rule_limits.csv."""
    return tuple(row["id"] for row in rows(_LIMITS))
