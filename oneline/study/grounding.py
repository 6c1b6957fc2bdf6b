"""Grounding conductors of the runs on a drawing, and where its neutrals are bonded."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from oneline import tables
from oneline.model import (
    Bus,
    ConductorRun,
    Disconnect,
    Generator,
    Item,
    Load,
    TransferSwitch,
    Transformer,
    UtilityService,
)
from oneline.model.quick import quick
from oneline.rules.bonds import BondFacts, frame_grounded_by_neutral, load_side_bond, service_bond, source_bond
from oneline.rules.common import Fact, Subject, existing_work, listed, resting_on, unique
from oneline.rules.grounding import EgcFacts, JumperFacts, electrode_conductor, equipment_grounding, supply_side_jumper
from oneline.rules.verdict import Verdict
from oneline.study.context import Context, protects
from oneline.study.ends import EQUIPMENT_FORMS, assumptions, buses_at, device_kind, run_length, subject_of, system_need
from oneline.study.rings import rings
from oneline.study.services import entrances
from oneline.study.sharing import run_phases, sets_in_one
from oneline.study.subject import for_all
from oneline.study.supply import RunSupply, load_fact, supply_of

#: What the area of the phase conductors follows from.
_PHASES = ("size", "sets", "material")
_EGC_FIELDS = ("egc_size", "egc_material")


def about(ctx: Context, item: Item) -> Iterator[Verdict]:
    """GND-3 (GND-7) of feeders and taps, GND-4 of secondaries, GND-1 and GND-2 of services, GND-5 of load-side bonds, GND-6
    of transformers."""
    supply = supply_of(ctx, item.id) if isinstance(item, ConductorRun) else None
    if supply is not None:
        if supply.kind == "feeder":
            yield _equipment_conductor(ctx, supply)
        elif supply.kind == "secondary" and supply.run.egc_size != "raceway":
            yield _jumper(ctx, supply, "supply-side bonding jumper")
        elif supply.kind == "service" and _has_neutral(ctx, supply.load) is not False:
            yield _if_neutral(ctx, supply.load, _jumper(ctx, supply, "neutral"))
    place = _place(ctx, item)
    if place is not None and place.behind is not None and _asked(ctx, item):
        yield _load_side(ctx, place, place.behind)
    if isinstance(item, Load) and item.neutral_bonded:
        yield _frame(ctx, item)
    if isinstance(item, UtilityService):
        yield from _electrode(ctx, item)
    if isinstance(item, UtilityService | Transformer):
        yield from _source_bond(ctx, item)


# ------------------------------------------------------------------------------------------------- conductors
def egc_facts(ctx: Context, supply: RunSupply) -> EgcFacts:
    """What the size of a run's equipment grounding conductor follows from."""
    device = supply.protection.device
    assert device is not None
    run = supply.run
    fields = ("egc_size", "raceway", "raceway_size", "length_ft") if run.egc_size == "raceway" else _EGC_FIELDS
    assumed = assumptions(ctx, run, *fields)
    load = load_fact(ctx, supply.load) if ctx.feeding.position[supply.load] >= 0 else Fact(None)
    return EgcFacts(
        supply.facts, subject_of(ctx, device), supply.rating, run.egc_size, run.egc_material, load,
        supply.is_tap, device_kind(device), run.raceway_size, run_length(ctx, run), assumed,
    )  # fmt: skip


def _equipment_conductor(ctx: Context, supply: RunSupply) -> Verdict:
    return existing_work(equipment_grounding(egc_facts(ctx, supply)), supply.run.status)


def _jumper(ctx: Context, supply: RunSupply, what: str) -> Verdict:
    run = supply.run
    size = run.neutral_size if what == "neutral" else run.egc_size
    material = run.material if what == "neutral" else run.egc_material
    fields = ("neutral_size",) if what == "neutral" else _EGC_FIELDS
    counted = ("current_carrying",) if (run.sets or 1) > 1 else ()
    in_one = sets_in_one(run, len(run_phases(ctx, run)))
    found = resting_on(
        supply_side_jumper(JumperFacts(supply.facts, what, size, material, in_one)),
        assumptions(ctx, run, *_PHASES, *fields, *counted),
    )
    return existing_work(found, run.status)


