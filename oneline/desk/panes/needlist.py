"""The field-check list: what to find out in the building, the facts that settle most first."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field

from oneline import tables
from oneline.model import Bus, Drawing, Project
from oneline.study import StudyResult


@dataclass
class Need:
    """One fact to find out: how many findings wait for it, and at how many points a figure does."""

    phrase: str
    item: str
    findings: int = 0
    figures: int = 0

    @property
    def weight(self) -> tuple[int, int]:
        return (self.findings, self.figures)


#: How the needs begin that one assumption for the whole drawing settles, by field of the project.
_ASSUMABLE = {
    "assumed_ambient_c": ("ambient temperature along ", "ampacity_ambient_c"),
    "assumed_current_carrying": ("number of current-carrying conductors ", "ampacity_conductors"),
}


@dataclass(frozen=True)
class Assumption:
    """One value that can be assumed wherever it is not entered: the project's field, and what it would settle.

    ``value`` is the condition that the ampacity table is made for. ``needs``: facts that would then be assumed;
    ``findings``: findings that wait for one of them.
    """

    field: str
    value: float
    needs: int
    findings: int

    @property
    def stored(self) -> float | int:
        """The value as the project keeps it: a count is a whole number."""
        return int(self.value) if self.field == "assumed_current_carrying" else self.value

    @property
    def what(self) -> str:
        """ "30 °C ambient", "3 current-carrying conductors"."""
        return _assumed_what(self.field, self.value)


def _assumed_what(field_name: str, value: float) -> str:
    return f"{value:g} °C ambient" if field_name == "assumed_ambient_c" else f"{value:g} current-carrying conductors"


def assumed_words(project: Project) -> dict[str, str]:
    """What a project assumes for the whole drawing, in words by field."""
    values = {name: getattr(project, name) for name in _ASSUMABLE}
    return {name: _assumed_what(name, value) for name, value in values.items() if value is not None}


def assumptions(result: StudyResult) -> list[Assumption]:
    """What could be assumed for the whole drawing, where more than one fact of a kind is not known."""
    found = []
    for field_name, (begins, limit_id) in _ASSUMABLE.items():
        about = [{n for n in v.needs if n.startswith(begins)} for v in result.verdicts]
        points = [n for p in result.points.values() for n in p.needs if n.startswith(begins)]
        needs = set(points).union(*about)
        if len(needs) > 1:
            value = tables.limit_value(limit_id)
            found.append(Assumption(field_name, value, len(needs), sum(bool(n) for n in about)))
    return found


@dataclass
class NeedGroup:
    """What is not known about one item (``item`` is "" for the drawing as a whole)."""

    item: str
    name: str
    location: str
    needs: list[Need] = field(default_factory=list)


def field_checks(result: StudyResult, drawing: Drawing) -> list[NeedGroup]:
    """Everything not known that a finding or a figure waits for, by item.

    Findings count more than figures. The item that settles most stands first, and within it the fact that settles most.
    A need belongs to the item named in it, else to the item of the finding.
    """
    found: dict[str, Need] = {}
    owner = _Owner(drawing)

    def need(phrase: str, subject: str) -> Need:
        if phrase not in found:
            found[phrase] = Need(phrase, owner.of(phrase, subject))
        return found[phrase]

    for verdict in result.verdicts:
        for phrase in dict.fromkeys(verdict.needs):
            need(phrase, verdict.subject).findings += 1
    for point in result.points.values():
        for phrase in dict.fromkeys(point.needs):
            need(phrase, point.id).figures += 1
    for phrase in result.needs:
        need(phrase, "")
    groups: dict[str, NeedGroup] = {}
    for one in found.values():
        item = drawing.items.get(one.item)
        name = drawing.name_of(one.item) if item else "The drawing"
        place = (item.location or "") if item else ""
        groups.setdefault(one.item, NeedGroup(one.item, name, place)).needs.append(one)
    for group in groups.values():
        group.needs.sort(key=lambda n: (-n.findings, -n.figures))
    return sorted(groups.values(), key=_group_order)


def _group_order(group: NeedGroup) -> tuple[int, int]:
    return (-sum(n.findings for n in group.needs), -sum(n.figures for n in group.needs))


_WORD = re.compile(r"\w+")


class _Owner:
    """Finds the item that a phrase names: the longest name on the drawing, of an item or of a circuit, that stands in it.

    Names are looked up by their words, so that a phrase costs the same on a small drawing and on a large one.
    """

    def __init__(self, drawing: Drawing) -> None:
        self._drawing = drawing
        names: dict[str, list[str]] = {}
        for item_id in drawing.items:
            names.setdefault(drawing.name_of(item_id), []).append(item_id)
        for bus in drawing.of(Bus):
            for circuit in bus.circuits:
                if len(circuit.description) > 3:
                    names.setdefault(circuit.description, []).append(bus.id)
        self._by_words: dict[tuple[str, ...], list[tuple[str, list[str]]]] = {}
        for name, ids in names.items():
            words = tuple(_WORD.findall(name))
            if words and len(name) >= 2:
                self._by_words.setdefault(words, []).append((name, ids))
        self._most_words = max((len(words) for words in self._by_words), default=0)

    def of(self, phrase: str, fallback: str) -> str:
        """Id of the item that the phrase names; ``fallback`` when it names none, or several things are called so."""
        best, found = "", [fallback]
        words = tuple(_WORD.findall(phrase))
        for start in range(len(words)):
            for end in range(start + 1, min(start + self._most_words, len(words)) + 1):
                for name, ids in self._by_words.get(words[start:end], ()):
                    if len(name) > len(best) and _stands_in(name, phrase):
                        best, found = name, ids
        if fallback in found or found[0] not in self._drawing:
            return fallback if fallback in self._drawing else ""
        return found[0]


def _stands_in(name: str, phrase: str) -> bool:
    start = phrase.find(name)
    while start >= 0:
        end = start + len(name)
        before, after = phrase[max(start - 1, 0) : start], phrase[end : end + 1]
        if not before.isalnum() and not after.isalnum() and after != "-":
            return True
        start = phrase.find(name, start + 1)
    return False


def settles(need: Need) -> str:
    """ "3 findings", or "1 point" where only figures wait for it."""
    return counted(need.findings, "finding") or counted(need.figures, "point")


def counted(number: int, noun: str) -> str:
    """ "3 findings", "1 finding", "" for none."""
    return f"{number} {noun}{'' if number == 1 else 's'}" if number else ""


def as_text(groups: Iterable[NeedGroup], project: Project, caution: str) -> str:
    """The list to take back into the room: a box to tick and a line to write on for every fact."""
    lines = [f"Field checks: {project.title or 'untitled drawing'}"]
    if project.address:
        lines.append(project.address)
    for group in groups:
        where = f" ({group.location})" if group.location else ""
        lines += ["", f"{group.name}{where}"]
        for need in group.needs:
            settled = settles(need)
            lines.append(f"  [ ] {need.phrase}{f' - settles {settled}' if settled else ''}: ____________")
    lines += ["", caution]
    return "\n".join(lines) + "\n"
