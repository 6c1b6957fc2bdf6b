"""Conductors against the overcurrent device ahead of them: 240.4(B), (C), (D) and (G), and sizes that would pass."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache

from oneline import tables
from oneline.model.quick import but, quick
from oneline.model.vocabulary import CONDUCTOR_SIZES, MATERIALS
from oneline.rules.ampacity import COLUMNS_C, Ampacity, RunFacts, ampacity, is_nipple, large_enough_in_parallel
from oneline.rules.common import (
    Condition,
    Fact,
    Subject,
    amperes,
    at_least,
    at_most,
    besides,
    bounds,
    compare_at_least,
    compared,
    computed,
    equal_or_above,
    judged,
    looked_up,
    number,
    rated,
    section,
    size_text,
    worst,
)
from oneline.rules.conductor_load import load_unknown
from oneline.rules.verdict import Verdict, WorkLine
from oneline.tables.motor_devices import motor_device_percent


@dataclass(frozen=True)
class SpecialLoad:
    """A load under 240.4(G): its own article sizes conductor and device.

    ``kind``: "motor" or "hvac". ``conductor_a``: least ampacity of the conductor. ``device_a``: largest device.
    ``source``: nameplate or table they come from.
    """

    kind: str
    name: str
    conductor_a: Fact
    device_a: Fact
    source: str
    #: Worksheet of those two figures; follows from them, so it takes no part in comparing.
    lines: tuple[WorkLine, ...] = field(default=(), compare=False)


@quick
@dataclass(frozen=True)
class ProtectionFacts:
    """A run and the device ahead of it.

    ``rating``: amperes of the device, highest setting where access to it is not restricted. ``kind``: "breaker" or
    "fuse". ``special``: the single load the run supplies, where 240.4(G) lets the device be larger.
    ``receptacles``: a branch circuit with more than one receptacle for portable cords, which gets no rounding up.
    """

    run: RunFacts
    device: Subject
    rating: Fact
    kind: str = "breaker"
    special: SpecialLoad | None = None
    receptacles: bool = False


def largest_device_a(iz_a: float, edition: int, kind: str = "breaker", round_up: bool = True) -> float:
    """Largest device that protects a conductor of ampacity ``iz_a``, amperes, by 240.4(B) and (C).

    The ampacity itself, or the next standard rating above it up to the limit of 240.4(B), where the ampacity is not a
    standard rating.
    """
    if not round_up or tables.is_standard(iz_a, edition, kind):
        return iz_a
    above = tables.next_standard(iz_a, edition, kind)
    if above is None or above > tables.limit_value("round_up_limit_a"):
        return iz_a
    return above


def allowed_device(iz: Fact, edition: int, kind: str = "breaker", round_up: bool = True) -> Fact:
    """The largest permitted device as a number with the bounds that the ampacity has."""

    def step(iz_a: float | None) -> float | None:
        return None if iz_a is None else largest_device_a(iz_a, edition, kind, round_up)

    return but(iz, value=step(iz.value), low=step(iz.low), high=step(iz.high), up_to=step(iz.up_to))


def is_protected(iz: Fact, rating: Fact, edition: int, kind: str = "breaker", round_up: bool = True) -> str:
    """Whether a device protects a conductor at its ampacity: "pass", "fail" (then it is a tap) or "unknown"."""
    return at_least(allowed_device(iz, edition, kind, round_up), rating, "").state


def small_conductor_cap(run: RunFacts, name: str) -> Fact | None:
    """Largest device on a small conductor by 240.4(D); ``None`` where that section does not name the size.

    While the material is not known, it lies between those of the materials made in that size.
    """
    if run.size is None:
        return None
    made = [m for m in MATERIALS if tables.ampacity_a(run.size, m, COLUMNS_C[0]) is not None]
    materials = (run.material,) if run.material is not None else made
    caps = [tables.small_conductor_limit_a(run.size, m, run.edition) for m in materials]
    known = [cap for cap in caps if cap is not None]
    if not known:
        return None
    high = max(known) if len(known) == len(caps) else None
    exact = known[0] if high == min(known) else None
    need = f"conductor material of {name}"
    return Fact(exact, min(known), high, run.basis, need, f"conductor size of {name}")


@lru_cache(maxsize=4096)
def conductor_protection(facts: ProtectionFacts) -> Verdict:
    """Whether the device ahead protects the conductors (OCP-4B up to 800 A, OCP-4C above, OCP-4D small, OCP-4G special)."""
    run, edition = facts.run, facts.run.edition
    name = run.subject.name
    found = ampacity(run)
    iz = found.fact(name)
    allowed = allowed_device(iz, edition, facts.kind, not facts.receptacles)
    cap = small_conductor_cap(run, name)
    condition = at_least(allowed, facts.rating, _sentence(facts, found, allowed))
    conditions = [condition]
    rule = "OCP-4C" if (facts.rating.least or 0) > tables.limit_value("round_up_limit_a") else "OCP-4B"
    if cap is not None:
        small = at_most(facts.rating, cap, _small_sentence(facts, cap))
        if small.state != "pass" or condition.state == "pass":
            rule = "OCP-4D"
            conditions = [small, *([condition] if condition.state == "fail" else [])]
    state, further = worst(c.state for c in conditions), ""
    if facts.special is not None and state != "pass":
        special = _special_verdict(facts, facts.special)
        # The load's own article is asked only where 240.4(B) does not hold: while that is open, it cannot fail them.
        if state == "fail" or special.state == "pass":
            return special
        further = special.message if special.state == "fail" else ""
        further = further and f"If not: {further}"
    remedy = ""
    if worst(c.state for c in conditions) == "fail":
        remedy = protection_remedy(facts)
    lines = found.lines
    if found.iz_a is not None and allowed.value is not None:
        lines += (looked_up("Largest device for that ampacity", allowed.value, source=section(rule, edition)),)
    return judged(
        rule, run.subject, edition, conditions, remedy=remedy, work=lines, others=(facts.device.id,),
        field_checks=found.field_checks, further=further,
    )  # fmt: skip


def _sentence(facts: ProtectionFacts, found: Ampacity, allowed: Fact) -> str:
    run = facts.run
    device = rated(facts.device.name, facts.rating)
    words = compared(facts.rating, allowed, most=True)
    if words is None:
        known = bounds(found.fact(""))
        if found.iz_a is not None:
            known = amperes(found.iz_a)
            if found.up_to_a is not None:
                marked = number(tables.limit_value("terminal_default_high_c"))
                known += f" with the terminals assumed and {amperes(found.up_to_a)} if they are marked {marked} °C"
        more = f": its ampacity is {known}" if known else ""
        return f"Whether {device} protects {run.subject.name} is not known yet{more}."
    does = "protects" if compare_at_least(allowed, facts.rating) == "pass" else "does not protect"
    size = size_text(run.size, run.material, run.sets)
    gap = "exactly the most" if words.gap == "exactly" else f"{words.gap} the {words.limit}"
    ampacity_ = "" if found.iz_a is None else f" ({size}, {amperes(found.iz_a)}, {found.governs})"
    return f"{device} {does} {run.subject.name}, {gap} allowed{ampacity_}."


def _small_sentence(facts: ProtectionFacts, cap: Fact) -> str:
    name, size = facts.run.subject.name, size_text(facts.run.size, facts.run.material)
    words = compared(facts.rating, cap, most=True)
    if words is None:
        most = f"at most {amperes(cap.value)}"
        if cap.value is None:
            most = (
                f"{amperes(cap.least)} or {amperes(cap.most)}, by its material" if cap.most else f"{amperes(cap.least)}"
            )
        return f"Whether {facts.device.name} protects {name} is not known yet: {size} may have {most}."
    does = "protects" if compare_at_least(cap, facts.rating) == "pass" else "does not protect"
    gap = "exactly the most" if words.gap == "exactly" else f"{words.gap} the {words.limit}"
    return f"{facts.device.name} ({words.value}) {does} {name}, {gap} allowed on {size}."


def protection_remedy(facts: ProtectionFacts) -> str:
    """A smaller device or a larger conductor that would pass; "" where facts are missing."""
    ways = []
    iz_a = ampacity(facts.run).iz_a
    if iz_a is not None:
        device_a = device_for(facts.run, facts.kind, not facts.receptacles)
        if device_a is not None:
            ways.append(f"a device of at most {amperes(device_a)}")
    if facts.rating.value is not None:
        larger = propose_conductor(
            facts.run, rating_a=facts.rating.value, kind=facts.kind, round_up=not facts.receptacles
        )  # fmt: skip
        if larger is not None:
            ways.append(size_text(larger.size, larger.material, larger.sets))
    return f"Use {' or '.join(ways)}." if ways else ""


def most_device_a(run: RunFacts, kind: str = "breaker", round_up: bool = True) -> float | None:
    """Largest device the run may have by 240.4(B), (C) and (D), amperes; ``None`` while its ampacity is not known."""
    iz_a = ampacity(run).iz_a
    if iz_a is None:
        return None
    most = largest_device_a(iz_a, run.edition, kind, round_up)
    cap = small_conductor_cap(run, run.subject.name)
    return most if cap is None or cap.value is None else min(most, cap.value)


def device_for(run: RunFacts, kind: str = "breaker", round_up: bool = True) -> float | None:
    """Largest standard device that protects the run, amperes; ``None`` while its ampacity is not known."""
    most = most_device_a(run, kind, round_up)
    return None if most is None else tables.previous_standard(most, run.edition, kind)


def propose_conductor(
    run: RunFacts, load_a: float = 0.0, rating_a: float | None = None, kind: str = "breaker", round_up: bool = True,
    material: str | None = None,
) -> RunFacts | None:  # fmt: skip
    """The run with the smallest size that carries ``load_a`` and that a device of ``rating_a`` protects.

    Everything else stays as it is on ``run`` (insulation, surroundings, terminals, sets). ``None`` when no size does or
    a fact besides the size is missing.
    """
    material = material or run.material
    size = proposed_size(run, load_a, rating_a, kind, round_up, material)
    return None if size is None else but(run, size=size, material=material)


def proposed_size(
    run: RunFacts, load_a: float, rating_a: float | None, kind: str, round_up: bool, material: str | None
) -> str | None:
    """The size of :func:`propose_conductor`."""
    for size, iz_a, most in _steps(_alike(run, material), kind, round_up):
        if equal_or_above(iz_a, load_a) and (rating_a is None or equal_or_above(most, rating_a)):
            return size
    return None


#: Whoever it is about; any length that is no nipple.
_ANY = Subject("", "")
_LONG_FT = 100.0


def _alike(run: RunFacts, material: str | None) -> RunFacts:
    """What all runs in the same surroundings have in common; a length only tells whether it is a nipple."""
    length_ft = run.length_ft if run.length_ft is None or is_nipple(run.length_ft) else _LONG_FT
    return but(run, subject=_ANY, size=None, material=material, length_ft=length_ft, basis="entered", assumed=())


@lru_cache(maxsize=1024)
def _steps(run: RunFacts, kind: str, round_up: bool) -> tuple[tuple[str, float, float], ...]:
    """Sizes a run can have with their ampacity and the largest device for it, smallest first."""
    found = []
    for size in CONDUCTOR_SIZES:
        if (run.sets or 1) > 1 and not large_enough_in_parallel(size):
            continue
        tried = but(run, size=size)
        iz_a, most = ampacity(tried).iz_a, most_device_a(tried, kind, round_up)
        if iz_a is not None and most is not None:
            found.append((size, iz_a, most))
    return tuple(found)


def _special_verdict(facts: ProtectionFacts, special: SpecialLoad) -> Verdict:
    """A device larger than the conductor's ampacity, judged by the article of the load (OCP-4G)."""
    run, name = facts.run, facts.run.subject.name
    found = ampacity(run)
    conductor = at_least(
        found.fact(name), special.conductor_a, _special_conductor(facts, special, found.fact(name)),
        must=f"be good for {_range_text(special.conductor_a)}", of=name,
    )  # fmt: skip
    device = at_most(
        facts.rating, special.device_a, _special_device(facts, special),
        must=f"have a device of at most {_range_text(special.device_a)}",
    )  # fmt: skip
    ways = []
    if conductor.state == "fail" and special.conductor_a.value is not None:
        larger = propose_conductor(run, load_a=special.conductor_a.value)
        if larger is not None:
            ways.append(size_text(larger.size, larger.material, larger.sets))
    if device.state == "fail" and special.device_a.value is not None:
        ways.append(f"a device of at most {amperes(special.device_a.value)}")
    passes = (
        f"{rated(facts.device.name, facts.rating)} may protect {name}, good for {amperes(found.iz_a)}: by the "
        f"{_RULES_OF[special.kind]}, {_range_text(special.conductor_a)} is needed and a device of "
        f"{_range_text(special.device_a)} allowed for {special.name}."
    )
    return judged(
        "OCP-4G", run.subject, run.edition, [conductor, device], pass_message=passes,
        remedy=f"Use {' and '.join(ways)}." if ways else "", work=(*found.lines, *special.lines),
        others=(facts.device.id,), field_checks=found.field_checks,
    )  # fmt: skip


