"""What stays live beside the work: conductors of other circuits in the raceways that are opened for it (SW-8)."""

from __future__ import annotations

from collections.abc import Iterator

from oneline.model import ConductorRun, WorkZone
from oneline.network.live import live_state
from oneline.outage.results import Isolation
from oneline.rules.common import listed
from oneline.study.context import Context
from oneline.tables import system


def beside(ctx: Context, zone: WorkZone, isolation: Isolation | None) -> tuple[str, ...]:
    """A sentence for every run that shares a named raceway with what is worked on and is live, or may be, with every point
    open. Conductors in a raceway that nobody named cannot be found so."""
    opened = isolation.points if isolation is not None else ()
    after = live_state(ctx.net, {key: False for point in opened for key in point.keys})
    own = {run.id: run.raceway_name for run in _runs_at(ctx, zone) if run.raceway_name}
    found = []
    for run in ctx.drawing.of(ConductorRun):
        if run.raceway_name not in own.values() or run.id in own or run.id not in ctx.net.branches:
            continue
        nodes = [n for n in (ctx.net.branches[run.id].a, ctx.net.branches[run.id].b) if n >= 0]
        certain = frozenset().union(*(after.at_node[n] for n in nodes))
        possibly = frozenset().union(*(after.possibly_at_node[n] for n in nodes))
        if possibly:
            code = next((c for n in nodes if (c := ctx.feeding.system[n])), None)
            volts = f", {system(code).title}" if code else ""
            names = listed(tuple(ctx.name(s) for s in sorted(certain or possibly)))
            stays = "stays live" if certain else "may stay live"
            found.append(f"{ctx.name(run.id)} in raceway {run.raceway_name} {stays} from {names}{volts}.")
    return tuple(found)


def _runs_at(ctx: Context, zone: WorkZone) -> Iterator[ConductorRun]:
    """Runs that are worked on, or that end at what is."""
    for run in ctx.drawing.of(ConductorRun):
        ends = {run.a.item, run.b.item if run.b is not None else ""}
        if run.id in zone.items or not ends.isdisjoint(zone.items):
            yield run
