"""The load at every point by the code's own methods: calculated (LOAD-2), or recorded demand and new load (LOAD-1).

A record decides where it may be used (220.87) and only at the points that carry just the current it measured; everywhere
else the load is calculated from what is drawn and scheduled. Loads that are not known leave a lower bound, never a zero.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from math import isinf, sqrt

import numpy as np

from oneline import tables
from oneline.model import Transformer
from oneline.model.vocabulary import BASES
from oneline.network import Feeding
from oneline.rules.common import computed, looked_up, section, unique, weakest
from oneline.rules.load import neutral_load
from oneline.rules.verdict import Verdict, WorkLine
from oneline.study.calculated import Calculated
from oneline.study.context import Context
from oneline.study.load_sums import (
    CONTINUOUS,
    ELEVATORS,
    KITCHEN,
    MOTORS,
    OPEN,
    PLAIN,
    RECEPTACLES,
    Floats,
    Summer,
    connections_tried,
    duration_open,
    make_zones,
    may_be_motor,
)
from oneline.study.loads import LoadEntry, loose_ends
from oneline.study.phasors import PHASES
from oneline.study.records import Measured, measured_loads, record_verdicts

Amperes = Mapping[str, float | None]
_KIND_NAMES = {
    PLAIN: ("Load, not continuous", ""), CONTINUOUS: ("Continuous load", "AMP-CONT"),
    RECEPTACLES: ("Receptacles", "TABLE-receptacle-demand"), KITCHEN: ("Kitchen equipment", "TABLE-kitchen"),
    ELEVATORS: ("Elevators", "TABLE-elevator"), MOTORS: ("Motors", "LOAD-4"),
    OPEN: ("Load, not known whether continuous", ""),
}  # fmt: skip
#: More circuits of one panel without a load than this are named together.
_NAMED_AT_MOST = 3


@dataclass(frozen=True)
class Bounded:
    """Amperes of one phase: at least ``low``, at most ``high`` (``None``: no upper bound)."""

    low: float
    high: float | None

    @property
    def value(self) -> float | None:
        """The figure where it is known."""
        return self.low if self.high is not None and abs(self.high - self.low) <= 1e-9 * max(1.0, self.low) else None


@dataclass
class Demand:
    """Load at every node. Amperes are at the node's own voltage, by phase letter; a phase the node lacks is absent."""

    ctx: Context
    entries: tuple[LoadEntry, ...]
    calculated: Calculated
    #: Calculated load of the view's new items alone.
    new: Calculated
    measured: Mapping[int, Measured]
    #: Nodes whose share of a parallel feed is not known.
    split: frozenset[int]
    _ranks: Floats
    _unclear: list[tuple[int, LoadEntry]]
    _needs: dict[tuple[int, int], tuple[str, ...]] = field(default_factory=dict)
    _sheets: dict[int, tuple[WorkLine, ...]] = field(default_factory=dict)

    # ---------------------------------------------------------------------------------------------- figures
    def bounds(self, node: int, counted: bool = True, as_shown: bool = False) -> dict[str, Bounded]:
        """Load of each phase with its bounds. ``counted``: continuous load at 125 % (a record: 125 % of its peak).

        ``as_shown``: without the 25 % that one load of unknown class would add if it were the largest motor.
        """
        at = self.ctx.feeding.position[node]
        phases = self.ctx.feeding.phases[node]
        if at < 0:
            return {p: Bounded(0.0, None) for p in phases}
        calc = self.calculated
        if node in self.split:
            return {p: Bounded(0.0, None) for p in phases}
        if node in self.measured:
            return self._recorded(node, at, counted, as_shown)
        most = calc.load_high if as_shown else calc.load_most
        low, high = (calc.counted_low, calc.counted_high) if counted else (calc.load_low, most)
        return {p: _bounded(float(low[at, k]), float(high[at, k])) for p, k in _columns(phases)}

    def _recorded(self, node: int, at: int, counted: bool, as_shown: bool) -> dict[str, Bounded]:
        measured, new = self.measured[node], self.new
        existing = measured.amperes * (tables.limit_value("demand_record_factor") if counted else 1.0)
        most = new.load_high if as_shown else new.load_most
        low, high = (new.counted_low, new.counted_high) if counted else (new.load_low, most)
        phases = self.ctx.feeding.phases[node]
        return {p: _bounded(existing + float(low[at, k]), existing + float(high[at, k])) for p, k in _columns(phases)}

    def load_a(self, node: int) -> dict[str, float | None]:
        """Calculated load by phase, continuous load at 100 %; ``None`` where a load below is not known."""
        return {p: b.value for p, b in self.bounds(node, counted=False, as_shown=True).items()}

    def counted_a(self, node: int) -> dict[str, float | None]:
        """Load by phase as counted against ordinary devices, buses and conductors: continuous load at 125 %."""
        return {p: b.value for p, b in self.bounds(node).items()}

    def known_a(self, node: int, counted: bool = False) -> dict[str, float]:
        """The known part of the load by phase: a lower bound."""
        return {p: b.low for p, b in self.bounds(node, counted).items()}

    def known_kva(self, node: int) -> float:
        """The known part of the calculated load in kVA, continuous load at 100 %."""
        at = self.ctx.feeding.position[node]
        if at < 0 or node in self.split:
            return 0.0
        if node in self.measured:
            return (self.measured[node].va + float(self.new.va_low[at])) / 1000
        return float(self.calculated.va_low[at]) / 1000

    def kva(self, node: int) -> float | None:
        """Calculated load in kVA; ``None`` where a load below is not known."""
        at = self.ctx.feeding.position[node]
        if at < 0 or node in self.split:
            return None
        unknown = self.new.unknown[at] if node in self.measured else self.calculated.unknown[at]
        return None if unknown else self.known_kva(node)

    def neutral_a(self, node: int) -> float | None:
        """Calculated neutral load (220.61) in amperes; ``None`` where not known or where the system has no neutral."""
        feeding = self.ctx.feeding
        at, code = feeding.position[node], feeding.system[node]
        if at < 0 or code is None or node in self.split or not tables.system(code).has_neutral:
            return None
        if self.calculated.unknown[at] or self.calculated.sums.loose_va[at].any():
            return None
        largest = int(np.argmax(self.calculated.neutral_all[at]))
        full, linear = self.calculated.neutral_all[at, largest], self.calculated.neutral_linear[at, largest]
        return neutral_load(float(full), float(linear), self._reduction_allowed(node, code), self.ctx.edition).value

    def _reduction_allowed(self, node: int, code: str) -> bool:
        """Not where three wires come from a four-wire wye (220.61(C))."""
        system = tables.system(code)
        return system.grounding == "midpoint" or len(self.ctx.feeding.phases[node]) == 3

    # ------------------------------------------------------------------------------------------- explanations
    def method(self, node: int) -> str:
        """How the load at a node was found, in one sentence."""
        if node in self.split:
            return "The load divides between parallel feeds; each feed's share is not known."
        if node in self.measured:
            measured = self.measured[node]
            days = measured.facts.period_days or 0
            return (
                f"Recorded maximum demand of {measured.va / 1000:.1f} kVA over {days:g} days at "
                f"{measured.facts.subject.name} ({section('LOAD-1', self.ctx.edition)}) and calculated new load"
            )
        return f"Calculated from connected load ({section('LOAD-2', self.ctx.edition)})"

    def counted_as(self, node: int) -> str:
        """What the load as counted holds beside the load itself, as a phrase; "" for nothing that can be said."""
        at = self.ctx.feeding.position[node]
        if at < 0 or node in self.split:
            return ""
        if node in self.measured:
            return f"recorded demand at {100 * tables.limit_value('demand_record_factor'):g} %"
        continuous = f"continuous load at {100 * tables.limit_value('continuous_factor'):g} %"
        if self.calculated.counted_va_low[at] > self.calculated.va_low[at]:
            return continuous
        return "if all that may be continuous is" if self.calculated.sums.va[at, OPEN] > 0 else ""

    def needs(self, node: int) -> tuple[str, ...]:
        """What is not known about the load at a node."""
        feeding = self.ctx.feeding
        at = feeding.position[node]
        if at < 0:
            return ("what feeds this point",)
        if node in self.split:
            return ("how the load divides between the parallel feeds",)
        low = bisect_left(self._unclear, at, key=lambda pair: pair[0])
        high = bisect_left(self._unclear, feeding.last[node], key=lambda pair: pair[0])
        only_new = node in self.measured
        key = (low, high if not only_new else -high - 1)
        if key not in self._needs:
            found = [entry for _, entry in self._unclear[low:high] if not only_new or entry.status == "new"]
            self._needs[key] = summarize(self.ctx, found)
        spread = self.new.spread if only_new else self.calculated.spread
        return unique((*self._needs[key], *self._connections(node))) if spread[at] else self._needs[key]

    def _connections(self, node: int) -> list[str]:
        """Transformers below a node whose connection decides how their load divides on the phases."""
        feeding, found = self.ctx.feeding, []
        for transformer in self.ctx.drawing.of(Transformer):
            load = feeding.load_node(transformer.id) if transformer.connection is None else None
            if load is not None and feeding.position[node] < feeding.position[load] < feeding.last[node]:
                found.append(f"connection of {self.ctx.name(transformer.id)}")
        return found

    def basis(self, node: int) -> str:
        """Weakest basis of the loads at a node."""
        at = self.ctx.feeding.position[node]
        if at < 0:
            return "entered"
        if node in self.measured:
            measured = self.measured[node]
            return "assumed" if measured.assumed else measured.facts.basis
        present = [name for rank, name in enumerate(BASES) if self._ranks[at, rank] > 0]
        return weakest(*present) if present else "entered"

    def assumed(self, node: int) -> tuple[str, ...]:
        """Assumptions that the load at a node rests on, as phrases."""
        at = self.ctx.feeding.position[node]
        if at < 0:
            return ()
        return self.measured[node].assumed if node in self.measured else ()

    def work(self, node: int) -> tuple[WorkLine, ...]:
        """Worksheet of the load at a node."""
        at = self.ctx.feeding.position[node]
        if at < 0:
            return ()
        if node not in self._sheets:
            self._sheets[node] = self._sheet(node, at)
        return self._sheets[node]

    def _sheet(self, node: int, at: int) -> tuple[WorkLine, ...]:
        lines = self._record_lines(node, at) if node in self.measured else self._calculated_lines(at)
        counted = self.counted_a(node)
        shown = {p: self.known_a(node, counted=True)[p] if v is None else v for p, v in counted.items()}
        word = "counted" if all(v is not None for v in counted.values()) else "counted, known part"
        lines += [looked_up(f"Phase {p}, {word}", v, "A", "loads by their phases") for p, v in shown.items()]
        return tuple(lines)

    def _calculated_lines(self, at: int) -> list[WorkLine]:
        calc, lines = self.calculated, []
        for kind, (title, rule) in _KIND_NAMES.items():
            connected = float(calc.sums.va[at, kind])
            if connected > 0:
                lines.append(
                    computed(
                        title, "factor * connected", "VA", section(rule, self.ctx.edition) if rule else "",
                        factor=calc.factor(at, kind), connected=connected,
                    )
                )  # fmt: skip
        if calc.motor[at] >= 0:
            lines.append(
                computed(
                    "Largest motor, further", "(factor - 1) * motor", "VA", section("LOAD-4", self.ctx.edition),
                    factor=tables.limit_value("motor_largest_factor"), motor=float(calc.motor_va[at]),
                )
            )  # fmt: skip
        lines.append(looked_up("Calculated load", float(calc.va_low[at]), "VA", section("LOAD-2", self.ctx.edition)))
        lines.append(
            computed(
                "With continuous load counted in full", "load + (factor - 1) * continuous", "VA",
                section("AMP-CONT", self.ctx.edition), load=float(calc.va_low[at]),
                factor=tables.limit_value("continuous_factor"),
                continuous=(float(calc.counted_va_low[at]) - float(calc.va_low[at]))
                / (tables.limit_value("continuous_factor") - 1),
            )
        )  # fmt: skip
        return lines

    def _record_lines(self, node: int, at: int) -> list[WorkLine]:
        measured = self.measured[node]
        facts = measured.facts
        return [
            computed(
                "Recorded demand on each phase", "va / (factor * volts)", "A", "record", va=measured.va,
                factor=sqrt(3) if facts.three_phase else 1.0, volts=facts.volts or 1.0,
            ),
            computed(
                "As counted", "factor * demand", "A", section("LOAD-1", self.ctx.edition),
                factor=tables.limit_value("demand_record_factor"), demand=measured.amperes,
            ),
            looked_up("New load", float(self.new.va_low[at]), "VA", section("LOAD-2", self.ctx.edition)),
        ]  # fmt: skip


