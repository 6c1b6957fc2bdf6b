"""The drawing: an immutable set of items. Every edit makes a new drawing; the one before is the undo."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from types import MappingProxyType
from typing import Any, TypeVar

from oneline.model.fields import fact, specs
from oneline.model.items import Bus, Circuit, Connection, Item
from oneline.model.plans import WorkZone
from oneline.model.vocabulary import EDITIONS, VIEW_STATUSES

_EMPTY: Mapping[str, Any] = MappingProxyType({})
ItemT = TypeVar("ItemT", bound=Item)


@dataclass(frozen=True)
class Project:
    """What the title block says, and the edition of the code the drawing is studied under."""

    title: str = fact("Building", "text", default="")
    address: str = fact("Address", "text", default="")
    sheet_number: str = fact("Sheet number", "text", default="")
    prepared_by: str = fact("Prepared by", "text", default="")
    contractor: str = fact("Contractor", "text", default="")
    license_no: str = fact("License number", "text", default="")
    phone: str = fact("Phone", "text", default="")
    permit_no: str = fact("Permit number", "text", default="")
    verified_by: str = fact("Verified in the field by", "text", default="")
    as_of: str | None = fact("As of", "date")
    #: Stated once for the whole drawing, for runs where it was not entered; whatever rests on it says "assumed".
    assumed_ambient_c: float | None = fact(
        "Ambient assumed where not entered",
        "temperature_c",
        group="Assumptions",
        help="Used for every run without its own ambient temperature. Findings that rest on it say so.",
    )
    assumed_current_carrying: int | None = fact(
        "Current-carrying conductors assumed where not entered",
        "count",
        low=1,
        group="Assumptions",
        help="Used for every raceway without its own count. Findings that rest on it say so.",
    )
    edition: int = 2023
    extra: Mapping[str, Any] = field(default_factory=lambda: _EMPTY)

    def __post_init__(self) -> None:
        if self.edition not in EDITIONS:
            raise ValueError(f"edition {self.edition} is not one of {EDITIONS}")


class ByClass:
    """Items by their class, each class in drawing order; what is asked for is found once."""

    def __init__(self, items: Iterable[Item]) -> None:
        self._items = items
        self._exact: dict[type[Item], list[Item]] = {}
        for item in items:
            self._exact.setdefault(type(item), []).append(item)
        self._found: dict[type[Item], Sequence[Item]] = {}

    def of(self, cls: type[Item]) -> Sequence[Item]:
        """Items of a class and of those derived from it."""
        found = self._found.get(cls)
        if found is None:
            kinds = [kind for kind in self._exact if issubclass(kind, cls)]
            if len(kinds) > 1:
                found = [item for item in self._items if isinstance(item, cls)]
            else:
                found = self._exact[kinds[0]] if kinds else ()
            self._found[cls] = found
        return found


@dataclass(frozen=True)
class Drawing:
    """Items by id, in insertion order, and the project's data.

    ``next_number`` only ever grows, so ids are never reused, not even after a deletion.
    """

    project: Project = field(default_factory=Project)
    items: Mapping[str, Item] = field(default_factory=lambda: _EMPTY)
    next_number: int = 1
    #: Outages that are planned, in the order in which they were made.
    zones: tuple[WorkZone, ...] = ()
    extra: Mapping[str, Any] = field(default_factory=lambda: _EMPTY)

    def __len__(self) -> int:
        return len(self.items)

    def __contains__(self, item_id: object) -> bool:
        return item_id in self.items

    def get(self, item_id: str) -> Item:
        """The item; raises ``KeyError`` with the id when there is none."""
        return self.items[item_id]

    def of(self, cls: type[ItemT]) -> Iterator[ItemT]:
        """All items of a class, in drawing order."""
        return iter(self._sorted.of(cls))  # type: ignore[arg-type]

    @cached_property
    def _sorted(self) -> ByClass:
        return ByClass(self.items.values())

    def set_in(self, cls: type[ItemT], field_name: str) -> Iterator[ItemT]:
        """Items of a class in which a field is neither unknown nor empty, in drawing order."""
        return (item for item in self.of(cls) if getattr(item, field_name))

    def connections(self) -> Iterator[Connection]:
        return self.of(Connection)

    def connections_of(self, item_id: str) -> list[Connection]:
        """Connections that end at the item, in drawing order."""
        return [self.items[i] for i in self._ending_at.get(item_id, ())]  # type: ignore[misc]

    @cached_property
    def _ending_at(self) -> Mapping[str, tuple[str, ...]]:
        return connections_by_end(self.items.values())

    def zone(self, zone_id: str) -> WorkZone:
        """The planned outage; raises ``KeyError`` with the id when there is none."""
        for zone in self.zones:
            if zone.id == zone_id:
                return zone
        raise KeyError(zone_id)

    def with_zone(self, zone: WorkZone) -> Drawing:
        """A drawing with a planned outage added, or replaced by id."""
        zones = [zone if z.id == zone.id else z for z in self.zones]
        return replace(self, zones=tuple(zones if zone in zones else [*zones, zone]))

    def without_zone(self, zone_id: str) -> Drawing:
        return replace(self, zones=tuple(z for z in self.zones if z.id != zone_id))

    def name_of(self, item_id: str) -> str:
        """The item's name, or a readable stand-in where it has none."""
        item = self.items.get(item_id)
        if item is None:
            return item_id
        if item.name:
            return item.name
        if isinstance(item, Connection):
            ends = [self.items[e.item] for e in (item.a, item.b) if e is not None and e.item in self.items]
            named = [e.name or f"{e.title} {e.id}" for e in ends]
            return f"{item.title} {' to '.join(named)}" if named else f"{item.title} {item.id}"
        return f"{item.title} {item.id}"

    def with_items(self, changed: Iterable[Item] = (), removed: Iterable[str] = ()) -> Drawing:
        """A drawing with items added or replaced (by id) and others removed. Does not check references."""
        items = dict(self.items)
        for item_id in removed:
            items.pop(item_id, None)
        for item in changed:
            items[item.id] = item
        return replace(self, items=MappingProxyType(items))

    def fresh_id(self, kind: str) -> tuple[str, Drawing]:
        """An id that was never used, and the drawing that remembers it."""
        number = self.next_number
        taken = {*self.items, *(zone.id for zone in self.zones)}
        while f"{kind}{number}" in taken:
            number += 1
        return f"{kind}{number}", replace(self, next_number=number + 1)

    def view(self, view: str) -> Drawing:
        """The drawing as the view sees it: items (and circuits) of the view's statuses, loose connections dropped."""
        keep = VIEW_STATUSES[view]
        items: dict[str, Item] = {}
        for item in self.items.values():
            if item.status not in keep:
                continue
            if isinstance(item, Bus) and any(c.status not in keep for c in item.circuits):
                item = replace(item, circuits=tuple(c for c in item.circuits if c.status in keep))
            items[item.id] = item
        for item in list(items.values()):
            if isinstance(item, Connection):
                ends = (item.a,) if item.b is None else (item.a, item.b)
                if any(e.item not in items for e in ends):
                    del items[item.id]
        return replace(self, items=MappingProxyType(items))


def connections_by_end(items: Iterable[Item]) -> dict[str, tuple[str, ...]]:
    """Ids of the connections that end at an item, by the item's id."""
    found: dict[str, list[str]] = {}
    for item in items:
        if isinstance(item, Connection):
            for end in dict.fromkeys((item.a.item, item.a.item if item.b is None else item.b.item)):
                found.setdefault(end, []).append(item.id)
    return {end: tuple(ids) for end, ids in found.items()}


def unknown_fields(item: Item) -> list[str]:
    """Names of the item's fields that are still unknown."""
    return [name for name in specs(type(item)) if getattr(item, name) is None]


def basis_of(item: Item, *names: str) -> str:
    """The weakest basis of the named fields: "assumed" before "entered" before documents, measured, nameplate."""
    order = ("assumed", "entered", "documents", "measured", "nameplate")
    found = [item.basis.get(n, "entered") for n in names]
    return min(found, key=order.index) if found else "entered"


def circuit_spaces(circuit: Circuit) -> tuple[int, ...]:
    """Space numbers a circuit takes: every second number from its first (odd left, even right)."""
    return tuple(circuit.space + 2 * k for k in range(circuit.poles))
