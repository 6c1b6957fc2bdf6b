"""Conversion between units: the only place that uses pint, and only once a unit other than the native one appears."""

from __future__ import annotations

from functools import cache, lru_cache
from typing import Any

#: A registry of our own: nothing but the units that the parser knows, so that it loads in milliseconds.
_DEFINITIONS = (
    "meter = [length] = m",
    "foot = 0.3048 * meter = ft",
    "inch = foot / 12 = in",
    "yard = 3 * foot = yd",
    "centimeter = 0.01 * meter = cm",
    "millimeter = 0.001 * meter = mm",
    "ampere = [current] = A",
    "milliampere = 0.001 * ampere = mA",
    "kiloampere = 1000 * ampere = kA",
    "volt = [voltage] = V",
    "kilovolt = 1000 * volt = kV",
    "voltampere = [apparent_power] = VA",
    "kilovoltampere = 1000 * voltampere = kVA",
    "megavoltampere = 1000000 * voltampere = MVA",
    "watt = [real_power] = W",
    "kilowatt = 1000 * watt = kW",
    "megawatt = 1000000 * watt = MW",
    "kelvin = [temperature]; offset: 0 = K",
    "degree_celsius = kelvin; offset: 273.15 = degC",
    "degree_fahrenheit = 5 / 9 * kelvin; offset: 233.15 + 200 / 9 = degF",
)


#: Significant digits that are kept: what a tape or an instrument tells ends long before, rounding errors begin after.
_DIGITS = 12


@cache
def _registry() -> Any:
    import pint

    registry: Any = pint.UnitRegistry(None, autoconvert_offset_to_baseunit=True)
    registry.load_definitions(list(_DEFINITIONS))
    return registry


@lru_cache(4096)
def _convert(value: float, unit: str, native: str) -> float:
    quantity = _registry().Quantity(value, unit)
    return float(f"{quantity.to(native).magnitude:.{_DIGITS}g}")


def convert(value: float, unit: str, native: str) -> float:
    """``value`` in another unit of the same dimension, rounded so that 86 °F are 30 °C and not a hair more.

    Unit names are those of this module, never raw entries.
    """
    return value if unit == native else _convert(value, unit, native)
