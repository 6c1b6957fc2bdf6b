"""What the sheet shows of positions that are tried, and of an outage: told apart without color."""

from __future__ import annotations

import pytest

from oneline.model import Drawing, End, Place, WorkZone
from oneline.model.edits import add, connect, operate
from oneline.network import build_network
from oneline.network.contracted import LiveFinder
from oneline.outage.results import Isolation, IsolationPoint, Plan, ZoneAnswer
from oneline.sheet import Group, Picture, Stroke, Text, build_picture
from oneline.sheet.asif import Shown, shown_of
from oneline.study import study


def _board() -> tuple[Drawing, dict[str, str]]:
    """Service - main - board - switch - panel, and a generator beside the service at a transfer switch of a load."""
    d, ids = Drawing(), {}
    d, ids["service"] = add(d, "service", name="Street", system="208Y/120", place=Place(0, 0))
    d, ids["main"] = add(d, "disconnect", name="Main", form="switch", place=Place(0, 90))
    d, ids["board"] = add(d, "bus", name="Board", place=Place(0, 180), width=400.0)
    d, ids["switch"] = add(d, "disconnect", name="Shop switch", place=Place(-100, 270))
    d, ids["panel"] = add(d, "bus", name="Shop", place=Place(-100, 380))
    d, ids["transfer"] = add(d, "transfer", name="Changeover", automatic=True, place=Place(140, 300))
    d, ids["generator"] = add(d, "generator", name="Yard", system="208Y/120", place=Place(260, 200))
    d, ids["load"] = add(d, "load", name="Freezer", place=Place(140, 420))
    for name, a, b in (
        ("feed", ("service", "out"), ("main", "line")), ("riser", ("main", "load"), ("board", "bus")),
        ("up", ("board", "bus"), ("switch", "line")), ("down", ("switch", "load"), ("panel", "bus")),
        ("normal", ("board", "bus"), ("transfer", "normal")), ("standby", ("generator", "out"), ("transfer", "alternate")),
        ("last", ("transfer", "load"), ("load", "in")),
    ):  # fmt: skip
        d, ids[name] = connect(d, End(ids[a[0]], a[1]), End(ids[b[0]], b[1]), kind="run")
    return d, ids


def _picture(d: Drawing, positions: dict[str, bool], view: str = "proposed") -> Picture:
    live = LiveFinder(build_network(d.view(view))).state(positions)
    return build_picture(d, study(d, view), view, shown=Shown(live))


def _of(picture: Picture, item: str, part: str) -> list[Group]:
    return [g for g in picture.groups if g.item == item and g.part == part]


def _texts(groups: list[Group]) -> list[str]:
    return [p.text for g in groups for p in g.primitives if isinstance(p, Text)]


def _looks(picture: Picture, item: str) -> set[tuple[str, str]]:
    return {(p.ink, p.dash) for g in _of(picture, item, "line") for p in g.primitives if isinstance(p, Stroke)}


def test_what_is_tried_is_drawn_as_if_it_were_so_and_says_that_it_is_not() -> None:
    d, ids = _board()
    tried, truly = _picture(d, {ids["switch"]: False}), _picture(operate(d, ids["switch"]), {})
    assert "as if open" in _texts(_of(tried, ids["switch"], "tag"))
    assert "as if open" not in _texts(_of(truly, ids["switch"], "tag"))
    for item in ("up", "down"):
        assert _of(tried, ids[item], "line") == _of(truly, ids[item], "line")
    frames = [p for p in _of(tried, ids["switch"], "symbol")[0].primitives if isinstance(p, Stroke) and p.closed]
    assert any(p.dash == "possible" and p.ink == "accent" for p in frames)
    # The contacts themselves stand open in both.
    plain = _of(truly, ids["switch"], "symbol")[0].primitives
    assert all(p in _of(tried, ids["switch"], "symbol")[0].primitives for p in plain)


def test_nothing_on_the_sheet_moves_for_what_is_tried() -> None:
    d, ids = _board()
    plain = build_picture(d, study(d), "proposed")
    tried = _picture(d, {ids["main"]: False, ids["switch"]: False})
    assert tried.terminals == plain.terminals
    assert tried.routes == plain.routes


