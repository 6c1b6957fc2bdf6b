"""Loads between different phases add as phasors: with power factors that nobody entered, at one that is assumed.

Physics: 10 A line to line on AB and 10 A on CA at one power factor make 10 * sqrt(3) A in A; 30 degrees apart
the same two make up to 19.3 A. Loads line to neutral and balanced ones on a wye are in phase at one power factor.
"""

from __future__ import annotations

from math import sqrt
from typing import Any

import pytest


def sources(service: Any, loads: dict[str, tuple[str, float | None]], system: str = "208Y/120") -> list[Any]:
    s = service(system, 400, 400)
    for name, (phases, factor) in loads.items():
        s.put("load", name, load_class="heat", va=2_080, phases=phases, power_factor=factor)
        s.joint("MDP", name)
    ctx = s.context()
    return [line for line in ctx.demand.work(ctx.net.node("MDP")) if line.what.startswith("Phase ")]


@pytest.mark.parametrize(
    ("loads", "assumed"),
    [
        ({"a": ("AB", None), "b": ("CA", None)}, True), ({"a": ("AB", 0.9), "b": ("CA", 0.8)}, True),
        ({"a": ("AB", 0.9), "b": ("CA", None)}, True), ({"a": ("AB", 1.0), "b": ("CA", 1.0)}, False),
        ({"a": ("AB", None), "b": ("AB", None)}, False), ({"a": ("A", None), "b": ("ABC", None)}, False),
        ({"a": ("AB", None), "b": ("A", None)}, True), ({"a": ("AB", None)}, False),
    ],
)  # fmt: skip
def test_the_worksheet_says_what_is_assumed(
    service: Any, loads: dict[str, tuple[str, float | None]], assumed: bool
) -> None:
    lines = sources(service, loads)
    assert lines
    assert all(("assumed" in line.source) == assumed for line in lines)


def test_two_legs_of_one_winding_are_in_phase(service: Any) -> None:
    lines = sources(service, {"a": ("AB", None), "b": ("A", None)}, "120/240-1")
    assert lines
    assert all("assumed" not in line.source for line in lines)


def test_the_sum_at_one_power_factor(service: Any) -> None:
    lines = {line.what: line.value for line in sources(service, {"a": ("AB", 1.0), "b": ("CA", 1.0)})}
    assert lines["Phase A, counted"] == pytest.approx(10 * sqrt(3), rel=1e-3)
