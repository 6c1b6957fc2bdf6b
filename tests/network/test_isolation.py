"""Isolation of a zone against brute force, and against networkx where no transfer switch lies between.

The oracle (tests/oracles/switching.py) tries every subset of devices and every position; it shares nothing with the
program but the drawing.
"""

from __future__ import annotations

import random
from itertools import pairwise
from types import MappingProxyType

import networkx as nx
import pytest
from switching import (
    all_minimal_sets,
    energy_places,
    join,
    may_open,
    put,
    random_supply,
    reaching,
    reaching_in_any_position,
    terminals,
)

from oneline.model import Drawing, TransferSwitch
from oneline.network import build_network
from oneline.network import isolation as isolation_module
from oneline.network import waygraph as ways_module
from oneline.network.isolation import find_cuts, openable, region, sources_of, way_to
from oneline.network.live import worst_state
from oneline.network.mincut import MinCut


def case(seed: int, devices: int, buses: int = 10):
    """A random supply, its network, a zone (an item) and what opening each device costs."""
    rng = random.Random(seed)
    drawing = random_supply(rng, rng.randint(1, devices), buses)
    net = build_network(drawing)
    kinds = ("bus",) if rng.random() < 0.8 else ("bus", "disconnect", "transfer", "meter", "transformer", "run")
    item = rng.choice([i for i in drawing.items.values() if i.kind in kinds])
    zone = {net.node_of[end] for end in net.node_of if (end.item, end.terminal) in terminals(item)}
    cost = {d: rng.choice((1, 2, 3, 5, 8)) for d in sorted(openable(net))}
    assert set(cost) == {i.id for i in drawing.items.values() if may_open(i)}
    return drawing, net, item, zone, cost


def compared(seed: int, devices: int, buses: int = 10) -> tuple[int, bool, bool]:
    """Every set that the search finds, in its order, is every set there is; sources that nothing parts are named."""
    drawing, net, item, zone, cost = case(seed, devices, buses)
    found = find_cuts(net, zone, sources_of(net), cost, most=10_000)
    assert set(found.blocked) == reaching(drawing, cost, terminals(item)), seed
    expected = all_minimal_sets(drawing, terminals(item), cost, found.blocked)
    mine = [(c.cost, len(c.items), c.items) for c in found.cuts]
    assert sorted(mine) == expected, seed
    assert [row[:2] for row in mine] == [row[:2] for row in expected], seed
    assert found.exact, seed
    return len(found.cuts), bool(found.blocked), any(isinstance(drawing.get(i), TransferSwitch) for i in cost)


@pytest.mark.parametrize("block", range(4))
def test_cheapest_sets_are_those_of_all_subsets(block):
    """2,000 cases of up to 9 devices: cost, members and order of all sets without a superfluous device."""
    results = [compared(block * 100_000 + number, 9) for number in range(500)]
    assert sum(many > 1 for many, _, _ in results) > 60
    assert sum(blocked for _, blocked, _ in results) > 50
    assert sum(off for _, _, off in results) > 50


def test_cheapest_sets_of_up_to_fourteen_devices():
    for number in range(40):
        compared(700_000 + number, 14, 12)


@pytest.mark.parametrize("block", range(3))
def test_nothing_called_dead_is_live_in_any_position(block):
    """With the cheapest set open, every position of every other device is tried: no source reaches the zone."""
    positions = 0
    for number in range(300):
        seed = 800_000 + block * 1000 + number
        drawing, net, item, zone, cost = case(seed, 8)
        found = find_cuts(net, zone, sources_of(net), cost)
        for cut in found.cuts:
            assert reaching_in_any_position(drawing, cut.items, terminals(item)) == set(found.blocked), seed
            positions += 2 ** (len(cost) - len(cut.items))
    assert positions > 3000


