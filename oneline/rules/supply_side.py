"""Sources connected ahead of the service disconnect (article 705, PV-4)."""

from __future__ import annotations

from dataclasses import dataclass, field

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
    size_text,
)
from oneline.rules.interconnect import percent
from oneline.rules.verdict import Verdict


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
    name, sources = facts.subject.name, listed(facts.sources)
    conditions = [
        at_most(
            facts.devices, facts.service, _devices_sentence(facts, sources),
            must="have devices no larger than the service", of=sources,
        ),
        at_least(
            facts.iz, counted, _carries_sentence(facts, name, f"{percent(factor)} of the output", counted),
            must=f"be good for {percent(factor)} of the output", of=name,
        ),
        _smallest(facts),
        *_distance_to_device(facts),
    ]  # fmt: skip
    lines = [looked_up("Devices of the sources", facts.devices.value), looked_up("Service", facts.service.value)]
    check = "Bonding and grounding as at a service; listing of the connectors for the line side of a service."
    return judged(
        "PV-4", facts.subject, facts.edition, conditions, work=tuple(lines), others=facts.source_ids,
        further=besides(conditions) or f"{sources} stays live with every service disconnect open.",
        field_checks=(check,),
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
    least, name = tables.limit_value("supply_side_min_cmil"), facts.subject.name
    smallest = size_text(tables.size_for_area(least), "copper")
    if facts.size is None or facts.material is None:
        asked = (("conductor size", facts.size), ("conductor material", facts.material))
        needs = tuple(f"{what} of {name}" for what, known in asked if known is None)
        text = f"Whether the size of {name} is enough is not known yet: {smallest} is the least."
        return Condition("unknown", text, needs=needs)
    cmil = tables.area_cmil(facts.size)
    enough = cmil >= least
    words = "enough" if enough else "too small"
    text = f"The size of {name}, {size_text(facts.size, facts.material)}, is {words}: {smallest} is the least."
    return Condition(
        "pass" if enough else "fail", text, cmil, least, "cmil", "at least", must=f"be {smallest} or larger", of=name
    )


def _distance_to_device(facts: SupplySideFacts) -> list[Condition]:
    """Conductor length to the device: given in figures in 2020 and 2026, in words in 2023, not in 2017."""
    if not tables.applies("supply_side_distance", facts.edition):
        return []
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
