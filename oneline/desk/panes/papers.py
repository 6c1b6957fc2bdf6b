"""The dialogs that make papers and pictures: choose, see the page as it will be, save or print it.

What makes the bytes comes from outside as a function, so that the dialogs know no document. There is one renderer: the
preview and the print show the very PDF that is saved.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from PySide6.QtCore import QRectF, QSize, Qt, QTimer
from PySide6.QtGui import (
    QGuiApplication,
    QImage,
    QKeySequence,
    QPageLayout,
    QPageSize,
    QPainter,
    QPixmap,
    QResizeEvent,
    QShortcut,
)
from PySide6.QtPrintSupport import QPrintDialog, QPrinter
from PySide6.QtWidgets import (
    QCheckBox,
    QDialog,
    QFileDialog,
    QFormLayout,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from oneline.desk.panes.controls import Choice
from oneline.desk.panes.look import CONTROL_PX, STEP, MessageLabel, Quiet
from oneline.files import CannotSave
from oneline.files.atomic import replace_file
from oneline.model.cautions import CAUTION_LINE

PAPERS = (("Door sheet", "door"), ("Recorded demand", "record"))
WHOLE_BUILDING = ("Whole building", "")
SIZES = (("Letter, 8.5 × 11 in", "letter"), ("Tabloid, 11 × 17 in", "tabloid"))
VIEWS = (("Proposed", "proposed"), ("Existing", "existing"))
FORMATS = (("SVG, for drawings and the web", "svg"), ("PNG, a picture", "png"), ("PDF, for printing", "pdf"))
SCALES = (("As on the screen", 1.0), ("Twice as fine", 2.0), ("Four times as fine", 4.0))
#: Dots per inch of a page sent to a printer.
PRINT_DPI = 300
_POINTS_PER_INCH = 72


@dataclass(frozen=True)
class PrintChoice:
    """``paper``: kind of document; ``size``: "letter" or "tabloid"; ``view``: "existing" or "proposed"; ``panel``: id of
    the panel whose door it is for, "" for the whole building."""

    paper: str = "door"
    size: str = "letter"
    view: str = "proposed"
    panel: str = ""


@dataclass(frozen=True)
class ExportChoice:
    """``format``: "svg", "png" or "pdf"; ``scale``: pixels for each pixel of the screen, for pictures only."""

    format: str = "svg"
    view: str = "proposed"
    scale: float = 2.0


def page_image(pdf: bytes, page: int, scale: float) -> tuple[QImage, int]:
    """A page of a PDF as a picture at ``scale`` pixels a point, and how many pages there are."""
    import pypdfium2

    document = pypdfium2.PdfDocument(pdf)
    try:
        count = len(document)
        bitmap = document[min(page, count - 1)].render(scale=scale, rev_byteorder=True)
        form = QImage.Format.Format_RGBA8888 if bitmap.n_channels == 4 else QImage.Format.Format_RGB888
        image = QImage(bytes(bitmap.buffer), bitmap.width, bitmap.height, bitmap.stride, form)
        return image.copy(), count
    finally:
        document.close()


class PrintDialog(QDialog):
    """Paper, panel, size and view on the left; the page as it will be on the right; save, print."""

    def __init__(
        self,
        make: Callable[[PrintChoice], bytes],
        file_name: str,
        view: str = "proposed",
        parent: QWidget | None = None,
        panels: tuple[tuple[str, str], ...] = (),
        panel: str = "",
        paper: str = "door",
        papers: tuple[tuple[str, str], ...] = PAPERS,
        targets: tuple[tuple[str, str], ...] = (),
    ) -> None:
        """``panels``: (name, id) of each panel that has a door; ``panel`` and ``paper``: what to begin with.

        ``papers``: (words, kind) of what can be printed. ``targets``: (name, id) of what they are for, in place of panels;
        such papers have a view of their own.
        """
        super().__init__(parent)
        self.setWindowTitle("Print")
        self.resize(860, 640)
        self._make = make
        self._file_name = file_name
        self._pdf = b""
        self.saved_to: Path | None = None
        self.targets = targets
        self.paper = _choice(self, papers, "Paper")
        self.paper.put(paper)
        self.panel = _choice(self, targets or (WHOLE_BUILDING, *panels), "For" if targets else "For the door of")
        self.panel.put(panel)
        self.size_choice = _choice(self, SIZES, "Size")
        self.view = _choice(self, VIEWS, "View")
        self.view.put(view)
        self.view.setEnabled(not targets)
        for box in (self.paper, self.panel, self.size_choice, self.view):
            box.activated.connect(lambda _: self.remake())
        self.preview = _PagePreview(self)
        self.message = MessageLabel(self)
        self.pages = Quiet("", self)
        self.back = _button(self, "Page before", "Show the page before (Page Up).")
        self.forth = _button(self, "Next page", "Show the next page (Page Down).")
        QShortcut(QKeySequence(Qt.Key.Key_PageUp), self).activated.connect(lambda: self.turn(-1))
        QShortcut(QKeySequence(Qt.Key.Key_PageDown), self).activated.connect(lambda: self.turn(1))
        self.back.clicked.connect(lambda: self.turn(-1))
        self.forth.clicked.connect(lambda: self.turn(1))
        self.save_button = _button(self, "Save as PDF …", "Write the page to a file.")
        self.save_button.setDefault(True)
        self.save_button.clicked.connect(self.save)
        self.print_button = _button(self, "Print …", "Send the page to a printer.")
        self.print_button.clicked.connect(self.print_page)
        self.close_button = _button(self, "Close", "Close without printing.")
        self.close_button.clicked.connect(self.reject)
        self._lay_out()
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.timeout.connect(self.remake)
        self._timer.start(0)

    def _lay_out(self) -> None:
        form = QFormLayout()
        form.setSpacing(STEP)
        form.addRow("Paper", self.paper)
        form.addRow("For", self.panel)
        form.addRow("Size", self.size_choice)
        form.addRow("View", self.view)
        left = QVBoxLayout()
        left.setSpacing(STEP)
        left.addLayout(form)
        left.addWidget(self.message)
        left.addStretch(1)
        caution = Quiet(CAUTION_LINE, self)
        caution.setWordWrap(True)
        left.addWidget(caution)
        for button in (self.save_button, self.print_button, self.close_button):
            left.addWidget(button)
        box = QHBoxLayout(self)
        box.setContentsMargins(STEP * 2, STEP * 2, STEP * 2, STEP * 2)
        box.setSpacing(STEP * 2)
        side = QWidget(self)
        side.setLayout(left)
        left.setContentsMargins(0, 0, 0, 0)
        side.setFixedWidth(250)
        turning = QHBoxLayout()
        turning.setSpacing(STEP)
        turning.addStretch(1)
        for widget in (self.back, self.pages, self.forth):
            turning.addWidget(widget)
        turning.addStretch(1)
        right = QVBoxLayout()
        right.setSpacing(STEP)
        right.addWidget(self.preview, 1)
        right.addLayout(turning)
        box.addWidget(side)
        box.addLayout(right, 1)

    @property
    def choice(self) -> PrintChoice:
        return PrintChoice(
            self.paper.currentData(),
            self.size_choice.currentData(),
            self.view.currentData(),
            self.panel.currentData() or "",
        )

    @property
    def pdf(self) -> bytes:
        """The page as it is shown, b"" while there is none."""
        return self._pdf

    def remake(self) -> None:
        """Make the page for what is chosen and show it."""
        self.panel.setEnabled(bool(self.targets) or self.choice.paper == "door")
        QGuiApplication.setOverrideCursor(Qt.CursorShape.WaitCursor)
        try:
            self._pdf = self._make(self.choice)
            self.message.clear_message()
        except Exception as problem:  # a page that cannot be made must not take the window with it
            self._pdf = b""
            self.message.show_problem(f"The page cannot be made: {problem} Save the drawing and check its data.")
        finally:
            QGuiApplication.restoreOverrideCursor()
        for button in (self.save_button, self.print_button):
            button.setEnabled(bool(self._pdf))
        self.preview.put(self._pdf)
        self.turn(0)

    def turn(self, pages: int) -> None:
        """Turn the preview by some pages; it stops at the first and the last."""
        preview = self.preview
        preview.turn_to(preview.page + pages)
        several = preview.count > 1
        for widget in (self.back, self.pages, self.forth):
            widget.setVisible(several)
        self.pages.setText(f"Page {preview.page + 1} of {preview.count}")
        self.back.setEnabled(preview.page > 0)
        self.forth.setEnabled(preview.page < preview.count - 1)

    def save(self) -> None:
        """Ask where, and write the PDF."""
        name, _ = QFileDialog.getSaveFileName(self, "Save the page", f"{self._file_name}.pdf", "PDF (*.pdf)")
        if name:
            self.save_to(Path(name))

    def save_to(self, path: Path) -> None:
        """Write the PDF; a problem is said in the dialog and the old file stays as it was."""
        target = path if path.suffix else path.with_suffix(".pdf")
        if write_file(target, self._pdf, self.message):
            self.saved_to = target
            self.accept()

    def print_page(self) -> None:
        """Ask for a printer and print."""
        printer = QPrinter(QPrinter.PrinterMode.HighResolution)
        self.prepare(printer)
        dialog = QPrintDialog(printer, self)
        if dialog.exec() == QDialog.DialogCode.Accepted:
            print_pdf(self._pdf, printer)
            self.accept()
        dialog.deleteLater()

    def prepare(self, printer: QPrinter) -> None:
        """Set the printer to the paper and the direction of the page."""
        size = QPageSize.PageSizeId.Letter if self.choice.size == "letter" else QPageSize.PageSizeId.Tabloid
        printer.setPageSize(QPageSize(size))
        image, _ = page_image(self._pdf, 0, 0.25)
        wide = image.width() > image.height()
        printer.setPageOrientation(QPageLayout.Orientation.Landscape if wide else QPageLayout.Orientation.Portrait)
        printer.setFullPage(True)


def print_pdf(pdf: bytes, printer: QPrinter) -> None:
    """Print all pages of a PDF, each fitted into the printer's page."""
    painter = QPainter(printer)
    count, page = 1, 0
    while page < count:
        image, count = page_image(pdf, page, PRINT_DPI / _POINTS_PER_INCH)
        if page:
            printer.newPage()
        room = QRectF(painter.viewport())
        size = image.size().scaled(room.size().toSize(), Qt.AspectRatioMode.KeepAspectRatio)
        left, top = (room.width() - size.width()) / 2, (room.height() - size.height()) / 2
        painter.drawImage(QRectF(left, top, size.width(), size.height()), image)
        page += 1
    painter.end()


