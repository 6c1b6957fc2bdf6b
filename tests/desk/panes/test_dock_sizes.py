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
        qtbot.waitUntil(lambda: 0.16 <= bottom.height() / height <= 0.24)
        assert 290 <= right.width() <= 310
        canvas = window.canvas
        assert canvas.width() * canvas.height() > 0.4 * width * height
    finally:
        window.close()
        window.deleteLater()
        app.processEvents()


def docks(window) -> dict[str, QDockWidget]:
    return {d.windowTitle(): d for d in window.findChildren(QDockWidget)}
