"""The papers of a planned outage: switching order, test cards, notice for occupants, crew brief."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

from oneline.model import Drawing
from oneline.outage.plan_words import used
from oneline.outage.results import Plan
from oneline.paper.arrange import content_box, orientations, text_pages
from oneline.paper.door import Document
from oneline.paper.flow import Block, flow, paint
from oneline.paper.frame import Stamp, draw_frame
from oneline.paper.outage_brief import brief_blocks
from oneline.paper.outage_cards import card_pages
from oneline.paper.outage_diagram import diagram_page
from oneline.paper.outage_facts import Outage
from oneline.paper.outage_notice import notice_page
from oneline.paper.outage_order import order_blocks
from oneline.paper.page import MOST_CHARACTERS, Layer, Page, Pen, lost

PAPERS_OF_AN_OUTAGE = ("brief", "order", "cards", "notice")
KINDS = {"brief": "Crew brief", "order": "Switching order", "cards": "Test cards", "notice": "Notice of a power outage"}
#: Text sizes of the switching order: the smaller one only where it spares a page.
_ORDER_SIZES = {"letter": (8.5, 8.0), "a4": (8.5, 8.0), "tabloid": (10.5, 9.5)}
_MOST_PAGES = 200


@dataclass(frozen=True)
class _Body:
    """A page without its frame."""

    size: tuple[float, float]
    pen: Pen
    layers: tuple[Layer, ...] = ()
    what: str = ""


def plan_outage_papers(
    drawing: Drawing, plan: Plan, which: str = "all", paper: str = "letter", *, edition: int, printed_at: datetime,
    file_name: str = "", symbols: str = "us",
) -> Document:  # fmt: skip
    """Lay out one of the papers of an outage, or all of them, each with page numbers of its own.

    ``plan``: of this drawing. ``which``: one of ``PAPERS_OF_AN_OUTAGE`` or "all". Raises ``ValueError`` for another word.
    """
    if which != "all" and which not in PAPERS_OF_AN_OUTAGE:
        raise ValueError(f"paper {which!r} is not one of all, {', '.join(PAPERS_OF_AN_OUTAGE)}")
    view = drawing.view(plan.answer.view)
    outage = Outage(drawing, plan, view, paper, printed_at, edition, file_name, symbols)
    stamp = Stamp(paper, plan.answer.view, edition, file_name, printed_at)
    notes: list[str] = []
    pages: list[Page] = []
    for kind in PAPERS_OF_AN_OUTAGE if which == "all" else (which,):
        bodies = _MAKERS[kind](outage, notes)
        for n, body in enumerate(bodies, 1):
            pen = Pen()
            subject = outage.title if kind != "notice" else drawing.project.title or "Power outage"
            right = f"{KINDS[kind]}\n{body.what}" if body.what else KINDS[kind]
            notes += draw_frame(pen, *body.size, drawing, stamp, subject, n, len(bodies), right)
            pages.append(Page(*body.size, (*body.layers, body.pen.layer(), pen.layer())))
    notes += _what_is_lost(outage)
    kind = "papers of the outage" if which == "all" else KINDS[which].lower()
    return Document(f"{outage.title}: {kind}", tuple(pages), tuple(dict.fromkeys(notes)), "Planned outage")


def _order(outage: Outage, notes: list[str]) -> list[_Body]:
    page = orientations(outage.paper)[0]
    left, top, right, bottom = content_box(*page)
    room = (left, top + 4, right, bottom)
    made = [_flowed(order_blocks(outage, right - left, size), page, room) for size in _ORDER_SIZES[outage.paper]]
    return [*min(made, key=len), *_diagram(outage, notes)]


def _flowed(blocks: list[Block], page: tuple[float, float], room: tuple[float, float, float, float]) -> list[_Body]:
    """Blocks over the whole width on as many pages as it takes."""
    left, top, _, bottom = room
    for count in range(1, _MOST_PAGES):
        placed = flow(blocks, [bottom - top] * count)
        if placed is None:
            continue
        bodies = []
        for n in range(count):
            pen = Pen()
            for p in placed:
                if p.column == n:
                    p.row.paint(pen, left, top + p.y)
            bodies.append(_Body(page, pen))
        return bodies
    raise ValueError("a row of the switching order is higher than a page")


def _diagram(outage: Outage, notes: list[str]) -> list[_Body]:
    made = diagram_page(outage)
    if made is None:
        if used(outage.plan) is None:
            return []
        notes.append("The diagram is too large for this paper and is left out: print the door sheet.")
        return []
    size, layers, pen = made
    return [_Body(size, pen, layers, "Diagram, every isolation point open")]


def _cards(outage: Outage, notes: list[str]) -> list[_Body]:
    if not outage.plan.cards:
        pen = Pen()
        page = orientations(outage.paper)[0]
        left, top, _, _ = content_box(*page)
        pen.text(left, top + 24, "There is no test card: the plan names no point of work.", 10, "bold")
        return [_Body(page, pen)]
    pages, short = card_pages(outage)
    if short:
        notes.append("A test card is too long for its page and was cut short.")
    return [_Body(p.size, p.pen) for p in pages]


def _notice(outage: Outage, notes: list[str]) -> list[_Body]:
    page, pen, short = notice_page(outage)
    if short:
        notes.append("The notice has one page: not everything that goes dark stands on it.")
    return [_Body(page, pen)]


def _brief(outage: Outage, notes: list[str]) -> list[_Body]:
    bodies = []
    for page in text_pages(outage.paper, lambda width, size: brief_blocks(outage, width, size), False):
        pen = Pen()
        paint(page.placed, pen, page.text_at[0], page.text_at[1] + 4, page.column_width)
        bodies.append(_Body((page.width, page.height), pen))
    return bodies


_MAKERS: dict[str, Callable[[Outage, list[str]], list[_Body]]] = {
    "order": _order, "cards": _cards, "notice": _notice, "brief": _brief,
}  # fmt: skip


def _what_is_lost(outage: Outage) -> list[str]:
    """Characters that the font lacks, and texts that are too long for any sheet."""
    zone = outage.plan.answer.zone
    texts = [zone.name, zone.lead, zone.second, zone.crew, zone.contact, zone.utility_contact, zone.notes]
    texts += [t for s in outage.plan.steps for t in (s.words, s.name, s.place, s.why)]
    texts += [t for d in outage.plan.dark for t in (d.name, d.place)]
    texts += [t for c in outage.plan.cards for t in (c.name, c.place)]
    notes = []
    bad = next((t for t in texts if lost(t)), None)
    if bad is not None:
        notes.append(f"Some characters cannot be printed and stand as “?”, first in “{bad[:30]}”.")
    long = next((t for t in texts if len(t) > MOST_CHARACTERS), None)
    if long is not None:
        notes.append(f"A text is too long for the sheet and was shortened: “{long[:30]}…”.")
    return notes
