"""Helpers that every rule uses: facts with bounds, three-valued comparisons, worksheets, citations, words for numbers.

Units are in the names (``_a`` amperes, ``_ft`` feet). Nothing here knows a drawing.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import cache, partial
from types import MappingProxyType
from typing import Any

from oneline import tables
from oneline.model.quick import but, quick
from oneline.model.vocabulary import BASES
from oneline.rules.formula import evaluate
from oneline.rules.verdict import Later, Verdict, WorkLine
from oneline.rules.words import amperes as amperes
from oneline.rules.words import difference as difference
from oneline.rules.words import feet_inches as feet_inches
from oneline.rules.words import listed as listed
from oneline.rules.words import number as number
from oneline.rules.words import quantity as quantity
from oneline.rules.words import shown_difference as shown_difference
from oneline.rules.words import size_text as size_text

#: Two figures closer than this share of the limit are equal: arithmetic noise, and a thousandth of an inch in 10 ft.
TOLERANCE = 1e-7
#: Weakest first.
_WEAKEST_FIRST = tuple(reversed(BASES))
#: First words of conditions that are clauses, not sentences.
_CLAUSE_STARTS = frozenset(("it", "its", "all", "the", "what", "where", "whether"))
#: How the worksheet says the outcome of one of several conditions.
_OUTCOMES = {"pass": "holds", "fail": "fails", "unknown": "not known yet", "judge": "for the authority"}
#: More failing conditions than this are counted instead of named; the worksheet names all of them.
_NAMED_AT_MOST = 2
#: Assumptions are named in the sentence up to this many letters; the worksheet names all of them.
_ASSUMPTION_LETTERS = 90
#: Start of the worksheet line of an assumption.
_ASSUMED = "Assumed"


#: A sentence, or what makes it when somebody looks; worksheet lines likewise.
Said = str | Callable[[], str]
Lines = Sequence[WorkLine] | Callable[[], Sequence[WorkLine]]


def now(said: Said) -> str:
    """A sentence that may be given as a function."""
    return said() if callable(said) else said


@quick
@dataclass(frozen=True)
class Subject:
    """What a finding is about: the item's id and its name on the drawing."""

    id: str
    name: str


@quick
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
    #: The largest it can be where an assumption in ``value`` does not hold; ``value`` is then the least.
    up_to: float | None = None
    #: What else to find out, where putting it together takes time: called when somebody asks.
    missing: Callable[[], tuple[str, ...]] | None = None

    @property
    def least(self) -> float | None:
        """The value, or the lower bound where the value is unknown."""
        return self.low if self.value is None else self.value

    @property
    def most(self) -> float | None:
        """The value, or the upper bound where the value is unknown."""
        if self.value is None:
            return self.high
        return self.value if self.up_to is None else max(self.value, self.up_to)

    @property
    def needs(self) -> tuple[str, ...]:
        if self.value is not None and self.up_to is None:
            return ()
        return unique((*(self.missing() if self.missing else ()), self.need, *self.also))

    @property
    def assumptions(self) -> tuple[str, ...]:
        """What has to be said beside any answer that rests on this number."""
        known = self.value is not None
        own = (self.name,) if self.basis == "assumed" and self.name and known and not self.assumed else ()
        return (*self.assumed, *own)


@quick
@dataclass(frozen=True)
class Condition:
    """One condition of a rule: its state ("pass", "fail", "unknown", "judge"), a sentence, and the two numbers.

    ``cure``: what to do where it fails and no number cures it, as a phrase ("run it in a raceway"). ``must``: what has
    to be true, after "it must" ("be 10 ft or shorter"). ``open``: what of it is not known ("its length",). ``of``: the
    item that "it" is, where it is not the one the finding is about.
    """

    state: str
    message: Later[str] = Later()  # noqa: RUF009 - a descriptor, one for all
    value: float | None = None
    limit: float | None = None
    unit: str = ""
    relation: str = ""
    needs: Later[tuple[str, ...]] = Later(())  # noqa: RUF009
    basis: str = "entered"
    assumed: tuple[str, ...] = ()
    cure: str = ""
    must: str = ""
    open: tuple[str, ...] = ()
    of: str = ""

    @property
    def gap(self) -> float:
        """How far outside, as a share of the limit; 0 when inside, or when there are no two numbers to compare."""
        if self.state != "fail" or self.value is None or not self.limit:
            return 0.0
        return abs(self.value - self.limit) / self.limit


