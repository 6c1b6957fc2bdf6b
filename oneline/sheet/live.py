"""How electricity is shown: each source a hue, a dash pattern and a code, repeated in small tags along the lines."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from oneline.model import Connection, Drawing, End, Item
from oneline.network.live import LiveState
from oneline.sheet.display import Arc, Point, Primitive, Stroke, Text
from oneline.sheet.inks import source_dash, source_ink
from oneline.sheet.metrics import text_width
from oneline.sheet.shapes import Box
from oneline.study import StudyResult

TAG_SIZE = 6.5
TAG_HEIGHT = 9.0
#: Clear air between a tag and words or symbols.
TAG_AIR = 3.0
#: Looks (ink, dash): dead by the drawing, which is never plain ink and is drawn as a hollow line (``dead_line``); perhaps
#: live; not known to any study.
DEAD, POSSIBLE, PLAIN = ("dead", "solid"), ("possible", "possible"), ("ink", "solid")
#: Weights of a hollow line by the weight of the line it stands for: of its edges, and of the paper between them.
_HOLLOW = {
    "hair": ("medium", "thin"), "thin": ("medium", "thin"), "medium": ("heavy", "medium"), "heavy": ("heavy", "medium"),
}  # fmt: skip


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
    """What is live where, ready to be drawn: by a study, or by the state ``live`` in its place. Without a study everything is
    plain ink."""

    codes: Mapping[str, str]
    order: Mapping[str, int]
    result: StudyResult | None
    live: LiveState | None = None

    def sides(self, item: Item, possibly: bool = False) -> dict[str, tuple[str, ...]]:
        """{terminal: ids of the sources that reach it} in the order of the sources; runs have the terminals "a" and "b".

        ``possibly``: with those that may reach it through a tie nobody traced, or a transfer switch that may move.
        """
        point = self.result.points.get(item.id) if self.result else None
        if point is None:
            return {}
        found: Mapping[str, Iterable[str]] = point.possibly_sides if possibly else point.live_sides
        if self.live is not None and item.id in self.live.net.drawing.items:
            found = self.live.sides(item.id, possibly)
        return {t: tuple(sorted(ids, key=self._rank)) for t, ids in found.items()}

    def at_end(self, drawing: Drawing, end: End | None, possibly: bool = False) -> tuple[str, ...] | None:
        """Sources at a terminal; ``None`` when the study does not say."""
        item = drawing.items.get(end.item) if end else None
        if item is None or end is None or self.result is None or item.id not in self.result.points:
            return None
        return self.sides(item, possibly).get(end.terminal, ())

    def of_connection(self, drawing: Drawing, conn: Connection, possibly: bool = False) -> tuple[str, ...] | None:
        """Sources on a line: its own figures, or those of its ends."""
        own = self.sides(conn, possibly)
        if own:
            return own.get("a") or own.get("b") or ()
        if self.result is not None and conn.id in self.result.points and self.result.points[conn.id].live_sides:
            return ()
        found = [s for s in (self.at_end(drawing, e, possibly) for e in (conn.a, conn.b)) if s is not None]
        return next((s for s in found if s), found[0] if found else None)

    def maybe(self, item: Item) -> tuple[str, ...]:
        """Sources (and ties to unknown places) that may reach an item, besides those that do reach it."""
        certain = {s for found in self.sides(item).values() for s in found}
        possible = {s for found in self.sides(item, possibly=True).values() for s in found}
        if self.live is None and self.result is not None and item.id in self.result.points:
            possible.update(self.result.points[item.id].possibly_live_from)
        return tuple(sorted(possible - certain, key=lambda s: (self._rank(s), s)))

    def look(self, sources: tuple[str, ...] | None, maybe: bool = False) -> tuple[str, str]:
        """(ink, dash) of what the sources reach: the first one's. ``maybe``: some other source may reach it.

        Where no source is drawn at all nothing is said: plain ink, as of what the study does not know.
        """
        if sources:
            order = self._rank(sources[0])
            return source_ink(order), source_dash(order)
        if maybe:
            return POSSIBLE
        return DEAD if sources is not None and self.order else PLAIN

    def tags(self, sources: Iterable[str], maybe: Iterable[str] = ()) -> list[tuple[str, str]]:
        """(code, ink) of each source, all of them; ``maybe``: with a question mark behind, "?" alone for a tie to an
        unknown place."""
        found = [(self.codes[s], source_ink(self._rank(s))) for s in sources if s in self.codes]
        return found + [(text, "possible") for text in dict.fromkeys(f"{self.codes.get(s, '')}?" for s in maybe)]

    def _rank(self, source: str) -> int:
        return self.order.get(source, len(self.order))


def energy_of(result: StudyResult | None, live: LiveState | None = None) -> Energy:
    """The energy shown for a study, or none. ``live``: the state of other positions, in the same view."""
    if result is None:
        return Energy({}, {}, None)
    return Energy(source_codes(result), {s: n for n, s in enumerate(result.sources)}, result, live)


def dead_line(strokes: Iterable[Stroke | Arc]) -> list[Primitive]:
    """The strokes of a line as a hollow one: dead by the drawing, told from ink by more than its color."""
    edges: list[Primitive] = []
    hollow: list[Primitive] = []
    for p in strokes:
        outer, inner = _HOLLOW[p.weight]
        edges.append(replace(p, weight=outer, ink="dead"))
        hollow.append(replace(p, weight=inner, ink="paper"))
    return edges + hollow


def tag(at: Point, text: str, ink: str, filled: bool = False) -> tuple[Primitive, ...]:
    """A small framed tag centred at a point; the frame is dashed for what is only possible. ``filled``: light on dark."""
    half = tag_width(text) / 2
    x, y = at
    h = TAG_HEIGHT / 2
    frame = ((x - half, y - h), (x + half, y - h), (x + half, y + h), (x - half, y + h))
    return (
        Stroke(frame, "hair", _frame_dash(ink), ink, True, ink if filled else "paper"),
        Text((x, y + 0.365 * TAG_SIZE), text, TAG_SIZE, "bold", "middle", "paper" if filled else "ink"),
    )


def _frame_dash(ink: str) -> str:
    return "possible" if ink == "possible" else "solid"


def tag_row(at: Point, texts: Sequence[tuple[str, str]]) -> tuple[tuple[Primitive, ...], Box]:
    """Codes (text, ink) side by side in one compact tag centred at a point, each framed in its ink; with the box."""
    out: list[Primitive] = []
    x, y = at
    width, h = row_width(texts), TAG_HEIGHT / 2
    left = x - width / 2
    for text, ink in texts:
        right = left + (width if len(texts) == 1 else _cell(text))
        frame = ((left, y - h), (right, y - h), (right, y + h), (left, y + h))
        out.append(Stroke(frame, "hair", _frame_dash(ink), ink, True, "paper"))
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
