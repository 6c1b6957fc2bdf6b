"""Dialogs: cautions in the words they have everywhere, messages with cause and fix, the page as it will be saved."""

from __future__ import annotations

import io

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QAction, QGuiApplication
from PySide6.QtPrintSupport import QPrinter
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QLabel
from reportlab.pdfgen.canvas import Canvas

from oneline import __version__
from oneline.desk import output
from oneline.desk.panes import dialogs
from oneline.desk.panes.papers import page_image, print_pdf
from oneline.files import Problem
from oneline.model import Circuit, Drawing, edits
from oneline.model.cautions import CAUTION_LINE, CAUTIONS

SIZES_PT = {"letter": (612, 792), "tabloid": (792, 1224)}


def make_page(choice: dialogs.PrintChoice, pages: int = 1) -> bytes:
    """A page with a black square in its upper left quarter, made by reportlab."""
    width, height = SIZES_PT[choice.size]
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=(width, height), invariant=1)
    for _ in range(pages):
        canvas.rect(0, height / 2, width / 2, height / 2, stroke=0, fill=1)
        canvas.drawString(width / 2, 40, f"{choice.paper} {choice.view}")
        canvas.showPage()
    canvas.save()
    return out.getvalue()


def test_cautions_say_what_the_work_demands():
    """The four points every screen, page and report has to make; see the project's job description."""
    text = " ".join(CAUTIONS).casefold()
    for word in ("authority having jurisdiction", "qualified, licensed", "never proves", "arc-flash", "not computed"):
        assert word in text
    line = CAUTION_LINE.casefold()
    for word in ("authority", "qualified", "test", "arc flash"):
        assert word in line
    assert "safe" not in text + line


def test_about_shows_version_and_every_caution(qtbot):
    dialog = dialogs.AboutDialog()
    qtbot.addWidget(dialog)
    shown = [label.text() for label in dialog.findChildren(QLabel)]
    assert f"Oneline {__version__}" in shown
    assert set(CAUTIONS) <= set(shown)


def test_first_run_note_is_put_away_and_waits_for_nothing(qtbot):
    note = dialogs.FirstRunNote()
    qtbot.addWidget(note)
    assert not note.isModal()
    note.show()
    with qtbot.waitSignal(note.dismissed, timeout=500):
        note.button.click()
    assert not note.isVisible()


def test_keys_lists_every_function_with_its_keys(qtbot, qapp):
    save = QAction("&Save …")
    save.setShortcuts(["Ctrl+S", "F12"])
    save.setStatusTip("Save the drawing to its file.")
    other = QAction("Cut && paste")
    dialog = dialogs.KeysDialog([save, other])
    qtbot.addWidget(dialog)
    rows = [[dialog.table.item(r, c).text() for c in range(3)] for r in range(dialog.table.rowCount())]
    assert rows[0] == ["Save", "Ctrl+S, F12", "Save the drawing to its file."]
    assert rows[1][0] == "Cut & paste"
    assert {"Arrows", "Space + drag", "Esc"} <= {row[1] for row in rows}
    dialog.words.setText("f12")
    assert [r for r in range(dialog.table.rowCount()) if not dialog.table.isRowHidden(r)] == [0]


def test_problems_of_a_file_say_what_where_why_and_what_to_do(qtbot):
    problem = Problem(
        "A run leads nowhere", "fish.oneline, run7", "It names bus99, which is not there.", "Connect it again."
    )
    dialog = dialogs.ProblemsDialog("Opened with problems", [problem, problem])
    qtbot.addWidget(dialog)
    assert dialog.lead.text().startswith("2 things")
    text = dialog.list.toPlainText()
    for part in (problem.what, problem.where, problem.why, problem.what_to_do):
        assert text.count(part) == 2


def test_an_error_needs_problem_cause_and_fix(qtbot):
    for parts in (("", "b", "c"), ("a", " ", "c"), ("a", "b", "")):
        with pytest.raises(ValueError, match="needs"):
            dialogs.error_box(None, *parts)
    box = dialogs.error_box(None, "The drawing was not saved.", "The disk is full.", "Free some space.", "details")
    qtbot.addWidget(box)
    assert box.text() == "The drawing was not saved."
    assert "The disk is full." in box.informativeText()
    assert "Free some space." in box.informativeText()
    assert box.detailedText() == "details"


# -------------------------------------------------------------------------------------------------------------- papers
def test_a_page_of_a_pdf_becomes_a_picture_the_right_way_round():
    image, count = page_image(make_page(dialogs.PrintChoice()), 0, 1.0)
    assert (image.width(), image.height(), count) == (612, 792, 1)
    assert image.pixelColor(50, 50).lightness() < 10
    assert image.pixelColor(500, 50).lightness() > 245
    assert image.pixelColor(50, 700).lightness() > 245


def test_preview_is_made_anew_for_each_choice(qtbot):
    asked = []

    def make(choice):
        asked.append(choice)
        return make_page(choice)

    dialog = dialogs.PrintDialog(make, "fish", "existing")
    qtbot.addWidget(dialog)
    dialog.show()
    qtbot.waitUntil(lambda: len(asked) == 1, timeout=1000)
    assert asked[0] == dialogs.PrintChoice("door", "letter", "existing")
    dialog.size_choice.setFocus()
    QTest.keyClick(dialog.size_choice, Qt.Key.Key_Down)
    assert asked[-1].size == "tabloid"
    pixmap = dialog.preview.pixmap()
    assert pixmap.height() / pixmap.width() == pytest.approx(1224 / 792, rel=0.02)


