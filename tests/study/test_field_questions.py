"""Questions that only the field answers, and exceptions: place of service disconnects, dedicated space, ground faults,
engineered series ratings, room to bend conductors. Through drawings; from memory where no source is named."""

from __future__ import annotations

from typing import Any

import pytest

from oneline.study import ratings, service_protection, services, taps, working_space


def service_with(sketch: Any, system: str = "480Y/277", **main: Any) -> Any:
    s = sketch()
    s.put("service", "Utility", system=system, fault_ka=30)
    s.put("disconnect", "Main", **{"trip_a": 1_200, "rating_a": 1_200, "service_disconnect": True, **main})
    s.put("bus", "MDP", rating_a=1_200)
    s.chain("Utility", "Main", "MDP")
    return s


def one(found: Any, rule: str, subject: str) -> Any:
    return next(v for v in found if v.rule == rule and v.subject == subject)


# ------------------------------------------------------------------------- SVC-3, 230.66, 230.70(A), 230.72(A)
@pytest.mark.parametrize(
    ("main", "state", "words"),
    [
        ({"status": "new", "service_rated": True, "stands": "outdoors"}, "pass", "stands where"),
        ({"status": "new", "service_rated": True, "stands": "inside nearest the entrance"}, "pass", "stands where"),
        ({"status": "new", "service_rated": True, "stands": "inside elsewhere"}, "fail", "away from where"),
        ({"status": "new", "service_rated": True}, "unknown", "stands where a service disconnect may is not known"),
        ({"status": "new", "service_rated": True, "stands": "outdoors", "readily_accessible": False}, "fail", "accessible"),
        ({"status": "existing", "service_rated": True}, "pass", "is marked suitable"),
        ({"status": "existing", "service_rated": True, "stands": "inside elsewhere"}, "judge", "Existing work"),
        ({"status": "existing"}, "unknown", "marked suitable"),
        ({"status": "new", "service_rated": False, "stands": "outdoors"}, "fail", "not marked"),
    ],
)  # fmt: skip
def test_where_a_service_disconnect_stands(sketch: Any, main: dict[str, Any], state: str, words: str) -> None:
    found = [v for v in services.verdicts(service_with(sketch, **main).context()) if v.rule == "SVC-3"]
    assert [v.state for v in found] == [state]
    assert words in found[0].message
    if "stands" in main and main.get("service_rated"):
        assert "230.70(A)" in found[0].section


@pytest.mark.parametrize(
    ("rooms", "apart"),
    [
        (("Electrical room", "electrical  room"), False), (("Electrical room", None), False), ((None, None), False),
        (("Electrical room", "Boiler room"), True),
    ],
)  # fmt: skip
def test_service_disconnects_in_different_rooms(sketch: Any, rooms: tuple[str | None, str | None], apart: bool) -> None:
    s = service_with(sketch, location=rooms[0])
    s.put("disconnect", "Main 2", trip_a=200, rating_a=200, service_disconnect=True, location=rooms[1])
    s.joint("Utility", "Main 2")
    found = [v for v in services.verdicts(s.context()) if v.rule == "SVC-3" and v.subject == "Utility"]
    assert [v.state for v in found] == (["judge"] if apart else [])
    assert all("230.72(A)" in v.section for v in found)


# ------------------------------------------------------------------------------------------ SVC-7, exceptions
@pytest.mark.parametrize(
    ("values", "state"),
    [
        ({}, "unknown"), ({"gfp_fitted": False}, "fail"), ({"gfp_exempt": "fire pump"}, "not_applicable"),
        ({"gfp_exempt": "fire pump", "gfp_fitted": False}, "not_applicable"),
        ({"gfp_exempt": "continuous industrial process", "gfp_fitted": False}, "judge"),
        ({"gfp_exempt": "emergency or legally required", "gfp_fitted": False}, "judge"),
        ({"gfp_exempt": "none", "gfp_fitted": False}, "fail"),
        # What is fitted is judged by its settings, exempt or not.
        ({"gfp_exempt": "continuous industrial process", "gfp_fitted": True, "gfp_pickup_a": 1_300}, "fail"),
    ],
)  # fmt: skip
def test_exempt_from_ground_fault_protection(sketch: Any, values: dict[str, Any], state: str) -> None:
    """230.95, exception for continuous industrial processes; 240.13(3) fire pumps; 700.31 indication instead."""
    ctx = service_with(sketch, status="new", **values).context()
    assert one(service_protection.verdicts(ctx), "SVC-7", "Main").state == state


@pytest.mark.parametrize(("reason", "state"), [("fire pump", "not_applicable"), ("capacity", "fail"), (None, "fail")])
def test_service_of_a_fire_pump(sketch: Any, reason: str | None, state: str) -> None:
    s = service_with(sketch, status="new", gfp_fitted=False)
    s.put("service", "Utility", system="480Y/277", reason=reason)
    assert one(service_protection.verdicts(s.context()), "SVC-7", "Main").state == state


