"""The legend, printed from what the sheet uses: symbols, statuses, source tags, marks, unknown and assumed values."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from oneline.model import Drawing
from oneline.paper.blocks import LEADING, RISE, heading
from oneline.paper.facts import SourceFacts, statuses_used
from oneline.paper.flow import Block, Paint, Row
from oneline.paper.page import Pen, wrap
from oneline.paper.picture import bounds
from oneline.sheet import draw_symbol, find_set, mark_shape, symbol_names_used
from oneline.sheet.display import Arc, Picture, Stroke, Text
from oneline.sheet.live import dead_line, tag
from oneline.sheet.status import status_look

_STATUS_WORDS = {"existing": "existing", "new": "new (N)", "remove": "to be removed (R)", "future": "future (F)"}
_MARK_WORDS = {
    "fail": "does not meet a rule",
    "unknown": "not known yet",
    "judge": "for the authority or an engineer",
    "advice": "advice",
}
#: Room of the sample at the left of each entry, in text sizes.
_SAMPLE = 4.2


@dataclass(frozen=True)
class Entry:
    """A sample and what it means; ``tall``: height of the sample in points at text size 1."""

    paint: Paint
    words: str
    tall: float = 1.3


def legend_entries(
    drawing: Drawing, view: str, picture: Picture, sources: Sequence[SourceFacts], symbols: str, size: float,
    small: bool = False,
) -> list[Entry]:  # fmt: skip
    """Everything on the sheet that needs a word. ``small``: symbols no higher than two lines of words."""
    entries = [_symbol(symbols, name, size, 1.9 if small else 2.7) for name in symbol_names_used(drawing, view)]
    entries += [_status(status, size) for status in statuses_used(drawing, view)]
    if any(s.code != "?" for s in sources):
        entries.append(_source(sources, size))
    tags = [p.text for g in picture.groups if g.part == "tag" for p in g.primitives if isinstance(p, Text)]
    if "?" in tags:
        entries.append(Entry(_tag("?", size), "possibly live, nobody traced it"))
    maybe = sorted({text for text in tags if text.endswith("?") and text != "?"})
    if maybe:
        entries.append(Entry(_tag(maybe[0], size), "possibly live from the source of this code"))
    if any(p.ink == "dead" for g in picture.groups if g.part == "line" for p in g.primitives):
        entries.append(Entry(_dead(size), "dead by the drawing, not verified"))
    primitives = [p for g in picture.groups for p in g.primitives]
    marks = {g.item for g in picture.groups if g.part == "mark"}
    if marks:
        for state in _MARK_WORDS:
            if _uses_mark(picture, state):
                entries.append(Entry(_mark(state, size), _MARK_WORDS[state]))
    if any(isinstance(p, Text) and p.text == "—" for p in primitives):
        entries.append(Entry(_unknown(size), "value not known yet"))
    if any(isinstance(p, Text) and p.face == "italic" and p.ink == "assumed" for p in primitives):
        entries.append(Entry(_words("100 A", "italic", size), "assumed value"))
    if any(isinstance(p, Text) and p.text == "live both sides" for p in primitives):
        entries.append(Entry(_words("live", "bold", size), "open, and both sides are live"))
    return entries


def legend_block(entries: Sequence[Entry], width: float, size: float, small: bool = False) -> Block:
    """The entries in as many columns as the width holds. ``small``: narrow columns and no more air than needed."""
    columns = max(1, int((width + 8) // max((12.5 if small else 14.0) * size, 1)))
    cell = width / columns
    rows = [heading("Legend", width, size)]
    body = [_row(entries[start : start + columns], cell, size) for start in range(0, len(entries), columns)]
    rows += [replace(r, keep=n < 2 or n == len(body) - 2) for n, r in enumerate(body[:-1])] + body[-1:]
    return Block(tuple(rows), (heading("Legend (continued)", width, size),))


def _row(entries: Sequence[Entry], cell: float, size: float) -> Row:
    texts = [wrap(e.words, cell - _SAMPLE * size - 6, size) for e in entries]
    height = max(max(e.tall * size, len(t) * size * LEADING) for e, t in zip(entries, texts, strict=True)) + 1.5

    def paint(pen: Pen, x: float, y: float) -> None:
        for k, (entry, lines) in enumerate(zip(entries, texts, strict=True)):
            entry.paint(pen, x + k * cell + _SAMPLE * size / 2, y + height / 2)
            top = y + (height - len(lines) * size * LEADING) / 2
            for n, line in enumerate(lines):
                pen.text(x + k * cell + _SAMPLE * size + 4, top + RISE * size + n * size * LEADING, line, size)

    return Row(height, paint)


# ------------------------------------------------------------------------------------------------------------- samples
def _symbol(symbols: str, name: str, size: float, tall: float) -> Entry:
    symbol = find_set(symbols)[name]
    marks = tuple(
        draw_symbol(
            symbols,
            name,
            (0.0, 0.0),
            width=44.0 if symbol.stretch else 0.0,
            letter="L" if name == "load-letter" else "",
        )
    )
    left, top, right, bottom = bounds(marks)
    scale = min(0.6, _SAMPLE * size / (right - left), tall * size / (bottom - top))

    def paint(pen: Pen, x: float, y: float) -> None:
        pen.place(marks, scale, x - scale * (left + right) / 2, y - scale * (top + bottom) / 2)

    return Entry(paint, symbol.title, (bottom - top) * scale / size)


def _status(status: str, size: float) -> Entry:
    look = status_look(status)

    def paint(pen: Pen, x: float, y: float) -> None:
        half = _SAMPLE * size / 2
        ink = look.ink or "ink"
        pen.primitives.append(Stroke(((x - half, y), (x + half, y)), look.weight, look.dash, ink))
        if look.ticks:
            d = 0.28 * size
            pen.primitives.append(Stroke(((x - d, y - d), (x + d, y + d)), "thin", "solid", ink))
            pen.primitives.append(Stroke(((x - d, y + d), (x + d, y - d)), "thin", "solid", ink))

    return Entry(paint, _STATUS_WORDS[status])


def _source(sources: Sequence[SourceFacts], size: float) -> Entry:
    code = next(s.code for s in sources if s.code != "?")
    return Entry(_tag(code, size), "live from the source of this code")


def _dead(size: float) -> Paint:
    def paint(pen: Pen, x: float, y: float) -> None:
        half = _SAMPLE * size / 2
        pen.primitives.extend(dead_line([Stroke(((x - half, y), (x + half, y)))]))

    return paint


def _tag(code: str, size: float) -> Paint:
    def paint(pen: Pen, x: float, y: float) -> None:
        pen.place(tag((0.0, 0.0), code, "ink"), size / 6.5, x, y)

    return paint


def _mark(state: str, size: float) -> Paint:
    def paint(pen: Pen, x: float, y: float) -> None:
        pen.place(mark_shape(state), size / 7.0, x, y)

    return paint


def _uses_mark(picture: Picture, state: str) -> bool:
    inks = {f"verdict-{state}"}
    return any(p.ink in inks for g in picture.groups if g.part == "mark" for p in g.primitives)


def _unknown(size: float) -> Paint:
    def paint(pen: Pen, x: float, y: float) -> None:
        pen.text(x - 0.7 * size, y + 0.3 * size, "—", size)
        pen.primitives.append(Arc((x + 0.65 * size, y - 0.02 * size), 0.17 * size, weight="hair"))

    return paint


def _words(text: str, face: str, size: float) -> Paint:
    def paint(pen: Pen, x: float, y: float) -> None:
        pen.text(x, y + 0.35 * size, text, size, face, "middle")

    return paint
