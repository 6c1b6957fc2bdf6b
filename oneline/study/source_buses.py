"""Buses that interconnected sources can feed beside their main supply: what the tests of PV-1 read."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from oneline.model import Bus, Disconnect, Transformer
from oneline.network import Branch
from oneline.rules.common import Fact, Subject, unique
from oneline.rules.interconnect import BusFacts, bus_tests, scaled
from oneline.rules.services import sum_of_ratings
from oneline.rules.tap_conditions import TapEnd
from oneline.rules.verdict import Verdict
from oneline.study.context import Context, Protection, protects
from oneline.study.ends import Ends, assumptions, device_rating, ends_from, subject_of
from oneline.study.sources import SourcesAt, sources_below
from oneline.study.unentered import described_spaces

#: Forms of bus that have a rating of their own; at the others only conductors meet.
RATED_FORMS = ("panelboard", "switchboard", "busway", "meter center")


def bus_findings(ctx: Context, bus: Bus) -> Iterator[Verdict]:
    """PV-1 on a rated bus that sources can feed beside its main supply."""
    node = ctx.net.node(bus.id)
    if bus.form in RATED_FORMS or bus.rating_a is not None:
        at = sources_below(ctx, node)
        if not at.sources or not ctx.feeding.branch[node]:
            return
        protection = ctx.protection_of(node)
        if protection.device is not None:
            yield from bus_tests(bus_facts(ctx, bus, at, protection))


def bus_facts(ctx: Context, bus: Bus, at: SourcesAt, protection: Protection) -> BusFacts:
    """What the tests of a bus read. ``protection``: of the bus, with a device."""
    device, name = protection.device, ctx.name(bus.id)
    assert device is not None
    node = ctx.net.node(bus.id)
    entering = _entering(ctx, node, at)
    rating = Fact(
        bus.rating_a,
        basis=bus.basis.get("rating_a", "entered"),
        need=f"bus rating of {name}",
        name=f"bus rating of {name}",
    )
    return BusFacts(
        subject=Subject(bus.id, name), edition=ctx.edition, bus=rating, main=main_rating(ctx, protection),
        main_name=ctx.name(device.id), output=at.output, breakers=_all_breakers(ctx, bus, node),
        opposite_end=_opposite(entering),
        center_fed=None if bus.feed_position is None else bus.feed_position == "center", engineered=bus.engineered,
        sources=at.names, source_ids=at.ids, source_devices=unique(ctx.name(d.id) for d in entering if d is not None),
        position_assumed=unique((
            *(a for d in entering if d is not None for a in assumptions(ctx, d, "bus_end")),
            *assumptions(ctx, bus, "feed_position"),
        )),
        engineered_assumed=assumptions(ctx, bus, "engineered"),
    )  # fmt: skip


def main_rating(ctx: Context, protection: Protection) -> Fact:
    """Rating of the device that protects a bus, at the bus's voltage."""
    device = protection.device
    assert device is not None
    rating = device_rating(ctx, device)
    if not protection.transformers:
        return rating
    from oneline.study.supply import ratio_of

    ratio = ratio_of(ctx, protection.transformers)
    return scaled(rating, ratio.value) if ratio.value is not None else Fact(None, need=ratio.need, also=ratio.also)


def _entering(ctx: Context, node: int, at: SourcesAt) -> list[Disconnect | None]:
    """Devices on a bus through which the sources come in; ``None`` for one that comes in without a device."""
    found: dict[str, Disconnect | None] = {}
    for source in at.sources:
        branch = next((b for b, up in source.way if up == node), None)
        item = branch.item if branch is not None else None
        found[branch.key if branch is not None else source.item.id] = item if isinstance(item, Disconnect) else None
    return list(found.values())


def _opposite(entering: list[Disconnect | None]) -> bool | None:
    """Whether all sources come in at the end of the bus away from its supply."""
    ends = [d.bus_end if d is not None else None for d in entering]
    if any(end is not None and end != "opposite end" for end in ends):
        return False
    return True if ends and all(ends) else None


def _all_breakers(ctx: Context, bus: Bus, node: int) -> Fact:
    """Sum of all devices on a bus but the one that protects it: those drawn, and those in the schedule."""
    ratings: list[tuple[str, Fact]] = []
    drawn = {branch.item.id for branch, _ in ctx.feeding.children(node)}
    for branch, below in ctx.feeding.children(node):
        item = branch.item
        if isinstance(item, Disconnect) and protects(item):
            ratings.append((ctx.name(item.id), counted_rating(ctx, item)))
        else:
            ratings.extend(_tapped(ctx, branch, below))
    for circuit in bus.circuits:
        if circuit.use == "space" or (circuit.use == "feeder" and circuit.feeds in drawn):
            continue
        what = f"trip rating of {ctx.name(bus.id)} circuit {circuit.space}"
        ratings.append((what, Fact(circuit.trip_a, 0.0, None, "entered", what, what)))
    total = sum_of_ratings(ratings)
    if not _all_listed(ctx, bus, node):
        need = f"directory of {ctx.name(bus.id)}"
        return Fact(None, total.least, None, need=need, also=total.needs, name=total.name)
    return total


def counted_rating(ctx: Context, device: Disconnect) -> Fact:
    """Rating of a device as it counts in a sum: an unknown one is at least nothing."""
    rating = device_rating(ctx, device)
    return rating if rating.least is not None else replace(rating, low=0.0)


def _tapped(ctx: Context, branch: Branch, below: int) -> list[tuple[str, Fact]]:
    """Devices that conductors from a bus end in: they take current from it, or bring some, as breakers on it do."""
    if isinstance(branch.item, Transformer):
        found = Ends(ends=[TapEnd(subject_of(ctx, branch.item), "transformer")])
    else:
        found = ends_from(ctx, below, Fact(0.0))
    ratings = [(ctx.name(d.id), counted_rating(ctx, d)) for d in found.devices]
    if len(found.ends) > len(found.devices) or not found.ends or found.scheduled:
        what = f"overcurrent devices fed by {ctx.name(branch.item.id)}"
        ratings.append((what, Fact(None, 0.0, None, need=what, name=what)))
    return ratings


def _all_listed(ctx: Context, bus: Bus, node: int) -> bool:
    """Whether every space of a panel is described, by its directory or by what is drawn in it; what nobody described may
    hold a breaker. A bus without numbered spaces holds what is drawn on it."""
    if bus.spaces is None:
        return bus.form != "panelboard"
    return described_spaces(ctx, bus, node) >= bus.spaces
