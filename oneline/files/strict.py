"""JSON read strictly: nothing is guessed, nothing said twice, nothing that is not a number passes for one."""

from __future__ import annotations

import contextlib
import json
import math
import re
from dataclasses import dataclass
from typing import Any

#: Deepest nesting that is read. The format itself needs five.
MAX_DEPTH = 64
_DIGITS = 18
# A text without its escapes, also one that is cut off at the end of the file.
_STRING = re.compile(r'"[^"]*(?:"|\Z)')
_NO_BRACKET = re.compile(r"[^][{}]+")
_ONE_KIND = str.maketrans("[{]}", "(())")
_RUN = re.compile(r"\(+|\)+")
_PEELED = 8
_SPACE = re.compile(r"[ \t\n\r]*")


@dataclass(frozen=True)
class Odd:
    """Stands where the file has something that JSON readers accept and a drawing may not hold."""

    why: str


class TooDeep(ValueError):
    """Brackets are nested deeper than is read."""


class Twice(dict[str, Any]):
    """An object of the file in which at least one key stands twice."""

    names: tuple[str, ...] = ()


def _object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) == len(pairs):
        return found
    seen: set[str] = set()
    twice = Twice(found)
    twice.names = tuple(sorted({k for k, _ in pairs if k in seen or seen.add(k)}))  # type: ignore[func-returns-value]
    return twice


def _integer(digits: str) -> Any:
    return int(digits) if len(digits) <= _DIGITS else Odd(f"a number of {len(digits)} digits")


def too_deep(text: str, most: int = MAX_DEPTH) -> bool:
    """Whether brackets outside of texts are nested deeper than ``most``.

    The innermost pairs are peeled off a few times first: what is broad is then small, and what is left has long runs. In a
    text that is not JSON, brackets without a partner count as nested.
    """
    plain = _STRING.sub("", text.replace("\\\\", "").replace('\\"', ""))
    brackets = _NO_BRACKET.sub("", plain).translate(_ONE_KIND)
    peeled = 0
    while peeled < _PEELED and "()" in brackets:
        brackets = brackets.replace("()", "")
        peeled += 1
    if peeled > most:
        return True
    depth = 0
    for run in _RUN.finditer(brackets):
        count = run.end() - run.start()
        depth = depth + count if brackets[run.start()] == "(" else max(0, depth - count)
        if peeled + depth > most:
            return True
    return False


def parse(text: str, most: int = MAX_DEPTH) -> Any:
    """The value of a JSON text, with ``Odd`` and ``Twice`` where something is wrong with a part of it.

    Raises ``json.JSONDecodeError`` where it is not JSON, ``TooDeep`` where it is nested deeper than ``most``. The depth is
    looked at first: how deep the interpreter itself can go depends on who calls.
    """
    if too_deep(text, most):
        raise TooDeep(f"its brackets are nested more than {most} deep; a drawing needs fewer than ten")
    return json.loads(text, object_pairs_hook=_object, parse_int=_integer, parse_constant=lambda word: Odd(f"{word}"))


def fault_in(value: Any, depth: int = MAX_DEPTH) -> str:
    """What is wrong with a value that is to be kept as it is ("" when nothing is)."""
    if depth <= 0:
        return "is nested too deeply"
    if isinstance(value, Odd):
        return f"holds {value.why}"
    if isinstance(value, Twice):
        return f"has the key {value.names[0]!r} twice"
    if isinstance(value, float) and not math.isfinite(value):
        return "holds a number that is too large"
    if isinstance(value, str) and any("\ud800" <= ch <= "\udfff" for ch in value):
        return "holds half a character"
    if isinstance(value, dict):
        return next((w for pair in value.items() for part in pair if (w := fault_in(part, depth - 1))), "")
    if isinstance(value, list):
        return next((w for part in value if (w := fault_in(part, depth - 1))), "")
    return ""


def lines_of(text: str, part: str = "items") -> list[int]:
    """Line number of each element of a top-level array; of those it can find, in a text that is not sound."""
    starts: list[int] = []
    with contextlib.suppress(ValueError, IndexError, RecursionError):
        _find_elements(text, part, starts)
    lines, line, last = [], 1, 0
    for start in starts:
        line += text.count("\n", last, start)
        last = start
        lines.append(line)
    return lines


def _find_elements(text: str, part: str, starts: list[int]) -> None:
    """Put the position of each element of an array into ``starts``. Raises what a text that is not JSON leads to."""
    decoder = json.JSONDecoder(parse_int=str)

    def after_space(pos: int) -> int:
        found = _SPACE.match(text, pos)
        assert found is not None
        return found.end()

    pos = after_space(after_space(0) + 1)
    while pos < len(text) and text[pos] == '"':
        key, pos = decoder.raw_decode(text, pos)
        pos = after_space(after_space(pos) + 1)
        if key == part and text[pos] == "[":
            pos = after_space(pos + 1)
            while text[pos] != "]":
                starts.append(pos)
                _, pos = decoder.raw_decode(text, pos)
                pos = after_space(pos)
                if text[pos] == ",":
                    pos = after_space(pos + 1)
            pos += 1
        else:
            _, pos = decoder.raw_decode(text, pos)
        pos = after_space(pos)
        if pos < len(text) and text[pos] == ",":
            pos = after_space(pos + 1)
