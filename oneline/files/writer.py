"""Saving a drawing. A save either succeeds completely or leaves the last file as it was."""

from __future__ import annotations

import contextlib
from dataclasses import dataclass
from pathlib import Path

from oneline.files.atomic import cannot_save, replace_file
from oneline.files.fingerprint import Fingerprint, changed_outside
from oneline.files.problems import CannotOpen, CannotSave, ChangedOutside, LeavesOut, Problem
from oneline.files.reader import read_drawing
from oneline.files.serialize import EXTRA_LEFT_OUT, settle, to_bytes
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
    leave_out: bool = False,
) -> Saved:
    """Save a drawing to a path.

    ``saved_utc``: the time that stands in the file, like "2026-03-31T14:05:00Z". ``expected``: what the file was when it
    was opened or last saved; when it is something else now, ``ChangedOutside`` is raised and nothing is written.
    ``state``: folder for earlier versions, by default the user's. When the file there is the one the drawing was opened
    from and something of it could not be taken, ``LeavesOut`` is raised and nothing is written, unless ``leave_out`` says
    that the file may lose it; then nothing is written either if the old file cannot be kept as an earlier version. Raises
    ``CannotSave`` for everything that goes wrong; the old file is then untouched.
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
        lost = _would_lose(drawing, path)
    except OSError as bad:
        raise cannot_save(path, bad) from bad
    if lost and not leave_out:
        raise _leaves_out(path, lost)
    notes: list[Problem] = []
    kept: list[Path] = []

    def keep(target: Path) -> Path | None:
        try:
            kept.append(keep_version(target, state))
        except OSError as bad:
            why = f"The system says: {bad.strerror or bad}."
            if lost:
                why = f"It would lose a part of the file, and the file cannot be kept as an earlier version. {why}"
                todo = "Save yours as a copy."
                raise CannotSave(Problem("The drawing was not saved", str(target), why, todo)) from bad
            notes.append(
                Problem("The earlier version could not be kept", str(target), why, "The drawing itself is saved.")
            )
            return None
        return kept[0]

    fingerprint = replace_file(path, data, keep)
    with contextlib.suppress(OSError):
        thin_out(path, state)
    return Saved(fingerprint, kept[0] if kept else None, tuple(notes))


def _would_lose(drawing: Drawing, path: Path) -> tuple[Problem, ...]:
    """What saving there would lose: what could not be taken from this very file when the drawing was made of it."""
    left_out = drawing.extra.get(EXTRA_LEFT_OUT)
    if left_out is None or not path.exists() or changed_outside(path, Fingerprint.known_by(left_out.sha256)):
        return ()
    return tuple(left_out.problems)


def _leaves_out(path: Path, lost: tuple[Problem, ...]) -> LeavesOut:
    count = "One thing" if len(lost) == 1 else f"{len(lost)} things"
    some = " ".join(f"{p.what} ({p.where})." if p.where else f"{p.what}." for p in lost[:3])
    more = f" And {len(lost) - 3} more." if len(lost) > 3 else ""
    why = f"{count} in it could not be taken when it was opened: {some}{more} Nothing was written."
    todo = "Save yours as a copy, or say that the file may lose this; it is then kept as an earlier version."
    return LeavesOut(Problem("Saving would lose a part of the file", str(path), why, todo), lost)
