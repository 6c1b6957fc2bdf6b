"""The text of ``oneline plan``: the answer first, then what is opened, the steps, what goes dark, what else may be done."""

from __future__ import annotations

import textwrap

from oneline.model import Drawing
from oneline.model.cautions import CAUTIONS, ZONE_CAUTION
from oneline.outage.plan_words import (
    PART_TITLES,
    answer_lines,
    clock,
    current_basis,
    current_words,
    headline,
    lasting,
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
from oneline.outage.results import Isolation, Plan, Step

WIDTH = 110
_INDENT = "        "


def report(path: str, drawing: Drawing, plan: Plan) -> str:
    """The whole report of one plan."""
    zone = plan.answer.zone
    title = zone.name or "Work zone"
    lines = [f"{title}: {drawing.project.title or 'building not named'}, {plan.answer.view} view", f"  {path}", ""]
    if zone.begins:
        lines.append(f"Begins {zone.begins}.")
    worked_on = "; ".join(drawing.name_of(i) for i in zone.items) or "nothing yet"
    lines += [*_wrap(f"Worked on: {worked_on}.", ""), "", *_wrap(headline(plan), "")]
    for label, sentence in answer_lines(drawing, plan):
        lines += _wrap(f"{label}: {sentence}", "  ")
    lines += [line for text in record_lines(drawing, plan) for line in _wrap(f"On record: {text}", "  ")]
    lines += [*_wrap(ZONE_CAUTION, ""), ""]
    isolation = used(plan)
    if isolation is not None:
        lines += _isolation(drawing, plan, isolation)
    lines += _steps(drawing, plan)
    lines += _dark(plan)
    lines += _rest(drawing, plan)
    lines += ["Cautions", *(line for caution in CAUTIONS for line in _wrap(caution, "  - ", "    "))]
    return "\n".join(lines)


def _wrap(text: str, first: str, rest: str | None = None) -> list[str]:
    rest = " " * len(first) if rest is None else rest
    return textwrap.wrap(text, WIDTH, initial_indent=first, subsequent_indent=rest) or [first.rstrip()]


def _isolation(drawing: Drawing, plan: Plan, isolation: Isolation) -> list[str]:
    lines = [f"Isolation points ({len(isolation.points)})"]
    for point in isolation.held:
        if point in isolation.lock_too[:1]:
            lines.append(f"To lock as well ({len(isolation.lock_too)})")
        parts = f"; parts {source_names(drawing, point.parts_from)} from the zone" if point.parts_from else ""
        is_open = "; open already" if point.is_open else ""
        lines += _wrap(
            f"{point.lock or '-':<4}{point.name}, {point_place(drawing, point)}{parts}{is_open}.", "  ", "      "
        )
        for sentence in (*live_side_words(drawing, point), *point.why):
            lines += _wrap(sentence, "      ")
    if isolation.proof:
        lines += _wrap(isolation.proof, "  ")
    others = [a for a in plan.answer.alternatives if a is not isolation and a.items != isolation.items]
    for other in others:
        doubt = f" Not known: {other.unknown[0]}" if other.unknown else ""
        lines += _wrap(f"Or: {list_words([p.name for p in other.points])}.{doubt}", "  ")
    return [*lines, ""]


def _steps(drawing: Drawing, plan: Plan) -> list[str]:
    lines: list[str] = []
    part = ""
    for step in plan.steps:
        if step.part != part:
            part = step.part
            lines += ["", PART_TITLES.get(part, part)] if lines else [PART_TITLES.get(part, part)]
        lines += _step(drawing, plan, step)
    return [*lines, ""] if lines else ["No switching order: there is no isolation to work from.", ""]


def _step(drawing: Drawing, plan: Plan, step: Step) -> list[str]:
    lock = f" [{step.lock}]" if step.lock else ""
    lines = _wrap(
        f"{step.number:>4}  {clock(plan.answer.zone, step.minute):<9} {step.words}{lock}", "", _INDENT + " " * 8
    )
    more = []
    if place := step_place(drawing, step):
        more.append(place if place.startswith("in ") else f"at: {place}")
    if current := current_words(step.current):
        assert step.current is not None
        basis = current_basis(step.current)
        rating = f"; rated {rated(step.rating_a)}" if step.rating_a is not None else ""
        more.append(f"current: {current}{f' ({basis})' if basis else ''}{rating}")
        more += [f"not known: {'; '.join(step.current.needs)}"] if step.current.needs else []
    if why := step_why(step):
        more.append(why)
    if step.dark:
        more.append(f"goes dark: {list_words([drawing.name_of(i) for i in step.dark])}")
    if step.back:
        more.append(f"gets power: {list_words([drawing.name_of(i) for i in step.back])}")
    if step.hold:
        more.append("HOLD: nobody goes on before this is confirmed")
    if step.back_out:
        more.append("BACK OUT: last step from which one can turn back without having worked")
    return [*lines, *(line for text in more for line in _wrap(text, _INDENT + " " * 8))]


def _dark(plan: Plan) -> list[str]:
    if not plan.dark:
        return []
    lines = [f"Without power ({len(plan.dark)})"]
    for item in plan.dark:
        zone = plan.answer.zone
        since, until = clock(zone, item.from_min), clock(zone, item.to_min)
        when = f"from {since or f'step {item.first_step}'}"
        when += (
            f" to {until}"
            if until
            else f" to step {item.last_step}"
            if item.last_step is not None
            else ", end not known"
        )
        if item.from_min is not None and item.to_min is not None:
            when += f" ({lasting(item.to_min - item.from_min)})"
        matters = f"; look after first: {item.matters}" if item.matters else ""
        lines += _wrap(f"{item.name}{f', {item.place}' if item.place else ''}: {when}{matters}", "  ", "      ")
    return [*lines, ""]


def _rest(drawing: Drawing, plan: Plan) -> list[str]:
    lines: list[str] = []
    if plan.cards:
        lines.append(f"Points to be tested ({len(plan.cards)})")
        for card in plan.cards:
            live = f"; live from {source_names(drawing, card.live_from)}" if card.live_from else ""
            if card.waits_for:
                live += f"; live until somebody else has opened {source_names(drawing, card.waits_for)}"
            if card.possibly_from:
                live += f"; possibly live from {source_names(drawing, card.possibly_from)}"
            pairs = ", ".join(p.label for p in card.pairs)
            lines += _wrap(f"{card.name}, {card.terminal}{live}: {pairs}", "  ", "      ")
        lines.append("")
    if plan.spares:
        lines.append("If a device does not close again")
        lines += [line for spare in plan.spares for line in _wrap(spare.says, "  ", "      ")] + [""]
    if plan.notes:
        lines.append("Readings")
        lines += [line for note in plan.notes for line in _wrap(note.says, "  ", "      ")] + [""]
    return lines
