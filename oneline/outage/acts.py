"""The steps of a switching order in their computed order, in words, with what each changes: up to the work."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

from oneline.model import Disconnect, Generator, SolarArray, TransferSwitch
from oneline.outage.act import Act, breakers, cares_of, flagged, is_service, may_come_back, where
from oneline.outage.devices import Device, Outage
from oneline.outage.restoring import checks, restores
from oneline.outage.results import IsolationPoint, TestCard, ZoneAnswer
from oneline.rules.common import listed
from oneline.study.context import Context

_NOTHING: Mapping[str, bool] = {}
#: How the terminals of items are said.
_SIDES = {
    "line": "line side", "load": "load side", "bus": "on the bus", "in": "at its terminals", "out": "at its terminals",
    "normal": "normal side", "alternate": "alternate side", "a": "line end", "b": "load end",
}  # fmt: skip
#: What has to be looked after before an item loses power.
_CARES = {
    "fire alarm": "Fire alarm: tell the monitoring station and the owner, arrange a fire watch",
    "emergency lighting": "Emergency lighting: test that it comes on, and how long its batteries last",
    "elevator": "Elevator: bring the car to a landing, doors open, nobody in it, and take it out of service",
    "refrigeration": "Refrigeration: warn the owner, note temperatures, keep doors shut",
    "computers": "Computers and UPS: have them shut down; a UPS output stays live until it is off",
    "medical": "Medical equipment: nothing goes off before the person responsible agrees in writing",
    "security": "Security: tell the monitoring station, doors that unlock without power are watched",
    "pumps": "Pumps: note levels, have somebody watch what fills or floods",
    "other": "Has to be looked after first: ask the owner",
}


def all_acts(
    answer: ZoneAnswer, outage: Outage, order: tuple[tuple[Device, ...], tuple[Device, ...]], cards: tuple[TestCard, ...]
) -> tuple[Act, ...]:  # fmt: skip
    """Every step from the first call to the last check."""
    first, then = order
    numbers = lock_numbers(outage)
    opened = _own_locks(answer, outage, (*first, *then), numbers)
    before = [
        *_prepare(answer, outage, opened, numbers), *_sheds(outage),
        *(_open(outage, d) for d in first), *_stops(outage, numbers), *(_open(outage, d) for d in then),
        *_utility_opens(answer, outage), *_locks(outage, opened, numbers), *_tests(outage, answer, cards),
    ]  # fmt: skip
    state, why = _reached(answer, outage)
    words = f"Do the work: {answer.zone.name}." if answer.zone.name else "Do the work."
    work = Act(f"work:{answer.zone.id}", "work", "work", words, state=state, why=why)
    return flagged((*before, work, *checks(answer, outage, opened, numbers), *restores(answer, outage, opened)))


def _reached(answer: ZoneAnswer, outage: Outage) -> tuple[str, str]:
    """Whether the drawing says that something still reaches the work, or that nobody knows."""
    for blocked in outage.isolation.reached:
        return "fail", blocked.says
    for unknown in (*outage.isolation.unknown, *answer.unknown):
        return "unknown", unknown
    return "pass", ""


def lock_numbers(outage: Outage) -> dict[str, str]:
    """Lock of each isolation point, and of what is locked so that it does not act by itself."""
    numbers = {p.item: p.lock or f"L{n}" for n, p in enumerate(outage.isolation.held, 1)}
    for item in (*outage.transfers, *outage.generators):
        numbers.setdefault(item.id, f"L{len(numbers) + 1}")
    return numbers


def _own_locks(
    answer: ZoneAnswer, outage: Outage, opened: tuple[Device, ...], numbers: dict[str, str]
) -> tuple[Device, ...]:  # fmt: skip
    """The opened devices, those at the edge of a zone that only the utility can make dead as points to lock.

    The utility holds its own device; what is opened on the premises at the zone gets the lock of whoever works there. What
    is worked on itself gets none, nor what may be closed again during the work. ``numbers`` grows by the new locks.
    """
    if not answer.blocked:
        return opened
    scene, ctx = outage.scene, outage.scene.ctx
    closed = {**scene.closed, **{k: v for d in (*opened, *outage.standing) for k, v in d.opens.items()}}
    dead = {n for start in answer.nodes for n in scene.reach(start, closed)}
    found = []
    for device in opened:
        item = device.item
        free = device.point is None and item.id not in answer.zone.items and item.id not in outage.helpers
        if free and not dead.isdisjoint(scene.nodes_of(item.id)):
            number = numbers.setdefault(item.id, f"L{len(numbers) + 1}")
            keys = ctx.net.branches_of(item.id)
            why = ("opened at the zone: a lock of one's own beside the utility's",)
            point = IsolationPoint(item.id, ctx.name(item.id), item.location or "", keys, 0, why, lock=number)
            device = replace(device, point=point)
        found.append(device)
    return tuple(found)


# ---------------------------------------------------------------------------------------------------------- prepare
def _prepare(
    answer: ZoneAnswer, outage: Outage, opened: tuple[Device, ...], numbers: Mapping[str, str]
) -> Iterator[Act]:  # fmt: skip
    ctx, zone = outage.scene.ctx, answer.zone
    when = f" from {zone.begins}" if zone.begins else ""
    asks = f" ({zone.contact})" if zone.contact else ""
    yield Act("tell:occupants", "prepare", "tell", f"Tell everybody who will be without power{when}{asks}; "
              "nobody is to ride, cook, weld or lean on a machine when it goes dark.")  # fmt: skip
    for source in outage.utility:
        if is_service(ctx, source):
            number = f" ({zone.utility_contact})" if zone.utility_contact else ""
            yield Act(f"arrange:{source}", "prepare", "tell", f"Call the utility{number}: agree when it opens ahead of "
                      f"{ctx.name(source)}, who confirms, and when it closes again.", source)  # fmt: skip
    yield from _cares(outage)
    for item in outage.transfers:
        keys = ctx.net.branches_of(item.id)
        held = {k: ctx.net.branches[k].closed for k in keys}
        words = (
            f"Inhibit {ctx.name(item.id)}{where(item)}: control to manual or off, so that it does not transfer; "
            f"it stays on {item.position}."
        )
        lock = "" if item.id in outage.isolation.items else numbers[item.id]
        words += f" Lock {lock} on its control." if lock else ""
        state, why = ("pass", "") if item.automatic else ("unknown", "Nobody knows whether it moves by itself.")
        yield Act(f"inhibit:{item.id}", "prepare", "inhibit", words, item.id, positions=held, lock=lock,
                  state=state, why=why)  # fmt: skip
    for generator in outage.inhibited:
        yield _off(ctx, generator, numbers, "prepare", "selector to off")
    for generator in outage.kept:
        fed = [i for i in outage.scene.fed_items if generator.id in outage.scene.live({}).at_node[ctx.net.node(i.id)]]
        on = listed(tuple(ctx.name(i.id) for i in fed if ctx.net.node(i.id) not in outage.dark))
        words = f"{ctx.name(generator.id)}{where(generator)} keeps running and feeds {on}: see that its fuel lasts."
        yield Act(f"keep:{generator.id}", "prepare", "tell", words, generator.id)
    for device in opened:
        words = (
            f"Clamp every conductor and the neutral at {ctx.name(device.item.id)}{where(device.item)}; write it down."
        )
        yield Act(f"measure:{device.item.id}", "prepare", "measure", words, device.item.id)


def _off(ctx: Context, generator: Generator, numbers: Mapping[str, str], part: str, how: str) -> Act:
    words = f"{ctx.name(generator.id)}{where(generator)}: {how}, start battery or start circuit open. "
    words += f"Lock {numbers[generator.id]} on it. An off selector isolates nothing; its breaker does."
    return Act(f"inhibit:{generator.id}", part, "inhibit", words, generator.id, stop=(generator.id,),
               lock=numbers[generator.id])  # fmt: skip


def _cares(outage: Outage) -> Iterator[Act]:
    ctx = outage.scene.ctx
    for item in outage.scene.fed_items:
        if ctx.net.node(item.id) not in outage.dark:
            continue
        for key, care, name in cares_of(ctx, item):
            words = f"{_CARES.get(care, _CARES['other'])} ({name})."
            yield Act(key, "prepare", "tell", words, item.id)


# ----------------------------------------------------------------------------------------------------- shed and open
def _sheds(outage: Outage) -> Iterator[Act]:
    ctx, depth = outage.scene.ctx, outage.scene.depth
    for load in outage.loads:
        yield Act(f"shed:{load.id}", "shed", "shed", f"Switch off {ctx.name(load.id)} at {load.control}.", load.id,
                  shed=(load.id,))  # fmt: skip
    for load in outage.turning:
        name = ctx.name(load.id)
        words = f"{name}{where(load)}: see that it stands still and stays off before anything ahead of it is opened."
        why = f"Nobody said where {name} is switched off: look for its control or its own disconnect before the day."
        yield Act(f"still:{load.id}", "shed", "verify", words, load.id, state="unknown", why=why)
    for panel in sorted(outage.panels, key=lambda p: -depth[ctx.net.node(p.id)]):
        yield Act(f"shed:{panel.id}", "shed", "shed",
                  f"Switch off {breakers(ctx, panel)}, largest last.", panel.id, shed=(panel.id,))  # fmt: skip


def _open(outage: Outage, device: Device) -> Act:
    item, name = device.item, outage.scene.ctx.name(device.item.id)
    off = isinstance(item, TransferSwitch)
    words = f"Set {name}{where(item)} to off." if off else f"Open {name}{where(item)}. Stand aside, door closed."
    if isinstance(item, Disconnect) and item.form == "fuses":
        words = f"Pull the fuses of {name}{where(item)}. Stand aside."
    state, why = "pass", ""
    if item.id in outage.helpers:
        helped = listed(tuple(outage.scene.ctx.name(i) for i in outage.helped))
        state, why = (
            "advice",
            f"It is opened only so that {helped} need not break load: not where about 0 A is read there. ",
        )
        why += "It may be closed again once the locks hang, and has to be open again before they come off."
    if isinstance(item, Disconnect) and item.suspect:
        state, why = "judge", f"{name} may not close again: have the spare plan ready before it is opened."
    return Act(f"open:{item.id}", "open", "open", words, item.id, device.key, device.opens, state=state, why=why)


def _stops(outage: Outage, numbers: Mapping[str, str]) -> Iterator[Act]:
    for source in outage.stop:
        name, solar = outage.scene.ctx.name(source.id), isinstance(source, SolarArray)
        words = f"Stop the inverter of {name}{where(source)} at its own control. "
        words += "Its DC side stays live in light." if solar else "Its battery side stays live."
        yield Act(f"stop:{source.id}", "open", "stop source", words, source.id, stop=(source.id,))
    for generator in outage.running:
        yield _off(
            outage.scene.ctx,
            generator,
            numbers,
            "open",
            "stop it now that what can be switched off is off, selector to off",
        )


def _utility_opens(answer: ZoneAnswer, outage: Outage) -> Iterator[Act]:
    ctx = outage.scene.ctx
    says = {b.source: b.says for b in answer.blocked}
    for source in outage.utility:
        name = ctx.name(source)
        if is_service(ctx, source):
            words = f"The utility opens ahead of {name}, tags it under your name, holds it open and confirms."
            yield Act(f"utility:{source}", "open", "tell", words, source, stop=(source,), hold=True)
        else:
            words = f"{name}: have it made dead by whoever can, and confirmed."
            yield Act(f"utility:{source}", "open", "tell", words, source, stop=(source,), hold=True, state="judge",
                      why=says.get(source, ""))  # fmt: skip


# ------------------------------------------------------------------------------------------------------ lock and test
def _locks(outage: Outage, opened: tuple[Device, ...], numbers: Mapping[str, str]) -> Iterator[Act]:
    by_item = {d.item.id: d for d in (*opened, *outage.standing)}
    own = (d.point for d in opened if d.point is not None and d.point not in outage.isolation.held)
    for point in (*outage.isolation.held, *own):
        device = by_item.get(point.item)
        if device is not None:
            yield _lock(outage, point, device, numbers[point.item])
    words = "Second person: go round with this list and check device, position, lock and tag of every one."
    yield Act("verify:locks", "lock", "verify", words, hold=True)


def _lock(outage: Outage, point: IsolationPoint, device: Device, number: str) -> Act:
    item, name = device.item, outage.scene.ctx.name(point.item)
    standing = device in outage.standing
    blades = isinstance(item, Disconnect) and item.form != "breaker"
    look = "see that every blade or fuse clip is open." if blades else "see that its handle is fully off."
    words = f"{name}{where(item)} is open already: check that it is. " if standing else f"{name}{where(item)}: {look} "
    words += f"Hang lock {number} and tag it; try the handle."
    locks = item.lockable_off if isinstance(item, TransferSwitch) else getattr(item, "lockable", None)
    state, why = "pass", ""
    if locks is None:
        state, why = "unknown", f"Nobody knows whether {name} can be locked open: look before the day."
    elif locks is False:
        state = "judge"
        why = f"{name} cannot be locked open: agree on another way to hold it, such as fuses taken out or wires lifted."
    return Act(f"lock:{point.item}", "lock", "lock", words, point.item, positions=device.opens if standing else _NOTHING,
               lock=number, state=state, why=why)  # fmt: skip


def _tests(outage: Outage, answer: ZoneAnswer, cards: tuple[TestCard, ...]) -> Iterator[Act]:
    words = "Let capacitors, drives, UPS and inverters run down, and block springs and whatever can fall or turn."
    yield Act("discharge:stored", "test", "verify", f"{words} Until the tests are done everything counts as energized.")
    for card in cards:
        live = (
            ""
            if all(p.expected == "0 V" for p in card.pairs)
            else " Something nobody traced may reach it: see the card."
        )
        live = " Part of it stays live: see the card." if card.live_from else live
        words = f"Prove the meter on a known live source, test all {len(card.pairs)} pairs at {card.name}, "
        words += f"{_SIDES.get(card.terminal, card.terminal)}, prove the meter again.{live}"
        yield Act(f"test:{card.item}:{card.terminal}", "test", "test", words, card.item)
    reason = may_come_back(answer, outage)
    if reason:
        yield Act(
            "ground:zone", "test", "ground", f"Ground and short the conductors at the work: {reason}.", state="judge",
            why="Whether to ground, and with what, is for the person in charge: it must stand the available fault current.",
        )  # fmt: skip
