"""Time of isolation at 1,000 devices. Run with ``pytest tests/bench --benchmark-only``; skipped by default.

Goals: isolation under 200 ms, live state after a click under 2 ms (measured in ``test_bench_numbers.py`` too). The building
has 1,000 disconnects and 4,000 items: two services, a generator behind transfer switches, arrays, closed and open ties. The
meshed network is a grid of 23 x 23 buses whose every line has a device, 1,012 of them: nothing of it can be left out, which
is the worst for a cut; no building looks like that.
"""

from __future__ import annotations

import itertools
import random
from types import MappingProxyType

import pytest

from oneline.model import KINDS, Circuit, Drawing, End, Item, WorkZone
from oneline.network import build_network
from oneline.network.isolation import find_cuts, openable, sources_of
from oneline.network.live import live_state
from oneline.outage.isolate import zone_answer
from oneline.study.context import Context

DEVICES = 1_000


class _Items:
    def __init__(self) -> None:
        self.items: dict[str, Item] = {}

    def put(self, kind: str, item: str, **values) -> None:
        self.items[item] = KINDS[kind](id=item, name=item, **values)

    def join(self, a: str, b: str, kind: str = "joint", **values) -> None:
        ends = [End(*text.split(".")) for text in (a, b)]
        self.put(kind, f"{kind} {a} {b}", a=ends[0], b=ends[1], **values)

    def drawing(self) -> Drawing:
        return Drawing(items=MappingProxyType(self.items))


def building(devices: int) -> Drawing:
    """Two services with a tie, boards below boards, every hundredth behind a transfer switch, an array at every fiftieth."""
    rng, d = random.Random(devices), _Items()
    for side in (0, 1):
        d.put("service", f"s{side}", system="480Y/277")
        d.put("disconnect", f"main{side}")
        d.put("bus", f"b{side}", all_listed=True)
        d.join(f"s{side}.out", f"main{side}.line")
        d.join(f"main{side}.load", f"b{side}.bus")
    d.put("disconnect", "tie", closed=False, normally_open=True)
    d.join("b0.bus", "tie.line")
    d.join("tie.load", "b1.bus")
    d.put("generator", "g", system="480Y/277")
    d.put("bus", "bg", all_listed=True)
    d.put("disconnect", "dg")
    d.join("g.out", "dg.line")
    d.join("dg.load", "bg.bus")
    for k in range(2, devices - 2):
        up = rng.randrange(max(0, k - 40), k)
        circuits = tuple(Circuit(1 + 2 * c, 1, 20.0, "x", va=500.0, traced="traced") for c in range(3))
        d.put("bus", f"b{k}", circuits=circuits, all_listed=True)
        d.put("disconnect", f"d{k}")
        d.join(f"b{up}.bus", f"d{k}.line")
        if k % 100 == 50:
            d.put("transfer", f"t{k}", automatic=True)
            d.join(f"d{k}.load", f"t{k}.normal")
            d.join("bg.bus", f"t{k}.alternate", "run")
            d.join(f"t{k}.load", f"b{k}.bus", "run")
        else:
            d.join(f"d{k}.load", f"b{k}.bus", "run")
        if k % 50 == 7:
            d.put("solar", f"p{k}")
            d.put("disconnect", f"q{k}")
            d.join(f"b{k}.bus", f"q{k}.line")
            d.join(f"q{k}.load", f"p{k}.out")
    return d.drawing()


def grid(side: int) -> Drawing:
    """A mesh of buses with a device in every line, and a service at each of its corners."""
    d = _Items()
    for x, y in itertools.product(range(side), repeat=2):
        d.put("bus", f"b{x}-{y}", all_listed=True)
    for x, y in itertools.product(range(side), repeat=2):
        for right, down in ((1, 0), (0, 1)):
            if x + right < side and y + down < side:
                device = f"d{x}-{y}-{right}"
                d.put("disconnect", device)
                d.join(f"b{x}-{y}.bus", f"{device}.line")
                d.join(f"{device}.load", f"b{x + right}-{y + down}.bus")
    for number, (x, y) in enumerate(itertools.product((0, side - 1), repeat=2)):
        d.put("service", f"s{number}")
        d.join(f"s{number}.out", f"b{x}-{y}.bus")
    return d.drawing()


@pytest.fixture(scope="module")
def context() -> Context:
    ctx = Context(building(DEVICES), "existing", 2023)
    assert sum(i.kind == "disconnect" for i in ctx.drawing.items.values()) >= DEVICES
    assert ctx.live
    return ctx


@pytest.mark.parametrize("zone", ["b0", "b2", "b400", "b950", "bg"])
def test_zone_answer(benchmark, context, zone):
    """Goal: under 200 ms: up to five alternatives, each proven, with reasons, what goes dark and what stays live."""
    answer = benchmark(zone_answer, context, WorkZone(id="zone1", items=(f"{zone}",)))
    assert answer.state == "isolated"
    assert answer.best.points


def test_isolation_with_the_network_to_build(benchmark):
    """Goal: under 200 ms from a drawing of which nothing is known yet."""
    drawing = building(DEVICES)
    zone = WorkZone(id="zone1", items=("b0",))
    answer = benchmark(lambda: zone_answer(Context(drawing, "existing", 2023), zone))
    assert answer.state == "isolated"


@pytest.mark.parametrize("most", [1, 5])
def test_cuts_of_a_grid(benchmark, most):
    net = build_network(grid(23))
    cost = dict.fromkeys(openable(net), 100)
    assert len(cost) == 1012
    found = benchmark(find_cuts, net, {net.node("b11-11")}, sources_of(net), cost, most)
    assert len(found.cuts[0].items) == 4


def test_live_state_of_the_building(benchmark, context):
    state = benchmark(live_state, context.net)
    assert state.possibly_at_node[context.net.node("b0")]
