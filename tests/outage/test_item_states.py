"""Only a person's record makes "verified dead", and any edit that it rests on takes it back (SW-0).

Live-dead-live: 29 CFR 1910.333(b)(2)(iv)(B) asks for a test by a qualified person; NFPA 70E Article 120 for a rated portable
instrument that is proved on a known source before and after, each conductor to each other and to ground. That a lock taken
off or an edit ends it is common practice, no source.
"""

from __future__ import annotations

import random
from dataclasses import replace
from types import MappingProxyType

import pytest
from outage_sketch import Supply, lock, test_of, zone_of
from switching import join, put, random_supply

from oneline.model import Circuit, Drawing, Place, WorkZone, edits
from oneline.outage.isolate import isolation_of, zone_answer
from oneline.outage.origins import nodes_of
from oneline.outage.pairs import fields_needed
from oneline.outage.results import Isolation
from oneline.outage.states import item_states, not_verified, seal_of, sealed
from oneline.study.context import Context

LIVE, POSSIBLY, DEAD, VERIFIED = (
    "live by the drawing", "possibly live", "dead by the drawing, not verified", "verified dead"
)  # fmt: skip
TEN = ("ab_v", "bc_v", "ca_v", "an_v", "bn_v", "cn_v", "ag_v", "bg_v", "cg_v", "ng_v")


def supply(system: str | None = "208Y/120", **service) -> Supply:
    """Service, main, board with an array, and a panel."""
    s = Supply()
    s.put("service", "Utility", system=system, **service)
    s.put("solar", "Array")
    s.put("disconnect", "Main", "Array switch", "Feeder")
    s.put("bus", "Board", "Panel")
    s.chain("Utility", "Main", "Board", "Feeder", "Panel")
    s.chain("Board", "Array switch", "Array")
    return s


def opened(s: Supply, *devices: str) -> None:
    for device in devices:
        s.change(device, closed=False)


def with_test(s: Supply, fields: tuple[str, ...] = TEN, **said) -> WorkZone:
    """The board as the zone: points locked, the board tested with the present seal."""
    zone = zone_of("Board", locks=(lock("Main"), lock("Array switch"), lock("Feeder")))
    test = sealed(s.context(), zone, test_of("Board", "bus", fields, **said))
    return replace(zone, tests=(test,))


def states(s: Supply, zone: WorkZone) -> dict[str, str]:
    ctx = s.context()
    return item_states(ctx, zone, isolation_of(ctx, zone, zone_answer(ctx, zone)))


def reasons(s: Supply, zone: WorkZone, item: str = "Board") -> str:
    ctx = s.context()
    return " ".join(not_verified(ctx, zone, isolation_of(ctx, zone, zone_answer(ctx, zone)), item))


def test_from_live_to_verified():
    s = supply()
    zone = zone_of("Board")
    assert states(s, zone)["Board"] == LIVE
    opened(s, "Main")
    assert states(s, zone)["Board"] == LIVE  # the array
    opened(s, "Array switch")
    found = states(s, zone)
    assert found["Board"] == found["Panel"] == found["Main to Board"] == DEAD
    assert found["Main"] == found["Array switch"] == found["Utility"] == LIVE  # one side of each
    zone = with_test(s)
    found = states(s, zone)
    assert found["Board"] == VERIFIED
    assert found["Panel"] == DEAD  # nobody tested there
    assert reasons(s, zone) == ""
    assert "Panel, bus: no test" in reasons(s, zone, "Panel")