def compute_demand(ctx: Context) -> Demand:
    """Load at every node of a view. One pass over arrays; nothing here raises for what is on the drawing."""
    entries = (*ctx.loads, *loose_ends(ctx))
    feeding = ctx.feeding
    zones, fresh = make_zones(feeding), [e for e in entries if e.status == "new"]
    first, *others = (Summer(feeding, zones, kinds) for kinds in connections_tried(feeding))
    calculated, new = Calculated(first, list(entries)), Calculated(first, fresh)
    for summer in others:
        calculated.widen(Calculated(summer, list(entries)))
        new.widen(Calculated(summer, fresh))
    unclear = sorted(
        ((feeding.position[e.node], e) for e in entries if feeding.position[e.node] >= 0 and (e.needs or _open(e))),
        key=lambda pair: pair[0],
    )
    return Demand(
        ctx, entries, calculated, new, measured_loads(ctx, new), _split(feeding), _ranks(feeding, entries, ctx), unclear
    )


def verdicts(ctx: Context) -> Iterator[Verdict]:
    """LOAD-1 for every demand record, and a word on spot readings."""
    yield from record_verdicts(ctx, ctx.demand.new)


def summarize(ctx: Context, entries: list[LoadEntry]) -> tuple[str, ...]:
    """Unknown loads as phrases: one by one while they are few, by number where a panel has many."""
    circuits: dict[str, list[int]] = {}
    for entry in entries:
        if entry.circuit is not None and entry.va is None:
            circuits.setdefault(entry.item, []).append(entry.circuit)
    phrases: list[str] = []
    for entry in entries:
        spaces = circuits.get(entry.item, [])
        if entry.circuit is None or len(spaces) <= _NAMED_AT_MOST:
            phrases.extend(entry.needs)
        else:
            which = ", ".join(str(space) for space in spaces)
            phrases.append(f"loads of {len(spaces)} circuits of {ctx.name(entry.item)} ({which})")
            phrases.extend(n for n in entry.needs if n.startswith("phases of"))
    return unique((*phrases, *_open_phrases(ctx, entries)))


