"""What is connected where: every load of the view as one entry, from the drawn loads and the panels' schedules.

An entry is what is written down, not what the code makes of it: demand factors and the 125 % for continuous load belong
to :mod:`oneline.study.demand`. Unknown stays ``None``; a spare or an empty space is a known zero and makes no entry.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from math import sqrt

from oneline import tables
from oneline.model import SOURCE_KINDS, Bus, Circuit, Item, Load, basis_of, circuit_spaces
from oneline.study.context import Context
from oneline.study.ends import buses_at

#: The high leg of a four-wire delta, 408.3(E).
HIGH_LEG = "B"


@dataclass(frozen=True)
class LoadEntry:
    """One load at one node.

    ``item``: id of the load or of the panel whose schedule has it. ``circuit``: its first space there, ``None`` for a
    drawn load. ``phases``: the phase conductors it is connected to ("A" line to neutral, "AB" line to line, "ABC"
    balanced three-phase); where ``phases_known`` is false the phases it could be on. ``va``: total of all phases,
    ``None`` where not known. ``va_from``: "entered", "motor table" or "nameplate MCA" (which holds 125 % of its largest
    motor already). ``group``: noncoincident group. ``needs``: what is missing, as a phrase.
    """

    node: int
    item: str
    circuit: int | None
    label: str
    phases: str
    va: float | None
    power_factor: float | None
    load_class: str | None
    continuous: bool | None
    horsepower: float | None = None
    mca_a: float | None = None
    group: str | None = None
    nonlinear: bool | None = None
    status: str = "existing"
    basis: str = "entered"
    phases_known: bool = True
    va_from: str = "entered"
    needs: tuple[str, ...] = ()


def gather_loads(ctx: Context) -> tuple[LoadEntry, ...]:
    """All loads of the view in drawing order: drawn loads, then the schedules' lines that carry load of their own."""
    entries = [_drawn(ctx, load) for load in ctx.drawing.of(Load)]
    for bus in ctx.drawing.of(Bus):
        if bus.circuits:
            entries.extend(_schedule(ctx, bus))
    return tuple(entries)


def loose_ends(ctx: Context) -> Iterator[LoadEntry]:
    """Existing equipment behind which nothing is drawn nor scheduled, and panelboards without a directory: they feed
    something that nobody entered.

    Never a zero. What is new may well be empty still; and an open tie or the other side of a transfer switch feeds
    nothing.
    """
    feeding = ctx.feeding
    parents = set(feeding.parent)
    for node in feeding.order:
        unlisted = next((bus for bus in buses_at(ctx, node) if bus.unlisted), None)
        if unlisted is not None:
            yield _nobody_entered(ctx, unlisted, node)
            continue
        key = feeding.branch[node]
        if node in parents or not key or ctx.net.branches[key].item.status == "new":
            continue
        if not ctx.net.branches[key].normally_closed or len(ctx.net.at_node[node]) > 1:
            continue
        items = [ctx.drawing.get(end.item) for end in ctx.net.ends_of[node]]
        if any(isinstance(item, Load) or item.kind in SOURCE_KINDS or item.status == "new" for item in items):
            continue
        buses = [item for item in items if isinstance(item, Bus)]
        if any(bus.circuits for bus in buses):
            continue
        yield _nobody_entered(ctx, buses[0] if buses else ctx.net.branches[key].item, node)


def _nobody_entered(ctx: Context, item: Item, node: int) -> LoadEntry:
    name, phases = ctx.name(item.id), ctx.feeding.phases[node]
    return LoadEntry(
        node=node, item=item.id, circuit=None, label=name, phases=phases, va=None, power_factor=None, load_class=None,
        continuous=None, status=item.status, phases_known=len(phases) == 1, needs=(f"what {name} feeds",),
    )  # fmt: skip


# -------------------------------------------------------------------------------------------------- space -> phase
def bus_phases(ctx: Context, bus: Bus) -> str:
    """The phases a bus has, in the order in which its rows take them; "" where not known."""
    fed = ctx.feeding.phases[ctx.net.node(bus.id)]
    if bus.phases is None or not fed:
        return bus.phases or fed
    return "".join(p for p in bus.phases if p in fed) or fed


