"""Raceway fill: Chapter 9 Tables 1, 4 and 5."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache, lru_cache

from oneline.tables.conductors import insulation
from oneline.tables.source import NotInTable, by, find, number, optional_number, rows

_FILL = "ch9_t1_fill"
_RACEWAY = "ch9_t4_conduit"
_CONDUCTOR = "ch9_t5_conductors"
_COMPACT = "ch9_t5a_compact"
_NAMES = "raceways"
_FLEXIBLE = "s250_118_flexible"


@cache
def conductor_area_in2(family_or_insulation: str, size: str) -> float:
    """Area with insulation in square inches, Chapter 9 Table 5 (concentric strands).

    Takes a family of the table or an insulation of the vocabulary. Raises ``NotInTable`` where there is no area.
    """
    family: str | None = family_or_insulation
    if (family_or_insulation,) in by("insulations", "name"):
        family = insulation(family_or_insulation).family
        if family is None:
            raise NotInTable(f"{_CONDUCTOR}.csv", f"an area for insulation {family_or_insulation}")
    return number(find(_CONDUCTOR, ("family", "size"), str(family), size), "area_in2", _CONDUCTOR)


@cache
def compact_area_in2(insulation_kind: str, size: str) -> float:
    """Area in square inches of a compact conductor, Table 5A; ``insulation_kind``: "thhn" or "xhhw"."""
    if insulation_kind not in ("thhn", "xhhw"):
        raise NotInTable(f"{_COMPACT}.csv", repr(insulation_kind))
    return number(find(_COMPACT, ("size",), size), f"{insulation_kind}_area_in2", _COMPACT)


def _type(kind: str) -> str:
    """The type in Table 4 for a raceway of the vocabulary ("PVC-40") or a type itself ("PVC40", "ENT")."""
    named = by(_NAMES, "name").get((kind,))
    if named is None:
        return kind
    if not named["table4_type"]:
        raise NotInTable(f"{_RACEWAY}.csv", f"{kind} (it has no trade sizes there)")
    return named["table4_type"]


@cache
def raceway_area_in2(kind: str, trade_size: str) -> float:
    """Total inside area in square inches of a raceway, Chapter 9 Table 4. Trade size as "2" or "1-1/4"."""
    size = trade_size.strip().rstrip('"').strip().replace(" ", "-")
    return number(find(_RACEWAY, ("type", "trade_size"), _type(kind), size), "area_100_in2", _RACEWAY)


@cache
def raceway_trade_sizes(kind: str) -> tuple[str, ...]:
    """Trade sizes of a raceway, smallest first. Raises ``NotInTable`` for one without trade sizes."""
    wanted = _type(kind)
    found = tuple(row["trade_size"] for row in rows(_RACEWAY) if row["type"] == wanted)
    if not found:
        raise NotInTable(f"{_RACEWAY}.csv", f"raceway {kind}")
    return found


@lru_cache(maxsize=4096)
def fill_limit(count: int, nipple: bool = False) -> float:
    """Largest part of the inside area that ``count`` conductors may fill, Chapter 9 Table 1 (0.53, 0.31, 0.40; 0.60 in
    nipples up to 24 in)."""
    for row in rows(_FILL):
        low, high = int(row["n_min"]), optional_number(row["n_max"])
        if row["condition"].startswith("nipple") == nipple and low <= count and (high is None or count <= high):
            return number(row, "percent", _FILL) / 100
    raise NotInTable(f"{_FILL}.csv", f"{count} conductors")


@dataclass(frozen=True)
class FlexibleGrounding:
    """Limits up to which a flexible metal raceway is an equipment grounding conductor: trade sizes in inches, largest
    overcurrent device in amperes, longest path in feet."""

    trade_min_in: float
    trade_max_in: float
    device_max_a: float
    path_max_ft: float


@cache
def flexible_grounding(kind: str) -> tuple[FlexibleGrounding, ...]:
    """Limits of 250.118 for a flexible metal raceway, by trade size; empty for raceways that have none."""
    columns = ("trade_min_in", "trade_max_in", "device_max_A", "path_max_ft")
    found = [row for row in rows(_FLEXIBLE) if row["raceway"] == kind]
    return tuple(FlexibleGrounding(*(number(row, column, _FLEXIBLE) for column in columns)) for row in found)


def trade_inches(trade_size: str) -> float | None:
    """A trade size such as "1-1/4" or '3/4"' in inches; ``None`` for what is none."""
    try:
        return optional_number(trade_size.strip().rstrip('"').strip().replace(" ", "-"))
    except ValueError:
        return None
