"""The sheet for the door of one panel: what feeds it, its own directory, everything on one page."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, replace

from oneline.model import SOURCE_KINDS, Bus, ConductorRun, Connection, Drawing, End, Item, Joint, SuspectedTie
from oneline.network import build_feeding, build_network
from oneline.paper.arrange import GOOD_SCALE, Arrangement, best_page
from oneline.paper.blocks import directory_block, short_faults_block, short_sources_block
from oneline.paper.directory import compacted
from oneline.paper.door import Document, Door
from oneline.paper.extract import Extract, Stub, extract_of, stub_lines
from oneline.paper.facts import named
from oneline.paper.flow import Block
from oneline.paper.legend import legend_block, legend_entries
from oneline.paper.picture import GOOD_NAME_PT, LEAST_TEXT_PT, Box, bounds, of_groups, on_paper
from oneline.paper.reduced import Reduced
from oneline.sheet.build import build_picture
from oneline.sheet.display import Group, Picture, Primitive, Stroke, Text
from oneline.sheet.labels import write_lines
from oneline.sheet.layout import arrange
from oneline.sheet.wording import LINE_SIZE, NAME_SIZE, Line, Piece
from oneline.study import StudyResult

#: Width to height of the rooms a diagram may find on a page.
_PROPORTIONS = (0.55, 0.9, 1.5)
#: How the extract is arranged: (conductors as short as joints, widths of whole names that columns hold, 0 for broken).
_MANNERS = ((False, 0.0), (True, 0.0), (True, 1.0), (True, 1.15), (True, 1.3), (True, 1.6))
_TEXT_SIZES = (7.5, LEAST_TEXT_PT)
#: Widths of a column beside the diagram, in text sizes: a directory needs room for its words.
_COLUMNS_EM = (35.0, 40.0, 45.0)
#: With room for the edge of the flag on either side; a space that does not break.
THIS_PANEL = "\u00a0This\u00a0panel\u00a0"
_FRAME_PAD = 2.5


@dataclass(frozen=True)
class _Try:
    """One way to fill the page, and how good it is; ``legend``: in an empty part of the diagram, else in the columns."""

    page: Arrangement
    words: Reduced
    legend: tuple[Block, float, float] | None
    mark: tuple[float, ...]


def _mark(name_pt: float, scale: float, text_size: float, left_out: bool) -> tuple[float, float]:
    """How good a page is: the names first, then the size of the diagram, the words beside it, and what is left out."""
    return (name_pt, min(1.0, scale / GOOD_SCALE) + 0.04 * min(text_size, 7.5) - 0.05 * left_out)


def _most(page: Arrangement) -> tuple[float, float]:
    """The best that a page may come to."""
    return _mark(GOOD_NAME_PT, page.scale, page.text_size, False)


class PanelDoor(Door):
    """A door sheet for one panel; the order of the whole building's sheet where one page does not hold it."""

    #: Whether the diagram is only a part of the drawing.
    parted = False

    def document(self) -> Document:
        view = self.drawing.view(self.result.view)
        if self.panel is None or self.panel not in view.items:
            return super().document()
        whole = self.picture
        extract = extract_of(view, self.panel)
        # Loads of the day do not belong on a door, and leave their room to the names.
        points = {i: replace(p, phases="") for i, p in self.result.points.items()}
        self.lasting = replace(self.result, points=points)
        self.drawn, self.parted = extract.drawing, bool(extract.stubs)
        best = self._best(extract)
        if best is None:
            self.drawn, self.picture = self.drawing, whole
            self.notes.append("What feeds the panel does not fit one page legibly: the whole diagram is printed.")
            return super().document()
        self._tell(best, extract)
        self.legend_inside, self.picture = best.legend, flagged(best.words.picture)
        page = self._page(best.page, 1, 1)
        self._note_what_is_lost()
        title = f"{self.drawing.project.title or 'Building not named'}: door of {self.drawing.name_of(self.panel)}"
        return Document(title, (page,), tuple(dict.fromkeys(self.notes)))

    def _tell(self, best: _Try, extract: Extract) -> None:
        self.left_out = best.words.left_out
        if best.words.name_pt < GOOD_NAME_PT:
            self.notes.append(
                f"Names on the diagram are {best.words.name_pt:g} points high, less than the {GOOD_NAME_PT:g} aimed at."
            )
        if self.left_out:
            self.notes.append("Some ratings and figures found no room on the diagram and are not on it.")
        if extract.stubs:
            self.notes.append("The diagram shows what feeds the panel; the whole diagram is on its own sheet.")

    def _headings(self, diagram: bool) -> tuple[str, str]:
        if self.drawn is self.drawing or self.panel is None:
            return super()._headings(diagram)
        name = self.drawing.name_of(self.panel)
        right = "Panel door sheet" + ("; not all ratings shown" if self.left_out else "")
        if self.parted:
            right += "\nThe whole diagram is on its own sheet"
        return f"What feeds {name}, {self.result.view} view", right

    # ----------------------------------------------------------------------------------------------------------- tries
    def _best(self, extract: Extract) -> _Try | None:
        """The best of all ways to fill the page, or none."""
        best: _Try | None = None
        seen = set()
        safety = self._blocks(self._short_safety)
        directory = self._blocks(self._short_directories)
        orders = (
            (self._blocks(safety, directory), True),
            (self._blocks(safety, directory, self._legend), False),
            (self._blocks(safety, self._legend, directory), False),
        )
        pages: list[tuple[Picture, Arrangement, bool]] = []
        for (tight, roomy), proportion in itertools.product(_MANNERS, _PROPORTIONS):
            self.picture = self._drawn_anew(extract, proportion, tight, roomy)
            if self.picture.box in seen:
                continue
            seen.add(self.picture.box)
            for size, (make, inside) in itertools.product(_TEXT_SIZES, orders):
                page = best_page(self.paper, self._size(), make, (size,), _COLUMNS_EM)
                if page is not None:
                    pages.append((self.picture, page, inside))
        # The most promising first: a good one spares the work on those that cannot be better.
        for picture, page, inside in sorted(pages, key=lambda p: _most(p[1]), reverse=True):
            if best is None or _most(page) > best.mark:
                self.picture = picture
                found = self._tried(page, inside, best.words.name_pt if best else LEAST_TEXT_PT)
                if found is not None and (best is None or found.mark > best.mark):
                    best = found
        return best

    def _tried(self, page: Arrangement, inside: bool, least_name_pt: float) -> _Try | None:
        """The page with its words, or none when they do not find room."""
        words = self._larger_words(page, least_name_pt)
        if words.crowded:
            return None
        legend = self._legend_place(page, words.picture) if inside else None
        if inside and legend is None:
            return None
        scale = self._place(page, words.picture)[0]
        return _Try(page, words, legend, _mark(words.name_pt, scale, page.text_size, words.left_out))

    def _drawn_anew(self, extract: Extract, proportion: float, tight: bool, roomy: float) -> Picture:
        """The extract arranged for a proportion, with a frame around the panel."""
        picture = draw_extract(extract, self.lasting, proportion, self.symbols, tight, roomy)
        return with_frame(picture, self.panel or "")

    def _short_safety(self, width: float, size: float) -> list[Block]:
        names = {named(self.drawing, i) for i in self._way()}
        faults = [f for f in self.faults if f.name in names]
        return [
            short_sources_block(self.sources, width, size),
            short_faults_block(faults, self.printed_at.date(), width, size),
        ]

    def _way(self) -> list[str]:
        """The panel and the buses on its way from the source."""
        assert self.panel is not None
        view = self.drawing.view(self.result.view)
        net = build_network(view)
        feeding = build_feeding(net)
        start = net.node(self.panel)
        nodes = [start, *(up for _, up in feeding.path(start))]
        return [e.item for n in nodes for e in net.ends_of[n] if isinstance(view.get(e.item), Bus)]

    def _legend(self, width: float, size: float) -> list[Block]:
        if self.drawn is self.drawing:
            return super()._legend(width, size)
        size = min(size, 7.0)
        entries = legend_entries(self.drawn, self.result.view, self.picture, self.sources, self.symbols, size, True)
        return [legend_block(entries, width, size, True)] if entries else []

    def _short_directories(self, width: float, size: float) -> list[Block]:
        return [directory_block(compacted(d), width, size) for d in self.directories]


