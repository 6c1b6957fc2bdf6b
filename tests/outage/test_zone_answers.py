"""Isolation points of drawings worked out by hand, and what the answer says where nobody can isolate or nobody knows.

Statements of the rules of switching: 29 CFR 1910.333(b)(2) (disconnected from all electric energy sources; lock and tag on
each disconnecting means), 404.6(C) (blades that may be energized when open), and common practice of the trade where marked.
"""

from __future__ import annotations

import random
from dataclasses import replace
from types import MappingProxyType

import pytest
from outage_sketch import Supply, zone_of
from switching import (
    Joined,
    energy_places,
    join,
    may_open,
    random_supply,
    reaching,
    reaching_in_any_position,
    switch_positions,
    terminals,
)

from oneline.model import Circuit, Drawing, TransferSwitch
from oneline.network.isolation import Cut, Cuts
from oneline.outage import points as points_module
from oneline.outage.isolate import isolation_of, zone_answer
from oneline.outage.plan import plan_of
from oneline.study.context import Context


def building() -> Supply:
    """Service, main, board; array behind a breaker and a switch; transfer switch with a generator; standby panel."""
    s = Supply()
    s.put("service", "Utility")
    s.put("generator", "Generator")
    s.put("solar", "Array")
    s.put("disconnect", "Main", "Array breaker", "Standby feeder", "Generator breaker", "Feeder P")
    s.put("disconnect", "Array switch", form="switch")
    s.put("transfer", "Transfer switch")
    s.put("bus", "Board", "Standby panel")
    s.put("bus", "Panel P", circuits=(Circuit(1, traced="traced", va=100.0),))
    s.chain("Utility", "Main", "Board", "Standby feeder", "Transfer switch.normal")
    s.chain("Generator", "Generator breaker", "Transfer switch.alternate")
    s.chain("Transfer switch", "Standby panel")
    s.chain("Board", "Array breaker", "Array switch", "Array")
    s.chain("Board", "Feeder P", "Panel P")
    return s


def best(s: Supply, *items: str) -> set[str]:
    answer = zone_answer(s.context(), zone_of(*items))
    assert answer.state == "isolated", answer.unknown or answer.blocked
    assert answer.best is not None
    return set(answer.best.items)


def test_service_solar_and_generator():
    """By hand: the generator stands behind the transfer switch, which never joins its supplies, so it cannot feed the board;
    the array can. The standby panel has both supplies of the transfer switch against it."""
    s = building()
    assert best(s, "Board") == {"Main", "Array breaker"}
    assert best(s, "Standby panel") == {"Standby feeder", "Generator breaker"}
    assert best(s, "Panel P") == {"Feeder P"}
    # The way from the array is its own: what stands on it has to part the array and the rest.
    assert best(s, "Array breaker") == {"Main", "Array switch"}


def test_what_a_point_says():
    """SW-2: device, place, lock number, source, and whether both of its sides stay live (SW-10: 404.6(C))."""
    s = building()
    s.change("Main", location="Basement", lockable=True, suspect=False)
    answer = zone_answer(s.context(), zone_of("Board"))
    points = {p.item: p for p in answer.best.points}
    main, array = points["Main"], points["Array breaker"]
    assert (main.name, main.location, main.keys, main.is_open) == ("Main", "Basement", ("Main",), False)
    assert {main.lock, array.lock} == {"L1", "L2"}
    assert main.parts_from == ("Utility",)
    assert array.parts_from == ("Array",)
    assert main.live_sides == {"line": ("Utility",)}
    assert array.live_sides == {"load": ("Array",)}
    # With the board alone parted from the array, the blades of the array breaker are live on the load side only; with
    # the panel below parted, its feeder is live on the line side from both.
    feeder = zone_answer(s.context(), zone_of("Panel P")).best.points[0]
    assert set(feeder.live_sides["line"]) == {"Utility", "Array"}
    assert set(feeder.parts_from) == {"Utility", "Array"}
    assert main.why == ("one thing loses power with it alone",)  # the array follows the grid and stops with it


