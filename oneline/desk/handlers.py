"""What each function of the table in ``actions`` does, for one window."""

from __future__ import annotations

from typing import TYPE_CHECKING

from oneline.desk import output
from oneline.desk.actions import Handler
from oneline.desk.outages import outage_handlers
from oneline.desk.tools import keyboard
from oneline.desk.tools.catalog import PLACEABLES
from oneline.model.vocabulary import EDITIONS, STATUSES

if TYPE_CHECKING:
    from oneline.desk.window import MainWindow


def handlers_of(window: MainWindow) -> dict[str, Handler]:
    """One function for each command."""
    table = {
        **_file(window),
        **_edit(window),
        **_view(window),
        **_place(window),
        **_study(window),
        **outage_handlers(window),
    }
    table["keys"] = lambda _on: output.show_keys(window)
    table["about"] = lambda _on: output.show_about(window)
    return table


def _file(window: MainWindow) -> dict[str, Handler]:
    files = window.documents

    def fitted(done: bool) -> None:
        if done:
            window.canvas.show_opened()

    return {
        "new": lambda _on: fitted(files.new()),
        "open": lambda _on: fitted(files.open()),
        "sample": lambda _on: fitted(files.open_sample()),
        "recover": lambda _on: output.show_recovered(window, even_if_none=True),
        "save": lambda _on: files.save(),
        "save-as": lambda _on: files.save_as(),
        "project": lambda _on: output.edit_project(window),
        "door": lambda _on: output.print_door_sheet(window),
        "record": lambda _on: output.print_record(window),
        "import-record": lambda _on: output.import_interval_data(window),
        "export": lambda _on: output.export_diagram(window),
        "close": lambda _on: fitted(files.new()),
        "quit": lambda _on: window.close(),
    }


def _edit(window: MainWindow) -> dict[str, Handler]:
    editing, session, canvas = window.editing, window.session, window.canvas

    def undo(_on: bool) -> None:
        canvas.escape_gesture()
        label = session.undo_label
        session.undo()
        if not editing.look_again(label):
            _show_selected(window)
        window.say(f"Taken back: {label}." if label else "There is nothing to take back.")

    def redo(_on: bool) -> None:
        canvas.escape_gesture()
        label = session.redo_label
        session.redo()
        if not editing.look_again(label):
            _show_selected(window)
        window.say(f"Made again: {label}." if label else "There is nothing to make again.")

    table: dict[str, Handler] = {
        "undo": undo,
        "redo": redo,
        "cut": lambda _on: editing.cut(),
        "copy": lambda _on: window.say("Copied, also as a picture.") if editing.copy() else None,
        "paste": lambda _on: editing.paste(),
        "duplicate": lambda _on: editing.duplicate(),
        "delete": lambda _on: editing.delete(),
        "rename": lambda _on: editing.rename(),
        "details": lambda _on: window.focus_details(),
        "select-all": lambda _on: editing.select_all(),
        "select-below": lambda _on: editing.select_below(),
        "find": lambda _on: window.find_box.open(),
    }
    for status in STATUSES:
        table[f"status-{status}"] = lambda _on, s=status: editing.mark(s)  # type: ignore[misc]
    return table


def _show_selected(window: MainWindow) -> None:
    if window.session.selection:
        window.canvas.show_item(window.session.selection[0])


def _view(window: MainWindow) -> dict[str, Handler]:
    canvas, session, theme = window.canvas, window.session, window.theme

    def show(view: str) -> None:
        session.set_view(view)
        window.say(f"The {view} view: {'what is there now' if view == 'existing' else 'with the new work'}.")

    def symbols(name: str) -> None:
        session.set_symbols(name)
        window.settings.setValue("symbols", name)

    def choose_theme(choice: str) -> None:
        theme.choose(choice)
        window.settings.setValue("theme", choice)

    def grid(on: bool) -> None:
        canvas.grid_shown = on
        canvas.viewport().update()

    def snap(on: bool) -> None:
        canvas.snapping = on

    def full(on: bool) -> None:
        window.showFullScreen() if on else window.showNormal()

    table: dict[str, Handler] = {
        "view-existing": lambda _on: show("existing"),
        "view-proposed": lambda _on: show("proposed"),
        "view-switch": lambda _on: show("proposed" if session.view == "existing" else "existing"),
        "zoom-in": lambda _on: canvas.zoom_in(),
        "zoom-out": lambda _on: canvas.zoom_out(),
        "zoom-full": lambda _on: canvas.zoom_full(),
        "fit": lambda _on: canvas.fit(),
        "fit-selection": lambda _on: canvas.fit(list(session.selection)),
        "grid": grid,
        "snap": snap,
        "symbols-us": lambda _on: symbols("us"),
        "symbols-iec": lambda _on: symbols("iec"),
        "next-item": lambda _on: keyboard.cycle(canvas, 1),
        "previous-item": lambda _on: keyboard.cycle(canvas, -1),
        "next-pane": lambda _on: window.docks.step(1),
        "previous-pane": lambda _on: window.docks.step(-1),
        "full-screen": full,
    }
    for choice in ("system", "light", "dark"):
        table[f"theme-{choice}"] = lambda _on, c=choice: choose_theme(c)  # type: ignore[misc]
    for name, step in (("up", (0, -1)), ("down", (0, 1)), ("left", (-1, 0)), ("right", (1, 0))):
        table[f"walk-{name}"] = lambda _on, s=step: keyboard.walk(canvas, s)  # type: ignore[misc]
    return table


def _place(window: MainWindow) -> dict[str, Handler]:
    canvas, editing = window.canvas, window.editing

    def new_work(on: bool) -> None:
        canvas.new_status = "new" if on else "existing"
        if on and window.session.view == "existing":
            window.session.set_view("proposed")
        window.say(
            "What is put on the sheet now is marked new (N)." if on else "What is put on the sheet now is existing."
        )

    table: dict[str, Handler] = {
        "connect": lambda _on: editing.connect(),
        "tie": lambda _on: editing.connect(tie=True),
        "swap": lambda _on: editing.swap(),
        "new-work": new_work,
        "arrange": lambda _on: editing.arrange(),
    }
    for what in PLACEABLES:
        table[f"place-{what.key}"] = lambda _on, k=what.key: keyboard.add_next(canvas, k)  # type: ignore[misc]
    return table


def _study(window: MainWindow) -> dict[str, Handler]:
    editing = window.editing
    table: dict[str, Handler] = {
        "operate": lambda _on: editing.operate(),
        "next-finding": lambda _on: editing.step_finding(1),
        "previous-finding": lambda _on: editing.step_finding(-1),
        "what-helps": lambda _on: output.try_what_helps(window),
        "fits": lambda _on: output.show_fits(window),
    }
    for year in EDITIONS:
        table[f"edition-{year}"] = lambda _on, y=year: editing.set_edition(y)  # type: ignore[misc]
    return table
