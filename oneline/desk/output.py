"""Everything that leaves the window: papers, exported diagrams, and the dialogs that go with them."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from oneline.desk.panes.details import DetailsPane
from oneline.desk.panes.dialogs import AboutDialog, FirstRunNote, KeysDialog
from oneline.desk.panes.fits import FitsDialog
from oneline.desk.panes.papers import ExportChoice, ExportDialog, PrintChoice, PrintDialog
from oneline.desk.recovered import RecoveredDialog
from oneline.desk.scene_items import PX_PER_UNIT
from oneline.files import recovery
from oneline.model import Bus, Drawing
from oneline.sheet import build_picture
from oneline.study import study

if TYPE_CHECKING:
    from oneline.desk.window import MainWindow

_POINTS_PER_INCH = 72.0


def show_keys(window: MainWindow) -> None:
    """All functions with their keys."""
    KeysDialog(window.actions_by_key.values(), window).exec()


def show_about(window: MainWindow) -> None:
    """What the program is, and what it cannot answer for."""
    AboutDialog(window).exec()


def show_first_run(window: MainWindow) -> None:
    """A note above the sheet, until it is put away or another drawing is begun or opened. The sheet fits below it."""
    note = FirstRunNote(window)
    stop = window.session.listen(lambda kinds: note.put_away() if {"file", "drawing"} <= kinds else None)
    window.put_above_sheet(note)
    note.dismissed.connect(stop)
    note.dismissed.connect(note.deleteLater)


def show_recovered(window: MainWindow, even_if_none: bool = False) -> None:
    """Offer the drawings that a crash left behind. Closing the list decides nothing: they are offered again."""
    copies = [c for c in recovery.recovery_copies() if c.orphaned]
    if not copies:
        if even_if_none:
            window.say("There is nothing to recover: the program always ended normally.")
        return
    dialog = RecoveredDialog(copies, window)
    if dialog.exec() and dialog.opened is not None and dialog.chosen is not None and window.documents.may_leave():
        copy = dialog.chosen
        label = f"{copy.title or Path(copy.original).name or 'Untitled'} (recovered)"
        window.documents.take_recovered(dialog.opened.drawing, copy.original, label, copy.fingerprint)
        window.canvas.show_opened()
        window.documents.keep_copy()
        recovery.discard(copy)
        window.say("Recovered. Look it over, then save it.")


def edit_project(window: MainWindow) -> None:
    """The project's data stand in the details pane while nothing is selected."""
    window.session.select([])
    window.focus_details()


def print_record(window: MainWindow) -> None:
    """See the pages of the demand records, save or print them."""
    print_door_sheet(window, "record")


def print_door_sheet(window: MainWindow, paper: str = "door") -> None:
    """Choose paper, panel, size and view, see the page, save or print it. ``paper``: the one to begin with."""
    drawing, symbols, name = window.session.drawing, window.session.symbols, window.documents.name
    panels = panels_with_doors(drawing)
    chosen = [panel for _, panel in panels if panel in window.session.selection]
    subject = "recorded demand" if paper == "record" else "door sheet"
    dialog = PrintDialog(
        lambda choice: paper_pdf(drawing, choice, name, symbols), f"{stem(name)} {subject}", window.session.view, window,
        panels, chosen[0] if len(chosen) == 1 else "", paper,
    )  # fmt: skip
    dialog.exec()
    if dialog.saved_to is not None:
        window.say(f"Written: {dialog.saved_to.name}")
    dialog.deleteLater()


def panels_with_doors(drawing: Drawing) -> tuple[tuple[str, str], ...]:
    """(name, id) of each bus a door sheet can be for: every panelboard, known circuits or not, and what has circuits."""
    doors = (bus for bus in drawing.of(Bus) if bus.circuits or bus.form == "panelboard")
    return tuple((bus.name or drawing.name_of(bus.id), bus.id) for bus in doors)


def paper_pdf(drawing: Drawing, choice: PrintChoice, file_name: str, symbols: str) -> bytes:
    """The paper that is chosen, of one view, as PDF."""
    return (record_pdf if choice.paper == "record" else door_pdf)(drawing, choice, file_name, symbols)


