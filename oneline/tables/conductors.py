"""Conductors: areas, ampacities, correction and adjustment factors, insulations, small-conductor limits.

Tables 310.16, 310.15(B)(1)(1), 310.15(C)(1), 240.4(D) and the insulation ratings; see the heads of the csv files.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache, lru_cache

from oneline.model.vocabulary import MATERIALS
from oneline.tables.limits import limit_value
from oneline.tables.source import NotInTable, checked, figure, find, number, optional_number, rows

_AMPACITY = "t310_16_ampacity"
_AMBIENT = "t310_15_B_1_1_ambient_30C"
_ADJUSTMENT = "t310_15_C_1_bundling"
_SMALL = "t240_4_D_small_conductors"
COLUMNS_C = (60, 75, 90)
_PREFIX = {"copper": "cu", "aluminum": "al"}


def _column(material: str, column_c: float) -> str:
    checked(material, MATERIALS, f"{_AMPACITY}.csv")
    if column_c not in COLUMNS_C:
        raise NotInTable(f"{_AMPACITY}.csv", f"a {column_c:g} °C column")
    return f"{_PREFIX[material]}_{column_c:.0f}C"


@lru_cache(maxsize=4096)
def area_cmil(size: str) -> float:
    """Area in circular mils of a trade size such as "12", "4/0" or "500". Raises ``NotInTable``."""
    return number(find(_AMPACITY, ("size",), size), "area_cmil", _AMPACITY)


@cache
def ampacity_a(size: str, material: str, column_c: float) -> float | None:
    """Ampacity in amperes of one conductor, Table 310.16, column 60, 75 or 90 °C.

    ``None`` where the table prints no value (14 AWG aluminum). Raises ``NotInTable`` for an unknown size, material or
    column.
    """
    return figure(find(_AMPACITY, ("size",), size), _column(material, column_c))


def _all_columns(size: str, material: str) -> bool:
    return all(ampacity_a(size, material, c) is not None for c in COLUMNS_C)


def next_size_for_ampacity(needed_a: float, material: str, column_c: float, sets: int = 1) -> str | None:
    """The smallest size of which ``sets`` in parallel have at least ``needed_a`` in Table 310.16.

    Only sizes with a value in all three columns (building wire). More than one set starts at the smallest size that
    may be in parallel, 310.10(G). ``None`` when even the largest size is not enough.
    """
    if sets < 1:
        raise ValueError(f"{sets} sets in parallel")
    smallest_cmil = limit_value("parallel_min_cmil") if sets > 1 else 0
    for row in rows(_AMPACITY):
        size = row["size"]
        amps = ampacity_a(size, material, column_c)
        if amps is None or not _all_columns(size, material) or area_cmil(size) < smallest_cmil:
            continue
        if sets * amps >= needed_a:
            return size
    return None


@lru_cache(maxsize=4096)
def size_for_area(needed_cmil: float) -> str | None:
    """The smallest trade size with at least this area; ``None`` above the largest."""
    return next((row["size"] for row in rows(_AMPACITY) if float(row["area_cmil"]) >= needed_cmil), None)


@lru_cache(maxsize=4096)
def ambient_factor(insulation_c: float, ambient_c: float) -> float | None:
    """Correction for ambient temperature, Table 310.15(B)(1)(1), for an insulation of 60, 75 or 90 °C.

    Between two bands the hotter one counts. ``None``: a conductor of this rating may not be used at this ambient.
    """
    if insulation_c not in COLUMNS_C:
        raise NotInTable(f"{_AMBIENT}.csv", f"insulation rated {insulation_c:g} °C")
    for row in rows(_AMBIENT):
        if ambient_c <= float(row["band_max_C"]):
            return figure(row, f"f_{insulation_c:.0f}C")
    return None


@lru_cache(maxsize=4096)
def bundling_factor(count: int) -> float:
    """Adjustment for ``count`` current-carrying conductors in one raceway, Table 310.15(C)(1); 1.0 up to three."""
    for row in rows(_ADJUSTMENT):
        low, high = int(row["n_min"]), optional_number(row["n_max"])
        if low <= count and (high is None or count <= high):
            return number(row, "percent", _ADJUSTMENT) / 100
    raise NotInTable(f"{_ADJUSTMENT}.csv", f"{count} conductors")


@dataclass(frozen=True)
class Insulation:
    """Temperature ratings in °C of an insulation; ``wet_c`` ``None``: not for wet places, ``dry_c`` ``None``: read the
    marking. ``family``: its rows in Chapter 9 Table 5, ``None`` when it has none."""

    name: str
    dry_c: float | None
    wet_c: float | None
    family: str | None


@cache
def insulation(name: str) -> Insulation:
    """The ratings of an insulation of the vocabulary. Raises ``NotInTable``."""
    row = find("insulations", ("name",), name)
    return Insulation(name, figure(row, "dry_c"), figure(row, "wet_c"), row["family"] or None)


@lru_cache(maxsize=4096)
def small_conductor_limit_a(size: str, material: str, edition: int) -> float | None:
    """Largest overcurrent device in amperes for a small conductor, 240.4(D); ``None``: no limit of this kind.

    ``edition`` changes only the item numbers for copper and aluminum (copper-clad aluminum is not modeled).
    """
    checked(material, MATERIALS, f"{_SMALL}.csv")
    area_cmil(size)
    wanted = ("Cu",) if material == "copper" else ("Al/CCA", "Al")
    for row in rows(_SMALL):
        if row["size_AWG"] == size and row["material"] in wanted:
            return number(row, "max_ocpd_A", _SMALL)
    return None
