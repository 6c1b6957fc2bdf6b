"""Working space, device places and wiring space on the drawing: asked of new equipment, judged where entered."""

from __future__ import annotations

from collections.abc import Iterator

from oneline import tables
from oneline.model import Bus, ConductorRun, Disconnect, Item, basis_of, specs
from oneline.model.vocabulary import CONDUCTOR_SIZES
from oneline.rules.bending import BendingFacts, bending_space
from oneline.rules.common import Fact, Subject, existing_work
from oneline.rules.verdict import Verdict
from oneline.rules.working_space import (
    DevicePlaceFacts,
    SpaceFacts,
    WiringSpaceFacts,
    device_place,
    wiring_space,
    working_space,
)
from oneline.study.context import Context, protects
from oneline.study.ends import EQUIPMENT_FORMS, buses_at, holder_rating, system_need
from oneline.study.services import disconnect_rating, entrances
from oneline.study.services import sum_of_ratings as _sum
from oneline.study.subject import for_all
from oneline.study.supply import supply_of

#: Fields of the wiring space, and of the place of a device: one entered is enough to be judged.
_WIRING = ("wiring_space_in2", "passing_in2", "spliced_in2")
_PLACE = ("handle_ft", "readily_accessible", "excluded_place")
#: Measures of the space at equipment: without one entered, existing equipment is not asked about.
_SPACE = tuple(
    name for cls in (Bus, Disconnect) for name in specs(cls)
    if name.startswith(("work_", "equipment_")) or name in ("continuous_egress", "panic_hardware", "dedicated_clear")
)  # fmt: skip


def about(ctx: Context, item: Item) -> Iterator[Verdict]:
    """SVC-10 of equipment, SVC-11 of a device in an enclosure of its own, SVC-12 of a cabinet where a tap starts."""
    if isinstance(item, Bus) and item.form in EQUIPMENT_FORMS:
        yield from _space(ctx, item, ctx.net.node(item.id))
        tapped = _tapped(ctx, item)
        if tapped or any(getattr(item, f) is not None for f in _WIRING):
            yield existing_work(_wiring(ctx, item, tapped), item.status)
    if isinstance(item, Bus) and item.gutter_width_in is not None:
        found = bending_space(_bending(ctx, item, item.gutter_width_in))
        if found is not None:
            yield existing_work(found, item.status)
    elif isinstance(item, Disconnect):
        line = ctx.feeding.line_node(item.id)
        if line is None:
            return
        own = not _held(ctx, item)
        if own and item.form in ("switch", "fused switch"):
            yield from _space(ctx, item, line)
        if protects(item) and ((own and item.status == "new") or _entered(item, _PLACE)):
            yield existing_work(_device_place(ctx, item), item.status)


def _entered(item: Bus | Disconnect, names: tuple[str, ...]) -> bool:
    return any(getattr(item, name) is not None for name in names)


def _held(ctx: Context, item: Disconnect) -> bool:
    """Whether a panel or switchboard holds the device."""
    line, load = ctx.feeding.line_node(item.id), ctx.feeding.load_node(item.id)
    return any(b.form in EQUIPMENT_FORMS for n in (line, load) if n is not None for b in buses_at(ctx, n))


def _length(ctx: Context, item: Bus | Disconnect, field: str, what: str) -> Fact:
    name = f"{what} {ctx.name(item.id)}"
    return Fact(getattr(item, field, None), basis=basis_of(item, field), need=name, name=name)


def _space(ctx: Context, item: Bus | Disconnect, node: int) -> Iterator[Verdict]:
    if item.status != "new" and not any(getattr(item, f, None) is not None for f in _SPACE):
        return
    facts = _space_facts(ctx, item, node)
    if item.status == "new" or facts.measured:
        yield existing_work(working_space(facts), item.status)


