"""Overcurrent protection of transformers of 1000 V and less, 450.3(B)."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from oneline import tables
from oneline.rules.common import (
    Condition,
    Fact,
    Subject,
    amperes,
    at_most,
    computed,
    judged,
    listed,
    looked_up,
    section,
    unique,
)
from oneline.rules.verdict import Verdict, WorkLine


@dataclass(frozen=True)
class TransformerFacts:
    """A transformer and its overcurrent devices.

    ``kva``; ``primary_v``/``secondary_v``: line to line; ``phases``: 1 or 3. ``primary``: the device ahead, amperes at
    the primary. ``secondaries``: devices on the secondary side before anything else, each (item, rating).
    ``secondary_complete``: the secondary conductors end in nothing but these devices.
    """

    subject: Subject
    edition: int
    kva: float | None
    phases: int | None
    primary_v: float | None
    secondary_v: float | None
    primary_item: Subject | None
    primary: Fact
    primary_kind: str = "breaker"
    secondaries: tuple[tuple[Subject, Fact], ...] = ()
    secondary_complete: bool = False
    basis: str = "entered"


def rated_current(kva: float, volts: float, phases: int, what: str = "Rated current") -> WorkLine:
    """Rated current of a transformer winding, amperes."""
    if phases == 3:
        return computed(what, "kva * 1000 / (sqrt(3) * volts)", kva=kva, volts=volts)
    return computed(what, "kva * 1000 / volts", kva=kva, volts=volts)


def largest_device(
    side: str, rated_a: float, method: str, edition: int, kind: str = "breaker"
) -> tuple[float, WorkLine]:
    """Largest device of one side and its worksheet line, amperes. ``method``: as ``tables.transformer_protection``."""
    rule = tables.transformer_protection(side, rated_a, method)
    line = computed(
        f"Largest {side} device, {method}", "factor * rated_a", factor=rule.factor, rated_a=rated_a,
        source=section("TABLE-transformer", edition),
    )  # fmt: skip
    exact_a = float(line.value or 0)
    if rule.next_size_up:
        return tables.next_standard(exact_a, edition, kind) or exact_a, line
    return exact_a, line


def primary_alone(facts: TransformerFacts) -> str:
    """Whether the primary device alone protects the transformer: "pass", "fail" or "unknown"."""
    if facts.kva is None or facts.primary_v is None or facts.phases is None:
        return "unknown"
    rated_a = float(rated_current(facts.kva, facts.primary_v, facts.phases).value or 0)
    most, _ = largest_device("primary", rated_a, "primary only", facts.edition, facts.primary_kind)
    return at_most(facts.primary, Fact(most), "").state


@lru_cache(maxsize=2048)
def transformer_protection(facts: TransformerFacts) -> Verdict:
    """The transformer's own protection: primary alone, or primary and secondary (rule XFMR-450)."""
    cited = section("TABLE-transformer", facts.edition)
    name = facts.subject.name
    missing = [
        text
        for absent, text in (
            (facts.kva is None, f"kVA on the nameplate of {name}"),
            (facts.primary_v is None or facts.phases is None, f"primary system of {name}"),
            (facts.primary_item is None, f"overcurrent device ahead of {name}"),
        )
        if absent
    ]
    if missing:
        sentence = f"Whether {name} is protected is not known yet."
        unknown = Condition("unknown", sentence, needs=tuple(missing))
        return judged("XFMR-450", facts.subject, facts.edition, [unknown], section=cited)
    assert facts.kva is not None
    assert facts.primary_v is not None
    assert facts.phases is not None
    assert facts.primary_item is not None
    rated = rated_current(facts.kva, facts.primary_v, facts.phases, "Rated primary current")
    rated_a = float(rated.value or 0)
    alone_a, alone_line = largest_device("primary", rated_a, "primary only", facts.edition, facts.primary_kind)
    lines = [rated, alone_line, looked_up("Permitted, next standard rating included", alone_a)]
    device = f"{facts.primary_item.name} ahead of {name} is {amperes(facts.primary.value)}"
    alone = at_most(
        facts.primary, Fact(alone_a, basis=facts.basis),
        f"{device}; at most {amperes(alone_a)} with primary protection alone.",
    )  # fmt: skip
    others = unique((facts.primary_item.id, *(item.id for item, _ in facts.secondaries)))
    if alone.state == "pass":
        return judged(
            "XFMR-450", facts.subject, facts.edition, [alone], section=cited, work=tuple(lines), others=others
        )  # fmt: skip
    both, both_lines = _both_sides(facts, rated_a, device)
    remedy = ""
    if any(c.state == "fail" for c in both):
        remedy = _remedy(facts, alone_a)
    return judged(
        "XFMR-450", facts.subject, facts.edition, both, section=cited, remedy=remedy, work=(*lines, *both_lines),
        others=others,
    )  # fmt: skip


