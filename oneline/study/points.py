"""The figures of every item, assembled from demand, available load, numbers and live state for the faces and papers."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import cached_property

from oneline import tables
from oneline.model import ConductorRun, Connection, Item, Joint, SuspectedTie
from oneline.rules.common import unique
from oneline.study.available import information
from oneline.study.conductors import run_ampacity
from oneline.study.context import Context
from oneline.study.duty import figure
from oneline.study.results import PointFigures
from oneline.study.rings import direction, rings

#: Kinds that current only passes through, and the sources it comes from.
_IN_LINE = ("service", "generator", "disconnect", "meter", "run", "joint")


class Points(Mapping[str, PointFigures]):
    """Figures of every item but joints, which share those of the devices they join; each put together when somebody asks.

    Load, available load and voltage drop are at the item's load side; fault current at its line terminals, where ratings
    are compared, and for conductors and transformers at the end away from the source.
    """

    def __init__(self, ctx: Context) -> None:
        self._ctx = ctx
        self._found: dict[str, PointFigures] = {}

    @cached_property
    def _ids(self) -> dict[str, None]:
        return {i.id: None for i in self._ctx.drawing.items.values() if not isinstance(i, Joint)}

    @cached_property
    def _source_only(self) -> frozenset[int]:
        return source_only_nodes(self._ctx)

    def __getitem__(self, item_id: str) -> PointFigures:
        found = self._found.get(item_id)
        if found is None:
            if item_id not in self._ids:
                raise KeyError(item_id)
            found = self._found[item_id] = _point(self._ctx, self._ctx.drawing.get(item_id), self._source_only)
        return found

    def __contains__(self, item_id: object) -> bool:
        return item_id in self._ids

    def __iter__(self) -> Iterator[str]:
        return iter(self._ids)

    def __len__(self) -> int:
        return len(self._ids)


def nodes_of(ctx: Context, item: Item) -> tuple[int, int] | None:
    """The item's node toward the source and the one away from it; the same one for buses, loads and sources. Of a branch
    of a closed loop that current may pass in both directions as it is drawn."""
    keys = ctx.net.branches_of(item.id)
    for key in keys:
        either = direction(ctx, key)
        if either is not None:
            return either
        line, load = ctx.feeding.line_node(key), ctx.feeding.load_node(key)
        if line is not None and load is not None:
            return line, load
    if isinstance(item, SuspectedTie) or (isinstance(item, Connection) and not keys):
        return None
    if len(item.terminals) > 1 or isinstance(item, Connection):
        branch = ctx.net.branches[keys[0]]
        return branch.a, branch.b
    node = ctx.net.node(item.id)
    return node, node


def _point(ctx: Context, item: Item, source_only: frozenset[int]) -> PointFigures:
    live = ctx.live
    sides = {t: _ordered(ctx, s) for t, s in live.sides(item.id).items()}
    possibly = {t: _ordered(ctx, s) for t, s in live.sides(item.id, possibly=True).items()}
    certain = _ordered(ctx, {s for found in sides.values() for s in found})
    base = PointFigures(
        id=item.id,
        name=ctx.name(item.id),
        kind=item.kind,
        live_from=certain,
        live_sides=sides,
        possibly_live_from=tuple(
            s for s in _ordered(ctx, {x for f in possibly.values() for x in f}) if s not in certain
        ),
        possibly_sides=possibly,
        readings=tuple(r.when for r in item.readings),
    )
    nodes = nodes_of(ctx, item)
    if nodes is None:
        return base
    line, load = nodes
    feeding, demand, numbers = ctx.feeding, ctx.demand, ctx.numbers
    fault_node = load if isinstance(item, ConductorRun) or item.kind == "transformer" else line
    code = feeding.system[load]
    added = where_added(ctx, load)
    available = None if added in source_only else ctx.available.get(added)
    found = figure(ctx, fault_node)
    run = run_ampacity(ctx, item.id) if isinstance(item, ConductorRun) else None
    # Ahead of the first conductor and device only the utility's own equipment limits, which is the utility's to say.
    unlimited = available is not None and not available.limits and not available.needs
    ahead = (f"what the utility allows at {base.name}",) if unlimited else ()
    needs = unique(
        (
            *demand.needs(load),
            *demand.neutral_needs(load),
            *(available.needs if available else ()),
            *numbers.needs(fault_node),
            *ahead,
        )
    )
    return PointFigures(
        id=base.id,
        name=base.name,
        kind=base.kind,
        system=code,
        voltage_v=None if code is None else tables.system(code).v_ll,
        phases=feeding.phases[load],
        fed_from=feeding.root[load] or None,
        live_from=base.live_from,
        live_sides=base.live_sides,
        possibly_live_from=base.possibly_live_from,
        possibly_sides=base.possibly_sides,
        load_a=demand.load_a(load),
        counted_a=demand.counted_a(load),
        neutral_a=demand.neutral_a(load),
        load_kva=demand.kva(load),
        load_method=demand.method(load),
        available_a=available.per_phase if available else dict.fromkeys(feeding.phases[load]),
        available_bound_a=available.bound if available else {},
        available_kva=available.kva if available else None,
        limited_by=available.limit if available else None,
        limits=(available.limits + information(ctx, added)) if available else (),
        fault_a=numbers.fault_a[fault_node],
        fault_least_a=found.least,
        fault_bound_a=found.most,
        fault_ll_a=numbers.fault_ll_a[fault_node],
        fault_ln_a=numbers.fault_ln_a[fault_node],
        fault_ln_hand_a=numbers.fault_ln_hand_a[fault_node],
        fault_high_leg_a=numbers.fault_high_leg_a[fault_node],
        fault_lg_a=numbers.fault_lg_a[fault_node],
        fault_lg_least_a=numbers.fault_lg_least_a[fault_node],
        fault_lg_bound_a=numbers.fault_lg_bound_a[fault_node],
        fault_duty_a=found.value,
        fault_hand_a=numbers.fault_hand_a[fault_node],
        fault_x_r=numbers.x_r[fault_node],
        voltage_drop_pct=numbers.drop_pct[load],
        ampacity_a=run.iz_a if run else None,
        readings=base.readings,
        needs=needs,
        fault_needs=found.needs if found.value is None else (),
        ground_needs=numbers.ground_needs(fault_node),
    )


def where_added(ctx: Context, node: int) -> int:
    """Where load that is added at a node would really be connected: past everything in line up to the next place where
    it could be, so that conductors answer with the device at their end, and a service with its main.

    Transformers, transfer switches, open devices and closed loops end the way.
    """
    closed = rings(ctx)
    while True:
        ends = (ctx.drawing.get(end.item) for end in ctx.net.ends_of[node])
        children = ctx.feeding.children(node)
        if len(children) != 1 or any(item.kind not in _IN_LINE for item in ends):
            return node
        branch, below = children[0]
        if closed is not None and branch.key in closed.ways.ring:
            return node
        if branch.item.kind not in _IN_LINE or not branch.normally_closed:
            return node
        node = below


def source_only_nodes(ctx: Context) -> frozenset[int]:
    """Nodes whose circuit is that of an array or battery alone: nobody adds load there."""
    feeding, takes_load, sources = ctx.feeding, set[int](), set[int]()
    for node in reversed(feeding.order):
        kinds = {ctx.drawing.get(end.item).kind for end in ctx.net.ends_of[node]}
        if kinds & {"load", "bus"}:
            takes_load.add(node)
        if kinds & {"solar", "battery"}:
            sources.add(node)
        parent = feeding.parent[node]
        if parent >= 0:
            for found in (takes_load, sources):
                if node in found:
                    found.add(parent)
    return frozenset(sources - takes_load)


def _ordered(ctx: Context, sources: frozenset[str] | set[str]) -> tuple[str, ...]:
    """Source ids in the drawing's order; unknown sources behind ties come last."""
    known = [s for s in ctx.net.sources if s in sources]
    return (*known, *sorted(s for s in sources if s not in ctx.net.sources))
