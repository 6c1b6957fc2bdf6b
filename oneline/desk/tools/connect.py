"""Joining terminals: by dragging, by two clicks, and with the keys alone. The suspected tie is made the same way."""

from __future__ import annotations

import math
from typing import ClassVar

from PySide6.QtCore import Qt

from oneline.desk.tools.base import Board, Point, Pointer, Tool
from oneline.desk.tools.ends import connection_kind, ends_between
from oneline.model import Connection, Drawing, End, edits

#: Pixels the pointer may wander during a click.
_SLACK_PX = 5.0


def join(board: Board, a: End | str, b: End | str | None, tie: bool = False) -> bool:
    """Connect two items or terminals as one step; a suspected tie may lead to an unknown place (``b`` None)."""
    drawing = board.session.drawing
    name_a = drawing.name_of(a.item if isinstance(a, End) else a)
    name_b = "an unknown place" if b is None else drawing.name_of(b.item if isinstance(b, End) else b)
    status = "existing" if board.session.view == "existing" else board.new_status
    made: list[str] = []

    def change(before: Drawing) -> Drawing:
        if b is None:
            end = a if isinstance(a, End) else End(a, _tie_terminal(before, a))
            after, new_id = edits.add(before, "tie", a=end, b=None, status=status)
        else:
            first, second = ends_between(before, a, b)
            kind = "tie" if tie else connection_kind(before, first, second)
            after, new_id = edits.connect(before, first, second, status=status, kind=kind)
        made.append(new_id)
        return after

    label = f"{'Suspect a tie from' if tie else 'Connect'} {name_a} to {name_b}"
    if not board.edit(label, change):
        return False
    board.session.select(made)
    if tie:
        board.say(f"Suspected tie from {name_a} to {name_b}. Until it is traced it counts as possibly closed.")
    else:
        board.say(f"{name_a} is connected to {name_b}.")
    return True


def _tie_terminal(drawing: Drawing, item_id: str) -> str:
    item = drawing.get(item_id)
    if isinstance(item, Connection):
        raise edits.EditRefused("A tie begins at an item's terminal, not at a line.")
    return item.terminals[-1]


class WireGesture(Tool):
    """Dragging from a terminal: to another terminal, or to an item, which then gives its best terminal."""

    tie: ClassVar[bool] = False

    def __init__(self, board: Board, start: End | str) -> None:
        super().__init__(board)
        self.start_at = start
        self._target: End | str | None = None

    @property
    def busy(self) -> bool:
        return True

    def move(self, pointer: Pointer) -> None:
        self._target = target_at(self.board, pointer, self.start_at)
        show_wire(self.board, self.start_at, self._target, pointer.at)

    def release(self, pointer: Pointer) -> None:
        self.move(pointer)
        self.board.marks.clear()
        if self._target is not None:
            join(self.board, self.start_at, self._target)
        else:
            self.board.say("Let go on a terminal or an item to connect. Nothing was changed.")


def target_at(board: Board, pointer: Pointer, start: End | str | None) -> End | str | None:
    """The terminal or item under the pointer that a wire could end at."""
    hit = board.hit(pointer.at)
    if not hit.item or hit.part == "blade":
        return None
    if isinstance(board.session.drawing.items.get(hit.item), Connection):
        return None
    origin = start.item if isinstance(start, End) else start
    if hit.item == origin:
        return None
    return End(hit.item, hit.terminal) if hit.part == "terminal" else hit.item


