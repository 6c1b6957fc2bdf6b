"""What fits here: the largest addition at an item, a breaker for a sub-panel, and the limits in the order they are met."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication, QIcon
from PySide6.QtWidgets import (
    QAbstractItemView,
    QCheckBox,
    QDialog,
    QDialogButtonBox,
    QGridLayout,
    QHBoxLayout,
    QHeaderView,
    QLabel,
    QPushButton,
    QSizePolicy,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from oneline.desk.panes.look import CONTROL_PX, STEP, Heading, Quiet, scaled, tabular
from oneline.desk.slices import Sliced
from oneline.session.session import Session
from oneline.study.fits import Fits, find_fits
from oneline.study.fits_words import amperes_of, figure_of, fits_text, left_of, limit_name, sub_panel_words
from oneline.study.trials import Trials

_VIEWS = {"existing": "as it is", "proposed": "with the new work"}
_UPPER = "Not known yet, so these are upper bounds"
_HEADS = ("Limits in the order in which they are met", "Rating", "Load on it", "Left here")


class FitsDialog(QDialog):
    """Looks while it is open, in small slices; closing it ends the search."""

    def __init__(self, session: Session, item_id: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.session, self.item_id = session, item_id
        self.found: Fits | None = None
        self._trials = Trials(session.drawing, session.view)
        self._work = Sliced(self)
        self._work.done.connect(self._show)
        name = session.drawing.name_of(item_id)
        self.setWindowTitle("What fits here")
        self.resize(720, 620)
        box = QVBoxLayout(self)
        box.setContentsMargins(STEP * 3, STEP * 2, STEP * 3, STEP * 2)
        box.setSpacing(STEP)
        self.title = QLabel(f"What fits at {name}", self)
        self.title.setTextFormat(Qt.TextFormat.PlainText)
        self.title.setWordWrap(True)
        self.title.setFont(scaled(self.title.font(), 1.2, bold=True))
        self.note = Quiet("", self)
        self.note.setWordWrap(True)
        self.continuous = QCheckBox("The added load is continuous (3 hours or more)", self)
        self.continuous.setMinimumHeight(CONTROL_PX)
        self.continuous.toggled.connect(lambda _: self.look())
        self.figures = QWidget(self)
        self._grid = QGridLayout(self.figures)
        self._grid.setContentsMargins(0, 0, 0, 0)
        self._grid.setHorizontalSpacing(STEP * 2)
        self._grid.setVerticalSpacing(2)
        self._grid.setColumnStretch(3, 1)
        self.panel = QLabel(self)
        self.panel.setTextFormat(Qt.TextFormat.PlainText)
        self.panel.setWordWrap(True)
        self.table = self._table()
        self.needs_heading = Heading(_UPPER, self)
        self.needs = QLabel(self)
        self.needs.setTextFormat(Qt.TextFormat.PlainText)
        self.needs.setWordWrap(True)
        self.caution = Quiet("", self)
        self.caution.setWordWrap(True)
        for widget in (self.title, self.note, self.continuous, self.figures, self.panel):
            box.addWidget(widget)
        box.addWidget(self.table, 1)
        #: Takes the room of the table while there is none, so that the words stay together on top.
        self._gap = QWidget(self)
        self._gap.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Expanding)
        box.addWidget(self._gap, 1)
        for widget in (self.needs_heading, self.needs, self.caution):
            box.addWidget(widget)
        box.addLayout(self._buttons())
        self.look()

    def _table(self) -> QTableWidget:
        table = QTableWidget(0, len(_HEADS), self)
        table.setHorizontalHeaderLabels(_HEADS)
        table.verticalHeader().hide()
        table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        table.setShowGrid(False)
        table.setAlternatingRowColors(True)
        table.setTabKeyNavigation(False)
        table.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        table.setAccessibleName("Limits")
        head = table.horizontalHeader()
        head.setSectionResizeMode(0, QHeaderView.ResizeMode.Stretch)
        for column in range(1, len(_HEADS)):
            head.setSectionResizeMode(column, QHeaderView.ResizeMode.ResizeToContents)
        head.setHighlightSections(False)
        head.setDefaultAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        first = table.horizontalHeaderItem(0)
        if first is not None:
            first.setTextAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
        return table

    def _buttons(self) -> QHBoxLayout:
        row = QHBoxLayout()
        self.copy_button = QPushButton("Copy as text", self)
        self.copy_button.setMinimumHeight(CONTROL_PX)
        self.copy_button.setAutoDefault(False)
        self.copy_button.clicked.connect(self.copy)
        close = QDialogButtonBox(QDialogButtonBox.StandardButton.Close, self)
        close.rejected.connect(self.reject)
        for button in close.buttons():
            button.setMinimumHeight(CONTROL_PX)
            button.setIcon(QIcon())
        row.addWidget(self.copy_button)
        row.addStretch(1)
        row.addWidget(close)
        return row

    # ------------------------------------------------------------------------------------------------------- looking
    def look(self) -> None:
        """Begin to look; what is under way is dropped."""
        self.found = None
        self.note.setText("Trying additions on a copy of the drawing …")
        for widget in (self.figures, self.panel, self.table, self.needs_heading, self.needs):
            widget.hide()
        self._gap.show()
        self.copy_button.setEnabled(False)
        self._work.start(find_fits(self._trials, self.item_id, self.continuous.isChecked()))

    @property
    def busy(self) -> bool:
        return self._work.busy

    def done(self, result: int) -> None:
        self._work.cancel()
        super().done(result)

    def _show(self, found: object) -> None:
        assert isinstance(found, Fits)
        self.found = found
        self.copy_button.setEnabled(True)
        self.caution.setText(found.caution)
        if found.balanced is None:
            self.note.setText(found.why_not)
            return
        edition = self._trials.edition
        self.note.setText(f"{found.system}, {_VIEWS[self.session.view]}, {edition} edition")
        self._show_figures(found)
        self.panel.setText(sub_panel_words(found))
        self._show_limits(found)
        needs = found.needs or found.beyond
        self.needs_heading.setText(_UPPER if found.needs else "Perhaps more, once this is known")
        self.needs.setText("\n".join(f"– {need}" for need in needs))
        for widget in (self.figures, self.panel, self.table):
            widget.show()
        self._gap.hide()
        for widget in (self.needs_heading, self.needs):
            widget.setVisible(bool(needs))

    def _show_figures(self, found: Fits) -> None:
        while (entry := self._grid.takeAt(0)) is not None:
            if (widget := entry.widget()) is not None:
                widget.deleteLater()
        assert found.balanced is not None
        rows = [("On all phases together", found.balanced), *((f"On phase {a.phases} alone", a) for a in found.single)]
        for line, (words, addition) in enumerate(rows):
            at_most = "" if found.certain else "≤ "
            met = " and ".join(dict.fromkeys(m.name for m in addition.met[:2]))
            then = f"{'exceeded already:' if addition.over else 'then'} {met}" if met else ""
            texts = (words, f"{at_most}{amperes_of(addition)}", f"{addition.kva:.1f} kVA", then)
            for column, text in enumerate(texts):
                label: QLabel = Quiet("", self.figures) if column in (0, 3) else QLabel(self.figures)
                label.setTextFormat(Qt.TextFormat.PlainText)
                label.setText(text)
                if column in (1, 2):
                    label.setFont(tabular(scaled(label.font(), 1.0, bold=line == 0)))
                    label.setAlignment(Qt.AlignmentFlag.AlignRight)
                self._grid.addWidget(label, line, column)

    def _show_limits(self, found: Fits) -> None:
        self.table.setRowCount(len(found.limits))
        for row, limit in enumerate(found.limits):
            texts = (
                limit_name(limit),
                figure_of(limit.rating, limit),
                figure_of(limit.load, limit),
                left_of(limit).replace("-", "−"),
            )
            for column, text in enumerate(texts):
                cell = QTableWidgetItem(text)
                cell.setToolTip(text)
                side = Qt.AlignmentFlag.AlignLeft if column == 0 else Qt.AlignmentFlag.AlignRight
                cell.setTextAlignment(side | Qt.AlignmentFlag.AlignVCenter)
                self.table.setItem(row, column, cell)
            self.table.setRowHeight(row, CONTROL_PX - 2)

    def copy(self) -> None:
        """Put the whole answer on the clipboard as text."""
        if self.found is not None:
            QGuiApplication.clipboard().setText(fits_text(self.found, self.session.view, self._trials.edition) + "\n")
