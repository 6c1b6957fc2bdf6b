"""The feeding forest: from which source, through which branches, each node is normally fed.

Built on normal positions, so that opening a switch for work does not change loads, ratings or verdicts. Services are
preferred as roots, then generators, then sources that follow the grid. Normally-open branches are used only where
nothing else reaches.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator
from dataclasses import dataclass

from oneline.model import ConductorRun, Disconnect, Generator, SolarArray, Transformer, UtilityService
from oneline.model.items import Battery
from oneline.network.topology import Branch, Network

_ROOT_COST = {"service": 0, "generator": 1, "battery": 2, "solar": 3}
_OPEN_COST = 1000


@dataclass(frozen=True)
class Feeding:
    """A spanning forest in pre-order.

    ``order``: nodes in pre-order (each subtree is a slice). ``position``: place of each node in ``order``, -1 where
    nothing feeds it. ``last``: for each node the position after the last node of its subtree. ``parent``/``branch``:
    node and branch key toward the source ("" at a root). ``root``: the source item id, "" where unfed. ``system``: code
    of the nominal system at the node or None. ``phases``: phase letters present, e.g. "ABC".
    ``looped``: nodes on, or fed through, a normally closed loop or fed by two sources at once: their numbers are not
    known from a radial pass. ``loop_branches``: normally closed branches that are not in the forest. ``parallel``:
    services and generators that normally feed a tree together with its root, without a tree of their own.
    """

    network: Network
    order: tuple[int, ...]
    position: tuple[int, ...]
    last: tuple[int, ...]
    parent: tuple[int, ...]
    branch: tuple[str, ...]
    root: tuple[str, ...]
    system: tuple[str | None, ...]
    phases: tuple[str, ...]
    looped: frozenset[int]
    loop_branches: tuple[str, ...]
    parallel: tuple[str, ...] = ()

    def path(self, node: int) -> Iterator[tuple[Branch, int]]:
        """Branches from the node up to its source, each with its node on the source's side."""
        while self.branch[node]:
            up = self.parent[node]
            yield self.network.branches[self.branch[node]], up
            node = up

    def load_node(self, key: str) -> int | None:
        """The branch's node away from the source; ``None`` when the branch is not part of the forest."""
        b = self.network.branches[key]
        for node in (b.b, b.a):
            if node >= 0 and self.branch[node] == key:
                return node
        return None

    def line_node(self, key: str) -> int | None:
        """The branch's node toward the source; ``None`` when the branch is not part of the forest."""
        down = self.load_node(key)
        return None if down is None else self.parent[down]

    def subtree(self, node: int) -> tuple[int, ...]:
        """The node and all nodes fed through it."""
        start = self.position[node]
        return self.order[start : self.last[node]] if start >= 0 else ()

    def children(self, node: int) -> list[tuple[Branch, int]]:
        """Branches that leave the node away from the source, with the node each leads to."""
        found = []
        for key in self.network.at_node[node]:
            down = self.load_node(key)
            if down is not None and down != node and self.parent[down] == node:
                found.append((self.network.branches[key], down))
        return found


def build_feeding(net: Network, without: frozenset[str] = frozenset()) -> Feeding:
    """The feeding forest of a network. Deterministic for the same drawing.

    ``without``: keys of branches that are left out, as if they were not there.
    """
    parent, branch, root = _cheapest_ways(net, without)
    order, position, last = _pre_order(parent, root)
    system, phases = _systems(net, order, parent, branch, root)
    looped, loop_branches = _loops(net, order, position, last, parent, branch, without)
    parallel = tuple(
        source for source, node in net.sources.items()
        if root[node] != source and isinstance(net.drawing.get(source), UtilityService | Generator)
    )  # fmt: skip
    for source in parallel:
        top = _chain(net.sources[source], parent)[-1]
        looped |= frozenset(order[position[top] : last[top]])
    return Feeding(
        network=net, order=tuple(order), position=tuple(position), last=tuple(last), parent=tuple(parent),
        branch=tuple(branch), root=tuple(root), system=tuple(system), phases=tuple(phases), looped=looped,
        loop_branches=loop_branches, parallel=parallel,
    )  # fmt: skip


