"""Minimum cut between two vertices of an undirected graph with integer capacities.

Shortest augmenting paths (Edmonds and Karp 1972). Of all minimum cuts the one nearest to the sink is given: it does not
depend on the order of vertices and edges, since the sets of vertices on the sink's side of minimum cuts are closed under
intersection (Picard and Queyranne 1980). networkx is the reference in the tests; its flow in pure Python takes some ten
times longer.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple


class Found(NamedTuple):
    """``side``: for each vertex whether it lies on the sink's side. ``flow``: through each edge, whichever way, in a
    maximum flow: its value is that of the cut."""

    value: int
    side: list[bool]
    flow: list[int]


class MinCut:
    """One graph, cut again and again with other capacities.

    ``edges``: (u, v) of each edge between vertices 0 .. ``count`` - 1.
    """

    def __init__(self, count: int, edges: Sequence[tuple[int, int]]) -> None:
        self._count = count
        #: Arc 2k leads along edge k, arc 2k + 1 against it.
        self._arcs: list[list[tuple[int, int]]] = [[] for _ in range(count)]
        for number, (u, v) in enumerate(edges):
            self._arcs[u].append((2 * number, v))
            self._arcs[v].append((2 * number + 1, u))

    def cut(self, capacity: Sequence[int], source: int, sink: int, enough: int) -> Found | None:
        """The minimum cut nearest to the sink; ``None`` when it costs ``enough`` or more."""
        left = [c for c in capacity for _ in (0, 1)]
        value = 0
        while True:
            came, reached = self._search(left, source, sink)
            if not reached:
                break
            way = []
            at = sink
            while at != source:
                arc, at = came[at]
                way.append(arc)
            flow = min(left[arc] for arc in way)
            value += flow
            if value >= enough:
                return None
            for arc in way:
                left[arc] -= flow
                left[arc ^ 1] += flow
        side = [False] * self._count
        side[sink] = True
        waiting = [sink]
        for at in waiting:  # grows while it is walked
            for arc, other in self._arcs[at]:
                if not side[other] and left[arc ^ 1]:
                    side[other] = True
                    waiting.append(other)
        return Found(value, side, [abs(left[k + 1] - left[k]) // 2 for k in range(0, len(left), 2)])

    def _search(self, left: list[int], source: int, sink: int) -> tuple[list[tuple[int, int]], bool]:
        """(arc, vertex before) of every vertex reached, breadth first, and whether the sink is among them."""
        came = [(-1, -1)] * self._count
        came[source] = (-2, -1)
        waiting = [source]
        for at in waiting:  # grows while it is walked
            for arc, other in self._arcs[at]:
                if came[other][0] == -1 and left[arc]:
                    came[other] = (arc, at)
                    if other == sink:
                        return came, True
                    waiting.append(other)
        return came, False
