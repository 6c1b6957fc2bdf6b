"""A panel's directory as data: what is in each space, and the edits of one line of it. Knows no window."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from oneline.model import Bus, Circuit, Disconnect, Drawing, circuit_spaces
from oneline.model.edits import EditRefused
from oneline.model.vocabulary import VIEW_STATUSES
from oneline.study.loads import space_phase

#: Spaces shown where nobody has counted them yet and nothing is entered.
FEW_SPACES = 12
_MOST_SPACES = 200
#: Forms of a bus that have spaces for circuits.
_WITH_CIRCUITS = ("panelboard", "switchboard", "meter center")
#: What may be typed as a description to say that no load is connected.
_USES = {"spare": "spare", "space": "space"}


@dataclass(frozen=True)
class Slot:
    """One space of a panel.

    ``kind``: "empty"; "circuit", the first space of a line of the schedule; "more", a further space of it; "drawn", a
    space taken by a device that is drawn on the sheet. ``circuit``: the line, for the first two. ``item``: id of the
    drawn device. ``poles``: spaces that the device takes, from its first one.
    """

    space: int
    phase: str
    kind: str = "empty"
    circuit: Circuit | None = None
    item: str = ""
    first: int = 0
    poles: int = 1


def space_count(bus: Bus, drawing: Drawing) -> int:
    """Spaces to show: as counted, and at least as many as are taken; an even number."""
    taken = [max(circuit_spaces(c)) for c in bus.circuits]
    taken += [first + 2 * (poles - 1) for _, first, poles in drawn_devices(bus, drawing)]
    used = max(taken, default=0)
    wanted = max(used, bus.spaces) if bus.spaces else max(used + 2, FEW_SPACES)
    return min(wanted + wanted % 2, _MOST_SPACES)


def circuits_words(bus: Bus) -> str:
    """What leads from a bus to its circuits: "Add circuits: 30 empty spaces"; "" where a bus has none by its nature."""
    lines = [c for c in bus.circuits if c.use != "space"]
    if lines:
        return f"Circuits ({len(lines)})"
    if bus.form not in (None, *_WITH_CIRCUITS):
        return ""
    return f"Add circuits: {bus.spaces} empty spaces" if bus.spaces else "Add circuits"


def joined_devices(bus: Bus, drawing: Drawing) -> list[Disconnect]:
    """Drawn devices that are bolted or plugged onto the bus, in drawing order."""
    found = []
    for joint in drawing.connections_of(bus.id):
        other = joint.b if joint.a.item == bus.id else joint.a
        device = drawing.items.get(other.item) if other is not None and joint.kind == "joint" else None
        if isinstance(device, Disconnect):
            found.append(device)
    return found


def drawn_devices(bus: Bus, drawing: Drawing) -> list[tuple[Disconnect, int, int]]:
    """Drawn devices that sit in the panel's spaces without a line in its schedule: (device, first space, poles)."""
    listed = {c.feeds for c in bus.circuits}
    devices = [d for d in joined_devices(bus, drawing) if d.id not in listed]
    return [(d, d.space, d.poles or 1) for d in devices if d.space is not None]


def directory(bus: Bus, drawing: Drawing, view: str, phases: str) -> dict[int, Slot]:
    """{space: what is in it}. Where a line to be removed and its successor share a space, the view's own one is shown."""
    slots = {n: Slot(n, space_phase(n, phases)) for n in range(1, space_count(bus, drawing) + 1)}
    for circuit in sorted(bus.circuits, key=lambda c: c.status not in VIEW_STATUSES[view]):
        _take(slots, circuit.space, circuit.poles, phases, circuit=circuit, item=circuit.feeds or "")
    for device, first, poles in drawn_devices(bus, drawing):
        _take(slots, first, poles, phases, circuit=None, item=device.id)
    return slots


def _take(
    slots: dict[int, Slot], first: int, poles: int, phases: str, circuit: Circuit | None, item: str
) -> None:  # fmt: skip
    spaces = [first + 2 * k for k in range(poles)]
    if any(n not in slots or slots[n].kind != "empty" for n in spaces):
        spaces = [n for n in spaces if n in slots and slots[n].kind == "empty"]
        if first not in spaces:
            return
        poles = len(spaces)
    for n in spaces:
        kind = "drawn" if circuit is None else "circuit" if n == first else "more"
        slots[n] = Slot(n, space_phase(n, phases), kind, circuit, item, first, poles)


# ------------------------------------------------------------------------------------------------------------- edits
def edit_line(bus: Bus, drawing: Drawing, slot: Slot, field: str, value: Any) -> Bus:
    """The panel with one field of the line in a space changed; an empty space gets a line. ``EditRefused`` otherwise."""
    return fill_line(bus, drawing, slot, {field: value})


