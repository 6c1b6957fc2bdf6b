"""The numbers of a view: operating currents, voltage drop and fault currents at every node, with what is missing.

Everything is computed whole in a few array passes. Each column is indexed by the network's node number and gives a
float or ``None`` (not known yet); reasons are put into words only when somebody asks for them.

Fault currents: symmetrical, bolted, nominal voltage, from the sources that normally feed the node: down the tree, or by
nodal equations where loops and parallel sources are closed (:mod:`oneline.study.numbers_cores`).
For the largest duty conductors are cold and a transformer's impedance is taken low by its tolerance unless it was
tested; an unlimited primary is assumed where none is given. What is not known never lowers a figure: it makes the figure
``None`` and leaves an upper bound.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from oneline.calc.flow_tree import Array
from oneline.rules.verdict import WorkLine
from oneline.study.context import Context
from oneline.study.loads import LoadEntry
from oneline.study.numbers_contribution import Contribution, compute_contribution
from oneline.study.numbers_fault import Faults, compute_faults
from oneline.study.numbers_flow import FlowFigures, compute_flow
from oneline.study.numbers_forest import PHASES, Forest, build_forest
from oneline.study.numbers_ground import GroundFaults, ground_faults
from oneline.study.numbers_needs import Reasons


class Column(Sequence[float | None]):
    """Figures by node: ``column[node]`` is a float, or ``None`` where it is not known or the node is not fed."""

    def __init__(self, values: Array) -> None:
        self._values = values

    def __len__(self) -> int:
        return len(self._values)

    def __getitem__(self, node):  # type: ignore[no-untyped-def]
        if isinstance(node, slice):
            return [self[k] for k in range(*node.indices(len(self)))]
        value = float(self._values[node])
        return None if value != value else value

    def __iter__(self) -> Iterator[float | None]:
        return (None if v != v else v for v in self._values.tolist())

    @property
    def array(self) -> Array:
        """The values as an array with ``nan`` for what is not known. Do not change it."""
        return self._values


class PhaseColumn(Sequence[Mapping[str, float | None]]):
    """Figures by node and phase: ``column[node]`` maps the letters of the phases that reach the node to float or None."""

    def __init__(self, values: Array, keys: Sequence[Sequence[str]]) -> None:
        self._values = values
        self._keys = keys

    def __len__(self) -> int:
        return len(self._values)

    def __getitem__(self, node):  # type: ignore[no-untyped-def]
        if isinstance(node, slice):
            return [self[k] for k in range(*node.indices(len(self)))]
        row = self._values[node].tolist()
        return {k: None if row[_COLUMN[k]] != row[_COLUMN[k]] else row[_COLUMN[k]] for k in self._keys[node]}


_COLUMN = {"A": 0, "B": 1, "C": 2, "AB": 0, "BC": 1, "CA": 2}


@dataclass(frozen=True)
class Numbers:
    """Figures by node number.

    ``current_a``: operating amperes by phase into the node from its feeding side, at its own voltage, of the connected
    load without demand factors and with no generation taken off; ``neutral_a`` the same of the neutral. ``voltage_v``: to
    the neutral by phase, or by pair of lines where there is no neutral. ``drop_pct``: from the last source or transformer,
    worst of the voltages in use.

    ``fault_a``: three-phase; line to line where two phases reach the node, line to neutral where one does.
    ``fault_bound_a``: upper bound of it, equal to it where it is known. ``fault_ll_a``, ``fault_ln_a``,
    ``fault_ln_bound_a``: line to line, line to neutral;
    ``fault_lg_a`` with its bounds: line to ground. ``fault_hand_a``: the point-to-point value of ``fault_a``.
    ``x_r``: X/R of ``fault_a``. ``contribution_a``: what motors and inverters add to any of these, ``None`` where one of
    them is not known; ``contribution_known_a`` the known part. ``duty_a``: the largest of ``fault_a`` and ``fault_ln_a``
    plus the contribution: what ratings are compared with; ``duty_bound_a`` its upper bound.
    """

    ctx: Context
    forest: Forest
    faults: Faults
    contribution: Contribution
    entries: tuple[LoadEntry, ...]

    # ------------------------------------------------------------------------------------------------- load flow
    @cached_property
    def flow(self) -> FlowFigures:
        """The solved load flow; worked out when somebody asks, because fault currents do without it."""
        return compute_flow(self.forest, self.entries)

    @cached_property
    def current_a(self) -> PhaseColumn:
        return PhaseColumn(self._by_node(self.flow.current_a), self.ctx.feeding.phases)

    @cached_property
    def neutral_a(self) -> Column:
        return Column(self._by_node(self.flow.neutral_a))

    @cached_property
    def voltage_v(self) -> PhaseColumn:
        to_neutral, pairs = self._by_node(self.flow.voltage_v), self._by_node(self.flow.pair_v)
        without = self._by_node(self.flow.with_neutral.astype(float)) != 1
        keys = [
            [a + b for a, b in ("AB", "BC", "CA") if a in p and b in p] if no and len(p) > 1 else list(p)
            for p, no in zip(self.ctx.feeding.phases, without.tolist(), strict=True)
        ]
        return PhaseColumn(np.where(without[:, None], pairs, to_neutral), keys)

    @cached_property
    def drop_pct(self) -> Column:
        return Column(self._by_node(self.flow.drop_pct))

    def branch_current_a(self, key: str) -> dict[str, float | None]:
        """Operating amperes by phase through a branch, at the voltage of its load side; empty where nothing feeds it."""
        node = self.ctx.feeding.load_node(key)
        if node is not None:
            return dict(self.current_a[node])
        for loop in self.flow.loops:
            if key in loop.currents:
                here = next(b for b in loop.core.branches if b.key == key)
                amperes = np.abs(loop.currents[key])
                values = np.full(len(amperes), np.nan) if loop.needs else amperes
                return {PHASES[p]: None if values[p] != values[p] else float(values[p]) for p in here.phases}
        return {}

    # --------------------------------------------------------------------------------------------------- faults
    @cached_property
    def fault_a(self) -> Column:
        return Column(self._by_node(self.faults.main_a))

    @cached_property
    def fault_bound_a(self) -> Column:
        return Column(self._by_node(self.faults.bound_a))

    @cached_property
    def fault_least_a(self) -> Column:
        """Lower bound of ``fault_a`` over every X/R that is not known; equal to it where all are."""
        return Column(self._by_node(self.faults.least_a))

    @cached_property
    def fault_ll_a(self) -> Column:
        return Column(self._by_node(self.faults.ll_a))

    @cached_property
    def fault_ln_a(self) -> Column:
        return Column(self._by_node(self.faults.ln_a))

    @cached_property
    def fault_ln_bound_a(self) -> Column:
        return Column(self._by_node(self.faults.ln_bound_a))

    @cached_property
    def fault_high_leg_a(self) -> Column:
        """From the high leg of a four-wire delta to its neutral; ``fault_ln_a`` there is that of the other two."""
        return Column(self._by_node(self.faults.high_leg_a))

    @cached_property
    def ground(self) -> GroundFaults:
        """Fault currents from line to ground; worked out when somebody asks."""
        return ground_faults(self.forest, self.faults)

    @cached_property
    def fault_lg_a(self) -> Column:
        """Line to ground, back through the equipment grounding conductor; 0 for the first fault of an ungrounded
        system."""
        return Column(self._by_node(self.ground.lg_a))

    @cached_property
    def fault_lg_bound_a(self) -> Column:
        """Upper bound of ``fault_lg_a``; on an ungrounded system what a second fault on another phase draws at most."""
        return Column(self._by_node(self.ground.bound_a))

    @cached_property
    def fault_lg_least_a(self) -> Column:
        """Lower bound of ``fault_lg_a``, ``None`` where a part of the way back is not known at all."""
        return Column(self._by_node(self.ground.least_a))

    @cached_property
    def fault_ln_hand_a(self) -> Column:
        """The point-to-point value of ``fault_ln_a``."""
        return Column(self._by_node(self.faults.hand_ln_a))

    @cached_property
    def fault_hand_a(self) -> Column:
        return Column(self._by_node(self.faults.hand_a))

    def hand_from_memory(self, node: int) -> bool:
        """Whether ``fault_hand_a`` there rests on a constant that is only from memory."""
        return bool(self._hand_from_memory[node] == 1)

    @cached_property
    def _hand_from_memory(self) -> Array:
        return self._by_node(self.faults.hand_from_memory.astype(float))

    @cached_property
    def x_r(self) -> Column:
        return Column(self._by_node(self.faults.x_r))

    @cached_property
    def x_r_most(self) -> Column:
        """Upper bound of ``x_r``, equal to it where it is known."""
        return Column(self._by_node(self.faults.x_r_most))

    @cached_property
    def contribution_known_a(self) -> Column:
        return Column(self._by_node(self.contribution.amperes))

    @cached_property
    def contribution_a(self) -> Column:
        values = self._by_node(self.contribution.amperes)
        unknown = np.array([root in self.contribution.lacks for root in self.ctx.feeding.root], bool)
        return Column(np.where(unknown, np.nan, values))

    @cached_property
    def duty_a(self) -> Column:
        main, ln = self.fault_a.array, self.fault_ln_a.array
        known = ~np.isnan(main) & ~self._neutral_matters
        return Column(np.where(known, np.fmax(main, ln), np.nan) + self.contribution_a.array)

    @cached_property
    def _neutral_matters(self) -> Array:
        """Where the current line to neutral is not known and could be the larger one."""
        main, ln, possible = self.fault_a.array, self.fault_ln_a.array, self.fault_ln_bound_a.array
        return np.asarray(self._has_ln & np.isnan(ln) & ~(possible <= main))

    @cached_property
    def duty_bound_a(self) -> Column:
        return Column(self.bolted_bound_a.array + self.contribution_a.array)

    @cached_property
    def bolted_bound_a(self) -> Column:
        """Upper bound of what the source alone gives, between the lines or to the neutral."""
        main, ln = self.fault_bound_a.array, self.fault_ln_bound_a.array
        known = ~np.isnan(main) & ~(self._has_ln & np.isnan(ln))
        return Column(np.where(known, np.fmax(main, ln), np.nan))

    @cached_property
    def _has_ln(self) -> Array:
        """Whether a neutral arrives at the node, so that a fault line to neutral is possible."""
        return self._by_node(self.faults.has_ln.astype(float)) == 1

    # -------------------------------------------------------------------------------------------------- reasons
    @cached_property
    def reasons(self) -> Reasons:
        """Missing facts, assumptions and bases in words."""
        return Reasons(self.ctx, self.forest, self.faults, lambda: self.flow, self.contribution, self.entries)

    def needs(self, node: int) -> tuple[str, ...]:
        """Everything that is missing to know the node's figures."""
        found = (*self.fault_needs(node), *self.line_neutral_needs(node), *self.drop_needs(node))
        return tuple(dict.fromkeys((*found, *self.contribution_needs(node))))

    def fault_needs(self, node: int) -> tuple[str, ...]:
        """What is missing to know ``fault_a`` there."""
        return self.reasons.fault_needs(node)

    def line_neutral_needs(self, node: int) -> tuple[str, ...]:
        """What is missing to know ``fault_ln_a`` there."""
        return self.reasons.line_neutral_needs(node)

    def ground_needs(self, node: int) -> tuple[str, ...]:
        """What is missing to know ``fault_lg_a`` there."""
        return () if self.fault_lg_a[node] is not None else self.reasons.ground_needs(node, self.ground)

    def current_needs(self, node: int) -> tuple[str, ...]:
        """What is missing to know ``current_a`` there."""
        return self.reasons.current_needs(node)

    def duty_needs(self, node: int) -> tuple[str, ...]:
        """What is missing to know ``duty_a`` there; nothing when it is known."""
        if self.duty_a[node] is not None:
            return ()
        neutral = self.line_neutral_needs(node) if self._neutral_matters[node] else ()
        return tuple(dict.fromkeys((*self.fault_needs(node), *neutral, *self.contribution_needs(node))))

    def x_r_needs(self, node: int) -> tuple[str, ...]:
        """Ratios X/R on the way to the node that are not known."""
        return self.reasons.x_r_needs(node)

    def duty_assumed(self, node: int) -> tuple[str, ...]:
        """What was assumed for ``duty_a`` there."""
        main, ln = self.fault_a[node], self.fault_ln_a[node]
        neutral = main is not None and ln is not None and ln > main
        found = (*self.reasons.fault_assumed(node, neutral), *self.contribution_assumed(node))
        return tuple(dict.fromkeys(found))

    def contribution_needs(self, node: int) -> tuple[str, ...]:
        """What is missing to know ``contribution_a`` there."""
        return self.contribution.lacks.get(self.ctx.feeding.root[node], ())

    def contribution_assumed(self, node: int) -> tuple[str, ...]:
        """What was assumed for ``contribution_a`` there."""
        return self.contribution.assumed.get(self.ctx.feeding.root[node], ())

    def drop_needs(self, node: int) -> tuple[str, ...]:
        """What is missing to know ``drop_pct`` there."""
        return self.reasons.drop_needs(node)

    def fault_assumed(self, node: int) -> tuple[str, ...]:
        """What was assumed for the fault currents there; each lowers their basis to "assumed"."""
        return self.reasons.fault_assumed(node)

    def fault_notes(self, node: int) -> tuple[str, ...]:
        """How the fault currents there were reckoned, where there was a choice on the high side."""
        return self.reasons.fault_notes(node)

    def drop_assumed(self, node: int) -> tuple[str, ...]:
        """What was assumed for the voltage drop there."""
        return self.reasons.drop_assumed(node)

    def fault_basis(self, node: int) -> str:
        """Weakest basis of what the fault currents there rest on."""
        return self.reasons.fault_basis(node)

    def drop_basis(self, node: int) -> str:
        """Weakest basis of what the voltage drop there rests on."""
        return self.reasons.drop_basis(node)

    def fault_work(self, node: int) -> tuple[WorkLine, ...]:
        """Worksheet of ``fault_a``: every impedance on the way from the source; empty where it is not known."""
        ctx = self.ctx
        return ctx.recall("fault worksheet", node, lambda: _fault_sheet(ctx, node))

    def _by_node(self, values: Array) -> Array:
        out = np.full((self.ctx.net.node_count, *values.shape[1:]), np.nan)
        out[self.forest.nodes] = values
        return out


def _fault_sheet(ctx: Context, node: int) -> tuple[WorkLine, ...]:
    from oneline.study.numbers_work import fault_work

    ctx.seen("fault", node)
    return fault_work(ctx, ctx.numbers.forest, ctx.numbers.faults, node)


def compute_numbers(ctx: Context) -> Numbers:
    """All numbers of a view of a drawing."""
    forest = build_forest(ctx)
    entries = ctx.loads
    faults = compute_faults(forest)
    return Numbers(ctx, forest, faults, compute_contribution(forest, entries, faults), entries)


__all__ = ["PHASES", "Column", "Numbers", "PhaseColumn", "compute_numbers"]
