"""Load calculation tables of article 220 (2026: article 120) and Table 620.14."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache

from oneline.model.vocabulary import EDITIONS
from oneline.tables.editions import applies
from oneline.tables.limits import limit_value
from oneline.tables.source import NotInTable, Row, figure, find, number, optional_number, rows

_UNIT = "t220_42_A_unit_lighting_loads"
_LIGHTING = "t220_45_lighting_demand"
_RECEPTACLE = "t220_47_receptacle_demand"
_KITCHEN = "t220_56_kitchen"
_ELEVATOR = "t620_14_elevators"
_USES = "occupancies"
_SCHOOL = "t220_86_schools"
_RESTAURANT = "t220_88_restaurants"
_APARTMENTS = "t220_84_multifamily"
_DUTY = "t430_22_E_duty"
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


# --------------------------------------------------------------------------------------------- uses of floor areas
#: Use of an area whose lighting has a figure of its own outside the unit-load table.
DWELLING = "dwelling units"


@dataclass(frozen=True)
class FloorUse:
    """What the load article says of a floor area by its use (a word of ``model.vocabulary.OCCUPANCIES``).

    ``va_per_ft2``: general lighting, ``None`` where the table of the edition lists no such use. ``holds_continuous``:
    that figure holds the factor for continuous load already. ``continuous``: lighting there counts as continuous.
    ``demand``: row of the lighting demand table, "" for lighting that counts in full. ``office_receptacles``: receptacles
    count as no less than a load by area. ``rule``: citation id of the unit load.
    """

    va_per_ft2: float | None
    holds_continuous: bool
    continuous: bool
    demand: str
    office_receptacles: bool
    rule: str


@cache
def floor_use(use: str, edition: int) -> FloorUse:
    """Lighting by floor area of a use in an edition. Raises ``NotInTable`` for a word that is no use."""
    row = find(_USES, ("use",), use)
    demand = row["demand_row"] if _demand_rows(row["demand_row"], edition) else ""
    office = row["office_receptacles"] == "yes"
    if use == DWELLING:
        reduced = applies("dwelling_lighting_reduced", edition)
        unit = limit_value("dwelling_lighting_reduced_va_ft2" if reduced else "dwelling_lighting_va_ft2")
        return FloorUse(unit, False, False, demand, office, "LOAD-2-dwelling-lighting")
    name = row["row_2017" if _block(edition, _UNIT) == _OLD else "row_2020"]
    if not name:
        return FloorUse(None, False, True, demand, office, "TABLE-unit-lighting")
    holds = unit_lighting_includes_continuous(name, edition)
    return FloorUse(unit_lighting_va_ft2(name, edition), holds, True, demand, office, "TABLE-unit-lighting")


def _demand_rows(occupancy: str, edition: int) -> list[Row]:
    block = _block(edition, _LIGHTING)
    return [r for r in rows(_LIGHTING) if r["edition"] in ("all", block) and r["occupancy"] == occupancy]


def lighting_demand_rows() -> tuple[str, ...]:
    """Occupancies with steps of their own in the lighting demand table, of all editions."""
    return tuple(dict.fromkeys(r["occupancy"] for r in rows(_LIGHTING) if r["occupancy"] != "All others"))


# ------------------------------------------------------------------------------------------ optional calculations
def school_demand_va(connected_va: float, area_ft2: float) -> float:
    """Demand of a school by connected volt-amperes per square foot, Table 220.86."""
    if not area_ft2 > 0:
        raise ValueError(f"a floor area of {area_ft2:g} ft2")
    total, density = 0.0, connected_va / area_ft2
    for row in rows(_SCHOOL):
        over, up_to = float(row["over_va_ft2"]), optional_number(row["up_to_va_ft2"])
        part = (density if up_to is None else min(density, up_to)) - over
        total += max(part, 0.0) * area_ft2 * number(row, "percent", _SCHOOL) / 100
    return total


def restaurant_demand_va(connected_va: float, all_electric: bool) -> float:
    """Demand of a new restaurant by all its connected load, heating and cooling both counted, Table 220.88."""
    kind, kva = "all electric" if all_electric else "not all electric", connected_va / 1000
    for row in rows(_RESTAURANT):
        over, up_to = float(row["over_kVA"]), optional_number(row["up_to_kVA"])
        if row["kind"] == kind and kva >= over and (up_to is None or kva <= up_to):
            share = number(row, "percent", _RESTAURANT) / 100
            return (number(row, "base_kVA", _RESTAURANT) + share * (kva - over)) * 1000
    raise NotInTable(f"{_RESTAURANT}.csv", f"{connected_va:g} VA")


def apartment_demand_factor(units: int) -> float:
    """Share of the connected load of three or more dwelling units, Table 220.84(B). Raises ``NotInTable`` for fewer."""
    return _by_count(units, _APARTMENTS, "percent") / 100


# ----------------------------------------------------------------------------------------------------- motor duty
def motor_duty_factors(duty: str) -> dict[str, float]:
    """Shares of the nameplate current by time rating, Table 430.22(E); empty for continuous duty."""
    found = ((row["time_rating"], figure(row, "percent")) for row in rows(_DUTY) if row["duty"] == duty)
    return {rating: percent / 100 for rating, percent in found if percent is not None}
