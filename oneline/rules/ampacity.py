"""The ampacity of a conductor run, from its table value to the step that governs, and what it may carry.

Chain of 310.14 to 310.16 and 110.14(C): table value of the insulation's column, corrected for the surroundings and for
the conductors beside it, and not more than the table value of the terminals' column. Unknown facts leave bounds.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import lru_cache, partial
from itertools import product
from typing import Any

from oneline import tables
from oneline.model.vocabulary import CONDUCTOR_SIZES, MATERIALS
from oneline.rules.common import (
    Fact,
    computed,
    equal_or_above,
    looked_up,
    number,
    section,
    size_text,
)
from oneline.rules.surroundings import (
    COLUMNS_C,
    RunFacts,
    adjustment_range,
    adjustment_text,
    ambient_range,
    ambients_c,
    counts,
    insulation_columns,
    is_nipple,
)
from oneline.rules.verdict import Later, WorkLine

__all__ = [
    "COLUMNS_C", "Ampacity", "RunFacts", "ampacity", "dry_only_in_wet", "is_nipple", "large_enough_in_parallel",
    "smallest_size", "terminal_range",
]  # fmt: skip


@dataclass(frozen=True)
class Ampacity:
    """Answer of :func:`ampacity`, all in amperes for the whole run (all sets).

    ``iz_a``: the ampacity, ``None`` while a fact is missing; then ``low_a`` and ``high_a`` bound it where they can.
    ``a_cond``: under the conditions of use; ``a_term``: at the terminals. ``governs``: the step that limits, as a phrase.
    ``up_to_a`` and ``up_to_term_a``: the same where terminals that are not known, and taken as 60 °C, are marked 75 °C.
    ``lines``: worksheet, or what makes it. ``needs``: missing facts. ``assumed``: assumptions in it. ``field_checks``: to
    be seen before relying on it.
    """

    iz_a: float | None
    governs: str
    a_cond: float | None
    a_term: float | None
    low_a: float | None = None
    high_a: float | None = None
    lines: Later[tuple[WorkLine, ...]] = Later(())  # noqa: RUF009
    basis: str = "entered"
    needs: tuple[str, ...] = ()
    assumed: tuple[str, ...] = ()
    field_checks: tuple[str, ...] = ()
    up_to_a: float | None = None
    up_to_term_a: float | None = None

    def but(self, **changes: Any) -> Ampacity:
        """The same answer with other fields; its worksheet stays unmade until somebody looks."""
        held = {name.removeprefix("_"): value for name, value in self.__dict__.items()}
        return Ampacity(**{**held, **changes})

    def fact(self, name: str) -> Fact:
        """The ampacity as a number that rules compare; ``name``: of the run, on the drawing."""
        return self._fact(self.iz_a, self.low_a, self.high_a, f"ampacity of {name}", self.up_to_a, name)

    def _fact(
        self, value: float | None, low: float | None, high: float | None, what: str, up_to: float | None, name: str
    ) -> Fact:  # fmt: skip
        terminals = (f"terminal temperature of {name}",) if up_to is not None else ()
        need, *also = (*self.needs, *terminals) or ("",)
        basis = "assumed" if self.assumed else self.basis
        return Fact(value, low, high, basis, need, what, self.assumed, tuple(also), up_to)

    def cond_fact(self, name: str) -> Fact:
        """The ampacity under the conditions of use, before the terminals' limit."""
        return self._fact(self.a_cond, self.low_a, None, f"ampacity of {name} under its conditions of use", None, name)

    def term_fact(self, name: str) -> Fact:
        """The ampacity at the terminals, without correction and adjustment."""
        what = f"ampacity of {name} at its terminals"
        return self._fact(self.a_term, self.low_a, None, what, self.up_to_term_a, name)


@dataclass(frozen=True)
class _Scene:
    """One complete set of facts; the ampacity of a run with unknowns lies between those of its scenes."""

    sets: int
    size: str
    material: str
    column_c: int
    ambient: float
    adjustment: float
    terminal_c: int


