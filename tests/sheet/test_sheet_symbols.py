"""Symbols as data: what a set must have, and what the loader refuses."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import pytest

from oneline.model import KINDS, Connection, Drawing
from oneline.model.edits import add
from oneline.model.vocabulary import BUS_FORMS, DISCONNECT_FORMS, LOAD_CLASSES, TRANSFER_POSITIONS
from oneline.sheet import Arc, Stroke, SymbolError, draw_symbol, find_set
from oneline.sheet.shapes import symbol_letter, symbol_name
from oneline.sheet.symbols import LEAST_HIT, REQUIRED, load_set, read_symbol, shipped_set

_GOOD: dict[str, Any] = {
    "format": 1, "name": "switch-open", "title": "Switch, open", "box": [-8, -20, 14, 20], "hit": [-12, -20, 14, 20],
    "terminals": {"line": [0, -20], "load": [0, 20]},
    "strokes": [{"points": [[0, -20], [0, -12]], "side": "line"}, {"points": [[0, 10], [10, -8]]}],
    "arcs": [{"center": [0, -10], "radius": 2}],
    "texts": [{"at": [0, 0], "text": "S"}],
}  # fmt: skip


@pytest.mark.parametrize("name", ["us", "iec"])
def test_shipped_sets_are_complete(name: str) -> None:
    symbols = shipped_set(name)
    assert set(REQUIRED) <= set(symbols.symbols)
    for symbol in symbols.symbols.values():
        assert symbol.hit[2] - symbol.hit[0] >= LEAST_HIT
        assert symbol.hit[3] - symbol.hit[1] >= LEAST_HIT
        assert symbol.hit[0] <= symbol.box[0]
        assert symbol.hit[2] >= symbol.box[2]
        for x, y in symbol.terminals.values():
            assert x % 10 == 0
            assert y % 10 == 0


@pytest.mark.parametrize("name", ["us", "iec"])
def test_terminals_are_where_a_lead_ends(name: str) -> None:
    """A line drawn to the terminal must meet ink there."""
    for symbol in shipped_set(name).symbols.values():
        for terminal, at in symbol.terminals.items():
            if symbol.stretch:
                continue
            strokes = [m.primitive for m in symbol.marks if m.side == terminal and isinstance(m.primitive, Stroke)]
            assert any(math.dist(p, at) < 0.01 for s in strokes for p in s.points), (symbol.name, terminal)


@pytest.mark.parametrize("name", ["us", "iec"])
@pytest.mark.parametrize("form", DISCONNECT_FORMS)
def test_open_looks_different_from_closed(name: str, form: str) -> None:
    stem = form.replace(" ", "-")
    assert draw_symbol(name, f"{stem}-open", (0, 0)) != draw_symbol(name, f"{stem}-closed", (0, 0))


def test_transfer_positions_look_different() -> None:
    drawn = {draw_symbol("us", f"transfer-{p}", (0, 0)) for p in TRANSFER_POSITIONS}
    assert len(drawn) == len(TRANSFER_POSITIONS)


def test_practices_differ_where_the_standards_do() -> None:
    """Breaker, switch and transformer have other shapes in IEC 60617 than in US practice (IEEE 315)."""
    for name in ("breaker-closed", "breaker-open", "switch-open", "transformer", "meter"):
        assert draw_symbol("us", name, (0, 0)) != draw_symbol("iec", name, (0, 0)), name


def test_every_item_of_the_model_has_a_symbol() -> None:
    choices = {
        "disconnect": [{"form": f, "closed": c} for f in DISCONNECT_FORMS for c in (True, False)],
        "transfer": [{"position": p} for p in TRANSFER_POSITIONS],
        "bus": [{"form": f} for f in BUS_FORMS],
        "load": [{"load_class": c} for c in LOAD_CLASSES],
    }
    for kind, cls in KINDS.items():
        if issubclass(cls, Connection):
            continue
        for values in choices.get(kind, [{}]):
            drawing, item_id = add(Drawing(), kind, **values)
            item = drawing.get(item_id)
            symbol = shipped_set("us")[symbol_name(item)]
            assert set(symbol.terminals) == set(item.terminals)


def test_letters_of_loads_are_not_shared_by_different_things() -> None:
    drawing = Drawing()
    letters: dict[str, str] = {}
    for load_class in LOAD_CLASSES:
        drawing, item_id = add(drawing, "load", load_class=load_class)
        letters[load_class] = symbol_letter(drawing.get(item_id))
    named = [v for k, v in letters.items() if v and k != "fixed multioutlet"]
    assert len(named) == len(set(named))


def test_flipping_twice_and_moving_keep_the_shape() -> None:
    up, down = draw_symbol("us", "solar", (0, 0)), draw_symbol("us", "solar", (0, 0), flipped=True)
    assert up != down
    tall = [abs(y) for p in up if isinstance(p, Stroke) for _, y in p.points]
    low = [abs(y) for p in down if isinstance(p, Stroke) for _, y in p.points]
    assert tall == low
    moved = draw_symbol("us", "meter", (100, 50))
    circle = next(p for p in moved if isinstance(p, Arc))
    assert circle.center == (100, 50)


def test_bars_stretch_to_their_width() -> None:
    for form in BUS_FORMS:
        drawn = draw_symbol("us", form.replace(" ", "-"), (0, 0), width=240)
        xs = [x for p in drawn if isinstance(p, Stroke) for x, _ in p.points]
        assert (min(xs), max(xs)) == (-120, 120)


# ------------------------------------------------------------------------------------------------------ the loader
def _write(folder: Path, data: dict[str, Any], name: str = "switch-open") -> Path:
    path = folder / f"{name}.json"
    path.write_text(json.dumps(data), encoding="utf-8")
    return path


def test_a_good_symbol_is_read(tmp_path: Path) -> None:
    symbol = read_symbol(_write(tmp_path, _GOOD))
    assert symbol.terminals == {"line": (0, -20), "load": (0, 20)}
    assert [m.side for m in symbol.marks] == ["line", "", "", ""]


_BAD: list[tuple[str, dict[str, Any], str]] = [
    ("other format", {"format": 2}, "format must be 1"),
    ("other name", {"name": "switch"}, "Both must be the same"),
    ("no title", {"title": ""}, "title must be a text"),
    ("box reversed", {"box": [8, -20, -8, 20]}, "left below right"),
    ("box short", {"box": [1, 2, 3]}, r"box must be \[left, top, right, bottom\]"),
    ("hit too small", {"hit": [-5, -5, 5, 5]}, "at least 24 units"),
    ("terminal off grid", {"terminals": {"line": [0, -19], "load": [0, 20]}}, "10-unit grid"),
    ("terminal missing", {"terminals": {"line": [0, -20]}}, "terminals must be exactly: line, load"),
    ("strange entry", {"color": "red"}, "unknown entry color"),
    ("stroke of one point", {"strokes": [{"points": [[0, 0]]}]}, "two points or more"),
    ("point of three", {"strokes": [{"points": [[0, 0, 0], [1, 1]]}]}, r"strokes\[0\].points\[0\] must be \[x, y\]"),
    ("not a number", {"arcs": [{"center": [0, "a"], "radius": 2}]}, r"arcs\[0\].center\[1\] must be a number"),
    ("truth for a number", {"arcs": [{"center": [0, True], "radius": 2}]}, "must be a number"),
    ("radius zero", {"arcs": [{"center": [0, 0], "radius": 0}]}, "radius must be above zero"),
    ("unknown weight", {"strokes": [{"points": [[0, 0], [1, 1]], "weight": "fat"}]}, r"strokes\[0\].weight must be one of"),
    ("unknown side", {"strokes": [{"points": [[0, 0], [1, 1]], "side": "north"}]}, r"strokes\[0\].side must be one of"),
    ("outside the box", {"strokes": [{"points": [[0, 0], [99, 1]]}]}, "outside the box"),
    ("text not text", {"texts": [{"at": [0, 0], "text": 5}]}, "text must be a text"),
    ("label below", {"label_side": "below"}, "label_side must be"),
    ("strokes no list", {"strokes": {}}, "strokes must be a list"),
]  # fmt: skip


@pytest.mark.parametrize(("what", "change", "message"), _BAD, ids=[b[0] for b in _BAD])
def test_a_bad_symbol_is_refused_with_its_place(
    tmp_path: Path, what: str, change: dict[str, Any], message: str
) -> None:
    path = _write(tmp_path, _GOOD | change)
    with pytest.raises(SymbolError, match=message) as caught:
        read_symbol(path)
    assert str(path) in str(caught.value)


def test_broken_json_and_missing_files_are_named(tmp_path: Path) -> None:
    (tmp_path / "set.json").write_text("{", encoding="utf-8")
    with pytest.raises(SymbolError, match="not readable as JSON"):
        load_set(tmp_path)
    with pytest.raises(SymbolError, match="is missing"):
        load_set(tmp_path / "nowhere")
    with pytest.raises(SymbolError, match="Known sets: iec, us"):
        find_set("metric")


def test_a_users_own_set_borrows_from_a_shipped_one(tmp_path: Path) -> None:
    head = {"format": 1, "name": "mine", "title": "Mine", "base": "us"}
    (tmp_path / "set.json").write_text(json.dumps(head), encoding="utf-8")
    _write(tmp_path, _GOOD)
    mine = find_set(str(tmp_path))
    assert mine["switch-open"].title == "Switch, open"
    assert mine["breaker-open"] == shipped_set("us")["breaker-open"]
    assert draw_symbol(str(tmp_path), "switch-open", (0, 0)) != draw_symbol("us", "switch-open", (0, 0))


def test_a_set_without_base_must_be_complete(tmp_path: Path) -> None:
    (tmp_path / "set.json").write_text(json.dumps({"format": 1, "name": "mine", "title": "Mine", "base": None}))
    _write(tmp_path, _GOOD)
    with pytest.raises(SymbolError, match="the set lacks battery, bond, breaker-closed"):
        load_set(tmp_path)
