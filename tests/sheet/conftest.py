"""Random drawings, and measures of a picture that hold for every one of them."""

from __future__ import annotations

import importlib.util
import itertools
import math
import random
from collections.abc import Callable
from functools import cache
from pathlib import Path
from types import ModuleType

import pytest

from oneline.model import Drawing, End
from oneline.model.edits import add, connect
from oneline.sheet import Arc, Picture, Text, build_picture
from oneline.sheet.display import Primitive
from oneline.sheet.metrics import text_box
from oneline.study import StudyResult

Box = tuple[float, float, float, float]
_SIZES = ("12", "6", "3", "3/0", "250", "500", None)
_NAMES = ("Bakery", "Mill loft", "Roof unit", "Boiler room", "Kiln", "Shop 3", "Press", "Loading dock hoist", "P", "")


class RandomDrawing:
    """Grows a drawing from its sources down, with everything the model knows."""

    def __init__(self, seed: int, size: int) -> None:
        self.rnd = random.Random(seed)
        self.drawing = Drawing()
        self.left = size
        self.buses: list[str] = []
        for _ in range(self.rnd.choice((1, 1, 1, 2, 3))):
            service = self.add("service", name=self.name(), system="208Y/120", fault_ka=22)
            self.below(service, "out", 0)
        self.extras()

    def name(self) -> str:
        return self.rnd.choice(_NAMES) + self.rnd.choice(("", " 2", " north", " (unit B)"))

    def add(self, kind: str, **values: object) -> str:
        self.left -= 1
        status = self.rnd.choice(("existing",) * 6 + ("new", "remove", "future"))
        self.drawing, item_id = add(self.drawing, kind, status=status, **values)
        return item_id

    def join(self, a: str, a_end: str, b: str, b_end: str, run: bool) -> None:
        values: dict[str, object] = {}
        if run:
            values = {
                "kind": "run", "size": self.rnd.choice(_SIZES), "material": self.rnd.choice(("copper", "aluminum", None)),
                "length_ft": self.rnd.choice((None, 9.5, 12 + 1 / 3, 130.0)), "sets": self.rnd.choice((1, 1, 2)),
                "raceway": self.rnd.choice(("EMT", "within enclosure", None)), "raceway_size": "1-1/4",
            }  # fmt: skip
        else:
            values = {"kind": "joint"}
        self.drawing, _ = connect(self.drawing, End(a, a_end), End(b, b_end), **values)

    def below(self, parent: str, terminal: str, depth: int) -> None:
        rnd = self.rnd
        roll = rnd.random()
        if depth < 2 and roll < 0.25:
            item = self.add("meter", name=self.name())
            nxt = "load"
        elif roll < 0.55 or depth == 0:
            form = rnd.choice(("breaker", "fused switch", "switch", "fuses"))
            item = self.add(
                "disconnect", name=self.name(), form=form, trip_a=rnd.choice((None, 100, 225)), closed=rnd.random() < 0.9,
                interrupting_ka=rnd.choice((None, 10, 200)), neutral_bonded=rnd.choice((None, None, True)),
            )  # fmt: skip
            nxt = "load"
        elif roll < 0.62:
            item = self.add("transformer", name=self.name(), kva=75, connection="delta-wye")
            nxt = "load"
        elif roll < 0.9 and self.left > 0:
            form = rnd.choice(("panelboard", "switchboard", "gutter", "splice box", "busway", "meter center"))
            item = self.add("bus", name=self.name(), form=form, rating_a=rnd.choice((None, 225)))
            self.buses.append(item)
            self.join(parent, terminal, item, "bus", rnd.random() < 0.7)
            for _ in range(rnd.choice((0, 1, 2, 3, 5))):
                if self.left > 0:
                    self.below(item, "bus", depth + 1)
            return
        else:
            kind = rnd.choice(("load", "load", "load", "solar", "battery"))
            item = self.add(kind, name=self.name())
            self.join(parent, terminal, item, "in" if kind == "load" else "out", True)
            return
        bolted = terminal == "bus" and rnd.random() < 0.6
        self.join(parent, terminal, item, "line", not bolted)
        for _ in range(rnd.choice((1, 1, 1, 1, 2, 3)) if depth else 1):
            if self.left > 0:
                self.below(item, nxt, depth + 1)

    def extras(self) -> None:
        """A standby generator over a transfer switch, backfed devices, suspected ties, things not connected."""
        rnd = self.rnd
        for bus in rnd.sample(self.buses, min(len(self.buses), 3)):
            roll = rnd.random()
            if roll < 0.35:
                switch = self.add("transfer", name="Standby switch")
                generator, panel = (
                    self.add("generator", name="Generator", kva=45),
                    self.add("bus", name="Standby panel"),
                )
                self.join(bus, "bus", switch, "normal", True)
                self.join(generator, "out", switch, "alternate", True)
                self.join(switch, "load", panel, "bus", True)
            elif roll < 0.6:
                self.drawing, _ = add(self.drawing, "tie", a=End(bus, "bus"), b=None)
            elif roll < 0.8:
                breaker, battery = self.add("disconnect", name="Backfed breaker"), self.add("battery", name="Battery")
                self.join(bus, "bus", breaker, "load", False)
                self.join(battery, "out", breaker, "line", True)
        if rnd.random() < 0.5:
            self.add("bus", name="Spare panel in the shed")
        if len(self.buses) > 2 and rnd.random() < 0.6:
            one, two = rnd.sample(self.buses, 2)
            tie = self.add("disconnect", name="Tie breaker", normally_open=True, closed=False)
            self.join(one, "bus", tie, "line", True)
            self.join(tie, "load", two, "bus", True)
        if len(self.buses) > 3 and rnd.random() < 0.4:
            one, two = rnd.sample(self.buses, 2)
            self.drawing, _ = add(self.drawing, "tie", a=End(one, "bus"), b=End(two, "bus"))


