"""Circuits kept together, gutters, pull boxes and nipples on the drawing (RWY-2 to RWY-6)."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from oneline import tables
from oneline.model import Bus, ConductorRun, Item, basis_of
from oneline.rules.ampacity import is_nipple
from oneline.rules.common import Fact, Subject, existing_work, unique
from oneline.rules.enclosures import (
    BoxFacts,
    GutterFacts,
    gutter,
    kept_together,
    nipple,
    pull_box,
    through_steel,
)
from oneline.rules.raceways import total_area_in2
from oneline.rules.verdict import Verdict
from oneline.study.context import Context
from oneline.study.ends import run_length
from oneline.study.raceway_wires import wires_of
from oneline.study.subject import for_all

#: Where conductors do not lie in a raceway.
_NO_RACEWAY = ("open", "within enclosure", "busway", "cable")


def about(ctx: Context, item: Item) -> Iterator[Verdict]:
    """RWY-2, RWY-3 and RWY-6 of a run; RWY-4 of a gutter and RWY-5 of a box."""
    fed = item.id in ctx.net.branches and ctx.feeding.load_node(item.id) is not None
    if isinstance(item, ConductorRun) and fed:
        yield from _run(ctx, item)
    elif isinstance(item, Bus) and item.form in ("gutter", "splice box"):
        yield from _enclosure(ctx, item)


def _run(ctx: Context, run: ConductorRun) -> Iterator[Verdict]:
    subject = Subject(run.id, ctx.name(run.id))
    # Asked of new work only: what lies in old pipes stays as it is until somebody says that it is split.
    several = (run.sets or 1) > 1 and run.raceway not in _NO_RACEWAY and run.status == "new"
    if several or run.circuit_together is not None:
        metal = None if run.raceway in (None, *_NO_RACEWAY) else tables.raceway_is_metal(run.raceway)
        found = kept_together(subject, ctx.edition, run.sets, run.circuit_together, metal)
        yield existing_work(found, run.status)
    if run.holes_slotted is not None or (run.raceway == "open" and run.status == "new"):
        yield existing_work(through_steel(subject, ctx.edition, run.holes_slotted), run.status)
    if run.raceway not in (None, *_NO_RACEWAY) and is_nipple(run.length_ft):
        yield nipple(subject, ctx.edition, run_length(ctx, run))


def _enclosure(ctx: Context, bus: Bus) -> Iterator[Verdict]:
    node = ctx.net.node(bus.id)
    runs = [b.item for k in ctx.net.at_node[node] if isinstance((b := ctx.net.branches[k]).item, ConductorRun)]
    new = bus.status == "new" or any(r.status == "new" for r in runs)
    found = gutter(_gutter_facts(ctx, bus, runs, new)) if bus.form == "gutter" else _box(ctx, bus, runs, new)
    if found is not None:
        yield existing_work(found, "new" if new else bus.status)


def _entered(ctx: Context, bus: Bus, field: str, what: str) -> Fact:
    text = f"{what} of {ctx.name(bus.id)}"
    return Fact(getattr(bus, field), basis=basis_of(bus, field), need=text, name=text)


def _gutter_facts(ctx: Context, bus: Bus, runs: Sequence[ConductorRun], asked: bool) -> GutterFacts:
    passing = _entered(ctx, bus, "passing_in2", "area of the conductors at the fullest place")
    counts = [(len(r.phases or "") or 1) * (r.sets or 1) for r in runs]
    if passing.value is None:
        low, high = _areas(ctx, runs)
        passing = Fact(None, low, high, passing.basis, passing.need, passing.name)
    return GutterFacts(
        Subject(bus.id, ctx.name(bus.id)), ctx.edition, _entered(ctx, bus, "wiring_space_in2", "wiring-space cross section"),
        passing, _entered(ctx, bus, "spliced_in2", "area of conductors, splices and taps at the fullest place"),
        Fact(None, float(max(counts, default=0))), _entered(ctx, bus, "length_ft", "length beyond the equipment"), asked,
    )  # fmt: skip


def _areas(ctx: Context, runs: Sequence[ConductorRun]) -> tuple[float, float | None]:
    """Area of conductors at the fullest place of an enclosure: at least those of the largest run, at most all of them."""
    lows, total, complete = [0.0], 0.0, True
    for run in runs:
        wires, missing, _ = wires_of(ctx, run)
        many = [w for w in missing if "number of sets" not in w]
        try:
            least, greatest = total_area_in2(wires)
        except tables.NotInTable:
            complete = False
            continue
        lows.append(least)
        # What is split over several raceways comes together here.
        total += greatest * (run.sets or 1)
        complete = complete and not many and run.sets is not None
    return max(lows), total if complete and runs else None


def _box(ctx: Context, bus: Bus, runs: Sequence[ConductorRun], new: bool) -> Verdict | None:
    """RWY-5 where conductors of 4 AWG and larger pass, for new work or where it was measured."""
    large = tables.limit_value("pull_least_size_cmil")
    if not any(r.size is not None and tables.area_cmil(r.size) >= large for r in runs):
        return None
    if not new and bus.pull_distance_in is None:
        return None
    sizes, missing = [], []
    for run in runs:
        if run.raceway in _NO_RACEWAY or run.raceway == "wireway":
            continue
        inches = None if run.raceway_size is None else tables.trade_inches(run.raceway_size)
        if inches is None:
            missing.append(f"trade size of the raceway of {ctx.name(run.id)}")
        else:
            sizes += [inches] * (run.sets or 1)
    if not sizes and not missing:
        return None
    return pull_box(
        BoxFacts(
            Subject(bus.id, ctx.name(bus.id)), ctx.edition, tuple(sizes), bus.pull,
            _entered(ctx, bus, "pull_distance_in", "distance from the raceway entry to the opposite wall"), unique(missing),
        )
    )  # fmt: skip


#: Everything this subject finds on a drawing.
verdicts = for_all(about)