# ------------------------------------------------------------------------------------------- SVC-10, 110.26(E)
MEASURED = {
    "work_depth_ft": 5.0, "work_width_ft": 4.0, "work_height_ft": 7.0, "work_opposite": "nothing live or grounded",
    "equipment_width_ft": 3.0, "equipment_height_ft": 6.0, "panic_hardware": True,
}  # fmt: skip


@pytest.mark.parametrize(
    ("status", "clear", "state"),
    [("new", True, "pass"), ("new", False, "fail"), ("new", None, "unknown"), ("existing", None, "pass"),
     ("existing", False, "judge"), ("existing", True, "pass")],
)  # fmt: skip
def test_dedicated_space(sketch: Any, status: str, clear: bool | None, state: str) -> None:
    s = service_with(sketch)
    s.put("bus", "LP", rating_a=225, status=status, dedicated_clear=clear, **MEASURED)
    s.run("MDP", "LP")
    found = [v for v in working_space.verdicts(s.context()) if v.rule == "SVC-10" and v.subject == "LP"]
    assert [v.state for v in found] == [state]
    if state == "unknown":
        assert found[0].needs == (
            "whether the space above LP, 6 ft or to the ceiling, and below it is free of foreign piping and ducts",
        )


@pytest.mark.parametrize("status", ["new", "existing"])
def test_one_question_while_nothing_is_measured(sketch: Any, status: str) -> None:
    s = service_with(sketch)
    s.put("bus", "LP", rating_a=225, status=status)
    s.run("MDP", "LP")
    found = [v for v in working_space.verdicts(s.context()) if v.rule == "SVC-10" and v.subject == "LP"]
    assert len(found) == (1 if status == "new" else 0)


# ------------------------------------------------------------------------------------------------- FLT-4, 240.86(A)
@pytest.mark.parametrize(
    ("values", "state", "words"),
    [
        ({"series_by": "engineered for existing equipment"}, "judge", "engineered"),
        ({"series_by": "engineered for existing equipment", "status": "new"}, "fail", "only existing installations"),
        ({"series_by": "engineered for existing equipment", "series_rating_ka": 22}, "fail", "series rating of 22"),
        ({"series_by": "tested combination on the label"}, "pass", "series rating"), ({}, "pass", "series rating"),
    ],
)  # fmt: skip
def test_engineered_series_rating(sketch: Any, values: dict[str, Any], state: str, words: str) -> None:
    s = service_with(sketch, interrupting_ka=65)
    s.put("disconnect", "Branch", **{
        "trip_a": 100, "interrupting_ka": 18, "series_rated_with": "Main", "series_rating_ka": 65, **values,
    })  # fmt: skip
    s.put("load", "Load", load_class="other", continuous=False, va=10_000, phases="ABC")
    s.chain("MDP", "Branch", "Load")
    found = one(ratings.verdicts(s.context()), "FLT-4", "Branch")
    assert found.state == state
    assert words in found.message
    if values.get("series_by", "").startswith("engineered") and state == "judge":
        assert any("stamp" in check for check in found.field_checks)


# ------------------------------------------------------------------------------------------------ Table 312.6(A)
@pytest.mark.parametrize(
    ("size", "width_in", "state"),
    [
        ("14", 0.5, None), ("8", 1.5, "pass"), ("8", 1.49, "fail"), ("2/0", 3.5, "pass"), ("3/0", 3.9, "fail"),
        ("250", 4.5, "pass"), ("350", 5, "pass"), ("500", 5.9, "fail"), ("500", 6, "pass"), ("750", 8, "pass"),
        (None, 10, "unknown"),
    ],
)  # fmt: skip
def test_room_to_bend_conductors(sketch: Any, size: str | None, width_in: float, state: str | None) -> None:
    s = service_with(sketch)
    s.put("bus", "Gutter", form="gutter", gutter_width_in=width_in)
    s.run("MDP", "Gutter", size=size)
    found = [v for v in working_space.verdicts(s.context()) if "312.6" in v.section]
    assert [v.state for v in found] == ([] if state is None else ["judge" if state == "fail" else state])
    s.put("bus", "Gutter", form="gutter", gutter_width_in=width_in, status="new")
    found = [v for v in working_space.verdicts(s.context()) if "312.6" in v.section]
    assert [v.state for v in found] == ([] if state is None else [state])


def test_without_a_width_nothing_is_said(sketch: Any) -> None:
    s = service_with(sketch)
    s.put("bus", "Gutter", form="gutter", status="new")
    s.run("MDP", "Gutter", size="500")
    assert not [v for v in working_space.verdicts(s.context()) if "312.6" in v.section]


def test_bending_space_is_told_where_a_tap_lands(sketch: Any) -> None:
    s = service_with(sketch)
    s.put("disconnect", "Switch", form="fused switch", rating_a=400, trip_a=400, status="new")
    s.run("MDP", "Switch", "Tap", size="500", material="copper", insulation="THWN-2", length_ft=8, status="new")
    found = one(taps.verdicts(s.context()), "TAP-BUS", "Tap")
    assert "MDP: bending space at the lugs, at least 6 in for one 500 kcmil conductor on each." in found.field_checks
