"""Sources connected ahead of the service disconnect (article 705, PV-4)."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from oneline import tables
from oneline.rules.common import (
    Condition,
    Fact,
    Subject,
    at_least,
    at_most,
    besides,
    bounded_amperes,
    compared,
    feet_inches,
    judged,
    listed,
    looked_up,
    scaled,
    section,
    size_text,
)
from oneline.rules.interconnect import percent
from oneline.rules.verdict import Verdict


@dataclass(frozen=True)
class SupplySideFacts:
    """Sources connected ahead of the service disconnect. ``devices``: sum of their overcurrent devices; ``service``:
    rating of the service; ``conductors``: ampacity of its conductors; ``all_output``: of all sources of the service.
    ``iz``, ``size``, ``material``, ``length``: of the conductors from the connection to the device.
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
    conductors: Fact = field(default_factory=lambda: Fact(None, need="service conductors"))
    all_output: Fact = field(default_factory=lambda: Fact(None, need="output of the sources"))
    size_assumed: tuple[str, ...] = ()


def supply_side(facts: SupplySideFacts) -> Verdict:
    """PV-4: the sources against the service, and the conductors between connection and device.

    In 2017 the sum of the sources' devices may not exceed the rating of the service; since 2020 it is the sum of their
    output that may not exceed the ampacity of the service conductors (from memory).
    """
    factor = tables.limit_value("source_current_factor")
    counted = scaled(facts.output, factor)
    name, sources = facts.subject.name, listed(facts.sources)
    conditions = [
        _against_service(facts, sources),
        at_least(
            facts.iz, counted, _carries_sentence(facts, name, f"{percent(factor)} of the output", counted),
            must=f"be good for {percent(factor)} of the output", of=name,
        ),
        _smallest(facts),
        *_distance_to_device(facts),
    ]  # fmt: skip
    recalled = f"{section('PV-4', facts.edition)}, {tables.FROM_MEMORY}"
    lines = [looked_up("Devices of the sources", facts.devices.value), looked_up("Service", facts.service.value)]
    if _by_output(facts):
        lines = [
            looked_up("Output of all sources of the service", facts.all_output.value, "A", "nameplate"),
            looked_up("Ampacity of the service conductors", facts.conductors.value, "A", recalled),
        ]
    check = "Bonding and grounding as at a service; listing of the connectors for the line side of a service."
    return judged(
        "PV-4", facts.subject, facts.edition, conditions, work=tuple(lines), others=facts.source_ids,
        further=besides(conditions) or f"{sources} stays live with every service disconnect open.",
        field_checks=(check,),
    )  # fmt: skip


def _by_output(facts: SupplySideFacts) -> bool:
    """Whether the output of the sources counts, and their conductors have a least size."""
    return tables.applies("supply_side_output", facts.edition)


def _against_service(facts: SupplySideFacts, sources: str) -> Condition:
    if not _by_output(facts):
        return at_most(
            facts.devices, facts.service, _devices_sentence(facts, sources),
            must="have devices no larger than the service", of=sources,
        )  # fmt: skip
    words = compared(facts.all_output, facts.conductors, most=True)
    text = "Whether the service conductors can carry the output of all sources is not known yet."
    if words is not None:
        text = f"The output of all sources of the service is {words.value}, {words.gap} the {words.limit} of its conductors."
    return at_most(
        facts.all_output, facts.conductors, text, must="have an output no larger than the service conductors carry",
        of=sources,
    )  # fmt: skip


def _devices_sentence(facts: SupplySideFacts, sources: str) -> str:
    words, what = (
        compared(facts.devices, facts.service, most=True),
        f"the devices of {sources}, ahead of the service disconnect,",
    )
    if words is None:
        known = f": the service is {bounded_amperes(facts.service)}" if facts.service.least else ""
        return f"Whether {what} are small enough is not known yet{known}."
    return f"{what[:1].upper()}{what[1:]} are {words.value}, {words.gap} the {words.limit} of the service."


