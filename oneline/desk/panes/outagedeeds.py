"""The functions of a tab of the outage pane: one row beside the names of the tabs, so that the table keeps the room."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QSize
from PySide6.QtWidgets import QPushButton, QSizePolicy, QStackedWidget, QTabWidget, QToolBar, QToolButton, QWidget

from oneline.desk.panes.look import CONTROL_PX, STEP

#: Height of the buttons beside the tabs: the least that can be hit.
LOW_PX = 24
_ARROW_ROOM = 12


class Row(QToolBar):
    """Controls in one row without air around it; what has no room is behind the arrow at its end."""

    def __init__(self, height: int, *widgets: QWidget) -> None:
        super().__init__()
        self.setObjectName("deeds")
        self.setFixedHeight(height)
        for widget in widgets:
            self.addWidget(widget)
        for arrow in self.findChildren(QToolButton, "qt_toolbar_ext_button"):
            arrow.setAccessibleName("More functions")
            arrow.setToolTip("Functions that have no room here.")
            arrow.setMinimumWidth(LOW_PX)

    def event(self, event: QEvent) -> bool:
        """The style gives every bar its own margins, whenever it changes."""
        done = super().event(event)
        lay = self.layout()
        if event.type() in (QEvent.Type.Polish, QEvent.Type.StyleChange, QEvent.Type.Show) and lay is not None:
            lay.setContentsMargins(0, 0, _ARROW_ROOM, 0)  # the bar gives its arrow half the width of a target
            lay.setSpacing(STEP // 2)
        if event.type() in (QEvent.Type.Resize, QEvent.Type.LayoutRequest, QEvent.Type.Show):
            for arrow in self.findChildren(QToolButton, "qt_toolbar_ext_button"):
                arrow.setGeometry(self.width() - LOW_PX, 0, LOW_PX, self.height())
        return done


def row_of(*widgets: QWidget) -> Row:
    """Controls of the common height in one row."""
    return Row(CONTROL_PX, *widgets)


def deeds(*buttons: QPushButton) -> Row:
    """Buttons at the right end of a row, no wider than their words and no higher than the tabs beside them."""
    gap = QWidget()
    gap.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Preferred)
    for button in buttons:
        button.setFixedSize(button.fontMetrics().horizontalAdvance(button.text()) + 3 * STEP, LOW_PX)
    return Row(LOW_PX, gap, *buttons)


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
