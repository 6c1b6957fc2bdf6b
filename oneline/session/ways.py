"""Why something is live: each source that reaches it, at each of its sides, and the way from there in names."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from oneline.model import Connection, Drawing, Joint, SuspectedTie
from oneline.network import Network
from oneline.network.live import LiveState
from oneline.outage.origins import Origin


@dataclass(frozen=True)
class Way:
    """How a source reaches one side of an item. ``certain``: by closed contacts alone. ``items``: from the source to the
    item, in order, with the bolted connections between them; ``names`` without those. ``says``: of something that nobody
    traced or drew, what about it."""

    side: str
    source: str
    name: str
    certain: bool
    items: tuple[str, ...]
    names: tuple[str, ...]
    says: str = ""


@dataclass(frozen=True)
class Sides:
    """``ways`` to an item, and its ``sides`` that no source reaches."""

    item: str
    ways: tuple[Way, ...]
    unreached: tuple[str, ...]


def ways_to(live: LiveState, item_id: str, origins: Mapping[str, Origin]) -> Sides | None:
    """Every source that reaches an item, or may; ``None`` for what is not in the view. A run, or a device whose two sides
    are reached by the same, is told once (side "")."""
    net = live.net
    item = net.drawing.items.get(item_id)
    if item is None:
        return None
    if isinstance(item, Joint):
        return ways_to(live, item.a.item, origins)
    certain, possible = live.sides(item_id), live.sides(item_id, possibly=True)
    sides = list(certain)
    once = isinstance(item, Connection) or (
        len({certain[s] for s in sides}) == 1 and len({possible[s] for s in sides}) == 1
    )
    ways: list[Way] = []
    for side in sides[:1] if once else sides:
        node = net.node(item_id, side)
        for source in _ordered(net, possible[side] | certain[side]):
            ways.append(_way(live, item_id, "" if once else side, source, node, source in certain[side], origins))
    bare = [s for s in sides if not possible[s] and not certain[s]]
    return Sides(item_id, tuple(ways), ("",) if once and bare else tuple(bare))


def _ordered(net: Network, sources: frozenset[str]) -> list[str]:
    return [s for s in net.sources if s in sources] + sorted(s for s in sources if s not in net.sources)


def _way(
    live: LiveState, item_id: str, side: str, source: str, node: int, certain: bool, origins: Mapping[str, Origin]
) -> Way:
    net, drawing = live.net, live.net.drawing
    origin = origins.get(source)
    keys: tuple[str, ...] | None
    if source in net.sources or (source in net.branches and net.branches[source].b < 0):
        keys, start = live.path(source, node), source
    else:
        found = _from_origin(live, origin, node)
        keys, start = found, origin.item if origin is not None else source
    items = _without_stubs(drawing, list(dict.fromkeys((start, *_with_bars(net, start, keys or (), node), item_id))))
    named = [drawing.name_of(i) for i in items if i in drawing.items and not isinstance(drawing.get(i), Joint)]
    says = origin.says if origin is not None else ""
    if origin is None and source in drawing.items and isinstance(drawing.get(source), SuspectedTie):
        says = f"{drawing.name_of(source)} leads to a place that nobody traced."
    return Way(side, source, drawing.name_of(start), certain, tuple(items), tuple(named), says)


def _from_origin(live: LiveState, origin: Origin | None, node: int) -> tuple[str, ...] | None:
    """The shortest way from the nodes of a place that is no source."""
    if origin is None:
        return None
    found = [way for start in origin.nodes if (way := live.way(start, node)) is not None]
    return min(found, key=len, default=None)


def _with_bars(net: Network, start: str, keys: tuple[str, ...], goal: int) -> list[str]:
    """The items of a way in order, with the bars and bolted connections between its branches."""
    out: list[str] = []
    if start in net.sources:
        at = net.sources[start]
    elif keys:
        at = net.branches[keys[0]].a
        if len(keys) > 1:
            after = net.branches[keys[1]]
            at = net.branches[keys[0]].other(at) if net.branches[keys[0]].a in (after.a, after.b) else at
    else:
        at = goal
    out += _at_node(net, at)
    for key in keys:
        item = net.branches[key].item.id
        out.append(item)
        other = net.branches[key].other(at)
        if other >= 0:
            at = other
            out += _at_node(net, at)
    return out


def _without_stubs(drawing: Drawing, items: list[str]) -> list[str]:
    """A way without bolted connections that lead away from it."""
    on_way = set(items)
    return [
        i for i in items
        if not isinstance(joint := drawing.items.get(i), Joint)
        or (joint.b is not None and {joint.a.item, joint.b.item} <= on_way)
    ]  # fmt: skip


def _at_node(net: Network, node: int) -> list[str]:
    """Bars of a node, and the bolted connections that make it."""
    ends = set(net.ends_of[node])
    bars = [e.item for e in net.ends_of[node] if len(net.drawing.get(e.item).terminals) == 1 and e.terminal == "bus"]
    joints = [c.id for c in net.drawing.of(Joint) if c.a in ends or c.b in ends]
    return [*bars, *joints]