def _electrode(ctx: Context, service: UtilityService) -> Iterator[Verdict]:
    """One line for each service: the conductors nearest to it decide."""
    for run, line, _ in ctx.runs():
        if ctx.feeding.root[line] != service.id or ctx.protection_of(line).device is not None:
            continue
        supply = supply_of(ctx, run.id)
        if supply is not None and supply.kind == "service":
            found = electrode_conductor(subject_of(ctx, service), supply.facts)
            yield resting_on(found, assumptions(ctx, run, *_PHASES))
            return


def _has_neutral(ctx: Context, node: int) -> bool | None:
    """Whether the system at a node has a neutral; ``None`` where the system is not known."""
    code = ctx.feeding.system[node]
    return None if code is None else tables.system(code).has_neutral


def _if_neutral(ctx: Context, node: int, found: Verdict) -> Verdict:
    """A finding on the neutral of a system that may have none: what passes does either way, the rest asks for it."""
    if _has_neutral(ctx, node) or found.state not in ("fail", "judge", "unknown"):
        return found
    need = system_need(ctx, node)
    if found.state == "unknown":
        return replace(found, needs=unique((*found.needs, need)))
    message = f"Whether there is a neutral here is not known yet. If there is one: {found.message}"
    return replace(found, state="unknown", message=message, needs=(need,), remedy="")


# ------------------------------------------------------------------------------------------------------ bonds
@quick
@dataclass(frozen=True)
class _Place:
    """An item that can hold a bond: the disconnect behind which it lies, the source of its neutral, and whether a
    disconnect of its own enclosure lies toward the source."""

    item: Item
    behind: Item | None
    source: Item
    first: bool
    node: int


def _load_side(ctx: Context, place: _Place, behind: Item) -> Verdict:
    bond = load_side_bond(
        BondFacts(
            subject_of(ctx, place.item), ctx.edition, _bonded(place.item), subject_of(ctx, behind),
            subject_of(ctx, place.source), _old_building(ctx, place.node), *_read_there(place.item),
            isinstance(place.item, Bus) and place.item.form == "meter center", getattr(behind, "gfp_fitted", None),
        )
    )  # fmt: skip
    # Where a neutral is bonded there is one, whatever the system.
    return bond if _bonded(place.item) else _if_neutral(ctx, place.node, bond)


def _read_there(item: Item) -> tuple[float | None, float | None]:
    """The latest voltage between neutral and ground read at an item, and the current in its neutral by the clamp reading of
    the same time, or the latest one where none has it."""
    volts = next((v for v in reversed(item.voltages) if v.ng_v is not None), None)
    if volts is None:
        return None, None
    loaded = [r for r in reversed(item.readings) if r.n_a is not None]
    reading = next((r for r in loaded if r.when == volts.when), loaded[0] if loaded else None)
    return volts.ng_v, reading.n_a if reading is not None else None


def _frame(ctx: Context, load: Load) -> Verdict:
    """A frame grounded by the neutral: its circuit is existing where the load and the run to it are."""
    node = ctx.net.node(load.id)
    key = ctx.feeding.branch[node] if ctx.feeding.position[node] >= 0 else ""
    run = ctx.net.branches[key].item if key else None
    existing = all(i is None or i.status in ("existing", "remove") for i in (load, run))
    household = load.load_class in ("dwelling dryer", "dwelling cooking")
    return frame_grounded_by_neutral(subject_of(ctx, load), ctx.edition, household, existing)


