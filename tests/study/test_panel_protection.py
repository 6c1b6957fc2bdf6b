"""What protects a panel bus through a transformer, and spaces of panels whose number of spaces is not known."""

from __future__ import annotations

from typing import Any

import pytest

from oneline.rules.verdict import Verdict
from oneline.study import panels


def through_transformer(sketch: Any, bus_a: float | None, *, primary_a: float | None = 125, **transformer: Any) -> Any:
    """480 V to 240 V through a transformer, a panel without a main on its secondary."""
    s = sketch(2023)
    s.put("service", "Utility", system="480Y/277")
    s.put("disconnect", "Main", trip_a=400, rating_a=400, service_disconnect=True)
    s.put("bus", "Board", rating_a=400, form="switchboard")
    s.put("disconnect", "Primary", trip_a=primary_a, rating_a=primary_a, status="new")
    values = {"kva": 75, "primary_system": "480Y/277", "secondary_system": "240D", "connection": "delta-delta"}
    s.put("transformer", "T", **{**values, **transformer})
    s.put("bus", "Panel", form="panelboard", rating_a=bus_a, status="new")
    s.chain("Utility", "Main", "Board", "Primary", "T", "Panel")
    return s


def protection(s: Any) -> Verdict:
    (found,) = [v for v in panels.verdicts(s.context()) if v.rule == "PNL-1" and v.subject == "Panel"]
    return found


@pytest.mark.parametrize(
    ("bus_a", "state"), [(150, "fail"), (225, "fail"), (249, "fail"), (250, "pass"), (400, "pass")]
)
def test_primary_device_acts_through_the_voltage_ratio(sketch: Any, bus_a: float, state: str) -> None:
    """NFPA 70 408.36(B) with 240.21(C)(1), from memory: the primary device protects the secondary bus only where it does
    so through the ratio of the voltages. 125 A x 480 V / 240 V = 250 A."""
    found = protection(through_transformer(sketch, bus_a))
    assert found.state == state
    assert (found.value, found.limit) == (250, bus_a)
    assert "250 A" in found.message


def test_missing_facts_of_the_transformer_leave_it_open_or_a_bound_decides(sketch: Any) -> None:
    """Where the ratio or the connection is not known, neither a pass nor a fail may be said, but what is too large
    through the ratio by itself stays a failure (the ratio is 240.21(C)(1), from memory)."""
    open_ = protection(through_transformer(sketch, 400, connection=None))
    assert open_.state == "unknown"
    assert open_.needs == ("connection of T",)
    assert protection(through_transformer(sketch, 225, connection=None)).state == "fail"
    no_system = protection(through_transformer(sketch, 225, secondary_system=None))
    assert no_system.state == "unknown"
    assert "secondary system of T" in no_system.needs
    no_trip = protection(through_transformer(sketch, 225, primary_a=None))
    assert no_trip.state == "unknown"
    assert "trip rating of Primary" in no_trip.needs
    # A wye secondary with a neutral is never protected by the primary device (240.21(C)(1)).
    wye = through_transformer(sketch, 400, secondary_system="208Y/120", connection="delta-wye")
    assert protection(wye).state == "fail"
    assert protection(through_transformer(sketch, 400, secondary_system=None, connection="delta-wye")).state == "fail"


def test_two_transformers_in_a_row_multiply(sketch: Any) -> None:
    """Physics: 480 to 240 V and 240 to 120 V two-wire is 4 times the primary amperes."""
    s = through_transformer(sketch, None, primary_a=20)
    s.put("transformer", "T2", kva=5, primary_system="240D", secondary_system="120-1", connection="single-phase")
    s.put("bus", "Panel 2", form="panelboard", rating_a=60, status="new")
    s.chain("Panel", "T2", "Panel 2")
    (found,) = [v for v in panels.verdicts(s.context()) if v.rule == "PNL-1" and v.subject == "Panel 2"]
    assert found.state == "fail"
    assert found.value == 80


def test_spaces_of_a_panel_that_nobody_counted(service: Any, circuit: Any) -> None:
    """408.3(E), 408.54, from memory: space 45 of 42 fails, and not knowing how many there are does not make it fit."""

    def placed(spaces: int | None) -> list[Verdict]:
        s = service(spaces=spaces, phases="ABC", circuits=(circuit(45, description="Pump, pit 3", trip_a=20),))
        return [v for v in panels.verdicts(s.context()) if v.rule == "PNL-4"]

    assert [v.state for v in placed(42)] == ["fail"]
    (open_,) = placed(None)
    assert open_.state == "unknown"
    assert open_.needs == ("number of spaces of MDP (space 45 is taken)",)
    assert [v.state for v in placed(60)] == ["pass"]


def test_device_with_unknown_poles_may_reach_into_the_next_space(sketch: Any, service: Any) -> None:
    """Geometry of a panel: a three-pole breaker at 1 takes 1, 3 and 5; one with unknown poles may."""

    def states(poles: int | None) -> list[str]:
        s = service(spaces=42, phases="ABC")
        for name, space, n in (("First", 1, poles), ("Second", 5, 1)):
            s.put("disconnect", name, trip_a=20, rating_a=20, space=space, poles=n)
            s.chain("MDP", name)
        return [v.state for v in panels.verdicts(s.context()) if v.rule == "PNL-4"]

    assert states(3) == ["fail"]
    assert states(None) == ["unknown"]
    assert states(1) == ["pass"]
