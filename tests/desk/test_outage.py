"""The outage pane, the rehearsal on the sheet and everything entered for an outage, through the real window."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from PySide6.QtCore import QModelIndex, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QAbstractButton, QApplication

from oneline.desk.outages import outage_pdf
from oneline.desk.panes.outage import OutagePane
from oneline.desk.panes.outageorder import CHECK, DONE, STEP
from oneline.desk.panes.papers import PrintChoice
from oneline.desk.panes.readingsentry import ReadingsDialog, reading_order
from oneline.desk.panes.voltagetest import TestDialog
from oneline.model import Circuit, Drawing, End, Place, edits
from oneline.model.cautions import CAUTION_LINE, ZONE_CAUTION
from oneline.sheet import Text

CTRL, ALT, SHIFT = (
    Qt.KeyboardModifier.ControlModifier,
    Qt.KeyboardModifier.AltModifier,
    Qt.KeyboardModifier.ShiftModifier,
)


def shop() -> Drawing:
    """A service with its main and board; a switch to a panel that a roof array also feeds. All of it stands."""
    d, ids = Drawing(), {}

    def put(key: str, kind: str, x: float, y: float, **values) -> None:
        nonlocal d
        d, ids[key] = edits.add(d, kind, place=Place(x, y), **values)

    put("service", "service", 0, 0, name="Street", system="208Y/120")
    put("main", "disconnect", 0, 90, name="Main", form="fused switch", rating_a=400.0, load_break=True, lockable=True)
    put("board", "bus", 0, 180, name="Board")
    put("switch", "disconnect", 0, 270, name="Shop switch", rating_a=200.0, load_break=True, lockable=True)
    circuits = (Circuit(space=1, trip_a=20.0, description="Lights", va=1200.0, traced="traced"),)
    put("panel", "bus", 0, 380, name="Shop panel", spaces=12, circuits=circuits)
    put("array switch", "disconnect", 60, 480, name="Array switch", rating_a=60.0, load_break=True, lockable=True)
    put("array", "solar", 60, 580, name="Roof array", output_a=30.0)
    put("spare", "disconnect", -120, 270, name="Spare switch", rating_a=60.0, lockable=True)
    put("sign", "load", -120, 380, name="Sign", va=900.0)
    for a, b in ((("service", "out"), ("main", "line")), (("main", "load"), ("board", "bus")),
                 (("board", "bus"), ("switch", "line")), (("switch", "load"), ("panel", "bus")),
                 (("panel", "bus"), ("array switch", "line")), (("array switch", "load"), ("array", "out")),
                 (("board", "bus"), ("spare", "line")), (("spare", "load"), ("sign", "in"))):  # fmt: skip
        d, _ = edits.connect(d, End(ids[a[0]], a[1]), End(ids[b[0]], b[1]), kind="run", length_ft=20.0, size="3/0")
    return d


@pytest.fixture
def at_shop(desk):
    """The window with the shop, its panel selected."""
    desk.window.documents._take(shop(), None, None)
    desk.session.select([desk.named("Shop panel")])
    desk.window.canvas.setFocus()
    yield desk
    desk.session.clear_as_if()
    desk.window.docks.show("Findings")


@pytest.fixture
def planned(at_shop):
    """The same with an outage of that panel, planned with the keys."""
    at_shop.keys("u", held=CTRL)
    return at_shop


def pane_of(desk) -> OutagePane:
    pane = desk.window.docks.widget("Outage")
    assert isinstance(pane, OutagePane)
    pane.refresh_now()
    return pane


def texts(desk, item: str) -> list[str]:
    return [p.text for g in desk.session.picture.groups if g.item == item for p in g.primitives if isinstance(p, Text)]


def cell(pane: OutagePane, row: int, column: int) -> str:
    model = pane.order.steps_model
    return str(model.data(model.index(row, column)) or "")


def row_of(pane: OutagePane, key: str) -> int:
    return next(n for n, s in enumerate(pane.order.steps_model.steps) if s.key == key)


# -------------------------------------------------------------------------------------------------------------- zones
def test_an_outage_is_planned_with_one_key_and_taken_back_with_one(planned):
    pane = pane_of(planned)
    zone = planned.drawing.zones[0]
    assert zone.items == (planned.named("Shop panel"),)
    assert planned.session.undo_label == "Plan an outage"
    assert pane.answer.state.text() == "Can be isolated by the drawing"
    opened = {p.name for p in pane.plan.isolation.points}
    assert opened == {"Shop switch", "Array switch"}  # the service on one side, the array on the other
    assert planned.window.docks.by_title["Outage"].isAncestorOf(QApplication.focusWidget())
    planned.do("undo")
    assert planned.drawing.zones == ()
    assert pane_of(planned).zone_id is None


def test_what_the_drawing_cannot_know_is_always_said(planned):
    pane = pane_of(planned)
    for index in range(pane.tabs.count()):
        pane.tabs.setCurrentIndex(index)
        assert pane.caution.isVisible()
        assert ZONE_CAUTION in pane.caution.text()
        assert CAUTION_LINE in pane.caution.text()
    every = [w.text() for w in pane.findChildren(QAbstractButton)] + [pane.answer.state.text(), pane.answer.said.text()]
    assert not any(word in text.casefold().split() for text in every for word in ("safe", "safely"))


def test_items_are_added_and_taken_out(planned):
    planned.session.select([planned.named("Roof array")])
    planned.do("outage-add")
    assert planned.drawing.zones[0].items == (planned.named("Shop panel"), planned.named("Roof array"))
    assert pane_of(planned).plan.answer.state != "isolated"  # nothing stands between an array and itself
    planned.do("outage-less")
    assert planned.drawing.zones[0].items == (planned.named("Shop panel"),)
    planned.do("undo")
    assert len(planned.drawing.zones[0].items) == 2


def test_the_zone_is_outlined_while_its_pane_is_open(planned, qtbot):
    session = planned.session
    assert session.zone == planned.drawing.zones[0].id
    assert any(g.part == "frame" for g in session.picture.groups)
    assert "L1" in texts(planned, pane_of(planned).plan.isolation.points[0].item)
    planned.window.docks.show("Findings")
    qtbot.waitUntil(lambda: session.zone is None)
    assert not any(g.part == "frame" for g in session.picture.groups)


def test_isolation_points_are_chosen_from_the_keyboard_and_given_back(planned):
    pane = pane_of(planned)
    best = pane.plan.isolation.items
    planned.session.select([planned.named("Main"), planned.named("Array switch")])
    pane.answer.own.click()
    assert planned.drawing.zones[0].isolation == (planned.named("Main"), planned.named("Array switch"))
    pane = pane_of(planned)
    assert set(pane.plan.isolation.items) == {planned.named("Main"), planned.named("Array switch")}
    ways = [pane.answer.tree.topLevelItem(n).text(0) for n in range(pane.answer.tree.topLevelItemCount())]
    assert [w for w in ways if "chosen by hand" in w] == ["Array switch and Main  (in use, chosen by hand)"]
    other = next(
        top for n in range(pane.answer.tree.topLevelItemCount())
        if "in use" not in (top := pane.answer.tree.topLevelItem(n)).text(0)
    )  # fmt: skip
    pane.answer.tree.setCurrentItem(other)
    pane.answer.tree.setFocus()
    planned.keys(Qt.Key.Key_Return)
    assert set(pane_of(planned).plan.isolation.items) == set(best)
    pane.answer.best.click()
    assert planned.drawing.zones[0].isolation == ()


# -------------------------------------------------------------------------------------------------------------- order
def test_steps_are_rearranged_with_alt_and_arrows_and_the_computed_order_comes_back(planned):
    pane = pane_of(planned)
    pane.tabs.setCurrentWidget(pane.order_page)
    pane.order.setFocus()
    before = [s.key for s in pane.order.steps_model.steps]
    row = row_of(pane, next(k for k in before if k.startswith("open:")))
    pane.order.go_to(row)
    planned.keys(Qt.Key.Key_Up, held=ALT)
    pane = pane_of(planned)
    after = [s.key for s in pane.order.steps_model.steps]
    assert after.index(before[row]) == row - 1
    assert after != before
    assert pane.order.current_key() == before[row]
    assert planned.session.undo_label == "Rearrange the switching order"
    planned.keys(Qt.Key.Key_Down, held=ALT)
    assert [s.key for s in pane_of(planned).order.steps_model.steps] == before
    pane.order.go_to(0)
    planned.keys(Qt.Key.Key_Down, held=ALT)
    planned.do("order-computed")
    assert [s.key for s in pane_of(planned).order.steps_model.steps] == before
    assert planned.drawing.zones[0].order == ()


def test_a_bad_place_is_explained_beside_the_step_at_once(planned):
    pane = pane_of(planned)
    work = next(s.key for s in pane.order.steps_model.steps if s.action == "work")
    first_open = next(s.key for s in pane.order.steps_model.steps if s.action == "open")
    pane.move_step(work, first_open)
    pane = pane_of(planned)
    problems = {p.step: p.says for p in pane.plan.problems}
    assert problems
    for key, says in problems.items():
        assert says in cell(pane, row_of(pane, key), CHECK)
    assert "to look at" in pane.tabs.tabText(1)
    pane.tabs.setCurrentWidget(pane.order_page)
    key, says = next(iter(problems.items()))
    pane.order.go_to(row_of(pane, key))
    assert pane.beside.is_problem
    assert says in pane.beside.text()


def test_a_step_is_dragged_to_another_place(planned):
    pane = pane_of(planned)
    model = pane.order.steps_model
    keys = [s.key for s in model.steps]
    data = model.mimeData([model.index(1, STEP)])
    model.dropMimeData(data, Qt.DropAction.MoveAction, 4, 0, QModelIndex())
    moved = [s.key for s in pane_of(planned).order.steps_model.steps]
    assert moved == [keys[0], *keys[2:4], keys[1], *keys[4:]]


def test_steps_are_marked_with_initials_and_time(planned):
    pane = pane_of(planned)
    pane.tabs.setCurrentWidget(pane.order_page)
    pane.order.setFocus()
    pane.order.go_to(0)
    planned.keys(Qt.Key.Key_Space)
    assert planned.drawing.zones[0].marks == ()
    assert pane.initials.hasFocus()  # they are asked for first
    planned.keys("AB")
    pane.order.setFocus()
    planned.keys(Qt.Key.Key_Space)
    mark = planned.drawing.zones[0].marks[0]
    assert mark.by == "AB"
    assert mark.step == pane.order.steps_model.steps[0].key
    assert cell(pane_of(planned), 0, DONE).startswith("AB ")
    planned.keys(Qt.Key.Key_Space)
    assert planned.drawing.zones[0].marks == ()
    pane.initials.clear()


def test_the_order_has_a_row_of_words_for_every_step(planned):
    pane = pane_of(planned)
    steps = pane.plan.steps
    assert pane.order.steps_model.rowCount() == len(steps) > 10
    for row, step in enumerate(steps):
        assert step.words in cell(pane, row, STEP)
        assert ("Hold point" in cell(pane, row, STEP)) == step.hold
        if step.why:
            assert step.why in cell(pane, row, CHECK)


# ---------------------------------------------------------------------------------------------------------- rehearsal
def test_the_sheet_follows_the_rehearsal_and_the_drawing_does_not(planned):
    window, session = planned.window, planned.session
    drawing = planned.drawing
    planned.keys("t", held=CTRL)
    assert session.view == "existing"
    assert window.banner.isVisible()
    assert "the drawing is not changed" in window.banner.head.text()
    assert "before step 1 of" in window.banner.head.text()
    switch = planned.named("Shop switch")
    opened = next(s for s in session.rehearsal.plan.steps if s.action == "open" and s.item == switch)
    closed = next(s for s in session.rehearsal.plan.steps if s.action == "close" and s.item == switch)
    for _ in range(opened.number):
        planned.keys(Qt.Key.Key_PageDown, held=ALT)
    assert f"step {opened.number} of {len(session.rehearsal.plan.steps)}" in window.banner.head.text()
    assert window.banner.step.text() == opened.words
    assert "as if open" in texts(planned, switch)
    assert pane_of(planned).order.currentIndex().row() == opened.number - 1
    planned.keys(Qt.Key.Key_PageUp, held=ALT)
    assert "as if open" not in texts(planned, switch)
    session.rehearse(closed.number)
    assert "as if open" not in texts(planned, switch)
    planned.keys(".", held=CTRL)
    assert session.rehearsal is None
    assert not window.banner.isVisible()
    assert planned.drawing is drawing


def test_enter_in_the_order_rehearses_to_that_step(planned):
    pane = pane_of(planned)
    pane.tabs.setCurrentWidget(pane.order_page)
    pane.order.setFocus()
    pane.order.go_to(6)
    planned.keys(Qt.Key.Key_Return)
    assert planned.session.rehearsal.done == 7
    assert "step 7 of" in planned.window.banner.head.text()


def test_the_switches_are_set_as_after_a_step_in_one_undoable_edit(planned):
    pane = pane_of(planned)
    before = planned.drawing
    last = [s for s in pane.plan.steps if s.action == "open"][-1]
    planned.keys("t", held=CTRL)
    planned.session.rehearse(last.number)
    planned.keys("t", held=CTRL | SHIFT)
    opened = {i.name for i in planned.drawing.items.values() if i.kind == "disconnect" and not i.closed}
    assert opened >= {"Shop switch", "Array switch"}
    assert planned.session.rehearsal is None
    assert planned.session.undo_label == f"Set switches as after step {last.number}"
    planned.do("undo")
    assert planned.drawing == before


def test_an_edit_that_ends_the_rehearsal_says_so(planned):
    planned.keys("t", held=CTRL)
    planned.session.rehearse(3)
    planned.do("undo")  # the outage itself
    assert planned.session.rehearsal is None
    assert not planned.window.banner.isVisible()
    QApplication.processEvents()
    assert "ended" in planned.said


def test_a_switch_is_tried_on_the_sheet_without_an_outage(at_shop):
    desk = at_shop
    desk.session.select([desk.named("Shop switch")])
    desk.window.canvas.setFocus()
    drawing = desk.drawing
    desk.keys("o", held=SHIFT)
    assert desk.window.banner.isVisible()
    assert desk.window.banner.step.text() == "Shop switch open"
    assert "live both sides" in texts(desk, desk.named("Shop switch"))  # street above, roof array below
    details = desk.window.docks.widget("Details")
    details.refresh_now()
    desk.keys("o", held=SHIFT)
    assert not desk.window.banner.isVisible()
    assert desk.drawing is drawing


# ---------------------------------------------------------------------------------------------------------------- why
def test_why_something_is_live_is_told_and_shown(at_shop):
    desk = at_shop
    desk.window.canvas.setFocus()
    desk.keys("q")
    details = desk.window.docks.widget("Details")
    rows = [details.ways.list.item(n).text() for n in range(details.ways.list.count())]
    assert len(rows) == 2
    street = next(r for r in rows if r.startswith("From Street"))
    order = ("Street", "Main", "Board", "Shop switch", "Shop panel")
    places = [street.index(f" {name}") for name in order]
    assert places == sorted(places)
    items = desk.window.canvas.sheet.sheet_items
    details.ways.list.setCurrentRow(rows.index(street))
    on_way = {i for i, item in items.items() if item.on_way}
    assert {desk.named(n) for n in order} <= on_way
    assert desk.named("Roof array") not in on_way
    details.ways.list.setCurrentRow(1 - rows.index(street))
    assert items[desk.named("Roof array")].on_way
    desk.session.select([desk.named("Sign")])
    assert not any(item.on_way for item in items.values())


def test_both_sides_of_an_open_device_are_told_apart(at_shop):
    desk = at_shop
    switch = desk.named("Shop switch")
    desk.session.apply("Open", edits.operate(desk.drawing, switch))
    desk.session.select([switch])
    desk.do("why-live")
    details = desk.window.docks.widget("Details")
    rows = [details.ways.list.item(n).text() for n in range(details.ways.list.count())]
    assert sorted(r.partition(":")[0] for r in rows) == ["Line side, from Street", "Load side, from Roof array"]


# ------------------------------------------------------------------------------------------------------------ records
def fill_in(dialog: TestDialog, volts: str) -> None:
    dialog.show()
    for name, entry in dialog.entries.items():
        if name.endswith("_v"):
            entry.setFocus()
            QTest.keyClicks(entry, volts)
            QTest.keyClick(entry, Qt.Key.Key_Return)
    for switch in dialog.proved.values():
        switch.buttons[True].click()
    dialog.store.click()
    dialog.hide()


def test_only_records_verify_that_something_is_dead_and_an_edit_takes_it_back(planned):
    pane = pane_of(planned)
    panel = planned.named("Shop panel")
    pane.initials.setText("AB")
    last = [s for s in pane.plan.steps if s.action == "open"][-1]
    pane.order.go_to(last.number - 1)
    pane.set_switches()
    for point in pane_of(planned).plan.isolation.points:
        pane.hang_lock(point.item)
    assert [r.by for r in planned.drawing.zones[0].locks] == ["AB", "AB"]
    assert pane_of(planned).plan.states[panel] == "dead by the drawing, not verified"
    card = pane_of(planned).records.card(panel, "bus")
    dialog = TestDialog(card, "2026-12-05 06:40", "AB", "Tester 1, CAT III", planned.window)
    fill_in(dialog, "0")
    assert dialog.test is not None
    pane.store_test(dialog.test)
    dialog.deleteLater()
    assert planned.drawing.zones[0].tests[0].seal
    assert pane_of(planned).plan.states[panel] == "verified dead"
    assert "tested dead" in texts(planned, panel)
    pane.tabs.setCurrentWidget(pane.records)
    pane.take_lock_off(pane.plan.isolation.points[0].item)
    assert pane_of(planned).plan.states[panel] != "verified dead"
    assert "tested dead" not in texts(planned, panel)
    planned.do("undo")
    assert pane_of(planned).plan.states[panel] == "verified dead"
    planned.session.apply("Close", edits.operate(planned.drawing, planned.named("Shop switch")))
    assert pane_of(planned).plan.states[panel] == "live by the drawing"
    pane.initials.clear()


def test_a_reading_of_a_test_that_is_not_understood_stores_nothing(planned):
    card = pane_of(planned).plan.cards[0]
    dialog = TestDialog(card, "2026-12-05 06:40", "AB", "", planned.window)
    fill_in(dialog, "0,0,0")
    assert dialog.test is None
    assert dialog.message.is_problem
    dialog.deleteLater()


def test_a_test_asks_for_every_pair_of_its_card_and_leaves_unsaid_what_nobody_said(planned):
    card = pane_of(planned).plan.cards[0]
    dialog = TestDialog(card, "2026-12-05 06:40", "", "", planned.window)
    assert {p.field for p in card.pairs} <= set(dialog.entries)
    dialog.accept()
    assert dialog.test is not None
    assert dialog.test.proved_before is None
    assert all(getattr(dialog.test, p.field) is None for p in card.pairs)
    dialog.deleteLater()


# ----------------------------------------------------------------------------------------------------------- readings
def test_readings_are_typed_row_by_row_and_stored_as_one_step(planned, qtbot):
    plan = pane_of(planned).plan
    items = reading_order(plan, planned.drawing)
    opened = [s.item for s in plan.steps if s.action == "open"]
    assert list(items[: len(opened)]) == list(dict.fromkeys(opened))
    notes: Callable = lambda d: planned.session._plans.planner(d, planned.drawing.zones[0].id).notes  # noqa: E731
    dialog = ReadingsDialog(planned.drawing, items, "2026-12-05 06:00", notes, "Clamp 2", planned.window)
    dialog.show()
    qtbot.waitUntil(dialog.grid.hasFocus)
    for text in ("12", "14.5", "11", "3", "40"):
        for letter in text:
            QTest.keyClicks(QApplication.focusWidget(), letter)
        QTest.keyClick(QApplication.focusWidget(), Qt.Key.Key_Return)
    assert (dialog.grid.currentRow(), dialog.grid.currentColumn()) == (1, 3)
    QTest.keyClick(QApplication.focusWidget(), Qt.Key.Key_Tab)
    assert (dialog.grid.currentRow(), dialog.grid.currentColumn()) == (1, 4)
    dialog.grid.setCurrentCell(dialog.grid.rowCount() - 1, 5)
    QTest.keyClick(dialog.grid, Qt.Key.Key_Return)
    assert QApplication.focusWidget().text() == "Store the readings"
    dialog.accept()
    first, second = (dialog.readings[i] for i in items[:2])
    assert (first.a_a, first.b_a, first.c_a, first.n_a) == (12.0, 14.5, 11.0, 3.0)
    assert (first.when, first.instrument) == ("2026-12-05 06:00", "Clamp 2")
    assert (second.a_a, second.b_a) == (40.0, None)
    dialog.deleteLater()


def test_a_wrong_cell_is_named_and_nothing_is_stored(planned):
    dialog = ReadingsDialog(
        planned.drawing, reading_order(None, planned.drawing), "now", lambda _d: (), "", planned.window
    )
    dialog.grid.item(0, 2).setText("twelve")
    assert dialog.message.is_problem
    dialog.accept()
    assert dialog.readings == {}
    dialog.grid.item(0, 2).setText("12")
    dialog.when.clear()
    dialog.accept()
    assert dialog.readings == {}
    assert "time" in dialog.message.text()
    dialog.deleteLater()


# ------------------------------------------------------------------------------------------------- papers and keyboard
@pytest.mark.parametrize("paper", ["all", "order", "cards", "notice", "brief"])
def test_every_paper_of_an_outage_is_made(planned, paper):
    zone = planned.drawing.zones[0].id
    pdf = outage_pdf(
        planned.drawing, PrintChoice(paper, "letter", "existing", zone), "shop", "us", pane_of(planned).plan
    )
    assert pdf.startswith(b"%PDF")


def test_the_tabs_are_walked_through_with_the_keyboard(planned):
    pane = pane_of(planned)
    pane.answer.tree.setFocus()
    seen = []
    for _ in range(pane.tabs.count()):
        planned.keys(Qt.Key.Key_Tab, held=CTRL)
        seen.append(pane.tabs.tabText(pane.tabs.currentIndex()))
    assert len(set(seen)) == pane.tabs.count()


def test_every_button_of_the_pane_can_be_hit_and_says_what_it_does(planned):
    pane = pane_of(planned)
    for index in range(pane.tabs.count()):
        pane.tabs.setCurrentIndex(index)
        QApplication.processEvents()
        for button in pane.findChildren(QAbstractButton):
            if button.isVisible() and button.text():
                assert button.height() >= 24, button.text()
                assert button.width() >= button.fontMetrics().horizontalAdvance(button.text()), button.text()
                assert button.toolTip() or button.accessibleName(), button.text()
