"""The scene: keeps one graphics item per drawing item in step with the picture, and answers what lies where."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable

from PySide6.QtCore import QPointF, QRectF
from PySide6.QtGui import QColor
from PySide6.QtWidgets import QGraphicsScene

from oneline.desk.scene_items import HANDLE_PX, PX_PER_UNIT, SheetItem, SwitchHandle
from oneline.desk.tools.base import NOTHING, Hit, Point
from oneline.desk.tools.growth import segments
from oneline.sheet import Group, Picture

#: Half the side of the smallest target, in pixels.
REACH_PX = 12.0
#: So near to a terminal the terminal itself is meant and not the line that ends there: pixels, and at most sheet units.
_AT_TERMINAL_PX, _AT_TERMINAL = 5.0, 6.0
#: Room at the left of a symbol for its mark and its neutral bond, before the handle.
_BESIDE = 14.0
#: How far the paper reaches beyond what is drawn.
_PAPER = 20_000.0


class SheetScene(QGraphicsScene):
    """The sheet as a scene. ``sync`` is the only way in: it changes exactly the items whose groups changed."""

    def __init__(self, inks: Callable[[str], QColor]) -> None:
        super().__init__()
        self._inks = inks
        self.picture = Picture((), (0.0, 0.0, 0.0, 0.0), {})
        self.sheet_items: dict[str, SheetItem] = {}
        self.updated_last = 0
        self._terminals_of: dict[str, list[tuple[str, Point]]] = {}
        self.handle = SwitchHandle(inks)
        self.addItem(self.handle)
        self.setSceneRect(QRectF(-_PAPER, -_PAPER, 2 * _PAPER, 2 * _PAPER))
        self.setItemIndexMethod(QGraphicsScene.ItemIndexMethod.BspTreeIndex)
        self.setBspTreeDepth(10)

    def sync(self, picture: Picture) -> None:
        """Show a picture."""
        for slid in self.sheet_items.values():
            if slid.x() or slid.y():
                slid.setPos(0.0, 0.0)
        if picture is self.picture:
            return
        self.picture = picture
        grouped: dict[str, list[Group]] = {}
        for group in picture.groups:
            grouped.setdefault(group.item, []).append(group)
        for item_id in [i for i in self.sheet_items if i not in grouped]:
            self.removeItem(self.sheet_items.pop(item_id))
        self.updated_last = 0
        self._terminals_of = {}
        for (item_id, terminal), at in picture.terminals.items():
            self._terminals_of.setdefault(item_id, []).append((terminal, at))
        for item_id, groups in grouped.items():
            item = self.sheet_items.get(item_id)
            if item is None:
                item = self.sheet_items[item_id] = SheetItem(item_id, self._inks, item_id not in self._terminals_of)
                item.set_groups(tuple(groups))
                self.addItem(item)
                self.updated_last += 1
            elif item.set_groups(tuple(groups)):
                self.updated_last += 1

    def mark(self, item_ids: Iterable[str]) -> None:
        """Give these items the look of selected ones."""
        wanted = set(item_ids)
        for item_id, item in self.sheet_items.items():
            item.set_marked(item_id in wanted)

    def mark_way(self, item_ids: Iterable[str]) -> None:
        """Give these items the look of a way, all others not."""
        wanted = set(item_ids)
        for item_id, item in self.sheet_items.items():
            item.set_on_way(item_id in wanted)

    def recolor(self) -> None:
        """Paint everything anew, in the colors of another theme."""
        for item in self.sheet_items.values():
            item.update()
        self.update()

    # ------------------------------------------------------------------------------------------------ what is where
    def hit(self, at: Point, pixels_per_unit: float) -> Hit:
        """What lies at a point: a terminal, a mark, a symbol, a line or words; targets are at least 24 pixels wide."""
        reach = REACH_PX / max(pixels_per_unit, 0.05)
        if self.handle.isVisible():
            away = self.handle.pos()
            half = HANDLE_PX / 2 / pixels_per_unit
            if abs(at[0] - away.x()) <= half and abs(at[1] - away.y()) <= half:
                return Hit("blade", self.handle.item_id)
        around = QRectF(at[0] - reach, at[1] - reach, 2 * reach, 2 * reach)
        found = [i for i in self.items(around) if isinstance(i, SheetItem)]
        terminal = self._terminal_at(at, found, reach)
        if terminal is not None:
            return terminal
        zoom = pixels_per_unit / PX_PER_UNIT
        best: tuple[float, float, Hit] | None = None
        for item in found:
            if not item.item_id:
                continue
            for group in item.groups:
                if group.level > zoom:
                    continue
                rank = _rank(group, item.part_of(group), at, reach)
                if rank is not None and (best is None or rank < best[:2]):
                    best = (*rank, Hit(item.part_of(group), item.item_id))
        return best[2] if best is not None else NOTHING

    def _terminal_at(self, at: Point, found: list[SheetItem], reach: float) -> Hit | None:
        best: tuple[float, Hit] | None = None
        for item in found:
            inside = item.body.contains(*at)
            for terminal, point in self._terminals_of.get(item.item_id, ()):
                distance = math.dist(at, point)
                limit = min(reach, item.body.height() * 0.3) if inside else reach
                if distance <= limit and terminal != "bus" and (best is None or distance < best[0]):
                    best = (distance, Hit("terminal", item.item_id, terminal))
        return None if best is None else best[1]

    def aim(self, at: Point, pixels_per_unit: float) -> Hit:
        """What something new at a point would be joined to: a terminal, a symbol or a line.

        Only what conducts counts: marks and words, which may stand on a line, are no targets. A terminal is meant within
        a few pixels of itself, a symbol inside its body; else the nearest line within reach, else the nearest symbol.
        """
        ppu = max(pixels_per_unit, 0.05)
        reach = REACH_PX / ppu
        around = QRectF(at[0] - reach, at[1] - reach, 2 * reach, 2 * reach)
        found = [i for i in self.items(around) if isinstance(i, SheetItem) and i.item_id]
        terminal = self._terminal_at(at, found, min(_AT_TERMINAL_PX / ppu, _AT_TERMINAL))
        if terminal is not None:
            return terminal
        bodies = [(_off(item.body, at), item.item_id) for item in found if not item.body.isEmpty()]
        off, nearest = min(bodies, default=(math.inf, ""))
        if off <= 0:
            return Hit("symbol", nearest)
        line = self.line_at(at, pixels_per_unit)
        if line is not None:
            return Hit("line", line)
        return Hit("symbol", nearest) if off <= reach else NOTHING

    def line_at(self, at: Point, pixels_per_unit: float) -> str | None:
        """The nearest line within reach of a point."""
        reach = REACH_PX / max(pixels_per_unit, 0.05)
        best: tuple[float, str] | None = None
        for item in self.items(QRectF(at[0] - reach, at[1] - reach, 2 * reach, 2 * reach)):
            if not isinstance(item, SheetItem):
                continue
            pieces = [s for g in item.groups if item.part_of(g) == "line" for s in segments(g)]
            distance = min((_distance(at, s) for s in pieces), default=math.inf)
            if distance <= reach and (best is None or distance < best[0]):
                best = (distance, item.item_id)
        return None if best is None else best[1]

    def route_of(self, item_id: str) -> list[Point]:
        """The corners of a line as it is drawn, from its first to its last point."""
        return list(self.picture.routes.get(item_id, ()))

    def words_corner(self, item_id: str) -> QPointF:
        """Top left of an item's words; beside its symbol when it has none."""
        item = self.sheet_items.get(item_id)
        if item is None:
            return QPointF()
        for group in item.groups:
            if group.part == "label":
                return QPointF(group.box[0], group.box[1])
        return item.body.topRight() if not item.body.isEmpty() else item.trace().boundingRect().center()

    def show_handle(self, item_id: str | None, closed: bool, pixels_per_unit: float) -> None:
        """Put the operating handle beside a switch, or take it away."""
        item = self.sheet_items.get(item_id or "")
        if item is None or item.body.isEmpty() or item_id is None:
            self.handle.setVisible(False)
            self.handle.item_id = ""
            return
        self.handle.item_id = item_id
        self.handle.closed = closed
        self.handle.setPos(self._free_beside(item, pixels_per_unit))
        self.handle.setVisible(True)
        self.handle.update()

    def _free_beside(self, item: SheetItem, pixels_per_unit: float) -> QPointF:
        """Where the handle covers no symbol and no words: left of the switch, else beyond its words, else as it comes."""
        body, half = item.body, (HANDLE_PX / 2 + 2) / pixels_per_unit
        zoom = pixels_per_unit / PX_PER_UNIT
        words = [_rect(g) for g in item.groups if item.part_of(g) == "label" and g.level <= zoom]
        left = body.left() - _BESIDE - half
        right = max([w.right() for w in words] + [body.right()]) + half
        below = max([w.bottom() for w in words] + [body.bottom()]) + half
        high, low = body.top() + half, body.bottom() - half
        places = [
            QPointF(left, body.center().y()), QPointF(left, high), QPointF(left, low), QPointF(right, body.center().y()),
            QPointF(right, high), QPointF(right, low), QPointF(body.right() + half, below),
            QPointF(left, body.top() - half), QPointF(left, body.bottom() + half),
        ]  # fmt: skip
        around = body.united(QRectF(left, body.top(), right - left, below - body.top()))
        around = around.adjusted(-2 * half, -2 * half, 2 * half, 2 * half)
        taken = [
            _rect(g)
            for other in self.items(around)
            if isinstance(other, SheetItem) and other.item_id
            for g in other.groups
            if g.level <= zoom and other.part_of(g) in ("label", "symbol", "mark")
        ]
        for at in places:
            rect = QRectF(at.x() - half, at.y() - half, 2 * half, 2 * half)
            if not any(rect.intersects(box) for box in taken):
                return at
        return places[0]

    def near_handle(self, at: Point) -> bool:
        """Whether a point lies between the handle and its switch, where the handle must not vanish."""
        item = self.sheet_items.get(self.handle.item_id)
        if item is None or not self.handle.isVisible():
            return False
        reach = HANDLE_PX
        near = QRectF(self.handle.pos(), self.handle.pos()).adjusted(-reach, -reach, reach, reach)
        return near.united(item.body).contains(*at)

    def inside(self, a: Point, b: Point) -> list[str]:
        """Items whose symbol (or whole line) lies inside the rectangle of two corners."""
        rect = QRectF(min(a[0], b[0]), min(a[1], b[1]), abs(a[0] - b[0]), abs(a[1] - b[1]))
        chosen = []
        for item_id, item in self.sheet_items.items():
            body = item.body if not item.body.isEmpty() else item.trace().boundingRect()
            if item_id and rect.contains(body.adjusted(0, 0, 0.01, 0.01)):
                chosen.append(item_id)
        return chosen

    def rect_of(self, item_ids: Iterable[str]) -> QRectF:
        """The rectangle around some items, words included."""
        rect = QRectF()
        for item_id in item_ids:
            item = self.sheet_items.get(item_id)
            if item is not None:
                rect = rect.united(item.boundingRect())
        return rect


