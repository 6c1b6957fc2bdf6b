"""The field-check list: what to find out in the building, the facts that settle most first."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from oneline import tables
from oneline.model import Project
from oneline.study import StudyResult
from oneline.study.fieldchecks import Need, NeedGroup, counted, field_checks, settles

__all__ = [
    "Assumption", "Need", "NeedGroup", "as_text", "assumed_words", "assumptions", "counted", "field_checks", "settles",
]  # fmt: skip

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
