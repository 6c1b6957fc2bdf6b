"""A small invented drawing, a study of it made by hand, and a window that only takes notes."""

from __future__ import annotations

import os

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

import pytest
from PySide6.QtWidgets import QApplication, QWidget

from oneline.model import Circuit, DemandRecord, Drawing, End, Project, edits
from oneline.rules.verdict import STATES, Verdict, WorkLine
from oneline.session import Session
from oneline.study import Limit, PointFigures, StudyResult

Ids = dict[str, str]
#: Said by the offscreen platform about itself, not about the program.
PLATFORM_NOISE = ("propagateSizeHints", "does not support raise", "requestActivate")


@pytest.fixture(autouse=True)
def _quiet_and_tidy(qapp: QApplication, qtlog) -> Iterator[None]:
    """A Qt warning or a top-level widget that is left behind fails the test."""
    before = {id(w) for w in qapp.topLevelWidgets()}
    yield
    qapp.sendPostedEvents(None, 52)  # deferred deletions
    qapp.processEvents()
    noise = [r for r in qtlog.records if not any(n in (r.message or "") for n in PLATFORM_NOISE)]
    assert [r.message for r in noise] == []
    left = [w for w in qapp.topLevelWidgets() if id(w) not in before and w.isVisible()]
    assert left == []


def make_drawing() -> tuple[Drawing, Ids]:
    """A service, its main, a board, a tap to a new switch with its panel, and an array that is not connected yet."""
    d = Drawing(project=Project(title="Fish hall", address="3 Quay Road", edition=2023))
    ids: Ids = {}
    d, ids["service"] = edits.add(
        d, "service", name="North service", system="208Y/120", transformer_kva=300.0,
        basis={"transformer_kva": "nameplate"}, demand=(DemandRecord(source="Utility", peak_kw=122.0, period_days=365),),
    )  # fmt: skip
    d, ids["main"] = edits.add(
        d, "disconnect", name="Main 1", form="fused switch", rating_a=800.0, trip_a=600.0, location="Electric room",
        basis={"trip_a": "assumed", "rating_a": "nameplate"},
    )  # fmt: skip
    d, ids["board"] = edits.add(d, "bus", name="Board", form="switchboard", rating_a=800.0, location="Electric room")
    d, ids["switch"] = edits.add(
        d, "disconnect", name="Ice switch", form="fused switch", rating_a=200.0, trip_a=200.0, status="new"
    )
    circuits = (
        Circuit(
            space=1, poles=3, trip_a=60.0, description="Ice maker", va=16000.0, load_class="kitchen", traced="traced"
        ),
        Circuit(space=2, trip_a=20.0, description="Lights, hall", va=1400.0, load_class="lighting", continuous=True),
        Circuit(space=4, poles=2, trip_a=30.0, description="Brine pump", load_class="motor", status="new"),
        Circuit(space=7, trip_a=20.0, use="spare"),
        Circuit(space=8, use="space"),
        Circuit(space=9, trip_a=20.0, description="Receptacles, counter", va=900.0, status="remove"),
    )
    d, ids["panel"] = edits.add(
        d, "bus", name="LP-2", rating_a=225.0, phases="ABC", spaces=30, location="Ice room", circuits=circuits
    )
    d, ids["array"] = edits.add(d, "solar", name="Roof array", output_a=83.0)
    d, ids["run"] = edits.connect(
        d, End(ids["service"], "out"), End(ids["main"], "line"), kind="run", size="350", sets=2, length_ft=30.0
    )
    d, ids["joint"] = edits.connect(d, End(ids["main"], "load"), End(ids["board"], "bus"))
    d, ids["tap"] = edits.connect(
        d, End(ids["board"], "bus"), End(ids["switch"], "line"), kind="run", size="3/0", material="copper",
        length_ft=12 + 4 / 12, status="new", name="Tap to Ice switch",
    )  # fmt: skip
    d, ids["feeder"] = edits.connect(
        d,
        End(ids["switch"], "load"),
        End(ids["panel"], "bus"),
        kind="run",
        size="3/0",
        status="new",
        name="Feeder to LP-2",
    )
    return d, ids


def make_point(item_id: str, name: str, kind: str, load: tuple, free: tuple, **more) -> PointFigures:
    values = {
        "system": "208Y/120", "phases": "ABC", "load_a": dict(zip("ABC", load, strict=True)),
        "available_a": dict(zip("ABC", free, strict=True)),
    }  # fmt: skip
    return PointFigures(id=item_id, name=name, kind=kind, **{**values, **more})


