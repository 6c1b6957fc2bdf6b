"""A small table of rows of one class (clamp readings, ...): a column a field, every committed cell is one edit."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from PySide6.QtCore import QAbstractTableModel, QModelIndex, QPersistentModelIndex, Qt, Signal
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHBoxLayout,
    QHeaderView,
    QPushButton,
    QTableView,
    QVBoxLayout,
    QWidget,
)

from oneline.desk.panes.celledit import CellDelegate
from oneline.desk.panes.look import CONTROL_PX, STEP, tabular
from oneline.desk.panes.typed import Misread, can_be_unknown, spell, understand
from oneline.desk.panes.words import UNKNOWN
from oneline.model import specs

Index = QModelIndex | QPersistentModelIndex
_ROLE = Qt.ItemDataRole


class RowModel(QAbstractTableModel):
    """Rows of a frozen dataclass. ``changed(rows, what)`` carries the rows as they would be; the model itself waits."""

    changed = Signal(object, str)
    refused = Signal(str)

    def __init__(self, owner: type, names: tuple[str, ...], heads: tuple[str, ...], parent: QWidget) -> None:
        super().__init__(parent)
        self.owner, self.names, self.heads = owner, names, heads
        self.rows: tuple[Any, ...] = ()
        self.shown_of = ""
        #: What was typed and not understood, with the reason: it stays in its cell until it is corrected.
        self.misread: dict[tuple[int, str], tuple[str, str]] = {}

    def put(self, rows: tuple[Any, ...], shown_of: str) -> None:
        """Show rows; ``shown_of``: whose rows they are."""
        if rows == self.rows and shown_of == self.shown_of:
            return
        if shown_of == self.shown_of and len(rows) == len(self.rows):
            self.rows = rows  # a cell that is being edited stays open
            self.dataChanged.emit(self.index(0, 0), self.index(len(rows) - 1, len(self.names) - 1))
            return
        self.beginResetModel()
        self.misread.clear()
        self.shown_of = shown_of
        self.rows = rows
        self.endResetModel()

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        return 0 if parent.isValid() else len(self.rows)

    def columnCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        return 0 if parent.isValid() else len(self.names)

    def data(self, index: Index, role: int = _ROLE.DisplayRole) -> Any:
        spec = specs(self.owner)[self.names[index.column()]]
        value = getattr(self.rows[index.row()], spec.name)
        typed, reason = self.misread.get((index.row(), spec.name), ("", ""))
        if typed and role in (_ROLE.DisplayRole, _ROLE.EditRole, _ROLE.ToolTipRole):
            if role == _ROLE.ToolTipRole:
                return reason
            return typed if role == _ROLE.EditRole else f"\N{WARNING SIGN}\ufe0e {typed}"
        if role == _ROLE.DisplayRole:
            return UNKNOWN if value is None else spell(value, spec)
        if role == _ROLE.EditRole:
            return spell(value, spec)
        if role == _ROLE.TextAlignmentRole and spec.quantity != "text":
            return int(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        if role == _ROLE.ToolTipRole:
            return f"{spec.label}. {spec.help}".strip()
        return None

    def headerData(self, section: int, orientation: Qt.Orientation, role: int = _ROLE.DisplayRole) -> Any:
        if orientation != Qt.Orientation.Horizontal:
            return None
        if role == _ROLE.DisplayRole:
            return self.heads[section]
        if role == _ROLE.ToolTipRole:
            return specs(self.owner)[self.names[section]].label
        return None

    def flags(self, index: Index) -> Qt.ItemFlag:
        return Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable | Qt.ItemFlag.ItemIsEditable

    def setData(self, index: Index, value: Any, role: int = _ROLE.EditRole) -> bool:
        if role != _ROLE.EditRole:
            return False
        name = self.names[index.column()]
        spec = specs(self.owner)[name]
        try:
            new = understand(str(value), spec, can_be_unknown(self.owner, name))
        except Misread as problem:
            self.misread[index.row(), name] = (str(value), str(problem))
            self.dataChanged.emit(index, index)
            self.refused.emit(str(problem))
            return False
        if self.misread.pop((index.row(), name), None) is not None:
            self.dataChanged.emit(index, index)
        old = self.rows[index.row()]
        if getattr(old, name) == new:
            return False
        row = replace(old, **{name: new})
        rows = (*self.rows[: index.row()], row, *self.rows[index.row() + 1 :])
        self.changed.emit(rows, spec.label)
        return True


class RowTable(QWidget):
    """The table with its two buttons. ``changed(rows, what)``: what the rows should become, and what was done."""

    changed = Signal(object, str)
    refused = Signal(str)

    def __init__(self, owner: type, names: tuple[str, ...], heads: tuple[str, ...], noun: str, parent: QWidget) -> None:
        super().__init__(parent)
        self.noun = noun
        self.model = RowModel(owner, names, heads, self)
        self.model.changed.connect(self.changed)
        self.model.refused.connect(self.refused)
        self.view = QTableView(self)
        self.view.setModel(self.model)
        self.view.setItemDelegate(CellDelegate(self.view))
        self.view.setFont(tabular(self.view.font()))
        self.view.verticalHeader().hide()
        self.view.verticalHeader().setDefaultSectionSize(CONTROL_PX)
        self.view.setTabKeyNavigation(True)
        self.view.setEditTriggers(
            QAbstractItemView.EditTrigger.DoubleClicked
            | QAbstractItemView.EditTrigger.AnyKeyPressed
            | QAbstractItemView.EditTrigger.EditKeyPressed
            | QAbstractItemView.EditTrigger.SelectedClicked
        )
        self.view.setHorizontalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        header = self.view.horizontalHeader()
        header.setSectionResizeMode(QHeaderView.ResizeMode.Interactive)
        header.setStretchLastSection(True)
        self.view.setAccessibleName(f"{noun.capitalize()}s")
        self.add_button = QPushButton(f"Add a {noun}", self)
        self.remove_button = QPushButton("Remove", self)
        for button in (self.add_button, self.remove_button):
            button.setMinimumHeight(CONTROL_PX)
            button.setAutoDefault(False)
        self.add_button.setToolTip(f"Add a {noun}.")
        self.remove_button.setToolTip(f"Remove the marked {noun}.")
        self.remove_button.clicked.connect(self._remove)
        buttons = QHBoxLayout()
        buttons.setSpacing(STEP)
        buttons.addWidget(self.add_button)
        buttons.addWidget(self.remove_button)
        buttons.addStretch(1)
        box = QVBoxLayout(self)
        box.setContentsMargins(0, 0, 0, 0)
        box.setSpacing(STEP // 2)
        box.addWidget(self.view)
        box.addLayout(buttons)

    def put(self, rows: tuple[Any, ...], shown_of: str) -> None:
        """Show rows; ``shown_of``: id of the item they belong to. Tells nobody."""
        here = self.view.currentIndex()
        row, column = here.row(), here.column()
        self.model.put(rows, shown_of)
        if 0 <= row < len(rows):
            self.view.setCurrentIndex(self.model.index(row, max(column, 0)))
        self.view.setVisible(bool(rows))
        self.remove_button.setVisible(bool(rows))
        head = self.view.horizontalHeader()
        self.view.setFixedHeight(head.sizeHint().height() + CONTROL_PX * min(max(len(rows), 1), 6) + STEP * 2)

    def _remove(self) -> None:
        row = self.view.currentIndex().row()
        if row < 0:
            row = len(self.model.rows) - 1
        rows = (*self.model.rows[:row], *self.model.rows[row + 1 :])
        self.changed.emit(rows, "")
