"""Computed switching orders of random buildings: against networkx as the independent oracle of what is live, and against
every other order of opening, searched exhaustively."""

from __future__ import annotations

import random
from functools import cache
from itertools import permutations

import pytest
from outage_drawings import zoned
from random_building import building, sources_at

from oneline.model import Connection, Disconnect, TransferSwitch
from oneline.outage.ability import DOUBTFUL
from oneline.outage.devices import _device, arranged, at_its_turn
from oneline.outage.plan import make_plan, outage_of, with_isolation
from oneline.study.context import Context


def planned(seed: int, **how):
    d = building(seed, **how)
    rng = random.Random(seed + 1)
    worth = [i.id for i in d.items.values() if not isinstance(i, Connection) and i.kind not in ("service", "generator")]
    d = zoned(d, *rng.sample(worth, rng.choice((1, 1, 2))))
    return d, make_plan(d, "z")


@pytest.mark.parametrize("first", range(0, 240, 40))
def test_dead_by_the_drawing_when_the_tests_begin_and_as_before_at_the_end(first: int) -> None:
    isolated = 0
    for seed in range(first, first + 40):
        d, plan = planned(seed, devices=random.Random(seed).randint(4, 14))
        if plan.answer.state != "isolated":
            continue
        isolated += 1
        zone = set(plan.answer.zone.items)
        order = [s.key for s in plan.steps]
        tests = [s for s in plan.steps if s.action in ("test", "ground", "work")]
        assert any(s.action == "test" for s in tests)
        for step in tests:
            assert not sources_at(d, zone, dict(step.positions)), (seed, step.key)
        assert plan.steps[-1].positions == {}, seed
        # A card says 0 V without a word exactly where nothing can reach the terminal past what is locked.
        locked = {s.item for s in plan.steps if s.lock}
        held = {k: v for k, v in tests[0].positions.items() if k.partition("/")[0] in locked}
        for card in plan.cards:
            can = sources_at(d, {card.item}, held, card.terminal)
            assert set(card.live_from) <= can
            assert bool(can) == any(p.expected != "0 V" for p in card.pairs), (seed, card.item, card.terminal)
        assert len(set(order)) == len(order)
        # What is switched off or opened is given back, after it, once.
        for key in order:
            verb, _, what = key.partition(":")
            back = {"open": "close", "shed": "restore", "stop": "start", "inhibit": "enable", "lock": "unlock"}.get(
                verb
            )
            if back:
                assert order.index(key) < order.index("work:z") < order.index(f"{back}:{what}"), (seed, key)
        lost = [i for s in plan.steps for i in s.dark]
        found = [i for s in plan.steps for i in s.back]
        assert set(lost) <= set(found), seed
        assert {i.item for i in plan.dark} == set(lost)
        assert all(i.last_step is not None and i.first_step < i.last_step for i in plan.dark)
        assert not plan.problems
    assert isolated >= 15


@pytest.mark.parametrize("first", range(0, 240, 60))
def test_no_source_is_stopped_while_it_feeds_what_could_have_been_switched_off(first: int) -> None:
    """Nor is what was stopped running when the device ahead of it is closed: its start comes after every closing that
    has it on one side, by networkx."""
    stopped = 0
    for seed in range(first, first + 60):
        d, plan = planned(seed, devices=random.Random(seed).randint(4, 14))
        started: set[str] = set()
        gone: set[str] = set()
        for step in plan.steps:
            if step.key.startswith("stop:") or (step.key.startswith("inhibit:") and step.dark):
                stopped += 1
                for lost in map(d.get, step.dark):
                    assert not getattr(lost, "control", None), (seed, step.key, lost.id)
                    assert not getattr(lost, "circuits", ()), (seed, step.key, lost.id)
            if step.key.startswith("stop:"):
                gone.add(step.item)
            if step.key.startswith("start:"):
                started.add(step.item)
            if step.key.startswith("close:"):
                assert not started & sources_at(d, {step.item}, dict(step.positions)) & gone, (seed, step.key)
    assert stopped >= 5


@pytest.mark.parametrize("seed", range(60))
def test_restoring_backwards_passes_through_the_same_positions(seed: int) -> None:
    """Where nothing generates: the positions on the way back are those of the way out, in reverse (common practice, no
    source: restore in reverse)."""
    d, plan = planned(seed, devices=7)
    if plan.answer.state != "isolated" or any(i.kind in ("solar", "battery", "generator") for i in d.items.values()):
        return
    ways: dict[str, list[frozenset]] = {"open": [], "close": []}
    for step in plan.steps:
        verb = step.key.partition(":")[0]
        if verb in ways:
            ways[verb].append(frozenset(step.positions.items()))
    standing = {k: False for p in plan.isolation.points if p.is_open for k in p.keys}
    opened = [frozenset(), *ways["open"]]
    assert [frozenset(dict(w) | standing) for w in opened[:-1]] == [
        frozenset(dict(w) | standing) for w in reversed(ways["close"])
    ]


