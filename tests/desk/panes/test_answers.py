"""Answers about the selected item: worst first, summaries also when they pass, the rules tried, a click to the worksheet."""

from __future__ import annotations

from dataclasses import replace

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QDockWidget

from oneline.assets import sample
from oneline.desk.panes import DetailsPane, FindingsPane, make_panes
from oneline.desk.panes.answers import OPEN_STATES, answers_of, gap, preferred, sentences
from oneline.desk.panes.findingrows import FindingRow
from oneline.files import read_drawing
from oneline.rules.verdict import STATES, Verdict
from oneline.session import Session

from .conftest import make_verdicts

NBSP = "\N{NO-BREAK SPACE}"


def verdict(rule: str, state: str, message: str = "M.", **more) -> Verdict:
    return Verdict(rule, more.pop("section", "1.1"), 2023, "a", "A", state, message, **more)


def plain(text: str) -> str:
    return text.replace(NBSP, " ")


# --------------------------------------------------------------------------------------------------------- sentences
@pytest.mark.parametrize(
    ("text", "names", "found"),
    [
        ("It is 10 ft. The rule needs 8 ft.", (), ["It is 10 ft.", "The rule needs 8 ft."]),
        ("Panel St. Mary is full. Add one.", ("Panel St. Mary",), ["Panel St. Mary is full.", "Add one."]),
        ("Rated 2.5 kA at 0.85 pf.", (), ["Rated 2.5 kA at 0.85 pf."]),
        ("It holds. (Assumed: load.)", (), ["It holds.", "(Assumed: load.)"]),
    ],
)  # fmt: skip
def test_sentences_end_at_full_stops_that_are_not_inside_names_or_numbers(text, names, found):
    assert sentences(text, names) == found


def test_a_summary_says_what_it_decides_and_not_what_it_looked_at():
    passed = verdict("TAP-0", "pass", "Main is ahead of A, so this is a tap. A meets the 25-ft rule: 12 ft.")
    one = verdict("TAP-25", "pass", alternative=True)
    assert plain(answers_of("a", (passed, one)).shown[0].sentence) == "A meets the 25-ft rule: 12 ft."
    open_one = verdict(
        "TAP-0",
        "unknown",
        "So this is a tap. The 10-ft rule may carry it. Its length is not known. If not, the 25-ft rule is nearest.",
    )
    said = answers_of("a", (open_one, one)).shown[0].sentence
    assert said == "The 10-ft rule may carry it. Its length is not known."
    assert FindingRow(passed, sums_up=True).sentence == "A meets the 25-ft rule: 12 ft."


def test_a_summary_that_begins_with_its_answer_is_told_from_its_beginning():
    passed = verdict("TAP-0", "pass", "A holds by the 25-ft rule. It ends in one switch.")
    one = verdict("TAP-25", "pass", alternative=True)
    assert answers_of("a", (passed, one)).shown[0].sentence == "A holds by the 25-ft rule. It ends in one switch."
    silent = verdict("TAP-0", "fail", "A is too long. Shorten it.")
    assert answers_of("a", (silent, one)).shown[0].sentence == "A is too long. Shorten it."


def test_a_tap_that_no_rule_carries_says_so_first():
    """The margin of the nearest rule alone ("good for 200 A") would read like good news."""
    nearest = (
        "Nearest is the 25-ft rule: good for 200 A, 90 A less than the 290 A needed. It is 12 ft long. Measure it."
    )
    failed = verdict("TAP-0", "fail", f"No tap rule carries New tap behind Main 1 (600 A). {nearest}")
    one = verdict("TAP-25", "fail", alternative=True)
    first = "No tap rule carries New tap behind Main 1 (600 A)."
    assert plain(answers_of("a", (failed, one)).shown[0].sentence).startswith(f"{first} Nearest is the 25-ft rule")
    assert FindingRow(failed, sums_up=True).sentence.startswith(first)
    assert answers_of("a", (failed, one)).shown[0].spoken.startswith(f"Fails: {first[:20]}")


