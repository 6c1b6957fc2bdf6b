"""Impedances of conductors: Chapter 9 Tables 8 and 9, and the constants of the point-to-point method."""

from __future__ import annotations

from functools import cache

from oneline.model.vocabulary import MATERIALS
from oneline.tables.limits import limit_value
from oneline.tables.source import NotInTable, checked, figure, find, number, rows

_AC = "ch9_t9_ac_impedance"
_DC = "ch9_t8_conductor_properties"
_C = "point_to_point_c"
_RACEWAYS = "raceways"
RACEWAY_GROUPS = ("steel", "pvc", "aluminum")
_PREFIX = {"copper": "cu", "aluminum": "al"}
_SUFFIX = {"steel": "steel", "pvc": "pvc", "aluminum": "al"}


@cache
def raceway_group(raceway: str | None) -> str | None:
    """The impedance column of a raceway of the vocabulary: "steel" or "pvc" (nonmagnetic).

    ``None``: the raceway is not known, or only its maker's data tell (busway). Raises ``NotInTable`` for other words.
    """
    if raceway is None:
        return None
    return find(_RACEWAYS, ("name",), raceway)["impedance_group"] or None


@cache
def raceway_is_metal(raceway: str) -> bool | None:
    """Whether the raceway is metal, and so may be the grounding conductor (250.118); ``None``: it depends."""
    return {"yes": True, "no": False, "": None}[find(_RACEWAYS, ("name",), raceway)["metallic"]]


@cache
def ac_impedance(size: str, material: str, raceway_group: str) -> tuple[float, float]:
    """Resistance and reactance, ohm to neutral per 1000 ft at 60 Hz and 75 °C, three single conductors in a raceway.

    Chapter 9 Table 9. Raises ``NotInTable`` for sizes it does not print (700, 800, 900 kcmil, above 1000 kcmil).
    """
    checked(material, MATERIALS, f"{_AC}.csv")
    checked(raceway_group, RACEWAY_GROUPS, f"{_AC}.csv")
    row = find(_AC, ("size",), size)
    r = number(row, f"{_PREFIX[material]}_r_{_SUFFIX[raceway_group]}", _AC)
    x = number(row, "x_steel" if raceway_group == "steel" else "x_pvc_al", _AC)
    return r, x


@cache
def dc_resistance_ohm_kft(size: str, material: str, stranded: bool = True) -> float:
    """Direct-current resistance at 75 °C in ohm per 1000 ft, Chapter 9 Table 8, uncoated copper or aluminum.

    Up to 8 AWG the table has solid and stranded conductors; from 6 AWG only stranded.
    """
    checked(material, MATERIALS, f"{_DC}.csv")
    column = "cu_uncoated_ohm_kft" if material == "copper" else "al_ohm_kft"
    found = [row for row in rows(_DC) if row["size"] == size and (int(row["strands"]) > 1) == stranded]
    if len(found) != 1:
        raise NotInTable(f"{_DC}.csv", f"{size} {'stranded' if stranded else 'solid'}")
    return number(found[0], column, _DC)


def temperature_correct(r_ohm: float, material: str, from_c: float, to_c: float) -> float:
    """A resistance at another conductor temperature, with the coefficient at 75 °C of Chapter 9 Table 8."""
    checked(material, MATERIALS, f"{_DC}.csv")
    a = limit_value(f"resistance_coefficient_{material}")
    base_c = limit_value("resistance_table_c")
    return r_ohm * (1 + a * (to_c - base_c)) / (1 + a * (from_c - base_c))


@cache
def point_to_point_c(size: str, material: str, raceway_group: str) -> float | None:
    """The constant C of the point-to-point method, 600 V, three single conductors; ``None`` where none is known."""
    checked(material, MATERIALS, f"{_C}.csv")
    checked(raceway_group, RACEWAY_GROUPS, f"{_C}.csv")
    column = f"{_PREFIX[material]}_{'steel' if raceway_group == 'steel' else 'nonmagnetic'}"
    for row in rows(_C):
        if row["size"] == size:
            return figure(row, column) if column in row else None
    return None
