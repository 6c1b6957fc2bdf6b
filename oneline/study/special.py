"""Loads under 240.4(G): what a run supplies where motors or air conditioners size its conductor and its device."""

from __future__ import annotations

from bisect import bisect_left

from oneline import tables
from oneline.model import Disconnect, Load, basis_of
from oneline.rules.common import Fact, section
from oneline.rules.load import motor_feeder_device, motor_feeder_load
from oneline.rules.load_special import between_words, hvac_by_current, motor_between
from oneline.rules.overcurrent import SpecialLoad, hvac_load, motor_load
from oneline.study.context import Context
from oneline.study.ends import device_kind, ends_from, system_need
from oneline.study.loads import LoadEntry, volts_across

_CLASSES = ("motor", "hvac")
#: Ratings in hp around one that the tables do not print, and their currents in A.
Steps = tuple[tuple[float, float], tuple[float, float]]
#: More motors than this are counted instead of named.
_NAMED_AT_MOST = 3


def special_load(ctx: Context, node: int, kind: str) -> SpecialLoad | None:
    """Motors or air conditioners, when a run supplies nothing else: one directly, or several through their own devices.

    ``node``: load end of the run; ``kind``: of the device ahead, "breaker" or "fuse".
    """
    if not _motors_only(ctx, node):
        return None
    ends = ends_from(ctx, node, Fact(0.0))
    if len(ends.loads) == 1 and len(ends.ends) == 1 and not ends.scheduled and (ends.loads[0].quantity or 1) == 1:
        return _single(ctx, ends.loads[0], kind)
    return _several(ctx, node, kind)


def single_load(ctx: Context, load: Load, device: Disconnect) -> SpecialLoad | None:
    """A motor or air conditioner of which something is known that limits its device, alone behind that device."""
    node = ctx.feeding.load_node(device.id)
    known = (load.mca_a, load.mocp_a, load.horsepower, load.rla_a)
    if node is None or (load.quantity or 1) > 1 or all(figure is None for figure in known):
        return None
    ends = ends_from(ctx, node, Fact(0.0))
    if ends.scheduled or len(ends.ends) != 1 or [x.id for x in ends.loads] != [load.id]:
        return None
    return _single(ctx, load, device_kind(device))


def _motors_only(ctx: Context, node: int) -> bool:
    """Whether there is load below a node and all of it is motors and air conditioners: a question of two counts."""

    def count() -> tuple[list[int], list[int]]:
        position, entries = ctx.feeding.position, ctx.demand.entries
        special = sorted(position[e.node] for e in entries if _is_motor(e))
        return special, sorted(position[e.node] for e in entries if not _is_motor(e))

    places = ctx.recall("motor places", "", count)
    start, end = ctx.feeding.position[node], ctx.feeding.last[node]
    motors, rest = (bisect_left(found, end) - bisect_left(found, start) for found in places)
    return motors > 0 and rest == 0


def _is_motor(entry: LoadEntry) -> bool:
    return entry.load_class in _CLASSES or entry.mca_a is not None


def _single(ctx: Context, load: Load, kind: str) -> SpecialLoad | None:
    name = ctx.name(load.id)
    if load.rla_a is not None and load.load_class == "hvac" and (load.mca_a is None or load.mocp_a is None):
        basis = basis_of(load, "rla_a", "mca_a", "mocp_a")
        return hvac_by_current(name, load.rla_a, load.mca_a, load.mocp_a, ctx.edition, kind, basis)
    if load.mca_a is not None or load.mocp_a is not None or load.load_class == "hvac":
        return hvac_load(name, load.mca_a, load.mocp_a, basis_of(load, "mca_a", "mocp_a"))
    if load.load_class != "motor":
        return None
    node = ctx.net.node(load.id)
    phases = load.phases or ctx.feeding.phases[node]
    current_a = _table_current(ctx, node, phases, load.horsepower)
    need = f"horsepower of {name}" if load.horsepower is None else system_need(ctx, node)
    if load.horsepower is not None and volts_across(ctx, node, phases) is not None:
        between = _between_steps(ctx, node, phases, load.horsepower) if current_a is None else None
        if between is not None:
            steps, currents = between
            basis = basis_of(load, "horsepower")
            return motor_between(
                name, load.horsepower, steps, currents, len(phases) == 3, ctx.edition, kind, basis
            )  # fmt: skip
        need = f"full-load current on the nameplate of {name}: {load.horsepower:g} hp is not in the motor table"
    return motor_load(name, current_a, len(phases) == 3, ctx.edition, kind, basis_of(load, "horsepower"), need)


def _table_current(ctx: Context, node: int, phases: str, horsepower: float | None) -> float | None:
    """Full-load current of the motor tables, amperes; ``None`` where they cannot tell."""
    volts = volts_across(ctx, node, phases)
    if horsepower is None or volts is None:
        return None
    try:
        return tables.motor_flc_a(horsepower, volts, 3 if len(phases) == 3 else 1)
    except tables.NotInTable:
        return None


def _between_steps(ctx: Context, node: int, phases: str, horsepower: float) -> Steps | None:
    """The table's ratings around one that it does not print, and their currents."""
    try:
        low, high = tables.motor_steps(horsepower, 3 if len(phases) == 3 else 1)
    except tables.NotInTable:
        return None
    currents = _table_current(ctx, node, phases, low), _table_current(ctx, node, phases, high)
    return None if currents[0] is None or currents[1] is None else ((low, high), (currents[0], currents[1]))


