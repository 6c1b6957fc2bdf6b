"""What the window never overwrites unasked: a file somebody else changed, and what it could not take from a file."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QMessageBox

from oneline.desk import ask, output
from oneline.desk.recovered import RecoveredDialog
from oneline.files import earlier_versions, read_drawing, recovery, to_bytes, write_drawing
from oneline.model import Drawing, edits

CTRL = Qt.KeyboardModifier.ControlModifier
UTC = "2026-03-31T14:05:00Z"
WIDGET = {"id": "widget9", "kind": "widget", "name": "Heat pump set"}


def drawn(name: str) -> Drawing:
    return edits.add(Drawing(), "bus", name=name)[0]


@pytest.fixture
def path(tmp_path: Path) -> Path:
    where = tmp_path / "shop.oneline"
    write_drawing(drawn("LP-1"), where, UTC)
    return where


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The questions that were asked; all of them are called off."""
    found: list[str] = []
    monkeypatch.setattr(
        ask, "changed_outside", lambda _p, name, known=True: found.append(f"{name} {known}") or "cancel"
    )
    monkeypatch.setattr(ask, "left_out", lambda _p, name, lost: found.append(f"{name} {lost[0].what}") or "cancel")
    return found


# ------------------------------------------------------------------------------------------------------- after a crash
def crash(desk, path: Path, monkeypatch: pytest.MonkeyPatch, strip: bool = False) -> None:
    """The window edits the file and ends without a word; what it kept lies there as after a crash."""
    desk.window.open_file(path)
    desk.session.apply("Add", edits.add(desk.drawing, "load", name="Lift")[0])
    assert desk.window.documents.keep_copy()
    (copy,) = recovery.recovery_copies()
    data = copy.path.read_bytes()
    if strip:
        opened = read_drawing(data)
        about = {k: v for k, v in opened.header["recovery"].items() if k != "opened_sha256"}
        data = to_bytes(opened.drawing, UTC, {"recovery": about})
    desk.window.documents._take(Drawing(), None, None)
    left = copy.path.with_name("gone0session.snap")
    left.parent.mkdir(parents=True, exist_ok=True)
    left.write_bytes(data)
    monkeypatch.setattr(RecoveredDialog, "exec", lambda dialog: dialog.open() or dialog.result())


def test_a_file_changed_after_the_crash_is_not_overwritten_unasked(desk, path, asked, monkeypatch):
    crash(desk, path, monkeypatch)
    write_drawing(drawn("What a colleague drew"), path, UTC)
    theirs = path.read_bytes()
    output.show_recovered(desk.window)
    assert "Lift" in desk.names()
    desk.keys("s", held=CTRL)
    assert asked == ["shop.oneline True"]
    assert path.read_bytes() == theirs
    assert desk.window.isWindowModified()


def test_a_second_crash_does_not_forget_it(desk, path, asked, monkeypatch):
    crash(desk, path, monkeypatch)
    before = read_drawing(path).fingerprint.sha256
    write_drawing(drawn("What a colleague drew"), path, UTC)
    output.show_recovered(desk.window)
    (copy,) = recovery.recovery_copies()
    assert copy.opened_sha256 == before


def test_a_file_nobody_touched_is_saved_after_the_crash_without_a_question(desk, path, asked, monkeypatch):
    crash(desk, path, monkeypatch)
    output.show_recovered(desk.window)
    desk.keys("s", held=CTRL)
    assert asked == []
    assert "Lift" in {i.name for i in read_drawing(path).drawing.items.values()}


@pytest.mark.parametrize("how", ["no fingerprint", "unreadable"])
def test_where_nobody_knows_what_the_file_was_the_window_asks(desk, path, asked, monkeypatch, how):
    crash(desk, path, monkeypatch, strip=how == "no fingerprint")
    if how == "unreadable":
        path.write_bytes(b"\x00 not a drawing any more")
    before = path.read_bytes()
    output.show_recovered(desk.window)
    desk.keys("s", held=CTRL)
    assert asked == [f"shop.oneline {how == 'unreadable'}"]
    assert path.read_bytes() == before


# ----------------------------------------------------------------------------------------------------- what was left out
@pytest.fixture
def short(desk, path, monkeypatch) -> Path:
    """A file with an item of a kind that nobody knows, opened and edited."""
    whole = json.loads(path.read_bytes())
    whole["items"].append(WIDGET)
    path.write_text(json.dumps(whole))
    monkeypatch.setattr(ask, "show_problems", lambda *_: None)
    desk.window.open_file(path)
    desk.session.apply("Add", edits.add(desk.drawing, "load", name="Lift")[0])
    return path


def test_the_first_save_of_what_was_not_wholly_taken_asks(desk, short, asked):
    before = short.read_bytes()
    desk.keys("s", held=CTRL)
    assert asked == ["shop.oneline An item was left out"]
    assert short.read_bytes() == before
    assert desk.window.isWindowModified()


def test_saving_without_it_keeps_the_old_file_and_asks_once(desk, short, monkeypatch):
    before, asked = short.read_bytes(), []
    monkeypatch.setattr(ask, "left_out", lambda *_: asked.append(1) or "save")
    desk.keys("s", held=CTRL)
    assert read_drawing(short).problems == ()
    assert before in [p.read_bytes() for p in earlier_versions(short)]
    desk.session.apply("Add", edits.add(desk.drawing, "load", name="Pump")[0])
    desk.keys("s", held=CTRL)
    assert asked == [1]
    assert not desk.window.isWindowModified()


def test_a_copy_leaves_the_old_file_alone(desk, short, tmp_path, monkeypatch):
    before, copy = short.read_bytes(), tmp_path / "copy.oneline"
    monkeypatch.setattr(ask, "left_out", lambda *_: "copy")
    monkeypatch.setattr(ask, "file_to_save", lambda *_: copy)
    desk.keys("s", held=CTRL)
    assert short.read_bytes() == before
    assert desk.session.path == copy
    assert "Lift" in {i.name for i in read_drawing(copy).drawing.items.values()}


@pytest.mark.parametrize(
    ("press", "answer"), [("copy", "copy"), ("without", "save"), ("Cancel", "cancel"), ("", "cancel")]
)
def test_the_question_names_what_would_be_lost(desk, short, monkeypatch, press, answer):
    lost, said = read_drawing(short).left_out, []

    def choose(box: QMessageBox) -> int:
        said.extend([box.text(), box.informativeText(), box.detailedText()])
        assert "copy" in box.defaultButton().text()
        found = [b for b in box.buttons() if press and press in b.text()]
        if found:
            found[0].click()
        return 0

    monkeypatch.setattr(QMessageBox, "exec", choose)
    assert ask.left_out(desk.window, "shop.oneline", lost) == answer
    assert "shop.oneline" in said[0]
    assert "widget9" in said[1]
    assert "earlier version" in said[1]
    assert '"widget"' in said[2]


def test_a_file_of_a_newer_version_is_said(desk, path):
    whole = json.loads(path.read_bytes())
    whole["header"]["version"] = [1, 9]
    path.write_text(json.dumps(whole), encoding="utf-8")
    said = []
    desk.window.documents.said.connect(said.append)
    desk.window.documents._say_about(path, read_drawing(path))
    assert said == ["shop.oneline is from a newer version (1.9). What is not known here stays in the file."]
