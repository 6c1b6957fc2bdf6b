"""Raceways of the drawing: fill, circuits kept together, wireways and gutters, boxes."""

from __future__ import annotations

from collections.abc import Iterator

from oneline.rules.common import existing_work
from oneline.rules.raceways import FillFacts, raceway_fill
from oneline.rules.verdict import Verdict
from oneline.study import enclosures, sharing
from oneline.study.context import Context
from oneline.study.raceway_wires import fill_of
from oneline.study.supply import RunSupply, supplies

#: What does not enclose conductors in a cross section of known size.
_NO_FILL = ("cable", "busway", "open", "within enclosure")


def fill_facts(ctx: Context, supply: RunSupply) -> FillFacts:
    """The conductors in the raceway of a run, and what is not known about them."""
    return fill_of(ctx, supply.run)


def verdicts(ctx: Context) -> Iterator[Verdict]:
    """RWY-1 (RWY-4 for wireways) of every fed run in a raceway, once where several share it; AMP-2; RWY-2 to RWY-6."""
    asked: set[str] = set()
    for supply in supplies(ctx).values():
        run = supply.run
        key = sharing.raceway_key(run)
        if run.raceway in _NO_FILL or (run.raceway is None and run.status != "new") or (key and key in asked):
            continue
        asked.add(key)
        shared = sharing.named_raceways(ctx)[key] if key else [run]
        new = any(r.status == "new" for r in shared)
        yield existing_work(raceway_fill(fill_of(ctx, run)), "new" if new else run.status)
    yield from sharing.verdicts(ctx)
    yield from enclosures.verdicts(ctx)
