"""Transformer secondary conductors before their first overcurrent device, 240.21(C). Rounding up never applies here."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from oneline import tables
from oneline.rules.common import (
    Condition,
    Fact,
    Subject,
    amperes,
    at_least,
    compared,
    computed,
    judged,
    section,
    unique,
    verdict,
    weakest,
    worst,
)
from oneline.rules.outside_taps import outdoor_condition, place_conditions
from oneline.rules.tap_choice import Remedy, remedies_for, summary, transformer_tap_remedies
from oneline.rules.tap_conditions import (
    TapFacts,
    Tried,
    damage_condition,
    end_rating_condition,
    fraction_condition,
    leaving_condition,
    length_condition,
    load_condition,
    raceway_condition,
    single_device_condition,
    stays_condition,
    times,
)
from oneline.rules.tap_words import common_lines, fraction_line, passes_by, reason_of, rule_sentence
from oneline.rules.taps import TransformerTapFacts, tap_xf
from oneline.rules.verdict import Verdict, WorkLine

RULE_NAMES = {
    "TAP-SEC-C1": "rule for secondaries protected by the primary device",
    "TAP-SEC-C2": "10-ft secondary rule",
    "TAP-SEC-C3": "industrial 25-ft secondary rule",
    "TAP-SEC-C4": "outside secondary rule",
    "TAP-SEC-C5": "rule for transformers fed by a tap",
    "TAP-SEC-C6": "25-ft secondary rule",
}


@dataclass(frozen=True)
class SecondaryFacts:
    """Secondary conductors and their transformer.

    ``tap``: the conductors; its ``ahead``/``rating`` are the primary device, its ``ratio`` the voltage ratio primary to
    secondary. ``connection`` and ``secondary_wires``/``secondary_phases``: of the transformer, ``None`` unknown.
    ``primary_complies``: state of the transformer's own protection with the primary device alone, 450.3(B);
    ``primary_needs``: what is not known about it.
    ``by_tap``: what the transformer tap rule asks, where the transformer is fed by a tap.
    """

    tap: TapFacts
    transformer: Subject
    connection: str | None = None
    secondary_phases: int | None = None
    secondary_wires: int | None = None
    primary_complies: str = "unknown"
    primary_needs: tuple[str, ...] = ()
    by_tap: TransformerTapFacts | None = None


def _finish(rule: str, facts: SecondaryFacts, conditions: Sequence[Condition], lines: tuple[WorkLine, ...]) -> Tried:
    tap = facts.tap

    def reason() -> str:
        return reason_of(conditions, passes_by(tap, conditions, end=rule != "TAP-SEC-C1"))

    found = judged(
        rule, tap.run.subject, tap.run.edition, conditions, work=lambda: (*common_lines(tap), *lines), alternative=True,
        message=lambda: rule_sentence(tap.name, RULE_NAMES[rule], worst(c.state for c in conditions), reason()),
        field_checks=tap.found.field_checks,
        others=unique((facts.transformer.id, tap.ahead.id, *(e.item.id for e in tap.ends))),
    )  # fmt: skip
    return Tried(found, tuple(conditions), reason)


def _gone(rule: str, facts: SecondaryFacts, message: str) -> Tried:
    tap = facts.tap
    found = verdict(rule, tap.run.subject, tap.run.edition, "not_applicable", message, alternative=True)
    return Tried(found)


@lru_cache(maxsize=4096)
def secondary_by_primary(facts: SecondaryFacts) -> Tried:
    """Protected by the primary device, 240.21(C)(1): two-wire single-phase, or delta-delta with three wires."""
    rule, tap, name = "TAP-SEC-C1", facts.tap, facts.transformer.name
    two_wire = facts.secondary_phases == 1 and facts.secondary_wires == 2
    delta = facts.connection == "delta-delta" and facts.secondary_wires == 3
    unknown = facts.secondary_wires is None or (facts.secondary_phases == 3 and facts.connection is None)
    if not (two_wire or delta):
        if unknown:
            what = "secondary system" if facts.secondary_wires is None else "connection"
            missing = Condition(
                "unknown", f"the {what} of {name} is not known yet", needs=(f"{what} of {name}",),
                must="come from a two-wire or delta-delta transformer", open=(f"the {what} of {name}",),
            )  # fmt: skip
            return _finish(rule, facts, [missing], ())
        message = (
            f"The primary device does not protect {tap.name}: it would on two-wire single-phase and delta-delta three-wire "
            f"transformers, and {name} is neither."
        )
        return _gone(rule, facts, message)
    return _finish(rule, facts, [_through(facts), _own_protection(facts)], _through_lines(tap))


def _through(facts: SecondaryFacts) -> Condition:
    """The conductors against the primary device, through the transformer."""
    tap = facts.tap
    needed = times(tap.rating, tap.ratio, "primary device through the transformer")
    words = compared(tap.iz, needed)
    what = f"{tap.ahead.name} through the transformer"
    number = amperes(needed.value, tap.iz.value) if needed.value is not None else ""
    text = f"it is good for {amperes(tap.iz.value)}, with {what} of {number or 'a rating not known yet'}"
    if words is not None:
        text = f"it is good for {words.value}, {words.gap} the {words.limit} of {what}"
    unknown = tuple(t for t, f in (("its ampacity", tap.iz), (f"the rating of {what}", needed)) if f.value is None)
    must = f"be good for the {number} of {what}" if number else f"be good for {what}"
    return at_least(tap.iz, needed, text, must=must, open=unknown)


def _own_protection(facts: SecondaryFacts) -> Condition:
    """The primary device protects the transformer by itself."""
    name, ahead = facts.transformer.name, facts.tap.ahead.name
    text = {
        "pass": f"{ahead} protects {name}",
        "fail": f"{ahead} is too large for {name} with primary protection alone",
    }.get(facts.primary_complies, f"whether {ahead} protects {name} is not known yet")
    unknown = facts.primary_complies == "unknown"
    return Condition(
        facts.primary_complies, text, needs=facts.primary_needs,
        cure=f"fit a smaller device ahead of {name}" if facts.primary_complies == "fail" else "",
        must=f"have a smaller device ahead of {name}" if not unknown else f"have a device ahead of {name} that protects it",
        open=(f"whether {ahead} does",),
    )  # fmt: skip


def _through_lines(tap: TapFacts) -> tuple[WorkLine, ...]:
    if tap.rating.value is None or tap.ratio.value is None:
        return ()
    return (
        computed("Primary device on the secondary side", "rating_a * voltage_ratio", rating_a=tap.rating.value,
                 voltage_ratio=tap.ratio.value),
    )  # fmt: skip


@lru_cache(maxsize=4096)
def secondary_10(facts: SecondaryFacts) -> Tried:
    """Not over 10 ft, 240.21(C)(2)."""
    if facts.by_tap is not None:
        return _fed_by_tap("TAP-SEC-C2", facts)
    return _secondary_10(facts, facts.tap)


def _secondary_10(facts: SecondaryFacts, tap: TapFacts) -> Tried:
    rule = "TAP-SEC-C2"
    conditions = [
        length_condition(tap, tables.limit_value("secondary_10ft_length_ft")),
        load_condition(tap),
        end_rating_condition(tap),
        stays_condition(tap),
        raceway_condition(tap),
        leaving_condition(tap, "secondary_10ft_fraction"),
    ]
    return _finish(rule, replace(facts, tap=tap), conditions, fraction_line(tap, "secondary_10ft_fraction", rule))


@lru_cache(maxsize=4096)
def secondary_industrial(facts: SecondaryFacts) -> Tried:
    """Industrial installations with qualified supervision, 240.21(C)(3): not for commercial work, with the reason."""
    return _gone(
        "TAP-SEC-C3", facts,
        f"The industrial secondary rule is not used for {facts.tap.name}: it is for industrial plants with qualified "
        f"supervision.",
    )  # fmt: skip


@lru_cache(maxsize=4096)
def secondary_outside(facts: SecondaryFacts) -> Tried:
    """Outside, unlimited length, 240.21(C)(4)."""
    rule, tap = "TAP-SEC-C4", facts.tap
    if tap.outdoors is False:
        return _gone(rule, facts, f"The outside secondary rule does not apply: {tap.name} runs indoors.")
    conditions = [outdoor_condition(tap), single_device_condition(tap), damage_condition(tap), *place_conditions(tap)]
    return _finish(rule, facts, conditions, ())


@lru_cache(maxsize=4096)
def secondary_of_tap(facts: SecondaryFacts) -> Tried:
    """Transformer fed by a tap, 240.21(C)(5): the transformer tap rule decides for both sides."""
    rule = "TAP-SEC-C5"
    if facts.by_tap is None:
        message = (
            f"The {RULE_NAMES[rule]} does not apply to {facts.tap.name}: {facts.transformer.name} is not fed by one."
        )
        return _gone(rule, facts, message)
    tried = tap_xf(facts.by_tap)
    found = tried.verdict
    same = verdict(
        rule, facts.tap.run.subject, facts.tap.run.edition, found.state, found.message, value=found.value,
        limit=found.limit, unit=found.unit, relation=found.relation, basis=found.basis, needs=found.needs,
        remedy=found.remedy, work=found.work, others=found.others, field_checks=found.field_checks, alternative=True,
    )  # fmt: skip
    return Tried(same, tried.conditions, tried.reason)


@lru_cache(maxsize=4096)
def secondary_25(facts: SecondaryFacts) -> Tried:
    """Not over 25 ft, any occupancy, 240.21(C)(6)."""
    if facts.by_tap is not None:
        return _fed_by_tap("TAP-SEC-C6", facts)
    return _secondary_25(facts, facts.tap)


def _secondary_25(facts: SecondaryFacts, tap: TapFacts) -> Tried:
    rule = "TAP-SEC-C6"
    conditions = [
        length_condition(tap, tables.limit_value("secondary_25ft_length_ft")),
        fraction_condition(tap, "secondary_25ft_fraction"),
        single_device_condition(tap),
        damage_condition(tap),
    ]
    return _finish(rule, replace(facts, tap=tap), conditions, fraction_line(tap, "secondary_25ft_fraction", rule))


def _fed_by_tap(rule: str, facts: SecondaryFacts) -> Tried:
    message = f"{facts.transformer.name} is fed by a tap, so the transformer tap rule decides for {facts.tap.name}."
    return _gone(rule, facts, message)


def secondary_rules(facts: SecondaryFacts) -> tuple[Tried, ...]:
    """All six rules tried, those that usually carry secondary conductors first."""
    return (
        secondary_10(facts),
        secondary_25(facts),
        secondary_of_tap(facts),
        secondary_by_primary(facts),
        secondary_outside(facts),
        secondary_industrial(facts),
    )


@lru_cache(maxsize=1024)
def secondary_remedies(facts: SecondaryFacts) -> tuple[Remedy, ...]:
    """Changes after which the 10-ft or the 25-ft secondary rule holds; each was tried."""
    if facts.by_tap is not None:
        return tuple(replace(r, rule="TAP-SEC-C5") for r in transformer_tap_remedies(facts.by_tap))
    return (
        *remedies_for(
            facts.tap, lambda tap: _secondary_10(facts, tap), "TAP-SEC-C2", RULE_NAMES["TAP-SEC-C2"],
            tables.limit_value("secondary_10ft_length_ft"),
        ),
        *remedies_for(
            facts.tap, lambda tap: _secondary_25(facts, tap), "TAP-SEC-C6", RULE_NAMES["TAP-SEC-C6"],
            tables.limit_value("secondary_25ft_length_ft"),
        ),
    )  # fmt: skip


def secondary_summary(facts: SecondaryFacts, tried: Sequence[Tried]) -> Verdict:
    """The answer for secondary conductors (TAP-SEC)."""
    of = facts.transformer.name
    return summary(
        "TAP-SEC", facts.tap, tried, RULE_NAMES, lambda: list(secondary_remedies(facts)),
        f"the unprotected secondary of {of}", f"from the secondary of {of}",
    )  # fmt: skip


def either_way(facts: SecondaryFacts, primary: Subject, needs: tuple[str, ...]) -> tuple[Verdict, tuple[Tried, ...]]:
    """Secondary conductors of a transformer of which it is not known whether a tap feeds it: the answer, the rules tried.

    ``facts.by_tap``: as if ``primary``, the conductors that feed the transformer, were a tap; ``needs``: what decides
    that. What holds, or fails, either way is said; otherwise the answer is open.
    """
    alone = replace(facts, by_tap=None)
    tried, through = secondary_rules(alone), secondary_of_tap(facts)
    own, tapped = secondary_summary(alone, tried), secondary_summary(facts, secondary_rules(facts))
    states = {own.state, tapped.state}
    rules = tuple(t if t.verdict.rule != through.verdict.rule else _if_tap(through, primary, needs) for t in tried)
    if len(states) == 1 and states != {"unknown"}:
        both = replace(own, basis=weakest(own.basis, tapped.basis), others=unique((*own.others, *tapped.others)))
        return both, rules
    name = facts.tap.name
    words = {"pass": "one does", "fail": "none does", "judge": "the authority decides", "unknown": "it is open"}
    message = (
        f"Whether a rule carries {name} is not known yet: {words[own.state]} where {primary.name} is no tap, and "
        f"{words[tapped.state]} where it is one."
    )
    asked = unique(
        n for t, v in zip((needs, own.needs, tapped.needs), ("", own.state, tapped.state), strict=True)
        if v in ("", "unknown") for n in t
    )  # fmt: skip
    worse = own if own.state == "fail" else tapped
    found = replace(
        own, state="unknown", message=message, needs=asked, remedy=worse.remedy, section=section("TAP-SEC", own.edition),
        basis=weakest(own.basis, tapped.basis), others=unique((*own.others, *tapped.others, primary.id)),
    )  # fmt: skip
    return found, rules


def _if_tap(through: Tried, primary: Subject, needs: tuple[str, ...]) -> Tried:
    """The rule for transformers fed by a tap while it is not known whether one feeds it: never a failure by itself."""
    found = through.verdict
    state = "unknown" if found.state in ("fail", "pass", "judge") else found.state
    open_ = "" if found.state == "unknown" else f"Whether {primary.name} is a tap is not known yet. "
    message = f"{open_}Where {primary.name} is a tap: {found.message}"
    return replace(through, verdict=replace(found, state=state, message=message, needs=unique((*needs, *found.needs))))


def voltage_ratio(primary_v: Fact, secondary_v: Fact, transformer: str) -> Fact:
    """Voltage ratio primary to secondary: primary amperes times it are amperes on the secondary side."""
    if primary_v.value is None or not secondary_v.value:
        sides = (("primary", primary_v.value), ("secondary", secondary_v.value))
        need, *also = [f"{side} system of {transformer}" for side, volts in sides if not volts]
        return Fact(None, need=need, also=tuple(also), name="voltage ratio")
    return Fact(primary_v.value / secondary_v.value, name="voltage ratio")
