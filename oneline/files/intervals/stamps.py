"""Time stamps of a table: dates and times of day in the forms that recorders and portals write.

The time of a row becomes seconds of the wall clock (as if it were UTC), and where the stamp itself tells it, the offset
of that clock. Whether 3/4 is in March or in April is found from the rows themselves, and asked where they do not tell.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from functools import lru_cache

DAY_S = 86_400
_MONTHS = {
    m: n for n, m in enumerate(("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"), 1)
}
#: Clock abbreviations of the United States and their hours from UTC.
_ZONES = {
    "utc": 0, "gmt": 0, "z": 0, "est": -5, "edt": -4, "cst": -6, "cdt": -5, "mst": -7, "mdt": -6, "pst": -8, "pdt": -7,
    "akst": -9, "akdt": -8, "hst": -10,
}  # fmt: skip
_DATE = (
    r"(?:(?P<y>\d{4})[-/.](?P<m>\d{1,2})[-/.](?P<d>\d{1,2})|(?P<c>(?:19|20)\d{6})"
    r"|(?P<a>\d{1,2})(?P<sep>[-/.])(?P<b>\d{1,2})\.?(?P=sep)(?P<cy>\d{4}|\d{2})"
    r"|(?P<nd>\d{1,2})[- ./]?(?P<nm>[a-z]{3,9})\.?[- ,./]*(?P<ny>\d{4}|\d{2})"
    r"|(?P<fm>[a-z]{3,9})\.?[- ](?P<fd>\d{1,2}),?[- ](?P<fy>\d{4}))"
)
_TIME = (
    r"(?P<h>\d{1,2}):(?P<mi>\d{2})(?::(?P<s>\d{2})(?:[.,]\d{1,9})?)?\s*(?P<half>[ap]\.?\s?m?\.?)?|(?P<hm>\d{4}(?:\d{2})?)(?!\d)"
    r"|(?P<ho>\d{1,2})\s*(?P<hohalf>[ap]\.?m\.?)"
)
_OFFSET = r"(?P<off>z|[+-]\d{2}:?\d{2}|[+-]\d{2}|[a-z]{3,4})"
_WEEKDAY = r"(?:(?:mon|tue|wed|thu|fri|sat|sun)[a-z]*\.?,?\s+)?"
_STAMP = re.compile(rf"\s*{_WEEKDAY}{_DATE}(?:(?:\s*t\s*|[\s,;_:-]+)(?:{_TIME})\s*(?:\(?{_OFFSET}\)?)?)?\s*\Z", re.I)
_ONLY_TIME = re.compile(rf"\s*(?:{_TIME})\s*(?:\(?{_OFFSET}\)?)?\s*\Z", re.I)
_EPOCH = re.compile(r"\s*(\d{9,10})(?:\.0*)?\s*\Z|\s*(\d{12,13})\s*\Z")
_SERIAL = re.compile(r"\s*([2-7]\d{4})\.(\d+)\s*\Z")
#: Day 0 of the day numbers of spreadsheets, as a day of ours.
_SERIAL_DAY_0 = date(1899, 12, 30).toordinal()
_DAY_0 = date(1970, 1, 1).toordinal()
#: Years in which recorders could have recorded; other figures are no dates.
_YEARS = range(1970, 2101)

ORDERS = ("mdy", "dmy", "ymd")


@dataclass(frozen=True)
class Stamp:
    """A cell read as far as it goes: ``day`` by the order of the date (days since 1970; ``None`` where that order gives no
    date), ``second`` of the day, ``offset_s`` from UTC; ``None`` where the cell does not say."""

    days: tuple[int | None, int | None, int | None] | None
    second: int | None
    offset_s: int | None = None


def _day(y: int, m: int, d: int) -> int | None:
    try:
        return date(y, m, d).toordinal() - _DAY_0 if y in _YEARS else None
    except ValueError:
        return None


def _year(text: str) -> int:
    return int(text) if len(text) == 4 else 2000 + int(text)


def _date_days(g: dict[str, str | None]) -> tuple[int | None, int | None, int | None] | None:
    """Days by the three orders: month first, day first, year first. ``None``: it is no date."""
    found: int | None
    if g["y"]:
        found = _day(int(g["y"]), int(g["m"] or 0), int(g["d"] or 0))
    elif g["c"]:
        found = _day(int(g["c"][:4]), int(g["c"][4:6]), int(g["c"][6:]))
    elif g["nm"] or g["fm"]:
        month = _MONTHS.get((g["nm"] or g["fm"] or "")[:3].lower(), 0)
        found = _day(_year(g["ny"] or g["fy"] or ""), month, int(g["nd"] or g["fd"] or 0))
    else:
        a, b, c = int(g["a"] or 0), int(g["b"] or 0), g["cy"] or ""
        by_order = (_day(_year(c), a, b), _day(_year(c), b, a), _day(2000 + a, b, int(c)) if len(c) == 2 else None)
        return by_order if any(d is not None for d in by_order) else None
    return None if found is None else (found, found, found)


def _second(g: dict[str, str | None]) -> int | None:
    """Second of the day; 24:00 is the second after its last. ``None``: it is no time."""
    if g["ho"]:
        hour, minute, second, half = int(g["ho"]), 0, 0, g["hohalf"]
    elif g["hm"]:
        hour, minute, half = int(g["hm"][:2]), int(g["hm"][2:4]), None
        second = int(g["hm"][4:] or 0)
    elif g["h"]:
        hour, minute, second, half = int(g["h"]), int(g["mi"] or 0), int(g["s"] or 0), g["half"]
    else:
        return None
    if half:
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + (12 if half[0].lower() == "p" else 0)
    whole = (hour, minute, second) == (24, 0, 0)
    return hour * 3600 + minute * 60 + second if whole or (hour < 24 and minute < 60 and second < 60) else None


def _offset(text: str | None) -> int | None:
    if not text:
        return None
    if text[0] in "+-":
        digits = text[1:].replace(":", "")
        seconds = int(digits[:2]) * 3600 + int(digits[2:] or 0) * 60
        return -seconds if text[0] == "-" else seconds
    hours = _ZONES.get(text.lower())
    return None if hours is None else hours * 3600


@lru_cache(maxsize=65_536)
def read_stamp(text: str) -> Stamp | None:
    """A cell as a date, a date with time, seconds since 1970 or a spreadsheet's day number; ``None`` for anything else."""
    if len(text) > 60:
        return None
    found = _STAMP.match(text)
    if found is None:
        return _counted(text)
    g = found.groupdict()
    days = _date_days(g)
    second = _second(g)
    if days is None or (second is None and (g["h"] or g["hm"] or g["ho"])):
        return None
    if g["off"] and _offset(g["off"]) is None:
        return None
    return Stamp(days, second, _offset(g["off"]))


