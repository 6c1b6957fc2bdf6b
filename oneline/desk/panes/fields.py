"""One row of a form for each field: label, control, basis button, inline message. Knows specs, not items."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from PySide6.QtCore import QEvent, QObject, Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QComboBox, QGridLayout, QLabel, QLineEdit, QVBoxLayout, QWidget

from oneline.desk.panes.controls import (
    UNKNOWN_SIGN,
    UNKNOWN_WORD,
    VARIOUS,
    BasisButton,
    Choice,
    Entry,
    NoteEdit,
    Segments,
)
from oneline.desk.panes.look import CONTROL_PX, STEP, MessageLabel
from oneline.desk.panes.typed import TRADE_SIZE, Misread, choice_word, other_unit, shown, spell, understand
from oneline.model import Spec

#: Stands for "the selected items differ"; never written into an item.
DIFFERENT = object()


class FieldRow(QObject):
    """Base of all rows.

    ``committed`` carries a new value when the user has finished and it differs from the one shown; ``basis_picked`` the
    basis chosen beside it. ``show_value`` tells nobody. What is typed and not understood stays where it is.
    """

    committed = Signal(object)
    basis_picked = Signal(object)

    def __init__(self, spec: Spec, nullable: bool, parent: QWidget, with_basis: bool = True) -> None:
        super().__init__(parent)
        self.spec = spec
        self.nullable = nullable
        self.value: Any = None
        self.label = QLabel(spec.label, parent)
        self.label.setWordWrap(True)
        self.label.setTextFormat(Qt.TextFormat.PlainText)
        self.message = MessageLabel(parent)
        self.control = self._make_control(parent)
        self.label.setBuddy(self.control)
        self.holder = QWidget(parent)
        stack = QVBoxLayout(self.holder)
        stack.setContentsMargins(0, 0, 0, 0)
        stack.setSpacing(2)
        self.message.setParent(self.holder)
        stack.addWidget(self.control)
        stack.addWidget(self.message)
        self.basis: BasisButton | None = None
        if with_basis:
            self.basis = BasisButton(spec.label, nullable, parent)
            self.basis.basis_picked.connect(self.basis_picked)
            self.basis.unknown_picked.connect(self._make_unknown)
        self._describe()

    # ------------------------------------------------------------------------------------------------ to be filled in
    def _make_control(self, parent: QWidget) -> QWidget:
        raise NotImplementedError

    def _put(self, value: Any) -> None:
        raise NotImplementedError

    def stops(self) -> list[QWidget]:
        """What takes the keyboard in this row, in the order of Tab; the basis button comes after all rows."""
        return [self.control]

    def commit_pending(self) -> None:
        """Take over what has been typed but not yet finished; nothing happens when it is not understood."""

    # ------------------------------------------------------------------------------------------------------- showing
    def show_value(self, value: Any, basis: str = "entered") -> None:
        """``value`` may be ``DIFFERENT``; ``basis`` one of the bases or "various"."""
        self.value = value
        self._put(value)
        if self.basis is not None:
            self.basis.put(value is not None and value is not DIFFERENT, basis)
        font = self.control.font()
        font.setItalic(basis == "assumed" and value is not None)
        self.control.setFont(font)

    def show_row(self, on: bool) -> None:
        """Show or hide all parts of the row."""
        parts = [self.label, self.holder] if self.basis is None else [self.label, self.holder, self.basis]
        for part in parts:
            part.setVisible(on)

    def _describe(self) -> None:
        spec = self.spec
        unit = f" ({spec.unit})" if spec.unit else ""
        help_text = spec.help or ""
        if self.nullable:
            help_text = f"{help_text} Leave it empty while nobody knows.".strip()
        tip = f"{spec.label}{unit}. {help_text}".strip()
        for widget in (self.label, self.control):
            widget.setToolTip(tip)
            widget.setStatusTip(tip)
            widget.setWhatsThis(tip)
        self.control.setAccessibleName(spec.label)
        self.control.setAccessibleDescription(help_text)

    def _make_unknown(self) -> None:
        if self.value is not None:
            self._offer(None)

    def _offer(self, value: Any) -> None:
        """Hand a value out when it is a different one."""
        if value is DIFFERENT or (value == self.value and type(value) is type(self.value)):
            return
        self.committed.emit(value)


class TypedRow(FieldRow):
    """A quantity or a word, typed; a size with its list of trade sizes.

    ``reading`` may take an entry in another quantity: it gives the entry in the field's own and how it was made, or
    ``None`` for an entry that is none of its business, and raises ``Misread``.
    """

    reading: Callable[[str], tuple[str, str] | None] | None = None

    def _make_control(self, parent: QWidget) -> QWidget:
        self._pending = False
        if self.spec.quantity == "size":
            box = _SizeBox(parent)
            box.fill([(UNKNOWN_WORD, None)] if self.nullable else [])
            for size in self.spec.choices:
                box.addItem(spell(size, self.spec), size)
            box.activated.connect(self._picked)
            self.line: QLineEdit = box.typed
            control: QWidget = box
        else:
            self.line = control = Entry(parent)
        self.line.textEdited.connect(self._typing)
        self.line.editingFinished.connect(self._finished)
        self.line.installEventFilter(self)
        return control

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Escape gives up what was typed and brings the value back; without anything typed it is the window's."""
        if self._pending and event.type() == QEvent.Type.ShortcutOverride and _is_escape(event):
            event.accept()
            return True
        if self._pending and event.type() == QEvent.Type.KeyPress and _is_escape(event):
            self._put(self.value)
            return True
        return super().eventFilter(watched, event)

    @property
    def pending_text(self) -> str | None:
        """What is typed and not yet taken over."""
        return self.line.text() if self._pending else None

    def _put(self, value: Any) -> None:
        self._pending = False
        self.message.clear_message()
        if value is DIFFERENT:
            self.line.setText("")
            self.line.setPlaceholderText(VARIOUS)
        else:
            self.line.setText(shown(value, self.spec))
            self.line.setCursorPosition(0)
            self.line.setPlaceholderText(UNKNOWN_WORD if self.nullable else "")
        if isinstance(self.line, Entry):
            self.line.beside = other_unit(value, self.spec) if value is not DIFFERENT else ""
        self._mark_known(value is not None)

    def put_pending(self, text: str) -> None:
        """Show again what was typed earlier and not understood."""
        self.line.setText(text)
        self._typing(text)

    def _typing(self, text: str) -> None:
        self._pending = True
        if isinstance(self.line, Entry):
            self.line.beside = ""
        try:
            value, told = self._understood(text)
        except Misread as problem:
            self.message.show_problem(str(problem))
            return
        if told:
            self.message.show_echo(told)
            return
        said = shown(value, self.spec)
        quantity = self.spec.quantity not in ("text", "date", "size") or self.spec.name == TRADE_SIZE
        if quantity and value is not None and said.replace(" ", "") != text.replace(" ", ""):
            self.message.show_echo(f"= {said}")
        else:
            self.message.clear_message()

    def _finished(self) -> None:
        if not self._pending:
            return
        text = self.line.text()
        if self.value is DIFFERENT and not text.strip():
            self._put(DIFFERENT)
            return
        try:
            value, _told = self._understood(text)
        except Misread as problem:
            self.message.show_problem(str(problem))
            return
        self._pending = False
        self.message.clear_message()
        same = self.value is not DIFFERENT and self.value is not None and text == shown(self.value, self.spec)
        if value == self.value or same:  # what is shown may be rounded: typed again, it means the value itself
            self._put(self.value)
        else:
            self._offer(value)

    def _understood(self, text: str) -> tuple[Any, str]:
        """The value of an entry, and how it was made when it was typed in another quantity."""
        entry, told = (self.reading(text) if self.reading else None) or (text, "")
        return understand(entry, self.spec, self.nullable), told

    def commit_pending(self) -> None:
        self._finished()

    def _picked(self, index: int) -> None:
        box = self.control
        assert isinstance(box, QComboBox)
        self._pending = False
        self.message.clear_message()
        value = box.itemData(index)
        if value == self.value:
            self._put(self.value)
        else:
            self._offer(value)

    def _mark_known(self, known: bool) -> None:
        self.line.setProperty("known", known)


