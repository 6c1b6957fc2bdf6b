"""Planned outages in a file: as strict as items, and nothing that is to be dead gets lost without a word."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from types import MappingProxyType
from typing import Any

import pytest

from oneline.files import LeavesOut, checked_bytes, read_drawing, write_drawing
from oneline.files.recovery import Session, load_copy, recovery_copies, snapshot
from oneline.files.zones import MAX_ZONES
from oneline.model import Bus, Disconnect, Drawing, Load, LockRecord, StepMark, VoltageTest, WorkZone, edits

UTC = "2026-03-31T14:05:00Z"


def a_drawing() -> Drawing:
    items = (Bus(id="bus1", name="Panel A"), Disconnect(id="disconnect2", name="Main"), Load(id="load3", name="Lift"))
    zone = WorkZone(
        id="zone4",
        name="New lugs",
        items=("bus1", "load3"),
        begins="2026-04-18 06:00",
        work_min=90.0,
        isolation=("disconnect2",),
        order=("open:disconnect2", "stop source:generator9"),
        locks=(LockRecord("disconnect2", "L1", "Aldine"),),
        tests=(VoltageTest("bus1", "bus", "2026-04-18 06:40", ab_v=0.2, proved_before=True),),
        marks=(StepMark("open:disconnect2", "PA"),),
    )
    return Drawing(items=MappingProxyType({i.id: i for i in items}), next_number=5, zones=(zone,))


def as_file(whole: dict[str, Any]) -> bytes:
    body = ",\n".join(f"{json.dumps(k)}:{json.dumps(v)}" for k, v in whole.items() if k != "header") + "}\n"
    header = {**whole["header"], "sha256_of_body": hashlib.sha256(body.encode()).hexdigest()}
    return ('{"header":' + json.dumps(header) + ",\n" + body).encode()


def spoiled(change: Callable[[dict[str, Any]], Any]) -> bytes:
    whole = json.loads(checked_bytes(a_drawing(), UTC))
    change(whole)
    return as_file(whole)


def test_one_zone_a_line_after_everything_else() -> None:
    two = a_drawing().with_zone(WorkZone(id="zone5", items=()))
    lines = checked_bytes(replace(two, next_number=6), UTC).decode().splitlines()
    at = lines.index('"zones":[')
    assert [json.loads(line.rstrip(","))["id"] for line in lines[at + 1 : at + 3]] == ["zone4", "zone5"]
    assert lines[at + 3 :] == ["]}"]
    for line in lines[at + 1 : at + 3]:
        keys = list(json.loads(line.rstrip(",")))
        assert keys == sorted(keys)


def test_without_zones_nothing_of_them_is_in_the_file() -> None:
    """A file without planned outages is, byte for byte, what it was before there were any."""
    plain = replace(a_drawing(), zones=())
    data = checked_bytes(plain, UTC)
    assert b"zones" not in data
    assert list(json.loads(data)) == ["header", "items", "next_number", "project"]
    assert json.loads(data)["header"]["version"] == [1, 0]


# What is spoiled, what is said, and what is left of the zone ("" when it is left out).
BAD: list[tuple[Callable[[dict[str, Any]], Any], str, str]] = [
    (lambda w: w["zones"][0].update(items=["bus1", 7]), "It names 7", ""),
    (lambda w: w["zones"][0].update(items=None), "a list", ""),
    (lambda w: w["zones"][0].pop("items"), "items is missing", ""),
    (lambda w: w["zones"][0].update(id="zone 4"), "letters, digits", ""),
    (lambda w: w["zones"].insert(0, 5), "where an object is needed", "zone4"),
    (lambda w: w["zones"].append(w["zones"][0]), "belongs to another planned outage", "zone4"),
    (lambda w: w["zones"][0].update(id="bus1"), "belongs to an item", ""),
    (lambda w: w.update(zones="none"), "a list of at most", ""),
    (lambda w: w.update(zones=w["zones"] * (MAX_ZONES + 1)), "a list of at most", ""),
    (lambda w: w["zones"][0].update(work_min=-3), "possible are", "zone4"),
    (lambda w: w["zones"][0].update(isolation=["a b"]), "ids of items", "zone4"),
    (lambda w: w["zones"][0].update(order=["x" * 300]), "keys of steps", "zone4"),
    (lambda w: w["zones"][0]["locks"][0].update(item="a b"), "an id is needed", "zone4"),
    (lambda w: w["zones"][0]["tests"][0].update(proved_before="yes"), "true or false", "zone4"),
    (lambda w: w["zones"][0]["tests"][0].pop("when"), "when is missing", "zone4"),
    (lambda w: w["zones"][0].update(name="x" * 300), "200 are possible", "zone4"),
]


@pytest.mark.parametrize(("change", "words", "left"), BAD, ids=[words for _, words, _ in BAD])
def test_what_is_wrong_is_said_and_the_save_asks(
    change: Callable[[dict[str, Any]], Any], words: str, left: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("ONELINE_STATE", str(tmp_path / "state"))
    path = tmp_path / "shop.oneline"
    path.write_bytes(spoiled(change))
    opened = read_drawing(path)
    assert [zone.id for zone in opened.drawing.zones] == ([left] if left else [])
    assert words in " ".join(map(str, opened.problems))
    assert len(opened.drawing) == 3, "a bad zone costs no item"
    with pytest.raises(LeavesOut):
        write_drawing(opened.drawing, path, UTC, opened.fingerprint)


def test_a_bad_fact_is_unknown_and_the_rest_of_the_record_stands() -> None:
    opened = read_drawing(spoiled(lambda w: w["zones"][0]["tests"][0].update(ab_v="dead")))
    (test,) = opened.drawing.zones[0].tests
    assert test.ab_v is None, "a pair whose figure cannot be read was not tested"
    assert test.proved_before is True
    (problem,) = opened.problems
    assert "tests row 1" in problem.where
    assert "New lugs (zone4)" in problem.where
    assert "line" in problem.where


def test_items_that_are_not_in_the_file_stay_and_are_said() -> None:
    data = spoiled(lambda w: w["zones"][0].update(items=["bus1", "bus77"]))
    opened = read_drawing(data)
    assert opened.drawing.zones[0].items == ("bus1", "bus77")
    (problem,) = opened.problems
    assert "bus77" in problem.why
    assert problem.lasting
    again = read_drawing(checked_bytes(opened.drawing, UTC))
    assert again.drawing == opened.drawing
    assert [p.why for p in again.problems] == [problem.why], "it is said again until somebody chooses anew"


def test_an_item_of_a_newer_version_is_there() -> None:
    whole = json.loads(checked_bytes(a_drawing(), UTC))
    whole["header"]["version"] = [1, 9]
    whole["items"].append({"id": "widget9", "kind": "widget"})
    whole["zones"][0]["items"].append("widget9")
    opened = read_drawing(as_file(whole))
    assert opened.drawing.zones[0].items[-1] == "widget9"
    assert not any("planned outage" in p.what for p in opened.problems)


def test_a_broken_line_costs_that_zone_only() -> None:
    two = replace(a_drawing().with_zone(WorkZone(id="zone5", name="Later", items=("bus1",))), next_number=6)
    data = checked_bytes(two, UTC).decode()
    broken = data.replace('{"begins":"2026-04-18', '{"begins:"2026-04-18')
    assert broken != data
    opened = read_drawing(broken.encode())
    assert [zone.id for zone in opened.drawing.zones] == ["zone5"]
    assert len(opened.drawing) == 3
    lost = [p for p in opened.problems if p.loses and "planned outage" in p.what]
    assert [p.line for p in lost] == [data.splitlines().index('"zones":[') + 2]
    assert "zone4" in lost[0].where
    # And a broken line of an item costs no zone.
    opened = read_drawing(data.replace('"name":"Lift"', '"name:"Lift"').encode())
    assert [zone.id for zone in opened.drawing.zones] == ["zone4", "zone5"]
    assert "load3" not in opened.drawing
    assert any("planned outage names items" in p.what for p in opened.problems)


def test_a_later_part_of_the_file_does_not_hide_the_zones_from_the_repair() -> None:
    whole = json.loads(checked_bytes(a_drawing(), UTC))
    whole["header"]["version"] = [1, 9]
    opened = read_drawing(as_file({**whole, "zoo": [1, 2]}))
    data = checked_bytes(opened.drawing, UTC).decode()
    assert data.splitlines()[-1] == '"zoo":[1,2]}'
    broken = read_drawing(data.replace('"name":"Lift"', '"name:"Lift"').encode())
    assert broken.drawing.zones == opened.drawing.zones
    assert set(broken.drawing.items) == {"bus1", "disconnect2"}


def test_hidden_characters_are_taken_out_of_every_text_of_a_zone() -> None:
    zone = a_drawing().zones[0]
    dirty = replace(
        zone,
        name="New\u202e lugs",
        notes="one\r\ntwo",
        order=("open:disconnect2\x00", "\u202e"),
        marks=(StepMark("open:disconnect2", "P\x00A"),),
    )
    back = read_drawing(checked_bytes(a_drawing().with_zone(dirty), UTC)).drawing.zones[0]
    assert (back.name, back.notes, back.order) == ("New lugs", "one\ntwo", ("open:disconnect2",))
    assert back.marks[0].by == "PA"


def test_ids_of_zones_are_never_given_to_an_item() -> None:
    def forget(whole: dict[str, Any]) -> None:
        whole["zones"][0]["id"] = "zone40"
        whole["next_number"] = "x"

    opened = read_drawing(spoiled(forget))
    assert opened.drawing.next_number == 41
    assert opened.drawing.fresh_id("zone")[0] == "zone41"


def test_recovery_copies_have_the_zones(tmp_path: Path) -> None:
    with Session(tmp_path) as session:
        snapshot(a_drawing(), "doc1", session, UTC)
    (copy,) = recovery_copies(tmp_path)
    assert load_copy(copy).drawing == a_drawing()


def test_removing_an_item_takes_it_out_of_the_work_and_keeps_the_records() -> None:
    drawing = a_drawing()
    after = edits.remove(drawing, ["load3", "disconnect2"])
    zone = after.zones[0]
    assert zone.items == ("bus1",)
    assert zone.locks == drawing.zones[0].locks
    assert zone.isolation == ("disconnect2",), "chosen by hand: the check says that it is gone"
    assert read_drawing(checked_bytes(after, UTC)).problems == ()
    assert edits.remove(replace(drawing, zones=()), ["load3"]).zones == ()