def test_fourteen_devices_in_any_position():
    checked = 0
    for seed in range(40):
        rng = random.Random(850_000 + seed)
        drawing = random_supply(rng, 14, 12)
        net = build_network(drawing)
        cost = dict.fromkeys(openable(net), 1)
        cut = find_cuts(net, {net.node("bus0")}, sources_of(net), cost)
        if len(cost) - len(cut.cuts[0].items) > 11 or cut.blocked:
            continue
        assert not reaching_in_any_position(drawing, cut.cuts[0].items, [("bus0", "bus")])
        checked += 1
    assert checked >= 5


def test_worst_position_of_all_devices(draw):
    """The graph argument itself, at every node and for any set of devices held open: what reaches a node with everything
    else closed and the transfer switches in either position is what reaches it in some position of all."""
    compared_nodes = 0
    for seed in range(120):
        rng = random.Random(870_000 + seed)
        drawing = random_supply(rng, rng.randint(1, 7)) if seed % 2 else draw.random(rng, rng.randint(1, 7), 6)
        net = build_network(drawing)
        opened = [d for d in openable(net) if rng.random() < 0.4]
        state = worst_state(net, opened)
        for node in range(net.node_count):
            ends = [(e.item, e.terminal) for e in net.ends_of[node]][:1]
            assert state[node] == reaching_in_any_position(drawing, opened, ends), (seed, node)
            compared_nodes += 1
    assert compared_nodes > 500


def test_region_and_ways():
    """The region is what the zone is connected with; a way leads from the source to the zone through nothing held open."""
    ways = 0
    for seed in range(300):
        drawing, net, item, zone, cost = case(880_000 + seed, 9)
        rng = random.Random(seed)
        opened = [d for d in cost if rng.random() < 0.3]
        inside = region(net, zone, opened)
        reached = reaching(drawing, opened, terminals(item))
        for source, nodes in sources_of(net).items():
            assert (source in reached) == bool(inside.intersection(nodes)), seed
            way = way_to(net, nodes, zone, opened)
            assert (way is not None) == (source in reached), seed
            if not way:
                assert way is None or set(nodes) & zone
                continue
            at, passed = set(nodes), []
            for key in way:
                branch = net.branches[key]
                assert branch.item.id not in opened
                assert at & {branch.a, branch.b}
                at = {branch.b if branch.a in at else branch.a}
                passed.append(branch.item.id)
            assert at & zone
            # Never from one supply of a transfer switch to its other one.
            for one, two in pairwise(way):
                assert one == two or net.branches[one].item.id != net.branches[two].item.id or one.count("/") == 0
            ways += 1
    assert ways > 100


@pytest.mark.parametrize("block", range(2))
def test_same_value_as_networkx(block):
    """Without transfer switches the cheapest set is a minimum cut: networkx on a graph of terminals, up to 60 devices."""
    cuts = 0
    for number in range(60):
        seed = 900_000 + block * 1000 + number
        rng = random.Random(seed)
        drawing = random_supply(rng, rng.randint(10, 60), 30)
        drawing = drawing.with_items(removed=[i for i, x in drawing.items.items() if x.kind == "transfer"])
        drawing = drawing.with_items(
            removed=[c.id for c in drawing.connections() if any(e and e.item not in drawing for e in (c.a, c.b))]
        )
        net = build_network(drawing)
        cost = {d: rng.randint(1, 9) for d in sorted(openable(net))}
        found = find_cuts(net, {net.node("bus0")}, sources_of(net), cost, most=1)
        graph = nx.Graph()
        for item in drawing.items.values():
            ends = terminals(item)
            if len(ends) == 2:
                more = {"capacity": cost[item.id]} if item.id in cost else {}
                graph.add_edge(ends[0], ("middle", item.id))
                graph.add_edge(("middle", item.id), ends[1], **more)
        for source, terminal in energy_places(drawing).items():
            if source not in found.blocked:
                end = terminal if terminal[0] != "beyond" else terminals(drawing.get(source))[0]
                graph.add_edge("energy", end)
        if "energy" not in graph or ("bus0", "bus") not in graph:
            continue
        value, _ = nx.minimum_cut(graph, "energy", ("bus0", "bus"))
        assert value == found.cuts[0].cost, seed
        cuts += value > 0
    assert cuts > 20


