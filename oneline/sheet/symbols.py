"""Graphic symbols as data: loading and checking a set, and drawing one symbol at a place.

A set is a folder with ``set.json`` and one file per symbol. Coordinates are grid units from the symbol's origin, y
downward; terminals lie on the 10-unit grid. A user can keep a set of their own anywhere: a ``base`` in its ``set.json``
names the shipped set that lends what the folder does not have.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import cache, lru_cache
from pathlib import Path
from typing import Any

from oneline.assets import resource
from oneline.sheet.display import WEIGHTS, Arc, Point, Primitive, Stroke, Text

FORMAT = 1
#: Smallest hit box: a fingertip or a coarse pointer must find every symbol.
LEAST_HIT = 24
#: Symbols every set has (its own or its base's), with the terminals each must name.
REQUIRED: dict[str, tuple[str, ...]] = {
    "service": ("out",), "generator": ("out",), "solar": ("out",), "battery": ("out",),
    "transformer": ("line", "load"), "meter": ("line", "load"),
    "breaker-closed": ("line", "load"), "breaker-open": ("line", "load"),
    "fused-switch-closed": ("line", "load"), "fused-switch-open": ("line", "load"),
    "switch-closed": ("line", "load"), "switch-open": ("line", "load"),
    "fuses-closed": ("line", "load"), "fuses-open": ("line", "load"),
    "transfer-normal": ("normal", "alternate", "load"), "transfer-off": ("normal", "alternate", "load"),
    "transfer-alternate": ("normal", "alternate", "load"),
    "panelboard": ("bus",), "switchboard": ("bus",), "gutter": ("bus",), "splice-box": ("bus",), "busway": ("bus",),
    "meter-center": ("bus",), "load": ("in",), "load-letter": ("in",), "motor": ("in",),
    "tie": (), "bond": (), "ground": (), "winding-delta": (), "winding-wye": (),
}  # fmt: skip
#: Weight of strokes that follow the item's status: existing thin, new medium.
BY_STATUS = "status"


class SymbolError(ValueError):
    """A symbol file is not usable; the text names the file, the place in it and what is expected there."""


@dataclass(frozen=True)
class Mark:
    """One primitive of a symbol; ``side`` names the terminal whose energy colours it ("" for the plain ink)."""

    primitive: Primitive
    side: str = ""


@dataclass(frozen=True)
class Symbol:
    """A checked symbol. ``stretch`` is true for bars that grow in width, drawn at the width of ``box``."""

    name: str
    title: str
    box: tuple[float, float, float, float]
    hit: tuple[float, float, float, float]
    terminals: Mapping[str, Point]
    marks: tuple[Mark, ...]
    label_side: str = "right"
    stretch: bool = False
    slots: Mapping[str, Point] = field(default_factory=dict)


@dataclass(frozen=True)
class SymbolSet:
    """All symbols of one practice by name."""

    name: str
    title: str
    symbols: Mapping[str, Symbol]

    def __getitem__(self, name: str) -> Symbol:
        return self.symbols[name]


@cache
def shipped_set(name: str) -> SymbolSet:
    """A set from resources/symbols ("us" or "iec"). Raises ``SymbolError``."""
    try:
        folder = resource("symbols", name)
    except FileNotFoundError:
        known = sorted(p.name for p in resource("symbols").iterdir() if p.is_dir())
        raise SymbolError(f"There is no symbol set {name!r}. Known sets: {', '.join(known)}.") from None
    return load_set(folder)


def find_set(name_or_folder: str) -> SymbolSet:
    """A shipped set by its name, or a user's own set by the path of its folder. Raises ``SymbolError``."""
    if "/" in name_or_folder or "\\" in name_or_folder or Path(name_or_folder).is_dir():
        return load_set(Path(name_or_folder))
    return shipped_set(name_or_folder)


