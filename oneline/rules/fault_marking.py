"""Markings that carry the available fault current: service equipment, panels and switchboards (110.24, 408.6)."""

from __future__ import annotations

from dataclasses import dataclass

from oneline import tables
from oneline.rules.common import (
    Fact,
    Subject,
    assumption_lines,
    compare_at_least,
    looked_up,
    section,
    sentences,
    verdict,
    with_assumptions,
)
from oneline.rules.fault_duty import Notes, compared_ka, ka_bounds, kiloamperes, note_lines
from oneline.rules.verdict import Verdict, WorkLine


@dataclass(frozen=True)
class Marked:
    """A marking that is there: its figure in amperes and its day; whether the drawing adds work, after which the figure has
    to be calculated and marked again."""

    amperes: float
    day: str | None = None
    changed: bool = False


def service_marking(
    device: Subject, edition: int, duty: Fact, notes: Notes = (), marked: Marked | None = None
) -> Verdict:  # fmt: skip
    """FLT-5: the figure that the field marking of service equipment carries."""
    return _marking("FLT-5", device, edition, "", duty, notes, marked)


def panel_marking(
    panel: Subject, edition: int, duty: Fact, notes: Notes = (), marked: Marked | None = None
) -> Verdict:  # fmt: skip
    """PNL-6: the figure that panels and switchboards are marked with since 2020."""
    if not tables.applies("panel_fault_current_marked", edition):
        text = f"The {edition} edition asks for no fault current marking on {panel.name}."
        return verdict("PNL-6", panel, edition, "not_applicable", text)
    rating_too = tables.applies("panel_rating_marked", edition)
    further = "Mark it with its short-circuit current rating as its devices make it, too." if rating_too else ""
    return _marking("PNL-6", panel, edition, further, duty, notes, marked)


def _against_marked(rule: str, subject: Subject, edition: int, duty: Fact, marked: Marked) -> Verdict:
    """A marking that is there against the fault current now available (110.24(B))."""
    name, day = subject.name, f" of {marked.day}" if marked.day else ""
    limit = Fact(marked.amperes)
    state, words = compare_at_least(limit, duty), compared_ka(duty, limit)
    shown, needs, remedy = kiloamperes(marked.amperes), duty.needs if state == "unknown" else (), ""
    if state == "unknown" or words is None:
        text = f"Whether the marking{day} on {name}, {shown}, still holds is not known yet."
    elif state == "fail":
        text = f"The marking{day} on {name} says {shown}, and {words.value} is available there: it has to be made anew."
        remedy = f"Mark {name} with the available fault current and the date of its calculation."
        state = "fail" if marked.changed else "judge"
    else:
        text = f"The marking{day} on {name}, {shown}, covers the {words.value} available there."
        if marked.day is None:
            state, needs = "unknown", (f"date of the fault current marking on {name}",)
            text = f"{text} Whether it bears the date of its calculation is not known yet."
        elif marked.changed:
            state = "advice"
            text = f"{text} New work changes the installation: calculate again, and mark it with the new date."
    return verdict(
        rule, subject, edition, state, text, value=duty.value, limit=marked.amperes, unit="A", relation="at most",
        basis=duty.basis, needs=needs, remedy=remedy,
    )  # fmt: skip


def _marking(
    rule: str, subject: Subject, edition: int, further: str, duty: Fact, notes: Notes, marked: Marked | None
) -> Verdict:  # fmt: skip
    if marked is not None:
        return _against_marked(rule, subject, edition, duty, marked)
    assumed = duty.assumptions if duty.value is not None else ()

    def message() -> str:
        shown, unknown = "", ": the figure is not known yet"
        if duty.value is not None:
            shown, unknown = f", {kiloamperes(duty.value)},", ""
        elif duty.high is not None:
            unknown += f", {ka_bounds(duty)}"
        text = f"Mark {subject.name} with the available fault current{shown} and the date of its calculation{unknown}."
        return sentences(with_assumptions(text, assumed, subject.name), further)

    def work() -> tuple[WorkLine, ...]:
        figure = looked_up("Available fault current, from impedances", duty.value, "A", section("FLT-6", edition))
        return (figure, *note_lines(notes), *assumption_lines(assumed))

    return verdict(
        rule, subject, edition, "advice", message, value=duty.value, unit="A", basis=duty.basis,
        needs=lambda: duty.needs, work=work,
    )  # fmt: skip
