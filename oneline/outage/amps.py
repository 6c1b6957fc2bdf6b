"""Amperes of loads, sources and transformers at a point, at most: whatever their angles, without demand factors."""

from __future__ import annotations

from math import inf, sqrt

from oneline import tables
from oneline.model import Battery, Generator, Item, SolarArray, Transformer
from oneline.outage.scene import Scene
from oneline.study.loads import LoadEntry
from oneline.study.phasors import amperes_per_va, transfer

#: Amperes of A, B and C; infinite where nothing bounds them.
Amps = tuple[float, float, float]
NONE: Amps = (0.0, 0.0, 0.0)
OPEN: Amps = (inf, inf, inf)


def load_amps(scene: Scene, entry: LoadEntry) -> Amps:
    """Line amperes of a load, at most; each phase it may be on where that is not known."""
    va = entry.va if entry.va is not None else entry.most_va
    code = scene.ctx.feeding.system[entry.node]
    if va == 0:
        return NONE
    if va is None or code is None or not entry.phases:
        return OPEN
    if entry.phases_known:
        share = amperes_per_va(code, entry.phases)
        if share is not None:
            a, b, c = (abs(s) * va for s in share)
            return a, b, c
    system = tables.system(code)
    worst = va / (system.v_ln or system.v_ll)
    a, b, c = (worst if p in entry.phases else 0.0 for p in "ABC")
    return a, b, c


def output(scene: Scene, source: Item, node: int) -> Amps:
    """Rated output of a source on each phase; without bound where its rating is not known."""
    code = scene.ctx.feeding.system[node] or getattr(source, "system", None)
    amps = source.output_a if isinstance(source, SolarArray | Battery) else None
    va = None
    if isinstance(source, Generator) and source.kva is not None:
        va = source.kva * 1000
    elif isinstance(source, SolarArray | Battery) and source.output_kw is not None:
        va = source.output_kw * 1000
    if amps is None and va is not None and code is not None:
        system = tables.system(code)
        amps = va / (system.v_ll * (sqrt(3) if system.phases == 3 and _three(source) else 1))
    if amps is None:
        return OPEN
    own = (source.phases if isinstance(source, SolarArray | Battery) else None) or "ABC"
    a, b, c = (amps if p in own else 0.0 for p in "ABC")
    return a, b, c


def output_a(scene: Scene, source: Item, node: int) -> float | None:
    """Rated output of a source in amperes; ``None`` where not known."""
    most = max(output(scene, source, node))
    return None if most == inf else most


def _three(source: Item) -> bool:
    return not isinstance(source, SolarArray | Battery) or source.phases == "ABC"


def across(scene: Scene, item: Transformer, parent: int, forward: bool, amps: Amps) -> Amps:
    if not any(amps):
        return NONE
    systems = (item.primary_system, item.secondary_system)
    near, beyond = systems if forward else systems[::-1]
    near = scene.ctx.feeding.system[parent] or near
    if near is None or beyond is None or max(amps) == inf:
        return OPEN
    line, load, phases = near, beyond, scene.ctx.feeding.phases[parent]
    turns = scene.recall(("turns", item.id, forward, phases), lambda: _turns(item, forward, line, load, phases))
    if turns is not None and item.connection is not None:
        a, b, c = (sum(row[j] * amps[j] for j in range(3)) for row in turns)
        return a, b, c
    far, own = tables.system(beyond), tables.system(near)
    va = sum(amps) * (far.v_ln or far.v_ll)
    worst = va / own.v_ll
    return worst, worst, worst


def _turns(item: Transformer, forward: bool, near: str, beyond: str, phases: str) -> list[list[float]] | None:
    """How large line currents on the near side are for those beyond, whatever their angles."""
    matrix = transfer(item, forward, near, beyond, phases)
    return None if matrix is None else [[abs(complex(v)) for v in row] for row in matrix]


def exciting(scene: Scene, item: Transformer, node: int) -> Amps:
    """What a transformer takes with nothing behind it."""
    code = scene.ctx.feeding.system[node]
    if item.kva is None or code is None:
        return OPEN
    system = tables.system(code)
    three = system.phases == 3 and item.connection != "single-phase"
    rated = item.kva * 1000 / (system.v_ll * (sqrt(3) if three else 1))
    part = rated * tables.switching_practice("transformer_exciting_pct") / 100
    return part, part, part


def plus(one: Amps, other: Amps) -> Amps:
    return one[0] + other[0], one[1] + other[1], one[2] + other[2]
