"""Optional calculations of whole services (LOAD-8): where they stand in place of the standard one."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from oneline import tables
from oneline.model import Bus, UtilityService
from oneline.rules.common import Subject
from oneline.rules.load_dwelling import METHODS, DwellingLoads
from oneline.rules.load_optional import OPTIONAL, OptionalFacts, optional_va
from oneline.study.calculated import Calculated
from oneline.study.context import Context
from oneline.study.demand_work import alternative_va, grouped_below
from oneline.study.load_sums import OFFICE_FLOOR, Placed, counts_more
from oneline.study.records import same_current

_CONDITIONED = ("heat", "hvac")
RECEPTACLE_CLASSES = ("receptacles", "fixed multioutlet")


@dataclass(frozen=True)
class Optional:
    """An optional calculation that counts: its facts, its demand in VA and in amperes of each phase, and whether the
    phases of all load are known."""

    facts: OptionalFacts
    va: float
    amperes: tuple[float, ...]
    placed: bool


def optional_facts(ctx: Context, calc: Calculated, service: UtilityService | Bus) -> OptionalFacts | None:
    """What the chosen optional calculation reads; ``None`` where the standard one is chosen or nothing is fed."""
    node = ctx.net.node(service.id)
    at = ctx.feeding.position[node]
    if service.load_calculation not in OPTIONAL or at < 0:
        return None
    end = ctx.feeding.last[node]
    below = [p for p in calc.placed if at <= p.at < end]
    return OptionalFacts(
        subject=Subject(service.id, ctx.name(service.id)), edition=ctx.edition, method=service.load_calculation,
        connected_va=_connected(calc, at, end, below, service.load_calculation), known=not calc.unknown[at],
        conditioned=any(p.entry.load_class in _CONDITIONED and p.va for p in below), area_ft2=service.area_ft2,
        units=service.dwelling_units, standard_va=float(calc.va_low[at]),
        dwelling=_dwelling(calc, at, end, below, service.area_ft2) if service.load_calculation in METHODS else None,
        continuous_va=sum(p.va or 0.0 for p in below if counts_more(p.kind) and p.entry.part != "continuous"),
        three_phase=len(ctx.feeding.phases[node]) == 3,
    )  # fmt: skip


def _dwelling(
    calc: Calculated, at: int, end: int, below: Iterable[Placed], area_ft2: float | None
) -> DwellingLoads:  # fmt: skip
    """Loads of one dwelling unit at their nameplates; its lighting and receptacles go by floor area alone."""
    general = vehicles = cooling = heat = 0.0
    units, new = 0, False
    for p in below:
        va, name = p.va or 0.0, p.entry.load_class
        if name in _CONDITIONED:
            cooling, heat = (cooling + va, heat) if name == "hvac" else (cooling, heat + va)
            units += p.entry.pieces if name == "heat" else 0
            new = new or p.entry.status == "new"
        elif name == "ev charging":
            vehicles += va
        elif name in ("lighting", *RECEPTACLE_CLASSES):
            continue
        else:
            general += va
    floor = tables.floor_use(tables.DWELLING, calc.edition).va_per_ft2
    assert floor is not None
    groups = grouped_below(calc, at, end).values()
    classes = [
        {calc.entries[k].load_class for k in part} for found in groups for part in found.values() if len(found) > 1
    ]
    apart = {"heat"} in classes and {"hvac"} in classes
    general += floor * (area_ft2 or 0.0)
    return DwellingLoads(general, cooling, heat, units, vehicles, apart, new)


def _connected(calc: Calculated, at: int, end: int, below: Iterable[Placed], method: str) -> float:
    """All connected load without demand factors; of loads that do not run together the larger, except in restaurants.

    What floor areas add is no connected load, except in dwelling units, whose lighting goes by area.
    """
    dwellings, both = method == "apartment house", "restaurant" in method
    total = sum(
        p.va or 0.0 for p in below
        if p.kind != OFFICE_FLOOR and (p.entry.group is None or both) and (dwellings or not _by_floor(p))
    )  # fmt: skip
    if both:
        return total
    groups = grouped_below(calc, at, end)
    return total + sum(max(alternative_va(calc, k) for k in found.values()) for found in groups.values())


def _by_floor(placed: Placed) -> bool:
    """Whether it is what a floor area adds to the lighting connected."""
    return placed.entry.part in ("unit", "continuous", "load only") and placed.entry.va_from != "floor area"


def optional_loads(ctx: Context, calc: Calculated) -> dict[int, Optional]:
    """Optional calculations that count, by the nodes that carry the whole of the service."""
    found: dict[int, Optional] = {}
    for service in ctx.drawing.items.values():
        if not isinstance(service, (UtilityService, Bus)) or not service.load_calculation:
            continue
        facts = optional_facts(ctx, calc, service)
        va = optional_va(facts) if facts is not None else None
        if facts is None or va is None:
            continue
        nodes = same_current(ctx, ctx.net.node(service.id))
        at = ctx.feeding.position[ctx.net.node(service.id)]
        # The standard load's share on each phase stays; its size is the optional one's.
        share = va / calc.va_low[at] if calc.va_low[at] > 0 else 0.0
        amperes = tuple((calc.load_low[at] * share).tolist())
        placed = bool(np.allclose(calc.load_low[at], calc.load_high[at]))
        found.update(dict.fromkeys(nodes, Optional(facts, va, amperes, placed)))
    return found
