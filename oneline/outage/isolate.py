"""How a work zone is made dead by the drawing: which devices to open, what nobody can open, what nobody knows.

Everything of which nobody can say that it brings no energy counts as a source: where a device parts it from the zone, that
device is opened too; where none does, the answer is *unknown*, by name.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

from oneline.model import TransferSwitch, WorkZone
from oneline.network.isolation import openable
from oneline.network.live import worst_state
from oneline.outage.origins import THERE, Origin, listed_circuits, nodes_of, outside_view
from oneline.outage.points import Maker
from oneline.outage.results import Isolation, ZoneAnswer
from oneline.study.context import Context


def zone_answer(ctx: Context, zone: WorkZone) -> ZoneAnswer:
    """How a zone can be made dead in one view of the drawing."""
    nodes, missing = zone_nodes(ctx, zone)
    unknown = [f"{ctx.name(item)} is not on the drawing in this view." for item in missing]
    if not zone.items:
        unknown.append("Nothing was chosen to be worked on.")
    maker = Maker(ctx, zone, nodes)
    cuts = maker.cuts()
    touching = [maker.origins[key] for key in cuts.blocked]
    unknown += [origin.says for origin in touching if origin.kind == "unknown"]
    unknown += _nothing_feeds(ctx, zone, maker.origins)
    blocked = tuple(maker.blocked(origin) for origin in touching if origin.kind == "source")
    made = [maker.made(cut.items, cuts.exact, cuts.blocked) for cut in cuts.cuts] if nodes else []
    # Never seen to happen; if computing again should ever contradict the cut, nothing is claimed.
    unknown += [f"Computed again, {blocked.says}" for isolation in made[:1] for blocked in isolation.reached]
    made = sorted((i for i in made if not i.reached), key=lambda isolation: bool(isolation.unknown))
    if made:
        unknown += made[0].unknown
    points = made[0].items if made else ()
    return ZoneAnswer(
        zone=zone,
        view=ctx.view,
        state="unknown" if unknown else "not here" if blocked else "isolated",
        nodes=nodes,
        alternatives=() if blocked else tuple(made),
        blocked=blocked,
        unknown=tuple(dict.fromkeys(unknown)),
        listed=(*listed_circuits(ctx, maker.inside(points)), *outside_view(ctx, zone.items, points)),
        missing=missing,
        besides=tuple(isolation for isolation in made if isolation.points) if blocked else (),
    )


def isolation_of(ctx: Context, zone: WorkZone, answer: ZoneAnswer) -> Isolation | None:
    """The devices chosen by hand, checked like computed ones, where some were chosen; else the best that was computed.

    What still reaches the zone with the chosen ones open stands in ``reached``, each source with its way, and in
    ``unknown``.
    """
    if not zone.isolation:
        return answer.best
    can = set(openable(ctx.net))
    chosen = tuple(item for item in dict.fromkeys(zone.isolation) if item in can)
    maker = Maker(ctx, zone, answer.nodes)
    made = maker.made(chosen, exact=True)
    says = [
        f"{ctx.name(item)} is no isolation point: {_why_none(ctx, item)}."
        for item in dict.fromkeys(zone.isolation) if item not in can
    ]  # fmt: skip
    return replace(made, unknown=(*says, *made.unknown)) if says else made


def _why_none(ctx: Context, item_id: str) -> str:
    if item_id not in ctx.drawing.items:
        return "it is not on the drawing in this view"
    if isinstance(ctx.drawing.get(item_id), TransferSwitch):
        return "nobody said that it has an off position that can be locked"
    return "it cannot be opened"


def zone_nodes(ctx: Context, zone: WorkZone) -> tuple[frozenset[int], tuple[str, ...]]:
    """Nodes of everything in the zone, each terminal of it, and the ids that are not on the drawing in this view."""
    nodes: set[int] = set()
    missing = []
    for item in dict.fromkeys(zone.items):
        if item in ctx.drawing.items and (own := nodes_of(ctx.net, item)):
            nodes.update(own)
        else:
            missing.append(item)
    return frozenset(nodes), tuple(missing)


def _nothing_feeds(ctx: Context, zone: WorkZone, all_origins: Mapping[str, Origin]) -> Iterator[str]:
    """Items of the zone that were there already and that nothing on the drawing can feed, whatever is closed."""
    fed = worst_state(ctx.net, (), {key: origin.nodes for key, origin in all_origins.items()})
    for item_id in dict.fromkeys(zone.items):
        item = ctx.drawing.items.get(item_id)
        if item is None or item.status not in THERE:
            continue
        if not any(fed[node] for node in nodes_of(ctx.net, item_id)):
            yield f"Nothing on the drawing feeds {ctx.name(item_id)}: nobody drew where it is fed from."
