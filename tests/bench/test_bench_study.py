"""How long a full study takes, and an edit with its study and picture: ``pytest tests/bench --benchmark-only``."""

from __future__ import annotations

import pytest

import oneline
from oneline.assets import sample
from oneline.model import Drawing, edits
from oneline.model.copies import duplicate
from oneline.session import Session
from oneline.sheet.layout import arrange
from oneline.study import study


def building(copies: int) -> Drawing:
    """The cannery so many times side by side, as buildings of their own on one drawing."""
    drawing = oneline.open(sample("cannery.oneline"))
    originals = list(drawing.items)
    for k in range(1, copies):
        drawing, _ = duplicate(drawing, originals, 2000.0 * k, 0.0)
    return drawing


@pytest.mark.parametrize("copies", [1, 4, 14], ids=lambda n: f"{75 * n} items")
def test_study(benchmark, copies):
    drawing = building(copies)
    result = benchmark(study, drawing)
    assert len(result.points) > 50 * copies


@pytest.mark.parametrize("copies", [1, 4], ids=lambda n: f"{75 * n} items")
def test_an_edit_with_study_and_picture(benchmark, copies):
    session = Session(arrange(building(copies)))
    main = next(i.id for i in session.drawing.items.values() if i.kind == "disconnect")
    assert session.picture.groups
    ratings = iter([350.0, 400.0] * 100_000)

    def edit() -> int:
        session.apply("Change rating", edits.change(session.drawing, main, trip_a=next(ratings)), merge_key="bench")
        return len(session.picture.groups)

    assert benchmark(edit) > 50
