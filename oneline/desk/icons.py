"""Icons of our own from resources/icons, in one stroke weight, painted in the theme's ink at any size."""

from __future__ import annotations

from functools import lru_cache

from PySide6.QtCore import QByteArray, QRect, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QIcon, QIconEngine, QPainter, QPalette, QPixmap
from PySide6.QtSvg import QSvgRenderer
from PySide6.QtWidgets import QApplication

from oneline.assets import resource


@lru_cache(maxsize=256)
def _renderer(name: str, color: str) -> QSvgRenderer:
    text = resource("icons", f"{name}.svg").read_text(encoding="utf-8").replace("currentColor", color)
    return QSvgRenderer(QByteArray(text.encode()))


class StrokeIconEngine(QIconEngine):
    """Paints an icon's strokes in the palette's present text color, so that a change of theme needs no new icons."""

    def __init__(self, name: str) -> None:
        super().__init__()
        self._name = name

    def paint(self, painter: QPainter, rect: QRect, mode: QIcon.Mode, state: QIcon.State) -> None:
        palette = QApplication.palette()
        color = palette.color(QPalette.ColorRole.ButtonText)
        if mode == QIcon.Mode.Disabled:
            color = QColor(color)
            color.setAlphaF(0.35)
        painter.save()
        painter.setOpacity(color.alphaF())
        _renderer(self._name, color.name()).render(painter, QRectF(rect))
        painter.restore()

    def pixmap(self, size: QSize, mode: QIcon.Mode, state: QIcon.State) -> QPixmap:
        pixmap = QPixmap(size)
        pixmap.fill(Qt.GlobalColor.transparent)
        painter = QPainter(pixmap)
        self.paint(painter, QRect(0, 0, size.width(), size.height()), mode, state)
        painter.end()
        return pixmap

    def clone(self) -> QIconEngine:
        return StrokeIconEngine(self._name)


_KEPT: list[QIconEngine] = []


@lru_cache(maxsize=128)
def icon(name: str) -> QIcon:
    """An icon by its file's name. Raises ``FileNotFoundError`` when the installation lacks it."""
    resource("icons", f"{name}.svg")
    engine = StrokeIconEngine(name)
    _KEPT.append(engine)
    return QIcon(engine)