@lru_cache(maxsize=8192)
def ampacity(facts: RunFacts) -> Ampacity:
    """Ampacity of a run (rule AMP-1). Pure; never raises for unknown or odd facts."""
    name = facts.subject.name
    if facts.raceway == "busway":
        return Ampacity(None, "", None, None, needs=(f"ampere rating marked on the busway {name}",))
    terminal_c, by_default, checks = _terminals(facts)
    assumed = (*facts.assumed, *by_default)
    needs = _missing(facts)
    if facts.size is None:
        return Ampacity(None, "", None, None, basis=facts.basis, needs=needs)
    marked_c = _marked_c(facts, terminal_c)
    if not needs:
        found = _exact(facts, terminal_c, assumed, checks)
        if marked_c == terminal_c or found.iz_a is None:
            return found
        better = _exact(facts, marked_c, (), ())
        return found.but(
            up_to_a=better.iz_a if better.iz_a != found.iz_a else None,
            up_to_term_a=better.a_term if better.a_term != found.a_term else None,
        )  # fmt: skip
    low, high = _bounds(facts, terminal_c)[0], _bounds(facts, marked_c)[1]
    term = None
    if facts.sets is not None and facts.material is not None:
        term = _times(facts.sets, tables.ampacity_a(facts.size, facts.material, terminal_c))
    better_term = None
    if term is not None and marked_c != terminal_c and facts.sets is not None and facts.material is not None:
        better_term = _times(facts.sets, tables.ampacity_a(facts.size, facts.material, marked_c))
    return Ampacity(
        None, "", None, term, low, high, basis=facts.basis, needs=needs, assumed=assumed, field_checks=checks,
        up_to_term_a=better_term,
    )  # fmt: skip


def _missing(facts: RunFacts) -> tuple[str, ...]:
    name = facts.subject.name
    missing = [
        (facts.size is None, f"conductor size of {name}"),
        (facts.material is None, f"conductor material of {name}"),
        (facts.sets is None, f"number of sets of {name}"),
        (facts.ambient_c is None, f"ambient temperature along {name}"),
    ]
    columns = insulation_columns(facts)
    if len(columns) != 1:
        if facts.insulation in (None, "other", "MC"):
            missing.append((True, f"insulation of {name}"))
        else:
            missing.append((True, f"whether {name} is in a wet location"))
    around = ambients_c(facts)
    if around is not None and any(ambient_range(facts, c)[0] != ambient_range(facts, c)[1] for c in columns):
        missing.append((True, f"height of {name} above the roof"))
    if adjustment_range(facts)[0] != adjustment_range(facts)[1]:
        counted = facts.count_needs or (f"number of current-carrying conductors in the raceway of {name}",)
        missing += [(True, need) for need in counted]
    return tuple(text for absent, text in missing if absent)


def _terminals(facts: RunFacts) -> tuple[int, tuple[str, ...], tuple[str, ...]]:
    """Column of the terminals, the assumption it rests on, and what to read in the field."""
    if facts.terminal_c is not None:
        return _column_at_or_below(facts.terminal_c), (), ()
    large = facts.size is not None and tables.area_cmil(facts.size) > tables.limit_value("terminal_default_size_cmil")
    over = facts.circuit_a is not None and facts.circuit_a > tables.limit_value("terminal_default_rating_a")
    default = int(tables.limit_value("terminal_default_high_c" if large or over else "terminal_default_low_c"))
    if facts.terminal_seen_c is not None:
        default = min(default, _column_at_or_below(facts.terminal_seen_c))
    low = number(tables.limit_value("terminal_default_low_c"))
    check = f"Read the temperature rating at the terminals of {facts.subject.name}; old equipment is often {low} °C."
    return default, (f"{default} °C terminals",), (check,)


def _by_size(facts: RunFacts) -> float | None:
    """The conductor size above which terminals take the higher default, where it decides: the circuit's rating does not."""
    if facts.terminal_c is not None or facts.size is None:
        return None
    size_cmil = tables.limit_value("terminal_default_size_cmil")
    over = facts.circuit_a is not None and facts.circuit_a > tables.limit_value("terminal_default_rating_a")
    large = tables.area_cmil(facts.size) > size_cmil
    return size_cmil if not over and (large or facts.circuit_a is None) else None


def _marked_c(facts: RunFacts, terminal_c: int) -> int:
    """Highest column that terminals may be marked for where the 60 °C of 110.14(C) only stands in for the marking."""
    if facts.terminal_c is not None:
        return terminal_c
    marked = int(tables.limit_value("terminal_default_high_c"))
    if facts.terminal_seen_c is not None:
        marked = min(marked, _column_at_or_below(facts.terminal_seen_c))
    return max(terminal_c, marked)


