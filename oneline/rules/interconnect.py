"""Interconnected sources (article 705): buses and feeders fed from both ends, and connections ahead of the service."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from oneline import tables
from oneline.rules.common import (
    Condition,
    Fact,
    Subject,
    amperes,
    at_least,
    at_most,
    bounded_amperes,
    computed,
    judged,
    listed,
    looked_up,
    section,
    size_text,
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
    text = f"{_both(facts, counted)}; the bus is {bounded_amperes(facts.bus)}."
    remedy = ""
    if facts.bus.value is not None and facts.output.value is not None:
        room = facts.bus.value - factor * facts.output.value
        remedy = f"A main of at most {amperes(room)}." if room > 0 else ""
    return _one(facts, "PV-1a", [at_most(counted, facts.bus, text)], _bus_lines(facts), remedy)


def _both(facts: BusFacts, counted: Fact) -> str:
    factor = tables.limit_value("source_current_factor")
    return f"Sources at {percent(factor)} and {facts.main_name} make {bounded_amperes(counted)}"


def _opposite_end_test(facts: BusFacts) -> Verdict:
    factor = tables.limit_value("bus_120_factor")
    counted, limit = _counted(facts), scaled(facts.bus, factor)
    text = f"{_both(facts, counted)}; {percent(factor)} of the bus is {bounded_amperes(limit)}."
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
    good = f"{devices} at the opposite end of the bus from {facts.main_name}."
    bad = f"{devices} is not at the opposite end of the bus."
    found = [_yes(facts.opposite_end, good, bad, f"place of {devices} on the bus of {name}")]
    if facts.center_fed:
        found.append(Condition("fail", f"{name} is fed at the center, so no end is opposite."))
    return found


def _opposite_end_remedy(facts: BusFacts) -> str:
    parts = []
    if facts.opposite_end is False and not facts.center_fed:
        parts.append(f"Move {listed(facts.source_devices)} to the opposite end of the bus")
    if facts.bus.value is not None and facts.main.value is not None:
        room = tables.limit_value("bus_120_factor") * facts.bus.value - facts.main.value
        room /= tables.limit_value("source_current_factor")
        if room > 0 and (facts.output.least or 0.0) > room:
            parts.append(f"Limit the sources to {amperes(room)} of output, or reduce the main")
    return f"{'; '.join(parts)}." if parts else ""


def _sum_test(facts: BusFacts) -> Verdict:
    breakers = (
        f"All breakers of {facts.subject.name} but the main add up to {bounded_amperes(facts.breakers)}; the bus is "
        f"{amperes(facts.bus.value)}."
    )
    main = f"{facts.main_name} is {bounded_amperes(facts.main)}; the bus is {bounded_amperes(facts.bus)}."
    conditions = [at_most(facts.breakers, facts.bus, breakers), at_most(facts.main, facts.bus, main)]
    lines = [looked_up("All load and supply breakers", facts.breakers.value, "A"), *_bus_lines(facts)[:2]]
    label = f"{facts.subject.name}: label, all breakers but the main may not exceed the bus."
    return _one(facts, "PV-1c", conditions, lines, "", (label,))


def _center_fed_test(facts: BusFacts) -> Verdict:
    message = f"{facts.subject.name}: the rule for center-fed panels is for dwellings only."
    return verdict("PV-1d", facts.subject, facts.edition, "not_applicable", message, others=facts.source_ids)


def _engineered_test(facts: BusFacts) -> Verdict:
    name = facts.subject.name
    if facts.engineered:
        check = f"The engineer's study of bus load and fault current of {name}, and its date."
        message = f"{name} was studied under engineering supervision."
        return verdict(
            "PV-1e", facts.subject, facts.edition, "pass", message, field_checks=(check,), others=facts.source_ids
        )  # fmt: skip
    message = f"{name} passes this way only with an engineer's study of its bus load and fault current."
    state = "fail" if facts.engineered is False else "judge"
    return verdict("PV-1e", facts.subject, facts.edition, state, message, others=facts.source_ids)


def _one(
    facts: BusFacts, rule: str, conditions: Sequence[Condition], lines: Sequence[WorkLine], remedy: str,
    checks: tuple[str, ...] = (),
) -> Verdict:  # fmt: skip
    state = worst(c.state for c in conditions)
    return judged(
        rule, facts.subject, facts.edition, conditions, work=tuple(lines), others=facts.source_ids,
        remedy=remedy if state == "fail" else "", field_checks=checks if state == "pass" else (),
    )  # fmt: skip


def _bus_summary(facts: BusFacts, tried: Sequence[Verdict]) -> Verdict:
    """A test that holds carries the bus; else one that may hold once something is known; else it fails."""
    lead = f"{facts.subject.name} is fed by {facts.main_name} and can be fed by {listed(facts.sources)}."
    decided = [v for v in tried if v.rule != "PV-1e" or v.state == "pass"]
    for state in ("pass", "unknown", "fail"):
        found = [v for v in decided if v.state == state]
        if not found:
            continue
        best = found[0] if state == "pass" else min(found, key=_distance)
        how = {
            "pass": f"The {TEST_NAMES[best.rule]} holds: {best.message}",
            "unknown": f"The {TEST_NAMES[best.rule]} may hold: {best.message}",
            "fail": f"No test of the bus holds; the {TEST_NAMES[best.rule]} is nearest: {best.message}",
        }[state]
        remedy = best.remedy
        if state == "fail":
            remedy = " ".join(unique([*(v.remedy for v in found), "Or have an engineer study the bus."]))
        return verdict(
            "PV-1", facts.subject, facts.edition, state, f"{lead} {how}", section=best.section, value=best.value,
            limit=best.limit, unit=best.unit, relation=best.relation, basis=best.basis, needs=best.needs, remedy=remedy,
            work=best.work, others=facts.source_ids, field_checks=best.field_checks,
        )  # fmt: skip
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
    text = f"{name} carries {bounded_amperes(facts.iz)}; {what} make {bounded_amperes(need)}."
    condition = at_least(facts.iz, need, text)
    remedy = ""
    if condition.state == "fail":
        remedy = f"Conductors good for {amperes(need.least)}"
        remedy += (
            f", or an overcurrent device of at most {amperes(facts.iz.most)} where they start." if facts.joined else "."
        )
    return judged(
        "PV-2", facts.subject, facts.edition, [condition], work=tuple(lines), remedy=remedy, others=facts.source_ids
    )


# ---------------------------------------------------------------------------------- ahead of the service (PV-4)
@dataclass(frozen=True)
class SupplySideFacts:
    """Sources connected ahead of the service disconnect. ``devices``: sum of their overcurrent devices; ``service``:
    rating of the service. ``iz``, ``size``, ``material``, ``length``: of the conductors from the connection to the device.
    """

    subject: Subject
    edition: int
    devices: Fact
    service: Fact
    output: Fact
    iz: Fact
    size: str | None = None
    material: str | None = None
    length: Fact = field(default_factory=lambda: Fact(None))
    sources: tuple[str, ...] = ()
    source_ids: tuple[str, ...] = ()


def supply_side(facts: SupplySideFacts) -> Verdict:
    """PV-4: the sources' devices against the service, and the conductors between connection and device."""
    factor = tables.limit_value("source_current_factor")
    counted = scaled(facts.output, factor)
    name = facts.subject.name
    devices = (
        f"Devices of the sources {bounded_amperes(facts.devices)}; the service is {bounded_amperes(facts.service)}."
    )
    carries = (
        f"{name} carries {bounded_amperes(facts.iz)}; {percent(factor)} of the output is {bounded_amperes(counted)}."
    )
    conditions = [
        at_most(facts.devices, facts.service, devices), at_least(facts.iz, counted, carries), _smallest(facts),
        *_distance_to_device(facts),
    ]  # fmt: skip
    lines = [looked_up("Devices of the sources", facts.devices.value), looked_up("Service", facts.service.value)]
    lead = f"{listed(facts.sources)} connects ahead of the service disconnect and stays live with every main open."
    check = "Bonding and grounding as at a service; listing of the connectors for the line side of a service."
    return judged(
        "PV-4", facts.subject, facts.edition, conditions, lead=lead, work=tuple(lines), others=facts.source_ids,
        field_checks=(check,),
    )  # fmt: skip


