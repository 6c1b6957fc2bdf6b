"""The paper under the drawing: zooms at a point, pans, and paints the dot grid. Knows nothing of drawings or tools."""

from __future__ import annotations

from typing import NamedTuple

from PySide6.QtCore import QEvent, QPoint, QPointF, QRect, QRectF, Qt, Signal
from PySide6.QtGui import QColor, QNativeGestureEvent, QPainter, QPen, QTransform, QWheelEvent
from PySide6.QtWidgets import QFrame, QGestureEvent, QGraphicsScene, QGraphicsView, QPinchGesture, QWidget

from oneline.desk.painter import Inks
from oneline.desk.scene_items import PX_PER_UNIT
from oneline.desk.tools.base import GRID

#: Smallest and largest zoom; 1 is 100 %.
ZOOM_RANGE = (0.05, 8.0)
_STEP = 1.2
#: Least zoom at which names can be read, and the zoom at which a drawing that is too large for that is opened.
READABLE, OPENING = 0.6, 0.8
#: Paper left free around what is fitted, in sheet units, and the largest zoom of fitting: small things are not blown up.
_MARGIN, _MOST_FIT = 2 * GRID, 1.5
#: Pixels between grid dots below which they fade, and where they are gone.
_GRID_PX = (11.0, 6.0)


class Look(NamedTuple):
    """What a view shows: its zoom, the point of the sheet at its middle, and whether it shows all at every size."""

    share: float
    middle: QPointF
    fitted: bool


