"""Neutral bonds on the load side: readings as evidence, meters beside the service disconnect, frames of old ranges and
dryers (250.142(B) and its exceptions, 250.140; from memory), through drawings."""

from __future__ import annotations

from typing import Any

import pytest

from oneline.model import Reading, VoltageReading
from oneline.study import grounding


def sub_panel(service: Any, bonded: bool | None, volts: float | None, neutral_a: float | None) -> Any:
    s = service("208Y/120", 400, 400, neutral_bonded=True)
    s.put("disconnect", "feeder", trip_a=100, rating_a=100)
    s.joint("MDP", "feeder")
    readings = () if neutral_a is None else (Reading(when="Sat 10:00", n_a=neutral_a),)
    voltages = () if volts is None else (VoltageReading(when="Sat 10:00", ng_v=volts),)
    s.put("bus", "LP", rating_a=100, neutral_bonded=bonded, readings=readings, voltages=voltages)
    s.run("feeder", "LP", size="1", material="copper", length_ft=50)
    return s.context()


def found(ctx: Any, item: str = "LP") -> Any:
    return next(v for v in grounding.verdicts(ctx) if v.rule == "GND-5" and v.subject == item)


@pytest.mark.parametrize(
    ("bonded", "volts", "neutral_a", "state", "words"),
    [
        # Common practice, no source: with the neutral loaded, no voltage between neutral and ground points to a bond.
        (None, 0.0, 40.0, "unknown", "points to a bond"),
        (None, 0.2, 5.0, "unknown", "points to a bond"),
        (None, 0.21, 5.0, "unknown", "speaks against"),
        (None, 1.8, 40.0, "unknown", "speaks against"),
        # Too little current in the neutral, or none read: it tells nothing.
        (None, 0.0, 4.9, "unknown", ""), (None, 0.0, None, "unknown", ""), (None, None, 40.0, "unknown", ""),
        (False, 0.0, 40.0, "judge", "entered without a neutral bond"),
        (False, 1.8, 40.0, "pass", ""), (False, None, None, "pass", ""),
        (True, 1.8, 40.0, "fail", "bonded to the enclosure"),
    ],
)  # fmt: skip
def test_readings_between_neutral_and_ground(
    service: Any, bonded: bool | None, volts: float | None, neutral_a: float | None, state: str, words: str
) -> None:
    verdict = found(sub_panel(service, bonded, volts, neutral_a))
    assert verdict.state == state
    assert words in verdict.message
    if not words:
        assert "between neutral and ground with" not in verdict.message
    if state in ("judge", "fail"):
        assert any("Lift the neutral" in check for check in verdict.field_checks)


@pytest.mark.parametrize(("fitted", "state"), [(None, "judge"), (False, "judge"), (True, "fail")])
def test_meters_behind_the_service_disconnect(service: Any, fitted: bool | None, state: str) -> None:
    """250.142(B), exception for meter enclosures: not with ground-fault protection of equipment on the service."""
    s = service("480Y/277", 1_000, 1_000)
    s.put(
        "disconnect",
        "Main",
        trip_a=1_000,
        rating_a=1_000,
        service_disconnect=True,
        gfp_fitted=fitted,
        neutral_bonded=True,
    )
    s.put("bus", "Meters", form="meter center", rating_a=800, neutral_bonded=True)
    s.run("MDP", "Meters", size="500", sets=2, material="copper", length_ft=5)
    verdict = found(s.context(), "Meters")
    assert verdict.state == state
    assert (verdict.needs == ("ground-fault protection of Main: present or not",)) == (fitted is None)


@pytest.mark.parametrize(
    ("load_class", "status", "run_status", "state"),
    [
        ("dwelling dryer", "existing", "existing", "judge"), ("dwelling cooking", "existing", "existing", "judge"),
        ("dwelling dryer", "new", "new", "fail"), ("dwelling dryer", "existing", "new", "fail"),
        ("water heater", "existing", "existing", "fail"), ("dwelling cooking", "remove", "existing", None),
    ],
)  # fmt: skip
def test_frames_grounded_by_the_neutral(
    service: Any, load_class: str, status: str, run_status: str, state: str | None
) -> None:
    s = service("120/240-1", 100, 100)
    s.put("load", "Appliance", load_class=load_class, va=5_000, phases="AB", status=status, neutral_bonded=True)
    s.run("MDP", "Appliance", size="10", material="copper", length_ft=30, status=run_status)
    verdicts = [v for v in grounding.verdicts(s.context()) if v.rule == "GND-5" and v.subject == "Appliance"]
    assert [v.state for v in verdicts] == ([] if state is None else [state])
    assert all("250.140" in v.section for v in verdicts)


@pytest.mark.parametrize("bonded", [None, False])
def test_frames_with_a_ground_of_their_own(service: Any, bonded: bool | None) -> None:
    s = service("120/240-1", 100, 100)
    s.put("load", "Appliance", load_class="dwelling dryer", va=5_000, phases="AB", neutral_bonded=bonded)
    s.run("MDP", "Appliance")
    assert not [v for v in grounding.verdicts(s.context()) if v.rule == "GND-5" and v.subject == "Appliance"]


@pytest.mark.parametrize(("sets", "in_one", "paragraph"), [(1, 3, "(C)(1)"), (2, 6, "(C)(1)"), (2, 3, "(C)(2)")])
def test_paragraph_of_a_supply_side_bonding_jumper(service: Any, sets: int, in_one: int | None, paragraph: str) -> None:
    """250.102(C)(1): conductors of one raceway; (C)(2): parallel conductors in two or more raceways."""
    s = service("480Y/277", 400, 400)
    s.put("disconnect", "primary", trip_a=150)
    s.put(
        "transformer", "T1", kva=112.5, primary_system="480Y/277", secondary_system="208Y/120", connection="delta-wye"
    )
    s.put("disconnect", "secondary", trip_a=400)
    s.chain("MDP", "primary", "T1")
    s.run("T1", "secondary", "XO", size="3/0", sets=sets, material="copper", egc_size="2", egc_material="copper",
          current_carrying=in_one, raceway="EMT", length_ft=8)  # fmt: skip
    verdict = next(v for v in grounding.verdicts(s.context()) if v.rule == "GND-4")
    assert verdict.state != "unknown"
    assert paragraph in verdict.section
