"""Putting a recording into a drawing, and what it is worth before it is there."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from oneline.files.intervals.asking import Question
from oneline.files.intervals.recording import Recording, read_recording, to_record
from oneline.model import DemandRecord, Drawing
from oneline.model.checked import objection


class NeedsAnswers(ValueError):
    """The file leaves something open. ``questions``: what, with the possible answers."""

    def __init__(self, questions: tuple[Question, ...]) -> None:
        super().__init__(" ".join(f"{q.name}: {q.words} ({', '.join(c.key for c in q.choices)})" for q in questions))
        self.questions = questions


def read_record(
    source: str | Path | bytes, answers: Mapping[str, str] | None = None, name: str = "", **more: Any
) -> tuple[DemandRecord, Recording, tuple[str, ...]]:  # fmt: skip
    """The demand record of a file, the recording itself, and notes on how it was read.

    ``more``: fields of the record that no file tells (``source``, ``occupied``, ``seasonal_included``, ``power_factor``,
    ``note``). Raises ``CannotOpen``, ``NeedsAnswers``, ``ValueError`` for a field that cannot be so.
    """
    imported = read_recording(source, answers, name)
    if imported.recording is None:
        raise NeedsAnswers(imported.open)
    why = objection(DemandRecord, more)
    if why is not None:
        raise ValueError(why)
    return to_record(imported.recording, **more), imported.recording, imported.notes


def with_record(drawing: Drawing, item_id: str, record: DemandRecord) -> Drawing:
    """The drawing with a record at an item. A record of the very same file that stands there already gives way.

    Raises ``ValueError`` for an item that has no demand records, ``KeyError`` for one that is not on the drawing.
    """
    item: Any = drawing.get(item_id)
    if not hasattr(item, "demand"):
        raise ValueError(
            f"{drawing.name_of(item_id)} is a {item.title.lower()}: records belong to services, meters and generators."
        )
    kept = tuple(r for r in item.demand if not record.file_sha256 or r.file_sha256 != record.file_sha256)
    return drawing.with_items([replace(item, demand=(*kept, record))])
