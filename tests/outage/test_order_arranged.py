"""Orders arranged by hand: each bad thing is found, with the steps that must come first. The order itself is common
practice, no source; that locks hang before tests, tests are done before work and people are clear before locks come off
follows NFPA 70E 120.6 and 29 CFR 1910.333(b)(2), restated."""

from __future__ import annotations

import random

import pytest
from outage_drawings import drawn, small_shop, zoned
from random_building import building

from oneline.model import Circuit, Connection
from oneline.outage.plan import make_plan, reorder

WYE = {"system": "208Y/120"}
BREAKER = {"form": "breaker", "trip_a": 200.0, "lockable": True}


def shop():
    """Main, board, a feeder to a transfer switch with a generator, a roof array, a motor behind a breaker."""
    rows = (Circuit(space=1, va=900.0, care="fire alarm"), Circuit(space=3, va=5000.0))
    return drawn(
        ("service", "S", WYE), ("disconnect", "M", {**BREAKER, "service_disconnect": True}),
        ("bus", "board", {"form": "gutter"}), ("disconnect", "F", BREAKER),
        ("transfer", "T", {"automatic": True, "rating_a": 200.0, "lockable_off": True}),
        ("generator", "G", {**WYE, "kva": 45.0}), ("disconnect", "GB", BREAKER),
        ("bus", "P", {"circuits": rows}), ("disconnect", "A", BREAKER),
        ("solar", "PV", {"output_a": 40.0, "phases": "ABC"}), ("disconnect", "B", {**BREAKER, "trip_a": 60.0}),
        ("load", "motor", {"load_class": "motor", "va": 9000.0, "phases": "ABC", "control": "its starter"}),
        joints="S.out-M.line, M.load-board.bus, board.bus-F.line, F.load-T.normal, G.out-GB.line, GB.load-T.alternate, "
        "T.load-P.bus, board.bus-A.line, A.load-PV.out, board.bus-B.line, B.load-motor.in",
    )  # fmt: skip


@pytest.fixture(scope="module")
def planned():
    return zoned(shop(), "board", work_min=60)


@pytest.mark.parametrize(
    ("step", "before", "about", "first", "words"),
    [
        ("open:M", "open:B", "open:M", {"stop:PV"}, "40 A"),
        ("open:B", "shed:motor", "open:B", {"shed:motor"}, "25 A"),
        ("open:F", "shed:P", "open:F", {"shed:P"}, "opened while"),
        ("open:A", "stop:PV", "open:A", {"stop:PV"}, "40 A"),
        ("lock:M", "open:M", "lock:M", {"open:M"}, "before it is open"),
        ("test:board:bus", "lock:M", "test:board:bus", {"lock:M"}, "too early"),
        ("work:z", "test:board:bus", "work:z", {"test:board:bus"}, "too early"),
        ("close:M", "work:z", "close:M", {"work:z", "clear:people"}, "onto people"),
        ("close:M", "unlock:M", "close:M", {"unlock:M"}, "lock still on"),
        ("unlock:M", "clear:people", "unlock:M", {"clear:people"}, "people are at it"),
        ("unlock:M", "work:z", "unlock:M", {"work:z"}, "people are at it"),
        ("inhibit:T", "lock:M", "open:F", {"inhibit:T"}, "act by itself"),
        ("inhibit:G", "lock:M", "open:F", {"inhibit:G"}, "act by itself"),
        ("start:PV", "close:M", "start:PV", {"close:M"}, "before the main is back"),
        ("enable:G", "close:M", "enable:G", {"close:M"}, "before the main is back"),
        ("enable:T", "close:F", "enable:T", {"close:F"}, "before the main is back"),
        ("close:F", "verify:M", "close:F", {"verify:M"}, "rotation"),
        ("restore:P", "close:F", "restore:P", {"close:F"}, "is back before"),
        ("tell:occupants", "open:M", "shed:P", {"tell:occupants"}, "before people were told"),
        ("care:P:1", "open:M", "shed:P", {"care:P:1"}, "looked after"),
        ("measure:B", "work:z", "open:B", {"measure:B"}, "nothing flows then"),
        ("shed:P", None, "restore:P", {"shed:P"}, "before"),
        ("ground:zone", "test:board:bus", "ground:zone", {"test:board:bus"}, "tested"),
        ("verify:locks", "lock:M", "verify:locks", {"lock:M"}, "before all hang"),
        ("clear:people", "work:z", "clear:people", {"work:z"}, "before the work is done"),
        ("verify:locks", "ground:zone", "test:board:bus", {"verify:locks"}, "check the locks"),
        ("discharge:stored", "ground:zone", "test:board:bus", {"discharge:stored"}, "stored energy"),
        ("clear:people", "clear:tools", "clear:people", {"clear:tools"}, "count the tools"),
        ("verify:loads", "close:M", "verify:loads", {"close:M"}, "too early"),
        ("tell:done", "close:M", "tell:done", {"close:M"}, "too early"),
    ],
)
def test_each_bad_thing_is_explained(planned, step, before, about, first, words) -> None:
    plan = make_plan(reorder(planned, "z", step, before), "z")
    found = [p for p in plan.problems if p.step == about and first <= set(p.first)]
    if words is not None:
        found = [p for p in found if words in p.says]
    assert found, plan.problems
    # And with what is asked for done first, nothing is wrong any more.
    assert not make_plan(planned, "z").problems


