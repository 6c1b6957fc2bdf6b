"""A fact made unknown never turns a finding into a pass, never into a failure, and names what has to be found out.

Three-valued logic is the reference (common practice, no source): an unknown fact stands for each value it may have. The
rules themselves are named beside each case.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from oneline.api import Builder, check
from oneline.rules.verdict import Verdict
from oneline.study import conductors, grounding, taps

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
    s.put("bus", "Motors", form="panelboard", rating_a=400, status="new")
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


# ------------------------------------------------------------------------------------------ grounding conductors
def grounded(s: Any, item_id: str) -> Verdict:
    (found,) = [
        v for v in grounding.verdicts(s.context()) if v.subject == item_id and v.rule in ("GND-3", "GND-7")
    ]  # fmt: skip
    return found


def board(sketch: Any, trip_a: float | None, **run: Any) -> Any:
    """A panel fed by a new run from a breaker in a switchboard."""
    s = sketch(2023)
    s.put("service", "Utility", system="480Y/277")
    s.put("disconnect", "Main", trip_a=800, rating_a=800, service_disconnect=True)
    s.put("bus", "Board", rating_a=800, form="switchboard")
    s.put("disconnect", "Breaker", trip_a=trip_a, rating_a=trip_a, adjustable=False)
    s.put("bus", "Panel", form="panelboard", rating_a=400, status="new")
    s.put("load", "Load", va=4000, load_class="other", continuous=False, phases="ABC", power_factor=1.0)
    s.chain("Utility", "Main", "Board", "Breaker")
    s.run("Breaker", "Panel", "run", **{**WIRE, "length_ft": 30, **run})
    s.chain("Panel", "Load")
    return s


def test_grounding_conductor_is_not_too_small_for_conductors_of_unknown_size(sketch: Any) -> None:
    """250.122(A): never required larger than the circuit conductors, so that behind 800 A (1/0 by Table 250.122) 6 AWG is
    enough beside 6 AWG and not beside 4/0."""

    def tap(size: str | None) -> Verdict:
        s = board(sketch, 800)
        s.put("bus", "Gutter", form="gutter")
        s.put("disconnect", "End", trip_a=60, rating_a=60, status="new")
        s.put("load", "End load", va=4000, load_class="other", continuous=False, phases="ABC", power_factor=1.0)
        s.joint("Main", "Gutter")
        more = {"length_ft": 10, "egc_size": "6", "egc_material": "copper"}
        s.run("Gutter", "End", "tap", **{**WIRE, **more, "size": size})
        s.chain("End", "End load")
        return grounded(s, "tap")

    assert tap("6").state == "pass"
    assert tap("4/0").state == "fail"
    assert tap(None).state == "unknown"
    assert "conductor size of tap" in tap(None).needs


def test_unmarked_terminals_do_not_settle_what_counts_as_upsized(sketch: Any) -> None:
    """250.122(B) with 110.14(C): behind 70 A, 4 AWG copper is what 60 °C terminals ask for (70 A, Table 310.16) and one
    size more than 75 °C ones (6 AWG, 65 A, rounded up to 70 A); 8 AWG is the Table 250.122 size."""

    def answer(terminal_c: float | None) -> Verdict:
        wire = {"size": "4", "egc_size": "8", "egc_material": "copper", "terminal_c": terminal_c}
        return grounded(board(sketch, 70, **wire), "run")

    assert answer(60).state == "pass"
    assert answer(75).state == "judge"
    open_ = answer(None)
    assert open_.state == "unknown"
    assert "terminal temperature of run" in open_.needs


@pytest.mark.parametrize(
    ("kind", "trade_size", "trip_a", "length_ft", "state"),
    [
        ("FMC", "1/2", 20, 6, "advice"), ("FMC", "1/2", 20, 6.1, "fail"), ("FMC", "1/2", 25, 5, "fail"),
        ("FMC", "1-1/2", 20, 5, "fail"), ("LFMC", "1/2", 20, 6, "advice"), ("LFMC", "1/2", 25, 6, "fail"),
        ("LFMC", "3/4", 60, 6, "advice"), ("LFMC", "1-1/4", 70, 6, "fail"), ("LFMC", "1-1/4", 60, 7, "fail"),
        ("LFMC", "2", 60, 6, "fail"), ("EMT", "2", 200, 100, "advice"), ("PVC-40", "2", 20, 5, "fail"),
        ("open", None, 20, 5, "fail"), ("cable", None, 20, 5, "unknown"), (None, None, 20, 5, "unknown"),
        ("LFMC", None, 70, 5, "fail"), ("LFMC", None, 60, 5, "unknown"), ("LFMC", None, 20, 7, "fail"),
        ("FMC", "1/2", 20, None, "unknown"), ("FMC", "1/2", None, 5, "unknown"), ("FMC", "1/2", None, 7, "fail"),
    ],
)  # fmt: skip
def test_flexible_raceways_ground_alone_only_within_limits(
    sketch: Any, kind: str | None, trade_size: str | None, trip_a: float | None, length_ft: float | None, state: str
) -> None:
    """250.118(A)(5) and (6), from memory: FMC behind at most 20 A and 6 ft; LFMC behind at most 20 A up to trade size 1/2,
    60 A for 3/4 to 1-1/4, and 6 ft; larger trade sizes not at all."""
    wire = {"size": "4", "egc_size": "raceway", "raceway": kind, "raceway_size": trade_size, "length_ft": length_ft}
    found = grounded(board(sketch, trip_a, **wire), "run")
    assert found.state == state, found.message
    assert state != "unknown" or found.needs
    assert state != "fail" or "equipment grounding conductor" in found.remedy


def test_wire_type_conductor_in_flexible_raceway_has_no_such_limit(sketch: Any) -> None:
    """Table 250.122: 8 AWG copper behind 100 A, whatever the raceway."""
    wire = {"size": "3", "egc_size": "8", "egc_material": "copper", "raceway": "FMC", "length_ft": 40}
    assert grounded(board(sketch, 100, **wire), "run").state == "pass"


def test_grounding_conductor_of_unknown_material_is_not_called_copper(sketch: Any) -> None:
    """Table 250.122: behind 100 A 8 AWG copper or 6 AWG aluminum."""
    found = grounded(board(sketch, 100, size="3", egc_size="6"), "run")
    assert found.state == "pass"
    assert "is 6 AWG, " in found.message
    assert "8 AWG copper or 6 AWG aluminum" in found.message
    assert grounded(board(sketch, 100, size="3", egc_size="8"), "run").state == "unknown"


def test_an_unlimited_source_has_no_bound() -> None:
    """Behind a source of which nothing is known any current may flow: there is no upper bound at its terminals nor at a
    joint behind them, whatever else is on the drawing. Conductors behind it bound the current by E / Z alone."""
    b = Builder("Two services", edition=2023)
    for k, fault_ka in enumerate((20.0, None, None)):
        s = b.service(f"S{k}", system="208Y/120", fault_ka=fault_ka, fault_x_r=3.7 if fault_ka else None)
        bus = b.bus(f"B{k}", form="switchboard", rating_a=400, sccr_ka=65)
        b.joint(s, bus)
        for n in range(9):
            p = b.bus(f"P{k}{n}", rating_a=100, sccr_ka=22)
            b.run(bus, p, size="3", material="copper", length_ft=13.7 + 7.1 * n, raceway="EMT", phases="ABC")
            far = b.bus(f"Q{k}{n}", rating_a=100, sccr_ka=22)
            b.run(p, far, size="1/0", material="copper", length_ft=3.3 + 5.9 * n, raceway="EMT", phases="ABC")
    figures = check(b.drawing).points
    points = {i.name: figures[i.id] for i in b.drawing.items.values() if i.id in figures}
    assert points["B0"].fault_bound_a == pytest.approx(20_000)
    for k in (1, 2):
        assert points[f"S{k}"].fault_bound_a is None
        assert points[f"B{k}"].fault_bound_a is None
        for n in range(9):
            # Table 9: 3 AWG copper in steel has 0.25 ohm of resistance per 1000 ft, so at least that of impedance.
            volts = 208 / 3**0.5
            assert 0 < (points[f"P{k}{n}"].fault_bound_a or 0) < volts / (0.15 * (13.7 + 7.1 * n) / 1000)
