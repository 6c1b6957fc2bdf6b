"""Conductors against the device ahead: 240.4(B), (C), (D), (G)."""

from __future__ import annotations

from dataclasses import replace

import pytest

from oneline import tables
from oneline.model.vocabulary import CONDUCTOR_SIZES
from oneline.rules.ampacity import RunFacts, ampacity
from oneline.rules.common import Fact, Subject
from oneline.rules.conductor_load import LoadFacts, conductor_load
from oneline.rules.overcurrent import (
    ProtectionFacts,
    ServiceFacts,
    conductor_protection,
    device_for,
    hvac_load,
    largest_device_a,
    motor_load,
    propose_conductor,
    service_conductors,
)

RUN = Subject("run1", "Feeder LP")
DRY = RunFacts(RUN, 2023, "3/0", "copper", "THHN/THWN-2", 1, False, 30, 3, 3, "EMT", 40, 75)
BREAKER = Subject("d1", "Breaker F1")


def state(rating_a: float | None, kind: str = "breaker", **run: object) -> str:
    return conductor_protection(
        ProtectionFacts(replace(DRY, **run), BREAKER, Fact(rating_a, need="trip of F1"), kind)  # type: ignore[arg-type]
    ).state


def test_next_size_up_for_parallel_sets() -> None:
    """Trade forum "Parallel conductor sizing": 2 x 500 kcmil Cu, 760 A, may be protected at 800 A."""
    assert largest_device_a(760, 2023) == 800
    assert state(800, size="500", sets=2) == "pass"
    assert state(1000, size="500", sets=2) == "fail"


def test_above_800_no_round_up() -> None:
    """240.4(C)."""
    verdict = conductor_protection(ProtectionFacts(replace(DRY, size="500", sets=3), BREAKER, Fact(1200.0)))
    assert (verdict.rule, verdict.state) == ("OCP-4C", "fail")  # 1140 A < 1200 A
    assert largest_device_a(1140, 2023) == 1140
    assert device_for(replace(DRY, size="500", sets=3)) == 1000
    assert state(1000, size="500", sets=3) == "pass"


def test_a_standard_ampacity_is_not_rounded_up() -> None:
    """240.4(B): only where the ampacity does not correspond with a standard rating."""
    assert largest_device_a(200, 2023) == 200
    assert largest_device_a(255, 2023) == 300
    assert state(225) == "fail"
    assert state(200) == "pass"
    assert state(300, size="250") == "pass"


def test_without_rounding() -> None:
    """Trade forum, "Transformer Secondary Feeder Tap": 510 A could go to 600 A as a feeder, but not as a secondary."""
    assert largest_device_a(510, 2023) == 600
    assert largest_device_a(510, 2023, round_up=False) == 510


def test_receptacle_branch_circuits_are_not_rounded_up() -> None:
    facts = ProtectionFacts(replace(DRY, size="8", terminal_c=60), BREAKER, Fact(45.0))
    # 8 AWG at 60 °C is 40 A, a standard rating; take 9 conductors: 55 x 0.7 = 38.5 A, next 40 A.
    facts = replace(facts, run=replace(facts.run, current_carrying=9), rating=Fact(40.0))
    assert conductor_protection(facts).state == "pass"
    assert conductor_protection(replace(facts, receptacles=True)).state == "fail"


@pytest.mark.parametrize(
    ("size", "material", "most"),
    [("14", "copper", 15), ("12", "copper", 20), ("10", "copper", 30), ("12", "aluminum", 15), ("10", "aluminum", 25)],
)
def test_small_conductors(size: str, material: str, most: float) -> None:
    """240.4(D) as restated by trade sources (wire maker's article on small conductors)."""
    assert state(most, size=size, material=material) == "pass"
    over = tables.next_standard(most + 1, 2023, "breaker")
    verdict = conductor_protection(ProtectionFacts(replace(DRY, size=size, material=material), BREAKER, Fact(over)))
    assert (verdict.rule, verdict.state) == ("OCP-4D", "fail")
    assert device_for(replace(DRY, size=size, material=material)) == most


