"""The strip above the sheet while positions are tried: what is shown is not the drawing, and the way back."""

from __future__ import annotations

from collections.abc import Mapping

from PySide6.QtCore import QEvent, Qt
from PySide6.QtGui import QAction, QColor, QPainter, QPaintEvent, QPen, QResizeEvent
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QSizePolicy, QToolButton, QVBoxLayout, QWidget

from oneline.desk.painter import Inks
from oneline.desk.panes.look import CONTROL_PX, STEP, MessageLabel, Quiet, scaled
from oneline.session import Session

NOT_CHANGED = "the drawing is not changed"
#: Names of devices that are told before the rest is only counted.
_NAMED = 3


class Banner(QFrame):
    """Says that positions are tried, and at which step a rehearsal stands. Hidden while the sheet shows the drawing."""

    def __init__(
        self, session: Session, actions: Mapping[str, QAction], inks: Inks, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.session, self._inks = session, inks
        self.setObjectName("triedBanner")
        self.setAccessibleName("Positions tried")
        self.head = QLabel(self)
        self.head.setTextFormat(Qt.TextFormat.PlainText)
        self.head.setFont(scaled(self.head.font(), 1.0, bold=True))
        self.step = QLabel(self)
        self.why = MessageLabel(self)
        self.keys = Quiet("", self)
        for label in (self.head, self.step):
            label.setWordWrap(True)
            label.setTextFormat(Qt.TextFormat.PlainText)
            label.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Preferred)
        words = QVBoxLayout()
        words.setContentsMargins(0, 0, 0, 0)
        words.setSpacing(1)
        for label in (self.head, self.step, self.why):
            words.addWidget(label)
        row = QHBoxLayout(self)
        row.setContentsMargins(STEP + 6, STEP // 2, STEP, STEP // 2)
        row.setSpacing(STEP)
        row.addLayout(words, 1)
        self.buttons: dict[str, QToolButton] = {}
        for key, text in (("rehearse-back", "Back"), ("rehearse-forward", "Forward"), ("as-if-end", "End")):
            button = QToolButton(self)
            button.setDefaultAction(actions[key])
            keys = actions[key].shortcut().toString()
            shown = f"{text}  {keys}" if keys else text
            button.setText(shown)
            actions[key].changed.connect(lambda b=button, t=shown: b.setText(t))
            button.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonTextOnly)
            button.setMinimumHeight(CONTROL_PX)
            button.setFocusPolicy(Qt.FocusPolicy.TabFocus)
            self.buttons[key] = button
            row.addWidget(button, 0, Qt.AlignmentFlag.AlignTop)
        self.hide()

    def refresh(self) -> None:
        """Say what is tried now."""
        session, rehearsal = self.session, self.session.rehearsal
        self.setVisible(rehearsal is not None or bool(session.as_if))
        if rehearsal is None:
            self.head.setText(f"As if: {NOT_CHANGED}")
            self.step.setText(self._devices(session.as_if))
            self.step.setVisible(bool(session.as_if))
            self.why.clear_message()
        else:
            count = len(rehearsal.plan.steps)
            at = f"step {rehearsal.done} of {count}" if rehearsal.done else f"before step 1 of {count}"
            by_hand = {k: c for k, c in session.as_if.items() if rehearsal.positions.get(k) != c}
            self.head.setText(f"Rehearsal: {at} – {NOT_CHANGED}")
            words = rehearsal.step.words if rehearsal.step is not None else "As the building stands now."
            self.step.setText(f"{words}  By hand: {self._devices(by_hand)}" if by_hand else words)
            self.step.show()
            step = rehearsal.step
            if step is not None and step.state in ("fail", "unknown") and step.why:
                self.why.show_problem(step.why)
            else:
                self.why.clear_message()
        for key in ("rehearse-back", "rehearse-forward"):
            self.buttons[key].setVisible(rehearsal is not None)

    def _devices(self, positions: Mapping[str, bool]) -> str:
        drawing = self.session.drawing
        said: dict[str, str] = {}
        for key, closed in positions.items():
            item, _, side = key.partition("/")
            if not side:
                said[item] = f"{drawing.name_of(item)} {'closed' if closed else 'open'}"
            elif closed or item not in said:
                said[item] = f"{drawing.name_of(item)} {f'on {side}' if closed else 'off'}"
        names = list(said.values())
        more = f" and {len(names) - _NAMED} more" if len(names) > _NAMED else ""
        return f"{', '.join(names[:_NAMED])}{more}"

    def paintEvent(self, event: QPaintEvent) -> None:
        """A tinted ground with a hatched edge at the left: seen without color too."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.fillRect(self.rect(), self._inks("fill-zone"))
        edge = QColor(self._inks("zone"))
        painter.setPen(QPen(edge, 2))
        painter.setClipRect(0, 0, 8, self.height())
        for y in range(-8, self.height() + 8, 7):
            painter.drawLine(0, y + 8, 8, y)
        painter.setClipping(False)
        painter.setPen(QPen(edge, 1))
        painter.drawLine(0, self.height() - 1, self.width(), self.height() - 1)
        painter.end()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self.updateGeometry()

    def changeEvent(self, event: QEvent) -> None:
        super().changeEvent(event)
        if event.type() == QEvent.Type.PaletteChange:
            self.update()
