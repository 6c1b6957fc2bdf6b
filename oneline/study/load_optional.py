"""Optional calculations of whole services (LOAD-8): where they stand in place of the standard one."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from oneline.model import UtilityService
from oneline.rules.common import Subject
from oneline.rules.load_optional import OPTIONAL, OptionalFacts, optional_va
from oneline.study.calculated import Calculated
from oneline.study.context import Context
from oneline.study.demand_work import alternative_va, grouped_below
from oneline.study.load_sums import OFFICE_FLOOR, Placed
from oneline.study.records import same_current

_CONDITIONED = ("heat", "hvac")


@dataclass(frozen=True)
class Optional:
    """An optional calculation that counts: its facts, its demand in VA and in amperes of each phase, and whether the
    phases of all load are known."""

    facts: OptionalFacts
    va: float
    amperes: tuple[float, ...]
    placed: bool


def optional_facts(ctx: Context, calc: Calculated, service: UtilityService) -> OptionalFacts | None:
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
    )  # fmt: skip


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
    for service in ctx.drawing.of(UtilityService):
        facts = optional_facts(ctx, calc, service) if service.load_calculation else None
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
