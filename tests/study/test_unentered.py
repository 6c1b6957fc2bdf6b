"""Loads that nobody entered are never a zero: old buses with new work below, panels listed in part, suspected ties.

No published example: that unknown load has no upper bound is arithmetic. 208Y/120 V; 1,500 VA line to neutral is 12.5 A.
"""

from __future__ import annotations

from typing import Any

import pytest

from oneline.study.available import verdicts as available_verdicts
from oneline.study.points import Points

UNKNOWN = {"A": None, "B": None, "C": None}


def needs(s: Any) -> tuple[str, ...]:
    ctx = s.context()
    return ctx.demand.needs(ctx.net.node("MDP"))


def with_new_panel(service: Any, circuit: Any, **bus: Any) -> Any:
    s = service(**{"all_listed": None, **bus})
    s.put("disconnect", "Feeder", trip_a=200, rating_a=200, status="new")
    s.put(
        "bus",
        "SP",
        rating_a=225,
        status="new",
        circuits=(circuit(space=1, va=1_500, load_class="heat", continuous=False, status="new"),),
    )
    s.joint("MDP", "Feeder", status="new")
    s.joint("Feeder", "SP", status="new")
    return s


@pytest.mark.parametrize("form", ["panelboard", "switchboard", "meter center", "gutter", "splice box", "busway"])
@pytest.mark.parametrize("told", [None, False, True])
def test_new_work_below_an_old_bus_does_not_make_its_load_known(service, circuit, form, told) -> None:
    s = with_new_panel(service, circuit, form=form, all_listed=told)
    for view in ("existing", "proposed"):
        ctx = s.context(view)
        point = Points(ctx)["MDP"]
        if told:
            assert None not in point.load_a.values()
        else:
            assert point.load_a == UNKNOWN
            assert point.available_a == UNKNOWN
            assert ctx.demand.needs(ctx.net.node("MDP")) == ("what MDP feeds",)
    assert None not in Points(s.context())["SP"].load_a.values()


def test_what_new_work_adds_to_a_directory_does_not_tell_the_old_circuits(service, circuit) -> None:
    s = service(
        all_listed=None, circuits=(circuit(space=1, va=1_500, load_class="heat", continuous=False, status="new"),)
    )
    assert needs(s) == ("what MDP feeds",)
    s = with_new_panel(service, circuit, circuits=(circuit(space=1, use="feeder", feeds="Feeder"),))
    assert needs(s) == ("what MDP feeds",)


@pytest.mark.parametrize("form", ["gutter", "splice box", "busway"])
@pytest.mark.parametrize("status", ["existing", "remove"])
def test_where_conductors_are_joined_what_is_drawn_is_all(service, circuit, form, status) -> None:
    """As long as something that was there leads on from it, even if it is taken away."""
    s = with_new_panel(service, circuit, form=form)
    s.put("disconnect", "Old", trip_a=100, status=status)
    s.put("load", "Oven", va=3_000, phases="ABC", continuous=False, status=status)
    s.joint("MDP", "Old", status=status)
    s.joint("Old", "Oven", status=status)
    assert None not in Points(s.context())["MDP"].load_a.values()


def test_an_array_is_no_load_of_a_gutter(service, circuit) -> None:
    s = with_new_panel(service, circuit, form="gutter")
    s.put("disconnect", "PV")
    s.put("solar", "Array")
    s.joint("MDP", "PV")
    s.joint("PV", "Array.out")
    assert needs(s) == ("what MDP feeds",)


@pytest.mark.parametrize(
    ("told", "spaces", "known"),
    [(None, None, True), (None, 42, False), (None, 2, True), (False, None, False), (False, 2, False), (True, 42, True)],
)
def test_a_panel_listed_in_part_has_at_most_what_is_left(service, circuit, told, spaces, known) -> None:
    rows = (circuit(space=1, va=1_500, load_class="heat", continuous=False), circuit(space=2, use="spare"))
    s = service(all_listed=told, spaces=spaces, circuits=rows)
    ctx = s.context()
    point = Points(ctx)["MDP"]
    assert point.load_a == ({"A": pytest.approx(12.5, rel=1e-3), "B": 0, "C": 0} if known else UNKNOWN)
    assert needs(s) == (() if known else ("whether all circuits of MDP are listed",))
    (main,) = (v for v in available_verdicts(ctx) if v.subject == "MDP")
    assert main.state == ("pass" if known else "unknown")
    assert ("at most" in main.message) is not known


def test_a_drawn_breaker_takes_its_spaces(service, circuit) -> None:
    s = service(all_listed=None, spaces=4, circuits=(circuit(space=1, va=1_500, load_class="heat", continuous=False),))
    s.put("disconnect", "Range", space=2, poles=2, trip_a=40)
    s.put("load", "Oven", va=3_000, phases="AB", continuous=False)
    s.chain("MDP", "Range", "Oven")
    assert needs(s) == ("whether all circuits of MDP are listed",)
    s.put("disconnect", "Range", space=2, poles=3, trip_a=40)
    assert needs(s) == ("whether all circuits of MDP are listed",)
    s.put("bus", "MDP", rating_a=400, all_listed=None, spaces=3, circuits=(circuit(space=1), circuit(space=3)))
    assert "whether all circuits of MDP are listed" not in needs(s)


@pytest.mark.parametrize("far", [None, "Far"])
def test_a_suspected_tie_may_carry_anything(service, circuit, far) -> None:
    """At both of its ends, and at everything on the way to the source."""
    s = service(circuits=(circuit(space=1, va=1_500, load_class="heat", continuous=False),))
    s.put("disconnect", "F", trip_a=100, rating_a=100)
    s.put("bus", "Far", rating_a=100)
    s.chain("MDP", "F", "Far")
    assert None not in Points(s.context())["MDP"].load_a.values()
    s.put("tie", "Mystery", a=s.end("MDP", -1), b=far and s.end(far, 0))
    points = Points(s.context())
    assert points["MDP"].load_a == UNKNOWN
    assert points["Main"].available_a == UNKNOWN
    assert needs(s) == ("trace of Mystery",)
    assert (None in points["Far"].load_a.values()) is (far is not None)