def test_unknown_trip_leaves_it_open_unless_the_frame_decides() -> None:
    assert state(None) == "unknown"
    facts = ProtectionFacts(DRY, BREAKER, Fact(None, None, 200.0, need="trip of F1"))
    assert conductor_protection(facts).state == "pass"
    assert conductor_protection(replace(facts, rating=Fact(None, 225.0, None, need="setting of F1"))).state == "fail"


def test_nameplate_mca_and_mocp_allow_a_larger_breaker() -> None:
    """240.4(G), 440.4(B): the nameplate pair decides, routinely a breaker larger than the wire; trade practice."""
    unit = hvac_load("RTU-1", 28.0, 45.0)
    facts = ProtectionFacts(replace(DRY, size="10"), BREAKER, Fact(45.0), special=unit)
    verdict = conductor_protection(facts)
    assert (verdict.rule, verdict.state) == ("OCP-4G", "pass")
    assert conductor_protection(replace(facts, rating=Fact(50.0))).state == "fail"
    assert conductor_protection(replace(facts, run=replace(DRY, size="12"))).state == "fail"  # 25 A < 28 A
    unknown = hvac_load("RTU-1", None, None)
    assert conductor_protection(replace(facts, special=unknown)).state == "unknown"


def test_one_motor_on_a_breaker() -> None:
    """EC&M on 430.62: 20 hp 27 A and 10 hp 14 A at 460 V, inverse-time breakers: branch devices 70 A and 35 A."""
    for hp, current_a, device_a in ((20, 27, 70), (10, 14, 35)):
        assert tables.motor_flc_a(hp, 480, 3) == current_a
        motor = motor_load("Pump", current_a, True, 2023, "breaker")
        assert motor.device_a.value == device_a
        assert motor.conductor_a.value == pytest.approx(1.25 * current_a)


def test_motor_fuses_of_unknown_type_leave_a_range() -> None:
    # Table 430.52: dual-element 175 %, nontime-delay 300 % of 27 A: 47.25 -> 50 A and 81 -> 90 A.
    motor = motor_load("Pump", 27, True, 2023, "fuse")
    assert (motor.device_a.value, motor.device_a.low, motor.device_a.high) == (None, 50, 90)
    facts = ProtectionFacts(replace(DRY, size="10", terminal_c=60), BREAKER, Fact(60.0), "fuse", motor)
    assert conductor_protection(facts).state == "fail"  # 30 A conductors, 33.75 A needed
    facts = replace(facts, run=replace(DRY, size="8", terminal_c=60))
    assert conductor_protection(facts).state == "unknown"
    assert conductor_protection(replace(facts, rating=Fact(50.0))).state == "pass"


def test_service_conductors() -> None:
    """230.90(A) exceptions 2 and 3: single device may round up; two to six may add up above the conductors."""
    one = ServiceFacts(replace(DRY, size="500"), Fact(300.0), (("Main", Fact(400.0)),))
    assert service_conductors(one).state == "pass"  # 380 A, next 400 A
    six = replace(one, devices=tuple((f"Main {k}", Fact(200.0)) for k in range(1, 5)))
    assert service_conductors(six).state == "pass"  # 800 A of mains, load 300 A <= 380 A
    assert service_conductors(replace(six, load=Fact(390.0))).state == "fail"
    assert service_conductors(replace(six, load=Fact(None, 0.0, None, need="load"))).state == "unknown"
    assert service_conductors(replace(one, devices=())).state == "unknown"


