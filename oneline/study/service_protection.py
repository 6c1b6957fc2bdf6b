"""Overcurrent protection at services, ground-fault protection and arc-energy reduction of large devices on the drawing."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from oneline import tables
from oneline.model import Battery, Disconnect, Generator, Item, SolarArray, Transformer, UtilityService
from oneline.rules.common import Fact, Subject, existing_work
from oneline.rules.ground_faults import GroundFaultFacts, ground_fault, ground_fault_triggered
from oneline.rules.service_protection import ArcFacts, arc_energy, service_overcurrent
from oneline.rules.verdict import Verdict
from oneline.study.context import Context, protects
from oneline.study.ends import device_rating, rating_words, subject_of, system_need
from oneline.study.services import disconnects_of, entrances
from oneline.study.subject import for_all


def about(ctx: Context, item: Item) -> Iterator[Verdict]:
    """SVC-5 of a service disconnect, SVC-7 of service disconnects and of first devices behind a transformer or a
    generator, SVC-8 of a large device."""
    if isinstance(item, Disconnect) and item.id in ctx.net.branches:
        service = item.id in disconnects_of(ctx)
        if service:
            yield _overcurrent(ctx, item)
        yield from _ground_fault(ctx, item, service)
        yield from _arc_energy(ctx, item)


# ----------------------------------------------------------------------------------------------- overcurrent (SVC-5)
def _overcurrent(ctx: Context, device: Disconnect) -> Verdict:
    service = next(e.service for e in entrances(ctx) if any(d.id == device.id for d in e.disconnects))
    found = service_overcurrent(
        subject_of(ctx, device), ctx.edition, protects(device), _next_devices(ctx, device), ctx.name(service.id)
    )  # fmt: skip
    return existing_work(found, device.status)


def _next_devices(ctx: Context, device: Disconnect) -> list[tuple[Subject, float | None]]:
    """Overcurrent devices on the load side of a switch before anything else, with the conductor between them in feet."""
    start = ctx.feeding.load_node(device.id)
    found: list[tuple[Subject, float | None]] = []
    waiting: list[tuple[int, float | None]] = [] if start is None else [(start, 0.0)]
    while waiting:
        node, feet = waiting.pop()
        for branch, down in ctx.feeding.children(node):
            if protects(branch.item):
                found.append((subject_of(ctx, branch.item), feet))
            elif branch.item.kind == "run":
                length: float | None = getattr(branch.item, "length_ft", None)
                waiting.append((down, None if length is None or feet is None else feet + length))
            elif not isinstance(branch.item, Transformer):
                waiting.append((down, feet))
    return found[::-1]


# --------------------------------------------------------------------------------------------- ground faults (SVC-7)
def _ground_fault(ctx: Context, device: Disconnect, service: bool) -> Iterator[Verdict]:
    """Service disconnects wherever it matters, and feeders without it on their supply side (215.10)."""
    feeder = not service
    if feeder and not protects(device):
        return
    load = ctx.feeding.load_node(device.id)
    system = None if load is None else ctx.feeding.system[load]
    rating = highest_setting(ctx, device)
    # Only where it is asked for, or may be: small disconnects need no line each.
    if feeder and ground_fault_triggered(system, rating) == "no":
        return
    ahead = _protected_ahead(ctx, device) if feeder else None
    first = feeder and _derived(ctx, device)
    # Behind a feeder's device that is asked already the answer is that one's.
    if feeder and ahead is None and not first and (not _is_feeder(ctx, device) or _asked_ahead(ctx, device)):
        return
    need = "system voltage" if load is None else system_need(ctx, load)
    found = ground_fault(
        GroundFaultFacts(
            subject_of(ctx, device), ctx.edition, system, rating, device.gfp_fitted, device.gfp_pickup_a,
            device.gfp_delay_s, feeder, need, device.gfp_tested, ahead, _sources_behind(ctx, device),
            _exempt(ctx, device), _perhaps_ahead(ctx, device) if feeder else (),
        )
    )  # fmt: skip
    if found.state == "unknown" and feeder and not first and device.status in ("existing", "remove"):
        # What an old feeder had to have is another edition's: it is told, not asked.
        found = found.but(state="advice")
    yield existing_work(found, device.status)


def _exempt(ctx: Context, device: Disconnect) -> str | None:
    """What exempts a disconnect: as entered, or a service that is there for a fire pump."""
    if device.gfp_exempt is not None:
        return device.gfp_exempt
    line = ctx.feeding.line_node(device.id)
    source = ctx.drawing.items.get(ctx.feeding.root[line]) if line is not None else None
    return "fire pump" if isinstance(source, UtilityService) and source.reason == "fire pump" else None


def _devices_ahead(ctx: Context, device: Disconnect) -> Iterator[Disconnect]:
    """Overcurrent devices between a device and its source or the next transformer, nearest first."""
    line = ctx.feeding.line_node(device.id)
    for branch, _ in ctx.feeding.path(line) if line is not None else ():
        if isinstance(branch.item, Transformer):
            return
        if isinstance(branch.item, Disconnect) and protects(branch.item):
            yield branch.item


def _is_feeder(ctx: Context, device: Disconnect) -> bool:
    """Whether a device stands behind another one of its system, not ahead of the service disconnect."""
    return next(_devices_ahead(ctx, device), None) is not None


def _asks(ctx: Context, device: Disconnect) -> bool:
    load = ctx.feeding.load_node(device.id)
    system = None if load is None else ctx.feeding.system[load]
    return ground_fault_triggered(system, highest_setting(ctx, device)) != "no"


def _asked_ahead(ctx: Context, device: Disconnect) -> bool:
    """Whether a feeder's device on the supply side is asked as strictly: one of old work is not, for new work."""
    old = device.status in ("existing", "remove")
    return any(
        other.id not in disconnects_of(ctx) and (old or other.status == device.status) and _asks(ctx, other)
        for other in _devices_ahead(ctx, device)
    )


