"""High-leg, corner-grounded and ungrounded systems on a drawing; systems identified by measured voltages; regrounding."""

from __future__ import annotations

from collections.abc import Iterator

from oneline import tables
from oneline.model import Bus, Disconnect, Item, Load, Transformer, UtilityService, VoltageReading
from oneline.network import build_feeding, build_network
from oneline.rules.common import Fact, Subject, existing_work
from oneline.rules.special_systems import (
    HighLegFacts,
    PoleFacts,
    UngroundedFacts,
    corner_grounded_note,
    first_ground_fault,
    fuse_in_grounded_phase,
    ground_detectors,
    high_leg_equipment,
    load_on_high_leg,
    regrounded,
    single_pole_duty,
    without_neutral,
)
from oneline.rules.system_identity import PAIRS, identify, measured_system
from oneline.rules.verdict import Verdict
from oneline.study.context import Context, protects
from oneline.study.duty import duty
from oneline.study.ends import EQUIPMENT_FORMS, buses_at, subject_of
from oneline.study.loads import HIGH_LEG
from oneline.study.subject import for_all

#: Devices with poles of their own that the rules of these systems look at.
_MOTORS = ("motor", "hvac")


def about(ctx: Context, item: Item) -> Iterator[Verdict]:
    """GND-9 wherever voltages are measured; HL-1, CG-1, FLT-11 and UG-1 of what stands on systems that are such."""
    if item.voltages:
        yield from _identified(ctx, item)
    if not isinstance(item, Bus | Load | Disconnect):
        return
    node = node_of(ctx, item)
    code = None if node is None else ctx.feeding.system[node]
    if node is None or code is None:
        return
    system = tables.system(code)
    if system.v_high_leg:
        yield from _high_leg(ctx, item, node, code)
    elif system.grounding == "corner":
        yield from _corner_grounded(ctx, item, node, code)
    elif system.grounding == "ungrounded" and isinstance(item, Bus) and item.form in EQUIPMENT_FORMS:
        found = without_neutral(subject_of(ctx, item), ctx.edition, _single_pole(ctx, item), "ungrounded", "UG-1")
        if found is not None:
            yield existing_work(found, item.status)


def overall(ctx: Context) -> Iterator[Verdict]:
    """GND-8 and UG-1 of ungrounded systems; ISO-1."""
    if any(tables.system(code).grounding == "ungrounded" for code in set(ctx.feeding.system) if code is not None):
        yield from _ungrounded(ctx)
    yield from _regrounded(ctx)


def node_of(ctx: Context, item: Item) -> int | None:
    """The node at which something is measured on an item: a disconnect's line side, a transformer's load side."""
    if isinstance(item, Bus | Load) or item.kind in ("service", "generator", "solar", "battery"):
        node = ctx.net.node(item.id)
        return node if ctx.feeding.position[node] >= 0 else None
    if isinstance(item, Transformer):
        return ctx.feeding.load_node(item.id)
    if item.id in ctx.net.branches:
        return ctx.feeding.line_node(item.id)
    return None


# ------------------------------------------------------------------------------------------------ measured (GND-9)
def _volts(reading: VoltageReading) -> dict[str, float | None]:
    return {name: getattr(reading, name) for name in PAIRS}


def _identified(ctx: Context, item: Item) -> Iterator[Verdict]:
    node = node_of(ctx, item)
    code = None if node is None else ctx.feeding.system[node]
    reading = item.voltages[-1]
    found = measured_system(
        subject_of(ctx, item),
        ctx.edition,
        code,
        reading.when,
        _volts(reading),
        _told_by(ctx, node) or ctx.name(item.id),
    )
    if found is not None:
        yield found


def _told_by(ctx: Context, node: int | None) -> str:
    """Name of the source or transformer whose system holds at a node."""
    if node is None or ctx.feeding.position[node] < 0:
        return ""
    for branch, _ in ctx.feeding.path(node):
        if isinstance(branch.item, Transformer):
            return ctx.name(branch.item.id)
    root = ctx.feeding.root[node]
    return ctx.name(root) if root else ""


def high_leg_of(ctx: Context, bus: Bus, code: str) -> str:
    """Phase of the high leg at a bus: as measured, else by the usual arrangement."""
    return _measured(ctx, code, bus, "high_leg") or HIGH_LEG


