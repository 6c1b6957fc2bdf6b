"""The page of a demand record: its plot with the peak, what was recorded, what follows from it, how it was reckoned."""

from __future__ import annotations

from datetime import datetime

from oneline.model import Drawing
from oneline.paper.arrange import Box, content_box, orientations, text_pages
from oneline.paper.blocks import heading, text_rows
from oneline.paper.door import Document
from oneline.paper.flow import BLOCK_GAP, COLUMN_GAP, Block, Row, flow, least_height, paint
from oneline.paper.frame import Stamp, draw_frame
from oneline.paper.page import MOST_CHARACTERS, Layer, Page, Pen, short
from oneline.sheet.recordplot import plot_lines, record_picture
from oneline.study.record_chart import RecordChart
from oneline.study.record_words import record_rows, step_words

KIND = "Recorded demand"
_TEXT = (8.5, 8.0, 7.5, 7.0, 6.5)
#: Shares of the page's height that the plot takes, and its text.
_LEAST_PLOT, _MOST_PLOT, _PLOT_TEXT = 0.35, 0.62, 8.0
_STATES = {
    "pass": "Holds", "fail": "Fails", "unknown": "Not known yet", "judge": "For the authority to judge", "advice": "Advice",
    "not_applicable": "Does not apply",
}  # fmt: skip


class NoRecord(ValueError):
    """There is no demand record to print. Its text says where records are."""


def plan_record_pages(
    drawing: Drawing, charts: tuple[RecordChart, ...], view: str, edition: int, paper: str = "letter", *,
    printed_at: datetime, file_name: str = "",
) -> Document:  # fmt: skip
    """A page for each record. ``charts``: of the view and edition named. Raises ``NoRecord`` where there is none."""
    if not charts:
        raise NoRecord(
            "No demand record is on the drawing. Import interval data or enter a record at a service or meter."
        )
    stamp = Stamp(paper, view, edition, file_name, printed_at)
    notes: list[str] = []
    bodies = [body for chart in charts for body in _bodies(chart, paper)]
    pages = []
    for n, (size, layers, pen, subject) in enumerate(bodies, 1):
        notes += draw_frame(pen, *size, drawing, stamp, subject, n, len(bodies), KIND)
        pages.append(Page(*size, (*layers, pen.layer())))
    long = next((c.record.note for c in charts if len(c.record.note) > MOST_CHARACTERS), None)
    if long is not None:
        notes.append(f"A text is too long for the sheet and was shortened: “{long[:30]}…”.")
    title = f"{drawing.project.title or 'Building not named'}: recorded demand"
    return Document(title, tuple(pages), tuple(dict.fromkeys(notes)), "Demand records and their plots")


_Body = tuple[tuple[float, float], tuple[Layer, ...], Pen, str]


def _bodies(chart: RecordChart, paper: str) -> list[_Body]:
    """The page of one record without its frame; a further one where its words need it."""
    size = orientations(paper)[0]
    left, top, right, bottom = content_box(*size)
    top += 4
    width = (right - left - COLUMN_GAP) / 2
    subject = f"demand recorded at {chart.name}"
    most = (bottom - top) * (1.0 if chart.record.series is None else 1 - _LEAST_PLOT)
    for text in (*((11.0, 10.0) if paper == "tabloid" else ()), *_TEXT):
        blocks = [_facts_block(chart, width, text), _finding_block(chart, width, text)]
        words = max(block.height for block in blocks)
        side_by_side = words <= most
        if not side_by_side:
            words = least_height(blocks, 2, most) or 0.0
        if not words:
            continue
        pen = Pen()
        room = min(bottom - top - words - BLOCK_GAP, (bottom - top) * _MOST_PLOT)
        layers, used = _plot(chart, pen, (left, top, right, top + room), paper)
        for n, block in enumerate(blocks if side_by_side else ()):
            paint(flow([block], [words]) or [], pen, left + n * (width + COLUMN_GAP), top + used, width)
        if not side_by_side:
            paint(flow(blocks, [words, words]) or [], pen, left, top + used, width)
        return [(size, layers, pen, subject)]
    pen = Pen()
    layers, _ = _plot(chart, pen, (left, top, right, bottom), paper)
    bodies: list[_Body] = [(size, layers, pen, subject)] if layers else []
    for page in text_pages(paper, lambda w, s: [_facts_block(chart, w, s), _finding_block(chart, w, s)], False):
        more = Pen()
        paint(page.placed, more, *page.text_at, page.column_width)
        bodies.append(((page.width, page.height), (), more, subject))
    return bodies


