"""Power sources, readings, panels, loads and conductors at their exact edges, where a changed comparison went unnoticed.

Figures are those of the sections named, restated in trade literature; "from memory" where no source was at hand.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from oneline.rules.ampacity import RunFacts
from oneline.rules.common import Fact, Subject
from oneline.rules.fault_duty import asymmetry_factor
from oneline.rules.grounding import EgcFacts, JumperFacts, equipment_grounding, supply_side_jumper
from oneline.rules.interconnect import BusFacts, bus_tests
from oneline.rules.load import elevator_factor, kitchen_factor, lighting_factor, receptacle_factor
from oneline.rules.load_device import load_device
from oneline.rules.load_optional import OptionalFacts, optional_state
from oneline.rules.overcurrent import (
    ProtectionFacts,
    ServiceFacts,
    SpecialLoad,
    conductor_protection,
    hvac_load,
    service_conductors,
)
from oneline.rules.panels import DirectoryLine, PlacedDevice, directory, positions
from oneline.rules.power_sources import (
    ControlFacts,
    GeneratorConductors,
    controlled_output,
    generator_conductors,
    number_of_sources,
    power_control,
)
from oneline.rules.readings import ReadPhase, above_rating, more_than_drawn
from oneline.rules.supplies import several_services

IT = Subject("it", "Panel A")
MAIN = Subject("m", "Main")
RUN = RunFacts(IT, 2023, "3/0", "copper", "THHN/THWN-2", 1, False, 30, 3, 3, "EMT", 40, 75)


# ------------------------------------------------------------------------------------------------------ sources
def test_a_setting_counts_where_it_lowers_the_output() -> None:
    """705.13 (2020 on): a listed power control setting below the output counts; one at the output changes nothing."""
    facts = ControlFacts(IT, 2023, Fact(48.0), Fact(32.0), True)
    assert (controlled_output(facts).value, power_control(facts).state) == (32, "pass")
    same = replace(facts, setting=Fact(48.0))
    assert (controlled_output(same).value, power_control(same).state) == (48, "advice")
    # At the output it counts with the output, whether listed or not: nothing is open then.
    assert controlled_output(replace(same, listed=None)).value == 48
    assert power_control(replace(same, listed=None)).state == "advice"
    open_ = controlled_output(replace(facts, listed=None))
    assert (open_.value, open_.low, open_.high) == (None, 32, 48)
    assert controlled_output(replace(facts, listed=False)).value == 48
    assert controlled_output(replace(facts, edition=2017)).value == 48


def test_conductors_of_a_generator() -> None:
    """445.13: 115 % of the nameplate current, 100 % where the design keeps it from overloading: 100 A asks for 115 A."""

    def state(iz_a: float, held: bool | None) -> tuple[str, str]:
        found = generator_conductors(GeneratorConductors(IT, 2023, MAIN, Fact(iz_a), Fact(100.0), held))
        return found.state, found.remedy

    assert state(115.0, False) == ("pass", "")
    assert state(114.9, False) == ("fail", "Use conductors good for 115 A.")
    assert state(100.0, True) == ("pass", "")
    assert state(99.9, True) == ("fail", "Use conductors good for 100 A.")
    assert state(114.9, None) == ("unknown", "")
    assert state(99.9, None)[0] == "fail"
    assert state(115.0, None) == ("pass", "")


def test_one_source_needs_no_directory() -> None:
    """705.10: a directory where there are several sources."""
    assert number_of_sources(IT, 2023, ["Service"], []).state == "not_applicable"
    two = number_of_sources(IT, 2023, ["Service", "Array"], [])
    assert (two.state, "2 sources" in two.message) == ("advice", True)
    assert number_of_sources(IT, 2023, ["Service"], ["Feeder X"]).state == "unknown"
    assert "1 source on" in number_of_sources(IT, 2023, ["Service"], []).message


def test_readings_beside_rating_and_load() -> None:
    """A reading at the rating is no overload; one above is, whatever is reckoned. Physics."""

    def phases(read_a: float, most_a: float | None = 100.0) -> tuple[ReadPhase, ...]:
        return (ReadPhase("A", 10.0, "then", 100.0), ReadPhase("B", read_a, "then", most_a))

    assert above_rating(IT, 2023, phases(200.0), 200.0, "fuse") is None
    over = above_rating(IT, 2023, phases(200.1), 200.0, "fuse")
    assert over is not None
    assert (over.state, "phase B" in over.message) == ("fail", True)
    assert above_rating(IT, 2023, phases(300.0), None, "fuse") is None
    assert more_than_drawn(IT, 2023, phases(100.0)) is None  # what the drawing has
    assert more_than_drawn(IT, 2023, phases(500.0, None)) is None
    more = more_than_drawn(IT, 2023, phases(200.0))
    assert more is not None
    assert "phase B" in more.message


# ------------------------------------------------------------------------------------------------------- panels
def test_spaces_of_a_panel() -> None:
    """Physics: space 42 is the last of 42; a device of three poles needs three phases."""

    def states(*devices: PlacedDevice, spaces: int | None = 42, phases: str = "ABC") -> list[str]:
        return [v.state for v in positions(IT, 2023, devices, spaces, phases)]

    def device(label: str, *spaces: int) -> PlacedDevice:
        return PlacedDevice(label, spaces, None, "")

    assert states(device("circuit 42", 42)) == ["pass"]
    assert states(device("circuit 43", 43)) == ["fail"]
    assert states(device("circuit 1", 1, 3, 5)) == ["pass"]
    assert states(device("circuit 1", 1, 3, 5), phases="AB") == ["fail"]
    assert states(device("circuit 1", 1), spaces=None) == ["unknown"]
    assert states(device("circuit 1", 1), phases="") == ["pass"]
    assert states(device("circuit 1", 1, 3), phases="") == ["unknown"]
    assert states(device("circuit 1", 1), device("circuit 1 too", 1)) == ["fail"]
    assert states() == []


def test_lines_of_a_directory() -> None:
    """408.4(A): every circuit's clear and specific purpose; spares need none."""

    def states(*lines: DirectoryLine) -> list[str]:
        return [v.state for v in directory(IT, 2023, lines)]

    good = DirectoryLine(1, "Receptacles north wall, shop 3", traced="traced")
    assert states(good) == ["pass"]
    assert states(good, DirectoryLine(3, "", "spare")) == ["pass"]
    assert states(good, DirectoryLine(3, "")) == ["unknown"]
    assert states(good, DirectoryLine(3, "Lights", traced="traced")) == ["advice"]
    assert states(DirectoryLine(1, "Receptacles north wall, shop 3", traced="untraced")) == ["unknown"]


