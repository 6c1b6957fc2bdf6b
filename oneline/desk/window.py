"""The window: sheet in the middle, one row of actions on top, the strip at the left, panes around, the status line below."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from PySide6.QtCore import QByteArray, QMimeData, QSettings, QSize, Qt, QTimer, QUrl
from PySide6.QtGui import (
    QAction,
    QCloseEvent,
    QColor,
    QDragEnterEvent,
    QDropEvent,
    QKeyEvent,
    QKeySequence,
    QResizeEvent,
    QShowEvent,
)
from PySide6.QtWidgets import QMainWindow, QMenu, QSizePolicy, QToolBar, QToolButton, QVBoxLayout, QWidget

from oneline.desk.actions import describe, fill_menus, make_actions
from oneline.desk.banner import Banner
from oneline.desk.canvas import Canvas
from oneline.desk.commands import BAR, COMMANDS
from oneline.desk.docks import Docks
from oneline.desk.documents import Documents
from oneline.desk.editing import Editing
from oneline.desk.handlers import handlers_of
from oneline.desk.icons import icon
from oneline.desk.outages import enter_readings, print_outage
from oneline.desk.panes import OutagePane, make_panes
from oneline.desk.panes.circuits import CircuitsPane
from oneline.desk.panes.details import DetailsPane
from oneline.desk.search import Findable, FindBox
from oneline.desk.statusline import StatusLine
from oneline.desk.strip import Strip
from oneline.desk.theme import Theme
from oneline.desk.tools.base import Tool
from oneline.desk.tools.connect import ConnectTool, TieTool
from oneline.desk.tools.operate import OperateTool
from oneline.desk.tools.place import PlaceTool
from oneline.files import recovery
from oneline.model import Drawing, Joint
from oneline.session import Session

#: Grows when docks or bars are renamed, so that an old layout is not applied to them.
_STATE_VERSION = 1
#: Narrowest window with words beside the main icons.
_LABELED_PX = 1160
#: The size of a first start, and what the frame around a window may take of the screen.
_FIRST_SIZE = QSize(1360, 860)
_FRAME = QSize(8, 40)


class MainWindow(QMainWindow):
    """One window with one drawing. Panes see it as their host."""

    def __init__(
        self, session: Session, settings: QSettings, theme: Theme, keeper: recovery.Session | None = None
    ) -> None:
        super().__init__()
        self.setObjectName("window")
        self.setWindowIcon(icon("oneline"))
        self.setAcceptDrops(True)
        self.setDockNestingEnabled(True)
        self.session = session
        self._ended = ""
        self.settings = settings
        self.theme = theme
        self.canvas = Canvas(session, theme.ink, self)
        middle = QWidget(self)
        self._middle = QVBoxLayout(middle)
        self._middle.setContentsMargins(0, 0, 0, 0)
        self._middle.setSpacing(0)
        self._middle.addWidget(self.canvas, 1)
        self.setCentralWidget(middle)
        self.documents = Documents(session, settings, self, keeper)
        self.editing = Editing(self.canvas)
        self.recent_menu = QMenu("Open recent", self)
        self.recent_menu.aboutToShow.connect(self._fill_recent)
        self.panes_menu = QMenu("Panes", self)
        self.actions_by_key = make_actions(self, self.canvas, self, handlers_of(self))
        fill_menus(self.menuBar(), self.actions_by_key, {"recent": self.recent_menu, "panes": self.panes_menu})
        self._make_bars()
        self.docks = Docks(self, self.canvas, make_panes(session, self), self.panes_menu)
        self.banner = Banner(session, self.actions_by_key, theme.ink, middle)
        self._middle.insertWidget(0, self.banner)
        self.status = StatusLine(self.statusBar(), self.focus_findings, self)
        self.find_box = FindBox(self.canvas, self.findables)
        self._wire()
        self._restore()
        self.refresh(frozenset({"drawing", "selection", "view", "study", "file", "history"}))

    # ---------------------------------------------------------------------------------------------------------- making
    def _make_bars(self) -> None:
        self._labeled: list[QToolButton] = []
        bar = QToolBar("Actions", self)
        bar.setObjectName("actionBar")
        bar.setMovable(False)
        bar.setIconSize(QSize(20, 20))
        bar.setContextMenuPolicy(Qt.ContextMenuPolicy.PreventContextMenu)
        for entry in BAR:
            if entry == "|":
                bar.addSeparator()
            elif entry == ">":
                gap = QWidget()
                gap.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Preferred)
                bar.addWidget(gap)
            else:
                action = self.actions_by_key[entry.rstrip("*")]
                bar.addAction(action)
                button = bar.widgetForAction(action)
                assert isinstance(button, QToolButton)
                button.setMinimumSize(QSize(34, 34))
                if entry.endswith("*"):
                    self._labeled.append(button)
        self.addToolBar(Qt.ToolBarArea.TopToolBarArea, bar)
        self.strip = Strip(self.actions_by_key, self._take, self)
        self.addToolBar(Qt.ToolBarArea.LeftToolBarArea, self.strip)

    def _wire(self) -> None:
        canvas, status = self.canvas, self.status
        canvas.said.connect(status.say)
        canvas.zoomed.connect(status.show_zoom)
        canvas.details_wanted.connect(self.focus_details)
        canvas.findings_wanted.connect(self.show_findings_of)
        canvas.circuits_wanted.connect(self.show_circuits_of)
        canvas.tool_changed.connect(self._tool_changed)
        details, outage = self.docks.widget("Details"), self.docks.widget("Outage")
        assert isinstance(details, DetailsPane)
        assert isinstance(outage, OutagePane)
        details.way_wanted.connect(canvas.show_way)
        self.docks.by_title["Outage"].visibilityChanged.connect(outage.show_on_sheet)
        outage.readings_wanted.connect(lambda zone: enter_readings(self, zone))
        outage.papers_wanted.connect(lambda zone: print_outage(self, zone))
        self.documents.said.connect(status.say)
        self.documents.changed.connect(self._file_changed)
        self.theme.changed.connect(self._recolor)
        self._stop_listening = self.session.listen(self.refresh)
        status.show_zoom(canvas.zoom_share)
        self._recolor()

    def _recolor(self) -> None:
        self.canvas.sheet.recolor()
        self.banner.update()
        self.canvas.viewport().update()
        self.status.recolor()
        self.actions_by_key[f"theme-{self.theme.choice}"].setChecked(True)

    # ---------------------------------------------------------------------------------------------------------- state
    def refresh(self, kinds: frozenset[str]) -> None:
        """Bring menus, title and status line up to date with the session."""
        actions, session = self.actions_by_key, self.session
        if kinds & {"history", "drawing"}:
            self._name_steps()
        if kinds & {"drawing", "file"}:
            self._file_changed()
            actions[f"edition-{session.drawing.project.edition}"].setChecked(True)
        if kinds & {"view", "file"}:
            actions[f"view-{session.view}"].setChecked(True)
            actions[f"symbols-{session.symbols}"].setChecked(session.symbols in ("us", "iec"))
        if kinds & {"live", "drawing", "view"}:
            self._show_trial()
        if kinds & {"study", "view"}:
            try:
                self.status.show_counts(session.study.verdicts)
            except Exception:
                self.status.show_no_answers()
                raise
        if kinds & {"selection", "drawing"}:
            some = bool(session.selection)
            for key in ("cut", "copy", "duplicate", "delete", "rename", "details", "select-below", "fit-selection"):
                actions[key].setEnabled(some)
            for key in ("status-existing", "status-new", "status-remove", "status-future"):
                actions[key].setEnabled(some)

    def _show_trial(self) -> None:
        """The strip above the sheet and its functions; why a rehearsal ended by itself is said once."""
        session = self.session
        rehearsal = session.rehearsal
        self.banner.refresh()
        self.actions_by_key["as-if-end"].setEnabled(bool(session.as_if) or rehearsal is not None)
        self.actions_by_key["rehearse-forward"].setEnabled(rehearsal is not None and not rehearsal.last)
        self.actions_by_key["rehearse-back"].setEnabled(rehearsal is not None and rehearsal.done > 0)
        if session.rehearsal_ended and session.rehearsal_ended != self._ended:
            # After what the edit itself says: that the sheet shows the drawing again matters more.
            QTimer.singleShot(0, self, lambda: self.say(session.rehearsal_ended))
        self._ended = session.rehearsal_ended

    def _name_steps(self) -> None:
        for key, label in (("undo", self.session.undo_label), ("redo", self.session.redo_label)):
            action = self.actions_by_key[key]
            text = f"{key.capitalize()} {label}" if label else key.capitalize()
            tip = (
                f"{'Take back' if key == 'undo' else 'Make again'}: {label}"
                if label
                else "There is nothing to take back"
            )
            describe(
                action, text.replace("&", "&&"), tip if key == "undo" or label else "There is nothing to make again"
            )
            action.setIconText(key.capitalize())
            action.setEnabled(label is not None)

    def _file_changed(self) -> None:
        title = self.session.drawing.project.title
        self.setWindowTitle(f"{self.documents.name}[*]{f' – {title}' if title else ''} – Oneline")
        self.setWindowModified(not self.session.clean)
        self.status.show_saved(self.documents.saved_at, self.documents.copied_at, self.session.clean)

    def _tool_changed(self, tool: Tool) -> None:
        self.strip.show_taken(tool.what.key if isinstance(tool, PlaceTool) else "")
        for key, kind in (("connect", ConnectTool), ("operate", OperateTool)):
            button_down = isinstance(tool, kind) and not isinstance(tool, TieTool)
            font = self.actions_by_key[key].font()
            font.setUnderline(button_down)
            self.actions_by_key[key].setFont(font)

    def _take(self, key: str) -> None:
        self.canvas.use_tool(PlaceTool(self.canvas, key) if key else None)
        self.canvas.setFocus()

    def _fill_recent(self) -> None:
        self.recent_menu.clear()
        recent = self.documents.recent()
        for path, name in zip(recent, told_apart(recent), strict=True):
            there = path.exists()
            name = name.replace("&", "&&")
            action = self.recent_menu.addAction(name if there else f"{name} (not found)")
            action.setEnabled(there)
            action.setStatusTip(f"Open {path}.")
            action.setToolTip(str(path))
            action.triggered.connect(lambda _checked=False, p=path: self.open_file(p))
        self.recent_menu.addSeparator()
        clear = self.recent_menu.addAction("Clear the list")
        clear.setStatusTip("Forget the files opened lately.")
        clear.setToolTip("Forget the files opened lately.")
        clear.triggered.connect(lambda _checked=False: self.documents.forget_recent())

    def open_file(self, path: Path | None = None) -> bool:
        """Open a file and show it."""
        done = self.documents.open(path)
        if done:
            self.canvas.show_opened()
        return done

    def put_above_sheet(self, note: QWidget) -> None:
        """Show a note between the bar and the sheet."""
        fitted, opened = self.canvas.fitted, self.canvas.as_opened
        self._middle.insertWidget(0, note)
        note.show()
        self._middle.activate()
        if fitted:
            self.canvas.fit()
        elif opened:
            self.canvas.show_opened()

    # ------------------------------------------------------------------------------------------------- host of the panes
    def say(self, text: str) -> None:
        """Show a sentence in the status bar."""
        self.status.say(text)

    def show_item(self, item_id: str) -> None:
        """Select an item and bring it into view."""
        self.session.select([item_id])
        self.canvas.show_item(item_id)

    def ink(self, role: str) -> QColor:
        """Color of an ink role in the present theme."""
        return self.theme.ink(role)

    def focus_canvas(self) -> None:
        """Put the keyboard on the sheet."""
        self.canvas.setFocus()

    def focus_details(self) -> None:
        """Put the keyboard into the fields of the selected item."""
        self.docks.focus("Details")

    def focus_findings(self) -> None:
        """Put the keyboard into the list of findings."""
        self.docks.focus("Findings")

    def show_findings_of(self, item_id: str) -> None:
        """Show the list of findings, at those of an item."""
        self.docks.show("Findings")
        show = getattr(self.docks.widget("Findings"), "show_item", None)
        if callable(show):
            show(item_id)

    def show_circuits_of(self, panel_id: str) -> None:
        """Show the circuits of a panel, ready to type."""
        pane = self.docks.widget("Circuits")
        if isinstance(pane, CircuitsPane):
            pane.show_panel(panel_id)

    # --------------------------------------------------------------------------------------------------------- finding
    def findables(self) -> list[Findable]:
        """Everything the find box knows: items first, then functions that can be used now."""
        drawing: Drawing = self.session.drawing
        found = [
            Findable(
                drawing.name_of(item.id),
                item.title if not item.location else f"{item.title}, {item.location}",
                lambda i=item.id: self._go_to(i),  # type: ignore[misc]
                is_item=True,
            )
            for item in drawing.items.values()
            if not isinstance(item, Joint)
        ]
        for command in COMMANDS:
            action = self.actions_by_key[command.key]
            if action.isEnabled() and command.key != "find":
                keys = action.shortcut().toString(QKeySequence.SequenceFormat.NativeText)
                found.append(Findable(action.text().replace("&&", "&"), keys, lambda a=action: self._do(a)))  # type: ignore[misc]
        return found

    def _go_to(self, item_id: str) -> None:
        self.canvas.setFocus()
        self.show_item(item_id)

    def _do(self, action: QAction) -> None:
        self.canvas.setFocus()
        action.trigger()

    # ------------------------------------------------------------------------------------------------ closing and state
    def _restore(self) -> None:
        geometry, state = self.settings.value("geometry"), self.settings.value("state")
        fitted = isinstance(geometry, QByteArray) and self.restoreGeometry(geometry)
        if not fitted:
            screen = self.screen().availableGeometry().size() - _FRAME  # no edge of the window off a small screen
            self.resize(_FIRST_SIZE.boundedTo(screen))
        self._arranged = isinstance(state, QByteArray) and self.restoreState(state, _STATE_VERSION)
        for key, name in (("grid", "grid_shown"), ("snap", "snapping")):
            on = str(self.settings.value(key, "true")).casefold() == "true"
            setattr(self.canvas, name, on)
            self.actions_by_key[key].setChecked(on)
        symbols = str(self.settings.value("symbols", "us"))
        if symbols in ("us", "iec"):
            self.session.symbols = symbols

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Where there is no room for words beside the main icons, the icons stand alone."""
        super().resizeEvent(event)
        style = Qt.ToolButtonStyle
        wanted = style.ToolButtonTextBesideIcon if self.width() >= _LABELED_PX else style.ToolButtonIconOnly
        for button in self._labeled:
            if button.toolButtonStyle() != wanted:
                button.setToolButtonStyle(wanted)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Esc in a pane goes back to the sheet."""
        if event.key() == Qt.Key.Key_Escape:
            self.canvas.setFocus()
        else:
            super().keyPressEvent(event)

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        if not self._arranged:
            self._arranged = True
            QTimer.singleShot(0, self.docks.first_layout)

    def closeEvent(self, event: QCloseEvent) -> None:
        if not self.documents.may_leave():
            event.ignore()
            return
        self.settings.setValue("geometry", self.saveGeometry())
        self.settings.setValue("state", self.saveState(_STATE_VERSION))
        self.settings.setValue("grid", self.canvas.grid_shown)
        self.settings.setValue("snap", self.canvas.snapping)
        self.documents.finish()
        event.accept()

    # ----------------------------------------------------------------------------------------- files dropped on the window
    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        if _dropped_file(event.mimeData()) is not None:
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:
        path = _dropped_file(event.mimeData())
        if path is not None:
            event.acceptProposedAction()
            self.open_file(path)


def told_apart(paths: Sequence[Path]) -> list[str]:
    """Names of files; where a name is there twice, with as many of its folders as tell the files apart."""
    names = []
    for path in paths:
        others = [p for p in paths if p != path and p.name == path.name]
        count = 1
        while count < len(path.parts) - 1 and any(p.parts[-count:] == path.parts[-count:] for p in others):
            count += 1
        folders = "/".join(path.parts[-count:-1])
        names.append(f"{path.name} – {folders}" if others else path.name)
    return names


def _dropped_file(data: QMimeData) -> Path | None:
    urls: list[QUrl] = data.urls() if data.hasUrls() else []
    return Path(urls[0].toLocalFile()) if len(urls) == 1 and urls[0].isLocalFile() else None