def _perhaps_ahead(ctx: Context, device: Disconnect) -> tuple[Subject, ...]:
    """Large devices on the supply side of which nobody knows whether they have ground-fault protection."""
    return tuple(
        subject_of(ctx, other)
        for other in _devices_ahead(ctx, device)
        if other.gfp_fitted is None and _asks(ctx, other)
    )


def _derived(ctx: Context, device: Disconnect) -> bool:
    """Whether a device is the first behind a transformer or a generator."""
    line = ctx.feeding.line_node(device.id)
    if line is None:
        return False
    protection = ctx.protection_of(line)
    if protection.transformers:
        return True
    source = ctx.drawing.items.get(protection.source)
    return protection.device is None and isinstance(source, Generator)


def _protected_ahead(ctx: Context, device: Disconnect) -> Subject | None:
    """A device with ground-fault protection on the supply side of a feeder and on the load side of any transformer."""
    line = ctx.feeding.line_node(device.id)
    for branch, _ in ctx.feeding.path(line) if line is not None else ():
        if isinstance(branch.item, Transformer):
            return None
        if isinstance(branch.item, Disconnect) and branch.item.gfp_fitted:
            return subject_of(ctx, branch.item)
    return None


def _sources_behind(ctx: Context, device: Disconnect) -> tuple[str, ...]:
    """Solar arrays and batteries that can feed back through a device with ground-fault protection."""
    load = ctx.feeding.load_node(device.id)
    if not device.gfp_fitted or load is None:
        return ()
    first, last = ctx.feeding.position[load], ctx.feeding.last[load]
    return tuple(
        ctx.name(id_) for id_, node in ctx.net.sources.items()
        if isinstance(ctx.drawing.get(id_), SolarArray | Battery) and first <= ctx.feeding.position[node] < last
    )  # fmt: skip


def highest_setting(ctx: Context, device: Disconnect) -> Fact:
    """Largest fuse the switch takes or highest setting of the breaker, which is what 230.95 looks at."""
    name = ctx.name(device.id)
    if device.form == "breaker" and device.trip_a is not None:
        return device_rating(ctx, device)
    values = [v for v in (device.rating_a, device.trip_a) if v is not None]
    basis = device.basis.get("rating_a", "entered")
    what = f"{rating_words(device, 'rating_a')} of {name}"
    return Fact(max(values) if values else None, basis=basis, need=what, name=what)


# ------------------------------------------------------------------------------------------------ arc energy (SVC-8)
def _arc_energy(ctx: Context, device: Disconnect) -> Iterator[Verdict]:
    least_a = tables.limit_value("arc_energy_device_a")
    fuses = device.form != "breaker"
    # Of fuses their own rating counts, which the holder bounds while it is not known; of breakers the highest setting.
    known = (device.trip_a,) if fuses and device.trip_a is not None else (device.rating_a, device.trip_a)
    # Two comparisons keep the many small devices out.
    if not protects(device) or max(a or 0.0 for a in known) < least_a:
        return
    found = arc_energy(
        ArcFacts(
            subject_of(ctx, device), ctx.edition,
            device_rating(ctx, device) if fuses else highest_setting(ctx, device), fuses,
            device.arc_reduction, device.arc_reduction_tested, device.clearing_s,
        )
    )  # fmt: skip
    if found is not None:
        if found.state == "unknown" and device.arc_reduction is None and device.status in ("existing", "remove"):
            # A rule for new devices: of old ones it is told, not asked.
            found = replace(found, state="advice")
        yield existing_work(found, device.status)


#: Everything this subject finds on a drawing.
verdicts = for_all(about, of=(Disconnect,))
