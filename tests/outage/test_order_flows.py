"""Bounds of the current through devices against flows solved on random meshed networks (Kirchhoff, by NumPy): whatever the
loads take up to what is connected, and whatever inverters and generators give up to their rating."""

from __future__ import annotations

import random
from math import sqrt

import numpy as np
import pytest

from oneline.model import KINDS, Drawing, End
from oneline.outage.currents import through
from oneline.outage.scene import Scene
from oneline.study.context import Context

BREAKER = {"form": "breaker", "trip_a": 400.0}


def mesh(rng: random.Random):
    """Buses joined by devices, loops among them; one service; loads, inverters and generators at buses, in amperes."""
    size = rng.randint(3, 7)
    edges = [(n, rng.randrange(n)) for n in range(1, size)]
    edges += [tuple(rng.sample(range(size), 2)) for _ in range(rng.randint(0, 2))]
    items = [KINDS["bus"](id=f"bus{n}", form="gutter", all_listed=True) for n in range(size)]
    items.append(KINDS["service"](id="S", system="208Y/120"))
    joints = [("S.out", "bus0.bus")]
    for k, (a, b) in enumerate(edges):
        items.append(KINDS["disconnect"](id=f"d{k}", closed=rng.random() < 0.9, **BREAKER))
        joints += [(f"bus{a}.bus", f"d{k}.line"), (f"d{k}.load", f"bus{b}.bus")]
    load, gives = [0.0] * size, [0.0] * size
    for n in range(size):
        if rng.random() < 0.7:
            load[n] = rng.choice((5.0, 20.0, 60.0))
            items.append(KINDS["load"](id=f"load{n}", va=load[n] * sqrt(3) * 208, phases="ABC"))
            joints.append((f"bus{n}.bus", f"load{n}.in"))
        if rng.random() < 0.3:
            gives[n] = rng.choice((10.0, 80.0))
            if rng.random() < 0.5:
                items.append(KINDS["solar"](id=f"pv{n}", output_a=gives[n], phases="ABC"))
            else:
                items.append(KINDS["generator"](id=f"pv{n}", kva=gives[n] * sqrt(3) * 208 / 1000, system="208Y/120"))
            joints.append((f"pv{n}.out", f"bus{n}.bus"))
    items += [KINDS["joint"](id=f"j{k}", a=End(*a.split(".")), b=End(*b.split("."))) for k, (a, b) in enumerate(joints)]
    return Drawing().with_items(items), edges, load, gives


def flows(rng: random.Random, size: int, closed: dict[str, tuple[int, int]], drawn: list[float]) -> dict[str, float]:
    """Current through each closed device with a random resistance, where a source of voltage holds bus 0; buses that do
    not hang together with it carry nothing."""
    conductance = {k: 1 / rng.uniform(0.001, 0.2) for k in closed}
    matrix = np.zeros((size, size))
    for k, (a, b) in closed.items():
        for i, j in ((a, b), (b, a)):
            matrix[i, i] += conductance[k]
            matrix[i, j] -= conductance[k]
    joined, front = {0}, [0]
    for n in front:
        more = {b if a == n else a for a, b in closed.values() if n in (a, b)} - joined
        joined |= more
        front += sorted(more)
    keep = sorted(joined - {0})
    volts = np.zeros(size)
    if keep:
        volts[keep] = np.linalg.solve(matrix[np.ix_(keep, keep)], -np.array(drawn)[keep])
    return {k: abs(conductance[k] * (volts[a] - volts[b])) for k, (a, b) in closed.items() if a in joined}


@pytest.mark.parametrize("first", range(0, 300, 60))
def test_no_flow_is_above_its_bound(first: int) -> None:
    tight = compared = 0
    for seed in range(first, first + 60):
        rng = random.Random(seed)
        drawing, edges, load, gives = mesh(rng)
        moment = Scene(Context(drawing, "existing", 2023)).begin()
        closed = {f"d{k}": edge for k, edge in enumerate(edges) if drawing.get(f"d{k}").closed}
        bounds = {k: through(moment, k).most for k in closed}
        extremes = [(1.0, 0.0), (0.0, 1.0), (1.0, 1.0)]
        for trial in range(8):
            shares = extremes[trial] if trial < 3 else None
            drawn = [
                (shares[0] if shares else rng.random()) * take - (shares[1] if shares else rng.random()) * give
                for take, give in zip(load, gives, strict=True)
            ]
            for key, amps in flows(rng, len(load), closed, drawn).items():
                assert bounds[key] is not None, (seed, key)
                assert amps <= bounds[key] * (1 + 1e-9) + 1e-9, (seed, key, amps, bounds[key])
                compared += 1
                tight += amps >= 0.999 * bounds[key] > 0
    assert compared > 1000
    # A bound that nothing ever reaches would tell nothing.
    assert tight > 100
