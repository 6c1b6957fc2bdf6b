"""Motors and transformers: Tables 430.248, 430.250, 430.52 and 450.3(B)."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from oneline.tables.source import NotInTable, figure, number, optional_number, rows

_MOTOR = {1: "t430_248_1ph_flc", 3: "t430_250_3ph_flc"}
_VOLTAGES = "motor_voltages"
_TRANSFORMER = "t450_3_B_transformer_ocpd"
METHODS = ("primary only", "primary and secondary")
SIDES = ("primary", "secondary")


@cache
def motor_flc_a(hp: float, volts: float, phases: int) -> float:
    """Full-load current in amperes of an ac motor, Table 430.248 (one phase) or 430.250 (three phases).

    ``volts``: the motor's rated or the system's nominal voltage (110-120, 200, 208, 220-240, 440-480, 550-600). Raises
    ``NotInTable`` for a horsepower or a voltage that the table does not print.
    """
    table = _MOTOR.get(phases)
    if table is None:
        raise NotInTable("the motor tables", f"{phases} phases")
    column = _voltage_column(volts, table)
    for row in rows(table):
        if optional_number(row["hp"]) == _as_printed(hp, table):
            value = figure(row, column)
            if value is not None:
                return value
    raise NotInTable(f"{table}.csv", f"{hp:g} hp at {volts:g} V")


def motor_horsepowers(phases: int) -> tuple[float, ...]:
    """Horsepower ratings of a motor table, smallest first."""
    return tuple(number(row, "hp", _MOTOR[phases]) for row in rows(_MOTOR[phases]))


def motor_steps(hp: float, phases: int) -> tuple[float, float]:
    """Printed horsepower ratings just below and just above one that the table does not print. Raises ``NotInTable``."""
    printed = sorted(motor_horsepowers(phases))
    below, above = [p for p in printed if p < hp], [p for p in printed if p > hp]
    if not below or not above:
        raise NotInTable(f"{_MOTOR[phases]}.csv", f"{hp:g} hp")
    return below[-1], above[0]


def _as_printed(hp: float, table: str) -> float:
    """The table's own rating next to a typed one, so that 0.33 finds 1/3."""
    ratings = [number(row, "hp", table) for row in rows(table)]
    return next((r for r in ratings if abs(r - hp) <= 0.02 * r), hp)


def _voltage_column(volts: float, table: str) -> str:
    for row in rows(_VOLTAGES):
        if (
            number(row, "low_v", _VOLTAGES) <= volts <= number(row, "high_v", _VOLTAGES)
            and row["column"] in rows(table)[0]
        ):
            return row["column"]
    raise NotInTable(f"{table}.csv", f"a column for {volts:g} V")


@dataclass(frozen=True)
class TransformerProtection:
    """Largest overcurrent device of one side: multiple of its rated current; ``next_size_up``: note 1 allows the next
    higher standard rating."""

    factor: float
    next_size_up: bool


def transformer_protection(side: str, rated_a: float, method: str) -> TransformerProtection:
    """Table 450.3(B) for transformers of 1000 V and less, without thermal protection in the winding.

    ``method``: "primary only" or "primary and secondary"; ``rated_a``: rated current of the side asked about.
    """
    if side not in SIDES or method not in METHODS:
        raise NotInTable(f"{_TRANSFORMER}.csv", f"{side} of {method}")
    if not rated_a > 0:
        raise NotInTable(f"{_TRANSFORMER}.csv", f"a rated current of {rated_a:g} A")
    for row in rows(_TRANSFORMER):
        low, below = optional_number(row["at_least_a"]), optional_number(row["below_a"])
        if row["method"] != method or row["side"] != side:
            continue
        if (low is None or rated_a >= low) and (below is None or rated_a < below):
            return TransformerProtection(number(row, "max_percent", _TRANSFORMER) / 100, row["next_size_up"] == "yes")
    raise NotInTable(f"{_TRANSFORMER}.csv", f"{side} of {method} at {rated_a:g} A")
