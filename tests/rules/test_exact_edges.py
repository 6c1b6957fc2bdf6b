"""Rules at their exact edges, one step inside and one outside, where a changed comparison went unnoticed.

Figures are those of the sections named, restated in trade literature; "from memory" where no source was at hand.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from oneline.rules.ampacity import RunFacts, ampacity, smallest_size
from oneline.rules.bonds import BondFacts, reading_words
from oneline.rules.buildings import BuildingDisconnect, BuildingFacts, OutsideFeeder, second_building
from oneline.rules.capacity import CapacityFacts, capacity
from oneline.rules.circuits import CircuitFacts, circuits, most_on_wire_a
from oneline.rules.common import Fact, Subject
from oneline.rules.consistency import device_in_frame
from oneline.rules.counting import Circuit, CountFacts, current_carrying, neutral_kind
from oneline.rules.enclosures import BoxFacts, GutterFacts, gutter, pull_box
from oneline.rules.outside_taps import place_conditions
from oneline.rules.raceway_grounding import RacewayGroundFacts, raceway_grounding
from oneline.rules.roof import Part, follow_all, lower_part
from oneline.rules.services import ahead_of_disconnect
from oneline.rules.tap_conditions import TapEnd, TapFacts

IT = Subject("it", "Feeder LP")
RUN = RunFacts(IT, 2023, "3/0", "copper", "THHN/THWN-2", 1, False, 30, 3, 3, "EMT", 40, 75)


# ---------------------------------------------------------------------------------------------------------- ampacity
@pytest.mark.parametrize(
    ("size", "circuit_a", "at_60", "at_75"),
    [("1", None, 110, None), ("1/0", None, None, 150), ("3", 100, 85, None), ("3", 101, None, 100)],
)
def test_terminals_nobody_read(size: str, circuit_a: float | None, at_60: float | None, at_75: float | None) -> None:
    """110.14(C)(1): 60 °C for circuits of 100 A or less and conductors up to 1 AWG, 75 °C above. Table 310.16, copper:
    1 AWG 110 A and 130 A, 1/0 125 A and 150 A, 3 AWG 85 A and 100 A at 60 and 75 °C."""
    found = ampacity(replace(RUN, size=size, terminal_c=None, circuit_a=circuit_a))
    assert found.a_term == (at_60 or at_75)
    # Terminals that stand in for 60 °C may turn out to be marked 75 °C.
    assert found.up_to_term_a == (None if at_75 else {"1": 130, "3": 100}[size])


def test_proposed_sizes_keep_to_parallel_ones() -> None:
    """310.10(G): parallel sets from 1/0 AWG on; one set may be of any size. Table 310.16 at 75 °C: 14 AWG 20 A, 12 AWG
    25 A, 1/0 150 A."""
    for sets, needed_a, size in ((1, 20, "14"), (1, 20.1, "12"), (2, 20, "1/0"), (2, 300, "1/0"), (2, 300.1, "2/0")):
        found = smallest_size(replace(RUN, sets=sets), needed_a)
        assert found is not None
        assert found.size == size


def test_a_short_lower_part() -> None:
    """310.14(A)(2): the lower part of a run is left out up to 10 ft and a tenth of the higher part; the longer one here
    allows exactly 5 ft."""
    for low_ft, state in ((5.0, "pass"), (5.1, "advice")):
        parts = [Part("it", "Roof part", 80.0, low_ft), Part("b", "Indoor part", 100.0, 50.0)]
        found = follow_all(parts)
        low = lower_part(RUN, parts, found["it"])
        assert low is not None
        assert (low.state, low.name, low.others) == (state, "Feeder LP", ("b",))
        assert low.message.startswith("Roof part is good for 80 A, less than the rest of its run, Indoor part.")
        assert lower_part(replace(RUN, subject=Subject("b", "")), parts, found["b"]) is None
    alike = [Part("it", "One", 80.0, 5.0), Part("b", "Other", 80.0, 50.0)]
    assert not follow_all(alike)["it"].lower


# --------------------------------------------------------------------------------------------- boxes, gutters, counts
def test_pull_box_with_several_raceways() -> None:
    """314.28(A)(2): six times the largest, plus the others of the same row. 3, 2 and 1 in: 18 in to 20 in (the one that
    the conductors turn to is not in the row); two raceways: 18 in. Straight, 314.28(A)(1): eight times, 24 in."""
    box = BoxFacts(IT, 2023, (3.0, 2.0, 1.0), "angle", Fact(19.0, need="distance"))
    row = "which raceways enter Feeder LP in one row on one wall"
    for inches, state in ((17.9, "fail"), (18.0, "unknown"), (19.9, "unknown"), (20.0, "pass")):
        assert pull_box(replace(box, distance=Fact(inches))).state == state
    assert pull_box(box).needs == (row,)
    open_box = replace(box, distance=Fact(None, need="distance"))
    assert pull_box(open_box).needs == ("distance", row)
    assert pull_box(replace(open_box, pull="straight")).needs == ("distance",)
    two = replace(open_box, raceways=(3.0, 2.0))
    assert pull_box(two).needs == ("distance",)
    assert pull_box(two).limit == 18.0
    assert pull_box(replace(two, pull="straight")).limit == 24.0
    assert pull_box(replace(two, pull=None)).limit is None
    short = pull_box(replace(two, pull="straight", distance=Fact(23.9)))
    assert (short.state, short.remedy) == ("fail", "Use a box at least 24 in long.")


def test_gutters_of_more_than_thirty_conductors() -> None:
    """366.23(A): more than 30 current-carrying conductors are adjusted for; exactly 30 are not. 366.12(2): 30 ft."""
    facts = GutterFacts(IT, 2023, Fact(36.0), Fact(7.2), Fact(27.0), Fact(30.0), Fact(30.0))  # 20 % and 75 % of 36 in²
    found = gutter(facts)
    assert found is not None
    assert (found.state, found.remedy) == ("pass", "")
    for over, remedy in (
        ({"length": Fact(30.1)}, "Run it as a wireway beyond that length."),
        ({"passing": Fact(7.3)}, "Use a gutter of at least 36.5 in² cross section."),
        ({"spliced": Fact(27.3)}, "Use a gutter of at least 36.4 in² cross section."),
    ):
        found = gutter(replace(facts, **over))
        assert found is not None
        assert (found.state, found.remedy) == ("fail", remedy)
    everything = gutter(replace(facts, length=Fact(31.0), passing=Fact(7.3), spliced=Fact(27.3)))
    assert everything is not None
    assert "run it as a wireway" in everything.remedy
    nothing = Fact(None, need="it")
    unasked = replace(facts, space=nothing, passing=nothing, spliced=nothing, length=nothing, asked=False)
    assert gutter(unasked) is None
    found = gutter(replace(facts, count=Fact(31.0)))
    assert found is not None
    assert found.state == "judge"


def test_an_entered_count_beside_what_is_drawn() -> None:
    """310.15(E): three phase conductors count, a neutral that carries only unbalance does not. An entry below what is
    drawn cannot be right; above it only where everything is drawn."""
    three = Circuit(Subject("c", "Feeder A"), 3, 1, "linear")
    either = Circuit(Subject("d", "Feeder B"), 3, 1, "unknown", needs=("load of Feeder B",))
    facts = CountFacts(IT, 2023, "The raceway", (three,), named=True)
    for entered, state in ((2, "advice"), (3, "pass"), (4, "advice")):
        assert current_carrying(replace(facts, entered=entered)).state == state
    assert current_carrying(replace(facts, entered=4, named=False)).state == "pass"
    assert current_carrying(facts).others == ("c",)
    assert current_carrying(replace(facts, subject=Subject("c", "Feeder A"))).others == ()
    assert not current_carrying(facts).field_checks
    both = replace(facts, circuits=(three, either))
    for entered, state in ((5, "advice"), (6, "pass"), (7, "pass"), (8, "advice")):
        assert current_carrying(replace(both, entered=entered)).state == state
    found = current_carrying(both)
    assert (found.state, found.needs) == ("unknown", ("load of Feeder B",))
    assert [c for c in found.field_checks if "Feeder B" in c]
    assert "6 of 7 entered" not in current_carrying(replace(both, entered=6)).message


def test_what_a_neutral_is_while_the_system_is_not_known() -> None:
    """310.15(E): it depends on the system and the phases; where every possible one gives the same answer, that is it."""
    assert neutral_kind(None, 3, False, "3/0", None) == "unknown"
    assert neutral_kind("480D", 0, False, "3/0", None) == "none"
    assert neutral_kind("480Y/277", 0, False, "3/0", False) == "unknown"
    assert neutral_kind("120-1", 0, False, None, None) == "unknown"


# ------------------------------------------------------------------------------------------------ schedules, devices
def test_devices_of_a_schedule_at_their_edges() -> None:
    """240.4(D): 12 AWG copper at most 20 A, whatever its terminals. 210.20(A): continuous load at 125 %, 16 A on 20 A.
    Table 310.16: 8 AWG copper 40 A and 50 A at 60 and 75 °C (common reading of a schedule that names no material)."""
    assert most_on_wire_a("12", 2023, None).value == 20
    open_ = most_on_wire_a("8", 2023, None)
    assert (open_.value, open_.low, open_.high) == (None, 40, 50)
    assert most_on_wire_a("8", 2023, 75).value == 50
    assert most_on_wire_a("8", 2023, 60).value == 40

    def state(**line: object) -> str:
        facts = CircuitFacts("circuit 1 (Ovens)", 20.0, **line)  # type: ignore[arg-type]
        found = circuits(IT, 2023, 75, [facts])
        assert found is None or (found.remedy != "") == (found.state == "fail")
        return "" if found is None else found.state

    assert state(load_a=16.0, continuous=True) == ""
    assert state(load_a=16.1, continuous=True) == "fail"
    assert state(load_a=16.0) == ""
    assert state(load_a=16.1) == "unknown"
    assert state(load_a=20.0, continuous=False) == ""
    assert state(load_a=20.1, continuous=False) == "fail"
    over = circuits(IT, 2023, 75, [CircuitFacts("circuit 1 (Ovens)", 20.0, load_a=20.1, continuous=False)])
    assert over is not None
    assert over.message.startswith("In Feeder LP, circuit 1 (Ovens) has 20.1 A of load on 20 A")
    open_one = circuits(IT, 2023, 75, [CircuitFacts("circuit 1 (Ovens)", 20.0, load_a=16.1)])
    assert open_one is not None
    assert open_one.message.startswith("Whether devices in Feeder LP fit their circuits is not known yet")
    assert state(wire_size="12") == ""
    assert state(wire_size="14") == "fail"


def test_a_trip_as_large_as_its_frame() -> None:
    """A frame's rating is the most that may be set in it; common practice, no source."""
    frame = Fact(400.0, name="frame")
    assert device_in_frame(IT, 2023, Fact(400.0, name="trip"), frame) is None
    found = device_in_frame(IT, 2023, Fact(400.5, name="trip"), frame)
    assert found is not None
    assert found.state == "fail"


