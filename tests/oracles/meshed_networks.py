"""Random meshed networks for the comparisons: a radial one with closed ties, parallel transformers and a second service,
and the same as arrays of power-grid-model."""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from types import MappingProxyType

import numpy as np

from oneline.model import KINDS, Drawing, End
from oneline.study.context import Context


@dataclass
class Meshed:
    """``net``: the radial part. ``ties``: further branches, nodes as in its own (``parent`` the other end, and ``to``).
    ``second``: node, kA and X/R of a second service."""

    net: object
    ties: list[tuple[int, int, object]] = field(default_factory=list)
    second: tuple[int, float, float] | None = None

    def drawing(self, rng: random.Random) -> Drawing:
        items = dict(self.net.drawing(rng).items)

        def put(kind, item_id, **values):
            items[item_id] = KINDS[kind](id=item_id, name=item_id, **values)

        for n, (a, b, node) in enumerate(self.ties):
            ends = {"a": End(f"bus{a}", "bus"), "b": End(f"bus{b}", "bus")}
            if node.transformer:
                kva, z_pct, x_r = node.transformer
                put(
                    "transformer", f"tt{n}", kva=kva, z_pct=z_pct, x_r=x_r, primary_system=self.net.nodes[a].system,
                    secondary_system=node.system, connection="delta-wye", basis=MappingProxyType({"z_pct": "measured"}),
                )  # fmt: skip
                put("joint", f"tp{n}", a=ends["a"], b=End(f"tt{n}", "line"))
                put("joint", f"ts{n}", a=End(f"tt{n}", "load"), b=ends["b"])
                continue
            size, material, raceway, feet, sets, neutral = node.run
            put(
                "run", f"tie{n}", size=size, material=material, raceway=raceway, length_ft=feet, sets=sets,
                neutral_size=neutral, **ends,
            )  # fmt: skip
        if self.second:
            at, ka, x_r = self.second
            put("service", "second", system=self.net.nodes[at].system, fault_ka=ka, fault_x_r=x_r)
            put("joint", "at-second", a=End("second", "out"), b=End(f"bus{at}", "bus"))
        return Drawing(items=MappingProxyType(items))

    def numbers(self, rng: random.Random):
        """(context, numbers, {bus number: network node})."""
        ctx = Context(self.drawing(rng), "proposed", 2023)
        return ctx, ctx.numbers, [ctx.net.node(f"bus{k}") for k in range(len(self.net.nodes))]

    def runs(self) -> list[tuple[int, int, object]]:
        own = [(n.parent, k, n) for k, n in enumerate(self.net.nodes) if n.run]
        return own + [t for t in self.ties if t[2].run]

    def transformers(self) -> list[tuple[int, int, object]]:
        own = [(n.parent, k, n) for k, n in enumerate(self.net.nodes) if n.transformer]
        return own + [t for t in self.ties if t[2].transformer]

    def sources(self) -> list[tuple[int, float, float]]:
        return [(0, self.net.fault_ka, self.net.x_r)] + ([self.second] if self.second else [])

    def power(self) -> np.ndarray:
        """Volt-amperes by bus and phase; three-phase loads in equal parts."""
        power = np.zeros((len(self.net.nodes), 3), complex)
        for k, node in enumerate(self.net.nodes):
            for phases, va, pf in node.loads:
                for p in phases:
                    power[k, "ABC".index(p)] += va / len(phases) * complex(pf, np.sqrt(1 - pf**2))
        return power


