"""Between what people type and the numbers drawings hold: ``parse`` reads, ``format_value`` and ``edit_text`` write."""

from __future__ import annotations

from oneline.units.parse import UNKNOWN, parse, quantities
from oneline.units.problem import QuantityError
from oneline.units.show import (
    UNKNOWN_TEXT,
    between,
    edit_text,
    format_value,
    rounded_down,
    rounded_up,
    size_text,
    temperature_f,
)
from oneline.units.size import read_trade_size

__all__ = [
    "UNKNOWN",
    "UNKNOWN_TEXT",
    "QuantityError",
    "between",
    "edit_text",
    "format_value",
    "parse",
    "quantities",
    "read_trade_size",
    "rounded_down",
    "rounded_up",
    "size_text",
    "temperature_f",
]
