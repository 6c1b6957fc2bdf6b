"""Rows of the outage papers: cells to fill in, bands that nobody overlooks, labels with a line to write on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from oneline.paper.blocks import LEADING, RISE
from oneline.paper.flow import Row
from oneline.paper.page import Pen, short, wrap
from oneline.sheet.display import Stroke
from oneline.sheet.metrics import text_width

#: Clear air between the text of a cell and its lines.
AIR = 3.0


@dataclass(frozen=True)
class Para:
    """A paragraph of a cell, broken into lines by the cell's width; at most ``most`` lines."""

    text: str
    size: float
    face: str = "regular"
    most: int = 40
    anchor: str = "start"
    ink: str = "ink"

    def lines(self, width: float) -> tuple[str, ...]:
        words = short(self.text)
        return wrap(words, width, self.size, self.face, self.most) if words else ()

    def height(self, width: float) -> float:
        return len(self.lines(width)) * self.size * LEADING

    def paint(self, pen: Pen, x: float, y: float, width: float) -> float:
        """Paint at the upper left corner (x, y); returns the y below."""
        at = {"start": x, "middle": x + width / 2, "end": x + width}[self.anchor]
        for line in self.lines(width):
            pen.text(at, y + RISE * self.size, line, self.size, self.face, self.anchor, self.ink)
            y += self.size * LEADING
        return y


Cell = Sequence[Para]


def table_row(
    widths: Sequence[float], cells: Sequence[Cell], keep: bool = False, least: float = 0.0, weight: str = "hair",
    top: bool = False, air: float = AIR,
) -> Row:  # fmt: skip
    """A row of cells between lines. ``least``: height it has at least, to write in. ``top``: also a line above.
    ``air``: above and below the words."""
    tall = max(sum(p.height(w - 2 * AIR) for p in cell) for w, cell in zip(widths, cells, strict=True))
    height = max(tall + 2 * air, least)

    def paint(pen: Pen, x: float, y: float) -> None:
        at = x
        for width, cell in zip(widths, cells, strict=True):
            pen.line(at, y, at, y + height, "hair", "ink")
            below = y + air
            for para in cell:
                below = para.paint(pen, at + AIR, below, width - 2 * AIR)
            at += width
        pen.line(at, y, at, y + height, "hair", "ink")
        pen.line(x, y + height, at, y + height, weight, "ink")
        if top:
            pen.line(x, y, at, y, weight, "ink")

    return Row(height, paint, keep)


def band(text: str, width: float, size: float, filled: bool = True, keep: bool = False, more: Cell = ()) -> Row:
    """A row over the whole width: white on black, or in a frame. ``more``: paragraphs below the bold text."""
    ink = "paper" if filled else "ink"
    paras = [Para(text, size, "bold", ink=ink), *(Para(p.text, p.size, p.face, p.most, p.anchor, ink) for p in more)]
    inner = width - 4 * AIR
    height = sum(p.height(inner) for p in paras) + 2 * AIR
    above, below_it = 2.0, 5.0

    def paint(pen: Pen, x: float, y: float) -> None:
        top, bottom = y + above, y + above + height
        corners = ((x + 0.5, top), (x + width - 0.5, top), (x + width - 0.5, bottom), (x + 0.5, bottom))
        weight = "hair" if filled else "medium"
        pen.primitives.append(Stroke(corners, weight, "solid", "ink", True, "ink" if filled else ""))
        below = top + AIR
        for para in paras:
            below = para.paint(pen, x + 2 * AIR, below, inner)

    return Row(height + above + below_it, paint, keep)


def paragraph(para: Para, width: float, keep: bool = False, indent: float = 0.0, after: float = 0.0) -> Row:
    """One paragraph as a row that is not broken."""
    height = para.height(width - indent) + after

    def paint(pen: Pen, x: float, y: float) -> None:
        para.paint(pen, x + indent, y, width - indent)

    return Row(height, paint, keep)


def labelled(label: str, text: str, width: float, size: float, keep: bool = False) -> Row:
    """ "Label: text" with the label in bold and the text hanging behind it, or below a label that is long."""
    lead = text_width(f"{label}: ", size, "bold")
    para, head = Para(text, size), Para(f"{label}:", size, "bold")
    if lead > width / 2:
        high = head.height(width)

        def stacked(pen: Pen, x: float, y: float) -> None:
            head.paint(pen, x, y, width)
            para.paint(pen, x + 8, y + high, width - 8)

        return Row(high + para.height(width - 8), stacked, keep)

    def paint(pen: Pen, x: float, y: float) -> None:
        head.paint(pen, x, y, lead + 1)
        para.paint(pen, x + lead, y, width - lead)

    return Row(max(para.height(width - lead), size * LEADING), paint, keep)


def to_fill_in(fields: Sequence[tuple[str, str, float]], width: float, size: float, keep: bool = False) -> Row:
    """Labels with what is known behind them, or a line to write on. ``fields``: (label, value, share of the width)."""
    total = sum(share for _, _, share in fields)
    high = size * LEADING + 5.5
    tall = high
    for label, value, share in fields:
        room = width * share / total - text_width(f"{label} ", size) - 8
        tall = max(tall, Para(value, size, "bold").height(room) + 5.5 if value else high)

    def paint(pen: Pen, x: float, y: float) -> None:
        at = x
        for label, value, share in fields:
            end = at + width * share / total
            pen.text(at, y + 4 + RISE * size, label, size)
            start = at + text_width(f"{label} ", size)
            if value:
                Para(value, size, "bold").paint(pen, start, y + 4, end - start - 8)
            else:
                base = y + 4 + RISE * size + 2
                pen.line(start, base, end - 8, base, "hair", "ink")
            at = end

    return Row(tall, paint, keep)


def beside(left: Sequence[Row], right: Sequence[Row], at: float) -> Row:
    """Two stacks of rows beside each other, the right one at ``at``."""

    def paint(pen: Pen, x: float, y: float) -> None:
        for rows, start in ((left, x), (right, x + at)):
            below = y
            for row in rows:
                row.paint(pen, start, below)
                below += row.height

    return Row(max(sum(r.height for r in rows) for rows in (left, right)), paint)


def gap(height: float) -> Row:
    return Row(height, lambda pen, x, y: None, keep=True)
