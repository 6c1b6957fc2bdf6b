"""Which tap rule carries a tap, which comes nearest where none does, and the changes that would make one hold.

Remedies are found by trying: each change offered was put through the rule itself and passed it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import product
from typing import Any

from oneline import tables
from oneline.model.vocabulary import CONDUCTOR_SIZES
from oneline.rules.ampacity import RunFacts, ampacity, large_enough_in_parallel
from oneline.rules.common import (
    Fact,
    Said,
    amperes,
    feet_inches,
    listed,
    rated,
    resting_on,
    sentences,
    size_text,
    unique,
    verdict,
)
from oneline.rules.overcurrent import device_for, propose_conductor
from oneline.rules.tap_conditions import WHERE_IT_RUNS, TapFacts, Tried
from oneline.rules.taps import RULE_NAMES, TransformerTapFacts, tap_10, tap_25, tap_xf
from oneline.rules.verdict import Verdict

#: Largest conductor offered as one of a set, kcmil; larger ones are hard to pull and bend. Common practice, no source.
LARGEST_OFFERED = "750"
MOST_SETS_OFFERED = 4

TapRule = Callable[[TapFacts], Tried]


@dataclass(frozen=True)
class Remedy:
    """A change that makes a rule hold. ``None`` in a field: unchanged.

    ``rule``: the rule that holds then, "" where the conductors would be protected at their own ampacity. ``size``,
    ``sets``: conductors. ``length_ft``: at most this long. ``device_a``: device at the load end. ``ahead_a``: device at
    the point of supply. ``besides``: what has to be done as well, where numbers alone do not do it.
    """

    rule: str
    text: str
    size: str | None = None
    sets: int | None = None
    length_ft: float | None = None
    device_a: float | None = None
    ahead_a: float | None = None
    besides: tuple[str, ...] = ()


def changed(facts: TapFacts, remedy: Remedy) -> TapFacts:
    """The tap with a remedy applied to it."""
    run = facts.run
    if remedy.size is not None:
        run = replace(run, size=remedy.size, sets=remedy.sets or run.sets)
    new = facts
    if remedy.length_ft is not None:
        new = replace(new, length=Fact(remedy.length_ft))
        run = replace(run, length_ft=remedy.length_ft)
    if remedy.device_a is not None:
        ends = tuple(replace(e, rating=Fact(remedy.device_a)) if e.kind == "device" else e for e in facts.ends)
        new = replace(new, ends=ends)
        run = replace(run, circuit_a=remedy.device_a)
    if remedy.ahead_a is not None:
        new = replace(new, rating=Fact(remedy.ahead_a))
    return replace(new, run=run)


def conductor_choices(run: RunFacts) -> Iterator[RunFacts]:
    """Larger conductors than the run's, smallest first: the same sets up to the largest size offered, then more sets."""
    if run.size is None or run.sets is None or run.material is None:
        return
    now = run.sets * tables.area_cmil(run.size)
    largest = tables.area_cmil(LARGEST_OFFERED)
    for sets in range(run.sets, max(run.sets, MOST_SETS_OFFERED) + 1):
        for size in CONDUCTOR_SIZES:
            cmil = tables.area_cmil(size)
            if cmil > largest or sets * cmil <= now or (sets > 1 and not large_enough_in_parallel(size)):
                continue
            if tables.ampacity_a(size, run.material, 75) is not None:
                yield replace(run, size=size, sets=sets)


# -------------------------------------------------------------------------------------------------- remedies
def remedies_for(facts: TapFacts, rule: TapRule, rule_id: str, rule_name: str, limit_ft: float) -> list[Remedy]:
    """Changes after which one rule no longer fails, those with the fewest changes only."""
    if not rule(facts).failing:
        return []
    shorter = [None, limit_ft] if (facts.length.least or 0) > limit_ft else [None]
    trials = []
    for length_ft, fit_device, upsize in product(shorter, (False, True), (False, True)):
        trials.append(((length_ft is not None) + fit_device + upsize, length_ft, fit_device, upsize))
    found: list[Remedy] = []
    fewest = len(trials)
    for count, length_ft, fit_device, upsize in sorted(trials, key=lambda t: t[0]):
        if count > fewest:
            break
        made = _try(facts, rule, length_ft, fit_device, upsize)
        if made is not None:
            fewest = count
            found.append(_worded(facts, made, rule_id, rule_name))
    return found


def _try(
    facts: TapFacts, rule: TapRule, length_ft: float | None, fit_device: bool, upsize: bool
) -> Remedy | None:  # fmt: skip
    """The smallest change of the given kind after which only conditions without numbers still fail."""
    conductors: Sequence[RunFacts | None] = list(conductor_choices(facts.run)) if upsize else [None]
    for run in conductors:
        size, sets = (None, None) if run is None else (run.size, run.sets)
        device_a = None
        if fit_device:
            device_a = _fitting_device(facts, run or facts.run)
            if device_a is None:
                continue
        remedy = Remedy("", "", size, sets, length_ft, device_a)
        left = rule(changed(facts, remedy)).failing
        if all(c.cure for c in left):
            return replace(remedy, besides=unique(c.cure for c in left))
    return None


