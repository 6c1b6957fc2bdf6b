"""Recovery copies: what is on the screen, kept beside the saved file until somebody decides about it.

Each running editor is a *session* with a lock that the system takes away when the process ends, however it ends. Copies
whose session is not running any more are what a crash left behind.
"""

from __future__ import annotations

import contextlib
import os
import sys
import uuid
from collections import Counter
from dataclasses import dataclass, replace
from pathlib import Path
from types import MappingProxyType, TracebackType
from typing import IO, Any

from oneline.files.atomic import replace_file
from oneline.files.fingerprint import Fingerprint
from oneline.files.places import document_id, state_folder
from oneline.files.problems import CannotOpen, CannotSave, LeftOut, Problem
from oneline.files.reader import Opened, read_drawing
from oneline.files.serialize import EXTRA_LEFT_OUT, to_bytes
from oneline.model import SOURCE_KINDS, Bus, Drawing

__all__ = ["RecoveryCopy", "Session", "discard", "document_id", "load_copy", "recovery_copies", "snapshot"]

#: What of a problem stands in a recovery copy.
_SAID = ("what", "where", "why", "what_to_do", "item")


def _root(state: Path | None) -> Path:
    return (state or state_folder()) / "recovery"


class Session:
    """One running editor. Hold it open as long as the program runs: its copies belong to nobody else meanwhile."""

    def __init__(self, state: Path | None = None) -> None:
        self.id = uuid.uuid4().hex[:12]
        self.state = state
        folder = _root(state) / "sessions"
        folder.mkdir(parents=True, exist_ok=True)
        self._path = folder / f"{self.id}.lock"
        self._stream: IO[bytes] | None = open(self._path, "wb")  # noqa: SIM115 - held open on purpose
        if not _lock(self._stream):
            raise OSError(f"{self._path} is locked by another program")

    def close(self) -> None:
        """Give the lock back (normal end of the program)."""
        if self._stream is not None:
            self._stream.close()
            self._stream = None
            with contextlib.suppress(OSError):
                self._path.unlink()

    def __enter__(self) -> Session:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, bad: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()


