"""Helpers that every rule uses: facts with bounds, three-valued comparisons, worksheets, citations, words for numbers.

Units are in the names (``_a`` amperes, ``_ft`` feet). Nothing here knows a drawing.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from types import CodeType, MappingProxyType
from typing import Any

from oneline import tables
from oneline.model.vocabulary import BASES
from oneline.rules.verdict import Verdict, WorkLine

#: Two figures closer than this share of the limit are equal: arithmetic noise, and a thousandth of an inch in 10 ft.
TOLERANCE = 1e-7
#: Weakest first.
_WEAKEST_FIRST = tuple(reversed(BASES))
_FUNCTIONS = {"sqrt": math.sqrt, "min": min, "max": max, "abs": abs}


@dataclass(frozen=True)
class Subject:
    """What a finding is about: the item's id and its name on the drawing."""

    id: str
    name: str


@dataclass(frozen=True)
class Fact:
    """A number that a rule reads.

    ``value`` is ``None`` while it is not known; ``low`` and ``high`` bound it then, where anything can be said at all.
    ``basis``: one of ``model.vocabulary.BASES``. ``need``: what to find out while the value is unknown, in the words of
    a field-check list ("length of Tap 1"). ``name``: what the number is, for sentences. ``assumed``: assumptions the
    value rests on, as phrases; a number whose own basis is "assumed" adds itself.
    """

    value: float | None
    low: float | None = None
    high: float | None = None
    basis: str = "entered"
    need: str = ""
    name: str = ""
    assumed: tuple[str, ...] = ()
    #: Further things to find out, where one phrase is not enough.
    also: tuple[str, ...] = ()

    @property
    def least(self) -> float | None:
        """The value, or the lower bound where the value is unknown."""
        return self.low if self.value is None else self.value

    @property
    def most(self) -> float | None:
        """The value, or the upper bound where the value is unknown."""
        return self.high if self.value is None else self.value

    @property
    def needs(self) -> tuple[str, ...]:
        return unique((self.need, *self.also)) if self.value is None else ()

    @property
    def assumptions(self) -> tuple[str, ...]:
        """What has to be said beside any answer that rests on this number."""
        own = (self.name,) if self.basis == "assumed" and self.name and not self.assumed else ()
        return (*self.assumed, *own)


@dataclass(frozen=True)
class Condition:
    """One condition of a rule: its state ("pass", "fail", "unknown", "judge"), a sentence, and the two numbers.

    ``cure``: what to do where it fails and no number cures it, as a phrase ("run it in a raceway").
    """

    state: str
    message: str
    value: float | None = None
    limit: float | None = None
    unit: str = ""
    relation: str = ""
    needs: tuple[str, ...] = ()
    basis: str = "entered"
    assumed: tuple[str, ...] = ()
    cure: str = ""

    @property
    def gap(self) -> float:
        """How far outside, as a share of the limit; 0 when inside, or when there are no two numbers to compare."""
        if self.state != "fail" or self.value is None or not self.limit:
            return 0.0
        return abs(self.value - self.limit) / self.limit


# ------------------------------------------------------------------------------------------------ comparisons
def equal_or_above(value: float, limit: float) -> bool:
    """``value >= limit``, forgiving arithmetic noise only."""
    return value >= limit - abs(limit) * TOLERANCE


def compare_at_least(value: Fact, limit: Fact) -> str:
    """State of "value is at least limit": decided by the bounds where a number is unknown."""
    if value.least is not None and limit.most is not None and equal_or_above(value.least, limit.most):
        return "pass"
    if value.most is not None and limit.least is not None and not equal_or_above(value.most, limit.least):
        return "fail"
    return "unknown"


def at_least(value: Fact, limit: Fact, sentence: str, unit: str = "A") -> Condition:
    """Condition "value is at least limit"; ``sentence`` is said whatever the outcome."""
    return _condition(compare_at_least(value, limit), value, limit, sentence, unit, "at least")


def at_most(value: Fact, limit: Fact, sentence: str, unit: str = "A") -> Condition:
    """Condition "value is at most limit"; ``sentence`` is said whatever the outcome."""
    return _condition(compare_at_least(limit, value), value, limit, sentence, unit, "at most")


def _condition(state: str, value: Fact, limit: Fact, sentence: str, unit: str, relation: str) -> Condition:
    needs = unique(value.needs + limit.needs) if state == "unknown" else ()
    basis = weakest(value.basis, limit.basis)
    assumed = unique(value.assumptions + limit.assumptions)
    return Condition(state, sentence, value.value, limit.value, unit, relation, needs, basis, assumed)


def worst(states: Iterable[str]) -> str:
    """State of several conditions that must all hold: fail, then unknown, then judge, then pass."""
    found = set(states)
    return next((s for s in ("fail", "unknown", "judge") if s in found), "pass")


def weakest(*bases: str) -> str:
    """The weakest of several bases: "assumed" first."""
    return min(bases, key=_WEAKEST_FIRST.index) if bases else "entered"


def unique(texts: Iterable[str]) -> tuple[str, ...]:
    """Texts without repeats and empty ones, in their order."""
    return tuple(dict.fromkeys(t for t in texts if t))


# ------------------------------------------------------------------------------------------------- worksheets
@lru_cache(maxsize=512)
def _compiled(formula: str) -> CodeType:
    return compile(formula, "<formula>", "eval")


def evaluate(formula: str, inputs: dict[str, float] | Any) -> float:
    """Value of a worksheet's formula: arithmetic and sqrt, min, max, abs in the names of the inputs."""
    return float(eval(_compiled(formula), {"__builtins__": {}, **_FUNCTIONS}, dict(inputs)))


