"""The findings pane: what is open comes first, a row leads to its item, the worksheet says everything."""

from __future__ import annotations

from dataclasses import replace

import pytest
from PySide6.QtCore import Qt, QUrl
from PySide6.QtGui import QGuiApplication, QPalette
from PySide6.QtTest import QTest

from oneline.desk.panes.findingrows import OPEN_STATES, count_states, finding_rows
from oneline.desk.panes.findings import BESIDE_PX, FindingsPane
from oneline.desk.panes.marks import mark_pixmap
from oneline.desk.panes.worksheet import as_html, as_text, margin, with_numbers, work_text
from oneline.desk.theme import window_palette
from oneline.rules.verdict import STATES, Verdict, WorkLine

from .conftest import make_verdicts


@pytest.fixture
def pane(session, host, show) -> FindingsPane:
    return show(FindingsPane(session, host), width=900, height=320)


def verdict(**values) -> Verdict:
    given = {
        "rule": "X",
        "section": "1.1",
        "edition": 2023,
        "subject": "a",
        "name": "A",
        "state": "fail",
        "message": "M.",
    }
    return Verdict(**{**given, **values})


# ------------------------------------------------------------------------------------------------------------ the rows
def test_open_findings_come_first_and_those_that_hold_are_hidden(ids):
    rows = finding_rows(make_verdicts(ids), OPEN_STATES)
    assert [r.verdict.state for r in rows] == ["fail", "unknown", "unknown", "judge", "advice"]
    assert not any(r.under for r in rows)


def test_rules_tried_stand_under_their_summary_and_do_not_count(ids):
    rows = finding_rows(make_verdicts(ids), {*OPEN_STATES, "pass"})
    at = next(n for n, r in enumerate(rows) if r.verdict.rule == "TAP-0")
    assert [(r.verdict.rule, r.under) for r in rows[at:]] == [("TAP-0", False), ("TAP-10", True), ("TAP-25", True)]
    assert count_states(make_verdicts(ids)) == {
        "fail": 1, "unknown": 2, "judge": 1, "advice": 1, "pass": 1, "not_applicable": 0,
    }  # fmt: skip


def test_rules_tried_without_a_summary_are_still_shown(ids):
    alone = tuple(v for v in make_verdicts(ids) if v.rule != "TAP-0")
    rows = finding_rows(alone, OPEN_STATES)
    assert ("TAP-10", True) in [(r.verdict.rule, r.under) for r in rows]
    assert next(r.name for r in rows if r.verdict.rule == "TAP-10") == "Tap to Ice switch"
    under = finding_rows(make_verdicts(ids), STATES)
    assert next(r.name for r in under if r.verdict.rule == "TAP-10") == "10-ft rule"


@pytest.mark.parametrize(
    ("words", "rules"),
    [("ice switch", ["AIC"]), ("110.9", ["AIC", "AIC"]), ("DESCRIPTION lp-2", ["DIR"]), ("nothing at all", []),
     ("not known yet", ["AIC", "DROP"])],
)  # fmt: skip
def test_every_word_of_the_filter_must_occur(ids, words, rules):
    assert [r.verdict.rule for r in finding_rows(make_verdicts(ids), OPEN_STATES, words)] == rules


def test_a_tried_rule_that_matches_brings_its_summary_along(ids):
    rows = finding_rows(make_verdicts(ids), {*OPEN_STATES, "pass"}, "10-ft")
    assert [r.verdict.rule for r in rows] == ["TAP-0", "TAP-10"]


# ------------------------------------------------------------------------------------------------------------ the pane
def test_counts_by_state_are_on_the_chips(pane):
    assert [pane.toggles[s].text() for s in STATES] == ["1", "2", "1", "1", "1", "0"]
    assert pane.toggles["fail"].accessibleName() == "Fails: 1"
    assert [pane.toggles[s].isChecked() for s in STATES] == [True, True, True, True, False, False]


