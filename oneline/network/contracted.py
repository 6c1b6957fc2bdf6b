"""The live state for many positions of the same network, quickly: what no position parts is one node.

Conductors, transformers and whatever else has no contacts always connect their two ends. Put together they leave one
small network of devices, ties and transfer switches; each state is found on that and read back for every node.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import replace

from oneline.model import Disconnect, SuspectedTie, TransferSwitch
from oneline.network.live import LiveState, live_state, possible_state
from oneline.network.topology import Network


def has_positions(item: object) -> bool:
    """Whether an item may be open or closed (a tie that nobody traced included)."""
    return isinstance(item, Disconnect | TransferSwitch | SuspectedTie)


class LiveFinder:
    """Live states of one network for any positions of its devices; the same answers as ``live.live_state``.

    ``unknown``: {name: nodes} of places at which energy may come in although no source is drawn there, besides ties to
    unknown places; their names appear among what is possibly live.
    """

    def __init__(self, net: Network, unknown: Mapping[str, Collection[int]] | None = None) -> None:
        self.net = net
        leader = list(range(net.node_count))

        def lead(node: int) -> int:
            while leader[node] != node:
                leader[node] = node = leader[leader[node]]
            return node

        for branch in net.branches.values():
            if branch.b >= 0 and not has_positions(branch.item):
                low, high = sorted((lead(branch.a), lead(branch.b)))
                leader[high] = low
        numbers: dict[int, int] = {}
        self._of = [numbers.setdefault(lead(node), len(numbers)) for node in range(net.node_count)]
        branches = {
            key: replace(b, a=self._of[b.a], b=self._of[b.b] if b.b >= 0 else -1)
            for key, b in net.branches.items()
            if has_positions(b.item)
        }
        self._small = replace(
            net, node_count=len(numbers), branches=branches,
            sources={source: self._of[node] for source, node in net.sources.items()},
        )  # fmt: skip

        self._whole: dict[str, tuple[int, ...]] = {}
        if unknown:
            self._whole = {source: (node,) for source, node in net.sources.items()}
            self._whole |= {key: (b.a,) for key, b in net.branches.items() if b.b < 0}
            self._whole |= {name: tuple(nodes) for name, nodes in unknown.items()}
        self._origins = {name: {self._of[n] for n in nodes} for name, nodes in self._whole.items()}

    def state(self, positions: Mapping[str, bool] | None = None) -> LiveState:
        """Sources at every node with some positions changed; arguments and errors as of ``live.live_state``."""
        moved = dict(positions or {})
        if any(key in self.net.branches and key not in self._small.branches for key in moved):
            # A conductor is taken out: nothing is one node any more.
            whole = live_state(self.net, moved)
            possible = possible_state(self.net, self._whole, moved) if self._whole else whole.possibly_at_node
            return LiveState(self.net, whole.at_node, possible, moved)
        small = live_state(self._small, moved)
        of = self._of
        certain = tuple([small.at_node[n] for n in of])
        possible = small.possibly_at_node
        if self._origins:
            possible = possible_state(self._small, self._origins, moved)
        same = possible is small.at_node
        return LiveState(self.net, certain, certain if same else tuple([possible[n] for n in of]), moved)
