"""Edits of planned outages: each makes a new drawing of an old one. The panes name the steps."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from oneline.model import (
    Disconnect,
    Drawing,
    Item,
    LockRecord,
    Reading,
    StepMark,
    SuspectedTie,
    TransferSwitch,
    VoltageTest,
    WorkZone,
)
from oneline.model.edits import EditRefused


def new_zone(drawing: Drawing, items: Iterable[str], name: str = "") -> tuple[Drawing, str]:
    """A work zone of some items, and its id."""
    zone_id, after = drawing.fresh_id("zone")
    chosen = tuple(dict.fromkeys(i for i in items if i in drawing))
    return after.with_zone(WorkZone(id=zone_id, name=name or _named(drawing, chosen), items=chosen)), zone_id


def _named(drawing: Drawing, items: Sequence[str]) -> str:
    """A name to begin with: what is worked on."""
    if not items:
        return f"Work {len(drawing.zones) + 1}"
    more = f" and {len(items) - 1} more" if len(items) > 1 else ""
    return f"Work on {drawing.name_of(items[0])}{more}"


def change_zone(drawing: Drawing, zone_id: str, **values: Any) -> Drawing:
    """A zone with fields changed."""
    return drawing.with_zone(replace(drawing.zone(zone_id), **values))


def add_items(drawing: Drawing, zone_id: str, items: Iterable[str]) -> Drawing:
    """More items in a zone. What was arranged by hand for other items is kept; the plan says where it no longer holds."""
    zone = drawing.zone(zone_id)
    return change_zone(drawing, zone_id, items=tuple(dict.fromkeys((*zone.items, *(i for i in items if i in drawing)))))


def remove_items(drawing: Drawing, zone_id: str, items: Iterable[str]) -> Drawing:
    """Fewer items in a zone."""
    gone = set(items)
    return change_zone(drawing, zone_id, items=tuple(i for i in drawing.zone(zone_id).items if i not in gone))


def hang_lock(drawing: Drawing, zone_id: str, lock: LockRecord) -> Drawing:
    """A lock on record, in place of one at the same item."""
    kept = [r for r in drawing.zone(zone_id).locks if r.item != lock.item]
    return change_zone(drawing, zone_id, locks=(*kept, lock))


def take_lock_off(drawing: Drawing, zone_id: str, item: str) -> Drawing:
    """No lock at an item any more; what was verified behind it is verified no longer."""
    return change_zone(drawing, zone_id, locks=tuple(r for r in drawing.zone(zone_id).locks if r.item != item))


def mark_step(drawing: Drawing, zone_id: str, mark: StepMark) -> Drawing:
    """A step that was done, in place of an earlier mark of it."""
    kept = [m for m in drawing.zone(zone_id).marks if m.step != mark.step]
    return change_zone(drawing, zone_id, marks=(*kept, mark))


def unmark_step(drawing: Drawing, zone_id: str, step: str) -> Drawing:
    """A step that was not done."""
    return change_zone(drawing, zone_id, marks=tuple(m for m in drawing.zone(zone_id).marks if m.step != step))


def add_test(drawing: Drawing, zone_id: str, test: VoltageTest) -> Drawing:
    """A test for absence of voltage on record, sealed with the drawing as it is now."""
    from oneline.outage.plan import view_of
    from oneline.outage.states import sealed
    from oneline.study.context import Context

    zone = drawing.zone(zone_id)
    ctx = Context(drawing, view_of(drawing, zone), drawing.project.edition)
    return change_zone(drawing, zone_id, tests=(*zone.tests, sealed(ctx, zone, test)))


def remove_test(drawing: Drawing, zone_id: str, test: VoltageTest) -> Drawing:
    """A test taken off the record."""
    return change_zone(drawing, zone_id, tests=tuple(t for t in drawing.zone(zone_id).tests if t is not test))


def add_readings(drawing: Drawing, readings: Mapping[str, Reading]) -> Drawing:
    """One more clamp reading at each of some items."""
    return drawing.with_items(
        replace(drawing.get(item), readings=(*drawing.get(item).readings, reading))
        for item, reading in readings.items()
    )


def set_positions(drawing: Drawing, positions: Mapping[str, bool]) -> Drawing:
    """The devices of a drawing in positions given by branch key; a suspected tie is left as it is.

    Raises ``EditRefused`` for a key of something that has no positions, or is gone.
    """
    changed: dict[str, Item] = {}
    for key, closed in positions.items():
        item_id, _, side = key.partition("/")
        item = changed.get(item_id) or drawing.items.get(item_id)
        if isinstance(item, Disconnect) and not side:
            changed[item_id] = replace(item, closed=closed)
        elif isinstance(item, TransferSwitch) and side in ("normal", "alternate"):
            if closed:
                changed[item_id] = replace(item, position=side)
            elif item.position == side:
                changed[item_id] = replace(item, position="off")
        elif not isinstance(item, SuspectedTie):
            raise EditRefused(f"{drawing.name_of(item_id)} has no positions to switch.")
    return drawing.with_items(i for i in changed.values() if i != drawing.get(i.id))
