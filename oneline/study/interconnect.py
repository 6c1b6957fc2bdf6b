"""Interconnected sources on the drawing: buses, feeders and service connections that they can feed, transfer, directory."""

from __future__ import annotations

from collections.abc import Iterator

from oneline.model import (
    Battery,
    Bus,
    ConductorRun,
    Disconnect,
    Generator,
    Item,
    SolarArray,
    TransferSwitch,
    UtilityService,
)
from oneline.network import Branch
from oneline.rules.common import Fact, Subject, existing_work, unique
from oneline.rules.interconnect import (
    FeederFacts,
    feeder,
)
from oneline.rules.services import sum_of_ratings
from oneline.rules.supplies import (
    battery_note,
    generator_neutral,
    in_parallel,
    paralleled,
    several_services,
    supplies,
    transfer_present,
)
from oneline.rules.supply_side import SupplySideFacts, supply_side
from oneline.rules.verdict import Verdict
from oneline.study import power_sources
from oneline.study.context import Context
from oneline.study.ends import (
    EQUIPMENT_FORMS,
    assumptions,
    buses_at,
    run_length,
)
from oneline.study.services import Entrance, disconnect_rating, entrances
from oneline.study.source_buses import RATED_FORMS, bus_findings, counted_rating, main_rating
from oneline.study.sources import PlacedSource, SourcesAt, placed_sources, sources_below
from oneline.study.subject import for_all
from oneline.study.supply import supply_of


def about(ctx: Context, item: Item) -> Iterator[Verdict]:
    """PV-1 of a bus."""
    if isinstance(item, Bus):
        yield from bus_findings(ctx, item)


def overall(ctx: Context) -> Iterator[Verdict]:
    """PV-2, PV-4, PV-7, GEN-1, GEN-2, SVC-1, LBL-2 and ESS-1, as far as the drawing has what they are about."""
    if not ctx.settled("joined", lambda: _joined(ctx)):
        return
    yield from _feeders(ctx)
    yield from _supply_sides(ctx)
    yield from _joined_sources(ctx)
    yield from _neutrals(ctx)
    yield from _directories(ctx)
    yield from power_sources.verdicts(ctx)
    for battery in ctx.drawing.of(Battery):
        yield battery_note(Subject(battery.id, ctx.name(battery.id)), ctx.edition)


def _joined(ctx: Context) -> bool:
    """Whether there is more on the drawing than one utility service, or anything that may bring more."""
    kinds = {item.kind for item in ctx.drawing.items.values()}
    return len(ctx.net.sources) > 1 or not kinds.isdisjoint(("generator", "solar", "battery", "transfer", "tie"))


# ------------------------------------------------------------------------------------------------------ feeders
def _feeders(ctx: Context) -> Iterator[Verdict]:
    """PV-2 on every run the sources send through, and on load-side parts of feeders they join on the way."""
    from oneline.study.conductors import run_ampacity

    checked: set[str] = set()
    for source in placed_sources(ctx):
        for branch, up in source.way:
            run = branch.item
            node = ctx.feeding.load_node(branch.key)
            if not isinstance(run, ConductorRun) or run.id in checked or node is None:
                continue
            if ctx.protection_of(up).device is None:
                continue
            checked.add(run.id)
            at = sources_below(ctx, node)
            yield feeder(_feeder_facts(ctx, run, node, at, run_ampacity(ctx, run.id).fact(ctx.name(run.id)), False))
        for node in _junctions(ctx, source):
            for branch, _below in ctx.feeding.children(node):
                run = branch.item
                if isinstance(run, ConductorRun) and run.id not in checked and not _carries(ctx, branch.key):
                    supply = supply_of(ctx, run.id)
                    if (
                        supply is not None and supply.is_tap
                    ):  # judged by the tap rules, with the source added to the feeder's rating
                        continue
                    checked.add(run.id)
                    at = sources_below(ctx, node)
                    iz = run_ampacity(ctx, run.id).fact(ctx.name(run.id))
                    yield feeder(_feeder_facts(ctx, run, node, at, iz, True))


