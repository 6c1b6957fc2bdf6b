"""Energized state against brute force over every switch position, with networkx as the independent oracle.

The oracle knows nothing of our nodes and branches: it reads the drawing item by item into a graph of terminals and asks
networkx which terminals hang together.
"""

from __future__ import annotations

import itertools
import random

import networkx as nx
import pytest

from oneline.model import Connection, Disconnect, Drawing, SuspectedTie, TransferSwitch
from oneline.model.edits import change
from oneline.network import build_network
from oneline.network.live import live_state, stays_live

SOURCES = ("service", "generator", "solar", "battery")


def contacts(drawing: Drawing) -> list[str]:
    """Names of all contacts: a disconnect has one, a transfer switch two."""
    found = []
    for item in drawing.items.values():
        if isinstance(item, Disconnect):
            found.append(item.id)
        elif isinstance(item, TransferSwitch):
            found += [f"{item.id}/normal", f"{item.id}/alternate"]
    return found


def terminal_graph(drawing: Drawing, closed: dict[str, bool], ties_closed: bool) -> nx.MultiGraph:
    """Terminals joined by everything that conducts."""
    graph = nx.MultiGraph()
    for item in drawing.items.values():
        for terminal in item.terminals:
            graph.add_node((item.id, terminal))
    for item in drawing.items.values():
        if isinstance(item, SuspectedTie):
            if ties_closed:
                b = (item.b.item, item.b.terminal) if item.b else ("beyond", item.id)
                graph.add_edge((item.a.item, item.a.terminal), b, key=item.id)
        elif isinstance(item, Connection):
            graph.add_edge((item.a.item, item.a.terminal), (item.b.item, item.b.terminal), key=item.id)
        elif isinstance(item, TransferSwitch):
            for side in ("normal", "alternate"):
                if closed[f"{item.id}/{side}"]:
                    graph.add_edge((item.id, side), (item.id, "load"), key=f"{item.id}/{side}")
        elif len(item.terminals) == 2 and closed.get(item.id, True):
            graph.add_edge(*((item.id, t) for t in item.terminals), key=item.id)
    return graph


def sources_by_terminal(drawing: Drawing, graph: nx.MultiGraph) -> dict[tuple[str, str], frozenset[str]]:
    found: dict[tuple[str, str], frozenset[str]] = {}
    for piece in nx.connected_components(graph):
        feeding = frozenset(
            [i for i, _ in piece if i in drawing and drawing.get(i).kind in SOURCES]
            + [tie for i, tie in piece if i == "beyond"]
        )
        found.update(dict.fromkeys(piece, feeding))
    return found


def transfer_positions(drawing: Drawing, held: frozenset[str] = frozenset()):
    """Every way the transfer switches may stand: moved by hand or held, as they are; else where they are or in either
    position. Physics: a transfer switch is never in both positions."""
    switches = [i for i in drawing.items.values() if isinstance(i, TransferSwitch) and i.id not in held]
    choices = [
        (s.position,) if s.automatic is False else dict.fromkeys((s.position, "normal", "alternate")) for s in switches
    ]
    for chosen in itertools.product(*choices):
        yield {
            f"{s.id}/{side}": position == side
            for s, position in zip(switches, chosen, strict=True) for side in ("normal", "alternate")
        }  # fmt: skip


def possible_sources(
    drawing: Drawing, closed: dict[str, bool], held: frozenset[str] = frozenset(), without: tuple[str, ...] = ()
) -> dict[tuple[str, str], frozenset[str]]:
    """Union over every way the transfer switches may stand, with suspected ties closed and some branches taken out."""
    found: dict[tuple[str, str], frozenset[str]] = {}
    for stand in transfer_positions(drawing, held):
        graph = terminal_graph(drawing, {**closed, **stand}, True)
        graph.remove_edges_from([(u, v, k) for u, v, k in graph.edges(keys=True) if k in without])
        for terminal, sources in sources_by_terminal(drawing, graph).items():
            found[terminal] = found.get(terminal, frozenset()) | sources
    return found


def with_automatic(drawing: Drawing, rng: random.Random) -> Drawing:
    """The same drawing with some transfer switches automatic, some manual and some not known."""
    for item in list(drawing.items.values()):
        if isinstance(item, TransferSwitch):
            drawing = change(drawing, item.id, automatic=rng.choice((True, False, None)))
    return drawing


@pytest.mark.parametrize("block", range(4))
def test_transfer_switches_may_stand_in_either_position(draw, block):
    """Possible sources at every terminal, and after each device is opened, against every position of every switch."""
    looked_at = further = 0
    for number in range(60):
        seed = 20_000 + block * 1000 + number
        rng = random.Random(seed)
        drawing = with_automatic(draw.random(rng, rng.randint(2, 12), rng.randint(1, 7)), rng)
        net = build_network(drawing)
        closed = {i.id: rng.random() < 0.7 for i in drawing.items.values() if isinstance(i, Disconnect)}
        state = live_state(net, closed)
        theirs = possible_sources(drawing, closed)
        for end, node in net.node_of.items():
            assert state.possibly_at_node[node] == theirs[end.item, end.terminal], (seed, end)
            further += state.possibly_at_node[node] != state.at_node[node]
        for item in drawing.items.values():
            keys = net.branches_of(item.id)
            if not keys:
                continue
            opened = state.when_opened(item.id)
            after = possible_sources(drawing, {**closed, **dict.fromkeys(keys, False)}, frozenset((item.id,)), keys)
            for terminal, sources in opened.possibly.items():
                end = (item.id, terminal)
                if isinstance(item, Connection):
                    at = item.a if terminal == "a" else item.b
                    end = (at.item, at.terminal)
                assert sources == after[end], (seed, item.id, terminal)
                looked_at += 1
            for end, node in net.node_of.items():
                assert state.possibly_when_opened(item.id, node) == after[end.item, end.terminal], (seed, item.id)
    assert looked_at > 1000
    assert further > 100