@pytest.mark.parametrize(
    ("said", "why"),
    [
        ({"proved_before": False}, "proved on a known live source"),
        ({"proved_before": None}, "proved on a known live source"),
        ({"proved_after": None}, "proved on a known live source"),
        ({"by": ""}, "nobody wrote down who"),
        ({"instrument": ""}, "nobody wrote down with what"),
        ({"when": ""}, "nobody wrote down when"),
        ({"bc_v": None}, "B-C not tested"),
        ({"ng_v": None}, "N-ground not tested"),
        ({"ca_v": 120.0}, "C-A 120 V"),
        ({"ag_v": 40.0}, "A-ground 40 V"),
        ({"ag_v": -40.0}, "A-ground -40 V"),
    ],
)
def test_what_a_test_needs(said, why):
    s = supply()
    opened(s, "Main", "Array switch")
    zone = with_test(s, **said)
    assert states(s, zone)["Board"] == DEAD
    assert why in reasons(s, zone)


def test_locks_and_positions_of_every_point():
    s = supply()
    opened(s, "Main", "Array switch")
    zone = with_test(s)
    # Another seal first, so that only the missing lock speaks.
    bare = replace(zone, locks=(lock("Main"),), tests=())
    test = sealed(s.context(), bare, zone.tests[0])
    assert states(s, replace(bare, tests=(test,)))["Board"] == DEAD
    assert reasons(s, replace(bare, tests=(test,))) == "No lock on Array switch is on record."
    # A lock taken off takes it back for the seal too, and so does one that was changed.
    for locks in (zone.locks[1:], zone.locks[:1], (*zone.locks[:2], lock("Feeder", number="8"))):
        assert states(s, replace(zone, locks=locks))["Board"] == DEAD
    # Devices chosen by hand that do not isolate: nothing is verified by them.
    chosen = replace(zone, isolation=("Main",))
    assert states(s, chosen)["Board"] == DEAD
    assert "Array still reaches the zone" in reasons(s, chosen)
    # One that is open but is no point of the isolation holds nothing.
    opened(s, "Feeder")
    other = replace(zone_of("Panel", locks=zone.locks, isolation=("Feeder",)), tests=())
    test = sealed(s.context(), other, zone.tests[0])
    found = states(s, replace(other, tests=(test,)))
    assert found["Board"] == DEAD
    assert not_verified(s.context(), other, None, "Board")[0] == "No isolation is in use."


def test_a_transfer_switch_locked_off():
    """An automatic switch may leave its off position; locked there it does not."""
    s = supply()
    s.put("transfer", "Switch", lockable_off=True, position="off")
    s.put("generator", "Generator")
    s.put("bus", "Standby")
    s.chain("Feeder", "Switch.normal")
    s.chain("Generator", "Switch.alternate")
    s.chain("Switch", "Standby")
    assert states(s, zone_of("Standby"))["Standby"] == POSSIBLY
    zone = zone_of("Standby", locks=(lock("Switch"),))
    zone = replace(zone, tests=(sealed(s.context(), zone, test_of("Standby", "bus", TEN)),))
    assert states(s, zone)["Standby"] == VERIFIED
    assert states(s, replace(zone, locks=()))["Standby"] == POSSIBLY
    s.change("Switch", lockable_off=None)
    assert states(s, zone)["Standby"] == POSSIBLY


def test_every_terminal_of_an_item_and_the_last_test_counts():
    s = supply()
    opened(s, "Main", "Array switch")
    zone = zone_of("Board", "Feeder", locks=(lock("Main"), lock("Array switch")))
    line, load = (sealed(s.context(), zone, test_of("Feeder", t, TEN)) for t in ("line", "load"))
    assert states(s, replace(zone, tests=(line,)))["Feeder"] == DEAD
    assert states(s, replace(zone, tests=(line, load)))["Feeder"] == VERIFIED
    again = replace(load, ab_v=208.0)
    assert states(s, replace(zone, tests=(line, load, again)))["Feeder"] == DEAD
    assert states(s, replace(zone, tests=(line, again, load)))["Feeder"] == VERIFIED


