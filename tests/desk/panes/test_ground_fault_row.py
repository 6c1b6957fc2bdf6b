"""The row of the ground fault among the figures of a point; bounds are rounded outward."""

from __future__ import annotations

import pytest

from oneline.desk.panes.pointrows import figure_rows, why
from oneline.study import PointFigures


@pytest.mark.parametrize(
    ("values", "text"),
    [
        ({"fault_lg_a": 12_340.0, "fault_lg_bound_a": 12_340.0}, "12.3 kA"),
        ({"fault_lg_least_a": 2_080.0, "fault_lg_bound_a": 9_500.0}, "2.0–9.5 kA"),
        ({"fault_lg_bound_a": 9_500.0}, "≤ 9.5 kA"),
        ({"fault_lg_a": 0.0, "fault_lg_bound_a": 20_000.0}, "none at the first"),
    ],
)
def test_text(values: dict[str, float], text: str) -> None:
    rows = figure_rows(None, PointFigures("p", "Panel", "bus", **values))
    assert next(r for r in rows if r.what == "Ground fault").after == text


def test_what_is_missing_is_named() -> None:
    point = PointFigures("p", "Panel", "bus", ground_needs=("equipment grounding conductor of Feeder",))
    assert why(point, "Ground fault") == "Not known yet: equipment grounding conductor of Feeder"
