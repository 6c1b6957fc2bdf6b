"""One graphics item for one item of the drawing: all its groups merged, painted from cached paths."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QBrush, QColor, QPainter, QPainterPath, QPen
from PySide6.QtWidgets import QGraphicsItem, QStyleOptionGraphicsItem, QWidget

from oneline.desk.painter import Inks, Op, PathOp, compile_ops, paint_ops
from oneline.sheet import Group

#: Screen pixels for one sheet unit at 100 %: a unit is a point (1/72 in) on paper, and a screen has 96 pixels an inch.
PX_PER_UNIT = 4 / 3
#: Painting order by what a group is.
_RANK = {"frame": 0, "line": 1, "symbol": 2, "label": 3, "detail": 3, "tag": 4, "mark": 5}
#: Room around the boxes for pens and for the look of selected items.
_MARGIN = 8.0


class SheetItem(QGraphicsItem):
    """Paints the groups of one item. It computes nothing and takes no events: the canvas asks the picture what was hit."""

    def __init__(self, item_id: str, inks: Inks, is_line: bool = False) -> None:
        super().__init__()
        self.item_id = item_id
        self.is_line = is_line
        self.groups: tuple[Group, ...] = ()
        self.marked = False
        self.hovered = False
        self.on_way = False
        self._inks = inks
        self._plan: list[tuple[float, list[Op]]] | None = None
        self._rect = QRectF()
        self._body = QRectF()
        self._trace: QPainterPath | None = None
        self.setAcceptedMouseButtons(Qt.MouseButton.NoButton)

    def set_groups(self, groups: tuple[Group, ...]) -> bool:
        """Take new groups; returns whether anything differs from before."""
        if groups == self.groups:
            return False
        self.prepareGeometryChange()
        self.groups = groups
        self._plan = None
        self._trace = None
        rect, body = QRectF(), QRectF()
        for g in groups:
            box = QRectF(g.box[0], g.box[1], g.box[2] - g.box[0], g.box[3] - g.box[1])
            box = box.adjusted(-0.5, -0.5, 0.5, 0.5)
            rect = rect.united(box)
            if self.part_of(g) == "symbol":
                body = body.united(box)
        self._rect = rect.adjusted(-_MARGIN, -_MARGIN, _MARGIN, _MARGIN)
        self._body = body
        self.setZValue(min((_RANK.get(self.part_of(g), 2) for g in groups), default=0))
        self.update()
        return True

    def set_marked(self, marked: bool) -> None:
        """Show or hide the look of a selected item."""
        if marked != self.marked:
            self.marked = marked
            self.update()

    def set_hovered(self, hovered: bool) -> None:
        """Show or hide the look of an item under the pointer."""
        if hovered != self.hovered:
            self.hovered = hovered
            self.update()

    def set_on_way(self, on_way: bool) -> None:
        """Show or hide the look of an item on the way by which a source reaches something."""
        if on_way != self.on_way:
            self.on_way = on_way
            self.update()

    def part_of(self, group: Group) -> str:
        """What a group is as a target. An item outside the view is drawn as ghosts: first its shape, then its words."""
        if group.part == "ghost":
            if group is not next(g for g in self.groups if g.part == "ghost"):
                return "label"
            return "line" if self.is_line else "symbol"
        return "label" if group.part == "detail" else group.part

    @property
    def body(self) -> QRectF:
        """The box around the symbol; empty for a connection."""
        return self._body

    def boundingRect(self) -> QRectF:
        return self._rect

    def paint(self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None) -> None:
        scale = option.levelOfDetailFromTransform(painter.worldTransform())
        if self._plan is None:
            ordered = sorted(self.groups, key=lambda g: _RANK.get(g.part, 2))
            self._plan = [(g.level, compile_ops(g.primitives)) for g in ordered]
        if self.on_way:
            self._paint_way(painter, scale)
        if self.marked or self.hovered:
            self._paint_look(painter, scale)
        zoom = scale / PX_PER_UNIT
        for level, ops in self._plan:
            if level <= zoom:
                paint_ops(painter, ops, self._inks, scale)

    def _paint_look(self, painter: QPainter, scale: float) -> None:
        """The look of a selected item (frame and halo) or of one under the pointer (halo only)."""
        accent = QColor(self._inks("accent"))
        halo = QColor(accent)
        halo.setAlphaF(0.22 if self.marked else 0.12)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        if not self._body.isEmpty():
            rect = self._body.adjusted(-1.5, -1.5, 1.5, 1.5)
            painter.setPen(QPen(accent, 1.6 / scale) if self.marked else Qt.PenStyle.NoPen)
            painter.setBrush(QBrush(halo))
            painter.drawRoundedRect(rect, 3, 3)
            return
        pen = QPen(halo, max(8.0, 10.0 / scale))
        pen.setCapStyle(Qt.PenCapStyle.RoundCap)
        pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
        painter.strokePath(self.trace(), pen)
        if self.marked:
            painter.strokePath(self.trace(), QPen(accent, max(3.0, 4.0 / scale)))

    def _paint_way(self, painter: QPainter, scale: float) -> None:
        """A broad band below what a source passes on its way; wider than any other look."""
        band = QColor(self._inks("accent"))
        band.setAlphaF(0.32)
        if not self._body.isEmpty():
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(QBrush(band))
            painter.drawRoundedRect(self._body.adjusted(-4, -4, 4, 4), 5, 5)
            return
        pen = QPen(band, max(12.0, 14.0 / scale))
        pen.setCapStyle(Qt.PenCapStyle.FlatCap)
        pen.setJoinStyle(Qt.PenJoinStyle.MiterJoin)
        painter.strokePath(self.trace(), pen)

    def trace(self) -> QPainterPath:
        """The path of a connection's line."""
        if self._trace is None:
            self._trace = QPainterPath()
            for g in self.groups:
                if self.part_of(g) == "line":
                    for op in compile_ops(g.primitives):
                        if isinstance(op, PathOp) and not op.fill:
                            self._trace.addPath(op.path)
        return self._trace


#: Side of the operating handle in pixels, at every zoom.
HANDLE_PX = 26.0


class SwitchHandle(QGraphicsItem):
    """A round handle beside a switch: a click on it opens or closes the switch. Always of the same size on the screen."""

    def __init__(self, inks: Inks) -> None:
        super().__init__()
        self._inks = inks
        self.item_id = ""
        self.closed = True
        self.setFlag(QGraphicsItem.GraphicsItemFlag.ItemIgnoresTransformations)
        self.setAcceptedMouseButtons(Qt.MouseButton.NoButton)
        self.setZValue(900)
        self.setVisible(False)

    def boundingRect(self) -> QRectF:
        half = HANDLE_PX / 2 + 1
        return QRectF(-half, -half, 2 * half, 2 * half)

    def paint(self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None) -> None:
        accent = QColor(self._inks("accent"))
        painter.setPen(QPen(accent, 1.4))
        painter.setBrush(QBrush(self._inks("paper")))
        half = HANDLE_PX / 2 - 1
        painter.drawEllipse(QRectF(-half, -half, 2 * half, 2 * half))
        pen = QPen(accent, 2.0)
        pen.setCapStyle(Qt.PenCapStyle.RoundCap)
        painter.setPen(pen)
        # What a click makes of it: a blade that swings out to open, an upright one to close.
        painter.drawLine(QPointF(0, -8), QPointF(0, -4))
        painter.drawLine(QPointF(0, 8), QPointF(0, 4))
        painter.drawLine(QPointF(0, 4), QPointF(5, -3) if self.closed else QPointF(0, -4))
