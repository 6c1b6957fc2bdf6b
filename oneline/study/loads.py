"""What is connected where: every load of the view as one entry, from the drawn loads and the panels' schedules.

An entry is what is written down for one load, or the code's least figure for it (an outlet, a sign, a foot of window).
Demand factors, floor areas and the 125 % for continuous load belong to :mod:`oneline.study.demand`. Unknown stays
``None``; a spare or an empty space is a known zero and makes no entry.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import cache
from typing import NamedTuple, TypeVar

from oneline import tables
from oneline.model import Bus, Circuit, Item, Load, basis_of, circuit_spaces
from oneline.rules.verdict import WorkLine
from oneline.study.context import Context
from oneline.study.load_rated import (
    BASIS_FIELDS,
    ELEVATOR_ASSUMED,
    LEAST_CLASSES,
    by_class,
    rated,
    volt_amperes,
    volts_across,
)
from oneline.study.load_rated import HIGH_LEG as HIGH_LEG

ItemT = TypeVar("ItemT", bound=Item)


class LoadEntry(NamedTuple):
    """One load at one node.

    ``item``: id of the load or of the panel whose schedule has it. ``circuit``: its first space there, ``None`` for a
    drawn load. ``phases``: the phase conductors it is connected to ("A" line to neutral, "AB" line to line, "ABC"
    balanced three-phase); where ``phases_known`` is false the phases it could be on. ``va``: total of all phases,
    ``None`` where not known; ``least_va`` and ``most_va`` bound it then. ``va_from``: "entered", "motor table", "nameplate
    MCA" (which holds 125 % of its largest motor already) or "code" (the code's figure for it). ``group``: noncoincident
    group. ``needs``: what is missing, as a phrase. ``pieces``: equal pieces it stands for. ``lighting_demand``: row of the
    lighting demand table. ``part``: "" for a load of its own; "office" for receptacles in an office area; "appliance"
    for what counts as one fastened in place of a dwelling unit; "continuous",
    "unit", "load only" or "office floor" for what a floor area adds. ``assumed``: assumptions it rests on. ``work``: how
    the code's figure came about.
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
    least_va: float | None = None
    most_va: float | None = None
    pieces: int = 1
    lighting_demand: str = ""
    part: str = ""
    assumed: tuple[str, ...] = ()
    work: tuple[WorkLine, ...] = ()


def gather_loads(ctx: Context) -> tuple[LoadEntry, ...]:
    """All loads of the view in drawing order: drawn loads, then the schedules' lines that carry load of their own.

    Gathered again after an edit in the same context, whose network is as it was, only what changed is made anew.
    """
    kept: dict[str, tuple[Item, tuple[LoadEntry, ...]]] = ctx.__dict__.setdefault("_entries_of", {})
    entries: list[LoadEntry] = []
    panels: list[Bus] = []
    for item in ctx.drawing.items.values():
        if isinstance(item, Load):
            entries += _kept(kept, item, lambda load: _of_load(ctx, load))
        elif isinstance(item, Bus) and item.circuits:
            panels.append(item)
    for bus in panels:
        entries += _kept(kept, bus, lambda panel: _schedule(ctx, panel))
    return tuple(entries)


def _kept(
    kept: dict[str, tuple[Item, tuple[LoadEntry, ...]]], item: ItemT, make: Callable[[ItemT], Iterator[LoadEntry]]
) -> tuple[LoadEntry, ...]:
    """Entries of an item, made only where it is not the very one they were made of."""
    found = kept.get(item.id)
    if found is None or found[0] is not item:
        found = kept[item.id] = (item, tuple(make(item)))
    return found[1]


def _of_load(ctx: Context, load: Load) -> Iterator[LoadEntry]:
    drive = _drawn(ctx, load)
    yield drive
    if load.controller_a is not None:
        yield _controller(ctx, load, drive)


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


