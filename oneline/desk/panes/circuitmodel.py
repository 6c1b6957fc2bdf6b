"""Cells of the circuit directory: odd spaces left, even right; what each shows and how what is typed is taken."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

from PySide6.QtCore import QAbstractTableModel, QModelIndex, QPersistentModelIndex, Qt, Signal
from PySide6.QtGui import QFont
from PySide6.QtWidgets import QWidget

from oneline.desk.panes.directory import Slot
from oneline.desk.panes.loadentry import LoadPlace, load_in_va
from oneline.desk.panes.look import quiet
from oneline.desk.panes.tablepaste import trip_and_poles
from oneline.desk.panes.typed import Misread, can_be_unknown, spell, understand
from oneline.desk.panes.words import UNKNOWN
from oneline.model import Bus, Circuit, Drawing, specs
from oneline.model.vocabulary import STATUS_LETTERS

Index = QModelIndex | QPersistentModelIndex
_ROLE = Qt.ItemDataRole
#: Field, heading, width, meaning of the heading. "phase" is by the rule of the rows, not a field.
COLUMNS: tuple[tuple[str, str, int, str], ...] = (
    ("space", "No.", 34, "First space of the circuit. Type another number to move it."),
    ("phase", "Ph", 24, "Phase of the row: both spaces of a row are on one phase."),
    ("description", "Description", 102, "What it feeds and where. Type spare or space where there is no load."),
    ("trip_a", "Trip", 48, "Trip of the device. Type 60/3 for 60 A with three poles."),
    ("poles", "P", 22, "Poles."),
    ("va", "Load", 70, "Connected load in VA, total of all poles. 24 A or 1.5 kW are turned into VA."),
    ("load_class", "Class", 76, "Class of load: type its first letters."),
    ("continuous", "Cont.", 40, "Continuous, 3 hours or more: yes, no, or ? for unknown."),
    ("traced", "Traced", 70, "Traced, by its label only, or not traced."),
    ("status", "St", 22, "Existing (E), new (N), to be removed (R) or future (F)."),
)
GAP_PX = 12
_NUMBERS = ("space", "trip_a", "poles", "va")
#: Columns too narrow for what was typed and not understood: the sign stands alone, the tip says the rest.
_NARROW = tuple(name for name, _, width, _ in COLUMNS if width < 40)
_SIGN = "\N{WARNING SIGN}\ufe0e"
PER_SPACE = ("space", "phase")
#: From this width on both sides stand beside each other.
BOTH_SIDES_PX = 2 * sum(width for _, _, width, _ in COLUMNS) + GAP_PX + 24


class CircuitModel(QAbstractTableModel):
    """Cells of the directory. ``edited(space, values by field)`` asks for an edit; the model waits to be put anew."""

    edited = Signal(int, object)
    refused = Signal(str)
    #: What was made of an entry, in words.
    told = Signal(str)
    arranged = Signal()

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.slots: dict[int, Slot] = {}
        self.sides = 2
        self.panel = ""
        self.name_of: Callable[[str], str] = lambda item_id: item_id
        #: What is in a space at this moment, and the panel's nominal system, for loads typed in amperes or watts.
        self.slot_now: Callable[[int], Slot | None] = self.slots_get
        self.system: str | None = None
        #: What was typed and not understood, and why, by space and field. It belongs to the line it was typed for.
        self.misread: dict[tuple[int, str], tuple[str, str]] = {}
        #: Marks whose space holds a line, and for marks of a pasted table the schedule as it was before it.
        self._on_line: set[tuple[int, str]] = set()
        self._before: dict[tuple[int, str], tuple[Circuit, ...]] = {}

    def put(self, panel: str, slots: dict[int, Slot], drawing: Drawing, sides: int) -> None:
        """Show a panel's spaces on one or two sides. A cell that is being edited stays open while the panel is the same."""
        same_shape = (panel, sides, len(slots)) == (self.panel, self.sides, len(self.slots))
        if not same_shape:
            self.beginResetModel()
        bus = drawing.items.get(panel)
        if panel != self.panel:
            self.misread.clear()
        self._marks_follow(slots, bus.circuits if isinstance(bus, Bus) else ())
        self.panel, self.slots, self.sides, self.name_of = panel, slots, sides, drawing.name_of
        if same_shape:
            last = self.index(self.rowCount() - 1, self.columnCount() - 1)
            self.dataChanged.emit(self.index(0, 0), last)
        else:
            self.endResetModel()
        self.arranged.emit()

    def _marks_follow(self, slots: Mapping[int, Slot], circuits: tuple[Circuit, ...]) -> None:
        """Marks go with their line: to its new space when it was moved, away when it is gone."""
        kept: dict[tuple[int, str], tuple[str, str]] = {}
        on_line: set[tuple[int, str]] = set()
        for key, mark in self.misread.items():
            if self._before.get(key) == circuits:
                continue
            space, field = key
            old, now = self.slots.get(space), slots.get(space)
            if now is None or now.circuit is None:
                if key in self._on_line:
                    moved = _moved_to(old, self.slots, slots)
                    if moved is None:
                        continue
                    key = (moved, field)
                    on_line.add(key)
            else:
                on_line.add(key)
            kept[key] = mark
        self.misread, self._on_line = kept, on_line
        self._before = {key: before for key, before in self._before.items() if key in kept}

    # ------------------------------------------------------------------------------------------------ where things are
    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        return 0 if parent.isValid() else len(self.slots) // 2 if self.sides == 2 else len(self.slots)

    def columnCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        return 0 if parent.isValid() else len(COLUMNS) * self.sides + (self.sides - 1)

    def field_at(self, column: int) -> str:
        """Field of a column, "" for the gap between the sides."""
        if column == len(COLUMNS) and self.sides == 2:
            return ""
        return COLUMNS[column % (len(COLUMNS) + 1) if self.sides == 2 else column][0]

    def space_at(self, row: int, column: int) -> int:
        """Space number of a cell."""
        if self.sides == 2:
            return 2 * row + (1 if column <= len(COLUMNS) else 2)
        half = len(self.slots) // 2
        return 2 * row + 1 if row < half else 2 * (row - half) + 2

    def cell_of(self, space: int, field: str) -> QModelIndex:
        """The cell of a space's field."""
        column = next(n for n, c in enumerate(COLUMNS) if c[0] == field)
        row = (space - 1) // 2
        if self.sides == 2:
            return self.index(row, column if space % 2 else column + len(COLUMNS) + 1)
        return self.index(row if space % 2 else row + len(self.slots) // 2, column)

    def slots_get(self, space: int) -> Slot | None:
        return self.slots.get(space)

    def slot_at(self, index: Index) -> Slot:
        return self.slots[self.space_at(index.row(), index.column())]

    # ------------------------------------------------------------------------------------------------------- showing
    def data(self, index: Index, role: int = _ROLE.DisplayRole) -> Any:
        field = self.field_at(index.column())
        if not field:
            return None
        slot = self.slot_at(index)
        typed, reason = self.misread.get((slot.space, field), ("", ""))
        if role == _ROLE.DisplayRole:
            if typed:
                return _SIGN if field in _NARROW else f"{_SIGN} {typed}"
            return self.text(slot, field)
        if role == _ROLE.EditRole:
            return typed or self._entry(slot, field)
        if role == _ROLE.ToolTipRole:
            return f"{typed}: {reason}" if reason and field in _NARROW else reason or self._tip(slot, field)
        if role == _ROLE.TextAlignmentRole:
            side = Qt.AlignmentFlag.AlignRight if field in _NUMBERS else Qt.AlignmentFlag.AlignLeft
            return int((Qt.AlignmentFlag.AlignHCenter if field == "phase" else side) | Qt.AlignmentFlag.AlignVCenter)
        if role == _ROLE.FontRole and slot.circuit is not None and slot.circuit.status == "remove":
            font = QFont()
            font.setStrikeOut(field == "description")
            return font
        if role == _ROLE.ForegroundRole and (field == "phase" or slot.kind in ("more", "drawn")):
            parent = self.parent()
            return quiet(parent.palette()) if isinstance(parent, QWidget) else None
        return None

    def text(self, slot: Slot, field: str) -> str:
        """What a cell shows: nothing in an empty space, a long dash for what is not known."""
        if field == "space":
            return str(slot.space)
        if field == "phase":
            return slot.phase or UNKNOWN
        if slot.kind == "empty" or slot.kind == "more":
            return ""
        if slot.kind == "drawn":
            return f"\N{RIGHTWARDS ARROW} {self.name_of(slot.item)}" if field == "description" else ""
        line = slot.circuit
        assert line is not None
        if field == "description":
            return self._description(line)
        if field == "status":
            return STATUS_LETTERS[line.status]
        if line.use == "space":
            return ""
        if line.use in ("spare", "feeder") and field in ("va", "load_class", "continuous", "traced"):
            return ""
        value = getattr(line, field)
        return UNKNOWN if value is None else spell(value, specs(Circuit)[field])

    def _description(self, line: Circuit) -> str:
        words = {"spare": "Spare", "space": "Space"}.get(line.use, "")
        if line.feeds:
            words = f"\N{RIGHTWARDS ARROW} {self.name_of(line.feeds)}"
        return line.description or words or UNKNOWN

    def _entry(self, slot: Slot, field: str) -> str:
        if field == "space":
            return str(slot.space)
        return "" if slot.circuit is None else spell(getattr(slot.circuit, field), specs(Circuit)[field])

    def _tip(self, slot: Slot, field: str) -> str:
        if slot.kind == "drawn":
            return f"{self.name_of(slot.item)} is drawn on the sheet. Its ratings are edited there."
        if field == "phase" and not slot.phase:
            return "The phase is not known: the panel's phases are not."
        help_text = next(c[3] for c in COLUMNS if c[0] == field)
        return f"{self._description(slot.circuit)}. {help_text}" if slot.circuit is not None else help_text

    def headerData(self, section: int, orientation: Qt.Orientation, role: int = _ROLE.DisplayRole) -> Any:
        field = self.field_at(section) if orientation == Qt.Orientation.Horizontal else ""
        if not field:
            return None
        _, head, _, meaning = next(c for c in COLUMNS if c[0] == field)
        if role == _ROLE.TextAlignmentRole:
            side = Qt.AlignmentFlag.AlignRight if field in _NUMBERS else Qt.AlignmentFlag.AlignLeft
            return int(side | Qt.AlignmentFlag.AlignVCenter)
        return {_ROLE.DisplayRole: head, _ROLE.ToolTipRole: meaning}.get(_ROLE(role))

    # ------------------------------------------------------------------------------------------------------- editing
    def flags(self, index: Index) -> Qt.ItemFlag:
        field = self.field_at(index.column())
        if not field:
            return Qt.ItemFlag.NoItemFlags
        base = Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable
        slot = self.slot_at(index)
        if field == "phase" or slot.kind in ("drawn", "more"):
            return base
        return base | Qt.ItemFlag.ItemIsEditable

    def setData(self, index: Index, value: Any, role: int = _ROLE.EditRole) -> bool:
        field = self.field_at(index.column())
        if role != _ROLE.EditRole or field in ("", "phase"):
            return False
        slot = self.slot_at(index)
        spec = specs(Circuit)[field]
        key = (slot.space, field)
        if slot.circuit is None and not str(value).strip():
            return False
        both = trip_and_poles(str(value)) if field == "trip_a" else None
        made = None
        try:
            made = load_in_va(str(value), self._load_place(slot)) if field == "va" else None
            entry = both[0] if both else made[0] if made else str(value)
            new = understand(entry, spec, can_be_unknown(Circuit, field))
        except Misread as problem:
            self.misread[key] = (str(value), str(problem))
            now = self.slot_now(slot.space)
            if now is not None and now.circuit is not None:
                self._on_line.add(key)
            self.dataChanged.emit(index, index)
            self.refused.emit(str(problem))
            return False
        if self.misread.pop(key, None) is not None:
            self.dataChanged.emit(index, index)
        if made is not None:
            self.told.emit(f"{made[1]}.")
        values: dict[str, Any] = {field: new, **({"poles": int(both[1])} if both else {})}
        old = {name: getattr(slot.circuit, name, None) for name in values}
        if slot.circuit is None and field == "space":
            old = {"space": slot.space}
        if all(old[name] == v and type(old[name]) is type(v) for name, v in values.items()):
            return False
        self.edited.emit(slot.space, values)
        return True

    def _load_place(self, slot: Slot) -> LoadPlace:
        now = self.slot_now(slot.space)
        line = now.circuit if now is not None else None
        if line is None:
            return LoadPlace(phase=slot.phase, system=self.system)
        return LoadPlace(line.poles, slot.phase, self.system, line.load_class, line.power_factor)

    def mark_misread(
        self, found: Mapping[tuple[int, str], tuple[str, str]], before: tuple[Circuit, ...] | None = None
    ) -> None:
        """Show what was not understood in its cells, with the reason; ``before``: the schedule without the new lines."""
        self.misread.update(found)
        for key in found:
            if before is not None:
                self._before[key] = before
            space, field = key
            if space in self.slots:
                if self.slots[space].circuit is not None:
                    self._on_line.add(key)
                cell = self.cell_of(space, field)
                self.dataChanged.emit(cell, cell)


def _moved_to(old: Slot | None, before: Mapping[int, Slot], after: Mapping[int, Slot]) -> int | None:
    """The space to which the line of a space went, ``None`` where it is gone."""
    if old is None or old.circuit is None:
        return None
    fresh = (n for n, s in after.items() if s.kind == "circuit" and before.get(n, s).circuit != s.circuit)
    return next((n for n in fresh if after[n].circuit == replace(old.circuit, space=n)), None)
