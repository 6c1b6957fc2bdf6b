"""Why something is live, in names and in order; edits of planned outages."""

from __future__ import annotations

import pytest

from oneline.model import Drawing, End, LockRecord, Place, Reading, StepMark, edits
from oneline.model.edits import EditRefused
from oneline.session import Session, zones


def _tied() -> tuple[Drawing, dict[str, str]]:
    """Street - main - board - switch - panel, a suspected tie from the panel to a board of another service, and a transfer
    switch between the board and a generator."""
    d, ids = Drawing(), {}
    for n, (key, kind, values) in enumerate((
        ("street", "service", {"system": "208Y/120"}), ("main", "disconnect", {}), ("board", "bus", {}),
        ("switch", "disconnect", {}), ("panel", "bus", {}), ("dock", "service", {"system": "208Y/120"}),
        ("other", "bus", {}), ("yard", "generator", {"system": "208Y/120"}),
        ("change", "transfer", {"automatic": True}), ("load", "load", {}),
    )):  # fmt: skip
        d, ids[key] = edits.add(d, kind, name=key, place=Place(0, 100.0 * n), **values)
    for a, b in ((("street", "out"), ("main", "line")), (("main", "load"), ("board", "bus")),
                 (("board", "bus"), ("switch", "line")), (("switch", "load"), ("panel", "bus")),
                 (("dock", "out"), ("other", "bus")), (("board", "bus"), ("change", "normal")),
                 (("yard", "out"), ("change", "alternate")), (("change", "load"), ("load", "in"))):  # fmt: skip
        d, _ = edits.connect(d, End(ids[a[0]], a[1]), End(ids[b[0]], b[1]), kind="run", name=f"{a[0]}-{b[0]}")
    d, ids["tie"] = edits.add(
        d, "tie", name="tie", a=End(ids["panel"], "bus"), b=End(ids["other"], "bus"), traced="traced"
    )
    return d, ids


def test_each_source_is_told_with_its_way_in_order():
    d, ids = _tied()
    found = Session(d).ways_to(ids["panel"])
    ways = {w.name: w for w in found.ways}
    assert set(ways) == {"street", "dock"}
    assert ways["street"].certain
    assert ways["street"].names == (
        "street", "street-main", "main", "main-board", "board", "board-switch", "switch", "switch-panel", "panel",
    )  # fmt: skip
    assert not ways["dock"].certain
    assert ways["dock"].names == ("dock", "dock-other", "other", "tie", "panel")


def test_the_sides_of_an_open_device_are_told_apart_by_what_is_tried():
    d, ids = _tied()
    session = Session(d)
    assert {w.side for w in session.ways_to(ids["switch"]).ways} == {""}
    session.move_as_if(ids["switch"])
    ways = session.ways_to(ids["switch"]).ways
    assert [(w.side, w.name, w.certain) for w in ways] == [("line", "street", True), ("load", "dock", False)]


def test_an_automatic_transfer_switch_may_bring_its_other_supply():
    d, ids = _tied()
    ways = {w.name: w.certain for w in Session(d).ways_to(ids["load"]).ways}
    assert ways["street"]
    assert not ways["yard"]


def test_what_nobody_traced_is_a_way_with_its_reason():
    d, ids = _tied()
    d, tie = edits.add(d, "tie", name="hole in the wall", a=End(ids["other"], "bus"), b=None)
    ways = {w.source: w for w in Session(d).ways_to(ids["other"]).ways}
    assert not ways[tie].certain
    assert "nobody traced" in ways[tie].says


def test_what_no_source_reaches_says_which_side():
    d, ids = _tied()
    d = edits.remove(d, [ids["tie"]])
    session = Session(edits.operate(d, ids["switch"]))
    found = session.ways_to(ids["switch"])
    assert found.unreached == ("load",)
    assert session.ways_to("nothing") is None


def test_positions_are_set_by_branch_key():
    d, ids = _tied()
    after = zones.set_positions(
        d, {ids["main"]: False, f"{ids['change']}/normal": False, f"{ids['change']}/alternate": True, ids["tie"]: True}
    )
    assert not after.get(ids["main"]).closed
    assert after.get(ids["change"]).position == "alternate"
    assert after.get(ids["tie"]) == d.get(ids["tie"])
    off = zones.set_positions(d, {f"{ids['change']}/normal": False, f"{ids['change']}/alternate": False})
    assert off.get(ids["change"]).position == "off"
    assert zones.set_positions(d, {ids["main"]: True}) == d
    with pytest.raises(EditRefused, match="no positions"):
        zones.set_positions(d, {ids["board"]: False})


def test_records_replace_those_of_the_same_thing():
    d, ids = _tied()
    d, zone = zones.new_zone(d, [ids["panel"], "gone"])
    assert d.zone(zone).items == (ids["panel"],)
    assert "panel" in d.zone(zone).name
    for by in ("AB", "CD"):
        d = zones.hang_lock(d, zone, LockRecord(item=ids["switch"], number="L1", by=by))
        d = zones.mark_step(d, zone, StepMark(step="open:x", by=by))
    assert [r.by for r in d.zone(zone).locks] == ["CD"]
    assert [m.by for m in d.zone(zone).marks] == ["CD"]
    assert zones.take_lock_off(d, zone, ids["switch"]).zone(zone).locks == ()
    assert zones.unmark_step(d, zone, "open:x").zone(zone).marks == ()


def test_a_reading_is_added_to_those_there_are():
    d, ids = _tied()
    first, second = Reading(when="06:00", a_a=1.0), Reading(when="07:00", a_a=2.0)
    d = zones.add_readings(zones.add_readings(d, {ids["main"]: first}), {ids["main"]: second})
    assert d.get(ids["main"]).readings == (first, second)
