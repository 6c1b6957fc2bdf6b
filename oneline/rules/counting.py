"""Current-carrying conductors of a raceway (AMP-2): which conductors count, which do not, and the count entered beside it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from oneline import tables
from oneline.model.quick import quick
from oneline.model.vocabulary import SYSTEMS
from oneline.rules.common import Subject, listed, unique, verdict
from oneline.rules.verdict import Verdict

#: What a neutral is, and how it is said. Those of COUNTED count.
NEUTRALS = {
    "two-wire": "its neutral carries all of the load current",
    "from a wye": "its neutral, with two phases of a wye, carries load current even when balanced",
    "nonlinear": "its neutral carries the harmonics of nonlinear load",
    "unbalance": "its neutral carries the unbalance only",
    "linear": "its neutral carries the unbalance of mostly linear load only",
    "none": "it has no neutral",
    "unknown": "whether its neutral counts is not known yet",
}
COUNTED = ("two-wire", "from a wye", "nonlinear")


@quick
@dataclass(frozen=True)
class Circuit:
    """The conductors of one run in one raceway.

    ``phases``: phase conductors of one set, ``None`` unknown. ``sets``: sets in this raceway, ``None`` unknown, then one to
    ``all_sets``. ``neutral``: one of NEUTRALS. ``group``: circuits of one group are never loaded at the same time.
    ``needs``: what is missing.
    """

    subject: Subject
    phases: int | None
    sets: int | None
    neutral: str
    group: str = ""
    all_sets: int | None = None
    needs: tuple[str, ...] = ()


@quick
@dataclass(frozen=True)
class Count:
    """Current-carrying conductors of a raceway: ``least``, and ``most`` where it is bounded. ``needs``: what decides."""

    least: int
    most: int | None
    needs: tuple[str, ...] = ()

    @property
    def exact(self) -> int | None:
        return self.least if self.least == self.most else None


def neutral_kind(system: str | None, phases: int, with_high_leg: bool, size: str | None, nonlinear: bool | None) -> str:
    """What the neutral of a run is. ``size``: "none" for none, ``None`` unknown. ``phases``: phase conductors of a set."""
    if size == "none":
        return "none"
    if system is None or not phases:
        kinds = {
            neutral_kind(code, n, False, size or "?", nonlinear)
            for code in (SYSTEMS if system is None else (system,)) for n in ((1, 2, 3) if not phases else (phases,))
        }  # fmt: skip
        return kinds.pop() if len(kinds) == 1 and size is not None else "unknown"
    found = tables.system(system)
    if not found.has_neutral:
        return "none"
    wye = found.grounding == "neutral"
    if phases == 1:
        kind = "two-wire"
    elif phases == 2:
        kind = "from a wye" if wye or with_high_leg else "unbalance"
    elif not wye:
        kind = "unbalance"
    else:
        kind = "unknown" if nonlinear is None else "nonlinear" if nonlinear else "linear"
    if size is None and kind in COUNTED:
        return "unknown"
    return kind


def of_one_set(circuit: Circuit) -> Count:
    """Current-carrying conductors of one set of a circuit."""
    least = max(1, circuit.phases or 0) + (circuit.neutral in COUNTED)
    most = None if circuit.phases is None else circuit.phases + (circuit.neutral in (*COUNTED, "unknown"))
    return Count(least, most, circuit.needs)


def of_circuit(circuit: Circuit) -> Count:
    """Current-carrying conductors of a circuit in its raceway: all sets that are in it."""
    one = of_one_set(circuit)
    most_sets = circuit.sets if circuit.sets is not None else circuit.all_sets
    most = None if one.most is None or most_sets is None else one.most * most_sets
    return Count(one.least * (circuit.sets or 1), most, circuit.needs)


def of_raceway(circuits: Sequence[Circuit]) -> Count:
    """All circuits of a raceway; of those that are never loaded together only the largest."""
    groups: dict[str, list[Count]] = {}
    for k, circuit in enumerate(circuits):
        groups.setdefault(circuit.group.strip().casefold() or f"#{k}", []).append(of_circuit(circuit))
    least, most, needs = 0, 0, []
    unbounded = False
    for counts in groups.values():
        least += max(c.least for c in counts)
        tops = [c.most for c in counts]
        if None in tops:
            unbounded = True
        else:
            most += max(t for t in tops if t is not None)
        needs += [n for c in counts if c.least != c.most for n in c.needs]
    return Count(least, None if unbounded else most, unique(needs))


@quick
@dataclass(frozen=True)
class CountFacts:
    """A raceway with what is drawn in it. ``entered``: the count somebody wrote down, ``None`` for none. ``named``: whether
    what is drawn is all there is. ``counts``: whether the count changes an ampacity at all ("" or why not)."""

    subject: Subject
    edition: int
    where: str
    circuits: tuple[Circuit, ...]
    entered: int | None = None
    named: bool = False
    no_effect: str = ""


def current_carrying(facts: CountFacts) -> Verdict:
    """AMP-2: the count that is drawn, which conductors it is made of, and the entered count beside it."""
    found, where, entered = of_raceway(facts.circuits), facts.where, facts.entered
    others = tuple(c.subject.id for c in facts.circuits if c.subject.id != facts.subject.id)
    checks = tuple(
        f"Whether most of the load of {c.subject.name} is nonlinear: its neutral counts then."
        for c in facts.circuits if c.neutral == "unknown" and c.phases == 3
    )  # fmt: skip
    made_of = listed([_words(c) for c in facts.circuits], "and")
    more = f" {facts.no_effect}" if facts.no_effect else ""

    def said(state: str, message: str, **fields: object) -> Verdict:
        return verdict("AMP-2", facts.subject, facts.edition, state, f"{message}{more}", others=others, **fields)

    if entered is not None and entered < found.least:
        text = (
            f"{where} is entered with {entered} current-carrying conductors, but {found.least} are drawn: {made_of}. Its "
            f"ampacity is reckoned with {found.least}."
        )
        return said(
            "advice", text, value=float(found.least), limit=float(entered), relation="at most",
            remedy="Correct the entry that is wrong.", field_checks=(f"Count the conductors in {where}.",),
        )  # fmt: skip
    if entered is not None and facts.named and found.most is not None and entered > found.most:
        text = f"{where} is entered with {entered} current-carrying conductors, and {found.most} are drawn: {made_of}."
        return said(
            "advice", text, value=float(found.most), limit=float(entered), relation="at most",
            remedy="Draw what else is in it, or correct the entry.", field_checks=(f"Count the conductors in {where}.",),
        )  # fmt: skip
    if entered is not None:
        rest = "" if entered == found.least else f" of {entered} entered"
        text = f"{where} holds {found.least}{rest} current-carrying conductors: {made_of}."
        if found.least != found.most and entered != found.least:
            text = f"{where} is entered with {entered} current-carrying conductors. Drawn: {made_of}."
        return said("pass", text, value=float(entered), field_checks=checks)
    if found.exact is not None:
        text = f"{where} holds {found.exact} current-carrying conductors: {made_of}."
        return said("pass", text, value=float(found.exact), field_checks=checks)
    bound = f"{found.least} to {found.most}" if found.most is not None else f"at least {found.least}"
    text = f"How many current-carrying conductors {where} holds is not known yet: {bound}. Drawn: {made_of}."
    return said("unknown", text, needs=found.needs, field_checks=checks)


def _words(circuit: Circuit) -> str:
    """ "3 of Feeder A (its neutral carries the unbalance only)"."""
    found = of_circuit(circuit)
    count = f"{found.least}" if found.exact is not None else f"{found.least} or more"
    group = f", never loaded with the rest of {circuit.group}" if circuit.group else ""
    return f"{count} of {circuit.subject.name} ({NEUTRALS[circuit.neutral]}{group})"
