"""The key below an exported diagram: what the codes on its lines stand for, and the cautions of every printed page."""

from __future__ import annotations

from collections.abc import Iterator

from oneline.model import Drawing
from oneline.model.cautions import CAUTIONS
from oneline.paper.page import short, wrap
from oneline.paper.picture import bounds, of_groups, on_paper
from oneline.sheet import source_codes
from oneline.sheet.display import Group, Picture, Primitive, Stroke, Text
from oneline.sheet.inks import source_dash, source_ink
from oneline.sheet.live import CODE_WORDS, dead_line, tag_row
from oneline.sheet.metrics import text_width
from oneline.study import StudyResult

_SIZE = 8.0
_PITCH = 13.0
#: From the picture to the key, from the key to the cautions, and of the sample of a line with its tag.
_GAP = 24.0
_SAMPLE = 40.0
_COLUMN_GAP = 18.0
#: The cautions are not squeezed below a narrow picture.
_LEAST_WIDTH = 300.0
POSSIBLE = "possibly live, nobody traced it"
DEAD_WORDS = "hollow: dead by the drawing, not verified"


def with_key(picture: Picture, drawing: Drawing, result: StudyResult) -> Picture:
    """The picture as it goes on paper with the key of its source codes and the cautions below.

    ``result``: the study that was drawn. Only codes that the picture shows are explained.
    """
    shown = on_paper(picture)
    if not shown.groups:
        return shown
    left, _, right, bottom = shown.box
    width = max(right - left, _LEAST_WIDTH)
    entries = list(_entries(shown, drawing, result))
    prims: list[Primitive] = []
    y = bottom + _GAP
    columns = _columns([words for *_, words in entries], width)
    for start in range(0, len(entries), columns):
        for k, (tags, dash, words) in enumerate(entries[start : start + columns]):
            x = left + k * width / columns
            if not tags:
                prims += dead_line([Stroke(((x, y), (x + _SAMPLE, y)))])
            elif dash:
                prims.append(Stroke(((x, y), (x + _SAMPLE, y)), "thin", dash, tags[0][1]))
            prims += tag_row((x + _SAMPLE / 2, y), tags)[0] if tags else ()
            lines = wrap(words, width / columns - _SAMPLE - _COLUMN_GAP, _SIZE, "regular", 1)
            prims.append(Text((x + _SAMPLE + 6, y + 0.36 * _SIZE), lines[0], _SIZE))
        y += _PITCH
    y += _PITCH if entries else 0.0
    for line in wrap(" ".join(CAUTIONS), width, _SIZE, "bold"):
        prims.append(Text((left, y), line, _SIZE, "bold"))
        y += 1.3 * _SIZE
    return of_groups(shown, [*shown.groups, Group("", "key", tuple(prims), bounds(prims))])


def _entries(shown: Picture, drawing: Drawing, result: StudyResult) -> Iterator[tuple[list[tuple[str, str]], str, str]]:
    """(tag, dash of the line behind it, words) of each code that the picture shows."""
    used = {p.text for g in shown.groups if g.part == "tag" for p in g.primitives if isinstance(p, Text)}
    for order, (source, code) in enumerate(source_codes(result).items()):
        if code in used:
            name = short(drawing.name_of(source))
            yield [(code, source_ink(order))], source_dash(order), f"{name}, {CODE_WORDS[code[0]]}"
    for source, code in source_codes(result).items():
        if f"{code}?" in used:
            yield [(f"{code}?", "possible")], "", f"possibly live from {short(drawing.name_of(source))}"
    if "?" in used:
        yield [("?", "possible")], "", POSSIBLE
    if any(p.ink == "dead" for g in shown.groups if g.part == "line" for p in g.primitives):
        yield [], "", DEAD_WORDS


def _columns(texts: list[str], width: float) -> int:
    """As many columns as hold the longest words whole."""
    longest = max((text_width(t, _SIZE) for t in texts), default=0.0)
    return max(1, int(width // (_SAMPLE + 6 + longest + _COLUMN_GAP)))