def random_meshed(seed: int, reference, buses: int, balanced: bool) -> Meshed:
    """One to four further branches; every third one with a second service."""
    rng = random.Random(seed)
    net = reference.random_network(rng, max(buses, 3), transformers=seed % 2 == 0, balanced=balanced)
    for node in net.nodes:  # a neutral as large as the phases: see the modules that compare
        if node.run:
            node.run = (*node.run[:5], node.run[0])
    found = Meshed(net)
    runs = [n.run for n in net.nodes if n.run]
    for _ in range(rng.randint(1, 4)):
        a, b = rng.sample(range(len(net.nodes)), 2)
        one, other = net.nodes[a], net.nodes[b]
        if one.system == other.system:
            node = type(one)(a, one.system, run=(*rng.choice(runs)[:3], rng.uniform(2, 80), 1, "")) if runs else None
            if node:
                node.run = (*node.run[:5], node.run[0])
                found.ties.append((a, b, node))
        else:
            if one.v_ll < other.v_ll:
                a, b, one, other = b, a, other, one
            values = (rng.choice((30.0, 75.0, 150.0)), rng.uniform(2, 6), rng.uniform(0.8, 5))
            found.ties.append((a, b, type(one)(a, other.system, transformer=values)))
    if seed % 3 == 0:
        same = [k for k, n in enumerate(net.nodes) if k and n.system == net.nodes[0].system]
        if same:
            found.second = (rng.choice(same), rng.uniform(5, 60), rng.uniform(0.5, 12))
    return found


def pgm_arrays(mesh: Meshed, temperature_c: float, stiff: bool):
    """Arrays of power-grid-model; loads by phase."""
    from power_grid_model import ComponentType as C
    from power_grid_model import DatasetType, LoadGenType, WindingType, initialize_array

    def fill(component, count, **values):
        array = initialize_array(DatasetType.input, component, count)
        for name, value in values.items():
            array[name] = value
        return array

    net = mesh.net
    count = len(net.nodes)
    runs, transformers, sources = mesh.runs(), mesh.transformers(), mesh.sources()
    z = np.array([n.ohms(temperature_c) for _, _, n in runs], complex)
    z0 = z + 3 * np.array([n.ohms(temperature_c, neutral=True) for _, _, n in runs], complex)
    power = mesh.power()
    strength = [np.sqrt(3) * net.nodes[at].v_ll * ka * 1000 for at, ka, _ in sources]
    data = {
        C.node: fill(C.node, count, id=np.arange(count), u_rated=[n.v_ll for n in net.nodes]),
        C.line: fill(
            C.line, len(runs), id=1000 + np.arange(len(runs)), from_node=[a for a, _, _ in runs],
            to_node=[b for _, b, _ in runs], from_status=1, to_status=1, r1=z.real, x1=z.imag, c1=0, tan1=0, r0=z0.real,
            x0=z0.imag, c0=0, tan0=0,
        ),
        C.source: fill(
            C.source, len(sources), id=5000 + np.arange(len(sources)), node=[at for at, _, _ in sources], status=1,
            u_ref=1.0, sk=[1e15] if stiff else strength, rx_ratio=[1 / x for _, _, x in sources], z01_ratio=1.0,
        ),
        C.asym_load: fill(
            C.asym_load, count, id=20000 + np.arange(count), node=np.arange(count), status=1, type=LoadGenType.const_power,
            p_specified=power.real, q_specified=power.imag,
        ),
    }  # fmt: skip
    if transformers:
        kva, z_pct, x_r = np.array([n.transformer for _, _, n in transformers]).T
        data[C.transformer] = fill(
            C.transformer, len(transformers), id=3000 + np.arange(len(transformers)),
            from_node=[a for a, _, _ in transformers], to_node=[b for _, b, _ in transformers], from_status=1,
            to_status=1, u1=[net.nodes[a].v_ll for a, _, _ in transformers], u2=[n.v_ll for _, _, n in transformers],
            sn=kva * 1000, uk=z_pct / 100, pk=kva * 1000 * z_pct / 100 / np.sqrt(1 + x_r**2), i0=0, p0=0,
            winding_from=WindingType.delta, winding_to=WindingType.wye_n, clock=1, tap_side=0, tap_pos=0, tap_min=0,
            tap_max=0, tap_nom=0, tap_size=0,
        )  # fmt: skip
    return data