def test_a_voltage_found_at_the_same_point_speaks_against_the_others():
    """The breaker's load terminal is bolted to the board: a voltage found there is one on the board."""
    s = supply()
    opened(s, "Main", "Array switch")
    zone = with_test(s)
    found = sealed(s.context(), zone, test_of("Main", "load", TEN, bg_v=118.0))
    assert states(s, replace(zone, tests=(*zone.tests, found)))["Board"] == DEAD
    assert reasons(s, replace(zone, tests=(*zone.tests, found))) == "Main, load: B-ground 118 V."
    cleared = replace(found, bg_v=0.0)
    assert states(s, replace(zone, tests=(*zone.tests, found, cleared)))["Board"] == VERIFIED
    # Of a drawing that was another one then, it says nothing either.
    before = replace(found, seal="another")
    assert states(s, replace(zone, tests=(*zone.tests, before)))["Board"] == VERIFIED


@pytest.mark.parametrize(
    ("system", "fields"),
    [
        ("208Y/120", TEN),
        ("480Y/277", TEN),
        ("240D/120-HL", TEN),
        ("480D", ("ab_v", "bc_v", "ca_v", "ag_v", "bg_v", "cg_v")),
        ("240D-CG", ("ab_v", "bc_v", "ca_v", "ag_v", "bg_v", "cg_v")),
        ("120/240-1", ("ab_v", "an_v", "bn_v", "ag_v", "bg_v", "ng_v")),
        (None, TEN),
    ],
)
def test_pairs_by_system(system, fields):
    """SW-6: ten pairs on three-phase four-wire, six on three-wire and on single-phase three-wire; all where the system is
    not known. Each of them is needed."""
    s = supply(system)
    opened(s, "Main", "Array switch")
    assert fields_needed(s.context(), s.context().net.node("Board")) == fields
    assert states(s, with_test(s, fields))["Board"] == VERIFIED
    for left_out in fields:
        assert states(s, with_test(s, tuple(f for f in fields if f != left_out)))["Board"] == DEAD, left_out


def test_corner_grounded_to_ground_proves_nothing():
    """SW-6: of a corner-grounded system zero to ground alone is no proof."""
    s = supply("240D-CG")
    opened(s, "Main", "Array switch")
    zone = with_test(s, ("ag_v", "bg_v", "cg_v"))
    assert states(s, zone)["Board"] == DEAD
    assert "A-B, B-C, C-A not tested" in reasons(s, zone)


def test_untraced_and_undrawn_is_possibly_live():
    """SW-1: whatever untraced things reach is not dead by the drawing, and no test makes it so for longer than itself."""
    s = supply()
    opened(s, "Main", "Array switch")
    s.tie("Old cable", "Panel", traced="untraced")
    assert states(s, with_test(s))["Board"] == POSSIBLY
    s = supply()
    s.change("Panel", circuits=(Circuit(1, traced="untraced"),))
    opened(s, "Main", "Array switch")
    assert states(s, with_test(s))["Board"] == POSSIBLY
    opened(s, "Feeder")
    found = states(s, with_test(s))
    assert (found["Board"], found["Panel"]) == (VERIFIED, POSSIBLY)
    s.put("bus", "Lost panel")
    assert states(s, with_test(s))["Lost panel"] == POSSIBLY


def test_a_neutral_that_is_not_there_is_not_asked_for():
    s = supply()
    s.put("bus", "Motor panel")
    s.run("Motor feeder", "Panel", "Motor panel", neutral_size="none")
    ctx = s.context()
    assert fields_needed(ctx, ctx.net.node("Motor panel")) == ("ab_v", "bc_v", "ca_v", "ag_v", "bg_v", "cg_v")


def test_seal_of_nothing():
    s = supply()
    zone = zone_of("Board")
    assert seal_of(s.context(), zone, "Gone", "bus") == ""
    assert seal_of(s.context(), zone, "Board", "line") == ""
    s.tie("Old cable", "Panel")
    assert seal_of(s.context(), zone, "Old cable", "b") == ""
    assert len(seal_of(s.context(), zone, "Old cable", "a")) == 64


