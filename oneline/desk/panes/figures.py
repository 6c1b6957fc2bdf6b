"""The figures pane: every point with its figures, existing, proposed, or both side by side with the change."""

from __future__ import annotations

from typing import Any

from PySide6.QtCore import QAbstractTableModel, QModelIndex, QPersistentModelIndex, Qt
from PySide6.QtGui import QGuiApplication, QResizeEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHBoxLayout,
    QHeaderView,
    QLabel,
    QPushButton,
    QTableView,
    QVBoxLayout,
    QWidget,
)

from oneline.desk.panes.controls import Entry, Segments
from oneline.desk.panes.figureheader import GROUP_ROLE, GroupedHeader, GroupLines
from oneline.desk.panes.figurerows import NEW, REMOVED, VIEW_WORDS, Column, PointRow, as_text, columns, point_rows, tip
from oneline.desk.panes.look import CONTROL_PX, NARROW_PX, STEP, quiet, tabular
from oneline.desk.panes.pane import Host, LivePane
from oneline.session.session import Session

Index = QModelIndex | QPersistentModelIndex
_ROLE = Qt.ItemDataRole
#: Widths by the first word of the heading: all columns of a view fit a window of 1280 pixels.
_WIDTH_PX = {"Item": 160, "Kind": 100, "System": 76, "Live": 128, "Load": 64, "Available": 76, "Fault": 62, "Drop": 56}
#: Where there is room for long names and for figures between two bounds.
_ROOMY_PX = {"Item": 176, "Live": 160, "Fault": 104}
#: From this width of the table on there is.
_ROOM_PX = 1400
_BESIDE_PX_EACH = 70
#: From this width on filter and copy stand beside the choice of the view.
_BESIDE_PX = 560


