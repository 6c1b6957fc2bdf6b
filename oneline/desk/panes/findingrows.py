"""Findings as rows: which are shown, in which order, with the rules that were tried beside others under their summary."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from oneline.desk.panes.answers import OPEN_STATES, deciding_sentences, tried_name
from oneline.desk.panes.words import STATE_WORDS
from oneline.rules.verdict import STATES, Verdict

Key = tuple[str, str, str, bool]


__all__ = ["OPEN_STATES", "FindingRow", "Key", "count_states", "finding_rows", "key_of"]


@dataclass(frozen=True)
class FindingRow:
    """A finding in the list.

    ``under``: a rule that was tried beside others, shown under its summary. ``sums_up``: a summary of such rules.
    ``alone``: a rule that was tried and has no summary to stand under.
    """

    verdict: Verdict
    under: bool = False
    sums_up: bool = False
    alone: bool = False

    @property
    def key(self) -> Key:
        """Finds the same finding again after the next study."""
        return key_of(self.verdict)

    @property
    def name(self) -> str:
        """What stands first in the row: the item; under its summary, which has the item, the rule that was tried."""
        name = tried_name(self.verdict) if self.under and not self.alone else self.verdict.name
        return name[:1].upper() + name[1:]

    @property
    def sentence(self) -> str:
        """What the row says: of a summary what was decided, for the room is short."""
        v = self.verdict
        return " ".join(deciding_sentences(v, (v.name,))) if self.sums_up else v.message

    @property
    def spoken(self) -> str:
        """The whole row as one sentence, for screen readers and search."""
        v = self.verdict
        return f"{STATE_WORDS[v.state]}: {v.name}. {v.message} {v.section}, {v.edition}"


def key_of(verdict: Verdict) -> Key:
    """What stays of a finding from one study to the next."""
    return (verdict.subject, verdict.rule, verdict.section, verdict.alternative)


def count_states(verdicts: Sequence[Verdict]) -> dict[str, int]:
    """How many findings are in each state; rules tried beside others do not count by themselves."""
    found = Counter(v.state for v in verdicts if not v.alternative)
    return {state: found.get(state, 0) for state in STATES}


def finding_rows(
    verdicts: Sequence[Verdict], states: Collection[str], words: str = "", also: Key | None = None
) -> list[FindingRow]:
    """The rows to show.

    ``states``: states that are shown. ``words``: every word must occur in the row, upper or lower case alike. ``also``:
    a finding that is shown whatever the filters say. The rules tried beside others follow the summary of their item;
    those without a summary in the list come last.
    """
    wanted = [w.casefold() for w in words.split()]
    summaries = [v for v in verdicts if not v.alternative]
    by_subject: dict[str, list[int]] = {}
    for number, v in enumerate(summaries):
        by_subject.setdefault(v.subject, []).append(number)
    tried: dict[int | None, list[Verdict]] = {}
    for v in verdicts:
        if v.alternative and v.state != "not_applicable":
            tried.setdefault(_summary_of(v, summaries, by_subject.get(v.subject, [])), []).append(v)
    rows: list[FindingRow] = []
    for number in sorted(range(len(summaries)), key=lambda n: STATES.index(summaries[n].state)):
        under = [FindingRow(v, True) for v in tried.pop(number, [])]
        summary = FindingRow(summaries[number], sums_up=bool(under))
        if also is not None and any(row.key == also for row in (summary, *under)):
            rows += [summary, *under]
            continue
        if summary.verdict.state not in states:
            continue
        if _matches(summary, wanted):
            rows += [summary, *under]
        else:
            rows += [r for r in under if _matches(r, wanted)] and [summary, *(r for r in under if _matches(r, wanted))]
    for rest in tried.get(None, []):
        row = FindingRow(rest, under=True, alone=True)
        if row.key == also or (rest.state in states and _matches(row, wanted)):
            rows.append(row)
    return rows


def _matches(row: FindingRow, words: list[str]) -> bool:
    text = row.spoken.casefold()
    return all(w in text for w in words)


def _summary_of(verdict: Verdict, summaries: list[Verdict], candidates: list[int]) -> int | None:
    """The finding that a tried rule belongs to: of the same item, with a rule that its own begins with ("PV-1" of
    "PV-1a"), else the deciding rule of its family ("TAP-0" of "TAP-25")."""
    decides = f"{verdict.rule.split('-')[0]}-0"
    best: int | None = None
    for number in candidates:
        rule = summaries[number].rule
        if verdict.rule != rule and verdict.rule.startswith(rule):
            return number
        if rule == decides:
            best = number
    return best