def _is_escape(event: QEvent) -> bool:
    return isinstance(event, QKeyEvent) and event.key() == Qt.Key.Key_Escape


class _SizeBox(Choice):
    """Trade sizes to pick from, or to type."""

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.setEditable(True)
        self.setInsertPolicy(QComboBox.InsertPolicy.NoInsert)
        self.setMaxVisibleItems(16)
        self.typed = Entry(self)
        self.typed.setMinimumHeight(0)
        self.typed.setFrame(False)
        self.setLineEdit(self.typed)
        self.typed.setCompleter(None)  # type: ignore[arg-type]


class NotesRow(FieldRow):
    """A few lines of text."""

    def _make_control(self, parent: QWidget) -> QWidget:
        self.edit = NoteEdit(parent)
        self.edit.left.connect(self.commit_pending)
        return self.edit

    def _put(self, value: Any) -> None:
        self.edit.setPlaceholderText(VARIOUS if value is DIFFERENT else "")
        text = "" if value is DIFFERENT or value is None else str(value)
        if self.edit.toPlainText() != text:
            self.edit.setPlainText(text)

    def commit_pending(self) -> None:
        typed = self.edit.toPlainText()
        if self.value is DIFFERENT and not typed:
            return
        if typed == (self.value or ""):
            return
        text = "".join(c if c.isprintable() or c == "\n" else " " for c in typed).strip()
        self._offer(text if text or not self.nullable else None)