def test_load_off_each_phase() -> None:
    """Amperes over the rating are what has to come off; balancing alone is enough where the mean fits."""

    def remedy(*loads_a: float) -> str:
        loads = {phase: Fact(a) for phase, a in zip("ABC", loads_a, strict=False)}
        found = capacity(CapacityFacts(IT, 2023, "bus", "bus", Fact(200.0), loads))
        assert (found.state == "fail") == (max(loads_a) > 200)
        assert (found.value, found.limit) == (max(loads_a), 200)
        return found.remedy

    assert remedy(200.0, 200.0, 200.0) == ""
    assert "10 A off each phase" in remedy(210.0, 210.0, 210.0)
    assert "10 A off phase A" in remedy(210.0, 190.0, 200.0)
    assert "10 A off phase A and 5 A off phase B" in remedy(210.0, 205.0, 200.0)
    assert "each phase" not in remedy(210.0, 210.0, 200.0)
    assert "5 A off phase A" in remedy(205.0, 210.0, 200.0)  # the fullest phase is what is told
    mean_fits, mean_over = remedy(210.0, 190.0, 200.0), remedy(210.0, 190.0, 200.1)
    assert mean_fits != mean_over  # 600 A on three phases of 200 A is just balanced
    assert remedy(210.0)


# ----------------------------------------------------------------------------------------------- services, buildings
def test_what_may_stand_ahead_of_the_service_disconnect() -> None:
    """230.82: meters, current-limiting devices, surge protection and the like; no load. 230.66, 230.70: a transformer is
    the utility's or makes everything ahead of it something else, which nobody drew."""
    wanted = {"load": "fail", "disconnect": "judge", "transformer": "judge", "meter": "pass"}
    assert {kind: ahead_of_disconnect(IT, 2023, kind).state for kind in wanted} == wanted


