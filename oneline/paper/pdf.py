"""Writes pages as a vector PDF. The only module that uses reportlab."""

from __future__ import annotations

import io
from collections.abc import Sequence
from functools import cache
from typing import Any

from oneline.paper.page import Layer, Page, printable
from oneline.sheet.display import Arc, Primitive, Stroke, Text
from oneline.sheet.inks import DASH_UNITS, PALETTES, PAPER_WIDTH_PT
from oneline.version import VERSION

_FACES = {"regular": "Vera", "bold": "VeraBd", "italic": "VeraIt"}
_PAPER = PALETTES["paper"]
#: Dashes shrink with the picture, but not so far that they close up in print.
_LEAST_DASH_SCALE = 0.55


@cache
def _register_fonts() -> None:
    """The faces that sheet.metrics measures; they come with reportlab and are embedded in every file."""
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    for name in _FACES.values():
        pdfmetrics.registerFont(TTFont(name, f"{name}.ttf"))


def pdf_bytes(pages: Sequence[Page], title: str = "", subject: str = "") -> bytes:
    """The pages as one PDF. The same pages give the same bytes. Raises ``ValueError`` without a page."""
    from reportlab.pdfgen.canvas import Canvas

    if not pages:
        raise ValueError("a document needs at least one page")
    _register_fonts()
    out = io.BytesIO()
    canvas = Canvas(out, invariant=1, pageCompression=1, initialFontName="Vera")
    canvas.setTitle(printable(title))
    canvas.setSubject(printable(subject))
    canvas.setCreator(f"Oneline {VERSION}")
    canvas.setAuthor("")
    for page in pages:
        canvas.setPageSize((page.width, page.height))
        for layer in page.layers:
            painter = _Painter(canvas, page.height, layer)
            for primitive in layer.primitives:
                painter.paint(primitive)
        canvas.showPage()
    canvas.save()
    return out.getvalue()


def width_pt(weight: str, scale: float) -> float:
    """Width of a line in points: the upper weights shrink with the picture down to the hair line."""
    hair = PAPER_WIDTH_PT["hair"]
    return max(hair, PAPER_WIDTH_PT[weight] * min(1.0, scale))


def dash_pt(dash: str, scale: float) -> tuple[float, ...]:
    """Dash pattern in points; empty for a solid line."""
    return tuple(round(length * max(scale, _LEAST_DASH_SCALE), 3) for length in DASH_UNITS[dash])


class _Painter:
    """Paints primitives of one layer; keeps what the canvas was last told, to write less."""

    def __init__(self, canvas: Any, page_height: float, layer: Layer) -> None:
        self.canvas = canvas
        self.page_height = page_height
        self.layer = layer
        self.state: dict[str, Any] = {}

    def paint(self, primitive: Primitive) -> None:
        if isinstance(primitive, Stroke):
            self._stroke(primitive)
        elif isinstance(primitive, Arc):
            self._arc(primitive)
        else:
            self._text(primitive)

    def _at(self, x: float, y: float) -> tuple[float, float]:
        layer = self.layer
        return round(layer.dx + layer.scale * x, 3), round(self.page_height - (layer.dy + layer.scale * y), 3)

    def _tell(self, name: str, value: Any, tell: Any) -> None:
        if self.state.get(name) != value:
            self.state[name] = value
            tell(value)

    def _pens(self, weight: str, dash: str, ink: str, fill: str) -> None:
        canvas = self.canvas
        self._tell("line", _PAPER[ink], canvas.setStrokeColor)
        self._tell("width", width_pt(weight, self.layer.scale), canvas.setLineWidth)
        self._tell("dash", dash_pt(dash, self.layer.scale), lambda d: canvas.setDash(list(d), 0))
        self._tell("join", 1, canvas.setLineJoin)
        if fill:
            self._tell("fill", _PAPER[fill], canvas.setFillColor)

    def _stroke(self, s: Stroke) -> None:
        if len(s.points) < 2:
            return
        self._pens(s.weight, s.dash, s.ink, s.fill)
        path = self.canvas.beginPath()
        path.moveTo(*self._at(*s.points[0]))
        for point in s.points[1:]:
            path.lineTo(*self._at(*point))
        if s.closed:
            path.close()
        self.canvas.drawPath(path, stroke=1, fill=int(bool(s.fill)))

    def _arc(self, a: Arc) -> None:
        self._pens(a.weight, a.dash, a.ink, a.fill)
        x, y = self._at(*a.center)
        r = a.radius * self.layer.scale
        if abs(a.sweep_deg) >= 360:
            self.canvas.circle(x, y, r, stroke=1, fill=int(bool(a.fill)))
            return
        path = self.canvas.beginPath()
        path.arc(x - r, y - r, x + r, y + r, a.start_deg, a.sweep_deg)
        self.canvas.drawPath(path, stroke=1, fill=int(bool(a.fill)))

    def _text(self, t: Text) -> None:
        text = printable(t.text, t.face)
        if not text.strip():
            return
        canvas = self.canvas
        self._tell("fill", _PAPER[t.ink], canvas.setFillColor)
        canvas.setFont(_FACES[t.face], round(t.size * self.layer.scale, 3))
        x, y = self._at(*t.at)
        draw = {"start": canvas.drawString, "middle": canvas.drawCentredString, "end": canvas.drawRightString}
        draw[t.anchor](x, y, text)
