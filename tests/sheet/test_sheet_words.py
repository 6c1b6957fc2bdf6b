"""What is written beside things, and where: always the same side, unknown with a ring, assumed in italics."""

from __future__ import annotations

from types import MappingProxyType
from typing import Any

import pytest

from oneline.model import Bus, Circuit, ConductorRun, Disconnect, Drawing, End, Item, Load, Place
from oneline.model.edits import add, change, connect
from oneline.sheet import Arc, Group, Picture, Text, arrange, build_picture
from oneline.sheet.metrics import text_box
from oneline.sheet.wording import (
    amperes,
    detail_line,
    feet_inches,
    figures_lines,
    item_lines,
    kiloamperes,
    rating_line,
    run_lines,
    size_text,
)
from oneline.study import PointFigures


def _of(kind: str, **values: Any) -> Item:
    drawing, item_id = add(Drawing(), kind, **values)
    return drawing.get(item_id)


def _run(**values: Any) -> ConductorRun:
    drawing, one = add(Drawing(), "disconnect")
    drawing, two = add(drawing, "disconnect")
    drawing, run = connect(drawing, End(one, "load"), End(two, "line"), kind="run", **values)
    found = drawing.get(run)
    assert isinstance(found, ConductorRun)
    return found


def _label(picture: Picture, item_id: str) -> Group:
    return next(g for g in picture.groups if g.item == item_id and g.part == "label")


# ---------------------------------------------------------------------------------------------------------- numbers
def test_numbers_follow_the_look() -> None:
    """Amperes without decimals from 100 up, one below; kA with one decimal."""
    assert [amperes(v) for v in (4.26, 99.94, 99.96, 131.6, 1234.5)] == ["4.3 A", "99.9 A", "100 A", "132 A", "1,234 A"]
    assert kiloamperes(14_230) == "14.2 kA"


def test_lengths_and_sizes_as_the_trade_writes_them() -> None:
    assert feet_inches(12 + 1 / 3) == "12 ft 4 in"
    assert feet_inches(30) == "30 ft"
    assert [size_text(s) for s in ("12", "1", "3/0", "250", "750")] == ["#12", "#1", "3/0", "250 kcmil", "750 kcmil"]


@pytest.mark.parametrize(
    ("kind", "values", "expected"),
    [
        ("disconnect", {"trip_a": 225, "poles": 3, "interrupting_ka": 22}, "225 A/3P, 22 kA"),
        ("disconnect", {"trip_a": 225}, "225 A, — kA"),
        ("disconnect", {"form": "fused switch", "rating_a": 60, "trip_a": 45}, "60/45 A fuse, — kA"),
        ("disconnect", {"form": "switch", "rating_a": 200, "poles": 3}, "200 A/3P"),
        ("bus", {"rating_a": 225, "sccr_ka": 10}, "225 A, 10 kA"),
        ("bus", {}, "— A, — kA"),
        ("transformer", {"kva": 75, "z_pct": 2.8}, "75 kVA, 2.8 %Z"),
        ("service", {"system": "208Y/120", "fault_ka": 22}, "208Y/120, 22 kA"),
        ("service", {}, "—, — kA"),
        ("load", {"va": 8000}, "8 kVA"),
        ("load", {"horsepower": 7.5, "load_class": "motor"}, "7.5 hp"),
        ("load", {}, "— kVA"),
        ("transfer", {"rating_a": 100, "automatic": True}, "100 A, automatic"),
    ],
)
def test_rating_lines(kind: str, values: dict[str, Any], expected: str) -> None:
    line = rating_line(_of(kind, **values))
    assert line is not None
    assert line.text == expected


def test_conductors() -> None:
    run = _run(size="3/0", sets=2, material="copper", length_ft=12 + 1 / 3, raceway="EMT", raceway_size="2")
    assert [line.text for line in run_lines(run)] == ["2 × 3/0 Cu", "12 ft 4 in", "EMT 2"]
    short = _run(size="12", material="aluminum", length_ft=9, raceway="EMT", raceway_size="1")
    assert [line.text for line in run_lines(short)] == ["#12 Al", "9 ft, EMT 1"]
    unknown = _run()
    assert [line.text for line in run_lines(unknown)] == ["—", "— ft"]


def test_status_letters() -> None:
    assert item_lines(_of("bus", name="Panel R", status="new"))[0].text == "Panel R (N)"
    assert item_lines(_of("bus", name="Panel R", status="remove"))[0].text == "Panel R (R)"
    assert item_lines(_of("bus", name="Panel R", status="future"))[0].text == "Panel R (F)"
    assert item_lines(_of("bus", name="Panel R"))[0].text == "Panel R"
    assert run_lines(_run(size="3", status="new"))[0].text == "#3 (N)"


def test_assumed_values_are_in_italics() -> None:
    bus = _of("bus", rating_a=225, sccr_ka=10, basis=MappingProxyType({"sccr_ka": "assumed"}))
    line = rating_line(bus)
    assert line is not None
    assert [(p.text, p.face) for p in line.pieces] == [("225 A, ", "regular"), ("10 kA", "italic")]


