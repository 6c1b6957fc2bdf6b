"""Ways between two places, with every device closed that is not held open and transfer switches in one position each.

The graph that isolation is worked out on: one start, one goal, edges with or without a device that can be opened, and
transfer switches, which lead from either supply to their load side but never from supply to supply.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

from oneline.model import TransferSwitch
from oneline.network.topology import Network

START, GOAL = 0, 1
#: Steps after which the search for ways of single positions gives up.
_STEPS_AT_MOST = 5000


class Edge(NamedTuple):
    """``item``: id of the device that opens it, "" where nothing does."""

    u: int
    v: int
    item: str
    key: str


class Switch(NamedTuple):
    """A transfer switch between two supplies (-1 where one leads nowhere) and a load side. ``can_open``: it can be held
    off."""

    item: str
    supplies: tuple[int, int]
    load: int
    keys: tuple[str, str]
    can_open: bool


class Way(NamedTuple):
    """Branch keys from start to goal, the devices on it that can be opened, and the position (0 or 1) of each switch."""

    keys: tuple[str, ...]
    items: tuple[str, ...]
    positions: Mapping[str, int]


class TooManySteps(Exception):
    """Whether there is a way could not be told in the steps allowed."""


@dataclass
class Graph:
    """Vertices are 0 (start), 1 (goal) and on. ``edges`` and ``switches`` are sorted by key, so that no answer depends on
    the order in which things were drawn."""

    count: int
    edges: list[Edge]
    switches: list[Switch]
    _at: list[list[int]] = field(init=False)

    def __post_init__(self) -> None:
        self._at = [[] for _ in range(self.count)]
        for number, edge in enumerate(self.edges):
            self._at[edge.u].append(number)
            self._at[edge.v].append(number)

    def way(self, opened: Collection[str] = ()) -> Way | None:
        """A way from start to goal with some devices held open; ``None`` where there is none.

        Raises ``TooManySteps`` where transfer switches make the search too long.
        """
        piece = self._pieces(opened)
        links: dict[int, list[_Link]] = {}
        for number, switch in enumerate(self.switches):
            if switch.item in opened:
                continue
            load = piece[switch.load]
            for side in (0, 1):
                vertex = switch.supplies[side]
                if vertex >= 0 and (supply := piece[vertex]) != load:
                    links.setdefault(supply, []).append((number, side, True, load))
                    links.setdefault(load, []).append((number, side, False, supply))
        trail = _trail(piece[START], piece[GOAL], links)
        return None if trail is None else self._followed(trail, opened)

    def near(self, opened: Collection[str]) -> int:
        """How many vertices are connected with the goal when some devices are held open, transfer switches in any way."""
        piece = self._pieces(opened)
        joined = {piece[GOAL]}
        while True:
            more = set(joined)
            for switch in self.switches:
                ends = {piece[v] for v in (*switch.supplies, switch.load) if v >= 0}
                if switch.item not in opened and ends & joined:
                    more |= ends
            if more == joined:
                return sum(p in joined for p in piece)
            joined = more

    def _pieces(self, opened: Collection[str]) -> list[int]:
        """The first vertex of each vertex's piece; transfer switches connect none."""
        piece = [-1] * self.count
        for first in range(self.count):
            if piece[first] >= 0:
                continue
            piece[first] = first
            waiting = [first]
            for at in waiting:  # grows while it is walked
                for number in self._at[at]:
                    edge = self.edges[number]
                    other = edge.v if at == edge.u else edge.u
                    if piece[other] < 0 and edge.item not in opened:
                        piece[other] = first
                        waiting.append(other)
        return piece

    def _followed(self, trail: list[_Link], opened: Collection[str]) -> Way:
        """The way through the pieces that a trail leads along: of each piece the fewest edges."""
        keys: list[str] = []
        items: list[str] = []
        positions: dict[str, int] = {}
        at = START
        for number, side, down, _ in trail:
            switch = self.switches[number]
            ends = (switch.supplies[side], switch.load)
            out, into = ends if down else ends[::-1]
            self._walk(at, out, opened, keys, items)
            keys.append(switch.keys[side])
            positions[switch.item] = side
            if switch.can_open:
                items.append(switch.item)
            at = into
        self._walk(at, GOAL, opened, keys, items)
        return Way(tuple(keys), tuple(items), positions)

    def _walk(self, start: int, goal: int, opened: Collection[str], keys: list[str], items: list[str]) -> None:
        came: dict[int, Edge | None] = {start: None}
        waiting = [start]
        for at in waiting:  # grows while it is walked
            if at == goal:
                break
            for number in self._at[at]:
                edge = self.edges[number]
                other = edge.v if at == edge.u else edge.u
                if other not in came and edge.item not in opened:
                    came[other] = edge
                    waiting.append(other)
        found = []
        at = goal
        while (step := came[at]) is not None:
            found.append(step)
            at = step.u if at == step.v else step.v
        for edge in reversed(found):
            keys.append(edge.key)
            if edge.item:
                items.append(edge.item)


#: Passing a transfer switch: its number, side, whether from supply to load, and the piece beyond.
_Link = tuple[int, int, bool, int]


def _trail(start: int, goal: int, links: Mapping[int, list[_Link]]) -> list[_Link] | None:
    """Transfer switches passed from one piece to another, the fewest there are.

    Both positions of a switch meet at its load side: a way that passes no piece twice uses both only when it enters by
    one and leaves by the other at once.
    """
    waiting: deque[tuple[int, int, frozenset[int], tuple[_Link, ...]]] = deque()
    waiting.append((start, -1, frozenset((start,)), ()))
    steps = 0
    while waiting:
        at, came, passed, trail = waiting.popleft()
        if at == goal:
            return list(trail)
        steps += 1
        if steps > _STEPS_AT_MOST:
            raise TooManySteps
        for link in links.get(at, ()):
            number, _, _, other = link
            if number != came and other not in passed:
                waiting.append((other, number, passed | {other}, (*trail, link)))
    return None