def test_a_switch_live_on_both_sides_when_open():
    """404.6(C): an open switch between two supplies has both sides live."""
    s = main_tie_main()
    s.change("Tie", closed=False)
    answer = zone_answer(s.context(), zone_of("Board 1"))
    tie = next(p for p in answer.best.points if p.item == "Tie")
    assert tie.is_open
    assert tie.live_sides == {"load": ("Utility 2",)}
    outer = zone_answer(s.context(), zone_of("Board 1"))
    assert outer.best.items == ("Main 1", "Tie")
    # The feeder between two live boards: both of its breakers are open, each live on the outer side only.
    both = isolation_of(s.context(), zone_of("Board 1", isolation=("Tie",)), answer)
    assert both.points[0].live_sides == {"line": ("Utility 1",), "load": ("Utility 2",)}


def main_tie_main() -> Supply:
    s = Supply()
    s.put("service", "Utility 1", "Utility 2")
    s.put("disconnect", "Main 1", "Main 2")
    s.put("disconnect", "Tie", normally_open=True)
    s.put("bus", "Board 1", "Board 2")
    s.chain("Utility 1", "Main 1", "Board 1", "Tie", "Board 2")
    s.chain("Utility 2", "Main 2")
    s.chain("Main 2", "Board 2")
    return s


@pytest.mark.parametrize("closed", [True, False])
def test_main_tie_main(closed):
    """By hand: one board has its main and the tie against it, whatever position the tie is in; the tie cannot isolate
    itself, so both mains are needed for it; both boards together need both mains and not the tie."""
    s = main_tie_main()
    s.change("Tie", closed=closed)
    assert best(s, "Board 1") == {"Main 1", "Tie"}
    assert best(s, "Tie") == {"Main 1", "Main 2"}
    assert best(s, "Board 1", "Board 2") == {"Main 1", "Main 2"}


def test_a_second_service_is_not_touched_by_the_first_main():
    """SW-8, common practice, no source: what is locked at one service leaves the other one live."""
    s = main_tie_main()
    s.change("Tie", closed=False)
    answer = zone_answer(s.context(), zone_of("Board 1"))
    assert "Board 2" not in answer.best.dead
    assert "Main 2" not in answer.best.dead
    assert "Board 1" in answer.best.dead


def test_tap_ahead_of_the_main():
    """SW-8: the utility's side stays live. By hand: conductors tapped ahead of the main have no device before them; the
    array that is connected there has its own switch, which has to be opened besides."""
    s = building()
    s.put("bus", "Gutter", form="gutter")
    s.put("disconnect", "Tap switch", form="fused switch")
    s.put("battery", "Battery")
    s.drawing = s.drawing.with_items(removed=["Utility to Main"])
    s.run("Service conductors", "Utility", "Gutter")
    s.chain("Gutter", "Main")
    s.run("Tap", "Gutter", "Tap switch")
    s.chain("Tap switch", "Battery")
    answer = zone_answer(s.context(), zone_of("Tap"))
    assert answer.state == "not here"
    assert answer.best is None
    assert isolation_of(s.context(), zone_of("Tap"), answer) is None
    (blocked,) = answer.blocked
    assert blocked.source == "Utility"
    assert blocked.says.startswith("Only the utility can make this dead")
    assert "Service conductors" in blocked.says
    assert blocked.path == ("Service conductors",)
    # The tap switch stands in the tap's other end: it parts the battery; the array comes through the main.
    assert {p.item for p in answer.besides[0].points} == {"Tap switch", "Main"} or {
        p.item for p in answer.besides[0].points
    } == {"Tap switch", "Array breaker"}


def test_a_zone_behind_the_meter_only():
    s = Supply()
    s.put("service", "Utility")
    s.put("meter", "Meter")
    s.put("disconnect", "Main")
    s.chain("Utility", "Meter", "Main")
    for item in ("Meter", "Main"):
        answer = zone_answer(s.context(), zone_of(item))
        assert answer.state == "not here"
        assert answer.blocked[0].says.startswith("Only the utility")


@pytest.mark.parametrize(
    ("kind", "words"),
    [("generator", "as its maker says"), ("solar", "as long as there is light"), ("battery", "stored energy")],
)
def test_sources_that_nothing_parts(kind, words):
    """SW-3: a generator is stopped and locked by its own means; an inverter's ac side is live while there is light or
    stored energy (common practice, no source)."""
    s = building()
    s.put(kind, "Extra")
    s.chain("Panel P", "Extra")
    answer = zone_answer(s.context(), zone_of("Panel P"))
    assert answer.state == "not here"
    assert [b.source for b in answer.blocked] == ["Extra"]
    assert words in answer.blocked[0].says
    assert answer.blocked[0].path == ()
    assert set(answer.besides[0].items) == {"Feeder P"}
    # A source in the zone itself is no different.
    assert zone_answer(s.context(), zone_of("Extra")).state == "not here"


