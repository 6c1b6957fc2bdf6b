"""The switching order as a table: rearranged with Alt+Up and Alt+Down or by dragging, marked off with Space."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from PySide6.QtCore import QAbstractTableModel, QMimeData, QModelIndex, QPersistentModelIndex, Qt, Signal
from PySide6.QtGui import QFont, QKeyEvent, QPalette, QResizeEvent
from PySide6.QtWidgets import QAbstractItemView, QHeaderView, QTableView, QWidget

from oneline.desk.panes.look import CONTROL_PX, ink, tabular
from oneline.desk.panes.marks import mark_icon
from oneline.desk.panes.outagewords import answer_state, clock, current_words, dark_words, problem_words, when_words
from oneline.desk.panes.words import amperes
from oneline.model import Drawing, StepMark
from oneline.outage.results import Plan, Step

Index = QModelIndex | QPersistentModelIndex
_ROLE = Qt.ItemDataRole
_MIME = "application/x-oneline-step"
HEADS = ("#", "Step", "Current", "Rating", "Check", "Lock", "Goes dark", "At", "Done")
NUMBER, STEP, CURRENT, RATING, CHECK, LOCK, DARK, AT, DONE = range(len(HEADS))
_WIDTHS = {NUMBER: 34, CURRENT: 118, RATING: 62, LOCK: 44, DARK: 120, AT: 74, DONE: 84}
_CHECK_PX, _CHECK_SHARE = 150, 0.2
_TIPS = (
    "Number of the step", "What is done, where", "Current through the device at the moment it is operated, and what it is "
    "taken from", "Rating of the device", "What is wrong or open with the step", "Number of the lock",
    "What loses power by it, or gets it back", "When it begins", "Initials and time of who did it",
)  # fmt: skip


class OrderModel(QAbstractTableModel):
    """The steps of a plan. ``moved(step, before)``: keys; the model itself waits for the new plan."""

    moved = Signal(str, object)

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self._palette = parent.palette()
        self.plan: Plan | None = None
        self.drawing = Drawing()
        self.here = 0
        self._marks: dict[str, StepMark] = {}

    @property
    def steps(self) -> Sequence[Step]:
        return self.plan.steps if self.plan is not None else ()

    def put(self, plan: Plan | None, drawing: Drawing, here: int, palette: QPalette) -> None:
        """Show a plan. ``here``: number of the step that a rehearsal stands at, 0 for none."""
        self.beginResetModel()
        self.plan, self.drawing, self.here, self._palette = plan, drawing, here, palette
        self._marks = {m.step: m for m in plan.answer.zone.marks} if plan is not None else {}
        self.endResetModel()

    def stand_at(self, here: int) -> None:
        """Show where a rehearsal stands."""
        if here != self.here:
            self.here = here
            if self.steps:
                self.dataChanged.emit(self.index(0, 0), self.index(len(self.steps) - 1, len(HEADS) - 1))

    def mark_of(self, key: str) -> StepMark | None:
        return self._marks.get(key)

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        return 0 if parent.isValid() else len(self.steps)

    def columnCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        return 0 if parent.isValid() else len(HEADS)

    def headerData(self, section: int, orientation: Qt.Orientation, role: int = _ROLE.DisplayRole) -> Any:
        if orientation == Qt.Orientation.Horizontal and role in (_ROLE.DisplayRole, _ROLE.ToolTipRole):
            return HEADS[section] if role == _ROLE.DisplayRole else f"{_TIPS[section]}."
        return None

    def data(self, index: Index, role: int = _ROLE.DisplayRole) -> Any:
        assert self.plan is not None
        step, column = self.steps[index.row()], index.column()
        if role == _ROLE.DisplayRole:
            return self._text(step, column)
        if role == _ROLE.ToolTipRole:
            return self._tip(step, column)
        if role == _ROLE.DecorationRole and column == CHECK:
            state = answer_state(step, self.plan)
            return mark_icon(state, self._palette, 14, 2.0) if state != "pass" else None
        if role == _ROLE.TextAlignmentRole:
            side = Qt.AlignmentFlag.AlignRight if column in (NUMBER, RATING, AT) else Qt.AlignmentFlag.AlignLeft
            return int(side | Qt.AlignmentFlag.AlignVCenter)
        if role == _ROLE.FontRole and (step.number == self.here or step.hold):
            font = tabular(QFont())
            font.setBold(True)
            return font
        if role == _ROLE.BackgroundRole and step.number == self.here:
            return ink(self._palette, "fill-zone")
        return None

    def _text(self, step: Step, column: int) -> str:
        assert self.plan is not None
        if column == NUMBER:
            return f"{'▸' if step.number == self.here else ''}{step.number}"
        if column == STEP:
            hold = "Hold point. " if step.hold else ""
            return f"{hold}{step.words}{' Last step to turn back.' if step.back_out else ''}"
        if column == CURRENT:
            return current_words(step.current)
        if column == RATING:
            return amperes(step.rating_a) if step.rating_a is not None else ""
        if column == CHECK:
            return problem_words(step, self.plan)
        if column == LOCK:
            return step.lock
        if column == DARK:
            return dark_words(step, self.drawing)
        if column == AT:
            return when_words(step.minute, self.plan.answer.zone)
        mark = self._marks.get(step.key)
        return "" if mark is None else f"{mark.by or '✓'} {clock(mark.when)}".strip()

    def _tip(self, step: Step, column: int) -> str | None:
        if column == CURRENT and step.current is not None:
            needs = f" Missing: {'; '.join(step.current.needs)}." if step.current.needs else ""
            return f"{step.current.words}{needs}".strip() or None
        if column == DARK and (step.dark or step.back):
            return ", ".join(self.drawing.name_of(i) for i in (*step.dark, *step.back))
        return self._text(step, column) or None

    # ----------------------------------------------------------------------------------------------------- dragging
    def flags(self, index: Index) -> Qt.ItemFlag:
        usual = Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable
        return usual | Qt.ItemFlag.ItemIsDragEnabled if index.isValid() else Qt.ItemFlag.ItemIsDropEnabled

    def supportedDropActions(self) -> Qt.DropAction:
        return Qt.DropAction.MoveAction

    def mimeTypes(self) -> list[str]:
        return [_MIME]

    def mimeData(self, indexes: Sequence[QModelIndex]) -> QMimeData:
        data = QMimeData()
        if indexes:
            data.setData(_MIME, self.steps[indexes[0].row()].key.encode())
        return data

    def dropMimeData(self, data: QMimeData, action: Qt.DropAction, row: int, column: int, parent: Index) -> bool:
        key = bytes(data.data(_MIME).data()).decode()
        at = row if row >= 0 else parent.row() if parent.isValid() else len(self.steps)
        if key:
            self.moved.emit(key, self.steps[at].key if at < len(self.steps) else None)
        return False  # the new plan brings the new rows


class OrderTable(QTableView):
    """The table of steps. ``marked``: Space; ``wanted``: Enter, with the step's key."""

    marked = Signal(str)
    wanted = Signal(str)

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.steps_model = OrderModel(self)
        self.setModel(self.steps_model)
        self.setFont(tabular(self.font()))
        self.setAccessibleName("Switching order")
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setDragDropMode(QAbstractItemView.DragDropMode.InternalMove)
        self.setDragDropOverwriteMode(False)
        self.setDropIndicatorShown(True)
        self.setTabKeyNavigation(False)
        self.setShowGrid(False)
        self.setAlternatingRowColors(True)
        self.setWordWrap(True)
        self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        rows = self.verticalHeader()
        rows.hide()
        rows.setMinimumSectionSize(CONTROL_PX - 4)
        rows.setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
        head = self.horizontalHeader()
        head.setHighlightSections(False)
        head.setDefaultAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
        head.setSectionResizeMode(QHeaderView.ResizeMode.Interactive)
        for column, width in _WIDTHS.items():
            head.resizeSection(column, width)
        head.setSectionResizeMode(STEP, QHeaderView.ResizeMode.Stretch)
        head.sectionResized.connect(lambda *_: self.scheduleDelayedItemsLayout())

    def resizeEvent(self, event: QResizeEvent) -> None:
        """The words of a step get the most room, what is to be said about it a share."""
        super().resizeEvent(event)
        self.horizontalHeader().resizeSection(CHECK, max(_CHECK_PX, round(self.viewport().width() * _CHECK_SHARE)))

    def put(self, plan: Plan | None, drawing: Drawing, here: int) -> None:
        """Show a plan; the step that was current stays so, wherever it stands now."""
        key = self.current_key()
        self.steps_model.put(plan, drawing, here, self.palette())
        row = next((n for n, s in enumerate(self.steps_model.steps) if s.key == key), -1)
        if row < 0 and self.steps_model.steps:
            row = 0
        if row >= 0:
            self.go_to(row)

    def go_to(self, row: int) -> None:
        """Make a row the current one and bring it into view."""
        index = self.steps_model.index(row, STEP)
        self.setCurrentIndex(index)
        self.scrollTo(index)

    def current_key(self) -> str:
        """Key of the current step, "" without one."""
        row = self.currentIndex().row()
        return self.steps_model.steps[row].key if 0 <= row < len(self.steps_model.steps) else ""

    def shift(self, by: int) -> None:
        """Ask for the current step one place up (-1) or down (1)."""
        steps, row = self.steps_model.steps, self.currentIndex().row()
        if not 0 <= row < len(steps) or not 0 <= row + by < len(steps):
            return
        before = row - 1 if by < 0 else row + 2
        self.steps_model.moved.emit(steps[row].key, steps[before].key if before < len(steps) else None)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        key, alt = event.key(), bool(event.modifiers() & Qt.KeyboardModifier.AltModifier)
        if alt and key in (Qt.Key.Key_Up, Qt.Key.Key_Down):
            self.shift(-1 if key == Qt.Key.Key_Up else 1)
        elif key == Qt.Key.Key_Space and self.current_key():
            self.marked.emit(self.current_key())
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and self.current_key():
            self.wanted.emit(self.current_key())
        else:
            super().keyPressEvent(event)
            return
        event.accept()
