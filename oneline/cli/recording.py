"""``oneline record``: reads interval data, says what it shows, and puts it into a drawing as a demand record."""

from __future__ import annotations

import argparse
import sys
import textwrap
from pathlib import Path
from typing import TYPE_CHECKING, Any

from oneline.cli.main import FAILED, GOOD, WRONG, say
from oneline.cli.opening import open_or_say
from oneline.files import CannotOpen, CannotSave

if TYPE_CHECKING:
    from oneline.files.intervals import Question
    from oneline.model import DemandRecord, Drawing

_WIDTH = 110
_YES = {"yes": True, "no": False, None: None}


def record(options: argparse.Namespace) -> int:
    """Read the file; what it leaves open, and what is wrong with it, is said on the error stream."""
    from oneline.files.intervals import QUESTIONS, NeedsAnswers, read_record

    if (options.into is None) != (options.at is None) or (options.output and options.into is None):
        say(
            "The drawing and the item go together.", "", "Give both --into FILE and --at ITEM, or neither to only look."
        )
        return WRONG
    answers = {name: getattr(options, f"answer_{name}") or "" for name in (*QUESTIONS, "stamps")}
    more: dict[str, Any] = {"occupied": _YES[options.occupied], "seasonal_included": _YES[options.seasonal]}
    if options.power_factor is not None:
        more["power_factor"] = options.power_factor
    if options.source:
        more["source"] = options.source
    try:
        made, _, notes = read_record(options.data, answers, **more)
    except CannotOpen as bad:
        say(str(bad.problem))
        return WRONG
    except NeedsAnswers as asked:
        say(f"{options.data}: The file leaves something open.")
        for question in asked.questions:
            _ask(question)
        return WRONG
    except ValueError as bad:
        say(f"{options.data}: {bad}")
        return WRONG
    print(_summary(options.data, made, notes))
    if options.into is None:
        return _alone(made, options.edition)
    return _into(options, made)


def _ask(question: Question) -> None:
    print(f"  {question.words}", file=sys.stderr)
    for choice in question.choices:
        print(f"      --{question.name} {_quoted(choice.key):<12} {choice.words}", file=sys.stderr)
    if question.free and question.name == "clock":
        print("      --clock ZONE         the time zone by its name, like America/Chicago", file=sys.stderr)


def _quoted(text: str) -> str:
    return f'"{text}"' if " " in text else text


def _summary(path: str, made: DemandRecord, notes: tuple[str, ...]) -> str:
    """What was recorded, as lines of label and words."""
    from oneline.study.record_words import record_rows

    lines = [f"{Path(path).name}", ""]
    for label, words in record_rows(made):
        lines.append(f"  {label:<36} {words}")
    lines += ["", *(line for note in notes for line in textwrap.wrap(note, _WIDTH, initial_indent="  "))]
    return "\n".join(lines).rstrip()


def _alone(made: DemandRecord, edition: int | None) -> int:
    """Whether the record by itself may stand for a load; what only a drawing knows is left open."""
    from oneline.model.vocabulary import EDITIONS
    from oneline.study.record_chart import lone_record

    print()
    state, lines = lone_record(made, edition or EDITIONS[-2])
    for line in lines:
        print(textwrap.fill(line, _WIDTH, initial_indent="  ", subsequent_indent="  "))
    return FAILED if state == "fail" else GOOD


def _into(options: argparse.Namespace, made: DemandRecord) -> int:
    from oneline import api
    from oneline.files.intervals import with_record

    opened = open_or_say(options.into)
    if isinstance(opened, CannotOpen):
        return WRONG
    drawing = opened.drawing
    item = _item(drawing, options.at)
    if item is None:
        return WRONG
    try:
        drawing = with_record(drawing, item, made)
    except ValueError as bad:
        say(f"{options.into}: {bad}")
        return WRONG
    state = _said(drawing, item, options.edition)
    target = options.output or options.into
    try:
        api.save(drawing, target)
    except CannotSave as bad:
        say(str(bad.problem))
        return WRONG
    print(f"Written: {target}")
    return WRONG if opened.problems else FAILED if state == "fail" else GOOD


def _item(drawing: Drawing, wanted: str) -> str | None:
    """The id of the item of a name or id that can have records; what is wrong is said."""
    found = [i.id for i in drawing.items.values() if wanted in (i.id, i.name)]
    if len(found) == 1:
        return found[0]
    there = [drawing.name_of(i.id) for i in drawing.items.values() if hasattr(i, "demand")]
    listed = "; ".join(there) if there else "none; draw a meter first"
    say(f"{len(found) or 'No'} items are named {wanted}.", f"Records can be at: {listed}.")
    return None


def _said(drawing: Drawing, item: str, edition: int | None) -> str:
    """Print the finding on the record in the drawing; its state."""
    from oneline.study.record_chart import record_charts

    print()
    charts = record_charts(drawing, "proposed", edition, item)
    if not charts:
        print("  The item is not in the proposed view; the record is kept with it.")
        return "unknown"
    found = charts[-1].verdict
    for line in (f"{found.name}: {found.section}", found.message):
        print(textwrap.fill(line, _WIDTH, initial_indent="  ", subsequent_indent="  "))
    for need in found.needs:
        print(f"  Not known yet: {need}.")
    print()
    return found.state
