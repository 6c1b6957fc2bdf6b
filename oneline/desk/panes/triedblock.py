"""What would help, in the details pane: a button that begins to try, then the changes that pass, each to be applied."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QSizePolicy, QVBoxLayout, QWidget

from oneline.desk.panes.look import CONTROL_PX, STEP, Heading, Quiet
from oneline.desk.panes.triedwork import TriedWork, arrows
from oneline.desk.panes.words import keep_together
from oneline.rules.verdict import Verdict
from oneline.study.remedies import Remedy
from oneline.study.tried import Tried


class TriedBlock(QWidget):
    """ "What would help". Nothing is tried until it is asked for."""

    def __init__(self, work: TriedWork, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.work = work
        box = QVBoxLayout(self)
        box.setContentsMargins(0, 0, 0, 0)
        box.setSpacing(STEP // 2)
        self.heading = Heading("What would help", self)
        self.button = QPushButton(self)
        self.button.setMinimumHeight(CONTROL_PX)
        self.button.setAutoDefault(False)
        self.button.clicked.connect(self._pressed)
        self.note = Quiet("", self)
        self.note.setWordWrap(True)
        self._rows = QWidget(self)
        self._rows_box = QVBoxLayout(self._rows)
        self._rows_box.setContentsMargins(0, 0, 0, 0)
        self._rows_box.setSpacing(STEP)
        for widget in (self.heading, self._rows, self.button, self.note):
            box.addWidget(widget)
        work.changed.connect(self._show)
        self._show()

    def put(self, verdicts: Sequence[Verdict]) -> None:
        """Offer to try something for these findings."""
        self.work.put(verdicts)

    def _pressed(self) -> None:
        if self.work.busy:
            self.work.stop()
        else:
            self.work.start()

    # ---------------------------------------------------------------------------------------------------------- rows
    def _show(self) -> None:
        work = self.work
        self._clear()
        self.setVisible(bool(work.verdicts))
        self.button.setVisible(not work.results)
        if work.busy:
            self.button.setText("Stop")
            self.button.setToolTip("Stop trying.")
        else:
            self.button.setText("Try what would help" if work.fails else "Find the values that pass")
            self.button.setToolTip(
                "Tries changes on a copy of the drawing and studies each. Your drawing stays as it is."
                if work.fails
                else "Puts values for what is not known into a copy of the drawing, and tells which of them pass."
            )
        for tried in work.results:
            self._add(tried, several=len(work.results) > 1)
        nothing = bool(work.results) and not any(t.lines for t in work.results)
        note = "Trying on a copy of the drawing …" if work.busy else ""
        self.note.setText("No value and no single change was found that decides this." if nothing else note)
        self.note.setVisible(bool(self.note.text()))
        self._rows.setVisible(bool(work.results) and not nothing)

    def _add(self, tried: Tried, several: bool) -> None:
        if several and tried.lines:
            section = tried.verdict.section.partition(" (not confirmed")[0]
            self._rows_box.addWidget(self._line(section, quiet=True))
        if tried.remedies is not None and tried.remedies.found:
            for remedy in tried.remedies.found:
                self._rows_box.addWidget(self._remedy(remedy))
        else:
            for text in tried.lines:
                self._rows_box.addWidget(self._line(text))

    def _line(self, text: str, quiet: bool = False) -> QLabel:
        label = Quiet("", self._rows) if quiet else QLabel(self._rows)
        label.setTextFormat(Qt.TextFormat.PlainText)
        label.setText(keep_together(arrows(text)))
        label.setWordWrap(True)
        label.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        return label

    def _remedy(self, remedy: Remedy) -> QWidget:
        """A change that passes, what it costs elsewhere, and the button that makes it."""
        row = QWidget(self._rows)
        line = QHBoxLayout(row)
        line.setContentsMargins(0, 0, 0, 0)
        line.setSpacing(STEP)
        words = QVBoxLayout()
        words.setSpacing(0)
        words.addWidget(self._line(remedy.text))
        if remedy.existing:
            words.addWidget(self._line(f"Existing: {', '.join(remedy.existing)} would have to be changed.", quiet=True))
        for cost in remedy.costs:
            words.addWidget(self._line(f"Then {cost}", quiet=True))
        line.addLayout(words, 1)
        apply = QPushButton("Apply", row)
        apply.setMinimumHeight(CONTROL_PX)
        apply.setAutoDefault(False)
        apply.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)
        apply.setToolTip(_tip(remedy))
        apply.setAccessibleName(f"Apply {remedy.text}")
        apply.clicked.connect(lambda: self.work.apply(remedy))
        line.addWidget(apply, 0, Qt.AlignmentFlag.AlignTop)
        return row

    @property
    def apply_buttons(self) -> list[QPushButton]:
        """The buttons that make a change, from the top."""
        return [b for b in self._rows.findChildren(QPushButton) if b.text() == "Apply"]

    def _clear(self) -> None:
        while (entry := self._rows_box.takeAt(0)) is not None:
            widget = entry.widget()
            if widget is not None:
                widget.hide()
                widget.setParent(None)
                widget.deleteLater()


def _tip(remedy: Remedy) -> str:
    tip = "Make this change. Undo takes it back."
    if remedy.existing:
        tip += (
            "\nExisting conductors become to be removed, with new ones beside them; other existing items are changed in "
            "place, also in the existing view, and their notes keep what they were."
        )
    return f"{tip}\nThen: {arrows(remedy.then)}" if remedy.then else tip