def extent(primitive: Primitive) -> Box:
    """Box around a primitive."""
    if isinstance(primitive, Text):
        return text_box(primitive)
    if isinstance(primitive, Arc):
        (x, y), r = primitive.center, primitive.radius
        n = 24
        turns = [math.radians(primitive.start_deg + primitive.sweep_deg * k / n) for k in range(n + 1)]
        xs, ys = [x + r * math.cos(t) for t in turns], [y - r * math.sin(t) for t in turns]
    else:
        xs, ys = [p[0] for p in primitive.points], [p[1] for p in primitive.points]
    return (min(xs), min(ys), max(xs), max(ys))


def around(primitives: tuple[Primitive, ...]) -> Box:
    boxes = [extent(p) for p in primitives]
    return (min(b[0] for b in boxes), min(b[1] for b in boxes), max(b[2] for b in boxes), max(b[3] for b in boxes))


def overlap(a: Box, b: Box, gap: float = 0.0) -> bool:
    return a[0] < b[2] + gap and a[2] > b[0] - gap and a[1] < b[3] + gap and a[3] > b[1] - gap


class Measures:
    """Faults of a picture, each a readable text; an empty list is a clean picture."""

    def __init__(self, picture: Picture, drawing: Drawing) -> None:
        self.picture, self.drawing = picture, drawing
        self.symbols: dict[str, Box] = {}
        self.strokes: dict[str, list[Box]] = {}
        self.words: list[tuple[str, Box, str]] = []
        for group in picture.groups:
            texts = tuple(p for p in group.primitives if isinstance(p, Text))
            drawn = len(texts) < len(group.primitives) and any(not isinstance(p, Text | Arc) for p in group.primitives)
            if group.part == "symbol" or (group.part == "ghost" and drawn and group.item not in picture.routes):
                self.symbols[group.item] = around(group.primitives)
                self.strokes[group.item] = [extent(p) for p in group.primitives]
            elif group.part in ("label", "detail") or (group.part == "ghost" and texts and not drawn):
                self.words.append((group.item, around(group.primitives), texts[0].text if texts else ""))

    def overlaps(self) -> list[str]:
        """Symbols and words that lie on each other."""
        found = [
            f"symbols {a} {b}"
            for (a, box), (b, other) in itertools.combinations(self.symbols.items(), 2) if overlap(box, other)
        ]  # fmt: skip
        found += [
            f"words {text!r} of {item} on symbol {other}"
            for item, box, text in self.words for other, symbol in self.symbols.items()
            if overlap(_shrunk(box), symbol) and any(overlap(_shrunk(box), s) for s in self.strokes[other])
        ]  # fmt: skip
        found += [
            f"words {t1!r} and {t2!r}"
            for (i1, b1, t1), (i2, b2, t2) in itertools.combinations(self.words, 2)
            if i1 != i2 and overlap(_shrunk(b1), _shrunk(b2))
        ]  # fmt: skip
        return found

    def segments(self) -> list[tuple[str, tuple[float, float], tuple[float, float]]]:
        return [(k, p, q) for k, points in self.picture.routes.items() for p, q in itertools.pairwise(points) if p != q]

    def crossed(self) -> list[str]:
        """Lines through symbols they do not belong to, or through words."""
        found = []
        for conn_id, p, q in self.segments():
            conn = self.drawing.items[conn_id]
            ends = {conn.a.item} | ({conn.b.item} if conn.b else set())  # type: ignore[attr-defined]
            line = (min(p[0], q[0]), min(p[1], q[1]), max(p[0], q[0]), max(p[1], q[1]))
            found += [
                f"{conn_id} through {k}" for k, b in self.symbols.items()
                if k not in ends and overlap(line, b) and any(overlap(line, s) for s in self.strokes[k])
            ]  # fmt: skip
            found += [f"{conn_id} across words {t!r}" for _, b, t in self.words if overlap(line, _shrunk(b))]
        return found

    def on_one_track(self) -> list[str]:
        """Pieces of different lines that run on each other, unless they leave one terminal together."""
        found = []
        for (k1, p1, q1), (k2, p2, q2) in itertools.combinations(self.segments(), 2):
            if k1 == k2 or self._same_terminal(k1, k2):
                continue
            flat1, flat2 = p1[1] == q1[1], p2[1] == q2[1]
            if flat1 != flat2:
                continue
            along, across = (0, 1) if flat1 else (1, 0)
            if abs(p1[across] - p2[across]) >= 1:
                continue
            low = max(min(p1[along], q1[along]), min(p2[along], q2[along]))
            high = min(max(p1[along], q1[along]), max(p2[along], q2[along]))
            if high - low > 0.5:
                found.append(f"{k1} on {k2}")
        return found

    def _same_terminal(self, one: str, two: str) -> bool:
        def ends(conn_id: str) -> set[End]:
            conn = self.drawing.items[conn_id]
            both = {conn.a, conn.b}  # type: ignore[attr-defined]
            return {e for e in both if e is not None and self.drawing.items[e.item].kind != "bus"}

        return bool(ends(one) & ends(two))


