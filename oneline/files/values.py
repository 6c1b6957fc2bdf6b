"""Single values: from the file to the model and back, checked against the model's own declaration."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from oneline.files.shape import Key
from oneline.files.strict import Odd, Twice, fault_in
from oneline.files.text import clean_text, text_cap
from oneline.model import DemandSeries, End, Place, Spec
from oneline.model.vocabulary import BASES, EDITIONS

ID_PATTERN = r"^[A-Za-z0-9_.:-]{1,64}$"
_ID = re.compile(r"[A-Za-z0-9_.:-]{1,64}")
#: Farthest place on the sheet, in grid units.
FARTHEST = 1_000_000.0
MAX_BENDS = 1000
#: Most ids (or keys of steps) in one list, and the longest key of a step.
MAX_IDS = 10_000
KEY_CHARS = 200
#: Steps and gaps of a recorded series, and the units it can have.
MAX_STEPS = 5000
SERIES_UNITS = ("kW", "kVA", "A")
SERIES_START = r"^\d{4}-\d\d-\d\d \d\d:\d\d$"
#: Largest figure of a series, and longest time of it in minutes.
MOST_RECORDED, MOST_MINUTES = 1e6, 1e8
#: Years in which a recording can have begun.
EARLIEST_YEAR, LATEST_YEAR = 1970, 2200


class BadValue(ValueError):
    """The value in the file cannot be what the field needs. The text says what was found and what would be right.

    ``strange_word``: it is a word of a closed set that this version does not know; a newer version may.
    """

    def __init__(self, why: str, strange_word: bool = False) -> None:
        super().__init__(why)
        self.strange_word = strange_word


def shown(raw: Any) -> str:
    """A value of the file as it may stand in a message: short, quoted where it is a text."""
    if isinstance(raw, Odd):
        return raw.why
    if raw is None:
        return "nothing"
    if isinstance(raw, bool):
        return "true" if raw else "false"
    if isinstance(raw, dict):
        return "an object"
    if isinstance(raw, list):
        return "a list"
    if isinstance(raw, float) and not math.isfinite(raw):
        return "a number that is too large"
    text = clean_text(str(raw), "name")
    text = text if len(text) <= 40 else text[:37] + "..."
    return f'"{text}"' if isinstance(raw, str) else text


def is_id(raw: Any) -> bool:
    return isinstance(raw, str) and _ID.fullmatch(raw) is not None


def read_fact(key: Key, raw: Any) -> Any:
    """The value of a fact. Raises ``BadValue``. A text longer than its cap is cut by the caller's choice, not here."""
    spec = key.spec
    assert spec is not None
    if raw is None:
        if key.nullable:
            return None
        raise BadValue("It holds nothing, but this cannot be unknown.")
    if spec.quantity == "flag":
        if isinstance(raw, bool):
            return raw
        raise BadValue(f"It says {shown(raw)}; true or false is needed.")
    if spec.quantity in ("text", "choice", "size", "date"):
        return _read_words(spec, raw)
    return _read_number(key, spec, raw)


def _read_words(spec: Spec, raw: Any) -> str:
    if not isinstance(raw, str):
        raise BadValue(f"It says {shown(raw)}; a text is needed.")
    if spec.choices and raw not in spec.choices:
        known = ", ".join(spec.choices[:12]) + (", ..." if len(spec.choices) > 12 else "")
        raise BadValue(f"It says {shown(raw)}; known are {known}.", strange_word=True)
    if spec.quantity == "date":
        try:
            good = date.fromisoformat(raw).isoformat() == raw
        except ValueError:
            good = False
        if not good:
            raise BadValue(f"It says {shown(raw)}; a date like 2026-03-31 is needed.")
    return raw if spec.choices else clean_text(raw, spec.name)


def _read_number(key: Key, spec: Spec, raw: Any) -> float | int:
    if isinstance(raw, bool) or not isinstance(raw, int | float) or not math.isfinite(raw):
        raise BadValue(f"It says {shown(raw)}; a number is needed.")
    if (spec.low is not None and raw < spec.low) or (spec.high is not None and raw > spec.high):
        unit = f" {spec.unit}" if spec.unit else ""
        raise BadValue(f"It says {shown(raw)}{unit}; possible are {spec.low:g} to {spec.high:g}{unit}.")
    if key.number is int:
        if int(raw) != raw:
            raise BadValue(f"It says {shown(raw)}; a whole number is needed.")
        return int(raw)
    return float(raw) + 0.0  # a negative zero becomes zero


def read_structure(name: str | type | None, raw: Any) -> Any:
    """A place, list of places, end, width, list of ids or of keys, edition. Raises ``BadValue``."""
    if name == "place":
        return None if raw is None else _place(raw)
    if name == "places":
        if not isinstance(raw, list) or len(raw) > MAX_BENDS:
            raise BadValue(f"It says {shown(raw)}; a list of points is needed.")
        return tuple(_place(p) for p in raw)
    if name == "end":
        if raw is None:
            return None
        if not (isinstance(raw, list) and len(raw) == 2 and is_id(raw[0]) and isinstance(raw[1], str)):
            raise BadValue(f"It says {shown(raw)}; an end is [item, terminal].")
        return End(raw[0], raw[1])
    if name == "width":
        return None if raw is None else abs(_coordinate(raw))
    if name == "series":
        return None if raw is None else _series(raw)
    if name in ("ids", "keys"):
        return _list_of(raw, name)
    if name == "edition":
        if isinstance(raw, bool) or raw not in EDITIONS:
            known = ", ".join(map(str, EDITIONS))
            raise BadValue(f"It says {shown(raw)}; editions known here are {known}.", strange_word=True)
        return int(raw)
    raise AssertionError(name)