def risks(outage, order) -> list[int]:
    """How doubtful each opening is, in an order, all that can be shed off and all inverters stopped."""
    moment = outage.scene.begin(outage.held, (g.id for g in outage.inhibited))
    moment = moment.after(shed=[i.id for i in (*outage.loads, *outage.panels)], stop=outage.stopped)
    found = []
    for device in order:
        found.append(at_its_turn(moment, device)[1])
        moment = moment.after(device.opens)
    return found


def best_of_all(outage) -> int:
    """The least risk of any order of any devices after which every isolation point is open: every set of open devices is
    looked at, with every device that may have been the last."""
    scene = outage.scene
    points = [d for d in outage.devices if d.point is not None]
    others = [
        _device(scene, i.id, None) for i in scene.ctx.drawing.of(Disconnect)
        if i.closed and i.id not in {d.item.id for d in points}
    ]  # fmt: skip
    devices = (*points, *others)
    start = scene.begin(outage.held, (g.id for g in outage.inhibited))
    start = start.after(shed=[i.id for i in (*outage.loads, *outage.panels)], stop=outage.stopped)

    @cache
    def risk(opened: frozenset[int], n: int) -> int:
        moment = start
        for other in opened:
            moment = moment.after(devices[other].opens)
        return at_its_turn(moment, devices[n])[1]

    @cache
    def best(opened: frozenset[int]) -> int:
        """Least risk on any way to this set."""
        if not opened:
            return 0
        return min(max(best(opened - {n}), risk(opened - {n}, n)) for n in opened)

    everything = range(len(devices))
    wanted = frozenset(range(len(points)))
    sets = [wanted | frozenset(n for n in everything if bits >> n & 1) for bits in range(1 << len(devices))]
    return min(best(s) for s in set(sets))


@pytest.mark.parametrize("first", range(0, 160, 40))
def test_nothing_is_opened_beyond_its_ability_where_another_order_avoids_it(first: int) -> None:
    """Any way to isolate is taken, the dear ones too, so that devices that break no load are among the points."""
    hard = helped = 0
    for seed in range(first, first + 40):
        d, plan = planned(seed, devices=random.Random(seed).randint(3, 6))
        for isolation in plan.answer.alternatives[:4]:
            ctx = Context(d, "existing", 2023)
            outage = outage_of(ctx, plan.answer, isolation)
            order = [device for part in arranged(outage) for device in part]
            mine = max(risks(outage, order), default=0)
            said = [s for s in with_isolation(ctx, plan.answer, isolation).steps if s.action == "open"]
            assert ("fail" in [s.state for s in said]) <= (mine >= DOUBTFUL), seed
            helped += bool(outage.helpers)
            if mine >= DOUBTFUL:
                hard += 1
                assert best_of_all(outage) >= DOUBTFUL, (seed, [d.item.id for d in order])
    assert helped >= 1
    assert hard >= 1


@pytest.mark.parametrize("seed", range(0, 400, 10))
def test_every_permutation_of_three_devices_is_no_better(seed: int) -> None:
    d, plan = planned(seed, devices=4)
    if plan.isolation is None or not plan.steps:
        return
    outage = outage_of(Context(d, "existing", 2023), plan.answer, plan.isolation)
    order = [device for part in arranged(outage) for device in part]
    if len(order) > 4:
        return
    mine = max(risks(outage, order), default=0)
    every = [max(risks(outage, other), default=0) for other in permutations(order)]
    assert mine < DOUBTFUL or min(every) >= DOUBTFUL


@pytest.mark.parametrize("seed", range(40))
def test_an_untraced_tie_at_the_zone_makes_the_plan_unknown_by_name(seed: int) -> None:
    d = building(seed, devices=6, untraced=True)
    (tie,) = [i for i in d.items.values() if i.kind == "tie"]
    plan = make_plan(zoned(d, tie.a.item), "z")
    assert plan.answer.state in ("unknown", "not here")
    assert any(tie.name in said for said in plan.answer.unknown) or plan.answer.state == "not here"


def test_transfer_switches_are_somewhere_in_these_buildings() -> None:
    found = [sum(1 for _ in building(s, devices=12).of(TransferSwitch)) for s in range(30)]
    assert sum(found) >= 15
