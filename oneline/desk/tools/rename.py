"""Editing a name where it stands on the sheet."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QEvent, QObject, QRect, Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QLineEdit

from oneline.model import edits

if TYPE_CHECKING:
    from oneline.desk.canvas import Canvas


class RenameField(QLineEdit):
    """A line over the item's words. Enter or leaving takes the name over, Esc leaves the old one."""

    def __init__(self, canvas: Canvas) -> None:
        super().__init__(canvas.viewport())
        self._canvas = canvas
        self._item = ""
        self.setAccessibleName("Name")
        self.setMinimumHeight(28)
        self.hide()
        self.installEventFilter(self)

    def begin(self, item_id: str) -> None:
        """Open over an item, with its present name selected."""
        canvas = self._canvas
        if item_id not in canvas.session.drawing:
            return
        canvas.show_item(item_id)
        self._item = item_id
        item = canvas.session.drawing.get(item_id)
        self.setText(item.name)
        self.setPlaceholderText(canvas.session.drawing.name_of(item_id))
        self.setGeometry(self._where(item_id))
        self.show()
        self.setFocus()
        self.selectAll()

    def _where(self, item_id: str) -> QRect:
        """Over the first line of the item's words; beside its symbol when it has none."""
        canvas = self._canvas
        corner = canvas.words_corner(item_id)
        width, height = 220, max(28, self.sizeHint().height())
        view = canvas.viewport().rect()
        left = min(max(4, round(corner.x()) - 6), max(4, view.width() - width - 4))
        top = min(max(4, round(corner.y()) - 4), max(4, view.height() - height - 4))
        return QRect(left, top, width, height)

    def finish(self) -> None:
        """Take the name over, when the field is open."""
        if not self._item:
            return
        item_id, self._item = self._item, ""
        wanted = self.text().strip()
        self.hide()
        session = self._canvas.session
        if item_id in session.drawing and wanted != session.drawing.get(item_id).name:
            old = session.drawing.name_of(item_id)
            label = f"Rename {old} to {wanted}" if wanted else f"Take the name off {old}"
            self._canvas.edit(label, lambda d: edits.change(d, item_id, name=wanted))
            taken = [i for i, item in session.drawing.items.items() if i != item_id and wanted and item.name == wanted]
            if taken:
                self._canvas.say(f"{wanted} is also the name of another item. Names on a drawing should differ.")

    def give_up(self) -> None:
        """Close without a change."""
        self._item = ""
        self.hide()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if event.type() == QEvent.Type.KeyPress and isinstance(event, QKeyEvent):
            if event.key() == Qt.Key.Key_Escape:
                self.give_up()
                self._canvas.setFocus()
                return True
            if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Tab):
                self.finish()
                self._canvas.setFocus()
                return True
        if event.type() == QEvent.Type.FocusOut:
            self.finish()
        return super().eventFilter(watched, event)
