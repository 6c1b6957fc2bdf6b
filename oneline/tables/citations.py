"""Section numbers of each rule in each edition."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from oneline.model.vocabulary import EDITIONS
from oneline.tables.source import NotInTable, find, rows

_CITATIONS = "citations"
NOT_CONFIRMED = " (not confirmed for this edition)"


@dataclass(frozen=True)
class Citation:
    """Where a rule stands in an edition; ``confirmed`` false: the number could not be supported for it."""

    rule: str
    edition: int
    section: str
    confirmed: bool
    note: str = ""

    @property
    def text(self) -> str:
        """The section as printed, with a remark when it is not confirmed."""
        return self.section if self.confirmed else self.section + NOT_CONFIRMED

    def __str__(self) -> str:
        return self.text


@cache
def citation(rule: str, edition: int) -> Citation:
    """The citation of a rule ("TAP-10", "TABLE-ampacity", ...) in an edition. Raises ``NotInTable``."""
    if edition not in EDITIONS:
        raise NotInTable(f"{_CITATIONS}.csv", f"edition {edition}")
    row = find(_CITATIONS, ("rule", "edition"), rule, str(edition))
    return Citation(rule, edition, row["section"], row["confirmed"] == "yes", row["note"])


def cited_rules() -> tuple[str, ...]:
    """All rule ids of citations.csv, in its order."""
    return tuple(dict.fromkeys(row["rule"] for row in rows(_CITATIONS)))
