"""What the load at every node takes from the network: how sums run over it, where feeds divide, what bases lie below."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable

import numpy as np

from oneline.model.vocabulary import BASES
from oneline.network import Feeding
from oneline.study.context import Context
from oneline.study.load_sums import Floats, Summer, connections_tried, make_zones
from oneline.study.loads import LoadEntry


def summers(ctx: Context) -> list[Summer]:
    """Sums over the forest, one for each set of connections that transformers may have. They follow from the network alone,
    so a context keeps them through its edits."""
    found: list[Summer] | None = ctx.__dict__.get("_summers")
    if found is None:
        zones = make_zones(ctx.feeding)
        found = [Summer(ctx.feeding, zones, kinds) for kinds in connections_tried(ctx.feeding)]
        ctx.__dict__["_summers"] = found
    return found


def ranks_below(feeding: Feeding, entries: tuple[LoadEntry, ...]) -> Floats:
    """Number of loads below each position by rank of basis."""
    n = len(feeding.order)
    own = np.zeros((n + 1, len(BASES)))
    for entry in entries:
        at = feeding.position[entry.node]
        if at >= 0 and (entry.va is not None or entry.most_va is not None):
            own[at + 1, BASES.index(entry.basis)] += 1
    running = np.cumsum(own, axis=0)
    last = np.fromiter((feeding.last[node] for node in feeding.order), dtype=np.int64, count=n)
    return np.asarray(running[last] - running[:-1])


def split_nodes(feeding: Feeding) -> frozenset[int]:
    """Nodes whose feed carries a share of a loop: with just one end of a closed loop branch below them."""
    found: set[int] = set()
    for key in feeding.loop_branches:
        branch = feeding.network.branches[key]
        chains = []
        for node in (branch.a, branch.b):
            chain = [node]
            while feeding.parent[chain[-1]] >= 0:
                chain.append(feeding.parent[chain[-1]])
            chains.append(chain)
        found.update(set(chains[0]) ^ set(chains[1]))
    return frozenset(found)


def whole_nodes(feeding: Feeding, split: frozenset[int], loaded: Iterable[int]) -> dict[int, bool]:
    """Nodes of ``split`` whose own load is known all the same: nothing on the ways that the loop brings to them from below
    carries load. ``True`` where that is all that they carry, however it divides between the ways; ``False`` where load
    elsewhere on the loop may pass through them beside it.

    ``loaded``: positions of the nodes with loads.
    """
    places = sorted(loaded)

    def loads(node: int) -> int:
        at, last = feeding.position[node], feeding.last[node]
        return bisect_left(places, last) - bisect_left(places, at)

    found = dict.fromkeys(split, True)
    for key in feeding.loop_branches:
        branch = feeding.network.branches[key]
        chains = [[end, *(up for _, up in feeding.path(end))] for end in (branch.a, branch.b)]
        common = set(chains[0]) & set(chains[1])
        ways = [[n for n in chain if n not in common] for chain in chains]
        on_loop = sum(loads(way[-1]) for way in ways if way)
        for way in ways:
            for below, node in zip((None, *way), way, strict=False):
                if below is not None and loads(below):
                    found.pop(node, None)
                elif node in found and loads(node) < on_loop:
                    found[node] = False
    return found
