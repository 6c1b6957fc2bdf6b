"""Recovery copies: made beside the saved file, found after a crash, never offered while their editor runs."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from types import MappingProxyType

import pytest

from oneline.files import CannotOpen, CannotSave, read_drawing
from oneline.files.places import state_folder
from oneline.files.recovery import Session, discard, document_id, load_copy, recovery_copies, snapshot
from oneline.model import Bus, Circuit, Drawing, Load, Project, UtilityService

UTC = "2026-03-31T14:05:00Z"


def a_drawing() -> Drawing:
    items = (
        UtilityService(id="service1", name="Utility"),
        Bus(id="bus2", name="Panel A", circuits=(Circuit(1), Circuit(2))),
        Load(id="load3", name="Lift"),
    )
    return Drawing(Project(title="Dock house"), MappingProxyType({i.id: i for i in items}), 4)


def test_a_copy_is_described_and_opens(tmp_path: Path) -> None:
    with Session(tmp_path) as session:
        original = tmp_path / "dock.oneline"
        path = snapshot(a_drawing(), document_id(original), session, UTC, original, changes=6)
        (copy,) = recovery_copies(tmp_path)
        assert copy.path == path
        assert copy.original == str(original)
        assert (copy.title, copy.changes, copy.saved_utc) == ("Dock house", 6, UTC)
        assert copy.counts == "3 items, 1 source, 1 panel, 2 circuits"
        assert copy.session == session.id
        assert not copy.orphaned, "its editor still runs"
        assert not original.exists()
        opened = load_copy(copy)
        assert opened.problems == ()
        assert opened.drawing == a_drawing()
        # The next one takes its place.
        snapshot(a_drawing(), document_id(original), session, "2026-03-31T14:06:00Z", original, changes=7)
        (copy,) = recovery_copies(tmp_path)
        assert copy.changes == 7
    (copy,) = recovery_copies(tmp_path)
    assert copy.orphaned
    discard(copy)
    assert recovery_copies(tmp_path) == []
    discard(copy)


_CRASH = """
import os, sys
from pathlib import Path
from oneline.files.recovery import Session, snapshot
from oneline.model import Drawing
session = Session(Path(sys.argv[1]))
snapshot(Drawing(), "neversaved1", session, "2026-03-31T14:05:00Z", changes=3)
print(session.id, flush=True)
sys.stdin.read()
os._exit(9)
"""


def test_after_a_crash_the_copy_is_an_orphan(tmp_path: Path) -> None:
    child = subprocess.Popen(
        [sys.executable, "-c", _CRASH, str(tmp_path)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    assert child.stdout is not None
    session = child.stdout.readline().strip()
    (copy,) = recovery_copies(tmp_path)
    assert copy.session == session
    assert not copy.orphaned
    child.kill()
    child.communicate()
    (copy,) = recovery_copies(tmp_path)
    assert copy.orphaned
    assert copy.original == ""


def test_a_damaged_copy_is_listed_and_does_not_hide_the_others(tmp_path: Path) -> None:
    with Session(tmp_path) as session:
        bad = snapshot(a_drawing(), "doc1", session, UTC)
        snapshot(a_drawing(), "doc2", session, UTC)
    bad.write_bytes(bad.read_bytes()[:200])
    copies = recovery_copies(tmp_path)
    assert sorted((c.document, c.readable) for c in copies) == [("doc1", False), ("doc2", True)]
    with pytest.raises(CannotOpen):
        load_copy(bad)


def test_what_a_saved_file_refuses_is_still_kept(tmp_path: Path) -> None:
    """A value out of its range stops a save with a message, but must not cost the work in a crash."""
    wrong = a_drawing().with_items([Load(id="load3", name="Lift", va=-1.0)])
    with Session(tmp_path) as session:
        opened = load_copy(snapshot(wrong, "doc1", session, UTC))
    assert "Lift (load3)" in str(opened.problems[0])
    assert len(opened.drawing) == 3
    with Session(tmp_path) as session, pytest.raises(CannotSave, match="Save the drawing now"):
        snapshot(wrong.with_items([Load(id="load3", va=float("inf"))]), "doc1", session, UTC)


def test_a_copy_opened_and_saved_is_an_ordinary_file(tmp_path: Path) -> None:
    from oneline.files import write_drawing

    with Session(tmp_path) as session:
        opened = load_copy(snapshot(a_drawing(), "doc1", session, UTC, changes=2))
    path = tmp_path / "again.oneline"
    write_drawing(opened.drawing, path, UTC, state=tmp_path)
    assert "recovery" not in read_drawing(path).header


def test_the_folder_can_be_chosen(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("ONELINE_STATE", str(tmp_path))
    assert state_folder() == tmp_path
    monkeypatch.delenv("ONELINE_STATE")
    assert "oneline" in str(state_folder())
    assert document_id(tmp_path / "a.oneline") != document_id(tmp_path / "b" / "a.oneline")
