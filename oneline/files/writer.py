"""Saving a drawing. A save either succeeds completely or leaves the last file as it was."""

from __future__ import annotations

import contextlib
from dataclasses import dataclass
from pathlib import Path

from oneline.files.atomic import cannot_save, replace_file
from oneline.files.fingerprint import Fingerprint, changed_outside
from oneline.files.problems import CannotOpen, CannotSave, ChangedOutside, Problem
from oneline.files.reader import read_drawing
from oneline.files.serialize import settle, to_bytes
from oneline.files.versions import keep_version, thin_out
from oneline.model import Drawing


@dataclass(frozen=True)
class Saved:
    """What was saved: the new ``fingerprint``, the ``earlier`` version that was kept (``None`` for a new file or where it
    could not be kept), and ``notes``: what did not work but does not matter for the saved file."""

    fingerprint: Fingerprint
    earlier: Path | None = None
    notes: tuple[Problem, ...] = ()


def checked_bytes(drawing: Drawing, saved_utc: str, name: str = "the drawing") -> bytes:
    """The file of a drawing, read back and found equal to it. Raises ``CannotSave`` naming what no file can hold."""
    what = "The drawing was not saved"
    try:
        data = to_bytes(drawing, saved_utc)
        back = read_drawing(data)
    except (ValueError, TypeError, RecursionError, CannotOpen) as bad:
        why = f"It holds something no file can hold: {bad}."
        raise CannotSave(Problem(what, name, why, "Undo the last change and save again.")) from bad
    wanted = settle(drawing)
    wrong = next((p for p in back.problems if not p.lasting), None)
    if wrong is not None:
        why = f"{wrong.what}. {wrong.why}"
        raise CannotSave(Problem(what, wrong.where, why, "Correct it, then save again.", wrong.item))
    if back.drawing != wanted or list(back.drawing.items) != list(wanted.items):
        raise CannotSave(Problem(what, name, "Read back, it was not the same drawing.", "Save a copy and report it."))
    return data


def write_drawing(
    drawing: Drawing,
    path: str | Path,
    saved_utc: str,
    expected: Fingerprint | None = None,
    state: Path | None = None,
) -> Saved:
    """Save a drawing to a path.

    ``saved_utc``: the time that stands in the file, like "2026-03-31T14:05:00Z". ``expected``: what the file was when it
    was opened or last saved; when it is something else now, ``ChangedOutside`` is raised and nothing is written.
    ``state``: folder for earlier versions, by default the user's. Raises ``CannotSave`` for everything that goes wrong;
    the old file is then untouched.
    """
    path = Path(path)
    data = checked_bytes(drawing, saved_utc, str(path))
    try:
        if expected is not None and path.exists() and changed_outside(path, expected):
            raise ChangedOutside(
                Problem(
                    "The file was changed by somebody else", str(path),
                    "It is not the file that was opened. Nothing was written.",
                    "Save yours as a copy, or open the file again and compare.",
                )
            )  # fmt: skip
    except OSError as bad:
        raise cannot_save(path, bad) from bad
    notes: list[Problem] = []
    kept: list[Path] = []

    def keep(target: Path) -> Path | None:
        try:
            kept.append(keep_version(target, state))
        except OSError as bad:
            why = f"The system says: {bad.strerror or bad}."
            notes.append(
                Problem("The earlier version could not be kept", str(target), why, "The drawing itself is saved.")
            )
            return None
        return kept[0]

    fingerprint = replace_file(path, data, keep)
    with contextlib.suppress(OSError):
        thin_out(path, state)
    return Saved(fingerprint, kept[0] if kept else None, tuple(notes))