def test_a_finding_that_sums_nothing_up_says_its_first_sentence():
    alone = verdict("TAP-0", "unknown", "Whether A is a tap is not known yet. Measure it.")
    assert answers_of("a", (alone,)).shown[0].sentence == "Whether A is a tap is not known yet."


# ------------------------------------------------------------------------------------------------------------ the data
def test_worst_comes_first_and_what_holds_is_put_away():
    found = [verdict(r, s) for r, s in zip("PQRSTU", ("pass", "advice", "fail", "judge", "not_applicable", "unknown"),
                                           strict=True)]  # fmt: skip
    answers = answers_of("a", found)
    assert [a.verdict.state for a in answers.shown] == ["fail", "unknown", "judge", "advice"]
    assert answers.held_words == "1 passes, 1 does not apply"
    assert answers_of("b", found).shown == ()


def test_passing_summaries_are_shown_and_of_several_limits_the_tightest():
    """Of 600 A with 457 A on it 143 A are left, of 800 A 343 A: 143 A is what limits."""
    cap = {"relation": "at most", "unit": "A", "value": 457.0}
    found = [
        verdict("AMP-1", "pass"),
        verdict("CAP", "pass", section="408.30", limit=800.0, **cap),
        verdict("CAP", "pass", section="215.3", limit=600.0, **cap),
        verdict("PV-1", "pass"),
        verdict("TAP-SEC", "pass"),
    ]
    answers = answers_of("a", found)
    assert [(a.verdict.rule, a.verdict.section) for a in answers.shown] == [
        ("TAP-SEC", "1.1"), ("PV-1", "1.1"), ("CAP", "215.3"),
    ]  # fmt: skip
    assert answers.held_words == "2 pass"


def test_margin_and_section_stand_behind_the_sentence():
    """25 ft less 12 ft 4 in is 12 ft 8 in, 50.7 % of 25 ft."""
    tap = verdict("TAP-0", "pass", value=12 + 4 / 12, limit=25.0, unit="ft", relation="at most", basis="assumed",
                  section="240.21(B)(2)")  # fmt: skip
    assert plain(answers_of("a", (tap,)).shown[0].tail) == "inside by 12 ft 8 in (51 %), 240.21(B)(2), assumed"
    short = replace(tap, state="fail", value=10.0, limit=24.11, unit="kA", relation="at least", basis="entered")
    assert plain(answers_of("a", (short,)).shown[0].tail) == "short by 14.1 kA (59 %), 240.21(B)(2)"
    assert gap(replace(tap, value=None)) is None
    told = replace(tap, message="A is 12 ft 4 in, 12 ft 8 in inside the rule.")
    assert plain(answers_of("a", (told,)).shown[0].tail) == "240.21(B)(2), assumed"  # not said twice


def test_rules_tried_are_told_with_their_numbers_the_one_that_holds_first(ids):
    tried = answers_of(ids["tap"], make_verdicts(ids)).tried
    assert [(t.name, plain(t.result), plain(t.numbers)) for t in tried] == [
        ("25-ft rule", "holds", ""), ("10-ft rule", "fails by 2 ft 4 in", "12 ft 4 in, at most 10 ft"),
    ]  # fmt: skip
    assert answers_of(ids["tap"], make_verdicts(ids)).unused == "Does not apply: outside tap rule."


def test_an_unknown_number_is_not_made_up_and_a_margin_never_contradicts_the_outcome():
    missing = verdict("TAP-10", "unknown", alternative=True, limit=10.0, unit="ft", relation="at most")
    other = verdict("TAP-25", "fail", alternative=True, value=9.0, limit=25.0, unit="ft", relation="at most")
    told = answers_of("a", (missing, other)).tried
    assert [(t.result, plain(t.numbers)) for t in told] == [
        ("not known yet", "at most 10 ft"), ("fails", "9 ft, at most 25 ft"),
    ]  # fmt: skip


