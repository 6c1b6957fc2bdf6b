"""Which symbol an item gets, and where its parts lie: box, label, mark, terminals. Shared by layout, routing and build."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from oneline.model import Bus, Connection, Disconnect, Drawing, Item, Load, Place, TransferSwitch
from oneline.sheet.display import Point
from oneline.sheet.symbols import Symbol, SymbolSet
from oneline.sheet.wording import LINE_PITCH, Line, figures_room, item_lines

Box = tuple[float, float, float, float]

GRID = 10.0
#: Between a symbol and the label at its side.
LABEL_GAP = 6.0
#: Room the layout keeps at the left of a symbol for its verdict mark; together with the air it holds the whole mark.
MARK_ROOM = 9.0
#: A bar reaches this far beyond the outermost connection.
BAR_OVERHANG = 20.0
LEAST_BAR = 30.0
#: Length of bar kept free at its right end for each tie to an unknown place.
OPEN_TIE_STEP = 40.0
#: The same for each connection to something that hangs elsewhere.
ACROSS_STEP = 20.0
#: Where the sign of a neutral bond hangs: left of the symbol, below the middle of its place.
BOND_LEFT = 8.0
BOND_DOWN = 3.0

_LETTERS = {
    "lighting": "L", "receptacles": "R", "fixed multioutlet": "R", "hvac": "AC", "heat": "H", "kitchen": "K",
    "sign": "SG", "show window": "SW", "elevator": "EL", "ev charging": "EV", "water heater": "WH",
    "dwelling dryer": "DR", "dwelling cooking": "RG", "dwelling appliance": "AP",
    "dwelling small appliance": "SA", "dwelling laundry": "LA",
}  # fmt: skip


def symbol_name(item: Item) -> str:
    """Name of the item's symbol in its present position, "" for connections."""
    if isinstance(item, Disconnect):
        return item.form.replace(" ", "-") + ("-closed" if item.closed else "-open")
    if isinstance(item, TransferSwitch):
        return f"transfer-{item.position}"
    if isinstance(item, Bus):
        return item.form.replace(" ", "-")
    if isinstance(item, Load):
        if item.load_class == "motor":
            return "motor"
        return "load-letter" if item.load_class in _LETTERS else "load"
    return "" if isinstance(item, Connection) else item.kind


def symbol_letter(item: Item) -> str:
    """Letter inside the symbol of a load."""
    return _LETTERS.get(item.load_class, "") if isinstance(item, Load) else ""


@dataclass(frozen=True)
class BarReach:
    """What bars must be long enough for. ``hung``: (bar, connection) of things that hang on it or that it is bolted to.
    ``across``: number of connections of each bar that lead to things hung elsewhere; they land at its right end."""

    hung: frozenset[tuple[str, str]] = frozenset()
    across: Mapping[str, int] = field(default_factory=dict)


@dataclass(frozen=True)
class Shape:
    """An item at its place. ``left``/``right`` of a bar are its ends; otherwise the box of the symbol."""

    item: Item
    symbol: Symbol
    at: Point
    flipped: bool
    box: Box

    @property
    def width(self) -> float:
        return self.box[2] - self.box[0] if self.symbol.stretch else 0.0

    @property
    def middle(self) -> Point:
        """Where the symbol's origin is painted: bars are painted around their middle."""
        return ((self.box[0] + self.box[2]) / 2, self.at[1]) if self.symbol.stretch else self.at

    @property
    def bond(self) -> Box | None:
        """Box of the sign of a neutral bond, where there is one."""
        if not getattr(self.item, "neutral_bonded", None):
            return None
        left, y = self.box[0] - BOND_LEFT, self.at[1] + BOND_DOWN
        return (left - 8, y, left + 6, y + 18)

    def terminal(self, name: str) -> Point:
        """Position of a terminal; of a bar its place."""
        x, y = self.symbol.terminals[name]
        return (self.at[0] + x, self.at[1] + (-y if self.flipped else y))

    def direction(self, name: str) -> int:
        """-1 where a line leaves the terminal upward, 1 downward, 0 at a bar."""
        if self.symbol.stretch:
            return 0
        y = self.symbol.terminals[name][1] * (-1 if self.flipped else 1)
        return -1 if y < 0 else 1


