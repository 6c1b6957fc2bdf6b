"""Markings that carry the available fault current: service equipment, panels and switchboards (110.24, 408.6)."""

from __future__ import annotations

from oneline import tables
from oneline.rules.common import (
    Fact,
    Subject,
    assumption_lines,
    looked_up,
    section,
    sentences,
    verdict,
    with_assumptions,
)
from oneline.rules.fault_duty import Notes, ka_bounds, kiloamperes, note_lines
from oneline.rules.verdict import Verdict, WorkLine


def service_marking(device: Subject, edition: int, duty: Fact, notes: Notes = ()) -> Verdict:
    """FLT-5: the figure that the field marking of service equipment carries."""
    return _marking("FLT-5", device, edition, "", duty, notes)


def panel_marking(panel: Subject, edition: int, duty: Fact, notes: Notes = ()) -> Verdict:
    """PNL-6: the figure that panels and switchboards are marked with since 2020."""
    if not tables.applies("panel_fault_current_marked", edition):
        text = f"The {edition} edition asks for no fault current marking on {panel.name}."
        return verdict("PNL-6", panel, edition, "not_applicable", text)
    rating_too = tables.applies("panel_rating_marked", edition)
    further = "Mark it with its short-circuit current rating as its devices make it, too." if rating_too else ""
    return _marking("PNL-6", panel, edition, further, duty, notes)


def _marking(rule: str, subject: Subject, edition: int, further: str, duty: Fact, notes: Notes) -> Verdict:
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