# -------------------------------------------------------------------------------------------------------- loads
def test_demand_factors_where_nothing_is_connected() -> None:
    """220.47, 220.56, Table 620.14, Table 220.45: factors are shares of what is there; nothing connected is nothing."""
    assert (receptacle_factor(0.0), receptacle_factor(1.0), receptacle_factor(10_000.0)) == (1.0, 1.0, 1.0)
    assert receptacle_factor(20_000.0) == pytest.approx(0.75)  # first 10 kVA and half of the rest
    assert (elevator_factor(0), elevator_factor(1), elevator_factor(2)) == (1.0, 1.0, 0.95)
    assert kitchen_factor(0.0, 6, 0.0) == 1.0
    assert kitchen_factor(10_000.0, 0, 0.0) == 1.0
    assert kitchen_factor(10_000.0, 1, 10_000.0) == 1.0
    assert kitchen_factor(60_000.0, 6, 20_000.0) == pytest.approx(0.65)  # six pieces and more
    assert kitchen_factor(60_000.0, 6, 42_000.0) == pytest.approx(0.7)  # not below the two largest
    assert kitchen_factor(1.0, 6, 0.5) == pytest.approx(0.65)
    assert lighting_factor(0.0, "all others", 2023) == 1.0


def test_who_may_use_an_optional_method() -> None:
    """220.82: one dwelling unit, single phase; 220.84: three units or more; 220.86: a school with heating or cooling."""

    def state(**changes: object) -> str:
        values: dict = {"area_ft2": 2000.0, "connected_va": 50_000.0, "known": True, "conditioned": True, "units": None}
        values |= {"standard_va": 40_000.0} | changes
        return optional_state(OptionalFacts(IT, 2023, **values))[0]

    assert state(method="apartment house", units=2) == "fail"
    assert state(method="apartment house", units=3) == "pass"
    assert state(method="apartment house", units=None) == "unknown"
    assert state(method="school", conditioned=True) == "pass"
    assert state(method="school", conditioned=False) == "fail"
    assert state(method="school", conditioned=True, area_ft2=0.0) == "unknown"
    assert state(method="school", conditioned=True, area_ft2=1.0) == "pass"
    assert state(method="school", conditioned=True, area_ft2=None) == "unknown"


