"""Copies of parts of a drawing: what goes on the clipboard, what comes from it, and duplicates."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from oneline.model import edits
from oneline.model.drawing import Drawing
from oneline.model.items import Bus, Connection, Item, Place


def part_of(drawing: Drawing, item_ids: Iterable[str]) -> Drawing:
    """A drawing of only these items and the connections among them; one with a loose end only when it is named itself."""
    wanted = {i for i in item_ids if i in drawing}
    inner = {i for i in wanted if not isinstance(drawing.get(i), Connection)}
    kept: list[Item] = []
    for item in drawing.items.values():
        if isinstance(item, Connection):
            ends = [e.item for e in (item.a, item.b) if e is not None]
            if all(e in inner for e in ends) and (item.b is not None or item.id in wanted):
                kept.append(item)
        elif item.id in inner:
            if isinstance(item, Bus):
                item = item.without_feeders(i for i in drawing.items if i not in inner)
            kept.append(item)
    return Drawing(next_number=drawing.next_number).with_items(kept)


def put_into(
    drawing: Drawing, part: Drawing, dx: float, dy: float, readings: bool = False
) -> tuple[Drawing, dict[str, str]]:
    """Add the items of another drawing, shifted, with new ids and names that differ from all others.

    A copy was never measured: ``readings`` keeps them only for items that were cut. Returns the drawing and
    {id in the part: new id}.
    """
    ids: dict[str, str] = {}
    for item in part.items.values():
        ids[item.id], drawing = drawing.fresh_id(item.kind)
    for item in sorted(part.items.values(), key=lambda i: isinstance(i, Connection)):
        new = replace(item, id=ids[item.id], readings=item.readings if readings else (),
                      voltages=item.voltages if readings else ())  # fmt: skip
        if isinstance(new, Connection):
            a = replace(new.a, item=ids[new.a.item])
            b = None if new.b is None else replace(new.b, item=ids[new.b.item])
            bends = tuple(Place(p.x + dx, p.y + dy) for p in new.bends)
            new = replace(new, a=a, b=b, bends=bends)
        else:
            place = None if new.place is None else Place(new.place.x + dx, new.place.y + dy)
            new = replace(new, place=place, name=edits.free_name(drawing, new.name))
        if isinstance(new, Bus):
            rows = tuple(replace(c, feeds=ids[c.feeds]) if c.feeds in ids else c for c in new.circuits)
            new = replace(new, circuits=rows).without_feeders(
                c.feeds for c in new.circuits if c.feeds and c.feeds not in ids
            )
        drawing = drawing.with_items([new])
    return drawing, ids


def duplicate(drawing: Drawing, item_ids: Iterable[str], dx: float, dy: float) -> tuple[Drawing, dict[str, str]]:
    """Copy items, and the connections among them, shifted on the sheet. Returns the drawing and {old id: new id}."""
    return put_into(drawing, part_of(drawing, item_ids), dx, dy)
