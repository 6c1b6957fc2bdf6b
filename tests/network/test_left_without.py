"""What loses its last source when one device opens, and what other places of energy reach: against live states worked out
one by one with the oracle of tests/oracles/switching.py."""

from __future__ import annotations

import random

from switching import Joined, energy_places, random_supply

from oneline.model import TransferSwitch
from oneline.network import build_network
from oneline.network.live import live_state, possible_state


def fed(drawing, opened, stand, without=()):
    """Terminals of the buses that a source reaches through what is closed, suspected ties counted as open."""
    drawing = drawing.with_items(removed=[i for i, x in drawing.items.items() if x.kind == "tie"])
    joined = Joined(drawing, opened, stand)
    tops = {joined.top(t) for source, t in energy_places(drawing).items() if source not in without}
    return {i.id for i in drawing.items.values() if i.kind == "bus" and joined.top((i.id, "bus")) in tops}


def test_things_that_lose_their_last_source():
    lost_somewhere = 0
    for seed in range(200):
        rng = random.Random(610_000 + seed)
        drawing = random_supply(rng, rng.randint(2, 9), 9)
        net = build_network(drawing)
        weight = [0] * net.node_count
        things = [i.id for i in drawing.items.values() if i.kind == "bus"]
        for thing in things:
            weight[net.node(thing)] += 1
        besides = {source for source in net.sources if rng.random() < 0.3}
        lost = live_state(net).lost(weight, besides)
        stand = {s.id: s.position for s in drawing.of(TransferSwitch)}
        opened = {d.id for d in drawing.items.values() if d.kind == "disconnect" and not d.closed}
        before = fed(drawing, opened, stand, besides)
        for key, branch in net.branches.items():
            item = branch.item
            if item.kind == "disconnect" and item.closed:
                after = fed(drawing, {*opened, item.id}, stand, besides)
            elif item.kind == "transfer" and branch.closed:
                after = fed(drawing, opened, {**stand, item.id: "off"}, besides)
            elif item.kind in ("disconnect", "transfer"):
                after = before
            else:
                continue
            assert lost.get(key, 0) == len(before - after), (seed, key)
            lost_somewhere += bool(before - after)
    assert lost_somewhere > 50


def test_possible_state_with_the_drawings_own_sources():
    """With the sources and the ties to unknown places named, the answer is that of the live state."""
    for seed in range(80):
        rng = random.Random(620_000 + seed)
        net = build_network(random_supply(rng, 8, 9))
        places = {source: (node,) for source, node in net.sources.items()}
        places |= {key: (b.a,) for key, b in net.branches.items() if b.b < 0}
        assert possible_state(net, places) == live_state(net).possibly_at_node
        keys = [k for k in net.branches if net.branches[k].item.kind in ("disconnect", "transfer")]
        moved = {k: False for k in keys if rng.random() < 0.3}
        assert possible_state(net, places, moved) == live_state(net, moved).possibly_at_node
        # A place that is no source of the drawing reaches what hangs together with it.
        node = rng.randrange(net.node_count)
        assert "here" in possible_state(net, {"here": (node,)}, moved)[node]
