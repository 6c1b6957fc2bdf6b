"""All functions: texts, tips, keys, sizes; nothing twice, nothing unreachable."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QAction, QKeySequence
from PySide6.QtWidgets import QAbstractButton, QMessageBox, QToolBar

from oneline.desk import ask
from oneline.desk.commands import BAR, COMMANDS, MENUS
from oneline.desk.handlers import handlers_of
from oneline.desk.icons import icon
from oneline.desk.tools.catalog import PLACEABLES
from oneline.desk.window import told_apart
from oneline.model import CONNECTION_KINDS, KINDS


def all_actions(window) -> list[QAction]:
    """Every action a menu or the window holds, submenus included."""
    found: list[QAction] = []

    def walk(menu) -> None:
        menu.aboutToShow.emit()
        for action in menu.actions():
            if action.menu() is not None:
                walk(action.menu())
            elif not action.isSeparator():
                found.append(action)

    for action in window.menuBar().actions():
        walk(action.menu())
    found += [a for a in window.actions() if a not in found]
    return found


def test_every_function_has_text_tooltip_and_status_tip(desk):
    for action in all_actions(desk.window):
        assert action.text(), action
        assert action.toolTip(), action.text()
        assert action.statusTip(), action.text()


def test_every_function_of_the_table_has_keys(desk):
    for command in COMMANDS:
        assert desk.window.actions_by_key[command.key].shortcuts(), command.key


def test_no_key_does_two_things(desk):
    keys = Counter(
        k.toString(QKeySequence.SequenceFormat.PortableText)
        for a in set(all_actions(desk.window))
        for k in a.shortcuts()
    )
    assert [k for k, n in keys.items() if n > 1] == []
    # Letters after Alt open the menus.
    menus = {f"Alt+{title[title.index('&') + 1].upper()}" for title, _ in MENUS}
    assert not menus & set(keys)


def test_every_command_has_one_handler_and_one_place_in_the_menus(desk):
    keys = [c.key for c in COMMANDS]
    assert len(keys) == len(set(keys))
    assert set(handlers_of(desk.window)) == set(keys)
    in_menus: list[str] = []
    for _, entries in MENUS:
        for entry in entries:
            in_menus += list(entry[1]) if isinstance(entry, tuple) else [entry]
    placed = [k for k in in_menus if k not in ("-", "recent", "panes")]
    assert sorted(placed) == sorted(keys)
    assert {b.rstrip("*") for b in BAR} - {"|", ">"} <= set(keys)


def test_everything_that_can_be_drawn_can_be_placed():
    drawn = {p.kind for p in PLACEABLES}
    assert drawn == set(KINDS) - set(CONNECTION_KINDS)
    letters = [p.letter for p in PLACEABLES]
    assert len(letters) == len(set(letters))


def test_targets_in_the_bars_are_at_least_24_pixels(desk):
    small = [
        (b.objectName() or b.text() or b.toolTip(), b.size())
        for bar in desk.window.findChildren(QToolBar)
        for b in bar.findChildren(QAbstractButton)
        if b.isVisible() and (b.width() < 24 or b.height() < 24)
    ]
    assert small == []
    for button in desk.window.statusBar().findChildren(QAbstractButton):
        assert min(button.minimumWidth(), button.minimumHeight()) >= 24


def test_every_button_in_the_bars_has_a_name(desk):
    for bar in desk.window.findChildren(QToolBar):
        for button in bar.findChildren(QAbstractButton):
            if button.isVisible():
                assert button.text() or button.accessibleName() or button.toolTip()


@pytest.mark.parametrize("name", sorted({c.icon for c in COMMANDS if c.icon}))
def test_every_icon_is_drawn(desk, name):
    image = icon(name).pixmap(32, 32).toImage()
    inked = sum(image.pixelColor(x, y).alpha() > 40 for x in range(32) for y in range(32))
    assert inked > 20


def test_icons_follow_the_theme(desk):
    desk.do("theme-light")
    light = icon("save").pixmap(32, 32).toImage()
    desk.do("theme-dark")
    assert icon("save").pixmap(32, 32).toImage() != light


def test_an_unknown_icon_is_named():
    with pytest.raises(FileNotFoundError, match="no-such-icon"):
        icon("no-such-icon")


def test_the_find_box_finds_items_and_functions(desk):
    desk.keys("sp")
    panel = desk.named("Panel 1")
    desk.session.select([])
    desk.keys("k", held=Qt.KeyboardModifier.ControlModifier)
    box = desk.window.find_box
    assert box.isVisible()
    desk.keys("pan")
    assert box.list.item(0).text().startswith("Panel 1")
    desk.keys(Qt.Key.Key_Return)
    assert desk.session.selection == (panel,)
    assert not box.isVisible()
    assert desk.window.canvas.hasFocus()
    desk.keys("k", held=Qt.KeyboardModifier.ControlModifier)
    desk.keys("switch vi", Qt.Key.Key_Return)
    assert desk.session.view == "existing"


def test_escape_closes_the_find_box_and_gives_the_sheet_back(desk):
    desk.keys("f", held=Qt.KeyboardModifier.ControlModifier)
    assert desk.window.find_box.isVisible()
    desk.keys(Qt.Key.Key_Escape)
    assert not desk.window.find_box.isVisible()
    assert desk.window.canvas.hasFocus()


def test_f6_goes_through_the_parts_of_the_window_and_back(desk):
    parts = []
    for _ in range(6):
        desk.keys(Qt.Key.Key_F6)
        focus = desk.window.focusWidget()
        parts.append(next((t for t, d in desk.window.docks.by_title.items() if d.isAncestorOf(focus)), "sheet"))
        if parts[-1] == "sheet":
            break
    assert parts[-1] == "sheet"
    assert "Details" in parts
    assert "Findings" in parts


def test_nothing_to_undo_is_no_function(desk):
    assert not desk.window.actions_by_key["undo"].isEnabled()
    desk.keys("s")
    assert desk.window.actions_by_key["undo"].isEnabled()
    assert desk.window.actions_by_key["undo"].text() == "Undo Add Service 1"


def test_the_edition_is_an_undoable_choice(desk):
    desk.do("edition-2017")
    assert desk.drawing.project.edition == 2017
    assert desk.session.undo_label == "Use the 2017 edition"
    desk.do("undo")
    assert desk.drawing.project.edition == 2023
    assert desk.window.actions_by_key["edition-2023"].isChecked()


def test_recent_files_of_one_name_are_told_apart_by_their_folders():
    home = Path("/jobs")
    paths = [home / "a" / "old" / "shop.oneline", home / "b" / "old" / "shop.oneline", home / "mill.oneline",
             home / "c" / "shop.oneline"]  # fmt: skip
    assert told_apart(paths) == [
        "shop.oneline – a/old", "shop.oneline – b/old", "mill.oneline", "shop.oneline – c",
    ]  # fmt: skip


def test_every_answer_about_unsaved_changes_has_a_key(desk, monkeypatch):
    seen = []

    def look(box: QMessageBox) -> int:
        seen.extend(b.text() for b in box.buttons())
        return QMessageBox.StandardButton.Cancel.value

    monkeypatch.setattr(QMessageBox, "exec", look)
    assert ask.unsaved(desk.window, "shop.oneline") == "cancel"
    assert sorted(QKeySequence.mnemonic(text).toString() for text in seen) == ["Alt+C", "Alt+D", "Alt+S"]
