"""A few words to draw a service by hand in the tests of the study."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import pytest

from oneline.model import KINDS, Circuit, Drawing, End, Project
from oneline.study.context import Context


class Sketch:
    """A drawing in the making. Items are named by their ids; "id" alone means the only (or the load) terminal."""

    def __init__(self, edition: int = 2023) -> None:
        self.drawing = Drawing(Project(edition=edition))

    def put(self, kind: str, item_id: str, **values: Any) -> str:
        values.setdefault("name", item_id)
        if kind == "bus":  # what these sketches show is all there is, unless they say otherwise
            values.setdefault("all_listed", True)
        self.drawing = self.drawing.with_items([KINDS[kind](id=item_id, **values)])
        return item_id

    def end(self, where: str, side: int) -> End:
        """``side``: 0 for where something arrives from, -1 for what feeds on."""
        item, _, terminal = where.partition(".")
        return End(item, terminal or self.drawing.get(item).terminals[side])

    def joint(self, a: str, b: str, **values: Any) -> str:
        return self.put("joint", f"joint {a} {b}", a=self.end(a, -1), b=self.end(b, 0), **values)

    def run(self, a: str, b: str, item_id: str = "", **values: Any) -> str:
        return self.put("run", item_id or f"run {a} {b}", a=self.end(a, -1), b=self.end(b, 0), **values)

    def chain(self, *items: str) -> None:
        """Bolt items one below the other."""
        for a, b in pairwise(items):
            self.joint(a, b)

    def context(self, view: str = "proposed", edition: int | None = None) -> Context:
        return Context(self.drawing, view, edition or self.drawing.project.edition)


def panel_service(
    system: str = "208Y/120", main_a: float | None = 400, bus_a: float | None = 400, **bus: Any
) -> Sketch:
    """Service, main breaker and one panel "MDP"."""
    s = Sketch()
    s.put("service", "Utility", system=system)
    s.put("disconnect", "Main", trip_a=main_a, rating_a=main_a, service_disconnect=True)
    s.put("bus", "MDP", rating_a=bus_a, **bus)
    s.chain("Utility", "Main", "MDP")
    return s


@pytest.fixture
def sketch() -> type[Sketch]:
    return Sketch


@pytest.fixture
def service() -> Any:
    return panel_service


@pytest.fixture
def circuit() -> type[Circuit]:
    return Circuit
