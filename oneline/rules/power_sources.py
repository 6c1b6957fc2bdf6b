"""Sources by themselves: power control (PV-5), disconnects (PV-6, ESS-1), dc side (PV-8), conductors of generators (GEN-1),
ways by which energy may come back (GEN-3), their number (SRC-1), feed-through conductors (PV-1f)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from oneline import tables
from oneline.rules.common import (
    Fact,
    Subject,
    amperes,
    at_least,
    bounded_amperes,
    compared,
    computed,
    judged,
    listed,
    looked_up,
    number,
    scaled,
    section,
    unique,
    verdict,
    weakest,
)
from oneline.rules.interconnect import FeederFacts, feeder, percent
from oneline.rules.verdict import Verdict


# --------------------------------------------------------------------------------------------------- power control
@dataclass(frozen=True)
class ControlFacts:
    """An inverter that a power control system holds down. ``output``: its nameplate output; ``setting``: what it is held
    to, amperes; ``listed``: whether the system is listed, its setting documented and its access restricted."""

    subject: Subject
    edition: int
    output: Fact
    setting: Fact
    listed: bool | None


def controlled_output(facts: ControlFacts) -> Fact:
    """The current an inverter counts with: its setting where power control may be counted, else its nameplate output."""
    setting, output = facts.setting, facts.output
    if setting.value is None or not tables.applies("power_control", facts.edition) or facts.listed is False:
        return output
    if output.value is not None and setting.value >= output.value:
        return output
    if facts.listed:
        return setting
    need = _control_need(facts.subject.name)
    basis = weakest(setting.basis, output.basis)
    assumed = unique((*setting.assumptions, *output.assumptions))
    return Fact(None, setting.value, output.most, basis, need, output.name, assumed, output.needs)


def _control_need(name: str) -> str:
    return f"whether the power control of {name} is listed and documented, its access restricted"


def power_control(facts: ControlFacts) -> Verdict:
    """PV-5: whether a power control setting counts as the rating of a source."""
    name, setting = facts.subject.name, amperes(facts.setting.value)
    full = bounded_amperes(facts.output)
    fields = {"value": facts.setting.value, "limit": facts.output.value, "unit": "A", "relation": "at most",
              "basis": facts.setting.basis}  # fmt: skip
    if not tables.applies("power_control", facts.edition):
        text = f"The power control setting of {name}, {setting}, does not count in the {facts.edition} edition."
        return verdict("PV-5", facts.subject, facts.edition, "not_applicable", text, **fields)
    check = f"The setting of {name}, its documents and how access to it is restricted."
    if facts.output.value is not None and facts.setting.value is not None and facts.setting.value >= facts.output.value:
        text = (
            f"The power control setting of {name}, {setting}, is no less than its output, {full}: it changes nothing."
        )
        return verdict("PV-5", facts.subject, facts.edition, "advice", text, **fields)
    if facts.listed is None:
        text = (
            f"Whether {name} counts with its power control setting, {setting}, or its output, {full}, is not known yet."
        )
        return verdict(
            "PV-5", facts.subject, facts.edition, "unknown", text, needs=(_control_need(name),), field_checks=(check,),
            **fields,
        )  # fmt: skip
    if facts.listed:
        text = f"{name} is held to {setting} by its power control and counts with that instead of its output, {full}."
        return verdict("PV-5", facts.subject, facts.edition, "pass", text, field_checks=(check,), **fields)
    text = f"The power control of {name} is not listed or not restricted, so its full output counts, {full}, not {setting}."
    remedy = "Use a listed power control system, document its setting and restrict the access to it."
    return verdict("PV-5", facts.subject, facts.edition, "advice", text, remedy=remedy, **fields)


# ----------------------------------------------------------------------------------------------------- disconnects
def source_disconnect(rule: str, source: Subject, edition: int, device: Subject | None, ready: bool | None) -> Verdict:
    """PV-6 or ESS-1: the disconnect of an array or battery. ``ready``: whether it is readily accessible."""
    name = source.name
    if device is None:
        text = f"No disconnect of {name} is drawn between it and what it feeds."
        need = f"disconnect of {name}, and where it is"
        remedy = f"Fit a readily accessible disconnect for {name}, or draw the one that is there."
        return verdict(rule, source, edition, "unknown", text, needs=(need,), remedy=remedy)
    checks = (
        f"Marking at {device.name}: what it disconnects, and that both its sides may be live when it is open.",
        f"{device.name} can be locked open.",
    )
    others = (device.id,)
    if ready is None:
        text = f"Whether {device.name}, the disconnect of {name}, is readily accessible is not known yet."
        need = f"whether {device.name} is readily accessible"
        return verdict(rule, source, edition, "unknown", text, needs=(need,), field_checks=checks, others=others)
    if ready:
        text = f"{device.name} is the disconnect of {name} and readily accessible."
        return verdict(rule, source, edition, "pass", text, field_checks=checks, others=others)
    text = f"{device.name}, the disconnect of {name}, is not readily accessible."
    remedy = f"Put the disconnect of {name} where it is reached at once, or fit another one there."
    return verdict(rule, source, edition, "fail", text, remedy=remedy, field_checks=checks, others=others)


def dc_side(array: Subject, edition: int, rapid_shutdown: bool | None) -> Verdict:
    """PV-8: what opening the ac side of an array does not do."""
    name = array.name
    out_v, in_v, seconds = (
        number(tables.limit_value(f"rapid_shutdown_{part}")) for part in ("outside_v", "inside_v", "s")
    )
    text = f"The dc conductors of {name} are live in daylight, whatever is open on the ac side."
    further = {
        True: f"Its rapid shutdown lowers them to {out_v} V within {seconds} s outside the array, {in_v} V inside it.",
        False: "It has no rapid shutdown that lowers them.",
        None: "Whether it has rapid shutdown is to be looked for at the service.",
    }[rapid_shutdown]
    checks = (
        () if rapid_shutdown is not None else (f"Rapid shutdown of {name}: marked at the service, and what starts it.",)
    )
    return verdict("PV-8", array, edition, "advice", f"{text} {further}", field_checks=checks)


# ------------------------------------------------------------------------------------------------------ generators
@dataclass(frozen=True)
class GeneratorConductors:
    """Conductors from a generator to its first overcurrent device. ``rated``: its nameplate current; ``held``: whether it
    cannot overload them by design."""

    subject: Subject
    edition: int
    generator: Subject
    iz: Fact
    rated: Fact
    held: bool | None


def generator_conductors(facts: GeneratorConductors) -> Verdict:
    """GEN-1: ampacity of the conductors ahead of a generator's first overcurrent device (445.13)."""
    factor = tables.limit_value("generator_conductor_factor")
    name, generator, cited = facts.subject.name, facts.generator.name, section("GEN-1-conductors", facts.edition)
    counted, more = facts.rated if facts.held else scaled(facts.rated, factor), percent(1.0 if facts.held else factor)
    words = compared(facts.iz, counted)
    known = f": {bounded_amperes(counted)}" if counted.least else ""
    text = f"Whether {name} can carry {more} of what {generator} gives is not known yet{known}."
    if words is not None:
        text = f"{name} can carry {words.value}, {words.gap} {more} of the rated current of {generator}, {words.limit}."
    condition = at_least(facts.iz, counted, text)
    need = f"whether the design of {generator} keeps it from overloading its conductors"
    if condition.state == "fail" and facts.held is None and at_least(facts.iz, facts.rated, text).state == "pass":
        condition = replace(condition, state="unknown", needs=(need,))
    lines = [looked_up(f"Rated current of {generator}", facts.rated.value, "A", "nameplate")]
    if facts.rated.value is not None and not facts.held:
        lines.append(
            computed("Least ampacity", "factor * rated", "A", cited, factor=factor, rated=facts.rated.value)
        )  # fmt: skip
    remedy = f"Use conductors good for {amperes(counted.least)}." if condition.state == "fail" else ""
    return judged(
        "GEN-1", facts.subject, facts.edition, [condition], section=cited, work=tuple(lines), remedy=remedy,
        others=(facts.generator.id,),
    )  # fmt: skip


