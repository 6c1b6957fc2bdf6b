"""Worksheet of a voltage drop: by phase, cumulative from the service, and by the approximate formula beside the exact one."""

from __future__ import annotations

from collections.abc import Iterator
from math import sqrt

from oneline import tables
from oneline.model import ConductorRun, Transformer
from oneline.rules.common import computed, section
from oneline.rules.verdict import WorkLine
from oneline.study.context import Context


def drop_lines(ctx: Context, node: int) -> tuple[WorkLine, ...]:
    """Lines on the voltage drop to a node; fewer where something is not known."""
    return (*_by_phase(ctx, node), *_approximate(ctx, node))


def _head(ctx: Context, node: int) -> int:
    """Where the voltage of a node comes from: the load side of the last transformer, or the source."""
    for branch, up in ctx.feeding.path(node):
        if isinstance(branch.item, Transformer):
            return node
        node = up
    return node


def _nominal(code: str, key: str) -> float:
    """Nominal volts of a phase to neutral ("A") or between two ("AB")."""
    system = tables.system(code)
    if len(key) > 1 or system.v_ln is None:
        return system.v_ll
    # The high leg of a delta has a voltage to the neutral of its own.
    return system.v_high_leg if system.v_high_leg and key == "B" else system.v_ln


def _pairs(ctx: Context, node: int) -> dict[str, float | None]:
    """Volts between the phases of a node, whether a neutral arrives there or not."""
    ctx.seen("drop", node)
    row = ctx.numbers.flow.pair_v[ctx.feeding.position[node]].tolist()
    return {key: None if volts != volts else volts for key, volts in zip(("AB", "BC", "CA"), row, strict=True)}


def _by_phase(ctx: Context, node: int) -> Iterator[WorkLine]:
    code = ctx.feeding.system[node]
    if code is None:
        return
    head, here = _head(ctx, node), ctx.numbers.voltage_v[node]
    ahead = {**_pairs(ctx, head), **ctx.numbers.voltage_v[head]}
    for key, volts in here.items():
        before, nominal = ahead.get(key), _nominal(code, key)
        if volts is None:
            continue
        what = f"{key[0]} to {key[1]}" if len(key) > 1 else f"{key} to neutral"
        if before is not None:
            yield computed(
                f"By phase, {what}: exact, from the last transformer or source", "100 * lost / nominal", "%",
                lost=before - volts, nominal=nominal,
            )  # fmt: skip
        yield computed(
            f"By phase, {what}: exact, from the service, its voltage taken as nominal",
            "100 * lost / nominal", "%", lost=nominal - volts, nominal=nominal,
        )  # fmt: skip


def _approximate(ctx: Context, node: int) -> Iterator[WorkLine]:
    """Every run since the last transformer or source by I (R cos + X sin), and their sum in percent."""
    code, at, parts = ctx.feeding.system[node], node, []
    if code is None:
        return
    for branch, up in ctx.feeding.path(node):
        if isinstance(branch.item, Transformer):
            break
        if isinstance(branch.item, ConductorRun):
            line = _run(ctx, branch.item, at)
            if line is None:
                return
            parts.append(line)
        at = up
    if not parts:
        return
    yield from reversed(parts)
    phases = ctx.feeding.phases[node]
    nominal = _nominal(code, phases[:1]) if len(phases) == 1 else tables.system(code).v_ll
    volts = {f"v{n}": _at_phases(float(p.value or 0.0), p, len(phases)) for n, p in enumerate(reversed(parts), 1)}
    yield computed(
        "Approximate drop, of the runs together", f"100 * ({' + '.join(volts)}) / nominal", "%", "", nominal=nominal, **volts
    )  # fmt: skip


def _at_phases(volts: float, line: WorkLine, phases: int) -> float:
    """The drop of a run as the voltage at the end has it: of a three-phase run ahead of a single-phase one the part of one
    conductor, or of two."""
    loop = line.inputs["k"]
    wanted = sqrt(3) if phases == 3 else 2.0
    if loop == wanted:
        return volts
    return volts / loop * (1.0 if phases == 1 else wanted)


def _run(ctx: Context, run: ConductorRun, node: int) -> WorkLine | None:
    """k I (R cos + X sin) L / 1000 / sets of one run, volts; ``None`` where something is not known."""
    currents = [a for a in ctx.numbers.current_a[node].values() if a is not None]
    group = tables.raceway_group(run.raceway) or "pvc"
    if run.size is None or run.material is None or run.length_ft is None or run.sets is None or not currents:
        return None
    factor = power_factor(ctx, node)
    if factor is None:
        return None
    r, x = tables.ac_impedance(run.size, run.material, group)
    loop = sqrt(3) if len(ctx.feeding.phases[node]) == 3 else 2.0
    return computed(
        f"Approximate drop of {ctx.name(run.id)}", "k * amperes * (r * pf + x * rf) * feet / 1000 / sets", "V",
        section("TABLE-impedance", ctx.edition), k=loop, amperes=max(currents), r=r, pf=factor, x=x,
        rf=sqrt(max(0.0, 1 - factor**2)), feet=run.length_ft, sets=float(run.sets),
    )  # fmt: skip


def power_factor(ctx: Context, node: int) -> float | None:
    """Power factor of the connected load behind a node, where it is not entered as assumed; ``None`` without load."""
    inside = set(ctx.feeding.subtree(node))
    usual = tables.limit_value("power_factor_assumed")
    watts = vars_ = 0.0
    for entry in ctx.loads:
        if entry.node in inside and entry.va:
            factor = entry.power_factor if entry.power_factor is not None else float(usual)
            watts += entry.va * factor
            vars_ += entry.va * sqrt(max(0.0, 1 - factor**2))
    total = sqrt(watts**2 + vars_**2)
    return watts / total if total else None
