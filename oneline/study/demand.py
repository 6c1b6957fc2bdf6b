"""The load at every point by the code's own methods: calculated (LOAD-2), or recorded demand and new load (LOAD-1).

A record decides where it may be used (220.87) and only at the points that carry just the current it measured; everywhere
else the load is calculated from what is drawn and scheduled. Loads that are not known leave a lower bound, never a zero.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cache, partial
from math import inf

from oneline import tables
from oneline.model import Transformer
from oneline.model.quick import quick
from oneline.model.vocabulary import BASES
from oneline.rules.common import Fact, amperes, looked_up, section, unique, weakest
from oneline.rules.load_optional import OPTIONAL, optional_lines
from oneline.rules.verdict import Verdict, WorkLine
from oneline.study.calculated import Calculated
from oneline.study.context import Context
from oneline.study.demand_needs import is_open, summarize
from oneline.study.demand_network import ranks_below, split_nodes, summers, whole_nodes
from oneline.study.demand_work import calculated_lines, contributor_lines, derivation_lines, record_lines
from oneline.study.ends import system_need
from oneline.study.load_floor import FloorArea, with_floor_areas
from oneline.study.load_neutral import neutral_at
from oneline.study.load_optional import Optional, optional_loads
from oneline.study.load_sums import (
    OPEN,
    Floats,
)
from oneline.study.loads import LoadEntry
from oneline.study.phasors import PHASES
from oneline.study.records import Measured, Shown, record_verdicts, recorded_loads
from oneline.study.unentered import loose_ends

Amperes = Mapping[str, float | None]
#: Two loads closer than this share are one.
_SAME = 1e-9


@quick
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
    #: Records that do not stand for the existing load, or of which that is not known, by node.
    shown: Mapping[int, Shown]
    #: Nodes whose share of a parallel feed is not known.
    split: frozenset[int]
    #: Those of them whose own load is known however it divides, as a bus has it, and whether they carry no other.
    whole: Mapping[int, bool]
    #: Nodes whose load is an optional calculation of the whole service.
    optional: Mapping[int, Optional]
    #: Floor areas with the lighting they ask for.
    floors: tuple[FloorArea, ...]
    _ranks: Floats
    _unclear: list[tuple[int, LoadEntry]]
    #: Loads that rest on assumptions, with their positions.
    _assuming: list[tuple[int, LoadEntry]]
    _needs: dict[tuple[int, int], tuple[str, ...]] = field(default_factory=dict)
    _sheets: dict[int, tuple[WorkLine, ...]] = field(default_factory=dict)
    _bounds: dict[tuple[int, bool, bool, bool], dict[str, Bounded]] = field(default_factory=dict)
    _facts: dict[tuple[int, bool], Fact] = field(default_factory=dict)
    _present: dict[int, str] = field(default_factory=dict)

    # ---------------------------------------------------------------------------------------------- figures
    def _divided(self, node: int, whole: bool) -> bool:
        """Whether the share of a parallel feed is asked for, which is not known; not ``whole``, what all feeds carry."""
        return node in self.split and not (whole and self.whole.get(node, False))

    def bounds(
        self, node: int, counted: bool = True, as_shown: bool = False, whole: bool = False
    ) -> Mapping[str, Bounded]:
        """Load of each phase with its bounds. ``counted``: continuous load at 125 % (a record: 125 % of its peak).
        ``whole``: of a bus at the node, where parallel feeds are one load.

        ``as_shown``: without the 25 % that one load of unknown class would add if it were the largest motor.
        """
        key = (node, counted, as_shown, whole)
        found = self._bounds.get(key)
        if found is None:
            found = self._bounds[key] = self._bounded(node, counted, as_shown, whole)
        return found

    def _bounded(self, node: int, counted: bool, as_shown: bool, whole: bool) -> dict[str, Bounded]:
        at = self.ctx.feeding.position[node]
        phases = self.ctx.feeding.phases[node]
        if at < 0:
            return {p: Bounded(0.0, None) for p in phases}
        calc = self.calculated
        if self._divided(node, whole):
            own = self._calculated(calc, node, counted, as_shown) if whole and node in self.whole else {}
            return {p: Bounded(own[p].low if own else 0.0, None) for p in phases}
        if node in self.measured:
            return self._recorded(self.measured[node].amperes, node, counted, as_shown)
        if node in self.optional:
            return self._optional(self.optional[node], node)
        found = self._calculated(calc, node, counted, as_shown)
        return self._beside_record(found, node, counted, as_shown) if node in self.shown else found

    def _calculated(self, calc: Calculated, node: int, counted: bool, as_shown: bool) -> dict[str, Bounded]:
        at = self.ctx.feeding.position[node]
        most = calc.load_high if as_shown else calc.load_most
        low, high = (calc.counted_low, calc.counted_high) if counted else (calc.load_low, most)
        lows, highs = low[at].tolist(), high[at].tolist()
        columns = _columns(self.ctx.feeding.phases[node])
        return {p: Bounded(lows[k], None if highs[k] == inf else highs[k]) for p, k in columns}

    def _optional(self, found: Optional, node: int) -> dict[str, Bounded]:
        exact = found.facts.known and found.placed
        amps = {p: found.amperes[k] for p, k in _columns(self.ctx.feeding.phases[node])}
        return {p: Bounded(a, a if exact else None) for p, a in amps.items()}

    def _recorded(self, amperes: float, node: int, counted: bool, as_shown: bool) -> dict[str, Bounded]:
        existing = amperes * (tables.limit_value("demand_record_factor") if counted else 1.0)
        return _more(self._calculated(self.new, node, counted, as_shown), existing)

    def _beside_record(
        self, calculated: dict[str, Bounded], node: int, counted: bool, as_shown: bool
    ) -> dict[str, Bounded]:
        """The calculated load beside a record that does not stand for it, or may: from the smaller to the larger where it
        may, and never below what was there. A load that was there and is not drawn has no upper bound."""
        shown, found = self.shown[node], calculated
        if shown.may_stand:
            other = self._recorded(shown.amperes or 0.0, node, counted, as_shown)
            if shown.amperes is None:
                other = {p: Bounded(b.low, None) for p, b in other.items()}
            found = {p: _either(b, other[p]) for p, b in found.items()}
        if not self._hidden(node):
            return found
        least = _more(self._calculated(self.new, node, counted, as_shown), shown.least_a)
        return {p: Bounded(max(b.low, least[p].low), None) for p, b in found.items()}

    def _hidden(self, node: int) -> bool:
        """Whether a record shows more than the load that is drawn: some of it is not drawn."""
        shown = self.shown.get(node)
        if shown is None or not shown.least_a:
            return False
        drawn = self._calculated(self.calculated, node, False, False)
        least = _more(self._calculated(self.new, node, False, False), shown.least_a)
        most = max((b.low for b in least.values()), default=0.0)
        return most > max((b.low for b in drawn.values()), default=0.0) * (1 + _SAME)

    def doubted(self, node: int) -> bool:
        """Whether a record that does not stand for the load, or may, leaves the calculated one open."""
        return node in self.shown and (self.shown[node].may_stand or self._hidden(node))

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
        if node in self.optional:
            return self.optional[node].va / 1000
        known_va = float(self.calculated.va_low[at])
        shown = self.shown.get(node)
        if shown is not None and shown.may_stand:
            known_va = min(known_va, (shown.va or 0.0) + float(self.new.va_low[at]))
        return known_va / 1000

    def kva(self, node: int) -> float | None:
        """Calculated load in kVA; ``None`` where a load below is not known."""
        at = self.ctx.feeding.position[node]
        if at < 0 or node in self.split or self.doubted(node):
            return None
        unknown = self.new.unknown[at] if node in self.measured else self.calculated.unknown[at]
        return None if unknown else self.known_kva(node)

    def neutral_a(self, node: int) -> float | None:
        """Calculated neutral load (220.61) in amperes; ``None`` where not known or where the system has no neutral."""
        feeding = self.ctx.feeding
        at, code = feeding.position[node], feeding.system[node]
        if at < 0 or code is None or node in self.split or not tables.system(code).has_neutral:
            return None
        # A record tells nothing of the neutral, and what is drawn need not be what it saw.
        if node in self.measured or self.doubted(node):
            return None
        if self.calculated.unknown[at] or self.calculated.sums.loose_va[at].any():
            return None
        return neutral_at(self.ctx, self.calculated, node, code)[1].value

    def neutral_needs(self, node: int) -> tuple[str, ...]:
        """What to find out for the neutral load beside what the load itself needs."""
        code = self.ctx.feeding.system[node]
        if node not in self.measured or code is None or not tables.system(code).has_neutral:
            return ()
        return (f"neutral load at {self.measured[node].facts.subject.name}, which its demand record does not tell",)

    # ------------------------------------------------------------------------------------------- explanations
    def method(self, node: int, whole: bool = False) -> str:
        """How the load at a node was found, in one sentence."""
        if self._divided(node, whole):
            return "The load divides between parallel feeds; each feed's share is not known."
        if node in self.measured:
            measured = self.measured[node]
            days = measured.facts.period_days or 0
            return (
                f"Recorded maximum demand of {measured.va / 1000:.1f} kVA over {days:g} days at "
                f"{measured.facts.subject.name} ({section('LOAD-1', self.ctx.edition)}) and calculated new load"
            )
        if node in self.optional:
            facts = self.optional[node].facts
            return f"Optional calculation, {facts.method} ({section(OPTIONAL[facts.method][0], self.ctx.edition)})"
        method = f"Calculated from connected load ({section('LOAD-2', self.ctx.edition)})"
        said = self.record_note(node)
        return f"{method}. {said}" if said else method

    def record_note(self, node: int) -> str:
        """What a record says that leaves the calculated load at a node open, as a sentence; "" where none does."""
        shown = self.shown.get(node)
        if shown is None or not self.doubted(node):
            return ""
        name = shown.facts.subject.name
        if not shown.least_a:
            return f"The demand record at {name} may stand for the load instead."
        return f"The demand record at {name} shows at least {amperes(shown.least_a, rounding='down')}."

    def counted_as(self, node: int) -> str:
        """What the load as counted holds beside the load itself, as a phrase; "" for nothing that can be said."""
        at = self.ctx.feeding.position[node]
        if at < 0 or node in self.split:
            return ""
        if node in self.measured:
            return f"recorded demand at {100 * tables.limit_value('demand_record_factor'):g} %"
        if node in self.optional:
            return ""
        continuous = f"continuous load at {100 * tables.limit_value('continuous_factor'):g} %"
        if self.calculated.counted_va_low[at] > self.calculated.va_low[at]:
            return continuous
        return "if all that may be continuous is" if self.calculated.sums.va[at, OPEN] > 0 else ""

    def needs(self, node: int, whole: bool = False) -> tuple[str, ...]:
        """What is not known about the load at a node."""
        feeding = self.ctx.feeding
        at = feeding.position[node]
        if at < 0:
            return ("what feeds this point",)
        if self._divided(node, whole):
            return ("how the load divides between the parallel feeds",)
        low = bisect_left(self._unclear, at, key=lambda pair: pair[0])
        high = bisect_left(self._unclear, feeding.last[node], key=lambda pair: pair[0])
        only_new = node in self.measured
        key = (low, high if not only_new else -high - 1)
        if key not in self._needs:
            found = [entry for _, entry in self._unclear[low:high] if not only_new or entry.status == "new"]
            self._needs[key] = summarize(self.ctx, found)
        spread = self.new.spread if only_new else self.calculated.spread
        found_needs = self._needs[key]
        if self.doubted(node):
            found_needs = unique((*found_needs, *self._record_needs(node)))
        return unique((*found_needs, *self._connections(node))) if spread[at] else found_needs

    def _record_needs(self, node: int) -> tuple[str, ...]:
        shown = self.shown[node]
        if shown.may_stand:
            return shown.needs
        return (f"load that the demand record at {shown.facts.subject.name} shows and the drawing does not",)

    def _connections(self, node: int) -> list[str]:
        """Transformers below a node whose connection decides how their load divides on the phases."""
        feeding, found = self.ctx.feeding, []
        for transformer in self.ctx.drawing.of(Transformer):
            load = feeding.load_node(transformer.id) if transformer.connection is None else None
            if load is not None and feeding.position[node] < feeding.position[load] < feeding.last[node]:
                found.append(f"connection of {self.ctx.name(transformer.id)}")
        return found

    def largest(self, node: int, counted: bool = True) -> Fact:
        """Load of the phase that carries most, amperes."""
        key = (node, counted)
        if key not in self._facts:
            self._facts[key] = self._largest(node, counted)
        return self._facts[key]

    def _largest(self, node: int, counted: bool) -> Fact:
        bounds, missing = self.bounds(node, counted), partial(_open, self.ctx, node)
        if not bounds:
            return Fact(None, 0.0, None, name="load", missing=missing)
        low = max(b.low for b in bounds.values())
        highs = [b.high for b in bounds.values() if b.high is not None]
        high = max(highs) if len(highs) == len(bounds) else None
        value = low if high is not None and high - low <= 1e-9 * max(1.0, low) else None
        assumed = self.assumed(node)
        basis = "assumed" if assumed else self.basis(node)
        return Fact(value, low, high, basis, "", "part of the load", assumed, missing=missing)

    def basis(self, node: int) -> str:
        """Weakest basis of the loads at a node."""
        if node not in self._present:
            self._present[node] = self._basis(node)
        return self._present[node]

    def _basis(self, node: int) -> str:
        at = self.ctx.feeding.position[node]
        if at < 0:
            return "entered"
        if node in self.measured:
            measured = self.measured[node]
            return "assumed" if measured.assumed else measured.facts.basis
        present = [name for name, count in zip(BASES, self._ranks[at].tolist(), strict=True) if count > 0]
        if self.doubted(node):
            present.append(self.shown[node].facts.basis)
        return weakest(*present) if present else "entered"

    def assumed(self, node: int) -> tuple[str, ...]:
        """Assumptions that the load at a node rests on, as phrases."""
        at = self.ctx.feeding.position[node]
        if at < 0:
            return ()
        measured = self.measured.get(node)
        own = measured.assumed if measured is not None else ()
        if not self._assuming:
            return own
        below = (e for place, e in self._assuming if at <= place < self.ctx.feeding.last[node])
        return unique((*own, *(a for e in below if measured is None or e.status == "new" for a in e.assumed)))

    def work(self, node: int) -> tuple[WorkLine, ...]:
        """Worksheet of the load at a node."""
        at = self.ctx.feeding.position[node]
        if at < 0:
            return ()
        if node not in self._sheets:
            self._sheets[node] = self._sheet(node, at)
        return self._sheets[node]

    def _lines(self, node: int, at: int) -> list[WorkLine]:
        if node in self.measured:
            return record_lines(self.measured[node], self.new, at, self.ctx.edition)
        end = self.ctx.feeding.last[node]
        floors = [line for f in self.floors if at <= self.ctx.feeding.position[f.node] < end for line in f.lines]
        below = [p for p in self.calculated.placed if at <= p.at < end]
        optional = optional_lines(self.optional[node].facts) if node in self.optional else ()
        return [
            *optional, *derivation_lines(below), *floors, *calculated_lines(self.calculated, at, self.ctx.edition),
            *contributor_lines(self.calculated, at),
        ]  # fmt: skip

    def _sheet(self, node: int, at: int) -> tuple[WorkLine, ...]:
        lines = self._lines(node, at)
        counted = self.counted_a(node)
        shown = {p: self.known_a(node, counted=True)[p] if v is None else v for p, v in counted.items()}
        word = "counted" if all(v is not None for v in counted.values()) else "counted, known part"
        source = "loads by their phases"
        if node not in self.measured and self._power_factors_open(node, at):
            source += ", all at one power factor (assumed)"
        lines += [looked_up(f"Phase {p}, {word}", v, "A", source) for p, v in shown.items()]
        return tuple(lines)

    def _power_factors_open(self, node: int, at: int) -> bool:
        """Whether currents that differ in angle are added at a point whose loads' power factors are not known to be one.

        Loads line to line beside others on the same conductor do; loads line to neutral and balanced ones add in phase.
        """
        code, end = self.ctx.feeding.system[node], self.ctx.feeding.last[node]
        if code is None or tables.system(code).grounding == "midpoint":
            return False
        below = [p.entry for p in self.calculated.placed if at <= p.at < end and p.va]
        between = any(len(e.phases) == 2 for e in below)
        mixed = len({e.phases for e in below}) > 1
        factors = {e.power_factor for e in below}
        return between and mixed and (None in factors or len(factors) > 1)


def compute_demand(ctx: Context) -> Demand:
    """Load at every node of a view. One pass over arrays; nothing here raises for what is on the drawing."""
    listed, floors = with_floor_areas(ctx, (*ctx.loads, *loose_ends(ctx)))
    entries, feeding = tuple(listed), ctx.feeding
    fresh = [e for e in entries if e.status == "new"]
    first, *others = summers(ctx)
    calculated, new = Calculated(first, listed, ctx.edition), Calculated(first, fresh, ctx.edition)
    for summer in others:
        calculated.widen(Calculated(summer, listed, ctx.edition))
        new.widen(Calculated(summer, fresh, ctx.edition))
    unclear = sorted(
        ((feeding.position[e.node], e) for e in entries if feeding.position[e.node] >= 0 and (e.needs or is_open(e))),
        key=lambda pair: pair[0],
    )
    assuming = [(feeding.position[e.node], e) for e in entries if e.assumed and feeding.position[e.node] >= 0]
    measured, shown = recorded_loads(ctx, new)
    split, ranks = split_nodes(feeding), ranks_below(feeding, entries)
    return Demand(
        ctx,
        entries,
        calculated,
        new,
        measured,
        shown,
        split,
        whole_nodes(feeding, split, (feeding.position[e.node] for e in entries)),
        optional_loads(ctx, calculated),
        floors,
        ranks,
        unclear,
        assuming,
    )


def verdicts(ctx: Context) -> Iterator[Verdict]:
    """LOAD-1 for every demand record, and a word on spot readings."""
    yield from record_verdicts(ctx, ctx.demand.new)


def _open(ctx: Context, node: int) -> tuple[str, ...]:
    """What is to be found out for the load at a node."""
    return ctx.demand.needs(node) or (system_need(ctx, node),)


@cache
def _columns(phases: str) -> tuple[tuple[str, int], ...]:
    return tuple((p, PHASES.index(p)) for p in phases)


def _more(bounds: Mapping[str, Bounded], amperes_: float) -> dict[str, Bounded]:
    """Bounds with a current added on every phase."""
    return {p: Bounded(b.low + amperes_, None if b.high is None else b.high + amperes_) for p, b in bounds.items()}


def _either(one: Bounded, other: Bounded) -> Bounded:
    """One or the other, nobody knows which."""
    high = None if one.high is None or other.high is None else max(one.high, other.high)
    return Bounded(min(one.low, other.low), high)