def load_set(folder: Path) -> SymbolSet:
    """Read and check a folder of symbols. Raises ``SymbolError`` for the first thing that is not right."""
    head = _read_json(folder / "set.json")
    _only(head, folder / "set.json", "", {"format", "name", "title", "base"})
    _format(head, folder / "set.json")
    symbols: dict[str, Symbol] = {}
    if head.get("base") is not None:
        symbols.update(shipped_set(_text(head, "base", folder / "set.json")).symbols)
    for path in sorted(folder.glob("*.json")):
        if path.name != "set.json":
            symbol = read_symbol(path)
            symbols[symbol.name] = symbol
    missing = sorted(set(REQUIRED) - set(symbols))
    if missing:
        raise SymbolError(
            f'{folder}: the set lacks {", ".join(missing)}. Add a file for each, or put "base": "us" into set.json.'
        )
    return SymbolSet(_text(head, "name", folder / "set.json"), _text(head, "title", folder / "set.json"), symbols)


def read_symbol(path: Path) -> Symbol:
    """Read and check one symbol file. Raises ``SymbolError``."""
    data = _read_json(path)
    _only(
        data, path, "",
        {"format", "name", "title", "box", "hit", "terminals", "strokes", "arcs", "texts", "label_side", "stretch", "slots"},
    )  # fmt: skip
    _format(data, path)
    name = _text(data, "name", path)
    if name != path.stem:
        raise SymbolError(f"{path}: name is {name!r} but the file is {path.name}. Both must be the same.")
    box, hit = _box(data, "box", path), _box(data, "hit", path)
    if hit[2] - hit[0] < LEAST_HIT or hit[3] - hit[1] < LEAST_HIT:
        raise SymbolError(f"{path}: hit must be at least {LEAST_HIT} units wide and high.")
    terminals = {k: _point(v, path, f"terminals.{k}") for k, v in _mapping(data, "terminals", path).items()}
    for key, (x, y) in terminals.items():
        if x % 10 or y % 10:
            raise SymbolError(f"{path}: terminals.{key} must lie on the 10-unit grid, not at {x:g}, {y:g}.")
    needed = REQUIRED.get(name)
    if needed is not None and set(terminals) != set(needed):
        wanted = ", ".join(needed) or "none"
        raise SymbolError(f"{path}: terminals must be exactly: {wanted}. Found: {', '.join(terminals) or 'none'}.")
    side = data.get("label_side", "right")
    if side not in ("right", "left"):
        raise SymbolError(f'{path}: label_side must be "right" or "left", not {side!r}.')
    marks = tuple(_marks(data, path, terminals))
    _inside(marks, box, path)
    return Symbol(
        name=name, title=_text(data, "title", path), box=box, hit=hit, terminals=terminals, marks=marks, label_side=side,
        stretch=data.get("stretch", False) is True,
        slots={k: _point(v, path, f"slots.{k}") for k, v in _mapping(data, "slots", path).items()},
    )  # fmt: skip


# ------------------------------------------------------------------------------------------------------- drawing
@lru_cache(maxsize=512)
def _fitted(symbol_set: str, name: str, width: float, flipped: bool, letter: str) -> tuple[Mark, ...]:
    symbol = find_set(symbol_set)[name]
    grow = (width - (symbol.box[2] - symbol.box[0])) / 2 if symbol.stretch and width else 0.0

    def move(p: Point) -> Point:
        x = p[0] + (grow if p[0] > 0 else -grow if p[0] < 0 else 0.0)
        return (x, -p[1] if flipped else p[1])

    out: list[Mark] = []
    for mark in symbol.marks:
        prim: Primitive = mark.primitive
        if isinstance(prim, Stroke):
            prim = replace(prim, points=tuple(move(p) for p in prim.points))
        elif isinstance(prim, Arc):
            start = -prim.start_deg - prim.sweep_deg if flipped else prim.start_deg
            prim = replace(prim, center=move(prim.center), start_deg=start)
        else:
            y = -prim.at[1] + 0.729 * prim.size if flipped else prim.at[1]
            text = prim.text.replace("{letter}", letter)
            size = prim.size * (1 if len(text) < 2 or "{" not in prim.text else 0.72)
            lift = (prim.size - size) * 0.3645
            prim = replace(prim, at=(move(prim.at)[0], y - lift), text=text, size=size)
        out.append(replace(mark, primitive=prim))
    return tuple(out)