def _list_of(raw: Any, name: str) -> tuple[str, ...]:
    """Ids of items, or keys of steps ("open:disconnect4"). One that cannot be costs the whole list."""
    if not isinstance(raw, list) or len(raw) > MAX_IDS:
        raise BadValue(f"It says {shown(raw)}; a list of at most {MAX_IDS} is needed.")
    if name == "ids":
        strange = next((one for one in raw if not is_id(one)), "")
        if strange != "":
            raise BadValue(f"It names {shown(strange)}; ids of items are needed.")
        return tuple(raw)
    strange = next((one for one in raw if not isinstance(one, str)), None)
    words = () if strange is not None else tuple(clean_text(one, "name") for one in raw)
    if strange is not None or any(len(word) > KEY_CHARS for word in words):
        raise BadValue(f"It says {shown(strange) if strange is not None else 'a long text'}; keys of steps are needed.")
    return tuple(filter(None, words))


def _coordinate(raw: Any) -> float:
    if isinstance(raw, bool) or not isinstance(raw, int | float) or not abs(raw) <= FARTHEST:
        raise BadValue(f"It says {shown(raw)}; a place on the sheet is needed.")
    return float(raw) + 0.0


def _place(raw: Any) -> Place:
    if not (isinstance(raw, list) and len(raw) == 2):
        raise BadValue(f"It says {shown(raw)}; a point is [x, y].")
    return Place(_coordinate(raw[0]), _coordinate(raw[1]))


def _series(raw: Any) -> DemandSeries:
    """A recorded series. What is wrong with it costs the plot, never the record."""
    bad = BadValue(f"It says {shown(raw)}; a recorded series is needed.")
    if (
        not isinstance(raw, dict)
        or isinstance(raw, Twice)
        or set(raw) - {"start", "step_min", "unit", "highest", "gaps"}
    ):
        raise bad
    start, unit, highest, gaps = raw.get("start"), raw.get("unit"), raw.get("highest"), raw.get("gaps", [])
    step_min = _recorded(raw.get("step_min"), MOST_MINUTES)
    if not isinstance(start, str) or not re.fullmatch(SERIES_START, start) or unit not in SERIES_UNITS:
        raise bad
    try:
        began = datetime.fromisoformat(start)
    except ValueError:
        raise bad from None
    if not EARLIEST_YEAR <= began.year <= LATEST_YEAR:
        raise bad
    if not isinstance(highest, list) or not isinstance(gaps, list) or not 0 < len(highest) <= MAX_STEPS >= len(gaps):
        raise bad
    if step_min is None or step_min <= 0 or len(highest) * step_min > MOST_MINUTES:
        raise bad
    if not all(isinstance(gap, list) and len(gap) == 2 for gap in gaps):
        raise bad
    values = tuple(None if v is None else _recorded(v, MOST_RECORDED) for v in highest)
    pairs = tuple((_recorded(a, MOST_MINUTES), _recorded(b, MOST_MINUTES)) for a, b in gaps)
    if any(v is None and r is not None for v, r in zip(values, highest, strict=True)):
        raise bad
    whole = tuple((a, b) for a, b in pairs if a is not None and b is not None and a <= b)
    if len(whole) < len(pairs):
        raise bad
    return DemandSeries(start, step_min, unit, values, whole)


def _recorded(raw: Any, most: float) -> float | None:
    """A figure of a series, or ``None`` where it is none."""
    if isinstance(raw, bool) or not isinstance(raw, int | float) or not abs(raw) <= most:
        return None
    return float(raw) + 0.0


@dataclass(frozen=True)
class KeptBasis:
    """A word of a newer version for where a value comes from, and the value it stands by (``None`` for a new key)."""

    word: Any
    value: Any


def read_basis(raw: Any, names: set[str], newer: bool) -> tuple[dict[str, str], dict[str, Any], list[str]]:
    """Where values come from, what a newer version says of it that this one does not know, and what of it is wrong."""
    if not isinstance(raw, dict) or isinstance(raw, Twice):
        return {}, {}, [fault_in(raw) or f"It says {shown(raw)}; an object is needed."]
    good = {k: v for k, v in raw.items() if k in names and isinstance(v, str) and v in BASES}
    rest = {k: v for k, v in raw.items() if k not in good}
    foreign = {k: v for k, v in rest.items() if newer and not fault_in(k) and not fault_in(v)}
    bad = [f"{shown(k)} says {shown(v)}; known are {', '.join(BASES)}." for k, v in rest.items() if k not in foreign]
    return good, foreign, bad


def too_long(spec: Spec, value: Any) -> int:
    """How many characters a text may have, when it has more; else 0."""
    cap = text_cap(spec.name)
    return cap if spec.quantity == "text" and isinstance(value, str) and len(value) > cap else 0


def write_number(value: float | int) -> float | int:
    """A number as the file says it: whole numbers without a fraction, no negative zero. Raises ``ValueError`` for nan."""
    if isinstance(value, float):
        if not math.isfinite(value):
            raise ValueError(f"{value} is not a number that can be saved")
        if value.is_integer() and abs(value) < 1e15:
            return int(value)
    return value


def write_structure(name: str | type | None, value: Any) -> Any:
    """The file's form of a place, list of places, end, width, list of ids or of keys, edition."""
    if name == "place":
        return [write_number(value.x), write_number(value.y)]
    if name == "places":
        return [write_structure("place", p) for p in value]
    if name == "end":
        return [value.item, value.terminal]
    if name in ("ids", "keys"):
        return list(value)
    if name == "series":
        return {
            "start": value.start, "step_min": write_number(value.step_min), "unit": value.unit,
            "highest": [None if v is None else write_number(v) for v in value.highest],
            "gaps": [[write_number(a), write_number(b)] for a, b in value.gaps],
        }  # fmt: skip
    return write_number(value)
