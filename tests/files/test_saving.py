"""Saving: afterwards there is either the whole new file or the old one as it was, whatever goes wrong on the way.

The ways to fail are those of the operating system: calls that report an error, writes that take fewer bytes than they were
given, drives that keep less than they said, the process killed at any moment.
"""

from __future__ import annotations

import errno
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from types import MappingProxyType
from typing import Any

import pytest

from oneline.files import (
    CannotSave,
    ChangedOutside,
    atomic,
    changed_outside,
    checked_bytes,
    earlier_versions,
    read_drawing,
    versions,
    write_drawing,
)
from oneline.model import KINDS, Drawing, Load

UTC = "2026-03-31T14:05:00Z"


def a_drawing(name: str, count: int = 3) -> Drawing:
    items = {f"load{n}": Load(id=f"load{n}", name=f"{name} {n}", va=100.0 * n) for n in range(1, count + 1)}
    return Drawing(items=MappingProxyType(items), next_number=count + 1)


OLD, NEW = a_drawing("Old"), a_drawing("New", 40)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    target = tmp_path / "house" / "service.oneline"
    target.parent.mkdir()
    write_drawing(OLD, target, UTC, state=tmp_path / "state")
    return target


def old_or_new(path: Path) -> str:
    data = path.read_bytes()
    if data == checked_bytes(OLD, UTC):
        return "old"
    assert data == checked_bytes(NEW, UTC), "neither the old nor the new file"
    return "new"


def test_saving_replaces_and_keeps_the_earlier_version(path: Path, tmp_path: Path) -> None:
    state = tmp_path / "state"
    path.chmod(0o640)
    saved = write_drawing(NEW, path, UTC, state=state)
    assert old_or_new(path) == "new"
    assert path.stat().st_mode & 0o777 == 0o640
    assert [p.name for p in path.parent.iterdir()] == [path.name]
    assert saved.earlier is not None
    assert saved.notes == ()
    assert saved.earlier.read_bytes() == checked_bytes(OLD, UTC)
    assert earlier_versions(path, state) == [saved.earlier]
    assert not changed_outside(path, saved.fingerprint)
    # A file of the same name in another folder has its own versions.
    assert earlier_versions(tmp_path / "service.oneline", state) == []


def test_through_a_link_the_real_file_is_replaced(path: Path, tmp_path: Path) -> None:
    link = tmp_path / "link.oneline"
    link.symlink_to(path)
    write_drawing(NEW, link, UTC, state=tmp_path / "state")
    assert link.is_symlink()
    assert old_or_new(path) == "new"


def test_what_no_file_can_hold_is_refused_by_name(path: Path, tmp_path: Path) -> None:
    cases: list[tuple[Drawing, str]] = [
        (OLD.with_items([Load(id="load1", name="Pump", va=float("nan"))]), "nan"),
        (OLD.with_items([Load(id="load1", name="Pump", va=-5.0)]), "Pump"),
        (OLD.with_items([Load(id="load1", name="x" * 201)]), "200 are possible"),
        (OLD.with_items([KINDS["joint"](id="joint9", a=None, b=None)]), "joint9"),
        (replace(OLD, next_number=2.5), "count of items"),  # type: ignore[arg-type]
        (replace(OLD, extra=MappingProxyType({"top": {"x": object()}})), "no file can hold"),
    ]
    for drawing, words in cases:
        with pytest.raises(CannotSave, match=words):
            write_drawing(drawing, path, UTC, state=tmp_path / "state")
        assert old_or_new(path) == "old"
    with pytest.raises(CannotSave, match="2026-03-31T14:05:00Z"):
        write_drawing(OLD, path, "yesterday", state=tmp_path / "state")


