"""What a run carries against what it is good for (AMP-1), and runs in parallel (AMP-3)."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import lru_cache

from oneline import tables
from oneline.model.quick import quick
from oneline.model.vocabulary import CONDUCTOR_SIZES
from oneline.rules.ampacity import RunFacts, ampacity, dry_only_in_wet, large_enough_in_parallel
from oneline.rules.common import (
    Condition,
    Fact,
    Subject,
    amperes,
    at_least,
    compared,
    computed,
    judged,
    listed,
    number,
    section,
    sentences,
    size_text,
    verdict,
)
from oneline.rules.verdict import Verdict, WorkLine

#: What a run is a part of, and the rule whose section is cited for its load.
CITED = {"branch": "AMP-CONT-branch", "feeder": "AMP-CONT-feeder", "service": "AMP-CONT-service"}


def continuous_counted() -> str:
    """What makes the counted load the larger one where nothing else is said."""
    return f"continuous load at {number(100 * tables.limit_value('continuous_factor'))} %"


@quick
@dataclass(frozen=True)
class LoadFacts:
    """A run and the calculated load it carries, largest phase, amperes.

    ``load``: continuous and noncontinuous load; ``counted``: the same with continuous load at 125 %. ``full_rated``:
    the assembly and its device are listed for continuous load at 100 %. ``part``: one of CITED. ``counted_as``: what makes
    the counted load the larger one, as a phrase.
    """

    run: RunFacts
    load: Fact
    counted: Fact
    full_rated: bool = False
    part: str = "feeder"
    counted_as: str = field(default_factory=continuous_counted)


def conductor_load(facts: LoadFacts) -> Verdict:
    """Whether the conductors carry their calculated load: before and after correction and adjustment (AMP-1)."""
    run, name = facts.run, facts.run.subject.name
    found = ampacity(run)
    needed = facts.load if facts.full_rated else facts.counted
    in_use_governs = found.a_cond is not None and found.a_term is not None and found.a_cond < found.a_term
    at_terminals, in_use = found.term_fact(name), found.cond_fact(name)
    counts = f", {facts.counted_as}" if facts.counted_as and needed.most != facts.load.most else ""
    conditions = [
        at_least(at_terminals, needed, lambda: _sentence(facts, at_terminals, needed, counts, not in_use_governs)),
        at_least(in_use, facts.load, lambda: _sentence(facts, in_use, facts.load, "", in_use_governs)),
    ]
    tests = tuple(conditions)
    too_small = any(c.state == "fail" for c in conditions)
    wet_wrong = dry_only_in_wet(run)
    if wet_wrong:
        wet = f"{name} has {run.insulation} insulation in a wet location, where it is not permitted."
        conditions.insert(0, Condition("fail", wet, must="be insulated for wet locations"))
    elif wet_needs := _wet_needs(run):
        wet = f"Whether the insulation of {name} is permitted where it lies is not known yet."
        conditions.append(Condition("unknown", wet, needs=wet_needs))

    def remedy() -> str:
        other = "Use conductors with insulation for wet locations." if wet_wrong else ""
        return sentences(other, _upsize_for_load(facts) if too_small else "")

    def work() -> tuple[WorkLine, ...]:
        if needed.value is None or found.a_term is None:
            return found.lines
        left = computed(
            "Left at the terminals", "terminals_a - load_a", terminals_a=found.a_term, load_a=needed.value
        )  # fmt: skip
        return (*found.lines, left)

    return judged(
        "AMP-1", run.subject, run.edition, conditions, section=section(_cited(facts, conditions), run.edition),
        remedy=remedy if too_small or wet_wrong else "",
        pass_message=lambda: min(tests, key=_spare).message, work=work, field_checks=found.field_checks,
    )  # fmt: skip


def _cited(facts: LoadFacts, conditions: list[Condition]) -> str:
    """The rule whose section is cited: the one about wet locations where it alone is why the conductors do not pass."""
    wet = dry_only_in_wet(facts.run) or (
        bool(_wet_needs(facts.run)) and all(c.state == "pass" for c in conditions[:-1])
    )  # fmt: skip
    return "AMP-1-wet" if wet else CITED[facts.part]


def _wet_needs(run: RunFacts) -> tuple[str, ...]:
    """What decides whether the insulation is permitted where the run lies; empty where that is known.

    Not known: an insulation that nobody read or that the vocabulary does not tell, in a location that is or may be wet;
    or one for dry locations where nobody said which it is.
    """
    if run.wet is False:
        return ()
    name = run.subject.name
    place = (f"whether {name} is in a wet location",) if run.wet is None else ()
    if run.insulation is None:
        return (f"insulation of {name}", *place)
    if tables.insulation(run.insulation).dry_c is None:
        return (f"whether the marking of {name} permits wet locations", *place)
    return place if dry_only_in_wet(replace(run, wet=True)) else ()


def _sentence(facts: LoadFacts, ampacity_a: Fact, load: Fact, counts: str, governs: bool) -> str:
    """One of the two tests, as a sentence. ``governs``: whether it is the limit that the run's ampacity is due to."""
    name = facts.run.subject.name
    words = compared(ampacity_a, load)
    if words is None:
        return load_unknown(name, ampacity_a, load)
    why = ampacity(facts.run).governs if governs else ""
    limited = f" ({why})" if why else ""
    if load.value == 0:
        return f"{name} can carry {words.value}{limited}, and no load is calculated for it."
    return f"{name} can carry {words.value}{limited}, {words.gap} the calculated load of {words.limit}{counts}."


