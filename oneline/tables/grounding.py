"""Grounding and bonding conductors: Tables 250.122, 250.66 and 250.102(C)(1)."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from oneline.model.vocabulary import MATERIALS
from oneline.tables.conductors import area_cmil, size_for_area
from oneline.tables.limits import limit_value
from oneline.tables.source import NotInTable, checked, number, optional_number, rows

_EGC = "t250_122_egc"
_GEC = "t250_66_gec"
_BONDING = "t250_102_C_1_bonding"
_PREFIX = {"copper": "cu", "aluminum": "al"}


@lru_cache(maxsize=4096)
def egc_size(ocpd_a: float, material: str) -> str:
    """Minimum equipment grounding conductor for the overcurrent device ahead, Table 250.122.

    The first row whose rating is not less than ``ocpd_a``. Raises ``NotInTable`` above the last row or below zero.
    """
    checked(material, MATERIALS, f"{_EGC}.csv")
    if ocpd_a > 0:
        for row in rows(_EGC):
            if ocpd_a <= number(row, "ocpd_max_A", _EGC):
                return row["cu" if material == "copper" else "al_or_cca"]
    raise NotInTable(f"{_EGC}.csv", f"an overcurrent device of {ocpd_a:g} A")


def _row(table: str, ungrounded_cmil: float, material: str) -> dict[str, str]:
    if not ungrounded_cmil > 0:
        raise NotInTable(f"{table}.csv", f"a conductor of {ungrounded_cmil:g} cmil")
    for row in rows(table):
        top = optional_number(row[f"{_PREFIX[material]}_up_to_cmil"])
        if top is None or ungrounded_cmil <= top:
            return dict(row)
    raise NotInTable(f"{table}.csv", f"a conductor of {ungrounded_cmil:g} cmil")


def gec_size(ungrounded: str | float, material: str, gec_material: str = "copper") -> str:
    """Grounding electrode conductor, Table 250.66, before the caps for rod, plate or concrete-encased electrodes.

    ``ungrounded``: trade size of the largest ungrounded service conductor, or the added area of a parallel set in
    circular mils. ``material``: of the ungrounded conductors; ``gec_material``: of the electrode conductor.
    """
    checked(material, MATERIALS, f"{_GEC}.csv")
    checked(gec_material, MATERIALS, f"{_GEC}.csv")
    cmil = area_cmil(ungrounded) if isinstance(ungrounded, str) else float(ungrounded)
    return _row(_GEC, cmil, material)[f"gec_{_PREFIX[gec_material]}"]


@dataclass(frozen=True)
class BondingJumper:
    """A jumper or grounded service conductor: smallest area and the trade size that has it (``None``: larger than any
    trade size). ``by_fraction``: above the end of the table, 12.5 percent of the ungrounded area."""

    size: str | None
    area_cmil: float
    by_fraction: bool


def bonding_jumper(ungrounded_cmil: float, material: str, jumper_material: str | None = None) -> BondingJumper:
    """Main or system bonding jumper, supply-side jumper or grounded service conductor, Table 250.102(C)(1).

    ``ungrounded_cmil``: area of the ungrounded conductors of one phase, all sets added. Above the table with unlike
    materials the ungrounded set must first be converted at equal ampacity: raises ``NotInTable``, convert it first.
    """
    checked(material, MATERIALS, f"{_BONDING}.csv")
    jumper = checked(jumper_material or material, MATERIALS, f"{_BONDING}.csv")
    row = _row(_BONDING, ungrounded_cmil, material)
    if row[f"{_PREFIX[material]}_up_to_cmil"]:
        size = row[f"jumper_{_PREFIX[jumper]}"]
        return BondingJumper(size, area_cmil(size), False)
    if jumper != material:
        raise NotInTable(f"{_BONDING}.csv", f"a {jumper} jumper for {ungrounded_cmil:g} cmil of {material}")
    needed = ungrounded_cmil * limit_value("bonding_fraction")
    return BondingJumper(size_for_area(needed), needed, True)