def _shrunk(box: Box) -> Box:
    """Without the air of a font's line box: only ink that really meets counts."""
    return (box[0] + 0.6, box[1] + 0.6, box[2] - 0.6, box[3] - 0.6)


@pytest.fixture(scope="session")
def random_drawing() -> Callable[[int, int], Drawing]:
    """A random drawing from a seed and a rough number of items."""
    return lambda seed, size: RandomDrawing(seed, size).drawing


@pytest.fixture(scope="session")
def grown() -> Callable[[int], tuple[Drawing, Picture]]:
    """The random drawing of a seed, larger for larger seeds, and its picture; both made once."""

    @cache
    def grow(seed: int) -> tuple[Drawing, Picture]:
        drawing = RandomDrawing(seed, 6 + seed * 3 // 2).drawing
        return drawing, build_picture(drawing, None, "proposed")

    return grow


@pytest.fixture(scope="session")
def measures() -> Callable[[Picture, Drawing], Measures]:
    """Faults of a picture."""
    return Measures


@pytest.fixture(scope="session")
def goldens() -> ModuleType:
    """The module that makes the golden files."""
    spec = importlib.util.spec_from_file_location("sheet_goldens", Path(__file__).with_name("make_goldens.py"))
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="session")
def old_service(goldens: ModuleType) -> Drawing:
    """An invented old service of about eighty items."""
    drawing: Drawing = goldens.sibling("golden_drawing").golden_drawing()
    return drawing


@pytest.fixture(scope="session")
def made_up_study(goldens: ModuleType) -> Callable[[Drawing, str], StudyResult]:
    """A made-up study of that service in a view."""
    made: Callable[[Drawing, str], StudyResult] = goldens.sibling("golden_drawing").golden_result
    return made