# --------------------------------------------------------------------------------------------------- conductors
def protection(rating_a: float, **run: object) -> tuple[str, str]:
    found = conductor_protection(ProtectionFacts(replace(RUN, **run), MAIN, Fact(rating_a)))  # type: ignore[arg-type]
    return found.rule, found.state


def test_which_part_of_240_4_decides() -> None:
    """240.4(B) up to 800 A, (C) over 800 A, (D) for 14 to 10 AWG. Table 310.16, copper at 75 °C: 500 kcmil 380 A, 12 AWG
    25 A; 90 °C 30 A, corrected 0.82 at 50 °C and 0.5 for 10 to 20 conductors: 12.3 A, next 15 A."""
    assert protection(800, size="500", sets=2) == ("OCP-4B", "pass")  # 760 A, the next size up
    assert protection(801, size="500", sets=3) == ("OCP-4C", "pass")
    assert protection(20, size="12") == ("OCP-4D", "pass")
    assert protection(25, size="12") == ("OCP-4D", "fail")
    assert protection(20.1, size="12") == ("OCP-4D", "fail")
    assert protection(60, size="12") == ("OCP-4D", "fail")
    assert protection(20, size="12", ambient_c=50, current_carrying=20) == ("OCP-4B", "fail")
    assert protection(15, size="12", ambient_c=50, current_carrying=20) == ("OCP-4D", "pass")


def test_a_nameplate_at_its_figures() -> None:
    """440.4(B): conductors at least the marked minimum ampacity, a device of at most the marked maximum. 10 AWG: 35 A."""
    unit: SpecialLoad = hvac_load("RTU-1", 35.0, 50.0)

    def state(rating_a: float, special: SpecialLoad) -> str:
        facts = ProtectionFacts(replace(RUN, size="10"), MAIN, Fact(rating_a), special=special)
        return conductor_protection(facts).state

    assert state(50, unit) == "pass"
    assert state(50.1, unit) == "fail"
    assert state(50, replace(unit, conductor_a=Fact(35.1))) == "fail"


def test_a_nameplate_decides_nothing_while_the_conductors_may_be_protected_anyway() -> None:
    """240.4(G) lets the device be larger; while 240.4(B) may hold, a nameplate below the device fails nothing of it."""
    run = replace(RUN, size="6", ambient_c=None)  # 65 A at 75 °C, less where it is hot
    facts = ProtectionFacts(run, MAIN, Fact(60.0), special=hvac_load("RTU-1", 30.0, 50.0))
    found = conductor_protection(facts)
    assert (found.state, "If not:" in found.message) == ("unknown", True)


def test_whose_article_sizes_the_device() -> None:
    """440.4(B) and 440.22 for a nameplate, Table 430.52 for a motor."""
    unit, motor = hvac_load("RTU-1", 30.0, 50.0), SpecialLoad("motor", "Pump", Fact(30.0), Fact(50.0), "Table 430.52")
    for special, rule, words in ((unit, "LOAD-5", "by its nameplate"), (motor, "OCP-4G", "by the motor rules")):
        found = load_device(Subject("u", special.name), MAIN, Fact(50.0), special, 2023)
        assert (found.rule, found.state) == (rule, "pass")
        assert found.message == f"Main (50 A) ahead of {special.name} is exactly the most allowed {words}."
        assert found.section.startswith("440" if special is unit else "Table 430")
        assert load_device(Subject("u", "It"), MAIN, Fact(50.1), special, 2023).state == "fail"


def test_a_fault_without_reactance() -> None:
    """Physics: without reactance there is no offset, so no fault is harder on a device than its test."""
    assert asymmetry_factor(0.0, 6.6) == 1.0
    assert asymmetry_factor(6.6, 6.6) == 1.0
    assert asymmetry_factor(6.7, 6.6) > 1.0
    assert asymmetry_factor(None, None) == 1.0


def test_several_services() -> None:
    """230.2: each service but the first needs a reason of its own."""

    def state(*reasons: str | None) -> str:
        services = [(Subject(f"s{k}", f"Service {k}"), reason) for k, reason in enumerate(reasons, 1)]
        return several_services(services[0][0], 2023, services).state

    assert state("first service", "capacity") == "pass"
    assert state("first service", None) == "judge"
    assert state("first service", "none") == "fail"
    assert state("first service", "capacity", "none") == "fail"
    assert state("first service", "capacity", None) == "judge"
    assert state(None, "none") == "judge"
    assert state("none", "capacity") == "pass"


