"""``oneline print`` and ``oneline export``: real files, read back with other programs' libraries."""

from __future__ import annotations

import subprocess
import sys
import xml.etree.ElementTree as ET
from pathlib import Path

import pypdf
import pytest

from oneline.assets import sample
from oneline.model.cautions import CAUTIONS
from oneline.start import main

CANNERY = str(sample("cannery.oneline"))


@pytest.mark.parametrize(("size", "points"), [("letter", {612, 792}), ("tabloid", {792, 1224})])
def test_the_door_sheet(size: str, points: set[int], tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "door.pdf"
    assert main(["print", CANNERY, "--paper", "door", "--size", size, "-o", str(out)]) == 0
    assert str(out) in capsys.readouterr().out
    pages = pypdf.PdfReader(out).pages
    for page in pages:
        assert {round(page.mediabox.width), round(page.mediabox.height)} == points
        text = " ".join(page.extract_text().split())
        assert CAUTIONS[0] in text
        assert "cannery.oneline" in text
    whole = " ".join(" ".join(p.extract_text().split()) for p in pages)
    for words in ("Tideway Cannery", "Deck oven A, annex east wall", "Roof array", "NFPA 70, 2023"):
        assert words in whole


def test_one_panels_directory(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "door.pdf"
    panel = "Panel R, bakery annex"
    assert main(["print", CANNERY, "--paper", "door", "--panel", panel, "-o", str(out)]) == 0
    whole = " ".join(p.extract_text() for p in pypdf.PdfReader(out).pages)
    assert "Deck oven A" in whole
    assert "Fryer pair" not in whole
    assert main(["print", CANNERY, "--paper", "door", "--panel", "Panel X", "-o", str(out)]) == 2
    err = capsys.readouterr().err
    assert "No panel is named Panel X. The panels are: " in err
    assert "Panel R, bakery annex" in err


def test_views_differ(tmp_path: Path) -> None:
    texts = {}
    for view in ("existing", "proposed"):
        out = tmp_path / f"{view}.svg"
        assert main(["export", CANNERY, "--view", view, "-o", str(out)]) == 0
        root = ET.parse(out).getroot()
        assert root.tag.endswith("svg")
        texts[view] = " ".join(e.text or "" for e in root.iter() if e.tag.endswith("text"))
    assert "Annex switch" in texts["proposed"]
    assert "Annex switch" not in texts["existing"]
    assert "Packing line pull-out" in texts["existing"]
    assert "Packing line pull-out" not in texts["proposed"]


@pytest.mark.parametrize(("ending", "magic"), [("png", b"\x89PNG\r\n\x1a\n"), ("pdf", b"%PDF-")])
def test_other_formats(ending: str, magic: bytes, tmp_path: Path) -> None:
    out = tmp_path / f"d.{ending}"
    assert main(["export", CANNERY, "-o", str(out)]) == 0
    assert out.read_bytes().startswith(magic)
    assert out.stat().st_size > 10_000


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["export", CANNERY, "-o", "d.dxf"], "ends in .svg, .png, .pdf"),
        (["print", CANNERY, "--paper", "door", "-o", "d.svg"], "ends in .pdf"),
        (["export", "none.oneline", "-o", "d.svg"], "There is no file of this name."),
        (["print", "none.oneline", "--paper", "door", "-o", "d.pdf"], "There is no file of this name."),
        (["export", CANNERY, "-o", "no/such/folder/d.svg"], "The folder no/such/folder does not exist."),
        (
            ["print", CANNERY, "--paper", "door", "-o", "no/such/folder/d.pdf"],
            "The folder no/such/folder does not exist.",
        ),
    ],
)
def test_what_cannot_be_written_is_2(
    arguments: list[str],
    words: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(arguments) == 2
    err = capsys.readouterr().err
    assert words in err
    assert "drive" not in err
    assert [p for p in tmp_path.iterdir() if p.name != "state"] == []


def test_a_failed_print_leaves_the_old_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import os

    out = tmp_path / "door.pdf"
    out.write_bytes(b"the last print")
    monkeypatch.setattr(os, "replace", lambda *a: (_ for _ in ()).throw(OSError(28, "No space left on device")))
    assert main(["print", CANNERY, "--paper", "door", "-o", str(out)]) == 2
    assert out.read_bytes() == b"the last print"
    assert [p for p in tmp_path.iterdir() if p.name != "state"] == [out]


def test_without_qt(tmp_path: Path) -> None:
    code = (
        "import sys; from oneline.start import main; main(sys.argv[1:]); "
        "print([m for m in sys.modules if m.split('.')[0] in ('PySide6', 'shiboken6')], file=sys.stderr)"
    )
    for arguments in (["print", CANNERY, "--paper", "door", "-o", str(tmp_path / "a.pdf")],
                      ["export", CANNERY, "-o", str(tmp_path / "a.svg")]):  # fmt: skip
        done = subprocess.run([sys.executable, "-c", code, *arguments], capture_output=True, text=True, check=False)
        assert done.stderr.strip().split("\n")[-1] == "[]"
