"""What would help, and what fits here: on demand, in slices, dropped by an edit, applied as one step."""

from __future__ import annotations

from time import perf_counter

import pytest
from PySide6.QtCore import QUrl
from PySide6.QtGui import QGuiApplication
from random_service import random_service

from oneline.desk.panes.details import DetailsPane
from oneline.desk.panes.findings import FindingsPane
from oneline.desk.panes.fits import FitsDialog
from oneline.desk.slices import SLICE_S, Sliced
from oneline.model import edits
from oneline.session import Session
from oneline.study import study

LONG_MS = 30_000


@pytest.fixture
def session() -> Session:
    """A service on which 6 AWG feeds 79 A (seed 7: Run 3 is new)."""
    return Session(random_service(7))


def item(session: Session, name: str) -> str:
    return next(i.id for i in session.drawing.items.values() if i.name == name)


def state(session: Session, rule: str, name: str) -> str:
    return next(v.state for v in study(session.drawing).verdicts if (v.rule, v.name) == (rule, name))


@pytest.fixture
def details(session: Session, host, show) -> DetailsPane:
    pane = show(DetailsPane(session, host), width=340, height=900)
    session.select([item(session, "Run 3")])
    return pane


def test_nothing_is_tried_until_it_is_asked_for(details: DetailsPane) -> None:
    assert details.tried.isVisible()
    assert details.tried.button.text() == "Try what would help"
    assert not details.tried.work.busy


def test_a_remedy_is_applied_as_one_step_that_can_be_taken_back(
    details: DetailsPane, session: Session, host, qtbot
) -> None:
    before = session.drawing
    details.tried.button.click()
    assert details.tried.button.text() == "Stop"
    qtbot.waitUntil(lambda: bool(details.tried.work.results), timeout=LONG_MS)
    assert session.drawing is before
    assert state(session, "AMP-1", "Run 3") == "fail"
    details.tried.apply_buttons[0].click()
    assert state(session, "AMP-1", "Run 3") == "pass"
    assert session.undo_label is not None
    assert session.undo_label.startswith("Apply Run 3: 6 AWG → 4 AWG")
    assert host.said[-1].startswith("Applied: Run 3")
    session.undo()
    assert session.drawing == before


def test_an_edit_drops_what_is_under_way(details: DetailsPane, session: Session, qtbot) -> None:
    details.tried.button.click()
    assert details.tried.work.busy
    session.apply("Longer", edits.change(session.drawing, item(session, "Run 3"), length_ft=300.0))
    assert not details.tried.work.busy
    qtbot.waitUntil(lambda: details.tried.button.text() == "Try what would help", timeout=2000)
    assert not details.tried.work.results


def test_stopping_stops(details: DetailsPane) -> None:
    details.tried.button.click()
    details.tried.button.click()
    assert not details.tried.work.busy
    assert details.tried.button.text() == "Try what would help"


def test_the_window_answers_between_slices(session: Session, qtbot) -> None:
    """A slice ends soon after its time; what one step of the study takes comes on top."""
    waits: list[float] = []
    work, last = Sliced(), [perf_counter()]

    def steps():
        for _ in range(200):
            yield

    work.start(steps())
    with qtbot.waitSignal(work.done, timeout=LONG_MS):
        pass

    def slow():
        for _ in range(60):
            until = perf_counter() + SLICE_S / 4
            while perf_counter() < until:
                pass
            yield

    def tick() -> None:
        waits.append(perf_counter() - last[0])
        last[0] = perf_counter()

    from PySide6.QtCore import QTimer

    timer = QTimer()
    timer.setInterval(0)
    timer.timeout.connect(tick)
    timer.start()
    work.start(slow())
    with qtbot.waitSignal(work.done, timeout=LONG_MS):
        pass
    timer.stop()
    assert len(waits) >= 10  # 60 steps of a quarter of a slice are fifteen slices


def test_the_worksheet_offers_to_try_and_keeps_only_words_that_agree(session: Session, host, show, qtbot) -> None:
    pane = show(FindingsPane(session, host), width=900, height=500)
    verdict = next(v for v in session.study.verdicts if (v.rule, v.name) == ("FLT-2", "Board"))
    pane.open_finding(verdict)
    assert "Try what would help" in pane.sheet.toPlainText()
    assert "rated at least 38 kA" in pane.sheet.toPlainText()  # the rule's own words
    pane.sheet.anchorClicked.emit(QUrl("try:now"))
    qtbot.waitUntil(lambda: bool(pane.work.results), timeout=LONG_MS)
    text = pane.sheet.toPlainText()
    assert "short-circuit rating 14 kA → 42 kA" in text
    assert "rated at least 38 kA" not in text  # a figure that was not tried goes
    pane.copy_worksheet()
    assert "Tried on the drawing" in QGuiApplication.clipboard().text()
    pane.sheet.anchorClicked.emit(QUrl("apply:0"))
    assert state(session, "FLT-2", "Board") == "pass"


def test_unknowns_are_told_by_their_bounds(session: Session, host, show, qtbot) -> None:
    run = item(session, "Run 3")
    session.apply("Forget", edits.change(session.drawing, run, length_ft=None))
    pane = show(FindingsPane(session, host), width=900, height=500)
    pane.open_finding(next(v for v in session.study.verdicts if v.rule == "VD" and v.state == "unknown"))
    assert "Find the values that pass" in pane.sheet.toPlainText()
    pane.sheet.anchorClicked.emit(QUrl("try:now"))
    qtbot.waitUntil(lambda: bool(pane.work.results), timeout=LONG_MS)
    assert "Passes for any length of Run 3 up to" in pane.sheet.toPlainText()


def test_what_fits_is_shown_and_copied(session: Session, qtbot) -> None:
    dialog = FitsDialog(session, item(session, "Board"))
    qtbot.addWidget(dialog)
    dialog.show()
    assert dialog.busy
    qtbot.waitUntil(lambda: dialog.found is not None, timeout=LONG_MS)
    assert dialog.table.rowCount() == len(dialog.found.limits) > 3
    assert "four fifths" in dialog.caution.text()
    dialog.copy()
    assert QGuiApplication.clipboard().text().startswith("What fits at Board")
    first = dialog.found.balanced.amperes
    dialog.continuous.setChecked(True)
    qtbot.waitUntil(lambda: dialog.found is not None, timeout=LONG_MS)
    assert dialog.found.balanced.amperes < first
    dialog.close()


def test_closing_ends_the_search(session: Session, qtbot) -> None:
    dialog = FitsDialog(session, item(session, "Board"))
    qtbot.addWidget(dialog)
    dialog.show()
    dialog.reject()
    assert not dialog.busy
