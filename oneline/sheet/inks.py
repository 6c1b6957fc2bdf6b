"""Colours, line widths and dash patterns for every painter: canvas, PDF and SVG.

A picture names *roles*; this module says what a role looks like on the light sheet, the dark sheet and on paper. Sources
differ by hue, by grey value, by dash pattern and by code, so nothing is told by colour alone. No
source is green, which reads as ground or as a good state, and none is red, which reads as a failure. Paper is black on
white.
"""

from __future__ import annotations

#: Number of sources that have a hue and a dash pattern of their own; further ones start over.
SOURCE_INKS = 6

_LIGHT = {
    "ink": "#23262b",
    "faint": "#6f6f6a",
    "ghost": "#b4b1a6",
    "grid": "#dedad0",
    "paper": "#faf8f3",
    "fill-panel": "#f1eee5",
    "fill-zone": "#f7ecc8",
    "zone": "#8a5a00",
    "accent": "#0b63ce",
    "unknown": "#8a5a00",
    "assumed": "#4d5560",
    "dead": "#6a6e75",
    "possible": "#8a5a00",
    "verdict-fail": "#c02c1d",
    "verdict-unknown": "#8a5a00",
    "verdict-judge": "#6b4fa0",
    "verdict-advice": "#3d6470",
    "verdict-pass": "#13734a",
    "source-1": "#155dba",
    "source-2": "#dd6a00",
    "source-3": "#7d2596",
    "source-4": "#cc3d94",
    "source-5": "#123474",
    "source-6": "#4a0c2c",
}

_DARK = {
    "ink": "#e6e3da",
    "faint": "#9aa3ad",
    "ghost": "#56616d",
    "grid": "#2c3641",
    "paper": "#1c242e",
    "fill-panel": "#242e3a",
    "fill-zone": "#363322",
    "zone": "#f0b13f",
    "accent": "#6cb0ff",
    "unknown": "#f0b13f",
    "assumed": "#b9c0c8",
    "dead": "#8f98a3",
    "possible": "#f0b13f",
    "verdict-fail": "#ff7a6b",
    "verdict-unknown": "#f0b13f",
    "verdict-judge": "#b9a1f0",
    "verdict-advice": "#8fb8c8",
    "verdict-pass": "#6fcf9c",
    "source-1": "#6fa6ee",
    "source-2": "#dd7420",
    "source-3": "#a251df",
    "source-4": "#f59fd0",
    "source-5": "#b8ccff",
    "source-6": "#fbeedd",
}

_PAPER = {
    **dict.fromkeys(_LIGHT, "#000000"),
    "paper": "#ffffff",
    "fill-panel": "#ffffff",
    "fill-zone": "#ffffff",
    "faint": "#404040",
    "ghost": "#9a9a9a",
    "grid": "#ffffff",
    "assumed": "#202020",
}

#: role -> "#rrggbb" for the light sheet, the dark sheet and paper.
PALETTES: dict[str, dict[str, str]] = {"light": _LIGHT, "dark": _DARK, "paper": _PAPER}

#: Line widths on the canvas in pixels at 100 % (one grid unit is one pixel there). What is new (medium) is told from what
#: exists (thin) by more than twice the width.
CANVAS_WIDTH_PX = {"heavy": 4.2, "medium": 2.7, "thin": 1.1, "hair": 0.7}
#: Line widths on paper in points at full size: 1.4, 0.9, 0.2 and 0.18 mm. A painter that shrinks the picture scales the
#: three upper ones down to no less than the hair line, which printers still hold; printed at half size, new lines have
#: 1.3 pt beside existing ones of 0.5 pt.
PAPER_WIDTH_PT = {"heavy": 3.97, "medium": 2.56, "thin": 0.57, "hair": 0.51}

#: Dash patterns in grid units: on, off, on, off ...; empty is a solid line.
DASH_UNITS: dict[str, tuple[float, ...]] = {
    "solid": (),
    "removed": (4, 3),
    "future": (1, 3),
    "enclosure": (12, 4),
    "interlock": (5, 5, 1, 5),
    "possible": (2.5, 2),
    "zone": (7, 3),
    "source-1": (),
    "source-2": (16, 3),
    "source-3": (9, 2.5, 2.5, 2.5),
    "source-4": (9, 2, 2, 2, 2, 2),
}


def source_ink(order: int) -> str:
    """Ink role of the source at a place in ``StudyResult.sources`` (0 is the first)."""
    return f"source-{order % SOURCE_INKS + 1}"


def source_dash(order: int) -> str:
    """Dash pattern of the source at a place in ``StudyResult.sources``."""
    return f"source-{order % 4 + 1}"


def relative_luminance(color: str) -> float:
    """Relative luminance of "#rrggbb", 0 black to 1 white (WCAG 2.2, definition of relative luminance)."""
    channels = [int(color[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    r, g, b = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def contrast_ratio(one: str, other: str) -> float:
    """Contrast ratio of two colours, 1 to 21 (WCAG 2.2, definition of contrast ratio)."""
    low, high = sorted((relative_luminance(one), relative_luminance(other)))
    return (high + 0.05) / (low + 0.05)