def graph_of(
    net: Network, starts: Iterable[int], goals: Iterable[int], openable: Collection[str], shrink: bool = True
) -> Graph:
    """Graph between two sets of nodes that have none in common.

    ``openable``: ids of the devices that can be opened. ``shrink``: what nothing can part becomes one vertex, and what
    lies on no way is left out; without it the ways have all their branches.
    """
    parent = list(range(net.node_count + 2))

    def find(number: int) -> int:
        while parent[number] != number:
            parent[number] = number = parent[parent[number]]
        return number

    start, goal = net.node_count, net.node_count + 1
    for node in starts:
        parent[find(node)] = start
    for node in goals:
        parent[find(node)] = goal
    through: list[tuple[str, int, int, str]] = []
    switches: dict[str, list[tuple[str, int, int]]] = {}
    for key, branch in net.branches.items():
        if branch.b < 0:
            continue
        if isinstance(branch.item, TransferSwitch):
            switches.setdefault(branch.item.id, []).append((key, branch.a, branch.b))
            continue
        item = branch.item.id if branch.item.id in openable else ""
        if shrink and not item:
            a, b = find(branch.a), find(branch.b)
            if a != b:  # start and goal stay on top
                parent[min(a, b)] = max(a, b)
        else:
            through.append((key, branch.a, branch.b, item))
    top = {find(start): START, find(goal): GOAL}
    edges = sorted((key, find(a), find(b), item) for key, a, b, item in through)
    made = sorted((item, tuple((key, find(a), find(b)) for key, a, b in ways)) for item, ways in switches.items())
    kept_edges, kept_switches = _on_ways(edges, made, find(start), find(goal)) if shrink else (edges, made)

    def number(vertex: int) -> int:
        return top.setdefault(vertex, len(top)) if vertex >= 0 else -1

    return Graph(
        edges=[Edge(number(a), number(b), item, key) for key, a, b, item in kept_edges],
        switches=[
            Switch(item, (number(one[1]), number(two[1])), number(one[2]), (one[0], two[0]), item in openable)
            for item, (one, two) in kept_switches
        ],
        count=len(top),
    )


_EdgeRow = tuple[str, int, int, str]
_SwitchRow = tuple[str, tuple[tuple[str, int, int], ...]]


def _on_ways(
    edges: list[_EdgeRow], switches: list[_SwitchRow], start: int, goal: int
) -> tuple[list[_EdgeRow], list[_SwitchRow]]:
    """Without what can be on no way: what is not reached from both ends, and what leads nowhere."""
    near = _reached(edges, switches, start, goal) & _reached(edges, switches, goal, start)
    edges = [e for e in edges if e[1] != e[2] and e[1] in near and e[2] in near]
    switches = _without(switches, lambda v: v not in near)
    blind = _blind(edges, switches, (start, goal))
    edges = [e for e in edges if e[1] not in blind and e[2] not in blind]
    return edges, _without(switches, blind.__contains__)


def _without(switches: list[_SwitchRow], gone: Callable[[int], bool]) -> list[_SwitchRow]:
    """Transfer switches without the supplies (then -1), or altogether without those, whose vertices are gone."""
    kept = []
    for item, ways in switches:
        left = tuple((key, -1 if a < 0 or gone(a) else a, b) for key, a, b in ways)
        if not gone(left[0][2]) and any(a >= 0 for _, a, _ in left):
            kept.append((item, left))
    return kept


def _blind(edges: list[_EdgeRow], switches: list[_SwitchRow], ends: tuple[int, int]) -> set[int]:
    """Vertices with a single neighbour, and what leads only there. A transfer switch counts as one neighbour of each of
    its vertices, with a number below zero."""
    around: dict[int, set[int]] = {}
    for _, a, b, _ in edges:
        around.setdefault(a, set()).add(b)
        around.setdefault(b, set()).add(a)
    members: dict[int, set[int]] = {}
    for number, (_, ways) in enumerate(switches):
        members[-1 - number] = {v for _, a, b in ways for v in (a, b) if v >= 0}
        for vertex in members[-1 - number]:
            around.setdefault(vertex, set()).add(-1 - number)
    blind: set[int] = set()
    waiting = [v for v in around if v not in ends and len(around[v]) < 2]
    while waiting:
        vertex = waiting.pop()
        if vertex in blind:
            continue
        blind.add(vertex)
        for other in around[vertex]:
            left = {other}
            if other < 0:
                members[other].discard(vertex)
                load = switches[-1 - other][1][0][2]
                gone = vertex == load or not any(a in members[other] for _, a, _ in switches[-1 - other][1])
                left = set(members[other]) if gone else set()
                if gone:
                    members[other].clear()
            for touched in left:
                around[touched].discard(vertex if other >= 0 else other)
                if touched not in ends and len(around[touched]) < 2:
                    waiting.append(touched)
    return blind


def _reached(edges: list[_EdgeRow], switches: list[_SwitchRow], start: int, stop: int) -> set[int]:
    """What is connected with a vertex, without passing another one."""
    around: dict[int, list[int]] = {}
    for _, a, b, _ in edges:
        around.setdefault(a, []).append(b)
        around.setdefault(b, []).append(a)
    for _, ways in switches:
        for _, a, b in ways:
            around.setdefault(a, []).append(b)
            around.setdefault(b, []).append(a)
    found, waiting = {start}, [start]
    while waiting:
        at = waiting.pop()
        if at == stop:
            continue
        for other in around.get(at, ()):
            if other not in found:
                found.add(other)
                waiting.append(other)
    return found
