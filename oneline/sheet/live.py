"""How electricity is shown: each source a hue, a dash pattern and a code, repeated in small tags along the lines."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from oneline.model import Connection, Drawing, End, Item
from oneline.sheet.display import Point, Primitive, Stroke, Text
from oneline.sheet.inks import source_dash, source_ink
from oneline.sheet.metrics import text_width
from oneline.sheet.shapes import Box
from oneline.study import StudyResult

TAG_SIZE = 6.5
TAG_HEIGHT = 9.0
#: Clear air between a tag and words or symbols.
TAG_AIR = 3.0
DEAD = ("dead", "solid")


#: Codes of sources by kind. None is the letter of a phase or N: next to "A C" anybody reads phases A and C.
SOURCE_CODES = {"service": "S", "generator": "G", "solar": "P", "battery": "E"}
#: What the codes stand for.
CODE_WORDS = {"S": "utility service", "G": "generator", "P": "solar array", "E": "energy storage"}


def source_codes(result: StudyResult) -> dict[str, str]:
    """The code of each source: S, G, P or E by its kind, numbered (S1, S2) where the view has more than one of the kind.

    In the order of ``StudyResult.sources``; a source that the study says nothing about counts as a utility service.
    """
    kinds = {s: result.points[s].kind if s in result.points else "service" for s in result.sources}
    letters = {s: SOURCE_CODES.get(kind, "S") for s, kind in kinds.items()}
    count = Counter(letters.values())
    seen: Counter[str] = Counter()
    out = {}
    for source, letter in letters.items():
        seen[letter] += 1
        out[source] = f"{letter}{seen[letter]}" if count[letter] > 1 else letter
    return out


@dataclass(frozen=True)
class Energy:
    """What is live where, ready to be drawn. Built from a study; without one everything is plain ink."""

    codes: Mapping[str, str]
    order: Mapping[str, int]
    result: StudyResult | None

    def sides(self, item: Item) -> dict[str, tuple[str, ...]]:
        """{terminal: ids of the sources that reach it} in the order of the sources; runs have the terminals "a" and "b"."""
        point = self.result.points.get(item.id) if self.result else None
        if point is None:
            return {}
        return {t: tuple(sorted(ids, key=self._rank)) for t, ids in point.live_sides.items()}

    def at_end(self, drawing: Drawing, end: End | None) -> tuple[str, ...] | None:
        """Sources at a terminal; ``None`` when the study does not say."""
        item = drawing.items.get(end.item) if end else None
        if item is None or end is None or self.result is None or item.id not in self.result.points:
            return None
        return self.sides(item).get(end.terminal, ())

    def of_connection(self, drawing: Drawing, conn: Connection) -> tuple[str, ...] | None:
        """Sources on a line: its own figures, or those of its ends."""
        own = self.sides(conn)
        if own:
            return own.get("a") or own.get("b") or ()
        if self.result is not None and conn.id in self.result.points and self.result.points[conn.id].live_sides:
            return ()
        found = [s for s in (self.at_end(drawing, conn.a), self.at_end(drawing, conn.b)) if s is not None]
        return next((s for s in found if s), found[0] if found else None)

    def possible(self, item_id: str) -> bool:
        """Whether a source may reach an item through something nobody traced, besides those that do reach it."""
        point = self.result.points.get(item_id) if self.result else None
        return point is not None and bool(point.possibly_live_from)

    def look(self, sources: tuple[str, ...] | None) -> tuple[str, str]:
        """(ink, dash) of what the sources reach: the first one's; dead is plain; unknown to the study is plain too."""
        if not sources:
            return DEAD if sources is not None else ("ink", "solid")
        order = self._rank(sources[0])
        return source_ink(order), source_dash(order)

    def tags(self, sources: Iterable[str], possible: bool = False) -> list[tuple[str, str]]:
        """(code, ink) of each source, all of them; ``possible``: a question mark behind them for one not certain."""
        found = [(self.codes[s], source_ink(self._rank(s))) for s in sources if s in self.codes]
        return [*found, ("?", "possible")] if possible else found

    def _rank(self, source: str) -> int:
        return self.order.get(source, len(self.order))


def energy_of(result: StudyResult | None) -> Energy:
    """The energy shown for a study, or none."""
    if result is None:
        return Energy({}, {}, None)
    return Energy(source_codes(result), {s: n for n, s in enumerate(result.sources)}, result)


def tag(at: Point, text: str, ink: str) -> tuple[Primitive, ...]:
    """A small framed tag centred at a point."""
    half = tag_width(text) / 2
    x, y = at
    h = TAG_HEIGHT / 2
    frame = ((x - half, y - h), (x + half, y - h), (x + half, y + h), (x - half, y + h))
    return (
        Stroke(frame, "hair", "solid", ink, True, "paper"),
        Text((x, y + 0.365 * TAG_SIZE), text, TAG_SIZE, "bold", "middle", "ink"),
    )


def tag_row(at: Point, texts: Sequence[tuple[str, str]]) -> tuple[tuple[Primitive, ...], Box]:
    """Codes (text, ink) side by side in one compact tag centred at a point, each framed in its ink; with the box."""
    out: list[Primitive] = []
    x, y = at
    width, h = row_width(texts), TAG_HEIGHT / 2
    left = x - width / 2
    for text, ink in texts:
        right = left + (width if len(texts) == 1 else _cell(text))
        frame = ((left, y - h), (right, y - h), (right, y + h), (left, y + h))
        out.append(Stroke(frame, "hair", "solid", ink, True, "paper"))
        out.append(Text(((left + right) / 2, y + 0.365 * TAG_SIZE), text, TAG_SIZE, "bold", "middle", "ink"))
        left = right
    return tuple(out), row_box(at, texts)


def row_box(at: Point, texts: Sequence[tuple[str, str]]) -> Box:
    """Box of the tag with these codes centred at a point."""
    half, h = row_width(texts) / 2, TAG_HEIGHT / 2
    return (at[0] - half, at[1] - h, at[0] + half, at[1] + h)


def row_width(texts: Sequence[tuple[str, str]]) -> float:
    """Width of the tag with these codes: one has room around it, several stand close."""
    return tag_width(texts[0][0]) if len(texts) == 1 else sum(_cell(t) for t, _ in texts)


def _cell(text: str) -> float:
    return text_width(text, TAG_SIZE, "bold") + 2.6


def tag_width(text: str) -> float:
    """Width of a tag with its frame."""
    return max(TAG_HEIGHT, text_width(text, TAG_SIZE, "bold") + 4)