def scaled(fact: Fact, factor: float) -> Fact:
    """A number with bounds times a factor."""

    def times(value: float | None) -> float | None:
        return None if value is None else value * factor

    return but(fact, value=times(fact.value), low=times(fact.low), high=times(fact.high), up_to=times(fact.up_to))


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


def at_least(value: Fact, limit: Fact, sentence: Said, unit: str = "A", **words: Any) -> Condition:
    """Condition "value is at least limit"; ``sentence`` is said whatever the outcome. ``words``: must, open, of."""
    return _condition(compare_at_least(value, limit), value, limit, sentence, unit, "at least", words)


def at_most(value: Fact, limit: Fact, sentence: Said, unit: str = "A", **words: Any) -> Condition:
    """Condition "value is at most limit"; ``sentence`` is said whatever the outcome. ``words``: must, open, of."""
    return _condition(compare_at_least(limit, value), value, limit, sentence, unit, "at most", words)


def _condition(
    state: str, value: Fact, limit: Fact, sentence: Said, unit: str, relation: str, words: dict[str, Any]
) -> Condition:  # fmt: skip
    needs = partial(_needs_of, value, limit) if state == "unknown" else ()
    basis = value.basis if value.basis == limit.basis else weakest(value.basis, limit.basis)
    assumed = value.assumptions + limit.assumptions
    return Condition(
        state, sentence, value.value, limit.value, unit, relation, needs, basis, unique(assumed) if assumed else (),
        **words,
    )  # fmt: skip


def _needs_of(value: Fact, limit: Fact) -> tuple[str, ...]:
    return unique(value.needs + limit.needs)


def worst(states: Iterable[str]) -> str:
    """State of several conditions that must all hold: fail, then unknown, then judge, then pass."""
    found = set(states)
    return "pass" if found == _ALL_PASS else next((s for s in ("fail", "unknown", "judge") if s in found), "pass")


_ALL_PASS = {"pass"}


def weakest(*bases: str) -> str:
    """The weakest of several bases: "assumed" first."""
    if len(set(bases)) == 1:
        return bases[0]
    return min(bases, key=_WEAKEST_FIRST.index) if bases else "entered"


def unique(texts: Iterable[str]) -> tuple[str, ...]:
    """Texts without repeats and empty ones, in their order."""
    return tuple(dict.fromkeys(filter(None, texts))) if texts else ()


# ------------------------------------------------------------------------------------------------- worksheets
def computed(what: str, formula: str, unit: str = "A", source: str = "", **inputs: float) -> WorkLine:
    """A worksheet line whose value is its formula's, so that what is shown is what was reckoned.

    Where an input is a figure of a table that is only from memory, ``source`` says so (looked-up lines too).
    """
    noted = tables.with_provenance(source, *inputs.values())
    plain = {name: _plain(value) for name, value in inputs.items()}
    return WorkLine(what, evaluate(formula, plain), unit, formula, MappingProxyType(plain), noted)


def looked_up(what: str, value: float | str | None, unit: str = "A", source: str = "") -> WorkLine:
    """A worksheet line for a value that was entered or read from a table."""
    plain = _plain(value) if isinstance(value, float) else value
    return WorkLine(what, plain, unit, source=tables.with_provenance(source, value))


def _plain(value: float) -> float:
    """The number without the mark of where it is from, which the line's source tells."""
    return float(value) if isinstance(value, tables.FromMemory) else value


