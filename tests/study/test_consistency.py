"""What nothing feeds, and supplies of different systems on one device. Common practice, no source; 110.4 from memory."""

from __future__ import annotations

import pytest

import oneline
from oneline.rules.verdict import Verdict


def found(b: oneline.Builder, rule: str) -> list[Verdict]:
    return [v for v in oneline.check(b.drawing).verdicts if v.rule == rule]


def two_supplies(generator_system: str | None) -> oneline.Builder:
    b = oneline.Builder("Weir house")
    utility = b.service("Utility", system="208Y/120", fault_ka=10)
    generator = b.generator("Generator", system=generator_system, kva=45)
    switch = b.transfer("Transfer switch", rating_a=200)
    panel = b.bus("Panel", rating_a=200)
    b.run(utility, switch.at("normal"), size="3/0", material="copper")
    b.run(generator, switch.at("alternate"), size="1/0", material="copper")
    b.run(switch.at("load"), panel, size="3/0", material="copper")
    return b


@pytest.mark.parametrize(
    ("system", "states"), [("208Y/120", []), ("480Y/277", ["fail"]), ("120/240-1", ["fail"]), (None, ["unknown"])]
)
def test_both_sides_of_a_transfer_switch_are_one_system(system, states):
    assert [v.state for v in found(two_supplies(system), "SYS-V")] == states


def test_an_unknown_system_is_named_as_the_missing_fact():
    (verdict,) = found(two_supplies(None), "SYS-V")
    assert verdict.needs == ("system of Generator",)


def test_a_transformer_ahead_of_the_switch_brings_the_right_system():
    b = oneline.Builder("Weir house")
    utility = b.service("Utility", system="480Y/277", fault_ka=10)
    step = b.transformer("T1", kva=75, primary_system="480Y/277", secondary_system="208Y/120")
    generator = b.generator("Generator", system="208Y/120", kva=45)
    switch = b.transfer("Transfer switch", rating_a=200)
    b.run(utility, step.at("line"))
    b.run(step.at("load"), switch.at("normal"))
    b.run(generator, switch.at("alternate"))
    assert found(b, "SYS-V") == []


def test_what_nothing_feeds_is_said_once_for_each_piece():
    b = two_supplies("208Y/120")
    assert found(b, "NET-LOOSE") == []
    lone = b.bus("Lone panel", rating_a=100)
    other, breaker = b.bus("Far panel", rating_a=100), b.disconnect("Far breaker", trip_a=100)
    b.joint(breaker.at("load"), other)
    verdicts = {v.subject: v for v in found(b, "NET-LOOSE")}
    assert set(verdicts) == {lone.id, other.id}
    assert "is not connected to anything" in verdicts[lone.id].message
    assert "Far breaker" in verdicts[other.id].message
    assert all(v.state == "unknown" and v.needs for v in verdicts.values())


def test_the_open_end_of_a_fed_device_is_no_loose_piece():
    b = two_supplies("208Y/120")
    spare = b.disconnect("Spare breaker", trip_a=60)
    b.joint("Panel", spare)
    assert found(b, "NET-LOOSE") == []


def test_an_array_alone_is_its_own_source():
    b = two_supplies("208Y/120")
    b.solar("Array", output_a=20)
    assert found(b, "NET-LOOSE") == []


@pytest.mark.parametrize(
    ("poles", "phases", "state"),
    [(3, "C", "unknown"), (2, "ABC", "unknown"), (1, "AB", "unknown"), (3, "ABC", None), (4, "ABC", None), (2, "AB", None),
     (1, "B", None), (None, "B", None), (3, None, None)],
)  # fmt: skip
def test_as_many_poles_as_phases(poles, phases, state):
    """Each pole of a device opens one phase; a fourth one the neutral (common practice, no source)."""
    b = oneline.Builder("T")
    service = b.service("Service", system="208Y/120")
    b.joint(service, b.disconnect("Main", poles=poles, phases=phases))
    assert [v.state for v in found(b, "NET-POLES")] == ([] if state is None else [state])


@pytest.mark.parametrize(
    ("form", "frame_a", "trip_a", "state"),
    [("fused switch", 200, 225, "fail"), ("fused switch", 200, 200, None), ("breaker", 100, 225, "fail"),
     ("breaker", 225, 100, None), ("fused switch", None, 225, None), ("fused switch", 200, None, None)],
)  # fmt: skip
def test_no_device_is_larger_than_its_frame(form, frame_a, trip_a, state):
    """Fuses of 225 A fit no switch of 200 A, and a trip is never larger than its frame (110.3(B); common practice)."""
    b = oneline.Builder("T")
    service = b.service("Service", system="208Y/120")
    b.joint(service, b.disconnect("Main", form=form, rating_a=frame_a, trip_a=trip_a))
    hits = found(b, "DEV-1")
    assert [v.state for v in hits] == ([] if state is None else [state])
    if hits:
        assert hits[0].section == "110.3(B)"
        (remedy, *_) = oneline.remedies(b.drawing, hits[0]).found
        after = oneline.with_remedy(b.drawing, remedy)
        assert [v for v in oneline.check(after).verdicts if v.rule == "DEV-1"] == []


def test_a_frame_smaller_than_its_trip_bounds_nothing():
    """An adjustable breaker of 400 A entered with a frame of 100 A: 3 AWG (100 A, Table 310.16 at 75 degrees C) behind it
    is not protected by that frame."""
    b = oneline.Builder("T")
    service = b.service("Service", system="208Y/120", fault_ka=10)
    main = b.disconnect("Main", form="breaker", rating_a=100, trip_a=400, adjustable=True, poles=3)
    b.joint(service, main)
    panel = b.bus("Panel", rating_a=100)
    b.run(main, panel, name="F", size="3", material="copper", insulation="THWN-2", length_ft=60, raceway="EMT",
          ambient_c=30, current_carrying=3, wet=False, terminal_c=75)  # fmt: skip
    about = [v for v in oneline.check(b.drawing).verdicts if v.name == "F" and v.rule in ("OCP-4B", "TAP-0")]
    assert about
    assert all(v.state in ("fail", "unknown") for v in about)
