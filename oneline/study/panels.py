"""Panels on the drawing: their protection, their directory, their spaces."""

from __future__ import annotations

from collections.abc import Iterator

from oneline import tables
from oneline.model import (
    Bus,
    ConductorRun,
    Disconnect,
    Generator,
    Item,
    Transformer,
    UtilityService,
    circuit_spaces,
)
from oneline.model.vocabulary import SYSTEMS
from oneline.rules.circuits import CircuitFacts, circuits
from oneline.rules.common import Fact, Subject, existing_work, listed, unique, weakest
from oneline.rules.panels import (
    DirectoryLine,
    PanelFacts,
    PlacedDevice,
    directory,
    high_leg_circuits,
    panel_protection,
    positions,
)
from oneline.rules.verdict import Verdict
from oneline.study.context import Context, protects
from oneline.study.ends import device_rating, system_need
from oneline.study.loads import bus_phases, circuit_phases, space_phase, volt_amperes, volts_across
from oneline.study.panel_devices import device_verdicts
from oneline.study.services import disconnects_of
from oneline.study.special_systems import high_leg_of
from oneline.study.subject import for_all
from oneline.study.supply import ratio_of


def about(ctx: Context, bus: Item) -> Iterator[Verdict]:
    """PNL-1 to PNL-5, PNL-7 and HL-1 of every panelboard; PNL-3, PNL-4 and PNL-7 of any bus with a schedule."""
    if isinstance(bus, Bus):
        subject = Subject(bus.id, ctx.name(bus.id))
        if bus.form == "panelboard" and ctx.feeding.position[ctx.net.node(bus.id)] >= 0:
            protection = panel_protection(_panel_facts(ctx, bus, subject))
            # No protection at all is no question of the edition it was built under.
            missing = ctx.protection_of(ctx.net.node(bus.id)).device is None
            yield protection if missing else existing_work(protection, _status(ctx, bus))
            yield from device_verdicts(ctx, bus)
        if bus.form == "panelboard" or bus.circuits:
            lines = [DirectoryLine(c.space, c.description, c.use, c.traced) for c in bus.circuits]
            if lines or bus.spaces:
                yield from directory(subject, ctx.edition, lines)
            schedule = circuits(subject, ctx.edition, bus.terminal_c, _circuits(ctx, bus))
            if schedule is not None:
                # As of a drawn conductor that its device does not protect: no question of the edition.
                yield schedule
            yield from positions(subject, ctx.edition, _devices(ctx, bus), bus.spaces, bus_phases(ctx, bus))
        found = _high_leg(ctx, bus, subject)
        if found is not None:
            yield found


# --------------------------------------------------------------------------------------------------- protection
def _status(ctx: Context, bus: Bus) -> str:
    """New as soon as the panel or a device that is meant to protect it is: new work has to be right."""
    node = ctx.net.node(bus.id)
    device = ctx.protection_of(node).device
    states = (bus.status, *(d.status for d in (device, *_together(ctx, node)) if d is not None))
    return "new" if "new" in states else bus.status


def _panel_facts(ctx: Context, bus: Bus, subject: Subject) -> PanelFacts:
    node = ctx.net.node(bus.id)
    protection = ctx.protection_of(node)
    device = protection.device
    what = f"bus rating of {subject.name}"
    rating = Fact(bus.rating_a, basis=bus.basis.get("rating_a", "entered"), need=what, name=what)
    rated_a = Fact(None) if device is None else device_rating(ctx, device)
    mains = sum(
        1 for branch, _ in ctx.feeding.children(node)
        if isinstance(branch.item, Disconnect) and branch.item.id in disconnects_of(ctx)
    )  # fmt: skip
    each = [(t, _protected_by_primary(ctx, t)) for t in protection.transformers]
    between = next((t for t, (protects, _) in each if protects is False), None)
    through = protection.transformers[0] if protection.transformers else None
    together = _together(ctx, node)
    if len(together) > 1:
        first = together[0]
        named = Subject(first.id, listed([ctx.name(d.id) for d in together]))
        others = tuple(d.id for d in together[1:])
        return PanelFacts(
            subject, ctx.edition, rating, named, _summed([device_rating(ctx, d) for d in together]), together=others
        )
    return PanelFacts(
        subject, ctx.edition, rating, None if device is None else Subject(device.id, ctx.name(device.id)), rated_a,
        None if between is None else Subject(between.id, ctx.name(between.id)), mains,
        ratio_of(ctx, protection.transformers), None if through is None else Subject(through.id, ctx.name(through.id)),
        tuple(need for _, (_, need) in each if need),
    )  # fmt: skip


