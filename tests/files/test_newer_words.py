"""Every word, basis and terminal that a newer minor version may add survives being opened and saved here, and is told.

The cases are made from the model's own declarations: a word set that is added later is tested without a change here. What
is expected is what the newer program wrote: the JSON objects of its file.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import cache
from types import MappingProxyType
from typing import Any

import pytest

from oneline.files import Opened, checked_bytes, read_drawing
from oneline.files.shape import keys_of
from oneline.model import (
    CONNECTION_KINDS,
    KINDS,
    Bus,
    Circuit,
    ConductorRun,
    DemandRecord,
    Disconnect,
    Drawing,
    End,
    Load,
    Project,
    Reading,
    edits,
    specs,
)

UTC = "2026-03-31T14:05:00Z"
ROWS = {"circuits": Circuit, "readings": Reading, "demand": DemandRecord}
WORD = "word of 2031"
Change = Callable[[dict[str, Any]], None]


@cache
def one_of_each() -> Drawing:
    """One item of each kind with one row of each sort it can have; runs, joints and ties among them."""
    made: dict[str, Any] = {}
    for kind, cls in KINDS.items():
        rows: dict[str, Any] = {"readings": (Reading("2026-02-10", a_a=12.0),)}
        keys = keys_of(cls)
        if "circuits" in keys:
            rows["circuits"] = (Circuit(1, 1, 20.0, "Lights", va=900.0), Circuit(3, 1, 20.0, "Pump", va=700.0))
        if "demand" in keys:
            rows["demand"] = (DemandRecord(peak_kw=80.0),)
        ends = {"a": End("service1", "out"), "b": End("bus1", "bus")} if kind in CONNECTION_KINDS else {}
        item = cls(id=f"{kind}1", name=f"The {kind}", basis=MappingProxyType({"name": "nameplate"}), **ends, **rows)
        made[item.id] = item
    return Drawing(Project(title="Mill"), MappingProxyType(made), 2)


def file_of(change: Change) -> bytes:
    """The file of the drawing after ``change`` has worked on its JSON, as a newer program would have saved it."""
    whole = json.loads(checked_bytes(one_of_each(), UTC))
    change(whole)
    header = whole.pop("header")
    parts = [f"{json.dumps(k)}:{json.dumps(v)}" for k, v in whole.items()]
    body = ",\n".join(parts) + "}\n"
    header |= {"version": [1, 7], "sha256_of_body": hashlib.sha256(body.encode()).hexdigest()}
    return ('{"header":' + json.dumps(header) + ",\n" + body).encode()


def same_but(drawing: Drawing) -> dict[str, Any]:
    """The saved file's JSON, its items by id."""
    whole = json.loads(checked_bytes(drawing, UTC))
    whole["items"] = {item["id"]: item for item in whole["items"]}
    del whole["header"]
    return whole


def survives(data: bytes) -> Opened:
    """Opens the newer file, saves it and finds everything in it as it was."""
    opened = read_drawing(data)
    before = json.loads(data)
    before["items"] = {item["id"]: item for item in before["items"]}
    del before["header"]
    assert same_but(opened.drawing) == before
    assert opened.left_out == ()
    assert all(p.lasting for p in opened.problems)
    # Once more: the second opening is the first one.
    again = read_drawing(checked_bytes(opened.drawing, UTC))
    assert again.drawing == opened.drawing
    assert sorted(p.why for p in again.problems) == sorted(p.why for p in opened.problems)
    return opened


def words() -> Iterator[tuple[str, str, int, str]]:
    """(kind or "project", rows field or "", row number, key) of every closed set of words."""
    for kind, cls in KINDS.items():
        yield from ((kind, "", 0, name) for name, spec in specs(cls).items() if spec.choices)
        for field, row in ROWS.items():
            if field in keys_of(cls):
                for name, spec in specs(row).items():
                    if spec.choices:
                        yield (kind, field, 0, name)
    yield from (("project", "", 0, name) for name, spec in specs(Project).items() if spec.choices)