def _fitting_device(facts: TapFacts, run: RunFacts) -> float | None:
    """Largest standard device at the end that the conductors allow without rounding and that carries the load."""
    iz_a = ampacity(run).iz_a
    if iz_a is None or len(facts.devices) != 1:
        return None
    end = facts.devices[0]
    if end.rating.value is None:
        return None
    device_a = tables.previous_standard(iz_a, run.edition, end.device_kind)
    if device_a is None or device_a >= end.rating.value or device_a < (facts.load.least or 0.0):
        return None
    return device_a


def _worded(facts: TapFacts, remedy: Remedy, rule_id: str, rule_name: str) -> Remedy:
    steps = []
    if remedy.size is not None:
        steps.append(f"use {size_text(remedy.size, facts.run.material, remedy.sets)}")
    if remedy.length_ft is not None:
        steps.append(f"shorten it to {feet_inches(remedy.length_ft)}")
    if remedy.device_a is not None:
        kind = "fuses" if facts.devices[0].device_kind == "fuse" else "breaker"
        steps.append(f"fit {amperes(remedy.device_a)} {kind} in {facts.devices[0].item.name}")
    return replace(remedy, rule=rule_id, text=f"{listed([*steps, *remedy.besides])} ({rule_name})")


def protected_remedies(facts: TapFacts) -> list[Remedy]:
    """Ways out of the tap rules: conductors as large as the device ahead asks, or a device where they start."""
    found = []
    if facts.rating.value is not None:
        full = propose_conductor(facts.run, facts.load.least or 0.0, facts.rating.value, facts.ahead_kind)
        if (
            full is not None
            and full.size is not None
            and tables.area_cmil(full.size) <= tables.area_cmil(LARGEST_OFFERED)
        ):
            text = (
                f"use {size_text(full.size, full.material, full.sets)}, which {facts.ahead.name} protects (no tap then)"
            )
            found.append(Remedy("", text, size=full.size, sets=full.sets))
    device_a = device_for(facts.run, facts.ahead_kind)
    if device_a is not None and device_a >= (facts.load.least or 0.0):
        if facts.direct:
            text = f"change {facts.ahead.name} to at most {amperes(device_a)}"
        else:
            text = f"put a device of at most {amperes(device_a)} where it starts"
        found.append(Remedy("", text, ahead_a=device_a))
    return found


@lru_cache(maxsize=1024)
def tap_remedies(facts: TapFacts) -> tuple[Remedy, ...]:
    """All remedies of a feeder tap: by the 10-ft rule, by the 25-ft rule, and without a tap rule."""
    return (
        *remedies_for(facts, tap_10, "TAP-10", RULE_NAMES["TAP-10"], tables.limit_value("tap_10ft_length_ft")),
        *remedies_for(facts, tap_25, "TAP-25", RULE_NAMES["TAP-25"], tables.limit_value("tap_25ft_length_ft")),
        *protected_remedies(facts),
    )


@lru_cache(maxsize=1024)
def transformer_tap_remedies(facts: TransformerTapFacts) -> tuple[Remedy, ...]:
    """Changes to the primary or to the secondary conductors after which the transformer tap rule holds; each was tried."""
    found: list[Remedy] = []
    limit_ft = tables.limit_value("tap_transformer_length_ft")
    if facts.secondary is None:
        return ()
    sides: tuple[tuple[TapFacts, TapFacts, TapRule], ...] = (
        (facts.primary, facts.secondary, lambda tap: tap_xf(replace(facts, primary=tap))),
        (facts.secondary, facts.primary, lambda tap: tap_xf(replace(facts, secondary=tap))),
    )
    for side, other, rule in sides:
        left_ft = limit_ft - (other.length.least or 0.0)
        if left_ft <= 0:
            continue
        for remedy in remedies_for(side, rule, "TAP-XF", RULE_NAMES["TAP-XF"], left_ft):
            found.append(replace(remedy, text=f"on {side.name}, {remedy.text}"))
    return tuple(found)


def sentence(remedies: Sequence[Remedy], most: int = 4) -> str:
    """Remedies as one line of text; "" for none."""
    texts = unique(r.text for r in remedies)[:most]
    joined = "; or ".join(texts)
    return f"{joined[:1].upper()}{joined[1:]}." if texts else ""


def with_remedies(tried: Sequence[Tried], remedies: Callable[[], Sequence[Remedy]]) -> tuple[Verdict, ...]:
    """The verdicts of the rules tried, each failing one with the changes that would make it hold."""

    def cured(found: Verdict) -> Verdict:
        def remedy() -> str:
            return found.remedy or sentence([r for r in remedies() if r.rule == found.rule])

        return found.but(remedy=remedy)

    return tuple(cured(t.verdict) if t.state == "fail" else t.verdict for t in tried)


