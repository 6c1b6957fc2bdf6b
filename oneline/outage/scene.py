"""The building as an outage finds it, and how it stands at a moment of the switching order."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Hashable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any, TypeVar

from oneline.model import (
    Battery,
    Bus,
    Connection,
    Generator,
    Item,
    Load,
    SolarArray,
    SuspectedTie,
    UtilityService,
)
from oneline.network.live import LiveState, live_state
from oneline.study.context import Context
from oneline.study.loads import LoadEntry
from oneline.study.unentered import loose_ends

T = TypeVar("T")
#: Depth of what nothing feeds.
_FAR = 1 << 30


@dataclass
class Scene:
    """One drawing in its present positions, with what the steps of an order ask again and again.

    ``unbuilt``: positions of new devices that the work itself puts in: they stand open until they are closed for the
    first time, whatever the drawing says of afterwards. ``idle``: new panels behind them, whose breakers are off.
    """

    ctx: Context
    unbuilt: Mapping[str, bool] = field(default_factory=dict)
    idle: frozenset[str] = frozenset()
    _lives: dict[tuple[tuple[str, bool], ...], LiveState] = field(default_factory=dict)
    _memos: dict[Hashable, Any] = field(default_factory=dict)

    def recall(self, key: Hashable, make: Callable[[], T]) -> T:
        """Something that is asked again and again, worked out once."""
        if key not in self._memos:
            self._memos[key] = make()
        found: T = self._memos[key]
        return found

    # ---------------------------------------------------------------------------------------------- the network
    @cached_property
    def closed(self) -> dict[str, bool]:
        """Present positions; a suspected tie counts as open, what it may carry is a load that nobody entered."""
        drawn = {k: b.closed and b.b >= 0 for k, b in self.ctx.net.branches.items()}
        return {**drawn, **self.unbuilt} if self.unbuilt else drawn

    @cached_property
    def links(self) -> tuple[tuple[tuple[str, int], ...], ...]:
        """Branch keys with the node beyond, at each node."""
        net = self.ctx.net
        return tuple(
            tuple((k, o) for k in keys if (o := net.branches[k].other(n)) >= 0 and o != n)
            for n, keys in enumerate(net.at_node)
        )

    @cached_property
    def entries(self) -> Mapping[int, list[LoadEntry]]:
        """What draws current at each node, and what may and nobody entered."""
        found: dict[int, list[LoadEntry]] = {}
        for entry in (*self.ctx.loads, *loose_ends(self.ctx)):
            found.setdefault(entry.node, []).append(entry)
        return found

    @cached_property
    def sources(self) -> Mapping[int, list[Item]]:
        found: dict[int, list[Item]] = {}
        for source, node in self.ctx.net.sources.items():
            found.setdefault(node, []).append(self.ctx.drawing.get(source))
        return found

    def begin(self, positions: Mapping[str, bool] | None = None, stopped: Iterable[str] = ()) -> Moment:
        """How things stand before the first step, or with some positions changed."""
        return Moment(self, positions or {}, self.idle, frozenset(stopped))

    @cached_property
    def service_nodes(self) -> Mapping[int, frozenset[str]]:
        """Nodes of utility services, with the services there."""
        return {
            n: ids for n, found in self.sources.items()
            if (ids := frozenset(s.id for s in found if isinstance(s, UtilityService)))
        }  # fmt: skip

    @cached_property
    def busy(self) -> frozenset[int]:
        """Nodes at which something draws or generates, or a suspected tie ends."""
        return frozenset((*self.entries, *self.sources, *(end for end, _ in self.ties)))

    @cached_property
    def read(self) -> frozenset[int]:
        """Nodes of panels and loads at which readings were taken."""
        items = self.ctx.drawing.items.values()
        return frozenset(self.ctx.net.node(i.id) for i in items if i.readings and isinstance(i, Bus | Load))

    @cached_property
    def forming(self) -> frozenset[str]:
        """Sources that can feed on their own; solar arrays and batteries only where that is entered."""
        found = (self.ctx.drawing.get(s) for s in self.ctx.net.sources)
        return frozenset(s.id for s in found if isinstance(s, UtilityService | Generator) or _forms(s))

    @cached_property
    def ties(self) -> tuple[tuple[int, int], ...]:
        """Ends of suspected ties as (node, node beyond or -1), from both sides."""
        net, found = self.ctx.net, []
        for b in net.branches.values():
            if isinstance(b.item, SuspectedTie):
                found += [(b.a, b.b)] + ([(b.b, b.a)] if b.b >= 0 else [])
        return tuple(found)

    @cached_property
    def fed_items(self) -> tuple[Item, ...]:
        """Loads and panels: what people notice when it goes dark."""
        items = self.ctx.drawing.items.values()
        return tuple(i for i in items if isinstance(i, Load) or (isinstance(i, Bus) and (i.has_spaces or i.circuits)))

    def nodes_of(self, item_id: str) -> tuple[int, ...]:
        """Nodes of all terminals of an item."""
        item = self.ctx.drawing.get(item_id)
        if isinstance(item, Connection):
            found = [self.ctx.net.node(item_id, t) for t in ("a", "b")]
            return tuple(dict.fromkeys(n for n in found if n >= 0))
        return tuple(dict.fromkeys(self.ctx.net.node(item_id, t) for t in item.terminals))

    def live(self, positions: Mapping[str, bool]) -> LiveState:
        if self.unbuilt:
            positions = {**self.unbuilt, **positions}
        key = tuple(sorted(positions.items()))
        found = self._lives.get(key)
        if found is None:
            found = self._lives[key] = live_state(self.ctx.net, positions)
        return found

    def reach(self, start: int, closed: Mapping[str, bool], without: str = "") -> dict[int, tuple[int, str]]:
        """Nodes that hang together with a node, nearest first, each with the node and branch it was reached by."""
        came: dict[int, tuple[int, str]] = {start: (-1, "")}
        front = [start]
        for node in front:  # grows while it is walked
            for key, other in self.links[node]:
                if other not in came and closed[key] and key != without:
                    came[other] = (node, key)
                    front.append(other)
        return came

    def services_in(self, nodes: Iterable[int]) -> bool:
        return any(isinstance(s, UtilityService) for n in nodes for s in self.sources.get(n, ()))

    @cached_property
    def depth(self) -> tuple[int, ...]:
        """Devices between each node and the nearest source that can feed on its own, in the present positions."""
        depth = [_FAR] * self.ctx.net.node_count
        services = [n for n, found in self.sources.items() if any(isinstance(s, UtilityService) for s in found)]
        others = [n for n, found in self.sources.items() if any(s.id in self.forming for s in found)]
        for starts in (services, others):
            fresh = [n for n in starts if depth[n] == _FAR]
            for node in fresh:
                depth[node] = 0
            waiting = deque(fresh)
            while waiting:
                node = waiting.popleft()
                for key, other in self.links[node]:
                    more = depth[node] + self.is_switch(key)
                    if self.closed[key] and more < depth[other]:
                        depth[other] = more
                        (waiting.append if self.is_switch(key) else waiting.appendleft)(other)
        return tuple(depth)

    def is_switch(self, key: str) -> bool:
        """Whether a branch has contacts that can be opened."""
        item = self.ctx.net.branches[key].item
        return item.kind in ("disconnect", "transfer")


@dataclass(frozen=True)
class Moment:
    """How things stand at a moment.

    ``positions``: branch keys whose position was given, as for ``live_state``. ``shed``: ids of loads that are off at
    their control and of panels whose branch breakers are off. ``stopped``: ids of sources that were stopped.
    """

    scene: Scene
    positions: Mapping[str, bool] = field(default_factory=dict)
    shed: frozenset[str] = frozenset()
    stopped: frozenset[str] = frozenset()

    @cached_property
    def closed(self) -> Mapping[str, bool]:
        if not self.positions:
            return self.scene.closed
        return {**self.scene.closed, **self.positions}

    @cached_property
    def live(self) -> LiveState:
        return self.scene.live(self.positions)

    @cached_property
    def _own(self) -> Hashable:
        return frozenset(self.positions.items()), self.shed, self.stopped

    def recall(self, key: Hashable, make: Callable[[], T]) -> T:
        """Something that follows from how things stand, worked out once for all moments that are alike."""
        return self.scene.recall((self._own, key), make)

    def fed(self, node: int) -> bool:
        """Whether something that can feed on its own and was not stopped reaches a node."""
        forming = self.scene.forming
        return any(s in forming and s not in self.stopped for s in self.live.at_node[node])

    @cached_property
    def powered(self) -> frozenset[str]:
        """Loads and panels that have power: fed and not switched off at their own control."""
        net = self.scene.ctx.net
        return frozenset(i.id for i in self.scene.fed_items if i.id not in self.shed and self.fed(net.node(i.id)))

    @cached_property
    def switched(self) -> frozenset[int]:
        """Nodes at which something is otherwise than at the beginning."""
        scene, net = self.scene, self.scene.ctx.net
        found: set[int] = set()
        for key, closed in self.positions.items():
            if scene.closed[key] != closed:
                found.update(n for n in (net.branches[key].a, net.branches[key].b) if n >= 0)
        for item in (*self.shed, *self.stopped):
            found.update(scene.nodes_of(item))
        return frozenset(found)

    def after(
        self, positions: Mapping[str, bool] | None = None, free: Iterable[str] = (), shed: Iterable[str] = (),
        unshed: Iterable[str] = (), stop: Iterable[str] = (), start: Iterable[str] = (),
    ) -> Moment:  # fmt: skip
        """The moment after something was done. ``free``: keys whose position is the drawing's again."""
        given = {k: v for k, v in {**self.positions, **(positions or {})}.items() if k not in set(free)}
        return replace(
            self, positions=given, shed=(self.shed | set(shed)) - set(unshed),
            stopped=(self.stopped | set(stop)) - set(start),
        )  # fmt: skip


def _forms(source: Item) -> bool:
    return isinstance(source, SolarArray | Battery) and bool(source.forms_grid)


def closing(scene: Scene, keys: Iterable[str]) -> dict[str, bool]:
    """The present positions of some branches, to be given back."""
    return {k: scene.ctx.net.branches[k].closed for k in keys}
