"""Time of the network and number passes. Run with ``pytest tests/bench --benchmark-only``; skipped by default.

Each bus has a breaker and a run ahead of it and three circuits in its schedule: a drawing of 300 buses has 1,199 items.
"""

from __future__ import annotations

import random
from types import MappingProxyType

import pytest

from oneline.model import KINDS, Circuit, Drawing, End
from oneline.network import build_feeding, build_network
from oneline.network.live import live_state
from oneline.study.context import Context
from oneline.study.numbers import compute_numbers

SIZES = (300, 1_000, 10_000)


def drawing(buses: int) -> Drawing:
    """A radial service with ``buses`` panels, loaded so that voltages stay near nominal."""
    rng = random.Random(buses)
    items = {}

    def put(kind: str, item_id: str, **values) -> None:
        items[item_id] = KINDS[kind](id=item_id, name=item_id, **values)

    def ends(a: str, b: str) -> dict:
        return {"a": End(*a.split(".")), "b": End(*b.split("."))}

    put("service", "s", system="480Y/277", fault_ka=35.0, fault_x_r=6.0)
    put("bus", "b0")
    put("joint", "j0", **ends("s.out", "b0.bus"))
    for k in range(1, buses):
        up = rng.randrange(max(0, k - 8), k)
        circuits = tuple(Circuit(1 + 2 * c, 1, 20.0, "x", va=20_000 * rng.random() / buses) for c in range(3))
        put("disconnect", f"d{k}", trip_a=100.0)
        put("joint", f"j{k}", **ends(f"b{up}.bus", f"d{k}.line"))
        put("bus", f"b{k}", circuits=circuits)
        size = rng.choice(("8", "4", "1/0", "3/0", "500"))
        put(
            "run",
            f"r{k}",
            size=size,
            material="copper",
            sets=1,
            length_ft=rng.uniform(1, 9),
            neutral_size=size,
            raceway=rng.choice(("EMT", "PVC-40")),
            **ends(f"d{k}.load", f"b{k}.bus"),
        )
    return Drawing(items=MappingProxyType(items))


@pytest.fixture(scope="module", params=SIZES, ids=[f"{n} buses" for n in SIZES])
def context(request) -> Context:
    ctx = Context(drawing(request.param), "proposed", 2023)
    assert len(ctx.feeding.order) == 2 * request.param - 1
    assert len(ctx.loads) == 3 * (request.param - 1)
    return ctx


def test_numbers(benchmark, context):
    """Flow, voltage drop and fault currents of a view whose network and loads are at hand."""
    numbers = benchmark(compute_numbers, context)
    assert None not in [numbers.drop_pct[n] for n in context.feeding.order]
    assert None not in [numbers.fault_a[n] for n in context.feeding.order]


def test_network_and_feeding(benchmark, context):
    benchmark(lambda: build_feeding(build_network(context.drawing)))


def test_live_state(benchmark, context):
    """Goal: under 2 ms at 1,000 devices."""
    state = benchmark(live_state, context.net)
    assert state.sides("b5") == {"bus": {"s"}}


def test_what_stays_live_for_every_device(benchmark, context):
    devices = [i for i in context.drawing.items if i.startswith("d")]

    def all_of_them():
        state = live_state(context.net)
        return [state.when_opened(i) for i in devices]

    assert len(benchmark(all_of_them)) == len(devices)
