"""Locks, tests and states of an outage, and what else the plan found: who is dark when, spares, notes on readings."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtWidgets import (
    QAbstractItemView,
    QPushButton,
    QTreeWidget,
    QTreeWidgetItem,
    QVBoxLayout,
    QWidget,
)

from oneline.desk.panes.look import CONTROL_PX, STEP, scaled
from oneline.desk.panes.outagedeeds import deeds
from oneline.desk.panes.outagewords import test_words
from oneline.model import Drawing, VoltageTest
from oneline.outage.results import Plan, TestCard

#: Kind, key and texts of a row.
Row = tuple[str, str, tuple[str, ...]]
_KIND, _KEY = Qt.ItemDataRole.UserRole + 1, Qt.ItemDataRole.UserRole + 2


class _Tree(QTreeWidget):
    """Rows under bold headings; ``wanted(kind, key)`` on Enter or a double click."""

    wanted = Signal(str, str)

    def __init__(self, heads: tuple[str, ...], name: str, widths: tuple[int, ...], parent: QWidget) -> None:
        super().__init__(parent)
        self.setColumnCount(len(heads))
        self.setHeaderLabels(list(heads))
        self.setAccessibleName(name)
        self.setRootIsDecorated(False)
        self.setItemsExpandable(False)
        self.setIndentation(STEP * 2)
        self.setWordWrap(True)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.header().setStretchLastSection(True)
        for column, width in enumerate(widths):
            self.header().resizeSection(column, width)
        self.itemActivated.connect(lambda row: self.wanted.emit(*self.of(row)))

    def of(self, row: QTreeWidgetItem | None) -> tuple[str, str]:
        """(kind, key) of a row."""
        return ("", "") if row is None else (row.data(0, _KIND) or "", row.data(0, _KEY) or "")

    @property
    def current(self) -> tuple[str, str]:
        return self.of(self.currentItem())

    def put(self, groups: Iterable[tuple[str, Sequence[Row]]]) -> None:
        """Show (heading, [(kind, key, texts)]); the current row stays current."""
        kept = self.current
        self.clear()
        bold = scaled(self.font(), 1.0, bold=True)
        for heading, rows in groups:
            if not rows:
                continue
            top = QTreeWidgetItem([heading])
            top.setFont(0, bold)
            top.setFirstColumnSpanned(True)
            self.addTopLevelItem(top)
            for kind, key, texts in rows:
                row = QTreeWidgetItem(list(texts))
                row.setSizeHint(0, QSize(0, CONTROL_PX - 6))
                row.setData(0, _KIND, kind)
                row.setData(0, _KEY, key)
                for column, text in enumerate(texts):
                    row.setToolTip(column, text)
                top.addChild(row)
                if (kind, key) == kept:
                    self.setCurrentItem(row)
        self.expandAll()
        first = self.topLevelItem(0)
        row_of_it = first.child(0) if first is not None else None
        if self.currentItem() is None and row_of_it is not None:
            self.setCurrentItem(row_of_it)


class RecordsTab(QWidget):
    """``lock(item)``, ``unlock(item)``, ``test(item, terminal)``, ``untest(test)``: what the user wants on record."""

    lock = Signal(str)
    unlock = Signal(str)
    test = Signal(str, str)
    untest = Signal(object)
    item_wanted = Signal(str)

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.plan: Plan | None = None
        self.tree = _Tree(("What", "Where", "On record"), "Locks and tests", (250, 150), self)
        self.tree.wanted.connect(lambda kind, key: self._act(kind, key))
        self.tree.currentItemChanged.connect(lambda *_: self._enable())
        self.hang = self._button("Hang lock", "Put on record that your lock hangs there (Enter).")
        self.take = self._button("Take it off", "Take the lock off the record. It ends what was verified behind it.")
        self.enter = self._button("Enter test …", "Enter a test for absence of voltage: all pairs of the card (Enter).")
        self.drop = self._button("Remove test", "Take the last test at this point off the record.")
        self.hang.clicked.connect(lambda: self.lock.emit(self.tree.current[1]))
        self.take.clicked.connect(lambda: self.unlock.emit(self.tree.current[1]))
        self.enter.clicked.connect(self.enter_current)
        self.drop.clicked.connect(self._drop)
        #: The functions of this tab, beside its name.
        self.deeds = deeds(self.hang, self.take, self.enter, self.drop)
        box = QVBoxLayout(self)
        box.setContentsMargins(0, STEP // 2, 0, 0)
        box.setSpacing(STEP // 2)
        box.addWidget(self.tree, 1)

    def _button(self, text: str, tip: str) -> QPushButton:
        button = QPushButton(text, self)
        button.setMinimumHeight(CONTROL_PX)
        button.setAutoDefault(False)
        button.setToolTip(tip)
        return button

    def put(self, plan: Plan, drawing: Drawing) -> None:
        """Show the records of a plan."""
        self.plan = plan
        zone = plan.answer.zone
        hung = {lock.item: lock for lock in zone.locks}
        points = plan.isolation.held if plan.isolation is not None else ()
        locks = []
        for p in points:
            record = hung.get(p.item)
            words = (
                f"{record.number or p.lock} hung by {record.by or 'nobody named'}, {record.when}"
                if record
                else "no lock"
            )
            locks.append(("lock", p.item, (f"{p.lock}  {p.name}".strip(), p.location, words)))
        others = [lock for lock in zone.locks if all(lock.item != p.item for p in points)]
        locks += [
            (
                "lock",
                r.item,
                (f"{r.number}  {drawing.name_of(r.item)}", "", f"hung by {r.by}, {r.when}; no isolation point"),
            )
            for r in others
        ]
        tests = [
            ("test", f"{c.item}:{c.terminal}", (f"{c.name}, {c.terminal}", c.place, self._tested(c)))
            for c in plan.cards
        ]
        states = [
            ("item", i, (drawing.name_of(i), drawing.get(i).location or "", plan.states.get(i, "not in this view")))
            for i in zone.items
            if i in drawing
        ]
        self.tree.put((("Locks", locks), ("Tests for absence of voltage", tests), ("What is worked on", states)))
        self._enable()

    def _last(self, key: str) -> VoltageTest | None:
        assert self.plan is not None
        return next((t for t in reversed(self.plan.answer.zone.tests) if f"{t.item}:{t.terminal}" == key), None)

    def _tested(self, card: TestCard) -> str:
        test = self._last(f"{card.item}:{card.terminal}")
        return "not tested" if test is None else test_words(test)

    def card(self, item: str, terminal: str) -> TestCard | None:
        """The test card of a terminal."""
        if self.plan is None:
            return None
        return next((c for c in self.plan.cards if (c.item, c.terminal) == (item, terminal)), None)

    def enter_current(self) -> None:
        """Ask for the form of the current test, else of the first that is not on record."""
        kind, key = self.tree.current
        if kind != "test" and self.plan is not None:
            keys = [f"{c.item}:{c.terminal}" for c in self.plan.cards]
            key = next((k for k in keys if self._last(k) is None), keys[0] if keys else "")
        if key:
            self.test.emit(*key.rsplit(":", 1))

    def _act(self, kind: str, key: str) -> None:
        if kind == "lock" and self.hang.isEnabled():
            self.lock.emit(key)
        elif kind == "test":
            self.enter_current()
        elif key:
            self.item_wanted.emit(key)

    def _drop(self) -> None:
        test = self._last(self.tree.current[1])
        if test is not None:
            self.untest.emit(test)

    def _enable(self) -> None:
        kind, key = self.tree.current
        hung = self.plan is not None and any(lock.item == key for lock in self.plan.answer.zone.locks)
        self.hang.setEnabled(kind == "lock" and not hung)
        self.take.setEnabled(kind == "lock" and hung)
        self.enter.setEnabled(self.plan is not None and bool(self.plan.cards))
        self.drop.setEnabled(kind == "test" and self._last(key) is not None)


class AlsoTab(QWidget):
    """Who is without power and when, what can be done when a device does not close again, what readings show."""

    item_wanted = Signal(str)

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.tree = _Tree(("What", "Where", "How"), "Dark items, spares and readings", (230, 130), self)
        self.tree.wanted.connect(lambda _kind, key: self.item_wanted.emit(key) if key else None)
        box = QVBoxLayout(self)
        box.setContentsMargins(0, STEP // 2, 0, 0)
        box.addWidget(self.tree, 1)

    def put(self, plan: Plan) -> None:
        """Show the rest of a plan."""
        dark = []
        for d in plan.dark:
            till = "to the end" if d.last_step is None else f"to step {d.last_step}"
            minutes = f", {d.to_min - d.from_min:.0f} min" if d.from_min is not None and d.to_min is not None else ""
            matters = f"; {d.matters}" if d.matters else ""
            dark.append(("item", d.item, (d.name, d.place, f"from step {d.first_step} {till}{minutes}{matters}")))
        spares = [("item", s.device, (f"If {s.name} does not close", "", s.says)) for s in plan.spares]
        notes = [("item", n.item, (n.name, "", n.says)) for n in plan.notes]
        self.tree.put((("Without power", dark), ("Spare plan", spares), ("Readings", notes)))
