"""Feet and inches, the way they are written on a drawing or called out in a room."""

from __future__ import annotations

import re

from oneline.units.number import read_number, shown
from oneline.units.problem import QuantityError

INCHES_PER_FOOT = 12

_FEET = r"(?:'(?!')|f(?:ee|oo)?t\b\.?|f(?:ee|oo)?t\.?(?=[\d\s-]))"
_INCHES = r"(?:\"|''|in(?:ch(?:es)?|s)?\b\.?)"
_NUMBER = r"(?=[\d.,]*\d)[\d.,]+(?:(?:\s+|\s*-\s*)\d+\s*/\s*\d+)?|\d+\s*/\s*\d+"
_FEET_AND_INCHES = re.compile(rf"({_NUMBER})\s*{_FEET}\s*-?\s*({_NUMBER})\s*({_INCHES})?", re.IGNORECASE)

_FRACTION_ALONE = re.compile(r"\d+\s*/\s*\d+")


def read_feet_inches(text: str) -> float | None:
    """Feet of an entry with feet *and* inches ("5'6\\"", "5 ft 6 1/2 in", "5'-6"); ``None`` when it is not one.

    Raises ``QuantityError`` where inches reach a foot or feet are not whole: both are more often slips than meant.
    """
    match = _FEET_AND_INCHES.fullmatch(text)
    if not match:
        return None
    feet, inches = (read_number(part, text, fractions=True) for part in match.group(1, 2))
    if match.group(3) is None and _FRACTION_ALONE.fullmatch(match.group(2)):
        raise QuantityError(
            f"Unable to take {shown(text)}.",
            "The fraction could be of a foot or of an inch.",
            "Type 5 ft 1/2 in or 5 1/2 ft.",
        )
    if inches >= INCHES_PER_FOOT:
        raise QuantityError(
            f"Unable to take {shown(text)}.",
            "The inches are a foot or more.",
            "Carry whole feet over, or type inches only.",
        )
    if feet != int(feet):
        raise QuantityError(
            f"Unable to take {shown(text)}.",
            "Feet with decimals and inches do not go together.",
            "Type 5'6\" or 5.5 ft.",
        )
    return feet + inches / INCHES_PER_FOOT
