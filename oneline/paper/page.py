"""A page: primitives of the display list on a sheet of paper, measured in points (1/72 in), y downward.

The diagram and everything around it are the same kind of strokes and texts, so one writer paints both.
"""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass, field
from functools import lru_cache

from oneline.sheet.display import Arc, Primitive, Stroke, Text
from oneline.sheet.metrics import has_glyph, text_width

#: Width and height of a sheet in points, upright.
PAPERS: dict[str, tuple[float, float]] = {"letter": (612.0, 792.0), "tabloid": (792.0, 1224.0), "a4": (595.3, 841.9)}
#: What stands for a character that the font of the sheet does not have.
MISSING = "?"
ELLIPSIS = "…"
#: Longest text that is printed whole; what is longer is shortened, and a note says so.
MOST_CHARACTERS = 600


@dataclass(frozen=True)
class Layer:
    """Primitives with their place on the page: a point (x, y) of theirs lies at (dx + scale * x, dy + scale * y)."""

    primitives: tuple[Primitive, ...]
    scale: float = 1.0
    dx: float = 0.0
    dy: float = 0.0


@dataclass(frozen=True)
class Page:
    """One side of paper. ``width`` and ``height`` in points."""

    width: float
    height: float
    layers: tuple[Layer, ...]


@lru_cache(maxsize=4096)
def printable(text: str, face: str = "regular") -> str:
    """The text as the sheet's font can print it: composed, control characters gone, others it lacks as "?"."""
    out = []
    for char in unicodedata.normalize("NFC", text):
        kind = unicodedata.category(char)
        if kind in ("Cc", "Zl", "Zp", "Zs"):
            out.append(" ")
        elif kind not in ("Cf", "Cs", "Mn"):
            out.append(char if has_glyph(char, face) else MISSING)
    return "".join(out)


def lost(text: str) -> bool:
    """Whether printing the text loses characters."""
    return printable(text).count(MISSING) != text.count(MISSING)


def _pieces(word: str, width: float, size: float, face: str) -> list[str]:
    """A word in pieces no wider than ``width``, at least one character each."""
    pieces, start, filled = [], 0, 0.0
    for at, char in enumerate(word):
        step = text_width(char, size, face)
        if filled + step > width and at > start:
            pieces.append(word[start:at])
            start, filled = at, 0.0
        filled += step
    return [*pieces, word[start:]]


def short(text: str) -> str:
    """The text, or its beginning with an ellipsis when it is longer than anything that belongs on a sheet."""
    clean = " ".join(text.split())
    return clean if len(clean) <= MOST_CHARACTERS else clean[: MOST_CHARACTERS - 1].rstrip() + ELLIPSIS


@lru_cache(maxsize=4096)
def wrap(text: str, width: float, size: float, face: str = "regular", most: int = 99) -> tuple[str, ...]:
    """The text broken into lines no wider than ``width``; words that are too long break where they must.

    At most ``most`` lines; the last one then ends in an ellipsis (see ``shortened``).
    """
    lines: list[str] = []
    line = ""
    for word in printable(text, face).split():
        longer = f"{line} {word}" if line else word
        if text_width(longer, size, face) <= width:
            line = longer
            continue
        if line:
            lines.append(line)
        *pieces, line = _pieces(word, width, size, face)
        lines += pieces
    lines.append(line)
    if len(lines) > most:
        last = lines[most - 1]
        while last and text_width(last + ELLIPSIS, size, face) > width:
            last = last[:-1]
        lines = [*lines[: most - 1], last.rstrip() + ELLIPSIS]
    return tuple(lines)


def shortened(text: str, width: float, size: float, face: str = "regular", most: int = 99) -> bool:
    """Whether ``wrap`` leaves something out."""
    return wrap(text, width, size, face, most) != wrap(text, width, size, face)


@dataclass
class Pen:
    """Collects primitives in points."""

    primitives: list[Primitive] = field(default_factory=list)

    def text(
        self, x: float, y: float, text: str, size: float, face: str = "regular", anchor: str = "start", ink: str = "ink"
    ) -> None:
        """One line with its baseline at ``y``."""
        clean = printable(text, face)
        if clean.strip():
            self.primitives.append(Text((x, y), clean, size, face, anchor, ink))

    def line(self, x0: float, y0: float, x1: float, y1: float, weight: str = "hair", ink: str = "faint") -> None:
        self.primitives.append(Stroke(((x0, y0), (x1, y1)), weight, "solid", ink))

    def frame(self, x0: float, y0: float, x1: float, y1: float, weight: str = "hair", ink: str = "ink") -> None:
        self.primitives.append(Stroke(((x0, y0), (x1, y0), (x1, y1), (x0, y1)), weight, "solid", ink, True))

    def place(self, primitives: tuple[Primitive, ...], scale: float, dx: float, dy: float) -> None:
        """Primitives of the sheet, scaled and moved."""
        for p in primitives:
            if isinstance(p, Stroke):
                points = tuple((dx + scale * x, dy + scale * y) for x, y in p.points)
                self.primitives.append(Stroke(points, p.weight, p.dash, p.ink, p.closed, p.fill))
            elif isinstance(p, Arc):
                center = (dx + scale * p.center[0], dy + scale * p.center[1])
                self.primitives.append(
                    Arc(center, scale * p.radius, p.start_deg, p.sweep_deg, p.weight, p.dash, p.ink, p.fill)
                )
            else:
                at = (dx + scale * p.at[0], dy + scale * p.at[1])
                self.primitives.append(Text(at, printable(p.text, p.face), scale * p.size, p.face, p.anchor, p.ink))

    def layer(self) -> Layer:
        return Layer(tuple(self.primitives))
