"""The panes beside the sheet. The window asks for them with ``make_panes`` and docks what it gets."""

from __future__ import annotations

from oneline.desk.panes.circuits import CircuitsPane
from oneline.desk.panes.details import DetailsPane
from oneline.desk.panes.fieldcheck import FieldCheckPane
from oneline.desk.panes.figures import FiguresPane
from oneline.desk.panes.findings import FindingsPane
from oneline.desk.panes.outage import OutagePane
from oneline.desk.panes.pane import Host, LivePane, Pane
from oneline.session.session import Session


def make_panes(session: Session, host: Host) -> list[Pane]:
    """All panes of a window, in the order in which they are docked. They follow the session by themselves."""
    details, findings = DetailsPane(session, host), FindingsPane(session, host)
    circuits = CircuitsPane(session, host)
    details.finding_wanted.connect(findings.open_finding)
    details.circuits_wanted.connect(circuits.show_panel)
    return [
        Pane("Details", details, "right", "Alt+1"),
        Pane("Findings", findings, "bottom", "Alt+2"),
        Pane("Figures", FiguresPane(session, host), "bottom", "Alt+3"),
        Pane("Circuits", circuits, "bottom", "Alt+4"),
        Pane("Field checks", FieldCheckPane(session, host), "bottom", "Alt+5"),
        Pane("Outage", OutagePane(session, host), "bottom", "Alt+6"),
    ]


__all__ = [
    "CircuitsPane",
    "DetailsPane",
    "FieldCheckPane",
    "FiguresPane",
    "FindingsPane",
    "Host",
    "LivePane",
    "OutagePane",
    "Pane",
    "make_panes",
]
