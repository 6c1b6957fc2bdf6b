"""Saving and opening changes nothing: drawings made at random from the model's own declarations."""

from __future__ import annotations

import hashlib
import json
from dataclasses import fields
from types import MappingProxyType
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from oneline.files import checked_bytes, read_drawing, to_bytes
from oneline.files.serialize import settle
from oneline.files.shape import keys_of
from oneline.files.text import clean_text, text_cap
from oneline.files.values import FARTHEST
from oneline.model import (
    KINDS,
    Bus,
    Circuit,
    Connection,
    DemandRecord,
    Drawing,
    End,
    Item,
    LockRecord,
    Place,
    Project,
    Reading,
    StepMark,
    SuspectedTie,
    VoltageTest,
    WorkZone,
    specs,
)
from oneline.model.vocabulary import BASES, EDITIONS

UTC = "2026-03-31T14:05:00Z"
coordinates = st.floats(-FARTHEST, FARTHEST, allow_nan=False).map(lambda x: x + 0.0)
places = st.builds(Place, coordinates, coordinates)


def texts(name: str) -> st.SearchStrategy[str]:
    return st.text(max_size=40).map(lambda t: clean_text(t, name)[: text_cap(name)])


def facts(cls: type) -> dict[str, st.SearchStrategy[Any]]:
    """One strategy for each fact, unknown included, from the declaration and not from the reader."""
    found: dict[str, st.SearchStrategy[Any]] = {}
    types = {f.name: str(f.type) for f in fields(cls)}
    for name, spec in specs(cls).items():
        if spec.choices:
            values: st.SearchStrategy[Any] = st.sampled_from(spec.choices)
        elif spec.quantity == "flag":
            values = st.booleans()
        elif spec.quantity == "date":
            values = st.dates().map(lambda d: d.isoformat())
        elif spec.quantity == "text":
            values = texts(name)
        elif "int" in types[name]:
            values = st.integers(int(spec.low or 0), int(spec.high or 1000))
        else:
            values = st.floats(spec.low or 0.0, spec.high or 1e4, allow_nan=False).map(lambda x: x + 0.0)
        found[name] = st.none() | values if "None" in types[name] else values
    return found


rows = {cls: st.builds(cls, **facts(cls)) for cls in (Reading, DemandRecord, Circuit)}


def items_of(cls: type[Item], item_id: str, ends: list[End]) -> st.SearchStrategy[Item]:
    values: dict[str, Any] = {
        **facts(cls),
        "id": st.just(item_id),
        "place": st.none() | places,
        "readings": st.lists(rows[Reading], max_size=2).map(tuple),
        "basis": st.dictionaries(st.sampled_from(sorted(specs(cls))), st.sampled_from(BASES), max_size=3).map(
            MappingProxyType
        ),
    }
    names = {f.name for f in fields(cls)}
    if "demand" in names:
        values["demand"] = st.lists(rows[DemandRecord], max_size=2).map(tuple)
    if cls is Bus:
        own = st.builds(Circuit, **{**facts(Circuit), "feeds": st.none()})
        values["circuits"] = st.lists(own, max_size=4).map(tuple)
        values["width"] = st.none() | st.floats(0, 1000, allow_nan=False)
    if issubclass(cls, Connection):
        a = st.sampled_from(ends)
        values["bends"] = st.lists(places, max_size=3).map(tuple)

        @st.composite
        def joined(draw: st.DrawFn) -> Item:
            first = draw(a)
            others = [e for e in ends if e.item != first.item]
            second = None if cls is SuspectedTie and draw(st.booleans()) else draw(st.sampled_from(others))
            rest = {k: draw(v) for k, v in values.items()}
            return cls(a=first, b=second, **rest)

        return joined()
    return st.builds(cls, **values)


ids = st.from_regex(r"[A-Za-z0-9_.:-]{1,12}", fullmatch=True)
keys_of_steps = st.text(min_size=1, max_size=30).map(lambda t: clean_text(t, "name")).filter(bool)


def zones_of(zone_id: str, there: list[str]) -> st.SearchStrategy[WorkZone]:
    """A planned outage of items that are there; records of locks and tests may be of an item that was removed since."""
    values: dict[str, Any] = {
        **facts(WorkZone),
        "id": st.just(zone_id),
        "items": (st.lists(st.sampled_from(there), max_size=4) if there else st.just([])).map(tuple),
        "isolation": st.lists(ids, max_size=3).map(tuple),
        "order": st.lists(keys_of_steps, max_size=3).map(tuple),
        "locks": st.lists(st.builds(LockRecord, **{**facts(LockRecord), "item": ids}), max_size=2).map(tuple),
        "tests": st.lists(st.builds(VoltageTest, **{**facts(VoltageTest), "item": ids}), max_size=2).map(tuple),
        "marks": st.lists(st.builds(StepMark, **facts(StepMark)), max_size=2).map(tuple),
    }
    return st.builds(WorkZone, **values)


