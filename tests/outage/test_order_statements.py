"""What is published or common about switching, said by computed plans: SW-3 to SW-7 and SW-10 to SW-12 of the rules.

Sources, all restated: NFPA 70E Article 120 (120.6 in 2024, 120.5 in 2021); 29 CFR 1910.333(b)(2) and 1926.416-417;
and common practice, no source, where it says so.
"""

from __future__ import annotations

import random
from math import sqrt

import pytest
from outage_drawings import drawn, small_shop, zoned

from oneline.model import Circuit, Reading
from oneline.model.edits import change
from oneline.outage.cards import pairs_of
from oneline.outage.notes import neutral, neutral_sum, unbalance
from oneline.outage.plan import make_plan

WYE = {"system": "208Y/120"}
BREAKER = {"form": "breaker", "trip_a": 200.0, "lockable": True}


def standby_shop():
    """A main, a transfer switch between it and a generator behind a breaker of its own, a roof array, an elevator."""
    rows = (Circuit(space=1, va=900.0, care="fire alarm", description="Fire alarm panel"), Circuit(space=3, va=500.0))
    return drawn(
        ("service", "S", WYE), ("disconnect", "M", {**BREAKER, "service_disconnect": True}),
        ("bus", "board", {"form": "gutter"}), ("disconnect", "F", BREAKER),
        ("transfer", "T", {"automatic": True, "rating_a": 200.0, "lockable_off": True}),
        ("generator", "G", {**WYE, "kva": 45.0}), ("disconnect", "GB", BREAKER), ("bus", "P", {"circuits": rows}),
        ("disconnect", "A", BREAKER), ("solar", "PV", {"output_a": 40.0, "phases": "ABC"}),
        ("disconnect", "E", BREAKER), ("load", "car", {"load_class": "elevator", "va": 9000.0, "phases": "ABC"}),
        joints="S.out-M.line, M.load-board.bus, board.bus-F.line, F.load-T.normal, G.out-GB.line, GB.load-T.alternate, "
        "T.load-P.bus, board.bus-A.line, A.load-PV.out, board.bus-E.line, E.load-car.in",
    )  # fmt: skip


def order_of(plan) -> list[str]:
    return [s.key for s in plan.steps]


# ------------------------------------------------------------------------------------------------------------- SW-3
def test_people_and_what_needs_care_first() -> None:
    """SW-3 (1): occupants, fire alarm, elevator are looked after before anything is switched."""
    plan = make_plan(zoned(standby_shop(), "board", "P"), "z")
    order = order_of(plan)
    first = min(order.index(s.key) for s in plan.steps if s.dark)
    assert order[0] == "tell:occupants"
    assert {"care:P:1", "care:car"} <= set(order[:first])
    words = {s.key: s.words for s in plan.steps}
    assert words["care:P:1"].startswith("Fire alarm: tell the monitoring station")
    assert "landing" in words["care:car"]
    assert {i.item: i.matters for i in plan.dark} == {"P": "fire alarm (circuit 1)", "car": "elevator"}


def test_generator_and_transfer_switch_are_inhibited_and_locked_before_the_main_opens_and_enabled_last() -> None:
    """SW-3 (1) and its closing order; an off selector is a control device, which 29 CFR 1910.333(b)(2) does not take for a
    means of isolation: the generator's breaker or the transfer switch's off position is locked too."""
    plan = make_plan(zoned(standby_shop(), "board", "P"), "z")
    order = order_of(plan)
    steps = {s.key: s for s in plan.steps}
    assert order.index("inhibit:T") < order.index("open:M")
    assert order.index("inhibit:G") < order.index("open:M")
    assert steps["inhibit:T"].lock
    assert steps["inhibit:G"].lock
    assert {"GB", "T"} & set(plan.isolation.items)
    assert max(order.index(f"close:{d}") for d in ("M", "F", "E", "A")) < order.index("enable:T")
    assert order.index("enable:T") < order.index("verify:loads")
    assert order.index("enable:G") < order.index("verify:loads")
    # No two locks have the same number.
    numbers = [s.lock for s in plan.steps if s.action in ("lock", "inhibit")]
    assert len(set(numbers)) == len(numbers)


