"""Makes the pictures of the README from the sample: ``python samples/pictures.py [FOLDER]``. Needs no screen."""

from __future__ import annotations

import os
import sys
import tempfile
from datetime import datetime
from pathlib import Path

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

import oneline

HERE = Path(__file__).resolve().parent
FOLDER = HERE.parent / "resources" / "readme"
SAMPLE = HERE / "cannery.oneline"
#: The time printed on the sheet, so that the picture does not change when nothing else does.
PRINTED_AT = datetime(2026, 4, 20, 12, 0)
SELECTED = "Annex tap"
DOOR_PANEL = "Panel R, bakery annex"
#: Page of the switching order with the diagram.
ORDER_PAGES = (0, -1)


def door(folder: Path) -> None:
    """The first page of the door sheet as PNG."""
    import pypdfium2

    drawing = oneline.open(SAMPLE)
    with tempfile.TemporaryDirectory() as scratch:
        pdf = Path(scratch) / "door.pdf"
        oneline.print_door(drawing, pdf, panel=DOOR_PANEL, file_name=SAMPLE.name, printed_at=PRINTED_AT)
        document = pypdfium2.PdfDocument(pdf.read_bytes())
        document[0].render(scale=1.6).to_pil().quantize(32).save(folder / "door.png", optimize=True)
        document.close()


def outage(folder: Path) -> None:
    """The first page of the switching order of the sample's outage, and its diagram below, as one PNG."""
    import pypdfium2
    from PIL import Image

    drawing = oneline.open(SAMPLE)
    plan = oneline.plan_outage(drawing, drawing.zones[0].id)
    with tempfile.TemporaryDirectory() as scratch:
        pdf = Path(scratch) / "order.pdf"
        oneline.print_outage(drawing, pdf, plan, "order", file_name=SAMPLE.name, printed_at=PRINTED_AT)
        document = pypdfium2.PdfDocument(pdf.read_bytes())
        first, last = (document[n % len(document)] for n in ORDER_PAGES)
        left = first.render(scale=1.5).to_pil()
        right = last.render(scale=1.5 * first.get_height() / last.get_height()).to_pil()
        both = Image.new("RGB", (left.width + right.width, left.height), "white")
        both.paste(left, (0, 0))
        both.paste(right, (left.width, 0))
        both.quantize(32).save(folder / "outage.png", optimize=True)
        document.close()


def window(folder: Path) -> None:
    """The editor with the sample open and the new tap selected."""
    from PySide6.QtCore import QSettings
    from PySide6.QtWidgets import QApplication

    from oneline.desk.app import make_app, make_window

    app = make_app()
    with tempfile.TemporaryDirectory() as scratch:
        settings = QSettings(str(Path(scratch) / "settings.ini"), QSettings.Format.IniFormat)
        settings.setValue("theme", "light")
        main = make_window(app, settings, None)
        main.resize(1600, 1000)
        main.show()
        main.documents.load(SAMPLE)
        session = main.session
        session.select([i for i in session.drawing.items if session.drawing.name_of(i) == SELECTED])
        for _ in range(20):
            QApplication.processEvents()
        main.canvas.fit()
        for _ in range(20):
            QApplication.processEvents()
        main.grab().save(str(folder / "window.png"))
        main.documents.forget() if hasattr(main.documents, "forget") else None
        main.close()


def main(folder: Path = FOLDER) -> None:
    """Write the pictures into a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    door(folder)
    outage(folder)
    window(folder)


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else FOLDER)
