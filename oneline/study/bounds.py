"""Bounds where a finding is not known: the values of a missing fact with which it passes, found by trial on the drawing.

A length or a rating is put in, the finding looked at again, and the edge between pass and fail narrowed down until the next
step of a tape measure or of a nameplate fails. Sizes are tried one by one. Where several facts are missing, each is looked
at with the others at their worst. Nothing is said where the values that pass do not lie together.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product
from typing import Any

from oneline import tables
from oneline.model import ConductorRun, Drawing, Item, edits, specs
from oneline.model.vocabulary import CONDUCTOR_SIZES
from oneline.rules.common import feet_inches, listed, number, size_text
from oneline.rules.verdict import Verdict
from oneline.study.missing import Missing, Phrases
from oneline.study.trials import Change, Steps, Trials, changed, key_of

#: Smallest and largest value that is tried, and the step to which the edge is found, by quantity of the field.
_RANGES: dict[str, tuple[float, float, float]] = {
    "length_ft": (1 / 12, 2000.0, 1 / 12),
    "current_a": (5.0, 6000.0, 1.0),
    "fault_ka": (0.1, 200.0, 0.1),
    "power_va": (1.0, 2_000_000.0, 10.0),
    "power_kva": (1.0, 5000.0, 0.5),
    "percent": (0.5, 20.0, 0.05),
    "temperature_c": (10.0, 80.0, 1.0),
}  # fmt: skip
_UNITS = {
    "current_a": "A", "fault_ka": "kA", "power_va": "VA", "power_kva": "kVA", "percent": "%", "temperature_c": "°C",
}  # fmt: skip
#: Points at which it is looked whether the values that pass lie together, and facts beside one at their worst.
_SAMPLES, _OTHERS = 12, 2
#: Words that are tried, and how many of them are listed.
_WORDS, _LISTED = ("material", "egc_material", "insulation", "raceway"), 4


@dataclass(frozen=True)
class Bound:
    """What decides a finding that is not known.

    ``text``: "passes for any length of Tap 1 up to 8 ft 3 in". ``about``: the fact. ``low``, ``high``: the values that pass,
    in the field's unit, ``None`` where that end is open; for sizes ``passing`` instead. ``never``: no value passes.
    ``decided``: what lies beyond fails; else it stays undecided there.
    """

    text: str
    about: Missing
    low: float | None = None
    high: float | None = None
    passing: tuple[Any, ...] = ()
    never: bool = False
    decided: bool = True


@dataclass(frozen=True)
class Bounds:
    """What was found for one finding; empty where no bound helps."""

    verdict: Verdict
    found: tuple[Bound, ...] = ()

    @property
    def summary(self) -> str:
        """All bounds as one line; "" for none."""
        return "; ".join(b.text for b in self.found)


def find_bounds(trials: Trials, verdict: Verdict) -> Steps[Bounds]:
    """Find bounds for a finding that is not known. Pauses often; ``trials.finish`` runs it to its end."""
    if verdict.state != "unknown":
        return Bounds(verdict)
    yield from trials.start()
    phrases = Phrases(trials.drawing)
    facts = list(dict.fromkeys(phrases.missing(need, verdict.subject) for need in verdict.needs))
    if not facts or len(facts) > _OTHERS + 1 or not all(f.tied and _values(trials, f) for f in facts):
        return Bounds(verdict)
    found: list[Bound] = []
    for fact in facts:
        search = _Search(trials, verdict, fact, [f for f in facts if f != fact])
        bound = yield from search.bound()
        if bound is not None:
            found.append(bound)
    return Bounds(verdict, tuple(found))


def _spec(trials: Trials, fact: Missing) -> tuple[str, str]:
    """Quantity and label of a field."""
    item = trials.drawing.get(fact.item)
    if fact.space is not None:
        return ("power_va", "load") if fact.field == "va" else ("", "")
    spec = specs(type(item)).get(fact.field)
    return ("", "") if spec is None else (spec.quantity, spec.label)


def _values(trials: Trials, fact: Missing) -> tuple[Any, ...]:
    """Values that span what a fact can be: both ends of a number, all sizes or words; () where it cannot be tried."""
    quantity, _ = _spec(trials, fact)
    if quantity in _RANGES:
        return _RANGES[quantity][:2]
    return _choices(trials.drawing.get(fact.item), fact.field, quantity)


def _choices(item: Item, field: str, quantity: str) -> tuple[Any, ...]:
    if isinstance(item, ConductorRun) and field == "raceway_size" and item.raceway:
        try:
            return tables.raceway_trade_sizes(item.raceway)
        except tables.NotInTable:
            return ()
    if quantity == "size":
        material = (
            (item.egc_material or item.material) if field == "egc_size" and isinstance(item, ConductorRun) else None
        )
        material = material or getattr(item, "material", None) or "copper"
        return tuple(s for s in CONDUCTOR_SIZES if tables.ampacity_a(s, material, 75) is not None)
    return specs(type(item))[field].choices if quantity == "choice" and field in _WORDS else ()


class _Search:
    """The values of one fact with which one finding passes, others at their worst."""

    def __init__(self, trials: Trials, verdict: Verdict, fact: Missing, others: Sequence[Missing]) -> None:
        self.trials, self.verdict, self.fact = trials, verdict, fact
        self._others = list(product(*(_ends(_values(trials, f)) for f in others)))
        self._facts = others
        self.quantity, self.label = _spec(trials, fact)
        #: Whether what lies beyond the bound fails; else more has to be known there.
        self.decided = True

    def outcome(self, value: Any) -> Steps[str]:
        """What becomes of the finding with a value, whatever the others are: "pass", "fail" where one of them keeps it from
        passing, "open" where it stays undecided."""
        found: set[str] = set()
        for chosen in self._others:
            changes = [
                self._change(self.fact, value),
                *(self._change(f, v) for f, v in zip(self._facts, chosen, strict=True)),
            ]
            try:
                drawing = changed(self.trials.drawing, changes)
            except edits.EditRefused:
                return "open"
            state = yield from self._state(drawing)
            if state == "fail" and not self._facts:
                return "fail"
            found.add(state)
        if found <= {"pass", "not_applicable"}:
            return "pass"
        return "fail" if "fail" in found else "open"

    def _state(self, drawing: Drawing) -> Steps[str]:
        found = yield from self.trials.about(drawing, self.verdict.rule)
        group = found.get(key_of(self.verdict), [])
        same = [v for v in group if v.others == self.verdict.others] if len(group) > 1 else group
        states = {v.state for v in same}
        if not states:
            return (yield from self._instead(drawing))
        if states <= {"pass", "not_applicable"}:
            return "pass"
        return "open" if "unknown" in states else "fail"

    def _instead(self, drawing: Drawing) -> Steps[str]:
        """The finding is not made any more: conductors that no device protects are taps, which others judge."""
        findings = yield from self.trials.whole(drawing)
        about = {key: g[0].state for key, g in findings.items() if key[1] == self.verdict.subject and not key[2]}
        worse = [s for key, s in about.items() if s == "fail" and key not in self.trials.before]
        return "fail" if worse else "open"

    @staticmethod
    def _change(fact: Missing, value: Any) -> Change:
        return Change(fact.item, fact.field, value, fact.space)

    def bound(self) -> Steps[Bound | None]:
        """The bound in words, ``None`` where none can be told."""
        if self.quantity in _RANGES:
            return (yield from self._numbers())
        return (yield from self._words())

    # --------------------------------------------------------------------------------------------------- numbers
    def _numbers(self) -> Steps[Bound | None]:
        low, high, step = _RANGES[self.quantity]
        ratio = (high / low) ** (1 / (_SAMPLES - 1))
        points = [_on_step(low * ratio**n, step) for n in range(_SAMPLES)]
        states: list[str] = []
        for point in points:
            states.append((yield from self.outcome(point)))
        if "pass" not in states:
            failing = set(states) == {"fail"} and not self._facts
            return Bound(f"fails for any {self._of()} that was tried", self.fact, never=True) if failing else None
        turns = [n for n in range(1, len(states)) if (states[n] == "pass") != (states[n - 1] == "pass")]
        if len(turns) > 2 or (len(turns) == 2 and states[0] == "pass"):
            return None  # values that pass on both sides of some that fail
        lower = upper = None
        for n in turns:
            edge = yield from self._edge(points[n - 1], points[n], states[n - 1] == "pass", step)
            if states[n - 1] == "pass":
                upper = edge
            else:
                lower = edge
        return self._told(lower, upper)

    def _edge(self, below: float, above: float, passes_below: bool, step: float) -> Steps[float]:
        """The last value on the step that passes, between one that does and one that does not. Where what lies beyond it
        does not fail either, ``decided`` is taken back."""
        low, high = round(below / step), round(above / step)
        while high - low > 1:
            middle = (low + high) // 2
            now = yield from self.outcome(_times(middle, step))
            if (now == "pass") == passes_below:
                low = middle
            else:
                high = middle
        beyond = yield from self.outcome(_times(high if passes_below else low, step))
        self.decided = self.decided and beyond == "fail"
        return _times(low if passes_below else high, step)

    def _told(self, low: float | None, high: float | None) -> Bound:
        name, what = self._of(), self._worst()
        if low is None and high is None:
            least, most, _ = _RANGES[self.quantity]
            text = f"passes for any {name} that was tried, {self._shown(least)} to {self._shown(most)}"
        elif low is None:
            text = f"passes for any {name} up to {self._shown(high)}"
        elif high is None:
            text = f"passes for any {name} from {self._shown(low)} on"
        else:
            text = f"passes for any {name} from {self._shown(low)} to {self._shown(high)}"
        beyond = "" if self.decided else " (beyond that more has to be known)"
        return Bound(f"{text}{what}{beyond}", self.fact, low, high, decided=self.decided)

    def _shown(self, value: float | None) -> str:
        assert value is not None
        if self.quantity == "length_ft":
            return feet_inches(value)
        if self.quantity == "fault_ka":
            return f"{number(value * 1000, 0)} A" if value < 100 else f"{number(value)} kA"
        return f"{number(value, 2)} {_UNITS[self.quantity]}"

    def _of(self) -> str:
        label = self.label[:1].lower() + self.label[1:] if not self.label[:2].isupper() else self.label
        name = self.trials.drawing.name_of(self.fact.item)
        return f"{label} of {name}" + (f" circuit {self.fact.space}" if self.fact.space is not None else "")

    def _worst(self) -> str:
        if not self._facts:
            return ""
        others = [_Search(self.trials, self.verdict, f, ())._of() for f in self._facts]
        return f", whatever the {listed(others)} {'is' if len(others) == 1 else 'are'}"

    # ----------------------------------------------------------------------------------------------------- words
    def _words(self) -> Steps[Bound | None]:
        values = _values(self.trials, self.fact)
        outcomes: list[str] = []
        for value in values:
            outcomes.append((yield from self.outcome(value)))
        passing = tuple(v for v, o in zip(values, outcomes, strict=True) if o == "pass")
        name, what = self._of(), self._worst()
        if not passing:
            failing = set(outcomes) == {"fail"} and not self._facts
            return Bound(f"fails for any {name}", self.fact, never=True) if failing else None
        if "open" in outcomes:
            return None
        if len(passing) == len(values):
            return Bound(f"passes for any {name}{what}", self.fact, passing=passing)
        where = [values.index(p) for p in passing]
        first, last = self._word(passing[0]), self._word(passing[-1])
        if self.quantity == "choice" or where[-1] - where[0] != len(where) - 1:
            if len(passing) > _LISTED:
                return None
            return Bound(
                f"passes where the {name} is {listed([self._word(p) for p in passing], 'or')}{what}",
                self.fact,
                passing=passing,
            )
        if where[-1] == len(values) - 1:
            text = f"passes with {first} or larger as {name}"
        elif where[0] == 0:
            text = f"passes with {last} or smaller as {name}"
        else:
            text = f"passes with {first} to {last} as {name}"
        return Bound(f"{text}{what}", self.fact, passing=passing)

    def _word(self, value: Any) -> str:
        return size_text(value) if self.quantity == "size" else str(value)


def _ends(values: Sequence[Any]) -> tuple[Any, ...]:
    """First and last of values in their order, what is between them lies between their outcomes; words all."""
    ordered = isinstance(values[0], float) or values[0] in CONDUCTOR_SIZES
    return (values[0], values[-1]) if ordered else tuple(values)


def _on_step(value: float, step: float) -> float:
    return _times(max(round(value / step), 1), step)


def _times(steps: int, step: float) -> float:
    """So many steps without the noise of the arithmetic."""
    return round(steps * step, 9)
