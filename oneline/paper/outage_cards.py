"""Test cards: one for each point of work and each terminal of an opened device, to be cut apart and filled in."""

from __future__ import annotations

from dataclasses import dataclass

from oneline.model.cautions import ZONE_CAUTION
from oneline.outage.plan_words import UNKNOWN, headline, holds, source_names, where_is
from oneline.outage.results import Pair, TestCard
from oneline.paper.arrange import content_box, orientations
from oneline.paper.blocks import RISE
from oneline.paper.flow import Row
from oneline.paper.outage_facts import Outage
from oneline.paper.outage_rows import AIR, Para, beside, gap, paragraph, table_row, to_fill_in
from oneline.paper.page import Pen
from oneline.sheet.metrics import text_width

#: Cards across and down on a page, and the text sizes tried for each, best first.
_LAYOUTS = ((2, 2, (8.0, 7.5, 7.0)), (1, 2, (9.0, 8.5, 8.0, 7.5, 7.0)), (1, 1, (10.0, 9.0, 8.0, 7.0, 6.5)))
_PAD = 9.0
#: From this width the pairs stand beside what else is to be filled in.
_WIDE = 400.0


@dataclass(frozen=True)
class CardPage:
    """The cards of one page, painted."""

    size: tuple[float, float]
    pen: Pen


def card_pages(outage: Outage) -> tuple[list[CardPage], bool]:
    """Pages of cards, and whether something had to be shortened."""
    page = orientations(outage.paper)[0]
    left, top, right, bottom = content_box(*page)
    cards = outage.plan.cards
    for across, down, sizes in _LAYOUTS:
        width, height = (right - left) / across, (bottom - top) / down
        for size in sizes:
            made = [_rows(outage, card, n, width - 2 * _PAD, size) for n, card in enumerate(cards, 1)]
            if all(sum(r.height for r in rows) <= height - 2 * _PAD for rows in made):
                return _placed(page, made, across, down, (left, top, width, height)), False
    made = [_shortened(_rows(outage, c, n, width - 2 * _PAD, size), height) for n, c in enumerate(cards, 1)]
    return _placed(page, made, 1, 1, (left, top, width, height)), True


def _shortened(rows: list[Row], height: float) -> list[Row]:
    out: list[Row] = []
    for row in rows:
        if sum(r.height for r in out) + row.height > height - 2 * _PAD:
            break
        out.append(row)
    return out


def _placed(
    page: tuple[float, float], made: list[list[Row]], across: int, down: int, cell: tuple[float, float, float, float]
) -> list[CardPage]:  # fmt: skip
    left, top, width, height = cell
    pages: list[CardPage] = []
    per_page = across * down
    for start in range(0, len(made), per_page):
        pen = Pen()
        for n, rows in enumerate(made[start : start + per_page]):
            x, y = left + n % across * width, top + n // across * height
            at = y + _PAD
            for row in rows:
                row.paint(pen, x + _PAD, at)
                at += row.height
        if across > 1:
            _cut(pen, (left + width, top), (left + width, top + down * height))
        for k in range(1, down):
            _cut(pen, (left, top + k * height), (left + across * width, top + k * height))
        pages.append(CardPage(page, pen))
    return pages


def _cut(pen: Pen, a: tuple[float, float], b: tuple[float, float]) -> None:
    """A line to cut along: short dashes."""
    (x0, y0), (x1, y1) = a, b
    length = max(abs(x1 - x0), abs(y1 - y0))
    dx, dy = (x1 - x0) / length, (y1 - y0) / length
    at = 0.0
    while at < length:
        end = min(at + 5, length)
        pen.line(x0 + dx * at, y0 + dy * at, x0 + dx * end, y0 + dy * end, "hair", "ink")
        at += 9


def _without_source(outage: Outage, card: TestCard) -> str:
    """What stands on a card of a point that no source surely keeps live once every point is open."""
    if card.waits_for:
        names = source_names(outage.drawing, card.waits_for)
        return f"LIVE from {names} until whoever can has opened it and said so: nothing on the premises stands between."
    if card.possibly_from:
        names = source_names(outage.drawing, card.possibly_from)
        return f"Possibly live with every point open: nobody traced whether {names} reaches it."
    return "By the drawing no source reaches it with every point open. Not verified."


