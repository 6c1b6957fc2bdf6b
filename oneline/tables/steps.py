"""The steps in which equipment is offered. Only for proposals: no rule judges by them."""

from __future__ import annotations

from functools import cache

from oneline.tables.source import checked, number, rows

_STEPS = "equipment_steps"
STEP_KINDS = ("bus", "switch", "short_circuit", "transformer_3", "transformer_1")


@cache
def equipment_steps(kind: str) -> tuple[float, ...]:
    """Customary ratings, smallest first. ``kind``: one of STEP_KINDS; amperes, kA or kVA. Raises ``NotInTable``."""
    checked(kind, STEP_KINDS, f"{_STEPS}.csv")
    return tuple(float(number(row, "value", _STEPS)) for row in rows(_STEPS) if row["kind"] == kind)
