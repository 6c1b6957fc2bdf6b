"""Voltages measured at an item, with the system they are held against."""

from __future__ import annotations

from oneline.desk.panes.measured import MeasuredEditor
from oneline.model import VoltageReading

#: Kinds of items at which a system is measured.
KINDS = ("service", "generator", "solar", "battery", "transformer", "meter", "disconnect", "transfer", "bus")
_PAIRS = ("ab", "bc", "ca", "an", "bn", "cn", "ag", "bg", "cg", "ng")


class VoltagesEditor(MeasuredEditor):
    """Volts by pair of conductors."""

    row = VoltageReading
    field = "voltages"
    one = "voltage reading"
    title = "Measured voltages"
    said = "Measured live, with a meter proved before and after. The last line is held against the system."
    columns = (
        ("when", "When", 124), *((f"{pair}_v", "-".join(pair.upper()), 46) for pair in _PAIRS),
        ("instrument", "Instrument", 96), ("note", "Note", 96),
    )  # fmt: skip
