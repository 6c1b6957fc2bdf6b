"""Demand records of the drawing: what was recorded where, whether it may stand for the existing load, and at which points."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import inf, isinf

from oneline import tables
from oneline.model import (
    Battery,
    Bus,
    ConductorRun,
    DemandRecord,
    Disconnect,
    Generator,
    Item,
    Load,
    Meter,
    SolarArray,
    Transformer,
    UtilityService,
)
from oneline.rules.common import Fact, Subject, unique
from oneline.rules.record import (
    RecordFacts,
    existing_load,
    least_demand_va,
    record_state,
    recorded_demand,
    spot_reading,
)
from oneline.rules.verdict import Verdict
from oneline.study.calculated import Calculated
from oneline.study.context import Context, protects
from oneline.study.ends import rating_words, system_need

RecordedItem = UtilityService | Generator | Meter


@dataclass(frozen=True)
class PlacedRecord:
    """A demand record and the nodes that carry just the current it measured: from the recorder to its first bus."""

    item: RecordedItem
    record: DemandRecord
    nodes: tuple[int, ...]


def placed_records(ctx: Context) -> list[PlacedRecord]:
    """The longest usable-looking record of each item that has any."""
    found = []
    recorders = ctx.settled("recorders", lambda: _recorders(ctx))
    for item in (ctx.drawing.get(i) for i in recorders):
        if isinstance(item, UtilityService | Generator | Meter) and item.demand:
            node = ctx.net.node(item.id)
            if isinstance(item, Meter):
                line = ctx.feeding.load_node(item.id)
                node = node if line is None else line
            record = max(item.demand, key=_worth)
            found.append(PlacedRecord(item, record, same_current(ctx, node)))
    return found


def _recorders(ctx: Context) -> list[str]:
    """Items that can carry a demand record, in drawing order."""
    return [i.id for i in ctx.drawing.items.values() if isinstance(i, UtilityService | Generator | Meter)]


def _worth(record: DemandRecord) -> tuple[bool, float, float]:
    """Which of several records is looked at: one without power that flowed back, then the longest without a gap, then the
    one with the highest peak."""
    days = record.period_days or 0.0
    peak = record.peak_kva or record.peak_kw or record.peak_a or 0.0
    return not record.exported, min(days, record.unbroken_days or days), peak


def same_current(ctx: Context, node: int) -> tuple[int, ...]:
    """Nodes with the same current as ``node``: up to the last branching, down to and with the first bus."""
    feeding = ctx.feeding
    if feeding.position[node] < 0:
        return ()
    nodes = [node]
    up = node
    while feeding.branch[up]:
        parent = feeding.parent[up]
        if isinstance(ctx.net.branches[feeding.branch[up]].item, Transformer) or not _passes(ctx, parent):
            break
        nodes.insert(0, parent)
        up = parent
    down = node
    while _passes(ctx, down):
        branch, below = feeding.children(down)[0]
        if isinstance(branch.item, Transformer):
            break
        nodes.append(below)
        down = below
    return tuple(nodes)


def _passes(ctx: Context, node: int) -> bool:
    """Whether a node hands all its current to one branch: no bus, no load, no second branch."""
    ends = (ctx.drawing.get(end.item) for end in ctx.net.ends_of[node])
    return len(ctx.feeding.children(node)) == 1 and not any(isinstance(item, Bus | Load) for item in ends)


def record_facts(ctx: Context, placed: PlacedRecord, new: Calculated, rated: bool = True) -> RecordFacts:
    """What the rule reads of a record; ``new``: calculated load of the view's new items. ``rated``: with the rating that
    the load is compared with, which conductors take from the load itself."""
    item, record = placed.item, placed.record
    node = placed.nodes[-1] if placed.nodes else -1
    code = ctx.feeding.system[node] if node >= 0 else None
    system = tables.system(code) if code else None
    rating, rating_of = _rating(ctx, placed) if rated else (Fact(None), "")
    return RecordFacts(
        subject=Subject(item.id, ctx.name(item.id)), edition=ctx.edition, volts=system.v_ll if system else None,
        three_phase=len(ctx.feeding.phases[node]) == 3 if system else None,
        phases=len(ctx.feeding.phases[node]) or None, peak_kw=record.peak_kw,
        peak_kva=record.peak_kva, peak_a=record.peak_a, power_factor=record.power_factor,
        start=record.start, end=record.end, period_days=record.period_days, interval_min=record.interval_min,
        unbroken_days=record.unbroken_days,
        gaps=record.gaps, coverage_pct=record.coverage_pct, exported=record.exported, occupied=record.occupied,
        seasonal_included=record.seasonal_included, generation=_generation(ctx, node),
        protected=_protected(ctx, placed), new_va=_new_va(ctx, placed, node, new), rating_a=rating, rating_of=rating_of,
        basis=item.basis.get("demand", "measured"),
        system_need=system_need(ctx, node) if node >= 0 else f"what {ctx.name(item.id)} feeds",
    )  # fmt: skip


def _generation(ctx: Context, node: int) -> tuple[str, ...]:
    if node < 0:
        return ()
    below = set(ctx.feeding.subtree(node))
    return tuple(
        ctx.name(id_) for id_, at in ctx.net.sources.items()
        if at in below and isinstance(ctx.drawing.get(id_), SolarArray | Battery)
    )  # fmt: skip


def _protected(ctx: Context, placed: PlacedRecord) -> bool | None:
    """Overcurrent protection ahead of the recorder, or the devices at the far end of what it measures (230.90)."""
    if not placed.nodes:
        return None
    if ctx.protection_of(placed.nodes[-1]).device is not None:
        return True
    after = ctx.feeding.children(placed.nodes[-1])
    if not after:
        return None
    return True if all(protects(branch.item) for branch, _ in after) else None


def _rating(ctx: Context, placed: PlacedRecord) -> tuple[Fact, str]:
    """The rating that binds among the devices, buses and conductors that carry the recorded current."""
    facts: list[tuple[Fact, str]] = []
    for node in placed.nodes:
        key = ctx.feeding.branch[node]
        items: list[Item] = [ctx.drawing.get(end.item) for end in ctx.net.ends_of[node]]
        if key:
            items.append(ctx.net.branches[key].item)
        for item in items:
            name = ctx.name(item.id)
            if isinstance(item, Bus) and not (item.rating_a is None and item.form in ("gutter", "splice box")):
                facts.append((_marked(item, "rating_a", f"bus rating of {name}"), name))
            elif isinstance(item, Disconnect) and item.id == key:
                field = "trip_a" if protects(item) else "rating_a"
                facts.append((_marked(item, field, f"{rating_words(item, field)} of {name}"), name))
            elif isinstance(item, ConductorRun) and item.id == key:
                facts.append((_ampacity(ctx, item.id, name), name))
    known = [f for f in facts if f[0].value is not None]
    least = min(known, key=lambda f: f[0].value or 0.0, default=None)
    limit = inf if least is None else least[0].value or 0.0
    missing = [f for f in facts if f[0].value is None and (f[0].least is None or f[0].least < limit)]
    if missing:
        low = None if any(f[0].least is None for f in missing) else min(limit, *(f[0].least or 0.0 for f in missing))
        high = min(limit, *(inf if f[0].most is None else f[0].most for f in missing))
        need, *also = unique(n for f in missing for n in f[0].needs)
        return Fact(None, low, None if isinf(high) else high, need=need, also=tuple(also)), missing[0][1]
    if least is None:
        return Fact(None, need=f"rating of what {ctx.name(placed.item.id)} feeds"), ""
    return least


def _marked(item: Bus | Disconnect, field: str, what: str) -> Fact:
    return Fact(getattr(item, field), basis=item.basis.get(field, "entered"), need=what, name=what)


def _ampacity(ctx: Context, run_id: str, name: str) -> Fact:
    from oneline.study.conductors import run_ampacity

    return run_ampacity(ctx, run_id).fact(name)


def _new_va(ctx: Context, placed: PlacedRecord, node: int, new: Calculated) -> Fact:
    if node < 0:
        return Fact(None, need=f"what {ctx.name(placed.item.id)} feeds")
    at = ctx.feeding.position[node]
    va = float(new.va_low[at])
    if new.unknown[at]:
        below = set(ctx.feeding.subtree(node))
        open_loads = [e for e in ctx.loads if e.status == "new" and e.va is None and e.node in below]
        need, *also = unique(n for e in open_loads for n in e.needs) or ("load of the new circuits",)
        return Fact(None, low=va, need=need, also=tuple(also))
    return Fact(va)


@dataclass(frozen=True)
class Measured:
    """Existing load by record at a node: demand in VA, and the amperes it makes on each phase."""

    placed: PlacedRecord
    facts: RecordFacts
    va: float
    amperes: float
    assumed: tuple[str, ...]


@dataclass(frozen=True)
class Shown:
    """A record that does not stand for the existing load, or of which nobody knows yet whether it does.

    What it shows was there: ``least_a`` is a lower bound of the highest phase, 0 where the peak is not known. ``amperes``
    and ``va``: as counted if it does stand for the load. ``may_stand``: it does if ``needs`` are answered well.
    """

    facts: RecordFacts
    va: float | None
    amperes: float | None
    least_a: float
    may_stand: bool
    needs: tuple[str, ...]


def recorded_loads(ctx: Context, new: Calculated) -> tuple[dict[int, Measured], dict[int, Shown]]:
    """Records by the nodes that carry what they measured: those that stand for the existing load, and the others."""
    measured: dict[int, Measured] = {}
    shown: dict[int, Shown] = {}
    for placed in placed_records(ctx):
        facts = record_facts(ctx, placed, new, rated=False)
        demand = recorded_demand(facts)
        state, needs = record_state(facts)
        per_phase = _per_phase(facts, demand.va)
        if state == "pass" and demand.va is not None and per_phase is not None and facts.volts:
            measured.update(dict.fromkeys(placed.nodes, Measured(placed, facts, demand.va, per_phase, demand.assumed)))
        else:
            least_a = _per_phase(facts, least_demand_va(facts)) or 0.0
            needs = unique((*needs, *demand.needs))
            found = Shown(facts, demand.va, per_phase, least_a, state in ("pass", "unknown"), needs)
            shown.update(dict.fromkeys(placed.nodes, found))
    return measured, shown


def _per_phase(facts: RecordFacts, va: float | None) -> float | None:
    """A recorded demand as amperes of the highest phase; a current needs no voltage."""
    if va is None or not facts.volts:
        return facts.peak_a if facts.peak_kva is None and facts.peak_kw is None else None
    return va / (facts.volts * (3**0.5 if facts.three_phase else 1.0))


def record_verdicts(ctx: Context, new: Calculated) -> Iterator[Verdict]:
    """LOAD-1 for every item with a record, and for services and meters that only have spot readings."""
    for placed in placed_records(ctx):
        yield existing_load(record_facts(ctx, placed, new))
    places: list[UtilityService | Meter] = [*ctx.drawing.of(UtilityService), *ctx.drawing.of(Meter)]
    for item in places:
        if item.readings and not item.demand:
            yield spot_reading(Subject(item.id, ctx.name(item.id)), ctx.edition, item.readings[-1].when)