def _feeder_facts(ctx: Context, run: ConductorRun, node: int, at: SourcesAt, iz: Fact, joined: bool) -> FeederFacts:
    protection = ctx.protection_of(node)
    device = protection.device
    unknown = Fact(None, need=f"overcurrent device ahead of {ctx.name(run.id)}")
    return FeederFacts(
        subject=Subject(run.id, ctx.name(run.id)), edition=ctx.edition, iz=iz, output=at.output,
        device=main_rating(ctx, protection) if device is not None else unknown,
        device_name=ctx.name(device.id) if device is not None else "the feeder's device", joined=joined,
        sources=at.names, source_ids=at.ids,
    )  # fmt: skip


def _junctions(ctx: Context, source: PlacedSource) -> Iterator[int]:
    """Nodes on a source's way where only conductors meet and an overcurrent device is toward the utility."""
    for _, node in source.way:
        buses = (ctx.drawing.get(end.item) for end in ctx.net.ends_of[node])
        rated = any(isinstance(item, Bus) and (item.form in RATED_FORMS) for item in buses)
        if not rated and ctx.protection_of(node).device is not None:
            yield node


def _carries(ctx: Context, key: str) -> bool:
    """Whether any source sends through a branch toward the utility."""
    return any(branch.key == key for source in placed_sources(ctx) for branch, _ in source.way)


# ------------------------------------------------------------------------------------------- ahead of the service
def _supply_sides(ctx: Context) -> Iterator[Verdict]:
    from oneline.study.conductors import run_ampacity

    for entrance in entrances(ctx):
        for device in entrance.sources:
            line = ctx.feeding.line_node(device.id)
            below = ctx.feeding.load_node(device.id)
            if line is None or below is None:
                continue
            at = sources_below(ctx, below)
            key = ctx.feeding.branch[line]
            ahead = ctx.net.branches[key].item if key else None
            run = ahead if isinstance(ahead, ConductorRun) else None
            subject = Subject(run.id, ctx.name(run.id)) if run is not None else Subject(device.id, ctx.name(device.id))
            name = subject.name
            unknown = Fact(None, need=f"conductors between the connection and {ctx.name(device.id)}")
            devices = counted_rating(ctx, device)
            ratings = [(ctx.name(d.id), disconnect_rating(ctx, d)) for d in entrance.disconnects]
            yield supply_side(
                SupplySideFacts(
                    subject=subject, edition=ctx.edition, devices=devices, service=sum_of_ratings(ratings),
                    output=at.output, iz=run_ampacity(ctx, run.id).fact(name) if run is not None else unknown,
                    size=run.size if run is not None else None, material=run.material if run is not None else None,
                    length=run_length(ctx, run) if run is not None else Fact(None, 0.0, need=f"length of {name}"),
                    sources=at.names, source_ids=at.ids,
                    size_assumed=assumptions(ctx, run, "size", "material") if run is not None else (),
                    conductors=_service_conductors(ctx, entrance, line),
                    all_output=sources_below(ctx, ctx.net.node(entrance.service.id)).output,
                )
            )  # fmt: skip


def _service_conductors(ctx: Context, entrance: Entrance, node: int) -> Fact:
    """Ampacity of the service conductors that all of a service passes: the least of those ahead of every disconnect."""
    from oneline.study.conductors import run_ampacity

    shared = [
        branch.item for branch, up in ctx.feeding.path(node)
        if isinstance(branch.item, ConductorRun) and _only_way(ctx, up)
    ]  # fmt: skip
    found = [run_ampacity(ctx, run.id).fact(ctx.name(run.id)) for run in shared]
    if not found:
        return Fact(None, need=f"service conductors of {ctx.name(entrance.service.id)}")
    lows, highs = [f.least for f in found], [f.most for f in found if f.most is not None]
    open_ = [f for f in found if f.value is None]
    least = None if None in lows else min(a for a in lows if a is not None)
    if open_:
        need, *also = unique(n for f in open_ for n in f.needs) or ("",)
        return Fact(None, least, min(highs, default=None), need=need, also=tuple(also))
    return min(found, key=lambda f: f.value or 0.0)


