"""The display lists of a whole drawing and of every symbol, looked at once by eye and compared ever since."""

from __future__ import annotations

from types import ModuleType

import pytest

_NAMES = ["proposed.jsonl", "existing.jsonl", "bare_iec.jsonl", "symbols_us.jsonl", "symbols_iec.jsonl"]


@pytest.fixture(scope="module")
def drawn(goldens: ModuleType) -> dict[str, list[str]]:
    found: dict[str, list[str]] = goldens.all_goldens()
    return found


def test_every_golden_is_compared(goldens: ModuleType, drawn: dict[str, list[str]]) -> None:
    assert sorted(drawn) == sorted(_NAMES) == sorted(p.name for p in goldens.FOLDER.iterdir())


@pytest.mark.parametrize("name", _NAMES)
def test_display_list_is_as_reviewed(name: str, goldens: ModuleType, drawn: dict[str, list[str]]) -> None:
    """A difference that is meant: run tests/sheet/make_goldens.py and look at the new pictures."""
    kept = (goldens.FOLDER / name).read_text(encoding="utf-8").splitlines()
    assert drawn[name] == kept