def test_inverter_is_stopped_before_its_ac_disconnect_and_its_dc_side_stays_live() -> None:
    """SW-3 (5)."""
    plan = make_plan(zoned(standby_shop(), "board"), "z")
    order = order_of(plan)
    assert order.index("open:E") < order.index("stop:PV") < order.index("open:A") < order.index("open:M")
    steps = {s.key: s for s in plan.steps}
    assert "DC side stays live in light" in steps["stop:PV"].words
    assert steps["open:A"].current.at_most == 0
    assert order.index("close:M") < order.index("close:E") < order.index("close:A") < order.index("start:PV")
    assert next(c for c in plan.cards if (c.item, c.terminal) == ("A", "load")).live_from == ("PV",)


def test_every_device_is_clamped_before_it_is_operated() -> None:
    """SW-3 (2)."""
    plan = make_plan(zoned(standby_shop(), "board"), "z")
    order = order_of(plan)
    for key in order:
        if key.startswith("open:"):
            assert order.index(f"measure:{key[5:]}") < order.index(key)


def test_voltage_pairs_and_rotation_are_checked_at_the_main_before_anything_else_is_closed() -> None:
    """SW-3, closing."""
    plan = make_plan(zoned(standby_shop(), "board"), "z")
    order = order_of(plan)
    at = order.index("close:M")
    assert order[at + 1] == "verify:M"
    step = plan.steps[at + 1]
    assert step.hold
    assert "rotation" in step.words
    assert not [k for k in order[:at] if k.startswith("close:")]
    one_phase = change(small_shop(), "S", system="120/240-1")
    (check,) = [s for s in make_plan(zoned(one_phase, "board"), "z").steps if s.key == "verify:M"]
    assert "rotation" not in check.words


def test_the_utility_is_asked_only_where_nothing_on_the_premises_parts_the_work() -> None:
    """SW-3 (8): utility if it is line-side work. Everything behind is off by then, and it closes first."""
    plan = make_plan(zoned(standby_shop(), "M", utility_contact="555-0100"), "z")
    assert plan.answer.state == "not here"
    order, steps = order_of(plan), {s.key: s for s in plan.steps}
    assert "555-0100" in steps["arrange:S"].words
    assert steps["utility:S"].hold
    assert order.index("open:M") < order.index("utility:S") < order.index("verify:locks") < order.index("work:z")
    assert order.index("clear:people") < order.index("utility back:S") < order.index("close:M")
    assert steps["open:M"].current.at_most == 0
    (card,) = [c for c in plan.cards if (c.item, c.terminal) == ("M", "line")]
    assert card.live_from == ()
    # Until the utility has opened, the voltage is there: the card says so at every pair that shows one.
    assert len(card.waits_for) == 1
    shown = [p.expected for p in card.pairs if p.live_v]
    assert shown
    assert all(words.startswith("0 V only after ") for words in shown)
    assert not any(
        k.startswith(("utility", "arrange")) for k in order_of(make_plan(zoned(standby_shop(), "board"), "z"))
    )


# ------------------------------------------------------------------------------------------------------ SW-4 to SW-7
def test_a_knife_switch_is_opened_dead() -> None:
    """SW-4, common practice, no source: isolating switches break no load, so an upstream device is opened first."""
    d = change(small_shop(), "B", form="switch")
    d = change(change(d, "B", load_break=False), "B", rating_a=60.0)
    plan = make_plan(zoned(d, "motor", isolation=("B",)), "z")
    order, steps = order_of(plan), {s.key: s for s in plan.steps}
    assert order.index("open:F2") < order.index("open:B")
    assert steps["open:B"].current.basis == "dead"
    assert steps["open:F2"].state == "advice"
    assert order.index("close:B") < order.index("close:F2")
    assert steps["close:B"].current.basis == "dead"


