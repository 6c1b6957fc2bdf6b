"""The document behind the window: new, open, save, recent files, and the recovery copy that is kept after every change."""

from __future__ import annotations

import uuid
from datetime import UTC, datetime
from pathlib import Path

from PySide6.QtCore import QObject, QSettings, QTimer, Signal
from PySide6.QtWidgets import QWidget

from oneline.assets import sample
from oneline.desk import ask
from oneline.files import (
    CannotSave,
    ChangedOutside,
    FileTrouble,
    Fingerprint,
    LeavesOut,
    Opened,
    read_drawing,
    recovery,
    write_drawing,
)
from oneline.model import Drawing
from oneline.session import Session

#: Files remembered in the menu.
RECENT = 10
#: Milliseconds after the last change at which the recovery copy is written, and the longest wait during steady work.
SNAPSHOT_MS = 1200
SAMPLE = "cannery.oneline"


def utc_now() -> str:
    """The present time as it stands in files."""
    return datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


class Documents(QObject):
    """Opens and saves for one window. ``changed``: title, recent files or the saved time are different."""

    changed = Signal()
    said = Signal(str)

    def __init__(
        self, session: Session, settings: QSettings, window: QWidget, keeper: recovery.Session | None = None
    ) -> None:
        super().__init__(window)
        self._session = session
        self._settings = settings
        self._window = window
        self._keeper = keeper
        self._fingerprint: Fingerprint | None = None
        self._document = uuid.uuid4().hex[:16]
        self._copy: Path | None = None
        self._changes = 0
        self._label = ""
        self.saved_at: datetime | None = None
        self.copied_at: datetime | None = None
        self._timer = QTimer(self, singleShot=True, interval=SNAPSHOT_MS)
        self._timer.timeout.connect(lambda: self.keep_copy())
        self._stop = session.listen(self._heard)

    # --------------------------------------------------------------------------------------------------------- naming
    @property
    def name(self) -> str:
        """The drawing's name for the title bar and for questions."""
        return self._session.path.name if self._session.path else self._label or "Untitled"

    def recent(self) -> list[Path]:
        """Files opened or saved lately, newest first."""
        value = self._settings.value("recent", [])
        names = [value] if isinstance(value, str) else list(value) if isinstance(value, list | tuple) else []
        return [Path(str(n)) for n in names][:RECENT]

    def forget_recent(self) -> None:
        """Empty the list of recent files."""
        self._settings.setValue("recent", [])
        self.changed.emit()

    def _remember(self, path: Path) -> None:
        full = path.resolve()
        names = [full, *(p for p in self.recent() if p != full)]
        self._settings.setValue("recent", [str(p) for p in names[:RECENT]])
        self._settings.setValue("folder", str(full.parent))

    # -------------------------------------------------------------------------------------------------------- opening
    def may_leave(self) -> bool:
        """Ask about unsaved changes; returns whether the drawing may be closed."""
        if self._session.clean:
            return True
        answer = ask.unsaved(self._window, self.name)
        if answer == "save":
            return self.save()
        return answer == "discard"

    def new(self) -> bool:
        """Begin an empty drawing."""
        if not self.may_leave():
            return False
        self._take(Drawing(), None, None)
        return True

    def open(self, path: Path | None = None) -> bool:
        """Open a file (asked for when not given). What is wrong in it is said; the rest is opened."""
        if not self.may_leave():
            return False
        if path is None:
            path = ask.file_to_open(self._window, str(self._settings.value("folder", "")))
        return path is not None and self.load(path)

    def load(self, path: Path) -> bool:
        """Open a file without asking about the present drawing."""
        try:
            opened = read_drawing(path)
        except FileTrouble as bad:
            ask.trouble(self._window, bad)
            return False
        self._take(opened.drawing, path, opened.fingerprint)
        self._remember(path)
        self.changed.emit()
        if opened.problems:
            ask.show_problems(self._window, "Opened, with problems", list(opened.problems))
        self._say_about(path, opened)
        return True

    def _say_about(self, path: Path, opened: Opened) -> None:
        if opened.read_only:
            self.said.emit(f"{path.name} can be read but not written here. Save it under another name.")
        elif opened.newer:
            version = ".".join(map(str, opened.version))
            self.said.emit(
                f"{path.name} is from a newer version ({version}). What is not known here stays in the file."
            )

    def open_sample(self) -> bool:
        """Open the worked sample as an untitled copy."""
        return self.may_leave() and self.load_sample()

    def load_sample(self) -> bool:
        """Open the worked sample without asking about the present drawing."""
        try:
            path = sample(SAMPLE)
        except FileNotFoundError as missing:
            self.said.emit(str(missing))
            return False
        return self.load_copy(path, "Worked sample")

    def load_copy(self, path: Path, label: str) -> bool:
        """Open a file's content as a drawing without a file."""
        try:
            opened = read_drawing(path)
        except FileTrouble as bad:
            ask.trouble(self._window, bad)
            return False
        self._take(opened.drawing, None, None, label)
        return True

    def take_recovered(
        self, drawing: Drawing, original: str, label: str, fingerprint: Fingerprint | None = None
    ) -> None:
        """Show a recovered drawing: it belongs to its old file, and is not saved yet.

        ``fingerprint``: what the old file was when the session that ended had opened or saved it. If that is not known, the
        first save asks before it overwrites a file. What the file is now tells nothing: somebody may have written it since.
        """
        path = Path(original) if original else None
        self._take(Drawing(), None, None, label)
        self._session.apply("Recover the drawing", drawing)
        if path is not None:
            self._session.path = path
            self._document = recovery.document_id(path)
            self._fingerprint = fingerprint or Fingerprint.known_by("")
        self.changed.emit()

    def _take(self, drawing: Drawing, path: Path | None, fingerprint: Fingerprint | None, label: str = "") -> None:
        self._drop_copy()
        self._fingerprint = fingerprint
        self._document = recovery.document_id(path) if path else uuid.uuid4().hex[:16]
        self._label = label
        self._changes = 0
        self.saved_at = self.copied_at = None
        self._session.replace_document(drawing, path)
        self.changed.emit()

    # --------------------------------------------------------------------------------------------------------- saving
    def save(self) -> bool:
        """Save to the drawing's file; asks for one when it has none."""
        return self._write(self._session.path, self._fingerprint) if self._session.path else self.save_as()

    def save_as(self) -> bool:
        """Save to another file."""
        folder = self._session.path or Path(str(self._settings.value("folder", ""))) / "drawing.oneline"
        path = ask.file_to_save(self._window, str(folder))
        return path is not None and self._write(path, None)

    def _write(self, path: Path, expected: Fingerprint | None, leave_out: bool = False) -> bool:
        try:
            saved = write_drawing(self._session.drawing, path, utc_now(), expected, leave_out=leave_out)
        except ChangedOutside:
            answer = ask.changed_outside(self._window, path.name, expected is not None and bool(expected.sha256))
            if answer == "copy":
                return self.save_as()
            return answer == "replace" and self._write(path, None, leave_out)
        except LeavesOut as bad:
            answer = ask.left_out(self._window, path.name, bad.left_out)
            if answer == "copy":
                return self.save_as()
            return answer == "save" and self._write(path, expected, leave_out=True)
        except CannotSave as bad:
            ask.trouble(self._window, bad)
            return False
        self._drop_copy()
        self._fingerprint = saved.fingerprint
        self._document = recovery.document_id(path)
        self._changes = 0
        self._label = ""
        self.saved_at = datetime.now()
        self._remember(path)
        self._session.mark_saved(path)
        self.changed.emit()
        self.said.emit(f"Saved {path.name}." + "".join(f" {note}" for note in saved.notes))
        return True

    # ------------------------------------------------------------------------------------------------ recovery copies
    def _heard(self, kinds: frozenset[str]) -> None:
        if "drawing" in kinds and "file" not in kinds:
            self._changes += 1
            if self._session.clean:
                self._timer.stop()
                self._drop_copy()
            elif not self._timer.isActive():
                self._timer.start()

    def keep_copy(self) -> bool:
        """Write the recovery copy now, when there is something to lose. Returns whether there is one."""
        self._timer.stop()
        if self._keeper is None or self._session.clean:
            return False
        try:
            self._copy = recovery.snapshot(
                self._session.drawing, self._document, self._keeper, utc_now(), self._session.path, self._changes,
                self._fingerprint,
            )  # fmt: skip
            self.copied_at = datetime.now()
        except CannotSave as bad:
            self.said.emit(str(bad.problem))
            return False
        self.changed.emit()
        return True

    def _drop_copy(self) -> None:
        self._timer.stop()
        if self._copy is not None:
            recovery.discard(self._copy)
            self._copy = None
        self.copied_at = None

    def finish(self) -> None:
        """The window closes in the normal way: nothing is left behind."""
        self._drop_copy()
        self._stop()
