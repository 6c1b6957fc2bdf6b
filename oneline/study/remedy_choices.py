"""Changes worth trying for a finding: which items, which of their fields, and the next values in the trade's steps.

A family is one field of one item in one direction, its values from the smallest change on. Nothing here decides: the
search of ``remedies`` tries them on the drawing.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from oneline import tables
from oneline.model import Bus, ConductorRun, Disconnect, Item, Load, TransferSwitch, Transformer
from oneline.model.vocabulary import CONDUCTOR_SIZES
from oneline.rules.ampacity import large_enough_in_parallel
from oneline.rules.verdict import Verdict
from oneline.study.context import Context, protects
from oneline.study.points import nodes_of
from oneline.study.trials import Change

#: Fields whose change may help, by rule or by the family before the hyphen; a rule that is not named tries all.
_FIELDS: dict[str, tuple[str, ...]] = {
    "FLT": ("interrupting_ka", "sccr_ka", "breakers_ka", "withstand_ka", "series_rating_ka"),
    "FLT-3": ("voltage_rating",),
    "TAP": ("size", "length_ft", "trip_a", "sets"),
    "TAP-BUS": (),
    "OCP": ("size", "trip_a", "sets"),
    "AMP": ("size", "sets", "trip_a"),
    "AMP-3": ("size", "sets"),
    "CAP": ("rating_a", "trip_a", "kva", "size", "full_rated"),
    "LOAD": ("trip_a", "size", "full_rated"),
    "PNL-1": ("rating_a", "trip_a"),
    "DEV-1": ("rating_a", "trip_a"),
    "PNL-7": ("wire_size", "trip_a"),
    "GND": ("egc_size", "neutral_bonded", "neutral_size", "size"),
    "GND-5": ("neutral_bonded",),
    "GND-1": ("neutral_bonded",),
    "GND-2": ("neutral_bonded",),
    "GEN-2": ("neutral_bonded", "switched_neutral"),
    "RWY": ("raceway_size", "sets"),
    "VD": ("size", "sets"),
    "PV": ("bus_end", "trip_a", "rating_a", "size"),
    # Where things stand, how many there are, what was tested: nothing of it is a rating, a size or a length.
    "SVC": (),
    "SVC-3": ("service_rated",),
    "SVC-4": ("trip_a", "rating_a"),
    "SVC-9": ("trip_a", "rating_a", "egc_size", "neutral_bonded"),
    "LOAD-8": (), "LOAD-7": (), "PV-6": (), "PV-7": (), "PV-8": (), "PNL-2": (), "PNL-5": (),
    "GEN-3": (), "SRC": (), "ISO": (), "READ": (), "UG": (), "ESS": (),
    "XFMR": ("trip_a", "kva"),
    "BAR-1": ("line_side_barrier",),
    "NET": (), "SYS": (), "LIVE": (), "DEC": (), "PNL-3": (), "PNL-4": (), "HL": (),
}  # fmt: skip
#: Findings that sum up the rules of taps.
_TAP_SUMMARIES = ("TAP-0", "TAP-SEC", "TAP-XF")
#: Most values of a family that are tried.
_MOST = 14


@dataclass(frozen=True)
class Family:
    """Values of one field of one item, the smallest change first. Each entry is what has to change together."""

    item: str
    field: str
    steps: tuple[tuple[Change, ...], ...]


def fields_for(rule: str) -> tuple[str, ...] | None:
    """Fields whose change may help a rule; ``None``: any."""
    return _FIELDS.get(rule, _FIELDS.get(rule.partition("-")[0]))


def families(ctx: Context, verdict: Verdict, tried: Sequence[Verdict] = ()) -> Iterator[Family]:
    """Families worth trying for a finding, the finding's own item first. ``tried``: rules tried beside each other for
    the same item, whose limits of length are worth trying too."""
    allowed = fields_for(verdict.rule)
    limits = {v.limit for v in (verdict, *tried) if v.unit == "ft" and v.relation == "at most" and v.limit}
    if verdict.rule.startswith("TAP"):
        limits |= {tables.limit_value(name) for name in ("tap_10ft_length_ft", "tap_25ft_length_ft")}
    lengths = sorted(limits, reverse=True)
    for item in actors(ctx, verdict):
        for family in _of_item(ctx, item, lengths):
            if (allowed is None or family.field in allowed) and family.steps:
                yield family


def length_and_size(ctx: Context, verdict: Verdict, tried: Sequence[Verdict]) -> Iterator[Family]:
    """For a tap that is both too long and too small: each length of a rule with the next sizes, for when neither helps
    alone."""
    run = ctx.drawing.items.get(verdict.subject)
    if not isinstance(run, ConductorRun) or verdict.rule not in _TAP_SUMMARIES or run.length_ft is None:
        return
    limits = {v.limit for v in tried if v.unit == "ft" and v.relation == "at most" and v.limit}
    limits |= {tables.limit_value(name) for name in ("tap_10ft_length_ft", "tap_25ft_length_ft")}
    for length_ft in sorted((x for x in limits if x < run.length_ft), reverse=True):
        shorter = Change(run.id, "length_ft", length_ft)
        yield Family(run.id, "length_ft", tuple((shorter, *step) for step in _sizes(run, "size").steps))


def actors(ctx: Context, verdict: Verdict) -> list[Item]:
    """Items whose change may help: the one the finding is about, those it names, and what is next to it on its way.

    New work stands first; what is to be removed or belongs to the future is left out.
    """
    found: dict[str, Item] = {}

    def add(item: Item | None) -> None:
        if item is not None and item.id in ctx.drawing and item.status in ("new", "existing"):
            found.setdefault(item.id, item)

    subject = ctx.drawing.items.get(verdict.subject)
    add(subject)
    for other in verdict.others:
        add(ctx.drawing.items.get(other))
    nodes = nodes_of(ctx, subject) if subject is not None else None
    if nodes is not None:
        for neighbor in _neighbors(ctx, *nodes):
            add(neighbor)
    first = [found.pop(verdict.subject)] if verdict.subject in found else []
    return first + sorted(found.values(), key=lambda i: i.status != "new")


def _neighbors(ctx: Context, line: int, load: int) -> Iterator[Item | None]:
    if line >= 0 and ctx.feeding.position[line] >= 0:
        protection = ctx.protection_of(load)
        yield protection.device
        for branch in protection.branches:
            yield branch.item
    if load >= 0 and ctx.feeding.position[load] >= 0:
        for end in ctx.net.ends_of[load]:
            item = ctx.drawing.get(end.item)
            if isinstance(item, Bus):
                yield item
        children = ctx.feeding.children(load)
        if len(children) == 1:
            yield children[0][0].item


# ----------------------------------------------------------------------------------------------------------- by kind
def _of_item(ctx: Context, item: Item, lengths: Sequence[float]) -> Iterator[Family]:
    if isinstance(item, ConductorRun):
        yield from _run(item, lengths)
    elif isinstance(item, Disconnect):
        yield from _disconnect(ctx, item)
    elif isinstance(item, Bus):
        yield from _bus(item)
    elif isinstance(item, Transformer):
        steps = tables.equipment_steps("transformer_1" if item.connection == "single-phase" else "transformer_3")
        yield _up(item, "kva", item.kva, steps)
        yield _flip(item, "neutral_bonded")
    elif isinstance(item, TransferSwitch):
        yield _up(item, "rating_a", item.rating_a, tables.equipment_steps("switch"))
        yield _up(item, "withstand_ka", item.withstand_ka, tables.equipment_steps("short_circuit"))
        yield _flip(item, "switched_neutral")
    elif item.kind == "generator":
        yield _flip(item, "neutral_bonded")
    elif not isinstance(item, Load):
        return


def _run(run: ConductorRun, lengths: Sequence[float]) -> Iterator[Family]:
    yield _sizes(run, "size")
    if run.length_ft is not None:
        shorter = [x for x in lengths if x < run.length_ft]
        yield Family(run.id, "length_ft", tuple((Change(run.id, "length_ft", x),) for x in shorter))
    if run.sets is not None and run.size is not None and large_enough_in_parallel(run.size):
        yield Family(run.id, "sets", tuple((Change(run.id, "sets", run.sets + n),) for n in (1, 2, 3)))
    yield from (_sizes(run, "egc_size"), _sizes(run, "neutral_size"), raceway_steps(run))


def raceway_steps(run: ConductorRun) -> Family:
    """The next trade sizes of a run's raceway."""
    sizes: tuple[str, ...] = ()
    if run.raceway is not None and run.raceway_size is not None:
        try:
            sizes = tables.raceway_trade_sizes(run.raceway)
        except tables.NotInTable:
            sizes = ()
    now = tables.trade_inches(run.raceway_size) if run.raceway_size else None
    larger = [s for s in sizes if now is not None and (tables.trade_inches(s) or 0.0) > now]
    return Family(run.id, "raceway_size", tuple((Change(run.id, "raceway_size", s),) for s in larger))


