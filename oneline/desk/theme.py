"""Light and dark: the window's colors are made from the inks of the sheet, and follow the system unless told otherwise."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QObject, Qt, Signal
from PySide6.QtGui import QColor, QFont, QFontInfo, QPalette
from PySide6.QtWidgets import QApplication

from oneline.sheet.inks import PALETTES

#: What the user can choose.
CHOICES = ("system", "light", "dark")

Inks = Callable[[str], QColor]


def inks_of(palette: str) -> Inks:
    """Colors of the roles of a palette ("light", "dark", "paper"); a role it does not have is painted as plain ink."""
    colors = {role: QColor(text) for role, text in PALETTES[palette].items()}
    plain = colors["ink"]
    return lambda role: colors.get(role, plain)


#: Colors of paper, whatever the theme.
PAPER = inks_of("paper")

#: The chrome around the sheet: a shade off the sheet itself, so that the sheet stands out.
_CHROME = {
    "light": {
        "window": "#efece4",
        "base": "#fffdf9",
        "button": "#f7f5ef",
        "line": "#cfcabd",
        "bright": "#ffffff",
        "quiet": "#5d5d57",
    },
    "dark": {
        "window": "#151b22",
        "base": "#1a2129",
        "button": "#222c37",
        "line": "#3a4653",
        "bright": "#303c49",
        "quiet": "#9aa3ad",
    },
}


class Theme(QObject):
    """The theme in use. ``changed`` comes after the application's palette has been set."""

    changed = Signal()

    def __init__(self, app: QApplication, choice: str = "system") -> None:
        super().__init__(app)
        self._app = app
        self._choice = choice if choice in CHOICES else "system"
        self._inks = {name: inks_of(name) for name in ("light", "dark")}
        hints = app.styleHints()
        if hints is not None:
            hints.colorSchemeChanged.connect(lambda _scheme: self._system_changed())
        self.apply()

    @property
    def choice(self) -> str:
        """What the user chose: "system", "light" or "dark"."""
        return self._choice

    @property
    def name(self) -> str:
        """The palette in use: "light" or "dark"."""
        if self._choice != "system":
            return self._choice
        hints = self._app.styleHints()
        dark = hints is not None and hints.colorScheme() == Qt.ColorScheme.Dark
        return "dark" if dark else "light"

    def choose(self, choice: str) -> None:
        """Follow the system, or use one palette always."""
        if choice not in CHOICES:
            raise ValueError(f"theme {choice!r} is not one of {CHOICES}")
        self._choice = choice
        self.apply()

    def ink(self, role: str) -> QColor:
        """Color of an ink role."""
        return self._inks[self.name](role)

    def apply(self) -> None:
        """Give the application the palette and style of the theme."""
        self._app.setPalette(window_palette(self.name))
        self._app.setStyleSheet(style_sheet(self.name))
        self.changed.emit()

    def _system_changed(self) -> None:
        if self._choice == "system":
            self.apply()


def window_palette(name: str) -> QPalette:
    """The palette of the widgets."""
    chrome, ink = _CHROME[name], PALETTES[name]
    role, group = QPalette.ColorRole, QPalette.ColorGroup
    palette = QPalette()
    text, faint = QColor(ink["ink"]), QColor(chrome["quiet"])
    for where, color in (
        (role.Window, chrome["window"]),
        (role.Base, chrome["base"]),
        (role.AlternateBase, chrome["button"]),
        (role.Button, chrome["button"]),
        (role.ToolTipBase, chrome["base"]),
        (role.Light, chrome["bright"]),
        (role.Midlight, chrome["button"]),
        (role.Mid, chrome["line"]),
        (role.Dark, chrome["line"]),
        (role.Shadow, "#000000"),
        (role.Highlight, ink["accent"]),
        (role.Accent, ink["accent"]),
        (role.HighlightedText, "#ffffff" if name == "light" else "#0f151b"),
        (role.Link, ink["accent"]),
        (role.LinkVisited, ink["accent"]),
    ):
        palette.setColor(where, QColor(color))
    for where in (role.WindowText, role.Text, role.ButtonText, role.ToolTipText, role.BrightText):
        palette.setColor(where, text)
        palette.setColor(group.Disabled, where, faint)
    palette.setColor(role.PlaceholderText, faint)
    return palette


def style_sheet(name: str) -> str:
    """What the palette cannot say: the rhythm of bars, quiet frames and the focus ring."""
    chrome, ink = _CHROME[name], PALETTES[name]
    line, accent, text = chrome["line"], ink["accent"], ink["ink"]
    small = round(QFontInfo(QFont()).pixelSize() * 0.9)
    return f"""
QToolBar {{ border: none; spacing: 2px; padding: 4px 6px; background: {chrome["window"]}; }}
QToolBar#actionBar {{ border-bottom: 1px solid {line}; }}
QToolBar#palette {{ border-right: 1px solid {line}; padding: 4px 2px; }}
QToolBar::separator {{ width: 1px; height: 1px; background: {line}; margin: 5px 6px; }}
QToolBar#palette::separator {{ margin: 3px 8px; }}
QToolBar QToolButton {{ border: 1px solid transparent; border-radius: 5px; padding: 3px 6px; }}
QToolBar QToolButton:hover {{ background: {chrome["bright"]}; border-color: {line}; }}
QToolBar QToolButton:checked {{ background: {chrome["bright"]}; border-color: {accent}; color: {text}; }}
QToolBar QToolButton:focus {{ border-color: {accent}; }}
QToolBar#palette QToolButton {{ padding: 2px 2px; font-size: {small}px; }}
QToolBar#deeds {{ padding: 0px; margin: 0px; border: none; spacing: 4px; background: transparent; }}
QToolBar#deeds QToolButton {{ border: 1px solid {line}; padding: 3px 14px 3px 6px; }}
QStatusBar {{ border-top: 1px solid {line}; background: {chrome["window"]}; }}
QStatusBar::item {{ border: none; }}
QMainWindow::separator {{ width: 5px; height: 5px; background: {chrome["window"]}; }}
QMainWindow::separator:hover {{ background: {accent}; }}
QDockWidget::title {{ padding: 6px 8px; background: {chrome["window"]}; }}
QMenuBar {{ background: {chrome["window"]}; }}
QMenu::separator {{ height: 1px; background: {line}; margin: 4px 8px; }}
QToolTip {{ background: {chrome["base"]}; color: {text}; border: 1px solid {line}; padding: 4px; }}
"""
