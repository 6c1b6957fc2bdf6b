"""The door sheet: the diagram for the panel door, with its sources, fault currents, circuit directories and legend."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime

from oneline.model import Bus, Drawing
from oneline.paper.arrange import (
    GOOD_SCALE,
    Arrangement,
    MakeBlocks,
    best_page,
    content_box,
    empty_room,
    fit_scale,
    orientations,
    text_pages,
)
from oneline.paper.blocks import directory_block, faults_block, not_known_block, sources_block
from oneline.paper.directory import directories_of, panels_not_known
from oneline.paper.facts import faults_of, sources_of, words_first
from oneline.paper.flow import Block, paint
from oneline.paper.frame import Stamp, draw_frame
from oneline.paper.legend import legend_block, legend_entries
from oneline.paper.page import ELLIPSIS, MOST_CHARACTERS, Layer, Page, Pen, lost
from oneline.paper.pdf import pdf_bytes
from oneline.paper.picture import GOOD_NAME_PT, LEAST_TEXT_PT, least_text_pt, on_paper
from oneline.paper.reduced import Reduced, reduced
from oneline.sheet.build import build_picture
from oneline.sheet.display import Picture, Text
from oneline.sheet.layout import arrange
from oneline.sheet.wording import NAME_SIZE
from oneline.study import StudyResult

#: Smallest scale (points per grid unit) at which larger words can stand beside other things on a page.
LEAST_SCALE = 0.4

#: Width to height of the rooms tried for a diagram whose own places print too small, and how much larger it must get.
_PROPORTIONS = (0.95, 1.65)
_GAIN = 1.1
#: What larger words may cost of the scale they are made for, in the tries for it.
_SPARES = (0.98, 0.98, 0.96, 0.93, 0.9)

#: Below this scale no words can be made large enough; the diagram is printed as it is.
HOPELESS_SCALE = 0.25


@dataclass(frozen=True)
class Document:
    """Pages ready to be written, and notes for whoever prints them: what was made smaller, moved or shortened."""

    title: str
    pages: tuple[Page, ...]
    notes: tuple[str, ...]
    subject: str = "Single-line diagram and circuit directory"

    def pdf(self) -> bytes:
        """The document as PDF. The same document gives the same bytes."""
        return pdf_bytes(self.pages, self.title, self.subject)


def door_sheet(
    drawing: Drawing, result: StudyResult, picture: Picture, paper: str = "letter", *, printed_at: datetime,
    file_name: str = "", symbols: str = "us", panel: str | None = None,
) -> bytes:  # fmt: skip
    """The door sheet as PDF; see ``plan_door_sheet``, which also returns the notes."""
    return plan_door_sheet(
        drawing, result, picture, paper, printed_at=printed_at, file_name=file_name, symbols=symbols, panel=panel
    ).pdf()


def plan_door_sheet(
    drawing: Drawing, result: StudyResult, picture: Picture, paper: str = "letter", *, printed_at: datetime,
    file_name: str = "", symbols: str = "us", panel: str | None = None,
) -> Document:  # fmt: skip
    """Lay out the door sheet of the view that was studied.

    ``picture``: of the same drawing and view; what is not in the view is left out. ``paper``: "letter" or "tabloid";
    upright or sideways as it fits best. ``printed_at``: local time, printed as such. ``panel``: id of the panel whose door
    it is for: then the diagram shows what feeds it, arranged anew, and its directory stands alone; by default the whole
    building. One page where everything fits legibly; otherwise the directories go on to further pages, and a note says so.
    """
    if panel is not None:
        from oneline.paper.panel_door import PanelDoor

        return PanelDoor(drawing, result, picture, paper, printed_at, file_name, symbols, panel).document()
    own = Door(drawing, result, picture, paper, printed_at, file_name, symbols, panel)
    best, document = own, own.document()
    if own.name_pt >= GOOD_NAME_PT:
        return document
    for proportion in _PROPORTIONS:
        door = Door(
            drawing, result, _anew(drawing, result, symbols, proportion), paper, printed_at, file_name, symbols, panel
        )
        tried = door.document()
        if door.printed_scale >= _GAIN * best.printed_scale and len(tried.pages) <= len(document.pages):
            best, document = door, tried
    if best is not own:
        note = "The diagram is arranged anew for paper: with its own places it would print smaller."
        document = replace(document, notes=(*document.notes, note))
    return document


def _anew(drawing: Drawing, result: StudyResult, symbols: str, proportion: float) -> Picture:
    """The view that was studied, arranged for a proportion without regard to the user's places."""
    arranged = arrange(drawing.view(result.view), None, proportion)
    return build_picture(arranged, result, result.view, symbols, ghosts=False)


