"""Edits as pure functions: a drawing in, a drawing out. Each refuses with ``EditRefused`` instead of breaking it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import fields, replace
from types import MappingProxyType
from typing import Any

from oneline.model.checked import objection
from oneline.model.drawing import Drawing
from oneline.model.items import (
    KINDS,
    Bus,
    ConductorRun,
    Connection,
    Disconnect,
    End,
    Item,
    Joint,
    Place,
    SuspectedTie,
    TransferSwitch,
)


class EditRefused(ValueError):
    """The edit makes no sense on this drawing; the text says what, why and what to do."""


def add(drawing: Drawing, kind: str, **values: Any) -> tuple[Drawing, str]:
    """Add an item of a kind. Returns the drawing and the new id. An empty name gets the next free default name."""
    cls = KINDS[kind]
    _check_values(cls, values)
    item_id, drawing = drawing.fresh_id(kind)
    item = cls(id=item_id, **values)
    if isinstance(item, Connection):
        _check_ends(drawing, item)
    elif not item.name:
        item = replace(item, name=free_name(drawing, item.title))
    return drawing.with_items([item]), item_id


def free_name(drawing: Drawing, wanted: str) -> str:
    """``wanted``, or ``wanted`` with the first number that makes it differ from every name in the drawing."""
    taken = {item.name for item in drawing.items.values()}
    if wanted not in taken and re.search(r"\d$", wanted):
        return wanted
    stem = re.sub(r"[\s-]*\d+$", "", wanted) or wanted
    n = 1
    while f"{stem} {n}" in taken:
        n += 1
    return f"{stem} {n}"


def change(drawing: Drawing, item_id: str, **values: Any) -> Drawing:
    """Replace fields of one item. A changed field loses its old basis unless ``basis`` is given too."""
    item = drawing.get(item_id)
    allowed = {f.name for f in fields(item)} - {"id"}
    strange = set(values) - allowed
    if strange:
        raise EditRefused(f"{item.title} has no field {', '.join(sorted(strange))}.")
    _check_values(type(item), values)
    if "basis" not in values:
        stale = [n for n in values if n in item.basis and values[n] != getattr(item, n)]
        if stale:
            values["basis"] = MappingProxyType({k: v for k, v in item.basis.items() if k not in stale})
    new = replace(item, **values)
    if isinstance(new, Connection):
        _check_ends(drawing, new)
    return drawing if new == item else drawing.with_items([new])


def set_basis(drawing: Drawing, item_id: str, field: str, basis: str | None) -> Drawing:
    """Say where a field's value comes from; ``None`` takes the statement back."""
    item = drawing.get(item_id)
    entries = {k: v for k, v in item.basis.items() if k != field}
    if basis is not None:
        entries[field] = basis
    return drawing.with_items([replace(item, basis=MappingProxyType(entries))])


def remove(drawing: Drawing, item_ids: Iterable[str]) -> Drawing:
    """Remove items and every connection that ends at one of them.

    A panel's line for a removed feeder stays, as one of which nobody said yet what it feeds. Planned outages stay and lose
    the item from what is worked on; records of locks and tests are left as they were written.
    """
    gone = set(item_ids)
    for conn in drawing.connections():
        ends = (conn.a,) if conn.b is None else (conn.a, conn.b)
        if any(e.item in gone for e in ends):
            gone.add(conn.id)
    changed: list[Item] = []
    for bus in drawing.of(Bus):
        if bus.id not in gone and any(c.feeds in gone for c in bus.circuits):
            changed.append(bus.without_feeders(gone))
    zones = [z for z in drawing.zones if gone & {*z.items}]
    for zone in zones:
        drawing = drawing.with_zone(replace(zone, items=tuple(i for i in zone.items if i not in gone)))
    return drawing.with_items(changed, gone)


def move(drawing: Drawing, places: Mapping[str, Place]) -> Drawing:
    """Put items at new places. Bends of runs between two moved items move along when both shift alike."""
    changed: dict[str, Item] = {}
    shift: dict[str, tuple[float, float]] = {}
    for item_id, place in places.items():
        item = drawing.get(item_id)
        if item.place is not None:
            shift[item_id] = (place.x - item.place.x, place.y - item.place.y)
        changed[item_id] = replace(item, place=place)
    for conn in drawing.connections():
        if conn.bends and conn.b is not None and conn.a.item in shift and shift.get(conn.b.item) == shift[conn.a.item]:
            dx, dy = shift[conn.a.item]
            changed[conn.id] = replace(conn, bends=tuple(Place(p.x + dx, p.y + dy) for p in conn.bends))
    return drawing.with_items(changed.values())


