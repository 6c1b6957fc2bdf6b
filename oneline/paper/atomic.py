"""A file appears whole or not at all, so that a full disk never leaves half a sheet under its name."""

from __future__ import annotations

import contextlib
import os
import tempfile
from os import PathLike
from pathlib import Path


def write_whole(path: str | PathLike[str], data: bytes) -> None:
    """Write bytes beside the file and put them in its place. Raises ``OSError``; the file before is kept then."""
    target = Path(path)
    handle, name = tempfile.mkstemp(prefix=f".{target.name}.", suffix=".part", dir=target.parent or ".")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        Path(name).chmod(target.stat().st_mode & 0o777 if target.exists() else 0o666 & ~_umask())
        Path(name).replace(target)
    except BaseException:
        with contextlib.suppress(OSError):
            Path(name).unlink()
        raise


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
