"""Everything that leaves the window: papers, exported diagrams, and the dialogs that go with them."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from oneline.desk.window import MainWindow


def show_keys(window: MainWindow) -> None: ...


def show_about(window: MainWindow) -> None: ...


def show_recovered(window: MainWindow, even_if_none: bool = False) -> None: ...


def edit_project(window: MainWindow) -> None: ...


def print_door_sheet(window: MainWindow) -> None: ...


def export_diagram(window: MainWindow) -> None: ...


def show_first_run(window: MainWindow) -> None: ...
