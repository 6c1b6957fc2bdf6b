"""Clamp readings of an item."""

from __future__ import annotations

from oneline.desk.panes.measured import MeasuredEditor
from oneline.model import Reading


class ReadingsEditor(MeasuredEditor):
    """Amperes by conductor at one moment."""

    row = Reading
    field = "readings"
    one = "clamp reading"
    title = "Clamp readings"
    said = "A clamp reading shows one moment. It is never taken for the demand."
    columns = (
        ("when", "When", 124), ("a_a", "A", 46), ("b_a", "B", 46), ("c_a", "C", 46), ("n_a", "N", 46),
        ("instrument", "Instrument", 96), ("note", "Note", 96),
    )  # fmt: skip

    def what_changed(self, what: str) -> str:
        return what.lower()
