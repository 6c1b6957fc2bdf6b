"""What a running gesture draws over the sheet: one item above all others, so that only its own area is repainted."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QBrush, QColor, QFont, QFontMetricsF, QPainter, QPainterPath, QPen
from PySide6.QtWidgets import QGraphicsItem, QStyleOptionGraphicsItem, QWidget

from oneline.desk.painter import Inks, Op, compile_ops, paint_ops, picture_rect
from oneline.desk.tools.base import Point
from oneline.sheet import Picture

_NOTE_PX = 13


class Overlay(QGraphicsItem):
    """Bands, wires, rings, frames, ghosts and notes. Tools call ``clear`` and draw anew; nothing here outlives a gesture."""

    def __init__(self, inks: Inks, rect_of: Callable[[str], QRectF]) -> None:
        super().__init__()
        self._inks = inks
        self._rect_of = rect_of
        self._bands: list[QRectF] = []
        self._wires: list[tuple[QPainterPath, bool]] = []
        self._rings: list[Point] = []
        self._frames: list[QRectF] = []
        self._ghost: tuple[list[Op], QRectF, Point] | None = None
        self._ghost_of: Picture | None = None
        self._notes: list[tuple[Point, str]] = []
        self._rect = QRectF()
        self.pixels_per_unit = 1.0
        self.setZValue(1000)
        self.setAcceptedMouseButtons(Qt.MouseButton.NoButton)

    @property
    def empty(self) -> bool:
        """Whether nothing is drawn over the sheet."""
        return not (self._bands or self._wires or self._rings or self._frames or self._notes or self._ghost)

    # ------------------------------------------------------------------------------------------------ drawing orders
    def clear(self) -> None:
        """Take everything away."""
        if self.empty:
            return
        for shapes in (self._bands, self._wires, self._rings, self._frames, self._notes):
            shapes.clear()
        self._ghost = None
        self._changed()

    def band(self, a: Point, b: Point) -> None:
        """A selection rectangle."""
        self._bands.append(QRectF(QPointF(*a), QPointF(*b)).normalized())
        self._changed()

    def wire(self, points: list[Point], joined: bool) -> None:
        """A connection in the making."""
        path = QPainterPath(QPointF(*points[0]))
        for point in points[1:]:
            path.lineTo(*point)
        self._wires.append((path, joined))
        self._changed()

    def ring(self, at: Point) -> None:
        """A terminal that would be used."""
        self._rings.append(at)
        self._changed()

    def frame(self, item_id: str) -> None:
        """An item that would be used."""
        self._frames.append(self._rect_of(item_id))
        self._changed()

    def ghost(self, picture: Picture, shift: Point) -> None:
        """An item that would be placed."""
        if self._ghost is None or self._ghost_of is not picture:
            ops = [op for g in picture.groups if g.part in ("symbol", "line") for op in compile_ops(g.primitives)]
            self._ghost_of = picture
        else:
            ops = self._ghost[0]
        self._ghost = (ops, picture_rect(picture), shift)
        self._changed()

    def note(self, at: Point, text: str) -> None:
        """A short text beside a point."""
        self._notes.append((at, text))
        self._changed()

    # ------------------------------------------------------------------------------------------------------- painting
    def _changed(self) -> None:
        rect = QRectF()
        px = 1 / max(self.pixels_per_unit, 0.05)
        for band in self._bands:
            rect = rect.united(band)
        for path, _ in self._wires:
            rect = rect.united(path.boundingRect().adjusted(-1, -1, 1, 1))
        for x, y in self._rings:
            rect = rect.united(QRectF(x - 14 * px, y - 14 * px, 28 * px, 28 * px))
        for frame in self._frames:
            rect = rect.united(frame)
        if self._ghost is not None:
            rect = rect.united(self._ghost[1].translated(*self._ghost[2]))
        for at, text in self._notes:
            rect = rect.united(self._note_rect(at, text))
        self.prepareGeometryChange()
        self._rect = rect.adjusted(-8 * px, -8 * px, 8 * px, 8 * px) if not rect.isNull() else rect
        self.update()

    def _note_font(self) -> QFont:
        font = QFont()
        font.setPixelSize(_NOTE_PX)
        return font

    def _note_rect(self, at: Point, text: str) -> QRectF:
        """Where a note is painted, in sheet units."""
        px = 1 / max(self.pixels_per_unit, 0.05)
        metrics = QFontMetricsF(self._note_font())
        width, height = metrics.horizontalAdvance(text) + 16, metrics.height() + 8
        return QRectF(at[0] + 16 * px, at[1] + 14 * px, width * px, height * px)

    def boundingRect(self) -> QRectF:
        return self._rect

    def paint(self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None) -> None:
        scale = option.levelOfDetailFromTransform(painter.worldTransform())
        accent = QColor(self._inks("accent"))
        faint = QColor(accent)
        faint.setAlphaF(0.14)
        px = 1 / scale
        for rect in self._frames:
            painter.setPen(QPen(accent, 2 * px))
            painter.setBrush(QBrush(faint))
            painter.drawRoundedRect(rect, 4, 4)
        for band in self._bands:
            painter.setPen(QPen(accent, px, Qt.PenStyle.DashLine))
            painter.setBrush(QBrush(faint))
            painter.drawRect(band)
        for path, joined in self._wires:
            pen = QPen(accent, 2.2 * px, Qt.PenStyle.SolidLine if joined else Qt.PenStyle.DashLine)
            pen.setJoinStyle(Qt.PenJoinStyle.MiterJoin)
            painter.strokePath(path, pen)
        if self._ghost is not None:
            ops, _, shift = self._ghost
            painter.save()
            painter.translate(*shift)
            painter.setOpacity(0.65)
            paper = QColor(self._inks("paper"))
            paint_ops(painter, ops, lambda role: paper if role in ("paper", "fill-panel") else accent, scale)
            painter.restore()
        painter.setPen(QPen(accent, 2 * px))
        for at in self._rings:
            painter.setBrush(QBrush(self._inks("paper")))
            painter.drawEllipse(QPointF(*at), 5 * px, 5 * px)
        self._paint_notes(painter, px)

    def _paint_notes(self, painter: QPainter, px: float) -> None:
        for at, text in self._notes:
            rect = self._note_rect(at, text)
            painter.save()
            painter.translate(rect.topLeft())
            painter.scale(px, px)
            size = QRectF(0, 0, rect.width() / px, rect.height() / px)
            painter.setPen(QPen(self._inks("accent"), 1))
            painter.setBrush(QBrush(self._inks("paper")))
            painter.drawRoundedRect(size.adjusted(0.5, 0.5, -0.5, -0.5), 4, 4)
            painter.setPen(self._inks("ink"))
            painter.setFont(self._note_font())
            painter.drawText(size, Qt.AlignmentFlag.AlignCenter, text)
            painter.restore()
