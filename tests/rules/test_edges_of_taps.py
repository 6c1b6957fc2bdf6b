"""Secondary conductors, remedies of taps, systems without a neutral and measured voltages at their exact edges.

Figures are those of the sections named, restated in trade literature; "practice" and "from memory" where so.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from oneline.rules.ampacity import RunFacts
from oneline.rules.common import Fact, Subject
from oneline.rules.secondary_taps import SecondaryFacts, secondary_by_primary
from oneline.rules.services import DisconnectFacts, Enclosure, number_of_disconnects
from oneline.rules.special_systems import (
    PoleFacts,
    UngroundedFacts,
    first_ground_fault,
    ground_detectors,
    single_pole_duty,
    without_neutral,
)
from oneline.rules.system_identity import identify, measured_system
from oneline.rules.tap_choice import conductor_choices, protected_remedies, tap_remedies
from oneline.rules.tap_conditions import TapEnd, TapFacts, end_rating_condition, leaving_condition, raceway_condition
from oneline.rules.taps import fuses_in_larger_switch

IT = Subject("it", "Tap 1")
PANEL = Subject("p", "Panel 1")
RUN = RunFacts(IT, 2023, "3/0", "copper", "THHN/THWN-2", 1, False, 30, 3, 3, "EMT", 9, 75)


def end(name: str, rating_a: float | None) -> TapEnd:
    return TapEnd(Subject(name, name), "device", Fact(rating_a, need=f"rating of {name}"))


def tap(ahead_a: float = 600.0, load_a: float = 100.0, length_ft: float = 9.0, **more: object) -> TapFacts:
    values: dict = {"ends": (end("Main 2", 200.0),), "leaves": False} | more
    return TapFacts(RUN, Subject("m", "Main"), Fact(ahead_a), Fact(load_a), Fact(length_ft), **values)


# ----------------------------------------------------------------------------------------------------- secondaries
@pytest.mark.parametrize(
    ("connection", "phases", "wires", "state"),
    [
        (None, 1, 2, "pass"), (None, 1, 3, "not_applicable"), ("delta-delta", 3, 3, "pass"),
        ("delta-delta", 3, 4, "not_applicable"), ("delta-wye", 3, 4, "not_applicable"), (None, 3, 3, "unknown"),
        (None, 1, None, "unknown"), ("delta-wye", 3, 3, "not_applicable"),
    ],
)  # fmt: skip
def test_whose_primary_device_protects_the_secondary(
    connection: str | None, phases: int, wires: int | None, state: str
) -> None:
    """240.21(C)(1): two-wire single-phase secondaries and three-wire delta-delta ones, no others."""
    facts = SecondaryFacts(tap(200.0), Subject("t", "Transformer 1"), connection, phases, wires, "pass")
    found = secondary_by_primary(facts).verdict
    assert found.state == state
    if state == "pass":
        # The primary device through the ratio is what the conductors must be good for: 200 A here, or 400 A.
        smaller = secondary_by_primary(replace(facts, tap=tap(200.5))).verdict
        assert smaller.state == "fail"
        for own, wanted in (("fail", "fail"), ("unknown", "unknown")):
            tried = secondary_by_primary(replace(facts, primary_complies=own, primary_needs=("rating of the primary",)))
            assert tried.verdict.state == wanted
            last = tried.conditions[-1]
            assert (last.cure != "") == (own == "fail")
            assert ("smaller device" in last.must) == (own == "fail")


# -------------------------------------------------------------------------------------------------------- remedies
def test_conductors_offered_are_larger_and_not_too_large() -> None:
    """More copper than now, up to 750 kcmil (common practice), then more sets of 1/0 and larger (310.10(G))."""
    sizes = [(r.sets, r.size) for r in conductor_choices(replace(RUN, size="500"))]
    assert sizes[0] == (1, "600")
    assert (1, "750") in sizes
    assert (2, "250") not in sizes  # as much copper as now
    assert (2, "300") in sizes
    assert max(sets or 0 for sets, _ in sizes) == 4
    assert not [size for sets, size in sizes if sets == 1 and size not in ("600", "700", "750")]


def test_ways_out_of_the_tap_rules() -> None:
    """Table 310.16, copper at 75 °C: 3/0 200 A, 700 kcmil 460 A and so 500 A by 240.4(B), two sets of 750 kcmil 950 A."""
    found = protected_remedies(tap(500.0, load_a=200.0))
    assert [(r.size, r.ahead_a) for r in found] == [("700", None), (None, 200)]
    two = replace(tap(950.0, load_a=200.0), run=replace(RUN, sets=2))
    assert [(r.size, r.sets, r.ahead_a) for r in protected_remedies(two)] == [("750", 2, None), (None, None, 400)]
    assert [(r.size, r.ahead_a) for r in protected_remedies(tap(501.0, load_a=200.5))] == []
    assert [r.text for r in protected_remedies(tap(600.0, load_a=200.0, direct=True))] == [
        "change Main to at most 200 A"
    ]


def test_the_remedies_with_the_fewest_changes() -> None:
    """240.21(B)(1): 3/0 (200 A) into a 225 A main fails by its end; another main or larger conductors cure it, each alone."""
    facts = tap(600.0, load_a=200.0, ends=(end("Main 2", 225.0),))
    ten = [(r.size, r.device_a, r.length_ft) for r in tap_remedies(facts) if r.rule == "TAP-10"]
    assert set(ten) == {("4/0", None, None), (None, 200, None)}
    assert (None, 200, None) not in [
        (r.size, r.device_a, r.length_ft) for r in tap_remedies(replace(facts, load=Fact(200.1))) if r.rule == "TAP-10"
    ]


def test_ends_of_a_tap() -> None:
    """240.21(B)(1)(1)b: the rating of the equipment that holds the devices, or of the device; 3/0 is good for 200 A."""
    several = (end("Main 2", 100.0), end("Main 3", 100.0))
    board = Subject("b", "Board 1")

    def state(bus_a: float, *ends: TapEnd, scheduled: bool = False) -> str:
        facts = tap(ends=ends, equipment=board, equipment_rating=Fact(bus_a), scheduled=scheduled)
        return end_rating_condition(facts).state

    assert state(200.0, *several) == "pass"
    assert state(225.0, *several) == "judge"  # together 200 A, in a bus of 225 A
    assert state(225.0, *several, end("Main 4", 1.0)) == "judge"
    assert state(225.0, end("Main 2", 201.0), end("Main 3", 60.0)) == "fail"
    assert state(225.0, *several, scheduled=True) == "fail"
    assert state(100.0, end("Main 2", 200.0)) == "pass"  # one device: its rating decides
    alone = tap(ends=several)
    assert end_rating_condition(alone).state == "pass"
    assert end_rating_condition(replace(alone, ends=(*several, end("Main 4", 1.0)))).state == "judge"
    assert end_rating_condition(replace(alone, ends=(*several, end("Main 4", None)))).state == "unknown"


def test_a_tap_that_may_leave_its_enclosure() -> None:
    """240.21(B)(1)(4): a tenth of the device ahead where it leaves; 200 A carry 2,000 A."""
    for ahead_a, leaves, state in (
        (2000.0, None, "pass"), (2001.0, None, "unknown"), (2001.0, True, "fail"), (2001.0, False, "pass"),
        (2000.0, True, "pass"),
    ):  # fmt: skip
        found = leaving_condition(tap(ahead_a, leaves=leaves), "tap_10ft_fraction")
        assert found.state == state
        if state == "unknown":
            assert found.must == "stay in the enclosure it starts in"
            assert found.open == ("whether it does",)


def test_fuses_in_a_switch_that_is_rated_higher() -> None:
    """Whether fuses or the switch around them are "the device" of the 10-ft rule is for the authority, where they differ."""
    for holder_a, asked in ((200.0, False), (201.0, True)):
        fuses = replace(end("Main 2", 150.0), device_kind="fuse", holder=Fact(holder_a))
        assert (fuses_in_larger_switch(tap(ends=(fuses,))) is not None) == asked


def test_what_a_tap_runs_in() -> None:
    """240.21(B)(1)(3): enclosed in a raceway."""
    said = {
        k: raceway_condition(replace(tap(), run=replace(RUN, raceway=k))) for k in ("EMT", "within enclosure", "open")
    }
    assert {k: (c.state, c.message) for k, c in said.items()} == {
        "EMT": ("pass", "it is in EMT"), "within enclosure": ("pass", "it is inside an enclosure"),
        "open": ("fail", "it is not in a raceway"),
    }  # fmt: skip


# -------------------------------------------------------------------------------------------------------- services
@pytest.mark.parametrize(
    ("count", "new", "edition", "words"),
    [(2, 1, 2023, "one of them new"), (3, 2, 2023, "2 of them new"), (2, 2, 2020, "all of them new")],
)
def test_how_many_of_several_disconnects_are_new(count: int, new: int, edition: int, words: str) -> None:
    """230.71(B): what is new decides; the exception for existing equipment asks for the new one or ones."""
    names = tuple(f"D{k}" for k in range(count))
    board = (Enclosure("Board 1", "panelboard", count, new),)
    found = number_of_disconnects(DisconnectFacts(Subject("s", "Service 1"), edition, names, names, board))
    assert words in found.message
    if edition == 2023:
        assert ("covers the new one." in found.message) == (new == 1)
        assert ("covers the new ones." in found.message) == (new > 1)


# ------------------------------------------------------------------------------------------ systems without a neutral
def test_one_pole_alone() -> None:
    """240.85: 87 % of the interrupting rating is the most to count on for one pole. Physics: a fault between two phases is
    0.866 of a three-phase one, so 10,000 A of rating carry 8,700 A of 10,045.9 A."""
    facts = PoleFacts(PANEL, 2023, "corner", Fact(10_045.0), Fact(10_000.0), Fact(None))
    assert (single_pole_duty(facts).state, single_pole_duty(facts).remedy) == ("judge", "")
    over = single_pole_duty(replace(facts, duty=Fact(10_047.0)))
    assert (over.state, over.remedy != "") == ("fail", True)
    by_maker = replace(facts, one_pole=Fact(8_700.0))
    assert (single_pole_duty(by_maker).state, single_pole_duty(by_maker).remedy) == ("pass", "")


def test_words_for_systems_without_a_neutral() -> None:
    corner = without_neutral(PANEL, 2023, ["circuit 1"], "corner", "CG-1")
    floating = without_neutral(PANEL, 2023, ["Panel 1"], "ungrounded", "UG-1")
    assert corner is not None
    assert floating is not None
    assert corner.message == "Circuit 1 has one pole on Panel 1, a corner-grounded system without a neutral."
    assert floating.message == "Panel 1 has one pole, an ungrounded system without a neutral."
    assert without_neutral(PANEL, 2023, [], "corner", "CG-1") is None


def test_ground_detectors_of_an_ungrounded_system() -> None:
    """250.21(B): ungrounded systems of 120 V to 1,000 V have ground detectors; 250.21(C): marked equipment."""
    facts = UngroundedFacts(PANEL, 2023, "480D", ((PANEL, True),), ((PANEL, True),))
    assert ground_detectors(facts).state == "pass"
    assert ground_detectors(replace(facts, detectors=((PANEL, False),))).state == "fail"
    assert ground_detectors(replace(facts, detectors=((PANEL, None),))).state == "unknown"
    one = ground_detectors(replace(facts, marked=((PANEL, False),)))
    two = ground_detectors(replace(facts, marked=((PANEL, False), (IT, False))))
    assert (one.state, "Panel 1 is not marked" in one.message) == ("fail", True)
    assert "Panel 1 and Tap 1 are not marked" in two.message
    assert ground_detectors(replace(facts, marked=((PANEL, None),))).state == "unknown"
    healthy = first_ground_fault(replace(facts, lamps=((PANEL, "all alike"),)))
    assert "The detector at Panel 1 shows no phase at ground." in healthy.message
    assert "The detector" not in first_ground_fault(facts).message
    dark = first_ground_fault(replace(facts, lamps=((PANEL, "A dark"),)))
    assert (dark.state, dark.message.startswith("Phase A ")) == ("fail", True)


# ---------------------------------------------------------------------------------------------------- measured voltages
def test_readings_that_fit_nothing_or_one_thing() -> None:
    """Phasors: a wye of 208 V reads 120 V to neutral. Tolerances of 10 %, 8 % and 5 % are practice, from memory."""
    wye = {"ab_v": 208.0, "bc_v": 208.0, "ca_v": 208.0, "an_v": 120.0, "bn_v": 120.0, "cn_v": 120.0}
    assert identify(wye).codes == ("208Y/120",)
    assert identify({}).codes == ()
    assert identify({"ab_v": 0.0}).codes == ()
    assert identify({"ab_v": 0.0, "an_v": 0.0}).codes == ()
    assert "208Y/120" in identify({name: v * 1.09 for name, v in wye.items()}).codes
    assert "208Y/120" not in identify({name: v * 1.11 for name, v in wye.items()}).codes
    assert "208Y/120" not in identify({**wye, "bc_v": 230.0}).codes
    assert identify({**wye, "an_v": 60.0}).trouble == "open neutral"
    # One phase of an ungrounded system at ground: the others read the line voltage, this one less than a twentieth.
    delta = {"ab_v": 480.0, "bc_v": 480.0, "ca_v": 480.0, "ag_v": 0.0, "bg_v": 480.0, "cg_v": 480.0}
    found = identify(delta)
    assert (found.phase, "480D" in found.codes) == ("A", True)
    assert identify({"ab_v": 480.0, "ag_v": 0.0}).phase == ""
    # To ground no more than the line voltage, and two of them together no less.
    assert "480D" not in identify({**delta, "bg_v": 600.0}).codes
    assert "480D" not in identify({"ab_v": 480.0, "bc_v": 480.0, "ca_v": 480.0, "ag_v": 150.0, "bg_v": 150.0}).codes


def test_two_legs_read_like_two_of_three() -> None:
    """120/240 V single-phase with all three voltages measured leaves only whether there is a third phase."""
    read = {"ab_v": 240.0, "an_v": 120.0, "bn_v": 120.0}
    found = measured_system(PANEL, 2023, "120/240-1", "", read)
    assert found is not None
    assert (found.state, len(found.field_checks)) == ("pass", 1)
    part = measured_system(PANEL, 2023, "120/240-1", "", {"ab_v": 240.0})
    assert part is not None
    assert part.state == "unknown"
    wye = {"ab_v": 208.0, "bc_v": 208.0, "ca_v": 208.0, "an_v": 120.0, "bn_v": 120.0, "cn_v": 120.0}
    settled = measured_system(PANEL, 2023, None, "", wye)
    assert settled is not None
    assert (settled.state, settled.message.endswith("No system is entered.")) == ("advice", True)
    unsettled = measured_system(PANEL, 2023, None, "", {"ab_v": 240.0})
    assert unsettled is not None
    assert (unsettled.state, unsettled.message.endswith("No system is entered.")) == ("unknown", False)
