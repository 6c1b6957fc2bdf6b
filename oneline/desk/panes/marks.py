"""The verdict marks of the sheet, painted small for lists and buttons."""

from __future__ import annotations

from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QColor, QIcon, QPainter, QPalette, QPixmap

from oneline.desk.painter import compile_ops, paint_ops
from oneline.desk.panes.look import ink, quiet
from oneline.sheet.display import Primitive
from oneline.sheet.marks import MARK_SIZE, mark_shape

#: Grid units that a mark may take each way, its widest corner included.
_ROOM = MARK_SIZE + 1.6


def mark_pixmap(
    state: str, palette: QPalette, size: int, ratio: float, all_in: QPalette.ColorRole | None = None
) -> QPixmap:
    """The mark of a state. ``all_in``: paint it in one colour of the palette, for marked rows."""
    pixmap = QPixmap(QSize(round(size * ratio), round(size * ratio)))
    pixmap.setDevicePixelRatio(ratio)
    pixmap.fill(Qt.GlobalColor.transparent)
    painter = QPainter(pixmap)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    shape = mark_shape(state)
    if shape:
        _paint_shape(painter, shape, size, palette, all_in)
    else:
        painter.setPen(quiet(palette) if all_in is None else palette.color(all_in))
        painter.drawText(QRectF(0, 0, size, size), Qt.AlignmentFlag.AlignCenter, "–")
    painter.end()
    return pixmap


def mark_icon(state: str, palette: QPalette, size: int, ratio: float) -> QIcon:
    """The mark of a state as an icon."""
    return QIcon(mark_pixmap(state, palette, size, ratio))


def _paint_shape(
    painter: QPainter, shape: tuple[Primitive, ...], size: int, palette: QPalette, all_in: QPalette.ColorRole | None
) -> None:
    scale = size / _ROOM
    painter.translate(size / 2, size / 2)
    painter.scale(scale, scale)

    def color(role: str) -> QColor:
        if all_in is None:
            return ink(palette, role)
        other = (
            QPalette.ColorRole.Highlight if all_in == QPalette.ColorRole.HighlightedText else QPalette.ColorRole.Base
        )
        return palette.color(other if role == "paper" else all_in)

    paint_ops(painter, compile_ops(shape), color, scale)
