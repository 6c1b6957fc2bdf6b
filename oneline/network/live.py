"""What is energized from where, for the present or any other switch positions.

Physics: a source energizes everything that is connected to it through closed contacts, in both directions and through
transformers both ways. So all terminals of one connected piece share the same sources. Solar arrays and batteries count
as able to feed. A suspected tie counts as possibly closed; a tie to an unknown place is a possible source of its own. A
transfer switch that may move by itself possibly stands in its other position; it never joins its two supplies.

A computed state never proves that anything is dead: only a test at the point of work does.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

from oneline.model import Connection, Disconnect, TransferSwitch
from oneline.model.quick import quick
from oneline.network.topology import Branch, Network
from oneline.network.transfer import Links, Movable, links_between, movable, reached, standing

Sources = frozenset[str]
_NONE: Sources = frozenset()


@quick
@dataclass(frozen=True)
class Opened:
    """What stays live after one device was opened.

    ``sides``: for each terminal of the device the sources that still reach it. ``possibly``: the same, with suspected
    ties counted as closed, ties to unknown places as sources (by the tie's id), and transfer switches that may move in
    either position. ``changes``: whether opening it
    takes at least one terminal's last certain source away.
    """

    item: str
    sides: Mapping[str, Sources]
    possibly: Mapping[str, Sources]
    changes: bool

    @property
    def live(self) -> tuple[str, ...]:
        """Terminals that certainly stay live."""
        return tuple(t for t, s in self.sides.items() if s)

    @property
    def possibly_live(self) -> tuple[str, ...]:
        """Terminals that stay live or possibly do."""
        return tuple(t for t, s in self.possibly.items() if s)


@dataclass(frozen=True)
class _Piece:
    """Connected pieces of one reading of the positions, with what each branch would part if it were opened.

    ``mask``: sources of each node's piece as a bit mask. ``below``: for each closed branch that is a bridge, the first
    and the last node of its far side in the order ``entered``, and the sources there. Closed branches that are no bridge
    part nothing. ``of``: the first node of each node's piece. Switches that may move connect no pieces here.
    """

    of: list[int]
    mask: list[int]
    entered: list[int]
    below: dict[str, tuple[int, int, int]]


@dataclass(frozen=True)
class LiveState:
    """Sources at every node. ``at_node``: certain, by the positions given. ``possibly_at_node``: the same plus whatever
    suspected ties and transfer switches that may move can bring; the unknown source behind a tie to an unknown place
    appears under the tie's id."""

    net: Network
    at_node: tuple[Sources, ...]
    possibly_at_node: tuple[Sources, ...]
    positions: Mapping[str, bool] = field(default_factory=dict)

    def closed(self, key: str) -> bool:
        """Position of a branch in this state; a suspected tie counts as open here."""
        return self.positions.get(key, self.net.branches[key].closed)

    def possibly_closed(self, key: str) -> bool:
        """Position of a branch in this state; a suspected tie counts as closed here, and so does each side of a transfer
        switch that may move."""
        branch = self.net.branches[key]
        if isinstance(branch.item, TransferSwitch) and branch.item.id not in self._movable:
            return self.closed(key)
        return self.positions.get(key, branch.possibly_closed)

    @cached_property
    def _movable(self) -> Mapping[str, Movable]:
        return {m.item: m for m in movable(self.net, self.positions)}

    def sides(self, item_id: str, possibly: bool = False) -> dict[str, Sources]:
        """Sources at each terminal of an item ("a" and "b" for runs and ties; only "a" for a tie to nowhere known)."""
        states = self.possibly_at_node if possibly else self.at_node
        return {terminal: states[node] for terminal, node in _terminals(self.net, item_id)}

    def both_sides_live(self, key: str, possibly: bool = False) -> bool:
        """Whether a branch that is open has live terminals on both sides."""
        branch = self.net.branches[key]
        states = self.possibly_at_node if possibly else self.at_node
        return not self.closed(key) and branch.b >= 0 and bool(states[branch.a]) and bool(states[branch.b])

    def path(self, source: str, node: int) -> tuple[str, ...] | None:
        """Branch keys from a source to a node, the fewest there are; ``None`` when the source does not reach it.

        Certain ways are preferred; suspected ties are used only where nothing else connects. ``source`` may be the id
        of a tie to an unknown place.
        """
        unknown = source not in self.net.sources
        start = self.net.branches[source].a if unknown else self.net.sources[source]
        if source not in self.possibly_at_node[node]:
            return None
        found = self.way(start, node)
        return (source, *found) if unknown and found is not None else found

    def way(self, start: int, node: int) -> tuple[str, ...] | None:
        """Branch keys from a node to a node, the fewest there are; ``None`` when nothing connects them. Certain ways are
        preferred."""
        for certain in (True, False):
            found = self._walk(start, node, certain)
            if found is not None:
                return found
        return None

    def _walk(self, start: int, goal: int, certain: bool) -> tuple[str, ...] | None:
        """Fewest branches between two nodes. A way does not enter by one side of a switch that may move and leave by the
        other, so a node is looked at once for each such side that it was entered by."""
        closed = self.closed if certain else self.possibly_closed
        sides = {} if certain else {key: (m.item, load) for m in self._movable.values() for key, _, load in m.ways}
        first = (start, "")
        came: dict[tuple[int, str], tuple[tuple[int, str], str]] = {}
        seen, front = {first}, [first]
        while front:
            following = []
            for at in front:
                if at[0] == goal:
                    return _traced(came, at)
                for key in self.net.at_node[at[0]]:
                    other = self.net.branches[key].other(at[0])
                    if other < 0 or not closed(key):
                        continue
                    switch, load = sides.get(key, ("", -1))
                    entered = switch if load == other else ""
                    if (switch and switch == at[1] and load == at[0]) or (other, entered) in seen:
                        continue
                    if sides and _passed(came, at, other):
                        continue
                    seen.add((other, entered))
                    came[other, entered] = (at, key)
                    following.append((other, entered))
            front = following
        return None

    # ----------------------------------------------------------------------------------------- opening one device
    def lost(self, weight: Sequence[int], besides: Collection[str] = ()) -> dict[str, int]:
        """{branch key: sum of the weights of the nodes that lose their last certain source when it alone is opened}.

        ``weight``: one figure per node. ``besides``: ids of sources that do not count. Branches that part nothing from
        its last source are absent.
        """
        pieces = self._certain_pieces
        counts = sum(1 << bit for bit, name in enumerate(self._bits) if name not in besides)
        by_entry = sorted(range(self.net.node_count), key=pieces.entered.__getitem__)
        upto = [0]
        for node in by_entry:
            upto.append(upto[-1] + weight[node])
        total = [0] * self.net.node_count
        for node in by_entry:
            total[pieces.of[node]] += weight[node]
        found = {}
        for key, (first, last, beyond) in pieces.below.items():
            at = self.net.branches[key].a
            here, there = pieces.mask[at] & counts, upto[last + 1] - upto[first]
            beyond &= counts
            lost = 0
            if here and not beyond:
                lost = there
            elif here and not here & ~beyond:
                lost = total[pieces.of[at]] - there
            if lost:
                found[key] = lost
        return found

    def when_opened(self, item_id: str) -> Opened:
        """What stays live when a device (by item id) is opened and everything else stays as it is.

        A transfer switch is opened on both of its sides. The first call takes one pass over the network, each further
        one a look-up.
        """
        keys = self.net.branches_of(item_id)
        if not keys:
            raise KeyError(f"{item_id} cannot be opened")
        closed = [k for k in keys if self.possibly_closed(k)]
        if len(closed) > 1 or item_id in self._movable or any(self.net.branches[k].b < 0 for k in closed):
            after = live_state(self.net, {**self.positions, **dict.fromkeys(keys, False)})
            sides, possibly = after.sides(item_id), after.sides(item_id, possibly=True)
        else:
            terminals = _terminals(self.net, item_id)
            sides = self._parted(self._certain_pieces, terminals, keys)
            possibly = self._possibly_parted(terminals, keys)
        before = self.sides(item_id)
        return Opened(item_id, sides, possibly, changes=any(before[t] and not sides[t] for t in sides))

    def possibly_when_opened(self, item_id: str, node: int) -> Sources:
        """Sources that possibly reach a node when a device is opened."""
        keys = self.net.branches_of(item_id)
        closed = [k for k in keys if self.possibly_closed(k)]
        if len(closed) > 1 or item_id in self._movable or any(self.net.branches[k].b < 0 for k in closed):
            after = live_state(self.net, {**self.positions, **dict.fromkeys(keys, False)})
            return after.possibly_at_node[node]
        return self._possibly_parted([("", node)], keys)[""]

    def _parted(self, pieces: _Piece, terminals: list[tuple[str, int]], keys: tuple[str, ...]) -> dict[str, Sources]:
        bridge = next((k for k in keys if k in pieces.below), None)
        first, last, beyond = pieces.below[bridge] if bridge is not None else (-1, -1, 0)
        found = {}
        for terminal, node in terminals:
            mask = pieces.mask[node]
            if bridge is not None:
                mask = beyond if first <= pieces.entered[node] <= last else mask & ~beyond
            found[terminal] = self._names(mask)
        return found

    def _possibly_parted(self, terminals: list[tuple[str, int]], keys: tuple[str, ...]) -> dict[str, Sources]:
        """As ``_parted``, and from there through the switches that may move; an opened bridge makes two pieces of one."""
        pieces, switches = self._possible_pieces, tuple(self._movable.values())
        if not switches:
            return self._parted(pieces, terminals, keys)
        bridge = next((k for k in keys if k in pieces.below), None)
        first, last, beyond = pieces.below[bridge] if bridge is not None else (-1, -1, 0)
        parted = -1 if bridge is None else pieces.of[self.net.branches[bridge].a]

        def piece(node: int) -> int:
            return -1 if bridge is not None and first <= pieces.entered[node] <= last else pieces.of[node]

        links = self._links if parted not in self._at_switches else links_between(switches, piece)
        found = {}
        for terminal, node in terminals:
            mask = 0
            for at in reached(piece(node), links):
                mask |= beyond if at < 0 else pieces.mask[at] & ~(beyond if at == parted else 0)
            found[terminal] = self._names(mask)
        return found

    @cached_property
    def _at_switches(self) -> frozenset[int]:
        """Pieces that a switch that may move stands at."""
        of = self._possible_pieces.of
        return frozenset(of[node] for m in self._movable.values() for _, *ends in m.ways for node in ends)

    @cached_property
    def _links(self) -> Links:
        of = self._possible_pieces.of
        return links_between(tuple(self._movable.values()), lambda node: of[node])

    def _names(self, mask: int) -> Sources:
        return frozenset(name for bit, name in enumerate(self._bits) if mask >> bit & 1)

    @cached_property
    def _bits(self) -> tuple[str, ...]:
        unknown = [k for k, b in self.net.branches.items() if b.b < 0]
        return (*self.net.sources, *unknown)

    @cached_property
    def _certain_pieces(self) -> _Piece:
        return _search(self.net, {k: self.closed(k) for k in self.net.branches}, self._bits)

    @cached_property
    def _possible_pieces(self) -> _Piece:
        moving = {key for m in self._movable.values() for key, _, _ in m.ways}
        closed = {k: k not in moving and self.possibly_closed(k) for k in self.net.branches}
        return _search(self.net, closed, self._bits)


def live_state(net: Network, positions: Mapping[str, bool] | None = None) -> LiveState:
    """Sources at every node, by the present positions or with some of them changed.

    ``positions``: {branch key: closed}; every other branch keeps its present position. For a suspected tie ``True`` says
    that it is certainly closed and ``False`` that it is certainly open. A transfer switch with a position given for one of
    its sides is held and does not move by itself. Raises ``KeyError`` for a key that is no branch.
    """
    moved = dict(positions or {})
    for key in moved:
        if key not in net.branches:
            raise KeyError(f"{key} is no branch of this network")
    certain = _flood(net, moved, possibly=False)
    if any(b.possibly_closed != b.closed for b in net.branches.values()):
        possible = _flood(net, moved, possibly=True, switches=movable(net, moved))
    else:
        possible = certain
    return LiveState(net, certain, possible, moved)


def worst_state(
    net: Network, opened: Collection[str], sources: Mapping[str, Collection[int]] | None = None
) -> tuple[Sources, ...]:
    """Sources that reach each node in some position of all devices but those held open.

    ``opened``: item ids held open (a transfer switch: off). ``sources``: {name: nodes} in place of the drawing's sources
    and ties to unknown places. Physics: closing a disconnect only ever adds ways, so all of them closed is the worst
    for every node at once; transfer switches, by whomever moved, stand in either position, one at a time.
    """
    held = {key: False for item in opened for key in net.branches_of(item)}
    positions = {k: True for k, b in net.branches.items() if isinstance(b.item, Disconnect)} | held
    return _flood(net, positions, possibly=True, switches=standing(net, opened), starts=_starts(sources))


def possible_state(
    net: Network, sources: Mapping[str, Collection[int]], positions: Mapping[str, bool] | None = None
) -> tuple[Sources, ...]:
    """As ``LiveState.possibly_at_node``, with {name: nodes} in place of the drawing's sources and ties to unknown places.

    ``positions``: as for ``live_state``; by default the present ones.
    """
    moved = dict(positions or {})
    return _flood(net, moved, possibly=True, switches=movable(net, moved), starts=_starts(sources))


def _starts(sources: Mapping[str, Collection[int]] | None) -> dict[int, list[str]] | None:
    if sources is None:
        return None
    starts: dict[int, list[str]] = {}
    for name, nodes in sources.items():
        for node in nodes:
            starts.setdefault(node, []).append(name)
    return starts


def stays_live(net: Network, opened: str, positions: Mapping[str, bool] | None = None) -> Opened:
    """What stays live, on which side and from where, when one device is opened.

    ``opened``: id of an item with contacts (or of any two-ended item, as if it were taken out). ``positions``: as for
    ``live_state``. For many devices of the same state call ``LiveState.when_opened``, which shares the work.
    """
    return live_state(net, positions).when_opened(opened)


def _passed(came: Mapping[tuple[int, str], tuple[tuple[int, str], str]], at: tuple[int, str], node: int) -> bool:
    """Whether the way to where a search stands leads through a node: no way turns back on itself."""
    while at[0] != node and at in came:
        at, _ = came[at]
    return at[0] == node


def _traced(came: Mapping[tuple[int, str], tuple[tuple[int, str], str]], at: tuple[int, str]) -> tuple[str, ...]:
    """Branch keys on the way to where a search ended, from its start."""
    keys = []
    while at in came:
        at, key = came[at]
        keys.append(key)
    return tuple(reversed(keys))


def _terminals(net: Network, item_id: str) -> list[tuple[str, int]]:
    item = net.drawing.get(item_id)
    if isinstance(item, Connection):
        return [(t, node) for t in ("a", "b") if (node := net.node(item_id, t)) >= 0]
    return [(t, net.node(item_id, t)) for t in item.terminals]


def _flood(
    net: Network, positions: Mapping[str, bool], possibly: bool, switches: tuple[Movable, ...] = (),
    starts: dict[int, list[str]] | None = None,
) -> tuple[Sources, ...]:  # fmt: skip
    """Sources of each node's connected piece, and of those that the switches that may move connect with it.

    ``starts``: sources by node, in place of the drawing's sources and ties to unknown places.
    """
    moving = {key for m in switches for key, _, _ in m.ways}
    neighbours: list[list[int]] = [[] for _ in range(net.node_count)]
    extra: dict[int, list[str]] = {}
    for key, b in net.branches.items():
        may = possibly and not isinstance(b.item, TransferSwitch)
        closed = positions.get(key, b.possibly_closed if may else b.closed)
        if not closed or key in moving:
            continue
        if b.b >= 0:
            neighbours[b.a].append(b.b)
            neighbours[b.b].append(b.a)
        else:
            extra.setdefault(b.a, []).append(key)
    if starts is None:
        starts = {}
        for source, node in net.sources.items():
            starts.setdefault(node, []).append(source)
        for node, keys in extra.items():
            starts.setdefault(node, []).extend(keys)

    live: list[Sources] = [_NONE] * net.node_count
    seen = [False] * net.node_count
    at_switches = dict.fromkeys(node for m in switches for _, *ends in m.ways for node in ends)
    piece_of: dict[int, int] = {}
    pieces: dict[int, list[int]] = {}
    for start in (*starts, *at_switches):
        if seen[start]:
            continue
        seen[start] = True
        piece = [start]
        for node in piece:  # grows while it is walked
            for other in neighbours[node]:
                if not seen[other]:
                    seen[other] = True
                    piece.append(other)
        sources = frozenset(name for node in piece if node in starts for name in starts[node])
        for node in piece:
            live[node] = sources
        if switches:
            piece_of.update((node, start) for node in piece if node in at_switches)
            pieces[start] = piece
    if switches:
        links = links_between(switches, piece_of.__getitem__)
        more = {at: _NONE.union(*(live[p] for p in reached(at, links))) for at in links}
        for at, sources in more.items():
            for node in pieces[at]:
                live[node] = sources
    return tuple(live)


def _search(net: Network, closed: Mapping[str, bool], bits: tuple[str, ...]) -> _Piece:
    """Depth-first search for bridges: the branches whose opening parts a piece in two, and the sources beyond each."""
    own = [0] * net.node_count
    for bit, name in enumerate(bits):
        if name in net.sources:
            own[net.sources[name]] |= 1 << bit
        elif closed[name]:
            own[net.branches[name].a] |= 1 << bit
    mask = list(own)
    of = list(range(net.node_count))
    entered = [-1] * net.node_count
    low = [0] * net.node_count
    below: dict[str, tuple[int, int, int]] = {}
    tick = 0
    for root in range(net.node_count):
        if entered[root] >= 0:
            continue
        entered[root] = low[root] = tick
        tick += 1
        piece = [root]
        stack = [(root, "", iter(net.at_node[root]))]
        while stack:
            node, came, keys = stack[-1]
            for key in keys:
                branch: Branch = net.branches[key]
                other = branch.other(node)
                if key == came or other < 0 or not closed[key]:
                    continue
                if entered[other] < 0:
                    entered[other] = low[other] = tick
                    tick += 1
                    piece.append(other)
                    stack.append((other, key, iter(net.at_node[other])))
                    break
                low[node] = min(low[node], entered[other])
            else:
                stack.pop()
                if stack:
                    up = stack[-1][0]
                    low[up] = min(low[up], low[node])
                    if low[node] > entered[up]:
                        below[came] = (entered[node], tick - 1, mask[node])
                    mask[up] |= mask[node]
        for node in piece:
            mask[node] = mask[root]
            of[node] = root
    return _Piece(of, mask, entered, below)