def test_a_fault_of_the_serializer_is_found_before_the_disk_is_touched(
    path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import oneline.files.serialize as serialize

    before = path.read_bytes()
    good = serialize.item_record
    monkeypatch.setattr(serialize, "item_record", lambda item: {**good(item), "va": 1})
    with pytest.raises(CannotSave, match="it was not the same drawing"):
        write_drawing(NEW, path, UTC, state=tmp_path / "state")
    assert path.read_bytes() == before


# ------------------------------------------------------------------------------------------------------ somebody else
def test_every_change_from_outside_is_noticed(path: Path, tmp_path: Path) -> None:
    """Same size, same time, same file number: only the content tells."""
    opened = read_drawing(path)
    data = path.read_bytes()
    status = path.stat()
    for n in range(200):
        position = data.index(b"Old") + n % 3
        other = data[:position] + bytes([data[position] ^ (1 + n // 3 % 7)]) + data[position + 1 :]
        with open(path, "r+b") as stream:
            stream.write(other)
        os.utime(path, ns=(status.st_atime_ns, status.st_mtime_ns))
        assert changed_outside(path, opened.fingerprint)
        with pytest.raises(ChangedOutside) as refused:
            write_drawing(NEW, path, UTC, opened.fingerprint, state=tmp_path / "state")
        assert "Save yours as a copy" in str(refused.value)
        assert path.read_bytes() == other
    path.write_bytes(data)
    write_drawing(NEW, path, UTC, opened.fingerprint, state=tmp_path / "state")
    assert old_or_new(path) == "new"


def test_saving_again_after_saving(path: Path, tmp_path: Path) -> None:
    saved = write_drawing(NEW, path, UTC, read_drawing(path).fingerprint, state=tmp_path / "state")
    saved = write_drawing(OLD, path, UTC, saved.fingerprint, state=tmp_path / "state")
    assert old_or_new(path) == "old"
    path.unlink()
    write_drawing(NEW, path, UTC, saved.fingerprint, state=tmp_path / "state")
    assert old_or_new(path) == "new"


# --------------------------------------------------------------------------------------------------------- fault loops
CALLS = ("open", "write", "fsync", "close", "replace", "stat", "fchmod", "link", "unlink")


@contextmanager
def failing(nth: int, make: Callable[[], OSError], persistent: bool) -> Iterator[list[str]]:
    """Make the ``nth`` call of the system fail (and all after it, when persistent). Yields the calls that were made."""
    made: list[str] = []
    real = {name: getattr(os, name) for name in CALLS}

    def wrap(name: str) -> Callable[..., Any]:
        def call(*args: Any, **kwargs: Any) -> Any:
            made.append(name)
            count = len(made)
            if (count == nth or (persistent and count > nth)) and name != "close":
                raise make()
            return real[name](*args, **kwargs)

        return call

    for name in CALLS:
        setattr(os, name, wrap(name))
    try:
        yield made
    finally:
        for name in CALLS:
            setattr(os, name, real[name])


ERRORS: list[Callable[[], OSError]] = [
    lambda: OSError(errno.ENOSPC, "No space left on device"),
    lambda: OSError(errno.EIO, "Input/output error"),
    lambda: PermissionError(errno.EACCES, "Permission denied"),
    lambda: OSError(errno.EDQUOT, "Disk quota exceeded"),
    lambda: OSError(errno.EROFS, "Read-only file system"),
    lambda: InterruptedError(errno.EINTR, "Interrupted system call"),
    lambda: FileNotFoundError(errno.ENOENT, "No such file or directory"),
    lambda: TimeoutError(errno.ETIMEDOUT, "Connection timed out"),
]


@pytest.mark.parametrize("persistent", [False, True])
@pytest.mark.parametrize("error", ERRORS, ids=["NOSPC", "IO", "ACCES", "DQUOT", "ROFS", "INTR", "NOENT", "TIMEDOUT"])
def test_every_system_call_may_fail(
    path: Path, tmp_path: Path, error: Callable[[], OSError], persistent: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(atomic, "_RETRY_SECONDS", ())
    state = tmp_path / "state"
    outcomes = set()
    for nth in range(1, 60):
        path.write_bytes(checked_bytes(OLD, UTC))
        saved = refused = None
        with failing(nth, error, persistent) as made:
            try:
                saved = write_drawing(NEW, path, UTC, state=state)
            except CannotSave as bad:
                refused = bad.problem
        now = old_or_new(path)
        if refused is not None:
            assert now == "old"
            assert refused.why
            assert refused.what_to_do
        else:
            assert now == "new"
            assert saved is not None
        outcomes.add(now)
        rest = [p for p in path.parent.iterdir() if p != path]
        if not persistent:
            assert rest == [], "a single failure leaves nothing behind"
        for p in rest:
            p.unlink()
        if len(made) < nth:
            break
    else:
        pytest.fail("the save makes more calls than were tried")
    assert nth > 8, "the calls were not reached"
    assert outcomes == {"old", "new"}


@pytest.mark.parametrize("pattern", [(1,), (7,), (4096,), (100, 0), (1, 1, 0), (50, 3, 0)])
def test_short_writes(path: Path, tmp_path: Path, pattern: tuple[int, ...], monkeypatch: pytest.MonkeyPatch) -> None:
    """A write may take less than it was given; a disk that is full takes nothing more."""
    real = os.write
    turns = list(pattern)

    def write(handle: int, data: Any) -> int:
        most = turns.pop(0) if len(turns) > 1 else turns[0]
        return real(handle, bytes(data)[:most]) if most else 0

    monkeypatch.setattr(os, "write", write)
    full = pattern[-1] == 0
    if full:
        with pytest.raises(CannotSave, match="The disk is full"):
            write_drawing(NEW, path, UTC, state=tmp_path / "state")
    else:
        write_drawing(NEW, path, UTC, state=tmp_path / "state")
    assert old_or_new(path) == ("old" if full else "new")
    assert [p.name for p in path.parent.iterdir()] == [path.name]


def test_a_drive_that_keeps_less_than_it_says(path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    real = os.write

    def write(handle: int, data: Any) -> int:
        real(handle, bytes(data)[: len(data) // 2])
        return len(data)

    monkeypatch.setattr(os, "write", write)
    with pytest.raises(CannotSave, match="The drive reported a fault"):
        write_drawing(NEW, path, UTC, state=tmp_path / "state")
    assert old_or_new(path) == "old"


def test_a_nearly_full_drive_is_not_even_tried(path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    class Usage:
        free = 900_000

    monkeypatch.setattr(atomic.shutil, "disk_usage", lambda folder: Usage)
    with pytest.raises(CannotSave, match="The disk is full"):
        write_drawing(NEW, path, UTC, state=tmp_path / "state")
    assert old_or_new(path) == "old"


def test_out_of_memory(path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def write(handle: int, data: Any) -> int:
        raise MemoryError

    monkeypatch.setattr(os, "write", write)
    with pytest.raises(CannotSave, match="ran out of memory"):
        write_drawing(NEW, path, UTC, state=tmp_path / "state")
    assert old_or_new(path) == "old"


@pytest.mark.parametrize(("code", "times", "saved"), [(5, 2, True), (32, 3, True), (33, 99, False), (1, 1, False)])
def test_a_file_held_by_another_program_on_windows(
    path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, code: int, times: int, saved: bool
) -> None:
    real = os.replace
    tries = []

    def replace_call(source: Any, target: Any) -> None:
        tries.append(1)
        if len(tries) <= times:
            bad = PermissionError(errno.EACCES, "Access is denied")
            bad.winerror = code  # type: ignore[attr-defined]
            raise bad
        real(source, target)

    waits: list[float] = []
    monkeypatch.setattr(os, "replace", replace_call)
    monkeypatch.setattr(atomic.time, "sleep", waits.append)
    if saved:
        write_drawing(NEW, path, UTC, state=tmp_path / "state")
    else:
        with pytest.raises(CannotSave):
            write_drawing(NEW, path, UTC, state=tmp_path / "state")
    assert old_or_new(path) == ("new" if saved else "old")
    assert sum(waits) <= 2.6
    assert earlier_versions(path, tmp_path / "state") == (
        [] if not saved else earlier_versions(path, tmp_path / "state")
    )


def test_a_folder_or_a_missing_folder(tmp_path: Path) -> None:
    (tmp_path / "folder.oneline").mkdir()
    for target in (tmp_path / "folder.oneline", tmp_path / "gone" / "x.oneline"):
        with pytest.raises(CannotSave) as refused:
            write_drawing(NEW, target, UTC, state=tmp_path / "state")
        assert str(target) in refused.value.problem.where


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write everywhere")
def test_write_protected(path: Path, tmp_path: Path) -> None:
    path.chmod(0o444)
    assert read_drawing(path).read_only
    with pytest.raises(CannotSave, match="You may not write there"):
        write_drawing(NEW, path, UTC, state=tmp_path / "state")
    path.chmod(0o644)
    path.parent.chmod(0o555)
    try:
        assert read_drawing(path).read_only
        with pytest.raises(CannotSave, match="You may not write there"):
            write_drawing(NEW, path, UTC, state=tmp_path / "state")
    finally:
        path.parent.chmod(0o755)
    assert old_or_new(path) == "old"


def test_write_protected_as_the_system_reports_it(path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "access", lambda *args, **kwargs: False)
    assert read_drawing(path).read_only
    with pytest.raises(CannotSave, match="You may not write there"):
        write_drawing(NEW, path, UTC, state=tmp_path / "state")
    assert old_or_new(path) == "old"


# -------------------------------------------------------------------------------------------------------------- killed
_KILLED = """
import sys
from pathlib import Path
from types import MappingProxyType
from oneline.files import write_drawing
from oneline.model import Drawing, Load
def a(name, count):
    items = {f"load{n}": Load(id=f"load{n}", name=f"{name} {n}", va=100.0 * n) for n in range(1, count + 1)}
    return Drawing(items=MappingProxyType(items), next_number=count + 1)
both = (a("Old", 3), a("New", 40))
path, state = Path(sys.argv[1]), Path(sys.argv[2])
print("ready", flush=True)
n = 0
while True:
    n += 1
    write_drawing(both[n % 2], path, "2026-03-31T14:05:00Z", state=state)
"""


def test_killed_while_saving(path: Path, tmp_path: Path) -> None:
    """SIGKILL at an arbitrary moment of a tight loop of saves: the file is always the old or the new one."""
    rounds = int(os.environ.get("ONELINE_KILLS", "12"))
    strays = 0
    for n in range(rounds):
        child = subprocess.Popen(
            [sys.executable, "-c", _KILLED, str(path), str(tmp_path / "state")], stdout=subprocess.PIPE
        )
        assert child.stdout is not None
        child.stdout.readline()
        time.sleep(0.002 + 0.0037 * n % 0.03)
        child.send_signal(signal.SIGKILL)
        child.wait()
        child.stdout.close()
        assert old_or_new(path) in ("old", "new")
        assert read_drawing(path).problems == ()
        left = [p for p in path.parent.iterdir() if p != path]
        strays += len(left)
        assert len(left) <= 1 + n
        for p in left:  # as the next save finds them some time later
            os.utime(p, (time.time() - 60, time.time() - 60))
        write_drawing(OLD, path, UTC, state=tmp_path / "state")
        assert [p for p in path.parent.iterdir() if p != path] == []


def test_temporary_files_of_running_programs_are_left_alone(path: Path, tmp_path: Path) -> None:
    mine = path.with_name(f".{path.name}.{os.getpid()}-01234567.tmp")
    other = path.with_name(".another.oneline.999999999-01234567.tmp")
    odd = path.with_name(f".{path.name}.notours.tmp")
    for p in (mine, other, odd):
        p.write_bytes(b"x")
        os.utime(p, (time.time() - 60, time.time() - 60))
    write_drawing(NEW, path, UTC, state=tmp_path / "state")
    assert mine.exists()
    assert other.exists()
    assert odd.exists()


# ---------------------------------------------------------------------------------------------------- earlier versions
def test_earlier_versions_are_thinned_out(path: Path, tmp_path: Path) -> None:
    from datetime import UTC as ZONE
    from datetime import datetime, timedelta

    state = tmp_path / "state"
    folder = versions.keep_version(path, state).parent
    for p in folder.iterdir():
        p.unlink()
    now = datetime(2026, 3, 31, 12, 30, tzinfo=ZONE)
    ages = [timedelta(minutes=3 * k) for k in range(40)] + [
        timedelta(days=d, hours=h) for d in range(1, 45) for h in (0, 1)
    ]
    for age in ages:
        (folder / f"{(now - age).strftime('%Y%m%dT%H%M%S.%f')}.oneline").write_bytes(b"x" * 1000)
    versions.thin_out(path, state, now.timestamp())
    kept = earlier_versions(path, state)
    assert len(kept) <= versions.KEEP_MOST
    newest = sorted(((now - a).strftime("%Y%m%dT%H%M%S.%f") for a in ages), reverse=True)
    assert [p.stem for p in kept[:10]] == newest[:10]
    days = [p.stem[:8] for p in kept[10:] if p.stem[:8] < "20260330"]
    assert len(days) == len(set(days)), "one a day"
    assert len(days) >= 5
    assert min(p.stem for p in kept) > "20260228"


def test_a_version_that_cannot_be_kept_does_not_stop_the_save(
    path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    blocked = tmp_path / "blocked"
    blocked.write_text("a file where a folder is needed")
    saved = write_drawing(NEW, path, UTC, state=blocked)
    assert old_or_new(path) == "new"
    assert saved.earlier is None
    assert "could not be kept" in saved.notes[0].what