# ------------------------------------------------------------------------------------------------------- entries
def _drawn(ctx: Context, load: Load) -> LoadEntry:
    node = ctx.net.node(load.id)
    fed = ctx.feeding.phases[node]
    name = ctx.name(load.id)
    needs: list[str] = []
    phases, known = _placed(load.phases, fed)
    if not known:
        needs.append(f"phases of {name}" if load.phases is None else f"phases of {name} (not the phases of its supply)")
    found, va_from = rated(ctx, node, load, phases, known)
    if found.va is None:
        needs += [n.format(name) for n in found.needs] or [f"load of {name}"]
    return LoadEntry(
        node=node, item=load.id, circuit=None, label=name, phases=phases, va=found.va, power_factor=load.power_factor,
        load_class=load.load_class, continuous=load.continuous, horsepower=load.horsepower, mca_a=load.mca_a,
        group=load.noncoincident_group or None, nonlinear=load.nonlinear, status=load.status,
        basis=basis_of(load, *BASIS_FIELDS.get(va_from, ("va",))), phases_known=known, va_from=va_from,
        needs=tuple(needs), least_va=found.least_va, most_va=found.most_va, pieces=load.quantity or 1,
        lighting_demand=_lighting_demand(load.load_class, load.occupancy, ctx.edition),
        part=_unit_part(load.occupancy, ctx.edition) if va_from == "floor area" else "",
        assumed=tuple(a.format(name) for a in found.assumed), work=found.lines,
    )  # fmt: skip


def _controller(ctx: Context, load: Load, drive: LoadEntry) -> LoadEntry:
    """The constant load of an elevator's controller, which stands outside the demand factor (620.13)."""
    name, volts = (
        f"controller of {drive.label}",
        volts_across(ctx, drive.node, drive.phases) if drive.phases_known else None,
    )
    known = volts is not None and load.controller_a is not None
    va = volt_amperes(load.controller_a, volts, drive.phases) * drive.pieces if known else None  # type: ignore[arg-type]
    return LoadEntry(
        node=drive.node, item=load.id, circuit=None, label=name, phases=drive.phases, va=va, power_factor=None,
        load_class="other", continuous=True, status=load.status, basis=basis_of(load, "controller_a"),
        phases_known=drive.phases_known, pieces=drive.pieces, needs=() if va is not None else (f"load of {name}",),
    )  # fmt: skip


@cache
def _unit_part(use: str | None, edition: int) -> str:
    """How lighting counts of which only the unit load is known."""
    floor = tables.floor_use(use, edition) if use else None
    return "unit" if floor is not None and (floor.holds_continuous or not floor.continuous) else "continuous"


@cache
def _lighting_demand(load_class: str | None, use: str | None, edition: int) -> str:
    return tables.floor_use(use, edition).demand if use and load_class == "lighting" else ""


def _placed(own: str | None, fed: str) -> tuple[str, bool]:
    """Phases of a load and whether they are known, from its own entry and the phases that reach it."""
    if own and (not fed or set(own) <= set(fed)):
        return "".join(sorted(own)), True
    if len(fed) == 1:
        return fed, own is None
    return fed, False


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
        va, least, most = circuit.va, None, None
        lines: tuple[WorkLine, ...] = ()
        if circuit.quantity is not None or circuit.load_class in LEAST_CLASSES:
            found = by_class(circuit.load_class, circuit.va, circuit.quantity, None, None, ctx.edition)
            va, least, most, lines = found.va, found.least_va, found.most_va, found.lines
        yield LoadEntry(
            node=node, item=bus.id, circuit=circuit.space, label=label, phases=circuit_phases(circuit, own),
            va=va, power_factor=circuit.power_factor, load_class=circuit.load_class,
            continuous=circuit.continuous, status=bus.status if bus.status == "new" else circuit.status,
            # Whoever enters a figure for a circuit nobody traced makes an assumption about what it feeds.
            basis="assumed" if circuit.traced == "untraced" and circuit.va is not None else seen, phases_known=bool(own),
            needs=unplaced if va is not None else (*unplaced, f"load of {label}"), least_va=least, most_va=most,
            pieces=circuit.quantity or 1, work=lines,
            assumed=tuple(a.format(label) for a in ELEVATOR_ASSUMED) if circuit.load_class == "elevator" and va else (),
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
