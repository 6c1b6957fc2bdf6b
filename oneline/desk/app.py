"""Starts the editor: application, theme, the drawing to begin with, and what happens when something unforeseen happens."""

from __future__ import annotations

import os
import sys
import traceback
from collections.abc import Callable, Sequence
from pathlib import Path
from types import TracebackType

from PySide6.QtCore import QSettings, Qt, QTimer
from PySide6.QtWidgets import QApplication, QMessageBox

from oneline.desk import output, spoken
from oneline.desk.theme import Theme
from oneline.desk.window import MainWindow
from oneline.files import recovery
from oneline.session import Session


def run(argv: Sequence[str] = ()) -> int:
    """Open the editor, with the first argument as file. Returns the exit code when the last window is closed."""
    app = make_app()
    settings = QSettings("oneline", "oneline")
    keeper = _keeper()
    window = make_window(app, settings, keeper)
    stop_watching = watch_for_exceptions(window)
    window.show()
    window.canvas.setFocus()
    QTimer.singleShot(0, lambda: begin(window, Path(argv[0]) if argv else None))
    try:
        return app.exec()
    finally:
        stop_watching()
        if keeper is not None:
            keeper.close()


def make_app() -> QApplication:
    """The application object, once for a process."""
    app = QApplication.instance()
    if not isinstance(app, QApplication):
        QApplication.setHighDpiScaleFactorRoundingPolicy(Qt.HighDpiScaleFactorRoundingPolicy.PassThrough)
        app = QApplication(sys.argv[:1])
    spoken.install()
    app.setApplicationName("oneline")
    app.setApplicationDisplayName("Oneline")
    app.setDesktopFileName("oneline")
    app.setStyle("Fusion")
    return app


def make_window(app: QApplication, settings: QSettings, keeper: recovery.Session | None) -> MainWindow:
    """A window with an empty drawing."""
    theme = Theme(app, str(settings.value("theme", "system")))
    return MainWindow(Session(), settings, theme, keeper)


def begin(window: MainWindow, path: Path | None) -> None:
    """Show what there is to begin with: recovered drawings, the given file, or on the first run the worked sample."""
    first = not window.settings.contains("begun")
    window.settings.setValue("begun", "yes")
    try:
        if path is not None:
            window.documents.load(path)
        elif first:
            window.documents.load_sample()
    finally:
        window.canvas.show_opened()
    if first:
        output.show_first_run(window)
    output.show_recovered(window)
    window.activateWindow()
    window.canvas.setFocus()


def _keeper() -> recovery.Session | None:
    """The lock that tells a running editor from one that crashed; without it there are no recovery copies."""
    try:
        return recovery.Session()
    except OSError as bad:
        print(f"Recovery copies cannot be kept: {bad}", file=sys.stderr)
        return None


def watch_for_exceptions(window: MainWindow) -> Callable[[], None]:
    """After an unforeseen exception: keep a copy of the drawing, tell the user what to do, go on. Returns how to stop."""
    before = sys.excepthook

    def hook(kind: type[BaseException], value: BaseException, trace: TracebackType | None) -> None:
        before(kind, value, trace)
        if issubclass(kind, KeyboardInterrupt):
            QApplication.quit()
            return
        kept = window.documents.keep_copy()
        tell_unforeseen(window, "".join(traceback.format_exception(kind, value, trace)), kept)

    sys.excepthook = hook

    def stop() -> None:
        if sys.excepthook is hook:
            sys.excepthook = before

    return stop


#: Problems told already; "" while a message is open. Each is told once, so that no row of dialogs keeps the user from saving.
_told: set[str] = set()


def tell_unforeseen(window: MainWindow, details: str, kept: bool) -> None:
    """Say that something went wrong, whether a copy was kept, and what to do; each problem once, one at a time."""
    problem = details.strip().splitlines()[-1]
    if _told & {"", problem} or os.environ.get("ONELINE_NO_DIALOGS"):
        return
    _told.update({"", problem})
    try:
        box = QMessageBox(window)
        box.setIcon(QMessageBox.Icon.Warning)
        box.setWindowTitle("Something unforeseen happened")
        box.setText("Oneline met a problem it did not foresee. Your drawing is still open.")
        copy = (
            "A recovery copy was kept. " if kept else "" if window.session.clean else "No recovery copy could be kept. "
        )
        box.setInformativeText(
            f"{copy}Save the drawing under a new name now, then start Oneline again. "
            "The details help to correct the problem."
        )
        box.setDetailedText(details)
        box.exec()
    finally:
        _told.discard("")