@pytest.mark.parametrize("rating_a", [15, 20, 30, 40, 60, 100, 150, 200, 225, 400, 600, 800])
@pytest.mark.parametrize("load_a", [0.0, 12.0, 170.0, 390.0])
@pytest.mark.parametrize("count", [3, 9])
def test_proposed_conductors_pass_and_are_the_smallest(rating_a: float, load_a: float, count: int) -> None:
    run = replace(DRY, current_carrying=count, sets=2 if rating_a > 400 else 1)
    found = propose_conductor(run, load_a, rating_a)
    assert found is not None
    assert found.size is not None
    facts = ProtectionFacts(found, BREAKER, Fact(float(rating_a)))
    assert conductor_protection(facts).state == "pass"
    assert (ampacity(found).iz_a or 0) >= load_a
    smaller = replace(found, size=CONDUCTOR_SIZES[CONDUCTOR_SIZES.index(found.size) - 1])
    if run.sets == 2 and found.size == "1/0":
        return  # nothing smaller may be run in parallel
    if ampacity(smaller).iz_a is None:
        return
    too_small = conductor_protection(replace(facts, run=smaller)).state == "fail"
    assert too_small or (ampacity(smaller).iz_a or 0) < load_a


def test_common_practice_250_kcmil_on_200_a() -> None:
    """Common practice, no source: 250 kcmil copper lands a 200 A device."""
    assert state(200, size="250") == "pass"


def test_remedies_of_a_breaker_too_big_pass_when_applied() -> None:
    for size in ("8", "4", "1/0", "250", "500"):
        facts = ProtectionFacts(replace(DRY, size=size), BREAKER, Fact(600.0))
        verdict = conductor_protection(facts)
        assert verdict.state == "fail"
        device_a = device_for(facts.run)
        assert device_a is not None
        assert f"{device_a:g} A" in verdict.remedy
        assert conductor_protection(replace(facts, rating=Fact(device_a))).state == "pass"


@pytest.mark.parametrize(
    ("terminal_c", "device_a", "state"),
    [
        # Table 310.16, 8 AWG copper: 40 A at 60 °C, 50 A at 75 °C; 110.14(C): 60 °C up to 100 A unless marked.
        (60, 50, "fail"), (75, 50, "pass"), (None, 50, "unknown"), (None, 40, "pass"), (None, 60, "fail"),
        (60, 40, "pass"), (75, 60, "fail"),
    ],
)  # fmt: skip
def test_default_of_the_terminals_decides_no_failure(terminal_c: float | None, device_a: float, state: str) -> None:
    run = RunFacts(
        Subject("r", "Run"), 2023, "8", "copper", "THWN-2", 1, False, 30, 3, 3, "EMT", 40, terminal_c, None, device_a
    )  # fmt: skip
    found = conductor_protection(ProtectionFacts(run, Subject("d", "Main"), Fact(device_a)))
    assert found.state == state
    if state == "unknown":
        assert "terminal temperature of Run" in found.needs
    # A terminal seen to be 60 °C at one end settles it.
    seen = conductor_protection(
        ProtectionFacts(replace(run, terminal_seen_c=60), Subject("d", "Main"), Fact(device_a))
    )  # fmt: skip
    assert terminal_c is not None or seen.state == ("pass" if device_a <= 40 else "fail")


@pytest.mark.parametrize(
    ("insulation", "wet", "state"),
    [
        # THHN is for dry and damp locations; THWN-2 for wet ones too (Table 310.4).
        ("THHN", False, "pass"), ("THHN", True, "fail"), ("THHN", None, "unknown"), (None, True, "unknown"),
        ("THWN-2", True, "pass"), ("THWN-2", None, "pass"), (None, False, "pass"),
    ],
)  # fmt: skip
def test_insulation_that_may_lie_in_a_wet_location(insulation: str | None, wet: bool | None, state: str) -> None:
    run = RunFacts(Subject("r", "Run"), 2023, "3/0", "copper", insulation, 1, wet, 30, 3, 3, "EMT", 40, 75)
    found = conductor_load(LoadFacts(run, Fact(20.0), Fact(20.0)))
    assert found.state == state
    assert bool(found.needs) == (state == "unknown")
