"""Rules of interconnected sources against published examples and the text of 705.11 and 705.12 by edition."""

from __future__ import annotations

from dataclasses import replace

import pytest

from oneline.rules.common import Fact, Subject, evaluate
from oneline.rules.interconnect import (
    BusFacts,
    FeederFacts,
    bus_tests,
    feeder,
)
from oneline.rules.supplies import generator_neutral, in_parallel, paralleled
from oneline.rules.supply_side import SupplySideFacts, supply_side

BUS = Subject("b", "Panel A")


def bus(**changes: object) -> BusFacts:
    values: dict = {
        "subject": BUS, "edition": 2023, "bus": Fact(200.0), "main": Fact(200.0), "main_name": "Main",
        "output": Fact(32.0), "breakers": Fact(260.0), "opposite_end": True, "center_fed": False, "sources": ("Array",),
        "source_devices": ("PV breaker",),
    }  # fmt: skip
    return BusFacts(**(values | changes))


def states(facts: BusFacts) -> dict[str, str]:
    found = bus_tests(facts)
    for verdict in found:
        for line in verdict.work:
            if line.formula:
                assert evaluate(line.formula, line.inputs) == pytest.approx(line.value)
    return {v.rule: v.state for v in found}


def test_120_percent_rule() -> None:
    """Solar installers' guide, 2017-2023: 200 A bus, 200 A main, opposite end: 40 A of 125 % current, 32 A of inverter."""
    found = states(bus())
    assert found == {
        "PV-1": "pass", "PV-1a": "fail", "PV-1b": "pass", "PV-1c": "fail", "PV-1d": "not_applicable", "PV-1e": "judge",
    }  # fmt: skip
    summary = bus_tests(bus())[0]
    assert (summary.value, summary.limit) == pytest.approx((240, 240))
    assert not summary.alternative
    assert all(v.alternative for v in bus_tests(bus())[1:])
    assert states(bus(output=Fact(32.01)))["PV-1"] == "fail"
    assert pytest.approx(7_680) == 32 * 240  # the guide's 7.6 kW inverter


def test_full_test_without_regard_to_place() -> None:
    """705.12(B)(1): sources and main within the bus, source anywhere: 150 A main leaves 50 A, 40 A of inverter."""
    facts = bus(main=Fact(150.0), output=Fact(40.0), opposite_end=None)
    assert states(facts)["PV-1"] == "pass"
    assert states(replace(facts, output=Fact(40.01)))["PV-1"] == "unknown"  # then the place decides
    assert states(replace(facts, output=Fact(40.01), opposite_end=False))["PV-1"] == "fail"


def test_sum_of_breakers() -> None:
    """705.12(B)(3): all breakers but the main within the bus, and the main too."""
    facts = bus(output=Fact(100.0), opposite_end=False, breakers=Fact(200.0))
    assert states(facts)["PV-1c"] == "pass"
    assert states(replace(facts, breakers=Fact(201.0)))["PV-1c"] == "fail"
    assert states(replace(facts, main=Fact(225.0)))["PV-1c"] == "fail"
    assert states(replace(facts, breakers=Fact(None, low=150.0, need="all breakers")))["PV-1"] == "unknown"
    assert states(replace(facts, breakers=Fact(None, low=201.0, need="all breakers")))["PV-1"] == "fail"


def test_center_fed_bus_has_no_opposite_end() -> None:
    """705.12(B)(4) is for dwellings only, so nothing carries it in a shop."""
    assert states(bus(center_fed=True))["PV-1"] == "fail"
    found = {v.rule: v for v in bus_tests(bus(center_fed=None))}
    assert found["PV-1b"].state == found["PV-1"].state == "unknown"
    assert found["PV-1b"].needs == ("whether Panel A is fed at its end or center",)
    # Where the numbers fail anyway it does not matter how the bus is fed.
    assert states(bus(center_fed=None, output=Fact(32.01)))["PV-1b"] == "fail"


def test_engineered_bus() -> None:
    assert states(bus(output=Fact(100.0), engineered=True))["PV-1"] == "pass"
    assert states(bus(output=Fact(100.0), engineered=False))["PV-1"] == "fail"


@pytest.mark.parametrize(
    ("edition", "section"),
    [(2017, "705.12(B)(2)(3)(b)"), (2020, "705.12(B)(3)(2)"), (2023, "705.12(B)(2)")],
)
def test_section_by_edition(edition: int, section: str) -> None:
    """Where the 120 % rule stands: code-change summaries."""
    assert bus_tests(bus(edition=edition))[0].section == section


def test_2026_is_said_to_be_unconfirmed() -> None:
    assert "not confirmed" in bus_tests(bus(edition=2026))[0].section


def test_unknown_bus_is_unknown() -> None:
    found = bus_tests(bus(bus=Fact(None, need="bus rating of Panel A")))[0]
    assert found.state == "unknown"
    assert found.needs == ("bus rating of Panel A",)


