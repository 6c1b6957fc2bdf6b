"""Interrupting, withstand and voltage ratings against published figures."""

from __future__ import annotations

from dataclasses import replace
from math import acos, exp, pi, tan

import pytest

from oneline.api import Builder, check
from oneline.rules.common import Fact, Subject, evaluate
from oneline.rules.fault_duty import FaultFacts, asymmetry_factor
from oneline.rules.fault_marking import panel_marking
from oneline.rules.ratings import interrupting, withstand
from oneline.rules.series_ratings import SeriesFacts, motor_limit_a, series
from oneline.rules.voltage_ratings import VoltageFacts, rated_volts, voltage_rating
from oneline.tables.interrupting import test_x_r as x_r_of_test
from oneline.tables.source import NotInTable

DEVICE = Subject("d", "Breaker 1")


def fault(duty: float | None, rating: float | None = 10_000, **changes: object) -> FaultFacts:
    values: dict = {
        "subject": DEVICE, "edition": 2023, "rating": Fact(rating, need="interrupting rating of Breaker 1"),
        "what": "interrupting rating", "duty": Fact(duty, need="available fault current"),
    }  # fmt: skip
    return FaultFacts(**(values | changes))


@pytest.mark.parametrize(("pf", "x_r", "ka"), [(0.50, 1.73, 10), (0.30, 3.18, 20), (0.20, 4.90, 65)])
def test_x_r_of_molded_case_breaker_tests(pf: float, x_r: float, ka: float) -> None:
    """Tri-Service Electrical Working Group paper TP-6 (2008), Table 1; X/R = tan(acos(pf))."""
    assert x_r_of_test("molded-case breaker", ka) == x_r
    assert tan(acos(pf)) == pytest.approx(x_r, abs=0.005)


def test_x_r_table_edges() -> None:
    assert x_r_of_test("molded-case breaker", 10.01) == 3.18
    assert x_r_of_test("molded-case breaker", 20.01) == 4.90
    with pytest.raises(NotInTable):
        x_r_of_test("vacuum switch", 10)


@pytest.mark.parametrize(("duty", "state"), [(9_999, "pass"), (10_000, "pass"), (10_001, "fail"), (None, "unknown")])
def test_interrupting_rating(duty: float | None, state: str) -> None:
    """110.9: not above the rating."""
    found = interrupting(fault(duty))
    assert found.state == state
    assert bool(found.remedy) == (state == "fail")
    assert withstand(fault(duty)).state == state


def test_bound_decides_where_it_can() -> None:
    assert interrupting(replace(fault(None), duty=Fact(None, high=9_000, need="utility's figure"))).state == "pass"
    found = interrupting(replace(fault(None), duty=Fact(None, high=12_000, need="utility's figure")))
    assert (found.state, found.needs) == ("unknown", ("utility's figure",))
    assert interrupting(fault(5_000, None)).needs == ("interrupting rating of Breaker 1",)


def test_methods_on_either_side_of_the_rating_fail() -> None:
    """FLT-7: complex sum and point-to-point value straddle the rating: treated as a failure, both shown."""
    found = interrupting(fault(10_200, hand_a=9_800))
    assert found.state == "fail"
    assert "By the point-to-point method it is 9.8 kA, inside the rating; the higher one counts." in found.message
    rough = interrupting(fault(9_800, hand_a=10_200))
    assert rough.state == "fail"
    assert "10.2 kA available there by the point-to-point method" in rough.message
    assert "By impedances it is 9.8 kA" in rough.message
    assert interrupting(fault(9_800, hand_a=10_200)).state == "fail"
    assert interrupting(fault(9_800, hand_a=9_900)).state == "pass"


def test_correction_for_x_r() -> None:
    """Peak ratio (1 + e^(-pi/(X/R))) / (1 + e^(-pi/(X/R of the test))); TP-6. 10 kA device (1.73) at X/R 4.9: 1.31."""
    factor = (1 + exp(-pi / 4.9)) / (1 + exp(-pi / 1.73))
    assert asymmetry_factor(4.9, 1.73) == pytest.approx(factor)
    assert asymmetry_factor(1.0, 1.73) == 1
    assert asymmetry_factor(4.9, None) == 1
    found = interrupting(fault(8_000, x_r=4.9, test_x_r=1.73))
    assert found.value == pytest.approx(8_000 * factor)
    assert found.state == "fail"
    lines = [line for line in found.work if line.formula]
    assert evaluate(lines[0].formula, lines[0].inputs) == pytest.approx(8_000 * factor)