# --------------------------------------------------------------------------------------------------- summary
def summary(
    rule: str, facts: TapFacts, tried: Sequence[Tried], names: dict[str, str], remedies: Callable[[], list[Remedy]],
    what: str, where: str,
) -> Verdict:  # fmt: skip
    """One answer for a tap or secondary conductor on which several rules were tried.

    ``what``: what the conductors are ("a tap of Main 1 (600 A)"); ``where``: the same after their name ("behind Main 1
    (600 A)"). A rule that passes carries them; else one to be judged; else the rule that may pass once something is
    known; else it fails and the nearest rule is named. ``remedies`` is only called on a failure.
    """
    subject, edition, name = facts.run.subject, facts.run.edition, facts.name
    # That the conductors are a tap follows from their ampacity and the device.
    tap = unique((*facts.iz.assumptions, *facts.rating.assumptions))
    by_state = {s: [t for t in tried if t.state == s] for s in ("pass", "judge", "unknown", "fail")}
    others = unique(o for t in tried for o in t.verdict.others)
    for state in ("pass", "judge"):
        if by_state[state]:
            first = by_state[state][0]
            best, reason = first.verdict, first.reason
            message = (
                f"{name} is {what} and {'meets' if state == 'pass' else 'may meet'} the {names[best.rule]}{reason}."
            )
            rest = unique(names[t.verdict.rule] for t in by_state[state][1:])
            also = f"The {listed(rest)} would carry it too." if rest and state == "pass" else ""
            return resting_on(verdict(
                rule, subject, edition, state, sentences(message, also), section=best.section,
                value=best.value, limit=best.limit, unit=best.unit, relation=best.relation, basis=best.basis,
                work=_of(best, "work"), others=others, field_checks=best.field_checks,
            ), (*tap, *_assumed([first])))  # fmt: skip
    if by_state["unknown"]:
        first = min(by_state["unknown"], key=lambda t: len(t.verdict.needs))
        best, otherwise = first.verdict, ""
        remedy: Said = ""
        if by_state["fail"]:
            nearest = _nearest(by_state["fail"])
            otherwise = f"Otherwise the {names[nearest.verdict.rule]} is nearest{nearest.reason}."
            remedy = lambda: sentence(remedies())  # noqa: E731
        message = sentences(f"The {names[best.rule]} carries {name} {where}{first.reason}.", otherwise)
        if by_state["fail"] and all(c.open == WHERE_IT_RUNS for c in first.conditions if c.state == "unknown"):
            message = _indoors(name, where, by_state["fail"], names, names[best.rule])
        return resting_on(verdict(
            rule, subject, edition, "unknown", message, value=best.value, limit=best.limit, unit=best.unit,
            relation=best.relation, basis=best.basis, needs=_of(best, "needs"), remedy=remedy,
            work=_of(best, "work"), others=others, field_checks=best.field_checks,
        ), (*tap, *_assumed([first, *by_state["fail"]])))  # fmt: skip
    if not by_state["fail"]:
        return verdict(rule, subject, edition, "fail", f"No rule applies to {name} {where}.", others=others)
    nearest = _nearest(by_state["fail"])
    found = nearest.verdict
    message = f"No tap rule carries {name} {where}. Nearest is the {names[found.rule]}{nearest.reason}."
    return resting_on(verdict(
        rule, subject, edition, "fail", message, value=found.value, limit=found.limit, unit=found.unit,
        relation=found.relation, basis=found.basis, remedy=lambda: sentence(remedies()),
        work=_of(found, "work"), others=others, field_checks=found.field_checks,
    ), (*tap, *_assumed(by_state["fail"])))  # fmt: skip


def _of(found: Verdict, name: str) -> Callable[[], Any]:
    """A part of a finding, made when somebody looks."""
    return lambda: getattr(found, name)


def _nearest(failing: Sequence[Tried]) -> Tried:
    """The failing rule that is least far from holding. One for outdoors only counts where it is known to run there."""
    indoors = [t for t in failing if not any(c.state != "pass" and c.open == WHERE_IT_RUNS for c in t.conditions)]
    return min(indoors or failing, key=lambda t: t.distance)


def _assumed(tried: Sequence[Tried]) -> tuple[str, ...]:
    """What the rules that decide rest on."""
    return unique(a for t in tried for c in t.conditions for a in c.assumed)


def _indoors(name: str, where: str, failing: Sequence[Tried], names: dict[str, str], outside: str) -> str:
    """Where only an outdoor run could still carry the conductors: what fails indoors and by how much comes first."""
    nearest = sorted(failing, key=lambda t: t.distance)
    each = [f"the {names[t.verdict.rule]} fails ({t.reason.removeprefix(': ')})" for t in nearest]
    return (
        f"Indoors no rule carries {name} {where}: {listed(each)}. Only outdoors could the {outside} carry it; where it runs "
        f"is not known yet."
    )


def tap_summary(facts: TapFacts, tried: Sequence[Tried], transformer: TransformerTapFacts | None = None) -> Verdict:
    """The answer for a feeder tap (TAP-0). ``transformer``: where the tap supplies one."""

    def remedies() -> list[Remedy]:
        through = () if transformer is None else transformer_tap_remedies(transformer)
        return [*through, *tap_remedies(facts)]

    ahead = rated(facts.ahead.name, facts.rating)
    return summary("TAP-0", facts, tried, RULE_NAMES, remedies, f"a tap of {ahead}", f"behind {ahead}")
