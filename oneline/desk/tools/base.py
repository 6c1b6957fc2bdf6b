"""What every tool shares: the pointer, what lies under it, and the board a tool works on."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, ClassVar, Protocol

from PySide6.QtCore import Qt

from oneline.model import Drawing, Place
from oneline.session import Session
from oneline.sheet import Picture

#: One square of the grid, in the units of the sheet.
GRID = 10.0

Point = tuple[float, float]


@dataclass(frozen=True)
class Pointer:
    """Where the pointer is on the sheet, on the screen, and which modifiers are held."""

    at: Point
    screen: Point
    button: Qt.MouseButton = Qt.MouseButton.NoButton
    shift: bool = False
    ctrl: bool = False
    alt: bool = False


@dataclass(frozen=True)
class Hit:
    """What lies under the pointer. ``part``: "terminal", "symbol", "line", "label", "mark", "blade" or "" for paper."""

    part: str = ""
    item: str = ""
    terminal: str = ""


NOTHING = Hit()


class Marks(Protocol):
    """What a tool may draw over the sheet while a gesture runs."""

    def clear(self) -> None: ...

    def band(self, a: Point, b: Point) -> None:
        """A selection rectangle."""

    def wire(self, points: list[Point], joined: bool) -> None:
        """A connection in the making; ``joined`` when its end is on something it can join."""

    def ring(self, at: Point) -> None:
        """A terminal that would be used."""

    def frame(self, item_id: str) -> None:
        """An item that would be used."""

    def ghost(self, picture: Picture, shift: Point) -> None:
        """An item that would be placed."""

    def note(self, at: Point, text: str) -> None:
        """A short text beside the pointer."""


class Board(Protocol):
    """The canvas, as tools see it."""

    marks: Marks

    @property
    def session(self) -> Session: ...

    #: Status of items that are put on the sheet.
    new_status: str

    @property
    def zoom(self) -> float:
        """Screen pixels for one unit of the sheet."""

    def hit(self, at: Point) -> Hit: ...

    def aim(self, at: Point) -> Hit:
        """What something new at a point would be joined to: a terminal, a symbol, a line, or nothing."""

    def items_in(self, a: Point, b: Point) -> list[str]:
        """Items whose symbols or lines lie wholly inside the rectangle."""

    def snap(self, at: Point) -> Point:
        """The nearest grid point, or the point itself when snapping is off."""

    def hit_line(self, at: Point) -> str | None:
        """The line at a point, whatever else lies there."""

    def route_of(self, line_id: str) -> list[Point]:
        """The corners of a line as it is drawn, terminals included."""

    def place_of(self, item_id: str) -> Place:
        """Where an item without a place of its own was put by the layout."""

    def preview(self, drawing: Drawing | None) -> None:
        """Show a drawing that is not applied; ``None`` goes back to the session's."""

    def say(self, sentence: str) -> None: ...

    def edit(self, label: str, change: Callable[[Drawing], Drawing], merge_key: Any = None) -> bool: ...

    def use_tool(self, tool: Tool | None) -> None:
        """Change the tool; ``None`` goes back to selecting."""

    def put_down(self) -> None:
        """Go back to selecting."""

    def pan_by(self, dx: float, dy: float) -> None:
        """Move the paper by pixels."""

    def hover(self, hit: Hit) -> None:
        """Give the item under the pointer its look."""

    def show_handle(self, item_id: str | None) -> None:
        """Show the handle that operates a switch beside it, or none."""

    def near_handle(self, at: Point) -> bool:
        """Whether a point lies between the handle and its switch, where the handle must not vanish."""

    def show_item(self, item_id: str) -> None: ...

    def focus_details(self) -> None: ...

    def show_findings(self, item_id: str) -> None: ...

    def show_circuits(self, item_id: str) -> None: ...

    def rename(self, item_id: str) -> None: ...

    def set_cursor(self, shape: Qt.CursorShape | None) -> None: ...


class Tool:
    """A mouse mode. A gesture begins in ``press`` and ends in ``release``; ``cancel`` leaves nothing behind."""

    #: Shown in the status bar while the tool is in the hand.
    hint: str = ""
    #: Whether letter keys are text for the tool and not shortcuts.
    wants_text: ClassVar[bool] = False
    cursor: ClassVar[Qt.CursorShape] = Qt.CursorShape.ArrowCursor

    def __init__(self, board: Board) -> None:
        self.board = board

    @property
    def busy(self) -> bool:
        """Whether a gesture is under way."""
        return False

    def start(self) -> None:
        """The tool was taken into the hand."""

    def press(self, pointer: Pointer) -> None: ...

    def move(self, pointer: Pointer) -> None: ...

    def release(self, pointer: Pointer) -> None: ...

    def double_click(self, pointer: Pointer) -> None: ...

    def key(self, key: int, text: str, pointer: Pointer) -> bool:
        """A key press; returns whether the tool used it."""
        return False

    def cancel(self) -> None:
        """Give up the gesture: no step, no mark."""
        self.board.marks.clear()
        self.board.preview(None)

    def stop(self) -> None:
        """The tool is put down."""
        self.cancel()
