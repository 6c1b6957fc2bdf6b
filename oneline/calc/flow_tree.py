"""A radial forest as arrays: sums up a subtree and down a path without loops over nodes.

Order of the arrays: nodes of one voltage zone (between two transformers) lie together, in pre-order inside the zone, and
zones lie in the order of their depth. A subtree inside its zone is then a slice, so that a sum over it is a difference
of two cumulative sums; a sum along the path from the zone's first node is the cumulative sum up to the node less the
values of the subtrees that ended before it. Both stay exact to rounding for chains of any depth.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

IntArray = NDArray[np.intp]
Array = NDArray[Any]
#: Share of a sum of many values below which what is left of it is rounding.
_ROUNDING = 1e-13


@dataclass(frozen=True)
class Tree:
    """A forest of ``n`` nodes in ``m`` zones.

    ``order`` (n,): place in the given pre-order of each node of these arrays. ``end`` (n,): position after the last node
    of the node's subtree within its zone. ``zone`` (n,): zone of each node. ``first`` (m + 1,): position of the first
    node of each zone, and n. ``above`` (m,): the node, in the parent zone, that feeds the zone's transformer; -1 for a
    zone that has a source. ``levels``: slices of zones of equal depth, from the sources down. ``leaving`` (n,): nodes by
    the end of their subtrees; ``left`` (n,): how many subtrees end before each node.
    """

    order: IntArray
    end: IntArray
    zone: IntArray
    first: IntArray
    above: IntArray
    levels: tuple[slice, ...]
    leaving: IntArray
    left: IntArray

    @property
    def size(self) -> int:
        return len(self.order)

    def sum_up(self, values: Array, nodes: slice | None = None) -> Array:
        """Sum of ``values`` (n, ...) over each node's subtree within its zone; for ``nodes`` (whole zones) only."""
        if nodes is None:
            total = np.zeros((self.size + 1, *values.shape[1:]), values.dtype)
            np.cumsum(values, axis=0, out=total[1:])
            found = total[self.end]
            found -= total[:-1]
            return np.asarray(found)
        part, start = nodes, nodes.start
        total = np.zeros((part.stop - start + 1, *values.shape[1:]), values.dtype)
        np.cumsum(values[part], axis=0, out=total[1:])
        here = np.arange(part.stop - start)
        return total[self.end[part] - start] - total[here]

    def sum_down(self, values: Array) -> Array:
        """Sum of ``values`` (n, ...) over the path from the first node of the zone to each node, both included."""
        gone = np.zeros((self.size + 1, *values.shape[1:]), values.dtype)
        np.cumsum(values[self.leaving], axis=0, out=gone[1:])
        found = np.cumsum(values, axis=0)
        found -= gone[self.left]
        # Rounding of the sums leaves a little where nothing is: taken for an impedance it would give a huge current.
        if values.dtype.kind in "fc":
            found[np.abs(found) <= _ROUNDING * np.cumsum(np.abs(values), axis=0)] = 0
        return np.asarray(found)


def make_tree(last: IntArray, zone: IntArray, above: IntArray, depth: IntArray) -> Tree:
    """Arrange a forest given in pre-order.

    ``last`` (n,): position after the last node of each subtree. ``zone`` (n,): zone of each node. ``above`` (m,): for
    each zone the node, by its place in the pre-order, ahead of its transformer, or -1. ``depth`` (m,): transformers
    passed from the source. Zone numbers must not fall when sorted by depth. Raises ``ValueError`` otherwise.
    """
    n, m = len(last), len(above)
    if np.any(np.diff(depth) < 0):
        raise ValueError("zones must be numbered from the sources down")
    if m == 1:  # one zone: the order given is that of the tree
        place = order = np.arange(n)
        sorted_zone, end, first = zone, last, np.array([0, n])
    else:
        order = np.argsort(zone, kind="stable")
        sorted_zone = zone[order]
        # One key for zone and place: the end of a subtree inside its zone is a search in it.
        key = sorted_zone * (n + 1) + order
        end = np.searchsorted(key, sorted_zone * (n + 1) + last[order])
        first = np.searchsorted(sorted_zone, np.arange(m + 1))
        place = np.empty(n, np.intp)
        place[order] = np.arange(n)
    edges = np.searchsorted(depth, np.arange(int(depth[-1]) + 2 if m else 1))
    levels = tuple(slice(int(edges[k]), int(edges[k + 1])) for k in range(len(edges) - 1))
    moved = np.where(above >= 0, place[above], -1) if n else above
    leaving = np.argsort(end, kind="stable")
    left = np.searchsorted(end[leaving], np.arange(n), side="right")
    return Tree(order, end, sorted_zone, first, moved, levels, leaving, left)
