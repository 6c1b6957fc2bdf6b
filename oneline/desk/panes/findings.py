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

from oneline.desk.panes.answers import OPEN_STATES, preferred
from oneline.desk.panes.controls import Chip, Entry
from oneline.desk.panes.findinglist import FindingDelegate, FindingModel
from oneline.desk.panes.findingrows import FindingRow, Key, count_states, finding_rows, key_of
from oneline.desk.panes.look import CONTROL_PX, NARROW_PX, STEP, quiet
from oneline.desk.panes.marks import mark_icon
from oneline.desk.panes.pane import Host, LivePane, bring_up
from oneline.desk.panes.triedwork import TriedWork
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
        self._html = ""
        #: A finding that is shown although the filters leave it out, until another one is marked.
        self._guest: Key | None = None
        self._plain: list[FindingRow] = []
        self.model = FindingModel(self)
        self._delegate = FindingDelegate(self)
        self.toggles = {state: _StateToggle(state, self) for state in STATES}
        self.words = Entry(self)
        self.words.setPlaceholderText("Filter by name, word or section")
        self.words.setClearButtonEnabled(True)
        self.words.setAccessibleName("Filter findings")
        self.words.setToolTip("Show only findings in which every word occurs.")
        self.words.textChanged.connect(lambda _: self._filter())
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
            toggle.toggled.connect(lambda _: self._filter())

    def _build_sheet(self) -> None:
        self.work = TriedWork(self.session, self.host.say, self)
        self.work.changed.connect(self._fill_sheet)
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
        self.splitter.setStretchFactor(0, 2)
        self.splitter.setStretchFactor(1, 1)
        self.splitter.setSizes([640, 320])
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
        """Mark what answers first about the item that was selected elsewhere: the worst open finding, else the summary.

        Findings that the user has filtered out stay out; a summary that passes is shown while its item is selected.
        """
        chosen = self.session.selection
        if len(chosen) != 1 or (self.current is not None and self.current.subject == chosen[0]):
            return
        shown = [row.verdict for row in self._plain if row.verdict.state in OPEN_STATES]
        found = preferred(shown, chosen[0])
        if found is None and not self.words.text().strip():
            passed = [v for v in self.session.study.verdicts if v.state == "pass"]
            found = preferred(passed, chosen[0])
        if found is not None:
            self._mark_finding(found)
        elif self.current is None or chosen[0] not in self.current.others:
            self._unmark()

    def _unmark(self) -> None:
        """Nothing is found about what is selected: the worksheet of something else would look like its own."""
        self._key, self._guest, self._leading = None, None, True
        self.list.selectionModel().clear()
        self._leading = False
        self._show_rows()

    def _filter(self) -> None:
        """The filters were changed by hand: what they leave out goes."""
        self._guest = None
        self._show_rows()

    def _show_rows(self) -> None:
        verdicts = self.session.study.verdicts
        states = {state for state, toggle in self.toggles.items() if toggle.isChecked()}
        rows = self._plain = finding_rows(verdicts, states, self.words.text())
        if self._guest is not None:
            rows = finding_rows(verdicts, states, self.words.text(), self._guest)
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

    def _mark_finding(self, verdict: Verdict) -> None:
        """Mark a finding and show its worksheet; where the filters leave it out it is let in while it is marked."""
        self._key = key_of(verdict)
        there = any(row.key == self._key for row in self._plain)
        if not there or len(self.model.rows) != len(self._plain):
            self._guest = None if there else self._key
            self._show_rows()
        number = next((n for n, row in enumerate(self.model.rows) if row.verdict is verdict), -1)
        if number < 0:
            number = next((n for n, row in enumerate(self.model.rows) if row.key == self._key), -1)
        if number >= 0:
            self._mark(number)
            self._show_sheet()

    def show_item(self, item_id: str) -> bool:
        """Mark what answers first about an item, whatever the filters say. False when nothing was found about it."""
        self.refresh_now()
        verdicts = [v for v in self.session.study.verdicts if v.subject == item_id]
        found = preferred(verdicts, item_id) or next((v for v in verdicts if not v.alternative), None)
        if found is None:
            return False
        self._mark_finding(found)
        return True

    def open_finding(self, verdict: Verdict) -> None:
        """Come to the front with the worksheet of a finding, whatever the filters say."""
        bring_up(self)
        self.refresh_now()
        self._mark_finding(verdict)

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
        if self._key != self._guest:
            self._guest = None  # its row goes with the next change of the list, not from under the pointer
        self._show_sheet()
        self._go(current)

    def _go(self, index: QModelIndex) -> None:
        if index.isValid():
            self.host.show_item(self.model.rows[index.row()].verdict.subject)

    def _show_sheet(self) -> None:
        verdict = self.current
        self.copy_button.setEnabled(verdict is not None)
        if verdict is None:
            self._html = ""
            self.work.put(())
            self.sheet.setHtml("")
            self.sheet.setPlaceholderText("Pick a finding to see how it is reckoned.")
            return
        self.work.put([verdict])
        self._fill_sheet()

    def _fill_sheet(self) -> None:
        verdict, work = self.current, self.work
        if verdict is None:
            return
        offer = ""
        if work.busy:
            offer = "Trying on a copy of the drawing … Stop"
        elif work.verdicts and not work.results:
            offer = "Try what would help" if work.fails else "Find the values that pass"
        ink = quiet(self.palette()).name()
        html = as_html(verdict, self.session.drawing.name_of, ink, work.result_of(verdict), offer)
        if html != self._html:
            self._html = html
            self.sheet.setHtml(html)

    def _follow(self, url: QUrl) -> None:
        if url.scheme() == "item":
            self.host.show_item(url.path())
        elif url.scheme() == "try":
            self.work.stop() if self.work.busy else self.work.start()
        elif url.scheme() == "apply" and self.work.results:
            remedies = self.work.results[0].remedies
            if remedies is not None:
                self.work.apply(remedies.found[int(url.path())])

    def copy_worksheet(self) -> None:
        """Put the worksheet of the marked finding on the clipboard, as text."""
        verdict = self.current
        if verdict is not None:
            QGuiApplication.clipboard().setText(
                as_text(verdict, self.session.drawing.name_of, self.work.result_of(verdict))
            )
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

    def changeEvent(self, event: QEvent) -> None:
        super().changeEvent(event)
        if event.type() in (QEvent.Type.PaletteChange, QEvent.Type.StyleChange) and hasattr(self, "state"):
            self.paint_icon()

    def paint_icon(self) -> None:
        self.setIcon(mark_icon(self.state, self.palette(), 16, self.devicePixelRatioF()))