def _carries_sentence(facts: SupplySideFacts, name: str, what: str, counted: Fact) -> str:
    words = compared(facts.iz, counted)
    if words is None:
        known = f": {bounded_amperes(counted)}" if counted.least else ""
        return f"Whether {name} can carry {what} is not known yet{known}."
    return f"{name} can carry {words.value}, {words.gap} {what}, {words.limit}."


def _smallest(facts: SupplySideFacts) -> Condition:
    name = facts.subject.name
    metal = "aluminum" if facts.material == "aluminum" else "copper"
    least = tables.limit_value("supply_side_min_al_cmil" if metal == "aluminum" else "supply_side_min_cmil")
    smallest = size_text(tables.size_for_area(least), metal)
    if facts.size is None or facts.material is None:
        asked = (("conductor size", facts.size), ("conductor material", facts.material))
        needs = tuple(f"{what} of {name}" for what, known in asked if known is None)
        text = f"Whether the size of {name} is enough is not known yet: {smallest} is the least."
        return Condition("unknown", text, needs=needs)
    cmil = tables.area_cmil(facts.size)
    enough = cmil >= least
    if not _by_output(facts) and not enough:
        text = (
            f"The size of {name}, {size_text(facts.size, facts.material)}, is less than the {smallest} that later editions "
            "ask for: for the authority in this one."
        )
        return Condition("judge", text, cmil, least, "cmil", "at least", assumed=facts.size_assumed)
    words = "enough" if enough else "too small"
    text = f"The size of {name}, {size_text(facts.size, facts.material)}, is {words}: {smallest} is the least."
    return Condition(
        "pass" if enough else "fail", text, cmil, least, "cmil", "at least", must=f"be {smallest} or larger",
        of=name, basis="assumed" if facts.size_assumed else "entered", assumed=facts.size_assumed,
    )  # fmt: skip


def _distance_to_device(facts: SupplySideFacts) -> list[Condition]:
    """Conductor length to the device: given in figures in 2020 and 2026, in words in 2023. In 2017 (from memory)
    a shorter one, beyond which limiters are asked for where the conductors start."""
    if not tables.applies("supply_side_distance", facts.edition):
        return [_or_limiters(facts, facts.subject.name)]
    limit_ft, name = tables.limit_value("supply_side_other_ft"), facts.subject.name
    most = feet_inches(limit_ft)
    if tables.applies("supply_side_distance_in_words", facts.edition):
        text = f"Whether the device of {name} is close enough to the connection is for the authority in this edition."
        return [Condition("judge", text, facts.length.value, limit_ft, "ft", "at most")]
    words = compared(facts.length, Fact(limit_ft), "over", "inside", "ft", most=True)
    text = f"Whether the length of {name} to the device is short enough is not known yet: at most {most}."
    if words is not None:
        text = f"The length of {name} to the device is {words.value}, {words.gap} the {most} allowed in a building."
    return [at_most(facts.length, Fact(limit_ft), text, "ft", must=f"be {most} or shorter to its device", of=name)]


def _or_limiters(facts: SupplySideFacts, name: str) -> Condition:
    """The distance of 2017: the drawing does not tell limiters, so a longer way asks for them."""
    limit = Fact(tables.limit_value("supply_side_2017_ft"))
    words, most = compared(facts.length, limit, "over", "inside", "ft", most=True), feet_inches(limit.value)
    if words is None:
        text = f"Whether the length of {name} to the device is short enough is not known yet: {most} without limiters."
        return at_most(facts.length, limit, text, "ft")
    text = f"The length of {name} to the device is {words.value}, {words.gap} the {most} allowed without limiters."
    found = at_most(facts.length, limit, text, "ft")
    if found.state == "pass":
        return found
    need = f"cable limiters, or current-limited breakers, where {name} is connected"
    text = f"Whether there are limiters where {name} is connected is not known yet: it is {words.value} long, {most} without."
    return replace(found, state="unknown", message=text, needs=(need,))
