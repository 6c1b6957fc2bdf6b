"""Whether a device, bus, conductor or transformer carries the load that is there (rule CAP), and what it leaves."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import ceil

from oneline.model.quick import quick
from oneline.rules.common import (
    Fact,
    Lines,
    Subject,
    amperes,
    assumption_lines,
    bounded_amperes,
    compare_at_least,
    compared,
    computed,
    equal_or_above,
    listed,
    looked_up,
    section,
    unique,
    verdict,
    weakest,
    with_assumptions,
    worst,
)
from oneline.rules.verdict import Verdict, WorkLine

#: Kinds of limits and the rule whose section is cited for each.
KINDS = {
    "device": "CAP-device", "bus": "CAP-bus", "conductor": "CAP-conductor", "transformer": "CAP-transformer",
    "equipment": "CAP-equipment", "generator": "CAP-generator",
}  # fmt: skip


@quick
@dataclass(frozen=True)
class CapacityFacts:
    """One limit and the load on it.

    ``kind``: one of KINDS. ``what``: what of the item limits, e.g. "trip". ``rating``: amperes. ``loads``: amperes by
    phase as counted against this kind of limit. ``method``: how the load was found. ``work``: worksheet of the load.
    ``assumed``: assumptions in the load. ``cited``: rule whose section is cited, where it is not that of the kind.
    ``system_need``: what to find out where no phases are known.
    """

    subject: Subject
    edition: int
    kind: str
    what: str
    rating: Fact
    loads: Mapping[str, Fact]
    method: str = ""
    work: Lines = ()
    assumed: tuple[str, ...] = ()
    cited: str = ""
    system_need: str = "system voltage"
    #: What has to be said of the load beside its figure, as a sentence.
    note: str = ""


def capacity(facts: CapacityFacts) -> Verdict:
    """CAP: the counted load of every phase against the rating."""
    states = {phase: compare_at_least(facts.rating, load) for phase, load in facts.loads.items()}
    state = worst(states.values()) if states else "unknown"
    phase = _worst_phase(facts, state, states)
    load = facts.loads.get(phase, Fact(None))
    # The bound that decides, as the sentence has it.
    value = load.most if state == "pass" and load.value is None else load.least
    cited = section(facts.cited or KINDS[facts.kind], facts.edition)
    resting = facts.assumed or load.assumptions
    assumed = unique((*resting, *facts.rating.assumptions)) if state in ("pass", "fail") else ()

    def message() -> str:
        said = _message(facts, state, phase)
        if facts.note and state != "pass":
            said = f"{said} {facts.note}"
        return with_assumptions(said, assumed, facts.subject.name)

    def needs() -> tuple[str, ...]:
        if not states:
            return (facts.system_need,)
        open_ = [facts.loads[phase] for phase, its in states.items() if its == "unknown"]
        return unique([n for load in open_ for n in (*load.needs, *facts.rating.needs)])

    return verdict(
        "CAP", facts.subject, facts.edition, state, message, section=cited,
        value=value, limit=facts.rating.value, unit="A", relation="at most", needs=needs if state == "unknown" else (),
        basis="assumed" if facts.assumed else weakest(facts.rating.basis, load.basis),
        remedy=(lambda: _remedy(facts)) if state == "fail" else "",
        work=lambda: (*_work(facts, phase, value, cited), *assumption_lines(assumed)), what=facts.what,
    )  # fmt: skip


def _work(facts: CapacityFacts, phase: str, value: float | None, cited: str) -> list[WorkLine]:
    own = facts.work() if callable(facts.work) else facts.work
    lines = [*own, *([looked_up("Load", facts.method, "")] if facts.method else [])]
    if facts.rating.least is not None and value is not None:
        lines.append(
            computed(f"Left on phase {phase}", "rating - load", "A", cited, rating=facts.rating.least, load=value)
        )  # fmt: skip
    return lines


def _worst_phase(facts: CapacityFacts, state: str, states: Mapping[str, str]) -> str:
    """The phase that decides: the one with the largest load among those of the deciding state."""
    known = {p: facts.loads[p].least or 0.0 for p, its in states.items() if its == state}
    most = max(known.values(), default=0.0)
    return next((p for p, load in known.items() if load == most or equal_or_above(load, most)), "")


def _message(facts: CapacityFacts, state: str, phase: str) -> str:
    name, rating, load = facts.subject.name, facts.rating, facts.loads.get(phase, Fact(None))
    words = compared(load, rating, "over", "left", most=True)
    if state == "unknown" or words is None:
        return _unknown(facts, phase, load)
    on = f"on phase {phase}: {words.value} of load, {_limit_words(facts.what, words.limit)}"
    if state == "fail":
        return f"{name} is over by {words.gap.removesuffix(' over')} {on}."
    if words.gap.endswith("exactly"):
        return f"{name} has nothing left {on}."
    return f"{name} has {words.gap} {on}."


def _unknown(facts: CapacityFacts, phase: str, load: Fact) -> str:
    name, rating = facts.subject.name, facts.rating
    if rating.most is not None and load.least is not None:
        left = rating.most - load.least
        on, limit = f"on phase {phase}", _limit_words(facts.what, bounded_amperes(rating))
        if left <= 0:
            so_far = amperes(load.least, rounding="down")
            return f"Whether {name} carries its load {on} is not known yet: {so_far} is known so far, {limit}."
        so_far = f"{amperes(load.least, rounding='down')} of load is" if load.least else "no load is"
        return f"{name} has at most {amperes(left, rounding='up')} left {on}: {so_far} known so far, {limit}."
    if rating.least is not None:
        return f"Whether {name} carries its load is not known yet: {_limit_words(facts.what, bounded_amperes(rating))}."
    more = f": at least {amperes(load.least, rounding='down')} on phase {phase}" if load.least else ""
    return f"Whether {name} carries its load is not known yet{more}."


def _limit_words(what: str, number: str) -> str:
    """ "trip 400 A", "bus 225 A"."""
    return f"{what.removesuffix(' rating')} {number}"


def _remedy(facts: CapacityFacts) -> str:
    """What would make it pass: so much load off each phase, by balancing alone where that is enough, or a larger one."""
    limit = facts.rating.most
    if limit is None:
        return ""
    known = {phase: fact.least or 0.0 for phase, fact in facts.loads.items()}
    over = {phase: load - limit for phase, load in known.items() if load > limit}
    each = {phase: f"{amperes(ceil(round(more * 10, 6)) / 10)} off" for phase, more in over.items()}
    off = listed([f"{text} phase {phase}" for phase, text in each.items()])
    if len(known) > 1 and len(each) == len(known) and len(set(each.values())) == 1:
        off = f"{next(iter(each.values()))} each phase"
    balanced = len(known) > 1 and sum(known.values()) / len(known) <= limit
    larger = "or fit a larger one"
    if facts.kind not in ("bus", "conductor", "transformer", "generator"):
        larger = "or fit a larger rating where the conductors and buses behind it allow it"
    return f"Take {off}{', to the other phases or away' if balanced else ''}, {larger}."
