"""Writes the golden display lists in tests/sheet/golden. Run it after a change of the sheet that is meant, look at the
pictures (export them from the program), then commit the new files: ``python tests/sheet/make_goldens.py``.
"""

from __future__ import annotations

import importlib.util
import json
import sys
from pathlib import Path
from types import ModuleType
from typing import Any

from oneline.sheet import Arc, Picture, Text, build_picture
from oneline.sheet.display import Primitive
from oneline.sheet.symbols import draw_symbol, shipped_set

FOLDER = Path(__file__).with_name("golden")
#: name of the golden: view, symbol set, with the made-up study, with ghosts
PICTURES = {
    "proposed": ("proposed", "us", True, True),
    "existing": ("existing", "us", True, True),
    "bare_iec": ("proposed", "iec", False, False),
}


def sibling(name: str) -> ModuleType:
    """A module of this folder, which is not a package."""
    key = f"sheet_tests_{name}"
    if key not in sys.modules:
        spec = importlib.util.spec_from_file_location(key, Path(__file__).with_name(f"{name}.py"))
        assert spec is not None
        assert spec.loader is not None
        module = importlib.util.module_from_spec(spec)
        sys.modules[key] = module
        spec.loader.exec_module(module)
    return sys.modules[key]


def golden_picture(name: str) -> Picture:
    """The picture a golden file describes, as the program draws it now."""
    view, symbols, studied, ghosts = PICTURES[name]
    golden = sibling("golden_drawing")
    drawing = golden.golden_drawing()
    result = golden.golden_result(drawing, view) if studied else None
    return build_picture(drawing, result, view, symbols, ghosts)


def _n(value: float) -> float:
    rounded = round(value, 2)
    return int(rounded) if rounded == int(rounded) else rounded


def primitive_list(p: Primitive) -> list[Any]:
    """A primitive as plain lists, coordinates rounded to hundredths."""
    if isinstance(p, Text):
        return ["text", [_n(v) for v in p.at], p.text, _n(p.size), p.face, p.anchor, p.ink]
    if isinstance(p, Arc):
        angles = [_n(p.start_deg), _n(p.sweep_deg)]
        return ["arc", [_n(v) for v in p.center], _n(p.radius), angles, p.weight, p.dash, p.ink, p.fill]
    points = [[_n(x), _n(y)] for x, y in p.points]
    return ["stroke", points, p.weight, p.dash, p.ink, p.closed, p.fill]


def picture_lines(picture: Picture) -> list[str]:
    """One line of JSON per group, in painting order, and the routes."""
    out = [
        json.dumps([g.item, g.part, _n(g.level), [primitive_list(p) for p in g.primitives]], ensure_ascii=False)
        for g in picture.groups
    ]
    out += [json.dumps([k, "route", [[_n(x), _n(y)] for x, y in points]]) for k, points in picture.routes.items()]
    return out


def symbol_lines(symbols: str) -> list[str]:
    """One line of JSON per symbol of a set."""
    return [
        json.dumps(
            [name, [primitive_list(p) for p in draw_symbol(symbols, name, (0, 0), letter="R")]], ensure_ascii=False
        )
        for name in sorted(shipped_set(symbols).symbols)
    ]


def all_goldens() -> dict[str, list[str]]:
    """{file name: lines} of everything that has a golden."""
    found = {f"{name}.jsonl": picture_lines(golden_picture(name)) for name in PICTURES}
    return found | {f"symbols_{s}.jsonl": symbol_lines(s) for s in ("us", "iec")}


def main() -> None:
    FOLDER.mkdir(exist_ok=True)
    for name, lines in all_goldens().items():
        (FOLDER / name).write_text("\n".join(lines) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
