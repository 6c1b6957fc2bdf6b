"""The way back: clearing, locks off, then one device after another from the main on, what generates last."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from oneline import tables
from oneline.model import Bus, Disconnect, Generator, TransferSwitch
from oneline.outage.act import Act, breakers, is_service, may_come_back, where
from oneline.outage.devices import MAIN, SOURCE, Device, Outage
from oneline.outage.results import ZoneAnswer

_NOTHING: Mapping[str, bool] = {}


def checks(answer: ZoneAnswer, outage: Outage, opened: tuple[Device, ...], numbers: Mapping[str, str]) -> Iterator[Act]:
    ctx = outage.scene.ctx
    yield Act("clear:tools", "check", "clear", "Count tools, covers and parts out of the equipment; close it up.")
    if may_come_back(answer, outage):
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


def restores(answer: ZoneAnswer, outage: Outage, opened: tuple[Device, ...]) -> Iterator[Act]:
    ctx = outage.scene.ctx
    for source in outage.utility:
        if is_service(ctx, source):
            words = f"The utility closes ahead of {ctx.name(source)} and confirms."
            yield Act(f"utility back:{source}", "close", "tell", words, source, start=(source,), hold=True)
    for load in outage.turning:
        name, three = ctx.name(load.id), load.phases == "ABC"
        words = f"{name}{where(load)}: keep it off or uncoupled until "
        words += "the phase rotation ahead of it is checked." if three else "the voltage ahead of it is checked."
        why = f"Nobody said where {name} is switched off: it may start when what is ahead of it is closed."
        yield Act(f"turn:{load.id}", "close", "verify", words, load.id, state="unknown", why=why, hold=True)
    backwards = [*reversed(opened)]
    supply = [d for d in backwards if d.rank != SOURCE]
    for n, device in enumerate(supply):
        yield _close(outage, device)
        if device.rank == MAIN or n == 0:
            yield _verify(outage, device)
    # A generator that ran alone is what feeds its load: it runs before that is switched on.
    alone = outage.ran_alone
    early = [d for d in backwards if d.rank == SOURCE and outage.fed_by(d) <= {g.id for g in alone}]
    for device in early:
        yield _close(outage, device)
    yield from _generators_back(outage, alone)
    yield from _firsts(outage)
    for panel in sorted(outage.panels, key=lambda p: outage.scene.depth[ctx.net.node(p.id)]):
        yield Act(f"restore:{panel.id}", "close", "close", f"Close {breakers(ctx, panel)}, one at a time, largest first.",
                  panel.id, unshed=(panel.id,))  # fmt: skip
    for load in reversed(outage.loads):
        yield Act(f"restore:{load.id}", "close", "close", f"Switch on {ctx.name(load.id)} at {load.control}.", load.id,
                  unshed=(load.id,))  # fmt: skip
    for device in backwards:
        if device.rank == SOURCE and device not in early:
            yield _close(outage, device)
    for source in outage.utility:
        if not is_service(ctx, source):
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
            words = f"Close {breakers(ctx, panel)}, which are new, one at a time."
            yield Act(f"restore:{panel.id}", "close", "close", words, panel.id, unshed=(panel.id,))


def _sources_back(outage: Outage) -> Iterator[Act]:
    ctx = outage.scene.ctx
    for source in reversed(outage.stop):
        yield Act(f"start:{source.id}", "close", "start source", f"Start the inverter of {ctx.name(source.id)}.", source.id,
                  start=(source.id,))  # fmt: skip
    yield from _generators_back(outage, [g for g in outage.generators if g not in outage.ran_alone])
    # Last of all: set to automatic while a source is off, it would move away from where it was found.
    for item in reversed(outage.transfers):
        off = "" if item.id in outage.isolation.items else "take the lock off and "
        words = f"{ctx.name(item.id)}: {off}set it back to automatic."
        yield Act(f"enable:{item.id}", "close", "enable", words, item.id, free=ctx.net.branches_of(item.id))


def _generators_back(outage: Outage, generators: Sequence[Generator]) -> Iterator[Act]:
    ctx = outage.scene.ctx
    for generator in reversed(generators):
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
