"""The panes around the sheet: docking them, folding them away, putting the keyboard into them."""

from __future__ import annotations

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QAction, QKeySequence
from PySide6.QtWidgets import QDockWidget, QHBoxLayout, QLabel, QMainWindow, QMenu, QToolButton, QVBoxLayout, QWidget

from oneline.desk.actions import describe
from oneline.desk.icons import icon
from oneline.desk.panes import Pane

_AREAS = {
    "right": Qt.DockWidgetArea.RightDockWidgetArea,
    "bottom": Qt.DockWidgetArea.BottomDockWidgetArea,
    "left": Qt.DockWidgetArea.LeftDockWidgetArea,
}
#: Width of the panes at the side at the first start, and the share of the height that those below the sheet take:
#: enough for a handful of findings and a worksheet that can be read, also in a low window.
_SIDE_PX = 300
_BELOW_SHARE, _BELOW_PX = 0.3, 264


class PaneHolder(QWidget):
    """Holds a pane. What is in the pane changes all the time; the room it takes is the user's alone to change."""

    def __init__(self, pane: QWidget) -> None:
        super().__init__()
        self.pane = pane
        box = QVBoxLayout(self)
        box.setContentsMargins(0, 0, 0, 0)
        box.addWidget(pane)

    def sizeHint(self) -> QSize:
        return QSize(_SIDE_PX, 120)

    def minimumSizeHint(self) -> QSize:
        return QSize(240, 120)


class TitleBar(QWidget):
    """The name of a pane, and a button that folds it away."""

    def __init__(self, dock: QDockWidget) -> None:
        super().__init__(dock)
        name = QLabel(dock.windowTitle(), self)
        font = name.font()
        font.setBold(True)
        name.setFont(font)
        close = QToolButton(self)
        close.setIcon(icon("close"))
        close.setAutoRaise(True)
        close.setFixedSize(24, 24)
        close.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        close.setToolTip(f"Fold {dock.windowTitle().casefold()} away")
        close.setStatusTip("Fold this pane away. View, Panes brings it back.")
        close.setAccessibleName(f"Fold {dock.windowTitle().casefold()} away")
        close.clicked.connect(dock.close)
        box = QHBoxLayout(self)
        box.setContentsMargins(8, 2, 4, 2)
        box.addWidget(name, 1)
        box.addWidget(close)


class Docks:
    """All panes of one window."""

    def __init__(self, window: QMainWindow, sheet: QWidget, panes: list[Pane], menu: QMenu) -> None:
        self._window = window
        self._sheet = sheet
        self.panes = panes
        self.by_title: dict[str, QDockWidget] = {}
        self._first: dict[str, QDockWidget] = {}
        for pane in panes:
            self._add(pane, menu)
        for dock in self._first.values():
            dock.raise_()

    def _add(self, pane: Pane, menu: QMenu) -> None:
        window = self._window
        dock = QDockWidget(pane.title, window)
        dock.setObjectName(f"pane-{pane.title.casefold().replace(' ', '-')}")
        dock.setWidget(PaneHolder(pane.widget))
        dock.setTitleBarWidget(TitleBar(dock))
        window.addDockWidget(_AREAS[pane.area], dock)
        if pane.area in self._first:
            window.tabifyDockWidget(self._first[pane.area], dock)
        self._first.setdefault(pane.area, dock)
        self.by_title[pane.title] = dock
        focus = QAction(pane.title, window)
        focus.setShortcut(QKeySequence(pane.key))
        describe(focus, pane.title, f"Show the {pane.title.casefold()} and put the keyboard there")
        focus.triggered.connect(lambda _checked=False: self.focus(pane.title))
        window.addAction(focus)
        menu.addAction(focus)

    def first_layout(self) -> None:
        """The sheet is the largest thing by far: panes begin as small as they are useful."""
        for area, dock in self._first.items():
            below = area == "bottom"
            size = max(round(self._window.height() * _BELOW_SHARE), _BELOW_PX) if below else _SIDE_PX
            way = Qt.Orientation.Vertical if below else Qt.Orientation.Horizontal
            self._window.resizeDocks([dock], [size], way)

    def widget(self, title: str) -> QWidget | None:
        """The pane of that name."""
        return next((p.widget for p in self.panes if p.title == title), None)

    def show(self, title: str) -> QDockWidget | None:
        """Unfold a pane and bring it before the others."""
        dock = self.by_title.get(title)
        if dock is not None:
            dock.show()
            dock.raise_()
        return dock

    def focus(self, title: str) -> None:
        """Show a pane and put the keyboard into it."""
        dock, inside = self.show(title), self.widget(title)
        if dock is None or inside is None:
            return
        begin = getattr(inside, "focus_first", None)
        if callable(begin):
            begin()
            if dock.isAncestorOf(self._window.focusWidget() or self._window):
                return
        for child in [inside, *inside.findChildren(QWidget)]:
            if child.isVisible() and child.isEnabled() and child.focusPolicy() & Qt.FocusPolicy.TabFocus:
                child.setFocus(Qt.FocusReason.ShortcutFocusReason)
                return

    def step(self, step: int) -> None:
        """Put the keyboard into the next (1) or previous (-1) part of the window: the sheet, then the open panes."""
        shown = [t for t, d in self.by_title.items() if d.isVisible() and not d.visibleRegion().isEmpty()]
        focus = self._window.focusWidget() or self._window
        here = next((n for n, t in enumerate(shown, 1) if self.by_title[t].isAncestorOf(focus)), 0)
        there = (here + step) % (len(shown) + 1)
        if there == 0:
            self._sheet.setFocus()
        else:
            self.focus(shown[there - 1])
