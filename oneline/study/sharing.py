"""What is in which raceway: runs that name the same raceway share it. Counts of current-carrying conductors (AMP-2)."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator
from itertools import accumulate

from oneline import tables
from oneline.model import ConductorRun, Item
from oneline.rules.ampacity import is_nipple
from oneline.rules.common import Subject
from oneline.rules.counting import Circuit, Count, CountFacts, current_carrying, neutral_kind, of_one_set, of_raceway
from oneline.rules.verdict import Verdict
from oneline.study.context import Context
from oneline.study.loads import HIGH_LEG
from oneline.study.subject import for_all

#: Kinds in which conductors do not lie beside others, or have no count.
_NOT_COUNTED = ("busway", "open", "within enclosure")


def raceway_key(run: ConductorRun) -> str:
    """The raceway a run names, as it is compared; "" where it names none."""
    return " ".join((run.raceway_name or "").split()).casefold()


def named_raceways(ctx: Context) -> dict[str, list[ConductorRun]]:
    """Runs by the raceway they name, spare ones included, in drawing order. Worked out once."""
    return ctx.recall("named raceways", "", lambda: _named_raceways(ctx))


def _named_raceways(ctx: Context) -> dict[str, list[ConductorRun]]:
    found: dict[str, list[ConductorRun]] = {}
    for run in ctx.drawing.set_in(ConductorRun, "raceway_name"):
        if raceway_key(run):
            found.setdefault(raceway_key(run), []).append(run)
    return found


def run_phases(ctx: Context, run: ConductorRun) -> str:
    """Phase letters of a run: its own, or what arrives there; "" unknown."""
    if run.phases:
        return run.phases
    load = ctx.feeding.load_node(run.id) if run.id in ctx.net.branches else None
    return "" if load is None else ctx.feeding.phases[load]


def circuit_of(ctx: Context, run: ConductorRun) -> Circuit:
    """The conductors of a run as they are counted in its raceway."""
    name, phases = ctx.name(run.id), run_phases(ctx, run)
    load = ctx.feeding.load_node(run.id) if run.id in ctx.net.branches else None
    code = None if load is None else ctx.feeding.system[load]
    nonlinear = run.mostly_nonlinear
    # The loads are asked only where the drawn conductors decide the count: they reach over the whole drawing.
    decides = bool(raceway_key(run)) and len(phases) == 3 and run.neutral_size != "none"
    if nonlinear is None and decides and load is not None:
        nonlinear = mostly_nonlinear(ctx, load)
    kind = neutral_kind(code, len(phases), HIGH_LEG in phases and _high_leg(code), run.neutral_size, nonlinear)
    needs = [] if phases else [f"phases of {name}"]
    if kind == "unknown" and run.neutral_size is None:
        needs.append(f"neutral size of {name}")
    if kind == "unknown" and len(phases) == 3:
        needs.append(f"whether most of the load of {name} is nonlinear")
    sets = sets_in_one(run, len(phases))
    if sets is None:
        needs.append(f"number of sets of {name}" if run.sets is None else f"number of sets of {name} in one raceway")
    return Circuit(
        Subject(run.id, name), len(phases) or None, sets, kind, run.not_together_with or "", run.sets, tuple(needs)
    )


def _high_leg(code: str | None) -> bool:
    return code is not None and bool(tables.system(code).v_high_leg)


def sets_in_one(run: ConductorRun, phases: int) -> int | None:
    """Sets of a run that lie in one raceway: told by the count entered for it where there are several; ``None`` unknown."""
    if run.sets is None or run.sets == 1:
        return run.sets
    if run.current_carrying is None or not phases:
        return None
    return next((k for k in range(run.sets, 0, -1) if run.current_carrying >= k * phases), 1)


def mostly_nonlinear(ctx: Context, node: int) -> bool | None:
    """Whether more than half of the load behind a node is nonlinear; ``None`` while that is not known."""
    places, all_va, yes_va, open_va, unknown = ctx.recall("nonlinear sums", "", lambda: _nonlinear_sums(ctx))
    start = bisect_left(places, ctx.feeding.position[node])
    end = bisect_left(places, ctx.feeding.last[node])
    total, yes, open_, missing = (s[end] - s[start] for s in (all_va, yes_va, open_va, unknown))
    if missing or not total:
        return None
    if yes * 2 > total:
        return True
    return False if (yes + open_) * 2 <= total else None


def _nonlinear_sums(ctx: Context) -> tuple[list[int], list[float], list[float], list[float], list[int]]:
    """Places of loads in the pre-order, and running sums of all of them, of nonlinear ones, of open ones, of unknown ones."""
    position = ctx.feeding.position
    entries = sorted((e for e in ctx.loads if position[e.node] >= 0), key=lambda e: position[e.node])
    shares = [(e.va or 0.0, e.nonlinear) for e in entries]
    return (
        [position[e.node] for e in entries],
        [0.0, *accumulate(va for va, _ in shares)],
        [0.0, *accumulate(va if state else 0.0 for va, state in shares)],
        [0.0, *accumulate(va if state is None else 0.0 for va, state in shares)],
        [0, *accumulate(int(e.va is None) for e in entries)],
    )


def _raceway_count(ctx: Context, key: str) -> Count:
    return of_raceway([circuit_of(ctx, r) for r in named_raceways(ctx).get(key, ())])


def count_of(ctx: Context, run: ConductorRun) -> tuple[Count, bool]:
    """Current-carrying conductors drawn in the raceway of a run, and whether that is all there is in it (it is named)."""
    key = raceway_key(run)
    if key:
        return ctx.recall("raceway count", key, lambda: _raceway_count(ctx, key)), True
    return of_one_set(circuit_of(ctx, run)), False


def about(ctx: Context, run: Item) -> Iterator[Verdict]:
    """AMP-2 of every named raceway, at the first run in it, and of every other run whose count is entered."""
    if not isinstance(run, ConductorRun):
        return
    runs = named_raceways(ctx).get(raceway_key(run), [])
    if runs and runs[0].id == run.id:
        first = runs[0]
        entered = max((r.current_carrying for r in runs if r.current_carrying is not None), default=None)
        circuits = tuple(circuit_of(ctx, r) for r in runs)
        yield current_carrying(
            CountFacts(
                Subject(first.id, ctx.name(first.id)), ctx.edition, f"Raceway {first.raceway_name}", circuits, entered,
                True, _no_effect(runs, of_raceway(circuits)),
            )
        )  # fmt: skip
    fed = run.id in ctx.net.branches and ctx.feeding.load_node(run.id) is not None
    if fed and not run.raceway_name and run.current_carrying is not None and run.raceway not in _NOT_COUNTED:
        subject = Subject(run.id, ctx.name(run.id))
        circuit = circuit_of(ctx, run)
        yield current_carrying(
            CountFacts(
                subject, ctx.edition, f"The raceway of {subject.name}", (circuit,), run.current_carrying, False,
                _no_effect([run], of_raceway((circuit,))),
            )
        )  # fmt: skip


def _no_effect(runs: list[ConductorRun], count: Count) -> str:
    """Why the count changes no ampacity, as a sentence; "" where it does."""
    lengths = [r.length_ft for r in runs if r.length_ft is not None]
    longest = f"{tables.limit_value('nipple_length_in'):g}"
    if lengths and is_nipple(min(lengths)):
        return f"It is {longest} inches long or less, so the count changes nothing."
    least_over = tables.limit_value("wireway_adjust_over")
    most = max((count.most or 0, *(r.current_carrying or 0 for r in runs)))
    if any(r.raceway == "wireway" for r in runs) and count.most is not None and most <= least_over:
        return f"In a wireway the count changes nothing up to {least_over:g}."
    return ""


#: Everything this subject finds on a drawing.
verdicts = for_all(about)
