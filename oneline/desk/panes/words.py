"""How figures and states are written in the panes: look and number formats, no calculation."""

from __future__ import annotations

import re
from collections.abc import Mapping

from oneline.units import UNKNOWN_TEXT, between, format_value, rounded_up

#: An unknown figure is a long dash; the missing facts go into the tooltip.
UNKNOWN = UNKNOWN_TEXT
MINUS = "\N{MINUS SIGN}"
_NUMBER_UNIT = re.compile(r"(\d) (A|kA|V|VA|kVA|kW|%|ft|in)(?![A-Za-z])")

STATE_WORDS = {
    "fail": "Fails",
    "unknown": "Not known yet",
    "judge": "To be judged",
    "advice": "Advice",
    "pass": "Passes",
    "not_applicable": "Does not apply",
}
BASIS_WORDS = {
    "nameplate": "nameplate",
    "measured": "measured",
    "documents": "documents",
    "entered": "entered",
    "assumed": "assumed",
}
STATUS_WORDS = {"existing": "existing", "new": "new", "remove": "to be removed", "future": "future"}
#: A trade letter for each basis, painted into the small button beside a field.
BASIS_LETTERS = {"nameplate": "N", "measured": "M", "documents": "D", "entered": "", "assumed": "A"}


def _figure(value: float | None, quantity: str) -> str:
    text = format_value(value, quantity, fixed=True)
    if text.startswith("-"):
        text = MINUS + text[1:] if any(c in "123456789" for c in text) else text[1:]
    return text


def amperes(value: float | None) -> str:
    """Amperes: whole from 100 up, one decimal below."""
    return _figure(value, "current_a")


def kiloamperes(value_a: float | None) -> str:
    """A fault current given in amperes, written in kA with one decimal."""
    return _figure(None if value_a is None else value_a / 1000, "fault_ka")


def percent(value: float | None) -> str:
    return _figure(value, "percent")


#: Before an upper bound for what is not known.
AT_MOST = "≤ "


def is_bound(text: str) -> bool:
    """Whether a written figure is bounds of one that is not known."""
    return text.startswith(("≤", "≥")) or re.match(r"[\d,.]+–", text) is not None


def amperes_at_most(value: float) -> str:
    """An upper bound, rounded up: "≤ 102 A"."""
    return AT_MOST + amperes(rounded_up(value, "current_a"))


def kiloamperes_between(least_a: float | None, most_a: float | None) -> str:
    """Bounds given in amperes: "17.1–27.9 kA", "≤ 9.5 kA"."""
    low, high = (None if a is None else a / 1000 for a in (least_a, most_a))
    return between(low, high, "fault_ka")


def change(before: float | None, after: float | None, unit: str, scale: float = 1.0) -> str:
    """The step from before to after with its sign, "" when a side is missing, "0" when nothing moves."""
    if before is None or after is None:
        return ""
    step = (after - before) / scale
    decimals = 0 if unit == "A" and round(abs(step), 1) >= 100 else 1
    text = f"{abs(step):,.{decimals}f}"
    if not float(text.replace(",", "")):
        return "0"
    return f"{'+' if step > 0 else MINUS}{text} {unit}"


def worst(figures: Mapping[str, float | None], *, highest: bool) -> tuple[str, float | None]:
    """The phase that decides, with its figure: ("", None) without phases or when one of them is not known."""
    if not figures or any(v is None for v in figures.values()):
        return "", None
    known = {phase: value for phase, value in figures.items() if value is not None}
    phase = (max if highest else min)(known, key=lambda p: known[p])
    return phase, known[phase]


def keep_together(text: str) -> str:
    """Text whose numbers and units are never on two lines."""
    return _NUMBER_UNIT.sub("\\1\N{NO-BREAK SPACE}\\2", text)


def join(words: list[str] | tuple[str, ...]) -> str:
    """ "a", "a and b", "a, b and c"."""
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} and {words[-1]}"


def lower_first(label: str) -> str:
    """A label inside a sentence: "Trip or fuse rating" becomes "trip or fuse rating", "X/R" stays."""
    return label[:1].lower() + label[1:] if label[1:2].islower() else label
