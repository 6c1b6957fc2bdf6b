"""Service equipment on the drawing: which disconnects are the service disconnects, and what stands ahead of them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from oneline import tables
from oneline.model import Bus, Disconnect, Item, Load, Transformer, UtilityService
from oneline.rules.common import Fact, Subject, existing_work, unique
from oneline.rules.services import (
    DisconnectFacts,
    Enclosure,
    SwitchFacts,
    ahead_of_disconnect,
    grouped_disconnects,
    marked_for_service,
    number_of_disconnects,
    service_rating,
    sum_of_ratings,
)
from oneline.rules.verdict import Verdict
from oneline.study.context import Context, protects
from oneline.study.ends import rating_words
from oneline.study.supply import load_fact

#: Forms of bus that only join conductors: disconnects fed from one of them are in enclosures of their own.
_JOINING_FORMS = ("gutter", "splice box", "busway")


@dataclass
class Entrance:
    """A utility service as it enters: its disconnects, those that only connect sources ahead of them, what is ahead.

    ``nodes``: ahead of the disconnects, from the service down; ``ahead``: ids of items there that need a reason.
    """

    service: UtilityService
    disconnects: list[Disconnect] = field(default_factory=list)
    sources: list[Disconnect] = field(default_factory=list)
    nodes: list[int] = field(default_factory=list)
    ahead: list[Item] = field(default_factory=list)


def entrances(ctx: Context) -> list[Entrance]:
    """Every utility service of the view that feeds anything. Worked out once."""
    return ctx.recall("entrances", "", lambda: [_entrance(ctx, s) for s in ctx.drawing.of(UtilityService)])


def _marked(ctx: Context) -> set[int]:
    """Load-side nodes of the disconnects marked as service disconnects."""
    marked = (d for d in ctx.drawing.of(Disconnect) if d.service_disconnect)
    return {node for d in marked if (node := ctx.feeding.load_node(d.id)) is not None}


def _entrance(ctx: Context, service: UtilityService) -> Entrance:
    found = Entrance(service)
    root = ctx.net.node(service.id)
    if ctx.feeding.root[root] != service.id:
        return found
    marked = ctx.settled("marked", lambda: _marked(ctx))
    waiting = [root]
    while waiting:
        node = waiting.pop(0)
        found.nodes.append(node)
        found.ahead.extend(_loads_at(ctx, node))
        for branch, below in ctx.feeding.children(node):
            item = branch.item
            if isinstance(item, Disconnect) and _stops(ctx, item, below, marked):
                (found.sources if only_sources(ctx, below) else found.disconnects).append(item)
                continue
            if isinstance(item, Disconnect | Transformer):
                found.ahead.append(item)
            waiting.append(below)
    return found


def _stops(ctx: Context, item: Disconnect, below: int, marked: set[int]) -> bool:
    """Whether a disconnect is the service disconnect of its branch: marked so, or the first where none is marked."""
    if item.service_disconnect is not None:
        return item.service_disconnect
    return not any(node in marked for node in ctx.feeding.subtree(below))


def only_sources(ctx: Context, node: int) -> bool:
    """Whether solar arrays or batteries are all there is below a node."""
    feeding = ctx.feeding
    first, last = feeding.position[node], feeding.last[node]
    inverters = (at for id_, at in ctx.net.sources.items() if ctx.drawing.get(id_).kind in ("solar", "battery"))
    if not any(first <= feeding.position[at] < last for at in inverters):
        return False
    items = (ctx.drawing.get(end.item) for n in feeding.subtree(node) for end in ctx.net.ends_of[n])
    return not any(
        isinstance(item, Load) or (isinstance(item, Bus) and (item.circuits or item.unlisted)) for item in items
    )


def _loads_at(ctx: Context, node: int) -> list[Item]:
    items = (ctx.drawing.get(end.item) for end in ctx.net.ends_of[node])
    return [item for item in items if isinstance(item, Load) or (isinstance(item, Bus) and item.circuits)]


# ----------------------------------------------------------------------------------------------------- verdicts
def verdicts(ctx: Context) -> Iterator[Verdict]:
    """SVC-2 and SVC-4 of each service, SVC-3 of each service disconnect, SVC-6 of what is ahead of them."""
    for entrance in entrances(ctx):
        if not entrance.nodes:
            continue
        yield existing_work(_number(ctx, entrance), _status(entrance))
        for device in entrance.disconnects:
            subject = Subject(device.id, ctx.name(device.id))
            facts = SwitchFacts(
                subject, ctx.edition, device.service_rated, device.stands, device.readily_accessible, device.status == "new"
            )  # fmt: skip
            yield existing_work(marked_for_service(facts), device.status)
        rooms = [(Subject(d.id, ctx.name(d.id)), d.location) for d in entrance.disconnects if d.location]
        apart = grouped_disconnects(Subject(entrance.service.id, ctx.name(entrance.service.id)), ctx.edition, rooms)
        if apart is not None:
            yield apart
        if entrance.disconnects:
            yield _rating(ctx, entrance)
        for item in entrance.ahead:
            kind = "load" if isinstance(item, Bus) else item.kind
            yield ahead_of_disconnect(Subject(item.id, ctx.name(item.id)), ctx.edition, kind)


def _status(entrance: Entrance) -> str:
    return "new" if any(d.status == "new" for d in entrance.disconnects) else entrance.service.status


def _number(ctx: Context, entrance: Entrance) -> Verdict:
    service = entrance.service
    groups: dict[int, list[Disconnect]] = {}
    for device in entrance.disconnects:
        line = ctx.feeding.line_node(device.id)
        groups.setdefault(-1 if line is None else line, []).append(device)
    enclosures: list[Enclosure] = []
    for node, devices in groups.items():
        bus = _equipment_at(ctx, node)
        if bus is None:
            enclosures.extend(Enclosure(ctx.name(d.id), "", 1) for d in devices)
        else:
            enclosures.append(
                Enclosure(
                    ctx.name(bus.id), bus.form, len(devices), sum(d.status == "new" for d in devices),
                    sum(d.service_disconnect is None for d in devices),
                )
            )  # fmt: skip
    return number_of_disconnects(
        DisconnectFacts(
            Subject(service.id, ctx.name(service.id)), ctx.edition, tuple(ctx.name(d.id) for d in entrance.disconnects),
            tuple(d.id for d in entrance.disconnects), tuple(enclosures),
            tuple(ctx.name(d.id) for d in entrance.disconnects if d.service_disconnect is None),
        )
    )  # fmt: skip


def _equipment_at(ctx: Context, node: int) -> Bus | None:
    """The panel or board that a disconnect is bolted to, ``None`` where it is fed from a gutter or a splice."""
    if node < 0:
        return None
    items = (ctx.drawing.get(end.item) for end in ctx.net.ends_of[node])
    return next((i for i in items if isinstance(i, Bus) and i.form not in _JOINING_FORMS), None)


def disconnect_rating(ctx: Context, device: Disconnect) -> Fact:
    """Ampere rating of a service disconnect: of the switch, or the trip of a breaker, which its frame bounds only."""
    name = ctx.name(device.id)
    breaker = device.form == "breaker"
    field_name = "trip_a" if breaker else "rating_a"
    value: float | None = getattr(device, field_name)
    if value is None and protects(device) and device.trip_a is not None:
        field_name, value = "trip_a", device.trip_a
    what = f"{rating_words(device, field_name)} of {name}"
    most = device.rating_a if breaker and value is None else None
    return Fact(value, high=most, basis=device.basis.get(field_name, "entered"), need=what, name=what)


def _rating(ctx: Context, entrance: Entrance) -> Verdict:
    root = ctx.net.node(entrance.service.id)
    names = [ctx.name(d.id) for d in entrance.disconnects]
    rating = sum_of_ratings([(n, disconnect_rating(ctx, d)) for n, d in zip(names, entrance.disconnects, strict=True)])
    load = load_fact(ctx, root, counted=False)
    service = entrance.service
    one_family = service.occupancy == tables.DWELLING and service.dwelling_units == 1
    return existing_work(
        service_rating(Subject(service.id, ctx.name(service.id)), ctx.edition, rating, load, names, one_family),
        "new" if not one_family else _status(entrance),
    )


def disconnects_of(ctx: Context) -> tuple[str, ...]:
    """Ids of all service disconnects."""
    return ctx.recall("service disconnects", "", lambda: unique([d.id for e in entrances(ctx) for d in e.disconnects]))
