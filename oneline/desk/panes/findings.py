"""The findings pane: what fails, what is not known yet, what is to be judged, and the worksheet behind each."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QItemSelectionModel, QModelIndex, Qt, QUrl
from PySide6.QtGui import QGuiApplication, QResizeEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHBoxLayout,
    QLabel,
    QListView,
    QPushButton,
    QSplitter,
    QTextBrowser,
    QVBoxLayout,
    QWidget,
)

from oneline.desk.panes.controls import Chip, Entry
from oneline.desk.panes.findinglist import FindingDelegate, FindingModel
from oneline.desk.panes.findingrows import OPEN_STATES, FindingRow, Key, count_states, finding_rows
from oneline.desk.panes.look import CONTROL_PX, NARROW_PX, STEP, quiet
from oneline.desk.panes.marks import mark_icon
from oneline.desk.panes.pane import Host, LivePane
from oneline.desk.panes.words import STATE_WORDS
from oneline.desk.panes.worksheet import as_html, as_text
from oneline.rules.verdict import STATES, Verdict
from oneline.session.session import Session

#: From this width on the worksheet stands beside the list, else below it.
BESIDE_PX = 760


class FindingsPane(LivePane):
    """The list with its filters, and the worksheet of the marked finding. A click or an arrow key goes to the item."""

    watches = frozenset({"study", "view", "drawing", "selection"})

    def __init__(self, session: Session, host: Host, parent: QWidget | None = None) -> None:
        super().__init__(session, host, parent)
        self.setMinimumWidth(NARROW_PX - 40)
        self._leading = False
        self._key: Key | None = None
        self.model = FindingModel(self)
        self._delegate = FindingDelegate(self)
        self.toggles = {state: _StateToggle(state, self) for state in STATES}
        self.words = Entry(self)
        self.words.setPlaceholderText("Filter by name, word or section")
        self.words.setClearButtonEnabled(True)
        self.words.setAccessibleName("Filter findings")
        self.words.setToolTip("Show only findings in which every word occurs.")
        self.words.textChanged.connect(lambda _: self._show_rows())
        self.list = QListView(self)
        self.list.setModel(self.model)
        self.list.setItemDelegate(self._delegate)
        self.list.setUniformItemSizes(True)
        self.list.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.list.setAccessibleName("Findings")
        self.list.selectionModel().currentChanged.connect(self._current_changed)
        self.list.clicked.connect(self._go)
        self.hint = QLabel(self)
        self.hint.setWordWrap(True)
        self.hint.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.hint.setContentsMargins(STEP, STEP, STEP, STEP)
        self._build_sheet()
        self._lay_out()
        for state, toggle in self.toggles.items():
            toggle.setChecked(state in OPEN_STATES)
            toggle.toggled.connect(lambda _: self._show_rows())

    def _build_sheet(self) -> None:
        self.sheet = QTextBrowser(self)
        self.sheet.setOpenLinks(False)
        self.sheet.setAccessibleName("Worksheet")
        self.sheet.anchorClicked.connect(self._follow)
        self.copy_button = QPushButton("Copy worksheet", self)
        self.copy_button.setMinimumHeight(CONTROL_PX)
        self.copy_button.setAutoDefault(False)
        self.copy_button.setToolTip("Copy the worksheet of the marked finding as text.")
        self.copy_button.clicked.connect(self.copy_worksheet)

    def _lay_out(self) -> None:
        box = QVBoxLayout(self)
        box.setContentsMargins(STEP, STEP // 2, STEP, STEP)
        box.setSpacing(STEP // 2)
        chips = QHBoxLayout()
        chips.setSpacing(STEP // 2)
        for toggle in self.toggles.values():
            chips.addWidget(toggle)
        chips.addStretch(1)
        self._chips = chips
        self._top = QHBoxLayout()
        self._top.setSpacing(STEP)
        self._top.addLayout(chips)
        tools = QHBoxLayout()
        tools.setSpacing(STEP)
        tools.addWidget(self.words, 1)
        tools.addWidget(self.copy_button)
        self._top.addLayout(tools, 1)
        box.addLayout(self._top)
        left = QWidget(self)
        stack = QVBoxLayout(left)
        stack.setContentsMargins(0, 0, 0, 0)
        stack.addWidget(self.hint)
        stack.addWidget(self.list, 1)
        self.splitter = QSplitter(Qt.Orientation.Horizontal, self)
        self.splitter.addWidget(left)
        self.splitter.addWidget(self.sheet)
        self.splitter.setStretchFactor(0, 3)
        self.splitter.setStretchFactor(1, 2)
        self.splitter.setChildrenCollapsible(False)
        box.addWidget(self.splitter, 1)

    # ------------------------------------------------------------------------------------------------------ following
    def main_widget(self) -> QWidget:
        return self.list

    def refresh(self, kinds: frozenset[str]) -> None:
        if kinds != {"selection"}:
            counts = count_states(self.session.study.verdicts)
            for state, toggle in self.toggles.items():
                toggle.put(counts[state])
            self._show_rows()
        if "selection" in kinds:
            self._follow_selection()

    def _follow_selection(self) -> None:
        """Mark the first shown finding about the item that was selected elsewhere."""
        chosen = self.session.selection
        if len(chosen) != 1 or (self.current is not None and self.current.subject == chosen[0]):
            return
        number = next((n for n, row in enumerate(self.model.rows) if row.verdict.subject == chosen[0]), -1)
        if number >= 0:
            self._mark(number)
            self._key = self.model.rows[number].key
            self._show_sheet()

    def _show_rows(self) -> None:
        verdicts = self.session.study.verdicts
        states = {state for state, toggle in self.toggles.items() if toggle.isChecked()}
        rows = finding_rows(verdicts, states, self.words.text())
        key = self._key
        self._leading = True
        self.model.put(rows)
        self._leading = False
        hint = _hint(bool(self.session.drawing.items), bool(verdicts), bool(rows))
        self.hint.setText(hint)
        self.hint.setVisible(bool(hint))
        self.list.setVisible(bool(rows))
        found = next((n for n, row in enumerate(rows) if row.key == key), -1)
        if found >= 0:
            self._mark(found)
        self._show_sheet()

    def _mark(self, number: int) -> None:
        """Mark a row without going to its item."""
        self._leading = True
        index = self.model.index(number)
        self.list.selectionModel().setCurrentIndex(index, QItemSelectionModel.SelectionFlag.ClearAndSelect)
        self.list.scrollTo(index)
        self._leading = False

    def show_item(self, item_id: str) -> bool:
        """Mark the first finding about an item, widening the filters when it is hidden. False when there is none."""
        self.refresh_now()
        verdict = next((v for v in self.session.study.verdicts if v.subject == item_id and not v.alternative), None)
        if verdict is None:
            return False
        self.words.clear()
        self.toggles[verdict.state].setChecked(True)
        key = FindingRow(verdict).key
        number = next((n for n, row in enumerate(self.model.rows) if row.key == key), -1)
        if number < 0:
            return False
        self._mark(number)
        self._key = key
        self._show_sheet()
        return True

    # -------------------------------------------------------------------------------------------------------- reacting
    @property
    def current(self) -> Verdict | None:
        """The marked finding."""
        index = self.list.currentIndex()
        return self.model.rows[index.row()].verdict if index.isValid() and index.row() < len(self.model.rows) else None

    def _current_changed(self, current: QModelIndex, _: QModelIndex) -> None:
        if self._leading or not current.isValid():
            return
        self._key = self.model.rows[current.row()].key
        self._show_sheet()
        self._go(current)

    def _go(self, index: QModelIndex) -> None:
        if index.isValid():
            self.host.show_item(self.model.rows[index.row()].verdict.subject)

    def _show_sheet(self) -> None:
        verdict = self.current
        self.copy_button.setEnabled(verdict is not None)
        if verdict is None:
            self.sheet.setHtml("")
            self.sheet.setPlaceholderText("Pick a finding to see how it is reckoned.")
            return
        ink = quiet(self.palette()).name()
        self.sheet.setHtml(as_html(verdict, self.session.drawing.name_of, ink))

    def _follow(self, url: QUrl) -> None:
        if url.scheme() == "item":
            self.host.show_item(url.path())

    def copy_worksheet(self) -> None:
        """Put the worksheet of the marked finding on the clipboard, as text."""
        verdict = self.current
        if verdict is not None:
            QGuiApplication.clipboard().setText(as_text(verdict, self.session.drawing.name_of))
            self.host.say("The worksheet is on the clipboard.")

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        beside = self.width() >= BESIDE_PX
        wanted = Qt.Orientation.Horizontal if beside else Qt.Orientation.Vertical
        if self.splitter.orientation() != wanted:
            self.splitter.setOrientation(wanted)
        direction = QHBoxLayout.Direction.LeftToRight if beside else QHBoxLayout.Direction.TopToBottom
        self._top.setDirection(direction)

    def changeEvent(self, event: QEvent) -> None:
        super().changeEvent(event)
        if event.type() == QEvent.Type.PaletteChange and hasattr(self, "splitter"):
            for toggle in self.toggles.values():
                toggle.paint_icon()
            self._show_sheet()


def _hint(has_items: bool, has_verdicts: bool, has_rows: bool) -> str:
    if not has_items:
        return "Nothing is drawn yet. Place a utility service on the sheet, then what it feeds."
    if not has_verdicts:
        return "Nothing to check yet. Connect the items and enter their ratings."
    if not has_rows:
        return "No finding is shown with these filters."
    return ""


class _StateToggle(Chip):
    """Mark and number of one state; down while its findings are shown."""

    def __init__(self, state: str, parent: QWidget) -> None:
        super().__init__(parent)
        self.state = state
        self.paint_icon()
        self.put(0)

    def put(self, count: int) -> None:
        """Show how many there are."""
        self.setText(f"{count}")
        self.updateGeometry()
        words = STATE_WORDS[self.state]
        self.setToolTip(f"{words}: {count}. Click to show or hide them.")
        self.setAccessibleName(f"{words}: {count}")

    def paint_icon(self) -> None:
        self.setIcon(mark_icon(self.state, self.palette(), 16, self.devicePixelRatioF()))
