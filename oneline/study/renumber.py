"""Numbers after an edit that left the network as it is: what can be kept is kept, and which figures have changed is told.

What is found is always what the numbers from scratch are.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

import numpy as np

from oneline.calc.flow_tree import Array
from oneline.model import ConductorRun, Item
from oneline.study.changes import Change
from oneline.study.context import Context
from oneline.study.numbers import Numbers, compute_numbers
from oneline.study.numbers_contribution import compute_contribution
from oneline.study.numbers_core_flow import NO_CURRENT
from oneline.study.numbers_facts import RunFigures, figures_of
from oneline.study.numbers_fault import compute_faults
from oneline.study.numbers_flow import FlowFigures
from oneline.study.reads import Key
from oneline.study.seen import at_node, put, raw_numbers

#: Figures closer than this share are one: sums run over the whole drawing, and their last digits with them.
SAME = 1e-11
#: Figures of the load flow by what is noted when somebody looks at them.
_COLUMNS = {
    "current": ("current_a", "neutral_a", "known"),
    "drop": ("voltage_v", "pair_v", "drop_pct", "voltage_known", "settled", "with_neutral"),
}


def new_numbers(ctx: Context, found: Mapping[str, Change], loads: bool) -> set[Key]:
    """Works out the numbers of a context anew after changes of items (``loads``: of loads among them), and gives the keys
    of the figures that are others now."""
    old = raw_numbers(ctx)
    put(ctx, "numbers", lambda ctx: _revised(old, ctx, found, loads))
    new = raw_numbers(ctx)
    places = _moved(old.faults, new.faults) | _moved(old.contribution, new.contribution)
    for change in found.values():
        if change.of_impedance:
            places |= _below(ctx, change.after)
    nodes = _nodes(new, places)
    roots = {r for r in set(ctx.feeding.root) if _contributed(old, r) != _contributed(new, r)}
    if roots:
        nodes |= {n for n, root in enumerate(ctx.feeding.root) if root in roots}
    keys: set[Key] = {at_node(ctx, "fault", node) for node in nodes}
    if not loads and _flows_the_same(old, new, found):
        new.__dict__["flow"] = old.flow
        return keys
    elsewhere = _needs_elsewhere(old, new, found)
    for kind, columns in _COLUMNS.items():
        fed = ctx.feeding.order if elsewhere else _nodes(new, _moved(old.flow, new.flow, columns))
        keys |= {at_node(ctx, kind, node) for node in fed}
    if not _rest_on_the_same(old, new, found):
        keys |= {at_node(ctx, "rests", node) for node in ctx.feeding.order}
    return keys


def _revised(old: Numbers, ctx: Context, found: Mapping[str, Change], loads: bool) -> Numbers:
    """Numbers of a context of which runs or loads have changed; others start afresh."""
    changed = [change for change in found.values() if change.of_impedance]
    if old.forest.cores or any(change.after.kind != "run" for change in changed):
        return compute_numbers(ctx)
    runs = _new_runs(old, changed)
    forest, faults, entries = old.forest, old.faults, ctx.loads
    if runs:
        forest = forest.with_runs(runs)
        faults = compute_faults(forest)
    contribution = old.contribution
    if runs or loads:
        contribution = compute_contribution(forest, entries, faults, None if loads else contribution.driven)
    return Numbers(ctx, forest, faults, contribution, entries)


def _new_runs(old: Numbers, changed: Iterable[Change]) -> dict[int, RunFigures]:
    """Figures of changed runs that are others now, by place."""
    found = {}
    for change in changed:
        assert isinstance(change.after, ConductorRun)
        node, figures = old.ctx.feeding.load_node(change.after.id), figures_of(change.after)
        if node is not None and old.forest.runs[old.ctx.feeding.position[node]] != figures:
            found[old.ctx.feeding.position[node]] = figures
    return found


# -------------------------------------------------------------------------------------------------------------- flow
def _flows_the_same(old: Numbers, new: Numbers, found: Mapping[str, Change]) -> bool:
    """Whether an edit of runs leaves all that the load flow reads of them as it was."""
    if old.forest.cores:
        return False
    for change in found.values():
        if not change.of_impedance:
            continue
        node = old.ctx.feeding.load_node(change.after.id) if change.after.kind == "run" else None
        if node is None or "basis" in change.names:
            return False
        before, after = (numbers.forest.runs[old.ctx.feeding.position[node]] for numbers in (old, new))
        if before is not after and _of_flow(before) != _of_flow(after):
            return False
    return True


def _of_flow(run: RunFigures) -> tuple[Any, ...]:
    return run.row[2:4], *_words(run)


def _words(run: RunFigures) -> tuple[Any, ...]:
    """What is to be said of a run beside its impedance."""
    return run.lacks, run.lacks_neutral, run.neutral, run.assumed


def _needs_elsewhere(old: Numbers, new: Numbers, found: Mapping[str, Change]) -> bool:
    """Whether what is missing for the load flow may have changed anywhere, or loops make its figures.

    It follows from what runs lack, from the loads that are not known, and from where the neutral carries current. Where
    that is as it was, a figure that is not known stays so, however the flow behind it moves.
    """
    if old.forest.cores or any(change.of_impedance and change.after.kind != "run" for change in found.values()):
        return True
    runs = [old.ctx.feeding.load_node(change.after.id) for change in found.values() if change.of_impedance]
    places = [old.ctx.feeding.position[node] for node in runs if node is not None]
    if any(_words(old.forest.runs[place]) != _words(new.forest.runs[place]) for place in places):
        return True
    same = old.flow.open_loads == new.flow.open_loads and np.array_equal(_carries(old.flow), _carries(new.flow))
    return not same


def _carries(flow: FlowFigures) -> Array:
    """Where the neutral may carry current."""
    return ~(np.abs(flow.neutral_a) <= NO_CURRENT)


def _rest_on_the_same(old: Numbers, new: Numbers, found: Mapping[str, Change]) -> bool:
    """Whether what is known and assumed for the flow is as it was."""
    for change in found.values():
        if "basis" in change.names or any(
            (getattr(change.before, n) is None) != (getattr(change.after, n) is None) for n in change.names
        ):
            return False
    entries = zip(old.entries, new.entries, strict=False)
    if len(old.entries) != len(new.entries) or any(
        (a.node, a.basis) != (b.node, b.basis) for a, b in entries if a is not b
    ):
        return False
    names = ("assumed_pf", "voltage_known", "settled", "known")
    return all(np.array_equal(getattr(old.flow, n), getattr(new.flow, n)) for n in names) and all(
        not change.of_impedance or _assumed_for(old, change) == _assumed_for(new, change) for change in found.values()
    )


def _assumed_for(numbers: Numbers, change: Change) -> list[Any]:
    """What is assumed for a run or transformer: all that the flow rests on beside its figures."""
    ctx = numbers.ctx
    nodes = [ctx.feeding.load_node(key) for key in ctx.net.branches_of(change.after.id)]
    places = [ctx.feeding.position[n] for n in nodes if n is not None]
    runs = [numbers.forest.runs[place] for place in places]
    heads = [h.assumed for h in numbers.flow.heads.values()]
    return [(r.assumed, r.lacks, r.lacks_neutral) for r in runs] + heads


# ----------------------------------------------------------------------------------------------------------- figures
def _contributed(numbers: Numbers, root: str) -> tuple[tuple[str, ...] | None, tuple[str, ...] | None]:
    return numbers.contribution.lacks.get(root), numbers.contribution.assumed.get(root)


def _nodes(numbers: Numbers, places: set[int]) -> set[int]:
    return set(numbers.forest.nodes[np.fromiter(places, np.intp, len(places))].tolist()) if places else set()


def _moved(old: Any, new: Any, names: Iterable[str] = ()) -> set[int]:
    """Places at which any of the figures of two passes differ; ``names``: of the figures, all where there are none."""
    if old is new:
        return set()
    found: set[int] = set()
    for name in names or vars(new):
        before, values = getattr(old, name), getattr(new, name)
        if not isinstance(values, np.ndarray) or values is before or not values.size:
            continue
        differ = values != before
        if values.dtype != bool:
            with np.errstate(invalid="ignore"):
                close = np.abs(values - before) <= SAME * np.abs(before)
            differ &= ~close & ~(np.isnan(values) & np.isnan(before))
        found.update(np.flatnonzero(differ.reshape(len(differ), -1).any(axis=1)).tolist())
    return found


def _below(ctx: Context, item: Item) -> set[int]:
    """Places of everything that an item feeds."""
    keys = ctx.net.branches_of(item.id)
    tops = [ctx.feeding.load_node(key) for key in keys] if keys else [ctx.net.node(item.id)]
    found: set[int] = set()
    for node in tops:
        if node is not None and ctx.feeding.position[node] >= 0:
            found.update(range(ctx.feeding.position[node], ctx.feeding.last[node]))
    return found