_RULES_OF = {"motor": "motor rules", "hvac": "nameplate"}


def _special_conductor(facts: ProtectionFacts, special: SpecialLoad, iz: Fact) -> str:
    name = facts.run.subject.name
    words = compared(iz, special.conductor_a)
    if words is None:
        return f"Whether {name} can carry what is needed for {special.name} is not known yet."
    return f"{name} can carry {words.value}, {words.gap} the {words.limit} needed for {special.name}."


def _special_device(facts: ProtectionFacts, special: SpecialLoad) -> str:
    name, device = facts.run.subject.name, rated(facts.device.name, facts.rating)
    words = compared(facts.rating, special.device_a, most=True)
    if words is None:
        allowed = special.device_a
        either = f": {_range_text(allowed)} is allowed" if allowed.value is not None or allowed.high is not None else ""
        return f"Whether {device} may protect {name} for {special.name} is not known yet{either}."
    return f"{device} ahead of {name} is {words.gap} the {words.limit} allowed for {special.name}."


def _range_text(fact: Fact) -> str:
    if fact.value is None and fact.low is not None and fact.high is not None:
        by_fuse = fact.need.startswith("type of the fuses")
        words = (" or ", ", by the kind of fuse") if by_fuse else (" to ", "")
        return f"{amperes(fact.low)}{words[0]}{amperes(fact.high)}{words[1]}"
    return amperes(fact.value) if fact.value is not None else "amperes not known yet"


