"""On which side of the service disconnects a connection is (DEC-SIDE), found from the drawing for every new connection."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from oneline.model import Bus, ConductorRun, Disconnect, Item, Joint, SuspectedTie, TransferSwitch, UtilityService
from oneline.rules.common import Subject
from oneline.rules.side import which_side
from oneline.rules.verdict import Verdict
from oneline.study.context import Context
from oneline.study.ends import subject_of
from oneline.study.rings import Way
from oneline.study.services import entrances
from oneline.study.supply import supply_of


@dataclass
class Ahead:
    """What can be reached from a utility service without passing one of its service disconnects, whatever position ties
    and sectionalizing switches are in. ``through``: by node, the normally open devices and transfer switches passed;
    ``suspected``: nodes that only a suspected tie reaches, with that tie."""

    through: dict[int, tuple[str, ...]] = field(default_factory=dict)
    suspected: dict[int, str] = field(default_factory=dict)


def ahead_of_disconnects(ctx: Context) -> Ahead:
    """Worked out once for a study, and only where somebody asks."""
    return ctx.recall("ahead of disconnects", "", lambda: _flood(ctx))


def _flood(ctx: Context) -> Ahead:
    found = Ahead()
    stops = {d.id for e in entrances(ctx) for d in (*e.disconnects, *e.sources)}
    services = [ctx.net.sources[id_] for id_ in ctx.net.sources if isinstance(ctx.drawing.get(id_), UtilityService)]
    _spread(ctx, found.through, dict.fromkeys(services, ()), stops, ties=False)
    reached: dict[int, tuple[str, ...]] = dict(found.through)
    _spread(ctx, reached, dict(found.through), stops, ties=True)
    found.suspected = {n: way[-1] for n, way in reached.items() if n not in found.through and way}
    return found


def _spread(
    ctx: Context, reached: dict[int, tuple[str, ...]], start: dict[int, tuple[str, ...]], stops: set[str], ties: bool
) -> None:  # fmt: skip
    waiting = list(start)
    reached.update(start)
    while waiting:
        node = waiting.pop(0)
        for key in ctx.net.at_node[node]:
            branch = ctx.net.branches[key]
            item, other = branch.item, branch.other(node)
            if other < 0 or other in reached or item.id in stops:
                continue
            tie = isinstance(item, SuspectedTie)
            if (tie and not ties) or item.kind == "transformer":
                continue
            noted = tie or isinstance(item, TransferSwitch) or (isinstance(item, Disconnect) and item.normally_open)
            reached[other] = (*reached[node], item.id) if noted else reached[node]
            waiting.append(other)


# ------------------------------------------------------------------------------------------------------- verdicts
def side_of(ctx: Context, item: Subject, line: int) -> Verdict | None:
    """DEC-SIDE of a connection that starts at a node; ``None`` where no utility service feeds it."""
    source = ctx.drawing.items.get(ctx.feeding.root[line])
    if not isinstance(source, UtilityService):
        return None
    way = [b.item for b, _ in ctx.feeding.path(line)]
    on_way = [d for d in way if isinstance(d, Disconnect)]
    marked = next((d for d in on_way if d.service_disconnect), None)
    ahead = ahead_of_disconnects(ctx)
    device = ctx.protection_of(line).device
    refused = device is not None and marked is None and all(d.service_disconnect is False for d in on_way)
    switch = on_way[0] if device is None and on_way else None
    others = ahead.through.get(line, ())
    return which_side(
        item, ctx.edition, None if device is None else subject_of(ctx, device), marked is not None,
        subject_of(ctx, source), None if switch is None else subject_of(ctx, switch), refused,
        tuple(subject_of(ctx, ctx.drawing.get(i)) for i in others) if marked is not None and line in ahead.through else (),
        subject_of(ctx, ctx.drawing.get(ahead.suspected[line])) if line in ahead.suspected else None,
        None if marked is None else subject_of(ctx, marked),
    )  # fmt: skip


def connection(ctx: Context, item: Item) -> Iterator[Verdict]:
    """DEC-SIDE of a new feeder or device that lands on equipment that is there already. Where it is open because no service
    disconnect is marked, it is asked once for each device ahead, at the first in drawing order."""
    found = _side(ctx, item.id) if item.id in _landing(ctx) else None
    if found is None:
        return
    # Where loops are opened in turn every item is asked about: which is the first would differ from way to way.
    if found.state == "unknown" and found.others and not isinstance(ctx, Way):
        first = ctx.recall("open sides", found.others[0], lambda: _first_open(ctx, found.others[0]))
        if first != item.id:
            return
    yield found


def _landing(ctx: Context) -> dict[str, int]:
    """New runs and disconnects that land on what is there already, with their node there, in drawing order."""

    def find() -> dict[str, int]:
        found = {}
        for item in ctx.drawing.items.values():
            if item.status == "new" and isinstance(item, ConductorRun | Disconnect) and item.id in ctx.net.branches:
                line = ctx.feeding.line_node(item.id)
                if line is not None and ctx.feeding.position[line] >= 0 and _lands_on_existing(ctx, item, line):
                    found[item.id] = line
        return found

    return ctx.settled("landing", find)


def _side(ctx: Context, item_id: str) -> Verdict | None:
    """DEC-SIDE of a landing item; ``None`` where another subject tells it, or none is to be told."""

    def find() -> Verdict | None:
        item = ctx.drawing.get(item_id)
        if isinstance(item, Disconnect) and item.service_disconnect:
            return None
        supply = supply_of(ctx, item_id) if isinstance(item, ConductorRun) else None
        if supply is not None and (supply.kind == "service" or supply.is_tap):
            return None
        return side_of(ctx, subject_of(ctx, item), _landing(ctx)[item_id])

    return ctx.recall("side", item_id, find)


def _first_open(ctx: Context, ahead: str) -> str:
    """The first item in drawing order whose side is open because of a device ahead."""
    sides = ((i, _side(ctx, i)) for i in _landing(ctx))
    return next((i for i, s in sides if s is not None and s.state == "unknown" and ahead in s.others[:1]), "")


def _lands_on_existing(ctx: Context, item: Item, line: int) -> bool:
    """Whether equipment, conductors or a source that are there already are at the node where it starts."""
    for end in ctx.net.ends_of[line]:
        other = ctx.drawing.get(end.item)
        if other.id != item.id and other.status == "existing" and isinstance(other, Bus | Disconnect | UtilityService):
            return True
    return any(
        ctx.net.branches[k].item.status == "existing" and not isinstance(ctx.net.branches[k].item, Joint)
        for k in ctx.net.at_node[line]
    )  # fmt: skip
