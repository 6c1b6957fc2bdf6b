"""Planned outages of a file: read as strictly as items.

What is dead must never be computed for less than what was chosen, so a zone whose list of items cannot be read as a whole
is left out and reported. Items that are not in the file stay in the list and are reported: the zone is not complete.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from oneline.files import rows
from oneline.files.problems import Problem
from oneline.files.values import is_id, shown
from oneline.model import WorkZone

MAX_ZONES = 1000
LEFT_OUT = "A planned outage was left out"
AGAIN = "Plan it again, or open an earlier saved version."
_NAMED = 5


@dataclass(frozen=True)
class Place:
    """The file the zones stand in. ``line``: line of a zone by its index, where it can be said."""

    source: str
    line: Callable[[int], int | None]
    problems: list[Problem]
    newer: bool


def read_zones(raw: Any, place: Place, there: set[str]) -> tuple[WorkZone, ...]:
    """The planned outages, without those that cannot be read. ``there``: ids of all items in the file."""
    if not isinstance(raw, list) or len(raw) > MAX_ZONES:
        why = f"It says {shown(raw)}; a list of at most {MAX_ZONES} is needed. All were left out."
        _whole(place).report("The planned outages cannot be read", why, AGAIN)
        return ()
    found: dict[str, WorkZone] = {}
    for index, one in enumerate(raw):
        at = _spot(place, index, one)
        try:
            zone = _zone(one, at)
        except rows.Unreadable as bad:
            at.report(LEFT_OUT, f"{bad}", AGAIN)
            continue
        if zone.id in found or zone.id in there:
            whose = "an item" if zone.id in there else "another planned outage"
            why = f"The id {zone.id} belongs to {whose} too. This one was left out."
            at.report("Two planned outages have the same id", why, AGAIN)
            continue
        found[zone.id] = zone
        _look_for(zone, there, at)
    return tuple(found.values())


def _zone(raw: Any, at: rows.Spot) -> WorkZone:
    if not isinstance(raw, dict):
        raise rows.Unreadable(f"It is {shown(raw)} where an object is needed.")
    if not is_id(raw.get("id")):
        raise rows.Unreadable(f"Its id is {shown(raw.get('id'))}; letters, digits and - _ . : are possible.")
    return WorkZone(id=raw["id"], **rows.read_object(WorkZone, raw, at, known=("id",)))


def _look_for(zone: WorkZone, there: set[str], at: rows.Spot) -> None:
    missing = [item for item in dict.fromkeys(zone.items) if item not in there]
    if not missing:
        return
    some = ", ".join(missing[:_NAMED]) + (f" and {len(missing) - _NAMED} more" if len(missing) > _NAMED else "")
    why = f"It names {some}, and the file has no such item. Nothing can be said of that part of the work."
    todo = "Choose again what is worked on."
    at.report("A planned outage names items that are not there", why, todo, "items", lasting=True)


def _whole(place: Place) -> rows.Spot:
    return rows.Spot(place.source, "", lambda: None, place.problems, place.newer)


def _spot(place: Place, index: int, raw: Any) -> rows.Spot:
    zone_id = raw.get("id") if isinstance(raw, dict) else None
    name = raw.get("name") if isinstance(raw, dict) else None
    words = shown(name).strip('"') if isinstance(name, str) and name else ""
    own = str(zone_id) if is_id(zone_id) else ""
    who = f"{words} ({own})" if words and own else words or own or "planned outage"
    return rows.Spot(who, "", lambda: place.line(index), place.problems, place.newer)
