"""Dialogs and notes: about and cautions, keys, problems with a file, errors with cause and fix, the first-run note.

The dialogs that make papers and pictures are in ``papers``; they are offered here too, so that there is one door.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Protocol

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QAction, QGuiApplication, QIcon, QKeySequence
from PySide6.QtWidgets import (
    QDialog,
    QDialogButtonBox,
    QFrame,
    QHBoxLayout,
    QHeaderView,
    QLabel,
    QMessageBox,
    QPushButton,
    QTableWidget,
    QTableWidgetItem,
    QTextBrowser,
    QVBoxLayout,
    QWidget,
)

from oneline import __version__
from oneline.desk.panes.controls import Entry
from oneline.desk.panes.look import CONTROL_PX, STEP, Heading, Quiet, scaled
from oneline.desk.panes.papers import ExportChoice, ExportDialog, PrintChoice, PrintDialog
from oneline.model.cautions import CAUTIONS

#: Shown once; the cautions in the words they have everywhere.
FIRST_RUN = (
    "This is a worked sample. Look around: click an item to see its figures, change a rating and watch the findings. "
    "File, New begins your own drawing. Leave unknown what you do not know; it is listed for the next walk."
)


class ProblemLike(Protocol):
    """What is wrong with a file, as the file room says it."""

    @property
    def what(self) -> str: ...
    @property
    def where(self) -> str: ...
    @property
    def why(self) -> str: ...
    @property
    def what_to_do(self) -> str: ...


def _page(dialog: QDialog) -> QVBoxLayout:
    box = QVBoxLayout(dialog)
    box.setContentsMargins(STEP * 3, STEP * 2, STEP * 3, STEP * 2)
    box.setSpacing(STEP)
    return box


def _close_row(dialog: QDialog) -> QDialogButtonBox:
    row = QDialogButtonBox(QDialogButtonBox.StandardButton.Close, dialog)
    row.rejected.connect(dialog.reject)
    _plain_buttons(row)
    return row


def _plain_buttons(row: QDialogButtonBox) -> None:
    """Buttons of the common height with words only."""
    for button in row.buttons():
        button.setMinimumHeight(CONTROL_PX)
        button.setIcon(QIcon())


class AboutDialog(QDialog):
    """What the program is, its version, and what it cannot answer for."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("About Oneline")
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setMinimumWidth(440)
        box = _page(self)
        name = QLabel(f"Oneline {__version__}", self)
        name.setFont(scaled(name.font(), 1.5, bold=True))
        name.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        box.addWidget(name)
        what = QLabel("Single-line diagrams of low-voltage services, with the calculations that go with them.", self)
        what.setWordWrap(True)
        box.addWidget(what)
        box.addWidget(Heading("Before you rely on it", self))
        self.cautions = [QLabel(sentence, self) for sentence in CAUTIONS]
        for label in self.cautions:
            label.setWordWrap(True)
            label.setTextFormat(Qt.TextFormat.PlainText)
            label.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
            box.addWidget(label)
        box.addStretch(1)
        box.addWidget(_close_row(self))


