"""Typing into the cells of a table: nothing that is typed gets lost, however slow the answer to the last cell is."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QModelIndex, QObject, QPersistentModelIndex, Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QAbstractItemDelegate, QLineEdit, QStyledItemDelegate, QWidget

_ENTER = (Qt.Key.Key_Return, Qt.Key.Key_Enter)


class CellDelegate(QStyledItemDelegate):
    """Enter takes a cell over at once, and a table that is shown anew leaves alone what is being typed."""

    def eventFilter(self, editor: QObject, event: QEvent) -> bool:
        """Qt takes a cell over only after what else is in the queue: the next letters would still go into this cell."""
        pressed = isinstance(event, QKeyEvent) and event.type() == QEvent.Type.KeyPress and event.key() in _ENTER
        if pressed and isinstance(editor, QLineEdit):
            self.commitData.emit(editor)
            self.closeEditor.emit(editor, QAbstractItemDelegate.EndEditHint.SubmitModelCache)
            return True
        return super().eventFilter(editor, event)

    def setEditorData(self, editor: QWidget, index: QModelIndex | QPersistentModelIndex) -> None:
        if not (isinstance(editor, QLineEdit) and editor.isModified()):
            super().setEditorData(editor, index)
