"""Functions of the Edit, Place and Study menus that work on the selected items."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from PySide6.QtWidgets import QApplication

from oneline.desk import clipboard
from oneline.desk.documents import utc_now
from oneline.desk.tools import keyboard
from oneline.desk.tools.connect import ConnectTool, TieTool
from oneline.desk.tools.operate import OperateTool, can_operate, operate
from oneline.desk.view import Look
from oneline.model import ConductorRun, Drawing, Joint, copies, edits
from oneline.rules.verdict import Verdict
from oneline.sheet.layout import arrange

if TYPE_CHECKING:
    from oneline.desk.canvas import Canvas

STATUS_WORDS = {"existing": "existing", "new": "new", "remove": "to be removed", "future": "future"}
_ARRANGE = "Arrange the drawing"
#: How far copies are put from what they were made of.
_ASIDE = 40.0
#: Letters of a finding's sentence that the status bar has room for; the list has all of it.
_SAID = 100
#: States of findings that are walked through, most pressing first.
_WALKED = ("fail", "unknown", "judge", "advice")


class Editing:
    """What the menus do to the selection, for one canvas."""

    def __init__(self, canvas: Canvas) -> None:
        self._canvas = canvas
        self._session = canvas.session
        self._finding = -1
        #: Drawings before and after they were arranged, what was looked at then, and what was selected.
        self._looked: list[tuple[Drawing, Look, tuple[str, ...]]] = []

    # ------------------------------------------------------------------------------------------------------- selection
    def _chosen(self) -> list[str]:
        return [i for i in self._session.selection if i in self._session.drawing]

    def _what(self, ids: list[str]) -> str:
        return self._session.drawing.name_of(ids[0]) if len(ids) == 1 else f"{len(ids)} items"

    def select_all(self) -> None:
        """Select everything that is shown."""
        shown = self._canvas.sheet.sheet_items
        self._session.select([i for i in self._session.drawing.items if i in shown])

    def select_below(self) -> None:
        """Select all that is fed through the selected items, themselves included."""
        walking = keyboard.walker(self._canvas)
        found: list[str] = []
        for item_id in self._chosen():
            if item_id in walking.drawing:
                found += [item_id, *walking.below(item_id)]
        self._session.select(found)

    # ------------------------------------------------------------------------------------------------------- clipboard
    def copy(self, cut: bool = False) -> bool:
        """Put the selected items on the clipboard."""
        chosen = self._chosen()
        data = clipboard.copy_mime(self._session.drawing, chosen, utc_now(), self._session.symbols) if chosen else None
        if data is None:
            self._canvas.say("Select items first. A line is copied together with both of its ends.")
            return False
        if cut:
            data.setData(clipboard.MIME_CUT, b"1")
        QApplication.clipboard().setMimeData(data)
        return True

    def cut(self) -> None:
        """Put the selected items on the clipboard and remove them."""
        if self.copy(cut=True):
            chosen = self._chosen()
            self._canvas.edit(f"Cut {self._what(chosen)}", lambda d: edits.remove(d, chosen))

    def paste(self) -> None:
        """Add what is on the clipboard, beside where it came from."""
        data = QApplication.clipboard().mimeData()
        made: list[str] = []
        try:
            part = clipboard.pasted(data)
        except edits.EditRefused as refused:
            self._canvas.say(str(refused))
            return

        def add(drawing: Drawing) -> Drawing:
            after, ids = copies.put_into(drawing, part, _ASIDE, _ASIDE, readings=data.hasFormat(clipboard.MIME_CUT))
            made.extend(ids.values())
            return after

        count = sum(not isinstance(i, Joint) for i in part.items.values())
        if self._canvas.edit(f"Paste {count} {'item' if count == 1 else 'items'}", add):
            self._session.select(made)
            self._canvas.show_item(made[0])

    def duplicate(self) -> None:
        """Put a copy of the selected items beside them."""
        chosen = self._chosen()
        made: list[str] = []

        def copy(drawing: Drawing) -> Drawing:
            after, ids = copies.duplicate(drawing, chosen, _ASIDE, _ASIDE)
            made.extend(ids.values())
            return after

        if chosen and self._canvas.edit(f"Duplicate {self._what(chosen)}", copy):
            self._session.select(made)

    # ----------------------------------------------------------------------------------------------------------- edits
    def delete(self) -> None:
        """Remove the selected items and every connection that ends at one of them."""
        chosen = self._chosen()
        if not chosen:
            self._canvas.say("Select what to delete first.")
            return
        before = len(self._session.drawing)
        if self._canvas.edit(f"Delete {self._what(chosen)}", lambda d: edits.remove(d, chosen)):
            gone = before - len(self._session.drawing)
            more = f", {gone - len(chosen)} connections with it" if gone > len(chosen) else ""
            self._canvas.say(
                f"Deleted {len(chosen)} {'item' if len(chosen) == 1 else 'items'}{more}. Ctrl+Z brings it back."
            )

    def rename(self) -> None:
        """Edit the name of the selected item where it stands."""
        chosen = self._chosen()
        if chosen:
            self._canvas.rename(chosen[-1])

    def mark(self, status: str) -> None:
        """Give the selected items a status."""
        chosen = self._chosen()
        words = STATUS_WORDS[status]
        if not chosen:
            self._canvas.say("Select what to mark first.")
            return
        changed = [replace(self._session.drawing.get(i), status=status) for i in chosen]
        if self._canvas.edit(f"Mark {self._what(chosen)} {words}", lambda d: d.with_items(changed)):
            hidden = [i for i in chosen if i not in self._canvas.sheet.sheet_items]
            view = self._session.view
            note = f" The {view} view does not show it; V switches." if hidden else ""
            self._canvas.say(f"Marked {words}.{note}")

    def swap(self) -> None:
        """Change selected conductors into a bolted connection, or back; of a device, what joins it toward the source."""
        chosen = self._chosen()
        lines = [i for i in chosen if isinstance(self._session.drawing.get(i), ConductorRun | Joint)]
        if not lines and len(chosen) == 1:
            lines = [c.id for c in self._session.drawing.connections_of(chosen[0]) if c.b is not None][:1]
        if len(lines) != 1:
            self._canvas.say("Select one line: conductors, or a bolted connection.")
            return
        made: list[str] = []

        def change(drawing: Drawing) -> Drawing:
            after, new_id = keyboard.swap_connection(drawing, lines[0])
            made.append(new_id)
            return after

        was_run = isinstance(self._session.drawing.get(lines[0]), ConductorRun)
        label = f"Make {self._session.drawing.name_of(lines[0])} {'a bolted connection' if was_run else 'conductors'}"
        if self._canvas.edit(label, change):
            if lines[0] in chosen:
                self._session.select(made)
            self._canvas.say(
                "Bolted: no conductors between." if was_run else "Conductors: size and length are unknown."
            )

    def arrange(self) -> None:
        """Place all items anew."""
        before, look, chosen = self._session.drawing, self._canvas.look, self._session.selection
        if self._canvas.edit(_ARRANGE, arrange):
            self._canvas.fit()
            self._looked = [(before, look, chosen), (self._session.drawing, self._canvas.look, chosen)]

    def look_again(self, step: str | None) -> bool:
        """After an arrangement was taken back or made again show what was shown then; ``False`` after other steps."""
        for drawing, look, chosen in self._looked:
            if step == _ARRANGE and drawing is self._session.drawing:
                self._session.select(chosen)
                self._canvas.look_as(look)
                return True
        return False

    def set_edition(self, year: int) -> None:
        """Study the drawing under another edition of the code."""
        self._canvas.edit(f"Use the {year} edition", lambda d: replace(d, project=replace(d.project, edition=year)))

    # ----------------------------------------------------------------------------------------------------------- tools
    def connect(self, tie: bool = False) -> None:
        """Take the connecting tool (or the one for suspected ties) into the hand."""
        kind = TieTool if tie else ConnectTool
        self._canvas.use_tool(kind(self._canvas))
        self._canvas.setFocus()

    def operate(self) -> None:
        """Operate the selected switches; without one take the tool that does it by clicks."""
        chosen = [i for i in self._chosen() if can_operate(self._session.drawing.get(i))]
        if len(chosen) == 1:
            operate(self._canvas, chosen[0])
        elif isinstance(self._canvas.tool, OperateTool):
            self._canvas.use_tool(None)
        else:
            self._canvas.use_tool(OperateTool(self._canvas))

    # -------------------------------------------------------------------------------------------------------- findings
    def step_finding(self, step: int) -> Verdict | None:
        """Go to the item of the next or previous finding."""
        findings = [v for v in self._session.study.verdicts if v.state in _WALKED and not v.alternative]
        findings.sort(key=lambda v: _WALKED.index(v.state))
        if not findings:
            self._canvas.say("There are no findings to look at.")
            return None
        if self._finding < 0:
            self._finding = 0 if step > 0 else len(findings) - 1
        else:
            self._finding = (self._finding + step) % len(findings)
        self._finding = min(self._finding, len(findings) - 1)
        finding = findings[self._finding]
        if finding.subject in self._session.drawing:
            self._session.select([finding.subject])
            self._canvas.show_item(finding.subject)
        said = finding.message if len(finding.message) <= _SAID else finding.message[:_SAID].rsplit(" ", 1)[0] + " …"
        self._canvas.say(f"{self._finding + 1} of {len(findings)}: {said}")
        return finding
