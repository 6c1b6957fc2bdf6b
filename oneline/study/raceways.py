"""Fill of the raceways on a drawing, from the conductors that each run says it has."""

from __future__ import annotations

from collections.abc import Iterator

from oneline import tables
from oneline.model import ConductorRun, basis_of
from oneline.rules.ampacity import is_nipple
from oneline.rules.common import existing_work
from oneline.rules.raceways import FillFacts, Wire, raceway_fill
from oneline.rules.verdict import Verdict
from oneline.study.context import Context
from oneline.study.ends import subject_of
from oneline.study.supply import RunSupply, supplies

#: What does not enclose conductors in a cross section of known size.
_NO_FILL = ("cable", "busway", "open", "within enclosure")


def fill_facts(ctx: Context, supply: RunSupply) -> FillFacts:
    """The conductors of a run in one raceway, and what is not known about them."""
    run = supply.run
    name = ctx.name(run.id)
    phases = len(run.phases or ctx.feeding.phases[supply.load])
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
        wires += _neutral_and_ground(ctx, supply, run, sets, missing)
    nipple = None if run.length_ft is None else is_nipple(run.length_ft)
    return FillFacts(
        subject_of(ctx, run), ctx.edition, run.raceway, run.raceway_size, tuple(wires), tuple(missing), foreign, nipple,
        basis_of(run, "size", "insulation", "raceway", "raceway_size"),
    )  # fmt: skip


def _conductor(run: ConductorRun) -> tuple[tuple[str, object], ...]:
    return ("conductor size", run.size), ("conductor material", run.material), ("insulation", run.insulation)


def _neutral_and_ground(
    ctx: Context, supply: RunSupply, run: ConductorRun, sets: int, missing: list[str]
) -> list[Wire]:  # fmt: skip
    assert run.material is not None
    assert run.insulation is not None
    name = ctx.name(run.id)
    code = ctx.feeding.system[supply.load]
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


def verdicts(ctx: Context) -> Iterator[Verdict]:
    """RWY-1 (RWY-4 for wireways) of every fed run in a raceway."""
    for supply in supplies(ctx).values():
        run = supply.run
        if run.raceway in _NO_FILL or (run.raceway is None and run.status != "new"):
            continue
        yield existing_work(raceway_fill(fill_facts(ctx, supply)), run.status)
