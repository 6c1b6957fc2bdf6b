"""Switching orders of small buildings, worked out by hand.

The order (loads at their controls, branches, feeders, main; restored main first, one after another) is common practice, no
source; that every source is opened, locked and tested at the point of work with a meter proved before and after follows
NFPA 70E Article 120 and 29 CFR 1910.333(b)(2), restated.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from outage_drawings import drawn, small_shop, zoned

from oneline.model import Reading
from oneline.model.edits import change
from oneline.outage.plan import make_plan


def keys(plan, *actions: str) -> list[str]:
    return [s.key for s in plan.steps if s.action in actions]


def test_branches_before_feeders_before_the_main_and_back_the_other_way() -> None:
    """Of two feeders at the same depth the one with less behind it (2.1 kVA against 9 kVA) is first."""
    plan = make_plan(zoned(small_shop(), "board"), "z")
    assert keys(plan, "shed", "open") == ["shed:P1", "open:B", "open:F1", "open:F2", "open:M"]
    closed = [s.key for s in plan.steps if s.part == "close" and s.action == "close"]
    assert closed == ["close:M", "close:F2", "close:F1", "close:B", "restore:P1"]
    parts = [s.part for s in plan.steps]
    assert list(dict.fromkeys(parts)) == ["prepare", "shed", "open", "lock", "test", "work", "check", "close"]
    assert [s.number for s in plan.steps] == list(range(1, len(plan.steps) + 1))


def test_currents_of_each_step_by_hand() -> None:
    """Common practice, no source: branches first, so that feeders and the main break nothing. 9 kVA at 208 V three-phase are
    9000 / (1.732 x 208) = 25.0 A."""
    plan = make_plan(zoned(small_shop(), "board"), "z")
    found = {s.key: s.current for s in plan.steps if s.current is not None}
    assert found["open:B"].at_most == pytest.approx(24.98, abs=0.01)
    assert found["open:B"].basis == "calculated"
    assert [found[f"open:{d}"].at_most for d in ("F2", "F1", "M")] == [0, 0, 0]
    assert found["close:M"].at_most == 0
    assert found["close:B"].at_most == pytest.approx(24.98, abs=0.01)


def test_a_reading_at_the_device_stands_for_the_load_behind_it() -> None:
    d = change(small_shop(), "B", readings=(Reading(when="2026-03-01 06:00", a_a=11.0, b_a=14.0, c_a=12.0),))
    plan = make_plan(zoned(d, "motor"), "z")
    (opened,) = [s for s in plan.steps if s.key == "open:B"]
    assert (opened.current.amperes, opened.current.at_most, opened.current.basis) == (14, 14, "reading")
    assert "2026-03-01 06:00" in opened.current.words


def test_the_zone_is_dead_by_the_drawing_before_the_first_test_and_the_building_as_before_at_the_end() -> None:
    plan = make_plan(zoned(small_shop(), "board", work_min=60), "z")
    first = next(s for s in plan.steps if s.action == "test")
    assert first.positions == {"M": False, "F1": False, "F2": False, "B": False}
    assert plan.steps[-1].positions == {}
    dark = {i.item: i for i in plan.dark}
    assert set(dark) == {"P1", "P2", "motor"}
    assert all(i.last_step is not None and i.to_min is not None and i.to_min > i.from_min + 60 for i in dark.values())


def test_time_of_the_work_is_not_known_unless_entered() -> None:
    plan = make_plan(zoned(small_shop(), "board"), "z")
    work = next(s for s in plan.steps if s.action == "work")
    assert work.minute is not None
    assert all(s.minute is None for s in plan.steps[work.number :])


def test_lock_numbers_and_hold_points_and_the_way_back() -> None:
    """29 CFR 1910.333(b)(2), restated: a lock on every disconnecting means, taken off by who hung it."""
    plan = make_plan(zoned(small_shop(), "board"), "z")
    assert [(s.key, s.lock) for s in plan.steps if s.action == "lock"] == [("lock:M", "L1")]
    order = [s.key for s in plan.steps]
    assert order.index("open:M") < order.index("lock:M") < order.index("test:board:bus") < order.index("work:z")
    assert order.index("work:z") < order.index("clear:people") < order.index("unlock:M") < order.index("close:M")
    assert [s.number for s in plan.steps if s.back_out] == [order.index("work:z")]
    assert {s.key for s in plan.steps if s.hold} >= {"verify:locks", "clear:people", "verify:M"}


def test_fuses_that_are_pulled_wait_until_the_main_is_open() -> None:
    """Common practice, no source: a pull-out breaks no load."""
    d = drawn(
        ("service", "S", {"system": "208Y/120"}),
        ("disconnect", "M", {"form": "breaker", "trip_a": 100.0, "lockable": True}),
        ("disconnect", "pullout", {"form": "fuses", "trip_a": 60.0, "lockable": True}),
        ("load", "heater", {"va": 6000.0, "phases": "ABC"}),
        joints="S.out-M.line, M.load-pullout.line, pullout.load-heater.in",
    )
    plan = make_plan(zoned(d, "heater", isolation=("pullout",)), "z")
    assert keys(plan, "open") == ["open:M", "open:pullout"]
    by_key = {s.key: s for s in plan.steps}
    assert by_key["open:pullout"].current.basis == "dead"
    assert by_key["open:M"].current.at_most == pytest.approx(16.65, abs=0.01)
    closed = [s.key for s in plan.steps if s.part == "close" and s.action == "close"]
    assert closed == ["close:pullout", "close:M"]
    # Where the heater has a switch of its own, nothing else has to be opened.
    own = replace(d.get("heater"), control="wall thermostat")
    plan = make_plan(zoned(d.with_items([own]), "heater", isolation=("pullout",)), "z")
    assert keys(plan, "shed", "open") == ["shed:heater", "open:pullout"]
    assert next(s for s in plan.steps if s.key == "open:pullout").state == "pass"


def test_devices_chosen_by_hand_that_do_not_isolate_say_so_at_the_work() -> None:
    d = drawn(
        ("service", "S", {"system": "208Y/120"}), ("service", "R", {"system": "208Y/120"}),
        ("disconnect", "M", {"form": "breaker", "trip_a": 100.0, "lockable": True}),
        ("disconnect", "N", {"form": "breaker", "trip_a": 100.0, "lockable": True}),
        ("bus", "board", {"form": "gutter"}),
        joints="S.out-M.line, M.load-board.bus, R.out-N.line, N.load-board.bus",
    )  # fmt: skip
    plan = make_plan(zoned(d, "board", isolation=("M",)), "z")
    work = next(s for s in plan.steps if s.action == "work")
    assert work.state == "fail"
    assert work.why.startswith("R still reaches")
    assert next(c for c in plan.cards if c.item == "board").live_from == ("R",)


def test_a_device_that_may_not_close_again_is_left_alone_where_it_need_not_be_opened() -> None:
    d = change(small_shop(), "F1", suspect=True)
    plan = make_plan(zoned(d, "board"), "z")
    assert "open:F1" not in [s.key for s in plan.steps]
    plan = make_plan(zoned(d, "P1", isolation=("F1",)), "z")
    assert next(s for s in plan.steps if s.key == "open:F1").state == "judge"


def test_new_devices_are_closed_for_the_first_time_after_the_main() -> None:
    """Restored main first, everything behind it open (common practice, no source)."""
    d = drawn(
        ("service", "S", {"system": "208Y/120"}),
        ("disconnect", "M", {"form": "breaker", "trip_a": 200.0, "lockable": True, "service_disconnect": True}),
        ("bus", "board", {"form": "gutter", "all_listed": True}),
        ("disconnect", "new", {"form": "breaker", "trip_a": 60.0, "status": "new"}),
        ("load", "oven", {"va": 9000.0, "phases": "ABC", "status": "new"}),
        joints="S.out-M.line, M.load-board.bus, board.bus-new.line, new.load-oven.in",
    )  # fmt: skip
    plan = make_plan(zoned(d, "board", "new"), "z")
    assert plan.answer.view == "proposed"
    order = [s.key for s in plan.steps]
    assert not {"open:new", "measure:new", "shed:oven"} & set(order)
    assert order.index("close:M") < order.index("verify:M") < order.index("close:new")
    steps = {s.key: s for s in plan.steps}
    assert steps["open:M"].current.at_most == 0
    assert steps["close:M"].current.at_most == 0
    assert steps["close:new"].back == ("oven",)
    assert plan.steps[0].positions == {"new": False}
    assert plan.steps[-1].positions == {}
    assert plan.dark == ()
    # The building as it stands has none of it.
    assert "close:new" not in [s.key for s in make_plan(zoned(d, "board"), "z").steps]


def test_where_a_reading_shows_about_nothing_no_other_device_is_opened() -> None:
    """SW-4: about 0 A measured, a pull-out may be opened (common practice, no source)."""
    d = drawn(
        ("service", "S", {"system": "208Y/120"}),
        ("disconnect", "M", {"form": "breaker", "trip_a": 100.0, "lockable": True}), ("bus", "board", {"form": "gutter"}),
        ("disconnect", "pullout", {"form": "fuses", "trip_a": 60.0, "lockable": True}),
        ("load", "old line", {"va": None, "phases": "ABC"}), ("load", "lights", {"va": 3000.0, "phases": "ABC"}),
        joints="S.out-M.line, M.load-board.bus, board.bus-pullout.line, pullout.load-old line.in, board.bus-lights.in",
    )  # fmt: skip
    plan = make_plan(zoned(d, "old line", isolation=("pullout",)), "z")
    assert keys(plan, "open") == ["open:M", "open:pullout"]
    helper = next(s for s in plan.steps if s.key == "open:M")
    # What the main carries is not known either, and it is made to break it.
    assert helper.state == "unknown"
    assert "pullout" in helper.why
    assert "about 0 A" in helper.why
    assert {i.item for i in plan.dark} == {"old line", "lights"}
    read = change(d, "pullout", readings=(Reading(when="2026-01-01", a_a=0.2, b_a=0.1, c_a=0.0),))
    plan = make_plan(zoned(read, "old line", isolation=("pullout",)), "z")
    assert keys(plan, "open") == ["open:pullout"]
    assert {i.item for i in plan.dark} == {"old line"}


def test_what_is_opened_at_a_zone_that_only_the_utility_makes_dead_gets_a_lock_of_its_own() -> None:
    """29 CFR 1910.333(b)(2)(iii), restated: a lock on each disconnecting means by which the work is made dead. By hand: the
    gutter ahead of both mains is dead when the utility opens; both mains are opened and border it; the feeder behind the
    second main does not."""
    d = drawn(
        ("service", "S", {"system": "208Y/120"}), ("bus", "gutter", {"form": "gutter"}),
        ("disconnect", "M1", {"form": "breaker", "trip_a": 100.0, "lockable": True}),
        ("disconnect", "M2", {"form": "breaker", "trip_a": 200.0, "lockable": None}),
        ("bus", "board", {}), ("disconnect", "F", {"form": "breaker", "trip_a": 60.0, "lockable": True}),
        ("load", "shop", {"va": 3000.0, "phases": "ABC"}), ("load", "oven", {"va": 6000.0, "phases": "ABC"}),
        joints="S.out-gutter.bus, gutter.bus-M1.line, gutter.bus-M2.line, M1.load-shop.in, M2.load-board.bus, "
        "board.bus-F.line, F.load-oven.in",
    )  # fmt: skip
    plan = make_plan(zoned(d, "gutter"), "z")
    assert plan.answer.state == "not here"
    assert set(keys(plan, "open")) == {"open:M1", "open:M2", "open:F"}
    locks = {s.key: s for s in plan.steps if s.action == "lock"}
    assert set(locks) == {"lock:M1", "lock:M2"}
    assert {s.lock for s in locks.values()} == {"L1", "L2"}
    # Nobody said that M2 can be locked.
    assert (locks["lock:M1"].state, locks["lock:M2"].state) == ("pass", "unknown")
    order = [s.key for s in plan.steps]
    for main in ("M1", "M2"):
        assert order.index("utility:S") < order.index(f"lock:{main}") < order.index("test:gutter:bus")
        assert order.index("clear:people") < order.index(f"unlock:{main}") < order.index(f"close:{main}")
    # Worked on itself, a main is not locked; the other one borders the work still.
    itself = make_plan(zoned(d, "M1"), "z")
    assert itself.answer.state == "not here"
    assert keys(itself, "lock") == ["lock:M2"]


def test_what_only_a_transfer_switch_keeps_away_is_opened_and_locked_in_the_order() -> None:
    """29 CFR 1910.333(b)(2)(ii)(B), restated: an interlock is no means to isolate. By hand: with the switch joining its
    supplies the generator would reach the board; its breaker costs less than the feeder, which darkens the panel."""
    d = drawn(
        ("service", "S", {"system": "208Y/120"}), ("generator", "G", {"system": "208Y/120"}),
        ("disconnect", "M", {"form": "breaker", "trip_a": 200.0, "lockable": True}), ("bus", "board", {}),
        ("disconnect", "F", {"form": "breaker", "trip_a": 60.0, "lockable": True}),
        ("disconnect", "GB", {"form": "breaker", "trip_a": 60.0, "lockable": True}),
        ("transfer", "T", {"automatic": True, "position": "normal"}), ("load", "fans", {"va": 6000.0, "phases": "ABC"}),
        joints="S.out-M.line, M.load-board.bus, board.bus-F.line, F.load-T.normal, G.out-GB.line, GB.load-T.alternate, "
        "T.load-fans.in",
    )  # fmt: skip
    plan = make_plan(zoned(d, "board"), "z")
    assert plan.isolation.items == ("M",)
    assert [(s.key, s.lock) for s in plan.steps if s.action == "lock"] == [("lock:M", "L1"), ("lock:GB", "L2")]
    order = [s.key for s in plan.steps]
    assert order.index("open:GB") < order.index("lock:GB") < order.index("test:board:bus") < order.index("unlock:GB")
    assert order.index("unlock:GB") < order.index("close:GB")
    assert plan.steps[-1].positions == {}