# -------------------------------------------------------------------------------------------------- citations
@cache
def section(rule: str, edition: int) -> str:
    """Citation of a rule in an edition; says so where the number is not confirmed for it."""
    return tables.citation(rule, edition).text


def verdict(rule: str, subject: Subject, edition: int, state: str, message: Said, **more: Any) -> Verdict:
    """A verdict with its citation filled in. ``more``: any other field of ``Verdict`` (``section`` overrides)."""
    cited = more.pop("section", None) or section(rule, edition)
    return Verdict(rule, cited, edition, subject.id, subject.name, state, message, **more)


def judged(
    rule: str, subject: Subject, edition: int, conditions: Sequence[Condition], *, message: Said = "",
    pass_message: Said = "", further: Said = "", work: Lines = (), **more: Any,
) -> Verdict:  # fmt: skip
    """A verdict on conditions that must all hold.

    Says the sentence of the condition that decides and carries its two numbers: the one furthest outside of those that
    fail, else the first that is not known, else the first to be judged, else the first. ``message`` instead where it is
    given, ``pass_message`` where all hold; ``further`` is one more short sentence. The other conditions stand in the
    worksheet. Sentences and worksheet are made when somebody looks.
    """
    shown = deciding(conditions)
    state = shown.state if len(conditions) == 1 else worst([c.state for c in conditions])
    assumed = unique([a for c in conditions for a in c.assumed])
    later = _Judged(state, subject.name, conditions, shown, assumed, message, pass_message, further, work)
    more.setdefault("value", shown.value)
    more.setdefault("limit", shown.limit)
    more.setdefault("unit", shown.unit)
    more.setdefault("relation", shown.relation)
    more.setdefault("basis", "assumed" if assumed else weakest(*[c.basis for c in conditions]))
    if state != "pass":
        more.setdefault("needs", later.needs)
    return verdict(rule, subject, edition, state, later.said, work=later.lines, **more)


@quick
@dataclass(frozen=True)
class _Judged:
    """What the sentences and the worksheet of :func:`judged` are made from when somebody looks."""

    state: str
    name: str
    conditions: Sequence[Condition]
    shown: Condition
    assumed: tuple[str, ...]
    message: Said
    pass_message: Said
    further: Said
    work: Lines

    def said(self) -> str:
        text = now(self.message) or (now(self.pass_message) if self.state == "pass" else "") or self.shown.message
        return sentences(with_assumptions(text, self.assumed, self.name), now(self.further) or besides(self.conditions))

    def needs(self) -> tuple[str, ...]:
        return unique(n for c in self.conditions if c.state == "unknown" for n in c.needs)

    def lines(self) -> tuple[WorkLine, ...]:
        own = tuple(self.work() if callable(self.work) else self.work)
        said_so = any(tables.FROM_MEMORY in line.source for line in own)
        return (*own, *_checklist(self.conditions, said_so), *assumption_lines(self.assumed))


def deciding(conditions: Sequence[Condition]) -> Condition:
    """The one of several conditions that an answer is told by."""
    if len(conditions) == 1:
        return conditions[0]
    state = worst(c.state for c in conditions)
    candidates = [c for c in conditions if c.state == state] or list(conditions)
    shown = max(candidates, key=lambda c: c.gap) if state == "fail" else candidates[0]
    if shown.value is None and shown.limit is None:
        shown = next((c for c in candidates if c.limit is not None), shown)
    return shown


def besides(conditions: Sequence[Condition]) -> str:
    """What else must be put right beside the condition that an answer is told by, as a sentence; "" for nothing."""
    if worst(c.state for c in conditions) != "fail":
        return ""
    shown = deciding(conditions)
    more = [c for c in conditions if c.state == "fail" and c.must and (c.of, c.must) != (shown.of, shown.must)]
    if len(more) > _NAMED_AT_MOST:
        return f"{len(more)} more conditions fail."
    own = unique(c.must for c in more if not c.of)
    parts = [f"it must also {listed(own)}"] if own else []
    parts += [f"{c.of} must also {c.must}" for c in more if c.of]
    text = listed(parts)
    return f"{text[:1].upper()}{text[1:]}." if text else ""


