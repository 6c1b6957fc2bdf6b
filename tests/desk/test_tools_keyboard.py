"""Drawing with the keys alone: every step through real key events, no mouse."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest
from PySide6.QtCore import Qt

from oneline.model import ConductorRun, Disconnect, End, Joint, Load, SuspectedTie, TransferSwitch
from oneline.network import build_network

Key = Qt.Key
CTRL = Qt.KeyboardModifier.ControlModifier
SHIFT = Qt.KeyboardModifier.ShiftModifier
ALT = Qt.KeyboardModifier.AltModifier


def joined(desk, a: str, b: str) -> bool:
    """Whether some connection ends at both items."""
    return any({c.a.item, c.b.item} == {a, b} for c in desk.drawing.connections() if c.b is not None)


def test_a_service_with_main_bus_breaker_panel_and_load_is_drawn_with_six_keys(desk):
    desk.keys("swubpl")
    kinds = [i.kind for i in desk.drawing.items.values()]
    assert kinds.count("service") == kinds.count("load") == 1
    assert kinds.count("disconnect") == kinds.count("bus") == 2
    chain = ["Service 1", "Fused switch 1", "Bus 1", "Breaker 1", "Panel 1", "Load 1"]
    ids = [desk.named(n) for n in chain]
    for a, b in pairwise(ids):
        assert joined(desk, a, b)
    # All of it is one network that the service feeds.
    net = build_network(desk.drawing)
    assert net.node_of[End(ids[-1], "in")] >= 0
    # A breaker is bolted to its bus and feeds the panel by conductors; a main is bolted to its switchboard.
    assert [c.kind for c in desk.drawing.connections_of(ids[3])] == ["joint", "run"]
    assert [c.kind for c in desk.drawing.connections_of(ids[1])] == ["run", "joint"]


def test_items_below_each_other_do_not_lie_on_each_other(desk):
    desk.keys("su")
    bus = desk.named("Bus 1")
    for _ in range(8):
        desk.session.select([bus])
        desk.keys("b")
    boxes = [
        g.box for g in desk.session.picture.groups
        if g.part == "symbol" and isinstance(desk.drawing.get(g.item), Disconnect)
    ]  # fmt: skip
    assert len(boxes) == 8
    for n, a in enumerate(boxes):
        for b in boxes[n + 1 :]:
            assert a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]


def test_each_key_is_one_named_step(desk):
    desk.keys("su")
    assert desk.session.undo_label == "Add Bus 1"
    assert desk.window.actions_by_key["undo"].text() == "Undo Add Bus 1"
    desk.keys("z", held=CTRL)
    assert desk.names() == ["Service 1"]
    assert desk.window.actions_by_key["redo"].text() == "Redo Add Bus 1"
    desk.keys("z", held=CTRL | SHIFT)
    assert "Bus 1" in desk.names()


def test_a_key_on_a_selected_line_puts_a_device_into_it(desk):
    desk.keys("sp")
    run = next(desk.drawing.of(ConductorRun))
    desk.session.select([run.id])
    desk.keys("b")
    breaker = desk.named("Breaker 1")
    assert joined(desk, desk.named("Service 1"), breaker)
    assert joined(desk, breaker, desk.named("Panel 1"))
    terminals = desk.session.picture.terminals
    line, load = terminals[(breaker, "line")], terminals[(breaker, "load")]
    assert terminals[(desk.named("Service 1"), "out")][1] < line[1] < load[1]
    assert load[1] < terminals[(desk.named("Panel 1"), "bus")][1]


def test_below_a_load_nothing_is_placed_and_the_bar_says_why(desk):
    desk.keys("sl")
    before = desk.drawing
    desk.keys("b")
    assert desk.drawing is before
    assert "is a load" in desk.said


def test_a_generator_goes_to_the_alternate_side_of_a_transfer_switch(desk):
    desk.keys("srg")
    switch = next(desk.drawing.of(TransferSwitch))
    ends = {e for c in desk.drawing.connections_of(switch.id) for e in (c.a, c.b)}
    assert End(switch.id, "normal") in ends
    desk_ends = {e.terminal for e in ends if e.item == switch.id}
    assert desk_ends == {"normal", "alternate"}
    terminals = desk.session.picture.terminals
    generator = desk.named("Generator 1")
    assert terminals[(generator, "out")][1] < terminals[(switch.id, "alternate")][1]


def test_an_array_hangs_below_its_breaker(desk):
    desk.keys("sub")
    desk.keys("a")
    assert joined(desk, desk.named("Breaker 1"), desk.named("Array 1"))


def test_a_second_service_is_not_joined_to_the_first(desk):
    desk.keys("ss")
    assert desk.names() == ["Service 1", "Service 2"]
    assert not list(desk.drawing.connections())


def test_new_work_hangs_below_new_work(desk):
    desk.keys("su")
    desk.keys("n", held=CTRL | SHIFT)
    desk.keys("b")
    desk.keys("n", held=CTRL | SHIFT)
    desk.keys("p")
    assert desk.drawing.get(desk.named("Breaker 1")).status == "new"
    assert desk.drawing.get(desk.named("Panel 1")).status == "new"
    assert desk.drawing.get(desk.named("Bus 1")).status == "existing"


# --------------------------------------------------------------------------------------------------------------- moving
@pytest.mark.parametrize(
    ("key", "held", "dx", "dy"),
    [
        (Key.Key_Right, Qt.KeyboardModifier.NoModifier, 10, 0),
        (Key.Key_Up, Qt.KeyboardModifier.NoModifier, 0, -10),
        (Key.Key_Down, SHIFT, 0, 50),
        (Key.Key_Left, ALT, -1, 0),
    ],
)
def test_arrows_nudge_and_a_burst_is_one_step(desk, key, held, dx, dy):
    desk.keys("s")
    service = desk.named("Service 1")
    was = desk.drawing.get(service).place
    desk.keys(key, key, key, held=held)
    now = desk.drawing.get(service).place
    assert (now.x - was.x, now.y - was.y) == (3 * dx, 3 * dy)
    assert desk.session.undo_label == "Move Service 1"
    desk.keys("z", held=CTRL)
    assert desk.drawing.get(service).place == was


def test_a_pause_ends_the_burst(desk, qtbot):
    desk.keys("s")
    desk.keys(Key.Key_Right)
    qtbot.wait(1000)
    desk.keys(Key.Key_Right)
    place = desk.drawing.get(desk.named("Service 1")).place
    desk.keys("z", held=CTRL)
    assert desk.drawing.get(desk.named("Service 1")).place.x == place.x - 10


def test_walking_along_the_circuit(desk):
    desk.keys("swub")
    first = desk.named("Breaker 1")
    desk.session.select([desk.named("Bus 1")])
    desk.keys("b")
    second = desk.named("Breaker 2")
    assert desk.session.selection == (second,)
    desk.keys(Key.Key_Left if _x(desk, second) > _x(desk, first) else Key.Key_Right, held=CTRL)
    assert desk.session.selection == (first,)
    visited = []
    for _ in range(5):
        desk.keys(Key.Key_Up, held=CTRL)
        visited.append(desk.session.selection[0])
    # The bolted connection is passed over, conductor runs are stations; at the source the walk ends.
    kinds = [desk.drawing.get(i).kind for i in visited]
    assert kinds == ["bus", "disconnect", "run", "service", "service"]
    assert "nothing more" in desk.said
    for _ in range(3):
        desk.keys(Key.Key_Down, held=CTRL)
    assert desk.drawing.get(desk.session.selection[0]).kind == "bus"


def _x(desk, item_id):
    return desk.drawing.get(item_id).place.x


def test_tab_goes_through_all_items_in_reading_order_and_round(desk):
    desk.keys("sub")
    desk.session.select([])
    seen = []
    for _ in range(5):
        desk.keys(Key.Key_Tab)
        seen.append(desk.session.selection[0])
    assert len(set(seen[:4])) == 4
    assert seen[4] == seen[0]
    desk.keys(Key.Key_Tab, held=SHIFT)
    assert desk.session.selection[0] == seen[3]


# ----------------------------------------------------------------------------------------------------------- connecting
def test_connecting_by_typing_a_name(desk):
    desk.keys("u")
    desk.session.select([])
    desk.keys("p")
    desk.session.select([desk.named("Bus 1")])
    desk.keys("c")
    desk.keys("pan")
    assert "Panel 1" in desk.said
    desk.keys(Key.Key_Return)
    assert joined(desk, desk.named("Bus 1"), desk.named("Panel 1"))
    assert desk.session.undo_label == "Connect Bus 1 to Panel 1"
    assert desk.drawing.items.keys() != set()


def test_connecting_with_the_arrows(desk):
    desk.keys("u")
    desk.session.select([])
    desk.keys("p")
    desk.session.select([desk.named("Bus 1")])
    desk.keys("c", Key.Key_Right, Key.Key_Return)
    assert joined(desk, desk.named("Bus 1"), desk.named("Panel 1"))


def test_letters_are_text_while_connecting_and_keys_afterwards(desk):
    desk.keys("u")
    before = len(desk.drawing)
    desk.keys("c")
    desk.keys("bs")
    assert len(desk.drawing) == before
    desk.keys(Key.Key_Escape, Key.Key_Escape)
    desk.keys("b")
    assert len(desk.drawing) == before + 2


def test_escape_while_connecting_leaves_nothing(desk):
    desk.keys("su")
    label, drawing = desk.session.undo_label, desk.drawing
    desk.keys("c", Key.Key_Up, Key.Key_Escape)
    assert desk.drawing is drawing
    assert desk.session.undo_label == label
    assert desk.window.canvas.overlay.empty


def test_a_suspected_tie_to_an_unknown_place(desk):
    desk.keys("sp")
    desk.keys("x", Key.Key_Return)
    tie = next(desk.drawing.of(SuspectedTie))
    assert tie.b is None
    assert tie.a.item == desk.named("Panel 1")
    assert "possibly closed" in desk.said


def test_a_suspected_tie_between_two_panels(desk):
    desk.keys("p")
    desk.session.select([])
    desk.keys("p")
    desk.keys("x")
    desk.keys("panel 1")
    desk.keys(Key.Key_Return)
    tie = next(desk.drawing.of(SuspectedTie))
    assert {tie.a.item, tie.b.item} == {desk.named("Panel 1"), desk.named("Panel 2")}


# ------------------------------------------------------------------------------------------------------------ operating
def test_operating_the_selected_switch(desk):
    desk.keys("sw")
    desk.keys("o")
    switch = next(desk.drawing.of(Disconnect))
    assert not switch.closed
    assert desk.session.undo_label == "Open Fused switch 1"
    assert "On the drawing only" in desk.said
    desk.keys("o")
    assert next(desk.drawing.of(Disconnect)).closed


def test_operating_a_transfer_switch_goes_through_its_positions(desk):
    desk.keys("sr")
    seen = []
    for _ in range(3):
        desk.keys("o")
        seen.append(next(desk.drawing.of(TransferSwitch)).position)
    assert seen == ["off", "alternate", "normal"]


# --------------------------------------------------------------------------------------------------------------- editing
def test_rename_in_place(desk):
    desk.keys("p", Key.Key_F2)
    desk.keys("LP-2")
    desk.keys(Key.Key_Return)
    assert desk.names() == ["LP-2"]
    assert desk.session.undo_label == "Rename Panel 1 to LP-2"
    assert desk.window.canvas.hasFocus()


def test_escape_leaves_the_old_name(desk):
    desk.keys("p")
    label = desk.session.undo_label
    desk.keys(Key.Key_F2)
    desk.keys("LP-2", Key.Key_Escape)
    assert desk.names() == ["Panel 1"]
    assert desk.session.undo_label == label


def test_delete_takes_the_connections_with_it_and_undo_brings_them_back(desk):
    desk.keys("swu")
    before = desk.drawing
    desk.session.select([desk.named("Fused switch 1")])
    desk.keys(Key.Key_Delete)
    assert desk.names() == ["Service 1", "Bus 1"]
    assert not list(desk.drawing.connections())
    desk.keys("z", held=CTRL)
    assert desk.drawing == before


def test_duplicate_is_one_step_and_selects_the_copies(desk):
    desk.keys("sub")
    desk.keys("a", held=CTRL)
    count = len(desk.drawing)
    desk.keys("d", held=CTRL)
    assert len(desk.drawing) == 2 * count
    assert len(set(desk.names())) == len(desk.names())
    assert len(desk.session.selection) == count
    desk.keys("z", held=CTRL)
    assert len(desk.drawing) == count


@pytest.mark.parametrize(("key", "status"), [("1", "existing"), ("2", "new"), ("3", "remove"), ("4", "future")])
def test_marking_the_selection(desk, key, status):
    desk.keys("su")
    desk.keys("a", held=CTRL)
    desk.keys("2" if status == "existing" else "1", held=CTRL)
    desk.keys(key, held=CTRL)
    assert {i.status for i in desk.drawing.items.values()} == {status}


def test_what_the_view_does_not_show_can_still_be_selected(desk):
    desk.keys("su")
    bus = desk.named("Bus 1")
    desk.keys("4", held=CTRL)
    assert desk.drawing.get(bus).status == "future"
    desk.click(desk.middle(bus))
    assert desk.session.selection == (bus,)
    assert desk.drawing.get(bus).status == "future"


def test_view_switch(desk):
    desk.keys("s")
    assert desk.session.view == "proposed"
    desk.keys("v")
    assert desk.session.view == "existing"
    assert desk.window.actions_by_key["view-existing"].isChecked()
    desk.keys("v")
    assert desk.session.view == "proposed"


def test_select_everything_below(desk):
    desk.keys("swub")
    desk.keys("p")
    desk.session.select([desk.named("Bus 1")])
    desk.keys(Key.Key_Down, held=CTRL | SHIFT)
    kinds = sorted(desk.drawing.get(i).kind for i in desk.session.selection)
    assert kinds == ["bus", "bus", "disconnect", "joint", "run"]


def test_escape_clears_the_selection(desk):
    desk.keys("s", Key.Key_Escape)
    assert desk.session.selection == ()


def test_arrange_is_one_step(desk):
    desk.keys("swub")
    desk.session.select([desk.named("Bus 1")])
    desk.keys(*([Key.Key_Right] * 7))
    before = desk.drawing
    desk.keys("l", held=CTRL)
    assert desk.session.undo_label == "Arrange the drawing"
    desk.keys("z", held=CTRL)
    assert desk.drawing == before


def test_undo_of_arrange_shows_again_what_was_looked_at(desk):
    desk.keys("swubpp")
    chosen = desk.named("Bus 1")
    desk.session.select([chosen])
    desk.keys(*([Key.Key_Right] * 30))
    canvas = desk.window.canvas
    canvas.set_zoom(2.0)
    canvas.centerOn(320.0, 210.0)
    look = canvas.look
    desk.do("arrange")
    arranged = canvas.look
    assert arranged != look
    desk.do("undo")
    assert desk.session.selection == (chosen,)
    assert canvas.look.share == look.share
    assert (canvas.look.middle - look.middle).manhattanLength() < 2.0
    desk.do("redo")
    assert canvas.look.share == arranged.share
    assert (canvas.look.middle - arranged.middle).manhattanLength() < 2.0
    assert canvas.look.fitted


def test_a_connection_between_existing_loads_is_refused_without_a_dialog(desk):
    desk.keys("l")
    desk.session.select([])
    desk.keys("l")
    before = desk.drawing
    desk.keys("c")
    desk.keys("load 1", Key.Key_Return)
    # Two loads joined by conductors make no circuit, but nothing on the drawing breaks: it is drawn, and not fed.
    assert len(list(desk.drawing.of(Load))) == 2
    assert len(desk.drawing) in (len(before), len(before) + 1)


def test_conductors_become_a_bolted_connection_and_back(desk):
    desk.keys("sub")
    desk.keys("p", "j")
    kinds = [c.kind for c in desk.drawing.connections_of(desk.named("Panel 1"))]
    assert kinds == ["joint"]
    assert desk.session.undo_label.startswith("Make Conductors Breaker 1 to Panel 1 a bolted")
    desk.keys("j")
    assert [c.kind for c in desk.drawing.connections_of(desk.named("Panel 1"))] == ["run"]


def test_joints_are_not_stations(desk):
    desk.keys("sub")
    joint = next(desk.drawing.of(Joint))
    desk.session.select([desk.named("Bus 1")])
    desk.keys(Key.Key_Down, held=CTRL)
    assert desk.session.selection == (desk.named("Breaker 1"),)
    assert joint.id in desk.drawing


@pytest.mark.parametrize("form", ["gutter", "splice box", "switchboard", "panelboard"])
@pytest.mark.parametrize("key", ["w", "b"])
def test_a_device_hangs_on_tap_conductors_below_a_gutter_and_is_bolted_to_a_board(desk, form, key):
    """Common practice, no source: a gutter has splices and taps, a switchboard or panelboard has a bus to bolt on."""
    desk.keys("sk")
    gutter = desk.named("Gutter 1")
    desk.window.canvas.edit("Change form", lambda d: d.with_items([replace(d.get(gutter), form=form)]))
    desk.session.select([gutter])
    desk.keys(key)
    device = desk.session.selection[0]
    kinds = {c.kind for c in desk.drawing.connections_of(device)}
    spliced = form in ("gutter", "splice box")
    assert kinds == ({"run"} if spliced else {"joint"})
    assert ("connected by conductors to" if spliced else "bolted to") in desk.said