# ---------------------------------------------------------------------------------------------------------- figures
def _point(**values: Any) -> PointFigures:
    return PointFigures("x", "", "bus", phases="ABC", **values)


def test_figures_take_the_worst_phase() -> None:
    point = _point(load_a={"A": 60.0, "B": 131.6}, available_a={"A": 90.0, "B": 68.4})
    assert [line.text for line in figures_lines(_of("bus"), point, True)] == ["132 A · 68.4 A free"]
    assert [line.text for line in figures_lines(_of("bus"), point, False)] == ["132 A", "68.4 A free"]


def test_one_unknown_phase_makes_the_figure_unknown() -> None:
    """Nothing unknown is counted as zero or fine; a bound is shown as a bound."""
    point = _point(
        load_a={"A": 60.0, "B": None}, available_a={"A": 90.0, "B": None}, available_bound_a={"A": 90.0, "B": 40.0}
    )
    assert [line.text for line in figures_lines(_of("bus"), point, True)] == ["— A · ≤ 40.0 A free"]
    bare = _point(load_a={}, available_a={})
    assert [line.text for line in figures_lines(_of("bus"), bare, True)] == ["— A · — A free"]
    assert [line.text for line in figures_lines(_of("service"), bare, True)] == ["— A · free: ask the utility"]


def test_a_bound_is_rounded_up() -> None:
    """102.3 A is not at most 102 A."""
    point = _point(load_a={"A": 1.0}, available_a={"A": None}, available_bound_a={"A": 102.3}, fault_bound_a=9_549.0)
    assert figures_lines(_of("bus"), point, True)[0].text == "1.0 A · ≤ 103 A free"
    line = detail_line(_of("bus"), point)
    assert line is not None
    assert line.text == "fault ≤ 9.6 kA"


def test_over_the_limit_is_said_in_words() -> None:
    point = _point(load_a={"A": 212.0}, available_a={"A": -12.4})
    line = figures_lines(_of("bus"), point, True)[0]
    assert line.text == "212 A · 12.4 A over"
    assert line.pieces[-1].face == "bold"


def test_open_devices_say_so() -> None:
    assert figures_lines(_of("disconnect", closed=False), None, True)[0].text == "open"
    assert figures_lines(_of("disconnect", form="fuses", closed=False), None, True)[0].text == "pulled"
    assert figures_lines(_of("transfer", position="alternate"), None, True)[0].text == "on alternate"
    assert figures_lines(_of("disconnect"), None, True) == ()


def test_details_are_fault_and_drop() -> None:
    line = detail_line(_of("bus"), _point(fault_a=14_230, fault_duty_a=14_230, voltage_drop_pct=1.26))
    assert line is not None
    assert line.text == "fault 14.2 kA, drop 1.3 %"
    bound = detail_line(_of("bus"), _point(fault_bound_a=20_000))
    assert bound is not None
    assert bound.text == "fault ≤ 20.0 kA"


# ------------------------------------------------------------------------------------------------------- on the sheet
def test_labels_stand_at_the_right_of_their_symbol(old_service: Drawing) -> None:
    picture = build_picture(old_service, None, "proposed")
    symbols = {g.item: g.box for g in picture.groups if g.part == "symbol"}
    labels = [g for g in picture.groups if g.part == "label" and g.item in symbols]
    assert len(labels) > 30
    assert all(g.box[0] >= symbols[g.item][2] - 6 for g in labels)


def test_labels_of_one_column_start_at_one_place() -> None:
    drawing, bus = add(Drawing(), "bus", name="Board")
    labels = []
    for n in range(4):
        drawing, breaker = add(drawing, "disconnect", name=f"B{n}", trip_a=20)
        drawing, _ = connect(drawing, End(bus, "bus"), End(breaker, "line"))
        labels.append(breaker)
    picture = build_picture(drawing, None, "proposed")
    offsets = {
        _label(picture, b).box[0] - picture.terminals[b, "line"][0] for b in labels
    }  # fmt: skip
    assert len(offsets) == 1


def test_names_are_bold_above_the_rest() -> None:
    drawing, item = add(Drawing(), "disconnect", name="Bakery switch", trip_a=200, place=Place(0, 0))
    texts = [p for p in _label(build_picture(drawing, None, "proposed"), item).primitives if isinstance(p, Text)]
    assert (texts[0].text, texts[0].face) == ("Bakery switch", "bold")
    assert all(t.at[1] > texts[0].at[1] and t.face != "bold" for t in texts[1:])


def test_unknown_is_a_dash_with_a_ring() -> None:
    drawing, item = add(Drawing(), "bus", name="Panel", sccr_ka=10, place=Place(0, 0))
    label = _label(build_picture(drawing, None, "proposed"), item)
    dash = next(p for p in label.primitives if isinstance(p, Text) and p.text == "—")
    ring = next(p for p in label.primitives if isinstance(p, Arc))
    assert ring.center[0] - ring.radius >= text_box(dash)[2] - 0.01
    assert not ring.fill


