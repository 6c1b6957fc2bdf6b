"""Loading the bytes of a file, and telling later whether it is still the same."""

from __future__ import annotations

import hashlib
import os
import stat
from dataclasses import dataclass
from pathlib import Path

from oneline.files.problems import CannotOpen, Problem

#: Files larger than this are refused before they are read.
MAX_BYTES = 50_000_000


@dataclass(frozen=True)
class Fingerprint:
    """What a file was when it was read or written: size in bytes, time of change, file number, SHA-256 of the content."""

    size: int
    mtime_ns: int
    inode: int
    sha256: str

    @classmethod
    def of(cls, data: bytes, status: os.stat_result | None = None) -> Fingerprint:
        mtime, inode = (status.st_mtime_ns, status.st_ino) if status else (0, 0)
        return cls(len(data), mtime, inode, hashlib.sha256(data).hexdigest())

    @classmethod
    def known_by(cls, sha256: str) -> Fingerprint:
        """Of a file of which only the content's SHA-256 is known; "" when not even that: then no file is the same."""
        return cls(0, 0, 0, sha256)


def load(source: str | Path | bytes) -> tuple[bytes, Fingerprint, bool, str]:
    """Bytes, fingerprint, whether the file or its folder cannot be written, and a name for messages."""
    if isinstance(source, bytes):
        if len(source) > MAX_BYTES:
            raise _too_large("the data", len(source))
        return source, Fingerprint.of(source), False, "the data"
    path = Path(source)
    name = path.name or str(path)
    try:
        status = path.stat()
        if not stat.S_ISREG(status.st_mode):
            kind = "a folder" if stat.S_ISDIR(status.st_mode) else "not a plain file"
            raise CannotOpen(Problem("This cannot be opened", str(path), f"It is {kind}.", "Choose a drawing."))
        if status.st_size > MAX_BYTES:
            raise _too_large(name, status.st_size)
        with open(path, "rb") as stream:
            data = stream.read(MAX_BYTES + 1)
            status = os.fstat(stream.fileno())
    except FileNotFoundError:
        why = "There is no file of this name."
        raise CannotOpen(Problem("The file was not found", str(path), why, "Check the name and the folder.")) from None
    except (OSError, ValueError) as bad:
        why = f"The system says: {getattr(bad, 'strerror', None) or bad}."
        todo = "Check that the drive is connected and that you may read the file."
        raise CannotOpen(Problem("The file cannot be read", str(path), why, todo)) from None
    if len(data) > MAX_BYTES:
        raise _too_large(name, len(data))
    read_only = not (os.access(path, os.W_OK) and os.access(path.resolve().parent, os.W_OK))
    return data, Fingerprint.of(data, status), read_only, name


def changed_outside(path: str | Path, known: Fingerprint) -> bool:
    """Whether the file's content is not what it was; true also when it is gone. Compares content, not only times."""
    try:
        return Fingerprint.of(Path(path).read_bytes()).sha256 != known.sha256
    except OSError:
        return True


def _too_large(name: str, size: int) -> CannotOpen:
    why = f"It has {size / 1e6:.0f} MB; drawings up to {MAX_BYTES / 1e6:.0f} MB are opened."
    return CannotOpen(Problem("The file is too large", name, why, "Check that it is a drawing."))
