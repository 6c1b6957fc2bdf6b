"""Functions of the Outage menu: positions tried on the sheet, the rehearsal, readings, tests and papers of an outage."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from PySide6.QtCore import QTimer

from oneline.desk.actions import Handler
from oneline.desk.output import stem
from oneline.desk.panes.details import DetailsPane
from oneline.desk.panes.outage import OutagePane
from oneline.desk.panes.outagewords import now_words
from oneline.desk.panes.papers import PrintChoice, PrintDialog
from oneline.desk.panes.readingsentry import ReadingsDialog, reading_order
from oneline.model import Drawing
from oneline.outage.results import Plan, ReadingNote
from oneline.session import zones

if TYPE_CHECKING:
    from oneline.desk.window import MainWindow

_PAPERS = (
    ("All papers", "all"), ("Switching order", "order"), ("Test cards", "cards"), ("Notice for occupants", "notice"),
    ("Crew brief", "brief"),
)  # fmt: skip


def outage_handlers(window: MainWindow) -> dict[str, Handler]:
    """One function for each command of the menu."""
    session = window.session

    def pane() -> OutagePane:
        window.docks.show("Outage")
        found = window.docks.widget("Outage")
        assert isinstance(found, OutagePane)
        found.refresh_now()
        return found

    def step(by: int) -> None:
        if session.rehearsal is None:
            window.say("No rehearsal is on. Ctrl+T begins one.")
        else:
            session.rehearse(session.rehearsal.done + by)

    def new(_on: bool) -> None:
        chosen = session.selection
        found = pane()
        session.select(chosen)
        found.new_zone()
        window.docks.focus("Outage")

    return {
        "as-if": lambda _on: try_position(window),
        "as-if-end": lambda _on: session.clear_as_if(),
        "why-live": lambda _on: why_live(window),
        "outage-new": new,
        "outage-add": lambda _on: pane().add_selected(),
        "outage-less": lambda _on: pane().less_selected(),
        "rehearse": lambda _on: pane().begin_rehearsal(),
        "rehearse-forward": lambda _on: step(1),
        "rehearse-back": lambda _on: step(-1),
        "set-switches": lambda _on: pane().set_switches(),
        "order-computed": lambda _on: pane().computed_order(),
        "readings": lambda _on: enter_readings(window, pane().zone_id or ""),
        "enter-test": lambda _on: pane().records.enter_current(),
        "outage-papers": lambda _on: print_outage(window, pane().zone_id or ""),
    }


def try_position(window: MainWindow) -> None:
    """Move the selected switches as if."""
    session = window.session
    moved = [i for i in session.selection if session.move_as_if(i)]
    if not moved:
        window.say("Select a switch, then try its next position. Nothing on the drawing changes.")
    elif session.as_if:
        window.say("As if only: neither the drawing nor anything in the building has moved. Ctrl+. ends it.")
    else:
        window.say("The sheet shows the drawing as it stands.")


def why_live(window: MainWindow) -> None:
    """Tell in the details pane why the selected item is live, and show the way on the sheet."""
    if len(window.session.selection) != 1:
        window.say("Select one item, then ask why it is live.")
        return
    window.docks.show("Details")
    details = window.docks.widget("Details")
    assert isinstance(details, DetailsPane)
    details.refresh_now()
    details.ways.ask()
    # Its list has its height only after the page was laid out anew.
    QTimer.singleShot(0, details.ways, lambda: details.area.ensureWidgetVisible(details.ways, 0, 8))


def enter_readings(window: MainWindow, zone_id: str) -> None:
    """Enter clamp readings in the order of the devices to open; without an outage at every device."""
    session = window.session
    drawing = session.drawing
    plan = session.plan_of(zone_id) if zone_id else None
    items = reading_order(plan, drawing)
    if not items:
        window.say("There is no device on the drawing at which a current could be read.")
        return

    def notes(with_readings: Drawing) -> tuple[ReadingNote, ...]:
        return _plan(with_readings, zone_id).notes if zone_id else ()

    last = [r.instrument for i in items for r in drawing.get(i).readings if r.instrument]
    dialog = ReadingsDialog(drawing, items, now_words(), notes, last[-1] if last else "", window)
    dialog.exec()
    readings = dialog.readings
    dialog.deleteLater()
    if readings:
        count = f"{len(readings)} device{'' if len(readings) == 1 else 's'}"
        session.apply(f"Enter clamp readings of {count}", zones.add_readings(session.drawing, readings))
        window.say(f"Clamp readings of {count} entered.")


def _plan(drawing: Drawing, zone_id: str) -> Plan:
    from oneline.outage.plan import make_plan

    return make_plan(drawing, zone_id)


def print_outage(window: MainWindow, zone_id: str) -> None:
    """Choose one of the papers of an outage, see its pages, save or print them."""
    drawing, symbols, name = window.session.drawing, window.session.symbols, window.documents.name
    if not zone_id:
        window.say("Plan an outage first: select what is to be worked on, then press Ctrl+U.")
        return
    targets = tuple((zone.name or zone.id, zone.id) for zone in drawing.zones)
    dialog = PrintDialog(
        lambda choice: outage_pdf(drawing, choice, name, symbols, window.session.plan_of(choice.panel)),
        f"{stem(name)} outage", window.session.plan_of(zone_id).answer.view, window, (), zone_id, "all", _PAPERS, targets,
    )  # fmt: skip
    dialog.exec()
    if dialog.saved_to is not None:
        window.say(f"Written: {dialog.saved_to.name}")
    dialog.deleteLater()


def outage_pdf(drawing: Drawing, choice: PrintChoice, file_name: str, symbols: str, plan: Plan) -> bytes:
    """A paper of an outage as PDF."""
    from oneline.paper.outage import plan_outage_papers

    return plan_outage_papers(
        drawing, plan, choice.paper, choice.size, edition=drawing.project.edition, printed_at=datetime.now(),
        file_name=file_name, symbols=symbols,
    ).pdf()  # fmt: skip
