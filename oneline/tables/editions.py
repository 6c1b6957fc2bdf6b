"""Parts of rules that do not apply in every edition."""

from __future__ import annotations

from functools import cache

from oneline.model.vocabulary import EDITIONS
from oneline.tables.source import NotInTable, find, number, optional_number

_STARTS = "edition_starts"


@cache
def since(id: str) -> int:
    """First edition in which this part of a rule applies. Raises ``NotInTable``."""
    return int(number(find(_STARTS, ("id",), id), "since", _STARTS))


@cache
def applies(id: str, edition: int) -> bool:
    """Whether this part of a rule applies in an edition. Raises ``NotInTable``."""
    if edition not in EDITIONS:
        raise NotInTable(f"{_STARTS}.csv", f"edition {edition}")
    until = optional_number(find(_STARTS, ("id",), id)["until"])
    return since(id) <= edition and (until is None or edition <= until)
