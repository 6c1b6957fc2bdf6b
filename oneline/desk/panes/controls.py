"""The controls that fields are made of: entries that keep what was typed, choices, three-way switches, the basis button."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from PySide6.QtCore import QEvent, QRectF, QSize, Qt, QTimer, Signal
from PySide6.QtGui import (
    QAction,
    QFocusEvent,
    QFontMetrics,
    QKeyEvent,
    QPainter,
    QPaintEvent,
    QPalette,
    QPen,
    QWheelEvent,
)
from PySide6.QtWidgets import (
    QAbstractButton,
    QButtonGroup,
    QComboBox,
    QHBoxLayout,
    QLineEdit,
    QMenu,
    QPlainTextEdit,
    QPushButton,
    QSizePolicy,
    QToolButton,
    QWidget,
)

from oneline.desk.panes.look import (
    CONTROL_PX,
    draw_dot,
    draw_edge,
    draw_letter,
    draw_ring,
    edge,
    hairline,
    picture,
    quiet,
    scaled,
)
from oneline.desk.panes.words import BASIS_LETTERS, BASIS_WORDS
from oneline.model.vocabulary import BASES

VARIOUS = "various"
UNKNOWN_WORD = "unknown"
#: Milliseconds after the last letter at which a choice that was typed is taken over.
_PAUSE_MS = 1500
#: The short word for "unknown" on a button; typing it says the same.
UNKNOWN_SIGN = "?"


#: Keys that come with a letter: a capital is typed with Shift, which ends nothing.
_HELD_KEYS = (
    Qt.Key.Key_Shift,
    Qt.Key.Key_CapsLock,
    Qt.Key.Key_AltGr,
    Qt.Key.Key_Control,
    Qt.Key.Key_Alt,
    Qt.Key.Key_Meta,
)


class Entry(QLineEdit):
    """A line of text of the common height. ``beside`` is said quietly at its right end, where there is room."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setMinimumHeight(CONTROL_PX)
        self.beside = ""

    def paintEvent(self, event: QPaintEvent) -> None:
        super().paintEvent(event)
        if self.hasFrame():
            draw_edge(self)
        metrics = self.fontMetrics()
        taken = metrics.horizontalAdvance(f"{self.text()}{self.beside}") + 24
        if self.beside and taken <= self.width():
            painter = QPainter(self)
            painter.setPen(quiet(self.palette()))
            side = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
            painter.drawText(self.rect().adjusted(0, 0, -8, 0), side, self.beside)
            painter.end()


class Choice(QComboBox):
    """A closed list. The wheel scrolls the pane and never changes the value.

    Letters pick by the beginning of a word, however slowly they come; the choice is taken over (``activated``) with
    Enter, on leaving or after a pause, not letter by letter. Esc takes it back.
    """

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setMinimumHeight(CONTROL_PX)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.setMinimumContentsLength(6)
        self._typed = ""
        self._shown: Any = None
        self._pause = QTimer(self, singleShot=True, interval=_PAUSE_MS)
        self._pause.timeout.connect(self.take_typed)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)

    def wheelEvent(self, event: QWheelEvent) -> None:
        event.ignore()

    def paintEvent(self, event: QPaintEvent) -> None:
        super().paintEvent(event)
        draw_edge(self)

    def fill(self, rows: Sequence[tuple[str, Any]]) -> None:
        """(word, value) pairs; tells nobody."""
        self.blockSignals(True)
        self.clear()
        for word, value in rows:
            self.addItem(word, value)
        self.blockSignals(False)

    def put(self, value: Any) -> None:
        """Show a value; one that is not in the list leaves the choice blank. What is being typed stays."""
        if self._typed and value == self._shown:
            return
        self._forget_typed()
        self._shown = value
        index = next((i for i in range(self.count()) if self.itemData(i) == value), -1)
        self.blockSignals(True)
        self.setCurrentIndex(index)
        self.blockSignals(False)

    # --------------------------------------------------------------------------------------------------------- typing
    def keyPressEvent(self, event: QKeyEvent) -> None:
        held = event.modifiers() & (Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.AltModifier)
        text = event.text()
        if self.isEditable() or event.key() in _HELD_KEYS:
            super().keyPressEvent(event)
        elif event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and self._typed:
            self.take_typed()
        elif event.key() == Qt.Key.Key_Escape and self._typed:
            self._forget_typed()
            self.put(self._shown)
        elif event.key() == Qt.Key.Key_Backspace and self._typed:
            self._type(self._typed[:-1])
        elif text and text.isprintable() and not held and (self._typed or not text.isspace()):
            self._type(self._typed + text)
        else:
            self.take_typed()
            super().keyPressEvent(event)

    def focusOutEvent(self, event: QFocusEvent) -> None:
        self.take_typed()
        super().focusOutEvent(event)

    def _type(self, text: str) -> None:
        """Mark the word that begins so, a whole word before longer ones; without one what was typed before stays."""
        wanted = text.casefold()
        words = [self.itemText(n).casefold() for n in range(self.count())]
        found = (
            words.index(wanted)
            if wanted in words
            else next((n for n, w in enumerate(words) if w.startswith(wanted)), -1)
        )
        self._pause.start()
        if found < 0:
            return
        self._typed = text
        self.blockSignals(True)
        self.setCurrentIndex(found)
        self.blockSignals(False)

    def take_typed(self) -> None:
        """Take over what was picked by typing."""
        if self._typed:
            self._forget_typed()
            self.activated.emit(self.currentIndex())

    def _forget_typed(self) -> None:
        self._typed = ""
        self._pause.stop()


