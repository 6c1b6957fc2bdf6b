"""Solar arrays and batteries on the drawing: their output current, their own device, and the way to the utility."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

from oneline import tables
from oneline.model import Battery, Disconnect, SolarArray, Transformer
from oneline.model.quick import quick
from oneline.network import Branch
from oneline.rules.common import Fact, Subject
from oneline.rules.interconnect import add, scaled
from oneline.rules.power_sources import ControlFacts, controlled_output
from oneline.study.context import Context, protects
from oneline.study.ends import rating_words

Inverter = SolarArray | Battery


@dataclass(frozen=True)
class PlacedSource:
    """An inverter that can feed a service's network. ``way``: branches from it up to the feeding source, each with its
    node toward that source. ``output``: amperes at its own terminals; ``device``: its overcurrent device."""

    item: Inverter
    name: str
    node: int
    output: Fact
    device: Fact
    way: tuple[tuple[Branch, int], ...]


def placed_sources(ctx: Context) -> list[PlacedSource]:
    """Inverters that another source's network reaches, in drawing order. Worked out once."""
    return ctx.recall("placed sources", "", lambda: _placed_sources(ctx))


def _placed_sources(ctx: Context) -> list[PlacedSource]:
    inverters = (ctx.drawing.get(i) for i in ctx.net.sources)
    return [
        _placed(ctx, item) for item in inverters
        if isinstance(item, SolarArray | Battery) and ctx.feeding.root[ctx.net.node(item.id)] not in ("", item.id)
    ]  # fmt: skip


def _placed(ctx: Context, item: Inverter) -> PlacedSource:
    node, name = ctx.net.node(item.id), ctx.name(item.id)
    way = tuple(ctx.feeding.path(node))
    device = next((b.item for b, _ in way if isinstance(b.item, Disconnect) and protects(b.item)), None)
    rating = Fact(None, 0.0, need=f"overcurrent device of {name}", name=f"overcurrent device of {name}")
    if device is not None:
        what = f"{rating_words(device)} of {ctx.name(device.id)}"
        basis = device.basis.get("trip_a", "entered")
        rating = Fact(device.trip_a, 0.0, device.rating_a, basis, what, what)
    return PlacedSource(item, name, node, output_current(ctx, item), rating, way)


def output_current(ctx: Context, item: Inverter) -> Fact:
    """Continuous output current that an inverter counts with, amperes: its nameplate, or what power control holds it to."""
    if item.control_setting_a is None:
        return nameplate_current(ctx, item)
    return controlled_output(control_facts(ctx, item))


def control_facts(ctx: Context, item: Inverter) -> ControlFacts:
    """What is known of the power control of an inverter."""
    name = ctx.name(item.id)
    what = f"power control setting of {name}"
    setting = Fact(item.control_setting_a, basis=item.basis.get("control_setting_a", "entered"), need=what, name=what)
    return ControlFacts(
        Subject(item.id, name), ctx.edition, nameplate_current(ctx, item), setting, item.control_listed
    )  # fmt: skip


def nameplate_current(ctx: Context, item: Inverter) -> Fact:
    """Continuous output current of an inverter in amperes: its nameplate, else from its kilowatts at nominal volts."""
    name, node = ctx.name(item.id), ctx.net.node(item.id)
    what = f"output current of {name}"
    if item.output_a is not None:
        return Fact(item.output_a, basis=item.basis.get("output_a", "entered"), name=what)
    code = ctx.feeding.system[node]
    if item.output_kw is None or code is None:
        need = f"continuous output current of {name}"
        return Fact(None, 0.0, need=need, name=what)
    phases = item.phases or ctx.feeding.phases[node]
    system = tables.system(code)
    volts = system.v_ln if len(phases) == 1 and system.v_ln else system.v_ll
    amperes = item.output_kw * 1000 / (volts * (sqrt(3) if len(phases) == 3 else 1.0))
    return Fact(amperes, basis=item.basis.get("output_kw", "entered"), name=what)


@quick
@dataclass(frozen=True)
class SourcesAt:
    """What inverters can send through a point, in amperes at the point's voltage: their output and their devices."""

    sources: tuple[PlacedSource, ...]
    output: Fact
    devices: Fact

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(s.name for s in self.sources)

    @property
    def ids(self) -> tuple[str, ...]:
        return tuple(s.item.id for s in self.sources)


def sources_below(ctx: Context, node: int) -> SourcesAt:
    """Inverters whose power passes, or starts at, a node on its way to the utility."""
    found: list[PlacedSource] = []
    output, devices = Fact(0.0), Fact(0.0)
    for source in placed_sources(ctx):
        if source.node != node and not any(up == node for _, up in source.way):
            continue
        ratio = _ratio(ctx, source, node)
        found.append(source)
        output = add(output, _referred(source.output, ratio, source.name), "output of the sources")
        devices = add(devices, _referred(source.device, ratio, source.name), "devices of the sources")
    return SourcesAt(tuple(found), output, devices)


def _ratio(ctx: Context, source: PlacedSource, node: int) -> float | None:
    """Amperes at the source times this are amperes at the node; ``None`` where a transformer's volts are not known."""
    passed = []
    at = source.node
    for branch, up in source.way:
        if at == node:
            break
        passed.append((branch, at, up))
        at = up
    ratio = 1.0
    for branch, below, above in passed:
        if isinstance(branch.item, Transformer):
            codes = ctx.feeding.system[below], ctx.feeding.system[above]
            if codes[0] is None or codes[1] is None:
                return None
            ratio *= tables.system(codes[0]).v_ll / tables.system(codes[1]).v_ll
    return ratio


def _referred(fact: Fact, ratio: float | None, name: str) -> Fact:
    if ratio is None:
        return Fact(None, 0.0, need=f"system voltages on the way of {name}", name=fact.name)
    return scaled(fact, ratio)
