"""Raceways of the drawing: fill, circuits kept together, wireways and gutters, boxes."""

from __future__ import annotations

from collections.abc import Iterator

from oneline.model import Bus, ConductorRun, Item
from oneline.rules.common import existing_work
from oneline.rules.raceways import FillFacts, raceway_fill
from oneline.rules.verdict import Verdict
from oneline.study import enclosures, sharing
from oneline.study.context import Context
from oneline.study.raceway_wires import fill_of
from oneline.study.subject import for_all
from oneline.study.supply import RunSupply, supply_of

#: What does not enclose conductors in a cross section of known size.
_NO_FILL = ("cable", "busway", "open", "within enclosure")


def fill_facts(ctx: Context, supply: RunSupply) -> FillFacts:
    """The conductors in the raceway of a run, and what is not known about them."""
    return fill_of(ctx, supply.run)


def about(ctx: Context, item: Item) -> Iterator[Verdict]:
    """RWY-1 (RWY-4 for wireways) of a fed run in a raceway, once where several share it; AMP-2; RWY-2 to RWY-6."""
    if isinstance(item, ConductorRun) and _is_filled(ctx, item):
        key = sharing.raceway_key(item)
        shared = sharing.named_raceways(ctx)[key] if key else [item]
        if item.id == next(r.id for r in shared if _is_filled(ctx, r)):
            new = any(r.status == "new" for r in shared)
            yield existing_work(raceway_fill(fill_of(ctx, item)), "new" if new else item.status)
    yield from sharing.about(ctx, item)
    yield from enclosures.about(ctx, item)


def _is_filled(ctx: Context, run: ConductorRun) -> bool:
    """Whether the fill of a run's raceway is asked for."""
    nothing = run.raceway in _NO_FILL or (run.raceway is None and run.status != "new")
    return not nothing and supply_of(ctx, run.id) is not None


#: Everything this subject finds on a drawing.
verdicts = for_all(about, of=(Bus, ConductorRun))
