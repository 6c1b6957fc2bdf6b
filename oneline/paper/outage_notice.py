"""The notice for the people in the building: what will be without power, from when to when. One page, plain words."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

from oneline.outage.plan_words import begin_of, day_words, hour_words, lasting
from oneline.outage.results import DarkItem
from oneline.paper.arrange import content_box, orientations
from oneline.paper.flow import Row
from oneline.paper.outage_facts import Outage, dark_for_people, known_as
from oneline.paper.outage_rows import Para, band, gap, paragraph, table_row, to_fill_in
from oneline.paper.page import Pen

_SIZES = (14.0, 13.0, 12.0, 11.0, 10.0, 9.5, 9.0, 8.5)
_BLANK = "______________"
#: Rounded to this many minutes: nobody in the building needs more.
_ROUND_MIN = 5
#: What people are asked; common practice of notices, no source.
ASKED = (
    "Shut down computers and machines before the power goes off, and leave them off until it is back.",
    "Keep doors of refrigerators and cold rooms closed. Do not use an elevator shortly before the power goes off.",
    "Leave electrical rooms, switches, locks and tags alone, also when everything seems to be off.",
    "The power may come back and go off again while it is being restored.",
)
NOT_KNOWN = "What will be without power is not known yet."


def notice_page(outage: Outage) -> tuple[tuple[float, float], Pen, bool]:
    """The page, and whether the list had to be cut short."""
    page = orientations(outage.paper)[0]
    left, top, right, bottom = content_box(*page)
    width, height = right - left, bottom - top - 6
    items = dark_for_people(outage)
    for size in _SIZES:
        rows = _rows(outage, items, len(items), width, size)
        if sum(r.height for r in rows) <= height:
            return page, _painted(rows, left, top + 6), False
    # What needs care before it loses power stays on the page.
    items.sort(key=lambda dark: not dark.matters)
    shown = len(items)
    while shown > 0:
        shown -= 1
        rows = _rows(outage, items, shown, width, _SIZES[-1])
        if sum(r.height for r in rows) <= height:
            break
    return page, _painted(rows, left, top + 6), True


def _painted(rows: Sequence[Row], left: float, top: float) -> Pen:
    pen = Pen()
    for row in rows:
        row.paint(pen, left, top)
        top += row.height
    return pen


def _rows(outage: Outage, items: Sequence[DarkItem], shown: int, width: float, size: float) -> list[Row]:
    project = outage.drawing.project
    where = ", ".join(filter(None, (project.title, project.address)))
    return [
        band("The electricity will be off", width, size * 1.7, True, False, (Para(where, size * 1.05),) if where else ()),
        gap(size * 0.5),
        *_when(outage, items, width, size),
        gap(size * 0.5),
        paragraph(Para("Without power" if items else NOT_KNOWN, size * 1.15, "bold"), width),
        gap(2),
        *_table(outage, items, shown, width, size),
        gap(size * 0.5),
        paragraph(Para("Please", size * 1.15, "bold"), width),
        *(paragraph(Para(f"–  {text}", size), width, after=1) for text in ASKED),
        gap(size * 0.5),
        *_contact(outage, width, size),
    ]  # fmt: skip


def _when(outage: Outage, items: Sequence[DarkItem], width: float, size: float) -> list[Row]:
    begin = begin_of(outage.plan.answer.zone)
    if begin is None:
        said = outage.plan.answer.zone.begins or ""
        return [to_fill_in((("Day", said, 4), ("from", "", 2.5), ("until about", "", 2.5)), width, size * 1.2)]
    starts = [d.from_min for d in items]
    ends = [d.to_min for d in items]
    first, last = (min((s for s in starts if s is not None), default=None), None)
    if ends and all(e is not None for e in ends):
        last = max(e for e in ends if e is not None)
    since = begin if first is None else _at(begin, first, False)
    rows = [paragraph(Para(day_words(since), size * 1.5, "bold"), width)]
    until = None if last is None else _at(begin, last, True)
    end = _BLANK if until is None else _hours(until, since)
    text = f"from about {hour_words(since)} until about {end}"
    if until is not None and first is not None:
        text += f" ({lasting((until - since).total_seconds() / 60)})"
    rows.append(paragraph(Para(text, size * 1.3, "bold"), width))
    rows.append(paragraph(Para("These are planned times. They may change; the work may take longer.", size), width))
    return rows


def _at(begin: datetime, minute: float, up: bool) -> datetime:
    """The time of a minute, rounded away from the outage to full five minutes."""
    steps = minute / _ROUND_MIN
    rounded = -int(-steps // 1) if up else int(steps // 1)
    try:
        return begin + timedelta(minutes=_ROUND_MIN * rounded)
    except OverflowError:
        return begin


def _hours(when: datetime, day_of: datetime) -> str:
    return hour_words(when) if when.date() == day_of.date() else f"{hour_words(when)}, {day_words(when)}"


def _table(outage: Outage, items: Sequence[DarkItem], shown: int, width: float, size: float) -> list[Row]:
    if not items:
        return []
    begin = begin_of(outage.plan.answer.zone)
    care = any(d.matters for d in items)
    shares = (0.23, 0.3, 0.13, 0.13, 0.21) if care else (0.28, 0.42, 0.15, 0.15)
    widths = tuple(width * share for share in shares)
    titles = ("Place, or place of the panel", "What", "Off from", "Back by about", "Needs care")[: len(widths)]
    rows = [table_row(widths, [[Para(t, size * 0.9, "bold")] for t in titles], weight="thin", top=True, keep=True)]
    for dark in items[:shown]:
        cells = [[Para(dark.place or dark.name, size, "bold", most=3)], [Para(known_as(outage, dark), size * 0.8, most=4)],
                 [Para(_time(begin, dark.from_min, False), size)], [Para(_time(begin, dark.to_min, True), size)]]  # fmt: skip
        if care:
            cells.append([Para(dark.matters, size * 0.8, "bold", most=10)])
        rows.append(table_row(widths, cells, least=size * 1.9))
    if shown < len(items):
        more = f"and {len(items) - shown} more: ask the contact below"
        rows.append(paragraph(Para(more, size, "bold"), width, after=2))
    return rows


def _time(begin: datetime | None, minute: float | None, up: bool) -> str:
    if begin is None or minute is None:
        return ""
    when = _at(begin, minute, up)
    return hour_words(when) if when.date() == begin.date() else f"{hour_words(when)}, {when:%Y-%m-%d}"


def _contact(outage: Outage, width: float, size: float) -> list[Row]:
    project, zone = outage.drawing.project, outage.plan.answer.zone
    who = ", ".join(filter(None, (project.contractor, project.phone)))
    rows = [
        paragraph(Para("Questions, or something that must not lose power? Tell us before that day.", size, "bold"), width),
        to_fill_in((("Contact", zone.contact, 1),), width, size),
    ]  # fmt: skip
    if who:
        rows.append(to_fill_in((("Work carried out by", who, 1),), width, size))
    return rows