def draw_extract(
    extract: Extract, result: StudyResult, proportion: float, symbols: str, tight: bool = False, roomy: float = 0.0
) -> Picture:
    """The extract arranged for a proportion, with stubs instead of their place holders.

    ``result``: the study of the whole drawing. ``tight``: conductors are as short as joints; their labels stand where there
    happens to be room. ``roomy``: columns are so many times as wide as whole names, for two lines of larger words; 0 for as
    wide as broken names.
    """
    bare = [_without_place(i, tight, roomy) for i in extract.with_stubs.items.values()]
    arranged = arrange(extract.with_stubs.with_items(bare), None, proportion)
    places = {i.id: i.place for i in arranged.items.values() if not isinstance(i, Connection)}
    items = [replace(i, place=places[i.id]) for i in extract.with_stubs.items.values() if i.id in places]
    lines = [replace(c, bends=()) for c in extract.with_stubs.connections()]
    drawing = extract.with_stubs.with_items([*items, *lines])
    picture = on_paper(build_picture(drawing, result, result.view, symbols, ghosts=False))
    stubs = {s.id: s for s in extract.stubs}
    groups = [_as_stub(g, stubs[g.item], picture) if g.item in stubs else g for g in _tagged_once(picture, drawing)]
    return of_groups(picture, groups)


