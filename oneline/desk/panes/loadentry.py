"""A circuit's load typed in amperes or watts: what it is in VA, and the words that say how it was made of it."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from oneline import tables
from oneline.desk.panes.typed import Misread
from oneline.units import QuantityError, format_value, parse

#: Classes whose load is all resistance, so that watts are volt-amperes. Common practice, no source.
RESISTIVE = ("heat", "water heater", "kitchen", "dwelling dryer", "dwelling cooking")
_UNIT = re.compile(
    r".*?(?P<unit>(?:k?a|amp|amps|ampere|amperes)|(?:k?w|watt|watts|kilowatt|kilowatts))\.?", re.IGNORECASE
)
#: The high leg of a four-wire delta, 408.3(E).
_HIGH_LEG = "B"


@dataclass(frozen=True)
class LoadPlace:
    """What is known about a circuit or a load: ``system`` is the code of its nominal system, ``phase`` of its space.

    ``poles`` is ``None`` while the phases of a load are not known.
    """

    poles: int | None = 1
    phase: str = ""
    system: str | None = None
    load_class: str | None = None
    power_factor: float | None = None


def load_in_va(typed: str, place: LoadPlace) -> tuple[str, str] | None:
    """The load as an entry in VA, and what was made of it in words; ``None`` when neither amperes nor watts are typed.

    Raises ``Misread`` where a fact that the conversion needs is missing.
    """
    found = _UNIT.fullmatch(typed.strip())
    if found is None or typed.strip().casefold().endswith("va") or not any(c.isdigit() for c in typed):
        return None
    quantity = "power_kw" if "w" in found.group("unit").casefold() else "current_a"
    try:
        value = parse(typed, quantity)
    except QuantityError as problem:
        raise Misread(str(problem)) from problem
    assert isinstance(value, float | int)
    return _of_watts(value * 1000, place) if quantity == "power_kw" else _of_amperes(float(value), place)


def _of_watts(watts: float, place: LoadPlace) -> tuple[str, str]:
    factor = place.power_factor
    if factor is None and place.load_class not in RESISTIVE:
        classes = f"{', '.join(RESISTIVE[:-1])} or {RESISTIVE[-1]}"
        raise Misread(
            f"{watts:,.0f} W are not VA while the power factor is not known. Type VA or amperes, or first give the power "
            f"factor or the class {classes}, which count with power factor 1."
        )
    va = round(watts / (factor or 1.0))
    return f"{va} VA", f"{watts:,.0f} W at power factor {factor or 1.0:g} = {format_value(va, 'power_va')}"


def _of_amperes(amperes: float, place: LoadPlace) -> tuple[str, str]:
    if place.system is None:
        raise Misread(
            "The system here is not known, so amperes cannot be turned into VA. Type VA, or give the system of the "
            "source that feeds this."
        )
    if place.poles is None:
        raise Misread(
            "The phases are not known, so amperes cannot be turned into VA. Type VA, or first give the phases."
        )
    system = tables.system(place.system)
    volts, times = system.v_ll, ""
    if place.poles == 1:
        if system.v_ln is None:
            raise Misread(f"{system.title} has no neutral, so a circuit of one pole has no voltage. Type VA.")
        if system.v_high_leg is not None and place.phase in ("", _HIGH_LEG):
            raise Misread("One pole may be on the high leg here, which feeds no load to neutral. Type VA.")
        volts = system.v_ln
    elif place.poles == 3:
        if system.phases != 3:
            raise Misread(f"{system.title} has no circuits of three poles. Check the poles, or type VA.")
        times = " × √3"
    elif place.poles != 2:
        raise Misread(f"Amperes of a circuit of {place.poles} poles cannot be turned into VA. Type VA.")
    va = round(amperes * volts * (math.sqrt(3) if times else 1.0))
    return f"{va} VA", f"{amperes:g} A × {volts:g} V{times} = {format_value(va, 'power_va')}"
