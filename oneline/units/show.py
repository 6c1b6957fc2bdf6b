"""Writes values the way the sheet and the panes show them: units always, no more digits than help."""

from __future__ import annotations

import math

from oneline.units.convert import convert
from oneline.units.length import INCHES_PER_FOOT
from oneline.units.size import KCMIL, WORDS

#: What stands for a value that nobody knows.
UNKNOWN_TEXT = "—"

_SUFFIX = {
    "current_a": " A", "fault_ka": " kA", "voltage_v": " V", "power_va": " VA", "power_kva": " kVA", "power_kw": " kW",
    "percent": " %", "temperature_c": " °C", "ratio": "", "count": "",
}  # fmt: skip
#: Decimals below 100 and from 100 up.
_DECIMALS = {
    "current_a": (1, 0), "fault_ka": (1, 1), "voltage_v": (1, 1), "power_va": (0, 0), "power_kva": (1, 1), "power_kw": (1, 1),
    "percent": (1, 1), "temperature_c": (0, 0), "ratio": (2, 2), "count": (0, 0),
}  # fmt: skip
_SIXTEENTHS = 16
_FRACTIONS = {1 / 6: "1/6", 1 / 4: "1/4", 1 / 3: "1/3", 1 / 2: "1/2", 2 / 3: "2/3", 3 / 4: "3/4"}


def format_value(
    value: float | str | bool | None, quantity: str, system_of_units: str = "us", fixed: bool = False
) -> str:
    """A value of the quantity, in its native unit, as text with its unit.

    Amperes have no decimals from 100 up and one below; kA, volts and percent have one. Decimals that are zero are left
    out unless ``fixed`` (figures in columns). ``system_of_units``: "us" or "metric" (lengths in meters). ``None`` is the
    long dash.
    """
    if system_of_units not in ("us", "metric"):
        raise ValueError(f"system of units {system_of_units!r} is not us or metric")
    if value is None:
        return UNKNOWN_TEXT
    if quantity == "flag":
        return "yes" if value else "no"
    if quantity == "size":
        return size_text(str(value))
    if isinstance(value, str) or quantity not in (*_SUFFIX, "length_ft", "horsepower"):
        return str(value)
    if not math.isfinite(value):
        raise ValueError(f"{value} is not a value of {quantity}")
    if quantity == "length_ft":
        return _length(value) if system_of_units == "us" else _trim(f"{convert(value, 'foot', 'meter'):.3f}") + " m"
    if quantity == "horsepower":
        return _horsepower(value)
    return _figure(value, _DECIMALS[quantity], fixed) + _SUFFIX[quantity]


def rounded_up(value: float, quantity: str) -> float:
    """An upper bound, rounded up to the digits that are shown: shown to the nearest it might be no bound any more."""
    below, above = _DECIMALS[quantity]
    scale = 10.0 ** (above if abs(value) >= 100 else below)
    return math.ceil(round(value * scale, 6)) / scale


def rounded_down(value: float, quantity: str) -> float:
    """A lower bound, rounded down to the digits that are shown."""
    return -rounded_up(-value, quantity)


def between(low: float | None, high: float | None, quantity: str) -> str:
    """Bounds of what is not known, each rounded to its own side: "17.1–27.9 kA", "≤ 27.9 kA", "≥ 17.1 kA" or the long
    dash. A lower bound of zero says nothing and is left out."""
    low = None if low is None else rounded_down(low, quantity)
    high = None if high is None else rounded_up(high, quantity)
    if low is None or low <= 0:
        return UNKNOWN_TEXT if high is None else f"≤ {format_value(high, quantity, fixed=True)}"
    text = format_value(low, quantity, fixed=True)
    if high is None:
        return f"≥ {text}"
    return f"{text.removesuffix(_SUFFIX[quantity])}–{format_value(high, quantity, fixed=True)}" if low < high else text


def edit_text(value: float | str | bool | None, quantity: str) -> str:
    """A value as it is put into an entry field: reading it back gives exactly the same value; unknown is empty."""
    if value is None:
        return ""
    shown = format_value(value, quantity)
    if isinstance(value, str | bool) or quantity not in (*_SUFFIX, "length_ft", "horsepower"):
        return shown
    from oneline.units.parse import parse

    if parse(shown, quantity) == value:
        return shown
    plain = f"{value!r}"
    return plain + {"length_ft": " ft", "horsepower": " hp"}.get(quantity, _SUFFIX.get(quantity, ""))


def temperature_f(celsius: float) -> str:
    """Degrees Celsius as Fahrenheit, to the whole degree: "86 °F"."""
    return f"{convert(celsius, 'degree_celsius', 'degree_fahrenheit'):.0f} °F"


def size_text(size: str) -> str:
    """A trade size with its unit: "4/0 AWG", "500 kcmil"."""
    if size in WORDS:
        return size
    return f"{size} kcmil" if size in KCMIL else f"{size} AWG"


def _trim(text: str) -> str:
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text


def _figure(value: float, decimals: tuple[int, int], fixed: bool) -> str:
    below, above = decimals
    places = above if abs(round(value, below)) >= 100 else below
    text = f"{value:,.{places}f}" if abs(value) >= 9999.5 else f"{value:.{places}f}"
    return text if fixed else _trim(text)


def _length(feet: float) -> str:
    """Feet and inches where the length is one of a tape measure (sixteenths), decimal feet as they were typed otherwise.

    A length with more decimals than anybody types came in as metric: it is shown to the nearest sixteenth, but never as a
    whole foot that it is not, since limits are whole feet.
    """
    sixteenths = round(feet * INCHES_PER_FOOT * _SIXTEENTHS)
    whole_feet, rest = divmod(sixteenths, INCHES_PER_FOOT * _SIXTEENTHS)
    off_tape = abs(feet * INCHES_PER_FOOT * _SIXTEENTHS - sixteenths) > 0.1
    if off_tape and (rest == 0 or abs(feet - round(feet, 3)) < 1e-9):
        return _trim(f"{feet:.3f}") + " ft"
    inches, part = divmod(rest, _SIXTEENTHS)
    if rest == 0:
        return f"{whole_feet:,d} ft" if whole_feet > 9999 else f"{whole_feet} ft"
    text = str(inches) if inches or not part else ""
    if part:
        divisor = math.gcd(part, _SIXTEENTHS)
        text += f"{'-' if text else ''}{part // divisor}/{_SIXTEENTHS // divisor}"
    return f"{whole_feet} ft {text} in" if whole_feet else f"{text} in"


def _horsepower(value: float) -> str:
    whole, rest = int(value), value - int(value)
    for fraction, text in _FRACTIONS.items():
        if abs(rest - fraction) < 1e-9:
            return f"{whole}-{text} hp" if whole else f"{text} hp"
    return _trim(f"{value:.3f}") + " hp"
