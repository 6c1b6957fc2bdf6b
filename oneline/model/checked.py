"""Whether a value can stand in a field: its type, its range, its closed set of words."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import fields
from functools import lru_cache
from typing import Any

from oneline.model.fields import Spec, specs

#: Quantities that are words; all but these and flags are numbers.
WORDS = ("text", "choice", "size", "date")


@lru_cache
def nullable_fields(owner: type) -> frozenset[str]:
    """Fields of an item or row class that may be ``None``, which is *unknown*."""
    return frozenset(f.name for f in fields(owner) if "None" in str(f.type))


def objection(owner: type, values: Mapping[str, Any]) -> str | None:
    """Why one of these values cannot stand in its field of ``owner``, as a sentence; ``None`` when all can.

    Names that are no declared fields are passed over: the class itself refuses or takes them.
    """
    declared, nullable = specs(owner), nullable_fields(owner)
    for name, value in values.items():
        spec = declared.get(name)
        if spec is None or (value is None and name in nullable):
            continue
        why = "it cannot be left unknown" if value is None else _wrong(spec, value)
        if why:
            return f"{name} of {_article(owner)} cannot be {value!r}: {why}."
    return None


def _article(owner: type) -> str:
    title = str(getattr(owner, "title", "") or owner.__name__).lower()
    return f"{'an' if title[:1] in 'aeiou' else 'a'} {title}"


def _wrong(spec: Spec, value: Any) -> str:
    if spec.quantity == "flag":
        return "" if isinstance(value, bool) else "True or False is needed"
    if spec.quantity in WORDS:
        if not isinstance(value, str):
            return "a text is needed"
        if spec.choices and value not in spec.choices:
            return f"known are {', '.join(spec.choices[:12])}{', ...' if len(spec.choices) > 12 else ''}"
        return ""
    return _wrong_number(spec, value)


def _wrong_number(spec: Spec, value: Any) -> str:
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        return f"a number{f' of {spec.unit}' if spec.unit else ''} is needed"
    if spec.quantity in ("count", "spaces") and int(value) != value:
        return "a whole number is needed"
    low, high = spec.low, spec.high
    if (low is not None and value < low) or (high is not None and value > high):
        span = " and ".join(
            f"{word} {bound:,g}" for word, bound in (("at least", low), ("at most", high)) if bound is not None
        )
        return f"it is {span}{f' {spec.unit}' if spec.unit else ''}"
    return ""