class NoteEdit(QPlainTextEdit):
    """A few lines of text, taken over when the focus leaves or on Ctrl+Enter; Tab goes on to the next field."""

    left = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setTabChangesFocus(True)
        self.setFixedHeight(3 * self.fontMetrics().lineSpacing() + 12)
        self._edge = ""
        self._draw_edge()

    def _draw_edge(self) -> None:
        color = edge(self.palette()).name()
        if color != self._edge:
            self._edge = color
            self.setStyleSheet(f"NoteEdit {{ border: 1px solid {color}; border-radius: 3px; }}")

    def changeEvent(self, event: QEvent) -> None:
        super().changeEvent(event)
        if event.type() == QEvent.Type.PaletteChange and hasattr(self, "_edge"):
            self._draw_edge()

    def focusOutEvent(self, event: QFocusEvent) -> None:
        super().focusOutEvent(event)
        if event.reason() != Qt.FocusReason.PopupFocusReason:
            self.left.emit()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        enter = event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter)
        if enter and event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            self.left.emit()
            return
        super().keyPressEvent(event)


class Segments(QWidget):
    """A few choices side by side, one of them down. Arrow keys move along, the first letter picks."""

    picked = Signal(object)

    def __init__(self, rows: Sequence[tuple[str, Any]], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setSizePolicy(QSizePolicy.Policy.Minimum, QSizePolicy.Policy.Fixed)
        line = QHBoxLayout(self)
        line.setContentsMargins(0, 0, 0, 0)
        line.setSpacing(0)
        self._group = QButtonGroup(self)
        self._values = [value for _, value in rows]
        for number, (word, _) in enumerate(rows):
            button = _Segment(word, self)
            button.setToolTip(UNKNOWN_WORD.capitalize() if word == UNKNOWN_SIGN else word)
            self._group.addButton(button, number)
            line.addWidget(button)
        line.addStretch(1)
        self._group.idClicked.connect(lambda n: self.picked.emit(self._values[n]))
        self.setFocusProxy(self._group.button(0))

    def put(self, value: Any) -> None:
        """Show a value; one that is not among the choices leaves all of them up. Tells nobody."""
        self._group.setExclusive(False)
        for number, own in enumerate(self._values):
            down = own == value and type(own) is type(value)
            self._group.button(number).setChecked(down)
            if down:
                self.setFocusProxy(self._group.button(number))
        self._group.setExclusive(True)

    def buttons(self) -> list[QAbstractButton]:
        """The buttons from left to right. Tab stops at the one that is down, or at the first."""
        return self._group.buttons()

    def button(self, value: Any) -> QPushButton:
        """The button of a value."""
        number = next(i for i, own in enumerate(self._values) if own == value and type(own) is type(value))
        found = self._group.button(number)
        assert isinstance(found, QPushButton)
        return found

    def name(self, text: str) -> None:
        """What screen readers say before the choice."""
        self.setAccessibleName(text)
        for button in self._group.buttons():
            button.setAccessibleName(f"{text}: {button.toolTip()}")

    def keyPressEvent(self, event: QKeyEvent) -> None:
        letter = event.text().lower()
        buttons = self._group.buttons()
        for button in buttons:
            if letter and button.text().lower().startswith(letter):
                button.setFocus()
                button.click()
                return
        super().keyPressEvent(event)


class _Segment(QPushButton):
    """One button of a row of segments: no wider than its word; the one that is down has a bold word and a frame."""

    def __init__(self, word: str, parent: QWidget) -> None:
        super().__init__(word, parent)
        self.setCheckable(True)
        self.setAutoDefault(False)
        self.setFixedHeight(CONTROL_PX)
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)

    def sizeHint(self) -> QSize:
        bold = scaled(self.font(), 1.0, bold=True)
        return QSize(max(CONTROL_PX, QFontMetrics(bold).horizontalAdvance(self.text()) + 18), CONTROL_PX)

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        paint_chip(painter, self, self.isChecked())
        painter.setFont(scaled(self.font(), 1.0, bold=self.isChecked()))
        painter.setPen(self.palette().color(QPalette.ColorRole.ButtonText))
        painter.drawText(self.rect(), Qt.AlignmentFlag.AlignCenter, self.text())
        painter.end()