def test_preferred_is_the_worst_open_finding_else_the_summary_that_passes():
    cap, tap = verdict("CAP", "pass"), verdict("TAP-0", "pass")
    advice, unknown = verdict("X", "advice"), verdict("Y", "unknown")
    tried = verdict("TAP-10", "fail", alternative=True)
    assert preferred((cap, tap, advice, unknown, tried), "a") is unknown
    assert preferred((cap, tap, tried), "a") is tap
    assert preferred((cap, tried), "a") is cap
    assert preferred((verdict("AMP-1", "pass"), tried), "a") is None


# ------------------------------------------------------------------------------------------------------------ the pane
@pytest.fixture
def pane(session, host, show, ids) -> DetailsPane:
    shown = show(DetailsPane(session, host), 300, 700)
    session.select([ids["tap"]])
    return shown


def test_answers_stand_under_the_figures_and_follow_the_selection(pane, session, ids):
    QApplication.processEvents()
    assert [line.accessibleName().split(":")[0] for line in pane.answers.lines][:1] == ["Passes"]
    assert pane.point.y() < pane.answers.y() < pane.form.y()
    session.select([ids["switch"]])
    assert [plain(line.accessibleName()) for line in pane.answers.lines] == [
        "Fails: Ice switch interrupts 10 kA. short by 14.1 kA (59 %), 110.9"
    ]
    session.select([ids["array"]])
    assert pane.answers.lines == []
    assert pane.answers.none.isVisible()
    session.select([])
    assert not pane.answers.isVisible()


def test_answers_follow_the_view(pane, session, ids):
    old = session.answer
    session.answer = lambda view: replace(old(view), verdicts=() if view == "existing" else old(view).verdicts)
    session.set_view("existing")
    QApplication.processEvents()
    assert pane.answers.lines == []


def test_what_holds_is_behind_its_number(pane, session, ids):
    held = verdict("AMP-1", "pass", "It carries its load.")
    old = session.answer
    session.answer = lambda view: replace(old(view), verdicts=(*old(view).verdicts, replace(held, subject=ids["tap"])))
    session.select([])
    session.select([ids["tap"]])
    count = len(pane.answers.lines)
    assert pane.answers.fold.text() == "1 passes"
    pane.answers.fold.setFocus()
    QTest.keyClick(pane.answers.fold, Qt.Key.Key_Space)
    assert len(pane.answers.lines) == count + 1
    assert "It carries its load." in [line.accessibleName() for line in pane.answers.lines][1]


def test_nothing_but_unknowns_is_one_line_that_stays_as_it_was_left(pane, session, ids):
    """The ratings of an item just placed stand right below it."""
    found = [
        replace(verdict(rule, "unknown", "The trip is not known."), subject=ids["array"]) for rule in ("A", "B", "C")
    ]
    old = session.answer
    session.answer = lambda view: replace(old(view), verdicts=(*old(view).verdicts, *found))
    session.select([])
    session.select([ids["array"]])
    fold = pane.answers.unknown_fold
    assert fold.isVisible()
    assert fold.text() == "3 not known yet"
    assert pane.answers.lines == []
    fold.setFocus()
    QTest.keyClick(fold, Qt.Key.Key_Space)
    assert len(pane.answers.lines) == 3
    session.select([ids["switch"]])
    assert not fold.isVisible()
    assert pane.answers.lines
    session.select([ids["array"]])
    assert len(pane.answers.lines) == 3


def test_lines_fit_a_pane_of_300_pixels(pane):
    QApplication.processEvents()
    room = pane.area.viewport().width()
    assert pane._page.minimumSizeHint().width() <= room
    for line in pane.answers.lines:
        assert line.height() >= 24  # least target size: WCAG 2.2, success criterion 2.5.8
        assert line.height() >= line.heightForWidth(line.width())


def test_a_click_or_the_space_bar_asks_for_the_worksheet(pane, ids, session):
    asked = []
    pane.finding_wanted.connect(asked.append)
    first = pane.answers.lines[0]
    QTest.mouseClick(first, Qt.MouseButton.LeftButton)
    last = pane.answers.lines[-1]
    last.setFocus()
    QTest.keyClick(last, Qt.Key.Key_Space)
    assert [v.rule for v in asked] == ["TAP-0", "TAP-10"]


