"""What the door sheet says beside the diagram, in words: sources and where each is opened, fault currents, directories.

Plain data, taken from the drawing and its study; nothing is computed here but what follows from opening devices.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from oneline import tables
from oneline.model import (
    Battery,
    Bus,
    Disconnect,
    Drawing,
    Generator,
    Item,
    Joint,
    SolarArray,
    SuspectedTie,
    TransferSwitch,
    UtilityService,
)
from oneline.model.vocabulary import STATUS_LETTERS
from oneline.network import Branch, Network, build_feeding, build_network
from oneline.network.live import LiveState, live_state
from oneline.network.transfer import behind
from oneline.paper.page import short
from oneline.sheet import source_codes
from oneline.sheet.inks import source_dash
from oneline.sheet.wording import kiloamperes, kiloamperes_between
from oneline.study import PointFigures, StudyResult

UNKNOWN = "—"


def named(drawing: Drawing, item_id: str) -> str:
    """The item's name with the letter of its status when it is not simply existing."""
    item = drawing.get(item_id)
    letter = "" if item.status == "existing" else f" ({STATUS_LETTERS[item.status]})"
    return (short(drawing.name_of(item_id)) or f"{item.title} {item.id}") + letter


def place_of(drawing: Drawing, item: Item) -> str:
    """Where an item is found: its own location, or the board it is bolted to."""
    if item.location and short(item.location):
        return short(item.location)
    for joint in drawing.of(Joint):
        for end, other in ((joint.a, joint.b), (joint.b, joint.a)):
            board = drawing.items.get(other.item)
            if end.item == item.id and isinstance(board, Bus):
                return f"in {short(drawing.name_of(board.id))}" + (
                    f", {short(board.location)}" if board.location else ""
                )
    return "location not recorded"


def rating_of(item: Item) -> str:
    """A device in one phrase: "fused switch 400 A, 350 A fuses"."""
    if isinstance(item, TransferSwitch):
        how = {True: "automatic ", False: "manual ", None: ""}[item.automatic]
        return f"{how}transfer switch {amps(item.rating_a)}"
    if not isinstance(item, Disconnect):
        return item.title.lower()
    if item.form == "breaker":
        return f"breaker {amps(item.trip_a)}"
    if item.form == "fuses":
        return f"fuses {amps(item.trip_a)}"
    if item.form == "fused switch":
        return f"fused switch {amps(item.rating_a)}, {amps(item.trip_a)} fuses"
    return f"{item.form} {amps(item.rating_a)}"


def amps(value: float | None) -> str:
    return f"{UNKNOWN} A" if value is None else f"{value:,g} A"


# ------------------------------------------------------------------------------------------------------------ sources
@dataclass(frozen=True)
class Opening:
    """A device that takes a source away: what it is, where, and what is live on its load side when it is open."""

    device: str
    place: str
    load_side: str


@dataclass(frozen=True)
class SourceFacts:
    """One source: its code and dash, its name and kind, where it is opened, what stays live in any case."""

    code: str
    dash: str
    name: str
    what: str
    openings: tuple[Opening, ...]
    always: tuple[str, ...]


def sources_of(drawing: Drawing, result: StudyResult) -> tuple[SourceFacts, ...]:
    """Every source of the view with its disconnecting devices, and every connection that leads nobody knows where."""
    view = drawing.view(result.view)
    net = build_network(view)
    codes = source_codes(result)
    out = []
    for order, source_id in enumerate(result.sources):
        if source_id not in net.sources:
            continue
        source = view.get(source_id)
        first = tuple(_first_devices(net, net.sources[source_id]))
        devices = tuple(b for b in first if isinstance(b.item, Disconnect))
        bare = tuple(named(drawing, b.item.id) for b in first if b not in devices)
        openings = tuple(_opening(drawing, net, branch, devices, codes, source_id) for branch in devices)
        out.append(
            SourceFacts(
                codes[source_id], source_dash(order), named(drawing, source_id), _what(source), openings,
                (*_not_drawn(bool(devices), bare), *_always(source, net)),
            )
        )  # fmt: skip
    for tie in view.of(SuspectedTie):
        where = "an unknown place" if tie.b is None else drawing.name_of(tie.b.item)
        if tie.traced != "traced":
            what = f"from {drawing.name_of(tie.a.item)} to {where}, not traced"
            out.append(
                SourceFacts(
                    "?", "interlock", named(drawing, tie.id), what, (), ("May be a source. Trace before work.",)
                )
            )
    return tuple(out)


