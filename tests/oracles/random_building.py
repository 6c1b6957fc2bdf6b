"""Random buildings for the tests of outages: up to six sources, ties, transfer switches, transformers, all devices."""

from __future__ import annotations

import random
from itertools import product
from typing import Any

import networkx as nx

from oneline.model import KINDS, Circuit, Connection, Disconnect, Drawing, End, SuspectedTie, TransferSwitch

FORMS: list[dict[str, Any]] = [
    {"form": "breaker", "trip_a": 100.0}, {"form": "breaker", "trip_a": 30.0}, {"form": "breaker"},
    {"form": "fused switch", "rating_a": 100.0, "load_break": True}, {"form": "switch", "rating_a": 60.0},
    {"form": "switch", "rating_a": 60.0, "load_break": False}, {"form": "fuses", "trip_a": 60.0},
]  # fmt: skip


class _Yard:
    def __init__(self, rng: random.Random) -> None:
        self.rng, self.items = rng, {}

    def put(self, kind: str, **fields: Any) -> str:
        item = f"{kind}{len(self.items)}"
        self.items[item] = KINDS[kind](id=item, name=item, **fields)
        return item

    def join(self, a: str, b: str) -> None:
        ends = [End(*e.rsplit(".", 1)) for e in (a, b)]
        self.put("joint", a=ends[0], b=ends[1])

    def device(self, a: str, b: str, **fields: Any) -> str:
        made = self.put(
            "disconnect", **{**self.rng.choice(FORMS), "lockable": self.rng.choice((True, True, None)), **fields}
        )
        self.join(a, f"{made}.line")
        self.join(f"{made}.load", b)
        return made


def building(seed: int, devices: int = 8, ties: bool = True, untraced: bool = False) -> Drawing:
    """A building with about so many devices; 208Y/120 throughout but behind transformers, which are 480Y/277 to 208Y/120
    turned around."""
    rng = random.Random(seed)
    yard = _Yard(rng)
    buses = []
    for _ in range(rng.choice((1, 1, 2))):
        bus = yard.put("bus", form="gutter")
        service = yard.put("service", system="208Y/120")
        yard.device(f"{service}.out", f"{bus}.bus", service_disconnect=rng.choice((True, None)))
        buses.append(bus)
    sources, left = len(buses), devices - len(buses)
    if ties and len(buses) == 2:
        yard.device(f"{buses[0]}.bus", f"{buses[1]}.bus", closed=rng.random() < 0.3, normally_open=True)
        left -= 1
    while left > 0:
        at, what = rng.choice(buses), rng.random()
        if what < 0.35:
            bus = yard.put("bus", **_panel(rng))
            yard.device(f"{at}.bus", f"{bus}.bus")
            buses.append(bus)
        elif what < 0.65:
            yard.device(f"{at}.bus", f"{_load(yard)}.in", closed=rng.random() < 0.9)
        elif what < 0.75 and sources < 6:
            kind = rng.choice(("solar", "battery"))
            out, forms = rng.choice((16.0, 40.0, None)), rng.choice((None, False, True))
            source = yard.put(kind, output_a=out, phases="ABC", forms_grid=forms)
            yard.device(f"{source}.out", f"{at}.bus")
            sources += 1
        elif what < 0.87 and sources < 6:
            generator = yard.put("generator", system="208Y/120", kva=rng.choice((30.0, None)))
            switch = yard.put(
                "transfer", rating_a=100.0, automatic=rng.choice((True, True, False, None)),
                lockable_off=rng.choice((True, None)), position=rng.choice(("normal", "normal", "normal", "alternate")),
            )  # fmt: skip
            bus = yard.put("bus", **_panel(rng))
            yard.device(f"{at}.bus", f"{switch}.normal")
            yard.device(f"{generator}.out", f"{switch}.alternate")
            yard.join(f"{switch}.load", f"{bus}.bus")
            buses.append(bus)
            sources, left = sources + 1, left - 1
        else:
            transformer = yard.put(
                "transformer", kva=30.0, primary_system="208Y/120", secondary_system="480Y/277", connection="delta-wye"
            )
            bus = yard.put("bus", form="gutter")
            yard.device(f"{at}.bus", f"{transformer}.line")
            yard.join(f"{transformer}.load", f"{bus}.bus")
            yard.join(f"{bus}.bus", f"{_load(yard)}.in")
        left -= 1
    if untraced:
        a, b = rng.choice(buses), rng.choice(buses)
        ends = End(a, "bus"), (End(b, "bus") if a != b else None)
        yard.put("tie", a=ends[0], b=ends[1])
    return Drawing().with_items(yard.items.values())


def _load(yard: _Yard) -> str:
    rng = yard.rng
    return yard.put(
        "load", va=rng.choice((2000.0, 9000.0, 14000.0, 60.0, None)), phases="ABC",
        load_class=rng.choice(("other", "motor", "heat")), control=rng.choice((None, None, "its starter")),
        care=rng.choice((None, None, "refrigeration")),
    )  # fmt: skip


def _panel(rng: random.Random) -> dict[str, Any]:
    rows = tuple(
        Circuit(space=n, trip_a=20.0, va=rng.choice((600.0, 1500.0, None))) for n in range(1, rng.choice((1, 3, 5)))
    )
    return {"circuits": rows, "all_listed": True}


# --------------------------------------------------------------------------------------------------------------- oracle
def sources_at(drawing: Drawing, items: set[str], positions: dict[str, bool], terminal: str = "") -> set[str]:
    """Sources that can reach any terminal (or one by name) of some items, by networkx: with suspected ties closed, and
    transfer switches whose contacts were given no position in each position that they may take by themselves."""
    free = [
        t for t in drawing.of(TransferSwitch)
        if t.automatic is not False and not any(k.startswith(f"{t.id}/") for k in positions)
    ]  # fmt: skip
    found: set[str] = set()
    for places in product(*(("normal", "alternate") for _ in free)):
        graph = _graph(drawing, positions, {t.id: p for t, p in zip(free, places, strict=True)})
        for item_id in items:
            item = drawing.get(item_id)
            ends = [(e.item, e.terminal) for e in (item.a, item.b) if e] if isinstance(item, Connection) else []
            for end in ends or [(item_id, t) for t in item.terminals if terminal in ("", t)]:
                found |= {n[0] for n in nx.node_connected_component(graph, end) if n[1] in ("out", "beyond")}
    return found


def _graph(drawing: Drawing, positions: dict[str, bool], moved: dict[str, str]) -> nx.Graph:
    graph = nx.Graph()
    for item in drawing.items.values():
        graph.add_nodes_from((item.id, t) for t in item.terminals)
        if isinstance(item, SuspectedTie):
            graph.add_edge(
                (item.a.item, item.a.terminal), (item.b.item, item.b.terminal) if item.b else (item.id, "beyond")
            )
        elif isinstance(item, Connection):
            graph.add_edge((item.a.item, item.a.terminal), (item.b.item, item.b.terminal))
        elif isinstance(item, TransferSwitch):
            for side in ("normal", "alternate"):
                at = moved.get(item.id, item.position)
                if positions.get(f"{item.id}/{side}", at == side):
                    graph.add_edge((item.id, side), (item.id, "load"))
        elif len(item.terminals) == 2 and (not isinstance(item, Disconnect) or positions.get(item.id, item.closed)):
            graph.add_edge((item.id, "line"), (item.id, "load"))
    return graph