def draw_symbol(
    symbol_set: str,
    name: str,
    at: Point,
    *,
    weight: str = "thin",
    dash: str = "solid",
    ink: str = "",
    sides: Mapping[str, tuple[str, str]] | None = None,
    width: float = 0.0,
    flipped: bool = False,
    letter: str = "",
) -> tuple[Primitive, ...]:
    """The primitives of a symbol with its origin at ``at``.

    ``weight`` and ``dash`` follow the item's status. ``sides``: {terminal: (ink, dash)} of the parts that belong to a
    terminal's conductor. ``ink``: overrides every ink (ghosts). ``width``: of a bar. ``flipped``: upside down.
    """
    dx, dy = at
    sides = sides or {}
    out: list[Primitive] = []
    for mark in _fitted(symbol_set, name, width, flipped, letter):
        prim = mark.primitive
        role, pattern = sides.get(mark.side, ("", "")) if mark.side else ("", "")
        role = ink or role or prim.ink
        if isinstance(prim, Text):
            out.append(Text((prim.at[0] + dx, prim.at[1] + dy), prim.text, prim.size, prim.face, prim.anchor, role))
            continue
        line = weight if prim.weight == BY_STATUS else prim.weight
        own = pattern if mark.side and pattern and prim.weight != "heavy" else prim.dash
        look = dash if dash != "solid" else own
        fill = prim.fill if not ink or prim.fill in ("", "paper", "fill-panel") else ink
        if isinstance(prim, Stroke):
            pts = tuple((x + dx, y + dy) for x, y in prim.points)
            out.append(Stroke(pts, line, look, role, prim.closed, fill))
            if role == "dead" and line == "heavy":  # a dead bar is hollow, as dead lines are
                out.append(Stroke(pts, "medium", look, "paper"))
        else:
            center = (prim.center[0] + dx, prim.center[1] + dy)
            out.append(Arc(center, prim.radius, prim.start_deg, prim.sweep_deg, line, look, role, fill))
    return tuple(out)


# ------------------------------------------------------------------------------------------------------- checking
def _read_json(path: Path) -> dict[str, Any]:
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        raise SymbolError(
            f"{path} is missing. A symbol set is a folder with set.json and one file per symbol."
        ) from None
    except (UnicodeDecodeError, json.JSONDecodeError) as problem:
        raise SymbolError(f"{path} is not readable as JSON: {problem}.") from None
    if not isinstance(data, dict):
        raise SymbolError(f"{path}: the file must hold one JSON object.")
    return data


def _format(data: dict[str, Any], path: Path) -> None:
    if data.get("format") != FORMAT:
        raise SymbolError(f"{path}: format must be {FORMAT}, not {data.get('format')!r}.")


def _only(data: Mapping[str, Any], path: Path, where: str, allowed: set[str]) -> None:
    strange = sorted(set(data) - allowed)
    if strange:
        place = f"{where}: " if where else ""
        raise SymbolError(f"{path}: {place}unknown entry {', '.join(strange)}. Known: {', '.join(sorted(allowed))}.")


def _text(data: Mapping[str, Any], key: str, path: Path) -> str:
    value = data.get(key)
    if not isinstance(value, str) or not value:
        raise SymbolError(f"{path}: {key} must be a text, not {value!r}.")
    return value


def _number(value: Any, path: Path, where: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value) or abs(value) > 1000:
        raise SymbolError(f"{path}: {where} must be a number between -1000 and 1000, not {value!r}.")
    return float(value)


def _point(value: Any, path: Path, where: str) -> Point:
    if not isinstance(value, list) or len(value) != 2:
        raise SymbolError(f"{path}: {where} must be [x, y], not {value!r}.")
    return (_number(value[0], path, f"{where}[0]"), _number(value[1], path, f"{where}[1]"))


def _box(data: Mapping[str, Any], key: str, path: Path) -> tuple[float, float, float, float]:
    value = data.get(key)
    if not isinstance(value, list) or len(value) != 4:
        raise SymbolError(f"{path}: {key} must be [left, top, right, bottom], not {value!r}.")
    left, top, right, bottom = (_number(v, path, f"{key}[{i}]") for i, v in enumerate(value))
    if left >= right or top >= bottom:
        raise SymbolError(f"{path}: {key} must have left below right and top below bottom, not {value!r}.")
    return (left, top, right, bottom)


