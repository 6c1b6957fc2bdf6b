"""Voltage ratings of devices: straight and slash ratings on the systems where they are used (240.83, 240.85)."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache, partial

from oneline import tables
from oneline.model.quick import quick
from oneline.rules.common import Condition, Subject, difference, judged, listed, number, verdict
from oneline.rules.verdict import Verdict


@quick
@dataclass(frozen=True)
class VoltageFacts:
    """A device's voltage rating and where it is used. ``marked``: e.g. "480Y/277", "240"; ``None`` unknown.

    ``single_pole``: used line to neutral. ``high_leg``: one of its poles is on the high leg (``None``: may be).
    ``system_need``: what to find out where the system is not known.
    """

    subject: Subject
    edition: int
    system: str | None
    marked: str | None
    single_pole: bool = False
    high_leg: bool | None = False
    system_need: str = "system voltage"


@cache
def rated_volts(marked: str) -> tuple[float, float | None]:
    """Volts line to line of a rating, and to ground where it is a slash rating ("120/240" and "480Y/277" alike)."""
    parts = sorted((float(p) for p in marked.replace("Y", "").split("/")), reverse=True)
    return parts[0], parts[1] if len(parts) > 1 else None


def voltage_rating(facts: VoltageFacts) -> Verdict:
    """FLT-3: straight ratings wherever a pole can see more than the lower value of a slash rating."""
    name = facts.subject.name
    if facts.system is None or facts.marked is None:
        needs = []
        if facts.marked is None:
            needs.append(f"voltage rating of {name}")
        if facts.system is None:
            needs.append(facts.system_need)
        known = f" of {facts.marked} V" if facts.marked is not None else ""
        text = f"Whether the voltage rating{known} of {name} fits is not known yet."
        return verdict("FLT-3", facts.subject, facts.edition, "unknown", text, needs=tuple(needs))
    conditions = _voltage_conditions(facts, facts.system, facts.marked)

    def pass_message() -> str:
        sees = listed([f"{number(c.value)} V {where}" for c, where in zip(conditions, _WHERE, strict=False) if c.value])
        return f"{name} is rated {facts.marked} V and sees {sees} on {facts.system}."

    failing = [c.value for c in conditions if c.state == "fail" and c.value is not None]
    straight = max(*failing, conditions[0].value or 0.0) if failing else 0.0
    remedy = f"Fit a device with a straight rating of at least {number(straight)} V." if failing else ""
    return judged("FLT-3", facts.subject, facts.edition, conditions, pass_message=pass_message, remedy=remedy)


_WHERE = ("across it", "to ground")


def _voltage_conditions(facts: VoltageFacts, code: str, marked: str) -> list[Condition]:
    system, name = tables.system(code), facts.subject.name
    high, to_ground = rated_volts(marked)
    across = system.v_ln if facts.single_pole and system.v_ln else system.v_ll
    if facts.single_pole and facts.high_leg and system.v_high_leg:
        across = system.v_high_leg
    conditions = [_volts(name, marked, code, across, high, "across it")]
    if to_ground is None:
        return conditions
    grounded = system.grounding in ("neutral", "midpoint")
    ground_v = system.v_ln if grounded and system.v_ln else system.v_to_ground
    if not grounded:
        text = (
            f"{name} has a slash rating of {marked} V, and {code} has no grounded neutral: a pole can see "
            f"{number(system.v_to_ground)} V to ground."
        )
        conditions.append(Condition("fail", text, system.v_to_ground, to_ground, "V", "at most"))
        return conditions
    if system.v_high_leg and facts.high_leg is None:
        text = f"Whether the slash rating of {name} fits is not known yet: one of its poles may be on the high leg."
        need = f"phases of {name} (is it on the high leg?)"
        conditions.append(Condition("unknown", text, needs=(need,)))
        return conditions
    if system.v_high_leg and facts.high_leg:
        ground_v = system.v_high_leg
    conditions.append(_volts(name, marked, code, ground_v, to_ground, "to ground"))
    return conditions


def _volts(name: str, marked: str, code: str, volts: float, most: float, where: str) -> Condition:
    said = partial(_volts_said, name, marked, code, volts, most, where)
    return Condition("pass" if volts <= most else "fail", said, volts, most, "V", "at most")


def _volts_said(name: str, marked: str, code: str, volts: float, most: float, where: str) -> str:
    gap = "exactly" if volts == most else f"{difference(volts, most, 'V')} {'more' if volts <= most else 'less'} than"
    return f"{name}, {marked} V, is rated {number(most)} V {where}, {gap} the {number(volts)} V it sees on {code}."
