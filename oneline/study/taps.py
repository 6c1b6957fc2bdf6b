"""Taps and secondary conductors on a drawing: recognized without being told, every rule tried, one answer each."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial

from oneline import tables
from oneline.model import (
    Battery,
    ConductorRun,
    Disconnect,
    Item,
    SolarArray,
    Transformer,
    basis_of,
)
from oneline.rules.ampacity import dry_only_in_wet
from oneline.rules.common import Fact, Subject, amperes, listed, rated, resting_on, unique, verdict
from oneline.rules.overcurrent import ServiceFacts, service_conductors
from oneline.rules.secondary_taps import (
    SecondaryFacts,
    either_way,
    secondary_remedies,
    secondary_rules,
    secondary_summary,
)
from oneline.rules.tap_choice import Remedy, tap_remedies, tap_summary, transformer_tap_remedies, with_remedies
from oneline.rules.tap_conditions import ENCLOSING, TapFacts, Tried, times
from oneline.rules.taps import (
    TransformerTapFacts,
    effective_rating,
    fuses_in_larger_switch,
    tap_10,
    tap_25,
    tap_hb,
    tap_ind,
    tap_of_tap,
    tap_out,
    tap_xf,
)
from oneline.rules.transformers import missing_facts, primary_alone
from oneline.rules.verdict import Verdict
from oneline.study.conductors import device_protection
from oneline.study.context import Context
from oneline.study.ends import (
    Ends,
    device_kind,
    device_rating,
    ends_from,
    farthest,
    longer,
    run_length,
    subject_of,
    system_need,
)
from oneline.study.other_taps import other_rules, other_source
from oneline.study.sides import connection
from oneline.study.subject import for_all
from oneline.study.supply import RunSupply, load_fact, supply_of, system_volts
from oneline.study.tap_places import barriers, landing, side_of_service
from oneline.study.transformers import transformer_facts


def about(ctx: Context, item: Item) -> Iterator[Verdict]:
    """TAP-0 with every TAP rule tried, TAP-SEC with every (C) rule, TAP-SVC, TAP-PV, TAP-BUS, BAR-1, DEC-SIDE, TAP-OTH."""
    yield from connection(ctx, item)
    supply = supply_of(ctx, item.id) if isinstance(item, ConductorRun) else None
    if supply is None:
        return
    if supply.kind == "service":
        yield from _service(ctx, supply)
    elif supply.kind == "source":
        yield from other_source(ctx, supply)
    elif supply.kind == "secondary":
        yield from _secondary(ctx, supply)
    elif supply.is_tap:
        yield from _tap(ctx, supply)
    elif supply.state == "unknown" and not supply.direct:
        yield _undecided(ctx, supply)


# ------------------------------------------------------------------------------------------------- gathering
def tap_facts(ctx: Context, supply: RunSupply) -> TapFacts:
    """Everything the tap rules ask about a run, gathered from the drawing."""
    device = supply.protection.device
    assert device is not None
    ends = ends_from(ctx, supply.load, run_length(ctx, supply.run))
    effective, why, _ = _effective(ctx, supply)
    return _facts(ctx, supply, ends, subject_of(ctx, device), device_kind(device), effective, why)


def _facts(
    ctx: Context, supply: RunSupply, ends: Ends, ahead: Subject, ahead_kind: str, effective: Fact | None, why: str
) -> TapFacts:  # fmt: skip
    run, equipment = supply.run, ends.equipment
    equipment_rating = Fact(None)
    if equipment is not None:
        need = f"bus rating of {ctx.name(equipment.id)}"
        equipment_rating = Fact(equipment.rating_a, basis=basis_of(equipment, "rating_a"), need=need, name=need)
    leaves = run.leaves_enclosure
    if leaves is None and run.raceway in ENCLOSING:
        leaves = run.raceway != "within enclosure"
    return TapFacts(
        supply.facts, ahead, supply.rating, load_fact(ctx, supply.load), farthest(ends.lengths), tuple(ends.ends),
        effective, why, supply.ratio, subject_of(ctx, equipment) if equipment is not None else None, equipment_rating,
        ends.scheduled, tuple(unique(ends.beyond)), leaves, run.outdoors, supply.direct, ahead_kind,
        Fact(run.indoor_ft, basis=basis_of(run, "indoor_ft"), name=f"indoor part of {supply.subject.name}"),
    )  # fmt: skip


def _effective(ctx: Context, supply: RunSupply) -> tuple[Fact | None, str, tuple[str, ...]]:
    """Rating with the solar arrays and batteries that feed the same conductor or bus; their ids; ``None`` without any."""
    device = supply.protection.device
    assert device is not None
    top = ctx.feeding.load_node(device.id)
    if top is None or supply.kind != "feeder":
        return None, "", ()
    zone = set(ctx.feeding.subtree(top))
    sources = [
        item
        for source, node in ctx.net.sources.items()
        if node in zone and isinstance(item := ctx.drawing.get(source), SolarArray | Battery)
    ]
    if not sources:
        return None, "", ()
    output, devices = Fact(0.0), Fact(0.0)
    for source in sources:
        node = ctx.net.sources[source.id]
        scale = _scale(ctx, node, supply.line)
        need = f"continuous output current of {ctx.name(source.id)}"
        basis = basis_of(source, "output_a")
        output = longer(output, times(Fact(source.output_a, 0.0, None, basis, need), scale, "output"))
        own = ctx.protection_of(node).device
        if own is None or own.id == device.id:
            rating = Fact(None, 0.0, need=f"overcurrent device of {ctx.name(source.id)}")
        else:
            rating = device_rating(ctx, own)
        devices = longer(devices, times(rating, scale, "devices"))
    names = listed([ctx.name(s.id) for s in sources])
    fact, why = effective_rating(supply.rating, output, devices, names)
    return fact, why, tuple(s.id for s in sources)


def _scale(ctx: Context, node: int, line: int) -> Fact:
    """Amperes at the tapped conductor for each ampere at a source behind transformers."""
    at_source, at_tap = system_volts(ctx, node), system_volts(ctx, line)
    if at_source.value == at_tap.value and at_tap.value is not None:
        return Fact(1.0)
    if at_source.value is None or not at_tap.value:
        return Fact(None, need=system_need(ctx, node if at_source.value is None else line))
    return Fact(at_source.value / at_tap.value)


# ------------------------------------------------------------------------------------------------- feeder taps
def _tap(ctx: Context, supply: RunSupply) -> Iterator[Verdict]:
    if supply.parent:
        parent = _known_supply(ctx, supply.parent)
        name, above = supply.subject, parent.subject
        of_tap = tap_of_tap(
            name, above, supply.ampacity.fact(name.name), parent.ampacity.fact(above.name), ctx.edition
        )  # fmt: skip
        yield resting_on(of_tap, (*_assumed(supply), *_assumed(parent)))
        return
    if supply.maybe_parent:
        yield _after_undecided(ctx, supply)
        return
    facts = tap_facts(ctx, supply)
    through = _transformer_taps(ctx, supply, facts)
    each = [(side, tap_xf(side)) for side in through]
    tried = _tried(facts, [t for _, t in each])
    failed = [side for side, t in each if t.state == "fail"]
    # Several secondaries that fail are each cured on their own, so none of those changes alone carries the tap.
    summary = tap_summary(facts, tried, failed[0] if len(failed) == 1 else None)
    if supply.direct and summary.state == "fail":
        yield from _too_small(ctx, supply, summary)
        return
    yield summary
    failing = [t for t in tried if t.state == "fail"]
    own = [t for t in tried if t.verdict.rule != "TAP-XF"]
    yield from with_remedies(own, (lambda: tap_remedies(facts)) if failing else tuple)
    for side, xf in each:
        yield from with_remedies((xf,), partial(transformer_tap_remedies, side) if xf.state == "fail" else tuple)
    carried = next((t.verdict.rule for t in tried if t.state == "pass"), "")
    question = fuses_in_larger_switch(facts)
    if carried == "TAP-10" and question is not None:
        yield question
    yield from _source_remark(ctx, supply)
    yield from other_rules(ctx, supply)
    rests = _assumed(supply)
    yield from (resting_on(v, rests) for v in (*landing(ctx, supply), *barriers(ctx, supply)))


def _too_small(ctx: Context, supply: RunSupply, as_tap: Verdict) -> Iterator[Verdict]:
    """OCP-4B and the like of conductors on their device's own terminals: they are simply too small for it where no tap rule
    carries them. With insulation that may not be where it lies they have no ampacity at all, which AMP-1 says."""
    if dry_only_in_wet(supply.facts):
        return
    found = device_protection(ctx, supply)
    if found.state == "fail":
        found = found.but(message=partial(_neither, found, as_tap))
    yield resting_on(found, _assumed(supply))


def _neither(own: Verdict, as_tap: Verdict) -> str:
    """The sentence about the device, and which tap rule is nearest."""
    nearest = as_tap.message.partition("Nearest is ")[2]
    return f"{own.message} No tap rule carries it either{f'; nearest is {nearest}' if nearest else '.'}"


def _assumed(supply: RunSupply) -> tuple[str, ...]:
    """What is only assumed of that which makes conductors a tap."""
    return unique((*supply.ampacity.fact(supply.subject.name).assumptions, *supply.rating.assumptions))


def _tried(facts: TapFacts, through: Sequence[Tried]) -> tuple[Tried, ...]:
    """Every rule tried. Of the secondaries of a transformer the worst counts: all of them have to meet its rule."""
    order = ("fail", "unknown", "judge", "pass", "not_applicable")
    transformer = (min(through, key=lambda t: order.index(t.state)),) if through else ()
    return (tap_10(facts), tap_25(facts), *transformer, tap_out(facts), tap_hb(facts), tap_ind(facts))


def _transformer_taps(ctx: Context, supply: RunSupply, facts: TapFacts) -> tuple[TransformerTapFacts, ...]:
    """The tap with each of the secondary conductors of each transformer it supplies."""
    found: list[TransformerTapFacts] = []
    for end in facts.ends:
        if end.kind != "transformer":
            continue
        behind = [
            other for other in _below(ctx, end.item.id)
            if other.kind == "secondary" and not other.parent and other.protection.transformers[0].id == end.item.id
        ]  # fmt: skip
        found += [TransformerTapFacts(facts, _secondary_tap(ctx, facts, other), end.item) for other in behind]
        if not behind:
            found.append(TransformerTapFacts(facts, None, end.item))
    return tuple(found)


def _below(ctx: Context, transformer_id: str) -> list[RunSupply]:
    """Runs behind a transformer, in drawing order."""
    start = ctx.feeding.load_node(transformer_id)
    inside = set() if start is None else set(ctx.feeding.subtree(start))
    ids = [key for key, b in ctx.net.branches.items() if b.b >= 0 and b.a in inside and b.b in inside]
    return [found for i in ids if (found := supply_of(ctx, i)) is not None]


def _known_supply(ctx: Context, run_id: str) -> RunSupply:
    found = supply_of(ctx, run_id)
    assert found is not None
    return found


def _secondary_tap(ctx: Context, facts: TapFacts, other: RunSupply) -> TapFacts:
    ends = ends_from(ctx, other.load, run_length(ctx, other.run))
    return _facts(ctx, other, ends, facts.ahead, facts.ahead_kind, None, "")


def _after_undecided(ctx: Context, supply: RunSupply) -> Verdict:
    """A tap that starts where conductors end of which it is not known whether they are a tap themselves.

    Where they are one, this is a tap of a tap; where they are not, it is a tap of its own.
    """
    parent = _known_supply(ctx, supply.maybe_parent)
    name, above = supply.subject, parent.subject
    of_tap = tap_of_tap(name, above, supply.ampacity.fact(name.name), parent.ampacity.fact(above.name), ctx.edition)
    facts = tap_facts(ctx, supply)
    through = [tap_xf(side) for side in _transformer_taps(ctx, supply, facts)]
    alone = tap_summary(facts, _tried(facts, through))
    if alone.state == "fail" and of_tap.state == "fail":
        return alone
    message = (
        f"Whether {name.name} may be tapped from {above.name} is not known yet: {above.name} may be a tap itself, and a "
        f"tap may not be tapped."
    )
    needs = unique(
        (
            *_what_decides(parent),
            *(alone.needs if alone.state == "unknown" else ()),
        )
    )
    return verdict(
        "TAP-0", name, ctx.edition, "unknown", message, needs=needs, others=(above.id,),
        field_checks=unique((*parent.ampacity.field_checks, *alone.field_checks)),
    )  # fmt: skip


def _undecided(ctx: Context, supply: RunSupply) -> Verdict:
    """Whether it is a tap at all is not known yet."""
    device = supply.protection.device
    assert device is not None
    found, needs = supply.ampacity, _what_decides(supply)
    message = (
        f"Whether {supply.subject.name} is a tap is not known yet: it starts behind "
        f"{rated(ctx.name(device.id), supply.rating)} without a device of its own."
    )
    return verdict(
        "TAP-0", supply.subject, ctx.edition, "unknown", message, needs=needs, others=(device.id,),
        field_checks=found.field_checks,
    )  # fmt: skip


def remedies(ctx: Context, run_id: str) -> tuple[Remedy, ...]:
    """Changes that would make a rule hold for a tap or secondary conductor; empty for any other run."""
    supply = supply_of(ctx, run_id)
    if supply is None or supply.parent:
        return ()
    if supply.kind == "secondary":
        return secondary_remedies(secondary_facts(ctx, supply))
    return tap_remedies(tap_facts(ctx, supply)) if supply.is_tap else ()


# --------------------------------------------------------------------------------------------------- remarks
def _source_remark(ctx: Context, supply: RunSupply) -> Iterator[Verdict]:
    effective, why, ids = _effective(ctx, supply)
    if effective is None:
        return
    shown = "a rating not known yet" if effective.value is None else amperes(effective.value)
    names = listed([ctx.name(id_) for id_ in ids])
    message = (
        f"A tenth or a third for {supply.subject.name} is taken of {shown} because {names} can feed it too: {why}."
    )
    yield verdict(
        "TAP-PV", supply.subject, ctx.edition, "advice" if effective.value is not None else "unknown", message,
        value=effective.value, unit="A", needs=effective.needs, others=ids, basis=effective.basis,
    )  # fmt: skip


# ---------------------------------------------------------------------------------------- secondary conductors
def secondary_facts(ctx: Context, supply: RunSupply) -> SecondaryFacts:
    """Everything the secondary-conductor rules ask about a run."""
    device = supply.protection.device
    assert device is not None
    transformer = supply.protection.transformers[0]
    ends = ends_from(ctx, supply.load, run_length(ctx, supply.run))
    tap = _facts(ctx, supply, ends, subject_of(ctx, device), device_kind(device), None, "")
    code = ctx.feeding.system[supply.line]
    system = tables.system(code) if code else None
    own = transformer_facts(ctx, transformer)
    complies = primary_alone(own)
    return SecondaryFacts(
        tap, subject_of(ctx, transformer), transformer.connection, system.phases if system else None,
        system.wires if system else None, complies, missing_facts(own) if complies == "unknown" else (),
        _by_tap(ctx, supply, transformer),
    )  # fmt: skip


def _fed_by(ctx: Context, supply: RunSupply) -> RunSupply | None:
    """The conductors that feed the transformer, where they are a tap, or may be one ("unknown")."""
    line = ctx.feeding.line_node(supply.protection.transformers[0].id)
    if line is None:
        return None
    for branch in ctx.protection_of(line).branches:
        above = supply_of(ctx, branch.item.id)
        if above is not None and (above.is_tap or (above.kind == "feeder" and above.state == "unknown")):
            while above.parent:
                above = _known_supply(ctx, above.parent)
            return above
    return None


def _ahead_of(ctx: Context, supply: RunSupply) -> list[RunSupply]:
    """The conductors between the transformer and the device ahead of it."""
    line = ctx.feeding.line_node(supply.protection.transformers[0].id)
    found = () if line is None else (supply_of(ctx, b.item.id) for b in ctx.protection_of(line).branches)
    return [run for run in found if run is not None and run.kind == "feeder"]


def _what_decides(supply: RunSupply) -> tuple[str, ...]:
    """What is not known of conductors of which it is not known whether they are a tap."""
    return unique((*supply.ampacity.fact(supply.subject.name).needs, *supply.rating.needs))


def _by_tap(ctx: Context, supply: RunSupply, transformer: Transformer) -> TransformerTapFacts | None:
    """What the transformer tap rule asks of these secondary conductors, where a tap feeds the transformer, or may."""
    above = _fed_by(ctx, supply)
    if above is None:
        return None
    primary = tap_facts(ctx, above)
    return TransformerTapFacts(primary, _secondary_tap(ctx, primary, supply), subject_of(ctx, transformer))


def _secondary(ctx: Context, supply: RunSupply) -> Iterator[Verdict]:
    if supply.parent:
        parent = _known_supply(ctx, supply.parent)
        name, above = supply.subject, parent.subject
        own, parents = supply.ampacity.fact(name.name), parent.ampacity.fact(above.name)
        yield tap_of_tap(name, above, own, parents, ctx.edition, secondary=True)
        return
    facts = secondary_facts(ctx, supply)
    primary = _fed_by(ctx, supply)
    if primary is not None and not primary.is_tap:
        answer, tried = either_way(facts, primary.subject, _what_decides(primary))
    else:
        tried = secondary_rules(facts)
        answer = secondary_summary(facts, tried)
    # Which rules are asked follows from whether the conductors ahead of the transformer are a tap.
    rests = unique(a for run in _ahead_of(ctx, supply) for a in _assumed(run))
    yield resting_on(answer, rests)
    failing = [t for t in tried if t.state == "fail"]
    yield from with_remedies(tried, (lambda: secondary_remedies(facts)) if failing else tuple)
    yield from barriers(ctx, supply)


# ---------------------------------------------------------------------------------------------------- services
def _service(ctx: Context, supply: RunSupply) -> Iterator[Verdict]:
    ends = ends_from(ctx, supply.load, Fact(0.0))
    devices = tuple((e.item.name, e.rating) for e in ends.ends if e.kind == "device")
    yield service_conductors(ServiceFacts(supply.facts, load_fact(ctx, supply.load, counted=False), devices))
    if supply.run.status == "new":
        yield from side_of_service(ctx, supply)


#: Everything this subject finds on a drawing.
verdicts = for_all(about, of=(ConductorRun, Disconnect))

__all__ = ["about", "remedies", "secondary_facts", "tap_facts", "verdicts"]
