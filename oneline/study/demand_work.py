"""Worksheets of the load at a point."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from heapq import nlargest
from math import sqrt

from oneline import tables
from oneline.rules.common import computed, looked_up, quantity, section
from oneline.rules.load import office_governs
from oneline.rules.load_dwelling import demand_line
from oneline.rules.verdict import WorkLine
from oneline.study.calculated import Calculated
from oneline.study.load_choices import Groups, alternatives
from oneline.study.load_sums import (
    APPLIANCES,
    CONTINUOUS,
    COOKING,
    DRYERS,
    ELEVATORS,
    KITCHEN,
    LOAD_ONLY,
    MOTORS,
    OFFICE,
    OFFICE_FLOOR,
    OPEN,
    PLAIN,
    RECEPTACLES,
    Placed,
    counts_more,
    lighting_row,
    load_only,
)
from oneline.study.records import Measured

_KIND_NAMES = {
    PLAIN: ("Load, not continuous", "plain", ""), CONTINUOUS: ("Continuous load", "continuous", ""),
    RECEPTACLES: ("Receptacles", "receptacles", "TABLE-receptacle-demand"),
    KITCHEN: ("Kitchen equipment", "kitchen", "TABLE-kitchen"), ELEVATORS: ("Elevators", "elevators", "TABLE-elevator"),
    MOTORS: ("Motors", "motors", "LOAD-4"), OPEN: ("Load, not known whether continuous", "open", ""),
    LOAD_ONLY: ("Lighting that its unit load brings up, not counted again", "unit_load", "TABLE-unit-lighting"),
    OFFICE: ("Receptacles of offices", "office", "TABLE-receptacle-demand"),
    APPLIANCES: ("Appliances fastened in place", "appliances", "LOAD-2-appliances"),
    DRYERS: ("Clothes dryers", "dryers", "TABLE-dryers"), COOKING: ("Household cooking", "cooking", "TABLE-ranges"),
    OFFICE_FLOOR: ("Receptacles of offices by floor area", "office_area", "LOAD-2-office-receptacles"),
}  # fmt: skip
#: Contributors named, and derivations shown, at most.
_LARGEST, _SHOWN = 3, 12


def calculated_lines(calc: Calculated, at: int, edition: int) -> list[WorkLine]:
    """Worksheet of the calculated load at a position."""
    lines, parts = [], {}
    for kind in range(calc.sums.va.shape[1]):
        connected = float(calc.sums.va[at, kind])
        if connected:
            title, name, rule = _kind(kind)
            source = section(rule, edition) if rule else ""
            line = computed(
                title, "factor * connected", "VA", source, factor=calc.factor(at, kind), connected=connected
            )
            parts[name] = float(line.value or 0.0)
            lines.append(line)
    lines += [
        demand_line(c.kind == DRYERS, c.pairs, c.balanced is not None, edition)
        for c in calc.households.counted if c.at == at
    ]  # fmt: skip
    lines += _office_line(calc, at, edition)
    if calc.motor[at] >= 0:
        line = computed(
            "Largest motor, further", "(factor - 1) * motor", "VA", section("LOAD-4", edition),
            factor=tables.limit_value("motor_largest_factor"), motor=float(calc.motor_va[at]),
        )  # fmt: skip
        parts["largest_motor"] = float(line.value or 0.0)
        lines.append(line)
    lines += alternation_lines(calc, at, edition)
    rest = float(calc.va_low[at]) - sum(parts.values())
    if abs(rest) > 1e-6 * max(1.0, float(calc.va_low[at])):
        parts["alternatives"] = rest
    source = section("LOAD-2", edition)
    lines.append(computed("Calculated load", " + ".join(parts) or "0", "VA", source, **parts))
    lines.append(_counted_line(calc, at, edition))
    return lines


def _kind(kind: int) -> tuple[str, str, str]:
    row = lighting_row(kind)
    if not row:
        return _KIND_NAMES[kind]
    end = " (in the load only)" if load_only(kind) else "" if counts_more(kind) else ", not continuous"
    return f"Lighting, {row}{end}", f"lighting_{kind}", "TABLE-lighting-demand"


def _office_line(calc: Calculated, at: int, edition: int) -> list[WorkLine]:
    """Which of the two office receptacle loads counts."""
    va = calc.sums.va[at]
    if len(va) <= OFFICE_FLOOR or not va[OFFICE_FLOOR]:
        return []
    source = section("LOAD-2-office-receptacles", edition)
    governs = office_governs(float(va[OFFICE]), float(va[OFFICE_FLOOR]))
    word = "the load by floor area" if governs else "the receptacles counted"
    return [looked_up("Of the office receptacles the larger counts", word, "", source)]


def _counted_line(calc: Calculated, at: int, edition: int) -> WorkLine:
    va, factor = calc.sums.va[at], tables.limit_value("continuous_factor")
    shares = [(kind, calc.weights[at, kind] * va[kind]) for kind in range(len(va)) if va[kind]]
    continuous = sum(float(v) for kind, v in shares if counts_more(kind))
    once = sum(float(v) for kind, v in shares if load_only(kind))
    load, counted = float(calc.va_low[at]), float(calc.counted_va_low[at])
    # What loads in alternation add is in the two sums already.
    alternating = (counted - load + once) / (factor - 1) - continuous
    words, more = "load + (factor - 1) * continuous", {"continuous": continuous}
    if abs(alternating) > 1e-6 * max(1.0, load):
        more["continuous"] = continuous + alternating
    if once:
        words, more["held"] = f"{words} - held", once
    sized = tables.applies("continuous_only_in_sizing", edition)
    title = "As counted where conductors and devices are sized" if sized else "With continuous load counted in full"
    return computed(title, words, "VA", section("AMP-CONT", edition), load=load, factor=factor, **more)


# ------------------------------------------------------------------------------------------------- alternation
def grouped_below(calc: Calculated, at: int, end: int) -> Groups:
    """Loads that do not run together below a position; ``end``: the first position behind it."""
    found = [k for k, p in enumerate(calc.placed) if p.entry.group is not None and at <= p.at < end]
    return alternatives(calc.entries, found)


def alternation_lines(calc: Calculated, at: int, edition: int) -> list[WorkLine]:
    """What each alternative comes to with 25 % of its own largest motor; the whole is taken with each in turn."""
    feeding = calc.summer.feeding
    groups = grouped_below(calc, at, feeding.last[feeding.order[at]])
    source, factor = section("LOAD-7", edition), tables.limit_value("motor_largest_factor")
    return [
        computed(
            f"{name or 'Group'}: {word or 'other'}", "load + (factor - 1) * motor", "VA", source,
            load=alternative_va(calc, indices), factor=factor, motor=alternative_motor_va(calc, indices),
        )
        for name, found in groups.items() if len(found) > 1 for word, indices in found.items()
    ]  # fmt: skip


def alternative_va(calc: Calculated, indices: Iterable[int]) -> float:
    """Known volt-amperes of one alternative."""
    return sum(calc.placed[k].va or 0.0 for k in indices)


def alternative_motor_va(calc: Calculated, indices: Iterable[int]) -> float:
    """Largest motor of one alternative, 0 without one."""
    motors = [calc.placed[k] for k in indices if calc.placed[k].kind == MOTORS]
    return max(((p.va or 0.0) / p.entry.pieces for p in motors), default=0.0)


# ------------------------------------------------------------------------------------------------ contributors
def largest(calc: Calculated, at: int) -> list[tuple[str, float]]:
    """The largest known contributors below a position with what counts of them: (name, VA), largest first."""
    feeding = calc.summer.feeding
    end = feeding.last[feeding.order[at]]

    def counts(placed: Placed) -> float:
        share = float(calc.weights[at, placed.kind]) if placed.entry.group is None else 1.0
        return share * (placed.va or 0.0)

    below = [p for p in calc.placed if at <= p.at < end]
    return [(p.entry.label, counts(p)) for p in nlargest(_LARGEST, below, key=counts) if counts(p) > 0]


def contributor_lines(calc: Calculated, at: int) -> list[WorkLine]:
    """The largest contributors, one line each."""
    return [looked_up(f"Largest contributors: {name}", va, "VA") for name, va in largest(calc, at)]


def derivation_lines(placed: Sequence[Placed]) -> list[WorkLine]:
    """How the code's figures for single loads came about; the largest where there are many."""
    reckoned = nlargest(_SHOWN, [p for p in placed if p.entry.work], key=lambda p: p.va or 0.0)
    lines = []
    for found in reckoned:
        for line in found.entry.work:
            what = f"{found.entry.label}: {line.what[:1].lower()}{line.what[1:]}"
            lines.append(WorkLine(what, line.value, line.unit, line.formula, line.inputs, line.source))
    return lines


def kva_words(parts: Iterable[tuple[str, float]]) -> str:
    """ "Chiller 83.1 kVA, Oven 20 kVA"."""
    return ", ".join(f"{name} {quantity(va / 1000, 'kVA')}" for name, va in parts)


def record_lines(measured: Measured, new: Calculated, at: int, edition: int) -> list[WorkLine]:
    """Worksheet of a recorded demand that stands for the existing load, with the new load."""
    facts = measured.facts
    return [
        computed(
            "Recorded demand on each phase", "va / (factor * volts)", "A", "record", va=measured.va,
            factor=sqrt(3) if facts.three_phase else 1.0, volts=facts.volts or 1.0,
        ),
        computed(
            "As counted", "factor * demand", "A", section("LOAD-1", edition),
            factor=tables.limit_value("demand_record_factor"), demand=measured.amperes,
        ),
        looked_up("New load", float(new.va_low[at]), "VA", section("LOAD-2", edition)),
    ]  # fmt: skip