def _both_sides(facts: TransformerFacts, rated_a: float, device: str) -> tuple[list[Condition], list[WorkLine]]:
    assert facts.kva is not None
    assert facts.phases is not None
    name = facts.subject.name
    most_a, line = largest_device("primary", rated_a, "primary and secondary", facts.edition, facts.primary_kind)
    conditions = [
        at_most(
            facts.primary, Fact(most_a, basis=facts.basis),
            f"{device}; at most {amperes(most_a)} with secondary protection as well.",
        )
    ]  # fmt: skip
    lines = [line]
    if facts.secondary_v is None:
        need = f"secondary system of {name}"
        conditions.append(Condition("unknown", f"The secondary voltage of {name} is not known yet.", needs=(need,)))
        return conditions, lines
    rated = rated_current(facts.kva, facts.secondary_v, facts.phases, "Rated secondary current")
    most_sec, sec_line = largest_device("secondary", float(rated.value or 0), "primary and secondary", facts.edition)
    lines += [rated, sec_line, looked_up("Permitted, next standard rating included", most_sec)]
    if not facts.secondaries:
        state, sentence = ("unknown", f"The secondary protection of {name} is not on the drawing.")
        if facts.secondary_complete:
            state, sentence = ("fail", f"{name} has no secondary protection.")
        needs = (f"overcurrent device on the secondary of {name}",) if state == "unknown" else ()
        conditions.append(Condition(state, sentence, needs=needs))
        return conditions, lines
    ratings = [rating for _, rating in facts.secondaries]
    total = None if any(r.value is None for r in ratings) else sum(r.value or 0.0 for r in ratings)
    high = None if any(r.most is None for r in ratings) else sum(r.most or 0.0 for r in ratings)
    need, *also = unique(n for r in ratings for n in r.needs) or ("",)
    names = listed([item.name for item, _ in facts.secondaries])
    fact = Fact(
        total, sum(r.least or 0.0 for r in ratings), high, need=need, name="secondary devices", also=tuple(also)
    )
    together = " together" if len(ratings) > 1 else ""
    text = f"{names} on the secondary is {amperes(total)}{together}; at most {amperes(most_sec)} protects {name}."
    conditions.append(at_most(fact, Fact(most_sec, basis=facts.basis), text))
    return conditions, lines


def _remedy(facts: TransformerFacts, alone_a: float) -> str:
    assert facts.kva is not None
    assert facts.phases is not None
    standard = tables.previous_standard(alone_a, facts.edition, facts.primary_kind)
    ways = [f"a primary device of at most {amperes(standard)}"] if standard else []
    if facts.secondary_v is not None:
        rated_a = float(rated_current(facts.kva, facts.secondary_v, facts.phases).value or 0)
        most_sec, _ = largest_device("secondary", rated_a, "primary and secondary", facts.edition)
        assert facts.primary_v is not None
        primary_a = float(rated_current(facts.kva, facts.primary_v, facts.phases).value or 0)
        most_pri, _ = largest_device("primary", primary_a, "primary and secondary", facts.edition)
        fitted = tables.previous_standard(most_pri, facts.edition, facts.primary_kind)
        if fitted:
            ways.append(
                f"a secondary device of at most {amperes(most_sec)} with a primary of at most {amperes(fitted)}"
            )
    return f"Use {' or '.join(ways)}." if ways else ""
