"""Interconnected sources (article 705): buses and feeders fed from both ends."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import ceil, floor

from oneline import tables
from oneline.rules.common import (
    Condition,
    Fact,
    Subject,
    amperes,
    assumed_in,
    at_least,
    at_most,
    bounded_amperes,
    compared,
    computed,
    deciding,
    judged,
    listed,
    looked_up,
    number,
    resting_on,
    scaled,
    section,
    unique,
    verdict,
    weakest,
    worst,
)
from oneline.rules.verdict import Verdict, WorkLine

#: The tests of a bus, in the order in which they are tried.
TEST_NAMES = {
    "PV-1a": "sum of sources and main", "PV-1b": "120 % rule", "PV-1c": "sum of all breakers",
    "PV-1d": "center-fed panel of a dwelling", "PV-1e": "engineered bus",
}  # fmt: skip


# ------------------------------------------------------------------------------------------------- a bus (PV-1)
@dataclass(frozen=True)
class BusFacts:
    """A bus that other sources can feed beside its main supply. Amperes at the bus.

    ``main``: rating of the overcurrent device that protects the bus, called ``main_name``. ``output``: sum of the
    sources' continuous output currents, before the factor. ``breakers``: sum of all load and supply devices on the bus
    without the main. ``opposite_end``: whether every device the sources come in by is at the end away from the main
    supply; ``None`` unknown. ``center_fed``, ``engineered``: likewise. ``sources``: their names.
    """

    subject: Subject
    edition: int
    bus: Fact
    main: Fact
    main_name: str
    output: Fact
    breakers: Fact
    opposite_end: bool | None = None
    center_fed: bool | None = None
    engineered: bool | None = None
    sources: tuple[str, ...] = ()
    source_ids: tuple[str, ...] = ()
    source_devices: tuple[str, ...] = ()
    #: What of the places on the bus is only assumed, and whether the study is, as phrases.
    position_assumed: tuple[str, ...] = ()
    engineered_assumed: tuple[str, ...] = ()


def bus_tests(facts: BusFacts) -> tuple[Verdict, ...]:
    """PV-1: the summary first, then every test tried, each marked as an alternative. One that holds is enough."""
    tried = (
        _full_test(facts), _opposite_end_test(facts), _sum_test(facts), _center_fed_test(facts), _engineered_test(facts),
    )  # fmt: skip
    return (_bus_summary(facts, tried), *(replace(v, alternative=True) for v in tried))


def _counted(facts: BusFacts) -> Fact:
    """Main device and 125 % of the sources' output."""
    factor = tables.limit_value("source_current_factor")
    return add(facts.main, scaled(facts.output, factor), f"{facts.main_name} and sources")


def _bus_lines(facts: BusFacts) -> list[WorkLine]:
    lines = [
        looked_up("Bus rating", facts.bus.value, "A", "label"),
        looked_up(f"Main: {facts.main_name}", facts.main.value, "A"),
        looked_up(f"Output of {listed(facts.sources)}", facts.output.value, "A", "nameplate"),
    ]
    if facts.main.value is not None and facts.output.value is not None:
        lines.append(
            computed(
                "Main and sources", "main + factor * output", "A", section("PV-1a", facts.edition),
                main=facts.main.value, factor=tables.limit_value("source_current_factor"), output=facts.output.value,
            )
        )  # fmt: skip
    return lines


def _full_test(facts: BusFacts) -> Verdict:
    factor, counted = tables.limit_value("source_current_factor"), _counted(facts)
    remedy = ""
    if facts.bus.value is not None and facts.output.value is not None:
        room = tables.previous_standard(facts.bus.value - factor * facts.output.value, facts.edition, "breaker")
        remedy = f"Fit a main of at most {amperes(room)}." if room else ""
    text = _against(_both(facts), counted, facts.bus)
    return _one(facts, "PV-1a", [at_most(counted, facts.bus, text)], _bus_lines(facts), remedy)


def _both(facts: BusFacts) -> str:
    return f"{facts.main_name} and {percent(tables.limit_value('source_current_factor'))} of the sources"


