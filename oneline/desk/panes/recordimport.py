"""The dialog that reads interval data: what the file holds, what it leaves open, what it shows; then the record is added."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import (
    QAbstractItemView,
    QDialog,
    QFileDialog,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QScrollArea,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from oneline.desk.panes.controls import Choice, Segments
from oneline.desk.panes.look import CONTROL_PX, STEP, Heading, MessageLabel, Quiet, scaled
from oneline.desk.panes.recordplot import RecordPlot
from oneline.files import CannotOpen
from oneline.files.intervals import Imported, Question, read_recording, to_record
from oneline.model import DemandRecord, specs
from oneline.sheet.recordplot import PlotLines
from oneline.study.record_chart import lone_record
from oneline.study.record_words import peak_of, record_rows

FILTER = "Interval data (*.csv *.txt *.tsv *.xml);;All files (*)"
_FLAGS = (("Yes", True), ("No", False), ("?", None))
_AS_FOUND = "as found"
_ROWS = 4
#: Rows of the summary that the dialog asks for itself.
_ASKED_HERE = ("Building in normal use", "Larger of heating and cooling in it", "Source", "SHA-256 of the file", "File")


def file_to_import(parent: QWidget, folder: str = "") -> Path | None:
    """The file of a recorder or a utility, or ``None``."""
    name, _ = QFileDialog.getOpenFileName(parent, "Import interval data", folder, FILTER)
    return Path(name) if name else None


class ImportDialog(QDialog):
    """Shows how a file is read. ``record`` is the demand record once nothing is open and it was added."""

    def __init__(self, path: Path, item_name: str, edition: int, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("Import interval data")
        self.resize(900, 720)
        self._path, self._edition = path, edition
        self._item_name = item_name
        self.answers: dict[str, str] = {}
        #: What was said about the recording that no file tells.
        self.told: dict[str, Any] = {"occupied": None, "seasonal_included": None}
        self.imported: Imported | None = None
        self.record: DemandRecord | None = None
        self.choices: dict[str, Choice] = {}
        self._build(item_name)
        self.read()

    # --------------------------------------------------------------------------------------------------------- layout
    def _build(self, item_name: str) -> None:
        outer = QVBoxLayout(self)
        outer.setContentsMargins(STEP * 2, STEP * 2, STEP * 2, STEP * 2)
        outer.setSpacing(STEP)
        self.title = QLabel(f"{self._path.name}, for {item_name}", self)
        self.title.setTextFormat(Qt.TextFormat.PlainText)
        self.title.setFont(scaled(self.title.font(), 1.2, bold=True))
        outer.addWidget(self.title)
        area = QScrollArea(self)
        area.setWidgetResizable(True)
        area.setFrameShape(QScrollArea.Shape.NoFrame)
        area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        page = QWidget(area)
        self._box = QVBoxLayout(page)
        self._box.setContentsMargins(0, 0, STEP // 2, 0)
        self._box.setSpacing(STEP // 2)
        self.message = MessageLabel(page)
        self._box.addWidget(self.message)
        self._question_heading = Heading("What the file leaves open", page)
        self._box.addWidget(self._question_heading)
        self._questions = QGridLayout()
        self._questions.setSpacing(STEP // 2)
        self._questions.setColumnStretch(0, 1)
        self._questions.setColumnStretch(1, 1)
        self._box.addLayout(self._questions)
        self._build_table(page)
        self._build_result(page)
        self._box.addStretch(1)
        area.setWidget(page)
        outer.addWidget(area, 1)
        outer.addWidget(self._build_told())
        outer.addLayout(self._buttons())

    def _build_table(self, page: QWidget) -> None:
        self._table_heading = Heading("First rows, and what each column is taken for", page)
        self._box.addWidget(self._table_heading)
        self.table = QTableWidget(0, 0, page)
        self.table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.table.setSelectionMode(QAbstractItemView.SelectionMode.NoSelection)
        self.table.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.table.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.table.verticalHeader().hide()
        self.table.setAccessibleName("First rows of the file")
        self._box.addWidget(self.table)
        row = QHBoxLayout()
        self._column_label = QLabel("Column of the demand", page)
        self.column = Choice(page)
        self.column.setAccessibleName("Column of the demand")
        self.column.setToolTip("Take another column than the one that was found.")
        self.column.activated.connect(self._take_column)
        row.addWidget(self._column_label)
        row.addWidget(self.column)
        row.addStretch(1)
        self._box.addLayout(row)

    def _build_result(self, page: QWidget) -> None:
        self._result_heading = Heading("What was recorded", page)
        self._box.addWidget(self._result_heading)
        self.plot = RecordPlot(page, 210)
        self.plot.setMinimumHeight(190)
        self._box.addWidget(self.plot)
        self.summary = QGridLayout()
        self.summary.setHorizontalSpacing(STEP * 2)
        self.summary.setVerticalSpacing(STEP // 4)
        self.summary.setColumnStretch(1, 1)
        self.summary.setColumnStretch(3, 1)
        self._box.addLayout(self.summary)
        self.notes = Quiet("", page)
        self.notes.setWordWrap(True)
        self._box.addWidget(self.notes)

    def _build_told(self) -> QWidget:
        """Below the file, always in sight: what no file tells, and whether the record may stand for the load."""
        self._told_part = QWidget(self)
        box = QVBoxLayout(self._told_part)
        box.setContentsMargins(0, 0, 0, 0)
        box.setSpacing(STEP // 2)
        box.addWidget(Heading("What no file tells", self._told_part))
        grid = QGridLayout()
        grid.setHorizontalSpacing(STEP * 2)
        grid.setVerticalSpacing(STEP // 2)
        self.occupied = self._flag(grid, 0, "Was the building in normal use meanwhile?", "occupied")
        self.seasonal = self._flag(
            grid, 1, "Is the larger of heating and cooling in it, or added?", "seasonal_included"
        )
        grid.setColumnStretch(2, 1)
        box.addLayout(grid)
        self.verdict = QLabel("", self._told_part)
        self.verdict.setTextFormat(Qt.TextFormat.PlainText)
        self.verdict.setWordWrap(True)
        box.addWidget(self.verdict)
        return self._told_part

    def _flag(self, grid: QGridLayout, row: int, words: str, field: str) -> Segments:
        name = specs(DemandRecord)[field].label
        label = QLabel(words, self)
        segments = Segments(_FLAGS, self)
        segments.name(name)
        segments.put(None)
        segments.picked.connect(lambda value, field=field: self.say(field, value))
        grid.addWidget(label, row, 0)
        grid.addWidget(segments, row, 1)
        return segments

    def _buttons(self) -> QHBoxLayout:
        row = QHBoxLayout()
        other = QPushButton("Another file …", self)
        other.setToolTip("Choose another file.")
        other.clicked.connect(self._another)
        self.add_button = QPushButton("Add the record", self)
        self.add_button.setToolTip("Add the demand record to the item.")
        self.add_button.setDefault(True)
        self.add_button.clicked.connect(self.accept)
        cancel = QPushButton("Cancel", self)
        cancel.setToolTip("Close without a record.")
        cancel.clicked.connect(self.reject)
        row.addWidget(other)
        row.addStretch(1)
        for button in (self.add_button, cancel):
            row.addWidget(button)
        for button in (other, self.add_button, cancel):
            button.setMinimumHeight(CONTROL_PX)
        return row

    # -------------------------------------------------------------------------------------------------------- reading
    def _another(self) -> None:
        path = file_to_import(self, str(self._path.parent))
        if path is not None:
            self._path, self.answers = path, {}
            self.title.setText(f"{path.name}, for {self._item_name}")
            self.read()

    def read(self) -> None:
        """Read the file with the answers given so far and show what comes of it."""
        QGuiApplication.setOverrideCursor(Qt.CursorShape.WaitCursor)
        self.imported = None
        try:
            self.imported = read_recording(self._path, self.answers)
            self.message.clear_message()
        except CannotOpen as bad:
            self.message.show_problem(f"{bad.problem.what}. {bad.problem.why} {bad.problem.what_to_do}")
        finally:
            QGuiApplication.restoreOverrideCursor()
        if self.imported is not None:
            self._show_questions(self.imported.questions)
            self._show_table(self.imported)
        self._show_result()

    def _show_questions(self, questions: tuple[Question, ...]) -> None:
        while (taken := self._questions.takeAt(0)) is not None:
            if (widget := taken.widget()) is not None:
                widget.hide()
                widget.deleteLater()
        self.choices = {}
        for row, question in enumerate(q for q in questions if q.name != "column" or not self._override(q)):
            label = QLabel(question.words, self)
            label.setTextFormat(Qt.TextFormat.PlainText)
            label.setWordWrap(True)
            choice = Choice(self)
            rows: list[tuple[str, str]] = [("choose …", "")] if not question.answer else []
            choice.fill([*rows, *((c.words, c.key) for c in question.choices)])
            choice.put(question.answer)
            choice.setAccessibleName(question.words)
            choice.setToolTip(question.words)
            choice.setMinimumContentsLength(30)
            choice.activated.connect(lambda _n, name=question.name: self._answer(name))
            self._questions.addWidget(label, row, 0)
            self._questions.addWidget(choice, row, 1)
            self.choices[question.name] = choice
        self._question_heading.setVisible(bool(self.choices))

    def _override(self, question: Question) -> bool:
        """Whether the column was named by the user and not asked for by the file."""
        return bool(question.answer) and self.column.currentData() == question.answer

    def _answer(self, name: str) -> None:
        key = self.choices[name].currentData()
        if key:
            self.answers[name] = key
            self.read()

    def _take_column(self) -> None:
        wanted = self.column.currentData()
        self.answers.pop("unit", None)
        if wanted:
            self.answers["column"] = wanted
        else:
            self.answers.pop("column", None)
        self.read()

    # -------------------------------------------------------------------------------------------------------- showing
    def _show_table(self, imported: Imported) -> None:
        preview = imported.preview
        for part in (self._table_heading, self.table):
            part.setVisible(bool(preview.names))
        for chooser in (self._column_label, self.column):
            chooser.setVisible(bool(preview.names) and "column" not in self.choices)
        if not preview.names:
            return
        self.table.setColumnCount(len(preview.names))
        self.table.setRowCount(1 + min(_ROWS, len(preview.rows)))
        self.table.setHorizontalHeaderLabels([name[:30] for name in preview.names])
        for n in range(len(preview.names)):
            taken = QTableWidgetItem(preview.used.get(n, "—"))
            font = taken.font()
            font.setBold(n in preview.used)
            taken.setFont(font)
            self.table.setItem(0, n, taken)
            for r, row in enumerate(preview.rows[:_ROWS]):
                self.table.setItem(r + 1, n, QTableWidgetItem(row[n] if n < len(row) else ""))
        self.table.resizeColumnsToContents()
        self.table.resizeRowsToContents()
        height = (
            self.table.horizontalHeader().sizeHint().height() + 4 + self.table.horizontalScrollBar().sizeHint().height()
        )
        self.table.setFixedHeight(height + sum(self.table.rowHeight(r) for r in range(self.table.rowCount())))
        now = self.answers.get("column", "")
        free = [(name, str(n + 1)) for n, name in enumerate(preview.names) if preview.used.get(n) != "time"]
        self.column.fill([(_AS_FOUND, ""), *free])
        self.column.put(now if now in {key for _, key in free} else "")

    def _show_result(self) -> None:
        recording = self.imported.recording if self.imported is not None else None
        self.record = to_record(recording) if recording is not None else None
        there = self.record is not None
        for part in (self._result_heading, self.plot, self._told_part):
            part.setVisible(there)
        notes = self.imported.notes if self.imported is not None else ()
        self.notes.setText("\n".join(notes))
        self.notes.setVisible(bool(notes))
        self.add_button.setEnabled(there)
        while (taken := self.summary.takeAt(0)) is not None:
            if (widget := taken.widget()) is not None:
                widget.hide()
                widget.deleteLater()
        if self.record is not None:
            _, peak = peak_of(self.record)
            self.plot.put(self.record.series, PlotLines(peak, self.record.peak_at))
            rows = [(a, b) for a, b in record_rows(self.record) if a not in _ASKED_HERE]
            half = (len(rows) + 1) // 2
            for n, (label, words) in enumerate(rows):
                side, row = divmod(n, half)
                quiet_label, said = Quiet(label, self), QLabel(words, self)
                said.setTextFormat(Qt.TextFormat.PlainText)
                said.setWordWrap(True)
                self.summary.addWidget(quiet_label, row, 2 * side, Qt.AlignmentFlag.AlignTop)
                self.summary.addWidget(said, row, 2 * side + 1, Qt.AlignmentFlag.AlignTop)
        elif self.imported is not None:
            self.message.show_echo("Answer what the file leaves open; then its record is shown here.")
        self._judge()

    def say(self, field: str, value: bool | None) -> None:
        """Take down what was said about the recording that no file tells."""
        self.told[field] = value
        self._judge()

    def _judge(self) -> None:
        """Whether the record may stand for the load, as far as it tells by itself."""
        if self.record is None:
            self.verdict.setText("")
            return
        self.record = replace(self.record, **self.told)
        _, lines = lone_record(self.record, self._edition)
        self.verdict.setText(" ".join(lines).replace("this point", self._item_name))
