"""Panels: protection, directory, places; and the voltage drop recommendation."""

from __future__ import annotations

from dataclasses import replace

import pytest

from oneline.rules.backfeed import Feed, OpenFacts, stays_live
from oneline.rules.capacity import CapacityFacts, capacity
from oneline.rules.common import Fact, Subject
from oneline.rules.drop import DropFacts, voltage_drop
from oneline.rules.panels import (
    DirectoryLine,
    PanelFacts,
    PlacedDevice,
    directory,
    is_passing,
    is_unsure,
    is_vague,
    names_a_person,
    panel_protection,
    positions,
)

PANEL = Subject("p", "Panel LP")
MAIN = Subject("m", "Feeder breaker")


@pytest.mark.parametrize(
    ("bus", "device", "state"),
    [
        (Fact(225.0), Fact(225.0), "pass"), (Fact(225.0), Fact(200.0), "pass"), (Fact(225.0), Fact(400.0), "fail"),
        (Fact(None, need="bus rating"), Fact(200.0), "unknown"), (Fact(225.0), Fact(None, need="trip"), "unknown"),
        (Fact(225.0), Fact(None, high=225.0, need="trip"), "pass"),
    ],
)  # fmt: skip
def test_panel_protection(bus: Fact, device: Fact, state: str) -> None:
    """408.36: a device of at most the panel's rating in it or on its supply side."""
    found = panel_protection(PanelFacts(PANEL, 2023, bus, MAIN, device))
    assert found.state == state
    if state == "fail":
        assert "225 A" in found.remedy


def test_panel_protection_stops_at_a_transformer() -> None:
    """408.36(B): the device has to be on the secondary side (trade answers)."""
    facts = PanelFacts(PANEL, 2023, Fact(225.0), MAIN, Fact(125.0), Subject("t", "T1"))
    assert panel_protection(facts).state == "fail"
    assert "secondary" in panel_protection(facts).message


def test_panel_without_any_device() -> None:
    facts = PanelFacts(PANEL, 2023, Fact(225.0), None, Fact(None))
    assert panel_protection(facts).state == "fail"
    assert panel_protection(replace(facts, service_mains=3)).state == "judge"  # exception 1


@pytest.mark.parametrize(
    "text", ["Lights", "plugs", "Misc.", "office", "Receptacles", "Lights and plugs", "Lighting 2"]
)
def test_vague_descriptions(text: str) -> None:
    """408.4(A): enough detail to tell a circuit from every other one (licensing courses). The words: common practice."""
    assert is_vague(text)


@pytest.mark.parametrize("text", ["Lights aisle 3", "Receptacles north wall", "Pump P-1", "Office 204 plugs by window"])
def test_specific_descriptions(text: str) -> None:
    assert not is_vague(text)


def test_names_of_people() -> None:
    """408.4(A): not by who occupies the place."""
    for text in ("Bob's desk", "Plugs at Anna’s office", "LOU'S BENCH"):
        assert names_a_person(text)
    # Rooms and roles stay when people go.
    for text in ("Receptacles north wall", "Men's restroom", "Women's locker 2", "Manager's office", "LADIES' room"):
        assert not names_a_person(text)


@pytest.mark.parametrize("text", ["spare?", "A/C roof??", "Receptacles bay 2 (?)"])
def test_who_wrote_it_did_not_know(text: str) -> None:
    """408.4(A): clear and evident. A question mark is neither (common practice)."""
    assert is_unsure(text)
    (found,) = directory(PANEL, 2023, [DirectoryLine(1, text), DirectoryLine(3, "Sump pit east")])
    assert (found.state, "question mark" in found.message) == ("advice", True)


@pytest.mark.parametrize("text", ["Temp heater dock", "Xmas lights front", "Cooler, temporary"])
def test_what_is_there_for_a_while_only(text: str) -> None:
    """408.4(A): not by what is transient (rules.md PNL-3)."""
    assert is_passing(text)
    (found,) = directory(PANEL, 2023, [DirectoryLine(1, text)])
    assert (found.state, "for a while" in found.message) == ("advice", True)


@pytest.mark.parametrize("text", ["Tempering kiln 2", "Lights aisle 3", "Contemporary art hall", "Water heater closet"])
def test_what_stays(text: str) -> None:
    assert not is_passing(text)
    assert not is_unsure(text)


