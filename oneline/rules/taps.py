"""Feeder taps, 240.21(B): recognition, each rule that could apply, and what would make one hold.

Every function is pure: frozen facts in, a verdict out. Ampacities are never rounded up here; 240.4(B) does not apply.
"""

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
    at_most,
    compared,
    feet_inches,
    judged,
    number,
    section,
    size_text,
    unique,
    verdict,
    weakest,
    worst,
)
from oneline.rules.outside_taps import outdoor_condition, place_conditions
from oneline.rules.overcurrent import is_protected
from oneline.rules.tap_conditions import (
    TapFacts,
    Tried,
    damage_condition,
    end_rating_condition,
    fraction_condition,
    leaving_condition,
    length_condition,
    load_condition,
    needed_by_fraction,
    raceway_condition,
    single_device_condition,
    stays_condition,
    times,
)
from oneline.rules.tap_words import common_lines, end_text, fraction_line, of_item, passes_by, reason_of, rule_sentence
from oneline.rules.verdict import Verdict, WorkLine

RULE_NAMES = {
    "TAP-10": "10-ft rule",
    "TAP-25": "25-ft rule",
    "TAP-XF": "transformer tap rule",
    "TAP-HB": "high-bay rule",
    "TAP-OUT": "outside tap rule",
    "TAP-IND": "supervised industrial rule",
}
_ROUTE = "Measure the conductor itself, drops inside both enclosures included."


def recognized(facts: TapFacts) -> str:
    """Whether the conductors are a tap: "pass" they are protected at their ampacity, "fail" they are a tap, "unknown"."""
    return is_protected(facts.iz, facts.rating, facts.run.edition, facts.ahead_kind)


def _finish(rule: str, facts: TapFacts, conditions: Sequence[Condition], limit_id: str = "") -> Tried:
    def lines() -> tuple[WorkLine, ...]:
        return common_lines(facts) + (fraction_line(facts, limit_id, rule) if limit_id else ())

    def reason() -> str:
        return reason_of(conditions, passes_by(facts, conditions))

    def message() -> str:
        return rule_sentence(facts.name, RULE_NAMES[rule], worst(c.state for c in conditions), reason())

    found = judged(
        rule, facts.run.subject, facts.run.edition, conditions, work=lines, alternative=True, others=_others(facts),
        message=message, field_checks=unique((_ROUTE, *facts.found.field_checks)),
    )  # fmt: skip
    return Tried(found, tuple(conditions), reason)


def _gone(rule: str, run: Subject, edition: int, message: str) -> Tried:
    return Tried(verdict(rule, run, edition, "not_applicable", message, alternative=True))


def _others(facts: TapFacts) -> tuple[str, ...]:
    return unique((facts.ahead.id, *(e.item.id for e in facts.ends)))


# --------------------------------------------------------------------------------------------------- the rules
@lru_cache(maxsize=4096)
def tap_10(facts: TapFacts) -> Tried:
    """The 10-ft rule, 240.21(B)(1)."""
    if facts.feeds_transformer:
        return _for_transformers("TAP-10", facts)
    conditions = [
        length_condition(facts, tables.limit_value("tap_10ft_length_ft")),
        load_condition(facts),
        end_rating_condition(facts),
        stays_condition(facts),
        raceway_condition(facts),
        leaving_condition(facts, "tap_10ft_fraction"),
    ]
    return _finish("TAP-10", facts, conditions, "tap_10ft_fraction")


@lru_cache(maxsize=4096)
def tap_25(facts: TapFacts) -> Tried:
    """The 25-ft rule, 240.21(B)(2). A smaller device at the end does not relax the third."""
    if facts.feeds_transformer:
        return _for_transformers("TAP-25", facts)
    conditions = [
        length_condition(facts, tables.limit_value("tap_25ft_length_ft")),
        fraction_condition(facts, "tap_25ft_fraction"),
        single_device_condition(facts),
        damage_condition(facts),
    ]
    return _finish("TAP-25", facts, conditions, "tap_25ft_fraction")


def _for_transformers(rule: str, facts: TapFacts) -> Tried:
    """Taps that reach a transformer without an overcurrent device have a rule of their own."""
    message = (
        f"{facts.name} reaches a transformer without an overcurrent device at its end, so the {RULE_NAMES['TAP-XF']} "
        f"decides and not the {RULE_NAMES[rule]}."
    )
    return _gone(rule, facts.run.subject, facts.run.edition, message)


