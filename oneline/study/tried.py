"""What was tried for the findings of a drawing: remedies of those that fail, bounds of those that are not known."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from oneline.model import Drawing
from oneline.rules.verdict import Verdict
from oneline.study.bounds import Bounds, find_bounds
from oneline.study.remedies import REMEDIABLE, Remedies, agrees, find_remedies
from oneline.study.trials import Steps, Trials, finish


@dataclass(frozen=True)
class Tried:
    """What was found for one finding: remedies where it fails or is to be judged, bounds where it is not known."""

    verdict: Verdict
    remedies: Remedies | None = None
    bounds: Bounds | None = None

    @property
    def text(self) -> str:
        """The rule's own words on what would help, as far as they agree with what was tried."""
        if self.remedies is None or agrees(self.verdict.remedy, self.remedies):
            return self.verdict.remedy
        return ""

    @property
    def lines(self) -> tuple[str, ...]:
        """What was found, as sentences."""
        if self.remedies is not None:
            found = [r.sentence for r in self.remedies.found]
            return tuple(found) or ((self.remedies.summary,) if self.verdict.state == "fail" else ())
        return tuple(f"{b.text[:1].upper()}{b.text[1:]}." for b in self.bounds.found) if self.bounds else ()


def wanted(verdict: Verdict) -> bool:
    """Whether anything can be tried for a finding."""
    return verdict.state in (*REMEDIABLE, "unknown") and not verdict.alternative


def try_for(trials: Trials, verdict: Verdict) -> Steps[Tried]:
    """Remedies or bounds of one finding. Pauses often; ``trials.finish`` runs it to its end."""
    if verdict.state == "unknown":
        bounds = yield from find_bounds(trials, verdict)
        return Tried(verdict, bounds=bounds)
    remedies = yield from find_remedies(trials, verdict)
    return Tried(verdict, remedies=remedies)


def try_all(drawing: Drawing, verdicts: Iterable[Verdict], view: str, edition: int | None = None) -> list[Tried]:
    """Remedies and bounds of all findings that are open, in their order. Takes a second or so for each that fails."""
    trials = Trials(drawing, view, edition)
    return [finish(try_for(trials, v)) for v in verdicts if wanted(v)]
