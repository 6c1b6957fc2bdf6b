"""How long a picture takes. The budget: under 50 ms for 300 items on a 2-core laptop, so that edits feel immediate."""

from __future__ import annotations

import importlib.util
from pathlib import Path
from typing import Any

import pytest

from oneline.model import Connection, Disconnect, Drawing, Place
from oneline.model.edits import change
from oneline.sheet import arrange, build_picture


@pytest.fixture(scope="module")
def large() -> Drawing:
    """A random drawing of 280 to 340 items, arranged."""
    path = Path(__file__).parents[1] / "sheet" / "conftest.py"
    spec = importlib.util.spec_from_file_location("sheet_conftest", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    for seed in range(400):
        drawing: Drawing = module.RandomDrawing(seed, 160).drawing
        if 280 <= len(drawing) <= 340:
            return arrange(drawing)
    raise AssertionError("no drawing of that size")


def test_picture_again(benchmark: Any, large: Drawing) -> None:
    benchmark(build_picture, large, None, "proposed")


def test_picture_after_a_rating_changed(benchmark: Any, large: Drawing) -> None:
    item = next(large.of(Disconnect))
    trips = iter(range(10, 100_000))
    benchmark(lambda: build_picture(change(large, item.id, trip_a=next(trips)), None, "proposed"))


def test_picture_while_dragging(benchmark: Any, large: Drawing) -> None:
    item = next(i for i in large.items.values() if not isinstance(i, Connection) and i.kind == "load")
    assert item.place is not None
    steps = iter(range(100_000))
    x, y = item.place.x, item.place.y
    benchmark(lambda: build_picture(change(large, item.id, place=Place(x + next(steps) % 200, y)), None, "proposed"))


def test_arrange_all(benchmark: Any, large: Drawing) -> None:
    """Each round for another proportion, so that nothing is remembered."""
    proportions = iter((1.51, 1.52, 1.53, 1.54))
    benchmark.pedantic(lambda: arrange(large, proportion=next(proportions)), rounds=3)
