"""Conductor runs: ampacity, what they carry, and the overcurrent device ahead of them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from oneline.model import ConductorRun, Disconnect, Item, Load
from oneline.rules.ampacity import Ampacity, RunFacts, ampacity
from oneline.rules.common import Subject, existing_work, verdict
from oneline.rules.conductor_load import LoadFacts, conductor_load, parallel_sets, terminals_contradict
from oneline.rules.load_device import load_device
from oneline.rules.overcurrent import ProtectionFacts, conductor_protection
from oneline.rules.roof import lower_part, maybe_over_roof, over_roof
from oneline.rules.verdict import Verdict
from oneline.study.context import Context, Protection
from oneline.study.ends import device_kind, device_rating, is_branch, not_listed_yet, subject_of
from oneline.study.series_runs import series_of
from oneline.study.special import single_load
from oneline.study.subject import for_all
from oneline.study.supply import RunSupply, facts_alone, load_fact, run_facts, supply_of, terminal_marks

#: Where no raceway or cable lies over a roof.
_NOT_ON_ROOFS = ("open", "busway", "within enclosure", None)


def run_ampacity(ctx: Context, run_id: str) -> Ampacity:
    """Ampacity of a run by id, fed or not. Raises ``KeyError`` where the view has no such run."""
    found = supply_of(ctx, run_id)
    if found is not None:
        return found.ampacity
    run = ctx.drawing.get(run_id)
    if not isinstance(run, ConductorRun):
        raise KeyError(run_id)
    return ampacity(_unfed(ctx, run))


def _unfed(ctx: Context, run: ConductorRun) -> RunFacts:
    branch = ctx.net.branches.get(run.id)
    if branch is None or branch.b < 0:
        return RunFacts(
            Subject(run.id, ctx.name(run.id)), ctx.edition, run.size, run.material, run.insulation, run.sets
        )
    return run_facts(ctx, run, branch.a, branch.b)


def about(ctx: Context, item: Item) -> Iterator[Verdict]:
    """AMP-1, AMP-3, AMP-4 and AMP-TERM of a run, OCP-4B/4C/4D/4G of one that an overcurrent device protects or should;
    LOAD-5 or OCP-4G of a load."""
    if isinstance(item, Load):
        yield from _load_device(ctx, item)
    supply = supply_of(ctx, item.id) if isinstance(item, ConductorRun) else None
    if supply is None:
        return
    if (supply.run.sets or 1) > 1:
        run = supply.run
        yield existing_work(parallel_sets(supply.facts, run.sets_alike, run.neutral_size), run.status)
    yield _conductor_load(ctx, supply)
    yield from _surroundings(ctx, supply)
    yield from _terminals(ctx, supply)
    if _device_is_judged(supply):
        yield device_protection(ctx, supply)


def _device_is_judged(supply: RunSupply) -> bool:
    return supply.kind == "feeder" and (supply.state in ("pass", "special") or _asks_for_device(supply))


def overall(ctx: Context) -> Iterator[Verdict]:
    """OCP-4B of runs that close a loop."""
    yield from _loops(ctx)


def _conductor_load(ctx: Context, supply: RunSupply) -> Verdict:
    """AMP-1; a failure that a 100 % listing of the breaker would cure is not certain while nobody says it has none."""
    device = supply.protection.device
    facts = LoadFacts(
        supply.facts, load_fact(ctx, supply.load, counted=False), load_fact(ctx, supply.load),
        bool(device is not None and device.full_rated), _part(ctx, supply),
        ctx.demand.counted_as(supply.load),
    )  # fmt: skip
    found = conductor_load(facts)
    if found.state != "fail" or device is None or device.form != "breaker" or device.full_rated is not None:
        return found
    if conductor_load(replace(facts, full_rated=True)).state == "fail":
        return found
    return not_listed_yet(found, ctx.name(device.id))


def _surroundings(ctx: Context, supply: RunSupply) -> Iterator[Verdict]:
    """AMP-4: the heat of a roof, and parts of one run that differ."""
    run, facts = supply.run, supply.facts
    if run.rooftop:
        yield over_roof(facts)
    elif run.rooftop is None and run.outdoors and run.status == "new" and run.raceway not in _NOT_ON_ROOFS:
        asked = maybe_over_roof(facts, replace(facts, rooftop=True, roof_height_in=0.0))
        if asked is not None:
            yield asked
    series = series_of(ctx, run, lambda other: facts_alone(ctx, other))
    if series is not None:
        found = lower_part(facts, series.parts, series.follows[run.id])
        if found is not None:
            yield found


def _terminals(ctx: Context, supply: RunSupply) -> Iterator[Verdict]:
    """AMP-TERM where a run says more of its terminals than the equipment they are in is marked for."""
    stated, run = supply.run.terminal_c, supply.run
    below = [(item, c) for item, c in terminal_marks(ctx, run) if c is not None and stated is not None and c < stated]
    if stated is not None and below:
        ends = tuple((subject_of(ctx, item), float(c)) for item, c in below)
        yield terminals_contradict(supply.subject, ctx.edition, stated, ends)


def _load_device(ctx: Context, load: Load) -> Iterator[Verdict]:
    """LOAD-5 or OCP-4G of a motor or air conditioner whose conductors alone do not bring its device up."""
    node = ctx.net.node(load.id)
    if ctx.feeding.position[node] < 0:
        return
    protection = ctx.protection_of(node)
    device = protection.device
    if device is None or protection.transformers:
        return
    special = single_load(ctx, load, device)
    if special is not None and not _answered(ctx, protection, device):
        found = load_device(
            subject_of(ctx, load), subject_of(ctx, device), device_rating(ctx, device), special, ctx.edition
        )  # fmt: skip
        yield existing_work(found, "new" if "new" in (load.status, device.status) else device.status)


def _answered(ctx: Context, protection: Protection, device: Disconnect) -> bool:
    """Whether a load's device is already judged with the conductors on the way to it."""
    for branch in protection.branches:
        supply = supply_of(ctx, branch.item.id) if isinstance(branch.item, ConductorRun) else None
        if supply is not None and _device_is_judged(supply):
            found = device_protection(ctx, supply)
            if found.rule == "OCP-4G" and device.id in found.others:
                return True
    return False