def show_wire(board: Board, start: End | str, target: End | str | None, loose: Point) -> None:
    """Draw the wire in the making, and name what it would join."""
    board.marks.clear()
    drawing, terminals = board.session.drawing, board.session.picture.terminals
    first: End | str = start
    last: End | None = target if isinstance(target, End) else None
    if target is not None:
        try:
            ends = ends_between(drawing, start, target)
            origin = start.item if isinstance(start, End) else start
            first, last = ends if ends[0].item == origin else (ends[1], ends[0])
        except edits.EditRefused:
            last = None
    a = terminals.get((first.item, first.terminal)) if isinstance(first, End) else middle_of(board, first)
    b = terminals.get((last.item, last.terminal), loose) if last is not None else loose
    if a is None:
        return
    half = (a[1] + b[1]) / 2
    board.marks.wire([a, (a[0], half), (b[0], half), b], last is not None)
    board.marks.ring(a)
    if last is not None:
        board.marks.frame(last.item)
        board.marks.ring(b)
        board.marks.note(b, f"to {drawing.name_of(last.item)}")


def middle_of(board: Board, item_id: str) -> Point | None:
    """The middle of an item's terminals on the sheet."""
    points = [at for (i, _), at in board.session.picture.terminals.items() if i == item_id]
    if not points:
        return None
    return sum(p[0] for p in points) / len(points), sum(p[1] for p in points) / len(points)


