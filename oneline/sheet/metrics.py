"""Widths of texts from our own font table, so that every painter and every machine lays out the same picture."""

from __future__ import annotations

import json
from functools import cache, lru_cache

from oneline.assets import resource
from oneline.sheet.display import Text

#: Family all painters ask for first; DejaVu Sans has the same widths. Others are scaled to the width given here.
FONT_FAMILY = "Bitstream Vera Sans"
FALLBACK_FAMILIES = ("DejaVu Sans", "Verdana", "sans-serif")
#: Height of capitals, and depth of descenders below the baseline, in em (OS/2 table of the same faces).
CAP_HEIGHT_EM = 0.729
ASCENT_EM = 0.76
DESCENT_EM = 0.236


@cache
def _faces() -> dict[str, dict[str, int]]:
    with resource("fonts", "vera_widths.json").open(encoding="utf-8") as file:
        faces: dict[str, dict[str, int]] = json.load(file)["faces"]
    return faces


def has_glyph(char: str, face: str = "regular") -> bool:
    """Whether the font has the character; the wording of the sheet uses no other."""
    return char in _faces()[face]


@lru_cache(maxsize=8192)
def text_width(text: str, size: float, face: str = "regular") -> float:
    """Width of a line of text in grid units. A character the font lacks counts as wide as a capital M."""
    widths = _faces()[face]
    wide = widths["M"]
    return sum(widths.get(char, wide) for char in text) * size / 1000


def text_box(text: Text) -> tuple[float, float, float, float]:
    """(left, top, right, bottom) of a text primitive."""
    width = text_width(text.text, text.size, text.face)
    x, y = text.at
    left = x if text.anchor == "start" else x - width if text.anchor == "end" else x - width / 2
    return (left, y - ASCENT_EM * text.size, left + width, y + DESCENT_EM * text.size)
