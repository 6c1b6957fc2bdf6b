"""Nodes and branches of a drawing."""

from __future__ import annotations

import random

import networkx as nx
import pytest

from oneline.model import Connection, Drawing, End, Joint
from oneline.network import build_network


def test_joints_merge_terminals_and_runs_do_not(draw):
    d = draw.put(draw.put(draw.put(Drawing(), "bus", "top"), "disconnect", "main"), "bus", "bottom")
    d = draw.join(d, "top.bus", "main.line")
    d = draw.join(d, "main.load", "bottom.bus", "run", "r1")
    net = build_network(d)
    assert net.node_count == 3
    assert net.node("top") == net.node("main", "line") == net.node("r1", "a") - 1 == 0
    assert net.node("main", "load") == net.node("r1", "a") != net.node("bottom") == net.node("r1", "b")
    assert set(net.branches) == {"main", "r1"}
    assert net.ends_of[0] == (End("top", "bus"), End("main", "line"))


def test_nodes_are_the_connected_pieces_of_the_joints(draw):
    """Oracle: networkx on the drawing's joints."""
    for seed in range(100):
        drawing = draw.random(random.Random(seed), 6, 6)
        graph = nx.Graph()
        graph.add_nodes_from(End(i.id, t) for i in drawing.items.values() for t in i.terminals)
        graph.add_edges_from((j.a, j.b) for j in drawing.of(Joint))
        net = build_network(drawing)
        assert {frozenset(ends) for ends in net.ends_of} == {frozenset(p) for p in nx.connected_components(graph)}
        assert sorted(net.node_of.values()) == sorted(n for n, ends in enumerate(net.ends_of) for _ in ends)
        for n, keys in enumerate(net.at_node):
            assert set(keys) == {k for k, b in net.branches.items() if n in (b.a, b.b)}


def test_numbering_does_not_change_when_nothing_changed(draw):
    drawing = draw.random(random.Random(3), 8, 6)
    first, second = build_network(drawing), build_network(drawing)
    assert first.node_of == second.node_of
    assert list(first.branches) == list(second.branches)


def test_transfer_switch_is_two_branches(draw):
    net = build_network(draw.put(Drawing(), "transfer", "ats", position="alternate"))
    normal, alternate = (net.branches[k] for k in net.branches_of("ats"))
    assert (normal.normally_closed, normal.closed) == (True, False)
    assert (alternate.normally_closed, alternate.closed) == (False, True)
    assert normal.b == alternate.b == net.node("ats", "load")


@pytest.mark.parametrize(("closed", "normally_open"), [(True, True), (True, False), (False, True), (False, False)])
def test_present_and_normal_position_are_two_things(draw, closed, normally_open):
    net = build_network(draw.put(Drawing(), "disconnect", "tie", closed=closed, normally_open=normally_open))
    branch = net.branches["tie"]
    assert branch.closed is closed
    assert branch.possibly_closed is closed
    assert branch.normally_closed is not normally_open


def test_tie_to_an_unknown_place_has_one_node(draw):
    d = draw.join(draw.put(Drawing(), "bus", "panel"), "panel.bus", "", "tie", "t")
    net = build_network(d)
    branch = net.branches["t"]
    assert (branch.a, branch.b) == (net.node("panel"), -1)
    assert net.node("t", "b") == -1
    assert not branch.closed
    assert branch.possibly_closed


def test_connections_to_something_that_is_gone_are_left_out(draw):
    d = draw.put(draw.put(Drawing(), "bus", "top"), "disconnect", "main")
    d = draw.join(draw.join(d, "top.bus", "main.line"), "main.load", "top.bus", "run", "r")
    net = build_network(d.with_items(removed=["top"]))
    assert set(net.branches) == {"main"}
    assert not any(isinstance(b.item, Connection) for b in net.branches.values())
