"""Files of a newer version: a minor one survives being edited here, a major one is refused untouched."""

from __future__ import annotations

import hashlib
import json
from dataclasses import replace
from pathlib import Path
from types import MappingProxyType
from typing import Any

import pytest

from oneline.files import CannotOpen, checked_bytes, read_drawing, write_drawing
from oneline.model import (
    KINDS,
    Bus,
    Circuit,
    ConductorRun,
    DemandRecord,
    Disconnect,
    Drawing,
    End,
    Load,
    LockRecord,
    Reading,
    StepMark,
    VoltageTest,
    WorkZone,
)

UTC = "2026-03-31T14:05:00Z"


def a_drawing() -> Drawing:
    items = [
        KINDS["service"](id="service1", name="Utility", system="208Y/120", demand=(DemandRecord(peak_kw=88.0),)),
        Disconnect(id="disconnect2", name="Main", trip_a=400.0, readings=(Reading("2026-02-10"),)),
        Bus(id="bus3", name="Panel A", circuits=(Circuit(1, 1, 20.0, "Lights"), Circuit(2, 1, 20.0, "Pump"))),
        ConductorRun(id="run4", a=End("service1", "out"), b=End("disconnect2", "line"), size="500"),
        Load(id="load5", name="Lift", load_class="motor"),
    ]
    zone = WorkZone(
        id="zone6",
        name="Work in Panel A",
        items=("bus3",),
        locks=(LockRecord("disconnect2", "L1"),),
        tests=(VoltageTest("bus3", "bus", "2026-04-18 06:40", ab_v=0.2),),
        marks=(StepMark("open:disconnect2"),),
    )
    return Drawing(items=MappingProxyType({i.id: i for i in items}), next_number=7, zones=(zone,))


def newer(change: Any, version: tuple[int, int] = (1, 7)) -> bytes:
    """The drawing's file after ``change`` has worked on its JSON, as a newer program would have saved it."""
    whole = json.loads(checked_bytes(a_drawing(), UTC))
    change(whole)
    header = whole.pop("header")
    body = '"items":' + json.dumps(whole.pop("items")) + "".join(
        f",\n{json.dumps(k)}:{json.dumps(v)}" for k, v in whole.items()
    ) + "}\n"  # fmt: skip
    header["version"] = list(version)
    header["sha256_of_body"] = hashlib.sha256(body.encode()).hexdigest()
    return ('{"header":' + json.dumps(header) + ",\n" + body).encode()


STRANGE: Any = {"deep": [1, 2.5, None, True, {"text": "König ≥ 3"}], "z": "0"}
WIDGET = {"id": "widget9", "kind": "widget", "name": "Something new", "power_w": 5}


def objects(whole: dict[str, Any]) -> list[dict[str, Any]]:
    """Every place in a file where a newer version may add a key."""
    found = [whole, whole["header"], whole["project"]]
    for item in whole["items"]:
        found.append(item)
        for rows in ("circuits", "readings", "demand"):
            found += item.get(rows, [])
    for zone in whole["zones"]:
        found += [zone, *zone["locks"], *zone["tests"], *zone["marks"]]
    return found


def test_unknown_keys_survive_everywhere() -> None:
    count = len(objects(json.loads(checked_bytes(a_drawing(), UTC))))
    assert count == 16
    for place in range(count):
        for n in range(5):
            name = f"new_key_{n}"

            def add(whole: dict[str, Any], place: int = place, name: str = name, n: int = n) -> None:
                objects(whole)[place][name] = [STRANGE, "x", n, None, {}][n]

            data = newer(add)
            opened = read_drawing(data)
            assert opened.problems == ()
            assert opened.version == (1, 7)
            again = json.loads(checked_bytes(opened.drawing, UTC))
            assert objects(again)[place][name] == objects(json.loads(data))[place][name]
            assert again["header"]["version"] == [1, 7]


