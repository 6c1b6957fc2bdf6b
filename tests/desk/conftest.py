"""A window for tests: its own settings and state folder, no dialogs that wait, gone afterwards."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from PySide6.QtCore import QPoint, QPointF, QSettings, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from oneline.desk.app import make_app, make_window
from oneline.desk.window import MainWindow
from oneline.files import recovery
from oneline.model import Drawing
from oneline.session import Session


@pytest.fixture
def state(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The program's own folder, for this test only."""
    folder = tmp_path / "state"
    monkeypatch.setenv("ONELINE_STATE", str(folder))
    monkeypatch.setenv("ONELINE_NO_DIALOGS", "1")
    return folder


@dataclass
class Desk:
    """A window, and hands for it."""

    window: MainWindow

    @property
    def session(self) -> Session:
        return self.window.session

    @property
    def drawing(self) -> Drawing:
        return self.window.session.drawing

    @property
    def said(self) -> str:
        return self.window.statusBar().currentMessage()

    def names(self) -> list[str]:
        return [i.name for i in self.drawing.items.values() if i.name]

    def named(self, name: str) -> str:
        return next(i.id for i in self.drawing.items.values() if i.name == name)

    def screen(self, at: tuple[float, float]) -> QPoint:
        return self.window.canvas.to_screen(QPointF(*at)).toPoint()

    def middle(self, item_id: str) -> QPoint:
        item = self.window.canvas.sheet.sheet_items[item_id]
        if item.body.isEmpty():
            route = self.window.canvas.route_of(item_id)
            n = max(range(len(route) - 1), key=lambda k: abs(route[k][1] - route[k + 1][1]))
            (ax, ay), (bx, by) = route[n], route[n + 1]
            return self.screen(((ax + bx) / 2, (ay + by) / 2))
        return self.screen((item.body.center().x(), item.body.center().y()))

    def terminal(self, item_id: str, terminal: str) -> QPoint:
        return self.screen(self.session.picture.terminals[(item_id, terminal)])

    def click(self, at: QPoint, held: Qt.KeyboardModifier = Qt.KeyboardModifier.NoModifier) -> None:
        port = self.window.canvas.viewport()
        QTest.mouseMove(port, at)
        QTest.mouseClick(port, Qt.MouseButton.LeftButton, held, at)

    def drag(
        self, start: QPoint, end: QPoint, held: Qt.KeyboardModifier = Qt.KeyboardModifier.NoModifier, drop: bool = True
    ) -> None:
        port = self.window.canvas.viewport()
        QTest.mousePress(port, Qt.MouseButton.LeftButton, held, start)
        for n in range(1, 6):
            QTest.mouseMove(port, start + (end - start) * n / 5)
        if drop:
            QTest.mouseRelease(port, Qt.MouseButton.LeftButton, held, end)

    def keys(self, *keys: Qt.Key | str, held: Qt.KeyboardModifier = Qt.KeyboardModifier.NoModifier) -> None:
        """Press keys on whatever has the focus; a text of several letters is typed."""
        for key in keys:
            target = QApplication.focusWidget() or self.window.canvas
            if isinstance(key, str):
                QTest.keyClicks(target, key, held)
            else:
                QTest.keyClick(target, key, held)

    def do(self, command: str) -> None:
        self.window.actions_by_key[command].trigger()


@pytest.fixture(scope="session")
def shared_window(qapp, tmp_path_factory: pytest.TempPathFactory) -> Iterator[MainWindow]:
    """One window for all tests: making one takes longer than most tests. ``desk`` puts it back to its beginning."""
    folder = tmp_path_factory.mktemp("desk")
    app = make_app()
    settings = QSettings(str(folder / "settings.ini"), QSettings.Format.IniFormat)
    with recovery.Session(folder / "state") as keeper:
        window = make_window(app, settings, keeper)
        window.show()
        yield window
        window.session.mark_saved(folder / "closed.oneline")
        window.close()
        window.deleteLater()
        app.processEvents()


@pytest.fixture
def desk(qtbot, shared_window: MainWindow, state: Path) -> Iterator[Desk]:
    """A window with an empty drawing, shown, with the keyboard on the sheet."""
    window = shared_window
    with recovery.Session() as keeper:
        window.documents._keeper = keeper
        begin_anew(window)
        window.resize(1400, 900)
        window.activateWindow()
        window.canvas.setFocus()
        qtbot.waitUntil(window.canvas.hasFocus)
        QApplication.processEvents()
        yield Desk(window)
        begin_anew(window)


def begin_anew(window: MainWindow) -> None:
    """Put a window back to an empty drawing and to all defaults."""
    canvas = window.canvas
    window.documents._take(Drawing(), None, None)
    canvas._rename.give_up()
    canvas.use_tool(None)
    canvas.tool.cancel()
    window.find_box.hide()
    window.settings.clear()
    window.session.set_view("proposed")
    window.session.set_symbols("us")
    if window.theme.choice != "light":
        window.theme.choose("light")
    for key in ("grid", "snap"):
        if not window.actions_by_key[key].isChecked():
            window.actions_by_key[key].trigger()
    if window.actions_by_key["new-work"].isChecked():
        window.actions_by_key["new-work"].trigger()
    canvas.set_zoom(1.0)
    canvas.centerOn(0.0, 100.0)
    QApplication.clipboard().clear()
    window.statusBar().clearMessage()