def test_panel_with_a_back_fed_array_breaker():
    s = Supply()
    s.put("service", "Utility")
    s.put("solar", "Array")
    s.put("disconnect", "Feeder")
    s.put("disconnect", "Array breaker", back_fed=True, lockable=False)
    s.put("bus", "Panel")
    s.chain("Utility", "Feeder", "Panel", "Array breaker", "Array")
    assert best(s, "Panel") == {"Feeder", "Array breaker"}
    s.put("disconnect", "Array switch", form="switch", load_break=True, lockable=True, suspect=False)
    s.drawing = s.drawing.with_items(removed=["Array breaker to Array"])
    s.chain("Array breaker", "Array switch", "Array")
    assert best(s, "Panel") == {"Feeder", "Array switch"}  # the breaker cannot be locked


def test_transformer_fed_from_its_secondary():
    """SW-1: transformers both ways. By hand: the primary conductors have the primary device against the utility and the
    secondary device against the battery behind the transformer."""
    s = Supply()
    s.put("service", "Utility")
    s.put("battery", "Battery")
    s.put("transformer", "Transformer")
    s.put("disconnect", "Primary", "Secondary", "Battery breaker")
    s.put("bus", "Board", "Panel")
    s.chain("Utility", "Board", "Primary")
    s.run("Primary conductors", "Primary", "Transformer")
    s.chain("Transformer", "Secondary", "Panel", "Battery breaker", "Battery")
    # At equal cost the device nearer to the zone is taken.
    assert best(s, "Primary conductors") == {"Primary", "Secondary"}
    assert best(s, "Transformer") == {"Primary", "Secondary"}
    assert best(s, "Panel") == {"Secondary", "Battery breaker"}
    s.drawing = s.drawing.with_items(removed=["Board to Primary"])
    s.chain("Board", "Primary")
    s.change("Secondary", lockable=False)
    assert best(s, "Transformer") == {"Primary", "Battery breaker"}


# ------------------------------------------------------------------------------------------------- ranking
def test_what_opening_costs_decides():
    """SW-2 and SW-4, the order of the reasons common practice, no source: a device that can be locked, that breaks load and
    that closes again is preferred; and one that leaves fewer things without power."""
    s = Supply()
    s.put("service", "Utility")
    s.put("disconnect", "Main", "Feeder", "Local", form="switch", load_break=True, lockable=True, suspect=False)
    s.put("bus", "Board", "Middle")
    s.put("load", "Pump", "Fan")
    s.chain("Utility", "Main", "Board", "Feeder", "Middle", "Local", "Pump")
    s.chain("Board", "Fan")
    assert [i.items for i in zone_answer(s.context(), zone_of("Pump")).alternatives] == [
        ("Local",), ("Feeder",), ("Main",),
    ]  # fmt: skip
    for worse in ({"lockable": False}, {"load_break": False}, {"suspect": True}):
        kept = s.drawing
        s.change("Local", **worse)
        assert best(s, "Pump") == {"Feeder"}, worse
        s.drawing = kept
    s.change("Main", lockable=False)
    # What nobody said counts against a device, less than what is known to be bad.
    for unsaid in ({"lockable": None}, {"load_break": None}, {"suspect": None}):
        kept = s.drawing
        s.change("Local", **unsaid)
        (field,) = unsaid
        assert best(s, "Pump") == {"Feeder"}
        s.change("Feeder", **{field: field == "suspect"})
        assert best(s, "Pump") == {"Local"}
        s.drawing = kept
    # The main takes the fan too.
    s.change("Main", lockable=True)
    s.change("Local", lockable=False)
    s.change("Feeder", lockable=False)
    ranked = zone_answer(s.context(), zone_of("Pump")).alternatives
    assert ranked[0].items == ("Main",)
    assert any("2 things lose power" in why for why in ranked[0].points[0].why)
    # Open already: nothing is lost by it.
    s.change("Feeder", closed=False, lockable=True)
    assert best(s, "Pump") == {"Feeder"}