@pytest.mark.parametrize(("kind", "rows", "number", "key"), list(words()), ids=lambda part: str(part))
def test_a_new_word_survives_and_is_told(kind: str, rows: str, number: int, key: str) -> None:
    def say(whole: dict[str, Any]) -> None:
        place = next(i for i in whole["items"] if i["kind"] == kind) if kind != "project" else whole["project"]
        (place[rows][number] if rows else place)[key] = WORD

    opened = survives(file_of(say))
    assert any(WORD in str(p) for p in opened.problems)
    if rows:
        made, asked = opened.drawing.get(f"{kind}1"), one_of_each().get(f"{kind}1")
        assert len(getattr(made, rows)) == len(getattr(asked, rows)), "a row is not lost from its schedule"


def test_a_circuit_of_a_new_use_and_status_counts_and_keeps_its_load() -> None:
    def say(whole: dict[str, Any]) -> None:
        row = next(i for i in whole["items"] if i["kind"] == "bus")["circuits"][0]
        row |= {"use": "charger", "status": "leased", "feeds": "load1"}

    opened = survives(file_of(say))
    row = opened.drawing.get("bus1").circuits[0]  # type: ignore[attr-defined]
    assert (row.use, row.status, row.va, row.feeds) == ("load", "existing", 900.0, "load1")
    said = " ".join(str(p) for p in opened.problems)
    assert '"charger"' in said
    assert '"leased"' in said
    # The word goes when somebody here says what the circuit is for, and not when another entry changes.
    for change, use in (({"va": 100.0}, "charger"), ({"use": "spare"}, "spare")):
        bus = opened.drawing.get("bus1")
        assert isinstance(bus, Bus)
        rows = (replace(bus.circuits[0], **change), *bus.circuits[1:])
        saved = same_but(opened.drawing.with_items([replace(bus, circuits=rows)]))
        assert saved["items"]["bus1"]["circuits"][0]["use"] == use
        assert saved["items"]["bus1"]["circuits"][0]["status"] == "leased"


def test_a_row_that_feeds_an_item_of_a_newer_version_can_be_changed() -> None:
    def say(whole: dict[str, Any]) -> None:
        whole["items"].append({"id": "widget9", "kind": "widget"})
        row = next(i for i in whole["items"] if i["kind"] == "bus")["circuits"][0]
        row |= {"feeds": "widget9", "use": "charger"}
        whole["next_number"] = 10

    opened = survives(file_of(say))
    bus = opened.drawing.get("bus1")
    assert isinstance(bus, Bus)
    spare = replace(bus, circuits=(replace(bus.circuits[0], use="spare"), *bus.circuits[1:]))
    row = same_but(opened.drawing.with_items([spare]))["items"]["bus1"]["circuits"][0]
    assert row["use"] == "spare"
    assert "feeds" not in row, "what it is for and what it feeds are one statement"


# --------------------------------------------------------------------------------------------------------------- bases
BASED = [(kind, name) for kind, cls in KINDS.items() for name in specs(cls)]


@pytest.mark.parametrize("kind", list(KINDS))
def test_new_words_for_where_a_value_comes_from_survive(kind: str) -> None:
    names = [name for k, name in BASED if k == kind]
    assert names
    for name in names:

        def say(whole: dict[str, Any], name: str = name) -> None:
            item = next(i for i in whole["items"] if i["kind"] == kind)
            item["basis"] = {"name": "nameplate", "torque_nm": "photographed", "seal": "measured", name: WORD}
            item |= {"torque_nm": 31, "seal": "broken"}

        opened = survives(file_of(say))
        made = opened.drawing.get(f"{kind}1")
        assert name not in made.basis
        assert ("name" in made.basis) == (name != "name")
        (told,) = opened.problems
        assert WORD in str(told)
        assert name in str(told)
        assert "counts as entered" in str(told)


def test_a_word_for_a_source_goes_with_the_value_it_stood_by() -> None:
    def say(whole: dict[str, Any]) -> None:
        item = next(i for i in whole["items"] if i["kind"] == "disconnect")
        item["basis"] = {"trip_a": "photographed", "rating_a": "photographed", "system": "x"}
        item |= {"trip_a": 225, "rating_a": 400}

    opened = survives(file_of(say))
    new_value = edits.change(opened.drawing, "disconnect1", trip_a=200.0)
    assert same_but(new_value)["items"]["disconnect1"]["basis"] == {"rating_a": "photographed", "system": "x"}
    item = opened.drawing.get("disconnect1")
    new_source = opened.drawing.with_items([replace(item, basis=MappingProxyType({"trip_a": "nameplate"}))])
    saved = same_but(new_source)["items"]["disconnect1"]["basis"]
    assert saved == {"trip_a": "nameplate", "rating_a": "photographed", "system": "x"}