@st.composite
def drawings(draw: st.DrawFn) -> Drawing:
    plain = [cls for cls in KINDS.values() if not issubclass(cls, Connection)]
    joins = [cls for cls in KINDS.values() if issubclass(cls, Connection)]
    found: list[Item] = []
    for n, cls in enumerate(draw(st.lists(st.sampled_from(plain), max_size=5)), start=1):
        found.append(draw(items_of(cls, f"{cls.kind}{n}", [])))
    ends = [End(item.id, t) for item in found for t in item.terminals]
    if len(found) > 1:
        for n, cls in enumerate(draw(st.lists(st.sampled_from(joins), max_size=4)), start=len(found) + 1):
            found.append(draw(items_of(cls, f"{cls.kind}{n}", ends)))
    project = draw(st.builds(Project, **facts(Project), edition=st.sampled_from(EDITIONS)))
    first = len(found) + 1
    count = draw(st.integers(0, 2))
    zones = tuple(draw(zones_of(f"zone{first + n}", [item.id for item in found])) for n in range(count))
    return Drawing(project, MappingProxyType({i.id: i for i in found}), first + count, zones)


@settings(max_examples=150, deadline=None)
@given(drawings())
def test_opening_what_was_saved_gives_the_same_drawing_and_the_same_bytes(drawing: Drawing) -> None:
    data = checked_bytes(drawing, UTC)
    opened = read_drawing(data)
    assert opened.problems == ()
    assert opened.drawing == drawing
    assert list(opened.drawing.items) == list(drawing.items)
    assert to_bytes(opened.drawing, UTC) == data


@settings(max_examples=150, deadline=None)
@given(st.text(max_size=60), st.sampled_from(["name", "notes", "location"]))
def test_cleaning_a_text_twice_changes_nothing(text: str, field: str) -> None:
    once = clean_text(text, field)
    assert clean_text(once, field) == once
    assert not any(ch in once for ch in "\x00\u202e\u2066\x1b\x9b")
    once.encode("utf-8")


def test_texts_with_hidden_characters_are_saved_clean() -> None:
    item = KINDS["load"](id="load1", name="Fan\u202e 1\x00\r\nroof", notes="one\r\ntwo\ud800")
    drawing = Drawing(items=MappingProxyType({"load1": item}), next_number=2)
    opened = read_drawing(checked_bytes(drawing, UTC))
    assert opened.problems == ()
    assert opened.drawing.get("load1").name == "Fan 1 roof"
    assert opened.drawing.get("load1").notes == "one\ntwo"
    assert opened.drawing == settle(drawing)


def test_unknown_is_not_the_default() -> None:
    """Sets in parallel defaults to 1 when a run is drawn, but a user who does not know says so, and that must survive."""
    loads = {f"load{n}": KINDS["load"](id=f"load{n}") for n in (1, 2)}
    run = KINDS["run"](id="run3", a=End("load1", "in"), b=End("load2", "in"), sets=None)
    drawing = Drawing(items=MappingProxyType({**loads, "run3": run}), next_number=4)
    assert read_drawing(to_bytes(drawing, UTC)).drawing.get("run3").sets is None  # type: ignore[attr-defined]


def test_layout_of_the_file() -> None:
    """One item a line, sorted keys, units in the names, and a checksum that a shell can compute."""
    items = {
        "bus2": KINDS["bus"](id="bus2", name="Panel A", rating_a=225.0),
        "load1": KINDS["load"](id="load1", name="Pump", va=1500.5),
    }
    data = to_bytes(Drawing(items=MappingProxyType(items), next_number=3), UTC)
    lines = data.decode().split("\n")
    header = json.loads(lines[0].rstrip(",") + "}")["header"]
    assert header["format"] == "oneline drawing"
    assert header["version"] == [1, 0]
    assert header["sha256_of_body"] == hashlib.sha256(data.split(b"\n", 1)[1]).hexdigest()
    assert lines[2] == (
        '{"form":"panelboard","id":"bus2","kind":"bus","name":"Panel A","rating_a":225,"status":"existing"},'
    )
    assert json.loads(lines[3])["va"] == 1500.5
    whole = json.loads(data)
    assert [i["id"] for i in whole["items"]] == ["bus2", "load1"]
    for item in whole["items"]:
        assert list(item) == sorted(item)


def test_every_field_of_the_model_has_a_form_in_the_file() -> None:
    for cls in (*KINDS.values(), Reading, DemandRecord, Circuit, Project, WorkZone, LockRecord, VoltageTest, StepMark):
        assert {f.name for f in fields(cls)} - set(keys_of(cls)) <= {"id", "extra"}