def _source_bond(ctx: Context, source: UtilityService | Transformer) -> Iterator[Verdict]:
    """The bond of the neutral that a service or a transformer brings, over all places that can hold it. Transformers side
    by side bring one neutral: the first of them speaks for all."""
    mates = _side_by_side(ctx, source) if isinstance(source, Transformer) else ()
    if len(mates) > 1:
        if source.id == mates[0].id:
            yield from _shared_bond(ctx, mates)
        return
    group = [p for p in _ahead(ctx, source) if p.source.id == source.id]
    if not group:
        return
    disconnects = next((e.disconnects for e in entrances(ctx) if e.service.id == source.id), [])
    if disconnects:
        yield _if_neutral(ctx, group[0].node, _service_bond(ctx, source, disconnects))
        return
    belong = [p for p in group if p.behind is None and (p.first or _bonded(p.item))]
    named = [(subject_of(ctx, p.item), _bonded(p.item)) for p in belong]
    derived = isinstance(source, Transformer)
    if derived:
        named.insert(0, (subject_of(ctx, source), _bonded(source)))
    yield _if_neutral(ctx, group[0].node, source_bond(subject_of(ctx, source), derived, tuple(named), ctx.edition))


def _shared_bond(ctx: Context, mates: tuple[Transformer, ...]) -> Iterator[Verdict]:
    """GND-6 of transformers whose secondaries are closed together: one bond for all of them."""
    ids = {m.id for m in mates}
    found = rings(ctx)
    # A device that closes the loop has no line side of its own: with the loop opened elsewhere it has.
    ways = (found.contexts if found is not None else ()) or (ctx,)
    places = [p for way in ways for mate in mates for p in _ahead(way, mate) if p.source.id in ids]
    if not places:
        return
    belong = {p.item.id for p in places if p.behind is None and (p.first or _bonded(p.item))}
    named = [(subject_of(ctx, m), _bonded(m)) for m in mates]
    named += [(subject_of(ctx, i), _bonded(i)) for i in (ctx.drawing.get(k) for k in ctx.drawing.items if k in belong)]
    whole = Subject(mates[0].id, listed([ctx.name(m.id) for m in mates]))
    node = _secondary(ctx, mates[0].id)
    yield _if_neutral(ctx, node, source_bond(whole, True, tuple(named), ctx.edition))


def _side_by_side(ctx: Context, transformer: Transformer) -> tuple[Transformer, ...]:
    """Transformers with secondaries that are normally closed together, in drawing order; nothing where it is alone."""
    if transformer.id not in ctx.net.branches:
        return ()
    start = _secondary(ctx, transformer.id)
    if start not in ctx.feeding.looped:
        return ()
    found = ctx.settled(("secondaries closed together", start), lambda: _closed_together(ctx, start))
    return tuple(t for i in found if isinstance(t := ctx.drawing.get(i), Transformer))


def _secondary(ctx: Context, key: str) -> int:
    """Node of a transformer away from its source; at its load terminals where it closes a loop itself."""
    node = ctx.feeding.load_node(key)
    return ctx.net.branches[key].b if node is None else node


def _closed_together(ctx: Context, start: int) -> tuple[str, ...]:
    """Ids of transformers that feed the piece that is normally closed together with a node."""
    seen, waiting = {start}, [start]
    met: set[str] = set()
    for node in waiting:  # grows while it is walked
        for key in ctx.net.at_node[node]:
            branch = ctx.net.branches[key]
            other = branch.other(node)
            if isinstance(branch.item, Transformer):
                if _secondary(ctx, key) == node:
                    met.add(branch.item.id)
            elif branch.normally_closed and other >= 0 and other not in seen:
                seen.add(other)
                waiting.append(other)
    return tuple(i for i in ctx.drawing.items if i in met)


def _ahead(ctx: Context, source: Item) -> list[_Place]:
    """Places up to the first conductors behind a disconnect, in drawing order."""
    start = ctx.feeding.load_node(source.id) if isinstance(source, Transformer) else ctx.net.node(source.id)
    if start is None or ctx.feeding.root[start] == "":
        return []
    found: set[str] = set()
    waiting = [(start, False)]
    while waiting:
        node, cut = waiting.pop()
        found.update(end.item for end in ctx.net.ends_of[node])
        for branch, below in ctx.feeding.children(node):
            if not isinstance(branch.item, Transformer) and not (cut and isinstance(branch.item, ConductorRun)):
                waiting.append((below, cut or isinstance(branch.item, TransferSwitch) or _cuts(branch.item)))
    order = [i for i in ctx.drawing.items if i in found]
    return [p for i in order if (p := _place(ctx, ctx.drawing.get(i))) is not None]