def space_phase(space: int, phases: str) -> str:
    """Phase of a space number: both spaces of a row are on one phase, rows cycle through the bus's phases.

    NEC 408.3(E): A, B, C from top to bottom. ``phases``: the bus's phases in order, e.g. "ABC" or "AB"; "" gives "".
    """
    return phases[(space - 1) // 2 % len(phases)] if phases else ""


def circuit_phases(circuit: Circuit, phases: str) -> str:
    """Phases of a circuit by its spaces, in alphabetical order: a two-pole circuit takes its space and the next but one."""
    return _spaces_phases(circuit.space, circuit.poles, phases)


@cache
def _spaces_phases(space: int, poles: int, phases: str) -> str:
    return "".join(sorted({space_phase(space + 2 * pole, phases) for pole in range(poles)}))


# --------------------------------------------------------------------------------------------------------- volts
def volts_across(ctx: Context, node: int, phases: str) -> float | None:
    """Nominal volts across a load on these phases: line to neutral for one phase, else line to line; ``None`` where the
    system is not known or has no neutral. The high leg of a four-wire delta has a line-to-neutral voltage of its own.
    """
    code = ctx.feeding.system[node]
    if code is None or not phases:
        return None
    system = tables.system(code)
    if len(phases) > 1:
        return system.v_ll
    return system.v_high_leg if system.v_high_leg and phases == HIGH_LEG else system.v_ln


def volt_amperes(amperes: float, volts: float, phases: str) -> float:
    """Volt-amperes of a load that takes ``amperes`` from each of its phases at ``volts`` (see :func:`volts_across`)."""
    return amperes * volts * (sqrt(3) if len(phases) == 3 else 1.0)


# ------------------------------------------------------------------------------------------------------- entries
def _drawn(ctx: Context, load: Load) -> LoadEntry:
    node = ctx.net.node(load.id)
    fed = ctx.feeding.phases[node]
    name = ctx.name(load.id)
    needs: list[str] = []
    phases, known = _placed(load.phases, fed)
    if not known:
        needs.append(f"phases of {name}" if load.phases is None else f"phases of {name} (not the phases of its supply)")
    va, va_from = _rated_va(ctx, node, load, phases, known)
    if va is None:
        needs.append(f"load of {name}")
    return LoadEntry(
        node=node, item=load.id, circuit=None, label=name, phases=phases, va=va, power_factor=load.power_factor,
        load_class=load.load_class, continuous=load.continuous, horsepower=load.horsepower, mca_a=load.mca_a,
        group=load.noncoincident_group or None, nonlinear=load.nonlinear, status=load.status,
        basis=basis_of(load, {"motor table": "horsepower", "nameplate MCA": "mca_a"}.get(va_from, "va")),
        phases_known=known, va_from=va_from, needs=tuple(needs),
    )  # fmt: skip


def _placed(own: str | None, fed: str) -> tuple[str, bool]:
    """Phases of a load and whether they are known, from its own entry and the phases that reach it."""
    if own and (not fed or set(own) <= set(fed)):
        return "".join(sorted(own)), True
    if len(fed) == 1:
        return fed, own is None
    return fed, False


def _rated_va(ctx: Context, node: int, load: Load, phases: str, known: bool) -> tuple[float | None, str]:
    """Volt-amperes and where they come from: a motor's by the full-load current table (430.6), not by its nameplate."""
    volts = volts_across(ctx, node, phases) if known else None
    if load.horsepower is not None and volts is not None:
        try:
            flc_a = tables.motor_flc_a(load.horsepower, volts, 3 if len(phases) == 3 else 1)
            return volt_amperes(flc_a, volts, phases), "motor table"
        except tables.NotInTable:
            pass  # a rating that the table does not print: only the nameplate can tell
    if load.va is not None:
        return load.va, "entered"
    if load.mca_a is not None and volts is not None:
        return volt_amperes(load.mca_a, volts, phases), "nameplate MCA"
    return None, "entered"


def _schedule(ctx: Context, bus: Bus) -> Iterator[LoadEntry]:
    """Entries of one panel's schedule."""
    own, name, node, seen = bus_phases(ctx, bus), ctx.name(bus.id), ctx.net.node(bus.id), basis_of(bus, "circuits")
    unplaced = () if own else (f"phases of {name}",)
    for circuit in bus.circuits:
        drawn = circuit.use == "feeder" and _is_drawn(ctx, circuit, node)
        if drawn or (circuit.use in ("spare", "space") and not circuit.va):
            continue
        spaces = "/".join(map(str, circuit_spaces(circuit))) if circuit.poles > 1 else circuit.space
        label = (
            f"{name} circuit {spaces} ({circuit.description})" if circuit.description else f"{name} circuit {spaces}"
        )
        yield LoadEntry(
            node=node, item=bus.id, circuit=circuit.space, label=label, phases=circuit_phases(circuit, own),
            va=circuit.va, power_factor=circuit.power_factor, load_class=circuit.load_class,
            continuous=circuit.continuous, status=bus.status if bus.status == "new" else circuit.status,
            # Whoever enters a figure for a circuit nobody traced makes an assumption about what it feeds.
            basis="assumed" if circuit.traced == "untraced" and circuit.va is not None else seen, phases_known=bool(own),
            needs=unplaced if circuit.va is not None else (*unplaced, f"load of {label}"),
        )  # fmt: skip


def _is_drawn(ctx: Context, circuit: Circuit, node: int) -> bool:
    """Whether what a feeder line stands for is on the drawing behind its bus, so that its load is counted there.

    One that this view leaves out counts nothing: it is not there yet, or no longer.
    """
    target = ctx.full.items.get(circuit.feeds or "")
    if target is None:
        return False
    if target.id not in ctx.drawing:
        return True
    ends = [ctx.net.node(target.id, terminal) for terminal in target.terminals]
    return any(at == node or any(up == node for _, up in ctx.feeding.path(at)) for at in ends)
