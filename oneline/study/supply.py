"""How each conductor run is supplied: what protects it, on which side of the service it is, and what it ends in.

Worked out once for a view and used by conductors, taps, grounding, raceways and available load.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from math import prod
from typing import Any

from oneline import tables
from oneline.model import (
    ConductorRun,
    Disconnect,
    Item,
    Transformer,
    basis_of,
)
from oneline.model.quick import quick
from oneline.rules.ampacity import COLUMNS_C, Ampacity, RunFacts, ampacity
from oneline.rules.common import Fact, Subject, number, size_text, unique
from oneline.rules.overcurrent import (
    ProtectionFacts,
    SpecialLoad,
    conductor_protection,
    is_protected,
)
from oneline.rules.secondary_taps import voltage_ratio
from oneline.study.context import Context, Protection, protects
from oneline.study.ends import EQUIPMENT_FORMS, buses_at, device_kind, device_rating, subject_of
from oneline.study.raceway_wires import overfull
from oneline.study.series_runs import eased
from oneline.study.sharing import count_of
from oneline.study.special import special_load

_AMPACITY_FIELDS = (
    "sets", "size", "material", "insulation", "wet", "ambient_c", "current_carrying", "terminal_c", "mostly_nonlinear",
    "rooftop", "roof_height_ft",
)  # fmt: skip


@quick
@dataclass(frozen=True)
class RunSupply:
    """A run with everything the rules about its supply read.

    ``kind``: "feeder" (an overcurrent device ahead at the same voltage), "secondary" (the device is ahead of a
    transformer), "service" (ahead of every device of a utility service) or "source" (of another source). ``rating``: of
    the device ahead, amperes at its own voltage; ``ratio``: to amperes here. ``state``: whether the device protects the
    run at its ampacity: "pass", "fail" (a tap), "unknown"; "" where the question does not arise. ``direct``: starts on
    the load terminals of that device. ``parent``: id of the tap or secondary run that it continues, "" otherwise.
    ``maybe_parent``: id of a nearer run that it continues and that may be a tap, while that is not known.
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
    maybe_parent: str = ""

    @property
    def subject(self) -> Subject:
        return self.facts.subject

    @property
    def ampacity(self) -> Ampacity:
        return ampacity(self.facts)

    @property
    def is_tap(self) -> bool:
        return self.kind == "feeder" and self.state == "fail"


# ------------------------------------------------------------------------------------------------- facts
def load_fact(ctx: Context, node: int, counted: bool = True) -> Fact:
    """Load at a node, largest phase, amperes. ``counted``: continuous load at 125 %."""
    return ctx.demand.largest(node, counted)


def _assumption(field: str, value: Any) -> str:
    """An assumed field of a run as a short phrase: "30 °C ambient"."""
    words: dict[str, Callable[[Any], str]] = {
        "sets": lambda v: f"{v} set{'s' if v > 1 else ''}",
        "size": lambda v: size_text(v),
        "insulation": lambda v: f"{v} insulation",
        "wet": lambda v: "wet location" if v else "dry location",
        "ambient_c": lambda v: f"{number(v)} °C ambient",
        "current_carrying": lambda v: f"{v} current-carrying conductors",
        "terminal_c": lambda v: f"{number(v)} °C terminals",
        "mostly_nonlinear": lambda v: "mostly nonlinear load" if v else "mostly linear load",
        "rooftop": lambda v: "on a sunlit roof" if v else "not on a sunlit roof",
        "roof_height_ft": lambda v: f"{number(12 * v, 3)} in above the roof",
    }
    return words.get(field, str)(value)


def run_facts(ctx: Context, run: ConductorRun, line: int, load: int) -> RunFacts:
    """What the ampacity of a run is reckoned from; a short part of a longer run takes the surroundings of the rest."""
    return eased(ctx, own_facts(ctx, run, line, load), run, lambda other: facts_alone(ctx, other))


def facts_alone(ctx: Context, run: ConductorRun) -> RunFacts | None:
    """The facts of a run by itself; ``None`` where nothing feeds it."""
    line, load = ctx.feeding.line_node(run.id), ctx.feeding.load_node(run.id)
    return None if line is None or load is None else own_facts(ctx, run, line, load)


