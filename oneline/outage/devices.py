"""Which devices an outage opens, which of them first: branches, then what stands before generation, feeders, mains."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from oneline.model import (
    Battery,
    Bus,
    Disconnect,
    Generator,
    Item,
    Load,
    SolarArray,
    TransferSwitch,
)
from oneline.outage.ability import DOUBTFUL, able, breaking
from oneline.outage.currents import MOTORS, Through, through
from oneline.outage.results import Isolation, IsolationPoint
from oneline.outage.scene import Moment, Scene
from oneline.outage.stopping import sources_after
from oneline.study.context import Context

#: Ranks of devices in the order of opening.
BRANCH, SOURCE, FEEDER, MAIN = range(4)


@dataclass(frozen=True)
class Device:
    """A device to open. ``opens``: positions that open it; ``back``: its present ones. ``key``: the contact that carries
    current now. ``point``: the isolation point it is, ``None`` for one that is opened only to take load off."""

    item: Item
    opens: Mapping[str, bool]
    back: Mapping[str, bool]
    key: str
    point: IsolationPoint | None
    rank: int = FEEDER
    depth: int = 0


@dataclass(frozen=True)
class Outage:
    """What an outage has to do with: ``region``: nodes that lose every source; ``devices``: to open; ``standing``:
    isolation points that are open already; ``loads``, ``panels``: what can be switched off before; ``stop``: inverters;
    ``transfers`` and ``generators``: what must not act by itself; ``running``: generators that feed what goes dark now;
    ``utility``: sources only others can take away."""

    scene: Scene
    isolation: Isolation
    region: frozenset[int]
    devices: tuple[Device, ...]
    standing: tuple[Device, ...]
    loads: tuple[Load, ...]
    panels: tuple[Bus, ...]
    stop: tuple[Item, ...]
    transfers: tuple[TransferSwitch, ...]
    generators: tuple[Generator, ...]
    running: tuple[Generator, ...] = ()
    utility: tuple[str, ...] = ()
    #: Devices opened only so that another one need not break load.
    helpers: tuple[str, ...] = ()
    #: What they are opened for.
    helped: tuple[str, ...] = ()
    #: Nodes without any source that can feed on its own once the devices are open and the sources stopped.
    dark: frozenset[int] = frozenset()
    #: Generators that run and go on running: they feed something else and the devices part them from the work.
    kept: tuple[Generator, ...] = ()

    @property
    def inhibited(self) -> tuple[Generator, ...]:
        """Generators that are switched off before anything else: those that do not run."""
        return tuple(g for g in self.generators if g not in self.running)

    @property
    def stopped(self) -> list[str]:
        """Inverters and running generators, which are stopped once the load is off."""
        return [s.id for s in (*self.stop, *self.running)]

    @property
    def turning(self) -> tuple[Load, ...]:
        """What turns, loses power, and nobody said where it is switched off."""
        net = self.scene.ctx.net
        found = (i for i in self.scene.ctx.drawing.of(Load) if not i.control and net.node(i.id) in self.dark)
        return tuple(i for i in found if i.load_class in MOTORS or i.horsepower is not None)

    @property
    def ran_alone(self) -> tuple[Generator, ...]:
        """Running generators that are stopped and had nothing beside them that feeds on its own."""
        forming = self.scene.forming
        at, net = self.scene.live({}).at_node, self.scene.ctx.net
        return tuple(g for g in self.running if at[net.node(g.id)] & forming == {g.id})

    def fed_by(self, device: Device) -> frozenset[str]:
        """What can feed a device on its own in the present positions."""
        branch = self.scene.ctx.net.branches[device.key]
        return self.scene.live({}).at_node[branch.a] & self.scene.forming

    @property
    def held(self) -> dict[str, bool]:
        """Positions in which transfer switches are held."""
        net = self.scene.ctx.net
        return {k: net.branches[k].closed for t in self.transfers for k in net.branches_of(t.id)}


def scene_of(ctx: Context, isolation: Isolation) -> Scene:
    """The building before the work: new devices and panels that hang on what goes dead stand open and off, since the work
    puts them in."""
    plain = Scene(ctx)
    opened = {k: False for p in isolation.held for k in p.keys}
    before, after = plain.live({}).at_node, plain.live(opened).at_node
    new = [
        item for item in ctx.drawing.items.values()
        if item.status == "new" and any(before[n] and not after[n] for n in plain.nodes_of(item.id))
    ]  # fmt: skip
    unbuilt = {i.id: False for i in new if isinstance(i, Disconnect) and i.closed}
    idle = frozenset(i.id for i in new if isinstance(i, Bus) and switched_circuits(ctx, i))
    return Scene(ctx, unbuilt, idle) if unbuilt else plain


def survey(
    scene: Scene, isolation: Isolation, utility: Iterable[str] = (), helpers: Iterable[str] = (), helped: Iterable[str] = ()
) -> Outage:  # fmt: skip
    """Everything the outage has to do with, before anything is put in order."""
    blocked, extra = frozenset(utility), tuple(helpers)
    points = [_device(scene, p.item, p) for p in isolation.held if p.item in scene.ctx.drawing]
    points += [_device(scene, h, None) for h in extra]
    opened = {k: v for d in points for k, v in d.opens.items()}
    before, after = scene.live({}).at_node, scene.live(opened).at_node
    region = frozenset(n for n, found in enumerate(before) if found and not after[n] - blocked)
    known = {d.item.id for d in points}
    inside = [
        _device(scene, item.id, None)
        for item in scene.ctx.drawing.of(Disconnect)
        if item.id not in known
        and scene.closed[item.id]
        and not item.suspect
        and not region.isdisjoint(scene.nodes_of(item.id))
    ]
    devices = [_ranked(scene, d) for d in (*points, *inside) if scene.closed.get(d.key)]
    transfers = _transfers(scene, isolation, region, opened)
    drawing, net = scene.ctx.drawing, scene.ctx.net
    generators = _generators(scene, isolation, region, transfers)
    kept, running, cut_off, dark = sources_after(scene, generators, before, after, region, blocked, isolation)
    generators = tuple(g for g in generators if g not in kept)
    return Outage(
        scene, isolation, region, tuple(devices), tuple(d for d in points if not scene.closed.get(d.key)),
        tuple(i for i in drawing.of(Load) if i.control and net.node(i.id) in dark),
        tuple(i for i in drawing.of(Bus) if net.node(i.id) in dark and (switched_circuits(scene.ctx, i) or i.unlisted)),
        tuple(s for s in map(drawing.get, net.sources) if s.id in cut_off and isinstance(s, SolarArray | Battery)),
        transfers, generators, running, tuple(blocked), extra, tuple(helped), dark, kept,
    )  # fmt: skip


def switched_circuits(ctx: Context, bus: Bus) -> tuple[int, ...]:
    """First spaces of the branch breakers that stand only in a panel's schedule and carry something."""
    if not bus.has_spaces:
        return ()
    return tuple(
        c.space for c in bus.circuits
        if c.use not in ("spare", "space") and not (c.use == "feeder" and (c.feeds or "") in ctx.drawing)
    )  # fmt: skip


