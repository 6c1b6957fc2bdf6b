"""The conditions that the tap rules and the secondary-conductor rules are made of, each a small function.

A feeder tap and a transformer secondary conductor are asked much the same; ``ratio`` is 1 for a feeder tap and the
voltage ratio primary to secondary for secondary conductors.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from oneline import tables
from oneline.rules.ampacity import Ampacity, RunFacts, ampacity
from oneline.rules.common import (
    Condition,
    Fact,
    Subject,
    amperes,
    at_least,
    at_most,
    compare_at_least,
    computed,
    feet_inches,
    listed,
    looked_up,
    section,
    size_text,
    unique,
)
from oneline.rules.verdict import Verdict, WorkLine

#: Raceways that enclose conductors; the others need somebody's judgement or do not protect at all.
ENCLOSING = ("EMT", "RMC", "IMC", "PVC-40", "PVC-80", "FMC", "LFMC", "wireway", "within enclosure")

NOT_KNOWN = Fact(None)
ONE = Fact(1.0)


@dataclass(frozen=True)
class TapEnd:
    """What a tap ends in.

    ``kind``: "device" (an overcurrent device), "load" (a load without one), "transformer", or "nothing". ``rating``: of
    the device, amperes. ``holder``: rating of the switch or frame around it. ``device_kind``: "breaker" or "fuse".
    """

    item: Subject
    kind: str
    rating: Fact = NOT_KNOWN
    holder: Fact = NOT_KNOWN
    device_kind: str = "breaker"


@dataclass(frozen=True)
class TapFacts:
    """A tap or secondary conductor and everything its rules ask.

    ``ahead``/``rating``: the overcurrent device ahead of the point of supply, amperes at its own voltage.
    ``effective``: the rating that the fractions are taken of, where another source feeds the same conductor or bus;
    ``effective_why`` says so. ``ratio``: amperes ahead times ratio are amperes here. ``length``: ft, to the farthest
    end, continuations included. ``load``: largest phase, amperes. ``ends``: overcurrent devices and what else it ends
    in. ``equipment``: panel or switchboard that holds several devices at its end, with ``equipment_rating``.
    ``scheduled``: that panel has circuits in its schedule that are not drawn. ``beyond``: names of what the conductors
    go on through, past the equipment they supply. ``leaves``: leaves the enclosure it starts in. ``direct``: starts
    on the load terminals of the device ahead.
    """

    run: RunFacts
    ahead: Subject
    rating: Fact
    load: Fact
    length: Fact
    ends: tuple[TapEnd, ...] = ()
    effective: Fact | None = None
    effective_why: str = ""
    ratio: Fact = ONE
    equipment: Subject | None = None
    equipment_rating: Fact = NOT_KNOWN
    scheduled: bool = False
    beyond: tuple[str, ...] = ()
    leaves: bool | None = None
    outdoors: bool | None = None
    direct: bool = False
    ahead_kind: str = "breaker"

    @property
    def name(self) -> str:
        return self.run.subject.name

    @property
    def found(self) -> Ampacity:
        return ampacity(self.run)

    @property
    def iz(self) -> Fact:
        return self.found.fact(self.name)

    @property
    def fraction_base(self) -> Fact:
        """Rating that a tenth or a third is taken of, amperes at the device's own voltage."""
        return self.effective or self.rating

    @property
    def feeds_transformer(self) -> bool:
        """Whether all it reaches is transformers, without an overcurrent device."""
        return bool(self.ends) and all(e.kind == "transformer" for e in self.ends)

    @property
    def devices(self) -> tuple[TapEnd, ...]:
        return tuple(e for e in self.ends if e.kind == "device")


@dataclass(frozen=True)
class Tried:
    """One rule tried: its verdict and the conditions it was decided by."""

    verdict: Verdict
    conditions: tuple[Condition, ...] = ()

    @property
    def state(self) -> str:
        return self.verdict.state

    @property
    def failing(self) -> tuple[Condition, ...]:
        return tuple(c for c in self.conditions if c.state == "fail")

    @property
    def distance(self) -> tuple[int, float]:
        """How far from passing: number of failing conditions, then the largest share outside a limit."""
        return len(self.failing), max((c.gap for c in self.failing), default=0.0)


def times(value: Fact, factor: Fact, name: str = "") -> Fact:
    """Product of two numbers with their bounds, needs and basis."""

    def product(a: float | None, b: float | None) -> float | None:
        return None if a is None or b is None else a * b

    exact = product(value.value, factor.value)
    need, *also = unique((*value.needs, *factor.needs)) or ("",)
    basis = "assumed" if "assumed" in (value.basis, factor.basis) else value.basis
    return Fact(
        exact, product(value.least, factor.least), product(value.most, factor.most), basis, need, name or value.name,
        unique(value.assumptions + factor.assumptions), tuple(also),
    )  # fmt: skip