def test_label_boxes_hold_their_words(old_service: Drawing) -> None:
    for group in build_picture(old_service, None, "proposed").groups:
        if group.part == "label":
            for text in (p for p in group.primitives if isinstance(p, Text)):
                box = text_box(text)
                assert box[0] >= group.box[0] - 0.01
                assert box[2] <= group.box[2] + 0.6
                assert group.box[1] - 1 <= box[1]
                assert box[3] <= group.box[3] + 1


def test_at_most_three_lines_at_ordinary_zoom_for_devices(old_service: Drawing, made_up_study: Any) -> None:
    picture = build_picture(old_service, made_up_study(old_service, "proposed"), "proposed")
    for group in picture.groups:
        if group.part == "label" and isinstance(old_service.get(group.item), Disconnect | Load):
            rows = {p.at[1] for p in group.primitives if isinstance(p, Text)}
            assert len(rows) <= 3


# ------------------------------------------------------------------------------------------------------------ circuits
def test_circuits_appear_when_zoomed_in(old_service: Drawing) -> None:
    panel = next(b for b in old_service.of(Bus) if b.circuits)
    found = [
        g for g in build_picture(old_service, None, "proposed").groups if g.item == panel.id and g.part == "detail"
    ]
    assert [g.level for g in found] == [2.0]
    words = [p.text for p in found[0].primitives if isinstance(p, Text)]
    assert "Bench 1" in words
    assert words.count("20/1P") == 12
    assert "—" in words, "a circuit nobody described"


def test_circuits_leave_out_what_has_no_room() -> None:
    """A panel walled in on all sides shows no table rather than one over its neighbors."""
    circuits = tuple(Circuit(space=n, trip_a=20, description="Lights") for n in range(1, 43))
    drawing, panel = add(Drawing(), "bus", name="P", circuits=circuits, place=Place(0, 0))
    for x, y in (
        (-60, 60),
        (60, 60),
        (-160, 0),
        (180, 0),
        (0, -80),
        (180, -80),
        (-160, 80),
        (180, 80),
        (30, 90),
        (-200, 140),
    ):
        drawing, _ = add(drawing, "bus", name="Neighbor", width=90.0, place=Place(x, y))
    picture = build_picture(drawing, None, "proposed")
    assert not [g for g in picture.groups if g.item == panel and g.part == "detail"]


def test_details_are_outside_the_pictures_box_only_when_hidden(old_service: Drawing) -> None:
    picture = build_picture(arrange(old_service), None, "proposed")
    for group in picture.groups:
        if group.level <= 1:
            assert picture.box[0] <= group.box[0]
            assert picture.box[3] >= group.box[3]


def test_long_names_of_circuits_are_cut_with_an_ellipsis(old_service: Drawing) -> None:
    panel = next(b for b in old_service.of(Bus) if b.circuits)
    rows = (Circuit(space=1, trip_a=20, description="Receptacles along the north wall of the drying loft"),)
    drawing = change(old_service, panel.id, circuits=rows)
    group = next(
        g for g in build_picture(drawing, None, "proposed").groups if g.item == panel.id and g.part == "detail"
    )
    words = [p for p in group.primitives if isinstance(p, Text)]
    assert words[-1].text.endswith("…")
    assert text_box(words[-1])[2] <= group.box[2] + 0.01


def test_long_names_take_two_lines_broken_between_words() -> None:
    lines = item_lines(_of("bus", name="Panel C, Net Loft Cycles", status="new", rating_a=225, sccr_ka=10))
    assert [line.text for line in lines[:2]] == ["Panel C, Net", "Loft Cycles (N)"]
    assert all(line.pieces[0].face == "bold" for line in lines[:2])
    assert len(item_lines(_of("bus", name="Verylongnamewithoutanyspaceinit", rating_a=1, sccr_ka=1))) == 2


def test_the_figure_counted_is_said_where_it_is_not_the_load() -> None:
    """Source: NEC 215.2(A)(1), continuous load at 125 %: 63.5 A of it counts 79.4 A, and 600 A less that is 520.6 A."""
    point = _point(load_a={"A": 63.5}, counted_a={"A": 1.25 * 63.5}, available_a={"A": 600 - 1.25 * 63.5})
    assert [line.text for line in figures_lines(_of("bus"), point, True)] == ["63.5 A, counts 79.4 A", "521 A free"]
    assert [line.text for line in figures_lines(_of("bus"), point, False)] == ["63.5 A", "counts 79.4 A", "521 A free"]
    plain = _point(load_a={"A": 63.5}, counted_a={"A": 63.5}, available_a={"A": 536.5})
    assert [line.text for line in figures_lines(_of("bus"), plain, True)] == ["63.5 A · 536 A free"]


def test_fault_currents_are_rounded_to_the_nearest_tenth() -> None:
    assert [kiloamperes(a) for a in (20_190, 20_140, 20_160, 999)] == ["20.2 kA", "20.1 kA", "20.2 kA", "1.0 kA"]
