"""Automatic placement: source on top, load down; a bar as wide as what hangs on it; connected verticals straight.

Several tries are made, from a plain row of columns to wide parts tucked below their short neighbors. The one that can be
printed largest on a sheet of ordinary proportions wins, the plain one among near equals.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from oneline.model import ConductorRun, Connection, Drawing, Item, Place
from oneline.sheet.arranger import Arranger, Style
from oneline.sheet.blocks import Block, up
from oneline.sheet.shapes import Box, reserved_lines, resting, symbol_name
from oneline.sheet.symbols import SymbolSet, shipped_set
from oneline.sheet.tree import Forest, feeding_forest
from oneline.sheet.wording import run_lines

#: Width to height of the room that a drawing is given on a sheet.
PROPORTION = 1.5
#: A less plain arrangement must print this much larger.
_GAIN = 1.06
#: A drawing not larger than this (height, or width by the proportion) is printed well in the plain arrangement.
_COMFORTABLE = 480.0
#: Above this number of items fewer arrangements are tried.
_LARGE = 120
_GROWTHS = (1.0, 1.2, 1.45, 1.8)
_remembered: list[tuple[object, dict[str, Place]]] = []


def arrange(drawing: Drawing, ids: Iterable[str] | None = None, proportion: float = PROPORTION) -> Drawing:
    """Give items new places: all of them, or only ``ids`` around the others. Bends of lines that move are dropped.

    ``proportion``: width to height of the room the drawing should fill.
    """
    chosen = None if ids is None else set(ids)
    loose = [
        replace(i, place=None) for i in drawing.items.values()
        if not isinstance(i, Connection) and (chosen is None or i.id in chosen)
    ]  # fmt: skip
    places = placed(drawing.with_items(loose), proportion)
    changed: list[Item] = [replace(i, place=places[i.id]) for i in loose]
    for conn in drawing.connections():
        ends = {conn.a.item} | ({conn.b.item} if conn.b else set())
        if conn.bends and (chosen is None or ends & chosen):
            changed.append(replace(conn, bends=()))
    return drawing.with_items(changed)


def placed(drawing: Drawing, proportion: float = PROPORTION) -> dict[str, Place]:
    """Where every item is drawn: its own place, or one found for it. The drawing itself does not change."""
    items = [i for i in drawing.items.values() if not isinstance(i, Connection)]
    own = {i.id: i.place for i in items if i.place is not None}
    if len(own) == len(items):
        return own
    key = (proportion, tuple(_signature(i) for i in drawing.items.values()))
    for known, places in _remembered:
        if known == key:
            return dict(places)
    symbols = shipped_set("us")
    if own:
        from oneline.sheet.fill_in import fill_in

        places = fill_in(drawing, own, symbols)
    else:
        places = _best(drawing, symbols, proportion)
    _remembered.insert(0, (key, places))
    del _remembered[4:]
    return dict(places)


def _signature(item: Item) -> tuple[object, ...]:
    """All of an item that the layout depends on; the positions of switches are not among it."""
    if isinstance(item, ConductorRun):
        return (item.id, item.a, item.b, tuple(up(line.width) for line in run_lines(item)))
    if isinstance(item, Connection):
        return (item.id, item.kind, item.a, item.b, item.name, getattr(item, "traced", None))
    lines, width, count = reserved_lines(item, True)
    return (
        item.id, symbol_name(resting(item)), item.place, tuple(up(line.width) for line in lines), width, count,
        getattr(item, "neutral_bonded", None), getattr(item, "width", None), getattr(item, "bus_end", None),
        getattr(item, "normally_open", None),
    )  # fmt: skip


def _best(drawing: Drawing, symbols: SymbolSet, proportion: float) -> dict[str, Place]:
    forest = feeding_forest(drawing)
    memo: dict[tuple[object, ...], list[Box]] = {}

    def tried(style: Style) -> Block:
        return Arranger(drawing, symbols, forest, style, memo).all()

    best = tried(Style())
    score = _reach(best, proportion)
    if score <= _COMFORTABLE:
        return _whole(drawing, best)
    for style in _styles(drawing, symbols, forest):
        block = tried(style)
        if _reach(block, proportion) * _GAIN < score:
            best, score = block, _reach(block, proportion)
    return _whole(drawing, best)


def _whole(drawing: Drawing, best: Block) -> dict[str, Place]:
    """Places on the grid, everything right of and below the origin."""
    if not best.places:
        return {}
    left, top = up(-best.left), up(-best.top)
    return {
        i.id: Place(best.places[i.id][0] + left, best.places[i.id][1] + top)
        for i in drawing.items.values() if i.id in best.places
    }  # fmt: skip


def _styles(drawing: Drawing, symbols: SymbolSet, forest: Forest) -> Iterable[Style]:
    """Styles worth trying after the plain one."""
    lowers = [0.0]
    if len(forest.roots) > 1:
        heights = [Arranger(drawing, symbols, forest).block(r) for r in forest.roots[1:]]
        lowers += sorted({up(b.bottom - b.top) for b in heights if b.bottom - b.top < 500})[-1:]
    for lower in lowers:
        if lower:
            yield Style(lower_first=lower)
        large = len(forest.twigs) > _LARGE
        for growth in _GROWTHS[:: 2 if large else 1]:
            for short_first in (False,) if large else (False, True):
                yield Style(growth, short_first, lower)


def _reach(block: Block, proportion: float) -> float:
    """The smaller, the larger it can be printed."""
    return max((block.right - block.left) / proportion, block.bottom - block.top)
