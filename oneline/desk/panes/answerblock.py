"""The answers about an item in the details pane: a line for each finding, and a small table of the rules tried."""

from __future__ import annotations

import re
from collections.abc import Sequence
from html import escape

from PySide6.QtCore import QEvent, QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QPainter, QPaintEvent, QPalette, QPen
from PySide6.QtWidgets import QAbstractButton, QGridLayout, QHBoxLayout, QLabel, QSizePolicy, QVBoxLayout, QWidget

from oneline.desk.panes.answers import Answer, Answers, TriedRule
from oneline.desk.panes.look import STEP, Heading, Quiet, hairline, quiet, scaled
from oneline.desk.panes.marks import mark_pixmap
from oneline.rules.verdict import Verdict

_MARK_PX = 16
_BEFORE_BRACKET = re.compile(r"(?<=\S)(?=\()")
#: Least height of what can be clicked.
_LEAST_PX = 26


class AnswerBlock(QWidget):
    """ "Answers here". ``wanted(verdict)``: the user asks for the worksheet of a finding."""

    wanted = Signal(object)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        box = QVBoxLayout(self)
        box.setContentsMargins(0, 0, 0, 0)
        box.setSpacing(2)
        self.heading = Heading("Answers here", self)
        self.none = Quiet("No finding about this item.", self)
        self.none.setWordWrap(True)
        self.tried_heading = Heading("Rules tried", self)
        self.unused = Quiet("", self)
        self.unused.setWordWrap(True)
        self.fold = _Fold(self)
        self.fold.toggled.connect(lambda _: self._show_held())
        #: Where nothing but unknowns is found, as of an item just placed, one line says how many; the choice is kept.
        self.unknown_fold = _Fold(self, "Show or hide what is not known yet.")
        self.unknown_fold.toggled.connect(lambda _: self._show_all())
        self._shown = _Lines(self, _Line)
        self._held = _Lines(self, _Line)
        self._tried = _Lines(self, _TriedLine)
        self._answers = Answers()
        for widget in (
            self.heading, self.unknown_fold, self._shown, self.none, self.fold, self._held, self.tried_heading,
            self._tried, self.unused,
        ):  # fmt: skip
            box.addWidget(widget)

    def show_answers(self, answers: Answers) -> None:
        """Show the answers about an item."""
        self._answers = answers
        self._show_all()

    def _show_all(self) -> None:
        answers = self._answers
        states = {a.verdict.state for a in answers.shown} | {rule.verdict.state for rule in answers.tried}
        only_unknown = bool(answers.shown) and states == {"unknown"}
        self.unknown_fold.put(f"{len(answers.shown)} not known yet")
        self.unknown_fold.setVisible(only_unknown)
        folded = only_unknown and not self.unknown_fold.isChecked()
        self._shown.put(() if folded else answers.shown)
        self._tried.put(() if folded else answers.tried)
        self.none.setVisible(not (answers.shown or answers.held or answers.tried))
        self.fold.put(answers.held_words)
        self.fold.setVisible(bool(answers.held))
        self.tried_heading.setVisible(bool(answers.tried) and not folded)
        self.unused.setText(answers.unused)
        self.unused.setVisible(bool(answers.unused and answers.tried) and not folded)
        self._show_held()

    def _show_held(self) -> None:
        self._held.put(self._answers.held if self.fold.isChecked() else ())

    @property
    def lines(self) -> list[QAbstractButton]:
        """What can be clicked now, from the top."""
        return [*self._shown.used, *self._held.used, *self._tried.used]

    def ask(self, verdict: Verdict) -> None:
        """Tell that the worksheet of a finding is wanted."""
        self.wanted.emit(verdict)


class _Clickable(QAbstractButton):
    """A row that can be clicked: its ground lights up under the pointer, the focus has a frame."""

    def __init__(self, block: AnswerBlock, parent: QWidget) -> None:
        super().__init__(parent)
        self._verdict: Verdict | None = None
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setAttribute(Qt.WidgetAttribute.WA_Hover)
        self.setBackgroundRole(
            QPalette.ColorRole.Window
        )  # what stands in it is written as on the pane, not as on a button
        self.setForegroundRole(QPalette.ColorRole.WindowText)
        policy = QSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Minimum)
        policy.setHeightForWidth(True)
        self.setSizePolicy(policy)
        self.setMinimumHeight(_LEAST_PX)
        self.clicked.connect(lambda: self._verdict is not None and block.ask(self._verdict))
        self.mark = _label(self)
        self.mark.setFixedWidth(_MARK_PX)
        self.mark.setAlignment(Qt.AlignmentFlag.AlignTop)

    def take(self, verdict: Verdict, spoken: str) -> None:
        """Stand for a finding."""
        self._verdict = verdict
        self.setAccessibleName(spoken)
        self.setToolTip(f"{verdict.message}\nClick to see how it is reckoned.")
        self.dress()

    def dress(self) -> None:
        """Take the colors of the theme."""
        if self._verdict is not None:
            ratio = self.devicePixelRatioF()
            self.mark.setPixmap(mark_pixmap(self._verdict.state, self.palette(), _MARK_PX, ratio))

    def changeEvent(self, event: QEvent) -> None:
        super().changeEvent(event)
        if event.type() == QEvent.Type.PaletteChange and hasattr(self, "mark"):
            self.dress()

    def sizeHint(self) -> QSize:
        layout = self.layout()
        return layout.sizeHint() if layout is not None else QSize(100, _LEAST_PX)

    def paintEvent(self, event: QPaintEvent) -> None:
        if not (self.underMouse() or self.hasFocus() or self.isDown()):
            return
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        frame = QRectF(self.rect()).adjusted(0.5, 0.5, -0.5, -0.5)
        palette = self.palette()
        painter.setPen(QPen(palette.color(QPalette.ColorRole.Highlight), 1.5) if self.hasFocus() else hairline(palette))
        painter.setBrush(palette.color(QPalette.ColorRole.Base))
        painter.drawRoundedRect(frame, 4, 4)
        painter.end()


