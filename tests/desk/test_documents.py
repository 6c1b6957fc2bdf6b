"""New, open, save, recent files, unsaved changes, drag and drop; the clipboard between windows."""

from __future__ import annotations

from pathlib import Path

import pytest
from PySide6.QtCore import QMimeData, QPointF, Qt, QUrl
from PySide6.QtGui import QDropEvent
from PySide6.QtWidgets import QApplication

from oneline.desk import ask, clipboard
from oneline.desk.panes.dialogs import ProblemsDialog
from oneline.files import Problem, read_drawing
from oneline.model import Bus, Circuit, Drawing, Reading, copies, edits

CTRL = Qt.KeyboardModifier.ControlModifier


@pytest.fixture
def path(tmp_path, monkeypatch) -> Path:
    """Where the file dialogs say that the drawing goes and comes from."""
    where = tmp_path / "shop.oneline"
    monkeypatch.setattr(ask, "file_to_save", lambda *_: where)
    monkeypatch.setattr(ask, "file_to_open", lambda *_: where)
    return where


def test_draw_save_new_open_gives_the_same_drawing(desk, path):
    desk.keys("swubp")
    assert desk.window.isWindowModified()
    desk.keys("s", held=CTRL)
    drawn = desk.drawing
    assert not desk.window.isWindowModified()
    assert desk.window.windowTitle().startswith("shop.oneline[*]")
    assert read_drawing(path).drawing == drawn
    desk.keys("n", held=CTRL)
    assert len(desk.drawing) == 0
    assert desk.session.undo_label is None
    desk.keys("o", held=CTRL)
    assert desk.drawing == drawn
    assert [p.name for p in desk.window.documents.recent()] == ["shop.oneline"]


def test_undo_to_the_saved_state_is_clean(desk, path):
    desk.keys("s")
    desk.keys("s", held=CTRL)
    desk.keys("p")
    assert desk.window.isWindowModified()
    desk.keys("z", held=CTRL)
    assert not desk.window.isWindowModified()


@pytest.mark.parametrize(
    ("answer", "left", "saved"), [("save", True, True), ("discard", True, False), ("cancel", False, False)]
)
def test_unsaved_changes_are_asked_about(desk, path, monkeypatch, answer, left, saved):
    asked = []
    monkeypatch.setattr(ask, "unsaved", lambda _parent, name: asked.append(name) or answer)
    desk.keys("s")
    desk.keys("n", held=CTRL)
    assert asked == ["Untitled"]
    assert (len(desk.drawing) == 0) == left
    assert path.exists() == saved


def test_a_file_changed_elsewhere_is_not_overwritten_unasked(desk, path, monkeypatch):
    desk.keys("s")
    desk.keys("s", held=CTRL)
    path.write_bytes(path.read_bytes() + b"\n")
    theirs = path.read_bytes()
    monkeypatch.setattr(ask, "changed_outside", lambda *_: "cancel")
    desk.keys("p")
    desk.keys("s", held=CTRL)
    assert path.read_bytes() == theirs
    assert desk.window.isWindowModified()
    monkeypatch.setattr(ask, "changed_outside", lambda *_: "replace")
    desk.keys("s", held=CTRL)
    assert read_drawing(path).drawing == desk.drawing


def test_a_file_that_cannot_be_opened_is_said_and_changes_nothing(desk, path, monkeypatch):
    said = []
    monkeypatch.setattr(ask, "trouble", lambda _parent, bad: said.append(bad.problem))
    path.write_text("not a drawing")
    desk.window.open_file(path)
    assert len(said) == 1
    assert said[0].what_to_do
    assert len(desk.drawing) == 0


def test_problems_of_an_opened_file_are_one_list_in_one_dialog(desk, monkeypatch):
    shown = []
    monkeypatch.setattr(ProblemsDialog, "exec", lambda dialog: shown.append(dialog.text))
    problem = Problem("A run leads nowhere", "shop.oneline", "It names bus99.", "Connect it again.")
    ask.show_problems(desk.window, "Opened, with problems", [problem, problem])
    assert len(shown) == 1
    assert shown[0].count("Connect it again.") == 2


def test_missing_recent_files_are_grey_and_not_dropped(desk, path):
    desk.keys("s")
    desk.keys("s", held=CTRL)
    path.unlink()
    desk.window.recent_menu.aboutToShow.emit()
    first = desk.window.recent_menu.actions()[0]
    assert "not found" in first.text()
    assert not first.isEnabled()
    assert len(desk.window.documents.recent()) == 1
    desk.window.documents.forget_recent()
    assert desk.window.documents.recent() == []


