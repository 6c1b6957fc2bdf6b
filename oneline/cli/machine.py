"""What this machine has and lacks: system libraries, a screen, packages. Looks before anything of Qt is loaded.

Qt ends the process when a library of its screen plugin is missing or no screen can be reached, and nothing in Python can
catch that. So everything it needs is tried here first, by loading the libraries themselves.
"""

from __future__ import annotations

import ctypes
import os
import socket
import sys
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from packaging.requirements import Requirement

WITHOUT_SCREEN = "oneline check, oneline print, oneline export and oneline doctor work without a screen."

#: Libraries of the window, by their Debian package (readelf -d of the pinned PySide6 wheel).
ALWAYS = {
    "libEGL.so.1": "libegl1", "libGL.so.1": "libgl1", "libxkbcommon.so.0": "libxkbcommon0",
    "libfontconfig.so.1": "libfontconfig1", "libfreetype.so.6": "libfreetype6", "libglib-2.0.so.0": "libglib2.0-0",
    "libgthread-2.0.so.0": "libglib2.0-0", "libdbus-1.so.3": "libdbus-1-3", "libX11.so.6": "libx11-6",
    "libzstd.so.1": "libzstd1", "libz.so.1": "zlib1g",
}  # fmt: skip
X11 = {
    "libxcb-cursor.so.0": "libxcb-cursor0", "libxcb-icccm.so.4": "libxcb-icccm4", "libxcb-image.so.0": "libxcb-image0",
    "libxcb-keysyms.so.1": "libxcb-keysyms1", "libxcb-randr.so.0": "libxcb-randr0", "libxcb-render.so.0": "libxcb-render0",
    "libxcb-render-util.so.0": "libxcb-render-util0", "libxcb-shape.so.0": "libxcb-shape0", "libxcb-shm.so.0": "libxcb-shm0",
    "libxcb-sync.so.1": "libxcb-sync1", "libxcb-util.so.1": "libxcb-util1", "libxcb-xfixes.so.0": "libxcb-xfixes0",
    "libxcb-xkb.so.1": "libxcb-xkb1", "libxcb.so.1": "libxcb1", "libxkbcommon-x11.so.0": "libxkbcommon-x11-0",
    "libX11-xcb.so.1": "libx11-xcb1",
}  # fmt: skip
WAYLAND = {"libwayland-client.so.0": "libwayland-client0", "libwayland-cursor.so.0": "libwayland-cursor0"}
#: Platforms of Qt that draw nowhere or over the network: they need no screen.
_SCREENLESS = ("offscreen", "minimal", "vnc")


@dataclass(frozen=True)
class Lack:
    """Something the machine lacks: ``what`` is missing, ``why`` it is needed, ``remedy`` to copy or do."""

    what: str
    why: str
    remedy: str

    def __str__(self) -> str:
        return f"{self.what} {self.why} {self.remedy}".strip()


def loads(library: str) -> bool:
    """Whether the system's loader finds a shared library with all it needs."""
    try:
        ctypes.CDLL(library)
    except OSError:
        return False
    return True


def missing_libraries(names: Mapping[str, str]) -> dict[str, str]:
    """Those of the libraries that do not load, with their Debian packages."""
    return {name: package for name, package in names.items() if not loads(name)}


def lacks_for_window(environ: Mapping[str, str] | None = None) -> list[Lack]:
    """What keeps the editor from opening, worst first; empty when it can open."""
    environ = os.environ if environ is None else environ
    found = package_lack("PySide6", "PySide6-Essentials", "The window is made with it.")
    if found is not None:
        return [found]
    if not sys.platform.startswith("linux"):
        return []
    platform = environ.get("QT_QPA_PLATFORM", "").split(":")[0].split(";")[0]
    lacks = library_lacks(missing_libraries(ALWAYS))
    if platform in _SCREENLESS:
        return lacks
    wayland = platform.startswith("wayland") or (not platform and _wayland_reachable(environ))
    if platform in ("linuxfb", "eglfs"):
        return lacks
    if wayland and not _wayland_reachable(environ):
        return [*lacks, _no_screen("The screen named by WAYLAND_DISPLAY does not answer")]
    if wayland and not missing_libraries(WAYLAND):
        return lacks
    screen = x11_lack(environ)
    return [*lacks, screen] if screen is not None else [*lacks, *library_lacks(missing_libraries(X11))]


