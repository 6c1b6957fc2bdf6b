"""Random drawings for the tests of the network room, and small helpers to draw by hand."""

from __future__ import annotations

import random
from types import SimpleNamespace

import pytest

from oneline.model import KINDS, Drawing, End


def put(drawing: Drawing, kind: str, item_id: str, **values) -> Drawing:
    """Add an item with an id of our choice."""
    return drawing.with_items([KINDS[kind](id=item_id, **values)])


def join(drawing: Drawing, a: str, b: str, kind: str = "joint", item_id: str | None = None, **values) -> Drawing:
    """Connect "item.terminal" to "item.terminal"; ``b`` may be empty for a tie to an unknown place."""
    ends = [End(*text.rsplit(".", 1)) if text else None for text in (a, b)]
    item_id = item_id or f"{kind}-{a}-{b}"
    return put(drawing, kind, item_id, a=ends[0], b=ends[1], **values)


def random_drawing(rng: random.Random, switchable: int, buses: int) -> Drawing:
    """Up to three sources, buses, transformers, meters, runs, joints, suspected ties and ``switchable`` contacts.

    Nothing about it is radial or sensible: loops, islands and doubled connections are wanted.
    """
    d = Drawing()
    points: list[str] = []
    for i in range(buses):
        d = put(d, "bus", f"bus{i}")
        points.append(f"bus{i}.bus")

    def link(a: str, b: str) -> None:
        nonlocal d
        if a.rsplit(".", 1)[0] == b.rsplit(".", 1)[0]:
            return
        d = join(d, a, b, rng.choice(("joint", "joint", "run")), f"link{len(d)}")

    def hang(item: str, terminals: tuple[str, ...]) -> None:
        for terminal in terminals:
            if rng.random() < 0.9:
                link(f"{item}.{terminal}", rng.choice(points))

    for i in range(rng.randint(1, 3)):
        d = put(d, rng.choice(("service", "generator", "solar", "battery")), f"source{i}")
        hang(f"source{i}", ("out",))
    left = switchable
    while left > 0:
        item = f"device{len(d)}"
        if left >= 2 and rng.random() < 0.3:
            d = put(d, "transfer", item, position=rng.choice(("normal", "off", "alternate")))
            hang(item, ("normal", "alternate", "load"))
            points.append(f"{item}.load")
            left -= 2
        else:
            normally_open = rng.random() < 0.2
            d = put(d, "disconnect", item, closed=rng.random() < 0.6, normally_open=normally_open)
            hang(item, ("line", "load"))
            points.append(f"{item}.{rng.choice(('line', 'load'))}")
            left -= 1
    for i in range(rng.randint(0, 2)):
        kind = rng.choice(("transformer", "meter"))
        d = put(d, kind, f"{kind}{i}")
        hang(f"{kind}{i}", ("line", "load"))
        points.append(f"{kind}{i}.load")
    for i in range(rng.randint(0, 2)):
        d = put(d, "load", f"load{i}")
        hang(f"load{i}", ("in",))
    for _ in range(rng.randint(0, 2)):
        a, b = rng.choice(points), rng.choice(points)
        if a.rsplit(".", 1)[0] != b.rsplit(".", 1)[0]:
            d = join(d, a, b, "run", f"link{len(d)}")
    for i in range(rng.choice((0, 0, 1, 2))):
        a, b = rng.choice(points), rng.choice([*points, "", ""])
        if b == "" or a.rsplit(".", 1)[0] != b.rsplit(".", 1)[0]:
            d = join(d, a, b, "tie", f"tie{i}")
    return d


@pytest.fixture(scope="session")
def draw() -> SimpleNamespace:
    """``draw.put``, ``draw.join`` and ``draw.random``."""
    return SimpleNamespace(put=put, join=join, random=random_drawing)