def _rows(outage: Outage, card: TestCard, number: int, width: float, size: float) -> list[Row]:
    small = size * 0.9
    head = f"{card.name}: {card.terminal}"
    if card.live_from:
        live = Para(
            f"Stays live with every point open: from {source_names(outage.drawing, card.live_from)}.", size, "bold"
        )
    else:
        live = Para(_without_source(outage, card), size, "bold" if card.waits_for or card.possibly_from else "regular")
    place = card.place or where_is(outage.drawing, card.item) or "location not recorded"
    top = [
        _title(head, f"Card {number} of {len(outage.plan.cards)}", width, size),
        paragraph(Para(f"{place}. System: {card.system or UNKNOWN}.", size, most=3), width),
        paragraph(Para(", ".join(filter(None, (outage.title, outage.begins))), small, "italic", most=2), width),
        paragraph(live, width),
        *([] if holds(outage.plan) else [paragraph(Para(headline(outage.plan), size, "bold"), width)]),
        gap(3),
    ]
    if width < _WIDE:
        return [
            *top,
            *_pairs(card, width, size, small),
            gap(2),
            *_fields(width, size, True),
            *_words(card, width, small),
        ]
    left = 0.54 * width
    right = width - left - 2 * _PAD
    more = [*_fields(right, size, False), gap(3), *_words(card, right, small)]
    return [*top, beside(_pairs(card, left, size, small), more, left + 2 * _PAD)]


def _words(card: TestCard, width: float, small: float) -> list[Row]:
    size = max(6.5, small)
    notes = [paragraph(Para(" ".join(card.notes), size), width)] if card.notes else []
    return [gap(2), *notes, paragraph(Para(ZONE_CAUTION, size, "bold"), width)]


def _fields(width: float, size: float, narrow: bool) -> list[Row]:
    """Who tested with what, and that the meter was proved before and after."""
    before, after = "Proved on a live source before", "Proved on a live source after"
    if narrow:
        lines: tuple[tuple[tuple[str, str, float], ...], ...] = (
            ((before, "", 5.2), ("Reads", "", 1.8), ("Time", "", 1.8)),
            ((after, "", 5.2), ("Reads", "", 1.8), ("Time", "", 1.8)),
            (("Instrument", "", 4), ("Number", "", 2.6), ("CAT", "", 1.8)),
            (("Tested by", "", 3), ("Second person", "", 3), ("Time", "", 1.8)),
        )  # fmt: skip
    else:
        lines = (
            ((before, "", 1),), (("Reads", "", 1), ("Time", "", 1)), ((after, "", 1),), (("Reads", "", 1), ("Time", "", 1)),
            (("Instrument", "", 1),), (("Number", "", 3), ("CAT", "", 2)), (("Tested by", "", 3), ("Time", "", 2)),
            (("Second person", "", 1),),
        )  # fmt: skip
    return [to_fill_in(line, width, size) for line in lines]


def _title(text: str, right: str, width: float, size: float) -> Row:
    room = width - 0.68 * size * len(right) - 6
    para = Para(text, size * 1.2, "bold", most=3)
    height = para.height(room) + 1

    def paint(pen: Pen, x: float, y: float) -> None:
        para.paint(pen, x, y, room)
        pen.text(x + width, y + RISE * size * 1.2, right, size, anchor="end")

    return Row(height, paint, keep=True)


def _pairs(card: TestCard, width: float, size: float, small: float) -> list[Row]:
    label = max((text_width(pair.label, size, "bold") for pair in card.pairs), default=0.0) + 2 * AIR + 1
    live = max(0.16 * width, text_width("While live", small, "bold") + 2 * AIR + 1)
    rest = width - max(label, 0.17 * width) - live
    widths = (max(label, 0.17 * width), live, 0.61 * rest, 0.39 * rest)
    titles = [[Para(t, small, "bold")] for t in ("Pair", "While live", "Expected now", "Measured")]
    head = table_row(widths, titles, weight="thin", top=True, air=1.8)
    return [
        head,
        *(table_row(widths, _pair(pair, size, small), least=max(14.0, size * 1.72), air=1.8) for pair in card.pairs),
    ]


def _pair(pair: Pair, size: float, small: float) -> list[list[Para]]:
    live = UNKNOWN if pair.live_v is None else f"{pair.live_v:,.0f} V"
    return [[Para(pair.label, size, "bold")], [Para(live, small)], [Para(pair.expected, small)], []]