class Door:
    """Plans the sheet of a whole building."""

    def __init__(
        self, drawing: Drawing, result: StudyResult, picture: Picture, paper: str, printed_at: datetime, file_name: str,
        symbols: str, panel: str | None,
    ) -> None:  # fmt: skip
        self.drawing, self.result, self.paper, self.panel = drawing, result, paper, panel
        self.drawn = drawing
        #: Points per grid unit of the diagram once it is laid out, and the size of the names on it.
        self.printed_scale = 0.0
        self.name_pt = 0.0
        self.symbols, self.printed_at = symbols, printed_at
        self.picture = on_paper(picture)
        self.sources = sources_of(drawing, result)
        self.faults = faults_of(drawing, result)
        self.directories = directories_of(drawing, result, panel)
        self.not_known = panels_not_known(drawing, result.view) if panel is None else ()
        self.stamp = Stamp(paper, result.view, result.edition, file_name, printed_at)
        self.notes: list[str] = []
        self.safety_blocks = self._blocks(self._safety)
        self.directory_blocks = self._blocks(self._directories)
        #: What keeps its ratings and lengths before anything else does, where there is not room for all.
        self.first = words_first(drawing, result)
        self.reducing = False
        self.left_out = False
        self.legend_inside: tuple[Block, float, float] | None = None

    # -------------------------------------------------------------------------------------------------------- blocks
    def _safety(self, width: float, size: float) -> list[Block]:
        """What belongs beside the diagram in any case."""
        return [
            sources_block(self.sources, width, size),
            faults_block(self.faults, self.printed_at.date(), width, size),
        ]

    def _legend(self, width: float, size: float) -> list[Block]:
        entries = legend_entries(self.drawn, self.result.view, self.picture, self.sources, self.symbols, size)
        return [legend_block(entries, width, size)] if entries else []

    def _directories(self, width: float, size: float) -> list[Block]:
        blocks = [directory_block(d, width, size) for d in self.directories]
        return [*blocks, not_known_block(self.not_known, width, size)] if self.not_known else blocks

    def _blocks(self, *parts: MakeBlocks) -> MakeBlocks:
        """The blocks of several parts, made once for each width and size."""
        made: dict[tuple[float, float], list[Block]] = {}

        def make(width: float, size: float) -> list[Block]:
            key = (round(width, 2), size)
            if key not in made:
                made[key] = [block for part in parts for block in part(width, size)]
            return made[key]

        return make

    # --------------------------------------------------------------------------------------------------------- pages
    def document(self) -> Document:
        arranged = self._arranged()
        pages = [self._page(a, n + 1, len(arranged)) for n, a in enumerate(arranged)]
        self._note_what_is_lost()
        title = f"{self.drawing.project.title or 'Building not named'}: door sheet"
        return Document(title, tuple(pages), tuple(dict.fromkeys(self.notes)))

    def _arranged(self) -> list[Arrangement]:
        """Everything on one page with text of the least size; else what is least needed beside the diagram goes on to
        further pages; else the words on the diagram are set larger and some left out; else the diagram stands alone."""
        for self.reducing in (False, True):
            for split in self._splits():
                pages = self._try(*split)
                if pages:
                    return pages
        self.reducing = False
        alone = max((self._alone(w, h) for w, h in orientations(self.paper)), key=lambda a: a.scale)
        if alone.scale < HOPELESS_SCALE:
            size = least_text_pt(self.picture, alone.scale)
            self.notes.append(
                f"Words on the diagram are {size:.1f} points high, too small to read: "
                "the drawing is too large for this paper."
            )
        elif not self._legible(alone.scale):
            self._use(self._larger_words(alone), alone.scale)
        self.notes.append("The diagram takes the first page; sources, fault currents and directories follow.")
        rest = self._blocks(self.safety_blocks, self.directory_blocks, self._legend)
        return [alone, *text_pages(self.paper, rest, alone.width > alone.height)]

    def _splits(self) -> tuple[tuple[MakeBlocks, bool, MakeBlocks | None, str], ...]:
        """(beside the diagram, legend in an empty part of the diagram, on further pages, what the note says)."""
        safety, directories, legend = self.safety_blocks, self.directory_blocks, self._blocks(self._legend)
        both = self._blocks(safety, directories)
        with_legend = (
            self._blocks(safety, legend),
            False,
            directories,
            "The circuit directories go on to a second page",
        )
        return (
            (both, True, None, ""),
            (self._blocks(both, legend), False, None, ""),
            (both, False, legend, "The legend is on a second page"),
            (safety, True, directories, "The circuit directories go on to a second page"),
            *((with_legend,) if self._costs_little(with_legend[0], safety) else ()),
            (safety, False, self._blocks(legend, directories), "Directories and legend go on to a second page"),
        )

    def _costs_little(self, more: MakeBlocks, less: MakeBlocks) -> bool:
        """Whether the diagram stays nearly as large with more beside it: there is a second page anyway."""
        fuller, emptier = (best_page(self.paper, self._size(), blocks) for blocks in (more, less))
        return fuller is not None and emptier is not None and fuller.scale >= 0.93 * emptier.scale

    def _try(self, first: MakeBlocks, inside: bool, rest: MakeBlocks | None, note: str) -> list[Arrangement]:
        """The pages of one split, or none when the diagram would not be legible."""
        page = best_page(self.paper, self._size(), first)
        if page is None:
            return []
        if page.scale < LEAST_SCALE if self.reducing else not self._legible(page.scale):
            return []
        larger = self._larger_words(page, LEAST_TEXT_PT) if self.reducing or page.scale < GOOD_SCALE else None
        if larger is not None and self.reducing and larger.crowded:
            return []
        if larger is not None and larger.left_out and not self.reducing:
            larger = None
        if inside:
            place = self._legend_place(page, larger.picture if larger else self.picture)
            if place is None and larger is not None and not self.reducing:
                larger, place = None, self._legend_place(page, self.picture)
            if place is None:
                return []
            self.legend_inside = place
        if larger is not None:
            self._use(larger, page.scale, tell=self.reducing)
        if rest is None:
            return [page]
        self.notes.append(f"{note}: one page would not be legible.")
        return [page, *text_pages(self.paper, rest, page.width > page.height)]

    def _legend_place(self, page: Arrangement, picture: Picture) -> tuple[Block, float, float] | None:
        """The legend and the upper left corner of an empty part of the diagram that holds it."""
        scale, dx, dy = self._place(page, picture)
        for columns in (3, 2, 1, 4):
            width = columns * 15.0 * page.text_size
            blocks = self._legend(width, page.text_size)
            if not blocks:
                return (Block(()), page.diagram[0], page.diagram[1])
            at = empty_room(picture, (scale, dx, dy), page.diagram, (width, blocks[0].height))
            if at is not None:
                return (blocks[0], *at)
        return None

    def _place(self, a: Arrangement, picture: Picture) -> tuple[float, float, float]:
        """(scale, dx, dy) that put a picture in the middle of its room."""
        left, top, right, bottom = picture.box
        x0, y0, x1, y1 = a.diagram
        # Larger names may reach beyond the box that was arranged for.
        scale = min(a.scale, fit_scale((x1 - x0, y1 - y0), (right - left, bottom - top)))
        return scale, (x0 + x1) / 2 - scale * (left + right) / 2, (y0 + y1) / 2 - scale * (top + bottom) / 2

    def _size(self) -> tuple[float, float]:
        left, top, right, bottom = self.picture.box
        return (right - left, bottom - top)

    def _larger_words(self, page: Arrangement, least_name_pt: float | None = None) -> Reduced:
        """The picture with words for the room it has; they may reach out of its box, which makes its scale smaller."""
        scale = page.scale
        for spare in _SPARES:
            # A little larger than for this scale, so that the words are still large enough when the scale is a little less.
            found = reduced(self.picture, spare * scale, least_name_pt, self.first)
            if found.crowded and least_name_pt is not None:
                break
            fits = self._place(page, found.picture)[0]
            if fits >= spare * scale:
                break
            scale = fits
        return found

    def _use(self, found: Reduced, scale: float, tell: bool = True) -> None:
        """Go on with the larger words, and tell what it costs."""
        before, self.picture, self.left_out = self.picture, found.picture, found.left_out
        self.name_pt = found.name_pt
        if not tell:
            return
        size = least_text_pt(before, scale)
        left_out = " Some ratings and figures found no room and are not on it." if found.left_out else ""
        larger = "" if self.paper == "tabloid" else " Tabloid paper shows more."
        self.notes.append(
            f"Words on the diagram would be {size:.1f} points high, too small to read: they are printed larger."
            f"{left_out}{larger}"
        )
        if found.name_pt < GOOD_NAME_PT:
            self.notes.append(
                f"Names on the diagram are {found.name_pt:g} points high, less than the {GOOD_NAME_PT:g} aimed at."
            )

    def _alone(self, width: float, height: float) -> Arrangement:
        box = content_box(width, height)
        scale = max(fit_scale((box[2] - box[0], box[3] - box[1]), self._size()), 0.01)
        return Arrangement(width, height, box, scale, 8.0, (), (box[0], box[1]), box[2] - box[0])

    def _legible(self, scale: float) -> bool:
        return least_text_pt(self.picture, scale) >= LEAST_TEXT_PT - 1e-9

    def _page(self, a: Arrangement, number: int, count: int) -> Page:
        pen = Pen()
        subject, kind = self._headings(a.scale > 0)
        self.notes += draw_frame(pen, a.width, a.height, self.drawing, self.stamp, subject, number, count, kind)
        paint(a.placed, pen, *a.text_at, a.column_width)
        if a.scale <= 0:
            return Page(a.width, a.height, (pen.layer(),))
        if not self.picture.groups:
            self.name_pt = GOOD_NAME_PT
            x0, y0, x1, y1 = a.diagram
            pen.text((x0 + x1) / 2, (y0 + y1) / 2, "Nothing is drawn in this view.", 11, "italic", "middle")
        elif self.legend_inside is not None:
            block, x, y = self.legend_inside
            for row in block.rows:
                row.paint(pen, x, y)
                y += row.height
        scale, dx, dy = self._place(a, self.picture)
        self.printed_scale, self.name_pt = scale, self.name_pt or NAME_SIZE * scale
        primitives = tuple(p for g in self.picture.groups if g.level <= scale for p in g.primitives)
        return Page(a.width, a.height, (Layer(primitives, scale, dx, dy), pen.layer()))

    def _headings(self, diagram: bool) -> tuple[str, str]:
        """What the head of a page says: the subject, and at its right end the kind of sheet."""
        subject = f"single-line diagram, {self.result.view} view" if diagram else f"continued, {self.result.view} view"
        return subject, "Panel door sheet; not all ratings shown" if self.left_out and diagram else "Panel door sheet"

    def _note_what_is_lost(self) -> None:
        """Characters that the font lacks, and texts that are too long for any sheet."""
        texts = [p.text for g in self.picture.groups for p in g.primitives if isinstance(p, Text)]
        items = self.drawing.view(self.result.view).items.values()
        texts += [c.description for i in items if isinstance(i, Bus) for c in i.circuits]
        texts += [t for i in items for t in (i.name, i.location or "")]
        texts += [str(getattr(self.drawing.project, f)) for f in ("title", "address", "prepared_by", "contractor")]
        bad = next((t for t in texts if lost(t)), None)
        if bad is not None:
            self.notes.append(f"Some characters cannot be printed and stand as “?”, first in “{bad[:30]}”.")
        long = next((t for t in texts if len(t) > MOST_CHARACTERS or t.endswith(ELLIPSIS)), None)
        if long is not None:
            self.notes.append(f"A text is too long for the sheet and was shortened: “{long[:30]}…”.")
