"""The conductors in a raceway, from what each run says it has; runs that name the same raceway share it."""

from __future__ import annotations

from collections.abc import Sequence

from oneline import tables
from oneline.model import ConductorRun, basis_of
from oneline.rules.ampacity import is_nipple
from oneline.rules.common import Subject, listed, unique, weakest
from oneline.rules.raceways import FillFacts, Wire, known_overfull
from oneline.study.context import Context
from oneline.study.sharing import named_raceways, raceway_key, run_phases

_BASIS = ("size", "insulation", "raceway", "raceway_size")


def fill_of(ctx: Context, run: ConductorRun) -> FillFacts:
    """What fills the raceway of a run: its own conductors, and those of every run that names the same raceway."""
    key = raceway_key(run)
    return _shared(ctx, named_raceways(ctx)[key]) if key else _own(ctx, run)


def overfull(ctx: Context, run: ConductorRun) -> bool:
    """Whether the known conductors in the raceway of a run are known to fill it too much."""
    return known_overfull(fill_of(ctx, run))


def _own(ctx: Context, run: ConductorRun) -> FillFacts:
    wires, missing, foreign = wires_of(ctx, run)
    nipple = None if run.length_ft is None else is_nipple(run.length_ft)
    return FillFacts(
        Subject(run.id, ctx.name(run.id)), ctx.edition, run.raceway, run.raceway_size, wires, missing, foreign, nipple,
        basis_of(run, *_BASIS),
    )  # fmt: skip


def _shared(ctx: Context, runs: Sequence[ConductorRun]) -> FillFacts:
    """A raceway that several runs name, or one alone: nothing else is in it."""
    first, found = runs[0], [wires_of(ctx, r) for r in runs]
    where = f"raceway {first.raceway_name}"
    kinds = unique(r.raceway or "" for r in runs)
    sizes = unique(" ".join((r.raceway_size or "").split()) for r in runs)
    missing = [m for _, miss, _ in found for m in miss]
    if len(kinds) > 1:
        missing.append(f"kind of {where}: entered as {listed(kinds)}")
    if len(sizes) > 1:
        missing.append(f"trade size of {where}: entered as {listed(sizes)}")
    known = [r.length_ft for r in runs if r.length_ft is not None]
    nipple = True if known and is_nipple(min(known)) else (False if len(known) == len(runs) else None)
    return FillFacts(
        Subject(first.id, ctx.name(first.id)), ctx.edition, kinds[0] if len(kinds) == 1 else None,
        sizes[0] if len(sizes) == 1 else None, tuple(w for wires, _, _ in found for w in wires), unique(missing), False,
        nipple, weakest(*(basis_of(r, *_BASIS) for r in runs)), where, tuple(r.id for r in runs[1:]),
    )  # fmt: skip


def wires_of(ctx: Context, run: ConductorRun) -> tuple[tuple[Wire, ...], tuple[str, ...], bool | None]:
    """Conductors of a run in one raceway, what is not known about them, and whether others share it (``None`` unknown)."""
    name, phases = ctx.name(run.id), len(run_phases(ctx, run))
    missing = [] if phases else [f"phases of {name}"]
    sets, foreign = _sharing(run, phases)
    if sets is None:
        missing.append(f"number of sets of {name}" if run.sets is None else f"number of sets of {name} in one raceway")
    sets = sets or 1
    wires: list[Wire] = []
    if run.size is None or run.material is None or run.insulation is None:
        missing += [f"{what} of {name}" for what, known in _conductor(run) if not known]
    else:
        wires.append(Wire(max(1, phases) * sets, run.size, run.material, run.insulation))
        wires += _neutral_and_ground(ctx, run, sets, missing)
    return tuple(wires), tuple(missing), foreign


def _conductor(run: ConductorRun) -> tuple[tuple[str, object], ...]:
    return ("conductor size", run.size), ("conductor material", run.material), ("insulation", run.insulation)


def _neutral_and_ground(ctx: Context, run: ConductorRun, sets: int, missing: list[str]) -> list[Wire]:
    assert run.material is not None
    assert run.insulation is not None
    name = ctx.name(run.id)
    load = ctx.feeding.load_node(run.id) if run.id in ctx.net.branches else None
    code = None if load is None else ctx.feeding.system[load]
    has_neutral = code is None or tables.system(code).has_neutral
    found = []
    if run.neutral_size is None and has_neutral:
        missing.append(f"neutral size of {name}")
    elif run.neutral_size not in (None, "none"):
        found.append(Wire(sets, str(run.neutral_size), run.material, run.insulation))
    if run.egc_size is None:
        missing.append(f"equipment grounding conductor of {name}")
    elif run.egc_size not in ("none", "raceway"):
        found.append(Wire(sets, run.egc_size, run.egc_material or run.material, run.insulation))
    return found


def _sharing(run: ConductorRun, phases: int) -> tuple[int | None, bool | None]:
    """Sets in one raceway (``None``: not known) and whether conductors of other circuits share it."""
    count = run.current_carrying
    sets = run.sets
    if sets is None:
        return None, None
    if sets > 1:
        if count is None or not phases:
            return None, None
        own = next((k for k in range(sets, 0, -1) if count >= k * phases), 1)
        sets = own
    if count is None:
        return sets, None
    # A neutral may be counted as current-carrying or not: both counts are this run's own.
    neutral = 0 if run.neutral_size in (None, "none") else 1
    return sets, count > sets * (max(1, phases) + neutral)
