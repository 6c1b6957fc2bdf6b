"""Random radial networks: one plain description, from which the drawing and the reference solvers' inputs are built.

The description holds resistances and reactances of its own (below), so that a wrong look-up in the product shows.
"""

from __future__ import annotations

import importlib.util
import random
from dataclasses import dataclass, field
from math import sqrt
from pathlib import Path
from types import MappingProxyType, SimpleNamespace

import pytest

from oneline.model import KINDS, Drawing, End
from oneline.study.context import Context

#: Chapter 9 Table 9 (NEC 2008 page, 14 to 1/0; a 1999 copy, the rest): ohm to neutral per 1000 ft at 75 degrees C,
#: {(size, material, raceway): (R, X)}; EMT is steel, PVC-40 is nonmagnetic.
TABLE_9 = {
    ("10", "copper", "EMT"): (1.2, 0.063), ("10", "copper", "PVC-40"): (1.2, 0.050),
    ("6", "copper", "EMT"): (0.49, 0.064), ("6", "copper", "PVC-40"): (0.49, 0.051),
    ("2", "copper", "EMT"): (0.20, 0.057), ("2", "copper", "PVC-40"): (0.19, 0.045),
    ("2", "aluminum", "EMT"): (0.32, 0.057), ("2", "aluminum", "PVC-40"): (0.32, 0.045),
    ("1/0", "copper", "EMT"): (0.12, 0.055), ("1/0", "copper", "PVC-40"): (0.12, 0.044),
    ("4/0", "aluminum", "EMT"): (0.10, 0.051), ("4/0", "aluminum", "PVC-40"): (0.10, 0.041),
    ("4/0", "copper", "EMT"): (0.063, 0.051), ("4/0", "copper", "PVC-40"): (0.062, 0.041),
    ("500", "copper", "EMT"): (0.029, 0.048), ("500", "copper", "PVC-40"): (0.027, 0.039),
}  # fmt: skip
#: Chapter 9 Table 8, note: temperature coefficient of resistance, per degree C at 75 degrees C.
COEFFICIENT = {"copper": 0.00323, "aluminum": 0.00330}
V_LL = {"208Y/120": 208.0, "480Y/277": 480.0, "600Y/347": 600.0}


@dataclass
class Node:
    """A bus. ``parent`` -1: the service. Fed through a run, or through a transformer (kVA, %Z, X/R)."""

    parent: int
    system: str
    run: tuple | None = None  # (size, material, raceway, feet, sets, neutral size)
    transformer: tuple | None = None
    loads: list[tuple[str, float, float]] = field(default_factory=list)  # phases, VA, power factor

    @property
    def v_ll(self) -> float:
        return V_LL[self.system]

    def ohms(self, temperature_c: float = 75.0, neutral: bool = False) -> complex:
        size, material, raceway, feet, sets, neutral_size = self.run
        r, x = TABLE_9[(neutral_size if neutral else size, material, raceway)]
        r *= 1 + COEFFICIENT[material] * (temperature_c - 75)
        return complex(r, x) * feet / 1000 / sets


@dataclass
class Network:
    nodes: list[Node]
    fault_ka: float
    x_r: float

    def drawing(self, rng: random.Random) -> Drawing:
        """The same as a drawing: breakers ahead of each run, runs drawn either way, items in any order."""
        items = {}

        def put(kind, item_id, **values):
            items[item_id] = KINDS[kind](id=item_id, name=item_id, **values)

        def join(item_id, a, b, kind="joint", **values):
            if rng.random() < 0.3:
                a, b = b, a
            put(kind, item_id, a=End(*a.split(".")), b=End(*b.split(".")), **values)

        put("service", "service", system=self.nodes[0].system, fault_ka=self.fault_ka, fault_x_r=self.x_r)
        for k, node in enumerate(self.nodes):
            put("bus", f"bus{k}")
            for m, (phases, va, pf) in enumerate(node.loads):
                put("load", f"load{k}-{m}", phases=phases, va=va, power_factor=pf)
                join(f"to-load{k}-{m}", f"bus{k}.bus", f"load{k}-{m}.in")
            if node.parent < 0:
                join("at-service", "service.out", f"bus{k}.bus")
                continue
            up = f"bus{node.parent}.bus"
            if node.transformer:
                kva, z_pct, x_r = node.transformer
                put(
                    "transformer",
                    f"t{k}",
                    kva=kva,
                    z_pct=z_pct,
                    x_r=x_r,
                    primary_system=self.nodes[node.parent].system,
                    secondary_system=node.system,
                    connection="delta-wye",
                    basis=MappingProxyType({"z_pct": "measured"}),
                )
                join(f"pri{k}", up, f"t{k}.line")
                join(f"sec{k}", f"t{k}.load", f"bus{k}.bus")
                continue
            size, material, raceway, feet, sets, neutral = node.run
            if rng.random() < 0.5:
                put("disconnect", f"breaker{k}", trip_a=100.0)
                join(f"bolt{k}", up, f"breaker{k}.line")
                up = f"breaker{k}.load"
            join(
                f"run{k}",
                up,
                f"bus{k}.bus",
                "run",
                size=size,
                material=material,
                raceway=raceway,
                length_ft=feet,
                sets=sets,
                neutral_size=neutral,
            )
        keys = list(items)
        rng.shuffle(keys)
        return Drawing(items=MappingProxyType({k: items[k] for k in keys}))

    def numbers(self, rng: random.Random):
        """(context, numbers, {bus number: network node}) as the product computes them."""
        ctx = Context(self.drawing(rng), "proposed", 2023)
        return ctx, ctx.numbers, [ctx.net.node(f"bus{k}") for k in range(len(self.nodes))]