def test_feeder_with_a_source_at_its_end_and_in_the_middle() -> None:
    """705.12(A): 125 % of the source alone; beyond a junction the feeder's device and 125 % of the source."""
    facts = FeederFacts(BUS, 2023, Fact(200.0), Fact(40.0), Fact(200.0), "Feeder breaker", False, ("Array",))
    assert feeder(facts).state == "pass"
    assert feeder(replace(facts, iz=Fact(49.9))).state == "fail"
    found = feeder(replace(facts, joined=True))
    assert (found.state, found.value, found.limit) == ("fail", 200, 250)
    assert feeder(replace(facts, joined=True, iz=Fact(255.0))).state == "pass"


def supply(**changes: object) -> SupplySideFacts:
    values: dict = {
        "subject": Subject("r", "PV service conductors"), "edition": 2020, "devices": Fact(100.0),
        "service": Fact(200.0), "output": Fact(80.0), "iz": Fact(100.0), "size": "3", "material": "copper",
        "length": Fact(16.0), "sources": ("Array",), "conductors": Fact(200.0), "all_output": Fact(80.0),
    }  # fmt: skip
    return SupplySideFacts(**(values | changes))


@pytest.mark.parametrize(
    ("changes", "state"),
    [
        ({}, "pass"),
        ({"edition": 2017, "devices": Fact(225.0), "length": Fact(9.0)}, "fail"),  # more than the service
        ({"devices": Fact(225.0)}, "pass"),  # since 2020 the output counts, from memory
        ({"all_output": Fact(201.0)}, "fail"),
        ({"conductors": Fact(None, need="service conductors")}, "unknown"),
        ({"size": "6", "iz": Fact(100.0)}, "pass"),
        ({"size": "6", "iz": Fact(100.0), "material": "aluminum"}, "fail"),  # 4 AWG of aluminum, from memory
        ({"size": "4", "iz": Fact(100.0), "material": "aluminum"}, "pass"),
        ({"edition": 2017, "size": "8", "length": Fact(9.0)}, "judge"),  # the least size came in 2020, from memory
        ({"edition": 2017, "length": Fact(10.0)}, "pass"),  # 705.31 of 2017, from memory
        ({"iz": Fact(99.0)}, "fail"),  # 125 % of 80 A
        ({"size": "8", "iz": Fact(100.0)}, "fail"),  # smaller than 6 AWG
        ({"length": Fact(17.0)}, "fail"),  # 16.5 ft in 2020
        ({"edition": 2017, "length": Fact(17.0)}, "unknown"),  # then with limiters
        ({"edition": 2023, "length": Fact(17.0)}, "judge"),  # in words in 2023
        ({"edition": 2026, "length": Fact(17.0)}, "fail"),  # restored in 2026
        ({"length": Fact(None, low=0.0, need="length")}, "unknown"),
    ],
)
def test_supply_side_connection(changes: dict, state: str) -> None:
    """705.11: code-change summaries of 2020, 2023 and 2026."""
    assert supply_side(supply(**changes)).state == state


@pytest.mark.parametrize(
    ("switched", "bonded", "state"),
    [(True, True, "pass"), (False, False, "pass"), (True, False, "fail"), (False, True, "fail"), (None, True, "unknown"),
     (True, None, "unknown")],
)  # fmt: skip
def test_generator_neutral(switched: bool | None, bonded: bool | None, state: str) -> None:
    """250.20(D) note, 250.30: a switched neutral goes with a bond at the generator, a solid one with none."""
    found = generator_neutral(Subject("t", "ATS"), Subject("g", "Gen"), 2023, switched, (("Gen", bonded),))
    assert found.state == state
    assert bool(found.needs) == (state == "unknown")


@pytest.mark.parametrize(
    ("switched", "generator", "disconnect", "state"),
    [
        (True, True, True, "fail"), (False, True, True, "fail"), (None, True, True, "fail"),
        (True, True, False, "pass"), (True, False, True, "pass"), (True, False, False, "fail"),
        (True, True, None, "unknown"), (True, None, True, "unknown"), (True, False, None, "unknown"),
        (False, False, None, "unknown"), (False, None, False, "unknown"), (False, False, False, "pass"),
        (False, True, None, "fail"), (False, None, True, "fail"), (None, False, True, "unknown"),
    ],
)  # fmt: skip
def test_every_place_on_the_side_of_the_generator_counts(
    switched: bool | None, generator: bool | None, disconnect: bool | None, state: str
) -> None:
    """250.30(A)(1): a separately derived system is bonded once; 250.142(B): with a solid neutral not at all."""
    places = (("Gen", generator), ("Gen switch", disconnect))
    found = generator_neutral(Subject("t", "ATS"), Subject("g", "Gen"), 2023, switched, places)
    assert found.state == state
    assert bool(found.needs) == (state == "unknown")


def test_parallel_without_transfer() -> None:
    utility, gen = Subject("u", "Utility"), Subject("g", "Gen")
    assert paralleled(gen, utility, 2023, ("G breaker",), False).state == "fail"
    assert paralleled(gen, utility, 2023, ("Tie",), True).state == "judge"
    assert in_parallel(gen, utility, 2023, (), None).state == "unknown"
    assert in_parallel(gen, utility, 2023, (), False).state == "fail"
    assert in_parallel(gen, utility, 2023, (), True).state == "pass"