def terminal_range(facts: RunFacts) -> tuple[int, int]:
    """Lowest and highest column that the terminals of a run may be marked for; the same twice where that is known."""
    default_c = _terminals(facts)[0]
    if facts.terminal_c is not None:
        return default_c, default_c
    return COLUMNS_C[0], _marked_c(facts, default_c)


def _column_at_or_below(celsius: float) -> int:
    return max((c for c in COLUMNS_C if c <= celsius), default=COLUMNS_C[0])


def dry_only_in_wet(facts: RunFacts) -> bool:
    """Whether the insulation is known not to be permitted where the run lies."""
    if facts.insulation is None or not facts.wet:
        return False
    kind = tables.insulation(facts.insulation)
    return kind.dry_c is not None and kind.wet_c is None


def large_enough_in_parallel(size: str) -> bool:
    """Whether conductors of this size may be run in parallel."""
    return tables.area_cmil(size) >= tables.limit_value("parallel_min_cmil")


def _times(sets: int, each: float | None) -> float | None:
    return None if each is None else sets * each


def _scenes(facts: RunFacts, terminal_c: int, least: bool) -> Iterator[_Scene]:
    """Complete sets of facts that bound the ampacity from below (``least``) or from above; none where no bound exists."""
    assert facts.size is not None
    if facts.sets is None and not least:
        return
    materials = (facts.material,) if facts.material else MATERIALS
    for column, material in product(insulation_columns(facts), materials):
        ambient = ambient_range(facts, column)[0 if least else 1]
        if ambient is None:
            continue
        adjustment = adjustment_range(facts)[0 if least else 1]
        yield _Scene(facts.sets or 1, facts.size, material, column, ambient, adjustment, terminal_c)


def _bounds(facts: RunFacts, terminal_c: int) -> tuple[float | None, float | None]:
    lows = [_scene_iz(s) for s in _scenes(facts, terminal_c, least=True)]
    highs = [_scene_iz(s) for s in _scenes(facts, terminal_c, least=False)]
    known_lows = [x for x in lows if x is not None]
    known_highs = [x for x in highs if x is not None]
    return (min(known_lows) if known_lows else None, max(known_highs) if known_highs else None)


def _scene_iz(scene: _Scene) -> float | None:
    in_use = tables.ampacity_a(scene.size, scene.material, scene.column_c)
    at_lug = tables.ampacity_a(scene.size, scene.material, scene.terminal_c)
    if in_use is None or at_lug is None:
        return None
    return scene.sets * min(in_use * scene.ambient * scene.adjustment, at_lug)


def _exact(facts: RunFacts, terminal_c: int, assumed: tuple[str, ...], checks: tuple[str, ...]) -> Ampacity:
    """The ampacity when nothing but the terminals may be missing, with its worksheet."""
    assert facts.size is not None
    assert facts.material is not None
    assert facts.sets is not None
    column = insulation_columns(facts)[0]
    ambient = ambient_range(facts, column)[0]
    around = ambients_c(facts)
    around_c = around[0] if around is not None else 0.0
    adjustment = adjustment_range(facts)[0]
    in_use = tables.ampacity_a(facts.size, facts.material, column)
    at_lug = tables.ampacity_a(facts.size, facts.material, terminal_c)
    name = facts.subject.name
    if in_use is None or at_lug is None or ambient is None:
        why = (
            f"ampacity of {name} at {number(around_c)} °C: no value for {column} °C insulation there"
            if ambient is None
            else f"ampacity of {name}: the table has no value for {size_text(facts.size, facts.material)}"
        )
        high = 0.0 if ambient is None else None
        return Ampacity(None, "", None, None, None, high, basis=facts.basis, needs=(why,))
    a_cond, a_term = float(facts.sets * in_use * ambient * adjustment), float(facts.sets * at_lug)
    lines = partial(_lines, facts, column, terminal_c, in_use, at_lug, ambient, adjustment, around_c)
    return Ampacity(
        min(a_cond, a_term), _governs(facts, column, terminal_c, ambient, adjustment, a_cond, a_term), a_cond, a_term,
        lines=lines, basis=facts.basis, assumed=assumed, field_checks=checks,
    )  # fmt: skip