def _mapping(data: Mapping[str, Any], key: str, path: Path) -> dict[str, Any]:
    value = data.get(key, {})
    if not isinstance(value, dict):
        raise SymbolError(f"{path}: {key} must be an object, not {value!r}.")
    return value


def _entries(data: Mapping[str, Any], key: str, path: Path, allowed: set[str]) -> Iterator[tuple[dict[str, Any], str]]:
    value = data.get(key, [])
    if not isinstance(value, list):
        raise SymbolError(f"{path}: {key} must be a list, not {value!r}.")
    for i, entry in enumerate(value):
        where = f"{key}[{i}]"
        if not isinstance(entry, dict):
            raise SymbolError(f"{path}: {where} must be an object, not {entry!r}.")
        _only(entry, path, where, allowed)
        yield entry, where


def _choice(entry: Mapping[str, Any], key: str, default: str, choices: tuple[str, ...], path: Path, where: str) -> str:
    value = entry.get(key, default)
    if value not in choices:
        raise SymbolError(f"{path}: {where}.{key} must be one of {', '.join(filter(None, choices))}, not {value!r}.")
    return str(value)


def _marks(data: Mapping[str, Any], path: Path, terminals: Mapping[str, Point]) -> Iterator[Mark]:
    weights, inks = (BY_STATUS, *WEIGHTS), ("ink", "faint", "paper", "fill-panel")
    sides, dashes = ("", *terminals), ("solid", "enclosure", "interlock")
    for entry, where in _entries(data, "strokes", path, {"points", "weight", "dash", "side", "closed", "fill", "ink"}):
        points = entry.get("points")
        if not isinstance(points, list) or len(points) < 2:
            raise SymbolError(f"{path}: {where}.points must hold two points or more.")
        stroke = Stroke(
            tuple(_point(p, path, f"{where}.points[{i}]") for i, p in enumerate(points)),
            _choice(entry, "weight", BY_STATUS, weights, path, where), _choice(entry, "dash", "solid", dashes, path, where),
            _choice(entry, "ink", "ink", inks, path, where), entry.get("closed", False) is True,
            _choice(entry, "fill", "", ("", *inks), path, where),
        )  # fmt: skip
        yield Mark(stroke, _choice(entry, "side", "", sides, path, where))
    for entry, where in _entries(
        data, "arcs", path, {"center", "radius", "start", "sweep", "weight", "side", "fill", "ink"}
    ):
        radius = _number(entry.get("radius"), path, f"{where}.radius")
        if radius <= 0:
            raise SymbolError(f"{path}: {where}.radius must be above zero.")
        arc = Arc(
            _point(entry.get("center"), path, f"{where}.center"), radius,
            _number(entry.get("start", 0), path, f"{where}.start"), _number(entry.get("sweep", 360), path, f"{where}.sweep"),
            _choice(entry, "weight", BY_STATUS, weights, path, where), "solid",
            _choice(entry, "ink", "ink", inks, path, where), _choice(entry, "fill", "", ("", *inks), path, where),
        )  # fmt: skip
        yield Mark(arc, _choice(entry, "side", "", sides, path, where))
    for entry, where in _entries(data, "texts", path, {"at", "text", "size", "face", "anchor", "ink"}):
        text = Text(
            _point(entry.get("at"), path, f"{where}.at"), _text(entry, "text", path),
            _number(entry.get("size", 9), path, f"{where}.size"),
            _choice(entry, "face", "regular", ("regular", "bold", "italic"), path, where),
            _choice(entry, "anchor", "middle", ("start", "middle", "end"), path, where),
            _choice(entry, "ink", "ink", inks, path, where),
        )  # fmt: skip
        yield Mark(text)


def _inside(marks: tuple[Mark, ...], box: tuple[float, float, float, float], path: Path) -> None:
    for mark in marks:
        if isinstance(mark.primitive, Stroke):
            for x, y in mark.primitive.points:
                if not (box[0] <= x <= box[2] and box[1] <= y <= box[3]):
                    raise SymbolError(f"{path}: the point {x:g}, {y:g} lies outside the box.")
