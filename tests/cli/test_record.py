"""``oneline record``: from a recorder's file to a record in a drawing; questions, refusals, exit codes."""

from __future__ import annotations

import shutil
import subprocess
import sys
from datetime import datetime
from pathlib import Path

import pypdf
import pytest
from interval_data import curve, espi, table

import oneline
from oneline.assets import sample
from oneline.start import main

CANNERY = str(sample("cannery.oneline"))
AT = "Recorder at Main 1"


@pytest.fixture
def drawing(tmp_path: Path) -> Path:
    copy = tmp_path / "cannery.oneline"
    shutil.copy(CANNERY, copy)
    return copy


def phases(path: Path, days: int, start: datetime = datetime(2026, 1, 5)) -> Path:
    values = curve(days * 96, start)
    rows = "".join(
        f"{t:%Y-%m-%d %H:%M},{float(v):.1f},{float(v) * 1.5:.1f},{float(v) * 0.9:.1f}\n" for t, v in values.items()
    )
    path.write_text(f"Time,Ia (A),Ib (A),Ic (A)\n{rows}", encoding="utf-8")
    return path


def test_into_a_drawing(drawing: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    data = phases(tmp_path / "log.csv", 36)
    out = tmp_path / "out.oneline"
    call = [
        "record",
        str(data),
        "--into",
        str(drawing),
        "--at",
        AT,
        "--occupied",
        "yes",
        "--seasonal",
        "yes",
        "-o",
        str(out),
    ]
    assert main(call) == 0
    told = capsys.readouterr().out
    for words in ("36 days", "Longest part without a gap", AT, "220.87", "Written: "):
        assert words in told
    record = next(i for i in oneline.open(out).items.values() if i.name == AT).demand[-1]  # type: ignore[attr-defined]
    peak = max(float(v) for v in curve(36 * 96, datetime(2026, 1, 5)).values())
    assert record.peak_a == pytest.approx(1.5 * peak, abs=0.1)
    assert record.file_name == "log.csv"
    assert next(i for i in oneline.open(drawing).items.values() if i.name == AT).demand[-1] != record  # type: ignore[attr-defined]


def test_only_looking(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """0: it may be used or that is not known yet; 1: it may not."""
    assert main(["record", str(phases(tmp_path / "a.csv", 36)), "--occupied", "yes", "--seasonal", "yes"]) == 0
    assert "30 being enough" in capsys.readouterr().out
    assert main(["record", str(phases(tmp_path / "b.csv", 36))]) == 0
    assert "not known yet" in capsys.readouterr().out
    assert main(["record", str(phases(tmp_path / "c.csv", 20))]) == 1
    assert "10 short of the 30 days" in capsys.readouterr().out


def test_a_record_that_fails_is_kept_and_is_1(
    drawing: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    data = phases(tmp_path / "log.csv", 50)
    lines = data.read_text(encoding="utf-8").splitlines()
    del lines[2400]
    data.write_text("\n".join(lines), encoding="utf-8")
    meter = AT
    before = len(next(i for i in oneline.open(drawing).items.values() if i.name == meter).demand)  # type: ignore[attr-defined]
    assert main(["record", str(data), "--into", str(drawing), "--at", meter]) == 1
    assert "has 25 days, 5 short of the 30" in " ".join(capsys.readouterr().out.split())
    after = next(i for i in oneline.open(drawing).items.values() if i.name == meter).demand  # type: ignore[attr-defined]
    assert len(after) == before + 1


def test_what_the_file_leaves_open_is_asked_and_answered(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    data = tmp_path / "day.csv"
    data.write_text(table(curve(96, datetime(2025, 4, 3)), "%m/%d/%Y %H:%M", head="Time,Usage"), encoding="utf-8")
    assert main(["record", str(data)]) == 2
    err = capsys.readouterr().err
    assert "The file leaves something open" in err
    assert "--date-order mdy" in err
    assert "month, day, year: April 3, 2025" in err
    assert "--unit kWh" in err
    assert main(["record", str(data), "--date-order", "mdy", "--unit", "kWh"]) == 1  # one day is too short
    assert "2025-04-03" in capsys.readouterr().out
    assert main(["record", str(data), "--date-order", "middle", "--unit", "kWh"]) == 2
    assert "does not fit" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["no-such.csv"], "The file was not found"),
        (["{data}", "--at", AT], "Give both --into FILE and --at ITEM"),
        (["{data}", "--into", "{drawing}"], "Give both --into FILE and --at ITEM"),
        (["{data}", "--into", "{drawing}", "--at", "Main 9"], "No items are named Main 9"),
        (["{data}", "--into", "{drawing}", "--at", "Main 1"], "records belong to services, meters and generators"),
        (["{data}", "--into", "no-such.oneline", "--at", AT], "The file was not found"),
        (["{drawing}"], "No row of it has a time stamp"),
        (["{data}", "--power-factor", "7"], "power_factor"),
        (["{data}", "--column", "kvar"], "No column with figures is named"),
        (["{data}", "--into", "{drawing}", "--at", AT, "-o", "no/such/folder/x.oneline"], "does not exist"),
    ],
)
def test_wrong_calls_are_2_and_say_what_to_do(
    arguments: list[str], words: str, drawing: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    data = phases(tmp_path / "log.csv", 36)
    filled = [a.format(data=data, drawing=drawing) for a in arguments]
    before = drawing.read_bytes()
    assert main(["record", *filled]) == 2
    captured = capsys.readouterr()
    assert words in captured.err
    assert "Traceback" not in captured.err
    assert drawing.read_bytes() == before


def test_usage_data_and_the_printed_page(drawing: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    data = tmp_path / "usage.xml"
    data.write_text(espi([(1_735_707_600 + 900 * k, 2000 + k % 900) for k in range(35_040)]), encoding="utf-8")
    assert main(["record", str(data), "--into", str(drawing), "--at", "Meter W-2210"]) in (0, 1)
    out = tmp_path / "record.pdf"
    assert main(["print", str(drawing), "--paper", "record", "-o", str(out)]) == 0
    pages = [" ".join(p.extract_text().split()) for p in pypdf.PdfReader(out).pages]
    assert len(pages) == 4  # one for each record on the drawing
    assert main(["print", str(drawing), "--paper", "record", "--at", "Meter W-2210", "-o", str(out)]) == 0
    pages = [" ".join(p.extract_text().split()) for p in pypdf.PdfReader(out).pages]
    assert len(pages) == 2
    assert "usage.xml" in pages[1]
    capsys.readouterr()
    assert main(["print", str(drawing), "--paper", "record", "--at", "Main 1", "-o", str(out)]) == 2
    assert "There are records at: " in capsys.readouterr().err


def test_no_qt_and_no_xml_reader_where_none_is_needed(tmp_path: Path) -> None:
    data = phases(tmp_path / "log.csv", 2)
    code = (
        "import sys; from oneline.start import main; main(['record', sys.argv[1]]); "
        "sys.exit(any(m.split('.')[0] in ('PySide6', 'networkx', 'reportlab', 'defusedxml') for m in sys.modules))"
    )
    assert subprocess.run([sys.executable, "-c", code, str(data)], capture_output=True, check=False).returncode == 0