class ConnectTool(Tool):
    """Connects two items. Mouse: drag, or click one and then the other. Keys: arrows or typing a name choose, Enter joins."""

    cursor: ClassVar[Qt.CursorShape] = Qt.CursorShape.CrossCursor
    tie: ClassVar[bool] = False
    hint: str = (
        "Connect: drag from one item to another, or choose with the arrow keys or by typing a name, and press Enter. "
        "Esc puts the tool down."
    )
    wants_text: ClassVar[bool] = True

    def __init__(self, board: Board) -> None:
        super().__init__(board)
        self._from: End | str | None = None
        self._chosen: str | None = None
        self._typed = ""
        self._pressed: Pointer | None = None
        self._dragging = False

    @property
    def busy(self) -> bool:
        return self._from is not None

    def start(self) -> None:
        chosen = [i for i in self.board.session.selection if self._can_end(i)]
        if len(chosen) == 1:
            self._from = chosen[0]
        elif len(chosen) == 2:
            self._from, self._chosen = chosen
        self._show_choice()

    # ------------------------------------------------------------------------------------------------------- pointer
    def press(self, pointer: Pointer) -> None:
        self._pressed = pointer
        self._dragging = False
        if self._from is None or self._chosen is None:
            found = target_at(self.board, pointer, None)
            if self._from is None:
                self._from = found

    def move(self, pointer: Pointer) -> None:
        if self._pressed is not None and math.dist(self._pressed.screen, pointer.screen) > _SLACK_PX:
            if not self._dragging:
                found = target_at(self.board, self._pressed, None)
                self._from = found if found is not None else self._from
            self._dragging = True
        if self._from is not None:
            show_wire(self.board, self._from, target_at(self.board, pointer, self._from), pointer.at)

    def release(self, pointer: Pointer) -> None:
        if self._pressed is None:
            return
        dragged, self._pressed, self._dragging = self._dragging, None, False
        if self._from is None:
            return
        target = target_at(self.board, pointer, self._from)
        if target is not None:
            self._finish(target)
        elif dragged and self.tie:
            self._finish(None)
        elif dragged:
            self.cancel()
            self.board.say("Let go on a terminal or an item to connect. Nothing was changed.")
        else:
            self.board.say(f"From {self._name(self._from)}. Now click what it goes to, or choose it with the keys.")

    # ---------------------------------------------------------------------------------------------------------- keys
    def key(self, key: int, text: str, pointer: Pointer) -> bool:
        ways = {
            Qt.Key.Key_Left: (-1, 0), Qt.Key.Key_Right: (1, 0), Qt.Key.Key_Up: (0, -1), Qt.Key.Key_Down: (0, 1),
        }  # fmt: skip
        if Qt.Key(key) in ways:
            self._typed = ""
            self._step(ways[Qt.Key(key)])
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self._enter()
        elif key == Qt.Key.Key_Backspace:
            self._typed = self._typed[:-1]
            self._search()
        elif text and text.isprintable() and not pointer.ctrl:
            self._typed += text
            self._search()
        else:
            return False
        return True

    def _candidates(self) -> list[str]:
        origin = self._from.item if isinstance(self._from, End) else self._from
        return [i for i, item in self.board.session.drawing.items.items() if i != origin and self._can_end(item.id)]

    def _can_end(self, item_id: str) -> bool:
        item = self.board.session.drawing.items.get(item_id)
        return item is not None and not isinstance(item, Connection) and middle_of(self.board, item_id) is not None

    def _step(self, way: tuple[int, int]) -> None:
        """Go to the nearest candidate in a direction."""
        origin = self._chosen or (self._from.item if isinstance(self._from, End) else self._from)
        candidates = self._candidates()
        here = middle_of(self.board, origin) if origin else None
        if here is None:
            self._chosen = candidates[0] if candidates else None
        else:
            best: tuple[float, str] | None = None
            for item_id in candidates:
                there = middle_of(self.board, item_id)
                if there is None or item_id == self._chosen:
                    continue
                dx, dy = there[0] - here[0], there[1] - here[1]
                ahead, aside = (dx * way[0], abs(dy)) if way[0] else (dy * way[1], abs(dx))
                if ahead > 0.5 and (best is None or ahead + 2 * aside < best[0]):
                    best = (ahead + 2 * aside, item_id)
            if best is not None:
                self._chosen = best[1]
        self._show_choice()

    def _search(self) -> None:
        """The first candidate whose name begins with what was typed, else the first that contains it."""
        wanted = self._typed.casefold()
        if not wanted:
            self._chosen = None
            self._show_choice()
            return
        names = [(self.board.session.drawing.name_of(i).casefold(), i) for i in self._candidates()]
        hits = [i for n, i in names if n.startswith(wanted)] or [i for n, i in names if wanted in n]
        self._chosen = hits[0] if hits else None
        self._show_choice()

    def _enter(self) -> None:
        if self._from is None:
            if self._chosen is not None:
                self._from, self._chosen, self._typed = self._chosen, None, ""
                self._show_choice()
        elif self._chosen is not None:
            self._finish(self._chosen)
        elif self.tie:
            self._finish(None)
        else:
            self.board.say("Choose what to connect to with the arrow keys, or type its name.")

    def _show_choice(self) -> None:
        self.board.marks.clear()
        typed = f" Typed: {self._typed}" if self._typed else ""
        if self._from is None:
            if self._chosen is not None:
                self.board.marks.frame(self._chosen)
                self.board.say(f"Connect from {self._name(self._chosen)}? Enter takes it.{typed}")
            return
        if self._chosen is None:
            none = f" No name has “{self._typed}” in it." if self._typed else ""
            rest = " Enter alone: it leads to an unknown place." if self.tie else ""
            self.board.say(f"From {self._name(self._from)} to …? Arrow keys or a name choose.{none}{rest}")
            return
        self.board.show_item(self._chosen)
        show_wire(self.board, self._from, self._chosen, middle_of(self.board, self._chosen) or (0.0, 0.0))
        self.board.say(f"From {self._name(self._from)} to {self._name(self._chosen)}? Enter connects.{typed}")

    def _name(self, where: End | str) -> str:
        return self.board.session.drawing.name_of(where.item if isinstance(where, End) else where)

    def _finish(self, target: End | str | None) -> None:
        start = self._from
        assert start is not None
        self.cancel()
        self.board.put_down()
        join(self.board, start, target, self.tie)

    def cancel(self) -> None:
        self._from = self._chosen = self._pressed = None
        self._typed = ""
        self._dragging = False
        super().cancel()


class TieTool(ConnectTool):
    """Marks a connection that nobody traced; letting go on paper (or Enter alone) means that its other end is unknown."""

    tie: ClassVar[bool] = True
    hint: str = (
        "Suspected tie: drag from an item to where it may lead, or let go on paper when nobody knows. Enter works too."
    )