def test_stored_energy_then_tests_then_grounds_where_something_can_feed_back() -> None:
    """NFPA 70E 120.6 (4), (5), (7), (8)."""
    plan = make_plan(zoned(standby_shop(), "board"), "z")
    order = order_of(plan)
    tests = [n for n, s in enumerate(plan.steps) if s.action == "test"]
    assert order.index("verify:locks") < order.index("discharge:stored") < min(tests)
    assert max(tests) < order.index("ground:zone") < order.index("work:z")
    ground = plan.steps[order.index("ground:zone")]
    assert ground.state == "judge"
    assert "PV" in ground.words
    assert order.index("work:z") < order.index("clear:grounds") < order.index("clear:people")
    assert "ground:zone" not in order_of(make_plan(zoned(small_shop(), "board"), "z"))


def test_tests_at_every_point_of_work_and_both_sides_of_every_opened_device() -> None:
    """NFPA 70E 120.6 (7) in 2024: at each point of work; SW-6: either side of the opened device can be live."""
    plan = make_plan(zoned(standby_shop(), "board", "P"), "z")
    cards = {(c.item, c.terminal) for c in plan.cards}
    assert {("board", "bus"), ("P", "bus")} <= cards
    for point in plan.isolation.items:
        terminals = ("normal", "alternate", "load") if point == "T" else ("line", "load")
        assert {(point, t) for t in terminals} <= cards
    tested = {tuple(s.key.split(":")[1:]) for s in plan.steps if s.action == "test"}
    assert tested == cards
    for card in plan.cards:
        assert any("before and after" in n and "proximity" in n.lower() for n in card.notes)
    assert all("Prove the meter" in s.words and "again" in s.words for s in plan.steps if s.action == "test")
    line = next(c for c in plan.cards if (c.item, c.terminal) == ("M", "line"))
    assert line.live_from == ("S",)
    assert {p.label: p.expected for p in line.pairs}["A-B"] == "208 V: stays live from S"
    board = next(c for c in plan.cards if c.item == "board")
    assert {p.expected for p in board.pairs} == {"0 V"}


@pytest.mark.parametrize(
    ("code", "count", "live"),
    [
        # SW-6: number of pairs; volts by NEC 220.5(A) and ANSI C84.1 nominal systems.
        ("208Y/120", 10, {"A-B": 208, "B-C": 208, "C-A": 208, "A-N": 120, "C-ground": 120, "N-ground": 0}),
        ("480Y/277", 10, {"A-B": 480, "B-N": 277, "A-ground": 277}),
        ("120/240-1", 6, {"A-B": 240, "A-N": 120, "B-ground": 120, "N-ground": 0}),
        ("208/120-1", 6, {"A-B": 208, "A-N": 120}),
        ("120-1", 3, {"A-N": 120, "A-ground": 120}),
        # High leg, B: 1.732 x 120 = 208 V to the neutral and to ground (NEC 408.3(E), 110.15).
        ("240D/120-HL", 10, {"A-B": 240, "C-A": 240, "A-N": 120, "B-N": 208, "B-ground": 208, "C-N": 120}),
        # Without a neutral nothing is expected to ground: corner-grounded and ungrounded.
        ("240D-CG", 6, {"A-B": 240, "A-ground": None, "B-ground": None}),
        ("480D", 6, {"B-C": 480, "C-ground": None}),
    ],
)
def test_pairs_of_each_system(code, count: int, live) -> None:
    found = {label: volts for label, _, volts in pairs_of(code)}
    assert len(found) == count
    assert {k: found[k] for k in live} == live


def test_all_pairs_where_nobody_knows_the_system() -> None:
    found = pairs_of(None)
    assert len(found) == 10
    assert {volts for _, _, volts in found} == {None}


@pytest.mark.parametrize(
    ("code", "words"),
    [("240D-CG", "grounded phase to ground proves nothing"), ("480D", "Ungrounded"), ("240D/120-HL", "208 V")],
)
def test_cards_say_what_is_peculiar_to_a_system(code, words: str) -> None:
    """SW-6: corner-grounded, line to ground zero proves nothing."""
    d = change(small_shop(), "S", system=code)
    card = make_plan(zoned(d, "board"), "z").cards[0]
    assert any(words in n for n in card.notes)


