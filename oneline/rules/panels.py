"""Panels (article 408): what protects the bus, the directory, and where each breaker sits."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from oneline import tables
from oneline.model.quick import quick
from oneline.rules.common import (
    Condition,
    Fact,
    Subject,
    amperes,
    at_most,
    compare_at_least,
    compared,
    computed,
    judged,
    listed,
    looked_up,
    rated,
    verdict,
)
from oneline.rules.tap_conditions import ONE, times
from oneline.rules.verdict import Verdict, WorkLine


# ------------------------------------------------------------------------------------------- protection (PNL-1)
@quick
@dataclass(frozen=True)
class PanelFacts:
    """A panelboard and the device that is meant to protect it. Amperes at the panel.

    ``device``: the nearest overcurrent device toward the source, in the panel or ahead of it, ``None`` where there is
    none; ``device_rating`` at its own voltage. ``ratio``: amperes there times it are amperes at the panel.
    ``behind_transformer``: id and name of a transformer between device and panel, where its secondary is not
    protected by the primary (240.21(C)(1), delta-delta and two-wire excepted). ``through``: the nearest transformer
    otherwise; ``through_needs``: what is not known of those that decides whether the primary protects. ``service_mains``:
    number of service disconnects on the panel itself.
    """

    subject: Subject
    edition: int
    rating: Fact
    device: Subject | None
    device_rating: Fact
    behind_transformer: Subject | None = None
    service_mains: int = 0
    ratio: Fact = ONE
    through: Subject | None = None
    through_needs: tuple[str, ...] = ()
    #: Ids of further devices side by side with ``device``, whose name and rating are then those of all together.
    together: tuple[str, ...] = ()

    @property
    def at_panel(self) -> Fact:
        """The device's rating as it acts at the panel: through the voltage ratio of transformers between (408.36(B))."""
        return self.device_rating if self.through is None else times(self.device_rating, self.ratio)


def panel_protection(facts: PanelFacts) -> Verdict:
    """PNL-1: a device of at most the bus rating in the panel or on its supply side (408.36)."""
    name = facts.subject.name
    if facts.device is None:
        return _without_device(facts)
    others: tuple[str, ...] = (facts.device.id, *facts.together)
    device = facts.device
    conditions = [at_most(facts.at_panel, facts.rating, lambda: _protected(facts, device.name))]
    remedy = ""
    if facts.behind_transformer is not None:
        secondary = (
            f"{name} is protected only by {facts.device.name}, on the primary side of {facts.behind_transformer.name}, and "
            f"needs a device on the secondary side."
        )
        conditions = [Condition("fail", secondary)]
        others = (*others, facts.behind_transformer.id)
        most = f" of at most {amperes(facts.rating.value)}" if facts.rating.value is not None else ""
        remedy = f"Add a main{most}, or a device ahead of it on the secondary side."
    elif conditions[0].state == "fail":
        most = amperes(facts.rating.most)
        change = "" if facts.through is not None else f", or change {facts.device.name} to at most {most}"
        remedy = f"Add a main of at most {most}{change}."
        if facts.together:
            remedy = f"Feed it through one device of at most {most}."
    if facts.through is not None and facts.behind_transformer is None:
        others = (*others, facts.through.id)
        if facts.through_needs:
            text = f"Whether {facts.device.name} protects {name} through {facts.through.name} is not known yet."
            conditions.append(Condition("unknown", text, needs=facts.through_needs))

    def lines() -> tuple[WorkLine, ...]:
        return (
            looked_up("Bus rating", facts.rating.value, "A", "label"),
            looked_up(f"{device.name}", facts.device_rating.value),
            *_through_line(facts),
        )

    return judged("PNL-1", facts.subject, facts.edition, conditions, remedy=remedy, work=lines, others=others)


def _through_line(facts: PanelFacts) -> tuple[WorkLine, ...]:
    """The primary device through the voltage ratio, where both are known."""
    if facts.through is None or facts.device_rating.value is None or facts.ratio.value is None:
        return ()
    return (
        computed("Primary device on the secondary side", "rating_a * voltage_ratio", rating_a=facts.device_rating.value,
                 voltage_ratio=facts.ratio.value),
    )  # fmt: skip