def computed(what: str, formula: str, unit: str = "A", source: str = "", **inputs: float) -> WorkLine:
    """A worksheet line whose value is its formula's, so that what is shown is what was reckoned."""
    return WorkLine(what, evaluate(formula, inputs), unit, formula, MappingProxyType(inputs), source)


def looked_up(what: str, value: float | str | None, unit: str = "A", source: str = "") -> WorkLine:
    """A worksheet line for a value that was entered or read from a table."""
    return WorkLine(what, value, unit, source=source)


# -------------------------------------------------------------------------------------------------- citations
def section(rule: str, edition: int) -> str:
    """Citation of a rule in an edition; says so where the number is not confirmed for it."""
    return tables.citation(rule, edition).text


def verdict(rule: str, subject: Subject, edition: int, state: str, message: str, **more: Any) -> Verdict:
    """A verdict with its citation filled in. ``more``: any other field of ``Verdict`` (``section`` overrides)."""
    cited = more.pop("section", None) or section(rule, edition)
    return Verdict(rule, cited, edition, subject.id, subject.name, state, message, **more)


def judged(
    rule: str, subject: Subject, edition: int, conditions: Sequence[Condition], **more: Any
) -> Verdict:  # fmt: skip
    """A verdict on conditions that must all hold.

    Says the sentences of the conditions that decide: those that fail, else those not known, else those to be judged,
    else all; ``pass_message`` instead of all where it is given. ``lead`` is said first. The two numbers are those of the
    condition furthest outside, or of the first that decides.
    """
    state = worst(c.state for c in conditions)
    deciding = [c for c in conditions if c.state == state] or list(conditions)
    shown = max(deciding, key=lambda c: c.gap) if state == "fail" else deciding[0]
    if shown.value is None and shown.limit is None:
        shown = next((c for c in deciding if c.limit is not None), shown)
    fields: dict[str, Any] = {
        "value": shown.value,
        "limit": shown.limit,
        "unit": shown.unit,
        "relation": shown.relation,
        "basis": weakest(*(c.basis for c in conditions)),
        "needs": unique(n for c in conditions if c.state == "unknown" for n in c.needs),
    }
    lead, pass_message = more.pop("lead", ""), more.pop("pass_message", "")
    fields.update(more)
    message = " ".join(unique([lead, *(c.message for c in deciding)]))
    if state == "pass" and pass_message:
        message = pass_message
    assumed = unique(a for c in conditions for a in c.assumed)
    if assumed:
        message = f"{message} (Assumed: {listed(assumed)}.)"
    return verdict(rule, subject, edition, state, message, **fields)


def existing_work(found: Verdict, status: str) -> Verdict:
    """A failure of existing work becomes a question: it was built under another edition, usually unknown.

    For rules whose failure is no danger by itself; those about missing protection, interrupting ratings, second neutral
    bonds and double feeds are not passed through here. ``status``: of the item the finding is about.
    """
    if found.state != "fail" or status not in ("existing", "remove"):
        return found
    note = "Existing work: judged by the edition it was built under, unless the new work makes it worse."
    return replace(found, state="judge", message=f"{found.message} {note}")


# ----------------------------------------------------------------------------------------- words for numbers
def number(value: float, digits: int = 1) -> str:
    """A number for a sentence: at most ``digits`` decimals, none where they are zero, commas above 9,999."""
    text = f"{value:,.{digits}f}" if abs(value) >= 10_000 else f"{value:.{digits}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def amperes(value: float | None, apart_from: float | None = None) -> str:
    """ "533.3 A"; more decimals where it would otherwise read the same as ``apart_from`` without being equal."""
    if value is None:
        return "not known"
    digits = 1
    while (
        apart_from is not None
        and digits < 4
        and value != apart_from
        and number(value, digits) == number(apart_from, digits)
    ):
        digits += 1
    return f"{number(value, digits)} A"


def bounded_amperes(fact: Fact) -> str:
    """ "200 A"; "at most 55 A" or "at least 12 A" where only a bound is known; "an unknown current"."""
    if fact.value is not None:
        return amperes(fact.value)
    if fact.most is not None:
        return f"at most {amperes(fact.most)}"
    return f"at least {amperes(fact.least)}" if fact.least else "an unknown current"


def feet_inches(length_ft: float | None, rounding: str = "nearest") -> str:
    """ "12 ft 4 in", "10 ft", "8 in", to a quarter inch. ``rounding``: "nearest", "up" or "down"."""
    if length_ft is None:
        return "not measured"
    shift = {"nearest": 0.5, "up": 1 - 1e-6, "down": 1e-6}[rounding]
    feet, rest = divmod(math.floor(length_ft * 48 + shift), 48)
    inches, quarter = divmod(rest, 4)
    fraction = ("", "1/4", "1/2", "3/4")[quarter]
    in_text = "-".join(t for t in (str(inches) if inches else "", fraction) if t)
    parts = [f"{feet} ft" if feet else "", f"{in_text} in" if in_text else ""]
    return " ".join(p for p in parts if p) or "0 ft"


def size_text(size: str | None, material: str | None = None, sets: int | None = 1) -> str:
    """ "3/0 AWG copper", "2 x 500 kcmil aluminum"."""
    if size is None:
        return "conductor of unknown size"
    unit = "kcmil" if size.isdigit() and int(size) >= 250 else "AWG"
    many = f"{sets} x " if sets and sets > 1 else ""
    return " ".join(t for t in (f"{many}{size} {unit}", material or "") if t)


def listed(texts: Sequence[str], word: str = "and") -> str:
    """ "a", "a and b", "a, b and c"."""
    return texts[0] if len(texts) == 1 else f"{', '.join(texts[:-1])} {word} {texts[-1]}" if texts else ""
