"""Walking along the circuit with the keyboard: toward the source, toward the loads, to neighbors, in reading order."""

from __future__ import annotations

from oneline.desk.tools.ends import LOWER, UPPER
from oneline.model import Connection, Drawing, End, Joint
from oneline.network import Feeding, build_feeding, build_network
from oneline.sheet import Picture

Point = tuple[float, float]


class Walker:
    """Neighbors of items in one view of one drawing. Bolted joints are passed over; conductor runs are stations."""

    def __init__(self, drawing: Drawing, picture: Picture) -> None:
        self.drawing = drawing
        self.picture = picture
        self.feeding: Feeding = build_feeding(build_network(drawing))
        self._at: dict[str, list[Connection]] = {}
        for conn in drawing.connections():
            for end in (conn.a, conn.b):
                if end is not None:
                    self._at.setdefault(end.item, []).append(conn)

    # -------------------------------------------------------------------------------------------------- directions
    def up(self, item_id: str) -> str | None:
        """The next station toward the source."""
        return self._first(self._neighbors(item_id, upward=True), item_id)

    def down(self, item_id: str) -> str | None:
        """The first station away from the source."""
        return self._first(self._neighbors(item_id, upward=False), item_id)

    def below(self, item_id: str) -> list[str]:
        """Everything fed through an item, connections included, nearest first."""
        found: list[str] = []
        seen = {item_id}
        todo = [item_id]
        while todo:
            here = todo.pop(0)
            joints = [c.id for c in self._at.get(here, ()) if isinstance(c, Joint)]
            for other in self._neighbors(here, upward=False):
                if other in seen:
                    continue
                seen.add(other)
                found.append(other)
                todo.append(other)
            for joint in joints:
                ends = self.drawing.get(joint)
                assert isinstance(ends, Joint)
                if joint not in seen and {ends.a.item, ends.b.item} <= seen:
                    seen.add(joint)
                    found.append(joint)
        return found

    def beside(self, item_id: str, step: int) -> str | None:
        """The neighbor to the right (``step`` 1) or left (-1): of those fed from the same place, else of those beside it."""
        above = self.up(item_id)
        row = self._neighbors(above, upward=False) if above else self._tops()
        if item_id not in row:
            row = [*row, item_id]
        row = sorted(row, key=lambda i: (self.point(i)[0], i))
        index = row.index(item_id) + step
        return row[index] if 0 <= index < len(row) else None

    def reading_order(self) -> list[str]:
        """All items with a place on the sheet, top to bottom, then left to right; connections come after their upper end."""
        ids = [i for i, item in self.drawing.items.items() if not isinstance(item, Joint)]
        return sorted(ids, key=lambda i: (round(self.point(i)[1] / 10), self.point(i)[0], i))

    def point(self, item_id: str) -> Point:
        """Where an item is: its first terminal, or the middle of a connection's ends."""
        item = self.drawing.get(item_id)
        if isinstance(item, Connection):
            ends = [e for e in (item.a, item.b) if e is not None]
            points = [self._terminal(e) for e in ends]
            return sum(p[0] for p in points) / len(points), sum(p[1] for p in points) / len(points)
        return self._terminal(End(item_id, item.terminals[0]))

    # ----------------------------------------------------------------------------------------------------- inside
    def _terminal(self, end: End) -> Point:
        found = self.picture.terminals.get((end.item, end.terminal))
        if found is not None:
            return found
        item = self.drawing.items.get(end.item)
        return (item.place.x, item.place.y) if item is not None and item.place is not None else (0.0, 0.0)

    def _tops(self) -> list[str]:
        return [
            i for i, item in self.drawing.items.items()
            if not isinstance(item, Connection) and not self._neighbors(i, upward=True)
        ]  # fmt: skip

    def _first(self, ids: list[str], origin: str) -> str | None:
        x = self.point(origin)[0]
        return min(ids, key=lambda i: (abs(self.point(i)[0] - x), self.point(i)[0], i)) if ids else None

    def _neighbors(self, item_id: str, upward: bool) -> list[str]:
        item = self.drawing.get(item_id)
        if isinstance(item, Connection):
            return self._ends_of_connection(item, upward)
        found = []
        for conn in self._at.get(item_id, ()):
            if self._is_above(conn, item_id) != upward:
                continue
            if isinstance(conn, Joint):
                found.append(conn.b.item if conn.a.item == item_id else conn.a.item)
            else:
                found.append(conn.id)
        return list(dict.fromkeys(found))

    def _ends_of_connection(self, conn: Connection, upward: bool) -> list[str]:
        if conn.b is None:
            return [conn.a.item] if upward else []
        upper, lower = conn.a, conn.b
        load_node = self.feeding.load_node(conn.id) if conn.id in self.feeding.network.branches else None
        if load_node is not None and self.feeding.network.node_of[conn.a] == load_node:
            upper, lower = conn.b, conn.a
        return [upper.item if upward else lower.item]

    def _is_above(self, conn: Connection, item_id: str) -> bool:
        """Whether a connection leads from the item toward the source: by how it is fed, else by names of terminals."""
        mine, other = (conn.a, conn.b) if conn.a.item == item_id else (conn.b, conn.a)
        assert mine is not None
        net = self.feeding.network
        if isinstance(conn, Joint) and other is not None:
            fed = self._feeds(mine), self._feeds(other)
            if fed[0] != fed[1]:
                return fed[1]
        elif conn.id in net.branches:
            load_node = self.feeding.load_node(conn.id)
            if load_node is not None:
                return net.node_of[mine] == load_node
        if mine.terminal in UPPER:
            return True
        if mine.terminal in LOWER:
            return False
        if other is not None and other.terminal in LOWER + UPPER:
            return other.terminal in LOWER
        return conn.b is not None and conn.b.item == item_id

    def _feeds(self, end: End) -> bool:
        """Whether the item is what feeds the node at this terminal."""
        net = self.feeding.network
        node = net.node_of.get(end)
        if node is None:
            return False
        key = self.feeding.branch[node]
        if key:
            return net.branches[key].item.id == end.item
        return self.feeding.root[node] == end.item
