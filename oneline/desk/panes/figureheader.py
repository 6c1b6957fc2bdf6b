"""Headings over several columns: the name of the figure above, existing, proposed and change below it."""

from __future__ import annotations

from PySide6.QtCore import QModelIndex, QPersistentModelIndex, QRect, QSize, Qt
from PySide6.QtGui import QPainter, QPalette, QPen
from PySide6.QtWidgets import QHeaderView, QStyledItemDelegate, QStyleOptionViewItem, QTableView

from oneline.desk.panes.look import STEP, edge, hairline, scaled

GROUP_ROLE = Qt.ItemDataRole.UserRole + 1


class GroupedHeader(QHeaderView):
    """A header that writes the group of neighbouring columns once above them. Without groups it is an ordinary one."""

    def __init__(self, table: QTableView) -> None:
        super().__init__(Qt.Orientation.Horizontal, table)

    def _group(self, section: int) -> str:
        model = self.model()
        if model is None or not 0 <= section < model.columnCount():
            return ""
        return str(model.headerData(section, Qt.Orientation.Horizontal, GROUP_ROLE) or "")

    def starts_group(self, section: int) -> bool:
        """Whether a group of columns begins, or one has just ended, at the left edge of a column."""
        return section > 0 and self._group(section) != self._group(section - 1)

    def _grouped(self) -> bool:
        return any(self._group(n) for n in range(self.count()))

    def sizeHint(self) -> QSize:
        one = super().sizeHint()
        return QSize(one.width(), one.height() + self.fontMetrics().lineSpacing()) if self._grouped() else one

    def paintSection(self, painter: QPainter, rect: QRect, logicalIndex: int) -> None:
        group, grouped = self._group(logicalIndex), self._grouped()
        line = self.fontMetrics().lineSpacing()
        painter.save()
        if not grouped:
            super().paintSection(painter, rect, logicalIndex)
            painter.restore()
            return
        painter.fillRect(rect, self.palette().color(QPalette.ColorRole.Button))
        super().paintSection(painter, rect.adjusted(0, line, 0, 0) if group else rect, logicalIndex)
        painter.restore()
        if group:
            self._paint_group(painter, rect, logicalIndex, line)
        if self.starts_group(logicalIndex):
            painter.setPen(QPen(edge(self.palette()), 1))
            painter.drawLine(rect.topLeft(), rect.bottomLeft())

    def _paint_group(self, painter: QPainter, rect: QRect, section: int, line: int) -> None:
        """The part of the group's name that falls on one column: every column is painted for itself."""
        group = self._group(section)
        first = last = section
        while first > 0 and self._group(first - 1) == group:
            first -= 1
        while last < self.count() - 1 and self._group(last + 1) == group:
            last += 1
        left = self.sectionViewportPosition(first)
        whole = QRect(left, rect.top(), self.sectionViewportPosition(last) + self.sectionSize(last) - left, line + 4)
        painter.save()
        painter.setClipRect(QRect(rect.left(), whole.top(), rect.width(), whole.height()))
        painter.fillRect(whole, self.palette().color(QPalette.ColorRole.Button))
        painter.setFont(scaled(self.font(), 1.0, bold=True))
        painter.setPen(self.palette().color(QPalette.ColorRole.ButtonText))
        text = painter.fontMetrics().elidedText(group, Qt.TextElideMode.ElideRight, whole.width() - STEP)
        painter.drawText(whole, int(Qt.AlignmentFlag.AlignCenter), text)
        painter.setPen(QPen(hairline(self.palette()), 1))
        painter.drawLine(whole.left() + STEP, whole.bottom(), whole.right() - STEP, whole.bottom())
        painter.restore()


class GroupLines(QStyledItemDelegate):
    """Cells with a line between the groups of columns."""

    def __init__(self, table: QTableView) -> None:
        super().__init__(table)
        self._table = table

    def paint(
        self, painter: QPainter, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex
    ) -> None:
        super().paint(painter, option, index)
        header = self._table.horizontalHeader()
        if isinstance(header, GroupedHeader) and header.starts_group(index.column()):
            painter.setPen(QPen(edge(option.palette), 1))
            painter.drawLine(option.rect.topLeft(), option.rect.bottomLeft())
