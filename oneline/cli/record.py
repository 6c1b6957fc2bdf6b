"""The answers of a study as JSON, as resources/schema/check.schema.json describes them."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from oneline.files import Problem
from oneline.model import Drawing
from oneline.model.cautions import CAUTIONS
from oneline.rules.verdict import Verdict, WorkLine
from oneline.study import PointFigures, StudyResult
from oneline.study.fieldchecks import Need, field_checks
from oneline.version import VERSION

if TYPE_CHECKING:
    from oneline.study.bounds import Bound
    from oneline.study.remedies import Remedy
    from oneline.study.tried import Tried


def report_record(
    path: str,
    drawing: Drawing,
    result: StudyResult,
    problems: tuple[Problem, ...],
    tried: Sequence[Tried] | None = None,
) -> dict[str, Any]:
    """Everything about one file, view and edition. ``tried``: what was tried for its findings, where that was asked."""
    found = {id(t.verdict): t for t in tried or ()}
    return {
        "file": path,
        "title": drawing.project.title,
        "edition": result.edition,
        "view": result.view,
        "program": VERSION,
        "verdicts": [{**verdict_record(v), **tried_record(found.get(id(v)))} for v in result.verdicts],
        "points": [point_record(p) for p in result.points.values()],
        "sources": list(result.sources),
        "needs": list(result.needs),
        "to_find_out": [_need(n) for group in field_checks(result, drawing) for n in group.needs],
        "problems": [problem_record(p) for p in problems],
        "cautions": list(CAUTIONS),
    }


def _need(need: Need) -> dict[str, Any]:
    return {
        "what": need.phrase, "item": need.item, "field": need.field, "space": need.space, "decides": need.decides,
        "nearer": need.nearer, "dangerous": need.dangerous, "figures": need.figures,
    }  # fmt: skip


def tried_record(tried: Tried | None) -> dict[str, Any]:
    """Remedies that were tried and bounds, of one finding; nothing where nothing was tried."""
    if tried is None:
        return {}
    if tried.remedies is not None:
        return {"remedies": [_remedy(r) for r in tried.remedies.found], "tried": tried.remedies.tried}
    return {"bounds": [_bound(b) for b in tried.bounds.found] if tried.bounds else []}


def _remedy(remedy: Remedy) -> dict[str, Any]:
    changes = [{"item": c.item, "field": c.field, "value": c.value, "space": c.space} for c in remedy.changes]
    return {
        "text": remedy.text, "changes": changes, "costs": list(remedy.costs), "existing": list(remedy.existing),
        "then": remedy.then,
    }  # fmt: skip


def _bound(bound: Bound) -> dict[str, Any]:
    return {
        "text": bound.text, "item": bound.about.item, "field": bound.about.field, "space": bound.about.space,
        "low": bound.low, "high": bound.high, "passing": list(bound.passing), "never": bound.never,
        "decided": bound.decided,
    }  # fmt: skip


def error_record(path: str, problem: Problem) -> dict[str, Any]:
    """A file that could not be opened."""
    return {"file": path, "error": problem_record(problem)}


def problem_record(problem: Problem) -> dict[str, Any]:
    return {
        "what": problem.what, "where": problem.where, "why": problem.why, "what_to_do": problem.what_to_do,
        "item": problem.item, "line": problem.line,
    }  # fmt: skip


def verdict_record(verdict: Verdict) -> dict[str, Any]:
    return {
        "rule": verdict.rule,
        "section": verdict.section,
        "edition": verdict.edition,
        "subject": verdict.subject,
        "name": verdict.name,
        "state": verdict.state,
        "value": _number(verdict.value),
        "limit": _number(verdict.limit),
        "unit": verdict.unit,
        "relation": verdict.relation,
        "basis": verdict.basis,
        "needs": list(verdict.needs),
        "message": verdict.message,
        "remedy": verdict.remedy,
        "alternative": verdict.alternative,
        "field_checks": list(verdict.field_checks),
        "others": list(verdict.others),
        "work": [_work(line) for line in verdict.work],
    }


def _work(line: WorkLine) -> dict[str, Any]:
    value = _exact(line.value) if isinstance(line.value, int | float) else line.value
    return {
        "what": line.what, "value": value, "unit": line.unit, "formula": line.formula,
        "inputs": {k: _exact(v) for k, v in line.inputs.items()}, "source": line.source,
    }  # fmt: skip


def point_record(point: PointFigures) -> dict[str, Any]:
    return {
        "id": point.id,
        "name": point.name,
        "kind": point.kind,
        "system": point.system,
        "voltage_v": _number(point.voltage_v),
        "phases": point.phases,
        "fed_from": point.fed_from,
        "live_from": list(point.live_from),
        "live_sides": {side: list(ids) for side, ids in point.live_sides.items()},
        "possibly_live_from": list(point.possibly_live_from),
        "load_a": _by_phase(point.load_a),
        "counted_a": _by_phase(point.counted_a),
        "neutral_a": _number(point.neutral_a),
        "load_kva": _number(point.load_kva),
        "load_method": point.load_method,
        "available_a": _by_phase(point.available_a),
        "available_bound_a": _by_phase(point.available_bound_a),
        "available_kva": _number(point.available_kva),
        "limited_by": None if point.limited_by is None else str(point.limited_by),
        "fault_a": _number(point.fault_a),
        "fault_duty_a": _number(point.fault_duty_a),
        "fault_least_a": _number(point.fault_least_a),
        "fault_bound_a": _number(point.fault_bound_a),
        "fault_ll_a": _number(point.fault_ll_a),
        "fault_ln_a": _number(point.fault_ln_a),
        "fault_ln_hand_a": _number(point.fault_ln_hand_a),
        "fault_high_leg_a": _number(point.fault_high_leg_a),
        "fault_lg_a": _number(point.fault_lg_a),
        "fault_lg_least_a": _number(point.fault_lg_least_a),
        "fault_lg_bound_a": _number(point.fault_lg_bound_a),
        "fault_hand_a": _number(point.fault_hand_a),
        "fault_x_r": _number(point.fault_x_r),
        "voltage_drop_pct": _number(point.voltage_drop_pct),
        "ampacity_a": _number(point.ampacity_a),
        "readings": list(point.readings),
        "needs": list(point.needs),
        "ground_needs": list(point.ground_needs),
    }


def _by_phase(figures: Mapping[str, float | None]) -> dict[str, float | None]:
    return {phase: _number(value) for phase, value in figures.items()}


def _number(value: float | int | None) -> float | int | None:
    """A number as JSON can hold it, without the noise of the last bits. Raises ``ValueError`` for what is not a number."""
    if value is None or isinstance(value, int):
        return value
    return round(_exact(value), 6) + 0.0


def _exact(value: float) -> float:
    """A number of a worksheet in full, so that its formula gives its value again. Raises ``ValueError`` like the other."""
    if not math.isfinite(value):
        raise ValueError(f"the study gave {value}")
    return value if isinstance(value, int) else float(value) + 0.0