# ------------------------------------------------------------------------------------------- special loads
def hvac_load(name: str, mca_a: float | None, mocp_a: float | None, basis: str = "entered") -> SpecialLoad:
    """Air-conditioning equipment by its nameplate (440.4): minimum circuit ampacity and maximum device."""
    return SpecialLoad(
        "hvac", name,
        Fact(mca_a, basis=basis, need=f"minimum circuit ampacity on the nameplate of {name}", name="nameplate ampacity"),
        Fact(mocp_a, basis=basis, need=f"maximum overcurrent device on the nameplate of {name}", name="nameplate device"),
        "nameplate",
    )  # fmt: skip


def motor_load(
    name: str, flc_a: float | None, three_phase: bool, edition: int, kind: str, basis: str = "entered",
    need: str = "",
) -> SpecialLoad:  # fmt: skip
    """One motor: conductor 125 % of its table current, device by Table 430.52 and the next standard rating up.

    ``flc_a``: full-load current of the tables, amperes; ``need``: what to find out where they do not tell. A fuse
    whose type is not known leaves a range.
    """
    table = section("TABLE-motor-device", edition)
    if flc_a is None:
        need = need or f"horsepower and voltage of {name}"
        return SpecialLoad("motor", name, Fact(None, need=need), Fact(None, need=need), table)
    factor = tables.limit_value("motor_largest_factor")
    conductor = computed("Conductor for one motor", "factor * full_load_a", factor=factor, full_load_a=flc_a)
    lines, found = [conductor], []
    for device in ("inverse-time breaker",) if kind == "breaker" else ("dual-element fuse", "nontime-delay fuse"):
        percent = motor_device_percent(device, three_phase)
        line = computed(
            f"Largest {device}", "percent / 100 * full_load_a", percent=percent, full_load_a=flc_a, source=table
        )  # fmt: skip
        exact_a = float(line.value or 0)
        found.append(tables.next_standard(exact_a, edition, kind) or exact_a)
        lines += [line, looked_up("Next standard rating", found[-1])]
    need = f"type of the fuses ahead of {name}"
    device_a = Fact(found[0] if len(set(found)) == 1 else None, min(found), max(found), basis, need)
    return SpecialLoad("motor", name, Fact(float(conductor.value or 0), basis=basis), device_a, table, tuple(lines))


