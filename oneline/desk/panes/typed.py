"""From what was typed into a field to its value, and back. The only door to the quantity parser in the panes."""

from __future__ import annotations

import dataclasses
from typing import Any

from oneline import tables
from oneline.model import Spec
from oneline.model.vocabulary import SYSTEMS
from oneline.units import QuantityError, edit_text, parse

#: How codes of closed sets are said to people; a code that is not here is its own name.
CHOICE_WORDS = {"remove": "to be removed", "PVC-40": "PVC schedule 40", "PVC-80": "PVC schedule 80"}


class Misread(ValueError):
    """What was typed has no meaning in this field; the text says what, why and what to do."""


def choice_word(code: str, spec: Spec) -> str:
    """A choice as it is said to people: nominal systems by the name in their table."""
    if spec.choices == SYSTEMS:
        return tables.system(code).title
    return CHOICE_WORDS.get(code, code)


def can_be_unknown(owner: type, name: str) -> bool:
    """Whether a field of a dataclass may be ``None``, which is *unknown*."""
    for f in dataclasses.fields(owner):
        if f.name == name:
            return "None" in str(f.type)
    raise KeyError(name)


def understand(text: str, spec: Spec, nullable: bool) -> Any:
    """The value of what was typed, ``None`` for unknown. Raises ``Misread`` and never guesses."""
    typed = text.strip()
    if spec.quantity == "text" and not nullable:
        return parse(typed, "text") or ""
    if spec.quantity == "size" and typed.casefold() in spec.choices:
        return typed.casefold()
    if spec.quantity == "choice":
        return _choose(typed, spec, nullable)
    try:
        value = parse(typed, spec.quantity)
    except QuantityError as problem:
        raise Misread(str(problem)) from problem
    if value is None and not nullable:
        raise Misread(f"{spec.label} cannot be left unknown. Type a value.")
    if spec.quantity == "size" and spec.choices and value is not None and value not in spec.choices:
        raise Misread(f"{typed} is not a trade size. Pick one from the list, such as 4/0 or 250 kcmil.")
    if isinstance(value, int | float) and not isinstance(value, bool):
        _check_range(value, spec, typed)
    return value


def _choose(typed: str, spec: Spec, nullable: bool) -> str | None:
    """A choice by its word or by the first letters that only one of them has."""
    wanted = typed.casefold()
    if nullable and parse(typed, "choice") is None:
        return None
    words = {code: choice_word(code, spec).casefold() for code in spec.choices}
    exact = [code for code, word in words.items() if wanted in (word, code.casefold())]
    begins = exact or [c for c, w in words.items() if wanted and (w.startswith(wanted) or c.startswith(wanted))]
    if len(begins) == 1:
        return begins[0]
    offered = begins or list(words)
    several = "more than one choice begins so" if begins else "it is not one of the choices"
    raise Misread(f"{typed or 'Nothing'} cannot be taken for {spec.label}: {several}. Type {_or(offered, spec)}.")


def _or(codes: list[str], spec: Spec) -> str:
    words = [choice_word(c, spec) for c in codes]
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} or {words[-1]}"


def _check_range(value: float, spec: Spec, typed: str) -> None:
    low, high = spec.low, spec.high
    if (low is not None and value < low) or (high is not None and value > high):
        unit = f" {spec.unit}" if spec.unit else ""
        if low is not None and high is not None:
            span = f"from {low:,g} to {high:,g}{unit}"
        else:
            span = f"{low:,g}{unit} or more" if low is not None else f"{high:,g}{unit} or less"
        raise Misread(f"{typed} is outside what {spec.label} can be: {span}. Check it and type it again.")


def spell(value: Any, spec: Spec) -> str:
    """How a value stands in its field: "" for unknown. Reading it back gives the same value."""
    if spec.quantity == "choice" and value is not None:
        return choice_word(str(value), spec)
    return edit_text(value, spec.quantity)
