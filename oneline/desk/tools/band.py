"""Selecting many with a rectangle."""

from __future__ import annotations

from oneline.desk.tools.base import Board, Point, Pointer, Tool


class BandGesture(Tool):
    """A rubber band: selects what lies inside; with Shift or Ctrl it adds to what is selected."""

    def __init__(self, board: Board) -> None:
        super().__init__(board)
        self._from: Point | None = None
        self._before: tuple[str, ...] = ()

    def press(self, pointer: Pointer) -> None:
        self._from = pointer.at
        self._before = self.board.session.selection

    def move(self, pointer: Pointer) -> None:
        if self._from is None:
            return
        self.board.marks.clear()
        self.board.marks.band(self._from, pointer.at)
        kept = self._before if pointer.shift or pointer.ctrl else ()
        self.board.session.select([*kept, *self.board.items_in(self._from, pointer.at)])

    def release(self, pointer: Pointer) -> None:
        self.move(pointer)
        self._from = None
        self.board.marks.clear()

    def cancel(self) -> None:
        if self._from is not None:
            self.board.session.select(self._before)
        self._from = None
        super().cancel()
