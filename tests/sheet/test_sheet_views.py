"""The picture as a whole: views, ghosts, statuses, the legend, and that painters know everything in it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from oneline.model import Connection, Drawing, Place
from oneline.model.edits import add, change
from oneline.sheet import Arc, Picture, Stroke, Text, arrange, build_picture, symbol_names_used
from oneline.sheet.display import WEIGHTS
from oneline.sheet.inks import DASH_UNITS, PALETTES
from oneline.sheet.metrics import has_glyph

_PARTS = {"symbol", "line", "label", "mark", "tag", "detail", "frame", "ghost"}
Grown = Callable[[int], tuple[Drawing, Picture]]


def _by_name(drawing: Drawing, name: str) -> str:
    return next(i.id for i in drawing.items.values() if i.name == name)


@pytest.mark.parametrize("view", ["existing", "proposed"])
@pytest.mark.parametrize("symbols", ["us", "iec"])
def test_painters_know_everything_in_a_picture(
    old_service: Drawing, made_up_study: Any, view: str, symbols: str
) -> None:
    picture = build_picture(old_service, made_up_study(old_service, view), view, symbols)
    assert len(picture.groups) > 150
    for group in picture.groups:
        assert group.part in _PARTS
        assert group.item in old_service
        assert group.primitives
        for p in group.primitives:
            assert p.ink in PALETTES["light"]
            if isinstance(p, Text):
                assert all(has_glyph(c, p.face) for c in p.text), p.text
                continue
            assert p.weight in WEIGHTS
            assert p.dash in DASH_UNITS
            assert p.fill == "" or p.fill in PALETTES["light"]
            if isinstance(p, Stroke):
                assert len(p.points) >= 2
            if isinstance(p, Arc):
                assert p.radius > 0


def test_each_item_is_drawn_once(old_service: Drawing, made_up_study: Any) -> None:
    picture = build_picture(old_service, made_up_study(old_service, "proposed"), "proposed", ghosts=False)
    shown = old_service.view("proposed")
    symbols = [g.item for g in picture.groups if g.part == "symbol"]
    lines = [g.item for g in picture.groups if g.part == "line"]
    assert sorted(symbols) == sorted(i.id for i in shown.items.values() if not isinstance(i, Connection))
    assert sorted(lines) == sorted(c.id for c in shown.connections())


def test_what_is_not_in_the_view_is_a_ghost_or_absent(old_service: Drawing) -> None:
    new, old = _by_name(old_service, "Panel R"), _by_name(old_service, "Old winch")
    for view, absent, present in (("proposed", old, new), ("existing", new, old)):
        with_ghosts = build_picture(old_service, None, view)
        parts = {g.part for g in with_ghosts.groups if g.item == absent}
        assert parts == {"ghost"}
        inks = {p.ink for g in with_ghosts.groups if g.item == absent for p in g.primitives}
        assert inks == {"ghost"}
        assert "symbol" in {g.part for g in with_ghosts.groups if g.item == present}
        assert (absent, "bus" if absent == new else "in") in with_ghosts.terminals
        without = build_picture(old_service, None, view, ghosts=False)
        assert not [g for g in without.groups if g.item == absent or g.part == "ghost"]


def test_views_of_a_placed_drawing_do_not_move(old_service: Drawing) -> None:
    drawing = arrange(old_service)
    one = build_picture(drawing, None, "existing").terminals
    two = build_picture(drawing, None, "proposed").terminals
    assert one == two


def _strokes(status: str) -> list[Stroke]:
    drawing, _ = add(Drawing(), "disconnect", name="D", status=status, place=Place(0, 0))
    view = "existing" if status == "remove" else "proposed"
    symbol = next(g for g in build_picture(drawing, None, view).groups if g.part in ("symbol", "ghost"))
    return [p for p in symbol.primitives if isinstance(p, Stroke)]


def test_statuses_differ_by_line_not_by_colour() -> None:
    looks = {s: {(p.weight, p.dash) for p in _strokes(s)} for s in ("existing", "new", "remove", "future")}
    assert looks["existing"] == {("thin", "solid")}
    assert looks["new"] == {("medium", "solid")}
    assert looks["remove"] == {("thin", "removed"), ("thin", "solid")}
    assert looks["future"] == {("thin", "future")}
    assert len(_strokes("remove")) > len(_strokes("existing")), "cross ticks"


def test_box_holds_everything_shown(grown: Grown) -> None:
    for seed in range(0, 30, 7):
        _, picture = grown(seed)
        for group in picture.groups:
            if group.level <= 1:
                assert picture.box[0] <= group.box[0]
                assert picture.box[1] <= group.box[1]
                assert picture.box[2] >= group.box[2]
                assert picture.box[3] >= group.box[3]


def test_hit_boxes_are_wide_enough(grown: Grown) -> None:
    """Source: WCAG 2.2, success criterion 2.5.8: targets of at least 24 by 24."""
    for seed in range(0, 30, 7):
        _, picture = grown(seed)
        for group in picture.groups:
            if group.part == "symbol":
                assert group.box[2] - group.box[0] >= 24
                assert group.box[3] - group.box[1] >= 24


def test_an_empty_drawing_gives_an_empty_picture() -> None:
    picture = build_picture(Drawing(), None, "proposed")
    assert picture.groups == ()
    assert picture.box == (0, 0, 0, 0)


def test_legend_names_what_is_used(old_service: Drawing) -> None:
    used = symbol_names_used(old_service, "proposed")
    assert {
        "service",
        "generator",
        "solar",
        "gutter",
        "panelboard",
        "tie",
        "bond",
        "transfer-normal",
        "breaker-open",
    } <= set(used)
    assert "motor" not in used, "the winch is to be removed"
    assert "motor" in symbol_names_used(old_service)
    assert "battery" not in symbol_names_used(old_service)
    drawing, _ = add(Drawing(), "transformer", connection="delta-wye")
    assert symbol_names_used(drawing) == ("transformer", "winding-delta", "winding-wye")


def test_same_input_same_picture(old_service: Drawing, made_up_study: Any) -> None:
    result = made_up_study(old_service, "proposed")
    one = build_picture(old_service, result, "proposed")
    other = build_picture(change(old_service, _by_name(old_service, "Panel S"), notes="x"), result, "proposed")
    assert one == build_picture(old_service, result, "proposed")
    assert one == other, "notes are not drawn"