def _plot(chart: RecordChart, pen: Pen, room: Box, paper: str) -> tuple[tuple[Layer, ...], float]:
    """The plot in its room with a line of words below it, and the height used; nothing for a record without a series."""
    series = chart.record.series
    if series is None:
        return (), 0.0
    left, top, right, bottom = room
    text = _PLOT_TEXT * (1.0 if paper == "letter" else 1.25)
    picture = record_picture(series, plot_lines(chart), right - left, bottom - top - 14, text)
    note = f"Line: the highest value of each {step_words(series.step_min)}."
    if series.gaps:
        note += " Hatched: not recorded."
    pen.text(left, bottom - 6, note, 7.0, "italic", ink="faint")
    return (Layer(picture.groups[0].primitives, 1.0, left, top),), bottom - top + BLOCK_GAP


def _facts_block(chart: RecordChart, width: float, size: float) -> Block:
    rows: list[Row] = [heading("What was recorded", width, size)]
    for label, words in ("Measured at", chart.name), *record_rows(chart.record):
        rows += _labelled(label, short(words), width, size)
    return Block(tuple(rows), (heading("What was recorded (continued)", width, size),))


def _labelled(label: str, words: str, width: float, size: float) -> list[Row]:
    """The label on the left in regular, what it is in bold behind it or below."""
    column = width * 0.4
    left = text_rows(label, column - 4, size, "regular")
    right = text_rows(words, width - column, size, "bold")
    out = []
    for n in range(max(len(left), len(right))):
        one, other = left[n] if n < len(left) else None, right[n] if n < len(right) else None

        def both(pen: Pen, x: float, y: float, one: Row | None = one, other: Row | None = other) -> None:
            if one is not None:
                one.paint(pen, x, y)
            if other is not None:
                other.paint(pen, x + column, y)

        out.append(
            Row(max(r.height for r in (one, other) if r is not None), both, n + 1 < min(3, max(len(left), len(right))))
        )
    return out


def _finding_block(chart: RecordChart, width: float, size: float) -> Block:
    """What the record says of the load, under the edition: the finding, what would help, the worksheet."""
    found = chart.verdict
    rows: list[Row] = [heading("What follows from it", width, size)]
    if not chart.decides:
        rows += text_rows("Another record of this item decides; this one is kept beside it.", width, size, "italic")
    rows += text_rows(f"{_STATES[found.state]}: {found.section}", width, size, "bold", keep=True)
    rows += text_rows(found.message, width, size)
    if found.remedy and found.state != "pass":
        rows += text_rows(f"What would help: {found.remedy}", width, size)
    for need in found.needs:
        rows += text_rows(f"Not known yet: {need}.", width, size)
    for check in found.field_checks:
        rows += text_rows(check, width, size, "italic")
    work = [line for line in found.work if line.formula]
    if work:
        rows += [Row(size * 0.5, lambda pen, x, y: None, keep=True), heading("How it was reckoned", width, size)]
    for line in work:
        figures = ", ".join(f"{name} {_number(value)}" for name, value in line.inputs.items())
        value = _number(line.value) if isinstance(line.value, int | float) else str(line.value)
        rows += text_rows(f"{line.what}: {value} {line.unit}", width, size, "bold", keep=True)
        rows += text_rows(
            f"{line.formula}; {figures}{f' ({line.source})' if line.source else ''}", width, size, indent=8
        )
    return Block(tuple(rows), (heading("What follows from it (continued)", width, size),))


def _number(value: float) -> str:
    return f"{value:,.0f}" if abs(value) >= 1000 else f"{value:.4g}"
