"""The tool in the hand when no other is: selects, and begins the gesture that what lies under the pointer suggests."""

from __future__ import annotations

from PySide6.QtCore import Qt

from oneline.desk.tools.band import BandGesture
from oneline.desk.tools.base import GRID, NOTHING, Board, Hit, Pointer, Tool
from oneline.desk.tools.bend import BendGesture
from oneline.desk.tools.connect import WireGesture
from oneline.desk.tools.keyboard import nudge, walk
from oneline.desk.tools.move import MoveGesture
from oneline.desk.tools.operate import operate
from oneline.model import Bus, Connection, Disconnect, End, TransferSwitch

#: Pixels the pointer may wander during a click.
SLACK_PX = 4.0


class SelectTool(Tool):
    """Click selects, Shift or Ctrl adds; dragging moves items, connects terminals, bends lines or opens a band."""

    hint: str = ""

    def __init__(self, board: Board) -> None:
        super().__init__(board)
        self._pressed: Pointer | None = None
        self._hit: Hit = NOTHING
        self._gesture: Tool | None = None
        self._deselect_on_release: str | None = None

    @property
    def busy(self) -> bool:
        return self._gesture is not None

    # ------------------------------------------------------------------------------------------------------- pointer
    def press(self, pointer: Pointer) -> None:
        self._pressed, self._hit = pointer, self.board.hit(pointer.at)
        self._deselect_on_release = None
        item = self._hit.item
        if not item or self._hit.part in ("terminal", "blade"):
            return
        chosen = self.board.session.selection
        if pointer.shift or pointer.ctrl:
            if item in chosen:
                self._deselect_on_release = item
            else:
                self.board.session.select([*chosen, item])
        elif item not in chosen:
            self.board.session.select([item])

    def move(self, pointer: Pointer) -> None:
        if self._gesture is not None:
            self._gesture.move(pointer)
        elif self._pressed is None:
            self._hover(pointer)
        elif self._wandered(pointer):
            self._gesture = self._begin()
            self.board.show_handle(None)
            self.board.hover(NOTHING)
            self._gesture.press(self._pressed)
            self._gesture.move(pointer)

    def release(self, pointer: Pointer) -> None:
        gesture, pressed, hit = self._gesture, self._pressed, self._hit
        self._gesture = self._pressed = None
        if gesture is not None:
            gesture.release(pointer)
            return
        if pressed is not None:
            self._click(pointer, hit)

    def _click(self, pointer: Pointer, hit: Hit) -> None:
        session = self.board.session
        if hit.part == "blade":
            operate(self.board, hit.item)
        elif not hit.item:
            if not (pointer.shift or pointer.ctrl):
                session.select([])
        elif hit.part == "terminal":
            session.select([*session.selection, hit.item] if pointer.shift or pointer.ctrl else [hit.item])
        elif self._deselect_on_release is not None:
            session.select([i for i in session.selection if i != self._deselect_on_release])
        elif not (pointer.shift or pointer.ctrl):
            session.select([hit.item])
            if hit.part == "mark":
                self.board.show_findings(hit.item)

    def double_click(self, pointer: Pointer) -> None:
        hit = self.board.hit(pointer.at)
        self._pressed = None
        if hit.part == "blade":
            operate(self.board, hit.item)
        elif hit.item:
            self.board.session.select([hit.item])
            item = self.board.session.drawing.items.get(hit.item)
            if isinstance(item, Bus) and (item.circuits or item.form == "panelboard"):
                self.board.show_circuits(hit.item)
            else:
                self.board.focus_details()

    def _wandered(self, pointer: Pointer) -> bool:
        assert self._pressed is not None
        dx, dy = pointer.screen[0] - self._pressed.screen[0], pointer.screen[1] - self._pressed.screen[1]
        return abs(dx) > SLACK_PX or abs(dy) > SLACK_PX

    def _begin(self) -> Tool:
        assert self._pressed is not None
        if self._hit.part == "terminal":
            return WireGesture(self.board, End(self._hit.item, self._hit.terminal))
        if not self._hit.item or self._hit.part == "blade":
            return BandGesture(self.board)
        chosen = self.board.session.selection
        item = self.board.session.drawing.items.get(self._hit.item)
        if isinstance(item, Connection) and len(chosen) <= 1:
            return BendGesture(self.board, item.id)
        return MoveGesture(self.board)

    def _hover(self, pointer: Pointer) -> None:
        hit = self.board.hit(pointer.at)
        self.board.hover(hit)
        self.board.marks.clear()
        shape = Qt.CursorShape.ArrowCursor
        if hit.part == "terminal":
            self.board.marks.ring(self.board.session.picture.terminals[(hit.item, hit.terminal)])
            shape = Qt.CursorShape.CrossCursor
        elif hit.part == "blade":
            shape = Qt.CursorShape.PointingHandCursor
        item = self.board.session.drawing.items.get(hit.item)
        if isinstance(item, Disconnect | TransferSwitch) or hit.part == "blade":
            self.board.show_handle(hit.item)
        elif not self.board.near_handle(pointer.at):
            chosen = self.board.session.selection
            self.board.show_handle(chosen[0] if len(chosen) == 1 else None)
        self.board.set_cursor(shape)

    # ---------------------------------------------------------------------------------------------------------- keys
    def key(self, key: int, text: str, pointer: Pointer) -> bool:
        arrows = {
            Qt.Key.Key_Left: (-1, 0), Qt.Key.Key_Right: (1, 0), Qt.Key.Key_Up: (0, -1), Qt.Key.Key_Down: (0, 1),
        }  # fmt: skip
        step = arrows.get(Qt.Key(key))
        if step is not None:
            if pointer.ctrl:
                walk(self.board, step)
            else:
                size = 1.0 if pointer.alt else 5 * GRID if pointer.shift else GRID
                nudge(self.board, step[0] * size, step[1] * size)
            return True
        if key in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and self.board.session.selection:
            self.board.focus_details()
            return True
        return False

    def cancel(self) -> None:
        if self._gesture is not None:
            self._gesture.cancel()
        self._gesture = self._pressed = None
        super().cancel()
