"""From a blank sheet to the door sheet without touching the mouse, by real key events."""

from __future__ import annotations

import pypdf
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication

from oneline.desk import ask
from oneline.desk.panes.papers import PrintDialog
from oneline.files import read_drawing

Key = Qt.Key
CTRL = Qt.KeyboardModifier.ControlModifier


def enter(desk, item: str, **fields: str) -> None:
    """Type values into fields of the details pane, reached by Enter and Tab."""
    chosen = item if item in desk.drawing else desk.named(item)
    desk.session.select([chosen])
    desk.window.focus_canvas()
    desk.keys(Key.Key_Return)
    details = desk.window.docks.widget("Details")
    for name, text in fields.items():
        details.focus_field(name)
        desk.keys("a", held=CTRL)
        desk.keys(text, Key.Key_Return)
        assert getattr(desk.drawing.get(chosen), name) is not None, (item, name)
    desk.keys(Key.Key_Escape)
    assert desk.window.canvas.hasFocus()


def test_survey_tap_panel_and_paper_by_keys_alone(desk, tmp_path, monkeypatch):
    # Survey: what is there.
    desk.keys("swubp", Key.Key_F2)
    desk.keys("LP-1", Key.Key_Return)
    desk.keys("1", held=CTRL)
    enter(desk, "Fused switch 1", trip_a="400 A")
    enter(desk, "Bus 1", rating_a="400")
    enter(desk, "Breaker 1", trip_a="100 amps")
    # The remodel: a fused switch tapped from the bus, and its panel, as new work.
    desk.keys("n", held=CTRL | Qt.KeyboardModifier.ShiftModifier)
    desk.session.select([desk.named("Bus 1")])
    desk.keys("w", "j", "p")
    tapped = desk.drawing.get(desk.named("Fused switch 2"))
    assert tapped.status == "new"
    tap = next(c for c in desk.drawing.connections_of(tapped.id) if desk.named("Bus 1") in (c.a.item, c.b.item))
    assert tap.kind == "run"
    # Before anything is known of its conductors, whether it is a tap is not known.
    assert {v.state for v in desk.session.study.verdicts if v.subject == tap.id} == {"unknown"}
    enter(desk, tap.id, length_ft="12 ft 4 in", size="#2", material="copper", terminal_c="75")
    assert abs(desk.drawing.get(tap.id).length_ft - (12 + 4 / 12)) < 1e-9
    # The answer is there without asking: the tap is recognized, and the 10-ft rule fails by its length.
    tried = [v for v in desk.session.study.verdicts if v.subject == tap.id and v.section.startswith("240.21(B)(1)")]
    assert [v.state for v in tried] == ["fail"]
    assert "12 ft 4 in" in tried[0].message
    # Back and forth between the views; nothing new is in the existing one.
    desk.keys("v")
    assert tap.id not in set(desk.session.study.points)
    desk.keys("v")
    # Save, then the door sheet.
    path = tmp_path / "shop.oneline"
    monkeypatch.setattr(ask, "file_to_save", lambda *_: path)
    desk.keys("s", held=CTRL)
    assert read_drawing(path).drawing == desk.drawing
    pdf = tmp_path / "door.pdf"

    def print_it(dialog: PrintDialog) -> int:
        dialog.remake()
        dialog.save_to(pdf)
        return dialog.result()

    monkeypatch.setattr(PrintDialog, "exec", print_it)
    desk.keys("p", held=CTRL)
    text = "\n".join(page.extract_text() for page in pypdf.PdfReader(pdf).pages)
    assert "LP-1" in text
    assert "Fused switch 2" in text
    assert QApplication.mouseButtons() == Qt.MouseButton.NoButton
