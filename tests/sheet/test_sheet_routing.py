"""Lines keep to themselves: through nothing, over nobody, square, and from terminal to terminal."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from oneline.model import Bus, Connection, Drawing, End, Place, SuspectedTie
from oneline.model.edits import add, change, connect
from oneline.sheet import Arc, Picture, arrange, build_picture
from oneline.sheet.search import Effort

_SEEDS = range(40)
Grow = Callable[[int, int], Drawing]
Grown = Callable[[int], tuple[Drawing, Picture]]
Measure = Callable[[Any, Drawing], Any]


@pytest.mark.parametrize("seed", _SEEDS)
def test_no_line_through_a_symbol_or_across_words(seed: int, grown: Grown, measures: Measure) -> None:
    drawing, picture = grown(seed)
    assert measures(picture, drawing).crossed() == []


@pytest.mark.parametrize("seed", _SEEDS)
def test_no_two_lines_on_one_track(seed: int, grown: Grown, measures: Measure) -> None:
    drawing, picture = grown(seed)
    assert measures(picture, drawing).on_one_track() == []


@pytest.mark.parametrize("view", ["existing", "proposed"])
def test_the_old_service_is_clean(old_service: Drawing, made_up_study: Any, measures: Measure, view: str) -> None:
    found = measures(build_picture(old_service, made_up_study(old_service, view), view), old_service)
    assert found.overlaps() == []
    assert found.crossed() == []
    assert found.on_one_track() == []


@pytest.mark.parametrize("seed", range(0, 40, 3))
def test_lines_are_square_and_end_at_their_terminals(seed: int, grown: Grown) -> None:
    drawing, picture = grown(seed)
    boxes: dict[str, tuple[float, float, float, float]] = {}
    for group in picture.groups:
        if group.part in ("symbol", "ghost"):
            boxes.setdefault(group.item, group.box)
    for conn in drawing.connections():
        points = picture.routes[conn.id]
        for p, q in itertools.pairwise(points):
            assert p[0] == q[0] or p[1] == q[1], (conn.id, points)
        for end, at in ((conn.a, points[0]), (conn.b, points[-1])):
            if end is None:
                continue
            terminal = picture.terminals[end.item, end.terminal]
            if isinstance(drawing.get(end.item), Bus):
                box = boxes[end.item]
                assert at[1] == terminal[1]
                assert box[0] <= at[0] <= box[2]
            else:
                assert at == terminal


def _two_boards(a: Place, b: Place) -> tuple[Drawing, str, str, str]:
    """Two breakers at given places, joined by a run."""
    drawing, one = add(Drawing(), "disconnect", name="One", place=a)
    drawing, two = add(drawing, "disconnect", name="Two", place=b)
    drawing, run = connect(drawing, End(one, "load"), End(two, "line"), kind="run")
    return drawing, one, two, run


def test_straight_when_in_line() -> None:
    drawing, _, _, run = _two_boards(Place(0, 0), Place(0, 200))
    assert build_picture(drawing, None, "proposed").routes[run] == ((0, 20), (0, 180))


def test_two_corners_when_aside() -> None:
    drawing, _, _, run = _two_boards(Place(0, 0), Place(100, 200))
    points = build_picture(drawing, None, "proposed").routes[run]
    assert len(points) == 4
    assert points[1][1] == points[2][1]


def test_a_line_goes_around_what_stands_in_the_way(measures: Measure) -> None:
    drawing, _, _, run = _two_boards(Place(0, 0), Place(0, 300))
    drawing, _ = add(drawing, "transformer", name="In the way", kva=45, place=Place(0, 150))
    picture = build_picture(drawing, None, "proposed")
    assert measures(picture, drawing).crossed() == []
    assert len(picture.routes[run]) > 2


def test_users_bends_are_kept() -> None:
    drawing, _, _, run = _two_boards(Place(0, 0), Place(100, 200))
    drawing = change(drawing, run, bends=(Place(-60, 50), Place(-60, 120)))
    points = build_picture(drawing, None, "proposed").routes[run]
    assert (-60, 50) in points
    assert (-60, 120) in points
    assert all(p[0] == q[0] or p[1] == q[1] for p, q in itertools.pairwise(points))


def test_a_line_back_up_leaves_and_arrives_the_right_way() -> None:
    """From a load terminal, which looks down, to a line terminal further up, which looks up."""
    drawing, _, _, run = _two_boards(Place(0, 300), Place(200, 0))
    points = build_picture(drawing, None, "proposed").routes[run]
    assert points[1][1] > points[0][1]
    assert points[-2][1] < points[-1][1]


def _crossing() -> tuple[Drawing, str, str]:
    drawing = Drawing()
    ids = []
    for x, y in ((0, 0), (200, 300), (100, -100), (100, 400)):
        drawing, item = add(drawing, "disconnect", name="", place=Place(x, y))
        ids.append(item)
    drawing, level = connect(drawing, End(ids[0], "load"), End(ids[1], "line"), kind="run")
    drawing, upright = connect(drawing, End(ids[2], "load"), End(ids[3], "line"), kind="run")
    return drawing, level, upright


def test_a_crossing_is_a_small_jump() -> None:
    drawing, level, upright = _crossing()
    picture = build_picture(drawing, None, "proposed")
    lines = {g.item: g for g in picture.groups if g.part == "line"}
    arcs = [p for p in lines[level].primitives if isinstance(p, Arc)]
    assert len(arcs) == 1
    assert arcs[0].center[0] == 100
    assert arcs[0].sweep_deg == 180
    assert not any(isinstance(p, Arc) for p in lines[upright].primitives)


def test_lines_from_one_terminal_share_a_dot_and_do_not_jump() -> None:
    drawing, one, _, _ = _two_boards(Place(0, 0), Place(0, 200))
    drawing, three = add(drawing, "disconnect", name="Three", place=Place(150, 200))
    drawing, branch = connect(drawing, End(one, "load"), End(three, "line"), kind="run")
    picture = build_picture(drawing, None, "proposed")
    arcs = [p for g in picture.groups if g.part == "line" for p in g.primitives if isinstance(p, Arc)]
    assert len(arcs) == 1
    assert arcs[0].fill
    corner = picture.routes[branch][1]
    assert arcs[0].center == corner, "the dot sits where the branch leaves"
    assert corner[0] == 0


def test_a_conductor_on_a_bar_gets_a_dot_a_bolted_breaker_none() -> None:
    drawing, bus = add(Drawing(), "bus", name="Gutter", form="gutter", place=Place(0, 0))
    drawing, one = add(drawing, "disconnect", name="Tap", place=Place(-60, 100))
    drawing, two = add(drawing, "disconnect", name="Feeder", place=Place(60, 40))
    drawing, run = connect(drawing, End(bus, "bus"), End(one, "line"), kind="run")
    drawing, joint = connect(drawing, End(bus, "bus"), End(two, "line"), kind="joint")
    lines = {g.item: g for g in build_picture(drawing, None, "proposed").groups if g.part == "line"}
    assert [p.center for p in lines[run].primitives if isinstance(p, Arc)] == [(-60, 0)]
    assert not any(isinstance(p, Arc) for p in lines[joint].primitives)


def test_connections_are_distributed_along_a_bar() -> None:
    """Ten runs to far devices land at ten different places, all on the bar."""
    drawing, bus = add(Drawing(), "bus", name="Bar", place=Place(0, 0), width=240.0)
    for n in range(10):
        drawing, far = add(drawing, "disconnect", name=f"D{n}", place=Place(400 + 150 * n, 200))
        drawing, _ = connect(drawing, End(bus, "bus"), End(far, "line"), kind="run")
    routes = build_picture(drawing, None, "proposed").routes
    landings = [points[0] for points in routes.values()]
    assert len({x for x, _ in landings}) == 10
    assert all(-120 <= x <= 120 and y == 0 for x, y in landings)


def test_a_tie_to_an_unknown_place_ends_in_a_question(old_service: Drawing) -> None:
    picture = build_picture(old_service, None, "proposed")
    tie = next(old_service.of(SuspectedTie))
    words = [p.text for g in picture.groups if g.item == tie.id for p in g.primitives if hasattr(p, "text")]
    assert "?" in words
    assert "Suspected tie, not traced" in words


def test_moving_one_item_keeps_every_other_line_square(old_service: Drawing, measures: Measure) -> None:
    from oneline.sheet import arrange

    drawing = arrange(old_service)
    panel = next(i for i in drawing.items.values() if i.name == "Panel S")
    assert panel.place is not None
    moved = drawing.with_items([replace(panel, place=Place(panel.place.x - 70, panel.place.y + 30))])
    found = measures(build_picture(moved, None, "proposed"), moved)
    assert found.crossed() == []
    assert found.on_one_track() == []


def test_loose_ends_are_left_out() -> None:
    drawing, one = add(Drawing(), "disconnect", name="One", place=Place(0, 0))
    drawing, two = add(drawing, "disconnect", name="Two", place=Place(0, 200))
    drawing, run = connect(drawing, End(one, "load"), End(two, "line"), kind="run")
    drawing = drawing.with_items([], [two])
    picture: Picture = build_picture(drawing, None, "proposed")
    assert run not in picture.routes
    assert isinstance(drawing.get(run), Connection)


@pytest.mark.parametrize("seed", [4, 11, 19])
def test_things_pushed_over_each_other_cost_a_bounded_search(
    seed: int, grown: Grown, monkeypatch: pytest.MonkeyPatch
) -> None:
    """However little room there is, a picture's searches stay within their steps and every line is still drawn."""
    used: list[Effort] = []

    def counted() -> Effort:
        used.append(Effort())
        return used[-1]

    monkeypatch.setattr("oneline.sheet.routing.Effort", counted)
    drawing, _ = grown(seed)
    drawing = arrange(drawing)
    heap = [
        replace(i, place=Place(i.place.x / 3, i.place.y / 3))
        for i in drawing.items.values()
        if not isinstance(i, Connection) and i.place is not None
    ]
    picture = build_picture(drawing.with_items(heap), None, "proposed")
    assert set(picture.routes) == {c.id for c in drawing.connections()}
    assert used[-1].left >= 0
    assert Effort().left <= 6000, "about 10 microseconds each: an edit stays under 120 ms"
