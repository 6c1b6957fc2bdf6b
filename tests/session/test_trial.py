"""Positions that are tried never change the drawing; a rehearsal follows its order, edits included."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from oneline.model import Drawing, End, Place, WorkZone, edits
from oneline.outage.results import Isolation, IsolationPoint, Plan, Step, ZoneAnswer
from oneline.session import Session


def _drawing() -> tuple[Drawing, dict[str, str]]:
    d, ids = Drawing(), {}
    d, ids["service"] = edits.add(d, "service", name="Street", system="208Y/120", place=Place(0, 0))
    d, ids["main"] = edits.add(d, "disconnect", name="Main", place=Place(0, 90))
    d, ids["board"] = edits.add(d, "bus", name="Board", place=Place(0, 180))
    d, ids["switch"] = edits.add(d, "disconnect", name="Shop switch", place=Place(0, 270))
    d, ids["panel"] = edits.add(d, "bus", name="Shop", place=Place(0, 380))
    d, ids["transfer"] = edits.add(d, "transfer", name="Changeover", automatic=False, place=Place(200, 300))
    for a, b in ((("service", "out"), ("main", "line")), (("main", "load"), ("board", "bus")),
                 (("board", "bus"), ("switch", "line")), (("switch", "load"), ("panel", "bus")),
                 (("board", "bus"), ("transfer", "normal"))):  # fmt: skip
        d, _ = edits.connect(d, End(ids[a[0]], a[1]), End(ids[b[0]], b[1]), kind="run")
    return d.with_zone(WorkZone(id="zone1", name="Shop panel", items=(ids["panel"],))), ids


def planner(drawing: Drawing, zone_id: str) -> Plan:
    """An order made by hand: open the device that feeds the panel, then the main, and back."""
    zone = drawing.zone(zone_id)
    answer = ZoneAnswer(zone, "existing", "isolated", frozenset())
    names = [i.id for i in drawing.items.values() if i.kind == "disconnect"]
    if len(names) < 2:
        return Plan(answer, None)
    main, switch = names[0], names[1]
    steps = [("tell", "", {}), ("open", switch, {switch: False}), ("open", main, {switch: False, main: False}),
             ("close", main, {switch: False}), ("close", switch, {})]  # fmt: skip
    made = tuple(
        Step(f"{action}:{item}", n, "open", action, f"{action} {item}", item, positions=positions)
        for n, (action, item, positions) in enumerate(steps, 1)
    )
    return Plan(answer, Isolation((IsolationPoint(switch, "", "", (switch,), 1),), 1, (), ()), made)


@pytest.fixture
def session() -> Session:
    drawing, _ = _drawing()
    return Session(drawing, planner=planner)


@pytest.fixture
def ids() -> dict[str, str]:
    return _drawing()[1]


def test_what_is_tried_changes_what_is_live_and_nothing_else(session, ids):
    told: list[frozenset[str]] = []
    session.listen(told.append)
    before, study, undo = session.drawing, session.study, session.undo_label
    assert session.live.sides(ids["panel"]) == {"bus": {ids["service"]}}
    session.set_as_if({ids["switch"]: False})
    assert session.live.sides(ids["panel"]) == {"bus": frozenset()}
    assert session.live.sides(ids["board"]) == {"bus": {ids["service"]}}
    assert told == [frozenset({"live"})]
    assert session.drawing is before
    assert session.study is study
    assert session.undo_label == undo
    assert session.clean
    session.clear_as_if()
    assert session.live.sides(ids["panel"]) == {"bus": {ids["service"]}}
    assert len(told) == 2


def test_the_picture_is_made_of_the_state_that_is_tried(session, ids):
    plain = session.picture
    session.move_as_if(ids["switch"])
    tried = session.picture
    assert tried is not plain
    assert any(p.text == "as if open" for g in tried.groups for p in g.primitives if hasattr(p, "text"))
    session.move_as_if(ids["switch"])
    assert session.as_if == {}
    assert session.picture == plain


def test_trying_the_position_a_device_stands_in_is_trying_nothing(session, ids):
    session.set_as_if({ids["switch"]: True})
    assert session.as_if == {}


def test_a_transfer_switch_goes_through_its_positions_and_back(session, ids):
    sides = [f"{ids['transfer']}/{side}" for side in ("normal", "alternate")]
    seen = []
    for _ in range(3):
        assert session.move_as_if(ids["transfer"])
        seen.append(tuple(session.as_if.get(s) for s in sides))
    assert seen == [(False, False), (False, True), (None, None)]


def test_what_has_no_positions_cannot_be_moved(session, ids):
    assert not session.move_as_if(ids["board"])
    with pytest.raises(KeyError, match="no branch"):
        session.set_as_if({ids["board"]: False})


def test_an_edit_drops_what_is_tried_of_things_that_are_gone(session, ids):
    session.set_as_if({ids["switch"]: False, ids["main"]: False})
    session.apply("Delete", edits.remove(session.drawing, [ids["switch"]]))
    assert dict(session.as_if) == {ids["main"]: False}
    session.undo()
    assert dict(session.as_if) == {ids["main"]: False}


def test_an_edit_that_makes_it_so_ends_the_as_if(session, ids):
    session.set_as_if({ids["switch"]: False})
    session.apply("Open", edits.operate(session.drawing, ids["switch"]))
    assert session.as_if == {}
    assert session.live.sides(ids["panel"]) == {"bus": frozenset()}


def test_a_rehearsal_steps_forward_and_back(session, ids):
    assert session.begin_rehearsal("zone1")
    assert session.view == "existing"
    assert session.rehearsal.done == 0
    assert session.as_if == {}
    live = []
    for done in (1, 2, 3, 4, 5, 6):
        session.rehearse(done)
        live.append((bool(session.live.sides(ids["panel"])["bus"]), bool(session.live.sides(ids["board"])["bus"])))
    assert live == [(True, True), (False, True), (False, False), (False, True), (True, True), (True, True)]
    assert session.rehearsal.last
    for done in (4, 3, 2, 1, 0, -1):
        session.rehearse(done)
    assert session.rehearsal.done == 0
    assert session.as_if == {}
    assert session.drawing is not None
    assert session.undo_label is None
    session.clear_as_if()
    assert session.rehearsal is None


def test_a_device_moved_by_hand_counts_until_the_next_step(session, ids):
    session.begin_rehearsal("zone1")
    session.rehearse(2)
    session.move_as_if(ids["switch"])
    assert session.live.sides(ids["panel"])["bus"]
    session.move_as_if(ids["switch"])
    assert dict(session.as_if) == {ids["switch"]: False}
    session.move_as_if(ids["switch"])
    session.rehearse(3)
    assert dict(session.as_if) == {ids["switch"]: False, ids["main"]: False}


def test_a_rehearsal_goes_on_at_its_step_after_an_edit_and_after_undo(session, ids):
    session.begin_rehearsal("zone1")
    session.rehearse(3)
    session.apply("Rename", edits.change(session.drawing, ids["panel"], name="Shop panel 2"))
    assert session.rehearsal.done == 3
    assert session.rehearsal.step.action == "open"
    session.undo()
    assert session.rehearsal.done == 3
    session.redo()
    assert session.rehearsal.done == 3


def test_a_rehearsal_ends_with_its_reason_when_its_zone_or_its_order_is_gone(session, ids):
    session.begin_rehearsal("zone1")
    session.rehearse(2)
    session.apply("Delete the zone", session.drawing.without_zone("zone1"))
    assert session.rehearsal is None
    assert session.as_if == {}
    assert "zone is gone" in session.rehearsal_ended
    session.undo()
    session.begin_rehearsal("zone1")
    assert session.rehearsal_ended == ""
    session.apply("Delete", edits.remove(session.drawing, [ids["main"]]))
    assert session.rehearsal is None
    assert "no switching order" in session.rehearsal_ended


def test_an_outage_without_steps_is_not_rehearsed():
    drawing, ids = _drawing()
    drawing = edits.remove(drawing, [ids["main"], ids["switch"]])
    session = Session(drawing, planner=planner)
    assert not session.begin_rehearsal("zone1")
    with pytest.raises(KeyError):
        session.begin_rehearsal("zone9")


def test_another_document_ends_everything_that_is_tried(session):
    session.begin_rehearsal("zone1")
    session.rehearse(2)
    session.replace_document(Drawing(), None)
    assert session.rehearsal is None
    assert session.zone is None
    assert session.as_if == {}


def test_a_plan_is_made_once_for_a_drawing(ids):
    made = []

    def counting(drawing: Drawing, zone_id: str) -> Plan:
        made.append(zone_id)
        return planner(drawing, zone_id)

    session = Session(_drawing()[0], planner=counting)
    assert session.plan_of("zone1") is session.plan_of("zone1")
    assert made == ["zone1"]
    zone = session.drawing.zone("zone1")
    session.apply("Rename", session.drawing.with_zone(replace(zone, name="Other")))
    session.plan_of("zone1")
    assert made == ["zone1", "zone1"]


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.sampled_from(["move", "step", "back", "edit", "undo", "redo", "begin", "clear", "view"]), max_size=25)
)
def test_whatever_is_tried_the_drawing_is_what_edits_made_of_it(deeds):
    drawing, ids = _drawing()
    session, plain = Session(drawing, planner=planner), Session(drawing)
    for n, deed in enumerate(deeds):
        done = session.rehearsal.done if session.rehearsal else 0
        if deed == "move":
            session.move_as_if(ids["switch"] if n % 2 else ids["main"])
        elif deed in ("step", "back"):
            session.rehearse(done + (1 if deed == "step" else -1))
        elif deed == "begin":
            session.begin_rehearsal("zone1")
        elif deed == "clear":
            session.clear_as_if()
        elif deed == "view":
            session.set_view("existing" if session.view == "proposed" else "proposed")
        elif deed == "edit":
            after = edits.operate(session.drawing, ids["switch"])
            session.apply("Operate", after)
            plain.apply("Operate", after)
        else:
            getattr(session, deed)()
            getattr(plain, deed)()
        assert session.drawing == plain.drawing
        live = session.live
        assert all(live.positions[k] == c for k, c in session.as_if.items())