def test_a_transfer_switch_with_a_lockable_off_position():
    s = building()
    assert best(s, "Standby panel") == {"Standby feeder", "Generator breaker"}
    s.change("Transfer switch", lockable_off=True)
    answer = zone_answer(s.context(), zone_of("Standby panel"))
    assert answer.best.items == ("Transfer switch",)
    assert set(answer.best.points[0].parts_from) == {"Utility", "Generator", "Array"}
    assert set(answer.best.points[0].keys) == {"Transfer switch/normal", "Transfer switch/alternate"}
    assert best(s, "Transfer switch") == {"Standby feeder", "Generator breaker"}  # it cannot isolate itself


def test_at_most_five_alternatives_the_best_first():
    s = Supply()
    s.put("service", "Utility")
    s.put("load", "Pump")
    s.put("disconnect", *(f"Switch {k}" for k in range(8)))
    s.chain("Utility", *(f"Switch {k}" for k in range(8)), "Pump")
    s.change("Switch 3", lockable=True)
    answer = zone_answer(s.context(), zone_of("Pump"))
    assert len(answer.alternatives) == 5
    assert answer.best.items == ("Switch 3",)
    costs = [i.cost for i in answer.alternatives]
    assert costs == sorted(costs)


# ------------------------------------------------------------------------------------------------- unknown
def test_nothing_chosen_and_nothing_there():
    s = building()
    assert zone_answer(s.context(), zone_of()).state == "unknown"
    answer = zone_answer(s.context(), zone_of("Board", "Gone"))
    assert answer.state == "unknown"
    assert answer.missing == ("Gone",)
    assert any("Gone" in says for says in answer.unknown)
    s.change("Panel P", status="new")
    assert zone_answer(s.context(), zone_of("Panel P")).missing == ("Panel P",)
    assert zone_answer(s.context("proposed"), zone_of("Panel P")).state == "isolated"


def test_something_untraced_at_the_zone():
    """SW-1: anything untraced that touches the zone makes the result unknown, by name."""
    for b in ("", "Standby panel"):
        s = building()
        s.tie("Old cable", "Panel P", b)
        answer = zone_answer(s.context(), zone_of("Panel P"))
        assert answer.state == "unknown"
        assert any("Old cable" in says for says in answer.unknown)
    s.change("Old cable", traced="traced")  # known where it leads: then it is a way like any other
    assert best(s, "Panel P") == {"Feeder P", "Standby feeder", "Generator breaker"}
    s.change("Old cable", traced="labeled only")
    assert zone_answer(s.context(), zone_of("Panel P")).state == "unknown"


def test_something_untraced_behind_a_device_is_parted_too():
    """What nobody traced counts as a source: where a device parts it from the zone, the device is opened."""
    s = building()
    s.tie("Old cable", "Panel P")
    assert best(s, "Board") == {"Main", "Array breaker", "Feeder P"}
    answer = zone_answer(s.context(), zone_of("Board"))
    assert next(p for p in answer.best.points if p.item == "Feeder P").parts_from == ("Old cable",)


def test_circuits_that_nobody_traced():
    """SW-9: label-only and untraced circuits of the zone are listed by number."""
    s = building()
    rows = (
        Circuit(1, traced="untraced"), Circuit(3, traced="untraced"), Circuit(2, traced="labeled only"), Circuit(4),
        Circuit(5, use="space"), Circuit(6, traced="traced"), Circuit(8, traced="labeled only"),
    )  # fmt: skip
    s.change("Panel P", circuits=rows)
    answer = zone_answer(s.context(), zone_of("Panel P"))
    assert answer.state == "unknown"
    assert answer.unknown == ("Nobody traced Panel P, circuits 1, 3.",)
    assert answer.listed == (
        "Panel P, circuits 2, 8: known only by the label.",
        "Panel P: nobody said of one circuit whether it was traced where it leads.",
    )
    # Seen from the board, the panel's feeder parts them.
    assert best(s, "Board") == {"Main", "Array breaker", "Feeder P"}
    assert zone_answer(s.context(), zone_of("Board")).listed == ()
    # A circuit whose device is drawn: that device parts it.
    s.put("disconnect", "Breaker 1")
    s.put("load", "Sign")
    s.chain("Panel P", "Breaker 1", "Sign")
    s.change("Panel P", circuits=(Circuit(1, traced="untraced", use="feeder", feeds="Breaker 1"),))
    assert best(s, "Panel P") == {"Feeder P", "Breaker 1"}
    assert zone_answer(s.context(), zone_of("Sign")).unknown == ("Nobody traced Panel P, circuit 1 (Breaker 1).",)


