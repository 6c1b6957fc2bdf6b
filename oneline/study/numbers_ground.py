"""Fault currents from line to ground: out through a phase conductor, back through the equipment grounding conductor.

The way back ends at the bond to the grounded conductor: at the service disconnect, ahead of which the grounded conductor
itself is the way back, or at the transformer. What a metal raceway carries back beside or instead of a wire no table
here tells: such figures lie between that of the wire alone and that of a raceway without any impedance.

On a corner-grounded delta a ground fault is one between two lines through the grounding conductor. On an ungrounded
system the first ground fault draws no current; a second one on another phase acts from line to line.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import sqrt

import numpy as np

from oneline import tables
from oneline.calc.flow_tree import Array
from oneline.model import ConductorRun, Disconnect, Transformer, UtilityService
from oneline.study.numbers_cores import Core, CoreBranch
from oneline.study.numbers_elements import GROUND, NEUTRAL, WIDTH, Elements, fault_elements, solve
from oneline.study.numbers_facts import FLAGS, cold_impedance
from oneline.study.numbers_fault import Faults
from oneline.study.numbers_forest import PHASES, Forest, zone_volts
from oneline.study.numbers_overlay import dependence, seen, turned

#: Of a corner-grounded delta the grounded phase; which letter it has changes no figure.
_CORNER = 1
_SAME = 1e-9
#: Below any conductor: what is left of nothing where sums of ohms are taken apart again.
_NOTHING_OHM = 1e-12


@dataclass(frozen=True)
class WayBack:
    """Impedance of the way back along one run, ohms: at least ``least``, at most ``most`` (``None``: nobody knows); one
    figure where nothing is in ``lacks``."""

    least: complex = 0j
    most: complex | None = 0j
    lacks: tuple[str, ...] = ()


_NO_WAY = WayBack()


@lru_cache(maxsize=50_000)
def way_back(
    sets: int | None, length_ft: float | None, egc_size: str | None, egc_material: str | None, raceway: str | None
) -> WayBack:
    """The way back through the grounding conductor of a run; one such conductor with each set."""
    if egc_size is None:
        return WayBack(0j, None, ("equipment grounding conductor of {}",))
    metal = None if raceway is None else tables.raceway_is_metal(raceway)
    if egc_size in ("none", "raceway"):
        if egc_size == "none" and metal is False:
            return WayBack(0j, None, ("equipment grounding conductor of {} (a fault finds no way back but the earth)",))
        return WayBack(0j, None, ("impedance of the metal raceway of {}, the way back of a ground fault (no table)",))
    if sets is None or length_ft is None:
        return WayBack(0j, None, ())  # the run's own needs say so
    groups = [tables.raceway_group(raceway)] if raceway is not None else ["pvc", "steel"]
    materials = [egc_material] if egc_material is not None else ["copper", "aluminum"]
    found = [
        cold_impedance(egc_size, material, group, length_ft, sets)
        for group in groups if group is not None
        for material in materials
    ]  # fmt: skip
    known = [z for z in found if z is not None]
    if not known:
        return WayBack(
            0j, None, (f"impedance of the {egc_size} grounding conductor of {{}} (the table has no such size)",)
        )
    most = complex(max(z.real for z in known), max(z.imag for z in known))
    least = complex(min(z.real for z in known), min(z.imag for z in known))
    if metal is not False:
        what = (
            "raceway of {}"
            if raceway is None
            else "impedance of the metal raceway of {}, beside its grounding conductor"
        )
        return WayBack(0j, most, (what,))
    if egc_material is None:
        return WayBack(least, most, ("material of the grounding conductor of {}",))
    return WayBack(least, most)


@dataclass(frozen=True)
class GroundFaults:
    """Figures in pre-order, ``nan`` where not known. ``lg_a``: line to ground; ``bound_a`` at most, ``least_a`` at least
    (of an ungrounded system the first fault, 0, and at most what a second one draws). What is missing, in words:
    ``own`` (n,) along the branch into a node, ``core`` by node of a core. ``ungrounded`` (n,)."""

    lg_a: Array
    bound_a: Array
    least_a: Array
    own: tuple[tuple[str, ...], ...]
    core: dict[int, tuple[str, ...]]
    ungrounded: Array


def ground_faults(forest: Forest, faults: Faults) -> GroundFaults:
    """Fault currents from line to ground at every node of a forest."""
    ahead = _ahead_of_bond(forest)
    grounding = [None if z.system is None else tables.system(z.system).grounding for z in forest.zones]
    ways = [_NO_WAY] * forest.size
    for k in np.flatnonzero(forest.is_run).tolist():
        ways[k] = _way(forest, k, k in ahead, grounding[int(forest.zone[k])])
    core, loop, least, lacking = _in_cores(forest, faults, ahead)
    heads = _heads(forest, faults, grounding)
    order, overlay = forest.tree.order, faults.overlay
    phase = forest.rows[:, 0]
    lacks, endless = (forest.flags & (FLAGS["lacks"] | FLAGS["open_raceway"])) > 0, np.zeros(forest.size, bool)
    endless |= lacks | np.array([w.most is None for w in ways], bool)
    lacks |= np.array([bool(w.lacks) for w in ways], bool)
    path = (phase + np.array([w.least for w in ways], complex))[order]
    fixed = (phase + np.array([w.least if w.most == w.least else 0j for w in ways], complex))[order]
    loose = np.array([0.0 if w.most == w.least else abs(w.most or 0j) for w in ways])[order]
    none, zero = np.zeros(forest.size), 0 * least
    exact = np.abs(loop) <= least * (1 + _SAME)

    def sums(
        one: Array, other: Array, head: Array, head_other: Array, at: Array, at_other: Array
    ) -> tuple[Array, Array]:
        return overlay.down((one, other), lambda k, _, __: (head[k], head_other[k]), (at, at_other))

    z, count = sums(path, lacks[order].astype(float), heads.z, 1.0 - heads.known, loop, lacking)
    # Of a head whose angle is not known only the magnitude adds up.
    certain = np.where(heads.exact, heads.z, 0)
    known_z, open_end = sums(fixed, endless[order].astype(float), certain, 1.0 - heads.most, loop, 1.0 - exact)
    rest = sums(path, none, 0 * heads.z, 0 * heads.least, 0 * loop, zero)[0]
    range_ = sums(path, loose, heads.z, np.abs(heads.z - certain), loop, zero)[1]
    low, inexact = sums(none, none, heads.least, 1.0 - heads.exact, least, 1.0 - exact)
    volts = heads.volts[forest.tree.zone]
    with np.errstate(divide="ignore", invalid="ignore"):
        loop_ohm = np.where(inexact > 0, np.hypot(np.abs(rest), low), np.abs(z))
        bound = volts / np.where(loop_ohm > _NOTHING_OHM, loop_ohm, 0.0)
        found = {
            "lg_a": np.where(count == 0, volts / np.abs(z), np.nan),
            "bound_a": np.where(np.isfinite(bound), bound, np.nan),
            "least_a": np.where(open_end == 0, volts / (np.abs(known_z) + range_), np.nan),
        }
    spread = {name: forest.spread(np.where(np.isfinite(values), values, np.nan)) for name, values in found.items()}
    ungrounded = np.array([g == "ungrounded" for g in grounding], bool)[forest.zone]
    for name, values in (("lg_a", none), ("least_a", none), ("bound_a", faults.bound_a)):
        spread[name] = np.where(ungrounded, values, spread[name])
    return GroundFaults(**spread, own=tuple(w.lacks for w in ways), core=core, ungrounded=ungrounded)


def _ahead_of_bond(forest: Forest) -> set[int]:
    """Places of the nodes whose branch lies ahead of the service disconnect."""
    ctx, feeding = forest.ctx, forest.ctx.feeding
    found: set[int] = set()
    for zone in forest.zones:
        if zone.transformer is not None or not isinstance(ctx.drawing.get(zone.source), UtilityService):
            continue
        found.add(zone.head)
        place, end = zone.head + 1, feeding.last[int(forest.nodes[zone.head])]
        while place < end:
            node = int(forest.nodes[place])
            item = ctx.net.branches[feeding.branch[node]].item
            bonded = isinstance(item, Disconnect) and item.service_disconnect is not False
            if bonded or isinstance(item, Transformer):
                place = feeding.last[node]
                continue
            found.add(place)
            place += 1
    return found


def _way(forest: Forest, place: int, ahead: bool, grounding: str | None) -> WayBack:
    """The way back along the branch into a node."""
    run = forest.ctx.net.branches[key].item if (key := forest.ctx.feeding.branch[int(forest.nodes[place])]) else None
    return way_along(run, forest.runs[place].row, forest.runs[place].lacks_neutral, ahead, grounding)


def way_along(
    run: object, row: tuple[complex, ...], lacks_neutral: tuple[str, ...], ahead: bool, grounding: str | None
) -> WayBack:
    """The way back along a run; nothing where it is none."""
    if not isinstance(run, ConductorRun):
        return _NO_WAY
    if not ahead:
        return way_back(run.sets, run.length_ft, run.egc_size, run.egc_material, run.raceway)
    if grounding == "corner":
        return WayBack(row[0], row[0])
    if run.neutral_size == "none":
        return WayBack(0j, None, ("grounded conductor of {} to the service disconnect",))
    return WayBack(row[1], None if lacks_neutral else row[1], lacks_neutral)


@dataclass(frozen=True)
class _Heads:
    """By zone: impedance of the loop to the bond at its head and the least magnitude it can have; whether it is known,
    whether the least is all there is to it, and whether its magnitude is at most that; the volts that drive the fault."""

    z: Array
    least: Array
    known: Array
    exact: Array
    most: Array
    volts: Array


def _heads(forest: Forest, faults: Faults, grounding: list[str | None]) -> _Heads:
    emf, v_ll, _ = zone_volts(forest.zones)
    count = len(forest.zones)
    z, least, volts = np.zeros(count, complex), np.zeros(count), np.full(count, np.nan)
    known, exact, most = (np.zeros(count, bool) for _ in range(3))
    for k, zone in enumerate(forest.zones):
        at = zone.head
        if grounding[k] == "corner":
            z[k], volts[k] = 2 * faults.z[at], v_ll[k]
            current, bound = faults.ll_a[at], faults.bound_a[at] * sqrt(3) / 2
        elif grounding[k] in ("neutral", "midpoint"):
            z[k], volts[k] = faults.z_ln[at], abs(emf[k, 0])
            current, bound = faults.ln_a[at], faults.ln_bound_a[at]
        else:
            continue
        known[k] = current == current
        least[k] = volts[k] / bound if bound == bound else 0.0
        exact[k] = known[k] and faults.angle_known[at] and abs(z[k]) <= least[k] * (1 + _SAME)
        # Of an unknown X/R all is taken as reactance, which is the most a winding that is not divided can have.
        most[k] = exact[k] or (known[k] and grounding[k] != "midpoint")
    return _Heads(z, least, known, exact, most, volts)


# ------------------------------------------------------------------------------------------------------------- cores
def _in_cores(
    forest: Forest, faults: Faults, ahead: set[int]
) -> tuple[dict[int, tuple[str, ...]], Array, Array, Array]:  # fmt: skip
    """Over the nodes of all cores: what is missing by node, the loop's impedance, its least magnitude, and 1 where
    something is missing."""
    needs: dict[int, tuple[str, ...]] = {}
    loops, least, lacking = [np.zeros(0, complex)], [np.zeros(0)], [np.zeros(0)]
    phases = forest.ctx.feeding.phases
    for solved in faults.overlay.cores:
        core = solved.core
        count = len(core.nodes)
        if core.refused:
            needs.update(dict.fromkeys(core.nodes, core.refused))
            loops.append(np.zeros(count, complex))
            least.append(np.zeros(count))
            lacking.append(np.ones(count))
            continue
        bonds = {k: _bond(forest, n) for k, n in enumerate(core.nodes)}
        elements = _elements(forest, core, ahead, bonds)
        widths = [[c for p in phases[n] if (c := PHASES.index(p)) != bonds[k]] for k, n in enumerate(core.nodes)]
        _, loop, _ = seen(solve(elements, {}), widths, GROUND)
        _, missing = dependence(elements, widths, loop, loop, GROUND)
        open_ = np.array([bool(m) for m in missing], bool)
        low = np.abs(loop)
        if open_.any() or elements.free:
            low = np.where(open_ | bool(elements.free), turned(elements, widths, GROUND)[1], low)
        needs.update(zip(core.nodes, missing, strict=True))
        loops.append(np.where(open_, low, loop))
        least.append(low)
        lacking.append(open_.astype(float))
    return needs, np.concatenate(loops), np.concatenate(least), np.concatenate(lacking)


def _bond(forest: Forest, node: int) -> int:
    """Conductor that is grounded where a node is: the neutral, a phase, or -1."""
    code = forest.ctx.feeding.system[node]
    grounding = None if code is None else tables.system(code).grounding
    return {"neutral": NEUTRAL, "midpoint": NEUTRAL, "corner": _CORNER}.get(grounding or "", -1)


def _elements(forest: Forest, core: Core, ahead: set[int], bonds: dict[int, int]) -> Elements:
    """Elements of a core with its grounding conductors and the bonds at sources and transformers."""
    found = fault_elements(core)
    position = forest.ctx.feeding.position
    for s in core.sources:
        if bonds[s.at] >= 0:
            found.wire(WIDTH * s.at + GROUND, WIDTH * s.at + bonds[s.at], 0j)
    for b in core.branches:
        if b.zone is not None:
            if bonds[b.b] >= 0:
                found.wire(WIDTH * b.b + GROUND, WIDTH * b.b + bonds[b.b], 0j)
            continue
        before = position[core.nodes[b.a]] in ahead and position[core.nodes[b.b]] in ahead
        _ground_wire(found, b, before, bonds)
    return found


def _ground_wire(found: Elements, b: CoreBranch, before: bool, bonds: dict[int, int]) -> None:
    if before and b.run is not None and bonds[b.a] >= 0:
        for k in (b.a, b.b):  # ahead of the bond the grounded conductor is the way back
            found.wire(WIDTH * k + GROUND, WIDTH * k + bonds[k], 0j)
        return
    way = way_along(b.run, b.figures.row, b.figures.lacks_neutral, False, None)
    gap = found.gap(*(p.format(b.name) for p in way.lacks), neutral_only=True) if way.lacks else -1
    found.wire(WIDTH * b.a + GROUND, WIDTH * b.b + GROUND, way.least, gap)
