"""The outage pane: work zones, whether and where they can be isolated, the switching order, locks and tests."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from PySide6.QtCore import QSignalBlocker, Qt, Signal
from PySide6.QtGui import QHideEvent, QShowEvent
from PySide6.QtWidgets import (
    QComboBox,
    QFrame,
    QHBoxLayout,
    QLabel,
    QMenu,
    QPushButton,
    QScrollArea,
    QStackedLayout,
    QTabWidget,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from oneline.desk.panes.changes import try_edit
from oneline.desk.panes.controls import Entry
from oneline.desk.panes.form import Form
from oneline.desk.panes.look import CONTROL_PX, NARROW_PX, STEP, MessageLabel, Quiet
from oneline.desk.panes.outageanswer import AnswerTab
from oneline.desk.panes.outageorder import OrderTable
from oneline.desk.panes.outagerecords import AlsoTab, RecordsTab
from oneline.desk.panes.outagewords import now_words, positions_words, problem_words
from oneline.desk.panes.pane import Host, LivePane
from oneline.desk.panes.voltagetest import TestDialog
from oneline.desk.panes.words import lower_first
from oneline.model import Drawing, LockRecord, StepMark, VoltageTest, WorkZone, specs
from oneline.model.cautions import CAUTION_LINE, ZONE_CAUTION
from oneline.outage.results import Plan, Step
from oneline.session import zones
from oneline.session.session import Session

_FIELDS = (
    "name", "begins", "work_min", "step_min", "lead", "second", "crew", "contact", "utility_contact", "notes",
)  # fmt: skip
_EMPTY = "No outage is planned yet. Select what is to be worked on, then press New (Ctrl+U)."


class OutagePane(LivePane):
    """Everything about one planned outage. Every change is one named step that can be taken back."""

    readings_wanted = Signal(str)
    papers_wanted = Signal(str)

    watches = frozenset({"drawing", "view", "live"})

    def __init__(self, session: Session, host: Host, parent: QWidget | None = None) -> None:
        super().__init__(session, host, parent)
        self.setMinimumWidth(NARROW_PX - 40)
        self.zone_id: str | None = None
        self.plan: Plan | None = None
        self._instrument = ""
        self.choice = QComboBox(self)
        self.choice.setMinimumHeight(CONTROL_PX)
        self.choice.setMinimumWidth(150)
        self.choice.setAccessibleName("Work zone")
        self.choice.activated.connect(lambda n: self.show_zone(self.choice.itemData(n)))
        self.new = self._button("New", "A work zone of the selected items (Ctrl+U).", self.new_zone)
        self.add = self._button("Add", "Add the selected items to the work zone (Ctrl+Shift+U).", self.add_selected)
        self.less = self._button(
            "Take out", "Take the selected items out of the zone (Ctrl+Shift+Y).", self.less_selected
        )
        self.rehearse = self._button("Rehearse", "Step through the order on the sheet (Ctrl+T).", self.begin_rehearsal)
        self.readings = self._button(
            "Readings …", "Enter clamp readings in the order of the devices to open (Ctrl+Shift+R).",
            lambda: self.readings_wanted.emit(self.zone_id or ""),
        )  # fmt: skip
        self.papers = self._button(
            "Papers …", "Print the switching order, test cards, notice and brief (Ctrl+Shift+D).",
            lambda: self.papers_wanted.emit(self.zone_id or ""),
        )  # fmt: skip
        self.more = self._more()
        self.initials = Entry(self)
        self.initials.setPlaceholderText("Initials")
        self.initials.setAccessibleName("Initials for marks, locks and tests")
        self.initials.setToolTip("Written beside every step, lock and test that you put on record.")
        self.initials.setFixedWidth(84)
        self.caution = Quiet(f"{ZONE_CAUTION} {CAUTION_LINE}", self)
        self.caution.setWordWrap(True)
        self.empty = QLabel(_EMPTY, self)
        self.empty.setWordWrap(True)
        self.empty.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.tabs = QTabWidget(self)
        self.tabs.setDocumentMode(True)
        self._make_tabs()
        self._lay_out()

    # --------------------------------------------------------------------------------------------------------- making
    def _button(self, text: str, tip: str, act: Callable[[], object]) -> QPushButton:
        button = QPushButton(text, self)
        button.setMinimumHeight(CONTROL_PX)
        button.setAutoDefault(False)
        button.setToolTip(tip)
        button.clicked.connect(lambda _checked=False: act())
        return button

    def _more(self) -> QToolButton:
        more = QToolButton(self)
        more.setText("More")
        more.setMinimumHeight(CONTROL_PX)
        more.setPopupMode(QToolButton.ToolButtonPopupMode.InstantPopup)
        menu = QMenu(more)
        menu.addAction("Computed order", self.computed_order)
        menu.addAction("Set the drawing's switches as after this step", self.set_switches)
        menu.addSeparator()
        menu.addAction("Delete this outage", self.delete_zone)
        more.setMenu(menu)
        more.setAccessibleName("More about the outage")
        return more

    def _make_tabs(self) -> None:
        self.order_page = QWidget(self)
        self.order = OrderTable(self.order_page)
        self.order.steps_model.moved.connect(self.move_step)
        self.order.marked.connect(self.mark_step)
        self.order.wanted.connect(self._step_wanted)
        self.order.selectionModel().currentRowChanged.connect(lambda *_: self._say_step())
        self.beside = MessageLabel(self.order_page)
        up = self._button("Up", "One place earlier (Alt+Up).", lambda: self.order.shift(-1))
        down = self._button("Down", "One place later (Alt+Down).", lambda: self.order.shift(1))
        done = self._button("Done", "Mark the step with your initials and the time (Space).", self._mark_current)
        here = self._button("Rehearse to here", "Show the sheet as after this step (Enter).", self._rehearse_here)
        setting = self._button(
            "Set the switches", "Set the drawing's switches as after this step (Ctrl+Shift+T).", self.set_switches
        )
        self.computed = self._button(
            "Computed order", "Take back what was rearranged (Ctrl+Shift+L).", self.computed_order
        )
        row = QHBoxLayout()
        row.setSpacing(STEP)
        for button in (done, up, down, here, setting, self.computed):
            row.addWidget(button)
        row.addStretch(1)
        box = QVBoxLayout(self.order_page)
        box.setContentsMargins(0, STEP // 2, 0, 0)
        box.setSpacing(STEP // 2)
        box.addWidget(self.order, 1)
        box.addWidget(self.beside)
        box.addLayout(row)
        self.answer = AnswerTab(self)
        self.answer.chosen.connect(self.choose_isolation)
        self.answer.from_selection.connect(self._isolate_at_selected)
        self.answer.item_wanted.connect(self.host.show_item)
        self.records = RecordsTab(self)
        self.records.lock.connect(self.hang_lock)
        self.records.unlock.connect(self.take_lock_off)
        self.records.test.connect(self.enter_test)
        self.records.untest.connect(self._remove_test)
        self.records.item_wanted.connect(self.host.show_item)
        self.also = AlsoTab(self)
        self.also.item_wanted.connect(self.host.show_item)
        self.form = Form(WorkZone, _FIELDS, self, with_basis=False, headings=False)
        self.form.committed.connect(self._change_field)
        area = QScrollArea(self)
        area.setWidgetResizable(True)
        area.setFrameShape(QFrame.Shape.NoFrame)
        area.setWidget(self.form)
        pages = ((self.answer, "Answer"), (self.order_page, "Switching order"), (self.records, "Locks and tests"),
                 (self.also, "Dark, spare, readings"), (area, "People and times"))  # fmt: skip
        for page, title in pages:
            self.tabs.addTab(page, title)

    def _lay_out(self) -> None:
        top = QHBoxLayout()
        top.setSpacing(STEP)
        top.addWidget(self.choice, 1)
        for widget in (
            self.new,
            self.add,
            self.less,
            self.rehearse,
            self.readings,
            self.papers,
            self.more,
            self.initials,
        ):
            top.addWidget(widget)
        self._stack = QStackedLayout()
        self._stack.addWidget(self.empty)
        self._stack.addWidget(self.tabs)
        box = QVBoxLayout(self)
        box.setContentsMargins(STEP, STEP // 2, STEP, STEP // 2)
        box.setSpacing(STEP // 2)
        box.addLayout(top)
        box.addLayout(self._stack, 1)
        box.addWidget(self.caution)

    def main_widget(self) -> QWidget:
        if self.zone_id is None:
            return self.new
        page = self.tabs.currentWidget()
        by_page: dict[QWidget | None, QWidget] = {
            self.order_page: self.order, self.answer: self.answer.tree, self.records: self.records.tree,
            self.also: self.also.tree,
        }  # fmt: skip
        return by_page.get(page, self.tabs.tabBar())

    # ------------------------------------------------------------------------------------------------------ following
    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        self._due |= self.watches
        self.refresh_now()
        self.session.show_zone(self.zone_id)

    def hideEvent(self, event: QHideEvent) -> None:
        super().hideEvent(event)
        if not event.spontaneous():
            self.session.show_zone(None)

    def refresh(self, kinds: frozenset[str]) -> None:
        session, drawing = self.session, self.session.drawing
        ids = [zone.id for zone in drawing.zones]
        if session.rehearsal is not None:
            self.zone_id = session.rehearsal.zone
        elif self.zone_id not in ids:
            self.zone_id = ids[-1] if ids else None
        with QSignalBlocker(self.choice):
            self.choice.clear()
            for zone in drawing.zones:
                self.choice.addItem(zone.name or zone.id, zone.id)
            if self.zone_id is not None:
                self.choice.setCurrentIndex(ids.index(self.zone_id))
        there = self.zone_id is not None
        self._stack.setCurrentIndex(1 if there else 0)
        for widget in (self.choice, self.add, self.less, self.rehearse, self.readings, self.papers, self.more):
            widget.setEnabled(there)
        plan = session.plan_of(self.zone_id) if self.zone_id is not None else None
        here = session.rehearsal.done if session.rehearsal is not None else 0
        if plan is not self.plan:
            self.plan = plan
            self._show_plan(plan, drawing, here)
        elif here != self.order.steps_model.here:
            self.order.steps_model.stand_at(here)
        if here and session.rehearsal is not None:
            self.order.go_to(here - 1)
        if self.isVisible():
            session.show_zone(self.zone_id)

    def _show_plan(self, plan: Plan | None, drawing: Drawing, here: int) -> None:
        if plan is None:
            self.order.put(None, drawing, 0)
            return
        zone = plan.answer.zone
        self.answer.put(plan, drawing)
        self.order.put(plan, drawing, here)
        self.records.put(plan, drawing)
        self.also.put(plan)
        self.form.show_values({name: getattr(zone, name) for name in _FIELDS})
        self.computed.setEnabled(bool(zone.order))
        self.rehearse.setEnabled(bool(plan.steps))
        bad = len({p.step for p in plan.problems})
        self.tabs.setTabText(1, f"Switching order ({bad} to look at)" if bad else "Switching order")
        self._say_step()

    def _say_step(self) -> None:
        """What is wrong or open with the current step, whole, below the table."""
        step = self._current_step()
        words = problem_words(step, self.plan) if step is not None and self.plan is not None else ""
        if words and step is not None:
            self.beside.show_problem(f"Step {step.number}: {words}")
        else:
            self.beside.clear_message()

    def _current_step(self) -> Step | None:
        key = self.order.current_key()
        return next((s for s in self.order.steps_model.steps if s.key == key), None)

    # ------------------------------------------------------------------------------------------------------------ zones
    def show_zone(self, zone_id: str) -> None:
        """Show another outage."""
        if self.session.rehearsal is not None:
            self.session.clear_as_if()
        self.zone_id = zone_id
        self._due |= self.watches
        self.refresh_now()

    def new_zone(self) -> None:
        """A work zone of the selected items."""
        chosen = self.session.selection
        made: list[str] = []

        def make(drawing: Drawing) -> Drawing:
            after, zone_id = zones.new_zone(drawing, chosen)
            made.append(zone_id)
            return after

        self._edit("Plan an outage", make)
        if not chosen:
            self.host.say("Nothing was selected, so nothing is in the work zone yet. Select items, then add them.")
        self.show_zone(made[0])

    def _edit(self, label: str, change: Callable[[Drawing], Drawing]) -> bool:
        refused = try_edit(self.session, label, change)
        if refused:
            self.host.say(refused)
        return not refused

    def _zone(self) -> WorkZone | None:
        if self.zone_id is None or all(z.id != self.zone_id for z in self.session.drawing.zones):
            self.host.say(_EMPTY)
            return None
        return self.session.drawing.zone(self.zone_id)

    def add_selected(self) -> None:
        """Put the selected items into the work zone."""
        zone, chosen = self._zone(), self.session.selection
        if zone is not None and chosen:
            self._edit(f"Add to {zone.name or 'the work zone'}", lambda d: zones.add_items(d, zone.id, chosen))
        elif zone is not None:
            self.host.say("Select on the sheet what is to be worked on too.")

    def less_selected(self) -> None:
        """Take the selected items out of the work zone."""
        zone, chosen = self._zone(), self.session.selection
        if zone is not None and set(chosen) & set(zone.items):
            self._edit(f"Take out of {zone.name or 'the work zone'}", lambda d: zones.remove_items(d, zone.id, chosen))
        elif zone is not None:
            self.host.say("Select on the sheet what is to be taken out of the work zone.")

    def delete_zone(self) -> None:
        """Delete the outage with its records; undo brings it back."""
        zone = self._zone()
        if zone is not None:
            self._edit(f"Delete {zone.name or 'an outage'}", lambda d: d.without_zone(zone.id))

    def _change_field(self, name: str, value: Any) -> None:
        zone = self._zone()
        if zone is not None:
            label = f"Change {lower_first(specs(WorkZone)[name].label)} of the outage"
            self._edit(label, lambda d: zones.change_zone(d, zone.id, **{name: value}))

    def choose_isolation(self, items: tuple[str, ...]) -> None:
        """Use these isolation points, () for the best."""
        zone = self._zone()
        if zone is not None:
            label = "Choose isolation points" if items else "Use the best isolation points"
            self._edit(label, lambda d: zones.change_zone(d, zone.id, isolation=tuple(items)))

    def _isolate_at_selected(self) -> None:
        drawing = self.session.drawing
        chosen = tuple(i for i in self.session.selection if drawing.get(i).kind in ("disconnect", "transfer"))
        if chosen:
            self.choose_isolation(chosen)
        else:
            self.host.say("Select the devices to open on the sheet first.")

    # ------------------------------------------------------------------------------------------------------------ order
    def move_step(self, key: str, before: str | None) -> None:
        """Put a step before another one, or at the end."""
        from oneline.outage.plan import reorder

        zone = self._zone()
        if zone is not None and key != before:
            self._edit("Rearrange the switching order", lambda d: reorder(d, zone.id, key, before))

    def computed_order(self) -> None:
        """Back to the computed order."""
        zone = self._zone()
        if zone is not None:
            self._edit("Use the computed order", lambda d: zones.change_zone(d, zone.id, order=()))

    def _mark_current(self) -> None:
        if self.order.current_key():
            self.mark_step(self.order.current_key())

    def mark_step(self, key: str) -> None:
        """Mark a step as done, with initials and time; a marked one is not done any more."""
        zone, step = self._zone(), self._current_step()
        if zone is None or step is None:
            return
        if any(m.step == key for m in zone.marks):
            self._edit(f"Take back the mark of step {step.number}", lambda d: zones.unmark_step(d, zone.id, key))
            return
        initials = self._initials()
        if initials:
            mark = StepMark(step=key, by=initials, when=now_words())
            self._edit(f"Mark step {step.number} done", lambda d: zones.mark_step(d, zone.id, mark))

    def _initials(self) -> str:
        """What stands in the initials field; without, the field is asked for."""
        text = self.initials.text().strip()
        if not text:
            self.host.say("Type your initials first: they stand beside what you put on record.")
            self.initials.setFocus()
        return text

    def _step_wanted(self, key: str) -> None:
        self._rehearse_here()
        step = next((s for s in self.order.steps_model.steps if s.key == key), None)
        if step is not None and step.item and step.item in self.session.drawing:
            self.host.show_item(step.item)

    def set_switches(self) -> None:
        """Set the drawing's switches as they stand after the rehearsal's step, else after the current one."""
        rehearsal = self.session.rehearsal
        step = rehearsal.step if rehearsal is not None and rehearsal.step is not None else self._current_step()
        if step is None:
            self.host.say("Choose a step of the switching order first.")
            return
        positions = dict(step.positions)
        if not positions:
            self.host.say(f"After step {step.number} the switches stand as they do on the drawing.")
            return
        what = positions_words(positions, self.session.drawing)
        self.session.clear_as_if()
        if self._edit(f"Set switches as after step {step.number}", lambda d: zones.set_positions(d, positions)):
            self.host.say(f"Set on the drawing: {what}. In the building nothing has moved. Ctrl+Z takes it back.")

    # -------------------------------------------------------------------------------------------------------- rehearsal
    def begin_rehearsal(self) -> None:
        """Rehearse from before the first step."""
        zone = self._zone()
        if zone is None:
            return
        if not self.session.begin_rehearsal(zone.id):
            self.host.say("There is no switching order to rehearse: put something into the work zone first.")
            return
        self.tabs.setCurrentWidget(self.order_page)
        self.host.say("Rehearsal: Alt+Page Down goes on, Alt+Page Up back. The drawing is not changed.")

    def _rehearse_here(self) -> None:
        step = self._current_step()
        if step is None or self.zone_id is None:
            return
        if self.session.rehearsal is None and not self.session.begin_rehearsal(self.zone_id):
            return
        self.session.rehearse(step.number)

    # ---------------------------------------------------------------------------------------------------------- records
    def hang_lock(self, item: str) -> None:
        """Put a lock on record."""
        zone = self._zone()
        initials = self._initials() if zone is not None else ""
        if zone is None or not initials or self.plan is None or self.plan.isolation is None:
            return
        number = next((p.lock for p in self.plan.isolation.points if p.item == item), "")
        lock = LockRecord(item=item, number=number, by=initials, when=now_words())
        name = self.session.drawing.name_of(item)
        self._edit(f"Hang lock {number} on {name}", lambda d: zones.hang_lock(d, zone.id, lock))

    def take_lock_off(self, item: str) -> None:
        """Take a lock off the record."""
        zone = self._zone()
        if zone is not None:
            name = self.session.drawing.name_of(item)
            self._edit(f"Take the lock off {name}", lambda d: zones.take_lock_off(d, zone.id, item))
            self.host.say(f"The lock is off {name}: what was verified behind it is verified no longer.")

    def enter_test(self, item: str, terminal: str) -> None:
        """Open the form of a test card; what is entered is stored with its seal."""
        zone, card = self._zone(), self.records.card(item, terminal)
        if zone is None or card is None:
            return
        instrument = self._instrument or (zone.tests[-1].instrument if zone.tests else "")
        dialog = TestDialog(card, now_words(), self.initials.text().strip() or zone.lead, instrument, self.window())
        dialog.exec()
        test = dialog.test
        dialog.deleteLater()
        if test is not None:
            self.store_test(test)

    def store_test(self, test: VoltageTest) -> None:
        """Put a test on record, sealed with the drawing as it is now."""
        zone = self._zone()
        if zone is None:
            return
        self._instrument = test.instrument
        where = f"{self.session.drawing.name_of(test.item)}, {test.terminal}"
        if self._edit(f"Enter a test at {where}", lambda d: zones.add_test(d, zone.id, test)):
            plan = self.session.plan_of(zone.id)
            self.host.say(f"Test at {where} on record. {self._state_words(plan, test.item)}")

    def _state_words(self, plan: Plan, item: str) -> str:
        state = plan.states.get(item, "")
        return f"{self.session.drawing.name_of(item)}: {state}." if state else ""

    def _remove_test(self, test: VoltageTest) -> None:
        zone = self._zone()
        if zone is not None:
            where = f"{self.session.drawing.name_of(test.item)}, {test.terminal}"
            self._edit(f"Remove a test at {where}", lambda d: zones.remove_test(d, zone.id, test))
