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
    computed,
    feet_inches,
    judged,
    unique,
    verdict,
)
from oneline.rules.tap_choice import Remedy, remedies_for, summary, transformer_tap_remedies
from oneline.rules.tap_conditions import (
    TapFacts,
    Tried,
    common_lines,
    conductors_text,
    damage_condition,
    end_rating_condition,
    fraction_condition,
    fraction_line,
    leaving_condition,
    length_condition,
    load_condition,
    outdoor_condition,
    raceway_condition,
    single_device_condition,
    stays_condition,
    times,
)
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
    ``primary_complies``: state of the transformer's own protection with the primary device alone, 450.3(B).
    ``by_tap``: what the transformer tap rule asks, where the transformer is fed by a tap.
    """

    tap: TapFacts
    transformer: Subject
    connection: str | None = None
    secondary_phases: int | None = None
    secondary_wires: int | None = None
    primary_complies: str = "unknown"
    by_tap: TransformerTapFacts | None = None


def _finish(rule: str, facts: SecondaryFacts, conditions: Sequence[Condition], lines: tuple[WorkLine, ...]) -> Tried:
    tap = facts.tap
    pass_message = (
        f"{tap.name} meets the {RULE_NAMES[rule]}: {feet_inches(tap.length.value)} of {conductors_text(tap)}."
    )
    found = judged(
        rule, tap.run.subject, tap.run.edition, conditions, pass_message=pass_message,
        work=(*common_lines(tap), *lines), alternative=True, field_checks=tap.found.field_checks,
        others=unique((facts.transformer.id, tap.ahead.id, *(e.item.id for e in tap.ends))),
    )  # fmt: skip
    return Tried(found, tuple(conditions))


def _gone(rule: str, facts: SecondaryFacts, message: str) -> Tried:
    tap = facts.tap
    found = verdict(rule, tap.run.subject, tap.run.edition, "not_applicable", message, alternative=True)
    return Tried(found)


@lru_cache(maxsize=4096)
def secondary_by_primary(facts: SecondaryFacts) -> Tried:
    """Protected by the primary device, 240.21(C)(1): two-wire single-phase, or delta-delta with three wires."""
    rule, tap = "TAP-SEC-C1", facts.tap
    two_wire = facts.secondary_phases == 1 and facts.secondary_wires == 2
    delta = facts.connection == "delta-delta" and facts.secondary_wires == 3
    unknown = facts.secondary_wires is None or (facts.secondary_phases == 3 and facts.connection is None)
    if not (two_wire or delta):
        if unknown:
            need = f"connection and systems of {facts.transformer.name}"
            missing = Condition(
                "unknown", f"The connection of {facts.transformer.name} is not known yet.", needs=(need,)
            )
            return _finish(rule, facts, [missing], ())
        message = (
            f"The primary device protects secondary conductors only on two-wire single-phase or delta-delta three-wire "
            f"transformers; {facts.transformer.name} is neither."
        )
        return _gone(rule, facts, message)
    needed = times(tap.rating, tap.ratio, "primary device through the transformer")
    through = at_least(
        tap.iz, needed,
        f"{tap.name} is good for {amperes(tap.iz.value)}; {tap.ahead.name} is {amperes(needed.value)} through the "
        f"transformer.",
    )  # fmt: skip
    own = Condition(
        facts.primary_complies,
        {
            "pass": f"{tap.ahead.name} protects {facts.transformer.name}.",
            "fail": f"{tap.ahead.name} is too large for {facts.transformer.name} with primary protection alone.",
        }.get(facts.primary_complies, f"Whether {tap.ahead.name} protects {facts.transformer.name} is not known yet."),
        needs=(f"kVA and voltages of {facts.transformer.name}",) if facts.primary_complies == "unknown" else (),
        cure=f"fit a smaller device ahead of {facts.transformer.name}" if facts.primary_complies == "fail" else "",
    )
    lines: tuple[WorkLine, ...] = ()
    if tap.rating.value is not None and tap.ratio.value is not None:
        lines = (
            computed("Primary device on the secondary side", "rating_a * voltage_ratio", rating_a=tap.rating.value,
                     voltage_ratio=tap.ratio.value),
        )  # fmt: skip
    return _finish(rule, facts, [through, own], lines)


@lru_cache(maxsize=4096)
def secondary_10(facts: SecondaryFacts) -> Tried:
    """Not over 10 ft, 240.21(C)(2)."""
    if facts.by_tap is not None:
        return _fed_by_tap("TAP-SEC-C2", facts)
    return _secondary_10(facts, facts.tap)


def _secondary_10(facts: SecondaryFacts, tap: TapFacts) -> Tried:
    rule = "TAP-SEC-C2"
    name = RULE_NAMES[rule]
    conditions = [
        length_condition(tap, tables.limit_value("secondary_10ft_length_ft"), name),
        load_condition(tap),
        end_rating_condition(tap),
        stays_condition(tap),
        raceway_condition(tap),
        leaving_condition(tap, "secondary_10ft_fraction", name),
    ]
    return _finish(rule, facts, conditions, fraction_line(tap, "secondary_10ft_fraction", rule))


@lru_cache(maxsize=4096)
def secondary_industrial(facts: SecondaryFacts) -> Tried:
    """Industrial installations with qualified supervision, 240.21(C)(3): not for commercial work, with the reason."""
    return _gone(
        "TAP-SEC-C3", facts,
        f"The industrial secondary rule needs an industrial plant with qualified supervision; it is not used for "
        f"{facts.tap.name}.",
    )  # fmt: skip


@lru_cache(maxsize=4096)
def secondary_outside(facts: SecondaryFacts) -> Tried:
    """Outside, unlimited length, 240.21(C)(4)."""
    rule, tap = "TAP-SEC-C4", facts.tap
    if tap.outdoors is False:
        return _gone(rule, facts, f"{tap.name} runs indoors, so the outside secondary rule does not apply.")
    conditions = [outdoor_condition(tap), single_device_condition(tap), damage_condition(tap)]
    if all(c.state == "pass" for c in conditions):
        text = (
            f"{tap.name} is outdoors; its disconnect must be readily accessible outside, or inside nearest the point of "
            f"entrance: look, and ask the authority."
        )
        conditions.append(Condition("judge", text))
    return _finish(rule, facts, conditions, ())


@lru_cache(maxsize=4096)
def secondary_of_tap(facts: SecondaryFacts) -> Tried:
    """Transformer fed by a tap, 240.21(C)(5): the transformer tap rule decides for both sides."""
    rule = "TAP-SEC-C5"
    if facts.by_tap is None:
        return _gone(rule, facts, f"{facts.transformer.name} is not fed by a tap.")
    tried = tap_xf(facts.by_tap)
    found = tried.verdict
    same = verdict(
        rule, facts.tap.run.subject, facts.tap.run.edition, found.state, found.message, value=found.value,
        limit=found.limit, unit=found.unit, relation=found.relation, basis=found.basis, needs=found.needs,
        remedy=found.remedy, work=found.work, others=found.others, field_checks=found.field_checks, alternative=True,
    )  # fmt: skip
    return Tried(same, tried.conditions)


@lru_cache(maxsize=4096)
def secondary_25(facts: SecondaryFacts) -> Tried:
    """Not over 25 ft, any occupancy, 240.21(C)(6)."""
    if facts.by_tap is not None:
        return _fed_by_tap("TAP-SEC-C6", facts)
    return _secondary_25(facts, facts.tap)


def _secondary_25(facts: SecondaryFacts, tap: TapFacts) -> Tried:
    rule = "TAP-SEC-C6"
    name = RULE_NAMES[rule]
    conditions = [
        length_condition(tap, tables.limit_value("secondary_25ft_length_ft"), name),
        fraction_condition(tap, "secondary_25ft_fraction", name),
        single_device_condition(tap),
        damage_condition(tap),
    ]
    return _finish(rule, facts, conditions, fraction_line(tap, "secondary_25ft_fraction", rule))


def _fed_by_tap(rule: str, facts: SecondaryFacts) -> Tried:
    message = f"{facts.transformer.name} is fed by a tap: the transformer tap rule decides for {facts.tap.name}."
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
    what = f"{facts.tap.name} starts at the secondary of {facts.transformer.name} without an overcurrent device."
    return summary("TAP-SEC", facts.tap, tried, RULE_NAMES, lambda: list(secondary_remedies(facts)), what)


def voltage_ratio(primary_v: Fact, secondary_v: Fact, transformer: str) -> Fact:
    """Voltage ratio primary to secondary: primary amperes times it are amperes on the secondary side."""
    if primary_v.value is None or not secondary_v.value:
        return Fact(None, need=f"primary and secondary voltage of {transformer}", name="voltage ratio")
    return Fact(primary_v.value / secondary_v.value, name="voltage ratio")