def test_a_supply_side_that_nobody_drew():
    s = building()
    s.put("transfer", "Old transfer switch")
    s.put("bus", "Old panel")
    s.put("disconnect", "Old feeder", "Old main")
    s.chain("Board", "Old feeder", "Old transfer switch.normal")
    s.chain("Old transfer switch", "Old main", "Old panel")
    answer = zone_answer(s.context(), zone_of("Old transfer switch"))
    assert answer.state == "unknown"
    assert answer.unknown == ("Nobody drew what feeds the alternate side of Old transfer switch.",)
    assert best(s, "Old panel") == {"Old main"}
    # Nothing at all feeds it on the drawing.
    s.put("bus", "Lost panel")
    answer = zone_answer(s.context(), zone_of("Lost panel"))
    assert answer.state == "unknown"
    assert "Lost panel" in answer.unknown[0]
    s.change("Lost panel", status="new")  # new work that is not connected yet
    assert zone_answer(s.context("proposed"), zone_of("Lost panel")).state == "isolated"


def test_what_a_device_feeds_that_nobody_drew_is_listed():
    s = building()
    s.put("disconnect", "Feeder X")
    s.chain("Board", "Feeder X")
    answer = zone_answer(s.context(), zone_of("Board"))
    assert answer.state == "isolated"
    assert "Nobody drew what is fed by Feeder X." in answer.listed
    # Its supply may land on its load side: then the missing side is a supply.
    s.change("Feeder X", back_fed=True)
    assert best(s, "Board") == {"Main", "Array breaker", "Feeder X"}


def test_a_transfer_switch_of_which_nobody_said_that_it_moves():
    s = building()
    s.change("Transfer switch", automatic=None)
    answer = zone_answer(s.context(), zone_of("Standby panel"))
    assert answer.state == "unknown"
    assert answer.unknown == ("Nobody said whether Transfer switch moves by itself.",)
    assert best(s, "Panel P") == {"Feeder P"}


def test_a_source_that_the_view_leaves_out_is_named():
    """What is drawn as new counts as not connected yet in a plan of the building as it stands; it is said."""
    s = building()
    s.put("battery", "New battery", status="new")
    s.put("disconnect", "New breaker", status="new")
    s.chain("Panel P", "New breaker", "New battery")
    said = "New battery is drawn as new: this plan counts it as not connected."
    assert said in zone_answer(s.context(), zone_of("Panel P")).listed
    assert said in zone_answer(s.context(), zone_of("Board")).listed
    assert said not in zone_answer(s.context(), zone_of("Standby panel")).listed
    answer = zone_answer(s.context("proposed"), zone_of("Panel P"))
    assert set(answer.best.items) == {"Feeder P", "New breaker"}
    assert answer.listed == ()


# ------------------------------------------------------------------------------------------------- chosen by hand
def test_devices_chosen_by_hand():
    s = building()
    ctx = s.context()
    answer = zone_answer(ctx, zone_of("Board"))
    good = isolation_of(ctx, zone_of("Board", isolation=("Main", "Array switch")), answer)
    assert good.items == ("Array switch", "Main")
    assert good.reached == ()
    assert good.unknown == ()
    bad = isolation_of(ctx, zone_of("Board", isolation=("Main",)), answer)
    assert [r.source for r in bad.reached] == ["Array"]
    assert "Array switch" in bad.reached[0].says
    assert "Array breaker" in bad.reached[0].says
    assert set(bad.reached[0].path) == {"Array breaker", "Array switch"}
    none = isolation_of(ctx, zone_of("Board", isolation=("Transfer switch",)), answer)
    assert {r.source for r in none.reached} == {"Utility", "Array"}
    assert any("Transfer switch" in says for says in none.unknown)
    assert isolation_of(ctx, zone_of("Board"), answer) == answer.best