@dataclass(frozen=True)
class TransformerTapFacts:
    """A tap that supplies a transformer, and the transformer's secondary conductors.

    ``primary`` and ``secondary``: the two conductors; ``secondary.ratio`` is the voltage ratio primary to secondary.
    """

    primary: TapFacts
    secondary: TapFacts | None
    transformer: Subject


@lru_cache(maxsize=4096)
def tap_xf(facts: TransformerTapFacts) -> Tried:
    """Tap that supplies a transformer, primary plus secondary, 240.21(B)(3)."""
    primary, secondary = facts.primary, facts.secondary
    rule, edition = RULE_NAMES["TAP-XF"], primary.run.edition
    if secondary is None:
        need = f"secondary conductors of {facts.transformer.name}"
        what = f"the secondary conductors of {facts.transformer.name}"
        text = f"Whether {primary.name} meets the {rule} is not known yet: {what} are not on the drawing."
        missing = Condition("unknown", text, needs=(need,))
        found = judged("TAP-XF", primary.run.subject, edition, [missing], alternative=True, work=common_lines(primary))
        return Tried(found, (missing,), f" only together with {what}, not on the drawing yet")
    conditions = _both_sides(primary, secondary)

    def lines() -> tuple[WorkLine, ...]:
        return (
            *common_lines(primary), *fraction_line(primary, "tap_transformer_fraction", "TAP-XF"),
            *secondary.found.lines, *fraction_line(secondary, "tap_transformer_fraction", "TAP-XF"),
        )  # fmt: skip

    def reason() -> str:
        together = feet_inches((primary.length.value or 0.0) + (secondary.length.value or 0.0))
        passes = (
            f"{together} together with {secondary.name}, good for {amperes(primary.iz.value)} and "
            f"{amperes(secondary.iz.value)}, {end_text(secondary)}"
        )
        return reason_of(conditions, passes)

    found = judged(
        "TAP-XF", primary.run.subject, edition, conditions, work=lines, alternative=True,
        message=lambda: rule_sentence(primary.name, rule, worst(c.state for c in conditions), reason()),
        others=unique((facts.transformer.id, secondary.run.subject.id, *_others(primary), *_others(secondary))),
        field_checks=unique((_ROUTE, *primary.found.field_checks, *secondary.found.field_checks)),
    )  # fmt: skip
    return Tried(found, tuple(conditions), reason)


def _both_sides(primary: TapFacts, secondary: TapFacts) -> list[Condition]:
    """The conditions of a transformer tap; what is about the secondary conductors names them."""
    limit_ft = tables.limit_value("tap_transformer_length_ft")
    total = _sum(primary.length, secondary.length, "length of primary plus secondary conductors")
    words, most = compared(total, Fact(limit_ft), "over", "inside", "ft", most=True), feet_inches(limit_ft)
    text = f"it may be up to {most} long together with {secondary.name}; that length is not known yet"
    if words is not None:
        text = (
            f"it is {feet_inches(primary.length.least)} long and {secondary.name} {feet_inches(secondary.length.least)}, "
            f"together {feet_inches(total.least, 'up')}, {words.gap} the {most} allowed"
        )
    must = f"be {most} or shorter together with {secondary.name}"
    sides = (
        fraction_condition(secondary, "tap_transformer_fraction"),
        damage_condition(secondary),
        single_device_condition(secondary),
    )
    own = (fraction_condition(primary, "tap_transformer_fraction"), damage_condition(primary))
    third, damage, single = (of_item(c, secondary.name) for c in sides)
    length = at_most(total, Fact(limit_ft), text, "ft", must=must, open=("that length",))
    return [length, own[0], third, own[1], damage, single]


def _sum(a: Fact, b: Fact, name: str) -> Fact:
    value = None if a.value is None or b.value is None else a.value + b.value
    low = (a.least or 0.0) + (b.least or 0.0)
    need, *also = unique((*a.needs, *b.needs)) or ("",)
    return Fact(value, low, None, weakest(a.basis, b.basis), need, name, (*a.assumptions, *b.assumptions), tuple(also))