@pytest.mark.parametrize("seed", range(20))
def test_neutral_of_a_wye_by_the_published_formula(seed: int) -> None:
    """The square root of A^2 + B^2 + C^2 - AB - BC - CA, as trade texts print it (from memory); two legs of a wye have
    C = 0 there, and the legs of 120/240 V subtract."""
    rng = random.Random(seed)
    a, b, c = (rng.uniform(0, 200) for _ in range(3))
    assert neutral_sum("208Y/120", (a, b, c)) == pytest.approx(
        sqrt(a * a + b * b + c * c - a * b - b * c - c * a), abs=1e-6
    )
    assert neutral_sum("208/120-1", (a, b, None)) == pytest.approx(sqrt(a * a + b * b - a * b))
    assert neutral_sum("120/240-1", (a, b, None)) == pytest.approx(abs(a - b))
    assert neutral_sum("240D/120-HL", (a, b, c)) is None
    assert neutral_sum("480D", (a, b, c)) is None


@pytest.mark.parametrize(
    ("amps", "state"),
    [
        ((100.0, 80.0, 60.0, 35.0), None),  # 34.6 A by the phasor sum
        ((100.0, 80.0, 60.0, 150.0), "advice"),  # possible with harmonics, far from the sum
        ((100.0, 80.0, 60.0, 260.0), "fail"),  # more than all three phases together
        ((100.0, 20.0, 10.0, 30.0), "fail"),  # at least 100 - 30 = 70 A must come back
        ((100.0, 20.0, 10.0, 86.0), None),
        ((4.0, 1.0, 0.0, 9.0), None),  # too small to say anything
        ((100.0, None, 60.0, 250.0), None),  # not all was read
    ],
)
def test_a_neutral_that_cannot_be(amps, state) -> None:
    """Kirchhoff's current law; SW-7: shared neutrals carry another circuit's current."""
    reading = Reading(when="2026-01-01", a_a=amps[0], b_a=amps[1], c_a=amps[2], n_a=amps[3])
    assert [s for s, _ in neutral("X", reading, "208Y/120")] == ([] if state is None else [state])


def test_phases_that_are_not_balanced() -> None:
    """A loaded neutral tells that the phases are not balanced: common practice, no source."""
    ((state, says),) = unbalance("X", Reading(when="2026-01-01", a_a=100.0, b_a=50.0, c_a=60.0))
    assert state == "advice"
    assert "43 %" in says
    assert not list(unbalance("X", Reading(when="2026-01-01", a_a=100.0, b_a=95.0, c_a=90.0)))


def test_readings_far_from_the_calculated_load_are_pointed_out() -> None:
    d = change(small_shop(), "B", readings=(Reading(when="2026-01-01", a_a=2.0, b_a=2.0, c_a=2.0),))
    (note,) = make_plan(zoned(d, "board"), "z").notes
    # 25.0 A of the largest motor at 125 % (NEC 430.24) are 31.2 A.
    assert "calculated load is 31.2 A" in note.says
    more = change(small_shop(), "B", readings=(Reading(when="2026-01-01", a_a=60.0, b_a=60.0, c_a=60.0),))
    said = " ".join(n.says for n in make_plan(zoned(more, "board"), "z").notes)
    assert "load is missing on the drawing" in said


# --------------------------------------------------------------------------------------------------- SW-10 to SW-12
def test_both_sides_that_stay_live_are_said_on_the_card() -> None:
    """SW-10: blades may be energized with the switch open where the load side is fed too."""
    d = drawn(
        ("service", "S", WYE), ("service", "R", WYE), ("disconnect", "M", BREAKER), ("disconnect", "N", BREAKER),
        ("bus", "board", {"form": "gutter"}), joints="S.out-M.line, M.load-board.bus, R.out-N.line, N.load-board.bus",
    )  # fmt: skip
    plan = make_plan(zoned(d, "board"), "z")
    live = {(c.item, c.terminal): c.live_from for c in plan.cards}
    assert live == {
        ("board", "bus"): (),
        ("M", "line"): ("S",),
        ("M", "load"): (),
        ("N", "line"): ("R",),
        ("N", "load"): (),
    }
    assert not plan.problems


