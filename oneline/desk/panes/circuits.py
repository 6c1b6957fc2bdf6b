"""The circuits pane: the selected panel's directory, edited like a sheet of paper."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

from PySide6.QtCore import QModelIndex, Qt
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from oneline.desk.panes.changes import try_edit
from oneline.desk.panes.circuitgrid import BOTH_SIDES_PX, CircuitModel, CircuitView
from oneline.desk.panes.controls import Chip, Choice
from oneline.desk.panes.directory import (
    Slot,
    directory,
    duplicate_line,
    edit_line,
    fill_line,
    free_space,
    joined_devices,
    remove_line,
    used_spaces,
)
from oneline.desk.panes.form import Form
from oneline.desk.panes.look import CONTROL_PX, NARROW_PX, STEP, Quiet
from oneline.desk.panes.pane import Host, LivePane, bring_up
from oneline.desk.panes.pointrows import phases_of
from oneline.desk.panes.tablepaste import ORDER, Pasted, paste, read_rows
from oneline.desk.panes.words import amperes, join, lower_first
from oneline.model import Bus, Circuit, Drawing, specs
from oneline.session.session import Session

_MORE = ("use", "quantity", "wire_size", "power_factor", "note")
_HINT = "Select a panel to see its circuits. Any bus can carry a schedule: panelboard, switchboard, meter center."


class CircuitsPane(LivePane):
    """Directory of the selected panel: odd spaces left, even right. Every committed cell is one undo step."""

    watches = frozenset({"drawing", "selection", "view", "study"})

    def __init__(self, session: Session, host: Host, parent: QWidget | None = None) -> None:
        super().__init__(session, host, parent)
        self.setMinimumWidth(NARROW_PX - 40)
        self.panel = ""
        self.model = CircuitModel(self)
        self.model.edited.connect(self._edit)
        self.model.refused.connect(host.say)
        self.model.told.connect(host.say)
        self.model.slot_now = lambda space: self._slots_now().get(space)
        self.view = CircuitView(self.model, self)
        self.view.wants.connect(self._line)
        self.view.pasted.connect(self._paste)
        self.view.slots_now = self._slots_now
        self.view.selectionModel().currentChanged.connect(self._current_changed)
        self.view.doubleClicked.connect(self._open_drawn)
        self.title = QLabel(self)
        self.title.setTextFormat(Qt.TextFormat.PlainText)
        self.facts = Quiet("", self)
        self.hint = QLabel(_HINT, self)
        self.hint.setWordWrap(True)
        self.hint.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.more = Form(Circuit, _MORE, self, with_basis=False, headings=False)
        self.more.committed.connect(self._edit_more)
        self.drawn_as = Choice(self)
        self.drawn_as.setAccessibleName("Drawn on the sheet as")
        self.drawn_as.setToolTip("The device on the sheet that this line of the schedule stands for.")
        self.drawn_as.activated.connect(lambda n: self._edit_more("feeds", self.drawn_as.itemData(n)))
        self._lay_out()

    def _lay_out(self) -> None:
        self.buttons: dict[str, QPushButton] = {}
        words = QHBoxLayout()
        words.setSpacing(STEP)
        words.addWidget(self.title)
        words.addWidget(self.facts, 1)
        bar = QHBoxLayout()
        bar.setSpacing(STEP)
        texts = {
            "add": ("Add", "Add a circuit in the next free space (Insert)."),
            "duplicate": ("Duplicate", "Copy the marked circuit to the next free space (Ctrl+D)."),
            "remove": ("Remove", "Remove the marked circuit (Ctrl+Delete)."),
        }
        for key, (text, tip) in texts.items():
            button = QPushButton(text, self)
            button.setMinimumHeight(CONTROL_PX)
            button.setAutoDefault(False)
            button.setToolTip(tip)
            button.clicked.connect(lambda _=False, k=key: self._line(k))
            bar.addWidget(button)
            self.buttons[key] = button
        self.more_chip = Chip(self)
        self.more_chip.setText("More")
        self.more_chip.setToolTip("Show use, wire, power factor and note of the marked circuit.")
        self.more_chip.setAccessibleName("More about the marked circuit")
        self.more_chip.toggled.connect(lambda _: self._show_more())
        bar.addWidget(self.more_chip)
        bar.addStretch(1)
        self._top = QHBoxLayout()
        self._top.setSpacing(STEP // 2)
        self._top.addLayout(words, 1)
        self._top.addLayout(bar)
        self.grid_box = QWidget(self)
        stack = QVBoxLayout(self.grid_box)
        stack.setContentsMargins(0, 0, 0, 0)
        stack.setSpacing(STEP // 2)
        stack.addLayout(self._top)
        body = QHBoxLayout()
        body.setSpacing(STEP)
        body.addWidget(self.view, 1)
        self.side = QWidget(self)
        self.side.setFixedWidth(240)
        column = QVBoxLayout(self.side)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(STEP // 2)
        column.addWidget(self.more)
        column.addWidget(Quiet("Drawn on the sheet as", self.side))
        column.addWidget(self.drawn_as)
        column.addStretch(1)
        body.addWidget(self.side)
        stack.addLayout(body, 1)
        box = QVBoxLayout(self)
        box.setContentsMargins(STEP, STEP // 2, STEP, STEP)
        box.addWidget(self.hint)
        box.addWidget(self.grid_box, 1)

    # ------------------------------------------------------------------------------------------------------ following
    def main_widget(self) -> QWidget:
        return self.view

    def refresh(self, kinds: frozenset[str]) -> None:
        drawing = self.session.drawing
        chosen = [i for i in self.session.selection if isinstance(drawing.get(i), Bus)]
        if chosen:
            self.panel = chosen[0]
        if self.panel not in drawing:
            self.panel = ""
        bus = self._bus()
        self.hint.setVisible(bus is None)
        self.grid_box.setVisible(bus is not None)
        if bus is not None:
            self._show(bus)

    def show_panel(self, panel_id: str) -> None:
        """Come to the front with a panel's circuits, ready to type: the keyboard is in the first free space."""
        self.session.select([panel_id])
        bring_up(self)
        self.focus_first()

    def focus_first(self) -> None:
        """Put the keyboard into the grid: where it was, else into the first free space."""
        self.refresh_now()
        self.view.begin()
        self.view.setFocus(Qt.FocusReason.ShortcutFocusReason)

    def _bus(self) -> Bus | None:
        item = self.session.drawing.items.get(self.panel)
        return item if isinstance(item, Bus) else None

    def _show(self, bus: Bus) -> None:
        drawing = self.session.drawing
        point = self.session.study.points.get(bus.id)
        phases = (point.phases if point is not None else "") or bus.phases or ""
        slots = directory(bus, drawing, self.session.view, phases)
        at = self.view.currentIndex()
        row, column, sides = at.row(), at.column(), self.model.sides
        same = self.model.panel == bus.id
        self.model.system = point.system if point is not None else None
        self.model.put(bus.id, slots, drawing, self._sides())
        if same and sides == self.model.sides and 0 <= row < self.model.rowCount():
            self.view.setCurrentIndex(self.model.index(row, column))
        self.title.setText(f"<b>{_escaped(drawing.name_of(bus.id))}</b>")
        self.title.setTextFormat(Qt.TextFormat.RichText)
        said = [_counted(bus, slots)]
        if point is not None and point.load_a:
            loads = [f"{letter} {amperes(point.load_a.get(letter))}" for letter in phases_of(point)]
            said.append("load " + ", ".join(loads))
        self.facts.setText("  ·  ".join(said))
        self._show_more()

    def _sides(self) -> int:
        return 2 if self.width() >= BOTH_SIDES_PX else 1

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        beside = self.width() >= 640
        self._top.setDirection(QHBoxLayout.Direction.LeftToRight if beside else QHBoxLayout.Direction.TopToBottom)
        if self.model.panel and self._sides() != self.model.sides and self._bus() is not None:
            self._due |= {"drawing"}
            self._timer.start()

    def _slot(self) -> Slot | None:
        """The slot of the marked cell; of a device with several poles its first."""
        index = self.view.currentIndex()
        if not index.isValid() or not self.model.field_at(index.column()):
            return None
        slot = self.model.slot_at(index)
        return self.model.slots[slot.first] if slot.first else slot

    def _current_changed(self, current: QModelIndex, _: QModelIndex) -> None:
        if current.isValid():
            self._show_more()

    def _show_more(self) -> None:
        slot = self._slot()
        line = slot.circuit if slot is not None else None
        for key in ("duplicate", "remove"):
            self.buttons[key].setEnabled(line is not None)
        self.side.setVisible(self.more_chip.isChecked() and line is not None)
        if line is not None:
            self.more.show_values({name: getattr(line, name) for name in _MORE})
            bus = self._bus()
            devices = joined_devices(bus, self.session.drawing) if bus is not None else []
            self.drawn_as.fill([("not drawn", None), *((self.session.drawing.name_of(d.id), d.id) for d in devices)])
            self.drawn_as.put(line.feeds)

    def _open_drawn(self, index: QModelIndex) -> None:
        slot = self.model.slot_at(index) if index.isValid() and self.model.field_at(index.column()) else None
        if slot is not None and slot.kind == "drawn":
            self.host.show_item(slot.item)

    # -------------------------------------------------------------------------------------------------------- editing
    def _edit(self, space: int, values: Mapping[str, Any]) -> None:
        words = join([lower_first(specs(Circuit)[field].label) for field in values])
        slot = self._slots_now().get(space, Slot(space, ""))
        verb = f"Change {words} of circuit" if slot.circuit is not None else "Add circuit"
        self._change(f"{verb} {space}", lambda bus, drawing: fill_line(bus, drawing, slot, values))

    def _paste(self, text: str) -> None:
        """Put the rows of a table into the spaces from the current cell on, as one step."""
        self.refresh_now()
        bus, index = self._bus(), self.view.currentIndex()
        if bus is None:
            return
        field = self.model.field_at(index.column()) if index.isValid() else ""
        start = self.model.slot_at(index).space if index.isValid() and field else 1
        rows = read_rows(text, field if field in ORDER else "description")
        done = paste(bus, self.session.drawing, self.session.view, rows, start, self.model.system)
        if done.filled:
            what = f"Paste {done.filled} circuit{'' if done.filled == 1 else 's'}"
            self._change(what, lambda _bus, _drawing: done.bus)
            self.refresh_now()
        self.model.mark_misread(done.misread, bus.circuits if done.filled else None)
        self.host.say(_told(done))

    def _slots_now(self) -> dict[int, Slot]:
        """What is in the shown panel's spaces at this moment: fast typing can be ahead of what the grid shows."""
        bus = self.session.drawing.items.get(self.model.panel)
        return directory(bus, self.session.drawing, self.session.view, "") if isinstance(bus, Bus) else {}

    def _edit_more(self, field: str, value: Any) -> None:
        slot = self._slot()
        if slot is not None and slot.circuit is not None:
            self._edit(slot.space, {field: value})

    def _line(self, what: str) -> None:
        """Add, duplicate or remove a line."""
        self.refresh_now()
        slot = self._slot()
        if what == "add":
            self._add(slot)
        elif slot is None:
            self.host.say("Mark a circuit first.")
        elif what == "duplicate":
            self._duplicate(slot)
        else:
            self._change(f"Remove circuit {slot.space}", lambda bus, drawing: remove_line(bus, drawing, slot))

    def _add(self, slot: Slot | None) -> None:
        start = slot.space - 1 if slot is not None else 0
        target = free_space(self.model.slots, 1, start)
        if target is None:
            self.host.say("The panel has no free space. Raise its number of spaces in its details if it has more.")
            return
        empty = replace(self.model.slots[target])
        self._change(f"Add circuit {target}", lambda bus, drawing: edit_line(bus, drawing, empty, "poles", 1))
        self._mark(target)

    def _duplicate(self, slot: Slot) -> None:
        went_to: list[int] = []

        def edit(bus: Bus, drawing: Drawing) -> Bus:
            changed, space = duplicate_line(bus, drawing, slot, self.model.slots)
            went_to.append(space)
            return changed

        self._change(f"Duplicate circuit {slot.space}", edit)
        if went_to:
            self._mark(went_to[0])

    def _mark(self, space: int) -> None:
        self.refresh_now()
        if space in self.model.slots:
            self.view.setCurrentIndex(self.model.cell_of(space, "description"))
            self.view.setFocus()

    def _change(self, label: str, edit: Callable[[Bus, Drawing], Bus]) -> None:
        bus = self.session.drawing.items.get(self.model.panel)
        if not isinstance(bus, Bus):
            return
        name = self.session.drawing.name_of(bus.id)
        refusal = try_edit(self.session, f"{label} in {name}", lambda d: d.with_items([edit(bus, d)]))
        if refusal:
            self.host.say(refusal)


def _escaped(text: str) -> str:
    return text.replace("&", "&amp;").replace("<", "&lt;")


def _counted(bus: Bus, slots: dict[int, Slot]) -> str:
    """How many spaces are used; of an empty panel how to begin."""
    used = used_spaces(slots)
    if used:
        return f"{used} of {bus.spaces} spaces used" if bus.spaces else f"{used} spaces used, spaces not counted"
    empty = f"{bus.spaces} empty spaces" if bus.spaces else "No circuits yet, spaces not counted"
    return f"{empty}: type to fill. Tab goes on, Enter to the next circuit; a table can be pasted."


def _told(done: Pasted) -> str:
    """What became of a table, in a sentence or two."""
    if not done.filled and not done.refused:
        return "Nothing on the clipboard could be taken for circuits. Copy rows with description, trip and load."
    said = [f"{done.filled} circuit{'' if done.filled == 1 else 's'} pasted."]
    if done.misread:
        cells = len(done.misread)
        said.append(
            f"{cells} cell{' was' if cells == 1 else 's were'} not understood and {'is' if cells == 1 else 'are'} marked."
        )
    if done.refused:
        said.append(f"{len(done.refused)} left out: {done.refused[0]}")
    return " ".join(said)