def _against(what: str, value: Fact, limit: Fact, share: str = "", make: str = "make") -> str:
    """ "Main and 125 % of the sources make 256 A, 14 A inside 120 % of the bus, 270 A"."""
    words = compared(value, limit, "over", "inside", most=True)
    if words is None:
        bus = (
            f", {share}the bus is {bounded_amperes(limit)}" if limit.most is not None else "; the bus rating is missing"
        )
        return f"{what} {make} {or_unknown(value)}{bus}"
    of = f"{share}the bus, {words.limit}" if share else f"the {words.limit} of the bus"
    return f"{what} {make} {words.value}, {words.gap} {of}"


def or_unknown(fact: Fact) -> str:
    """A number as far as it is known."""
    return "a current not known yet" if bounded_amperes(fact) == "not known yet" else bounded_amperes(fact)


def _opposite_end_test(facts: BusFacts) -> Verdict:
    factor = tables.limit_value("bus_120_factor")
    counted, limit = _counted(facts), scaled(facts.bus, factor)
    text = _against(_both(facts), counted, limit, f"{percent(factor)} of ")
    lines = _bus_lines(facts)
    if facts.bus.value is not None:
        lines.append(
            computed(f"{percent(factor)} of the bus", "factor * bus", "A", section("PV-1b", facts.edition),
                     factor=factor, bus=facts.bus.value)
        )  # fmt: skip
    conditions = [at_most(counted, limit, text), *_position(facts)]
    label = f"{facts.subject.name}: label at the source's breaker, do not move it."
    return _one(facts, "PV-1b", conditions, lines, _opposite_end_remedy(facts), (label,))


def _position(facts: BusFacts) -> list[Condition]:
    name, devices = facts.subject.name, listed(facts.source_devices) or "the sources' breaker"
    good = f"{devices} is at the opposite end of the bus from {facts.main_name}"
    bad = f"{devices} is not at the opposite end of the bus from {facts.main_name}"
    missing = f"the place of {devices} on its bus is missing"
    found = [_yes(facts.opposite_end, good, bad, missing, f"place of {devices} on the bus of {name}")]
    found[0] = replace(found[0], must=f"have {devices} at the opposite end of the bus")
    if facts.center_fed:
        text = "its bus is fed at the center, so no end is opposite"
        found.append(Condition("fail", text, must="be fed at an end of the bus"))
    elif facts.center_fed is None:
        text = "whether its bus is fed at its end or center is missing"
        found.append(Condition("unknown", text, needs=(f"whether {name} is fed at its end or center",)))
    if facts.position_assumed:
        found[0] = replace(found[0], basis="assumed", assumed=facts.position_assumed)
    return found


def _opposite_end_remedy(facts: BusFacts) -> str:
    parts = []
    if facts.opposite_end is False and not facts.center_fed:
        parts.append(f"Move {listed(facts.source_devices)} to the opposite end of the bus")
    if facts.bus.value is not None and facts.main.value is not None:
        room = tables.limit_value("bus_120_factor") * facts.bus.value - facts.main.value
        room /= tables.limit_value("source_current_factor")
        if room > 0 and (facts.output.least or 0.0) > room:
            most = number(floor(room * 10) / 10)
            parts.append(f"limit the sources to {most} A of output, or reduce the main")
    text = " and ".join(parts)
    return f"{text[:1].upper()}{text[1:]}." if parts else ""


def _lower(text: str) -> str:
    return text[:1].lower() + text[1:]


def _sum_test(facts: BusFacts) -> Verdict:
    breakers = _against("all breakers but the main", facts.breakers, facts.bus)
    main = _against(facts.main_name, facts.main, facts.bus, make="is")
    conditions = [
        at_most(facts.breakers, facts.bus, breakers, must="have breakers of no more than its bus beside the main"),
        at_most(facts.main, facts.bus, main, must="have a main of no more than its bus"),
    ]
    lines = [looked_up("All load and supply breakers", facts.breakers.value, "A"), *_bus_lines(facts)[:2]]
    label = f"{facts.subject.name}: label, all breakers but the main may not exceed the bus."
    return _one(facts, "PV-1c", conditions, lines, _sum_remedy(facts), (label,))


