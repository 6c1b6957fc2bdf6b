"""Moving the paper under the window by dragging."""

from __future__ import annotations

from typing import ClassVar

from PySide6.QtCore import Qt

from oneline.desk.tools.base import Board, Point, Pointer, Tool


class PanTool(Tool):
    """Dragging with the middle button, or with the Space bar held."""

    cursor: ClassVar[Qt.CursorShape] = Qt.CursorShape.ClosedHandCursor

    def __init__(self, board: Board) -> None:
        super().__init__(board)
        self._from: Point | None = None

    @property
    def busy(self) -> bool:
        return self._from is not None

    def press(self, pointer: Pointer) -> None:
        self._from = pointer.screen
        self.board.set_cursor(Qt.CursorShape.ClosedHandCursor)

    def move(self, pointer: Pointer) -> None:
        if self._from is not None:
            self.board.pan_by(pointer.screen[0] - self._from[0], pointer.screen[1] - self._from[1])
            self._from = pointer.screen

    def release(self, pointer: Pointer) -> None:
        self._from = None
        self.board.set_cursor(None)

    def cancel(self) -> None:
        self._from = None
