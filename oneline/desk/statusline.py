"""The right end of the status bar: findings by state, zoom, when it was saved, and the caution that is always in sight."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from datetime import datetime

from PySide6.QtCore import QSize, Qt, QTimer
from PySide6.QtWidgets import QLabel, QStatusBar, QToolButton, QWidget

from oneline.desk.panes.marks import mark_icon
from oneline.model.cautions import CAUTIONS
from oneline.rules.verdict import Verdict

CAUTION = "An aid. A drawing never proves that anything is dead."
#: States that are counted in the bar, with their words.
COUNTED = {"fail": "fail", "unknown": "not known yet", "judge": "to be judged", "advice": "advice"}


def count_states(verdicts: Sequence[Verdict]) -> Counter[str]:
    """How many findings there are by state; rules tried beside others do not count by themselves."""
    return Counter(v.state for v in verdicts if not v.alternative)


class StatusLine:
    """Fills a status bar. Messages come and go at its left."""

    def __init__(self, bar: QStatusBar, show_findings: Callable[[], None], parent: QWidget) -> None:
        self._bar = bar
        bar.setSizeGripEnabled(False)
        self._counts: dict[str, QToolButton] = {}
        for state, words in COUNTED.items():
            button = QToolButton(parent)
            button.setAutoRaise(True)
            button.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonTextBesideIcon)
            button.setIconSize(QSize(14, 14))
            button.setMinimumSize(QSize(34, 24))
            button.setFocusPolicy(Qt.FocusPolicy.NoFocus)
            button.setAccessibleName(f"Findings: {words}")
            button.setStatusTip(f"Findings: {words}. Click for the list.")
            button.clicked.connect(lambda: show_findings())
            self._counts[state] = button
            bar.addPermanentWidget(button)
        self._missing = QLabel("Findings are not available", parent)
        self._missing.setToolTip("The study met a problem. What is shown may be incomplete: nothing has been checked.")
        self._missing.hide()
        bar.addPermanentWidget(self._missing)
        self._zoom = QLabel(parent)
        self._zoom.setToolTip("Zoom of the sheet")
        self._saved = QLabel(parent)
        self._saved.setToolTip("When the drawing was saved, and when the last recovery copy was kept")
        self._caution = QLabel(CAUTION, parent)
        self._caution.setToolTip("\n".join(CAUTIONS))
        for label in (self._zoom, self._saved, self._caution):
            label.setContentsMargins(8, 0, 8, 0)
            bar.addPermanentWidget(label)
        self._saved_at: datetime | None = None
        self._copied_at: datetime | None = None
        self._clean = True
        self._clock = QTimer(parent, interval=15_000)
        self._clock.timeout.connect(self._tell_saved)
        self._clock.start()

    def say(self, sentence: str) -> None:
        """Show a sentence until the next one; an empty one clears."""
        if sentence:
            self._bar.showMessage(sentence, 15_000)
        else:
            self._bar.clearMessage()

    def show_counts(self, verdicts: Sequence[Verdict]) -> None:
        """Count the findings."""
        self._missing.hide()
        counts = count_states(verdicts)
        for state, button in self._counts.items():
            number = counts.get(state, 0)
            button.setVisible(number > 0)
            button.setText(str(number))
            button.setToolTip(f"{number} {'finding' if number == 1 else 'findings'}: {COUNTED[state]}")

    def show_no_answers(self) -> None:
        """Say that nothing was checked: no count must look like no findings."""
        for button in self._counts.values():
            button.hide()
        self._missing.show()

    def recolor(self) -> None:
        """Paint the marks in the present theme's inks."""
        for state, button in self._counts.items():
            button.setIcon(mark_icon(state, button.palette(), 14, max(1.0, button.devicePixelRatioF())))

    def show_zoom(self, share: float) -> None:
        """Show the zoom; 1 is 100 %."""
        self._zoom.setText(f"{share * 100:.0f} %")

    def show_saved(self, saved: datetime | None, copied: datetime | None, clean: bool) -> None:
        """Show when the drawing was saved and kept."""
        self._saved_at, self._copied_at, self._clean = saved, copied, clean
        self._tell_saved()

    def _tell_saved(self) -> None:
        parts = []
        if self._saved_at is not None:
            parts.append(f"{'Saved' if self._clean else 'Changed since'} {self._saved_at:%H:%M}")
        elif not self._clean:
            parts.append("Not saved")
        if self._copied_at is not None and not self._clean:
            parts.append(f"copy kept {self._copied_at:%H:%M}")
        self._saved.setText(" · ".join(parts))
        self._saved.setVisible(bool(parts))
