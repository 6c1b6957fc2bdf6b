"""How names are matched."""

from __future__ import annotations

import time

import pytest

from oneline.desk.search import Findable, best, rank


def things(*texts: str) -> list[Findable]:
    return [Findable(t, "", lambda: None) for t in texts]


@pytest.mark.parametrize(
    ("wanted", "first"),
    [
        ("lp", "LP-2"),
        ("2", "LP-2"),
        ("sav", "Save"),
        ("save as", "Save as …"),
        ("undo", "Undo Add LP-2"),
        ("mrk new", "Mark new"),
    ],
)
def test_the_best_match_comes_first(wanted, first):
    found = best(wanted, things("Close", "Undo Add LP-2", "Save as …", "Save", "LP-2", "Mark new"))
    assert found[0].text == first


def test_nothing_matches_nothing():
    assert rank("xyz", "Panel") is None
    assert best("xyz", things("Panel")) == []


def test_two_thousand_names_are_searched_quickly():
    """ux goal: within 50 ms at 2,000 items; here with slack for a busy machine."""
    many = things(*(f"Panel LP-{n} on the {n % 7}th floor" for n in range(2000)))
    start = time.perf_counter()
    assert best("lp-1999", many)[0].text.startswith("Panel LP-1999")
    assert time.perf_counter() - start < 0.25
