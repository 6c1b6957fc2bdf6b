"""Earlier versions: before a file is replaced, the old one is kept in the program's own folder."""

from __future__ import annotations

import contextlib
import os
import shutil
import time
from datetime import UTC, datetime
from pathlib import Path

from oneline.files.places import document_id, state_folder

#: Newest versions always kept; older ones are thinned out to one an hour, then one a day, up to 30 days.
KEEP_NEWEST = 10
KEEP_DAYS = 30
KEEP_MOST = 20
KEEP_BYTES = 200_000_000


def earlier_versions(path: str | Path, state: Path | None = None) -> list[Path]:
    """Kept versions of a file, newest first. Their names begin with the time (UTC) at which they were kept."""
    folder = _folder(path, state)
    try:
        return sorted((p for p in folder.iterdir() if p.suffix == ".oneline"), reverse=True)
    except OSError:
        return []


def keep_version(path: Path, state: Path | None = None) -> Path:
    """Keep the present content of a file. Raises ``OSError``. Returns where it is."""
    folder = _folder(path, state)
    folder.mkdir(parents=True, exist_ok=True)
    stamp = datetime.now(UTC).strftime("%Y%m%dT%H%M%S.%f")
    kept = folder / f"{stamp}.oneline"
    try:
        os.link(path, kept)
    except OSError:
        shutil.copyfile(path, kept)
    return kept


def thin_out(path: str | Path, state: Path | None = None, now: float | None = None) -> None:
    """Remove versions that nobody needs any more: newest ten, then one an hour for a day, one a day for a month."""
    now = time.time() if now is None else now
    seen: set[str] = set()
    kept = total = 0
    for n, version in enumerate(earlier_versions(path, state)):
        with contextlib.suppress(OSError, ValueError):
            made = datetime.strptime(version.stem, "%Y%m%dT%H%M%S.%f").replace(tzinfo=UTC).timestamp()
            age_h = (now - made) / 3600
            size = version.stat().st_size
            slot = version.stem[:11] if age_h <= 24 else version.stem[:8]
            wanted = n < KEEP_NEWEST or (slot not in seen and age_h <= 24 * KEEP_DAYS and kept < KEEP_MOST)
            if n > 0 and (not wanted or total + size > KEEP_BYTES):
                version.unlink()
                continue
            seen.add(slot)
            kept += 1
            total += size


def _folder(path: str | Path, state: Path | None) -> Path:
    return (state or state_folder()) / "versions" / document_id(path)
