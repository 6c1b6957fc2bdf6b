"""Overcurrent protection of transformers of 1000 V and less, 450.3(B)."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

from oneline import tables
from oneline.rules.common import (
    Condition,
    Fact,
    Subject,
    amperes,
    at_most,
    compare_at_least,
    compared,
    computed,
    judged,
    listed,
    looked_up,
    rated,
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


def missing_facts(facts: TransformerFacts) -> tuple[str, ...]:
    """What is not known about a transformer and the device ahead of it."""
    name = facts.subject.name
    asked = (
        (facts.kva is None, f"rating of {name}"),
        (facts.primary_v is None or facts.phases is None, f"primary system of {name}"),
        (facts.primary_item is None, f"overcurrent device ahead of {name}"),
    )
    return unique((*(text for absent, text in asked if absent), *facts.primary.needs))


@lru_cache(maxsize=2048)
def transformer_protection(facts: TransformerFacts) -> Verdict:
    """The transformer's own protection: primary alone, or primary and secondary (rule XFMR-450)."""
    cited = section("TABLE-transformer", facts.edition)
    name = facts.subject.name
    if facts.kva is None or facts.primary_v is None or facts.phases is None or facts.primary_item is None:
        sentence = f"Whether {name} is protected is not known yet."
        unknown = Condition("unknown", sentence, needs=missing_facts(replace(facts, primary=Fact(None))))
        return judged("XFMR-450", facts.subject, facts.edition, [unknown], section=cited)
    rated_line = rated_current(facts.kva, facts.primary_v, facts.phases, "Rated primary current")
    rated_a = float(rated_line.value or 0)
    alone_a, alone_line = largest_device("primary", rated_a, "primary only", facts.edition, facts.primary_kind)
    lines = [rated_line, alone_line, looked_up("Permitted, next standard rating included", alone_a)]
    device = rated(facts.primary_item.name, facts.primary)
    limit = Fact(alone_a, basis=facts.basis)
    alone = at_most(facts.primary, limit, _primary_sentence(facts, device, limit, "primary protection alone"))
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


def _primary_sentence(facts: TransformerFacts, device: str, limit: Fact, how: str) -> str:
    name, words = facts.subject.name, compared(facts.primary, limit, most=True)
    if words is None:
        return f"Whether {device} protects {name} is not known yet: at most {amperes(limit.value)} does with {how}."
    does = "protects" if compare_at_least(limit, facts.primary) == "pass" else "does not protect"
    return f"{device} {does} {name}, {words.gap} the {words.limit} allowed with {how}."


def _both_sides(facts: TransformerFacts, rated_a: float, device: str) -> tuple[list[Condition], list[WorkLine]]:
    assert facts.kva is not None
    assert facts.phases is not None
    name = facts.subject.name
    most_a, line = largest_device("primary", rated_a, "primary and secondary", facts.edition, facts.primary_kind)
    limit = Fact(most_a, basis=facts.basis)
    conditions = [
        at_most(
            facts.primary, limit, _primary_sentence(facts, device, limit, "secondary protection as well"),
            must=f"have a primary device of at most {amperes(most_a)}",
        )
    ]  # fmt: skip
    lines = [line]
    if facts.secondary_v is None:
        need = f"secondary system of {name}"
        text = f"Whether {name} is protected is not known yet: its secondary voltage is missing."
        conditions.append(Condition("unknown", text, needs=(need,)))
        return conditions, lines
    rated_line = rated_current(facts.kva, facts.secondary_v, facts.phases, "Rated secondary current")
    most_sec, sec_line = largest_device(
        "secondary", float(rated_line.value or 0), "primary and secondary", facts.edition
    )  # fmt: skip
    lines += [rated_line, sec_line, looked_up("Permitted, next standard rating included", most_sec)]
    if not facts.secondaries:
        missing = facts.secondary_complete
        text = f"Whether {name} is protected is not known yet: its secondary protection is not on the drawing."
        if missing:
            text = f"{name} has no secondary protection, and {device} is too large to protect it alone."
        needs = () if missing else (f"overcurrent device on the secondary of {name}",)
        must = f"have secondary protection of at most {amperes(most_sec)}"
        conditions.append(Condition("fail" if missing else "unknown", text, needs=needs, must=must, of=name))
        return conditions, lines
    conditions.append(_secondary_condition(facts, Fact(most_sec, basis=facts.basis)))
    return conditions, lines


def _secondary_condition(facts: TransformerFacts, limit: Fact) -> Condition:
    """The devices on the secondary side, taken together."""
    name, ratings = facts.subject.name, [rating for _, rating in facts.secondaries]
    total = None if any(r.value is None for r in ratings) else sum(r.value or 0.0 for r in ratings)
    high = None if any(r.most is None for r in ratings) else sum(r.most or 0.0 for r in ratings)
    need, *also = unique(n for r in ratings for n in r.needs) or ("",)
    names = listed([item.name for item, _ in facts.secondaries])
    fact = Fact(
        total, sum(r.least or 0.0 for r in ratings), high, need=need, name="secondary devices", also=tuple(also)
    )
    words = compared(fact, limit, most=True)
    text = (
        f"Whether {names} on the secondary of {name} is small enough is not known yet: at most {amperes(limit.value)}."
    )
    if words is not None:
        together = "together " if len(ratings) > 1 else ""
        has = f"{name} has {names} ({together}{words.value}) on its secondary"
        text = f"{has}, {words.gap} the {words.limit} that protects it."
    return at_most(fact, limit, text, must=f"have a secondary device of at most {amperes(limit.value)}", of=name)


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
