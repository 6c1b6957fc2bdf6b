"""The blocks of the door sheet: sources, fault current, circuit directories. Each for a column width and a text size."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from oneline.paper.directory import BY_LABEL, Directory, Space
from oneline.paper.facts import FaultFacts, SourceFacts
from oneline.paper.flow import Block, Paint, Row
from oneline.paper.page import Pen, wrap
from oneline.paper.picture import LEAST_TEXT_PT
from oneline.sheet.display import Stroke
from oneline.sheet.live import tag
from oneline.sheet.metrics import text_width

#: Baseline to baseline, in text sizes.
LEADING = 1.22
#: From the top of a line to its baseline, in text sizes.
RISE = 0.93


def text_rows(
    text: str, width: float, size: float, face: str = "regular", indent: float = 0.0, keep: bool = False
) -> list[Row]:
    """A paragraph as rows; all but the last stay together with the next when ``keep``."""
    return [
        Row(size * LEADING, _line(line, size, face, indent), keep)
        for line in wrap(text if text.strip() else "—", width - indent, size, face)
    ]  # fmt: skip


def _line(text: str, size: float, face: str, indent: float) -> Paint:
    def paint(pen: Pen, x: float, y: float) -> None:
        pen.text(x + indent, y + RISE * size, text, size, face)

    return paint


def heading(text: str, width: float, size: float) -> Row:
    """The title of a block with a rule below."""
    big = size * 1.2
    text = wrap(text, width, big, "bold", 1)[0]

    def paint(pen: Pen, x: float, y: float) -> None:
        pen.text(x, y + RISE * big, text, big, "bold")
        pen.line(x, y + big * 1.32, x + width, y + big * 1.32, "thin", "ink")

    return Row(big * 1.32 + 2.5, paint, keep=True)


def _kept(rows: list[Row]) -> list[Row]:
    """The same rows, staying together."""
    return [replace(r, keep=True) for r in rows[:-1]] + rows[-1:]


# ------------------------------------------------------------------------------------------------------------ sources
def sources_block(sources: Sequence[SourceFacts], width: float, size: float) -> Block:
    """Each source with its tag, where it is opened and what stays live then."""
    title = heading("Sources and where each is opened", width, size)
    rows = [title]
    if not sources:
        rows += text_rows("No source is on this drawing. That does not mean there is none.", width, size)
    for source in sources:
        rows += _source_rows(source, width, size)
    return Block(tuple(rows), (heading("Sources (continued)", width, size),))


def _source_rows(source: SourceFacts, width: float, size: float) -> list[Row]:
    indent = 40.0
    rows = [Row(2.0, lambda pen, x, y: None, keep=True)]
    names = [*text_rows(source.name, width, size * 1.06, "bold", indent)]
    first = names[0].paint if names else (lambda pen, x, y: None)

    def tagged(pen: Pen, x: float, y: float) -> None:
        scale = size / 7.0
        middle = y + 0.62 * size
        box = tag((0.0, 0.0), source.code, "ink")
        pen.primitives.append(Stroke(((x, middle), (x + 35, middle)), "medium", source.dash, "ink"))
        pen.place(box, scale, x + 17.5, middle)
        first(pen, x, y)

    rows.append(Row(size * 1.06 * LEADING, tagged, keep=True))
    rows += [replace(r, keep=True) for r in names[1:]]
    rest = text_rows(source.what, width, size, "regular", indent)
    for opening in source.openings:
        rest += _labelled("Open", opening.device + "; " + opening.place, width, size, indent)
        rest += _labelled("Load side", opening.load_side, width, size, indent)
    for sentence in source.always:
        rest += text_rows(sentence, width, size, "bold", indent)
    return rows + _kept(rest)


def short_sources_block(sources: Sequence[SourceFacts], width: float, size: float) -> Block:
    """The same facts in fewer lines: a small tag, what is opened and its load side in one paragraph."""
    indent = 2.6 * size
    rows = [heading("Sources and where each is opened", width, size)]
    if not sources:
        rows += text_rows("No source is on this drawing. That does not mean there is none.", width, size)
    for source in sources:
        words = text_rows(source.name, width, size * 1.04, "bold", indent)
        words += text_rows(source.what, width, size, "regular", indent)
        for opening in source.openings:
            text = f"{opening.device}; {opening.place}. Load side: {opening.load_side}."
            words += _labelled("Open", text, width, size, indent)
        if source.always:
            words += text_rows(" ".join(source.always), width, size, "bold", indent)
        rows += [
            Row(1.5, lambda pen, x, y: None, keep=True),
            *_kept([_tagged(words[0], source.code, size), *words[1:]]),
        ]
    return Block(tuple(rows), (heading("Sources (continued)", width, size),))


def _tagged(row: Row, code: str, size: float) -> Row:
    """A row with a source tag at its left end."""

    def paint(pen: Pen, x: float, y: float) -> None:
        pen.place(tag((0.0, 0.0), code, "ink"), max(size, LEAST_TEXT_PT) / 6.5, x + size, y + 0.62 * size)
        row.paint(pen, x, y)

    return replace(row, paint=paint)


def _labelled(label: str, text: str, width: float, size: float, indent: float) -> list[Row]:
    """ "Open: ..." with the label in bold and the text hanging behind it."""
    lead = label + ": "
    hang = indent + text_width(lead, size, "bold")
    rows = text_rows(text, width, size, "regular", hang)
    first = rows[0].paint

    def paint(pen: Pen, x: float, y: float) -> None:
        pen.text(x + indent, y + RISE * size, lead, size, "bold")
        first(pen, x, y)

    return [replace(rows[0], paint=paint), *rows[1:]]


# ------------------------------------------------------------------------------------------------------- fault current
def faults_block(faults: Sequence[FaultFacts], calculated: date, width: float, size: float) -> Block:
    """Available fault current at every bus, with the date it was calculated."""
    rows = [heading("Available fault current", width, size)]
    note = (
        f"Symmetrical, bolted, at the terminals of the bus; calculated {calculated.isoformat()} from this drawing. "
        "Calculate again when the utility's transformer, a source or the conductors change."
    )
    rows += [replace(r, keep=True) for r in text_rows(note, width, size)]
    rows.append(Row(1.5, lambda pen, x, y: None, keep=bool(faults)))
    body = [_fault_rows(fault, width, size) for fault in faults]
    # Not one line alone at the foot or the head of a column.
    for n, part in enumerate(body):
        rows += [replace(r, keep=True) for r in part] if n < 2 <= len(body) - 1 or n == len(body) - 2 else part
    if not faults:
        rows += text_rows("No bus is on this drawing.", width, size)
    return Block(tuple(rows), (heading("Available fault current (continued)", width, size),))


def short_faults_block(faults: Sequence[FaultFacts], calculated: date, width: float, size: float) -> Block:
    """The same for the way to one panel, with a shorter note."""
    rows = [heading("Available fault current", width, size)]
    body = [_fault_rows(fault, width, size) for fault in faults]
    rows += [replace(r, keep=True) for part in body for r in part]
    note = (
        f"Symmetrical, bolted; calculated {calculated.isoformat()}. Calculate again when supply or conductors change."
    )
    return Block((*rows, *_kept(text_rows(note, width, size))), (rows[0],))


def _fault_rows(fault: FaultFacts, width: float, size: float) -> list[Row]:
    face = "bold" if fault.known else "regular"
    room = width - text_width(fault.value, size, face) - 8
    rows = text_rows(fault.name, room, size)
    first = rows[0].paint

    def paint(pen: Pen, x: float, y: float) -> None:
        first(pen, x, y)
        pen.text(x + width, y + RISE * size, fault.value, size, face, "end")

    rows[0] = replace(rows[0], paint=paint)
    if fault.needs:
        rows += text_rows(f"needs {fault.needs}", width, size, "italic", 8.0)
    return _kept(rows)


# --------------------------------------------------------------------------------------------------------- directories
def directory_block(directory: Directory, width: float, size: float) -> Block:
    """A panel's directory: odd spaces left, even right."""
    rows = [heading(directory.panel, width, size)]
    for line in directory.heading:
        rows += [replace(r, keep=True) for r in text_rows(line, width, size)]
    if not directory.rows:
        return Block((*rows[:-1], replace(rows[-1], keep=False)), (rows[0],))
    numbers = max((text_width(s.label, size, "bold") for row in directory.rows for s in row if s), default=0.0)
    rows.append(_column_heads(width, size, numbers))
    body = [_directory_row(left, right, width, size, numbers) for left, right in directory.rows]
    foot = [Row(1.0, lambda pen, x, y: None)]
    if directory.others:
        foot += text_rows(f"Without a space number: {directory.others}", width, size)
    if directory.by_label:
        foot += text_rows(f"{BY_LABEL} by its label only, not traced", width, size, "italic")
    # The foot stays with the last rows: alone in another column nobody knows whose it is.
    rows += [*body[:-2], *_kept([*body[-2:], *foot])]
    again = (heading(f"{directory.panel} (continued)", width, size), _column_heads(width, size, numbers))
    return Block(tuple(rows), again)