def _counted(text: str) -> Stamp | None:
    found = _EPOCH.match(text)
    if found:
        seconds = int(found[1]) if found[1] else int(found[2]) // 1000
        day, second = divmod(seconds, DAY_S)
        return Stamp((day, day, day), second, 0)
    found = _SERIAL.match(text)
    if found:
        day = int(found[1]) + _SERIAL_DAY_0 - _DAY_0
        second = round(float("0." + found[2]) * DAY_S)
        return Stamp((day, day, day), second)
    return None


@lru_cache(maxsize=16_384)
def read_time(text: str) -> Stamp | None:
    """A cell as a time of day alone."""
    found = _ONLY_TIME.match(text) if len(text) <= 60 else None
    if found is None:
        return None
    g = found.groupdict()
    second = _second(g)
    if second is None or (g["off"] and _offset(g["off"]) is None):
        return None
    return Stamp(None, second, _offset(g["off"]))


_ONLY_FIGURES = re.compile(r"[\d.]+")
_DIGITS_OF_A_DATE = re.compile(r"(?:19|20)\d{6}|\d{1,4}\.\d{1,2}\.\d{2,4}")


def is_written(cell: str) -> bool:
    """Whether a cell is a date that is written as one, not a count of seconds or days, which any figure may be."""
    written = not _ONLY_FIGURES.fullmatch(cell) or bool(_DIGITS_OF_A_DATE.fullmatch(cell))
    return written and read_stamp(cell) is not None


def possible_orders(stamps: Sequence[Stamp | None]) -> list[str]:
    """The orders of day, month and year under which every date is a date."""
    dated = {s.days for s in stamps if s is not None and s.days is not None}
    return [order for n, order in enumerate(ORDERS) if all(days[n] is not None for days in dated)]


def alike(stamps: Sequence[Stamp | None], orders: Sequence[str]) -> bool:
    """Whether all these orders read the same dates."""
    columns = [ORDERS.index(order) for order in orders]
    return all(len({s.days[n] for n in columns}) == 1 for s in stamps if s is not None and s.days is not None)


def wall_times(stamps: Sequence[Stamp], order: str) -> list[int]:
    """Seconds on the wall clock of complete stamps under an order of the date."""
    n = ORDERS.index(order)
    return [(s.days[n] or 0) * DAY_S + (s.second or 0) for s in stamps if s.days is not None]


def best_order(stamps: Sequence[Stamp], orders: Sequence[str]) -> str | None:
    """The order under which the rows follow each other at equal steps, where that is so under just one; else ``None``."""
    smooth = [order for order in orders if _steady(wall_times(stamps, order))]
    return smooth[0] if len(smooth) == 1 else None


def _steady(times: list[int]) -> bool:
    """Whether nearly all steps are equal: rows missing here and there and two clock changes a year are allowed for."""
    ordered = sorted(set(times))
    if len(ordered) < 3:
        return False
    steps = [b - a for a, b in itertools.pairwise(ordered)]
    usual = sorted(steps)[len(steps) // 2]
    # A wrong order tears days of one month apart by a month: far more than a gap or two.
    torn = sum(step > 20 * DAY_S for step in steps)
    return torn == 0 and 2 * sum(step == usual for step in steps) >= len(steps)


Reader = Callable[[str], Stamp | None]
