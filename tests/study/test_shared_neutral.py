"""Where the neutral of transformers with paralleled secondaries is bonded."""

from __future__ import annotations

from typing import Any

import pytest

from oneline.rules.verdict import Verdict
from oneline.study import grounding


def paralleled(
    sketch: Any, bonds: tuple[bool | None, bool | None], board: bool | None, devices: bool, tie: bool
) -> Any:
    """Two transformers on one board; ``devices``: a breaker on each secondary; ``tie``: two boards with a tie that is
    normally open instead of one."""
    s = sketch(2023)
    s.put("service", "U", system="480Y/277")
    s.put("disconnect", "Main", form="breaker", trip_a=1600, service_disconnect=True, neutral_bonded=True)
    s.put("bus", "Upper", form="switchboard", rating_a=1600, neutral_bonded=False)
    s.chain("U", "Main", "Upper")
    for k in (1, 2):
        lower = f"Lower {k}" if tie or k == 1 else "Lower 1"
        if tie or k == 1:
            s.put("bus", lower, form="switchboard", rating_a=3000, neutral_bonded=board)
        s.put("disconnect", f"F{k}", form="breaker", trip_a=700)
        s.put(
            "transformer", f"T{k}", kva=500, z_pct=5, primary_system="480Y/277", secondary_system="208Y/120",
            connection="delta-wye", neutral_bonded=bonds[k - 1],
        )  # fmt: skip
        if devices or tie:
            s.put("disconnect", f"S{k}", form="breaker", trip_a=1600, neutral_bonded=False)
            s.chain("Upper", f"F{k}", f"T{k}", f"S{k}", lower)
        else:
            s.chain("Upper", f"F{k}", f"T{k}", lower)
    if tie:
        s.put("disconnect", "Tie", form="breaker", trip_a=1600, normally_open=True, closed=False)
        s.chain("Lower 1", "Tie", "Lower 2")
    return s


def bond(s: Any) -> list[Verdict]:
    return [v for v in grounding.verdicts(s.context()) if v.rule == "GND-6"]


@pytest.mark.parametrize("devices", [True, False])
@pytest.mark.parametrize(
    ("bonds", "board", "state", "named"),
    [
        ((True, True), False, "fail", ("T1", "T2")),
        ((True, False), False, "pass", ("T1",)),
        ((False, True), False, "pass", ("T2",)),
        ((False, False), False, "fail", ("nowhere",)),
        ((False, False), True, "pass", ("Lower 1",)),
        ((False, True), True, "fail", ("T2", "Lower 1")),
        ((True, None), False, "unknown", ("T1", "T2")),
    ],
)
def test_paralleled_secondaries_are_bonded_once(
    sketch: Any, bonds: Any, board: bool, state: str, named: tuple[str, ...], devices: bool
) -> None:
    """NFPA 70 250.30(A)(1), from memory: a separately derived system is bonded at a single point. Physics: two bonds on
    one neutral put neutral current on the enclosures between them (250.6)."""
    (found,) = bond(paralleled(sketch, bonds, board, devices, tie=False))
    assert found.state == state
    assert all(name in found.message for name in named)
    if state == "unknown":
        assert found.needs == ("neutral bond at T2: in or out",)


def test_a_tie_that_is_normally_open_leaves_each_its_own_bond(sketch: Any) -> None:
    found = bond(paralleled(sketch, (True, True), False, devices=True, tie=True))
    assert [v.state for v in found] == ["pass", "pass"]
