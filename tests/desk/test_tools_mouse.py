"""Drawing with the pointer alone: every step through real mouse events, no keys but Esc."""

from __future__ import annotations

from itertools import pairwise

import pytest
from PySide6.QtCore import QMimeData, QPoint, QPointF, Qt
from PySide6.QtGui import QDropEvent
from PySide6.QtTest import QTest

from oneline.desk.tools.operate import OperateTool
from oneline.desk.tools.place import MIME_KIND, PlaceTool
from oneline.model import ConductorRun, Disconnect, Place, SuspectedTie, edits

Key = Qt.Key
CTRL = Qt.KeyboardModifier.ControlModifier
SHIFT = Qt.KeyboardModifier.ShiftModifier


def take(desk, key: str) -> None:
    QTest.mouseClick(desk.window.strip.buttons[key], Qt.MouseButton.LeftButton)


def joined(desk, a: str, b: str) -> bool:
    ids = {desk.named(a), desk.named(b)}
    return any({c.a.item, c.b.item} == ids for c in desk.drawing.connections() if c.b is not None)


@pytest.fixture
def drawn(desk):
    """A service, a main, a bus with a breaker and a panel, all in view."""
    desk.keys("swubp")
    desk.session.select([])
    desk.window.canvas.fit()
    return desk


# --------------------------------------------------------------------------------------------------------------- placing
def test_a_service_main_bus_breaker_and_panel_by_clicks(desk):
    take(desk, "service")
    assert desk.window.strip.buttons["service"].isChecked()
    desk.click(desk.screen((0, -100)))
    assert desk.names() == ["Service 1"]
    assert not desk.window.strip.buttons["service"].isChecked()
    steps = (("fused-switch", "Service 1"), ("bus", "Fused switch 1"), ("breaker", "Bus 1"), ("panel", "Breaker 1"))
    for key, below in steps:
        take(desk, key)
        desk.window.canvas.fit()
        desk.click(desk.middle(desk.named(below)))
    assert desk.names() == ["Service 1", "Fused switch 1", "Bus 1", "Breaker 1", "Panel 1"]
    for a, b in pairwise(desk.names()):
        assert joined(desk, a, b)


def test_a_click_on_paper_puts_it_on_the_grid(desk):
    take(desk, "panel")
    desk.click(desk.screen((52.0, 33.0)))
    place = desk.drawing.get(desk.named("Panel 1")).place
    assert (place.x % 10, place.y % 10) == (0, 0)
    assert abs(place.x - 52) <= 5
    assert abs(place.y - 33) <= 5


def test_shift_keeps_the_tool(desk):
    take(desk, "load")
    desk.click(desk.screen((0, 0)), held=SHIFT)
    desk.click(desk.screen((100, 0)))
    assert desk.names() == ["Load 1", "Load 2"]
    assert not isinstance(desk.window.canvas.tool, PlaceTool)


def test_escape_puts_the_tool_down(desk):
    take(desk, "load")
    assert isinstance(desk.window.canvas.tool, PlaceTool)
    desk.keys(Key.Key_Escape)
    assert not isinstance(desk.window.canvas.tool, PlaceTool)
    assert not desk.window.strip.buttons["load"].isChecked()
    desk.click(desk.screen((0, 0)))
    assert desk.session.undo_label is None


def test_the_strip_entry_is_taken_and_put_back_by_clicks(desk):
    take(desk, "load")
    take(desk, "load")
    assert not isinstance(desk.window.canvas.tool, PlaceTool)


def test_a_click_on_a_line_puts_a_device_into_it_where_it_was_clicked(drawn):
    run = next(drawn.drawing.of(ConductorRun))
    take(drawn, "meter")
    drawn.click(drawn.middle(run.id))
    assert joined(drawn, "Service 1", "Meter 1")
    assert joined(drawn, "Meter 1", "Fused switch 1")
    assert drawn.session.undo_label == "Add Meter 1"
    at = drawn.session.picture.terminals
    assert at[(drawn.named("Meter 1"), "load")][1] < at[(drawn.named("Fused switch 1"), "line")][1]


def test_dropping_from_the_strip(desk):
    canvas = desk.window.canvas
    data = QMimeData()
    data.setData(MIME_KIND, b"panel")
    canvas.use_tool(PlaceTool(canvas, "panel"))
    at = desk.screen((40, 40))
    drop = QDropEvent(
        QPointF(at), Qt.DropAction.CopyAction, data, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier
    )
    canvas.dropEvent(drop)
    assert desk.names() == ["Panel 1"]
    assert desk.session.undo_label == "Add Panel 1"


