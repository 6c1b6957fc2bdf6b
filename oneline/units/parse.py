"""Reads what people type into a field: a number with or without its unit, in any case and spelling.

Our own parser stands in front of the unit library, because a general one reads "30 amps" as attometers per second. Entry is
US English: a point for decimals, commas for thousands. What could mean two things is refused, with the reason.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from functools import lru_cache

from oneline.units.convert import convert
from oneline.units.length import read_feet_inches
from oneline.units.number import compute, plain, read_number, shown
from oneline.units.problem import QuantityError
from oneline.units.size import read_size

Value = float | str | bool | None

#: Entries that mean "not known".
UNKNOWN = frozenset({"", "?", "unknown", "unk", "—", "--", "not known"})


@dataclass(frozen=True)
class Kind:
    """A quantity: its native unit, the spellings of its units, and its range. ``units`` maps a spelling (lower case) to a
    unit of ``convert``; the empty spelling is a number without a unit."""

    name: str
    native: str
    units: dict[str, str]
    low: float
    high: float
    example: str


def _units(**spellings: str) -> dict[str, str]:
    return {word: unit for unit, words in spellings.items() for word in words.split("|")}


_AMPERE = _units(
    ampere="a|amp|amps|ampere|amperes", kiloampere="ka|kiloamp|kiloamps|kiloampere|kiloamperes|kamp|kamps",
    milliampere="ma|milliamp|milliamps",
)  # fmt: skip
_VOLTAMPERE = _units(
    voltampere="va|volt-amp|volt-amps|volt-ampere|volt-amperes|voltamps|volt amps",
    kilovoltampere="kva|kilovolt-amps|kilovolt-amperes|kilovoltamps", megavoltampere="mva",
)  # fmt: skip
_INTERRUPTING = _units(kiloampere="kaic|k aic|kaic rms|ka sym|ka rms|kair|kasc|ksccr", ampere="aic|air|a sym|a rms")

KINDS: dict[str, Kind] = {
    kind.name: kind
    for kind in (
        Kind("current_a", "ampere", {"": "ampere", "k": "kiloampere", **_AMPERE}, 0, 10_000, "30 A"),
        Kind(
            "fault_ka", "kiloampere", {"": "kiloampere", "k": "kiloampere", **_AMPERE, **_INTERRUPTING}, 0, 400, "22 kA"
        ),
        Kind(
            "voltage_v",
            "volt",
            {"": "volt", **_units(volt="v|volt|volts|vac|v ac", kilovolt="k|kv|kilovolt|kilovolts")},
            0,
            1000,
            "208 V",
        ),
        Kind(
            "length_ft",
            "foot",
            {
                "": "foot",
                **_units(
                    foot="'|ft|foot|feet",
                    inch="\"|''|in|inch|inches|ins",
                    yard="yd|yds|yard|yards",
                    meter="m|meter|meters|metre|metres",
                    centimeter="cm|centimeter|centimeters|centimetre|centimetres",
                    millimeter="mm|millimeter|millimeters|millimetre|millimetres",
                ),
            },
            0,
            10_000,
            "30 ft",
        ),
        Kind(
            "power_va", "voltampere", {"": "voltampere", "k": "kilovoltampere", **_VOLTAMPERE}, 0, 20_000_000, "1500 VA"
        ),
        Kind(
            "power_kva",
            "kilovoltampere",
            {"": "kilovoltampere", "k": "kilovoltampere", **_VOLTAMPERE},
            0,
            20_000,
            "75 kVA",
        ),
        Kind(
            "power_kw",
            "kilowatt",
            {
                "": "kilowatt",
                **_units(watt="w|watt|watts", kilowatt="k|kw|kilowatt|kilowatts", megawatt="mw|megawatt|megawatts"),
            },
            0,
            20_000,
            "25 kW",
        ),
        Kind(
            "temperature_c",
            "degree_celsius",
            {
                "": "degree_celsius",
                **_units(
                    degree_celsius="c|°c|° c|degc|deg c|degrees c|celsius|degrees celsius|deg|°|degrees|deg. c",
                    degree_fahrenheit="f|°f|° f|degf|deg f|degrees f|fahrenheit|degrees fahrenheit|deg. f",
                ),
            },
            -60,
            250,
            "75 °C",
        ),
        Kind("horsepower", "hp", {"": "hp", **_units(hp="hp|h.p|horsepower|horse power|horse")}, 0, 1000, "7-1/2 hp"),
        Kind(
            "percent",
            "percent",
            {"": "percent", **_units(percent="%|percent|pct|%z|% z|per cent", per_unit="pu|p.u|per unit")},
            0,
            100,
            "5.75 %",
        ),
        Kind("ratio", "ratio", {"": "ratio", **_units(percent="%|percent|pct")}, 0, 1000, "0.85"),
        Kind("count", "count", {"": "count"}, 0, 1000, "3"),
    )
}

#: Units of another dimension that people do type: the reason they cannot be taken.
_FOREIGN = {
    ("power_va", "w"): "Watts are not volt-amperes unless the power factor is 1.",
    ("power_va", "kw"): "Kilowatts are not volt-amperes unless the power factor is 1.",
    ("power_kva", "kw"): "Kilowatts are not kVA unless the power factor is 1.",
    ("power_kva", "w"): "Watts are not volt-amperes unless the power factor is 1.",
    ("power_kw", "kva"): "kVA are not kilowatts unless the power factor is 1.",
    ("power_kw", "va"): "Volt-amperes are not watts unless the power factor is 1.",
    ("power_kw", "hp"): "Horsepower is output at the shaft, not electrical input.",
    ("horsepower", "kw"): "Kilowatts can be input or output of a motor.",
    ("horsepower", "w"): "Watts can be input or output of a motor.",
    ("temperature_c", "k"): "Kelvin is not used here.",
}

_SPLIT = re.compile(r"(=?\s*[-+*/().,\d\s]*(?:(?<=\d)e[+-]?\d+)?)(.*)", re.IGNORECASE | re.DOTALL)


def quantities() -> tuple[str, ...]:
    """The quantities that have units or ranges; the others ("size", "flag", "date", "text", ...) are words."""
    return tuple(KINDS)


def parse(text: str, quantity: str, counted: tuple[str, ...] = ()) -> Value:
    """The value of an entry in the native unit of the quantity; ``None`` when it says that it is not known.

    Numbers come back as ``float`` ("count" as ``int``), "size", "choice", "text" and "date" (ISO) as ``str``, "flag" as
    ``bool``. ``counted``: words that may stand behind a count ("sets" of "2 sets"). Raises ``QuantityError`` for what
    cannot be read or is out of range, ``KeyError`` for an unknown quantity.
    """
    if text.strip().casefold() in UNKNOWN:
        return None
    if quantity in KINDS:
        return _number(_bare_count(text, counted) if quantity == "count" else text, quantity)
    if quantity not in _WORDS:
        raise KeyError(f"{quantity} is not a quantity")
    return _WORDS[quantity](text)


def _bare_count(text: str, counted: tuple[str, ...]) -> str:
    """A count without the word that says what is counted: "2" of "2 sets", "3P", "2x" or "x2"."""
    words = "|".join(re.escape(word) for word in counted)
    patterns = [rf"(\d+)\s*(?:{words})\.?"] if counted else []
    patterns += [r"x\s*(\d+)"] if "x" in counted else []
    found = (re.fullmatch(pattern, plain(text), re.IGNORECASE) for pattern in patterns)
    return next((match.group(1) for match in found if match), text)


@lru_cache(4096)
def _number(text: str, quantity: str) -> float | int:
    kind = KINDS[quantity]
    entry = plain(text)
    value, unit = _amount(entry, kind)
    if (kind.name, unit) == ("ratio", "percent"):
        value /= 100
    elif unit == "per_unit":
        value *= 100
    else:
        value = _native(value, unit, kind)
    return _in_range(value, entry, kind)


def _amount(entry: str, kind: Kind) -> tuple[float, str]:
    if kind.name == "length_ft":
        feet = read_feet_inches(entry)
        if feet is not None:
            return feet, "foot"
    match = _SPLIT.fullmatch(entry)
    assert match is not None
    number, word = match.group(1).strip(), match.group(2).strip()
    unit = _unit(word, entry, kind)
    if number.startswith("="):
        return compute(number[1:], entry), unit
    if re.search(r"[*()]|\d\s*\+", number):
        return compute(number, entry), unit
    sign = 1
    if number[:1] in ("+", "-") and number[1:2]:
        sign, number = (-1 if number[0] == "-" else 1), number[1:]
    return sign * read_number(number, entry, fractions=kind.name in ("length_ft", "horsepower")), unit


def _unit(word: str, entry: str, kind: Kind) -> str:
    folded = " ".join(word.rstrip(".").casefold().split())
    unit = kind.units.get(folded)
    if unit == "milliampere" and word[:1] == "M":
        unit = None
    if unit in ("megavoltampere", "megawatt") and folded in ("mva", "mw") and word[0] == "m" and word != folded:
        unit = None
    if unit is not None:
        return unit
    why = _FOREIGN.get((kind.name, folded), f"“{word[:20]}” is not a unit of this field.")
    if not re.search(r"\d", entry):
        why = "There is no number in it."
    raise QuantityError(f"Unable to read {shown(entry)}.", why, f"Type it as {kind.example}.")


def _native(value: float, unit: str, kind: Kind) -> float:
    return value if unit == kind.native else convert(value, unit, kind.native)


def _in_range(value: float, entry: str, kind: Kind) -> float | int:
    if not kind.low <= value <= kind.high:
        hint = f"Type a value from {kind.low:,g} to {kind.high:,g}, such as {kind.example}."
        in_amperes = kind.name == "fault_ka" and value > kind.high
        if in_amperes:
            hint = f"A number without a unit is kA here: type {shown(entry)[1:-1]} A, or {kind.example}."
        side = "below" if value < kind.low else "above"
        raise QuantityError(
            f"Unable to take {shown(entry)}.", f"It is {side} the range of this field.", hint, outside=not in_amperes
        )
    if kind.name != "count":
        return value
    if value != int(value):
        raise QuantityError(f"Unable to take {shown(entry)}.", "It must be a whole number.", f"Type {kind.example}.")
    return int(value)


# --------------------------------------------------------------------------------------------------------------- words
def _text(text: str) -> str:
    """One line of text: control characters become spaces, so that nothing unseen enters a drawing."""
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())


_YES = frozenset({"yes", "y", "true", "on", "1", "x"})
_NO = frozenset({"no", "n", "false", "off", "0"})


def _flag(text: str) -> bool:
    word = text.strip().casefold()
    if word in _YES or word in _NO:
        return word in _YES
    raise QuantityError(
        f"Unable to read {shown(text)}.", "The field takes yes or no.", "Type yes, no, or ? for unknown."
    )


_ISO = re.compile(r"(\d{4})-(\d{1,2})-(\d{1,2})")
_US = re.compile(r"(\d{1,2})/(\d{1,2})/(\d{4})")


def _date(text: str) -> str:
    entry = text.strip()
    iso, us = _ISO.fullmatch(entry), _US.fullmatch(entry)
    if not entry.isascii() or not (iso or us):
        raise QuantityError(
            f"Unable to read {shown(entry)}.",
            "It is not a date with four digits for the year.",
            "Type 2026-05-14 or 5/14/2026.",
        )
    if iso:
        year, month, day = (int(part) for part in iso.groups())
    else:
        assert us is not None
        month, day, year = (int(part) for part in us.groups())
    try:
        return date(year, month, day).isoformat()
    except ValueError:
        raise QuantityError(
            f"Unable to take {shown(entry)}.", "There is no such day.", "Month comes before day: type 5/14/2026."
        ) from None


def _spaces(text: str) -> str:
    numbers = [part.strip() for part in plain(text).split(",")]
    if not all(part.isdigit() and 0 < int(part) <= 200 for part in numbers):
        raise QuantityError(f"Unable to read {shown(text)}.", "Spaces are numbers separated by commas.", "Type 1,3,5.")
    return ",".join(str(int(part)) for part in numbers)


_WORDS: dict[str, Callable[[str], str | bool]] = {
    "size": read_size,
    "choice": _text,
    "text": _text,
    "flag": _flag,
    "date": _date,
    "spaces": _spaces,
}
