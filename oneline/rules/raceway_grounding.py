"""The raceway as the only equipment grounding conductor: which kinds may be, and flexible ones up to which limits."""

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
    compared,
    feet_inches,
    judged,
    number,
    rated,
    verdict,
    with_assumptions,
)
from oneline.rules.verdict import Verdict

_NO_RACEWAY = ("open", "within enclosure")


@dataclass(frozen=True)
class RacewayGroundFacts:
    """A run that counts on its raceway for grounding.

    ``kind`` and ``trade_size``: of the raceway, ``None`` unknown. ``length``: ft. ``rating``: of the device ``ahead``,
    amperes; for a tap that of the feeder. ``section``: where no rule of the raceway itself decides. ``assumed``: what of
    kind and trade size is only assumed.
    """

    subject: Subject
    edition: int
    kind: str | None
    trade_size: str | None
    length: Fact
    ahead: Subject
    rating: Fact
    section: str
    assumed: tuple[str, ...] = ()


@lru_cache(maxsize=2048)
def raceway_grounding(facts: RacewayGroundFacts) -> Verdict:
    """Whether the raceway may be the equipment grounding conductor (GND-7, GND-3 where it cannot be one).

    Rigid metal kinds may; their continuity is for the field. Flexible ones only within the limits of 250.118.
    """
    name, kind = facts.subject.name, facts.kind
    pull = "Pull an equipment grounding conductor."
    if kind is None:
        text = f"Whether the raceway of {name} can ground it is not known yet."
        return _one(facts, Condition("unknown", text, needs=(f"raceway of {name}",)))
    metal = None if kind in _NO_RACEWAY else tables.raceway_is_metal(kind)
    if kind in _NO_RACEWAY or metal is False:
        why = f"but {kind} is not metal and does not ground it" if kind not in _NO_RACEWAY else "but lies in none"
        fails = Condition("fail", f"{name} counts on its raceway for grounding, {why}.", assumed=facts.assumed)
        return _one(facts, fails, pull)
    if metal is None:
        text = f"Whether the {kind} {name} can ground by its sheath is not known yet: only some kinds are made for it."
        need = f"type of the cable {name}, and whether its sheath is listed as grounding conductor"
        return _one(facts, Condition("unknown", text, needs=(need,)))
    limits = tables.flexible_grounding(kind)
    check = f"Continuity of the metal raceway of {name}, end to end."
    if not limits:
        text = f"{name} is grounded by its {kind} alone, so every fitting of it has to be tight and continuous."
        return verdict(
            "GND-7", facts.subject, facts.edition, "advice", with_assumptions(text, facts.assumed, name),
            field_checks=(check,), basis="assumed" if facts.assumed else "entered",
        )  # fmt: skip
    return _flexible(facts, limits, pull, check)


def _one(facts: RacewayGroundFacts, condition: Condition, remedy: str = "") -> Verdict:
    return judged("GND-3", facts.subject, facts.edition, [condition], section=facts.section, remedy=remedy)


def _flexible(
    facts: RacewayGroundFacts, limits: tuple[tables.FlexibleGrounding, ...], pull: str, check: str
) -> Verdict:  # fmt: skip
    """GND-7 of flexible metal raceways: trade size, device ahead, length."""
    name, kind = facts.subject.name, facts.kind
    size_in = None if facts.trade_size is None else tables.trade_inches(facts.trade_size)
    fitting = [x for x in limits if size_in is None or x.trade_min_in <= size_in <= x.trade_max_in] or list(limits)
    devices, lengths = [x.device_max_a for x in fitting], [x.path_max_ft for x in fitting]
    need = f"trade size of the {kind} of {name}"
    device_a = _either(devices, need, facts.assumed)
    conditions = [
        _device(facts, device_a),
        _length(facts, _either(lengths, need, facts.assumed)),
        _trade_size(facts, size_in, max(x.trade_max_in for x in limits), need),
    ]
    each = f"{kind} may ground behind a device of at most {_or(devices)} and over at most {feet_inches(max(lengths))}"
    text = (
        f"{name} is grounded by its {kind} alone, within the limits of that: behind {rated(facts.ahead.name, facts.rating)}, "
        f"{feet_inches(facts.length.value)} long."
    )
    flexes = f"Whether {name} has to flex after it is installed: then it needs a wire-type grounding conductor."
    further = "" if all(c.state == "pass" for c in conditions) else f"{each}."
    found = judged(
        "GND-7", facts.subject, facts.edition, conditions, pass_message=text, further=further, remedy="",
        field_checks=(check, f"Listed fittings at both ends of {name}, and no other flexible raceway in its path.", flexes),
        others=(facts.ahead.id,),
    )  # fmt: skip
    return _as_advice(found, pull)


def _as_advice(found: Verdict, pull: str) -> Verdict:
    """What holds stays for the field to look at: the fittings make the connection."""
    if found.state == "pass":
        return replace(found, state="advice")
    return replace(found, remedy=pull) if found.state == "fail" else found


def _either(values: list[float], need: str, assumed: tuple[str, ...]) -> Fact:
    """A limit that the trade size decides: one figure, or between two."""
    exact = values[0] if len(set(values)) == 1 else None
    basis = "assumed" if assumed else "entered"
    return Fact(exact, min(values), max(values), basis, need, assumed=assumed)


def _or(values: list[float]) -> str:
    """ "20 A or 60 A by its trade size"."""
    each = [amperes(v) for v in dict.fromkeys(values)]
    return each[0] if len(each) == 1 else f"{' or '.join(each)} by its trade size"


def _device(facts: RacewayGroundFacts, limit: Fact) -> Condition:
    name, device = facts.subject.name, rated(facts.ahead.name, facts.rating)
    words = compared(facts.rating, limit, most=True)
    text = f"Whether the {facts.kind} of {name} may ground it behind {device} is not known yet."
    if words is not None:
        text = f"The {facts.kind} of {name} grounds it alone behind {device}, {words.gap} the {words.limit} allowed."
    return at_most(facts.rating, limit, text, must=f"be behind a device of at most {amperes(limit.most)}")


def _length(facts: RacewayGroundFacts, limit: Fact) -> Condition:
    name, length = facts.subject.name, facts.length
    words = compared(length, limit, "over", "inside", "ft", most=True)
    text = f"Whether the {facts.kind} of {name} is short enough to ground it is not known yet."
    if words is not None:
        text = f"The {facts.kind} of {name} grounds it alone over {words.value}, {words.gap} the {words.limit} allowed."
    return at_most(length, limit, text, "ft", must=f"be {feet_inches(limit.most)} or shorter")


def _trade_size(facts: RacewayGroundFacts, size_in: float | None, largest_in: float, need: str) -> Condition:
    name = facts.subject.name
    if size_in is None:
        text = f"Whether the {facts.kind} of {name} is small enough to ground it is not known yet."
        return Condition("unknown", text, None, largest_in, "in", "at most", (need,))
    fits = size_in <= largest_in
    text = f"The {facts.kind} of {name} is trade size {facts.trade_size}, and up to {number(largest_in, 2)} in it may ground."
    state = "pass" if fits else "fail"
    return Condition(
        state, text, size_in, largest_in, "in", "at most", assumed=facts.assumed, must="be a smaller trade size",
        basis="assumed" if facts.assumed else "entered",
    )  # fmt: skip


__all__ = ["RacewayGroundFacts", "raceway_grounding"]
