"""The feeding forest: who feeds whom in normal operation."""

from __future__ import annotations

import random

import networkx as nx
import pytest

from oneline.model import Drawing, Generator, UtilityService
from oneline.network import build_feeding, build_network


@pytest.fixture
def chain(draw):
    """Builds ``a - b - c`` of runs between buses, from pairs; the first bus carries a service."""

    def build(*pairs: str, d: Drawing | None = None) -> Drawing:
        d = d or draw.put(Drawing(), "service", "s", system="208Y/120")
        for pair in pairs:
            for bus in pair.split("-"):
                if bus not in d:
                    d = draw.put(d, "bus", bus)
            a, b = pair.split("-")
            d = draw.join(d, f"{a}.bus", f"{b}.bus", "run", pair)
        if not any("s.out" in f"{c.a.item}.{c.a.terminal}" for c in d.connections()):
            d = draw.join(d, "s.out", f"{pairs[0].split('-')[0]}.bus", "joint", "at-service")
        return d

    return build


def test_runs_are_followed_whichever_way_they_were_drawn(chain):
    d = chain("a-b", "c-b", "d-c", "e-c")
    net = build_network(d)
    feeding = build_feeding(net)
    for run, line, load in (("a-b", "a", "b"), ("c-b", "b", "c"), ("d-c", "c", "d"), ("e-c", "c", "e")):
        assert feeding.line_node(run) == net.node(line)
        assert feeding.load_node(run) == net.node(load)
    assert [b.key for b, _ in feeding.path(net.node("e"))] == ["e-c", "c-b", "a-b"]
    assert {net.ends_of[n][0].item for n in feeding.subtree(net.node("c"))} == {"c", "d", "e"}
    assert [(b.key, n) for b, n in feeding.children(net.node("c"))] == [("d-c", net.node("d")), ("e-c", net.node("e"))]
    assert not feeding.looped


def test_a_forest_is_what_networkx_calls_one(draw):
    """Random networks: orders, slices and parents agree with networkx on the same branches; everything reachable is fed."""
    for seed in range(150):
        net = build_network(draw.random(random.Random(seed), 8, 7))
        feeding = build_feeding(net)
        tree = nx.DiGraph()
        tree.add_nodes_from(feeding.order)
        tree.add_edges_from((feeding.parent[n], n) for n in feeding.order if feeding.branch[n])
        assert nx.is_branching(tree)
        for node in feeding.order:
            assert set(feeding.subtree(node)) == {node, *nx.descendants(tree, node)}
            if feeding.branch[node]:
                b = net.branches[feeding.branch[node]]
                assert {b.a, b.b} == {node, feeding.parent[node]}
                assert feeding.root[node] == feeding.root[feeding.parent[node]]
        whole = nx.MultiGraph()
        whole.add_nodes_from(range(net.node_count))
        whole.add_edges_from((b.a, b.b) for b in net.branches.values() if b.b >= 0 and b.item.kind != "tie")
        reached = set().union(*(nx.node_connected_component(whole, n) for n in net.sources.values()))
        assert set(feeding.order) == reached


def test_normally_closed_loops_are_found_as_networkx_finds_them(draw):
    """A radial network is a forest of its normally closed branches with one service or generator in each tree."""
    found = 0
    for seed in range(300):
        net = build_network(draw.random(random.Random(1000 + seed), 6, 6))
        feeding = build_feeding(net)
        graph = nx.MultiGraph()
        graph.add_nodes_from(range(net.node_count))
        graph.add_edges_from(
            (b.a, b.b, k) for k, b in net.branches.items() if b.normally_closed and b.b >= 0 and b.a != b.b
        )
        for piece in nx.connected_components(graph):
            fed = [n for n in piece if feeding.root[n]]
            if not fed:
                continue
            strong = [
                s for s, n in net.sources.items()
                if n in piece and isinstance(net.drawing.get(s), UtilityService | Generator)
            ]  # fmt: skip
            ring = graph.subgraph(piece).number_of_edges() >= len(piece)
            if not ring and len(strong) <= 1:
                if not feeding.looped & piece:
                    continue
                # Two weak sources without a grid in one piece: also not radial.
                assert len([s for s, n in net.sources.items() if n in piece]) > 1 or _fed_through_loop(feeding, piece)
            else:
                assert feeding.looped & piece, seed
                found += 1
    assert found > 50


