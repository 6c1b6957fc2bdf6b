"""The ring that a branch closes, on networks drawn by hand and on random ones."""

from __future__ import annotations

import random

import networkx as nx

import oneline
from oneline.network import build_feeding, build_network
from oneline.network.rings import ring


def double_ended() -> oneline.Builder:
    """Two buses of one service, each behind its main, and a tie between them that stands closed."""
    b = oneline.Builder("Ring")
    service, gutter = b.service("Service", system="208Y/120", fault_ka=10), b.bus("Gutter", form="gutter")
    b.joint(service, gutter)
    for side in "12":
        main, bus = b.disconnect(f"Main {side}", trip_a=400), b.bus(f"Bus {side}", form="switchboard", rating_a=400)
        b.joint(gutter, main)
        b.joint(main, bus)
    tie = b.disconnect("Tie", trip_a=400)
    b.joint("Bus 1", tie)
    b.joint(tie, "Bus 2")
    return b


def test_the_devices_of_a_loop_are_named_in_what_is_not_known() -> None:
    b = double_ended()
    needs = oneline.check(b.drawing).points[b.find("Bus 2")].needs
    (loop,) = [n for n in needs if n.startswith("figures of a closed loop")]
    assert all(name in loop for name in ("Main 1", "Main 2", "Tie"))
    b.change("Tie", closed=False, normally_open=True)
    assert not [n for n in oneline.check(b.drawing).points[b.find("Bus 2")].needs if "loop" in n]


def test_a_branch_between_two_sources_closes_no_ring() -> None:
    b = oneline.Builder("Two services")
    for side in "12":
        main = b.disconnect(f"Main {side}")
        b.joint(b.service(f"Service {side}", system="208Y/120"), main)
        b.joint(main, b.bus(f"Bus {side}"))
    tie = b.disconnect("Tie")
    b.joint("Bus 1", tie)
    b.joint(tie, "Bus 2")
    net = build_network(b.drawing)
    assert [ring(net, key) for key in build_feeding(net).loop_branches] == [()]


def test_every_ring_is_closed_and_the_shortest(draw) -> None:
    """Oracle: the branch's ends stay connected without it, and no shorter way joins them (networkx on a multigraph)."""
    seen = 0
    for seed in range(120):
        net = build_network(draw.random(random.Random(seed), 8, 7))
        graph = nx.MultiGraph()
        graph.add_nodes_from(range(net.node_count))
        for key, branch in net.branches.items():
            if branch.normally_closed and branch.b >= 0:
                graph.add_edge(branch.a, branch.b, key=key)
        for key in build_feeding(net).loop_branches:
            branch = net.branches[key]
            rest = graph.copy()
            rest.remove_edge(branch.a, branch.b, key=key)
            found = ring(net, key)
            joined = nx.has_path(rest, branch.a, branch.b)
            assert bool(found) == joined
            if joined:
                seen += 1
                assert found[0] == branch.item.id
                assert len(found) - 1 == nx.shortest_path_length(rest, branch.a, branch.b)
    assert seen > 20
