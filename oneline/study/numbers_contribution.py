"""What running motors and inverters add to the fault current: magnitudes, not attenuated by the conductors between."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

import numpy as np

from oneline import tables
from oneline.calc import fault
from oneline.calc.flow_tree import Array
from oneline.model import Battery, SolarArray
from oneline.study.loads import LoadEntry
from oneline.study.numbers_forest import PHASES, Forest, zone_volts

MOTOR_CLASSES = ("motor", "hvac", "elevator")


@dataclass(frozen=True)
class Contribution:
    """``amperes`` (n,) by pre-order, what is known of it; ``lacks`` and ``assumed``: phrases by source item id."""

    amperes: Array
    lacks: dict[str, tuple[str, ...]]
    assumed: dict[str, tuple[str, ...]]


def compute_contribution(forest: Forest, entries: tuple[LoadEntry, ...]) -> Contribution:
    """Contribution at every node from everything in its tree.

    Motors give a multiple of full-load current; those behind a drive (nonlinear) give none. Inverters give the maker's
    figure or an assumed one. Each phase of a zone is summed by magnitude; what comes through a transformer is taken
    over by the ratio of the voltages, whole, which is on the high side.
    """
    ctx = forest.ctx
    _, v_ll, v_ln = zone_volts(forest.zones)
    per_phase = np.zeros((len(forest.zones), 3))
    lacks: dict[str, list[str]] = {}
    assumed: dict[str, list[str]] = {}
    factor = tables.limit_value("motor_contribution_factor")
    for entry in entries:
        place = ctx.feeding.position[entry.node]
        if entry.load_class not in MOTOR_CLASSES or entry.nonlinear or place < 0 or entry.va == 0:
            continue
        zone = int(forest.zone[place])
        amperes = _full_load(entry.va, entry.phases if entry.phases_known else "", v_ll[zone], v_ln[zone])
        if amperes is None:
            need = entry.needs[0] if entry.needs else f"load of {entry.label}"
            lacks.setdefault(forest.zones[zone].source, []).append(need)
            continue
        for p in entry.phases:
            per_phase[zone, PHASES.index(p)] += fault.motor_a(amperes, factor)
    for inverter in (*ctx.drawing.of(SolarArray), *ctx.drawing.of(Battery)):
        place = ctx.feeding.position[ctx.net.sources[inverter.id]]
        zone = int(forest.zone[place])
        if forest.zones[zone].source == inverter.id:
            continue
        name, source = ctx.name(inverter.id), forest.zones[zone].source
        phases = inverter.phases or ctx.feeding.phases[int(forest.nodes[place])]
        rated = inverter.output_a
        if rated is None and inverter.output_kw is not None:
            rated = _full_load(inverter.output_kw * 1000, phases, v_ll[zone], v_ln[zone])
        if rated is None:
            lacks.setdefault(source, []).append(f"continuous output current of {name}")
            continue
        times = inverter.fault_factor
        if times is None:
            times = tables.limit_value("inverter_fault_factor")
            assumed.setdefault(source, []).append(f"fault current of {name} taken as {times:g} times its rated current")
        for p in phases:
            per_phase[zone, PHASES.index(p)] += fault.inverter_a(rated, times)
    amperes_at = _at_nodes(forest, per_phase, v_ll)
    return Contribution(amperes_at, {k: tuple(v) for k, v in lacks.items()}, {k: tuple(v) for k, v in assumed.items()})


def _full_load(va: float | None, phases: str, v_ll: float, v_ln: float) -> float | None:
    volts = v_ln if len(phases) == 1 else v_ll * (sqrt(3) if len(phases) == 3 else 1)
    return None if va is None or not phases or not np.isfinite(volts) else va / float(volts)


def _at_nodes(forest: Forest, per_phase: Array, v_ll: Array) -> Array:
    """The worst phase of each node's own zone, and the worst phases of the other zones of its tree by voltage ratio."""
    worst = per_phase.max(axis=1) if len(per_phase) else np.zeros(0)
    volt_amperes = np.where(np.isfinite(v_ll), worst * v_ll, 0)
    sources = [z.source for z in forest.zones]
    of_tree = {s: sum(v for v, t in zip(volt_amperes, sources, strict=True) if t == s) for s in set(sources)}
    others = np.array([of_tree[s] for s in sources]) - volt_amperes if sources else np.zeros(0)
    with np.errstate(invalid="ignore"):
        from_others = np.where(others > 0, others / v_ll, 0.0)
    shown = {phases: [p in phases for p in PHASES] for phases in set(forest.ctx.feeding.phases)}
    present = np.array([shown[forest.ctx.feeding.phases[node]] for node in forest.nodes], bool).reshape(-1, 3)
    own = np.where(present, per_phase[forest.zone], 0).max(axis=1) if forest.size else np.zeros(0)
    return np.asarray(own + from_others[forest.zone])