# ------------------------------------------------------------------------------------------------------------- selecting
def test_click_selects_and_paper_clears(drawn):
    drawn.click(drawn.middle(drawn.named("Bus 1")))
    assert drawn.session.selection == (drawn.named("Bus 1"),)
    drawn.click(drawn.screen((-300, -100)))
    assert drawn.session.selection == ()


@pytest.mark.parametrize("held", [CTRL, SHIFT])
def test_adding_and_taking_off(drawn, held):
    bus, main = drawn.named("Bus 1"), drawn.named("Fused switch 1")
    drawn.click(drawn.middle(bus))
    drawn.click(drawn.middle(main), held=held)
    assert set(drawn.session.selection) == {bus, main}
    drawn.click(drawn.middle(bus), held=held)
    assert drawn.session.selection == (main,)


def test_a_band_selects_what_lies_inside(drawn):
    canvas = drawn.window.canvas
    rect = canvas.sheet.rect_of([drawn.named("Breaker 1"), drawn.named("Panel 1")])
    start, end = drawn.screen((rect.left() - 40, rect.top() - 2)), drawn.screen((rect.right() + 40, rect.bottom() + 20))
    label = drawn.session.undo_label
    drawn.drag(start, end)
    chosen = {drawn.drawing.get(i).name for i in drawn.session.selection}
    assert {"Breaker 1", "Panel 1"} <= chosen
    assert "Service 1" not in chosen
    assert drawn.session.undo_label == label
    assert canvas.overlay.empty


def test_escape_ends_a_band_and_gives_the_selection_back(drawn):
    drawn.session.select([drawn.named("Service 1")])
    drawn.drag(drawn.screen((-300, -100)), drawn.screen((400, 600)), drop=False)
    assert len(drawn.session.selection) > 1
    drawn.keys(Key.Key_Escape)
    assert drawn.session.selection == (drawn.named("Service 1"),)
    assert drawn.window.canvas.overlay.empty


@pytest.mark.parametrize(("name", "pane"), [("Service 1", "Details"), ("Panel 1", "Circuits")])
def test_double_click_goes_to_the_details_and_on_a_panel_to_its_circuits(drawn, name, pane):
    item = drawn.named(name)
    QTest.mouseDClick(drawn.window.canvas.viewport(), Qt.MouseButton.LeftButton, pos=drawn.middle(item))
    assert drawn.session.selection == (item,)
    focus = drawn.window.focusWidget()
    assert drawn.window.docks.by_title[pane].isAncestorOf(focus)
    if pane == "Circuits":
        assert drawn.window.docks.widget("Circuits").model.panel == item


# ---------------------------------------------------------------------------------------------------------------- moving
def test_a_drag_moves_on_the_grid_as_one_step(drawn):
    panel = drawn.named("Panel 1")
    was = drawn.drawing.get(panel).place
    scale = drawn.window.canvas.zoom
    start = drawn.middle(panel)
    drawn.drag(start, start + QPoint(round(63 * scale), round(38 * scale)))
    now = drawn.drawing.get(panel).place
    assert (now.x - was.x, now.y - was.y) == (60, 40)
    assert drawn.session.undo_label == "Move Panel 1"
    drawn.do("undo")
    assert drawn.drawing.get(panel).place == was


def test_lines_follow_while_dragging_and_the_step_comes_at_the_end(drawn):
    panel = drawn.named("Panel 1")
    label = drawn.session.undo_label
    start = drawn.middle(panel)
    before = drawn.window.canvas.sheet.picture
    drawn.drag(start, start + QPoint(80, 40), drop=False)
    shown = drawn.window.canvas.sheet.picture
    assert shown.terminals[(panel, "bus")] != before.terminals[(panel, "bus")]
    assert drawn.session.undo_label == label
    drawn.keys(Key.Key_Escape)
    assert drawn.window.canvas.sheet.picture == before
    assert drawn.session.undo_label == label
    QTest.mouseRelease(drawn.window.canvas.viewport(), Qt.MouseButton.LeftButton, pos=start)
    assert drawn.session.undo_label == label


def test_a_drag_of_one_of_many_moves_all(drawn):
    ids = [drawn.named("Breaker 1"), drawn.named("Panel 1")]
    drawn.session.select(ids)
    was = [drawn.drawing.get(i).place for i in ids]
    start = drawn.middle(ids[1])
    drawn.drag(start, start + QPoint(round(40 * drawn.window.canvas.zoom), 0))
    now = [drawn.drawing.get(i).place for i in ids]
    assert [(n.x - w.x, n.y - w.y) for n, w in zip(now, was, strict=True)] == [(40, 0), (40, 0)]
    assert drawn.session.undo_label == "Move 2 items"


