"""Sums over subtrees and paths against plain walks over the tree."""

from __future__ import annotations

import random

import numpy as np
import pytest

from oneline.calc.flow_tree import make_tree


def random_forest(rng: random.Random, n: int, zone_chance: float) -> tuple[list[int], list[int], list[int]]:
    """Parents in pre-order (-1: a source), the zone of each node (any numbering), and the end of each subtree."""
    parent, zone, path = [], [], []
    zones = 0
    for i in range(n):
        while path and rng.random() < 0.4:
            path.pop()
        up = path[-1] if path else -1
        parent.append(up)
        if up < 0 or rng.random() < zone_chance:
            zone.append(zones)
            zones += 1
        else:
            zone.append(zone[up])
        path.append(i)
    last = [0] * n
    for i in reversed(range(n)):
        last[i] = max(last[i], i + 1)
        if parent[i] >= 0:
            last[parent[i]] = max(last[parent[i]], last[i])
    return parent, zone, last


def arrange(parent: list[int], zone: list[int], last: list[int]):
    """The tree with zones renumbered by depth, and its (parent, zone) in the tree's own order."""
    count = max(zone) + 1
    head = [zone.index(k) for k in range(count)]
    above = [parent[h] for h in head]
    depth = [0] * count
    for k in range(count):
        node = above[k]
        while node >= 0:
            depth[k] += 1
            node = above[zone[node]]
    rank = sorted(range(count), key=lambda k: (depth[k], k))
    number = {old: new for new, old in enumerate(rank)}
    tree = make_tree(
        np.array(last), np.array([number[z] for z in zone]), np.array([above[k] for k in rank]),
        np.array([depth[k] for k in rank]),
    )  # fmt: skip
    return tree, number


@pytest.mark.parametrize("seed", range(40))
def test_sums_are_those_of_a_walk(seed):
    rng = random.Random(seed)
    n = rng.randint(1, 120)
    parent, zone, last = random_forest(rng, n, rng.choice((0, 0.1, 0.5)))
    tree, number = arrange(parent, zone, last)
    assert sorted(tree.order) == list(range(n))
    values = np.array([[complex(rng.random(), rng.random()), 1] for _ in range(n)])  # by pre-order
    up, down = tree.sum_up(values[tree.order]), tree.sum_down(values[tree.order])
    for place, node in enumerate(tree.order):
        assert tree.zone[place] == number[zone[node]]
        path, walk = [node], parent[node]
        while walk >= 0 and zone[walk] == zone[node]:
            path.append(walk)
            walk = parent[walk]
        assert np.allclose(down[place], values[path].sum(axis=0))
        below = []
        for other in range(n):
            walk = other
            while walk >= 0 and zone[walk] == zone[node] and walk != node:
                walk = parent[walk]
            if walk == node and zone[other] == zone[node]:
                below.append(other)
        assert np.allclose(up[place], values[below].sum(axis=0))
    for k, up_node in enumerate(tree.above):
        old = next(o for o, new in number.items() if new == k)
        above = parent[zone.index(old)]
        assert (up_node < 0) == (above < 0)
        if above >= 0:
            assert tree.order[up_node] == above


def test_sums_stay_exact_on_a_chain_of_ten_thousand():
    """A deep chain: sum of 1..k is k (k + 1) / 2."""
    n = 10_000
    tree = make_tree(np.full(n, n), np.zeros(n, int), np.array([-1]), np.array([0]))
    values = np.arange(1.0, n + 1)
    assert np.array_equal(tree.sum_down(values), values * (values + 1) / 2)
    assert tree.sum_up(values)[0] == n * (n + 1) / 2
    assert tree.sum_up(values)[-1] == n


def test_a_forest_of_nothing():
    tree = make_tree(np.zeros(0, int), np.zeros(0, int), np.zeros(0, int), np.zeros(0, int))
    assert tree.size == 0
    assert tree.levels == ()
    assert tree.sum_up(np.zeros((0, 3))).shape == (0, 3)
    assert tree.sum_down(np.zeros((0, 3))).shape == (0, 3)


def test_zones_out_of_order_are_refused():
    with pytest.raises(ValueError, match="from the sources down"):
        make_tree(np.array([2, 2]), np.array([1, 0]), np.array([1, -1]), np.array([1, 0]))