def _checklist(conditions: Sequence[Condition], said_so: bool) -> tuple[WorkLine, ...]:
    """Every condition and its outcome, where there are several; one alone where its figure is only from memory and no
    line above said so."""
    noted = [(c, tables.with_provenance("", c.value, c.limit)) for c in conditions if c.message]
    if len(conditions) < 2 and said_so:
        return ()
    if len(conditions) < 2:
        noted = [(c, source) for c, source in noted if source]
    return tuple(looked_up(_line_start(c.message.rstrip(".")), _OUTCOMES[c.state], "", s) for c, s in noted)


def _line_start(text: str) -> str:
    """A clause as the start of a line; names keep their letters."""
    word = text.partition(" ")[0]
    return text[:1].upper() + text[1:] if word in _CLAUSE_STARTS else text


def sentences(*texts: str) -> str:
    """Sentences one after the other, without empty ones."""
    return " ".join(t for t in texts if t)


def with_assumptions(sentence: str, assumed: Sequence[str], name: str = "") -> str:
    """The sentence with what it rests on in brackets, shortly: "It holds (assumed: 30 °C ambient)."

    ``name``: the item the sentence is about; an assumption about it does not name it again.
    """
    if not assumed:
        return sentence
    short = unique(_short(text).replace(f" of {name}", "") if name else _short(text) for text in assumed)
    words = listed(short)
    if len(short) > 1 and len(words) > _ASSUMPTION_LETTERS:
        words = f"{short[0]}, and {len(short) - 1} more"
    return f"{sentence.removesuffix('.')} (assumed: {words})."


#: What :func:`with_assumptions` adds; the assumptions in it have no brackets of their own.
_SAID_ASSUMED = re.compile(r" \(assumed: [^()]*\)")


def assumed_in(verdicts: Iterable[Verdict]) -> tuple[str, ...]:
    """Every assumption that verdicts name."""
    return unique(str(line.value) for v in verdicts for line in v.work if line.what == _ASSUMED)


def resting_on(found: Verdict, assumed: Sequence[str]) -> Verdict:
    """A verdict that rests on assumptions beside those it names: they join its sentence, its worksheet and its basis."""
    if not assumed:
        return found
    wanted = unique(assumed)

    def named() -> list[str]:
        return [str(line.value) for line in found.work if line.what == _ASSUMED]

    def message() -> str:
        before = named()
        new = [text for text in wanted if text not in before]
        said = _SAID_ASSUMED.search(found.message)
        if not new and found.basis == "assumed" and said is not None:
            return found.message
        if said is None:
            return with_assumptions(found.message, (*before, *new), found.name)
        start, rest = found.message[: said.start()], found.message[said.end() :].removeprefix(".")
        return with_assumptions(f"{start}.", (*before, *new), found.name) + rest

    def work() -> tuple[WorkLine, ...]:
        before = named()
        return (*found.work, *assumption_lines([text for text in wanted if text not in before]))

    return found.but(message=message, basis="assumed", work=work)


def _short(assumption: str) -> str:
    """An assumption without its reasons and exceptions, which the worksheet keeps."""
    text = assumption.partition(", which ")[0].partition(", as steel ")[0].replace(" not known: taken as", " taken as")
    return re.sub(r" \([^()]*\)", "", text).removesuffix(" where none is entered")


def assumption_lines(assumed: Sequence[str]) -> tuple[WorkLine, ...]:
    """All assumptions as worksheet lines."""
    return tuple(looked_up(_ASSUMED, text, "") for text in assumed)


