"""The functions of a tab of the outage pane: one row beside the names of the tabs, so that the table keeps the room."""

from __future__ import annotations

from PySide6.QtWidgets import QHBoxLayout, QPushButton, QStackedWidget, QTabWidget, QWidget

from oneline.desk.panes.look import STEP


def deeds(*buttons: QPushButton) -> QWidget:
    """Buttons in one row, no wider than their words."""
    row = QWidget()
    box = QHBoxLayout(row)
    box.setContentsMargins(0, 0, 0, 2)
    box.setSpacing(STEP // 2)
    box.addStretch(1)
    for button in buttons:
        button.setFixedWidth(button.fontMetrics().horizontalAdvance(button.text()) + 3 * STEP)
        box.addWidget(button)
    return row


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