class ChoiceRow(FieldRow):
    """One of a closed set of words, "unknown" first where nobody may know."""

    def _make_control(self, parent: QWidget) -> QWidget:
        self.box = Choice(parent)
        rows: list[tuple[str, Any]] = [(UNKNOWN_WORD, None)] if self.nullable else []
        self.box.fill(rows + [(choice_word(c, self.spec), c) for c in self.spec.choices])
        self.box.setPlaceholderText(VARIOUS)
        self.box.activated.connect(lambda i: self._offer(self.box.itemData(i)))
        return self.box

    def commit_pending(self) -> None:
        self.box.take_typed()

    def _put(self, value: Any) -> None:
        self.box.put(value)
        self.box.setToolTip("\n".join(t for t in (self.box.currentText(), self.label.toolTip()) if t))


class FlagRow(FieldRow):
    """Yes, no, or unknown."""

    def _make_control(self, parent: QWidget) -> QWidget:
        rows: list[tuple[str, Any]] = [("Yes", True), ("No", False)]
        if self.nullable:
            rows.append((UNKNOWN_SIGN, None))
        self.segments = Segments(rows, parent)
        self.segments.name(self.spec.label)
        self.segments.picked.connect(self._offer)
        return self.segments

    def stops(self) -> list[QWidget]:
        return list(self.segments.buttons())

    def _put(self, value: Any) -> None:
        self.segments.put(value)


def make_row(spec: Spec, nullable: bool, parent: QWidget, with_basis: bool = True) -> FieldRow:
    """The row that suits the field's quantity. What cannot be unknown is a decision, not a fact: it has no basis."""
    kinds: dict[str, Callable[..., FieldRow]] = {"choice": ChoiceRow, "flag": FlagRow}
    if spec.name in ("notes", "note"):
        return NotesRow(spec, nullable, parent, with_basis=False)
    return kinds.get(spec.quantity, TypedRow)(spec, nullable, parent, with_basis=with_basis and nullable)


def lay_out(grid: QGridLayout, row: int, field: FieldRow) -> None:
    """Put a field into its line of a form: label, control with its message, basis button."""
    top = Qt.AlignmentFlag.AlignTop
    field.label.setMinimumHeight(CONTROL_PX)
    grid.addWidget(field.label, row, 0, top)
    grid.addWidget(field.holder, row, 1, top)
    if field.basis is not None:
        grid.addWidget(field.basis, row, 2, top)


def form_grid(parent: QWidget) -> QGridLayout:
    """A grid for rows: labels take two fifths, controls three."""
    grid = QGridLayout(parent)
    grid.setContentsMargins(0, 0, 0, 0)
    grid.setHorizontalSpacing(STEP)
    grid.setVerticalSpacing(STEP // 2)
    grid.setColumnStretch(0, 11)
    grid.setColumnStretch(1, 12)
    grid.setColumnMinimumWidth(0, 80)
    return grid