def _without_place(item: Item, tight: bool, roomy: float) -> Item:
    if isinstance(item, ConductorRun) and tight:
        return Joint(id=item.id, a=item.a, b=item.b)
    if isinstance(item, Connection):
        return replace(item, bends=())
    return replace(item, place=None, name=_widened(item.name, roomy) if roomy else item.name)


def _tagged_once(picture: Picture, drawing: Drawing) -> list[Group]:
    """The groups with one source tag for all that is joined without contacts: conductors, bars and sources.

    Everything of such a piece is live from the same sources, so the tag of a bar or source speaks for its lines.
    """
    top: dict[End, End] = {}

    def find(end: End) -> End:
        while top.get(end, end) != end:
            end = top[end]
        return end

    lines = {c.id: c for c in drawing.connections() if c.b is not None and not isinstance(c, SuspectedTie)}
    for c in lines.values():
        if c.b is not None:
            top[find(c.a)] = find(c.b)
    tagged = {
        find(End(g.item, terminal))
        for g in picture.groups if g.part == "tag" and g.item in drawing and g.item not in picture.routes
        for terminal in drawing.get(g.item).terminals[:1]
        if isinstance(drawing.get(g.item), Bus) or drawing.get(g.item).kind in SOURCE_KINDS
    }  # fmt: skip
    out = []
    for g in picture.groups:
        if g.part == "tag" and g.item in lines:
            piece = find(lines[g.item].a)
            if piece in tagged:
                continue
            tagged.add(piece)
        out.append(g)
    return out


def _widened(name: str, times: float) -> str:
    """A name that is not broken and takes so many times its width."""
    whole = name.replace(" ", "_")
    return whole + "_" * round((times - 1) * len(whole))


# --------------------------------------------------------------------------------------------------------------- stubs
def _as_stub(group: Group, stub: Stub, picture: Picture) -> Group:
    """A short line with an arrow, and what it leads to, instead of the symbol that held their place."""
    if group.part == "symbol":
        x, y = picture.terminals[(stub.id, "in")]
        tip = y + 16
        arrow = ((x, tip), (x - 3.5, tip - 8), (x + 3.5, tip - 8))
        prims: list[Primitive] = [
            Stroke(((x, y), (x, tip - 8)), "thin"), Stroke(arrow, "hair", "solid", "ink", True, "ink"),
        ]  # fmt: skip
        return replace(group, primitives=tuple(prims), box=bounds(prims))
    if group.part == "label":
        first, *rest = stub_lines(stub)
        lines = [Line((Piece(first, "bold"),), NAME_SIZE), *(Line((Piece(t),), LINE_SIZE) for t in rest)]
        words = tuple(write_lines(lines, group.box[0], group.box[1]))
        return replace(group, primitives=words, box=bounds(words))
    return group


# --------------------------------------------------------------------------------------------------------- this panel
def with_frame(picture: Picture, panel: str) -> Picture:
    """The picture with a heavy frame around a panel, and words that ``flagged`` turns into a flag once they are placed."""
    own = [g for g in picture.groups if g.item == panel and g.part in ("symbol", "mark")]
    name = next((g for g in picture.groups if g.item == panel and g.part == "label"), None)
    if not own:
        return picture
    left, top, right, bottom = bounds([p for g in own for p in g.primitives])
    left, top, right, bottom = left - _FRAME_PAD, top - _FRAME_PAD, right + _FRAME_PAD, bottom + _FRAME_PAD
    frame = _ring((left, top, right, bottom), "")
    base = (name.box[3] if name else bottom) + 1.2 * NAME_SIZE
    flag = Text((name.box[0] if name else left, base), THIS_PANEL, NAME_SIZE, "bold")
    more = [
        Group(panel, "frame", (frame,), bounds([frame])),
        Group(panel, "label", (flag,), bounds([flag])),
    ]
    return of_groups(picture, [*picture.groups, *more])


def flagged(picture: Picture) -> Picture:
    """The words "This panel" white on black."""
    out = []
    for g in picture.groups:
        words = [p for p in g.primitives if isinstance(p, Text)]
        if g.part == "label" and [p.text for p in words] == [THIS_PANEL]:
            left, top, right, bottom = bounds(words)
            air = 0.08 * words[0].size
            top, bottom = top - air, bottom + air
            g = replace(g, primitives=(_ring((left, top, right, bottom), "ink"), replace(words[0], ink="paper")))
        out.append(g)
    return of_groups(picture, out)


def _ring(box: Box, fill: str) -> Stroke:
    left, top, right, bottom = box
    corners = ((left, top), (right, top), (right, bottom), (left, bottom))
    return Stroke(corners, "hair" if fill else "heavy", "solid", "ink", True, fill)
