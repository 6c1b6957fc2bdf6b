"""How steps, devices and records of an outage are written in the panes. No calculation."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta

from oneline.desk.panes.words import UNKNOWN, amperes, amperes_at_most, join
from oneline.model import Drawing, VoltageTest, WorkZone, specs
from oneline.outage.results import Plan, Step, SwitchCurrent, ZoneAnswer

_STAMPS = ("%Y-%m-%d %H:%M", "%Y-%m-%dT%H:%M", "%Y-%m-%d %H:%M:%S")
_BASES = {"reading": "read", "calculated": "calculated", "none left": "nothing left on it", "dead": "dead by then"}
STATE_WORDS = {
    "isolated": "Can be isolated by the drawing",
    "unknown": "Unknown: something touches it that nobody traced",
    "not here": "Not here: only the utility can make it dead",
}
PAIR_FIELDS = tuple(name for name in specs(VoltageTest) if name.endswith("_v"))


def now_words() -> str:
    """Date and time of day, as records have it."""
    return datetime.now().strftime("%Y-%m-%d %H:%M")


def clock(when: str) -> str:
    """The time of day of a record, or the record as it is."""
    found = stamp(when)
    return f"{found:%H:%M}" if found is not None else when


def stamp(text: str | None) -> datetime | None:
    """Date and time as written, ``None`` when it is something else."""
    for form in _STAMPS:
        try:
            return datetime.strptime((text or "").strip(), form)
        except ValueError:
            continue
    return None


def when_words(minute: float | None, zone: WorkZone) -> str:
    """When a step begins: the time of day where it is known when the outage begins, else minutes from its start."""
    if minute is None:
        return UNKNOWN
    begins = stamp(zone.begins)
    if begins is not None:
        return f"{begins + timedelta(minutes=minute):%H:%M}"
    return f"+{minute:.0f} min"


def current_words(current: SwitchCurrent | None) -> str:
    """Amperes at the moment of operating, with what they rest on."""
    if current is None:
        return ""
    if current.basis in ("none left", "dead"):
        return _BASES[current.basis]
    if current.amperes is not None:
        return f"{amperes(current.amperes)}, {_BASES.get(current.basis, current.basis)}"
    if current.at_most is not None:
        return f"{amperes_at_most(current.at_most)}, {_BASES.get(current.basis, 'bound')}"
    return UNKNOWN


def dark_words(step: Step, drawing: Drawing) -> str:
    """What loses or gets power at a step, by name where it is one or two."""

    def named(ids: Sequence[str]) -> str:
        return join([drawing.name_of(i) for i in ids]) if len(ids) <= 2 else f"{len(ids)} items"

    said = [named(step.dark)] if step.dark else []
    if step.back:
        said.append(f"back: {named(step.back)}")
    return "; ".join(said)


def problem_words(step: Step, plan: Plan) -> str:
    """What is wrong or open with a step: first that it stands in a bad place."""
    said = [p.says for p in plan.problems if p.step == step.key]
    if step.why and step.why not in said:
        said.append(step.why)
    return " ".join(said)


def answer_state(step: Step, plan: Plan) -> str:
    """The state that a step is marked with: one in a bad place fails."""
    return "fail" if any(p.step == step.key for p in plan.problems) else step.state


def answer_lines(answer: ZoneAnswer, plan: Plan) -> list[str]:
    """Sentences below the answer: what only the utility can do, what nobody traced, what is known by its label only."""
    said = [b.says for b in answer.blocked]
    said += list(answer.unknown)
    if plan.isolation is not None:
        said += [f"{b.name} still reaches the zone: {b.says}" for b in plan.isolation.reached]
        said += [u for u in plan.isolation.unknown if u not in said]
        said += plan.isolation.rests_on
    if answer.missing:
        said.append(f"Not on the drawing in this view: {', '.join(answer.missing)}.")
    said += [f"Beside the work: {sentence}" for sentence in plan.beside]
    said += list(answer.listed)
    if plan.isolation is not None and plan.isolation.proof:
        said.append(plan.isolation.proof)
    return said


def test_words(test: VoltageTest) -> str:
    """What a test on record found."""
    volts = {name: getattr(test, name) for name in PAIR_FIELDS}
    known = {name: v for name, v in volts.items() if v is not None}
    labels = specs(VoltageTest)
    most = max(known, key=lambda n: known[n], default="")
    found = f"{len(known)} pairs, highest {labels[most].label} {known[most]:g} V" if known else "no pair read"
    return f"{test.when}, {test.by or 'nobody named'}: {found}"


def positions_words(positions: Mapping[str, bool], drawing: Drawing) -> str:
    """ "3 devices" or the name of one."""
    items = list(dict.fromkeys(key.partition("/")[0] for key in positions))
    return drawing.name_of(items[0]) if len(items) == 1 else f"{len(items)} devices"
