"""Load calculation tables of article 220 (2026: article 120) and Table 620.14."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache

from oneline.model.vocabulary import EDITIONS
from oneline.tables.source import NotInTable, Row, number, optional_number, rows

_UNIT = "t220_42_A_unit_lighting_loads"
_LIGHTING = "t220_45_lighting_demand"
_RECEPTACLE = "t220_47_receptacle_demand"
_KITCHEN = "t220_56_kitchen"
_ELEVATOR = "t620_14_elevators"
_OLD, _NEW = "2017 and earlier", "2020-2023"


def _block(edition: int, table: str) -> str:
    """The block of rows an edition takes; 2026 takes the newest one (its citation says it is not confirmed)."""
    if edition not in EDITIONS:
        raise NotInTable(f"{table}.csv", f"edition {edition}")
    return _OLD if edition == EDITIONS[0] else _NEW


def _stepped(load_va: float, steps: Iterable[Row], table: str) -> float:
    """Demand of a load over steps of percent: each step takes its part of the load."""
    if load_va < 0:
        raise ValueError(f"a load of {load_va:g} VA")
    total = 0.0
    for row in steps:
        over, up_to = number(row, "over_va", table), optional_number(row["up_to_va"])
        part = (load_va if up_to is None else min(load_va, up_to)) - over
        total += max(part, 0.0) * number(row, "percent", table) / 100
    return total


def receptacle_demand_va(va: float) -> float:
    """Demand of nondwelling receptacle load: the first 10 kVA in full, half of the rest, Table 220.47."""
    return _stepped(va, rows(_RECEPTACLE), _RECEPTACLE)


def lighting_demand_va(va: float, occupancy: str, edition: int) -> float:
    """Demand of general lighting, Table 220.45; an occupancy without rows of its own counts in full."""
    block = _block(edition, _LIGHTING)
    usable = [row for row in rows(_LIGHTING) if row["edition"] in ("all", block)]
    wanted = [row for row in usable if row["occupancy"].casefold() == occupancy.casefold()]
    return _stepped(va, wanted or [row for row in usable if row["occupancy"] == "All others"], _LIGHTING)


def _by_count(count: int, table: str, column: str) -> float:
    for row in rows(table):
        high = optional_number(row["n_max"])
        if int(row["n_min"]) <= count and (high is None or count <= high):
            return number(row, column, table)
    raise NotInTable(f"{table}.csv", f"{count} pieces")


def kitchen_demand_factor(count: int) -> float:
    """Demand factor of nondwelling kitchen equipment, Table 220.56; never below the two largest pieces (220.56)."""
    return _by_count(count, _KITCHEN, "percent") / 100


def elevator_demand_factor(count: int) -> float:
    """Feeder demand factor for a number of elevators, Table 620.14."""
    return _by_count(count, _ELEVATOR, "factor")


@cache
def _unit_rows(edition: int) -> dict[str, Row]:
    block = _block(edition, _UNIT)
    return {row["occupancy"]: row for row in rows(_UNIT) if row["edition"] == block}


def occupancies(edition: int) -> tuple[str, ...]:
    """Occupancies of the unit-load table of an edition, as printed."""
    return tuple(_unit_rows(edition))


def _unit_row(occupancy: str, edition: int) -> Row:
    wanted = occupancy.casefold().strip()
    for name, row in _unit_rows(edition).items():
        if wanted in (name.casefold(), name.partition(" (")[0].casefold()):
            return row
    raise NotInTable(f"{_UNIT}.csv", f"occupancy {occupancy!r} for edition {edition}")


def unit_lighting_va_ft2(occupancy: str, edition: int) -> float:
    """General lighting unit load in VA per square foot: Table 220.12 (2017, 2020), 220.42(A) (2023).

    The name may leave out what stands in parentheses. 2026 takes the values of 2023; see the citation.
    """
    return number(_unit_row(occupancy, edition), "va_per_ft2", _UNIT)


def unit_lighting_includes_continuous(occupancy: str, edition: int) -> bool:
    """Whether the unit load already holds the 125 percent for continuous load (since 2020)."""
    return _unit_row(occupancy, edition)["includes_125pct"] == "yes"