def test_a_chip_shows_and_hides_its_findings(pane):
    pane.toggles["unknown"].click()
    assert [r.verdict.state for r in pane.model.rows] == ["fail", "judge", "advice"]
    pane.toggles["pass"].click()
    assert "TAP-25" in [r.verdict.rule for r in pane.model.rows]


def test_a_click_goes_to_the_item(pane, host, ids):
    rect = pane.list.visualRect(pane.model.index(1))
    QTest.mouseClick(pane.list.viewport(), Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier, rect.center())
    assert host.shown[-1] == ids["main"]
    assert pane.current.name == "Main 1"


def test_arrow_keys_go_to_the_items(pane, host, ids):
    pane.focus_first()
    host.shown.clear()
    QTest.keyClick(pane.list, Qt.Key.Key_Down)
    QTest.keyClick(pane.list, Qt.Key.Key_Down)
    assert host.shown == [ids["main"], ids["feeder"]]


def test_the_marked_finding_stays_marked_after_the_next_study(pane, session, host, ids):
    pane.show_item(ids["panel"])
    host.shown.clear()
    marked = pane.current
    fewer = tuple(v for v in make_verdicts(ids) if v.subject != ids["switch"])
    old = session.answer
    session.answer = lambda view: replace(old(view), verdicts=fewer)
    session.set_view("existing")
    pane.refresh_now()
    assert len(pane.model.rows) == 4
    assert pane.current == marked
    assert host.shown == []


def test_findings_of_an_item_can_be_asked_for_even_when_filtered_out(pane, ids):
    pane.words.setText("no such words")
    assert pane.show_item(ids["tap"])
    assert pane.current.rule == "TAP-0"
    assert not pane.show_item(ids["array"])


def test_the_first_finding_of_an_item_selected_elsewhere_is_marked(pane, session, host, ids, qapp):
    session.select([ids["panel"]])
    qapp.processEvents()
    assert pane.current.rule == "PNL"
    assert host.shown == []
    pane.list.setCurrentIndex(pane.model.index(4))
    qapp.processEvents()
    assert pane.current.rule == "DIR"  # another finding of the same item stays marked
    session.select([ids["array"]])
    qapp.processEvents()
    assert pane.current is None  # nothing is found about the array, and the panel's worksheet is not its own


def test_the_worksheet_of_another_item_goes_when_nothing_is_found_about_the_one_selected(pane, session, ids, qapp):
    session.select([ids["tap"]])
    pane.refresh_now()
    assert pane.current is not None
    assert pane.sheet.toPlainText()
    session.select([ids["array"]])
    pane.refresh_now()
    assert pane.current is None
    assert pane.sheet.toPlainText() == ""
    session.select([ids["tap"]])
    pane.refresh_now()
    assert pane.current.subject == ids["tap"]


def test_looking_changes_nothing(pane, session, ids):
    before = session.drawing
    for n in range(len(pane.model.rows)):
        pane.list.setCurrentIndex(pane.model.index(n))
    assert session.drawing is before


def test_links_in_the_worksheet_lead_to_items(pane, host, ids):
    pane.show_item(ids["tap"])
    pane.sheet.anchorClicked.emit(QUrl(f"item:{ids['switch']}"))
    assert host.shown[-1] == ids["switch"]


def test_the_worksheet_is_copied_as_text(pane, host, ids):
    pane.show_item(ids["tap"])
    pane.copy_button.click()
    text = QGuiApplication.clipboard().text()
    assert text.startswith("Passes: Tap to Ice switch\n")
    assert host.said == ["The worksheet is on the clipboard."]


def test_wide_panes_have_the_worksheet_beside_and_narrow_ones_below(pane, qapp):
    assert pane.width() >= BESIDE_PX
    assert pane.splitter.orientation() == Qt.Orientation.Horizontal
    pane.resize(330, 700)
    qapp.processEvents()
    assert pane.splitter.orientation() == Qt.Orientation.Vertical


def test_an_empty_drawing_says_what_to_do_first(empty, host, show):
    pane = show(FindingsPane(empty, host))
    assert "Place a utility service" in pane.hint.text()
    assert pane.hint.isVisible()
    assert not pane.list.isVisible()