def _sizes(run: ConductorRun, field: str) -> Family:
    """The next conductor sizes. A grounding conductor that is none, or the raceway, starts with the smallest."""
    now = getattr(run, field)
    if now is None or (now not in CONDUCTOR_SIZES and field != "egc_size"):
        return Family(run.id, field, ())
    start = CONDUCTOR_SIZES.index(now) + 1 if now in CONDUCTOR_SIZES else CONDUCTOR_SIZES.index("14")
    material = (run.egc_material or run.material) if field == "egc_size" else run.material
    larger = [s for s in CONDUCTOR_SIZES[start:] if tables.ampacity_a(s, material or "copper", 75) is not None]
    return Family(run.id, field, tuple((Change(run.id, field, s),) for s in larger[:_MOST]))


def _disconnect(ctx: Context, item: Disconnect) -> Iterator[Family]:
    kind = "breaker" if item.form == "breaker" else "fuse"
    if protects(item) and item.trip_a is not None:
        ratings = tables.standard_ratings(ctx.edition, kind)
        down = [a for a in reversed(ratings) if a < item.trip_a][:_MOST]
        up = [a for a in ratings if a > item.trip_a][:_MOST]
        yield Family(item.id, "trip_a", tuple((Change(item.id, "trip_a", a),) for a in down))
        yield Family(item.id, "trip_a", tuple(_with_frame(item, a) for a in up))
    if item.form in ("switch", "fused switch"):
        yield _up(item, "rating_a", item.rating_a, tables.equipment_steps("switch"))
        yield _up(item, "sccr_ka", item.sccr_ka, tables.equipment_steps("short_circuit"))
    if protects(item):
        yield _up(item, "interrupting_ka", item.interrupting_ka, tables.equipment_steps("short_circuit"))
    if item.form == "breaker":
        yield _up(item, "series_rating_ka", item.series_rating_ka, tables.equipment_steps("short_circuit"))
        if item.bus_end is not None and item.bus_end != "opposite end":
            yield Family(item.id, "bus_end", ((Change(item.id, "bus_end", "opposite end"),),))
    if item.voltage_rating is not None:
        others = [v for v in ("240", "480Y/277", "480", "600Y/347", "600") if v != item.voltage_rating]
        yield Family(item.id, "voltage_rating", tuple((Change(item.id, "voltage_rating", v),) for v in others))
    if item.full_rated is False:
        yield Family(item.id, "full_rated", ((Change(item.id, "full_rated", True),),))
    if item.service_rated is False:
        yield Family(item.id, "service_rated", ((Change(item.id, "service_rated", True),),))
    yield _flip(item, "neutral_bonded")