def test_an_unknown_kind_and_what_joins_it_survive() -> None:
    run = {"id": "run10", "kind": "run", "a": ["bus3", "bus"], "b": ["widget9", "in"], "sets": 1, "status": "new"}

    def add(whole: dict[str, Any]) -> None:
        whole["items"] += [WIDGET, run]
        whole["items"][2]["circuits"][1] |= {"feeds": "widget9", "use": "feeder"}
        whole["next_number"] = 11

    opened = read_drawing(newer(add))
    said = [str(p) for p in opened.problems]
    assert any("Something new (widget9)" in s and "newer version" in s for s in said)
    assert any("run10" in s and "connection" in s for s in said)
    assert "widget9" not in opened.drawing
    row = opened.drawing.get("bus3").circuits[1]  # type: ignore[attr-defined]
    assert row.feeds is None, "nothing may point at an item that is not there"
    assert row.va is None, "what it feeds is not known"

    # Edit something else, save, and look at the file as the newer program would.
    lift = replace(opened.drawing.get("load5"), name="Lift in the north bay")
    whole = json.loads(checked_bytes(opened.drawing.with_items([lift]), UTC))
    by_id = {i["id"]: i for i in whole["items"]}
    assert by_id["widget9"] == WIDGET
    assert by_id["run10"] == run
    assert by_id["bus3"]["circuits"][1]["feeds"] == "widget9"
    assert by_id["bus3"]["circuits"][1]["use"] == "feeder"
    assert by_id["load5"]["name"] == "Lift in the north bay"
    # An id of an item that is not shown is never given to another one.
    assert opened.drawing.fresh_id("widget")[0] == "widget11"


def test_new_words_survive_until_the_field_is_changed() -> None:
    def add(whole: dict[str, Any]) -> None:
        whole["next_number"] = 8
        whole["items"][0]["system"] = "690Y/400"
        whole["items"][4]["load_class"] = "data hall"
        whole["items"].append(
            {"id": "tie7", "kind": "tie", "a": ["bus3", "bus"], "status": "existing", "traced": "x-ray"}
        )

    opened = read_drawing(newer(add))
    assert len(opened.problems) == 3
    assert opened.drawing.get("tie7").traced is None  # type: ignore[attr-defined]
    assert opened.drawing.get("service1").system is None  # type: ignore[attr-defined]
    assert opened.drawing.get("load5").load_class == "other"  # type: ignore[attr-defined]
    whole = json.loads(checked_bytes(opened.drawing, UTC))
    assert whole["items"][0]["system"] == "690Y/400"
    assert whole["items"][4]["load_class"] == "data hall"
    assert whole["items"][5]["traced"] == "x-ray"
    set_here = replace(opened.drawing.get("service1"), system="480Y/277")
    whole = json.loads(checked_bytes(opened.drawing.with_items([set_here]), UTC))
    assert whole["items"][0]["system"] == "480Y/277"


def test_a_device_of_a_new_form_is_not_taken_for_a_breaker() -> None:
    def add(whole: dict[str, Any]) -> None:
        whole["items"][1]["form"] = "solid-state"

    opened = read_drawing(newer(add))
    assert "disconnect2" not in opened.drawing
    assert "run4" not in opened.drawing
    whole = json.loads(checked_bytes(opened.drawing, UTC))
    kept = {i["id"]: i for i in whole["items"]}
    assert kept["disconnect2"]["form"] == "solid-state"
    assert kept["run4"]["b"] == ["disconnect2", "line"]


def test_a_new_edition_of_the_code_survives() -> None:
    def add(whole: dict[str, Any]) -> None:
        whole["project"]["edition"] = 2029

    opened = read_drawing(newer(add))
    assert "2029" in str(opened.problems[0])
    assert opened.drawing.project.edition == 2023
    assert json.loads(checked_bytes(opened.drawing, UTC))["project"]["edition"] == 2029


def test_a_newer_major_version_is_refused_and_untouched(tmp_path: Path) -> None:
    path = tmp_path / "later.oneline"
    path.write_bytes(newer(lambda whole: None, (2, 0)))
    before = (path.read_bytes(), path.stat().st_mtime_ns)
    with pytest.raises(CannotOpen) as refused:
        read_drawing(path)
    text = str(refused.value)
    assert "2.0" in text
    assert "1.x" in text
    assert "nothing was changed" in text
    assert (path.read_bytes(), path.stat().st_mtime_ns) == before
    assert list(tmp_path.iterdir()) == [path]


def test_strange_keys_of_this_version_are_kept_but_said() -> None:
    data = newer(lambda whole: whole["items"][1].update(trip_amps=400), (1, 0))
    opened = read_drawing(data)
    assert "trip_amps" in str(opened.problems[0])
    assert json.loads(checked_bytes(opened.drawing, UTC))["items"][1]["trip_amps"] == 400


def test_saving_a_newer_file_keeps_its_version(tmp_path: Path) -> None:
    path = tmp_path / "x.oneline"
    path.write_bytes(newer(lambda whole: whole.update(sheets=[STRANGE])))
    opened = read_drawing(path)
    write_drawing(opened.drawing, path, UTC, opened.fingerprint, state=tmp_path / "state")
    again = read_drawing(path)
    assert again.version == (1, 7)
    assert again.drawing == opened.drawing
