"""What a run carries against what it is good for (AMP-1), and runs in parallel (AMP-3)."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

from oneline.model.vocabulary import CONDUCTOR_SIZES
from oneline.rules.ampacity import RunFacts, ampacity, dry_only_in_wet, large_enough_in_parallel
from oneline.rules.common import (
    Condition,
    Fact,
    amperes,
    at_least,
    computed,
    judged,
    section,
    size_text,
)
from oneline.rules.verdict import Verdict


@dataclass(frozen=True)
class LoadFacts:
    """A run and the calculated load it carries, largest phase, amperes.

    ``load``: continuous and noncontinuous load; ``counted``: the same with continuous load at 125 %. ``full_rated``:
    the assembly and its device are listed for continuous load at 100 %.
    """

    run: RunFacts
    load: Fact
    counted: Fact
    full_rated: bool = False


@lru_cache(maxsize=4096)
def conductor_load(facts: LoadFacts) -> Verdict:
    """Whether the conductors carry their calculated load: before and after correction and adjustment (AMP-1)."""
    run, name = facts.run, facts.run.subject.name
    found = ampacity(run)
    size = size_text(run.size, run.material, run.sets)
    good_for = (
        f"{name} ({size}) is good for {amperes(found.iz_a)}, {found.governs}"
        if found.iz_a is not None
        else f"The ampacity of {name} ({size}) is not known yet"
    )
    needed = facts.load if facts.full_rated else facts.counted
    share = "" if facts.full_rated else ", continuous load at 125 %"
    at_terminals = at_least(
        found.term_fact(name), needed,
        f"{good_for}; its calculated load is {_load_text(needed)}{share}.",
    )  # fmt: skip
    in_use = at_least(
        found.cond_fact(name), facts.load,
        f"{good_for}; its calculated load is {_load_text(facts.load)}.",
    )  # fmt: skip
    conditions = [at_terminals, in_use]
    if dry_only_in_wet(run):
        conditions.insert(0, Condition("fail", f"{name} is {run.insulation} in a wet location: not permitted there."))
    remedy = ""
    if any(c.state == "fail" for c in (at_terminals, in_use)):
        remedy = _upsize_for_load(facts)
    lines = found.lines
    if needed.value is not None and found.a_term is not None:
        lines += (
            computed("Left at the terminals", "terminals_a - load_a", terminals_a=found.a_term, load_a=needed.value),
        )
    return judged(
        "AMP-1", run.subject, run.edition, conditions, section=section("AMP-CONT", run.edition), remedy=remedy,
        pass_message=at_terminals.message, work=lines, field_checks=found.field_checks,
    )  # fmt: skip


def _load_text(load: Fact) -> str:
    return "not known yet" if load.value is None else amperes(load.value)


def _upsize_for_load(facts: LoadFacts) -> str:
    load, counted = facts.load.most, (facts.load if facts.full_rated else facts.counted).most
    if load is None or counted is None:
        return ""
    for size in CONDUCTOR_SIZES:
        tried = ampacity(replace(facts.run, size=size))
        if tried.a_term is not None and tried.a_cond is not None and tried.a_term >= counted and tried.a_cond >= load:
            return f"Use {size_text(size, facts.run.material, facts.run.sets)} ({amperes(tried.iz_a)})."
    return "Use more sets in parallel, or take load off."


@lru_cache(maxsize=4096)
def parallel_sets(facts: RunFacts) -> Verdict:
    """Conductors in parallel are 1/0 or larger, and alike in length, material, size, insulation and ends (AMP-3)."""
    smallest = next(s for s in CONDUCTOR_SIZES if large_enough_in_parallel(s))
    name = facts.subject.name
    size = size_text(facts.size, facts.material, facts.sets)
    if facts.size is None:
        conditions = [Condition("unknown", f"The size of {name} is not known yet.", needs=(f"size of {name}",))]
    elif not large_enough_in_parallel(facts.size):
        conditions = [
            Condition("fail", f"{name} is {size}: conductors in parallel need {size_text(smallest)} or larger.")
        ]
    else:
        conditions = [Condition("pass", f"{name} is {size}: large enough to run in parallel.")]
    remedy = f"Use {size_text(smallest)} or larger, or one larger set." if conditions[0].state == "fail" else ""
    check = f"All sets of {name}: same length, size, material, insulation and lugs."
    return judged("AMP-3", facts.subject, facts.edition, conditions, remedy=remedy, field_checks=(check,))
