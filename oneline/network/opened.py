"""The ways in which a network with normally closed loops could be fed if each loop were opened somewhere.

What a loop feeds has no single device ahead: current reaches it from both ends. Every way of opening all loops leaves a
radial network; together they show every device in the role of the device ahead, of every conductor from either end. In a
network of resistances the current of a branch lies between those that it carries in these ways (Kirchhoff 1847: it is their
weighted mean over all spanning trees; from memory). Which ways there are follows from the network and not from its order.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations, product

from oneline.model import Battery, Bus, Disconnect, Generator, Load, SolarArray, UtilityService
from oneline.network.feeding import Feeding
from oneline.network.topology import Branch, Network

#: The place where all sources stand, which feeds them.
_GROUND = -1
#: More ways than this are not looked at one by one.
MOST_WAYS = 48
#: More sets of cuts than this are not tried.
_MOST_TRIED = 4000
#: Forms of disconnects that end what a service feeds without protection.
_PROTECTING = ("breaker", "fused switch", "fuses")


@dataclass(frozen=True)
class Ways:
    """``ring``: keys of the branches on a closed loop, sources counted as one place. ``cuts``: for each way the branches
    that it opens; nothing where there are too many ways to look at. ``nodes``: nodes of the ring branches."""

    ring: frozenset[str]
    nodes: frozenset[int]
    cuts: tuple[frozenset[str], ...]


@dataclass(frozen=True)
class _Edge:
    key: str
    a: int
    b: int
    #: Ahead of the devices of a service: opened only where the loop has nothing else.
    kept: bool = False

    def other(self, node: int) -> int:
        return self.b if node == self.a else self.a


def ways(net: Network, feeding: Feeding) -> Ways | None:
    """The ways of a network; ``None`` where nothing is fed in two ways at once."""
    if not feeding.loop_branches and not feeding.parallel:
        return None
    edges = _edges(net, feeding)
    ring = _not_bridges(edges)
    named = [e for e in ring if e.key]
    if not named:
        return None
    cuts: list[tuple[frozenset[str], ...]] = []
    for block in _pieces(ring):
        found = _cuts(net, feeding, block)
        if found is None:
            cuts = []
            break
        cuts.append(found)
    number = 1
    for found in cuts:
        number *= len(found)
    chosen = tuple(frozenset().union(*one) for one in product(*cuts)) if cuts and number <= MOST_WAYS else ()
    nodes = frozenset(n for e in named for n in (e.a, e.b) if n != _GROUND)
    return Ways(frozenset(e.key for e in named), nodes, chosen)


# ------------------------------------------------------------------------------------------------------- the graph
def _edges(net: Network, feeding: Feeding) -> list[_Edge]:
    """Normally closed branches between fed nodes, and one from the ground to each source that holds a voltage."""
    grounds = _grounds(net, feeding)
    ahead = _ahead(net, [n for s, n in grounds.items() if isinstance(net.drawing.get(s), UtilityService)])
    found = [
        _Edge(key, b.a, b.b, key in ahead) for key, b in net.branches.items()
        if b.normally_closed and b.b >= 0 and b.a != b.b and feeding.position[b.a] >= 0 and feeding.position[b.b] >= 0
    ]  # fmt: skip
    return found + [_Edge("", _GROUND, node, True) for node in grounds.values()]


def _grounds(net: Network, feeding: Feeding) -> dict[str, int]:
    """Sources that feed by themselves: services and generators, and every other root of the forest."""
    return {
        s: node for s, node in net.sources.items()
        if isinstance(net.drawing.get(s), UtilityService | Generator) or feeding.root[node] == s
    }  # fmt: skip


def _ahead(net: Network, starts: list[int]) -> frozenset[str]:
    """Branches that services feed without an overcurrent device or a service disconnect between."""
    seen, waiting, found = set(starts), list(starts), set()
    for node in waiting:  # grows while it is walked
        for key in net.at_node[node]:
            b = net.branches[key]
            other = b.other(node)
            if not b.normally_closed or other < 0 or _ends_service(b):
                continue
            found.add(key)
            if other not in seen:
                seen.add(other)
                waiting.append(other)
    return frozenset(found)


def _ends_service(b: Branch) -> bool:
    if b.item.kind == "transformer":
        return True
    return isinstance(b.item, Disconnect) and (b.item.form in _PROTECTING or bool(b.item.service_disconnect))


def _neighbors(edges: list[_Edge]) -> dict[int, list[int]]:
    found: dict[int, list[int]] = {}
    for k, e in enumerate(edges):
        for node in (e.a, e.b):
            found.setdefault(node, []).append(k)
    return found


def _not_bridges(edges: list[_Edge]) -> list[_Edge]:
    """Edges on a loop: those whose removal separates nothing (low points of a depth-first search)."""
    at = _neighbors(edges)
    depth: dict[int, int] = {}
    low: dict[int, int] = {}
    bridges: set[int] = set()
    for start in at:
        if start in depth:
            continue
        depth[start] = low[start] = 0
        stack: list[tuple[int, int, Iterator[int]]] = [(start, -1, iter(at[start]))]
        while stack:
            node, came, rest = stack[-1]
            for k in rest:
                if k == came:
                    continue
                other = edges[k].other(node)
                if other in depth:
                    low[node] = min(low[node], depth[other])
                    continue
                depth[other] = low[other] = depth[node] + 1
                stack.append((other, k, iter(at[other])))
                break
            else:
                stack.pop()
                if stack:
                    up = stack[-1][0]
                    low[up] = min(low[up], low[node])
                    if low[node] > depth[up]:
                        bridges.add(came)
    return [e for k, e in enumerate(edges) if k not in bridges]


def _pieces(edges: list[_Edge]) -> list[list[_Edge]]:
    """Connected pieces of a graph without bridges; the ground and the nodes at it join what does not depend."""
    at = _neighbors(edges)
    seen: set[int] = set()
    found = []
    for k in range(len(edges)):
        if k in seen:
            continue
        piece, waiting = {k}, [k]
        for edge in waiting:  # grows while it is walked
            for node in (edges[edge].a, edges[edge].b):
                for other in at[node]:
                    if other not in piece:
                        piece.add(other)
                        waiting.append(other)
        seen |= piece
        found.append([edges[i] for i in sorted(piece)])
    return found


# ------------------------------------------------------------------------------------------------------- the cuts
def _cuts(net: Network, feeding: Feeding, block: list[_Edge]) -> tuple[frozenset[str], ...] | None:
    """Every set of branches whose opening leaves the piece radial and whole; ``None`` for more than can be looked at.

    What is ahead of the devices of a service stays closed as far as it can, and of branches in a row with nothing between
    only the first and the last are opened: cuts between them show no branch from another end.
    """
    nodes = {n for e in block for n in (e.a, e.b)}
    loops = len(block) - len(nodes) + 1
    choice = [e for e in _ends_of_rows(net, block) if e.key and not e.kept]
    found = _trees(block, choice, loops, nodes)
    if found is not None and not found:
        found = _trees(block, [e for e in block if e.key], loops, nodes)
    return found


def _trees(
    block: list[_Edge], choice: list[_Edge], loops: int, nodes: set[int]
) -> tuple[frozenset[str], ...] | None:  # fmt: skip
    found: list[frozenset[str]] = []
    for tried, cut in enumerate(combinations(choice, loops)):
        if tried >= _MOST_TRIED or len(found) > MOST_WAYS:
            return None
        gone = {e.key for e in cut}
        if _joined([e for e in block if not e.key or e.key not in gone], nodes):
            found.append(frozenset(gone))
    return tuple(found)


def _joined(edges: list[_Edge], nodes: set[int]) -> bool:
    """Whether edges, one fewer than nodes, join them all: then there is no loop among them."""
    top = {n: n for n in nodes}

    def find(n: int) -> int:
        while top[n] != n:
            top[n] = n = top[top[n]]
        return n

    for e in edges:
        a, b = find(e.a), find(e.b)
        if a == b:
            return False
        top[a] = b
    return True


def _ends_of_rows(net: Network, block: list[_Edge]) -> list[_Edge]:
    """The edges without those in the middle of a row of three and more with nothing between them."""
    at = _neighbors(block)
    through = {
        n for n, ks in at.items() if n != _GROUND and len(ks) == 2 and len(net.at_node[n]) == 2 and _bare(net, n)
    }
    # An edge is in the middle where the row goes on at both of its ends.
    return [e for e in block if not (e.a in through and e.b in through)]


def _bare(net: Network, node: int) -> bool:
    """Whether nothing stands at a node but what it joins."""
    return not any(isinstance(net.drawing.get(end.item), _STANDING) for end in net.ends_of[node])


_STANDING = (Bus, Load, UtilityService, Generator, SolarArray, Battery)