class _PagePreview(QLabel):
    """A page as large as there is room, white as paper whatever the theme."""

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self._pdf = b""
        self.page = 0
        self.count = 0
        self.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Ignored)
        self.setMinimumSize(QSize(240, 240))
        self.setAccessibleName("Preview of the page")

    def put(self, pdf: bytes) -> None:
        """Show a PDF, at the page that is shown now when it has one."""
        self._pdf = pdf
        self._draw()

    def turn_to(self, page: int) -> None:
        """Show a page, counted from 0."""
        page = max(0, min(page, self.count - 1))
        if page != self.page:
            self.page = page
            self._draw()

    def _draw(self) -> None:
        if not self._pdf:
            self.count = 0
            self.setText("No page.")
            return
        ratio = self.devicePixelRatioF()
        small, self.count = page_image(self._pdf, self.page, 0.1)
        self.page = min(self.page, self.count - 1)
        share = min(self.width() / max(small.width(), 1), self.height() / max(small.height(), 1)) * 0.1
        image, _ = page_image(self._pdf, self.page, max(share * ratio, 0.05))
        pixmap = QPixmap.fromImage(image)
        pixmap.setDevicePixelRatio(ratio)
        self.setPixmap(pixmap)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._draw()


class ExportDialog(QDialog):
    """Format, view and fineness of a picture of the diagram. Always black on white, whatever the theme."""

    def __init__(
        self,
        make: Callable[[ExportChoice], bytes],
        file_name: str,
        view: str = "proposed",
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle("Export diagram")
        self._make = make
        self._file_name = file_name
        self.saved_to: Path | None = None
        self.format = _choice(self, FORMATS, "Format")
        self.view = _choice(self, VIEWS, "View")
        self.view.put(view)
        self.scale = _choice(self, SCALES, "Fineness")
        self.scale.put(2.0)
        self.format.activated.connect(lambda _: self._suit())
        self.message = MessageLabel(self)
        self.open_after = QCheckBox("Open it afterwards", self)
        save = _button(self, "Save …", "Write the diagram to a file.")
        save.setDefault(True)
        save.clicked.connect(self.save)
        close = _button(self, "Close", "Close without saving.")
        close.clicked.connect(self.reject)
        form = QFormLayout()
        form.setSpacing(STEP)
        form.addRow("Format", self.format)
        form.addRow("View", self.view)
        form.addRow("Fineness", self.scale)
        caution = Quiet(CAUTION_LINE, self)
        caution.setWordWrap(True)
        buttons = QHBoxLayout()
        buttons.addStretch(1)
        buttons.addWidget(save)
        buttons.addWidget(close)
        box = QVBoxLayout(self)
        box.setContentsMargins(STEP * 2, STEP * 2, STEP * 2, STEP * 2)
        box.setSpacing(STEP)
        box.addLayout(form)
        box.addWidget(self.open_after)
        box.addWidget(self.message)
        box.addWidget(caution)
        box.addLayout(buttons)
        self.setMinimumWidth(400)
        self._suit()

    @property
    def choice(self) -> ExportChoice:
        return ExportChoice(self.format.currentData(), self.view.currentData(), self.scale.currentData())

    def _suit(self) -> None:
        self.scale.setEnabled(self.choice.format == "png")

    def save(self) -> None:
        """Ask where, and write the picture."""
        ending = self.choice.format
        name, _ = QFileDialog.getSaveFileName(
            self, "Export the diagram", f"{self._file_name}.{ending}", f"{ending.upper()} (*.{ending})"
        )
        if name:
            self.save_to(Path(name))

    def save_to(self, path: Path) -> None:
        """Make the picture and write it; a problem is said in the dialog."""
        try:
            data = self._make(self.choice)
        except Exception as problem:  # a picture that cannot be made must not take the window with it
            self.message.show_problem(f"The picture cannot be made: {problem} Save the drawing and check its data.")
            return
        target = path if path.suffix else path.with_suffix(f".{self.choice.format}")
        if write_file(target, data, self.message):
            self.saved_to = target
            if self.open_after.isChecked():
                _open(target)
            self.accept()


def write_file(path: Path, data: bytes, message: MessageLabel) -> bool:
    """Write a file whole or not at all. What went wrong is said in ``message``."""
    try:
        replace_file(path, data)
    except CannotSave as bad:
        message.show_problem(f"{path.name} was not written. {bad.problem.why} {bad.problem.what_to_do}")
        return False
    return True


def _open(path: Path) -> None:
    from PySide6.QtCore import QUrl
    from PySide6.QtGui import QDesktopServices

    QDesktopServices.openUrl(QUrl.fromLocalFile(str(path)))


def _choice(parent: QWidget, rows: tuple[tuple[str, object], ...], name: str) -> Choice:
    box = Choice(parent)
    box.fill(rows)
    box.setCurrentIndex(0)
    box.setAccessibleName(name)
    box.setToolTip(name)
    return box


def _button(parent: QWidget, text: str, tip: str) -> QPushButton:
    button = QPushButton(text, parent)
    button.setMinimumHeight(CONTROL_PX)
    button.setToolTip(tip)
    return button
