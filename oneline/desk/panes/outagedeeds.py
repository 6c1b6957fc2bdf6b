"""The functions of a tab of the outage pane: one row beside the names of the tabs, so that the table keeps the room."""

from __future__ import annotations

from PySide6.QtCore import QSize
from PySide6.QtWidgets import QPushButton, QSizePolicy, QStackedWidget, QTabWidget, QToolBar, QToolButton, QWidget

from oneline.desk.panes.look import STEP


def row_of(*widgets: QWidget) -> QToolBar:
    """Controls in one row; what has no room in a narrow pane is behind the arrow at its end."""
    row = QToolBar()
    row.setObjectName("deeds")
    for widget in widgets:
        row.addWidget(widget)
    for arrow in row.findChildren(QToolButton, "qt_toolbar_ext_button"):
        arrow.setAccessibleName("More functions")
        arrow.setToolTip("Functions that have no room here.")
    return row


def deeds(*buttons: QPushButton) -> QToolBar:
    """Buttons at the right end of a row, no wider than their words."""
    gap = QWidget()
    gap.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Preferred)
    for button in buttons:
        button.setFixedWidth(button.fontMetrics().horizontalAdvance(button.text()) + 3 * STEP)
    return row_of(gap, *buttons)


class Deeds(QStackedWidget):
    """Stands in the corner of the tabs and shows the functions of the one in front."""

    def __init__(self, tabs: QTabWidget) -> None:
        super().__init__(tabs)
        self._tabs = tabs
        self._rows: dict[QWidget, QWidget] = {}
        self._none = QWidget(self)
        self.addWidget(self._none)
        tabs.setCornerWidget(self)
        tabs.currentChanged.connect(lambda _index: self.follow())

    def put(self, page: QWidget, row: QWidget) -> None:
        """The functions of a page."""
        self._rows[page] = row
        self.addWidget(row)

    def follow(self) -> None:
        """Show what belongs to the page in front."""
        page = self._tabs.currentWidget()
        self.setCurrentWidget(self._rows.get(page, self._none) if page is not None else self._none)

    def minimumSizeHint(self) -> QSize:
        """A narrow pane cuts the row, never the tabs."""
        return QSize(0, super().minimumSizeHint().height())