def fill_line(bus: Bus, drawing: Drawing, slot: Slot, values: Mapping[str, Any]) -> Bus:
    """The same for several fields at once."""
    if slot.kind == "drawn":
        raise EditRefused(
            f"Space {slot.space} holds {drawing.name_of(slot.item)}, which is drawn on the sheet. Change it there."
        )
    line = slot.circuit
    if line is None:
        values = {name: value for name, value in values.items() if value is not None and value != ""}
        if not values:
            return bus
        if set(values) == {"space"}:
            raise EditRefused(f"Space {slot.space} is empty. Type a description or a trip first.")
        line = Circuit(space=slot.space, status=_status_of_new(bus))
    for name, value in values.items():
        line = _put(line, name, value)
    return _with(bus, drawing, slot.circuit, line)


def _status_of_new(bus: Bus) -> str:
    return bus.status if bus.status in ("new", "future") else "existing"


def _put(line: Circuit, field: str, value: Any) -> Circuit:
    if field == "description":
        use = _USES.get(str(value).strip().casefold())
        if use is not None:
            return replace(line, description="", use=use)
        if value and line.use in ("spare", "space"):
            return replace(line, description=value, use="load")
    if field == "feeds":
        return replace(line, feeds=value, use="feeder") if value else line.undrawn()
    values: dict[str, Any] = {field: value}
    return replace(line, **values)


def _with(bus: Bus, drawing: Drawing, old: Circuit | None, new: Circuit | None) -> Bus:
    """The panel with a line replaced, added (``old`` is None) or taken out (``new`` is None), in order of spaces."""
    rows = list(bus.circuits)
    if old is not None:
        rows.remove(old)
    if new is not None:
        _check_room(bus, drawing, rows, new)
        rows.append(new)
    rows.sort(key=lambda c: (c.space, c.status))
    return replace(bus, circuits=tuple(rows))


def _check_room(bus: Bus, drawing: Drawing, others: list[Circuit], line: Circuit) -> None:
    spaces = set(circuit_spaces(line))
    if bus.spaces and max(spaces) > bus.spaces:
        raise EditRefused(
            f"{bus.name} has {bus.spaces} spaces, and this would take space {max(spaces)}. Check the spaces of the panel."
        )
    for other in others:
        both = spaces & set(circuit_spaces(other))
        if both and _together(line.status, other.status):
            named = other.description or other.use
            raise EditRefused(
                f"Space {min(both)} is taken by circuit {other.space} ({named}). Move or remove it first."
            )
    for device, first, poles in drawn_devices(bus, drawing):
        both = spaces & {first + 2 * k for k in range(poles)}
        if both and _together(line.status, device.status):
            raise EditRefused(f"Space {min(both)} is taken by {drawing.name_of(device.id)}. Move it first.")


def _together(one: str, other: str) -> bool:
    """Whether two lines are in the panel at the same time: in one view, or both planned for later."""
    return one == other or any(one in keep and other in keep for keep in VIEW_STATUSES.values())


def remove_line(bus: Bus, drawing: Drawing, slot: Slot) -> Bus:
    """The panel without the line in a space."""
    if slot.circuit is None:
        what = f"holds {drawing.name_of(slot.item)}, which is drawn on the sheet" if slot.item else "is empty"
        raise EditRefused(f"Space {slot.space} {what}. Nothing was removed.")
    return _with(bus, drawing, slot.circuit, None)


def duplicate_line(bus: Bus, drawing: Drawing, slot: Slot, slots: dict[int, Slot]) -> tuple[Bus, int]:
    """The panel with the line again in the next spaces that are free, and the space it went to."""
    if slot.circuit is None:
        raise EditRefused(f"Space {slot.space} has no line to copy.")
    target = free_space(slots, slot.circuit.poles, slot.circuit.space)
    if target is None:
        raise EditRefused(f"{bus.name} has no {slot.circuit.poles} free spaces in a row. Nothing was added.")
    copy = replace(slot.circuit.undrawn(), space=target)
    return _with(bus, drawing, None, copy), target


def free_space(slots: dict[int, Slot], poles: int, after: int = 0) -> int | None:
    """The first space behind ``after`` (then from the top) from which ``poles`` spaces of its side are free."""

    def fits(first: int) -> bool:
        return all(n in slots and slots[n].kind == "empty" for n in (first + 2 * k for k in range(poles)))

    order: list[Callable[[int], bool]] = [lambda n: n > after, lambda n: n <= after]
    for wanted in order:
        for n in sorted(slots):
            if wanted(n) and fits(n):
                return n
    return None


def used_spaces(slots: dict[int, Slot]) -> int:
    """Spaces with a device: lines of use "space" have none."""
    return sum(1 for s in slots.values() if s.kind != "empty" and not (s.circuit and s.circuit.use == "space"))