def _device(scene: Scene, item_id: str, point: IsolationPoint | None) -> Device:
    net, item = scene.ctx.net, scene.ctx.drawing.get(item_id)
    keys = net.branches_of(item_id)
    opening = set(point.keys) & set(keys) if point is not None and point.keys else set(keys)
    back = {k: net.branches[k].closed for k in keys}
    opens = {k: False if k in opening else v for k, v in back.items()}
    carrying = next((k for k in keys if k in opening and scene.closed[k]), keys[0] if keys else "")
    if carrying not in opening and opening:
        carrying = min(opening)
    return Device(item, opens, back, carrying, point)


def _ranked(scene: Scene, device: Device) -> Device:
    """The device with its rank and how deep it stands."""
    branch = scene.ctx.net.branches[device.key]
    depth = 1 + min(scene.depth[branch.a], scene.depth[branch.b])
    one = scene.reach(branch.a, scene.closed, without=device.key)
    other = scene.reach(branch.b, scene.closed, without=device.key)
    rank = FEEDER
    if branch.b not in one:
        sides = [(s, scene.services_in(s), any(n in scene.sources for n in s)) for s in (one, other)]
        away = min(sides, key=lambda s: (s[1], s[2], len(s[0])))[0]
        if any(has and not grid for _, grid, has in sides) and _only_sources(scene, sides):
            rank = SOURCE
        elif not any(n in scene.sources for n in away) and _feeds_loads_only(scene, away, device.key):
            rank = BRANCH
    marked = isinstance(device.item, Disconnect) and device.item.service_disconnect
    if (rank != SOURCE and marked) or (rank == FEEDER and depth == 1):
        rank = MAIN
    return Device(device.item, device.opens, device.back, device.key, device.point, rank, depth)