def _sum_remedy(facts: BusFacts) -> str:
    """What the breakers and the main on a bus have to come down by."""
    bus, parts = facts.bus.most, []
    if bus is not None and (facts.breakers.least or 0.0) > bus:
        over = ceil(((facts.breakers.least or 0.0) - bus) * 10) / 10
        parts.append(f"take out breakers that add up to {amperes(over)}")
    if bus is not None and (facts.main.least or 0.0) > bus:
        room = tables.previous_standard(bus, facts.edition, "breaker")
        parts += [f"fit a main of at most {amperes(room)}"] if room else []
    text = " and ".join(parts)
    return f"{text[:1].upper()}{text[1:]}." if parts else ""


def _center_fed_test(facts: BusFacts) -> Verdict:
    message = f"The rule for center-fed panels does not apply to {facts.subject.name}: it is for dwellings only."
    return verdict("PV-1d", facts.subject, facts.edition, "not_applicable", message, others=facts.source_ids)


def _engineered_test(facts: BusFacts) -> Verdict:
    name = facts.subject.name
    return resting_on(_engineered(facts, name), facts.engineered_assumed)


def _engineered(facts: BusFacts, name: str) -> Verdict:
    if facts.engineered:
        check = f"The engineer's study of bus load and fault current of {name}, and its date."
        message = f"{name} was studied under engineering supervision, bus load and fault current."
        return verdict(
            "PV-1e", facts.subject, facts.edition, "pass", message, field_checks=(check,), others=facts.source_ids
        )  # fmt: skip
    message = (
        f"{name} may pass by an engineer's study of its bus load and fault current, which the drawing does not have."
    )
    state = "judge"
    if facts.engineered is False:
        state, message = "fail", f"{name} has no engineer's study of its bus load and fault current."
    return verdict("PV-1e", facts.subject, facts.edition, state, message, others=facts.source_ids)


def _one(
    facts: BusFacts, rule: str, conditions: Sequence[Condition], lines: Sequence[WorkLine], remedy: str,
    checks: tuple[str, ...] = (),
) -> Verdict:  # fmt: skip
    """One test of the bus: its conditions are clauses, said after the test's name."""
    state, name, test = worst(c.state for c in conditions), facts.subject.name, TEST_NAMES[rule]
    how = {
        "pass": f"{name} passes the {test}", "fail": f"{name} fails the {test}",
        "unknown": f"Whether {name} passes the {test} is not known yet",
    }[state]  # fmt: skip
    return judged(
        rule, facts.subject, facts.edition, conditions, message=f"{how}: {deciding(conditions).message}.",
        work=tuple(lines), others=facts.source_ids, remedy=remedy if state == "fail" else "",
        field_checks=checks if state == "pass" else (),
    )  # fmt: skip


def _bus_summary(facts: BusFacts, tried: Sequence[Verdict]) -> Verdict:
    """A test that holds carries the bus; else one that may hold once something is known; else it fails."""
    decided = [v for v in tried if v.rule != "PV-1e" or v.state == "pass"]
    for state in ("pass", "unknown", "fail"):
        found = [v for v in decided if v.state == state]
        if not found:
            continue
        best = found[0] if state == "pass" else min(found, key=_distance)
        name, sources = facts.subject.name, listed(facts.sources)
        message = best.message
        if state == "pass" and best.rule != "PV-1e":
            message = message.replace(f"{name} passes", f"{name} may be fed by {sources} too, by", 1)
        elif state == "fail":
            nearest = message.removeprefix(f"{name} fails ")
            message = f"No bus rule lets {sources} feed {name}. Nearest is {nearest}"
        remedy = best.remedy
        if state == "fail":
            ways = [v.remedy.removesuffix(".") for v in found if v.remedy]
            ways = [ways[0], *(_lower(w) for w in ways[1:])] if ways else []
            remedy = f"{'; or '.join([*ways, 'have an engineer study the bus'])}."
            remedy = remedy[:1].upper() + remedy[1:]
        summary = verdict(
            "PV-1", facts.subject, facts.edition, state, message, section=best.section, value=best.value,
            limit=best.limit, unit=best.unit, relation=best.relation, basis=best.basis, needs=best.needs, remedy=remedy,
            work=best.work, others=facts.source_ids, field_checks=best.field_checks,
        )  # fmt: skip
        # That none holds rests on what makes each of them fail.
        return resting_on(summary, assumed_in(found)) if state == "fail" else summary
    raise AssertionError("the tests of a bus always include the first three")