def make_result(ids: Ids, view: str) -> StudyResult:
    """Figures and findings chosen by hand: the proposed view carries 64.3 A more than the existing one."""
    more = 0.0 if view == "existing" else 64.3
    limit = Limit(ids["main"], "Main 1", "trip", 600, "assumed")
    load, free = (290.2 + more, 301.7 + more, 288.0 + more), (309.8 - more, 298.3 - more, 312.0 - more)
    source = (ids["service"],)
    both = (ids["service"], ids["array"])
    points = [
        make_point(ids["service"], "North service", "service", load, free, live_from=source, limited_by=limit,
                   needs=("available fault current from the utility",), voltage_drop_pct=0.0),
        make_point(ids["main"], "Main 1", "disconnect", load, free, limited_by=limit, live_from=both, fault_a=31234.0, fault_duty_a=31234.0,  # noqa: E501
                   voltage_drop_pct=0.42, live_sides={"line": source, "load": both}),
        make_point(ids["panel"], "LP-2", "bus", (62.3 + more, None, 48.1 + more), (None, None, None), live_from=source,
                   fault_a=14220.0, fault_duty_a=14220.0, needs=("load of Brine pump", "length of Feeder to LP-2"), fault_bound_a=20000.0,  # noqa: E501
                   available_bound_a={"A": 88.0, "C": 95.0}),
    ]  # fmt: skip
    if view == "proposed":
        points.append(
            make_point(ids["switch"], "Ice switch", "disconnect", (126.6, 130.0, 112.4), (73.4, 70.0, 87.6),
                       live_from=source, fault_a=24110.0, fault_duty_a=24110.0, voltage_drop_pct=0.9)
        )  # fmt: skip
    return StudyResult(2023, view, {p.id: p for p in points}, make_verdicts(ids), (ids["service"], ids["array"]))


def make_verdicts(ids: Ids) -> tuple[Verdict, ...]:
    tap, name = ids["tap"], "Tap to Ice switch"
    found = (
        Verdict(
            "TAP-0", "240.21(B)(2)", 2023, tap, name, "pass",
            "Tap to Ice switch holds as a 25-ft tap: 200 A is at least a third of 600 A.",
            value=200.0, limit=200.0, unit="A", relation="at least", basis="assumed",
            work=(
                WorkLine("Ampacity of 3/0 copper at 75 °C", 200.0, "A", source="Table 310.16"),
                WorkLine("Least ampacity", 200.0, "A", "device_a / 3", {"device_a": 600.0}, "240.21(B)(2)"),
            ),
            field_checks=("See that the tap is in a raceway all the way.",), others=(ids["switch"],),
        ),
        Verdict(
            "TAP-10", "240.21(B)(1)", 2023, tap, name, "fail",
            "Tap to Ice switch is 12 ft 4 in. The 10-ft rule needs 10 ft or less.", value=12 + 4 / 12, limit=10.0,
            unit="ft", relation="at most", alternative=True, remedy="Shorten the tap to 10 ft.",
        ),
        Verdict("TAP-25", "240.21(B)(2)", 2023, tap, name, "pass", "Good for 200 A.", alternative=True),
        Verdict("TAP-OUT", "240.21(B)(5)", 2023, tap, name, "not_applicable", "It is indoors.", alternative=True),
        Verdict(
            "AIC", "110.9", 2023, ids["main"], "Main 1", "unknown",
            "Main 1: the interrupting rating is not known. 31.2 kA is available there.", limit=31.234, unit="kA",
            relation="at least", needs=("interrupting rating of Main 1",), remedy="A device rated 42 kA would hold.",
        ),
        Verdict(
            "AIC", "110.9", 2023, ids["switch"], "Ice switch", "fail", "Ice switch interrupts 10 kA. 24.1 kA is there.",
            value=10.0, limit=24.11, unit="kA", relation="at least", remedy="Fuses rated 200 kA.",
        ),
        Verdict("PNL", "408.36", 2023, ids["panel"], "LP-2", "judge", "The authority decides on the second main."),
        Verdict("DIR", "408.4", 2023, ids["panel"], "LP-2", "advice", "Two circuits of LP-2 have no description."),
        Verdict(
            "DROP", "215.2", 2023, ids["feeder"], "Feeder to LP-2", "unknown", "The voltage drop to LP-2 is not known.",
            needs=("length of Feeder to LP-2", "load of Brine pump"),
        ),
    )  # fmt: skip
    return tuple(sorted(found, key=lambda v: STATES.index(v.state)))


class HandStudied(Session):
    """A session whose answers are given by hand."""

    def __init__(self, drawing: Drawing, answer: Callable[[str], StudyResult]) -> None:
        super().__init__(drawing)
        self.answer = answer

    def study_of(self, view: str) -> StudyResult:
        return self.answer(view)


@dataclass
class NoteTakingHost:
    """Stands for the window: selects what it is asked to show, and remembers what was said."""

    session: Session
    shown: list[str] = field(default_factory=list)
    said: list[str] = field(default_factory=list)

    def show_item(self, item_id: str) -> None:
        self.shown.append(item_id)
        self.session.select([item_id])

    def say(self, text: str) -> None:
        self.said.append(text)


@pytest.fixture
def ids() -> Ids:
    return make_drawing()[1]


@pytest.fixture
def session(ids: Ids) -> HandStudied:
    return HandStudied(make_drawing()[0], lambda view: make_result(ids, view))


@pytest.fixture
def empty() -> HandStudied:
    return HandStudied(Drawing(), lambda view: StudyResult(2023, view, {}, (), ()))


@pytest.fixture
def host(session: HandStudied) -> NoteTakingHost:
    return NoteTakingHost(session)


@pytest.fixture
def show(qtbot) -> Callable[[QWidget], QWidget]:
    """Shows a pane at a size and keeps it for the test."""

    def shown(pane: QWidget, width: int = 360, height: int = 600) -> QWidget:
        qtbot.addWidget(pane)
        pane.resize(width, height)
        with qtbot.waitExposed(pane):
            pane.show()
        return pane

    return shown
