"""Load calculation against published worked examples. Sources are named beside each; figures are theirs."""

from __future__ import annotations

import pytest

from oneline import tables
from oneline.rules import load
from oneline.rules.common import Fact, Subject
from oneline.rules.record import RecordFacts, existing_load, record_state, recorded_demand

EDITION = 2017


def test_lighting_of_a_store_building() -> None:
    """NEC Annex D, Example D3 (2005-era reprint): 3,000 ft2, 8,500 VA of actual lighting. The whole example through a
    drawing is in tests/study/test_load_areas.py."""
    lighting = load.general_lighting(50 * 60, "retail store", 8_500, 10_625, EDITION)
    assert lighting is not None
    assert lighting.load_va == pytest.approx(9_000)
    assert lighting.counted_va == pytest.approx(11_250)  # 9,000 VA x 1.25, above 8,500 x 1.25


def test_newer_unit_loads_hold_the_continuous_factor() -> None:
    """Since 2020 the unit loads include 125 % (change summaries): they are not raised again, actual lighting is. 1.9 VA/ft2
    of the 2020 table (from memory)."""
    empty = load.general_lighting(10_000, "retail store", 0, 0, 2023)
    full = load.general_lighting(3_000, "retail store", 8_500, 10_625, 2023)
    assert empty is not None and full is not None  # noqa: PT018
    assert (empty.load_va, empty.counted_va) == pytest.approx((19_000, 19_000))
    assert (full.load_va, full.counted_va) == pytest.approx((8_500, 10_625))


@pytest.mark.parametrize(("full", "expected"), [(475, 392.5), (298.8, 269.16), (200, 200), (150, 150)])
def test_neutral_reduction(full: float, expected: float) -> None:
    """EC&M Code Quiz 2005 (475 A) and NEC Annex D, Example D5(b) (298.8 A); 220.61: nothing off up to 200 A."""
    assert load.neutral_load(full, full, True, EDITION).value == pytest.approx(expected)


def test_neutral_reduction_not_for_nonlinear_load_nor_three_of_four_wires() -> None:
    """220.61(C): both stay in full."""
    assert load.neutral_load(475, 0, True, EDITION).value == 475
    assert load.neutral_load(475, 475, False, EDITION).value == 475


def test_two_motor_feeder() -> None:
    """EC&M 'Stumped by the Code' on 430.62: 20 hp and 10 hp at 460 V, inverse-time breakers, 75 °C conductors."""
    large, small = (tables.motor_flc_a(hp, 460, 3) for hp in (20, 10))
    assert (large, small) == (27, 14)
    conductor = load.motor_feeder_load([large, small], EDITION).value
    assert conductor == pytest.approx(48, abs=0.5)
    assert tables.next_size_for_ampacity(conductor, "copper", 75) == "8"
    # Branch devices 70 A and 35 A: tests/rules/test_overcurrent.py, and on a drawing in tests/study/test_conductors.py.
    assert load.motor_feeder_device(70, [small], EDITION, "breaker").value == 80


def test_air_conditioner_without_a_marked_maximum() -> None:
    """EC&M Code Q&A: 24 A compressor. Device 42 -> 40 A; 54 -> 50 A where it will not start. No drawing asks for it yet;
    the 30 A conductor is in tests/study/test_demand_examples.py."""
    assert load.hvac_device(24, EDITION, "breaker").value == 40
    assert load.hvac_device(24, EDITION, "breaker", will_not_start=True).value == 50


# ------------------------------------------------------------------------------------------------- 220.87
SERVICE = Subject("s", "Service")


def record(**changes: object) -> RecordFacts:
    values: dict = {
        "subject": SERVICE, "edition": 2023, "volts": 208, "three_phase": True, "peak_kw": 440, "period_days": 365,
        "interval_min": 15, "protected": True, "new_va": Fact(339_000.0), "rating_a": Fact(3000.0), "rating_of": "Service",
    }  # fmt: skip
    return RecordFacts(**(values | changes))


def test_existing_load_by_demand() -> None:
    """Engineers' forum, August 2025: 3,000 A at 208 V, 440 kW at an assumed 0.85, 339 kVA of new load.

    The post prints 1.25 x 517 + 339 as 995 kVA; the arithmetic gives 986. The service carries 1,080 kVA.
    """
    facts = record()
    assert recorded_demand(facts).va == pytest.approx(517_600, abs=100)
    found = existing_load(facts)
    assert found.state == "pass"
    assert found.value == pytest.approx(986, abs=0.5)
    assert found.value != pytest.approx(995, abs=5)
    assert found.limit == pytest.approx(1080.8, abs=0.5)
    assert "power factor 0.85" in found.message
    assert found.basis == "assumed"
    continuous = existing_load(record(new_va=Fact(339_000 * 1.25)))
    assert continuous.state == "pass"
    assert continuous.value == pytest.approx(1071, abs=0.5)


@pytest.mark.parametrize(
    ("changes", "state"),
    [
        ({}, "pass"),
        ({"period_days": 364}, "unknown"),  # the short way: use and season are not known
        ({"period_days": 30, "interval_min": 15, "occupied": True, "seasonal_included": True}, "pass"),
        ({"period_days": 29.9, "interval_min": 15, "occupied": True, "seasonal_included": True}, "fail"),
        ({"period_days": 30, "interval_min": 30, "occupied": True, "seasonal_included": True}, "fail"),
        ({"period_days": 30, "interval_min": 15, "occupied": False, "seasonal_included": True}, "fail"),
        ({"period_days": 30, "interval_min": 15, "occupied": True, "seasonal_included": False}, "fail"),
        ({"period_days": 30, "interval_min": 15, "occupied": True}, "unknown"),
        ({"period_days": None}, "unknown"),
        ({"protected": None}, "unknown"),
        ({"generation": ("Roof array",)}, "judge"),
        ({"generation": ("Roof array",), "period_days": None}, "judge"),
        ({"new_va": Fact(500_000.0)}, "fail"),
        ({"rating_a": Fact(None, need="rating")}, "unknown"),
        ({"new_va": Fact(None, low=500_000.0, need="new load")}, "fail"),  # already over with what is known
        ({"peak_kw": None}, "unknown"),
    ],
)
def test_record_preconditions(changes: dict, state: str) -> None:
    """220.87: a year, or 30 days of 15-minute data in use and season; not with generation; the inequality itself."""
    found = existing_load(record(**changes))
    assert found.state == state
    if state == "unknown":
        assert found.needs
    if state == "fail" and "period_days" in changes:
        assert record_state(record(**changes))[0] == "fail"


def test_highest_phase_counts_on_all_phases() -> None:
    """220.87 exception: ammeter on the highest-loaded phase; kVA = sqrt(3) x V x I."""
    facts = record(peak_kw=None, peak_a=100.0)
    assert recorded_demand(facts).va == pytest.approx(3**0.5 * 208 * 100)
