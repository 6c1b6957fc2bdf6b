"""What feeds one panel: the part of a drawing that belongs on the sheet for its door.

Kept: every source that can reach the panel in any position of the switches, with everything on the way; everything the
panel feeds; every other source with its first disconnects; every service disconnect with its way from the service. What
is left out stands as stubs, named, where it branches off. An extract is for drawing only: a study of it would be wrong.
"""

from __future__ import annotations

import itertools
import textwrap
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from typing import Any

from oneline.model import (
    Bus,
    ConductorRun,
    Connection,
    Disconnect,
    Drawing,
    End,
    Item,
    Joint,
    Load,
    SuspectedTie,
    TransferSwitch,
)
from oneline.network import Branch, Feeding, Network, build_feeding, build_network

#: With more transfer switches than this their positions are no longer told apart: both ways count as possible at once.
_MOST_TRANSFERS = 6
#: Ids of stubs and of connections that only the extract has; no item of a drawing has such an id.
STUB = "stub:"
_BRIDGE = "bridge:"
_STUB_LINES = 3


@dataclass(frozen=True)
class Stub:
    """What branches off at a point and is left out: ``feeders``, by what each leads to. ``at_bus``: a bus or a device."""

    id: str
    feeders: tuple[str, ...]
    at_bus: bool


@dataclass(frozen=True)
class Extract:
    """``drawing``: the kept items alone. ``with_stubs``: the same with a place holder for every stub, for the layout."""

    drawing: Drawing
    with_stubs: Drawing
    stubs: tuple[Stub, ...] = ()


def extract_of(view: Drawing, panel: str) -> Extract:
    """The extract of one view of a drawing for a panel (item id). Raises ``KeyError`` when the view does not have it."""
    return _Extractor(view, panel).extract()


@dataclass
class _Extractor:
    view: Drawing
    panel: str
    branches: set[str] = field(default_factory=set)
    items: set[str] = field(default_factory=set)

    def extract(self) -> Extract:
        self.net: Network = build_network(self.view)
        self.feeding: Feeding = build_feeding(self.net)
        self.at = self.net.node(self.panel)
        self.items |= {self.panel, *self.net.sources}
        self._ways_in()
        self._fed()
        self._first_devices()
        self._service_disconnects()
        self.items |= {self.net.branches[k].item.id for k in self.branches}
        nodes = self._nodes()
        self.items |= {end.item for n in nodes for end in self.net.ends_of[n] if self._is_bus(end.item)}
        kept = self._connected(self._nodes())
        stubs = list(self._stubs())
        drawing = self.view.with_items(kept, [i for i in self.view.items if i not in self.items])
        more: list[Item] = []
        for stub, end in stubs:
            more += [Load(id=stub.id, name=_room_words(stub)), _joint(f"{stub.id}/joint", end, stub.id)]
        return Extract(drawing, drawing.with_items(more), tuple(s for s, _ in stubs))

    # ---------------------------------------------------------------------------------------------------- what is kept
    def _ways_in(self) -> None:
        """All ways from any source to the panel, every switch taken as closed, a transfer switch on one side at a time."""
        transfers = [t.id for t in self.view.of(TransferSwitch)]
        if len(transfers) > _MOST_TRANSFERS:
            self.branches |= _between(self.net, self.at, frozenset())
            return
        for sides in itertools.product(("normal", "alternate"), repeat=len(transfers)):
            away = frozenset(f"{t}/{s}" for t, s in zip(transfers, sides, strict=True))
            self.branches |= _between(self.net, self.at, away)

    def _fed(self) -> None:
        """Everything below the panel."""
        below = set(self.feeding.subtree(self.at)) if self.feeding.position[self.at] >= 0 else {self.at}
        for key, branch in self.net.branches.items():
            if branch.a in below and branch.b in below:
                self.branches.add(key)
        self.items |= {
            end.item for n in below for end in self.net.ends_of[n] if isinstance(self.view.get(end.item), Load)
        }

    def _first_devices(self) -> None:
        """From each source to the first devices with contacts on every way out."""
        for start in self.net.sources.values():
            came: dict[int, tuple[int, str]] = {start: (-1, "")}
            front = [start]
            while front:
                node = front.pop(0)
                for key in self.net.at_node[node]:
                    branch = self.net.branches[key]
                    if isinstance(branch.item, SuspectedTie):
                        continue
                    if isinstance(branch.item, Disconnect | TransferSwitch):
                        self.branches.add(key)
                        self._keep_way(came, node)
                    elif (other := branch.other(node)) >= 0 and other not in came:
                        came[other] = (node, key)
                        front.append(other)

    def _keep_way(self, came: dict[int, tuple[int, str]], node: int) -> None:
        while came[node][1]:
            node, key = came[node]
            self.branches.add(key)

    def _service_disconnects(self) -> None:
        for device in self.view.of(Disconnect):
            if device.service_disconnect:
                self.branches.add(device.id)
                node = self.feeding.line_node(device.id)
                if node is not None:
                    self.branches |= {b.key for b, _ in self.feeding.path(node)}

    # --------------------------------------------------------------------------------------------------- what joins it
    def _is_bus(self, item_id: str) -> bool:
        return isinstance(self.view.get(item_id), Bus)

    def _kept_ends(self, node: int) -> list[End]:
        return [e for e in self.net.ends_of[node] if e.item in self.items]

    def _nodes(self) -> list[int]:
        """Nodes with a terminal of a kept item."""
        ends = {n for k in self.branches for n in (self.net.branches[k].a, self.net.branches[k].b) if n >= 0}
        ends |= {n for n in range(self.net.node_count) if self._kept_ends(n)}
        return sorted(ends)

    def _connected(self, nodes: Iterable[int]) -> list[Connection]:
        """The kept connections, and new ones where what joined two kept terminals is left out."""
        kept: list[Connection] = []
        top: dict[End, End] = {}

        def find(end: End) -> End:
            while top.get(end, end) != end:
                end = top[end]
            return end

        for conn in self.view.connections():
            if isinstance(conn, Joint):
                if conn.a.item in self.items and conn.b.item in self.items:
                    kept.append(conn)
                    top[find(conn.a)] = find(conn.b)
            elif conn.id in self.items:
                kept.append(conn)
        # A run may end at an item that is left out; it then ends at a kept terminal of the same point.
        kept = [self._moved(c) if isinstance(c, ConductorRun | SuspectedTie) else c for c in kept]
        self.items |= {c.id for c in kept}
        for node in nodes:
            ends = self._kept_ends(node)
            for k, end in enumerate(ends[1:]):
                if find(end) != find(ends[0]):
                    kept.append(Joint(id=f"{_BRIDGE}{node}/{k}", a=ends[0], b=end))
                    top[find(end)] = find(ends[0])
        return kept

    def _moved(self, conn: Connection) -> Connection:
        changed: dict[str, Any] = {}
        for name in ("a", "b"):
            end: End | None = getattr(conn, name)
            if end is not None and end.item not in self.items:
                others = self._kept_ends(self.net.node_of[end])
                if others:
                    changed[name] = others[0]
                else:
                    self.items.add(end.item)
        return replace(conn, **changed) if changed else conn

    # ------------------------------------------------------------------------------------------------- what is left out
    def _stubs(self) -> Iterator[tuple[Stub, End]]:
        for node in self._nodes():
            ends = self._kept_ends(node)
            out = [
                self.net.branches[k] for k in self.net.at_node[node] if self.net.branches[k].item.id not in self.items
            ]
            names = [self._leads_to(b, node) for b in out]
            names += [
                self.view.name_of(e.item) for e in self.net.ends_of[node]
                if e.item not in self.items and isinstance(self.view.get(e.item), Load)
            ]  # fmt: skip
            if names and ends:
                end = next((e for e in ends if self._is_bus(e.item)), ends[0])
                yield Stub(f"{STUB}{node}", tuple(dict.fromkeys(names)), self._is_bus(end.item)), end

    def _leads_to(self, branch: Branch, start: int) -> str:
        """The nearest panel, bus, load or transfer switch beyond a branch; the branch's own item where there is none."""
        if isinstance(branch.item, SuspectedTie):
            return self.view.name_of(branch.item.id)
        seen, front = {start}, [(branch, start)]
        while front:
            here, node = front.pop(0)
            if isinstance(here.item, TransferSwitch):
                return self.view.name_of(here.item.id)
            other = here.other(node)
            if other < 0 or other in seen:
                continue
            seen.add(other)
            for end in self.net.ends_of[other]:
                if isinstance(self.view.get(end.item), Bus | Load):
                    return self.view.name_of(end.item)
            front += [(self.net.branches[k], other) for k in self.net.at_node[other]]
        return self.view.name_of(branch.item.id)


