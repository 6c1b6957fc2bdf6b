"""The crew brief: what everybody has to know before the first switch is touched."""

from __future__ import annotations

from oneline.model.cautions import ZONE_CAUTION
from oneline.outage.plan_words import (
    answer_lines,
    clock,
    headline,
    lasting,
    list_words,
    point_place,
    record_lines,
    source_names,
    step_why,
    used,
)
from oneline.outage.results import DarkItem
from oneline.paper.blocks import RISE, heading
from oneline.paper.flow import Block, Row
from oneline.paper.outage_facts import Outage, first_restore_step, sources_and_cuts, stays_live
from oneline.paper.outage_rows import Para, band, gap, labelled, paragraph, to_fill_in
from oneline.paper.page import Pen

NO_SPARE = "This plan names no other way to feed anything."


def brief_blocks(outage: Outage, width: float, size: float) -> list[Block]:
    """The blocks of the brief, most important first."""
    made = [
        ("", _answer(outage, width, size)),
        ("The work and the people", _work(outage, width, size)),
        ("Every source, and where it is cut", _sources(outage, width, size)),
        ("Isolation points", _points(outage, width, size)),
        ("What stays live", _list(stays_live(outage), width, size, "Nothing known by the drawing. Test all the same.")),
        ("What is not known", _not_known(outage, width, size)),
        ("Turning back", _turning_back(outage, width, size)),
        ("If a device does not close again", _list([s.says for s in outage.plan.spares], width, size, NO_SPARE)),
        ("Without power", _dark(outage, width, size)),
        ("What the readings say", _list([n.says for n in outage.plan.notes], width, size, "")),
    ]  # fmt: skip
    return [_block(title, rows, width, size) for title, rows in made if rows]


def _block(title: str, rows: list[Row], width: float, size: float) -> Block:
    if not title:
        return Block(tuple(rows))
    return Block((heading(title, width, size), *rows), (heading(f"{title} (continued)", width, size),))


def _item(text: str, width: float, size: float, face: str = "regular") -> Row:
    """A paragraph behind a dash."""
    inner = paragraph(Para(text, size, face), width, indent=8.0, after=1.0)

    def paint(pen: Pen, x: float, y: float) -> None:
        pen.text(x, y + RISE * size, "–", size)
        inner.paint(pen, x, y)

    return Row(inner.height, paint)


def _list(texts: list[str], width: float, size: float, nothing: str) -> list[Row]:
    if not texts:
        return [paragraph(Para(nothing, size), width)] if nothing else []
    return [_item(text, width, size) for text in texts]


def _answer(outage: Outage, width: float, size: float) -> list[Row]:
    return [band(headline(outage.plan), width, size * 1.15, False, True, (Para(ZONE_CAUTION, size, "bold"),)), gap(2)]


def _work(outage: Outage, width: float, size: float) -> list[Row]:
    zone = outage.plan.answer.zone
    planned = [s.minute for s in outage.plan.steps if s.minute is not None]
    until = clock(zone, max(planned)) if planned else ""
    rows = [
        labelled("Work", outage.title, width, size),
        labelled("Worked on", list_words([outage.name(i) for i in zone.items], 30) or "nothing chosen", width, size),
        to_fill_in((("Begins", outage.begins, 3), ("Last step begins", until, 2.6)), width, size),
        to_fill_in((("In charge", zone.lead, 1), ("Second person", zone.second, 1)), width, size),
        to_fill_in((("Crew", zone.crew, 1),), width, size),
        to_fill_in((("Utility's number for outages", zone.utility_contact, 1),), width, size),
        to_fill_in((("Contact for occupants", zone.contact, 1),), width, size),
        to_fill_in((("Ambulance and fire", "", 1), ("Nearest hospital", "", 1)), width, size),
        to_fill_in((("Address to give", outage.drawing.project.address, 1),), width, size),
    ]
    if zone.work_min is not None:
        rows.append(labelled("Time for the work itself", lasting(zone.work_min), width, size))
    if zone.notes:
        rows.append(labelled("Notes", zone.notes, width, size))
    return rows


def _sources(outage: Outage, width: float, size: float) -> list[Row]:
    found = sources_and_cuts(outage)
    if not found:
        return [paragraph(Para("No source is on this drawing. That does not mean there is none.", size, "bold"), width)]
    rows = []
    for name, cuts in found:
        rows.append(labelled(name, cuts[0], width, size))
        rows += [_item(cut, width, size) for cut in cuts[1:]]
    return rows


def _points(outage: Outage, width: float, size: float) -> list[Row]:
    isolation = used(outage.plan)
    if isolation is None:
        return [paragraph(Para("None is known.", size, "bold"), width)]
    rows = []
    for point in isolation.held:
        label = f"{point.lock} {point.name}".strip()
        parts = f"; parts the zone from {source_names(outage.drawing, point.parts_from)}" if point.parts_from else ""
        rows.append(
            labelled(
                label,
                f"{point_place(outage.drawing, point)}{parts}{'; open already' if point.is_open else ''}",
                width,
                size,
            )
        )
        rows += [_item(reason, width, size) for reason in point.why]
    return rows


def _not_known(outage: Outage, width: float, size: float) -> list[Row]:
    rows = [labelled(label, text, width, size) for label, text in answer_lines(outage.drawing, outage.plan)]
    rows += [labelled("On record", line, width, size) for line in record_lines(outage.drawing, outage.plan)]
    doubtful = [s for s in outage.plan.steps if s.state in ("fail", "unknown", "judge")]
    rows += [labelled(f"Step {s.number}", step_why(s) or "not decided", width, size) for s in doubtful]
    return rows or [
        paragraph(Para("Nothing that was entered leaves a question. What was not entered is not on it.", size), width)
    ]


def _turning_back(outage: Outage, width: float, size: float) -> list[Row]:
    plan = outage.plan
    back = next((s for s in plan.steps if s.back_out), None)
    restore = first_restore_step(plan)
    if not plan.steps:
        return []
    if back is None:
        return [
            paragraph(
                Para("The order names no point up to which one can turn back without having worked.", size), width
            )
        ]
    at = clock(plan.answer.zone, back.minute)
    text = f"Up to step {back.number}{f' (planned {at})' if at else ''} nobody has worked: "
    text += f"turn back by going on at step {restore}." if restore is not None else "turn back in reverse order."
    return [
        paragraph(Para(text, size), width),
        to_fill_in((("Latest time to turn back", "", 1),), width, size),
        to_fill_in((("Who decides", "", 1),), width, size),
    ]


def _dark(outage: Outage, width: float, size: float) -> list[Row]:
    return [
        _item(_dark_words(outage, dark), width, size, "bold" if dark.matters else "regular")
        for dark in outage.plan.dark
    ]


def _dark_words(outage: Outage, dark: DarkItem) -> str:
    zone = outage.plan.answer.zone
    since, until = clock(zone, dark.from_min), clock(zone, dark.to_min)
    place = f", {dark.place}" if dark.place else ""
    when = f"from {since}" if since else f"from step {dark.first_step}"
    when += (
        f" to {until}" if until else f" to step {dark.last_step}" if dark.last_step is not None else ", end not known"
    )
    return f"{dark.name}{place}: {when}{f'; {dark.matters}' if dark.matters else ''}"
