"""State of each item in an outage: only a person's test makes "verified dead", and any edit it rests on takes it back.

SW-0 of the rules of switching. The seal of a test is a fingerprint of everything electrical around the point: when the
drawing has another one, the record says nothing any more.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from dataclasses import fields, replace
from typing import Any

from oneline.model import Bus, Circuit, Connection, End, Item, TransferSwitch, VoltageTest, WorkZone
from oneline.network import Network
from oneline.network.live import possible_state, worst_state
from oneline.outage.costs import is_open
from oneline.outage.origins import THERE, nodes_by_item, origins, whole_network
from oneline.outage.pairs import fields_needed
from oneline.outage.results import ITEM_STATES, Isolation
from oneline.study.context import Context
from oneline.tables import limit_value

LIVE, POSSIBLY, DEAD, VERIFIED = ITEM_STATES
#: Fields of items that say how things hang together and which way energy can come. Names, notes, ratings and places on the
#: sheet are none of them.
_ELECTRICAL = (
    "status", "form", "phases", "system", "primary_system", "secondary_system", "connection", "closed", "normally_open",
    "position", "automatic", "traced", "back_fed", "lockable", "lockable_off", "neutral_size",
)  # fmt: skip
_OF_CIRCUIT = ("space", "poles", "use", "traced", "feeds", "status")
#: Words for the fields of ``VoltageTest``, as on a test card.
_PAIRS = {
    "ab_v": "A-B", "bc_v": "B-C", "ca_v": "C-A", "an_v": "A-N", "bn_v": "B-N", "cn_v": "C-N", "ag_v": "A-ground",
    "bg_v": "B-ground", "cg_v": "C-ground", "ng_v": "N-ground",
}  # fmt: skip


def item_states(ctx: Context, zone: WorkZone, isolation: Isolation | None) -> dict[str, str]:
    """{item id: one of ITEM_STATES} in the present positions, of everything that has terminals.

    What something untraced or undrawn reaches is possibly live, and so is what was there already and nothing feeds on the
    drawing: somebody fed it once.
    """
    net = ctx.net
    places = {key: origin.nodes for key, origin in origins(ctx).items()}
    possible, worst = possible_state(net, places, _held_off(ctx, zone)), worst_state(net, (), places)
    tested = {test.item for test in zone.tests}
    held = worst_state(net, isolation.items, places) if tested and isolation is not None else worst
    found = {}
    for item_id, nodes in nodes_by_item(net).items():
        item = ctx.drawing.get(item_id)
        if not nodes:
            continue
        if any(ctx.live.at_node[node] for node in nodes):
            found[item.id] = LIVE
        elif any(possible[n] for n in nodes) or (item.status in THERE and not any(worst[n] for n in nodes)):
            found[item.id] = POSSIBLY
        else:
            found[item.id] = DEAD
            # What is dead only because of a device that is no isolation point is held dead by nobody.
            kept = not any(held[n] for n in nodes)
            if item.id in tested and kept and not not_verified(ctx, zone, isolation, item.id):
                found[item.id] = VERIFIED
    return found


def _held_off(ctx: Context, zone: WorkZone) -> dict[str, bool]:
    """Transfer switches that are locked in their off position: they do not move by themselves."""
    found: dict[str, bool] = {}
    for lock in zone.locks:
        item = ctx.drawing.items.get(lock.item)
        if isinstance(item, TransferSwitch) and item.position == "off" and item.lockable_off is True:
            found.update(dict.fromkeys(ctx.net.branches_of(item.id), False))
    return found


def not_verified(ctx: Context, zone: WorkZone, isolation: Isolation | None, item_id: str) -> tuple[str, ...]:
    """What is missing before a person's tests verify that an item is dead, one sentence each; () where nothing is.

    Looks at records alone: what the drawing says of the item is not asked here.
    """
    found = list(_not_isolated(ctx, zone, isolation))
    at: dict[int, list[str]] = {}
    for terminal in _terminals(ctx.drawing.get(item_id)):
        node = ctx.net.node(item_id, terminal)
        if node >= 0:
            at.setdefault(node, []).append(terminal)
    for node, terminals in at.items():
        reasons = [list(_not_tested(ctx, zone, item_id, terminal, node)) for terminal in terminals]
        found += reasons[0] if all(reasons) else []
        found += _found_live(ctx, zone, node)
    return tuple(dict.fromkeys(found))


def sealed(ctx: Context, zone: WorkZone, test: VoltageTest) -> VoltageTest:
    """A test with the seal of the drawing as it is now: what is stored when a person enters a result."""
    return replace(test, seal=seal_of(ctx, zone, test.item, test.terminal))


def seal_of(ctx: Context, zone: WorkZone, item: str, terminal: str) -> str:
    """Fingerprint of everything electrical on which a test at a terminal rests, "" where there is no such terminal.

    The network around the terminal through everything that is connected with it, open or closed, whatever its status, and
    the locks of the zone. The order in which things were drawn does not matter.
    """
    net = whole_network(ctx)
    drawing = net.drawing
    if item not in drawing.items or terminal not in _terminals(drawing.get(item)):
        return ""
    start = net.node(item, terminal)
    if start < 0:
        return ""
    locks = sorted([lock.item, lock.number, lock.by, lock.when] for lock in zone.locks)
    return _fingerprint([item, terminal, _around(ctx, start), locks])


# ------------------------------------------------------------------------------------------------- records
def _not_isolated(ctx: Context, zone: WorkZone, isolation: Isolation | None) -> Iterator[str]:
    if isolation is None:
        yield "No isolation is in use."
        return
    for blocked in isolation.reached:
        yield f"{blocked.name} still reaches the zone."
    yield from isolation.unknown
    locked = {lock.item for lock in zone.locks}
    for point in isolation.held:
        if not is_open(ctx, point.item):
            yield f"{point.name} is not open on the drawing."
        if point.item not in locked:
            yield f"No lock on {point.name} is on record."


def _not_tested(ctx: Context, zone: WorkZone, item: str, terminal: str, node: int) -> Iterator[str]:
    where = f"{ctx.name(item)}, {terminal}"
    test = next((t for t in reversed(zone.tests) if (t.item, t.terminal) == (item, terminal)), None)
    if test is None:
        yield f"{where}: no test is on record."
        return
    if test.seal != seal_of(ctx, zone, item, terminal) or not test.seal:
        yield f"{where}: something it rests on was changed since the test."
    if test.proved_before is not True or test.proved_after is not True:
        yield f"{where}: the meter was not proved on a known live source before and after."
    unsaid = [
        word for word, text in (("who", test.by), ("with what", test.instrument), ("when", test.when)) if not text
    ]
    if unsaid:
        yield f"{where}: nobody wrote down {', '.join(unsaid)}."
    untested = [_PAIRS[name] for name in fields_needed(ctx, node) if getattr(test, name) is None]
    if untested:
        yield f"{where}: {', '.join(untested)} not tested."
    if live := _volts(test):
        yield f"{where}: {live}."


def _found_live(ctx: Context, zone: WorkZone, node: int) -> Iterator[str]:
    """Last tests at a node, of whatever stands there, that found a voltage on the drawing as it is: one of them speaks
    against all others."""
    last = {(test.item, test.terminal): test for test in zone.tests}
    for (item, terminal), test in last.items():
        if item not in ctx.drawing.items or terminal not in _terminals(ctx.drawing.get(item)):
            continue
        if ctx.net.node(item, terminal) != node or test.seal != seal_of(ctx, zone, item, terminal):
            continue
        if live := _volts(test):
            yield f"{ctx.name(item)}, {terminal}: {live}."


def _volts(test: VoltageTest) -> str:
    """Pairs at which a test found a voltage."""
    none = limit_value("absence_reading_v")
    volts = {word: getattr(test, name) for name, word in _PAIRS.items()}
    return ", ".join(f"{word} {v:g} V" for word, v in volts.items() if v is not None and abs(v) >= none)


# ------------------------------------------------------------------------------------------------- seal
def _around(ctx: Context, start: int) -> str:
    """Fingerprint of the network around a node of the whole drawing; the same for all nodes that hang together."""
    full, known = ctx.__dict__.get("_fingerprints", (None, {}))
    if full is not ctx.full:
        known = {}
        ctx.__dict__["_fingerprints"] = (ctx.full, known)
    if start not in known:
        net = whole_network(ctx)
        nodes = _connected(net, start)
        ids = {end.item for node in nodes for end in net.ends_of[node]}
        ids.update(c.id for c in ctx.full.connections() if _at(net, c, nodes))
        known.update(dict.fromkeys(nodes, _fingerprint([_row(ctx.full.get(i)) for i in sorted(ids)])))
    found: str = known[start]
    return found


def _fingerprint(rows: list[Any]) -> str:
    return hashlib.sha256(json.dumps(rows, separators=(",", ":")).encode()).hexdigest()


def _connected(net: Network, start: int) -> set[int]:
    found, waiting = {start}, [start]
    while waiting:
        at = waiting.pop()
        for key in net.at_node[at]:
            other = net.branches[key].other(at)
            if other >= 0 and other not in found:
                found.add(other)
                waiting.append(other)
    return found


def _at(net: Network, connection: Connection, nodes: set[int]) -> bool:
    return any(end is not None and net.node_of.get(end) in nodes for end in (connection.a, connection.b))


def _terminals(item: Item) -> tuple[str, ...]:
    return item.terminals or ("a", "b")


def _row(item: Item) -> list[Any]:
    own = {f.name for f in fields(item)}
    row: list[Any] = [item.id, item.kind, [[name, getattr(item, name)] for name in _ELECTRICAL if name in own]]
    if isinstance(item, Connection):
        row.append([_end(item.a), _end(item.b)])
    if isinstance(item, Bus):
        row.append(sorted((_circuit(c) for c in item.circuits), key=str))
    return row


def _end(end: End | None) -> list[str] | None:
    return None if end is None else [end.item, end.terminal]


def _circuit(circuit: Circuit) -> list[Any]:
    return [getattr(circuit, name) for name in _OF_CIRCUIT]
