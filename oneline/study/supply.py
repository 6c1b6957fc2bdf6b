"""How each conductor run is supplied: what protects it, on which side of the service it is, and what it ends in.

Worked out once for a view and used by conductors, taps, grounding, raceways and available load.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from math import isinf, prod

from oneline import tables
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
    specs,
)
from oneline.rules.ampacity import Ampacity, RunFacts, ampacity
from oneline.rules.common import Fact, Subject, number, unique
from oneline.rules.overcurrent import (
    ProtectionFacts,
    SpecialLoad,
    conductor_protection,
    hvac_load,
    is_protected,
    motor_load,
)
from oneline.rules.secondary_taps import voltage_ratio
from oneline.rules.tap_conditions import TapEnd
from oneline.study.context import Context, Protection, protects

#: Buses with devices of their own in them; the others only join conductors.
EQUIPMENT_FORMS = ("panelboard", "switchboard", "meter center")
_AMPACITY_FIELDS = ("sets", "size", "material", "insulation", "wet", "ambient_c", "current_carrying", "terminal_c")


@dataclass(frozen=True)
class RunSupply:
    """A run with everything the rules about its supply read.

    ``kind``: "feeder" (an overcurrent device ahead at the same voltage), "secondary" (the device is ahead of a
    transformer), "service" (ahead of every device of a utility service) or "source" (of another source). ``rating``: of
    the device ahead, amperes at its own voltage; ``ratio``: to amperes here. ``state``: whether the device protects the
    run at its ampacity: "pass", "fail" (a tap), "unknown"; "" where the question does not arise. ``direct``: starts on
    the load terminals of that device. ``parent``: id of the tap or secondary run that it continues, "" otherwise.
    """

    run: ConductorRun
    line: int
    load: int
    facts: RunFacts
    protection: Protection
    kind: str
    rating: Fact
    ratio: Fact
    state: str
    direct: bool
    special: SpecialLoad | None = None
    parent: str = ""

    @property
    def subject(self) -> Subject:
        return self.facts.subject

    @property
    def ampacity(self) -> Ampacity:
        return ampacity(self.facts)

    @property
    def is_tap(self) -> bool:
        return self.kind == "feeder" and self.state == "fail"


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


# ------------------------------------------------------------------------------------------------- facts
def device_kind(device: Disconnect) -> str:
    """ "breaker" or "fuse", as the list of standard ratings has them."""
    return "breaker" if device.form == "breaker" else "fuse"


def device_rating(ctx: Context, device: Disconnect) -> Fact:
    """Rating of an overcurrent device, amperes; of an adjustable breaker the highest setting (240.6(C)).

    Unknown fuses are at most what their switch holds, an unknown trip at most the frame.
    """
    name = ctx.name(device.id)
    what = "fuse rating" if device_kind(device) == "fuse" else "trip rating"
    if device.adjustable and device.form == "breaker":
        basis = basis_of(device, "rating_a")
        need = f"highest setting of the adjustable breaker {name}"
        return Fact(device.rating_a, device.trip_a, None, basis, need, f"highest setting of {name}")
    basis = basis_of(device, "trip_a")
    return Fact(device.trip_a, None, device.rating_a, basis, f"{what} of {name}", f"{what} of {name}")


def holder_rating(device: Disconnect, ctx: Context) -> Fact:
    """Rating of the switch or frame around the overcurrent device, amperes."""
    name = f"switch rating of {ctx.name(device.id)}"
    return Fact(device.rating_a, basis=basis_of(device, "rating_a"), need=name, name=name)


def load_fact(ctx: Context, node: int, counted: bool = True) -> Fact:
    """Load at a node, largest phase, amperes. ``counted``: continuous load at 125 %."""
    bounds = ctx.demand.bounds(node, counted)
    need, *also = ctx.demand.needs(node) or ("system at this point",)
    if not bounds:
        return Fact(None, 0.0, None, need=need, name="load", also=tuple(also))
    low = max(b.low for b in bounds.values())
    highs = [b.high for b in bounds.values()]
    high = None if any(h is None or isinf(h) for h in highs) else max(h for h in highs if h is not None)
    value = low if high is not None and high - low <= 1e-9 * max(1.0, low) else None
    assumed = ctx.demand.assumed(node)
    basis = "assumed" if assumed else ctx.demand.basis(node)
    return Fact(value, low, high, basis, need, "load", assumed, tuple(also))


def run_facts(ctx: Context, run: ConductorRun, line: int, load: int) -> RunFacts:
    """What the ampacity of a run is reckoned from."""
    phases = run.phases or ctx.feeding.phases[load]
    marked = [getattr(ctx.drawing.items.get(end.item), "terminal_c", None) for end in (run.a, run.b)]
    known = [float(c) for c in marked if c is not None]
    terminal_c = run.terminal_c
    if terminal_c is None and len(known) == len(marked):
        terminal_c = min(known)
    assumed = tuple(
        specs(ConductorRun)[name].label.lower() + f" of {ctx.name(run.id)}"
        for name in _AMPACITY_FIELDS
        if run.basis.get(name) == "assumed" and getattr(run, name) is not None
    )
    basis = basis_of(run, *(n for n in _AMPACITY_FIELDS if getattr(run, n) is not None))
    ambient_c, current_carrying = run.ambient_c, run.current_carrying
    project = ctx.full.project
    if ambient_c is None and project.assumed_ambient_c is not None:
        ambient_c, basis = project.assumed_ambient_c, "assumed"
        assumed += (f"{number(ambient_c)} °C ambient for the whole drawing",)
    if current_carrying is None and project.assumed_current_carrying is not None:
        current_carrying, basis = project.assumed_current_carrying, "assumed"
        assumed += (f"{current_carrying} current-carrying conductors in a raceway for the whole drawing",)
    return RunFacts(
        Subject(run.id, ctx.name(run.id)), ctx.edition, run.size, run.material, run.insulation, run.sets, run.wet,
        ambient_c, current_carrying, max(1, len(phases)), run.raceway, run.length_ft, terminal_c,
        min(known) if known else None, _circuit_a(ctx, line, load), basis, assumed,
    )  # fmt: skip


def _circuit_a(ctx: Context, line: int, load: int) -> float | None:
    """Rating of the circuit for the terminals' default: the one device it ends in, else the device ahead."""
    children = [branch.item for branch, _ in ctx.feeding.children(load)]
    panel = any(bus.form in EQUIPMENT_FORMS for bus in buses_at(ctx, load))
    if len(children) == 1 and protects(children[0]) and not panel:
        device = children[0]
        assert isinstance(device, Disconnect)
        return device.trip_a
    ahead = ctx.protection_of(line)
    return ahead.device.trip_a if ahead.device is not None and not ahead.transformers else None


