"""The plot of a demand record in the window: the same picture that is printed."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QPointF, QRectF, QSize
from PySide6.QtGui import QHelpEvent, QPainter, QPaintEvent, QPalette, QResizeEvent
from PySide6.QtWidgets import QSizePolicy, QToolTip, QWidget

from oneline.desk.painter import Op, compile_ops, paint_ops
from oneline.desk.panes.look import hairline, ink
from oneline.model import DemandSeries
from oneline.sheet.recordplot import PlotLines, plot_frame, record_picture, step_at
from oneline.study.record_words import shown, step_words

#: Height of a line of text of the plot as a share of the window's font, and the least in pixels.
_TEXT_SHARE, _LEAST_TEXT_PX = 0.92, 10.0


class RecordPlot(QWidget):
    """Paints a series with its peak and limits; the pointer tells the figure below it."""

    def __init__(self, parent: QWidget | None = None, height: int = 190) -> None:
        super().__init__(parent)
        self._series: DemandSeries | None = None
        self._lines = PlotLines()
        self._ops: list[Op] = []
        self._hint = QSize(320, height)
        self.setMinimumSize(QSize(200, min(height, 120)))
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Preferred)
        self.setMouseTracking(True)

    def sizeHint(self) -> QSize:
        return self._hint

    @property
    def series(self) -> DemandSeries | None:
        return self._series

    def put(self, series: DemandSeries | None, lines: PlotLines) -> None:
        """Show a series; ``None`` empties the plot."""
        if (series, lines) == (self._series, self._lines):
            return
        self._series, self._lines = series, lines
        self.setAccessibleName("Plot of the recorded demand")
        said = (
            [] if lines.peak is None or series is None else [f"Peak {shown(lines.peak, series.unit)}, {lines.peak_at}."]
        )
        said += [f"{words}." for words in (lines.counted_words, lines.rating_words) if words]
        self.setAccessibleDescription(" ".join(said))
        self._compile()

    def _text_px(self) -> float:
        return max(_LEAST_TEXT_PX, _TEXT_SHARE * self.fontInfo().pixelSize())

    def _compile(self) -> None:
        if self._series is not None and self.width() > 80 and self.height() > 60:
            room = (float(self.width()), float(self.height()))
            picture = record_picture(self._series, self._lines, *room, self._text_px())
            self._ops = compile_ops(p for group in picture.groups for p in group.primitives)
        else:
            self._ops = []
        self.update()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._compile()

    def changeEvent(self, event: QEvent) -> None:
        super().changeEvent(event)
        if event.type() in (QEvent.Type.FontChange, QEvent.Type.PaletteChange):
            self._compile()

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        palette = self.palette()
        painter.fillRect(self.rect(), palette.color(QPalette.ColorRole.Base))
        painter.setPen(hairline(palette))
        painter.drawRect(QRectF(self.rect()).adjusted(0.5, 0.5, -0.5, -0.5))
        paint_ops(painter, self._ops, lambda role: ink(palette, role), 1.0)
        painter.end()

    def words_at(self, at: QPointF) -> str:
        """What was recorded at a place of the plot."""
        if self._series is None:
            return ""
        frame = plot_frame(self._series, self._lines, float(self.width()), float(self.height()), self._text_px())
        found = step_at(self._series, frame, at.x())
        if found is None or not frame.left <= at.x() <= frame.right:
            return ""
        begin, value = found
        when = f"{begin:%b} {begin.day}, {begin.year}"
        when += "" if self._series.step_min >= 1440 else f", {begin:%H:%M}"
        told = "not recorded" if value is None else f"highest {shown(value, self._series.unit)}"
        return f"{when}, {step_words(self._series.step_min)}: {told}"

    def event(self, event: QEvent) -> bool:
        if event.type() == QEvent.Type.ToolTip and isinstance(event, QHelpEvent):
            words = self.words_at(QPointF(event.pos()))
            if words:
                QToolTip.showText(event.globalPos(), words, self)
            else:
                QToolTip.hideText()
            return True
        return super().event(event)
