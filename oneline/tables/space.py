"""Working space at equipment, Table 110.26(A)(1); space for bending conductors, Table 312.6(A)."""

from __future__ import annotations

from oneline.model.vocabulary import CONDUCTOR_SIZES
from oneline.tables.source import NotInTable, figure, number, rows

_BENDING = "t312_6_A_bending"
_SPACE = "t110_26_A_1_working_space"


def working_depth_ft(v_to_ground: float, condition: int) -> float:
    """Least depth in feet in front of equipment. ``condition`` 1: nothing live or grounded opposite, 2: grounded parts
    opposite (concrete, brick, tile count), 3: live parts on both sides."""
    for row in rows(_SPACE):
        if row["dimension"] != "depth" or row["condition"] != str(condition):
            continue
        low, high = (float(v) for v in row["volts_to_ground"].split("-"))
        if low - 1 < v_to_ground <= high:
            return number(row, "min_ft", _SPACE)
    raise NotInTable(f"{_SPACE}.csv", f"{v_to_ground:g} V to ground, condition {condition}")


def bending_space_in(size: str, wires: int = 1) -> float | None:
    """Least bending space at a terminal, or width of a gutter, in inches; ``None`` for sizes that the table leaves out.

    ``wires``: on each terminal. Raises ``NotInTable`` for more wires than it has a figure for.
    """
    at = CONDUCTOR_SIZES.index(size)
    for row in rows(_BENDING):
        if CONDUCTOR_SIZES.index(row["size_min"]) <= at <= CONDUCTOR_SIZES.index(row["size_max"]):
            found = figure(row, f"wires_{wires}") if f"wires_{wires}" in row else None
            if found is None:
                raise NotInTable(f"{_BENDING}.csv", f"{wires} wires of {size} on a terminal")
            return found
    return None