def test_devices_chosen_by_hand_against_every_position():
    """Random choices: sources named as still reaching the zone are those that reach it in some position of the rest."""
    wrong = 0
    for seed in range(150):
        rng = random.Random(400_000 + seed)
        drawing = random_supply(rng, rng.randint(1, 7), traced="traced")
        ctx = Context(drawing, "existing", 2023)
        devices = [i.id for i in drawing.items.values() if i.kind == "disconnect" and rng.random() < 0.5]
        if not devices:
            continue
        zone = zone_of("bus0", isolation=tuple(devices))
        chosen = isolation_of(ctx, zone, zone_answer(ctx, zone))
        expected = reaching_in_any_position(drawing, devices, [("bus0", "bus")])
        assert {r.source for r in chosen.reached} == {s for s in expected if s.startswith("source")}, seed
        assert bool(chosen.unknown) == any(s.startswith("more") for s in expected), seed
        wrong += bool(chosen.reached)
    assert wrong > 30


# ------------------------------------------------------------------------------------------------- all positions
def answer_for(drawing: Drawing, *items: str):
    return zone_answer(Context(drawing, "existing", 2023), zone_of(*items))


@pytest.mark.parametrize("block", range(2))
def test_no_false_dead(block):
    """Random supplies, every position of every device that is not a point: nothing reaches a zone that is called isolated,
    nor any item that is called dead where only the points were moved."""
    states = dict.fromkeys(("isolated", "unknown", "not here"), 0)
    for number in range(150):
        seed = 300_000 + block * 1000 + number
        rng = random.Random(seed)
        drawing = random_supply(rng, rng.randint(1, 8), 9, traced="traced")
        items = rng.sample([i.id for i in drawing.items.values() if i.kind in ("bus", "run", "disconnect")], 1)
        answer = answer_for(drawing, *items)
        states[answer.state] += 1
        ends = [t for i in items for t in terminals(drawing.get(i))]
        left = reaching(drawing, {i.id for i in drawing.items.values() if may_open(i)}, ends)
        assert {b.source for b in answer.blocked} == {s for s in left if s.startswith("source")}, seed
        unfed = not reaching(drawing, (), ends)
        assert (answer.state == "unknown") == (unfed or any(s.startswith("more") for s in left)), seed
        if answer.state == "isolated":
            for isolation in answer.alternatives:
                assert not reaching_in_any_position(drawing, isolation.items, ends), seed
    assert all(states.values())


def test_an_untraced_tie_at_the_zone_turns_the_answer_to_unknown():
    turned = 0
    for seed in range(200):
        rng = random.Random(310_000 + seed)
        drawing = random_supply(rng, rng.randint(1, 8), 9, traced="traced")
        before = answer_for(drawing, "bus0")
        other = rng.choice(("", *(f"{i.id}.bus" for i in drawing.items.values() if i.kind == "bus" and i.id != "bus0")))
        after = answer_for(join(drawing, "bus0.bus", other, "tie", "inserted"), "bus0")
        assert after.state == "unknown", seed
        assert any("inserted" in says or "Suspected tie" in says for says in after.unknown), seed
        turned += before.state == "isolated"
    assert turned > 30


def test_drawing_order_does_not_matter():
    for seed in range(60):
        rng = random.Random(320_000 + seed)
        drawing = random_supply(rng, rng.randint(1, 12), 9)
        first = answer_for(drawing, "bus0")
        items = list(drawing.items.values())
        rng.shuffle(items)
        again = answer_for(replace(drawing, items=MappingProxyType({i.id: i for i in items})), "bus0")
        assert (again.state, set(again.unknown)) == (first.state, set(first.unknown)), seed
        assert [(i.items, i.cost, set(i.dead), set(i.dark)) for i in again.alternatives] == [
            (i.items, i.cost, set(i.dead), set(i.dark)) for i in first.alternatives
        ], seed
        assert [p.why for i in again.alternatives for p in i.points] == [
            p.why for i in first.alternatives for p in i.points
        ]


def test_a_cut_that_does_not_hold_is_never_claimed(monkeypatch):
    """If the search were ever wrong, computing the live state again would show it and the answer be unknown."""
    monkeypatch.setattr(points_module, "find_cuts", lambda *_, **__: Cuts((Cut(("Main",), 100),), ()))
    answer = zone_answer(building().context(), zone_of("Board"))
    assert answer.state == "unknown"
    assert answer.alternatives == ()
    assert any("Array" in says for says in answer.unknown)
    # By the live state in the present positions alone, too.
    monkeypatch.setattr(points_module, "worst_state", lambda net, *_: (frozenset(),) * net.node_count)
    answer = zone_answer(building().context(), zone_of("Board"))
    assert answer.state == "unknown"