def _summed(ratings: list[Fact]) -> Fact:
    """Ratings of devices side by side: together they let through the sum."""
    known = [r.value for r in ratings if r.value is not None]
    least, most = [r.least or 0.0 for r in ratings], [r.most for r in ratings]
    high = None if any(m is None for m in most) else sum(m for m in most if m is not None)
    need, *also = unique(n for r in ratings for n in r.needs) or ("",)
    return Fact(
        sum(known) if len(known) == len(ratings) else None, sum(least), high, weakest(*(r.basis for r in ratings)), need,
        "their ratings", unique(a for r in ratings for a in r.assumptions), tuple(also),
    )  # fmt: skip


def _together(ctx: Context, node: int) -> tuple[Disconnect, ...]:
    """Overcurrent devices that feed a node side by side, normally closed, each by a way of its own; nothing where there is
    one, or where a transformer is on one of the ways."""
    if node not in ctx.feeding.looped:
        return ()
    found = ctx.settled(("fed side by side", node), lambda: _found_together(ctx, node))
    return tuple(d for i in found if isinstance(d := ctx.drawing.get(i), Disconnect))


def _found_together(ctx: Context, node: int) -> tuple[str, ...]:
    inside, edge, waiting = {node}, [], [node]
    for at in waiting:  # grows while it is walked
        for key in ctx.net.at_node[at]:
            branch = ctx.net.branches[key]
            other = branch.other(at)
            if not branch.normally_closed or other < 0 or other in inside:
                continue
            if protects(branch.item) or isinstance(branch.item, Transformer):
                edge.append((branch, other))
            else:
                inside.add(other)
                waiting.append(other)
    feeding = {b.key: b.item for b, other in edge if other not in inside and _reaches_source(ctx, other, inside)}
    if len(feeding) < 2 or not inside.isdisjoint(ctx.net.sources.values()):
        return ()
    found = tuple(i.id for i in feeding.values() if isinstance(i, Disconnect))
    return found if len(found) == len(feeding) else ()


def _reaches_source(ctx: Context, start: int, without: set[int]) -> bool:
    """Whether a service or generator feeds a node by normally closed ways that do not pass some others."""
    sources = {n for s, n in ctx.net.sources.items() if isinstance(ctx.drawing.get(s), UtilityService | Generator)}
    seen, waiting = {start}, [start]
    for at in waiting:  # grows while it is walked
        if at in sources:
            return True
        for key in ctx.net.at_node[at]:
            other = ctx.net.branches[key].other(at)
            if ctx.net.branches[key].normally_closed and other >= 0 and other not in seen | without:
                seen.add(other)
                waiting.append(other)
    return False


def _protected_by_primary(ctx: Context, transformer: Transformer) -> tuple[bool | None, str]:
    """Whether the primary's device may protect the secondary, and what is not known: two-wire, and delta-delta with one
    voltage (240.21(C)(1))."""
    code, name = transformer.secondary_system, ctx.name(transformer.id)
    if code is None:
        never = transformer.connection not in (None, "delta-delta", "single-phase")
        return (False, "") if never else (None, f"secondary system of {name}")
    system = tables.system(code)
    if system.wires == 2:
        return True, ""
    if system.has_neutral or system.phases == 1:
        return False, ""
    if transformer.connection is None:
        return None, f"connection of {name}"
    return transformer.connection == "delta-delta", ""


