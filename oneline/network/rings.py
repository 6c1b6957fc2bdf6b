"""Closed loops: which items lie on the ring that a branch closes. Imports networkx only when there is one."""

from __future__ import annotations

from itertools import pairwise

from oneline.network.topology import Network


def ring(net: Network, key: str) -> tuple[str, ...]:
    """Ids of the items on the shortest closed ring through a branch, in the order in which it runs, the branch's first.

    Only normally closed branches count. Empty when the branch closes no ring, as between two sources.
    """
    import networkx as nx

    graph = nx.Graph()
    for other in net.branches.values():
        if other.normally_closed and other.key != key and other.b >= 0 and not graph.has_edge(other.a, other.b):
            graph.add_edge(other.a, other.b, item=other.item.id)
    start = net.branches[key]
    if start.a not in graph or start.b not in graph or not nx.has_path(graph, start.b, start.a):
        return ()
    nodes = nx.shortest_path(graph, start.b, start.a)
    return (start.item.id, *(graph.edges[a, b]["item"] for a, b in pairwise(nodes)))
