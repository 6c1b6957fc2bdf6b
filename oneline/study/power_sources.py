"""Arrays, batteries and generators on the drawing, each by itself: PV-5, PV-6, PV-8, ESS-1, GEN-1, GEN-3, SRC-1, PV-1f."""

from __future__ import annotations

from collections.abc import Iterator
from math import sqrt

from oneline import tables
from oneline.model import (
    Battery,
    Bus,
    ConductorRun,
    Disconnect,
    Generator,
    SolarArray,
    SuspectedTie,
    TransferSwitch,
    Transformer,
    UtilityService,
    basis_of,
)
from oneline.rules.common import Fact, Subject, existing_work
from oneline.rules.interconnect import FeederFacts
from oneline.rules.power_sources import (
    GeneratorConductors,
    dc_side,
    feed_through,
    generator_conductors,
    may_come_back,
    number_of_sources,
    power_control,
    source_disconnect,
)
from oneline.rules.verdict import Verdict
from oneline.study.context import Context
from oneline.study.ends import buses_at, subject_of, system_need
from oneline.study.source_buses import RATED_FORMS, main_rating
from oneline.study.sources import control_facts, placed_sources, sources_below
from oneline.study.supply import supply_of


def verdicts(ctx: Context) -> Iterator[Verdict]:
    """Everything about sources that no other subject says."""
    inverters: list[SolarArray | Battery] = [*ctx.drawing.of(SolarArray), *ctx.drawing.of(Battery)]
    for inverter in inverters:
        yield from _inverter(ctx, inverter)
    yield from _generator_conductors(ctx)
    yield from _feed_through(ctx)
    yield from _ways_back(ctx, inverters)
    yield from _number(ctx)


def _inverter(ctx: Context, item: SolarArray | Battery) -> Iterator[Verdict]:
    subject = subject_of(ctx, item)
    device = _own_disconnect(ctx, item)
    named = None if device is None else subject_of(ctx, device)
    rule = "ESS-1" if isinstance(item, Battery) else "PV-6"
    found = source_disconnect(rule, subject, ctx.edition, named, None if device is None else device.readily_accessible)
    yield existing_work(found, item.status)
    if isinstance(item, SolarArray):
        yield dc_side(subject, ctx.edition, item.rapid_shutdown)
    if item.control_setting_a is not None:
        yield power_control(control_facts(ctx, item))


def _own_disconnect(ctx: Context, item: SolarArray | Battery) -> Disconnect | None:
    """The first disconnect on the way from a source to what it feeds, ahead of any bus."""
    node = ctx.net.node(item.id)
    seen, waiting = {node}, [node]
    for at in waiting:
        if any(bus.form in RATED_FORMS for bus in buses_at(ctx, at)):
            continue
        for key in ctx.net.at_node[at]:
            branch = ctx.net.branches[key]
            if isinstance(branch.item, Disconnect):
                return branch.item
            other = branch.other(at)
            if other >= 0 and other not in seen and isinstance(branch.item, ConductorRun | Transformer):
                seen.add(other)
                waiting.append(other)
    return None


# ------------------------------------------------------------------------------------------------------ generators
def _generator_conductors(ctx: Context) -> Iterator[Verdict]:
    """GEN-1 (445.13) of runs between a generator and its first overcurrent device."""
    generators = [g.id for g in ctx.drawing.of(Generator)]
    runs = [run.id for run, line, _ in ctx.runs() if ctx.feeding.root[line] in generators] if generators else []
    for supply in (s for i in runs if (s := supply_of(ctx, i)) is not None):
        source = ctx.drawing.items.get(supply.protection.source)
        if supply.kind != "source" or not isinstance(source, Generator) or supply.protection.device is not None:
            continue
        if supply.protection.transformers:
            continue
        generator = subject_of(ctx, source)
        found = generator_conductors(
            GeneratorConductors(
                supply.subject, ctx.edition, generator, supply.ampacity.fact(supply.subject.name),
                _rated_a(ctx, source), source.overload_prevented,
            )
        )  # fmt: skip
        yield existing_work(found, "new" if "new" in (source.status, supply.run.status) else supply.run.status)