def _protected(facts: PanelFacts, device: str) -> str:
    name, words = rated(facts.subject.name, facts.rating), compared(facts.at_panel, facts.rating, most=True)
    if words is None:
        does = "protect" if facts.together else "protects"
        return f"Whether {rated(device, facts.device_rating)} {does} {name} is not known yet."
    passes = compare_at_least(facts.rating, facts.at_panel) == "pass"
    if facts.together:
        does = "protect" if passes else "do not protect"
        return (
            f"{device} side by side ({words.value} together) {does} {name}, {words.gap} the {words.limit} of its bus."
        )
    does = "protects" if passes else "does not protect"
    if facts.through is not None:
        acts = f"{rated(device, facts.device_rating)}, through {facts.through.name} {words.value},"
        return f"{acts} {does} {facts.subject.name}: {words.gap} the {words.limit} of its bus."
    return f"{device} ({words.value}) {does} {facts.subject.name}, {words.gap} the {words.limit} of its bus."


def _without_device(facts: PanelFacts) -> Verdict:
    name = facts.subject.name
    if facts.service_mains:
        text = (
            f"{name} is service equipment with {facts.service_mains} service disconnects and no single main, allowed as an "
            "exception. No second bus may be behind them."
        )
        return verdict("PNL-1", facts.subject, facts.edition, "judge", text)
    most = f" of at most {amperes(facts.rating.value)}" if facts.rating.value is not None else ""
    text = f"{name} has no overcurrent device in it or ahead of it."
    return verdict(
        "PNL-1", facts.subject, facts.edition, "fail", text, remedy=f"Add a main{most} to it or ahead of it."
    )


# --------------------------------------------------------------------------------------------- directory (PNL-3)
@quick
@dataclass(frozen=True)
class DirectoryLine:
    """A line of a panel's schedule. ``use`` and ``traced`` as in the drawing."""

    space: int
    description: str
    use: str = "load"
    traced: str | None = None


#: Words that say what, not where or for whom; alone they do not tell a circuit from the others. Common practice.
_VAGUE_WORDS = """
    light lights lighting plug plugs outlet outlets receptacle receptacles recept recepts misc miscellaneous general office
    offices room rooms equipment power load circuit panel other various unknown existing
"""
_VAGUE = frozenset(_VAGUE_WORDS.split())
_FILLER = frozenset(["the", "and", "of", "for", "in", "on", "at", "to", "a", "no", "#", "-", "/", "&"])
_PERSON = re.compile(r"\b([A-Z][a-z]+['’]s|[A-Z]{2,}['’]S)\b")
#: Words that look like a person's name before "'s" and name a kind of room or a role instead. Common practice.
_ROLES = "men women lady gent boy girl child children staff manager owner janitor driver chef nurse"
_NO_PERSON = frozenset(_ROLES.split())
#: Words of what is there for a while only; whoever reads the directory next year cannot know. Common practice.
_FOR_A_WHILE = "temp temporary tmp christmas xmas holiday decorations tbd later now"
_PASSING = frozenset(_FOR_A_WHILE.split())


@lru_cache(maxsize=4096)
def is_vague(description: str) -> bool:
    """Whether a description names nothing that tells the circuit from others: a kind of load without a place."""
    words = [w for w in re.split(r"[\s,.;:()?!]+", description.casefold()) if w and w not in _FILLER]
    return bool(words) and all(w in _VAGUE or w.isdigit() for w in words)


@lru_cache(maxsize=4096)
def names_a_person(description: str) -> bool:
    """Whether a description depends on who occupies a place ("Bob's desk"); rooms such as "Men's restroom" do not."""
    return any(name[:-2].casefold() not in _NO_PERSON for name in _PERSON.findall(description))


def is_unsure(description: str) -> bool:
    """Whether whoever wrote it did not know either ("spare?", "lights ??")."""
    return "?" in description


@lru_cache(maxsize=4096)
def is_passing(description: str) -> bool:
    """Whether it names something that is there for a while only ("temp heater", "xmas lights")."""
    return any(w in _PASSING for w in re.split(r"[\s,.;:()?/]+", description.casefold()))


