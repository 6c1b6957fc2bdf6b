"""What conductors reach: the overcurrent devices, transformers and loads at their far end, and the length to there."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from oneline.model import (
    Bus,
    ConductorRun,
    Disconnect,
    Item,
    Load,
    Meter,
    TransferSwitch,
    Transformer,
    basis_of,
)
from oneline.model.fields import specs
from oneline.rules.common import Fact, Subject, unique
from oneline.rules.tap_conditions import TapEnd
from oneline.rules.verdict import Verdict
from oneline.study.context import Context, protects

#: Buses with devices of their own in them; the others only join conductors.
EQUIPMENT_FORMS = ("panelboard", "switchboard", "meter center")


#: Molded-case breakers of frames up to this are made with a fixed trip, amperes. Common practice, no source: said as an
#: assumption wherever an answer rests on it.
FIXED_TRIP_FRAME_A = 225.0


@dataclass
class Ends:
    """What conductors reach from a node before the next overcurrent device.

    ``length``: ft to the farthest end. ``runs``: ids of runs on the way. ``beyond``: switches that the conductors go on
    from. ``scheduled``: circuits in the schedule of ``equipment`` that are not drawn.
    """

    ends: list[TapEnd] = field(default_factory=list)
    lengths: list[Fact] = field(default_factory=list)
    runs: list[str] = field(default_factory=list)
    beyond: list[str] = field(default_factory=list)
    equipment: Bus | None = None
    scheduled: bool = False
    devices: list[Disconnect] = field(default_factory=list)
    loads: list[Load] = field(default_factory=list)


def subject_of(ctx: Context, item: Item) -> Subject:
    return Subject(item.id, ctx.name(item.id))


def assumptions(ctx: Context, item: Item, *fields: str) -> tuple[str, ...]:
    """Fields of an item that are entered and only assumed, as phrases: "phases of Panel 2"."""
    return tuple(
        f"{assumption_words(item, name)} of {ctx.name(item.id)}"
        for name in fields
        if item.basis.get(name) == "assumed" and getattr(item, name) is not None
    )


def assumption_words(item: Item, field_name: str) -> str:
    """What a field is called in the middle of a sentence: its title, with a small letter unless it is an abbreviation."""
    title = specs(type(item))[field_name].label
    return title if title[1:2].isupper() or not title[1:] else title[0].lower() + title[1:]


# ------------------------------------------------------------------------------------------------- devices
def device_kind(device: Disconnect) -> str:
    """ "breaker" or "fuse", as the list of standard ratings has them."""
    return "breaker" if device.form == "breaker" else "fuse"


def rating_words(device: Disconnect, field_name: str = "trip_a") -> str:
    """What the rating of a device is called, the same wherever it is asked for: of its fuses or its trip ("trip_a"), of
    the switch or frame around them ("rating_a")."""
    fuses = device_kind(device) == "fuse"
    if field_name == "trip_a":
        return "fuse rating" if fuses else "trip rating"
    return "switch rating" if fuses else "frame rating"


def device_rating(ctx: Context, device: Disconnect) -> Fact:
    """Rating of an overcurrent device, amperes; of an adjustable breaker the highest setting (240.6(C)).

    Unknown fuses are at most what their switch holds, an unknown trip at most the frame. Whether a breaker of a larger
    frame than its trip can be set higher leaves it between the two; small frames are assumed to have a fixed trip.
    """
    name = ctx.name(device.id)
    what = rating_words(device)
    if device.adjustable and device.form == "breaker":
        basis = basis_of(device, "rating_a", "adjustable")
        need = f"highest setting of the adjustable breaker {name}"
        rests = assumptions(ctx, device, "rating_a", "adjustable")
        if device.rating_a is not None and device.trip_a is not None and device.trip_a > device.rating_a:
            # A frame smaller than the trip is no frame of it, and bounds nothing.
            return Fact(None, device.trip_a, None, basis, need, f"highest setting of {name}", rests)
        return Fact(device.rating_a, device.trip_a, None, basis, need, f"highest setting of {name}", rests)
    basis = basis_of(device, "trip_a")
    fixed = device.adjustable is False and device.form == "breaker" and device.basis.get("adjustable") == "assumed"
    if fixed and device.trip_a is not None:
        rests = (f"fixed trip of {name}", *((f"{what} of {name}",) if basis == "assumed" else ()))
        return Fact(device.trip_a, None, device.rating_a, "assumed", "", f"{what} of {name}", rests)
    trip_a, frame_a = device.trip_a, device.rating_a
    if device.form == "breaker" and device.adjustable is None and trip_a and frame_a and frame_a > trip_a:
        if frame_a <= FIXED_TRIP_FRAME_A:
            return Fact(trip_a, None, None, "assumed", name=f"{what} of {name}", assumed=(f"fixed trip of {name}",))
        need = f"whether the trip of {name} can be set higher (frame {frame_a:g} A)"
        return Fact(None, trip_a, frame_a, basis, need, f"highest setting of {name}")
    return Fact(device.trip_a, None, device.rating_a, basis, f"{what} of {name}", f"{what} of {name}")


def holder_rating(device: Disconnect, ctx: Context) -> Fact:
    """Rating of the switch or frame around the overcurrent device, amperes."""
    name = f"{rating_words(device, 'rating_a')} of {ctx.name(device.id)}"
    return Fact(device.rating_a, basis=basis_of(device, "rating_a"), need=name, name=name)


def system_need(ctx: Context, node: int) -> str:
    """What to find out where the system at a node is not known: that of the transformer or source it comes from."""
    return ctx.settled(("system need", node), lambda: _system_need(ctx, node))


def _system_need(ctx: Context, node: int) -> str:
    for branch, _ in ctx.feeding.path(node) if ctx.feeding.position[node] >= 0 else ():
        if isinstance(branch.item, Transformer):
            return f"secondary system of {ctx.name(branch.item.id)}"
    root = ctx.feeding.root[node]
    return f"system voltage of {ctx.name(root)}" if root else "system voltage at this point"


def buses_at(ctx: Context, node: int) -> list[Bus]:
    """Buses that a node is part of."""
    items = (ctx.drawing.items[end.item] for end in ctx.net.ends_of[node])
    return [item for item in items if isinstance(item, Bus)]


def is_branch(ctx: Context, node: int) -> bool:
    """Whether a branch circuit starts at a node: load behind it, and no further overcurrent device or transformer."""
    return ctx.settled(("branch", node), lambda: _is_branch(ctx, node))


def _is_branch(ctx: Context, node: int) -> bool:
    loads, waiting = False, [node]
    while waiting:
        here = waiting.pop()
        for item in (ctx.drawing.items[end.item] for end in ctx.net.ends_of[here]):
            if isinstance(item, Bus) and item.form in EQUIPMENT_FORMS:
                return False
            loads = loads or isinstance(item, Load)
        for branch, down in ctx.feeding.children(here):
            if isinstance(branch.item, Transformer) or protects(branch.item):
                return False
            waiting.append(down)
    return loads


# ------------------------------------------------------------------------------------------------- ends
def ends_from(ctx: Context, node: int, length: Fact) -> Ends:
    """Follows the conductors from a node, away from the source, up to the next overcurrent devices."""
    found = Ends()
    #: Places still to be looked at: node, length to there, the switch passed last.
    waiting = [(node, length, "")]
    while waiting:
        here, so_far, switch = waiting.pop()
        _note_equipment(ctx, here, so_far, found)
        children = ctx.feeding.children(here)
        if not children:
            found.lengths.append(so_far)
        onward = []
        for branch, down in children:
            item = branch.item
            if isinstance(item, ConductorRun):
                found.runs.append(item.id)
                if switch:
                    found.beyond.append(switch)
                onward.append((down, longer(so_far, run_length(ctx, item)), switch))
            elif isinstance(item, Transformer) or protects(item):
                found.ends.append(_end(ctx, item))
                found.lengths.append(so_far)
                if isinstance(item, Disconnect):
                    found.devices.append(item)
            elif isinstance(item, Disconnect | TransferSwitch):
                onward.append((down, so_far, ctx.name(item.id)))
            elif isinstance(item, Meter):
                onward.append((down, so_far, switch))
        waiting.extend(reversed(onward))
    return found


def _note_equipment(ctx: Context, node: int, length: Fact, found: Ends) -> None:
    for item in (ctx.drawing.items[end.item] for end in ctx.net.ends_of[node]):
        if isinstance(item, Bus) and item.form in EQUIPMENT_FORMS:
            found.equipment = found.equipment or item
            found.scheduled |= any(c.feeds is None and c.use in ("load", "spare") for c in item.circuits)
        elif isinstance(item, Load):
            found.ends.append(TapEnd(subject_of(ctx, item), "load"))
            found.lengths.append(length)
            found.loads.append(item)


def _end(ctx: Context, item: Item) -> TapEnd:
    if not isinstance(item, Disconnect):
        return TapEnd(subject_of(ctx, item), "transformer")
    rating, holder = device_rating(ctx, item), holder_rating(item, ctx)
    return TapEnd(
        subject_of(ctx, item), "device", rating, holder, device_kind(item), item.stands, item.readily_accessible,
        item.form != "fuses",
    )  # fmt: skip


def run_length(ctx: Context, run: ConductorRun) -> Fact:
    """Conductor length of a run, ft."""
    name = f"length of {ctx.name(run.id)}"
    return Fact(run.length_ft, 0.0, None, basis_of(run, "length_ft"), name, name)


def longer(a: Fact, b: Fact) -> Fact:
    """Sum of two lengths; what is known of it is a lower bound."""
    value = None if a.value is None or b.value is None else a.value + b.value
    need, *also = unique((*a.needs, *b.needs)) or ("",)
    basis = "assumed" if "assumed" in (a.basis, b.basis) else a.basis
    assumed = unique((*a.assumptions, *b.assumptions))
    return Fact(value, (a.least or 0.0) + (b.least or 0.0), None, basis, need, "length", assumed, tuple(also))


def farthest(lengths: list[Fact]) -> Fact:
    """The longest of several lengths; unknown as soon as one is."""
    if not lengths:
        return Fact(None, 0.0, need="length")
    unknown = [x for x in lengths if x.value is None]
    low = max(x.least or 0.0 for x in lengths)
    if unknown:
        need, *also = unique(n for x in unknown for n in x.needs)
        return Fact(None, low, None, unknown[0].basis, need, "length", also=tuple(also))
    return max(lengths, key=lambda x: x.value or 0.0)


def not_listed_yet(found: Verdict, device: str) -> Verdict:
    """A failure that holds only where a breaker is not listed for continuous load at 100 %, as a question."""
    message = f"Unless {device} is listed for continuous load at 100 %, {found.message}"
    return replace(
        found, state="unknown", message=message, needs=(f"whether {device} is listed for continuous load at 100 %",),
        remedy=f"{found.remedy.removesuffix('.')}, unless {device} is listed for 100 %." if found.remedy else "",
    )  # fmt: skip