def test_live_possibly_live_and_dead_differ_by_more_than_color() -> None:
    d, ids = _board()
    picture = _picture(d, {ids["main"]: False, ids["switch"]: False})
    live, dead = _looks(picture, ids["feed"]), _looks(picture, ids["up"])
    possible = _looks(picture, ids["last"])
    assert live == {("source-1", "source-1")}
    assert dead == {("dead", "solid"), ("paper", "solid")}  # two edges with paper between
    assert possible == {("possible", "possible")}
    assert _texts(_of(picture, ids["up"], "tag")) == []


def test_what_an_automatic_transfer_switch_may_bring_carries_the_code_of_that_source() -> None:
    d, ids = _board()
    tags = _of(_picture(d, {}), ids["last"], "tag")
    assert _texts(tags)[:2] == ["S", "G?"]
    frames = [p.dash for g in tags for p in g.primitives if isinstance(p, Stroke)]
    assert frames[:2] == ["solid", "possible"]
    held = {f"{ids['transfer']}/normal": True, f"{ids['transfer']}/alternate": False}
    assert _texts(_of(_picture(d, held), ids["last"], "tag")) == ["S"]


def test_a_tie_to_an_unknown_place_has_no_code() -> None:
    d, ids = _board()
    d, _ = add(d, "tie", a=End(ids["panel"], "bus"), b=None)
    picture = _picture(d, {ids["switch"]: False})
    assert _texts(_of(picture, ids["down"], "tag")) == ["?"]
    assert "possibly live both sides" in _texts(_of(picture, ids["switch"], "tag"))


def test_a_transfer_switch_is_shown_in_the_position_tried() -> None:
    d, ids = _board()
    off = _picture(d, {f"{ids['transfer']}/normal": False, f"{ids['transfer']}/alternate": False})
    assert "as if off" in _texts(_of(off, ids["transfer"], "tag"))
    assert _looks(off, ids["last"]) == {("dead", "solid"), ("paper", "solid")}
    over = _picture(d, {f"{ids['transfer']}/normal": False, f"{ids['transfer']}/alternate": True})
    assert "as if alternate" in _texts(_of(over, ids["transfer"], "tag"))
    assert _texts(_of(over, ids["last"], "tag"))[0] == "G"


def test_where_no_source_is_drawn_nothing_is_said_to_be_dead() -> None:
    d, ids = Drawing(), {}
    d, ids["a"] = add(d, "bus", name="One", place=Place(0, 0))
    d, ids["b"] = add(d, "disconnect", name="Two", place=Place(0, 100))
    d, ids["run"] = connect(d, End(ids["a"], "bus"), End(ids["b"], "line"), kind="run")
    assert _looks(build_picture(d, study(d), "proposed"), ids["run"]) == {("ink", "solid")}


@pytest.fixture
def outage() -> tuple[Drawing, dict[str, str], Plan]:
    d, ids = _board()
    zone = WorkZone(id="zone1", items=(ids["panel"], ids["down"]))
    point = IsolationPoint(ids["switch"], "Shop switch", "", (ids["switch"],), 1, lock="L1")
    made = Isolation((point,), 1, (ids["panel"],), ())
    states = {ids["panel"]: "verified dead", ids["board"]: "live by the drawing"}
    return d, ids, Plan(ZoneAnswer(zone, "proposed", "isolated", frozenset()), made, states=states)


def test_an_outage_shows_its_zone_its_locks_and_what_was_tested(outage) -> None:
    d, ids, plan = outage
    picture = build_picture(d, study(d), "proposed", shown=shown_of(None, plan, tried=False))
    ground = [g for g in picture.groups if g.part == "frame"]
    assert len(ground) == 1
    assert picture.groups[0] is ground[0]  # below everything
    outlines = [p for p in ground[0].primitives if isinstance(p, Stroke)]
    assert len(outlines) == 2
    assert all(p.dash == "zone" and p.closed for p in outlines)
    left, top, right, bottom = ground[0].box
    for terminal in ((ids["panel"], "bus"), (ids["switch"], "load")):
        x, y = picture.terminals[terminal]
        assert left <= x <= right
        assert top <= y <= bottom
    assert _texts(_of(picture, ids["switch"], "tag")) == ["L1"]
    assert "tested dead" in _texts(_of(picture, ids["panel"], "tag"))
    assert "tested dead" not in _texts(_of(picture, ids["board"], "tag"))


def test_while_positions_are_tried_nothing_is_shown_as_tested(outage) -> None:
    d, _, plan = outage
    live = LiveFinder(build_network(d.view("proposed"))).state({})
    assert shown_of(live, plan, tried=True).verified == frozenset()
