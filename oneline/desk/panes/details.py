"""The details pane: everything about the selected item, or the project when nothing is selected."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

from PySide6.QtCore import Qt, QTimer, Signal
from PySide6.QtWidgets import QFrame, QLabel, QPushButton, QScrollArea, QVBoxLayout, QWidget

from oneline.desk.panes.answerblock import AnswerBlock
from oneline.desk.panes.answers import answers_of
from oneline.desk.panes.changes import change_basis, change_field, change_project, title_of, try_edit
from oneline.desk.panes.demand import DemandEditor
from oneline.desk.panes.directory import circuits_words
from oneline.desk.panes.ends import EndsLabel
from oneline.desk.panes.fields import DIFFERENT, TypedRow
from oneline.desk.panes.form import Form, tab_through
from oneline.desk.panes.loadentry import LoadPlace, load_in_va
from oneline.desk.panes.look import CONTROL_PX, NARROW_PX, STEP, Heading, Quiet, scaled
from oneline.desk.panes.pane import Host, LivePane
from oneline.desk.panes.pointblock import PointBlock
from oneline.desk.panes.readings import ReadingsEditor
from oneline.desk.panes.triedblock import TriedBlock
from oneline.desk.panes.triedwork import TriedWork
from oneline.desk.panes.voltages import KINDS as MEASURED
from oneline.desk.panes.voltages import VoltagesEditor
from oneline.desk.panes.waysblock import WaysBlock
from oneline.desk.panes.words import lower_first
from oneline.model import Bus, Drawing, Item, Load, Project, Spec, applies, specs
from oneline.model.vocabulary import EDITIONS
from oneline.session.session import Session
from oneline.study.record_chart import record_charts

_EDITION = Spec(
    name="edition", label="Code edition", quantity="choice", choices=tuple(str(e) for e in EDITIONS),
    help="The edition that the authority has adopted. All findings cite it.", group="Code",
)  # fmt: skip
_EMPTY_HINT = "Nothing is selected. Click an item on the sheet to see and change its details."


class DetailsPane(LivePane):
    """Fields of what is selected. Opening it changes nothing; each committed field is one undo step."""

    #: The user asks for the worksheet of a finding.
    finding_wanted = Signal(object)
    #: The user asks for the circuits of a panel.
    circuits_wanted = Signal(str)
    #: Ids of the items on the way by which a source reaches the selected one, () for none.
    way_wanted = Signal(object)

    watches = frozenset({"drawing", "selection", "view", "study", "live"})
    prompt = True

    def __init__(self, session: Session, host: Host, parent: QWidget | None = None) -> None:
        super().__init__(session, host, parent)
        self.setMinimumWidth(NARROW_PX - 40)
        self._shown: tuple[str, ...] | None = None
        self._busy = False
        self._later: dict[tuple[str, ...], dict[str, str]] = {}
        self._forms: dict[Any, Form] = {}
        self.form: Form | None = None
        self._figures_due = QTimer(self)
        self._figures_due.setSingleShot(True)
        self._figures_due.timeout.connect(self._show_figures)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        area = QScrollArea(self)
        area.setWidgetResizable(True)
        area.setFrameShape(QFrame.Shape.NoFrame)
        area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        outer.addWidget(area)
        self._page = QWidget(area)
        self._box = QVBoxLayout(self._page)
        self._box.setContentsMargins(STEP * 3 // 2, STEP, STEP * 3 // 2, STEP * 2)
        self._box.setSpacing(STEP // 2)
        self._build_page()
        area.setWidget(self._page)
        self.area = area

    def _build_page(self) -> None:
        page = self._page
        self.title = QLabel(page)
        self.title.setTextFormat(Qt.TextFormat.PlainText)
        self.title.setWordWrap(True)
        self.title.setFont(scaled(self.title.font(), 1.2, bold=True))
        self.subtitle = Quiet("", page)
        self.subtitle.setWordWrap(True)
        self.point = PointBlock(page)
        self.ways = WaysBlock(self.session, page)
        self.ways.way_wanted.connect(self.way_wanted)
        self.answers = AnswerBlock(page)
        self.answers.wanted.connect(self.finding_wanted)
        self.tried = TriedBlock(TriedWork(self.session, self.host.say, self), page)
        self.circuits = QPushButton(page)
        self.circuits.setMinimumHeight(CONTROL_PX)
        self.circuits.setAutoDefault(False)
        self.circuits.clicked.connect(self._ask_for_circuits)
        self._form_slot = QVBoxLayout()
        self._form_slot.setContentsMargins(0, 0, 0, 0)
        self.ends_heading = Heading("Connected to", page)
        self.ends = EndsLabel(page)
        self.ends.chosen.connect(self.host.show_item)
        self.demand = DemandEditor(page)
        self.demand.changed.connect(self._change_rows)
        self.readings = ReadingsEditor(page)
        self.readings.changed.connect(self._change_rows)
        self.readings.refused.connect(self.host.say)
        self.voltages = VoltagesEditor(page)
        self.voltages.changed.connect(self._change_rows)
        self.voltages.refused.connect(self.host.say)
        above: tuple[QWidget, ...] = (
            self.title, self.subtitle, self.point, self.ways, self.circuits, self.answers, self.tried,
        )  # fmt: skip
        below: tuple[QWidget, ...] = (self.ends_heading, self.ends, self.demand, self.readings, self.voltages)
        for widget in above:
            self._box.addWidget(widget)
        self._box.addLayout(self._form_slot)
        for widget in below:
            self._box.addWidget(widget)
        self._box.addStretch(1)

    # ------------------------------------------------------------------------------------------------------ following
    def refresh(self, kinds: frozenset[str]) -> None:
        if self._busy:
            self._due |= kinds
            return
        self._busy = True
        try:
            self._keep_typing()
            self._show(self.session.selection)
        finally:
            self._busy = False
        self.refresh_now()

    def _keep_typing(self) -> None:
        """Before another item is shown: take over what is understood, remember what is not."""
        target = self.session.selection
        if self._shown is None or self._shown == target or self.form is None:
            return
        if all(i in self.session.drawing for i in self._shown):
            self.form.commit_pending()
            rest = self.form.pending()
            if rest:
                self._later[self._shown] = rest

    def _show(self, ids: tuple[str, ...]) -> None:
        drawing = self.session.drawing
        if not ids:
            self._show_project(drawing.project)
        else:
            self._show_items(drawing, [drawing.get(i) for i in ids])
        fresh = ids != self._shown
        self._shown = ids
        if fresh:
            assert self.form is not None
            self.form.put_pending(self._later.pop(ids, {}))
            self.area.verticalScrollBar().setValue(0)

    def _show_project(self, project: Project) -> None:
        self.title.setText("Project")
        self.subtitle.setText(_EMPTY_HINT)
        page = self._page
        form = self._take_form(
            "project", lambda: Form(Project, None, page, with_basis=False, headings=False, extra=(_EDITION,))
        )
        values = {name: getattr(project, name) for name in specs(Project)}
        form.show_values({**values, "edition": str(project.edition)})
        self.ways.put(None)
        for widget in (
            self.point,
            self.ways,
            self.circuits,
            self.answers,
            self.tried,
            self.ends_heading,
            self.ends,
            self.demand,
            self.readings,
            self.voltages,
        ):
            widget.hide()

    def _show_items(self, drawing: Drawing, items: list[Item]) -> None:
        ids = tuple(i.id for i in items)
        single = items[0] if len(items) == 1 else None
        names = _common_fields(items)
        self.title.setText(title_of(drawing, ids))
        self.subtitle.setText(single.title if single else "Fields that all of them have.")
        owner = type(items[0])
        form = self._take_form((owner, names), lambda: Form(owner, names, self._page))
        values, bases = _common_values(items, names)
        va = form.rows.get("va")
        if isinstance(va, TypedRow):
            va.reading = self._read_load if isinstance(single, Load) else None
        form.show_values(values, bases)
        declared = specs(owner)
        form.hide_fields({n for n in names if not any(applies(i, declared[n]) for i in items)})
        self.point.setVisible(single is not None)
        self.ways.setVisible(single is not None)
        self.ways.put(single.id if single is not None else None)
        self.answers.setVisible(single is not None)
        if single is None:
            self.tried.hide()
        words = circuits_words(single) if isinstance(single, Bus) else ""
        self.circuits.setText(words)
        self.circuits.setToolTip(f"{words}. Opens the circuits pane.")
        self.circuits.setVisible(bool(words))
        self.ends_heading.setVisible(single is not None)
        self.ends.setVisible(single is not None)
        self.demand.setVisible(single is not None and hasattr(single, "demand"))
        self.readings.setVisible(single is not None)
        self.voltages.setVisible(single is not None and single.kind in MEASURED)
        if single is not None:
            if ids != self._shown:
                self._show_figures()
            else:
                self._figures_due.start()
            self.ends.show_item(drawing, single.id)
            self.readings.put(single.readings, single.id)
            self.voltages.put(single.voltages, single.id)
            self.demand.put(
                getattr(single, "demand", ()), single.id, drawing.name_of(single.id), drawing.project.edition
            )

    def _show_figures(self) -> None:
        """The figures of both views. After an edit they wait until the sheet is painted: they may need a second study."""
        ids = self.session.selection
        if len(ids) == 1:
            drawing, view = self.session.drawing, self.session.view
            before, after = self.session.study_of("existing"), self.session.study_of("proposed")
            tried = self.session.live if self.session.as_if else None
            self.point.show_item(ids[0], drawing, before, after, view, tried)
            names = {drawing.name_of(i) for i in drawing.items}
            verdicts = (before if view == "existing" else after).verdicts
            self.answers.show_answers(answers_of(ids[0], verdicts, names))
            self.tried.put([v for v in verdicts if v.subject == ids[0]])
            if any(record.series is not None for record in self.demand.records):
                self.demand.put_charts(record_charts(drawing, view, item=ids[0]))

    def try_what_helps(self) -> bool:
        """Begin to try what would help for the selected item. False where nothing is open about it."""
        self.refresh_now()
        if not self.session.selection or len(self.session.selection) != 1:
            return False
        self._show_figures()
        self.area.ensureWidgetVisible(self.tried)
        return self.tried.work.start()

    def _ask_for_circuits(self) -> None:
        if self._shown:
            self.circuits_wanted.emit(self._shown[0])

    def _take_form(self, key: Any, make: Callable[[], Form]) -> Form:
        """Show the form of a kind; forms are made once and kept."""
        form = self._forms.get(key)
        if form is None:
            form = self._forms[key] = make()
            form.committed.connect(self._commit)
            form.basis_picked.connect(self._pick_basis)
            self._form_slot.addWidget(form)
            self._order_tabs(form)
        if form is not self.form:
            if self.form is not None:
                self.form.hide()
            self.form = form
            form.show()
        return form

    def _order_tabs(self, form: Form) -> None:
        """Tab goes down the pane as it is read: entries, connections, demand, readings; the origins of values last."""
        below = [
            w
            for part in (self.ends, self.demand, self.readings, self.voltages)
            for w in [part, *part.findChildren(QWidget)]
            if w.focusPolicy() & Qt.FocusPolicy.TabFocus
        ]
        tab_through([self.circuits, *form.stops(), *below, *form.origins()])

    def focus_first(self) -> None:
        self.focus_field()

    def focus_field(self, name: str | None = None) -> None:
        """Put the keyboard focus on a field of the item, by default the first."""
        self.refresh_now()
        if self.form is not None:
            self.form.focus(name)
            row = self.form.rows.get(name) if name else None
            if row is not None:
                self.area.ensureWidgetVisible(row.holder)

    # -------------------------------------------------------------------------------------------------------- editing
    def _commit(self, name: str, value: Any) -> None:
        assert self.form is not None
        row = self.form.rows[name]
        shown = self._shown or ()
        if not shown:
            refusal = self._change_project(name, row.spec.label, value)
        else:
            refusal = change_field(self.session, shown, name, row.spec.label, value)
        if refusal:
            row.message.show_problem(refusal)
            self.host.say(refusal)

    def _read_load(self, typed: str) -> tuple[str, str] | None:
        """The load of the shown item, typed in amperes or watts."""
        load = self.session.drawing.get(self._shown[0]) if self._shown else None
        if not isinstance(load, Load):
            return None
        point = self.session.study.points.get(load.id)
        poles = len(load.phases) if load.phases else None
        return load_in_va(
            typed,
            LoadPlace(poles, load.phases or "", point.system if point else None, load.load_class, load.power_factor),
        )

    def _change_project(self, name: str, word: str, value: Any) -> str:
        stored: Any = int(value) if name == "edition" else value
        return change_project(self.session, f"Change {lower_first(word)}", **{name: stored})

    def _pick_basis(self, name: str, basis: str) -> None:
        if self._shown and self.form is not None:
            change_basis(self.session, self._shown, name, self.form.rows[name].spec.label, basis)

    def _change_rows(self, field: str, rows: Any, what: str) -> None:
        """Readings or demand records of the shown item, edited as a whole."""
        if not self._shown or len(self._shown) != 1:
            return
        item_id = self._shown[0]
        label = f"{what} of {self.session.drawing.name_of(item_id)}"
        old = self.session.drawing.get(item_id)
        try_edit(self.session, label, lambda d: d.with_items([replace(old, **{field: rows})]))


def _common_fields(items: list[Item]) -> tuple[str, ...]:
    """Fields that every item has; of several items not the name, which only one can carry."""
    common = list(specs(type(items[0])))
    for cls in {type(i) for i in items}:
        own = specs(cls)
        common = [n for n in common if own.get(n) == specs(type(items[0]))[n]]
    return tuple(n for n in common if len(items) == 1 or n != "name")


def _common_values(items: list[Item], names: tuple[str, ...]) -> tuple[Mapping[str, Any], Mapping[str, str]]:
    values: dict[str, Any] = {}
    bases: dict[str, str] = {}
    for name in names:
        found = [getattr(i, name) for i in items]
        same = all(type(v) is type(found[0]) and v == found[0] for v in found)
        values[name] = found[0] if same else DIFFERENT
        origins = {i.basis.get(name, "entered") for i in items}
        bases[name] = origins.pop() if len(origins) == 1 else "various"
    return values, bases
