"""The display list: what the canvas, the PDF and the SVG paint. Plain strokes, arcs and texts, grouped by item.

Coordinates are grid units (a grid square is 10 units), x to the right, y downward. ``ink`` is a role, not a colour; the
palettes in ``sheet.inks`` give each role its colour for the light sheet, the dark sheet and paper.
"""

from __future__ import annotations

from dataclasses import dataclass, field

Point = tuple[float, float]

#: Line weights, from bus bars to hair lines. Each painter has its own widths.
WEIGHTS = ("heavy", "medium", "thin", "hair")
#: Dash patterns: "source-1" ... are the patterns of the sources, by their place in ``StudyResult.sources``.
DASHES = (
    "solid", "removed", "future", "enclosure", "interlock", "possible", "zone", "source-1", "source-2", "source-3",
    "source-4",
)  # fmt: skip


@dataclass(frozen=True)
class Stroke:
    """A polyline, or a polygon when ``closed``; ``fill`` is an ink role or "" for none."""

    points: tuple[Point, ...]
    weight: str = "thin"
    dash: str = "solid"
    ink: str = "ink"
    closed: bool = False
    fill: str = ""


@dataclass(frozen=True)
class Arc:
    """Part of a circle: angles in degrees, counter-clockwise from east as seen on the sheet; 360 is the full circle."""

    center: Point
    radius: float
    start_deg: float = 0
    sweep_deg: float = 360
    weight: str = "thin"
    dash: str = "solid"
    ink: str = "ink"
    fill: str = ""


@dataclass(frozen=True)
class Text:
    """One line of text; ``at`` is on the baseline at the anchor ("start", "middle", "end"). ``face``: "regular", "bold",
    "italic". ``size`` is the height of the em in grid units; widths come from ``sheet.metrics``."""

    at: Point
    text: str
    size: float = 7
    face: str = "regular"
    anchor: str = "start"
    ink: str = "ink"


Primitive = Stroke | Arc | Text


@dataclass(frozen=True)
class Group:
    """Primitives of one item. ``part``: "symbol", "line", "label", "mark", "tag", "detail", "frame", "key",
    or "ghost" for all of an item that is not in the view; ``box`` is
    (left, top, right, bottom) around them; ``level``: smallest zoom at which it is painted (0 always)."""

    item: str
    part: str
    primitives: tuple[Primitive, ...]
    box: tuple[float, float, float, float]
    level: float = 0


@dataclass(frozen=True)
class Picture:
    """Groups in painting order, the box around them all, and where each terminal is: {(item id, terminal): point}.

    ``routes``: corner points of every drawn connection, from its end ``a`` to its end ``b``.
    """

    groups: tuple[Group, ...]
    box: tuple[float, float, float, float]
    terminals: dict[tuple[str, str], Point]
    routes: dict[str, tuple[Point, ...]] = field(default_factory=dict)