class PaperView(QGraphicsView):
    """A view on endless paper. The wheel pans, Ctrl and the wheel (or a pinch) zooms at the pointer."""

    zoomed = Signal(float)

    def __init__(self, scene: QGraphicsScene, inks: Inks, parent: QWidget | None = None) -> None:
        super().__init__(scene, parent)
        self._inks = inks
        self.grid_shown = True
        #: Whether the view shows all of the drawing since nobody zoomed or panned; then it does so at every size.
        self.fitted = False
        #: Whether the view stands as a drawing was opened since nobody zoomed or panned.
        self.as_opened = False
        self._set_up_view()

    def _set_up_view(self) -> None:
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setRenderHint(QPainter.RenderHint.Antialiasing)
        self.setViewportUpdateMode(QGraphicsView.ViewportUpdateMode.MinimalViewportUpdate)
        self.setOptimizationFlag(QGraphicsView.OptimizationFlag.DontSavePainterState)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setTransformationAnchor(QGraphicsView.ViewportAnchor.NoAnchor)
        self.setResizeAnchor(QGraphicsView.ViewportAnchor.AnchorViewCenter)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.viewport().setMouseTracking(True)
        self.viewport().setAttribute(Qt.WidgetAttribute.WA_AcceptTouchEvents)
        self.viewport().grabGesture(Qt.GestureType.PinchGesture)
        self.set_zoom(1.0)

    # ---------------------------------------------------------------------------------------------------------- zoom
    @property
    def zoom(self) -> float:
        """Screen pixels for one unit of the sheet."""
        return self.transform().m11()

    @property
    def zoom_share(self) -> float:
        """The zoom as the user reads it: 1 is 100 %."""
        return self.zoom / PX_PER_UNIT

    def set_zoom(self, share: float) -> None:
        """Zoom about the corner of the view."""
        share = min(max(share, ZOOM_RANGE[0]), ZOOM_RANGE[1])
        self.fitted = self.as_opened = False
        scale = share * PX_PER_UNIT
        self.setTransform(QTransform.fromScale(scale, scale))
        self.zoomed.emit(share)

    def zoom_at(self, share: float, anchor: QPointF) -> None:
        """Zoom so that the sheet stays where it is under the anchor (in viewport pixels)."""
        before = self.to_sheet(anchor)
        self.set_zoom(share)
        after = self.to_screen(before)
        self._scroll(after - anchor)
        self.viewport().update()

    def zoom_by(self, factor: float, anchor: QPointF | None = None) -> None:
        """Zoom by a factor, at the middle of the view by default."""
        self.zoom_at(self.zoom_share * factor, anchor or QRectF(self.viewport().rect()).center())

    def zoom_in(self) -> None:
        self.zoom_by(_STEP)

    def zoom_out(self) -> None:
        self.zoom_by(1 / _STEP)

    def zoom_full(self) -> None:
        """100 %."""
        self.zoom_at(1.0, QRectF(self.viewport().rect()).center())

    def fitting_share(self, rect: QRectF) -> float:
        """The zoom at which a rectangle of the sheet and the paper around it fill the view."""
        view = self.viewport().rect()
        return min(
            view.width() / (rect.width() + 2 * _MARGIN) / PX_PER_UNIT,
            view.height() / (rect.height() + 2 * _MARGIN) / PX_PER_UNIT,
            _MOST_FIT,
        )

    def fit_rect(self, rect: QRectF) -> None:
        """Show all of a rectangle of the sheet."""
        self.set_zoom(self.fitting_share(rect))
        self.centerOn(rect.center())
        self.viewport().update()

    def open_on(self, rect: QRectF, lead: QRectF) -> None:
        """Show all of a drawing where its names can be read then; else, large enough to read, the part around ``lead``.

        The view does not reach beyond the drawing where there is more of it to show on the other side.
        """
        if self.fitting_share(rect) >= READABLE:
            self.fit_rect(rect)
            self.fitted = True
            return
        self.set_zoom(OPENING)
        paper = rect.adjusted(-_MARGIN, -_MARGIN, _MARGIN, _MARGIN)
        half_w, half_h = (size / self.zoom / 2 for size in (self.viewport().width(), self.viewport().height()))
        x = _within(lead.center().x(), paper.left() + half_w, paper.right() - half_w)
        y = _within(lead.center().y(), paper.top() + half_h, paper.bottom() - half_h)
        self.centerOn(x, y)
        self.viewport().update()
        self.as_opened = True

    def to_sheet(self, screen: QPointF) -> QPointF:
        """The point of the sheet at a pixel of the viewport."""
        inverse, _ = self.viewportTransform().inverted()
        return inverse.map(screen)

    def to_screen(self, sheet: QPointF) -> QPointF:
        """The pixel of the viewport at a point of the sheet."""
        return self.viewportTransform().map(sheet)

    def _scroll(self, by: QPointF | QPoint) -> None:
        across, down = self.horizontalScrollBar(), self.verticalScrollBar()
        across.setValue(across.value() + round(by.x()))
        down.setValue(down.value() + round(by.y()))

    @property
    def look(self) -> Look:
        """What is shown now."""
        return Look(self.zoom_share, self.to_sheet(QRectF(self.viewport().rect()).center()), self.fitted)

    def look_as(self, look: Look) -> None:
        """Show again what was shown."""
        self.set_zoom(look.share)
        self.centerOn(look.middle)
        self.fitted = look.fitted

    def pan_by(self, dx: float, dy: float) -> None:
        """Move the paper by pixels."""
        self.fitted = self.as_opened = False
        self._scroll(QPointF(-dx, -dy))

    # -------------------------------------------------------------------------------------------------------- painting
    def drawBackground(self, painter: QPainter, rect: QRectF | QRect) -> None:
        painter.fillRect(rect, self._inks("paper"))
        gap = GRID
        spacing = gap * self.zoom
        if not self.grid_shown or spacing <= _GRID_PX[1]:
            return
        color = QColor(self._inks("grid"))
        color.setAlphaF(min(1.0, (spacing - _GRID_PX[1]) / (_GRID_PX[0] - _GRID_PX[1])))
        pen = QPen(color, 2)
        pen.setCosmetic(True)
        pen.setCapStyle(Qt.PenCapStyle.RoundCap)
        painter.setPen(pen)
        left, top = int(rect.left() // gap), int(rect.top() // gap)
        right, bottom = int(rect.right() // gap) + 1, int(rect.bottom() // gap) + 1
        painter.drawPoints([QPointF(x * gap, y * gap) for y in range(top, bottom + 1) for x in range(left, right + 1)])

    def wheelEvent(self, event: QWheelEvent) -> None:
        turn, fine = event.angleDelta(), event.pixelDelta()
        if event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            self.zoom_by(_STEP ** (turn.y() / 120), event.position())
        else:
            moved = QPointF(fine) if not fine.isNull() else QPointF(turn) * 0.6
            if event.modifiers() & Qt.KeyboardModifier.ShiftModifier and moved.x() == 0:
                moved = QPointF(moved.y(), 0)
            self.pan_by(moved.x(), moved.y())
        event.accept()

    def viewportEvent(self, event: QEvent) -> bool:
        if event.type() == QEvent.Type.Gesture and isinstance(event, QGestureEvent):
            pinch = event.gesture(Qt.GestureType.PinchGesture)
            if isinstance(pinch, QPinchGesture):
                moved = pinch.centerPoint() - pinch.lastCenterPoint()
                self.pan_by(moved.x(), moved.y())
                self.zoom_by(pinch.scaleFactor(), QPointF(self.viewport().mapFromGlobal(pinch.centerPoint().toPoint())))
                return True
        if isinstance(event, QNativeGestureEvent) and event.gestureType() == Qt.NativeGestureType.ZoomNativeGesture:
            self.zoom_by(1 + event.value(), event.position())
            return True
        return super().viewportEvent(event)


def _within(value: float, low: float, high: float) -> float:
    """A number held between two others; their middle where they have changed places."""
    return (low + high) / 2 if low > high else min(max(value, low), high)