def words_first(drawing: Drawing, result: StudyResult) -> tuple[str, ...]:
    """Ids of what must keep its words on a small sheet: service conductors and their first devices, then new work."""
    view = drawing.view(result.view)
    net = build_network(view)
    new = [i.id for i in view.items.values() if i.status == "new"]
    service: dict[str, None] = {}
    for source, start in net.sources.items():
        seen, front = {start}, [start] if isinstance(view.get(source), UtilityService) else []
        while front:
            for key in net.at_node[front.pop(0)]:
                branch = net.branches[key]
                service[branch.item.id] = None
                ends = [n for n in (branch.a, branch.b) if n >= 0 and n not in seen]
                if not isinstance(branch.item, Disconnect | TransferSwitch | SuspectedTie):
                    seen.update(ends)
                    front += ends
    return tuple(dict.fromkeys((*service, *new)))


def _first_devices(net: Network, start: int) -> Iterator[Branch]:
    """The first devices with contacts on every way out of a source, in the drawing's order."""
    seen, front, found = {start}, [start], dict[str, Branch]()
    while front:
        node = front.pop(0)
        for key in net.at_node[node]:
            branch = net.branches[key]
            if isinstance(branch.item, SuspectedTie):
                continue
            if isinstance(branch.item, Disconnect | TransferSwitch):
                found.setdefault(key, branch)
                continue
            other = branch.other(node)
            if other >= 0 and other not in seen:
                seen.add(other)
                front.append(other)
    order = {key: n for n, key in enumerate(net.branches)}
    yield from sorted(found.values(), key=lambda b: order[b.key])


def _opening(
    drawing: Drawing, net: Network, branch: Branch, devices: tuple[Branch, ...], codes: dict[str, str], source: str
) -> Opening:
    state = live_state(net, {b.key: False for b in devices})
    near = net.sources[source]
    reach = state.at_node[near]
    sides = [n for n in (branch.a, branch.b) if n >= 0]
    far = next((n for n in reversed(sides) if source not in state.at_node[n]), sides[-1])
    certain = sorted(codes[s] for s in state.at_node[far] if s in codes)
    possible = sorted(
        codes.get(s) or drawing.name_of(s) for s in state.possibly_at_node[far] - state.at_node[far] if s != source
    )
    taken = _taken_over(drawing, net, branch.item.id, state, state.possibly_at_node[far] | {source}, codes)
    device = f"{named(drawing, branch.item.id)}, {rating_of(branch.item)}"
    if source in state.at_node[far] and source in reach:
        load_side = f"stays live from {', '.join(certain)}: another way around this device is closed"
    elif certain:
        load_side = f"stays live from {', '.join(certain)}"
    elif possible or taken:
        load_side = "no other certain source"
    else:
        load_side = "no other source on this drawing"
    if possible:
        load_side += f"; possibly from {', '.join(possible)}"
    load_side = "; ".join((load_side, *taken))
    if isinstance(branch.item, Disconnect) and not branch.item.closed:
        load_side += " (open now)"
    return Opening(device, place_of(drawing, branch.item), load_side)


def _taken_over(
    drawing: Drawing, net: Network, device: str, state: LiveState, said: frozenset[str], codes: dict[str, str]
) -> list[str]:
    """What transfer switches behind an opened device may take to another source by themselves, as phrases."""
    found = []
    for switch in behind(build_feeding(net)).get(device, ()):
        others = state.possibly_at_node[net.node(switch, "load")] - said
        if others:
            words = ", ".join(sorted(codes.get(s) or drawing.name_of(s) for s in others))
            found.append(f"beyond {named(drawing, switch)} possibly live from {words}")
    return found


