"""Isolation of a zone: the cheapest sets of devices that, held open, part a zone from every source.

The graph argument. A way from a source to the zone is a chain of closed branches. Closing one more device never takes a
way away, so the state in which every branch that is no device to open, and every device that is not in the set, counts as
closed has every way that any other state has: what is parted in it is parted whatever position any other device is in.
One thing is not like that: a transfer switch stands in one position or the other and never joins its supplies, so
both are tried, one at a time. A set of devices isolates the zone when no way is left; the cheapest such set is a minimum
cut (Ford and Fulkerson 1956) wherever no transfer switch lies between; where some do, minimum cuts of single positions are
bounds from below for a search over the ways that a bound has missed. Tests compare both with trying every position.

Transformers conduct both ways; suspected ties count as closed and cannot be opened; conductors, meters and transformers
are no devices to open.
"""

from __future__ import annotations

import heapq
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import NamedTuple

from oneline.model import Disconnect, TransferSwitch
from oneline.network.live import worst_state
from oneline.network.mincut import Found, MinCut
from oneline.network.topology import Network
from oneline.network.waygraph import GOAL, START, Graph, TooManySteps, Way, graph_of

_Items = frozenset[str]
#: Arcs that flows may look at before the search for further and better sets gives up.
_WORK_AT_MOST = 600_000
#: Among sets of the same cost the one with fewer devices is better: costs are counted in units of this.
_UNIT = 1 << 20


@dataclass(frozen=True)
class Cut:
    """Devices that, held open, part the zone from the sources; none of them is superfluous. ``items`` are sorted."""

    items: tuple[str, ...]
    cost: int


@dataclass(frozen=True)
class Cuts:
    """``cuts``: the cheapest first; of equal ones that with fewer devices, then the one nearer to the zone. ``blocked``:
    sources that no device stands against; the cuts part the others. ``exact``: whether the first is surely the cheapest
    there is, and no cheaper one is missing between the others."""

    cuts: tuple[Cut, ...]
    blocked: tuple[str, ...]
    exact: bool = True


def openable(net: Network) -> tuple[str, ...]:
    """Ids of what can be an isolation point: disconnects, and transfer switches whose off position can be locked."""
    return tuple(
        item.id
        for item in net.drawing.items.values()
        if isinstance(item, Disconnect) or (isinstance(item, TransferSwitch) and item.lockable_off is True)
    )


def sources_of(net: Network) -> dict[str, tuple[int, ...]]:
    """Nodes at which energy may come in: of every source, and of every tie to an unknown place (under the tie's id)."""
    found: dict[str, tuple[int, ...]] = {source: (node,) for source, node in net.sources.items()}
    found.update((key, (b.a,)) for key, b in net.branches.items() if b.b < 0)
    return found


def region(net: Network, zone: Collection[int], opened: Collection[str]) -> frozenset[int]:
    """Nodes that are connected with the zone in some position of all devices but those held open."""
    state = worst_state(net, opened, {"zone": tuple(zone)})
    return frozenset(node for node, names in enumerate(state) if names)


def joined(net: Network, start: Collection[int], opened: Collection[str]) -> frozenset[int]:
    """Nodes connected with some others when transfer switches count as closed in both positions at once: never too few."""
    found, waiting = set(start), list(start)
    while waiting:
        at = waiting.pop()
        for key in net.at_node[at]:
            branch = net.branches[key]
            other = branch.other(at)
            if other >= 0 and other not in found and branch.item.id not in opened:
                found.add(other)
                waiting.append(other)
    return frozenset(found)


def way_to(
    net: Network, source: Collection[int], zone: Collection[int], opened: Collection[str]
) -> tuple[str, ...] | None:
    """Branch keys from a source's nodes to the zone, closed in some position of all devices but those held open.

    ``None`` where there is none, or where the search takes too long to tell. () where the source stands in the zone.
    """
    if set(source) & set(zone):
        return ()
    try:
        way = graph_of(net, source, zone, openable(net), shrink=False).way(opened)
    except TooManySteps:
        return None
    return None if way is None else way.keys


