"""What is added finds room: nothing is put on anything else, neighbors step aside, in one step."""

from __future__ import annotations

from itertools import combinations, pairwise

from PySide6.QtCore import Qt

from oneline.desk.tools.place import PlaceTool
from oneline.model import ConductorRun, Connection, End, Place
from oneline.sheet import Text


def lying(desk) -> list[tuple[str, str]]:
    """Symbols and words of different items that lie on each other."""
    boxes = []
    for g in desk.session.picture.groups:
        if g.item in desk.session.picture.routes:
            continue
        points = [p for q in g.primitives for p in getattr(q, "points", ())]
        if g.part == "symbol" and points:
            xs, ys = [p[0] for p in points], [p[1] for p in points]
            boxes.append((g.item, (min(xs), min(ys), max(xs), max(ys))))
        elif g.part == "label" and any(isinstance(p, Text) for p in g.primitives):
            boxes.append((g.item, g.box))
    return [
        (a, b)
        for (a, s), (b, t) in combinations(boxes, 2)
        if a != b and s[0] < t[2] - 0.6 and s[2] - 0.6 > t[0] and s[1] < t[3] - 0.6 and s[3] - 0.6 > t[1]
    ]


def grown(desk) -> None:
    """A board with two feeders, each with its panel; the second panel feeds in from an array."""
    desk.keys("swubp")
    for keys in ("bpby",):
        desk.session.select([desk.named("Bus 1")])
        desk.keys(keys)


def test_columns_step_aside_for_what_is_added_by_key(desk):
    grown(desk)
    assert lying(desk) == []
    for bus in ("Panel 1", "Bus 1", "Panel 2", "Panel 1"):
        desk.session.select([desk.named(bus)])
        desk.keys("bp")
        assert lying(desk) == [], bus
    before = {i.id: i.place for i in desk.drawing.items.values() if not isinstance(i, Connection)}
    desk.session.select([desk.named("Panel 1")])
    desk.keys("b")
    desk.do("undo")
    after = {i.id: i.place for i in desk.drawing.items.values() if not isinstance(i, Connection)}
    assert after == before, "adding and making room is one step"


def test_a_panel_after_a_switch_stands_straight_below_it(desk):
    grown(desk)
    desk.session.select([desk.named("Bus 1")])
    desk.keys("wp")
    switch, panel = (desk.drawing.get(desk.named(n)) for n in ("Fused switch 2", "Panel 3"))
    run = next(c for c in desk.drawing.connections_of(panel.id) if isinstance(c, ConductorRun))
    route = desk.session.picture.routes[run.id]
    assert len({x for x, _ in route}) == 1, "one straight line"
    assert route[0][1] < route[-1][1]
    assert switch.place.x == panel.place.x
    assert lying(desk) == []


def test_conductors_made_of_a_bolted_connection_have_room_for_their_label(desk):
    grown(desk)
    joint = next(c for c in desk.drawing.connections_of(desk.named("Breaker 2")) if c.kind == "joint")
    desk.session.select([joint.id])
    desk.keys("j")
    run = next(
        c for c in desk.drawing.connections_of(desk.named("Breaker 2")) if End(desk.named("Bus 1"), "bus") == c.a
    )
    parts = {g.part: g for g in desk.session.picture.groups if g.item == run.id}
    assert "label" in parts
    texts = [p.text for p in parts["label"].primitives if isinstance(p, Text)]
    assert any("ft" in t for t in texts), "both lines of the label"
    assert "tag" in parts
    assert lying(desk) == []


def test_a_drop_on_something_finds_the_nearest_free_place(desk):
    grown(desk)
    target = desk.drawing.get(desk.named("Panel 2"))
    desk.window.canvas.fit()
    spot = desk.screen((target.place.x - 24, target.place.y + 4))
    desk.window.canvas.use_tool(PlaceTool(desk.window.canvas, "transfer"))
    desk.click(spot)
    switch = desk.drawing.get(desk.named("Transfer switch 1"))
    assert isinstance(switch.place, Place)
    assert lying(desk) == []


def test_a_drop_at_the_end_of_a_breaker_goes_into_its_line(desk):
    grown(desk)
    breaker, panel = desk.named("Breaker 1"), desk.named("Panel 1")
    desk.window.canvas.fit()
    desk.window.canvas.use_tool(PlaceTool(desk.window.canvas, "transfer"))
    desk.click(desk.terminal(breaker, "load"))
    switch = desk.named("Transfer switch 1")
    ends = [{c.a.item, c.b.item} for c in desk.drawing.connections_of(switch)]
    assert sorted(map(sorted, ends)) == sorted([sorted([breaker, switch]), sorted([switch, panel])])
    assert not any({c.a.item, c.b.item} == {breaker, panel} for c in desk.drawing.connections())
    assert lying(desk) == []


def test_the_first_generator_stands_near_its_transfer_switch(desk):
    grown(desk)
    desk.window.canvas.fit()
    desk.window.canvas.use_tool(PlaceTool(desk.window.canvas, "transfer"))
    desk.click(desk.terminal(desk.named("Breaker 1"), "load"))
    desk.session.select([desk.named("Transfer switch 1")])
    desk.keys(Qt.Key.Key_G)
    generator, switch = desk.named("Generator 1"), desk.named("Transfer switch 1")
    run = next(c for c in desk.drawing.connections_of(generator))
    assert {run.a, run.b} == {End(generator, "out"), End(switch, "alternate")}
    route = desk.session.picture.routes[run.id]
    length = sum(abs(p[0] - q[0]) + abs(p[1] - q[1]) for p, q in pairwise(route))
    assert length < 260
    assert lying(desk) == []