def all_positions(names: list[str]):
    for bits in itertools.product((False, True), repeat=len(names)):
        yield dict(zip(names, bits, strict=True))


@pytest.mark.parametrize("block", range(8))
def test_every_position_of_random_networks(draw, block):
    """320 networks, up to 10 contacts each, every combination of positions: no difference at any terminal."""
    checked = 0
    for number in range(40):
        seed = block * 1000 + number
        rng = random.Random(seed)
        contacts_wanted = rng.randint(1, 10) if number % 2 == 0 else rng.randint(1, 6)
        drawing = draw.random(rng, contacts_wanted, rng.randint(1, 7))
        net = build_network(drawing)
        for closed in all_positions(contacts(drawing)):
            state = live_state(net, closed)
            for ties, ours in ((False, state.at_node), (True, state.possibly_at_node)):
                theirs = sources_by_terminal(drawing, terminal_graph(drawing, closed, ties))
                wrong = {
                    t: (sorted(theirs[t]), sorted(ours[net.node_of[end]]))
                    for end in net.node_of
                    if theirs[t := (end.item, end.terminal)] != ours[net.node_of[end]]
                }
                assert not wrong, (seed, closed, ties, wrong)
                checked += len(theirs)
    assert checked > 10_000


def test_present_positions_are_the_default(draw):
    for seed in range(60):
        drawing = draw.random(random.Random(seed), 6, 5)
        net = build_network(drawing)
        closed = {}
        for item in drawing.items.values():
            if isinstance(item, Disconnect):
                closed[item.id] = item.closed
            elif isinstance(item, TransferSwitch):
                closed |= {f"{item.id}/{side}": item.position == side for side in ("normal", "alternate")}
        theirs = sources_by_terminal(drawing, terminal_graph(drawing, closed, False))
        state = live_state(net)
        assert {(e.item, e.terminal): state.at_node[n] for e, n in net.node_of.items()} == {
            t: s for t, s in theirs.items() if t[0] != "beyond"
        }


def test_what_stays_live_when_one_device_opens(draw):
    """For every device of 200 networks: the terminals' sources after its contacts are taken out of the oracle's graph."""
    looked_at = parted = 0
    for seed in range(200):
        rng = random.Random(9000 + seed)
        drawing = draw.random(rng, rng.randint(1, 8), rng.randint(1, 6))
        net = build_network(drawing)
        positions = {name: rng.random() < 0.75 for name in contacts(drawing)}
        state = live_state(net, positions)
        for item in drawing.items.values():
            if not net.branches_of(item.id):
                continue
            opened = state.when_opened(item.id)
            for ties, ours in ((False, opened.sides), (True, opened.possibly)):
                graph = terminal_graph(drawing, positions, ties)
                keys = net.branches_of(item.id)
                graph.remove_edges_from([(u, v, k) for u, v, k in graph.edges(keys=True) if k in keys])
                theirs = sources_by_terminal(drawing, graph)
                if isinstance(item, Connection):
                    ends = {"a": item.a, **({"b": item.b} if item.b else {})}
                    expected = {name: theirs[(end.item, end.terminal)] for name, end in ends.items()}
                else:
                    expected = {t: theirs[(item.id, t)] for t in item.terminals}
                assert dict(ours) == expected, (seed, item.id, ties)
                looked_at += 1
            parted += opened.changes
            assert stays_live(net, item.id, positions) == opened
    assert looked_at > 2000
    assert parted > 100


def test_opening_never_energizes_and_closing_never_deenergizes(draw):
    """Physics: more closed contacts can only add sources, at every node."""
    for seed in range(150):
        rng = random.Random(5000 + seed)
        drawing = draw.random(rng, rng.randint(1, 9), rng.randint(1, 7))
        net = build_network(drawing)
        names = contacts(drawing)
        before = {name: rng.random() < 0.5 for name in names}
        for name in names:
            if before[name]:
                continue
            less, more = live_state(net, before), live_state(net, {**before, name: True})
            for a, b in ((less.at_node, more.at_node), (less.possibly_at_node, more.possibly_at_node)):
                assert all(x <= y for x, y in zip(a, b, strict=True))
            assert all(x <= y for x, y in zip(less.at_node, less.possibly_at_node, strict=True))


def test_paths_lead_from_the_source_through_closed_branches(draw):
    """A path is a chain of closed branches, as short as networkx finds, and exists exactly where the source reaches."""
    for seed in range(60):
        rng = random.Random(7000 + seed)
        drawing = draw.random(rng, rng.randint(1, 8), rng.randint(1, 6))
        net = build_network(drawing)
        state = live_state(net)
        graph = nx.MultiGraph()
        graph.add_nodes_from(range(net.node_count))
        graph.add_edges_from((b.a, b.b, k) for k, b in net.branches.items() if b.b >= 0 and b.closed)
        for source, start in net.sources.items():
            for node in range(net.node_count):
                path = state.path(source, node)
                if source not in state.possibly_at_node[node]:
                    assert path is None
                    continue
                assert path is not None
                at = start
                for key in path:
                    assert at in (net.branches[key].a, net.branches[key].b)
                    assert net.branches[key].possibly_closed
                    at = net.branches[key].other(at)
                assert at == node
                if source in state.at_node[node]:
                    assert len(path) == nx.shortest_path_length(graph, start, node)
