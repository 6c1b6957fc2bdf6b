"""A few words to draw a supply by hand in the tests of outages."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import Any

from oneline.model import KINDS, Drawing, End, LockRecord, VoltageTest, WorkZone
from oneline.study.context import Context


class Supply:
    """A drawing in the making; ids are names. "id" alone means the terminal that the item is fed at, or feeds from."""

    def __init__(self) -> None:
        self.drawing = Drawing()

    def put(self, kind: str, *ids: str, **values: Any) -> None:
        if kind == "bus":  # what these drawings show is all there is, unless they say otherwise
            values.setdefault("all_listed", True)
        if kind == "transfer":
            values.setdefault("automatic", True)
        for item in ids:
            self.drawing = self.drawing.with_items([KINDS[kind](id=item, name=item, **values)])

    def end(self, where: str, side: int) -> End:
        item, _, terminal = where.partition(".")
        return End(item, terminal or self.drawing.get(item).terminals[side])

    def chain(self, *items: str) -> None:
        """Bolt items one below the other."""
        for a, b in pairwise(items):
            self.put("joint", f"{a} to {b}", a=self.end(a, -1), b=self.end(b, 0))

    def run(self, item: str, a: str, b: str, **values: Any) -> None:
        self.put("run", item, a=self.end(a, -1), b=self.end(b, 0), **values)

    def tie(self, item: str, a: str, b: str = "", **values: Any) -> None:
        self.put("tie", item, a=self.end(a, -1), b=self.end(b, 0) if b else None, **values)

    def change(self, item: str, **values: Any) -> None:
        self.drawing = self.drawing.with_items([replace(self.drawing.get(item), **values)])

    def context(self, view: str = "existing") -> Context:
        return Context(self.drawing, view, 2023)


def zone_of(*items: str, **values: Any) -> WorkZone:
    return WorkZone(id="zone1", name="Work", items=items, **values)


def lock(item: str, **values: Any) -> LockRecord:
    return LockRecord(item, **{"number": "7", "by": "A. Reyes", "when": "2026-12-05 06:10", **values})


def test_of(item: str, terminal: str, fields: tuple[str, ...], **values: Any) -> VoltageTest:
    """A test with everything written down and no voltage between the pairs named."""
    said: dict[str, Any] = {
        "when": "2026-12-05 06:20", "by": "A. Reyes", "instrument": "Meter 3, CAT III", "proved_before": True,
        "proved_after": True, **dict.fromkeys(fields, 0.0),
    }  # fmt: skip
    return VoltageTest(item=item, terminal=terminal, **(said | values))


test_of.__test__ = False  # type: ignore[attr-defined]  # no test of pytest