def test_an_order_that_is_as_good_raises_nothing(planned) -> None:
    """Which of two tests is first, and which of two clamp readings, is nobody's business."""
    keys = [s.key for s in make_plan(planned, "z").steps]
    tests = [k for k in keys if k.startswith("test:")]
    reads = [k for k in keys if k.startswith("measure:")]
    for later, earlier in ((tests[-1], tests[0]), (reads[-1], reads[0])):
        plan = make_plan(reorder(planned, "z", later, earlier), "z")
        assert [s.key for s in plan.steps] != keys
        assert not plan.problems


def test_a_generator_is_not_started_onto_a_breaker_that_is_still_to_be_closed() -> None:
    """A generator on the board without a transfer switch: in the computed order it starts when its breaker is closed."""
    d = drawn(
        ("service", "S", WYE), ("disconnect", "M", BREAKER), ("bus", "board", {"form": "gutter", "all_listed": True}),
        ("disconnect", "GB", BREAKER), ("generator", "G", {**WYE, "kva": 45.0}),
        ("load", "L", {"va": 900.0, "phases": "ABC"}),
        joints="S.out-M.line, M.load-board.bus, board.bus-GB.line, GB.load-G.out, board.bus-L.in",
    )  # fmt: skip
    d = zoned(d, "board")
    assert not make_plan(d, "z").problems
    assert "in parallel" not in " ".join(s.why for s in make_plan(d, "z").steps)
    plan = make_plan(reorder(d, "z", "enable:G", "close:GB"), "z")
    assert any("puts S and G in parallel" in p.says and p.step == "close:GB" for p in plan.problems)


def test_keys_of_steps_that_are_gone_are_left_out_with_a_word(planned) -> None:
    keys = [s.key for s in make_plan(planned, "z").steps]
    d = zoned(shop(), "board", work_min=60, order=("open:gone", *keys))
    plan = make_plan(d, "z")
    assert [s.key for s in plan.steps] == keys
    assert [p.step for p in plan.problems] == ["open:gone"]


@pytest.mark.parametrize("seed", range(12))
def test_missing_steps_come_back_at_their_computed_place(planned, seed: int) -> None:
    keys = [s.key for s in make_plan(planned, "z").steps]
    kept = [k for k in keys if random.Random(seed).random() < 0.6 or k.startswith("work")]
    plan = make_plan(zoned(shop(), "board", work_min=60, order=tuple(kept)), "z")
    assert [s.key for s in plan.steps] == keys
    assert not plan.problems


@pytest.mark.parametrize("seed", range(25))
def test_any_arrangement_is_simulated_whole(seed: int) -> None:
    """Whatever is moved where: the same steps, numbered, each positions after it; only what a person did is in the order."""
    rng = random.Random(seed)
    d = building(seed, devices=8)
    d = zoned(d, rng.choice([i.id for i in d.items.values() if not isinstance(i, Connection)]))
    before = make_plan(d, "z")
    if not before.steps:
        return
    keys = [s.key for s in before.steps]
    for _ in range(4):
        d = reorder(d, "z", rng.choice(keys), rng.choice([*keys, None]))
    after = make_plan(d, "z")
    assert sorted(s.key for s in after.steps) == sorted(keys)
    assert [s.number for s in after.steps] == list(range(1, len(keys) + 1))
    assert after.dark == () or all(i.name for i in after.dark)
    assert all(set(p.first) <= set(keys) for p in after.problems)


def test_reorder_knows_its_steps(planned) -> None:
    with pytest.raises(KeyError):
        reorder(planned, "z", "open:nothing", None)
    with pytest.raises(KeyError):
        reorder(planned, "nothing", "open:M", None)
    assert reorder(planned, "z", "open:M", "open:M") is planned


def test_small_shop_has_no_problems_of_its_own() -> None:
    assert not make_plan(zoned(small_shop(), "board"), "z").problems
