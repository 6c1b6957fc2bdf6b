"""Clamp readings that contradict the drawing. Common practice, no source: a reading more than 10 % above what the drawing
can explain means that load is missing on it. 36 kVA balanced at 208 V is 36,000 / (208 sqrt 3) = 99.9 A."""

from __future__ import annotations

from typing import Any

import pytest

from oneline.model import Reading
from oneline.study.readings import verdicts


def read(service: Any, circuit: Any, amps: float, **heat: Any) -> Any:
    values = {"va": 36_000, "load_class": "heat", "continuous": False} | heat
    s = service(circuits=(circuit(space=1, poles=3, **values),))
    s.put(
        "disconnect", "Main", trip_a=400, rating_a=600, form="fused switch", service_disconnect=True,
        readings=(Reading(when="2026-01-01 10:00", a_a=amps, b_a=20.0),),
    )  # fmt: skip
    return s


@pytest.mark.parametrize(("amps", "states"), [(100, []), (109, []), (111, ["advice"]), (400, ["advice"])])
def test_a_reading_above_the_load_says_that_load_is_missing(service, circuit, amps, states) -> None:
    found = list(verdicts(read(service, circuit, amps).context()))
    assert [v.state for v in found] == states
    for verdict in found:
        assert (
            f"Main reads {amps} A on phase A (2026-01-01 10:00), and its load by this drawing is 99.9 A"
            in verdict.message
        )
        assert verdict.rule == "READ-1"


def test_a_reading_above_the_rating_is_an_overload(service, circuit) -> None:
    found = list(verdicts(read(service, circuit, 401).context()))
    assert [v.state for v in found] == ["fail", "advice"]
    assert "above the 400 A of its fuse" in found[0].message


def test_a_reading_contradicts_nothing_where_the_load_is_not_known(service, circuit) -> None:
    assert not list(verdicts(read(service, circuit, 300, va=None).context()))


def test_new_load_does_not_explain_a_reading(service, circuit) -> None:
    """It was not there when it was read; what is taken away was."""
    s = read(service, circuit, 180)
    s.put("load", "Later", va=36_000, phases="ABC", load_class="heat", continuous=False, status="new")
    s.joint("MDP", "Later", status="new")
    for view in ("existing", "proposed"):
        assert [v.state for v in verdicts(s.context(view))] == ["advice"]
    s = read(service, circuit, 180)
    s.put("load", "Old", va=36_000, phases="ABC", load_class="heat", continuous=False, status="remove")
    s.joint("MDP", "Old", status="remove")
    for view in ("existing", "proposed"):
        assert not list(verdicts(s.context(view)))


def test_the_load_stays_what_was_calculated(service, circuit) -> None:
    """220.87: a spot reading never stands for the load."""
    ctx = read(service, circuit, 300).context()
    assert ctx.demand.load_a(ctx.net.node("MDP"))["A"] == pytest.approx(99.9, abs=0.1)
