"""What may be fed that nobody entered: never a zero.

Existing equipment behind which nothing is drawn nor scheduled, buses whose circuits are not all listed or drawn, and
suspected ties.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import NamedTuple

from oneline.model import SOURCE_KINDS, Bus, Circuit, Disconnect, Item, Load, SuspectedTie, circuit_spaces
from oneline.study.context import Context
from oneline.study.ends import buses_at
from oneline.study.loads import LoadEntry


def loose_ends(ctx: Context) -> Iterator[LoadEntry]:
    """Loads that nobody entered, as entries without a figure.

    What is new may well be empty still; and an open tie or the other side of a transfer switch feeds nothing.
    """
    kept: dict[int, tuple[LoadEntry, ...]] = ctx.__dict__.setdefault("_loose_entries", {})
    for place in _places(ctx):
        if place.node not in kept:
            kept[place.node] = tuple(_entries(ctx, place))
        yield from kept[place.node]


def forget(ctx: Context, changed: Iterable[str] | None = None) -> None:
    """What was found at places that changed items have to do with is to be found anew; everywhere where ``changed`` is
    ``None``."""
    kept: dict[int, tuple[LoadEntry, ...]] = ctx.__dict__.get("_loose_entries", {})
    if changed is None:
        kept.clear()
        return
    for item_id in changed:
        for node in _around(ctx).get(item_id, ()):
            kept.pop(node, None)


def _places(ctx: Context) -> list[_Place]:
    places: list[_Place] | None = ctx.__dict__.get("_loose_places")
    if places is None:
        places = ctx.__dict__["_loose_places"] = list(_loose_places(ctx))
    return places


def _around(ctx: Context) -> dict[str, list[int]]:
    """Nodes of the places by each item that what is found there is read from: buses, what leads there and leaves, the
    device ahead, devices that a schedule names. Which these are is a question of the network alone."""
    found: dict[str, list[int]] | None = ctx.__dict__.get("_loose_around")
    if found is None:
        found = ctx.__dict__["_loose_around"] = {}
        for place in _places(ctx):
            device = ctx.protection_of(place.node).device
            feeds = [
                c.feeds for b in place.buses if isinstance(bus := ctx.full.items.get(b), Bus) for c in bus.circuits
            ]
            leaving = [branch.item.id for branch, _ in ctx.feeding.children(place.node)]
            ahead = "" if device is None else device.id
            for item_id in {*place.buses, *place.ties, place.feeder, ahead, *leaving, *(f for f in feeds if f)}:
                found.setdefault(item_id, []).append(place.node)
    return found


def _entries(ctx: Context, place: _Place) -> Iterator[LoadEntry]:
    items = ctx.drawing.items
    for tie in place.ties:
        yield _nobody_entered(ctx, items[tie], place.node, f"trace of {ctx.name(tie)}")
    buses = [bus for bus in map(items.__getitem__, place.buses) if isinstance(bus, Bus)]
    asked = next(((bus, need) for bus in buses if (need := _question(ctx, bus, place))), None)
    if asked is not None:
        yield _nobody_entered(ctx, asked[0], place.node, asked[1])
    elif place.ends and not any(bus.circuits or bus.all_listed for bus in buses):
        item = buses[0] if buses else items[place.feeder]
        yield _nobody_entered(ctx, item, place.node, f"what {ctx.name(item.id)} feeds")


class _Place(NamedTuple):
    """A node with buses or suspected ties, or one that nothing leads on from (``ends``); ``feeder``: id of what leads
    there. ``leads_on``: whether something that was there already takes its load from the node."""

    node: int
    buses: tuple[str, ...]
    ends: bool
    feeder: str
    leads_on: bool
    ties: tuple[str, ...]


def _loose_places(ctx: Context) -> Iterator[_Place]:
    """Nodes at which something may be fed that nobody entered: a question of the network alone."""
    feeding, branches = ctx.feeding, ctx.net.branches
    parents = set(feeding.parent)
    ties = _ties(ctx)
    for node in feeding.order:
        buses = buses_at(ctx, node)
        key = feeding.branch[node]
        ends = bool(key) and node not in parents and branches[key].normally_closed and len(ctx.net.at_node[node]) <= 1
        if ends:
            here = [ctx.drawing.get(end.item) for end in ctx.net.ends_of[node]]
            ends = branches[key].item.status != "new" and not any(
                isinstance(item, Load) or item.kind in SOURCE_KINDS or item.status == "new" for item in here
            )
        if buses or ends or node in ties:
            yield _Place(
                node, tuple(b.id for b in buses), ends, branches[key].item.id if key else "",
                bool(buses) and _leads_on(ctx, node, buses), tuple(ties.get(node, ())),
            )  # fmt: skip


def _ties(ctx: Context) -> dict[int, list[str]]:
    """Suspected ties by the nodes they leave: whatever they lead to may take its current from there."""
    found: dict[int, list[str]] = {}
    for tie in ctx.drawing.of(SuspectedTie):
        nodes = {ctx.net.node(end.item, end.terminal) for end in (tie.a, tie.b) if end is not None}
        if tie.b is None or len(nodes) > 1:
            for node in nodes:
                found.setdefault(node, []).append(tie.id)
    return found


def _leads_on(ctx: Context, node: int, buses: list[Bus]) -> bool:
    """Whether a load path that was there already leaves a node, one that is removed included."""
    if sum(bus.status != "new" for bus in buses) > 1:
        return True
    here = (ctx.drawing.get(end.item) for end in ctx.net.ends_of[node])
    if any(isinstance(item, Load) and item.status != "new" for item in here):
        return True
    if any(b.item.status != "new" and not _only_supplies(ctx, below) for b, below in ctx.feeding.children(node)):
        return True
    for bus in buses:
        for conn in ctx.full.connections_of(bus.id):
            if conn.b is None or conn.a.item != bus.id:
                continue
            if "remove" in (conn.status, ctx.full.items[conn.b.item].status):
                return True
    return False


def _only_supplies(ctx: Context, node: int) -> bool:
    """Whether sources are all there is below a node: an array takes no load."""
    sources = False
    for below in ctx.feeding.subtree(node):
        for end in ctx.net.ends_of[below]:
            kind = ctx.drawing.get(end.item).kind
            if kind in ("bus", "load"):
                return False
            sources = sources or kind in SOURCE_KINDS
    return sources


# ------------------------------------------------------------------------------------------------- directories
def _question(ctx: Context, bus: Bus, place: _Place) -> str:
    """What is not known of the load of a bus that was there already, as a phrase; "" where nothing is open."""
    if bus.status not in ("existing", "remove") or bus.all_listed:
        return ""
    name = ctx.name(bus.id)
    if not bus.has_spaces:
        if bus.all_listed is None and (place.leads_on or place.ends or _directory(ctx, bus)):
            return ""  # an end is asked about as such
        return f"what {name} feeds"
    whole = bus.spaces is not None and described_spaces(ctx, bus, place.node) >= bus.spaces
    if not _directory(ctx, bus):
        return "" if whole and bus.all_listed is None else f"what {name} feeds"
    if bus.all_listed is None and (whole or bus.spaces is None):
        return ""
    return f"whether all circuits of {name} are listed"


def _directory(ctx: Context, bus: Bus) -> tuple[Circuit, ...]:
    """Lines of a schedule that tell what was there already: not what new work adds to it."""
    fed = {c: ctx.full.items.get(c.feeds or "") for c in bus.circuits if c.status != "new"}
    return tuple(c for c, item in fed.items() if item is None or item.status != "new")


def described_spaces(ctx: Context, bus: Bus, node: int) -> int:
    """How many of its numbered spaces a bus's directory or what is drawn on it describes."""
    assert bus.spaces is not None
    whole = ctx.full.items.get(bus.id)
    # A line that this view leaves out tells of its space too: nothing else is there.
    lines = whole.circuits if isinstance(whole, Bus) else bus.circuits
    described = {s for c in lines for s in circuit_spaces(c)}
    listed_ids, unplaced = {c.feeds for c in bus.circuits if c.feeds}, 0
    device = ctx.protection_of(node).device
    on_it = [b.item for b, _ in ctx.feeding.children(node)] + ([device] if device is not None else [])
    for item in on_it:
        if not isinstance(item, Disconnect) or item.id in listed_ids:
            continue
        poles = item.poles or len(item.phases or "") or 1
        if item.space is not None:
            described.update(item.space + 2 * k for k in range(poles))
        elif item is not device:
            unplaced += poles
    return len([s for s in described if s <= bus.spaces]) + unplaced


def _nobody_entered(ctx: Context, item: Item, node: int, need: str) -> LoadEntry:
    phases = ctx.feeding.phases[node]
    return LoadEntry(
        node=node, item=item.id, circuit=None, label=ctx.name(item.id), phases=phases, va=None, power_factor=None,
        load_class=None, continuous=None, status=item.status, phases_known=len(phases) == 1, needs=(need,),
    )  # fmt: skip