def directory(panel: Subject, edition: int, lines: Sequence[DirectoryLine]) -> tuple[Verdict, ...]:
    """PNL-3: every circuit clearly described and traced (408.4(A)). One answer for what is missing, one for what is weak."""
    name = panel.name
    if not lines:
        text = f"What the circuits of {name} feed is not known yet: none is entered."
        return (verdict("PNL-3", panel, edition, "unknown", text, needs=(f"directory of {name}",)),)
    found: list[Verdict] = []
    open_lines = [x for x in lines if x.use == "load" and (x.traced == "untraced" or not x.description.strip())]
    if open_lines:
        spaces_text = listed([str(x.space) for x in open_lines])
        many = "circuit" if len(open_lines) == 1 else "circuits"
        one = len(open_lines) == 1
        text = f"What {many} {spaces_text} of {name} {'feeds' if one else 'feed'} is not known yet."
        found.append(
            verdict(
                "PNL-3", panel, edition, "unknown",
                f"{text} Trace {'it' if one else 'them'} before work; never guess in the directory.",
                needs=(f"trace of {many} {spaces_text} of {name}",),
            )
        )  # fmt: skip
    weak = _weaknesses(lines)
    if weak:
        found.append(
            verdict(
                "PNL-3", panel, edition, "advice", f"The directory of {name} is not clear: {'; '.join(weak)}.",
                remedy="Say what and where for each circuit: \"Receptacles north wall, shop 3\".",
            )
        )  # fmt: skip
    if not found:
        text = f"Every line entered in the directory of {name} is specific."
        found.append(verdict("PNL-3", panel, edition, "pass", text))
    return tuple(found)


def _weaknesses(lines: Sequence[DirectoryLine]) -> list[str]:
    used = [x for x in lines if x.use in ("load", "feeder") and x.description.strip()]
    weak = []
    vague = [x for x in used if is_vague(x.description)]
    if vague:
        weak.append(f"no place in {_quoted(vague)}")
    unsure = [x for x in used if is_unsure(x.description) and not is_vague(x.description)]
    if unsure:
        weak.append(f"a question mark in {_quoted(unsure)}")
    passing = [x for x in used if is_passing(x.description)]
    if passing:
        weak.append(f"there for a while only {_quoted(passing)}")
    people = [x for x in used if names_a_person(x.description)]
    if people:
        weak.append(f"named after a person {_quoted(people)}")
    by_text: dict[str, list[DirectoryLine]] = {}
    for line in used:
        by_text.setdefault(" ".join(line.description.casefold().split()), []).append(line)
    for same in by_text.values():
        if len(same) > 1 and not is_vague(same[0].description):
            weak.append(f"same description on {listed([str(x.space) for x in same])} ({same[0].description})")
    return weak


def _quoted(lines: Sequence[DirectoryLine]) -> str:
    return listed([f"{x.space} ({x.description})" for x in lines])


# ------------------------------------------------------------------------------------------------ places (PNL-4)
@quick
@dataclass(frozen=True)
class PlacedDevice:
    """Something that takes spaces in a panel: a line of the schedule, or a drawn device.

    ``phases``: as drawn, ``None`` unknown; ``expected``: by its spaces. ``item``: id of a drawn device. ``label``: for
    sentences. ``counted``: its poles are known, so that ``spaces`` are all it takes.
    """

    label: str
    spaces: tuple[int, ...]
    phases: str | None = None
    expected: str = ""
    item: str = ""
    counted: bool = True


def positions(
    panel: Subject, edition: int, devices: Sequence[PlacedDevice], spaces: int | None, phases: str
) -> list[Verdict]:
    """PNL-4: no two devices in one space, none beyond the panel, none on phases its spaces do not have (408.3(E)).

    ``spaces``: number of spaces of the panel; ``phases``: of its bus, "" unknown. A pass is said once, and only where
    both are known as far as they could end it.
    """
    found = [*_doubled(panel, edition, devices), *_beyond(panel, edition, devices, spaces)]
    found += [_on_other_phases(panel, edition, d) for d in devices if _differs(d)]
    for device in devices:
        if phases and len(device.spaces) > len(phases):
            what = f"{_capital(device.label)} takes {len(device.spaces)} spaces"
            text = f"{what} in {panel.name}, which has {len(phases)} phases."
            remedy = "Correct the number of poles or the phases of the panel."
            found.append(verdict("PNL-4", panel, edition, "fail", text, remedy=remedy, others=_ids([device])))
    found += _places_open(panel, edition, devices, spaces, phases)
    if not found and devices:
        text = f"Every device in {panel.name} has spaces of its own."
        check = f"Confirm the phase of the first three spaces of {panel.name} by measurement; old panels differ."
        found.append(verdict("PNL-4", panel, edition, "pass", text, field_checks=(check,)))
    return found