def buses_at(ctx: Context, node: int) -> list[Bus]:
    """Buses that a node is part of."""
    items = (ctx.drawing.items[end.item] for end in ctx.net.ends_of[node])
    return [item for item in items if isinstance(item, Bus)]


def system_volts(ctx: Context, node: int) -> Fact:
    """Line-to-line voltage at a node."""
    code = ctx.feeding.system[node]
    return Fact(None if code is None else tables.system(code).v_ll)


def transformer_ratio(ctx: Context, transformer: Transformer) -> Fact:
    """Voltage ratio from the fed side to the other: amperes ahead times it are amperes behind."""
    line, load = ctx.feeding.line_node(transformer.id), ctx.feeding.load_node(transformer.id)
    name = ctx.name(transformer.id)
    if line is None or load is None:
        return voltage_ratio(Fact(None), Fact(None), name)
    primary = system_volts(ctx, line)
    if primary.value is None and transformer.primary_system:
        primary = Fact(tables.system(transformer.primary_system).v_ll)
    return voltage_ratio(primary, system_volts(ctx, load), name)


def ratio_of(ctx: Context, transformers: tuple[Transformer, ...]) -> Fact:
    """Product of the voltage ratios of transformers in a row."""
    ratios = [transformer_ratio(ctx, t) for t in transformers]
    if any(r.value is None for r in ratios):
        need, *also = unique(n for r in ratios for n in r.needs)
        return Fact(None, need=need, also=tuple(also), name="voltage ratio")
    return Fact(prod(r.value or 1.0 for r in ratios), name="voltage ratio")


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
    return TapEnd(subject_of(ctx, item), "device", rating, holder, device_kind(item))


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


