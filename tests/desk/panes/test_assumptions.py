"""Assumptions for the whole drawing: offered where several facts are missing, one named step, said wherever they count."""

from __future__ import annotations

from dataclasses import replace

import pytest
from PySide6.QtWidgets import QApplication

from oneline.desk.panes.fieldcheck import FieldCheckPane
from oneline.desk.panes.needlist import assumptions, field_checks
from oneline.rules.verdict import Verdict
from oneline.session import Session

from .conftest import NoteTakingHost, make_drawing

AMBIENT, COUNT = "assumed_ambient_c", "assumed_current_carrying"


@pytest.fixture
def real() -> Session:
    """The invented drawing with the real study: three runs of which all is known but what lies along them."""
    drawing, _ = make_drawing()
    known = {"material": "copper", "insulation": "THWN-2", "wet": False, "terminal_c": 75.0, "raceway": "EMT"}
    runs = [replace(i, **{**known, "sets": i.sets or 1}) for i in drawing.items.values() if i.kind == "run"]
    return Session(drawing.with_items(runs))


@pytest.fixture
def pane(real, show) -> FieldCheckPane:
    return show(FieldCheckPane(real, NoteTakingHost(real)), width=1140, height=200)


def phrases(session: Session) -> list[str]:
    return [n.phrase for g in field_checks(session.study, session.drawing) for n in g.needs]


def corrected_for(session: Session, ambient: str) -> list[Verdict]:
    """Findings whose worksheet corrects an ampacity for an ambient temperature."""
    return [v for v in session.study.verdicts if any(w.what.startswith(f"Correction for {ambient}") for w in v.work)]


def test_each_missing_kind_is_offered_once_with_what_waits_for_it(real):
    offers = {a.field: a for a in assumptions(real.study)}
    waiting = [v for v in real.study.verdicts if any(n.startswith("ambient temperature along") for n in v.needs)]
    assert offers[AMBIENT].findings == len(waiting) > 1
    assert offers[AMBIENT].needs == len([p for p in phrases(real) if p.startswith("ambient temperature along")])
    assert set(offers) == {AMBIENT, COUNT}


def test_the_numbers_are_the_base_conditions_of_the_ampacity_table(real):
    """NFPA 70 Table 310.16: not more than three current-carrying conductors, ambient temperature of 30 °C (86 °F)."""
    assert {a.field: a.value for a in assumptions(real.study)} == {AMBIENT: 30, COUNT: 3}


def test_one_click_is_one_named_step_and_settles_all_of_them(pane, real):
    pane.assume.buttons[AMBIENT].click()
    assert real.drawing.project.assumed_ambient_c == 30
    assert real.undo_label == "Assume 30 °C ambient for the drawing"
    assert not any(p.startswith("ambient temperature along") for p in phrases(real))
    pane.refresh_now()
    assert pane.assume.buttons[AMBIENT].isHidden()
    pane.assume.buttons[COUNT].click()
    assert real.drawing.project.assumed_current_carrying == 3
    assert type(real.drawing.project.assumed_current_carrying) is int
    assert real.undo_label == "Assume 3 current-carrying conductors for the drawing"
    real.undo()
    real.undo()
    assert real.drawing.project.assumed_ambient_c is None
    assert real.undo_label is None


def test_whatever_rests_on_it_says_assumed(pane, real):
    assert not corrected_for(real, "30 °C")
    pane.assume.buttons[AMBIENT].click()
    pane.assume.buttons[COUNT].click()
    resting = corrected_for(real, "30 °C")
    assert len(resting) >= 3
    assert {v.basis for v in resting} == {"assumed"}


def test_the_button_says_what_it_does_and_how_much_it_settles(pane, real):
    offer = next(a for a in assumptions(real.study) if a.field == AMBIENT)
    text = pane.assume.buttons[AMBIENT].text()
    assert text.startswith("Assume 30 °C ambient")
    assert f"({offer.findings} findings)" in text
    assert pane.assume.buttons[AMBIENT].accessibleName() == (
        f"Assume 30 °C ambient for the whole drawing ({offer.findings} findings)"
    )
    assert "will say assumed" in pane.assume.note.text()


def test_an_assumption_in_force_is_told_and_can_be_taken_back(pane, real):
    assert "Assumed for the whole drawing" not in pane.assume.note.text()
    assert pane.assume.back[AMBIENT].isHidden()
    pane.assume.buttons[AMBIENT].click()
    pane.refresh_now()
    assert "Assumed for the whole drawing: 30 °C ambient." in pane.assume.note.text()
    pane.assume.back[AMBIENT].click()
    assert real.drawing.project.assumed_ambient_c is None
    assert real.undo_label == "Stop assuming 30 °C ambient for the drawing"


def test_a_single_missing_fact_is_not_worth_an_assumption(real):
    drawing = real.drawing
    runs = [i for i in drawing.items.values() if i.kind == "run"]
    known = [replace(r, ambient_c=25.0, current_carrying=3) for r in runs[1:]]
    real.apply("Measure", drawing.with_items(known))
    assert assumptions(real.study) == []


def test_what_was_measured_stays_as_measured(pane, real):
    run = next(i for i in real.drawing.items.values() if i.kind == "run" and i.name == "Tap to Ice switch")
    real.apply("Measure", real.drawing.with_items([replace(run, ambient_c=45.0)]))
    pane.refresh_now()
    pane.assume.buttons[AMBIENT].click()
    pane.assume.buttons[COUNT].click()
    assert real.drawing.get(run.id).ambient_c == 45
    assert {v.subject for v in corrected_for(real, "45 °C")} == {run.id}
    assert run.id not in {v.subject for v in corrected_for(real, "30 °C")}


def test_narrow_panes_have_short_buttons(pane):
    pane.resize(320, 400)
    QApplication.processEvents()
    assert pane.assume.buttons[AMBIENT].text() == "Assume 30 °C ambient"
    assert pane.minimumSizeHint().width() <= 320