def test_closing_what_parts_two_live_sources_is_for_judgement() -> None:
    """Common practice, no source: two sources are closed together only in phase and in step, where they are made for it."""
    d = drawn(
        ("service", "S", WYE), ("service", "R", WYE), ("disconnect", "M", BREAKER), ("disconnect", "N", BREAKER),
        ("bus", "board", {"form": "gutter", "all_listed": True}),
        joints="S.out-M.line, M.load-board.bus, R.out-N.line, N.load-board.bus",
    )  # fmt: skip
    closes = [s for s in make_plan(zoned(d, "board"), "z").steps if s.key.startswith("close:")]
    # What two services exchange is not known either.
    assert [s.state for s in closes] == ["pass", "unknown"]
    assert "puts S and R in parallel" in closes[1].why


def test_two_persons_hold_points_and_the_point_of_no_return() -> None:
    """SW-12: numbered, two-person, hold points, back-out."""
    plan = make_plan(zoned(standby_shop(), "board"), "z")
    steps = {s.key: s for s in plan.steps}
    assert steps["verify:locks"].hold
    assert "Second person" in steps["verify:locks"].words
    (turn,) = [s for s in plan.steps if s.back_out]
    assert turn.hold
    assert plan.steps[turn.number].action == "work"


def test_no_step_ever_says_safe() -> None:
    for drawing in (standby_shop(), small_shop()):
        plan = make_plan(zoned(drawing, "board"), "z")
        words = [w for s in plan.steps for w in (s.words, s.why, s.current.words if s.current else "")]
        words += [n for c in plan.cards for n in (*c.notes, *(p.expected for p in c.pairs))]
        words += [s.says for s in plan.spares] + [n.says for n in plan.notes]
        assert not [w for w in words if "safe" in w.lower()]


# ------------------------------------------------------------------------------------------------------------ spares
def two_boards(**tie):
    return drawn(
        ("service", "S", WYE), ("disconnect", "M", {**BREAKER, "suspect": True}), ("bus", "P1", {"all_listed": True}),
        ("load", "L", {"va": 9000.0, "phases": "ABC"}), ("service", "R", WYE), ("disconnect", "N", BREAKER),
        ("bus", "P2", {"all_listed": True, "rating_a": 225.0}), ("load", "K", {"va": 3600.0, "phases": "ABC"}),
        ("disconnect", "T", {**BREAKER, "trip_a": 100.0, "closed": False, "normally_open": True, **tie}),
        joints="S.out-M.line, M.load-P1.bus, P1.bus-L.in, R.out-N.line, N.load-P2.bus, P2.bus-K.in, P1.bus-T.line, "
        "T.load-P2.bus",
    )  # fmt: skip


def test_a_tie_is_the_spare_plan_of_a_main_that_may_not_close_again() -> None:
    """9 kVA are 25 A; the tie carries 100 A, and board 2 with its 200 A main has more than that left."""
    plan = make_plan(zoned(two_boards(), "P1"), "z")
    assert next(s for s in plan.steps if s.key == "open:M").state == "judge"
    spare = plan.spares[0]
    assert (spare.device, spare.close, spare.feeds, spare.source, spare.state) == (
        "M",
        ("T",),
        ("P1", "L"),
        "R",
        "pass",
    )
    assert "25 A" in spare.says
    # T stands against board 2 as well: it is locked although it is open already.
    assert {"lock:M", "lock:T"} <= set(order_of(plan))
    assert "open:T" not in order_of(plan)


@pytest.mark.parametrize(("fields", "state"), [({"trip_a": 20.0}, "unknown"), ({"trip_a": None}, "unknown")])
def test_a_tie_too_small_or_not_known_is_no_spare_that_passes(fields, state: str) -> None:
    spare = make_plan(zoned(two_boards(**fields), "P1"), "z").spares[0]
    assert (spare.close, spare.state) == (("T",), state)


def test_a_read_load_above_the_tie_fails() -> None:
    d = change(two_boards(trip_a=20.0), "L", readings=(Reading(when="2026-01-01", a_a=24.0, b_a=24.0, c_a=24.0),))
    assert make_plan(zoned(d, "P1"), "z").spares[0].state in ("fail", "unknown")


def test_where_nothing_else_feeds_it_says_so() -> None:
    (spare,) = make_plan(zoned(small_shop(suspect=True), "board"), "z").spares
    assert (spare.device, spare.close, spare.state) == ("M", (), "fail")
    assert "temporary supply" in spare.says


