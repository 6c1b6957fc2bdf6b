"""Where taps begin and end on a drawing: the bus they land on, the side of the service disconnect, the panel they feed."""

from __future__ import annotations

from collections.abc import Iterator

from oneline.model import Bus
from oneline.rules.common import Fact, existing_work
from oneline.rules.taps import barrier, bus_provision
from oneline.rules.verdict import Verdict
from oneline.study.context import Context
from oneline.study.ends import EQUIPMENT_FORMS, buses_at, ends_from, subject_of
from oneline.study.sides import side_of
from oneline.study.supply import RunSupply


def landing(ctx: Context, supply: RunSupply) -> Iterator[Verdict]:
    """For new taps: the bus they land on, and on which side of the service disconnect it is."""
    if supply.run.status != "new":
        return
    bus = _start_bus(ctx, supply)
    if bus is not None:
        yield bus_provision(supply.subject, subject_of(ctx, bus), bus.maker_tap_provision, ctx.edition, supply.run.size)
    yield from side_of_service(ctx, supply)


def _start_bus(ctx: Context, supply: RunSupply) -> Bus | None:
    branch = ctx.net.branches[supply.run.id]
    end = branch.a_end if branch.a == supply.line else branch.b_end
    item = ctx.drawing.items.get(end.item) if end is not None else None
    return item if isinstance(item, Bus) and item.form in EQUIPMENT_FORMS else None


def side_of_service(ctx: Context, supply: RunSupply) -> Iterator[Verdict]:
    """DEC-SIDE: on which side of the service disconnect a run starts."""
    found = side_of(ctx, supply.subject, supply.line)
    if found is not None:
        yield found


def barriers(ctx: Context, supply: RunSupply) -> Iterator[Verdict]:
    """Panels whose line terminals the tap conductors land on."""
    ends = ends_from(ctx, supply.load, Fact(0.0))
    panels = [ends.equipment] if ends.equipment is not None else []
    for device in ends.devices:
        node = ctx.feeding.load_node(device.id)
        if node is not None and ends.equipment is None:
            panels += [b for b in buses_at(ctx, node) if b.form in EQUIPMENT_FORMS]
    for panel in panels:
        if "new" not in (panel.status, supply.run.status):
            continue
        found = barrier(subject_of(ctx, panel), supply.subject, panel.line_side_barrier, ctx.edition)
        yield existing_work(found, panel.status)
