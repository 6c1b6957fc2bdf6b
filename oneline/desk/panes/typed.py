"""From what was typed into a field to its value, and back. The only door to the quantity parser in the panes."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from oneline import tables
from oneline.model import Spec
from oneline.model.checked import nullable_fields
from oneline.model.vocabulary import RACEWAYS, SYSTEMS
from oneline.units import QuantityError, edit_text, format_value, parse, read_trade_size, temperature_f

#: How codes of closed sets are said to people; a code that is not here is its own name.
CHOICE_WORDS = {"remove": "to be removed", "PVC-40": "PVC schedule 40", "PVC-80": "PVC schedule 80"}

#: The field whose text is a trade size of a raceway.
TRADE_SIZE = "raceway_size"


class Misread(ValueError):
    """What was typed has no meaning in this field; the text says what, why and what to do."""


def choice_word(code: str, spec: Spec) -> str:
    """A choice as it is said to people: nominal systems by the name in their table."""
    if spec.choices == SYSTEMS:
        return tables.system(code).title
    return CHOICE_WORDS.get(code, code)


def can_be_unknown(owner: type, name: str) -> bool:
    """Whether a field of a dataclass may be ``None``, which is *unknown*."""
    return name in nullable_fields(owner)


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
        value = _trade_size(typed) if spec.name == TRADE_SIZE else parse(typed, spec.quantity, spec.counted)
    except QuantityError as problem:
        if problem.outside and (spec.low, spec.high) != (None, None):
            raise Misread(_outside(spec, typed)) from problem
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


def _trade_size(typed: str) -> str | None:
    """A raceway's trade size in the words of its table. One that no raceway is made in is refused."""
    if parse(typed, "text") is None:
        return None
    size = read_trade_size(typed)
    if "x" in size:  # a wireway is measured, its sides are in no table
        return size
    made = {s for kind in RACEWAYS for s in _sizes_made(kind)}
    if size not in made:
        inches = sorted(made, key=lambda s: sum(float(Fraction(part)) for part in s.split("-")))
        raise Misread(
            f"No raceway has the trade size {size}. Trade sizes go from {inches[0]} to {inches[-1]}, such as 1-1/4 or 3."
        )
    return size


def _sizes_made(kind: str) -> tuple[str, ...]:
    try:
        return tables.raceway_trade_sizes(kind)
    except tables.NotInTable:  # one without trade sizes
        return ()


def _check_range(value: float, spec: Spec, typed: str) -> None:
    if (spec.low is not None and value < spec.low) or (spec.high is not None and value > spec.high):
        raise Misread(_outside(spec, typed))


def _outside(spec: Spec, typed: str) -> str:
    """What is said of a number outside the field's own range."""
    low, high = spec.low, spec.high
    unit = f" {spec.unit}" if spec.unit else ""
    if low is not None and high is not None:
        span = f"from {low:,g} to {high:,g}{unit}"
    else:
        span = f"{low:,g}{unit} or more" if low is not None else f"{high:,g}{unit} or less"
    per_unit = " A value per unit is typed with pu." if spec.quantity == "percent" else ""
    return f"{typed} is outside what {spec.label} can be: {span}. Check it and type it again.{per_unit}"


def other_unit(value: Any, spec: Spec) -> str:
    """A value in the other unit that thermometers have: "86 °F" beside "30 °C"; "" for other quantities."""
    return temperature_f(value) if spec.quantity == "temperature_c" and value is not None else ""


def shown(value: Any, spec: Spec) -> str:
    """How a value is shown in its field while nobody types: a length that came in as metric to the nearest sixteenth."""
    return (
        format_value(value, "length_ft") if value is not None and spec.quantity == "length_ft" else spell(value, spec)
    )


def spell(value: Any, spec: Spec) -> str:
    """How a value stands in its field: "" for unknown. Reading it back gives the same value."""
    if spec.quantity == "choice" and value is not None:
        return choice_word(str(value), spec)
    return edit_text(value, spec.quantity)
