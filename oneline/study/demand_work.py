"""Worksheets of the load at a point."""

from __future__ import annotations

from math import sqrt

from oneline import tables
from oneline.rules.common import computed, looked_up, section
from oneline.rules.verdict import WorkLine
from oneline.study.calculated import Calculated
from oneline.study.load_sums import CONTINUOUS, ELEVATORS, KITCHEN, MOTORS, OPEN, PLAIN, RECEPTACLES
from oneline.study.records import Measured

_KIND_NAMES = {
    PLAIN: ("Load, not continuous", ""), CONTINUOUS: ("Continuous load", "AMP-CONT"),
    RECEPTACLES: ("Receptacles", "TABLE-receptacle-demand"), KITCHEN: ("Kitchen equipment", "TABLE-kitchen"),
    ELEVATORS: ("Elevators", "TABLE-elevator"), MOTORS: ("Motors", "LOAD-4"),
    OPEN: ("Load, not known whether continuous", ""),
}  # fmt: skip


def calculated_lines(calc: Calculated, at: int, edition: int) -> list[WorkLine]:
    """Worksheet of the calculated load at a position."""
    lines = []
    for kind, (title, rule) in _KIND_NAMES.items():
        connected = float(calc.sums.va[at, kind])
        if connected > 0:
            lines.append(
                computed(
                    title, "factor * connected", "VA", section(rule, edition) if rule else "",
                    factor=calc.factor(at, kind), connected=connected,
                )
            )  # fmt: skip
    if calc.motor[at] >= 0:
        lines.append(
            computed(
                "Largest motor, further", "(factor - 1) * motor", "VA", section("LOAD-4", edition),
                factor=tables.limit_value("motor_largest_factor"), motor=float(calc.motor_va[at]),
            )
        )  # fmt: skip
    lines.append(looked_up("Calculated load", float(calc.va_low[at]), "VA", section("LOAD-2", edition)))
    lines.append(
        computed(
            "With continuous load counted in full", "load + (factor - 1) * continuous", "VA",
            section("AMP-CONT", edition), load=float(calc.va_low[at]),
            factor=tables.limit_value("continuous_factor"),
            continuous=(float(calc.counted_va_low[at]) - float(calc.va_low[at]))
            / (tables.limit_value("continuous_factor") - 1),
        )
    )  # fmt: skip
    return lines


def record_lines(measured: Measured, new: Calculated, at: int, edition: int) -> list[WorkLine]:
    """Worksheet of a recorded demand that stands for the existing load, with the new load."""
    facts = measured.facts
    return [
        computed(
            "Recorded demand on each phase", "va / (factor * volts)", "A", "record", va=measured.va,
            factor=sqrt(3) if facts.three_phase else 1.0, volts=facts.volts or 1.0,
        ),
        computed(
            "As counted", "factor * demand", "A", section("LOAD-1", edition),
            factor=tables.limit_value("demand_record_factor"), demand=measured.amperes,
        ),
        looked_up("New load", float(new.va_low[at]), "VA", section("LOAD-2", edition)),
    ]  # fmt: skip