def _old_building(ctx: Context, node: int) -> str:
    """The second building that a place is in, where an old feeder without an equipment grounding conductor leads to it."""
    for branch, _ in ctx.feeding.path(node):
        run = branch.item
        if isinstance(run, Transformer):
            return ""
        if isinstance(run, ConductorRun) and run.to_building:
            old = run.egc_size == "none" and run.status in ("existing", "remove")
            return run.to_building if old else ""
    return ""


def _service_bond(ctx: Context, service: Item, disconnects: list[Disconnect]) -> Verdict:
    """GND-1 over all service disconnects. Where others are bonded, one that is not on old work is a question."""
    places: list[tuple[Subject, bool | None]] = []
    status = "existing"
    for device in disconnects:
        line, load = ctx.feeding.line_node(device.id), ctx.feeding.load_node(device.id)
        around = [
            b for node in (line, load) if node is not None for b in buses_at(ctx, node) if b.form in EQUIPMENT_FORMS
        ]
        bonded = next((item for item in (device, *around) if _bonded(item)), None)
        asked = next((b for b in around if _bonded(b) is None), None) if _bonded(device) is None else None
        places.append((subject_of(ctx, bonded or asked or device), True if bonded else _bonded(device)))
        if places[-1][1] is False and device.status == "new":
            status = "new"
    found = service_bond(subject_of(ctx, service), tuple(places), ctx.edition)
    return existing_work(found, status) if any(state for _, state in places) else found


def _bonded(item: Item) -> bool | None:
    value: bool | None = getattr(item, "neutral_bonded", None)
    return value


def _asked(ctx: Context, item: Item) -> bool:
    """Panels and switchboards are always asked about, and fused switches and breakers in enclosures of their own; other
    places where something is known."""
    if isinstance(item, Bus) and item.form in EQUIPMENT_FORMS:
        return True
    return bool(_bonded(item)) or (_bonded(item) is None and _own_enclosure(ctx, item))


def _own_enclosure(ctx: Context, item: Item) -> bool:
    """Whether conductors with a neutral come to an overcurrent device that no panel or switchboard holds."""
    if not protects(item):
        return False
    line, load = ctx.feeding.line_node(item.id), ctx.feeding.load_node(item.id)
    key = ctx.feeding.branch[line] if line is not None else ""
    run = ctx.net.branches[key].item if key else None
    held = any(b.form in EQUIPMENT_FORMS for node in (line, load) if node is not None for b in buses_at(ctx, node))
    return isinstance(run, ConductorRun) and run.neutral_size != "none" and not held


def _place(ctx: Context, item: Item) -> _Place | None:
    """Where a bus or disconnect stands between its source and what it feeds; ``None`` for others and without neutral."""
    if isinstance(item, Bus):
        node = ctx.net.node(item.id)
    elif isinstance(item, Disconnect):
        line = ctx.feeding.line_node(item.id)
        if line is None:
            return None
        node = line
    else:
        return None
    if ctx.feeding.position[node] < 0 or _has_neutral(ctx, node) is False:
        return None
    run_passed, own_disconnect = False, False
    behind: Item | None = None
    source: Item | None = ctx.drawing.items.get(ctx.feeding.root[node])
    for branch, _up in ctx.feeding.path(node):
        if isinstance(branch.item, Transformer):
            source = branch.item
            break
        if isinstance(branch.item, ConductorRun):
            run_passed = True
        elif isinstance(branch.item, TransferSwitch) or _cuts(branch.item):
            if run_passed:
                behind = behind or branch.item
            else:
                own_disconnect = True
    if not isinstance(source, UtilityService | Generator | Transformer):
        return None
    return _Place(item, behind, source, isinstance(item, Bus) or not own_disconnect, node)


def _cuts(item: Item) -> bool:
    """A disconnect that may be the service disconnect: not one marked as none (at a meter, ahead of the service)."""
    return isinstance(item, Disconnect) and item.service_disconnect is not False


#: Everything this subject finds on a drawing.
verdicts = for_all(about, of=(Bus, ConductorRun, Disconnect, Load, Transformer, UtilityService))
