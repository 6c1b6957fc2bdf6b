"""Changes worth trying for panels: a main where there is none, and the wires and breakers of a schedule."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from oneline import tables
from oneline.model import Bus, Circuit, ConductorRun
from oneline.model.vocabulary import CONDUCTOR_SIZES
from oneline.rules.verdict import Verdict
from oneline.study.duty import figure
from oneline.study.remedy_choices import Family
from oneline.study.trials import AddedMain, Change, Trials, finish, grouped

#: Most sizes or ratings that are tried for one circuit.
_MOST = 4


def main_breakers(trials: Trials, verdict: Verdict) -> Iterator[Family]:
    """A main for a panel that conductors feed directly, of at most the panel's rating, the largest first."""
    ctx = trials.ctx
    panel = ctx.drawing.items.get(verdict.subject)
    if not isinstance(panel, Bus) or panel.rating_a is None:
        return
    node = ctx.net.node(panel.id)
    key = ctx.feeding.branch[node]
    run = ctx.net.branches[key].item if key else None
    if not isinstance(run, ConductorRun) or panel.id not in (run.a.item, run.b.item):
        return
    duty = figure(ctx, node)
    most = duty.most if duty.value is None else duty.value
    steps = tables.equipment_steps("short_circuit")
    rating_ka = None if most is None else next((s for s in steps if s * 1000 >= most), None)
    ratings = [a for a in reversed(tables.standard_ratings(ctx.edition, "breaker")) if a <= panel.rating_a]
    found = [(AddedMain(panel.id, "main", a, run=run.id, interrupting_ka=rating_ka),) for a in ratings[:_MOST]]
    yield Family(panel.id, "main", tuple(found))


def circuit_families(trials: Trials, verdict: Verdict) -> Iterator[Family]:
    """For a schedule whose breakers are too large for their wires: larger wires, or smaller breakers, line by line.

    A line is looked at alone: the panel with only that line in it.
    """
    panel = trials.ctx.drawing.items.get(verdict.subject)
    if not isinstance(panel, Bus):
        return
    for field in ("trip_a", "wire_size"):
        changes: list[Change] = []
        for circuit in panel.circuits:
            change = _cure(trials, panel, circuit, field)
            if change is not None:
                changes.append(change)
        if changes:
            yield Family(panel.id, "circuits", (tuple(changes),))


def _cure(trials: Trials, panel: Bus, circuit: Circuit, field: str) -> Change | None:
    """The smallest change of one line after which it alone passes; ``None`` where it does, or nothing helps."""
    if _state(trials, panel, circuit) != "fail":
        return None
    values: list[object] = []
    if field == "wire_size" and circuit.wire_size in CONDUCTOR_SIZES:
        at = CONDUCTOR_SIZES.index(circuit.wire_size) + 1
        values = list(CONDUCTOR_SIZES[at : at + _MOST])
    elif field == "trip_a" and circuit.trip_a is not None:
        ratings = tables.standard_ratings(trials.edition, "breaker")
        smaller = [a for a in reversed(ratings) if a < circuit.trip_a][:_MOST]
        values = [*smaller, *(a for a in ratings if a > circuit.trip_a)]
    for value in values:
        if _state(trials, panel, replace(circuit, **{field: value})) != "fail":  # type: ignore[arg-type]
            return Change(panel.id, field, value, circuit.space)
    return None


def _state(trials: Trials, panel: Bus, circuit: Circuit) -> str:
    drawing = trials.drawing.with_items([replace(panel, circuits=(circuit,))])
    found = grouped(v for g in finish(trials.about(drawing, "PNL-7")).values() for v in g)
    group = next((g for key, g in found.items() if key[:2] == ("PNL-7", panel.id)), [])
    return group[0].state if group else "pass"