def test_the_sheet_is_for_the_whole_building_or_one_panel(qtbot):
    asked = []

    def make(choice):
        asked.append(choice.panel)
        return make_page(choice)

    panels = (("LP-1", "bus4"), ("LP-2", "bus7"))
    dialog = dialogs.PrintDialog(make, "fish", panels=panels, panel="bus7")
    qtbot.addWidget(dialog)
    dialog.remake()
    dialog.panel.setFocus()
    assert dialog.panel.currentText() == "LP-2"
    QTest.keyClick(dialog.panel, Qt.Key.Key_Up)
    QTest.keyClick(dialog.panel, Qt.Key.Key_Up)
    assert dialog.panel.currentText() == "Whole building"
    assert asked == ["bus7", "bus4", ""]
    plain = dialogs.PrintDialog(make, "fish", panels=panels)
    qtbot.addWidget(plain)
    assert plain.panel.currentText() == "Whole building"


def test_pages_are_turned_with_keys_and_stop_at_the_ends(qtbot):
    dialog = dialogs.PrintDialog(lambda choice: make_page(choice, pages=3), "fish")
    qtbot.addWidget(dialog)
    with qtbot.waitActive(dialog):
        dialog.show()
    dialog.remake()
    seen = []
    for _ in range(4):
        seen.append(dialog.pages.text())
        QTest.keyClick(dialog, Qt.Key.Key_PageDown)
    assert seen == ["Page 1 of 3", "Page 2 of 3", "Page 3 of 3", "Page 3 of 3"]
    assert not dialog.forth.isEnabled()
    assert dialog.back.isEnabled()


def test_the_saved_file_is_the_page_of_the_preview(qtbot, tmp_path):
    dialog = dialogs.PrintDialog(make_page, "fish")
    qtbot.addWidget(dialog)
    dialog.remake()
    dialog.save_to(tmp_path / "door")
    assert (tmp_path / "door.pdf").read_bytes() == dialog.pdf == make_page(dialogs.PrintChoice())


def test_a_file_that_cannot_be_written_is_said_in_the_dialog(qtbot, tmp_path):
    dialog = dialogs.PrintDialog(make_page, "fish")
    qtbot.addWidget(dialog)
    dialog.remake()
    dialog.save_to(tmp_path / "no such folder" / "door.pdf")
    assert dialog.message.is_problem
    assert "door.pdf was not written" in dialog.message.text()
    assert dialog.saved_to is None


def test_a_page_that_cannot_be_made_leaves_the_dialog_standing(qtbot):
    def make(choice):
        raise RuntimeError("no sheet.")

    dialog = dialogs.PrintDialog(make, "fish")
    qtbot.addWidget(dialog)
    dialog.remake()
    assert dialog.message.is_problem
    assert not dialog.save_button.isEnabled()
    assert QGuiApplication.overrideCursor() is None


def test_printing_sends_every_page_in_the_size_of_the_paper(qtbot, tmp_path):
    import pypdfium2

    dialog = dialogs.PrintDialog(make_page, "fish")
    qtbot.addWidget(dialog)
    dialog.size_choice.put("tabloid")
    dialog.remake()
    printer = QPrinter(QPrinter.PrinterMode.ScreenResolution)
    target = tmp_path / "printed.pdf"
    printer.setOutputFormat(QPrinter.OutputFormat.PdfFormat)
    printer.setOutputFileName(str(target))
    dialog.prepare(printer)
    print_pdf(make_page(dialog.choice, pages=2), printer)
    document = pypdfium2.PdfDocument(target)
    assert len(document) == 2
    assert document[0].get_size() == pytest.approx((792, 1224), abs=1)
    document.close()
    image, _ = page_image(target.read_bytes(), 1, 0.5)
    assert image.pixelColor(60, 60).lightness() < 30
    assert image.pixelColor(330, 60).lightness() > 225


def test_export_offers_formats_and_writes_what_was_made(qtbot, tmp_path):
    asked = []

    def make(choice):
        asked.append(choice)
        return b"<svg/>"

    dialog = dialogs.ExportDialog(make, "fish", "existing")
    qtbot.addWidget(dialog)
    assert not dialog.scale.isEnabled()
    dialog.save_to(tmp_path / "fish")
    assert (tmp_path / "fish.svg").read_bytes() == b"<svg/>"
    assert asked == [dialogs.ExportChoice("svg", "existing", 2.0)]
    dialog.format.setFocus()
    QTest.keyClick(dialog.format, Qt.Key.Key_Down)
    assert dialog.choice.format == "png"
    assert dialog.scale.isEnabled()


def test_the_door_sheet_is_offered_for_every_panelboard():
    """A panelboard has a door whether or not anybody has written down its circuits."""
    drawing, known = edits.add(Drawing(), "bus", name="Panel A", form="panelboard", circuits=(Circuit(space=1),))
    drawing, bare = edits.add(drawing, "bus", name="House panel", form="panelboard")
    drawing, _ = edits.add(drawing, "bus", name="Gutter", form="gutter")
    drawing, board = edits.add(drawing, "bus", name="MDP", form="switchboard", circuits=(Circuit(space=1),))
    offered = output.panels_with_doors(drawing)
    assert offered == (("Panel A", known), ("House panel", bare), ("MDP", board))
    pdf = output.door_pdf(drawing, dialogs.PrintChoice("door", "letter", "proposed", bare), "house", "us")
    assert pdf.startswith(b"%PDF")