def existing_work(found: Verdict, status: str) -> Verdict:
    """A failure of existing work becomes a question: it was built under another edition, usually unknown.

    For rules whose failure is no danger by itself; those about missing protection, interrupting ratings, second neutral
    bonds and double feeds are not passed through here. ``status``: of the item the finding is about.
    """
    if found.state != "fail" or status not in ("existing", "remove"):
        return found
    note = "Existing work: the edition it was built under decides, unless the new work makes it worse."
    return found.but(state="judge", message=lambda: f"{found.message} {note}")


# ------------------------------------------------------------------------------------------- words for facts
def bounded_amperes(fact: Fact, unit: str = "A") -> str:
    """ "200 A"; "at most 55 A" or "at least 12 A" where only a bound is known; "not known yet"."""
    if fact.value is not None:
        return quantity(fact.value, unit)
    if fact.most is not None:
        return f"at most {quantity(fact.most, unit, rounding='up')}"
    return f"at least {quantity(fact.least, unit, rounding='down')}" if fact.least else "not known yet"


def rated(name: str, rating: Fact) -> str:
    """ "Main 1 (600 A)", "Main 1 (at most 600 A)", "Main 1" where nothing is known of its rating."""
    known = bounded_amperes(rating)
    return name if known == "not known yet" else f"{name} ({known})"


def bounds(fact: Fact, unit: str = "A") -> str:
    """What is known of an unknown number: "between 85 A and 130 A", "at most 130 A", "" for nothing."""
    low, high = fact.least or None, fact.most
    if low is not None and high is not None:
        return f"between {quantity(low, unit, rounding='down')} and {quantity(high, unit, rounding='up')}"
    if high is not None:
        return f"at most {quantity(high, unit, rounding='up')}"
    return f"at least {quantity(low, unit, rounding='down')}" if low is not None else ""


@dataclass(frozen=True)
class Compared:
    """Words for two numbers: "930 A", "341 A more than", "589 A". ``most``: of the limit without its bound."""

    value: str
    gap: str
    limit: str
    most: str


def compared(
    value: Fact, limit: Fact, over: str = "more than", under: str = "less than", unit: str = "A", most: bool = False
) -> Compared | None:  # fmt: skip
    """Two numbers and how far apart they are; ``None`` while "value is at least limit" is not decided.

    ``most``: the question is "value is at most limit". Unknown numbers stand by the bound that decides. Upper bounds and
    what is over are rounded up, lower bounds and what is left down.
    """
    state = compare_at_least(limit, value) if most else compare_at_least(value, limit)
    if state == "unknown":
        return None
    above = (state == "pass") != most
    one, other = (value.least, limit.most) if above else (value.most, limit.least)
    # A number that is known up to an assumption is told by its value; it lies on the same side.
    one, other = (fact.value if fact.value is not None else bound for fact, bound in ((value, one), (limit, other)))
    assert one is not None
    assert other is not None
    exact = value.value is not None and limit.value is not None
    apart = difference(one, other, unit, "up" if exact and state == "fail" else "down")
    gap = f"{'' if exact else 'at least '}{apart} {over if above else under}"
    if abs(one - other) <= abs(other) * TOLERANCE:
        gap = "exactly" if exact else "at worst exactly"
    bound = "" if value.value is not None else ("at least " if above else "at most ")
    other_bound = "" if limit.value is not None else ("at most " if above else "at least ")
    if gap.endswith("exactly"):
        # "at worst exactly the 150 A allowed" says the bound once.
        other_bound = ""
    low, high = ("down", "up") if above else ("up", "down")
    figure = quantity(other, unit, one, high if other_bound else "nearest")
    shown = quantity(one, unit, other, low if bound else "nearest")
    if exact and unit not in ("A", "ft") and not gap.endswith("exactly"):
        gap = f"{shown_difference(shown, figure, unit) or apart} {over if above else under}"
    return Compared(f"{bound}{shown}", gap, f"{other_bound}{figure}", figure)