def test_the_worksheet_comes_even_when_its_state_is_filtered_out(session, host, ids, show):
    made = make_panes(session, host)
    details, findings = made[0].widget, made[1].widget
    assert isinstance(details, DetailsPane)
    assert isinstance(findings, FindingsPane)
    show(details, 300, 700)
    show(findings, 900, 300)
    findings.toggles["unknown"].setChecked(False)
    findings.words.setText("directory")
    session.select([ids["tap"]])
    last = details.answers.lines[-1]
    QTest.mouseClick(last, Qt.MouseButton.LeftButton)
    assert findings.current is not None
    assert findings.current.rule == "TAP-10"
    assert "10-ft rule" in findings.sheet.toPlainText()
    assert not findings.toggles["pass"].isChecked()
    assert findings.words.text() == "directory"
    findings.words.setText("")
    assert "TAP-10" not in [r.verdict.rule for r in findings.model.rows]


def test_a_finding_let_in_goes_when_another_is_marked(session, host, ids, show):
    pane = show(FindingsPane(session, host), 900, 300)
    count = len(pane.model.rows)
    session.select([ids["tap"]])
    QApplication.processEvents()
    assert pane.current.rule == "TAP-0"
    assert len(pane.model.rows) > count
    session.select([ids["panel"]])
    QApplication.processEvents()
    assert pane.current.rule == "PNL"
    assert len(pane.model.rows) == count
    session.select([ids["tap"]])
    QApplication.processEvents()
    session.select([ids["array"]])
    QApplication.processEvents()
    assert pane.current is None  # nothing was found about the array, and the tap's finding has gone
    assert len(pane.model.rows) == count
    pane.toggles["judge"].click()
    session.select([ids["main"]])
    session.select([ids["panel"]])
    QApplication.processEvents()
    assert pane.current.rule == "DIR"  # what the user has filtered out stays out


def test_the_findings_come_to_the_front_of_their_dock(desk, qtbot):
    desk.window.documents.load(sample("cannery.oneline"))
    docks = {d.windowTitle(): d for d in desk.window.findChildren(QDockWidget)}
    details, findings = desk.window.findChild(DetailsPane), desk.window.findChild(FindingsPane)
    docks["Figures"].show()
    docks["Figures"].raise_()
    qtbot.waitUntil(lambda: findings.visibleRegion().isEmpty())
    desk.session.select([desk.named("Annex tap")])
    QApplication.processEvents()
    tried = next(line for line in details.answers.lines if "25-ft rule, " in line.accessibleName())
    tried.click()
    qtbot.waitUntil(lambda: not findings.visibleRegion().isEmpty())
    assert (findings.current.rule, findings.current.subject) == ("TAP-25", desk.named("Annex tap"))


# ------------------------------------------------------------------------------------------------------------- samples
@pytest.fixture(scope="module", params=("cannery", "bindery"))
def studied(request) -> Session:
    return Session(read_drawing(sample(f"{request.param}.oneline")).drawing)


def test_no_finding_is_lost_and_the_worst_is_first(studied):
    verdicts = studied.study.verdicts
    told = 0
    for item_id in studied.drawing.items:
        answers = answers_of(item_id, verdicts)
        lines = [*answers.shown, *answers.held]
        assert {id(a.verdict) for a in lines} == {id(v) for v in verdicts if v.subject == item_id and not v.alternative}
        ranks = [STATES.index(a.verdict.state) for a in answers.shown]
        assert ranks == sorted(ranks)
        assert all(a.verdict.state not in OPEN_STATES for a in answers.held)
        told += len(lines) + len(answers.tried)
    gone = [v for v in verdicts if v.alternative and v.state == "not_applicable"]
    about = [v for v in verdicts if v.subject in studied.drawing.items]
    assert told == len(about) - len(gone)
