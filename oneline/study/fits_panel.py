"""A sub-panel for trial: a breaker, the conductors that go with it, and the panel, put on a copy of a drawing."""

from __future__ import annotations

from dataclasses import dataclass

from oneline import tables
from oneline.model import Bus, Circuit, Drawing, End, edits
from oneline.model.drawing import circuit_spaces


@dataclass(frozen=True)
class SubPanel:
    """The largest standard breaker for a new sub-panel whose whole rating may be loaded, and what goes with it.

    ``interrupting_ka``: least interrupting rating, ``None`` while the fault current is not known. ``size``, ``egc_size``:
    copper conductors for it at 75 °C terminals. ``larger``: next standard rating and what is met with it.
    """

    breaker_a: float
    poles: int
    size: str
    egc_size: str
    interrupting_ka: float | None = None
    larger: str = ""


def with_sub_panel(
    drawing: Drawing, end: End, phases: str, breaker_a: float, status: str
) -> tuple[Drawing, SubPanel, str] | str:
    """The drawing with a breaker at a terminal, conductors for it and an empty panel, what was added and the panel's id;
    or why that cannot be."""
    poles = len(phases)
    bus = drawing.get(end.item)
    space = free_space(bus, poles) if isinstance(bus, Bus) else None
    if isinstance(bus, Bus) and space is None and bus.spaces is not None and bus.circuits:
        return f"{bus.name} has no room for a {poles}-pole breaker."
    size = conductor_for(breaker_a, drawing.project.edition)
    if size is None:
        return f"{breaker_a:g} A asks for conductors in parallel; lay them out on the drawing."
    egc = tables.egc_size(breaker_a, "copper")
    drawing, device = edits.add(
        drawing, "disconnect", name="Added breaker", trip_a=breaker_a, rating_a=breaker_a, poles=poles, status=status,
        phases=phases, space=space, full_rated=False, adjustable=False, neutral_bonded=False, bus_end="opposite end",
    )  # fmt: skip
    if isinstance(bus, Bus) and space is not None:
        drawing = _in_schedule(drawing, bus, space, poles, device, breaker_a, status)
    drawing, panel = edits.add(
        drawing, "bus", name="Added panel", rating_a=breaker_a, phases=phases, status=status, neutral_bonded=False,
        all_listed=True,
    )  # fmt: skip
    drawing = edits.add(drawing, "joint", a=end, b=End(device, "line"), status=status)[0]
    drawing = edits.add(
        drawing, "run", a=End(device, "load"), b=End(panel, "bus"), size=size, material="copper", sets=1, status=status,
        insulation="THHN/THWN-2", egc_size=egc, egc_material="copper", neutral_size=size, terminal_c=75, wet=False,
        ambient_c=30, current_carrying=3, phases=phases,
    )[0]  # fmt: skip
    return drawing, SubPanel(breaker_a, poles, size, egc), panel


def free_space(bus: Bus, poles: int) -> int | None:
    """The first space from which so many poles have room; ``None`` where spaces are not known or none is left."""
    if bus.spaces is None or not bus.circuits:
        return None
    taken = {s for c in bus.circuits if c.use != "space" for s in circuit_spaces(c)}
    for first in range(1, bus.spaces + 1):
        wanted = {first + 2 * n for n in range(poles)}
        if max(wanted) <= bus.spaces and not wanted & taken:
            return first
    return None


def _in_schedule(
    drawing: Drawing, bus: Bus, space: int, poles: int, device: str, trip_a: float, status: str
) -> Drawing:  # fmt: skip
    """The panel's schedule with a line for the breaker in place of the empty spaces it takes."""
    taken = {space + 2 * n for n in range(poles)}
    rows = [c for c in bus.circuits if c.space not in taken]
    rows.append(
        Circuit(
            space=space, poles=poles, trip_a=trip_a, description="Added panel, sub-panel", use="feeder",
            feeds=device, status=status,
        )
    )  # fmt: skip
    return edits.change(drawing, bus.id, circuits=tuple(sorted(rows, key=lambda c: c.space)))


def conductor_for(device_a: float, edition: int) -> str | None:
    """The smallest copper conductor that the device protects, at terminals for 75 °C."""
    needed_a = device_a
    while True:
        size = tables.next_size_for_ampacity(needed_a, "copper", 75)
        most = None if size is None else tables.small_conductor_limit_a(size, "copper", edition)
        if size is None or most is None or most >= device_a:
            return size
        needed_a = (tables.ampacity_a(size, "copper", 75) or needed_a) + 1