class FirstRunNote(QFrame):
    """A note above the sheet at the first start. Nothing waits for it; ``dismissed`` comes when it is put away."""

    dismissed = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setFrameShape(QFrame.Shape.StyledPanel)
        self.setAutoFillBackground(True)
        words = QVBoxLayout()
        words.setSpacing(STEP // 2)
        first = QLabel(FIRST_RUN, self)
        cautions = Quiet(" ".join(CAUTIONS), self)
        for label in (first, cautions):
            label.setWordWrap(True)
            words.addWidget(label)
        self.button = QPushButton("Understood", self)
        self.button.setMinimumHeight(CONTROL_PX)
        self.button.setToolTip("Put this note away. It stays in Help, About and cautions.")
        self.button.clicked.connect(self.put_away)
        box = QHBoxLayout(self)
        box.setContentsMargins(STEP * 2, STEP, STEP * 2, STEP)
        box.setSpacing(STEP * 2)
        box.addLayout(words, 1)
        box.addWidget(self.button, 0, Qt.AlignmentFlag.AlignVCenter)

    def put_away(self) -> None:
        """Put the note away for good."""
        self.hide()
        self.dismissed.emit()


class KeysDialog(QDialog):
    """Every function with its keys, filtered while typing."""

    def __init__(self, actions: Iterable[QAction], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("Keys")
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.resize(640, 560)
        box = _page(self)
        self.words = Entry(self)
        self.words.setPlaceholderText("Filter by function or key")
        self.words.setClearButtonEnabled(True)
        self.words.setAccessibleName("Filter keys")
        self.words.textChanged.connect(self._filter)
        box.addWidget(self.words)
        rows = [(_plain(a.text()), _keys_of(a), _plain(a.statusTip() or a.toolTip())) for a in actions if a.text()]
        rows += _PANE_KEYS
        self.table = QTableWidget(len(rows), 3, self)
        self.table.setHorizontalHeaderLabels(["Function", "Keys", "What it does"])
        self.table.verticalHeader().hide()
        self.table.verticalHeader().setDefaultSectionSize(CONTROL_PX)
        self.table.setEditTriggers(QTableWidget.EditTrigger.NoEditTriggers)
        self.table.setSelectionBehavior(QTableWidget.SelectionBehavior.SelectRows)
        self.table.setShowGrid(False)
        self.table.setAlternatingRowColors(True)
        self.table.setTabKeyNavigation(False)
        self.table.setAccessibleName("Keys")
        for number, row in enumerate(rows):
            for column, text in enumerate(row):
                cell = QTableWidgetItem(text)
                cell.setToolTip(text)
                self.table.setItem(number, column, cell)
        head = self.table.horizontalHeader()
        head.setDefaultAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
        head.setSectionResizeMode(0, QHeaderView.ResizeMode.ResizeToContents)
        head.setSectionResizeMode(1, QHeaderView.ResizeMode.ResizeToContents)
        head.setSectionResizeMode(2, QHeaderView.ResizeMode.Stretch)
        box.addWidget(self.table, 1)
        box.addWidget(_close_row(self))
        self.words.setFocus()

    def _filter(self, text: str) -> None:
        wanted = text.casefold().split()
        for row in range(self.table.rowCount()):
            cells = (self.table.item(row, column) for column in range(3))
            line = " ".join(c.text() for c in cells if c is not None).casefold()
            self.table.setRowHidden(row, not all(w in line for w in wanted))


#: Keys that belong to the sheet or to a pane and are no functions of the window.
_PANE_KEYS = [
    (
        "On the sheet: nudge",
        "Arrows",
        "Moves the selected items by one square of the grid; Shift by five, Alt by a tenth",
    ),
    ("On the sheet: pan", "Space + drag", "Moves the paper; so do the middle button and the wheel"),
    ("On the sheet: zoom", "Ctrl + wheel", "Zooms at the pointer"),
    ("On the sheet: add to the selection", "Shift + click", "Adds an item or takes it off; so does Ctrl + click"),
    ("On the sheet: free of the grid", "Alt + drag", "Suspends snapping while dragging"),
    ("On the sheet: give up", "Esc", "Cancels the gesture, puts the tool down, then clears the selection"),
    ("In a pane: back to the sheet", "Esc", "Puts the keyboard on the sheet"),
    ("In circuits: next circuit", "Enter", "Takes over the cell and goes down; Shift+Enter goes up"),
    ("In circuits: add a circuit", "Insert", "Adds a circuit in the next free space"),
    ("In circuits: copy a circuit", "Ctrl+D", "Copies the marked circuit to the next free space"),
    ("In circuits: remove a circuit", "Ctrl+Delete", "Removes the marked circuit"),
    ("In circuits: empty a cell", "Delete", "Makes the value of the marked cell unknown"),
    ("In a field: make it unknown", "?", "Typed into a field, or the field emptied, means that nobody knows"),
    ("In a field: take it back", "Esc", "Brings back the value before what was typed"),
]


def _plain(text: str) -> str:
    return text.replace("&&", "\0").replace("&", "").replace("\0", "&").removesuffix(" …").split("\n")[0]


def _keys_of(action: QAction) -> str:
    native = QKeySequence.SequenceFormat.NativeText
    return ", ".join(k.toString(native) for k in action.shortcuts())


class ProblemsDialog(QDialog):
    """What is wrong with a file, problem by problem: what, where, why, and what to do. Can be copied."""

    def __init__(
        self, title: str, problems: Sequence[ProblemLike], parent: QWidget | None = None, lead: str = ""
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle(title)
        self.resize(560, 420)
        self._problems = list(problems)
        box = _page(self)
        count = len(self._problems)
        words = lead or f"{count} thing{'' if count == 1 else 's'} to look at. Everything else was taken over."
        self.lead = QLabel(words, self)
        self.lead.setWordWrap(True)
        box.addWidget(self.lead)
        self.list = QTextBrowser(self)
        self.list.setPlainText(self.text)
        self.list.setAccessibleName("Problems")
        box.addWidget(self.list, 1)
        row = _close_row(self)
        copy = row.addButton("Copy as text", QDialogButtonBox.ButtonRole.ActionRole)
        copy.setMinimumHeight(CONTROL_PX)
        copy.clicked.connect(lambda: QGuiApplication.clipboard().setText(self.text))
        box.addWidget(row)

    @property
    def text(self) -> str:
        """All problems as text."""
        blocks = []
        for number, problem in enumerate(self._problems, 1):
            lines = [f"{number}. {problem.what}"]
            for word, part in (("Where", problem.where), ("Why", problem.why), ("What to do", problem.what_to_do)):
                if part:
                    lines.append(f"    {word}: {part}")
            blocks.append("\n".join(lines))
        return "\n\n".join(blocks)


def error_box(parent: QWidget | None, problem: str, cause: str, fix: str, details: str = "") -> QMessageBox:
    """A message that says what happened, why, and what to do next; ``ValueError`` when one of the three is missing."""
    if not (problem.strip() and cause.strip() and fix.strip()):
        raise ValueError("a message needs the problem, its cause and what to do")
    box = QMessageBox(parent)
    box.setIcon(QMessageBox.Icon.Warning)
    box.setWindowTitle("Oneline")
    box.setTextFormat(Qt.TextFormat.PlainText)
    box.setText(problem)
    box.setInformativeText(f"{cause}\n\n{fix}")
    box.setStandardButtons(QMessageBox.StandardButton.Ok)
    box.button(QMessageBox.StandardButton.Ok).setIcon(QIcon())
    if details:
        box.setDetailedText(details)
    box.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
    return box


def show_error(parent: QWidget | None, problem: str, cause: str, fix: str, details: str = "") -> None:
    """Show such a message and wait until it is read."""
    box = error_box(parent, problem, cause, fix, details)
    box.exec()
    box.deleteLater()


__all__ = [
    "FIRST_RUN",
    "AboutDialog",
    "ExportChoice",
    "ExportDialog",
    "FirstRunNote",
    "KeysDialog",
    "PrintChoice",
    "PrintDialog",
    "ProblemLike",
    "ProblemsDialog",
    "error_box",
    "show_error",
]
