"""A fact made unknown never turns a finding into a pass, never into a failure, and names what has to be found out.

Three-valued logic is the reference (common practice, no source): an unknown fact stands for each value it may have. The
rules themselves are named beside each case.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from oneline.rules.verdict import Verdict
from oneline.study import conductors, taps

WIRE = {
    "material": "copper", "insulation": "THWN-2", "wet": False, "ambient_c": 30, "current_carrying": 3, "sets": 1,
    "raceway": "EMT", "terminal_c": 75, "outdoors": False, "leaves_enclosure": True, "status": "new", "phases": "ABC",
}  # fmt: skip


def without(s: Any, item_id: str, **values: Any) -> Any:
    """The sketch with fields of an item changed."""
    s.drawing = s.drawing.with_items([replace(s.drawing.get(item_id), **values)])
    return s


# ----------------------------------------------------------------------------------- secondaries of transformers
def transformer(sketch: Any, primary_ft: float = 50, secondary_ft: float = 9) -> Any:
    """480 V to 208 V; the primary conductors are protected by their breaker, the secondary ends in a breaker."""
    s = sketch(2023)
    s.put("service", "Utility", system="480Y/277")
    s.put("disconnect", "Main", trip_a=800, rating_a=800, service_disconnect=True)
    s.put("bus", "Board", rating_a=800, form="switchboard")
    s.put("disconnect", "Primary", trip_a=250, rating_a=250)
    s.put("transformer", "T", kva=75, primary_system="480Y/277", secondary_system="208Y/120", connection="delta-wye")
    s.put("disconnect", "Secondary main", trip_a=225, rating_a=225, adjustable=False)
    s.put("load", "Load", va=9000, load_class="other", continuous=False, phases="ABC", power_factor=1.0)
    s.chain("Utility", "Main", "Board", "Primary")
    s.run("Primary", "T", "primary", **{**WIRE, "size": "4/0", "length_ft": primary_ft})
    s.run("T", "Secondary main", "secondary", **{**WIRE, "size": "4/0", "length_ft": secondary_ft})
    s.chain("Secondary main", "Load")
    return s


def secondary(s: Any) -> tuple[Verdict, list[Verdict]]:
    ours = [v for v in taps.verdicts(s.context()) if v.subject == "secondary"]
    (answer,) = [v for v in ours if v.rule == "TAP-SEC"]
    return answer, [v for v in ours if v.alternative]


@pytest.mark.parametrize(
    ("field", "need"),
    [
        ("ambient_c", "ambient temperature along primary"),
        ("current_carrying", "number of current-carrying conductors in the raceway of primary"),
        ("insulation", "insulation of primary"),
        ("size", "conductor size of primary"),
    ],
)
def test_unknown_primary_is_not_taken_for_a_tap(sketch: Any, field: str, need: str) -> None:
    """240.21(C)(2), from memory: 9 ft of secondary hold. 240.21(B)(3), 59 ft over its 25 ft, is asked only of a tap."""
    assert secondary(transformer(sketch))[0].state == "pass"
    answer, tried = secondary(without(transformer(sketch), "primary", **{field: None}))
    assert answer.state == "unknown"
    assert need in answer.needs
    by_tap = next(v for v in tried if v.rule == "TAP-SEC-C5")
    assert by_tap.state == "unknown"


def test_what_holds_or_fails_either_way_is_said(sketch: Any) -> None:
    """240.21(B)(3), (C)(2) and (C)(6), from memory: 12 ft of primary and 9 ft of secondary hold as tap and as none; 30 ft
    of secondary hold neither way. 4/0 copper beside any number of others is at least 260 A x 0.35 = 91 A, over a third of
    the 250 A."""
    short = without(transformer(sketch, primary_ft=12), "primary", current_carrying=None)
    assert secondary(short)[0].state == "pass"
    long = without(transformer(sketch, primary_ft=50, secondary_ft=30), "primary", ambient_c=None)
    assert secondary(long)[0].state == "fail"


# --------------------------------------------------------------------------------------------- feeders of motors
def motors(sketch: Any, trip_a: float) -> Any:
    """A feeder of two 25 hp motors at 480 V (34 A each, Table 430.250) on its own breaker."""
    s = sketch(2023)
    s.put("service", "Utility", system="480Y/277")
    s.put("disconnect", "Main", trip_a=800, rating_a=800, service_disconnect=True)
    s.put("bus", "Board", rating_a=800, form="switchboard")
    s.put("disconnect", "Feeder breaker", trip_a=trip_a, rating_a=trip_a, adjustable=False)
    s.put("bus", "Motors", form="panelboard", rating_a=400)
    s.chain("Utility", "Main", "Board", "Feeder breaker")
    s.run("Feeder breaker", "Motors", "feeder", **{**WIRE, "size": "3/0", "length_ft": 60})
    for n in (1, 2):
        s.put("disconnect", f"Breaker {n}", trip_a=80, rating_a=80, adjustable=False)
        s.put("load", f"Motor {n}", horsepower=25, load_class="motor", phases="ABC", continuous=True)
        s.chain("Motors", f"Breaker {n}", f"Motor {n}")
    return s


@pytest.mark.parametrize("field", ["size", "ambient_c", "current_carrying", "insulation"])
def test_motor_feeder_that_its_breaker_may_protect_does_not_fail(sketch: Any, field: str) -> None:
    """240.4(B): 3/0 copper is 200 A at 75 °C, which a 200 A breaker protects. 430.62, 80 A + 34 A = 114 A, is the larger
    device allowed on smaller conductors and is not asked while 240.4(B) is open. Tables 310.16, 430.250."""

    def answer(s: Any) -> Verdict:
        (found,) = [v for v in conductors.verdicts(s.context()) if v.subject == "feeder" and v.rule.startswith("OCP")]
        return found

    assert answer(motors(sketch, 200)).state == "pass"
    open_ = answer(without(motors(sketch, 200), "feeder", **{field: None}))
    assert open_.state == "unknown"
    assert any("feeder" in need for need in open_.needs)
    # Conductors known to be too small leave only the motor rules, and those are exceeded.
    assert answer(without(motors(sketch, 200), "feeder", size="4")).state == "fail"


# -------------------------------------------------------------------------------------- insulation in wet locations
@pytest.mark.parametrize(
    ("insulation", "wet", "state", "need"),
    [
        ("THWN-2", True, "pass", ""),
        ("THWN-2", None, "pass", ""),
        ("THHN", False, "pass", ""),
        ("THHN", True, "fail", ""),
        ("THHN", None, "unknown", "whether feeder is in a wet location"),
        (None, True, "unknown", "insulation of feeder"),
        (None, None, "unknown", "insulation of feeder"),
        (None, False, "pass", ""),
        ("other", True, "unknown", "whether the marking of feeder permits wet locations"),
        ("other", None, "unknown", "whether feeder is in a wet location"),
        ("MC", True, "unknown", "whether the marking of feeder permits wet locations"),
    ],
)
def test_insulation_has_to_be_permitted_where_it_lies(
    sketch: Any, insulation: str | None, wet: bool | None, state: str, need: str
) -> None:
    """310.10(C), from memory: only insulations listed for wet locations there; THHN is for dry and damp ones (Table
    310.4(1)). The ampacity is ample whatever the insulation: 3/0 copper at 60 °C (165 A, Table 310.16) for 68 A of
    motors."""
    s = without(motors(sketch, 150), "feeder", insulation=insulation, wet=wet, terminal_c=60)
    (found,) = [v for v in conductors.verdicts(s.context()) if v.subject == "feeder" and v.rule == "AMP-1"]
    assert found.state == state
    assert not need or need in found.needs