def _open(entry: LoadEntry) -> bool:
    """Whether a load of known size may count with 25 % more than it says."""
    return bool(entry.va) and (duration_open(entry) or may_be_motor(entry))


def _open_phrases(ctx: Context, entries: list[LoadEntry]) -> list[str]:
    """What is not known of loads whose size is: their class, and whether they are continuous; by panel where many."""
    panels: dict[tuple[str, bool], list[LoadEntry]] = {}
    for entry in entries:
        if _open(entry):
            panels.setdefault((entry.item, entry.load_class is None), []).append(entry)
    phrases = []
    for (item, no_class), found in panels.items():
        if len(found) > _NAMED_AT_MOST:
            which = f"{len(found)} circuits of {ctx.name(item)}"
            phrases.append(f"class of {which}" if no_class else f"whether {which} are continuous")
        else:
            phrases += [f"class of {e.label}" if no_class else f"whether {e.label} is continuous" for e in found]
    return phrases


def _columns(phases: str) -> list[tuple[str, int]]:
    return [(p, PHASES.index(p)) for p in phases]


def _bounded(low: float, high: float) -> Bounded:
    return Bounded(low, None if isinf(high) else high)


def _ranks(feeding: Feeding, entries: tuple[LoadEntry, ...], ctx: Context) -> Floats:
    """Number of loads below each position by rank of basis."""
    n = len(feeding.order)
    own = np.zeros((n + 1, len(BASES)))
    for entry in entries:
        at = feeding.position[entry.node]
        if at >= 0 and entry.va is not None:
            own[at + 1, BASES.index(entry.basis)] += 1
    running = np.cumsum(own, axis=0)
    last = np.fromiter((feeding.last[node] for node in feeding.order), dtype=np.int64, count=n)
    return np.asarray(running[last] - running[:-1])


def _split(feeding: Feeding) -> frozenset[int]:
    """Nodes whose feed carries a share of a loop: with just one end of a closed loop branch below them."""
    found: set[int] = set()
    for key in feeding.loop_branches:
        branch = feeding.network.branches[key]
        chains = []
        for node in (branch.a, branch.b):
            chain = [node]
            while feeding.parent[chain[-1]] >= 0:
                chain.append(feeding.parent[chain[-1]])
            chains.append(chain)
        found.update(set(chains[0]) ^ set(chains[1]))
    return frozenset(found)
