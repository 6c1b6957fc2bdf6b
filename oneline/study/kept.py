"""A study that is kept from edit to edit: only answers that read what an edit changed are made anew.

An edit that leaves the network as it is (a rating, a length, a load) is followed; any other starts the study afresh.
What is found is always what a study from scratch finds.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import replace
from functools import partial
from typing import Any

from oneline.model import Drawing, Item
from oneline.rules.verdict import Verdict
from oneline.study.alternates import alternates
from oneline.study.basis import Naming, assumes
from oneline.study.changes import Change, changes, items_of, same_view
from oneline.study.context import Context
from oneline.study.demand import Demand, compute_demand
from oneline.study.loads import LoadEntry, gather_loads
from oneline.study.numbers import compute_numbers
from oneline.study.points import Points
from oneline.study.reads import Key, Reads, SeenBranches, SeenItems, changed_keys
from oneline.study.renumber import new_numbers
from oneline.study.results import StudyResult
from oneline.study.rings import Way, rings
from oneline.study.seen import at_node, every_load, put, raw_demand, seen_context
from oneline.study.shelf import Shelf
from oneline.study.study import parts, without_collection
from oneline.study.unentered import forget

#: An answer: number of the subject and id of the item, "" for what belongs to no single one.
Unit = tuple[int, str]
_LATER = ("_message", "_needs", "_remedy", "_work")


class KeptStudy:
    """One view of a drawing under one edition, followed through its edits."""

    def __init__(self, view: str = "proposed", edition: int | None = None) -> None:
        self._view, self._edition = view, edition
        self._drawing: Drawing | None = None
        self._result: StudyResult | None = None

    def of(self, drawing: Drawing) -> StudyResult:
        """The answers for a drawing. Those of the drawing before are no longer good."""
        if self._result is not None and drawing is self._drawing:
            return self._result
        with without_collection():
            before, self._drawing = self._drawing, None
            found = None if before is None else changes(before, drawing, self._view)
            if found is None and before is not None and same_view(before, drawing, self._view):
                found = {}
                self._other_items(drawing)
            if found is None:
                self._start(drawing)
                moved = True
            else:
                moved = bool(found) and self._follow(found, drawing)
        self._drawing = drawing
        if moved:
            self._result = StudyResult(
                edition=self._ctx.edition, view=self._view, points=Points(self._ctx),
                verdicts=self._shelf.all(), sources=tuple(self._ctx.net.sources),
            )  # fmt: skip
        assert self._result is not None
        return self._result

    # ---------------------------------------------------------------------------------------------------- afresh
    def _start(self, drawing: Drawing) -> None:
        self._reads = Reads()
        self._ctx = ctx = seen_context(drawing, self._view, self._edition or drawing.project.edition, self._reads)
        with self._reads.unseen():
            put(ctx, "loads", gather_loads)
            put(ctx, "numbers", compute_numbers)
            put(ctx, "demand", compute_demand)
            ctx.live  # noqa: B018 - worked out now, while nothing is noted
            self._contexts = [ctx]
            for case in alternates(ctx).cases:
                put(case.ctx, "loads", gather_loads)
                put(case.ctx, "numbers", compute_numbers)
                put(case.ctx, "demand", compute_demand)
                self._contexts.append(case.ctx)
            found = rings(ctx)
            for way in found.contexts if found is not None else ():
                put(way, "loads", gather_loads)
                put(way, "demand", compute_demand)
                self._contexts.append(way)
        items = ctx.drawing.items
        assert isinstance(items, SeenItems)
        self._units: dict[Unit, Callable[[], Iterator[Verdict]]] = {}
        self._naming = Naming(ctx)
        self._shelf = Shelf()
        for number, (about, overall, of) in enumerate(parts()):
            if overall is not None:
                self._units[number, ""] = partial(overall, ctx)
            if about is not None:
                for item_id, item in items.raw.items():
                    if isinstance(item, of):
                        self._units[number, item_id] = partial(self._about, about, item_id)
        self._rank = {unit: k for k, unit in enumerate(self._units)}
        for unit in self._units:
            self._answer(unit)

    def _about(self, about: Callable[[Context, Item], Iterator[Verdict]], item_id: str) -> Iterator[Verdict]:
        return about(self._ctx, self._ctx.drawing.get(item_id))

    def _answer(self, unit: Unit) -> None:
        make = self._units[unit]
        raw = self._reads.answer(unit, lambda: tuple(make()))
        self._shelf.put(self._rank[unit], [self._naming.named(self._noted(unit, v)) for v in raw])

    def _noted(self, unit: Unit, verdict: Verdict) -> Verdict:
        """The finding, so that what is looked at for its sentences counts as read by it."""
        held: dict[str, Any] = verdict.__dict__
        later = {n: partial(self._reads.look_later, unit, held[n]) for n in _LATER if callable(held[n])}
        return verdict.but(**{name.removeprefix("_"): make for name, make in later.items()}) if later else verdict

    # -------------------------------------------------------------------------------------------------- following
    def _other_items(self, drawing: Drawing) -> None:
        """Items that the view leaves out may have come, gone or changed."""
        full = self._ctx.full.items
        assert isinstance(full, SeenItems)
        full.others(drawing.items)
        for context in self._contexts:
            forget(context)

    def _follow(self, found: Mapping[str, Change], drawing: Drawing) -> bool:
        """Brings everything up to date with changed items; whether any answer may be another by that."""
        ctx = self._ctx
        full, viewed = ctx.full.items, ctx.drawing.items
        assert isinstance(full, SeenItems)
        assert isinstance(viewed, SeenItems)
        for item_id in found:
            full.raw[item_id] = drawing.items[item_id]
        here = {item_id: change for item_id, change in found.items() if item_id in viewed}
        viewed.raw.update(items_of(here))
        changed: set[Key] = set(found).union(*(changed_keys(c.after, c.names) for c in here.values()))
        with self._reads.unseen():
            for context in self._contexts:
                forget(context, found)
        for context in self._contexts:
            changed |= _advance(context, here)
        affected = self._reads.affected(changed)
        if any(assumes(change.before) or assumes(change.after) for change in found.values()):
            # What rests on it may be anywhere.
            with self._reads.unseen():
                self._naming = Naming(ctx)
            affected = set(self._units)
        for unit in affected:
            self._answer(unit)  # type: ignore[arg-type]
        return bool(here or affected)


def _advance(ctx: Context, found: Mapping[str, Change]) -> set[Key]:
    """Brings a context up to date with changed items, and says which figures have changed."""
    branches = ctx.net.branches
    assert isinstance(branches, SeenBranches)
    for item_id, change in found.items():
        for key in ctx.net.branches_of(item_id):
            if key in branches.raw:
                branches.raw[key] = replace(branches.raw[key], item=change.after)
    ctx.__dict__.pop("available", None)
    changed: set[Key] = set()
    loads = any(change.of_load for change in found.values())
    if loads:
        changed |= _new_loads(ctx)
    if isinstance(ctx, Way):  # whose currents are those of another context
        return changed
    if loads or any(change.of_impedance for change in found.values()):
        changed |= new_numbers(ctx, found, loads)
    return changed


# ------------------------------------------------------------------------------------------------------------- loads
def _new_loads(ctx: Context) -> set[Key]:
    old = raw_demand(ctx)
    put(ctx, "loads", gather_loads)
    put(ctx, "demand", compute_demand)
    return _changed_loads(ctx, old, raw_demand(ctx))


def _changed_loads(ctx: Context, old: Demand, new: Demand) -> set[Key]:
    """Keys of loads at nodes: everything toward the source from a load that has changed."""
    same = set(map(id, old.entries)) & set(map(id, new.entries))
    before, after = (_by_name([e for e in entries if id(e) not in same]) for entries in (old.entries, new.entries))
    nodes = {
        entry.node for name in before.keys() | after.keys() if before.get(name) != after.get(name)
        for entry in (*before.get(name, ()), *after.get(name, ()))
    }  # fmt: skip
    found: set[Key] = {every_load(ctx)}
    if (old.measured, old.shown, old.floors, old.optional) != (new.measured, new.shown, new.floors, new.optional):
        return found | {at_node(ctx, "load", node) for node in range(ctx.net.node_count)}
    for node in nodes:
        while node >= 0 and (key := at_node(ctx, "load", node)) not in found:
            found.add(key)
            node = ctx.feeding.parent[node]
    return found


def _by_name(entries: Iterable[LoadEntry]) -> dict[tuple[str, int | None], list[LoadEntry]]:
    found: dict[tuple[str, int | None], list[LoadEntry]] = {}
    for entry in entries:
        found.setdefault((entry.item, entry.circuit), []).append(entry)
    return found
