"""``oneline doctor``: what the machine has and lacks, with the next step for each lack."""

from __future__ import annotations

import json
import sys
from importlib import metadata

import pytest

from oneline.cli import doctor, machine
from oneline.start import main


def test_everything_here(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    monkeypatch.setenv("QT_QPA_PLATFORM", "offscreen")
    monkeypatch.setattr(machine, "loads", lambda library: True)
    code = main(["doctor", "--json"])
    found = json.loads(capsys.readouterr().out)
    assert code == (0 if found["ok"] else 3)
    by_name = {e["what"]: e for e in found["entries"]}
    assert by_name["numpy"]["found"] == metadata.version("numpy")
    assert by_name["Samples"]["found"] == "bindery.oneline, cannery.oneline"
    assert by_name["Shipped schema"]["ok"]
    assert found["ok"], [e for e in found["entries"] if not e["ok"]]


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="Linux screens and libraries")
def test_no_screen(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    for name in ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM"):
        monkeypatch.delenv(name, raising=False)
    assert main(["doctor"]) == 3
    out = capsys.readouterr().out
    assert "LACKS  Screen" in out
    assert machine.WITHOUT_SCREEN in out


def test_a_missing_package(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    real = metadata.version

    def version(name: str) -> str:
        if name == "reportlab":
            raise metadata.PackageNotFoundError(name)
        return real(name)

    monkeypatch.setattr(doctor.metadata, "version", version)
    assert main(["doctor"]) == 3
    out = capsys.readouterr().out
    assert "LACKS  reportlab: not installed (for PDF)" in out
    assert 'python -m pip install "reportlab>=' in out


def test_a_package_of_a_version_that_does_not_do(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The remedy names the version that is wanted, not the newest: 6.12.0 of the Qt binding ends the process on 3.11."""
    real = metadata.version
    monkeypatch.setattr(
        doctor.metadata, "version", lambda name: "6.9.0" if name == "PySide6-Essentials" else real(name)
    )
    assert main(["doctor"]) == 3
    out = capsys.readouterr().out
    wanted = "==6.11.3" if sys.version_info < (3, 12) else ">=6.11.3"
    assert f"LACKS  PySide6-Essentials: 6.9.0, but {wanted} is needed" in out
    assert f'python -m pip install "PySide6-Essentials{wanted}"' in out
