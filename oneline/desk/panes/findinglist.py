"""Model and painter of the findings list: mark, name, sentence, section; one line when wide, two when narrow."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from PySide6.QtCore import QAbstractListModel, QModelIndex, QPersistentModelIndex, QRect, QSize, Qt
from PySide6.QtGui import QFont, QFontMetrics, QPainter, QPalette, QPen
from PySide6.QtWidgets import QStyle, QStyledItemDelegate, QStyleOptionViewItem, QWidget

from oneline.desk.panes.findingrows import FindingRow
from oneline.desk.panes.look import CONTROL_PX, STEP, hairline, quiet, scaled
from oneline.desk.panes.marks import mark_pixmap
from oneline.desk.panes.words import STATE_WORDS

Index = QModelIndex | QPersistentModelIndex
ROW_ROLE = Qt.ItemDataRole.UserRole + 1
#: From this width on a row is one line.
ONE_LINE_PX = 520
_MARK_PX = 16
#: How far rules tried beside others are set in.
_SET_IN = 2 * STEP


@dataclass(frozen=True)
class Columns:
    """Width of the names and most of a section, in pixels; the sentence has what is left."""

    name: int
    section: int


class FindingModel(QAbstractListModel):
    """Rows of the list; the display text is the whole row as one sentence."""

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.rows: list[FindingRow] = []
        self._columns: tuple[str, int, Columns] | None = None

    def put(self, rows: list[FindingRow]) -> None:
        self.beginResetModel()
        self.rows = rows
        self._columns = None
        self.endResetModel()

    def columns(self, font: QFont, width: int) -> Columns:
        """The columns that suit the rows, measured once for each list."""
        if self._columns is None or self._columns[:2] != (font.key(), width):
            self._columns = (font.key(), width, _measure(self.rows, font, width))
        return self._columns[2]

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        return 0 if parent.isValid() else len(self.rows)

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        row = self.rows[index.row()]
        if role in (Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.AccessibleTextRole):
            return row.spoken
        if role == Qt.ItemDataRole.ToolTipRole:
            v = row.verdict
            return f"{STATE_WORDS[v.state]}. {v.message}\n{v.section}, {v.edition}"
        if role == ROW_ROLE:
            return row
        return None


class FindingDelegate(QStyledItemDelegate):
    """Paints a finding. Rules tried beside others are set in and quiet."""

    def sizeHint(self, option: QStyleOptionViewItem, index: Index) -> QSize:
        line = QFontMetrics(option.font).lineSpacing()
        wide = _list_width(option) >= ONE_LINE_PX
        return QSize(120, max(CONTROL_PX, line + STEP) if wide else 3 * line + STEP + 4)

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        row: FindingRow = index.data(ROW_ROLE)
        painter.save()
        palette = option.palette
        chosen = bool(option.state & QStyle.StateFlag.State_Selected)
        rect = option.rect
        if chosen:
            painter.fillRect(rect, palette.color(QPalette.ColorRole.Highlight))
        else:
            painter.setPen(QPen(hairline(palette), 1))
            painter.drawLine(rect.bottomLeft(), rect.bottomRight())
        inner = rect.adjusted(STEP + (_SET_IN if row.under else 0), 4, -STEP, -4)
        self._paint_mark(painter, inner, row, palette, chosen)
        inner.setLeft(inner.left() + _MARK_PX + STEP)
        text = palette.color(QPalette.ColorRole.HighlightedText if chosen else QPalette.ColorRole.Text)
        faint = text if chosen else quiet(palette)
        if rect.width() >= ONE_LINE_PX:
            model = index.model()
            assert isinstance(model, FindingModel)
            _one_line(painter, inner, row, option, (text, faint), model.columns(option.font, rect.width()))
        else:
            _two_lines(painter, inner, row, option, (text, faint))
        painter.restore()

    def _paint_mark(self, painter: QPainter, rect: QRect, row: FindingRow, palette: QPalette, chosen: bool) -> None:
        device = painter.device()
        ratio = device.devicePixelRatioF() if device is not None else 1.0
        role = QPalette.ColorRole.HighlightedText if chosen else None
        pixmap = mark_pixmap(row.verdict.state, palette, _MARK_PX, ratio, role)
        line = QFontMetrics(painter.font()).lineSpacing()
        top = rect.top() + (rect.height() - _MARK_PX) // 2
        if rect.height() > 2 * line:
            top = rect.top() + 1
        painter.setOpacity(0.7 if row.under and not chosen else 1.0)  # one way that was tried, not the outcome
        painter.drawPixmap(rect.left(), top, pixmap)
        painter.setOpacity(1.0)


def _list_width(option: QStyleOptionViewItem) -> int:
    """Width of the list itself: the option's rectangle is empty while Qt asks for sizes."""
    widget = option.widget
    viewport = getattr(widget, "viewport", None)
    if viewport is not None:
        return int(viewport().width())
    return option.rect.width()


