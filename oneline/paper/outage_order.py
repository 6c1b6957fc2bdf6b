"""The switching order to carry and sign: answer and isolation points on top, then every step with its boxes."""

from __future__ import annotations

from dataclasses import replace

from oneline.model import StepMark
from oneline.model.cautions import ZONE_CAUTION
from oneline.outage.plan_words import (
    PART_TITLES,
    answer_lines,
    clock,
    current_basis,
    current_words,
    headline,
    list_words,
    live_side_words,
    point_place,
    rated,
    record_lines,
    source_names,
    step_place,
    step_why,
    used,
)
from oneline.outage.results import IsolationPoint, Plan, Step
from oneline.paper.flow import Block, Row
from oneline.paper.outage_facts import Outage, first_restore_step
from oneline.paper.outage_rows import Para, band, gap, labelled, paragraph, table_row, to_fill_in

#: Names listed at a step; the brief has all of them.
_MOST_NAMES = 6
_LEAST_ROW = 24.0
#: Widths of the columns that are not the words, in text sizes.
_NUMBER, _CURRENT, _LOCK, _INITIALS, _TIME = 4.4, 11.5, 4.2, 4.6, 5.6


def order_blocks(outage: Outage, width: float, size: float) -> list[Block]:
    """Everything of the switching order for a page of this width."""
    return [_top(outage, width, size), *_points(outage, width, size), *_steps(outage, width, size)]


def _top(outage: Outage, width: float, size: float) -> Block:
    plan, zone = outage.plan, outage.plan.answer.zone
    worked_on = list_words([outage.name(i) for i in zone.items], 20) or "nothing chosen"
    rows = [
        band(headline(plan), width, size * 1.25, False, True, (Para(ZONE_CAUTION, size, "bold"),)),
        gap(3),
        labelled("Worked on", worked_on, width, size),
    ]
    rows += [labelled(label, sentence, width, size) for label, sentence in answer_lines(outage.drawing, plan)]
    rows += [labelled("On record", line, width, size) for line in record_lines(outage.drawing, plan)]
    isolation = used(plan)
    if isolation is not None and isolation.proof:
        rows.append(labelled("How it was shown", isolation.proof, width, size))
    rows += [
        to_fill_in((("Begins", outage.begins, 3), ("In charge", zone.lead, 3.4), ("Initials", "", 1.6)), width, size),
        to_fill_in((("Crew", zone.crew, 3), ("Second person", zone.second, 3.4), ("Initials", "", 1.6)), width, size),
        to_fill_in((("Utility, outages", zone.utility_contact, 4), ("Occupants", zone.contact, 4)), width, size),
    ]  # fmt: skip
    if zone.notes:
        rows.append(labelled("Notes", zone.notes, width, size))
    return Block(tuple(rows))


def _points(outage: Outage, width: float, size: float) -> list[Block]:
    isolation = used(outage.plan)
    if isolation is None or not isolation.held:
        return []
    lock, box = 4.6 * size, 7.0 * size
    rest = width - lock - 2 * box
    widths = (lock, rest * 0.3, rest * 0.34, rest * 0.36, box, box)
    head = table_row(
        widths,
        [[Para(t, size * 0.92, "bold")] for t in ("Lock", "Isolation point", "Parts the zone from", "When open",
                                                  "Locked by", "Time")],
        keep=True, weight="thin", top=True,
    )  # fmt: skip
    rows = [_point(outage, point, widths, size) for point in isolation.held]
    return [Block((head, *rows), (head,))]


def _point(outage: Outage, point: IsolationPoint, widths: tuple[float, ...], size: float) -> Row:
    sides = live_side_words(outage.drawing, point)
    both = len([s for s in point.live_sides.values() if s]) > 1
    when_open = [Para(side, size * 0.92, "bold" if both else "regular") for side in sides]
    if both:
        when_open.insert(0, Para("Live on both sides", size * 0.92, "bold"))
    if not sides:
        when_open = [Para("no side stays live by the drawing", size * 0.92)]
    record = next((r for r in outage.plan.answer.zone.locks if r.item == point.item), None)
    name = [Para(point.name, size, "bold"), Para(point_place(outage.drawing, point), size * 0.92)]
    name += [Para(reason, size * 0.92, "italic") for reason in point.why]
    if point.is_open:
        name.append(Para("open already: lock it as it is", size * 0.92))
    cells = [
        [Para(record.number if record and record.number else point.lock, size, "bold")], name,
        [Para(source_names(outage.drawing, point.parts_from), size)], when_open,
        [Para(record.by if record else "", size * 0.92)], [Para(record.when if record else "", size * 0.92)],
    ]  # fmt: skip
    return table_row(widths, cells, least=_LEAST_ROW)