# ------------------------------------------------------------------------------------------------ conditions
def length_condition(facts: TapFacts, limit_ft: float, rule: str) -> Condition:
    """Longest permitted conductor length, ft."""
    long_text = feet_inches(facts.length.value, "up")
    if facts.length.value is None:
        sentence = f"The length of {facts.name} is not measured; the {rule} allows up to {feet_inches(limit_ft)}."
        if facts.length.least:
            sentence += f" It is at least {feet_inches(facts.length.least, 'down')}."
    else:
        sentence = f"{facts.name} is {long_text} long. The {rule} needs {feet_inches(limit_ft)} or less."
    return at_most(facts.length, Fact(limit_ft), sentence, "ft")


def load_condition(facts: TapFacts) -> Condition:
    """Ampacity at least the calculated load."""
    load = amperes(facts.load.value) if facts.load.value is not None else "not known yet"
    return at_least(facts.iz, facts.load, f"{_good_for(facts)}; its calculated load is {load}.")


def _good_for(facts: TapFacts) -> str:
    iz = facts.iz
    if iz.value is None:
        return f"The ampacity of {facts.name} is not known yet"
    return f"{facts.name} is good for {amperes(iz.value)}"


def end_rating_condition(facts: TapFacts) -> Condition:
    """Ampacity at least the rating of the device at the end, or of the equipment that holds the devices; no rounding."""
    blocked = _no_device(facts)
    if blocked is not None:
        return blocked
    if len(facts.devices) == 1 and not facts.scheduled:
        end = facts.devices[0]
        return at_least(facts.iz, end.rating, _device_sentence(facts, end))
    if facts.equipment is not None:
        rating = facts.equipment_rating
        text = amperes(rating.value) if rating.value is not None else "of unknown rating"
        by_equipment = at_least(
            facts.iz, rating, f"{_good_for(facts)}; {facts.equipment.name}, which it supplies, is rated {text}."
        )  # fmt: skip
        if by_equipment.state == "pass" or facts.scheduled:
            return by_equipment
        together = _several_devices(facts)
        if by_equipment.state == "fail" and together.state == "pass":
            asks = f"{by_equipment.message} Its devices together fit: for the authority."
            return replace(by_equipment, state="judge", message=asks)
        return by_equipment if together.state == "pass" else together
    return _several_devices(facts)


def _several_devices(facts: TapFacts) -> Condition:
    """Several devices without equipment of a fitting rating: together they pass, one alone too large fails."""
    names = listed([e.item.name for e in facts.devices])
    ratings = [e.rating for e in facts.devices]
    needs = unique(n for r in ratings for n in r.needs)
    if any(compare_at_least(facts.iz, r) == "fail" for r in ratings):
        worst_end = next(e for e in facts.devices if compare_at_least(facts.iz, e.rating) == "fail")
        return at_least(facts.iz, worst_end.rating, _device_sentence(facts, worst_end))
    if needs or facts.iz.value is None:
        sentence = f"{_good_for(facts)}; the devices it ends in ({names}) are not all known."
        return Condition("unknown", sentence, needs=unique((*facts.iz.needs, *needs)))
    total = Fact(sum(r.value or 0.0 for r in ratings), name="sum of the devices")
    sentence = f"{_good_for(facts)}; it ends in {names}, together {amperes(total.value)}."
    found = at_least(facts.iz, total, sentence)
    if found.state == "fail":
        return replace(found, state="judge", message=f"{sentence} Each fits, their sum does not: for the authority.")
    return found


def _device_sentence(facts: TapFacts, end: TapEnd) -> str:
    rating = amperes(end.rating.value) if end.rating.value is not None else "of unknown rating"
    return f"{_good_for(facts)}; {end.item.name} at its end is {rating} and must not be larger."


def _no_device(facts: TapFacts) -> Condition | None:
    """Fails or is unknown where the tap does not end in an overcurrent device at all."""
    loose = [e for e in facts.ends if e.kind in ("load", "transformer")]
    if loose:
        names = listed([e.item.name for e in loose])
        sentence = f"{facts.name} reaches {names} without an overcurrent device at its end."
        return Condition("fail", sentence, cure="end it in one breaker or one set of fuses")
    if not facts.devices and not facts.scheduled:
        need = f"overcurrent device at the end of {facts.name}"
        return Condition("unknown", f"What {facts.name} ends in is not on the drawing.", needs=(need,))
    return None


def single_device_condition(facts: TapFacts) -> Condition:
    """Ends in one breaker or one set of fuses, not larger than the ampacity; no rounding."""
    blocked = _no_device(facts)
    if blocked is not None:
        return blocked
    if len(facts.devices) != 1 or facts.scheduled:
        names = [e.item.name for e in facts.devices]
        if facts.scheduled and facts.equipment is not None:
            names.append(f"the circuits of {facts.equipment.name}")
        return Condition(
            "fail", f"{facts.name} ends in {listed(names)}. It must end in one breaker or one set of fuses.",
        )  # fmt: skip
    end = facts.devices[0]
    return at_least(facts.iz, end.rating, _device_sentence(facts, end))