def _draw(painter: QPainter, rect: QRect, text: str, flags: Qt.AlignmentFlag) -> None:
    metrics = painter.fontMetrics()
    painter.drawText(rect, int(flags), metrics.elidedText(text, Qt.TextElideMode.ElideRight, rect.width()))


def _measure(rows: Sequence[FindingRow], font: QFont, width: int) -> Columns:
    """As wide as the longest name and section need, within a part of the row."""
    bold, plain = QFontMetrics(scaled(font, 1.0, bold=True)), QFontMetrics(font)
    names = {(row.name, row.under) for row in rows}
    most = max((_SET_IN + plain.horizontalAdvance(n) if u else bold.horizontalAdvance(n) for n, u in names), default=0)
    wide = max((plain.horizontalAdvance(text) for text in {row.verdict.section for row in rows}), default=0)
    return Columns(min(most + 2, width * 3 // 10), min(wide + 2, width // 4))


def _one_line(
    painter: QPainter, rect: QRect, row: FindingRow, option: QStyleOptionViewItem, inks: Any, columns: Columns
) -> None:
    text, faint = inks
    left = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
    set_in = _SET_IN if row.under else 0
    name = QRect(rect.left(), rect.top(), columns.name - set_in, rect.height())
    at = rect.left() - set_in + columns.name + 2 * STEP
    own = min(columns.section, painter.fontMetrics().horizontalAdvance(row.verdict.section) + 2)
    right = QRect(rect.right() - own, rect.top(), own, rect.height())
    middle = QRect(at, rect.top(), right.left() - 2 * STEP - at, rect.height())
    painter.setPen(faint if row.under else text)
    painter.setFont(scaled(option.font, 1.0, bold=not row.under))
    _draw(painter, name, row.name, left)
    painter.setFont(option.font)
    _draw(painter, middle, row.sentence, left)
    painter.setPen(faint)
    _draw(painter, right, row.verdict.section, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)


def _two_lines(painter: QPainter, rect: QRect, row: FindingRow, option: QStyleOptionViewItem, inks: Any) -> None:
    text, faint = inks
    v = row.verdict
    line = painter.fontMetrics().lineSpacing()
    section_px = min(painter.fontMetrics().horizontalAdvance(v.section) + 2, rect.width() // 2)
    top = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignTop
    painter.setPen(faint if row.under else text)
    painter.setFont(scaled(option.font, 1.0, bold=not row.under))
    _draw(painter, QRect(rect.left(), rect.top(), rect.width() - section_px - STEP, line), row.name, top)
    painter.setFont(option.font)
    painter.setPen(faint)
    right = QRect(rect.right() - section_px, rect.top(), section_px, line)
    _draw(painter, right, v.section, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignTop)
    painter.setPen(text)
    _wrapped(painter, QRect(rect.left(), rect.top() + line, rect.width(), 2 * line + 2), row.sentence, line)


def _wrapped(painter: QPainter, rect: QRect, text: str, line: int) -> None:
    """Up to two lines; the second is cut with dots where the sentence goes on."""
    metrics = painter.fontMetrics()
    words = text.split()
    first: list[str] = []
    while words and metrics.horizontalAdvance(" ".join([*first, words[0]])) <= rect.width():
        first.append(words.pop(0))
    if not first and words:
        first.append(words.pop(0))
    left = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignTop
    _draw(painter, QRect(rect.left(), rect.top(), rect.width(), line), " ".join(first), left)
    if words:
        _draw(painter, QRect(rect.left(), rect.top() + line, rect.width(), line + 2), " ".join(words), left)