def _fed_through_loop(feeding, piece) -> bool:
    return any(feeding.parent[n] not in piece and feeding.parent[n] in feeding.looped for n in piece)


def test_loop_takes_in_what_is_fed_through_it_and_nothing_above(chain):
    d = chain("a-b", "b-c", "c-d", "b-d", "d-e", "a-f")
    net = build_network(d)
    feeding = build_feeding(net)
    assert {net.ends_of[n][0].item for n in feeding.looped} == {"c", "d", "e"}
    assert feeding.loop_branches == ("c-d",)


def test_two_runs_side_by_side_are_a_loop(draw, chain):
    d = draw.join(chain("a-b", "b-c"), "a.bus", "b.bus", "run", "second")
    net = build_network(d)
    feeding = build_feeding(net)
    assert {net.ends_of[n][0].item for n in feeding.looped} == {"b", "c"}
    assert feeding.loop_branches == ("second",)


@pytest.fixture
def two_services(draw):
    """Two boards on services of their own, joined by a tie breaker."""

    def build(normally_open: bool) -> Drawing:
        d = Drawing()
        for side in ("left", "right"):
            d = draw.put(d, "service", f"{side}-service", system="480Y/277")
            d = draw.put(d, "bus", f"{side}-board")
            d = draw.join(d, f"{side}-service.out", f"{side}-board.bus", "run", f"{side}-run")
        d = draw.put(d, "disconnect", "tie", normally_open=normally_open, closed=not normally_open)
        d = draw.join(d, "left-board.bus", "tie.line")
        return draw.join(d, "tie.load", "right-board.bus")

    return build


def test_normally_open_tie_keeps_two_services_apart(two_services):
    net = build_network(two_services(normally_open=True))
    feeding = build_feeding(net)
    assert feeding.root[net.node("left-board")] == "left-service"
    assert feeding.root[net.node("right-board")] == "right-service"
    assert not feeding.looped
    assert feeding.load_node("tie") is None


def test_closed_tie_between_two_services_makes_both_trees_unknown(two_services):
    net = build_network(two_services(normally_open=False))
    feeding = build_feeding(net)
    assert feeding.looped == frozenset(feeding.order)
    assert feeding.loop_branches == ("tie",)


def test_two_services_on_one_bus_are_parallel(draw):
    d = draw.put(Drawing(), "bus", "board")
    for name in ("one", "two"):
        d = draw.join(draw.put(d, "service", name), f"{name}.out", "board.bus")
    feeding = build_feeding(build_network(d))
    assert feeding.parallel == ("two",)
    assert feeding.looped == frozenset(feeding.order)


def test_generator_without_a_transfer_switch_is_parallel(draw):
    d = draw.put(draw.put(draw.put(Drawing(), "service", "s"), "generator", "g"), "bus", "board")
    d = draw.join(draw.join(d, "s.out", "board.bus", "run", "r1"), "g.out", "board.bus", "run", "r2")
    net = build_network(d)
    feeding = build_feeding(net)
    assert feeding.parallel == ("g",)
    assert feeding.looped == frozenset(range(net.node_count))


def test_generator_behind_a_transfer_switch_feeds_only_its_own_side(draw):
    d = draw.put(draw.put(Drawing(), "service", "s", system="208Y/120"), "generator", "g", system="208Y/120")
    d = draw.put(draw.put(d, "transfer", "ats", position="alternate"), "bus", "panel")
    d = draw.join(d, "s.out", "ats.normal", "run", "r1")
    d = draw.join(d, "g.out", "ats.alternate", "run", "r2")
    d = draw.join(d, "ats.load", "panel.bus", "run", "r3")
    net = build_network(d)
    feeding = build_feeding(net)
    assert feeding.root[net.node("panel")] == "s", "the present position must not change the loads"
    assert feeding.root[net.node("ats", "alternate")] == "g"
    assert feeding.load_node("ats/alternate") is None
    assert not feeding.looped
    assert not feeding.parallel


