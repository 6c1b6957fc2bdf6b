"""The conditions that the tap rules and the secondary-conductor rules are made of, each a small function.

A feeder tap and a transformer secondary conductor are asked much the same; ``ratio`` is 1 for a feeder tap and the
voltage ratio primary to secondary for secondary conductors. What a condition says is a clause about "it", so that a rule
and the answer over all rules can say it after naming the conductors once.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property

from oneline import tables
from oneline.model.quick import quick
from oneline.rules.ampacity import Ampacity, RunFacts, ampacity
from oneline.rules.common import (
    Condition,
    Fact,
    Subject,
    amperes,
    at_least,
    at_most,
    bounded_amperes,
    bounds,
    compare_at_least,
    compared,
    feet_inches,
    listed,
    rated,
    unique,
)
from oneline.rules.verdict import Later, Verdict

#: Raceways that enclose conductors; the others need somebody's judgement or do not protect at all.
ENCLOSING = ("EMT", "RMC", "IMC", "PVC-40", "PVC-80", "FMC", "LFMC", "wireway", "within enclosure")

#: More devices than this at the end of a tap are counted instead of named.
_NAMED_AT_MOST = 3

#: What is open while it is not known whether conductors run outdoors.
WHERE_IT_RUNS = ("where it runs",)

NOT_KNOWN = Fact(None)
ONE = Fact(1.0)


@quick
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
    #: Where it stands and whether it is readily accessible, as in the drawing; of devices only.
    stands: str | None = None
    accessible: bool | None = None
    #: Overcurrent device and disconnect in one: all but fuses without a switch.
    in_disconnect: bool = True


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
    #: Indoor part of an outside run, ft.
    indoor: Fact = NOT_KNOWN

    @property
    def name(self) -> str:
        return self.run.subject.name

    @cached_property
    def found(self) -> Ampacity:
        return ampacity(self.run)

    @cached_property
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
    """One rule tried: its verdict and the conditions it was decided by.

    ``reason``: the part of its sentence after the rule's name, about "it".
    """

    verdict: Verdict
    conditions: tuple[Condition, ...] = ()
    reason: Later[str] = Later("")  # noqa: RUF009 - a descriptor, one for all

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
def length_condition(facts: TapFacts, limit_ft: float) -> Condition:
    """Longest permitted conductor length, ft."""
    limit, most = Fact(limit_ft), feet_inches(limit_ft)
    bound = ""
    if facts.length.value is None and facts.length.least:
        bound = f", at least {feet_inches(facts.length.least, 'down')}"

    def text() -> str:
        words = compared(facts.length, limit, "over", "inside", "ft", most=True)
        if words is None:
            return f"it may be up to {most} long; its length is not known yet{bound}"
        long = feet_inches(facts.length.value, "up") if facts.length.value is not None else words.value
        gap = f"just the {most}" if words.gap == "exactly" else f"{words.gap} the {most}"
        return f"it is {long} long, {gap} allowed"

    return at_most(
        facts.length, limit, text, "ft", must=f"be {most} or shorter", open=(f"its length{_in_commas(bound)}",)
    )


def _in_commas(bound: str) -> str:
    return f"{bound}," if bound else ""


def load_condition(facts: TapFacts) -> Condition:
    """Ampacity at least the calculated load."""
    return _ampacity_condition(facts, facts.load, "its load", lambda a: f"its calculated load{a and f' of {a}'}")


def _ampacity_condition(facts: TapFacts, limit: Fact, what: str, words_of: Callable[[str], str]) -> Condition:
    """Ampacity at least a number that belongs to something. ``what``: what is not known where it is not; ``words_of``:
    it in a sentence, from the number as text, which may be empty."""
    iz = facts.iz
    phrase = words_of(amperes(limit.value, iz.value) if limit.value is not None else "")

    def text() -> str:
        words = compared(iz, limit)
        if words is not None:
            return f"it is good for {words.value}, {words.gap} {words_of(words.limit)}"
        good = "its ampacity is not known yet" if iz.value is None else f"it is good for {amperes(iz.value)}"
        return f"{good}, with {phrase}"

    return at_least(
        iz, limit, text, must=f"be good for {phrase}", open=_opened(("its ampacity", iz), (what, limit))
    )  # fmt: skip


def _opened(*parts: tuple[str, Fact]) -> tuple[str, ...]:
    """What is not known of several numbers; with its bounds where it is the only one."""
    unknown = [(what, fact) for what, fact in parts if fact.value is None or fact.up_to is not None]
    if len(unknown) != 1:
        return tuple(what for what, _ in unknown)
    what, fact = unknown[0]
    known = bounds(fact)
    return (f"{what} ({known})" if known else what,)


def end_rating_condition(facts: TapFacts) -> Condition:
    """Ampacity at least the rating of the device at the end, or of the equipment that holds the devices; no rounding."""
    blocked = _no_device(facts)
    if blocked is not None:
        return blocked
    if len(facts.devices) == 1 and not facts.scheduled:
        return _device_condition(facts, facts.devices[0])
    if facts.equipment is not None:
        name, rating = facts.equipment.name, facts.equipment_rating
        by_equipment = _ampacity_condition(
            facts, rating, f"the bus rating of {name}", lambda a: f"the bus of {name}{a and f' ({a})'}"
        )
        if by_equipment.state == "pass" or facts.scheduled:
            return by_equipment
        together = _several_devices(facts)
        if by_equipment.state == "fail" and together.state == "pass":
            asks = f"{by_equipment.message}; its devices together fit, which is for the authority to accept"
            return replace(by_equipment, state="judge", message=asks)
        return by_equipment if together.state == "pass" else together
    return _several_devices(facts)


def _device_condition(facts: TapFacts, end: TapEnd) -> Condition:
    name = end.item.name
    return _ampacity_condition(
        facts, end.rating, f"the rating of {name}", lambda a: f"{name}{a and f' ({a})'} at its end"
    )


def _several_devices(facts: TapFacts) -> Condition:
    """Several devices without equipment of a fitting rating: together they pass, one alone too large fails."""
    names = listed([e.item.name for e in facts.devices])
    ratings = [e.rating for e in facts.devices]
    needs = unique(n for r in ratings for n in r.needs)
    if any(compare_at_least(facts.iz, r) == "fail" for r in ratings):
        worst_end = next(e for e in facts.devices if compare_at_least(facts.iz, e.rating) == "fail")
        return _device_condition(facts, worst_end)
    if needs or facts.iz.value is None:
        return Condition(
            "unknown", f"it ends in {names}, not all known yet", needs=unique((*facts.iz.needs, *needs)),
            must=f"be good for {names} together", open=("the ratings of these devices",) if needs else ("its ampacity",),
        )  # fmt: skip
    total = Fact(sum(r.value or 0.0 for r in ratings), name="sum of the devices")
    found = _ampacity_condition(facts, total, "", lambda a: f"{names}, together {a}")
    if found.state == "fail":
        asks = f"{found.message}; each of them fits, their sum is for the authority to accept"
        return replace(found, state="judge", message=asks)
    return found


def _no_device(facts: TapFacts) -> Condition | None:
    """Fails or is unknown where the tap does not end in an overcurrent device at all."""
    must = "end in one breaker or one set of fuses"
    loose = [e for e in facts.ends if e.kind in ("load", "transformer")]
    if loose:
        names = listed([e.item.name for e in loose])
        text = f"it reaches {names} without an overcurrent device at its end"
        return Condition("fail", text, cure="end it in one breaker or one set of fuses", must=must)
    if not facts.devices and not facts.scheduled:
        need = f"overcurrent device at the end of {facts.name}"
        text = "what it ends in is not on the drawing"
        return Condition("unknown", text, needs=(need,), must=must, open=("what it ends in",))
    return None


def single_device_condition(facts: TapFacts) -> Condition:
    """Ends in one breaker or one set of fuses, not larger than the ampacity; no rounding."""
    blocked = _no_device(facts)
    if blocked is not None:
        return blocked
    if len(facts.devices) != 1 or facts.scheduled:
        names = [e.item.name for e in facts.devices]
        if len(names) > _NAMED_AT_MOST:
            names = [f"{len(names)} devices"]
        if facts.scheduled and facts.equipment is not None:
            names.append(f"the circuits of {facts.equipment.name}")
        text = f"it ends in {listed(names)} instead of one breaker or one set of fuses"
        return Condition("fail", text, must="end in one breaker or one set of fuses")
    return _device_condition(facts, facts.devices[0])


def stays_condition(facts: TapFacts) -> Condition:
    """The conductors do not go on past the equipment they supply."""
    must = "end at the equipment it supplies"
    if facts.beyond:
        text = f"it goes on beyond {listed(facts.beyond)}, which it supplies"
        return Condition("fail", text, cure="end it at the equipment it supplies", must=must)
    return Condition("pass", "it ends at the equipment it supplies", must=must)


def raceway_condition(facts: TapFacts) -> Condition:
    """Enclosed in a raceway."""
    kind, must = facts.run.raceway, "be in a raceway"
    if kind is None:
        need = f"raceway of {facts.name}"
        return Condition("unknown", "its raceway is not known yet", needs=(need,), must=must, open=("its raceway",))
    if kind in ENCLOSING:
        return Condition("pass", f"it is in {kind}" if kind != "within enclosure" else "it is inside an enclosure")
    return Condition("fail", f"it is {_raceway_words(kind)}", cure="run it in a raceway", must=must)


def damage_condition(facts: TapFacts) -> Condition:
    """Protected from physical damage by a raceway or by other means the authority accepts."""
    kind = facts.run.raceway
    found = raceway_condition(facts)
    if found.state == "fail" and kind == "cable":
        return Condition("judge", "it is a cable, and whether that protects it from damage is for the authority")
    if found.state == "fail":
        text = f"it is {_raceway_words(str(kind))}, without protection from damage"
        return Condition("fail", text, cure="run it in a raceway", must="be protected from damage")
    return found


def _raceway_words(kind: str) -> str:
    return {"open": "not in a raceway", "cable": "a cable, not in a raceway", "busway": "a busway"}.get(kind, kind)


def fraction_condition(facts: TapFacts, limit_id: str) -> Condition:
    """Ampacity at least a tenth or a third of the rating ahead (through the voltage ratio)."""
    iz, needed, of = facts.iz, needed_by_fraction(facts, limit_id), _fraction_words(facts, limit_id)
    least = amperes(needed.value, iz.value) if needed.value is not None else ""

    def text() -> str:
        words = compared(iz, needed)
        if words is not None:
            return f"it is good for {words.value}, {words.gap} the {words.limit} needed, {of}"
        good = "its ampacity is not known yet" if iz.value is None else f"it is good for {amperes(iz.value)}"
        return f"{good}; it needs {least + ', ' if least else ''}{of}"

    must = f"be good for {least}, {of}" if least else f"be good for {of}"
    base = "what counts as the rating ahead of it" if facts.effective_why else f"the rating of {facts.ahead.name}"
    return at_least(
        iz,
        needed,
        text,
        must=must,
        open=_opened(("its ampacity", iz), (base, facts.fraction_base), ("the voltage ratio", facts.ratio)),
    )


def _fraction_words(facts: TapFacts, limit_id: str) -> str:
    """ "a third of Main 1 (600 A)"."""
    fraction = tables.limit_value(limit_id)
    of = rated(facts.ahead.name, facts.rating)
    if facts.effective_why:
        of = f"{bounded_amperes(facts.fraction_base)} ({facts.effective_why})"
    if facts.ratio.value not in (1.0, None):
        of += ", through the transformer"
    share = {10: "a tenth", 3: "a third"}.get(round(1 / fraction), f"{fraction:g}")
    return f"{share} of {of}"


def needed_by_fraction(facts: TapFacts, limit_id: str) -> Fact:
    """Least ampacity by a fraction of the rating ahead, amperes at the conductor's voltage."""
    fraction = Fact(tables.limit_value(limit_id))
    return times(times(facts.fraction_base, facts.ratio), fraction, "least ampacity")


def leaving_condition(facts: TapFacts, limit_id: str) -> Condition:
    """The tenth that counts only where the conductors leave the enclosure they start in."""
    found = fraction_condition(facts, limit_id)
    if facts.leaves is False:
        return Condition("pass", "it does not leave the enclosure it starts in")
    if facts.leaves is None and found.state != "pass":
        need = f"whether {facts.name} leaves the enclosure it starts in"
        must = "stay in the enclosure it starts in" if found.state == "fail" else found.must
        open_ = ("whether it does",) if found.state == "fail" else found.open
        return replace(found, state="unknown", needs=unique((*found.needs, need)), must=must, open=open_)
    return found