def find_cuts(
    net: Network, zone: Collection[int], sources: Mapping[str, Collection[int]], cost: Mapping[str, int], most: int = 5
) -> Cuts:  # fmt: skip
    """The cheapest sets of devices that part a zone from its sources.

    ``zone``: nodes that must be dead. ``sources``: {name: nodes}. ``cost``: {item id: whole number above 0} of every
    device that may be opened; transfer switches among them are held off. At most ``most`` sets, each without a
    superfluous device.
    """
    if any(value < 1 for value in cost.values()):
        raise ValueError("the cost of opening a device must be 1 or more")
    at_once = region(net, zone, cost.keys())
    blocked = tuple(name for name, nodes in sources.items() if at_once.intersection(nodes))
    starts = sorted({node for name, nodes in sources.items() if name not in blocked for node in nodes})
    if not starts or not zone:
        return Cuts((Cut((), 0),), blocked)
    graph = graph_of(net, starts, sorted(zone), cost.keys())
    return _Search(graph, cost).best(most, blocked)


class _Part(NamedTuple):
    """A part of all sets: those with ``held`` and without ``kept``. ``bound``: none of them costs less. ``found``: the
    cheapest of them, where it is known; else ``way`` is one that has to be parted."""

    bound: int
    held: _Items
    kept: _Items
    found: _Items | None
    way: tuple[str, ...]


