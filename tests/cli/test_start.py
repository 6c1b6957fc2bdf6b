"""Starting: what the command line asks for, and a machine without a screen or without a library."""

from __future__ import annotations

import importlib.util
import os
import re
import subprocess
import sys
import tomllib
from pathlib import Path
from typing import Any

import pytest

from oneline.assets import sample
from oneline.cli import machine
from oneline.start import main
from oneline.version import VERSION

LINUX = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="Linux screens and libraries")


def run(*arguments: str, **environ: str) -> subprocess.CompletedProcess[str]:
    clean = {k: v for k, v in os.environ.items() if k not in ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM")}
    return subprocess.run(
        [sys.executable, "-m", "oneline", *arguments], capture_output=True, text=True, env={**clean, **environ}, check=False
    )  # fmt: skip


def test_version_and_help() -> None:
    project = tomllib.loads((Path(__file__).parents[2] / "pyproject.toml").read_text(encoding="utf-8"))
    assert project["project"]["version"] == VERSION
    done = run("--version")
    assert (done.returncode, done.stdout) == (0, f"oneline {VERSION}\n")
    done = run("--help")
    assert done.returncode == 0
    for word in ("check", "print", "export", "doctor", "exit codes"):
        assert word in done.stdout


@LINUX
@pytest.mark.parametrize("arguments", [(), (str(sample("cannery.oneline")),)])
def test_without_a_screen_one_sentence_and_3(arguments: tuple[str, ...]) -> None:
    done = run(*arguments)
    assert done.returncode == 3
    assert done.stdout == ""
    (line,) = done.stderr.strip().split("\n")
    assert "No screen was found" in line
    for command in ("check", "print", "export", "doctor"):
        assert f"oneline {command}" in line


@LINUX
def test_a_screen_that_does_not_answer() -> None:
    done = run(DISPLAY=":9371")
    assert done.returncode == 3
    assert "The screen :9371 named by DISPLAY does not answer" in done.stderr
    done = run(WAYLAND_DISPLAY="wayland-none", QT_QPA_PLATFORM="wayland", XDG_RUNTIME_DIR="/nonexistent")
    assert done.returncode == 3
    assert "WAYLAND_DISPLAY does not answer" in done.stderr


def lack_of(monkeypatch: pytest.MonkeyPatch, *missing: str, **environ: str) -> str:
    monkeypatch.setattr(machine, "loads", lambda library: library not in missing)
    return " | ".join(str(lack) for lack in machine.lacks_for_window(environ))


@LINUX
def test_missing_libraries_name_their_debian_packages(monkeypatch: pytest.MonkeyPatch) -> None:
    text = lack_of(monkeypatch, "libEGL.so.1", "libGL.so.1", QT_QPA_PLATFORM="offscreen")
    assert "lacks the libraries libEGL.so.1, libGL.so.1" in text
    assert "sudo apt install libegl1 libgl1" in text
    monkeypatch.setattr(machine, "x11_opens", lambda name: True)
    text = lack_of(monkeypatch, "libxcb-cursor.so.0", DISPLAY=":0")
    assert "sudo apt install libxcb-cursor0" in text
    assert lack_of(monkeypatch, DISPLAY=":0") == ""
    # What only the X plugin needs is not asked for where nothing is shown.
    assert lack_of(monkeypatch, "libxcb-cursor.so.0", QT_QPA_PLATFORM="offscreen") == ""


@LINUX
def test_main_says_what_is_missing_and_what_works(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(machine, "loads", lambda library: library != "libEGL.so.1")
    monkeypatch.setenv("QT_QPA_PLATFORM", "offscreen")
    assert main([]) == 3
    err = capsys.readouterr().err
    assert "libegl1" in err
    assert machine.WITHOUT_SCREEN in err


def test_without_the_window_library(monkeypatch: pytest.MonkeyPatch) -> None:
    real = importlib.util.find_spec
    monkeypatch.setattr(
        importlib.util, "find_spec", lambda name, *rest: None if name == "PySide6" else real(name, *rest)
    )
    (lack,) = machine.lacks_for_window({})
    assert 'python -m pip install "PySide6-Essentials' in str(lack)


@LINUX
def test_a_plugin_that_does_not_load(monkeypatch: pytest.MonkeyPatch) -> None:
    def load(path: str) -> Any:
        raise OSError("libxcb-cursor.so.0: cannot open shared object file: No such file or directory")

    lack = machine.plugin_fault({"DISPLAY": ":0"}, load)
    assert lack is not None
    assert "libxcb-cursor0" in str(lack)
    assert machine.plugin_fault({"QT_QPA_PLATFORM": "offscreen"}) is None


@LINUX
def test_the_list_of_libraries_is_what_the_plugin_asks_for() -> None:
    """Against the shared libraries themselves: every foreign library that Qt's screen plugins need has its package here."""
    spec = importlib.util.find_spec("PySide6")
    assert spec is not None
    assert spec.submodule_search_locations is not None
    qt = Path(spec.submodule_search_locations[0]) / "Qt"
    known = {**machine.ALWAYS, **machine.X11, **machine.WAYLAND}
    ours = ("libQt6", "libicu", "libc.so", "libm.so", "libdl", "libpthread", "librt", "libstdc++", "libgcc", "ld-linux")
    for name in ("plugins/platforms/libqxcb.so", "plugins/platforms/libqwayland.so", "lib/libQt6XcbQpa.so.6",
                 "lib/libQt6Gui.so.6", "lib/libQt6Widgets.so.6", "lib/libQt6Core.so.6", "lib/libQt6DBus.so.6"):  # fmt: skip
        found = set(re.findall(rb"lib[A-Za-z0-9_+-]+(?:-[0-9.]+)?\.so\.[0-9]+", (qt / name).read_bytes()))
        needed = {lib.decode() for lib in found if not lib.decode().startswith(ours)}
        plain = {lib for lib in needed if lib in known or lib.startswith(("libxcb", "libX11", "libxkb", "libwayland"))}
        assert plain <= set(known), plain - set(known)


def test_an_unforeseen_fault_is_4_and_says_so(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    import oneline.cli.doctor as doctor

    def broken() -> Any:
        raise RuntimeError("a fault made for this test")

    monkeypatch.setattr(doctor, "examine", broken)
    assert main(["doctor"]) == 4
    assert "The program itself failed" in capsys.readouterr().err


def test_a_missing_package_is_3(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    import oneline.cli.doctor as doctor

    def broken() -> Any:
        raise ModuleNotFoundError("No module named 'numpy'", name="numpy.linalg")

    monkeypatch.setattr(doctor, "examine", broken)
    assert main(["doctor"]) == 3
    assert "numpy" in capsys.readouterr().err


@pytest.mark.parametrize("arguments", [["frob"], ["chek", "drawing.oneline"], ["no/such/drawing.oneline"]])
def test_neither_a_command_nor_a_file_is_2_and_opens_no_window(
    arguments: list[str], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("oneline.start._editor", lambda _: pytest.fail("the editor was opened"))
    assert main(arguments) == 2
    assert capsys.readouterr().err == (
        f"oneline: There is neither a command nor a file named {arguments[0]}. "
        "Commands: check, fits, plan, print, export, record, identify, doctor.\n"
    )