def package_lack(module: str, package: str, why: str) -> Lack | None:
    """A Python package that is not installed (looked up, not imported)."""
    from importlib.util import find_spec

    if find_spec(module) is not None:
        return None
    return Lack(f"The Python package {package} is not installed.", why, f"Install it: {install_command(package)}")


def install_command(package: str) -> str:
    """The command that installs a package in the version this program wants, quoted for a shell."""
    wanted = requirement(package)
    return (
        f"python -m pip install {package}" if wanted is None else f'python -m pip install "{package}{wanted.specifier}"'
    )


def requirement(package: str) -> Requirement | None:
    """What this program wants of a package on this Python; ``None`` where nobody can tell."""
    from importlib import metadata

    try:
        from packaging.requirements import Requirement

        declared = [Requirement(text) for text in metadata.requires("oneline") or ()]
    except ImportError:  # PackageNotFoundError is one
        return None
    named = (r for r in declared if r.name.casefold() == package.casefold())
    return next((r for r in named if r.marker is None or r.marker.evaluate({"extra": ""})), None)


def library_lacks(missing: Mapping[str, str]) -> list[Lack]:
    if not missing:
        return []
    names, packages = ", ".join(missing), " ".join(dict.fromkeys(missing.values()))
    plural = "libraries" if len(missing) > 1 else "library"
    remedy = f"On Debian, Ubuntu or Mint: sudo apt install {packages}"
    return [Lack(f"The system lacks the {plural} {names}.", "The window cannot open without it.", remedy)]


def _no_screen(what: str) -> Lack:
    return Lack(f"{what}, so the editor cannot open here;", WITHOUT_SCREEN, "")


def x11_lack(environ: Mapping[str, str]) -> Lack | None:
    """Why no X screen can be used; ``None`` when one answers."""
    name = environ.get("DISPLAY", "")
    if not name:
        return _no_screen("No screen was found (neither DISPLAY nor WAYLAND_DISPLAY is set)")
    if not x11_opens(name):
        return _no_screen(f"The screen {name} named by DISPLAY does not answer")
    return None


def x11_opens(name: str) -> bool:
    """Whether an X server answers and lets us in; true where libX11 is missing (that is reported by itself)."""
    try:
        x11 = ctypes.CDLL("libX11.so.6")
    except OSError:
        return True
    x11.XOpenDisplay.restype = ctypes.c_void_p
    x11.XOpenDisplay.argtypes = [ctypes.c_char_p]
    x11.XCloseDisplay.argtypes = [ctypes.c_void_p]
    handle = x11.XOpenDisplay(os.fsencode(name))
    if not handle:
        return False
    x11.XCloseDisplay(handle)
    return True


def _wayland_reachable(environ: Mapping[str, str]) -> bool:
    name = environ.get("WAYLAND_DISPLAY", "")
    if not name:
        return False
    path = Path(name) if name.startswith("/") else Path(environ.get("XDG_RUNTIME_DIR", "/nonexistent")) / name
    try:
        with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as line:
            line.settimeout(2)
            line.connect(str(path))
    except OSError:
        return False
    return True


def plugin_fault(environ: Mapping[str, str] | None = None, load: Callable[[str], object] = ctypes.CDLL) -> Lack | None:
    """Why Qt's own screen plugin does not load, in the loader's words: the net below the list of libraries."""
    environ = os.environ if environ is None else environ
    from importlib.util import find_spec

    spec = find_spec("PySide6")
    if not sys.platform.startswith("linux") or spec is None or not spec.submodule_search_locations:
        return None
    chosen = environ.get("QT_QPA_PLATFORM", "").split(":")[0].split(";")[0]
    name = chosen or ("wayland" if _wayland_reachable(environ) else "xcb")
    plugin = Path(spec.submodule_search_locations[0]) / "Qt" / "plugins" / "platforms" / f"libq{name.split('-')[0]}.so"
    if not plugin.exists():
        return None
    try:
        load(str(plugin))
    except OSError as bad:
        library = str(bad).split(":")[0]
        package = {**ALWAYS, **X11, **WAYLAND}.get(library)
        if package:
            return library_lacks({library: package})[0]
        return Lack(f"The screen plugin of Qt does not load ({bad}).", "The window cannot open without it.", "")
    return None
