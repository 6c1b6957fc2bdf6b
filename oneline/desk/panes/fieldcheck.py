"""The field-check pane: what to find out on the next walk-through, most useful first."""

from __future__ import annotations

from PySide6.QtCore import QModelIndex, QPersistentModelIndex, QRect, QSize, Qt
from PySide6.QtGui import QFont, QGuiApplication, QTextDocument
from PySide6.QtPrintSupport import QPrintDialog, QPrinter
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHBoxLayout,
    QHeaderView,
    QLabel,
    QPushButton,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QTreeWidget,
    QTreeWidgetItem,
    QVBoxLayout,
    QWidget,
)

from oneline.desk.panes.assume import AssumeBar
from oneline.desk.panes.changes import change_project
from oneline.desk.panes.look import CONTROL_PX, NARROW_PX, STEP, scaled
from oneline.desk.panes.needlist import (
    Assumption,
    NeedGroup,
    as_text,
    assumed_words,
    assumptions,
    field_checks,
    settles,
)
from oneline.desk.panes.pane import Host, LivePane
from oneline.model.cautions import CAUTION_LINE
from oneline.session.session import Session

_ITEM_ROLE = Qt.ItemDataRole.UserRole + 1


class FieldCheckPane(LivePane):
    """Unknown facts by item; a click or an arrow key goes to the item. Copy or print it for the walk."""

    watches = frozenset({"study", "view", "drawing"})
    delay_ms = 150

    def __init__(self, session: Session, host: Host, parent: QWidget | None = None) -> None:
        super().__init__(session, host, parent)
        self.setMinimumWidth(NARROW_PX - 40)
        self._leading = False
        self.groups: list[NeedGroup] = []
        self.count = QLabel(self)
        self.count.setWordWrap(True)
        self.tree = QTreeWidget(self)
        self.tree.setColumnCount(2)
        self.tree.setHeaderLabels(["What to find out", "Settles"])
        self.tree.setRootIsDecorated(False)
        self.tree.setItemsExpandable(False)
        self.tree.setWordWrap(True)
        self.tree.setItemDelegate(_Wrapped(self.tree))
        self.tree.setIndentation(STEP * 2)
        self.tree.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.tree.setAccessibleName("Field checks")
        head = self.tree.header()
        head.setStretchLastSection(False)
        head.setSectionResizeMode(0, QHeaderView.ResizeMode.Stretch)
        head.setSectionResizeMode(1, QHeaderView.ResizeMode.ResizeToContents)
        head.sectionResized.connect(lambda *_: self.tree.scheduleDelayedItemsLayout())
        self.tree.selectionModel().currentChanged.connect(self._current_changed)
        self.tree.clicked.connect(self._go)
        self.copy_button = self._button("Copy as text", "Copy the list with a line to write on for every fact.")
        self.copy_button.clicked.connect(self._copy)
        self.print_button = self._button("Print", "Print the list on the printer of your choice.")
        self.print_button.clicked.connect(self._print)
        top = QHBoxLayout()
        top.setSpacing(STEP)
        top.addWidget(self.count, 1)
        top.addWidget(self.copy_button)
        top.addWidget(self.print_button)
        box = QVBoxLayout(self)
        box.setContentsMargins(STEP, STEP // 2, STEP, STEP)
        box.setSpacing(STEP // 2)
        self.assume = AssumeBar(self)
        self.assume.assumed.connect(self._assume)
        self.assume.taken_back.connect(self._take_back)
        box.addLayout(top)
        box.addWidget(self.assume)
        box.addWidget(self.tree, 1)

    def _button(self, text: str, tip: str) -> QPushButton:
        button = QPushButton(text, self)
        button.setMinimumHeight(CONTROL_PX)
        button.setAutoDefault(False)
        button.setToolTip(tip)
        return button

    def main_widget(self) -> QWidget:
        return self.tree

    def refresh(self, kinds: frozenset[str]) -> None:
        session = self.session
        self.groups = field_checks(session.study, session.drawing)
        self.assume.put(assumptions(session.study), session.drawing.project)
        bold = scaled(self.tree.font(), 1.0, bold=True)
        self._leading = True
        self.tree.clear()
        for group in self.groups:
            top = self._add(None, f"{group.name}{f'  ·  {group.location}' if group.location else ''}", "", group.item)
            top.setFont(0, bold)
            for need in group.needs:
                self._add(top, need.phrase, settles(need), group.item)
        self.tree.expandAll()
        self._leading = False
        facts = sum(len(g.needs) for g in self.groups)
        self.tree.setVisible(bool(facts))
        for button in (self.copy_button, self.print_button):
            button.setEnabled(bool(facts))
        self.count.setText(_summary(facts, bool(session.drawing.items)))

    def _add(self, parent: QTreeWidgetItem | None, text: str, count: str, item_id: str) -> QTreeWidgetItem:
        row = QTreeWidgetItem([text, count])
        row.setToolTip(0, text)
        row.setData(0, _ITEM_ROLE, item_id)
        row.setTextAlignment(1, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        if parent is None:
            self.tree.addTopLevelItem(row)
        else:
            parent.addChild(row)
        return row

    def _current_changed(self, current: QModelIndex, previous: QModelIndex) -> None:
        if not self._leading:
            self._go(current)

    def _go(self, index: QModelIndex) -> None:
        item_id = index.siblingAtColumn(0).data(_ITEM_ROLE) if index.isValid() else ""
        if item_id:
            self.host.show_item(item_id)

    def _assume(self, assumption: Assumption) -> None:
        label = f"Assume {assumption.what} for the drawing"
        change_project(self.session, label, **{assumption.field: assumption.stored})
        self.host.say(f"{assumption.what} is assumed now. What rests on it says assumed.")

    def _take_back(self, field: str) -> None:
        what = assumed_words(self.session.drawing.project)[field]
        change_project(self.session, f"Stop assuming {what} for the drawing", **{field: None})

    @property
    def text(self) -> str:
        """The list as text."""
        return as_text(self.groups, self.session.drawing.project, CAUTION_LINE)

    def _copy(self) -> None:
        QGuiApplication.clipboard().setText(self.text)
        self.host.say("The field-check list is on the clipboard.")

    def _print(self) -> None:
        printer = QPrinter(QPrinter.PrinterMode.HighResolution)
        dialog = QPrintDialog(printer, self)
        if dialog.exec() == QPrintDialog.DialogCode.Accepted:
            self.print_on(printer)
        dialog.deleteLater()

    def print_on(self, printer: QPrinter) -> None:
        """Print the list, black on white."""
        document = QTextDocument()
        font = QFont()
        font.setStyleHint(QFont.StyleHint.SansSerif)
        font.setPointSize(11)
        document.setDefaultFont(font)
        document.setPlainText(self.text)
        document.print_(printer)


class _Wrapped(QStyledItemDelegate):
    """Rows as high as their words need, and high enough to touch."""

    def __init__(self, tree: QTreeWidget) -> None:
        super().__init__(tree)
        self._tree = tree

    def sizeHint(self, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex) -> QSize:
        hint = super().sizeHint(option, index)
        if index.column() == 1:
            return QSize(hint.width() + STEP, CONTROL_PX - 4)
        inset = self._tree.indentation() * (1 if index.parent().isValid() else 0)
        width = max(self._tree.columnWidth(0) - inset - STEP, 40)
        metrics = self._tree.fontMetrics()
        text = metrics.boundingRect(QRect(0, 0, width, 10_000), Qt.TextFlag.TextWordWrap, str(index.data() or ""))
        return QSize(40, max(text.height() + STEP, CONTROL_PX - 4))


def _summary(facts: int, has_items: bool) -> str:
    if not has_items:
        return "Nothing is drawn yet. What you leave unknown while you survey is listed here."
    if not facts:
        return "Nothing that matters is unknown in this view."
    return f"{facts} fact{'' if facts == 1 else 's'} to find out. The ones that settle most come first."