def _distance(found: Verdict) -> float:
    """How far outside a test is; one without numbers is far."""
    if found.value is None or not found.limit:
        return float(len(found.needs)) + 1e6
    return max(found.value - found.limit, 0.0) / found.limit + len(found.needs)


# --------------------------------------------------------------------------------------------- feeders (PV-2)
@dataclass(frozen=True)
class FeederFacts:
    """A feeder that a source can feed. ``joined``: its load-side part beyond the point where the source joins, which
    carries both supplies. ``device``: overcurrent device of the feeder."""

    subject: Subject
    edition: int
    iz: Fact
    output: Fact
    device: Fact
    device_name: str
    joined: bool = False
    sources: tuple[str, ...] = ()
    source_ids: tuple[str, ...] = ()


def feeder(facts: FeederFacts) -> Verdict:
    """PV-2: the feeder's ampacity against what the sources, or the sources and the feeder's device, can put on it."""
    factor = tables.limit_value("source_current_factor")
    need = scaled(facts.output, factor)
    what = f"{percent(factor)} of the output of {listed(facts.sources)}"
    name = facts.subject.name
    lines = [looked_up(f"Output of {listed(facts.sources)}", facts.output.value, "A", "nameplate")]
    if facts.joined:
        need = add(facts.device, need, what)
        what = f"{facts.device_name} and {what}"
        if facts.device.value is not None and facts.output.value is not None:
            lines.append(
                computed("Both supplies", "device + factor * output", "A", section("PV-2", facts.edition),
                         device=facts.device.value, factor=factor, output=facts.output.value)
            )  # fmt: skip
    elif facts.output.value is not None:
        lines.append(
            computed("Source current as counted", "factor * output", "A", section("PV-2", facts.edition), factor=factor,
                     output=facts.output.value)
        )  # fmt: skip
    words = compared(facts.iz, need)
    known = f": {bounded_amperes(need)}" if need.least else ""
    text = f"Whether {name} can carry {what} is not known yet{known}."
    if words is not None:
        text = f"{name} can carry {words.value}, {words.gap} {what}, {words.limit}."
    condition = at_least(facts.iz, need, text)
    remedy = ""
    if condition.state == "fail":
        remedy = f"Use conductors good for {amperes(need.least)}"
        device_a = None if facts.iz.most is None else tables.previous_standard(facts.iz.most, facts.edition, "breaker")
        if facts.joined and device_a:
            remedy += f", or put an overcurrent device of at most {amperes(device_a)} where they start"
        remedy += "."
    return judged(
        "PV-2", facts.subject, facts.edition, [condition], work=tuple(lines), remedy=remedy, others=facts.source_ids
    )


# -------------------------------------------------------------------------------------------------- arithmetic
def add(one: Fact, other: Fact, name: str) -> Fact:
    """Sum of two numbers with bounds; ``name``: what the sum is."""

    def total(a: float | None, b: float | None) -> float | None:
        return None if a is None or b is None else a + b

    need, *also = unique((*one.needs, *other.needs)) or ("",)
    return Fact(
        total(one.value, other.value), total(one.least, other.least), total(one.most, other.most),
        weakest(one.basis, other.basis), need, name, unique((*one.assumptions, *other.assumptions)), tuple(also),
    )  # fmt: skip


def percent(factor: float) -> str:
    """ "125 %" for 1.25."""
    return f"{100 * factor:g} %"


def _yes(value: bool | None, good: str, bad: str, missing: str, need: str) -> Condition:
    if value is None:
        return Condition("unknown", missing, needs=(need,))
    return Condition("pass", good) if value else Condition("fail", bad)