def record_pdf(drawing: Drawing, choice: PrintChoice, file_name: str, _symbols: str) -> bytes:
    """The pages of the demand records of one view as PDF."""
    from oneline.paper.recorded import plan_record_pages
    from oneline.study.record_chart import record_charts

    edition = drawing.project.edition
    charts = record_charts(drawing, choice.view, edition)
    return plan_record_pages(
        drawing, charts, choice.view, edition, choice.size, printed_at=datetime.now(), file_name=file_name
    ).pdf()


def import_interval_data(window: MainWindow) -> None:
    """Read interval data into the selected service, meter or generator."""
    selected = [window.session.drawing.get(i) for i in window.session.selection if i in window.session.drawing]
    if len(selected) != 1 or not hasattr(selected[0], "demand"):
        window.say("Select the service, meter or generator at which it was recorded, then import its interval data.")
        return
    window.focus_details()
    details = window.docks.widget("Details")
    assert isinstance(details, DetailsPane)
    details.refresh_now()
    details.demand.ask_for_file()


def try_what_helps(window: MainWindow) -> None:
    """Begin to try what would help for the findings of the selected item, in the details pane."""
    if len(window.session.selection) != 1:
        window.say("Select one item, then ask what would help.")
        return
    window.docks.show("Details")
    details = window.docks.widget("Details")
    assert isinstance(details, DetailsPane)
    name = window.session.drawing.name_of(window.session.selection[0])
    if not details.try_what_helps():
        window.say(f"Nothing fails and nothing is unknown at {name}.")


def show_fits(window: MainWindow) -> None:
    """What fits at the selected item."""
    if len(window.session.selection) != 1:
        window.say("Select one item, then ask what fits there.")
        return
    dialog = FitsDialog(window.session, window.session.selection[0], window)
    dialog.exec()
    dialog.deleteLater()


def door_pdf(drawing: Drawing, choice: PrintChoice, file_name: str, symbols: str) -> bytes:
    """The door sheet of one view as PDF."""
    from oneline.paper.door import door_sheet

    if choice.panel and choice.panel not in drawing.view(choice.view).items:
        raise ValueError(f"{drawing.name_of(choice.panel)} is not in the {choice.view} view.")
    result = study(drawing, choice.view)
    picture = build_picture(drawing, result, choice.view, symbols, ghosts=False)
    return door_sheet(
        drawing, result, picture, choice.size, printed_at=datetime.now(), file_name=file_name, symbols=symbols,
        panel=choice.panel or None,
    )  # fmt: skip


def export_diagram(window: MainWindow) -> None:
    """Choose format and view of the diagram, and write it."""
    drawing, symbols, name = window.session.drawing, window.session.symbols, window.documents.name
    dialog = ExportDialog(
        lambda choice: diagram(drawing, choice, symbols, name), stem(name), window.session.view, window
    )
    dialog.exec()
    if dialog.saved_to is not None:
        window.say(f"Written: {dialog.saved_to.name}")
    dialog.deleteLater()


def diagram(drawing: Drawing, choice: ExportChoice, symbols: str, name: str) -> bytes:
    """The diagram of one view as SVG, PNG or PDF: black on white, only what the view holds, with key and cautions."""
    from oneline.paper.key import with_key

    result = study(drawing, choice.view)
    picture = with_key(build_picture(drawing, result, choice.view, symbols, ghosts=False), drawing, result)
    if choice.format == "svg":
        from oneline.paper.svg import svg_of

        return svg_of(picture, title=drawing.project.title or name).encode()
    from oneline.paper.png import picture_page, png_bytes

    if choice.format == "png":
        return png_bytes(picture, dpi=_POINTS_PER_INCH * PX_PER_UNIT * choice.scale)
    from oneline.paper.pdf import pdf_bytes

    return pdf_bytes([picture_page(picture)], title=drawing.project.title or name)


def stem(name: str) -> str:
    """A file's name without its ending."""
    return Path(name).stem or "drawing"