@lru_cache(maxsize=4096)
def tap_hb(facts: TapFacts) -> Tried:
    """Taps over 25 ft in high-bay manufacturing buildings, 240.21(B)(4): not for commercial work, with the reason."""
    wall_ft = number(tables.limit_value("tap_high_bay_wall_ft"))
    message = (
        f"The {RULE_NAMES['TAP-HB']} is not used for {facts.name}: it is for manufacturing buildings with walls over "
        f"{wall_ft} ft and supervised maintenance."
    )
    return _gone("TAP-HB", facts.run.subject, facts.run.edition, message)


@lru_cache(maxsize=4096)
def tap_ind(facts: TapFacts) -> Tried:
    """Supervised industrial installations, 240.92: mentioned and never used here, with the reason."""
    kva = number(tables.limit_value("industrial_load_kva"))
    message = (
        f"The {RULE_NAMES['TAP-IND']} is not used for {facts.name}: it is for supervised manufacturing with a load of {kva} "
        f"kVA or more, never for a commercial building."
    )
    return _gone("TAP-IND", facts.run.subject, facts.run.edition, message)


@lru_cache(maxsize=4096)
def tap_out(facts: TapFacts) -> Tried:
    """Outside taps of unlimited length, 240.21(B)(5). No tenth and no third."""
    conditions = [
        outdoor_condition(facts), single_device_condition(facts), damage_condition(facts), *place_conditions(facts),
    ]  # fmt: skip
    if facts.outdoors is False:
        message = f"The {RULE_NAMES['TAP-OUT']} does not apply: {facts.name} runs indoors."
        return _gone("TAP-OUT", facts.run.subject, facts.run.edition, message)
    return _finish("TAP-OUT", facts, conditions)


# --------------------------------------------------------------------------------------------------- remarks
def effective_rating(rating: Fact, output_a: Fact, source_devices_a: Fact, names: str) -> tuple[Fact, str]:
    """Rating that tap fractions are taken of where other sources feed the same conductor or bus (TAP-PV).

    The larger of both definitions: device plus 1.25 times the sources' output current (2017, 2020), and device plus the
    sources' overcurrent devices (2023). Amperes at the tapped conductor's voltage. Returns it and the reason.
    """
    factor = tables.limit_value("tap_source_factor")
    by_output = _sum(rating, times(output_a, Fact(factor)), "effective rating")
    by_device = _sum(rating, source_devices_a, "effective rating")
    known = [x for x in (by_output, by_device) if x.value is not None]
    low = max(by_output.least or 0.0, by_device.least or 0.0)
    if len(known) == 2:
        larger = max(known, key=lambda x: x.value or 0.0)
        what = f"{number(factor, 2)} times the output" if larger is by_output else "the devices"
        return larger, f"{amperes(rating.value)} plus {what} of {names}"
    need, *also = unique((*by_output.needs, *by_device.needs)) or ("",)
    fact = Fact(None, low, None, weakest(by_output.basis, by_device.basis), need, "effective rating", (), tuple(also))
    return fact, f"with what {names} can add"


def fuses_in_larger_switch(facts: TapFacts) -> Verdict | None:
    """Question for the authority where the 10-ft rule rests on the fuses and the switch around them is rated higher."""
    if len(facts.devices) != 1 or facts.scheduled:
        return None
    end = facts.devices[0]
    holder, iz = end.holder.value, facts.iz.value
    if end.device_kind != "fuse" or holder is None or iz is None or iz >= holder:
        return None
    message = (
        f"{facts.name} is good for {amperes(iz)} and ends in {end.item.name}, a {amperes(holder)} switch with "
        f"{amperes(end.rating.value)} fuses. Ask whether the authority takes the fuses as the rating under the 10-ft rule."
    )
    return verdict(
        "TAP-10", facts.run.subject, facts.run.edition, "judge", message, value=iz, limit=holder, unit="A",
        relation="at least", others=(end.item.id,),
        remedy=f"Use conductors good for {amperes(holder)}, or the 25-ft rule, which asks for the fuses only.",
    )  # fmt: skip