# ------------------------------------------------------------------------------------------------- edits
def island(drawing: Drawing, prefix: str) -> Drawing:
    """A second supply that nothing connects with the first."""
    for kind, name in (("service", "service"), ("disconnect", "main"), ("bus", "board"), ("load", "pump")):
        drawing = put(drawing, kind, prefix + name)
    drawing = join(drawing, f"{prefix}service.out", f"{prefix}main.line")
    drawing = join(drawing, f"{prefix}main.load", f"{prefix}board.bus")
    return join(drawing, f"{prefix}board.bus", f"{prefix}pump.in", "run", f"{prefix}run")


def verified_case(seed: int) -> tuple[Drawing, WorkZone, Isolation] | None:
    """A random supply in which bus0 is isolated, its points open and locked, and tested; with a second island."""
    rng = random.Random(seed)
    drawing = random_supply(rng, rng.randint(3, 9), 9, traced="traced")
    answer = zone_answer(Context(drawing, "existing", 2023), zone_of("bus0"))
    if answer.state != "isolated" or not answer.best.points:
        return None
    # What only a transfer switch keeps away is opened and locked as well (29 CFR 1910.333(b)(2)).
    held = tuple(p.item for p in answer.best.held)
    for point in held:
        change = {"closed": False} if drawing.get(point).kind == "disconnect" else {"position": "off"}
        drawing = edits.change(drawing, point, **change)
    drawing = island(drawing, "other ")
    zone = zone_of("bus0", isolation=answer.best.items, locks=tuple(lock(i) for i in held))
    ctx = Context(drawing, "existing", 2023)
    zone = replace(zone, tests=(sealed(ctx, zone, test_of("bus0", "bus", TEN)),))
    return drawing, zone, isolation_of(ctx, zone, zone_answer(ctx, zone))


def state_of_bus0(drawing: Drawing, zone: WorkZone) -> str:
    ctx = Context(drawing, "existing", 2023)
    return item_states(ctx, zone, isolation_of(ctx, zone, zone_answer(ctx, zone))).get("bus0", "gone")


def around(drawing: Drawing) -> list[str]:
    """Items connected with bus0 through anything, open or closed: by the ends of connections and the items' terminals."""
    found = {"bus0"}
    while True:
        more = set(found)
        for c in drawing.connections():
            ends = {e.item for e in (c.a, c.b) if e is not None}
            if ends & more or c.id in more:
                more |= ends | {c.id}
        if more == found:
            return sorted(found)
        found = more


def touching_edit(drawing: Drawing, rng: random.Random) -> Drawing:
    """One edit of what the test rests on: a connection, a position, a source, a device, a status."""
    near = [drawing.get(i) for i in around(drawing)]
    kind = rng.choice(
        ("position", "add source", "remove", "add tie", "add run", "reconnect", "status", "switch", "join")
    )
    point = rng.choice([f"{i.id}.bus" for i in near if i.kind == "bus"])
    if kind == "position":
        devices = [i for i in near if i.kind == "disconnect"]
        if devices:
            device = rng.choice(devices)
            return edits.change(drawing, device.id, closed=not device.closed)
    if kind == "switch":
        switches = [i for i in near if i.kind == "transfer"]
        if switches:
            switch = rng.choice(switches)
            if rng.random() < 0.5:
                return edits.change(drawing, switch.id, automatic=None)
            other = rng.choice([p for p in ("normal", "off", "alternate") if p != switch.position])
            return edits.change(drawing, switch.id, position=other)
    if kind == "add source":
        return join(put(drawing, rng.choice(("generator", "battery", "solar")), "inserted"), "inserted.out", point)
    if kind == "remove":
        return drawing.with_items(removed=[rng.choice([i for i in near if i.id != "bus0" and hasattr(i, "a")]).id])
    if kind == "add tie":
        return join(drawing, point, rng.choice(("", "other board.bus")), "tie", "inserted")
    if kind == "add run":
        return join(put(drawing, "load", "inserted load"), point, "inserted load.in", "run", "inserted")
    if kind == "status":
        item = rng.choice([i for i in near if i.id != "bus0"])
        return edits.change(drawing, item.id, status="remove")
    if kind == "join":
        return join(drawing, point, "other board.bus", "run", "inserted")
    lines = [i for i in near if hasattr(i, "a") and i.b is not None]
    line = rng.choice(lines)
    here = {line.a.item, line.b.item}
    there = rng.choice(
        [i.id for i in drawing.items.values() if i.kind == "bus" and i.id not in here] or ["other board"]
    )
    return drawing.with_items([replace(line, a=replace(line.a, item=there, terminal="bus"))])


