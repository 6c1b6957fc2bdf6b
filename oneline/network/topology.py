"""From a drawing (already reduced to a view) to electrical nodes and branches.

Joints merge terminals into one node. Every two-ended item is a branch. A transfer switch is two branches. A suspected
tie to an unknown place is a branch with one node.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from oneline.model import (
    SOURCE_KINDS,
    ConductorRun,
    Connection,
    Disconnect,
    Drawing,
    End,
    Item,
    Joint,
    SuspectedTie,
    TransferSwitch,
)
from oneline.model.quick import quick


@quick
@dataclass(frozen=True)
class Branch:
    """A two-ended element between node ``a`` and node ``b`` (``b`` is -1 for a tie to an unknown place).

    ``normally_closed``: position in normal operation, the basis of loads, ratings and fault currents.
    ``closed``: present position, the basis of what is live. ``possibly_closed`` is true where a connection may be
    closed although nobody can say: suspected ties, and either side of a transfer switch that is automatic or not known to
    be moved by hand only. The live state counts it as closed, of a transfer switch one side at a time.
    """

    key: str
    item: Item
    a: int
    b: int
    a_end: End
    b_end: End | None
    normally_closed: bool
    closed: bool
    possibly_closed: bool

    def other(self, node: int) -> int:
        return self.b if node == self.a else self.a


@dataclass(frozen=True)
class Network:
    """Nodes are 0 .. ``node_count`` - 1, numbered in the drawing's order; the same drawing gives the same numbers."""

    drawing: Drawing
    node_count: int
    node_of: Mapping[End, int]
    branches: Mapping[str, Branch]
    #: Branch keys at each node, in drawing order.
    at_node: tuple[tuple[str, ...], ...]
    #: Terminals merged into each node.
    ends_of: tuple[tuple[End, ...], ...]
    #: Source item id -> its node, in drawing order.
    sources: Mapping[str, int]
    _by_item: Mapping[str, tuple[str, ...]] = field(repr=False, default_factory=dict)
    #: Node of the first terminal of an item.
    _first: Mapping[str, int] = field(repr=False, default_factory=dict)

    def node(self, item_id: str, terminal: str | None = None) -> int:
        """Node of an item's terminal (its first one by default). For a run or tie: "a" or "b"."""
        if terminal is None and item_id in self._first:
            return self._first[item_id]
        item = self.drawing.get(item_id)
        if isinstance(item, Connection):
            end = item.b if terminal == "b" else item.a
            return -1 if end is None else self.node_of[end]
        return self.node_of[End(item_id, terminal or item.terminals[0])]

    def branches_of(self, item_id: str) -> tuple[str, ...]:
        """Keys of the branches an item makes: one, two for a transfer switch, none for a bus, load or source."""
        return self._by_item.get(item_id, ())


def build_network(drawing: Drawing) -> Network:
    """Nodes and branches of a drawing. Connections with an end that is not in the drawing are left out."""
    ends: list[End] = []
    index: dict[str, dict[str, int]] = {}
    for item in drawing.items.values():
        if item.terminals:
            index[item.id] = {terminal: len(ends) + k for k, terminal in enumerate(item.terminals)}
            ends.extend([End(item.id, terminal) for terminal in item.terminals])
    # Union-find over terminal numbers; the smaller number stays on top, so the drawing's order decides.
    parent = list(range(len(ends)))

    def find(number: int) -> int:
        while parent[number] != number:
            parent[number] = number = parent[parent[number]]
        return number

    for joint in drawing.of(Joint):
        a, b = (index.get(e.item, {}).get(e.terminal) for e in (joint.a, joint.b))
        if a is not None and b is not None:
            a, b = sorted((find(a), find(b)))
            parent[b] = a

    numbers: dict[int, int] = {}
    node_of: dict[End, int] = {}
    members: list[list[End]] = []
    for number, end in enumerate(ends):
        root = find(number)
        if root not in numbers:
            numbers[root] = len(members)
            members.append([])
        node_of[end] = numbers[root]
        members[numbers[root]].append(end)

    branches: dict[str, Branch] = {}
    by_item: dict[str, tuple[str, ...]] = {}
    for item in drawing.items.values():
        made = _branches(item, node_of)
        if made:
            by_item[item.id] = tuple(b.key for b in made)
            branches.update((b.key, b) for b in made)

    at_node: list[list[str]] = [[] for _ in members]
    for key, branch in branches.items():
        at_node[branch.a].append(key)
        if branch.b >= 0 and branch.b != branch.a:
            at_node[branch.b].append(key)
    sources = {item.id: node_of[End(item.id, "out")] for item in drawing.items.values() if item.kind in SOURCE_KINDS}
    return Network(
        drawing=drawing,
        node_count=len(members),
        node_of=node_of,
        branches=branches,
        at_node=tuple(tuple(keys) for keys in at_node),
        ends_of=tuple(tuple(ends) for ends in members),
        sources=sources,
        _by_item=by_item,
        _first={end.item: numbers[find(n)] for n, end in reversed(list(enumerate(ends)))},
    )


def _branches(item: Item, node_of: Mapping[End, int]) -> list[Branch]:
    if isinstance(item, ConductorRun | SuspectedTie):
        if item.a not in node_of or (item.b is not None and item.b not in node_of):
            return []
        tie = isinstance(item, SuspectedTie)
        b = -1 if item.b is None else node_of[item.b]
        return [Branch(item.id, item, node_of[item.a], b, item.a, item.b, not tie, not tie, True)]
    if isinstance(item, TransferSwitch):
        load, may_move = End(item.id, "load"), item.automatic is not False
        return [
            Branch(
                f"{item.id}/{side}", item, node_of[End(item.id, side)], node_of[load], End(item.id, side), load,
                side == "normal", item.position == side, may_move or item.position == side,
            )
            for side in ("normal", "alternate")
        ]  # fmt: skip
    if len(item.terminals) == 2:
        line, load_end = (End(item.id, t) for t in item.terminals)
        closed = item.closed if isinstance(item, Disconnect) else True
        normally = not item.normally_open if isinstance(item, Disconnect) else True
        return [Branch(item.id, item, node_of[line], node_of[load_end], line, load_end, normally, closed, closed)]
    return []
