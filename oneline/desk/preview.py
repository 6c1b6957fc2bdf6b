"""Shows a drawing that is not applied yet, while a gesture runs: at once where that is quick, else when the pointer rests."""

from __future__ import annotations

import time

from PySide6.QtCore import QObject, QTimer

from oneline.desk.scene import SheetScene
from oneline.model import Drawing
from oneline.session import Session
from oneline.sheet import build_picture

#: A preview that takes longer than this is not built on every move of the pointer.
QUICK_S = 0.04
#: How long the pointer has to rest before a slow preview is built.
REST_MS = 120


class Preview(QObject):
    """Keeps a scene at a drawing in the making, with the present study's marks."""

    def __init__(self, session: Session, sheet: SheetScene, parent: QObject) -> None:
        super().__init__(parent)
        self._session = session
        self._sheet = sheet
        self._wanted: Drawing | None = None
        self._shown: Drawing = session.drawing
        self._took_s = 0.0
        self._rest = QTimer(self, singleShot=True, interval=REST_MS)
        self._rest.timeout.connect(self._build)

    def show(self, drawing: Drawing) -> None:
        """Show a drawing that differs from the session's only in where things are."""
        self._wanted = drawing
        if self._took_s < QUICK_S:
            self._build()
        else:
            self._slide(drawing)
            self._rest.start()

    def settle(self) -> None:
        """The scene shows the session's own drawing again."""
        self._rest.stop()
        self._wanted = None
        self._shown = self._session.drawing

    def _build(self) -> None:
        drawing, session = self._wanted, self._session
        if drawing is None:
            return
        start = time.perf_counter()
        self._sheet.sync(build_picture(drawing, session.study, session.view, session.symbols))
        self._sheet.mark(session.selection)
        self._took_s = time.perf_counter() - start
        self._shown = drawing

    def _slide(self, drawing: Drawing) -> None:
        """Dragged items slide along; their lines follow when the pointer rests."""
        for item_id in self._session.selection:
            old, new = self._shown.items.get(item_id), drawing.items.get(item_id)
            item = self._sheet.sheet_items.get(item_id)
            if item is not None and old is not None and new is not None and old.place and new.place:
                item.setPos(new.place.x - old.place.x, new.place.y - old.place.y)
