"""Where energy may come from: sources on the drawing, and everything of which nobody can say that it brings none."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass

from oneline.model import (
    SOURCE_KINDS,
    Bus,
    Circuit,
    Disconnect,
    End,
    Item,
    Joint,
    Meter,
    SuspectedTie,
    TransferSwitch,
    Transformer,
)
from oneline.network import Network, build_network
from oneline.network.isolation import region
from oneline.study.context import Context

#: Statuses of what was there already: new work that leads nowhere yet is not connected yet.
THERE = ("existing", "remove")
_STATUS_WORDS = {"existing": "existing", "new": "new", "remove": "to be removed", "future": "future"}


@dataclass(frozen=True)
class Origin:
    """A place at which energy comes in or may come in.

    ``key``: its own name among all; ``item``: id of the item it is about. ``kind``: "source" for one that is drawn,
    "unknown" for what nobody traced or drew. ``says``: for the unknown, what about it, as a sentence.
    """

    key: str
    item: str
    kind: str
    nodes: tuple[int, ...]
    says: str = ""


def origins(ctx: Context) -> dict[str, Origin]:
    """Every place at which energy comes in or may come in, by key. The keys of sources and ties are their ids."""
    net = ctx.net
    found = {source: Origin(source, source, "source", (node,)) for source, node in net.sources.items()}
    more = (*_ties(ctx, net), *_circuits(ctx, net), *_undrawn(ctx, net))
    return found | {origin.key: origin for origin in more}


def nodes_of(net: Network, item_id: str) -> tuple[int, ...]:
    """Nodes of all terminals of an item: both ends of a run, one where a tie leads to an unknown place."""
    terminals = net.drawing.get(item_id).terminals or ("a", "b")
    found = (net.node(item_id, terminal) for terminal in terminals)
    return tuple(dict.fromkeys(node for node in found if node >= 0))


def nodes_by_item(net: Network) -> dict[str, tuple[int, ...]]:
    """``nodes_of`` of every item, in drawing order."""
    found: dict[str, list[int]] = {item: [] for item in net.drawing.items}
    for node, ends in enumerate(net.ends_of):
        for end in ends:
            if node not in found[end.item]:
                found[end.item].append(node)
    for key, branch in net.branches.items():
        if not branch.item.terminals:
            found[key] = [n for n in dict.fromkeys((branch.a, branch.b)) if n >= 0]
    for joint in net.drawing.of(Joint):
        found[joint.id] = list(nodes_of(net, joint.id))
    return {item: tuple(nodes) for item, nodes in found.items()}


def _ties(ctx: Context, net: Network) -> Iterator[Origin]:
    for tie in ctx.drawing.of(SuspectedTie):
        if tie.id not in net.branches:
            continue
        branch, name = net.branches[tie.id], ctx.name(tie.id)
        if branch.b < 0:
            yield Origin(tie.id, tie.id, "unknown", (branch.a,), f"{name} leads to a place that nobody traced.")
        elif tie.traced != "traced":
            ends = " and ".join(ctx.name(end.item) for end in (tie.a, tie.b) if end is not None)
            how = "is known only by its label" if tie.traced == "labeled only" else "was traced by nobody"
            says = f"{name}, between {ends}, {how}: where it leads is not certain."
            yield Origin(tie.id, tie.id, "unknown", tuple(dict.fromkeys((branch.a, branch.b))), says)


def _circuits(ctx: Context, net: Network) -> Iterator[Origin]:
    """Circuits that nobody traced: behind their device where it is drawn, else at their panel."""
    for bus in ctx.drawing.of(Bus):
        here: list[Circuit] = []
        for circuit in bus.circuits:
            if circuit.traced != "untraced" or circuit.use == "space":
                continue
            device = ctx.drawing.items.get(circuit.feeds or "")
            far = _far_side(net, device, net.node(bus.id)) if device is not None else None
            if device is None or far is None:
                here.append(circuit)
                continue
            says = f"Nobody traced {_numbers(ctx, bus, [circuit])} ({ctx.name(device.id)})."
            yield Origin(f"{bus.id}/{circuit.space}", device.id, "unknown", (far,), says)
        if here:
            says = f"Nobody traced {_numbers(ctx, bus, here)}."
            yield Origin(f"{bus.id}/circuits", bus.id, "unknown", (net.node(bus.id),), says)


def _far_side(net: Network, device: Item, bus: int) -> int | None:
    """The node of a disconnect away from the bus it stands on."""
    if not isinstance(device, Disconnect) or device.id not in net.branches:
        return None
    branch = net.branches[device.id]
    return branch.other(bus) if bus in (branch.a, branch.b) and branch.a != branch.b else None


def _numbers(ctx: Context, bus: Bus, circuits: list[Circuit]) -> str:
    numbers = ", ".join(str(c.space) for c in sorted(circuits, key=lambda c: c.space))
    return f"{ctx.name(bus.id)}, {'circuit' if len(circuits) == 1 else 'circuits'} {numbers}"


def _undrawn(ctx: Context, net: Network) -> Iterator[Origin]:
    """Sides from which a device is fed that lead nowhere on the drawing: something is there that nobody drew."""
    for item in ctx.drawing.items.values():
        if item.status not in THERE:
            continue
        for terminal in _supply_sides(item):
            if loose(net, End(item.id, terminal)):
                side = "" if terminal in ("line", "load") and not isinstance(item, TransferSwitch) else f"{terminal} "
                says = f"Nobody drew what feeds the {side or 'supply '}side of {ctx.name(item.id)}."
                node = net.node(item.id, terminal)
                yield Origin(f"{item.id}.{terminal}", item.id, "unknown", (node,), says)


def _supply_sides(item: Item) -> tuple[str, ...]:
    if isinstance(item, TransferSwitch):
        return ("normal", "alternate")
    if isinstance(item, Disconnect):
        return ("load",) if item.back_fed else ("line",)
    return ("line",) if isinstance(item, Meter | Transformer) else ()


def loose(net: Network, end: End) -> bool:
    """Whether nothing is connected to a terminal."""
    node = net.node_of[end]
    own = net.branches_of(end.item)
    return len(net.ends_of[node]) == 1 and all(key in own for key in net.at_node[node])


def nothing_behind(ctx: Context) -> Iterator[tuple[str, int]]:
    """Devices that were there already and of which nobody drew what they feed, each with the node of that side."""
    for item in ctx.drawing.of(Disconnect):
        side = "line" if item.back_fed else "load"
        if item.status in THERE and loose(ctx.net, End(item.id, side)):
            yield item.id, ctx.net.node(item.id, side)


def whole_network(ctx: Context) -> Network:
    """The network of everything on the drawing, whatever its status."""
    return ctx.settled("whole network", lambda: build_network(ctx.full))


# ------------------------------------------------------------------------------------------------- what is only listed
def outside_view(ctx: Context, zone: Iterable[str], opened: Collection[str]) -> tuple[str, ...]:
    """Sources and ties that this view leaves out and that reach a zone on the drawing as a whole: one sentence each."""
    kinds = (*SOURCE_KINDS, SuspectedTie.kind)
    others = [i for i in ctx.full.items.values() if i.kind in kinds and i.id not in ctx.drawing.items]
    if not others:
        return ()
    net = whole_network(ctx)
    at = {node for item in zone if item in ctx.full.items for node in nodes_of(net, item)}
    inside = region(net, at, opened)
    return tuple(
        f"{ctx.name(item.id)} is drawn as {_STATUS_WORDS[item.status]}: this plan counts it as not connected."
        for item in others
        if not inside.isdisjoint(nodes_of(net, item.id))
    )


def listed_circuits(ctx: Context, nodes: frozenset[int]) -> tuple[str, ...]:
    """Circuits of the panels at some nodes that are known by their label only, by number, and what else nobody said."""
    found = []
    for bus in ctx.drawing.of(Bus):
        if ctx.net.node(bus.id) not in nodes:
            continue
        labeled = [c for c in bus.circuits if c.traced == "labeled only" and c.use != "space"]
        open_ = [c for c in bus.circuits if c.traced is None and c.use not in ("space", "spare")]
        if labeled:
            found.append(f"{_numbers(ctx, bus, labeled)}: known only by the label.")
        if open_:
            count = "one circuit" if len(open_) == 1 else f"{len(open_)} circuits"
            found.append(f"{ctx.name(bus.id)}: nobody said of {count} whether it was traced where it leads.")
        if bus.unlisted:
            found.append(f"{ctx.name(bus.id)}: nobody listed its circuits.")
    ends = [ctx.name(item) for item, node in nothing_behind(ctx) if node in nodes]
    if ends:
        found.append(f"Nobody drew what is fed by {', '.join(ends)}.")
    return tuple(found)
