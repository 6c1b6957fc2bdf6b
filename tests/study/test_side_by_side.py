"""Buses that two devices feed side by side: what protects them is the sum, what they carry is the whole."""

from __future__ import annotations

from math import sqrt
from typing import Any

import pytest

from oneline.model import Circuit
from oneline.rules.verdict import Verdict
from oneline.study import available, panels


def two_feeds(
    sketch: Any, bus_a: float = 225, trips: tuple[float | None, float | None] = (200, 200), va: float = 100_000,
    between: float = 0,
) -> Any:  # fmt: skip
    """A panel on two feeders of one switchboard, both closed; ``between``: load on a panel in the second of them."""
    s = sketch(2023)
    s.put("service", "Utility", system="208Y/120")
    s.put("disconnect", "Main", form="breaker", trip_a=800, rating_a=800, service_disconnect=True)
    s.put("bus", "Board", rating_a=800, form="switchboard")
    load = Circuit(space=1, poles=3, trip_a=400, va=va, load_class="other", continuous=False, use="load")
    s.put("bus", "Panel", form="panelboard", rating_a=bus_a, status="new", phases="ABC", circuits=(load,))
    s.chain("Utility", "Main", "Board")
    for k, trip in enumerate(trips):
        s.put("disconnect", f"S{k + 1}", form="breaker", trip_a=trip)
    s.chain("Board", "S1")
    s.run("S1.load", "Panel", "F1")
    s.chain("Board", "S2")
    if between:
        s.put("bus", "Between", form="switchboard", rating_a=400, phases="ABC", circuits=(Circuit(
            space=1, poles=3, trip_a=400, va=between, load_class="other", continuous=False, use="load"),))  # fmt: skip
        s.run("S2.load", "Between", "F2")
        s.run("Between", "Panel", "F3")
    else:
        s.run("S2.load", "Panel", "F2")
    return s


def protection(s: Any) -> Verdict:
    (found,) = [v for v in panels.verdicts(s.context()) if v.rule == "PNL-1" and v.subject == "Panel"]
    return found


def carried(s: Any) -> Verdict:
    (found,) = [v for v in available.verdicts(s.context()) if v.subject == "Panel" and v.rule == "CAP"]
    return found


@pytest.mark.parametrize(
    ("bus_a", "trips", "state"),
    [(225, (200, 200), "fail"), (399, (200, 200), "fail"), (400, (200, 200), "pass"), (225, (125, 100), "pass"),
     (225, (125, None), "unknown"), (225, (250, None), "fail")],
)  # fmt: skip
def test_the_sum_of_the_devices_protects(sketch: Any, bus_a: float, trips: Any, state: str) -> None:
    """Physics (Kirchhoff's current law): a bus that two devices feed can be loaded with the sum of both before either
    opens. 408.36 asks for protection at the rating of the bus (from memory)."""
    found = protection(two_feeds(sketch, bus_a, trips))
    assert found.state == state
    assert "S1 and S2" in found.message
    if state != "unknown" and None not in trips:
        assert (found.value, found.limit) == (sum(trips), bus_a)
    if state == "unknown":
        assert found.needs == ("trip rating of S2",)


def test_the_bus_carries_the_whole_however_it_divides(sketch: Any) -> None:
    """Physics: 100 kVA / (208 V x sqrt 3) = 277.6 A reach the loads of the bus by one way or the other."""
    whole = 100_000 / (sqrt(3) * 208)
    for bus_a, state in ((225, "fail"), (300, "pass")):
        found = carried(two_feeds(sketch, bus_a))
        assert found.state == state
        assert found.value == pytest.approx(whole)
    # Load on one of the ways may pass over the bus too: at least its own, at most not known.
    assert carried(two_feeds(sketch, 225, between=20_000)).state in ("fail", "unknown")
    assert carried(two_feeds(sketch, 300, between=20_000)).state == "unknown"


def test_one_device_ahead_of_two_ways_protects_alone(sketch: Any) -> None:
    """Two sets of conductors behind one device close a loop as well; the one device counts once."""
    s = sketch(2023)
    s.put("service", "Utility", system="208Y/120")
    s.put("disconnect", "Main", form="breaker", trip_a=200, service_disconnect=True)
    s.put("bus", "Panel", form="panelboard", rating_a=225)
    s.chain("Utility", "Main")
    s.run("Main.load", "Panel", "R1")
    s.run("Main.load", "Panel", "R2")
    found = protection(s)
    assert found.state == "pass"
    assert found.value == 200
