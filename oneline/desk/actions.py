"""Makes the window's actions and menus of the table in ``commands``."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from PySide6.QtCore import QObject, Qt
from PySide6.QtGui import QAction, QActionGroup, QKeySequence
from PySide6.QtWidgets import QApplication, QMenu, QMenuBar, QWidget

from oneline.desk.commands import COMMANDS, MENUS
from oneline.desk.icons import icon

Handler = Callable[[bool], object]


def make_actions(
    parent: QObject, sheet: QWidget, window: QWidget, handlers: Mapping[str, Handler]
) -> dict[str, QAction]:
    """One action for each command, with keys, tips and icon; ``KeyError`` for a command without a handler."""
    actions: dict[str, QAction] = {}
    groups: dict[str, QActionGroup] = {}
    for command in COMMANDS:
        action = QAction(command.text, parent)
        action.setObjectName(command.key)
        action.setCheckable(command.check)
        action.setShortcuts([QKeySequence(k) for k in command.keys])
        if command.icon:
            action.setIcon(icon(command.icon))
        describe(action, command.text, command.tip)
        handler = handlers[command.key]
        action.triggered.connect(lambda checked=False, run=handler: _run(run, bool(checked), window))
        if command.group:
            group = groups.setdefault(command.group, QActionGroup(parent))
            group.addAction(action)
        if command.on_sheet:
            action.setShortcutContext(Qt.ShortcutContext.WidgetShortcut)
            sheet.addAction(action)
        else:
            window.addAction(action)
        actions[command.key] = action
    return actions


def _run(handler: Handler, checked: bool, window: QWidget) -> None:
    """Do it; after a dialog the window takes the keyboard back, also where no window manager gives it."""
    handler(checked)
    if window.isVisible() and QApplication.activeWindow() is None:
        window.activateWindow()


def describe(action: QAction, text: str, tip: str) -> None:
    """Give an action its text, its tooltip (with the first key) and its status tip."""
    action.setText(text)
    keys = action.shortcut().toString(QKeySequence.SequenceFormat.NativeText)
    name = text.removesuffix(" …").replace("&", "")
    action.setToolTip(f"{name} ({keys})\n{tip}." if keys else f"{name}\n{tip}.")
    action.setStatusTip(f"{tip}.")
    action.setWhatsThis(f"{tip}.")


def fill_menus(bar: QMenuBar, actions: Mapping[str, QAction], extra: Mapping[str, QMenu]) -> None:
    """Build the menus. ``extra`` holds the menus that change while the program runs (recent files, panes)."""
    for title, entries in MENUS:
        menu = bar.addMenu(title)
        menu.setToolTipsVisible(False)
        for entry in entries:
            if isinstance(entry, tuple):
                below = menu.addMenu(entry[0])
                for key in entry[1]:
                    below.addAction(actions[key])
            elif entry == "-":
                menu.addSeparator()
            elif entry in extra:
                menu.addMenu(extra[entry])
            else:
                menu.addAction(actions[entry])