# ----------------------------------------------------------------------------------------------------------- terminals
@pytest.mark.parametrize("kind", [k for k in KINDS if k not in CONNECTION_KINDS])
@pytest.mark.parametrize("joining", CONNECTION_KINDS)
def test_a_connection_to_a_new_terminal_stays_in_the_file(joining: str, kind: str) -> None:
    other = ["load1", "in"] if kind != "load" else ["service1", "out"]
    for ends in (([f"{kind}1", "line2"], other), (other, [f"{kind}1", "line2"])):

        def say(whole: dict[str, Any], ends: Any = ends) -> None:
            item = next(i for i in whole["items"] if i["kind"] == joining)
            # Whatever else is strange about it is not looked at: it is not taken.
            item |= {"a": ends[0], "b": ends[1], "name": "x" * 300, "basis": {"name": "hearsay"}}

        opened = survives(file_of(say))
        assert f"{joining}1" not in opened.drawing
        (told,) = opened.problems
        assert "line2" in str(told)
        assert told.item == f"{joining}1"
        # The other end is deleted here: the connection goes with it, and the drawing can still be saved.
        without = edits.remove(opened.drawing, [other[0]])
        assert f"{joining}1" not in same_but(without)["items"]


def test_damage_is_still_damage_in_a_newer_file() -> None:
    """A word may be new, but an end at nothing and a figure out of its range are not: they are left out, and said."""

    def say(whole: dict[str, Any]) -> None:
        by_kind = {i["kind"]: i for i in whole["items"]}
        by_kind["run"]["b"] = ["bus99", "bus2"]
        by_kind["bus"]["rating_a"] = -4

    opened = read_drawing(file_of(say))
    assert sorted(p.item for p in opened.left_out) == ["bus1", "run1"]


def test_an_item_of_a_new_form_stays_whatever_else_is_in_it() -> None:
    def say(whole: dict[str, Any]) -> None:
        item = next(i for i in whole["items"] if i["kind"] == "disconnect")
        item |= {"form": "solid-state", "name": "x" * 300, "poles": 12}

    opened = survives(file_of(say))
    assert "disconnect1" not in opened.drawing
    assert len(opened.problems) == 1


def test_two_items_of_one_id_are_told() -> None:
    def say(whole: dict[str, Any]) -> None:
        whole["items"].append({"id": "load1", "kind": "widget"})

    opened = read_drawing(file_of(say))
    assert any("load1 belongs to another item" in p.why for p in opened.left_out)
    assert opened.drawing.get("load1").name == "The load"


def test_a_copy_in_a_drawing_of_this_version_is_a_drawing_of_this_version() -> None:
    """Items that were carried over from a newer drawing can be saved; their new words mean nothing there."""

    def say(whole: dict[str, Any]) -> None:
        by_kind = {i["kind"]: i for i in whole["items"]}
        by_kind["bus"]["circuits"][0]["use"] = "charger"
        by_kind["load"]["load_class"] = "data hall"
        by_kind["load"]["basis"] = {"name": "photographed"}

    opened = read_drawing(file_of(say))
    items = (opened.drawing.get("bus1"), opened.drawing.get("load1"))
    carried = Drawing(items=MappingProxyType({i.id: i for i in items}), next_number=2)
    again = read_drawing(checked_bytes(carried, UTC))
    assert again.problems == ()
    assert again.version == (1, 0)
    assert len(again.drawing.get("bus1").circuits) == 2  # type: ignore[attr-defined]


def test_the_kinds_used_here_are_all_there_are() -> None:
    assert {type(i) for i in one_of_each().items.values()} == set(KINDS.values())
    assert {ConductorRun, Disconnect, Load} <= set(KINDS.values())
    assert len(list(words())) > 40
