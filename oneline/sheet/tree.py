"""From a drawing to the forest the layout hangs things in: what is below what, and which connections go across."""

from __future__ import annotations

from collections import Counter, deque
from collections.abc import Iterator
from dataclasses import dataclass, field

from oneline.model import Bus, Connection, Drawing, End, Item, Joint, SuspectedTie
from oneline.network import Feeding, Network, build_feeding, build_network
from oneline.sheet.shapes import BarReach

_ROOT_RANK = {"service": 0, "generator": 1, "battery": 2, "solar": 3}


@dataclass
class Twig:
    """One item in the forest: entered at ``terminal`` from ``parent``'s ``parent_terminal`` through ``connection``."""

    item: str
    terminal: str = ""
    parent: str = ""
    parent_terminal: str = ""
    connection: str = ""
    children: list[str] = field(default_factory=list)


@dataclass
class Forest:
    """``roots`` from left to right; ``across``: connections that join two twigs that are not parent and child."""

    twigs: dict[str, Twig]
    roots: list[str]
    across: list[Connection]
    reach: BarReach = field(default_factory=BarReach)


_remembered: list[tuple[Drawing, Forest]] = []


def feeding_forest(drawing: Drawing) -> Forest:
    """Hang every item of a drawing below what feeds it. Items nothing feeds hang together below their first."""
    for known, forest in _remembered:
        if known is drawing:
            return forest
    forest = _Grower(drawing).grow()
    _remembered.insert(0, (drawing, forest))
    del _remembered[4:]
    return forest


class _Grower:
    def __init__(self, drawing: Drawing) -> None:
        self.drawing = drawing
        self.net: Network = build_network(drawing)
        self.feeding: Feeding = build_feeding(self.net)
        self.at: dict[End, list[tuple[Connection, End]]] = {}
        for conn in drawing.connections():
            if isinstance(conn, SuspectedTie) or conn.b is None:
                continue
            if conn.a in self.net.node_of and conn.b in self.net.node_of:
                self.at.setdefault(conn.a, []).append((conn, conn.b))
                self.at.setdefault(conn.b, []).append((conn, conn.a))
        self.twigs: dict[str, Twig] = {}
        self.roots: list[str] = []
        self.used: set[str] = set()

    def grow(self) -> Forest:
        sources = sorted(
            self.net.sources, key=lambda s: (_ROOT_RANK[self.drawing.get(s).kind], list(self.net.sources).index(s))
        )
        for source in sources:
            node = self.net.sources[source]
            if source not in self.twigs and not self.feeding.branch[node]:
                self._plant(source, End(source, "out"))
        for item in self._left_over():
            if item.id not in self.twigs:
                self._plant(item.id, End(item.id, item.terminals[0]))
        across = [c for c in self.drawing.connections() if c.id not in self.used and c.b is not None]
        hung = set()
        for twig in self.twigs.values():
            if twig.parent and isinstance(self.drawing.get(twig.parent), Bus):
                hung.add((twig.parent, twig.connection))
            elif (
                twig.parent
                and isinstance(self.drawing.get(twig.connection), Joint)
                and len(self.twigs[twig.parent].children) == 1
            ):
                hung.add((twig.item, twig.connection))
        count = Counter(e.item for c in across for e in (c.a, c.b) if e is not None)
        return Forest(self.twigs, self.roots, across, BarReach(frozenset(hung), count))

    def _left_over(self) -> Iterator[Item]:
        """Items nothing feeds: first those whose line side hangs free, then the others, in drawing order."""
        rest = [i for i in self.drawing.items.values() if not isinstance(i, Connection)]
        loose = [i for i in rest if End(i.id, i.terminals[0]) not in self.at or i.kind == "bus"]
        yield from loose
        yield from rest

    def _plant(self, item_id: str, start: End) -> None:
        self.twigs[item_id] = Twig(item_id, start.terminal)
        self.roots.append(item_id)
        queue = deque([start])
        seen = {start}
        while queue:
            end = queue.popleft()
            for nxt in self._onward(end):
                if nxt not in seen:
                    seen.add(nxt)
                    queue.append(nxt)

    def _onward(self, end: End) -> Iterator[End]:
        """Terminals reached from a terminal: through the device itself, then through what is connected to it."""
        item = self.drawing.get(end.item)
        node = self.net.node_of[end]
        for terminal in item.terminals:
            other = End(item.id, terminal)
            if other != end and self._goes_down(node, self.net.node_of[other], item.id):
                yield other
        for conn, other in self.at.get(end, ()):
            if conn.id in self.used or other.item in self.twigs:
                continue
            if not isinstance(conn, Joint) and not self._goes_down(node, self.net.node_of[other], conn.id):
                continue
            self.used.add(conn.id)
            self.twigs[other.item] = Twig(other.item, other.terminal, end.item, end.terminal, conn.id)
            self.twigs[end.item].children.append(other.item)
            yield other

    def _goes_down(self, node: int, other: int, item_id: str) -> bool:
        if self.feeding.position[node] < 0:
            return True
        keys = self.net.branches_of(item_id)
        return any(self.feeding.branch[other] == k for k in keys) and self.feeding.parent[other] == node