def _places_open(
    panel: Subject, edition: int, devices: Sequence[PlacedDevice], spaces: int | None, phases: str
) -> list[Verdict]:  # fmt: skip
    """What the panel's own facts leave open: whether the last space is one it has, whether it has as many phases."""
    last = max((s for d in devices for s in d.spaces), default=0)
    needs = []
    if spaces is None and last:
        needs.append(f"number of spaces of {panel.name} (space {last} is taken)")
    if not phases and any(len(d.spaces) > 1 for d in devices):
        needs.append(f"phases of {panel.name}")
    needs += [f"poles of {d.label}" for d in devices if not d.counted]
    if not needs:
        return []
    text = f"Whether each device in {panel.name} has spaces of its own, on a phase for each of its poles, is not known yet."
    return [verdict("PNL-4", panel, edition, "unknown", text, needs=tuple(needs))]


def _capital(label: str) -> str:
    return label[:1].upper() + label[1:]


def _doubled(panel: Subject, edition: int, devices: Sequence[PlacedDevice]) -> list[Verdict]:
    at: dict[int, list[PlacedDevice]] = {}
    for device in devices:
        for space in device.spaces:
            at.setdefault(space, []).append(device)
    found, seen = [], set()
    for space, there in at.items():
        key = tuple(id(d) for d in there)
        if len(there) < 2 or key in seen:
            continue
        seen.add(key)
        text = f"Space {space} of {panel.name} is taken twice: {listed([d.label for d in there])}."
        remedy = "Correct the space numbers; a circuit whose device is drawn is a feeder line that names it."
        found.append(verdict("PNL-4", panel, edition, "fail", text, remedy=remedy, others=_ids(there)))
    return found


def _beyond(panel: Subject, edition: int, devices: Sequence[PlacedDevice], spaces: int | None) -> list[Verdict]:
    if spaces is None:
        return []
    past = [d for d in devices if d.spaces and max(d.spaces) > spaces]
    found = []
    for device in past:
        last = max(device.spaces)
        text = f"{_capital(device.label)} would take space {last} of {panel.name}, {last - spaces} beyond its last, {spaces}."
        found.append(
            verdict(
                "PNL-4", panel, edition, "fail", text, value=float(last), limit=float(spaces), unit="spaces",
                relation="at most", remedy="Correct the space number or the number of spaces.", others=_ids([device]),
            )
        )  # fmt: skip
    return found


def _differs(device: PlacedDevice) -> bool:
    return bool(device.phases and device.expected and set(device.phases) != set(device.expected))


def _on_other_phases(panel: Subject, edition: int, device: PlacedDevice) -> Verdict:
    spaces = listed([str(s) for s in device.spaces])
    text = (
        f"The phase of {device.label} is not known yet: drawn on {'-'.join(device.phases or '')}, but space {spaces} of "
        f"{panel.name} is on {'-'.join(device.expected)} by the usual arrangement."
    )
    need = f"phase of space {spaces} of {panel.name}, measured"
    return verdict("PNL-4", panel, edition, "unknown", text, needs=(need,), others=_ids([device]))


def _ids(devices: Sequence[PlacedDevice]) -> tuple[str, ...]:
    return tuple(d.item for d in devices if d.item)


# ---------------------------------------------------------------------------------------------- high leg (HL-1)
def high_leg_circuits(panel: Subject, edition: int, labels: Sequence[str], code: str) -> Verdict | None:
    """HL-1: no load line to neutral on the high leg. ``labels``: single-pole circuits that sit on it."""
    volts = tables.system(code).v_high_leg
    if not labels or volts is None:
        return None
    are = "is" if len(labels) == 1 else "are"
    text = f"{_capital(listed(tuple(labels)))} {are} on the high leg of {panel.name}, {volts:g} V to neutral."
    check = f"On which phase the high leg of {panel.name} really is: measure every phase to neutral."
    remedy = "Move these circuits to the other two phases, and measure every space to neutral first."
    return verdict("HL-1", panel, edition, "fail", text, remedy=remedy, field_checks=(check,))