# ------------------------------------------------------------------------------------------------- all runs
def supplies(ctx: Context) -> Mapping[str, RunSupply]:
    """Supply of every fed run of the view, by run id, in drawing order. Worked out once."""
    cache: dict[str, Mapping[str, RunSupply]] = ctx.__dict__.setdefault("_supplies", {})
    if "all" not in cache:
        found: dict[str, RunSupply] = {}
        for run, line, load in ctx.runs():
            found[run.id] = _supply(ctx, run, line, load)
        cache["all"] = {key: _with_parent(found, value) for key, value in found.items()}
    return cache["all"]


def _supply(ctx: Context, run: ConductorRun, line: int, load: int) -> RunSupply:
    facts = run_facts(ctx, run, line, load)
    protection = ctx.protection_of(line)
    device = protection.device
    if device is None:
        source = ctx.drawing.items.get(protection.source)
        kind = "service" if source is not None and source.kind == "service" else "source"
        return RunSupply(run, line, load, facts, protection, kind, Fact(None), Fact(1.0), "", False)
    rating = device_rating(ctx, device)
    if protection.transformers:
        ratio = ratio_of(ctx, protection.transformers)
        return RunSupply(run, line, load, facts, protection, "secondary", rating, ratio, "", False)
    state = is_protected(ampacity(facts).fact(facts.subject.name), rating, ctx.edition, device_kind(device))
    special = special_load(ctx, load, line, device_kind(device)) if state != "pass" else None
    if special is not None:
        judged = conductor_protection(
            ProtectionFacts(facts, subject_of(ctx, device), rating, device_kind(device), special)
        )  # fmt: skip
        state = "special" if judged.rule == "OCP-4G" else state
    direct = not protection.branches and not buses_at(ctx, line)
    return RunSupply(run, line, load, facts, protection, "feeder", rating, Fact(1.0), state, direct, special)


def _with_parent(found: Mapping[str, RunSupply], supply: RunSupply) -> RunSupply:
    """Adds the nearest tap or secondary run toward the source that no overcurrent device separates from this one."""
    if not supply.is_tap and supply.kind != "secondary":
        return supply
    for branch in supply.protection.branches:
        if isinstance(branch.item, Transformer):
            break
        above = found.get(branch.item.id)
        if above is not None and (above.is_tap or above.kind == "secondary"):
            return RunSupply(**{**supply.__dict__, "parent": branch.item.id})
    return supply


def special_load(ctx: Context, node: int, line: int, kind: str) -> SpecialLoad | None:
    """The one motor or air conditioner that a run supplies, directly or through a switch without fuses."""
    ends = ends_from(ctx, node, Fact(0.0))
    if len(ends.loads) != 1 or ends.devices or ends.equipment is not None or len(ends.ends) != 1:
        return None
    load = ends.loads[0]
    name = ctx.name(load.id)
    if load.mca_a is not None or load.mocp_a is not None or load.load_class == "hvac":
        return hvac_load(name, load.mca_a, load.mocp_a, basis_of(load, "mca_a", "mocp_a"))
    if load.load_class != "motor":
        return None
    code = ctx.feeding.system[line]
    three = (load.phases or ctx.feeding.phases[line]) == "ABC"
    current_a = None
    if load.horsepower is not None and code is not None:
        system = tables.system(code)
        volts = system.v_ln if load.phases in ("A", "B", "C") and system.v_ln else system.v_ll
        try:
            current_a = tables.motor_flc_a(load.horsepower, volts, 3 if three else 1)
        except tables.NotInTable:
            current_a = None
    return motor_load(name, current_a, three, ctx.edition, kind, basis_of(load, "horsepower"))