def load_unknown(name: str, ampacity_a: Fact, load: Fact) -> str:
    """Said where a number is missing for comparing ampacity and load: what is known of the two."""
    good = f", good for {amperes(ampacity_a.value)}," if ampacity_a.value is not None else ""
    of = "" if load.value is None else f" of {amperes(load.value)}"
    more = f": at least {amperes(load.least)} is known so far" if load.value is None and load.least else ""
    return f"Whether {name}{good} can carry the calculated load{of} is not known yet{more}."


def _spare(condition: Condition) -> float:
    """Amperes between the two numbers of a test; none where they are not known."""
    if condition.value is None or condition.limit is None:
        return 0.0
    return condition.value - condition.limit


def _upsize_for_load(facts: LoadFacts) -> str:
    needed = facts.load if facts.full_rated else facts.counted
    known = facts.load.most is not None and needed.most is not None
    load, counted = (facts.load.most, needed.most) if known else (facts.load.least, needed.least)
    if load is None or counted is None:
        return ""
    for size in CONDUCTOR_SIZES:
        tried = ampacity(replace(facts.run, size=size))
        if tried.a_term is not None and tried.a_cond is not None and tried.a_term >= counted and tried.a_cond >= load:
            text = f"{size_text(size, facts.run.material, facts.run.sets)} ({amperes(tried.iz_a)})"
            return f"Use {text}." if known else f"Use at least {text}, for the load known so far."
    return "Use more sets in parallel, or take load off."


@lru_cache(maxsize=4096)
def parallel_sets(facts: RunFacts, alike: bool | None = None, neutral_size: str | None = "none") -> Verdict:
    """Conductors in parallel are 1/0 or larger, and alike in length, material, size, insulation and ends (AMP-3).

    ``alike``: whether the sets of each phase are; ``None`` unknown. ``neutral_size``: "none" for no neutral.
    """
    name = facts.subject.name
    least = size_text(_smallest_in_parallel())
    conditions = [_large_enough(facts, facts.size, "conductor"), _alike(name, alike)]
    if neutral_size not in (None, "none"):
        conditions.insert(1, _large_enough(facts, neutral_size, "neutral"))
    remedy = ""
    if any(c.state == "fail" for c in conditions[:-1]):
        remedy = f"Use {least} or larger in each set, or one larger set."
    elif conditions[-1].state == "fail":
        remedy = f"Make the sets of {name} alike, or size them by the one that takes the largest share."
    check = f"All sets of {name}: same length, size, material, insulation and lugs."
    return judged("AMP-3", facts.subject, facts.edition, conditions, remedy=remedy, field_checks=(check,))


def _smallest_in_parallel() -> str:
    return next(s for s in CONDUCTOR_SIZES if large_enough_in_parallel(s))


def _large_enough(facts: RunFacts, size: str | None, what: str) -> Condition:
    name, least = facts.subject.name, size_text(_smallest_in_parallel())
    if size is None:
        text = f"Whether {name} may run in parallel is not known yet: {least} is the least for each set."
        return Condition("unknown", text, needs=(f"{what} size of {name}",))
    is_neutral = " as its neutral" if what == "neutral" else ""
    shown = size_text(size, facts.material, facts.sets)
    if large_enough_in_parallel(size):
        return Condition(
            "pass", f"The {shown} of {name}{is_neutral} is large enough to run in parallel: {least} is the least."
        )
    text = f"The {shown} of {name}{is_neutral} is too small to run in parallel: {least} is the least."
    return Condition("fail", text, must=f"have a {what} of {least} or larger in each set")


def _alike(name: str, alike: bool | None) -> Condition:
    if alike is None:
        text = f"Whether the sets of {name} are alike in length, size, material, insulation and ends is not known yet."
        return Condition("unknown", text, needs=(f"whether the sets of {name} are alike, their lengths above all",))
    if alike:
        return Condition("pass", f"The sets of {name} are alike, so they share its current evenly.")
    text = f"The sets of {name} are not alike, so one of them takes more than its share of the current."
    return Condition("fail", text, must="have sets that are alike in length, size, material, insulation and ends")


def terminals_contradict(
    run: Subject, edition: int, stated_c: float, ends: tuple[tuple[Subject, float], ...]
) -> Verdict:  # fmt: skip
    """A run said to land on better terminals than its equipment is marked for (AMP-TERM): the lowest governs.

    ``ends``: equipment at its ends that is marked lower than ``stated_c``, °C.
    """
    marked = listed([f"{item.name} is marked {number(c)} °C" for item, c in ends])
    lowest_c = min(c for _, c in ends)
    text = (
        f"{run.name} is entered with {number(stated_c)} °C terminals, but {marked}. Its ampacity is reckoned with "
        f"{number(lowest_c)} °C, the lowest."
    )
    names = listed([item.name for item, _ in ends])
    return verdict(
        "AMP-TERM", run, edition, "advice", text, value=lowest_c, limit=stated_c, unit="°C",
        remedy="Correct the entry that is wrong.", others=tuple(item.id for item, _ in ends),
        field_checks=(f"Read the temperature rating at the terminals of {names}.",),
    )  # fmt: skip