def idle_edit(drawing: Drawing, rng: random.Random) -> Drawing:
    """One edit of a name, a note, a place on the sheet, a rating or a reading; or of something in the other island."""
    item = rng.choice([i for i in drawing.items.values() if i.kind != "joint"])
    kind = rng.choice(("name", "notes", "location", "place", "rating", "other"))
    if kind in ("name", "notes", "location"):
        return edits.change(drawing, item.id, **{kind: f"written {rng.random()}"})
    if kind == "place" and item.terminals:
        return drawing.with_items([replace(item, place=Place(rng.random(), rng.random()))])
    if kind == "rating":
        devices = [i for i in drawing.items.values() if i.kind == "disconnect"]
        return edits.change(drawing, rng.choice(devices).id, trip_a=float(rng.randrange(15, 400)))
    choice = rng.randrange(4)
    if choice == 0:
        return edits.change(drawing, "other main", closed=not drawing.get("other main").closed)
    if choice == 1:
        return put(drawing, "generator", f"spare {rng.random()}")
    if choice == 2 and "other run" in drawing:
        return drawing.with_items(removed=["other run"])
    return edits.change(drawing, "other main", lockable=rng.choice((True, False)))


def test_any_edit_that_touches_it_takes_it_back():
    edited = 0
    for seed in range(260):
        made = verified_case(500_000 + seed)
        if made is None:
            continue
        drawing, zone, _ = made
        assert state_of_bus0(drawing, zone) == VERIFIED, seed
        rng = random.Random(seed)
        for _ in range(4):
            after = touching_edit(drawing, rng)
            assert after is not drawing
            assert state_of_bus0(after, zone) != VERIFIED, seed
            edited += 1
            # Taken back again, the record says what it said.
            assert state_of_bus0(replace(after, items=drawing.items), zone) == VERIFIED, seed
        for locks in (zone.locks[1:], (replace(zone.locks[0], by="M. Chen"), *zone.locks[1:])):
            assert state_of_bus0(drawing, replace(zone, locks=locks)) != VERIFIED, seed
    assert edited > 150


def test_other_edits_leave_it():
    edited = 0
    for seed in range(160):
        made = verified_case(520_000 + seed)
        if made is None:
            continue
        drawing, zone, _ = made
        rng = random.Random(seed)
        for _ in range(8):
            drawing = idle_edit(drawing, rng)
            assert state_of_bus0(drawing, zone) == VERIFIED, seed
            edited += 1
        items = list(drawing.items.values())
        rng.shuffle(items)
        assert state_of_bus0(replace(drawing, items=MappingProxyType({i.id: i for i in items})), zone) == VERIFIED, seed
    assert edited > 200


def test_states_agree_with_the_live_state():
    """Every item has exactly one of the four states; verified only what is dead by the drawing."""
    for seed in range(80):
        drawing = random_supply(random.Random(530_000 + seed), 8, 9)
        ctx = Context(drawing, "existing", 2023)
        zone = zone_of("bus0")
        found = item_states(ctx, zone, None)
        assert set(found) == set(drawing.items)
        for item, state in found.items():
            nodes = nodes_of(ctx.net, item)
            certain = any(ctx.live.at_node[n] for n in nodes)
            possible = any(ctx.live.possibly_at_node[n] for n in nodes)
            assert (state == LIVE) == certain
            assert state == POSSIBLY or certain or not possible, seed
            assert state != VERIFIED
