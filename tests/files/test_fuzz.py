"""Valid files with arbitrary values put in at arbitrary places: refused or opened with a word, never a crash."""

from __future__ import annotations

import json
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from oneline.assets import sample
from oneline.files import CannotOpen, Opened, checked_bytes, read_drawing
from oneline.files.serialize import settle

UTC = "2026-03-31T14:05:00Z"
WHOLE = json.loads(sample("cannery.oneline").read_text(encoding="utf-8"))

HOSTILE: st.SearchStrategy[Any] = st.sampled_from(
    [None, True, False, 0, -1, 1, 2**63, -(2**70), 1e308, -1e-320, float("nan"), float("inf"), "", "x", "x" * 5000, "\x00",
     "\u202e", "\ud800", "208Y/120", "bus99", "disconnect9", [], {}, [[]], ["bus1", "bus"], {"a": 1}, [1, 2], "../../x",
     "=1+1", "<b>", "%s%n", "2026-02-30", "copper", "new"]
) | st.recursive(st.none() | st.integers() | st.floats() | st.text(max_size=8), lambda s: st.lists(s, max_size=3)
                 | st.dictionaries(st.text(max_size=5), s, max_size=3), max_leaves=5)  # fmt: skip


def places(value: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """Every place in a JSON value, as the way there."""
    found = [path]
    if isinstance(value, dict):
        for key in value:
            found += places(value[key], (*path, key))
    elif isinstance(value, list):
        for n, part in enumerate(value):
            found += places(part, (*path, n))
    return found


PLACES = places(WHOLE)[1:]


def put(value: Any, path: tuple[Any, ...], new: Any, remove: bool) -> Any:
    """The value with one place changed or taken out; nothing else is copied."""
    if not path:
        return new
    key, rest = path[0], path[1:]
    if isinstance(value, list):
        if not isinstance(key, int) or key >= len(value):
            return value
        return [*value[:key], *([] if remove and not rest else [put(value[key], rest, new, remove)]), *value[key + 1 :]]
    if not isinstance(value, dict) or key not in value:
        return value
    if remove and not rest:
        return {k: v for k, v in value.items() if k != key}
    return {**value, key: put(value[key], rest, new, remove)}


def opened_or_none(data: bytes) -> Opened | None:
    """The opened file, or ``None`` where it was refused with a next step."""
    try:
        return read_drawing(data)
    except CannotOpen as refused:
        if not refused.problem.what_to_do:
            raise
        return None


changes = st.lists(st.tuples(st.sampled_from(PLACES), HOSTILE, st.booleans()), min_size=1, max_size=4)


@settings(max_examples=120, deadline=2000, suppress_health_check=[HealthCheck.too_slow])
@given(changes)
def test_arbitrary_changes(wanted: list[tuple[tuple[Any, ...], Any, bool]]) -> None:
    whole = WHOLE
    for path, value, remove in wanted:
        whole = put(whole, path, value, remove)
    data = json.dumps(whole).encode("utf-8")
    opened = opened_or_none(data)
    if opened is None:
        return
    for problem in opened.problems:
        assert problem.what
        assert problem.why
        assert "\n" not in problem.why
        str(problem).encode("utf-8")
    # What was opened can be saved, and opens again as it is.
    again = read_drawing(checked_bytes(opened.drawing, UTC))
    assert again.drawing == settle(opened.drawing)
    assert all(p.lasting for p in again.problems)
