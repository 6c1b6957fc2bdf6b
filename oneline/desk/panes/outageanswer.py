"""The answer for a work zone: whether it can be isolated, where, at what cost, and the other ways to do it."""

from __future__ import annotations

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QBoxLayout,
    QHeaderView,
    QLabel,
    QPushButton,
    QScrollArea,
    QTreeWidget,
    QTreeWidgetItem,
    QVBoxLayout,
    QWidget,
)

from oneline.desk.panes.look import CONTROL_PX, STEP, scaled
from oneline.desk.panes.outagedeeds import deeds
from oneline.desk.panes.outagewords import STATE_WORDS, answer_lines
from oneline.desk.panes.words import join
from oneline.model import Drawing
from oneline.outage.results import Isolation, IsolationPoint, Plan

_ITEM, _ITEMS = Qt.ItemDataRole.UserRole + 1, Qt.ItemDataRole.UserRole + 2
#: From this width on words and table stand side by side.
_WIDE_PX = 760
_HEADS = ("Isolation points", "Lock", "Stands against", "Cost", "Why it costs that")


class AnswerTab(QWidget):
    """``chosen(items)``: isolation points to use, () for the best ones; ``item_wanted(id)``: show it on the sheet."""

    chosen = Signal(object)
    from_selection = Signal()
    item_wanted = Signal(str)

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.state = QLabel(self)
        self.state.setFont(scaled(self.state.font(), 1.1, bold=True))
        self.said = QLabel(self)
        for label in (self.state, self.said):
            label.setTextFormat(Qt.TextFormat.PlainText)
            label.setWordWrap(True)
            label.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.tree = QTreeWidget(self)
        self.tree.setColumnCount(len(_HEADS))
        self.tree.setHeaderLabels(list(_HEADS))
        self.tree.setAccessibleName("Ways to isolate")
        self.tree.setIndentation(STEP * 2)
        self.tree.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        head = self.tree.header()
        head.setStretchLastSection(False)
        for column in (0, len(_HEADS) - 1):
            head.setSectionResizeMode(column, QHeaderView.ResizeMode.Stretch)
        head.setSectionResizeMode(1, QHeaderView.ResizeMode.ResizeToContents)
        head.resizeSection(2, 190)
        head.setSectionResizeMode(3, QHeaderView.ResizeMode.ResizeToContents)
        self.tree.itemActivated.connect(self._activated)
        self.use = self._button("Use these", "Open the devices of the marked way (Enter).")
        self.use.clicked.connect(self._use)
        self.best = self._button("Use the best", "Take back what was chosen by hand.")
        self.best.clicked.connect(lambda: self.chosen.emit(()))
        self.own = self._button("Use selected devices", "Open the devices that are selected on the sheet.")
        self.own.clicked.connect(self.from_selection)
        #: The functions of this tab, beside its name.
        self.deeds = deeds(self.use, self.best, self.own)
        words = QScrollArea(self)
        words.setWidgetResizable(True)
        words.setFrameShape(QScrollArea.Shape.NoFrame)
        words.setMinimumHeight(48)
        page = QWidget(words)
        lines = QVBoxLayout(page)
        lines.setContentsMargins(0, 0, STEP // 2, 0)
        lines.setSpacing(STEP // 2)
        lines.addWidget(self.state)
        lines.addWidget(self.said)
        lines.addStretch(1)
        words.setWidget(page)
        self._box = QBoxLayout(QBoxLayout.Direction.TopToBottom, self)
        self._box.setContentsMargins(0, STEP // 2, 0, 0)
        self._box.setSpacing(STEP)
        self._box.addWidget(words, 2)
        self._box.addWidget(self.tree, 3)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """The words stand beside the table where there is room, else above it."""
        super().resizeEvent(event)
        wide = self.width() >= _WIDE_PX
        self._box.setDirection(QBoxLayout.Direction.LeftToRight if wide else QBoxLayout.Direction.TopToBottom)

    def _button(self, text: str, tip: str) -> QPushButton:
        button = QPushButton(text, self)
        button.setMinimumHeight(CONTROL_PX)
        button.setAutoDefault(False)
        button.setToolTip(tip)
        return button

    def put(self, plan: Plan, drawing: Drawing) -> None:
        """Show the answer of a plan."""
        answer = plan.answer
        self.state.setText(STATE_WORDS[answer.state] if answer.zone.items else "Nothing is in this work zone yet.")
        self.said.setText("\n".join(answer_lines(answer, plan)))
        self.tree.clear()
        ways = list(answer.alternatives or answer.besides)
        by_hand = bool(answer.zone.isolation) and plan.isolation is not None
        if plan.isolation is not None and all(set(w.items) != set(plan.isolation.items) for w in ways):
            ways.insert(0, plan.isolation)
        for number, way in enumerate(ways):
            in_use = plan.isolation is not None and set(way.items) == set(plan.isolation.items)
            self._add_way(way, drawing, in_use, by_hand and in_use, number == 0)
        self.best.setEnabled(bool(answer.zone.isolation))

    def _add_way(self, way: Isolation, drawing: Drawing, in_use: bool, by_hand: bool, unfolded: bool) -> None:
        names = join([p.name for p in way.points]) or "Nothing on the premises"
        note = "in use, chosen by hand" if by_hand else "in use" if in_use else ""
        dark = f"{len(way.dark)} more go dark" if way.dark else "nothing else goes dark"
        top = QTreeWidgetItem([f"{names}{f'  ({note})' if note else ''}", "", "", f"{way.cost}", dark])
        top.setSizeHint(0, QSize(0, CONTROL_PX - 6))
        top.setData(0, _ITEMS, way.items)
        top.setToolTip(0, names)
        top.setToolTip(4, way.proof)
        if in_use:
            top.setFont(0, scaled(self.tree.font(), 1.0, bold=True))
        self.tree.addTopLevelItem(top)
        for point in way.points:
            top.addChild(self._point_row(point, drawing))
        top.setExpanded(in_use or unfolded)
        if in_use:
            self.tree.setCurrentItem(top)

    def _point_row(self, point: IsolationPoint, drawing: Drawing) -> QTreeWidgetItem:
        place = f", {point.location}" if point.location else ""
        against = join([drawing.name_of(s) for s in point.parts_from])
        live = [f"{side} side stays live" for side, sources in point.live_sides.items() if sources]
        why = [*live, *point.why, *(["open already"] if point.is_open else [])]
        row = QTreeWidgetItem([f"{point.name}{place}", point.lock, against, f"{point.cost}", "; ".join(why)])
        row.setSizeHint(0, QSize(0, CONTROL_PX - 6))
        row.setData(0, _ITEM, point.item)
        for column in range(len(_HEADS)):
            row.setToolTip(column, row.text(column))
        return row

    def _activated(self, row: QTreeWidgetItem) -> None:
        item = row.data(0, _ITEM)
        if item:
            self.item_wanted.emit(item)
        else:
            self._use()

    def _use(self) -> None:
        row = self.tree.currentItem()
        if row is None:
            return
        top = row.parent() or row
        self.chosen.emit(tuple(top.data(0, _ITEMS) or ()))