def _rank(group: Group, part: str, at: Point, reach: float) -> tuple[float, float] | None:
    """How good a target the group is: marks before symbols before lines before words, then the nearest, then the smallest."""
    left, top, right, bottom = group.box
    if part == "line":
        distance = min((_distance(at, s) for s in segments(group)), default=math.inf)
        return (3.0, distance) if distance <= reach else None
    wide = max(0.0, reach - (right - left) / 2)
    high = max(0.0, reach - (bottom - top) / 2)
    if not (left - wide <= at[0] <= right + wide and top - high <= at[1] <= bottom + high):
        return None
    order = {"mark": 0.0, "symbol": 1.0, "tag": 4.0}.get(part, 5.0)
    off = max(left - at[0], at[0] - right, top - at[1], at[1] - bottom, 0.0)
    if part == "symbol" and off > 0:
        order = 2.0
    return order, off + (right - left) * (bottom - top) * 1e-7


def _rect(group: Group) -> QRectF:
    """The box of a group."""
    left, top, right, bottom = group.box
    return QRectF(left, top, right - left, bottom - top)


def _off(rect: QRectF, at: Point) -> float:
    """How far a point is outside a rectangle, 0 inside."""
    across = max(rect.left() - at[0], 0.0, at[0] - rect.right())
    return math.hypot(across, max(rect.top() - at[1], 0.0, at[1] - rect.bottom()))


def _distance(p: Point, piece: tuple[Point, Point]) -> float:
    (ax, ay), (bx, by) = piece
    dx, dy = bx - ax, by - ay
    length = dx * dx + dy * dy
    t = 0.0 if length == 0 else max(0.0, min(1.0, ((p[0] - ax) * dx + (p[1] - ay) * dy) / length))
    return math.hypot(p[0] - ax - t * dx, p[1] - ay - t * dy)
