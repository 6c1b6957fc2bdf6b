"""Whole drawings of every kind of load against the exact reckoning by hand (tests/oracles/by_hand_load_article.py).

All loads are balanced on three phases, so that volt-amperes add up by hand; they are spread over two panels, so that the
demand is that of the whole at the main.
"""

from __future__ import annotations

import random
from fractions import Fraction as F
from math import sqrt
from typing import Any

import by_hand_load_article as hand
import pytest

USES = ("office", "warehouse", "hotel or motel", "hospital", "retail store", "restaurant")


class Building:
    """A random building: the drawing, and its load in VA by hand as it grows."""

    def __init__(self, service: Any, rng: random.Random, year: int) -> None:
        self.rng, self.year, self.s, self.count = rng, year, service("480Y/277", 4000, 4000), 0
        for name in ("P1", "P2"):
            self.s.put("bus", name, rating_a=2000)
            self.s.put("disconnect", f"feeder {name}", trip_a=2000)
            self.s.chain("MDP", f"feeder {name}", name)

    def put(self, load_class: str, **values: Any) -> None:
        self.count += 1
        name = f"load {self.count}"
        self.s.put("load", name, load_class=load_class, phases="ABC", **values)
        self.s.joint(self.rng.choice(["MDP", "P1", "P2"]), name)

    def va(self, most: int = 40_000) -> F:
        return F(self.rng.randint(1, most))

    def lighting(self) -> tuple[F, F]:
        """Areas with lamps or without; uses with demand steps share them, all others count in full."""
        sums: dict[str, list[F]] = {}
        for _ in range(self.rng.randint(0, 5)):
            use, ft2 = self.rng.choice(USES), F(self.rng.randint(1, 20_000))
            lamps = self.va() if self.rng.random() < 0.7 else None
            given = {} if lamps is None else {"va": float(lamps)}
            self.put("lighting", area_ft2=float(ft2), occupancy=use, **given)
            load, counted = hand.general_lighting(use, ft2, lamps or F(0), self.year)
            into = sums.setdefault(use, [F(0), F(0)])
            into[0] += load
            into[1] += counted
        load = counted = F(0)
        for use, (one, other) in sums.items():
            share = hand.lighting_demand(use, one, self.year) / one
            load, counted = load + share * one, counted + share * other
        return load, counted

    def plugs(self) -> F:
        total = F(0)
        for _ in range(self.rng.randint(0, 4)):
            if self.rng.random() < 0.5:
                outlets = self.rng.randint(1, 80)
                self.put("receptacles", quantity=outlets)
                total += 180 * outlets
            else:
                va = self.va(15_000)
                self.put("receptacles", va=float(va))
                total += va
        return hand.receptacles(total)

    def kitchen(self) -> F:
        each: list[F] = []
        for _ in range(self.rng.randint(0, 4)):
            va, count = self.va(), self.rng.randint(1, 3)
            self.put("kitchen", va=float(va * count), quantity=count)
            each += [va] * count
        return hand.kitchen(each) if each else F(0)

    def lifts(self) -> F:
        each: list[F] = []
        for _ in range(self.rng.randint(0, 3)):
            va, count = self.va(), self.rng.randint(1, 5)
            self.put("elevator", va=float(va * count), quantity=count)
            each += [va] * count
        return hand.elevators(each, 100, F(0)) if each else F(0)

    def plain(self) -> tuple[F, F]:
        """Heat in full; signs and vehicles continuous, with their least loads."""
        heat, continuous = F(1_000), F(0)
        for panel in ("P1", "P2"):  # a panel that feeds nothing would be a question
            self.s.put("load", f"heat {panel}", load_class="heat", va=500, phases="ABC")
            self.s.joint(panel, f"heat {panel}")
        for _ in range(self.rng.randint(0, 3)):
            va, count = self.va(10_000), self.rng.randint(1, 4)
            kind = self.rng.choice(["heat", "sign", "ev charging", "show window"])
            if kind == "show window":
                feet = self.rng.randint(1, 60)
                self.put(kind, va=float(va), length_ft=float(feet))
                continuous += max(va, F(200 * feet))
                continue
            self.put(kind, va=float(va), quantity=count)
            least = {"heat": 0, "sign": 1_200, "ev charging": 7_200 if self.year >= 2023 else 0}[kind]
            counts = max(va, F(least * count))
            heat, continuous = (heat + counts, continuous) if kind == "heat" else (heat, continuous + counts)
        return heat, continuous

    def machines(self) -> tuple[F, F]:
        """(all motors, the largest one)."""
        each: list[F] = []
        for _ in range(self.rng.randint(0, 4)):
            va, count = self.va(60_000), self.rng.randint(1, 3)
            self.put("motor", va=float(va * count), quantity=count)
            each += [va] * count
        return sum(each, F(0)), max(each, default=F(0))

    def seasons(self, base: F, motor: F) -> F:
        """The whole with loads that do not run together."""
        if self.rng.random() < 0.5:
            return base + F(1, 4) * motor
        heat, cool = self.va(100_000), self.va(100_000)
        self.put("heat", va=float(heat), noncoincident_group="season")
        self.put("motor", va=float(cool), noncoincident_group="season")
        return hand.alternatives(base, motor, [(heat, F(0)), (cool, cool)])[0]


@pytest.mark.parametrize("year", [2017, 2020, 2023, 2026])
@pytest.mark.parametrize("seed", range(30))
def test_a_random_building(service: Any, year: int, seed: int) -> None:
    b = Building(service, random.Random(1_000 * year + seed), year)
    light, light_counted = b.lighting()
    heat, continuous = b.plain()
    motors, largest = b.machines()
    base = light + b.plugs() + b.kitchen() + b.lifts() + heat + continuous + motors
    whole = b.seasons(base, largest)
    counted = whole + (light_counted - light) + F(1, 4) * continuous
    ctx = b.s.context(edition=year)
    at = ctx.net.node("MDP")
    assert ctx.demand.kva(at) == pytest.approx(float(whole) / 1000)
    volts = 480 * sqrt(3)
    # What a floor area adds stands line to neutral, at the nominal 277 V in place of 480 V over the root of 3.
    assert ctx.demand.load_a(at)["B"] == pytest.approx(float(whole) / volts, rel=1e-3)
    assert ctx.demand.counted_a(at)["B"] == pytest.approx(float(counted) / volts, rel=1e-3)
