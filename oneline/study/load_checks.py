"""Findings on calculated loads: the whole of a service, loads in alternation, optional calculations, reduced neutrals, and
the kind of device that a nameplate asks for."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

from oneline import tables
from oneline.model import Bus, ConductorRun, Item, Load, UtilityService
from oneline.rules.common import Subject, existing_work, resting_on
from oneline.rules.load_findings import (
    Alternative,
    NeutralFacts,
    calculated_load,
    neutral_conductor,
    noncoincident,
)
from oneline.rules.load_optional import optional_calculation
from oneline.rules.load_special import device_kind_marked
from oneline.rules.verdict import Verdict
from oneline.study.calculated import Calculated
from oneline.study.context import Context
from oneline.study.demand_work import alternative_motor_va, alternative_va, largest
from oneline.study.ends import device_kind, subject_of
from oneline.study.load_choices import MOST_COMBINATIONS, alternatives
from oneline.study.load_neutral import neutral_at, neutral_fact
from oneline.study.load_optional import optional_facts
from oneline.study.records import same_current
from oneline.study.subject import for_all
from oneline.study.supply import supply_of


def about(ctx: Context, item: Item) -> Iterator[Verdict]:
    """LOAD-2 and LOAD-8 of a service, LOAD-3 of a neutral smaller than its phases, LOAD-5 of a nameplate that asks for a
    kind of device."""
    if isinstance(item, UtilityService):
        yield from _service(ctx, item)
    elif isinstance(item, Bus):
        yield from _optional(ctx, item)
    elif isinstance(item, ConductorRun):
        yield from _neutral(ctx, item)
    elif isinstance(item, Load):
        yield from _marked_device(ctx, item)


def overall(ctx: Context) -> Iterator[Verdict]:
    """LOAD-7: each group of loads that do not run together, at the point nearest to them that carries all."""
    yield from _groups(ctx)


def _service(ctx: Context, service: UtilityService) -> Iterator[Verdict]:
    node, demand = ctx.net.node(service.id), ctx.demand
    at = ctx.feeding.position[node]
    if at < 0:
        return
    calc, subject = demand.calculated, subject_of(ctx, service)
    yield from _optional(ctx, service)
    if node in demand.measured or node in demand.optional or node in demand.split or demand.known_kva(node) <= 0:
        return
    currents = demand.known_a(node)
    known = demand.kva(node) is not None
    yield calculated_load(
        subject, ctx.edition, demand.known_kva(node), known, max(currents.values(), default=None),
        lambda: largest(calc, at), lambda: demand.work(node), _assumed(ctx, node),
    )  # fmt: skip


def _optional(ctx: Context, item: UtilityService | Bus) -> Iterator[Verdict]:
    """LOAD-8 where an optional calculation is chosen."""
    facts = optional_facts(ctx, ctx.demand.calculated, item) if item.load_calculation else None
    if facts is not None:
        node = ctx.net.node(item.id)
        yield resting_on(optional_calculation(replace(facts, needs=ctx.demand.needs(node))), _assumed(ctx, node))


def _assumed(ctx: Context, node: int) -> tuple[str, ...]:
    """What the load at a node rests on that is only assumed."""
    part = ("part of the load",) if ctx.demand.basis(node) == "assumed" else ()
    return (*part, *ctx.demand.assumed(node))


# --------------------------------------------------------------------------------------------- loads in alternation
def _groups(ctx: Context) -> Iterator[Verdict]:
    calc = ctx.demand.calculated
    grouped = [k for k, p in enumerate(calc.placed) if p.entry.group is not None]
    if not grouped:
        return
    groups = alternatives(calc.entries, grouped)
    choices = 1
    for found in groups.values():
        choices *= len(found)
    if choices > MOST_COMBINATIONS:
        return
    for name, found in groups.items():
        indices = [k for part in found.values() for k in part]
        if len(found) > 1 and all(calc.placed[k].va is not None for k in indices):
            yield _group(ctx, calc, name, found, indices)


def _group(ctx: Context, calc: Calculated, name: str, found: Mapping[str, list[int]], indices: list[int]) -> Verdict:
    at = _common(ctx, [calc.placed[k].at for k in indices])
    base_va = float((calc.weights[at] * calc.sums.va[at]).sum())
    base_motor = float(calc.motor_va[at]) if calc.motor[at] >= 0 else 0.0
    named = tuple(
        Alternative(_names(calc, part), alternative_va(calc, part), alternative_motor_va(calc, part))
        for part in found.values()
    )
    first = calc.entries[indices[0]]
    others = tuple(dict.fromkeys(calc.entries[k].item for k in indices[1:]))
    subject = Subject(first.item, ctx.name(first.item))
    return noncoincident(
        subject, ctx.edition, name, base_va, base_motor, named, others, _assumed(ctx, ctx.feeding.order[at])
    )


def _names(calc: Calculated, indices: list[int]) -> str:
    labels = list(dict.fromkeys(calc.entries[k].label for k in indices))
    return labels[0] if len(labels) == 1 else f"{labels[0]} and {len(labels) - 1} more"


def _common(ctx: Context, places: list[int]) -> int:
    """The lowest position below which all of some positions lie."""
    feeding = ctx.feeding
    at = min(places)
    while max(places) >= feeding.last[feeding.order[at]]:
        up = feeding.parent[feeding.order[at]]
        if up < 0:
            break
        at = feeding.position[up]
    return at


# ------------------------------------------------------------------------------------------------------- neutral
def _reduced(run: ConductorRun) -> bool:
    """Whether a run has a neutral of another size than its phase conductors."""
    return run.neutral_size not in (None, "none") and run.size is not None and run.neutral_size != run.size


def _neutral(ctx: Context, run: ConductorRun) -> Iterator[Verdict]:
    """Of runs one after the other that carry the same, only the first asks for what is missing."""
    supply = supply_of(ctx, run.id) if _reduced(run) else None
    code = ctx.feeding.system[supply.load] if supply is not None else None
    if supply is None or code is None or not tables.system(code).has_neutral:
        return
    lines = neutral_at(ctx, ctx.demand.calculated, supply.load, code)[1].lines
    neutral = replace(supply.facts, size=run.neutral_size)
    device = supply.protection.device if supply.kind == "feeder" and not supply.is_tap else None
    ahead = "" if device is None else ctx.name(device.id)
    found = neutral_conductor(
        NeutralFacts(supply.facts, neutral, neutral_fact(ctx, supply.load), lines, ahead, supply.rating)
    )
    if found.state != "unknown" or not _asked_ahead(ctx, supply.load):
        yield existing_work(found, run.status)


def _asked_ahead(ctx: Context, node: int) -> bool:
    """Whether a run further ahead with a reduced neutral carries the same current."""
    nodes = same_current(ctx, node)
    for other in nodes[: nodes.index(node)]:
        key = ctx.feeding.branch[other]
        item = ctx.net.branches[key].item if key else None
        if isinstance(item, ConductorRun) and _reduced(item):
            return True
    return False


# ------------------------------------------------------------------------------------------------ marked devices
def _marked_device(ctx: Context, load: Load) -> Iterator[Verdict]:
    node = ctx.net.node(load.id)
    if load.mocp_device is None or ctx.feeding.position[node] < 0:
        return
    device = ctx.protection_of(node).device
    if device is not None:
        yield device_kind_marked(
            subject_of(ctx, load), subject_of(ctx, device), load.mocp_device, device_kind(device), ctx.edition
        )


verdicts = for_all(about, overall, of=(Bus, ConductorRun, Load, UtilityService))