def own_facts(ctx: Context, run: ConductorRun, line: int, load: int) -> RunFacts:
    """What the ampacity of a run by itself is reckoned from."""
    marked = terminal_marks(ctx, run)
    terminal_c, by_equipment = _terminals(run, marked)
    known = [c for _, c in marked if c is not None]
    assumed = tuple(
        _assumption(name, getattr(run, name))
        for name in _AMPACITY_FIELDS
        if run.basis.get(name) == "assumed" and getattr(run, name) is not None and name not in by_equipment
    )
    assumed += tuple(
        f"{_assumption('terminal_c', c)} at {ctx.name(item.id)}" for item, c in marked
        if c is not None and item.basis.get("terminal_c") == "assumed" and c == terminal_c
    )  # fmt: skip
    basis = basis_of(run, *(n for n in _AMPACITY_FIELDS if getattr(run, n) is not None and n not in by_equipment))
    ambient_c, current_carrying = run.ambient_c, run.current_carrying
    project = ctx.full.project
    if ambient_c is None and project.assumed_ambient_c is not None:
        ambient_c, basis = project.assumed_ambient_c, "assumed"
        assumed += (_assumption("ambient_c", ambient_c),)
    count, named = count_of(ctx, run)
    derived = named and count.exact is not None
    if current_carrying is None and project.assumed_current_carrying is not None and not derived:
        current_carrying, basis = project.assumed_current_carrying, "assumed"
        assumed += (_assumption("current_carrying", current_carrying),)
    return RunFacts(
        Subject(run.id, ctx.name(run.id)), ctx.edition, run.size, run.material, run.insulation, run.sets, run.wet,
        ambient_c, current_carrying, count.least, run.raceway, run.length_ft, terminal_c,
        min(known) if known else None, _circuit_a(ctx, line, load), basis, assumed, count.most if named else None,
        count.needs if named else (), run.rooftop, None if run.roof_height_ft is None else run.roof_height_ft * 12,
        run.raceway == "wireway" and overfull(ctx, run),
    )  # fmt: skip


def terminal_marks(ctx: Context, run: ConductorRun) -> list[tuple[Item, float | None]]:
    """The equipment at both ends of a run with the temperature its terminals are marked for, °C."""
    items = [ctx.drawing.get(end.item) for end in (run.a, run.b) if end.item in ctx.drawing.items]
    return [(item, getattr(item, "terminal_c", None)) for item in items]


def _terminals(run: ConductorRun, marked: list[tuple[Item, float | None]]) -> tuple[float | None, tuple[str, ...]]:
    """What the terminals of a run are good for, °C, by the lowest of run and both ends (110.14(C)); and the field of the
    run that takes no part because it is only assumed while the equipment is marked."""
    known = [float(c) for _, c in marked if c is not None]
    complete = len(known) == len(marked)
    stated = run.terminal_c
    if stated is not None and complete and run.basis.get("terminal_c") == "assumed":
        return min(known), ("terminal_c",)
    if stated is not None:
        return min([stated, *known]), ()
    # Below the lowest column no other end can go.
    lowest = bool(known) and min(known) <= COLUMNS_C[0]
    return (min(known) if complete or lowest else None), ()


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


# ------------------------------------------------------------------------------------------------- all runs
def supplies(ctx: Context) -> Mapping[str, RunSupply]:
    """Supply of every fed run of the view, by run id, in drawing order."""
    return {run.id: found for run, _, _ in ctx.runs() if (found := supply_of(ctx, run.id)) is not None}


def supply_of(ctx: Context, run_id: str) -> RunSupply | None:
    """Supply of a run, ``None`` of one that nothing feeds or that is not in the view. Worked out once."""
    return ctx.recall("supply", run_id, lambda: _with_parent(ctx, _own_supply(ctx, run_id)))


def _own_supply(ctx: Context, run_id: str) -> RunSupply | None:
    """Supply of a run without its parent."""
    return ctx.recall("own supply", run_id, lambda: _found_supply(ctx, run_id))


def _found_supply(ctx: Context, run_id: str) -> RunSupply | None:
    if run_id not in ctx.net.branches:
        return None
    run, line, load = ctx.drawing.get(run_id), ctx.feeding.line_node(run_id), ctx.feeding.load_node(run_id)
    return None if not isinstance(run, ConductorRun) or line is None or load is None else _supply(ctx, run, line, load)


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
    direct = not protection.branches and not buses_at(ctx, line)
    special = special_load(ctx, load, device_kind(device)) if state != "pass" else None
    if special is not None:
        judged = conductor_protection(
            ProtectionFacts(facts, subject_of(ctx, device), rating, device_kind(device), special)
        )
        # Away from the device's own terminals a device too large is a matter of taps, not of the motor's breaker.
        if judged.rule == "OCP-4G" and (direct or judged.state == "pass"):
            state = "special"
    return RunSupply(run, line, load, facts, protection, "feeder", rating, Fact(1.0), state, direct, special)


def _with_parent(ctx: Context, supply: RunSupply | None) -> RunSupply | None:
    """Adds the nearest tap or secondary run toward the source that no overcurrent device separates from this one."""
    if supply is None or (not supply.is_tap and supply.kind != "secondary"):
        return supply
    for branch in supply.protection.branches:
        if isinstance(branch.item, Transformer):
            break
        above = _own_supply(ctx, branch.item.id)
        if above is None:
            continue
        if above.is_tap or above.kind == "secondary":
            return replace(supply, parent=above.run.id)
        if above.kind == "feeder" and above.state == "unknown":
            return replace(supply, maybe_parent=above.run.id)
    return supply
