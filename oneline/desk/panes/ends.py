"""What an item is connected to, in names that can be clicked."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QLabel, QWidget

from oneline.model import Connection, Drawing, End

#: Terminals of things that have no other: their name says nothing.
_ONLY_TERMINALS = ("bus", "out", "in")
#: Lines that are shown; a large board has hundreds of connections.
_MOST = 60


@dataclass(frozen=True)
class Neighbour:
    """One connection seen from an item: at which terminal, through which connection ("" for none), to which item."""

    terminal: str
    through: str
    item: str


def neighbours(drawing: Drawing, item_id: str) -> list[Neighbour]:
    """Ends of a connection, or everything that an item's terminals are connected to, in the order of its terminals."""
    item = drawing.get(item_id)
    if isinstance(item, Connection):
        ends = [("from", item.a), ("to", item.b)]
        return [Neighbour(word, "", end.item if end is not None else "") for word, end in ends]
    found = []
    for terminal in item.terminals:
        here = End(item_id, terminal)
        for conn in drawing.connections_of(item_id):
            for near, far in ((conn.a, conn.b), (conn.b, conn.a)):
                if near == here:
                    through = "" if conn.kind == "joint" else conn.id
                    found.append(Neighbour(terminal, through, far.item if far is not None else ""))
    return found


def as_html(drawing: Drawing, rows: list[Neighbour]) -> str:
    """One line for each neighbour, names as links to ``item:<id>``."""

    def link(item_id: str) -> str:
        name = drawing.name_of(item_id) if item_id else ""
        return f'<a href="item:{escape(item_id, quote=True)}">{escape(name)}</a>' if item_id else "an unknown place"

    lines = []
    for row in rows[:_MOST]:
        words = f"{escape(row.terminal.capitalize())}: " if row.terminal not in _ONLY_TERMINALS else ""
        joint = f"{link(row.through)} \N{RIGHTWARDS ARROW} " if row.through else ""
        lines.append(f"{words}{joint}{link(row.item)}")
    if len(rows) > _MOST:
        lines.append(f"and {len(rows) - _MOST} more")
    return "<br>".join(lines)


class EndsLabel(QLabel):
    """The neighbours of an item; a click, or Tab and Enter, goes to one."""

    chosen = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setTextFormat(Qt.TextFormat.RichText)
        self.setWordWrap(True)
        self.setTextInteractionFlags(
            Qt.TextInteractionFlag.LinksAccessibleByMouse | Qt.TextInteractionFlag.LinksAccessibleByKeyboard
        )
        self.linkActivated.connect(self._go)
        self.setAccessibleName("Connected to")

    def show_item(self, drawing: Drawing, item_id: str) -> None:
        rows = neighbours(drawing, item_id)
        self.setText(as_html(drawing, rows) if rows else "Not connected to anything yet.")

    def _go(self, link: str) -> None:
        if link.startswith("item:"):
            self.chosen.emit(link.removeprefix("item:"))
