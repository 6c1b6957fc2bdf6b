"""The live block on top of the details: what reaches the item, what it carries, what may be added, before and after."""

from __future__ import annotations

from PySide6.QtCore import QEvent, Qt
from PySide6.QtGui import QFont
from PySide6.QtWidgets import QGridLayout, QLabel, QVBoxLayout, QWidget

from oneline.desk.panes.look import STEP, Quiet, scaled, tabular
from oneline.desk.panes.pointrows import (
    FigureRow,
    as_tried,
    figure_rows,
    limit_sentences,
    live_sentences,
    missing,
    points_of,
)
from oneline.desk.panes.words import is_bound, keep_together
from oneline.model import Drawing
from oneline.model.vocabulary import VIEW_STATUSES
from oneline.network.live import LiveState
from oneline.study import PointFigures, StudyResult

_HEADS = ("", "Existing", "Proposed", "Change")


class PointBlock(QWidget):
    """Sentences about where an item stands, then its figures of both views side by side."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        box = QVBoxLayout(self)
        box.setContentsMargins(0, 0, 0, 0)
        box.setSpacing(STEP // 2)
        self.live = QLabel(self)
        self.limit = QLabel(self)
        self.needs = Quiet("", self)
        for label in (self.live, self.limit, self.needs):
            label.setWordWrap(True)
            label.setTextFormat(Qt.TextFormat.PlainText)
            label.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self._cells: list[list[QLabel]] = []
        self._table = QWidget(self)
        self._grid = QGridLayout(self._table)
        self._grid.setContentsMargins(0, STEP // 2, 0, STEP // 2)
        self._grid.setHorizontalSpacing(STEP // 2)
        self._grid.setVerticalSpacing(2)
        self._grid.setColumnStretch(0, 1)
        for column in (1, 2, 3):
            self._grid.setColumnMinimumWidth(column, 52)
        self._heads = [Quiet(text, self._table) for text in _HEADS]
        for column, head in enumerate(self._heads):
            head.setFont(scaled(head.font(), 0.92))
            self._grid.addWidget(head, 0, column, _side(column))
        for widget in (self.live, self._table, self.limit, self.needs):
            box.addWidget(widget)

    def show_item(
        self, item_id: str, drawing: Drawing, before: StudyResult, after: StudyResult, view: str,
        tried: LiveState | None = None,
    ) -> None:  # fmt: skip
        """Show the item's figures; the block hides its table when the study has none for it. ``tried``: the live state by
        positions that are tried."""
        old, new = points_of(item_id, before, after)
        here = (old if view == "existing" else new) or new or old
        if here is None:
            self.live.setText(_not_studied(item_id, drawing, view))
            for widget in (self._table, self.limit, self.needs):
                widget.hide()
            return
        said = _ended(live_sentences(here, drawing))
        if tried is not None and item_id in tried.net.drawing.items:
            said = f"As tried: {_ended(live_sentences(as_tried(here, tried), drawing, 'as tried'))}\nAs drawn: {said}"
        self.live.setText(said)
        self._fill(figure_rows(old, new))
        self._weigh(view)
        _say(self.limit, limit_sentences(old, new))
        _say(self.needs, _needs_sentences(here))
        self._table.show()

    def text_of(self, what: str) -> tuple[str, str, str]:
        """What stands in a row: (existing, proposed, change)."""
        for cells in self._cells:
            if not cells[0].isHidden() and cells[0].text() == what:
                before, after, change = (cell.text().replace("\n", "") for cell in cells[1:])
                return before, after, change
        raise KeyError(what)

    def _fill(self, rows: list[FigureRow]) -> None:
        while len(self._cells) < len(rows):
            self._add_row()
        for number, cells in enumerate(self._cells):
            used = number < len(rows)
            for cell in cells:
                cell.setVisible(used)
            if used:
                row = rows[number]
                texts = (row.what, row.before, row.after, row.change)
                tips = (row.why_after or row.why_before, row.why_before, row.why_after, "")
                for cell, text, tip in zip(cells, texts, tips, strict=True):
                    cell.setText(
                        text.replace("–", "–\n") if is_bound(text) else text
                    )  # both bounds are wider than a column
                    cell.setToolTip(tip)

    def _add_row(self) -> None:
        line = len(self._cells) + 1
        cells: list[QLabel] = []
        for column in range(4):
            cell = Quiet("", self._table) if column in (0, 3) else _Figure(self._table)
            cell.setTextFormat(Qt.TextFormat.PlainText)
            cell.setFont(tabular(cell.font()))
            cell.setAlignment(_side(column) | Qt.AlignmentFlag.AlignVCenter)
            self._grid.addWidget(cell, line, column, _side(column))
            cells.append(cell)
        self._cells.append(cells)

    def _weigh(self, view: str) -> None:
        """The view on the sheet stands in bold."""
        column = 1 if view == "existing" else 2
        for cells in self._cells:
            for number in (1, 2):
                cell = cells[number]
                assert isinstance(cell, _Figure)
                cell.weigh(number == column)


class _Figure(QLabel):
    """A figure of one view; the weight it was given stays when the theme, which brings its own fonts, changes."""

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self._bold = False

    def weigh(self, bold: bool) -> None:
        """Write in bold or not."""
        self._bold = bold
        if self.font().bold() != bold:
            font = QFont(self.font())
            font.setBold(bold)
            self.setFont(font)

    def changeEvent(self, event: QEvent) -> None:
        super().changeEvent(event)
        if event.type() in (QEvent.Type.FontChange, QEvent.Type.StyleChange) and hasattr(self, "_bold"):
            self.weigh(self._bold)


def _ended(sentences: list[str]) -> str:
    """Sentences one after another, the last with its full stop."""
    said = ". ".join(sentences)
    return said if said.endswith(".") else f"{said}."


def _side(column: int) -> Qt.AlignmentFlag:
    return Qt.AlignmentFlag.AlignLeft if column == 0 else Qt.AlignmentFlag.AlignRight


def _say(label: QLabel, sentences: list[str]) -> None:
    label.setText(keep_together("\n".join(sentences)))
    label.setVisible(bool(sentences))


def _needs_sentences(point: PointFigures) -> list[str]:
    found = missing(point, most=2)
    return [found] if found else []


def _not_studied(item_id: str, drawing: Drawing, view: str) -> str:
    item = drawing.get(item_id)
    if item.status not in VIEW_STATUSES["existing"] and item.status not in VIEW_STATUSES["proposed"]:
        return "Future work: not part of the existing or the proposed view, so it has no figures."
    if not item.terminals and item.kind == "joint":
        return "A bolted connection has no figures of its own."
    return "No figures yet. Connect it to something that is fed."