def test_unknown_x_r_is_bounded() -> None:
    """Between no correction and that of a purely reactive fault."""
    assert interrupting(fault(5_000, test_x_r=1.73)).state == "pass"
    found = interrupting(fault(9_000, test_x_r=1.73))
    assert (found.state, found.needs) == ("unknown", ("X/R of the fault at Breaker 1",))
    assert interrupting(fault(10_500, test_x_r=1.73)).state == "fail"


def test_motors_between_the_devices_of_a_series_rating() -> None:
    """Trade forum on 240.86(C): 10 kA branch breakers, at most 100 A of motors between the devices."""
    assert motor_limit_a(10_000) == 100
    facts = SeriesFacts(fault(18_000), "Main", Subject("m", "Main"), Fact(22_000.0), Fact(100.0))
    assert series(facts).state == "pass"
    assert series(replace(facts, motors_a=Fact(100.5))).state == "fail"
    assert series(replace(facts, motors_a=Fact(None, low=0.0, need="motors"))).state == "unknown"
    assert series(replace(facts, rating=Fact(14_000.0))).state == "fail"
    assert series(replace(facts, ahead=None)).state == "fail"
    assert series(replace(facts, ahead_new=True)).state == "judge"


@pytest.mark.parametrize(
    ("marked", "expected"),
    [
        ("480Y/277", (480, 277)),
        ("120/240", (240, 120)),
        ("240", (240, None)),
        ("208Y/120", (208, 120)),
        ("277", (277, None)),
    ],
)
def test_reading_a_voltage_rating(marked: str, expected: tuple) -> None:
    assert rated_volts(marked) == expected


@pytest.mark.parametrize(
    ("system", "marked", "single", "high_leg", "state"),
    [
        ("480Y/277", "480Y/277", False, False, "pass"), ("480D", "480Y/277", False, False, "fail"),
        ("480D-CG", "480Y/277", False, False, "fail"), ("480D", "480", False, False, "pass"),
        ("480Y/277", "240", False, False, "fail"), ("480Y/277", "277", True, False, "pass"),
        ("240D/120-HL", "120/240", False, False, "pass"), ("240D/120-HL", "120/240", False, True, "fail"),
        ("240D/120-HL", "240", False, True, "pass"), ("240D/120-HL", "120/240", False, None, "unknown"),
        ("240D", "120/240", False, False, "fail"), ("208Y/120", "120/240", False, False, "pass"),
        ("120/240-1", "120/240", False, False, "pass"), ("208Y/120", "120", False, False, "fail"),
        ("208Y/120", None, False, False, "unknown"), (None, "240", False, False, "unknown"),
    ],
)  # fmt: skip
def test_voltage_rating(system: str, marked: str, single: bool, high_leg: bool | None, state: str) -> None:
    """240.83, 240.85: straight ratings on ungrounded and corner-grounded systems and on the high leg (208 V to ground)."""
    assert voltage_rating(VoltageFacts(DEVICE, 2023, system, marked, single, high_leg)).state == state


def test_panel_marking_by_edition() -> None:
    """408.6 asks for the marking since 2020; 2026 adds the panel's own rating (code-change summaries)."""
    duty = Fact(14_200.0)
    assert panel_marking(DEVICE, 2017, duty).state == "not_applicable"
    assert "14.2 kA" in panel_marking(DEVICE, 2020, duty).message
    assert "short-circuit current rating" not in panel_marking(DEVICE, 2023, duty).message
    assert "short-circuit current rating" in panel_marking(DEVICE, 2026, duty).message


@pytest.mark.parametrize(("rating_ka", "state"), [(29, "fail"), (31, "unknown"), (45, "pass")])
def test_a_duty_by_the_worst_x_r_is_not_called_available(rating_ka: float, state: str) -> None:
    """30 kA from a source whose X/R nobody knows, on fuses tested at 20 % power factor (X/R 4.9): by the effective value of
    the first half cycle it equals at most sqrt(3 / (1 + 2 e^(-2 pi / 4.9))) = 1.389 times as much (IEEE C37.13)."""
    b = Builder("Worst", edition=2023)
    s = b.service("U", system="208Y/120", fault_ka=30)
    main = b.disconnect("Main", form="fused switch", rating_a=400, trip_a=400, poles=3, interrupting_ka=rating_ka,
                        sccr_ka=100, voltage_rating="240", service_disconnect=True, neutral_bonded=True)  # fmt: skip
    b.joint(s, main)
    (hit,) = [v for v in check(b.drawing).verdicts if v.rule == "FLT-1"]
    assert hit.state == state
    assert "41.7 kA available" not in hit.message
    assert ("worst X/R" in hit.message) == (state != "fail")
    (line,) = [w for w in hit.work if "worst X/R" in w.what]
    assert line.value == pytest.approx(30_000 * 1.389, rel=1e-3)
