"""The electrical network as a graph of the library networkx, for questions that users ask in Python."""

from __future__ import annotations

from typing import TYPE_CHECKING

from oneline.network.topology import Network

if TYPE_CHECKING:
    from networkx import MultiGraph as Graph


def as_graph(net: Network) -> Graph:
    """The network as an undirected multigraph.

    Nodes are the numbers of the network's nodes, with ``terminals``: (item id, terminal) of everything joined there, and
    ``sources``: ids of the sources that stand there. Edges are its branches, keyed like them, with ``item`` (id), ``kind``,
    ``name``, ``closed`` (present position), ``normally_closed`` and ``possibly_closed``. A tie to an unknown place leads to a
    node of its own, ``("unknown", tie id)``. A transfer switch makes two edges, of which never both are closed.
    """
    import networkx

    graph = networkx.MultiGraph()
    at: dict[int, list[str]] = {}
    for source, node in net.sources.items():
        at.setdefault(node, []).append(source)
    for node, ends in enumerate(net.ends_of):
        graph.add_node(node, terminals=tuple((e.item, e.terminal) for e in ends), sources=tuple(at.get(node, ())))
    for key, branch in net.branches.items():
        beyond = branch.b if branch.b >= 0 else ("unknown", key)
        if branch.b < 0:
            graph.add_node(beyond, terminals=(), sources=())
        graph.add_edge(
            branch.a, beyond, key=key, item=branch.item.id, kind=branch.item.kind, name=net.drawing.name_of(branch.item.id),
            closed=branch.closed, normally_closed=branch.normally_closed, possibly_closed=branch.possibly_closed,
        )  # fmt: skip
    return graph
