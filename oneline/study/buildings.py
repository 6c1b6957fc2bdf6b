"""Second buildings on a drawing: the feeders that say they lead to one, and what they end in there."""

from __future__ import annotations

from collections.abc import Iterator

from oneline import tables
from oneline.model import ConductorRun, Disconnect
from oneline.rules.buildings import BuildingDisconnect, BuildingFacts, OutsideFeeder, second_building
from oneline.rules.common import Fact, existing_work
from oneline.rules.verdict import Verdict
from oneline.study.context import Context
from oneline.study.ends import buses_at, ends_from, subject_of
from oneline.study.services import disconnect_rating
from oneline.study.supply import RunSupply, load_fact, supply_of


def verdicts(ctx: Context) -> Iterator[Verdict]:
    """SVC-9: one finding for each building that feeders lead to."""
    for ids in ctx.recall("buildings", "", lambda: _leading(ctx)):
        feeders = [s for i in ids if (s := supply_of(ctx, i)) is not None and s.kind != "service"]
        if not feeders:
            continue
        name = (feeders[0].run.to_building or "").strip()
        code = ctx.feeding.system[feeders[0].load]
        facts = BuildingFacts(
            name, ctx.edition, tuple(_feeder(ctx, s) for s in feeders), _load(ctx, feeders),
            None if code is None else tables.system(code).has_neutral,
        )  # fmt: skip
        status = "new" if any(s.run.status == "new" for s in feeders) else feeders[0].run.status
        yield existing_work(second_building(facts), status)


def _leading(ctx: Context) -> tuple[tuple[str, ...], ...]:
    """Runs that lead to each second building."""
    found: dict[str, list[str]] = {}
    for run in ctx.drawing.set_in(ConductorRun, "to_building"):
        if run.to_building and run.to_building.strip():
            found.setdefault(run.to_building.strip().casefold(), []).append(run.id)
    return tuple(tuple(ids) for ids in found.values())


def _load(ctx: Context, feeders: list[RunSupply]) -> Fact:
    """Load of the building; of several feeders what is known of their sum, largest phases added."""
    loads = [load_fact(ctx, s.load, counted=False) for s in feeders]
    if len(loads) == 1:
        return loads[0]
    high = None if any(x.most is None for x in loads) else sum(x.most or 0.0 for x in loads)
    low = max((x.least or 0.0) for x in loads)
    value = high if all(x.value is not None for x in loads) and high is not None else None
    need, *also = [n for x in loads for n in x.needs] or [""]
    return Fact(value, low, high, need=need, also=tuple(also))


def _feeder(ctx: Context, supply: RunSupply) -> OutsideFeeder:
    branch = ctx.net.branches[supply.run.id]
    end = branch.a_end if branch.a == supply.line else branch.b_end
    start = end.item if end is not None else ""
    item = ctx.drawing.items.get(start)
    if isinstance(item, Disconnect):
        # Breakers of one board are the same equipment.
        line = ctx.feeding.line_node(item.id)
        boards = [] if line is None else [b.id for b in buses_at(ctx, line)]
        start = min(boards, default=start)
    devices = _disconnects(ctx, supply.load)
    found = ends_from(ctx, supply.load, Fact(0.0))
    return OutsideFeeder(
        supply.subject, start, supply.run.egc_size, supply.run.status in ("existing", "remove"),
        tuple(BuildingDisconnect(subject_of(ctx, d), d.service_rated, disconnect_rating(ctx, d)) for d in devices),
        not devices and not found.ends and not found.scheduled,
    )  # fmt: skip


def _disconnects(ctx: Context, node: int) -> list[Disconnect]:
    """The first disconnects behind a feeder: of a panel without a main all on its bus."""
    found: list[Disconnect] = []
    waiting = [node]
    while waiting:
        here = waiting.pop()
        for branch, below in ctx.feeding.children(here):
            if isinstance(branch.item, Disconnect):
                found.append(branch.item)
            else:
                waiting.append(below)
    return found
