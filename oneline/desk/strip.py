"""The strip of things that can be put on the sheet: click, then click on the sheet; or drag onto the sheet."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from PySide6.QtCore import QEvent, QMimeData, QPoint, QRect, QSize, Qt
from PySide6.QtGui import QAction, QDrag, QIcon, QMouseEvent, QPaintEvent, QPalette
from PySide6.QtWidgets import (
    QApplication,
    QStyle,
    QStyleOptionToolButton,
    QStylePainter,
    QToolBar,
    QToolButton,
    QWidget,
)

from oneline.desk.icons import icon
from oneline.desk.tools.catalog import PLACEABLES, Placeable
from oneline.desk.tools.place import MIME_KIND

#: Lines are drawn above these entries: ways of the current, places, other sources.
_BREAKS = ("fused-switch", "bus", "transformer", "generator", "load")


class StripButton(QToolButton):
    """One entry. Shows its key, takes the tool into the hand on a click, starts a drag when it is pulled."""

    def __init__(self, what: Placeable, take: Callable[[str], None], tip: str) -> None:
        super().__init__()
        self.what = what
        self._take = take
        self._from: QPoint | None = None
        self.setIcon(icon(what.key))
        self.setIconSize(QSize(20, 20))
        self.setText(what.title)
        self.setToolTip(f"{what.title} ({what.letter})\n{what.tip}. Click, then click on the sheet; or drag it there.")
        self.setStatusTip(tip)
        self.setAccessibleName(what.title)
        self.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonTextBesideIcon)
        self.setCheckable(True)
        self.setAutoRaise(True)
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.setFixedSize(138, 30)
        self.clicked.connect(self._clicked)

    def _clicked(self) -> None:
        self._take(self.what.key if self.isChecked() else "")

    def paintEvent(self, event: QPaintEvent) -> None:
        """Icon and name in columns of their own, and the key in quiet ink at the right end."""
        option = QStyleOptionToolButton()
        self.initStyleOption(option)
        option.text, option.icon = "", QIcon()
        painter = QStylePainter(self)
        painter.drawComplexControl(QStyle.ComplexControl.CC_ToolButton, option)
        side = self.iconSize().width()
        self.icon().paint(painter, QRect(8, (self.height() - side) // 2, side, side))
        palette, middle = self.palette(), Qt.AlignmentFlag.AlignVCenter
        painter.setPen(palette.color(QPalette.ColorRole.ButtonText))
        painter.drawText(
            self.rect().adjusted(side + 16, 0, 0, 0), int(Qt.AlignmentFlag.AlignLeft | middle), self.text()
        )
        painter.setPen(palette.color(QPalette.ColorRole.PlaceholderText))
        painter.drawText(self.rect().adjusted(0, 0, -8, 0), int(Qt.AlignmentFlag.AlignRight | middle), self.what.letter)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        self._from = event.position().toPoint()
        super().mousePressEvent(event)

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        if self._from is not None and event.buttons() & Qt.MouseButton.LeftButton:
            moved = (event.position().toPoint() - self._from).manhattanLength()
            if moved >= QApplication.startDragDistance():
                self._from = None
                self.setDown(False)
                self._drag()
                return
        super().mouseMoveEvent(event)

    def _drag(self) -> None:
        data = QMimeData()
        data.setData(MIME_KIND, self.what.key.encode())
        drag = QDrag(self)
        drag.setMimeData(data)
        drag.setPixmap(self.icon().pixmap(QSize(32, 32)))
        drag.exec(Qt.DropAction.CopyAction)


class Strip(QToolBar):
    """The strip at the left of the sheet."""

    def __init__(self, actions: Mapping[str, QAction], take: Callable[[str], None], parent: QWidget) -> None:
        super().__init__("Place", parent)
        self.setObjectName("palette")
        self.setOrientation(Qt.Orientation.Vertical)
        self.setMovable(False)
        self.setContextMenuPolicy(Qt.ContextMenuPolicy.PreventContextMenu)
        self.buttons: dict[str, StripButton] = {}
        for what in PLACEABLES:
            if what.key in _BREAKS:
                self.addSeparator()
            button = StripButton(what, take, actions[f"place-{what.key}"].statusTip())
            self.buttons[what.key] = button
            self.addWidget(button)

    def event(self, event: QEvent) -> bool:
        """Take the margins of the style sheet when it is applied: they were taken before this bar had its name."""
        done = super().event(event)
        if event.type() == QEvent.Type.Polish:
            QApplication.sendEvent(self, QEvent(QEvent.Type.StyleChange))
        return done

    def show_taken(self, key: str) -> None:
        """Show which entry is in the hand, "" for none."""
        for name, button in self.buttons.items():
            button.setChecked(name == key)