# ----------------------------------------------------------------------------------------------------- circuits
def _circuits(ctx: Context, bus: Bus) -> list[CircuitFacts]:
    """Lines of a schedule that carry load of their own, with the current of each pole."""
    node, phases = ctx.net.node(bus.id), bus_phases(ctx, bus)
    found = []
    for circuit in bus.circuits:
        if circuit.use != "load":
            continue
        on = circuit_phases(circuit, phases)
        volts = volts_across(ctx, node, on) if len(on) == circuit.poles else None
        need = "" if volts else f"phases of {ctx.name(bus.id)}" if ctx.feeding.system[node] else system_need(ctx, node)
        spread = [volts] if volts else _possible_volts(ctx, node, circuit.poles)
        each = (
            sorted(circuit.va / volt_amperes(1.0, v, "ABC"[: circuit.poles]) for v in spread) if circuit.va else [0.0]
        )
        load_a = None if circuit.va is None or not each else each[0]
        label = f"circuit {circuit.space}" + (f" ({circuit.description})" if circuit.description else "")
        found.append(
            CircuitFacts(
                label, circuit.trip_a, circuit.wire_size, load_a, circuit.continuous,
                circuit.load_class in ("motor", "hvac"), None if load_a is None else each[-1], need,
            )
        )  # fmt: skip
    return found


def _possible_volts(ctx: Context, node: int, poles: int) -> list[float]:
    """Nominal volts that a circuit of so many poles can have, where its phases or the system are not known."""
    code = ctx.feeding.system[node]
    found: set[float | None] = set()
    for each in (code,) if code else SYSTEMS:
        system = tables.system(each)
        if poles == 1:
            found.update((system.v_ln, system.v_high_leg))
        elif system.wires > poles - (system.phases == 3):
            found.add(system.v_ll)
    return [v for v in found if v]


# ------------------------------------------------------------------------------------------------------- spaces
def _devices(ctx: Context, bus: Bus) -> list[PlacedDevice]:
    """What takes spaces in a panel: its schedule and the devices drawn on it; a feeder line stands for its device."""
    phases = bus_phases(ctx, bus)
    drawn = {d.id: d for d in _drawn_on(ctx, bus)}
    listed = {c.feeds for c in bus.circuits if c.feeds}
    found = []
    for circuit in bus.circuits:
        label = f"circuit {circuit.space}" + (f" ({circuit.description})" if circuit.description else "")
        device = drawn.get(circuit.feeds or "")
        if device is not None:
            label = ctx.name(device.id)
        found.append(
            PlacedDevice(label, circuit_spaces(circuit), _phases(ctx, device), circuit_phases(circuit, phases),
                         device.id if device is not None else "")
        )  # fmt: skip
    for device in drawn.values():
        if device.space is None or device.id in listed:
            continue
        poles = device.poles or (len(device.phases) if device.phases else 0)
        spaces = tuple(device.space + 2 * k for k in range(poles)) or (device.space,)
        expected = "".join(sorted({space_phase(s, phases) for s in spaces})) if poles else ""
        found.append(
            PlacedDevice(ctx.name(device.id), spaces, _phases(ctx, device), expected, device.id, counted=bool(poles))
        )
    return found


def _phases(ctx: Context, device: Disconnect | None) -> str | None:
    """Phases of a drawn device by its own entry, or by the conductors on it."""
    if device is None:
        return None
    if device.phases:
        return device.phases
    load = ctx.feeding.load_node(device.id)
    if load is None:
        return None
    runs = [b.item.phases for b, _ in ctx.feeding.children(load) if isinstance(b.item, ConductorRun)]
    return runs[0] if len(runs) == 1 else None


def _drawn_on(ctx: Context, bus: Bus) -> list[Disconnect]:
    """Disconnects bolted to a bus on their line side."""
    node = ctx.net.node(bus.id)
    return [b.item for b, _ in ctx.feeding.children(node) if isinstance(b.item, Disconnect)]


def _high_leg(ctx: Context, bus: Bus, subject: Subject) -> Verdict | None:
    node = ctx.net.node(bus.id)
    code = ctx.feeding.system[node]
    if code is None or not tables.system(code).v_high_leg:
        return None
    phases, leg = bus_phases(ctx, bus), high_leg_of(ctx, bus, code)
    on_it = [
        f"circuit {c.space}" + (f" ({c.description})" if c.description else "")
        for c in bus.circuits
        if c.use == "load" and c.poles == 1 and circuit_phases(c, phases) == leg
    ]
    return high_leg_circuits(subject, ctx.edition, on_it, code)


#: Everything this subject finds on a drawing.
verdicts = for_all(about, of=(Bus,))