def test_drawing_order_does_not_matter():
    for seed in range(200):
        _, net, _, zone, cost = case(950_000 + seed, 12)
        ends = {net.ends_of[node][0] for node in zone}
        cost = dict.fromkeys(cost, 3)  # many sets of the same cost
        first = find_cuts(net, zone, sources_of(net), cost)
        items = list(net.drawing.items.values())
        for again in range(3):
            random.Random(again).shuffle(items)
            shuffled = Drawing(items=MappingProxyType({i.id: i for i in items}))
            other = build_network(shuffled)
            found = find_cuts(
                other, {other.node_of[e] for e in ends}, sources_of(other), dict(sorted(cost.items(), reverse=True))
            )
            assert found.cuts == first.cuts, seed
            assert set(found.blocked) == set(first.blocked), seed


@pytest.mark.parametrize("what", ["work", "steps"])
def test_a_search_that_gives_up_still_isolates(monkeypatch, what):
    """Whatever is given up is cost, never a way: nothing reaches the zone, and the answer says that it may not be the
    cheapest."""
    if what == "work":
        monkeypatch.setattr(isolation_module, "_WORK_AT_MOST", -1)
    else:
        monkeypatch.setattr(ways_module, "_STEPS_AT_MOST", 0)
    given_up = 0
    for seed in range(300):
        drawing, net, item, zone, cost = case(960_000 + seed, 10)
        found = find_cuts(net, zone, sources_of(net), cost)
        for cut in found.cuts:
            assert reaching(drawing, cut.items, terminals(item)) <= set(found.blocked), seed
        if not found.exact:
            given_up += 1
            best = all_minimal_sets(drawing, terminals(item), cost, found.blocked)
            assert found.cuts[0].cost >= best[0][0], seed
    assert given_up > 20


def test_a_transfer_switch_never_joins_its_supplies():
    """The zone stands at one supply of a transfer switch: the generator at the other one does not reach it. (Physics: one
    position at a time.)"""
    d = Drawing()
    for kind, item in (("service", "s"), ("generator", "g"), ("bus", "zone"), ("bus", "load")):
        d = put(d, kind, item)
    d = put(put(d, "disconnect", "main"), "transfer", "ats", automatic=True)
    for a, b in (
        ("s.out", "main.line"), ("main.load", "zone.bus"), ("zone.bus", "ats.normal"), ("g.out", "ats.alternate"),
        ("ats.load", "load.bus"),
    ):  # fmt: skip
        d = join(d, a, b)
    net = build_network(d)
    found = find_cuts(net, {net.node("zone")}, sources_of(net), {"main": 1})
    assert [c.items for c in found.cuts] == [("main",)]
    assert found.blocked == ()
    at_load = find_cuts(net, {net.node("load")}, sources_of(net), {"main": 1})
    assert at_load.blocked == ("g",)
    off = find_cuts(net, {net.node("load")}, sources_of(net), {"main": 1, "ats": 1})
    assert [c.items for c in off.cuts] == [("ats",)]


def test_costs_below_one_are_refused():
    d = put(put(Drawing(), "bus", "b"), "disconnect", "d")
    net = build_network(d)
    with pytest.raises(ValueError, match="1 or more"):
        find_cuts(net, {0}, {}, {"d": 0})


def test_minimum_cut_nearest_to_the_sink():
    """Two devices in series of equal cost: the one at the sink. A cut that costs too much is none."""
    flow = MinCut(4, [(0, 1), (1, 2), (2, 3)])
    assert flow.cut([5, 5, 9], 0, 3, 100) == (5, [False, False, True, True], [5, 5, 5])
    assert flow.cut([5, 5, 9], 0, 3, 5) is None
    assert flow.cut([0, 5, 9], 0, 3, 5) == (0, [False, True, True, True], [0, 0, 0])