def connect(drawing: Drawing, a: End, b: End, **values: Any) -> tuple[Drawing, str]:
    """Join two terminals. Between a bus and a device it is a bolted joint, otherwise a conductor run.

    Pass ``kind="run"``, ``"joint"`` or ``"tie"`` to choose. Raises ``EditRefused`` where it makes no sense.
    """
    kind = values.pop("kind", None)
    if kind is None:
        kinds = {drawing.get(a.item).kind, drawing.get(b.item).kind}
        kind = "joint" if "bus" in kinds and kinds & {"disconnect", "transfer", "meter"} else "run"
    for conn in drawing.connections():
        if kind != "run" and conn.kind == kind and {conn.a, conn.b} == {a, b}:
            raise EditRefused(
                f"{drawing.name_of(a.item)} and {drawing.name_of(b.item)} are already joined there. Nothing was added."
            )
    return add(drawing, kind, a=a, b=b, **values)


def split_run(drawing: Drawing, run_id: str, item_id: str) -> tuple[Drawing, str]:
    """Put a placed two-ended item (or a bus) into a run. The first part keeps the run's id; the second is new.

    Both lengths become unknown, because nobody measured the parts; the notes keep the length of the whole.
    """
    run = drawing.get(run_id)
    item = drawing.get(item_id)
    if not isinstance(run, ConductorRun | Joint):
        raise EditRefused(f"{drawing.name_of(run_id)} is not a line that can be split.")
    if drawing.connections_of(item_id):
        raise EditRefused(f"{drawing.name_of(item_id)} is already connected. Take its connections off first.")
    if len(item.terminals) == 2:
        first, second = item.terminals
    elif isinstance(item, TransferSwitch):
        first, second = "normal", "load"
    elif isinstance(item, Bus):
        first = second = "bus"
    else:
        raise EditRefused(f"{item.title} has one end only and cannot be put into a line.")
    upper, lower = End(item_id, first), End(item_id, second)
    if isinstance(run, Joint):
        drawing = drawing.with_items([replace(run, b=upper, bends=())])
        return add(drawing, "run" if not isinstance(item, Bus) else "joint", a=lower, b=run.b, status=item.status)
    values: dict[str, Any] = {f.name: getattr(run, f.name) for f in fields(run)}
    for name in ("id", "a", "b", "name", "bends", "readings", "voltages", "extra"):
        values.pop(name)
    if run.length_ft is not None:
        values["notes"] = (
            run.notes + "\n" if run.notes else ""
        ) + f"Before it was split the run was {run.length_ft:g} ft."
    values["length_ft"] = None
    values["basis"] = MappingProxyType({k: v for k, v in run.basis.items() if k != "length_ft"})
    upper_part = replace(run, b=upper, bends=(), length_ft=None, notes=values["notes"], basis=values["basis"])
    drawing = drawing.with_items([upper_part])
    return add(drawing, "run", a=lower, b=run.b, **values)


def operate(drawing: Drawing, item_id: str) -> Drawing:
    """Open a closed disconnect, close an open one, move a transfer switch to its next position."""
    item = drawing.get(item_id)
    if isinstance(item, Disconnect):
        return drawing.with_items([replace(item, closed=not item.closed)])
    if isinstance(item, TransferSwitch):
        order = {"normal": "off", "off": "alternate", "alternate": "normal"}
        return drawing.with_items([replace(item, position=order[item.position])])
    raise EditRefused(f"{drawing.name_of(item_id)} has no positions to switch.")


def _check_values(cls: type[Item], values: Mapping[str, Any]) -> None:
    why = objection(cls, values)
    if why is not None:
        raise EditRefused(why)


def _check_ends(drawing: Drawing, conn: Connection) -> None:
    ends = [conn.a] if conn.b is None else [conn.a, conn.b]
    if conn.b is None and not isinstance(conn, SuspectedTie):
        raise EditRefused("A connection needs two ends.")
    for end in ends:
        item = drawing.items.get(end.item)
        if item is None:
            raise EditRefused(f"There is no item {end.item} to connect to.")
        if end.terminal not in item.terminals:
            raise EditRefused(f"{drawing.name_of(end.item)} has no terminal {end.terminal!r}.")
    if conn.b is not None and conn.a == conn.b:
        raise EditRefused(f"Both ends are at the same terminal of {drawing.name_of(conn.a.item)}.")
    if conn.b is not None and conn.a.item == conn.b.item:
        raise EditRefused(f"Both ends are at {drawing.name_of(conn.a.item)}. Connect it to something else.")