def _rated_a(ctx: Context, generator: Generator) -> Fact:
    """Nameplate current of a generator, amperes."""
    name, basis = ctx.name(generator.id), basis_of(generator, "kva")
    if generator.system is None:
        return Fact(None, need=system_need(ctx, ctx.net.node(generator.id)), name=f"rated current of {name}")
    if generator.kva is None:
        return Fact(None, need=f"rating of {name} in kVA", name=f"rated current of {name}")
    system = tables.system(generator.system)
    volts = system.v_ll * (sqrt(3) if system.phases == 3 else 1.0)
    return Fact(generator.kva * 1000 / volts, basis=basis, name=f"rated current of {name}")


# --------------------------------------------------------------------------------------------------- feed-through
def _is_tap(ctx: Context, run_id: str) -> bool:
    supply = supply_of(ctx, run_id)
    return supply is not None and supply.is_tap


def _feed_through(ctx: Context) -> Iterator[Verdict]:
    """PV-1f of runs that go on from a rated bus without a device, where sources feed that bus beside its main."""
    from oneline.study.conductors import run_ampacity

    if not placed_sources(ctx):
        return
    carrying = {branch.key for source in placed_sources(ctx) for branch, _ in source.way}
    for bus in ctx.drawing.of(Bus):
        node = ctx.net.node(bus.id)
        at = sources_below(ctx, node)
        protection = ctx.protection_of(node)
        if bus.form not in RATED_FORMS or not at.sources or protection.device is None:
            continue
        for branch, _below in ctx.feeding.children(node):
            run = branch.item
            if not isinstance(run, ConductorRun) or _is_tap(ctx, run.id) or branch.key in carrying:
                continue
            name = ctx.name(run.id)
            facts = FeederFacts(
                Subject(run.id, name), ctx.edition, run_ampacity(ctx, run.id).fact(name), at.output,
                main_rating(ctx, protection), ctx.name(protection.device.id), True, at.names, at.ids,
            )  # fmt: skip
            yield feed_through(subject_of(ctx, bus), facts)


# ------------------------------------------------------------------------------------------------------- ways back
def _ways_back(ctx: Context, inverters: list[SolarArray | Battery]) -> Iterator[Verdict]:
    """GEN-3: equipment by which energy may arrive from the load side."""
    for switch in ctx.drawing.of(TransferSwitch):
        subject = subject_of(ctx, switch)
        if switch.automatic is False:
            way = f"{subject.name} is operated by hand: only its interlock keeps the two supplies apart."
            yield may_come_back(subject, ctx.edition, way, f"The interlock of {subject.name}, tried both ways.")
        if switch.position == "off":
            way = f"{subject.name} stands between its positions: what it feeds may be supplied by something else."
            yield may_come_back(subject, ctx.edition, way, f"Why {subject.name} is in its middle position.")
    for inverter in inverters:
        if inverter.forms_grid:
            name = ctx.name(inverter.id)
            way = f"{name} can run on its own: what its backup output feeds stays live without the utility."
            check = f"What the backup output of {name} feeds, and where it is locked open."
            yield may_come_back(subject_of(ctx, inverter), ctx.edition, way, check)
    if placed_sources(ctx):
        yield from _through_transformers(ctx)


def _through_transformers(ctx: Context) -> Iterator[Verdict]:
    for transformer in ctx.drawing.of(Transformer):
        below = ctx.feeding.load_node(transformer.id)
        at = None if below is None else sources_below(ctx, below)
        if at is None or not at.sources:
            continue
        name = ctx.name(transformer.id)
        way = (
            f"{name} can be energized from its load side, by {' and '.join(at.names)}: both its windings are live then."
        )
        check = f"Open and lock both sides of {name} before work on either."
        yield may_come_back(subject_of(ctx, transformer), ctx.edition, way, check, at.ids)


def _number(ctx: Context) -> Iterator[Verdict]:
    """SRC-1 at the first service, where there is more than one source or something that nobody traced."""
    service = next(iter(ctx.drawing.of(UtilityService)), None)
    names = [ctx.name(id_) for id_ in ctx.net.sources]
    ties = [ctx.name(t.id) for t in ctx.drawing.of(SuspectedTie) if t.b is None]
    if service is not None and (len(names) > 1 or ties):
        yield number_of_sources(subject_of(ctx, service), ctx.edition, names, ties)
