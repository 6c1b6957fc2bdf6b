"""Back-fed, delta and wrong-phase breakers of the panelboards on a drawing."""

from __future__ import annotations

from collections.abc import Iterator

from oneline.model import Battery, Bus, Disconnect, Item, SolarArray
from oneline.rules.common import existing_work
from oneline.rules.panel_devices import BackFedFacts, back_fed, delta_breaker, wrong_phase
from oneline.rules.verdict import Verdict
from oneline.study.context import Context
from oneline.study.ends import subject_of
from oneline.study.loads import bus_phases
from oneline.study.services import only_sources


def device_verdicts(ctx: Context, bus: Bus) -> Iterator[Verdict]:
    """PNL-2 and PNL-5 of the breakers on a panelboard."""
    node = ctx.net.node(bus.id)
    if ctx.feeding.position[node] < 0:
        return
    main_key = ctx.feeding.branch[node]
    main = ctx.net.branches[main_key].item if main_key else None
    # A main that takes branch spaces plugs on the bus like a branch breaker.
    if isinstance(main, Disconnect) and _plugs_in(main) and not _held_elsewhere(ctx, main, node):
        yield _back_fed(ctx, bus, main, ())
    has = bus_phases(ctx, bus)
    for branch, below in ctx.feeding.children(node):
        device = branch.item
        if not isinstance(device, Disconnect) or device.form != "breaker":
            continue
        if device.delta_breaker:
            found = delta_breaker(subject_of(ctx, device), subject_of(ctx, bus), ctx.edition)
            yield existing_work(found, device.status)
        elif device.phases and has and not set(device.phases) <= set(has):
            yield wrong_phase(subject_of(ctx, device), subject_of(ctx, bus), ctx.edition, device.phases, has)
        if device.back_fed is not False and only_sources(ctx, below):
            yield _back_fed(ctx, bus, device, _sources(ctx, below))


def _plugs_in(main: Disconnect) -> bool:
    """Whether a panel's main is a plug-in breaker, or may be: it takes branch spaces."""
    return main.form == "breaker" and (bool(main.back_fed) or (main.back_fed is None and main.space is not None))


def _held_elsewhere(ctx: Context, main: Disconnect, node: int) -> bool:
    """Whether a breaker with a space number is a branch breaker of the panel ahead, bolted straight to this one."""
    line = ctx.feeding.line_node(main.id)
    ahead = () if line is None else (ctx.drawing.items[end.item] for end in ctx.net.ends_of[line])
    return any(isinstance(item, Bus) and item.form in ("panelboard", "switchboard") for item in ahead)


def _sources(ctx: Context, below: int) -> tuple[Item, ...]:
    first, last = ctx.feeding.position[below], ctx.feeding.last[below]
    return tuple(
        item for id_, at in ctx.net.sources.items()
        if first <= ctx.feeding.position[at] < last and isinstance(item := ctx.drawing.get(id_), SolarArray | Battery)
    )  # fmt: skip


def _back_fed(ctx: Context, bus: Bus, device: Disconnect, sources: tuple[Item, ...]) -> Verdict:
    marked = tuple((subject_of(ctx, s), getattr(s, "interactive_listed", None)) for s in sources)
    facts = BackFedFacts(
        subject_of(ctx, device), ctx.edition, subject_of(ctx, bus), device.back_fed, device.held_down, marked
    )
    return existing_work(back_fed(facts), device.status)
