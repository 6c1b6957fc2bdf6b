"""PNL-2 and PNL-5 on drawings: back-fed, delta and wrong-phase breakers."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from oneline.rules.verdict import Verdict
from oneline.study import panels

EDITIONS = pytest.mark.parametrize("edition", [2017, 2020, 2023, 2026])


def of_rule(s: Any, rule: str, edition: int = 2023) -> list[Verdict]:
    return [v for v in panels.verdicts(s.context(edition=edition)) if v.rule == rule]


def change(s: Any, item: str, **values: Any) -> Any:
    s.drawing = s.drawing.with_items([replace(s.drawing.get(item), **values)])
    return s


def with_main(service: Any, **main: Any) -> Any:
    s = service()
    s.put("disconnect", "F1", trip_a=100, rating_a=100, status="new")
    s.put("disconnect", "LP main", trip_a=100, rating_a=100, status="new", **main)
    s.put("bus", "LP", rating_a=125, status="new")
    s.joint("MDP", "F1")
    s.run("F1", "LP main", size="3")
    s.joint("LP main", "LP")
    return s


@EDITIONS
@pytest.mark.parametrize(
    ("main", "state"),
    [
        ({"back_fed": True, "held_down": True}, "pass"), ({"back_fed": True, "held_down": False}, "fail"),
        ({"back_fed": True}, "unknown"), ({"back_fed": False}, None), ({}, None),
        # A main that takes branch spaces plugs on like a branch breaker: asked.
        ({"space": 2}, "unknown"), ({"space": 2, "held_down": True}, "pass"), ({"space": 2, "back_fed": False}, None),
        ({"form": "fused switch", "back_fed": None, "space": 2}, None),
    ],
)  # fmt: skip
def test_back_fed_mains_are_held_down(service: Any, main: dict[str, Any], state: str | None, edition: int) -> None:
    """408.36(D): a plug-in device used as a back-fed main needs a fastener that takes more than a pull."""
    assert [v.state for v in of_rule(with_main(service, **main), "PNL-2", edition)] == ([state] if state else [])


def test_existing_ones_are_a_question(service: Any) -> None:
    s = change(with_main(service, back_fed=True, held_down=False), "LP main", status="existing")
    assert [v.state for v in of_rule(s, "PNL-2")] == ["judge"]


@EDITIONS
@pytest.mark.parametrize(
    ("listed", "held", "state"),
    [(True, None, "pass"), (True, False, "pass"), (False, True, "pass"), (False, False, "fail"), (None, None, "unknown"),
     (None, True, "pass")],
)  # fmt: skip
def test_listed_interactive_sources_need_no_fastener(
    service: Any, listed: bool | None, held: bool | None, state: str, edition: int
) -> None:
    """705.12 waives it for listed utility-interactive sources (2017 (B)(5); later restated)."""
    s = service()
    s.put("disconnect", "Array breaker", trip_a=40, rating_a=100, held_down=held, back_fed=True, status="new")
    s.put("solar", "Array", output_a=30, phases="ABC", interactive_listed=listed, status="new")
    s.chain("MDP", "Array breaker")
    s.joint("Array breaker", "Array.out", status="new")
    (hit,) = of_rule(s, "PNL-2", edition)
    assert hit.state == state
    if listed:
        assert "705.12" in hit.section


@EDITIONS
def test_delta_and_wrong_phase_breakers(service: Any, edition: int) -> None:
    """408.36(C): no delta breakers in panelboards; a breaker on a phase that a single-phase panel lacks fails."""
    s = service("120/240-1", phases="AB")
    s.put("disconnect", "Old", trip_a=60, rating_a=60, delta_breaker=True, status="new")
    s.put("disconnect", "Odd", trip_a=20, rating_a=20, phases="CA", status="new")
    s.put("disconnect", "Good", trip_a=20, rating_a=20, phases="AB", status="new")
    for name in ("Old", "Odd", "Good"):
        s.joint("MDP", name)
    assert {v.subject: v.state for v in of_rule(s, "PNL-5", edition)} == {"Old": "fail", "Odd": "fail"}
    assert {v.state for v in of_rule(change(s, "Old", status="existing"), "PNL-5", edition)} == {"judge", "fail"}