def test_what_each_point_stands_against():
    """SW-2: each point is on a way from each source that it names: with it alone closed again that source, and no other,
    reaches the zone in some position of the rest."""
    points = 0
    for seed in range(250):
        rng = random.Random(330_000 + seed)
        drawing = random_supply(rng, rng.randint(2, 9), 9, traced="traced")
        answer = answer_for(drawing, "bus0")
        for isolation in answer.alternatives[:2]:
            for point in isolation.points:
                again = reaching(drawing, set(isolation.items) - {point.item}, [("bus0", "bus")])
                left = reaching(drawing, isolation.items, [("bus0", "bus")])
                assert set(point.parts_from) == again - left, (seed, point.item)
                assert point.parts_from
                points += 1
    assert points > 100


def test_sides_that_stay_live():
    """SW-10, 404.6(C): which terminals of an opened device stay live, and from where, in the present positions of the rest
    with suspected ties closed and switches that move in either position: terminal by terminal."""
    sides = 0
    for seed in range(200):
        rng = random.Random(340_000 + seed)
        drawing = random_supply(rng, rng.randint(2, 8), 9, traced="traced")
        answer = answer_for(drawing, "bus0")
        for point in answer.best.points if answer.best else ():
            opened = {i.id for i in drawing.items.values() if i.kind == "disconnect" and not i.closed}
            opened |= set(answer.best.items)
            held = {i.id: i.position for i in drawing.of(TransferSwitch) if i.automatic is False}
            for terminal in drawing.get(point.item).terminals:
                found = set()
                for stand in switch_positions(drawing, opened):
                    stand |= {s: p for s, p in held.items() if s not in opened}
                    joined = Joined(drawing, opened, stand)
                    top = joined.top((point.item, terminal))
                    found |= {s for s, t in energy_places(drawing).items() if joined.top(t) == top}
                assert set(point.live_sides.get(terminal, ())) == found, (seed, point.item, terminal)
                sides += bool(found)
    assert sides > 60


def test_dead_and_dark():
    s = building()
    answer = zone_answer(s.context(), zone_of("Board"))
    assert answer.best.dead == tuple(
        i for i in s.drawing.items
        if i in {
            "Board", "Standby feeder", "Feeder P", "Panel P", "Main to Board", "Board to Standby feeder",
            "Standby feeder to Transfer switch.normal", "Board to Array breaker", "Board to Feeder P", "Feeder P to Panel P",
        }
    )  # fmt: skip
    assert "Panel P" in answer.best.dark
    assert "Board" not in answer.best.dark
    assert "Standby panel" not in answer.best.dead  # the generator possibly feeds it
    assert set(energy_places(s.drawing)) == {"Utility", "Generator", "Array"}
    assert answer.best.proof.startswith("With Array breaker and Main open, nothing leads to the zone")


@pytest.mark.parametrize(("code", "poles", "state"), [
    ("208Y/120", 3, "isolated"), ("208Y/120", 2, "unknown"), ("240D-CG", 2, "isolated"),
    ("240D-CG", 1, "unknown"), ("120/240-1", 2, "isolated"), ("120/240-1", 1, "unknown"),
])  # fmt: skip
def test_a_point_has_to_part_every_ungrounded_conductor(code, poles, state):
    """29 CFR 1910.333(b)(2): disconnected from all sources. A two-pole device in three ungrounded conductors leaves one live;
    the grounded phase of a corner-grounded system may stay (240.22, from memory)."""
    s = building()
    s.change("Utility", system=code)
    s.change("Main", poles=poles)
    answer = zone_answer(s.context(), zone_of("Board"))
    assert answer.state == state
    if state == "unknown":
        assert answer.unknown[0].startswith("Main has ")
        assert answer.best is not None
        assert answer.best.proof.startswith("Not proven")