def _lock(stream: IO[bytes]) -> bool:
    try:
        if sys.platform == "win32":
            import msvcrt

            msvcrt.locking(stream.fileno(), msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(stream.fileno(), fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True


def _running(session_id: str, state: Path | None) -> bool:
    """Whether the session's editor still runs: its lock cannot be taken."""
    path = _root(state) / "sessions" / f"{session_id}.lock"
    try:
        with open(path, "rb+") as stream:
            return not _lock(stream)
    except FileNotFoundError:
        return False
    except OSError:
        return True


@dataclass(frozen=True)
class RecoveryCopy:
    """One recovery copy, read from its header without opening the drawing.

    ``document``: id of the document; ``original``: path of its saved file, "" when it never was saved. ``saved_utc``: when
    the copy was made. ``changes``: steps since the last save. ``counts``: what is in it, for the list ("3 panels, 41
    circuits"). ``orphaned``: its editor does not run any more. ``readable``: whether it can be opened. ``opened_sha256``:
    SHA-256 of the saved file as the editor last opened or saved it, "" when that is not known.
    """

    path: Path
    document: str
    session: str
    original: str
    title: str
    saved_utc: str
    changes: int
    counts: str
    orphaned: bool
    readable: bool = True
    opened_sha256: str = ""

    @property
    def fingerprint(self) -> Fingerprint:
        """What the saved file was for the editor that made the copy. Where that is not known, no file is the same."""
        return Fingerprint.known_by(self.opened_sha256)


def snapshot(
    drawing: Drawing,
    document: str,
    session: Session,
    saved_utc: str,
    original: str | Path | None = None,
    changes: int = 0,
    opened: Fingerprint | None = None,
) -> Path:
    """Keep a recovery copy of a drawing; the session's older copy of the same document is replaced.

    ``document``: ``document_id(path)``, or any id of letters and digits for a drawing that was never saved. ``opened``: what
    the original was when it was opened or last saved, to see after a crash whether somebody changed it. Writes whatever is
    there, even values that a saved file refuses. Raises ``CannotSave``.
    """
    about: dict[str, Any] = {
        "document": document, "session": session.id, "original": str(original or ""), "changes": changes,
        "title": drawing.project.title, "counts": counts_of(drawing), "opened_sha256": opened.sha256 if opened else "",
    }  # fmt: skip
    if left_out := drawing.extra.get(EXTRA_LEFT_OUT):
        said = [{name: getattr(p, name) for name in _SAID} for p in left_out.problems]
        about["left_out"] = {"sha256": left_out.sha256, "problems": said}
    more = {"recovery": about}
    folder = _root(session.state) / document
    path = folder / f"{session.id}.snap"
    try:
        data = to_bytes(drawing, saved_utc, more)
        folder.mkdir(parents=True, exist_ok=True)
    except (OSError, ValueError) as bad:
        why = f"{bad}."
        raise CannotSave(Problem("No recovery copy was made", str(path), why, "Save the drawing now.")) from bad
    replace_file(path, data)
    return path


def counts_of(drawing: Drawing) -> str:
    """What is in a drawing, in a few words."""
    panels = list(drawing.of(Bus))
    circuits = sum(len(p.circuits) for p in panels)
    sources = Counter(item.kind in SOURCE_KINDS for item in drawing.items.values())[True]
    words = ((len(drawing), "item"), (sources, "source"), (len(panels), "panel"), (circuits, "circuit"))
    return ", ".join(f"{n} {word}{'' if n == 1 else 's'}" for n, word in words)


def recovery_copies(state: Path | None = None) -> list[RecoveryCopy]:
    """All recovery copies, newest first; those that cannot be read are in it too, marked."""
    found = []
    with contextlib.suppress(OSError):
        for path in sorted(_root(state).glob("*/*.snap")):
            found.append(_describe(path, state))
    return sorted(found, key=lambda copy: copy.saved_utc, reverse=True)


def _describe(path: Path, state: Path | None) -> RecoveryCopy:
    session = path.stem
    orphaned = not _running(session, state)
    try:
        opened = read_drawing(path)
    except CannotOpen:
        return RecoveryCopy(path, path.parent.name, session, "", "", "", 0, "", orphaned, readable=False)
    about = opened.header.get("recovery")
    about = about if isinstance(about, dict) else {}
    changes = about.get("changes")
    return RecoveryCopy(
        path=path,
        document=path.parent.name,
        session=session,
        original=str(about.get("original", "")),
        title=opened.drawing.project.title,
        saved_utc=str(opened.header.get("saved_utc", "")),
        changes=changes if isinstance(changes, int) else 0,
        counts=counts_of(opened.drawing),
        orphaned=orphaned,
        opened_sha256=_text(about.get("opened_sha256")),
    )


def load_copy(copy: RecoveryCopy | Path) -> Opened:
    """Open a recovery copy. Raises ``CannotOpen``; then the next older saved version is the thing to offer.

    What its editor had left out of the saved file is known again, so that the first save asks about it.
    """
    opened = read_drawing(copy.path if isinstance(copy, RecoveryCopy) else copy)
    about = opened.header.get("recovery")
    said = about.get("left_out") if isinstance(about, dict) else None
    if not isinstance(said, dict) or not isinstance(said.get("problems"), list):
        return opened
    problems = tuple(_problem(one) for one in said["problems"] if isinstance(one, dict))
    extra = {**opened.drawing.extra, EXTRA_LEFT_OUT: LeftOut(_text(said.get("sha256")), problems)}
    return replace(opened, drawing=replace(opened.drawing, extra=MappingProxyType(extra)))


def _problem(raw: dict[str, Any]) -> Problem:
    what, where, why, what_to_do, item = (_text(raw.get(name)) for name in _SAID)
    return Problem(what, where, why, what_to_do, item, loses=True)


def _text(value: Any) -> str:
    return value if isinstance(value, str) else ""


def discard(copy: RecoveryCopy | Path) -> None:
    """Remove a recovery copy for good: the user said so, or the drawing was saved."""
    path = copy.path if isinstance(copy, RecoveryCopy) else copy
    with contextlib.suppress(OSError):
        os.unlink(path)
    with contextlib.suppress(OSError):
        os.rmdir(path.parent)
