"""Working space at equipment, Table 110.26(A)(1)."""

from __future__ import annotations

from oneline.tables.source import NotInTable, number, rows

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