class _Line(_Clickable):
    """One finding: its mark, its sentence, and quietly the margin and the section."""

    def __init__(self, block: AnswerBlock, parent: QWidget) -> None:
        super().__init__(block, parent)
        self._answer: Answer | None = None
        self.words = _label(self)
        self.words.setWordWrap(True)
        row = QHBoxLayout(self)
        row.setContentsMargins(4, 4, 4, 4)
        row.setSpacing(STEP)
        row.addWidget(self.mark, 0, Qt.AlignmentFlag.AlignTop)
        row.addWidget(self.words, 1)

    def put(self, answer: Answer) -> None:
        self._answer = answer
        self.take(answer.verdict, answer.spoken)

    def dress(self) -> None:
        super().dress()
        if self._answer is not None:
            joined = _BEFORE_BRACKET.sub("\N{WORD JOINER}", self._answer.tail)  # no line ends inside "240.21(B)(2)"
            tail = f'<span style="color:{quiet(self.palette()).name()}">{escape(joined)}</span>'
            self.words.setText(f"{escape(self._answer.sentence)} {tail}")


class _TriedLine(_Clickable):
    """A rule that was tried: its name over its section, the outcome over the two numbers."""

    def __init__(self, block: AnswerBlock, parent: QWidget) -> None:
        super().__init__(block, parent)
        self.name, self.result = _label(self), _label(self)
        self.section, self.numbers = Quiet("", self), Quiet("", self)
        grid = QGridLayout(self)
        grid.setContentsMargins(4, 3, 4, 3)
        grid.setHorizontalSpacing(STEP)
        grid.setVerticalSpacing(0)
        grid.setColumnStretch(1, 1)
        grid.addWidget(self.mark, 0, 0, 2, 1, Qt.AlignmentFlag.AlignTop)
        for row, (left, right) in enumerate(((self.name, self.result), (self.section, self.numbers))):
            left.setWordWrap(True)
            right.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignTop)
            grid.addWidget(left, row, 1)
            grid.addWidget(right, row, 2)
        for quiet_one in (self.section, self.numbers):
            quiet_one.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)

    def put(self, tried: TriedRule) -> None:
        self.name.setText(escape(tried.name[:1].upper() + tried.name[1:]))
        self.result.setText(escape(tried.result))
        self.result.setFont(scaled(self.font(), 1.0, bold=tried.verdict.state == "pass"))
        self.section.setText(tried.verdict.section)
        self.numbers.setText(tried.numbers)
        self.take(tried.verdict, tried.spoken)


class _Lines(QWidget):
    """Rows below each other; they are made once and kept."""

    def __init__(self, block: AnswerBlock, kind: type[_Line] | type[_TriedLine]) -> None:
        super().__init__(block)
        self._block, self._kind = block, kind
        self._rows: list[_Line | _TriedLine] = []
        self._box = QVBoxLayout(self)
        self._box.setContentsMargins(0, 0, 0, 0)
        self._box.setSpacing(2)

    def put(self, entries: Sequence[Answer] | Sequence[TriedRule]) -> None:
        while len(self._rows) < len(entries):
            row = self._kind(self._block, self)
            self._rows.append(row)
            self._box.addWidget(row)
        for number, row in enumerate(self._rows):
            row.setVisible(number < len(entries))
            if number < len(entries):
                row.put(entries[number])  # type: ignore[arg-type]
        self.setVisible(bool(entries))

    @property
    def used(self) -> list[_Line | _TriedLine]:
        return [row for row in self._rows if not row.isHidden()]


class _Fold(QAbstractButton):
    """Shows and hides what holds: an arrow and how many there are."""

    def __init__(self, parent: QWidget, tip: str = "Show or hide what holds or does not apply.") -> None:
        super().__init__(parent)
        self.setCheckable(True)
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setToolTip(tip)

    def put(self, words: str) -> None:
        self.setText(words)
        self.updateGeometry()

    def sizeHint(self) -> QSize:
        return QSize(self.fontMetrics().horizontalAdvance(self.text()) + 40, _LEAST_PX)

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        palette = self.palette()
        lit = self.underMouse() or self.hasFocus()
        ink = palette.color(QPalette.ColorRole.WindowText) if lit else quiet(palette)
        if self.hasFocus():
            painter.setPen(QPen(palette.color(QPalette.ColorRole.Highlight), 1.5))
            painter.drawRoundedRect(QRectF(self.rect()).adjusted(1, 1, -1, -1), 4, 4)
        painter.setPen(QPen(ink, 1.6, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap))
        painter.translate(4 + _MARK_PX / 2, self.height() / 2)
        painter.save()
        painter.rotate(90 if self.isChecked() else 0)
        painter.drawPolyline([QPointF(-2, -4), QPointF(2, 0), QPointF(-2, 4)])
        painter.restore()
        painter.drawText(
            QRectF(_MARK_PX / 2 + STEP, -self.height() / 2, self.width(), self.height()),
            Qt.AlignmentFlag.AlignVCenter, self.text(),
        )  # fmt: skip
        painter.end()


def _label(parent: QWidget) -> QLabel:
    """A label inside something that is clicked as a whole."""
    label = QLabel(parent)
    label.setTextFormat(Qt.TextFormat.RichText)
    label.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
    return label