# ------------------------------------------------------------------------------- what only a transfer switch keeps away
def test_what_only_a_transfer_switch_keeps_away_is_said_and_locked_as_well():
    """29 CFR 1910.333(b)(2)(ii)(B): control devices and interlocks are no means to isolate. By hand: were both contacts of
    the transfer switch closed, the generator would reach the board through it; its breaker is the only thing that is not the
    standby feeder, and the standby feeder darkens the standby panel, so the breaker is what costs less."""
    s = building()
    s.change("Standby panel", circuits=(Circuit(1, traced="traced", va=100.0),))
    isolation = zone_answer(s.context(), zone_of("Board")).best
    assert isolation.rests_on == (
        "Against Generator this rests on Transfer switch alone, which never joins its two supplies; "
        "lock Generator breaker open as well.",
    )
    (extra,) = isolation.lock_too
    assert (extra.item, extra.lock, extra.parts_from) == ("Generator breaker", "L3", ("Generator",))
    assert extra.live_sides == {"line": ("Generator",)}
    assert set(isolation.items) == {"Main", "Array breaker"}


def test_what_hangs_on_both_sides_of_a_transfer_switch_needs_no_more():
    """By hand: the points of the standby panel cut both supplies ahead of the switch; nothing rests on it."""
    isolation = zone_answer(building().context(), zone_of("Standby panel")).best
    assert (isolation.rests_on, isolation.lock_too) == ((), ())


def test_the_interlock_is_seen_from_the_other_supply_too():
    """By hand: with a second generator breaker before it worked on, the first parts the generator; the utility and the array
    reach it only through both contacts of the switch, and the standby feeder stands against both at once."""
    s = Supply()
    s.put("service", "Utility")
    s.put("generator", "Generator")
    s.put("disconnect", "Main", "Standby feeder", "Generator breaker")
    s.put("transfer", "Transfer switch")
    s.put("bus", "Board", "Standby panel", "Generator board")
    s.chain("Utility", "Main", "Board", "Standby feeder", "Transfer switch.normal")
    s.chain("Generator", "Generator breaker", "Generator board", "Transfer switch.alternate")
    s.chain("Transfer switch", "Standby panel")
    isolation = zone_answer(s.context(), zone_of("Generator board")).best
    assert isolation.items == ("Generator breaker",)
    assert [(p.item, p.parts_from) for p in isolation.lock_too] == [("Standby feeder", ("Utility",))]


def test_a_transfer_switch_locked_off_is_no_interlock():
    """By hand: held off by a lock, it joins nothing; with it among the chosen points nothing rests on it."""
    s = building()
    s.change("Transfer switch", lockable_off=True)
    zone = zone_of("Board", isolation=("Main", "Array breaker", "Transfer switch"))
    isolation = isolation_of(s.context(), zone, zone_answer(s.context(), zone))
    assert (isolation.rests_on, isolation.lock_too) == ((), ())


def test_without_any_disconnect_the_interlock_is_named_all_the_same():
    s = Supply()
    s.put("service", "Utility")
    s.put("generator", "Generator")
    s.put("disconnect", "Main")
    s.put("transfer", "Transfer switch")
    s.put("bus", "Board", "Standby panel")
    s.chain("Utility", "Main", "Board", "Transfer switch.normal")
    s.chain("Generator", "Transfer switch.alternate")
    s.chain("Transfer switch", "Standby panel")
    isolation = zone_answer(s.context(), zone_of("Board")).best
    assert isolation.lock_too == ()
    assert isolation.rests_on == (
        "Against Generator this rests on Transfer switch alone, which never joins its two supplies; "
        "no disconnect is drawn between that could be locked open as well.",
    )


def test_another_service_in_the_same_trough_is_named():
    """SW-8: conductors of another service in the same gutter are unaffected by this main; they stay live beside the work."""
    s = Supply()
    s.put("service", "Utility 1", system="208Y/120")
    s.put("service", "Utility 2", system="480Y/277")
    s.put("disconnect", "Main 1", "Main 2")
    s.put("bus", "Panel 1", "Panel 2")
    for n in "12":
        s.chain(f"Utility {n}", f"Main {n}")
        s.run(f"Feeder {n}", f"Main {n}", f"Panel {n}", raceway_name="Trough")
    plan = plan_of(s.context(), zone_of("Feeder 1"))
    assert plan.beside == ("Feeder 2 in raceway Trough stays live from Utility 2, 480Y/277 V 3-phase 4-wire.",)
    s.change("Main 2", closed=False)
    assert plan_of(s.context(), zone_of("Feeder 1")).beside == ()
