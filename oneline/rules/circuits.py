"""The circuits of a panel's schedule: each device against its wire and against its load (PNL-7)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from oneline import tables
from oneline.model.quick import quick
from oneline.model.vocabulary import MATERIALS
from oneline.rules.ampacity import COLUMNS_C
from oneline.rules.common import (
    Fact,
    Subject,
    amperes,
    bounded_amperes,
    compare_at_least,
    listed,
    number,
    section,
    size_text,
    unique,
    verdict,
)
from oneline.rules.overcurrent import largest_device_a
from oneline.rules.verdict import Verdict, WorkLine

#: More circuits than this are counted instead of named; the worksheet names all of them.
_NAMED_AT_MOST = 3


@quick
@dataclass(frozen=True)
class CircuitFacts:
    """One circuit as the schedule has it; ``None`` is unknown.

    ``label``: "circuit 5 (Ovens)". ``trip_a``: of its device. ``wire_size``: of its conductors, material not known.
    ``load_a``: largest pole, amperes; ``most_a`` at most, while what ``need`` names is not known.
    ``continuous``: 3 hours or more. ``own_article``: a motor or air conditioner, whose article sizes wire and device
    (240.4(G)).
    """

    label: str
    trip_a: float | None
    wire_size: str | None = None
    load_a: float | None = None
    continuous: bool | None = None
    own_article: bool = False
    most_a: float | None = None
    need: str = ""

    @property
    def name(self) -> str:
        """The label without its description: "circuit 5"."""
        return self.label.partition(" (")[0]


@dataclass(frozen=True)
class _Answer:
    state: str
    text: str
    need: str = ""


def most_on_wire_a(size: str, edition: int, terminal_c: float | None) -> Fact:
    """Largest device on a wire of a schedule, amperes: what no surroundings and no material can raise.

    Bounded by the terminals: 75 °C at most where they are not marked, 60 °C by 110.14(C) at least. Copper, because a
    schedule does not tell the material; warmer surroundings, more conductors and aluminum only lower it.
    """
    columns = (COLUMNS_C[0], COLUMNS_C[1])
    if terminal_c is not None:
        marked = max((c for c in COLUMNS_C if c <= terminal_c), default=COLUMNS_C[0])
        columns = (marked, marked)
    caps = [tables.small_conductor_limit_a(size, m, edition) for m in MATERIALS]
    found = []
    for column_c in columns:
        each = [a for m in MATERIALS if (a := tables.ampacity_a(size, m, column_c)) is not None]
        most = max((largest_device_a(a, edition) for a in each), default=0.0)
        known = [c for c in caps if c is not None]
        found.append(min(most, max(known)) if known else most)
    exact = found[0] if found[0] == found[1] else None
    return Fact(exact, found[0], found[1], need="terminal temperature")


def circuits(panel: Subject, edition: int, terminal_c: float | None, lines: Sequence[CircuitFacts]) -> Verdict | None:
    """PNL-7: one answer for all circuits of a panel; ``None`` where nothing on the schedule speaks against any of them.

    That none is too large says nothing of a wire whose surroundings a schedule does not tell, so there is no pass.
    """
    answers = [a for line in lines for a in _answers(panel, edition, terminal_c, line)]
    state = next((s for s in ("fail", "unknown") if any(a.state == s for a in answers)), "")
    if not state:
        return None
    shown = [a for a in answers if a.state == state]
    texts = [a.text for a in shown[:_NAMED_AT_MOST]]
    more = len(shown) - len(texts)
    if more:
        texts.append(f"{more} more")
    lead = f"In {panel.name}, "
    message = f"{lead}{listed(texts)}."
    if state == "unknown":
        message = f"Whether devices in {panel.name} fit their circuits is not known yet: {listed(texts)}."
    needs = unique(a.need for a in shown) if state == "unknown" else ()
    if len(needs) > _NAMED_AT_MOST:
        needs = (f"what is missing on {len(needs)} circuits of {panel.name}",)
    work = tuple(
        WorkLine(a.text, {"fail": "too large or too small"}.get(a.state, "not known yet"), "") for a in answers
    )
    remedy = (
        "Fit devices that the wires allow and that carry the loads, or pull larger wires." if state == "fail" else ""
    )
    cited = f"{section('PNL-7', edition)}"
    return verdict("PNL-7", panel, edition, state, message, section=cited, needs=needs, remedy=remedy, work=work)


def _answers(panel: Subject, edition: int, terminal_c: float | None, line: CircuitFacts) -> list[_Answer]:
    """What the schedule says against one circuit."""
    if line.trip_a is None:
        if line.wire_size is None and not line.load_a:
            return []
        return [_Answer("unknown", f"the trip rating of {line.label}", f"trip rating of {panel.name} {line.name}")]
    return [*_wire(panel, edition, terminal_c, line, line.trip_a), *_load(panel, line, line.trip_a)]


def _wire(
    panel: Subject, edition: int, terminal_c: float | None, line: CircuitFacts, trip_a: float
) -> list[_Answer]:  # fmt: skip
    if line.wire_size is None or line.own_article:
        return []
    most = most_on_wire_a(line.wire_size, edition, terminal_c)
    state = compare_at_least(most, Fact(trip_a))
    if state == "pass":
        return []
    size = size_text(line.wire_size)
    if state == "fail":
        return [_Answer("fail", f"{line.label} has {amperes(trip_a)} on {size}, which may have {amperes(most.most)}")]
    low, high = (number(tables.limit_value(f"terminal_default_{which}_c")) for which in ("low", "high"))
    text = (
        f"{line.label} has {amperes(trip_a)} on {size}, which {high} °C terminals allow and {low} °C terminals do not"
    )
    return [_Answer("unknown", text, f"terminal temperature of {panel.name}")]


def _load(panel: Subject, line: CircuitFacts, trip_a: float) -> list[_Answer]:
    """Load, continuous load at 125 %, against the device; a motor's device follows its own article."""
    if line.load_a is None:
        return []
    factor = 1.0 if line.own_article or line.continuous is False else tables.limit_value("continuous_factor")
    most_a = line.load_a if line.most_a is None else line.most_a
    low, high = line.load_a * factor if line.continuous else line.load_a, most_a * factor
    load = Fact(low if low == high else None, low, high)
    state = compare_at_least(Fact(trip_a), load)
    if state == "pass":
        return []
    if state == "fail":
        counted = f" with continuous load at {number(100 * factor)} %" if line.continuous and factor > 1 else ""
        known = bounded_amperes(Fact(load.value, load.least))
        return [_Answer("fail", f"{line.label} has {known} of load{counted} on {amperes(trip_a)}")]
    if most_a > line.load_a and line.need:
        most = amperes(load.most, rounding="up")
        return [_Answer("unknown", f"{line.label} may have up to {most} of load on {amperes(trip_a)}", line.need)]
    text = f"{line.label} has {amperes(line.load_a)} of load on {amperes(trip_a)}, too much if it is continuous"
    return [_Answer("unknown", text, f"whether {line.label} in {panel.name} is continuous")]


__all__ = ["CircuitFacts", "circuits", "most_on_wire_a"]
