"""The outage pane: work zones, whether and where they can be isolated, the switching order, locks and tests."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from PySide6.QtCore import QSignalBlocker, Qt, Signal
from PySide6.QtWidgets import (
    QComboBox,
    QFrame,
    QLabel,
    QMenu,
    QPushButton,
    QScrollArea,
    QSizePolicy,
    QStackedLayout,
    QTabWidget,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from oneline.desk.panes.controls import Entry
from oneline.desk.panes.form import Form
from oneline.desk.panes.look import CONTROL_PX, NARROW_PX, STEP, MessageLabel, Quiet, scaled
from oneline.desk.panes.outageanswer import AnswerTab
from oneline.desk.panes.outagedeeds import Deeds, deeds, row_of
from oneline.desk.panes.outageedits import EMPTY, OutageEdits
from oneline.desk.panes.outageorder import OrderTable
from oneline.desk.panes.outagerecords import AlsoTab, RecordsTab
from oneline.desk.panes.outagewords import now_words, positions_words, problem_words
from oneline.desk.panes.pane import Host
from oneline.desk.panes.voltagetest import TestDialog
from oneline.model import Drawing, StepMark, WorkZone
from oneline.model.cautions import CAUTION_LINE, ZONE_CAUTION
from oneline.outage.results import Plan, Step
from oneline.session import zones
from oneline.session.session import Session

_FIELDS = (
    "name", "begins", "work_min", "step_min", "lead", "second", "crew", "contact", "utility_contact", "notes",
)  # fmt: skip


class OutagePane(OutageEdits):
    """Everything about one planned outage. Every change is one named step that can be taken back."""

    readings_wanted = Signal(str)
    papers_wanted = Signal(str)

    watches = frozenset({"drawing", "view", "live"})

    def __init__(self, session: Session, host: Host, parent: QWidget | None = None) -> None:
        super().__init__(session, host, parent)
        self.setMinimumWidth(NARROW_PX - 40)
        self._in_front = False
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
        self.caution.setFont(scaled(self.caution.font(), 0.92))
        self.empty = QLabel(EMPTY, self)
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
        more.setToolTip("Computed order, setting the switches, deleting the outage.")
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
        here = self._button("To here", "Show the sheet as after this step (Enter).", self._rehearse_here)
        setting = self._button(
            "Set switches", "Set the drawing's switches as after this step (Ctrl+Shift+T).", self.set_switches
        )
        self.computed = self._button(
            "Computed order", "Take back what was rearranged (Ctrl+Shift+L).", self.computed_order
        )
        box = QVBoxLayout(self.order_page)
        box.setContentsMargins(0, STEP // 2, 0, 0)
        box.setSpacing(STEP // 2)
        box.addWidget(self.order, 1)
        box.addWidget(self.beside)
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
        corner = Deeds(self.tabs)
        corner.put(self.order_page, deeds(done, up, down, here, setting, self.computed))
        corner.put(self.answer, self.answer.deeds)
        corner.put(self.records, self.records.deeds)
        corner.follow()

    def _lay_out(self) -> None:
        self.choice.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        top = row_of(
            self.choice,
            self.new,
            self.add,
            self.less,
            self.rehearse,
            self.readings,
            self.papers,
            self.more,
            self.initials,
        )
        self._stack = QStackedLayout()
        self._stack.addWidget(self.empty)
        self._stack.addWidget(self.tabs)
        box = QVBoxLayout(self)
        box.setContentsMargins(STEP, STEP // 2, STEP, STEP // 2)
        box.setSpacing(STEP // 2)
        box.addWidget(top)
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
    def show_on_sheet(self, on: bool) -> None:
        """Outline the work zone on the sheet while the pane is in front of those it shares its place with."""
        self._in_front = on
        if on:
            self._due |= self.watches
            self.refresh_now()
        self.session.show_zone(self.zone_id if on else None)

    def _heard(self, kinds: Iterable[str]) -> None:
        """Planning takes a while: while another pane is in front this one only remembers that it is out of date."""
        if self._in_front:
            super()._heard(kinds)
        else:
            self._due |= self.watches & frozenset(kinds)

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
        if self._in_front:
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

    # ------------------------------------------------------------------------------------------------------------ order
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
