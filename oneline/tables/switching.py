"""Figures of switching practice. Common practice without a source: they plan and point out, no rule judges by them."""

from __future__ import annotations

from functools import cache

from oneline.tables.source import find, number

_PRACTICE = "switching_practice"


@cache
def switching_practice(id: str) -> float:
    """The figure with this id, in the unit its row names. Raises ``NotInTable``."""
    return float(number(find(_PRACTICE, ("id",), id), "value", _PRACTICE))


def step_minutes(action: str) -> float:
    """Minutes a step of an action ("open", "test", ...) takes. Raises ``NotInTable``."""
    return switching_practice(f"minutes_{action}")
