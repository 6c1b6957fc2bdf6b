"""How much of the window the panes take when it is opened for the first time: the sheet is the largest thing by far."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QSettings
from PySide6.QtWidgets import QDockWidget

from oneline.desk.app import make_app, make_window


@pytest.mark.parametrize(("width", "height"), [(1280, 800), (1600, 1000)])
def test_the_sheet_is_the_largest_thing_at_the_first_start(qapp, tmp_path, state, qtbot, width, height):
    app = make_app()
    window = make_window(app, QSettings(str(tmp_path / "s.ini"), QSettings.Format.IniFormat), None)
    try:
        window.resize(width, height)
        window.show()
        right, bottom = docks(window)["Details"], docks(window)["Findings"]
        qtbot.waitUntil(lambda: 0.25 <= bottom.height() / height <= 0.32)
        assert 290 <= right.width() <= 310
        canvas = window.canvas
        area = canvas.width() * canvas.height()
        assert area > 0.34 * width * height
        assert all(area > 1.3 * dock.width() * dock.height() for dock in (right, bottom))
    finally:
        window.close()
        window.deleteLater()
        app.processEvents()


@pytest.mark.parametrize(("width", "height", "rows"), [(1280, 800, 5), (1600, 1000, 6)])
def test_findings_and_their_worksheet_can_be_read_at_the_first_start(qapp, tmp_path, state, qtbot, width, height, rows):
    """Asked for by an electrician who tried the window: three rows and three lines were not enough."""
    app = make_app()
    window = make_window(app, QSettings(str(tmp_path / "s.ini"), QSettings.Format.IniFormat), None)
    try:
        window.resize(width, height)
        window.show()
        window.documents.load_sample()
        pane = window.docks.widget("Findings")
        qtbot.waitUntil(lambda: pane.list.model().rowCount() > rows)
        row = pane.list.sizeHintForRow(0)
        qtbot.waitUntil(lambda: pane.list.viewport().height() >= (rows - 0.5) * row)
        assert pane.sheet.viewport().height() >= 6 * pane.sheet.fontMetrics().lineSpacing()
    finally:
        window.session.mark_saved(tmp_path / "closed.oneline")
        window.close()
        window.deleteLater()
        app.processEvents()


def docks(window) -> dict[str, QDockWidget]:
    return {d.windowTitle(): d for d in window.findChildren(QDockWidget)}
