"""What a finding names where a changed comparison named something else: the phase, the space, the voltage, the article."""

from __future__ import annotations

from oneline.rules.common import Fact, Subject
from oneline.rules.panel_devices import wrong_phase
from oneline.rules.panels import PlacedDevice, positions
from oneline.rules.raceway_grounding import RacewayGroundFacts, raceway_grounding
from oneline.rules.readings import ReadPhase, more_than_drawn
from oneline.rules.voltage_ratings import VoltageFacts, voltage_rating

IT = Subject("it", "Panel A")


def test_the_phase_that_a_panel_lacks() -> None:
    """408.36: a breaker sits on a phase its bus has."""
    found = wrong_phase(Subject("d", "Breaker 1"), IT, 2023, "ABC", "AB")
    assert found.message == "Breaker 1 is on phase C, which Panel A does not have: its bus is A-B only."


def test_the_last_space_taken() -> None:
    """The farthest space is the one whose existence is open."""
    devices = [PlacedDevice("circuit 1", (1,), None, ""), PlacedDevice("circuit 41", (41,), None, "")]
    found = positions(IT, 2023, devices, None, "ABC")
    assert [v.needs for v in found if v.state == "unknown"] == [("number of spaces of Panel A (space 41 is taken)",)]


def test_the_voltage_that_a_remedy_names() -> None:
    """240.85: a slash-rated breaker sees the line voltage to ground on a corner-grounded system: 480 V straight."""
    found = voltage_rating(VoltageFacts(IT, 2023, "480D-CG", "480Y/277"))
    assert found.state == "fail"
    assert found.remedy == "Fit a device with a straight rating of at least 480 V."
    low = voltage_rating(VoltageFacts(IT, 2023, "480Y/277", "120/240"))
    assert (low.state, low.remedy) == ("fail", "Fit a device with a straight rating of at least 480 V.")
    assert voltage_rating(VoltageFacts(IT, 2023, "480Y/277", "480Y/277")).state == "pass"


def test_raceways_that_ground_nothing() -> None:
    """250.118: nonmetallic raceways are no equipment grounding conductor."""
    facts = RacewayGroundFacts(IT, 2023, "PVC-40", "2", Fact(60.0), Subject("m", "Main"), Fact(200.0), "250.122")
    assert "but PVC-40 is not metal" in raceway_grounding(facts).message
    none = RacewayGroundFacts(IT, 2023, "open", None, Fact(60.0), Subject("m", "Main"), Fact(200.0), "250.122")
    assert "but lies in none" in raceway_grounding(none).message


def test_the_phase_that_reads_most_above_the_drawing() -> None:
    phases = (ReadPhase("A", 150.0, "then", 100.0), ReadPhase("B", 190.0, "then", 100.0))
    found = more_than_drawn(IT, 2023, phases)
    assert found is not None
    assert found.message.startswith("Panel A reads 190 A on phase B (then)")