def _joint(item_id: str, end: End, stub: str) -> Joint:
    return Joint(id=item_id, a=end, b=End(stub, "in"))


def stub_lines(stub: Stub) -> tuple[str, ...]:
    """The words at a stub: "+ 4 feeders" and what they lead to in up to three lines; "to Freight hoist" behind a device."""
    count = len(stub.feeders)
    if not stub.at_bus and count == 1:
        return (f"to {stub.feeders[0]}",)
    for width in (24, 30, 36, 44):
        lines = textwrap.wrap("; ".join(stub.feeders), width)
        if len(lines) <= _STUB_LINES:
            break
    else:
        lines = textwrap.wrap("; ".join(stub.feeders), width, max_lines=_STUB_LINES, placeholder=" …")
    return (f"+ {count} feeder{'s' if count > 1 else ''}", *lines)


def _room_words(stub: Stub) -> str:
    """A name for the place holder that takes the room of the stub's words: two lines of the widest of them."""
    widest = max(stub_lines(stub), key=len)
    return f"{widest.replace(' ', '_')} {widest.replace(' ', '_')}" if len(stub_lines(stub)) > 1 else widest


def _between(net: Network, panel: int, away: frozenset[str]) -> set[str]:
    """Branches on the ways between the panel and all sources, with all of them closed but those ``away``.

    Dead ends are taken away until only ways between sources and the panel are left. A ring that hangs on such a way stays.
    """
    live = {k: b for k, b in net.branches.items() if k not in away}
    seen, front = {panel}, [panel]
    for node in front:
        for key in net.at_node[node]:
            other = live[key].other(node) if key in live else -1
            if other >= 0 and other not in seen:
                seen.add(other)
                front.append(other)
    ways = {k for k, b in live.items() if b.a in seen}
    ends = {n for n in net.sources.values() if n in seen} | {live[k].a for k in ways if live[k].b < 0}
    ends.add(panel)
    at = {n: {k for k in net.at_node[n] if k in ways} for n in seen}
    loose = [n for n in seen if n not in ends and len(at[n]) <= 1]
    for node in loose:
        for key in at[node]:
            ways.discard(key)
            other = live[key].other(node)
            at[other].discard(key)
            if other not in ends and len(at[other]) == 1:
                loose.append(other)
        at[node] = set()
    return {k for k in ways if live[k].a != live[k].b}