def test_a_file_dropped_on_the_window_is_opened(desk, path):
    desk.keys("sp")
    desk.keys("s", held=CTRL)
    desk.keys("n", held=CTRL)
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(str(path))])
    desk.window.dropEvent(
        QDropEvent(QPointF(10, 10), Qt.DropAction.CopyAction, data, Qt.MouseButton.LeftButton, Qt.KeyboardModifier(0))
    )
    assert desk.session.path == path
    assert "Panel 1" in desk.names()


def test_closing_asks_and_may_be_called_off(desk, monkeypatch):
    desk.keys("s")
    monkeypatch.setattr(ask, "unsaved", lambda *_: "cancel")
    assert not desk.window.close()
    assert desk.window.isVisible()


# ------------------------------------------------------------------------------------------------------------- clipboard
def test_copy_offers_items_words_and_pictures(desk):
    desk.keys("swu")
    desk.keys("a", held=CTRL)
    desk.keys("c", held=CTRL)
    data = QApplication.clipboard().mimeData()
    assert data.hasFormat(clipboard.MIME_ITEMS)
    assert data.hasFormat("image/svg+xml")
    assert data.hasImage()
    assert "Fused switch 1" in data.text()
    image = data.imageData()
    colors = {image.pixelColor(x, y).name() for x in range(0, image.width(), 5) for y in range(0, image.height(), 5)}
    assert "#ffffff" in colors
    # Black on white, also in the dark theme: nothing but greys.
    assert all(c[1:3] == c[3:5] == c[5:7] for c in colors)


def test_paste_keeps_facts_and_connections_and_gives_new_ids_and_names(desk):
    desk.keys("sub")
    bus = desk.named("Bus 1")
    desk.session.apply("Rate it", edits.change(desk.drawing, bus, rating_a=400.0))
    desk.session.select([bus, desk.named("Breaker 1")])
    before = desk.drawing
    desk.keys("c", held=CTRL)
    desk.keys("v", held=CTRL)
    new = [i for i in desk.drawing.items.values() if i.id not in before]
    assert sorted(i.kind for i in new) == ["bus", "disconnect", "joint"]
    copy = next(i for i in new if isinstance(i, Bus))
    assert copy.rating_a == 400.0
    assert copy.name != "Bus 1"
    assert len(set(desk.names())) == len(desk.names())
    assert desk.session.undo_label == "Paste 2 items"
    desk.do("undo")
    assert desk.drawing == before


def test_cut_and_paste_keeps_readings_and_copying_does_not(desk):
    drawing, panel = edits.add(desk.drawing, "bus", name="LP-1", readings=(Reading(when="2026-03-01", a_a=12.0),))
    desk.session.apply("Add", drawing)
    desk.session.select([panel])
    desk.keys("c", held=CTRL)
    desk.keys("v", held=CTRL)
    assert desk.drawing.get(desk.session.selection[0]).readings == ()
    desk.session.select([panel])
    desk.keys("x", held=CTRL)
    assert panel not in desk.drawing
    desk.keys("v", held=CTRL)
    assert desk.drawing.get(desk.session.selection[0]).readings[0].a_a == 12.0


def test_foreign_content_is_refused_with_a_sentence(desk):
    QApplication.clipboard().setText("something else")
    desk.keys("v", held=CTRL)
    assert len(desk.drawing) == 0
    assert "Copy items first" in desk.said
    broken = QMimeData()
    broken.setData(clipboard.MIME_ITEMS, b"{")
    QApplication.clipboard().setMimeData(broken)
    desk.keys("v", held=CTRL)
    assert len(desk.drawing) == 0
    assert "cannot be read" in desk.said


def test_a_circuit_that_feeds_something_outside_is_an_unknown_load_in_the_copy():
    drawing, panel = edits.add(Drawing(), "bus", name="P")
    drawing, breaker = edits.add(drawing, "disconnect", name="B")
    row = Circuit(space=1, use="feeder", feeds=breaker)
    drawing = edits.change(drawing, panel, circuits=(row,))
    alone = copies.part_of(drawing, [panel])
    assert alone.get(panel).circuits[0].use == "load"
    both = copies.part_of(drawing, [panel, breaker])
    after, _ = copies.put_into(drawing, both, 40, 40)
    pasted = [b for b in after.of(Bus) if b.id != panel]
    assert pasted[0].circuits[0].feeds not in (None, breaker)
    assert pasted[0].circuits[0].feeds in after