def _with_frame(item: Disconnect, trip_a: float) -> tuple[Change, ...]:
    """A larger trip with a frame or switch that takes it."""
    changes: tuple[Change, ...] = (Change(item.id, "trip_a", trip_a),)
    if item.rating_a is not None and item.rating_a < trip_a:
        steps = tables.equipment_steps("switch" if item.form != "breaker" else "bus")
        larger = next((a for a in steps if a >= trip_a), trip_a)
        changes += (Change(item.id, "rating_a", larger),)
    return changes


def _bus(bus: Bus) -> Iterator[Family]:
    yield _up(bus, "rating_a", bus.rating_a, tables.equipment_steps("bus"))
    yield _up(bus, "sccr_ka", bus.sccr_ka, tables.equipment_steps("short_circuit"))
    # Of a new panel the breakers can still be chosen.
    chosen = 0.0 if bus.status == "new" and bus.breakers_ka is None else bus.breakers_ka
    yield _up(bus, "breakers_ka", chosen, tables.equipment_steps("short_circuit"))
    yield _flip(bus, "neutral_bonded")
    if bus.line_side_barrier is False:
        yield Family(bus.id, "line_side_barrier", ((Change(bus.id, "line_side_barrier", True),),))


def _up(item: Item, field: str, now: float | None, steps: Sequence[float]) -> Family:
    larger = [s for s in steps if now is not None and s > now][:_MOST]
    return Family(item.id, field, tuple((Change(item.id, field, s),) for s in larger))


def _flip(item: Item, field: str) -> Family:
    now = getattr(item, field)
    return Family(item.id, field, ((Change(item.id, field, not now),),) if now is not None else ())