class Chip(QToolButton):
    """A small switch with an icon and a number, framed while it is on."""

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.setCheckable(True)
        self.setFixedHeight(CONTROL_PX)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)

    def sizeHint(self) -> QSize:
        bold = QFontMetrics(scaled(self.font(), 1.0, bold=True))
        icon = 0 if self.icon().isNull() else 20
        return QSize(bold.horizontalAdvance(self.text()) + icon + 16, CONTROL_PX)

    def minimumSizeHint(self) -> QSize:
        return self.sizeHint()

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        paint_chip(painter, self, self.isChecked())
        left = 8
        if not self.icon().isNull():
            self.icon().paint(painter, 8, (self.height() - 16) // 2, 16, 16)
            left += 20
        painter.setFont(scaled(self.font(), 1.0, bold=self.isChecked()))
        ink = self.palette().color(QPalette.ColorRole.ButtonText)
        painter.setPen(ink if self.isChecked() else quiet(self.palette()))
        painter.drawText(self.rect().adjusted(left, 0, 0, 0), Qt.AlignmentFlag.AlignVCenter, self.text())
        painter.end()


def paint_chip(painter: QPainter, widget: QWidget, down: bool) -> None:
    """Frame and ground of a chip or segment: on, a strong frame; off, a hairline; the focus has a line of its own."""
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    palette = widget.palette()
    strong = palette.color(QPalette.ColorRole.Highlight)
    frame = QRectF(widget.rect()).adjusted(1.5, 2.5, -1.5, -2.5)
    painter.setPen(QPen(strong if down else hairline(palette), 1.6 if down else 1.0))
    painter.setBrush(palette.color(QPalette.ColorRole.Base) if down else Qt.BrushStyle.NoBrush)
    painter.drawRoundedRect(frame, 4, 4)
    if widget.hasFocus():
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(QPen(palette.color(QPalette.ColorRole.WindowText), 1, Qt.PenStyle.DotLine))
        painter.drawRoundedRect(frame.adjusted(2.5, 2.5, -2.5, -2.5), 2, 2)


class BasisButton(QToolButton):
    """Says where a value comes from and lets it be said: a ring for unknown, else the letter of the basis."""

    basis_picked = Signal(object)
    unknown_picked = Signal()

    def __init__(self, label: str, nullable: bool, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._label = label
        self._known = False
        self._basis = "entered"
        self.setFixedSize(CONTROL_PX, CONTROL_PX)
        self.setAutoRaise(True)
        self.setPopupMode(QToolButton.ToolButtonPopupMode.InstantPopup)
        self.setStyleSheet("QToolButton::menu-indicator { image: none; }")
        menu = QMenu(self)
        self.unknown_action = QAction("Unknown", menu)
        self.unknown_action.triggered.connect(self.unknown_picked)
        if nullable:
            menu.addAction(self.unknown_action)
            menu.addSeparator()
        self.basis_actions: dict[str, QAction] = {}
        for basis in BASES:
            letter = BASIS_LETTERS[basis]
            action = QAction(f"{BASIS_WORDS[basis].capitalize()}{f'  ({letter})' if letter else ''}", menu)
            action.setCheckable(True)
            action.triggered.connect(lambda _=False, b=basis: self.basis_picked.emit(b))
            menu.addAction(action)
            self.basis_actions[basis] = action
        self.setMenu(menu)

    def put(self, known: bool, basis: str) -> None:
        """``basis``: one of the bases, or "various"."""
        self._known, self._basis = known, basis
        for name, action in self.basis_actions.items():
            action.setEnabled(known)
            action.setChecked(known and name == basis)
        self.unknown_action.setEnabled(known)
        words = BASIS_WORDS.get(basis, basis) if known else UNKNOWN_WORD
        self.setToolTip(f"Where this comes from: {words}. Click to change it.")
        self.setAccessibleName(f"Basis of {self._label}: {words}")
        self._paint_icon()

    def _paint_icon(self) -> None:
        ratio = self.devicePixelRatioF()
        color = quiet(self.palette())
        letter = BASIS_LETTERS.get(self._basis, "≠")
        if not self._known:
            icon = picture(16, ratio, lambda p, r: draw_ring(p, r, color))
        elif letter:
            font = scaled(self.font(), 0.9, bold=True)
            icon = picture(16, ratio, lambda p, r: draw_letter(p, r, letter, color, font))
        else:
            icon = picture(16, ratio, lambda p, r: draw_dot(p, r, color))
        self.setIcon(icon)

    def changeEvent(self, event: QEvent) -> None:
        super().changeEvent(event)
        if event.type() == QEvent.Type.PaletteChange and hasattr(self, "_known"):
            self._paint_icon()
