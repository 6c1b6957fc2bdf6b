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
