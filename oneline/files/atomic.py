"""Replacing a file so that afterwards either all of the new content is there or the old file is as it was.

Every call that can fail goes through ``os`` or ``open`` by name, so that tests can make each of them fail in turn.
"""

from __future__ import annotations

import contextlib
import errno
import hashlib
import os
import re
import shutil
import sys
import time
import uuid
from collections.abc import Callable
from pathlib import Path

from oneline.files.fingerprint import Fingerprint
from oneline.files.problems import CannotSave, Problem

#: Windows refuses a replace while a virus scanner or a sync client holds the file: these codes are worth another try.
_RETRY_WINERRORS = (5, 32, 33)
_RETRY_SECONDS = (0.05, 0.1, 0.2, 0.4, 0.75, 1.0)
_STALE_SECONDS = 3600
_DEAD_SECONDS = 10

_CAUSES = {
    errno.ENOSPC: ("The disk is full.", "Free some space, or save a copy on another drive."),
    errno.EDQUOT: ("Your quota on this drive is used up.", "Free some space, or save a copy on another drive."),
    errno.EACCES: ("You may not write there.", "Save a copy in another folder."),
    errno.EPERM: ("You may not write there.", "Save a copy in another folder."),
    errno.EROFS: ("The drive is write-protected.", "Save a copy on another drive."),
    errno.EIO: ("The drive reported a fault.", "Save a copy on another drive at once."),
    errno.ETIMEDOUT: ("The drive does not answer.", "Check the network, or save a copy on this computer."),
    errno.ENAMETOOLONG: ("The name is too long for this drive.", "Choose a shorter name."),
}


def cannot_save(path: Path, bad: BaseException | str, what: str = "The drawing") -> CannotSave:
    """The message of a failed save: the cause in plain words and the next step. The old file is untouched."""
    why, todo = "", "Save a copy in another folder."
    if isinstance(bad, OSError) and bad.errno == errno.ENOENT and not path.parent.exists():
        why, todo = f"The folder {path.parent} does not exist.", "Make it or choose another."
    elif isinstance(bad, OSError):
        why, todo = _CAUSES.get(bad.errno or 0, (f"The system says: {bad.strerror or bad}.", todo))
    elif isinstance(bad, MemoryError):
        why, todo = "The computer ran out of memory.", "Close other programs and save again."
    else:
        why = str(bad)
    return CannotSave(Problem(f"{what} was not saved", str(path), f"{why} The file is as it was before.", todo))


def replace_file(
    path: Path, data: bytes, keep_old: Callable[[Path], Path | None] | None = None, what: str = "The drawing"
) -> Fingerprint:
    """Make ``data`` the content of ``path``. Raises ``CannotSave``; then the old file is untouched and no rest remains.

    ``keep_old`` is called with the path before the old file gives way, to keep it as an earlier version; it returns where
    that is (removed again when the save fails after all), or raises to call the save off. ``what``: what is
    saved, for the message.
    """
    target = Path(os.path.realpath(path))
    temporary: Path | None = None
    kept: Path | None = None
    try:
        _check_writable(target)
        _check_space(target.parent, len(data))
        temporary = _write_beside(target, data)
        _verify(temporary, data)
        if keep_old is not None and target.exists():
            kept = keep_old(target)
        _replace(temporary, target)
    except BaseException as bad:
        for rest in (temporary, kept):
            if rest is not None:
                with contextlib.suppress(OSError):
                    os.unlink(rest)
        if isinstance(bad, OSError | MemoryError):
            raise cannot_save(path, bad, what) from bad
        raise
    _sync_folder(target.parent)
    remove_stale(target)
    try:
        return Fingerprint.of(data, os.stat(target))
    except OSError:
        return Fingerprint.of(data)


def _check_writable(target: Path) -> None:
    if target.exists() and not os.access(target, os.W_OK):
        raise OSError(errno.EACCES, os.strerror(errno.EACCES))
    if target.is_dir():
        raise OSError(errno.EISDIR, "there is a folder of this name")


def _check_space(folder: Path, size: int) -> None:
    try:
        free = shutil.disk_usage(folder).free
    except OSError:
        return  # not every drive can tell; the checks below still notice
    if free < 2 * size + 1_000_000:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


def _write_beside(target: Path, data: bytes) -> Path:
    """A new file in the same folder with the data, on the disk and with the old file's permissions."""
    name = f".{target.name}.{os.getpid()}-{uuid.uuid4().hex[:8]}.tmp"
    temporary = target.with_name(name)
    flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0) | getattr(os, "O_CLOEXEC", 0)
    handle = os.open(temporary, flags, 0o666)
    try:
        try:
            view = memoryview(data)
            while view:
                count = os.write(handle, view)
                if count <= 0:
                    raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
                view = view[count:]
            if target.exists() and hasattr(os, "fchmod"):
                os.fchmod(handle, os.stat(target).st_mode & 0o7777)
            os.fsync(handle)
        finally:
            os.close(handle)
    except BaseException:
        with contextlib.suppress(OSError):
            os.unlink(temporary)
        raise
    return temporary


def _verify(temporary: Path, data: bytes) -> None:
    """Read back what was written: some drives report success and keep less."""
    with open(temporary, "rb") as stream:
        found = stream.read()
    if len(found) != len(data) or hashlib.sha256(found).digest() != hashlib.sha256(data).digest():
        raise OSError(errno.EIO, os.strerror(errno.EIO))


def _replace(temporary: Path, target: Path) -> None:
    for wait in (*_RETRY_SECONDS, None):
        try:
            os.replace(temporary, target)
            return
        except OSError as bad:
            if wait is None or getattr(bad, "winerror", None) not in _RETRY_WINERRORS:
                raise
            time.sleep(wait)


def _sync_folder(folder: Path) -> None:
    """Put the new name on the disk. The content is there already, so a failure here loses nothing that was promised."""
    if sys.platform == "win32":
        return
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def remove_stale(target: Path) -> int:
    """Remove temporary files that a crash left beside a document. Returns how many were removed."""
    pattern = re.compile(re.escape(f".{target.name}.") + r"(\d+)-[0-9a-f]{8}\.tmp")
    removed = 0
    with contextlib.suppress(OSError):
        for entry in os.scandir(target.parent):
            found = pattern.fullmatch(entry.name)
            if found is None:
                continue
            with contextlib.suppress(OSError):
                age = time.time() - entry.stat(follow_symlinks=False).st_mtime
                if age > _STALE_SECONDS or (age > _DEAD_SECONDS and not _alive(int(found.group(1)))):
                    os.unlink(entry.path)
                    removed += 1
    return removed


def _alive(pid: int) -> bool:
    """Whether a process of this number runs here; true when nobody can say."""
    if sys.platform == "win32":
        return True
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    except (OSError, OverflowError):
        return True
    return True
