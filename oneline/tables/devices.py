"""Standard ratings of breakers and fuses, 240.6(A)."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from functools import cache, lru_cache

from oneline.model.vocabulary import EDITIONS
from oneline.tables.source import NotInTable, checked, number, optional_number, rows

_RATINGS = "t240_6_A_standard_ratings"
DEVICE_KINDS = ("breaker", "fuse")


@cache
def standard_ratings(edition: int, kind: str) -> tuple[float, ...]:
    """Standard ampere ratings, smallest first. ``kind``: "breaker" or "fuse" (fuses have a few more)."""
    checked(kind, DEVICE_KINDS, f"{_RATINGS}.csv")
    if edition not in EDITIONS:
        raise NotInTable(f"{_RATINGS}.csv", f"edition {edition}")
    found = []
    for row in rows(_RATINGS):
        since = optional_number(row["breaker_since"]) if kind == "breaker" else None
        if row[kind] == "1" and (since is None or edition >= since):
            found.append(number(row, "rating_A", _RATINGS))
    return tuple(found)


@lru_cache(maxsize=4096)
def next_standard(amps: float, edition: int, kind: str) -> float | None:
    """The smallest standard rating that is not below ``amps``; ``None`` above the largest."""
    ratings = standard_ratings(edition, kind)
    at = bisect_left(ratings, amps)
    return ratings[at] if at < len(ratings) else None


@lru_cache(maxsize=4096)
def previous_standard(amps: float, edition: int, kind: str) -> float | None:
    """The largest standard rating that is not above ``amps``; ``None`` below the smallest."""
    ratings = standard_ratings(edition, kind)
    at = bisect_right(ratings, amps)
    return ratings[at - 1] if at else None


@lru_cache(maxsize=4096)
def is_standard(amps: float, edition: int, kind: str) -> bool:
    """Whether ``amps`` is itself a standard rating."""
    return amps in standard_ratings(edition, kind)
