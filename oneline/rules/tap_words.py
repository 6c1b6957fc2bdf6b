"""What the rules of taps and secondary conductors say: one sentence each, made of the clauses of their conditions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from oneline import tables
from oneline.rules.common import (
    Condition,
    amperes,
    computed,
    deciding,
    feet_inches,
    listed,
    looked_up,
    rated,
    section,
    unique,
    worst,
)
from oneline.rules.tap_conditions import TapFacts
from oneline.rules.verdict import WorkLine

#: More open conditions than this are counted instead of named; the worksheet names all of them.
_NAMED_AT_MOST = 2


def reason_of(conditions: Sequence[Condition], passes: str) -> str:
    """The part of a rule's sentence after its name: what it holds by, fails by, asks for, or waits for."""
    state = worst(c.state for c in conditions)
    if state == "pass":
        return f": {passes}"
    if state != "unknown":
        return f": {deciding(conditions).message.removeprefix('it is ')}"
    waiting = _most_demanding([c for c in conditions if c.state == "unknown"])
    opened = unique(text for c in waiting for text in c.open)
    # Said with its bounds once is enough.
    opened = tuple(t for t in opened if not any(other.startswith(f"{t} (") for other in opened))
    if len(waiting) > _NAMED_AT_MOST:
        more = len(waiting) - _NAMED_AT_MOST
        first = listed(unique(_clause(c) for c in waiting[:_NAMED_AT_MOST]))
        return f" if {first}, and {more} more condition{'s hold' if more > 1 else ' holds'}; not all of it is known yet"
    own = listed(unique(_third_person(c.must) for c in waiting if not c.of))
    others = unique(_clause(c) for c in waiting if c.of)
    musts = listed([*([f"it {own}"] if own else []), *others])
    return f" if {musts}; {listed(opened)} {'is' if len(opened) == 1 else 'are'} not known yet"


def _clause(condition: Condition) -> str:
    return f"{condition.of or 'it'} {_third_person(condition.must)}"


def _most_demanding(waiting: Sequence[Condition]) -> list[Condition]:
    """The conditions that are open; of several that ask for amperes only the one that asks for most."""
    asking = [c for c in waiting if c.relation == "at least" and c.limit is not None]
    most = [max((c for c in asking if c.of == of), key=lambda c: c.limit or 0.0) for of in {c.of for c in asking}]
    return [c for c in waiting if c not in asking or c in most]


def rule_sentence(name: str, rule: str, state: str, reason: str) -> str:
    """ "Annex tap meets the 25-ft rule: 12 ft 4 in long, …"."""
    verb = {"fail": "does not meet", "judge": "may meet"}.get(state, "meets")
    return f"{name} {verb} the {rule}{reason}."


def _third_person(must: str) -> str:
    """ "be in a raceway" as in "it is in a raceway"."""
    verb, _, rest = must.partition(" ")
    return f"{'is' if verb == 'be' else verb + 's'} {rest}"


def of_item(condition: Condition, name: str) -> Condition:
    """A condition that says the item's name for "it", where a sentence is about several items."""

    message = condition.message
    for it, is_named in (("its ", f"{name}'s "), ("it ", f"{name} ")):
        if message.startswith(it):
            message = is_named + message[len(it) :]
            break
    opened = tuple(f"the {text[4:]} of {name}" if text.startswith("its ") else text for text in condition.open)
    return replace(condition, message=message, open=opened, of=name)


def end_text(facts: TapFacts) -> str:
    """What the conductors end in: "ending in Annex switch (200 A)"."""
    if len(facts.devices) == 1 and not facts.scheduled:
        end = facts.devices[0]
        return f"ending in {rated(end.item.name, end.rating)}"
    if facts.equipment is not None:
        return f"ending in {rated(facts.equipment.name, facts.equipment_rating)}"
    return f"ending in {len(facts.devices)} devices"


def passes_by(facts: TapFacts, conditions: Sequence[Condition], end: bool = True) -> str:
    """By what a rule holds: "12 ft 4 in long, good for 255 A (200 A needed), ending in Annex switch (200 A)"."""
    needed = max((c.limit for c in conditions if c.relation == "at least" and c.limit is not None), default=None)
    good = f"good for {amperes(facts.iz.value)}" if facts.iz.value is not None else ""
    asks = f" ({amperes(needed, facts.iz.value)} needed)" if good and needed is not None else ""
    long = f"{feet_inches(facts.length.value)} long" if facts.length.value is not None else ""
    parts = [long, f"{good}{asks}", end_text(facts) if end else ""]
    return ", ".join(p for p in parts if p) or "every condition holds"


# ------------------------------------------------------------------------------------------------- worksheets
def common_lines(facts: TapFacts) -> tuple[WorkLine, ...]:
    """The worksheet's first lines: the device ahead, the effective rating, the ampacity chain."""
    lines = [looked_up(f"{facts.ahead.name} ahead", facts.rating.value)]
    if facts.effective is not None:
        lines.append(looked_up(f"Counted as: {facts.effective_why}", facts.effective.value))
    return (*lines, *facts.found.lines)


def fraction_line(facts: TapFacts, limit_id: str, rule: str) -> tuple[WorkLine, ...]:
    """Worksheet line of :func:`needed_by_fraction`; none while something is not known."""
    base, ratio = facts.fraction_base.value, facts.ratio.value
    if base is None or ratio is None:
        return ()
    source = section(rule, facts.run.edition)
    fraction = tables.limit_value(limit_id)
    if ratio == 1.0:
        return (computed("Least ampacity", "rating_a * fraction", rating_a=base, fraction=fraction, source=source),)
    return (
        computed(
            "Least ampacity", "rating_a * voltage_ratio * fraction",
            rating_a=base, voltage_ratio=ratio, fraction=fraction, source=source,
        ),
    )  # fmt: skip
