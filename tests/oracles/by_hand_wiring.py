"""Ampacity, counting, parallel sets, fill and boxes once more, slowly and exactly, without anything of the program.

Written from the statements of 310.14 to 310.16, 110.14(C), Chapter 9, 366.22, 376.22 and 314.28 as trade articles restate
them; figures are read from the tables' own files by a reader of its own, as fractions. Inches, feet, amperes, °C, in².
"""

from __future__ import annotations

import csv
from fractions import Fraction as F
from functools import cache
from pathlib import Path

TABLES = Path(__file__).resolve().parents[2] / "resources" / "tables"


@cache
def read(name: str) -> tuple[dict[str, str], ...]:
    """Rows of a table, its head left out."""
    with (TABLES / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return tuple(csv.DictReader(line for line in file if not line.startswith("#")))


# ------------------------------------------------------------------------------------------------------- ampacity
@cache
def table_ampacity(size: str, material: str, column: int) -> F | None:
    cell = next(r for r in read("t310_16_ampacity") if r["size"] == size)
    text = cell[f"{'cu' if material == 'copper' else 'al'}_{column}C"]
    return F(text) if text else None


def heat_factor(column: int, around: F) -> F | None:
    """The factor of the first band that reaches the temperature; none above the last."""
    for row in read("t310_15_B_1_1_ambient_30C"):
        if around <= F(row["band_max_C"]):
            text = row[f"f_{column}C"]
            return F(text) if text else None
    return None


def crowd_factor(count: int) -> F:
    """Table 310.15(C)(1): 4-6 80 %, 7-9 70, 10-20 50, 21-30 45, 31-40 40, 41 and more 35."""
    for most, percent in ((3, 100), (6, 80), (9, 70), (20, 50), (30, 45), (40, 40)):
        if count <= most:
            return F(percent, 100)
    return F(35, 100)


#: Insulation: °C dry, °C wet (none: not permitted there). Trade literature; see insulations.csv.
INSULATION = {"THHN": (90, None), "THWN": (75, 75), "THWN-2": (90, 90), "XHHW-2": (90, 90), "THHN/THWN-2": (90, 90)}


def ampacity(
    size: str, material: str, insulation: str, sets: int, wet: bool, ambient: F, count: int, terminal: int,
    length_ft: F | None, raceway: str, roof_in: F | None,
) -> F | None:  # fmt: skip
    """Smaller of: sets x column of the insulation x heat x crowd; sets x column of the terminals. ``roof_in``: height above
    a sunlit roof, none where there is no roof. None where the insulation or the temperature permits no use."""
    column = INSULATION[insulation][1 if wet else 0]
    if column is None:
        return None
    around = ambient
    if roof_in is not None and roof_in < F(7, 8) and insulation != "XHHW-2":
        around += 33
    heat = heat_factor(column, around)
    good, lug = table_ampacity(size, material, column), table_ampacity(size, material, terminal)
    if heat is None or good is None or lug is None:
        return None
    crowd = crowd_factor(count)
    if (length_ft is not None and 12 * length_ft <= 24) or (raceway == "wireway" and count <= 30):
        crowd = F(1)
    return min(sets * good * heat * crowd, sets * lug)


def carries(in_use: F, at_lugs: F, continuous: F, other: F, listed_100: bool) -> bool:
    """Terminals: 125 % of continuous load and the rest, 100 % where listed so; in use: the load itself."""
    factor = F(1) if listed_100 else F(5, 4)
    return at_lugs >= factor * continuous + other and in_use >= continuous + other


def counted(system: str, phases: str, neutral: bool, nonlinear: bool) -> int:
    """Current-carrying conductors of one set: phases, and the neutral of a two-wire circuit, of two phases of a wye, and
    of a four-wire wye with mostly nonlinear load. A neutral that carries the unbalance of its own circuit does not count."""
    wye = system in ("208Y/120", "480Y/277", "600Y/347", "208/120-1")
    if not neutral:
        return len(phases)
    if len(phases) == 1:
        return 2
    if len(phases) == 2:
        return 3 if wye or (system == "240D/120-HL" and "B" in phases) else 2
    return 4 if wye and nonlinear else 3


def follows(low_ft: F, high_ft: F) -> bool:
    """A part of lower ampacity may be left out up to 10 ft and a tenth of the higher part."""
    return low_ft <= 10 and 10 * low_ft <= high_ft


def parallel(cmil: F, neutral_cmil: F | None, alike: bool) -> bool:
    """1/0 (105,600 cmil) and larger, the neutral too, and all alike."""
    return alike and all(area >= 105600 for area in (cmil, neutral_cmil) if area is not None)


# ----------------------------------------------------------------------------------------------------------- fill
@cache
def wire_area(size: str) -> F:
    """THHN, Chapter 9 Table 5, in²."""
    return F(
        next(r for r in read("ch9_t5_conductors") if r["family"].startswith("THHN") and r["size"] == size)["area_in2"]
    )


@cache
def inside(kind: str, trade: str) -> F:
    """Whole inside area, Chapter 9 Table 4, in²."""
    wanted = kind.replace("-", "") if kind.startswith("PVC") else kind
    row = next(r for r in read("ch9_t4_conduit") if r["type"] == wanted and r["trade_size"] == trade)
    return F(row["area_100_in2"])


def trade_sizes(kind: str) -> list[str]:
    wanted = kind.replace("-", "") if kind.startswith("PVC") else kind
    return [r["trade_size"] for r in read("ch9_t4_conduit") if r["type"] == wanted]


def fits(wires: list[tuple[int, str]], room: F, nipple: bool) -> bool:
    """One conductor 53 %, two 31 %, more 40 %; 60 % in a nipple."""
    count = sum(n for n, _ in wires)
    share = F(60, 100) if nipple else F({1: 53, 2: 31}.get(count, 40), 100)
    return sum(n * wire_area(size) for n, size in wires) <= share * room


def gutter(space: F, passing: F, filled: F, beyond_ft: F) -> bool:
    """Conductors 20 % of the cross section, with splices and taps 75 %; 30 ft beyond the equipment."""
    return 5 * passing <= space and 4 * filled <= 3 * space and beyond_ft <= 30


def box(straight: bool, sizes: list[F], distance: F) -> bool:
    """Straight: eight times the largest raceway. Angle, one raceway on each of two walls: six times the largest."""
    return distance >= (8 if straight else 6) * max(sizes)