def _space_facts(ctx: Context, item: Bus | Disconnect, node: int) -> SpaceFacts:
    name = ctx.name(item.id)
    code = ctx.feeding.system[node]
    bus = isinstance(item, Bus)
    what = f"bus rating of {name}"
    rating = Fact(item.rating_a, need=what, name=what) if isinstance(item, Bus) else holder_rating(item, ctx)
    return SpaceFacts(
        Subject(item.id, name), ctx.edition, None if code is None else tables.system(code).v_to_ground,
        item.work_opposite, _length(ctx, item, "work_depth_ft", "clear depth in front of"),
        _length(ctx, item, "work_width_ft", "clear width in front of"),
        _length(ctx, item, "work_height_ft", "clear height in front of"),
        _length(ctx, item, "equipment_width_ft", "width of"), _length(ctx, item, "equipment_height_ft", "height of"),
        rating, _summed(ctx, item), item.work_entrances if isinstance(item, Bus) else None,
        item.continuous_egress if isinstance(item, Bus) else None, item.panic_hardware if isinstance(item, Bus) else None,
        item.dedicated_clear if isinstance(item, Bus) else None, bus and item.status == "new",
        system_need(ctx, node) if bus or node >= 0 else "system voltage",
    )  # fmt: skip


def _summed(ctx: Context, item: Bus | Disconnect) -> Fact:
    """Ratings of all service disconnects that stand on the item, added."""
    if not isinstance(item, Bus):
        return Fact(None)
    node = ctx.net.node(item.id)
    here = [
        d for e in entrances(ctx) for d in e.disconnects
        if node in (ctx.feeding.line_node(d.id), ctx.feeding.load_node(d.id))
    ]  # fmt: skip
    return _sum([(ctx.name(d.id), disconnect_rating(ctx, d)) for d in here]) if here else Fact(None)


def _device_place(ctx: Context, item: Disconnect) -> Verdict:
    handle = _length(ctx, item, "handle_ft", "highest handle position of")
    return device_place(
        DevicePlaceFacts(
            Subject(item.id, ctx.name(item.id)), ctx.edition, handle, item.readily_accessible, item.excluded_place
        )
    )  # fmt: skip


def _tapped(ctx: Context, bus: Bus) -> str:
    """The reason in words where a new tap is made in a panel or switchboard; "" for none."""
    found = ""
    for branch, _ in ctx.feeding.children(ctx.net.node(bus.id)) if bus.maker_tap_provision is not True else ():
        if not isinstance(branch.item, ConductorRun) or branch.item.status != "new":
            continue
        supply = supply_of(ctx, branch.item.id)
        if supply is None or not (supply.is_tap or supply.kind == "service") or supply.parent:
            continue
        end = branch.a_end if branch.a == supply.line else branch.b_end
        if end is not None and end.item == bus.id:
            found = f"{supply.subject.name} is tapped there"
    return found


def _wiring(ctx: Context, item: Bus, why: str) -> Verdict:
    name = ctx.name(item.id)

    def area(field: str, what: str) -> Fact:
        words = f"{what} {name}"
        return Fact(getattr(item, field), basis=basis_of(item, field), need=words, name=words)

    return wiring_space(
        WiringSpaceFacts(
            Subject(item.id, name), ctx.edition, area("wiring_space_in2", "cross section of the wiring space in"),
            area("passing_in2", "cross section of the conductors that pass through"),
            area("spliced_in2", "cross section of conductors, splices and taps in"), item.passing_marked, why,
        )
    )  # fmt: skip


def _bending(ctx: Context, bus: Bus, width_in: float) -> BendingFacts:
    runs = [run for run in ctx.drawing.of(ConductorRun) if bus.id in (run.a.item, run.b.item if run.b else "")]
    sizes = [run.size for run in runs if run.size is not None]
    largest = max(sizes, key=CONDUCTOR_SIZES.index, default=None)
    needs = tuple(f"conductor size of {ctx.name(run.id)}" for run in runs if run.size is None)
    return BendingFacts(Subject(bus.id, ctx.name(bus.id)), ctx.edition, width_in, largest, needs)


#: Everything this subject finds on a drawing.
verdicts = for_all(about, of=(Bus, Disconnect))
