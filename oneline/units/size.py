"""Trade sizes of conductors: "4/0", "#12 AWG", "500 kcmil", "500 MCM", "500,000 cmil"."""

from __future__ import annotations

import re

from oneline.units.number import plain, shown
from oneline.units.problem import QuantityError

#: Sizes by gauge and by area, as drawings store them. A test keeps them equal to the vocabulary of the model.
AWG = ("18", "16", "14", "12", "10", "8", "6", "4", "3", "2", "1", "1/0", "2/0", "3/0", "4/0")
KCMIL = (
    "250", "300", "350", "400", "500", "600", "700", "750", "800", "900", "1000", "1250", "1500", "1750", "2000",
)  # fmt: skip
#: Entries beside the sizes that the fields for neutral and grounding conductor know.
WORDS = ("none", "raceway")

_ENTRY = re.compile(r"(?:#|no\.?\s*)?\s*([\d,]+(?:\s*/\s*0)?)\s*([a-z][a-z. ]*|)", re.IGNORECASE)
_GAUGE = {"awg", "ga", "gauge", "g a"}
_AREA = {"kcmil", "mcm", "kcm", "kcmils"}
_AREA_CMIL = {"cmil", "cm", "circular mils", "cmils"}
_AUGHTS = {"0": "1/0", "00": "2/0", "000": "3/0", "0000": "4/0"}


def read_size(text: str) -> str:
    """The trade size as drawings store it ("4/0", "500"), or "none" or "raceway". Raises ``QuantityError``."""
    entry = plain(text)
    if entry.casefold() in WORDS:
        return entry.casefold()
    match = _ENTRY.fullmatch(entry)
    if not match:
        raise _unknown(entry)
    number = match.group(1).replace(" ", "")
    unit = " ".join(match.group(2).casefold().replace(".", " ").split())
    if "," in number and unit not in _AREA_CMIL and number not in ("1,000", "1,250", "1,500", "1,750", "2,000"):
        raise _unknown(entry)
    number = _AUGHTS.get(number, number.replace(",", ""))
    if unit in _AREA_CMIL and number.endswith("000"):
        number, unit = number[:-3], "kcmil"
    marked_gauge = unit in _GAUGE or (unit == "" and entry.startswith("#"))
    allowed = AWG if marked_gauge else KCMIL if unit in _AREA else (*AWG, *KCMIL) if unit == "" else ()
    if number not in allowed:
        raise _unknown(entry)
    return number


def read_trade_size(text: str) -> str:
    """The trade size of a raceway as tables write it: "3" of ``3 in``, "1-1/4" of ``1 1/4"``, "6x6" of a wireway.

    Raises ``QuantityError`` for what is no trade size; whether a raceway is made in it the tables tell.
    """
    entry = plain(text)
    bare = re.sub(r"\s*(?:\"|''|inch(?:es)?|in\.?)(?=\s*(?:x|$))", "", entry, flags=re.IGNORECASE).strip()
    sides = re.fullmatch(r"(\d+)\s*[x*]\s*(\d+)", bare, re.IGNORECASE)
    if sides:
        return f"{sides.group(1)}x{sides.group(2)}"
    found = re.fullmatch(r"(?:(\d+)(?:\s+|\s*-\s*))?(\d+\s*/\s*\d+)|(\d+)", bare)
    decimals = re.fullmatch(r"(\d*)\.(25|5|50|75)", bare)
    if decimals:
        whole, part = decimals.groups()
        return "-".join(p for p in (whole.lstrip("0"), {"25": "1/4", "75": "3/4"}.get(part, "1/2")) if p)
    if not found:
        raise QuantityError(
            f"{shown(text)} is not a trade size.", "It is not a size in inches.", "Type 3, 3/4 or 1-1/4."
        )
    return found.group(3) or "-".join(p.replace(" ", "") for p in found.group(1, 2) if p)


def _unknown(entry: str) -> QuantityError:
    what = f"{shown(entry)} is not a conductor size."
    if re.search(r"/\s*o", entry, re.IGNORECASE):
        return QuantityError(what, "It has the letter O where a zero belongs.", "Type 4/0.")
    if re.search(r"mm", entry, re.IGNORECASE):
        return QuantityError(what, "Sizes are AWG or kcmil here.", "Type 4/0 or 250 kcmil.")
    if re.search(r"\b(?:cu|al|copper|aluminum|th|xh|rh)", entry, re.IGNORECASE):
        return QuantityError(what, "Material and insulation have fields of their own.", "Type the size alone.")
    return QuantityError(
        what, "Trade sizes are 18 AWG to 4/0 and 250 to 2000 kcmil.", "Type 12, 4/0, 500 kcmil or 500 MCM."
    )
