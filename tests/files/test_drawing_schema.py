"""The published schema: up to date, itself valid, and as strict as the reader where a schema can be."""

from __future__ import annotations

import copy
import json
from collections.abc import Callable
from types import MappingProxyType
from typing import Any

import jsonschema
import pytest

from oneline.assets import resource
from oneline.files import checked_bytes, read_drawing
from oneline.files.schema import schema_text
from oneline.model import KINDS, Bus, Circuit, Drawing, End, LockRecord, StepMark, VoltageTest, WorkZone

UTC = "2026-03-31T14:05:00Z"


@pytest.fixture(scope="module")
def schema() -> Any:
    return json.loads(resource("schema", "drawing.schema.json").read_text(encoding="utf-8"))


def test_it_is_up_to_date(schema: Any) -> None:
    assert resource("schema", "drawing.schema.json").read_text(encoding="utf-8") == schema_text(), (
        "run: python -m oneline.files.schema"
    )
    jsonschema.Draft202012Validator.check_schema(schema)
    assert set(schema["$defs"]) >= set(KINDS)


def whole_drawing() -> Drawing:
    """One item of each kind, with rows."""
    plain = [cls(id=f"{kind}1", name=kind) for kind, cls in KINDS.items() if kind not in ("run", "joint", "tie", "bus")]
    bus = Bus(id="bus1", name="Panel", circuits=(Circuit(1, va=100.0), Circuit(2, use="spare")))
    joins = [
        KINDS["run"](id="run1", a=End("service1", "out"), b=End("bus1", "bus"), size="500", length_ft=12.5),
        KINDS["joint"](id="joint1", a=End("bus1", "bus"), b=End("disconnect1", "line")),
        KINDS["tie"](id="tie1", a=End("bus1", "bus"), b=None),
    ]
    zone = WorkZone(
        id="zone2",
        items=("bus1",),
        begins="2026-04-18 06:00",
        isolation=("disconnect1",),
        order=("open:disconnect1",),
        locks=(LockRecord("disconnect1", "L1"),),
        tests=(VoltageTest("bus1", "bus", "2026-04-18 06:40", ab_v=0.0),),
        marks=(StepMark("open:disconnect1"),),
    )
    return Drawing(items=MappingProxyType({i.id: i for i in (*plain, bus, *joins)}), next_number=3, zones=(zone,))


def test_what_the_program_saves_is_valid(schema: Any) -> None:
    jsonschema.validate(json.loads(checked_bytes(whole_drawing(), UTC)), schema)


def _item(whole: Any, item_id: str) -> Any:
    return next(i for i in whole["items"] if i["id"] == item_id)


WRONG: list[Callable[[Any], Any]] = [
    lambda w: _item(w, "run1").update(length_ft=-1),
    lambda w: _item(w, "run1").update(length_ft="12.5"),
    lambda w: _item(w, "run1").update(size="510"),
    lambda w: _item(w, "run1").update(a=["service1"]),
    lambda w: _item(w, "run1").update(sets=0),
    lambda w: _item(w, "disconnect1").update(form="relay"),
    lambda w: _item(w, "disconnect1").pop("closed"),
    lambda w: _item(w, "disconnect1").update(trip_amps=20),
    lambda w: _item(w, "bus1").update(kind="box"),
    lambda w: _item(w, "bus1")["circuits"][0].update(poles=9),
    lambda w: _item(w, "bus1")["circuits"][0].pop("use"),
    lambda w: _item(w, "bus1").update(id="no spaces"),
    lambda w: w["project"].update(edition=1999),
    lambda w: w.update(next_number=0),
    lambda w: w.update(zones={}),
    lambda w: w["zones"][0].pop("items"),
    lambda w: w["zones"][0].update(items=["no spaces"]),
    lambda w: w["zones"][0].update(items="bus1"),
    lambda w: w["zones"][0].update(id=""),
    lambda w: w["zones"][0].update(isolation=[None]),
    lambda w: w["zones"][0].update(order=[7]),
    lambda w: w["zones"][0].update(work_min="an hour"),
    lambda w: w["zones"][0]["tests"][0].update(ab_v="dead"),
    lambda w: w["zones"][0]["tests"][0].pop("terminal"),
    lambda w: w["zones"][0]["locks"][0].update(padlock="L1"),
    lambda w: w["header"].update(version=[2, 0]),
]


@pytest.mark.parametrize("spoil", WRONG)
def test_schema_and_reader_refuse_the_same(schema: Any, spoil: Callable[[Any], Any]) -> None:
    from oneline.files import CannotOpen

    whole = json.loads(checked_bytes(whole_drawing(), UTC))
    bad = copy.deepcopy(whole)
    spoil(bad)
    assert bad != whole
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(bad, schema)
    try:
        found = read_drawing(json.dumps(bad).encode()).problems
    except CannotOpen:
        return
    assert [p for p in found if "checksum" not in p.why], "the reader took it without a word"
