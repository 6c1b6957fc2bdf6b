"""Runs in series: one circuit whose parts have different ampacities, where a short low part may follow the rest (AMP-4)."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from oneline.model import Bus, ConductorRun, Load
from oneline.rules.ampacity import RunFacts, ampacity
from oneline.rules.common import Subject
from oneline.rules.roof import Follows, Part, follow_all
from oneline.study.context import Context
from oneline.study.ends import EQUIPMENT_FORMS

#: What must be alike for two runs to be parts of one: what is pulled through is not cut.
_SAME = ("size", "material", "insulation", "sets")
#: More parts than this are not looked at together: nothing is left out of them, and the lowest governs.
_MOST_PARTS = 12


@dataclass(frozen=True)
class Series:
    """Parts of one circuit in the order from the source, each with its own facts, before any of them follows another."""

    facts: Mapping[str, RunFacts]
    parts: tuple[Part, ...]
    follows: Mapping[str, Follows]


def series_of(ctx: Context, run: ConductorRun, own: Callable[[ConductorRun], RunFacts | None]) -> Series | None:
    """The circuit that a run is a part of; ``None`` where it goes from end to end, or is good for the same all along.
    ``own``: facts of a run by itself. Worked out once."""

    def find() -> Series | None:
        now = ctx.drawing.get(run.id)
        runs = _parts(ctx, now) if isinstance(now, ConductorRun) else []
        return _series(runs, own) if 1 < len(runs) <= _MOST_PARTS else None

    return ctx.recall("series of runs", run.id, find)


def _parts(ctx: Context, run: ConductorRun) -> list[ConductorRun]:
    line, load = ctx.feeding.line_node(run.id), ctx.feeding.load_node(run.id)
    if line is None or load is None or None in (run.size, run.material, run.insulation, run.sets):
        return [run]
    return [*reversed(_ahead(ctx, run, line)), run, *_behind(ctx, run, load)]


def _series(runs: list[ConductorRun], own: Callable[[ConductorRun], RunFacts | None]) -> Series | None:
    facts = {r.id: f for r in runs if (f := own(r)) is not None}
    good = {f: ampacity(f).a_cond for f in dict.fromkeys(replace(f, subject=_ANY) for f in facts.values())}
    if len(set(good.values())) == 1 or len(facts) < len(runs):
        return None
    # What is good where it lies, before the terminals' limit.
    parts = tuple(
        Part(r.id, facts[r.id].subject.name, good[replace(facts[r.id], subject=_ANY)], r.length_ft) for r in runs
    )
    return Series(facts, parts, follow_all(parts))


#: The same whoever it is about.
_ANY = Subject("", "")


def eased(ctx: Context, facts: RunFacts, run: ConductorRun, own: Callable[[ConductorRun], RunFacts | None]) -> RunFacts:
    """The facts of a run, with the surroundings of the longer part where it is a short part that may follow it."""
    found = series_of(ctx, run, own)
    leader = found.follows[run.id].leader if found is not None else ""
    if found is None or not leader:
        return facts
    other = found.facts[leader]
    return replace(
        facts, ambient_c=other.ambient_c, current_carrying=other.current_carrying, own_conductors=other.own_conductors,
        most_conductors=other.most_conductors, raceway=other.raceway, length_ft=other.length_ft, rooftop=other.rooftop,
        roof_height_in=other.roof_height_in, wireway_full=other.wireway_full, count_needs=other.count_needs,
        eased_by=other.subject.name,
    )  # fmt: skip


def _ahead(ctx: Context, run: ConductorRun, line: int) -> list[ConductorRun]:
    """Parts ahead of a run, nearest first."""
    found: list[ConductorRun] = []
    while len(found) < _MOST_PARTS and ctx.feeding.branch[line] and _only_joined(ctx, line):
        above = ctx.net.branches[ctx.feeding.branch[line]].item
        if not _alike(above, run):
            break
        assert isinstance(above, ConductorRun)
        found.append(above)
        line = ctx.feeding.parent[line]
    return found


def _behind(ctx: Context, run: ConductorRun, load: int) -> list[ConductorRun]:
    """Parts behind a run, nearest first."""
    found: list[ConductorRun] = []
    while len(found) < _MOST_PARTS and _only_joined(ctx, load):
        branch, down = ctx.feeding.children(load)[0]
        if not _alike(branch.item, run):
            break
        assert isinstance(branch.item, ConductorRun)
        found.append(branch.item)
        load = down
    return found


def _alike(item: object, run: ConductorRun) -> bool:
    return isinstance(item, ConductorRun) and all(getattr(item, f) == getattr(run, f) for f in _SAME)


def _only_joined(ctx: Context, node: int) -> bool:
    """Whether conductors do nothing but go on at a node: one way in, one way out, no equipment and no load."""
    if len(ctx.net.at_node[node]) != 2 or len(ctx.feeding.children(node)) != 1:
        return False
    items = (ctx.drawing.items[end.item] for end in ctx.net.ends_of[node])
    return not any(isinstance(i, Load) or (isinstance(i, Bus) and i.form in EQUIPMENT_FORMS) for i in items)