def test_rows_are_spoken_whole(pane):
    text = pane.model.data(pane.model.index(0), Qt.ItemDataRole.AccessibleTextRole)
    assert text == "Fails: Ice switch. Ice switch interrupts 10 kA. 24.1 kA is there. 110.9, 2023"


# -------------------------------------------------------------------------------------------------------- the worksheet
def test_worksheet_says_everything_a_finding_knows(ids):
    summary = next(v for v in make_verdicts(ids) if v.rule == "TAP-0")
    text = as_text(summary, lambda i: f"<{i}>")
    for part in (
        "Tap to Ice switch holds as a 25-ft tap", "200 A; at least 200 A; exactly at the limit",
        "Ampacity of 3/0 copper at 75 °C: 200 A  [Table 310.16]", "Least ampacity: device_a / 3 = 600 / 3 = 200 A",
        "See that the tap is in a raceway all the way.", f"<{ids['switch']}>", "assumed", "240.21(B)(2), edition 2023",
    ):  # fmt: skip
        assert part in text, part


@pytest.mark.parametrize(
    ("values", "said"),
    [
        ({"value": 12 + 4 / 12, "limit": 10.0, "unit": "ft", "relation": "at most"},
         "12 ft 4 in; at most 10 ft; over by 2 ft 4 in (23 %)"),
        ({"value": 10.0, "limit": 24.11, "unit": "kA", "relation": "at least"},
         "10 kA; at least 24.1 kA; short by 14.1 kA (59 %)"),
        ({"value": 9.0, "limit": 10.0, "unit": "ft", "relation": "at most"}, "9 ft; at most 10 ft; inside by 1 ft (10 %)"),
        ({"value": 533.34, "limit": 533.33, "unit": "A", "relation": "at most"}, "533.34 A; at most 533.33 A"),
        ({"value": None, "limit": 10.0, "unit": "ft", "relation": "at most"}, ""),
        ({"value": 5.0, "limit": 0.0, "unit": "A", "relation": "at most"}, "5 A; at most 0 A; over by 5 A"),
    ],
)  # fmt: skip
def test_margin_says_how_far_inside_or_outside(values, said):
    """12 ft 4 in against 10 ft is 2 ft 4 in over, 23 % of 10 ft; 24.11 - 10 = 14.11, 58.5 % of 24.11."""
    assert margin(verdict(**values)).startswith(said)
    assert bool(margin(verdict(**values))) == bool(said)


def test_numbers_are_put_in_for_names_only():
    assert with_numbers("1.25 * a + max(b, a_b)", {"a": 100.0, "b": 2.5, "a_b": 7}) == "1.25 × 100 + max(2.5, 7)"
    assert with_numbers("sqrt(r**2 + x**2)", {"r": 3.0, "x": 4.0}) == "√(3 ^ 2 + 4 ^ 2)"


def test_a_looked_up_value_names_its_table_and_an_unknown_one_says_so():
    assert work_text(WorkLine("Size", "3/0", source="Table 310.16")) == "Size: 3/0  [Table 310.16]"
    assert work_text(WorkLine("Length", None, "ft")) == "Length: not known yet"


def test_markup_in_names_and_sentences_stays_text():
    html = as_html(verdict(name="<b>A</b>", message="x < y & z"), lambda i: i, "#000000")
    assert "&lt;b&gt;A&lt;/b&gt;" in html
    assert "x &lt; y &amp; z" in html


# --------------------------------------------------------------------------------------------------------------- marks
@pytest.mark.parametrize("theme", ["light", "dark"])
def test_marks_differ_in_shape_not_only_in_color(qapp, theme):
    """Painted in one color all marks must still be different pictures (WCAG 2.2, 1.4.1 Use of color)."""
    palette = window_palette(theme)
    seen = {}
    for state in STATES:
        image = mark_pixmap(state, palette, 16, 1.0, QPalette.ColorRole.Text).toImage()
        key = bytes(image.constBits())
        assert any(key), state
        assert key not in seen, (state, seen.get(key))
        seen[key] = state