def test_what_a_bus_is_told() -> None:
    """705.12(B)(2): the label at the source's breaker belongs to the test that holds by its place."""
    facts = BusFacts(
        IT, 2023, Fact(200.0), Fact(200.0), "Main", Fact(32.0), Fact(260.0), True, False, sources=("Array",),
        source_devices=("PV breaker",),
    )  # fmt: skip
    found = {v.rule: v for v in bus_tests(facts)}
    assert found["PV-1"].message.startswith("Panel A may be fed by Array too, by the ")
    assert len(found["PV-1b"].field_checks) == 1
    assert found["PV-1c"].state == "fail"
    assert not found["PV-1c"].field_checks
    open_ = next(v for v in bus_tests(replace(facts, output=Fact(None, need="output of Array"))) if v.rule == "PV-1b")
    assert "make a current not known yet" in open_.message or "make at least" in open_.message


def test_service_conductors_and_one_device() -> None:
    """230.90: a single device may be the next standard size above the ampacity, 230.42: they carry the load. 3/0: 200 A,
    two sets of 500 kcmil 760 A and so 800 A."""

    def found(load_a: float, *ratings_a: float, **run: object) -> tuple[str, str]:
        devices = tuple((f"D{k}", Fact(a)) for k, a in enumerate(ratings_a))
        verdict = service_conductors(ServiceFacts(replace(RUN, **run), Fact(load_a), devices))  # type: ignore[arg-type]
        return verdict.state, verdict.remedy

    assert found(200, 200) == ("pass", "")
    assert found(200.1, 200)[0] == "fail"
    assert found(100, 225) == ("fail", "Use 4/0 AWG copper.")  # 230 A
    assert found(760, 800, size="500", sets=2) == ("pass", "")
    assert found(100, 225, 225) == ("pass", "")  # several: 230.90 exception, the load decides
    assert found(201, 225, 225) == ("fail", "Use 4/0 AWG copper.")
    assert found(100)[0] == "unknown"


def test_a_grounding_conductor_as_large_as_the_phases() -> None:
    """250.122(A): never asked to be larger than the circuit conductors, whatever else is unknown."""
    unknown = replace(RUN, ambient_c=None)
    facts = EgcFacts(unknown, MAIN, Fact(200.0), "3/0", "copper", Fact(100.0))
    assert equipment_grounding(facts).state == "pass"
    small = equipment_grounding(replace(facts, size="6"))
    assert small.state == "unknown"
    assert not [n for n in small.needs if "terminal" in n]
    open_terminals = replace(facts, size="6", run=replace(unknown, terminal_c=None))
    assert "terminal temperature of Panel A" in equipment_grounding(open_terminals).needs
    # Table 250.122: 200 A asks for 6 AWG copper, 4 AWG aluminum.
    for size, material, state in (("6", "copper", "pass"), ("8", "copper", "fail"), ("4", "aluminum", "pass")):
        at = EgcFacts(RUN, MAIN, Fact(200.0), size, material, Fact(200.0))
        assert equipment_grounding(at).state == state


def test_neutral_and_jumper_of_a_service() -> None:
    """Table 250.102(C)(1): behind 3/0 copper (over 2/0 to 3/0) at least 4 AWG copper; 250.24(D): the neutral likewise."""
    for what, rule in (("neutral", "GND-1"), ("supply-side bonding jumper", "GND-4")):
        facts = JumperFacts(RUN, what, "4", "copper")
        found = supply_side_jumper(facts)
        assert (found.rule, found.state, "just the 4 AWG" in found.message) == (rule, "pass", True)
        small = supply_side_jumper(replace(facts, size="6"))
        assert (small.state, small.remedy) == ("fail", "Use 4 AWG copper in all.")
        none = supply_side_jumper(replace(facts, size="none"))
        assert (none.state, f"has no {what}" in none.message) == ("fail", True)
        missing = supply_side_jumper(replace(facts, size=None))
        wanted = "neutral size of Panel A" if what == "neutral" else f"{what} of Panel A"
        assert (missing.state, missing.needs) == ("unknown", (wanted,))
    either = supply_side_jumper(JumperFacts(RUN, "supply-side bonding jumper", None))
    assert "4 AWG copper or 2 AWG aluminum" in either.message