def test_a_transfer_switch_to_a_generator_is_a_spare() -> None:
    plan = make_plan(zoned(standby_shop(), "board"), "z")
    found = [s for s in plan.spares if s.device == "M" and s.close]
    assert [(s.close, s.feeds, s.source) for s in found] == [(("T",), ("P",), "G")]


def test_a_generator_that_runs_is_stopped_once_its_load_is_off() -> None:
    """Common practice, no source: shed before stopping; nobody drops a building by the stop button."""
    d = change(standby_shop(), "T", position="alternate")
    plan = make_plan(zoned(d, "P", isolation=("F", "GB")), "z")
    order, steps = order_of(plan), {s.key: s for s in plan.steps}
    assert order.index("shed:P") < order.index("inhibit:G") < order.index("open:GB")
    assert steps["inhibit:G"].dark == ()
    assert steps["open:GB"].current.at_most == 0
    assert order.index("close:GB") < order.index("enable:G")


def test_neutrals_are_clamped_before_they_are_lifted() -> None:
    """SW-7."""
    card = make_plan(zoned(small_shop(), "board"), "z").cards[0]
    assert any("neutral is lifted" in n for n in card.notes)
    delta = make_plan(zoned(change(small_shop(), "S", system="480D"), "board"), "z").cards[0]
    assert not any("neutral" in n for n in delta.notes)


def test_deepest_first_and_back_from_the_main_on() -> None:
    """SW-3 (6), (7) and its closing order."""
    rows = (Circuit(space=1, va=900.0),)
    d = drawn(
        ("service", "S", WYE), ("disconnect", "M", {**BREAKER, "service_disconnect": True}),
        ("bus", "board", {"form": "gutter"}), ("disconnect", "F", BREAKER), ("bus", "P", {"circuits": rows}),
        ("disconnect", "G", BREAKER), ("bus", "Q", {"circuits": rows}),
        ("disconnect", "H", BREAKER), ("bus", "R", {"circuits": rows}),
        joints="S.out-M.line, M.load-board.bus, board.bus-F.line, F.load-P.bus, P.bus-G.line, G.load-Q.bus, Q.bus-H.line, "
        "H.load-R.bus",
    )  # fmt: skip
    order = order_of(make_plan(zoned(d, "board"), "z"))
    assert [k for k in order if k.startswith("open:")] == ["open:H", "open:G", "open:F", "open:M"]
    assert [k for k in order if k.startswith("close:")] == ["close:M", "close:F", "close:G", "close:H"]
    assert [k for k in order if k.startswith("shed:")] == ["shed:R", "shed:Q", "shed:P"]


def test_a_transfer_switch_is_held_until_it_is_enabled() -> None:
    """SW-3, closing: transfer switches back to automatic at the very last."""
    plan = make_plan(zoned(standby_shop(), "P", isolation=("T",)), "z")
    steps = {s.key: s for s in plan.steps}
    assert steps["open:T"].positions["T/normal"] is False
    assert steps["open:T"].positions["T/alternate"] is False
    assert steps["close:T"].positions == {"T/normal": True, "T/alternate": False}
    assert steps["enable:T"].positions == {}
    assert {s.lock for s in plan.steps if s.item == "T" and s.action in ("inhibit", "lock")} == {"", "L1"}


def test_what_is_still_on_when_the_utility_opens_is_said() -> None:
    d = drawn(
        ("service", "S", WYE), ("bus", "gutter", {"form": "gutter", "all_listed": True}), ("disconnect", "M", BREAKER),
        ("load", "pump", {"va": 3000.0, "phases": "ABC"}), ("load", "L", {"va": 900.0, "phases": "ABC"}),
        joints="S.out-gutter.bus, gutter.bus-pump.in, gutter.bus-M.line, M.load-L.in",
    )  # fmt: skip
    plan = make_plan(zoned(d, "gutter"), "z")
    step = next(s for s in plan.steps if s.key == "utility:S")
    assert (step.dark, step.state) == (("pump",), "judge")
    assert "pump still on" in step.why
    assert {i.item for i in plan.dark} == {"pump", "L"}
