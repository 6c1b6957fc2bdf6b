"""The series of a demand record in the drawing's file: it comes back as it was, and a damaged one costs only the plot."""

from __future__ import annotations

import json
from datetime import datetime
from types import MappingProxyType
from typing import Any

import jsonschema
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from oneline.assets import resource
from oneline.files import checked_bytes, read_drawing
from oneline.model import KINDS, DemandRecord, DemandSeries, Drawing

UTC = "2026-03-31T14:05:00Z"
GOOD = DemandSeries("2026-01-05 00:00", 60.0, "A", (120.5, None, 80.0), ((60.0, 120.0),))

figures = st.floats(-1e6, 1e6, allow_nan=False).map(lambda x: x + 0.0)
minutes = st.floats(0, 1e6, allow_nan=False).map(lambda x: x + 0.0)
series = st.builds(
    DemandSeries,
    start=st.datetimes(datetime(1970, 1, 1), datetime(2200, 12, 31)).map(lambda d: f"{d:%Y-%m-%d %H:%M}"),
    step_min=st.sampled_from([1.0, 15.0, 60.0, 1440.0]),
    unit=st.sampled_from(["kW", "kVA", "A"]),
    highest=st.lists(st.none() | figures, min_size=1, max_size=40).map(tuple),
    gaps=st.lists(st.tuples(minutes, minutes).map(sorted).map(tuple), max_size=5).map(tuple),
)


def drawing_with(record: DemandRecord) -> Drawing:
    meter = KINDS["meter"](id="meter1", name="Meter", demand=(record,))
    return Drawing(items=MappingProxyType({"meter1": meter}), next_number=2)


@settings(deadline=None)
@given(series)
def test_it_comes_back(found: DemandSeries) -> None:
    drawing = drawing_with(DemandRecord(peak_a=5.0, series=found))
    opened = read_drawing(checked_bytes(drawing, UTC))
    assert opened.problems == ()
    assert opened.drawing == drawing


def test_the_schema_takes_it() -> None:
    schema = json.loads(resource("schema", "drawing.schema.json").read_text(encoding="utf-8"))
    jsonschema.validate(json.loads(checked_bytes(drawing_with(DemandRecord(series=GOOD)), UTC)), schema)


WRONG: list[Any] = [
    5, "series", [], {}, {"highest": []}, {"unit": "hp"}, {"start": "yesterday"}, {"start": "2026-13-05 00:00"},
    {"start": "9999-12-31 23:59"},
    {"step_min": 0}, {"step_min": -5}, {"step_min": "60"}, {"step_min": True}, {"step_min": 1e9}, {"highest": ["a"]},
    {"highest": [1e300]}, {"highest": [True]}, {"highest": [1] * 6000}, {"gaps": [[1]]}, {"gaps": [[5, 1]]},
    {"gaps": [["a", 2]]}, {"more": 1},
]  # fmt: skip


@pytest.mark.parametrize("wrong", WRONG, ids=str)
def test_a_damaged_series_costs_the_plot_and_not_the_record(wrong: Any) -> None:
    whole = json.loads(checked_bytes(drawing_with(DemandRecord(peak_a=232.0, period_days=36.0, series=GOOD)), UTC))
    record = whole["items"][0]["demand"][0]
    record["series"] = {**record["series"], **wrong} if isinstance(wrong, dict) and wrong else wrong
    opened = read_drawing(json.dumps(whole).encode())
    (kept,) = opened.drawing.get("meter1").demand  # type: ignore[attr-defined]
    assert (kept.peak_a, kept.period_days, kept.series) == (232.0, 36.0, None)
    assert any("series cannot be read" in str(problem) for problem in opened.problems)
