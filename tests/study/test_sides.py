"""DEC-SIDE on drawings: the first decision, found for every new connection and asked where it cannot be.

Trade answers on new switches ahead of the service disconnect: no minimum ratio applies there, the switch is an additional
service disconnect (230.40, 230.82); on the load side of it the tap rules decide (240.21(B)).
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from oneline.rules.verdict import Verdict
from oneline.study import services, taps

WIRE = {"size": "3/0", "material": "copper", "insulation": "THWN-2", "length_ft": 8, "raceway": "EMT", "status": "new"}


def side(s: Any, subject: str = "new run", edition: int = 2023) -> Verdict:
    (found,) = [v for v in taps.verdicts(s.context(edition=edition)) if v.rule == "DEC-SIDE" and v.subject == subject]
    return found


def board(sketch: Any, mains: int = 1, marked: bool | None = True, single_main: bool = True) -> Any:
    """A service with a board behind one main, or a board with several mains and none ahead."""
    s = sketch()
    s.put("service", "Pole", system="208Y/120")
    s.put("bus", "Board", form="switchboard", rating_a=800)
    if single_main:
        s.put("disconnect", "Main", trip_a=800, rating_a=800, service_disconnect=marked)
        s.chain("Pole", "Main", "Board")
    else:
        s.joint("Pole", "Board")
        for k in range(mains):
            s.put("disconnect", f"M{k}", trip_a=200, rating_a=200, service_disconnect=marked, poles=3)
            s.put("bus", f"Panel {k}", rating_a=200)
            s.chain("Board", f"M{k}", f"Panel {k}")
    return s


def with_switch(s: Any, start: str, switch_a: float = 200) -> Any:
    s.put("disconnect", "New switch", form="fused switch", trip_a=switch_a, rating_a=switch_a, status="new")
    s.put("load", "Shop", va=20_000, phases="ABC", load_class="other", continuous=False, status="new")
    s.run(start, "New switch", "new run", **WIRE)
    s.joint("New switch", "Shop", status="new")
    return s


@pytest.mark.parametrize("edition", [2017, 2020, 2023, 2026])
def test_on_the_load_side_of_the_main_it_is_a_tap(sketch: Any, edition: int) -> None:
    s = with_switch(board(sketch), "Board")
    assert side(s, edition=edition).state == "pass"
    assert {"TAP-0", "TAP-10", "TAP-25"} <= {v.rule for v in taps.verdicts(s.context(edition=edition))}


@pytest.mark.parametrize(("mains", "state"), [(3, "judge"), (5, "judge"), (6, "fail")])
def test_on_a_board_of_several_mains_it_is_one_more_service_disconnect(sketch: Any, mains: int, state: str) -> None:
    """Old boards with two to six mains and no single main: the common bus is ahead of every disconnect. A seventh switch
    fails in every edition (230.71)."""
    s = with_switch(board(sketch, mains, single_main=False), "Board")
    s.drawing = s.drawing.with_items([replace(s.drawing.get("New switch"), service_disconnect=True)])
    found = side(s)
    assert (found.state, "additional service disconnect" in found.message) == ("advice", True)
    # No ratio of a tap is asked for: there is no device ahead to take a third of.
    assert not [v for v in taps.verdicts(s.context()) if v.rule in ("TAP-10", "TAP-25")]
    (count,) = [v for v in services.verdicts(s.context()) if v.rule == "SVC-2"]
    assert count.state == state
    assert len(count.others) == mains + 1


def test_where_nobody_marked_the_main_it_is_asked(sketch: Any) -> None:
    found = side(with_switch(board(sketch, marked=None), "Board"))
    assert found.state == "unknown"
    assert found.needs == ("whether Main is the service disconnect and cuts off where new run starts",)


def test_a_main_that_is_none_is_no_service_disconnect(sketch: Any) -> None:
    """A breaker at the meter, ahead of the service disconnect (230.82): what starts behind it is still ahead."""
    found = side(with_switch(board(sketch, marked=False), "Board"))
    assert (found.state, "ahead of every one that is" in found.message) == ("judge", True)


def sections(sketch: Any, **tie: Any) -> Any:
    """Two services, two mains, two sections of a bus with a tie between them."""
    s = sketch()
    for k in (1, 2):
        s.put("service", f"Pole {k}", system="208Y/120")
        s.put("disconnect", f"Main {k}", trip_a=800, rating_a=800, service_disconnect=True)
        s.put("bus", f"Section {k}", form="switchboard", rating_a=800)
        s.chain(f"Pole {k}", f"Main {k}", f"Section {k}")
    s.put("disconnect", "Tie", form="switch", rating_a=800, service_disconnect=False, **tie)
    s.chain("Section 1", "Tie", "Section 2")
    return s


def test_a_sectionalized_bus_behind_two_mains_is_behind_them(sketch: Any) -> None:
    found = side(with_switch(sections(sketch, normally_open=True), "Section 2"))
    assert found.state == "pass"


def test_a_tie_that_goes_round_the_main_is_named(sketch: Any) -> None:
    """A section whose tie comes from ahead of the other main: with the tie closed its own main does not make it dead."""
    s = sketch()
    s.put("service", "Pole", system="208Y/120")
    s.put("bus", "Common bus", form="switchboard", rating_a=1200)
    s.joint("Pole", "Common bus")
    for k in (1, 2):
        s.put("disconnect", f"Main {k}", trip_a=400, rating_a=400, service_disconnect=True)
        s.put("bus", f"Section {k}", form="switchboard", rating_a=400)
        s.chain("Common bus", f"Main {k}", f"Section {k}")
    s.put("disconnect", "Bypass", form="switch", rating_a=400, normally_open=True, service_disconnect=False)
    s.chain("Common bus", "Bypass", "Section 2")
    with_switch(s, "Section 2")
    found = side(s)
    assert found.state == "judge"
    assert "Bypass" in found.message
    assert "Bypass" in found.others
    assert side(with_switch(s_without(s, "Bypass"), "Section 1"), "new run").state == "pass"


def s_without(s: Any, item_id: str) -> Any:
    gone = [item_id, *(i.id for i in s.drawing.items.values() if item_id in i.id or i.status == "new")]
    s.drawing = s.drawing.with_items(removed=gone)
    return s


def test_a_tie_that_nobody_traced_leaves_it_open(sketch: Any) -> None:
    s = board(sketch)
    s.put("bus", "Trough", form="gutter")
    s.drawing = s.drawing.with_items(removed=["joint Pole Main"])
    s.chain("Pole", "Trough", "Main")
    s.put("tie", "Old pipe", a=s.end("Trough", -1), b=s.end("Board", 0))
    found = side(with_switch(s, "Board"))
    assert (found.state, found.needs) == ("unknown", ("trace of Old pipe",))


def test_new_breakers_and_full_size_feeders_are_found_too(sketch: Any) -> None:
    """The side decides for every connection, not for taps only; one question for each main that nobody marked."""
    s = board(sketch)
    s.put("disconnect", "New breaker", trip_a=100, rating_a=100, status="new")
    s.put("load", "Oven", va=9000, phases="ABC", status="new")
    s.joint("Board", "New breaker", status="new")
    s.joint("New breaker", "Oven", status="new")
    assert side(s, "New breaker").state == "pass"
    main = s.drawing.get("Main")
    s.drawing = s.drawing.with_items([replace(main, service_disconnect=None)])
    s.put("disconnect", "Second breaker", trip_a=100, rating_a=100, status="new")
    s.joint("Board", "Second breaker", status="new")
    asked = [v for v in taps.verdicts(s.context()) if v.rule == "DEC-SIDE"]
    assert [(v.subject, v.state) for v in asked] == [("New breaker", "unknown")]