def random_network(rng: random.Random, buses: int, transformers: bool, balanced: bool) -> Network:
    """A network whose loads make a largest voltage drop of a few percent per zone."""
    system = rng.choice(("480Y/277", "600Y/347") if transformers else tuple(V_LL))
    nodes = [Node(-1, system)]
    reach = rng.choice((2, 10, 300))  # deep chains, trees, stars
    for k in range(1, buses):
        parent = rng.randrange(max(0, k - reach), k)
        above = nodes[parent]
        if transformers and above.v_ll > 208 and above.run and rng.random() < 0.15:
            kva = rng.choice((30.0, 75.0, 150.0))
            node = Node(parent, "208Y/120", transformer=(kva, rng.uniform(2, 6), rng.uniform(0.8, 5)))
        else:
            size, material, raceway = rng.choice(list(TABLE_9))
            neutral = rng.choice([s for s, m, r in TABLE_9 if (m, r) == (material, raceway)])
            run = (size, material, raceway, rng.uniform(2, 80), rng.choice((1, 1, 2)), neutral)
            node = Node(parent, above.system, run=run)
        nodes.append(node)
    for node in nodes:
        for phases in ("ABC",) if balanced else rng.sample(("A", "B", "C"), rng.randint(0, 3)):
            if rng.random() < 0.7:
                node.loads.append((phases, rng.uniform(0.05, 1), rng.uniform(0.6, 1)))
    net = Network(nodes, rng.uniform(5, 60), rng.uniform(0.5, 12))
    _scale(net, rng.uniform(0.005, 0.06) if balanced else rng.uniform(0.005, 0.03))
    return net


def _scale(net: Network, target: float) -> None:
    """Set the loads so that the largest drop is about the target (of nominal), by a rough sum of magnitudes."""
    power = [sum(va for _, va, _ in n.loads) for n in net.nodes]
    for k in range(len(net.nodes) - 1, 0, -1):
        power[net.nodes[k].parent] += power[k]
    drop = [0.0] * len(net.nodes)
    for k, node in enumerate(net.nodes[1:], 1):
        z = abs(node.ohms()) if node.run else node.transformer[1] / 100 * node.v_ll**2 / (node.transformer[0] * 1000)
        drop[k] = drop[node.parent] + z * power[k] / node.v_ll**2
    worst = max(drop)
    factor = target / worst if worst > 0 else 1000.0
    for node in net.nodes:
        node.loads = [(phases, va * factor, pf) for phases, va, pf in node.loads]


@pytest.fixture(scope="session")
def reference() -> SimpleNamespace:
    """``reference.random_network`` and ``reference.sqrt3``."""
    return SimpleNamespace(random_network=random_network, sqrt3=sqrt(3))


class Sketch:
    """A drawing built line by line."""

    def __init__(self) -> None:
        self.items: dict = {}

    def put(self, kind: str, item_id: str, **values) -> Sketch:
        self.items[item_id] = KINDS[kind](id=item_id, **{"name": item_id, **values})
        return self

    def run(self, item_id: str, a: str, b: str, size="500", feet=100.0, **values) -> Sketch:
        """Copper in steel with a neutral of the same size, unless said otherwise."""
        usual = {"material": "copper", "raceway": "EMT", "sets": 1, "neutral_size": size}
        ends = {"a": End(*a.split(".")), "b": End(*b.split("."))}
        return self.put("run", item_id, size=size, length_ft=feet, **ends, **{**usual, **values})

    def bolt(self, a: str, b: str) -> Sketch:
        return self.put("joint", f"{a}-{b}", a=End(*a.split(".")), b=End(*b.split(".")))

    def solve(self):
        """(numbers, function from "item.terminal" to its node)."""
        ctx = Context(Drawing(items=MappingProxyType(dict(self.items))), "proposed", 2023)
        return ctx.numbers, lambda text: ctx.net.node(*text.split("."))


@pytest.fixture(scope="session")
def circuit_class():
    """The general circuit solver of the calculation tests."""
    path = Path(__file__).parents[2] / "calc" / "conftest.py"
    spec = importlib.util.spec_from_file_location("circuit_solver", path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module.Circuit


@pytest.fixture(scope="session")
def sketch_class() -> type[Sketch]:
    return Sketch


@pytest.fixture
def sketch() -> Sketch:
    return Sketch()
