"""Sources in switching orders, worked out by hand: inverters that form a grid, generators that run, their way back.

Common practice, no source, unless said: load off before a source is stopped, a source stopped before its own disconnect is
opened, a source that could be out of step never closed in while it runs, transfer switches back to automatic at the end.
"""

from __future__ import annotations

import pytest
from outage_drawings import drawn, small_shop, zoned

from oneline.model import Circuit
from oneline.model.edits import change
from oneline.outage.plan import make_plan

WYE = {"system": "208Y/120"}
BREAKER = {"form": "breaker", "trip_a": 100.0, "lockable": True}
ROWS = (Circuit(space=1, va=900.0), Circuit(space=3, va=500.0))


def order_of(plan) -> list[str]:
    return [s.key for s in plan.steps]


def in_order(plan, *keys: str) -> bool:
    order = order_of(plan)
    places = [order.index(k) for k in keys]
    return places == sorted(places)


def with_inverter(kind: str):
    """A main and a board; behind feeder F panel P, and on P behind breaker A an inverter that forms a grid."""
    return drawn(
        ("service", "S", WYE), ("disconnect", "M", {**BREAKER, "service_disconnect": True}),
        ("bus", "board", {"form": "gutter"}), ("disconnect", "F", BREAKER), ("bus", "P", {"circuits": ROWS}),
        ("disconnect", "A", BREAKER), (kind, "I", {"output_a": 40.0, "phases": "ABC", "forms_grid": True}),
        joints="S.out-M.line, M.load-board.bus, board.bus-F.line, F.load-P.bus, P.bus-A.line, A.load-I.out",
    )  # fmt: skip


@pytest.mark.parametrize(
    ("kind", "stays"), [("solar", "DC side stays live in light"), ("battery", "battery side stays")]
)
def test_an_inverter_that_forms_a_grid_is_stopped_before_its_breaker_and_started_last(kind: str, stays: str) -> None:
    """Work on P: F and A are opened. With P off and the inverter stopped, neither breaks anything."""
    plan = make_plan(zoned(with_inverter(kind), "P"), "z")
    steps = {s.key: s for s in plan.steps}
    assert set(plan.isolation.items) == {"F", "A"}
    assert in_order(plan, "shed:P", "stop:I", "open:A", "open:F", "test:P:bus", "ground:zone", "work:z")
    assert in_order(plan, "work:z", "clear:grounds", "close:F", "restore:P", "close:A", "start:I")
    assert stays in steps["stop:I"].words
    assert [steps[k].current.at_most for k in ("open:A", "open:F", "close:F", "close:A")] == [0, 0, 0, 0]
    assert not any("in parallel" in s.why for s in plan.steps)


def test_an_inverter_left_on_a_panel_beyond_the_work_is_stopped_and_the_panel_shed() -> None:
    """Work on the board: M and F part it. P would go on alone on the inverter and be out of step when F is closed."""
    plan = make_plan(zoned(with_inverter("battery"), "board", isolation=("M", "F")), "z")
    steps = {s.key: s for s in plan.steps}
    assert in_order(plan, "shed:P", "stop:I", "open:F", "open:M", "ground:zone")
    assert in_order(plan, "close:M", "close:F", "restore:P", "start:I")
    assert steps["shed:P"].dark == ("P",)
    assert steps["stop:I"].dark == ()
    assert steps["open:F"].current.at_most == 0
    assert "open:A" not in steps
    assert not any("in parallel" in s.why for s in plan.steps)


def test_an_inverter_that_stays_with_the_utility_is_left_alone() -> None:
    """Work on a load at a breaker of its own: nothing is taken from the inverter."""
    d = with_inverter("solar")
    more = drawn(
        ("disconnect", "H", BREAKER), ("load", "heater", {"va": 3000.0, "phases": "ABC"}), joints="H.load-heater.in"
    )
    board = drawn(
        ("bus", "board", {"form": "gutter"}), ("disconnect", "H", BREAKER), joints="board.bus-H.line"
    ).items.values()
    d = d.with_items([*more.items.values(), *(i for i in board if i.kind == "joint")])
    plan = make_plan(zoned(d, "heater"), "z")
    assert plan.isolation.items == ("H",)
    assert not any(k.startswith(("stop:", "start:", "shed:")) for k in order_of(plan))


def with_generator(position: str):
    """A main board with its own circuits and, behind feeder F, a transfer switch between it and generator G to panel E."""
    return drawn(
        ("service", "S", WYE), ("disconnect", "M", {**BREAKER, "service_disconnect": True}),
        ("bus", "board", {"circuits": ROWS}), ("disconnect", "F", BREAKER),
        ("transfer", "T", {"automatic": True, "rating_a": 100.0, "lockable_off": True, "position": position}),
        ("generator", "G", {**WYE, "kva": 30.0}), ("disconnect", "GB", BREAKER), ("bus", "E", {"circuits": ROWS}),
        joints="S.out-M.line, M.load-board.bus, board.bus-F.line, F.load-T.normal, G.out-GB.line, GB.load-T.alternate, "
        "T.load-E.bus",
    )  # fmt: skip


