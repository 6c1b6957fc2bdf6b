"""Where the program keeps its own files on this machine. The only user of platformdirs."""

from __future__ import annotations

import hashlib
import os
from pathlib import Path


def state_folder() -> Path:
    """Folder for earlier versions and recovery copies. Not made here. ``ONELINE_STATE`` overrides it."""
    chosen = os.environ.get("ONELINE_STATE")
    if chosen:
        return Path(chosen)
    import platformdirs

    return Path(platformdirs.user_state_dir("oneline", appauthor=False))


def document_id(path: str | Path) -> str:
    """A name for a document by its full path: two files of the same name in different folders stay apart."""
    full = os.path.realpath(path)
    return hashlib.sha256(os.path.normcase(full).encode("utf-8", "surrogatepass")).hexdigest()[:16]