# --------------------------------------------------------------------------------------------------------------- steps
def _steps(outage: Outage, width: float, size: float) -> list[Block]:
    plan = outage.plan
    if not plan.steps:
        text = "No switching order is printed: there is no isolation to work from."
        return [Block((band(text, width, size * 1.2),))]
    own = [_NUMBER * size, 0.0, _CURRENT * size, _LOCK * size, _INITIALS * size, _INITIALS * size, _TIME * size]
    own[1] = width - sum(own)
    widths = tuple(own)
    head = table_row(
        widths,
        [[Para(t, size * 0.92, "bold")] for t in ("Step", "What is done, and where", "Current, rating", "Lock", "Initials 1",
                                                  "Initials 2", "Time done")],
        keep=True, weight="thin", top=True,
    )  # fmt: skip
    rows: list[Row] = [head]
    part, restoring, banded = "", False, False
    for step in plan.steps:
        if step.part in ("check", "close") and not restoring:
            restoring = True
            rows.append(
                band("RESTORE: begins here, in this order, one device at a time", width, size * 1.1, True, True)
            )
        if step.part != part:
            part = step.part
            rows += [gap(6), paragraph(Para(PART_TITLES.get(part, part), size * 1.15, "bold"), width, True, 2, 2)]
            rows.append(_rule(width))
            banded = False
        rows += _step_rows(outage, step, widths, size, banded)
        banded = step.hold or step.back_out
    # Nobody signs a page without a step on it.
    rows[-1] = replace(rows[-1], keep=True)
    rows += [gap(8), *_signatures(width, size)]
    return [Block(tuple(rows), (head,))]


def _rule(width: float) -> Row:
    return Row(0.5, lambda pen, x, y: pen.line(x, y + 0.5, x + width, y + 0.5, "hair", "ink"), keep=True)


def _step_rows(outage: Outage, step: Step, widths: tuple[float, ...], size: float, after_band: bool) -> list[Row]:
    """The row of a step and the bands that follow it. ``after_band``: no line stands above it yet."""
    plan = outage.plan
    small = size * 0.92
    done = next((m for m in plan.answer.zone.marks if m.step == step.key), None)
    planned = clock(plan.answer.zone, step.minute)
    isolation = used(plan)
    lock = next((p.lock for p in isolation.held if p.item == step.item), "") if isolation is not None else ""
    cells = [
        [Para(f"{step.number}", size * 1.1, "bold"), Para(planned, small * 0.95, most=2)],
        _what(outage, step, size, small), _current(step, size, small),
        [Para(step.lock or (lock if step.action in ("lock", "unlock") else ""), size, "bold")],
        *_done(done, small),
    ]  # fmt: skip
    marked = step.hold or step.back_out
    own = widths
    if step.current is None and step.rating_a is None:  # nothing is switched: its words have the room
        own = (widths[0], widths[1] + widths[2], *widths[3:])
        del cells[2]
    rows = [table_row(own, cells, keep=marked, least=_LEAST_ROW, top=after_band)]
    total = sum(widths)
    if step.hold:
        rows.append(_hold(step, total, size, keep=step.back_out))
    if step.back_out:
        rows.append(_back_out(plan, step, total, size))
    return rows


def _what(outage: Outage, step: Step, size: float, small: float) -> list[Para]:
    out = [Para(step.words, size, "bold")]
    where = [step.name] if step.name and step.name.casefold() not in step.words.casefold() else []
    if place := step_place(outage.drawing, step):
        where.append(place)
    if where:
        out.append(Para(", ".join(where), small))
    if why := step_why(step):
        out.append(Para(why, small, "bold" if step.state == "fail" else "italic"))
    if step.dark:
        out.append(Para(f"Goes dark: {list_words([outage.name(i) for i in step.dark], _MOST_NAMES)}", small))
    if step.back:
        out.append(Para(f"Gets power: {list_words([outage.name(i) for i in step.back], _MOST_NAMES)}", small))
    return out


def _current(step: Step, size: float, small: float) -> list[Para]:
    out = []
    if step.current is not None:
        out.append(Para(current_words(step.current), size, "bold"))
        out.append(Para(current_basis(step.current), small))
        if step.current.needs:
            out.append(Para(f"Missing: {'; '.join(step.current.needs)}", small, "italic"))
    if step.rating_a is not None:
        out.append(Para(f"rated {rated(step.rating_a)}", small))
    elif step.current is not None:
        out.append(Para("rating not known", small, "italic"))
    return out


def _done(mark: StepMark | None, small: float) -> list[list[Para]]:
    if mark is None:
        return [[], [], []]
    return [[Para(mark.by, small)], [], [Para(mark.when, small)]]


def _hold(step: Step, width: float, size: float, keep: bool) -> Row:
    text = f"HOLD after step {step.number}: nobody goes on before it is confirmed"
    return band(
        text, width, size * 1.05, True, keep, (Para("Confirmed by ____________________   Time __________", size),)
    )


def _back_out(plan: Plan, step: Step, width: float, size: float) -> Row:
    restore = first_restore_step(plan)
    go_to = f"turn back by going on at step {restore}" if restore is not None else "turn back in reverse order"
    at = clock(plan.answer.zone, step.minute)
    text = f"BACK-OUT POINT after step {step.number}: up to here nobody has worked"
    more = (
        f"To give up, {go_to}. Latest time to turn back: {'____________' if not at else f'____________ (planned {at})'}"
    )
    return band(text, width, size * 1.05, False, False, (Para(more, size),))


def _signatures(width: float, size: float) -> list[Row]:
    return [
        to_fill_in((("In charge, signature", "", 5), ("Date, time", "", 3)), width, size, keep=True),
        to_fill_in((("Second person, signature", "", 5), ("Date, time", "", 3)), width, size),
    ]