def test_directory() -> None:
    lines = [DirectoryLine(1, "Lights aisle 1"), DirectoryLine(3, "Pump P-1"), DirectoryLine(5, "", "spare")]
    assert [v.state for v in directory(PANEL, 2023, lines)] == ["pass"]
    assert [v.state for v in directory(PANEL, 2023, [])] == ["unknown"]
    lines += [DirectoryLine(7, ""), DirectoryLine(9, "Pump p-1"), DirectoryLine(11, "Sump", traced="untraced"),
              DirectoryLine(13, "plugs")]  # fmt: skip
    unknown, advice = directory(PANEL, 2023, lines)
    assert (unknown.state, unknown.needs) == ("unknown", ("trace of circuits 7 and 11 of Panel LP",))
    assert advice.state == "advice"
    assert "3 and 9" in advice.message
    assert "13 (plugs)" in advice.message


def test_positions() -> None:
    """408.3(E) and the panel's own number of spaces."""

    def states(*devices: PlacedDevice, spaces: int | None = 42, phases: str = "ABC") -> list[str]:
        return [v.state for v in positions(PANEL, 2023, devices, spaces, phases)]

    one, two = PlacedDevice("circuit 1", (1,)), PlacedDevice("circuit 3", (3, 5))
    assert states(one, two) == ["pass"]
    assert states(one, PlacedDevice("circuit 1 again", (1,))) == ["fail"]
    assert states(two, PlacedDevice("circuit 5", (5,))) == ["fail"]
    assert states(PlacedDevice("circuit 41", (41, 43))) == ["fail"]
    assert states(PlacedDevice("circuit 41", (41, 43)), spaces=None) == ["unknown"]
    assert states(PlacedDevice("circuit 1", (1, 3, 5)), phases="AB") == ["fail"]
    assert states(PlacedDevice("F1", (1,), phases="B", expected="A")) == ["unknown"]
    assert states(PlacedDevice("F1", (5, 1), phases="CA", expected="AC")) == ["pass"]
    assert states() == []


# ------------------------------------------------------------------------------------------------ voltage drop
@pytest.mark.parametrize(
    ("part", "drop", "state"),
    [("feeder", 3.0, "pass"), ("feeder", 3.1, "advice"), ("branch", 3.1, "advice"), ("total", 5.0, "pass"),
     ("total", 5.1, "advice"), ("total", None, "unknown")],
)  # fmt: skip
def test_voltage_drop_is_a_recommendation(part: str, drop: float | None, state: str) -> None:
    """Informational notes of 210.19 and 215.2: 3 % each, 5 % together; never a failure."""
    found = voltage_drop(DropFacts(PANEL, 2023, part, Fact(drop, need="length")))
    assert found.state == state
    assert found.needs == (("length",) if drop is None else ())


# ---------------------------------------------------------------------------------------------------- capacity
def test_capacity_messages() -> None:
    loads = {"A": Fact(380.0), "B": Fact(414.0), "C": Fact(300.0)}
    facts = CapacityFacts(Subject("m", "Main"), 2023, "device", "trip", Fact(400.0), loads, "Calculated")
    found = capacity(facts)
    assert found.state == "fail"
    assert found.message.startswith("Main is over by 14 A on phase B: 414 A of load, trip 400 A.")
    loads = {"A": Fact(None, low=316.0, need="loads of 12 circuits of Panel LB")}
    found = capacity(replace(facts, loads=loads))
    assert (found.state, found.needs) == ("unknown", ("loads of 12 circuits of Panel LB",))
    assert "at most 84 A left" in found.message
    assert capacity(replace(facts, loads={"A": Fact(None, low=401.0, need="x")})).state == "fail"
    assert capacity(replace(facts, loads={"A": Fact(None, low=10.0, high=399.0, need="x")})).state == "pass"
    assert capacity(replace(facts, loads={})).state == "unknown"


# -------------------------------------------------------------------------------------------------- stays live
def test_what_stays_live() -> None:
    facts = OpenFacts(MAIN, 2023, "Bus MDP", (Feed("Solar array", ("Breaker 12",)),))
    found = stays_live(facts)
    assert found is not None
    assert found.state == "advice"
    assert found.message == "When Feeder breaker is open, Bus MDP stays live from Solar array through Breaker 12."
    suspected = stays_live(replace(facts, feeds=(), ties=("Tie 1",)))
    assert suspected is not None
    assert (suspected.state, suspected.needs) == ("unknown", ("trace of Tie 1",))
    assert stays_live(replace(facts, feeds=())) is None
    assert "safe" not in found.message