def shapes_of(
    drawing: Drawing, places: Mapping[str, Place], symbols: SymbolSet, reach: BarReach | None = None
) -> dict[str, Shape]:
    """The shapes of all items with a place, bars long enough for what hangs on them.

    ``reach``: what bars must reach over (``tree.Forest.reach``).
    """
    partners = _partners(drawing)
    out: dict[str, Shape] = {}
    for item_id, place in places.items():
        item = drawing.items[item_id]
        symbol = symbols[symbol_name(item)]
        flipped = _flipped(item, place, partners.get(item_id, ()), places)
        left, top, right, bottom = symbol.box
        if flipped:
            top, bottom = -bottom, -top
        if symbol.stretch:
            left, right = _bar(item, place, partners.get(item_id, ()), places, drawing, reach or BarReach())
        box = (place.x + left, place.y + top, place.x + right, place.y + bottom)
        out[item_id] = Shape(item, symbol, (place.x, place.y), flipped, box)
    return out


def _partners(drawing: Drawing) -> dict[str, list[tuple[Connection, str, str]]]:
    """{item: [(connection, other item, other terminal)]}; a tie to an unknown place has no other item."""
    out: dict[str, list[tuple[Connection, str, str]]] = {}
    for conn in drawing.connections():
        if conn.b is None:
            out.setdefault(conn.a.item, []).append((conn, "", ""))
            continue
        out.setdefault(conn.a.item, []).append((conn, conn.b.item, conn.b.terminal))
        out.setdefault(conn.b.item, []).append((conn, conn.a.item, conn.a.terminal))
    return out


def _flipped(
    item: Item, place: Place, partners: Sequence[tuple[Connection, str, str]], places: Mapping[str, Place]
) -> bool:
    """Sources and loads with one terminal turn it toward what they are connected to."""
    if len(item.terminals) != 1 or isinstance(item, Bus):
        return False
    for _, other, _terminal in partners:
        if other in places:
            above = places[other].y < place.y
            return above if item.terminals[0] == "out" else not above and places[other].y > place.y
    return False


def _bar(
    item: Item, place: Place, partners: Sequence[tuple[Connection, str, str]], places: Mapping[str, Place],
    drawing: Drawing, reach: BarReach,
) -> tuple[float, float]:  # fmt: skip
    """Left and right end of a bar, from its place."""
    assert isinstance(item, Bus)
    if item.width is not None:
        half = max(item.width, LEAST_BAR) / 2
        return (-half, half)
    left, right, ties = -LEAST_BAR / 2, LEAST_BAR / 2, 0
    for conn, other, terminal in partners:
        if not other:
            ties += 1
        elif other in places and (item.id, conn.id) in reach.hung:
            dx = places[other].x - place.x + terminal_dx(drawing.items[other], terminal)
            left, right = min(left, dx - BAR_OVERHANG), max(right, dx + BAR_OVERHANG)
    return (left, right + OPEN_TIE_STEP * ties + ACROSS_STEP * reach.across.get(item.id, 0))


def terminal_dx(item: Item, terminal: str) -> float:
    """Sideways offset of a terminal from the item's place (only transfer switches have one)."""
    return {"normal": -20.0, "alternate": 20.0}.get(terminal, 0.0) if isinstance(item, TransferSwitch) else 0.0


def label_box(
    item: Item, symbol: Symbol, lines: tuple[Line, ...], bar: tuple[float, float], room: float, hanging: bool
) -> Box:
    """Room of a label beside the symbol, relative to the item's place.

    ``bar``: ends of a bar, otherwise the sides of the symbol. ``hanging``: a bar with things below keeps its label
    above the line they hang on.
    """
    width = max((line.width for line in lines), default=0.0)
    width = max(width, room)
    height = LINE_PITCH * max(len(lines), 1) + 1
    if symbol.stretch and hanging:
        bottom = 11.0
    else:
        middle = 0.0 if symbol.stretch else (symbol.box[1] + symbol.box[3]) / 2
        bottom = middle + height / 2
    if symbol.label_side == "left":
        return (bar[0] - LABEL_GAP - width, bottom - height, bar[0] - LABEL_GAP, bottom)
    return (bar[1] + LABEL_GAP, bottom - height, bar[1] + LABEL_GAP + width, bottom)


def resting(item: Item) -> Item:
    """The item in its usual position: switching must not move anything on the sheet."""
    if isinstance(item, Disconnect) and not item.closed:
        return replace(item, closed=True)
    if isinstance(item, TransferSwitch) and item.position != "normal":
        return replace(item, position="normal")
    return item


def reserved_lines(item: Item, wide: bool) -> tuple[tuple[Line, ...], float, int]:
    """Lines, least width and number of lines the layout keeps free for an item, with or without a study."""
    lines = item_lines(resting(item))
    width, more = figures_room(item, wide)
    count = len(lines) + more
    if isinstance(item, Disconnect | TransferSwitch):
        count = max(count, 3)  # the third says when it does not stand as usual
    return lines, width, count
