"""What an edit changes: whether the network stays as it is, and which of the figures have to be worked out anew."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields
from itertools import compress
from operator import eq, is_not

from oneline.model import Bus, Circuit, Drawing, Item
from oneline.model.vocabulary import VIEW_STATUSES

#: Fields that say how things are connected, what system arrives where, which way energy can come, and what things are
#: called. An edit of any other field leaves the network as it is.
STRUCTURE = frozenset((
    "id", "name", "status", "a", "b", "form", "phases", "system", "primary_system", "secondary_system", "connection",
    "closed", "normally_open", "position", "automatic", "forms_grid", "interactive_listed", "traced", "service_disconnect",
    "extra",
))  # fmt: skip
#: Fields that say where things stand on the sheet, which no answer depends on.
ON_THE_SHEET = frozenset(("place", "bends", "width"))
#: Fields of a bus that are no load and lead to none.
_NO_LOAD = frozenset((
    "rating_a", "sccr_ka", "terminal_c", "feed_position", "engineered", "maker_tap_provision",
    "line_side_barrier", "breakers_ka", "breakers_series_with", "breakers_series_ka", "let_through_ka", "let_through_by",
    "neutral_bonded", "location", "notes", "readings", "dedicated_clear", "gutter_width_in", "fault_marked_ka",
    "fault_marked_on",
))  # fmt: skip
#: Fields of a source or a meter that say what the load behind it is, or how it is calculated.
_OF_WHOLE_LOAD = frozenset(("demand", "area_ft2", "occupancy", "load_calculation", "dwelling_units"))
#: Fields of a device that say which spaces of a panel it takes.
_OF_SPACES = frozenset(("space", "poles"))
#: Fields of a run from which no impedance follows.
_NO_IMPEDANCE = frozenset((
    "insulation", "raceway_size", "current_carrying", "ambient_c", "wet", "outdoors", "leaves_enclosure", "terminal_c",
    "location", "notes", "readings",
))  # fmt: skip


@dataclass(frozen=True)
class Change:
    """One item before and after an edit that left the network as it is. ``names``: of the fields that changed."""

    before: Item
    after: Item
    names: frozenset[str]

    @property
    def of_load(self) -> bool:
        """Whether loads may change by it."""
        kind = self.after.kind
        if kind == "bus":
            return not self.names <= _NO_LOAD
        return kind in ("load", "service", "generator", "meter", "solar", "battery", "disconnect", "transfer") and (
            kind in ("load", "solar", "battery")
            or bool(self.names & _OF_WHOLE_LOAD)
            or _recorded(self.after)
            or (kind == "disconnect" and bool(self.names & _OF_SPACES))
        )

    @property
    def of_impedance(self) -> bool:
        """Whether impedances or sources may change by it, or what is known of them."""
        kind = self.after.kind
        if kind == "run":
            return not self.names <= _NO_IMPEDANCE
        return kind in ("transformer", "service", "generator", "solar", "battery")


def _recorded(item: Item) -> bool:
    return bool(getattr(item, "demand", ()))


def changes(old: Drawing, new: Drawing, view: str) -> dict[str, Change] | None:
    """Items that an edit changed, as the view sees them; ``None`` where the network may have changed by it."""
    if old.project != new.project or len(old.items) != len(new.items) or not all(map(eq, old.items, new.items)):
        return None
    found: dict[str, Change] = {}
    keep = VIEW_STATUSES[view]
    for one in list(compress(old.items, map(is_not, old.items.values(), new.items.values()))):
        before, after = old.items[one], new.items[one]
        names = changed_fields(before, after)
        if names is None or names & STRUCTURE:
            return None
        if names - ON_THE_SHEET:
            if isinstance(before, Bus) and isinstance(after, Bus) and not _same_devices(before, after):
                return None
            seen, now = as_viewed(before, keep), as_viewed(after, keep)
            found[one] = Change(seen, now, names - ON_THE_SHEET)
    return found


def changed_fields(before: Item, after: Item) -> frozenset[str] | None:
    """Names of the fields in which two items of one kind differ; ``None`` where they are of different kinds."""
    if type(before) is not type(after):
        return None
    return frozenset(n for n in _names(type(before)) if getattr(before, n) != getattr(after, n))


def _names(cls: type[Item]) -> tuple[str, ...]:
    if cls not in _NAMES:
        _NAMES[cls] = tuple(f.name for f in fields(cls))
    return _NAMES[cls]


_NAMES: dict[type[Item], tuple[str, ...]] = {}


def _same_devices(before: Bus, after: Bus) -> bool:
    """Whether the lines of a schedule that stand for drawn devices are as they were."""
    return _devices(before.circuits) == _devices(after.circuits)


def _devices(circuits: Iterable[Circuit]) -> list[tuple[str | None, int, str]]:
    return [(c.feeds, c.space, c.use) for c in circuits if c.use == "feeder" or c.feeds]


def as_viewed(item: Item, keep: Iterable[str]) -> Item:
    """An item of a view: a bus without the circuits of other statuses."""
    if isinstance(item, Bus) and any(c.status not in keep for c in item.circuits):
        from dataclasses import replace

        return replace(item, circuits=tuple(c for c in item.circuits if c.status in keep))
    return item


def items_of(found: Mapping[str, Change]) -> dict[str, Item]:
    """The changed items as they are now."""
    return {item_id: change.after for item_id, change in found.items()}


def same_view(old: Drawing, new: Drawing, view: str) -> bool:
    """Whether an edit leaves the answers for a view as they were: new work changes nothing in the existing one.

    Answers may name what the view leaves out, so nothing that was there before may have another name or be gone.
    """
    if old.project != new.project:
        return False
    for item_id, item in old.items.items():
        now = new.items.get(item_id)
        if now is not item and (now is None or now.name != item.name):
            return False
    before, after = old.view(view), new.view(view)
    if list(before.items) != list(after.items):
        return False
    for item_id, item in after.items.items():
        names = changed_fields(before.items[item_id], item) if before.items[item_id] is not item else frozenset()
        if names is None or names - ON_THE_SHEET:
            return False
    return True
