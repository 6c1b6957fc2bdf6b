"""What the study answers about one item: its findings as short lines, worst first, and the rules that were tried."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

from oneline.desk.panes.words import BASIS_WORDS, STATE_WORDS, join, keep_together
from oneline.desk.panes.worksheet import figure
from oneline.rules import interconnect, secondary_taps, taps
from oneline.rules.verdict import STATES, Verdict

#: Findings that answer the first questions: is the tap valid, by which rule, how much is left. Shown also when they pass.
SUMMARIES = ("TAP-0", "TAP-SEC", "PV-1", "CAP")
#: States of findings that somebody has to do something about.
OPEN_STATES = ("fail", "unknown", "judge", "advice")
#: Names of the rules that are tried beside others.
TRIED_NAMES = {**taps.RULE_NAMES, **secondary_taps.RULE_NAMES, **interconnect.TEST_NAMES, "LOAD-1": "recorded demand"}
_TRIED_WORDS = {"pass": "holds", "fail": "fails", "unknown": "not known yet", "judge": "to be judged"}
_TRIED_ORDER = ("pass", "judge", "unknown", "fail", "advice", "not_applicable")
#: Sentences of a summary that are shown after its opening.
_MOST_SENTENCES = 3
_SENTENCE_END = re.compile(r"(?<=[.!?])\s+(?=[A-Z0-9(])")


@dataclass(frozen=True)
class Answer:
    """One finding as a line. ``tail`` is said quietly behind the sentence: the margin, the section, the basis."""

    verdict: Verdict
    sentence: str
    tail: str

    @property
    def spoken(self) -> str:
        return f"{STATE_WORDS[self.verdict.state]}: {self.sentence} {self.tail}"


@dataclass(frozen=True)
class TriedRule:
    """A rule that was tried: ``result`` "holds by 12 ft 8 in", ``numbers`` "12 ft 4 in, at most 25 ft"."""

    verdict: Verdict
    name: str
    result: str
    numbers: str

    @property
    def spoken(self) -> str:
        numbers = f": {self.numbers}" if self.numbers else ""
        return f"{self.name}, {self.verdict.section}, {self.result}{numbers}"


@dataclass(frozen=True)
class Answers:
    """``shown``: open findings and the passing summaries; ``held``: the other passes and what does not apply.

    ``unused``: rules that are not for such an item, in words.
    """

    shown: tuple[Answer, ...] = ()
    held: tuple[Answer, ...] = ()
    tried: tuple[TriedRule, ...] = ()
    unused: str = ""

    @property
    def held_words(self) -> str:
        """ "7 pass", "7 pass, 1 does not apply"."""
        passed = sum(a.verdict.state == "pass" for a in self.held)
        rest = len(self.held) - passed
        words = [f"{passed} pass{'es' if passed == 1 else ''}"] if passed else []
        return ", ".join([*words, f"{rest} do{'es' if rest == 1 else ''} not apply"] if rest else words)


def answers_of(item_id: str, verdicts: Iterable[Verdict], names: Collection[str] = ()) -> Answers:
    """What is found about an item. ``names``: names on the drawing, which are never cut where they have a full stop."""
    own = [v for v in verdicts if v.subject == item_id]
    tried = [v for v in own if v.alternative]
    found = sorted((v for v in own if not v.alternative), key=_order)
    dotted = [n for n in names if ". " in n]
    shown, held = [], []
    said = {v.rule for v in found if v.state in OPEN_STATES}
    for verdict in found:
        first = verdict.rule in SUMMARIES and verdict.rule not in said
        if verdict.state in OPEN_STATES or (verdict.state == "pass" and first):
            said.add(verdict.rule)
            shown.append(_answer(verdict, bool(tried), dotted))
        else:
            held.append(_answer(verdict, bool(tried), dotted))
    best_first = sorted(tried, key=lambda v: _TRIED_ORDER.index(v.state))
    rules = [_tried(v) for v in best_first if v.state != "not_applicable"]
    unused = [tried_name(v) for v in tried if v.state == "not_applicable"]
    return Answers(tuple(shown), tuple(held), tuple(rules), f"Does not apply: {join(unused)}." if unused else "")


def preferred(verdicts: Iterable[Verdict], item_id: str) -> Verdict | None:
    """The finding of an item that answers first: the worst open one, else the passing summary. ``None`` without one."""
    own = sorted((v for v in verdicts if v.subject == item_id and not v.alternative), key=_order)
    open_ones = [v for v in own if v.state in OPEN_STATES]
    passed = [v for v in own if v.state == "pass" and v.rule in SUMMARIES]
    return next(iter([*open_ones, *passed]), None)


def tried_name(verdict: Verdict) -> str:
    """ "25-ft rule"; a rule that has no name is called by its section."""
    return TRIED_NAMES.get(verdict.rule, verdict.section)


def _order(verdict: Verdict) -> tuple[int, int, float]:
    """Worst first; summaries before the rest; of several summaries of one rule the tightest."""
    rank = SUMMARIES.index(verdict.rule) if verdict.rule in SUMMARIES else len(SUMMARIES)
    room = gap(verdict)
    return (STATES.index(verdict.state), rank, float("inf") if room is None else room)


def gap(verdict: Verdict) -> float | None:
    """How far inside the limit the value is, negative outside; ``None`` without two numbers to compare."""
    value, limit = verdict.value, verdict.limit
    if value is None or limit is None or verdict.relation not in ("at most", "at least"):
        return None
    return limit - value if verdict.relation == "at most" else value - limit


# --------------------------------------------------------------------------------------------------------- sentences
def sentences(text: str, names: Sequence[str] = ()) -> list[str]:
    """The sentences of a text. A full stop inside one of the ``names`` ends none."""
    for name in names:
        text = text.replace(name, name.replace(". ", ".\x00"))
    return [s.replace("\x00", " ") for s in _SENTENCE_END.split(text.strip()) if s]


def deciding_sentences(verdict: Verdict, names: Sequence[str] = ()) -> list[str]:
    """The sentences of a summary from the first that names a rule: those before it only say what was looked at.

    Of one that fails from its beginning: that nothing holds comes first, a rule named after it is only the nearest.
    """
    found = [s for s in sentences(verdict.message, names) if not s.startswith("(Assumed:")]
    if verdict.rule not in SUMMARIES or verdict.state == "fail":
        return found
    start = next((n for n, s in enumerate(found) if any(name in s for name in TRIED_NAMES.values())), 0)
    return found[start:]


def _sentence(verdict: Verdict, summing_up: bool, names: Sequence[str]) -> str:
    """The first sentence; of a summary of tried rules what it decides and, up to a point, why."""
    if not (summing_up and verdict.rule in SUMMARIES):
        return next(iter(sentences(verdict.message, names)), verdict.message)
    found = deciding_sentences(verdict, names)
    end = next((n for n, s in enumerate(found) if s.startswith(("If not, ", "Otherwise "))), len(found))
    return " ".join(found[: min(max(end, 1), _MOST_SENTENCES)])


def _answer(verdict: Verdict, summing_up: bool, names: Sequence[str]) -> Answer:
    sentence = _sentence(verdict, summing_up, names)
    room = gap(verdict)
    said = []
    tells = room is not None and (room < 0 or verdict.state == "pass") and verdict.rule != "CAP"  # its sentence says so
    if room is not None and tells and figure(abs(room), verdict.unit) not in sentence:
        said.append(_room_words(verdict, room))
    said.append(verdict.section)
    if verdict.basis == "assumed":
        said.append(BASIS_WORDS["assumed"])
    return Answer(verdict, keep_together(sentence), keep_together(", ".join(said)))


def _room_words(verdict: Verdict, room: float) -> str:
    limit = verdict.limit
    share = f" ({abs(room) / abs(limit) * 100:.0f} %)" if limit else ""
    if room == 0:
        return "exactly at the limit"
    outside = "over by" if verdict.relation == "at most" else "short by"
    return f"{'inside by' if room > 0 else outside} {figure(abs(room), verdict.unit)}{share}"


def _tried(verdict: Verdict) -> TriedRule:
    room = gap(verdict)
    result = _TRIED_WORDS[verdict.state]
    if room is not None and (room > 0) == (verdict.state == "pass") and verdict.state in ("pass", "fail") and room:
        result += f" by {figure(abs(room), verdict.unit)}"
    numbers = ""
    if verdict.limit is not None and verdict.relation:
        limit = figure(verdict.limit, verdict.unit, verdict.value)
        number = figure(verdict.value, verdict.unit, verdict.limit) if verdict.value is not None else ""
        numbers = f"{number}, {verdict.relation} {limit}" if number else f"{verdict.relation} {limit}"
    return TriedRule(verdict, tried_name(verdict), keep_together(result), keep_together(numbers))
