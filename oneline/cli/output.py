"""``oneline print`` and ``oneline export``: the same picture as on the screen, on paper or as a file."""

from __future__ import annotations

import argparse
from pathlib import Path

from oneline.cli.main import GOOD, WRONG, say
from oneline.cli.opening import open_or_say
from oneline.files import CannotOpen, CannotSave, Opened

_ENDINGS = (".svg", ".png", ".pdf")


def print_paper(options: argparse.Namespace) -> int:
    """Make the PDF of a paper."""
    if Path(options.output).suffix.lower() != ".pdf":
        say(f"{options.output}: Papers are PDF files.", "", "Give an output name that ends in .pdf.")
        return WRONG
    from oneline import api

    opened = open_or_say(options.file)
    if isinstance(opened, CannotOpen):
        return WRONG
    name = Path(options.file).name
    if options.paper == "record":
        return _print_record(options, opened)
    try:
        notes = api.print_door(
            opened.drawing,
            options.output,
            options.size,
            options.view,
            options.edition,
            file_name=name,
            panel=options.panel,
        )
    except api.NoSuchPanel as bad:
        say(f"{options.file}: {bad.args[0]}")
        return WRONG
    except CannotSave as bad:
        say(str(bad.problem))
        return WRONG
    for note in notes:
        say(f"{options.output}: {note}")
    print(f"Written: {options.output}")
    return WRONG if opened.problems else GOOD


def _print_record(options: argparse.Namespace, opened: Opened) -> int:
    """The pages of the demand records."""
    from oneline import api

    try:
        notes = api.print_record(
            opened.drawing, options.output, options.size, options.view, options.edition,
            file_name=Path(options.file).name, item=options.at,
        )  # fmt: skip
    except ValueError as bad:
        say(f"{options.file}: {bad}")
        return WRONG
    except CannotSave as bad:
        say(str(bad.problem))
        return WRONG
    for note in notes:
        say(f"{options.output}: {note}")
    print(f"Written: {options.output}")
    return WRONG if opened.problems else GOOD


def export_diagram(options: argparse.Namespace) -> int:
    """Write the diagram in the format that the output's ending names."""
    if Path(options.output).suffix.lower() not in _ENDINGS:
        say(
            f"{options.output}: The format is not known.",
            "",
            f"Give an output name that ends in {', '.join(_ENDINGS)}.",
        )
        return WRONG
    from oneline import api

    opened = open_or_say(options.file)
    if isinstance(opened, CannotOpen):
        return WRONG
    try:
        api.export(opened.drawing, options.output, options.view, options.edition)
    except CannotSave as bad:
        say(str(bad.problem))
        return WRONG
    print(f"Written: {options.output}")
    return WRONG if opened.problems else GOOD