def _feeds_loads_only(scene: Scene, nodes: Mapping[int, object], key: str) -> bool:
    """Whether no further device and no panel is behind a device."""
    if any(scene.is_switch(k) and scene.closed[k] for n in nodes for k, _ in scene.links[n] if k != key):
        return False
    items = (scene.ctx.drawing.get(e.item) for n in nodes for e in scene.ctx.net.ends_of[n])
    return not any(isinstance(i, Bus) and (i.has_spaces or i.circuits) for i in items)


def _only_sources(scene: Scene, sides: list[tuple[dict[int, tuple[int, str]], bool, bool]]) -> bool:
    """Whether one side holds generation and nothing that draws."""
    return any(has and not grid and not any(scene.entries.get(n) for n in nodes) for nodes, grid, has in sides)


def _transfers(
    scene: Scene, isolation: Isolation, region: frozenset[int], opened: Mapping[str, bool]
) -> tuple[TransferSwitch, ...]:  # fmt: skip
    """Transfer switches that could act by themselves on what the outage does."""
    before, after = scene.begin(), scene.begin(opened)
    found = []
    for item in scene.ctx.drawing.of(TransferSwitch):
        if item.automatic is False:
            continue
        nodes = scene.nodes_of(item.id)
        loses = any(before.fed(n) and not after.fed(n) for n in nodes)
        if loses or not region.isdisjoint(nodes) or item.id in isolation.items:
            found.append(item)
    return tuple(found)


def _generators(
    scene: Scene, isolation: Isolation, region: frozenset[int], transfers: tuple[TransferSwitch, ...]
) -> tuple[Generator, ...]:  # fmt: skip
    """Generators that could start into the outage: at what goes dead, and behind transfer switches that lose a supply."""
    live = scene.live({})
    switches = {t.id for t in transfers} | set(isolation.items)
    at = [
        n for t in scene.ctx.drawing.of(TransferSwitch) for n in scene.nodes_of(t.id) if t.id in switches or n in region
    ]
    near = {s for n in at for s in live.possibly_at_node[n]} | {s for n in region for s in live.at_node[n]}
    ends = {n for p in isolation.held for n in scene.nodes_of(p.item)}
    return tuple(
        g for g in scene.ctx.drawing.of(Generator)
        if g.id in near or (not ends.isdisjoint(scene.reach(scene.ctx.net.node(g.id), scene.closed)) and _alone(scene, g))
    )  # fmt: skip


def _alone(scene: Scene, generator: Generator) -> bool:
    """Whether a generator stands behind open contacts with nothing else that feeds its side."""
    return scene.live({}).at_node[scene.ctx.net.node(generator.id)] == {generator.id}


# --------------------------------------------------------------------------------------------------------- the order
def at_its_turn(moment: Moment, device: Device) -> tuple[Through, int]:
    """Current through a device that is opened now, and how doubtful that is."""
    found = through(moment, device.key)
    return found, breaking(device.item, device.item.name, found).risk


def arranged(outage: Outage) -> tuple[tuple[Device, ...], tuple[Device, ...]]:
    """Devices in the order in which they are opened, those before the inverters stop and those after.

    Opening a device never raises what another one carries. So whatever can be opened without doubt is opened first, in
    the order of the trade, and a device that could not break its load waits until it is dead or carries none; what is only
    opened to take load off and never gets there stays closed.
    """
    scene = outage.scene
    start = scene.begin(outage.held, (g.id for g in outage.inhibited))
    initial = {d.item.id: through(start, d.key).most for d in outage.devices}
    order = {d.item.id: n for n, d in enumerate(outage.devices)}
    waiting = sorted(
        outage.devices,
        key=lambda d: (d.rank, -d.depth, _last_if_unknown(initial[d.item.id]), order[d.item.id]),
    )
    moment = start.after(shed=[i.id for i in (*outage.loads, *outage.panels)])
    first: list[Device] = []
    for device in [d for d in waiting if d.rank == BRANCH]:
        if at_its_turn(moment, device)[1] < DOUBTFUL:
            first.append(device)
            waiting.remove(device)
            moment = moment.after(device.opens)
    moment = moment.after(stop=outage.stopped)
    then: list[Device] = []
    while waiting:
        risks = [(at_its_turn(moment, d)[1], d) for d in _until_fine(moment, waiting)]
        risk, device = min(risks, key=lambda pair: pair[0])
        if risk >= DOUBTFUL:
            spared = [d for d in waiting if d.point is None and d.item.id not in outage.helpers]
            if spared:
                waiting = [d for d in waiting if d not in spared]
                continue
        waiting.remove(device)
        # What only takes load off is left as it is once nothing feeds it any more.
        if device.point is None and device.item.id not in outage.helpers and _dead(moment, device):
            continue
        then.append(device)
        moment = moment.after(device.opens)
    return tuple(first), tuple(then)