def _lines(
    facts: RunFacts, column: int, terminal_c: int, in_use: float, at_lug: float, ambient: float, adjustment: float,
    around_c: float,
) -> tuple[WorkLine, ...]:  # fmt: skip
    """Worksheet of an ampacity."""
    edition, sets = facts.edition, facts.sets or 1
    what = size_text(facts.size, facts.material)
    ambient_text = f"Correction for {number(around_c)} °C, {column} °C column"
    cond = computed(
        "Ampacity under the conditions of use", "sets * table_a * ambient * adjustment",
        sets=sets, table_a=in_use, ambient=ambient, adjustment=adjustment, source=section("AMP-1", edition),
    )  # fmt: skip
    term = computed(
        f"Ampacity at {terminal_c} °C terminals", "sets * table_a",
        sets=sets, table_a=at_lug, source=tables.with_provenance(section("AMP-TERM", edition), _by_size(facts)),
    )  # fmt: skip
    table = section("TABLE-ampacity", edition)
    return (
        looked_up(f"Table ampacity of {what}, {column} °C", in_use, source=_with_insulation(table, facts, column)),
        *_roof_line(facts, around_c),
        looked_up(ambient_text, ambient, "", section("TABLE-ambient", edition)),
        looked_up(adjustment_text(facts), adjustment, "", section("TABLE-adjustment", edition)),
        cond,
        looked_up(f"Table ampacity of {what}, {terminal_c} °C", at_lug, source=table),
        term,
        computed(
            "Ampacity", "min(conditions_a, terminals_a)", conditions_a=float(cond.value or 0),
            terminals_a=float(term.value or 0),
        ),
    )  # fmt: skip


def _roof_line(facts: RunFacts, around_c: float) -> tuple[WorkLine, ...]:
    """The temperature that a roof adds, and the longer part that a short one follows, where there is any."""
    found: tuple[WorkLine, ...] = ()
    if facts.eased_by:
        found = (looked_up(f"Short part: surroundings of {facts.eased_by}", "", "", section("AMP-4", facts.edition)),)
    if facts.ambient_c is None or around_c == facts.ambient_c:
        return found
    line = computed(
        "Temperature near the sunlit roof", "ambient + roof", "°C", section("AMP-4", facts.edition),
        ambient=facts.ambient_c, roof=tables.limit_value("rooftop_adder_c"),
    )  # fmt: skip
    return (*found, line)


def _with_insulation(table: str, facts: RunFacts, column_c: int) -> str:
    """The source of the ampacity; says so where the column of the insulation is only from memory."""
    if facts.insulation is None:
        return table
    kind = tables.insulation(facts.insulation)
    if not isinstance(kind.wet_c if facts.wet else kind.dry_c, tables.FromMemory):
        return table
    return f"{table}; {column_c} °C of {facts.insulation} from memory"


def _governs(
    facts: RunFacts, column: int, terminal_c: int, ambient: float, adjustment: float, a_cond: float, a_term: float
) -> str:
    if a_term <= a_cond:
        return f"limited by {terminal_c} °C terminals"
    if adjustment < 1 and adjustment <= ambient:
        count = counts(facts)[0]
        return f"limited by {count} current-carrying conductors in one raceway"
    if ambient < 1:
        celsius = (ambients_c(facts) or (0.0,))[0]
        roof = " near the roof" if celsius != facts.ambient_c else " around it"
        return f"limited by {number(celsius)} °C ({number(celsius * 9 / 5 + 32, 0)} °F){roof}"
    return f"limited by its {column} °C insulation"


# ------------------------------------------------------------------------------------------------- proposals
def smallest_size(
    facts: RunFacts, needed_a: float, from_size: str | None = None, material: str | None = None
) -> RunFacts | None:
    """The run with the smallest size whose ampacity reaches ``needed_a``, everything else as it is.

    Parallel sets keep to sizes of at least 1/0. ``None`` when no size does, or when a fact other than the size is
    missing. ``circuit_a`` of the answer is what it was; terminals known stay known.
    """
    start = CONDUCTOR_SIZES.index(from_size) if from_size else 0
    for size in CONDUCTOR_SIZES[start:]:
        if (facts.sets or 1) > 1 and not large_enough_in_parallel(size):
            continue
        tried = replace(facts, size=size, material=material or facts.material)
        found = ampacity(tried).iz_a
        if found is not None and equal_or_above(found, needed_a):
            return tried
    return None