def _several(ctx: Context, node: int, kind: str) -> SpecialLoad:
    """A feeder of motors only, 430.24 and 430.62; air conditioners count with their rated-load current, and leave its
    figures open without one."""
    below = set(ctx.feeding.subtree(node))
    entries = [e for e in ctx.demand.entries if e.node in below for _ in range(e.pieces)]
    name = f"{len(entries)} motor{'s' if len(entries) > 1 else ''}"
    source = section("LOAD-4", ctx.edition)
    currents = [_entry_current(ctx, node, e) for e in entries]
    between = {k: found for k, e in enumerate(entries) if currents[k] is None and (found := _entry_steps(ctx, node, e))}
    if between and all(c is not None or k in between for k, c in enumerate(currents)):
        return _several_between(ctx, entries, currents, between, kind, source)
    if any(c is None for c in currents):
        need, *also = _current_needs(ctx, node, [e for e, c in zip(entries, currents, strict=True) if c is None])
        unknown = Fact(None, need=need, also=tuple(also))
        return SpecialLoad("motor", name, unknown, unknown, source)
    known = [c for c in currents if c is not None]
    conductor = motor_feeder_load(known, ctx.edition)
    branch = [_branch_device(ctx, e, c) for e, c in zip(entries, known, strict=True)]
    largest = max(range(len(known)), key=lambda k: branch[k][1])
    others = [c for k, c in enumerate(known) if k != largest]
    low, high = (motor_feeder_device(b, others, ctx.edition, kind) for b in branch[largest])
    exact = low.value if low.value == high.value else None
    need = f"type of the fuses ahead of {entries[largest].label}"
    if _air_conditioner(ctx, entries[largest]) is not None:
        need = f"whether {entries[largest].label} starts on a smaller device"
    device = Fact(exact, low.value, high.value, need=need)
    return SpecialLoad("motor", name, Fact(conductor.value), device, source, (*conductor.lines, *high.lines))


def _several_between(
    ctx: Context, entries: list[LoadEntry], currents: list[float | None], between: dict[int, Steps], kind: str, source: str
) -> SpecialLoad:  # fmt: skip
    """A feeder of motors of which some have ratings that the tables do not print: bounds by the steps around them."""
    sides = []
    for side in (0, 1):
        known = [between[k][1][side] if c is None else c for k, c in enumerate(currents)]
        branch = [_branch_device(ctx, e, c)[side] for e, c in zip(entries, known, strict=True)]
        largest = max(range(len(known)), key=lambda k: branch[k])
        others = [c for k, c in enumerate(known) if k != largest]
        device = motor_feeder_device(branch[largest], others, ctx.edition, kind)
        sides.append((motor_feeder_load(known, ctx.edition), device))
    (low, low_device), (high, high_device) = sides
    assumed = tuple(
        between_words(entries[k].label, entries[k].horsepower or 0.0, found[0]) for k, found in between.items()
    )
    need, *also = (n for k in between for n in entries[k].needs)
    conductor = Fact(None, low.value, high.value, need=need, assumed=assumed, also=tuple(also))
    device_a = Fact(None, low_device.value, high_device.value, need=need, assumed=assumed, also=tuple(also))
    name = f"{len(entries)} motor{'s' if len(entries) > 1 else ''}"
    lines = (*low.lines, *high.lines, *low_device.lines, *high_device.lines)
    return SpecialLoad("motor", name, conductor, device_a, source, lines)


def _entry_steps(ctx: Context, node: int, entry: LoadEntry) -> Steps | None:
    """The steps around a motor's rating that the tables do not print, where that alone leaves its current open."""
    same = ctx.feeding.system[entry.node] == ctx.feeding.system[node]
    if entry.load_class != "motor" or not same or not entry.phases_known or entry.horsepower is None:
        return None
    return _between_steps(ctx, entry.node, entry.phases, entry.horsepower)


def _current_needs(ctx: Context, node: int, unknown: list[LoadEntry]) -> list[str]:
    """Motors whose current is not known, one by one while they are few."""
    if len(unknown) <= _NAMED_AT_MOST:
        return [f"full-load current of {entry.label}" for entry in unknown]
    names = [ctx.name(end.item) for end in ctx.net.ends_of[node]]
    return [f"full-load currents of {len(unknown)} motors behind {names[0]}"]


def _entry_current(ctx: Context, node: int, entry: LoadEntry) -> float | None:
    """Table current of a motor, or rated-load current of an air conditioner, at the voltage of the feeder; those behind a
    transformer are left open."""
    unit = _air_conditioner(ctx, entry)
    if unit is not None and unit.rla_a is not None:
        return unit.rla_a if ctx.feeding.system[entry.node] == ctx.feeding.system[node] else None
    if entry.load_class != "motor" or ctx.feeding.system[entry.node] != ctx.feeding.system[node]:
        return None
    return _table_current(ctx, entry.node, entry.phases, entry.horsepower) if entry.phases_known else None


def _air_conditioner(ctx: Context, entry: LoadEntry) -> Load | None:
    """The drawn air conditioner that an entry stands for."""
    item = ctx.drawing.items.get(entry.item) if entry.load_class == "hvac" and entry.circuit is None else None
    return item if isinstance(item, Load) else None


def _branch_device(ctx: Context, entry: LoadEntry, current_a: float) -> tuple[float, float]:
    """Least and largest branch device that Table 430.52 permits for a motor, by the kind of its own device."""
    device = ctx.protection_of(entry.node).device
    kind = device_kind(device) if device is not None else "breaker"
    unit = _air_conditioner(ctx, entry)
    if unit is not None:
        found = hvac_by_current(entry.label, current_a, unit.mca_a, unit.mocp_a, ctx.edition, kind, "entered").device_a
        return found.least or 0.0, found.most or 0.0
    fact = motor_load(entry.label, current_a, len(entry.phases) == 3, ctx.edition, kind).device_a
    return fact.least or 0.0, fact.most or 0.0
