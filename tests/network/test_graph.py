"""The graph given to users, held against the live state by the library's own search."""

from __future__ import annotations

import networkx
import pytest
from random_service import random_service

from oneline.api import network_graph
from oneline.model import SuspectedTie, TransferSwitch
from oneline.network import build_network
from oneline.network.live import live_state


@pytest.mark.parametrize("seed", range(20))
def test_what_is_connected_in_the_graph_is_live_from_the_same_sources(seed):
    """Physics: a source energizes everything that closed branches connect with it."""
    drawing = random_service(seed)
    net, graph = build_network(drawing.view("proposed")), network_graph(drawing)
    assert graph.number_of_nodes() >= net.node_count
    state = live_state(net)
    shut = networkx.MultiGraph()
    shut.add_nodes_from(graph)
    shut.add_edges_from((a, b, k) for a, b, k, closed in graph.edges(keys=True, data="closed") if closed)
    for node in range(net.node_count):
        connected = networkx.node_connected_component(shut, node)
        assert state.at_node[node] == {s for n in connected for s in graph.nodes[n]["sources"]}


def test_edges_say_what_they_are():
    drawing = random_service(3)
    graph = network_graph(drawing)
    net = build_network(drawing.view("proposed"))
    edges = {key: data for _, _, key, data in graph.edges(keys=True, data=True)}
    assert edges.keys() == net.branches.keys()
    for key, data in edges.items():
        item = drawing.get(data["item"])
        assert (data["kind"], data["name"]) == (item.kind, drawing.name_of(item.id))
        assert key.startswith(item.id) or isinstance(item, TransferSwitch | SuspectedTie)


def test_a_view_that_there_is_not():
    with pytest.raises(ValueError, match="past"):
        network_graph(random_service(1), view="past")
