"""Paints groups of the display list with Qt. Knows strokes, arcs and texts; knows nothing of what they stand for."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import lru_cache

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QBrush, QColor, QFont, QFontMetricsF, QPainter, QPainterPath, QPen, QStaticText, QTransform

from oneline.sheet import Arc, Group, Picture, Stroke, Text
from oneline.sheet.display import Primitive
from oneline.sheet.inks import CANVAS_WIDTH_PX, DASH_UNITS
from oneline.sheet.metrics import FALLBACK_FAMILIES, FONT_FAMILY, text_width

#: Least width of the line weights on a screen, in pixels.
LEAST_PX = {"heavy": 2.4, "medium": 1.6, "thin": 1.0, "hair": 0.7}
#: Texts are set at this size and scaled, so that zooming never changes their proportions.
_EM = 48
#: Below this many pixels an em is painted as a line, and below that not at all.
_GREEK_PX = 3.5
_NO_TEXT_PX = 1.6

Inks = Callable[[str], QColor]


@dataclass(slots=True)
class PathOp:
    """Strokes of one style, merged."""

    path: QPainterPath
    weight: str
    dash: str
    ink: str
    fill: str


@dataclass(slots=True)
class TextOp:
    """One line of text, laid out once. ``x`` is its left edge, ``y`` its baseline."""

    static: QStaticText
    face: str
    x: float
    y: float
    size: float
    width: float
    stretch: float
    ascent: float
    ink: str


Op = PathOp | TextOp


@lru_cache(maxsize=8)
def face_font(face: str) -> QFont:
    """The font of a face at the size texts are laid out in."""
    font = QFont([FONT_FAMILY, *FALLBACK_FAMILIES])
    font.setPixelSize(_EM)
    font.setHintingPreference(QFont.HintingPreference.PreferNoHinting)
    font.setBold(face == "bold")
    font.setItalic(face == "italic")
    return font


def compile_ops(primitives: Iterable[Primitive]) -> list[Op]:
    """Turn primitives into what the painter repeats on every frame; neighbors of one style share a path."""
    ops: list[Op] = []
    for p in primitives:
        if isinstance(p, Text):
            if p.text:
                ops.append(_text_op(p))
            continue
        last = ops[-1] if ops else None
        if not (
            isinstance(last, PathOp)
            and (last.weight, last.dash, last.ink, last.fill) == (p.weight, p.dash, p.ink, p.fill)
            and not p.fill
        ):
            last = PathOp(QPainterPath(), p.weight, p.dash, p.ink, p.fill)
            ops.append(last)
        if isinstance(p, Stroke):
            _add_stroke(last.path, p)
        else:
            _add_arc(last.path, p)
    return ops


def _add_stroke(path: QPainterPath, stroke: Stroke) -> None:
    if not stroke.points:
        return
    path.moveTo(*stroke.points[0])
    for point in stroke.points[1:]:
        path.lineTo(*point)
    if stroke.closed:
        path.closeSubpath()


def _add_arc(path: QPainterPath, arc: Arc) -> None:
    (x, y), r = arc.center, arc.radius
    if arc.sweep_deg >= 360:
        path.addEllipse(QPointF(x, y), r, r)
        return
    rect = QRectF(x - r, y - r, 2 * r, 2 * r)
    path.arcMoveTo(rect, arc.start_deg)
    path.arcTo(rect, arc.start_deg, arc.sweep_deg)


def _text_op(text: Text) -> TextOp:
    font = face_font(text.face)
    metrics = QFontMetricsF(font)
    natural = metrics.horizontalAdvance(text.text) * text.size / _EM
    wanted = text_width(text.text, text.size, text.face)
    stretch = min(1.0, wanted / natural) if natural > 0 else 1.0
    width = natural * stretch
    shift = {"start": 0.0, "middle": width / 2, "end": width}[text.anchor]
    static = QStaticText(text.text)
    static.setTextFormat(Qt.TextFormat.PlainText)
    static.setPerformanceHint(QStaticText.PerformanceHint.AggressiveCaching)
    static.prepare(QTransform(), font)
    return TextOp(
        static, text.face, text.at[0] - shift, text.at[1], text.size, width, stretch, metrics.ascent(), text.ink
    )


@lru_cache(maxsize=512)
def _pen(weight: str, dash: str, rgba: int, sixteenths: int) -> QPen:
    """A pen for a zoom given in sixteenths of a power of two, so that few different pens are made."""
    pixels_per_unit = 2 ** (sixteenths / 16)
    width = max(CANVAS_WIDTH_PX[weight], LEAST_PX[weight] / pixels_per_unit)
    pen = QPen(QColor.fromRgba(rgba), width)
    pen.setCapStyle(Qt.PenCapStyle.FlatCap if dash != "solid" else Qt.PenCapStyle.SquareCap)
    pen.setJoinStyle(Qt.PenJoinStyle.MiterJoin)
    pattern = DASH_UNITS.get(dash, ())
    if pattern:
        pen.setDashPattern([length / width for length in pattern])
    return pen


def paint_ops(painter: QPainter, ops: Iterable[Op], inks: Inks, pixels_per_unit: float) -> None:
    """Paint compiled primitives. ``pixels_per_unit`` is the present zoom of the painter."""
    step = round(math.log2(max(pixels_per_unit, 0.01)) * 16)
    for op in ops:
        if isinstance(op, TextOp):
            _paint_text(painter, op, inks, pixels_per_unit)
            continue
        painter.setPen(_pen(op.weight, op.dash, inks(op.ink).rgba(), step))
        painter.setBrush(QBrush(inks(op.fill)) if op.fill else Qt.BrushStyle.NoBrush)
        painter.drawPath(op.path)


def _paint_text(painter: QPainter, op: TextOp, inks: Inks, pixels_per_unit: float) -> None:
    height = op.size * pixels_per_unit
    if height < _NO_TEXT_PX:
        return
    color = inks(op.ink)
    if height < _GREEK_PX:
        faint = QColor(color)
        faint.setAlphaF(0.45)
        painter.fillRect(QRectF(op.x, op.y - op.size * 0.55, op.width, op.size * 0.4), faint)
        return
    painter.save()
    painter.setPen(color)
    painter.setFont(face_font(op.face))
    painter.translate(op.x, op.y)
    painter.scale(op.size / _EM * op.stretch, op.size / _EM)
    painter.drawStaticText(QPointF(0.0, -op.ascent), op.static)
    painter.restore()


def paint_groups(painter: QPainter, groups: Iterable[Group], inks: Inks, pixels_per_unit: float, zoom: float) -> None:
    """Paint groups whose level of detail is reached at ``zoom`` (1 is 100 %), in their order."""
    for group in groups:
        if group.level <= zoom:
            paint_ops(painter, compile_ops(group.primitives), inks, pixels_per_unit)


def picture_rect(picture: Picture, margin: float = 0.0) -> QRectF:
    """The box around a picture as a rectangle."""
    left, top, right, bottom = picture.box
    return QRectF(left - margin, top - margin, right - left + 2 * margin, bottom - top + 2 * margin)
