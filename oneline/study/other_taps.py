"""Taps and other conductors that have rules of their own, which are named and not evaluated (TAP-OTH): from a busway, to
motors, from generators, batteries and inverters."""

from __future__ import annotations

from collections.abc import Iterator

from oneline.model import Battery, Bus, Generator, Load, SolarArray
from oneline.rules.common import Fact, listed, section, verdict
from oneline.rules.verdict import Verdict
from oneline.study.context import Context
from oneline.study.ends import ends_from
from oneline.study.supply import RunSupply


def other_source(ctx: Context, supply: RunSupply) -> Iterator[Verdict]:
    """Conductors of a generator, a battery or an inverter ahead of every overcurrent device."""
    source = ctx.drawing.items.get(supply.protection.source)
    if isinstance(source, Generator):
        message = (
            f"{supply.subject.name} comes from {ctx.name(source.id)} ahead of every overcurrent device, so the generator's "
            f"rating sizes it and no tap rule applies."
        )
        yield verdict("TAP-OTH", supply.subject, ctx.edition, "advice", message, others=(source.id,))
    elif isinstance(source, Battery | SolarArray):
        message = (
            f"{supply.subject.name} comes from {ctx.name(source.id)} ahead of every overcurrent device, so it is a "
            f"power-source circuit and no tap rule applies."
        )
        cited = section("TAP-OTH-battery", ctx.edition)
        yield verdict("TAP-OTH", supply.subject, ctx.edition, "advice", message, others=(source.id,), section=cited)


def other_rules(ctx: Context, supply: RunSupply) -> Iterator[Verdict]:
    """Taps that have a rule of their own beside those tried."""
    name = supply.subject.name
    busway = next((b for b in _at_start(ctx, supply) if b.form == "busway"), None)
    if busway is not None:
        message = f"{name} starts at {ctx.name(busway.id)}: taps from a busway have a section of their own beside this."
        cited = section("TAP-OTH-busway", ctx.edition)
        yield verdict("TAP-OTH", supply.subject, ctx.edition, "advice", message, others=(busway.id,), section=cited)
    motors = _bare_motors(ctx, supply)
    if motors:
        names = listed([ctx.name(m.id) for m in motors[:3]])
        message = (
            f"{name} reaches {names} without an overcurrent device of its own: taps of motor circuits have sections of their "
            f"own."
        )
        cited = section("TAP-OTH-motor", ctx.edition)
        ids = tuple(m.id for m in motors)
        yield verdict("TAP-OTH", supply.subject, ctx.edition, "advice", message, others=ids, section=cited)


def _at_start(ctx: Context, supply: RunSupply) -> list[Bus]:
    items = (ctx.drawing.items[end.item] for end in ctx.net.ends_of[supply.line])
    return [item for item in items if isinstance(item, Bus)]


def _bare_motors(ctx: Context, supply: RunSupply) -> list[Load]:
    """Motors at the end of a tap, where all it reaches is motors without a device ahead of them."""
    ends = ends_from(ctx, supply.load, Fact(0.0))
    if ends.scheduled or not ends.ends or any(e.kind != "load" for e in ends.ends):
        return []
    return ends.loads if all(x.load_class == "motor" for x in ends.loads) else []
