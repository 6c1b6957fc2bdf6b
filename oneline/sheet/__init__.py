"""Turns a drawing and its study into a picture of plain strokes and texts."""

from oneline.sheet.build import build_picture, symbol_names_used
from oneline.sheet.display import Arc, Group, Picture, Stroke, Text
from oneline.sheet.layout import arrange, placed
from oneline.sheet.live import source_codes
from oneline.sheet.marks import mark_shape
from oneline.sheet.symbols import SymbolError, draw_symbol, find_set

__all__ = [
    "Arc",
    "Group",
    "Picture",
    "Stroke",
    "SymbolError",
    "Text",
    "arrange",
    "build_picture",
    "draw_symbol",
    "find_set",
    "mark_shape",
    "placed",
    "source_codes",
    "symbol_names_used",
]
