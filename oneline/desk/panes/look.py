"""Spacing, colours taken from the palette, and the small pictures the panes paint themselves."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QEvent, QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFont, QIcon, QPainter, QPaintEvent, QPalette, QPen, QPixmap
from PySide6.QtWidgets import QApplication, QLabel, QWidget

from oneline.sheet.inks import PALETTES

#: One step of the rhythm; every margin and gap is a multiple or a half of it.
STEP = 8
#: Height of every control.
CONTROL_PX = 28
#: Narrowest useful pane.
NARROW_PX = 300


def is_dark(palette: QPalette) -> bool:
    return palette.color(QPalette.ColorRole.Window).lightness() < 128


def ink(palette: QPalette, role: str) -> QColor:
    """Colour of an ink role of the sheet in the theme of the palette."""
    return QColor(PALETTES["dark" if is_dark(palette) else "light"][role])


def _mix(a: QColor, b: QColor, share: float) -> QColor:
    return QColor(
        round(a.red() * share + b.red() * (1 - share)),
        round(a.green() * share + b.green() * (1 - share)),
        round(a.blue() * share + b.blue() * (1 - share)),
    )


def quiet(palette: QPalette) -> QColor:
    """Text that steps back: headings, units, hints. Keeps 4.5:1 on the window and on the base."""
    return _mix(palette.color(QPalette.ColorRole.WindowText), palette.color(QPalette.ColorRole.Window), 0.72)


def hairline(palette: QPalette) -> QColor:
    return _mix(palette.color(QPalette.ColorRole.WindowText), palette.color(QPalette.ColorRole.Window), 0.18)


def edge(palette: QPalette) -> QColor:
    """The edge of a control: 3:1 against its ground in both themes."""
    share = 0.5 if is_dark(palette) else 0.58
    return _mix(palette.color(QPalette.ColorRole.WindowText), palette.color(QPalette.ColorRole.Base), share)


def draw_edge(widget: QWidget) -> None:
    """Draw the edge of an entry over what the style has drawn; the focus has the style's own frame."""
    if widget.hasFocus():
        return
    painter = QPainter(widget)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setPen(QPen(edge(widget.palette()), 1))
    painter.drawRoundedRect(QRectF(widget.rect()).adjusted(0.5, 0.5, -0.5, -0.5), 2.5, 2.5)
    painter.end()


def problem(palette: QPalette) -> QColor:
    """Text of a problem; always beside a sign or a word, never the only carrier."""
    return ink(palette, "verdict-fail")


def tabular(font: QFont) -> QFont:
    """The font with figures of one width."""
    font = QFont(font)
    font.setFeature(QFont.Tag("tnum"), 1)
    return font


def scaled(font: QFont, share: float, *, bold: bool = False) -> QFont:
    font = QFont(font)
    if font.pointSizeF() > 0:
        font.setPointSizeF(font.pointSizeF() * share)
    font.setBold(bold)
    return font


class InkLabel(QLabel):
    """A plain-text label whose ink is mixed from the palette around it and follows the theme."""

    def __init__(self, text: str = "", parent: QWidget | None = None) -> None:
        super().__init__(text, parent)
        self.setTextFormat(Qt.TextFormat.PlainText)
        self._mixing = False
        self._dip()

    def ink(self, palette: QPalette) -> QColor:
        return quiet(palette)

    def _dip(self) -> None:
        if self._mixing:
            return
        around = self.parentWidget()
        source = around.palette() if around is not None else QApplication.palette()
        wanted = self.ink(source)
        if self.palette().color(QPalette.ColorRole.WindowText) != wanted:
            own = (
                QPalette()
            )  # only the ink is its own: the rest, and with it every change of theme, comes from around it
            own.setColor(QPalette.ColorRole.WindowText, wanted)
            self._mixing = True
            self.setPalette(own)
            self._mixing = False

    def changeEvent(self, event: QEvent) -> None:
        super().changeEvent(event)
        if event.type() in (QEvent.Type.PaletteChange, QEvent.Type.ParentChange, QEvent.Type.ApplicationPaletteChange):
            self._dip()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Paint in the ink of the moment: when the theme changes, a label may hear of it before what is around it does."""
        self._dip()
        super().paintEvent(event)


class Quiet(InkLabel):
    """A label that steps back."""


class Heading(InkLabel):
    """The quiet heading above a group of fields."""

    def __init__(self, text: str = "", parent: QWidget | None = None) -> None:
        super().__init__(text, parent)
        self.setFont(scaled(self.font(), 1.0, bold=True))
        self.setContentsMargins(0, STEP, 0, 0)


class MessageLabel(InkLabel):
    """An inline message; its sign and its words carry the meaning, the colour only helps."""

    def __init__(self, parent: QWidget | None = None) -> None:
        self._problem = False
        super().__init__("", parent)
        self.setWordWrap(True)
        self.hide()

    def ink(self, palette: QPalette) -> QColor:
        return problem(palette) if self._problem else quiet(palette)

    @property
    def is_problem(self) -> bool:
        return self._problem and not self.isHidden()

    def show_problem(self, text: str) -> None:
        self._put(f"\N{WARNING SIGN}\ufe0e {text}", True)

    def show_echo(self, text: str) -> None:
        self._put(text, False)

    def clear_message(self) -> None:
        self._problem = False
        self.setText("")
        self.hide()

    def _put(self, text: str, is_problem: bool) -> None:
        self._problem = is_problem
        self._dip()
        self.setText(text)
        self.show()


def picture(size: int, ratio: float, draw: Callable[[QPainter, QRectF], None]) -> QIcon:
    """An icon painted by ``draw(painter, rect)`` at the given device pixel ratio."""
    pixmap = QPixmap(QSize(round(size * ratio), round(size * ratio)))
    pixmap.setDevicePixelRatio(ratio)
    pixmap.fill(Qt.GlobalColor.transparent)
    painter = QPainter(pixmap)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    draw(painter, QRectF(0, 0, size, size))
    painter.end()
    return QIcon(pixmap)


def draw_ring(painter: QPainter, rect: QRectF, color: QColor) -> None:
    """The small open ring that marks an unknown."""
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.setPen(QPen(color, 1.4))
    painter.drawEllipse(rect.center(), 3.6, 3.6)


def draw_letter(painter: QPainter, rect: QRectF, letter: str, color: QColor, font: QFont) -> None:
    painter.setPen(color)
    painter.setFont(font)
    painter.drawText(rect, Qt.AlignmentFlag.AlignCenter, letter)


def draw_dot(painter: QPainter, rect: QRectF, color: QColor) -> None:
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(color)
    painter.drawEllipse(QPointF(rect.center()), 2.0, 2.0)
