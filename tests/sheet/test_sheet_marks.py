"""Verdict marks: one shape per state, the worst one per item, none where everything passes."""

from __future__ import annotations

import itertools
from dataclasses import replace

from oneline.model import Drawing, End, Place
from oneline.model.edits import add, connect
from oneline.rules.verdict import STATES, Verdict
from oneline.sheet import Arc, Picture, Stroke, Text, build_picture, mark_shape
from oneline.sheet.marks import MARKED_STATES, worst_states
from oneline.study import StudyResult


def _verdict(subject: str, state: str, alternative: bool = False) -> Verdict:
    made = Verdict("rule", "section", 2023, subject, subject, state, "Words.")
    return replace(made, alternative=alternative)


def _marked(drawing: Drawing, *verdicts: Verdict) -> Picture:
    return build_picture(drawing, StudyResult(2023, "proposed", {}, verdicts, ()), "proposed")


def test_shapes_differ_without_colour() -> None:
    """Not by ink alone: the outline or the sign differs for every pair of states."""

    def bare(state: str) -> tuple[object, ...]:
        return tuple(
            (type(p).__name__, p.text)
            if isinstance(p, Text)
            else (type(p).__name__, len(p.points), bool(p.fill.startswith("verdict")))
            if isinstance(p, Stroke)
            else (type(p).__name__, p.radius)
            for p in mark_shape(state)
        )

    for one, other in itertools.combinations((*MARKED_STATES, "pass"), 2):
        assert bare(one) != bare(other)


def test_failure_is_the_only_filled_shape() -> None:
    filled = [s for s in MARKED_STATES if any(getattr(p, "fill", "").startswith("verdict") for p in mark_shape(s))]
    assert filled == ["fail"]


def test_signs() -> None:
    signs = {s: [p.text for p in mark_shape(s) if isinstance(p, Text)] for s in MARKED_STATES}
    assert signs == {"fail": ["!"], "unknown": ["?"], "judge": ["J"], "advice": ["i"]}
    assert any(isinstance(p, Arc) and p.fill == "paper" for p in mark_shape("unknown")), "an open ring"
    assert mark_shape("not_applicable") == ()


def test_the_worst_state_counts() -> None:
    order = [s for s in STATES if s in MARKED_STATES]
    assert list(MARKED_STATES) == order
    for worse, milder in itertools.pairwise(MARKED_STATES):
        assert worst_states([_verdict("a", milder), _verdict("a", worse), _verdict("a", "pass")]) == {"a": worse}


def test_rules_tried_beside_others_do_not_count() -> None:
    found = worst_states(
        [_verdict("a", "fail", alternative=True), _verdict("a", "unknown"), _verdict("b", "fail", True)]
    )
    assert found == {"a": "unknown"}


def test_passing_items_carry_no_mark() -> None:
    drawing, item = add(Drawing(), "disconnect", name="Main", place=Place(0, 0))
    picture = _marked(drawing, _verdict(item, "pass"), _verdict(item, "not_applicable"))
    assert not [g for g in picture.groups if g.part == "mark"]


def test_marks_stand_at_one_corner_of_every_symbol() -> None:
    drawing, verdicts = Drawing(), []
    for n, kind in enumerate(("service", "disconnect", "transformer", "bus", "load", "meter")):
        drawing, item = add(drawing, kind, name=f"I{n}", place=Place(200.0 * n, 0))
        verdicts.append(_verdict(item, MARKED_STATES[n % 4]))
    picture = _marked(drawing, *verdicts)
    symbols = {g.item: g.box for g in picture.groups if g.part == "symbol"}
    marks = {g.item: g.box for g in picture.groups if g.part == "mark"}
    assert len(marks) == 6
    for item, box in marks.items():
        assert box[2] <= symbols[item][0] + 8, "left of the symbol"
        assert (box[1] + box[3]) / 2 < (symbols[item][1] + symbols[item][3]) / 2, "at its top"


def test_marks_of_conductors_stand_beside_their_line() -> None:
    drawing, one = add(Drawing(), "disconnect", name="One", place=Place(0, 0))
    drawing, two = add(drawing, "disconnect", name="Two", place=Place(0, 140))
    drawing, run = connect(drawing, End(one, "load"), End(two, "line"), kind="run")
    picture = _marked(drawing, _verdict(run, "fail"))
    box = next(g.box for g in picture.groups if g.part == "mark")
    assert box[2] < 0
    assert 20 < box[1] < box[3] < 120
