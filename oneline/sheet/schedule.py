"""Circuits of a panel, shown beside it when one zooms in and there is room."""

from __future__ import annotations

from collections.abc import Iterator

from oneline.model import Bus, Circuit, Drawing
from oneline.sheet.display import Group, Primitive, Stroke, Text
from oneline.sheet.metrics import text_width
from oneline.sheet.shapes import Box, Shape
from oneline.sheet.tracks import Obstacles, Tracks
from oneline.sheet.wording import DASH

#: Zoom from which the circuits are shown, and the size of their letters in grid units.
SCHEDULE_ZOOM = 2.0
_SIZE = 5.0
_PITCH = 6.5
_NUMBER, _TRIP, _WORDS = 12.0, 20.0, 62.0
_COLUMN = _NUMBER + _TRIP + _WORDS
_GAP = 6.0


def schedule_group(
    bar: Shape, label: Box | None, drawing: Drawing, obstacles: Obstacles, tracks: Tracks
) -> Group | None:
    """The circuits of a panel as a group, or ``None`` where it has none or there is no room. Takes its room."""
    bus = bar.item
    assert isinstance(bus, Bus)
    if not bus.circuits:
        return None
    left = sorted((c for c in bus.circuits if c.space % 2), key=lambda c: c.space)
    right = sorted((c for c in bus.circuits if c.space % 2 == 0), key=lambda c: c.space)
    columns = [c for c in (left, right) if c]
    width = len(columns) * _COLUMN + (len(columns) - 1) * _GAP
    height = max(len(c) for c in columns) * _PITCH + 2
    for box in _places(bar, label, width, height):
        if obstacles.free(box) and not tracks.touched(box):
            obstacles.add(box, bus.id + "/circuits", 0.0)
            return Group(bus.id, "detail", tuple(_table(columns, box, drawing)), box, SCHEDULE_ZOOM)
    return None


def _places(bar: Shape, label: Box | None, width: float, height: float) -> Iterator[Box]:
    bottom = max(bar.box[3], label[3] if label else bar.box[3]) + 4
    right = max(bar.box[2], label[2] if label else bar.box[2]) + 8
    for x, y in (
        (bar.box[0], bottom), (bar.box[2] - width, bottom), (bar.box[0] + 30, bottom), (right, bar.box[1]),
        (bar.box[0] - width - 24, bar.box[1]), (right, bar.box[1] - height), (bar.box[0], bar.box[3] + 4),
    ):  # fmt: skip
        yield (x, y, x + width, y + height)


def _table(columns: list[list[Circuit]], box: Box, drawing: Drawing) -> Iterator[Primitive]:
    for n, column in enumerate(columns):
        x = box[0] + n * (_COLUMN + _GAP)
        yield Stroke(((x, box[1]), (x + _COLUMN, box[1])), "hair", "solid", "faint")
        for row, circuit in enumerate(column):
            y = box[1] + (row + 1) * _PITCH
            yield Text((x + _NUMBER - 3, y), str(circuit.space), _SIZE, "regular", "end", "faint")
            trip = f"{circuit.trip_a:g}/{circuit.poles}P" if circuit.trip_a is not None else f"{DASH}/{circuit.poles}P"
            yield Text((x + _NUMBER, y), trip if circuit.use != "space" else "", _SIZE, "regular", "start", "faint")
            yield Text((x + _NUMBER + _TRIP, y), _fitted(_words(circuit, drawing)), _SIZE)


def _words(circuit: Circuit, drawing: Drawing) -> str:
    if circuit.feeds and circuit.feeds in drawing:
        return circuit.description or drawing.name_of(circuit.feeds)
    return circuit.description or {"spare": "spare", "space": "space"}.get(circuit.use, DASH)


def _fitted(text: str) -> str:
    """The text, cut with an ellipsis where it is wider than its column."""
    if text_width(text, _SIZE) <= _WORDS:
        return text
    while text and text_width(text + "…", _SIZE) > _WORDS:
        text = text[:-1]
    return text.rstrip() + "…"