class _Search:
    """Sets in the order of their cost: the cheapest is found and set apart, the rest divided into parts that have none in
    common, and so on (Lawler 1972). Where transfer switches leave a gap between bound and set, the part is divided along a
    way that the bound has missed."""

    def __init__(self, graph: Graph, cost: Mapping[str, int]) -> None:
        self.graph, self.cost = graph, cost
        self.unit = {item: cost[item] * _UNIT + 1 for item in cost}
        ends = [(e.u, e.v) for e in graph.edges]
        #: The edge at which each device opens the graph.
        self.edge_of = {e.item: number for number, e in enumerate(graph.edges) if e.item}
        count = graph.count
        for switch in graph.switches:
            if switch.can_open:
                self.edge_of[switch.item] = len(ends)
            inner, count = count, count + 1
            ends.append((inner, switch.load))
            ends.extend((inner, supply if supply >= 0 else inner) for supply in switch.supplies)
        self.ends, self.flow = ends, MinCut(count, ends)
        self.items = frozenset(self.edge_of)
        self.never = sum(self.unit[item] for item in self.edge_of) + 1
        #: Switches whose position matters. With a single supply one is a plain branch; and where its load side is start or
        #: goal itself, no way leads from supply to supply anyhow.
        self.double = [
            s for s in graph.switches if min(s.supplies) >= 0 and (s.can_open or s.load not in (START, GOAL))
        ]  # fmt: skip
        self.work = 0
        self.exact = True

    def best(self, most: int, blocked: tuple[str, ...]) -> Cuts:
        found: list[_Items] = []
        heap: list[tuple[int, list[str], list[str], _Part]] = []

        def add(held: _Items, kept: _Items) -> None:
            part = self._solved(held, kept)
            if part is not None:
                heapq.heappush(heap, (part.bound, sorted(held), sorted(kept), part))

        add(frozenset(), frozenset())
        while heap and len(found) < most:
            if self.work > _WORK_AT_MOST:
                self.exact = self.exact and bool(found)
                break
            part = heapq.heappop(heap)[-1]
            chosen = part.way if part.found is None else sorted(part.found - part.held)
            if part.found is not None and self._parts(part.found) and self._needs_all(part.found):
                found.append(part.found)
                if len(found) == most:
                    break
            held = part.held
            for item in chosen:
                if part.found is None:  # one of the way is open: the first of them
                    add(held | {item}, part.kept | frozenset(chosen[: chosen.index(item)]))
                else:
                    add(held, part.kept | {item})
                    held |= {item}
        if not found:
            above = self._cut(frozenset(), frozenset(), None)
            found, self.exact = [self._fewer(self.items if above is None else above[1])], False
        found.sort(key=lambda items: (sum(map(self.unit.__getitem__, items)), self.graph.near(items), sorted(items)))
        cuts = tuple(Cut(tuple(sorted(items)), sum(self.cost[i] for i in items)) for items in found)
        return Cuts(cuts, blocked, self.exact)

    # ------------------------------------------------------------------------------------------------- one part
    def _solved(self, held: _Items, kept: _Items) -> _Part | None:
        """Bound and cheapest set of a part; ``None`` when no set of it parts the zone."""
        base = sum(self.unit[item] for item in held)
        if not self.double:
            cut = self._cut(held, kept, {})
            return None if cut is None else _Part(base + cut[0], held, kept, held | cut[1], ())
        above = self._cut(held, kept, None)
        tried: list[dict[str, int]] = []
        position = dict.fromkeys((s.item for s in self.double), 0)
        while True:
            tried.append(dict(position))
            below = self._cut(held, kept, position)
            if below is None:
                return None
            if above is not None and above[0] == below[0]:
                return _Part(base + above[0], held, kept, held | above[1], ())
            try:
                way = self._way(held | below[1])
            except TooManySteps:
                self.exact = False
                return None if above is None else _Part(base + above[0], held, kept, held | above[1], ())
            if way is None:  # what a bound from below parts is the cheapest
                return _Part(base + below[0], held, kept, held | below[1], ())
            items = tuple(sorted(i for i in way.items if i not in kept))
            if not items:
                return None
            position.update({item: side for item, side in way.positions.items() if item in position})
            if position in tried:
                break
        bound = self._packed(held, kept, tried)
        if above is not None and above[0] == bound:
            return _Part(base + bound, held, kept, held | above[1], ())
        return _Part(base + bound, held, kept, None, items)

    def _packed(self, held: _Items, kept: _Items, tried: list[dict[str, int]]) -> int:
        """A bound from below: flows of one position after another, each through what the ones before it have left. Every
        way that such a flow takes has to be parted at the devices that it loads."""
        price = self._prices(held, kept)
        best = 0
        for first in range(len(tried)):
            left, sum_ = dict(price), 0
            for position in (*tried[first:], *tried[:first]):
                found = self._flow(left, held, position)
                if found is None:
                    continue
                sum_ += found.value
                for item, edge in self.edge_of.items():
                    if item not in kept:
                        left[item] -= found.flow[edge]
            best = max(best, sum_)
        return best

    def _cut(self, held: _Items, kept: _Items, position: Mapping[str, int] | None) -> tuple[int, _Items] | None:
        """Value and devices of a minimum cut with the switches in one position each, or (``None``) in both at once."""
        found = self._flow(self._prices(held, kept), held, position)
        if found is None:
            return None
        side = found.side
        cut = (i for i, edge in self.edge_of.items() if side[self.ends[edge][0]] != side[self.ends[edge][1]])
        return found.value, frozenset(i for i in cut if i not in held)

    def _prices(self, held: _Items, kept: _Items) -> dict[str, int]:
        return {i: 0 if i in held else self.never if i in kept else self.unit[i] for i in self.edge_of}

    def _flow(self, price: Mapping[str, int], held: _Items, position: Mapping[str, int] | None) -> Found | None:
        self.work += 8 * len(self.ends)
        capacity = [price[e.item] if e.item else self.never for e in self.graph.edges]
        for switch in self.graph.switches:
            off = switch.can_open and switch.item in held
            stands = None if position is None else position.get(switch.item)
            capacity.append(price[switch.item] if switch.can_open else self.never)
            capacity += [0 if off or stands == 1 - side else self.never for side in (0, 1)]
        return self.flow.cut(capacity, START, GOAL, self.never)

    # ------------------------------------------------------------------------------------------------- proof
    def _way(self, opened: _Items) -> Way | None:
        self.work += 4 * len(self.ends)
        return self.graph.way(opened)

    def _parts(self, opened: _Items) -> bool:
        """Whether no way is left; a search that takes too long counts as one that is."""
        try:
            return self._way(opened) is None
        except TooManySteps:
            self.exact = False
            return False

    def _needs_all(self, opened: _Items) -> bool:
        return not any(self._parts(opened - {item}) for item in opened)

    def _fewer(self, opened: _Items) -> _Items:
        """A set without superfluous devices: the dearest that can be spared go first."""
        for item in sorted(opened, key=lambda i: (-self.unit[i], i)):
            if self._parts(opened - {item}):
                opened -= {item}
        return opened