def not_known_block(panels: Sequence[str], width: float, size: float) -> Block:
    """The panels that have no directory on the sheet, because nobody knows it."""
    rows = [heading("Directories not known", width, size)]
    said = "The directory of this panel is" if len(panels) == 1 else "The directories of these panels are"
    return Block((*rows, *_kept(text_rows(f"{said} not known: {'; '.join(panels)}.", width, size))), (rows[0],))


def _cells(width: float, size: float, numbers: float) -> tuple[float, float, float, float]:
    """Widths of number, text and device cells of one half, and the half's width."""
    half = width / 2
    number = max(text_width("42", size, "bold"), numbers) + 5.5
    device = text_width("225/3", size) + 5
    return number, half - number - device - 4, device, half


def _column_heads(width: float, size: float, numbers: float) -> Row:
    small = max(size * 0.85, LEAST_TEXT_PT)
    number, _, _, half = _cells(width, size, numbers)

    def paint(pen: Pen, x: float, y: float) -> None:
        base = y + RISE * small + 1
        for left in (x, x + half):
            pen.text(left + number, base, "Circuit", small, "regular", ink="faint")
            pen.text(left + half - 5, base, "A/poles", small, "regular", "end", "faint")
        pen.line(x, y + small * 1.25 + 1.5, x + width, y + small * 1.25 + 1.5, "hair", "ink")

    return Row(small * 1.25 + 2.0, paint, keep=True)


def _directory_row(left: Space | None, right: Space | None, width: float, size: float, numbers: float) -> Row:
    number, room, _device, half = _cells(width, size, numbers)
    texts = [wrap(s.text, room, size, "bold" if s.strong else "regular") if s else () for s in (left, right)]
    height = max(1, *(len(t) for t in texts)) * size * 1.16 + 2.2

    def paint(pen: Pen, x: float, y: float) -> None:
        for space, lines, x0 in ((left, texts[0], x), (right, texts[1], x + half)):
            if space is None:
                continue
            base = y + RISE * size + 0.8
            pen.text(x0 + number - 4, base, space.label, size, "bold", "end")
            for k, line in enumerate(lines):
                pen.text(x0 + number, base + k * size * 1.16, line, size, "bold" if space.strong else "regular")
            pen.text(x0 + half - 5, base, space.device, size, "regular", "end")
        pen.line(x, y + height, x + width, y + height, "hair", "ghost")
        pen.line(x + half - 1.5, y, x + half - 1.5, y + height, "hair", "ghost")

    return Row(height, paint)


__all__ = [
    "directory_block", "faults_block", "heading", "not_known_block", "short_faults_block", "short_sources_block",
    "sources_block", "text_rows",
]  # fmt: skip