def _only_way(ctx: Context, node: int) -> bool:
    """Whether all that a service feeds goes through one branch here."""
    return len(ctx.feeding.children(node)) == 1 and (
        not ctx.feeding.branch[node] or _only_way(ctx, ctx.feeding.parent[node])
    )


# ---------------------------------------------------------------------------------------------- joined sources
def _joined_sources(ctx: Context) -> Iterator[Verdict]:
    """GEN-1: utilities, generators and inverters that reach each other without transfer equipment between them."""
    for generator in ctx.drawing.of(Generator):
        way = _way_without_transfer(ctx, generator.id)
        other = next((ctx.drawing.get(s) for s in way if ctx.drawing.get(s).kind in ("service", "generator")), None)
        subject = Subject(generator.id, ctx.name(generator.id))
        if other is not None:
            yield _paralleled(ctx, subject, other, way[other.id])
        else:
            switches = [ctx.name(t.id) for t in ctx.drawing.of(TransferSwitch) if _reaches(ctx, generator.id, t)]
            if switches:
                yield transfer_present(subject, switches, ctx.edition)
    seen: set[str] = set()
    for service in ctx.drawing.of(UtilityService):
        seen.add(service.id)
        for id_, keys in _way_without_transfer(ctx, service.id).items():
            if id_ not in seen and ctx.drawing.get(id_).kind == "service":
                yield _paralleled(ctx, Subject(service.id, ctx.name(service.id)), ctx.drawing.get(id_), keys)
    inverters: list[SolarArray | Battery] = [*ctx.drawing.of(SolarArray), *ctx.drawing.of(Battery)]
    for array in inverters:
        ways = _way_without_transfer(ctx, array.id)
        other = next((ctx.drawing.get(s) for s in ways if ctx.drawing.get(s).kind == "service"), None)
        if other is not None:
            names = [ctx.name(b.item.id) for b in _devices_of(ctx, ways[other.id])]
            subject, there = Subject(array.id, ctx.name(array.id)), Subject(other.id, ctx.name(other.id))
            yield in_parallel(subject, there, ctx.edition, names, array.interactive_listed)


def _devices_of(ctx: Context, keys: tuple[str, ...]) -> list[Branch]:
    return [ctx.net.branches[k] for k in keys if isinstance(ctx.net.branches[k].item, Disconnect)]


def _paralleled(ctx: Context, subject: Subject, other: Item, keys: tuple[str, ...]) -> Verdict:
    devices = _devices_of(ctx, keys)
    apart = any(not b.normally_closed for b in devices)
    names = [ctx.name(b.item.id) for b in devices]
    return paralleled(subject, Subject(other.id, ctx.name(other.id)), ctx.edition, names, apart)


def _way_without_transfer(ctx: Context, source_id: str) -> dict[str, tuple[str, ...]]:
    """Other sources that a source reaches with every device closed but through no transfer switch or suspected tie: by
    id, the branches on the way."""
    start = ctx.net.sources[source_id]
    came: dict[int, tuple[int, str]] = {start: (-1, "")}
    waiting = [start]
    for node in waiting:
        for key in ctx.net.at_node[node]:
            branch = ctx.net.branches[key]
            other = branch.other(node)
            if other < 0 or other in came or isinstance(branch.item, TransferSwitch) or branch.item.kind == "tie":
                continue
            came[other] = (node, key)
            waiting.append(other)
    found = {}
    for id_, node in ctx.net.sources.items():
        if id_ == source_id or node not in came:
            continue
        keys = []
        while node != start:
            node, key = came[node]
            keys.append(key)
        found[id_] = tuple(reversed(keys))
    return found


def _reaches(ctx: Context, source_id: str, switch: TransferSwitch) -> bool:
    """Whether a source arrives at the alternate side of a transfer switch."""
    alternate = ctx.net.node(switch.id, "alternate")
    return ctx.feeding.root[alternate] == source_id or alternate == ctx.net.sources[source_id]


