"""Edits make new drawings and never break the old one or its references."""

from __future__ import annotations

from dataclasses import replace

import pytest

from oneline.model import Circuit, ConductorRun, Connection, Drawing, End, Place, copies, edits


def service_and_panel() -> tuple[Drawing, dict[str, str]]:
    d = Drawing()
    ids = {}
    d, ids["service"] = edits.add(d, "service", system="208Y/120", place=Place(0, 0))
    d, ids["main"] = edits.add(d, "disconnect", name="Main", trip_a=400.0, place=Place(0, 100))
    d, ids["panel"] = edits.add(d, "bus", name="Panel LB", place=Place(0, 200))
    d, ids["run"] = edits.connect(d, End(ids["service"], "out"), End(ids["main"], "line"))
    d, ids["joint"] = edits.connect(d, End(ids["main"], "load"), End(ids["panel"], "bus"))
    return d, ids


def test_connect_chooses_a_joint_between_device_and_bus_and_a_run_elsewhere():
    d, ids = service_and_panel()
    assert d.get(ids["run"]).kind == "run"
    assert d.get(ids["joint"]).kind == "joint"


def test_an_edit_leaves_the_drawing_before_untouched():
    d, ids = service_and_panel()
    after = edits.change(d, ids["main"], trip_a=200.0)
    assert d.get(ids["main"]).trip_a == 400.0
    assert after.get(ids["main"]).trip_a == 200.0
    assert edits.change(d, ids["main"], trip_a=400.0) is d


def test_removing_an_item_removes_its_connections_and_leaves_the_feeder_row_as_an_unknown_load():
    d, ids = service_and_panel()
    panel = d.get(ids["panel"])
    d = d.with_items([replace(panel, circuits=(Circuit(space=1, use="feeder", feeds=ids["main"]),))])
    after = edits.remove(d, [ids["main"]])
    assert set(after.items) == {ids["service"], ids["panel"]}
    row = after.get(ids["panel"]).circuits[0]
    assert (row.use, row.feeds) == ("load", None)


def test_ids_are_never_used_again():
    d, ids = service_and_panel()
    last = max(ids.values(), key=lambda i: int("".join(c for c in i if c.isdigit())))
    d = edits.remove(d, [last])
    d, new = edits.add(d, "load")
    assert new not in ids.values()
    assert not any(new.endswith(i.lstrip("abcdefghijklmnopqrstuvwxyz")) for i in [last])


def test_splitting_a_run_keeps_the_ends_and_makes_both_lengths_unknown():
    d, ids = service_and_panel()
    d = edits.change(d, ids["run"], length_ft=30.0, size="500", material="copper")
    d, meter = edits.add(d, "meter")
    d, second = edits.split_run(d, ids["run"], meter)
    upper, lower = d.get(ids["run"]), d.get(second)
    assert isinstance(upper, ConductorRun)
    assert isinstance(lower, ConductorRun)
    assert upper.b == End(meter, "line")
    assert (lower.a, lower.b) == (End(meter, "load"), End(ids["main"], "line"))
    assert upper.length_ft is None
    assert lower.length_ft is None
    assert lower.size == "500"
    assert "30 ft" in lower.notes


def test_refused_edits_say_why():
    d, ids = service_and_panel()
    with pytest.raises(edits.EditRefused, match="already joined"):
        edits.connect(d, End(ids["main"], "load"), End(ids["panel"], "bus"))
    with pytest.raises(edits.EditRefused, match="Both ends"):
        edits.connect(d, End(ids["panel"], "bus"), End(ids["panel"], "bus"))
    with pytest.raises(edits.EditRefused, match="already connected"):
        edits.split_run(d, ids["run"], ids["main"])
    with pytest.raises(edits.EditRefused, match="no terminal"):
        edits.connect(d, End(ids["panel"], "load"), End(ids["main"], "line"))


def test_duplicates_get_new_ids_names_and_their_own_inner_connections():
    d, ids = service_and_panel()
    after, new = copies.duplicate(d, [ids["main"], ids["panel"], ids["joint"]], 200, 0)
    copy = after.get(new[ids["joint"]])
    assert isinstance(copy, Connection)
    assert {copy.a.item, copy.b.item} == {new[ids["main"]], new[ids["panel"]]}
    names = [i.name for i in after.items.values() if i.name]
    assert len(names) == len(set(names))
    assert after.get(new[ids["panel"]]).place == Place(200, 200)


def test_a_changed_value_loses_its_old_basis():
    d, ids = service_and_panel()
    d = edits.set_basis(d, ids["main"], "trip_a", "nameplate")
    assert d.get(ids["main"]).basis == {"trip_a": "nameplate"}
    assert dict(edits.change(d, ids["main"], trip_a=300.0).get(ids["main"]).basis) == {}


def test_views_keep_their_statuses_and_drop_loose_connections():
    d, ids = service_and_panel()
    d = edits.change(d, ids["main"], status="new")
    assert set(d.view("existing").items) == {ids["service"], ids["panel"]}
    assert set(d.view("proposed").items) == set(d.items)
    d = edits.change(d, ids["main"], status="future")
    assert ids["main"] not in d.view("proposed")


def test_operating_moves_devices_and_refuses_others():
    d, ids = service_and_panel()
    d, ats = edits.add(d, "transfer")
    assert not edits.operate(d, ids["main"]).get(ids["main"]).closed
    seen = []
    for _ in range(3):
        d = edits.operate(d, ats)
        seen.append(d.get(ats).position)
    assert seen == ["off", "alternate", "normal"]
    with pytest.raises(edits.EditRefused):
        edits.operate(d, ids["panel"])


@pytest.mark.parametrize(
    ("kind", "values", "words"),
    [
        ("service", {"system": "999Y"}, "known are"),
        ("bus", {"rating_a": "100"}, "a number of A is needed"),
        ("bus", {"rating_a": -1.0}, "at least 0 and at most 10,000 A"),
        ("bus", {"rating_a": True}, "a number of A is needed"),
        ("load", {"va": float("nan")}, "a number of VA is needed"),
        ("load", {"load_class": None}, "cannot be left unknown"),
        ("load", {"continuous": "yes"}, "True or False"),
        ("disconnect", {"poles": 2.5}, "a whole number"),
        ("load", {"name": 7}, "a text is needed"),
    ],
)
def test_a_value_that_cannot_stand_in_its_field_is_refused_by_name(kind, values, words):
    with pytest.raises(edits.EditRefused, match=words):
        edits.add(Drawing(), kind, **values)
    drawing, item = edits.add(Drawing(), kind)
    with pytest.raises(edits.EditRefused, match=next(iter(values))):
        edits.change(drawing, item, **values)


def test_a_copy_keeps_its_feeder_lines_and_loose_ends():
    d, ids = service_and_panel()
    panel = d.get(ids["panel"])
    rows = (
        Circuit(space=1, use="feeder", feeds=ids["main"]),
        Circuit(space=3, use="feeder", feeds=ids["service"], va=9.0),
    )
    d = d.with_items([replace(panel, circuits=rows)])
    d, tie = edits.add(d, "tie", a=End(ids["panel"], "bus"), b=None)
    after, new = copies.duplicate(d, [ids["main"], ids["panel"], tie], 200, 0)
    copied = after.get(new[ids["panel"]]).circuits
    assert [(c.use, c.feeds, c.va) for c in copied] == [("feeder", new[ids["main"]], None), ("load", None, 9.0)]
    assert after.get(new[tie]).a == End(new[ids["panel"]], "bus")
