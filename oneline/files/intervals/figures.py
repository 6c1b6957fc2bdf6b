"""Cells of a table as numbers: decimal point or comma, thousands, signs, a unit behind the figure."""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import lru_cache

from oneline.files.intervals.asking import Asker, Choice

_PLAIN = re.compile(
    r"(?P<open>\()?\s*(?P<sign>[-+\u2212])?\s*(?P<digits>[\d.,]*\d[\d.,]*)(?P<power>[eE][-+]?\d{1,3})?\s*(?P<close>\))?(?P<after>-)?\s*(?P<unit>[a-zA-Z%]{0,6})\Z"
)
_SPACES = str.maketrans("", "", " '\u00a0\u202f\u2009’")
#: No figure of a recorder is larger; beyond it stands for an overflow.
_LARGEST = 1e12
#: What recorders write where they have no value.
MISSING = frozenset(
    ("", "-", "--", "---", "—", "n/a", "na", "nan", "null", "none", "#n/a", "inf", "-inf", "missing", "no data")
)


def decimal_mark(cells: Sequence[str], name: str, asker: Asker) -> str:
    """The decimal mark of a column: "point" or "comma". Asked where 1,234 may be either. Raises ``Open``."""
    doubt = ""
    for cell in cells:
        text = cell.translate(_SPACES)
        comma, point = text.rfind(","), text.rfind(".")
        if comma < 0:
            if text.count(".") > 1:
                return "comma"
            continue
        if point >= 0:
            return "comma" if comma > point else "point"
        if text.count(",") > 1:
            return "point"
        before, after = re.sub(r"\D", "", text[:comma]), re.match(r"\d*", text[comma + 1 :])
        digits = after.group() if after else ""
        if len(digits) != 3 or before in ("", "0") or before.startswith("0") or len(before) > 3:
            return "comma"
        doubt = doubt or text
    if not doubt:
        return "point"
    if any("." in cell for cell in cells):
        return "point"  # 987.5 and 1,234 in one column
    whole, _, part = doubt.partition(",")
    choices = (
        Choice("comma", f"{whole}.{part}: the comma is the decimal mark"),
        Choice("point", f"{whole}{part}: the comma parts thousands"),
    )
    return asker.ask("decimal", f"What does {doubt} in “{name}” mean?", choices)


@lru_cache(maxsize=131_072)
def figure(cell: str, mark: str) -> float | None:
    """A cell as a finite number, or ``None``. ``mark``: "point" or "comma"."""
    text = cell.translate(_SPACES)
    if text.lower() in MISSING or len(text) > 40:
        return None
    found = _PLAIN.match(text)
    if found is None or bool(found["open"]) != bool(found["close"]):
        return None
    digits = found["digits"]
    digits = digits.replace(".", "").replace(",", ".") if mark == "comma" else digits.replace(",", "")
    try:
        value = float(digits + (found["power"] or ""))
    except ValueError:
        return None
    if not value <= _LARGEST:
        return None
    negative = found["sign"] in ("-", "\u2212") or bool(found["open"]) or bool(found["after"])
    return -value if negative else value


def unit_behind(cells: Sequence[str]) -> str:
    """The letters behind the figures of a column ("12.5 kW"), where all that have any have the same; else ""."""
    found = {m["unit"] for c in cells if (m := _PLAIN.match(c.translate(_SPACES))) and m["unit"]}
    return found.pop() if len(found) == 1 else ""
