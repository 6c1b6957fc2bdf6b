"""Worksheet of a fault current: every impedance on the way from the source, their sum, and the current."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import lru_cache
from math import sqrt

from oneline import tables
from oneline.model import ConductorRun, Transformer, UtilityService
from oneline.network import Branch
from oneline.rules.common import computed, looked_up, section
from oneline.rules.verdict import WorkLine
from oneline.study.context import Context
from oneline.study.numbers_facts import HeadFigures, tolerance_of
from oneline.study.numbers_fault import Faults
from oneline.study.numbers_forest import Forest, Zone

METHOD = "IEEE 141 (E / Z)"


@dataclass
class _Sum:
    """Resistances and reactances added up so far in one zone, ohms, each under a letter of its own."""

    parts: list[tuple[float, float]] = field(default_factory=list)

    def add(self, r: float, x: float) -> None:
        self.parts.append((r, x))

    def lines(self, where: str) -> tuple[WorkLine, WorkLine]:
        found = []
        for word, letter, k in (("Resistance", "r", 0), ("Reactance", "x", 1)):
            inputs = {f"{letter}{n + 1}": part[k] for n, part in enumerate(self.parts)}
            found.append(computed(f"{word} from the source to {where}", " + ".join(inputs), "ohm", METHOD, **inputs))
        return found[0], found[1]


def fault_work(ctx: Context, forest: Forest, faults: Faults, node: int) -> tuple[WorkLine, ...]:
    """Lines that lead to the fault current at a node; empty where it is not known.

    Three-phase, or from line to line where two phases arrive; for a node with one phase the two loops' sums are given.
    """
    place = ctx.feeding.position[node]
    if place < 0 or faults.main_a[place] != faults.main_a[place]:
        return ()
    steps = list(ctx.feeding.path(node))[::-1]
    phases = ctx.feeding.phases[node]
    zone = forest.zones[int(forest.zone[place])]
    passed = [_zone_behind(ctx, forest, b) for b, _ in steps if isinstance(b.item, Transformer)]
    if zone.system is None or any(faults.heads[k].of_loop for k in passed):
        return (looked_up("Available fault current", float(faults.main_a[place]), "A", METHOD),)
    if len(phases) == 1:
        return _one_phase(ctx, faults, place, zone)
    if node in faults.overlay.index or any(up in faults.overlay.index for _, up in steps):
        return _by_nodes(faults, place, zone, len(phases))
    lines: list[WorkLine] = []
    total = _Sum()
    k = int(forest.zone[ctx.feeding.position[_top(ctx, node)]])
    lines += _source(ctx, forest.zones[k], faults.heads[k], total)
    for branch, _ in steps:
        down = ctx.feeding.load_node(branch.key)
        assert down is not None
        at = ctx.feeding.position[down]
        if isinstance(branch.item, ConductorRun):
            if branch.item.length_ft:
                lines += _run(ctx, branch.item, forest.runs[at].row[0], total)
        elif isinstance(branch.item, Transformer):
            head = faults.heads[_zone_behind(ctx, forest, branch)]
            lines += total.lines(ctx.name(branch.key))
            total = _through(lines, ctx.name(branch.key), head, total)
    lines += total.lines("there")
    r, x = lines[-2].value, lines[-1].value
    assert isinstance(r, float)
    assert isinstance(x, float)
    lines.append(_result(tables.system(zone.system).v_ll, r, x, len(phases)))
    return tuple(lines)


def _result(volts: float, r: float, x: float, phases: int) -> WorkLine:
    """The current from the sums of resistance and reactance."""
    formula = "volts / (sqrt(3) * sqrt(r ** 2 + x ** 2))" if phases == 3 else "volts / (2 * sqrt(r ** 2 + x ** 2))"
    kind = "three-phase" if phases == 3 else "line to line"
    return computed(f"Available fault current, {kind}", formula, "A", METHOD, volts=volts, r=r, x=x)


def _by_nodes(faults: Faults, place: int, zone: Zone, phases: int) -> tuple[WorkLine, ...]:
    """Where loops or parallel sources are closed impedances do not simply add up: what all ways together make."""
    assert zone.system is not None
    z = complex(faults.z[place])
    method = f"{METHOD}, nodal equations"
    return (
        looked_up("Resistance of all ways from the sources together", z.real, "ohm", method),
        looked_up("Reactance of all ways from the sources together", z.imag, "ohm", method),
        _result(tables.system(zone.system).v_ll, z.real, z.imag, phases),
    )


def _zone_behind(ctx: Context, forest: Forest, branch: Branch) -> int:
    """Number of the zone that a transformer feeds."""
    down = ctx.feeding.load_node(branch.key)
    assert down is not None
    return int(forest.zone[ctx.feeding.position[down]])


def _top(ctx: Context, node: int) -> int:
    while ctx.feeding.branch[node]:
        node = ctx.feeding.parent[node]
    return node


def _one_phase(ctx: Context, faults: Faults, place: int, zone: Zone) -> tuple[WorkLine, ...]:
    z = complex(faults.z_ln[place])
    assert zone.system is not None
    system = tables.system(zone.system)
    volts = system.v_ll / sqrt(3) if system.phases == 3 else system.v_ln or system.v_ll
    return (
        looked_up("Resistance of the loop line to neutral", z.real, "ohm", METHOD),
        looked_up("Reactance of the loop line to neutral", z.imag, "ohm", METHOD),
        computed(
            "Available fault current, line to neutral", "volts / sqrt(r ** 2 + x ** 2)", "A", METHOD, volts=volts,
            r=z.real, x=z.imag,
        ),
    )  # fmt: skip


def _source(ctx: Context, zone: Zone, head: HeadFigures, total: _Sum) -> Iterator[WorkLine]:
    """Impedance of the source, per phase."""
    source, name = ctx.drawing.get(zone.source), ctx.name(zone.source)
    assert zone.system is not None
    system = tables.system(zone.system)
    root = "sqrt(3)" if system.phases == 3 else "2"
    total.add(head.z.real, head.z.imag)
    if isinstance(source, UtilityService) and source.fault_ka is not None:
        yield computed(
            f"Impedance behind {name}", f"volts / ({root} * amperes)", "ohm", "utility", volts=system.v_ll,
            amperes=source.fault_ka * 1000,
        )  # fmt: skip
    elif isinstance(source, UtilityService) and source.transformer_kva and source.transformer_z_pct:
        part = "" if system.phases == 3 else " / 2"
        yield computed(
            f"Impedance of the transformer of {name}",
            f"percent / 100 * tolerance * volts ** 2 / (kva * 1000){part}", "ohm", METHOD,
            percent=source.transformer_z_pct, tolerance=tolerance_of(source, "transformer_z_pct"), volts=system.v_ll,
            kva=source.transformer_kva,
        )  # fmt: skip
        if source.primary_fault_mva:
            yield computed(
                f"Impedance of the supply ahead of {name}", f"volts ** 2 / (mva * 1000000){part}", "ohm", METHOD,
                volts=system.v_ll, mva=source.primary_fault_mva,
            )  # fmt: skip
    yield looked_up(f"Its resistance, {name}", head.z.real, "ohm", METHOD)
    yield looked_up(f"Its reactance, {name}", head.z.imag, "ohm", METHOD)


def _run(ctx: Context, run: ConductorRun, z: complex, total: _Sum) -> tuple[WorkLine, WorkLine]:
    """Resistance (cold) and reactance of one conductor of a run."""
    assert run.size is not None
    assert run.material is not None
    assert run.length_ft is not None
    assert run.sets is not None
    total.add(z.real, z.imag)
    return _run_lines(
        ctx.name(run.id), run.size, run.material, tables.raceway_group(run.raceway) or "pvc", run.length_ft, run.sets,
        ctx.edition,
    )  # fmt: skip


@lru_cache(maxsize=4096)
def _run_lines(
    name: str, size: str, material: str, group: str, length_ft: float, sets: int, edition: int
) -> tuple[WorkLine, WorkLine]:
    """The two lines of a run, which everything behind it shares."""
    r, x = tables.ac_impedance(size, material, group)
    what, table_9 = f"{size} {material}, {name}", section("TABLE-impedance", edition)
    resistance = computed(
        f"Resistance of {what}", "r * (1 + a * (cold - table)) * feet / 1000 / sets", "ohm", table_9, r=r,
        a=tables.limit_value(f"resistance_coefficient_{material}"), cold=tables.limit_value("fault_conductor_c"),
        table=tables.limit_value("resistance_table_c"), feet=length_ft, sets=float(sets),
    )  # fmt: skip
    reactance = computed(
        f"Reactance of {what}", "x * feet / 1000 / sets", "ohm", table_9, x=x, feet=length_ft, sets=float(sets)
    )
    return resistance, reactance


def _through(lines: list[WorkLine], name: str, head: HeadFigures, ahead: _Sum) -> _Sum:
    """What is ahead of a transformer, seen from its load side, and its own impedance."""
    total = _Sum()
    own = []
    for word, index, mine in (("Resistance", 0, head.z.real), ("Reactance", 1, head.z.imag)):
        value = sum(part[index] for part in ahead.parts)
        line = computed(f"{word} ahead of {name}, seen from its load side", "ohms * factor", "ohm", METHOD,
                        ohms=value, factor=head.factor)  # fmt: skip
        assert isinstance(line.value, float)
        lines.append(line)
        own.append((line.value, mine))
    total.add(own[0][0], own[1][0])
    total.add(own[0][1], own[1][1])
    lines.append(looked_up(f"Resistance of {name}", head.z.real, "ohm", "nameplate"))
    lines.append(looked_up(f"Reactance of {name}", head.z.imag, "ohm", "nameplate"))
    return total
