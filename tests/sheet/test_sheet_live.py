"""Electricity on the sheet: hue, dash and code of each source; both sides of an open device; dead is plain."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from oneline.model import SOURCE_KINDS, Drawing, End, Place
from oneline.model.edits import add, connect, operate
from oneline.sheet import Group, Picture, Stroke, Text, build_picture, source_codes
from oneline.sheet.inks import CANVAS_WIDTH_PX, PAPER_WIDTH_PT
from oneline.sheet.live import CODE_WORDS, SOURCE_CODES
from oneline.study import PointFigures, StudyResult, study


def _result(**values: Any) -> StudyResult:
    return replace(StudyResult(2023, "proposed", {}, (), ()), **values)


def _texts(groups: list[Group]) -> list[str]:
    return [p.text for g in groups for p in g.primitives if isinstance(p, Text)]


def _groups(picture: Picture, item: str, part: str) -> list[Group]:
    return [g for g in picture.groups if g.item == item and g.part == part]


def _fed_from_both_ends() -> tuple[Drawing, dict[str, str]]:
    """Service - run - breaker - run - array, upright, in one column."""
    drawing, ids = Drawing(), {}
    for key, kind, values in (
        ("service", "service", {"name": "Service", "system": "208Y/120", "place": Place(0, 0)}),
        ("breaker", "disconnect", {"name": "Array breaker", "trip_a": 50, "place": Place(0, 100)}),
        ("array", "solar", {"name": "Array", "output_a": 36, "place": Place(0, 210)}),
    ):
        drawing, ids[key] = add(drawing, kind, **values)
    drawing, ids["upper"] = connect(drawing, End(ids["service"], "out"), End(ids["breaker"], "line"), kind="run")
    drawing, ids["lower"] = connect(drawing, End(ids["breaker"], "load"), End(ids["array"], "out"), kind="run")
    return drawing, ids


def test_codes_say_the_kind_and_are_numbered_where_there_are_several() -> None:
    kinds = {"u": "service", "g": "generator", "p": "solar", "v": "service", "e": "battery"}
    points = {i: PointFigures(i, i, kind) for i, kind in kinds.items()}
    codes = source_codes(_result(sources=tuple(kinds), points=points))
    assert codes == {"u": "S1", "g": "G", "p": "P", "v": "S2", "e": "E"}


def test_no_code_is_a_phase_or_the_neutral() -> None:
    """Common practice, no source: phases are A, B, C or L1, L2, L3; N is the neutral and X, Y, Z or H mark windings."""
    assert set(SOURCE_CODES) == set(SOURCE_KINDS) == {"service", "generator", "solar", "battery"}
    assert not set("".join(SOURCE_CODES.values())) & set("ABCNLHXYZ")
    assert set(CODE_WORDS) == set(SOURCE_CODES.values())
    drawing, _ = _fed_from_both_ends()
    picture = build_picture(drawing, study(drawing), "proposed")
    assert set(_texts([g for g in picture.groups if g.part == "tag"])) == {"S", "P"}


def test_an_open_device_between_two_sources_shows_both_hues_and_says_so() -> None:
    drawing, ids = _fed_from_both_ends()
    drawing = operate(drawing, ids["breaker"])
    picture = build_picture(drawing, study(drawing), "proposed")
    symbol = _groups(picture, ids["breaker"], "symbol")[0]
    leads = [(p.ink, p.dash) for p in symbol.primitives if isinstance(p, Stroke) and p.ink.startswith("source")]
    assert leads == [("source-1", "source-1"), ("source-2", "source-2")]
    assert "live both sides" in _texts(_groups(picture, ids["breaker"], "tag"))
    assert _texts(_groups(picture, ids["upper"], "tag")) == ["S"]
    assert _texts(_groups(picture, ids["lower"], "tag")) == ["P"]
    assert [p.ink for p in _groups(picture, ids["lower"], "line")[0].primitives] == ["source-2"]


def test_closed_both_codes_are_on_the_line() -> None:
    drawing, ids = _fed_from_both_ends()
    picture = build_picture(drawing, study(drawing), "proposed")
    assert _texts(_groups(picture, ids["upper"], "tag")) == ["S", "P"]
    assert "live both sides" not in _texts(_groups(picture, ids["breaker"], "tag"))


def test_dead_by_the_drawing_is_a_hollow_line_without_a_tag() -> None:
    drawing, ids = _fed_from_both_ends()
    drawing = operate(drawing, ids["breaker"]).with_items([], [ids["array"], ids["lower"]])
    drawing, load = add(drawing, "load", name="Load", place=Place(0, 210))
    drawing, run = connect(drawing, End(ids["breaker"], "load"), End(load, "in"), kind="run")
    picture = build_picture(drawing, study(drawing), "proposed")
    edge, hollow = (p for p in _groups(picture, run, "line")[0].primitives if isinstance(p, Stroke))
    assert (edge.ink, edge.dash, hollow.ink) == ("dead", "solid", "paper")
    assert CANVAS_WIDTH_PX[hollow.weight] < CANVAS_WIDTH_PX[edge.weight]
    assert PAPER_WIDTH_PT[hollow.weight] < PAPER_WIDTH_PT[edge.weight]
    assert _groups(picture, run, "tag") == []
    assert "live both sides" not in _texts(_groups(picture, ids["breaker"], "tag"))


def test_possibly_live_through_an_untraced_tie_has_a_question_tag() -> None:
    drawing, bus = add(Drawing(), "bus", name="Panel", place=Place(0, 100))
    drawing, _ = add(drawing, "tie", a=End(bus, "bus"), b=None)
    drawing, load = add(drawing, "load", name="Load", place=Place(0, 220))
    drawing, run = connect(drawing, End(bus, "bus"), End(load, "in"), kind="run")
    picture = build_picture(drawing, study(drawing), "proposed")
    assert _texts(_groups(picture, run, "tag")) == ["?"]


def test_every_source_carries_its_code() -> None:
    drawing, ids = _fed_from_both_ends()
    picture = build_picture(drawing, study(drawing), "proposed")
    assert _texts(_groups(picture, ids["service"], "tag")) == ["S"]
    assert _texts(_groups(picture, ids["array"], "tag")) == ["P"]


def test_tags_are_repeated_on_long_lines() -> None:
    drawing, one = add(Drawing(), "service", name="Far", system="208Y/120", place=Place(0, 0))
    drawing, two = add(drawing, "disconnect", name="Main", place=Place(0, 900))
    drawing, run = connect(drawing, End(one, "out"), End(two, "line"), kind="run")
    picture = build_picture(drawing, study(drawing), "proposed")
    assert _texts(_groups(picture, run, "tag")).count("S") >= 3


def test_joints_take_the_energy_of_their_ends() -> None:
    drawing, one = add(Drawing(), "service", name="S", system="208Y/120", place=Place(0, 0))
    drawing, two = add(drawing, "disconnect", name="Main", place=Place(0, 100))
    drawing, joint = connect(drawing, End(one, "out"), End(two, "line"), kind="joint")
    picture = build_picture(drawing, study(drawing), "proposed")
    assert [p.ink for p in _groups(picture, joint, "line")[0].primitives] == ["source-1"]


def test_without_a_study_there_is_no_energy() -> None:
    drawing, _ = _fed_from_both_ends()
    picture = build_picture(drawing, None, "proposed")
    assert not [g for g in picture.groups if g.part == "tag"]
    inks = {p.ink for g in picture.groups for p in g.primitives}
    assert not any(i.startswith("source") for i in inks)


def test_the_array_below_its_breaker_turns_its_terminal_up() -> None:
    drawing, ids = _fed_from_both_ends()
    terminals = build_picture(drawing, None, "proposed").terminals
    assert terminals[ids["array"], "out"] == (0, 180)
    assert terminals[ids["service"], "out"] == (0, 20)
