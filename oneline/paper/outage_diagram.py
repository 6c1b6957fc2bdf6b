"""The diagram of an outage: every isolation point open and tagged with its lock, the work framed, what stays live coded."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from oneline.model import Bus, Connection, Disconnect, Drawing, Item, TransferSwitch
from oneline.outage.plan_words import used
from oneline.outage.results import Isolation
from oneline.paper.arrange import Box, content_box, fit_scale, orientations
from oneline.paper.door import LEAST_SCALE
from oneline.paper.extract import extract_of
from oneline.paper.outage_facts import Outage
from oneline.paper.outage_rows import Para
from oneline.paper.page import Layer, Pen
from oneline.paper.panel_door import draw_extract
from oneline.paper.picture import LEAST_TEXT_PT, bounds, of_groups, on_paper
from oneline.paper.reduced import Reduced, reduced
from oneline.sheet.build import build_picture
from oneline.sheet.display import Group, Picture, Primitive, Stroke, Text
from oneline.sheet.layout import arrange
from oneline.sheet.live import CODE_WORDS, source_codes
from oneline.sheet.metrics import text_width
from oneline.sheet.tracks import Obstacles
from oneline.study import StudyResult, study

#: Width to height of the rooms tried besides the drawing's own places.
_PROPORTIONS = (0.8, 1.35)
_LEGEND_PT = 8.0
_PAD = 4.0
_TAG_PT = 8.0
_LEAST_TAG_PT = 5.0


#: More items than this are not tried on one page.
_MOST_DRAWN = 200


@dataclass(frozen=True)
class _Found:
    """The best page so far: how good it is, its size, its words, and whether it shows the whole drawing."""

    mark: tuple[float, float, bool]
    page: tuple[float, float]
    words: Reduced
    whole: bool


def diagram_page(outage: Outage) -> tuple[tuple[float, float], tuple[Layer, ...], Pen] | None:
    """The page, its layers and its words; ``None`` where the diagram would not be legible.

    The whole drawing where it fits, else what feeds the work and what it feeds.
    """
    isolation = used(outage.plan)
    if isolation is None or not len(outage.view):
        return None
    opened = _opened(outage.view, isolation)
    result = study(opened, outage.plan.answer.view, outage.edition)
    # Loads of the day leave their room to names.
    lasting = replace(result, points={i: replace(p, phases="") for i, p in result.points.items()})
    best: _Found | None = None
    for make, whole in ((_whole_pictures, True), (_part_pictures, False)):
        for picture in make(outage, opened, lasting) if best is None else ():
            for page in orientations(outage.paper):
                best = _better(outage, isolation, picture, page, whole, best)
    if best is None:
        return None
    scale, picture = best.mark[1], best.words.picture
    pen = Pen()
    box = _box(best.page)
    left, top, right, bottom = picture.box
    dx = (box[0] + box[2]) / 2 - scale * (left + right) / 2
    dy = (box[1] + box[3]) / 2 - scale * (top + bottom) / 2
    _legend(pen, outage, result, best.page, best.whole)
    return best.page, (Layer(tuple(p for g in picture.groups for p in g.primitives), scale, dx, dy),), pen


def _whole_pictures(outage: Outage, opened: Drawing, result: StudyResult) -> Iterator[Picture]:
    """The whole drawing at its own places, then arranged for a page."""
    if sum(not isinstance(i, Connection) for i in opened.items.values()) > _MOST_DRAWN:
        return
    for proportion in (None, *_PROPORTIONS):
        drawn = opened if proportion is None else arrange(opened, None, proportion)
        yield build_picture(drawn, result, result.view, outage.symbols, ghosts=False)


def _part_pictures(outage: Outage, opened: Drawing, result: StudyResult) -> Iterator[Picture]:
    """What may feed a bus that is worked on and what that feeds; all of the work and every point must be on it."""
    isolation = used(outage.plan)
    wanted = {*(isolation.items if isolation else ()), *outage.plan.answer.zone.items} & {*opened.items}
    for bus in (i for i in outage.plan.answer.zone.items if isinstance(opened.items.get(i), Bus)):
        extract = extract_of(opened, bus)
        if not wanted <= {*extract.drawing.items} or len(extract.with_stubs) > 4 * _MOST_DRAWN:
            continue
        for tight in (False, True):
            for proportion in _PROPORTIONS:
                yield draw_extract(extract, result, proportion, outage.symbols, tight)


def _better(
    outage: Outage, isolation: Isolation, picture: Picture, page: tuple[float, float], whole: bool, best: _Found | None
) -> _Found | None:  # fmt: skip
    """The page with this picture where it is better than the best so far, else that one."""
    plain = on_paper(of_groups(picture, [g for g in picture.groups if g.part not in ("mark", "detail")]))
    scale = fit_scale(_room(page), _size(plain))
    if scale < LEAST_SCALE or (best is not None and scale < 0.9 * best.mark[1]):
        return best
    words = reduced(_tagged(plain, outage, isolation, scale), scale * 0.96, LEAST_TEXT_PT)
    fits = min(scale, fit_scale(_room(page), _size(words.picture)))
    words = replace(words, picture=_without_small_words(words.picture, fits))
    mark = (words.name_pt, fits, not words.left_out)
    if words.crowded or fits < LEAST_SCALE or (best is not None and mark <= best.mark):
        return best
    return _Found(mark, page, words, whole)


def _without_small_words(picture: Picture, scale: float) -> Picture:
    """The picture without tags of whole words that nobody could read: the table of isolation points says the same."""

    def small(group: Group) -> bool:
        texts = [p for p in group.primitives if isinstance(p, Text)]
        return group.part == "tag" and any(" " in p.text and p.size * scale < _LEAST_TAG_PT for p in texts)

    return replace(picture, groups=tuple(g for g in picture.groups if not small(g)))


def _opened(view: Drawing, isolation: Isolation) -> Drawing:
    """The drawing with every isolation point open."""
    changed: list[Item] = []
    for point in isolation.held:
        item = view.items.get(point.item)
        if isinstance(item, Disconnect):
            changed.append(replace(item, closed=False))
        elif isinstance(item, TransferSwitch):
            changed.append(replace(item, position="off"))
    return view.with_items(changed)


def _box(page: tuple[float, float]) -> Box:
    left, top, right, bottom = content_box(*page)
    return left, top + 4, right, bottom - 4.2 * _LEGEND_PT


def _room(page: tuple[float, float]) -> tuple[float, float]:
    left, top, right, bottom = _box(page)
    return right - left, bottom - top


def _size(picture: Picture) -> tuple[float, float]:
    left, top, right, bottom = picture.box
    return right - left, bottom - top


def _tagged(picture: Picture, outage: Outage, isolation: Isolation, scale: float) -> Picture:
    """The picture with lock tags at the isolation points and frames around what is worked on."""
    taken = Obstacles()
    symbols: dict[str, list[Primitive]] = {}
    for group in picture.groups:
        if group.part in ("symbol", "tag", "line"):
            taken.add(group.box if group.part != "line" else (0, 0, 0, 0), group.item, 0.0)
        if group.part == "symbol":
            symbols.setdefault(group.item, []).extend(group.primitives)
    more: list[Group] = []
    for item in outage.plan.answer.zone.items:
        if item in symbols and not isinstance(outage.view.items.get(item), Connection):
            frame = _ring(_wider(bounds(symbols[item]), _PAD), "medium", "enclosure")
            more.append(Group(item, "frame", (frame,), bounds([frame])))
    for n, point in enumerate(isolation.held, 1):
        if point.item in symbols:
            more.append(_lock_tag(point.item, point.lock or f"{n}", bounds(symbols[point.item]), taken, scale))
    return of_groups(picture, [*picture.groups, *more])


def _lock_tag(item: str, text: str, box: Box, taken: Obstacles, scale: float) -> Group:
    """A ring around the device with its lock number, white on black, at the side where it covers least."""
    left, top, right, bottom = _wider(box, _PAD / 2)
    size = _TAG_PT / scale
    wide, high = text_width(text, size, "bold") + 0.8 * size, 1.3 * size
    middle = (top + bottom) / 2
    places = (
        (left - wide, middle - high / 2), (right, middle - high / 2), (left - wide, top), (right, top),
        (left - wide, bottom - high), (right, bottom - high),
    )  # fmt: skip
    x, y = next((p for p in places if taken.free((p[0], p[1], p[0] + wide, p[1] + high), (item,))), places[0])
    tag = (x, y, x + wide, y + high)
    taken.add(tag, item, 0.0)
    primitives: tuple[Primitive, ...] = (
        _ring((left, top, right, bottom), "medium"),
        _ring(tag, "hair", fill="ink"),
        Text((x + wide / 2, y + 0.5 * high + 0.365 * size), text, size, "bold", "middle", "paper"),
    )
    return Group(item, "frame", primitives, bounds(primitives))


def _wider(box: Box, pad: float) -> Box:
    return box[0] - pad, box[1] - pad, box[2] + pad, box[3] + pad


def _ring(box: Box, weight: str, dash: str = "solid", fill: str = "") -> Stroke:
    left, top, right, bottom = box
    return Stroke(((left, top), (right, top), (right, bottom), (left, bottom)), weight, dash, "ink", True, fill)


def _legend(pen: Pen, outage: Outage, result: StudyResult, page: tuple[float, float], whole: bool) -> None:
    left, _, right, bottom = content_box(*page)
    codes = source_codes(result)
    sources = "; ".join(
        f"{code} {outage.name(source)} ({CODE_WORDS.get(code[:1], 'source')})" for source, code in codes.items()
    )
    text = (
        "With every isolation point open. Ring and black tag: isolation point and its lock. Long-dashed frame: worked on. "
        "Hollow lines and bars: dead by the drawing, not verified; all others are live from the sources in their tags (?: "
        "possibly), which stand once for what is joined without a switch between. "
        f"{sources}."
    )
    if not whole:
        text = f"Only what may feed the work and what it feeds; the rest of the drawing is left out. {text}"
    y = bottom - 4 * _LEGEND_PT
    Para(text, _LEGEND_PT - 0.8, most=4).paint(pen, left, y, right - left)
