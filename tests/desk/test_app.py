"""The program around the window: references to None, exceptions, the beginning, theme, recovery."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from PySide6.QtCore import QObject, QRect, QSettings, Qt
from PySide6.QtGui import QPalette
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QLabel, QMainWindow

from oneline.desk import app as desk_app
from oneline.desk.panes.look import InkLabel
from oneline.desk.panes.marks import mark_icon
from oneline.desk.strip import Strip
from oneline.desk.theme import style_sheet, window_palette
from oneline.files import recovery
from oneline.model import Drawing, UtilityService, edits
from oneline.sheet.inks import contrast_ratio


@pytest.mark.skipif(sys.version_info >= (3, 12), reason="None is immortal from Python 3.12 on")
def test_void_calls_do_not_use_up_none(qapp):
    """PySide6 6.12.0 on Python 3.11 loses a reference per void call and ends the process after some 5,000 (seen here)."""
    thing = QObject()
    before = sys.getrefcount(None)
    for _ in range(20_000):
        thing.setObjectName("x")
    assert sys.getrefcount(None) > before - 1_000


# ---------------------------------------------------------------------------------------------------------------- theme
@pytest.mark.parametrize("name", ["light", "dark"])
def test_words_of_the_window_can_be_read(name):
    """WCAG 2.2, 1.4.3: 4.5:1 for text; 1.4.11: 3:1 for what shows the focus."""
    palette = window_palette(name)
    role, group = QPalette.ColorRole, QPalette.ColorGroup
    pairs = [
        (role.WindowText, role.Window), (role.Text, role.Base), (role.ButtonText, role.Button),
        (role.HighlightedText, role.Highlight), (role.ToolTipText, role.ToolTipBase), (role.PlaceholderText, role.Base),
        (role.PlaceholderText, role.Window), (role.Link, role.Base),
    ]  # fmt: skip
    for fore, back in pairs:
        colors = palette.color(group.Active, fore).name(), palette.color(group.Active, back).name()
        assert contrast_ratio(*colors) >= 4.5, (fore, back)
    for back in (role.Window, role.Button, role.Base):
        assert contrast_ratio(palette.color(role.Highlight).name(), palette.color(back).name()) >= 3


@pytest.mark.parametrize("name", ["light", "dark"])
def test_the_style_leaves_scroll_bars_alone(name):
    assert "QScrollBar" not in style_sheet(name)


def test_the_theme_is_chosen_without_a_restart_and_kept(desk):
    desk.do("theme-dark")
    assert desk.window.theme.name == "dark"
    assert QApplication.palette().color(QPalette.ColorRole.Window).lightness() < 80
    assert desk.window.settings.value("theme") == "dark"
    desk.do("theme-light")
    assert QApplication.palette().color(QPalette.ColorRole.Window).lightness() > 200


def test_marks_of_filters_and_counts_follow_the_theme(desk):
    window = desk.window
    findings = window.docks.widget("Findings")
    desk.keys("swubp")
    for theme in ("dark", "light", "dark"):
        desk.do(f"theme-{theme}")
        QApplication.processEvents()
        palette = window_palette(theme)
        for state, toggle in findings.toggles.items():
            ratio = toggle.devicePixelRatioF()
            assert (
                toggle.icon().pixmap(16, 16).toImage() == mark_icon(state, palette, 16, ratio).pixmap(16, 16).toImage()
            )
        for state, button in window.status._counts.items():
            want = mark_icon(state, palette, 14, max(1.0, button.devicePixelRatioF())).pixmap(14, 14).toImage()
            assert button.icon().pixmap(14, 14).toImage() == want


def test_a_change_after_saving_is_seen_in_the_status_bar(desk, tmp_path, monkeypatch):
    monkeypatch.setattr("oneline.desk.ask.file_to_save", lambda *_: tmp_path / "shop.oneline")
    desk.keys("s")
    desk.do("save")
    assert desk.window.status._saved.text().startswith("Saved ")
    desk.keys("p")
    assert desk.window.status._saved.text().startswith("Changed since ")
    desk.do("undo")
    assert desk.window.status._saved.text().startswith("Saved ")


# ----------------------------------------------------------------------------------------------------------- exceptions
def test_an_exception_in_a_slot_keeps_a_copy_and_the_program_goes_on(desk, state, monkeypatch):
    said = []
    monkeypatch.setattr(sys, "excepthook", lambda _kind, value, _trace: said.append(str(value)))
    stop = desk_app.watch_for_exceptions(desk.window)
    try:
        desk.keys("sp")
        kind, value = RuntimeError, RuntimeError("made for this test")
        sys.excepthook(kind, value, None)
        copies = recovery.recovery_copies()
        assert len(copies) == 1
        assert recovery.load_copy(copies[0]).drawing.items.keys() == desk.drawing.items.keys()
        assert said == ["made for this test"]
        desk.keys("b")
        assert "Breaker 1" in desk.names()
    finally:
        stop()


# ---------------------------------------------------------------------------------------------------------- the beginning
@pytest.fixture
def bare(qtbot, tmp_path, state):
    """A window that has not begun yet, with settings of its own."""
    settings = QSettings(str(tmp_path / "first.ini"), QSettings.Format.IniFormat)
    with recovery.Session() as keeper:
        window = desk_app.make_window(desk_app.make_app(), settings, keeper)
        qtbot.addWidget(window, before_close_func=lambda w: w.session.mark_saved(tmp_path / "closed.oneline"))
        window.show()
        yield window


def test_the_first_start_shows_the_sample_without_a_file_and_the_cautions(bare):
    desk_app.begin(bare, None)
    assert len(bare.session.drawing) >= 30
    assert bare.session.path is None
    assert bare.session.clean
    from oneline.desk.panes.dialogs import FirstRunNote

    note = bare.findChild(FirstRunNote)
    assert note is not None
    assert note.isVisible()
    note.button.click()
    assert not note.isVisible()


def test_the_first_window_is_never_larger_than_the_screen(bare, monkeypatch):
    class Small:
        def availableGeometry(self):
            return QRect(0, 0, 1280, 800)

    monkeypatch.setattr(bare, "screen", Small)
    bare._restore()
    assert bare.width() <= 1280
    assert bare.height() <= 800


def test_the_note_of_the_first_start_covers_nothing_and_goes_with_the_sample(bare):
    from oneline.desk.panes.dialogs import FirstRunNote

    desk_app.begin(bare, None)
    QApplication.processEvents()
    note, canvas = bare.findChild(FirstRunNote), bare.canvas
    top = canvas.mapTo(bare, canvas.rect().topLeft()).y()
    assert note.mapTo(bare, note.rect().bottomLeft()).y() < top
    seen = canvas.mapToScene(canvas.viewport().rect()).boundingRect()
    source = next(iter(bare.session.drawing.of(UtilityService)))
    assert seen.contains(canvas.sheet.rect_of([source.id])), "the drawing is opened at its top"
    bare.actions_by_key["new"].trigger()
    assert not note.isVisible()


def test_the_second_start_is_an_empty_sheet(bare):
    bare.settings.setValue("begun", "yes")
    desk_app.begin(bare, None)
    assert len(bare.session.drawing) == 0


def test_a_file_on_the_command_line_is_opened(bare, tmp_path):
    from oneline.files import write_drawing

    path = tmp_path / "given.oneline"
    write_drawing(edits.add(Drawing(), "bus", name="LP-1")[0], path, "2026-03-31T14:05:00Z")
    desk_app.begin(bare, path)
    assert bare.session.path == path
    assert bare.windowTitle().startswith("given.oneline")


# -------------------------------------------------------------------------------------------------------------- recovery
def orphan(state: Path, original: Path | None = None) -> Drawing:
    """A copy that a session left behind which does not run any more."""
    drawing = edits.add(Drawing(), "bus", name="LP-7")[0]
    keeper = recovery.Session()
    recovery.snapshot(drawing, "abc123", keeper, "2026-03-31T14:05:00Z", original, 3)
    keeper.close()
    return drawing


def test_what_a_crash_left_behind_is_offered_and_taken(bare, state, monkeypatch):
    from oneline.desk import output
    from oneline.desk.recovered import RecoveredDialog

    drawing = orphan(state)
    shown = []

    def accept_first(dialog: RecoveredDialog) -> int:
        shown.append(dialog.table.item(0, 2).text())
        dialog.open()
        return dialog.result()

    monkeypatch.setattr(RecoveredDialog, "exec", accept_first)
    output.show_recovered(bare)
    assert shown
    assert "1 panel" in shown[0]
    assert bare.session.drawing.items.keys() == drawing.items.keys()
    assert not bare.session.clean
    assert [c.orphaned for c in recovery.recovery_copies()] == [False]


def test_deciding_later_keeps_the_copy(bare, state, monkeypatch):
    from oneline.desk import output
    from oneline.desk.recovered import RecoveredDialog

    orphan(state)
    monkeypatch.setattr(RecoveredDialog, "exec", lambda dialog: dialog.reject() or dialog.result())
    output.show_recovered(bare)
    assert len(bare.session.drawing) == 0
    assert len(recovery.recovery_copies()) == 1


def test_copies_follow_changes_and_go_after_a_save(desk, qtbot, tmp_path, monkeypatch):
    from oneline.desk import ask

    desk.keys("sp")
    qtbot.waitUntil(lambda: len(recovery.recovery_copies()) == 1, timeout=4000)
    copy = recovery.recovery_copies()[0]
    assert not copy.orphaned
    assert recovery.load_copy(copy).drawing.items.keys() == desk.drawing.items.keys()
    monkeypatch.setattr(ask, "file_to_save", lambda *_: tmp_path / "kept.oneline")
    desk.keys("s", held=Qt.KeyboardModifier.ControlModifier)
    assert recovery.recovery_copies() == []


def test_the_program_starts_and_ends_in_a_process_of_its_own(tmp_path):
    """A whole run: window, sample, quit. Exit code 0, nothing on standard error, nothing left for recovery."""
    code = (
        "import sys\n"
        "from PySide6.QtCore import QTimer\n"
        "from oneline.desk import app\n"
        "qt = app.make_app()\n"
        "QTimer.singleShot(400, lambda: [w.close() for w in qt.topLevelWidgets() if w.objectName() == 'window'])\n"
        "sys.exit(app.run([]))\n"
    )
    env = {
        **os.environ, "QT_QPA_PLATFORM": "offscreen", "ONELINE_STATE": str(tmp_path / "state"),
        "XDG_CONFIG_HOME": str(tmp_path), "HOME": str(tmp_path), "QT_LOGGING_RULES": "qt.qpa.*=false",
    }  # fmt: skip
    done = subprocess.run([sys.executable, "-c", code], env=env, capture_output=True, text=True, timeout=120)
    noise = "This plugin does not support propagateSizeHints()"
    assert [line for line in done.stderr.splitlines() if line.strip() and line.strip() != noise] == []
    assert done.returncode == 0
    assert not list((tmp_path / "state").rglob("*.snap"))


def test_when_the_study_fails_the_drawing_stays_in_sight_and_no_count_looks_like_no_findings(desk, monkeypatch):
    from oneline.study.kept import KeptStudy

    desk.keys("sp")
    counts = [b for b in desk.window.status._counts.values() if b.isVisible()]
    assert counts

    def broken(*_args: object) -> None:
        raise RuntimeError("made for this test")

    monkeypatch.setattr(KeptStudy, "of", broken)
    after = edits.change(desk.drawing, desk.named("Panel 1"), name="LP-3")
    with pytest.raises(RuntimeError, match="made for this test"):
        desk.session.apply("Rename", after)
    assert desk.drawing == after
    assert desk.named("LP-3") in desk.window.canvas.sheet.sheet_items
    assert desk.window.status._missing.isVisible()
    assert not [b for b in desk.window.status._counts.values() if b.isVisible()]
    monkeypatch.undo()
    desk.session.undo()
    assert not desk.window.status._missing.isVisible()


def test_no_words_keep_the_ink_of_the_theme_before(desk):
    """A change of theme reaches children and parents in any order: every word shown is in the ink of what is around it."""
    desk.window.documents.load_sample()
    ids = list(desk.drawing.items)
    for number, theme in enumerate(("dark", "light", "dark", "light")):
        desk.session.select([ids[number]])
        QApplication.processEvents()
        desk.window.theme.choose(theme)
        for chosen in (ids[number], ids[number + 3]):
            desk.session.select([chosen])
            QTest.qWait(30)
            desk.window.grab()
            shown = [w for w in desk.window.findChildren(InkLabel) if w.isVisible() and not w.visibleRegion().isEmpty()]
            assert len(shown) > 5
            stale = [
                w.text() for w in shown
                if w.palette().color(QPalette.ColorRole.WindowText) != w.ink(w.parentWidget().palette())
            ]  # fmt: skip
            assert stale == []
            figures = desk.window.docks.widget("Details").point._cells
            assert all(c[2].font().bold() and not c[1].font().bold() for c in figures if c[0].isVisible())
            plain = window_palette(theme).color(QPalette.ColorRole.WindowText)
            others = [w for w in desk.window.findChildren(QLabel) if w.isVisible() and not isinstance(w, InkLabel)]
            assert [w.text() for w in others if w.palette().color(QPalette.ColorRole.WindowText) != plain] == []


def test_a_change_of_theme_moves_nothing(desk, qtbot):
    """Seen with a window that has just been made: its first change of theme is the one that may move things."""
    fresh = QMainWindow()
    qtbot.addWidget(fresh)
    strip = Strip(desk.window.actions_by_key, lambda _key: None, fresh)
    fresh.addToolBar(Qt.ToolBarArea.LeftToolBarArea, strip)
    fresh.resize(600, 900)
    fresh.show()

    def places() -> list[tuple[int, int, int, int]]:
        QApplication.processEvents()
        return [w.geometry().getRect() for w in (strip, *strip.buttons.values())]

    before = places()
    for theme in ("dark", "light"):
        desk.window.theme.choose(theme)
        assert places() == before
