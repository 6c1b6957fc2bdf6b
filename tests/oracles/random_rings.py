"""Random services in which something is fed in several ways at once: feeders side by side, closed ties, two services in
parallel, transformers in a loop. Sizes from ranges in which old services are found, some of them too small, some unknown."""

from __future__ import annotations

import random
from typing import Any

from random_service import FEEDERS, RUN, SMALLER

from oneline.api import Builder
from oneline.model import Drawing


class Rings:
    """Puts a random ring network together."""

    def __init__(self, seed: int) -> None:
        self.rng = rng = random.Random(seed)
        self.b = Builder(f"Building {seed}", edition=rng.choice((2017, 2020, 2023, 2026)))
        self.system = rng.choice(("208Y/120", "480Y/277"))
        self.number = 0

    def name(self, what: str) -> str:
        self.number += 1
        return f"{what} {self.number}"

    def maybe(self, value: Any) -> Any:
        """A fact, now and then not known."""
        return None if self.rng.random() < 0.05 else value

    def device(self, trip: float | None = None, **more: Any) -> Any:
        trip = trip or self.rng.choice(list(FEEDERS))
        fields = {
            "form": "breaker", "trip_a": self.maybe(trip), "rating_a": max(trip, 100.0), "interrupting_ka": 65.0, "poles": 3,
            "full_rated": False, "adjustable": False, "status": self.rng.choice(("new", "existing")), "closed": True,
            "voltage_rating": self.system if self.system.startswith("480") else "240",
        }  # fmt: skip
        return self.b.disconnect(self.name("Breaker"), **{**fields, **more})

    def run(self, a: Any, b: Any, trip: float | None = None, **more: Any) -> Any:
        size, neutral, egc, raceway = FEEDERS[trip or self.rng.choice(list(FEEDERS))]
        fields = {
            "size": SMALLER[size] if self.rng.random() < 0.2 else size, "neutral_size": neutral,
            "egc_size": "12" if self.rng.random() < 0.2 else egc, "raceway_size": raceway,
            "length_ft": self.maybe(float(self.rng.choice((6, 9, 20, 24, 40, 150)))),
            "status": self.rng.choice(("new", "existing")), **RUN,
        }  # fmt: skip
        return self.b.run(a, b, name=self.name("Run"), **{**fields, **more})

    def bus(self, rating_a: float | None = None, va: float | None = None, **more: Any) -> Any:
        rng = self.rng
        rating_a = rating_a or rng.choice((100.0, 225.0, 400.0))
        bus = self.b.bus(
            self.name("Panel"), rating_a=rating_a, sccr_ka=65.0, breakers_ka=65.0, spaces=24, terminal_c=75, phases="ABC",
            neutral_bonded=rng.random() < 0.1, all_listed=True, status=rng.choice(("new", "existing")), **more,
        )  # fmt: skip
        if rng.random() < 0.8:
            va = va or round(rng.uniform(0.05, 0.6) * rating_a * 360, -2)
            self.b.circuit(bus, 1, "Heaters", min(rating_a, 100.0), poles=3, va=va, load_class="heat", continuous=False,
                           power_factor=1.0)  # fmt: skip
        return bus

    def service(self) -> tuple[Any, Any]:
        """A service and its board."""
        rng = self.rng
        utility = self.b.service(
            self.name("Utility"), system=self.system, fault_ka=rng.choice((10.0, 25.0)), fault_x_r=3.0
        )
        main = self.device(rng.choice((400.0, 600.0)), service_disconnect=self.maybe(True), service_rated=True,
                           neutral_bonded=True, interrupting_ka=100.0)  # fmt: skip
        self.b.run(utility, main, name=self.name("Service"), length_ft=25.0, raceway_size="4",
                   **{**RUN, "size": "500", "sets": 2, "neutral_size": "500", "egc_size": "none"})  # fmt: skip
        board = self.bus(600.0, form="switchboard")
        self.b.joint(main, board)
        return utility, board

    def feeder(self, top: Any, bottom: Any, both_ends: bool = False) -> None:
        """A device and conductors from one place to another, now and then with a device at the far end or a transformer."""
        trip = self.rng.choice(list(FEEDERS))
        device = self.device(trip)
        self.b.joint(top, device)
        if both_ends or self.rng.random() < 0.3:
            far = self.device(self.rng.choice((trip, None)))
            self.run(device, far, trip)
            self.b.joint(far, bottom)
        else:
            self.run(device, bottom, trip)

    def through_transformer(self, top: Any, bottom: Any) -> None:
        low = "208Y/120"
        device = self.device(110.0)
        self.b.joint(top, device)
        unit = self.b.transformer(
            self.name("Transformer"), kva=self.maybe(75.0), z_pct=4.5, x_r=2.0, primary_system=self.system,
            secondary_system=low, connection="delta-wye", neutral_bonded=self.rng.random() < 0.7, status="new",
        )  # fmt: skip
        self.run(device, unit, 100.0)
        if self.rng.random() < 0.5:
            main = self.device(225.0, voltage_rating="240")
            self.run(unit, main, 225.0)
            self.b.joint(main, bottom)
        else:
            self.run(unit, bottom, 225.0)

    def hang(self, place: Any) -> None:
        """Something that a place feeds: a tap or a feeder to a panel, or a load."""
        kind = self.rng.random()
        if kind < 0.4:
            self.feeder(place, self.bus())
        elif kind < 0.7:
            device = self.device()
            self.run(place, device)
            self.b.joint(device, self.bus())
        else:
            load = self.b.load(self.name("Load"), va=9000, load_class="heat", continuous=False, power_factor=1.0,
                               phases="ABC")  # fmt: skip
            self.run(place, load, 60.0)


def random_rings(seed: int) -> Drawing:
    """A network with one or two loops of some kind, and things that they feed."""
    r = Rings(seed)
    rng = r.rng
    _, board = r.service()
    kind = rng.choice(("feeders", "feeders", "feeders", "chain", "tie", "services", "transformers", "nested"))
    places = [board]
    if kind == "services":
        _, other = r.service()
        tie = r.device(rng.choice((400.0, 600.0)))
        r.b.joint(board, tie)
        r.b.joint(tie, other)
        places.append(other)
    elif kind == "transformers" and r.system.startswith("480"):
        low = r.bus(400.0)
        r.through_transformer(board, low)
        r.through_transformer(board, low)
        places.append(low)
    else:
        first = r.bus(form=rng.choice(("panelboard", "switchboard", "gutter")))
        places.append(first)
        r.feeder(board, first)
        if kind == "chain":
            second = r.bus()
            places.append(second)
            r.run(first, second)
            r.feeder(board, second)
        elif kind == "tie":
            second = r.bus()
            places.append(second)
            r.feeder(board, second)
            tie = r.device()
            r.run(first, tie)
            r.b.joint(tie, second)
        elif kind == "nested":
            r.feeder(board, first)
            second = r.bus()
            places.append(second)
            r.feeder(first, second)
            r.feeder(first, second)
        else:
            for _ in range(rng.choice((1, 1, 2))):
                r.feeder(board, first)
    for _ in range(rng.randint(0, 3)):
        r.hang(rng.choice(places))
    return r.b.drawing