def _what(source: Item) -> str:
    parts: list[str] = [source.title.lower()]
    system = getattr(source, "system", None)
    if isinstance(source, UtilityService | Generator):
        parts.append(system_words(system) or f"system {UNKNOWN}")
    if isinstance(source, UtilityService) and source.meter:
        parts.append(f"meter {short(source.meter)}")
    if isinstance(source, Generator):
        parts.append(f"{UNKNOWN if source.kva is None else f'{source.kva:g}'} kVA")
    if isinstance(source, SolarArray | Battery):
        power = f"{source.output_kw:g} kW" if source.output_kw is not None else f"{UNKNOWN} kW"
        parts.append(f"{power}, {amps(source.output_a)}")
    if source.location:
        parts.append(short(source.location))
    return ", ".join(parts)


def system_words(code: str | None) -> str:
    """A nominal system in words, "" when it is not known."""
    return tables.system(code).title if code else ""


def _not_drawn(has_device: bool, transfers: tuple[str, ...]) -> Iterator[str]:
    """What is missing on the ways out of a source. A transfer switch chooses between sources; nobody locks off behind it."""
    for name in transfers:
        yield f"No disconnect is drawn ahead of {name}, which is none itself: find it in the field."
    if not has_device and not transfers:
        yield "No disconnecting device is on the drawing: find it in the field."


def _always(source: Item, net: Network) -> tuple[str, ...]:
    """What opening the device does not change."""
    out = []
    if isinstance(source, UtilityService):
        out.append("Line side stays live; only the utility opens it.")
    elif isinstance(source, SolarArray):
        out.append("Array conductors (dc) stay live in light.")
    elif isinstance(source, Battery):
        out.append("Battery conductors (dc) always stay live.")
    elif isinstance(source, Generator):
        switches = list(net.drawing.of(TransferSwitch))
        if any(t.automatic is not False for t in switches) or not switches:
            out.append("May start by itself: lock it off first.")
    if getattr(source, "forms_grid", None) is not False and isinstance(source, SolarArray | Battery):
        known = getattr(source, "forms_grid", None)
        out.append("Can feed without the utility." if known else "May feed without the utility: not known.")
    return tuple(out)


# ------------------------------------------------------------------------------------------------------- fault current
@dataclass(frozen=True)
class FaultFacts:
    """Available fault current at one point, or why it is not known. ``known``: a value, not a bound."""

    name: str
    value: str
    known: bool
    needs: str = ""


def faults_of(drawing: Drawing, result: StudyResult) -> tuple[FaultFacts, ...]:
    """Fault current at every bus and panel of the view, in the drawing's order."""
    out = []
    for bus in drawing.view(result.view).of(Bus):
        point = result.points.get(bus.id)
        name = named(drawing, bus.id)
        value, known = fault_words(point)
        needs = "; ".join(point.fault_needs) if point is not None and not known else ""
        out.append(FaultFacts(name, value, known, needs))
    return tuple(out)


def fault_words(point: PointFigures | None) -> tuple[str, bool]:
    """("31.4 kA", True), ("17.1 to 27.9 kA", False), ("not over 42.0 kA", False) or ("not known yet", False)."""
    if point is not None and point.fault_duty_a is not None:
        return kiloamperes(point.fault_duty_a), True
    if point is not None and point.fault_bound_a is not None:
        bounds = kiloamperes_between(point.fault_least_a, point.fault_bound_a)
        return bounds.replace("≤", "not over").replace("–", " to "), False
    return "not known yet", False


# --------------------------------------------------------------------------------------------------------------- other
def statuses_used(drawing: Drawing, view: str) -> tuple[str, ...]:
    """Statuses on the sheet, in the usual order."""
    shown = drawing.view(view)
    used = {i.status for i in shown.items.values()}
    used |= {c.status for b in shown.of(Bus) for c in b.circuits}
    return tuple(s for s in STATUS_LETTERS if s in used)