def test_a_free_device_let_go_on_a_line_goes_into_it(drawn):
    run = next(drawn.drawing.of(ConductorRun))
    drawn.session.apply("Add a meter", edits.add(drawn.drawing, "meter", name="M1", place=Place(300, 100))[0])
    drawn.window.canvas.fit()
    meter = drawn.named("M1")
    drawn.drag(drawn.middle(meter), drawn.middle(run.id))
    assert joined(drawn, "Service 1", "M1")
    assert joined(drawn, "M1", "Fused switch 1")
    assert drawn.session.undo_label.startswith("Put M1 into")


def test_a_dragged_line_keeps_its_bend(drawn):
    run = next(r for r in drawn.drawing.of(ConductorRun) if r.b.item == drawn.named("Panel 1"))
    start = drawn.middle(run.id)
    drawn.drag(start, start + QPoint(round(50 * drawn.window.canvas.zoom), 0))
    bends = drawn.drawing.get(run.id).bends
    assert bends
    assert drawn.session.undo_label.startswith("Bend ")
    route = drawn.window.canvas.route_of(run.id)
    assert max(x for x, _ in route) >= max(p.x for p in bends)
    drawn.do("undo")
    assert drawn.drawing.get(run.id).bends == ()


# ------------------------------------------------------------------------------------------------------------ connecting
@pytest.fixture
def apart(desk):
    """A breaker and a panel, side by side, not joined."""
    drawing, breaker = edits.add(desk.drawing, "disconnect", name="B", place=Place(0, 0))
    drawing, panel = edits.add(drawing, "bus", name="P", place=Place(200, 100))
    desk.session.apply("Begin", drawing)
    desk.window.canvas.fit()
    return desk, breaker, panel


def test_dragging_from_a_terminal_to_an_item(apart):
    desk, breaker, panel = apart
    desk.drag(desk.terminal(breaker, "load"), desk.middle(panel))
    run = next(desk.drawing.of(ConductorRun))
    assert (run.a.item, run.a.terminal) == (breaker, "load")
    assert run.b.item == panel
    assert desk.session.undo_label == "Connect B to P"
    assert desk.window.canvas.overlay.empty


def test_dragging_from_a_bus_with_the_connecting_tool(apart):
    desk, breaker, panel = apart
    desk.do("connect")
    desk.drag(desk.middle(panel), desk.terminal(breaker, "line"))
    joint = desk.drawing.connections_of(breaker)[0]
    assert joint.kind == "joint"
    assert {(e.item, e.terminal) for e in (joint.a, joint.b)} == {(breaker, "line"), (panel, "bus")}


def test_two_clicks_with_the_connecting_tool(apart):
    desk, breaker, panel = apart
    desk.do("connect")
    desk.click(desk.terminal(breaker, "load"))
    assert "From B" in desk.said
    desk.click(desk.middle(panel))
    assert joined(desk, "B", "P")


def test_a_wire_let_go_on_paper_is_nothing(apart):
    desk, breaker, _panel = apart
    before = desk.drawing
    desk.drag(desk.terminal(breaker, "load"), desk.screen((-150, 60)))
    assert desk.drawing is before
    assert "Nothing was changed" in desk.said


def test_escape_during_a_wire_is_nothing(apart):
    desk, breaker, panel = apart
    before = desk.drawing
    desk.drag(desk.terminal(breaker, "load"), desk.middle(panel), drop=False)
    desk.keys(Key.Key_Escape)
    QTest.mouseRelease(desk.window.canvas.viewport(), Qt.MouseButton.LeftButton, pos=desk.middle(panel))
    assert desk.drawing is before
    assert desk.session.undo_label == "Begin"
    assert desk.window.canvas.overlay.empty


def test_joining_the_same_terminals_twice_is_refused_with_its_sentence(apart):
    desk, breaker, panel = apart
    desk.do("connect")
    desk.drag(desk.middle(panel), desk.terminal(breaker, "line"))
    before = desk.drawing
    desk.do("connect")
    desk.drag(desk.middle(panel), desk.terminal(breaker, "line"))
    assert desk.drawing is before
    assert "already joined" in desk.said


def test_a_suspected_tie_let_go_on_paper_leads_to_an_unknown_place(apart):
    desk, _breaker, panel = apart
    desk.do("tie")
    desk.drag(desk.middle(panel), desk.screen((-150, 60)))
    tie = next(desk.drawing.of(SuspectedTie))
    assert tie.b is None


# ------------------------------------------------------------------------------------------------------------- operating
def test_the_handle_beside_a_switch_opens_and_closes_it(drawn):
    breaker = drawn.named("Breaker 1")
    drawn.click(drawn.middle(breaker))
    handle = drawn.window.canvas.sheet.handle
    assert handle.isVisible()
    at = drawn.screen((handle.pos().x(), handle.pos().y()))
    drawn.click(at)
    assert not drawn.drawing.get(breaker).closed
    assert drawn.session.undo_label == "Open Breaker 1"
    drawn.click(at)
    assert drawn.drawing.get(breaker).closed