def test_generator_feeds_what_nothing_else_reaches(draw):
    d = draw.put(draw.put(draw.put(Drawing(), "generator", "g"), "transfer", "ats"), "bus", "panel")
    d = draw.join(draw.join(d, "g.out", "ats.alternate", "run", "r1"), "ats.load", "panel.bus", "run", "r2")
    net = build_network(d)
    feeding = build_feeding(net)
    assert feeding.root[net.node("panel")] == "g"
    assert [b.key for b, _ in feeding.path(net.node("panel"))] == ["r2", "ats/alternate", "r1"]


def test_solar_is_fed_from_the_service_not_the_other_way(draw):
    d = draw.put(draw.put(draw.put(Drawing(), "solar", "roof"), "bus", "board"), "service", "s")
    d = draw.join(draw.join(d, "roof.out", "board.bus", "run", "roof-run"), "board.bus", "s.out", "run", "s-run")
    net = build_network(d)
    feeding = build_feeding(net)
    assert feeding.root[net.node("roof")] == "s"
    assert feeding.line_node("roof-run") == net.node("board")
    assert not feeding.parallel
    assert not feeding.looped


def test_suspected_ties_never_feed(draw):
    d = draw.put(draw.put(draw.put(Drawing(), "service", "s"), "bus", "a"), "bus", "b")
    d = draw.join(draw.join(d, "s.out", "a.bus"), "a.bus", "b.bus", "tie", "t")
    net = build_network(d)
    feeding = build_feeding(net)
    assert feeding.root[net.node("b")] == ""
    assert feeding.position[net.node("b")] == -1
    assert feeding.subtree(net.node("b")) == ()


def test_nothing_is_fed_without_a_source(draw):
    feeding = build_feeding(build_network(draw.put(draw.put(Drawing(), "bus", "a"), "disconnect", "b")))
    assert feeding.order == ()
    assert set(feeding.root) == {""}


def test_systems_and_phases_down_the_tree(draw):
    """A two-phase run off a wye board, then a single-phase transformer; and a transformer fed from its load side."""
    d = draw.put(Drawing(), "service", "s", system="480Y/277")
    d = draw.put(draw.put(d, "bus", "board"), "bus", "small")
    d = draw.put(d, "transformer", "t", primary_system="480Y/277", secondary_system="120/240-1")
    d = draw.put(d, "transformer", "up", primary_system="600Y/347", secondary_system="480Y/277")
    d = draw.join(d, "s.out", "board.bus")
    d = draw.join(d, "board.bus", "t.line", "run", "r1", phases="BC")
    d = draw.join(d, "t.load", "small.bus", "run", "r2")
    d = draw.join(d, "board.bus", "up.load", "run", "r3")
    net = build_network(d)
    feeding = build_feeding(net)
    at = {name: (feeding.system[node], feeding.phases[node]) for name, node in (
        ("board", net.node("board")), ("t", net.node("t", "line")), ("small", net.node("small")),
        ("up", net.node("up", "line")),
    )}  # fmt: skip
    assert at == {
        "board": ("480Y/277", "ABC"),
        "t": ("480Y/277", "BC"),
        "small": ("120/240-1", "AB"),
        "up": ("600Y/347", "ABC"),
    }


def test_deep_chain_does_not_recurse(draw, chain):
    d = chain(*[f"b{i}-b{i + 1}" for i in range(1500)])
    feeding = build_feeding(build_network(d))
    assert len(feeding.order) == 1501
    assert feeding.last[feeding.order[0]] == 1501