@lru_cache(maxsize=1024)
def bus_provision(tap: Subject, bus: Subject, provision: bool | None, edition: int, size: str | None = None) -> Verdict:
    """Where a tap lands on a bus: the maker's provision, lugs and torque (TAP-BUS). Never a plain pass.

    ``size``: of the tap conductors, from which the least bending space follows.
    """
    bending_in = tables.bending_space_in(size) if size else None
    least = (
        f", at least {number(bending_in)} in for one {size_text(size)} conductor on each" if size and bending_in else ""
    )
    checks = (
        f"{bus.name}: maker's tap kit or spare lug pads for this conductor, Cu/Al marking, wire range, torque value.",
        f"{bus.name}: bending space at the lugs{least}.",
    )
    if provision:
        message = (
            f"{tap.name} lands on {bus.name}, which has the maker's provision for a tap. Use the kit named for it."
        )
        return verdict("TAP-BUS", tap, edition, "judge", message, others=(bus.id,), field_checks=checks)
    if provision is None:
        message = f"Whether {bus.name} has the maker's provision for {tap.name} is not known yet."
        need = f"maker's provision for taps on {bus.name}"
        return verdict(
            "TAP-BUS", tap, edition, "unknown", message, others=(bus.id,), field_checks=checks, needs=(need,)
        )  # fmt: skip
    message = (
        f"{tap.name} lands on {bus.name}, which has no maker's provision for taps. Drilled or clamped, it is outside the "
        f"listing unless a field evaluation covers it."
    )
    return verdict(
        "TAP-BUS", tap, edition, "judge", message, others=(bus.id,), field_checks=checks,
        remedy="Use the maker's tap kit or a breaker in the board, or get a field evaluation.",
    )  # fmt: skip


@lru_cache(maxsize=1024)
def barrier(panel: Subject, tap: Subject, fitted: bool | None, edition: int) -> Verdict:
    """Barrier over the line terminals of a panel fed by a tap (BAR-1, new in 2023)."""
    live = f"They stay live from {tap.name} when its main is off."
    if not tables.applies("line_side_barrier", edition):
        message = f"The {edition} edition asks for no barrier over the line lugs of {panel.name}. {live}"
        return verdict("BAR-1", panel, edition, "not_applicable", message, others=(tap.id,))
    if fitted:
        message = f"{panel.name} has the barrier over its line lugs. {live}"
        return verdict("BAR-1", panel, edition, "pass", message, others=(tap.id,))
    remedy = "Fit the maker's line-side barrier."
    if fitted is None:
        need = f"barrier over the line lugs of {panel.name}"
        message = f"Whether {panel.name} has a barrier over its line lugs is not known yet. {live}"
        return verdict("BAR-1", panel, edition, "unknown", message, needs=(need,), remedy=remedy, others=(tap.id,))
    message = f"{panel.name} has no barrier over its line lugs. {live}"
    return verdict("BAR-1", panel, edition, "fail", message, remedy=remedy, others=(tap.id,))


@lru_cache(maxsize=1024)
def tap_of_tap(
    run: Subject, parent: Subject, iz: Fact, parent_iz: Fact, edition: int, secondary: bool = False
) -> Verdict:  # fmt: skip
    """A smaller conductor spliced from a tap before its overcurrent device (TAP-0). ``secondary``: the conductors
    ahead are those of a transformer's secondary."""
    rule, of = ("Secondary conductors may not be tapped", "the secondary conductors") if secondary else (
        "A tap may not be tapped", "the tap"
    )  # fmt: skip
    # The same assumption about the terminals stands in both.
    iz, parent_iz = replace(iz, up_to=None), replace(parent_iz, up_to=None)
    words = compared(iz, parent_iz)
    text = f"Whether {run.name} is as large as {of} {parent.name} that it continues is not known yet."
    if words is not None:
        text = (
            f"{rule}: {run.name}, good for {words.value}, {words.gap} the {words.limit} of {parent.name}, is spliced from it "
            f"with no overcurrent device between them."
        )
    kept = at_least(iz, parent_iz, text)
    if kept.state == "pass":
        same = f"{run.name} continues {of} {parent.name} at no smaller ampacity, so its length is counted there."
        return verdict("TAP-0", run, edition, "not_applicable", same, others=(parent.id,))
    device_a = None if iz.most is None else tables.previous_standard(iz.most, edition, "breaker")
    remedy = (
        f"Put a device of at most {amperes(device_a)} where it starts, or use conductors as large." if device_a else ""
    )
    return judged("TAP-0", run, edition, [kept], remedy=remedy if kept.state == "fail" else "", others=(parent.id,))


__all__ = [
    "RULE_NAMES", "TapFacts", "TransformerTapFacts", "Tried", "barrier", "bus_provision", "effective_rating",
    "fuses_in_larger_switch", "needed_by_fraction", "recognized", "section", "tap_10", "tap_25", "tap_hb", "tap_ind",
    "tap_of_tap", "tap_out", "tap_xf",
]  # fmt: skip