def test_a_generator_that_runs_and_does_not_reach_the_work_goes_on_feeding_its_panel() -> None:
    """E is on the generator: opening the main takes nothing from it, so only the board is without power."""
    plan = make_plan(zoned(with_generator("alternate"), "board"), "z")
    steps = {s.key: s for s in plan.steps}
    assert {i.item for i in plan.dark} == {"board"}
    assert not {"inhibit:G", "enable:G", "shed:E"} & set(steps)
    assert "keeps running and feeds E" in steps["keep:G"].words
    assert steps["inhibit:T"].lock
    assert "G could feed back" in steps["ground:zone"].words
    assert in_order(plan, "inhibit:T", "shed:board", "open:M", "work:z", "close:M", "restore:board", "enable:T")


def test_a_generator_that_feeds_the_work_is_stopped_without_load_and_runs_again_before_it_gets_load() -> None:
    """Work on the transfer switch itself: F and GB are opened, and only E is without power, from when it is shed."""
    plan = make_plan(zoned(with_generator("alternate"), "T", isolation=("F", "GB")), "z")
    steps = {s.key: s for s in plan.steps}
    assert in_order(plan, "shed:E", "inhibit:G", "open:GB")
    assert in_order(plan, "close:GB", "enable:G", "restore:E", "enable:T")
    assert steps["shed:E"].dark == ("E",)
    assert steps["inhibit:G"].dark == ()
    assert steps["enable:G"].back == ()
    assert steps["restore:E"].back == ("E",)
    assert [i.item for i in plan.dark] == ["E"]


def test_devices_that_leave_a_running_generator_on_the_work_have_it_stopped() -> None:
    """F alone does not part the generator from E: it does not go on, and E is off before it stops."""
    plan = make_plan(zoned(with_generator("alternate"), "E", isolation=("F",)), "z")
    assert "keep:G" not in order_of(plan)
    assert in_order(plan, "shed:E", "inhibit:G", "work:z")
    assert next(s for s in plan.steps if s.key == "inhibit:G").dark == ()


def test_a_generator_in_step_with_the_utility_is_stopped_when_they_are_parted() -> None:
    """Both feed the board; work on the main takes the utility away and M parts them: the generator would be out of step
    when M is closed."""
    d = drawn(
        ("service", "S", WYE), ("disconnect", "U", BREAKER), ("disconnect", "M", BREAKER),
        ("bus", "board", {"circuits": ROWS}), ("disconnect", "N", BREAKER), ("generator", "G", {**WYE, "kva": 30.0}),
        ("bus", "box", {"form": "gutter"}),
        joints="S.out-U.line, U.load-box.bus, box.bus-M.line, M.load-board.bus, board.bus-N.line, N.load-G.out",
    )  # fmt: skip
    plan = make_plan(zoned(d, "box", isolation=("U", "M")), "z")
    assert in_order(
        plan, "shed:board", "inhibit:G", "open:M", "open:U", "work:z", "close:U", "close:M", "restore:board"
    )
    assert in_order(plan, "restore:board", "enable:G")
    assert next(s for s in plan.steps if s.key == "inhibit:G").dark == ()


def test_a_motor_whose_control_nobody_entered_is_asked_for_and_kept_off_until_the_rotation_is_checked() -> None:
    """Common practice, no source: a motor is not started by the breaker ahead of it, nor coupled on unchecked rotation."""
    plan = make_plan(zoned(small_shop(), "board"), "z")
    steps = {s.key: s for s in plan.steps}
    assert in_order(plan, "still:motor", "open:B", "work:z", "turn:motor", "close:M", "close:B")
    assert (steps["still:motor"].part, steps["still:motor"].state) == ("shed", "unknown")
    assert "Nobody said where motor is switched off" in steps["still:motor"].why
    assert "uncoupled until the phase rotation" in steps["turn:motor"].words
    assert (steps["turn:motor"].state, steps["turn:motor"].hold) == ("unknown", True)
    # It is not counted as off: its breaker opens onto it (9000 / (1.732 x 208) A).
    assert steps["open:B"].current.at_most == pytest.approx(24.98, abs=0.01)


def test_a_motor_with_a_control_or_a_heater_without_is_not_asked_for() -> None:
    d = change(small_shop(), "motor", control="starter")
    assert not {"still:motor", "turn:motor"} & set(order_of(make_plan(zoned(d, "board"), "z")))
    d = change(small_shop(), "motor", load_class="other")
    assert not {"still:motor", "turn:motor"} & set(order_of(make_plan(zoned(d, "board"), "z")))


def test_a_single_phase_motor_has_no_rotation() -> None:
    d = change(small_shop(), "motor", phases="AB")
    step = next(s for s in make_plan(zoned(d, "board"), "z").steps if s.key == "turn:motor")
    assert "rotation" not in step.words


def test_what_is_still_on_when_a_generator_stops_is_said() -> None:
    """E feeds a heater directly too, of which nobody said where it is switched off."""
    more = drawn(
        ("bus", "E", {"circuits": ROWS}), ("load", "heater", {"va": 3000.0, "phases": "ABC"}), joints="E.bus-heater.in"
    )
    d = with_generator("alternate").with_items([i for i in more.items.values() if i.id != "E"])
    step = next(s for s in make_plan(zoned(d, "T", isolation=("F", "GB")), "z").steps if s.key == "inhibit:G")
    assert (step.dark, step.state) == (("heater",), "judge")
    assert "heater still on" in step.why
    assert "its load is off" not in step.words
    off = change(d, "heater", control="thermostat")
    step = next(s for s in make_plan(zoned(off, "T", isolation=("F", "GB")), "z").steps if s.key == "inhibit:G")
    assert (step.dark, step.state) == ((), "pass")