def building(feeders: int, disconnects: int, edition: int = 2023, rating_a: float = 100.0) -> BuildingFacts:
    ends = tuple(BuildingDisconnect(Subject(f"d{k}", f"D{k}"), True, Fact(rating_a)) for k in range(disconnects))
    each = [OutsideFeeder(Subject(f"f{k}", f"F{k}"), "msb", "6", False, ends) for k in range(feeders)]
    return BuildingFacts("Shed", edition, tuple(each), Fact(50.0))


def test_a_second_building() -> None:
    """225.33(A): at most six disconnects. 225.30: one feeder, or since 2020 up to six from the same equipment with one
    disconnect each. 225.39(D): 60 A at least, smaller for a few small circuits only (judged)."""
    assert second_building(building(1, 6)).state == "pass"
    seven = second_building(building(1, 7))
    assert (seven.state, seven.value, seven.limit) == ("fail", 7, 6)
    assert "have at most 6 disconnects" in seven.remedy
    assert second_building(building(6, 1)).state == "pass"
    assert second_building(building(2, 1, edition=2017)).state == "judge"
    assert second_building(building(2, 2)).state == "judge"
    assert len(second_building(building(1, 1)).field_checks) == 1
    assert len(second_building(building(2, 1)).field_checks) == 2
    assert second_building(building(1, 1, rating_a=60.0)).state == "pass"
    assert second_building(building(1, 1, rating_a=59.9)).state == "judge"
    small = building(1, 1, rating_a=60.0)
    assert second_building(replace(small, load=Fact(60.0))).state == "pass"
    assert second_building(replace(small, load=Fact(60.1))).state == "fail"


