"""``oneline plan``: how a work zone is made dead, in which order, and the papers for it."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path
from typing import Any

from oneline.cli.fits import item_of
from oneline.cli.main import FAILED, GOOD, WRONG, say
from oneline.cli.opening import open_or_say
from oneline.files import CannotOpen, CannotSave
from oneline.model import Drawing, WorkZone
from oneline.outage.plan_words import holds
from oneline.outage.results import Plan


class _NoZone(ValueError):
    """The call names no zone of the file, or an item that there is not. The text says what there is."""


def plan(options: argparse.Namespace) -> int:
    """Plan one outage of a drawing, or list those that are planned."""
    if options.pdf and Path(options.pdf).suffix.lower() != ".pdf":
        say(f"{options.pdf}: Papers are PDF files.", "", "Give an output name that ends in .pdf.")
        return WRONG
    opened = open_or_say(options.file)
    if isinstance(opened, CannotOpen):
        return WRONG
    if options.zone is None and not options.items:
        if options.pdf:
            say(f"{options.file}: No planned outage is named.", "", "Give --zone ID or --items.")
            return WRONG
        _list_zones(options, opened.drawing)
        return WRONG if opened.problems else GOOD
    try:
        drawing, zone = _zone(opened.drawing, options)
    except _NoZone as bad:
        say(f"{options.file}: {bad}")
        return WRONG
    from oneline import api

    found = api.plan_outage(drawing, zone.id, options.view, options.edition)
    if options.pdf and not _print(options, drawing, found):
        return WRONG
    if options.json:
        from oneline.cli.plan_record import plan_report

        _dump(plan_report(options.file, drawing, found, options.edition or drawing.project.edition))
    elif not options.pdf:
        from oneline.cli.plan_report import report

        print(report(options.file, drawing, found))
    return WRONG if opened.problems else GOOD if holds(found) else FAILED


def _print(options: argparse.Namespace, drawing: Drawing, found: Plan) -> bool:
    from oneline import api

    try:
        notes = api.print_outage(
            drawing, options.pdf, found, options.paper, options.size, options.edition, file_name=Path(options.file).name
        )
    except CannotSave as bad:
        say(str(bad.problem))
        return False
    for note in notes:
        say(f"{options.pdf}: {note}")
    if not options.json:
        print(f"Written: {options.pdf}")
    return True


def _zone(drawing: Drawing, options: argparse.Namespace) -> tuple[Drawing, WorkZone]:
    """The zone that is meant, and the drawing that has it. Raises ``_NoZone``."""
    if options.items:
        items = [item for text in options.items for item in items_of(drawing, text)]
        zone_id, drawing = drawing.fresh_id("zone")
        zone = WorkZone(id=zone_id, items=tuple(dict.fromkeys(items)))
        return drawing.with_zone(zone), zone
    found = [z for z in drawing.zones if options.zone == z.id] or [z for z in drawing.zones if options.zone == z.name]
    if len(found) == 1:
        return drawing, found[0]
    many = "More than one planned outage is" if found else "No planned outage is"
    there = "; ".join(f"{z.id} {z.name}".strip() for z in drawing.zones)
    raise _NoZone(f"{many} named {options.zone}. {f'There are: {there}.' if there else 'The file has none.'}")


def items_of(drawing: Drawing, text: str) -> list[str]:
    """Ids of the items that a text with commas names; a name may have commas itself. Raises ``ValueError``."""
    pieces = text.split(",")
    out: list[str] = []
    at = 0
    while at < len(pieces):
        for end in range(len(pieces), at, -1):
            item = item_of(drawing, ",".join(pieces[at:end]).strip())
            if item is not None:
                out.append(item)
                at = end
                break
        else:
            raise _NoZone(f"No single item is named {pieces[at].strip()}. Give names or ids, parted by commas.")
    return out


def _list_zones(options: argparse.Namespace, drawing: Drawing) -> None:
    if options.json:
        from oneline.cli.plan_record import zones_report

        _dump(zones_report(options.file, drawing))
        return
    if not drawing.zones:
        print("No outage is planned in this file. Plan one in the window, or try: oneline plan FILE --items NAME,NAME")
    for zone in drawing.zones:
        begins = f", begins {zone.begins}" if zone.begins else ""
        print(f"{zone.id}  {zone.name or 'no name'}{begins}")
        print(f"    worked on: {'; '.join(drawing.name_of(i) for i in zone.items) or 'nothing yet'}")


def _dump(record: dict[str, Any]) -> None:
    json.dump(record, sys.stdout, ensure_ascii=False, indent=1, allow_nan=False)
    print()
