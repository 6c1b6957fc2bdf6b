"""The grid of the circuit directory: typing replaces, Tab goes along a line, Enter to the next, a table can be pasted."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from PySide6.QtCore import QModelIndex, Qt, Signal
from PySide6.QtGui import (
    QFocusEvent,
    QGuiApplication,
    QKeyEvent,
    QKeySequence,
    QMouseEvent,
    QPainter,
    QPen,
    QResizeEvent,
)
from PySide6.QtWidgets import (
    QAbstractItemDelegate,
    QAbstractItemView,
    QCompleter,
    QHeaderView,
    QLineEdit,
    QStyleOptionViewItem,
    QTableView,
    QWidget,
)

from oneline.desk.panes.celledit import CellDelegate
from oneline.desk.panes.circuitmodel import BOTH_SIDES_PX, COLUMNS, GAP_PX, PER_SPACE, CircuitModel, Index
from oneline.desk.panes.directory import Slot, free_space
from oneline.desk.panes.look import CONTROL_PX, hairline, tabular
from oneline.desk.panes.tablepaste import is_table
from oneline.desk.panes.typed import choice_word
from oneline.model import Circuit, specs

__all__ = ["BOTH_SIDES_PX", "CircuitModel", "CircuitView"]

_ROLE = Qt.ItemDataRole
#: Where Tab goes along a line, and then on to the next: the columns as they stand.
_TAB_ORDER = ("description", "trip_a", "poles", "va", "load_class", "continuous", "traced", "status")


class _CircuitCell(CellDelegate):
    """Cells are typed; choices complete themselves from their first letters. A hairline under each cell is the grid."""

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        super().paint(painter, option, index)
        model = index.model()
        if isinstance(model, CircuitModel) and model.field_at(index.column()):
            painter.setPen(QPen(hairline(option.palette), 1))
            painter.drawLine(option.rect.bottomLeft(), option.rect.bottomRight())

    def createEditor(self, parent: QWidget, option: QStyleOptionViewItem, index: Index) -> QWidget:
        view = self.parent()
        assert isinstance(view, CircuitView)
        editor = _CellEdit(view, parent)
        editor.setFrame(False)
        model = index.model()
        field = model.field_at(index.column()) if isinstance(model, CircuitModel) else ""
        spec = specs(Circuit).get(field)
        if spec is not None and spec.quantity == "choice":
            completer = QCompleter([choice_word(c, spec) for c in spec.choices], editor)
            completer.setCompletionMode(QCompleter.CompletionMode.InlineCompletion)
            completer.setCaseSensitivity(Qt.CaseSensitivity.CaseInsensitive)
            editor.setCompleter(completer)
        if spec is not None:
            editor.setAccessibleName(spec.label)
        return editor

    def setEditorData(self, editor: QWidget, index: Index) -> None:
        if isinstance(editor, QLineEdit) and not editor.isModified():
            editor.setText(str(index.data(_ROLE.EditRole) or ""))
            editor.selectAll()


class _CellEdit(QLineEdit):
    """A cell that is being typed into. A whole table is not pasted into one cell."""

    def __init__(self, view: CircuitView, parent: QWidget) -> None:
        super().__init__(parent)
        self._view = view

    def keyPressEvent(self, event: QKeyEvent) -> None:
        text = QGuiApplication.clipboard().text()
        if event.matches(QKeySequence.StandardKey.Paste) and is_table(text):
            self._view.closeEditor(self, QAbstractItemDelegate.EndEditHint.RevertModelCache)
            self._view.pasted.emit(text)
        else:
            super().keyPressEvent(event)


class CircuitView(QTableView):
    """The grid. Tab goes along a line, Enter to the next one; the pane gets what concerns whole lines as signals.

    ``pasted(text)``: a table is to be put in from the current cell on.
    """

    wants = Signal(str)
    pasted = Signal(str)

    def __init__(self, model: CircuitModel, parent: QWidget) -> None:
        super().__init__(parent)
        self.circuits = model
        self.setModel(model)
        self.setItemDelegate(_CircuitCell(self))
        self.setFont(tabular(self.font()))
        self.setAccessibleName("Circuits")
        self.setTabKeyNavigation(True)
        self.setWordWrap(False)
        self.setShowGrid(False)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setEditTriggers(
            QAbstractItemView.EditTrigger.AnyKeyPressed
            | QAbstractItemView.EditTrigger.EditKeyPressed
            | QAbstractItemView.EditTrigger.DoubleClicked
        )
        self.setHorizontalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.verticalHeader().hide()
        self.verticalHeader().setDefaultSectionSize(CONTROL_PX - 2)
        head = self.horizontalHeader()
        head.setSectionResizeMode(QHeaderView.ResizeMode.Interactive)
        head.setHighlightSections(False)
        head.setMinimumSectionSize(GAP_PX)
        self._joined: set[tuple[int, int]] = set()
        #: Field at which the line being typed was begun; Enter comes back to it.
        self._home = ""
        #: What is in the spaces at this moment: fast typing is ahead of what the grid shows.
        self.slots_now: Callable[[], Mapping[int, Slot]] = lambda: model.slots
        model.modelReset.connect(self._joined.clear)
        model.arranged.connect(self._dress)

    def _dress(self) -> None:
        """Widths, and the cells of a device with several poles joined over its spaces."""
        model = self.circuits
        self._share_width()
        joined = {(s.first, s.poles) for s in model.slots.values() if s.poles > 1 and s.space == s.first}
        if joined == self._joined and joined:
            return
        self._joined.clear()
        self._joined.update(joined)
        self.clearSpans()
        for first, poles in joined:
            for field, *_ in COLUMNS:
                if field not in PER_SPACE:
                    cell = model.cell_of(first, field)
                    self.setSpan(cell.row(), cell.column(), poles, 1)

    def _share_width(self) -> None:
        """Give the descriptions what the other columns leave."""
        model = self.circuits
        spare = self.viewport().width() - model.sides * sum(c[2] for c in COLUMNS) - (model.sides - 1) * GAP_PX
        for n in range(model.columnCount()):
            field = model.field_at(n)
            width = next((c[2] for c in COLUMNS if c[0] == field), GAP_PX)
            self.setColumnWidth(n, width + max(0, spare // model.sides) if field == "description" else width)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._share_width()

    def begin(self) -> None:
        """Mark where work begins, the first free space, unless a cell is marked already."""
        if not self.currentIndex().isValid() and self.circuits.slots:
            self.setCurrentIndex(self.circuits.cell_of(free_space(self.circuits.slots, 1) or 1, "description"))

    def focusInEvent(self, event: QFocusEvent) -> None:
        self.begin()
        super().focusInEvent(event)

    def closeEditor(self, editor: QWidget, hint: QAbstractItemDelegate.EndEditHint) -> None:
        super().closeEditor(editor, hint)
        if hint == QAbstractItemDelegate.EndEditHint.SubmitModelCache:
            self.step(1)

    # --------------------------------------------------------------------------------------------------------- moving
    def moveCursor(
        self, cursorAction: QAbstractItemView.CursorAction, modifiers: Qt.KeyboardModifier
    ) -> QModelIndex:  # fmt: skip
        """Tab goes along a line and on to the next; Enter comes back to where the line was begun."""
        moves = {QAbstractItemView.CursorAction.MoveNext: 1, QAbstractItemView.CursorAction.MovePrevious: -1}
        at = self.currentIndex()
        if cursorAction in moves and at.isValid():
            return self._along(at, moves[cursorAction])
        self._home = ""
        return super().moveCursor(cursorAction, modifiers)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        self._home = ""
        super().mousePressEvent(event)

    def _along(self, at: QModelIndex, step: int) -> QModelIndex:
        """The next cell of the line, or the first of the next line (backward: the last of the one before)."""
        field = self.circuits.field_at(at.column())
        place = _TAB_ORDER.index(field) if field in _TAB_ORDER else -1
        self._home = self._home or (field if field in _TAB_ORDER else _TAB_ORDER[0])
        space: int | None = self.circuits.slot_at(at).space
        if not 0 <= place + step < len(_TAB_ORDER):
            space = self._beside(space, step, skip_drawn=True)
            place = -1 if step > 0 else len(_TAB_ORDER)
        return at if space is None else self.circuits.cell_of(space, _TAB_ORDER[place + step])

    def _beside(self, space: int | None, step: int, skip_drawn: bool, every_space: bool = False) -> int | None:
        """The space of the next line: down the odd side, then down the even one. ``None`` at the end."""
        now = self.slots_now()
        order = sorted(self.circuits.slots, key=lambda n: (n % 2 == 0, n))
        if space not in order:
            return None
        rest = order[order.index(space) + 1 :] if step > 0 else list(reversed(order[: order.index(space)]))
        for n in rest:
            kind = now.get(n, self.circuits.slots[n]).kind
            further = now[n].first != n if n in now and now[n].poles > 1 else False
            if every_space or not (further or (kind == "drawn" and skip_drawn)):
                return n
        return None

    def step(self, rows: int) -> None:
        """Go to the next line (or the one before), over the further spaces of a device."""
        at = self.currentIndex()
        if not at.isValid():
            return
        home, self._home = self._home, ""
        field = home or self.circuits.field_at(at.column())
        space = self._beside(
            self.circuits.slot_at(at).space, rows, skip_drawn=bool(home), every_space=field in PER_SPACE
        )
        if space is not None:
            self.setCurrentIndex(self.circuits.cell_of(space, field))

    def keyPressEvent(self, event: QKeyEvent) -> None:
        editing = self.state() == QAbstractItemView.State.EditingState
        ctrl = bool(event.modifiers() & Qt.KeyboardModifier.ControlModifier)
        key = event.key()
        if editing:
            super().keyPressEvent(event)
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.step(-1 if event.modifiers() & Qt.KeyboardModifier.ShiftModifier else 1)
        elif event.matches(QKeySequence.StandardKey.Paste):
            self._paste(QGuiApplication.clipboard().text())
        elif ctrl and key in (Qt.Key.Key_Delete, Qt.Key.Key_Backspace):
            self.wants.emit("remove")
        elif ctrl and key == Qt.Key.Key_D:
            self.wants.emit("duplicate")
        elif key == Qt.Key.Key_Insert:
            self.wants.emit("add")
        elif key in (Qt.Key.Key_Delete, Qt.Key.Key_Backspace):
            self._put("")
        else:
            super().keyPressEvent(event)

    def _paste(self, text: str) -> None:
        """A table is put in from the current cell on; a single text goes into it."""
        if is_table(text):
            self.pasted.emit(text)
        elif text.strip():
            self._put(text.strip())

    def _put(self, text: str) -> None:
        index = self.currentIndex()
        if index.isValid() and self.circuits.flags(index) & Qt.ItemFlag.ItemIsEditable:
            self.circuits.setData(index, text)