def stays_condition(facts: TapFacts) -> Condition:
    """The conductors do not go on past the equipment they supply."""
    if facts.beyond:
        sentence = f"{facts.name} goes on beyond {listed(facts.beyond)}, which it supplies."
        return Condition("fail", sentence, cure="end it at the equipment it supplies")
    return Condition("pass", f"{facts.name} ends at the equipment it supplies.")


def raceway_condition(facts: TapFacts) -> Condition:
    """Enclosed in a raceway."""
    kind = facts.run.raceway
    if kind is None:
        need = f"raceway of {facts.name}"
        return Condition("unknown", f"The raceway of {facts.name} is not known yet.", needs=(need,))
    if kind in ENCLOSING:
        return Condition("pass", f"{facts.name} is in {_raceway_words(kind)}.")
    return Condition("fail", f"{facts.name} is {_raceway_words(kind)}. It needs a raceway.", cure="run it in a raceway")


def damage_condition(facts: TapFacts) -> Condition:
    """Protected from physical damage by a raceway or by other means the authority accepts."""
    kind = facts.run.raceway
    found = raceway_condition(facts)
    if found.state == "fail" and kind == "cable":
        return Condition("judge", f"{facts.name} is a cable: ask whether it counts as protected from damage there.")
    if found.state == "fail":
        sentence = f"{facts.name} is {_raceway_words(str(kind))}. It needs protection from damage."
        return Condition("fail", sentence, cure="run it in a raceway")
    return found


def _raceway_words(kind: str) -> str:
    return {"open": "not in a raceway", "cable": "a cable", "busway": "a busway"}.get(kind, kind)


def fraction_condition(facts: TapFacts, limit_id: str, rule: str) -> Condition:
    """Ampacity at least a tenth or a third of the rating ahead (through the voltage ratio)."""
    fraction = tables.limit_value(limit_id)
    needed = needed_by_fraction(facts, limit_id)
    of = f"{facts.ahead.name}, {amperes(facts.rating.value)}"
    if facts.effective_why:
        of = f"{amperes(facts.fraction_base.value)}: {facts.effective_why}"
    if facts.ratio.value not in (1.0, None):
        of += ", through the transformer"
    share = {10: "a tenth", 3: "a third"}.get(round(1 / fraction), f"{fraction:g}")
    needs_text = amperes(needed.value, facts.iz.value) if needed.value is not None else "an ampacity not known yet"
    return at_least(facts.iz, needed, f"{_good_for(facts)}. The {rule} needs {needs_text}, {share} of {of}.")


def needed_by_fraction(facts: TapFacts, limit_id: str) -> Fact:
    """Least ampacity by a fraction of the rating ahead, amperes at the conductor's voltage."""
    fraction = Fact(tables.limit_value(limit_id))
    return times(times(facts.fraction_base, facts.ratio), fraction, "least ampacity")


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


def leaving_condition(facts: TapFacts, limit_id: str, rule: str) -> Condition:
    """The tenth that counts only where the conductors leave the enclosure they start in."""
    found = fraction_condition(facts, limit_id, rule)
    if facts.leaves is False:
        return Condition("pass", f"{facts.name} does not leave the enclosure it starts in.")
    if facts.leaves is None and found.state != "pass":
        need = f"whether {facts.name} leaves the enclosure it starts in"
        return replace(found, state="unknown", needs=unique((*found.needs, need)))
    return found


def outdoor_condition(facts: TapFacts) -> Condition:
    """Outdoors except at its end."""
    if facts.outdoors is None:
        need = f"whether {facts.name} is outdoors except at its end, and any indoor part in feet"
        return Condition("unknown", f"Whether {facts.name} runs outdoors is not known yet.", needs=(need,))
    if not facts.outdoors:
        sentence = f"{facts.name} runs indoors. The outside rule is for conductors outdoors."
        return Condition("fail", sentence, cure="run it outdoors")
    return Condition("pass", f"{facts.name} is outdoors except at its end.")


def common_lines(facts: TapFacts) -> tuple[WorkLine, ...]:
    """The worksheet's first lines: the device ahead, the effective rating, the ampacity chain."""
    lines = [looked_up(f"{facts.ahead.name} ahead", facts.rating.value)]
    if facts.effective is not None:
        lines.append(looked_up(f"Counted as: {facts.effective_why}", facts.effective.value))
    return (*lines, *facts.found.lines)


def conductors_text(facts: TapFacts) -> str:
    """ "2 x 500 kcmil copper, 760 A"."""
    size = size_text(facts.run.size, facts.run.material, facts.run.sets)
    return f"{size}, {amperes(facts.iz.value)}"