# ------------------------------------------------------------------------------------------- neutral, directory
def _neutrals(ctx: Context) -> Iterator[Verdict]:
    from oneline import tables

    for switch in ctx.drawing.of(TransferSwitch):
        alternate = ctx.net.node(switch.id, "alternate")
        generator = ctx.drawing.items.get(ctx.feeding.root[alternate])
        if not isinstance(generator, Generator):
            continue
        if generator.system is not None and not tables.system(generator.system).has_neutral:
            continue
        places: list[tuple[str, bool | None]] = [(ctx.name(generator.id), generator.neutral_bonded)]
        places += _bond_places(ctx, alternate)
        yield generator_neutral(
            Subject(switch.id, ctx.name(switch.id)), Subject(generator.id, ctx.name(generator.id)), ctx.edition,
            switch.switched_neutral, tuple(places),
        )  # fmt: skip


def _bond_places(ctx: Context, alternate: int) -> list[tuple[str, bool | None]]:
    """Places between a generator and the transfer switch where its neutral may be bonded too, nearest the generator first.

    A disconnect bolted to the generator is in its enclosure: asked about with the generator, told where it is known.
    """
    found: list[tuple[str, bool | None]] = []
    apart = False
    path = [*reversed(list(ctx.feeding.path(alternate)))]
    for branch, _ in path:
        item = branch.item
        if isinstance(item, ConductorRun):
            apart = True
        if isinstance(item, Disconnect) and (apart or item.neutral_bonded):
            found.append((ctx.name(item.id), item.neutral_bonded))
        for node in (branch.a, branch.b):
            for bus in buses_at(ctx, node) if node >= 0 else ():
                if bus.form in EQUIPMENT_FORMS and ctx.name(bus.id) not in [name for name, _ in found]:
                    found.append((ctx.name(bus.id), bus.neutral_bonded))
    return found


def _directories(ctx: Context) -> Iterator[Verdict]:
    """LBL-2 at every service where the building has further supplies, SVC-1 where one of them is a second service."""
    services = list(ctx.drawing.of(UtilityService))
    names = [ctx.name(s.id) for s in services]
    if len(services) > 1:
        reasons = [(Subject(s.id, name), s.reason) for s, name in zip(services, names, strict=True)]
        status = "new" if any(s.status == "new" for s in services) else "existing"
        yield existing_work(several_services(reasons[0][0], ctx.edition, reasons), status)
    all_sources = [ctx.drawing.get(id_) for id_ in ctx.net.sources]
    for service in services:
        others = [(s.id, ctx.name(s.id), where_disconnected(ctx, s)) for s in all_sources if s.id != service.id]
        if others:
            yield supplies(Subject(service.id, ctx.name(service.id)), ctx.edition, others)


def where_disconnected(ctx: Context, source: Item) -> str:
    """Where a source disconnects, for a directory: its first device and that device's place; never a guess."""
    node = ctx.net.sources[source.id]
    if ctx.feeding.root[node] == source.id:
        entrance = next((e for e in entrances(ctx) if e.service.id == source.id), None)
        devices: list[Item] = [*entrance.disconnects] if entrance is not None else _first_below(ctx, node)
    else:
        way = [b.item for b, _ in ctx.feeding.path(node)]
        devices = [*[item for item in way if isinstance(item, Disconnect | TransferSwitch)][:1]]
    if not devices:
        return "a place not known yet"
    return " and ".join(ctx.name(d.id) + (f" ({d.location})" if d.location else "") for d in devices)


def _first_below(ctx: Context, node: int) -> list[Item]:
    """The first disconnects or transfer switches met from a source on."""
    found: list[Item] = []
    waiting = [node]
    for at in waiting:
        for key in ctx.net.at_node[at]:
            branch = ctx.net.branches[key]
            if isinstance(branch.item, Disconnect | TransferSwitch):
                found.append(branch.item)
            elif branch.other(at) >= 0 and branch.other(at) not in waiting and branch.item.kind != "tie":
                waiting.append(branch.other(at))
    return found


#: Everything this subject finds on a drawing.
verdicts = for_all(about, overall, of=(Bus,))
