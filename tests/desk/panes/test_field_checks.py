"""The field-check list: every unknown that matters, by item, what settles most first."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtPrintSupport import QPrinter
from PySide6.QtTest import QTest

from oneline.desk.panes.fieldcheck import FieldCheckPane
from oneline.desk.panes.needlist import field_checks, settles
from oneline.model.cautions import CAUTION_LINE
from oneline.rules.verdict import Verdict
from oneline.study import StudyResult


@pytest.fixture
def pane(session, host, show) -> FieldCheckPane:
    return show(FieldCheckPane(session, host), width=460)


def test_needs_of_findings_and_figures_are_gathered_by_item(session, ids):
    groups = {g.name: g for g in field_checks(session.study, session.drawing)}
    assert set(groups) == {"Feeder to LP-2", "LP-2", "Main 1", "North service"}
    assert [n.phrase for n in groups["Feeder to LP-2"].needs] == ["length of Feeder to LP-2"]
    assert [n.phrase for n in groups["LP-2"].needs] == ["load of Brine pump"]  # a circuit of LP-2
    assert groups["Main 1"].location == "Electric room"


def test_what_settles_most_comes_first(session, ids):
    def unknown(rule: str, *needs: str) -> Verdict:
        return Verdict(rule, "1", 2023, ids["main"], "Main 1", "unknown", "M.", needs=needs)

    result = StudyResult(
        2023, "proposed", {},
        (unknown("a", "trip of Ice switch"), unknown("b", "size of Board", "trip of Ice switch"),
         unknown("c", "size of Board"), unknown("d", "size of Board", "bracing of Board")),
        (), needs=("date of the survey",),
    )  # fmt: skip
    groups = field_checks(result, session.drawing)
    assert [g.name for g in groups] == ["Board", "Ice switch", "The drawing"]
    assert [(n.phrase, n.findings) for n in groups[0].needs] == [("size of Board", 3), ("bracing of Board", 1)]


def test_a_longer_name_is_not_taken_for_a_shorter_one_in_it(session, ids):
    from oneline.model import edits

    drawing, _ = edits.add(session.drawing, "bus", name="LP-22")
    result = StudyResult(2023, "proposed", {}, (
        Verdict("a", "1", 2023, ids["main"], "Main 1", "unknown", "M.", needs=("bus rating of LP-22",)),
    ), ())  # fmt: skip
    assert [g.name for g in field_checks(result, drawing)] == ["LP-22"]


def test_the_pane_counts_and_leads_to_items(pane, host, ids):
    assert pane.count.text().startswith("4 facts to find out")
    top = pane.tree.topLevelItem(0)
    assert (
        top.text(0) == "Main 1  ·  Electric room"
    )  # of those that settle one each, the interrupting rating is dangerous
    assert top.child(0).text(1) == "1 finding"
    pane.focus_first()
    host.shown.clear()
    QTest.keyClick(pane.tree, Qt.Key.Key_Down)
    assert host.shown == [ids["main"]]
    rect = pane.tree.visualItemRect(pane.tree.topLevelItem(2))
    QTest.mouseClick(pane.tree.viewport(), Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier, rect.center())
    assert host.shown[-1] in (ids["main"], ids["panel"])


def test_the_list_is_copied_with_lines_to_write_on_and_the_caution(pane, host):
    pane.copy_button.click()
    text = QGuiApplication.clipboard().text()
    assert text.startswith("Field checks: Fish hall\n3 Quay Road\n")
    assert "Main 1 (Electric room)" in text
    assert "[ ] interrupting rating of Main 1 - settles 1 finding: ____" in text
    assert text.rstrip().endswith(CAUTION_LINE)
    assert host.said


def test_the_list_prints_as_text(pane, tmp_path):
    import pypdfium2

    printer = QPrinter(QPrinter.PrinterMode.ScreenResolution)
    printer.setOutputFormat(QPrinter.OutputFormat.PdfFormat)
    target = tmp_path / "list.pdf"
    printer.setOutputFileName(str(target))
    pane.print_on(printer)
    page = pypdfium2.PdfDocument(target)[0]
    found = page.get_textpage().get_text_bounded()
    assert "interrupting rating of Main 1" in found


def test_empty_states_say_what_they_mean(empty, host, show, session):
    pane = show(FieldCheckPane(empty, host))
    assert "Nothing is drawn yet" in pane.count.text()
    assert not pane.copy_button.isEnabled()
    session.answer = lambda view: StudyResult(2023, view, {}, (), ())
    full = show(FieldCheckPane(session, host))
    assert "Nothing that matters is unknown" in full.count.text()


def test_rows_are_high_enough_to_touch(pane):
    """Least target size: WCAG 2.2, success criterion 2.5.8."""
    assert pane.tree.visualItemRect(pane.tree.topLevelItem(0)).height() >= 24


def test_settling_is_counted_in_words(session):
    groups = field_checks(session.study, session.drawing)
    assert settles(groups[0].needs[0]) == "1 finding"