# ------------------------------------------------------------------------------------------ service conductors
@dataclass(frozen=True)
class ServiceFacts:
    """Conductors ahead of every overcurrent device (TAP-SVC).

    ``devices``: the overcurrent devices they end in, each (name, rating). ``load``: largest phase, amperes.
    """

    run: RunFacts
    load: Fact
    devices: tuple[tuple[str, Fact], ...] = ()


@lru_cache(maxsize=4096)
def service_conductors(facts: ServiceFacts) -> Verdict:
    """Service conductors: no tap ratio; ampacity against the calculated load, and against a single service device."""
    run, name = facts.run, facts.run.subject.name
    found = ampacity(run)
    iz, lines = found.fact(name), found.lines
    conditions = [at_least(iz, facts.load, _service_load(name, iz, facts.load))]
    if not facts.devices:
        need = f"service disconnect at the end of {name}"
        text = f"Where {name} ends in an overcurrent device is not known yet."
        conditions.append(Condition("unknown", text, needs=(need,)))
    elif len(facts.devices) == 1:
        device_name, rating = facts.devices[0]
        allowed = allowed_device(iz, run.edition)
        text = _service_device(name, device_name, rating, allowed)
        most = f"of at most {amperes(allowed.most)}" if allowed.most is not None else "that protects it"
        conditions.append(at_least(allowed, rating, text, must=f"end in a device {most}"))
        if allowed.value is not None:
            cited = section("OCP-4B", run.edition)
            lines += (looked_up("Largest device for that ampacity", allowed.value, source=cited),)
    remedy = ""
    if worst(c.state for c in conditions) == "fail":
        rating_a = facts.devices[0][1].value if len(facts.devices) == 1 else None
        larger = propose_conductor(run, load_a=facts.load.value or 0.0, rating_a=rating_a)
        remedy = f"Use {size_text(larger.size, larger.material, larger.sets)}." if larger else ""
    return judged(
        "TAP-SVC", run.subject, run.edition, conditions, remedy=remedy, work=lines,
        further=besides(conditions) or "No tap rule applies ahead of the service disconnect.",
        field_checks=found.field_checks,
    )  # fmt: skip


def _service_load(name: str, iz: Fact, load: Fact) -> str:
    words = compared(iz, load)
    if words is None:
        return load_unknown(name, iz, load)
    return f"{name} can carry {words.value}, {words.gap} the calculated load of {words.limit}."


def _service_device(name: str, device: str, rating: Fact, allowed: Fact) -> str:
    words = compared(rating, allowed, most=True)
    if words is None:
        return f"Whether {rated(device, rating)} protects {name} is not known yet."
    return f"{name} ends in {device} ({words.value}), {words.gap} the {words.limit} it may have."