def _measured(ctx: Context, code: str, item: Item, what: str) -> str:
    """The phase that the readings at an item, or else at any place of the same source and system, show to be the high leg
    ("high_leg") or the grounded one ("grounded"); "" where none does."""
    measured = ctx.recall("measured voltages", "", lambda: tuple(i.id for i in ctx.drawing.set_in(Item, "voltages")))
    others = (ctx.drawing.get(i) for i in measured if i != item.id)
    places = [item, *(i for i in others if _alike(ctx, i, item))]
    for place in places:
        for reading in reversed(place.voltages):
            phases = {getattr(f, what) for f in identify(_volts(reading)).fits if f.code == code}
            if len(phases) == 1 and (phase := phases.pop()):
                return str(phase)
    return ""


def _alike(ctx: Context, one: Item, other: Item) -> bool:
    a, b = node_of(ctx, one), node_of(ctx, other)
    return a is not None and b is not None and _told_by(ctx, a) == _told_by(ctx, b)


# ------------------------------------------------------------------------------------------------- high leg (HL-1)
def _high_leg(ctx: Context, item: Item, node: int, code: str) -> Iterator[Verdict]:
    if isinstance(item, Bus) and item.form in EQUIPMENT_FORMS:
        known = item.high_leg_identified is not None or item.system_marked is not None or bool(item.voltages)
        # Of old equipment about which nothing is known only the first behind a source is asked.
        if item.status == "new" or known or _first_board(ctx, item, node):
            measured = _measured(ctx, code, item, "high_leg")
            facts = HighLegFacts(
                subject_of(ctx, item), ctx.edition, code, measured, item.high_leg_identified, item.system_marked
            )
            yield existing_work(high_leg_equipment(facts), item.status)
    elif isinstance(item, Load):
        leg = _measured(ctx, code, item, "high_leg") or HIGH_LEG
        if (item.phases or ctx.feeding.phases[node]) == leg:
            yield load_on_high_leg(subject_of(ctx, item), ctx.edition, code, leg)


def _first_board(ctx: Context, item: Bus, node: int) -> bool:
    """Whether no other panel or switchboard stands between a place and the source or transformer of its system."""
    if any(b.id != item.id and b.form in EQUIPMENT_FORMS and b.id < item.id for b in buses_at(ctx, node)):
        return False
    for branch, up in ctx.feeding.path(node):
        if isinstance(branch.item, Transformer):
            return True
        if any(b.form in EQUIPMENT_FORMS for b in buses_at(ctx, up)):
            return False
    return True


# ------------------------------------------------------------------------------------------ corner-grounded (CG-1)
def _corner_grounded(ctx: Context, item: Item, node: int, code: str) -> Iterator[Verdict]:
    if isinstance(item, Bus) and item.form in EQUIPMENT_FORMS:
        subject = subject_of(ctx, item)
        found = without_neutral(subject, ctx.edition, _single_pole(ctx, item), "corner", "CG-1")
        if found is not None:
            yield existing_work(found, item.status)
        if item.breakers_ka is not None:
            of = f"the breakers in {subject.name}"
            rating, one_pole = (
                _ka(item.breakers_ka, f"interrupting rating of {of}"),
                _ka(None, f"single-pole rating of {of}"),
            )
            yield single_pole_duty(PoleFacts(subject, ctx.edition, "corner", duty(ctx, node), rating, one_pole, of))
        yield corner_grounded_note(subject, ctx.edition, _measured(ctx, code, item, "grounded"))
    elif isinstance(item, Load) and len(item.phases or "") == 1:
        loads = without_neutral(subject_of(ctx, item), ctx.edition, [ctx.name(item.id)], "corner", "CG-1")
        if loads is not None:
            yield existing_work(loads, item.status)
    elif isinstance(item, Disconnect):
        yield from _pole_by_pole(ctx, item, node, code)


def _single_pole(ctx: Context, bus: Bus) -> list[str]:
    return [
        f"circuit {c.space}" + (f" ({c.description})" if c.description else "")
        for c in bus.circuits if c.use == "load" and c.poles == 1
    ]  # fmt: skip


