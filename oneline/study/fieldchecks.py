"""What to find out in the building: each missing fact with the findings that it would decide, the most useful first."""

from __future__ import annotations

from dataclasses import dataclass, field

from oneline.model import Drawing
from oneline.rules.verdict import Verdict
from oneline.study.missing import Missing, Phrases
from oneline.study.results import StudyResult

#: States of findings that a fact may decide.
_OPEN = ("unknown", "judge")
#: Findings about what can hurt somebody: ratings against fault current, what stays live, missing protection, second
#: neutral bonds, sources that meet.
DANGEROUS = (
    "FLT-1", "FLT-2", "FLT-3", "FLT-4", "LIVE", "ISO", "GND-1", "GND-5", "GEN", "TAP-0", "TAP-SEC", "TAP-SVC", "PNL-1",
    "DEC-SIDE", "PV-7",
)  # fmt: skip


@dataclass
class Need:
    """One fact to find out.

    ``decides``: findings for which it is the last that is missing; ``nearer``: findings that wait for it and others;
    ``dangerous``: of both, those about what can hurt somebody; ``figures``: points whose figures wait for it. ``field`` and
    ``space``: the field it stands in, "" where it cannot be tied to one.
    """

    phrase: str
    item: str
    field: str = ""
    space: int | None = None
    decides: int = 0
    nearer: int = 0
    dangerous: int = 0
    figures: int = 0

    @property
    def findings(self) -> int:
        """Findings that wait for it."""
        return self.decides + self.nearer

    @property
    def order(self) -> tuple[bool, int, int, int, int]:
        """What is tied to a field first, then what decides most, then what is dangerous."""
        return (not self.field, -self.decides, -self.dangerous, -self.nearer, -self.figures)


@dataclass
class NeedGroup:
    """What is not known about one item (``item`` is "" for the drawing as a whole)."""

    item: str
    name: str
    location: str
    needs: list[Need] = field(default_factory=list)

    @property
    def order(self) -> tuple[int, int, int, int]:
        """By the best of its facts, then by all of them."""
        best = min(self.needs, key=lambda n: (-n.decides, -n.dangerous))
        return (
            -best.decides, -best.dangerous, -sum(n.findings for n in self.needs), -sum(n.figures for n in self.needs)
        )  # fmt: skip


def field_checks(result: StudyResult, drawing: Drawing) -> list[NeedGroup]:
    """Everything not known that a finding or a figure waits for, by item.

    A need belongs to the item named in it, else to the item of the finding. Several phrases about one field are one
    fact. Rules tried beside others count through their summary.
    """
    found = _Found(drawing)
    for verdict in result.verdicts:
        if not verdict.alternative and verdict.needs:
            found.count(verdict)
    for verdict in result.verdicts:
        if verdict.alternative:
            for phrase in verdict.needs:
                found.need(phrase, verdict.subject)
    for point in result.points.values():
        for one in {id(n): n for n in (found.need(p, point.id) for p in point.needs)}.values():
            one.figures += 1
    for phrase in result.needs:
        found.need(phrase, "")
    return found.groups()


class _Found:
    """Facts so far, by what they are about."""

    def __init__(self, drawing: Drawing) -> None:
        self._drawing = drawing
        self._phrases = Phrases(drawing)
        self._needs: dict[Missing | tuple[str, str], Need] = {}

    def need(self, phrase: str, subject: str) -> Need:
        about = self._phrases.missing(phrase, subject)
        key: Missing | tuple[str, str] = about if about.tied else (about.item, phrase)
        if key not in self._needs:
            self._needs[key] = Need(phrase, about.item, about.field, about.space)
        return self._needs[key]

    def count(self, verdict: Verdict) -> None:
        """Add a finding to each fact that it waits for; two phrases about one field are one fact."""
        waits = list({id(n): n for n in (self.need(p, verdict.subject) for p in verdict.needs)}.values())
        for one in waits:
            if verdict.state not in _OPEN:
                one.figures += 1
                continue
            if len(waits) == 1:
                one.decides += 1
            else:
                one.nearer += 1
            one.dangerous += verdict.rule.startswith(DANGEROUS)

    def groups(self) -> list[NeedGroup]:
        groups: dict[str, NeedGroup] = {}
        for one in self._needs.values():
            item = self._drawing.items.get(one.item)
            name = self._drawing.name_of(one.item) if item else "The drawing"
            place = (item.location or "") if item else ""
            groups.setdefault(one.item, NeedGroup(one.item, name, place)).needs.append(one)
        for group in groups.values():
            group.needs.sort(key=lambda n: n.order)
        return sorted(groups.values(), key=lambda g: g.order)


def counted(number: int, noun: str) -> str:
    """ "3 findings", "1 finding", "" for none."""
    return f"{number} {noun}{'' if number == 1 else 's'}" if number else ""


def settles(need: Need) -> str:
    """ "3 findings", "3 findings, 2 more with others", "2 with others"; "1 point" where only figures wait for it."""
    decides = counted(need.decides, "finding")
    if need.decides and need.nearer:
        return f"{decides}, {need.nearer} more with others"
    if need.nearer:
        return f"{need.nearer} with others"
    return decides or counted(need.figures, "point")