def test_readings_beside_a_bond() -> None:
    """A bond holds the neutral at ground: next to no voltage (0.2 V) between them while it carries current (5 A and
    more). The two figures are practice, from memory."""
    main = Subject("m", "Main")
    facts = BondFacts(IT, 2023, False, main, Subject("s", "Service 1"), neutral_ground_v=0.0)
    for volts, amps, points_to_a_bond, words in (
        (0.0, None, False, False), (None, 20.0, False, False), (0.0, 4.9, False, False), (0.0, 5.0, True, True),
        (0.2, 20.0, True, True), (0.21, 20.0, False, True), (3.0, 20.0, False, True),
    ):  # fmt: skip
        found = reading_words(replace(facts, neutral_ground_v=volts, neutral_a=amps))
        assert (found[0], found[1] != "") == (points_to_a_bond, words)


# ----------------------------------------------------------------------------------------- raceways, outside taps
def test_flexible_raceways_that_may_ground() -> None:
    """250.118(A)(5): flexible metal conduit up to 1-1/4 in, 20 A and 6 ft (from memory)."""
    facts = RacewayGroundFacts(IT, 2023, "FMC", "1-1/4", Fact(6.0), Subject("m", "Main"), Fact(20.0), "250.118")
    assert raceway_grounding(facts).state == "advice"
    for off in ({"trade_size": "1-1/2"}, {"length": Fact(6.1)}, {"rating": Fact(25.0)}):
        assert raceway_grounding(replace(facts, **off)).state == "fail"


def test_flexible_raceways_of_unknown_trade_size() -> None:
    """250.118(A)(6): liquidtight flexible metal conduit of 3/8 and 1/2 in grounds behind 20 A, of 3/4 to 1-1/4 in behind
    60 A (from memory)."""
    facts = RacewayGroundFacts(IT, 2023, "LFMC", None, Fact(6.0), Subject("m", "Main"), Fact(20.0), "250.118")
    for rating_a, device_open in ((20.0, False), (30.0, True), (60.0, True)):
        found = raceway_grounding(replace(facts, rating=Fact(rating_a)))
        assert (found.state, f"may ground it behind Main ({rating_a:g} A) is not known" in " ".join(
            str(line.what) for line in found.work
        )) == ("unknown", device_open)  # fmt: skip
    assert raceway_grounding(replace(facts, rating=Fact(61.0))).state == "fail"
    assert raceway_grounding(replace(facts, trade_size="1/2", rating=Fact(30.0))).state == "fail"
    assert raceway_grounding(replace(facts, trade_size="3/4", rating=Fact(60.0))).state == "advice"


def test_a_part_follows_the_least_of_the_higher_ones() -> None:
    """310.14(A)(2): of several higher parts the lowest of them is what a short one follows."""
    parts = [
        Part("it", "Roof part", 80.0, 5.0), Part("b", "Shaft", 100.0, 60.0), Part("c", "Hall", 120.0, 60.0),
    ]  # fmt: skip
    assert follow_all(parts)["it"].leader == "b"


def test_where_an_outside_tap_ends() -> None:
    """240.21(B)(5): the disconnect is outdoors or inside nearest the point of entrance."""
    end = TapEnd(Subject("d", "Main 2"), "device", Fact(100.0), stands="outdoors", accessible=True)
    tap = TapFacts(RUN, Subject("m", "Main"), Fact(400.0), Fact(80.0), Fact(60.0), (end,), outdoors=True)

    def said(stands: str, indoor: float | None = None) -> dict[str, str]:
        facts = replace(tap, ends=(replace(end, stands=stands),), indoor=Fact(indoor))
        return {c.message: c.state for c in place_conditions(facts)}

    assert said("outdoors")["it ends at Main 2, outdoors"] == "pass"
    assert said("inside nearest the entrance")["it ends at Main 2, inside nearest the point of entrance"] == "pass"
    assert "fail" in said("inside elsewhere").values()
    assert "fail" in said("outdoors", 3.0).values()
    assert "fail" not in said("inside nearest the entrance", 3.0).values()
    assert "fail" not in said("outdoors", 0.0).values()
