"""The text of ``oneline check``: findings first, then the figures of every point, then what the program cannot answer for."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from oneline.model import Connection, Drawing
from oneline.model.cautions import CAUTIONS
from oneline.model.vocabulary import STATUS_LETTERS
from oneline.rules.verdict import Verdict
from oneline.study import PointFigures, StudyResult
from oneline.study.fieldchecks import field_checks, settles
from oneline.units import between, rounded_up

if TYPE_CHECKING:
    from oneline.study.tried import Tried

WIDTH = 110
UNKNOWN = "—"
#: The sign of each state, as on the sheet, and its heading.
_STATES = {
    "fail": ("!", "Fails"),
    "unknown": ("?", "Not known yet"),
    "judge": ("J", "To be judged by the authority or an engineer"),
    "advice": ("i", "Advice"),
    "pass": ("✓", "Passes"),
    "not_applicable": ("·", "Does not apply"),
}
_NAME = 30
_VIEWS = {"existing": "as it is", "proposed": "with the new work"}


def report(
    path: str, drawing: Drawing, result: StudyResult, everything: bool = False, tried: Sequence[Tried] | None = None
) -> str:
    """The whole report of one file. ``tried``: what was tried for its findings, where that was asked."""
    title = drawing.project.title or path
    lines = [f"{title}: {_VIEWS[result.view]}, {result.edition} edition", f"  {path}", ""]
    lines += _findings(result.verdicts, everything, {id(t.verdict): t for t in tried or ()})
    lines += _points(drawing, result, everything)
    lines += _to_find_out(result, drawing)
    lines += ["Cautions", *(line for caution in CAUTIONS for line in _wrap(caution, "  - ", "    "))]
    return "\n".join(lines)


def _wrap(text: str, first: str, rest: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=first, subsequent_indent=rest) or [first.rstrip()]


# ------------------------------------------------------------------------------------------------------------- findings
def _findings(verdicts: Sequence[Verdict], everything: bool, tried_for: Mapping[int, Tried]) -> list[str]:
    lines: list[str] = []
    counts = []
    for state, (sign, heading) in _STATES.items():
        main = [v for v in verdicts if v.state == state and not v.alternative]
        if not main:
            continue
        counts.append(f"{heading.lower().split(' by ')[0]} {len(main)}")
        if state in ("pass", "not_applicable") and not everything:
            continue
        lines.append(f"{heading} ({len(main)})")
        for verdict in main:
            lines += _finding(verdict, sign, tried_for.get(id(verdict)))
        lines.append("")
    tried = [v for v in verdicts if v.alternative and v.state != "not_applicable"]
    if tried:
        lines.append("Rules tried beside each other (one that holds is enough)")
        for subject in dict.fromkeys(v.subject for v in tried):
            same = [v for v in tried if v.subject == subject]
            lines.append(f"  {same[0].name}")
            for verdict in same:
                lines += _tried(verdict, _STATES[verdict.state][0])
        lines.append("")
    summary = "Findings: " + (", ".join(counts) if counts else "none") + "."
    return [summary, "", *lines]


def _finding(verdict: Verdict, sign: str, tried: Tried | None = None) -> list[str]:
    basis = " (assumed)" if verdict.basis == "assumed" else ""
    lines = _wrap(f"{verdict.name}: {verdict.section}{basis}", f"  {sign} ", "    ")
    lines += _wrap(verdict.message, "      ", "      ")
    text = verdict.remedy if tried is None else tried.text
    if text and verdict.state != "pass":
        lines += _wrap(f"What would help: {text}", "      ", "      ")
    if tried is not None:
        lines += _what_was_tried(tried)
    if verdict.needs:
        lines += _wrap(f"Not known yet: {'; '.join(verdict.needs)}.", "      ", "      ")
    return lines


def _what_was_tried(tried: Tried) -> list[str]:
    """Remedies that pass, each with what it costs elsewhere; bounds."""
    lines: list[str] = []
    if tried.remedies is not None and tried.remedies.found:
        lines.append("      Tried on the drawing, and passes:")
        for remedy in tried.remedies.found:
            lines += _wrap(remedy.sentence, "        + ", "          ")
            lines += [line for cost in remedy.costs for line in _wrap(f"then {cost}", "            ", "            ")]
        return lines
    return [line for text in tried.lines for line in _wrap(text, "      ", "      ")]


def _tried(verdict: Verdict, sign: str) -> list[str]:
    lines = _wrap(f"{verdict.section}: {verdict.message}", f"    {sign} ", "      ")
    if verdict.remedy and verdict.state != "pass":
        lines += _wrap(f"What would help: {verdict.remedy}", "      ", "      ")
    return lines


def _to_find_out(result: StudyResult, drawing: Drawing) -> list[str]:
    """The field-check list: by item, what decides most first."""
    lines: list[str] = []
    for group in field_checks(result, drawing):
        waiting = [n for n in group.needs if n.findings or not n.figures]
        lines += [f"  {group.name}"] if waiting else []
        for need in waiting:
            counted = settles(need)
            lines += _wrap(f"{need.phrase}{f' ({counted})' if counted else ''}", "    - ", "      ")
    return ["To find out in the field (how many findings each decides)", *lines, ""] if lines else []


# --------------------------------------------------------------------------------------------------------------- points
def _points(drawing: Drawing, result: StudyResult, everything: bool) -> list[str]:
    rows = []
    for point in result.points.values():
        item = drawing.items.get(point.id)
        if item is None or (isinstance(item, Connection) and (not everything or item.kind != "run")):
            continue
        mark = "" if item.status == "existing" else f" ({STATUS_LETTERS[item.status]})"
        rows.append(_row(point, mark))
    if not rows:
        return []
    head = (
        f"{'Point':<{_NAME}} {'system':<10} {'load A, by phase':>20} {'still available A':>20} {'fault kA':>9} {'drop %':>7}"
        "  limited by"
    )
    return [head, "-" * WIDTH, *rows, ""]


def _row(point: PointFigures, mark: str) -> str:
    name = _cut(point.name, _NAME - len(mark)) + mark
    fault = UNKNOWN if point.fault_duty_a is None else f"{point.fault_duty_a / 1000:.1f}"
    if point.fault_duty_a is None and point.fault_bound_a is not None:
        least = None if point.fault_least_a is None else point.fault_least_a / 1000
        fault = between(least, point.fault_bound_a / 1000, "fault_ka").removesuffix(" kA")
    drop = UNKNOWN if point.voltage_drop_pct is None else f"{point.voltage_drop_pct:.1f}"
    available = _phases(point.available_a)
    if not any(v is not None for v in point.available_a.values()) and point.available_bound_a:
        bounds = [v for v in point.available_bound_a.values() if v is not None]
        available = f"≤ {amperes(rounded_up(min(bounds), 'current_a'))}" if bounds else available
    limit = "" if point.limited_by is None else str(point.limited_by)
    return (
        f"{name:<{_NAME}} {point.system or UNKNOWN:<10} {_phases(point.load_a):>20} {available:>20} {fault:>9} {drop:>7}"
        f"  {limit}"
    ).rstrip()


def _phases(figures: Mapping[str, float | None]) -> str:
    if not figures:
        return UNKNOWN
    return " / ".join(UNKNOWN if v is None else amperes(v) for v in figures.values())


def amperes(value: float) -> str:
    """Without decimals from 100 up, one decimal below."""
    return f"{value:.0f}" if abs(value) >= 99.95 else f"{value:.1f}"


def _cut(text: str, room: int) -> str:
    return text if len(text) <= room else text[: room - 1] + "…"
