"""``oneline doctor``: what this machine has and lacks. Imports nothing heavy; looks everything up."""

from __future__ import annotations

import argparse
import json
import os
import platform
import sys
from dataclasses import asdict, dataclass
from importlib import metadata
from pathlib import Path

from oneline.assets import resource, sample
from oneline.cli import machine
from oneline.cli.main import GOOD, LACKING
from oneline.version import VERSION

#: Packages: what each is needed for.
_PACKAGES = {
    "numpy": "figures", "networkx": "the network as a graph, from Python", "pint": "typed quantities",
    "platformdirs": "earlier versions and recovery", "reportlab": "PDF", "pypdfium2": "PNG",
    "defusedxml": "usage data of utilities",
    "PySide6-Essentials": "the editor",
}  # fmt: skip
_SHIPPED = ("tables", "symbols", "schema")
_FONTS = ("/usr/share/fonts", "/usr/local/share/fonts", "~/.fonts", "~/.local/share/fonts")


@dataclass(frozen=True)
class Entry:
    """One line of the report: ``ok`` or not, what was found, what it is needed for, what to do when it is missing."""

    what: str
    ok: bool
    found: str
    needed_for: str = ""
    remedy: str = ""


def doctor(options: argparse.Namespace) -> int:
    """Print the report; exit code 3 when something is missing."""
    entries = examine()
    good = all(entry.ok for entry in entries)
    if options.json:
        print(json.dumps({"program": VERSION, "ok": good, "entries": [asdict(e) for e in entries]}, indent=1))
        return GOOD if good else LACKING
    print(f"Oneline {VERSION}")
    for entry in entries:
        use = f" (for {entry.needed_for})" if entry.needed_for else ""
        print(f"  {'has  ' if entry.ok else 'LACKS'}  {entry.what}: {entry.found}{use}")
        if not entry.ok and entry.remedy:
            print(f"         {entry.remedy}")
    missing = [e for e in entries if not e.ok]
    if not missing:
        print("Nothing is missing.")
    elif all(e.needed_for in ("the editor", "texts in the window") for e in missing):
        print(f"The editor cannot open here. {machine.WITHOUT_SCREEN}")
    return GOOD if good else LACKING


def examine() -> list[Entry]:
    """Look at everything, in the order of the report."""
    return [*_system(), *_packages(), *_shipped(), *_window(), _state()]


def _system() -> list[Entry]:
    version = platform.python_version()
    good = sys.version_info >= (3, 11)
    libc = " ".join(platform.libc_ver()).strip()
    system = " ".join(filter(None, (platform.system(), platform.release(), platform.machine(), libc)))
    return [
        Entry("Python", good, version, remedy="Install Python 3.11 or newer."),
        Entry("System", sys.maxsize > 2**32, system, remedy="A 64-bit system is needed."),
    ]


def _packages() -> list[Entry]:
    entries = []
    for name, use in _PACKAGES.items():
        wanted = machine.requirement(name)
        try:
            found = metadata.version(name)
        except metadata.PackageNotFoundError:
            entries.append(Entry(name, False, "not installed", use, machine.install_command(name)))
            continue
        good = wanted is None or wanted.specifier.contains(found, prereleases=True)
        words = found if good or wanted is None else f"{found}, but {wanted.specifier} is needed"
        entries.append(Entry(name, good, words, use, "" if good else machine.install_command(name)))
    return entries


def _shipped() -> list[Entry]:
    entries = []
    for part in _SHIPPED:
        try:
            found = sum(1 for p in resource(part).rglob("*") if p.is_file())
            entries.append(Entry(f"Shipped {part}", found > 0, f"{found} files", remedy="Install Oneline again."))
        except FileNotFoundError:
            entries.append(Entry(f"Shipped {part}", False, "not found", remedy="Install Oneline again."))
    try:
        names = sorted(p.name for p in sample().glob("*.oneline"))
    except FileNotFoundError:
        names = []
    entries.append(Entry("Samples", bool(names), ", ".join(names) or "not found", remedy="Install Oneline again."))
    return entries


def _window() -> list[Entry]:
    entries = []
    linux = sys.platform.startswith("linux")
    if linux:
        missing = machine.missing_libraries({**machine.ALWAYS, **machine.X11})
        lacks = machine.library_lacks(missing)
        found = "missing " + ", ".join(missing) if missing else "all found"
        entries.append(Entry("System libraries", not lacks, found, "the editor", lacks[0].remedy if lacks else ""))
        screen = machine.lacks_for_window()
        reason = next((str(s) for s in screen if machine.WITHOUT_SCREEN in str(s)), "")
        shown = (
            os.environ.get("WAYLAND_DISPLAY") or os.environ.get("DISPLAY") or os.environ.get("QT_QPA_PLATFORM") or ""
        )
        entries.append(Entry("Screen", not reason, "none" if reason else shown, "the editor", reason))
        fonts = any(next(Path(d).expanduser().rglob("*.[to]tf"), None) for d in _FONTS if Path(d).expanduser().is_dir())
        remedy = "On Debian, Ubuntu or Mint: sudo apt install fonts-dejavu-core"
        entries.append(Entry("Fonts", fonts, "found" if fonts else "none", "texts in the window", remedy))
    return entries


def _state() -> Entry:
    from oneline.files.places import state_folder

    folder = state_folder()
    nearest = next(p for p in (folder, *folder.parents) if p.exists())
    good = os.access(nearest, os.W_OK)
    return Entry("Folder for earlier versions and recovery", good, str(folder), "recovery", f"Make {nearest} writable.")
