"""When a device does not close again: what else on the drawing can feed what is behind it, and whether it can carry it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from oneline.model import Disconnect, Generator, Item, TransferSwitch
from oneline.outage.ability import rating_of
from oneline.outage.amps import output_a
from oneline.outage.currents import through
from oneline.outage.devices import MAIN, Device, Outage
from oneline.outage.results import Spare
from oneline.outage.scene import Moment, Scene
from oneline.rules.common import amperes, listed

#: Names are counted beyond this many.
_NAMED = 4


@dataclass(frozen=True)
class _Way:
    """A contact that stands open and could be closed: ``moves``: the positions that close it."""

    item: Item
    key: str
    moves: Mapping[str, bool]


def spares_of(outage: Outage) -> tuple[Spare, ...]:
    """A spare plan for every device that is closed again and that much hangs on: doubtful ones first, then mains, then
    the other isolation points."""
    matter = [d for d in outage.devices if d.point is not None or d.rank == MAIN or _suspect(d)]
    matter.sort(key=lambda d: (not _suspect(d), d.rank != MAIN))
    return tuple(spare for device in matter for spare in _spares(outage, device))


def _suspect(device: Device) -> bool:
    return isinstance(device.item, Disconnect) and bool(device.item.suspect)


def _spares(outage: Outage, device: Device) -> Iterator[Spare]:
    scene = outage.scene
    name = scene.ctx.name(device.item.id)
    before, without = scene.begin(), scene.begin(device.opens)
    lost = before.powered - without.powered
    if not lost:
        says = f"Nothing loses power when {name} stays open."
        yield Spare(device.item.id, name, (), (), "", "pass", says)
        return
    helped: set[str] = set()
    for way in _ways(scene, without):
        after = scene.begin({**without.positions, **way.moves})
        feeds = after.powered & lost
        if feeds:
            helped |= feeds
            yield _spare(scene, device, name, way, without, after, feeds)
    rest = [i.id for i in scene.fed_items if i.id in lost - helped]
    if rest:
        says = (
            f"When {name} does not close again, nothing on the drawing feeds {_names(scene, rest)}: arrange a temporary "
            "supply (phase rotation and neutral bond checked) or a spare device before it is opened."
        )
        yield Spare(device.item.id, name, (), (), "", "fail", says)


def _names(scene: Scene, items: list[str]) -> str:
    names = [scene.ctx.name(i) for i in items[:_NAMED]]
    return listed((*names, f"{len(items) - _NAMED} more") if len(items) > _NAMED else tuple(names))


def _ways(scene: Scene, without: Moment) -> Iterator[_Way]:
    """Contacts that stand open between what is dark and what is not."""
    net = scene.ctx.net
    for item in scene.ctx.drawing.items.values():
        if isinstance(item, Disconnect):
            moves = [{k: True} for k in net.branches_of(item.id)]
        elif isinstance(item, TransferSwitch):
            keys = net.branches_of(item.id)
            moves = [{k: k == to for k in keys} for to in keys]
        else:
            continue
        for positions in moves:
            key = next(k for k, v in positions.items() if v)
            if without.closed[key] or key in without.positions:
                continue
            branch = net.branches[key]
            if without.fed(branch.a) != without.fed(branch.b):
                yield _Way(item, key, positions)


def _spare(
    scene: Scene, device: Device, name: str, way: _Way, without: Moment, after: Moment, feeds: frozenset[str]
) -> Spare:  # fmt: skip
    ctx, branch = scene.ctx, scene.ctx.net.branches[way.key]
    source_side = branch.a if without.fed(branch.a) else branch.b
    sources = [s for s in ctx.net.sources if s in without.live.at_node[source_side] & scene.forming]
    fed = [i.id for i in scene.fed_items if i.id in feeds]
    load, certain = _load(scene, device, way, after)
    most, limit = _most(scene, way, source_side, sources)
    does = (
        f"set {ctx.name(way.item.id)} to {way.key.rpartition('/')[2]}"
        if "/" in way.key and way.item.kind == "transfer"
        else f"close {ctx.name(way.item.id)}"
    )
    supply = listed(tuple(ctx.name(s) for s in sources))
    says = f"When {name} does not close again: {does}, and {supply} feeds {_names(scene, fed)}."
    if load is None or most is None:
        state = "unknown"
        lacks = "What it would carry is not known" if load is None else "What it can carry is not known"
        says += f" {lacks}."
    elif load <= most:
        state, says = (
            "pass",
            f"{says} It would carry {amperes(load)}, and {limit} leaves {amperes(most, load, 'down')}.",
        )
    else:
        state = "fail" if certain else "unknown"
        carried = amperes(load, most, "up")
        says += f" It would carry up to {carried}, and {limit} leaves {amperes(most, rounding='down')}: take load off first."
    return Spare(device.item.id, name, (ctx.name(way.item.id),), tuple(fed), ", ".join(sources), state, says)


def _load(scene: Scene, device: Device, way: _Way, after: Moment) -> tuple[float | None, bool]:
    """What the other way would carry: by readings or connected load, or the calculated load of the device where that is
    less and all of it is fed; and whether it is surely so much."""
    found = through(after, way.key).most
    feeding = scene.ctx.feeding
    node = feeding.load_node(device.key)
    if node is None:
        return found, False
    bounds = scene.ctx.demand.bounds(node, counted=False)
    highs = [b.high for b in bounds.values()]
    if not highs or any(h is None for h in highs):
        return found, False
    calculated = max(h for h in highs if h is not None)
    same = feeding.system[node] == feeding.system[scene.ctx.net.branches[way.key].b]
    if same and (found is None or calculated < found):
        return calculated, max(b.low for b in bounds.values()) >= calculated
    return found, False


def _most(scene: Scene, way: _Way, node: int, sources: list[str]) -> tuple[float | None, str]:
    """What the other way can carry more than it does, and what limits it."""
    ctx = scene.ctx
    limits: list[tuple[float, str]] = []
    rating = rating_of(way.item)
    if rating is None:
        return None, ""
    limits.append((rating, ctx.name(way.item.id)))
    available = ctx.available.get(node)
    # What is certainly left, where continuous load and the like leave the exact figure open.
    left = {} if available is None else available.least
    if available is None or not left or any(v is None for v in left.values()):
        generators = [s for s in sources if isinstance(ctx.drawing.get(s), Generator)]
        if len(generators) != len(sources) or not sources:
            return None, ""
    else:
        least = min(v for v in left.values() if v is not None)
        limits.append((least, available.limit.name if available.limit is not None else "what feeds it"))
    if len(sources) == 1 and isinstance(ctx.drawing.get(sources[0]), Generator):
        out = output_a(scene, ctx.drawing.get(sources[0]), node)
        if out is None:
            return None, ""
        limits.append((out, ctx.name(sources[0])))
    return min(limits)
