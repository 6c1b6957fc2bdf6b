"""Writes a picture as SVG: our own small writer. Paper colours always, whatever the theme of the screen."""

from __future__ import annotations

import math
from xml.sax.saxutils import escape, quoteattr

from oneline.paper.page import printable
from oneline.paper.pdf import dash_pt, width_pt
from oneline.paper.picture import on_paper
from oneline.sheet.display import Arc, Picture, Primitive, Stroke, Text
from oneline.sheet.inks import PALETTES
from oneline.sheet.metrics import FALLBACK_FAMILIES, FONT_FAMILY, text_width

_PAPER = PALETTES["paper"]
MARGIN = 20.0


def svg_of(picture: Picture, title: str = "", description: str = "") -> str:
    """The picture as an SVG document; one grid unit is one point at full size. Items are groups with their id as data."""
    shown = on_paper(picture)
    left, top, right, bottom = shown.box
    width, height = right - left + 2 * MARGIN, bottom - top + 2 * MARGIN
    families = ", ".join(f"'{name}'" if " " in name else name for name in (FONT_FAMILY, *FALLBACK_FAMILIES))
    out = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" version="1.1" width="{_n(width)}pt" height="{_n(height)}pt"'
        f' viewBox="{_n(left - MARGIN)} {_n(top - MARGIN)} {_n(width)} {_n(height)}"'
        f' font-family="{families}" fill="none" stroke-linejoin="round">',
        f"<title>{_xml(title)}</title>",
        f"<desc>{_xml(description)}</desc>",
        f'<rect x="{_n(left - MARGIN)}" y="{_n(top - MARGIN)}" width="{_n(width)}" height="{_n(height)}"'
        f' fill="{_PAPER["paper"]}"/>',
    ]
    for group in shown.groups:
        out.append(f'<g class="{group.part}" data-item={quoteattr(_clean(group.item))}>')
        out.extend(filter(None, (_primitive(p) for p in group.primitives)))
        out.append("</g>")
    out.append("</svg>\n")
    return "\n".join(out)


def _n(value: float) -> str:
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def _clean(text: str) -> str:
    """Characters that XML allows; the rest is gone."""
    return "".join(c for c in text if c in "\t\n" or " " <= c <= "\ud7ff" or "\ue000" <= c <= "\ufffd" or c > "\uffff")


def _xml(text: str) -> str:
    return escape(_clean(text))


def _pen(weight: str, dash: str, ink: str, fill: str) -> str:
    pen = f'stroke="{_PAPER[ink]}" stroke-width="{_n(width_pt(weight, 1.0))}"'
    pattern = dash_pt(dash, 1.0)
    if pattern:
        pen += f' stroke-dasharray="{" ".join(_n(v) for v in pattern)}"'
    return pen + (f' fill="{_PAPER[fill]}"' if fill else "")


def _primitive(p: Primitive) -> str:
    if isinstance(p, Stroke):
        name = "polygon" if p.closed else "polyline"
        points = " ".join(f"{_n(x)},{_n(y)}" for x, y in p.points)
        return f'<{name} points="{points}" {_pen(p.weight, p.dash, p.ink, p.fill)}/>'
    if isinstance(p, Arc):
        return _arc(p)
    return _text(p)


def _arc(a: Arc) -> str:
    x, y = a.center
    pen = _pen(a.weight, a.dash, a.ink, a.fill)
    if abs(a.sweep_deg) >= 360:
        return f'<circle cx="{_n(x)}" cy="{_n(y)}" r="{_n(a.radius)}" {pen}/>'
    ends = []
    for degrees in (a.start_deg, a.start_deg + a.sweep_deg):
        angle = math.radians(degrees)
        ends.append(f"{_n(x + a.radius * math.cos(angle))} {_n(y - a.radius * math.sin(angle))}")
    large, sweep = int(abs(a.sweep_deg) > 180), int(a.sweep_deg < 0)
    return f'<path d="M {ends[0]} A {_n(a.radius)} {_n(a.radius)} 0 {large} {sweep} {ends[1]}" {pen}/>'


def _text(t: Text) -> str:
    """``textLength`` holds the width that the layout reckoned with, whatever font the viewer has."""
    if not t.text.strip():
        return ""
    x, y = t.at
    style = {"bold": ' font-weight="bold"', "italic": ' font-style="italic"'}.get(t.face, "")
    anchor = "" if t.anchor == "start" else f' text-anchor="{t.anchor}"'
    length = text_width(printable(t.text, t.face), t.size, t.face)
    return (
        f'<text x="{_n(x)}" y="{_n(y)}" font-size="{_n(t.size)}"{style}{anchor} fill="{_PAPER[t.ink]}"'
        f' textLength="{_n(length)}" lengthAdjust="spacingAndGlyphs">{_xml(printable(t.text, t.face))}</text>'
    )
