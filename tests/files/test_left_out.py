"""What a file holds and the drawing made of it does not: a save in its place asks first, and keeps the old file."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path
from types import MappingProxyType
from typing import Any

import pytest

import oneline
from oneline.files import CannotSave, LeavesOut, checked_bytes, earlier_versions, read_drawing, versions, write_drawing
from oneline.files.recovery import Session, load_copy, recovery_copies, snapshot
from oneline.model import Bus, Circuit, Drawing, Load, edits

UTC = "2026-03-31T14:05:00Z"
WIDGET = {"id": "widget9", "kind": "widget", "name": "Heat pump set", "power_w": 5}


def spoiled(change: Any) -> bytes:
    items = (Bus(id="bus1", name="Panel A", circuits=(Circuit(1), Circuit(2))), Load(id="load2", name="Lift", va=900.0))
    whole = json.loads(checked_bytes(Drawing(items=MappingProxyType({i.id: i for i in items}), next_number=3), UTC))
    change(whole)
    body = ",\n".join(f"{json.dumps(k)}:{json.dumps(v)}" for k, v in whole.items() if k != "header") + "}\n"
    header = {**whole["header"], "sha256_of_body": hashlib.sha256(body.encode()).hexdigest()}
    return ('{"header":' + json.dumps(header) + ",\n" + body).encode()


def add_widget(whole: dict[str, Any]) -> None:
    whole["items"].append(WIDGET)


@pytest.fixture
def path(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("ONELINE_STATE", str(tmp_path / "state"))
    where = tmp_path / "shop.oneline"
    where.write_bytes(spoiled(add_widget))
    return where


LOSSES: list[tuple[Any, str]] = [
    (add_widget, "An item was left out"),
    (lambda whole: whole["items"][0]["circuits"][1].update(use="charger"), "A circuit was left out"),
    (lambda whole: whole["items"][1].update(va="a lot"), "Load cannot be read"),
    (lambda whole: whole["items"][1].update(basis={"va": "hearsay"}), "It is not clear where a value comes from"),
    (lambda whole: whole["items"][1].update(name="x" * 300), "A text is too long"),
    (lambda whole: whole["items"][0]["circuits"][0].update(feeds="bus77"), "A circuit leads nowhere"),
    (lambda whole: whole["project"].update(edition=1999), "The title block or the edition"),
]


@pytest.mark.parametrize(("change", "words"), LOSSES, ids=[w for _, w in LOSSES])
def test_whatever_was_left_out_stops_the_first_save(path: Path, change: Any, words: str) -> None:
    path.write_bytes(spoiled(change))
    before = path.read_bytes()
    opened = read_drawing(path)
    edited = edits.change(opened.drawing, "load2", notes="seen")
    with pytest.raises(LeavesOut, match="Nothing was written") as refused:
        write_drawing(edited, path, UTC, opened.fingerprint)
    assert words in str(refused.value)
    assert [p.what for p in refused.value.left_out] == [p.what for p in opened.problems]
    assert path.read_bytes() == before
    assert earlier_versions(path) == []
    saved = write_drawing(edited, path, UTC, opened.fingerprint, leave_out=True)
    assert saved.earlier is not None
    assert saved.earlier.read_bytes() == before
    # Asked once: what is there now lacks nothing that the drawing does not have.
    again = write_drawing(edits.change(edited, "load2", notes="seen twice"), path, UTC, saved.fingerprint)
    assert again.earlier is not None


@pytest.mark.parametrize(
    "change",
    [
        lambda whole: whole["items"][1].update(color="grey"),
        lambda whole: whole["items"][1].update(name="Li\u202eft"),
        lambda whole: whole.update(next_number="x"),
    ],
    ids=["unknown key", "hidden character", "counter"],
)
def test_what_is_kept_or_says_nothing_does_not_ask(path: Path, change: Any) -> None:
    path.write_bytes(spoiled(change))
    opened = read_drawing(path)
    assert opened.problems
    write_drawing(opened.drawing, path, UTC, opened.fingerprint)


def test_another_place_does_not_ask_and_the_old_file_stays(path: Path, tmp_path: Path) -> None:
    before = path.read_bytes()
    drawing = read_drawing(path).drawing
    copy = tmp_path / "copy.oneline"
    write_drawing(drawing, copy, UTC)
    write_drawing(drawing, copy, UTC)
    assert path.read_bytes() == before
    assert "left out" not in json.loads(copy.read_bytes())
    assert read_drawing(copy).problems == ()
    # Another name of the same content is the same loss.
    twin = tmp_path / "twin.oneline"
    twin.write_bytes(before)
    with pytest.raises(LeavesOut):
        write_drawing(drawing, twin, UTC)


def test_the_python_interface_asks_too(path: Path) -> None:
    before = path.read_bytes()
    with pytest.raises(oneline.HasProblems) as found:
        oneline.open(path)
    with pytest.raises(CannotSave, match=r"Saving would lose a part of the file.*widget9"):
        oneline.save(found.value.opened.drawing, path)
    assert path.read_bytes() == before
    saved = oneline.save(oneline.read(path).drawing, path, leave_out=True)
    assert saved.earlier is not None
    assert json.loads(saved.earlier.read_bytes())["items"][2] == WIDGET


def test_without_an_earlier_version_nothing_is_lost(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object) -> Path:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("oneline.files.writer.keep_version", full)
    before = path.read_bytes()
    with pytest.raises(CannotSave, match="cannot be kept as an earlier version"):
        write_drawing(read_drawing(path).drawing, path, UTC, leave_out=True)
    assert path.read_bytes() == before
    assert [p.name for p in path.parent.iterdir() if p.is_file()] == [path.name], "no rest of the attempt"
    assert versions.earlier_versions(path) == []


def test_a_recovery_copy_remembers_it(path: Path, tmp_path: Path) -> None:
    opened = read_drawing(path)
    with Session() as session:
        copy = snapshot(opened.drawing, "doc1", session, UTC, path, 1, opened.fingerprint)
    back = load_copy(copy)
    assert back.problems == ()
    with pytest.raises(LeavesOut, match="widget9") as refused:
        write_drawing(back.drawing, path, UTC)
    assert str(refused.value.left_out[0]).split(":")[0] == str(opened.problems[0]).split(":")[0]
    # And so does the copy of that copy.
    with Session() as session:
        copy = snapshot(back.drawing, "doc2", session, UTC, path, 1, opened.fingerprint)
    with pytest.raises(LeavesOut, match="widget9"):
        write_drawing(load_copy(copy).drawing, path, UTC)


def test_a_recovery_copy_knows_the_file_as_it_was_opened(path: Path) -> None:
    opened = read_drawing(path)
    path.write_bytes(path.read_bytes() + b"\n")
    with Session() as session:
        snapshot(opened.drawing, "doc1", session, UTC, path, 1, opened.fingerprint)
        snapshot(opened.drawing, "doc2", session, UTC, path, 1)
    known = {copy.document: copy.opened_sha256 for copy in recovery_copies()}
    assert known == {"doc1": opened.fingerprint.sha256, "doc2": ""}
    assert known["doc1"] != hashlib.sha256(path.read_bytes()).hexdigest()


@pytest.mark.parametrize(
    "about", [7, {"left_out": 7}, {"left_out": {"problems": 3}}, {"left_out": {"problems": [1, {}]}}]
)
def test_a_strange_header_of_a_copy_does_no_harm(path: Path, tmp_path: Path, about: Any) -> None:
    path.write_bytes(spoiled(lambda whole: whole["header"].update(recovery=about)))
    assert len(load_copy(path).drawing) == 2
    (tmp_path / "state" / "recovery" / "d").mkdir(parents=True)
    (tmp_path / "state" / "recovery" / "d" / "s.snap").write_bytes(path.read_bytes())
    assert recovery_copies()[0].opened_sha256 == ""