def _dead(moment: Moment, device: Device) -> bool:
    return at_its_turn(moment, device)[0].current.basis == "dead"


def _until_fine(moment: Moment, waiting: list[Device]) -> Iterable[Device]:
    """Devices in their order, up to the first that can be opened without doubt."""
    for device in waiting:
        if at_its_turn(moment, device)[1] == 0:
            return [device]
    return list(waiting)


def _last_if_unknown(amps: float | None) -> float:
    return float("inf") if amps is None else amps


def with_helpers(outage: Outage) -> Outage:
    """The outage with what else has to be opened so that no isolation point breaks what it cannot, where that helps."""
    scene = outage.scene
    while True:
        stuck = _stuck(outage)
        if stuck is None:
            return outage
        device, moment = stuck
        found = _helpers(outage, device, moment)
        if not found:
            return outage
        helped = dict.fromkeys((*outage.helped, device.item.id))
        outage = survey(scene, outage.isolation, outage.utility, (*outage.helpers, *found), helped)


def _stuck(outage: Outage) -> tuple[Device, Moment] | None:
    """The first device that is opened although it may not be able to, and the moment at which it is."""
    first, then = arranged(outage)
    moment = outage.scene.begin(outage.held, (g.id for g in outage.inhibited))
    moment = moment.after(shed=[i.id for i in (*outage.loads, *outage.panels)], stop=outage.stopped)
    for device in (*first, *then):
        if at_its_turn(moment, device)[1] >= DOUBTFUL:
            return device, moment
        moment = moment.after(device.opens)
    return None


def _helpers(outage: Outage, device: Device, moment: Moment) -> tuple[str, ...]:
    """The fewest further devices that can be opened and leave this one dead or unloaded; () where none can."""
    scene = outage.scene
    known = {d.item.id for d in (*outage.devices, *outage.standing)}
    candidates = [
        _device(scene, i.id, None) for i in scene.ctx.drawing.of(Disconnect)
        if i.id not in known and scene.closed[i.id] and able(i)
    ]  # fmt: skip
    usable: list[Device] = []
    opened, progress = moment, True
    while progress:
        progress = False
        for candidate in [c for c in candidates if c not in usable]:
            if at_its_turn(opened, candidate)[1] < DOUBTFUL:
                usable.append(candidate)
                opened = opened.after(candidate.opens)
                progress = True
    if at_its_turn(opened, device)[1] >= DOUBTFUL:
        return ()
    lost = {c.item.id: len(moment.powered - moment.after(c.opens).powered) for c in usable}
    for candidate in sorted(usable, key=lambda c: lost[c.item.id]):
        if at_its_turn(moment, candidate)[1] < DOUBTFUL and _frees(outage, candidate, device):
            return (candidate.item.id,)
    kept = list(usable)
    for candidate in usable:
        fewer = [c for c in kept if c is not candidate]
        if _works(moment, fewer, device):
            kept = fewer
    return tuple(c.item.id for c in kept)


def _frees(outage: Outage, candidate: Device, device: Device) -> bool:
    """Whether a device need not break what it cannot any more once another one is opened, with all that is switched off
    behind that one too."""
    tried = survey(outage.scene, outage.isolation, outage.utility, (*outage.helpers, candidate.item.id))
    stuck = _stuck(tried)
    return stuck is None or stuck[0].item.id not in (device.item.id, candidate.item.id)


def _works(moment: Moment, helpers: list[Device], device: Device) -> bool:
    for helper in helpers:
        if at_its_turn(moment, helper)[1] >= DOUBTFUL:
            return False
        moment = moment.after(helper.opens)
    return at_its_turn(moment, device)[1] < DOUBTFUL