def may_come_back(item: Subject, edition: int, way: str, check: str, others: Sequence[str] = ()) -> Verdict:
    """GEN-3: a way by which energy may arrive from the load side. ``way``: a sentence."""
    return verdict("GEN-3", item, edition, "advice", way, field_checks=(check,), others=tuple(others))


def number_of_sources(first: Subject, edition: int, names: Sequence[str], ties: Sequence[str]) -> Verdict:
    """SRC-1: how many sources a building has, which its directories have to name. ``ties``: connections nobody traced."""
    count = len(names)
    text = f"The building has {count} source{'s' if count > 1 else ''} on the drawing: {listed(tuple(names))}."
    if ties:
        more = f" Whether {listed(tuple(ties))} brings another one is not known yet."
        needs = tuple(f"trace of {tie}" for tie in ties)
        return verdict("SRC-1", first, edition, "unknown", text + more, needs=needs)
    if count == 1:
        return verdict("SRC-1", first, edition, "not_applicable", f"{text} No directory of sources is asked for.")
    check = "Walk the building for sources that are not drawn: arrays, batteries, inlets, a neighbor's feeder."
    return verdict(
        "SRC-1", first, edition, "advice", f"{text} The directory at each of them names all.", field_checks=(check,)
    )


# ---------------------------------------------------------------------------------------------------- feed-through
def feed_through(bus: Subject, facts: FeederFacts) -> Verdict:
    """PV-1f: conductors that go on from a bus without a device of their own, where sources feed the bus too: they are
    feeders that both supplies load; the bus itself is judged by its own tests."""
    found = feeder(facts)
    named = tables.applies("feed_through", facts.edition)
    state = found.state if named or found.state != "fail" else "judge"
    more = "" if named else " The edition does not name such conductors; the authority decides."

    def message() -> str:
        return f"{facts.subject.name} goes on from {bus.name} without a device of its own. {found.message}{more}"

    return found.but(
        rule="PV-1f", section=section("PV-1f", facts.edition), subject=bus.id, name=bus.name, state=state,
        message=message, others=(facts.subject.id, *facts.source_ids),
    )  # fmt: skip
