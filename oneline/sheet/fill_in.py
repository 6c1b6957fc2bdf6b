"""Places for items that have none yet, on a drawing where others already have theirs."""

from __future__ import annotations

from dataclasses import replace

from oneline.model import Bus, Drawing, Place
from oneline.sheet.arranger import AIR, BETWEEN_ROOTS, LEAST_RUN, Arranger
from oneline.sheet.blocks import Block, up
from oneline.sheet.shapes import GRID, Box, shapes_of
from oneline.sheet.symbols import SymbolSet
from oneline.sheet.tracks import Obstacles
from oneline.sheet.tree import Forest, feeding_forest

_FARTHEST = 400


def fill_in(drawing: Drawing, own: dict[str, Place], symbols: SymbolSet) -> dict[str, Place]:
    """``own`` with a place for every other item: below what feeds it, above what it feeds, or to the right of all."""
    forest = feeding_forest(drawing)
    loose = {k for k in forest.twigs if k not in own}
    cut = Forest(
        {k: replace(t, children=[c for c in t.children if c in loose]) for k, t in forest.twigs.items()},
        forest.roots, forest.across, forest.reach,
    )  # fmt: skip
    arranger = Arranger(drawing, symbols, cut)
    places = dict(own)
    taken = Obstacles()
    for item_id, shape in shapes_of(drawing, own, symbols, forest.reach).items():
        bar = (shape.box[0] - shape.at[0], shape.box[2] - shape.at[0]) if shape.symbol.stretch else None
        hangs = bar is not None and bool(forest.twigs[item_id].children)
        for box in arranger.own_boxes(shape.item, bar, hangs, shape.flipped):
            x, y = shape.at
            taken.add((box[0] + x, box[1] + y, box[2] + x, box[3] + y), item_id, 0.0)
    for item_id, twig in forest.twigs.items():
        if item_id in places:
            continue
        if (
            twig.parent in places
            and not isinstance(drawing.get(twig.parent), Bus)
            and not _sibling(forest, item_id, places)
        ):
            block, (x, y), _ = _below(arranger, cut, item_id, places[twig.parent], drawing, symbols)
            places.update({k: Place(*p) for k, p in block.shifted(x, y).places.items()})
            for box in block.shifted(x, y).boxes:
                taken.add(box, "", 0.0)
            continue
        if twig.parent in places:
            block, start, step = _below(arranger, cut, item_id, places[twig.parent], drawing, symbols)
        else:
            block, start, step = _above_or_right(arranger, forest, item_id, places, taken)
        x, y = _free(block, start, step, taken)
        moved = block.shifted(x, y)
        for box in moved.boxes:
            taken.add(box, "", 0.0)
        places.update({k: Place(*p) for k, p in moved.places.items()})
    return places


def _below(
    arranger: Arranger, cut: Forest, item_id: str, parent: Place, drawing: Drawing, symbols: SymbolSet
) -> tuple[Block, tuple[float, float], float]:
    twig = cut.twigs[item_id]
    above = drawing.get(twig.parent)
    shape = shapes_of(drawing, {above.id: parent}, symbols)[above.id]
    x, y = shape.terminal(twig.parent_terminal)
    return arranger.linked(item_id, 0.0, 0.0), (x, y), GRID if isinstance(above, Bus) else 2 * GRID


def _sibling(forest: Forest, item_id: str, places: dict[str, Place]) -> bool:
    """Whether something that is placed hangs on the same terminal already."""
    twig = forest.twigs[item_id]
    return any(
        c in places and c != item_id and forest.twigs[c].parent_terminal == twig.parent_terminal
        for c in forest.twigs[twig.parent].children
    )


def _above_or_right(
    arranger: Arranger, forest: Forest, item_id: str, places: dict[str, Place], taken: Obstacles
) -> tuple[Block, tuple[float, float], float]:
    block = arranger.block(item_id)
    for child in forest.twigs[item_id].children:
        if child in places:
            below = places[child]
            bottom = max((b[3] for b in block.boxes), default=0.0)
            return block, (below.x, up(below.y - bottom - LEAST_RUN - 3 * GRID)), GRID
    right = max((b[2] for b, _ in taken.boxes), default=0.0)
    top = min((b[1] for b, _ in taken.boxes), default=0.0)
    left = min(b[0] for b in block.boxes)
    return block, (up(right + BETWEEN_ROOTS - left), up(top - block.top)), GRID


def _free(block: Block, start: tuple[float, float], step: float, taken: Obstacles) -> tuple[float, float]:
    """The spot nearest to ``start`` on its row (then lower rows) where the block touches nothing."""
    x, y = start
    solid = [b for b in block.boxes if b[2] - b[0] > 3]
    for k in range(_FARTHEST):
        for dx in (k * step, -k * step) if k else (0.0,):
            if all(taken.free(_grown(b, x + dx, y)) for b in solid):
                return x + dx, y
    return x, y


def _grown(box: Box, x: float, y: float) -> Box:
    air = AIR / 2
    return (box[0] + x - air, box[1] + y - air, box[2] + x + air, box[3] + y + air)