def _cheapest_ways(net: Network, without: frozenset[str]) -> tuple[list[int], list[str], list[str]]:
    """Node and branch toward the source, and the source, of every node: fewest open branches, then fewest branches."""
    n = net.node_count
    parent = [-1] * n
    branch = [""] * n
    root = [""] * n
    done = [False] * n
    heap: list[tuple[int, int, int, int, int, str, str]] = []
    for rank, (source_id, node) in enumerate(net.sources.items()):
        cost = _ROOT_COST[net.drawing.get(source_id).kind]
        heapq.heappush(heap, (cost, 0, rank, node, -1, "", source_id))
    tick = len(heap)
    while heap:
        cost, hops, _, node, up, key, source_id = heapq.heappop(heap)
        if done[node]:
            continue
        done[node] = True
        parent[node], branch[node], root[node] = up, key, source_id
        for k in net.at_node[node]:
            b = net.branches[k]
            other = b.other(node)
            if other < 0 or done[other] or b.item.kind == "tie" or k in without:
                continue
            tick += 1
            step = 0 if b.normally_closed else _OPEN_COST
            heapq.heappush(heap, (cost + step, hops + 1, tick, other, node, k, source_id))
    return parent, branch, root


def _pre_order(parent: list[int], root: list[str]) -> tuple[list[int], list[int], list[int]]:
    """Order, place in it and end of the subtree of every node; the place is -1 where nothing feeds it."""
    n = len(parent)
    kids: list[list[int]] = [[] for _ in range(n)]
    roots = []
    for node in range(n):
        if parent[node] >= 0:
            kids[parent[node]].append(node)
        elif root[node]:
            roots.append(node)
    order: list[int] = []
    position = [-1] * n
    last = [0] * n
    stack = [(r, False) for r in reversed(roots)]
    while stack:
        node, leaving = stack.pop()
        if leaving:
            last[node] = len(order)
            continue
        position[node] = len(order)
        order.append(node)
        stack.append((node, True))
        stack.extend((kid, False) for kid in reversed(kids[node]))
    return order, position, last


def _systems(
    net: Network, order: list[int], parent: list[int], branch: list[str], root: list[str]
) -> tuple[list[str | None], list[str]]:
    system: list[str | None] = [None] * net.node_count
    phases = [""] * net.node_count
    for node in order:
        if not branch[node]:
            source = net.drawing.get(root[node])
            code = source.system if isinstance(source, UtilityService | Generator) else None
            system[node] = code
            phases[node] = system_phases(code)
            if isinstance(source, SolarArray | Battery):
                phases[node] = source.phases or ""
            continue
        b = net.branches[branch[node]]
        up = parent[node]
        if isinstance(b.item, Transformer):
            forward = b.a == up
            system[node] = b.item.secondary_system if forward else b.item.primary_system
            phases[node] = system_phases(system[node])
            continue
        system[node] = system[up]
        own = b.item.phases if isinstance(b.item, ConductorRun | Disconnect) else None
        kept = "".join(p for p in phases[up] if p in own) if own else phases[up]
        phases[node] = kept or phases[up]
    return system, phases


def system_phases(code: str | None) -> str:
    """Phase letters of a nominal system; "" when the system is unknown. A and B stand for L1 and L2."""
    if code is None:
        return ""
    if code == "120-1":
        return "A"
    return "AB" if code.endswith("-1") else "ABC"


def _loops(
    net: Network, order: list[int], position: list[int], last: list[int], parent: list[int], branch: list[str],
    without: frozenset[str],
) -> tuple[frozenset[int], tuple[str, ...]]:  # fmt: skip
    """Nodes whose feed is not radial: on the loop that each extra closed branch makes, and everything below them."""
    extra = [
        b for k, b in net.branches.items()
        if b.normally_closed and b.b >= 0 and b.a != b.b and position[b.a] >= 0 and position[b.b] >= 0
        and branch[b.a] != k and branch[b.b] != k and k not in without
    ]  # fmt: skip
    hit: set[int] = set()
    for b in extra:
        up_a, up_b = _chain(b.a, parent), _chain(b.b, parent)
        common = set(up_a) & set(up_b)
        tops = [x for x in up_a if x not in common] + [x for x in up_b if x not in common]
        if not common:  # two sources tied together: both whole trees
            tops = [up_a[-1], up_b[-1]]
        for top in tops:
            hit.update(order[position[top] : last[top]])
    return frozenset(hit), tuple(b.key for b in extra)


def _chain(node: int, parent: list[int]) -> list[int]:
    chain = [node]
    while parent[node] >= 0:
        node = parent[node]
        chain.append(node)
    return chain