class FiguresModel(QAbstractTableModel):
    """The table. Sorting keeps what is not known at the end, whichever way round."""

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.rows: list[PointRow] = []
        self.columns: list[Column] = []
        self.mode = "proposed"
        self._natural: list[PointRow] = []
        self._sorted_by: tuple[int, Qt.SortOrder] = (-1, Qt.SortOrder.AscendingOrder)

    def put(self, rows: list[PointRow], shown: list[Column], mode: str) -> None:
        self.beginResetModel()
        if mode != self.mode and len(shown) != len(self.columns):
            self._sorted_by = (-1, Qt.SortOrder.AscendingOrder)
        self._natural, self.columns, self.mode = rows, shown, mode
        self._arrange()
        self.endResetModel()

    def _arrange(self) -> None:
        number, order = self._sorted_by
        self.rows = list(self._natural)
        if not 0 <= number < len(self.columns):
            return
        key = self.columns[number].key
        known = [r for r in self.rows if key(r)[0] == 0]
        known.sort(key=key, reverse=order == Qt.SortOrder.DescendingOrder)
        self.rows = known + [r for r in self.rows if key(r)[0] != 0]

    def sort(self, column: int, order: Qt.SortOrder = Qt.SortOrder.AscendingOrder) -> None:
        self.layoutAboutToBeChanged.emit()
        self._sorted_by = (column, order)
        self._arrange()
        self.layoutChanged.emit()

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        return 0 if parent.isValid() else len(self.rows)

    def columnCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        return 0 if parent.isValid() else len(self.columns)

    def data(self, index: Index, role: int = _ROLE.DisplayRole) -> Any:
        row, column = self.rows[index.row()], self.columns[index.column()]
        if role == _ROLE.DisplayRole:
            return column.text(row)
        if role == _ROLE.TextAlignmentRole and column.number:
            return int(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        if role == _ROLE.ToolTipRole:
            return tip(row, column, self.mode)
        if role == _ROLE.ForegroundRole and column.head == "Change" and column.text(row) in ("0", NEW, REMOVED):
            parent = self.parent()
            return quiet(parent.palette()) if isinstance(parent, QWidget) else None
        return None

    def headerData(self, section: int, orientation: Qt.Orientation, role: int = _ROLE.DisplayRole) -> Any:
        if orientation != Qt.Orientation.Horizontal or section >= len(self.columns):
            return None
        column = self.columns[section]
        if role == _ROLE.DisplayRole:
            return column.head
        if role == _ROLE.AccessibleTextRole:
            return column.title
        if role == GROUP_ROLE:
            return column.group
        if role == _ROLE.ToolTipRole:
            return f"{column.help} Click to sort.".strip()
        if role == _ROLE.TextAlignmentRole:
            side = Qt.AlignmentFlag.AlignRight if column.number else Qt.AlignmentFlag.AlignLeft
            return int(side | Qt.AlignmentFlag.AlignVCenter)
        return None


class FiguresPane(LivePane):
    """Sortable table of all points; a click or an arrow key goes to the item."""

    watches = frozenset({"study", "view", "drawing"})

    def __init__(self, session: Session, host: Host, parent: QWidget | None = None) -> None:
        super().__init__(session, host, parent)
        self.setMinimumWidth(NARROW_PX - 40)
        self._leading = False
        self.both = False
        self.model = FiguresModel(self)
        rows = [("Existing", "existing"), ("Proposed", "proposed"), ("Side by side", "both")]
        self.mode = Segments(rows, self)
        self.mode.name("Figures of the view")
        for view, words in VIEW_WORDS.items():
            self.mode.button(view).setToolTip(words)
        self.mode.button("both").setToolTip("Existing and proposed beside each other, and the change.")
        self.mode.picked.connect(self._pick_mode)
        self.words = Entry(self)
        self.words.setPlaceholderText("Filter by name")
        self.words.setClearButtonEnabled(True)
        self.words.setMaximumWidth(280)
        self.words.setAccessibleName("Filter figures")
        self.words.setToolTip("Show only items in whose name every word occurs.")
        self.words.textChanged.connect(lambda _: self._show_rows())
        self.copy_button = QPushButton("Copy table", self)
        self.copy_button.setMinimumHeight(CONTROL_PX)
        self.copy_button.setAutoDefault(False)
        self.copy_button.setToolTip("Copy the table as text with tabs.")
        self.copy_button.clicked.connect(self._copy)
        self.hint = QLabel("No figures yet. Draw a service and connect what it feeds.", self)
        self.hint.setWordWrap(True)
        self.hint.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.hint.setContentsMargins(STEP, STEP, STEP, STEP)
        self._build_table()
        self._top = QHBoxLayout()
        self._top.setSpacing(STEP // 2)
        self._top.addWidget(self.mode)
        tools = QHBoxLayout()
        tools.setSpacing(STEP)
        tools.addWidget(self.words, 1)
        tools.addStretch(1)
        tools.addWidget(self.copy_button)
        self._top.addLayout(tools, 1)
        box = QVBoxLayout(self)
        box.setContentsMargins(STEP, STEP // 2, STEP, STEP)
        box.setSpacing(STEP // 2)
        box.addLayout(self._top)
        box.addWidget(self.hint, 1)
        box.addWidget(self.table, 1)

    def _build_table(self) -> None:
        table = self.table = QTableView(self)
        table.setHorizontalHeader(GroupedHeader(table))
        table.setItemDelegate(GroupLines(table))
        table.setModel(self.model)
        table.setFont(tabular(table.font()))
        table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        table.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        table.setTabKeyNavigation(False)
        table.setWordWrap(False)
        table.setShowGrid(False)
        table.setAlternatingRowColors(True)
        table.setHorizontalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        table.verticalHeader().hide()
        table.verticalHeader().setDefaultSectionSize(CONTROL_PX - 4)
        table.setAccessibleName("Figures")
        head = table.horizontalHeader()
        head.setSectionResizeMode(QHeaderView.ResizeMode.Interactive)
        head.setHighlightSections(False)
        head.setSectionsClickable(True)
        head.setMinimumSectionSize(48)
        head.setStretchLastSection(True)
        head.setSortIndicator(-1, Qt.SortOrder.AscendingOrder)
        table.setSortingEnabled(True)
        table.selectionModel().currentChanged.connect(self._current_changed)
        table.clicked.connect(self._go)

    # ------------------------------------------------------------------------------------------------------ following
    @property
    def shown_mode(self) -> str:
        """ "existing", "proposed" or "both"."""
        return "both" if self.both else self.session.view

    def _pick_mode(self, mode: str) -> None:
        self.both = mode == "both"
        if not self.both:
            self.session.set_view(mode)
        self._due |= self.watches
        self.refresh_now()

    def main_widget(self) -> QWidget:
        return self.table

    def refresh(self, kinds: frozenset[str]) -> None:
        self.mode.put(self.shown_mode)
        self._show_rows()

    def _show_rows(self) -> None:
        session = self.session
        before, after = session.study_of("existing"), session.study_of("proposed")
        rows = point_rows(session.drawing, before, after)
        if not self.both:
            rows = [r for r in rows if r.of(session.view) is not None]
        wanted = self.words.text().casefold().split()
        found = [r for r in rows if all(w in r.name.casefold() for w in wanted)]
        at = self.table.currentIndex()
        current = self.model.rows[at.row()].id if at.isValid() and at.row() < len(self.model.rows) else ""
        mode_changed = len(self.model.columns) == 0 or self.model.mode != self.shown_mode
        self._leading = True
        self.model.put(found, columns(self.shown_mode, session.drawing), self.shown_mode)
        again = next((n for n, r in enumerate(self.model.rows) if r.id == current), -1)
        if again >= 0:
            self.table.setCurrentIndex(self.model.index(again, max(at.column(), 0)))
        self._leading = False
        if mode_changed:
            self._size_columns()
        self.hint.setVisible(not rows)
        self.table.setVisible(bool(rows))

    def _size_columns(self) -> None:
        widths = {**_WIDTH_PX, **(_ROOMY_PX if self.width() >= _ROOM_PX and not self.both else {})}
        for number, column in enumerate(self.model.columns[:-1]):  # the last one takes what is left
            self.table.setColumnWidth(number, widths.get(column.head.split()[0], _BESIDE_PX_EACH))

    # -------------------------------------------------------------------------------------------------------- reacting
    def _current_changed(self, current: QModelIndex, previous: QModelIndex) -> None:
        if not self._leading and current.isValid() and current.row() != previous.row():
            self._go(current)

    def _go(self, index: QModelIndex) -> None:
        if index.isValid():
            self.host.show_item(self.model.rows[index.row()].id)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        beside = self.width() >= _BESIDE_PX
        self._top.setDirection(QHBoxLayout.Direction.LeftToRight if beside else QHBoxLayout.Direction.TopToBottom)
        if (event.oldSize().width() >= _ROOM_PX) != (self.width() >= _ROOM_PX):
            self._size_columns()

    def _copy(self) -> None:
        QGuiApplication.clipboard().setText(as_text(self.model.rows, self.model.columns))
        self.host.say("The table is on the clipboard.")