def _pole_by_pole(ctx: Context, item: Disconnect, node: int, code: str) -> Iterator[Verdict]:
    subject = subject_of(ctx, item)
    if item.form in ("fused switch", "fuses"):
        poles = item.poles or (len(item.phases) if item.phases else None)
        grounded = _measured(ctx, code, item, "grounded")
        through: bool | None = None if poles is None else poles >= len("ABC")
        if item.phases and grounded:
            through = grounded in item.phases
        found = fuse_in_grounded_phase(subject, ctx.edition, item.grounded_pole_solid, through, _motors_only(ctx, item))
        yield existing_work(found, item.status)
    elif protects(item):
        name = subject.name
        rating = _ka(item.interrupting_ka, f"interrupting rating of {name}")
        one_pole = _ka(item.single_pole_ka, f"single-pole interrupting rating of {name}")
        # Without the rating itself there is nothing to take a share of: it is asked for already.
        if rating.value is not None or one_pole.value is not None:
            yield single_pole_duty(PoleFacts(subject, ctx.edition, "corner", duty(ctx, node), rating, one_pole))


def _ka(value: float | None, name: str) -> Fact:
    return Fact(None if value is None else value * 1000, need=name, name=name)


def _motors_only(ctx: Context, item: Disconnect) -> bool:
    load = ctx.feeding.load_node(item.id)
    below = set() if load is None else set(ctx.feeding.subtree(load))
    entries = [e for e in ctx.loads if e.node in below]
    return bool(entries) and all(e.load_class in _MOTORS or e.mca_a is not None for e in entries)


# --------------------------------------------------------------------------------------------- ungrounded (GND-8)
def _ungrounded(ctx: Context) -> Iterator[Verdict]:
    groups: dict[str, list[tuple[Item, str]]] = {}
    for item in ctx.drawing.items.values():
        node = node_of(ctx, item)
        code = None if node is None else ctx.feeding.system[node]
        if node is None or code is None or tables.system(code).grounding != "ungrounded":
            continue
        source = next((b.item for b, _ in ctx.feeding.path(node) if isinstance(b.item, Transformer)), None)
        groups.setdefault(ctx.feeding.root[node] if source is None else source.id, []).append((item, code))
    for source_id, members in groups.items():
        facts = _ungrounded_facts(ctx, ctx.drawing.get(source_id), members)
        status = "new" if any(i.status == "new" for i, _ in members) else "existing"
        yield existing_work(ground_detectors(facts), status)
        yield first_ground_fault(facts)


def _ungrounded_facts(ctx: Context, source: Item, members: list[tuple[Item, str]]) -> UngroundedFacts:
    buses = [i for i, _ in members if isinstance(i, Bus) and i.form in EQUIPMENT_FORMS]
    grounded = [
        (subject_of(ctx, item), phase) for item, code in members if item.voltages
        and (found := identify(_volts(item.voltages[-1]))).codes and code in found.codes and (phase := found.phase)
    ]  # fmt: skip
    return UngroundedFacts(
        subject_of(ctx, source), ctx.edition, members[0][1],
        tuple((subject_of(ctx, b), b.ground_detector) for b in buses),
        tuple((subject_of(ctx, b), b.system_marked) for b in buses),
        tuple((subject_of(ctx, b), b.detector_lamps) for b in buses if b.detector_lamps), tuple(grounded),
    )  # fmt: skip


# ---------------------------------------------------------------------------------------------- regrounding (ISO-1)
def _new_systems(ctx: Context) -> bool:
    items = ctx.drawing.items.values()
    return any(
        i.status == "new" and (isinstance(i, Transformer | UtilityService) or i.kind == "generator") for i in items
    )


def _regrounded(ctx: Context) -> Iterator[Verdict]:
    """Existing equipment that the new work puts onto a system with another kind of grounding. Nothing is worked out while no
    source or transformer is new."""
    if ctx.view != "proposed" or not ctx.settled("new systems", lambda: _new_systems(ctx)):
        return
    before = build_network(ctx.full.view("existing"))
    feeding = build_feeding(before)
    changed: dict[tuple[str, str, str], list[Subject]] = {}
    for bus in ctx.drawing.of(Bus):
        if bus.status != "existing" or bus.form not in EQUIPMENT_FORMS or bus.id not in before.drawing.items:
            continue
        node = ctx.net.node(bus.id)
        was, now = feeding.system[before.node(bus.id)], ctx.feeding.system[node]
        if was is not None and now is not None and tables.system(was).grounding != tables.system(now).grounding:
            changed.setdefault((was, now, _told_by(ctx, node)), []).append(subject_of(ctx, bus))
    for (was, now, source), buses in changed.items():
        yield regrounded(buses[0], ctx.edition, was, now, [b.id for b in buses[1:]], source)


#: Everything this subject finds on a drawing.
verdicts = for_all(about, overall)
