"""What running motors and inverters add to the fault current: magnitudes, not attenuated by conductors.

Transformers between do attenuate it. What comes up through one is what the motors drive through its impedance; what
comes down is the increase of the fault current when the supply ahead is stronger by them. Both lie on the high side,
because a motor's impedance is taken as all reactance, or at the angle of the supply it stands beside.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

import numpy as np

from oneline import tables
from oneline.calc import fault
from oneline.calc.flow_tree import Array
from oneline.model import Battery, SolarArray
from oneline.study.loads import LoadEntry
from oneline.study.numbers_fault import Faults
from oneline.study.numbers_forest import PHASES, Forest, zone_volts

MOTOR_CLASSES = ("motor", "hvac", "elevator")


@dataclass(frozen=True)
class Contribution:
    """``amperes`` (n,) by pre-order, what is known of it; ``lacks`` and ``assumed``: phrases by source item id. ``driven``:
    what motors and inverters give in their own zones."""

    amperes: Array
    lacks: dict[str, tuple[str, ...]]
    assumed: dict[str, tuple[str, ...]]
    driven: Driven


@dataclass(frozen=True)
class Driven:
    """What motors and inverters give in their own zones: amperes by zone and phase, and phrases by source item id."""

    per_phase: Array
    lacks: dict[str, list[str]]
    assumed: dict[str, list[str]]


def compute_contribution(
    forest: Forest, entries: tuple[LoadEntry, ...], faults: Faults, driven: Driven | None = None
) -> Contribution:
    """Contribution at every node from everything in its tree. ``driven``: where it is known already.

    Each phase of a zone is summed by magnitude, the worst phase goes through transformers.
    """
    driven = driven or _driven(forest, entries)
    per_phase, lacks, assumed = driven.per_phase, dict(driven.lacks), dict(driven.assumed)
    _, v_ll, _ = zone_volts(forest.zones)
    own = per_phase.max(axis=1, initial=0)
    arriving = _through(forest, own, v_ll, faults)
    for roots in _tied(forest):
        _all_ways(forest, roots, own, v_ll, arriving)
        for found in (lacks, assumed):
            every = [phrase for root in roots for phrase in found.get(root, [])]
            found.update({root: every for root in roots if every})
    return Contribution(
        _at_nodes(forest, per_phase, arriving), {k: tuple(v) for k, v in lacks.items()},
        {k: tuple(v) for k, v in assumed.items()}, driven,
    )  # fmt: skip


def _driven(forest: Forest, entries: tuple[LoadEntry, ...]) -> Driven:
    """Motors give a multiple of full-load current; those behind a drive (nonlinear) give none. Inverters give the maker's
    figure or an assumed one."""
    ctx = forest.ctx
    _, v_ll, v_ln = zone_volts(forest.zones)
    per_phase = np.zeros((len(forest.zones), 3))
    lacks: dict[str, list[str]] = {}
    assumed: dict[str, list[str]] = {}
    factor = tables.limit_value("motor_contribution_factor")
    for entry in [e for e in entries if e.load_class in MOTOR_CLASSES]:
        place = ctx.feeding.position[entry.node]
        if entry.nonlinear or place < 0 or entry.va == 0:
            continue
        zone = int(forest.zone[place])
        amperes = _full_load(entry.va, entry.phases if entry.phases_known else "", v_ll[zone], v_ln[zone])
        if amperes is None:
            need = entry.needs[0] if entry.needs else f"load of {entry.label}"
            lacks.setdefault(forest.zones[zone].source, []).append(need)
            continue
        for p in entry.phases:
            per_phase[zone, PHASES.index(p)] += fault.motor_a(amperes, factor)
    for source in ctx.net.sources:
        inverter = ctx.drawing.get(source)
        if not isinstance(inverter, SolarArray | Battery):
            continue
        place = ctx.feeding.position[ctx.net.sources[inverter.id]]
        zone = int(forest.zone[place])
        if forest.zones[zone].source == inverter.id:
            continue
        name, feeder = ctx.name(inverter.id), forest.zones[zone].source
        phases = inverter.phases or ctx.feeding.phases[int(forest.nodes[place])]
        rated = inverter.output_a
        if rated is None and inverter.output_kw is not None:
            rated = _full_load(inverter.output_kw * 1000, phases, v_ll[zone], v_ln[zone])
        if rated is None:
            lacks.setdefault(feeder, []).append(f"continuous output current of {name}")
            continue
        times = inverter.fault_factor
        if times is None:
            times = tables.limit_value("inverter_fault_factor")
            taken = f"fault current of {name} taken as {times:g} times its rated current"
            noted = f" ({tables.FROM_MEMORY})" if isinstance(times, tables.FromMemory) else ""
            assumed.setdefault(feeder, []).append(taken + noted)
        for p in phases:
            per_phase[zone, PHASES.index(p)] += fault.inverter_a(rated, times)
    return Driven(per_phase, lacks, assumed)


def _tied(forest: Forest) -> list[list[str]]:
    """Sources of trees that loops join with each other, or with themselves through transformers."""
    found = []
    for core in forest.cores:
        roots = sorted({forest.ctx.feeding.root[n] for n in core.nodes})
        if len(roots) > 1 or any(b.zone is not None for b in core.branches):
            found.append(roots)
    return found


def _all_ways(forest: Forest, roots: list[str], own: Array, v_ll: Array, arriving: Array) -> None:
    """What arrives in zones that several ways join: of every other zone all there is, by the ratio of the voltages, as if
    no transformer lay between. That is on the high side."""
    zones = [k for k, z in enumerate(forest.zones) if z.source in roots]
    power = own[zones] * v_ll[zones]
    for k in zones:
        others = np.nansum(power) - np.nan_to_num(own[k] * v_ll[k])
        arriving[k] = others / v_ll[k] if others else 0.0


def _full_load(va: float | None, phases: str, v_ll: float, v_ln: float) -> float | None:
    volts = v_ln if len(phases) == 1 else v_ll * (sqrt(3) if len(phases) == 3 else 1)
    return None if va is None or not phases or not np.isfinite(volts) else va / float(volts)


def _through(forest: Forest, own: Array, v_ll: Array, faults: Faults) -> Array:
    """What arrives in each zone from the other zones of its tree, amperes."""
    zones, heads = forest.zones, faults.heads
    parent = [int(forest.zone[z.above]) if z.above >= 0 else -1 for z in zones]
    loop = [2.0 if z.system is None or _is_single(z.system) else sqrt(3) for z in zones]
    below, sent = own.copy(), np.zeros(len(zones))
    for k in reversed(range(len(zones))):
        if parent[k] >= 0 and below[k] > 0:
            motors = 1j * v_ll[k] / (loop[k] * below[k])
            sent[k] = v_ll[k] / (loop[k] * abs(motors + heads[k].z)) * heads[k].ratio
            below[parent[k]] += sent[k]
    arriving = below - own
    from_above = np.zeros(len(zones))
    for k, up in enumerate(parent):
        if up < 0:
            continue
        beside = below[up] + from_above[up] - sent[k]
        if beside <= 0 or not heads[k].ratio or not np.isfinite(v_ll[k]):
            continue
        z = faults.z[zones[k].head]
        ahead, supply = z - heads[k].z, faults.main_a[zones[k].above]
        if np.isfinite(supply):
            stronger = ahead * supply / (supply + beside) + heads[k].z
            from_above[k] = v_ll[k] / loop[k] * (1 / abs(stronger) - 1 / abs(z))
        else:  # without a known supply: what the motors alone would drive
            motors = 1j * v_ll[k] / (loop[k] * beside / heads[k].ratio)
            from_above[k] = v_ll[k] / (loop[k] * abs(motors + heads[k].z))
    return arriving + from_above


def _is_single(code: str) -> bool:
    return tables.system(code).phases == 1


def _at_nodes(forest: Forest, per_phase: Array, arriving: Array) -> Array:
    """The worst phase of each node's own zone, and what arrives from the others."""
    own = np.where(forest.present, per_phase[forest.zone], 0).max(axis=1, initial=0)
    return np.asarray(own + arriving[forest.zone])
