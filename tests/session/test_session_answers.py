"""When answers are worked out anew, and when the ones at hand still hold."""

from __future__ import annotations

from dataclasses import replace

import pytest

from oneline.model import Drawing, End, Place, edits
from oneline.session import Session
from oneline.study.study import study


@pytest.fixture
def session() -> Session:
    drawing, service = edits.add(Drawing(), "service", name="S", place=Place(0, 0))
    drawing, bus = edits.add(drawing, "bus", name="B", place=Place(0, 100))
    drawing, _ = edits.connect(drawing, End(service, "out"), End(bus, "bus"))
    return Session(drawing)


def test_moving_things_on_the_sheet_keeps_the_answers_and_makes_a_new_picture(session):
    bus = next(i.id for i in session.drawing.items.values() if i.name == "B")
    answers, picture = session.study, session.picture
    session.apply("Move", edits.move(session.drawing, {bus: Place(50, 100)}))
    assert session.study is answers
    assert session.picture is not picture
    assert session.picture.terminals[(bus, "bus")] == (50, 100)


@pytest.mark.parametrize("what", ["rating", "name", "status", "edition", "removed", "added"])
def test_everything_else_is_studied_anew(session, what):
    drawing = session.drawing
    bus = next(i.id for i in drawing.items.values() if i.name == "B")
    after = {
        "rating": lambda: edits.change(drawing, bus, rating_a=400.0),
        "name": lambda: edits.change(drawing, bus, name="MSB"),
        "status": lambda: edits.change(drawing, bus, status="new"),
        "edition": lambda: replace(drawing, project=replace(drawing.project, edition=2017)),
        "removed": lambda: edits.remove(drawing, [bus]),
        "added": lambda: edits.add(drawing, "load")[0],
    }[what]()
    answers = session.study
    session.apply("Change", after)
    assert session.study is not answers


def test_another_set_of_symbols_is_another_picture_of_the_same_answers(session):
    answers, picture = session.study, session.picture
    heard = []
    session.listen(heard.append)
    session.set_symbols("iec")
    assert session.study is answers
    assert session.picture is not picture
    assert heard == [frozenset({"view"})]
    session.set_symbols("iec")
    assert len(heard) == 1


def test_a_listener_that_fails_does_not_keep_the_others_from_hearing(session):
    heard = []

    def fails(_kinds: frozenset[str]) -> None:
        raise RuntimeError("made for this test")

    session.listen(fails)
    session.listen(heard.append)
    with pytest.raises(RuntimeError, match="made for this test"):
        session.select(list(session.drawing.items)[:1])
    assert heard == [frozenset({"selection"})]


@pytest.mark.parametrize(("status", "kept"), [("new", True), ("future", True), ("existing", False), ("remove", False)])
def test_an_edit_of_new_work_keeps_the_answers_for_the_existing_view(session, status, kept):
    drawing, load = edits.add(session.drawing, "load", status=status)
    session.apply("Add", drawing)
    before, after = session.study_of("existing"), session.study_of("proposed")
    session.apply("Change", edits.change(session.drawing, load, va=1200.0))
    assert (session.study_of("existing") is before) == kept
    assert (session.study_of("proposed") is after) == (status in ("remove", "future"))
    assert session.study_of("existing").points == study(session.drawing, "existing").points
    assert session.study_of("existing").verdicts == study(session.drawing, "existing").verdicts