def test_the_operating_tool(drawn):
    drawn.do("operate")
    assert isinstance(drawn.window.canvas.tool, OperateTool)
    drawn.click(drawn.middle(drawn.named("Breaker 1")))
    drawn.click(drawn.middle(drawn.named("Fused switch 1")))
    assert [i.closed for i in drawn.drawing.of(Disconnect)] == [False, False]
    drawn.click(drawn.middle(drawn.named("Bus 1")))
    assert "no positions" in drawn.said


def test_what_is_live_is_painted_anew_after_operating(drawn):
    before = {i: item.groups for i, item in drawn.window.canvas.sheet.sheet_items.items()}
    drawn.do("operate")
    drawn.click(drawn.middle(drawn.named("Fused switch 1")))
    after = drawn.window.canvas.sheet.sheet_items
    # Everything below the open switch is dead now; the service is as it was.
    changed = {drawn.drawing.get(i).name for i in before if after[i].groups != before[i] and drawn.drawing.get(i).name}
    assert {"Fused switch 1", "Bus 1", "Breaker 1", "Panel 1"} <= changed


# ------------------------------------------------------------------------------------------- into a line, at every zoom
@pytest.fixture
def gutter(desk):
    """What an electrician drew: a service, a meter and a gutter with a switch and a panel below it."""
    desk.keys("smk")
    for _ in range(3):
        desk.session.select([desk.named("Gutter 1")])
        desk.keys("wp")
    desk.session.select([])
    return desk


def between(desk, upper: str, lower: str) -> str:
    ids = {desk.named(upper), desk.named(lower)}
    return next(c.id for c in desk.drawing.connections() if {c.a.item, c.b.item} == ids)


@pytest.mark.parametrize("share", [0.2, 0.38, 0.65, 1.0, 1.12, 2.0])
@pytest.mark.parametrize("ends", [("Service 1", "Meter 1"), ("Meter 1", "Gutter 1")])
@pytest.mark.parametrize("along", [0.3, 0.5, 0.7])
def test_a_click_on_a_line_splits_it_at_every_zoom(gutter, share, ends, along):
    """Marks and tags stand on the line too; they must not turn the click into something else."""
    canvas = gutter.window.canvas
    line = between(gutter, *ends)
    (ax, ay), (bx, by) = canvas.route_of(line)[0], canvas.route_of(line)[-1]
    canvas.set_zoom(share)
    canvas.centerOn(ax, ay)
    take(gutter, "fused-switch")
    new = gutter.screen((ax + (bx - ax) * along, ay + (by - ay) * along))
    new += QPoint(3, 0)
    gutter.click(new)
    assert joined(gutter, ends[0], "Fused switch 4")
    assert joined(gutter, "Fused switch 4", ends[1])
    assert not joined(gutter, *ends)
    assert f"in the line between {ends[0]} and {ends[1]}" in gutter.said


@pytest.mark.parametrize("share", [0.65, 1.12])
def test_just_below_a_terminal_the_line_is_meant_and_at_it_the_terminal(gutter, share):
    canvas = gutter.window.canvas
    canvas.set_zoom(share)
    terminal = gutter.session.picture.terminals[(gutter.named("Service 1"), "out")]
    canvas.centerOn(*terminal)
    take(gutter, "fused-switch")
    gutter.click(gutter.screen(terminal) + QPoint(0, 12))
    assert joined(gutter, "Service 1", "Fused switch 4")
    assert joined(gutter, "Fused switch 4", "Meter 1")
    gutter.do("undo")
    take(gutter, "fused-switch")
    gutter.click(gutter.screen(terminal) + QPoint(0, 2))
    assert joined(gutter, "Service 1", "Fused switch 4")
    assert joined(gutter, "Service 1", "Meter 1")


@pytest.mark.parametrize("share", [0.4, 0.65, 1.12])
def test_what_the_ghost_shows_is_what_happens(gutter, share):
    canvas = gutter.window.canvas
    canvas.fit()
    canvas.zoom_at(share, QPointF(canvas.viewport().rect().center()))
    rng = canvas.viewport().rect().adjusted(40, 40, -40, -40)
    for n in range(12):
        at = QPoint(rng.left() + n * rng.width() // 11, rng.top() + (n * 5 % 12) * rng.height() // 11)
        take(gutter, "breaker")
        QTest.mouseMove(canvas.viewport(), at)
        shown = canvas.overlay._ghost
        assert shown is not None
        QTest.mouseClick(canvas.viewport(), Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier, at)
        place = gutter.drawing.get(gutter.session.selection[0]).place
        assert (place.x, place.y) == shown[2]
        gutter.do("undo")
