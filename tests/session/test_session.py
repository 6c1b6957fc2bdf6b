"""History, clean state and merging; a state machine of random edits proves that undo and redo lose nothing."""

from __future__ import annotations

import contextlib

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule

from oneline.model import Connection, Drawing, End, Place, copies, edits
from oneline.session import Session


def test_undo_back_to_the_saved_state_is_clean_again():
    s = Session()
    assert s.clean
    s.apply("Add Panel 1", edits.add(s.drawing, "bus")[0])
    assert not s.clean
    assert s.undo_label == "Add Panel 1"
    s.undo()
    assert s.clean
    assert s.redo_label == "Add Panel 1"


def test_an_edit_that_changes_nothing_is_no_step():
    s = Session()
    assert not s.apply("Nothing", s.drawing)
    assert s.undo_label is None


def test_steps_without_a_name_are_refused():
    s = Session()
    with pytest.raises(ValueError, match="name"):
        s.apply("", edits.add(s.drawing, "bus")[0])


def test_one_drag_is_one_step_and_the_next_drag_another():
    s = Session()
    d, bus = edits.add(s.drawing, "bus", place=Place(0, 0))
    s.apply("Add", d)
    for x in (10, 20, 30):
        s.apply("Move", edits.move(s.drawing, {bus: Place(x, 0)}), merge_key=("move", bus))
    s.close_gesture()
    s.apply("Move", edits.move(s.drawing, {bus: Place(40, 0)}), merge_key=("move", bus))
    s.undo()
    assert s.drawing.get(bus).place == Place(30, 0)
    s.undo()
    assert s.drawing.get(bus).place == Place(0, 0)


def test_a_drag_back_to_where_it_began_leaves_no_step():
    s = Session()
    d, bus = edits.add(s.drawing, "bus", place=Place(0, 0))
    s.apply("Add", d)
    s.apply("Move", edits.move(s.drawing, {bus: Place(10, 0)}), merge_key="drag")
    s.apply("Move", edits.move(s.drawing, {bus: Place(0, 0)}), merge_key="drag")
    assert s.undo_label == "Add"


def test_selection_forgets_what_is_gone_and_listeners_hear_it():
    s = Session()
    d, bus = edits.add(s.drawing, "bus")
    s.apply("Add", d)
    s.select([bus, "nothing"])
    assert s.selection == (bus,)
    heard = []
    stop = s.listen(heard.append)
    s.apply("Remove", edits.remove(s.drawing, [bus]))
    assert s.selection == ()
    assert {"drawing", "selection", "study", "history"} <= heard[0]
    stop()
    s.undo()
    assert len(heard) == 1


class History(RuleBasedStateMachine):
    """Undoing everything gives the first drawing, redoing everything the last one; references never dangle."""

    def __init__(self) -> None:
        super().__init__()
        self.session = Session()
        self.first = self.session.drawing
        self.count = 0

    def _apply(self, after: Drawing) -> None:
        self.count += 1
        self.session.apply(f"Step {self.count}", after)

    def _items(self) -> list[str]:
        return [i for i, item in self.session.drawing.items.items() if not isinstance(item, Connection)]

    @rule(
        kind=st.sampled_from(["service", "generator", "solar", "disconnect", "bus", "load", "transfer", "transformer"])
    )
    def add(self, kind: str) -> None:
        self._apply(edits.add(self.session.drawing, kind, place=Place(0, 0))[0])

    @precondition(lambda self: len(self._items()) > 1)
    @rule(data=st.data())
    def connect(self, data: st.DataObject) -> None:
        a, b = data.draw(st.lists(st.sampled_from(self._items()), min_size=2, max_size=2, unique=True))
        ends = [End(i, data.draw(st.sampled_from(self.session.drawing.get(i).terminals))) for i in (a, b)]
        with contextlib.suppress(edits.EditRefused):
            self._apply(edits.connect(self.session.drawing, *ends)[0])

    @precondition(lambda self: self._items())
    @rule(data=st.data())
    def remove(self, data: st.DataObject) -> None:
        self._apply(edits.remove(self.session.drawing, [data.draw(st.sampled_from(self._items()))]))

    @precondition(lambda self: self._items())
    @rule(data=st.data(), x=st.integers(-50, 50))
    def move(self, data: st.DataObject, x: int) -> None:
        item = data.draw(st.sampled_from(self._items()))
        self.session.apply("Move", edits.move(self.session.drawing, {item: Place(x, x)}), merge_key=("move", item))

    @precondition(lambda self: self._items())
    @rule(data=st.data())
    def duplicate(self, data: st.DataObject) -> None:
        chosen = data.draw(st.lists(st.sampled_from(self._items()), min_size=1, max_size=3, unique=True))
        self._apply(copies.duplicate(self.session.drawing, chosen, 10, 10)[0])

    @precondition(lambda self: any(c.kind in ("run", "joint") for c in self.session.drawing.connections()))
    @rule(data=st.data())
    def split(self, data: st.DataObject) -> None:
        runs = [c.id for c in self.session.drawing.connections() if c.kind in ("run", "joint")]
        drawing, device = edits.add(self.session.drawing, "disconnect", place=Place(0, 0))
        self._apply(edits.split_run(drawing, data.draw(st.sampled_from(runs)), device)[0])

    @rule()
    def undo(self) -> None:
        self.session.undo()

    @rule()
    def redo(self) -> None:
        self.session.redo()

    @invariant()
    def references_hold(self) -> None:
        d = self.session.drawing
        for c in d.connections():
            for end in (c.a, c.b):
                assert end is None or end.terminal in d.get(end.item).terminals

    @invariant()
    def there_and_back(self) -> None:
        now = self.session.drawing
        steps = 0
        while self.session.undo_label is not None:
            self.session.undo()
            steps += 1
        assert self.session.drawing == self.first
        for _ in range(steps):
            self.session.redo()
        assert self.session.drawing == now


TestHistory = History.TestCase
TestHistory.settings = settings(max_examples=25, stateful_step_count=25, deadline=None)