def _part(ctx: Context, supply: RunSupply) -> str:
    """What a run is a part of: the service, a branch circuit or a feeder."""
    if supply.kind == "service":
        return "service"
    return "branch" if supply.kind == "feeder" and is_branch(ctx, supply.load) else "feeder"


def _asks_for_device(supply: RunSupply) -> bool:
    """A run on the device's own terminals whose protection is not decided: a question about the device, not a tap."""
    return supply.state == "unknown" and supply.direct


def device_protection(ctx: Context, supply: RunSupply) -> Verdict:
    """OCP-4B, 4C, 4D or 4G: whether the device ahead of a run protects it."""
    device = supply.protection.device
    assert device is not None
    return conductor_protection(
        ProtectionFacts(
            supply.facts, subject_of(ctx, device), supply.rating, device_kind(device), supply.special,
            _receptacles_only(ctx, supply.load),
        )
    )  # fmt: skip


def _receptacles_only(ctx: Context, node: int) -> bool:
    """Whether a run ends in receptacle load and in nothing else: a branch circuit for portable cords."""
    here = [ctx.drawing.items[end.item] for end in ctx.net.ends_of[node]]
    loads = [item for item in here if isinstance(item, Load)]
    return bool(loads) and not ctx.feeding.children(node) and all(x.load_class == "receptacles" for x in loads)


def _loops(ctx: Context) -> Iterator[Verdict]:
    """Runs that close a loop are fed from both ends: which devices protect them is not decided here."""
    for key in ctx.feeding.loop_branches:
        item = ctx.net.branches[key].item
        if isinstance(item, ConductorRun):
            subject = subject_of(ctx, item)
            message = (
                f"Whether {subject.name} is protected is not known yet: it is fed from both ends, and each needs a device "
                f"that protects it."
            )
            need = f"normal position of the devices at both ends of {subject.name}"
            yield verdict("OCP-4B", subject, ctx.edition, "unknown", message, needs=(need,))


#: Everything this subject finds on a drawing.
verdicts = for_all(about, overall, of=(ConductorRun, Load))
