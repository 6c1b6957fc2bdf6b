"""Head and foot of every page: what the sheet is, the cautions, and the title block."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from oneline.model import Drawing
from oneline.model.cautions import CAUTIONS
from oneline.paper.page import Pen, wrap
from oneline.sheet.metrics import text_width
from oneline.version import VERSION

MARGIN = 26.0
HEAD = 25.0
_CAUTION_SIZE = 7.0
_LABEL_SIZE = 6.5
_CELL = 21.0
LEAST_VALUE_SIZE = 6.5
#: What a blank in the title block shows, to be filled in by hand.
_BLANK = ""


@dataclass(frozen=True)
class Stamp:
    """What the foot of the page says besides the drawing's own project data."""

    paper: str
    view: str
    edition: int
    file_name: str
    printed_at: datetime


def _cells(drawing: Drawing, stamp: Stamp, page: int, pages: int) -> list[tuple[str, str, float]]:
    """(label, value, weight of its width) of the title block."""
    p = drawing.project
    return [
        ("Building", p.title, 2.0), ("Address", p.address, 2.0), ("Sheet", p.sheet_number, 0.7),
        ("Permit", p.permit_no, 1.0), ("As of", p.as_of or _BLANK, 0.9), ("Code edition", f"NFPA 70, {stamp.edition}", 1.2),
        ("View", stamp.view, 0.9), ("Page", f"{page} of {pages}", 0.7),
        ("Prepared by", p.prepared_by, 1.4), ("Contractor", p.contractor, 1.7), ("License", p.license_no, 0.9),
        ("Phone", p.phone, 1.1), ("Verified in the field by", p.verified_by, 1.4), ("File", stamp.file_name, 1.5),
        ("Printed", stamp.printed_at.strftime("%Y-%m-%d %H:%M"), 1.15), ("Program", f"Oneline {VERSION}", 0.95),
    ]  # fmt: skip


def _rows(cells: list[tuple[str, str, float]], width: float) -> list[list[tuple[str, str, float]]]:
    """The cells in rows of about equal weight: two on a wide sheet, three on a narrow one."""
    count = 2 if width > 640 else 3
    total = sum(c[2] for c in cells)
    rows: list[list[tuple[str, str, float]]] = [[]]
    filled = 0.0
    for cell in cells:
        if rows[-1] and filled + cell[2] / 2 > total * len(rows) / count:
            rows.append([])
        rows[-1].append(cell)
        filled += cell[2]
    return rows


def _caution_lines(width: float) -> tuple[str, ...]:
    return wrap(" ".join(CAUTIONS), width - 12, _CAUTION_SIZE, "bold")


def foot_height(width: float) -> float:
    """Height of cautions and title block on a page of this width."""
    rows = 2 if width - 2 * MARGIN > 640 else 3
    return rows * _CELL + len(_caution_lines(width - 2 * MARGIN)) * _CAUTION_SIZE * 1.25 + 7


def draw_frame(
    pen: Pen, width: float, height: float, drawing: Drawing, stamp: Stamp, subject: str, page: int, pages: int,
    right: str = "Panel door sheet",
) -> list[str]:  # fmt: skip
    """Head (``right``: at its right end, on two lines where it has a line break), cautions and title block of one page.

    Returns notes on what had to be shortened.
    """
    inner = width - 2 * MARGIN
    title = drawing.project.title or "Building not named"
    notes: list[str] = []
    kinds = right.split("\n")
    kind_size = 9.0 if len(kinds) == 1 else 7.0
    room = inner - max(text_width(k, kind_size, "regular") for k in kinds) - 16
    # A subject that is a sentence of its own leaves the building's name to the title block.
    words = subject if subject[:1].isupper() else f"{title}: {subject}"
    size = 13.0
    while size > 9 and text_width(words, size, "bold") > room:
        size -= 0.5
    lines = wrap(words, room, size, "bold", 1)
    pen.text(MARGIN, MARGIN + 12, lines[0], size, "bold")
    for n, kind in enumerate(reversed(kinds)):
        pen.text(width - MARGIN, MARGIN + 12 - n * 8.5, kind, kind_size, "regular", "end")
    pen.line(MARGIN, MARGIN + 17, width - MARGIN, MARGIN + 17, "thin", "ink")

    top = height - MARGIN - foot_height(width)
    pen.frame(MARGIN, top, width - MARGIN, height - MARGIN, "thin")
    y = top + 3
    for line in _caution_lines(inner):
        pen.text(MARGIN + 6, y + _CAUTION_SIZE, line, _CAUTION_SIZE, "bold")
        y += _CAUTION_SIZE * 1.25
    y += 4
    for row in _rows(_cells(drawing, stamp, page, pages), inner):
        notes += _title_row(pen, row, y, inner)
        y += _CELL
    return notes


def _title_row(pen: Pen, row: list[tuple[str, str, float]], y: float, inner: float) -> list[str]:
    notes = []
    pen.line(MARGIN, y, MARGIN + inner, y, "hair", "ink")
    unit = inner / sum(c[2] for c in row)
    x = MARGIN
    for k, (label, value, weight) in enumerate(row):
        if k:
            pen.line(x, y, x, y + _CELL, "hair", "ink")
        pen.text(x + 3, y + 6.4, label, _LABEL_SIZE, "regular", ink="faint")
        room = unit * weight - 6
        size = 8.0
        while size > LEAST_VALUE_SIZE and text_width(value, size, "bold") > room:
            size -= 0.25
        lines = wrap(value, room, size, "bold", 2 if size <= 6.5 else 1)
        if lines and lines[-1].endswith("…") and not value.endswith("…"):
            notes.append(f"{label} is too long for the title block and was shortened.")
        if len(lines) > 1:
            pen.text(x + 3, y + 12.9, lines[0], LEAST_VALUE_SIZE, "bold")
            pen.text(x + 3, y + 19.3, lines[1], LEAST_VALUE_SIZE, "bold")
        elif lines:
            pen.text(x + 3, y + 16.5, lines[0], size, "bold")
        x += unit * weight
    return notes
