"""Turns a drawing and its study into a picture of plain strokes and texts."""

from oneline.sheet.build import build_picture
from oneline.sheet.display import Arc, Group, Picture, Stroke, Text

__all__ = ["Arc", "Group", "Picture", "Stroke", "Text", "build_picture"]
