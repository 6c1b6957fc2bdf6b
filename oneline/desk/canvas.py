"""The canvas: shows the scene, pans and zooms, and hands the pointer and the keys to the tool in the hand."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from PySide6.QtCore import QEvent, QPointF, QRectF, Qt, QTimer, Signal
from PySide6.QtGui import (
    QDragEnterEvent,
    QDragLeaveEvent,
    QDragMoveEvent,
    QDropEvent,
    QKeyEvent,
    QMouseEvent,
    QResizeEvent,
)
from PySide6.QtWidgets import QLabel, QWidget

from oneline.desk.overlay import Overlay
from oneline.desk.painter import Inks
from oneline.desk.preview import Preview
from oneline.desk.scene import SheetScene
from oneline.desk.tools.base import GRID, Hit, Marks, Point, Pointer, Tool
from oneline.desk.tools.growth import shape_of
from oneline.desk.tools.pan import PanTool
from oneline.desk.tools.place import MIME_KIND, PlaceTool
from oneline.desk.tools.rename import RenameField
from oneline.desk.tools.select import SelectTool
from oneline.desk.view import READABLE, PaperView
from oneline.model import Bus, Disconnect, Drawing, Place, TransferSwitch
from oneline.model.edits import EditRefused
from oneline.session import Session
from oneline.sheet import build_picture

_EMPTY = "Press S to begin with the utility service,\nor take something from the strip on the left."


class Canvas(PaperView):
    """The sheet on the screen, and the board that tools work on."""

    said = Signal(str)
    details_wanted = Signal()
    findings_wanted = Signal(str)
    circuits_wanted = Signal(str)
    tool_changed = Signal(object)

    def __init__(self, session: Session, inks: Inks, parent: QWidget | None = None) -> None:
        self._sheet = SheetScene(inks)
        super().__init__(self._sheet, inks, parent)
        self._session = session
        self.snapping = True
        #: Status of items that are put on the sheet.
        self.new_status = "existing"
        self.overlay = Overlay(inks, self._frame_rect)
        self.marks: Marks = self.overlay
        self._sheet.addItem(self.overlay)
        self._select = SelectTool(self)
        self.tool: Tool = self._select
        self._pan: PanTool | None = None
        self._space = False
        self._last = Pointer((0.0, 0.0), (0.0, 0.0))
        self._hovered: str = ""
        self._rename = RenameField(self)
        self._preview = Preview(session, self._sheet, self)
        self._burst = QTimer(self, singleShot=True, interval=900)
        self._burst.timeout.connect(session.close_gesture)
        self._empty = QLabel(_EMPTY, self, alignment=Qt.AlignmentFlag.AlignCenter)
        self._empty.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
        self.setAcceptDrops(True)
        self.setAccessibleName("Sheet")
        self.setAccessibleDescription("The drawing. The figures pane lists the same items as a table.")
        self.zoomed.connect(self._zoom_changed)
        self._stop_listening = session.listen(self._heard)
        self.show_session()

    # ------------------------------------------------------------------------------------------------------- session
    @property
    def session(self) -> Session:
        return self._session

    @property
    def sheet(self) -> SheetScene:
        """The scene with the graphics items."""
        return self._sheet

    def _heard(self, kinds: frozenset[str]) -> None:
        if kinds & {"drawing", "view", "selection"}:
            self.show_way(())
        if kinds & {"drawing", "view", "study", "live"}:
            self.show_session()
        elif "selection" in kinds:
            self._mark()
        if "selection" in kinds:
            self.as_opened = False

    def _mark(self) -> None:
        """Give the selected items their look; a single switch gets its handle."""
        chosen = self._session.selection
        self._sheet.mark(chosen)
        self.show_handle(chosen[0] if len(chosen) == 1 else None)

    def show_way(self, item_ids: tuple[str, ...]) -> None:
        """Show by which items a source reaches something; none takes the look away."""
        self._sheet.mark_way(item_ids)

    def show_session(self) -> None:
        """Paint what the session holds; without its answers when they cannot be had, so that the drawing stays in sight."""
        session = self._session
        try:
            picture = session.picture
        except Exception:
            self._sheet.sync(build_picture(session.drawing, None, session.view, session.symbols))
            self._mark()
            raise
        self._preview.settle()
        self._sheet.sync(picture)
        self._mark()
        self._empty.setVisible(not self._session.drawing.items)

    def preview(self, drawing: Drawing | None) -> None:
        """Show a drawing that is not applied, with the present study's marks; ``None`` goes back to the session's."""
        if drawing is None or drawing is self._session.drawing:
            self._preview.settle()
            self._sheet.sync(self._session.picture)
            self._mark()
        else:
            self._preview.show(drawing)

    def edit(self, label: str, change: Callable[[Drawing], Drawing], merge_key: Any = None) -> bool:
        """Apply an edit as one named step; a refused one shows its sentence and changes nothing."""
        try:
            after = change(self._session.drawing)
        except EditRefused as refused:
            self.preview(None)
            self.say(str(refused))
            return False
        if merge_key is None:
            self._burst.stop()
            self._session.close_gesture()
        else:
            self._burst.start()
        if not self._session.apply(label, after, merge_key):
            self.preview(None)
            return False
        return True

    def say(self, sentence: str) -> None:
        """Show a sentence in the status bar."""
        self.said.emit(sentence)

    def stop(self) -> None:
        """Let go of the session."""
        self._stop_listening()

    # --------------------------------------------------------------------------------------------------------- tools
    def use_tool(self, tool: Tool | None) -> None:
        """Take a tool into the hand; ``None`` is the one that selects."""
        self.tool.stop()
        self.tool = tool or self._select
        self.set_cursor(None)
        self.tool.start()
        if self.tool.hint:
            self.say(self.tool.hint)
        self.tool_changed.emit(self.tool)

    def set_cursor(self, shape: Qt.CursorShape | None) -> None:
        """Show a cursor; ``None`` is the one of the tool."""
        self.viewport().setCursor(shape if shape is not None else self.tool.cursor)

    def hit(self, at: Point) -> Hit:
        """What lies at a point of the sheet."""
        return self._sheet.hit(at, self.zoom)

    def aim(self, at: Point) -> Hit:
        """What something new at a point of the sheet would be joined to."""
        return self._sheet.aim(at, self.zoom)

    def items_in(self, a: Point, b: Point) -> list[str]:
        return self._sheet.inside(a, b)

    def snap(self, at: Point) -> Point:
        if not self.snapping:
            return at
        return round(at[0] / GRID) * GRID, round(at[1] / GRID) * GRID

    def hit_line(self, at: Point) -> str | None:
        """The line at a point, whatever else lies there."""
        return self._sheet.line_at(at, self.zoom)

    def route_of(self, line_id: str) -> list[Point]:
        """The corners of a line as it is drawn, terminals included."""
        return self._sheet.route_of(line_id)

    def place_of(self, item_id: str) -> Place:
        """Where an item without a place of its own was put by the layout."""
        item, symbols = self._session.drawing.get(item_id), self._session.symbols
        form = (("form", item.form),) if isinstance(item, Disconnect | Bus) else ()
        shape = shape_of(item.kind, form, symbols)
        terminal = item.terminals[0]
        at = self._session.picture.terminals.get((item_id, terminal), (0.0, 0.0))
        offset = shape.terminals.get(terminal, (0.0, 0.0))
        return Place(at[0] - offset[0], at[1] - offset[1])

    def words_corner(self, item_id: str) -> QPointF:
        """Where an item's words begin, in pixels of the viewport."""
        return self.to_screen(self._sheet.words_corner(item_id))

    def show_handle(self, item_id: str | None) -> None:
        """Show the handle that operates a switch beside it, or none."""
        item = self._session.drawing.items.get(item_id or "")
        closed = item.closed if isinstance(item, Disconnect) else True
        shown = item_id if isinstance(item, Disconnect | TransferSwitch) else None
        self._sheet.show_handle(shown, closed, self.zoom)

    def near_handle(self, at: Point) -> bool:
        """Whether a point lies between the handle and its switch."""
        return self._sheet.near_handle(at)

    def put_down(self) -> None:
        """Go back to selecting."""
        self.use_tool(None)

    def _zoom_changed(self, _share: float) -> None:
        self.overlay.pixels_per_unit = self.zoom
        self._mark()

    def _frame_rect(self, item_id: str) -> QRectF:
        item = self._sheet.sheet_items.get(item_id)
        if item is None:
            return QRectF()
        rect = item.body if not item.body.isEmpty() else item.trace().boundingRect()
        return rect.adjusted(-5, -5, 5, 5)

    def focus_details(self) -> None:
        self.details_wanted.emit()

    def show_findings(self, item_id: str) -> None:
        self.findings_wanted.emit(item_id)

    def show_circuits(self, item_id: str) -> None:
        self.circuits_wanted.emit(item_id)

    def rename(self, item_id: str) -> None:
        """Edit an item's name where it stands."""
        self._rename.begin(item_id)

    def hover(self, hit: Hit) -> None:
        """Give the item under the pointer its look."""
        if hit.item != self._hovered:
            for item_id, on in ((self._hovered, False), (hit.item, True)):
                item = self._sheet.sheet_items.get(item_id)
                if item is not None:
                    item.set_hovered(on)
            self._hovered = hit.item

    def fit(self, item_ids: list[str] | None = None) -> None:
        """Show the whole drawing, or some items, with a margin; small things are not blown up past 150 %."""
        rect = self._sheet.rect_of(item_ids if item_ids else list(self._sheet.sheet_items))
        if rect.isEmpty():
            self.set_zoom(1.0)
            self.centerOn(0.0, 100.0)
            return
        self.fit_rect(rect)
        self.fitted = not item_ids

    def show_opened(self) -> None:
        """Show a drawing that was just opened: all of it where it can be read, else what is selected, or its top."""
        items = self._sheet.sheet_items
        whole = self._sheet.rect_of(list(items))
        if whole.isEmpty():
            self.fit()
            return
        bodies = {i: item.body for i, item in items.items() if i and not item.body.isEmpty()}
        chosen = [i for i in self._session.selection if i in items] or [
            min(bodies, key=lambda i: (bodies[i].top(), bodies[i].left()), default="")
        ]
        self.open_on(whole, self._sheet.rect_of(chosen))

    def show_item(self, item_id: str) -> None:
        """Bring an item into view, large enough to read."""
        rect = self._sheet.rect_of([item_id])
        if rect.isEmpty():
            return
        self.as_opened = False
        if self.zoom_share < READABLE:
            self.set_zoom(1.0)
            self.centerOn(rect.center())
            return
        seen = self.mapToScene(self.viewport().rect()).boundingRect()
        if not seen.adjusted(GRID, GRID, -GRID, -GRID).contains(rect):
            # With what stands around it, as far as the window has room for that.
            self.ensureVisible(rect, min(120, self.viewport().width() // 5), min(120, self.viewport().height() // 5))

    # --------------------------------------------------------------------------------------------------------- pointer
    def _pointer(self, screen: QPointF, modifiers: Qt.KeyboardModifier, button: Qt.MouseButton) -> Pointer:
        at = self.to_sheet(screen)
        held = Qt.KeyboardModifier
        self._last = Pointer(
            (at.x(), at.y()), (screen.x(), screen.y()), button, bool(modifiers & held.ShiftModifier),
            bool(modifiers & held.ControlModifier), bool(modifiers & held.AltModifier),
        )  # fmt: skip
        return self._last

    def mousePressEvent(self, event: QMouseEvent) -> None:
        self._rename.finish()
        pointer = self._pointer(event.position(), event.modifiers(), event.button())
        if event.button() == Qt.MouseButton.MiddleButton or (
            self._space and event.button() == Qt.MouseButton.LeftButton
        ):
            self._pan = PanTool(self)
            self._pan.press(pointer)
        elif event.button() == Qt.MouseButton.LeftButton:
            self.tool.press(pointer)
        event.accept()

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        pointer = self._pointer(event.position(), event.modifiers(), event.button())
        (self._pan or self.tool).move(pointer)
        event.accept()

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        pointer = self._pointer(event.position(), event.modifiers(), event.button())
        if self._pan is not None:
            self._pan = None
            self.set_cursor(None)
        elif event.button() == Qt.MouseButton.LeftButton:
            self.tool.release(pointer)
        event.accept()

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        if event.button() == Qt.MouseButton.LeftButton:
            self.tool.double_click(self._pointer(event.position(), event.modifiers(), event.button()))
        event.accept()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._empty.setGeometry(self.viewport().geometry())
        if self.fitted:
            self.fit()
        elif self.as_opened:
            self.show_opened()

    def leaveEvent(self, event: QEvent) -> None:
        self.hover(Hit())
        super().leaveEvent(event)

    # ------------------------------------------------------------------------------------------------------------ keys
    def event(self, event: QEvent) -> bool:
        """Let a tool that wants text have the letter keys before the shortcuts get them."""
        if event.type() == QEvent.Type.ShortcutOverride and isinstance(event, QKeyEvent) and self.tool.wants_text:
            held = event.modifiers() & (Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.AltModifier)
            keys = (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Backspace)
            if not held and ((event.text().isprintable() and event.text()) or event.key() in keys):
                event.accept()
                return True
        return super().event(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        key = event.key()
        if key == Qt.Key.Key_Space and not self.tool.wants_text:
            self._space = True
            self.viewport().setCursor(Qt.CursorShape.OpenHandCursor)
        elif key == Qt.Key.Key_Escape:
            self.escape()
        elif not self.tool.key(key, event.text(), self._key_pointer(event)):
            event.ignore()
            return
        event.accept()

    def keyReleaseEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Space and not event.isAutoRepeat():
            self._space = False
            self.set_cursor(None)
        event.accept()

    def _key_pointer(self, event: QKeyEvent) -> Pointer:
        return self._pointer(QPointF(*self._last.screen), event.modifiers(), Qt.MouseButton.NoButton)

    def escape(self) -> None:
        """Cancel the gesture; without one put the tool down; without a tool clear the selection."""
        if self.tool.busy:
            self.tool.cancel()
            self.say("Canceled. Nothing was changed.")
        elif self.tool is not self._select:
            self.use_tool(None)
            self.say("")
        else:
            self.tool.cancel()
            self._session.select([])

    def escape_gesture(self) -> None:
        """Cancel a gesture that is under way, and close a field that is open, before something else happens."""
        if self.tool.busy:
            self.tool.cancel()

    def focusNextPrevChild(self, forward: bool) -> bool:
        """Tab goes through the items of the sheet; F6 leaves it."""
        return False

    # -------------------------------------------------------------------------------------------- dragging from the palette
    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        if event.mimeData().hasFormat(MIME_KIND):
            key = bytes(event.mimeData().data(MIME_KIND).data()).decode()
            self.use_tool(PlaceTool(self, key))
            event.acceptProposedAction()
        else:
            event.ignore()

    def dragMoveEvent(self, event: QDragMoveEvent) -> None:
        self.tool.move(self._pointer(event.position(), event.modifiers(), Qt.MouseButton.NoButton))
        event.acceptProposedAction()

    def dragLeaveEvent(self, event: QDragLeaveEvent) -> None:
        self.use_tool(None)

    def dropEvent(self, event: QDropEvent) -> None:
        pointer = self._pointer(event.position(), event.modifiers(), Qt.MouseButton.LeftButton)
        self.tool.press(pointer)
        self.tool.release(pointer)
        self.window().activateWindow()
        self.setFocus()
        event.acceptProposedAction()
