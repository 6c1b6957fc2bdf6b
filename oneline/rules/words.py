"""Words for numbers: amperes, feet and inches, conductor sizes, lists. Nothing here knows a fact or a rule."""

from __future__ import annotations

import math
from collections.abc import Sequence

#: Decimals up to which a small difference is still told.
_DIFFERENCE_DIGITS = 4


def number(value: float, digits: int = 1, rounding: str = "nearest") -> str:
    """A number for a sentence: at most ``digits`` decimals, none where they are zero, commas above 9,999.

    ``rounding``: "nearest"; "up" for upper bounds and what is over, "down" for lower bounds and what is left.
    """
    value = _rounded(value, digits, rounding)
    text = f"{value:,.{digits}f}" if abs(value) >= 10_000 else f"{value:.{digits}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def _rounded(value: float, digits: int, rounding: str) -> float:
    """Up or down to a last digit; what is at a digit but for arithmetic noise stays there."""
    if rounding == "nearest" or not math.isfinite(value):
        return value
    scale = 10.0**digits
    steps = value * scale
    noise = 1e-9 * max(1.0, abs(steps))
    return (math.ceil(steps - noise) if rounding == "up" else math.floor(steps + noise)) / scale


def amperes(value: float | None, apart_from: float | None = None, rounding: str = "nearest") -> str:
    """ "256 A", "56.2 A": no decimals from 100 up, one below; more where it would otherwise read the same as
    ``apart_from`` without being equal. ``rounding`` as of :func:`number`."""
    if value is None:
        return "not known yet"
    return f"{_digits(value, 0 if abs(value) >= 99.95 else 1, apart_from, rounding)} A"


def quantity(value: float, unit: str, apart_from: float | None = None, rounding: str = "nearest") -> str:
    """A number with its unit: amperes as :func:`amperes`, feet and inches, one decimal for the rest."""
    if unit == "A":
        return amperes(value, apart_from, rounding)
    if unit == "ft":
        return feet_inches(value, rounding)
    return f"{_digits(value, 1, apart_from, rounding)} {unit}"


def _digits(value: float, digits: int, apart_from: float | None, rounding: str) -> str:
    while (
        apart_from is not None
        and digits < 4
        and value != apart_from
        and number(value, digits, rounding) in (number(apart_from, digits), number(apart_from, digits, rounding))
    ):
        digits += 1
    return number(value, digits, rounding)


def difference(one: float, other: float, unit: str = "A", rounding: str = "nearest") -> str:
    """How far two numbers are apart, with enough decimals not to read as nothing."""
    apart = abs(one - other)
    if unit == "ft":
        return feet_inches(apart, "up")
    text, digits = quantity(apart, unit, None, rounding), 2
    while text == f"0 {unit}" and apart and digits <= _DIFFERENCE_DIGITS:
        text, digits = f"{number(apart, digits, rounding)} {unit}", digits + 1
    return text


def shown_difference(one: str, other: str, unit: str) -> str:
    """How far two quantities are apart as they are written, so that a reader who adds up gets the third; "" where they
    read the same or have other units."""
    digits, numbers = 0, []
    for text in (one, other):
        figure, _, own = text.partition(" ")
        if own != unit:
            return ""
        digits = max(digits, len(figure.partition(".")[2]))
        numbers.append(float(figure.replace(",", "")))
    apart = number(abs(numbers[0] - numbers[1]), digits)
    return "" if float(apart.replace(",", "")) == 0 else f"{apart} {unit}"


def feet_inches(length_ft: float | None, rounding: str = "nearest") -> str:
    """ "12 ft 4 in", "10 ft", "8 in", to a quarter inch. ``rounding``: "nearest", "up" or "down"."""
    if length_ft is None:
        return "not measured"
    shift = {"nearest": 0.5, "up": 1 - 1e-6, "down": 1e-6}[rounding]
    feet, rest = divmod(math.floor(length_ft * 48 + shift), 48)
    inches, quarter = divmod(rest, 4)
    fraction = ("", "1/4", "1/2", "3/4")[quarter]
    in_text = "-".join(t for t in (str(inches) if inches else "", fraction) if t)
    parts = [f"{feet} ft" if feet else "", f"{in_text} in" if in_text else ""]
    return " ".join(p for p in parts if p) or "0 ft"


def size_text(size: str | None, material: str | None = None, sets: int | None = 1) -> str:
    """ "3/0 AWG copper", "2 x 500 kcmil aluminum"."""
    if size is None:
        return "conductor of unknown size"
    unit = "kcmil" if size.isdigit() and int(size) >= 250 else "AWG"
    many = f"{sets} x " if sets and sets > 1 else ""
    return " ".join(t for t in (f"{many}{size} {unit}", material or "") if t)


def listed(texts: Sequence[str], word: str = "and") -> str:
    """ "a", "a and b", "a, b and c"."""
    return texts[0] if len(texts) == 1 else f"{', '.join(texts[:-1])} {word} {texts[-1]}" if texts else ""
