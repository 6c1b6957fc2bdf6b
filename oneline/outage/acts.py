"""What is done at each step of a switching order, in words, and what it changes; in the computed order."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from oneline import tables
from oneline.model import Bus, Disconnect, Generator, Item, Load, SolarArray, SuspectedTie, TransferSwitch
from oneline.outage.devices import MAIN, SOURCE, Device, Outage, switched_circuits
from oneline.outage.results import IsolationPoint, TestCard, ZoneAnswer
from oneline.outage.scene import Moment
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


@dataclass(frozen=True)
class Act:
    """One step before it is simulated. ``positions``, ``free``, ``shed``, ``unshed``, ``stop``, ``start``: what it changes
    (see ``Moment.after``); ``key``: the contact whose current counts; ``state`` and ``why``: what is to be said of it
    whatever the moment."""

    key: str
    part: str
    action: str
    words: str
    item: str = ""
    contact: str = ""
    positions: Mapping[str, bool] = field(default_factory=dict)
    free: tuple[str, ...] = ()
    shed: tuple[str, ...] = ()
    unshed: tuple[str, ...] = ()
    stop: tuple[str, ...] = ()
    start: tuple[str, ...] = ()
    lock: str = ""
    state: str = "pass"
    why: str = ""
    hold: bool = False
    back_out: bool = False

    def done(self, moment: Moment) -> Moment:
        """The moment after it."""
        changes = (self.positions, self.free, self.shed, self.unshed, self.stop, self.start)
        if not any(changes):
            return moment
        return moment.after(*changes)


def all_acts(
    answer: ZoneAnswer, outage: Outage, order: tuple[tuple[Device, ...], tuple[Device, ...]], cards: tuple[TestCard, ...]
) -> tuple[Act, ...]:  # fmt: skip
    """Every step from the first call to the last check."""
    first, then = order
    opened = (*first, *then)
    numbers = lock_numbers(outage)
    before = [
        *_prepare(answer, outage, opened, numbers), *_sheds(outage),
        *(_open(outage, d) for d in first), *_stops(outage, numbers), *(_open(outage, d) for d in then),
        *_utility_opens(answer, outage), *_locks(outage, opened, numbers), *_tests(outage, answer, cards),
    ]  # fmt: skip
    state, why = _reached(answer, outage)
    words = f"Do the work: {answer.zone.name}." if answer.zone.name else "Do the work."
    work = Act(f"work:{answer.zone.id}", "work", "work", words, state=state, why=why)
    return flagged((*before, work, *_checks(answer, outage, opened, numbers), *_restores(answer, outage, opened)))


def flagged(acts: Sequence[Act]) -> tuple[Act, ...]:
    """The steps with the last one before the work as the one from which one can still turn back."""
    work = next((n for n, a in enumerate(acts) if a.action == "work"), 0)
    return tuple(
        replace(a, back_out=n == work - 1, hold=a.hold or n == work - 1) if n == work - 1 or a.back_out else a
        for n, a in enumerate(acts)
    )


def _reached(answer: ZoneAnswer, outage: Outage) -> tuple[str, str]:
    """Whether the drawing says that something still reaches the work, or that nobody knows."""
    for blocked in outage.isolation.reached:
        return "fail", blocked.says
    for unknown in (*outage.isolation.unknown, *answer.unknown):
        return "unknown", unknown
    return "pass", ""


def lock_numbers(outage: Outage) -> dict[str, str]:
    """Lock of each isolation point, and of what is locked so that it does not act by itself."""
    numbers = {p.item: p.lock or f"L{n}" for n, p in enumerate(outage.isolation.points, 1)}
    for item in (*outage.transfers, *outage.generators):
        numbers.setdefault(item.id, f"L{len(numbers) + 1}")
    return numbers


def place_of(item: Item | None) -> str:
    return (item.location or "") if item is not None else ""


def where(item: Item) -> str:
    return f" ({item.location})" if item.location else ""


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
        if _is_service(ctx, source):
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
        if ctx.net.node(item.id) not in outage.region:
            continue
        for key, care, name in cares_of(ctx, item):
            words = f"{_CARES.get(care, _CARES['other'])} ({name})."
            yield Act(key, "prepare", "tell", words, item.id)


def cares_of(ctx: Context, item: Item) -> Iterator[tuple[str, str, str]]:
    """What has to be looked after before a load or a panel goes dark: key of the step, care, name."""
    if isinstance(item, Load):
        care = item.care or ("elevator" if item.load_class == "elevator" else None)
        if care and care != "none":
            yield f"care:{item.id}", care, ctx.name(item.id)
    elif isinstance(item, Bus):
        for c in item.circuits:
            care = c.care or ("elevator" if c.load_class == "elevator" else None)
            if care and care != "none" and c.use not in ("spare", "space"):
                said = f", {c.description}" if c.description else ""
                yield f"care:{item.id}:{c.space}", care, f"{ctx.name(item.id)} circuit {c.space}{said}"


# ----------------------------------------------------------------------------------------------------- shed and open
def _sheds(outage: Outage) -> Iterator[Act]:
    ctx, depth = outage.scene.ctx, outage.scene.depth
    for load in outage.loads:
        yield Act(f"shed:{load.id}", "shed", "shed", f"Switch off {ctx.name(load.id)} at {load.control}.", load.id,
                  shed=(load.id,))  # fmt: skip
    for panel in sorted(outage.panels, key=lambda p: -depth[ctx.net.node(p.id)]):
        yield Act(f"shed:{panel.id}", "shed", "shed",
                  f"Switch off {_breakers(ctx, panel)}, largest last.", panel.id, shed=(panel.id,))  # fmt: skip


def _breakers(ctx: Context, panel: Bus) -> str:
    spaces = switched_circuits(ctx, panel)
    if not spaces or panel.unlisted:
        return f"every branch breaker of {ctx.name(panel.id)}{where(panel)}, whose directory is not entered"
    count = f"{len(spaces)} circuits: {min(spaces)}-{max(spaces)}" if len(spaces) > 1 else f"circuit {spaces[0]}"
    return f"the branch breakers of {ctx.name(panel.id)}{where(panel)} ({count})"


def _open(outage: Outage, device: Device) -> Act:
    item, name = device.item, outage.scene.ctx.name(device.item.id)
    off = isinstance(item, TransferSwitch)
    words = f"Set {name}{where(item)} to off." if off else f"Open {name}{where(item)}. Stand aside, door closed."
    if isinstance(item, Disconnect) and item.form == "fuses":
        words = f"Pull the fuses of {name}{where(item)}. Stand aside."
    state, why = "pass", ""
    if item.id in outage.helpers:
        state, why = (
            "advice",
            (
                "It is opened only so that nothing behind it has to break load. It may be closed again once the locks hang, "
                "and has to be open again before they come off."
            ),
        )
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
        yield _off(outage.scene.ctx, generator, numbers, "open", "stop it now that its load is off, selector to off")


def _utility_opens(answer: ZoneAnswer, outage: Outage) -> Iterator[Act]:
    ctx = outage.scene.ctx
    says = {b.source: b.says for b in answer.blocked}
    for source in outage.utility:
        name = ctx.name(source)
        if _is_service(ctx, source):
            words = f"The utility opens ahead of {name}, tags it under your name, holds it open and confirms."
            yield Act(f"utility:{source}", "open", "tell", words, source, stop=(source,), hold=True)
        else:
            words = f"{name}: have it made dead by whoever can, and confirmed."
            yield Act(f"utility:{source}", "open", "tell", words, source, stop=(source,), hold=True, state="judge",
                      why=says.get(source, ""))  # fmt: skip


def _is_service(ctx: Context, item_id: str) -> bool:
    return ctx.drawing.get(item_id).kind == "service"


# ------------------------------------------------------------------------------------------------------ lock and test
def _locks(outage: Outage, opened: tuple[Device, ...], numbers: Mapping[str, str]) -> Iterator[Act]:
    by_item = {d.item.id: d for d in (*opened, *outage.standing)}
    for point in outage.isolation.points:
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
    reason = _may_come_back(answer, outage)
    if reason:
        yield Act(
            "ground:zone", "test", "ground", f"Ground and short the conductors at the work: {reason}.", state="judge",
            why="Whether to ground, and with what, is for the person in charge: it must stand the available fault current.",
        )  # fmt: skip


def _may_come_back(answer: ZoneAnswer, outage: Outage) -> str:
    """Why energy may come back into the work; "" where nothing on the drawing says so."""
    ctx = outage.scene.ctx
    region = outage.region | answer.nodes
    names = [ctx.name(s.id) for s in (*outage.stop, *outage.generators)]
    names += [
        ctx.name(t.id) for t in ctx.drawing.of(SuspectedTie) if not region.isdisjoint(outage.scene.nodes_of(t.id))
    ]
    names += [
        name for i in outage.scene.fed_items if ctx.net.node(i.id) in region
        for _, care, name in cares_of(ctx, i) if care == "computers"
    ]  # fmt: skip
    if not names:
        return ""
    return f"{listed(tuple(dict.fromkeys(names)))} could feed back"


# ---------------------------------------------------------------------------------------------------- back to service
def _checks(
    answer: ZoneAnswer, outage: Outage, opened: tuple[Device, ...], numbers: Mapping[str, str]
) -> Iterator[Act]:
    ctx = outage.scene.ctx
    yield Act("clear:tools", "check", "clear", "Count tools, covers and parts out of the equipment; close it up.")
    if _may_come_back(answer, outage):
        yield Act("clear:grounds", "check", "clear", "Take off every ground that was set and count them.")
    words = "Check connections and phase sequence; measure insulation, phase to phase and phase to ground."
    yield Act("verify:work", "check", "verify", words)
    yield Act(
        "clear:people", "check", "clear", "Everybody is clear and knows that it will be live; count them.", hold=True
    )
    for device in (*reversed([d for d in opened if d.point is not None]), *outage.standing):
        if device.point is not None:
            yield Act(f"unlock:{device.item.id}", "check", "unlock",
                      f"The owner of lock {numbers[device.item.id]} takes it off {ctx.name(device.item.id)}.",
                      device.item.id, lock=numbers[device.item.id],
                      free=tuple(device.opens) if device in outage.standing else ())  # fmt: skip


def _restores(answer: ZoneAnswer, outage: Outage, opened: tuple[Device, ...]) -> Iterator[Act]:
    ctx = outage.scene.ctx
    for source in outage.utility:
        if _is_service(ctx, source):
            words = f"The utility closes ahead of {ctx.name(source)} and confirms."
            yield Act(f"utility back:{source}", "close", "tell", words, source, start=(source,), hold=True)
    backwards = [*reversed(opened)]
    supply = [d for d in backwards if d.rank != SOURCE]
    for n, device in enumerate(supply):
        yield _close(outage, device)
        if device.rank == MAIN or n == 0:
            yield _verify(outage, device)
    yield from _firsts(outage)
    for panel in sorted(outage.panels, key=lambda p: outage.scene.depth[ctx.net.node(p.id)]):
        yield Act(f"restore:{panel.id}", "close", "close", f"Close {_breakers(ctx, panel)}, one at a time, largest first.",
                  panel.id, unshed=(panel.id,))  # fmt: skip
    for load in reversed(outage.loads):
        yield Act(f"restore:{load.id}", "close", "close", f"Switch on {ctx.name(load.id)} at {load.control}.", load.id,
                  unshed=(load.id,))  # fmt: skip
    for device in backwards:
        if device.rank == SOURCE:
            yield _close(outage, device)
    for source in outage.utility:
        if not _is_service(ctx, source):
            yield Act(f"utility back:{source}", "close", "start source", f"{ctx.name(source)} is given back.", source,
                      start=(source,))  # fmt: skip
    yield from _sources_back(outage)
    yield Act("verify:loads", "close", "verify",
              "Check that motors turn the right way, and clamp the mains: compare with what was read before.")  # fmt: skip
    yield Act("tell:done", "close", "tell", "Tell everybody that power is back, and take the notices down.")


def _firsts(outage: Outage) -> Iterator[Act]:
    """New devices, closed for the first time, the ones nearest the source first."""
    ctx = outage.scene.ctx
    feeding, net = ctx.feeding, ctx.net

    def depth(key: str) -> int:
        node = feeding.load_node(key)
        return 0 if node is None else sum(1 for _ in feeding.path(node))

    for key in sorted(outage.scene.unbuilt, key=depth):
        item = ctx.drawing.get(key)
        words = f"Close {ctx.name(key)}{where(item)}, which is new, for the first time."
        yield Act(f"close:{key}", "close", "close", words, key, net.branches[key].key, {key: True})
    for panel in ctx.drawing.of(Bus):
        if panel.id in outage.scene.idle:
            words = f"Close {_breakers(ctx, panel)}, which are new, one at a time."
            yield Act(f"restore:{panel.id}", "close", "close", words, panel.id, unshed=(panel.id,))


def _sources_back(outage: Outage) -> Iterator[Act]:
    ctx = outage.scene.ctx
    for source in reversed(outage.stop):
        yield Act(f"start:{source.id}", "close", "start source", f"Start the inverter of {ctx.name(source.id)}.", source.id,
                  start=(source.id,))  # fmt: skip
    for item in reversed(outage.transfers):
        off = "" if item.id in outage.isolation.items else "take the lock off and "
        words = f"{ctx.name(item.id)}: {off}set it back to automatic."
        yield Act(f"enable:{item.id}", "close", "enable", words, item.id, free=ctx.net.branches_of(item.id))
    for generator in reversed(outage.generators):
        yield Act(f"enable:{generator.id}", "close", "enable",
                  f"Take the lock off {ctx.name(generator.id)} and set it back as it was found.", generator.id,
                  start=(generator.id,))  # fmt: skip


def _close(outage: Outage, device: Device) -> Act:
    item, name = device.item, outage.scene.ctx.name(device.item.id)
    held = item in outage.transfers
    words = (
        f"Set {name}{where(item)} back to {item.position}."
        if isinstance(item, TransferSwitch)
        else f"Close {name}{where(item)}."
    )
    state, why = "pass", ""
    if isinstance(item, Disconnect) and item.suspect:
        state, why = "judge", f"{name} may not close: look at the spare plan."
    return Act(f"close:{item.id}", "close", "close", words, item.id, device.key, device.back if held else _NOTHING,
               free=() if held else tuple(device.opens), state=state, why=why)  # fmt: skip


def _verify(outage: Outage, device: Device) -> Act:
    ctx = outage.scene.ctx
    branch = ctx.net.branches[device.key]
    code = ctx.feeding.system[branch.b] or ctx.feeding.system[branch.a]
    pairs = (
        "phase to phase and phase to neutral"
        if code and tables.system(code).has_neutral
        else "phase to phase and to ground"
    )
    turn = "" if code and tables.system(code).phases == 1 else ", and the phase rotation"
    words = (
        f"Measure at the load side of {ctx.name(device.item.id)}: {pairs}{turn}. Compare with what was there before."
    )
    return Act(f"verify:{device.item.id}", "close", "verify", words, device.item.id, hold=True)
