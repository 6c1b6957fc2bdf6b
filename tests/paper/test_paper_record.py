"""The page of a demand record: what must stand on it, and records of every kind that must not break it."""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import datetime
from typing import Any

import pypdf
import pytest
from interval_data import curve, table

import oneline
from oneline.files.intervals import read_record
from oneline.model import DemandRecord, Drawing
from oneline.model.cautions import CAUTIONS
from oneline.paper.door import Document
from oneline.paper.recorded import NoRecord, plan_record_pages
from oneline.sheet.display import Text
from oneline.sheet.metrics import text_box
from oneline.study.record_chart import record_charts

WHEN = datetime(2026, 3, 1, 12, 0)
RECORD, _, _ = read_record(table(curve(36 * 96), "%Y-%m-%d %H:%M").encode(), name="month.csv")


def mill(*records: DemandRecord, name: str = "Meter 7") -> Drawing:
    b = oneline.Builder("Mill", edition=2023)
    utility = b.service("Utility", system="208Y/120")
    meter = b.meter(name)
    main = b.disconnect("Main", form="fused switch", rating_a=400, trip_a=400, poles=3)
    b.joint(utility, meter)
    b.joint(meter, main)
    b.joint(main, b.bus("Board", rating_a=400))
    item: Any = b.drawing.get(meter.id)
    return b.drawing.with_items([replace(item, demand=records)])


def pages(drawing: Drawing, size: str = "letter") -> tuple[Document, list[str]]:
    document = plan_record_pages(drawing, record_charts(drawing, "proposed"), "proposed", 2023, size, printed_at=WHEN)
    reader = pypdf.PdfReader(io.BytesIO(document.pdf()))
    return document, [" ".join(page.extract_text().split()) for page in reader.pages]


@pytest.mark.parametrize("size", ["letter", "tabloid"])
def test_one_page_tells_all_of_it(size: str) -> None:
    document, (text,) = pages(mill(RECORD), size)
    peak = max(float(v) for v in curve(36 * 96).values())
    for words in (
        "demand recorded at Meter 7", f"Peak {peak:.1f} kW", "Peak as counted, × 1.25", "Main: 400 A = 122.5 kW", "month.csv",
        "36 days", "no gap", "averaged over 15 minutes", CAUTIONS[0], "NFPA 70, 2023", "1 of 1",
    ):  # fmt: skip
        assert words in text, words
    assert "".join(text.split()).count(RECORD.file_sha256) == 1
    assert document.pdf() == pages(mill(RECORD), size)[0].pdf()


def test_nothing_leaves_the_page() -> None:
    document, _ = pages(mill(RECORD))
    for page in document.pages:
        for layer in page.layers:
            for p in layer.primitives:
                if isinstance(p, Text):
                    left, top, right, bottom = text_box(p)
                    assert layer.dx + layer.scale * left >= 20
                    assert layer.dx + layer.scale * right <= page.width - 20
                    assert layer.dy + layer.scale * top >= 20
                    assert layer.dy + layer.scale * bottom <= page.height - 20


def test_without_a_record_there_is_no_page() -> None:
    with pytest.raises(NoRecord, match="No demand record is on the drawing"):
        pages(mill())


def test_a_page_for_each_record_and_which_one_decides() -> None:
    other = replace(RECORD, period_days=20.0, unbroken_days=20.0, file_sha256="0" * 64)
    _, texts = pages(mill(other, RECORD))
    assert len(texts) == 2
    assert "Another record of this item decides" in texts[0]
    assert "Another record" not in texts[1]


SERIES = RECORD.series
assert SERIES is not None
HARD: list[dict[str, Any]] = [
    {"series": None}, {"peak_kw": None}, {"peak_kw": None, "series": None}, {"peak_kw": None, "peak_a": 90.0},
    {"series": replace(SERIES, highest=(None,) * 5)}, {"series": replace(SERIES, highest=(0.0,)), "peak_at": "nonsense"},
    {"series": replace(SERIES, highest=(-5.0, -3.0), gaps=((-100.0, 1e8),))},
    {"series": replace(SERIES, start="1970-01-01 00:00", step_min=1e6, highest=tuple(map(float, range(90))))},
    {"note": "long words and many of them. " * 300}, {"note": "x" * 9000},
    {"source": "=cmd|' /C calc'!A0 <b>&\u202e", "file_name": "日本.csv"},
    {"period_days": None, "interval_min": None, "start": None, "end": None},
]  # fmt: skip


@pytest.mark.parametrize("changes", HARD, ids=lambda c: ", ".join(c))
@pytest.mark.parametrize("name", ["Meter 7", "N" * 200])
def test_records_of_every_kind_make_a_page(changes: dict[str, Any], name: str) -> None:
    document, texts = pages(mill(replace(RECORD, **changes), name=name))
    assert texts
    assert all(CAUTIONS[0] in text for text in texts)
    assert any("What follows from it" in text for text in texts)
    assert any("shortened" in note for note in document.notes) == (len(changes.get("note", "")) > 600)