def _smallest(facts: SupplySideFacts) -> Condition:
    if facts.size is None or facts.material is None:
        need = f"size and material of {facts.subject.name}"
        return Condition("unknown", f"Size of {facts.subject.name} is not known.", needs=(need,))
    cmil, least = tables.area_cmil(facts.size), tables.limit_value("supply_side_min_cmil")
    text = f"{facts.subject.name} is {size_text(facts.size, facts.material)}; at least 6 AWG copper is asked for."
    return Condition("pass" if cmil >= least else "fail", text, cmil, least, "cmil", "at least")


def _distance_to_device(facts: SupplySideFacts) -> list[Condition]:
    """Conductor length to the device: given in figures in 2020 and 2026, in words in 2023, not in 2017."""
    if facts.edition == 2017:
        return []
    limit_ft = tables.limit_value("supply_side_other_ft")
    if facts.edition == 2023:
        text = "Whether the device is close enough to the connection is for the authority in this edition."
        return [Condition("judge", text, facts.length.value, limit_ft, "ft", "at most")]
    text = f"Conductors to the device: at most {limit_ft:g} ft in a building that is no dwelling."
    return [at_most(facts.length, Fact(limit_ft), text, "ft")]


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


def scaled(fact: Fact, factor: float) -> Fact:
    """A number with bounds times a factor."""

    def times(value: float | None) -> float | None:
        return None if value is None else value * factor

    return replace(fact, value=times(fact.value), low=times(fact.low), high=times(fact.high))


def percent(factor: float) -> str:
    """ "125 %" for 1.25."""
    return f"{100 * factor:g} %"


def _yes(value: bool | None, good: str, bad: str, need: str) -> Condition:
    if value is None:
        return Condition("unknown", f"Not known: {need}.", needs=(need,))
    return Condition("pass", good) if value else Condition("fail", bad)
