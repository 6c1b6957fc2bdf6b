"""Builds the picture of one view of a drawing."""

from __future__ import annotations

from oneline.model import Drawing
from oneline.sheet.display import Picture
from oneline.study import StudyResult


def build_picture(drawing: Drawing, result: StudyResult | None, view: str, symbols: str = "us") -> Picture:
    """The display list of a view: symbols, lines, labels, marks and live figures.

    ``result`` may be ``None`` for a bare drawing. ``symbols``: name of a symbol set in resources/symbols.
    """
    return Picture((), (0.0, 0.0, 0.0, 0.0), {})
